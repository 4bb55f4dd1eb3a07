//! Limits from readings.

use crate::guard::guard;
use crate::handle::{self, Handle, read};
use crate::pointer;
use crate::readings::{ELB_APPROACH_UNKNOWN, Given, asked, elb_fit_options, elb_readings, number_of};
use crate::refusal::{Refusal, elb_error};
use crate::status::elb_status;
use crate::text::c_text;
use crate::word::{OTHER, c_word};
use model::fit::{
    Advice, End, EndKind, FitError, LimitFit, LostMotion, NextReading, Readings, RejectReason, Rejected, Side, Slip,
    Trend,
};
use std::ffi::{CString, c_char};

/// What a fit found. Immutable: any number of threads may read it at once.
#[derive(Debug)]
pub struct elb_fit {
    pub(crate) fit: LimitFit,
    warnings: Vec<CString>,
    lost_motion: CString,
    /// The word of each rejected reading's slip, where there is one.
    slips: Vec<Option<CString>>,
}

impl elb_fit {
    /// The readings that were fitted; others are refused by their number.
    pub(crate) fn own<'a>(&self, given: &'a Given) -> Result<Readings<'a>, Refusal> {
        let given = given.readings();
        if given.drive.len() == self.fit.readings {
            return Ok(given);
        }
        Err(Refusal::Fit(FitError::LengthMismatch {
            what: "readings",
            given: given.drive.len(),
            expected: self.fit.readings,
        }))
    }
}

impl Handle for elb_fit {
    const WHAT: &'static str = "fit";
}

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
    /// The guard that went into `travel`; 0 when only clear.
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
/// Reason for leaving a reading out: one that this version has no number for.
pub const ELB_REJECT_OTHER: u32 = 255;

/// The number of a reason.
const fn reason_number(reason: RejectReason) -> u32 {
    match reason {
        RejectReason::OffTheLine => ELB_REJECT_OFF_THE_LINE,
        RejectReason::OffTheStop => ELB_REJECT_OFF_THE_STOP,
        RejectReason::NotTakenUp => ELB_REJECT_NOT_TAKEN_UP,
        _ => ELB_REJECT_OTHER,
    }
}

/// The name of a reason for leaving a reading out: "off-the-line", "off-the-stop", "not-taken-up".
///
/// Returns a static text, never NULL, not to be freed. A number that this library does not know gives "other".
#[unsafe(no_mangle)]
pub extern "C" fn elb_reject_name(reason: u32) -> *const c_char {
    match reason {
        ELB_REJECT_OFF_THE_LINE => c_word!(RejectReason::OffTheLine.as_str()),
        ELB_REJECT_OFF_THE_STOP => c_word!(RejectReason::OffTheStop.as_str()),
        ELB_REJECT_NOT_TAKEN_UP => c_word!(RejectReason::NotTakenUp.as_str()),
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

/// Finds how far a joint can go, with the evidence.
///
/// - readings: what was commanded and measured. NaN and infinities are refused, never skipped.
/// - options: the options of the fit; NULL means the defaults.
/// - out: receives the fit; free it with elb_fit_free.
/// - error: receives the details when the call fails.
///
/// Nullable: options, error. Errors: ELB_STATUS_NOT_FINITE, ELB_STATUS_NOT_POSITIVE, ELB_STATUS_TOO_FEW_READINGS,
/// ELB_STATUS_DRIVE_ANGLES_EQUAL, ELB_STATUS_NO_MOTION, ELB_STATUS_OPTION_OUTSIDE, ELB_STATUS_IN_MOTION,
/// ELB_STATUS_NO_AGREEMENT, ELB_STATUS_UNKNOWN_VALUE.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_fit_limits(
    readings: *const elb_readings,
    options: *const elb_fit_options,
    out: *mut *mut elb_fit,
    error: *mut elb_error,
) -> elb_status {
    guard(error, || {
        pointer::check("out", out)?;
        // SAFETY: the header's contract.
        let (given, options) = unsafe { (Given::read(readings)?, asked(options)?) };
        let fit = model::fit::fit_limits(&given.readings(), &options)?;
        // SAFETY: checked above.
        unsafe { handle::give(out, elb_fit::from(fit)) };
        Ok(())
    })
}

impl From<LimitFit> for elb_fit {
    fn from(fit: LimitFit) -> Self {
        let lost_motion = match fit.lost_motion {
            LostMotion::NotDeterminable { reason } => c_text(&reason),
            _ => CString::default(),
        };
        Self {
            warnings: fit.warnings.iter().map(c_text).collect(),
            lost_motion,
            slips: fit
                .rejected
                .iter()
                .map(|rejected| rejected.cause.map(|slip| c_text(&slip.as_str())))
                .collect(),
            fit,
        }
    }
}

/// Frees a fit. It must be freed once, and never while another thread uses it.
///
/// Nullable: fit (nothing happens).
#[unsafe(no_mangle)]
pub unsafe extern "C" fn elb_fit_free(fit: *mut elb_fit) {
    // SAFETY: the header's contract.
    unsafe { handle::free(fit) }
}

/// The line between the stops.
///
/// - out: receives it.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_fit_line_of(fit: *const elb_fit, out: *mut elb_fit_line) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(fit, out, |fit| {
            let fit = &fit.fit;
            Ok(elb_fit_line {
                slope: fit.slope,
                u_slope: fit.u_slope,
                intercept: fit.intercept,
                u_intercept: fit.u_intercept,
                covariance: fit.covariance,
                residual_sd: fit.residual_sd,
                r_squared: fit.goodness.r_squared,
                certainty: fit.sense.certainty,
                dof: fit.dof as u64,
                trend: match fit.sense.trend {
                    Trend::Rising => 1,
                    Trend::Falling => -1,
                },
                reserved: 0,
            })
        })
    }
}

/// One end of the drive angles, with its evidence.
///
/// - side: ELB_SIDE_LOWER or ELB_SIDE_UPPER.
/// - out: receives it.
///
/// Errors: ELB_STATUS_UNKNOWN_VALUE.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_fit_end_of(fit: *const elb_fit, side: u32, out: *mut elb_fit_end) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(fit, out, |fit| match side {
            ELB_SIDE_LOWER => Ok((&fit.fit.lower).into()),
            ELB_SIDE_UPPER => Ok((&fit.fit.upper).into()),
            other => Err(Refusal::Value {
                what: "side",
                given: other.into(),
                right: "ELB_SIDE_LOWER or ELB_SIDE_UPPER",
            }),
        })
    }
}

/// The recommended travel.
///
/// - lower, upper: receive its ends, in drive angle.
///
/// Errors: ELB_STATUS_ABSENT when guard margin and uncertainty leave no travel.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_fit_travel(fit: *const elb_fit, lower: *mut f64, upper: *mut f64) -> elb_status {
    guard(std::ptr::null_mut(), || {
        // SAFETY: the header's contract.
        let fit = unsafe { pointer::borrow("fit", fit)? };
        pointer::check("lower", lower)?;
        pointer::check("upper", upper)?;
        let travel = fit
            .fit
            .travel
            .ok_or(Refusal::Absent("guard margin and uncertainty leave no travel"))?;
        // SAFETY: checked above.
        unsafe {
            pointer::put(lower, travel[0]);
            pointer::put(upper, travel[1]);
        }
        Ok(())
    })
}

/// Lost motion.
///
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT when it cannot be determined, elb_fit_lost_motion_text says why.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_fit_lost_motion(fit: *const elb_fit, out: *mut elb_lost_motion) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(fit, out, |fit| elb_lost_motion::of(&fit.fit.lost_motion)) }
}

/// Why lost motion cannot be determined; an empty text if it was.
///
/// - out: receives a text that lives as long as the fit.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_fit_lost_motion_text(fit: *const elb_fit, out: *mut *const c_char) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(fit, out, |fit| Ok(fit.lost_motion.as_ptr())) }
}

/// How far repeats of one position scatter.
///
/// - sd: receives the pooled standard deviation, in measured units.
/// - dof: receives its degrees of freedom.
///
/// Errors: ELB_STATUS_ABSENT without repeats.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_fit_repeatability(fit: *const elb_fit, sd: *mut f64, dof: *mut u64) -> elb_status {
    guard(std::ptr::null_mut(), || {
        // SAFETY: the header's contract.
        let fit = unsafe { pointer::borrow("fit", fit)? };
        pointer::check("sd", sd)?;
        pointer::check("dof", dof)?;
        let found = fit
            .fit
            .repeatability
            .ok_or(Refusal::Absent("no position was repeated"))?;
        // SAFETY: checked above.
        unsafe {
            pointer::put(sd, found.sd);
            pointer::put(dof, found.dof as u64);
        }
        Ok(())
    })
}

/// The measured value that a fit expects at a drive angle; beyond a contact it stays at the stop. NaN gives NaN.
///
/// - out: receives the value.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_fit_expected(fit: *const elb_fit, drive: f64, out: *mut f64) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(fit, out, |fit| Ok(fit.fit.expected(drive))) }
}

/// How many readings were left out.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_fit_rejected_count(fit: *const elb_fit, out: *mut usize) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(fit, out, |fit| Ok(fit.fit.rejected.len())) }
}

/// One of the readings that were left out.
///
/// - i: 0 to elb_fit_rejected_count - 1, else ELB_STATUS_ABSENT.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_fit_rejected(fit: *const elb_fit, i: usize, out: *mut elb_rejected) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(fit, out, |fit| {
            let list = &fit.fit.rejected;
            let rejected = list.get(i).ok_or(Refusal::Index {
                what: "rejected reading",
                given: i,
                length: list.len(),
            })?;
            Ok(rejected.into())
        })
    }
}

/// The word of the slip that would explain a rejected value: `sign`, `decimal-place`, `digits-swapped`, `tens`,
/// `neighbouring-row`; later versions may add more.
///
/// - i: 0 to elb_fit_rejected_count - 1.
/// - out: receives a text that lives as long as the fit.
///
/// Errors: ELB_STATUS_ABSENT, also where no slip is known.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_fit_rejected_slip(fit: *const elb_fit, i: usize, out: *mut *const c_char) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(fit, out, |fit| {
            let slip = fit.slips.get(i).ok_or(Refusal::Index {
                what: "rejected reading",
                given: i,
                length: fit.slips.len(),
            })?;
            let word = slip
                .as_ref()
                .ok_or(Refusal::Absent("no slip is known that explains this value"))?;
            Ok(word.as_ptr())
        })
    }
}

/// The resolution that a fit worked with: the smallest step of the measured values.
///
/// - resolution: receives it, in measured units.
/// - inferred: receives 1 if nobody gave it and the grid of the values shows it, else 0.
///
/// Errors: ELB_STATUS_ABSENT where none was given and the resolution is too fine to matter.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_fit_resolution(
    fit: *const elb_fit,
    resolution: *mut f64,
    inferred: *mut u32,
) -> elb_status {
    guard(std::ptr::null_mut(), || {
        // SAFETY: the header's contract.
        let fit = unsafe { pointer::borrow("fit", fit)? };
        pointer::check("resolution", resolution)?;
        pointer::check("inferred", inferred)?;
        let found = fit
            .fit
            .resolution
            .ok_or(Refusal::Absent("the resolution is too fine to matter"))?;
        // SAFETY: checked above.
        unsafe {
            pointer::put(resolution, found);
            pointer::put(inferred, fit.fit.resolution_inferred.into());
        }
        Ok(())
    })
}

/// Whether the sides from which positions were reached were inferred from the order of the readings. That needs a table that goes there
/// and back, and lost motion of six of its standard uncertainties (up to 20 readings: with a probability of 0.9). Without it
/// lost motion is not determined, and half of it is not taken off the travel: give `approach`.
///
/// - out: receives 1 if nobody wrote them down and the order shows them, else 0.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_fit_approach_inferred(fit: *const elb_fit, out: *mut u32) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(fit, out, |fit| Ok(fit.fit.approach_inferred.into())) }
}

/// Which readings to take next, and what they are worth.
///
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT where both ends are proven clear.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_fit_advice(fit: *const elb_fit, out: *mut elb_advice) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(fit, out, |fit| Ok(advice_of(fit)?.into())) }
}

/// One of the readings to take next, in the order in which to take them.
///
/// - i: 0 to `readings` of elb_fit_advice - 1.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_fit_next_reading(fit: *const elb_fit, i: usize, out: *mut elb_next_reading) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(fit, out, |fit| {
            let list = &advice_of(fit)?.readings;
            let next = list.get(i).ok_or(Refusal::Index {
                what: "reading to take",
                given: i,
                length: list.len(),
            })?;
            Ok(next.into())
        })
    }
}

fn advice_of(fit: &elb_fit) -> Result<&Advice, Refusal> {
    let advice = fit.fit.advice.as_ref();
    advice.ok_or(Refusal::Absent(
        "both ends are proven clear; no further reading is needed",
    ))
}

/// How many warnings a fit carries.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_fit_warning_count(fit: *const elb_fit, out: *mut usize) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(fit, out, |fit| Ok(fit.warnings.len())) }
}

/// The sentence of one warning.
///
/// - i: 0 to elb_fit_warning_count - 1, else ELB_STATUS_ABSENT.
/// - out: receives a text that lives as long as the fit.
///
/// Errors: ELB_STATUS_ABSENT.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_fit_warning(fit: *const elb_fit, i: usize, out: *mut *const c_char) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(fit, out, |fit| {
            let warning = fit.warnings.get(i).ok_or(Refusal::Index {
                what: "warning",
                given: i,
                length: fit.warnings.len(),
            })?;
            Ok(warning.as_ptr())
        })
    }
}

/// The readings that show the transmission alone: between the stops, without those left out and those beyond an end at which the
/// joint hardly moves. For elb_curve_new, elb_linkage_new and elb_choice_new.
///
/// - readings: the readings that were fitted.
/// - drive, measured: receive those readings; each has room for as many as were fitted.
/// - approach: receives from which side each was reached, ELB_APPROACH_...; unknown where `readings` do not hold it.
/// - n: receives how many they are.
/// - error: receives the details when the call fails.
///
/// Nullable: approach, error. Errors: ELB_STATUS_LENGTH_MISMATCH for other readings than were fitted,
/// ELB_STATUS_UNKNOWN_VALUE.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_fit_between_stops(
    fit: *const elb_fit,
    readings: *const elb_readings,
    drive: *mut f64,
    measured: *mut f64,
    approach: *mut i8,
    n: *mut usize,
    error: *mut elb_error,
) -> elb_status {
    guard(error, || {
        // SAFETY: the header's contract.
        let (fit, given) = unsafe { (pointer::borrow("fit", fit)?, Given::read(readings)?) };
        pointer::check("n", n)?;
        let given = fit.own(&given)?;
        pointer::check_array("drive", drive, given.drive.len())?;
        pointer::check_array("measured", measured, given.drive.len())?;
        if !approach.is_null() {
            pointer::check_array("approach", approach, given.drive.len())?;
        }
        let between = fit.fit.between_stops(&given);
        let (x, y) = (&between.drive, &between.measured);
        let sides: Vec<i8> = match &between.approach {
            Some(sides) => sides.iter().map(|side| number_of(*side)).collect(),
            None => vec![ELB_APPROACH_UNKNOWN; x.len()],
        };
        // SAFETY: checked above; each has room for all readings by the header's contract, and ours are apart from them.
        unsafe {
            std::ptr::copy_nonoverlapping(x.as_ptr(), drive, x.len());
            std::ptr::copy_nonoverlapping(y.as_ptr(), measured, y.len());
            if !approach.is_null() {
                std::ptr::copy_nonoverlapping(sides.as_ptr(), approach, sides.len());
            }
            pointer::put(n, x.len());
        }
        Ok(())
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may panic")]
    use super::*;
    use crate::word::read;
    use model::fit::{FitOptions, fit_limits};

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
