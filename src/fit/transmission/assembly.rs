//! The dimensions of a mechanism that can be put together in two ways: both are fitted.

use super::branch::OtherBranch;
use super::curve::rounding_floor;
use super::linkage::{LinkageFit, with_lost_motion};
use crate::fit::error::FitError;
use crate::fit::readings::Readings;
use crate::linkage::Mechanism;
use crate::math::ln;

/// By how much `n·ln(S)`, S the sum of squares, of one branch must be lower for the readings to tell it from the other: a likelihood
/// 20 times as great, since `n·ln(S)` is twice its logarithm.
const TOLD: f64 = 6.0;
/// Part of the drive range, to either side of it, in which the two are compared as well (an assumption of this library).
const BEYOND: f64 = 0.1;
/// Difference of the two, as a share of the measured range, that is rounding: a slider-crank without offset is its own mirror image.
const SAME: f64 = 1e-6;
/// Places at which the two are compared.
const PLACES: u32 = 48;

/// Fits dimensions of a mechanism to joint angles (or places) measured at drive angles.
///
/// `start` is the mechanism as measured with a ruler; the dimensions named in `free` (keys of a robot file) are improved, the others
/// kept. How the horn sits on its spline, gear ratio or screw pitch need not be known: drive angle is offset plus gain times the
/// mechanism's own movement, and both are found as well. So lengths show in their ratios only: keep at least one of them. The
/// command is the joint angle: the measured values must be in degrees (for a slider-crank in the unit of its lengths).
///
/// Where some stretch was reached from both sides, lost motion is found as well, as [`BySide`](crate::fit::BySide) states: the mechanism lies midway.
/// It is sought as a change of the joint angle and as one of the drive angle; the one with the lesser sum of squares is kept.
/// Contact noted and stated uncertainties play no part.
///
/// A slider-crank and a four-bar can be put together in two ways. The other one is fitted as well, from the same start and from the
/// dimensions found; [`LinkageFit::other_branch`] says so if the readings do not tell the two apart.
///
/// *Method*: least squares of the measured values, to first order through the mechanism's slope, by Levenberg and Marquardt's
/// steps; uncertainties from the curvature of the sum of squares at its least.
///
/// # Errors
/// As [`fit_line`](crate::fit::fit_line); [`FitError::UnknownDimension`] for a name that the mechanism does not have;
/// [`FitError::Linkage`] for a start with a length that is not above zero, or a number that is not finite;
/// [`FitError::OutOfReach`] for a start that cannot reach a reading; [`FitError::NotDetermined`] if the readings do not
/// determine a dimension.
pub fn fit_linkage(readings: &Readings<'_>, start: &Mechanism, free: &[&'static str]) -> Result<LinkageFit, FitError> {
    let mut fit = with_lost_motion(readings, start, free)?;
    fit.other_branch = other_branch(&fit, readings, start, free);
    Ok(fit)
}

/// The other branch of a fit, if there is one and the readings do not rule it out.
fn other_branch(
    fit: &LinkageFit,
    readings: &Readings<'_>,
    start: &Mechanism,
    free: &[&'static str],
) -> Option<OtherBranch> {
    let starts = [other(start)?, other(&fit.mechanism)?];
    let found = starts
        .iter()
        .filter_map(|start| with_lost_motion(readings, start, free).ok());
    let best = found.min_by(|a, b| a.sum_of_squares.total_cmp(&b.sum_of_squares))?;
    let n = readings.drive.len() as f64;
    let floor = n * rounding_floor(readings.drive, readings.measured);
    let loss = n * (ln(best.sum_of_squares.max(floor)) - ln(fit.sum_of_squares.max(floor)));
    if loss > TOLD {
        return None;
    }
    let [lower, upper] = fit.drive;
    let apart = (0..=PLACES)
        .map(|i| {
            let share = f64::from(i) / f64::from(PLACES) * (1.0 + 2.0 * BEYOND) - BEYOND;
            let drive = lower + (upper - lower) * share;
            (fit.measured_at(drive) - best.measured_at(drive)).abs()
        })
        .filter(|apart| apart.is_finite())
        .fold(0.0, f64::max);
    let [low, high] = fit.measured;
    (apart > SAME * (high - low)).then_some(OtherBranch {
        branch: best.mechanism.branch()?,
        residual_sd: best.residual_sd,
        fitted_sd: fit.residual_sd,
        apart,
        is_better: loss < -TOLD,
    })
}

/// The same links put together the other way.
fn other(mechanism: &Mechanism) -> Option<Mechanism> {
    let mut other = *mechanism;
    other.set_branch(mechanism.branch()?.other()).then_some(other)
}
