//! A joint in other forms: as the keywords that make it, from a block, and with a part of it changed.

use std::fmt::Write;

use elbowroom::Code;
use elbowroom::block::BlockError;
use elbowroom::robot::EntryRecord;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use super::Joint;
use crate::block::block_of;
use crate::files::file_error;
use crate::numbers::part;
use crate::pulse::hash_of;
use crate::records::as_dict;
use crate::refuse;

impl Joint {
    /// The joint with what a fit changes of it.
    pub(crate) fn changed(
        given: &Bound<'_, PyAny>,
        change: impl FnOnce(&mut EntryRecord) -> PyResult<()>,
    ) -> PyResult<Self> {
        let py = given.py();
        let joint = part::<Self>(given, "joint", "Joint(...)")?.get();
        let mut entry = EntryRecord::new(&joint.name, joint.both.wide.record());
        change(&mut entry)?;
        Self::of(joint.name.clone(), entry.joint).map_err(|error| refuse::joint(py, Some(&joint.name), &error))
    }

    /// The keyword arguments that make an equal joint.
    pub(super) fn keywords<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let record = self.both.wide.record();
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
        fields.set_item("servo", self.servo(py)?)?;
        fields.set_item("timer", self.timer(py)?)?;
        if !record.transmission.is_linear() {
            fields.set_item("transmission", as_dict(py, &record.transmission)?)?;
        }
        if let Some(feedback) = &record.feedback {
            fields.set_item("feedback", as_dict(py, feedback)?)?;
        }
        Ok(fields)
    }

    /// A joint of a block: in double precision the block's numbers, in single precision the block's own bits.
    pub(super) fn of_block(py: Python<'_>, image: &[u8], channel: Option<u16>, name: Option<String>) -> PyResult<Self> {
        let refused = |error: BlockError| refuse::block(py, None, error.code(), &error.to_string());
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
        let mut joint = Self::from_checked(name.unwrap_or(called), entry.joint().clone());
        joint.both.narrow = Ok(narrow);
        Ok(joint)
    }
}

#[pymethods]
impl Joint {
    fn __eq__(&self, other: &Self) -> bool {
        self.name == other.name && self.both.wide == other.both.wide
    }

    // Equal joints hash alike.
    fn __hash__(&self) -> u64 {
        let record = self.both.wide.record();
        let numbers = [
            record.command,
            record.drive,
            record.travel.unwrap_or(record.drive),
            record.servo.angle,
            record.servo.pulse_us,
        ];
        let rest = (
            &self.name,
            record.inverted,
            record.timer.counts_per_frame,
            record.rest.to_bits(),
            record.transmission.kind(),
        );
        hash_of(&numbers.concat(), rest)
    }

    // The call that makes an equal joint.
    fn __repr__(&self, py: Python<'_>) -> PyResult<String> {
        let mut shown = format!("Joint({}", self.name.as_str().into_pyobject(py)?.repr()?);
        for (key, value) in self.keywords(py)? {
            let _ = write!(shown, ", {key}={}", value.repr()?);
        }
        Ok(shown + ")")
    }

    fn __getnewargs_ex__<'py>(&self, py: Python<'py>) -> PyResult<(Bound<'py, PyTuple>, Bound<'py, PyDict>)> {
        Ok((PyTuple::new(py, [&self.name])?, self.keywords(py)?))
    }
}
