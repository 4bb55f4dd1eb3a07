//! A step that is not a round number: sixteenths of an inch, thirds of a degree, the counts of a converter in degrees or volts.
//!
//! The smallest distance between two values is a few steps. Each guess at how many is sharpened by all other distances, the shortest
//! first: every distance is a whole number of steps, up to the rounding with which its ends were written down.

use super::{FINEST, ON_STEP, departures, gaps, is_no_chance};
use std::vec::Vec;

/// Most steps that the smallest distance is tried as.
const MOST_STEPS: u32 = 12;
/// A step must be so many times as coarse as what the values are written with.
const COARSER: f64 = 2.5;
/// How far values may stand from a step, in what they were rounded by: the step itself is known only so well.
const SLACK: f64 = 1.5;
/// Rounds in which the distances sharpen a step.
const ROUNDS: usize = 4;

/// The lowest and the highest value at each drive angle, in its order.
struct Places(Vec<[f64; 2]>);

impl Places {
    fn of(drive: &[f64], values: &[f64]) -> Self {
        let mut rows: Vec<(f64, f64)> = drive.iter().copied().zip(values.iter().copied()).collect();
        rows.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        let bounds = |rows: &[(f64, f64)]| {
            let values = || rows.iter().map(|(_, value)| *value);
            [
                values().fold(f64::INFINITY, f64::min),
                values().fold(f64::NEG_INFINITY, f64::max),
            ]
        };
        Self(rows.chunk_by(|a, b| a.0 == b.0).map(bounds).collect())
    }

    /// How many drive angles go on by another number of steps than most. A joint that follows equal steps of its drive makes a grid of its
    /// own, and its lost motion another.
    fn departures(&self, step: f64) -> usize {
        let of = |bound: usize| {
            let values = self.0.iter().filter_map(|bounds| bounds.get(bound));
            let mut values = values.copied();
            let Some(first) = values.next() else { return 0 };
            let counts = values.map(|value| ((value - first) / step).round());
            departures(&core::iter::once(0.0).chain(counts).collect::<Vec<f64>>())
        };
        of(0).min(of(1))
    }
}

/// The coarsest step of values at drive angles that chance hardly explains, coarser than the round one on which they lie; `distinct` are
/// the values in order, each once.
pub(super) fn of(distinct: &[f64], drive: &[f64], values: &[f64], round: Option<f64>, span: f64) -> Option<f64> {
    // Between neighbours, the shortest first, and then from the first value.
    let mut distances: Vec<f64> = gaps(distinct).collect();
    distances.sort_unstable_by(f64::total_cmp);
    let first = *distinct.first()?;
    distances.extend(distinct.iter().skip(1).map(|v| v - first));
    let gap = *distances.first()?;
    let written = round.unwrap_or(0.0);
    let largest = distinct.iter().fold(0.0_f64, |most, v| most.max(v.abs()));
    let rounding = 1e-9 * span + 8.0 * f64::EPSILON * largest;
    // Written as they are, as sixteenths are with four digits; or rounded to what they are written with, as thirds are.
    let half = 0.5 * written * (1.0 + ON_STEP);
    // A step must be coarser than all digits, and than what tells nothing.
    let finest = (COARSER * written).max(FINEST * span);
    [rounding, half.max(rounding)].into_iter().find_map(|tolerance| {
        let steps = (1..=MOST_STEPS).map(|count| Step::guess(gap, count, tolerance));
        let coarse = steps.take_while(|step| step.middle() > finest);
        let found = coarse
            .filter_map(|step| step.sharpened(&distances))
            .map(|step| step.middle());
        let mut found = found.filter(|step| lie_within(distinct, *step, tolerance)).peekable();
        found.peek()?;
        let places = Places::of(drive, values);
        let chance = |step: f64| ((SLACK * 2.0 * tolerance).max(written) / step).max(ON_STEP);
        // One of the values that depart from equal steps tells how long they are.
        let evidence = |step: f64| places.departures(step).saturating_sub(1);
        found.find(|step| is_no_chance(chance(*step), evidence(*step)))
    })
}

/// Bounds of a step.
#[derive(Clone, Copy)]
struct Step {
    low: f64,
    high: f64,
    /// Half the distance by which two values may stand apart from where they should.
    tolerance: f64,
}

impl Step {
    /// A step of which a distance holds so many.
    fn guess(distance: f64, count: u32, tolerance: f64) -> Self {
        let count = f64::from(count);
        Self {
            low: (distance - 2.0 * tolerance) / count,
            high: (distance + 2.0 * tolerance) / count,
            tolerance,
        }
    }

    fn middle(&self) -> f64 {
        0.5 * (self.low + self.high)
    }

    /// The same by all distances; none where one of them is no whole number of steps.
    fn sharpened(mut self, distances: &[f64]) -> Option<Self> {
        for _ in 0..ROUNDS {
            let before = self;
            for &distance in distances {
                self = self.with(distance)?;
            }
            if self.low == before.low && self.high == before.high {
                break;
            }
        }
        Some(self)
    }

    /// The same where a distance is a whole number of steps. One that may be several numbers of them says nothing yet.
    fn with(self, distance: f64) -> Option<Self> {
        let (short, long) = (distance - 2.0 * self.tolerance, distance + 2.0 * self.tolerance);
        // Written so that NaN is none.
        if !(self.low > 0.0 && self.low <= self.high) {
            return None;
        }
        let (fewest, most) = ((short / self.high).ceil().max(0.0), (long / self.low).floor());
        if fewest > most {
            return None;
        }
        if fewest < most || most == 0.0 {
            return Some(self);
        }
        let low = self.low.max(short / most);
        let high = self.high.min(long / most);
        (low <= high).then_some(Self { low, high, ..self })
    }
}

/// Whether every value lies within the tolerance of a whole number of steps from the first.
fn lie_within(distinct: &[f64], step: f64, tolerance: f64) -> bool {
    let Some(first) = distinct.first() else { return false };
    let off = distinct.iter().map(|v| v - first - ((v - first) / step).round() * step);
    let (low, high) = off.fold((0.0_f64, 0.0_f64), |(low, high), off| (low.min(off), high.max(off)));
    high - low <= SLACK * 2.0 * tolerance
}

#[cfg(test)]
mod tests {
    use super::super::step_along;
    use std::vec::Vec;

    fn step(values: &[f64]) -> Option<f64> {
        let low = values.iter().copied().fold(f64::INFINITY, f64::min);
        let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let drive: Vec<f64> = (0..values.len()).map(|i| i as f64).collect();
        step_along(&drive, values, high - low)
    }

    /// Places along a joint in steps, one after the other by different numbers of them; invented.
    const PLACES: [f64; 14] = [
        1.0, 1.0, 2.0, 6.0, 10.0, 13.0, 18.0, 22.0, 25.0, 30.0, 33.0, 38.0, 40.0, 40.0,
    ];

    fn written(of: f64, decimals: i32) -> Vec<f64> {
        let scale = 10_f64.powi(decimals);
        PLACES.iter().map(|k| (k * of * scale).round() / scale).collect()
    }

    #[track_caller]
    fn near(got: Option<f64>, expected: f64, by: f64) {
        assert!(
            got.is_some_and(|got| (got - expected).abs() < by),
            "{got:?}, not {expected}"
        );
    }

    #[test]
    fn fractions_and_counts_are_steps_however_they_are_written() {
        near(step(&written(1.0 / 16.0, 4)), 1.0 / 16.0, 1e-9);
        near(step(&written(1.0 / 8.0, 3)), 1.0 / 8.0, 1e-9);
        near(step(&written(1.0 / 3.0, 2)), 1.0 / 3.0, 1e-3);
        near(step(&written(1.25, 2)), 1.25, 1e-9);
        near(step(&written(3.0, 0)), 3.0, 1e-9);
        // A converter of 10 bits, as 16 bits and as degrees of a potentiometer.
        near(step(&written(64.0, 0)), 64.0, 1e-9);
        near(step(&PLACES.map(|k| k * 270.0 / 1023.0)), 270.0 / 1023.0, 1e-9);
        near(step(&written(300.0 / 255.0, 2)), 300.0 / 255.0, 1e-3);
        near(step(&written(5.0 / 255.0, 3)), 5.0 / 255.0, 1e-4);
    }

    /// What a joint does that goes by equal steps of its drive is no graduation, and neither is chance.
    #[test]
    fn equal_steps_of_the_drive_are_no_graduation() {
        let by_three: Vec<f64> = (0..14).map(|k| 3.0 * f64::from(k) + 7.0).collect();
        assert_eq!(step(&by_three), Some(1.0));
        assert_eq!(step(&[0.5, 3.5, 10.5, 21.5, 40.5]), Some(1.0));
        assert_eq!(step(&[10.0, 19.0, 31.0, 40.0, 49.0, 61.0]), Some(1.0));
        // There and back, with a lost motion of a fifth of the drive's step, as a simulation without noise shows it.
        let drive: Vec<f64> = (0..18).chain((0..18).rev()).map(|k| 5.0 * f64::from(k)).collect();
        let lag = |i: usize| if i < 18 { -0.5 } else { 0.5 };
        let joint = |(i, x): (usize, &f64)| (11.76 * (x + lag(i)).clamp(5.0, 77.0)).round() / 10.0;
        let there_and_back: Vec<f64> = drive.iter().enumerate().map(joint).collect();
        assert_eq!(step_along(&drive, &there_and_back, 80.0), Some(0.1));
        // Two stops, and a value with the wrong sign.
        let joint = |k: usize| (10.0 * (5.0 + 1.1 * (3.0 * k as f64).clamp(12.0, 78.0))).round() / 10.0;
        let mut clipped: Vec<f64> = (0..31).map(joint).collect();
        *clipped.get_mut(20).unwrap() *= -1.0;
        assert_eq!(step(&clipped), Some(0.1));
        let waves: Vec<f64> = (0..20).map(|k| f64::from(k) + (7.0 * f64::from(k)).sin()).collect();
        assert_eq!(step(&waves), None);
    }
}
