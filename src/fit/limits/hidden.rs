//! What a table may hide, however well its readings agree: a lag that displaces all of them alike, and a sensor at the end of its range,
//! which looks like a stop.

use super::prepare::ends_of;
use crate::feedback::most_of;
use crate::fit::outcome::{EndKind, LimitFit, Side};
use crate::fit::readings::Readings;
use crate::fit::warning::Warning;

/// Readings, and steps in a sweep, from which a table was hardly taken by hand.
const RECORDED: usize = 100;
const FINE: f64 = 1.0 / 50.0;
/// Bits of the converters that sensors are read with.
const BITS: core::ops::RangeInclusive<u8> = 8..=16;
/// Whole numbers up to this may be degrees, whose zero may well be at a stop.
const MOST_DEGREES: f64 = 360.0;
/// Readings on a stop, all at a rail, that make the sensor suspect.
const AT_RAIL: usize = 2;

/// The fit given, and what may be hidden from it.
pub(super) fn told(given: &Readings<'_>, mut fit: LimitFit) -> LimitFit {
    if let Some(step) = one_way_in_fine_steps(given).filter(|_| !fit.approach_inferred) {
        let readings = given.drive.len();
        fit.warnings.push(Warning::MayTrailUnseen { readings, step });
    }
    for side in [Side::Lower, Side::Upper] {
        if let Some(level) = rail(given, &fit, side) {
            fit.warnings.push(Warning::AtRail { side, level });
        }
    }
    fit
}

/// The mean step of readings that go one way in many fine steps, as a recording does, and have no times.
fn one_way_in_fine_steps(given: &Readings<'_>) -> Option<f64> {
    let drive = given.drive;
    let (low, high) = ends_of(drive);
    let both = |side: f64| {
        given
            .approach
            .is_some_and(|sides| sides.iter().any(|a| a.sign() == side))
    };
    if given.time.is_some() || drive.len() < RECORDED || (both(1.0) && both(-1.0)) {
        return None;
    }
    let is_fine = |step: f64| step > 0.0 && step <= FINE * (high - low);
    let all = |way: f64| {
        drive
            .windows(2)
            .all(|pair| matches!(pair, [a, b] if is_fine(way * (b - a))))
    };
    (all(1.0) || all(-1.0)).then(|| (high - low) / (drive.len() - 1) as f64)
}

/// The first or last count of a converter at which all readings beyond a contact stand, where all values are its counts.
fn rail(given: &Readings<'_>, fit: &LimitFit, side: Side) -> Option<f64> {
    let (end, out) = match side {
        Side::Lower => (&fit.lower, -1.0),
        Side::Upper => (&fit.upper, 1.0),
    };
    if end.kind != EndKind::Contact || end.marked {
        return None;
    }
    let (low, high) = ends_of(given.measured);
    let beyond = || {
        let rows = given.drive.iter().zip(given.measured);
        rows.filter(|(drive, _)| out * (*drive - end.at) > 0.0)
            .map(|(_, measured)| *measured)
    };
    let level = if beyond().any(|value| value == high) { high } else { low };
    let is_rail = if level == 0.0 {
        high > MOST_DEGREES
    } else {
        level == high && BITS.into_iter().any(|bits| level == most_of(bits))
    };
    let is_count = |value: &f64| *value >= 0.0 && value.fract() == 0.0;
    // One next to the knee may still lie on the line.
    let there = beyond().filter(|value| *value == level).count();
    let alike = there >= AT_RAIL && there + 1 >= beyond().count();
    (is_rail && low >= 0.0 && alike && given.measured.iter().all(is_count)).then_some(level)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::{Approach, FitOptions, fit_limits};
    use std::vec::Vec;

    fn fit(readings: &Readings<'_>) -> LimitFit {
        fit_limits(readings, &FitOptions::default()).unwrap()
    }

    /// Invented: 200 readings in steps of 0.6 between stops at 20 and 100.
    fn recorded() -> (Vec<f64>, Vec<f64>) {
        let drive: Vec<f64> = (0..200).map(|i| 0.6 * f64::from(i)).collect();
        let noise = |i: usize| 0.1 * (7.3 * i as f64).sin();
        let measured = drive
            .iter()
            .enumerate()
            .map(|(i, x)| x.clamp(20.0, 100.0) + noise(i))
            .collect();
        (drive, measured)
    }

    fn trails(fit: &LimitFit) -> bool {
        fit.warnings
            .iter()
            .any(|w| matches!(w, Warning::MayTrailUnseen { readings: 200, step } if (step - 0.6).abs() < 1e-9))
    }

    #[test]
    fn fine_steps_one_way_hide_a_lag_unless_times_or_both_ways_show_it() {
        let (mut drive, mut measured) = recorded();
        assert!(trails(&fit(&Readings::new(&drive, &measured))));
        let rest: Vec<f64> = (0..200).map(f64::from).collect();
        assert!(!trails(&fit(&Readings::new(&drive, &measured).with_time(&rest))));
        let below = [Approach::Below; 200];
        assert!(trails(&fit(&Readings::new(&drive, &measured).with_approach(&below))));
        drive.reverse();
        measured.reverse();
        assert!(trails(&fit(&Readings::new(&drive, &measured))));
        let coarse: Vec<usize> = (0..200).step_by(8).collect();
        let of = |values: &[f64]| coarse.iter().map(|&i| *values.get(i).unwrap()).collect::<Vec<f64>>();
        assert!(!trails(&fit(&Readings::new(&of(&drive), &of(&measured)))));
        drive.swap(70, 71);
        measured.swap(70, 71);
        assert!(!trails(&fit(&Readings::new(&drive, &measured))));
    }

    /// Invented: a converter's counts, 8 to a deg.
    #[test]
    fn a_plateau_at_the_end_of_a_converter_is_told() {
        let drive: Vec<f64> = (0..29).map(|i| 5.0 * f64::from(i)).collect();
        let counts = |from: f64, slope: f64, most: f64| -> Vec<f64> {
            let noise = |i: usize| (3.1 * i as f64).sin();
            let at = |(i, x): (usize, &f64)| (from + slope * x + noise(i)).round().clamp(0.0, most);
            drive.iter().enumerate().map(at).collect()
        };
        let told = |measured: &[f64]| {
            let found = fit(&Readings::new(&drive, measured));
            found.warnings.iter().find_map(|w| match w {
                Warning::AtRail { side, level } => Some((*side, *level)),
                _ => None,
            })
        };
        assert_eq!(told(&counts(20.0, 8.0, 1023.0)), Some((Side::Upper, 1023.0)));
        assert_eq!(told(&counts(1000.0, -8.0, 1023.0)), Some((Side::Upper, 0.0)));
        assert_eq!(told(&counts(1100.0, -7.0, 1023.0)), Some((Side::Lower, 1023.0)));
        // A stop elsewhere, a sensor of degrees, and one that does not come to its end.
        assert_eq!(told(&counts(20.0, 8.0, 1000.0)), None);
        assert_eq!(told(&counts(20.0, 7.0, 1023.0)), None);
        let degrees: Vec<f64> = drive.iter().map(|x| (x - 20.0).max(0.0)).collect();
        assert_eq!(told(&degrees), None);
    }
}
