//! Feedback maps from measured points.

use crate::guard::guard;
use crate::joint_config::{elb_feedback, elb_joint_config};
use crate::pointer;
use crate::refusal::{Refusal, elb_error};
use crate::status::elb_status;
use model::fit::{FeedbackWarning, fit_feedback};

/// Warning of a feedback map: at an end of the joint angles the sensor stays level while the joint goes on. These readings are left out;
/// turn the sensor or change its gain until it covers the joint's whole range, or keep the joint where it follows.
pub const ELB_FEEDBACK_LEVEL: u32 = 1;
/// Warning of a feedback map: from one reading on all are displaced together. The sensor was set again, slipped or drifted, or has lost
/// motion; fasten it, and take all readings again.
pub const ELB_FEEDBACK_DISPLACED: u32 = 2;
/// Warning of a feedback map: the residual SD is more than 4 % of the range of the joint angles. Look for a wrong row, a loose sensor, or a
/// bend that so few readings do not show.
pub const ELB_FEEDBACK_SCATTER_WIDE: u32 = 4;
/// Warning of a feedback map: one that this version of the header does not name.
pub const ELB_FEEDBACK_OTHER: u32 = 0x4000_0000;

/// The bit of a warning.
const fn bit(warning: &FeedbackWarning) -> u32 {
    match warning {
        FeedbackWarning::Level { .. } => ELB_FEEDBACK_LEVEL,
        FeedbackWarning::Displaced { .. } => ELB_FEEDBACK_DISPLACED,
        FeedbackWarning::ScatterWide { .. } => ELB_FEEDBACK_SCATTER_WIDE,
        _ => ELB_FEEDBACK_OTHER,
    }
}

/// What is known of a fitted feedback map as a whole.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_feedback_values {
    /// Standard deviation of the angles about the map, deg.
    pub residual_sd: f64,
    /// That about the best straight line: how much worse a straight map would be.
    pub straight_sd: f64,
    /// Standard uncertainties of the angles at the lowest and the highest reading, deg.
    pub u: [f64; 2],
    /// Readings that were not left out, less the numbers found.
    pub dof: u64,
    /// Readings left out, since they lie far off the map through the others, or at an end where the sensor stays level.
    pub n_left_out: u64,
    /// ELB_FEEDBACK_LEVEL, ELB_FEEDBACK_DISPLACED, ELB_FEEDBACK_SCATTER_WIDE, added up; 0 for none.
    pub warnings: u32,
    /// 0.
    pub reserved: u32,
}

const _: () = assert!(size_of::<elb_feedback_values>() == 56);

/// ---- A feedback map from measured points ----
///
/// ----
///
/// Fits what a sensor reads at joint angles, and puts the map into what is written down of a joint, for elb_joint_new and
/// elb_robot_with_joint: a straight line unless the readings show a significant bend, else a strictly monotone curve.
///
/// Of `config.feedback` are written `reading`, `angle`, `inverted`, `knots` and `n_knots`, and `pot_ohm` and `load_ohm` become 0,
/// since what was measured holds the load already; all else stays as it is. Beyond the readings the map continues as a straight line.
/// Of 8 readings or more, what lies far off the map through the others is left out, at most one in eight, two neighbours with exchanged
/// angles counted as one; so are readings at an end that stay level while the angles go on. `values` counts them, and tells what the readings as a whole say against the map.
///
/// - reading, angle: `n` readings of the sensor, and the joint angles at them in deg, as a protractor or inclinometer reads them;
///   in any order, repeats welcome; at least 5. Take medians of several where the sensor is noisy.
/// - most_knots: the most knots the curve may have, 2 to ELB_MOST_KNOTS.
/// - lower, upper: the joint angles, deg, that the joint's lower and upper command stand for.
/// - config: begun with elb_joint_config_init or elb_joint_config_of. Written only on success.
/// - knots: receives the map's knots, (n x 2), to which `config` points afterwards unless the map is straight: keep them as long as
///   it is used.
/// - room: how many knots (pairs) there is room for; ELB_MOST_JOINT_KNOTS are always enough.
/// - values: receives how well the map fits.
/// - error: receives the details when the call fails.
///
/// Nullable: values, error; an array without elements, knots without room. Errors: ELB_STATUS_TOO_FEW_READINGS,
/// ELB_STATUS_NO_MOTION if the sensor does not follow, ELB_STATUS_NOT_FINITE, ELB_STATUS_OPTION_OUTSIDE,
/// ELB_STATUS_NO_ROOM.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_fit_feedback(
    reading: *const f64,
    angle: *const f64,
    n: usize,
    most_knots: usize,
    lower: f64,
    upper: f64,
    config: *mut elb_joint_config,
    knots: *mut f64,
    room: usize,
    values: *mut elb_feedback_values,
    error: *mut elb_error,
) -> elb_status {
    guard(error, || {
        // SAFETY: the header's contract.
        let (mut joint, reading, angle) = unsafe {
            (
                pointer::read_sized(config)?,
                pointer::array("reading", reading, n)?,
                pointer::array("angle", angle, n)?,
            )
        };
        let places = knots.cast::<[f64; 2]>();
        pointer::check_array("knots", places, room)?;
        if !values.is_null() {
            pointer::check("values", values)?;
        }
        let fit = fit_feedback(reading, angle, most_knots)?;
        let record = fit.record([lower, upper])?;
        let found = record.knots.as_deref().unwrap_or_default();
        if found.len() > room {
            return Err(Refusal::Room {
                of: "knots",
                needed: found.len(),
                given: room,
            });
        }
        joint.feedback = elb_feedback {
            reading: record.reading,
            angle: record.angle,
            inverted: record.inverted.into(),
            pot_ohm: 0.0,
            load_ohm: 0.0,
            n_knots: found.len(),
            knots: if found.is_empty() { std::ptr::null() } else { knots },
            ..joint.feedback
        };
        let at = |end: Option<&f64>| end.copied().unwrap_or(f64::NAN);
        // SAFETY: checked above; `room` knots are writable by the header's contract, and ours are apart from them.
        unsafe {
            pointer::write_sized(config, joint.size, joint)?;
            if !found.is_empty() {
                std::ptr::copy_nonoverlapping(found.as_ptr(), places, found.len());
            }
            if !values.is_null() {
                pointer::put(
                    values,
                    elb_feedback_values {
                        residual_sd: fit.residual_sd,
                        straight_sd: fit.straight_sd,
                        u: [at(fit.u.first()), at(fit.u.last())],
                        dof: fit.dof as u64,
                        n_left_out: fit.left_out.len() as u64,
                        warnings: fit.warnings.iter().fold(0, |bits, warning| bits | bit(warning)),
                        reserved: 0,
                    },
                );
            }
        }
        Ok(())
    })
}
