//! `CurveFit`, `LinkageFit`, `Choice` and `Candidate`: the core's fitted transmissions, and the choice between them, as frozen
//! Python classes.

use std::sync::Arc;

use elbowroom::curve::{Curve, CurveError};
use elbowroom::fit::{
    Approach, Candidate as Tested, Choice as Chosen, CurveFit as Curved, Guess, LinkageFit as Linked, Tried,
    choose_transmission, fit_curve, fit_linkage,
};
use elbowroom::linkage::{Branch, Mechanism};
use elbowroom::look::{Rounded, Statistic};
use elbowroom::robot::EntryRecord;
use elbowroom::{Code, TransmissionRecord};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyFloat, PyTuple};

use crate::arrays::Input;
use crate::chain::{each, raise_fault};
use crate::evidence::record;
use crate::fit::{fit_error, limit_fit};
use crate::fitted::{Columns, by_side, drawn, each_of, estimate, fields, fitted, lost_motion, told};
use crate::forms::{as_dict, written};
use crate::joint::Joint;
use crate::line::LineFit;
use crate::numbers::{kind_of, maybe_number, pair, part, plain, text, whole};
use crate::pulse::hash_of;
use crate::refuse;

/// A strictly monotone curve through as few knots as the noise allows: what `fit_curve` found.
///
/// Equal fits have equal results; their readings do not count.
///
/// Examples
/// --------
/// >>> import elbowroom as elb
/// >>> elb.fit_curve([10, 30, 50, 70, 90, 110], [0.0, 9.1, 20.8, 35.2, 52.0, 71.3])
/// <CurveFit: 3 knots, residual SD 0.0669, 6 readings>
#[pyclass(frozen, eq, module = "elbowroom")]
pub(crate) struct CurveFit {
    pub(crate) fit: Arc<Curved>,
    curve: Curve<f64>,
    columns: Arc<Columns>,
}

fitted! {
    CurveFit [drive, measured, approach] {
        /// float: standard deviation of the readings about the curve, free of lost motion, in measured units.
        residual_sd: f64;
        /// int: readings less knots, and less one where lost motion was measured.
        dof: usize;
        /// float: sum of squared residuals.
        sum_of_squares: f64;
    }
}

impl CurveFit {
    fn of(py: Python<'_>, fit: Curved) -> PyResult<Self> {
        Ok(Self {
            curve: curve_of(py, fit.curve())?,
            fit: Arc::new(fit),
            columns: Columns::none(),
        })
    }

    fn with(py: Python<'_>, fit: Curved, columns: &Arc<Columns>) -> PyResult<Self> {
        let columns = Arc::clone(columns);
        Ok(Self {
            columns,
            ..Self::of(py, fit)?
        })
    }

    fn key(&self) -> [f64; 3] {
        [self.fit.residual_sd, self.fit.sum_of_squares, self.fit.dof as f64]
    }
}

#[pymethods]
impl CurveFit {
    /// tuple of (float, float): drive angle and measured value of each knot, drive angles rising.
    #[getter]
    fn knots<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        knots_of(py, &self.fit.knots)
    }

    /// tuple of float: standard uncertainty of each knot's measured value.
    #[getter]
    fn u<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        PyTuple::new(py, &self.fit.u)
    }

    /// tuple of float: what the number of knots was chosen by, for each number tried from 2 on; lower is better.
    #[getter]
    fn criterion<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        PyTuple::new(py, &self.fit.criterion)
    }

    /// LostMotion: found with the curve, which lies midway; its `drive` at the curve's mean slope.
    #[getter]
    fn lost_motion<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        lost_motion(py, &self.fit.lost_motion)
    }

    /// BySide: what the side of approach adds to the curve.
    #[getter]
    fn by_side<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        by_side(py, &self.fit.by_side)
    }

    /// (float, float): the measured values at the curve's ends, lower first: the commands of a joint angle.
    #[getter]
    fn command_range(&self) -> (f64, f64) {
        self.fit.command().into()
    }

    /// The measured value that the curve expects at a drive angle.
    ///
    /// Parameters
    /// ----------
    /// drive : float or array_like
    ///     Drive angles of any shape; NaN gives NaN. Beyond the first and the last knot the curve continues as a straight line.
    ///
    /// Returns
    /// -------
    /// float or ndarray
    ///     In measured units.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> drive = [10, 20, 30, 40, 50, 60, 70, 80, 90, 100]
    /// >>> measured = [0.1, 5.9, 12.6, 19.9, 28.1, 37.0, 46.4, 56.7, 67.4, 78.9]
    /// >>> round(float(elb.fit_curve(drive, measured).expected(55)), 1)
    /// 32.4
    fn expected<'py>(&self, py: Python<'py>, drive: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        over(py, drive, "drive", |x| self.curve.at(x))
    }

    /// What a joint needs of this fit, as keywords of `Joint`: `command`, `drive`, `inverted` and `transmission`.
    ///
    /// The inverse of a cubic is not the cubic through the inverted knots, so the joint's curve has more knots
    /// where that shows: until the two differ nowhere by more than half of `residual_sd` or 1/5000 of the measured range,
    /// whichever is more, or 23 knots are reached.
    ///
    /// Parameters
    /// ----------
    /// command : (float, float), optional
    ///     The commands that stand for the measured values at the curve's ends, lower then upper. Left out: those
    ///     measured values, so that a command is a joint angle.
    ///
    /// Returns
    /// -------
    /// dict
    ///
    /// Raises
    /// ------
    /// FitError
    ///     `command` is not a range.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> fit = elb.fit_curve([10, 30, 50, 70, 90, 110], [0.0, 9.1, 20.8, 35.2, 52.0, 71.3])
    /// >>> joint = elb.Joint("crest", rest=30, servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096), **fit.joint_fields())
    /// >>> round(joint.drive(35.2), 1)
    /// 70.1
    #[pyo3(signature = (*, command=None))]
    fn joint_fields<'py>(&self, py: Python<'py>, command: Option<&Bound<'py, PyAny>>) -> PyResult<Bound<'py, PyDict>> {
        let command = command.map_or(Ok(self.fit.command()), |command| pair(command, "command"))?;
        let made = self.fit.joint(command).map_err(|error| fit_error(py, &error))?;
        keywords(py, command, made.drive, made.inverted, &made.transmission)
    }

    /// The joint with this curve as its transmission, rounded to what a file shows; its travel is cut to the curve's ends.
    ///
    /// Parameters
    /// ----------
    /// joint : Joint
    ///     Unchanged itself; the fit's `drive` must have been drive angles of this joint.
    /// command : (float, float), optional
    ///     As for `joint_fields`; left out: six digits of those of the fit.
    /// rest : float, optional
    ///     The rest in these commands; the joint's own if left out.
    ///
    /// Returns
    /// -------
    /// Joint
    ///
    /// Raises
    /// ------
    /// FitError
    ///     `command` is not a range, or the joint's travel lies wholly outside the curve.
    /// JointError
    ///     The joint with this curve is not valid, e.g. its rest lies outside the new commands.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> drive = [10, 20, 30, 40, 50, 60, 70, 80, 90, 100]
    /// >>> measured = [0.1, 5.9, 12.6, 19.9, 28.1, 37.0, 46.4, 56.7, 67.4, 78.9]
    /// >>> crest = elb.Joint("crest", command=(0, 79), drive=(10, 100), rest=30,
    /// ...                  servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                  timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
    /// >>> round(elb.fit_curve(drive, measured).apply_to(crest).drive(40), 1)
    /// 63.3
    #[pyo3(signature = (joint, *, command=None, rest=None))]
    fn apply_to(
        &self,
        joint: &Bound<'_, PyAny>,
        command: Option<&Bound<'_, PyAny>>,
        rest: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<Joint> {
        let py = joint.py();
        applied(joint, command, rest, |entry, command| {
            entry
                .apply_curve(&self.fit, command)
                .map_err(|error| fit_error(py, &error))
        })
    }

    fn __repr__(&self) -> String {
        let sd = Statistic(self.fit.residual_sd);
        let (knots, readings) = (self.fit.knots.len(), self.columns.x.len());
        format!("<CurveFit: {knots} knots, residual SD {sd}, {readings} readings>")
    }
}

drawn! {
    CurveFit, "Draw the readings, the curve with its knots, and below them the residuals.",
    "elbowroom._plot_transmission", "curve_fit",
    "Where to draw readings and curve alone; a new figure", "Those of the readings."
}

/// A mechanism whose dimensions were improved by readings: what `fit_linkage` found.
///
/// Equal fits have equal results; their readings do not count.
///
/// Examples
/// --------
/// >>> import elbowroom as elb
/// >>> drive, measured = [10.0, 25.1, 42.1, 59.4, 75.7, 90.1], [0.0, 15.6, 31.1, 46.7, 62.2, 77.8]
/// >>> elb.fit_linkage(drive, measured, {"kind": "triangle", "base": 40, "arm": 92, "angle_at_zero": 31})
/// <LinkageFit: triangle, base 40, arm 92, angle_at_zero 31, residual SD 0.0988, 6 readings>
#[pyclass(frozen, eq, module = "elbowroom")]
pub(crate) struct LinkageFit {
    pub(crate) fit: Arc<Linked>,
    columns: Arc<Columns>,
}

fitted! {
    LinkageFit [drive, measured, approach] {
        /// float: standard deviation of the readings about the mechanism, free of lost motion, in measured units.
        residual_sd: f64;
        /// int: readings less the dimensions found, offset and gain, and less one where lost motion was measured.
        dof: usize;
        /// float: sum of squared residuals.
        sum_of_squares: f64;
    }
}

impl LinkageFit {
    #[expect(clippy::unnecessary_wraps, reason = "other fits may be no fits at all")]
    fn of(_: Python<'_>, fit: Linked) -> PyResult<Self> {
        Ok(Self {
            fit: Arc::new(fit),
            columns: Columns::none(),
        })
    }

    fn with(fit: Linked, columns: &Arc<Columns>) -> Self {
        Self {
            fit: Arc::new(fit),
            columns: Arc::clone(columns),
        }
    }

    fn key(&self) -> [f64; 3] {
        [self.fit.offset.value, self.fit.gain.value, self.fit.residual_sd]
    }
}

#[pymethods]
impl LinkageFit {
    /// {"triangle", "slider-crank", "four-bar", "spool"}: the kind of mechanism.
    #[getter]
    fn kind(&self) -> &'static str {
        self.fit.mechanism.kind()
    }

    /// tuple of Dimension: all of them in the order of a robot file: found, with their standard uncertainties, or kept as given.
    #[getter]
    fn dimensions<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        let all: Vec<_> = self.fit.dimensions().collect();
        each_of(py, &all, |(name, value, u)| {
            let fields = PyDict::new(py);
            fields.set_item("name", name)?;
            fields.set_item("value", value)?;
            fields.set_item("u", u)?;
            record(py, "Dimension", &fields)
        })
    }

    /// {"left", "right"} or None: the assembly branch, for a slider-crank or four-bar.
    #[getter]
    fn branch(&self) -> Option<&'static str> {
        self.fit.mechanism.branch().map(Branch::as_str)
    }

    /// Estimate: drive angle, deg, at which the servo's side has moved by 0: how the horn sits on its spline.
    #[getter]
    fn offset<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        estimate(py, &self.fit.offset)
    }

    /// Estimate: drive angle per movement of the servo's side: deg per deg, or per unit of length for a triangle.
    #[getter]
    fn gain<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        estimate(py, &self.fit.gain)
    }

    /// (float, float): lowest and highest drive angle of the readings.
    #[getter]
    fn drive_range(&self) -> (f64, f64) {
        self.fit.drive.into()
    }

    /// (float, float): lowest and highest measured value of the readings.
    #[getter]
    fn measured_range(&self) -> (f64, f64) {
        self.fit.measured.into()
    }

    /// LostMotion: found with the dimensions; its `drive` at the mechanism's mean slope over the readings.
    #[getter]
    fn lost_motion<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        lost_motion(py, &self.fit.lost_motion)
    }

    /// BySide: what the side of approach adds to the mechanism, which lies midway.
    #[getter]
    fn by_side<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        by_side(py, &self.fit.by_side)
    }

    /// OtherBranch or None: the other way to put the same links together, where the readings do not tell it from this one, or fit
    /// it better.
    #[getter]
    fn other_branch<'py>(&self, py: Python<'py>) -> PyResult<Option<Bound<'py, PyAny>>> {
        let Some(other) = &self.fit.other_branch else {
            return Ok(None);
        };
        let fields = fields(py, other)?;
        fields.set_item("sentence", other.to_string())?;
        record(py, "OtherBranch", &fields).map(Some)
    }

    /// dict: the mechanism with the keys of a robot file.
    #[getter]
    fn transmission<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        as_dict(py, &TransmissionRecord::<f64>::from(&self.fit.mechanism))
    }

    /// (float, float): the joint angles of the lowest and the highest drive angle read, lower first.
    #[getter]
    fn command_range(&self) -> (f64, f64) {
        self.fit.command().into()
    }

    /// The measured value that the mechanism expects at a drive angle.
    ///
    /// Parameters
    /// ----------
    /// drive : float or array_like
    ///     Drive angles, deg, of any shape; NaN gives NaN.
    ///
    /// Returns
    /// -------
    /// float or ndarray
    ///     In measured units: deg, for a slider-crank the unit of its lengths. NaN where the mechanism cannot reach.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> drive, measured = [10.0, 25.1, 42.1, 59.4, 75.7, 90.1], [0.0, 15.6, 31.1, 46.7, 62.2, 77.8]
    /// >>> fit = elb.fit_linkage(drive, measured, {"kind": "triangle", "base": 40, "arm": 92, "angle_at_zero": 31})
    /// >>> round(float(fit.expected(50.0)), 1)
    /// 38.2
    fn expected<'py>(&self, py: Python<'py>, drive: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        over(py, drive, "drive", |x| self.fit.measured_at(x))
    }

    /// The drive angle of a joint angle: `offset` and `gain` times the movement of the servo's side.
    ///
    /// Parameters
    /// ----------
    /// measured : float or array_like
    ///     Joint angles, deg (places of a slider-crank), of any shape; NaN gives NaN.
    ///
    /// Returns
    /// -------
    /// float or ndarray
    ///     Deg. NaN where the mechanism cannot reach.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> drive, measured = [10.0, 25.1, 42.1, 59.4, 75.7, 90.1], [0.0, 15.6, 31.1, 46.7, 62.2, 77.8]
    /// >>> fit = elb.fit_linkage(drive, measured, {"kind": "triangle", "base": 40, "arm": 92, "angle_at_zero": 31})
    /// >>> round(float(fit.drive_at(38.0)), 1)
    /// 49.8
    fn drive_at<'py>(&self, py: Python<'py>, measured: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        over(py, measured, "measured", |y| self.fit.drive_at(y))
    }

    /// Which of the stops that a limit fit names, lower then upper, may be none.
    ///
    /// Near a dead centre a joint levels off as it does on a stop. There the mechanism, fitted again with the readings beyond,
    /// leaves no more than 1.5 times what it left without them (an assumption of this library). The travel is not changed by
    /// this: look at the joint.
    ///
    /// Parameters
    /// ----------
    /// limits : LimitFit
    ///     With its readings; this must be a fit of what its `between_stops` gave.
    ///
    /// Returns
    /// -------
    /// (bool, bool)
    ///     False for an end where no stop is named, and for a fit without its readings.
    fn explains_stops(&self, py: Python<'_>, limits: &Bound<'_, PyAny>) -> PyResult<(bool, bool)> {
        let limits = limit_fit(limits, "limits")?;
        let found = py.detach(|| self.fit.explains_stops(&limits.fit, &limits.columns.readings()));
        Ok(found.into())
    }

    /// What a joint needs of this fit, as keywords of `Joint`: `command`, `drive`, `inverted` and `transmission`.
    ///
    /// Parameters
    /// ----------
    /// command : (float, float), optional
    ///     Joint angles, lower then upper, which are the commands of a mechanism. Left out: those of the readings
    ///     (`command_range`). Beyond them the mechanism extrapolates.
    ///
    /// Returns
    /// -------
    /// dict
    ///
    /// Raises
    /// ------
    /// FitError
    ///     `command` is not a range, is out of reach, or holds a dead centre or comes too close to one.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> drive, measured = [10.0, 25.1, 42.1, 59.4, 75.7, 90.1], [0.0, 15.6, 31.1, 46.7, 62.2, 77.8]
    /// >>> fit = elb.fit_linkage(drive, measured, {"kind": "triangle", "base": 40, "arm": 92, "angle_at_zero": 31})
    /// >>> joint = elb.Joint("neck", rest=30, servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096), **fit.joint_fields(command=(0, 60)))
    /// >>> joint.transmission["kind"], round(joint.drive(30.0))
    /// ('triangle', 41)
    #[pyo3(signature = (*, command=None))]
    fn joint_fields<'py>(&self, py: Python<'py>, command: Option<&Bound<'py, PyAny>>) -> PyResult<Bound<'py, PyDict>> {
        let command = command.map_or(Ok(self.fit.command()), |command| pair(command, "command"))?;
        let made = self.fit.joint(command).map_err(|error| fit_error(py, &error))?;
        keywords(py, command, made.drive, made.inverted, &made.transmission)
    }

    /// The joint with this mechanism as its transmission, rounded to what a file shows; its travel is cut to its drive range.
    ///
    /// Parameters
    /// ----------
    /// joint : Joint
    ///     Unchanged itself; the fit's `drive` must have been drive angles of this joint.
    /// command : (float, float), optional
    ///     As for `joint_fields`; left out: six digits of those of the fit.
    /// rest : float, optional
    ///     The rest in these commands; the joint's own if left out.
    ///
    /// Returns
    /// -------
    /// Joint
    ///
    /// Raises
    /// ------
    /// FitError
    ///     As for `joint_fields`.
    /// JointError
    ///     The joint with this mechanism is not valid, e.g. its rest lies outside the new commands.
    #[pyo3(signature = (joint, *, command=None, rest=None))]
    fn apply_to(
        &self,
        joint: &Bound<'_, PyAny>,
        command: Option<&Bound<'_, PyAny>>,
        rest: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<Joint> {
        let py = joint.py();
        applied(joint, command, rest, |entry, command| {
            entry
                .apply_linkage(&self.fit, command)
                .map_err(|error| fit_error(py, &error))
        })
    }

    fn __repr__(&self) -> String {
        let sizes = self.fit.dimensions().map(|(name, value, u)| match u {
            Some(_) => format!("{name} {}", Rounded { value, u }.with_u("")),
            None => format!("{name} {value}"),
        });
        let sizes: Vec<String> = sizes.collect();
        format!(
            "<LinkageFit: {}, {}, residual SD {}, {} readings>",
            self.kind(),
            sizes.join(", "),
            Statistic(self.fit.residual_sd),
            self.columns.x.len()
        )
    }
}

drawn! {
    LinkageFit, "Draw the readings and the mechanism's curve, below them the residuals, beside them the mechanism itself.",
    "elbowroom._plot_transmission", "linkage_fit",
    "Where to draw readings and curve alone; a new figure", "Those of the readings."
}

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

    /// The joint with the transmission chosen.
    ///
    /// Parameters
    /// ----------
    /// joint : Joint
    ///     Unchanged itself; the fit's `drive` must have been drive angles of this joint.
    /// command : (float, float), optional
    ///     As for `CurveFit.apply_to` and `LinkageFit.apply_to`. Where a line was chosen the joint keeps its drive range,
    ///     and its commands unless they are given here.
    /// rest : float, optional
    ///     The rest in these commands; the joint's own if left out.
    ///
    /// Returns
    /// -------
    /// Joint
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
    #[pyo3(signature = (joint, *, command=None, rest=None))]
    fn apply_to(
        &self,
        joint: &Bound<'_, PyAny>,
        command: Option<&Bound<'_, PyAny>>,
        rest: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<Joint> {
        let py = joint.py();
        let tried = self.choice.chosen().map(|chosen| &chosen.tried);
        applied(joint, command, rest, |entry, command| {
            let applied = match tried {
                Some(Tried::Curve(fit)) => entry.apply_curve(fit, command),
                Some(Tried::Linkage(fit)) => entry.apply_linkage(fit, command),
                _ => {
                    entry.joint.transmission = TransmissionRecord::Linear {};
                    entry.joint.command = command.unwrap_or(entry.joint.command);
                    Ok(())
                }
            };
            applied.map_err(|error| fit_error(py, &error))
        })
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

/// The compiled half of `elbowroom.fit_curve`.
#[pyfunction]
#[pyo3(signature = (drive, measured, *, most_knots, approach=None))]
pub(crate) fn curve_fit(
    py: Python<'_>,
    drive: &Bound<'_, PyAny>,
    measured: &Bound<'_, PyAny>,
    most_knots: &Bound<'_, PyAny>,
    approach: Option<&Bound<'_, PyAny>>,
) -> PyResult<CurveFit> {
    let most = most(most_knots)?;
    let columns = read_columns(drive, measured, approach)?;
    let found = py.detach(|| fit_curve(&columns.readings(), most));
    CurveFit::with(py, found.map_err(|error| fit_error(py, &error))?, &columns)
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
) -> PyResult<LinkageFit> {
    let start = mechanism(start, "start")?;
    let free = names(free, "free", &start)?;
    let columns = read_columns(drive, measured, approach)?;
    let found = py.detach(|| fit_linkage(&columns.readings(), &start, &free));
    Ok(LinkageFit::with(
        found.map_err(|error| fit_error(py, &error))?,
        &columns,
    ))
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
        choice: Arc::new(found.map_err(|error| fit_error(py, &error))?),
        columns,
        guesses: read,
        most_knots,
    })
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

fn read_columns(
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
fn keywords<'py>(
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

/// The joint with what a fit changes of it.
pub(crate) fn changed(
    joint: &Bound<'_, PyAny>,
    change: impl FnOnce(&mut EntryRecord) -> PyResult<()>,
) -> PyResult<Joint> {
    let py = joint.py();
    let joint = part::<Joint>(joint, "joint", "Joint(...)")?.get();
    let mut entry = EntryRecord::new(&joint.name, joint.both.wide.record());
    change(&mut entry)?;
    Joint::of(joint.name.clone(), entry.joint).map_err(|error| refuse::joint(py, Some(&joint.name), &error))
}

/// The joint with a transmission, its commands and its rest.
fn applied(
    joint: &Bound<'_, PyAny>,
    command: Option<&Bound<'_, PyAny>>,
    rest: Option<&Bound<'_, PyAny>>,
    change: impl FnOnce(&mut EntryRecord, Option<[f64; 2]>) -> PyResult<()>,
) -> PyResult<Joint> {
    let command = command.map(|command| pair(command, "command")).transpose()?;
    let rest = maybe_number(rest, "rest")?;
    changed(joint, |entry| {
        change(entry, command)?;
        entry.joint.rest = rest.unwrap_or(entry.joint.rest);
        Ok(())
    })
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

/// A fit back from its JSON.
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
