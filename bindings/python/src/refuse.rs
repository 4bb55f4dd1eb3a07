//! Refusals as Python exceptions: the classes are written in Python, their sentences and codes come from the core.

use elbowroom::fit::FitError;
use elbowroom::linkage::LinkageError;
use elbowroom::{Code, ConvertError, FeedbackError, JointError};
use pyo3::prelude::*;
use pyo3::sync::PyOnceLock;
use pyo3::types::PyDict;

/// What an exception carries beside its sentence.
#[derive(Default)]
pub(crate) struct Place<'a> {
    pub(crate) joint: Option<&'a str>,
    pub(crate) index: Option<usize>,
    /// How many elements of `out` were written before the refused one.
    pub(crate) written: usize,
}

impl<'a> Place<'a> {
    /// At a joint, if it has a name.
    pub(crate) fn of(joint: Option<&'a str>) -> Self {
        Self {
            joint,
            ..Self::default()
        }
    }
}

/// Makes an exception of `elbowroom.<class>`.
pub(crate) fn exception<'py>(
    py: Python<'py>,
    class: &str,
    code: Code,
    sentence: &str,
    value: impl IntoPyObject<'py>,
    place: Place<'_>,
) -> PyErr {
    static ERRORS: PyOnceLock<Py<PyModule>> = PyOnceLock::new();
    let made = || -> PyResult<PyErr> {
        let errors = ERRORS.get_or_try_init(py, || py.import("elbowroom._errors").map(Bound::unbind))?;
        let fields = PyDict::new(py);
        fields.set_item("code", code.name())?;
        fields.set_item("joint", place.joint)?;
        fields.set_item("index", place.index)?;
        fields.set_item("value", value)?;
        fields.set_item("written", place.written)?;
        let class = errors.bind(py).getattr(class)?;
        Ok(PyErr::from_value(class.call((sentence,), Some(&fields))?))
    };
    made().unwrap_or_else(|error| error)
}

/// An argument that is not a real number or an array of them, or of the wrong shape.
pub(crate) fn argument(py: Python<'_>, code: Code, sentence: &str) -> PyErr {
    argument_at(py, code, sentence, py.None().bind(py))
}

/// The same, for a certain element.
pub(crate) fn argument_at(py: Python<'_>, code: Code, sentence: &str, value: &Bound<'_, PyAny>) -> PyErr {
    let class = if code == Code::WrongType {
        "ArgumentTypeError"
    } else {
        "ArgumentError"
    };
    exception(py, class, code, sentence, value, Place::default())
}

/// A refused joint, or a part of one.
pub(crate) fn joint(py: Python<'_>, name: Option<&str>, error: &JointError) -> PyErr {
    let value = match *error {
        JointError::NotFinite { value, .. }
        | JointError::NotPositive { value, .. }
        | JointError::OutsideServo { value, .. } => Value::One(value),
        JointError::EndsSwapped { lower, upper, .. } | JointError::NoCountInTravel { lower, upper, .. } => {
            Value::Two((lower, upper))
        }
        JointError::ZeroWidth { at, .. } => Value::Two((at, at)),
        JointError::RestOutside { rest, .. } => Value::One(rest),
        JointError::TravelDisjoint {
            travel_lower,
            travel_upper,
            ..
        } => Value::Two((travel_lower, travel_upper)),
        JointError::CountsOutside { counts_per_frame, .. } => Value::Whole(counts_per_frame.into()),
        JointError::FrameRateExtreme { frame_hz } => Value::One(frame_hz),
        JointError::PulseBeyondFrame { pulse_us, .. } => Value::One(pulse_us),
        JointError::PulseInMilliseconds {
            pulse_us: [lower, upper],
        } => Value::Two((lower, upper)),
        JointError::Linkage(ref error) => linkage_value(error),
        JointError::Feedback(ref error) => feedback_value(error),
        _ => Value::None(None),
    };
    exception(
        py,
        "JointError",
        error.code(),
        &error.to_string(),
        value,
        Place::of(name),
    )
}

/// A refused fit.
pub(crate) fn fit(py: Python<'_>, error: &FitError) -> PyErr {
    let mut place = Place::default();
    let value = match *error {
        FitError::NotFinite { index, value, .. }
        | FitError::TooLarge { index, value, .. }
        | FitError::NotPositive { index, value, .. }
        | FitError::OutOfReach { index, value } => {
            place.index = Some(index);
            Value::One(value)
        }
        FitError::LengthMismatch { given: count, .. }
        | FitError::TooFewReadings { given: count, .. }
        | FitError::NoAgreement { agree: count, .. } => Value::Whole(count as u64),
        FitError::DriveAnglesEqual { lower, upper, .. } => Value::Two((lower, upper)),
        FitError::NoMotion { low, high, .. } => Value::Two((low, high)),
        FitError::TurnsBack { at, .. } => Value::One(at),
        FitError::InMotion { ratio } => Value::One(ratio),
        FitError::Moving { speed, .. } => Value::One(speed),
        FitError::OptionOutside { value, .. } => Value::One(value),
        FitError::Linkage(ref error) => linkage_value(error),
        _ => Value::None(None),
    };
    exception(py, "FitError", error.code(), &error.to_string(), value, place)
}

/// A block that cannot be made or read.
pub(crate) fn block(py: Python<'_>, name: Option<&str>, code: Code, sentence: &str) -> PyErr {
    exception(py, "BlockError", code, sentence, py.None(), Place::of(name))
}

/// One number or two, or nothing, as Python has it.
#[derive(IntoPyObject)]
enum Value {
    One(f64),
    Two((f64, f64)),
    Whole(u64),
    None(Option<f64>),
}

/// What a mechanism refused: a dimension, a command, or a command range.
fn linkage_value(error: &LinkageError) -> Value {
    match *error {
        LinkageError::NotFinite { value, .. } | LinkageError::NotPositive { value, .. } => Value::One(value),
        LinkageError::OutOfReach { command, .. }
        | LinkageError::DeadCentreNear { command, .. }
        | LinkageError::Insensitive { command, .. } => Value::One(command),
        LinkageError::DeadCentreInside { lower, upper, .. } => Value::Two((lower, upper)),
        _ => Value::None(None),
    }
}

/// What a feedback map refused: a reading, or its readings.
fn feedback_value(error: &FeedbackError) -> Value {
    match *error {
        FeedbackError::ReadingOutside { value, .. } => Value::One(value),
        FeedbackError::WrapInside { lower, upper, .. }
        | FeedbackError::WrapPossible { lower, upper, .. }
        | FeedbackError::WrapInvalid { lower, upper, .. } => Value::Two((lower, upper)),
        _ => Value::None(None),
    }
}

/// A number that a valid joint refused.
///
/// `written`: how many results stand in an array that the caller has; None where the caller has none.
pub(crate) fn convert(py: Python<'_>, name: Option<&str>, error: &ConvertError, written: Option<usize>) -> PyErr {
    let place = |index| Place {
        joint: name,
        index,
        written: written.unwrap_or(0),
    };
    // Without such an array nothing is kept.
    if let (ConvertError::NotFiniteAt { index, value }, None) = (error, written) {
        let one = ConvertError::NotFinite { value: *value }.to_string();
        let sentence = one.replacen("the command is", &format!("the command at index {index} is"), 1);
        return exception(py, "ConvertError", error.code(), &sentence, *value, place(Some(*index)));
    }
    let (index, value) = match *error {
        ConvertError::NotFinite { value } | ConvertError::RowsHz { value } => (None, Value::One(value)),
        ConvertError::NotFiniteAt { index, value } => (Some(index), Value::One(value)),
        ConvertError::CountTooWide { count, .. } => (None, Value::Whole(count.into())),
        _ => (None, Value::None(None)),
    };
    exception(
        py,
        "ConvertError",
        error.code(),
        &error.to_string(),
        value,
        place(index),
    )
}
