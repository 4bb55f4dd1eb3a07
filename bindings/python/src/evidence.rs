//! Evidence, findings and rules, to and from the frozen records of the Python half.

use elbowroom::Code;
use elbowroom::bring_up::LoopSense;
use elbowroom::robot::{
    Date, DriveUnit, EndEvidence, Evidence, EvidenceKind, Finding, LostMotionEvidence, MeasuredAs, Rule, Source,
};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use crate::numbers::{flag, kind_of, maybe_number, number, text, whole};
use crate::refuse;

/// The words that a robot file may say.
const SENSES: [LoopSense; 3] = [LoopSense::Opposing, LoopSense::Aiding, LoopSense::Undetermined];

/// A class of the Python half.
pub(crate) fn record<'py>(py: Python<'py>, class: &str, fields: &Bound<'py, PyDict>) -> PyResult<Bound<'py, PyAny>> {
    py.import("elbowroom")?.getattr(class)?.call((), Some(fields))
}

fn end<'py>(py: Python<'py>, end: Option<EndEvidence>) -> PyResult<Option<Bound<'py, PyAny>>> {
    let Some(end) = end else { return Ok(None) };
    let fields = PyDict::new(py);
    fields.set_item("kind", end.kind.as_str())?;
    fields.set_item("at", end.at)?;
    fields.set_item("short_at", end.short_at)?;
    fields.set_item("u", end.u)?;
    fields.set_item("guard", end.guard)?;
    record(py, "EndEvidence", &fields).map(Some)
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
        let inner = PyDict::new(py);
        inner.set_item("value", lost.value)?;
        inner.set_item("u", lost.u)?;
        fields.set_item("lost_motion", record(py, "LostMotionEvidence", &inner)?)?;
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
    let fields = PyDict::new(py);
    fields.set_item("file", &source.file)?;
    fields.set_item("sha256", &source.sha256)?;
    fields.set_item("rows", PyTuple::new(py, &source.rows)?)?;
    fields.set_item("columns", PyTuple::new(py, &source.columns)?)?;
    fields.set_item("drive_unit", source.drive_unit.as_str())?;
    fields.set_item("measured_unit", &source.measured_unit)?;
    fields.set_item("wrap", source.measured_as.wrap)?;
    fields.set_item("arc_radius", source.measured_as.arc_radius)?;
    fields.set_item("flipped", source.measured_as.flipped)?;
    fields.set_item("time_unit", &source.time_unit)?;
    fields.set_item("separator", source.separator)?;
    fields.set_item("decimal", source.decimal)?;
    fields.set_item("resolution", source.resolution)?;
    fields.set_item("confidence", source.confidence)?;
    record(py, "Source", &fields)
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
        drive_unit: word(
            &from.getattr("drive_unit")?,
            "evidence.source.drive_unit",
            &DriveUnit::ALL,
            DriveUnit::as_str,
        )?,
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

/// One of a few words.
fn word<T: Copy>(given: &Bound<'_, PyAny>, what: &str, all: &[T], as_str: fn(T) -> &'static str) -> PyResult<T> {
    let found = text(given, what)?;
    all.iter().copied().find(|one| as_str(*one) == found).ok_or_else(|| {
        let known: Vec<&str> = all.iter().map(|one| as_str(*one)).collect();
        let sentence = format!("{what} is \"{found}\"; give one of {}", known.join(", "));
        refuse::argument_at(given.py(), Code::UnknownWord, &sentence, given)
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
        kind: word(
            &from.getattr("kind")?,
            &format!("{what}.kind"),
            &EvidenceKind::ALL,
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
        evidence.sense = Some(word(&sense, "evidence.sense", &SENSES, LoopSense::as_str)?);
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
        evidence.readings = Some(whole(&readings, "evidence.readings")?);
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
    let fields = PyDict::new(py);
    fields.set_item("severity", finding.severity.as_str())?;
    fields.set_item("rule", finding.rule.name())?;
    fields.set_item("joint", finding.joint.as_deref())?;
    fields.set_item("line", finding.line)?;
    fields.set_item("message", &finding.message)?;
    fields.set_item("hint", &finding.hint)?;
    record(py, "Finding", &fields)
}

/// Every rule as (name, severity, what it protects, an example that breaks it).
#[pyfunction]
pub(crate) fn rules() -> Vec<(&'static str, &'static str, &'static str, &'static str)> {
    Rule::ALL
        .iter()
        .map(|rule| (rule.name(), rule.severity().as_str(), rule.protects(), rule.broken_by()))
        .collect()
}
