//! `show`: the joints of a robot file, in 80 columns.

use crate::args::ShowArgs;
use crate::chain;
use crate::check::assumed_note;
use crate::columns::{Column, Columns};
use crate::convert::{Converted, forward_table};
use crate::degrees::written_under;
use crate::only_file::or_only;
use crate::outcome::Outcome;
use crate::output;
use crate::paint::{number, of_span, strong};
use crate::plot;
use crate::problem::Problem;
use crate::readings::{Behind, behind, folder_of};
use crate::trend;
use elbowroom::look::Rounded;
use elbowroom::robot::{EndEvidence, Evidence, EvidenceKind, JointEntry, Robot, Source, SourceState, Sources};
use elbowroom::{Code, Joint, ServoRecord, TransmissionRecord};
use serde::Serialize;
use std::collections::BTreeMap;
use std::fmt::Write as _;

#[derive(Serialize)]
struct Report<'a> {
    robot: Option<&'a str>,
    joints: Vec<Shown<'a>>,
}

#[derive(Serialize)]
struct Shown<'a> {
    name: &'a str,
    line: usize,
    board: Option<&'a str>,
    channel: Option<u16>,
    unit: Option<&'a str>,
    mirror_of: Option<&'a str>,
    #[serde(flatten)]
    joint: elbowroom::JointRecord<f64>,
    /// Which of its numbers nobody gave.
    assumed: ShownAssumed,
    evidence: ShownEvidence,
    /// Evidence of earlier calibrations, the earliest first.
    history: Vec<ShownEvidence>,
    /// Lower command, rest and upper command on their way to the motor.
    conversions: Vec<Converted>,
}

#[derive(Serialize)]
struct ShownAssumed {
    servo: bool,
    timer: bool,
}

#[derive(Serialize)]
struct ShownSource {
    file: String,
    sha256: String,
    rows: BTreeMap<String, String>,
    columns: BTreeMap<String, String>,
    /// The servo line in whose degrees the drive column was written, where the joint has another one.
    servo: Option<ServoRecord<f64>>,
    /// Whether the file is still the one that was fitted.
    state: &'static str,
}

#[derive(Serialize)]
struct ShownEvidence {
    date: Option<String>,
    by: Option<String>,
    instrument: Option<String>,
    supply_v: Option<f64>,
    temperature_c: Option<f64>,
    source: Option<ShownSource>,
    sense: Option<&'static str>,
    /// Where it was tested on another day.
    sense_date: Option<String>,
    lower: Option<ShownEnd>,
    upper: Option<ShownEnd>,
    lost_motion: Option<f64>,
    u_lost_motion: Option<f64>,
    readings: Option<u32>,
    /// Drive deg by which the readings contradict the map.
    map_off: Option<f64>,
}

#[derive(Serialize)]
struct ShownEnd {
    kind: &'static str,
    at: f64,
    short_at: Option<f64>,
    u: Option<f64>,
    guard: Option<f64>,
}

/// The word of what has become of some readings.
pub(crate) fn state_of(source: &Source, sources: &Sources) -> &'static str {
    match sources.state(source) {
        Some(SourceState::Unchanged) => "unchanged",
        Some(SourceState::Changed { .. }) => "changed",
        _ => "missing",
    }
}

impl ShownEvidence {
    fn of(evidence: &Evidence, sources: &Sources) -> Self {
        let end = |end: Option<EndEvidence>| {
            end.map(|end| ShownEnd {
                kind: end.kind.as_str(),
                at: end.at,
                short_at: end.short_at,
                u: end.u,
                guard: end.guard,
            })
        };
        Self {
            date: evidence.date.map(|date| date.to_string()),
            sense: evidence.sense.map(|sense| sense.as_str()),
            sense_date: evidence.sense_date.map(|date| date.to_string()),
            lower: end(evidence.lower),
            upper: end(evidence.upper),
            lost_motion: evidence.lost_motion.map(|lost| lost.value),
            u_lost_motion: evidence.lost_motion.and_then(|lost| lost.u),
            readings: evidence.readings,
            map_off: evidence.map_off,
            by: evidence.by.clone(),
            instrument: evidence.instrument.clone(),
            supply_v: evidence.supply_v,
            temperature_c: evidence.temperature_c,
            source: evidence.source.as_ref().map(|source| ShownSource {
                file: source.file.clone(),
                sha256: source.sha256.clone(),
                rows: source.rows.iter().cloned().collect(),
                columns: source.columns.iter().cloned().collect(),
                servo: source.servo.map(ServoRecord::from),
                state: state_of(source, sources),
            }),
        }
    }
}

/// Lower command, rest and upper command of a joint on their way to the motor.
pub(crate) fn conversions(entry: &JointEntry) -> Result<Vec<Converted>, Problem> {
    let joint = entry.joint();
    let commands = [
        joint.command_range().lower(),
        joint.rest(),
        joint.command_range().upper(),
    ];
    let converted = commands.map(|command| Converted::command(joint, command));
    Ok(converted.into_iter().collect::<Result<_, _>>()?)
}

pub(crate) fn run(args: &ShowArgs) -> Result<Outcome, Problem> {
    // A single word that is no file is a joint of the only robot file.
    let (file, joint) = match (&args.file, &args.joint) {
        (Some(word), None) if !word.exists() && word.extension().is_none() => {
            (None, Some(word.to_string_lossy().into_owned()))
        }
        (file, joint) => (file.as_deref(), joint.clone()),
    };
    let file = &or_only(file)?;
    let robot = Robot::load(file)?;
    let sources = robot.sources(folder_of(file));
    let mut text = String::new();
    if args.plot.is_some() && joint.is_none() {
        return Err(Problem::new(Code::OptionOutside, "--plot draws one joint; name it"));
    }
    let entries: Vec<&JointEntry> = match &joint {
        Some(name) => {
            let entry = robot.expect_joint(name)?;
            one(&mut text, entry, &sources)?;
            if let Some(path) = &args.plot {
                output::write(path, chain::draw(entry, "chain").as_bytes(), chain::MARK.as_bytes())?;
                let _ = writeln!(text, "  {:<12} {}", "picture", path.display());
            }
            if let Some(path) = &args.plot_readings {
                let drawn = drawn_readings(entry, &behind(folder_of(file), &sources, entry))?;
                output::write(path, drawn.as_bytes(), plot::MARK.as_bytes())?;
                let _ = writeln!(text, "  {:<12} {}", "readings", path.display());
            }
            if let Some(path) = &args.plot_history {
                let drawn = trend::draw(entry, "trend");
                output::write(path, drawn.as_bytes(), trend::MARK.as_bytes())?;
                let _ = writeln!(text, "  {:<12} {}", "history", path.display());
            }
            vec![entry]
        }
        None => {
            table(&mut text, &robot);
            robot.joints().iter().collect()
        }
    };
    text.push_str(&assumed_note(&robot));
    let joints = entries
        .into_iter()
        .map(|entry| shown(entry, &sources))
        .collect::<Result<_, _>>()?;
    let report = Report {
        robot: robot.name(),
        joints,
    };
    Outcome::new(text, &report, false)
}

fn shown<'a>(entry: &'a JointEntry, sources: &Sources) -> Result<Shown<'a>, Problem> {
    Ok(Shown {
        name: entry.name(),
        line: entry.line(),
        board: entry.board(),
        channel: entry.channel(),
        unit: entry.unit(),
        mirror_of: entry.mirror_of(),
        joint: entry.joint().record(),
        assumed: ShownAssumed {
            servo: entry.assumed().servo,
            timer: entry.assumed().timer,
        },
        evidence: ShownEvidence::of(entry.evidence(), sources),
        history: entry
            .history()
            .iter()
            .map(|evidence| ShownEvidence::of(evidence, sources))
            .collect(),
        conversions: conversions(entry)?,
    })
}

/// The picture of a joint's readings, fitted again.
fn drawn_readings(entry: &JointEntry, behind: &Behind) -> Result<String, Problem> {
    let no = |message: String| Problem::new(Code::FileAccess, format!("joint {}: {message}", entry.name()));
    match behind {
        Behind::Same(refitted) => Ok(plot::of_refitted(entry.name(), refitted).draw("fit")),
        Behind::Lost(message) => Err(no(message.clone())),
        Behind::Unnamed => Err(no(
            "its evidence names no readings; fit them into the robot file with fit --into".to_owned(),
        )),
    }
}

/// At most so many characters, the last one a mark that something is missing.
fn fitted(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        text.to_owned()
    } else {
        text.chars().take(most.saturating_sub(1)).chain(['~']).collect()
    }
}

fn range(lower: f64, upper: f64) -> String {
    let [lower, upper] = [lower, upper].map(|end| of_span(end, upper - lower, 2));
    format!("{lower} .. {upper}")
}

fn table(text: &mut String, robot: &Robot) {
    let name = robot.name().unwrap_or("robot");
    let _ = writeln!(
        text,
        "{}  {}",
        strong(name),
        crate::paint::counted(robot.joints().len(), "joint")
    );
    let columns = [
        Column::Left("joint", 18),
        Column::Left("output", 13),
        Column::Right("command", 17),
        Column::Right("travel deg", 17),
        Column::Right("rest", 8),
        Column::Rest("ends"),
    ];
    let rows = Columns::new(&columns);
    rows.head(text);
    for entry in robot.joints() {
        let joint = entry.joint();
        let output = match (entry.board(), entry.channel()) {
            (Some(board), Some(channel)) => format!("{}:{channel}", fitted(board, 9)),
            _ => "-".to_owned(),
        };
        let sign = if joint.direction().is_inverted() { "-" } else { "" };
        let mark = |end: Option<EndEvidence>| match end.map(|end| end.kind) {
            Some(EvidenceKind::Contact) => "x",
            Some(EvidenceKind::Stalled) => "s",
            Some(EvidenceKind::Clear) => "o",
            Some(EvidenceKind::Declared) => "d",
            None => "?",
        };
        let marks = [entry.evidence().lower, entry.evidence().upper].map(mark).concat();
        rows.row(
            text,
            &[
                &fitted(entry.name(), 17),
                &output,
                &range(joint.command_range().lower(), joint.command_range().upper()),
                &range(joint.travel().lower(), joint.travel().upper()),
                &of_span(joint.rest(), joint.command_range().width(), 2),
                &format!("{marks} {sign}"),
            ],
        );
    }
    let _ = writeln!(
        text,
        "ends: x contact, s stalled, o clear, d declared, ? unproven; - inverted"
    );
}

fn one(text: &mut String, entry: &JointEntry, sources: &Sources) -> Result<(), Problem> {
    let joint = entry.joint();
    let unit = entry.unit().unwrap_or("");
    let _ = writeln!(text, "{}  (line {})", strong(entry.name()), entry.line());
    let mut line = |label: &str, value: String| {
        let _ = writeln!(text, "  {label:<12} {value}");
    };
    match (entry.board(), entry.channel()) {
        (Some(board), Some(channel)) => line("output", format!("board {board}, channel {channel}")),
        _ => line("output", "not given".to_owned()),
    }
    if let Some(mirror) = entry.mirror_of() {
        line("mirrors", mirror.to_owned());
    }
    let direction = if joint.direction().is_inverted() {
        ", inverted"
    } else {
        ""
    };
    line(
        "command",
        format!(
            "{} {unit}",
            range(joint.command_range().lower(), joint.command_range().upper())
        ),
    );
    line(
        "drive",
        format!(
            "{} deg{direction}",
            range(joint.drive_range().lower(), joint.drive_range().upper())
        ),
    );
    line("transmission", transmission(joint));
    if let Some(room) = room(joint) {
        line("room", room);
    }
    line(
        "travel",
        format!("{} deg", range(joint.travel().lower(), joint.travel().upper())),
    );
    match joint.max_rate_per_s() {
        Some(rate) => line("rate", format!("{} {unit} per second", of_span(rate, rate, 3))),
        None => line("rate", "not given: the servo's full speed".to_owned()),
    }
    let (servo, timer) = (joint.servo(), joint.timer());
    line(
        "servo",
        format!(
            "{} deg on {} us",
            range(servo.angle_range().lower(), servo.angle_range().upper()),
            range(servo.pulse_range_us().lower(), servo.pulse_range_us().upper())
        ) + assumed(entry.assumed().servo),
    );
    line(
        "timer",
        format!(
            "{} counts at {} Hz",
            timer.counts_per_frame(),
            number(timer.frame_hz(), 3)
        ) + assumed(entry.assumed().timer),
    );
    for (label, value) in feedback(joint) {
        line(label, value);
    }
    let evidence = entry.evidence();
    line("lower end", end(evidence.lower));
    line("upper end", end(evidence.upper));
    line(
        "sense",
        evidence.sense.map_or("not tested", |sense| sense.as_str()).to_owned(),
    );
    line(
        "lost motion",
        evidence.lost_motion.map_or("not known".to_owned(), |lost| {
            let known = Rounded {
                value: lost.value,
                u: lost.u,
            };
            known.with_u("deg of drive").to_string()
        }),
    );
    let date = evidence.date.map_or("no date".to_owned(), |date| date.to_string());
    let readings = evidence.readings.map_or(String::new(), |n| format!(", {n} readings"));
    line("evidence", format!("{date}{readings}"));
    for (label, value) in taken(evidence) {
        line(label, value);
    }
    if let Some(source) = &evidence.source {
        let written = source.servo.as_ref();
        let written = written.map_or(String::new(), |servo| {
            format!(", drive column {}", written_under(servo))
        });
        line(
            "source",
            format!("{}, {}{written}", source.file, state_of(source, sources)),
        );
    }
    for (index, earlier) in entry.history().iter().rev().take(MOST_EARLIER).enumerate() {
        line(if index == 0 { "earlier" } else { "" }, earlier_line(earlier));
    }
    if let Some(more) = entry.history().len().checked_sub(MOST_EARLIER).filter(|more| *more > 0) {
        line("", format!("and {more} earlier ones, see --json"));
    }
    let conversions = conversions(entry)?;
    let rows: Vec<(&str, &Converted)> = ["lower", "rest", "upper"].into_iter().zip(&conversions).collect();
    forward_table(text, unit, &rows);
    Ok(())
}

/// Earlier calibrations that are shown, the latest first.
const MOST_EARLIER: usize = 5;

/// Who took the readings, and under what conditions.
pub(crate) fn taken(evidence: &Evidence) -> Vec<(&'static str, String)> {
    let parts = [
        evidence.by.clone().map(|by| ("taken by", by)),
        evidence.instrument.clone().map(|text| ("instrument", text)),
        evidence
            .supply_v
            .map(|volts| ("supply", format!("{} V", number(volts, 2)))),
        evidence
            .temperature_c
            .map(|temperature| ("temperature", format!("{} \u{b0}C", number(temperature, 1)))),
    ];
    parts.into_iter().flatten().collect()
}

fn earlier_line(earlier: &Evidence) -> String {
    let date = earlier.date.map_or("no date".to_owned(), |date| date.to_string());
    let side = |end: Option<EndEvidence>| {
        end.map_or("unproven".to_owned(), |end| {
            format!("{} {}", end.kind.as_str(), place(&end))
        })
    };
    let lost = earlier.lost_motion.map_or(String::new(), |lost| {
        let known = Rounded {
            value: lost.value,
            u: lost.u,
        };
        format!(", lost motion {known} deg")
    });
    format!("{date}: {} and {}{lost}", side(earlier.lower), side(earlier.upper))
}

/// What lies between command and drive angle, with its dimensions.
fn transmission(joint: &Joint<f64>) -> String {
    let record = joint.transmission().record();
    if let TransmissionRecord::Curve { knots, .. } = &record {
        return format!("curve through {} knots", knots.len());
    }
    let dimensions = record.mechanism().map_or(Vec::new(), |mechanism| {
        mechanism
            .dimensions()
            .iter()
            .filter_map(|name| Some(format!("{name} {}", number(mechanism.dimension(name)?, 3))))
            .collect()
    });
    [record.kind().to_owned()]
        .into_iter()
        .chain(dimensions)
        .collect::<Vec<_>>()
        .join(", ")
}

/// How far the command could go before the mechanism's dead centres, if it has any.
fn room(joint: &Joint<f64>) -> Option<String> {
    joint.transmission().record().mechanism()?;
    let [lower, upper] = joint.valid_range();
    let before = lower.is_finite().then(|| format!("above {}", number(lower, 2)));
    let beyond = upper.is_finite().then(|| format!("below {}", number(upper, 2)));
    let ends: Vec<String> = [before, beyond].into_iter().flatten().collect();
    (!ends.is_empty()).then(|| format!("no dead centre for commands {}", ends.join(" and ")))
}

/// What the joint's sensor says, and what it can show of a broken wire.
fn feedback(joint: &Joint<f64>) -> Vec<(&'static str, String)> {
    let Some(feedback) = joint.feedback() else {
        return vec![("feedback", "none".to_owned())];
    };
    let (readings, angles) = (feedback.reading_range(), feedback.angle_range());
    let inverted = if feedback.direction().is_inverted() {
        ", inverted"
    } else {
        ""
    };
    let mut lines = vec![(
        "feedback",
        format!(
            "readings {} on {} deg{inverted}",
            range(readings.lower(), readings.upper()),
            range(angles.lower(), angles.upper())
        ),
    )];
    let record = feedback.record();
    let bits = record.adc_bits.map(|bits| {
        let seen = match feedback.detects_wire_faults() {
            [true, true] => "a wire broken or shorted shows at both ends",
            [true, false] => "a wire broken or shorted shows at the lower end only",
            [false, true] => "a wire broken or shorted shows at the upper end only",
            [false, false] => "no broken or shorted wire can be seen",
        };
        format!("{bits} bits: {seen}")
    });
    let parts = [
        bits,
        record
            .knots
            .as_ref()
            .map(|knots| format!("curve through {} knots", knots.len())),
        record
            .pot_ohm
            .zip(record.load_ohm)
            .map(|(pot, input)| format!("{} ohm loaded by {} ohm", number(pot, 1), number(input, 1))),
        record
            .wrap_deg
            .map(|turn| format!("wraps after {} deg", number(turn, 2))),
        record
            .supply_v
            .map(|supply| format!("taken at {} V", number(supply, 3))),
    ];
    lines.extend(parts.into_iter().flatten().map(|part| ("", part)));
    lines
}

/// What stands behind numbers that nobody gave.
pub(crate) fn assumed(is_assumed: bool) -> &'static str {
    if is_assumed { ", assumed" } else { "" }
}

fn end(end: Option<EndEvidence>) -> String {
    end.map_or("unproven".to_owned(), |end| {
        let guard = end
            .guard
            .map_or(String::new(), |guard| format!(", guard margin {}", number(guard, 3)));
        format!("{} {}{}{guard}", end.kind.as_str(), place(&end), uncertainty(&end))
    })
}

/// The standard uncertainty of an end, to stand behind its place; nothing where it is not known.
pub(crate) fn uncertainty(end: &EndEvidence) -> String {
    end.u.map_or(String::new(), |u| {
        format!(", standard uncertainty {}", Rounded { value: u, u: Some(u) })
    })
}

/// Where an end was found: `at 37.9 deg`, `to 119 deg` where it is clear, `between 110 and 120 deg`.
pub(crate) fn place(end: &EndEvidence) -> String {
    end.short_at.map_or_else(
        || {
            let word = if end.kind == EvidenceKind::Clear { "to" } else { "at" };
            let at = Rounded {
                value: end.at,
                u: end.u,
            };
            format!("{word} {at} deg")
        },
        |short_at| {
            let (low, high) = (end.at.min(short_at), end.at.max(short_at));
            format!("between {} and {} deg", number(low, 3), number(high, 3))
        },
    )
}
