//! What is wrong with a sensor's numbers.

use crate::code::Code;
use thiserror::Error;

#[cfg(feature = "std")]
use super::CurveError;

/// Why a sensor's numbers make no feedback map.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[non_exhaustive]
pub enum FeedbackError {
    /// A converter that no joint has.
    BitsOutside {
        /// The bits given.
        bits: u8,
    },
    /// A key that only means something together with another.
    Missing {
        /// The key that is there.
        given: &'static str,
        /// The key that is not.
        missing: &'static str,
    },
    /// Two keys that do not go together.
    Both {
        /// One key.
        one: &'static str,
        /// The other.
        other: &'static str,
    },
    /// A reading that the converter cannot give.
    ReadingOutside {
        /// The reading.
        value: f64,
        /// The largest the converter gives.
        most: f64,
        /// Bits of the converter.
        bits: u8,
    },
    /// The joint moves through the place where the sensor jumps from its last reading to its first.
    WrapInside {
        /// Lower reading.
        lower: f64,
        /// Upper reading.
        upper: f64,
        /// Joint angle between them, on the side without the jump, deg.
        turned: f64,
        /// Width of the angle span, deg.
        angle: f64,
    },
    /// Near half a turn: the angles fit the readings both ways round, and the way through the jump better.
    WrapPossible {
        /// Lower reading.
        lower: f64,
        /// Upper reading.
        upper: f64,
        /// Joint angle between them, on the side without the jump, deg.
        turned: f64,
        /// And through the jump, deg.
        other: f64,
        /// Width of the angle span, deg.
        angle: f64,
    },
    /// Readings, angles and the sensor's turn contradict each other.
    WrapInvalid {
        /// Lower reading.
        lower: f64,
        /// Upper reading.
        upper: f64,
        /// Joint angle between them by the sensor's turn, deg.
        turned: f64,
        /// Width of the angle span, deg.
        angle: f64,
    },
    /// The load of the input leaves nothing to read.
    LoadTooHeavy {
        /// Resistance of the potentiometer.
        pot_ohm: f64,
        /// Resistance of the input.
        load_ohm: f64,
    },
    /// The knots make no curve.
    #[cfg(feature = "std")]
    Curve(CurveError),
    /// A curve that does not end where the spans do.
    CurveEnd {
        /// `first` or `last`.
        which: &'static str,
        /// Reading and angle of the knot.
        found: [f64; 2],
        /// Reading and angle of the span's end.
        wanted: [f64; 2],
    },
}

impl FeedbackError {
    /// The frozen code of this error.
    pub const fn code(&self) -> Code {
        Code::FeedbackInvalid
    }
}
