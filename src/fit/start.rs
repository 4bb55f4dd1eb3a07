//! A first model that neither gross misreadings nor the weight of the plateaus can pull away.
//!
//! The sorted readings are cut into blocks; every line through the medians of two blocks is a candidate, and for each
//! the best place, block by block, where a plateau of median level may take over at either end. For each kind (no
//! plateau, one, both) the candidate with the least sum of absolute residuals is kept. Of the four the one with the
//! least truncated sum of squares wins, cut at three times the smallest robust scale among them: most readings close to
//! one model count for more than all readings halfway to another. Medians and truncation bound what a misreading can
//! do, and a plateau is part of the model, so it has no leverage on the line. Deterministic, and of constant cost beyond
//! the sort: it looks at no more than [`MOST_LOOKED_AT`] readings, evenly picked.

use super::sums::Point;
use std::vec::Vec;

/// Readings looked at.
const MOST_LOOKED_AT: usize = 160;
/// Blocks: enough to place a knee, few enough for all pairs.
const MOST_BLOCKS: usize = 12;
/// Where squares are cut, in median absolute residuals: three standard deviations.
const CUT: f64 = 3.0 * 1.482_602_218_505_602;

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
        let (lower, upper) = self.knees();
        match (self.first, self.last) {
            (Some(level), _) if x < lower => level,
            (_, Some(level)) if x > upper => level,
            _ => self.intercept + self.slope * x,
        }
    }
}

/// The middle value; for an even count the mean of the middle two. Reorders `values`.
pub(super) fn median(values: &mut [f64]) -> Option<f64> {
    let n = values.len();
    let (below, &mut middle, _) = if n == 0 {
        return None;
    } else {
        values.select_nth_unstable_by(n / 2, f64::total_cmp)
    };
    if n % 2 == 1 {
        return Some(middle);
    }
    let left = below.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Some(0.5 * (left + middle))
}

/// Median and sum of absolute deviations from it.
fn level(values: impl Iterator<Item = f64>, room: &mut Vec<f64>) -> (f64, f64) {
    room.clear();
    room.extend(values);
    let middle = median(room).unwrap_or(0.0);
    (middle, room.iter().map(|v| (v - middle).abs()).sum())
}

/// A plateau that takes over before or after some reading.
#[derive(Clone, Copy)]
struct Plateau {
    /// Readings on it.
    count: usize,
    level: f64,
    cost: f64,
    /// Its knee must lie between these.
    from: f64,
    to: f64,
}

/// Finds a start for readings sorted by x; `None` where x or y has no width.
pub(super) fn start(points: &[Point]) -> Option<Start> {
    let picked: Vec<Point> = if points.len() <= MOST_LOOKED_AT {
        points.to_vec()
    } else {
        let step = points.len() as f64 / MOST_LOOKED_AT as f64;
        (0..MOST_LOOKED_AT)
            .filter_map(|i| points.get(((i as f64 + 0.5) * step) as usize).copied())
            .collect()
    };
    let n = picked.len();
    let blocks = n.min(MOST_BLOCKS);
    let edge = |k: usize| k * n / blocks.max(1);
    let mut room = Vec::with_capacity(n);
    let mut centres: Vec<(f64, f64)> = Vec::with_capacity(blocks);
    for k in 0..blocks {
        let block = picked.get(edge(k)..edge(k + 1))?;
        let (x, _) = level(block.iter().map(|p| p.x), &mut room);
        let (y, _) = level(block.iter().map(|p| p.y), &mut room);
        centres.push((x, y));
    }
    let x_at = |i: usize| picked.get(i).map_or(0.0, |p| p.x);
    // A plateau of at least two readings and two blocks' room beyond its knee on the other side.
    let mut first: Vec<Plateau> = Vec::with_capacity(blocks);
    let mut last: Vec<Plateau> = Vec::with_capacity(blocks);
    for k in 1..blocks {
        let count = edge(k);
        let (from, to) = (
            x_at(edge(k.saturating_sub(1))),
            x_at(edge(k + 1).min(n).saturating_sub(1)),
        );
        if count >= 2 {
            let (level, cost) = level(picked.iter().take(count).map(|p| p.y), &mut room);
            first.push(Plateau {
                count,
                level,
                cost,
                from,
                to,
            });
        }
        if n - count >= 2 {
            let (level, cost) = level(picked.iter().skip(count).map(|p| p.y), &mut room);
            last.push(Plateau {
                count: n - count,
                level,
                cost,
                from,
                to,
            });
        }
    }
    // The best of each kind: neither plateau, the first, the last, both.
    let mut best: [Option<(f64, Start)>; 4] = [None; 4];
    let mut sums = Vec::with_capacity(n + 1);
    for (i, &(x1, y1)) in centres.iter().enumerate() {
        for &(x2, y2) in centres.iter().skip(i + 1) {
            if x2 <= x1 || y1 == y2 {
                continue;
            }
            let slope = (y2 - y1) / (x2 - x1);
            let intercept = y1 - slope * x1;
            sums.clear();
            sums.push(0.0);
            let mut sum = 0.0;
            for p in &picked {
                sum += (p.y - intercept - slope * p.x).abs();
                sums.push(sum);
            }
            let before = |count: usize| sums.get(count).copied().unwrap_or(sum);
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
                .map(|p| (before(p.count) - p.cost, *p))
                .fold((0.0, None), most);
            let (gain_last, chosen_last) = last
                .iter()
                .filter(fits)
                .map(|p| (sum - before(n - p.count) - p.cost, *p))
                .fold((0.0, None), most);
            let apart = match (chosen_first, chosen_last) {
                (Some(f), Some(l)) => f.count + l.count < n,
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
    closest(&picked, best.iter().flatten().map(|(_, start)| *start))
}

/// The model that most readings lie close to.
fn closest(points: &[Point], models: impl Iterator<Item = Start>) -> Option<Start> {
    let mut residuals: Vec<(Start, Vec<f64>, f64)> = models
        .map(|model| {
            let rest: Vec<f64> = points.iter().map(|p| (p.y - model.expected(p.x)).abs()).collect();
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
        .reduce(|a, b| if b.1 < a.1 { b } else { a })
        .map(|(model, _)| model)
}
