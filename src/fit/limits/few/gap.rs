//! A stop and the rows that it holds: what speaks for it, and where in the gap before its first row it lies.

use super::line::{Deleted, Line, Ordered, Solved};
use super::normal::{LN_SQRT_2PI, ln_between};
use super::shape::{K, MOTION};
use super::table::Node;
use crate::fit::statistics::dense::{add_outer, dot};
use crate::math::ln;
use std::vec::Vec;

/// Chance that an end has no stop.
const CLEAR: f64 = 0.5;
/// Its logarithm, as a bound.
pub(super) const LN_CLEAR: f64 = -core::f64::consts::LN_2;
/// Each further place on a stop is half as likely as the one before it: people turn back.
const ONE_MORE: f64 = 0.5;
/// How far a stop yields, as a share of the commanded motion, with the chance of it.
const YIELDS: [(f64, f64); 4] = [(0.0, 0.6), (0.03, 0.14), (0.06, 0.14), (0.09, 0.12)];
/// Widest gap, in half spans, that has no slope of its own: what is left of it is rounding.
const LEAST_GAP: f64 = 1e-6;
/// Least slope in a gap, as a share of the mean slope, that the place of a stop is read with.
const LEAST_LOCAL: f64 = 0.05;

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

/// Rows that a stop holds; none where there is no stop.
pub(super) struct Held<'a> {
    pub(super) rows: &'a [Line],
    /// The one of them that is misread.
    pub(super) misread: Option<usize>,
    /// How many the others are, and their weights.
    pub(super) count: usize,
    pub(super) weights: f64,
    /// Logarithm of the chance of as many places, and what the weights of the rows add to the density.
    pub(super) places: f64,
    pub(super) ln_weights: f64,
}

impl<'a> Held<'a> {
    pub(super) fn of(rows: &'a [Line], misread: Option<usize>) -> Self {
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
    pub(super) fn each(&self) -> impl DoubleEndedIterator<Item = &'a Line> + Clone {
        let misread = self.misread;
        self.rows.iter().filter(move |row| Some(row.row) != misread)
    }

    /// The logarithm of the chance of a stop in a gap, `ln_pitch` being that of a step between places in measured values; no stop
    /// explains its rows better than that, which is without any misfit.
    pub(super) fn chance(&self, ln_sd: f64, ln_pitch: f64) -> f64 {
        self.places - (self.count as f64 - 1.0) * ln_sd + self.ln_weights - ln_pitch
    }

    /// The same, or the logarithm of the chance that there is no stop.
    pub(super) fn most(&self, ln_sd: f64, ln_pitch: f64) -> f64 {
        if self.rows.is_empty() {
            LN_CLEAR
        } else {
            self.chance(ln_sd, ln_pitch)
        }
    }
}

/// The gap in which a stop lies: between the outermost row that moves and the first that it holds.
pub(super) struct Gap<'a> {
    pub(super) ordered: &'a Ordered<'a>,
    pub(super) inner: &'a Line,
    pub(super) outer: &'a Line,
    pub(super) held: &'a Held<'a>,
    pub(super) size: f64,
    pub(super) motion: f64,
}

/// Rows on a stop, as sums from which a stop that yields follows: of their values, of the line there, and of half the lost motion.
struct Spread {
    mean: [f64; 3],
    /// Weighted products about the means.
    products: [[f64; 3]; 3],
}

impl Spread {
    fn of<'a>(rows: impl Iterator<Item = &'a Line> + Clone, line: &Deleted, weights: f64) -> Self {
        let lost = 0.5 * line.beta.get(MOTION).copied().unwrap_or(0.0);
        let parts = |on: &Line| [on.y, dot(&on.x, &line.beta), lost * on.side];
        let mut mean = [0.0; 3];
        for on in rows.clone() {
            for (sum, part) in mean.iter_mut().zip(parts(on)) {
                *sum += on.w * part / weights;
            }
        }
        let mut products = [[0.0; 3]; 3];
        for on in rows {
            let mut off = parts(on);
            off.iter_mut().zip(mean).for_each(|(part, mean)| *part -= mean);
            add_outer(&mut products, &off, on.w, 3);
        }
        Self { mean, products }
    }

    /// Mean of the rows, and the squares about it, where the stop yields a share of the motion beyond it. `shown`: the sensor shows
    /// lost motion on the stop as well.
    fn yielding(&self, give: f64, shown: bool) -> (f64, f64) {
        let stiff = 1.0 / (1.0 - give);
        let parts = [stiff, -give * stiff, f64::from(u8::from(shown)) * stiff];
        // Of the products only those of a part with itself and those before it are there.
        let squares = self.products.iter().zip(parts).enumerate().map(|(i, (row, part))| {
            let twice = |j: usize| if i == j { 1.0 } else { 2.0 };
            let with = row.iter().zip(parts).enumerate().take(i + 1);
            with.map(|(j, (product, other))| twice(j) * part * other * product)
                .sum::<f64>()
        });
        (dot(&self.mean, &parts), squares.sum::<f64>().max(0.0))
    }
}

impl Gap<'_> {
    /// The stops that a line leaves possible; `None` where all of them together surely weigh less than the `least`.
    #[expect(clippy::neg_cmp_op_on_partial_ord, reason = "NaN is none as well")]
    pub(super) fn stops(&self, line: &Deleted, solved: &Solved, node: &Node, least: f64) -> Option<Vec<Stop>> {
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
            let lever = solved.lever(x) + {
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
        let spread = Spread::of(on(), line, weights);
        for &(give, share) in yields {
            for &shown in shown {
                let (mean, squares) = spread.yielding(give, shown);
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
    pub(super) fn shared_rounding(&self, sd: f64) -> f64 {
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
