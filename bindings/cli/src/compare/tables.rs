//! Two tables of readings of one joint: each is fitted, and the fits are compared.

use crate::args::CompareArgs;
use crate::fit::limits_of;
use crate::outcome::Outcome;
use crate::paint::{number, strong};
use crate::problem::Problem;
use elbowroom::fit::{Comparison, Diagnosis, Quantity, Verdict, compare};
use serde::Serialize;
use std::fmt::Write as _;

#[derive(Serialize)]
struct Report {
    old: String,
    new: String,
    comparison: Comparison,
    diagnoses: Vec<String>,
}

const fn word(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::Offset => "offset, drive deg",
        Quantity::Scale => "scale, share",
        Quantity::Lower => "lower stop, drive deg",
        Quantity::Upper => "upper stop, drive deg",
        Quantity::LostMotion => "lost motion, measured",
        _ => "other",
    }
}

pub(super) fn run(args: &CompareArgs) -> Result<Outcome, Problem> {
    let [old, new] = [&args.old, &args.new].map(|path| limits_of(&args.table, path));
    let comparison = compare(&old?, &new?);
    let mut text = String::new();
    let _ = writeln!(
        text,
        "{}  {} to {}",
        strong("compare"),
        args.old.display(),
        args.new.display()
    );
    let head = format!(
        "{:<24}{:>12}{:>10}{:>8}  {}",
        "quantity", "change", "u", "E_n", "verdict"
    );
    let _ = writeln!(text, "{}", strong(&head));
    for change in &comparison.changes {
        let verdict = match change.verdict {
            Verdict::Same => "same",
            Verdict::Changed => "changed",
            Verdict::NotComparable => "not in both",
        };
        let (value, u) = change
            .difference
            .map_or(("-".to_owned(), "-".to_owned()), |difference| {
                (number(difference.value, 4), number(difference.u, 4))
            });
        let e_n = change.e_n.map_or("-".to_owned(), |e_n| number(e_n, 2));
        let _ = writeln!(
            text,
            "{:<24}{value:>12}{u:>10}{e_n:>8}  {verdict}",
            word(change.quantity)
        );
    }
    let diagnoses: Vec<String> = comparison.diagnoses.iter().map(ToString::to_string).collect();
    for diagnosis in &diagnoses {
        let _ = writeln!(text, "{diagnosis}");
    }
    let changed = comparison
        .diagnoses
        .iter()
        .any(|diagnosis| !matches!(diagnosis, Diagnosis::Unchanged));
    let report = Report {
        old: args.old.display().to_string(),
        new: args.new.display().to_string(),
        comparison,
        diagnoses,
    };
    Outcome::new(text, &report, changed)
}
