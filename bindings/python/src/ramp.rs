//! Soft start and rate limit: of some value, and of the commands of one joint.

use std::sync::{Mutex, MutexGuard, PoisonError};

use elbowroom::bring_up as core;
use pyo3::prelude::*;

use crate::bring_up::bring_up_error;
use crate::joint::Joint;
use crate::numbers::{maybe_number, number, part};
use crate::records::{json, read_json};
use crate::refuse;

/// The rate limit, for `elbowroom.bring_up.Ramp`.
#[pyclass(frozen, module = "elbowroom._core")]
pub(crate) struct Ramp {
    ramp: Mutex<core::Ramp<f64>>,
}

impl Ramp {
    fn ramp(&self) -> MutexGuard<'_, core::Ramp<f64>> {
        self.ramp.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[pymethods]
impl Ramp {
    /// From the longest step and change for each cycle; with `cycles_hz`, from rate and acceleration for each second.
    #[new]
    #[pyo3(signature = (start, most, change, cycles_hz=None))]
    fn new(
        start: &Bound<'_, PyAny>,
        most: &Bound<'_, PyAny>,
        change: &Bound<'_, PyAny>,
        cycles_hz: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<Self> {
        let py = start.py();
        let start = number(start, "start")?;
        let made = match Limits::read(most, change, cycles_hz)? {
            Limits::PerCycle(most, change) => core::Ramp::per_cycle(start, most, change),
            Limits::PerSecond(rate, acceleration, hz) => core::Ramp::per_second(start, rate, acceleration, hz),
        };
        match made {
            Ok(ramp) => Ok(Self { ramp: Mutex::new(ramp) }),
            Err(error) => Err(bring_up_error(py, &error)),
        }
    }

    #[staticmethod]
    fn restored(py: Python<'_>, saved: &str) -> PyResult<Self> {
        Ok(Self {
            ramp: Mutex::new(read_json(py, "state of a ramp", saved)?),
        })
    }

    fn state_json(&self, py: Python<'_>) -> PyResult<String> {
        json(py, &*self.ramp())
    }

    fn value(&self) -> f64 {
        self.ramp().value()
    }

    fn rests_at(&self, target: &Bound<'_, PyAny>) -> PyResult<bool> {
        Ok(self.ramp().rests_at(number(target, "target")?))
    }

    fn follow(&self, target: &Bound<'_, PyAny>) -> PyResult<f64> {
        let wanted = number(target, "target")?;
        self.ramp()
            .follow(wanted)
            .map_err(|error| refuse::convert(target.py(), None, &error, None))
    }

    #[pyo3(signature = (most, change, cycles_hz=None))]
    fn limit(
        &self,
        most: &Bound<'_, PyAny>,
        change: &Bound<'_, PyAny>,
        cycles_hz: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<()> {
        let limits = Limits::read(most, change, cycles_hz)?;
        let mut ramp = self.ramp();
        let limited = match limits {
            Limits::PerCycle(most, change) => ramp.limit_per_cycle(most, change),
            Limits::PerSecond(rate, acceleration, hz) => ramp.limit_per_second(rate, acceleration, hz),
        };
        limited.map_err(|error| bring_up_error(most.py(), &error))
    }

    fn reset(&self, start: &Bound<'_, PyAny>) -> PyResult<()> {
        let place = number(start, "start")?;
        self.ramp()
            .reset(place)
            .map_err(|error| refuse::convert(start.py(), None, &error, None))
    }
}

/// The limits of a ramp as they are given: the longest step and its change, or with the cycles in a second rate and acceleration.
enum Limits {
    PerCycle(f64, Option<f64>),
    PerSecond(f64, Option<f64>, f64),
}

impl Limits {
    fn read(
        most: &Bound<'_, PyAny>,
        change: &Bound<'_, PyAny>,
        cycles_hz: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<Self> {
        Ok(match maybe_number(cycles_hz, "cycles_hz")? {
            None => Self::PerCycle(number(most, "most_step")?, maybe_number(Some(change), "most_change")?),
            Some(cycles_hz) => Self::PerSecond(
                number(most, "max_rate_per_s")?,
                maybe_number(Some(change), "acceleration_per_s2")?,
                cycles_hz,
            ),
        })
    }
}

/// The rate limit of one joint's commands, for `elbowroom.bring_up.JointRamp`.
#[pyclass(frozen, module = "elbowroom._core")]
pub(crate) struct JointRamp {
    ramp: Mutex<core::JointRamp<f64>>,
}

impl JointRamp {
    fn ramp(&self) -> MutexGuard<'_, core::JointRamp<f64>> {
        self.ramp.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[pymethods]
impl JointRamp {
    #[new]
    fn new(
        joint: &Bound<'_, PyAny>,
        start: &Bound<'_, PyAny>,
        max_rate_per_s: &Bound<'_, PyAny>,
        acceleration_per_s2: &Bound<'_, PyAny>,
        cycles_hz: &Bound<'_, PyAny>,
    ) -> PyResult<Self> {
        let joint = part::<Joint>(joint, "joint", "Joint(...)")?.get();
        let made = core::JointRamp::new(
            &joint.both.wide,
            number(start, "start")?,
            maybe_number(Some(max_rate_per_s), "max_rate_per_s")?,
            maybe_number(Some(acceleration_per_s2), "acceleration_per_s2")?,
            number(cycles_hz, "cycles_hz")?,
        );
        match made {
            Ok(ramp) => Ok(Self { ramp: Mutex::new(ramp) }),
            Err(error) => Err(bring_up_error(start.py(), &error)),
        }
    }

    #[staticmethod]
    fn restored(py: Python<'_>, saved: &str) -> PyResult<Self> {
        Ok(Self {
            ramp: Mutex::new(read_json(py, "state of a joint's ramp", saved)?),
        })
    }

    fn state_json(&self, py: Python<'_>) -> PyResult<String> {
        json(py, &*self.ramp())
    }

    fn value(&self) -> f64 {
        self.ramp().value()
    }

    fn rests_at(&self, target: &Bound<'_, PyAny>) -> PyResult<bool> {
        Ok(self.ramp().rests_at(number(target, "target")?))
    }

    /// The command after one step, and whether the target was held to the command range and to the travel.
    fn follow(&self, target: &Bound<'_, PyAny>) -> PyResult<(f64, bool, bool)> {
        let wanted = number(target, "target")?;
        let step = self
            .ramp()
            .follow(wanted)
            .map_err(|error| refuse::convert(target.py(), None, &error, None))?;
        Ok((step.value, step.clamped.command, step.clamped.travel))
    }

    fn change(
        &self,
        joint: &Bound<'_, PyAny>,
        max_rate_per_s: &Bound<'_, PyAny>,
        acceleration_per_s2: &Bound<'_, PyAny>,
        cycles_hz: &Bound<'_, PyAny>,
    ) -> PyResult<()> {
        let rate = maybe_number(Some(max_rate_per_s), "max_rate_per_s")?;
        let acceleration = maybe_number(Some(acceleration_per_s2), "acceleration_per_s2")?;
        let hz = number(cycles_hz, "cycles_hz")?;
        let joint = part::<Joint>(joint, "joint", "Joint(...)")?.get();
        self.ramp()
            .change(&joint.both.wide, rate, acceleration, hz)
            .map_err(|error| bring_up_error(cycles_hz.py(), &error))
    }

    fn reset(&self, start: &Bound<'_, PyAny>) -> PyResult<()> {
        let place = number(start, "start")?;
        self.ramp()
            .reset(place)
            .map_err(|error| refuse::convert(start.py(), None, &error, None))
    }
}
