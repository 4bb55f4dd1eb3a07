//! Two tables of readings of one joint: each is fitted, and the fits are compared.

use super::picture;
use super::words::{concluded, word};
use crate::args::{CompareArgs, Sought, TableArgs};
use crate::columns::{Column, Columns};
use crate::fit::limits_of;
use crate::outcome::Outcome;
use crate::paint::{number, probability, strong};
use crate::problem::Problem;
use crate::table::Table;
use elbowroom::Code;
use elbowroom::fit::{Change, Comparison, Warning, compare};
use serde::Serialize;
use std::fmt::Write as _;
use std::path::Path;

#[derive(Serialize)]
struct Report {
    old: String,
    new: String,
    #[serde(flatten)]
    found: Found,
}

/// What changed in one joint.
#[derive(Serialize)]
pub(super) struct Found {
    pub(super) changed: bool,
    comparison: Comparison,
    diagnoses: Vec<String>,
    old_warnings: Vec<String>,
    new_warnings: Vec<String>,
}

pub(super) fn run(args: &CompareArgs) -> Result<Outcome, Problem> {
    let read = |path: &Path| Table::read(path, &args.table);
    let found = Found::of(args, &args.table, [read(&args.old)?, read(&args.new)?])?;
    let mut text = String::new();
    let _ = writeln!(
        text,
        "{}  {} to {}",
        strong("compare"),
        args.old.display(),
        args.new.display()
    );
    found.describe(&mut text, args);
    if let Some(path) = &args.plot {
        picture::write(path, &named(args), &found.comparison, &mut text)?;
    }
    let changed = found.changed;
    let report = Report {
        old: args.old.display().to_string(),
        new: args.new.display().to_string(),
        found,
    };
    Outcome::new(text, &report, changed)
}

impl Found {
    /// Fits the rows that `table` takes of both tables, the earlier one first, and compares the fits.
    pub(super) fn of(args: &CompareArgs, table: &TableArgs, [old, new]: [Table; 2]) -> Result<Self, Problem> {
        let table = TableArgs {
            sought: Sought {
                each: Some("compare"),
                ..Sought::default()
            },
            ..table.clone()
        };
        let (old, old_unit) = limits_of(&table, &args.old, old)?;
        let (new, new_unit) = limits_of(&table, &args.new, new)?;
        if old_unit != new_unit {
            let message = format!(
                "{} is measured in {old_unit}, {} in {new_unit}; compare tables of one unit: convert one of them, or give --measured-unit if \
                 a heading is wrong",
                args.old.display(),
                args.new.display()
            );
            return Err(Problem::new(Code::OptionOutside, message));
        }
        let comparison = compare(&old, &new, &args.options())?;
        let sentences = |warnings: &[Warning]| warnings.iter().map(ToString::to_string).collect::<Vec<_>>();
        Ok(Self {
            changed: comparison.is_changed(),
            diagnoses: comparison.diagnoses.iter().map(ToString::to_string).collect(),
            old_warnings: sentences(&comparison.old_warnings),
            new_warnings: sentences(&comparison.new_warnings),
            comparison,
        })
    }

    /// A row for each quantity, the diagnoses, and the warnings of either fit.
    pub(super) fn describe(&self, text: &mut String, args: &CompareArgs) {
        quantities(text, &self.comparison);
        for diagnosis in &self.diagnoses {
            let _ = writeln!(text, "{diagnosis}");
        }
        for (path, warnings) in [(&args.old, &self.old_warnings), (&args.new, &self.new_warnings)] {
            for warning in warnings {
                let _ = writeln!(text, "warning: {}: {warning}", path.display());
            }
        }
    }
}

/// What was compared, without folders.
fn named(args: &CompareArgs) -> String {
    let name = |path: &Path| {
        path.file_name()
            .map_or(String::new(), |name| name.to_string_lossy().into_owned())
    };
    format!("{} to {}", name(&args.old), name(&args.new))
}

/// A row for each quantity.
pub(super) fn quantities(text: &mut String, comparison: &Comparison) {
    let columns = [
        Column::Left("quantity", 23),
        Column::Right("change", 10),
        Column::Right("u", 9),
        Column::Right("E_n", 8),
        Column::Right("p", 9),
        Column::Right("finds", 9),
        Column::Rest("verdict"),
    ];
    let table = Columns::new(&columns);
    table.head(text);
    for change in &comparison.changes {
        row(text, &table, change);
    }
}

/// One quantity, its numbers, and what is concluded.
fn row(text: &mut String, table: &Columns<'_>, change: &Change) {
    let shown = |value: Option<f64>, digits| value.map_or("-".to_owned(), |value| number(value, digits));
    let verdict = concluded(change.verdict);
    let bound = if change.at_least { "at least, " } else { "" };
    let difference = change.difference;
    table.row(
        text,
        &[
            word(change.quantity),
            &shown(difference.map(|difference| difference.value), 4),
            &shown(difference.map(|difference| difference.u), 4),
            &shown(change.e_n, 2),
            &difference.and(change.p_adjusted).map_or("-".to_owned(), probability),
            &shown(change.detectable, 3),
            &format!("{bound}{verdict}"),
        ],
    );
}
