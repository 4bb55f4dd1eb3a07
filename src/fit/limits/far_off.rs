//! Readings at drive angles far from those of all others: a row of totals, an angle with a digit too many.
//!
//! On the scale of such a drive angle all others are one place, and what they show of stops is lost, although the reading itself is left
//! out in the end. So the others are fitted first; a reading far from them that is not on their line takes no part.

use crate::fit::error::FitError;
use crate::fit::outcome::{EndKind, LimitFit, RejectReason, Rejected};
use crate::fit::readings::{Approach, ContactMark, Readings};
use crate::fit::warning::Warning;
use std::vec::Vec;

/// A drive angle is far off from so many times the span of the others on.
const FAR: f64 = 3.0;
/// Of so many readings one may be far off, and of all this many.
const ONE_OF: usize = 6;
const MOST: usize = 4;
/// Longer tables are written by programs, which add up nothing and type nothing.
const LONGEST: usize = 1000;
/// How far a reading may lie from the line of the others, in standard uncertainties of both, and yet be on it.
const AGREES: f64 = 4.0;

/// The fit of the readings, with those left out that lie far off in drive and not on the line of the others. `fit` fits readings as they are.
pub(super) fn set_aside(
    given: &Readings<'_>,
    fit: impl Fn(&Readings<'_>) -> Result<LimitFit, FitError>,
) -> Result<LimitFit, FitError> {
    let far = far_off(given.drive);
    if far.is_empty() {
        return fit(given);
    }
    let Ok(near) = fit(&Kept::but(given, &far).readings()) else {
        return fit(given);
    };
    let left_out: Vec<usize> = (far.iter().copied())
        .filter(|&index| !is_on_line(&near, given, index))
        .collect();
    if left_out.is_empty() {
        return fit(given);
    }
    let kept = Kept::but(given, &left_out);
    let found = if left_out.len() == far.len() {
        near
    } else {
        fit(&kept.readings())?
    };
    Ok(kept.told_of_all(found, given, &left_out))
}

/// The indices of drive angles that lie far from all others, at either end or at both.
fn far_off(drive: &[f64]) -> Vec<usize> {
    let most = (drive.len() / ONE_OF).min(MOST);
    if drive.len() > LONGEST || most == 0 {
        return Vec::new();
    }
    let mut order: Vec<(f64, usize)> = drive.iter().copied().zip(0..).collect();
    order.sort_by(|a, b| a.0.total_cmp(&b.0));
    let at = |place: usize| order.get(place).map_or(f64::NAN, |(drive, _)| *drive);
    let last = order.len() - 1;
    // So many below the others, and so many above them.
    let are_far = |&(below, above): &(usize, usize)| {
        let (first, end) = (at(below), at(last - above));
        let span = end - first;
        let is_far = |gap: f64| span > 0.0 && gap > FAR * span;
        (below == 0 || is_far(first - at(below - 1))) && (above == 0 || is_far(at(last - above + 1) - end))
    };
    let splits = (0..=most).flat_map(|below| (0..=most - below).map(move |above| (below, above)));
    let (below, above) = splits.filter(are_far).max_by_key(|(a, b)| a + b).unwrap_or((0, 0));
    let far = order.iter().enumerate();
    let far = far.filter(|(place, _)| *place < below || *place > last - above);
    let mut far: Vec<usize> = far.map(|(_, (_, index))| *index).collect();
    far.sort_unstable();
    far
}

/// By how much a reading lies off what a fit expects there.
fn off(given: &Readings<'_>, fit: &LimitFit, index: usize) -> Option<f64> {
    Some(given.measured.get(index)? - fit.expected(*given.drive.get(index)?))
}

/// Whether a reading lies on the line of a fit, not on a stop: there it would say no more than the others.
fn is_on_line(fit: &LimitFit, given: &Readings<'_>, index: usize) -> bool {
    let Some((&drive, residual)) = given.drive.get(index).zip(off(given, fit, index)) else {
        return false;
    };
    let outer = if drive > fit.upper.at { &fit.upper } else { &fit.lower };
    let step = fit.resolution.unwrap_or(0.0) / 12.0_f64.sqrt();
    // Without the covariance of both, which is large and negative about the middle of the readings: so far out the slope alone counts.
    let u = fit.u_slope * (drive - 0.5 * (fit.lower.at + fit.upper.at));
    outer.kind != EndKind::Contact && residual.abs() <= AGREES * (fit.residual_sd.max(step).powi(2) + u * u).sqrt()
}

/// Readings with some left out.
struct Kept {
    indices: Vec<usize>,
    drive: Vec<f64>,
    measured: Vec<f64>,
    approach: Option<Vec<Approach>>,
    contact: Option<Vec<ContactMark>>,
    u: Option<Vec<f64>>,
    time: Option<Vec<f64>>,
}

impl Kept {
    fn but(given: &Readings<'_>, left_out: &[usize]) -> Self {
        let indices: Vec<usize> = (0..given.drive.len())
            .filter(|index| !left_out.contains(index))
            .collect();
        fn of<T: Copy>(values: &[T], indices: &[usize]) -> Vec<T> {
            indices.iter().filter_map(|index| values.get(*index).copied()).collect()
        }
        Self {
            drive: of(given.drive, &indices),
            measured: of(given.measured, &indices),
            approach: given.approach.map(|values| of(values, &indices)),
            contact: given.contact.map(|values| of(values, &indices)),
            u: given.u.map(|values| of(values, &indices)),
            time: given.time.map(|values| of(values, &indices)),
            indices,
        }
    }

    fn readings(&self) -> Readings<'_> {
        Readings {
            drive: &self.drive,
            measured: &self.measured,
            approach: self.approach.as_deref(),
            contact: self.contact.as_deref(),
            u: self.u.as_deref(),
            time: self.time.as_deref(),
        }
    }

    /// The fit of these readings, told of all that were given.
    fn told_of_all(&self, fit: LimitFit, given: &Readings<'_>, left_out: &[usize]) -> LimitFit {
        let index_of = |index: usize| self.indices.get(index).copied().unwrap_or(index);
        let far = left_out.iter().filter_map(|&index| {
            Some(Rejected {
                index,
                drive: *given.drive.get(index)?,
                measured: *given.measured.get(index)?,
                residual: off(given, &fit, index)?,
                reason: RejectReason::DriveFarOff,
                cause: None,
            })
        });
        let near = fit.rejected.iter().map(|one| Rejected {
            index: index_of(one.index),
            ..*one
        });
        let mut rejected: Vec<Rejected> = near.chain(far).collect();
        rejected.sort_by_key(|one| one.index);
        let warnings = fit.warnings.into_iter().map(|warning| match warning {
            Warning::Slipped { index, drive, by } => Warning::Slipped {
                index: index_of(index),
                drive,
                by,
            },
            other => other,
        });
        LimitFit {
            rejected,
            warnings: warnings.collect(),
            readings: given.drive.len(),
            ..fit
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_lies_far_from_all_others_is_far_off() {
        let mut drive: Vec<f64> = (0..12).map(|i| 40.0 + 5.0 * f64::from(i)).collect();
        assert_eq!(far_off(&drive), [0usize; 0]);
        drive.push(1430.0);
        assert_eq!(far_off(&drive), [12]);
        drive.insert(0, -900.0);
        assert_eq!(far_off(&drive), [0, 13]);
        // Two next to each other, the total and half of it.
        let mut drive: Vec<f64> = (0..12).map(|i| 5.0 * f64::from(i)).collect();
        drive.extend([330.0, 660.0]);
        assert_eq!(far_off(&drive), [12, 13]);
        // So few readings may be of any drive angles.
        assert_eq!(far_off(&[1.0, 2.0, 3.0, 4.0, 90.0]), [0usize; 0]);
        assert_eq!(far_off(&[1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 90.0]), [0usize; 0]);
    }
}
