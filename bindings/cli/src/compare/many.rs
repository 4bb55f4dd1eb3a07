//! Two tables of many joints, whose names a column gives: a comparison for each joint.

use super::tables::Found;
use crate::args::{ColumnValue, CompareArgs, TableArgs};
use crate::outcome::Outcome;
use crate::paint::strong;
use crate::problem::{Failed, Problem, none_done, reasons, remedy};
use crate::progress::Progress;
use crate::table::Table;
use elbowroom::Code;
use serde::Serialize;
use std::fmt::Write as _;

#[derive(Serialize)]
struct Report {
    old: String,
    new: String,
    changed: bool,
    joints: Vec<Joint>,
    /// Joints of the later table only, and of the earlier one only.
    added: Vec<String>,
    removed: Vec<String>,
    failed: Vec<serde_json::Value>,
}

#[derive(Serialize)]
struct Joint {
    joint: String,
    #[serde(flatten)]
    found: Found,
}

pub(super) fn run(args: &CompareArgs) -> Result<Outcome, Problem> {
    let Some(column) = &args.each else {
        return super::tables::run(args);
    };
    if args.plot.is_some() {
        let message = "--plot draws one joint; give --where COLUMN=NAME in place of --each";
        return Err(Problem::new(Code::OptionOutside, message));
    }
    let (old, new) = (
        Table::read(&args.old, &args.table)?,
        Table::read(&args.new, &args.table)?,
    );
    let names = |table: &Table| table.names(column, &args.table, "--each");
    let (then, now) = (names(&old)?, names(&new)?);
    let only_in = |here: &[String], there: &[String]| -> Vec<String> {
        here.iter().filter(|name| !there.contains(name)).cloned().collect()
    };
    let (removed, added) = (only_in(&then, &now), only_in(&now, &then));
    let both: Vec<String> = then.into_iter().filter(|name| now.contains(name)).collect();
    let (earlier, later) = (args.old.display(), args.new.display());
    if both.is_empty() {
        let message = format!(
            "column {column} names no joint in both tables: {} in {earlier}, {} in {later}; write the names alike",
            removed.join(", "),
            added.join(", ")
        );
        return Err(Problem::new(Code::OptionOutside, message));
    }
    let count = both.len();
    let mut text = String::new();
    let _ = writeln!(text, "{}  {earlier} to {later}", strong("compare"));
    let (mut joints, mut failed): (Vec<Joint>, Vec<Failed>) = (Vec::new(), Vec::new());
    let told = Progress::of(count, 2, "comparing", "joints");
    for (index, joint) in both.into_iter().enumerate() {
        told.say(&format!("comparing {joint}, {} of {count}", index + 1));
        let mut table: TableArgs = args.table.clone();
        table.only.push(ColumnValue {
            column: column.clone(),
            value: joint.clone(),
        });
        match Found::of(args, &table, [old.clone(), new.clone()]) {
            Ok(found) => {
                let _ = writeln!(text, "\n{}", strong(&joint));
                found.describe(&mut text, args);
                joints.push(Joint { joint, found });
            }
            Err(problem) => failed.push(Failed::of_readings(joint, problem)),
        }
    }
    drop(told);
    if joints.is_empty() {
        return Err(none_done(failed));
    }
    text.push('\n');
    text.push_str(&reasons(&failed, "compared"));
    for (names, table) in [(&removed, &earlier), (&added, &later)] {
        if !names.is_empty() {
            let _ = writeln!(text, "only in {table}: {}", names.join(", "));
        }
    }
    let differ = joints.iter().filter(|joint| joint.found.changed);
    let differ: Vec<&str> = differ.map(|joint| joint.joint.as_str()).collect();
    let list = if differ.is_empty() {
        String::new()
    } else {
        format!(": {}", differ.join(", "))
    };
    let _ = writeln!(text, "{} of {count} joints changed{list}", differ.len());
    text.push_str(&remedy(&failed, count, "compared"));
    let changed = !(differ.is_empty() && added.is_empty() && removed.is_empty());
    let is_found = changed || !failed.is_empty();
    let report = Report {
        old: earlier.to_string(),
        new: later.to_string(),
        changed,
        added,
        removed,
        failed: failed.iter().map(Failed::json).collect(),
        joints,
    };
    Outcome::new(text, &report, is_found)
}
