//! Fitted transmissions: columns in, curves, mechanisms and the choice between them out as JSON, from which the Python half
//! makes its frozen dataclasses.

use elbowroom::curve::{Curve, CurveError};
use elbowroom::fit::{
    BySide, Candidate, Choice, CurveFit, FitError, Guess, LineFit, LinkageFit, LostMotion, Reason, Tried,
    choose_transmission, fit_curve, fit_linkage,
};
use elbowroom::linkage::Mechanism;
use elbowroom::robot::EntryRecord;
use elbowroom::{Code, TransmissionRecord};
use pyo3::prelude::*;
use pyo3::types::PyFloat;
use serde::Serialize;

use crate::arrays::{Input, column};
use crate::chain::{each, raise_fault};
use crate::fit::{approaches, fit_error, json, limit_fit, readings, why_not};
use crate::forms::written;
use crate::joint::Joint;
use crate::numbers::{kind_of, maybe_number, pair, part, plain, text, whole};
use crate::refuse;

/// What a joint takes over from a fit, by the keywords of `Joint`.
#[derive(Serialize)]
struct Fields {
    command: [f64; 2],
    drive: [f64; 2],
    inverted: bool,
    transmission: TransmissionRecord<f64>,
}

fn fields(
    py: Python<'_>,
    command: [f64; 2],
    drive: [f64; 2],
    inverted: bool,
    transmission: TransmissionRecord<f64>,
) -> PyResult<String> {
    let fields = Fields {
        command,
        drive,
        inverted,
        transmission,
    };
    json(py, &fields)
}

/// The compiled half of `elbowroom.fit_curve`.
#[pyfunction]
#[pyo3(signature = (drive, measured, *, most_knots, approach=None))]
pub(crate) fn curve_fit(
    py: Python<'_>,
    drive: &Bound<'_, PyAny>,
    measured: &Bound<'_, PyAny>,
    most_knots: &Bound<'_, PyAny>,
    approach: Option<&Bound<'_, PyAny>>,
) -> PyResult<String> {
    let (drive, measured) = (column(drive, "drive")?, column(measured, "measured")?);
    let (most, approach) = (most(most_knots)?, approaches(approach)?);
    let found = py.detach(|| fit_curve(&readings(&drive, &measured, approach.as_deref()), most));
    let fit = found.map_err(|error| fit_error(py, &error))?;
    json(py, &(&fit, why_not(&fit.lost_motion)))
}

/// The compiled half of `CurveFit.expected`.
#[pyfunction]
pub(crate) fn curve_expected<'py>(
    py: Python<'py>,
    record: &str,
    drive: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let curve: Curve<f64> = read::<CurveFit>(py, record)?.curve().map_err(|error: CurveError| {
        let sentence = format!("this is not a record of a fit: {error}");
        refuse::argument(py, error.code(), &sentence)
    })?;
    over(py, drive, "drive", |x| curve.at(x))
}

/// The compiled half of `CurveFit.joint_fields`, as JSON.
#[pyfunction]
pub(crate) fn curve_fields(py: Python<'_>, record: &str, command: &Bound<'_, PyAny>) -> PyResult<String> {
    let command = pair(command, "command")?;
    let made = read::<CurveFit>(py, record)?.joint(command);
    let made = made.map_err(|error| fit_error(py, &error))?;
    fields(py, command, made.drive, made.inverted, made.transmission)
}

/// The compiled half of `CurveFit.apply_to`.
#[pyfunction]
#[pyo3(signature = (record, joint, command=None, rest=None))]
pub(crate) fn curve_apply(
    py: Python<'_>,
    record: &str,
    joint: &Bound<'_, PyAny>,
    command: Option<&Bound<'_, PyAny>>,
    rest: Option<&Bound<'_, PyAny>>,
) -> PyResult<Joint> {
    let fit: CurveFit = read(py, record)?;
    let command = command.map(|command| pair(command, "command")).transpose()?;
    apply(py, joint, rest, |entry| entry.apply_curve(&fit, command))
}

/// The compiled half of `elbowroom.fit_linkage`.
#[pyfunction]
#[pyo3(signature = (drive, measured, start, free, approach=None))]
pub(crate) fn linkage_fit(
    py: Python<'_>,
    drive: &Bound<'_, PyAny>,
    measured: &Bound<'_, PyAny>,
    start: &Bound<'_, PyAny>,
    free: &Bound<'_, PyAny>,
    approach: Option<&Bound<'_, PyAny>>,
) -> PyResult<String> {
    let (drive, measured) = (column(drive, "drive")?, column(measured, "measured")?);
    let start = mechanism(start, "start")?;
    let free = names(free, "free", &start)?;
    let approach = approaches(approach)?;
    let found = py.detach(|| fit_linkage(&readings(&drive, &measured, approach.as_deref()), &start, &free));
    let fit = found.map_err(|error| fit_error(py, &error))?;
    let sentence = fit.other_branch.map(|branch| branch.to_string());
    json(py, &(&fit, why_not(&fit.lost_motion), sentence))
}

/// The compiled half of `LinkageFit.expected` and `LinkageFit.drive_at`.
#[pyfunction]
pub(crate) fn linkage_at<'py>(
    py: Python<'py>,
    record: &str,
    given: &Bound<'py, PyAny>,
    what: &str,
) -> PyResult<Bound<'py, PyAny>> {
    let fit: LinkageFit = read(py, record)?;
    match what {
        "drive" => over(py, given, what, |x| fit.measured_at(x)),
        _ => over(py, given, what, |y| fit.drive_at(y)),
    }
}

/// How far the servo's side of a mechanism moves, for pictures.
#[pyfunction]
pub(crate) fn linkage_moved<'py>(
    py: Python<'py>,
    transmission: &Bound<'py, PyAny>,
    command: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let mechanism = mechanism(transmission, "transmission")?;
    over(py, command, "command", |x| mechanism.moved(x))
}

/// The commands that the readings of a mechanism stand for.
#[pyfunction]
pub(crate) fn linkage_command(py: Python<'_>, record: &str) -> PyResult<(f64, f64)> {
    Ok(read::<LinkageFit>(py, record)?.command().into())
}

/// The compiled half of `LinkageFit.explains_stops`.
#[pyfunction]
pub(crate) fn linkage_explains(py: Python<'_>, record: &str, limits: &Bound<'_, PyAny>) -> PyResult<(bool, bool)> {
    let (fit, limits) = (read::<LinkageFit>(py, record)?, limit_fit(limits, "limits")?);
    Ok(py.detach(|| fit.explains_stops(&limits.fit, &limits.columns())).into())
}

/// The compiled half of `LinkageFit.joint_fields`, as JSON.
#[pyfunction]
pub(crate) fn linkage_fields(py: Python<'_>, record: &str, command: &Bound<'_, PyAny>) -> PyResult<String> {
    let command = pair(command, "command")?;
    let made = read::<LinkageFit>(py, record)?.joint(command);
    let made = made.map_err(|error| fit_error(py, &error))?;
    fields(py, command, made.drive, made.inverted, made.transmission)
}

/// The compiled half of `LinkageFit.apply_to`.
#[pyfunction]
#[pyo3(signature = (record, joint, command=None, rest=None))]
pub(crate) fn linkage_apply(
    py: Python<'_>,
    record: &str,
    joint: &Bound<'_, PyAny>,
    command: Option<&Bound<'_, PyAny>>,
    rest: Option<&Bound<'_, PyAny>>,
) -> PyResult<Joint> {
    let fit: LinkageFit = read(py, record)?;
    let command = command.map(|command| pair(command, "command")).transpose()?;
    apply(py, joint, rest, |entry| entry.apply_linkage(&fit, command))
}

/// The compiled half of `elbowroom.choose_transmission`.
#[pyfunction]
#[pyo3(signature = (drive, measured, *, guesses, most_knots, approach=None))]
pub(crate) fn transmission_choose(
    py: Python<'_>,
    drive: &Bound<'_, PyAny>,
    measured: &Bound<'_, PyAny>,
    guesses: &Bound<'_, PyAny>,
    most_knots: &Bound<'_, PyAny>,
    approach: Option<&Bound<'_, PyAny>>,
) -> PyResult<String> {
    let (drive, measured) = (column(drive, "drive")?, column(measured, "measured")?);
    let (most, approach) = (most(most_knots)?, approaches(approach)?);
    let wrong = |given: &Bound<'_, PyAny>| {
        let sentence = format!(
            "guesses holds {}; give pairs of a transmission and the dimensions to improve, e.g. ({{'kind': 'spool', 'drum': 9.0, 'per_turn': 0.0, 'pulley': 30.0}}, ['per_turn'])",
            kind_of(given)
        );
        refuse::argument_at(py, Code::WrongType, &sentence, given)
    };
    let mut read = Vec::new();
    for (index, guess) in guesses.try_iter().map_err(|_| wrong(guesses))?.enumerate() {
        let guess = guess?;
        let (start, free) = guess
            .extract::<(Bound<'_, PyAny>, Bound<'_, PyAny>)>()
            .map_err(|_| wrong(&guess))?;
        let start = mechanism(&start, &format!("guesses[{index}]"))?;
        let free = names(&free, &format!("guesses[{index}]"), &start)?;
        read.push((start, free));
    }
    let guesses: Vec<Guess<'_>> = read.iter().map(|(start, free)| Guess { start: *start, free }).collect();
    let found = py.detach(|| choose_transmission(&readings(&drive, &measured, approach.as_deref()), &guesses, most));
    let choice = found.map_err(|error| fit_error(py, &error))?;
    json(py, &told(&choice))
}

/// A choice as the Python half reads it. In structs: maps of JSON would bring their keys into alphabetical order.
#[derive(Serialize)]
struct ChoiceRecord<'a> {
    candidates: Vec<CandidateRecord<'a>>,
    best: usize,
    reasons: Vec<ReasonRecord>,
}

#[derive(Serialize)]
struct CandidateRecord<'a> {
    kind: &'static str,
    fit: Fitted<'a>,
    /// JSON knows no infinity: null where there is nothing to compare.
    residual_sd: f64,
    parameters: usize,
    criterion: f64,
    refused: Option<String>,
    lost_motion: LostMotion,
    /// Why it cannot be determined.
    no_lost_motion: Option<String>,
    by_side: BySide,
    /// What the fit found about the other branch.
    branch: Option<String>,
}

#[derive(Serialize)]
#[serde(untagged)]
enum Fitted<'a> {
    Linear(&'a LineFit),
    Curve(&'a CurveFit),
    Linkage(&'a LinkageFit),
    Nothing(()),
}

#[derive(Serialize)]
struct ReasonRecord {
    kind: &'static str,
    sentence: String,
    values: Vec<(&'static str, Said)>,
}

#[derive(Serialize)]
#[serde(untagged)]
enum Said {
    Word(&'static str),
    Number(f64),
    Whole(usize),
}

fn told(choice: &Choice) -> ChoiceRecord<'_> {
    ChoiceRecord {
        candidates: choice.candidates.iter().map(candidate).collect(),
        best: choice.best,
        reasons: choice.reasons.iter().map(reason).collect(),
    }
}

fn candidate(candidate: &Candidate) -> CandidateRecord<'_> {
    let (fit, refused) = match &candidate.tried {
        Tried::Linear(fit) => (Fitted::Linear(fit), None),
        Tried::Curve(fit) => (Fitted::Curve(fit), None),
        Tried::Linkage(fit) => (Fitted::Linkage(fit), None),
        Tried::Refused { error, .. } => (Fitted::Nothing(()), Some(error.to_string())),
        _ => (Fitted::Nothing(()), None),
    };
    CandidateRecord {
        kind: candidate.kind(),
        fit,
        residual_sd: candidate.residual_sd,
        parameters: candidate.parameters,
        criterion: candidate.criterion,
        refused,
        lost_motion: candidate.lost_motion,
        no_lost_motion: why_not(&candidate.lost_motion),
        by_side: candidate.by_side,
        branch: match &candidate.tried {
            Tried::Linkage(fit) => fit.other_branch.map(|branch| branch.to_string()),
            _ => None,
        },
    }
}

/// A reason: its word, its sentence, and what it is about by name.
fn reason(reason: &Reason) -> ReasonRecord {
    use Said::{Number, Whole, Word};
    let (kind, values) = match *reason {
        Reason::Enough {
            kind,
            residual_sd,
            other,
        } => (
            "enough",
            vec![
                ("transmission", Word(kind)),
                ("residual_sd", Number(residual_sd)),
                ("other", Number(other)),
            ],
        ),
        Reason::Bent {
            simpler,
            simpler_sd,
            residual_sd,
        } => (
            "bent",
            vec![
                ("simpler", Word(simpler)),
                ("simpler_sd", Number(simpler_sd)),
                ("residual_sd", Number(residual_sd)),
            ],
        ),
        Reason::Explained {
            kind,
            parameters,
            knots,
        } => (
            "explained",
            vec![
                ("transmission", Word(kind)),
                ("parameters", Whole(parameters)),
                ("knots", Whole(knots)),
            ],
        ),
        Reason::Unexplained {
            kind,
            residual_sd,
            chosen_sd,
        } => (
            "unexplained",
            vec![
                ("transmission", Word(kind)),
                ("residual_sd", Number(residual_sd)),
                ("chosen_sd", Number(chosen_sd)),
            ],
        ),
        Reason::Refused { kind, error } => (
            "refused",
            vec![("transmission", Word(kind)), ("code", Word(error.code().name()))],
        ),
        Reason::OtherBranch { kind, branch } => (
            "other-branch",
            vec![
                ("transmission", Word(kind)),
                ("residual_sd", Number(branch.residual_sd)),
                ("fitted_sd", Number(branch.fitted_sd)),
                ("apart", Number(branch.apart)),
            ],
        ),
        _ => ("other", Vec::new()),
    };
    ReasonRecord {
        kind,
        sentence: reason.to_string(),
        values,
    }
}

pub(crate) fn most(given: &Bound<'_, PyAny>) -> PyResult<usize> {
    Ok(usize::try_from(whole(given, "most_knots")?).unwrap_or(usize::MAX))
}

/// A mechanism from a dict with the keys of a robot file.
fn mechanism(given: &Bound<'_, PyAny>, what: &str) -> PyResult<Mechanism> {
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
fn names(given: &Bound<'_, PyAny>, what: &str, of: &Mechanism) -> PyResult<Vec<&'static str>> {
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

/// A fit back from the record that Python keeps.
pub(crate) fn read<F: serde::de::DeserializeOwned>(py: Python<'_>, record: &str) -> PyResult<F> {
    serde_json::from_str(record)
        .map_err(|error| refuse::argument(py, Code::WrongType, &format!("this is not a record of a fit: {error}")))
}

/// A number, or an array of any shape.
pub(crate) fn over<'py>(
    py: Python<'py>,
    given: &Bound<'py, PyAny>,
    what: &str,
    of: impl Fn(f64) -> f64 + Sync,
) -> PyResult<Bound<'py, PyAny>> {
    if let Some(x) = plain(given, what) {
        return Ok(PyFloat::new(py, of(x?)).into_any());
    }
    Input::wide(given, what)?
        .run(None, |from, to| each(from, to, |x| Ok(of(x))), None)
        .map_err(|fault| raise_fault(py, None, what, fault))
}

/// The joint with what a fit changes of it.
fn apply(
    py: Python<'_>,
    joint: &Bound<'_, PyAny>,
    rest: Option<&Bound<'_, PyAny>>,
    change: impl FnOnce(&mut EntryRecord) -> Result<(), FitError>,
) -> PyResult<Joint> {
    let joint = part::<Joint>(joint, "joint", "Joint(...)")?.get();
    let mut entry = EntryRecord::new(&joint.name, joint.both.wide.record());
    change(&mut entry).map_err(|error| fit_error(py, &error))?;
    if let Some(rest) = maybe_number(rest, "rest")? {
        entry.joint.rest = rest;
    }
    Joint::of(joint.name.clone(), entry.joint).map_err(|error| refuse::joint(py, Some(&joint.name), &error))
}
