//! What a fit of limits tells: the structs that its calls fill, their numbers and the names of these.

use crate::readings::number_of;
use crate::refusal::Refusal;
use crate::word::{OTHER, c_word};
use model::fit::{Advice, End, EndKind, LostMotion, NextReading, RejectReason, Rejected, Side, Slip};
use std::ffi::c_char;

/// The line between the stops. Frozen at 80 bytes.
///
/// `measured = intercept + slope * drive`.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_fit_line {
    /// Measured per drive angle.
    pub slope: f64,
    /// Its standard uncertainty.
    pub u_slope: f64,
    /// Measured value at drive 0.
    pub intercept: f64,
    /// Its standard uncertainty.
    pub u_intercept: f64,
    /// Covariance of slope and intercept.
    pub covariance: f64,
    /// Standard deviation of the retained readings about the model, in measured units.
    pub residual_sd: f64,
    /// Share of the retained readings' variance that the model explains, 0 to 1.
    pub r_squared: f64,
    /// Probability that the sign of the slope is right.
    pub certainty: f64,
    /// Degrees of freedom.
    pub dof: u64,
    /// +1 if measured rises with the drive angle, -1 if it falls.
    pub trend: i32,
    /// Always 0.
    pub reserved: u32,
}

const _: () = assert!(size_of::<elb_fit_line>() == 80);

/// Kind of an end: there is none.
pub const ELB_END_NONE: u32 = 0;
/// Kind of an end: no stop was found, clear to here.
pub const ELB_END_CLEAR: u32 = 3;
/// Kind of an end: the stop was met, and placed.
pub const ELB_END_CONTACT: u32 = 1;
/// Kind of an end: the last readings fell short of the line; something holds between `at` and `short_at`.
pub const ELB_END_STALLED: u32 = 2;

/// The number of a kind of end.
pub(crate) const fn kind_number(kind: EndKind) -> u32 {
    match kind {
        EndKind::Clear => ELB_END_CLEAR,
        EndKind::Contact => ELB_END_CONTACT,
        EndKind::Stalled => ELB_END_STALLED,
    }
}

/// The name of a kind of end: "none", "clear", "contact", "stalled".
///
/// Returns a static text, never NULL, not to be freed. A number that this library does not know gives "other".
#[unsafe(no_mangle)]
pub extern "C" fn elb_end_name(kind: u32) -> *const c_char {
    match kind {
        ELB_END_NONE => c"none".as_ptr(),
        ELB_END_CLEAR => c_word!(EndKind::Clear.as_str()),
        ELB_END_CONTACT => c_word!(EndKind::Contact.as_str()),
        ELB_END_STALLED => c_word!(EndKind::Stalled.as_str()),
        _ => OTHER,
    }
}

/// Neither end.
pub const ELB_SIDE_NONE: u32 = 0;
/// The lower end.
pub const ELB_SIDE_LOWER: u32 = 1;
/// The upper end.
pub const ELB_SIDE_UPPER: u32 = 2;

/// The number of an end.
pub(crate) const fn side_number(side: Side) -> u32 {
    match side {
        Side::Lower => ELB_SIDE_LOWER,
        Side::Upper => ELB_SIDE_UPPER,
    }
}

/// One end of the drive angles, with its evidence. Frozen at 88 bytes.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_fit_end {
    /// The drive angle of contact, or of the furthest clear reading; when stalled, of the last reading that follows the line.
    pub at: f64,
    /// When stalled, the drive angle of the first reading that fell short of the line; else NaN.
    pub short_at: f64,
    /// Standard uncertainty of a contact's `at`; else NaN.
    pub u: f64,
    /// Coverage interval of the contact, lower then upper; NaN for every other kind.
    pub interval: [f64; 2],
    /// The guard that went into `travel`; 0 when only clear, or where one reading alone shows that the joint stalled.
    pub guard: f64,
    /// The recommended end of the travel.
    pub travel: f64,
    /// The measured value on the stop; NaN where it is not known.
    pub level: f64,
    /// Its standard uncertainty; NaN with it.
    pub u_level: f64,
    /// Retained readings at or beyond the contact; when stalled, those that fell short.
    pub readings_beyond: u64,
    /// ELB_END_CONTACT, ELB_END_STALLED or ELB_END_CLEAR.
    pub kind: u32,
    /// 1 if contact was noted by hand, else 0.
    pub marked: u32,
}

const _: () = assert!(size_of::<elb_fit_end>() == 88);

impl From<&End> for elb_fit_end {
    fn from(end: &End) -> Self {
        Self {
            at: end.at,
            short_at: end.short_at.unwrap_or(f64::NAN),
            u: end.u.unwrap_or(f64::NAN),
            interval: end.interval.unwrap_or([f64::NAN; 2]),
            guard: end.guard,
            travel: end.travel,
            level: end.level.map_or(f64::NAN, |level| level.value),
            u_level: end.level.map_or(f64::NAN, |level| level.u),
            readings_beyond: end.readings_beyond as u64,
            kind: kind_number(end.kind),
            marked: end.marked.into(),
        }
    }
}

/// The difference between positions reached from below and from above. Frozen at 40 bytes.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_lost_motion {
    /// Its size, in measured units; 0 or more.
    pub value: f64,
    /// Standard uncertainty of `value` and of `reversal`.
    pub u: f64,
    /// With its sign: mean reached from below less mean from above (the reversal value of ISO 230-2).
    pub reversal: f64,
    /// Its size in drive angle.
    pub drive: f64,
    /// Standard uncertainty of `drive`.
    pub u_drive: f64,
}

const _: () = assert!(size_of::<elb_lost_motion>() == 40);

impl elb_lost_motion {
    pub(crate) fn of(found: &LostMotion) -> Result<Self, Refusal> {
        match *found {
            LostMotion::Measured {
                value,
                u,
                reversal,
                drive,
                u_drive,
            } => Ok(Self {
                value,
                u,
                reversal,
                drive,
                u_drive,
            }),
            _ => Err(Refusal::Absent("lost motion not determinable")),
        }
    }
}

/// Reason for leaving a reading out: off the line, between the stops.
pub const ELB_REJECT_OFF_THE_LINE: u32 = 0;
/// Reason for leaving a reading out: off the stop's level, on a stop.
pub const ELB_REJECT_OFF_THE_STOP: u32 = 1;
/// Reason for leaving a reading out: taken within the lost motion after a turn, before the joint followed; no misreading.
pub const ELB_REJECT_NOT_TAKEN_UP: u32 = 2;
/// Reason for leaving a reading out: its drive angle lies far from those of all others, and it is not on their line.
pub const ELB_REJECT_DRIVE_FAR_OFF: u32 = 3;
/// Reason for leaving a reading out: one that this version has no number for.
pub const ELB_REJECT_OTHER: u32 = 255;

/// The number of a reason.
const fn reason_number(reason: RejectReason) -> u32 {
    match reason {
        RejectReason::OffTheLine => ELB_REJECT_OFF_THE_LINE,
        RejectReason::OffTheStop => ELB_REJECT_OFF_THE_STOP,
        RejectReason::NotTakenUp => ELB_REJECT_NOT_TAKEN_UP,
        RejectReason::DriveFarOff => ELB_REJECT_DRIVE_FAR_OFF,
        _ => ELB_REJECT_OTHER,
    }
}

/// The name of a reason for leaving a reading out: "off-the-line", "off-the-stop", "not-taken-up",
/// "drive-far-off".
///
/// Returns a static text, never NULL, not to be freed. A number that this library does not know gives "other".
#[unsafe(no_mangle)]
pub extern "C" fn elb_reject_name(reason: u32) -> *const c_char {
    match reason {
        ELB_REJECT_OFF_THE_LINE => c_word!(RejectReason::OffTheLine.as_str()),
        ELB_REJECT_OFF_THE_STOP => c_word!(RejectReason::OffTheStop.as_str()),
        ELB_REJECT_NOT_TAKEN_UP => c_word!(RejectReason::NotTakenUp.as_str()),
        ELB_REJECT_DRIVE_FAR_OFF => c_word!(RejectReason::DriveFarOff.as_str()),
        _ => OTHER,
    }
}

/// Slip: none that is known would explain the value.
pub const ELB_SLIP_NONE: u32 = 0;
/// Slip: noted with the wrong sign.
pub const ELB_SLIP_SIGN: u32 = 1;
/// Slip: noted with the decimal point one place off.
pub const ELB_SLIP_DECIMAL_PLACE: u32 = 2;
/// Slip: noted with two neighbouring digits exchanged.
pub const ELB_SLIP_DIGITS_SWAPPED: u32 = 3;
/// Slip: noted ten too high or too low.
pub const ELB_SLIP_TENS: u32 = 4;
/// Slip: the value of the neighbouring drive angle.
pub const ELB_SLIP_NEIGHBOURING_ROW: u32 = 5;
/// Slip: one that this version has no number for; read its word.
pub const ELB_SLIP_OTHER: u32 = 255;

const fn slip_number(slip: Slip) -> u32 {
    match slip {
        Slip::Sign => ELB_SLIP_SIGN,
        Slip::DecimalPlace => ELB_SLIP_DECIMAL_PLACE,
        Slip::DigitsSwapped => ELB_SLIP_DIGITS_SWAPPED,
        Slip::Tens => ELB_SLIP_TENS,
        Slip::NeighbouringRow => ELB_SLIP_NEIGHBOURING_ROW,
        _ => ELB_SLIP_OTHER,
    }
}

/// A reading that was left out. Frozen at 40 bytes.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_rejected {
    /// Where it stands among the readings, counted from 0.
    pub index: u64,
    /// Its drive angle.
    pub drive: f64,
    /// Its measured value.
    pub measured: f64,
    /// Measured less expected.
    pub residual: f64,
    /// ELB_REJECT_...
    pub reason: u32,
    /// The slip that would explain the value: ELB_SLIP_...
    pub cause: u32,
}

const _: () = assert!(size_of::<elb_rejected>() == 40);

impl From<&Rejected> for elb_rejected {
    fn from(rejected: &Rejected) -> Self {
        Self {
            index: rejected.index as u64,
            drive: rejected.drive,
            measured: rejected.measured,
            residual: rejected.residual,
            reason: reason_number(rejected.reason),
            cause: rejected.cause.map_or(ELB_SLIP_NONE, slip_number),
        }
    }
}

/// Which readings to take next: the few that sharpen most what is weakest. Frozen at 32 bytes.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_advice {
    /// Standard uncertainty of the stop's place now, in drive angle; NaN where no stop was found.
    pub u_before: f64,
    /// The same to be expected with these readings; NaN where it cannot be foretold.
    pub u_after: f64,
    /// How many readings; elb_fit_next_reading has each.
    pub readings: u64,
    /// The end that they are for: ELB_SIDE_LOWER or ELB_SIDE_UPPER.
    pub side: u32,
    /// Always 0.
    pub reserved: u32,
}

const _: () = assert!(size_of::<elb_advice>() == 32);

impl From<&Advice> for elb_advice {
    fn from(advice: &Advice) -> Self {
        Self {
            u_before: advice.u_before.unwrap_or(f64::NAN),
            u_after: advice.u_after.unwrap_or(f64::NAN),
            readings: advice.readings.len() as u64,
            side: side_number(advice.side),
            reserved: 0,
        }
    }
}

/// A reading to take. Frozen at 16 bytes.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_next_reading {
    /// Its drive angle.
    pub drive: f64,
    /// The side from which to reach it: ELB_APPROACH_...
    pub approach: i32,
    /// Always 0.
    pub reserved: u32,
}

const _: () = assert!(size_of::<elb_next_reading>() == 16);

impl From<&NextReading> for elb_next_reading {
    fn from(next: &NextReading) -> Self {
        Self {
            drive: next.drive,
            approach: number_of(next.approach).into(),
            reserved: 0,
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may panic")]
    use super::*;
    use crate::word::read;
    use model::fit::{FitOptions, Readings, fit_limits};

    #[test]
    fn each_kind_of_end_has_the_word_of_the_core() {
        for kind in [EndKind::Clear, EndKind::Contact, EndKind::Stalled] {
            assert_eq!(read(elb_end_name(kind_number(kind))), kind.as_str());
        }
        assert_eq!(read(elb_end_name(ELB_END_NONE)), "none");
        assert_eq!(read(elb_end_name(4)), "other");
    }

    /// As the core saves them.
    #[test]
    fn each_reason_has_the_word_of_the_core() {
        for reason in [
            RejectReason::OffTheLine,
            RejectReason::OffTheStop,
            RejectReason::NotTakenUp,
            RejectReason::DriveFarOff,
        ] {
            let saved = serde_json::to_string(&reason).unwrap();
            assert_eq!(format!("\"{}\"", read(elb_reject_name(reason_number(reason)))), saved);
        }
        assert_eq!(read(elb_reject_name(ELB_REJECT_NOT_TAKEN_UP)), "not-taken-up");
        assert_eq!(read(elb_reject_name(ELB_REJECT_OTHER)), "other");
    }

    #[test]
    fn a_stalled_end_has_a_number_and_both_its_angles() {
        let drive: Vec<f64> = (0..8).map(|i| 10.0 * f64::from(i)).collect();
        let mut fit = fit_limits(&Readings::new(&drive, &drive), &FitOptions::default()).unwrap();
        assert!(elb_fit_end::from(&fit.upper).short_at.is_nan());
        (fit.upper.kind, fit.upper.at, fit.upper.short_at) = (EndKind::Stalled, 60.0, Some(70.0));
        let end = elb_fit_end::from(&fit.upper);
        assert_eq!((end.kind, end.at, end.short_at), (ELB_END_STALLED, 60.0, 70.0));
    }
}
