//! A first model that neither gross misreadings nor the weight of the plateaus can pull away.
//!
//! The sorted readings are cut into blocks; every line through the medians of two blocks is a candidate, and for each
//! the best place, block by block, where a plateau of median level may take over at either end. For each kind (no
//! plateau, one, both) the candidate with the least sum of absolute residuals is kept. Of the four the one with the
//! least truncated sum of squares wins, cut at three times the smallest robust scale among them: most readings close to
//! one model count for more than all readings halfway to another. Medians and truncation bound what a misreading can
//! do, and a plateau is part of the model, so it has no leverage on the line. Deterministic, and of constant cost beyond
//! the sort: it looks at no more than [`MOST_LOOKED_AT`] readings, evenly picked.
//!
//! A plateau shorter than a block, or hidden by those that were not picked, is sought afterwards among all readings: a
//! run at an end, all short of the line and at one level, however few they are beside the rest.

use super::kept::{Point, Points};
use crate::fit::statistics::univariate::{MAD_TO_SD, median};
use std::vec::Vec;

/// Readings looked at.
const MOST_LOOKED_AT: usize = 160;
/// Blocks: enough to place a knee, few enough for all pairs.
const MOST_BLOCKS: usize = 12;
/// Lines looked at together: independent sums, which a processor adds side by side.
const LANES: usize = 8;
/// Where squares are cut, in median absolute residuals: three standard deviations.
const CUT: f64 = 3.0 * MAD_TO_SD;

/// Residuals below this share of the measured range are rounding.
const ROUNDING: f64 = 1e-9;
/// Readings by which a run at an end may fall behind its best before it is over: some on a stop may be misreadings.
const FAR_BEHIND: isize = 8;
/// Cut squares that a plateau shorter than a block must save: two readings that a level explains and no line does. Each
/// saves nearly a whole one, and one alone proves nothing.
const LEAST_GAIN: f64 = 1.5;
/// Share of such a run that must lie on its level: one in five may be a misreading, and chance takes some.
const LEAST_ON: f64 = 0.7;

/// A line between two levels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Start {
    pub(super) intercept: f64,
    pub(super) slope: f64,
    /// Level of the plateau at small x.
    pub(super) first: Option<f64>,
    /// Level of the plateau at large x.
    pub(super) last: Option<f64>,
}

impl Start {
    /// Where the plateaus meet the line; infinite where there is none.
    pub(super) fn knees(&self) -> (f64, f64) {
        (
            self.first
                .map_or(f64::NEG_INFINITY, |level| (level - self.intercept) / self.slope),
            self.last
                .map_or(f64::INFINITY, |level| (level - self.intercept) / self.slope),
        )
    }

    pub(super) fn expected(&self, x: f64) -> f64 {
        self.expected_between(self.knees(), x)
    }

    fn expected_between(&self, (lower, upper): (f64, f64), x: f64) -> f64 {
        match (self.first, self.last) {
            (Some(level), _) if x < lower => level,
            (_, Some(level)) if x > upper => level,
            _ => self.intercept + self.slope * x,
        }
    }
}

/// The middle of sorted values; for an even count the mean of the middle two.
fn middle(sorted: &[f64]) -> f64 {
    let half = sorted.len() / 2;
    match (sorted.get(half.wrapping_sub(1)), sorted.get(half)) {
        (Some(left), Some(right)) if sorted.len().is_multiple_of(2) => 0.5 * (left + right),
        (_, Some(middle)) => *middle,
        _ => 0.0,
    }
}

/// Median of the measured values of some readings and the sum of absolute deviations from it. `sorted` holds the values
/// of those that `new` joins.
fn level(points: &[Point], new: &[Point], sorted: &mut Vec<f64>) -> (f64, f64) {
    for p in new {
        sorted.insert(sorted.partition_point(|v| *v <= p.y), p.y);
    }
    let middle = middle(sorted);
    (middle, points.iter().map(|p| (p.y - middle).abs()).sum())
}

/// A plateau that takes over before or after some reading.
#[derive(Clone, Copy)]
struct Plateau {
    /// The block edge where it ends or begins.
    block: usize,
    level: f64,
    cost: f64,
    /// Its knee must lie between these.
    from: f64,
    to: f64,
}

/// Sums of absolute residuals of some lines over all readings before each block's edge.
fn costs(
    lines: &[(f64, f64)],
    picked: &[Point],
    edge: impl Fn(usize) -> usize,
    blocks: usize,
) -> [[f64; LANES]; MOST_BLOCKS + 1] {
    let mut intercepts = [0.0; LANES];
    let mut slopes = [0.0; LANES];
    for ((intercept, slope), line) in intercepts.iter_mut().zip(&mut slopes).zip(lines) {
        (*intercept, *slope) = *line;
    }
    let mut out = [[0.0; LANES]; MOST_BLOCKS + 1];
    let mut sums = [0.0; LANES];
    for (k, before) in out.iter_mut().skip(1).enumerate().take(blocks) {
        for p in picked.get(edge(k)..edge(k + 1)).unwrap_or(&[]) {
            for ((sum, intercept), slope) in sums.iter_mut().zip(&intercepts).zip(&slopes) {
                *sum += (p.y - intercept - slope * p.x).abs();
            }
        }
        *before = sums;
    }
    out
}

/// Finds a start for readings sorted by x; `None` where x or y has no width.
pub(super) fn start(points: &Points<'_>) -> Option<Start> {
    let picked = picked(points);
    let blocks = picked.len().min(MOST_BLOCKS);
    let mut models = of_blocks(&picked, |k| k * picked.len() / blocks.max(1));
    let first = models.len();
    if !picked.len().is_multiple_of(blocks.max(1)) {
        // Blocks that do not come out even are cut from the other end as well: neither end is preferred.
        models.extend(of_blocks(&picked, |k| (k * picked.len()).div_ceil(blocks.max(1))));
    }
    let (found, scale) = closest(&picked, &models, first)?;
    Some(with_short_plateaus(points, found, scale))
}

/// No more than [`MOST_LOOKED_AT`] readings, evenly picked.
fn picked(points: &Points<'_>) -> Vec<Point> {
    if points.len() <= MOST_LOOKED_AT {
        return points.iter().collect();
    }
    let step = points.len() as f64 / MOST_LOOKED_AT as f64;
    let mut rest = points.iter().enumerate();
    (0..MOST_LOOKED_AT)
        .map(|i| ((i as f64 + 0.5) * step) as usize)
        .filter_map(|place| rest.find(|(at, _)| *at == place).map(|(_, point)| point))
        .collect()
}

/// The best start of each kind whose plateaus are of whole blocks, of which the first `k` end before reading `edge(k)`.
fn of_blocks(picked: &[Point], edge: impl Fn(usize) -> usize) -> Vec<Start> {
    let n = picked.len();
    let blocks = n.min(MOST_BLOCKS);
    let block = |k: usize| picked.get(edge(k)..edge(k + 1)).unwrap_or(&[]);
    let mut sorted = Vec::with_capacity(n);
    let mut centres: Vec<(f64, f64)> = Vec::with_capacity(blocks);
    for k in 0..blocks {
        sorted.clear();
        let (y, _) = level(&[], block(k), &mut sorted);
        sorted.clear();
        sorted.extend(block(k).iter().map(|p| p.x));
        centres.push((middle(&sorted), y));
    }
    let x_at = |i: usize| picked.get(i).map_or(0.0, |p| p.x);
    // A plateau of at least two readings and two blocks' room beyond its knee on the other side.
    let plateau = |k: usize, (level, cost): (f64, f64)| Plateau {
        block: k,
        level,
        cost,
        from: x_at(edge(k.saturating_sub(1))),
        to: x_at(edge(k + 1).min(n).saturating_sub(1)),
    };
    let mut first: Vec<Plateau> = Vec::with_capacity(blocks);
    let mut last: Vec<Plateau> = Vec::with_capacity(blocks);
    sorted.clear();
    for k in 1..blocks {
        let found = level(picked.get(..edge(k)).unwrap_or(&[]), block(k - 1), &mut sorted);
        if edge(k) >= 2 {
            first.push(plateau(k, found));
        }
    }
    sorted.clear();
    for k in (1..blocks).rev() {
        let found = level(picked.get(edge(k)..).unwrap_or(&[]), block(k), &mut sorted);
        if n - edge(k) >= 2 {
            last.push(plateau(k, found));
        }
    }
    last.reverse();
    // The best of each kind: neither plateau, the first, the last, both.
    let mut best: [Option<(f64, Start)>; 4] = [None; 4];
    let mut lines: Vec<(f64, f64)> = Vec::with_capacity(blocks * blocks / 2);
    for (i, &(x1, y1)) in centres.iter().enumerate() {
        for &(x2, y2) in centres.iter().skip(i + 1) {
            if x2 > x1 && y1 != y2 {
                let slope = (y2 - y1) / (x2 - x1);
                lines.push((y1 - slope * x1, slope));
            }
        }
    }
    for some in lines.chunks(LANES) {
        let costs = costs(some, picked, &edge, blocks);
        for (lane, &(intercept, slope)) in some.iter().enumerate() {
            let before = |block: usize| costs.get(block).and_then(|c| c.get(lane)).copied().unwrap_or(0.0);
            let sum = before(blocks);
            let fits = |p: &&Plateau| {
                let knee = (p.level - intercept) / slope;
                knee >= p.from && knee <= p.to
            };
            let most = |(most, best): (f64, Option<Plateau>), (gain, p): (f64, Plateau)| {
                if gain > most { (gain, Some(p)) } else { (most, best) }
            };
            let (gain_first, chosen_first) = first
                .iter()
                .filter(fits)
                .map(|p| (before(p.block) - p.cost, *p))
                .fold((0.0, None), most);
            let (gain_last, chosen_last) = last
                .iter()
                .filter(fits)
                .map(|p| (sum - before(p.block) - p.cost, *p))
                .fold((0.0, None), most);
            let apart = match (chosen_first, chosen_last) {
                (Some(f), Some(l)) => f.block < l.block,
                _ => false,
            };
            let level = |p: Option<Plateau>| p.map(|p| p.level);
            let kinds = [
                (true, sum, None, None),
                (chosen_first.is_some(), sum - gain_first, level(chosen_first), None),
                (chosen_last.is_some(), sum - gain_last, None, level(chosen_last)),
                (
                    apart,
                    sum - gain_first - gain_last,
                    level(chosen_first),
                    level(chosen_last),
                ),
            ];
            for (place, (there, cost, first, last)) in best.iter_mut().zip(kinds) {
                if there && place.is_none_or(|(least, _)| cost < least) {
                    let found = Start {
                        intercept,
                        slope,
                        first,
                        last,
                    };
                    *place = Some((cost, found));
                }
            }
        }
    }
    best.iter().flatten().map(|(_, start)| *start).collect()
}

/// Adds plateaus that are shorter than a block. `scale` is the median absolute residual of the start.
fn with_short_plateaus(points: &Points<'_>, start: Start, scale: f64) -> Start {
    let y_range = {
        let (low, high) = points
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), p| {
                (low.min(p.y), high.max(p.y))
            });
        high - low
    };
    let cut = (CUT * scale).max(ROUNDING * y_range);
    let mut out = start;
    if start.first.is_none() {
        out.first = short_plateau(points.iter(), &start, -1.0, cut);
    }
    if start.last.is_none() {
        out.last = short_plateau(points.iter().rev(), &start, 1.0, cut);
    }
    // One that leaves nothing between them is none.
    let (lower, upper) = out.knees();
    if lower < upper { out } else { start }
}

/// The level of a run of readings at an end that fall short of a line together. `points` begin at that end, `side` is
/// −1 for small x and +1 for large x.
fn short_plateau(points: impl Iterator<Item = Point> + Clone, start: &Start, side: f64, cut: f64) -> Option<f64> {
    let way = if start.slope > 0.0 { side } else { -side };
    // How far it falls short of the line.
    let short = |p: &Point| way * (start.intercept + start.slope * p.x - p.y);
    // The run up to which readings that fall short outnumber the others by most; it ends between two places.
    let (mut balance, mut best, mut length, mut seen) = (0_isize, 0, 0, 0);
    let (mut at, mut next) = (f64::NAN, None);
    for p in points.clone() {
        if p.x != at {
            if balance > best {
                (best, length, next) = (balance, seen, Some(p.x));
            }
            if balance < best - FAR_BEHIND {
                break;
            }
            at = p.x;
        }
        balance += if short(&p) > cut { 1 } else { -1 };
        seen += 1;
    }
    let next = next?;
    let run = || points.clone().take(length);
    let mut level: Vec<f64> = run().filter(|p| short(p) > cut).map(|p| p.y).collect();
    let level = median(&mut level)?;
    // What the plateau explains of the run that the line does not, squares cut as for the start.
    let squares = |rest: f64| (rest * rest).min(cut * cut);
    let gain: f64 = run().map(|p| squares(short(&p)) - squares(p.y - level)).sum();
    let on = run().filter(|p| (p.y - level).abs() <= cut).count();
    let knee = (level - start.intercept) / start.slope;
    let last = run().last().map_or(next, |p| p.x);
    // The next reading may itself fall short by as much as the cut, and the level be off by as much.
    let room = 2.0 * cut / start.slope.abs();
    let (low, high) = (next.min(last) - room, next.max(last) + room);
    let level_enough = gain > LEAST_GAIN * cut * cut && on as f64 >= LEAST_ON * length as f64;
    (level_enough && knee >= low && knee <= high).then_some(level)
}

/// The model that most readings lie close to, and its median absolute residual.
fn closest(points: &[Point], models: &[Start], first: usize) -> Option<(Start, f64)> {
    let mut residuals: Vec<(Start, Vec<f64>, f64)> = models
        .iter()
        .map(|&model| {
            let knees = model.knees();
            let rest: Vec<f64> = points
                .iter()
                .map(|p| (p.y - model.expected_between(knees, p.x)).abs())
                .collect();
            let scale = median(&mut rest.clone()).unwrap_or(0.0);
            (model, rest, scale)
        })
        .collect();
    let scale = residuals.iter().map(|(_, _, s)| *s).fold(f64::INFINITY, f64::min);
    // An exact fit has no scale: then any misfit counts in full.
    let cut = if scale > 0.0 {
        (CUT * scale) * (CUT * scale)
    } else {
        f64::INFINITY
    };
    residuals
        .drain(..)
        .map(|(model, rest, _)| {
            let cost: f64 = rest.iter().map(|r| if r * r < cut { r * r } else { cut }).sum();
            (model, cost)
        })
        .enumerate()
        .reduce(|a, b| {
            // The first blocks stand unless others explain a reading more.
            let least = if b.0 >= first { 0.6 * cut } else { 0.0 };
            if b.1.1 < a.1.1 - least { b } else { a }
        })
        .map(|(_, (model, _))| (model, scale))
}
