//! Two robot files: what differs, joint by joint.

use super::picture;
use super::tables::quantities;
use crate::args::CompareArgs;
use crate::outcome::Outcome;
use crate::paint::{number, probability, strong};
use crate::problem::Problem;
use crate::readings::{behind, behind_under, folder_of};
use elbowroom::Code;
use elbowroom::fit::{Comparison, compare as compare_fits};
use elbowroom::robot::{Agreement, Difference, JointEntry, Robot, RobotComparison, Stated, compare};
use serde::Serialize;
use std::fmt::Write as _;

/// Columns of a plain terminal.
const WIDTH: usize = 80;

#[derive(Serialize)]
struct Report {
    old: String,
    new: String,
    changed: bool,
    added: Vec<String>,
    removed: Vec<String>,
    renamed: Vec<Renamed>,
    joints: Vec<Joint>,
    robot: Vec<Differs>,
    same: usize,
    /// Of joints whose readings are others in the two files, and are still as they were fitted.
    refitted: Vec<Refits>,
}

/// A joint that may be one with another name.
#[derive(Serialize)]
struct Renamed {
    old: String,
    new: String,
}

#[derive(Serialize)]
struct Joint {
    joint: String,
    servo_differs: bool,
    differences: Vec<Differs>,
}

/// The readings behind both files' evidence, fitted again and compared.
#[derive(Serialize)]
struct Refits {
    joint: String,
    changed: bool,
    comparison: Comparison,
    diagnoses: Vec<String>,
}

/// A value that differs; numbers as numbers, words as words.
#[derive(Serialize)]
struct Differs {
    what: String,
    old: serde_json::Value,
    new: serde_json::Value,
    change: Option<f64>,
    u: Option<f64>,
    e_n: Option<f64>,
    p: Option<f64>,
    p_adjusted: Option<f64>,
    detectable: Option<f64>,
    agreement: &'static str,
}

pub(super) fn run(args: &CompareArgs) -> Result<Outcome, Problem> {
    let (old, new) = (Robot::load(&args.old)?, Robot::load(&args.new)?);
    let mut found = compare(&old, &new, &args.options())?;
    if let Some(name) = &args.joint {
        if old.joint(name).is_none() {
            new.expect_joint(name)?;
        }
        only(&mut found, name, old.joint(name).is_some() && new.joint(name).is_some());
    }
    let refitted = refits(args, &old, &new);
    let changed = found.is_changed() || refitted.iter().any(|refits| refits.changed);
    let mut text = String::new();
    let _ = writeln!(
        text,
        "{}  {} to {}",
        strong("compare"),
        args.old.display(),
        args.new.display()
    );
    describe(&mut text, &found);
    for refits in &refitted {
        let title = format!("readings of {}, fitted again", refits.joint);
        let _ = writeln!(text, "\n{}", strong(&title));
        quantities(&mut text, &refits.comparison);
        for diagnosis in &refits.diagnoses {
            let _ = writeln!(text, "{diagnosis}");
        }
    }
    if let Some(path) = &args.plot {
        let [refits] = refitted.as_slice() else {
            let message = format!(
                "--plot draws the readings of one joint, fitted again: there are {} with readings in both files; pick one with --joint",
                refitted.len()
            );
            return Err(Problem::new(Code::OptionOutside, message));
        };
        picture::write(path, &refits.joint, &refits.comparison, &mut text)?;
    }
    let report = Report {
        old: args.old.display().to_string(),
        new: args.new.display().to_string(),
        changed,
        joints: found
            .joints
            .iter()
            .map(|joint| Joint {
                joint: joint.joint.clone(),
                servo_differs: joint.servo_differs,
                differences: joint.differences.iter().map(differs).collect(),
            })
            .collect(),
        robot: found.robot.iter().map(differs).collect(),
        same: found.same,
        refitted,
        renamed: found
            .renamed
            .into_iter()
            .map(|(old, new)| Renamed { old, new })
            .collect(),
        added: found.added,
        removed: found.removed,
    };
    Outcome::new(text, &report, changed)
}

/// Fits the readings behind both files' evidence again and compares them, where both are still as they were and not the same.
fn refits(args: &CompareArgs, old: &Robot, new: &Robot) -> Vec<Refits> {
    let folders = [folder_of(&args.old), folder_of(&args.new)];
    let sources = [old.sources(folders[0]), new.sources(folders[1])];
    let names = old.joints().iter().map(JointEntry::name);
    let names = names.filter(|name| args.joint.as_deref().is_none_or(|only| only == *name));
    names
        .filter_map(|name| {
            let (then, now) = (old.joint(name)?, new.joint(name)?);
            let [source_then, source_now] = [then, now].map(|entry| entry.evidence().source.as_ref());
            if source_then?.is_same_readings(source_now?) {
                return None;
            }
            // Both in degrees of the later servo line.
            let then = behind_under(folders[0], &sources[0], then, now.joint().servo());
            let now = behind(folders[1], &sources[1], now);
            let comparison = compare_fits(&then.refitted()?.fit, &now.refitted()?.fit, &args.options()).ok()?;
            Some(Refits {
                joint: name.to_owned(),
                changed: comparison.is_changed(),
                diagnoses: comparison.diagnoses.iter().map(ToString::to_string).collect(),
                comparison,
            })
        })
        .collect()
}

/// Leaves one joint of a comparison.
fn only(found: &mut RobotComparison, name: &str, in_both: bool) {
    for names in [&mut found.added, &mut found.removed] {
        names.retain(|other| other == name);
    }
    found.joints.retain(|joint| joint.joint == name);
    found.renamed.retain(|(old, new)| old == name || new == name);
    found.robot.clear();
    found.same = usize::from(in_both && found.joints.is_empty());
}

fn differs(difference: &Difference) -> Differs {
    let value = |stated: &Option<Stated>| match stated {
        None => serde_json::Value::Null,
        Some(Stated::Number(number)) => (*number).into(),
        Some(word) => word.to_string().into(),
    };
    Differs {
        what: difference.what.clone(),
        old: value(&difference.old),
        new: value(&difference.new),
        change: difference.change,
        u: difference.u,
        e_n: difference.e_n,
        p: difference.p,
        p_adjusted: difference.p_adjusted,
        detectable: difference.detectable,
        agreement: difference.agreement.as_str(),
    }
}

fn describe(text: &mut String, found: &RobotComparison) {
    for (names, which) in [(&found.added, "added"), (&found.removed, "removed")] {
        for name in names {
            let _ = writeln!(text, "\n{}  {which}", strong(&format!("joint {name}")));
        }
    }
    for (old, new) in &found.renamed {
        let _ = writeln!(
            text,
            "\n{old} and {new} agree in all values:\n  {old} may have been renamed to {new};\n  to see no difference, give them one name"
        );
    }
    if !found.robot.is_empty() {
        let _ = writeln!(text, "\n{}", strong("the robot as a whole"));
        found.robot.iter().for_each(|difference| line(text, difference));
    }
    for joint in &found.joints {
        let _ = writeln!(text, "\n{}", strong(&format!("joint {}", joint.joint)));
        if joint.servo_differs {
            let _ = writeln!(
                text,
                "  the servo lines differ: old drive angles are given in degrees of the new\n  line, at the same pulses"
            );
        }
        joint.differences.iter().for_each(|difference| line(text, difference));
    }
    let differ = found.joints.len();
    let _ = writeln!(
        text,
        "\n{} added, {} removed, {differ} changed or noted, {} the same{}",
        found.added.len(),
        found.removed.len(),
        found.same,
        if found.is_changed() {
            ""
        } else {
            "; no change that counts"
        }
    );
}

/// One value: what it was, what it is, by how much, and what to make of that.
fn line(text: &mut String, difference: &Difference) {
    let value = |stated: &Option<Stated>| match stated {
        None => "nothing".to_owned(),
        Some(Stated::Number(value)) => number(*value, 4),
        Some(word) => word.to_string(),
    };
    let change = difference.change.map_or(String::new(), |change| {
        format!(" ({}{})", if change > 0.0 { "+" } else { "" }, number(change, 4))
    });
    let judged = match (difference.e_n, difference.p_adjusted) {
        (Some(e_n), Some(p)) => {
            let verdict = match difference.agreement {
                Agreement::WithinUncertainty => "within uncertainty",
                Agreement::Negligible => "too small to matter",
                _ => "changed",
            };
            format!(", E_n {}, p {}: {verdict}", number(e_n, 2), probability(p))
        }
        _ => String::new(),
    };
    let label = &difference.what;
    let (old, new) = (value(&difference.old), value(&difference.new));
    let mut short = format!("  {label:<22} {old} -> {new}{change}");
    // What would leave the 80 columns stands on lines of its own.
    if short.chars().count() > WIDTH {
        short = format!("  {label}\n      old: {old}\n      new: {new}{change}");
    }
    let gap = if short.chars().count() + judged.chars().count() > WIDTH {
        format!(",\n{:25}", "")
    } else {
        ", ".to_owned()
    };
    let _ = writeln!(text, "{short}{}", judged.replacen(", ", &gap, 1));
}
