//! `convert`: numbers through a joint, both ways.

use crate::args::{ConvertArgs, Quantity};
use crate::columns::{Column, Columns};
use crate::outcome::Outcome;
use crate::output;
use crate::paint;
use crate::problem::Problem;
use elbowroom::robot::{JointEntry, Robot};
use elbowroom::{Code, ConvertError, Joint};
use serde::Serialize;
use std::fmt::Write as _;
use std::io::{self, BufRead as _, BufWriter, Write};

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
    /// The one quantity that was asked for, as JSON.
    One(serde_json::Map<String, serde_json::Value>),
    /// What the joint's sensor says: the joint's angle too, deg, and whether the sensor is sound.
    Read {
        given: f64,
        angle: f64,
        command: f64,
        state: &'static str,
    },
}

/// Converts values given as arguments: all of them, or none.
pub(crate) fn run(args: &ConvertArgs) -> Result<Outcome, Problem> {
    let robot = Robot::load(&args.file)?;
    let entry = robot.expect_joint(&args.joint)?;
    let mut rows = Vec::with_capacity(args.values.len());
    for (index, word) in args.values.iter().enumerate() {
        rows.push(convert(entry.joint(), args.from, index, word)?);
    }
    let mut text = String::new();
    if args.to.is_none() {
        head(&mut text, args.from, entry.unit().unwrap_or(""));
    }
    for row in &rows {
        match args.to {
            Some(to) => alone(&mut text, entry, row, to)?,
            None => line(&mut text, args.from, entry.unit().unwrap_or(""), row),
        }
    }
    if args.to.is_none() {
        text.push_str(&crate::check::assumed_note(&robot));
    }
    let values = rows.into_iter().map(|row| in_json(entry, row, args.to));
    let report = Report {
        joint: entry.name(),
        from: word(args.from),
        values: values.collect::<Result<_, _>>()?,
    };
    Outcome::new(text, &report, false)
}

/// The longest value that is read: a number's text is far shorter.
const LONGEST_WORD: usize = 1 << 10;

/// Converts standard input value by value, in constant memory: each is printed before more input is waited for. A refused value ends
/// the output; with `--json` the object then ends with `error`.
pub(crate) fn stream(args: &ConvertArgs, json: bool) -> Result<(), Problem> {
    let opened = Robot::load(&args.file).and_then(|robot| robot.expect_joint(&args.joint).cloned());
    let mut out = BufWriter::new(anstream::stdout());
    let mut stream = Stream {
        args,
        json,
        out: &mut out,
        values: 0,
    };
    let done = opened
        .map_err(|error| Stopped::Problem(error.into()))
        .and_then(|entry| stream.values(&entry));
    if json {
        let end = match (&done, stream.values) {
            (Err(Stopped::Problem(problem)), 0) => format!("{:#}\n", serde_json::json!({ "error": problem })),
            (Err(Stopped::Problem(problem)), _) => format!("],\"error\":{}}}\n", serde_json::json!(problem)),
            _ => "]}\n".to_owned(),
        };
        output::printed(stream.out.write_all(end.as_bytes()))?;
    }
    output::printed(stream.out.flush())?;
    match done {
        Err(Stopped::Problem(problem)) => Err(problem),
        Err(Stopped::Output(error)) => output::printed(Err(error)),
        Ok(()) => Ok(()),
    }
}

/// Why a stream ended before its input did.
enum Stopped {
    Problem(Problem),
    /// The output takes no more.
    Output(io::Error),
}

impl From<Problem> for Stopped {
    fn from(problem: Problem) -> Self {
        Self::Problem(problem)
    }
}

impl From<io::Error> for Stopped {
    fn from(error: io::Error) -> Self {
        Self::Output(error)
    }
}

struct Stream<'s, W: Write> {
    args: &'s ConvertArgs,
    json: bool,
    out: &'s mut W,
    /// So many were printed.
    values: usize,
}

impl<W: Write> Stream<'_, W> {
    fn values(&mut self, entry: &JointEntry) -> Result<(), Stopped> {
        let mut input = io::stdin().lock();
        let unread = |error: io::Error| Problem::new(Code::FileAccess, format!("standard input: {error}"));
        let mut word = Vec::new();
        loop {
            let bytes = input.fill_buf().map_err(unread)?;
            let read = bytes.len();
            if read == 0 {
                break;
            }
            for &byte in bytes {
                if !byte.is_ascii_whitespace() {
                    word.push(byte);
                    if word.len() > LONGEST_WORD {
                        let message = format!(
                            "value {} is longer than any number; separate values by blanks",
                            self.values + 1
                        );
                        return Err(Problem::new(Code::WrongType, message).into());
                    }
                } else if !word.is_empty() {
                    self.value(entry, &word)?;
                    word.clear();
                }
            }
            input.consume(read);
            self.out.flush()?;
        }
        if !word.is_empty() {
            self.value(entry, &word)?;
        }
        if self.values == 0 {
            let message = "no values given; write some, e.g. 0 90 180, or pipe them in";
            return Err(Problem::new(Code::TooFewReadings, message).into());
        }
        Ok(())
    }

    fn value(&mut self, entry: &JointEntry, word: &[u8]) -> Result<(), Stopped> {
        let row = convert(
            entry.joint(),
            self.args.from,
            self.values,
            &String::from_utf8_lossy(word),
        )?;
        let first = self.values == 0;
        let mut text = String::new();
        if self.json {
            let row = in_json(entry, row, self.args.to)?;
            let row = serde_json::to_string(&row).map_err(|error| Problem::new(Code::Other, error.to_string()))?;
            if first {
                let (joint, from) = (serde_json::json!(entry.name()), self::word(self.args.from));
                let _ = write!(text, "{{\"joint\":{joint},\"from\":\"{from}\",\"values\":[\n{row}");
            } else {
                let _ = write!(text, ",\n{row}");
            }
        } else {
            match self.args.to {
                Some(to) => alone(&mut text, entry, &row, to)?,
                None => {
                    if first {
                        head(&mut text, self.args.from, entry.unit().unwrap_or(""));
                    }
                    line(&mut text, self.args.from, entry.unit().unwrap_or(""), &row);
                }
            }
        }
        self.out.write_all(text.as_bytes())?;
        self.values += 1;
        Ok(())
    }
}

/// One quantity of a row by itself.
#[derive(Serialize)]
#[serde(untagged)]
enum Asked {
    Number(f64),
    Count(u32),
}

fn asked(entry: &JointEntry, row: &Row, to: Quantity) -> Result<Asked, Problem> {
    Ok(match (row, to) {
        (Row::Back { command, .. } | Row::Read { command, .. }, Quantity::Command) => Asked::Number(*command),
        (Row::Forward(row), Quantity::Command) => Asked::Number(row.command),
        (Row::Forward(row), Quantity::Drive) => Asked::Number(row.drive),
        (Row::Forward(row), Quantity::PulseUs) => Asked::Number(row.pulse_us),
        (Row::Forward(row), Quantity::Counts) => Asked::Count(row.counts),
        (Row::Forward(row), Quantity::Reading) => {
            let reading = entry.joint().reading_from_command(row.command);
            Asked::Number(reading.map_err(|error| refused(entry.name(), &error))?)
        }
        (Row::Back { .. } | Row::Read { .. } | Row::One(_), _) => {
            let message = "values of the motor or of the sensor are converted to commands; use --to command";
            return Err(Problem::new(Code::OptionOutside, message));
        }
    })
}

/// The same in the shortest text that reads back as the same number.
fn alone(text: &mut String, entry: &JointEntry, row: &Row, to: Quantity) -> Result<(), Problem> {
    let _ = match asked(entry, row, to)? {
        Asked::Number(number) => writeln!(text, "{number}"),
        Asked::Count(count) => writeln!(text, "{count}"),
    };
    Ok(())
}

/// The row of `--json`: of one quantity what was given, and whether it was clamped.
fn in_json(entry: &JointEntry, row: Row, to: Option<Quantity>) -> Result<Row, Problem> {
    let Some(to) = to else {
        return Ok(row);
    };
    let value = serde_json::json!(asked(entry, &row, to)?);
    let mut one = serde_json::Map::new();
    match row {
        Row::Forward(row) => {
            one.insert("given".into(), row.command.into());
            one.insert("clamped_to_command".into(), row.clamped_to_command.into());
            one.insert("clamped_to_travel".into(), row.clamped_to_travel.into());
        }
        Row::Back { given, .. } | Row::Read { given, .. } => {
            one.insert("given".into(), given.into());
        }
        Row::One(_) => {}
    }
    one.insert(word(to).into(), value);
    Ok(Row::One(one))
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
    let pointed = text.replacen(',', ".", 1);
    if pointed != text && pointed.parse::<f64>().is_ok() {
        let instead =
            format!("not a number; write decimals with a point, {pointed}, and several values with blanks between");
        return Err(not(&instead));
    }
    if from == Quantity::Counts {
        let count: u32 = text
            .parse()
            .map_err(|_| not("not a count; write a whole number from 0 on"))?;
        return Ok(Row::Back {
            given: f64::from(count),
            command: joint.command_from_counts(count),
        });
    }
    let given: f64 = text.parse().map_err(|_| {
        not(match text.strip_prefix("--") {
            Some(_) => "an option, which stands behind --; write options before --, or leave -- out: negative numbers need none",
            None => "not a number; write a plain number without its unit, e.g. 42.5",
        })
    })?;
    match from {
        Quantity::Command => Converted::command(joint, given)
            .map(Row::Forward)
            .map_err(|error| refused(&place, &error)),
        // Back from the motor NaN is a gap in a log, and stays one.
        _ if given.is_infinite() => Err(not(
            "not finite; write a number such as 42.5, or nan where a log has a gap",
        )),
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
    let command = format!("command {unit}");
    let columns = [
        Column::Left("", 9),
        Column::Right(command.trim_end(), 14),
        Column::Right("drive deg", 12),
        Column::Right("pulse us", 12),
        Column::Right("counts", 9),
        Column::Rest(""),
    ];
    let is_labelled = rows.iter().any(|(label, _)| !label.is_empty());
    let table = Columns::new(columns.get(usize::from(!is_labelled)..).unwrap_or_default());
    table.head(text);
    for (label, row) in rows {
        let cells = forward_cells(row);
        let [command, drive, pulse, counts, clamped] = &cells;
        let all = [*label, command, drive, pulse, counts, clamped];
        table.row(text, all.get(usize::from(!is_labelled)..).unwrap_or_default());
    }
}

fn forward_cells(row: &Converted) -> [String; 5] {
    [
        paint::number(row.command, 4),
        paint::number(row.drive, 3),
        paint::number(row.pulse_us, 3),
        row.counts.to_string(),
        row.clamped().to_owned(),
    ]
}

/// What the columns hold, and the rows.
fn with_columns(from: Quantity, unit: &str, work: impl FnOnce(&Columns<'_>)) {
    let command = format!("command {unit}");
    let command = command.trim_end();
    match from {
        Quantity::Command => work(&Columns::new(&[
            Column::Right(command, 14),
            Column::Right("drive deg", 12),
            Column::Right("pulse us", 12),
            Column::Right("counts", 9),
            Column::Rest(""),
        ])),
        Quantity::Reading => work(&Columns::new(&[
            Column::Right("reading", 14),
            Column::Right("angle deg", 14),
            Column::Right(command, 14),
            Column::Rest(""),
        ])),
        _ => work(&Columns::new(&[
            Column::Right(word(from), 14),
            Column::Right(command, 14),
        ])),
    }
}

/// What stands above the rows.
fn head(text: &mut String, from: Quantity, unit: &str) {
    with_columns(from, unit, |table| table.head(text));
}

fn line(text: &mut String, from: Quantity, unit: &str, row: &Row) {
    let shown = |value: f64| paint::number(value, 4);
    with_columns(from, unit, |table| match row {
        Row::Forward(row) => {
            let cells = forward_cells(row);
            table.row(text, &cells.each_ref().map(String::as_str));
        }
        Row::Back { given, command } => table.row(text, &[&shown(*given), &shown(*command)]),
        Row::One(_) => {}
        Row::Read {
            given,
            angle,
            command,
            state,
        } => table.row(text, &[&shown(*given), &shown(*angle), &shown(*command), state]),
    });
}
