//! A table as the hypotheses see it: rows with their sides, the scale of the drive, and what scatter to expect.

use super::normal::LN_SQRT_2PI;
use crate::fit::statistics::resolution::telling;
use crate::math::{exp, ln};
use std::vec::Vec;

/// One row.
#[derive(Debug, Clone, Copy)]
pub(in super::super) struct Row {
    pub(in super::super) drive: f64,
    pub(in super::super) measured: f64,
    /// +1 reached from below, −1 from above, 0 unknown.
    pub(in super::super) side: f64,
    /// One over the square of its stated uncertainty; 1 where none is stated.
    pub(in super::super) weight: f64,
    /// Somebody noted contact here: the row is on a stop, and no misreading.
    pub(in super::super) noted: bool,
    /// Its place in the table as given.
    pub(in super::super) index: usize,
}

/// Standard deviations of a reading that come into question, rounding within.
#[derive(Clone)]
pub(super) struct Scatter(pub(super) Vec<Node>);

/// One of them.
#[derive(Debug, Clone, Copy)]
pub(super) struct Node {
    pub(super) sd: f64,
    pub(super) ln_sd: f64,
    /// Logarithm of its chance.
    pub(super) chance: f64,
}

/// Standard deviation of a reading in resolutions: noise of 0.2 to 0.6 of a step, with the rounding, is 0.35 to 0.67 of it.
const SD_MIDDLE: f64 = 0.45;
/// The same in stated uncertainties.
const STATED_MIDDLE: f64 = 1.0;
/// Its spread, as a standard deviation of its logarithm.
const SD_SPREAD: f64 = 0.22;
/// Chance that the scatter has nothing to do with the resolution: a loose pointer, readings by eye.
const SD_LOOSE: f64 = 0.05;
/// Span of standard deviations looked at, in resolutions, and how many.
const SD_RANGE: (f64, f64) = (0.30, 8.0);
const SD_NODES: usize = 11;
/// The same in measured spans, where the resolution tells nothing.
const FREE_RANGE: (f64, f64) = (1e-4, 0.1);
const FREE_NODES: usize = 20;

/// How far off, as a factor, a scatter estimated from more than [`MOST_WHOLE`] readings may be.
const NEAR: f64 = 2.5;

impl Scatter {
    /// What scatter to expect of values on steps of `step` (0: unknown) that span `span`, or of stated uncertainties.
    pub(super) fn expected(step: f64, span: f64, stated: bool) -> Self {
        if stated || telling(step, span) {
            let (unit, middle) = if stated {
                (1.0, STATED_MIDDLE)
            } else {
                (step, SD_MIDDLE)
            };
            let ratio = ln(SD_RANGE.1 / SD_RANGE.0);
            let chance = |k: f64| {
                let z = ln(k / middle) / SD_SPREAD;
                (1.0 - SD_LOOSE) * exp(-0.5 * z * z - LN_SQRT_2PI) / SD_SPREAD + SD_LOOSE / ratio
            };
            Self::nodes(SD_RANGE.0, SD_RANGE.1, SD_NODES, unit, chance)
        } else {
            let least = (FREE_RANGE.0 * span).max(SD_RANGE.0 * step);
            Self::nodes(least, FREE_RANGE.1 * span, FREE_NODES, 1.0, |_| 1.0)
        }
    }

    /// Only what lies near a scatter that many readings have shown.
    pub(super) fn near(mut self, sd: f64) -> Self {
        let near = |node: &Node| node.sd >= sd / NEAR && node.sd <= sd * NEAR;
        if self.0.iter().any(near) {
            self.0.retain(near);
        }
        self
    }

    fn nodes(least: f64, most: f64, count: usize, unit: f64, chance: impl Fn(f64) -> f64) -> Self {
        let (from, width) = (ln(least), ln(most / least));
        let at = |i: usize| exp(from + width * i as f64 / (count - 1) as f64);
        let total: f64 = (0..count).map(|i| chance(at(i))).sum();
        let node = |i: usize| {
            let sd = unit * at(i);
            Node {
                sd,
                ln_sd: ln(sd),
                chance: ln(chance(at(i)) / total),
            }
        };
        Self((0..count).map(node).collect())
    }
}

/// Rows, and the scales of their drive and values.
#[derive(Clone)]
pub(super) struct Table {
    /// Sorted by drive, then by value and side.
    pub(super) rows: Vec<Row>,
    pub(super) centre: f64,
    /// Half the span of the drive.
    pub(super) half: f64,
    /// Span of the measured values.
    pub(super) span: f64,
    /// Distinct drives, rising.
    pub(super) places: Vec<f64>,
    /// Mean distance of neighbouring places.
    pub(super) pitch: f64,
    /// Step of the measured values; 0 if none is known.
    pub(super) step: f64,
    /// Rows were reached from both sides.
    pub(super) both_sides: bool,
    /// The row that the table begins with, where its side follows from the order of the rows: what came before it, nobody
    /// wrote down.
    pub(super) beginning: Option<usize>,
    pub(super) scatter: Scatter,
    /// One row may be misread.
    pub(super) misreadings: bool,
}

/// Rows above which none is held for misread: the fit, that finds several, has left them out before.
pub(in super::super) const MOST_WHOLE: usize = 20;

impl Table {
    /// `None` where drives or values have no span.
    pub(super) fn new(
        mut rows: Vec<Row>,
        step: f64,
        stated: bool,
        sides_inferred: bool,
        shown: Option<f64>,
    ) -> Option<Self> {
        rows.sort_by(|a, b| {
            a.drive
                .total_cmp(&b.drive)
                .then(a.measured.total_cmp(&b.measured))
                .then(a.side.total_cmp(&b.side))
                .then(a.weight.total_cmp(&b.weight))
        });
        let mut places: Vec<f64> = rows.iter().map(|r| r.drive).collect();
        places.dedup();
        let (first, last) = (*places.first()?, *places.last()?);
        let mut values: Vec<f64> = rows.iter().map(|r| r.measured).collect();
        values.sort_by(f64::total_cmp);
        let middle = *values.get(values.len() / 2)?;
        let span = values.last()? - values.first()?;
        if !(last > first && span > 0.0) {
            return None;
        }
        // About their middle: sums of squares keep their digits.
        for row in &mut rows {
            row.measured -= middle;
            // Readings turned round may hold a negative zero, which would sort before a zero.
            row.drive += 0.0;
        }
        Some(Self {
            both_sides: both_sides(&rows),
            beginning: if sides_inferred {
                rows.iter().map(|r| r.index).min()
            } else {
                None
            },
            centre: 0.5 * (first + last),
            half: 0.5 * (last - first),
            span,
            pitch: (last - first) / (places.len() - 1) as f64,
            scatter: match shown {
                Some(sd) if rows.len() > MOST_WHOLE => Scatter::expected(step, span, stated).near(sd),
                _ => Scatter::expected(step, span, stated),
            },
            misreadings: rows.len() <= MOST_WHOLE,
            rows,
            places,
            step,
        })
    }

    /// The same where no row is misread any more.
    pub(super) fn with_none_misread(mut self) -> Self {
        self.misreadings = false;
        self
    }

    /// The two rows, one after the other by drive, that go back furthest against the way of all the values, by their places as given;
    /// none where no rows do.
    pub(super) fn most_backwards(&self) -> Option<[usize; 2]> {
        let way: f64 = self.rows.iter().map(|r| (r.drive - self.centre) * r.measured).sum();
        let back = |pair: &[Row]| match pair {
            [a, b] if b.drive > a.drive => Some(((a.measured - b.measured) * way.signum(), [a.index, b.index])),
            _ => None,
        };
        let furthest = self.rows.windows(2).filter_map(back).max_by(|a, b| a.0.total_cmp(&b.0));
        furthest.filter(|(back, _)| *back > 0.0).map(|(_, rows)| rows)
    }

    /// The same with the values of two rows, by their places as given, written in each other's row.
    pub(super) fn exchanged(&self, pair: [usize; 2]) -> Self {
        let mut table = self.clone();
        let [first, second] = pair.map(|index| table.rows.iter().position(|row| row.index == index));
        if let (Some(first), Some(second)) = (first, second) {
            let of = |at: usize| self.rows.get(at).map_or(0.0, |row| row.measured);
            for (at, value) in [(first, of(second)), (second, of(first))] {
                if let Some(row) = table.rows.get_mut(at) {
                    row.measured = value;
                }
            }
        }
        table
    }

    /// The same scales without some rows, by their places as given.
    pub(super) fn without(&self, left_out: &[usize]) -> Self {
        let mut table = self.clone();
        table.rows.retain(|row| !left_out.contains(&row.index));
        table.places = table.rows.iter().map(|r| r.drive).collect();
        table.places.dedup();
        table.both_sides = both_sides(&table.rows);
        table
    }
}

fn both_sides(rows: &[Row]) -> bool {
    [1.0, -1.0].iter().all(|&s| rows.iter().any(|r| r.side == s))
}

/// Runs of rows in one direction that are no accident: a table in any order has a turn at two rows of three.
const FEWEST_IN_RUN: usize = 3;
/// Most runs that a table may have for its order to tell the sides.
const MOST_RUNS: usize = 6;

/// The side from which each row was reached, from the order of the rows; all 0 where the order does not tell it.
///
/// Rising rows were reached from below. The order tells it where the rows form a few runs, each of at least three rows.
pub(in super::super) fn sides_by_order(drive: &[f64]) -> Vec<f64> {
    let mut sides = std::vec![0.0; drive.len()];
    let mut last = 0.0;
    for (side, pair) in sides.iter_mut().skip(1).zip(drive.windows(2)) {
        if let &[before, after] = pair {
            if after != before {
                last = if after > before { 1.0 } else { -1.0 };
            }
            *side = last;
        }
    }
    // The first rows, before anything moved, came the way of those after them.
    let first = sides.iter().copied().find(|s| *s != 0.0).unwrap_or(0.0);
    for side in sides.iter_mut().take_while(|s| **s == 0.0) {
        *side = first;
    }
    let runs = || sides.chunk_by(|a, b| a == b);
    if runs().count() > MOST_RUNS || runs().any(|run| run.len() < FEWEST_IN_RUN) {
        sides.fill(0.0);
    }
    sides
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn order_tells_the_sides_of_runs_only() {
        assert_eq!(
            sides_by_order(&[0.0, 1.0, 2.0, 3.0, 2.0, 1.0, 0.0]),
            [1.0, 1.0, 1.0, 1.0, -1.0, -1.0, -1.0]
        );
        assert_eq!(sides_by_order(&[5.0, 5.0, 4.0, 4.0]), [-1.0; 4]);
        assert_eq!(sides_by_order(&[3.0, 1.0, 4.0, 1.5, 9.0, 2.0, 6.0]), [0.0; 7]);
        // Two rows down at the end are too few to be sure.
        assert_eq!(sides_by_order(&[0.0, 1.0, 2.0, 3.0, 2.0, 1.0]), [0.0; 6]);
    }

    #[test]
    fn chances_of_the_scatter_add_up_to_one() {
        for scatter in [
            Scatter::expected(1.0, 60.0, false),
            Scatter::expected(0.0, 60.0, false),
            Scatter::expected(0.001, 60.0, true),
        ] {
            let sum: f64 = scatter.0.iter().map(|node| exp(node.chance)).sum();
            assert!((sum - 1.0).abs() < 1e-12, "{sum}");
            assert!(scatter.0.is_sorted_by(|a, b| a.sd <= b.sd));
        }
    }

    /// Where the scatter is known, one that is far from it is not asked for; where none is near, all are.
    #[test]
    fn scatters_far_from_the_known_one_are_left_out() {
        let all = Scatter::expected(1.0, 60.0, false);
        let (count, middle) = (all.0.len(), all.0[all.0.len() / 2].sd);
        let near = all.near(middle);
        assert!(!near.0.is_empty() && near.0.len() < count);
        assert!(
            near.0
                .iter()
                .all(|node| (middle / NEAR..=middle * NEAR).contains(&node.sd))
        );
        assert_eq!(Scatter::expected(1.0, 60.0, false).near(1e9).0.len(), count);
    }

    /// One side tells nothing of lost motion, and neither does that of rows whose side is not known.
    #[test]
    fn sides_tell_something_only_where_both_are_there() {
        for (sides, both) in [
            ([1.0, 1.0, 1.0, 1.0], false),
            ([-1.0, 0.0, -1.0, 0.0], false),
            ([0.0; 4], false),
            ([1.0, -1.0, 0.0, 0.0], true),
        ] {
            let rows = sides.iter().enumerate().map(|(index, &side)| Row {
                drive: index as f64,
                measured: 2.0 * index as f64,
                side,
                weight: 1.0,
                noted: false,
                index,
            });
            let table = Table::new(rows.collect(), 0.0, false, false, None).unwrap();
            assert_eq!(table.both_sides, both, "{sides:?}");
        }
    }
}
