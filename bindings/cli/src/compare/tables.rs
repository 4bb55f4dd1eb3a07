//! Two tables of readings of one joint: each is fitted, and the fits are compared.

use crate::args::CompareArgs;
use crate::fit::limits_of;
use crate::outcome::Outcome;
use crate::paint::{number, strong};
use crate::problem::Problem;
use elbowroom::fit::{Change, Comparison, Quantity, Verdict, Warning, compare};
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

const fn word(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::Offset => "offset, drive deg",
        Quantity::Scale => "scale, share",
        Quantity::Bend => "bend, measured",
        Quantity::Lower => "lower end, drive deg",
        Quantity::Upper => "upper end, drive deg",
        Quantity::LostMotion => "lost motion, measured",
        _ => "other",
    }
}

pub(super) fn run(args: &CompareArgs) -> Result<Outcome, Problem> {
    let [old, new] = [&args.old, &args.new].map(|path| limits_of(&args.table, path));
    let comparison = compare(&old?, &new?, &args.options())?;
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

/// A line for each quantity.
pub(super) fn quantities(text: &mut String, comparison: &Comparison) {
    let head = format!(
        "{:<23}{:>10}{:>9}{:>8}{:>9}{:>9}  {}",
        "quantity", "change", "u", "E_n", "p", "finds", "verdict"
    );
    let _ = writeln!(text, "{}", strong(&head));
    for change in &comparison.changes {
        line(text, change);
    }
}

/// One quantity, its numbers, and what is concluded.
fn line(text: &mut String, change: &Change) {
    let shown = |value: Option<f64>, digits| value.map_or("-".to_owned(), |value| number(value, digits));
    let verdict = match change.verdict {
        Verdict::NotComparable => "not in both",
        Verdict::Negligible => "too small to matter",
        Verdict::Untested => "not tested",
        verdict => verdict.as_str(),
    };
    let bound = if change.at_least { "at least, " } else { "" };
    let difference = change.difference;
    let _ = writeln!(
        text,
        "{:<23}{:>10}{:>9}{:>8}{:>9}{:>9}  {bound}{verdict}",
        word(change.quantity),
        shown(difference.map(|difference| difference.value), 4),
        shown(difference.map(|difference| difference.u), 4),
        shown(change.e_n, 2),
        shown(difference.and(change.p_adjusted), 4),
        shown(change.detectable, 3),
    );
}
