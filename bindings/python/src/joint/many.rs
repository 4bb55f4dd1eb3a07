//! What a joint answers to many commands in places of another type: counts, and whether they were held back.

use std::marker::PhantomData;

use elbowroom::{CountNumber, Joint as Core, ReadingState, Real};
use numpy::{Element, PyArrayDyn};
use pyo3::prelude::*;
use pyo3::sync::PyOnceLock;
use pyo3::types::{PyFloat, PyInt, PyString};

use super::Joint;
use crate::arrays::{Input, Refused};
use crate::chain::{self, Refusal, each, raise_fault, refused};
use crate::numbers::{number, plain};
use crate::refuse;
use crate::wide;

/// From commands to places of one type, in either precision.
trait Many {
    type Place: Element + Copy;

    fn many<T: Real>(joint: &Core<T>, from: &[T], to: &mut [Self::Place]) -> Result<(), Refused<Refusal>>;
}

/// Counts in an integer type.
struct Counts<O>(PhantomData<O>);
struct PastCommand;
struct PastTravel;
/// The state of the sensor that a reading shows, by its place in [`STATES`].
struct State;

impl<O: Element + CountNumber> Many for Counts<O> {
    type Place = O;
    fn many<T: Real>(joint: &Core<T>, from: &[T], to: &mut [O]) -> Result<(), Refused<Refusal>> {
        wide::counts(joint, from, to).map_err(refused)
    }
}

impl Many for PastCommand {
    type Place = bool;
    fn many<T: Real>(joint: &Core<T>, from: &[T], to: &mut [bool]) -> Result<(), Refused<Refusal>> {
        each(from, to, |x| Ok(joint.drive(x)?.clamped.command))
    }
}

impl Many for PastTravel {
    type Place = bool;
    fn many<T: Real>(joint: &Core<T>, from: &[T], to: &mut [bool]) -> Result<(), Refused<Refusal>> {
        each(from, to, |x| Ok(joint.drive(x)?.clamped.travel))
    }
}

impl Many for State {
    type Place = u8;
    fn many<T: Real>(joint: &Core<T>, from: &[T], to: &mut [u8]) -> Result<(), Refused<Refusal>> {
        each(from, to, |x| Ok(place_of(joint.reading_state(x)?)))
    }
}

/// The state of the sensor that a reading shows, in the order of [`place_of`].
const STATES: [ReadingState; 5] = [
    ReadingState::Inside,
    ReadingState::Outside,
    ReadingState::LowerRail,
    ReadingState::UpperRail,
    ReadingState::Impossible,
];

/// Where a state stands in [`STATES`]. A match and no search: it is asked of every reading.
fn place_of(state: ReadingState) -> u8 {
    match state {
        ReadingState::Inside => 0,
        ReadingState::Outside => 1,
        ReadingState::LowerRail => 2,
        ReadingState::UpperRail => 3,
        _ => 4,
    }
}

/// Runs over an accepted array, into `out` or a new one.
fn run<'py, M: Many>(
    joint: &Joint,
    py: Python<'py>,
    what: &str,
    input: &Input<'py>,
    out: Option<&Bound<'py, PyAny>>,
) -> PyResult<Bound<'py, PyAny>> {
    let outcome = match input {
        Input::F64(array) => array.run(out, |from, to| M::many(&joint.both.wide, from, to), None),
        Input::F32(array) => {
            let narrow = joint.narrow(py)?;
            array.run(out, |from, to| M::many(narrow, from, to), None)
        }
    };
    outcome.map_err(|fault| raise_fault(py, Some(&joint.name), what, fault))
}

/// The counts of anything: a number, an array or something like one. int32 unless `out` says otherwise.
#[inline(never)]
pub(super) fn counts<'py>(
    joint: &Joint,
    py: Python<'py>,
    command: &Bound<'py, PyAny>,
    out: Option<&Bound<'py, PyAny>>,
) -> PyResult<Bound<'py, PyAny>> {
    if out.is_none()
        && let Some(x) = plain(command, "command")
    {
        let count = joint
            .both
            .wide
            .counts_value(x?)
            .map_err(|error| refuse::convert(py, Some(&joint.name), &error, None))?;
        return Ok(PyInt::new(py, count).into_any());
    }
    let input = Input::new(command, "command")?;
    match out {
        Some(out) if holds::<u16>(out) => run::<Counts<u16>>(joint, py, "command", &input, Some(out)),
        Some(out) if holds::<u32>(out) => run::<Counts<u32>>(joint, py, "command", &input, Some(out)),
        Some(out) if holds::<i64>(out) => run::<Counts<i64>>(joint, py, "command", &input, Some(out)),
        Some(out) if holds::<u64>(out) => run::<Counts<u64>>(joint, py, "command", &input, Some(out)),
        _ => run::<Counts<i32>>(joint, py, "command", &input, out),
    }
}

fn holds<O: Element>(out: &Bound<'_, PyAny>) -> bool {
    out.cast::<PyArrayDyn<O>>().is_ok()
}

/// The whole way of one command or of many, as a `Conversion`.
pub(super) fn conversion<'py>(
    joint: &Joint,
    py: Python<'py>,
    command: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    static CONVERSION: PyOnceLock<Py<PyAny>> = PyOnceLock::new();
    let class = CONVERSION
        .get_or_try_init(py, || {
            py.import("elbowroom._types")?.getattr("Conversion").map(Bound::unbind)
        })?
        .bind(py);
    let (name, both) = (Some(joint.name.as_str()), &joint.both);
    let drive = chain::convert_any::<chain::Drive>(py, name, both, "command", command, None)?;
    let pulse_us = chain::convert_any::<chain::PulseUs>(py, name, both, "command", command, None)?;
    let counts = counts(joint, py, command, None)?;
    if let Some(x) = plain(command, "command") {
        let conversion = both
            .wide
            .drive(x?)
            .map_err(|error| refuse::convert(py, name, &error, None))?;
        let clamped = conversion.clamped;
        return class.call1((drive, pulse_us, counts, clamped.command, clamped.travel));
    }
    let input = Input::new(command, "command")?;
    let past_command = run::<PastCommand>(joint, py, "command", &input, None)?;
    let past_travel = run::<PastTravel>(joint, py, "command", &input, None)?;
    class.call1((drive, pulse_us, counts, past_command, past_travel))
}

/// The word for a reading, or an array of words.
pub(super) fn reading_state<'py>(
    joint: &Joint,
    py: Python<'py>,
    reading: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let place = if let Some(x) = plain(reading, "reading") {
        let state = joint.both.wide.reading_state(x?);
        let state = state.map_err(|error| refuse::convert(py, Some(&joint.name), &error, None))?;
        return Ok(PyString::new(py, state.as_str()).into_any());
    } else {
        run::<State>(joint, py, "reading", &Input::new(reading, "reading")?, None)?
    };
    let words = STATES.map(ReadingState::as_str);
    py.import("numpy")?.call_method1("array", (words,))?.get_item(place)
}

/// Readings as they would be at the supply of the feedback map.
pub(super) fn reading_at_supply<'py>(
    joint: &Joint,
    py: Python<'py>,
    reading: &Bound<'py, PyAny>,
    supply_v: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let name = Some(joint.name.as_str());
    let supply_v = number(supply_v, "supply_v")?;
    let of = |x: f64| joint.both.wide.reading_at_supply(x, supply_v);
    if let Some(x) = plain(reading, "reading") {
        let found = of(x?).map_err(|error| refuse::convert(py, name, &error, None))?;
        return Ok(PyFloat::new(py, found).into_any());
    }
    Input::wide(reading, "reading")?
        .run(None, |from, to| each(from, to, |x| Ok(of(x)?)), None)
        .map_err(|fault| raise_fault(py, name, "reading", fault))
}
