//! `LimitFit`: the core's fit and the readings that it was made from, as a frozen Python class.

use std::sync::Arc;

use elbowroom::Code;
use elbowroom::fit::{Approach, EndKind, LimitFit as Fit, Warning};
use elbowroom::look::Rounded;
use elbowroom::robot::{EntryRecord, Evidence};
use numpy::PyArray1;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use crate::evidence::{date_of, evidence};
use crate::fit::{approaches, readings, why_not};
use crate::joint::Joint;
use crate::numbers::{part, text};
use crate::pulse::hash_of;
use crate::refuse;
use crate::transmission::{over, read};

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
    drive: Vec<f64>,
    measured: Vec<f64>,
    approach: Option<Vec<Approach>>,
}

impl PartialEq for LimitFit {
    fn eq(&self, other: &Self) -> bool {
        self.fit == other.fit
    }
}

impl LimitFit {
    pub(crate) fn of(fit: Fit, drive: Vec<f64>, measured: Vec<f64>, approach: Option<Vec<Approach>>) -> Self {
        Self {
            fit: Arc::new(fit),
            drive,
            measured,
            approach,
        }
    }

    /// The readings as the core takes them.
    pub(crate) fn columns(&self) -> elbowroom::fit::Readings<'_> {
        readings(&self.drive, &self.measured, self.approach.as_deref())
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
        let place = refuse::Place {
            joint: Some(joint),
            ..refuse::Place::default()
        };
        refuse::exception(py, "FitError", Code::TravelDisjoint, &sentence, py.None(), place)
    }
}

/// A frozen record of the Python half, made by `elbowroom._fit.<maker>` from a record of the core.
fn made<'py>(py: Python<'py>, maker: &str, record: &impl serde::Serialize) -> PyResult<Bound<'py, PyAny>> {
    let fields = pythonize::pythonize(py, record)?;
    py.import("elbowroom._fit")?.call_method1(maker, (fields,))
}

/// The sentences of warnings, in their order.
pub(crate) fn said(warnings: &[Warning]) -> Vec<String> {
    warnings.iter().map(ToString::to_string).collect()
}

/// Fields that cross as they are.
macro_rules! plain {
    ($($(#[doc = $doc:literal])+ $name:ident: $kind:ty;)+) => {
        #[pymethods]
        impl LimitFit {
            $($(#[doc = $doc])+ #[getter] fn $name(&self) -> $kind { self.fit.$name })+
        }
    };
}

plain! {
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

#[pymethods]
impl LimitFit {
    /// Sense: which way the measured value goes when the drive angle rises.
    #[getter]
    fn sense<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        made(py, "sense_of", &self.fit.sense)
    }

    /// End: the end at small drive angles.
    #[getter]
    fn lower<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        made(py, "end_of", &self.fit.lower)
    }

    /// End: the end at large drive angles.
    #[getter]
    fn upper<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        made(py, "end_of", &self.fit.upper)
    }

    /// (float, float) or None: recommended travel; None when guard margin and uncertainty leave nothing. Never beyond the readings.
    #[getter]
    fn travel(&self) -> Option<(f64, f64)> {
        self.fit.travel.map(Into::into)
    }

    /// LostMotion: its size, or why it cannot be determined.
    #[getter]
    fn lost_motion<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let lost = &self.fit.lost_motion;
        let fields = pythonize::pythonize(py, lost)?;
        py.import("elbowroom._fit")?
            .call_method1("lost_motion_of", (fields, why_not(lost)))
    }

    /// Repeatability or None: scatter of repeats; None without repeats.
    #[getter]
    fn repeatability<'py>(&self, py: Python<'py>) -> PyResult<Option<Bound<'py, PyAny>>> {
        let found = self.fit.repeatability.as_ref();
        found.map(|found| made(py, "repeatability_of", found)).transpose()
    }

    /// LineFit: the plain line through the retained readings between the stops.
    #[getter]
    fn line<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        made(py, "line_of", &self.fit.line)
    }

    /// Goodness: how well the model describes the readings.
    #[getter]
    fn goodness<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        made(py, "goodness_of", &self.fit.goodness)
    }

    /// tuple of Rejected: the readings left out.
    #[getter]
    fn rejected<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        made(py, "rejected_of", &self.fit.rejected)
    }

    /// tuple of FitWarning: what one should know about the fit.
    #[getter]
    fn warnings<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let fields = pythonize::pythonize(py, &self.fit.warnings)?;
        let sentences = said(&self.fit.warnings);
        py.import("elbowroom._fit")?
            .call_method1("warnings_of", (fields, sentences))
    }

    /// Advice or None: which readings to take next; None where both ends are proven clear.
    #[getter]
    fn advice<'py>(&self, py: Python<'py>) -> PyResult<Option<Bound<'py, PyAny>>> {
        let found = self.fit.advice.as_ref();
        found.map(|found| made(py, "advice_of", found)).transpose()
    }

    /// tuple of float: coefficients of the model between the stops, powers of (drive - `curve_origin`).
    #[getter]
    fn curve<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        PyTuple::new(py, &self.fit.curve)
    }

    /// tuple of float: the drive angles that were fitted; empty for a fit from JSON without its readings.
    #[getter]
    fn drive<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        PyTuple::new(py, &self.drive)
    }

    /// tuple of float: the measured values that were fitted, one for each drive angle.
    #[getter]
    fn measured<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        PyTuple::new(py, &self.measured)
    }

    /// tuple of {"below", "above", None}, or None: from which side each position was reached, if that was given.
    #[getter]
    fn approach<'py>(&self, py: Python<'py>) -> PyResult<Option<Bound<'py, PyTuple>>> {
        let sides = self.approach.as_ref();
        sides
            .map(|sides| PyTuple::new(py, sides.iter().copied().map(Approach::as_str)))
            .transpose()
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
        PyTuple::new(py, self.fit.residuals(&self.columns()))
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
        let between = self.fit.between_stops(&self.columns());
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
        let joint = part::<Joint>(joint, "joint", "Joint(...)")?.get();
        let mut record = EntryRecord::new(&joint.name, joint.both.wide.record());
        if !record.apply_fit(&self.fit, None) {
            return Err(self.no_travel(py, &joint.name));
        }
        Joint::of(joint.name.clone(), record.joint).map_err(|error| refuse::joint(py, Some(&joint.name), &error))
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

    /// Draw the readings, the model, both ends with their evidence, and the travel.
    ///
    /// Parameters
    /// ----------
    /// path : str or os.PathLike, optional
    ///     Where to save the picture; the ending says how (.svg, .png, .pdf).
    /// ax : matplotlib.axes.Axes, optional
    ///     Where to draw; a new figure if left out.
    /// title : str, optional
    ///
    /// Returns
    /// -------
    /// matplotlib.axes.Axes
    ///
    /// Raises
    /// ------
    /// ImportError
    ///     matplotlib is not installed: ``pip install elbowroom[plot]``.
    #[pyo3(signature = (path=None, *, ax=None, title=None))]
    fn plot<'py>(
        slf: &Bound<'py, Self>,
        path: Option<&Bound<'py, PyAny>>,
        ax: Option<&Bound<'py, PyAny>>,
        title: Option<&Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let module = slf.py().import("elbowroom._plot")?;
        module.call_method1("limit_fit", (slf, path, ax, title))
    }

    /// The results as JSON, without the readings: the record that the shell and the core write.
    ///
    /// Returns
    /// -------
    /// str
    ///     `from_json` makes an equal fit of it, bit for bit.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> drive = [0, 5, 10, 15, 20, 30, 40, 50, 60, 70, 80]
    /// >>> measured = [12.1, 12.0, 12.1, 14.9, 20.1, 30.0, 39.9, 50.1, 60.0, 69.9, 80.1]
    /// >>> fit = elb.fit_limits(drive, measured)
    /// >>> elb.LimitFit.from_json(fit.to_json()) == fit
    /// True
    fn to_json(&self, py: Python<'_>) -> PyResult<String> {
        crate::fit::json(py, &*self.fit)
    }

    /// A fit from what `to_json` wrote.
    ///
    /// Parameters
    /// ----------
    /// text : str
    /// drive, measured : array_like, shape (n,), optional
    ///     The readings that it was made from, for `plot` and `between_stops`.
    /// approach : sequence of {"below", "above", None}, optional
    ///     From which side each position was reached.
    ///
    /// Returns
    /// -------
    /// LimitFit
    ///
    /// Raises
    /// ------
    /// ArgumentTypeError
    ///     The text is not a record of a fit.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> drive = [0, 5, 10, 15, 20, 30, 40, 50, 60, 70, 80]
    /// >>> measured = [12.1, 12.0, 12.1, 14.9, 20.1, 30.0, 39.9, 50.1, 60.0, 69.9, 80.1]
    /// >>> fit = elb.fit_limits(drive, measured)
    /// >>> elb.LimitFit.from_json(fit.to_json(), drive=drive, measured=measured).between_stops()["drive"]
    /// array([15., 20., 30., 40., 50., 60., 70., 80.])
    #[staticmethod]
    #[pyo3(signature = (text, *, drive=None, measured=None, approach=None))]
    fn from_json(
        text: &Bound<'_, PyAny>,
        drive: Option<&Bound<'_, PyAny>>,
        measured: Option<&Bound<'_, PyAny>>,
        approach: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<Self> {
        let kept = |given: Option<&Bound<'_, PyAny>>, what| match given {
            Some(given) => crate::arrays::column(given, what).map(|column| column.to_vec()),
            None => Ok(Vec::new()),
        };
        let fit = read(text.py(), &self::text(text, "text")?)?;
        Ok(Self::of(
            fit,
            kept(drive, "drive")?,
            kept(measured, "measured")?,
            approaches(approach)?,
        ))
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyTuple>)> {
        let (py, this) = (slf.py(), slf.get());
        let restored = py.import("elbowroom._fit")?.getattr("restored")?;
        let whole = (
            this.to_json(py)?,
            this.drive(py)?,
            this.measured(py)?,
            this.approach(py)?,
        );
        Ok((restored, whole.into_pyobject(py)?))
    }

    fn __hash__(&self) -> u64 {
        let fit = &self.fit;
        // A zero of either sign is equal, so it hashes alike.
        hash_of(
            &[fit.slope, fit.intercept, fit.lower.at, fit.upper.at].map(|x| x + 0.0),
            fit.readings,
        )
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
        let count = |count: usize, one: &str, many: &str, after: &str| match count {
            0 => String::new(),
            1 => format!(", 1 {one}{after}"),
            count => format!(", {count} {many}{after}"),
        };
        format!(
            "<LimitFit: lower {}, upper {}, {travel}, {} readings{}{}>",
            end(&fit.lower),
            end(&fit.upper),
            fit.readings,
            count(fit.warnings.len(), "warning", "warnings", ""),
            count(fit.rejected.len(), "reading", "readings", " left out")
        )
    }

    fn _repr_html_<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        slf.py().import("elbowroom._fit")?.call_method1("table_of", (slf,))
    }
}
