//! The bytes of a block, by name.

use crate::block::image::bytes_of_parts;

/// The first four bytes.
pub(super) const LETTERS: [u8; 4] = *b"ELBW";
/// The version of the layout.
pub(super) const VERSION: u8 = 1;

/// Whether this build reads curves. What it leaves out of a microcontroller's library is most of that library.
pub(super) const CURVES: bool = cfg!(feature = "block-curves");

/// Bytes before the first joint.
pub(super) const HEAD: usize = 16;
/// Bytes of one joint.
pub(super) const JOINT: usize = 88;
/// Bytes of one knot of a curve.
pub(super) const KNOT: usize = 12;
/// Bytes of the checksum.
pub(super) const TAIL: usize = 4;

/// Where the numbers of the head stand.
pub(super) mod head {
    pub(in super::super) const VERSION: usize = 4;
    pub(in super::super) const FLAGS: usize = 5;
    pub(in super::super) const JOINTS: usize = 6;
    pub(in super::super) const KNOTS: usize = 8;
    pub(in super::super) const SPARE: usize = 10;
    pub(in super::super) const LENGTH: usize = 12;
}

/// Where the numbers of a joint stand, from its first byte.
pub(super) mod joint {
    pub(in super::super) const CHANNEL: usize = 0;
    pub(in super::super) const KIND: usize = 2;
    pub(in super::super) const FLAGS: usize = 3;
    pub(in super::super) const COMMAND: usize = 4;
    pub(in super::super) const DRIVE: usize = 12;
    pub(in super::super) const TRAVEL: usize = 20;
    pub(in super::super) const SERVO_ANGLE: usize = 28;
    pub(in super::super) const SERVO_PULSE_US: usize = 36;
    pub(in super::super) const FRAME_HZ: usize = 44;
    pub(in super::super) const COUNTS: usize = 48;
    pub(in super::super) const LOWEST: usize = 52;
    pub(in super::super) const HIGHEST: usize = 56;
    pub(in super::super) const REST: usize = 60;
    pub(in super::super) const RATE_PER_S: usize = 64;
    pub(in super::super) const READING: usize = 68;
    pub(in super::super) const ANGLE: usize = 76;
    pub(in super::super) const FIRST_KNOT: usize = 84;
    #[cfg(test)]
    pub(in super::super) const KNOTS: usize = 86;
}

/// Bits of a joint's flags.
pub(super) mod flag {
    pub(in super::super) const INVERTED: u8 = 1;
    pub(in super::super) const RATE: u8 = 2;
    pub(in super::super) const FEEDBACK: u8 = 4;
    pub(in super::super) const FEEDBACK_INVERTED: u8 = 8;
    pub(in super::super) const FEEDBACK_CURVED: u8 = 16;
    pub(in super::super) const KNOWN: u8 = INVERTED | RATE | FEEDBACK | FEEDBACK_INVERTED | FEEDBACK_CURVED;
}

/// What a joint's transmission is.
pub(super) mod kind {
    pub(in super::super) const LINEAR: u8 = 0;
    pub(in super::super) const CURVE_PARABOLA: u8 = 1;
    #[cfg(feature = "std")]
    pub(in super::super) const CURVE_MEAN_CHORD: u8 = 2;
    pub(in super::super) const CURVE_HARMONIC_CHORD: u8 = 3;
}

/// Whether an image with so many joints and knots has this many bytes.
#[inline(always)]
pub(super) fn is_length(bytes: usize, joints: u16, knots: u16) -> bool {
    let rest = || {
        let rest = bytes.checked_sub(HEAD + TAIL)?;
        let rest = rest.checked_sub(bytes_of_parts::<JOINT>(joints, rest)?)?;
        rest.checked_sub(bytes_of_parts::<KNOT>(knots, rest)?)
    };
    rest() == Some(0)
}

/// Bytes of an image with so many joints and knots.
pub(super) const fn length(joints: u16, knots: u16) -> u32 {
    (HEAD + TAIL) as u32 + JOINT as u32 * joints as u32 + KNOT as u32 * knots as u32
}
