//! Evidence, findings and rules, to and from the frozen records of the Python half.

use elbowroom::Code;
use elbowroom::bring_up::LoopSense;
use elbowroom::robot::{Date, EndEvidence, Evidence, EvidenceKind, Finding, LostMotionEvidence, Rule};
use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::numbers::{kind_of, maybe_number, number, text, whole};
use crate::refuse;

/// The words that a robot file may say.
const SENSES: [LoopSense; 3] = [LoopSense::Opposing, LoopSense::Aiding, LoopSense::Undetermined];

/// A class of the Python half.
pub(crate) fn record<'py>(py: Python<'py>, class: &str, fields: &Bound<'py, PyDict>) -> PyResult<Bound<'py, PyAny>> {
    py.import("elbowroom._robot")?.getattr(class)?.call((), Some(fields))
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
    if let Some(date) = evidence.date {
        let class = py.import("datetime")?.getattr("date")?;
        fields.set_item("date", class.call1((date.year(), date.month(), date.day()))?)?;
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
    record(py, "Evidence", &fields)
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
    if let Some(date) = given(from, "date")? {
        evidence.date = Some(date_of(&date, "evidence.date")?);
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
