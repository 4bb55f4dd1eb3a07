//! Joints in other forms: in single precision, as dicts with the keys of a robot file, as blocks for firmware.

use elbowroom::block::{Block, BlockError};
use elbowroom::robot::{FileError, FileFault, read_feedback, read_transmission};
use elbowroom::{Code, FeedbackRecord, TransmissionRecord};
use pyo3::prelude::*;
use pyo3::types::{PyByteArray, PyBytes, PyDict};

use crate::files::file_error;
use crate::joint::Joint;
use crate::numbers::{kind_of, whole};
use crate::pulse::hash_of;
use crate::refuse;

/// A part of a joint that a dict with the keys of a robot file gives.
pub(crate) trait Part: Sized {
    /// Its key in a robot file.
    const KEY: &'static str;

    /// The core's own reader, and its sentences.
    fn read(text: &str) -> Result<Self, FileError>;
}

impl Part for TransmissionRecord<f64> {
    const KEY: &'static str = "transmission";

    fn read(text: &str) -> Result<Self, FileError> {
        read_transmission(text)
    }
}

impl Part for FeedbackRecord<f64> {
    const KEY: &'static str = "feedback";

    fn read(text: &str) -> Result<Self, FileError> {
        read_feedback(text)
    }
}

/// A record of the core from a dict with the keys of a robot file.
pub(crate) fn written<R: Part>(given: &Bound<'_, PyAny>, what: &str, example: &str) -> PyResult<R> {
    let py = given.py();
    if !given.is_instance_of::<PyDict>() {
        let sentence = format!("{what} is {}; give a dict, e.g. {example}", kind_of(given));
        return Err(refuse::argument_at(py, Code::WrongType, &sentence, given));
    }
    let text = py
        .import("elbowroom._bring_in")?
        .call_method1("exact", (given, what))?
        .extract::<String>()?;
    R::read(&format!("{} = {text}", R::KEY)).map_err(|error| {
        // The key, and what stands there; an example as a dict, since no file is read.
        let sentence = match error.fault() {
            FileFault::MissingKey { key, .. } => format!("{what}: {key} is missing; give e.g. {example}"),
            FileFault::WrongType { key, found, .. } => format!("{what}: {key} is {found}; give e.g. {example}"),
            fault => format!("{what}: {fault}"),
        };
        refuse::argument_at(py, error.code(), &sentence, given)
    })
}

/// A record of the core as a dict with the keys of a robot file.
pub(crate) fn as_dict<'py>(py: Python<'py>, record: &impl serde::Serialize) -> PyResult<Bound<'py, PyAny>> {
    py.import("json")?
        .call_method1("loads", (crate::fit::json(py, record)?,))
}

/// The keyword arguments that make an equal joint.
pub(crate) fn keywords<'py>(py: Python<'py>, joint: &Joint) -> PyResult<Bound<'py, PyDict>> {
    let record = joint.both.wide.record();
    let both = |ends: [f64; 2]| (ends[0], ends[1]);
    let fields = PyDict::new(py);
    fields.set_item("command", both(record.command))?;
    fields.set_item("drive", both(record.drive))?;
    if record.inverted {
        fields.set_item("inverted", true)?;
    }
    if let Some(travel) = record.travel.filter(|travel| *travel != record.drive) {
        fields.set_item("travel", both(travel))?;
    }
    fields.set_item("rest", record.rest)?;
    if let Some(max_rate_per_s) = record.max_rate_per_s {
        fields.set_item("max_rate_per_s", max_rate_per_s)?;
    }
    fields.set_item("servo", joint.servo(py)?)?;
    fields.set_item("timer", joint.timer(py)?)?;
    if !record.transmission.is_linear() {
        fields.set_item("transmission", as_dict(py, &record.transmission)?)?;
    }
    if let Some(feedback) = &record.feedback {
        fields.set_item("feedback", as_dict(py, feedback)?)?;
    }
    Ok(fields)
}

/// How a command becomes a drive angle, from a dict.
pub(crate) fn transmission_of(given: &Bound<'_, PyAny>) -> PyResult<TransmissionRecord<f64>> {
    written(
        given,
        "transmission",
        "{'kind': 'spool', 'drum': 9.0, 'per_turn': 0.0, 'pulley': 30.0}",
    )
}

/// How a reading becomes a joint angle, from a dict.
pub(crate) fn feedback_of(given: &Bound<'_, PyAny>) -> PyResult<FeedbackRecord<f64>> {
    written(
        given,
        "feedback",
        "{'reading': [212, 871], 'angle': [0, 95], 'adc_bits': 10}",
    )
}

/// Equal joints hash alike.
pub(crate) fn hash_of_joint(joint: &Joint) -> u64 {
    let record = joint.both.wide.record();
    let numbers = [
        record.command,
        record.drive,
        record.travel.unwrap_or(record.drive),
        record.servo.angle,
        record.servo.pulse_us,
    ];
    let rest = (
        &joint.name,
        record.inverted,
        record.timer.counts_per_frame,
        record.rest.to_bits(),
        record.transmission.kind(),
    );
    hash_of(&numbers.concat(), rest)
}

/// The call that makes an equal joint.
pub(crate) fn repr_of_joint(py: Python<'_>, joint: &Joint) -> PyResult<String> {
    let mut shown = vec![joint.name.as_str().into_pyobject(py)?.repr()?.to_string()];
    for (key, value) in keywords(py, joint)? {
        shown.push(format!("{key}={}", value.repr()?));
    }
    Ok(format!("Joint({})", shown.join(", ")))
}

/// A joint in single precision, as firmware has it: it keeps to the counts of the `f64` joint.
///
/// What a block cannot hold (a mechanism, a bent feedback) is rounded number by number.
pub(crate) fn narrowed(wide: &elbowroom::Joint<f64>) -> Result<elbowroom::Joint<f32>, elbowroom::JointError> {
    match wide.to_f32(0) {
        Ok(narrow) => Ok(narrow),
        Err(BlockError::Joint { error, .. }) => Err(error),
        Err(_) => elbowroom::Joint::new(wide.record().map(|x| x as f32)),
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

/// The bytes of a block.
pub(crate) fn image_of(given: &Bound<'_, PyAny>) -> PyResult<Vec<u8>> {
    if let Ok(bytes) = given.cast::<PyBytes>() {
        return Ok(bytes.as_bytes().to_vec());
    }
    if let Ok(bytes) = given.cast::<PyByteArray>() {
        return Ok(bytes.to_vec());
    }
    let sentence = format!("image is {}; give the bytes of a block", kind_of(given));
    Err(refuse::argument_at(given.py(), Code::WrongType, &sentence, given))
}

/// A block, checked whole.
pub(crate) fn block_of<'i>(py: Python<'_>, image: &'i [u8]) -> PyResult<Block<&'i [u8]>> {
    Block::new(image).map_err(|error| no_block(py, None, error.code(), &error.to_string()))
}

/// A joint of a block: in double precision the block's numbers, in single precision the block's own bits.
pub(crate) fn joint_of_block(
    py: Python<'_>,
    image: &[u8],
    channel: Option<u16>,
    name: Option<String>,
) -> PyResult<Joint> {
    let refused = |error: BlockError| no_block(py, None, error.code(), &error.to_string());
    let block = block_of(py, image)?;
    let only = (block.joints() == 1).then(|| block.channel(0)).flatten();
    let channel = match (channel.or(only), block.joints()) {
        (Some(channel), _) => channel,
        (None, joints) => {
            let channels: Vec<_> = (0..joints).filter_map(|index| block.channel(index)).collect();
            let sentence = format!("the block holds {joints} joints; give channel, one of {channels:?}");
            return Err(refuse::argument(py, Code::MissingKey, &sentence));
        }
    };
    let narrow = block
        .joint(channel)
        .and_then(|joint| joint.to_joint())
        .map_err(refused)?;
    let called = format!("channel_{channel}");
    let robot = elbowroom::robot::Robot::from_block("block", &block).map_err(|error| file_error(py, &error))?;
    let entry = robot.expect_joint(&called).map_err(|error| file_error(py, &error))?;
    let mut joint = Joint::from_checked(name.unwrap_or(called), entry.joint().clone());
    joint.both.narrow = Ok(narrow);
    Ok(joint)
}
