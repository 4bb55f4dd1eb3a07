//! `LineFit`: the core's straight line as a frozen Python class.

use std::sync::Arc;

use elbowroom::Code;
use elbowroom::fit::{Estimate, LineFit as Fit, fit_line, fit_line_both, fit_line_weighted};
use elbowroom::look::Rounded;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyFloat};

use crate::arrays::{Input, column};
use crate::chain::{each, raise_fault};
use crate::evidence::record_of;
use crate::fitted::{estimate, fitted};
use crate::numbers::{maybe_number, number, pair, plain};
use crate::refuse;

/// A least-squares line with its standard uncertainties (JCGM 100, H.3).
///
/// Examples
/// --------
/// >>> import elbowroom as elb
/// >>> elb.fit_line([1, 2, 3, 4, 5, 6], [3.3, 5.6, 7.1, 9.3, 10.7, 12.1], u_y=[0.5] * 6)
/// <LineFit: slope 1.76, standard uncertainty 0.12, intercept 1.87, standard uncertainty 0.47, 6 points>
#[pyclass(frozen, eq, module = "elbowroom")]
pub(crate) struct LineFit {
    fit: Arc<Fit>,
}

fitted! {
    LineFit {
        /// float: value at x = 0.
        intercept: f64;
        /// float: change of y per x.
        slope: f64;
        /// float: standard uncertainty of `intercept`.
        u_intercept: f64;
        /// float: standard uncertainty of `slope`.
        u_slope: f64;
        /// float: covariance of `intercept` and `slope`.
        covariance: f64;
        /// float: standard deviation of the points about the line; with stated uncertainties, of the residuals in units of them.
        residual_sd: f64;
        /// int: points less parameters.
        dof: usize;
        /// int: points.
        n: usize;
        /// float: share of the variance that the line explains.
        r_squared: f64;
        /// float: sum of squared residuals, or the chi-squared observed.
        sum_of_squares: f64;
        /// bool: the uncertainties come from stated ones, not from the scatter.
        stated_u: bool;
    }
}

impl LineFit {
    #[expect(clippy::unnecessary_wraps, reason = "other fits may be no fits at all")]
    pub(crate) fn of(_: Python<'_>, fit: Fit) -> PyResult<Self> {
        Ok(Self { fit: Arc::new(fit) })
    }

    fn key(&self) -> [f64; 4] {
        [
            self.fit.slope,
            self.fit.intercept,
            self.fit.u_slope,
            self.fit.residual_sd,
        ]
    }
}

#[pymethods]
impl LineFit {
    /// What a joint needs of a line of measured values over drive angles, as keywords of `Joint`: `command`, `drive` and `inverted`.
    ///
    /// Parameters
    /// ----------
    /// drive : (float, float)
    ///     The drive range, deg, lower then upper: the outermost drive angles of the readings, or less.
    /// command : (float, float), optional
    ///     The commands that stand for the measured values of the line at these ends, lower then upper. Left out: those measured values,
    ///     so that a command is a joint angle.
    ///
    /// Returns
    /// -------
    /// dict
    ///
    /// Raises
    /// ------
    /// FitError
    ///     `drive` or `command` is not a range, or the line is level.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> line = elb.fit_line([40, 60, 80, 100], [-36, -13, 10, 34])
    /// >>> joint = elb.Joint("wing_left", rest=0, servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096), **line.joint_fields(drive=(40, 100)))
    /// >>> round(joint.drive(10), 1)
    /// 79.7
    #[pyo3(signature = (*, drive, command=None))]
    fn joint_fields<'py>(
        &self,
        py: Python<'py>,
        drive: &Bound<'py, PyAny>,
        command: Option<&Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyDict>> {
        let command = command.map(|command| pair(command, "command")).transpose()?;
        let made = self.fit.joint(pair(drive, "drive")?, command);
        let made = made.map_err(|error| refuse::fit(py, &error))?;
        let fields = PyDict::new(py);
        fields.set_item("command", <(f64, f64)>::from(made.command))?;
        fields.set_item("drive", <(f64, f64)>::from(made.drive))?;
        fields.set_item("inverted", made.inverted)?;
        Ok(fields)
    }

    /// Return the line's value at `x` and its standard uncertainty (JCGM 100, H.3.4; ISO/TS 28037, 11.2).
    ///
    /// Parameters
    /// ----------
    /// x : float or array_like
    ///     Where, of any shape; NaN gives NaN.
    /// u_x : float, default 0.0
    ///     Standard uncertainty of `x` itself, of each one.
    ///
    /// Returns
    /// -------
    /// Estimate or Estimates
    ///     One for a single `x`; two arrays of the shape of `x` otherwise.
    ///
    /// Raises
    /// ------
    /// ArgumentTypeError
    ///     What holds no real numbers.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> line = elb.fit_line([1, 2, 3, 4, 5, 6], [3.3, 5.6, 7.1, 9.3, 10.7, 12.1], u_y=[0.5] * 6)
    /// >>> line.predict([1.0, 3.5, 6.0]).u.round(3).tolist()
    /// [0.362, 0.204, 0.362]
    #[pyo3(signature = (x, *, u_x=None), text_signature = "($self, x, *, u_x=0.0)")]
    fn predict<'py>(
        &self,
        py: Python<'py>,
        x: &Bound<'py, PyAny>,
        u_x: Option<&Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let u = u_x.map_or(Ok(0.0), |u| number(u, "u_x"))?;
        if let Some(x) = plain(x, "x") {
            return estimate(py, &self.fit.predict_from(Estimate { value: x?, u }));
        }
        let run = |part: fn(Estimate) -> f64| {
            Input::wide(x, "x")?
                .run(
                    None,
                    |from, to| each(from, to, |value| Ok(part(self.fit.predict_from(Estimate { value, u })))),
                    None,
                )
                .map_err(|fault| raise_fault(py, None, "x", fault))
        };
        let (value, u) = (run(|found| found.value)?, run(|found| found.u)?);
        // One of numpy's numbers comes back as one.
        if let (Ok(value), Ok(u)) = (value.cast::<PyFloat>(), u.cast::<PyFloat>()) {
            let (value, u) = (value.value(), u.value());
            return estimate(py, &Estimate { value, u });
        }
        record_of!(py, "Estimates", { value: value, u: u })
    }

    /// Return the `x` at which these observations of y were made (ISO/TS 28037, 11.1).
    ///
    /// Parameters
    /// ----------
    /// observed : array_like, shape (m,)
    ///     Observations, all made at that one `x`.
    /// u_y : float, optional
    ///     Standard uncertainty of each; left out, `residual_sd` stands for it.
    ///
    /// Returns
    /// -------
    /// Estimate
    ///
    /// Raises
    /// ------
    /// ArgumentError
    ///     Without observations, with one that is not finite, or for a level line.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> line = elb.fit_line([1, 2, 3, 4, 5, 6], [3.3, 5.6, 7.1, 9.3, 10.7, 12.1], u_y=[0.5] * 6)
    /// >>> x = line.inverse([10.5], u_y=0.5)
    /// >>> round(x.value, 2), round(x.u, 2)
    /// (4.91, 0.32)
    #[pyo3(signature = (observed, *, u_y=None))]
    fn inverse<'py>(
        &self,
        py: Python<'py>,
        observed: &Bound<'py, PyAny>,
        u_y: Option<&Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let found = self
            .fit
            .inverse(&column(observed, "observed")?, maybe_number(u_y, "u_y")?);
        let found = found.ok_or_else(|| {
            let sentence =
                "these observations do not determine x; give finite observations, and a line whose slope is not 0";
            refuse::argument(py, Code::OptionOutside, sentence)
        })?;
        estimate(py, &found)
    }

    /// Return the factor that turns a standard uncertainty into a coverage interval's half width.
    ///
    /// Parameters
    /// ----------
    /// confidence : float, default 0.95
    ///     Coverage probability, above 0 and below 1.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> line = elb.fit_line([1, 2, 3, 4, 5, 6], [3.3, 5.6, 7.1, 9.3, 10.7, 12.1], u_y=[0.5] * 6)
    /// >>> round(line.coverage_factor(), 2)
    /// 1.96
    #[pyo3(signature = (confidence=None), text_signature = "($self, confidence=0.95)")]
    fn coverage_factor(&self, confidence: Option<&Bound<'_, PyAny>>) -> PyResult<f64> {
        let usual = elbowroom::fit::FitOptions::default().confidence;
        Ok(self
            .fit
            .coverage_factor(confidence.map_or(Ok(usual), |given| number(given, "confidence"))?))
    }

    fn __repr__(&self) -> String {
        let fit = &self.fit;
        let shown = |value, u| Rounded { value, u: Some(u) }.with_u("").to_string();
        format!(
            "<LineFit: slope {}, intercept {}, {} points>",
            shown(fit.slope, fit.u_slope),
            shown(fit.intercept, fit.u_intercept),
            fit.n
        )
    }
}

/// The compiled half of `elbowroom.fit_line`.
#[pyfunction]
#[pyo3(signature = (x, y, *, u_x=None, u_y=None))]
pub(crate) fn line_fit(
    py: Python<'_>,
    x: &Bound<'_, PyAny>,
    y: &Bound<'_, PyAny>,
    u_x: Option<&Bound<'_, PyAny>>,
    u_y: Option<&Bound<'_, PyAny>>,
) -> PyResult<LineFit> {
    let (x, y) = (column(x, "x")?, column(y, "y")?);
    let u_x = u_x.map(|u| column(u, "u_x")).transpose()?;
    let u_y = u_y.map(|u| column(u, "u_y")).transpose()?;
    let found = match (&u_x, &u_y) {
        (None, None) => fit_line(&x, &y),
        (None, Some(u_y)) => fit_line_weighted(&x, &y, u_y),
        (Some(u_x), Some(u_y)) => fit_line_both(&x, &y, u_x, u_y),
        (Some(_), None) => {
            let sentence = "u_x is given without u_y; give the standard uncertainty of each y as well";
            return Err(refuse::argument(py, Code::OptionOutside, sentence));
        }
    };
    LineFit::of(py, found.map_err(|error| refuse::fit(py, &error))?)
}
