//! Every split of a table into lower stop, line and upper stop, with none or one row of the line misread, for every shape
//! of the line and every scatter: what speaks for it, and where it puts the stops.

use super::normal::{LN_SQRT_2PI, ln_add, ln_between, ln_phi, phi};
use super::shape::{Bend, K, MEAN_MOTION, MOTION, SLOPE, Shape, ordering_motion, shapes};
use super::table::Table;
use crate::fit::statistics::dense::{Matrix, PIVOT_ROUNDING, add_outer, dot, factor, inverse, quadratic};
use crate::math::ln;
use std::vec::Vec;

/// Chance that an end has no stop.
const CLEAR: f64 = 0.5;
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
        self.ln_w += ln(line.w);
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
        let on = [(0, from), (to, ordered.lines.len())];
        let on = on.into_iter().filter(|(a, b)| b > a);
        // No stop explains its rows better than without any misfit, somewhere in its gap.
        let (mut count, mut ln_w, mut stops) = (0.0, 0.0, 0.0);
        for (a, b) in on {
            count += (b - a) as f64 - 1.0;
            ln_w += 0.5 * ordered.sums(a, b).ln_w;
            stops += 1.0;
        }
        let ln_pitch = ln(self.table.pitch / self.table.half);
        let mut last: Option<(Solved, Vec<Deletion>)> = None;
        for (&sd, &chance) in self.table.scatter.sd.iter().zip(&self.table.scatter.chance) {
            if expects || last.is_none() {
                last = solved(&sums, shape, sd).map(|solved| {
                    let deletions = deletions(block, &solved, self.misreadings);
                    (solved, deletions)
                });
            }
            let Some((solved, deletions)) = &last else { continue };
            let weigh = Weigh::new(block.len(), &sums, shape, sd, chance, self.table.span);
            let ln_sd = LN_SQRT_2PI + ln(sd);
            for deletion in deletions {
                let most = ln_w - count * ln_sd - stops * (deletion.ln_slope + ln_pitch);
                let weight = weigh.of(solved, deletion);
                // Written so that NaN is none.
                if weight + most >= self.best - self.drop {
                    self.ends(ordered, (from, to), sd, solved, deletion.line(solved, weight));
                }
            }
        }
    }

    /// Puts the stops to a line, and keeps what comes of it.
    #[expect(clippy::neg_cmp_op_on_partial_ord, reason = "NaN is none as well")]
    fn ends(&mut self, ordered: &Ordered<'_>, (from, to): (usize, usize), sd: f64, solved: &Solved, line: Deleted) {
        let table = self.table;
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
        for (upper, out) in [false, true].into_iter().zip(&mut stops) {
            let (on, inner, outer) = if upper {
                (
                    to..ordered.lines.len(),
                    inner_of(ordered.lines(from, to).iter().rev(), line.misread),
                    ordered.lines.get(to),
                )
            } else {
                (
                    0..from,
                    inner_of(ordered.lines(from, to).iter(), line.misread),
                    from.checked_sub(1).and_then(|i| ordered.lines.get(i)),
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
                on: ordered.lines(on.start, on.end),
                size,
                motion,
            };
            *out = gap.stops(&line, solved, sd);
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
            on: [from, ordered.lines.len() - to],
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

/// A block with nothing left out, then with each of its rows left out.
fn deletions(block: &[Line], solved: &Solved, misreadings: bool) -> Vec<Deletion> {
    let mut out = std::vec![Deletion::none(solved)];
    out.extend(
        block
            .iter()
            .filter(|line| misreadings && !line.noted)
            .filter_map(|line| {
                let mut step = [0.0; K];
                for (cell, row) in step.iter_mut().zip(&solved.inverse) {
                    *cell = dot(row, &line.x);
                }
                let room = 1.0 - line.w * dot(&step, &line.x);
                let residual = line.y - dot(&line.x, &solved.beta);
                (room >= 1.0 - UNCHECKED).then(|| {
                    Deletion {
                        row: Some(line.row),
                        room,
                        ln_room: ln(room),
                        square: line.w * residual * residual / room,
                        step,
                        pull: line.w * residual / room,
                        w: line.w,
                        ln_w: ln(line.w),
                        ln_slope: 0.0,
                    }
                    .sloping(solved)
                })
            }),
    );
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
    fn new(rows: usize, sums: &Sums, shape: &Shape, sd: f64, chance: f64, span: f64) -> Self {
        let (free, used) = (shape.free() as f64, shape.used as f64);
        let expected = shape.precision.iter().filter(|p| **p > 0.0).map(|p| 0.5 * ln(*p));
        Self {
            base: shape.chance + chance + expected.sum::<f64>() + (used - free) * ln(sd) + 0.5 * sums.ln_w,
            count: rows as f64 - free,
            ln_sd: LN_SQRT_2PI + ln(sd),
            sd,
            slip: ln(MISREAD / (2.0 * span)),
        }
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

/// The gap in which a stop lies: between the outermost row that moves and the first that it holds.
struct Gap<'a> {
    ordered: &'a Ordered<'a>,
    inner: &'a Line,
    outer: &'a Line,
    on: &'a [Line],
    size: f64,
    motion: f64,
}

impl Gap<'_> {
    #[expect(clippy::neg_cmp_op_on_partial_ord, reason = "NaN is none as well")]
    fn stops(&self, line: &Deleted, solved: &Solved, sd: f64) -> Vec<Stop> {
        let table = self.ordered.table;
        let m = self.on.len() as f64;
        let weights: f64 = self.on.iter().map(|on| on.w).sum();
        let ln_w: f64 = self.on.iter().map(|on| ln(on.w)).sum();
        let mut places = 0;
        let mut last = f64::NAN;
        for on in self.on {
            if on.drive != last {
                places += 1;
                last = on.drive;
            }
        }
        let chance = ln((1.0 - CLEAR) * (1.0 - ONE_MORE)) + f64::from(places - 1) * ln(ONE_MORE)
            - (m - 1.0) * (LN_SQRT_2PI + ln(sd))
            + 0.5 * (ln_w - ln(weights))
            - ln(self.size * table.pitch);
        let (at_inner, at_outer) = (dot(&self.inner.x, &line.beta), dot(&self.outer.x, &line.beta));
        let shared = self.shared_rounding(sd, m);
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
        let several = self.on.len() > 1;
        let yields = if several { YIELDS.as_slice() } else { &[(0.0, 1.0)] };
        let shown = if several && self.ordered.shape.motion {
            [false, true].as_slice()
        } else {
            &[false]
        };
        let ways = ln(1.0 / shown.len() as f64);
        let mut out = Vec::with_capacity(yields.len() * shown.len());
        for &(give, share) in yields {
            for &shown in shown {
                let value = |on: &Line| {
                    let lost = line.beta.get(MOTION).copied().unwrap_or(0.0) * 0.5 * on.side;
                    let y = if shown { on.y + lost } else { on.y };
                    (y - give * dot(&on.x, &line.beta)) / (1.0 - give)
                };
                let mean = self.on.iter().map(|on| on.w * value(on)).sum::<f64>() / weights;
                let squares: f64 = self
                    .on
                    .iter()
                    .map(|on| on.w * (value(on) - mean) * (value(on) - mean))
                    .sum();
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
                out.push(Stop {
                    share: chance + ln(share) + ways - 0.5 * squares / (sd * sd) + ln_between(ends.0, ends.1),
                    at: outer + t * (inner - outer),
                    u: (inside * tau_inner + (1.0 - inside) * tau_outer) / local,
                    low: inner.min(outer),
                    high: inner.max(outer),
                });
            }
        }
        out
    }

    /// Variance that the rows on a stop have in common: equal values were rounded the same way, and their mean with them.
    fn shared_rounding(&self, sd: f64, m: f64) -> f64 {
        let step = self.ordered.table.step;
        let alike = self.on.windows(2).all(|pair| matches!(pair, [a, b] if a.y == b.y));
        if m > 1.0 && alike {
            (step * step / 12.0).min(sd * sd) * (1.0 - 1.0 / m)
        } else {
            0.0
        }
    }
}
