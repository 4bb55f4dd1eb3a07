//! What a control loop wants of a robot: joints found once by name, then all of them in one call.

use crate::block::flags as flags_of;
use crate::guard::{guard_telling, quick};
use crate::pointer;
use crate::refusal::{Refusal, elb_error};
use crate::robot_joints::{Missed, elb_robot, place};
use crate::status::elb_status;
use std::ffi::c_char;

/// The place of a joint's name in the file, counted from 0: what elb_robot_joint_at, elb_robot_entry_at, elb_robot_unit_at and
/// the arrays of elb_robot_counts go by. Allocates nothing, found or not.
///
/// - name: UTF-8, ends with a NUL.
/// - out: receives the place.
/// - error: receives the details when the call fails: the nearest name that there is.
///
/// Nullable: error. Errors: ELB_STATUS_UNKNOWN_JOINT, ELB_STATUS_NOT_UTF8.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_robot_find(
    robot: *const elb_robot,
    name: *const c_char,
    out: *mut usize,
    error: *mut elb_error,
) -> elb_status {
    guard_telling(error, || {
        // SAFETY: the header's contract.
        let robot = unsafe { pointer::borrow("robot", robot)? };
        pointer::check("out", out)?;
        // SAFETY: the header's contract; `out` is checked above.
        unsafe { pointer::put(out, place(robot, name)?) };
        Ok::<(), Missed<'_>>(())
    })
}

/// ---- All joints of a robot in one call ----
///
/// ----
///
/// The timer counts of all joints: for each the value of elb_joint_counts, in less time than so many calls. It never allocates
/// and takes a bounded number of steps.
///
/// - commands: `n` commands in file order, each in its joint's own unit.
/// - n: how many joints the robot has, as elb_robot_joint_count gives it.
/// - counts: receives `n` counts.
/// - flags: receives for each ELB_CLAMPED_TO_COMMAND, ELB_CLAMPED_TO_TRAVEL, both or none.
/// - done: receives how many were written: `n`; or the index of the command that is NaN or infinite: the joints before it are
///   converted, it and the rest are not. To keep the others moving, put that joint's elb_ramp_value in its place and call again.
///   0 after every other error.
///
/// Nullable: flags, done; commands and counts if n is 0. Errors: ELB_STATUS_NOT_FINITE, ELB_STATUS_LENGTH_MISMATCH (`n` is
/// not what elb_robot_joint_count gives), ELB_STATUS_OVERLAP; after the last two nothing is written.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_robot_counts(
    robot: *const elb_robot,
    commands: *const f64,
    n: usize,
    counts: *mut u32,
    flags: *mut u32,
    done: *mut usize,
) -> elb_status {
    let status_of = |refusal: Refusal| refusal.status();
    quick(|| {
        if !done.is_null() {
            pointer::check("done", done).map_err(status_of)?;
            // SAFETY: checked above.
            unsafe { pointer::put(done, 0) };
        }
        // SAFETY: the header's contract.
        let (robot, given) = unsafe {
            (
                pointer::borrow("robot", robot).map_err(status_of)?,
                pointer::array("commands", commands, n).map_err(status_of)?,
            )
        };
        pointer::check_array("counts", counts, n).map_err(status_of)?;
        if !flags.is_null() {
            pointer::check_array("flags", flags, n).map_err(status_of)?;
        }
        let bytes = |start: usize, size: usize| (start, start + n * size);
        let apart = |(a, a_end): (usize, usize), (b, b_end): (usize, usize)| a_end <= b || b_end <= a;
        let (from, to) = (
            bytes(commands as usize, size_of::<f64>()),
            bytes(counts as usize, size_of::<u32>()),
        );
        let says = if flags.is_null() {
            (0, 0)
        } else {
            bytes(flags as usize, size_of::<u32>())
        };
        if n > 0 && !(apart(from, to) && apart(from, says) && apart(to, says)) {
            return Err(elb_status::Overlap);
        }
        let mut i = 0;
        let result = robot.robot.each_count(given, |count| {
            // SAFETY: `each_count` gives no more than one for each of the `n` commands, and both arrays have `n` places.
            unsafe {
                pointer::put(counts.add(i), count.value);
                if !flags.is_null() {
                    pointer::put(flags.add(i), flags_of(count.clamped));
                }
            }
            i += 1;
        });
        if !done.is_null() {
            // SAFETY: checked above.
            unsafe { pointer::put(done, i) };
        }
        result.map_err(|error| error.code().into())
    })
}
