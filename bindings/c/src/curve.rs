//! Curves through readings.

use crate::fit_values::elb_lost_motion;
use crate::guard::guard;
use crate::handle::{self, Handle, read};
use crate::joint_config::{elb_joint_config, elb_transmission};
use crate::pointer;
use crate::readings::{Columns, side_of};
use crate::refusal::{Refusal, elb_error};
use crate::status::elb_status;
use model::curve::Curve;
use model::fit::CurveFit;

/// The most knots that elb_curve_new will use.
pub const ELB_MOST_KNOTS: usize = 12;
/// The most knots that elb_curve_joint writes.
pub const ELB_MOST_JOINT_KNOTS: usize = 23;

const _: () = assert!(ELB_MOST_KNOTS == model::fit::MOST_KNOTS && ELB_MOST_JOINT_KNOTS == model::fit::MOST_JOINT_KNOTS);

/// A monotone curve through readings. Immutable: any number of threads may read it at once.
#[derive(Debug)]
pub struct elb_curve {
    fit: CurveFit,
    curve: Curve<f64>,
}

impl Handle for elb_curve {
    const WHAT: &'static str = "curve";
}

impl elb_curve {
    pub(crate) fn of(fit: CurveFit) -> Result<Self, Refusal> {
        // A fit is a curve already; were it none, the fault would be the library's.
        let curve = fit.curve().map_err(|error| Refusal::Fault(error.to_string()))?;
        Ok(Self { fit, curve })
    }
}

/// What is known of a fitted curve. Frozen at 40 bytes.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_curve_values {
    /// Standard deviation of the readings about the curve, free of lost motion, in measured units.
    pub residual_sd: f64,
    /// Sum of squared residuals.
    pub sum_of_squares: f64,
    /// Readings less knots, and less one where lost motion was measured.
    pub dof: u64,
    /// Knots.
    pub n_knots: u64,
    /// Numbers of knots that were tried.
    pub n_tried: u64,
}

const _: () = assert!(size_of::<elb_curve_values>() == 40);

/// A knot of a fitted curve. Frozen at 24 bytes.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_curve_knot {
    /// Its drive angle.
    pub drive: f64,
    /// The measured value there.
    pub measured: f64,
    /// Standard uncertainty of `measured`.
    pub u: f64,
}

const _: () = assert!(size_of::<elb_curve_knot>() == 24);

/// ---- Curves ----
///
/// For joints that are bent: a strictly monotone cubic through as few knots as the scatter allows. First leave out the
/// readings on a stop, and misreadings: elb_fit_between_stops gives what remains.
///
/// ----
///
/// Fits a curve. The number of knots is chosen by the Bayesian information criterion, corrected for few readings.
///
/// - drive, measured: `n` readings, in any order, repeats welcome; at least 5.
/// - approach: from which side each was reached, ELB_APPROACH_...; NULL if it is not known. Where some stretch was reached from
///   both sides, lost motion is found as well and does not count as scatter.
/// - most_knots: the most knots it may have, 2 to ELB_MOST_KNOTS.
/// - out: receives the curve; free it with elb_curve_free.
/// - error: receives the details when the call fails.
///
/// Nullable: approach, error; an array without elements. Errors: ELB_STATUS_TOO_FEW_READINGS,
/// ELB_STATUS_DRIVE_ANGLES_EQUAL, ELB_STATUS_NO_MOTION, ELB_STATUS_NOT_FINITE, ELB_STATUS_OPTION_OUTSIDE,
/// ELB_STATUS_UNKNOWN_VALUE.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_curve_new(
    drive: *const f64,
    measured: *const f64,
    approach: *const i8,
    n: usize,
    most_knots: usize,
    out: *mut *mut elb_curve,
    error: *mut elb_error,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        handle::make(out, error, || {
            let columns = Columns::read(drive, measured, approach, n)?;
            elb_curve::of(model::fit::fit_curve(&columns.readings(), most_knots)?)
        })
    }
}

/// Frees a curve made by elb_curve_new. It must be freed once, and never while another thread uses it.
///
/// Nullable: curve (nothing happens).
#[unsafe(no_mangle)]
pub unsafe extern "C" fn elb_curve_free(curve: *mut elb_curve) {
    // SAFETY: the header's contract.
    unsafe { handle::free(curve) }
}

/// What is known of a curve as a whole.
///
/// - out: receives it.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_curve_values_of(curve: *const elb_curve, out: *mut elb_curve_values) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(curve, out, |elb_curve { fit, .. }| {
            Ok(elb_curve_values {
                residual_sd: fit.residual_sd,
                sum_of_squares: fit.sum_of_squares,
                dof: fit.dof as u64,
                n_knots: fit.knots.len() as u64,
                n_tried: fit.criterion.len() as u64,
            })
        })
    }
}

/// Lost motion found with a curve, which lies midway; `drive` at the curve's mean slope.
///
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT where the readings do not show it: without approach, from one side only, or where no
/// stretch was reached from both.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_curve_lost_motion(curve: *const elb_curve, out: *mut elb_lost_motion) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(curve, out, |elb_curve { fit, .. }| {
            elb_lost_motion::of(&fit.lost_motion)
        })
    }
}

/// The measured value that a curve expects at a drive angle reached from one side: elb_curve_expected with the lost motion of that
/// side. NaN gives NaN.
///
/// - approach: ELB_APPROACH_...; midway between both sides where it is unknown.
/// - out: receives the value.
///
/// Errors: ELB_STATUS_UNKNOWN_VALUE.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_curve_expected_from(
    curve: *const elb_curve,
    drive: f64,
    approach: i8,
    out: *mut f64,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(curve, out, |elb_curve { fit, .. }| {
            Ok(fit.expected(drive, side_of(approach)?))
        })
    }
}

/// One knot, drive angles rising.
///
/// - i: 0 to `n_knots` - 1.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_curve_knot_at(curve: *const elb_curve, i: usize, out: *mut elb_curve_knot) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(curve, out, |elb_curve { fit, .. }| {
            let knot = fit.knots.get(i).zip(fit.u.get(i));
            let (&[drive, measured], &u) = knot.ok_or(Refusal::Index {
                what: "knot",
                given: i,
                length: fit.knots.len(),
            })?;
            Ok(elb_curve_knot { drive, measured, u })
        })
    }
}

/// What the number of knots was chosen by: the one with the lowest value was taken.
///
/// - i: 0 (2 knots) to `n_tried` - 1.
/// - out: receives the value.
///
/// Errors: ELB_STATUS_ABSENT.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_curve_criterion(curve: *const elb_curve, i: usize, out: *mut f64) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(curve, out, |elb_curve { fit, .. }| {
            fit.criterion.get(i).copied().ok_or(Refusal::Index {
                what: "criterion",
                given: i,
                length: fit.criterion.len(),
            })
        })
    }
}

/// The measured value that a curve expects at a drive angle; beyond its first and last knot it continues as a straight line. NaN
/// gives NaN.
///
/// - out: receives the value.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_curve_expected(curve: *const elb_curve, drive: f64, out: *mut f64) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(curve, out, |elb_curve { curve, .. }| Ok(curve.at(drive))) }
}

/// Puts a curve into what is written down of a joint, for elb_joint_new and elb_robot_with_joint.
///
/// The commands `lower` to `upper` stand for the measured values between the first and the last knot. Of `config` are
/// written `command`, `drive`, `inverted` and `transmission`; all else stays as it is: servo, timer, and a `travel`, a `rest` and a
/// feedback that may have to follow (the ends of `feedback.angle` are the joint angles of the command ends).
///
/// The inverse of a cubic is not the cubic through the inverted knots, so the joint has more knots where the two part.
///
/// - lower, upper: the command range, in the joint's own unit.
/// - config: begun with elb_joint_config_init or elb_joint_config_of. Written only on success.
/// - knots: receives the joint's knots, (n x 2), to which `config` points afterwards: keep them as long as it is used.
/// - room: how many knots (pairs) there is room for; ELB_MOST_JOINT_KNOTS are always enough.
/// - departure: receives the most by which the joint departs from the curve, in measured units.
/// - error: receives the details when the call fails.
///
/// Nullable: departure, error. Errors: ELB_STATUS_OPTION_OUTSIDE if lower and upper are not a range, ELB_STATUS_NO_ROOM.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_curve_joint(
    curve: *const elb_curve,
    lower: f64,
    upper: f64,
    config: *mut elb_joint_config,
    knots: *mut f64,
    room: usize,
    departure: *mut f64,
    error: *mut elb_error,
) -> elb_status {
    guard(error, || {
        // SAFETY: the header's contract.
        let (curve, mut joint) = unsafe { (pointer::borrow("curve", curve)?, pointer::read_sized(config)?) };
        let places = knots.cast::<[f64; 2]>();
        pointer::check("knots", places)?;
        pointer::check_array("knots", places, room)?;
        if !departure.is_null() {
            pointer::check("departure", departure)?;
        }
        let found = curve.fit.joint([lower, upper])?;
        let of_joint = match &found.transmission {
            model::TransmissionRecord::Curve { knots, .. } => knots.as_slice(),
            _ => &[],
        };
        if of_joint.len() > room {
            return Err(Refusal::Room {
                of: "knots",
                needed: of_joint.len(),
                given: room,
            });
        }
        joint.command = [lower, upper];
        joint.drive = found.drive;
        joint.inverted = found.inverted.into();
        joint.transmission = elb_transmission {
            knots,
            ..elb_transmission::of(&found.transmission)
        };
        // SAFETY: checked above; `room` knots are writable by the header's contract, and ours are apart from them.
        unsafe {
            pointer::write_sized(config, joint.size, joint)?;
            std::ptr::copy_nonoverlapping(of_joint.as_ptr(), places, of_joint.len());
            if !departure.is_null() {
                pointer::put(departure, found.departure);
            }
        }
        Ok(())
    })
}
