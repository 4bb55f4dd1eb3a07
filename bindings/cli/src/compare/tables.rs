//! Two tables of readings of one joint: each is fitted, and the fits are compared.

use super::picture;
use super::words::{concluded, word};
use crate::args::CompareArgs;
use crate::columns::{Column, Columns};
use crate::fit::limits_of;
use crate::outcome::Outcome;
use crate::paint::{number, probability, strong};
use crate::problem::Problem;
use elbowroom::Code;
use elbowroom::fit::{Change, Comparison, Warning, compare};
use serde::Serialize;
use std::fmt::Write as _;

#[derive(Serialize)]
struct Report {
    old: String,
    new: String,
    changed: bool,
    comparison: Comparison,
    diagnoses: Vec<String>,
    old_warnings: Vec<String>,
    new_warnings: Vec<String>,
}

pub(super) fn run(args: &CompareArgs) -> Result<Outcome, Problem> {
    let [old, new] = [&args.old, &args.new].map(|path| limits_of(&args.table, path));
    let ((old, old_unit), (new, new_unit)) = (old?, new?);
    if old_unit != new_unit {
        let message = format!(
            "{} is measured in {old_unit}, {} in {new_unit}; compare tables of one unit: convert one of them, or give --measured-unit if a \
             heading is wrong",
            args.old.display(),
            args.new.display()
        );
        return Err(Problem::new(Code::OptionOutside, message));
    }
    let comparison = compare(&old, &new, &args.options())?;
    let mut text = String::new();
    let _ = writeln!(
        text,
        "{}  {} to {}",
        strong("compare"),
        args.old.display(),
        args.new.display()
    );
    quantities(&mut text, &comparison);
    let sentences = |warnings: &[Warning]| warnings.iter().map(ToString::to_string).collect::<Vec<_>>();
    let (old_warnings, new_warnings) = (sentences(&comparison.old_warnings), sentences(&comparison.new_warnings));
    let diagnoses: Vec<String> = comparison.diagnoses.iter().map(ToString::to_string).collect();
    for diagnosis in &diagnoses {
        let _ = writeln!(text, "{diagnosis}");
    }
    for (path, warnings) in [(&args.old, &old_warnings), (&args.new, &new_warnings)] {
        for warning in warnings {
            let _ = writeln!(text, "warning: {}: {warning}", path.display());
        }
    }
    if let Some(path) = &args.plot {
        picture::write(path, &named(args), &comparison, &mut text)?;
    }
    let changed = comparison.is_changed();
    let report = Report {
        old: args.old.display().to_string(),
        new: args.new.display().to_string(),
        changed,
        comparison,
        diagnoses,
        old_warnings,
        new_warnings,
    };
    Outcome::new(text, &report, changed)
}

/// What was compared, without folders.
fn named(args: &CompareArgs) -> String {
    let name = |path: &std::path::Path| {
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
