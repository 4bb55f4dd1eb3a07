//! The rows of a block under one shape and one scatter: the line through them, with none or one row left out, and what speaks for it.

use super::normal::LN_SQRT_2PI;
use super::shape::{Bend, K, SLOPE, Shape};
use super::table::{Node, Table};
use crate::fit::statistics::dense::{Matrix, PIVOT_ROUNDING, add_outer, backward, dot, factor, forward, solve};
use crate::math::ln;
use std::vec::Vec;

/// Share of a row in its own fitted value above which nothing checks it.
const UNCHECKED: f64 = 0.98;
/// What the row with the most leverage gains by its room, `-½·ln(1 - UNCHECKED)`, and some more for rounding.
const ROOM_GAIN: f64 = 1.96;
/// Drives nearer than this, in half spans, are one place.
const SAME_PLACE: f64 = 1e-9;

/// A row as one shape sees it.
pub(super) struct Line {
    pub(super) x: [f64; K],
    pub(super) y: f64,
    pub(super) w: f64,
    pub(super) ln_w: f64,
    pub(super) side: f64,
    pub(super) drive: f64,
    /// Drive without lost motion, that puts the rows in order.
    pub(super) place: f64,
    pub(super) noted: bool,
    /// Its row in the table.
    pub(super) row: usize,
}

/// Running sums over the rows of a shape.
#[derive(Clone, Copy)]
pub(super) struct Sums {
    pub(super) a: Matrix<K>,
    pub(super) b: [f64; K],
    pub(super) yy: f64,
    /// Sum of the logarithms of the weights.
    pub(super) ln_w: f64,
}

impl Sums {
    const ZERO: Self = Self {
        a: [[0.0; K]; K],
        b: [0.0; K],
        yy: 0.0,
        ln_w: 0.0,
    };

    pub(super) fn add(mut self, line: &Line, used: usize) -> Self {
        add_outer(&mut self.a, &line.x, line.w, used);
        for (cell, x) in self.b.iter_mut().zip(&line.x) {
            *cell += line.w * x * line.y;
        }
        self.yy += line.w * line.y * line.y;
        self.ln_w += line.ln_w;
        self
    }

    pub(super) fn less(&self, before: &Self) -> Self {
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
pub(super) struct Ordered<'a> {
    pub(super) table: &'a Table,
    pub(super) shape: Shape,
    pub(super) lines: Vec<Line>,
    pub(super) sums: Vec<Sums>,
    pub(super) cuts: Vec<usize>,
}

impl<'a> Ordered<'a> {
    pub(super) fn new(table: &'a Table, shape: Shape, ordering: f64) -> Self {
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

    pub(super) fn lines(&self, from: usize, to: usize) -> &[Line] {
        self.lines.get(from..to).unwrap_or(&[])
    }

    pub(super) fn sums(&self, from: usize, to: usize) -> Sums {
        match (self.sums.get(from), self.sums.get(to)) {
            (Some(before), Some(after)) => after.less(before),
            _ => Sums::ZERO,
        }
    }

    /// Whether a line can be laid through a block: enough rows and drives, and every column moves.
    pub(super) fn lays(&self, block: &[Line]) -> bool {
        let shape = &self.shape;
        let straight = shape.bend == Bend::None;
        if block.len() < shape.free() + usize::from(!straight) || block.iter().any(|line| line.noted) {
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
        // A bend shows at three drives.
        let fewest = if straight { 2 } else { 3 };
        if places < fewest || (shape.motion && [1.0, -1.0].iter().any(|s| block.iter().all(|line| line.side == *s))) {
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
pub(super) struct Solved {
    /// Factor of the matrix G of the normal equations.
    l: Matrix<K>,
    used: usize,
    pub(super) beta: [f64; K],
    /// Weighted squares about the fit and what is expected of it.
    pub(super) rest: f64,
    /// Logarithm of the determinant.
    pub(super) ln_det: f64,
}

impl Solved {
    /// `x · G⁻¹ x`.
    pub(super) fn lever(&self, x: &[f64; K]) -> f64 {
        let root = forward(&self.l, x, self.used);
        dot(&root, &root)
    }

    /// A coefficient's variance in squares of the scatter.
    pub(super) fn variance(&self, column: usize) -> f64 {
        let mut unit = [0.0; K];
        if let Some(cell) = unit.get_mut(column) {
            *cell = 1.0;
        }
        self.lever(&unit)
    }
}

pub(super) fn solved(sums: &Sums, shape: &Shape, sd: f64) -> Option<Solved> {
    let mut a = sums.a;
    for (i, (row, precision)) in a.iter_mut().zip(&shape.precision).enumerate() {
        if let Some(cell) = row.get_mut(i) {
            *cell += sd * sd * precision;
        }
    }
    let l = factor(&a, shape.used)?;
    let beta = solve(&l, &sums.b, shape.used);
    let ln_det = (0..shape.used)
        .map(|i| 2.0 * ln(l.get(i).and_then(|row| row.get(i)).copied().unwrap_or(1.0)))
        .sum();
    Some(Solved {
        rest: (sums.yy - dot(&beta, &sums.b)).max(PIVOT_ROUNDING * sums.yy),
        l,
        used: shape.used,
        beta,
        ln_det,
    })
}

/// A block's line under one scatter, with none or one of its rows left out.
pub(super) struct Deleted {
    pub(super) weight: f64,
    pub(super) beta: [f64; K],
    pub(super) misread: Option<usize>,
    /// `G⁻¹x` of the row left out, and one less its leverage.
    pub(super) step: [f64; K],
    pub(super) room: f64,
}

/// What leaving out a row of a block changes, by the formulas for leaving out one row; `row` is absent where none is left
/// out.
pub(super) struct Deletion {
    pub(super) row: Option<usize>,
    /// One less its leverage, and the logarithm of that.
    pub(super) room: f64,
    pub(super) ln_room: f64,
    /// What its square adds to the weighted sum of squares.
    pub(super) square: f64,
    /// `G⁻¹x`, and the weighted residual over the room.
    pub(super) step: [f64; K],
    pub(super) pull: f64,
    pub(super) w: f64,
    pub(super) ln_w: f64,
    /// Logarithm of the size of the slope, per half span of the drive.
    pub(super) ln_slope: f64,
}

impl Deletion {
    pub(super) fn none(solved: &Solved) -> Self {
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

    pub(super) fn sloping(mut self, solved: &Solved) -> Self {
        let at = |of: &[f64; K]| of.get(SLOPE).copied().unwrap_or(0.0);
        self.ln_slope = ln((at(&solved.beta) - at(&self.step) * self.pull).abs());
        self
    }

    pub(super) fn line(&self, solved: &Solved, weight: f64) -> Deleted {
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

/// What leaving out one row, or none, makes of a block.
pub(super) struct Deletions {
    /// Nothing left out, then each row whose leaving out may count.
    pub(super) all: Vec<Deletion>,
    /// The most that leaving out any row takes off the sum of squares, and the least logarithm of a row's weight.
    most: Option<(f64, f64)>,
}

/// A block with nothing left out, then with each of some rows left out, but for those that surely stay below the `least` weight.
pub(super) fn deletions(rows: &[Line], solved: &Solved, weigh: &Weigh, least: f64) -> Deletions {
    let mut all = std::vec![Deletion::none(solved)];
    let mut most: Option<(f64, f64)> = None;
    for line in rows.iter().filter(|line| !line.noted) {
        let residual = line.y - dot(&line.x, &solved.beta);
        let root = forward(&solved.l, &line.x, solved.used);
        let room = 1.0 - line.w * dot(&root, &root);
        let square = if room > 0.0 {
            line.w * residual * residual / room
        } else {
            f64::INFINITY
        };
        let (so_far, ln_w) = most.unwrap_or((0.0, f64::INFINITY));
        most = Some((so_far.max(square), ln_w.min(line.ln_w)));
        let checked = room >= 1.0 - UNCHECKED;
        if !checked || weigh.most(solved, square, line.ln_w) < least {
            continue;
        }
        let deletion = Deletion {
            row: Some(line.row),
            room,
            ln_room: ln(room),
            square,
            step: backward(&solved.l, &root, solved.used),
            pull: line.w * residual / room,
            w: line.w,
            ln_w: line.ln_w,
            ln_slope: 0.0,
        };
        all.push(deletion.sloping(solved));
    }
    Deletions { all, most }
}

/// The marginal likelihood of a block's line under one scatter, as far as the block does not change it.
pub(super) struct Weigh {
    pub(super) base: f64,
    /// Rows less columns about which nothing is expected.
    pub(super) count: f64,
    pub(super) ln_sd: f64,
    pub(super) sd: f64,
    /// Logarithm of the chance and density of a misreading.
    pub(super) slip: f64,
}

impl Weigh {
    pub(super) fn new(rows: usize, sums: &Sums, shape: &Shape, node: &Node, slip: f64) -> Self {
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
    pub(super) fn most(&self, solved: &Solved, square: f64, ln_w: f64) -> f64 {
        let rest = (solved.rest - square).max(0.0);
        self.base + self.slip
            - 0.5 * ln_w
            - (self.count - 1.0) * self.ln_sd
            - 0.5 * rest / (self.sd * self.sd)
            - 0.5 * solved.ln_det
            + ROOM_GAIN
    }

    /// Weights that a block surely does not pass, with nothing left out and with any one row, found from the same block under less
    /// scatter: with more of it a bend is held back more, and nothing fits better.
    pub(super) fn most_of_less(&self, solved: &Solved, deletions: &Deletions) -> [f64; 2] {
        let whole = self.base - self.count * self.ln_sd - 0.5 * solved.rest / (self.sd * self.sd) - 0.5 * solved.ln_det;
        let any = deletions.most.map(|(square, ln_w)| self.most(solved, square, ln_w));
        [whole, any.unwrap_or(f64::NEG_INFINITY)]
    }

    pub(super) fn of(&self, solved: &Solved, deletion: &Deletion) -> f64 {
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
