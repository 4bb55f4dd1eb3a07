//! `LimitFit`: the core's fit and the readings that it was made from, as a frozen Python class.

use std::sync::Arc;

use elbowroom::Code;
use elbowroom::fit::{Advice, Approach, End, EndKind, LimitFit as Fit, Warning};
use elbowroom::look::Rounded;
use elbowroom::robot::Evidence;
use numpy::PyArray1;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use crate::chain::over;
use crate::evidence::{date_of, evidence, record, record_of};
use crate::fitted::{Columns, drawn, each_of, estimate, fields, fitted, lost_motion, made, told};
use crate::joint::Joint;
use crate::line::LineFit;
use crate::numbers::part;
use crate::refuse::{self, Place};

/// Limits of a joint with their evidence: what `fit_limits` found.
///
/// Units: `slope` in measured per drive; positions along the drive in drive angle (or whatever `drive` was given in);
/// levels, residuals and lost motion in measured units. No number is NaN or infinite. Equal fits have equal results; their
/// readings do not count.
///
/// Examples
/// --------
/// >>> import elbowroom as elb
/// >>> drive = [0, 5, 10, 15, 20, 30, 40, 50, 60, 70, 80]
/// >>> measured = [12.1, 12.0, 12.1, 14.9, 20.1, 30.0, 39.9, 50.1, 60.0, 69.9, 80.1]
/// >>> elb.fit_limits(drive, measured)
/// <LimitFit: lower contact at 12.088, upper clear to 80, travel 14.381 to 80, 11 readings>
#[pyclass(frozen, eq, module = "elbowroom")]
pub(crate) struct LimitFit {
    pub(crate) fit: Arc<Fit>,
    pub(crate) columns: Arc<Columns>,
}

impl LimitFit {
    #[expect(clippy::unnecessary_wraps, reason = "other fits may be no fits at all")]
    fn of(_: Python<'_>, fit: Fit) -> PyResult<Self> {
        Ok(Self::with(fit, Columns::none()))
    }

    pub(crate) fn with(fit: Fit, columns: Arc<Columns>) -> Self {
        Self {
            fit: Arc::new(fit),
            columns,
        }
    }

    /// An argument that must be a fit of limits.
    pub(crate) fn given<'a>(given: &'a Bound<'_, PyAny>, what: &str) -> PyResult<&'a Self> {
        Ok(part::<Self>(given, what, "a LimitFit")?.get())
    }

    fn key(&self) -> [f64; 4] {
        let fit = &self.fit;
        [fit.slope, fit.intercept, fit.lower.at, fit.upper.at]
    }

    /// The refusal where guard margin and uncertainty leave no travel.
    pub(crate) fn no_travel(&self, py: Python<'_>, joint: &str) -> PyErr {
        let why = self
            .fit
            .warnings
            .iter()
            .find(|warning| matches!(warning, Warning::NoTravel { .. }));
        let sentence = why.map_or_else(
            || "guard margin and uncertainty leave no travel".into(),
            ToString::to_string,
        );
        let place = Place::of(Some(joint));
        refuse::exception(py, "FitError", Code::TravelDisjoint, &sentence, py.None(), place)
    }
}

/// The sentences of warnings, in their order.
pub(crate) fn said(warnings: &[Warning]) -> Vec<String> {
    warnings.iter().map(ToString::to_string).collect()
}

fitted! {
    LimitFit [drive, measured, approach] {
        /// float: measured per drive between the stops.
        slope: f64;
        /// float: standard uncertainty of `slope`.
        u_slope: f64;
        /// float: measured value of the line at drive 0.
        intercept: f64;
        /// float: standard uncertainty of `intercept`.
        u_intercept: f64;
        /// float: covariance of `slope` and `intercept`.
        covariance: f64;
        /// float: standard deviation of the retained readings about the model.
        residual_sd: f64;
        /// int: degrees of freedom of `residual_sd`.
        dof: usize;
        /// int: readings given.
        readings: usize;
        /// bool: no side of approach was given; the sides were inferred from the order of the readings.
        approach_inferred: bool;
        /// float or None: step of the measured values, as given or as the grid on which they lie; None where they lie on none
        /// that matters.
        resolution: Option<f64>;
        /// bool: `resolution` was not given but seen from the values.
        resolution_inferred: bool;
        /// float: coverage probability of the intervals.
        confidence: f64;
        /// float: where the powers of `curve` start, in drive angle.
        curve_origin: f64;
    }
}

#[pymethods]
impl LimitFit {
    /// Sense: which way the measured value goes when the drive angle rises.
    #[getter]
    fn sense<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        made(py, "Sense", &self.fit.sense)
    }

    /// End: the end at small drive angles.
    #[getter]
    fn lower<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        end(py, &self.fit.lower)
    }

    /// End: the end at large drive angles.
    #[getter]
    fn upper<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        end(py, &self.fit.upper)
    }

    /// {"below", "above"} or None: the side from which all positions were reached, given or shown by rows that go one way; None in any
    /// other table.
    #[getter]
    fn one_way(&self) -> Option<&'static str> {
        self.fit.one_way.and_then(Approach::as_str)
    }

    /// (float, float) or None: recommended travel; None when guard margin and uncertainty leave nothing. Never beyond the readings.
    #[getter]
    fn travel(&self) -> Option<(f64, f64)> {
        self.fit.travel.map(Into::into)
    }

    /// LostMotion: its size, or why it cannot be determined.
    #[getter]
    fn lost_motion<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        lost_motion(py, &self.fit.lost_motion)
    }

    /// Repeatability or None: scatter of repeats; None without repeats.
    #[getter]
    fn repeatability<'py>(&self, py: Python<'py>) -> PyResult<Option<Bound<'py, PyAny>>> {
        let found = self.fit.repeatability.as_ref();
        found.map(|found| made(py, "Repeatability", found)).transpose()
    }

    /// LineFit: the plain line through the retained readings between the stops.
    #[getter]
    fn line(&self, py: Python<'_>) -> PyResult<LineFit> {
        LineFit::of(py, self.fit.line)
    }

    /// Goodness: how well the model describes the readings.
    #[getter]
    fn goodness<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        made(py, "Goodness", &self.fit.goodness)
    }

    /// tuple of Rejected: the readings left out.
    #[getter]
    fn rejected<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        each_of(py, &self.fit.rejected, |one| made(py, "Rejected", one))
    }

    /// tuple of FitWarning: what one should know about the fit.
    #[getter]
    fn warnings<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        each_of(py, &self.fit.warnings, |one| told(py, "FitWarning", one))
    }

    /// Advice or None: which readings to take next; None where both ends are proven clear.
    #[getter]
    fn advice<'py>(&self, py: Python<'py>) -> PyResult<Option<Bound<'py, PyAny>>> {
        let found = self.fit.advice.as_ref();
        found.map(|found| advice(py, found)).transpose()
    }

    /// tuple of float: coefficients of the model between the stops, powers of (drive - `curve_origin`).
    #[getter]
    fn curve<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        PyTuple::new(py, &self.fit.curve)
    }

    /// The measured value that the model expects at a drive angle, midway between both approaches.
    ///
    /// Parameters
    /// ----------
    /// drive : float or array_like
    ///     Drive angles of any shape; NaN gives NaN. Beyond a contact the value stays at the stop.
    ///
    /// Returns
    /// -------
    /// float or ndarray
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> drive = [0, 5, 10, 15, 20, 30, 40, 50, 60, 70, 80]
    /// >>> measured = [12.1, 12.0, 12.1, 14.9, 20.1, 30.0, 39.9, 50.1, 60.0, 69.9, 80.1]
    /// >>> fit = elb.fit_limits(drive, measured)
    /// >>> round(float(fit.expected(40)), 1)
    /// 40.0
    fn expected<'py>(&self, py: Python<'py>, drive: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        over(py, drive, "drive", |x| self.fit.expected(x))
    }

    /// (float, ...): the residual of each reading from the model with its lost motion: measured less expected from its own side.
    #[getter]
    fn residuals<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        PyTuple::new(py, self.fit.residuals(&self.columns.readings()))
    }

    /// The readings that show the transmission alone: between the stops, without those left out.
    ///
    /// Those beyond an end at which the joint hardly moves (``"level-beyond"``) are left out as well.
    ///
    /// Returns
    /// -------
    /// BetweenStops
    ///     A dict of `drive`, `measured` and `approach`, as they were given, for `fit_curve`, `fit_linkage` and
    ///     `choose_transmission` by ``**``; empty for a fit without its readings, as one from JSON may be.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> drive = [0, 5, 10, 15, 20, 30, 40, 50, 60, 70, 80]
    /// >>> measured = [12.1, 12.0, 12.1, 14.9, 20.1, 30.0, 39.9, 50.1, 60.0, 69.9, 80.1]
    /// >>> between = elb.fit_limits(drive, measured).between_stops()
    /// >>> between["drive"]
    /// array([15., 20., 30., 40., 50., 60., 70., 80.])
    /// >>> elb.choose_transmission(**between).chosen.kind
    /// 'linear'
    fn between_stops<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let between = self.fit.between_stops(&self.columns.readings());
        let words: Option<Vec<_>> = between
            .approach
            .map(|sides| sides.into_iter().map(Approach::as_str).collect());
        let fields = PyDict::new(py);
        fields.set_item("drive", PyArray1::from_vec(py, between.drive))?;
        fields.set_item("measured", PyArray1::from_vec(py, between.measured))?;
        fields.set_item("approach", words)?;
        Ok(fields)
    }

    /// The joint with this fit's travel, rounded inward to thousandths of a degree.
    ///
    /// Parameters
    /// ----------
    /// joint : Joint
    ///     Unchanged itself; the fit's `drive` must have been drive angles of this joint.
    ///
    /// Returns
    /// -------
    /// Joint
    ///
    /// Raises
    /// ------
    /// FitError
    ///     Guard margin and uncertainty leave no travel.
    /// JointError
    ///     The joint with that travel is not valid.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> drive = [0, 5, 10, 15, 20, 30, 40, 50, 60, 70, 80]
    /// >>> measured = [12.1, 12.0, 12.1, 14.9, 20.1, 30.0, 39.9, 50.1, 60.0, 69.9, 80.1]
    /// >>> fit = elb.fit_limits(drive, measured)
    /// >>> joint = elb.Joint("wing", command=(0, 80), drive=(0, 80), rest=40,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
    /// >>> fit.apply_to(joint).travel
    /// (14.381, 80.0)
    fn apply_to(&self, py: Python<'_>, joint: &Bound<'_, PyAny>) -> PyResult<Joint> {
        Joint::changed(joint, |entry| match entry.apply_fit(&self.fit, None) {
            true => Ok(()),
            false => Err(self.no_travel(py, &entry.name)),
        })
    }

    /// What this fit proves, as a robot file writes it.
    ///
    /// Parameters
    /// ----------
    /// date : datetime.date, optional
    ///     The day on which the readings were taken.
    ///
    /// Returns
    /// -------
    /// Evidence
    ///     Without the sense of the feedback, which a fit does not show.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> drive = [0, 5, 10, 15, 20, 30, 40, 50, 60, 70, 80]
    /// >>> measured = [12.1, 12.0, 12.1, 14.9, 20.1, 30.0, 39.9, 50.1, 60.0, 69.9, 80.1]
    /// >>> fit = elb.fit_limits(drive, measured)
    /// >>> fit.evidence().upper.kind
    /// 'clear'
    #[pyo3(signature = (date=None))]
    fn evidence<'py>(&self, py: Python<'py>, date: Option<&Bound<'py, PyAny>>) -> PyResult<Bound<'py, PyAny>> {
        let date = date.map(|date| date_of(date, "date")).transpose()?;
        evidence(py, &Evidence::from_fit(&self.fit, date))
    }

    fn __repr__(&self) -> String {
        let fit = &self.fit;
        let digits = |value, u| Rounded { value, u };
        let end = |end: &elbowroom::fit::End| match (end.kind, end.short_at) {
            (EndKind::Stalled, Some(short)) => {
                format!("stalled between {} and {}", digits(end.at, None), digits(short, None))
            }
            (EndKind::Clear, _) => format!("clear to {}", digits(end.at, None)),
            (kind, _) => format!("{} at {}", kind.as_str(), digits(end.at, end.u)),
        };
        let travel = match fit.travel {
            Some([lower, upper]) => format!(
                "travel {} to {}",
                digits(lower, fit.lower.u),
                digits(upper, fit.upper.u)
            ),
            None => "no travel".into(),
        };
        format!(
            "<LimitFit: lower {}, upper {}, {travel}, {} readings{}{}>",
            end(&fit.lower),
            end(&fit.upper),
            fit.readings,
            counted(fit.warnings.len(), "warning", "warnings", ""),
            counted(fit.rejected.len(), "reading", "readings", " left out")
        )
    }

    fn _repr_html_<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        slf.py().import("elbowroom._fit")?.call_method1("table_of", (slf,))
    }
}

drawn! {
    LimitFit, "Draw the readings, the model, both ends with their evidence, and the travel.",
    "elbowroom._plot", "limit_fit", "Where to draw; a new figure", "",
    ">>> import elbowroom as elb
>>> drive = [0, 5, 10, 15, 20, 30, 40, 50, 60, 70, 80]
>>> measured = [12.1, 12.0, 12.1, 14.9, 20.1, 30.0, 39.9, 50.1, 60.0, 69.9, 80.1]
>>> fit = elb.fit_limits(drive, measured)
>>> fit.plot(title='wing_left').get_title()
'wing_left'"
}

/// How many, where there are any, at the end of a description.
pub(crate) fn counted(count: usize, one: &str, many: &str, after: &str) -> String {
    match count {
        0 => String::new(),
        1 => format!(", 1 {one}{after}"),
        count => format!(", {count} {many}{after}"),
    }
}

fn end<'py>(py: Python<'py>, end: &End) -> PyResult<Bound<'py, PyAny>> {
    let fields = fields(py, end)?;
    let level = end.level.as_ref();
    fields.set_item("level", level.map(|level| estimate(py, level)).transpose()?)?;
    record(py, "End", &fields)
}

fn advice<'py>(py: Python<'py>, found: &Advice) -> PyResult<Bound<'py, PyAny>> {
    let fields = fields(py, found)?;
    let readings = each_of(
        py,
        &found.readings,
        |next| record_of!(py, "NextReading", { drive: next.drive, approach: next.approach.as_str() }),
    )?;
    fields.set_item("readings", readings)?;
    record(py, "Advice", &fields)
}
