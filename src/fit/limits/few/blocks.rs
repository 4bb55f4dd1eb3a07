//! Every split of a table into lower stop, line and upper stop, with none or one row of the line misread, for every shape
//! of the line and every scatter: what speaks for it, and where it puts the stops.

use super::normal::{LN_SQRT_2PI, ln_add, ln_between, ln_phi, phi};
use super::shape::{Bend, K, MEAN_MOTION, MOTION, SLOPE, Shape, ordering_motion, shapes};
use super::table::{Node, Table};
use crate::fit::statistics::dense::{Matrix, PIVOT_ROUNDING, add_outer, dot, factor, inverse, quadratic};
use crate::math::ln;
use std::vec::Vec;

/// Chance that an end has no stop.
const CLEAR: f64 = 0.5;
/// Its logarithm, as a bound.
const LN_CLEAR: f64 = -core::f64::consts::LN_2;
/// What rounding may add to a sum that is a bound.
const SLACK: f64 = 1e-6;
/// Each further place on a stop is half as likely as the one before it: people turn back.
const ONE_MORE: f64 = 0.5;
/// Chance that a row is misread.
const MISREAD: f64 = 0.01;
/// How far a stop yields, as a share of the commanded motion, with the chance of it.
const YIELDS: [(f64, f64); 4] = [(0.0, 0.6), (0.03, 0.14), (0.06, 0.14), (0.09, 0.12)];
/// Most places on a stop that come into question: with more readings on it, the fit places a stop by itself.
const MOST_ON_STOP: usize = 8;
/// Logarithm of the odds against the best hypothesis beyond which one is dropped.
const DROP: f64 = 12.0;
/// Share of a row in its own fitted value above which nothing checks it.
const UNCHECKED: f64 = 0.98;
/// What the row with the most leverage gains by its room, `-½·ln(1 - UNCHECKED)`, and some more for rounding.
const ROOM_GAIN: f64 = 1.96;
/// Slope, in spans of the values per span of the drive, below which nothing moves: values that are ten times as far off as
/// the joint goes leave it ten times this.
const LEAST_SLOPE: f64 = 0.01;
/// Drives nearer than this, in half spans, are one place.
const SAME_PLACE: f64 = 1e-9;
/// Widest gap, in half spans, that has no slope of its own: what is left of it is rounding.
const LEAST_GAP: f64 = 1e-6;
/// Least slope in a gap, as a share of the mean slope, that the place of a stop is read with.
const LEAST_LOCAL: f64 = 0.05;
/// Standard uncertainties beyond which the lost motion's sign is sure.
const SURE_SIGN: f64 = 30.0;

/// A stop under one hypothesis: normal about `at`, cut to the gap before its first row.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stop {
    /// Logarithm of its share of the hypothesis.
    pub(super) share: f64,
    pub(super) at: f64,
    pub(super) u: f64,
    pub(super) low: f64,
    pub(super) high: f64,
}

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

/// A row as one shape sees it.
struct Line {
    x: [f64; K],
    y: f64,
    w: f64,
    ln_w: f64,
    side: f64,
    drive: f64,
    /// Drive without lost motion, that puts the rows in order.
    place: f64,
    noted: bool,
    /// Its row in the table.
    row: usize,
}

/// Running sums over the rows of a shape.
#[derive(Clone, Copy)]
struct Sums {
    a: Matrix<K>,
    b: [f64; K],
    yy: f64,
    /// Sum of the logarithms of the weights.
    ln_w: f64,
}

impl Sums {
    const ZERO: Self = Self {
        a: [[0.0; K]; K],
        b: [0.0; K],
        yy: 0.0,
        ln_w: 0.0,
    };

    fn add(mut self, line: &Line, used: usize) -> Self {
        add_outer(&mut self.a, &line.x, line.w, used);
        for (cell, x) in self.b.iter_mut().zip(&line.x) {
            *cell += line.w * x * line.y;
        }
        self.yy += line.w * line.y * line.y;
        self.ln_w += line.ln_w;
        self
    }

    fn less(&self, before: &Self) -> Self {
        let mut out = *self;
        for (row, other) in out.a.iter_mut().zip(&before.a) {
            for (cell, value) in row.iter_mut().zip(other) {
                *cell -= value;
            }
        }
        for (cell, value) in out.b.iter_mut().zip(&before.b) {
            *cell -= value;
        }
        out.yy -= before.yy;
        out.ln_w -= before.ln_w;
        out
    }
}

/// The rows in the order of one shape, with their running sums and the places where a block may begin or end.
struct Ordered<'a> {
    table: &'a Table,
    shape: Shape,
    lines: Vec<Line>,
    sums: Vec<Sums>,
    cuts: Vec<usize>,
}

impl<'a> Ordered<'a> {
    fn new(table: &'a Table, shape: Shape, ordering: f64) -> Self {
        let shift = if shape.motion { 0.5 * ordering } else { 0.0 };
        let mut lines: Vec<Line> = table
            .rows
            .iter()
            .enumerate()
            .map(|(row, r)| {
                let other = shape.began_otherwise && table.beginning == Some(r.index);
                let side = if other { -r.side } else { r.side };
                Line {
                    x: shape.columns((r.drive - table.centre) / table.half, r.drive, side),
                    y: r.measured,
                    w: r.weight,
                    ln_w: ln(r.weight),
                    side,
                    drive: r.drive,
                    place: r.drive - side * shift,
                    noted: r.noted,
                    row,
                }
            })
            .collect();
        lines.sort_by(|a, b| a.place.total_cmp(&b.place).then(a.row.cmp(&b.row)));
        let mut sum = Sums::ZERO;
        let mut sums = std::vec![sum];
        let mut cuts = std::vec![0];
        let mut last = f64::NAN;
        for (i, line) in lines.iter().enumerate() {
            if i > 0 && line.place - last > SAME_PLACE * table.half {
                cuts.push(i);
            }
            last = line.place;
            sum = sum.add(line, shape.used);
            sums.push(sum);
        }
        cuts.push(lines.len());
        Self {
            table,
            shape,
            lines,
            sums,
            cuts,
        }
    }

    fn lines(&self, from: usize, to: usize) -> &[Line] {
        self.lines.get(from..to).unwrap_or(&[])
    }

    fn sums(&self, from: usize, to: usize) -> Sums {
        match (self.sums.get(from), self.sums.get(to)) {
            (Some(before), Some(after)) => after.less(before),
            _ => Sums::ZERO,
        }
    }

    /// Whether a line can be laid through a block: enough rows and drives, and every column moves.
    fn lays(&self, block: &[Line]) -> bool {
        let shape = &self.shape;
        if block.len() <= shape.free() || block.iter().any(|line| line.noted) {
            return false;
        }
        let mut places = 0;
        let mut last = f64::NAN;
        let mut drives: Vec<f64> = block.iter().map(|line| line.drive).collect();
        drives.sort_by(f64::total_cmp);
        for drive in drives {
            if drive != last {
                places += 1;
                last = drive;
            }
        }
        if places < 3 || (shape.motion && [1.0, -1.0].iter().any(|s| block.iter().all(|line| line.side == *s))) {
            return false;
        }
        match shape.bend {
            Bend::Jump(place) => {
                block.iter().any(|line| line.drive > place) && block.iter().any(|line| line.drive <= place)
            }
            _ => true,
        }
    }
}

/// The part of a block that one scatter does not change, or that it does where a bend is expected.
struct Solved {
    inverse: Matrix<K>,
    beta: [f64; K],
    /// Weighted squares about the fit and what is expected of it.
    rest: f64,
    /// Logarithm of the determinant.
    ln_det: f64,
}

fn solved(sums: &Sums, shape: &Shape, sd: f64) -> Option<Solved> {
    let mut a = sums.a;
    for (i, (row, precision)) in a.iter_mut().zip(&shape.precision).enumerate() {
        if let Some(cell) = row.get_mut(i) {
            *cell += sd * sd * precision;
        }
    }
    let l = factor(&a, shape.used)?;
    let inverse = inverse(&l, shape.used);
    let mut beta = [0.0; K];
    for (cell, row) in beta.iter_mut().zip(&inverse) {
        *cell = dot(row, &sums.b);
    }
    let ln_det = (0..shape.used)
        .map(|i| 2.0 * ln(l.get(i).and_then(|row| row.get(i)).copied().unwrap_or(1.0)))
        .sum();
    Some(Solved {
        rest: (sums.yy - dot(&beta, &sums.b)).max(PIVOT_ROUNDING * sums.yy),
        inverse,
        beta,
        ln_det,
    })
}

/// A block's line under one scatter, with none or one of its rows left out.
struct Deleted {
    weight: f64,
    beta: [f64; K],
    misread: Option<usize>,
    /// `G⁻¹x` of the row left out, and one less its leverage.
    step: [f64; K],
    room: f64,
}

/// All that stays possible, unsorted.
pub(super) fn hypotheses(table: &Table) -> Vec<Hypothesis> {
    let mut search = Search {
        table,
        slip: ln(MISREAD / (2.0 * table.span)),
        ln_least_slope: ln(0.5 * LEAST_SLOPE * table.span),
        drop: 0.0,
        misreadings: false,
        best: f64::NEG_INFINITY,
        found: Vec::new(),
    };
    let ordering = if table.both_sides { ordering_motion(table) } else { 0.0 };
    let all: Vec<Ordered<'_>> = shapes(table)
        .into_iter()
        .map(|shape| Ordered::new(table, shape, ordering))
        .collect();
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

impl Search<'_> {
    fn shape(&mut self, ordered: &Ordered<'_>) {
        let blocks = ordered.cuts.len() - 1;
        let jump = matches!(ordered.shape.bend, Bend::Jump(_));
        // A jump with a plateau as well is more than a few rows can tell.
        let most = if jump { 1 } else { (blocks / 2).clamp(2, MOST_ON_STOP) }.min(blocks.saturating_sub(3));
        // Few rows on the stops first: they set the mark that the rest has to reach.
        for both in 0..=2 * most {
            for lower in both.saturating_sub(most)..=both.min(most) {
                let upper = both - lower;
                if lower + upper + 3 > blocks {
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
        let mut last: Option<(Solved, Vec<Deletion>)> = None;
        for node in &self.table.scatter.0 {
            let weigh = Weigh::new(block.len(), &sums, shape, node, self.slip);
            let most_of = |held: &[Held<'_>; 2], ln_slope: f64| -> f64 {
                held.iter()
                    .map(|held| held.most(weigh.ln_sd, ln_slope + ln_pitch))
                    .sum()
            };
            let most = |ln_slope: f64| most_of(&held, ln_slope);
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
            for deletion in deletions {
                let weight = weigh.of(solved, deletion);
                // Written so that NaN is none.
                if weight + most(deletion.ln_slope) >= self.best - self.drop - SLACK {
                    let line = deletion.line(solved, weight);
                    self.ends(ordered, (from, to), &held, node, solved, line);
                }
            }
            let Some(whole) = deletions.first() else { continue };
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
    fn slipped<'a>(&self, on: [&'a [Line]; 2]) -> Vec<[Held<'a>; 2]> {
        let [lower, upper] = on;
        let rows = on
            .into_iter()
            .filter(|rows| self.misreadings && rows.len() > 1)
            .flatten();
        rows.filter(|row| !row.noted)
            .map(|row| {
                let of = |rows: &'a [Line]| {
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
        let variance = |column: usize| {
            let variance = solved.inverse.get(column).and_then(|row| row.get(column));
            variance.copied().unwrap_or(0.0).max(0.0)
        };
        let u_slope = (variance(SLOPE).sqrt() * sd / table.half).max(f64::MIN_POSITIVE);
        let mut weight = line.weight;
        let mut motion = 0.0;
        if shape.motion {
            // Lost motion is never negative: exponential, and what lies below zero is cut off.
            let mean = MEAN_MOTION * 2.0 * table.half;
            let u = variance(MOTION).sqrt() * sd / size;
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
                weight += ln(CLEAR);
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
            jump: line.beta.get(shape.used - 1).copied().unwrap_or(0.0),
        });
    }
}

/// The outermost row of the line that is not misread.
fn inner_of<'a>(mut outwards: impl Iterator<Item = &'a Line>, misread: Option<usize>) -> Option<&'a Line> {
    outwards.find(|line| Some(line.row) != misread)
}

/// What leaving out a row of a block changes, by the formulas for leaving out one row; `row` is absent where none is left
/// out.
struct Deletion {
    row: Option<usize>,
    /// One less its leverage, and the logarithm of that.
    room: f64,
    ln_room: f64,
    /// What its square adds to the weighted sum of squares.
    square: f64,
    /// `G⁻¹x`, and the weighted residual over the room.
    step: [f64; K],
    pull: f64,
    w: f64,
    ln_w: f64,
    /// Logarithm of the size of the slope, per half span of the drive.
    ln_slope: f64,
}

impl Deletion {
    fn none(solved: &Solved) -> Self {
        Self {
            row: None,
            room: 1.0,
            ln_room: 0.0,
            square: 0.0,
            step: [0.0; K],
            pull: 0.0,
            w: 1.0,
            ln_w: 0.0,
            ln_slope: 0.0,
        }
        .sloping(solved)
    }

    fn sloping(mut self, solved: &Solved) -> Self {
        let at = |of: &[f64; K]| of.get(SLOPE).copied().unwrap_or(0.0);
        self.ln_slope = ln((at(&solved.beta) - at(&self.step) * self.pull).abs());
        self
    }

    fn line(&self, solved: &Solved, weight: f64) -> Deleted {
        let mut beta = solved.beta;
        for (cell, step) in beta.iter_mut().zip(&self.step) {
            *cell -= step * self.pull;
        }
        Deleted {
            weight,
            beta,
            misread: self.row,
            step: self.step.map(|value| value * self.w.sqrt()),
            room: self.room,
        }
    }
}

/// A block with nothing left out, then with each of some rows left out, but for those that surely stay below the `least` weight.
fn deletions(rows: &[Line], solved: &Solved, weigh: &Weigh, least: f64) -> Vec<Deletion> {
    let mut out = std::vec![Deletion::none(solved)];
    out.extend(rows.iter().filter(|line| !line.noted).filter_map(|line| {
        let residual = line.y - dot(&line.x, &solved.beta);
        let square = line.w * residual * residual;
        if weigh.most(solved, square / (1.0 - UNCHECKED), line.ln_w) < least {
            return None;
        }
        let mut step = [0.0; K];
        for (cell, row) in step.iter_mut().zip(&solved.inverse) {
            *cell = dot(row, &line.x);
        }
        let room = 1.0 - line.w * dot(&step, &line.x);
        let checked = room >= 1.0 - UNCHECKED;
        if !checked || weigh.most(solved, square / room, line.ln_w) < least {
            return None;
        }
        let deletion = Deletion {
            row: Some(line.row),
            room,
            ln_room: ln(room),
            square: square / room,
            step,
            pull: line.w * residual / room,
            w: line.w,
            ln_w: line.ln_w,
            ln_slope: 0.0,
        };
        Some(deletion.sloping(solved))
    }));
    out
}

/// The marginal likelihood of a block's line under one scatter, as far as the block does not change it.
struct Weigh {
    base: f64,
    /// Rows less columns about which nothing is expected.
    count: f64,
    ln_sd: f64,
    sd: f64,
    /// Logarithm of the chance and density of a misreading.
    slip: f64,
}

impl Weigh {
    fn new(rows: usize, sums: &Sums, shape: &Shape, node: &Node, slip: f64) -> Self {
        let (free, used) = (shape.free() as f64, shape.used as f64);
        Self {
            base: shape.chance + node.chance + shape.ln_expected + (used - free) * node.ln_sd + 0.5 * sums.ln_w,
            count: rows as f64 - free,
            ln_sd: LN_SQRT_2PI + node.ln_sd,
            sd: node.sd,
            slip,
        }
    }

    /// A weight that leaving out a row of this logarithm of its weight surely does not pass, where that takes no more than `square`
    /// off the sum of squares.
    fn most(&self, solved: &Solved, square: f64, ln_w: f64) -> f64 {
        let rest = (solved.rest - square).max(0.0);
        self.base + self.slip
            - 0.5 * ln_w
            - (self.count - 1.0) * self.ln_sd
            - 0.5 * rest / (self.sd * self.sd)
            - 0.5 * solved.ln_det
            + ROOM_GAIN
    }

    fn of(&self, solved: &Solved, deletion: &Deletion) -> f64 {
        let (count, slip) = match deletion.row {
            None => (self.count, 0.0),
            Some(_) => (self.count - 1.0, self.slip - 0.5 * deletion.ln_w),
        };
        if count <= 0.0 {
            return f64::NEG_INFINITY;
        }
        let rest = (solved.rest - deletion.square).max(0.0);
        self.base + slip
            - count * self.ln_sd
            - 0.5 * rest / (self.sd * self.sd)
            - 0.5 * (solved.ln_det + deletion.ln_room)
    }
}

/// Rows that a stop holds; none where there is no stop.
struct Held<'a> {
    rows: &'a [Line],
    /// The one of them that is misread.
    misread: Option<usize>,
    /// How many the others are, and their weights.
    count: usize,
    weights: f64,
    /// Logarithm of the chance of as many places, and what the weights of the rows add to the density.
    places: f64,
    ln_weights: f64,
}

impl<'a> Held<'a> {
    fn of(rows: &'a [Line], misread: Option<usize>) -> Self {
        let mut held = Self {
            rows,
            misread,
            count: 0,
            weights: 0.0,
            places: 0.0,
            ln_weights: 0.0,
        };
        held.count = held.each().count();
        held.weights = held.each().map(|row| row.w).sum();
        let ln_w: f64 = held.each().map(|row| row.ln_w).sum();
        let mut places = 0;
        let mut last = f64::NAN;
        for row in held.each() {
            if row.drive != last {
                places += 1;
                last = row.drive;
            }
        }
        held.places = ln((1.0 - CLEAR) * (1.0 - ONE_MORE)) + f64::from(places - 1) * ln(ONE_MORE);
        held.ln_weights = 0.5 * (ln_w - ln(held.weights));
        held
    }

    /// The rows that are not misread.
    fn each(&self) -> impl DoubleEndedIterator<Item = &'a Line> {
        let misread = self.misread;
        self.rows.iter().filter(move |row| Some(row.row) != misread)
    }

    /// The logarithm of the chance of a stop in a gap, `ln_pitch` being that of a step between places in measured values; no stop
    /// explains its rows better than that, which is without any misfit.
    fn chance(&self, ln_sd: f64, ln_pitch: f64) -> f64 {
        self.places - (self.count as f64 - 1.0) * ln_sd + self.ln_weights - ln_pitch
    }

    /// The same, or the logarithm of the chance that there is no stop.
    fn most(&self, ln_sd: f64, ln_pitch: f64) -> f64 {
        if self.rows.is_empty() {
            LN_CLEAR
        } else {
            self.chance(ln_sd, ln_pitch)
        }
    }
}

/// The gap in which a stop lies: between the outermost row that moves and the first that it holds.
struct Gap<'a> {
    ordered: &'a Ordered<'a>,
    inner: &'a Line,
    outer: &'a Line,
    held: &'a Held<'a>,
    size: f64,
    motion: f64,
}

impl Gap<'_> {
    /// The stops that a line leaves possible; `None` where all of them together surely weigh less than the `least`.
    #[expect(clippy::neg_cmp_op_on_partial_ord, reason = "NaN is none as well")]
    fn stops(&self, line: &Deleted, solved: &Solved, node: &Node, least: f64) -> Option<Vec<Stop>> {
        let table = self.ordered.table;
        let sd = node.sd;
        let (on, weights) = (|| self.held.each(), self.held.weights);
        let chance = self.held.chance(LN_SQRT_2PI + node.ln_sd, ln(self.size * table.pitch));
        if chance < least {
            return None;
        }
        let (at_inner, at_outer) = (dot(&self.inner.x, &line.beta), dot(&self.outer.x, &line.beta));
        let shared = self.shared_rounding(sd);
        let tau = |x: &[f64; K]| {
            let lever = quadratic(&solved.inverse, x) + {
                let along = dot(&line.step, x);
                if line.misread.is_some() {
                    along * along / line.room
                } else {
                    0.0
                }
            };
            (sd * sd * (1.0 / weights + lever.max(0.0)) + shared).sqrt()
        };
        let (tau_inner, tau_outer) = (tau(&self.inner.x), tau(&self.outer.x));
        let drive = |line: &Line| line.drive - 0.5 * line.side * self.motion;
        let (inner, outer) = (drive(self.inner), drive(self.outer));
        // A bent line is met at the slope that it has there.
        let gap = (outer - inner).abs();
        let local = if gap > LEAST_GAP * table.half {
            ((at_outer - at_inner).abs() / gap).max(LEAST_LOCAL * self.size)
        } else {
            self.size
        };
        let several = self.held.count > 1;
        let yields = if several { YIELDS.as_slice() } else { &[(0.0, 1.0)] };
        let shown = if several && self.ordered.shape.motion {
            [false, true].as_slice()
        } else {
            &[false]
        };
        let ways = ln(1.0 / shown.len() as f64);
        let mut out = Vec::with_capacity(yields.len() * shown.len());
        let mut within = Vec::with_capacity(out.capacity());
        let mut most = f64::NEG_INFINITY;
        for &(give, share) in yields {
            for &shown in shown {
                let value = |on: &Line| {
                    let lost = line.beta.get(MOTION).copied().unwrap_or(0.0) * 0.5 * on.side;
                    let y = if shown { on.y + lost } else { on.y };
                    (y - give * dot(&on.x, &line.beta)) / (1.0 - give)
                };
                let mean = on().map(|on| on.w * value(on)).sum::<f64>() / weights;
                let squares: f64 = on().map(|on| on.w * (value(on) - mean) * (value(on) - mean)).sum();
                let ends = if at_inner > at_outer {
                    ((at_outer - mean) / tau_outer, (at_inner - mean) / tau_inner)
                } else {
                    ((at_inner - mean) / tau_inner, (at_outer - mean) / tau_outer)
                };
                if !(ends.0 < ends.1) {
                    continue;
                }
                let t = (mean - at_outer) / (at_inner - at_outer);
                let inside = t.clamp(0.0, 1.0);
                let share = chance + ln(share) + ways - 0.5 * squares / (sd * sd);
                // The probability beyond z is less than exp(-z²/2).
                let beyond = ends.0.max(-ends.1).max(0.0);
                most = most.max(share - 0.5 * beyond * beyond);
                within.push(ends);
                out.push(Stop {
                    share,
                    at: outer + t * (inner - outer),
                    u: (inside * tau_inner + (1.0 - inside) * tau_outer) / local,
                    low: inner.min(outer),
                    high: inner.max(outer),
                });
            }
        }
        if most + ln(out.len() as f64) < least {
            return None;
        }
        for (stop, (low, high)) in out.iter_mut().zip(within) {
            stop.share += ln_between(low, high);
        }
        Some(out)
    }

    /// Variance that the rows on a stop have in common: equal values were rounded the same way, and their mean with them.
    fn shared_rounding(&self, sd: f64) -> f64 {
        let step = self.ordered.table.step;
        let m = self.held.count as f64;
        let first = self.held.each().next().map(|on| on.y);
        let alike = self.held.each().all(|on| Some(on.y) == first);
        if m > 1.0 && alike {
            (step * step / 12.0).min(sd * sd) * (1.0 - 1.0 / m)
        } else {
            0.0
        }
    }
}
