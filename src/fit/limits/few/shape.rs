//! Shapes of the line between the stops: straight, bent, with a jump; each with and without lost motion.

use super::table::{Row, Table};
use crate::fit::statistics::dense::{Matrix, add_outer, factor, solve};
use crate::math::{cos, ln, sin};
use std::vec::Vec;

/// Most columns: constant, slope, lost motion, three of a bend.
pub(super) const K: usize = 6;
/// The slope's column, per half span of the drive.
pub(super) const SLOPE: usize = 1;
/// The lost motion's column, where it is part of the shape.
pub(super) const MOTION: usize = 2;

/// Chance of lost motion where rows were reached from both sides.
const MOTION_CHANCE: f64 = 0.7;
/// Mean lost motion in spans of the drive, where there is any: 3 deg of an 80 deg sweep. It is never negative. The drive may be
/// in any unit, so that nothing here is in degrees.
pub(super) const MEAN_MOTION: f64 = 0.04;
/// Chance and size, in half the span of the values, of a mild and of a strong bend.
const MILD: (f64, f64) = (0.28, 0.04);
const STRONG: (f64, f64) = (0.06, 0.15);
/// Size of a bend's fourth power beside its second and third.
const QUARTIC: f64 = 0.5;
/// Half the angle, in radians, over which a joint that moves on a circle is seen in a straight measure (a ruler, a crank, a
/// string), each with its chance; and the spread of the tangent of where the middle of the sweep stands.
const ARCS: [(f64, f64); 4] = [(0.45, 0.06), (0.75, 0.06), (1.05, 0.06), (1.35, 0.06)];
const ARC_MIDDLE: f64 = 0.7;
/// Chance of a jump: a skipped tooth, a slipped horn.
const JUMP: f64 = 0.02;
/// Share of the drive about its middle where lost motion is first looked for: no stop is there.
const MIDDLE: f64 = 0.55;
/// Rows without which all are taken for the middle.
const FEWEST_MIDDLE: usize = 5;
/// Most lost motion, in spans of the drive, that the rows are put into order with.
const MOST_ORDERING: f64 = 0.12;

#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Bend {
    None,
    Mild,
    Strong,
    /// A part of a circle, as a ruler or a crank shows it: half the angle of the sweep, rad.
    Arc(f64),
    /// The values jump behind this drive and before the next.
    Jump(f64),
}

/// A shape with its chance.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shape {
    pub(super) bend: Bend,
    pub(super) motion: bool,
    /// The row that the table begins with was reached from the other side than the rows after it.
    pub(super) began_otherwise: bool,
    /// Logarithm of its chance before the values are looked at.
    pub(super) chance: f64,
    /// Columns in use.
    pub(super) used: usize,
    /// One over the variance that each column's coefficient is expected to have; 0: nothing is expected.
    pub(super) precision: [f64; K],
    /// Half the logarithm of the product of those.
    pub(super) ln_expected: f64,
}

impl Shape {
    fn new(bend: Bend, motion: bool, chance: f64, slope: f64) -> Self {
        let mut precision = [0.0; K];
        let straight = 2 + usize::from(motion);
        let (size, more) = match bend {
            Bend::None => (0.0, 0),
            Bend::Arc(_) => (ARC_MIDDLE, 1),
            Bend::Jump(_) => (0.0, 1),
            Bend::Mild => (MILD.1, 3),
            Bend::Strong => (STRONG.1, 3),
        };
        if size > 0.0 {
            let sd = (slope * size).max(f64::MIN_POSITIVE.sqrt());
            for (i, cell) in precision.iter_mut().skip(straight).take(more).enumerate() {
                let sd = if i == 2 { sd * QUARTIC } else { sd };
                *cell = 1.0 / (sd * sd);
            }
        }
        Self {
            bend,
            motion,
            began_otherwise: false,
            chance,
            used: straight + more,
            ln_expected: precision.iter().filter(|p| **p > 0.0).map(|p| 0.5 * ln(*p)).sum(),
            precision,
        }
    }

    /// Columns about which nothing is expected.
    pub(super) fn free(&self) -> usize {
        self.precision.iter().take(self.used).filter(|p| **p == 0.0).count()
    }

    /// A row of the design at a drive in half spans from the middle.
    pub(super) fn columns(&self, u: f64, drive: f64, side: f64) -> [f64; K] {
        let slope = match self.bend {
            Bend::Arc(half) => sin(half * u) / sin(half),
            _ => u,
        };
        let mut row = [1.0, slope, 0.0, 0.0, 0.0, 0.0];
        let mut more = row.iter_mut().skip(2);
        let mut push = |value: f64| {
            if let Some(cell) = more.next() {
                *cell = value;
            }
        };
        if self.motion {
            push(-0.5 * side);
        }
        match self.bend {
            Bend::None => {}
            Bend::Mild | Bend::Strong => {
                push(u * u - 1.0 / 3.0);
                push(u * u * u - 0.6 * u);
                push(u * u * u * u - 6.0 / 7.0 * u * u + 3.0 / 35.0);
            }
            Bend::Arc(half) => push((1.0 - cos(half * u)) / sin(half)),
            Bend::Jump(place) => push(f64::from(u8::from(drive > place))),
        }
        row
    }
}

/// Every shape that a table may have.
pub(super) fn shapes(table: &Table) -> Vec<Shape> {
    let slope = straight(table.rows.iter(), table, false).map_or(0.0, |[_, b, ..]| b.abs());
    let mut out = Vec::new();
    let began = [false, true]
        .into_iter()
        .take(1 + usize::from(table.beginning.is_some()));
    let with = began.map(|began_otherwise| (true, began_otherwise));
    let with = with.filter(|_| table.both_sides);
    for (motion, began_otherwise) in core::iter::once((false, false)).chain(with) {
        let moves = match (table.both_sides, motion) {
            (false, _) => 0.0,
            (true, false) => ln(1.0 - MOTION_CHANCE),
            (true, true) if table.beginning.is_some() => ln(0.5 * MOTION_CHANCE),
            (true, true) => ln(MOTION_CHANCE),
        };
        let mut push = |bend, chance: f64| {
            out.push(Shape {
                began_otherwise,
                ..Shape::new(bend, motion, moves + ln(chance), slope)
            });
        };
        let arcs: f64 = ARCS.iter().map(|(_, chance)| chance).sum();
        push(Bend::None, 1.0 - MILD.0 - STRONG.0 - JUMP - arcs);
        for (half, chance) in ARCS {
            push(Bend::Arc(half), chance);
        }
        push(Bend::Mild, MILD.0);
        push(Bend::Strong, STRONG.0);
        if motion == table.both_sides && table.places.len() > 3 {
            // Two places at least on either side; its size anywhere in twice the span of the values.
            let gaps = table.places.len() - 3;
            for place in table.places.iter().skip(1).take(gaps) {
                push(Bend::Jump(*place), JUMP / gaps as f64 / (2.0 * table.span));
            }
        }
    }
    out
}

/// Least squares of a straight shape.
fn straight<'a>(rows: impl Iterator<Item = &'a Row>, table: &Table, motion: bool) -> Option<[f64; K]> {
    let shape = Shape::new(Bend::None, motion, 0.0, 0.0);
    let mut a: Matrix<K> = [[0.0; K]; K];
    let mut b = [0.0; K];
    for row in rows {
        let x = shape.columns((row.drive - table.centre) / table.half, row.drive, row.side);
        add_outer(&mut a, &x, row.weight, shape.used);
        for (cell, value) in b.iter_mut().zip(&x) {
            *cell += row.weight * value * row.measured;
        }
    }
    Some(solve(&factor(&a, shape.used)?, &b, shape.used))
}

/// Lost motion in drive, from the middle of the table alone: only for the order of the rows near the stops.
pub(super) fn ordering_motion(table: &Table) -> f64 {
    let middle = |r: &&Row| (r.drive - table.centre).abs() <= MIDDLE * table.half;
    let found = if table.rows.iter().filter(middle).count() >= FEWEST_MIDDLE {
        straight(table.rows.iter().filter(middle), table, true)
    } else {
        straight(table.rows.iter(), table, true)
    };
    match found {
        Some([_, slope, motion, ..]) if slope != 0.0 => {
            let drive = motion / slope * table.half;
            // Written so that NaN is none.
            if drive > 0.0 {
                drive.min(MOST_ORDERING * 2.0 * table.half)
            } else {
                0.0
            }
        }
        _ => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What a bend says beside the straight line is told from it, and from each other: the columns are Legendre's polynomials
    /// (NIST Digital Library of Mathematical Functions, 18.3), square to each other over the drive's whole span.
    #[test]
    fn the_columns_of_a_bend_are_square_to_each_other() {
        let shape = Shape::new(Bend::Mild, false, 0.0, 1.0);
        let product = |i: usize, j: usize| -> f64 {
            let place = |k: u32| (f64::from(k) + 0.5) / 2000.0 - 1.0;
            let row = |k: u32| shape.columns(place(k), place(k), 1.0);
            (0..4000)
                .map(|k| row(k).get(i).unwrap() * row(k).get(j).unwrap() / 4000.0)
                .sum()
        };
        for i in 0..5 {
            for j in 0..i {
                assert!(product(i, j).abs() < 1e-6, "{i} {j}: {}", product(i, j));
            }
            assert!(product(i, i) > 1e-3);
        }
    }
}
