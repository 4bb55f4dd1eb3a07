//! What can be wrong with a joint and with a number given to it, as data.

use crate::code::Code;
use thiserror::Error;

mod curve;
mod feedback;
mod linkage;

pub use curve::CurveError;
pub use feedback::FeedbackError;
pub use linkage::LinkageError;
pub(crate) use linkage::MOST_TURN_DEG;

/// A number in a sentence: short also where it is very large or small, and in words where it is none.
pub(crate) struct Shown(pub(crate) f64);

impl core::fmt::Display for Shown {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let size = self.0.abs();
        if self.0.is_nan() {
            f.write_str("not a number")
        } else if size.is_infinite() {
            f.write_str("infinite")
        } else if size != 0.0 && !(1e-4..1e13).contains(&size) {
            write!(f, "{:e}", self.0)
        } else {
            // With the places that the sentence asks for.
            core::fmt::Display::fmt(&self.0, f)
        }
    }
}

/// What a number must be, between two bounds: a bound that only stands for "any" is left out.
#[cfg(feature = "std")]
pub(crate) struct Bounds(pub(crate) f64, pub(crate) f64);

#[cfg(feature = "std")]
impl core::fmt::Display for Bounds {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        // No number of a joint comes near it.
        const ANY: f64 = 1e90;
        let Self(lower, upper) = *self;
        if lower == upper {
            write!(f, "{}", Shown(lower))
        } else if upper < ANY {
            write!(f, "{} to {}", Shown(lower), Shown(upper))
        } else if lower == f64::MIN_POSITIVE {
            f.write_str("above 0")
        } else if lower <= -ANY {
            f.write_str("a finite number")
        } else {
            write!(f, "{} or more", Shown(lower))
        }
    }
}

/// Why a joint, or a part of one, was refused.
///
/// Values are given as `f64` whatever the joint's own number type (every `f32` is exact in `f64`). `what` names the
/// field as a robot file spells it, e.g. `travel` or `servo.angle`.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[non_exhaustive]
pub enum JointError {
    /// A NaN or an infinity where a number is needed.
    #[error("{what} is {}; give a finite number", Shown(*value))]
    NotFinite {
        /// The field.
        what: &'static str,
        /// The value found.
        value: f64,
    },
    /// Upper end first.
    #[error(
        "{what} [{l}, {u}] has its ends swapped; write [{u}, {l}] and, if the direction was meant, set inverted",
        l = Shown(*lower), u = Shown(*upper)
    )]
    EndsSwapped {
        /// The field.
        what: &'static str,
        /// The first value given.
        lower: f64,
        /// The second value given.
        upper: f64,
    },
    /// Both ends the same.
    #[error("{what} [{at}, {at}] has no width; its upper end must lie above its lower end", at = Shown(*at))]
    ZeroWidth {
        /// The field.
        what: &'static str,
        /// The value of both ends.
        at: f64,
    },
    /// An angle beyond the servo's own range.
    #[error("{what} {value} deg is outside the servo's {lower} to {upper} deg; move it inside or widen servo.angle", value = Shown(*value), lower = Shown(*lower), upper = Shown(*upper))]
    OutsideServo {
        /// The field and its end, e.g. `travel upper`.
        what: &'static str,
        /// The offending angle.
        value: f64,
        /// Lower end of the servo's angle.
        lower: f64,
        /// Upper end of the servo's angle.
        upper: f64,
    },
    /// The rest lies outside the joint's command range.
    #[error("rest {rest} is outside command {lower} to {upper}; choose a rest inside the command range", rest = Shown(*rest), lower = Shown(*lower), upper = Shown(*upper))]
    RestOutside {
        /// The rest given.
        rest: f64,
        /// Lower end of the command range.
        lower: f64,
        /// Upper end of the command range.
        upper: f64,
    },
    /// The joint could never move.
    #[error("travel {travel_lower} to {travel_upper} deg and drive {drive_lower} to {drive_upper} deg have no angle in common; no command could reach the travel", travel_lower = Shown(*travel_lower), travel_upper = Shown(*travel_upper), drive_lower = Shown(*drive_lower), drive_upper = Shown(*drive_upper))]
    TravelDisjoint {
        /// Lower end of the travel.
        travel_lower: f64,
        /// Upper end of the travel.
        travel_upper: f64,
        /// Lower end of the drive range.
        drive_lower: f64,
        /// Upper end of the drive range.
        drive_upper: f64,
    },
    /// A number that must be above zero.
    #[error("{what} is {value}; it must be above zero", value = Shown(*value))]
    NotPositive {
        /// The field.
        what: &'static str,
        /// The value found.
        value: f64,
    },
    /// More counts than every number type here holds exactly.
    #[error("timer.counts_per_frame is {counts_per_frame}; it must be 1 to {most}")]
    CountsOutside {
        /// The counts given.
        counts_per_frame: u32,
        /// The most that are allowed.
        most: u32,
    },
    /// A frame rate whose frame or count has no usable length.
    #[error("timer.frame_hz is {frame_hz}; out of range for a frame and its counts; hobby servos take about 50", frame_hz = Shown(*frame_hz))]
    FrameRateExtreme {
        /// The frame rate given.
        frame_hz: f64,
    },
    /// The longest pulse does not fit into one frame.
    #[error("servo.pulse_us upper {pulse_us} us is longer than one frame of {frame_us} us; lower timer.frame_hz", pulse_us = Shown(*pulse_us), frame_us = Shown(*frame_us))]
    PulseBeyondFrame {
        /// The longest pulse.
        pulse_us: f64,
        /// The frame's length.
        frame_us: f64,
    },
    /// The timer is too coarse for the travel.
    #[error("no timer count lies inside travel {lower} to {upper} deg; one count is {step} deg: {}", finer(*step, *upper - *lower), lower = Shown(*lower), upper = Shown(*upper), step = Shown(*step))]
    NoCountInTravel {
        /// Lower end of the travel.
        lower: f64,
        /// Upper end of the travel.
        upper: f64,
        /// Drive angle of one count.
        step: f64,
    },
    /// No timer count lies inside the travel, and the pulse widths are so short that they must be in milliseconds.
    #[error(
        "servo.pulse_us is {} to {} us, too short for a servo: the values look like milliseconds; write {} to {} us",
        Shown(pulse_us[0]), Shown(pulse_us[1]), Shown(1000.0 * pulse_us[0]), Shown(1000.0 * pulse_us[1])
    )]
    PulseInMilliseconds {
        /// The pulse widths given.
        pulse_us: [f64; 2],
    },
    /// The knots of a curve make no curve.
    #[error("transmission: {0}")]
    Curve(CurveError),
    /// A curve that does not end where the joint does.
    #[error(
        "transmission's {which} knot is [{}, {}], but the joint's command and drive end at [{}, {}]; make them the same",
        Shown(found[0]), Shown(found[1]), Shown(wanted[0]), Shown(wanted[1])
    )]
    CurveEnd {
        /// `first` or `last`.
        which: &'static str,
        /// Command and drive angle of the knot.
        found: [f64; 2],
        /// Command and drive angle of the joint's end.
        wanted: [f64; 2],
    },
    /// A mechanism that cannot serve the command range.
    #[error("{0}")]
    Linkage(LinkageError),
    /// A sensor whose numbers make no feedback map.
    #[error("{0}")]
    Feedback(FeedbackError),
}

impl JointError {
    /// The frozen code of this error.
    // Always: a microcontroller's build drops all but the code, and with it the texts, only where it sees through this.
    #[inline(always)]
    pub const fn code(&self) -> Code {
        match self {
            Self::NotFinite { .. } => Code::NotFinite,
            Self::EndsSwapped { .. } => Code::EndsSwapped,
            Self::ZeroWidth { .. } => Code::ZeroWidth,
            Self::OutsideServo { .. } => Code::OutsideServo,
            Self::RestOutside { .. } => Code::RestOutside,
            Self::TravelDisjoint { .. } => Code::TravelDisjoint,
            Self::NotPositive { .. } => Code::NotPositive,
            Self::CountsOutside { .. } | Self::FrameRateExtreme { .. } | Self::PulseBeyondFrame { .. } => {
                Code::TimerInvalid
            }
            Self::NoCountInTravel { .. } | Self::PulseInMilliseconds { .. } => Code::NoCountInTravel,
            Self::Curve(error) => error.code(),
            Self::CurveEnd { .. } => Code::TransmissionInvalid,
            Self::Linkage(error) => error.code(),
            Self::Feedback(error) => error.code(),
        }
    }
}

/// What to do about a count of `step` deg, too coarse for a travel. One that is many times as coarse comes from a wrong unit.
fn finer(step: f64, travel: f64) -> &'static str {
    if step > 10.0 * travel {
        "check frame_hz (in Hz, 50 for most servos), counts_per_frame and servo.pulse_us (in microseconds)"
    } else {
        "widen the travel or use a finer timer"
    }
}

/// How a rule says no: with all that there is to say, or with the bare code.
///
/// The rules are written once. On a microcontroller, where sentences and `f64` have no place, [`Code`] is enough; the
/// compiler then drops the making of the values.
pub(crate) trait Refusal: Sized {
    fn of(error: JointError) -> Self;
}

impl Refusal for JointError {
    #[inline(always)]
    fn of(error: JointError) -> Self {
        error
    }
}

impl Refusal for Code {
    #[inline(always)]
    fn of(error: JointError) -> Self {
        error.code()
    }
}

impl From<FeedbackError> for JointError {
    fn from(error: FeedbackError) -> Self {
        Self::Feedback(error)
    }
}

/// Why a number given to a valid joint was not converted.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[non_exhaustive]
pub enum ConvertError {
    /// A NaN or an infinity on its way to the motor.
    #[error("the command is {} and was not converted; give a finite number", Shown(*value))]
    NotFinite {
        /// The value found.
        value: f64,
    },
    /// The same, within a batch.
    #[error(
        "the command at index {index} is {}; the {index} before it are converted, it and the rest are not",
        Shown(*value)
    )]
    NotFiniteAt {
        /// Where it stands, counted from 0; everything before it was written.
        index: usize,
        /// The value found.
        value: f64,
    },
    /// Input and output arrays differ in length.
    #[error("{given} values for {room} places; give an output of the input's length")]
    LengthMismatch {
        /// Length of the input.
        given: usize,
        /// Length of the output.
        room: usize,
    },
    /// The joint's counts do not fit the array's numbers.
    #[error("this joint's counts reach {count}, more than {most}; use the 32-bit form")]
    CountTooWide {
        /// The largest count of the joint.
        count: u32,
        /// The largest that fits.
        most: u32,
    },
    /// The joint's record has no feedback.
    #[error("this joint has no feedback map; give feedback = {{ reading, angle }}")]
    NoFeedback,
    /// Rows per second of a path that cannot be.
    #[error("rows_hz is {}; give the rows of the path that are sent in a second, a finite number above 0", Shown(*value))]
    RowsHz {
        /// The value found.
        value: f64,
    },
}

impl ConvertError {
    /// The same of an element of an array.
    #[cfg(feature = "robot")]
    pub(crate) fn at(self, index: usize) -> Self {
        match self {
            Self::NotFinite { value } => Self::NotFiniteAt { index, value },
            other => other,
        }
    }

    /// The frozen code of this error.
    pub const fn code(&self) -> Code {
        match self {
            Self::NotFinite { .. } | Self::NotFiniteAt { .. } => Code::NotFinite,
            Self::LengthMismatch { .. } => Code::LengthMismatch,
            Self::CountTooWide { .. } => Code::CountTooWide,
            Self::NoFeedback => Code::NoFeedback,
            Self::RowsHz { .. } => Code::OptionOutside,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[cfg(feature = "std")]
    #[test]
    fn bounds_say_what_is_meant() {
        for (lower, upper, says) in [
            (280.0, 280.0, "280"),
            (0.0, 1e100, "0 or more"),
            (0.5, f64::MAX, "0.5 or more"),
            (f64::MIN_POSITIVE, f64::MAX, "above 0"),
            (-1e100, 1e100, "a finite number"),
            (2.0, 12.0, "2 to 12"),
        ] {
            assert_eq!(std::format!("{}", Bounds(lower, upper)), says);
        }
    }
}
