//! A sensor or protractor that slipped while a table was taken one way: from one row on all angles are displaced together.
//!
//! There and back again, such rows show the same angles displaced, whatever the map. One way, knots follow the step, or the scatter holds
//! it. So the same maps are tried with a displacement beside them, from every row on, and compared with the maps without it.

use super::super::curve::{columns, measured_size, rounding_floor};
use super::super::sensor::{APART, FEWEST_OF_PART, LEAST_SHARE};
use super::smooth::smooth_sd;
use super::wrong_rows::{AS_CLOSE, WORTH, likeliest, selection};
use crate::fit::statistics::orthogonal::{inner, without};
use crate::fit::statistics::quantile::f_tail;
use crate::math::ln;
use std::vec::Vec;

/// Rows above which none is looked for: they come from recordings, which are repeated at no cost.
const MOST: usize = 100_000;
/// Most knots of the maps tried with a displacement: a smooth bow needs no more, and more follow the step themselves.
const MOST_BESIDE: usize = 5;
/// Probability by chance, over all rows and maps tried, above which a displacement is none; of 38400 invented sound tables one way
/// (8 to 40 rows, straight or with a smooth bow) 0 were told of one.
const P_SLIP: f64 = 0.01;
/// Each part has no less than one in so many rows: a steep end of a sensor has fewer.
const ONE_OF: usize = 10;
/// Share of a step in the rows that the knots must leave, for its size to be known.
const LEAST_OWN: f64 = 0.02;
/// Share of all that readings or angles move that goes back in a table one way: a slip, and scatter.
const GOES_BACK: f64 = 0.2;

/// All angles from a row on are displaced.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Slipped {
    /// The first row of them.
    pub(super) row: usize,
    /// By how much they are higher, deg.
    pub(super) by: f64,
}

impl Slipped {
    /// The angles with both parts brought to midway between them.
    pub(super) fn brought_together(self, angle: &[f64]) -> Vec<f64> {
        let half = |row: usize| if row < self.row { 0.5 } else { -0.5 };
        angle
            .iter()
            .enumerate()
            .map(|(row, angle)| angle + half(row) * self.by)
            .collect()
    }
}

/// The row from which a displacement of all others explains a table better than any map alone, if it does.
pub(super) fn find(reading: &[f64], angle: &[f64], most_knots: usize) -> Option<Slipped> {
    let n = reading.len();
    if n > MOST || goes_back(reading).min(goes_back(angle)) > GOES_BACK {
        return None;
    }
    // Two readings to a number.
    let most = most_knots.min(MOST_BESIDE).min((n / 2).checked_sub(1)?);
    let chance = P_SLIP / (n * most.checked_sub(1)?) as f64;
    let tried = (2..=most).filter_map(|knots| {
        let slipped = step_beside(reading, angle, knots, chance)?;
        Some((slipped, selection(reading, &slipped.brought_together(angle), knots, 1)?))
    });
    let (slipped, best) = tried.min_by(|a, b| a.1.criterion.total_cmp(&b.1.criterion))?;
    let alone = likeliest(reading, angle, most_knots)?;
    // A smooth bend that knots do not follow at an end is no step.
    let smooth = [2, 3]
        .into_iter()
        .filter_map(|degree| smooth_sd(reading, angle, degree));
    let is_smooth = smooth.fold(f64::INFINITY, f64::min) <= AS_CLOSE * best.sd(reading);
    let is_large = slipped.by.abs() >= (APART * best.sd(reading)).max(LEAST_SHARE * measured_size(angle));
    (is_large && !is_smooth && best.criterion + WORTH * ln(n as f64) < alone.criterion).then_some(slipped)
}

/// The step that explains most beside so many knots, if by chance it does so less often than `chance`.
fn step_beside(reading: &[f64], angle: &[f64], knots: usize, chance: f64) -> Option<Slipped> {
    let n = reading.len();
    let mut basis: Vec<Vec<f64>> = Vec::with_capacity(knots);
    for column in columns(reading, knots)? {
        let own = without(column, &basis);
        let size = inner(&own, &own).sqrt();
        basis.push(own.into_iter().map(|v| v / size).collect());
    }
    let rest = without(angle.to_vec(), &basis);
    let all = inner(&rest, &rest);
    let (mut sums, mut right, mut best) = (std::vec![0.0; knots], 0.0, (0.0, 0, 0.0));
    let fewest = FEWEST_OF_PART.max(n / ONE_OF);
    for row in (fewest..n).rev() {
        for (sum, column) in sums.iter_mut().zip(&basis) {
            *sum += column.get(row).copied().unwrap_or(0.0);
        }
        right += rest.get(row).copied().unwrap_or(0.0);
        let behind = n - row;
        let own = behind as f64 - inner(&sums, &sums);
        let is_known = behind >= fewest && own > LEAST_OWN * behind.min(row) as f64;
        if is_known && right * right / own > best.0 {
            best = (right * right / own, row, right / own);
        }
    }
    let (gain, row, by) = best;
    let dof = n.checked_sub(knots + 2).filter(|dof| *dof > 0)? as f64;
    let left = (all - gain).max(n as f64 * rounding_floor(reading, angle));
    (f_tail(gain * dof / left, 1.0, dof) < chance).then_some(Slipped { row, by })
}

/// Share of all movement of some values that goes against their way from the first to the last.
fn goes_back(values: &[f64]) -> f64 {
    let steps = || values.windows(2).filter_map(|pair| Some(pair.last()? - pair.first()?));
    let all: f64 = steps().map(f64::abs).sum();
    0.5 * (1.0 - steps().sum::<f64>().abs() / all)
}
