//! `edit`: changes of a robot file by name, shown line by line and checked before they are written.

use crate::args::{Change, EditArgs, Target, WaiveArgs};
use crate::check::{Found, checked};
use crate::outcome::Outcome;
use crate::output;
use crate::paint::{self, number, strong};
use crate::problem::Problem;
use crate::readings::folder_of;
use elbowroom::robot::{
    ChangedMeaning, CheckReport, Date, EntryRecord, FileError, FileFault, Finding, Robot, Rule, Severity, Sources,
    Waived, earlier_path, shell_word, toml_key,
};
use elbowroom::{Code, Joint};
use serde::Serialize;
use similar::{ChangeTag, TextDiff};
use std::fmt::Write as _;
use std::path::Path;

#[derive(Serialize)]
struct Report<'a> {
    file: String,
    written: bool,
    removed_lines: Vec<String>,
    added_lines: Vec<String>,
    /// What the changed lines do not say.
    notes: Vec<String>,
    /// Findings of the check that were not there before.
    new_findings: Vec<Found<'a>>,
    /// Errors that were not there before, and that the file waives.
    new_waived: Vec<Found<'a>>,
    /// How many findings are there no longer.
    findings_gone: usize,
}

/// Errors that an edit brings and a waiver hides: neither open nor waived before.
fn newly_waived<'a>(old: &CheckReport, new: &'a CheckReport, renamed: Option<[&str; 2]>) -> Vec<&'a Waived> {
    let before: Vec<Finding> = old
        .findings
        .iter()
        .chain(old.waived.iter().map(|waived| &waived.finding))
        .cloned()
        .collect();
    let now: Vec<Finding> = new.waived.iter().map(|waived| waived.finding.clone()).collect();
    let fresh = Findings::of(&before, &now, renamed);
    let is_new = |waived: &&Waived| {
        let same = |finding: &&Finding| **finding == waived.finding;
        waived.finding.severity == Severity::Error && fresh.fresh.iter().chain(&fresh.reworded).any(same)
    };
    new.waived.iter().filter(is_new).collect()
}

/// A refusal, with how a robot file and its first joint are begun where there is none yet.
fn hinted(problem: Problem, is_empty: bool) -> Problem {
    let hint = if is_empty {
        "; to begin a robot file, or to add its first joint, use fit or bring-up with --new"
    } else {
        ""
    };
    Problem {
        message: format!("{problem}{hint}"),
        ..problem
    }
}

pub(crate) fn run(args: &EditArgs) -> Result<Outcome, Problem> {
    let mut robot = Robot::load(&args.file).map_err(|error| {
        let is_missing = !args.file.exists();
        hinted(error.into(), is_missing)
    })?;
    let before = robot.clone();
    let has_no_joint = robot.joints().is_empty();
    let notes = change(&mut robot, &args.file, &args.change).map_err(|problem| hinted(problem, has_no_joint))?;
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
    for note in &notes {
        let _ = writeln!(text, "{note}");
    }
    let sources = before.sources(folder_of(&args.file));
    let (old, _) = checked(&before, &sources, None, None);
    let (new, _) = checked(&robot, &sources, None, None);
    let Findings { fresh, reworded, gone } = Findings::of(&old.findings, &new.findings, args.change.renamed());
    let waived = newly_waived(&old, &new, args.change.renamed());
    list(&mut text, "the check now finds:", &fresh);
    list(&mut text, "the check still finds, in other words:", &reworded);
    if let [first, ..] = &waived[..] {
        let count = waived.len();
        let (s, verb, are) = if count == 1 {
            ("", "appears", "is")
        } else {
            ("s", "appear", "are")
        };
        let _ = writeln!(
            text,
            "{count} {}{s} {verb} and {are} waived:",
            first.finding.severity.as_str()
        );
        for one in &waived {
            let finding = &one.finding;
            let joint = finding
                .joint
                .as_ref()
                .map_or(String::new(), |joint| format!("joint {joint}: "));
            let _ = writeln!(text, "  {}: {joint}{}", strong(finding.rule.name()), finding.message);
            let _ = writeln!(
                text,
                "      reason: {}; remove the waiver from [check] waive if it was not given for this",
                one.reason
            );
        }
    }
    if gone > 0 {
        let s = if gone == 1 { "" } else { "s" };
        let _ = writeln!(text, "the check has {gone} finding{s} fewer");
    }
    let written = is_changed && !args.dry_run;
    if written {
        let saved = robot.save_keeping(&args.file)?;
        text.push_str(&output::kept(&saved));
        let earlier = match saved.not_kept {
            None => format!("; the text before is in {}", earlier_path(&args.file).display()),
            Some(_) => String::new(),
        };
        let _ = writeln!(text, "written into {file}{earlier}");
    } else if is_changed {
        let _ = writeln!(text, "nothing was written: --dry-run");
    } else {
        let _ = writeln!(text, "{file} already holds these values; nothing was written");
    }
    let found = fresh.iter().any(|finding| finding.severity == Severity::Error);
    let report = Report {
        file: file.to_string(),
        written,
        removed_lines,
        added_lines,
        notes,
        new_findings: fresh.into_iter().map(|finding| Found::new(finding, None)).collect(),
        new_waived: waived
            .into_iter()
            .map(|waived| Found::new(&waived.finding, Some(&waived.reason)))
            .collect(),
        findings_gone: gone,
    };
    Outcome::new(text, &report, found)
}

/// Findings below their heading; nothing where there are none.
fn list(text: &mut String, heading: &str, findings: &[&Finding]) {
    if findings.is_empty() {
        return;
    }
    let _ = writeln!(text, "{heading}");
    for finding in findings {
        let joint = finding
            .joint
            .as_ref()
            .map_or(String::new(), |joint| format!("joint {joint}: "));
        let (severity, rule) = (paint::severity(finding.severity), strong(finding.rule.name()));
        let _ = writeln!(text, "  {severity} {rule}: {joint}{}", finding.message);
        let _ = writeln!(text, "      {}", finding.hint);
    }
}

impl Change {
    /// The names of the joint that is renamed, before and now.
    fn renamed(&self) -> Option<[&str; 2]> {
        match self {
            Self::Rename { joint, name } => Some([joint, name]),
            _ => None,
        }
    }
}

/// What an edit changes of the findings.
struct Findings<'a> {
    /// Not there before.
    fresh: Vec<&'a Finding>,
    /// There before of the same rule and joint, with other words.
    reworded: Vec<&'a Finding>,
    /// How many are there no longer.
    gone: usize,
}

impl<'a> Findings<'a> {
    /// `renamed`: the names of a joint before and now.
    fn of(old: &[Finding], new: &'a [Finding], renamed: Option<[&str; 2]>) -> Self {
        let now = |joint: &'_ str| renamed.filter(|[was, _]| *was == joint).map(|[_, is]| is.to_owned());
        let named = |joint: Option<&String>| joint.map(|joint| now(joint).unwrap_or_else(|| joint.clone()));
        let alike = |a: &Finding, b: &Finding| a.rule == b.rule && named(a.joint.as_ref()) == b.joint;
        // A message of another joint may name the renamed one.
        let told = |message: &str| renamed.map_or(message.to_owned(), |[was, is]| message.replace(was, is));
        // Those that are the same in all go first.
        let mut left: Vec<&Finding> = old.iter().collect();
        let mut changed = Vec::new();
        for finding in new {
            let same = left.iter().position(|known| {
                alike(known, finding) && (known.message == finding.message || told(&known.message) == finding.message)
            });
            match same {
                Some(place) => drop(left.remove(place)),
                None => changed.push(finding),
            }
        }
        let (mut fresh, mut reworded) = (Vec::new(), Vec::new());
        for finding in changed {
            match left.iter().position(|known| alike(known, finding)) {
                Some(place) => {
                    left.remove(place);
                    reworded.push(finding);
                }
                None => fresh.push(finding),
            }
        }
        Self {
            fresh,
            reworded,
            gone: left.len(),
        }
    }
}

/// What other servo lines do to the pulses, said as it is.
fn pulses(before: &Robot, after: &Robot, file: &Path) -> Result<Vec<String>, Problem> {
    let mut notes = Vec::new();
    for entry in after.joints() {
        let Some(old) = before.joint(entry.name()) else {
            continue;
        };
        let range = entry.joint().command_range();
        for command in [range.lower(), entry.joint().rest(), range.upper()] {
            let pulse = |joint: &Joint<f64>| joint.pulse_us(command).map(|pulse| pulse.value);
            let (was, is) = (pulse(old.joint())?, pulse(entry.joint())?);
            if (was - is).abs() > SAME_PULSE_US {
                notes.push(format!(
                    "joint {}: command {} now gives a pulse of {} us, before {} us",
                    entry.name(),
                    number(command, 3),
                    number(is, 1),
                    number(was, 1)
                ));
            }
        }
    }
    if notes.is_empty() {
        notes.push(format!(
            "every command keeps its pulse. If the servo was replaced by another model, take readings and run elbowroom fit READINGS \
             --into {} --joint NAME --adopt",
            shell_word(&file.to_string_lossy())
        ));
    }
    Ok(notes)
}

/// Below this two pulses are the same: numbers of robot files are rounded.
const SAME_PULSE_US: f64 = 0.05;
/// Another meaning of commands or readings, with what keeps it.
fn meaning(changed: &ChangedMeaning) -> String {
    let name = toml_key(&changed.joint);
    let value = |value: &f64| number(*value, 6);
    let set = |(key, values): &(&str, Vec<f64>)| {
        let values: Vec<String> = values.iter().map(value).collect();
        format!("{name}.{key}={}", values.join(","))
    };
    let keeps: Vec<String> = changed.keeps.iter().map(set).collect();
    if keeps.is_empty() {
        changed.to_string()
    } else {
        format!("{changed}. To keep what commands mean, set {} as well", keeps.join(" "))
    }
}

/// A refusal with the file's name, and without a line: that would be one of the changed text, which is not written.
fn refused(file: &Path, error: FileError) -> Problem {
    error.without_place().in_file(file).into()
}

/// A refusal of a place without quotes, with the value that was to be set there: as it is to be typed.
fn with_value(problem: Problem, error: &FileError, meant: &[(String, String)]) -> Problem {
    let FileFault::QuotedName { place, .. } = error.fault() else {
        return problem;
    };
    let bare = |place: &str| place.strip_prefix("joint.").unwrap_or(place).replace('"', "");
    let given = meant.iter().find(|(given, _)| bare(given.trim()) == bare(place));
    let Some((_, value)) = given else { return problem };
    let message = problem
        .message
        .replace(&format!("'{place}'"), &shell_word(&format!("{place}={value}")));
    Problem { message, ..problem }
}

/// Changes the robot in memory, and says what the changed lines do not.
fn change(robot: &mut Robot, file: &Path, change: &Change) -> Result<Vec<String>, Problem> {
    let refused = |error| refused(file, error);
    let mut notes = Vec::new();
    match change {
        Change::Set { values } => {
            let before = robot.clone();
            let (mut of_servos, mut meant) = (false, Vec::new());
            for assignment in values {
                let Some((place, value)) = assignment.split_once('=') else {
                    let message = format!("{assignment} sets nothing; write PLACE=VALUE, e.g. wing_left.rest=12");
                    return Err(Problem::new(Code::OptionOutside, message));
                };
                for Matched { place, part } in places(robot, file, place)? {
                    of_servos |= place.contains("servo.") || place.ends_with("servo");
                    // A joint of the other side: right_*.mirror_of=left_*.
                    let value = part.map_or(value.to_owned(), |part| value.replacen('*', &part, 1));
                    meant.push((place, value));
                }
            }
            let set = robot.set_values(meant.iter().map(|(place, value)| (place, value.as_str())));
            set.map_err(|error| with_value(refused(error.clone()), &error, &meant))?;
            notes.extend(robot.changed_meanings(&before).iter().map(meaning));
            if of_servos {
                notes.extend(pulses(&before, robot, file)?);
            }
        }
        Change::Unset { places: all } => {
            let before = robot.clone();
            for place in all {
                for Matched { place, .. } in places(robot, file, place)? {
                    robot.unset_value(&place).map_err(refused)?;
                }
            }
            notes.extend(robot.changed_meanings(&before).iter().map(meaning));
        }
        Change::Copy(target) => notes.push(copied(robot, file, target, false)?),
        Change::Mirror(target) => notes.push(copied(robot, file, target, true)?),
        Change::Rename { joint, name } => {
            one_joint(robot, joint)?;
            robot.rename(joint, name).map_err(refused)?;
        }
        Change::Remove { joints } => {
            let named: Vec<String> = joints
                .iter()
                .map(|joint| joints_named(robot, file, joint))
                .collect::<Result<Vec<_>, _>>()?
                .concat();
            for joint in &named {
                robot.remove(joint).map_err(refused)?;
            }
        }
        Change::Waive(WaiveArgs { rule, joint, reason }) => {
            let known = Rule::named(rule).ok_or_else(|| {
                let message = format!("no rule is named {rule}; elbowroom check --rules lists all");
                Problem::new(Code::UnknownWord, message)
            })?;
            let there = checked(robot, &Sources::default(), None, None).0.findings;
            let named = match joint {
                Some(pattern) if stands_for_several(robot, pattern) => {
                    let all = joints_named(robot, file, pattern)?;
                    let (found, others): (Vec<String>, Vec<String>) = all.into_iter().partition(|joint| {
                        let mut of_rule = there.iter().filter(|finding| finding.rule == known);
                        of_rule.any(|finding| finding.joint.as_ref() == Some(joint))
                    });
                    if found.is_empty() {
                        let message = format!(
                            "the check finds no {rule} in the joints that {pattern} stands for ({}); nothing is waived",
                            others.join(", ")
                        );
                        return Err(Problem::at(Code::OptionOutside, file, None, message));
                    }
                    let alone = match &others[..] {
                        [] => String::new(),
                        _ => {
                            format!(" alone; the check does not find it in the other joints that {pattern} stands for")
                        }
                    };
                    notes.push(format!("{rule} is waived in {}{alone}", found.join(", ")));
                    found.into_iter().map(Some).collect()
                }
                Some(joint) => vec![Some(joint.clone())],
                None => vec![None],
            };
            for joint in named {
                let is_found = there
                    .iter()
                    .any(|finding| finding.rule == known && (joint.is_none() || finding.joint == joint));
                if !is_found {
                    let at = joint
                        .as_ref()
                        .map_or("there".to_owned(), |joint| format!("in joint {joint}"));
                    notes.push(format!(
                        "the check finds no {rule} {at} now; the waiver applies to later findings"
                    ));
                }
                let replaced = robot
                    .waive(known, joint.as_deref(), reason)
                    .map_err(|error| match error.fault() {
                        FileFault::WaiverOfAll { .. } => {
                            let problem: Problem = refused(error);
                            let named: Vec<&str> = there
                                .iter()
                                .filter(|finding| finding.rule == known)
                                .filter_map(|finding| finding.joint.as_deref())
                                .collect();
                            let hint = match named.first() {
                                Some(first) => format!("--joint {}", shell_word(first)),
                                None => "--joint NAME".to_owned(),
                            };
                            Problem {
                                message: format!("{} with {hint}", problem.message),
                                ..problem
                            }
                        }
                        _ => refused(error),
                    })?;
                if let Some(old) = replaced.filter(|old| old != reason) {
                    let of = joint
                        .as_ref()
                        .map_or(String::new(), |joint| format!(" of joint {joint}"));
                    notes.push(format!(
                        "{rule}{of} was waived already, for the reason \"{old}\"; the new reason takes its place"
                    ));
                }
            }
        }
        Change::Undo => {
            let before = std::mem::replace(robot, Robot::load_earlier(file)?);
            notes.extend(robot.changed_meanings(&before).iter().map(meaning));
            let servo = |robot: &Robot| -> Vec<_> {
                let joints = robot.joints().iter();
                joints
                    .map(|entry| (entry.name().to_owned(), entry.joint().record().servo))
                    .collect()
            };
            let (was, is) = (servo(&before), servo(robot));
            if is
                .iter()
                .any(|one| was.iter().any(|other| other.0 == one.0 && other.1 != one.1))
            {
                notes.extend(pulses(&before, robot, file)?);
            }
        }
        Change::Sense { joint, sense } => {
            for joint in joints_named(robot, file, joint)? {
                let place = format!("{}.evidence.sense", toml_key(&joint));
                robot.set_value(&place, sense).map_err(refused)?;
            }
        }
    }
    Ok(notes)
}

/// The day of a joint's evidence, as it follows "was measured"; empty where the file has none.
pub(crate) fn measured_on(record: &EntryRecord) -> String {
    let date = record.evidence.date;
    date.map(|date| format!(" on {date}")).unwrap_or_default()
}

/// Writes a joint down after the pattern of another one.
fn copied(robot: &mut Robot, file: &Path, target: &Target, is_mirrored: bool) -> Result<String, Problem> {
    let Target {
        from,
        to,
        board,
        channel,
        replace,
    } = target;
    one_joint(robot, from)?;
    one_joint(robot, to)?;
    let source = robot.expect_joint(from).map_err(|error| refused(file, error))?.record();
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
        if !there.evidence.is_measured() && !replace {
            let message = format!(
                "joint {to} exists already; its map, travel and rest would be replaced by those of {from}: name another joint, or repeat \
                 the command with --replace"
            );
            return Err(Problem::new(Code::OptionOutside, message));
        }
        if there.evidence.is_measured() && !replace {
            let message = format!(
                "joint {to} was measured{}; its map, travel and feedback would be replaced by numbers that are only declared: \
                 name another joint, or repeat the command with --replace",
                measured_on(&there)
            );
            return Err(Problem::new(Code::OptionOutside, message));
        }
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
    robot.put(&record).map_err(|error| refused(file, error))?;
    let without = if source.joint.feedback.is_some() {
        ", its sensor is not mapped"
    } else {
        ""
    };
    Ok(format!(
        "joint {to}: its ends are declared, not measured{without}; bring it up or fit its own readings before it runs"
    ))
}

/// A place that was named, or one of those that a * stands for.
struct Matched {
    place: String,
    /// What the * stands for there.
    part: Option<String>,
}

/// The places that a place with a * stands for.
fn places(robot: &Robot, file: &Path, place: &str) -> Result<Vec<Matched>, Problem> {
    let (name, rest) = place.split_once('.').unwrap_or((place, ""));
    if !name.contains('*') {
        return Ok(vec![Matched {
            place: place.to_owned(),
            part: None,
        }]);
    }
    let ends = name.split_once('*').filter(|_| stands_for_several(robot, name));
    let matched = |joint: &String| Matched {
        place: format!("{}.{rest}", toml_key(joint)),
        part: ends.and_then(|(head, tail)| Some(joint.strip_prefix(head)?.strip_suffix(tail)?.to_owned())),
    };
    Ok(joints_named(robot, file, name)?.iter().map(matched).collect())
}

/// The joints that a name stands for: with a * all that it fits, else the one of this name, whether it is there or not.
fn joints_named(robot: &Robot, file: &Path, name: &str) -> Result<Vec<String>, Problem> {
    let Some((head, tail)) = name.split_once('*').filter(|_| stands_for_several(robot, name)) else {
        return Ok(vec![name.to_owned()]);
    };
    let names = robot.joints().iter().map(|entry| entry.name());
    let found: Vec<String> = names
        .filter(|name| name.len() >= head.len() + tail.len() && name.starts_with(head) && name.ends_with(tail))
        .map(ToOwned::to_owned)
        .collect();
    if found.is_empty() {
        let message = format!("no joint is named {name}; elbowroom show {} lists all", file.display());
        return Err(Problem::at(Code::UnknownJoint, file, None, message));
    }
    Ok(found)
}

/// Whether a name has a * that stands for any letters.
fn stands_for_several(robot: &Robot, name: &str) -> bool {
    name.contains('*') && robot.joint(name).is_none()
}

/// Refuses a * where one joint is meant.
fn one_joint(robot: &Robot, name: &str) -> Result<(), Problem> {
    if stands_for_several(robot, name) {
        let message = format!("{name} may stand for several joints, and one is needed here; write its whole name");
        return Err(Problem::new(Code::OptionOutside, message));
    }
    Ok(())
}
