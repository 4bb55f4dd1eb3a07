//! Values on a scale that starts again after a turn.

use crate::fit::error::FitError;
use crate::fit::line::fit_line;
use std::vec::Vec;

/// Turns whose scales start again, without a word of which it is: degrees and radians.
const TURNS: [f64; 2] = [360.0, core::f64::consts::TAU];
/// Share of a turn that values must span for it to be looked at: those on either side of its beginning do.
const SPANNED: f64 = 0.75;
/// How many times closer to one line the values must come when they go on.
const CLOSER: f64 = 25.0;

/// Makes values go on without a leap, however they are ordered: the turn is cut in the middle of the widest stretch that no value lies
/// in, and what lies beyond the cut is taken a turn lower.
pub(crate) fn go_on(values: &mut [f64], turn: f64) {
    let on_turn = |value: f64| value - turn * (value / turn).floor();
    let mut sorted: Vec<f64> = values
        .iter()
        .map(|&value| on_turn(value))
        .filter(|v| v.is_finite())
        .collect();
    sorted.sort_by(f64::total_cmp);
    let (Some(&first), Some(&last)) = (sorted.first(), sorted.last()) else {
        return;
    };
    // The stretch over the beginning of the turn needs no cut.
    let mut widest = (first + turn - last, None);
    for pair in sorted.windows(2) {
        let &[a, b] = pair else { continue };
        if b - a > widest.0 {
            widest = (b - a, Some(0.5 * (a + b)));
        }
    }
    for value in values {
        let on = on_turn(*value);
        *value = if widest.1.is_some_and(|cut| on > cut) {
            on - turn
        } else {
            on
        };
    }
}

/// Where values start again: two neighbours by x, each with its value, and the turn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Leap {
    pub(crate) turn: f64,
    pub(crate) x: [f64; 2],
    pub(crate) y: [f64; 2],
}

impl Leap {
    pub(crate) const fn error(&self) -> FitError {
        let Self {
            turn,
            x: [lower, upper],
            y: [from, to],
        } = *self;
        FitError::StartsAgain {
            from,
            to,
            lower,
            upper,
            turn,
        }
    }
}

/// Whether finite values start again after a turn between two places of x: they lie on one turn, at least two on either side of its
/// beginning, and come far closer to a line when they go on.
pub(crate) fn leap(x: &[f64], y: &[f64]) -> Option<Leap> {
    let low = y.iter().copied().fold(f64::INFINITY, f64::min);
    let high = y.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    TURNS.into_iter().find_map(|turn| {
        let on_one = (low >= 0.0 && high <= turn) || (low >= -0.5 * turn && high <= 0.5 * turn);
        // Written so that NaN is none.
        if !(on_one && high - low >= SPANNED * turn) {
            return None;
        }
        let mut on = y.to_vec();
        go_on(&mut on, turn);
        // What was taken a turn lower, or not turned up from below zero.
        let base = on.iter().zip(y).map(|(on, y)| on - y).fold(f64::INFINITY, f64::min);
        let lower: Vec<bool> = on.iter().zip(y).map(|(on, y)| on - y - base < 0.5 * turn).collect();
        let count = lower.iter().filter(|lower| **lower).count();
        let squares = |y: &[f64]| fit_line(x, y).ok().map(|line| line.sum_of_squares);
        if count < 2 || y.len() - count < 2 || squares(&on)? * CLOSER >= squares(y)? {
            return None;
        }
        let mut order: Vec<usize> = (0..x.len().min(y.len())).collect();
        order.sort_by(|&a, &b| {
            let at = |i: usize| (x.get(i), on.get(i));
            at(a).partial_cmp(&at(b)).unwrap_or(core::cmp::Ordering::Equal)
        });
        order.windows(2).find_map(|pair| {
            let &[a, b] = pair else { return None };
            let both = |of: &[f64]| Some([*of.get(a)?, *of.get(b)?]);
            (lower.get(a) != lower.get(b)).then_some(Leap {
                turn,
                x: both(x)?,
                y: both(y)?,
            })
        })
    })
}

/// Share of all values that they must leap by at a place to start again there, whatever their turn.
const LEAPS: f64 = 0.6;

/// Share of their way that the other steps must go in one direction.
const STRAIGHT: f64 = 0.8;

/// The one place of x where values leap back over most of their range against the way they else go: its neighbours, each with its
/// value.
pub(crate) fn lone_leap(x: &[f64], y: &[f64]) -> Option<[[f64; 2]; 2]> {
    let mut rows: Vec<[f64; 2]> = x.iter().zip(y).map(|(x, y)| [*x, *y]).collect();
    rows.sort_by(|a, b| a.partial_cmp(b).unwrap_or(core::cmp::Ordering::Equal));
    let low = y.iter().copied().fold(f64::INFINITY, f64::min);
    let high = y.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let steps = || {
        rows.windows(2).map(|pair| match pair {
            [[_, a], [_, b]] => b - a,
            _ => 0.0,
        })
    };
    let leaps = |step: f64| step.abs() > LEAPS * (high - low);
    let mut places = steps().enumerate().filter(|(_, step)| leaps(*step));
    let (Some((place, back)), None) = (places.next(), places.next()) else {
        return None;
    };
    let others = || steps().filter(|step| !leaps(*step));
    let (forth, way): (f64, f64) = (others().sum(), others().map(f64::abs).sum());
    // Written so that NaN is none.
    if !(forth * back < 0.0 && forth.abs() >= STRAIGHT * way) {
        return None;
    }
    match rows.windows(2).nth(place)? {
        &[[x0, y0], [x1, y1]] => Some([[x0, x1], [y0, y1]]),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sweep(of: impl Fn(f64) -> f64) -> Option<Leap> {
        let x: Vec<f64> = (0..20).map(|i| 5.0 * f64::from(i)).collect();
        let y: Vec<f64> = x.iter().map(|x| of(*x)).collect();
        leap(&x, &y)
    }

    #[test]
    fn scales_that_start_again_are_seen() {
        let found = sweep(|x| (x + 330.0) % 360.0).unwrap();
        assert_eq!((found.turn, found.x, found.y), (360.0, [25.0, 30.0], [355.0, 0.0]));
        // Falling, about zero, in radians, with stops.
        assert_eq!(sweep(|x| (390.0 - x) % 360.0).unwrap().x, [30.0, 35.0]);
        assert_eq!(
            sweep(|x| ((x + 150.0 + 180.0) % 360.0) - 180.0).unwrap().x,
            [25.0, 30.0]
        );
        assert_eq!(
            sweep(|x| ((x + 330.0) % 360.0).to_radians()).unwrap().turn,
            core::f64::consts::TAU
        );
        assert_eq!(
            sweep(|x| (x.clamp(12.0, 81.0) + 330.0) % 360.0).unwrap().x,
            [25.0, 30.0]
        );
    }

    #[test]
    fn the_place_where_a_sensor_starts_again() {
        let x: Vec<f64> = (0..20).map(|i| 5.0 * f64::from(i)).collect();
        let of = |y: &dyn Fn(f64) -> f64| lone_leap(&x, &x.iter().map(|x| y(*x)).collect::<Vec<f64>>());
        assert_eq!(
            of(&|x| (4000.0 + 11.0 * x) % 4096.0),
            Some([[5.0, 10.0], [4055.0, 14.0]])
        );
        assert_eq!(of(&|x| (500.0 - 11.0 * x).rem_euclid(4096.0)).unwrap()[0], [45.0, 50.0]);
        // Noise, a single wrong reading, and one that follows.
        assert_eq!(of(&|x| (x * 7919.0) % 97.0), None);
        assert_eq!(of(&|x| if x == 40.0 { 4000.0 } else { 11.0 * x }), None);
        assert_eq!(of(&|x| 11.0 * x), None);
        assert_eq!(of(&|_| 7.0), None);
        assert_eq!(lone_leap(&[], &[]), None);
    }

    #[test]
    fn joints_that_go_far_and_single_misreadings_are_not() {
        assert_eq!(sweep(|x| 3.6 * x), None);
        assert_eq!(sweep(|x| 300.0 - 3.0 * x), None);
        assert_eq!(sweep(|x| if x == 95.0 { 359.0 } else { x }), None);
        assert_eq!(sweep(|x| if x == 0.0 { 355.0 } else { x }), None);
        assert_eq!(sweep(|x| if x == 40.0 { 340.0 } else { x }), None);
        assert_eq!(sweep(|_| f64::NAN), None);
        assert_eq!(leap(&[], &[]), None);
    }
}
