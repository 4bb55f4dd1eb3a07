//! `FeedbackFit`: the core's map from readings to joint angles as a frozen Python class.

use std::sync::Arc;

use elbowroom::curve::Curve;
use elbowroom::fit::{FeedbackFit as Fit, fit_feedback};
use elbowroom::look::Statistic;
use elbowroom::{Code, FeedbackRecord};
use pyo3::prelude::*;
use pyo3::sync::PyOnceLock;
use pyo3::types::PyTuple;

use crate::arrays::column;
use crate::chain::over;
use crate::fitted::{Columns, drawn, fitted};
use crate::joint::Joint;
use crate::numbers::{outside, pair, whole};
use crate::records::as_dict;
use crate::refuse;
use crate::transmission::{curve_of, knots_of, most};

/// A map from readings to joint angles, straight or curved: what `fit_feedback` found.
///
/// Equal fits have equal results; their readings do not count.
///
/// Examples
/// --------
/// >>> import elbowroom as elb
/// >>> elb.fit_feedback([212, 280, 351, 420, 489, 561, 630], [0.0, 9.9, 20.1, 29.8, 40.2, 50.1, 60.0])
/// <FeedbackFit: 2 knots, residual SD 0.186 deg, 7 readings>
#[pyclass(frozen, eq, module = "elbowroom")]
pub(crate) struct FeedbackFit {
    pub(crate) fit: Arc<Fit>,
    curve: Curve<f64>,
    columns: Arc<Columns>,
    /// The sentences of its warnings, once they were asked for.
    warnings: PyOnceLock<Py<PyTuple>>,
}

fitted! {
    FeedbackFit [reading, angle] {
        /// float: standard deviation of the angles about the map, deg.
        residual_sd: f64;
        /// float: standard deviation about the best straight line: how much worse a straight map would be.
        straight_sd: f64;
        /// int: readings that were not left out, less the numbers found.
        dof: usize;
    }
}

impl FeedbackFit {
    fn of(py: Python<'_>, fit: Fit) -> PyResult<Self> {
        Ok(Self {
            curve: curve_of(py, fit.curve())?,
            fit: Arc::new(fit),
            columns: Columns::none(),
            warnings: PyOnceLock::new(),
        })
    }

    fn key(&self) -> [f64; 3] {
        [self.fit.residual_sd, self.fit.straight_sd, self.fit.dof as f64]
    }
}

#[pymethods]
impl FeedbackFit {
    /// tuple of (float, float): reading and joint angle, deg, of each knot, readings rising; two if the map is straight.
    #[getter]
    fn knots<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        knots_of(py, &self.fit.knots)
    }

    /// tuple of float: standard uncertainty of each knot's angle, deg.
    #[getter]
    fn u<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        PyTuple::new(py, &self.fit.u)
    }

    /// tuple of int: the indices of the readings left out, since they lie far off the map through the others, at most one in eight (two
    /// neighbours with exchanged angles count as one), or at an end where the sensor stays level.
    #[getter]
    fn left_out<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        PyTuple::new(py, &self.fit.left_out)
    }

    /// tuple of str: a sentence for what the readings as a whole say against the map (an end at which the sensor stays level, readings
    /// displaced together, wide scatter), and for each reading that lies far off it, with its index, and whether it is left out: check
    /// these before the map is used. Without its readings a fit has only the former.
    #[getter]
    fn warnings<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        let said = self.warnings.get_or_try_init(py, || {
            let far = self.fit.far_off(&self.columns.x, &self.columns.y);
            let far = far.iter().map(|one| format!("index {}: {one}", one.index));
            let whole = self.fit.warnings.iter().map(ToString::to_string);
            PyTuple::new(py, whole.chain(far).collect::<Vec<_>>()).map(Bound::unbind)
        })?;
        Ok(said.bind(py).clone())
    }

    /// (float, float): the joint angles at the map's ends, lower first, deg.
    #[getter]
    fn angle_range(&self) -> (f64, f64) {
        self.fit.angle().into()
    }

    /// The joint angle that the map expects at a reading.
    ///
    /// Parameters
    /// ----------
    /// reading : float or array_like
    ///     Readings of any shape; NaN gives NaN. Beyond the first and the last knot the map continues as a straight line.
    ///
    /// Returns
    /// -------
    /// float or ndarray
    ///     Deg.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> reading = [212, 280, 351, 420, 489, 561, 630, 699, 771, 840]
    /// >>> angle = [0.0, 9.9, 20.1, 29.8, 40.2, 50.1, 60.0, 70.2, 79.9, 90.1]
    /// >>> fit = elb.fit_feedback(reading, angle)
    /// >>> round(float(fit.expected(489)), 1)
    /// 39.8
    fn expected<'py>(&self, py: Python<'py>, reading: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        over(py, reading, "reading", |x| self.curve.at(x))
    }

    /// The `feedback` of a `Joint`, with the keys of a robot file.
    ///
    /// A curve that is cut short gets more knots where it would depart: until it does so nowhere by more than half of
    /// `residual_sd` or 1/5000 of the angles, whichever is more, or 23 knots are reached.
    ///
    /// Parameters
    /// ----------
    /// angle : (float, float), optional
    ///     The joint angles, deg, that the joint's lower and upper command stand for. Left out: those of the readings
    ///     (`angle_range`). Beyond the readings the map continues as a straight line.
    /// adc_bits : int, optional
    ///     Bits of the converter that reads the sensor.
    ///
    /// Returns
    /// -------
    /// dict
    ///
    /// Raises
    /// ------
    /// FitError
    ///     `angle` is not a range.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> reading = [212, 280, 351, 420, 489, 561, 630, 699, 771, 840]
    /// >>> angle = [0.0, 9.9, 20.1, 29.8, 40.2, 50.1, 60.0, 70.2, 79.9, 90.1]
    /// >>> fit = elb.fit_feedback(reading, angle)
    /// >>> fit.feedback(angle=(0, 90), adc_bits=10)["angle"]
    /// [0.0, 90.0]
    #[pyo3(signature = (*, angle=None, adc_bits=None))]
    fn feedback<'py>(
        &self,
        py: Python<'py>,
        angle: Option<&Bound<'py, PyAny>>,
        adc_bits: Option<&Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let angle = angle.map_or(Ok(self.fit.angle()), |angle| pair(angle, "angle"))?;
        let mut made = self.fit.record(angle).map_err(|error| refuse::fit(py, &error))?;
        made.adc_bits = bits(adc_bits)?;
        as_dict(py, &made)
    }

    /// The joint with this map as its feedback, rounded to what a file shows.
    ///
    /// What the fit does not know (bits of the converter, the sensor's turn, its supply) stays as it was. The resistances of
    /// a loaded potentiometer go: what was measured holds the load already.
    ///
    /// Parameters
    /// ----------
    /// joint : Joint
    ///     Unchanged itself.
    /// angle : (float, float), optional
    ///     The joint angles, deg, that the joint's lower and upper command stand for. Left out: its commands are joint
    ///     angles.
    /// adc_bits : int, optional
    ///     Bits of the converter; the joint's own if left out.
    ///
    /// Returns
    /// -------
    /// Joint
    ///
    /// Raises
    /// ------
    /// FitError
    ///     `angle` is not a range.
    /// JointError
    ///     The joint with this map is not valid, e.g. the converter cannot give its readings.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> reading = [212, 280, 351, 420, 489, 561, 630, 699, 771, 840]
    /// >>> angle = [0.0, 9.9, 20.1, 29.8, 40.2, 50.1, 60.0, 70.2, 79.9, 90.1]
    /// >>> fit = elb.fit_feedback(reading, angle)
    /// >>> neck = elb.Joint("neck", command=(0, 90), drive=(20, 130), rest=0,
    /// ...                  servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                  timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
    /// >>> fit.apply_to(neck, adc_bits=10).reading_state(2)
    /// 'lower-rail'
    #[pyo3(signature = (joint, *, angle=None, adc_bits=None))]
    fn apply_to(
        &self,
        py: Python<'_>,
        joint: &Bound<'_, PyAny>,
        angle: Option<&Bound<'_, PyAny>>,
        adc_bits: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<Joint> {
        let angle = angle.map(|angle| pair(angle, "angle")).transpose()?;
        let bits = bits(adc_bits)?;
        Joint::changed(joint, |entry| {
            entry
                .apply_feedback(&self.fit, angle)
                .map_err(|error| refuse::fit(py, &error))?;
            if let (Some(feedback), Some(bits)) = (&mut entry.joint.feedback, bits) {
                feedback.adc_bits = Some(bits);
            }
            Ok(())
        })
    }

    fn __repr__(&self, py: Python<'_>) -> PyResult<String> {
        let warnings = self.warnings(py)?.len();
        Ok(format!(
            "<FeedbackFit: {} knots, residual SD {} deg, {} readings{}>",
            self.fit.knots.len(),
            Statistic(self.fit.residual_sd),
            self.columns.x.len(),
            crate::limit_fit::counted(warnings, "warning", "warnings", "")
        ))
    }
}

drawn! {
    FeedbackFit, "Draw the readings and the map, and below them the residuals.",
    "elbowroom._plot_transmission", "feedback_fit",
    "Where to draw the map alone; a new figure with both panels", "Those of the map."
}

/// The compiled half of `elbowroom.fit_feedback`.
#[pyfunction]
#[pyo3(signature = (reading, angle, *, most_knots))]
pub(crate) fn feedback_fit(
    py: Python<'_>,
    reading: &Bound<'_, PyAny>,
    angle: &Bound<'_, PyAny>,
    most_knots: &Bound<'_, PyAny>,
) -> PyResult<FeedbackFit> {
    let (reading, angle) = (column(reading, "reading")?, column(angle, "angle")?);
    let most = most(most_knots)?;
    let found = py.detach(|| fit_feedback(&reading, &angle, most));
    let made = FeedbackFit::of(py, found.map_err(|error| refuse::fit(py, &error))?)?;
    Ok(FeedbackFit {
        columns: Columns::new(reading, angle, None),
        ..made
    })
}

/// Bits of a converter.
fn bits(given: Option<&Bound<'_, PyAny>>) -> PyResult<Option<u8>> {
    let Some(given) = given else { return Ok(None) };
    let bits = FeedbackRecord::<f64>::ADC_BITS;
    let within = (*bits.start()).into()..=(*bits.end()).into();
    match u8::try_from(whole(given, "adc_bits", within.clone())?) {
        Ok(found) if bits.contains(&found) => Ok(Some(found)),
        _ => {
            let sentence = outside("adc_bits", given, &within);
            Err(refuse::argument_at(given.py(), Code::OptionOutside, &sentence, given))
        }
    }
}
