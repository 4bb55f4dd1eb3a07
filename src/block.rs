//! A block: joints as a small binary image, evaluated in place by firmware.
//!
//! The image is what a robot's joints come to on one board: no names, no evidence, only the numbers that a conversion
//! needs, in `f32`. It is checked once, at start-up or before it is stored, by [`Block::new`]; then any number of
//! conversions read it where it stands, from flash or RAM, without heap, static memory or copies. Each gives the bits of
//! the [`Joint`](crate::Joint) that it was made from, on every machine: both run the same functions.
//!
//! An image that was never checked gives wrong answers if it is wrong, but nothing outside it is ever read and nothing
//! panics.
//!
//! ```
//! use elbowroom::block::{self, Block};
//! use elbowroom::{Joint, JointRecord, ServoRecord, TimerRecord};
//! let servo = ServoRecord { angle: [0.0, 180.0], pulse_us: [500.0, 2500.0] };
//! let timer = TimerRecord { frame_hz: 50.0, counts_per_frame: 4096 };
//! let joint = Joint::<f32>::new(JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer))?;
//!
//! let mut image = [0; 108];
//! assert_eq!(block::write(&[(3, &joint)], &mut image)?, 108);
//!
//! let block = Block::new(&image[..])?;
//! assert_eq!(block.joint(3)?.counts(10.0)?.value, 283);
//! assert!(block.joint(9).is_err());
//! image[20] ^= 1;
//! assert!(Block::new(&image[..]).is_err());
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # Layout, version 1
//! All numbers are little-endian, floats are IEEE 754 binary32, nothing is aligned. The image is the head, then the
//! joints in rising order of channel, then the knots of curves, then the checksum, with no gaps.
//!
//! ## Head: 16 bytes
//! | byte | bytes | type | what |
//! | ---: | ---: | --- | --- |
//! | 0 | 4 | bytes | the letters `ELBW` (45 4C 42 57) |
//! | 4 | 1 | u8 | version of this layout: 1 |
//! | 5 | 1 | u8 | flags: 0 |
//! | 6 | 2 | u16 | number of joints, J, at least 1 |
//! | 8 | 2 | u16 | number of knots of all curves, K |
//! | 10 | 2 | u16 | 0 |
//! | 12 | 4 | u32 | bytes of the whole image: 16 + 88·J + 12·K + 4 |
//!
//! ## Joint: 88 bytes, joint i at byte 16 + 88·i
//! | byte | bytes | type | what |
//! | ---: | ---: | --- | --- |
//! | 0 | 2 | u16 | channel; no two joints of a block share one |
//! | 2 | 1 | u8 | transmission: 0 linear; a curve with slopes 1 of parabolas, 2 of mean chords, 3 of harmonic chords |
//! | 3 | 1 | u8 | flags: bit 0 inverted, bit 1 has a rate, bit 2 has feedback, bit 3 feedback inverted, bit 4 feedback curved, others 0 |
//! | 4 | 8 | 2 × f32 | command: lower, upper |
//! | 12 | 8 | 2 × f32 | drive angle of the command range, deg: lower, upper |
//! | 20 | 8 | 2 × f32 | travel, deg: lower, upper |
//! | 28 | 8 | 2 × f32 | servo angle, deg: lower, upper |
//! | 36 | 8 | 2 × f32 | servo pulse width, µs: lower, upper |
//! | 44 | 4 | f32 | frames per second |
//! | 48 | 4 | u32 | timer counts of a frame |
//! | 52 | 4 | u32 | lowest count that the joint may get |
//! | 56 | 4 | u32 | highest count that the joint may get |
//! | 60 | 4 | f32 | rest, a command |
//! | 64 | 4 | f32 | rate, command units per second; 0 without |
//! | 68 | 8 | 2 × f32 | feedback reading: lower, upper; 0, 0 without; of a curved feedback these 8 bytes are: |
//! | 68 | 2 | u16 | … first knot of the feedback's curve, counted over the whole block |
//! | 70 | 2 | u16 | … knots of the feedback's curve |
//! | 72 | 4 | u32 | … 0 |
//! | 76 | 8 | 2 × f32 | joint angle at those readings; 0, 0 without |
//! | 84 | 2 | u16 | first knot of the transmission's curve, counted over the whole block; 0 without |
//! | 86 | 2 | u16 | knots of the transmission's curve; 0 without |
//!
//! ## Knot: 12 bytes, knot k at byte 16 + 88·J + 12·k
//! | byte | bytes | type | what |
//! | ---: | ---: | --- | --- |
//! | 0 | 4 | f32 | place: a command, of a feedback's curve a reading |
//! | 4 | 4 | f32 | drive angle there, of a feedback's curve joint angle, deg |
//! | 8 | 4 | f32 | slope there, deg per unit of the place |
//!
//! The curves' knots follow each other in the order of the joints, those of a joint's transmission before those of its
//! feedback; none is shared and none is left over. Each curve is strictly monotone. That of a transmission ends where its
//! joint's command and drive angle end, that of a feedback at its joint's feedback angles. Knots hold the slopes too, so that a piece
//! is a function of its two knots; the transmission's number says by which rule they were found, of a feedback it is that
//! of parabolas. What lies between two knots is the cubic of [`curve`](crate::curve), evaluated as it says there.
//!
//! # Linkages
//! A board computes no sines. `Joint::<f64>::to_block` and `Robot::to_block` put a curve in the place of a linkage, and in that of
//! a loaded potentiometer, with as many knots as it takes to stay within 0.01 deg; `Joint::<f64>::for_block` says how close it
//! came. Straight and curved joints keep all their bits.
//!
//! ## Checksum: the last 4 bytes
//! u32: CRC-32 of all bytes before it. Polynomial 0x04C11DB7, bits reflected, start and final inversion 0xFFFFFFFF
//! (IEEE 802.3, 3.2.9); its check value, for the ASCII digits 1 to 9, is 0xCBF43926. Every change within 32
//! neighbouring bits is caught, so is every change of a single byte.
//!
//! A reader refuses a version that it does not know, any flag or transmission without a meaning, and a number other than 0
//! where 0 stands above: none of them can be used by a later version for something that this one would silently skip.

mod checksum;
mod curve;
mod error;
mod evaluate;
mod image;
mod layout;
#[cfg(feature = "std")]
mod narrow;
#[cfg(feature = "std")]
mod sample;
#[cfg(feature = "std")]
mod source;
mod verify;
mod write;

pub use error::BlockError;
pub use evaluate::BlockJoint;
/// For the firmware's images in flash.
#[doc(hidden)]
pub use image::bytes_of_parts;
pub use image::{Image, Part};
#[cfg(feature = "robot")]
pub(crate) use source::{Title, titled_source};
pub use write::{length, write};
#[cfg(feature = "std")]
pub use {narrow::Sampled, source::c_source, write::to_vec};

use crate::code::Code;
use layout::{HEAD, JOINT, LETTERS, TAIL, VERSION, head, joint};

/// A block, read in place.
///
/// See the [module](self) for what it is, and for the layout.
#[derive(Debug, Clone, Copy)]
pub struct Block<I> {
    image: I,
    joints: u16,
    knots: u16,
}

impl<I: Image> Block<I> {
    /// Checks the whole image: length, version, checksum, and every number in it, by the rules of
    /// [`Joint::new`](crate::Joint::new).
    ///
    /// # Errors
    /// A [`BlockError`] that says what is wrong first.
    pub fn new(image: I) -> Result<Self, BlockError> {
        verify::verify(image)
    }

    /// The same check, saying only the code of what is wrong first: small enough for a microcontroller.
    ///
    /// # Errors
    /// The [`Code`] of what [`Block::new`] would say.
    #[inline]
    pub fn check(image: I) -> Result<Self, Code> {
        verify::verify(image)
    }

    /// Reads the head only: for firmware that has called [`Block::new`] before and evaluates the same image again.
    ///
    /// # Errors
    /// [`BlockError::Length`], [`BlockError::BadMagic`], [`BlockError::Version`] or [`BlockError::Invalid`]. A wrong byte
    /// after the head is not seen: answers may be wrong then, and nothing outside the image is read.
    // Not inlined beside curves: nine calls of the microcontroller library begin with it, and it has room for one copy.
    #[cfg_attr(feature = "block-curves", inline(never))]
    #[cfg_attr(not(feature = "block-curves"), inline)]
    pub fn unchecked(image: I) -> Result<Self, BlockError> {
        let fewest = HEAD + TAIL;
        let given = image.length();
        let start = match image.part::<HEAD>(0) {
            Some(start) if given >= fewest => start,
            _ => {
                let stated = fewest as u32;
                return Err(BlockError::Length { given, stated });
            }
        };
        let found = start.u32_at(0);
        if found != u32::from_le_bytes(LETTERS) {
            return Err(BlockError::BadMagic { found });
        }
        let found = start.byte(head::VERSION);
        if found != VERSION {
            return Err(BlockError::Version { found, known: VERSION });
        }
        let stated = start.u32_at(head::LENGTH);
        if usize::try_from(stated) != Ok(given) {
            return Err(BlockError::Length { given, stated });
        }
        let joints = start.u16_at(head::JOINTS);
        let knots = start.u16_at(head::KNOTS);
        if joints == 0 || !layout::is_length(given, joints, knots) {
            let at = head::JOINTS as u32;
            return Err(BlockError::Invalid { at });
        }
        Ok(Self { image, joints, knots })
    }

    /// How many joints it holds.
    pub fn joints(&self) -> u16 {
        self.joints
    }

    /// The channel of joint `index`, counted from 0 in rising order of channel.
    pub fn channel(&self, index: u16) -> Option<u16> {
        if index >= self.joints {
            return None;
        }
        let at = self.joint_at(index) + joint::CHANNEL;
        Some(self.image.part::<2>(at)?.u16_at(0))
    }

    /// The joint on a channel.
    ///
    /// # Errors
    /// [`BlockError::UnknownChannel`]; [`BlockError::Invalid`] if an unchecked image states a transmission that does not exist.
    #[inline]
    pub fn joint(&self, channel: u16) -> Result<BlockJoint<I>, BlockError> {
        let at = HEAD as u32;
        let joints = self.image.parts::<JOINT>(HEAD, self.joints);
        for (index, numbers) in (0..).zip(joints.ok_or(BlockError::Invalid { at })?) {
            if numbers.u16_at(joint::CHANNEL) == channel {
                return BlockJoint::of(*self, numbers, index);
            }
        }
        Err(BlockError::UnknownChannel { channel })
    }

    /// The byte at which the knots begin.
    #[inline]
    fn knots_at(&self) -> usize {
        self.joint_at(self.joints)
    }

    /// The byte at which joint `index` begins. The index is one of this block's, so that it lies within the length.
    #[inline]
    fn joint_at(&self, index: u16) -> usize {
        HEAD + JOINT * usize::from(index)
    }
}

#[cfg(test)]
mod tests;
