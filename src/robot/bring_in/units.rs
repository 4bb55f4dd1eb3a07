//! What stands in a column, turned into what a fit takes.

use super::super::source::DriveUnit;
use crate::fit::FitError;
use crate::fit::statistics::turn::go_on;
use crate::pulse::{Servo, Timer};

impl DriveUnit {
    /// The unit of this word.
    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|unit| unit.as_str() == word)
    }

    /// A value in drive deg. NaN for NaN.
    pub fn to_deg(self, value: f64, servo: &Servo<f64>, timer: &Timer<f64>) -> f64 {
        match self {
            Self::Deg => value,
            Self::Us => servo.angle(value),
            Self::Ms => servo.angle(value * 1000.0),
            Self::Counts => servo.angle(value * 1e6 / (timer.frame_hz() * f64::from(timer.counts_per_frame()))),
        }
    }

    /// A drive angle in this unit. NaN for NaN.
    pub fn from_deg(self, drive: f64, servo: &Servo<f64>, timer: &Timer<f64>) -> f64 {
        match self {
            Self::Deg => drive,
            Self::Us => servo.pulse_us(drive),
            Self::Ms => servo.pulse_us(drive) / 1000.0,
            Self::Counts => servo.pulse_us(drive) * timer.frame_hz() * f64::from(timer.counts_per_frame()) / 1e6,
        }
    }
}

/// How measured values were taken: turned back into angles that go on without a leap.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[non_exhaustive]
pub struct MeasuredAs {
    /// One turn, after which values start again: 360 for deg.
    pub wrap: Option<f64>,
    /// Values are lengths along an arc of this radius, in the same unit; they become deg.
    pub arc_radius: Option<f64>,
    /// Values were read with the opposite sign.
    pub flipped: bool,
}

impl MeasuredAs {
    /// The same with a turn after which values start again.
    pub const fn with_wrap(mut self, turn: Option<f64>) -> Self {
        self.wrap = turn;
        self
    }

    /// The same with the radius of the arc.
    pub const fn with_arc_radius(mut self, radius: Option<f64>) -> Self {
        self.arc_radius = radius;
        self
    }

    /// The same with the sign turned or not.
    pub const fn with_flipped(mut self, flipped: bool) -> Self {
        self.flipped = flipped;
        self
    }

    /// Turns values into angles: first where they wrap, then the arc, then the sign.
    ///
    /// Values that wrap go on without a leap, however the rows are ordered: the turn is cut in the middle of the widest stretch that
    /// no value lies in, and what lies beyond the cut is taken a turn lower.
    ///
    /// # Errors
    /// [`FitError::OptionOutside`] for a turn or a radius that is not above zero.
    ///
    /// ```
    /// use elbowroom::robot::MeasuredAs;
    /// let mut values = [350.0, 356.0, 2.0, 8.0];
    /// MeasuredAs::default().with_wrap(Some(360.0)).apply(&mut values)?;
    /// assert_eq!(values, [-10.0, -4.0, 2.0, 8.0]);
    /// # Ok::<(), elbowroom::fit::FitError>(())
    /// ```
    pub fn apply(&self, values: &mut [f64]) -> Result<(), FitError> {
        let positive = |what, value: f64| {
            if value > 0.0 && value.is_finite() {
                Ok(value)
            } else {
                Err(FitError::OptionOutside {
                    what,
                    value,
                    lower: f64::MIN_POSITIVE,
                    upper: f64::MAX,
                })
            }
        };
        if let Some(turn) = self.wrap {
            let turn = positive("wrap", turn)?;
            go_on(values, turn);
        }
        if let Some(radius) = self.arc_radius {
            let radius = positive("arc_radius", radius)?;
            for value in &mut *values {
                *value = (*value / radius).to_degrees();
            }
        }
        if self.flipped {
            for value in &mut *values {
                *value = -*value;
            }
        }
        Ok(())
    }
}
