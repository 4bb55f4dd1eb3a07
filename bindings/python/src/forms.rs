//! Joints in other forms: in single precision, as dicts with the keys of a robot file, as blocks for firmware.

use elbowroom::block::BlockError;
use elbowroom::{Code, JointRecord, TimerRecord};
use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::numbers::{kind_of, whole};
use crate::pulse::narrow_servo;
use crate::refuse;

/// The same numbers, each rounded to the nearest `f32`.
fn narrow_joint(record: &JointRecord<f64>) -> JointRecord<f32> {
    let timer = TimerRecord {
        frame_hz: record.timer.frame_hz as f32,
        counts: record.timer.counts,
    };
    let mut narrow = JointRecord::new(
        record.command.map(|x| x as f32),
        record.drive.map(|x| x as f32),
        record.rest as f32,
        narrow_servo(record.servo),
        timer,
    );
    narrow.inverted = record.inverted;
    narrow.travel = record.travel.map(|travel| travel.map(|x| x as f32));
    narrow.rate_per_s = record.rate_per_s.map(|x| x as f32);
    // Through their written form: every number goes to the nearest f32, whatever the kind.
    if !record.transmission.is_linear() {
        let text = serde_json::to_string(&record.transmission);
        narrow.transmission = text.and_then(|text| serde_json::from_str(&text)).unwrap_or_default();
    }
    let text = serde_json::to_string(&record.feedback);
    narrow.feedback = text.and_then(|text| serde_json::from_str(&text)).unwrap_or_default();
    narrow
}

/// A record of the core from a dict with the keys of a robot file.
pub(crate) fn written<R: serde::de::DeserializeOwned>(
    given: &Bound<'_, PyAny>,
    what: &str,
    example: &str,
) -> PyResult<R> {
    let py = given.py();
    let wrong = |why: &dyn std::fmt::Display| {
        let sentence = format!("{what} is not understood: {why}; give e.g. {example}");
        refuse::argument_at(py, Code::WrongType, &sentence, given)
    };
    if !given.is_instance_of::<PyDict>() {
        return Err(wrong(&format!("it is {}", kind_of(given))));
    }
    let options = PyDict::new(py);
    options.set_item("allow_nan", false)?;
    let text = py
        .import("json")?
        .call_method("dumps", (given,), Some(&options))
        .map_err(|error| wrong(&error.value(py)))?;
    serde_json::from_str(&text.extract::<String>()?).map_err(|error| wrong(&error))
}

/// A record of the core as a dict with the keys of a robot file.
pub(crate) fn as_dict<'py>(py: Python<'py>, record: &impl serde::Serialize) -> PyResult<Bound<'py, PyAny>> {
    py.import("json")?
        .call_method1("loads", (crate::fit::json(py, record)?,))
}

/// A joint in single precision, as firmware has it: it keeps to the counts of the `f64` joint.
///
/// What a block cannot hold (a mechanism, a bent feedback) is rounded number by number.
pub(crate) fn narrowed(wide: &elbowroom::Joint<f64>) -> Result<elbowroom::Joint<f32>, elbowroom::JointError> {
    match wide.to_f32(0) {
        Ok(narrow) => Ok(narrow),
        Err(BlockError::Joint { error, .. }) => Err(error),
        Err(_) => elbowroom::Joint::new(narrow_joint(&wide.record())),
    }
}

/// Refuses to make a block.
pub(crate) fn no_block(py: Python<'_>, joint: Option<&str>, code: Code, sentence: &str) -> PyErr {
    let place = refuse::Place {
        joint,
        ..refuse::Place::default()
    };
    refuse::exception(py, "BlockError", code, sentence, py.None(), place)
}

/// An output of a board.
pub(crate) fn channel_of(given: &Bound<'_, PyAny>) -> PyResult<u16> {
    let found = whole(given, "channel")?;
    u16::try_from(found).map_err(|_| {
        let sentence = format!("channel is {found}; give a whole number from 0 to {}", u16::MAX);
        refuse::argument_at(given.py(), Code::OptionOutside, &sentence, given)
    })
}
