//! Fitting: columns in; fits out as they are, comparisons in plain values from which the Python half makes its frozen dataclasses.

use elbowroom::Code;
use elbowroom::fit::{CompareOptions, FitOptions, Readings, Run};
use pyo3::prelude::*;

use crate::arrays::column;
use crate::fitted::Columns;
use crate::limit_fit::{LimitFit, said};
use crate::numbers::{maybe_number, part};
use crate::records::plain;
use crate::refuse;
use crate::robot::Robot;
use crate::sides::{approach_of, approaches, contacts};

/// The compiled half of `elbowroom.fit_limits`.
#[pyfunction]
#[pyo3(signature = (drive, measured, *, approach=None, contact=None, u=None, time=None, resolution=None, guard=None, confidence=None))]
#[expect(clippy::too_many_arguments, reason = "the keywords of a fit, one each")]
pub(crate) fn fit_limits(
    py: Python<'_>,
    drive: &Bound<'_, PyAny>,
    measured: &Bound<'_, PyAny>,
    approach: Option<&Bound<'_, PyAny>>,
    contact: Option<&Bound<'_, PyAny>>,
    u: Option<&Bound<'_, PyAny>>,
    time: Option<&Bound<'_, PyAny>>,
    resolution: Option<&Bound<'_, PyAny>>,
    guard: Option<&Bound<'_, PyAny>>,
    confidence: Option<&Bound<'_, PyAny>>,
) -> PyResult<LimitFit> {
    let (drive, measured) = (column(drive, "drive")?, column(measured, "measured")?);
    let u = u.map(|u| column(u, "u")).transpose()?;
    let time = time.map(|time| column(time, "time")).transpose()?;
    let approach = approaches(approach)?;
    let contact = contacts(contact)?;
    let mut options = FitOptions::default();
    if let Some(guard) = maybe_number(guard, "guard")? {
        options = options.with_guard(guard);
    }
    if let Some(confidence) = maybe_number(confidence, "confidence")? {
        options = options.with_confidence(confidence);
    }
    if let Some(resolution) = maybe_number(resolution, "resolution")? {
        options = options.with_resolution(resolution);
    }
    let fitted = py.detach(|| {
        let mut readings = Readings::new(&drive, &measured);
        readings.approach = approach.as_deref();
        readings.contact = contact.as_deref();
        readings.u = u.as_deref();
        readings.time = time.as_deref();
        elbowroom::fit::fit_limits(&readings, &options)
    });
    let fit = fitted.map_err(|error| refuse::fit(py, &error))?;
    Ok(LimitFit::with(fit, Columns::new(drive, measured, approach)))
}

/// The compiled half of `elbowroom.compare`: the comparison, whether it counts as a change, the sentences of its
/// diagnoses, and those of the earlier and the later fit's warnings.
#[pyfunction]
#[pyo3(signature = (old, new, *, smallest_drive=None, smallest_share=None))]
pub(crate) fn fit_compare<'py>(
    py: Python<'py>,
    old: &Bound<'py, PyAny>,
    new: &Bound<'py, PyAny>,
    smallest_drive: Option<&Bound<'py, PyAny>>,
    smallest_share: Option<&Bound<'py, PyAny>>,
) -> PyResult<Bound<'py, PyAny>> {
    let options = compare_options(smallest_drive, smallest_share)?;
    let (old, new) = (LimitFit::given(old, "old")?, LimitFit::given(new, "new")?);
    let found = elbowroom::fit::compare(&old.fit, &new.fit, &options);
    let found = found.map_err(|error| refuse::fit(py, &error))?;
    let sentences: Vec<String> = found.diagnoses.iter().map(ToString::to_string).collect();
    let [old_said, new_said] = [&found.old_warnings, &found.new_warnings].map(|warnings| said(warnings));
    plain(py, &(&found, found.is_changed(), sentences, old_said, new_said))
}

/// The compiled half of `elbowroom.compare_robots`: what differs, and whether something counts.
#[pyfunction]
#[pyo3(signature = (old, new, *, smallest_drive=None, smallest_share=None))]
pub(crate) fn robot_compare<'py>(
    py: Python<'py>,
    old: &Bound<'py, PyAny>,
    new: &Bound<'py, PyAny>,
    smallest_drive: Option<&Bound<'py, PyAny>>,
    smallest_share: Option<&Bound<'py, PyAny>>,
) -> PyResult<Bound<'py, PyAny>> {
    let options = compare_options(smallest_drive, smallest_share)?;
    let [old, new] = [
        part::<Robot>(old, "old", "a Robot")?,
        part::<Robot>(new, "new", "a Robot")?,
    ]
    .map(Bound::get);
    let found = elbowroom::robot::compare(&old.robot, &new.robot, &options);
    let found = found.map_err(|error| refuse::fit(py, &error))?;
    plain(py, &(&found, found.is_changed()))
}

/// The options as given, the core's where left out.
fn compare_options(
    smallest_drive: Option<&Bound<'_, PyAny>>,
    smallest_share: Option<&Bound<'_, PyAny>>,
) -> PyResult<CompareOptions> {
    let mut options = CompareOptions::default();
    if let Some(smallest) = maybe_number(smallest_drive, "smallest_drive")? {
        options = options.with_smallest_drive(smallest);
    }
    if let Some(smallest) = maybe_number(smallest_share, "smallest_share")? {
        options = options.with_smallest_share(smallest);
    }
    Ok(options)
}

/// The compiled half of `elbowroom.positioning`: the result, and the numbers as they were read.
#[pyfunction]
pub(crate) fn positioning<'py>(
    py: Python<'py>,
    targets: &Bound<'py, PyAny>,
    runs: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let targets = column(targets, "targets")?;
    let wrong = || {
        let sentence =
            "runs is not a list of (approach, positions); give e.g. [(\"below\", [...]), (\"above\", [...])]";
        refuse::argument_at(py, Code::WrongType, sentence, runs)
    };
    let mut read = Vec::new();
    for (index, run) in runs.try_iter().map_err(|_| wrong())?.enumerate() {
        let (approach, positions) = run?
            .extract::<(Bound<'_, PyAny>, Bound<'_, PyAny>)>()
            .map_err(|_| wrong())?;
        let approach = approach_of(&approach).ok_or_else(wrong)?;
        read.push((approach, column(&positions, &format!("runs[{index}]"))?));
    }
    let runs: Vec<Run<'_>> = read
        .iter()
        .map(|(approach, positions)| Run {
            approach: *approach,
            positions,
        })
        .collect();
    let found = elbowroom::fit::positioning(&targets, &runs).map_err(|error| refuse::fit(py, &error))?;
    plain(py, &(&found, &read))
}
