//! Whether a joint follows its commands.

use std::sync::{Mutex, MutexGuard, PoisonError};

use elbowroom::ConvertError;
use elbowroom::bring_up::{self as core, Follow, FollowLimits, Following};
use pyo3::prelude::*;

use crate::bring_up::bring_up_error;
use crate::joint::Joint;
use crate::numbers::{number, part, whole};
use crate::records::{json, read_json};
use crate::refuse;

/// The state's word, where the joint was measured, how far that is beyond, and at a fault of the sensor what the reading shows.
type Found = (&'static str, f64, f64, Option<&'static str>);

/// The comparison of a joint with its commands, for `elbowroom.bring_up.FollowCheck`.
#[pyclass(frozen, module = "elbowroom._core")]
pub(crate) struct FollowCheck {
    check: Mutex<core::FollowCheck<f64>>,
}

impl FollowCheck {
    fn check(&self) -> MutexGuard<'_, core::FollowCheck<f64>> {
        self.check.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

fn found(py: Python<'_>, joint: Option<&str>, tick: Result<Following<f64>, ConvertError>) -> PyResult<Found> {
    let tick = tick.map_err(|error| refuse::convert(py, joint, &error, None))?;
    let fault = match tick.state {
        Follow::SensorFault(reading) => Some(reading.as_str()),
        _ => None,
    };
    Ok((tick.state.as_str(), tick.measured, tick.beyond, fault))
}

#[pymethods]
impl FollowCheck {
    #[new]
    fn new(
        start: &Bound<'_, PyAny>,
        tolerance: &Bound<'_, PyAny>,
        lag_cycles: &Bound<'_, PyAny>,
        most_cycles: &Bound<'_, PyAny>,
    ) -> PyResult<Self> {
        let py = start.py();
        let limits = FollowLimits {
            tolerance: number(tolerance, "tolerance")?,
            lag_cycles: number(lag_cycles, "lag_cycles")?,
            most_cycles: whole(most_cycles, "most_cycles", 0..=u32::MAX)?,
        };
        match core::FollowCheck::new(number(start, "start")?, limits) {
            Ok(check) => Ok(Self {
                check: Mutex::new(check),
            }),
            Err(error) => Err(bring_up_error(py, &error)),
        }
    }

    #[staticmethod]
    fn restored(py: Python<'_>, saved: &str) -> PyResult<Self> {
        Ok(Self {
            check: Mutex::new(read_json(py, "state of a follow check", saved)?),
        })
    }

    fn state_json(&self, py: Python<'_>) -> PyResult<String> {
        json(py, &*self.check())
    }

    fn expected(&self) -> (f64, f64) {
        self.check().expected().into()
    }

    fn tick(&self, command: &Bound<'_, PyAny>, measured: &Bound<'_, PyAny>) -> PyResult<Found> {
        let (sent, at) = (number(command, "command")?, number(measured, "measured")?);
        let tick = self.check().tick(sent, at);
        found(command.py(), None, tick)
    }

    fn tick_reading(
        &self,
        joint: &Bound<'_, PyAny>,
        command: &Bound<'_, PyAny>,
        reading: &Bound<'_, PyAny>,
    ) -> PyResult<Found> {
        let joint = part::<Joint>(joint, "joint", "Joint(...)")?.get();
        let (sent, read) = (number(command, "command")?, number(reading, "reading")?);
        let tick = self.check().tick_reading(&joint.both.wide, sent, read);
        found(command.py(), Some(&joint.name), tick)
    }

    fn reset(&self, start: &Bound<'_, PyAny>) -> PyResult<()> {
        let place = number(start, "start")?;
        self.check()
            .reset(place)
            .map_err(|error| refuse::convert(start.py(), None, &error, None))
    }
}
