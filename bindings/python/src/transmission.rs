//! What the fits of transmissions have in common: arguments that they read, and the joint that comes of them.

use std::ops::RangeInclusive;
use std::sync::Arc;

use elbowroom::curve::{Curve, CurveError};
use elbowroom::fit::{FitError, MOST_KNOTS};
use elbowroom::linkage::Mechanism;
use elbowroom::robot::EntryRecord;
use elbowroom::{Code, TransmissionRecord};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use crate::fitted::Columns;
use crate::joint::Joint;
use crate::numbers::{kind_of, maybe_number, pair, text, whole};
use crate::records::{as_dict, written};
use crate::refuse;

/// The readings of a transmission, and the side of approach where it was given.
pub(crate) fn read_columns(
    drive: &Bound<'_, PyAny>,
    measured: &Bound<'_, PyAny>,
    approach: Option<&Bound<'_, PyAny>>,
) -> PyResult<Arc<Columns>> {
    Columns::given([("drive", Some(drive)), ("measured", Some(measured))], approach)
}

/// The curve of a fit, which only a changed record lacks.
pub(crate) fn curve_of(py: Python<'_>, curve: Result<Curve<f64>, CurveError>) -> PyResult<Curve<f64>> {
    curve.map_err(|error| {
        let sentence = format!("this is not a record of a fit: {error}");
        refuse::argument(py, error.code(), &sentence)
    })
}

/// Knots as pairs.
pub(crate) fn knots_of<'py>(py: Python<'py>, knots: &[[f64; 2]]) -> PyResult<Bound<'py, PyTuple>> {
    PyTuple::new(py, knots.iter().map(|&[x, y]| (x, y)))
}

/// What a joint takes over from a fit, by the keywords of `Joint`.
pub(crate) fn keywords<'py>(
    py: Python<'py>,
    command: [f64; 2],
    drive: [f64; 2],
    inverted: bool,
    transmission: &TransmissionRecord<f64>,
) -> PyResult<Bound<'py, PyDict>> {
    let fields = PyDict::new(py);
    fields.set_item("command", <(f64, f64)>::from(command))?;
    fields.set_item("drive", <(f64, f64)>::from(drive))?;
    fields.set_item("inverted", inverted)?;
    fields.set_item("transmission", as_dict(py, transmission)?)?;
    Ok(fields)
}

/// The joint with a transmission, its commands and its rest.
pub(crate) fn applied_to(
    joint: &Bound<'_, PyAny>,
    command: Option<&Bound<'_, PyAny>>,
    rest: Option<&Bound<'_, PyAny>>,
    change: impl FnOnce(&mut EntryRecord, Option<[f64; 2]>) -> Result<(), FitError>,
) -> PyResult<Joint> {
    let command = command.map(|command| pair(command, "command")).transpose()?;
    let rest = maybe_number(rest, "rest")?;
    Joint::changed(joint, |entry| {
        change(entry, command).map_err(|error| refuse::fit(joint.py(), &error))?;
        entry.joint.rest = rest.unwrap_or(entry.joint.rest);
        Ok(())
    })
}

/// The method that gives a joint its transmission from a fit: what, what its commands are, what else is to say, and how.
macro_rules! applied {
    (
        $(#[doc = $what:literal])+ $class:ident, command: [$($command:literal)+],
        $(#[doc = $more:literal])* |$this:ident, $entry:ident, $ends:ident| $apply:expr
    ) => {
        #[pymethods]
        impl $class {
            $(#[doc = $what])+
            ///
            /// Parameters
            /// ----------
            /// joint : Joint
            ///     Unchanged itself; the fit's `drive` must have been drive angles of this joint.
            /// command : (float, float), optional
            $(#[doc = concat!("    ", $command)])+
            /// rest : float, optional
            ///     The rest in these commands; the joint's own if left out.
            ///
            /// Returns
            /// -------
            /// Joint
            $(#[doc = $more])*
            #[pyo3(signature = (joint, *, command=None, rest=None))]
            fn apply_to(
                &self,
                joint: &Bound<'_, PyAny>,
                command: Option<&Bound<'_, PyAny>>,
                rest: Option<&Bound<'_, PyAny>>,
            ) -> PyResult<crate::joint::Joint> {
                let $this = self;
                crate::transmission::applied_to(joint, command, rest, |$entry, $ends| $apply)
            }
        }
    };
}
pub(crate) use applied;

pub(crate) fn most(given: &Bound<'_, PyAny>) -> PyResult<usize> {
    const WITHIN: RangeInclusive<u32> = 2..=MOST_KNOTS as u32;
    Ok(usize::try_from(whole(given, "most_knots", WITHIN)?).unwrap_or(usize::MAX))
}

/// A mechanism from a dict with the keys of a robot file.
pub(crate) fn mechanism(given: &Bound<'_, PyAny>, what: &str) -> PyResult<Mechanism> {
    let record: TransmissionRecord<f64> = written(
        given,
        what,
        "{'kind': 'triangle', 'base': 92.0, 'arm': 40.0, 'angle_at_zero': 31.0}",
    )?;
    record.mechanism().ok_or_else(|| {
        let sentence = format!(
            "{what} is of kind {}, which has no dimensions; give a triangle, slider-crank, four-bar or spool",
            record.kind()
        );
        refuse::argument_at(given.py(), Code::OptionOutside, &sentence, given)
    })
}

/// Dimensions of a mechanism by their keys.
pub(crate) fn names(given: &Bound<'_, PyAny>, what: &str, of: &Mechanism) -> PyResult<Vec<&'static str>> {
    let py = given.py();
    let known = of.dimensions();
    let wrong =
        |sentence: &str, value: &Bound<'_, PyAny>| refuse::argument_at(py, Code::OptionOutside, sentence, value);
    if given.is_instance_of::<pyo3::types::PyString>() {
        let sentence = format!("{what} is one string; give a list of dimensions, e.g. {known:?}");
        return Err(refuse::argument_at(py, Code::WrongType, &sentence, given));
    }
    let items = given.try_iter().map_err(|_| {
        let sentence = format!(
            "{what} is {}; give a list of dimensions, e.g. {known:?}",
            kind_of(given)
        );
        refuse::argument_at(py, Code::WrongType, &sentence, given)
    })?;
    items
        .map(|item| {
            let item = item?;
            let name = text(&item, what)?;
            known.iter().find(|known| **known == name).copied().ok_or_else(|| {
                let sentence = format!(
                    "{what} names \"{name}\", no dimension of a {}; give some of {}",
                    of.kind(),
                    known.join(", ")
                );
                wrong(&sentence, &item)
            })
        })
        .collect()
}
