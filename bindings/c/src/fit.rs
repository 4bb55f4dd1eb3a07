//! Limits from readings.

use crate::fit_values::{
    ELB_SIDE_LOWER, ELB_SIDE_UPPER, elb_advice, elb_fit_end, elb_fit_line, elb_lost_motion, elb_next_reading,
    elb_rejected,
};
use crate::guard::guard;
use crate::handle::{self, Handle, nth, read, read_pair};
use crate::pointer;
use crate::readings::{ELB_APPROACH_UNKNOWN, Given, asked, elb_fit_options, elb_readings, number_of};
use crate::refusal::{Refusal, elb_error};
use crate::status::elb_status;
use crate::text::c_text;
use model::fit::{Advice, FitError, LimitFit, LostMotion, Readings, Trend};
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
    // SAFETY: the header's contract.
    unsafe {
        handle::make(out, error, || {
            let (given, options) = (Given::read(readings)?, asked(options)?);
            Ok(model::fit::fit_limits(&given.readings(), &options)?.into())
        })
    }
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
    // SAFETY: the header's contract.
    unsafe {
        read_pair(fit, ("lower", lower), ("upper", upper), |fit| {
            let travel = fit
                .fit
                .travel
                .ok_or(Refusal::Absent("guard margin and uncertainty leave no travel"))?;
            Ok(travel.into())
        })
    }
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
    // SAFETY: the header's contract.
    unsafe {
        read_pair(fit, ("sd", sd), ("dof", dof), |fit| {
            let found = fit
                .fit
                .repeatability
                .ok_or(Refusal::Absent("no position was repeated"))?;
            Ok((found.sd, found.dof as u64))
        })
    }
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
            let rejected = nth("rejected reading", list, i)?;
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
            let slip = nth("rejected reading", &fit.slips, i)?;
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
    // SAFETY: the header's contract.
    unsafe {
        read_pair(fit, ("resolution", resolution), ("inferred", inferred), |fit| {
            let found = fit
                .fit
                .resolution
                .ok_or(Refusal::Absent("the resolution is too fine to matter"))?;
            Ok((found, fit.fit.resolution_inferred.into()))
        })
    }
}

/// Whether the sides from which positions were reached were inferred from the order of the readings. That needs a table that goes there
/// and back at rest. The whole fit rests on these sides where lost motion is six of its standard uncertainties or more (up to 20
/// readings: has a probability of 0.9). Else only the lost motion does, and half of it is not taken off the travel: give `approach`.
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
            let next = nth("reading to take", list, i)?;
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
            let warning = nth("warning", &fit.warnings, i)?;
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
