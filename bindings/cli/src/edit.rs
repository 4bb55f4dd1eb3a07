//! `edit`: changes of a robot file by name, shown line by line and checked before they are written.

use crate::args::{Change, EditArgs, Target, WaiveArgs};
use crate::check::{Found, checked};
use crate::outcome::Outcome;
use crate::output;
use crate::paint::{self, strong};
use crate::problem::Problem;
use crate::readings::folder_of;
use elbowroom::Code;
use elbowroom::robot::{Date, Finding, Robot, Rule, Severity, Sources};
use serde::Serialize;
use similar::{ChangeTag, TextDiff};
use std::fmt::Write as _;

#[derive(Serialize)]
struct Report<'a> {
    file: String,
    written: bool,
    removed_lines: Vec<String>,
    added_lines: Vec<String>,
    /// Findings of the check that were not there before.
    new_findings: Vec<Found<'a>>,
    /// How many findings are there no longer.
    findings_gone: usize,
}

pub(crate) fn run(args: &EditArgs) -> Result<Outcome, Problem> {
    let mut robot = Robot::load(&args.file)?;
    let before = robot.clone();
    let notes = change(&mut robot, &args.change)?;
    let diff = TextDiff::from_lines(before.to_toml(), robot.to_toml());
    let lines = |tag| {
        let of_tag = diff.iter_all_changes().filter(move |change| change.tag() == tag);
        of_tag
            .map(|change| change.value().trim_end().to_owned())
            .collect::<Vec<_>>()
    };
    let (removed_lines, added_lines) = (lines(ChangeTag::Delete), lines(ChangeTag::Insert));
    let is_changed = !removed_lines.is_empty() || !added_lines.is_empty();

    let mut text = String::new();
    let file = args.file.display();
    for hunk in diff.unified_diff().context_radius(1).iter_hunks() {
        let place = hunk
            .iter_changes()
            .find_map(|change| change.new_index().or(change.old_index()));
        let _ = writeln!(text, "{file}:{}:", place.unwrap_or(0) + 1);
        for change in hunk.iter_changes() {
            let sign = match change.tag() {
                ChangeTag::Delete => '-',
                ChangeTag::Insert => '+',
                ChangeTag::Equal => ' ',
            };
            let line = format!("  {sign} {}", change.value().trim_end());
            let _ = writeln!(text, "{}", line.trim_end());
        }
    }
    for note in notes {
        let _ = writeln!(text, "{note}");
    }
    let sources = before.sources(folder_of(&args.file));
    let (old, _) = checked(&before, &sources, None, None);
    let (new, _) = checked(&robot, &sources, None, None);
    let same = |a: &Finding, b: &Finding| a.rule == b.rule && a.joint == b.joint && a.message == b.message;
    let fresh: Vec<&Finding> = new
        .findings
        .iter()
        .filter(|finding| !old.findings.iter().any(|known| same(known, finding)))
        .collect();
    let gone = old
        .findings
        .iter()
        .filter(|known| !new.findings.iter().any(|finding| same(known, finding)))
        .count();
    if !fresh.is_empty() {
        let _ = writeln!(text, "the check now finds:");
    }
    for finding in &fresh {
        let joint = finding
            .joint
            .as_ref()
            .map_or(String::new(), |joint| format!("joint {joint}: "));
        let (severity, rule) = (paint::severity(finding.severity), strong(finding.rule.name()));
        let _ = writeln!(text, "  {severity} {rule}: {joint}{}", finding.message);
        let _ = writeln!(text, "      {}", finding.hint);
    }
    if gone > 0 {
        let s = if gone == 1 { "" } else { "s" };
        let _ = writeln!(text, "{gone} finding{s} of the check fewer");
    }
    let written = is_changed && !args.dry_run;
    if written {
        let saved = robot.save(&args.file)?;
        text.push_str(&output::kept(&saved));
        let _ = writeln!(text, "written into {file}");
    } else if is_changed {
        let _ = writeln!(text, "nothing was written: --dry-run");
    } else {
        let _ = writeln!(text, "{file} says so already; nothing was written");
    }
    let found = fresh.iter().any(|finding| finding.severity == Severity::Error);
    let report = Report {
        file: file.to_string(),
        written,
        removed_lines,
        added_lines,
        new_findings: fresh.into_iter().map(|finding| Found::new(finding, None)).collect(),
        findings_gone: gone,
    };
    Outcome::new(text, &report, found)
}

/// Changes the robot in memory, and says what the changed lines do not.
fn change(robot: &mut Robot, change: &Change) -> Result<Vec<String>, Problem> {
    let mut notes = Vec::new();
    match change {
        Change::Set { values } => {
            for assignment in values {
                let Some((place, value)) = assignment.split_once('=') else {
                    let message = format!("{assignment} sets nothing; write PLACE=VALUE, e.g. wing_left.rest=12");
                    return Err(Problem::new(Code::OptionOutside, message));
                };
                for place in places(robot, place)? {
                    robot.set_value(&place, value)?;
                    if place.contains("servo.") || place.ends_with("servo") {
                        notes.push(format!(
                            "{place}: every command keeps its pulse. If the servo was replaced by another model, take readings and run \
                             elbowroom fit READINGS --into FILE --joint NAME --adopt"
                        ));
                    }
                }
            }
        }
        Change::Unset { places: all } => {
            for place in all {
                for place in places(robot, place)? {
                    robot.unset_value(&place)?;
                }
            }
        }
        Change::Copy(target) => notes.push(copied(robot, target, false)?),
        Change::Mirror(target) => notes.push(copied(robot, target, true)?),
        Change::Rename { joint, name } => robot.rename(joint, name)?,
        Change::Remove { joints } => {
            for joint in joints {
                robot.remove(joint)?;
            }
        }
        Change::Waive(WaiveArgs { rule, joint, reason }) => {
            let known = Rule::named(rule).ok_or_else(|| {
                let message = format!("no rule is named {rule}; elbowroom check --rules lists all");
                Problem::new(Code::UnknownWord, message)
            })?;
            let there = checked(robot, &Sources::default(), None, None).0.findings;
            let is_found = there
                .iter()
                .any(|finding| finding.rule == known && (joint.is_none() || finding.joint == *joint));
            if !is_found {
                notes.push(format!(
                    "the check finds no {rule} there now; the waiver holds for later"
                ));
            }
            robot.waive(known, joint.as_deref(), reason)?;
        }
        Change::Sense { joint, sense } => robot.set_value(&format!("{joint}.evidence.sense"), sense)?,
    }
    Ok(notes)
}

/// Writes a joint down after the pattern of another one.
fn copied(robot: &mut Robot, target: &Target, is_mirrored: bool) -> Result<String, Problem> {
    let Target {
        from,
        to,
        board,
        channel,
    } = target;
    let source = robot.expect_joint(from)?.record();
    if from == to {
        let message = format!("{to} is the joint itself; name another one");
        return Err(Problem::new(Code::OptionOutside, message));
    }
    let mut record = if is_mirrored {
        source.mirrored_as(to, Date::today())
    } else {
        source.copied_as(to, Date::today())
    };
    if let Some(there) = robot.joint(to).map(|entry| entry.record()) {
        let declared = std::mem::replace(&mut record.evidence, there.evidence.clone());
        record.history.clone_from(&there.history);
        record.renew(declared);
        record.board = there.board;
        record.channel = there.channel;
    } else {
        record.board.clone_from(&source.board);
    }
    record.board = board.clone().or(record.board);
    record.channel = channel.or(record.channel);
    robot.put(&record)?;
    let without = if source.joint.feedback.is_some() {
        ", its sensor is not mapped"
    } else {
        ""
    };
    Ok(format!(
        "joint {to}: its ends are declared, not measured{without}; bring it up or fit its own readings before it runs"
    ))
}

/// The places that a place with a * stands for.
fn places(robot: &Robot, place: &str) -> Result<Vec<String>, Problem> {
    let (name, rest) = place.split_once('.').unwrap_or((place, ""));
    let Some((head, tail)) = name.split_once('*') else {
        return Ok(vec![place.to_owned()]);
    };
    let names = robot.joints().iter().map(|entry| entry.name());
    let found: Vec<String> = names
        .filter(|name| name.len() >= head.len() + tail.len() && name.starts_with(head) && name.ends_with(tail))
        .map(|name| format!("{}.{rest}", quoted(name)))
        .collect();
    if found.is_empty() {
        let message = format!("no joint is named {name}; elbowroom show FILE lists all");
        return Err(Problem::new(Code::UnknownJoint, message));
    }
    Ok(found)
}

/// A name as a key of TOML.
fn quoted(name: &str) -> String {
    let is_plain = name.chars().all(|c| c.is_ascii_alphanumeric() || c == '_' || c == '-');
    if is_plain {
        name.to_owned()
    } else {
        format!("\"{}\"", name.replace('"', "\\\""))
    }
}
