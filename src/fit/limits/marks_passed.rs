//! A contact noted by hand at a drive angle that the readings beyond it passed: the mark is wrong, or the joint met something that it
//! pushed aside.
//!
//! Taken for a stop, it would make misreadings of sound readings. So all are fitted without the mark, and the travel ends before it.

use super::ends::last_before;
use super::prepare::{Marks, ends_of};
use super::slipped::between_ends;
use crate::fit::error::FitError;
use crate::fit::outcome::{End, EndKind, LimitFit};
use crate::fit::readings::{ContactMark, FitOptions, Readings};
use crate::fit::warning::Warning;
use std::vec::Vec;

/// The fit given, or that of the readings without the marks of an end that the readings beyond them passed. `fit_once` fits readings as
/// they are.
pub(super) fn believed(
    given: &Readings<'_>,
    options: &FitOptions,
    fit: LimitFit,
    fit_once: impl Fn(&Readings<'_>) -> Result<LimitFit, FitError>,
) -> LimitFit {
    let Some(marks) = given.contact else { return fit };
    let (low, high) = ends_of(given.drive);
    let centre = 0.5 * (low + high);
    let innermost = Marks::of(given, centre);
    let doubted = [(false, innermost.lower), (true, innermost.upper)].map(|(upper, drive)| {
        let mark = drive.map(|drive| Mark { upper, drive });
        mark.filter(|mark| mark.is_doubted(given, &fit))
    });
    if doubted.iter().all(Option::is_none) {
        return fit;
    }
    let is_doubted = |upper: bool| doubted.get(usize::from(upper)).is_some_and(Option::is_some);
    let rest: Vec<ContactMark> = (marks.iter().zip(given.drive))
        .map(|(mark, &drive)| match mark.is_upper(drive, centre) {
            Some(upper) if is_doubted(upper) => ContactMark::None,
            _ => *mark,
        })
        .collect();
    let Ok(mut without) = fit_once(&given.with_contact(&rest)) else {
        return fit;
    };
    let passed: Vec<(Mark, usize)> = (doubted.into_iter().flatten())
        .filter_map(|mark| Some((mark, mark.passed(given, end_of(&without, mark.upper))?)))
        .collect();
    if passed.is_empty() {
        return fit;
    }
    for (mark, readings) in passed {
        mark.hold(given, options, &mut without);
        without.warnings.push(Warning::MarkPassed {
            mark: mark.drive,
            readings,
        });
    }
    between_ends(given, without)
}

/// The innermost drive angle at which contact of one end was noted.
#[derive(Clone, Copy)]
struct Mark {
    upper: bool,
    drive: f64,
}

impl Mark {
    /// Whether readings lie beyond it and no stop of the model stands there.
    fn is_doubted(&self, given: &Readings<'_>, fit: &LimitFit) -> bool {
        let is_of_it =
            |warning: &Warning| matches!(warning, Warning::MarkDisagrees { mark, .. } if *mark == self.drive);
        let stands = end_of(fit, self.upper).level.is_some() && !fit.warnings.iter().any(is_of_it);
        !stands && given.drive.iter().any(|&x| self.beyond(x) > 0.0)
    }

    /// How far a drive angle lies beyond it.
    fn beyond(&self, drive: f64) -> f64 {
        if self.upper {
            drive - self.drive
        } else {
            self.drive - drive
        }
    }

    /// Readings that went past it, as an end found without it shows; none where that is a stop.
    fn passed(&self, given: &Readings<'_>, end: &End) -> Option<usize> {
        let furthest = self.beyond(end.at);
        let goes_on = end.kind != EndKind::Contact && furthest > 0.0;
        let between = |x: &&f64| self.beyond(**x) > 0.0 && self.beyond(**x) <= furthest;
        goes_on.then(|| given.drive.iter().filter(between).count())
    }

    /// Ends the travel before it: at its own end or, where all readings lie beyond it, at the other.
    fn hold(&self, given: &Readings<'_>, options: &FitOptions, fit: &mut LimitFit) {
        let inside = given.drive.iter().any(|&x| self.beyond(x) < 0.0);
        let upper = self.upper == inside;
        let clear = last_before(given.drive.iter().copied(), upper, self.drive);
        let held = End::noted(upper, clear, self.drive, options.guard, fit.lost_motion.in_drive());
        let end = if upper { &mut fit.upper } else { &mut fit.lower };
        let is_inner = if upper {
            held.travel < end.travel
        } else {
            held.travel > end.travel
        };
        if is_inner {
            *end = held;
        }
    }
}

fn end_of(fit: &LimitFit, upper: bool) -> &End {
    if upper { &fit.upper } else { &fit.lower }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::fit_limits;

    /// Invented: a joint that follows its drive, read in tenths.
    const DRIVE: [f64; 9] = [10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 90.0];
    const MEASURED: [f64; 9] = [10.2, 19.8, 30.1, 40.0, 49.9, 60.2, 69.9, 80.1, 90.0];

    fn fit(measured: &[f64], row: usize, mark: ContactMark) -> LimitFit {
        let mut marks = [ContactMark::None; 9];
        *marks.get_mut(row).unwrap() = mark;
        fit_limits(
            &Readings::new(&DRIVE, measured).with_contact(&marks),
            &FitOptions::default().with_guard(2.0),
        )
        .unwrap()
    }

    fn passed(fit: &LimitFit) -> Option<(f64, usize)> {
        fit.warnings.iter().find_map(|warning| match warning {
            Warning::MarkPassed { mark, readings } => Some((*mark, *readings)),
            _ => None,
        })
    }

    #[test]
    fn the_travel_ends_before_a_mark_that_readings_went_past() {
        for (row, mark, beyond, travel) in [
            (4, ContactMark::Upper, 4, [10.0, 38.0]),
            (6, ContactMark::Upper, 2, [10.0, 58.0]),
            (7, ContactMark::Here, 1, [10.0, 68.0]),
            (2, ContactMark::Lower, 2, [42.0, 90.0]),
            // At the wrong end: all others lie beyond it.
            (8, ContactMark::Lower, 8, [10.0, 78.0]),
            (0, ContactMark::Upper, 8, [22.0, 90.0]),
        ] {
            let drive = *DRIVE.get(row).unwrap();
            let falling = MEASURED.map(|y| 200.0 - 0.5 * y);
            for measured in [&MEASURED, &falling] {
                let found = fit(measured, row, mark);
                assert_eq!(passed(&found), Some((drive, beyond)), "{:?}", found.warnings);
                assert_eq!(found.travel, Some(travel), "{mark:?} at {drive}");
                assert!(found.rejected.is_empty(), "{:?}", found.rejected);
            }
        }
    }

    #[test]
    fn a_mark_on_a_stop_is_believed_however_many_readings_lie_beyond() {
        for stop in [57.0, 64.0, 71.0] {
            let measured = MEASURED.map(|y| y.min(stop));
            let row = DRIVE.iter().position(|&x| x > stop).unwrap();
            let found = fit(&measured, row, ContactMark::Upper);
            assert_eq!(passed(&found), None);
            assert!(
                found.upper.marked && (found.upper.at - stop).abs() < 3.0,
                "{:?}",
                found.upper
            );
        }
    }

    /// A stop further out is no reason to drive past what a hand noted.
    #[test]
    fn a_stop_behind_a_mark_does_not_widen_the_travel() {
        let measured = MEASURED.map(|y| y.min(68.0));
        let found = fit(&measured, 4, ContactMark::Upper);
        let disagrees = |w: &Warning| matches!(w, Warning::MarkDisagrees { mark: 50.0, .. });
        assert!(found.warnings.iter().any(disagrees) || passed(&found).is_some());
        assert!(found.travel.unwrap()[1] <= 40.0, "{:?}", found.upper);
    }
}
