//! What can be wrong, as data: one code, one name and one sentence, the same in Rust, C, Python and the shell.

use crate::curve::CurveError;
use crate::feedback::FeedbackError;
use crate::linkage::LinkageError;
use thiserror::Error;

/// Writes the codes, their names and the list of all of them from one table.
macro_rules! codes {
    ($(#[doc = $text:literal] $variant:ident = $number:literal => $name:literal,)*) => {
        /// The frozen codes of everything that can go wrong.
        ///
        /// A number is never reused and never changes its meaning; 0 is success and has no variant. Callers treat a
        /// number they do not know as [`Code::Other`].
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        #[repr(u16)]
        #[non_exhaustive]
        pub enum Code {
            $(#[doc = $text] $variant = $number,)*
        }

        impl Code {
            /// Every code, in rising order of number.
            pub const ALL: &'static [Self] = &[$(Self::$variant),*];

            /// The number that crosses the C interface.
            pub const fn number(self) -> u16 {
                self as u16
            }

            /// The name that Python and the shell show.
            pub const fn name(self) -> &'static str {
                match self {
                    $(Self::$variant => $name,)*
                }
            }

            /// The general sentence, for where no error with its values is at hand.
            pub const fn text(self) -> &'static str {
                match self {
                    // A doc comment starts with the space after its slashes.
                    $(Self::$variant => $text.trim_ascii_start(),)*
                }
            }
        }
    };
}

codes! {
    /// Anything without a code of its own.
    Other = 1 => "other",
    // 2 to 9 belong to the foreign interfaces: null pointers, sizes, text encoding, internal faults.
    /// An output overlaps its input in part.
    Overlap = 6 => "overlap",
    /// A value is NaN or infinite where a number is needed.
    NotFinite = 10 => "not-finite",
    /// A pair of ends is given upper first.
    EndsSwapped = 11 => "ends-swapped",
    /// A pair of ends encloses nothing.
    ZeroWidth = 12 => "zero-width",
    /// An angle lies outside the servo's angle range.
    OutsideServo = 13 => "outside-servo",
    /// The rest lies outside the command range.
    RestOutside = 14 => "rest-outside",
    /// Travel and drive range have no angle in common.
    TravelDisjoint = 15 => "travel-disjoint",
    /// Frame rate, counts or pulse width cannot work together.
    TimerInvalid = 16 => "timer-invalid",
    /// No timer count commands an angle inside the travel.
    NoCountInTravel = 17 => "no-count-in-travel",
    /// A number that must be above zero is not.
    NotPositive = 18 => "not-positive",
    /// Two arrays that belong together differ in length.
    LengthMismatch = 19 => "length-mismatch",
    /// A count needs more bits than the array's numbers have.
    CountTooWide = 20 => "count-too-wide",
    /// The joint has no feedback map.
    NoFeedback = 21 => "no-feedback",
    /// A transmission's parameters describe no usable mechanism.
    TransmissionInvalid = 22 => "transmission-invalid",
    /// A feedback map's numbers describe no usable sensor.
    FeedbackInvalid = 23 => "feedback-invalid",
    // 30 to 49: fitting.
    /// Too few readings for the question asked.
    TooFewReadings = 30 => "too-few-readings",
    /// All commands are equal, or too few of them differ.
    DriveAnglesEqual = 31 => "drive-angles-equal",
    /// The measured value did not follow the command.
    NoMotion = 32 => "no-motion",
    /// An option is outside its range.
    OptionOutside = 33 => "option-outside",
    /// The readings were taken while the joint moved.
    InMotion = 34 => "in-motion",
    /// Too many readings disagree with each other.
    NoAgreement = 35 => "no-agreement",
    /// It is not said from which side positions were reached.
    ApproachUnknown = 36 => "approach-unknown",
    // 50 to 79: robot files.
    /// The text is not TOML.
    FileSyntax = 50 => "file-syntax",
    /// A key is not known here.
    UnknownKey = 51 => "unknown-key",
    /// A key is missing.
    MissingKey = 52 => "missing-key",
    /// A value has the wrong type or form.
    WrongType = 53 => "wrong-type",
    /// The file's format is newer than this library reads.
    FormatTooNew = 54 => "format-too-new",
    /// No joint has this name.
    UnknownJoint = 55 => "unknown-joint",
    /// The file could not be read or written.
    FileAccess = 56 => "file-access",
    /// A number in a file is outside what it may be.
    ValueOutside = 57 => "value-outside",
    /// A word stands where only certain words may.
    UnknownWord = 58 => "unknown-word",
    // 80 to 99: firmware blocks.
    /// An image is shorter or longer than it says, or there is too little room to write one.
    BlockLength = 80 => "block-length",
    /// The bytes do not begin as a block does.
    BlockBadMagic = 81 => "block-bad-magic",
    /// The block's version is not known here.
    BlockVersion = 82 => "block-version",
    /// The bytes are not those that were written.
    BlockChecksum = 83 => "block-checksum",
    /// The checksum is right, but what stands in the block contradicts itself.
    BlockInvalid = 84 => "block-invalid",
    /// The block holds no joint of this channel.
    UnknownChannel = 85 => "unknown-channel",
    /// Two joints of a block share a channel.
    ChannelTwice = 86 => "channel-twice",
    /// A joint or robot that a block cannot hold.
    BlockFull = 87 => "block-full",
    // 100 to 119: bring-up.
    /// A report or an answer does not belong to what was asked.
    WrongReport = 100 => "wrong-report",
    /// A report after a procedure's end.
    ProcedureDone = 101 => "procedure-done",
}

/// Why a joint, or a part of one, was refused.
///
/// Values are given as `f64` whatever the joint's own number type (every `f32` is exact in `f64`). `what` names the
/// field as a robot file spells it, e.g. `travel` or `servo.angle`.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[non_exhaustive]
pub enum JointError {
    /// A NaN or an infinity where a number is needed.
    #[error("{what} holds {value}; give a finite number")]
    NotFinite {
        /// The field.
        what: &'static str,
        /// The value found.
        value: f64,
    },
    /// Upper end first.
    #[error(
        "{what} [{lower}, {upper}] has its ends swapped; write [{upper}, {lower}] and, if the direction was meant, inverted = true"
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
    #[error("{what} [{at}, {at}] has no width; its upper end must lie above its lower end")]
    ZeroWidth {
        /// The field.
        what: &'static str,
        /// The value of both ends.
        at: f64,
    },
    /// An angle beyond the servo's own range.
    #[error("{what} {value} deg is outside the servo's {lower} to {upper} deg; move it inside or widen servo.angle")]
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
    /// The rest is no command of this joint.
    #[error("rest {rest} is outside command {lower} to {upper}; choose a rest inside the command range")]
    RestOutside {
        /// The rest given.
        rest: f64,
        /// Lower end of the command range.
        lower: f64,
        /// Upper end of the command range.
        upper: f64,
    },
    /// The joint could never move.
    #[error(
        "travel {travel_lower} to {travel_upper} deg and drive {drive_lower} to {drive_upper} deg have no angle in common; no command could reach the travel"
    )]
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
    #[error("{what} is {value}; it must be above zero")]
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
    #[error(
        "timer.frame_hz is {frame_hz}; a frame and its counts have no usable length then: hobby servos take about 50"
    )]
    FrameRateExtreme {
        /// The frame rate given.
        frame_hz: f64,
    },
    /// The longest pulse does not fit into one frame.
    #[error("servo.pulse_us upper {pulse_us} us is longer than one frame of {frame_us} us; lower timer.frame_hz")]
    PulseBeyondFrame {
        /// The longest pulse.
        pulse_us: f64,
        /// The frame's length.
        frame_us: f64,
    },
    /// The timer is too coarse for the travel.
    #[error(
        "no timer count lies inside travel {lower} to {upper} deg; one count is {step} deg: widen the travel or use a finer timer"
    )]
    NoCountInTravel {
        /// Lower end of the travel.
        lower: f64,
        /// Upper end of the travel.
        upper: f64,
        /// Drive angle of one count.
        step: f64,
    },
    /// The knots of a curve make no curve.
    #[error("transmission: {0}")]
    Curve(CurveError),
    /// A curve that does not end where the joint does.
    #[error(
        "transmission's {which} knot is [{}, {}], but the joint's command and drive end at [{}, {}]; make them the same",
        found[0], found[1], wanted[0], wanted[1]
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
            Self::NoCountInTravel { .. } => Code::NoCountInTravel,
            Self::Curve(error) => error.code(),
            Self::CurveEnd { .. } => Code::TransmissionInvalid,
            Self::Linkage(error) => error.code(),
            Self::Feedback(error) => error.code(),
        }
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
    #[error("command {value} is not a finite number; the motor gets nothing")]
    NotFinite {
        /// The value found.
        value: f64,
    },
    /// The same, within a batch.
    #[error(
        "command {value} at index {index} is not a finite number; the {index} before it are converted, it and the rest are not"
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
}

impl ConvertError {
    /// The frozen code of this error.
    pub const fn code(&self) -> Code {
        match self {
            Self::NotFinite { .. } | Self::NotFiniteAt { .. } => Code::NotFinite,
            Self::LengthMismatch { .. } => Code::LengthMismatch,
            Self::CountTooWide { .. } => Code::CountTooWide,
            Self::NoFeedback => Code::NoFeedback,
        }
    }
}
