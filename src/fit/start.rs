//! A first model that neither gross misreadings nor the weight of the plateaus can pull away.
//!
//! The sorted readings are cut into blocks; every line through the medians of two blocks is a candidate, and for each
//! the best place, block by block, where a plateau of median level may take over at either end. The candidate with the
//! least sum of absolute residuals wins. Medians and absolute values bound what a misreading can do, and a plateau is
//! part of the model, so it has no leverage on the line. Deterministic, and of constant cost beyond the sort: it looks
//! at no more than [`MOST_LOOKED_AT`] readings, evenly picked.

use super::sums::Point;
use std::vec::Vec;

/// Readings looked at.
const MOST_LOOKED_AT: usize = 160;
/// Blocks: enough to place a knee, few enough for all pairs.
const MOST_BLOCKS: usize = 12;

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
    let mut best: Option<(f64, Start)> = None;
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
            let saved = |p: &Plateau, on_line: f64| on_line - p.cost;
            let mut chosen_first = None;
            let mut gain_first = 0.0;
            for p in first.iter().filter(fits) {
                let gain = saved(p, before(p.count));
                if gain > gain_first {
                    (gain_first, chosen_first) = (gain, Some(*p));
                }
            }
            let mut chosen_last = None;
            let mut gain_last = 0.0;
            for p in last.iter().filter(fits) {
                let gain = saved(p, sum - before(n - p.count));
                let apart = chosen_first.is_none_or(|f: Plateau| f.count + p.count < n);
                if gain > gain_last && apart {
                    (gain_last, chosen_last) = (gain, Some(*p));
                }
            }
            let cost = sum - gain_first - gain_last;
            if best.is_none_or(|(least, _)| cost < least) {
                best = Some((
                    cost,
                    Start {
                        intercept,
                        slope,
                        first: chosen_first.map(|p| p.level),
                        last: chosen_last.map(|p| p.level),
                    },
                ));
            }
        }
    }
    best.map(|(_, start)| start)
}
