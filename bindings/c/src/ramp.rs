//! Soft start and rate limit.

use crate::guard::{guard, quick};
use crate::handle::{self, Handle, read};
use crate::joint::{elb_conversion, elb_joint};
use crate::pointer;
use crate::refusal::{Refusal, elb_error};
use crate::status::elb_status;
use model::bring_up::{JointRamp, Ramp};
use model::{Clamped, Conversion, ConvertError};

/// A value on its way to its target. It changes with each step: one thread at a time.
#[derive(Debug)]
pub struct elb_ramp(Either);

/// A ramp of some value, or of one joint's commands.
#[derive(Debug, Clone, Copy)]
enum Either {
    Plain(Ramp<f64>),
    Joint(JointRamp<f64>),
}

impl Either {
    fn follow(&mut self, target: f64) -> Result<Conversion<f64>, ConvertError> {
        match self {
            Self::Plain(ramp) => Ok(Conversion {
                value: ramp.follow(target)?,
                clamped: Clamped::default(),
            }),
            Self::Joint(ramp) => ramp.follow(target),
        }
    }

    fn reset(&mut self, start: f64) -> Result<(), ConvertError> {
        match self {
            Self::Plain(ramp) => ramp.reset(start),
            Self::Joint(ramp) => ramp.reset(start),
        }
    }

    fn value(&self) -> f64 {
        match self {
            Self::Plain(ramp) => ramp.value(),
            Self::Joint(ramp) => ramp.value(),
        }
    }

    fn rests_at(&self, target: f64) -> bool {
        match self {
            Self::Plain(ramp) => ramp.rests_at(target),
            Self::Joint(ramp) => ramp.rests_at(target),
        }
    }
}

impl Handle for elb_ramp {
    const WHAT: &'static str = "ramp";
}

/// ---- Soft start and rate limit ----
///
/// Holds a value, e.g. a command or a drive angle, that follows its target by bounded steps, one call in each cycle of a
/// control loop. No step is longer than the longest; where its change is bounded as well, no step differs from the one
/// before it by more; a target that holds still is reached exactly and without overshoot; the value never leaves the span
/// of its start and all its targets.
///
/// The first step is the slow one: hand over the angle where the drive stands, not the one where it should be. A servo
/// without a reading jumps to its first pulse at full speed; no ramp can help that.
///
/// ----
///
/// Starts a ramp, with limits for each second.
///
/// - start: where the value stands, in its own unit.
/// - max_rate_per_s: the fastest it may change, units per second.
/// - acceleration_per_s2: the fastest that its rate may change, units per second squared. 0: not bounded.
/// - cycles_hz: cycles of the loop in a second.
/// - out: receives the ramp; free it with elb_ramp_free.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors: ELB_STATUS_NOT_FINITE, ELB_STATUS_NOT_POSITIVE, ELB_STATUS_OPTION_OUTSIDE for an
/// acceleration that takes more than 4096 cycles to the full rate.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_ramp_new(
    start: f64,
    max_rate_per_s: f64,
    acceleration_per_s2: f64,
    cycles_hz: f64,
    out: *mut *mut elb_ramp,
    error: *mut elb_error,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        handle::make(out, error, || {
            let ramp = Ramp::per_second(start, max_rate_per_s, bound(acceleration_per_s2), cycles_hz)?;
            Ok(elb_ramp(Either::Plain(ramp)))
        })
    }
}

/// Starts a ramp, with limits for each cycle.
///
/// - start: where the value stands, in its own unit.
/// - most_step: the longest step.
/// - most_change: the most by which a step may differ from the one before it. 0: not bounded.
/// - out: receives the ramp; free it with elb_ramp_free.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors: as elb_ramp_new.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_ramp_per_cycle(
    start: f64,
    most_step: f64,
    most_change: f64,
    out: *mut *mut elb_ramp,
    error: *mut elb_error,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        handle::make(out, error, || {
            let ramp = Ramp::per_cycle(start, most_step, bound(most_change))?;
            Ok(elb_ramp(Either::Plain(ramp)))
        })
    }
}

/// Starts a ramp of one joint's commands, which holds its targets to the joint's command range and to the commands of its travel
/// first. A plain ramp runs on towards a target out of reach while the motor stands at the end, and must come all the way back
/// before the motor moves again; this one reverses at once.
///
/// - joint: the joint; not needed after the call.
/// - start: the command at which it stands, which may be out of reach: it comes in from there.
/// - max_rate_per_s: command units per second, at most the joint's own where it has one. 0: the joint's own.
/// - acceleration_per_s2: command units per second squared. 0: not bounded.
/// - cycles_hz: cycles of the loop in a second.
/// - out: receives the ramp; free it with elb_ramp_free.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors: ELB_STATUS_MISSING_KEY if neither the joint nor the call names a rate, ELB_STATUS_OPTION_OUTSIDE for a
/// rate above the joint's own; otherwise as elb_ramp_new.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_ramp_of_joint(
    joint: *const elb_joint,
    start: f64,
    max_rate_per_s: f64,
    acceleration_per_s2: f64,
    cycles_hz: f64,
    out: *mut *mut elb_ramp,
    error: *mut elb_error,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        handle::make(out, error, || {
            let joint = &pointer::borrow("joint", joint)?.joint;
            let (rate, acceleration) = (bound(max_rate_per_s), bound(acceleration_per_s2));
            let ramp = JointRamp::new(joint, start, rate, acceleration, cycles_hz)?;
            Ok(elb_ramp(Either::Joint(ramp)))
        })
    }
}

/// A number of which 0 says that there is none.
fn bound(number: f64) -> Option<f64> {
    (number != 0.0).then_some(number)
}

/// Frees a ramp, once.
///
/// Nullable: ramp (nothing happens).
#[unsafe(no_mangle)]
pub unsafe extern "C" fn elb_ramp_free(ramp: *mut elb_ramp) {
    // SAFETY: the header's contract.
    unsafe { handle::free(ramp) }
}

/// Takes one step towards a target: once in each cycle, also when the target holds still. It allocates nothing.
///
/// - target: where the value is to go; another one may be given at any time.
/// - out: receives the value after the step.
///
/// Errors: ELB_STATUS_NOT_FINITE, and the value stays where it was.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_ramp_follow(ramp: *mut elb_ramp, target: f64, out: *mut f64) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { step(ramp, target, out, |step| step.value) }
}

/// elb_ramp_follow that tells as well what held the target back.
///
/// - target: where the value is to go.
/// - out: receives the value after the step, and in its flags what of the target was out of the joint's reach; always 0 for a
///   ramp that was not made of a joint.
///
/// Errors: ELB_STATUS_NOT_FINITE, and the value stays where it was.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_ramp_step(ramp: *mut elb_ramp, target: f64, out: *mut elb_conversion) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { step(ramp, target, out, elb_conversion::from) }
}

/// The body of both.
#[inline(always)]
unsafe fn step<O>(
    ramp: *mut elb_ramp,
    target: f64,
    out: *mut O,
    told: impl FnOnce(Conversion<f64>) -> O,
) -> elb_status {
    quick(|| {
        // SAFETY: the header's contract.
        let mut next = unsafe { pointer::loop_call(ramp.cast_const(), out)? }.0;
        let value = next.follow(target).map_err(|error| elb_status::from(error.code()))?;
        // SAFETY: checked above; one thread at a time by the header's contract.
        unsafe {
            (*ramp).0 = next;
            pointer::put(out, told(value));
        }
        Ok(())
    })
}

/// Stands still at a value again, with the same limits: after a stop, or when the drive was moved by something else. It
/// allocates nothing.
///
/// - start: where the value stands now.
///
/// Errors: ELB_STATUS_NOT_FINITE, and the value stays where it was.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_ramp_reset(ramp: *mut elb_ramp, start: f64) -> elb_status {
    quick(|| {
        // SAFETY: the header's contract; the second pointer is the first one.
        let mut next = unsafe { pointer::loop_call(ramp.cast_const(), ramp)? }.0;
        next.reset(start).map_err(|error| elb_status::from(error.code()))?;
        // SAFETY: checked above; one thread at a time by the header's contract.
        unsafe { (*ramp).0 = next };
        Ok(())
    })
}

/// Takes other limits from the next step on; the value and its pace stay. A value that is faster than the new rate slows down by the
/// acceleration, or at once where that is 0. It allocates nothing.
///
/// - max_rate_per_s: units per second; for a ramp of a joint at most the joint's own.
/// - acceleration_per_s2: units per second squared. 0: not bounded. Lowered so late that the way to brake leads past all targets, it
///   is exceeded: the value stops at the furthest of them.
/// - cycles_hz: cycles of the loop in a second; 1 for limits for each cycle.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors: as elb_ramp_new, and ELB_STATUS_OPTION_OUTSIDE for a rate above the joint's own; the limits stay as they
/// were.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_ramp_limit(
    ramp: *mut elb_ramp,
    max_rate_per_s: f64,
    acceleration_per_s2: f64,
    cycles_hz: f64,
    error: *mut elb_error,
) -> elb_status {
    let acceleration = bound(acceleration_per_s2);
    // SAFETY: the header's contract.
    unsafe {
        change(ramp, error, |next| {
            match next {
                Either::Plain(ramp) => ramp.limit_per_second(max_rate_per_s, acceleration, cycles_hz)?,
                Either::Joint(ramp) => ramp.limit_per_second(max_rate_per_s, acceleration, cycles_hz)?,
            }
            Ok(())
        })
    }
}

/// Takes the range and the travel of another joint, and other limits, from the next step on; the command and its pace stay: after
/// a travel was narrowed, or a joint was calibrated again. A command that is out of reach now comes in by bounded steps. It allocates nothing.
///
/// - joint: the joint; not needed after the call.
/// - max_rate_per_s: command units per second, at most the joint's own where it has one. 0: the joint's own.
/// - acceleration_per_s2: command units per second squared. 0: not bounded.
/// - cycles_hz: cycles of the loop in a second.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors: ELB_STATUS_ABSENT for a ramp that was not made of a joint; otherwise as elb_ramp_of_joint. All stays as
/// it was.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_ramp_change_joint(
    ramp: *mut elb_ramp,
    joint: *const elb_joint,
    max_rate_per_s: f64,
    acceleration_per_s2: f64,
    cycles_hz: f64,
    error: *mut elb_error,
) -> elb_status {
    let (rate, acceleration) = (bound(max_rate_per_s), bound(acceleration_per_s2));
    // SAFETY: the header's contract.
    unsafe {
        change(ramp, error, |next| {
            let joint = &pointer::borrow("joint", joint)?.joint;
            let Either::Joint(ramp) = next else {
                return Err(Refusal::Absent(
                    "this ramp was not made of a joint; make one with elb_ramp_of_joint",
                ));
            };
            ramp.change(joint, rate, acceleration, cycles_hz)?;
            Ok(())
        })
    }
}

/// Changes a ramp as a whole or not at all.
unsafe fn change(
    ramp: *mut elb_ramp,
    error: *mut elb_error,
    to: impl FnOnce(&mut Either) -> Result<(), Refusal>,
) -> elb_status {
    guard(error, || {
        // SAFETY: the header's contract.
        let mut next = unsafe { pointer::borrow("ramp", ramp.cast_const())? }.0;
        to(&mut next)?;
        // SAFETY: checked above; one thread at a time by the header's contract.
        unsafe { (*ramp).0 = next };
        Ok(())
    })
}

/// The value after the last step.
///
/// - out: receives it.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_ramp_value(ramp: *const elb_ramp, out: *mut f64) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(ramp, out, |elb_ramp(ramp)| Ok(ramp.value())) }
}

/// Whether the value stands still at a target.
///
/// - out: receives 1 if it does, else 0.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_ramp_rests_at(ramp: *const elb_ramp, target: f64, out: *mut u32) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(ramp, out, |elb_ramp(ramp)| Ok(ramp.rests_at(target).into())) }
}
