//! `CurveFit`: the core's fitted curve as a frozen Python class.

use std::sync::Arc;

use elbowroom::curve::Curve;
use elbowroom::fit::{CurveFit as Fit, fit_curve};
use elbowroom::look::Statistic;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use crate::chain::over;
use crate::fitted::{Columns, by_side, drawn, fitted, lost_motion};
use crate::numbers::pair;
use crate::refuse;
use crate::transmission::{applied, curve_of, keywords, knots_of, most, read_columns};

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
    pub(crate) fit: Arc<Fit>,
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
    fn of(py: Python<'_>, fit: Fit) -> PyResult<Self> {
        Ok(Self {
            curve: curve_of(py, fit.curve())?,
            fit: Arc::new(fit),
            columns: Columns::none(),
        })
    }

    pub(crate) fn with(py: Python<'_>, fit: Fit, columns: &Arc<Columns>) -> PyResult<Self> {
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
        let made = self.fit.joint(command).map_err(|error| refuse::fit(py, &error))?;
        keywords(py, command, made.drive, made.inverted, &made.transmission)
    }

    fn __repr__(&self) -> String {
        let sd = Statistic(self.fit.residual_sd);
        let (knots, readings) = (self.fit.knots.len(), self.columns.x.len());
        format!("<CurveFit: {knots} knots, residual SD {sd}, {readings} readings>")
    }
}

applied! {
    /// The joint with this curve as its transmission, rounded to what a file shows; its travel is cut to the curve's ends.
    CurveFit, command: ["As for `joint_fields`; left out: six digits of those of the fit."],
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
    |this, entry, command| entry.apply_curve(&this.fit, command)
}

drawn! {
    CurveFit, "Draw the readings, the curve with its knots, and below them the residuals.",
    "elbowroom._plot_transmission", "curve_fit",
    "Where to draw readings and curve alone; a new figure", "Those of the readings."
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
    CurveFit::with(py, found.map_err(|error| refuse::fit(py, &error))?, &columns)
}
