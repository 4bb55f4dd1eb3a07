//! Every split of a table into lower stop, line and upper stop, with none or one row of the line misread, for every shape
//! of the line and every scatter: what speaks for it, and where it puts the stops.

use super::gap::{Gap, Held, LN_CLEAR, Stop};
use super::line::{Deleted, Deletions, Line, Ordered, Solved, Weigh, deletions, solved};
use super::normal::{LN_SQRT_2PI, ln_add, ln_phi, phi};
use super::shape::{Bend, MEAN_MOTION, MOTION, SLOPE, ordering_motion, shapes};
use super::table::{Node, Table};
use crate::math::ln;
use std::vec::Vec;

/// What rounding may add to a sum that is a bound.
const SLACK: f64 = 1e-6;
/// Chance that a row is misread.
const MISREAD: f64 = 0.01;
/// Most places on a stop that come into question: with more readings on it, the fit places a stop by itself.
const MOST_ON_STOP: usize = 8;
/// Logarithm of the odds against the best hypothesis beyond which one is dropped.
const DROP: f64 = 12.0;
/// Slope, in spans of the values per span of the drive, below which nothing moves: values that are ten times as far off as
/// the joint goes leave it ten times this.
const LEAST_SLOPE: f64 = 0.01;
/// Least motion over the whole sweep, in sizes of a jump, of a line that jumps: a joint that hardly moves but for one jump is one that
/// moves between two stops.
const LEAST_BESIDE_JUMP: f64 = 0.5;
/// Standard uncertainties beyond which the lost motion's sign is sure.
const SURE_SIGN: f64 = 30.0;

/// One hypothesis that the values do not rule out.
pub(super) struct Hypothesis {
    /// Logarithm of its probability, up to what is common to all.
    pub(super) weight: f64,
    pub(super) bend: Bend,
    /// Lost motion in drive.
    pub(super) motion: f64,
    /// Standard deviation of a reading of unit weight, in drive.
    pub(super) sd: f64,
    /// The row of the table that it holds for misread.
    pub(super) misread: Option<usize>,
    /// Rows on the lower and on the upper stop.
    pub(super) on: [usize; 2],
    /// Both stops; empty where there is none.
    pub(super) stops: [Vec<Stop>; 2],
    /// Probability that its line rises.
    pub(super) rises: f64,
    /// There is lost motion in it.
    pub(super) moves: bool,
    /// How far the values jump, where they do.
    pub(super) jump: f64,
}

/// Logarithm of the chance and density of a misreading, anywhere within twice the span of the values.
pub(super) fn ln_misread(table: &Table) -> f64 {
    ln(MISREAD / (2.0 * table.span))
}

/// All that stays possible, unsorted.
pub(super) fn hypotheses(table: &Table) -> Vec<Hypothesis> {
    let mut search = Search::new(table);
    let all = ordered(table);
    // The likeliest without a misreading first: it sets the mark that all others have to reach.
    for ordered in &all {
        search.shape(ordered);
    }
    search.found.clear();
    search.drop = DROP;
    search.misreadings = table.misreadings;
    for ordered in &all {
        search.shape(ordered);
    }
    let least = search.best - DROP;
    search.found.retain(|h| h.weight >= least);
    search.found
}

/// The rows in the order of each shape.
fn ordered(table: &Table) -> Vec<Ordered<'_>> {
    let ordering = if table.both_sides { ordering_motion(table) } else { 0.0 };
    let of = |shape| Ordered::new(table, shape, ordering);
    shapes(table).into_iter().map(of).collect()
}

struct Search<'a> {
    table: &'a Table,
    /// Logarithm of the chance and density of a misreading.
    slip: f64,
    /// Logarithm of the least slope, per half span of the drive.
    ln_least_slope: f64,
    /// Logarithm of the odds against the best so far beyond which a hypothesis is dropped.
    drop: f64,
    misreadings: bool,
    best: f64,
    found: Vec<Hypothesis>,
}

impl<'a> Search<'a> {
    /// One that drops what is not the likeliest, and holds no row for misread.
    fn new(table: &'a Table) -> Self {
        Self {
            table,
            slip: ln_misread(table),
            ln_least_slope: ln(0.5 * LEAST_SLOPE * table.span),
            drop: 0.0,
            misreadings: false,
            best: f64::NEG_INFINITY,
            found: Vec::new(),
        }
    }

    fn shape(&mut self, ordered: &Ordered<'_>) {
        let blocks = ordered.cuts.len() - 1;
        let jump = matches!(ordered.shape.bend, Bend::Jump(_));
        // A jump with a plateau as well is more than a few rows can tell.
        let least = if ordered.shape.bend == Bend::None { 2 } else { 3 };
        let most = if jump { 1 } else { (blocks / 2).clamp(2, MOST_ON_STOP) }.min(blocks.saturating_sub(least));
        // Few rows on the stops first: they set the mark that the rest has to reach.
        for both in 0..=2 * most {
            for lower in both.saturating_sub(most)..=both.min(most) {
                let upper = both - lower;
                if lower + upper + least > blocks {
                    continue;
                }
                if let (Some(&from), Some(&to)) = (ordered.cuts.get(lower), ordered.cuts.get(blocks - upper)) {
                    self.block(ordered, from, to);
                }
            }
        }
    }

    fn block(&mut self, ordered: &Ordered<'_>, from: usize, to: usize) {
        let block = ordered.lines(from, to);
        if !ordered.lays(block) {
            return;
        }
        let shape = &ordered.shape;
        let sums = ordered.sums(from, to);
        let expects = shape.precision.iter().any(|p| *p > 0.0);
        let on = [(0, from), (to, ordered.lines.len())].map(|(a, b)| ordered.lines(a, b));
        let held = on.map(|rows| Held::of(rows, None));
        let slipped = self.slipped(on);
        let ln_pitch = ln(self.table.pitch / self.table.half);
        let mut last: Option<(Solved, Deletions)> = None;
        for node in &self.table.scatter.0 {
            let weigh = Weigh::new(block.len(), &sums, shape, node, self.slip);
            let most_of = |held: &[Held<'_>; 2], ln_slope: f64| -> f64 {
                held.iter()
                    .map(|held| held.most(weigh.ln_sd, ln_slope + ln_pitch))
                    .sum()
            };
            let most = |ln_slope: f64| most_of(&held, ln_slope);
            let least = self.best - self.drop - SLACK;
            if let (true, Some((solved, deletions))) = (expects, &last) {
                let ends = most(self.ln_least_slope);
                let slipped = slipped
                    .iter()
                    .map(|held| most_of(held, self.ln_least_slope) + self.slip);
                let [whole, any] = weigh.most_of_less(solved, deletions);
                if (whole + slipped.fold(ends, f64::max)).max(any + ends) < least {
                    continue;
                }
            }
            if expects || last.is_none() {
                last = solved(&sums, shape, node.sd).map(|solved| {
                    // A shape about which nothing is expected is solved once for every scatter.
                    let least = if expects {
                        self.best - self.drop - most(self.ln_least_slope)
                    } else {
                        f64::NEG_INFINITY
                    };
                    let rows = if self.misreadings { block } else { &[] };
                    let deletions = deletions(rows, &solved, &weigh, least);
                    (solved, deletions)
                });
            }
            let Some((solved, deletions)) = &last else { continue };
            for deletion in &deletions.all {
                let weight = weigh.of(solved, deletion);
                // Written so that NaN is none.
                if weight + most(deletion.ln_slope) >= self.best - self.drop - SLACK {
                    let line = deletion.line(solved, weight);
                    self.ends(ordered, (from, to), &held, node, solved, line);
                }
            }
            let Some(whole) = deletions.all.first() else { continue };
            let weight = weigh.of(solved, whole) + self.slip;
            for held in &slipped {
                if weight + most_of(held, whole.ln_slope) >= self.best - self.drop - SLACK {
                    let mut line = whole.line(solved, weight);
                    line.misread = held.iter().find_map(|held| held.misread);
                    self.ends(ordered, (from, to), held, node, solved, line);
                }
            }
        }
    }

    /// The rows on both stops with each of them misread that is not the only one on its stop: beyond the line it would be misread
    /// as well as a row of the line.
    fn slipped<'l>(&self, on: [&'l [Line]; 2]) -> Vec<[Held<'l>; 2]> {
        let [lower, upper] = on;
        let rows = on
            .into_iter()
            .filter(|rows| self.misreadings && rows.len() > 1)
            .flatten();
        rows.filter(|row| !row.noted)
            .map(|row| {
                let of = |rows: &'l [Line]| {
                    let here = rows.iter().any(|other| other.row == row.row);
                    Held::of(rows, here.then_some(row.row))
                };
                [of(lower), of(upper)]
            })
            .collect()
    }

    /// Puts the stops to a line, and keeps what comes of it.
    #[expect(clippy::neg_cmp_op_on_partial_ord, reason = "NaN is none as well")]
    fn ends(
        &mut self,
        ordered: &Ordered<'_>,
        (from, to): (usize, usize),
        held: &[Held<'_>; 2],
        node: &Node,
        solved: &Solved,
        line: Deleted,
    ) {
        let table = self.table;
        let sd = node.sd;
        let shape = &ordered.shape;
        let slope = line.beta.get(SLOPE).copied().unwrap_or(0.0) / table.half;
        let size = slope.abs();
        // Written so that NaN is none.
        if !(2.0 * table.half * size > LEAST_SLOPE * table.span) {
            return;
        }
        let jump = line.beta.get(shape.used - 1).copied().unwrap_or(0.0);
        if matches!(shape.bend, Bend::Jump(_)) && !(2.0 * table.half * size >= LEAST_BESIDE_JUMP * jump.abs()) {
            return;
        }
        let u_slope = (solved.variance(SLOPE).sqrt() * sd / table.half).max(f64::MIN_POSITIVE);
        let mut weight = line.weight;
        let mut motion = 0.0;
        if shape.motion {
            // Lost motion is never negative: exponential, and what lies below zero is cut off.
            let mean = MEAN_MOTION * 2.0 * table.half;
            let u = solved.variance(MOTION).sqrt() * sd / size;
            motion = line.beta.get(MOTION).copied().unwrap_or(0.0) / slope;
            let z = if u > 0.0 {
                (motion / u).clamp(-SURE_SIGN, SURE_SIGN)
            } else {
                0.0
            };
            weight += ln_phi(z) - ln(size) - ln(mean) - motion.max(0.0) / mean;
        }
        let mut stops = [Vec::new(), Vec::new()];
        let [_, above] = held;
        for ((upper, held), out) in [false, true].into_iter().zip(held).zip(&mut stops) {
            let (inner, outer) = if upper {
                (
                    inner_of(ordered.lines(from, to).iter().rev(), line.misread),
                    held.each().next(),
                )
            } else {
                (
                    inner_of(ordered.lines(from, to).iter(), line.misread),
                    held.each().next_back(),
                )
            };
            let (Some(inner), Some(outer)) = (inner, outer) else {
                weight += LN_CLEAR;
                continue;
            };
            let gap = Gap {
                ordered,
                inner,
                outer,
                held,
                size,
                motion,
            };
            let others = if upper {
                0.0
            } else {
                above.most(LN_SQRT_2PI + node.ln_sd, ln(size * table.pitch))
            };
            let Some(found) = gap.stops(&line, solved, node, self.best - self.drop - weight - others - SLACK) else {
                return;
            };
            *out = found;
            let all = out.iter().fold(f64::NEG_INFINITY, |sum, stop| ln_add(sum, stop.share));
            for stop in out.iter_mut() {
                stop.share -= all;
            }
            weight += all;
        }
        if !(weight >= self.best - self.drop) {
            return;
        }
        self.best = self.best.max(weight);
        self.found.push(Hypothesis {
            weight,
            bend: shape.bend,
            motion: motion.max(0.0),
            sd: sd / size,
            misread: line.misread,
            on: held.each_ref().map(|held| held.count),
            stops,
            rises: phi(slope / u_slope),
            moves: shape.motion,
            jump,
        });
    }
}

/// The outermost row of the line that is not misread.
fn inner_of<'a>(mut outwards: impl Iterator<Item = &'a Line>, misread: Option<usize>) -> Option<&'a Line> {
    outwards.find(|line| Some(line.row) != misread)
}

#[cfg(test)]
mod tests {
    use super::super::table::Row;
    use super::*;

    fn table(drive: &[f64], measured: &[f64], sides: impl Fn(usize) -> f64) -> Table {
        let rows = drive.iter().zip(measured).enumerate();
        let rows = rows.map(|(index, (&drive, &measured))| Row {
            drive,
            measured,
            side: sides(index),
            weight: 1.0,
            noted: false,
            index,
        });
        Table::new(rows.collect(), 0.5, false, false, None).unwrap()
    }

    /// Bounds save work: what they leave out is what a search without any bound leaves out in the end.
    #[test]
    fn bounds_leave_out_nothing_that_counts() {
        let drive = [10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0];
        // Invented: stops at 18 and 64; a slip at 40; readings up and down with lost motion.
        let stops = drive.map(|d: f64| (d.clamp(18.0, 64.0) * 2.0).round() / 2.0);
        let slip = drive.map(|d: f64| d.clamp(18.0, 94.0) + if d == 40.0 { 9.0 } else { 0.0 });
        let motion = drive.map(|d: f64| d - if d % 20.0 == 0.0 { 3.0 } else { 0.0 });
        for table in [
            table(&drive, &stops, |_| 0.0),
            table(&drive, &slip, |_| 0.0),
            table(&drive, &motion, |i| if i % 2 == 0 { 1.0 } else { -1.0 }),
        ] {
            let quick = hypotheses(&table);
            let mut all = Search {
                drop: f64::INFINITY,
                misreadings: table.misreadings,
                ..Search::new(&table)
            };
            for ordered in &ordered(&table) {
                all.shape(ordered);
            }
            let least = all.best - DROP;
            all.found.retain(|h| h.weight >= least);
            let told = |found: &[Hypothesis]| -> Vec<_> {
                found
                    .iter()
                    .map(|h| (h.weight, h.on, h.misread, h.motion, h.sd))
                    .collect()
            };
            assert!(quick.len() > 10);
            assert_eq!(told(&quick), told(&all.found));
        }
    }

    /// Reached from above and from below, rows come to the joint's places in another order than to the drive's.
    #[test]
    fn rows_are_in_the_order_of_their_places() {
        let drive = [10.0, 11.0, 12.0, 13.0, 14.0, 15.0];
        let table = table(&drive, &drive, |i| if i % 2 == 0 { 1.0 } else { -1.0 });
        for shape in shapes(&table) {
            let ordered = Ordered::new(&table, shape, 6.0);
            assert!(ordered.lines.is_sorted_by(|a, b| a.place <= b.place));
        }
    }
}
