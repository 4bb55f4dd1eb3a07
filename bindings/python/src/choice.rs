//! `Choice` and `Candidate`: the core's choice between transmissions as frozen Python classes.

use std::sync::Arc;

use elbowroom::fit::{Approach, Candidate as Tested, Choice as Chosen, Guess, Tried, choose_transmission};
use elbowroom::linkage::Mechanism;
use elbowroom::look::Statistic;
use elbowroom::{Code, TransmissionRecord};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use crate::chain::over;
use crate::curve_fit::CurveFit;
use crate::fitted::{Columns, by_side, drawn, each_of, lost_motion, told};
use crate::line::LineFit;
use crate::linkage_fit::LinkageFit;
use crate::numbers::kind_of;
use crate::pulse::hash_of;
use crate::records::as_dict;
use crate::refuse;
use crate::transmission::{applied, curve_of, mechanism, most, names, read_columns};

/// Which transmission fits the readings best, and why: what `choose_transmission` found.
///
/// Equal choices have equal results; their readings do not count. A pickle holds the readings and the guesses; unpickling computes
/// the choice from them again.
///
/// Examples
/// --------
/// >>> import elbowroom as elb
/// >>> elb.choose_transmission([10, 30, 50, 70, 90, 110], [0.0, 9.1, 20.8, 35.2, 52.0, 71.3])
/// <Choice: curve of linear, curve, 6 readings>
#[pyclass(frozen, eq, module = "elbowroom")]
pub(crate) struct Choice {
    choice: Arc<Chosen>,
    columns: Arc<Columns>,
    guesses: Vec<(Mechanism, Vec<&'static str>)>,
    most_knots: usize,
}

impl PartialEq for Choice {
    fn eq(&self, other: &Self) -> bool {
        self.choice == other.choice
    }
}

#[pymethods]
impl Choice {
    /// tuple of Candidate: all that was tried: the line, the curve, the mechanisms in the order given.
    #[getter]
    fn candidates<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyTuple>> {
        let count = slf.get().choice.candidates.len();
        let all: PyResult<Vec<_>> = (0..count).map(|index| Candidate::of(slf, index)).collect();
        PyTuple::new(slf.py(), all?)
    }

    /// int: which of them to take.
    #[getter]
    fn best(&self) -> usize {
        self.choice.best
    }

    /// Candidate: the one to take.
    #[getter]
    fn chosen<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, Candidate>> {
        Candidate::of(slf, slf.get().choice.best)
    }

    /// tuple of Reason: why, the most important first.
    #[getter]
    fn reasons<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        each_of(py, &self.choice.reasons, |reason| told(py, "Reason", reason))
    }

    /// tuple of float: drive angle of each reading.
    #[getter]
    fn drive<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        self.columns.shown_x(py)
    }

    /// tuple of float: measured value of each reading.
    #[getter]
    fn measured<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        self.columns.shown_y(py)
    }

    /// tuple of {"below", "above", None}, or None: from which side each position was reached, if that was given.
    #[getter]
    fn approach<'py>(&self, py: Python<'py>) -> PyResult<Option<Bound<'py, PyTuple>>> {
        self.columns.shown_sides(py)
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        let guess = |(start, free): &(Mechanism, Vec<&'static str>)| {
            Ok((as_dict(py, &TransmissionRecord::<f64>::from(start))?, free.clone())
                .into_pyobject(py)?
                .into_any())
        };
        let asked = (
            self.drive(py)?,
            self.measured(py)?,
            self.approach(py)?,
            each_of(py, &self.guesses, guess)?,
            self.most_knots,
        );
        let again = py.import("elbowroom._choice")?.getattr("chosen_again")?;
        Ok((again, asked.into_pyobject(py)?))
    }

    fn __hash__(&self) -> u64 {
        hash_of(
            &[],
            (
                self.choice.best,
                self.choice.candidates.len(),
                self.choice.reasons.len(),
            ),
        )
    }

    fn __repr__(&self) -> String {
        let kinds: Vec<_> = self.choice.candidates.iter().map(Tested::kind).collect();
        format!(
            "<Choice: {} of {}, {} readings>",
            self.choice.chosen().map_or("none", Tested::kind),
            kinds.join(", "),
            self.columns.x.len()
        )
    }
}

#[pymethods]
impl Choice {
    /// What a joint needs of the transmission chosen, as keywords of `Joint`: `command`, `drive`, `inverted` and, unless it is a line,
    /// `transmission`.
    ///
    /// Parameters
    /// ----------
    /// command : (float, float), optional
    ///     As for `LineFit.joint_fields`, `CurveFit.joint_fields` and `LinkageFit.joint_fields`. Left out, a command is a joint angle.
    ///
    /// Returns
    /// -------
    /// dict
    ///
    /// Raises
    /// ------
    /// FitError
    ///     `command` is not a range, or one that a mechanism cannot have.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> choice = elb.choose_transmission([40, 60, 80, 100, 120], [-36.1, -13.0, 10.2, 33.9, 57.0])
    /// >>> choice.chosen.kind, choice.joint_fields()["drive"]
    /// ('linear', (40.0, 120.0))
    /// >>> joint = elb.Joint("wing_left", rest=0, servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096), **choice.joint_fields())
    /// >>> round(joint.drive(10), 1)
    /// 79.7
    #[pyo3(signature = (*, command=None))]
    fn joint_fields<'py>(slf: &Bound<'py, Self>, command: Option<&Bound<'py, PyAny>>) -> PyResult<Bound<'py, PyDict>> {
        let py = slf.py();
        let fit = slf.getattr("chosen")?.getattr("fit")?;
        let options = PyDict::new(py);
        options.set_item("command", command)?;
        if fit.is_instance_of::<LineFit>() {
            let drive: Vec<f64> = slf.getattr("drive")?.extract()?;
            let lowest = drive.iter().copied().fold(f64::INFINITY, f64::min);
            let highest = drive.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            options.set_item("drive", PyTuple::new(py, [lowest, highest])?)?;
        }
        let fields = fit.call_method("joint_fields", (), Some(&options))?;
        Ok(fields.cast_into::<PyDict>()?)
    }
}

applied! {
    /// The joint with the transmission chosen.
    Choice, command: [
        "As for `CurveFit.apply_to` and `LinkageFit.apply_to`. Where a line was chosen the joint keeps its drive range,"
        "and its commands unless they are given here."
    ],
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> drive = [10, 20, 30, 40, 50, 60, 70, 80, 90, 100]
    /// >>> measured = [0.1, 5.9, 12.6, 19.9, 28.1, 37.0, 46.4, 56.7, 67.4, 78.9]
    /// >>> crest = elb.Joint("crest", command=(0, 79), drive=(10, 100), rest=30,
    /// ...                  servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                  timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
    /// >>> round(elb.choose_transmission(drive, measured).apply_to(crest).drive(40), 1)
    /// 63.3
    |this, entry, command| match this.choice.chosen().map(|chosen| &chosen.tried) {
        Some(Tried::Curve(fit)) => entry.apply_curve(fit, command),
        Some(Tried::Linkage(fit)) => entry.apply_linkage(fit, command),
        _ => {
            entry.joint.transmission = TransmissionRecord::Linear {};
            entry.joint.command = command.unwrap_or(entry.joint.command);
            Ok(())
        }
    }
}

drawn! {
    Choice, "Draw the readings with every candidate, and below them the residuals of each.",
    "elbowroom._plot_transmission", "choice",
    "Where to draw readings and candidates alone; a new figure", "Those of the readings."
}

/// One transmission that `choose_transmission` tried.
#[pyclass(frozen, eq, module = "elbowroom")]
pub(crate) struct Candidate {
    of: Py<Choice>,
    index: usize,
    tested: Tested,
}

impl PartialEq for Candidate {
    fn eq(&self, other: &Self) -> bool {
        self.tested == other.tested
    }
}

impl Candidate {
    fn of<'py>(choice: &Bound<'py, Choice>, index: usize) -> PyResult<Bound<'py, Self>> {
        let tested = choice.get().choice.candidates.get(index);
        let tested = tested.ok_or_else(|| pyo3::exceptions::PyIndexError::new_err("no such candidate"))?;
        let one = Self {
            of: choice.clone().unbind(),
            index,
            tested: tested.clone(),
        };
        Bound::new(choice.py(), one)
    }
}

#[pymethods]
impl Candidate {
    /// {"linear", "curve", "triangle", "slider-crank", "four-bar", "spool"}: the word for it in a robot file.
    #[getter]
    fn kind(&self) -> &'static str {
        self.tested.kind()
    }

    /// LineFit, CurveFit, LinkageFit or None: what was fitted; None where the mechanism could not be.
    #[getter]
    fn fit<'py>(&self, py: Python<'py>) -> PyResult<Option<Bound<'py, PyAny>>> {
        let columns = &self.of.get().columns;
        Ok(Some(match &self.tested.tried {
            Tried::Linear(fit) => Bound::new(py, LineFit::of(py, *fit)?)?.into_any(),
            Tried::Curve(fit) => Bound::new(py, CurveFit::with(py, fit.clone(), columns)?)?.into_any(),
            Tried::Linkage(fit) => Bound::new(py, LinkageFit::with(fit.clone(), columns))?.into_any(),
            _ => return Ok(None),
        }))
    }

    /// float or None: standard deviation of the readings about it, free of lost motion, in measured units; None where it could not
    /// be fitted.
    #[getter]
    fn residual_sd(&self) -> Option<f64> {
        Some(self.tested.residual_sd).filter(|sd| sd.is_finite())
    }

    /// int: numbers found from the readings, lost motion among them.
    #[getter]
    fn parameters(&self) -> usize {
        self.tested.parameters
    }

    /// float or None: what candidates are compared by, lower is better; None where it could not be fitted.
    #[getter]
    fn criterion(&self) -> Option<f64> {
        Some(self.tested.criterion).filter(|criterion| criterion.is_finite())
    }

    /// str or None: why it could not be fitted.
    #[getter]
    fn refused(&self) -> Option<String> {
        match &self.tested.tried {
            Tried::Refused { error, .. } => Some(error.to_string()),
            _ => None,
        }
    }

    /// LostMotion: found with it, or why it cannot be determined.
    #[getter]
    fn lost_motion<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        lost_motion(py, &self.tested.lost_motion)
    }

    /// BySide: what the side of approach adds to it.
    #[getter]
    fn by_side<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        by_side(py, &self.tested.by_side)
    }

    /// The measured value that it expects at a drive angle, as `CurveFit.expected`; NaN for one that was refused.
    ///
    /// Parameters
    /// ----------
    /// drive : float or array_like
    ///     Drive angles, deg, of any shape.
    ///
    /// Returns
    /// -------
    /// float or ndarray
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> drive = [10, 20, 30, 40, 50, 60, 70, 80, 90, 100]
    /// >>> measured = [0.1, 5.9, 12.6, 19.9, 28.1, 37.0, 46.4, 56.7, 67.4, 78.9]
    /// >>> choice = elb.choose_transmission(drive, measured)
    /// >>> round(float(choice.chosen.expected(55)), 1)
    /// 32.4
    fn expected<'py>(&self, py: Python<'py>, drive: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        if let Tried::Curve(fit) = &self.tested.tried {
            let curve = curve_of(py, fit.curve())?;
            return over(py, drive, "drive", |x| curve.at(x));
        }
        over(py, drive, "drive", |x| self.tested.expected(x, Approach::Unknown))
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        let candidate = py.import("elbowroom._choice")?.getattr("candidate")?;
        Ok((candidate, (self.of.clone_ref(py), self.index).into_pyobject(py)?))
    }

    fn __hash__(&self) -> u64 {
        hash_of(
            &[self.tested.residual_sd + 0.0],
            (self.tested.kind(), self.tested.parameters),
        )
    }

    fn __repr__(&self) -> String {
        match &self.tested.tried {
            Tried::Refused { kind, error } => format!("<Candidate: {kind} refused: {error}>"),
            _ => format!(
                "<Candidate: {}, {} parameters, residual SD {}>",
                self.tested.kind(),
                self.tested.parameters,
                Statistic(self.tested.residual_sd)
            ),
        }
    }
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
) -> PyResult<Choice> {
    let most_knots = most(most_knots)?;
    let columns = read_columns(drive, measured, approach)?;
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
    let asked: Vec<Guess<'_>> = read.iter().map(|(start, free)| Guess { start: *start, free }).collect();
    let found = py.detach(|| choose_transmission(&columns.readings(), &asked, most_knots));
    Ok(Choice {
        choice: Arc::new(found.map_err(|error| refuse::fit(py, &error))?),
        columns,
        guesses: read,
        most_knots,
    })
}
