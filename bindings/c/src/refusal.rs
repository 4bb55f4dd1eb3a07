//! Why a call was refused: one type for all of them, and the struct in which C reads it.

use crate::status::elb_status;
use model::block::BlockError;
use model::bring_up::BringUpError;
use model::fit::FitError;
use model::linkage::LinkageError;
use model::robot::{AdoptError, FileError, FileFault, RobotBlockError};
use model::{ConvertError, FeedbackError, JointError};
use std::ffi::c_char;
use std::fmt::{self, Write};

/// All that is known about a refusal. The caller owns it; frozen at 512 bytes.
///
/// A call writes it only when it fails. A `line` and a `column` that do not apply are 0, `index` is then ELB_NO_INDEX.
#[repr(C)]
pub struct elb_error {
    /// The status that the call also returned.
    pub status: elb_status,
    /// Line of the robot file at fault, counted from 1.
    pub line: u32,
    /// Column of the robot file at fault, in characters, counted from 1.
    pub column: u32,
    /// Always 0.
    pub reserved: u32,
    /// Index of the array element at fault, counted from 0.
    pub index: u64,
    /// The value at fault, of two the first: a number given, or how many were; NaN where there is none.
    pub value: f64,
    /// One line that says what is wrong, with its value and place, and what would be right. UTF-8, always ends with a
    /// NUL; a message that is too long is cut between two characters.
    pub message: [c_char; ELB_MESSAGE_ROOM],
}

/// Bytes of a message, the final NUL included.
pub const ELB_MESSAGE_ROOM: usize = 480;
/// The index of an error that is about no array element.
pub const ELB_NO_INDEX: u64 = 0xFFFF_FFFF_FFFF_FFFF;

const _: () = assert!(size_of::<elb_error>() == 512 && align_of::<elb_error>() == 8);

/// Why a call was refused.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Refusal {
    Null(&'static str),
    Misaligned(&'static str),
    Size {
        what: &'static str,
        given: usize,
        least: usize,
        most: usize,
    },
    UnknownField {
        what: &'static str,
        given: usize,
        known: usize,
    },
    Length {
        what: &'static str,
        given: usize,
    },
    Overlap,
    Utf8 {
        what: &'static str,
        at: usize,
    },
    Value {
        what: &'static str,
        given: i64,
        right: &'static str,
    },
    ValueAt {
        what: &'static str,
        index: usize,
        given: i64,
        right: &'static str,
    },
    Absent(&'static str),
    Index {
        what: &'static str,
        given: usize,
        length: usize,
    },
    Joint(JointError),
    Convert(ConvertError),
    Fit(FitError),
    File(FileError),
    BringUp(BringUpError),
    Block(BlockError),
    RobotBlock(RobotBlockError),
    Adopt(AdoptError),
    Room {
        of: &'static str,
        needed: usize,
        given: usize,
    },
    Day(String),
    Saved(String),
    Fault(String),
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Null(what) => write!(f, "{what} is NULL; give a valid pointer"),
            Self::Misaligned(what) => write!(
                f,
                "{what} is not aligned as its type needs; copy it into an array of its type"
            ),
            Self::Size {
                what,
                given,
                least,
                most,
            } => {
                write!(f, "{what}.size is {given}; it must be ")?;
                if least != most {
                    write!(f, "{least} to ")?;
                }
                write!(f, "{most} (call {what}_init with sizeof, which sets it)")
            }
            Self::UnknownField { what, given, known } => write!(
                f,
                "{what} is {given} bytes long and has values other than 0 beyond the {known} bytes that this library knows; use a newer library or set those fields to zero"
            ),
            Self::Length { what, given } => write!(
                f,
                "{what} cannot have {given} elements, more than memory holds; give the number of elements of the array"
            ),
            Self::Overlap => {
                f.write_str("input and output overlap; use one array for both, or two that do not overlap")
            }
            Self::Utf8 { what, at } => write!(f, "{what} is not UTF-8 from byte {at} on; save it as UTF-8"),
            Self::Value { what, given, right } => write!(f, "{what} is {given}; it must be {right}"),
            Self::ValueAt {
                what,
                index,
                given,
                right,
            } => {
                write!(f, "{what} at index {index} is {given}; it must be {right}")
            }
            Self::Absent(why) => f.write_str(why),
            Self::Index { what, given, length } => {
                write!(f, "there is no {what} {given}; there are {length}, counted from 0")
            }
            Self::Joint(error) => joint_of_c(error, f),
            Self::Convert(error) => error.fmt(f),
            Self::Fit(error) => error.fmt(f),
            Self::File(error) => error.fmt(f),
            Self::BringUp(error) => error.fmt(f),
            Self::Block(error) => error.fmt(f),
            Self::RobotBlock(error) => error.fmt(f),
            Self::Adopt(error) => error.fmt(f),
            Self::Room { of, needed, given } => write!(f, "there is room for {given} {of}; {needed} are needed"),
            Self::Saved(why) => write!(
                f,
                "this is not a saved bring-up: give what elb_session_json wrote, unchanged, or begin a new one (found: {why})"
            ),
            Self::Day(given) => write!(f, "today is \"{given}\"; write a day of the calendar, like 2026-11-20"),
            Self::Fault(what) => write!(f, "a fault inside the library: {what}; please report it"),
        }
    }
}

/// What a refused joint is: what its init call leaves at 0 was not given.
fn joint_of_c(error: &JointError, f: &mut fmt::Formatter<'_>) -> fmt::Result {
    match *error {
        JointError::ZeroWidth { what, at: 0.0 } => write!(
            f,
            "{what} is not given: it is [0, 0]; set {what}[0] and {what}[1], lower then upper"
        ),
        JointError::CountsOutside {
            counts_per_frame: 0,
            most,
        } => write!(
            f,
            "timer.counts_per_frame is not given: it is 0; it must be 1 to {most}"
        ),
        _ => write!(f, "{error}"),
    }
}

/// What a refused call has to tell.
pub(crate) trait Telling {
    fn status(&self) -> elb_status;
    fn record(&self) -> elb_error;
}

impl Telling for Refusal {
    fn status(&self) -> elb_status {
        self.status()
    }

    fn record(&self) -> elb_error {
        self.record()
    }
}

/// Refuses a reserved field that says something, since a later library may give it a meaning.
pub(crate) fn is_reserved(what: &'static str, given: u32) -> Result<(), Refusal> {
    let right = "0; call the struct's init function first";
    if given == 0 {
        Ok(())
    } else {
        Err(Refusal::Value {
            what,
            given: given.into(),
            right,
        })
    }
}

/// A number that stands for yes or no.
pub(crate) fn yes_or_no(what: &'static str, given: u32) -> Result<bool, Refusal> {
    match given {
        0 => Ok(false),
        1 => Ok(true),
        _ => Err(Refusal::Value {
            what,
            given: given.into(),
            right: "0 or 1",
        }),
    }
}

impl Refusal {
    pub(crate) fn status(&self) -> elb_status {
        match self {
            Self::Null(_) => elb_status::NullPointer,
            Self::Misaligned(_) => elb_status::Misaligned,
            Self::Size { .. } | Self::UnknownField { .. } | Self::Length { .. } => elb_status::BadSize,
            Self::Overlap => elb_status::Overlap,
            Self::Utf8 { .. } => elb_status::NotUtf8,
            Self::Value { .. } | Self::ValueAt { .. } => elb_status::UnknownValue,
            Self::Absent(_) | Self::Index { .. } => elb_status::Absent,
            Self::Joint(error) => error.code().into(),
            Self::Convert(error) => error.code().into(),
            Self::Fit(error) => error.code().into(),
            Self::File(error) => error.code().into(),
            Self::BringUp(error) => error.code().into(),
            Self::Block(error) => error.code().into(),
            Self::RobotBlock(error) => error.code().into(),
            Self::Adopt(error) => error.code().into(),
            Self::Room { .. } => elb_status::NoRoom,
            Self::Day(_) | Self::Saved(_) => elb_status::WrongType,
            Self::Fault(_) => elb_status::InternalFault,
        }
    }

    pub(crate) fn record(&self) -> elb_error {
        let (line, column) = match self {
            Self::File(error) => (error.line(), error.column()),
            _ => (None, None),
        };
        let whole = |number| u32::try_from(number).unwrap_or(u32::MAX);
        elb_error {
            line: line.map_or(0, whole),
            column: column.map_or(0, whole),
            index: self.index().map_or(ELB_NO_INDEX, |index| index as u64),
            value: self.value().unwrap_or(f64::NAN),
            ..record_of(self.status(), self)
        }
    }

    /// The array element at fault.
    pub(crate) fn index(&self) -> Option<usize> {
        match *self {
            Self::ValueAt { index, .. }
            | Self::Fit(FitError::ApproachUnknown { index })
            | Self::Convert(ConvertError::NotFiniteAt { index, .. })
            | Self::Fit(
                FitError::NotFinite { index, .. }
                | FitError::TooLarge { index, .. }
                | FitError::NotPositive { index, .. }
                | FitError::OutOfReach { index, .. },
            ) => Some(index),
            _ => None,
        }
    }

    /// The number at fault; the first of two.
    fn value(&self) -> Option<f64> {
        match self {
            Self::Value { given, .. } | Self::ValueAt { given, .. } => Some(*given as f64),
            Self::Size { given, .. }
            | Self::UnknownField { given, .. }
            | Self::Length { given, .. }
            | Self::Index { given, .. }
            | Self::Room { given, .. } => Some(*given as f64),
            Self::Joint(error) => of_joint(error),
            Self::Convert(ConvertError::NotFinite { value } | ConvertError::NotFiniteAt { value, .. }) => Some(*value),
            Self::Convert(ConvertError::CountTooWide { count, .. }) => Some((*count).into()),
            Self::Fit(
                FitError::NotFinite { value, .. }
                | FitError::TooLarge { value, .. }
                | FitError::NotPositive { value, .. }
                | FitError::OutOfReach { value, .. }
                | FitError::OptionOutside { value, .. },
            ) => Some(*value),
            Self::BringUp(
                BringUpError::NotFinite { value, .. }
                | BringUpError::NotPositive { value, .. }
                | BringUpError::Below { value, .. }
                | BringUpError::Above { value, .. }
                | BringUpError::StartNotClear { start: value, .. }
                | BringUpError::NotRising { lower: value, .. }
                | BringUpError::Contradicts { value, .. },
            ) => Some(*value),
            Self::BringUp(BringUpError::Format { found, .. }) => Some((*found).into()),
            Self::File(error) => match error.fault() {
                FileFault::Joint(error) => of_joint(error),
                FileFault::ValueOutside { value, .. } => Some(*value),
                _ => None,
            },
            _ => None,
        }
    }
}

fn of_joint(error: &JointError) -> Option<f64> {
    match *error {
        JointError::NotFinite { value, .. }
        | JointError::NotPositive { value, .. }
        | JointError::EndsSwapped { lower: value, .. }
        | JointError::ZeroWidth { at: value, .. }
        | JointError::OutsideServo { value, .. }
        | JointError::RestOutside { rest: value, .. }
        | JointError::TravelDisjoint {
            travel_lower: value, ..
        }
        | JointError::FrameRateExtreme { frame_hz: value }
        | JointError::PulseBeyondFrame { pulse_us: value, .. }
        | JointError::NoCountInTravel { lower: value, .. }
        | JointError::PulseInMilliseconds { pulse_us: [value, _] }
        | JointError::CurveEnd { found: [_, value], .. }
        | JointError::Linkage(
            LinkageError::NotFinite { value, .. }
            | LinkageError::NotPositive { value, .. }
            | LinkageError::OutOfReach { command: value, .. }
            | LinkageError::DeadCentreNear { command: value, .. }
            | LinkageError::Insensitive { command: value, .. }
            | LinkageError::LengthOutside { value, .. }
            | LinkageError::BeyondTurn { lower: value, .. }
            | LinkageError::DeadCentreInside { at: value, .. },
        )
        | JointError::Feedback(
            FeedbackError::ReadingOutside { value, .. }
            | FeedbackError::WrapInside { lower: value, .. }
            | FeedbackError::WrapPossible { lower: value, .. }
            | FeedbackError::WrapInvalid { lower: value, .. },
        ) => Some(value),
        JointError::CountsOutside { counts_per_frame, .. } => Some(counts_per_frame.into()),
        _ => None,
    }
}

/// What C reads of an error that is about no place and no value. Formats without allocating.
pub(crate) fn record_of(status: elb_status, sentence: &impl fmt::Display) -> elb_error {
    let mut message = Message {
        bytes: [0; ELB_MESSAGE_ROOM],
        used: 0,
    };
    // Never an error: `Message` takes whatever fits.
    let _ = write!(message, "{sentence}");
    elb_error {
        status,
        line: 0,
        column: 0,
        reserved: 0,
        index: ELB_NO_INDEX,
        value: f64::NAN,
        message: message.bytes.map(|byte| byte as c_char),
    }
}

/// A text of bounded length that cuts between characters and keeps its last byte NUL.
struct Message {
    bytes: [u8; ELB_MESSAGE_ROOM],
    used: usize,
}

impl Write for Message {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        for c in text.chars() {
            // One line whatever is quoted, and no NUL before the end.
            let c = if c.is_control() { ' ' } else { c };
            let end = self.used + c.len_utf8();
            if end >= ELB_MESSAGE_ROOM {
                self.used = ELB_MESSAGE_ROOM;
                break;
            }
            if let Some(place) = self.bytes.get_mut(self.used..end) {
                c.encode_utf8(place);
            }
            self.used = end;
        }
        Ok(())
    }
}

macro_rules! from_errors {
    ($($error:ty => $variant:ident),*) => {$(
        impl From<$error> for Refusal {
            fn from(error: $error) -> Self {
                Self::$variant(error)
            }
        }
    )*};
}

from_errors!(
    JointError => Joint,
    ConvertError => Convert,
    FileError => File,
    FitError => Fit,
    BringUpError => BringUp,
    BlockError => Block,
    RobotBlockError => RobotBlock
);

#[cfg(test)]
mod tests {
    use super::*;
    use std::ffi::CStr;

    fn shown(refusal: &Refusal) -> String {
        let error = refusal.record();
        // SAFETY: the message ends with a NUL, which is what is tested here.
        unsafe { CStr::from_ptr(error.message.as_ptr()) }
            .to_str()
            .unwrap()
            .to_owned()
    }

    #[test]
    fn what_was_not_given_is_named_with_its_field_in_c() {
        let said = |error| shown(&Refusal::Joint(error));
        assert_eq!(
            said(JointError::ZeroWidth {
                what: "servo.pulse_us",
                at: 0.0
            }),
            "servo.pulse_us is not given: it is [0, 0]; set servo.pulse_us[0] and servo.pulse_us[1], lower then upper"
        );
        assert_eq!(
            said(JointError::ZeroWidth {
                what: "servo.angle",
                at: 180.0
            }),
            "servo.angle [180, 180] has no width; its upper end must lie above its lower end"
        );
        assert_eq!(
            said(JointError::EndsSwapped {
                what: "drive",
                lower: 122.0,
                upper: 37.0
            }),
            "drive [122, 37] has its ends swapped; write [37, 122] and, if the direction was meant, set inverted"
        );
    }

    #[test]
    fn a_wrong_size_names_the_right_one_and_the_call_that_sets_it() {
        let size = |least| Refusal::Size {
            what: "elb_joint_config",
            given: 8,
            least,
            most: 280,
        };
        assert_eq!(
            shown(&size(280)),
            "elb_joint_config.size is 8; it must be 280 (call elb_joint_config_init with sizeof, which sets it)"
        );
        assert!(shown(&size(272)).contains("it must be 272 to 280 (call"));
    }

    #[test]
    fn long_messages_are_cut_between_characters() {
        for lead in 0..4 {
            let text = "x".repeat(lead) + &"ä€🦢".repeat(100);
            let cut = shown(&Refusal::Fault(text.clone()));
            assert!(cut.len() < ELB_MESSAGE_ROOM && cut.len() > ELB_MESSAGE_ROOM - 6);
            assert!(format!("a fault inside the library: {text}").starts_with(&cut));
        }
    }

    #[test]
    fn a_message_is_one_line_without_inner_nul() {
        assert!(shown(&Refusal::Fault("a\nb\0c".into())).contains("a b c"));
    }

    #[test]
    fn nothing_is_written_after_a_cut() {
        let mut message = Message {
            bytes: [0; ELB_MESSAGE_ROOM],
            used: 0,
        };
        let _ = message.write_str(&"x".repeat(ELB_MESSAGE_ROOM - 2));
        let _ = message.write_str("ä");
        let _ = message.write_str("y");
        assert_eq!(message.bytes[ELB_MESSAGE_ROOM - 2..], [0, 0]);
    }
}
