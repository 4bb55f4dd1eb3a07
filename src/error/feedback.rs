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
    #[error("feedback.adc_bits is {bits}; it must be 1 to 24")]
    BitsOutside {
        /// The bits given.
        bits: u8,
    },
    /// A key that only means something together with another.
    #[error("feedback.{given} needs feedback.{missing} beside it")]
    Missing {
        /// The key that is there.
        given: &'static str,
        /// The key that is not.
        missing: &'static str,
    },
    /// Two keys that do not go together.
    #[error("feedback has both {one} and {other}; keep one: a measured curve holds the load already")]
    Both {
        /// One key.
        one: &'static str,
        /// The other.
        other: &'static str,
    },
    /// A reading that the converter cannot give.
    #[error("feedback.reading {value} is outside 0 to {most}, the range of {bits} bits; check adc_bits", value = super::Shown(*value), most = super::Shown(*most))]
    ReadingOutside {
        /// The reading.
        value: f64,
        /// The largest the converter gives.
        most: f64,
        /// Bits of the converter.
        bits: u8,
    },
    /// The joint moves through the place where the sensor jumps from its last reading to its first.
    #[error("the sensor wraps around inside the travel: readings {lower} to {upper} are {turned:.1} deg of its turn, the angles span {angle} deg; turn the sensor on its axis until both ends lie on one side of the jump", lower = super::Shown(*lower), upper = super::Shown(*upper), turned = super::Shown(*turned), angle = super::Shown(*angle))]
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
    #[error("the sensor may wrap around inside the travel: readings {lower} to {upper} are {turned:.1} deg of its turn one way and {other:.1} the other, and the angles span {angle} deg; measure the angles more exactly, or turn the sensor on its axis until both ends lie on one side of the jump", lower = super::Shown(*lower), upper = super::Shown(*upper), turned = super::Shown(*turned), other = super::Shown(*other), angle = super::Shown(*angle))]
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
    #[error("readings {lower} to {upper} are {turned:.1} deg of the sensor's turn, but the angles span {angle} deg; check wrap_deg, adc_bits and the readings", lower = super::Shown(*lower), upper = super::Shown(*upper), turned = super::Shown(*turned), angle = super::Shown(*angle))]
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
    #[error("feedback.load_ohm {load_ohm} loads a potentiometer of {pot_ohm} ohm too heavily; it must be above a hundredth of that", pot_ohm = super::Shown(*pot_ohm), load_ohm = super::Shown(*load_ohm))]
    LoadTooHeavy {
        /// Resistance of the potentiometer.
        pot_ohm: f64,
        /// Resistance of the input.
        load_ohm: f64,
    },
    /// The knots make no curve.
    #[cfg(feature = "std")]
    #[error("feedback: {0}")]
    Curve(CurveError),
    /// A curve that does not end where the spans do.
    #[error(
        "feedback's {which} knot is [{}, {}], but reading and angle end at [{}, {}]; make them the same",
        found[0], found[1], wanted[0], wanted[1]
    )]
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
