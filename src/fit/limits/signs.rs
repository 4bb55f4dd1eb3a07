//! Minus signs that nobody wrote: a scale read on either side of its zero, all values positive.

use super::super::error::FitError;
use super::super::outcome::LimitFit;
use super::super::readings::Readings;
use super::slipped::misfit;
use std::vec::Vec;

/// Readings on either side of the zero without which nothing is seen.
const FEWEST: usize = 3;
/// The smallest value is no further from zero than this share of the largest.
const NEAR_ZERO: f64 = 0.15;
/// With its signs the table follows the drive within this share of its largest value.
const CLOSE: f64 = 0.03;
/// Coefficients of a straight line.
const STRAIGHT: usize = 2;
/// What is left with them, of what is left without.
const LEFT: f64 = 1.0 / 3.0;
/// Within this share of its largest value a table follows the drive as it is.
const FOLLOWS: f64 = 0.01;

/// The fit given, unless all values are of one sign and follow the drive with signs on one side of their zero, and not without.
pub(super) fn looked_for(
    given: &Readings<'_>,
    found: Result<LimitFit, FitError>,
    fit: impl Fn(&Readings<'_>) -> Result<LimitFit, FitError>,
) -> Result<LimitFit, FitError> {
    let most = given.measured.iter().fold(0.0_f64, |most, value| most.max(value.abs()));
    let without = match &found {
        Ok(fit) => misfit(fit),
        Err(FitError::NoMotion { .. }) => f64::INFINITY,
        Err(_) => return found,
    };
    if without <= FOLLOWS * most {
        return found;
    }
    let Some((at, both)) = signed(given, most) else {
        return found;
    };
    let follows = |measured: &Vec<f64>| {
        let fit = fit(&Readings { measured, ..*given });
        // A dead centre is round, and a line with signs is straight.
        fit.is_ok_and(|fit| fit.curve.len() == STRAIGHT && misfit(&fit) < (CLOSE * most).min(LEFT * without))
    };
    if both.iter().any(follows) {
        Err(FitError::SignsMissing { at })
    } else {
        found
    }
}

/// The drive angle of the value next to zero, and the values with signs below it and up to it; none where it is at an end.
fn signed(given: &Readings<'_>, most: f64) -> Option<(f64, [Vec<f64>; 2])> {
    let way = given.measured.iter().copied().find(|value| *value != 0.0)?.signum();
    let rows = || {
        given
            .drive
            .iter()
            .copied()
            .zip(given.measured.iter().map(|value| value * way))
    };
    let (at, least) = rows().min_by(|a, b| a.1.total_cmp(&b.1))?;
    let beside = |side: f64| rows().filter(|(drive, _)| (drive - at) * side > 0.0).count();
    if least < 0.0 || least > NEAR_ZERO * most || beside(-1.0) < FEWEST || beside(1.0) < FEWEST {
        return None;
    }
    let with = |is_signed: fn(f64, f64) -> bool| {
        rows()
            .map(|(drive, value)| if is_signed(drive, at) { -value } else { value })
            .collect()
    };
    Some((at, [with(|drive, at| drive < at), with(|drive, at| drive <= at)]))
}
