//! The calls on a block: joints in a small image, evaluated where it stands.
//!
//! Part of two libraries: the one for microcontrollers, which holds nothing else, and the whole C library. No call can
//! panic; that is proven of the former (`bindings/firmware/build`).

use crate::status::elb_status;
use core::slice;
use model::block::{Block, BlockError, BlockJoint, Image};
use model::{Clamped, Code, Conversion};

/// Flag: the command was outside the command range and was held to its nearer end.
pub const ELB_CLAMPED_TO_COMMAND: u32 = 1;
/// Flag: the drive angle was outside the travel and was held to its nearer end.
pub const ELB_CLAMPED_TO_TRAVEL: u32 = 2;

/// What becomes of a command: every step on its way to the motor. 16 bytes.
#[derive(Debug, Clone, Copy, PartialEq)]
#[repr(C)]
pub struct elb_block_conversion {
    /// The drive angle, deg.
    pub drive: f32,
    /// The pulse width, microseconds.
    pub pulse_us: f32,
    /// The timer count.
    pub counts: u32,
    /// ELB_CLAMPED_TO_COMMAND, ELB_CLAMPED_TO_TRAVEL, both or none.
    pub flags: u32,
}

const _: () = assert!(size_of::<elb_block_conversion>() == 16);

impl From<BlockError> for elb_status {
    #[inline(always)]
    fn from(error: BlockError) -> Self {
        error.code().into()
    }
}

/// Writes one result, or says why there is none.
#[inline(always)]
pub(crate) unsafe fn give<T>(out: *mut T, call: impl FnOnce() -> Result<T, elb_status>) -> elb_status {
    if out.is_null() {
        return elb_status::NullPointer;
    }
    if !out.is_aligned() {
        return elb_status::Misaligned;
    }
    match call() {
        Ok(value) => {
            // SAFETY: not null and aligned; writable by the header's contract.
            unsafe { out.write(value) };
            elb_status::Ok
        }
        Err(status) => status,
    }
}

/// An image in memory that pointers reach.
#[inline(always)]
unsafe fn memory<'a>(block: *const u8, length: usize) -> Result<&'a [u8], elb_status> {
    if block.is_null() {
        return Err(elb_status::NullPointer);
    }
    if isize::try_from(length).is_err() {
        return Err(elb_status::BadSize);
    }
    // SAFETY: not null, bytes need no alignment, the length is possible; readable by the header's contract.
    Ok(unsafe { slice::from_raw_parts(block, length) })
}

#[inline(always)]
pub(crate) fn check<I: Image>(image: I) -> elb_status {
    match Block::check(image) {
        Ok(_) => elb_status::Ok,
        Err(code) => code.into(),
    }
}

#[inline(always)]
pub(crate) fn joint<I: Image>(image: I, channel: u16) -> Result<BlockJoint<I>, elb_status> {
    Ok(Block::unchecked(image)?.joint(channel)?)
}

#[inline(always)]
pub(crate) fn counts<I: Image>(joint: BlockJoint<I>, command: f32) -> Result<u16, elb_status> {
    let counts = joint.counts(command)?.value;
    u16::try_from(counts).map_err(|_| Code::CountTooWide.into())
}

#[inline(always)]
pub(crate) fn conversion<I: Image>(joint: BlockJoint<I>, command: f32) -> Result<elb_block_conversion, elb_status> {
    let Conversion { value: drive, clamped } = joint.drive(command)?;
    let pulse_us = joint.pulse_us_of_drive(drive);
    Ok(elb_block_conversion {
        drive,
        pulse_us,
        counts: joint.counts_of_pulse(pulse_us),
        flags: flags(clamped),
    })
}

/// What held a conversion back, as flags.
#[inline(always)]
pub(crate) fn flags(clamped: Clamped) -> u32 {
    let flag = |set: bool, flag: u32| if set { flag } else { 0 };
    flag(clamped.command, ELB_CLAMPED_TO_COMMAND) | flag(clamped.travel, ELB_CLAMPED_TO_TRAVEL)
}

/// Checks a block: length, version, checksum, and every number in it. Call it once, before any of the calls below.
///
/// Takes a few milliseconds on a small board. `length` is the whole image, exactly. Returns ELB_STATUS_OK,
/// ELB_STATUS_BLOCK_LENGTH, ELB_STATUS_BLOCK_BAD_MAGIC, ELB_STATUS_BLOCK_VERSION, ELB_STATUS_BLOCK_CHECKSUM,
/// ELB_STATUS_BLOCK_INVALID, ELB_STATUS_CHANNEL_TWICE, or what is wrong with one of its joints.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_block_check(block: *const u8, length: usize) -> elb_status {
    // SAFETY: the header's contract.
    match unsafe { memory(block, length) } {
        Ok(image) => check(image),
        Err(status) => status,
    }
}

/// The timer count of a command of the joint on a channel.
///
/// The command is held to the command range and the drive angle to the travel; NaN and infinities are refused with
/// ELB_STATUS_NOT_FINITE, a count above 65535 with ELB_STATUS_COUNT_TOO_WIDE. `out` is untouched on error.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_block_counts(
    block: *const u8,
    length: usize,
    channel: u16,
    command: f32,
    out: *mut u16,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { give(out, || counts(joint(memory(block, length)?, channel)?, command)) }
}

/// The pulse width, microseconds, of a command of the joint on a channel. As elb_block_counts() otherwise.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_block_pulse_us(
    block: *const u8,
    length: usize,
    channel: u16,
    command: f32,
    out: *mut f32,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        give(out, || {
            Ok(joint(memory(block, length)?, channel)?.pulse_us(command)?.value)
        })
    }
}

/// Every step of a command of the joint on a channel, with what held it back. As elb_block_counts() otherwise.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_block_convert(
    block: *const u8,
    length: usize,
    channel: u16,
    command: f32,
    out: *mut elb_block_conversion,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { give(out, || conversion(joint(memory(block, length)?, channel)?, command)) }
}

/// The next command on the way from `from` to `target`, after `seconds`, no faster than the joint's rate.
///
/// The target is held to the command range first and then to the command at which the travel ends, so that the command never runs on
/// while the motor stands at the end, and turns back at once. A joint without a rate arrives at once. NaN and infinities are refused
/// with ELB_STATUS_NOT_FINITE, seconds below zero with ELB_STATUS_OPTION_OUTSIDE.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_block_step(
    block: *const u8,
    length: usize,
    channel: u16,
    from: f32,
    target: f32,
    seconds: f32,
    out: *mut f32,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        give(out, || {
            Ok(joint(memory(block, length)?, channel)?
                .step(from, target, seconds)?
                .value)
        })
    }
}

/// The command that the joint on a channel takes when no other is given.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_block_rest(block: *const u8, length: usize, channel: u16, out: *mut f32) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { give(out, || Ok(joint(memory(block, length)?, channel)?.rest())) }
}

/// The command at which a reading of the joint's sensor was taken. Nothing is clamped; NaN gives NaN.
///
/// A block does not hold the range of the converter: a reading at its end, as of a broken wire, converts like any other. Compare
/// the reading with that range first.
///
/// A joint without a feedback map gives ELB_STATUS_NO_FEEDBACK.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_block_command_from_reading(
    block: *const u8,
    length: usize,
    channel: u16,
    reading: f32,
    out: *mut f32,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        give(out, || {
            Ok(joint(memory(block, length)?, channel)?.command_from_reading(reading)?)
        })
    }
}

/// The command of a timer count. Nothing is clamped.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_block_command_from_counts(
    block: *const u8,
    length: usize,
    channel: u16,
    counts: u32,
    out: *mut f32,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        give(out, || {
            Ok(joint(memory(block, length)?, channel)?.command_from_counts(counts))
        })
    }
}

/// The command of a pulse width in microseconds. Nothing is clamped; NaN gives NaN.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_block_command_from_pulse_us(
    block: *const u8,
    length: usize,
    channel: u16,
    pulse_us: f32,
    out: *mut f32,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        give(out, || {
            Ok(joint(memory(block, length)?, channel)?.command_from_pulse_us(pulse_us))
        })
    }
}

/// The command of a drive angle in deg. Nothing is clamped; NaN gives NaN.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_block_command_from_drive(
    block: *const u8,
    length: usize,
    channel: u16,
    drive: f32,
    out: *mut f32,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        give(out, || {
            Ok(joint(memory(block, length)?, channel)?.command_from_drive(drive))
        })
    }
}
