//! Fitted feedback maps: columns in, the map out as JSON, from which the Python half makes its frozen dataclass.

use elbowroom::Code;
use elbowroom::curve::{Curve, CurveError};
use elbowroom::fit::{FeedbackFit, fit_feedback};
use elbowroom::robot::EntryRecord;
use pyo3::prelude::*;

use crate::arrays::column;
use crate::fit::{fit_error, json};
use crate::joint::Joint;
use crate::numbers::{pair, part, whole};
use crate::refuse;
use crate::transmission::{most, over, read};

/// The compiled half of `elbowroom.fit_feedback`.
#[pyfunction]
#[pyo3(signature = (reading, angle, *, most_knots))]
pub(crate) fn feedback_fit(
    py: Python<'_>,
    reading: &Bound<'_, PyAny>,
    angle: &Bound<'_, PyAny>,
    most_knots: &Bound<'_, PyAny>,
) -> PyResult<String> {
    let (reading, angle) = (column(reading, "reading")?, column(angle, "angle")?);
    let most = most(most_knots)?;
    let found = py.detach(|| fit_feedback(&reading, &angle, most));
    json(py, &found.map_err(|error| fit_error(py, &error))?)
}

/// The compiled half of `FeedbackFit.warnings`: a sentence for each reading that lies far off the map.
#[pyfunction]
pub(crate) fn feedback_far_off(
    py: Python<'_>,
    record: &str,
    reading: &Bound<'_, PyAny>,
    angle: &Bound<'_, PyAny>,
) -> PyResult<Vec<String>> {
    let fit: FeedbackFit = read(py, record)?;
    let (reading, angle) = (column(reading, "reading")?, column(angle, "angle")?);
    let far = fit.far_off(&reading, &angle);
    Ok(far.iter().map(|one| format!("index {}: {one}", one.index)).collect())
}

/// The compiled half of `FeedbackFit.expected`.
#[pyfunction]
pub(crate) fn feedback_expected<'py>(
    py: Python<'py>,
    record: &str,
    reading: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let fit: FeedbackFit = read(py, record)?;
    let curve: Curve<f64> = fit.curve().map_err(|error: CurveError| {
        let sentence = format!("this is not a record of a fit: {error}");
        refuse::argument(py, error.code(), &sentence)
    })?;
    over(py, reading, "reading", |x| curve.at(x))
}

/// The compiled half of `FeedbackFit.feedback`, as JSON.
#[pyfunction]
#[pyo3(signature = (record, angle, adc_bits=None))]
pub(crate) fn feedback_record(
    py: Python<'_>,
    record: &str,
    angle: &Bound<'_, PyAny>,
    adc_bits: Option<&Bound<'_, PyAny>>,
) -> PyResult<String> {
    let fit: FeedbackFit = read(py, record)?;
    let made = fit.record(pair(angle, "angle")?);
    let mut made = made.map_err(|error| fit_error(py, &error))?;
    made.adc_bits = bits(adc_bits)?;
    json(py, &made)
}

/// The compiled half of `FeedbackFit.apply_to`.
#[pyfunction]
#[pyo3(signature = (record, joint, angle=None, adc_bits=None))]
pub(crate) fn feedback_apply(
    py: Python<'_>,
    record: &str,
    joint: &Bound<'_, PyAny>,
    angle: Option<&Bound<'_, PyAny>>,
    adc_bits: Option<&Bound<'_, PyAny>>,
) -> PyResult<Joint> {
    let fit: FeedbackFit = read(py, record)?;
    let angle = angle.map(|angle| pair(angle, "angle")).transpose()?;
    let joint = part::<Joint>(joint, "joint", "Joint(...)")?.get();
    let mut entry = EntryRecord::new(&joint.name, joint.both.wide.record());
    entry
        .apply_feedback(&fit, angle)
        .map_err(|error| fit_error(py, &error))?;
    if let (Some(feedback), Some(bits)) = (&mut entry.joint.feedback, bits(adc_bits)?) {
        feedback.adc_bits = Some(bits);
    }
    Joint::of(joint.name.clone(), entry.joint).map_err(|error| refuse::joint(py, Some(&joint.name), &error))
}

/// Bits of a converter.
fn bits(given: Option<&Bound<'_, PyAny>>) -> PyResult<Option<u8>> {
    let Some(given) = given else { return Ok(None) };
    match u8::try_from(whole(given, "adc_bits")?) {
        Ok(bits @ 1..=24) => Ok(Some(bits)),
        _ => {
            let sentence = format!("adc_bits is {given}; it must be 1 to 24");
            Err(refuse::argument_at(given.py(), Code::OptionOutside, &sentence, given))
        }
    }
}
