//! What can be wrong with a block, its making and its use.

use crate::code::Code;
use crate::error::JointError;
use thiserror::Error;

/// Why a block was refused, could not be written, or did not answer.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[non_exhaustive]
pub enum BlockError {
    /// Not as long as its header states.
    #[error("block of {given} bytes should have {stated}; pass the whole image and nothing after it")]
    Length {
        /// Bytes given.
        given: usize,
        /// Bytes that its header states, or the fewest of any block.
        stated: u32,
    },
    /// Another kind of data, or memory never written.
    #[error("block begins with {found:#010x} instead of the letters ELBW; point to where the image stands")]
    BadMagic {
        /// The first four bytes, the first one lowest.
        found: u32,
    },
    /// Written by a newer version of this library.
    #[error(
        "block has version {found}, this library reads version {known}; write the image and build the firmware with the same version"
    )]
    Version {
        /// The version found.
        found: u8,
        /// The version known here.
        known: u8,
    },
    /// Not the bytes that were written.
    #[error("block has the checksum {computed:#010x} but states {stated:#010x}; write the image again")]
    Checksum {
        /// The checksum at the end of the image.
        stated: u32,
        /// The checksum of what stands before it.
        computed: u32,
    },
    /// An image that was not made by this library, or was changed and given a new checksum.
    #[error("block holds an invalid value at byte {at}; make the image with this library")]
    Invalid {
        /// Where, in bytes from the start.
        at: u32,
    },
    /// The joint's numbers do not make a joint.
    #[error("joint {index} of the block (channel {channel}): {error}")]
    Joint {
        /// Which joint, counted from 0.
        index: u16,
        /// Its channel.
        channel: u16,
        /// What is wrong with it.
        error: JointError,
    },
    /// No joint on this channel.
    #[error("block has no joint on channel {channel}")]
    UnknownChannel {
        /// The channel asked for.
        channel: u16,
    },
    /// Two joints on one channel.
    #[error("channel {channel} is given to two joints of the block; each needs its own")]
    ChannelTwice {
        /// The shared channel.
        channel: u16,
    },
    /// More than a block has numbers for.
    #[error("block cannot hold {count} {what}; at most {most}")]
    Full {
        /// What there is too much of.
        what: &'static str,
        /// How many.
        count: usize,
        /// The most that fit.
        most: usize,
    },
    /// A transmission that a block has no place for.
    #[error(
        "the joint on channel {channel} has a {kind} transmission in f32, which this block does not hold; make the block from the joint in f64, which puts a curve there"
    )]
    Transmission {
        /// The joint's channel.
        channel: u16,
        /// The word for the transmission in a robot file.
        kind: &'static str,
    },
    /// A curve, and this is a library without curves.
    #[error("joint on channel {channel} has a curve, which this library was built without; build it with curves")]
    CurveUnread {
        /// The joint's channel.
        channel: u16,
    },
    /// A curve, asked for as a record in a library without heap, which has no place for its knots.
    #[error(
        "the record of the joint on channel {channel} cannot hold its curve in a library without std; use the conversions of the block's joint, or build with the feature std"
    )]
    CurveUnrecorded {
        /// The joint's channel.
        channel: u16,
    },
    /// A linkage or a loaded feedback so bent that no curve of reasonable length comes near enough.
    #[error(
        "joint on channel {channel}: a curve of {knots} knots comes within {within_deg} deg of the {kind}, not within 0.01; narrow the range away from the dead centre"
    )]
    TooBent {
        /// The joint's channel.
        channel: u16,
        /// What is so bent.
        kind: &'static str,
        /// Knots of the longest curve.
        knots: usize,
        /// How close it comes, deg.
        within_deg: f64,
    },
    /// A feedback map that a block has no place for.
    #[error(
        "the joint on channel {channel} has a loaded feedback map in f32, which this block does not hold; make the block from the joint in f64, which puts a curve there"
    )]
    Feedback {
        /// The joint's channel.
        channel: u16,
    },
    /// No block without joints.
    #[error("block would hold no joint; give at least one")]
    Empty,
    /// A place too small for the image.
    #[error("block needs {needed} bytes and has room for {room}; give more room")]
    Room {
        /// Bytes of the image.
        needed: usize,
        /// Bytes of the place.
        room: usize,
    },
    /// A NaN or an infinity where a number is needed.
    #[error("the command is {} and was not converted; give a finite number", crate::error::Shown(f64::from(*value)))]
    NotFinite {
        /// The command or time given.
        value: f32,
    },
    /// A time that runs backwards.
    #[error("time of one step is {seconds} s; it must be zero or more")]
    TimeBackwards {
        /// The time given.
        seconds: f32,
    },
    /// The joint's record has no feedback.
    #[error(
        "joint on channel {channel} has no feedback map; give feedback = {{ reading, angle }} and write the block again"
    )]
    NoFeedback {
        /// The joint's channel.
        channel: u16,
    },
}

impl BlockError {
    /// The frozen code of this error.
    #[inline(always)]
    pub const fn code(&self) -> Code {
        match self {
            Self::Length { .. } | Self::Room { .. } => Code::BlockLength,
            Self::BadMagic { .. } => Code::BlockBadMagic,
            Self::Version { .. } => Code::BlockVersion,
            Self::Checksum { .. } => Code::BlockChecksum,
            Self::Invalid { .. } => Code::BlockInvalid,
            Self::Joint { error, .. } => error.code(),
            Self::UnknownChannel { .. } => Code::UnknownChannel,
            Self::ChannelTwice { .. } => Code::ChannelTwice,
            Self::Full { .. } | Self::Empty => Code::BlockFull,
            Self::Transmission { .. }
            | Self::TooBent { .. }
            | Self::CurveUnread { .. }
            | Self::CurveUnrecorded { .. } => Code::TransmissionInvalid,
            Self::NotFinite { .. } => Code::NotFinite,
            Self::TimeBackwards { .. } => Code::OptionOutside,
            Self::NoFeedback { .. } => Code::NoFeedback,
            Self::Feedback { .. } => Code::FeedbackInvalid,
        }
    }
}

impl From<BlockError> for Code {
    #[inline(always)]
    fn from(error: BlockError) -> Self {
        error.code()
    }
}
