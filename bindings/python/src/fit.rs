//! Fitting: columns in; fits out as they are, comparisons as JSON from which the Python half makes its frozen dataclasses.

use elbowroom::Code;
use elbowroom::fit::{Approach, CompareOptions, ContactMark, FitError, FitOptions, Readings, Run};
use pyo3::prelude::*;

use crate::arrays::column;
use crate::fitted::Columns;
use crate::limit_fit::{LimitFit, said};
use crate::numbers::{maybe_number, part};
use crate::refuse::{self, Place};

/// Turns a result of the core into JSON; Python's reader gives every float back bit for bit.
pub(crate) fn json(py: Python<'_>, result: &impl serde::Serialize) -> PyResult<String> {
    serde_json::to_string(result).map_err(|error| refuse::argument(py, Code::Other, &error.to_string()))
}

/// A refused fit.
pub(crate) fn fit_error(py: Python<'_>, error: &FitError) -> PyErr {
    let (code, sentence) = (error.code(), error.to_string());
    let at = |index, value: f64| {
        let place = Place {
            index: Some(index),
            ..Place::default()
        };
        refuse::exception(py, "FitError", code, &sentence, value, place)
    };
    let whole = || Place::default();
    match *error {
        FitError::NotFinite { index, value, .. }
        | FitError::TooLarge { index, value, .. }
        | FitError::NotPositive { index, value, .. } => at(index, value),
        FitError::LengthMismatch { given, .. } | FitError::TooFewReadings { given, .. } => {
            refuse::exception(py, "FitError", code, &sentence, given, whole())
        }
        FitError::DriveAnglesEqual { lower, upper, .. } => {
            refuse::exception(py, "FitError", code, &sentence, (lower, upper), whole())
        }
        FitError::NoMotion { low, high, .. } => {
            refuse::exception(py, "FitError", code, &sentence, (low, high), whole())
        }
        FitError::NoAgreement { agree, .. } => refuse::exception(py, "FitError", code, &sentence, agree, whole()),
        FitError::InMotion { ratio } => refuse::exception(py, "FitError", code, &sentence, ratio, whole()),
        FitError::Moving { speed, .. } => refuse::exception(py, "FitError", code, &sentence, speed, whole()),
        FitError::OptionOutside { value, .. } => refuse::exception(py, "FitError", code, &sentence, value, whole()),
        FitError::OutOfReach { index, value } => at(index, value),
        FitError::Linkage(ref error) => {
            refuse::exception(py, "FitError", code, &sentence, refuse::linkage_value(error), whole())
        }
        _ => refuse::exception(py, "FitError", code, &sentence, py.None(), whole()),
    }
}

/// A column of words, each one of a few.
fn words<T>(
    given: &Bound<'_, PyAny>,
    what: &str,
    wanted: &str,
    of: impl Fn(&Bound<'_, PyAny>) -> Option<T>,
) -> PyResult<Vec<T>> {
    let py = given.py();
    if given.is_instance_of::<pyo3::types::PyString>() {
        let sentence = format!("{what} is one string; give a list with one of {wanted} for each reading");
        return Err(refuse::argument_at(py, Code::WrongType, &sentence, given));
    }
    let items = given.try_iter().map_err(|_| {
        let sentence = format!("{what} is {}; give a list of {wanted}", crate::numbers::kind_of(given));
        refuse::argument_at(py, Code::WrongType, &sentence, given)
    })?;
    items
        .enumerate()
        .map(|(index, item)| {
            let item = item?;
            of(&item).ok_or_else(|| {
                let shown = item.repr().map(|shown| shown.to_string()).unwrap_or_default();
                let sentence = format!("{what}[{index}] is {shown}; give one of {wanted}");
                refuse::argument_at(py, Code::WrongType, &sentence, &item)
            })
        })
        .collect()
}

/// From which side a position was reached; a gap (None, NaN, an empty word) is unknown.
fn approach_of(item: &Bound<'_, PyAny>) -> Option<Approach> {
    if let Ok(word) = item.extract::<String>() {
        return match word.as_str() {
            "below" => Some(Approach::Below),
            "above" => Some(Approach::Above),
            "unknown" | "" => Some(Approach::Unknown),
            _ => None,
        };
    }
    is_gap(item).then_some(Approach::Unknown)
}

/// From which side each position was reached, if that is given.
pub(crate) fn approaches(given: Option<&Bound<'_, PyAny>>) -> PyResult<Option<Vec<Approach>>> {
    given
        .map(|given| words(given, "approach", "'below', 'above', None", approach_of))
        .transpose()
}

/// Contact noted by hand; a gap is not a contact.
fn contact_of(item: &Bound<'_, PyAny>) -> Option<ContactMark> {
    if let Ok(word) = item.extract::<String>() {
        return match word.as_str() {
            "lower" => Some(ContactMark::Lower),
            "upper" => Some(ContactMark::Upper),
            "here" => Some(ContactMark::Here),
            "none" | "" => Some(ContactMark::None),
            _ => None,
        };
    }
    match item.extract::<bool>() {
        Ok(true) => Some(ContactMark::Here),
        Ok(false) => Some(ContactMark::None),
        Err(_) => is_gap(item).then_some(ContactMark::None),
    }
}

/// How tables write "nothing here": None, NaN, or pandas' NA.
fn is_gap(item: &Bound<'_, PyAny>) -> bool {
    item.is_none()
        || item.extract::<f64>().is_ok_and(f64::is_nan)
        || item.get_type().name().is_ok_and(|name| name == "NAType")
}

/// The compiled half of `elbowroom.fit_limits`.
#[pyfunction]
#[pyo3(signature = (drive, measured, *, approach=None, contact=None, u=None, time=None, resolution=None, guard=None, confidence=None))]
#[expect(clippy::too_many_arguments, reason = "the keywords of a fit, one each")]
pub(crate) fn fit_limits(
    py: Python<'_>,
    drive: &Bound<'_, PyAny>,
    measured: &Bound<'_, PyAny>,
    approach: Option<&Bound<'_, PyAny>>,
    contact: Option<&Bound<'_, PyAny>>,
    u: Option<&Bound<'_, PyAny>>,
    time: Option<&Bound<'_, PyAny>>,
    resolution: Option<&Bound<'_, PyAny>>,
    guard: Option<&Bound<'_, PyAny>>,
    confidence: Option<&Bound<'_, PyAny>>,
) -> PyResult<LimitFit> {
    let (drive, measured) = (column(drive, "drive")?, column(measured, "measured")?);
    let u = u.map(|u| column(u, "u")).transpose()?;
    let time = time.map(|time| column(time, "time")).transpose()?;
    let approach = approaches(approach)?;
    let contact = contact
        .map(|given| {
            words(
                given,
                "contact",
                "'lower', 'upper', 'here', None, or True and False",
                contact_of,
            )
        })
        .transpose()?;
    let mut options = FitOptions::default();
    if let Some(guard) = maybe_number(guard, "guard")? {
        options = options.with_guard(guard);
    }
    if let Some(confidence) = maybe_number(confidence, "confidence")? {
        options = options.with_confidence(confidence);
    }
    if let Some(resolution) = maybe_number(resolution, "resolution")? {
        options = options.with_resolution(resolution);
    }
    let fitted = py.detach(|| {
        let mut readings = Readings::new(&drive, &measured);
        readings.approach = approach.as_deref();
        readings.contact = contact.as_deref();
        readings.u = u.as_deref();
        readings.time = time.as_deref();
        elbowroom::fit::fit_limits(&readings, &options)
    });
    let fit = fitted.map_err(|error| fit_error(py, &error))?;
    Ok(LimitFit::with(fit, Columns::new(drive, measured, approach)))
}

/// The compiled half of `elbowroom.compare`: the comparison as JSON, whether it counts as a change, the sentences of its
/// diagnoses, and those of the earlier and the later fit's warnings.
#[pyfunction]
#[pyo3(signature = (old, new, *, smallest_drive=None, smallest_share=None))]
pub(crate) fn fit_compare(
    py: Python<'_>,
    old: &Bound<'_, PyAny>,
    new: &Bound<'_, PyAny>,
    smallest_drive: Option<&Bound<'_, PyAny>>,
    smallest_share: Option<&Bound<'_, PyAny>>,
) -> PyResult<String> {
    let mut options = CompareOptions::default();
    if let Some(smallest) = maybe_number(smallest_drive, "smallest_drive")? {
        options = options.with_smallest_drive(smallest);
    }
    if let Some(smallest) = maybe_number(smallest_share, "smallest_share")? {
        options = options.with_smallest_share(smallest);
    }
    let (old, new) = (limit_fit(old, "old")?, limit_fit(new, "new")?);
    let found = elbowroom::fit::compare(&old.fit, &new.fit, &options);
    let found = found.map_err(|error| fit_error(py, &error))?;
    let sentences: Vec<String> = found.diagnoses.iter().map(ToString::to_string).collect();
    let [old_said, new_said] = [&found.old_warnings, &found.new_warnings].map(|warnings| said(warnings));
    json(py, &(&found, found.is_changed(), sentences, old_said, new_said))
}

/// The compiled half of `elbowroom.positioning`: the result as JSON, and the numbers as they were read.
#[pyfunction]
pub(crate) fn positioning(py: Python<'_>, targets: &Bound<'_, PyAny>, runs: &Bound<'_, PyAny>) -> PyResult<String> {
    let targets = column(targets, "targets")?;
    let wrong = || {
        let sentence =
            "runs is not a list of (approach, positions); give e.g. [(\"below\", [...]), (\"above\", [...])]";
        refuse::argument_at(py, Code::WrongType, sentence, runs)
    };
    let mut read = Vec::new();
    for (index, run) in runs.try_iter().map_err(|_| wrong())?.enumerate() {
        let (approach, positions) = run?
            .extract::<(Bound<'_, PyAny>, Bound<'_, PyAny>)>()
            .map_err(|_| wrong())?;
        let approach = approach_of(&approach).ok_or_else(wrong)?;
        read.push((approach, column(&positions, &format!("runs[{index}]"))?));
    }
    let runs: Vec<Run<'_>> = read
        .iter()
        .map(|(approach, positions)| Run {
            approach: *approach,
            positions,
        })
        .collect();
    let found = elbowroom::fit::positioning(&targets, &runs).map_err(|error| fit_error(py, &error))?;
    json(py, &(&found, &read))
}

/// An argument that must be a fit of limits.
pub(crate) fn limit_fit<'a>(given: &'a Bound<'_, PyAny>, what: &str) -> PyResult<&'a LimitFit> {
    Ok(part::<LimitFit>(given, what, "a LimitFit")?.get())
}
