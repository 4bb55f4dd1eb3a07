//! `convert`: numbers through a joint, both ways.

use crate::args::{ConvertArgs, Quantity};
use crate::outcome::Outcome;
use crate::paint;
use crate::problem::Problem;
use elbowroom::robot::Robot;
use elbowroom::{Code, ConvertError, Joint};
use serde::Serialize;
use std::fmt::Write as _;
use std::io::Read as _;

/// One value in every quantity.
#[derive(Debug, Serialize)]
pub(crate) struct Converted {
    pub(crate) command: f64,
    pub(crate) drive: f64,
    pub(crate) pulse_us: f64,
    pub(crate) counts: u32,
    /// The command was outside the command range.
    pub(crate) clamped_to_command: bool,
    /// The drive angle was outside the travel.
    pub(crate) clamped_to_travel: bool,
}

impl Converted {
    /// A command on its way to the motor.
    pub(crate) fn command(joint: &Joint<f64>, command: f64) -> Result<Self, ConvertError> {
        let drive = joint.drive(command)?;
        Ok(Self {
            command,
            drive: drive.value,
            pulse_us: joint.pulse_us(command)?.value,
            counts: joint.counts(command)?.value,
            clamped_to_command: drive.clamped.command,
            clamped_to_travel: drive.clamped.travel,
        })
    }

    pub(crate) fn clamped(&self) -> &'static str {
        match (self.clamped_to_command, self.clamped_to_travel) {
            (false, false) => "",
            (true, false) => "clamped to the command range",
            (false, true) => "clamped to travel",
            (true, true) => "clamped to the command range and to travel",
        }
    }
}

#[derive(Serialize)]
struct Report<'a> {
    joint: &'a str,
    from: &'static str,
    values: Vec<Row>,
}

/// A value given, and what it is. Backwards only the command is a result: nothing is clamped, nothing rounded.
#[derive(Serialize)]
#[serde(untagged)]
enum Row {
    Forward(Converted),
    Back {
        given: f64,
        command: f64,
    },
    /// What the joint's sensor says: the joint's angle too, deg, and whether the sensor is sound.
    Read {
        given: f64,
        angle: f64,
        command: f64,
        state: &'static str,
    },
}

pub(crate) fn run(args: &ConvertArgs) -> Result<Outcome, Problem> {
    let robot = Robot::load(&args.file)?;
    let entry = robot.expect_joint(&args.joint)?;
    let joint = entry.joint();
    let words = if args.values.is_empty() {
        let mut text = String::new();
        std::io::stdin()
            .read_to_string(&mut text)
            .map_err(|error| Problem::new(Code::FileAccess, format!("standard input: {error}")))?;
        text.split_whitespace().map(str::to_owned).collect()
    } else {
        args.values.clone()
    };
    if words.is_empty() {
        return Err(Problem::new(
            Code::TooFewReadings,
            "no values given; write some, e.g. 0 90 180, or pipe them in",
        ));
    }
    let mut rows = Vec::with_capacity(words.len());
    for (index, word) in words.iter().enumerate() {
        rows.push(convert(joint, args.from, index, word)?);
    }
    let mut text = String::new();
    match args.to {
        Some(to) => {
            for row in &rows {
                // The shortest text that reads back as the same number.
                let _ = match (row, to) {
                    (Row::Back { command, .. } | Row::Read { command, .. }, Quantity::Command) => {
                        writeln!(text, "{command}")
                    }
                    (Row::Forward(row), Quantity::Command) => writeln!(text, "{}", row.command),
                    (Row::Forward(row), Quantity::Drive) => writeln!(text, "{}", row.drive),
                    (Row::Forward(row), Quantity::PulseUs) => writeln!(text, "{}", row.pulse_us),
                    (Row::Forward(row), Quantity::Counts) => writeln!(text, "{}", row.counts),
                    (Row::Forward(row), Quantity::Reading) => {
                        let reading = joint.reading_from_command(row.command);
                        writeln!(text, "{}", reading.map_err(|error| refused(entry.name(), &error))?)
                    }
                    (Row::Back { .. } | Row::Read { .. }, _) => {
                        let message = "from the motor or the sensor back, values become commands; use --to command";
                        return Err(Problem::new(Code::OptionOutside, message));
                    }
                };
            }
        }
        None => table(&mut text, args.from, entry.unit().unwrap_or(""), &rows),
    }
    let report = Report {
        joint: entry.name(),
        from: word(args.from),
        values: rows,
    };
    Outcome::new(text, &report, false)
}

const fn word(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::Command => "command",
        Quantity::Drive => "drive",
        Quantity::PulseUs => "pulse_us",
        Quantity::Counts => "counts",
        Quantity::Reading => "reading",
    }
}

fn refused(place: &str, error: &ConvertError) -> Problem {
    Problem::new(error.code(), format!("{place}: {error}"))
}

fn convert(joint: &Joint<f64>, from: Quantity, index: usize, text: &str) -> Result<Row, Problem> {
    let place = format!("value {} (\"{text}\")", index + 1);
    let not = |what: &str| Problem::new(Code::WrongType, format!("{place} is {what}"));
    if from == Quantity::Counts {
        let count: u32 = text
            .parse()
            .map_err(|_| not("no count; write a whole number from 0 on"))?;
        return Ok(Row::Back {
            given: f64::from(count),
            command: joint.command_from_counts(count),
        });
    }
    let given: f64 = text.parse().map_err(|_| not("no number; write one such as 42.5"))?;
    match from {
        Quantity::Command => Converted::command(joint, given)
            .map(Row::Forward)
            .map_err(|error| refused(&place, &error)),
        _ if !given.is_finite() => Err(not("not finite; write a number such as 42.5")),
        Quantity::Drive => Ok(Row::Back {
            given,
            command: joint.command_from_drive(given),
        }),
        Quantity::Reading => read(joint, given).map_err(|error| refused(&place, &error)),
        Quantity::PulseUs | Quantity::Counts => Ok(Row::Back {
            given,
            command: joint.command_from_pulse_us(given),
        }),
    }
}

fn read(joint: &Joint<f64>, given: f64) -> Result<Row, ConvertError> {
    Ok(Row::Read {
        given,
        angle: joint.angle_from_reading(given)?,
        command: joint.command_from_reading(given)?,
        state: joint.reading_state(given)?.as_str(),
    })
}

/// The forward table: `command  drive  pulse  counts`.
pub(crate) fn forward_table(text: &mut String, unit: &str, rows: &[(&str, &Converted)]) {
    let head = if unit.is_empty() {
        "command".to_owned()
    } else {
        format!("command {unit}")
    };
    let labelled = rows.iter().any(|(label, _)| !label.is_empty());
    let label_width = if labelled { 9 } else { 0 };
    let line = format!(
        "{:label_width$}{head:>14}{:>12}{:>12}{:>9}",
        "", "drive deg", "pulse us", "counts"
    );
    let _ = writeln!(text, "{}", paint::strong(&line));
    for (label, row) in rows {
        let line = format!(
            "{label:label_width$}{:>14}{:>12}{:>12}{:>9}  {}",
            paint::number(row.command, 4),
            paint::number(row.drive, 3),
            paint::number(row.pulse_us, 3),
            row.counts,
            row.clamped()
        );
        let _ = writeln!(text, "{}", line.trim_end());
    }
}

fn table(text: &mut String, from: Quantity, unit: &str, rows: &[Row]) {
    let forward: Vec<(&str, &Converted)> = rows
        .iter()
        .filter_map(|row| match row {
            Row::Forward(row) => Some(("", row)),
            Row::Back { .. } | Row::Read { .. } => None,
        })
        .collect();
    if from == Quantity::Command {
        forward_table(text, unit, &forward);
        return;
    }
    let head = if from == Quantity::Reading {
        format!("{:>14}{:>14}{:>14} {unit}", "reading", "angle deg", "command")
    } else {
        format!("{:>14}{:>14} {unit}", word(from), "command")
    };
    let _ = writeln!(text, "{}", paint::strong(head.trim_end()));
    let column = |value: f64| format!("{:>14}", paint::number(value, 4));
    for row in rows {
        let _ = match *row {
            Row::Back { given, command } => writeln!(text, "{}{}", column(given), column(command)),
            Row::Read {
                given,
                angle,
                command,
                state,
            } => writeln!(text, "{}{}{}  {state}", column(given), column(angle), column(command)),
            Row::Forward(_) => Ok(()),
        };
    }
}
