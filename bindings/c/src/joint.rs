//! Joints: made and freed, read back, and converted one value at a time.

use crate::block::{ELB_CLAMPED_TO_COMMAND, ELB_CLAMPED_TO_TRAVEL, flags};
use crate::guard::{guard, quick};
use crate::handle::{self, Handle, read_pair, read_quickly};
use crate::joint_config::elb_joint_config;
use crate::pointer;
use crate::refusal::elb_error;
use crate::status::elb_status;
use crate::word::c_word;
use model::{Clamped, Conversion, ConvertError, Joint, TransmissionRecord};
use std::ffi::c_char;

/// A checked joint. Immutable: any number of threads may use it at once.
#[derive(Debug)]
pub struct elb_joint {
    pub(crate) joint: Joint<f64>,
    /// The record's knots.
    pub(crate) knots: Vec<[f64; 2]>,
    /// The same of the feedback.
    pub(crate) feedback_knots: Vec<[f64; 2]>,
}

impl Handle for elb_joint {
    const WHAT: &'static str = "joint";
}

impl From<Joint<f64>> for elb_joint {
    fn from(joint: Joint<f64>) -> Self {
        let record = joint.record();
        let knots = match record.transmission {
            TransmissionRecord::Curve { knots, .. } => knots,
            _ => Vec::new(),
        };
        let feedback_knots = record.feedback.and_then(|feedback| feedback.knots).unwrap_or_default();
        Self {
            joint,
            knots,
            feedback_knots,
        }
    }
}

/// A converted value and what limited it. Frozen at 16 bytes.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_conversion {
    /// The result, in the unit that the call names.
    pub value: f64,
    /// ELB_CLAMPED_TO_COMMAND, ELB_CLAMPED_TO_TRAVEL, both or none.
    pub flags: u32,
    /// Always 0.
    pub reserved: u32,
}

const _: () = assert!(size_of::<elb_conversion>() == 16 && align_of::<elb_conversion>() == 8);

impl<T: Into<f64>> From<Conversion<T>> for elb_conversion {
    #[inline]
    fn from(conversion: Conversion<T>) -> Self {
        Self {
            value: conversion.value.into(),
            flags: flags(conversion.clamped),
            reserved: 0,
        }
    }
}

#[inline]
fn status_of(error: ConvertError) -> elb_status {
    error.code().into()
}

/// ---- Joints ----
///
/// ----
///
/// Sets a joint's struct to its defaults and notes its size.
///
/// - config: the struct. Written only on success.
/// - size: `sizeof(elb_joint_config)`, as the caller's header has it.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_config_init(config: *mut elb_joint_config, size: usize) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { handle::init(config, size) }
}

/// Checks a joint and makes it.
///
/// - config: what is written down of the joint; not needed after the call.
/// - out: receives the joint; free it with elb_joint_free.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors: all that can be wrong with a joint is said here; afterwards only the number given can be.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_new(
    config: *const elb_joint_config,
    out: *mut *mut elb_joint,
    error: *mut elb_error,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        handle::make(out, error, || {
            let record = pointer::read_sized(config)?.record()?;
            Ok(Joint::new(record)?.into())
        })
    }
}

/// Frees a joint made by elb_joint_new or elb_joint_clone.
///
/// A joint must be freed once, and never while another thread uses it; freeing it twice is undefined, as with `free`.
/// Joints that belong to a robot are freed with the robot.
///
/// Nullable: joint (nothing happens).
#[unsafe(no_mangle)]
pub unsafe extern "C" fn elb_joint_free(joint: *mut elb_joint) {
    // SAFETY: the header's contract.
    unsafe { handle::free(joint) }
}

/// Makes a joint that the program owns from any joint, e.g. to keep one of a robot beyond the robot.
///
/// - joint: the joint to copy.
/// - out: receives the new joint; free it with elb_joint_free.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_clone(joint: *const elb_joint, out: *mut *mut elb_joint) -> elb_status {
    guard(std::ptr::null_mut(), || {
        // SAFETY: the header's contract.
        let joint = unsafe { pointer::borrow("joint", joint)? };
        pointer::check("out", out)?;
        // SAFETY: checked above.
        unsafe { handle::give(out, elb_joint::from(joint.joint.clone())) };
        Ok(())
    })
}

/// Reads back what a joint was made of; `travel` is filled in where it was left out.
///
/// The knots do not come along: those of `transmission` and `feedback` are NULL, `n_knots` how many there are.
/// elb_joint_knots and elb_joint_feedback_knots copy them; point to the copies before the config makes another joint.
///
/// - out: the struct.
/// - size: `sizeof(elb_joint_config)`, as the caller's header has it.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_config_of(
    joint: *const elb_joint,
    out: *mut elb_joint_config,
    size: usize,
) -> elb_status {
    guard(std::ptr::null_mut(), || {
        // SAFETY: the header's contract.
        unsafe {
            let joint = pointer::borrow("joint", joint)?;
            pointer::write_sized(out, size, elb_joint_config::of(&joint.joint))
        }
    })
}

/// Copies the knots of a joint's transmission: command and drive angle, deg, of each; none unless it is a curve.
///
/// - knots: receives them, (n x 2).
/// - room: how many knots (pairs) there is room for.
/// - n: receives how many there are, also when the room is too small.
///
/// Nullable: knots if room is 0, to ask for the number alone; n. Errors: ELB_STATUS_NO_ROOM.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_knots(
    joint: *const elb_joint,
    knots: *mut f64,
    room: usize,
    n: *mut usize,
) -> elb_status {
    guard(std::ptr::null_mut(), || {
        // SAFETY: the header's contract.
        unsafe { pointer::fill_knots(&pointer::borrow("joint", joint)?.knots, knots, room, n) }
    })
}

/// Copies the knots of a joint's feedback: reading and joint angle, deg, of each; none if it is straight or there is no
/// feedback. Otherwise as elb_joint_knots.
///
/// Nullable: knots if room is 0, to ask for the number alone; n.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_feedback_knots(
    joint: *const elb_joint,
    knots: *mut f64,
    room: usize,
    n: *mut usize,
) -> elb_status {
    guard(std::ptr::null_mut(), || {
        // SAFETY: the header's contract.
        unsafe { pointer::fill_knots(&pointer::borrow("joint", joint)?.feedback_knots, knots, room, n) }
    })
}

/// The lowest and the highest timer count that a joint ever gives.
///
/// - lowest, highest: receive the counts.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_count_range(
    joint: *const elb_joint,
    lowest: *mut u32,
    highest: *mut u32,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read_pair(joint, ("lowest", lowest), ("highest", highest), |joint| {
            Ok(joint.joint.count_range().into())
        })
    }
}

/// ---- One value towards the motor ----
///
/// These never allocate and take a bounded number of steps: fit for a control loop. A command outside its range is clamped
/// and flagged; NaN and infinities are refused, since they must not reach the motor.
///
/// ----
///
/// The drive angle, deg, of a command.
///
/// - command: in the joint's own unit.
/// - out: receives the angle and what held it back.
///
/// Errors: ELB_STATUS_NOT_FINITE.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_drive(
    joint: *const elb_joint,
    command: f64,
    out: *mut elb_conversion,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read_quickly(joint, out, |joint| {
            Ok(joint.joint.drive(command).map_err(status_of)?.into())
        })
    }
}

/// The pulse width, microseconds, of a command.
///
/// - command: in the joint's own unit.
/// - out: receives the pulse width and what held it back.
///
/// Errors: ELB_STATUS_NOT_FINITE.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_pulse_us(
    joint: *const elb_joint,
    command: f64,
    out: *mut elb_conversion,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read_quickly(joint, out, |joint| {
            Ok(joint.joint.pulse_us(command).map_err(status_of)?.into())
        })
    }
}

/// The timer count of a command. Its own drive angle always lies inside the travel.
///
/// - command: in the joint's own unit.
/// - out: receives the count, a whole number up to 4294967295, and what held it back.
///
/// Errors: ELB_STATUS_NOT_FINITE.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_counts(
    joint: *const elb_joint,
    command: f64,
    out: *mut elb_conversion,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read_quickly(joint, out, |joint| {
            Ok(joint.joint.counts(command).map_err(status_of)?.into())
        })
    }
}

/// The timer count for a drive angle, and the drive angle that this count really commands: what a bring-up moves by. The travel is not
/// applied, since a bring-up has to go beyond it; outside the servo's own angle range the drive angle is clamped.
///
/// - drive: deg.
/// - out: receives the count, and ELB_CLAMPED_TO_TRAVEL where the servo's angle range held it back.
/// - commanded: receives the drive angle of that count, deg, for ELB_REPORT_MOVED_TO.
///
/// Errors: ELB_STATUS_NOT_FINITE.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_counts_from_drive(
    joint: *const elb_joint,
    drive: f64,
    out: *mut elb_conversion,
    commanded: *mut f64,
) -> elb_status {
    quick(|| {
        // SAFETY: the header's contract.
        let joint = unsafe {
            pointer::loop_call(joint, commanded)?;
            pointer::loop_call(joint, out)?
        };
        let (counts, angle) = joint.joint.counts_from_drive(drive).map_err(status_of)?;
        // SAFETY: checked above.
        unsafe {
            pointer::put(out, counts.into());
            pointer::put(commanded, angle);
        }
        Ok(())
    })
}

/// The commands up to which the transmission can go: the dead centres of a mechanism, the ends of a curve, infinite where
/// there is none. The command range lies within; the rest is how much room is left.
///
/// - lower, upper: receive the commands, in the joint's own unit.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_valid_range(
    joint: *const elb_joint,
    lower: *mut f64,
    upper: *mut f64,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read_pair(joint, ("lower", lower), ("upper", upper), |joint| {
            Ok(joint.joint.valid_range().into())
        })
    }
}

/// Degrees of drive angle per unit of command, at a command: the speed ratio, and what one step is worth.
///
/// Below 0 for an inverted joint. Beyond the ends, that of the straight continuation; for a straight line the same everywhere.
///
/// - command: in the joint's own unit. NaN gives NaN.
/// - out: receives the derivative.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_drive_per_command(
    joint: *const elb_joint,
    command: f64,
    out: *mut f64,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read_quickly(joint, out, |joint| {
            Ok(joint.joint.transmission().drive_per_command(command))
        })
    }
}

/// ---- One value back from the motor ----
///
/// Nothing is clamped here, since a measured position outside the travel is information, and NaN gives NaN, since a gap in a
/// log is a gap.
///
/// ----
///
/// The command of a drive angle.
///
/// - drive: deg.
/// - out: receives the command, in the joint's own unit.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_command_from_drive(
    joint: *const elb_joint,
    drive: f64,
    out: *mut f64,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read_quickly(joint, out, |joint| Ok(joint.joint.command_from_drive(drive))) }
}

/// The command of a pulse width.
///
/// - pulse_us: microseconds.
/// - out: receives the command, in the joint's own unit.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_command_from_pulse_us(
    joint: *const elb_joint,
    pulse_us: f64,
    out: *mut f64,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read_quickly(joint, out, |joint| Ok(joint.joint.command_from_pulse_us(pulse_us))) }
}

/// The command of a timer count.
///
/// - counts: any number, also one that this joint never gives.
/// - out: receives the command, in the joint's own unit.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_command_from_counts(
    joint: *const elb_joint,
    counts: u32,
    out: *mut f64,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read_quickly(joint, out, |joint| Ok(joint.joint.command_from_counts(counts))) }
}

/// The name of what held a command back, from the flags of a conversion: "not-clamped", "clamped-to-command",
/// "clamped-to-travel", "clamped-to-both".
///
/// Returns a static text, never NULL, not to be freed. Flags that this library does not know are left out.
#[unsafe(no_mangle)]
pub extern "C" fn elb_clamped_name(flags: u32) -> *const c_char {
    const fn of(command: bool, travel: bool) -> &'static str {
        Clamped { command, travel }.as_str()
    }
    match (flags & ELB_CLAMPED_TO_COMMAND != 0, flags & ELB_CLAMPED_TO_TRAVEL != 0) {
        (false, false) => c_word!(of(false, false)),
        (true, false) => c_word!(of(true, false)),
        (false, true) => c_word!(of(false, true)),
        (true, true) => c_word!(of(true, true)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::word::read;

    #[test]
    fn each_flag_has_the_word_of_the_core() {
        for command in [false, true] {
            for travel in [false, true] {
                let clamped = Clamped { command, travel };
                assert_eq!(read(elb_clamped_name(flags(clamped))), clamped.as_str());
            }
        }
        assert_eq!(read(elb_clamped_name(1 << 31)), "not-clamped");
    }
}
