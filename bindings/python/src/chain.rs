//! The conversions, each written once for scalars, `f64` arrays and `f32` arrays.

use elbowroom::{Code, ConvertError, Joint, Real, Servo, Timer};
use pyo3::prelude::*;
use pyo3::types::PyFloat;

use crate::arrays::{Fault, Input, Refused};
use crate::numbers::{plain, quick};
use crate::refuse;
use crate::wide;

/// What a conversion refuses.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Refusal {
    Core(ConvertError),
    /// No timer count: negative, with a fraction, infinite or too large.
    NotACount(f64),
    /// No pulse width: NaN or infinite.
    NotAPulse(f64),
}

impl From<ConvertError> for Refusal {
    fn from(error: ConvertError) -> Self {
        Self::Core(error)
    }
}

/// One arrow of the chain, from a number to a number of the same type.
pub(crate) trait Arrow {
    /// Whose arrow it is.
    type Of<T: Real>: Sync;

    fn one<T: Real>(of: &Self::Of<T>, x: T) -> Result<T, Refusal>;

    fn many<T: Real>(of: &Self::Of<T>, from: &[T], to: &mut [T]) -> Result<(), Refused<Refusal>> {
        each(from, to, |x| Self::one(of, x))
    }

    fn in_place<T: Real>(of: &Self::Of<T>, values: &mut [T]) -> Result<(), Refused<Refusal>> {
        for (done, x) in values.iter_mut().enumerate() {
            *x = Self::one(of, *x).map_err(|error| Refused { done, error })?;
        }
        Ok(())
    }
}

/// One by one, up to the first refusal.
pub(crate) fn each<T: Copy, O>(
    from: &[T],
    to: &mut [O],
    one: impl Fn(T) -> Result<O, Refusal>,
) -> Result<(), Refused<Refusal>> {
    for (done, (x, y)) in from.iter().zip(to).enumerate() {
        *y = one(*x).map_err(|error| Refused { done, error })?;
    }
    Ok(())
}

/// The core's batch refusals carry their index.
pub(crate) fn refused(error: ConvertError) -> Refused<Refusal> {
    let done = match error {
        ConvertError::NotFiniteAt { index, .. } => index,
        _ => 0,
    };
    Refused {
        done,
        error: error.into(),
    }
}

/// An int as a timer count; `None` if it is none.
#[inline]
pub(crate) fn counted(int: i64) -> Option<u32> {
    u32::try_from(int).ok().filter(|count| *count < u32::MAX)
}

/// Counts come as any number type; NaN is a gap, and everything that is not a whole count is refused.
fn from_count<T: Real>(x: T, convert: impl FnOnce(u32) -> T) -> Result<T, Refusal> {
    if x.is_nan() {
        return Ok(x);
    }
    let count = x.whole();
    if T::from_count(count) == x && count < u32::MAX {
        Ok(convert(count))
    } else {
        Err(Refusal::NotACount(x.to_wide()))
    }
}

/// Arrows by name: whose they are, what one number becomes, and the wide forms of many numbers where there are some.
macro_rules! arrows {
    ($($name:ident of $of:ident: |$thing:ident, $x:ident| $one:expr $(, $many:path, $in_place:path)?;)+) => {
        $(
            pub(crate) struct $name;

            impl Arrow for $name {
                type Of<T: Real> = $of<T>;

                #[inline]
                fn one<T: Real>($thing: &$of<T>, $x: T) -> Result<T, Refusal> {
                    $one
                }

                $(
                    fn many<T: Real>(of: &$of<T>, from: &[T], to: &mut [T]) -> Result<(), Refused<Refusal>> {
                        $many(of, from, to).map_err(refused)
                    }

                    fn in_place<T: Real>(of: &$of<T>, values: &mut [T]) -> Result<(), Refused<Refusal>> {
                        $in_place(of, values).map_err(refused)
                    }
                )?
            }
        )+
    };
}

arrows! {
    Drive of Joint: |of, x| Ok(of.drive(x)?.value), wide::drives, wide::drives_in_place;
    PulseUs of Joint: |of, x| Ok(of.pulse_us(x)?.value), wide::pulses, wide::pulses_in_place;
    DrivePerCommand of Joint: |of, x| Ok(of.transmission().drive_per_command(x));
    CommandFromDrive of Joint: |of, x| Ok(of.command_from_drive(x));
    CommandFromPulseUs of Joint: |of, x| Ok(of.command_from_pulse_us(x));
    CommandFromCounts of Joint: |of, x| from_count(x, |count| of.command_from_counts(count));
    AngleFromReading of Joint: |of, x| Ok(of.angle_from_reading(x)?);
    CommandFromReading of Joint: |of, x| Ok(of.command_from_reading(x)?);
    ReadingFromCommand of Joint: |of, x| Ok(of.reading_from_command(x)?);
    AnglePerReading of Joint: |of, x| Ok(of.angle_per_reading(x)?);
    ServoPulseUs of Servo: |of, x| Ok(of.pulse_us(x));
    ServoAngle of Servo: |of, x| Ok(of.angle(x));
    TimerPulseUs of Timer: |of, x| from_count(x, |count| of.pulse_us(count));
}

/// Methods that follow an arrow: the name of their one argument, and the arrow.
macro_rules! conversions {
    (
        $class:ident as |$this:ident| $named:expr;
        $($(#[doc = $doc:literal])+ fn $method:ident($given:ident) by $arrow:ident;)+
    ) => {
        #[pymethods]
        impl $class {
            $(
                $(#[doc = $doc])+
                #[pyo3(signature = ($given, *, out=None))]
                fn $method<'py>(
                    &self,
                    py: Python<'py>,
                    $given: &Bound<'py, PyAny>,
                    out: Option<&Bound<'py, PyAny>>,
                ) -> PyResult<Bound<'py, PyAny>> {
                    let $this = self;
                    crate::chain::convert::<crate::chain::$arrow>(py, $named, &self.both, stringify!($given), $given, out)
                }
            )+
        }
    };
}
pub(crate) use conversions;

/// A checked thing of the core in both number types.
///
/// `f32` arrays are converted by the `f32` form, whose bits are those of a microcontroller with the same numbers.
pub(crate) struct Both<W, N> {
    pub(crate) wide: W,
    /// The `f32` form, or why the numbers make none.
    pub(crate) narrow: Result<N, elbowroom::JointError>,
}

/// Converts a scalar, an array or anything like one.
#[inline]
pub(crate) fn convert<'py, A: Arrow>(
    py: Python<'py>,
    name: Option<&str>,
    both: &Both<A::Of<f64>, A::Of<f32>>,
    what: &str,
    given: &Bound<'py, PyAny>,
    out: Option<&Bound<'py, PyAny>>,
) -> PyResult<Bound<'py, PyAny>> {
    if out.is_none()
        && let Some(x) = quick(given)
        && let Ok(y) = A::one(&both.wide, x)
    {
        return Ok(PyFloat::new(py, y).into_any());
    }
    convert_any::<A>(py, name, both, what, given, out)
}

/// All that [`convert`] has no short way for.
#[inline(never)]
pub(crate) fn convert_any<'py, A: Arrow>(
    py: Python<'py>,
    name: Option<&str>,
    both: &Both<A::Of<f64>, A::Of<f32>>,
    what: &str,
    given: &Bound<'py, PyAny>,
    out: Option<&Bound<'py, PyAny>>,
) -> PyResult<Bound<'py, PyAny>> {
    if out.is_none()
        && let Some(x) = plain(given, what)
    {
        let y = A::one(&both.wide, x?).map_err(|error| raise(py, name, what, error, None, None))?;
        return Ok(PyFloat::new(py, y).into_any());
    }
    let outcome = match Input::new(given, what)? {
        Input::F64(array) => array.run(
            out,
            |from, to| A::many(&both.wide, from, to),
            Some(&|values| A::in_place(&both.wide, values)),
        ),
        Input::F32(array) => {
            let narrow = both.narrow.as_ref().map_err(|error| refuse::joint(py, name, error))?;
            array.run(
                out,
                |from, to| A::many(narrow, from, to),
                Some(&|values| A::in_place(narrow, values)),
            )
        }
    };
    outcome.map_err(|fault| raise_fault(py, name, what, fault))
}

pub(crate) fn raise_fault(py: Python<'_>, name: Option<&str>, what: &str, fault: Fault<Refusal>) -> PyErr {
    match fault {
        Fault::Python(error) => error,
        Fault::Refused { error, index, written } => raise(py, name, what, error, Some(index), written),
    }
}

/// The exception of a refused number.
pub(crate) fn raise(
    py: Python<'_>,
    name: Option<&str>,
    what: &str,
    error: Refusal,
    index: Option<usize>,
    written: Option<usize>,
) -> PyErr {
    let at = index.map(|index| format!(" at index {index}")).unwrap_or_default();
    let (code, value, sentence) = match (error, index) {
        (Refusal::Core(ConvertError::NotFinite { value }), Some(index)) => {
            return refuse::convert(py, name, &ConvertError::NotFiniteAt { index, value }, written);
        }
        (Refusal::Core(error), _) => return refuse::convert(py, name, &error, written),
        (Refusal::NotACount(value), _) => (
            Code::OptionOutside,
            value,
            format!("{what} {value}{at} is not a timer count; give whole numbers from 0 up"),
        ),
        (Refusal::NotAPulse(value), _) => (
            Code::NotFinite,
            value,
            format!("{what} {value}{at} is not a pulse width; give finite numbers"),
        ),
    };
    refuse::exception(
        py,
        "ConvertError",
        code,
        &sentence,
        value,
        refuse::Place {
            joint: name,
            index,
            written: written.unwrap_or(0),
        },
    )
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
