//! Refusals as Python exceptions: the classes are written in Python, their sentences and codes come from the core.

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
    let class = if code == Code::WrongType {
        "ArgumentTypeError"
    } else {
        "ArgumentError"
    };
    exception(py, class, code, sentence, py.None(), Place::default())
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
    let place = Place {
        joint: name,
        ..Place::default()
    };
    let (code, sentence) = (error.code(), error.to_string());
    match *error {
        JointError::NotFinite { value, .. }
        | JointError::NotPositive { value, .. }
        | JointError::OutsideServo { value, .. } => exception(py, "JointError", code, &sentence, value, place),
        JointError::EndsSwapped { lower, upper, .. } => {
            exception(py, "JointError", code, &sentence, (lower, upper), place)
        }
        JointError::ZeroWidth { at, .. } => exception(py, "JointError", code, &sentence, (at, at), place),
        JointError::RestOutside { rest, .. } => exception(py, "JointError", code, &sentence, rest, place),
        JointError::TravelDisjoint {
            travel_lower,
            travel_upper,
            ..
        } => exception(py, "JointError", code, &sentence, (travel_lower, travel_upper), place),
        JointError::CountsOutside { counts_per_frame, .. } => {
            exception(py, "JointError", code, &sentence, counts_per_frame, place)
        }
        JointError::FrameRateExtreme { frame_hz } => exception(py, "JointError", code, &sentence, frame_hz, place),
        JointError::PulseBeyondFrame { pulse_us, .. } => exception(py, "JointError", code, &sentence, pulse_us, place),
        JointError::NoCountInTravel { lower, upper, .. } => {
            exception(py, "JointError", code, &sentence, (lower, upper), place)
        }
        JointError::PulseInMilliseconds {
            pulse_us: [lower, upper],
        } => exception(py, "JointError", code, &sentence, (lower, upper), place),
        JointError::Linkage(ref error) => exception(py, "JointError", code, &sentence, linkage_value(error), place),
        JointError::Feedback(ref error) => exception(py, "JointError", code, &sentence, feedback_value(error), place),
        _ => exception(py, "JointError", code, &sentence, py.None(), place),
    }
}

/// One number or two, or nothing, as Python has it.
#[derive(IntoPyObject)]
pub(crate) enum Value {
    One(f64),
    Two((f64, f64)),
    None(Option<f64>),
}

/// What a mechanism refused: a dimension, a command, or a command range.
pub(crate) fn linkage_value(error: &LinkageError) -> Value {
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
    let (code, sentence) = (error.code(), error.to_string());
    match *error {
        ConvertError::NotFinite { value } => exception(py, "ConvertError", code, &sentence, value, place(None)),
        ConvertError::NotFiniteAt { index, value } => {
            exception(py, "ConvertError", code, &sentence, value, place(Some(index)))
        }
        ConvertError::CountTooWide { count, .. } => exception(py, "ConvertError", code, &sentence, count, place(None)),
        _ => exception(py, "ConvertError", code, &sentence, py.None(), place(None)),
    }
}
