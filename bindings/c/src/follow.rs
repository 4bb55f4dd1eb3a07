//! Whether a joint follows its commands.

use crate::guard::quick;
use crate::handle::{self, Handle, read_pair};
use crate::joint::elb_joint;
use crate::joint_feedback::state_number;
use crate::pointer;
use crate::refusal::elb_error;
use crate::status::elb_status;
use crate::word::{OTHER, c_word};
use model::bring_up::{Follow, FollowCheck, FollowLimits, Following};
use model::{ConvertError, ReadingState};
use std::ffi::c_char;

/// Whether a joint follows: it is within the tolerance of the command.
pub const ELB_FOLLOW_FOLLOWS: u32 = 0;
/// Whether a joint follows: it is further from the command, but on its way.
pub const ELB_FOLLOW_LAGS: u32 = 1;
/// Whether a joint follows: it has been where no joint with the stated lag can be, for longer than the stated cycles. It is held,
/// overloaded, slipped or without power.
pub const ELB_FOLLOW_DOES_NOT_FOLLOW: u32 = 2;
/// Whether a joint follows: the reading shows a fault of the sensor, not where the joint is.
pub const ELB_FOLLOW_SENSOR_FAULT: u32 = 3;

/// The number of a state.
const fn follow_number(state: Follow) -> u32 {
    match state {
        Follow::Follows => ELB_FOLLOW_FOLLOWS,
        Follow::Lags => ELB_FOLLOW_LAGS,
        Follow::SensorFault(_) => ELB_FOLLOW_SENSOR_FAULT,
        // A state that this version does not know is no sound one.
        _ => ELB_FOLLOW_DOES_NOT_FOLLOW,
    }
}

/// What a check finds at one tick.
#[derive(Debug, Clone, Copy, PartialEq)]
#[repr(C)]
pub struct elb_following {
    /// Where the joint was measured, in the unit of its commands; NaN at a fault of the sensor.
    pub measured: f64,
    /// How far that is beyond what was expected, tolerance included: above 0 beyond the upper bound, below 0 beyond the lower one,
    /// 0 between them and at a fault of the sensor.
    pub beyond: f64,
    /// One of ELB_FOLLOW_...; later versions may add more.
    pub state: u32,
    /// With ELB_FOLLOW_SENSOR_FAULT what the reading shows: one of ELB_READING_...; else 0.
    pub fault: u32,
}

const _: () = assert!(size_of::<elb_following>() == 24 && align_of::<elb_following>() == 8);

impl From<Following<f64>> for elb_following {
    #[inline]
    fn from(tick: Following<f64>) -> Self {
        Self {
            measured: tick.measured,
            beyond: tick.beyond,
            state: follow_number(tick.state),
            fault: match tick.state {
                Follow::SensorFault(reading) => state_number(reading),
                _ => 0,
            },
        }
    }
}

/// Compares a joint with its commands. It changes with each tick: one thread at a time.
#[derive(Debug)]
pub struct elb_follow_check(FollowCheck<f64>);

impl Handle for elb_follow_check {
    const WHAT: &'static str = "follow check";
}

/// ---- Whether a joint follows ----
///
/// Compares the command sent with the position measured, one call in each cycle of a control loop. Expected is a joint that closes in
/// each cycle at least 1 / (1 + lag_cycles) of its distance to the command. One that is further than the tolerance from where such
/// a joint can be, for longer than most_cycles in a row, does not follow.
///
/// The limits depend on servo, load and sensor: record some sound motions, and choose the least values that find nothing in them. What
/// to do about a joint that does not follow is the caller's matter.
///
/// ----
///
/// Begins with a joint that stands still.
///
/// - start: the command at which it stands.
/// - tolerance: how far the joint may be measured from where it should be, in the unit of its commands: at least the lost motion and
///   the scatter of the sensor. Above 0.
/// - lag_cycles: the longest time constant of a joint that follows, in cycles: after a step of the command, 63 % of the way are done
///   within it. 0 for a joint that is where it should be in the cycle of its command.
/// - most_cycles: for how many cycles in a row the joint may be where it is not expected, e.g. for the dead time of servo and sensor,
///   before it counts as not following.
/// - out: receives the check; free it with elb_follow_check_free.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors: ELB_STATUS_NOT_FINITE, ELB_STATUS_NOT_POSITIVE for the tolerance, ELB_STATUS_OPTION_OUTSIDE for a lag
/// below 0.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_follow_check_new(
    start: f64,
    tolerance: f64,
    lag_cycles: f64,
    most_cycles: u32,
    out: *mut *mut elb_follow_check,
    error: *mut elb_error,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        handle::make(out, error, || {
            let limits = FollowLimits {
                tolerance,
                lag_cycles,
                most_cycles,
            };
            Ok(elb_follow_check(FollowCheck::new(start, limits)?))
        })
    }
}

/// Frees a check, once.
///
/// Nullable: check (nothing happens).
#[unsafe(no_mangle)]
pub unsafe extern "C" fn elb_follow_check_free(check: *mut elb_follow_check) {
    // SAFETY: the header's contract.
    unsafe { handle::free(check) }
}

/// Compares the command sent with where the joint was measured: once in each cycle. It allocates nothing.
///
/// - command: the one that the joint can reach, as the ramp of a joint gives it. In a cycle in which none is sent, the last one again.
/// - measured: in the unit of the commands, e.g. what elb_joint_command_from_reading gives. NaN and infinities are a fault of the
///   sensor, ELB_READING_IMPOSSIBLE: the position is unknown then, and the cycles outside are counted on after it.
/// - out: receives what is found.
///
/// Errors: ELB_STATUS_NOT_FINITE for the command, and all stays as it was.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_follow_check_tick(
    check: *mut elb_follow_check,
    command: f64,
    measured: f64,
    out: *mut elb_following,
) -> elb_status {
    // SAFETY: the header's contract.
    quick(|| unsafe { ticked(check, out, |next| next.tick(command, measured)) })
}

/// elb_follow_check_tick with a reading of the joint's sensor, whose faults are seen where elb_joint_detects_wire_faults says so. The
/// command is held to what the joint can reach. It allocates nothing.
///
/// - joint: the joint; not needed after the call.
/// - command: the one that was sent. In a cycle in which none is sent, the last one again.
/// - reading: in the sensor's unit.
/// - out: receives what is found.
///
/// Errors: ELB_STATUS_NOT_FINITE for the command, ELB_STATUS_NO_FEEDBACK; all stays as it was.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_follow_check_tick_reading(
    check: *mut elb_follow_check,
    joint: *const elb_joint,
    command: f64,
    reading: f64,
    out: *mut elb_following,
) -> elb_status {
    quick(|| {
        // SAFETY: the header's contract.
        let joint = &unsafe { pointer::loop_call(joint, out)? }.joint;
        // SAFETY: the header's contract.
        unsafe { ticked(check, out, |next| next.tick_reading(joint, command, reading)) }
    })
}

/// The body of both: the check changes as a whole or not at all.
#[inline(always)]
unsafe fn ticked(
    check: *mut elb_follow_check,
    out: *mut elb_following,
    tick: impl FnOnce(&mut FollowCheck<f64>) -> Result<Following<f64>, ConvertError>,
) -> Result<(), elb_status> {
    // SAFETY: the header's contract.
    let mut next = unsafe { pointer::loop_call(check.cast_const(), out)? }.0;
    let found = tick(&mut next).map_err(|error| elb_status::from(error.code()))?;
    // SAFETY: checked above; one thread at a time by the header's contract.
    unsafe {
        (*check).0 = next;
        pointer::put(out, found.into());
    }
    Ok(())
}

/// Between which commands the joint is expected after the last tick, without the tolerance.
///
/// - lower, upper: receive the ends, in the unit of the joint's commands.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_follow_check_expected(
    check: *const elb_follow_check,
    lower: *mut f64,
    upper: *mut f64,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read_pair(check, ("lower", lower), ("upper", upper), |elb_follow_check(check)| {
            Ok(check.expected().into())
        })
    }
}

/// Begins again with a joint that stands still, with the same limits: after a stop, or when the joint was moved by something else. It
/// allocates nothing.
///
/// - start: the command at which it stands now.
///
/// Errors: ELB_STATUS_NOT_FINITE, and all stays as it was.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_follow_check_reset(check: *mut elb_follow_check, start: f64) -> elb_status {
    quick(|| {
        // SAFETY: the header's contract; the second pointer is the first one.
        let mut next = unsafe { pointer::loop_call(check.cast_const(), check)? }.0;
        next.reset(start).map_err(|error| elb_status::from(error.code()))?;
        // SAFETY: checked above; one thread at a time by the header's contract.
        unsafe { (*check).0 = next };
        Ok(())
    })
}

/// The name of what a check finds: "follows", "lags", "does-not-follow", "sensor-fault".
///
/// Returns a static text, never NULL, not to be freed. A number that this library does not know gives "other".
#[unsafe(no_mangle)]
pub extern "C" fn elb_follow_name(state: u32) -> *const c_char {
    match state {
        ELB_FOLLOW_FOLLOWS => c_word!(Follow::Follows.as_str()),
        ELB_FOLLOW_LAGS => c_word!(Follow::Lags.as_str()),
        ELB_FOLLOW_DOES_NOT_FOLLOW => c_word!(Follow::DoesNotFollow.as_str()),
        ELB_FOLLOW_SENSOR_FAULT => c_word!(Follow::SensorFault(ReadingState::Impossible).as_str()),
        _ => OTHER,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::word::read;

    #[test]
    fn each_state_has_the_word_of_the_core() {
        let states = [
            Follow::Follows,
            Follow::Lags,
            Follow::DoesNotFollow,
            Follow::SensorFault(ReadingState::LowerRail),
        ];
        for (number, state) in (0..).zip(states) {
            assert_eq!(follow_number(state), number);
            assert_eq!(read(elb_follow_name(number)), state.as_str());
        }
        assert_eq!(read(elb_follow_name(4)), "other");
    }
}
