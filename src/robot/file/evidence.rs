//! Evidence and its history in the text of a robot file: read, and written in place.

use std::borrow::ToOwned;
use std::format;
use std::string::{String, ToString as _};
use std::vec::Vec;

use toml_edit::{Date as TomlDate, Datetime, Item, Table, TableLike, Value};

use crate::bring_up::LoopSense;
use crate::error::JointError;
use crate::pulse::Servo;
use crate::robot::MeasuredAs;
use crate::robot::date::Date;
use crate::robot::error::{FileError, FileFault};
use crate::robot::evidence::{EndEvidence, Evidence, EvidenceKind, LostMotionEvidence};
use crate::robot::keys;
use crate::robot::reader::Section;
use crate::robot::set::{remove_key, set, set_flag, set_number, set_pair, set_text, set_whole, within};
use crate::robot::source::{DriveUnit, Source};

const END_EXAMPLE: &str = "lower = { kind = \"contact\", at = 37.9, u = 0.2, guard = 2.0 }";
const STALLED_EXAMPLE: &str = "upper = { kind = \"stalled\", at = 110, short_at = 120 }";
const EVIDENCE_EXAMPLE: &str = "[joint.NAME.evidence] with date = 2026-11-20 and so on";
const HISTORY_EXAMPLE: &str =
    "[joint.NAME.history] with 2025-11-20 = { lower = { kind = \"contact\", at = 37.9 } } and so on";
const SOURCE_EXAMPLE: &str = "source = { file = \"readings/wing_left.csv\", sha256 = \"...\" }";
const ROWS_EXAMPLE: &str = "rows = { side = \"left\" }";
const SERVO_EXAMPLE: &str = "servo = { angle = [0, 180], pulse_us = [500, 2500] }";
const COLUMNS_EXAMPLE: &str = "columns = { drive = \"command_us\" }";
const SENSES: [LoopSense; 3] = [LoopSense::Opposing, LoopSense::Aiding, LoopSense::Undetermined];
/// Key of a calibration in a history that has no date.
const UNDATED: &str = "undated";
const TIME_UNITS: [&str; 2] = ["s", "ms"];
/// Keys of the servo line of a source: nothing of it is assumed.
const SERVO_LINE: &[&str] = &["angle", "pulse_us"];
/// Hexadecimal digits of a SHA-256.
const HASH_DIGITS: usize = 64;

pub(in crate::robot) fn read(joint: &Section<'_>) -> Result<Evidence, FileError> {
    match joint.section("evidence", EVIDENCE_EXAMPLE)? {
        Some(section) => read_one(&section),
        None => Ok(Evidence::default()),
    }
}

/// Earlier calibrations, each under its date, in the order of the file.
pub(in crate::robot) fn read_history(joint: &Section<'_>) -> Result<Vec<Evidence>, FileError> {
    let Some(history) = joint.section("history", HISTORY_EXAMPLE)? else {
        return Ok(Vec::new());
    };
    let mut all = Vec::new();
    for (key, section) in history.sections(HISTORY_EXAMPLE)? {
        let Some(date) = date_of(key) else {
            return Err(section.fault_here(FileFault::WrongType {
                key: key.to_owned(),
                found: format!("the key \"{key}\""),
                example: "a day such as 2025-11-20, with -2 and so on behind it where one day has several",
            }));
        };
        let mut evidence = read_one(&section)?;
        if evidence.date.is_some() {
            return Err(section.fault_at(
                "date",
                FileFault::WrongType {
                    key: "date".to_owned(),
                    found: "a second date".to_owned(),
                    example: "nothing: the day before the equals sign is the date",
                },
            ));
        }
        evidence.date = date;
        all.push(evidence);
    }
    Ok(all)
}

/// The date of a key such as `2025-11-20`, `2025-11-20-2` or `undated`; `None` if it is neither.
fn date_of(key: &str) -> Option<Option<Date>> {
    let counted = |rest: &str| {
        let digits = rest.strip_prefix('-');
        rest.is_empty() || digits.is_some_and(|digits| digits.parse::<u32>().is_ok())
    };
    if let Some(rest) = key.strip_prefix(UNDATED) {
        return counted(rest).then_some(None);
    }
    let (day, rest) = key.split_at_checked("2025-11-20".len())?;
    counted(rest).then_some(Some(day.parse().ok()?))
}

fn read_one(section: &Section<'_>) -> Result<Evidence, FileError> {
    section.only(keys::EVIDENCE.names)?;
    let sense = "sense = \"opposing\"";
    let text = |key, example| Ok(section.text(key, example)?.map(ToOwned::to_owned));
    Ok(Evidence {
        date: section.date("date", "date = 2026-11-20, a day without quotes")?,
        by: text("by", "by = \"A. Heron\"")?,
        instrument: text("instrument", "instrument = \"inclinometer 0.1 deg\"")?,
        supply_v: section.size("supply_v", "supply_v = 6.0")?,
        temperature_c: section.finite("temperature_c", "temperature_c = 21.5")?,
        sense: section.word("sense", sense, &SENSES, LoopSense::as_str)?,
        sense_date: section.date("sense_date", "sense_date = 2026-10-02, a day without quotes")?,
        lower: read_end(section, "lower", |at, short_at| short_at < at)?,
        upper: read_end(section, "upper", |at, short_at| short_at > at)?,
        lost_motion: read_lost_motion(section)?,
        readings: section.whole("readings", "readings = 42", "a whole number, zero or more")?,
        map_off: section.finite("map_off", "map_off = 14.4")?,
        source: read_source(section)?,
    })
}

fn read_end(
    evidence: &Section<'_>,
    side: &'static str,
    is_beyond: fn(f64, f64) -> bool,
) -> Result<Option<EndEvidence>, FileError> {
    let Some(end) = evidence.section(side, END_EXAMPLE)? else {
        return Ok(None);
    };
    end.only(keys::END.names)?;
    let kind = end.word("kind", END_EXAMPLE, &EvidenceKind::ALL, EvidenceKind::as_str)?;
    let kind = end.need("kind", END_EXAMPLE, kind)?;
    let at = end.need("at", END_EXAMPLE, end.finite("at", "at = 37.9")?)?;
    let short_at = end.finite("short_at", "short_at = 120")?;
    let wrong = |value, must| {
        let key = "short_at".to_owned();
        Err(end.fault_at("short_at", FileFault::ValueOutside { key, value, must }))
    };
    match (kind, short_at) {
        (EvidenceKind::Stalled, None) => drop(end.need("short_at", STALLED_EXAMPLE, short_at)?),
        (EvidenceKind::Stalled, Some(short)) if !is_beyond(at, short) => {
            let must = "further out than at: less at the lower end, more at the upper";
            return wrong(short, must);
        }
        (EvidenceKind::Stalled, _) | (_, None) => {}
        (_, Some(short)) => return wrong(short, "left out, as only kind = \"stalled\" has it"),
    }
    Ok(Some(EndEvidence {
        kind,
        at,
        short_at,
        u: end.size("u", "u = 0.2")?,
        guard: end.size("guard", "guard = 2.0")?,
    }))
}

fn read_lost_motion(evidence: &Section<'_>) -> Result<Option<LostMotionEvidence>, FileError> {
    const EXAMPLE: &str = "lost_motion = { value = 1.8, u = 0.15 }";
    let Some(section) = evidence.section("lost_motion", EXAMPLE)? else {
        return Ok(None);
    };
    section.only(keys::LOST_MOTION.names)?;
    Ok(Some(LostMotionEvidence {
        value: section.need("value", EXAMPLE, section.size("value", "value = 1.8")?)?,
        u: section.size("u", "u = 0.15")?,
    }))
}

fn read_source(evidence: &Section<'_>) -> Result<Option<Source>, FileError> {
    let Some(section) = evidence.section("source", SOURCE_EXAMPLE)? else {
        return Ok(None);
    };
    section.only(keys::SOURCE.names)?;
    let hash = section.need("sha256", SOURCE_EXAMPLE, section.text("sha256", SOURCE_EXAMPLE)?)?;
    let is_digit = |byte: u8| matches!(byte, b'0'..=b'9' | b'a'..=b'f');
    if hash.len() != HASH_DIGITS || !hash.bytes().all(is_digit) {
        let fault = FileFault::WrongType {
            key: "sha256".to_owned(),
            found: format!("the text \"{hash}\""),
            example: "the SHA-256 of the file, 64 hexadecimal digits in lower case",
        };
        return Err(section.fault_at("sha256", fault));
    }
    let columns = match section.section("columns", COLUMNS_EXAMPLE)? {
        Some(columns) => {
            columns.only(Source::ROLES)?;
            texts(&columns, COLUMNS_EXAMPLE)?
        }
        None => Vec::new(),
    };
    let rows = section.section("rows", ROWS_EXAMPLE)?;
    let character = |key, example| section.value(key, example, |value| one_character(value.as_str()?));
    let time_unit = section.word("time_unit", "time_unit = \"ms\"", &TIME_UNITS, |word| word)?;
    Ok(Some(Source {
        file: section
            .need("file", SOURCE_EXAMPLE, section.text("file", SOURCE_EXAMPLE)?)?
            .to_owned(),
        sha256: hash.to_owned(),
        rows: rows.map_or(Ok(Vec::new()), |rows| texts(&rows, ROWS_EXAMPLE))?,
        columns,
        drive_unit: section
            .word("drive_unit", "drive_unit = \"us\"", &DriveUnit::ALL, DriveUnit::as_str)?
            .unwrap_or_default(),
        servo: read_line(&section)?,
        measured_unit: section
            .text("measured_unit", "measured_unit = \"deg\"")?
            .map(ToOwned::to_owned),
        measured_as: MeasuredAs {
            wrap: section.size("wrap", "wrap = 360")?,
            arc_radius: section.size("arc_radius", "arc_radius = 120")?,
            flipped: section.flag("flipped")?.unwrap_or(false),
        },
        time_unit: time_unit.map(ToOwned::to_owned),
        separator: character("separator", "separator = \";\"")?,
        decimal: character("decimal", "decimal = \",\"")?,
        resolution: section.size("resolution", "resolution = 0.1")?,
        confidence: section.size("confidence", "confidence = 0.95")?,
    }))
}

/// The servo line under which a drive column was written.
fn read_line(source: &Section<'_>) -> Result<Option<Servo<f64>>, FileError> {
    let Some(line) = source.section("servo", SERVO_EXAMPLE)? else {
        return Ok(None);
    };
    line.only(SERVO_LINE)?;
    let pair = |key, example| line.need(key, SERVO_EXAMPLE, line.pair(key, example)?);
    let angle = pair("angle", "angle = [0, 180]")?;
    let pulse_us = pair("pulse_us", "pulse_us = [500, 2500]")?;
    match Servo::new(angle, pulse_us) {
        Ok(servo) if servo.is_in_milliseconds() => Err(JointError::PulseInMilliseconds { pulse_us }),
        other => other,
    }
    .map(Some)
    .map_err(|error| source.fault_at("servo", FileFault::Joint(error)))
}

/// Every key with its text, in the order of the file.
fn texts(section: &Section<'_>, example: &'static str) -> Result<Vec<(String, String)>, FileError> {
    let text = |name: &str| -> Result<(String, String), FileError> {
        // A row may be picked by a cell that holds nothing.
        let text = section.value(name, example, |value| value.as_str().map(ToOwned::to_owned))?;
        Ok((name.to_owned(), text.unwrap_or_default()))
    };
    section.names().into_iter().map(text).collect()
}

fn one_character(text: &str) -> Option<char> {
    let mut all = text.chars();
    all.next().filter(|_| all.next().is_none())
}

pub(in crate::robot) fn write(joint: &mut dyn TableLike, evidence: &Evidence) {
    if evidence.is_empty() {
        remove_key(joint, "evidence");
        return;
    }
    if !joint.contains_key("evidence") {
        joint.insert("evidence", Item::Table(Table::new()));
    }
    let Some(table) = joint.get_mut("evidence").and_then(Item::as_table_like_mut) else {
        return;
    };
    set_date(table, "date", evidence.date);
    write_one(table, evidence);
}

fn set_date(table: &mut dyn TableLike, key: &str, date: Option<Date>) {
    let date = date.map(toml_date);
    set(table, key, date.map(Value::from), |old| {
        old.as_datetime().copied() == date
    });
}

fn toml_date(date: Date) -> Datetime {
    let date = TomlDate {
        year: date.year(),
        month: date.month(),
        day: date.day(),
    };
    Datetime {
        date: Some(date),
        time: None,
        offset: None,
    }
}

/// One line for each calibration, under its date.
pub(in crate::robot) fn write_history(joint: &mut dyn TableLike, history: &[Evidence]) {
    if history.is_empty() {
        joint.remove("history");
        return;
    }
    if !joint.contains_key("history") {
        joint.insert("history", Item::Table(Table::new()));
    }
    let Some(table) = joint.get_mut("history").and_then(Item::as_table_like_mut) else {
        return;
    };
    let keys = keys(history);
    let there: Vec<String> = table.iter().map(|(key, _)| key.to_owned()).collect();
    for gone in there.iter().filter(|key| !keys.contains(key)) {
        table.remove(gone);
    }
    for (key, evidence) in keys.iter().zip(history) {
        within(table, key, |one| write_one(one, evidence));
    }
}

/// The key of each calibration: its date, counted on where one day has several.
fn keys(history: &[Evidence]) -> Vec<String> {
    let mut keys: Vec<String> = Vec::with_capacity(history.len());
    for evidence in history {
        let day = evidence
            .date
            .map_or_else(|| UNDATED.to_owned(), |date| date.to_string());
        let mut key = day.clone();
        let mut count = 1u32;
        while keys.contains(&key) {
            count = count.saturating_add(1);
            key = format!("{day}-{count}");
        }
        keys.push(key);
    }
    keys
}

/// All but the date.
fn write_one(table: &mut dyn TableLike, evidence: &Evidence) {
    set_text(table, "by", evidence.by.as_deref());
    set_text(table, "instrument", evidence.instrument.as_deref());
    set_number(table, "supply_v", evidence.supply_v);
    set_number(table, "temperature_c", evidence.temperature_c);
    set_text(table, "sense", evidence.sense.map(|sense| sense.as_str()));
    set_date(table, "sense_date", evidence.sense_date);
    write_end(table, "lower", evidence.lower);
    write_end(table, "upper", evidence.upper);
    match evidence.lost_motion {
        None => remove_key(table, "lost_motion"),
        Some(LostMotionEvidence { value, u }) => within(table, "lost_motion", |lost| {
            set_number(lost, "value", Some(value));
            set_number(lost, "u", u);
        }),
    }
    set_whole(table, "readings", evidence.readings.map(i64::from));
    set_number(table, "map_off", evidence.map_off);
    match &evidence.source {
        None => remove_key(table, "source"),
        Some(source) => within(table, "source", |table| write_source(table, source)),
    }
}

fn write_source(table: &mut dyn TableLike, source: &Source) {
    set_text(table, "file", Some(&source.file));
    write_texts(table, "rows", &source.rows);
    write_texts(table, "columns", &source.columns);
    let is_usual = source.drive_unit == DriveUnit::default();
    set_text(table, "drive_unit", (!is_usual).then(|| source.drive_unit.as_str()));
    match source.servo {
        None => remove_key(table, "servo"),
        Some(servo) => within(table, "servo", |line| {
            set_pair(line, "angle", Some(servo.angle_range().ends()));
            set_pair(line, "pulse_us", Some(servo.pulse_range_us().ends()));
        }),
    }
    set_text(table, "measured_unit", source.measured_unit.as_deref());
    let MeasuredAs {
        wrap,
        arc_radius,
        flipped,
    } = source.measured_as;
    if flipped {
        set_flag(table, "flipped", true);
    } else {
        remove_key(table, "flipped");
    }
    set_number(table, "arc_radius", arc_radius);
    set_number(table, "wrap", wrap);
    set_text(table, "time_unit", source.time_unit.as_deref());
    set_text(table, "separator", source.separator.map(String::from).as_deref());
    set_text(table, "decimal", source.decimal.map(String::from).as_deref());
    set_number(table, "resolution", source.resolution);
    set_number(table, "confidence", source.confidence);
    set_text(table, "sha256", Some(&source.sha256));
}

fn write_texts(table: &mut dyn TableLike, key: &str, texts: &[(String, String)]) {
    if texts.is_empty() {
        table.remove(key);
        return;
    }
    within(table, key, |table| {
        let there: Vec<String> = table.iter().map(|(name, _)| name.to_owned()).collect();
        for gone in there.iter().filter(|name| !texts.iter().any(|(kept, _)| kept == *name)) {
            table.remove(gone);
        }
        for (name, text) in texts {
            set_text(table, name, Some(text));
        }
    });
}

fn write_end(evidence: &mut dyn TableLike, side: &str, end: Option<EndEvidence>) {
    let Some(end) = end else {
        remove_key(evidence, side);
        return;
    };
    within(evidence, side, |table| {
        set_text(table, "kind", Some(end.kind.as_str()));
        set_number(table, "at", Some(end.at));
        set_number(table, "short_at", end.short_at);
        set_number(table, "u", end.u);
        set_number(table, "guard", end.guard);
    });
}
