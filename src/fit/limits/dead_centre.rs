//! An end at which a joint levels off by itself: near a dead centre it does so as it does on a stop, but evenly.
//!
//! The readings beyond a stop, and twice as long a stretch before it, are explained by four numbers in two ways: by a cubic, as a
//! mechanism levels off towards its dead centre, and by a parabola that ends on a level at a knee of its own, as on a stop.
//! Compared is `(n - 4)·ln(S)`, twice the logarithm of the likelihood but for its sign, `S` being the weighted sum of squares and
//! `n` the readings of both stretches, less the four numbers found: few readings favour neither by chance. An end that levels off as
//! well without a stop is only reached, with [`Warning::LevelBeyond`](crate::fit::Warning::LevelBeyond): its travel keeps the guard and goes
//! no further than a stop would let it.

use super::assess::Assessment;
use super::kept::{Point, Points};
use super::level::LevelEnd;
use crate::fit::line::{LineFit, fit_line};
use crate::fit::outcome::{End, LostMotion};
use crate::fit::statistics::dense::least_squares;
use crate::math::ln;
use std::vec::Vec;

/// Numbers of either explanation.
const NUMBERS: usize = 4;
/// Readings below which nothing is compared.
const FEWEST: usize = NUMBERS + 3;
/// Length of the stretch before the stop, in lengths of the one beyond: longer, and the bend of the joint is no cubic any more;
/// shorter, and a knee hides in the scatter. Found on invented slider-cranks with and without a stop.
const BEFORE: f64 = 2.0;
/// Places at which a knee is tried in all, and between two readings at the least and the most.
const TRIES: usize = 128;
const TRIES_BETWEEN: (usize, usize) = (2, 8);
/// Readings of a stretch looked at one by one; more are taken together, neighbours by their mean.
const MOST_LOOKED_AT: usize = 32;
/// By how much a bent joint may favour the stop and be explained as well without it: a likelihood 1.6 times as great. Found on the
/// same joints: of their stops one in 15 is then taken for a dead centre, which leaves the travel as short.
const AS_WELL: f64 = 1.0;
/// By how much a joint that is straight between its stops must favour the dead centre: a likelihood 150 times as great. Straight
/// joints have stops, seldom dead centres (an assumption of this library).
const SURELY: f64 = 10.0;

impl Assessment<'_> {
    /// The end of a joint that levels off by itself where `contact` was found: only reached, and no further than a stop would
    /// let it go.
    pub(super) fn levels_by_itself(
        &mut self,
        upper: bool,
        contact: &End,
        lost_motion: &LostMotion,
        points: &Points<'_>,
    ) -> Option<End> {
        let model = self.found.model;
        let knee = if upper { model.knees.1 } else { model.knees.0 };
        let most = if model.layout.degree > 1 { AS_WELL } else { -SURELY };
        if loss_without_stop(points, knee, upper)? > most {
            return None;
        }
        let [low, high] = contact.interval?;
        let limit = if upper { low } else { high };
        self.before_stretch(upper, knee, limit, lost_motion, points)
    }

    /// The end before a stretch beyond `knee` at which the joint does not move on, no further than `limit`.
    fn before_stretch(
        &mut self,
        upper: bool,
        knee: f64,
        limit: f64,
        lost_motion: &LostMotion,
        points: &Points<'_>,
    ) -> Option<End> {
        let inside = |p: &Point| if upper { p.x < knee } else { p.x > knee };
        let beyond = || points.iter().filter(|p| !inside(p));
        let length = beyond().fold(0.0, |most: f64, p| most.max((p.x - knee).abs()));
        let before = points.iter().filter(|p| inside(p) && (p.x - knee).abs() <= length);
        let ratio = fit(beyond())?.slope / fit(before)?.slope;
        let at = self
            .kept()
            .filter_map(|r| self.given.drive.get(r.index()).copied())
            .filter(|drive| if upper { *drive <= limit } else { *drive >= limit })
            .reduce(|a, b| if upper { a.max(b) } else { a.min(b) })?;
        let readings = beyond().count();
        let level = LevelEnd { at, readings, ratio };
        ratio.is_finite().then(|| self.before_level(upper, lost_motion, level))
    }
}

/// By how much the stop explains the end better than a joint that levels off by itself; None where too few readings are there.
fn loss_without_stop(points: &Points<'_>, knee: f64, upper: bool) -> Option<f64> {
    let way = if upper { -1.0 } else { 1.0 };
    let end = points.iter().map(|p| way * p.x).fold(f64::INFINITY, f64::min);
    let depth = way * knee - end;
    let local = |p: Point| Point {
        x: way * p.x - end,
        ..p
    };
    let near = |p: &Point| p.x <= depth * (1.0 + BEFORE);
    // From the outermost reading inward.
    let ((local, within), n) = if upper {
        let local = points.iter().rev().map(local).take_while(near);
        let n = local.clone().count();
        (together(local, n), n)
    } else {
        let local = points.iter().map(local).take_while(near);
        let n = local.clone().count();
        (together(local, n), n)
    };
    if n < FEWEST {
        return None;
    }
    let length = (if upper {
        points.iter().rev().nth(n - 1)
    } else {
        points.iter().nth(n - 1)
    })
    .map(|p| way * p.x - end)?;
    let bent = |t: f64| {
        let t = t / length;
        [1.0, t, t * t, t * t * t]
    };
    let without = squares(&local, bent, NUMBERS)?;
    let stopped = |knee: f64| {
        let row = move |t: f64| {
            let t = (t - knee).max(0.0) / length;
            [1.0, t, t * t, 0.0]
        };
        squares(&local, row, NUMBERS - 1)
    };
    let tries = (TRIES / local.len()).clamp(TRIES_BETWEEN.0, TRIES_BETWEEN.1);
    let knees = local.iter().zip(local.iter().skip(1)).flat_map(|(a, b)| {
        let step = (b.x - a.x) / tries as f64;
        let tries = if step > 0.0 { tries } else { 0 };
        (0..tries).map(move |i| a.x + step * i as f64)
    });
    let with = knees.filter_map(stopped).reduce(f64::min)?;
    let loss = (n - NUMBERS) as f64 * (ln(without + within) - ln(with + within));
    loss.is_finite().then_some(loss)
}

/// Neighbours by their mean, so that few enough are left, and the weighted sum of squares that this leaves out.
fn together(mut sorted: impl Iterator<Item = Point>, count: usize) -> (Vec<Point>, f64) {
    let size = count.div_ceil(MOST_LOOKED_AT);
    if size < 2 {
        return (sorted.collect(), 0.0);
    }
    let (mut means, mut within) = (Vec::new(), 0.0);
    let mut group = Vec::with_capacity(size);
    loop {
        group.clear();
        group.extend(sorted.by_ref().take(size));
        if group.is_empty() {
            return (means, within);
        }
        let w: f64 = group.iter().map(|p| p.w).sum();
        let mean = Point {
            x: group.iter().map(|p| p.w * p.x).sum::<f64>() / w,
            y: group.iter().map(|p| p.w * p.y).sum::<f64>() / w,
            w,
        };
        // About the line from end to end of the group: what the joint moves within it is no scatter.
        let spread: f64 = group.iter().map(|p| p.w * (p.x - mean.x) * (p.x - mean.x)).sum();
        let along: f64 = group.iter().map(|p| p.w * (p.x - mean.x) * (p.y - mean.y)).sum();
        let all: f64 = group.iter().map(|p| p.w * (p.y - mean.y) * (p.y - mean.y)).sum();
        within += if spread > 0.0 {
            (all - along * along / spread).max(0.0)
        } else {
            all
        };
        means.push(mean);
    }
}

/// The weighted sum of squares that `used` numbers leave.
fn squares(local: &[Point], row: impl Fn(f64) -> [f64; NUMBERS], used: usize) -> Option<f64> {
    let points = local.iter().map(|p| (row(p.x), p.y, p.w));
    least_squares(points, used).map(|(_, squares)| squares)
}

fn fit(points: impl Iterator<Item = Point>) -> Option<LineFit> {
    let (x, y): (Vec<f64>, Vec<f64>) = points.map(|p| (p.x, p.y)).unzip();
    fit_line(&x, &y).ok()
}
