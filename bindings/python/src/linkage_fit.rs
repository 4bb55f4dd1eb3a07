//! `LinkageFit`: the core's fitted mechanism as a frozen Python class.

use std::sync::Arc;

use elbowroom::TransmissionRecord;
use elbowroom::fit::{LinkageFit as Fit, fit_linkage};
use elbowroom::linkage::Branch;
use elbowroom::look::{Rounded, Statistic};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use crate::chain::over;
use crate::evidence::{record, record_of};
use crate::fitted::{Columns, by_side, drawn, each_of, estimate, fields, fitted, lost_motion};
use crate::limit_fit::LimitFit;
use crate::numbers::pair;
use crate::records::as_dict;
use crate::refuse;
use crate::transmission::{applied, keywords, mechanism, names, read_columns};

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
    pub(crate) fit: Arc<Fit>,
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
    fn of(_: Python<'_>, fit: Fit) -> PyResult<Self> {
        Ok(Self {
            fit: Arc::new(fit),
            columns: Columns::none(),
        })
    }

    pub(crate) fn with(fit: Fit, columns: &Arc<Columns>) -> Self {
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
        each_of(
            py,
            &all,
            |(name, value, u)| record_of!(py, "Dimension", { name: name, value: value, u: u }),
        )
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
        let limits = LimitFit::given(limits, "limits")?;
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
        let made = self.fit.joint(command).map_err(|error| refuse::fit(py, &error))?;
        keywords(py, command, made.drive, made.inverted, &made.transmission)
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

applied! {
    /// The joint with this mechanism as its transmission, rounded to what a file shows; its travel is cut to its drive range.
    LinkageFit, command: ["As for `joint_fields`; left out: six digits of those of the fit."],
    ///
    /// Raises
    /// ------
    /// FitError
    ///     As for `joint_fields`.
    /// JointError
    ///     The joint with this mechanism is not valid, e.g. its rest lies outside the new commands.
    |this, entry, command| entry.apply_linkage(&this.fit, command)
}

drawn! {
    LinkageFit, "Draw the readings and the mechanism's curve, below them the residuals, beside them the mechanism itself.",
    "elbowroom._plot_transmission", "linkage_fit",
    "Where to draw readings and curve alone; a new figure", "Those of the readings."
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
        found.map_err(|error| refuse::fit(py, &error))?,
        &columns,
    ))
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
