//! The joint's sensor.

use crate::guard::quick;
use crate::handle::read_quickly;
use crate::joint::elb_joint;
use crate::pointer;
use crate::status::elb_status;
use crate::word::{OTHER, c_word};
use model::{ConvertError, Joint, ReadingState};
use std::ffi::c_char;

/// State of a reading: within the readings of the map.
pub const ELB_READING_INSIDE: u32 = 0;
/// State of a reading: outside them, but one that a sound sensor may give.
pub const ELB_READING_OUTSIDE: u32 = 1;
/// State of a reading: at the bottom of the converter's range; look for a broken or shorted wire.
pub const ELB_READING_LOWER_RAIL: u32 = 2;
/// State of a reading: at the top of the converter's range; look for a broken or shorted wire.
pub const ELB_READING_UPPER_RAIL: u32 = 3;
/// State of a reading: none that this converter gives; NaN too.
pub const ELB_READING_IMPOSSIBLE: u32 = 4;

/// The number of a state.
pub(crate) const fn state_number(state: ReadingState) -> u32 {
    match state {
        ReadingState::Inside => ELB_READING_INSIDE,
        ReadingState::Outside => ELB_READING_OUTSIDE,
        ReadingState::LowerRail => ELB_READING_LOWER_RAIL,
        ReadingState::UpperRail => ELB_READING_UPPER_RAIL,
        // A state that this version does not know is no sound one.
        _ => ELB_READING_IMPOSSIBLE,
    }
}

/// The body that the calls here share.
#[inline(always)]
unsafe fn answer<T>(
    joint: *const elb_joint,
    out: *mut T,
    call: impl FnOnce(&Joint<f64>) -> Result<T, ConvertError>,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read_quickly(joint, out, |joint| {
            call(&joint.joint).map_err(|error| error.code().into())
        })
    }
}

/// ---- The joint's sensor ----
///
/// Nothing is clamped, and NaN gives NaN.
///
/// ----
///
/// Whether a joint has a feedback map; without one the other calls here return ELB_STATUS_NO_FEEDBACK.
///
/// - out: receives 1 if it has, else 0.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_has_feedback(joint: *const elb_joint, out: *mut u32) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { answer(joint, out, |joint| Ok(joint.feedback().is_some().into())) }
}

/// The joint angle, deg, of a feedback reading. A reading at a rail of its converter, as from a broken wire, has an angle as well: ask
/// elb_joint_reading_state first.
///
/// - reading: in the sensor's unit, e.g. ADC counts.
/// - out: receives the angle.
///
/// Errors: ELB_STATUS_NO_FEEDBACK.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_angle_from_reading(
    joint: *const elb_joint,
    reading: f64,
    out: *mut f64,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { answer(joint, out, |joint| joint.angle_from_reading(reading)) }
}

/// The command at which a reading was taken, if there were no lost motion.
///
/// - reading: in the sensor's unit.
/// - out: receives the command, in the joint's own unit.
///
/// Errors: ELB_STATUS_NO_FEEDBACK.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_command_from_reading(
    joint: *const elb_joint,
    reading: f64,
    out: *mut f64,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { answer(joint, out, |joint| joint.command_from_reading(reading)) }
}

/// The reading to be expected at a command, not rounded.
///
/// - command: in the joint's own unit.
/// - out: receives the reading, in the sensor's unit.
///
/// Errors: ELB_STATUS_NO_FEEDBACK.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_reading_from_command(
    joint: *const elb_joint,
    command: f64,
    out: *mut f64,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { answer(joint, out, |joint| joint.reading_from_command(command)) }
}

/// The reading as it would be at the supply at which the feedback map was taken: give it to the other calls for a sensor that is
/// not ratiometric. A ratiometric one, whose feedback names no supply, has its reading given back.
///
/// - reading: in the sensor's unit.
/// - supply_v: the supply now, V. NaN and 0 give NaN or an infinity.
/// - out: receives the reading.
///
/// Errors: ELB_STATUS_NO_FEEDBACK.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_reading_at_supply(
    joint: *const elb_joint,
    reading: f64,
    supply_v: f64,
    out: *mut f64,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { answer(joint, out, |joint| joint.reading_at_supply(reading, supply_v)) }
}

/// The state of the sensor that a reading shows: sound, out of its measured range, or at a rail.
///
/// - reading: in the sensor's unit.
/// - out: receives one of ELB_READING_...; later versions may add more.
///
/// Errors: ELB_STATUS_NO_FEEDBACK.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_reading_state(joint: *const elb_joint, reading: f64, out: *mut u32) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { answer(joint, out, |joint| Ok(state_number(joint.reading_state(reading)?))) }
}

/// The name of a state of a reading: "inside", "outside", "lower-rail", "upper-rail", "impossible".
///
/// Returns a static text, never NULL, not to be freed. A number that this library does not know gives "other".
#[unsafe(no_mangle)]
pub extern "C" fn elb_reading_name(state: u32) -> *const c_char {
    match state {
        ELB_READING_INSIDE => c_word!(ReadingState::Inside.as_str()),
        ELB_READING_OUTSIDE => c_word!(ReadingState::Outside.as_str()),
        ELB_READING_LOWER_RAIL => c_word!(ReadingState::LowerRail.as_str()),
        ELB_READING_UPPER_RAIL => c_word!(ReadingState::UpperRail.as_str()),
        ELB_READING_IMPOSSIBLE => c_word!(ReadingState::Impossible.as_str()),
        _ => OTHER,
    }
}

/// What one count of the converter is worth at a reading: degrees of joint angle per unit of reading, negative where the
/// reading falls as the angle rises. Beyond the ends of the feedback map, the slope with which it continues there.
///
/// - reading: in the sensor's unit; NaN gives NaN.
/// - out: receives deg per unit of reading.
///
/// Errors: ELB_STATUS_NO_FEEDBACK.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_angle_per_reading(
    joint: *const elb_joint,
    reading: f64,
    out: *mut f64,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { answer(joint, out, |joint| joint.angle_per_reading(reading)) }
}

/// Whether a broken or shorted wire can be seen: at the lower and at the upper rail of the converter, the outermost 1/256 of
/// its numbers (an assumption of this library). It can where elb_joint_reading_state tells the rail in all of it, so where the
/// feedback's readings keep clear of it; and it cannot where `feedback.adc_bits` is unknown. A wiper's own broken wire is at
/// a rail only if a resistor pulls the input there (an assumption of this library).
///
/// - lower, upper: receive 1 if it can be seen there, else 0.
///
/// Errors: ELB_STATUS_NO_FEEDBACK.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_detects_wire_faults(
    joint: *const elb_joint,
    lower: *mut u32,
    upper: *mut u32,
) -> elb_status {
    quick(|| {
        // SAFETY: the header's contract.
        let joint = unsafe { pointer::loop_call(joint, lower)? };
        // SAFETY: the header's contract.
        unsafe { pointer::loop_call(joint, upper)? };
        let sees = joint
            .joint
            .detects_wire_faults()
            .map_err(|error| elb_status::from(error.code()))?;
        // SAFETY: checked above.
        unsafe {
            pointer::put(lower, u32::from(sees[0]));
            pointer::put(upper, u32::from(sees[1]));
        }
        Ok(())
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::word::read;

    #[test]
    fn each_state_has_the_word_of_the_core() {
        let states = [
            ReadingState::Inside,
            ReadingState::Outside,
            ReadingState::LowerRail,
            ReadingState::UpperRail,
            ReadingState::Impossible,
        ];
        for (number, state) in (0..).zip(states) {
            assert_eq!(state_number(state), number);
            assert_eq!(read(elb_reading_name(number)), state.as_str());
        }
        assert_eq!(read(elb_reading_name(5)), "other");
    }
}
