//! The other way to put the links of a mechanism together.

use super::curve::rounding_floor;
use super::linkage::{LinkageFit, with_lost_motion};
use crate::fit::readings::Readings;
use crate::linkage::{Branch, Mechanism};
use crate::look::Statistic;
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

/// A mechanism put together the other way, which the readings do not tell from the one that was fitted.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct OtherBranch {
    /// The other branch.
    pub branch: Branch,
    /// Standard deviation of the readings about it, in measured units.
    pub residual_sd: f64,
    /// That of the mechanism fitted.
    pub fitted_sd: f64,
    /// The most by which the joint angles of the two differ over the drive angles read and a tenth of their range to either side,
    /// in measured units.
    pub apart: f64,
    /// Whether the readings fit the other branch better: it makes them 20 times as likely.
    pub is_better: bool,
}

impl core::fmt::Display for OtherBranch {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let Self {
            branch,
            residual_sd,
            fitted_sd,
            apart,
            is_better,
        } = *self;
        let branch = branch.as_str();
        let fits = if is_better { "fits better" } else { "fits as well" };
        write!(
            f,
            "assembled with its pin on the {branch}, this linkage {fits} (residual SD {} against {}), and \
             the two differ by up to {} within a tenth of the range beyond the readings; look at the joint, on which side the \
             pin lies",
            Statistic(residual_sd),
            Statistic(fitted_sd),
            Statistic(apart)
        )
    }
}

impl OtherBranch {
    /// The other branch of a fit, if there is one and the readings do not rule it out.
    pub(super) fn of(
        fit: &LinkageFit,
        readings: &Readings<'_>,
        start: &Mechanism,
        free: &[&'static str],
    ) -> Option<Self> {
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
        (apart > SAME * (high - low)).then_some(Self {
            branch: best.mechanism.branch()?,
            residual_sd: best.residual_sd,
            fitted_sd: fit.residual_sd,
            apart,
            is_better: loss < -TOLD,
        })
    }
}

/// The same links put together the other way.
fn other(mechanism: &Mechanism) -> Option<Mechanism> {
    let mut other = *mechanism;
    other.set_branch(mechanism.branch()?.other()).then_some(other)
}
