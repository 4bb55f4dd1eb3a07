//! What can be wrong with the knots of a curve.

use crate::code::Code;
use thiserror::Error;

/// Why knots make no strictly monotone curve. Indices count from 0.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[non_exhaustive]
pub enum CurveError {
    /// A curve needs two ends.
    #[error("a curve needs at least 2 knots, {given} given")]
    TooFewKnots {
        /// Knots given.
        given: usize,
    },
    /// The two lists of coordinates differ in length.
    #[error("{x} knot places for {y} knot values; give one value for each place")]
    LengthMismatch {
        /// Number of places.
        x: usize,
        /// Number of values.
        y: usize,
    },
    /// A NaN or an infinity among the knots.
    #[error("knot {index} holds a value that is {}; give finite numbers", super::Shown(*value))]
    NotFinite {
        /// The knot.
        index: usize,
        /// The number found.
        value: f64,
    },
    /// Places must rise.
    #[error("knot {index} stands at {x}, not above {before} of the knot before it; sort the knots and merge equal ones", before = super::Shown(*before), x = super::Shown(*x))]
    PlacesNotRising {
        /// The knot.
        index: usize,
        /// Place of the knot before it.
        before: f64,
        /// Its own place.
        x: f64,
    },
    /// Values must all rise or all fall.
    #[error("knot {index} has value {y} after {before}; the values of a curve must all rise or all fall: measure it again or leave it out", before = super::Shown(*before), y = super::Shown(*y))]
    ValuesTurn {
        /// The knot.
        index: usize,
        /// Value of the knot before it.
        before: f64,
        /// Its own value.
        y: f64,
    },
    /// Two knots are too close or too far apart for the number type.
    #[error("knots {before} and {after} are too close or too far apart for numbers of this type; move one of them")]
    StepInvalid {
        /// The left knot.
        before: usize,
        /// The right knot.
        after: usize,
    },
    /// Slopes given from outside make the curve turn between two knots.
    #[error("slopes {left} and {right} make the curve turn between knots {before} and {after}, whose mean slope is {mean}; keep both within 0 to 3 times that", left = super::Shown(*left), right = super::Shown(*right), mean = super::Shown(*mean))]
    SlopeInvalid {
        /// The left knot.
        before: usize,
        /// The right knot.
        after: usize,
        /// Slope at the left knot.
        left: f64,
        /// Slope at the right knot.
        right: f64,
        /// Rise over width between them.
        mean: f64,
    },
}

impl CurveError {
    /// The frozen code of this error.
    pub const fn code(&self) -> Code {
        match self {
            Self::NotFinite { .. } => Code::NotFinite,
            Self::LengthMismatch { .. } => Code::LengthMismatch,
            _ => Code::TransmissionInvalid,
        }
    }
}
