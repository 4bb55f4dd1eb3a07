//! An end at which the joint hardly moves though no stop was named: bent joints hide a stop in their bend.

use super::line::{LineFit, fit_line};
use std::vec::Vec;

/// A slope below this part of the one before counts as level (common practice, no source): a joint that levels off evenly, as a
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
    (FEWEST..=places / 2)
        .rev()
        .find_map(|count| level(stretch(0, count)?, stretch(count, 2 * count)?, noise))
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
