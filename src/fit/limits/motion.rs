//! At rest or in motion: what the times of the readings show.
//!
//! A joint that follows its drive `τ` late stands, at speed `v`, where the drive was `v·τ` before, and every stop seems to
//! lie `v·τ` further out. At one speed in one direction nothing in the readings shows it; there and back it looks like lost
//! motion of `2·v·τ`. Where the speed varies, `τ` follows by least squares from
//!
//! `y = a + b·x + c·s − b·τ·v + ε`
//!
//! over the readings between the stops, `v·τ` being taken as the way that the drive made in the last `τ`.

use super::find::{Found, Prepared};
use super::model::Reading;
use super::prepare::ends_of;
use crate::fit::error::FitError;
use crate::fit::readings::{Approach, Readings};
use crate::fit::statistics::dense::{Matrix, add_outer, dot, factor, inverse, solve};
use crate::fit::statistics::univariate::{MAD_TO_SD, median};
use crate::fit::warning::Warning;
use std::vec::Vec;

/// Time after which a joint has arrived, s: hobby servos make 60 deg in 0.1 to 0.25 s, and a sensor's filter settles in
/// less than 0.1 s.
const SETTLED: f64 = 0.4;
/// A usual latency of servo and sensor together, s: two frames of 20 ms, a filter, and the motor itself.
const USUAL_LATENCY: f64 = 0.1;
/// A latency that no servo has, s: what would need a longer one is lost motion.
const LONGEST_LATENCY: f64 = 0.5;
/// Displacement, as a share of the sweep, that does no harm: 0.4 deg of 80.
const HARMLESS: f64 = 0.005;
/// Displacement by a usual latency, as a share of the sweep, from which readings that may trail are refused.
const FAR: f64 = 0.02;
/// Share of readings in motion below which the others decide.
const FEW: f64 = 0.1;
/// Share of readings in motion from which they must be shown to trail by nothing.
const MANY: f64 = 0.5;
/// Share of readings left out from which a model of readings in motion is not believed.
const MISFIT: f64 = 0.15;
/// Readings between the stops without which no latency is sought.
const FEWEST: usize = 8;
/// Readings of one side that make a pass.
const FEWEST_OF_A_SIDE: usize = 3;
/// Half width, in robust standard deviations, outside which a reading is left out of the latency.
const CUT: f64 = 4.0;

/// The drive over time.
pub(super) struct Track {
    /// By reading, in the order given: how far the drive went in the last [`USUAL_LATENCY`].
    way: Vec<f64>,
    sides: Vec<Approach>,
    /// Share of readings taken in motion.
    moving: f64,
    /// Median speed of the readings in motion, drive per second.
    speed: f64,
    harmless: f64,
}

struct Sample {
    time: f64,
    drive: f64,
    index: usize,
}

/// Shares the time to the next stamp among readings of one stamp, in the order given: a clock that shows whole seconds
/// makes no reading of the same second one in motion.
fn spread(samples: &mut [Sample]) {
    let mut width = 0.0;
    let mut rest = samples;
    while let Some(start) = rest.first().map(|sample| sample.time) {
        let (group, later) = rest.split_at_mut(rest.partition_point(|sample| sample.time <= start));
        if let Some(next) = later.first() {
            width = next.time - start;
        }
        let n = group.len() as f64;
        for (rank, sample) in group.iter_mut().enumerate() {
            sample.time += width * rank as f64 / n;
        }
        rest = later;
    }
}

impl Track {
    /// The track of readings with times; none without, and none where all times are alike.
    pub(super) fn of(given: &Readings<'_>) -> Option<Self> {
        let time = given.time?;
        let (first, last) = ends_of(time);
        if first >= last {
            return None;
        }
        let mut samples: Vec<Sample> = time
            .iter()
            .zip(given.drive)
            .enumerate()
            .map(|(index, (&time, &drive))| Sample {
                time: time - first,
                drive,
                index,
            })
            .collect();
        samples.sort_by(|a, b| a.time.total_cmp(&b.time).then(a.index.cmp(&b.index)));
        spread(&mut samples);
        let (lower, upper) = ends_of(given.drive);
        let harmless = HARMLESS * (upper - lower);
        let n = samples.len();
        let (mut way, mut sides) = (std::vec![0.0; n], std::vec![Approach::Unknown; n]);
        let mut speeds = Vec::new();
        let mut side = Approach::Unknown;
        let mut changed = f64::NEG_INFINITY;
        let mut earlier: Option<&Sample> = None;
        let mut window = samples.iter().zip(samples.iter().skip(1)).peekable();
        for sample in &samples {
            if let Some(last) = earlier
                && last.drive != sample.drive
            {
                side = if sample.drive > last.drive {
                    Approach::Below
                } else {
                    Approach::Above
                };
                changed = last.time;
            }
            earlier = Some(sample);
            let then = sample.time - USUAL_LATENCY;
            // The stretch of the track that holds the moment before.
            while window.next_if(|(_, end)| end.time < then).is_some() {}
            let before = match window.peek() {
                Some((start, end)) if start.time <= then && start.time < end.time => {
                    let t = (then - start.time) / (end.time - start.time);
                    start.drive * (1.0 - t) + end.drive * t
                }
                Some((start, _)) => start.drive,
                None => sample.drive,
            };
            let gone = sample.drive - before;
            if sample.time - changed < SETTLED && gone.abs() > harmless {
                // Nothing is known of the time before the first reading.
                speeds.push(gone.abs() / sample.time.min(USUAL_LATENCY));
            }
            if let Some(cell) = way.get_mut(sample.index) {
                *cell = gone;
            }
            if let Some(cell) = sides.get_mut(sample.index) {
                *cell = side;
            }
        }
        Some(Self {
            way,
            sides,
            moving: speeds.len() as f64 / n as f64,
            speed: median(&mut speeds).unwrap_or(0.0),
            harmless,
        })
    }

    /// From which side each position was reached.
    pub(super) fn sides(&self) -> &[Approach] {
        &self.sides
    }

    /// Refuses readings that trail behind the drive, and those of which nothing shows that they do not.
    pub(super) fn judge(&self, prepared: &Prepared, found: &Found) -> Result<Option<Warning>, FitError> {
        if self.moving < FEW {
            return Ok(None);
        }
        let rows = self.between_stops(prepared, found);
        let latency = latency(&rows)
            .filter(|(latency, u)| 2.0 * u * self.speed <= self.harmless.max(0.5 * latency.abs() * self.speed));
        if let Some((latency, _)) = latency
            && latency.abs() * self.speed > 2.0 * self.harmless
        {
            // What runs ahead of its drive is no lag: friction or a load moved it.
            return Err(self.refused((latency > 0.0).then_some(latency)));
        }
        if self.moving < MANY {
            return Ok(None);
        }
        // A model that so many readings contradict cannot vouch for them.
        let left_out = found.kept.iter().filter(|kept| !**kept).count();
        if left_out as f64 > MISFIT * found.kept.len() as f64 {
            return Err(self.refused(None));
        }
        if latency.is_some() {
            return Ok(None);
        }
        let Some(gap) = gap(&rows).map(|gap| gap * prepared.half) else {
            let shift = USUAL_LATENCY * self.speed;
            return if shift > FAR * 2.0 * prepared.half {
                Err(self.refused(None))
            } else {
                Ok(Some(Warning::MayTrail {
                    speed: self.speed,
                    shift,
                }))
            };
        };
        // There and back, lag and lost motion are one number; readings from both sides leave the stops where they are.
        let latency = 0.5 * gap / self.speed;
        if 0.5 * gap > 2.0 * self.harmless && latency < LONGEST_LATENCY {
            Ok(Some(Warning::LagOrLostMotion {
                gap,
                latency,
                speed: self.speed,
            }))
        } else {
            Ok(None)
        }
    }

    /// The error of readings on which no model agrees, if they were taken in motion: that is the better advice.
    pub(super) fn instead(&self, error: FitError) -> FitError {
        if self.moving < MANY { error } else { self.refused(None) }
    }

    fn refused(&self, latency: Option<f64>) -> FitError {
        FitError::Moving {
            speed: self.speed,
            latency,
            shift: latency.unwrap_or(USUAL_LATENCY) * self.speed,
        }
    }

    /// Readings that no stop holds, left-out ones included: a slower or faster pass is no misreading.
    fn between_stops(&self, prepared: &Prepared, found: &Found) -> Vec<Row> {
        let (lower, upper) = found.model.knees;
        let margin = USUAL_LATENCY * self.speed / prepared.half;
        let inside = |r: &Reading, margin: f64| {
            (!found.chosen.lower.is_finite() || r.x > lower + margin)
                && (!found.chosen.upper.is_finite() || r.x < upper - margin)
        };
        let row = |r: &Reading| Row {
            columns: [
                1.0,
                r.x,
                r.s(),
                self.way.get(r.index()).copied().unwrap_or(0.0) / prepared.half,
            ],
            y: r.y,
        };
        let of = |margin: f64| {
            let mut rows: Vec<Row> = prepared
                .readings
                .iter()
                .filter(|r| inside(r, margin))
                .map(row)
                .collect();
            // Sums do not depend on the order given: what else is equal is ordered by its way.
            rows.sort_by(|a, b| {
                let [_, x, s, way] = a.columns;
                let [_, other_x, other_s, other_way] = b.columns;
                let by_place = x.total_cmp(&other_x).then(a.y.total_cmp(&b.y));
                by_place.then(s.total_cmp(&other_s)).then(way.total_cmp(&other_way))
            });
            rows
        };
        let well_inside = of(margin);
        if well_inside.len() < FEWEST {
            of(0.0)
        } else {
            well_inside
        }
    }
}

/// One, drive, side and way, and what was measured.
struct Row {
    columns: [f64; 4],
    y: f64,
}

/// Coefficients and their covariance over the columns that vary, in the order given.
fn least_squares(rows: &[Row], which: &[usize]) -> Option<([f64; 4], Matrix<4>)> {
    let used = which.len();
    let pick = |row: &Row| {
        let mut columns = [0.0; 4];
        for (cell, &at) in columns.iter_mut().zip(which) {
            *cell = row.columns.get(at).copied().unwrap_or(0.0);
        }
        columns
    };
    let of = |rows: &mut dyn Iterator<Item = &Row>| {
        let (mut normal, mut right, mut n) = ([[0.0; 4]; 4], [0.0; 4], 0_usize);
        for row in rows {
            let columns = pick(row);
            add_outer(&mut normal, &columns, 1.0, used);
            for (cell, c) in right.iter_mut().zip(&columns) {
                *cell += c * row.y;
            }
            n += 1;
        }
        let factor = factor(&normal, used)?;
        Some((solve(&factor, &right, used), factor, n))
    };
    let (first, ..) = of(&mut rows.iter())?;
    let rest = |row: &Row, beta: &[f64; 4]| row.y - dot(&pick(row), beta);
    let mut sizes: Vec<f64> = rows.iter().map(|row| rest(row, &first).abs()).collect();
    let cut = CUT * MAD_TO_SD * median(&mut sizes)?;
    let kept = |row: &&Row| rest(row, &first).abs() <= cut;
    let (beta, factor, n) = of(&mut rows.iter().filter(kept))?;
    if n < FEWEST.max(used + 2) {
        return None;
    }
    let squares: f64 = rows.iter().filter(kept).map(|row| rest(row, &beta).powi(2)).sum();
    let variance = squares / (n - used) as f64;
    let mut covariance = inverse(&factor, used);
    for cell in covariance.iter_mut().flatten() {
        *cell *= variance;
    }
    Some((beta, covariance))
}

fn two_sided(rows: &[Row]) -> bool {
    let of = |side: f64| rows.iter().filter(|row| row.columns.get(2) == Some(&side)).count();
    of(1.0).min(of(-1.0)) >= FEWEST_OF_A_SIDE
}

/// The latency and its standard uncertainty, s; none where the speed does not vary enough to tell.
fn latency(rows: &[Row]) -> Option<(f64, f64)> {
    let which: &[usize] = if two_sided(rows) { &[1, 0, 3, 2] } else { &[1, 0, 3] };
    let ([slope, _, way, _], covariance) = least_squares(rows, which)?;
    let [_, _, [_, _, variance, _], _] = covariance;
    if slope == 0.0 {
        return None;
    }
    Some((
        -way / slope * USUAL_LATENCY,
        variance.sqrt() / slope.abs() * USUAL_LATENCY,
    ))
}

/// How far apart along the drive the readings from below and from above lie, scaled; none where one side is missing.
fn gap(rows: &[Row]) -> Option<f64> {
    if !two_sided(rows) {
        return None;
    }
    let ([slope, _, side, _], _) = least_squares(rows, &[1, 0, 2])?;
    (slope != 0.0).then_some(-2.0 * side / slope)
}

#[cfg(test)]
#[expect(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "tests stop at the first thing that is wrong"
)]
mod tests {
    use super::*;
    use std::vec;

    fn track(drive: &[f64], time: &[f64]) -> Track {
        Track::of(&Readings::new(drive, &vec![0.0; drive.len()]).with_time(time)).unwrap()
    }

    fn even(n: usize, step: f64) -> Vec<f64> {
        (0..n).map(|i| step * i as f64).collect()
    }

    #[test]
    fn a_steady_ramp_moves_at_its_speed() {
        let ramp = track(&even(81, 1.0), &even(81, 0.0125));
        assert!((ramp.speed - 80.0).abs() < 1e-9, "{}", ramp.speed);
        // The first reading was preceded by nothing.
        assert!((ramp.moving - 80.0 / 81.0).abs() < 1e-9, "{}", ramp.moving);
        assert!((ramp.way[40] - 8.0).abs() < 1e-9);
        assert!(
            (ramp.way[4] - 4.0).abs() < 1e-9,
            "no further back than the first reading"
        );
    }

    #[test]
    fn steps_with_a_dwell_are_at_rest_at_any_pitch() {
        for pitch in [0.5, 5.0, 20.0] {
            assert_eq!(track(&even(9, pitch), &even(9, 0.5)).moving, 0.0, "{pitch}");
        }
        // The log of one step and a long dwell: the first readings after the step are not at rest, the rest are.
        let mut drive = vec![0.0; 50];
        drive.extend(vec![10.0; 50]);
        let step = track(&drive, &even(100, 0.02));
        assert!(step.moving > 0.0 && step.moving < FEW, "{}", step.moving);
    }

    #[test]
    fn whole_seconds_are_shared_among_their_readings() {
        // One reading each 0.6 s, stamped with the second it fell in: at rest. A hundred a second: not.
        let stamps = |step: f64| even(60, step).iter().map(|t| t.floor()).collect::<Vec<f64>>();
        assert!(track(&even(60, 1.0), &stamps(0.6)).moving < FEW);
        assert!(track(&even(60, 1.0), &[stamps(0.02), stamps(0.02)].concat()[..60]).moving > MANY);
    }

    #[test]
    fn sides_follow_the_drive_through_equal_commands() {
        use Approach::{Above, Below, Unknown};
        let track = track(&[5.0, 5.0, 6.0, 6.0, 5.5, 5.5], &even(6, 1.0));
        assert_eq!(track.sides(), [Unknown, Unknown, Below, Below, Above, Above]);
    }

    /// Of 1 to 10 the mean is 5.5 and the sum of squares about it 82.5: a variance of 82.5 / 9, a tenth of that for the mean.
    #[test]
    fn the_variance_of_a_mean_is_that_of_the_values_over_their_number() {
        let rows: Vec<Row> = (1..=10)
            .map(|y| Row {
                columns: [1.0, 0.0, 0.0, 0.0],
                y: f64::from(y),
            })
            .collect();
        let ([mean, ..], covariance) = least_squares(&rows, &[0]).unwrap();
        assert!((mean - 5.5).abs() < 1e-12);
        assert!((covariance[0][0] - 82.5 / 90.0).abs() < 1e-12, "{covariance:?}");
    }

    #[test]
    fn a_latency_comes_back_out_of_two_speeds() {
        // y = 3 + 2 (x - tau v), with the way per 0.1 s as the fourth column.
        let rows: Vec<Row> = (0..40)
            .map(|i| {
                let (x, way) = (-1.0 + 0.05 * f64::from(i), if i % 3 == 0 { 0.02 } else { 0.11 });
                let jitter = 1e-3 * f64::from(i * 7 % 5 - 2);
                Row {
                    columns: [1.0, x, 0.0, way],
                    y: 3.0 + 2.0 * (x - 0.6 * way) + jitter,
                }
            })
            .collect();
        let (tau, u) = latency(&rows).unwrap();
        assert!((tau - 0.06).abs() < 4.0 * u && u < 0.001, "{tau} {u}");
        assert_eq!(gap(&rows), None, "no side is known");
        // One speed in one direction shows nothing.
        let one: Vec<Row> = rows.into_iter().filter(|row| row.columns[3] > 0.1).collect();
        assert_eq!(latency(&one), None);
    }

    #[test]
    fn no_times_and_equal_times_are_no_track() {
        let drive = even(5, 1.0);
        assert!(Track::of(&Readings::new(&drive, &drive)).is_none());
        assert!(Track::of(&Readings::new(&drive, &drive).with_time(&[2.0; 5])).is_none());
    }
}
