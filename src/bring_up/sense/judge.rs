//! What the samples of a sense test say; how they are judged stands on the page of the test.

use super::{LoopSense, SensePlan, SenseReason, SenseResult, SenseSample, Watch};

/// Changes from place to place, of the hand and of the reading. Turns that begin or end at an end of the reading range are left
/// out: there the sensor stops following.
fn turns<'a>(
    samples: impl Iterator<Item = &'a SenseSample> + Clone,
    reading_range: [f64; 2],
) -> impl Iterator<Item = (f64, f64)> + Clone {
    let [low, high] = reading_range;
    let margin = 0.01 * (high - low);
    let inside = move |s: &SenseSample| s.reading > low + margin && s.reading < high - margin;
    let later = samples.clone().skip(1);
    samples
        .zip(later)
        .filter(move |(a, b)| inside(a) && inside(b))
        .map(|(a, b)| (b.hand - a.hand, b.reading - a.reading))
}

/// Readings per degree of the hand, by least squares through the turns.
pub(super) fn slope<'a>(samples: impl Iterator<Item = &'a SenseSample> + Clone, reading_range: [f64; 2]) -> f64 {
    let (sxx, sxy) = turns(samples, reading_range).fold((0.0, 0.0), |(sxx, sxy), (x, y)| (sxx + x * x, sxy + x * y));
    if sxx > 0.0 { sxy / sxx } else { 0.0 }
}

/// Whether at least this part of the turns went the way of the slope, by at least three tenths of it.
pub(super) fn steady<'a>(
    samples: impl Iterator<Item = &'a SenseSample> + Clone,
    reading_range: [f64; 2],
    part: f64,
) -> bool {
    let slope = slope(samples.clone(), reading_range);
    let all = turns(samples.clone(), reading_range).count();
    let follow = turns(samples, reading_range)
        .filter(|&(hand, reading)| reading * (hand * slope) > 0.0 && reading.abs() >= 0.3 * (hand * slope).abs())
        .count();
    follow as f64 >= part * all as f64
}

/// Judges samples, from the machine above or from elsewhere.
pub(super) fn judge<'a>(
    samples: impl Iterator<Item = &'a SenseSample> + Clone,
    plan: &SensePlan,
    widest_range: f64,
) -> SenseResult {
    let slope = slope(samples.clone(), plan.reading_range);
    let (sense, reason) = match sensor_fault(samples.clone(), slope, plan.reading_range) {
        Some(reason) => (LoopSense::Undetermined, Some(reason)),
        None if plan.watch == Watch::SensorOnly => (LoopSense::Undetermined, Some(SenseReason::DriveNotWatched)),
        None => drive_sense(samples.clone()),
    };
    let (null, dead_band) = match null_of(samples, slope) {
        Some((null, band)) if sense != LoopSense::Undetermined => (Some(null), Some(band)),
        _ => (None, None),
    };
    SenseResult {
        sense,
        reason,
        slope,
        null,
        dead_band,
        widest_range,
    }
}

fn sensor_fault<'a>(
    samples: impl Iterator<Item = &'a SenseSample> + Clone,
    slope: f64,
    reading_range: [f64; 2],
) -> Option<SenseReason> {
    let [bottom, top] = reading_range;
    let low = samples.clone().map(|s| s.reading).fold(f64::INFINITY, f64::min);
    let high = samples.clone().map(|s| s.reading).fold(f64::NEG_INFINITY, f64::max);
    let hands = samples.clone().map(|s| s.hand).fold(f64::NEG_INFINITY, f64::max)
        - samples.clone().map(|s| s.hand).fold(f64::INFINITY, f64::min);
    // A sensor that uses less than 2 % of its reading range over all turns does not follow the hand.
    if high - low < 0.02 * (top - bottom) {
        Some(SenseReason::SensorStill)
    } else if !steady(samples, reading_range, 0.7) || slope.abs() * hands < 0.5 * (high - low) {
        Some(SenseReason::SensorErratic)
    } else {
        None
    }
}

fn drive_sense<'a>(samples: impl Iterator<Item = &'a SenseSample> + Clone) -> (LoopSense, Option<SenseReason>) {
    let up = samples.clone().filter(|s| s.response > 0);
    let down = samples.filter(|s| s.response < 0);
    let (ups, downs) = (up.clone().count(), down.clone().count());
    if ups + downs == 0 {
        return (LoopSense::Undetermined, Some(SenseReason::DriveStill));
    }
    if ups < 2 || downs < 2 {
        return (LoopSense::Undetermined, Some(SenseReason::DriveOneWay));
    }
    let wins: f64 = up
        .flat_map(|u| down.clone().map(move |d| (u.hand, d.hand)))
        .map(|(u, d)| {
            if u < d {
                1.0
            } else if u == d {
                0.5
            } else {
                0.0
            }
        })
        .sum();
    let share = wins / (ups * downs) as f64;
    if share >= 0.75 {
        (LoopSense::Opposing, None)
    } else if share <= 0.25 {
        (LoopSense::Aiding, None)
    } else {
        (LoopSense::Undetermined, Some(SenseReason::DriveMixed))
    }
}

/// Null and dead band, in readings.
fn null_of<'a>(samples: impl Iterator<Item = &'a SenseSample> + Clone, slope: f64) -> Option<(f64, [f64; 2])> {
    let ends = |response: i8| {
        let chosen = samples.clone().filter(move |s| s.response == response);
        let low = chosen.clone().map(|s| s.reading).fold(f64::INFINITY, f64::min);
        let high = chosen.map(|s| s.reading).fold(f64::NEG_INFINITY, f64::max);
        (low <= high).then_some((low, high))
    };
    let ((up_low, up_high), (down_low, down_high)) = (ends(1)?, ends(-1)?);
    // The two groups lie to either side of the null; which one is below depends on the sense and on the wires.
    let (a, b) = if up_low + up_high < down_low + down_high {
        (up_high, down_low)
    } else {
        (down_high, up_low)
    };
    let still = ends(0).map_or(0.0, |(low, high)| high - low);
    (slope != 0.0).then(|| ((a + b) / 2.0, [still, (b - a).abs().max(still)]))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The band lies between the innermost readings of both answers, whichever of them is above.
    #[test]
    fn the_dead_band_lies_between_the_answers() {
        let below = [400.0, 405.0, 420.0];
        let above = [600.0, 604.0, 650.0];
        for (lower, upper) in [(1, -1), (-1, 1)] {
            let sample = |reading: f64, response| SenseSample {
                hand: 0.0,
                reading,
                response,
            };
            let samples: [SenseSample; 6] = core::array::from_fn(|i| match i {
                0..3 => sample(below[i], lower),
                _ => sample(above[i - 3], upper),
            });
            assert_eq!(null_of(samples.iter(), 1.0), Some((510.0, [0.0, 180.0])));
        }
    }
}
