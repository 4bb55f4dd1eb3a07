//! Evidence, findings and rules, to and from the frozen records of the Python half.

use elbowroom::Code;
use elbowroom::bring_up::LoopSense;
use elbowroom::robot::{
    Date, DriveUnit, EndEvidence, Evidence, EvidenceKind, Finding, LostMotionEvidence, MeasuredAs, Rule, Source,
};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use crate::numbers::{flag, kind_of, maybe_number, number, part, text, whole, word_among, word_of};
use crate::pulse::Servo;
use crate::refuse;

/// A class of the Python half.
pub(crate) fn record<'py>(py: Python<'py>, class: &str, fields: &Bound<'py, PyDict>) -> PyResult<Bound<'py, PyAny>> {
    py.import("elbowroom")?.getattr(class)?.call((), Some(fields))
}

/// The same from values by the names of its fields.
macro_rules! record_of {
    ($py:expr, $class:literal, { $($field:ident: $value:expr),+ $(,)? }) => {{
        let fields = pyo3::types::PyDict::new($py);
        $(fields.set_item(stringify!($field), $value)?;)+
        crate::evidence::record($py, $class, &fields)
    }};
}
pub(crate) use record_of;

fn end<'py>(py: Python<'py>, end: Option<EndEvidence>) -> PyResult<Option<Bound<'py, PyAny>>> {
    let Some(end) = end else { return Ok(None) };
    record_of!(py, "EndEvidence", {
        kind: end.kind.as_str(), at: end.at, short_at: end.short_at, u: end.u, guard: end.guard,
    })
    .map(Some)
}

pub(crate) fn evidence<'py>(py: Python<'py>, evidence: &Evidence) -> PyResult<Bound<'py, PyAny>> {
    let fields = PyDict::new(py);
    for (key, date) in [("date", evidence.date), ("sense_date", evidence.sense_date)] {
        if let Some(date) = date {
            let class = py.import("datetime")?.getattr("date")?;
            fields.set_item(key, class.call1((date.year(), date.month(), date.day()))?)?;
        }
    }
    fields.set_item("sense", evidence.sense.map(LoopSense::as_str))?;
    fields.set_item("lower", end(py, evidence.lower)?)?;
    fields.set_item("upper", end(py, evidence.upper)?)?;
    if let Some(lost) = evidence.lost_motion {
        fields.set_item(
            "lost_motion",
            record_of!(py, "LostMotionEvidence", { value: lost.value, u: lost.u })?,
        )?;
    }
    fields.set_item("readings", evidence.readings)?;
    fields.set_item("map_off", evidence.map_off)?;
    fields.set_item("by", &evidence.by)?;
    fields.set_item("instrument", &evidence.instrument)?;
    fields.set_item("supply_v", evidence.supply_v)?;
    fields.set_item("temperature_c", evidence.temperature_c)?;
    if let Some(source) = &evidence.source {
        fields.set_item("source", source_record(py, source)?)?;
    }
    record(py, "Evidence", &fields)
}

fn source_record<'py>(py: Python<'py>, source: &Source) -> PyResult<Bound<'py, PyAny>> {
    record_of!(py, "Source", {
        file: &source.file, sha256: &source.sha256, rows: PyTuple::new(py, &source.rows)?,
        columns: PyTuple::new(py, &source.columns)?, drive_unit: source.drive_unit.as_str(),
        servo: source
            .servo
            .map(|line| Servo::of(line.into()).map_err(|error| refuse::joint(py, None, &error)))
            .transpose()?,
        measured_unit: &source.measured_unit, wrap: source.measured_as.wrap,
        arc_radius: source.measured_as.arc_radius, flipped: source.measured_as.flipped, time_unit: &source.time_unit,
        separator: source.separator, decimal: source.decimal, resolution: source.resolution,
        confidence: source.confidence,
    })
}

/// Pairs of texts.
fn pairs_of(from: &Bound<'_, PyAny>, what: &str) -> PyResult<Vec<(String, String)>> {
    from.extract().map_err(|_| {
        let sentence = format!("{what} is {}; give pairs of texts", kind_of(from));
        refuse::argument_at(from.py(), Code::WrongType, &sentence, from)
    })
}

/// One character.
fn letter(from: Option<Bound<'_, PyAny>>, what: &str) -> PyResult<Option<char>> {
    let Some(from) = from else { return Ok(None) };
    from.extract().map(Some).map_err(|_| {
        let sentence = format!("{what} is {}; give one character", kind_of(&from));
        refuse::argument_at(from.py(), Code::WrongType, &sentence, &from)
    })
}

fn source_of(from: &Bound<'_, PyAny>) -> PyResult<Source> {
    let py = from.py();
    let class = py.import("elbowroom._robot")?.getattr("Source")?;
    if !from.is_instance(&class)? {
        let sentence = format!("evidence.source is {}; give Source(...)", kind_of(from));
        return Err(refuse::argument_at(py, Code::WrongType, &sentence, from));
    }
    let words = |name: &str| {
        let found = given(from, name)?;
        found
            .map(|found| text(&found, &format!("evidence.source.{name}")))
            .transpose()
    };
    let value = |name: &str| maybe_number(given(from, name)?.as_ref(), &format!("evidence.source.{name}"));
    Ok(Source {
        file: text(&from.getattr("file")?, "evidence.source.file")?,
        sha256: text(&from.getattr("sha256")?, "evidence.source.sha256")?,
        rows: pairs_of(&from.getattr("rows")?, "evidence.source.rows")?,
        columns: pairs_of(&from.getattr("columns")?, "evidence.source.columns")?,
        drive_unit: word_among(
            &from.getattr("drive_unit")?,
            "evidence.source.drive_unit",
            DriveUnit::ALL,
            DriveUnit::as_str,
        )?,
        servo: given(from, "servo")?
            .map(|servo| {
                Ok::<_, PyErr>(
                    part::<Servo>(&servo, "evidence.source.servo", "Servo(...)")?
                        .get()
                        .both
                        .wide,
                )
            })
            .transpose()?,
        measured_unit: words("measured_unit")?,
        measured_as: MeasuredAs::default()
            .with_wrap(value("wrap")?)
            .with_arc_radius(value("arc_radius")?)
            .with_flipped(flag(&from.getattr("flipped")?, "evidence.source.flipped")?),
        time_unit: words("time_unit")?,
        separator: letter(given(from, "separator")?, "evidence.source.separator")?,
        decimal: letter(given(from, "decimal")?, "evidence.source.decimal")?,
        resolution: value("resolution")?,
        confidence: value("confidence")?,
    })
}

/// What stands in an attribute, unless it is None.
fn given<'py>(from: &Bound<'py, PyAny>, name: &str) -> PyResult<Option<Bound<'py, PyAny>>> {
    Ok(Some(from.getattr(name)?).filter(|value| !value.is_none()))
}

pub(crate) fn date_of(given: &Bound<'_, PyAny>, what: &str) -> PyResult<Date> {
    let py = given.py();
    let class = py.import("datetime")?.getattr("date")?;
    let date = || -> PyResult<Option<Date>> {
        if !given.is_instance(&class)? {
            return Ok(None);
        }
        let part = |name| given.getattr(name);
        Ok(Date::new(
            part("year")?.extract()?,
            part("month")?.extract()?,
            part("day")?.extract()?,
        ))
    };
    date()?.ok_or_else(|| {
        let sentence = format!("{what} is {}; give a datetime.date", kind_of(given));
        refuse::argument_at(py, Code::WrongType, &sentence, given)
    })
}

fn end_of(from: &Bound<'_, PyAny>, what: &str) -> PyResult<EndEvidence> {
    Ok(EndEvidence {
        kind: word_among(
            &from.getattr("kind")?,
            &format!("{what}.kind"),
            EvidenceKind::ALL,
            EvidenceKind::as_str,
        )?,
        at: number(&from.getattr("at")?, &format!("{what}.at"))?,
        short_at: maybe_number(given(from, "short_at")?.as_ref(), &format!("{what}.short_at"))?,
        u: maybe_number(given(from, "u")?.as_ref(), &format!("{what}.u"))?,
        guard: maybe_number(given(from, "guard")?.as_ref(), &format!("{what}.guard"))?,
    })
}

pub(crate) fn evidence_of(from: &Bound<'_, PyAny>) -> PyResult<Evidence> {
    let py = from.py();
    let class = py.import("elbowroom._robot")?.getattr("Evidence")?;
    if !from.is_instance(&class)? {
        let sentence = format!("evidence is {}; give Evidence(...)", kind_of(from));
        return Err(refuse::argument_at(py, Code::WrongType, &sentence, from));
    }
    let mut evidence = Evidence::default();
    for (key, field) in [("date", &mut evidence.date), ("sense_date", &mut evidence.sense_date)] {
        if let Some(date) = given(from, key)? {
            *field = Some(date_of(&date, &format!("evidence.{key}"))?);
        }
    }
    if let Some(sense) = given(from, "sense")? {
        evidence.sense = Some(word_of(&sense, "evidence.sense")?);
    }
    if let Some(lower) = given(from, "lower")? {
        evidence.lower = Some(end_of(&lower, "evidence.lower")?);
    }
    if let Some(upper) = given(from, "upper")? {
        evidence.upper = Some(end_of(&upper, "evidence.upper")?);
    }
    if let Some(lost) = given(from, "lost_motion")? {
        evidence.lost_motion = Some(LostMotionEvidence {
            value: number(&lost.getattr("value")?, "evidence.lost_motion.value")?,
            u: maybe_number(given(&lost, "u")?.as_ref(), "evidence.lost_motion.u")?,
        });
    }
    if let Some(readings) = given(from, "readings")? {
        evidence.readings = Some(whole(&readings, "evidence.readings", 0..=u32::MAX)?);
    }
    for (name, field) in [("by", &mut evidence.by), ("instrument", &mut evidence.instrument)] {
        if let Some(found) = given(from, name)? {
            *field = Some(text(&found, &format!("evidence.{name}"))?);
        }
    }
    for (name, field) in [
        ("supply_v", &mut evidence.supply_v),
        ("temperature_c", &mut evidence.temperature_c),
        ("map_off", &mut evidence.map_off),
    ] {
        *field = maybe_number(given(from, name)?.as_ref(), &format!("evidence.{name}"))?;
    }
    if let Some(source) = given(from, "source")? {
        evidence.source = Some(source_of(&source)?);
    }
    Ok(evidence)
}

pub(crate) fn finding<'py>(py: Python<'py>, finding: &Finding) -> PyResult<Bound<'py, PyAny>> {
    record_of!(py, "Finding", {
        severity: finding.severity.as_str(), rule: finding.rule.name(), joint: finding.joint.as_deref(),
        line: finding.line, message: &finding.message, hint: &finding.hint,
    })
}

/// Every rule as (name, severity, what it protects, an example that breaks it).
#[pyfunction]
pub(crate) fn rules() -> Vec<(&'static str, &'static str, &'static str, &'static str)> {
    Rule::ALL
        .iter()
        .map(|rule| (rule.name(), rule.severity().as_str(), rule.protects(), rule.broken_by()))
        .collect()
}
