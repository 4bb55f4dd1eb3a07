//! Drive values that are taken for degrees of a servo and can hardly be.

use crate::look::{Statistic, Trimmed};
use crate::pulse::Servo;

/// Why drive values are hardly degrees of a servo. `Display` writes the sentence.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum NotDegrees {
    /// They span too little.
    Narrow {
        /// From the lowest to the highest.
        swept: f64,
    },
    /// They go far beyond the angles of the servo.
    Outside {
        /// The furthest of them.
        drive: f64,
        /// The angles of the servo, lower then upper, deg.
        angle: [f64; 2],
    },
}

/// A reading a little outside of the servo's angles is one; further out the values hardly are degrees.
const BEYOND_DEGREES: f64 = 20.0;
/// A sweep of half a turn in radians is a little narrower than this; a sweep in degrees is wider.
const LEAST_SWEPT: f64 = 3.2;

impl NotDegrees {
    /// What is said against drive values in degrees of a servo; None where nothing is.
    ///
    /// *Edges*: fewer than two values, or all alike, span nothing and tell nothing of their unit unless they lie outside; NaN counts as
    /// absent.
    ///
    /// ```
    /// use elbowroom::Servo;
    /// use elbowroom::fit::NotDegrees;
    /// let servo = Servo::new([0.0, 180.0], [500.0, 2500.0])?;
    /// assert_eq!(NotDegrees::of(&[40.0, 79.5, 119.0], &servo), None);
    /// assert_eq!(NotDegrees::of(&[0.25, 0.75], &servo), Some(NotDegrees::Narrow { swept: 0.5 }));
    /// # Ok::<(), elbowroom::JointError>(())
    /// ```
    pub fn of(drive: &[f64], servo: &Servo<f64>) -> Option<Self> {
        let angle = servo.angle_range().ends();
        let beyond = |value: f64| (angle[0] - value).max(value - angle[1]);
        let values = || drive.iter().copied().filter(|value| !value.is_nan());
        let furthest = values().max_by(|a, b| beyond(*a).total_cmp(&beyond(*b)))?;
        if beyond(furthest) > BEYOND_DEGREES {
            return Some(Self::Outside { drive: furthest, angle });
        }
        let swept = values().fold(f64::NEG_INFINITY, f64::max) - values().fold(f64::INFINITY, f64::min);
        (swept > 0.0 && swept < LEAST_SWEPT).then_some(Self::Narrow { swept })
    }
}

impl core::fmt::Display for NotDegrees {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match *self {
            Self::Narrow { swept } => write!(
                f,
                "the drive values span {} only, so they are hardly degrees (radians, milliseconds, a share of 0 to 1?): convert them to degrees",
                Statistic(swept)
            ),
            Self::Outside {
                drive,
                angle: [lower, upper],
            } => write!(
                f,
                "drive {} does not look like degrees of a servo of {} to {} deg",
                Trimmed(drive, 2),
                Trimmed(lower, 2),
                Trimmed(upper, 2)
            ),
        }
    }
}
