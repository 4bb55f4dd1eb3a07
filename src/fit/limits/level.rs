//! An end at which the joint hardly moves though no stop was named: bent joints hide a stop in their bend.

use super::kept::Point;
use super::sums::Running;
use crate::fit::line::{LineFit, fit_line};
use std::vec::Vec;

/// A slope below this part of the one before counts as level (an assumption of this library): a joint that levels off evenly, as a
/// parabola does, keeps a third from one stretch to the next.
const LEVEL: f64 = 0.25;
/// Places that make a stretch.
const FEWEST: usize = 3;
/// Scatters that the stretch before must move by, to tell anything.
const MOVES: f64 = 6.0;

/// The last place that still moves, and the readings beyond it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct LevelEnd {
    pub(super) at: f64,
    pub(super) readings: usize,
    /// Slope beyond over slope before.
    pub(super) ratio: f64,
}

/// Looks for the longest level stretch at an end: `points` are drive angle and measured value, outermost first; `noise` is the least
/// scatter to reckon with.
pub(super) fn level_end(points: &[[f64; 2]], noise: f64) -> Option<LevelEnd> {
    // Where each place begins, and the end.
    let mut begins: Vec<usize> = Vec::new();
    for (i, point) in points.iter().enumerate() {
        if i == 0 || points.get(i - 1).is_some_and(|before| before[0] != point[0]) {
            begins.push(i);
        }
    }
    let places = begins.len();
    begins.push(points.len());
    let stretch = |from: usize, to: usize| points.get(*begins.get(from)?..*begins.get(to)?);
    let glance = Glance::of(points);
    (FEWEST..=places / 2)
        .rev()
        .filter(|&count| glance.may_be_level(count, noise))
        .find_map(|count| level(stretch(0, count)?, stretch(count, 2 * count)?, noise))
}

/// The same question answered from running sums, in a few steps however long the stretch: all but the level ones are
/// put aside so, and those are looked at reading by reading.
struct Glance(Running<3, 2>);

impl Glance {
    /// Part by which a stretch may be off level and yet be looked at: more than rounding of the sums.
    const ROOM: f64 = 1.01;

    fn of(points: &[[f64; 2]]) -> Self {
        let n = points.len().max(1) as f64;
        let (x, y) = points
            .iter()
            .fold((0.0, 0.0), |(x, y), point| (x + point[0] / n, y + point[1] / n));
        Self(Running::new(points.iter().map(|point| Point {
            x: point[0] - x,
            y: point[1] - y,
            w: 1.0,
        })))
    }

    fn may_be_level(&self, count: usize, noise: f64) -> bool {
        let near = self.0.up_to(count);
        let before = self.0.up_to(2 * count).less(&near);
        let (Some(flat), Some(steep)) = (near.slope(), before.slope()) else {
            return true;
        };
        let most = flat.0.abs() + 2.0 * flat.1.max(noise / flat.2);
        most < Self::ROOM * LEVEL * steep.0.abs()
    }
}

fn level(beyond: &[[f64; 2]], before: &[[f64; 2]], noise: f64) -> Option<LevelEnd> {
    let (flat, steep) = (line(beyond)?, line(before)?);
    let [first, last] = [before.first()?[0], before.last()?[0]];
    let moves = (steep.slope * (last - first)).abs();
    let most = flat.slope.abs() + 2.0 * flat.u_slope.max(noise / spread(beyond));
    (moves > MOVES * steep.residual_sd.max(noise) && most < LEVEL * steep.slope.abs()).then_some(LevelEnd {
        at: first,
        readings: beyond.len(),
        ratio: flat.slope / steep.slope,
    })
}

fn line(points: &[[f64; 2]]) -> Option<LineFit> {
    let (x, y): (Vec<f64>, Vec<f64>) = points.iter().map(|&[x, y]| (x, y)).unzip();
    fit_line(&x, &y).ok()
}

/// The root of the sum of squares of the places about their mean: the scatter over it is the slope's uncertainty.
fn spread(points: &[[f64; 2]]) -> f64 {
    let mean = points.iter().map(|point| point[0]).sum::<f64>() / points.len() as f64;
    let squares: f64 = points.iter().map(|point| (point[0] - mean).powi(2)).sum();
    squares.sqrt()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may panic")]
    use super::*;

    /// Outermost first: so many places level, then so many on a slope of 2.
    fn bent(level: usize, moving: usize) -> Vec<[f64; 2]> {
        let wobble = |at: usize| if at.is_multiple_of(2) { 0.001 } else { -0.001 };
        let y = |at: usize| 2.0 * at.saturating_sub(level - 1) as f64;
        (0..level + moving)
            .map(|at| [100.0 - at as f64, -y(at) + wobble(at)])
            .collect()
    }

    #[test]
    fn the_fewest_places_are_enough_and_one_less_is_not() {
        let end = level_end(&bent(3, 3), 0.01).unwrap();
        assert_eq!((end.at, end.readings), (97.0, 3));
        assert!(end.ratio.abs() < 0.01);
        assert_eq!(level_end(&bent(3, 2), 0.01), None, "half of five places is no stretch");
        assert_eq!(level_end(&bent(2, 4), 0.01), None, "two level places are no stretch");
    }

    #[test]
    fn the_longest_level_stretch_is_told() {
        for level in [3, 5, 9] {
            let end = level_end(&bent(level, 12), 0.01).unwrap();
            // One place that moved is not seen among so many that did not.
            assert!((level..=level + 1).contains(&end.readings), "{level}: {end:?}");
            assert_eq!(end.at, 100.0 - end.readings as f64);
        }
        // No more than half of all places: as many are needed to compare it with.
        assert_eq!(
            level_end(&bent(9, 3), 0.01).map(|end| (end.at, end.readings)),
            Some((94.0, 6))
        );
        // What hardly moves before it tells nothing.
        assert_eq!(level_end(&bent(3, 3), 1.0), None);
    }
}
