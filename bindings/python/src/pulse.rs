//! `Servo` and `Timer` as frozen Python classes.

use std::hash::{DefaultHasher, Hash, Hasher};

use elbowroom::{ServoRecord, TimerRecord};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyFloat, PyInt, PyTuple};

use crate::arrays::Input;
use crate::chain::{Both, Refusal, conversions, each, raise, raise_fault};
use crate::numbers::{number, pair, plain, whole};
use crate::refuse;

/// Two equal things hash alike: each number by its bits (the core keeps no -0 and no NaN).
pub(crate) fn hash_of(numbers: &[f64], rest: impl Hash) -> u64 {
    let mut hasher = DefaultHasher::new();
    for number in numbers {
        number.to_bits().hash(&mut hasher);
    }
    rest.hash(&mut hasher);
    hasher.finish()
}

/// A float as Python writes it, so that it reads back as the same bits.
pub(crate) fn shown(py: Python<'_>, x: f64) -> PyResult<String> {
    Ok(PyFloat::new(py, x).repr()?.to_string())
}

fn shown_pair(py: Python<'_>, [lower, upper]: [f64; 2]) -> PyResult<String> {
    Ok(format!("({}, {})", shown(py, lower)?, shown(py, upper)?))
}

/// A hobby servo: which pulse width asks for which drive angle.
///
/// Linear, and exact at both ends.
///
/// Parameters
/// ----------
/// angle : (float, float)
///     Lower and upper angle, deg of the servo's own travel.
/// pulse_us : (float, float)
///     The pulse widths at those angles, microseconds; the lower above zero.
///
/// Raises
/// ------
/// JointError
///     Ends that are swapped, equal or not finite; a pulse width of zero or less.
///
/// Examples
/// --------
/// >>> import elbowroom as elb
/// >>> servo = elb.Servo(angle=(0, 180), pulse_us=(500, 2500))
/// >>> servo.pulse_us(90.0), servo.angle(2500.0)
/// (1500.0, 180.0)
#[pyclass(frozen, module = "elbowroom")]
pub(crate) struct Servo {
    pub(crate) both: Both<elbowroom::Servo<f64>, elbowroom::Servo<f32>>,
}

impl Servo {
    pub(crate) fn record(&self) -> ServoRecord<f64> {
        self.both.wide.into()
    }

    pub(crate) fn of(record: ServoRecord<f64>) -> Result<Self, elbowroom::JointError> {
        let narrow = record.map(|x| x as f32);
        Ok(Self {
            both: Both {
                wide: elbowroom::Servo::new(record.angle, record.pulse_us)?,
                narrow: elbowroom::Servo::new(narrow.angle, narrow.pulse_us),
            },
        })
    }
}

#[pymethods]
impl Servo {
    #[new]
    #[pyo3(signature = (*, angle, pulse_us))]
    fn new(py: Python<'_>, angle: &Bound<'_, PyAny>, pulse_us: &Bound<'_, PyAny>) -> PyResult<Self> {
        let record = ServoRecord {
            angle: pair(angle, "servo.angle")?,
            pulse_us: pair(pulse_us, "servo.pulse_us")?,
        };
        Self::of(record).map_err(|error| refuse::joint(py, None, &error))
    }

    /// (float, float): lower and upper angle, deg.
    #[getter]
    fn angle_range(&self) -> (f64, f64) {
        self.record().angle.into()
    }

    /// (float, float): the pulse widths at those angles, microseconds.
    #[getter]
    fn pulse_range_us(&self) -> (f64, f64) {
        self.record().pulse_us.into()
    }
}

conversions! {
    Servo as |_this| None;

    /// The pulse width that asks for a drive angle.
    ///
    /// Parameters
    /// ----------
    /// drive : float or array_like
    ///     Drive angles, deg; any shape. Nothing is clamped; NaN gives NaN.
    /// out : ndarray, optional
    ///     Where to write, of the input's shape; may be the input itself.
    ///
    /// Returns
    /// -------
    /// float or ndarray
    ///     Microseconds; float32 for float32 arrays, else float64.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> elb.Servo(angle=(0, 180), pulse_us=(500, 2500)).pulse_us([0, 45, 180])
    /// array([ 500., 1000., 2500.])
    fn pulse_us(drive) by ServoPulseUs;

    /// The drive angle that a pulse width asks for.
    ///
    /// Parameters
    /// ----------
    /// pulse_us : float or array_like
    ///     Microseconds; any shape. Nothing is clamped; NaN gives NaN.
    /// out : ndarray, optional
    ///     Where to write, of the input's shape; may be the input itself.
    ///
    /// Returns
    /// -------
    /// float or ndarray
    ///     Deg; float32 for float32 arrays, else float64.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> elb.Servo(angle=(0, 180), pulse_us=(500, 2500)).angle(1500)
    /// 90.0
    fn angle(pulse_us) by ServoAngle;
}

#[pymethods]
impl Servo {
    fn __eq__(&self, other: &Self) -> bool {
        self.record() == other.record()
    }

    fn __hash__(&self) -> u64 {
        let record = self.record();
        hash_of(&[record.angle, record.pulse_us].concat(), "servo")
    }

    fn __repr__(&self, py: Python<'_>) -> PyResult<String> {
        let record = self.record();
        Ok(format!(
            "Servo(angle={}, pulse_us={})",
            shown_pair(py, record.angle)?,
            shown_pair(py, record.pulse_us)?
        ))
    }

    fn __getnewargs_ex__<'py>(&self, py: Python<'py>) -> PyResult<(Bound<'py, PyTuple>, Bound<'py, PyDict>)> {
        let record = self.record();
        let fields = PyDict::new(py);
        fields.set_item("angle", (record.angle[0], record.angle[1]))?;
        fields.set_item("pulse_us", (record.pulse_us[0], record.pulse_us[1]))?;
        Ok((PyTuple::empty(py), fields))
    }
}

/// A timer that makes the pulses: so many counts in each frame.
///
/// ``counts = pulse_us * frame_hz * counts_per_frame / 1e6``, to the nearest integer, halves away from zero.
///
/// Parameters
/// ----------
/// frame_hz : float
///     Frames per second.
/// counts_per_frame : int
///     Timer counts of one whole frame, 1 to 2**24.
///
/// Raises
/// ------
/// JointError
///     A frame rate that is not above zero, or counts outside their range.
///
/// Examples
/// --------
/// >>> import elbowroom as elb
/// >>> timer = elb.Timer(frame_hz=50, counts_per_frame=4096)
/// >>> timer.nearest_count(1500.0), timer.pulse_us(307)
/// (307, 1499.0234375)
#[pyclass(frozen, module = "elbowroom")]
pub(crate) struct Timer {
    pub(crate) both: Both<elbowroom::Timer<f64>, elbowroom::Timer<f32>>,
}

impl Timer {
    pub(crate) fn record(&self) -> TimerRecord<f64> {
        TimerRecord {
            frame_hz: self.both.wide.frame_hz(),
            counts_per_frame: self.both.wide.counts_per_frame(),
        }
    }

    pub(crate) fn of(record: TimerRecord<f64>) -> Result<Self, elbowroom::JointError> {
        Ok(Self {
            both: Both {
                wide: elbowroom::Timer::new(record.frame_hz, record.counts_per_frame)?,
                narrow: elbowroom::Timer::new(record.frame_hz as f32, record.counts_per_frame),
            },
        })
    }
}

#[pymethods]
impl Timer {
    #[new]
    #[pyo3(signature = (*, frame_hz, counts_per_frame))]
    fn new(py: Python<'_>, frame_hz: &Bound<'_, PyAny>, counts_per_frame: &Bound<'_, PyAny>) -> PyResult<Self> {
        let record = TimerRecord {
            frame_hz: number(frame_hz, "timer.frame_hz")?,
            counts_per_frame: whole(
                counts_per_frame,
                "timer.counts_per_frame",
                1..=elbowroom::Timer::<f64>::MOST_COUNTS,
            )?,
        };
        Self::of(record).map_err(|error| refuse::joint(py, None, &error))
    }

    /// float: frames per second.
    #[getter]
    fn frame_hz(&self) -> f64 {
        self.both.wide.frame_hz()
    }

    /// int: timer counts of one whole frame.
    #[getter]
    fn counts_per_frame(&self) -> u32 {
        self.both.wide.counts_per_frame()
    }

    /// float: length of one frame, microseconds.
    #[getter]
    fn frame_us(&self) -> f64 {
        self.both.wide.frame_us()
    }

    /// The count nearest to a pulse width, halves away from zero.
    ///
    /// Parameters
    /// ----------
    /// pulse_us : float or array_like
    ///     Microseconds; any shape. Below zero gives 0.
    ///
    /// Returns
    /// -------
    /// int or ndarray of uint32
    ///
    /// Raises
    /// ------
    /// ConvertError
    ///     NaN or an infinity.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> elb.Timer(frame_hz=50, counts_per_frame=4096).nearest_count([500, 1500, 2500])
    /// array([102, 307, 512], dtype=uint32)
    fn nearest_count<'py>(&self, py: Python<'py>, pulse_us: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        fn nearest<T: elbowroom::Real>(timer: &elbowroom::Timer<T>, x: T) -> Result<u32, Refusal> {
            if x.is_finite() {
                Ok(timer.nearest_count(x))
            } else {
                Err(Refusal::NotAPulse(x.to_wide()))
            }
        }
        if let Some(x) = plain(pulse_us, "pulse_us") {
            let count = nearest(&self.both.wide, x?).map_err(|error| raise(py, None, "pulse_us", error, None, None))?;
            return Ok(PyInt::new(py, count).into_any());
        }
        let outcome = match Input::new(pulse_us, "pulse_us")? {
            Input::F64(array) => array.run(None, |from, to| each(from, to, |x| nearest(&self.both.wide, x)), None),
            Input::F32(array) => {
                let narrow = self
                    .both
                    .narrow
                    .as_ref()
                    .map_err(|error| refuse::joint(py, None, error))?;
                array.run(None, |from, to| each(from, to, |x| nearest(narrow, x)), None)
            }
        };
        outcome.map_err(|fault| raise_fault(py, None, "pulse_us", fault))
    }
}

conversions! {
    Timer as |_this| None;

    /// The pulse width of a count.
    ///
    /// Parameters
    /// ----------
    /// count : int or array_like
    ///     Whole numbers from 0 up; any shape. NaN, a gap in a log, gives NaN.
    /// out : ndarray, optional
    ///     Where to write, of the input's shape.
    ///
    /// Returns
    /// -------
    /// float or ndarray
    ///     Microseconds.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> elb.Timer(frame_hz=50, counts_per_frame=4096).pulse_us(4096)
    /// 20000.0
    fn pulse_us(count) by TimerPulseUs;
}

#[pymethods]
impl Timer {
    fn __eq__(&self, other: &Self) -> bool {
        self.record() == other.record()
    }

    fn __hash__(&self) -> u64 {
        hash_of(&[self.frame_hz()], self.counts_per_frame())
    }

    fn __repr__(&self, py: Python<'_>) -> PyResult<String> {
        Ok(format!(
            "Timer(frame_hz={}, counts_per_frame={})",
            shown(py, self.frame_hz())?,
            self.counts_per_frame()
        ))
    }

    fn __getnewargs_ex__<'py>(&self, py: Python<'py>) -> PyResult<(Bound<'py, PyTuple>, Bound<'py, PyDict>)> {
        let fields = PyDict::new(py);
        fields.set_item("frame_hz", self.frame_hz())?;
        fields.set_item("counts_per_frame", self.counts_per_frame())?;
        Ok((PyTuple::empty(py), fields))
    }
}
