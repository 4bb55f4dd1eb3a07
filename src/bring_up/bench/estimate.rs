//! What the readings so far come to: how far it is proven clear, where a stop is, how well it is known.

use super::model::{self, Knot, Model, Point, Row};
use super::run::Run;
use crate::bring_up::Side;
use crate::fit::statistics::dense::{Matrix, add_outer, factor, inverse, quadratic, solve};
use std::vec::Vec;

/// A place is proven clear when a stop further in is excluded by so many standard deviations.
pub(super) const PROOF: f64 = 3.3;
/// A contact is called when it is likelier than none by so many standard deviations.
pub(super) const CALL: f64 = 4.5;
/// The largest give of a stop that the proof allows for, as a part of the way that the drive goes beyond it.
pub(super) const GIVE: f64 = 0.1;
/// Standard deviation of an even distribution, in its width: 1/sqrt(12) (JCGM 100, 4.3.7).
const PER_WIDTH: f64 = 0.288_675_134_594_812_9;

/// How an end stands. Drive angles in deg.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Standing {
    /// No stop lies further in than this.
    pub(super) proven: f64,
    /// By how many standard deviations a contact is likelier than none.
    pub(super) short: f64,
    /// Least sum of squares.
    pub(super) rss: f64,
    /// Variance of a reading about the model.
    pub(super) variance: f64,
}

/// A stop as met in the direction driven. Drive angles in deg.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Knee {
    /// Its place.
    pub(super) at: f64,
    /// Its standard deviation by the likelihood of each place, what a stop gives included.
    pub(super) u: f64,
    /// Readings per degree of drive angle.
    pub(super) slope: f64,
    /// How far the readings beyond it lie beyond it, mean.
    pub(super) over: f64,
    /// Degrees of freedom.
    pub(super) dof: f64,
    /// Its standard deviation without the give.
    pub(super) spread: f64,
}

/// What is wanted to be known, as standard uncertainties. Drive angles in deg.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Wanted {
    /// Of the stops midway between both directions, lower then upper; 0 of an end not met.
    pub(super) stops: [f64; 2],
    /// Of the stops as met.
    pub(super) met: [f64; 2],
    /// Of the lost motion.
    pub(super) lost: f64,
    /// Of the line at the outermost places read.
    pub(super) line: [f64; 2],
    /// The lost motion itself, not below 0 only by chance.
    pub(super) lost_motion: f64,
}

/// Parameters of the design: a, b, d, b k, level of the upper stop, level of the lower.
pub(super) const PARAMETERS: usize = 6;

impl Run<'_> {
    /// The rows that tell of an end: those at and beyond the other end are left out.
    pub(super) fn rows_for(&self, side: Side, with_held: bool) -> Vec<Row> {
        let edge = match self.outer.of(side.opposite()) {
            Some(edge) => edge,
            None if self.suspect => self.plan.start - side.sign() * self.plan.clearance,
            None => f64::NEG_INFINITY * side.sign(),
        };
        let counts = |row: &&Row| {
            if row.is_held() {
                with_held && row.toward == side
            } else {
                row.toward == side || side.sign() * row.x >= side.sign() * edge
            }
        };
        self.rows.iter().filter(counts).copied().collect()
    }

    /// Whether the stop of this end was felt by hand, and still counts.
    pub(super) fn felt(&self, side: Side) -> bool {
        self.rows.iter().any(|row| row.is_held() && row.toward == side)
    }

    /// The outermost place read towards an end.
    pub(super) fn last(&self, side: Side) -> Option<f64> {
        let out = self
            .rows
            .iter()
            .filter(|row| row.toward == side && !row.is_held())
            .map(|row| side.sign() * row.x)
            .fold(f64::NEG_INFINITY, f64::max);
        out.is_finite().then_some(side.sign() * out)
    }

    /// The same, or what was declared clear.
    pub(super) fn outermost(&self, side: Side) -> f64 {
        self.last(side)
            .unwrap_or(self.plan.start + side.sign() * self.plan.clearance)
    }

    fn grid(&self, side: Side, held: bool) -> Vec<Knot> {
        /// A stop felt by hand may lie so far beyond the servo's range, deg.
        const BEYOND: f64 = 60.0;
        let [lower, upper] = self.plan.search_limits;
        let limit = if side == Side::Upper { upper } else { lower };
        let out = |x: f64| side.sign() * (x - self.plan.start);
        model::grid(
            self.plan.clearance,
            out(self.outermost(side)),
            held.then_some(out(limit) + BEYOND),
        )
    }

    fn points(&self, side: Side, rows: &[Row], give: f64) -> Vec<Point> {
        let held = rows.iter().any(Row::is_held);
        self.model.profile(side, rows, &self.grid(side, held), give)
    }

    /// How an end stands, with or without the level felt by hand.
    pub(super) fn standing(&mut self, side: Side, with_held: bool) -> Standing {
        let [proven, short, rss, variance, ..] = self.memo(|run| run.stand(side, &run.rows_for(side, with_held)));
        Standing {
            proven,
            short,
            rss,
            variance,
        }
    }

    fn stand(&self, side: Side, rows: &[Row]) -> [f64; 6] {
        /// What is taken off where the threshold is crossed between two places of the grid, deg.
        const CROSSING: f64 = 0.02;
        let points = self.points(side, rows, GIVE);
        let last = side.sign() * (self.outermost(side) - self.plan.start);
        let least = points.iter().fold(f64::INFINITY, |least, p| least.min(p.rss));
        let variance = self.model.variance(least, rows.len());
        let bar = least + PROOF * PROOF * variance;
        let mut proven = self.plan.clearance.min(last);
        let mut before: Option<&Point> = None;
        for point in &points {
            if point.rss < bar {
                if let Some(out) = before {
                    let part = (out.rss - bar) / (out.rss - point.rss);
                    proven = (out.t + part * (point.t - out.t) - CROSSING).max(out.t);
                }
                break;
            }
            before = Some(point);
        }
        let best = |beyond: bool| {
            points
                .iter()
                .filter(|p| (p.t >= last - 1e-6) == beyond)
                .fold(f64::INFINITY, |least, p| least.min(p.rss))
        };
        let gain = best(true) - best(false);
        let short = if gain.is_finite() {
            (gain.max(0.0) / variance).sqrt()
        } else {
            0.0
        };
        let proven = self.plan.start + side.sign() * proven;
        [proven, short, least, variance, 0.0, 0.0]
    }

    /// The outermost angle that may be commanded towards an end now: what the drive itself has proven clear, and the overtravel.
    pub(super) fn reach(&mut self, side: Side) -> f64 {
        let proven = if self.rows.iter().any(|row| !row.is_held()) {
            self.standing(side, false).proven
        } else {
            self.plan.start + side.sign() * self.plan.clearance
        };
        self.inside(proven + side.sign() * self.plan.overtravel)
    }

    /// Whether the last reading does not fit those before it. The variance before decides, so that a slip makes itself no likelier.
    pub(super) fn surprises(&mut self, side: Side, before: &Standing) -> bool {
        /// From so many standard deviations on a contact is worth a second look.
        const LIKELY: f64 = 3.0;
        let now = self.standing(side, true);
        now.rss - before.rss > PROOF * PROOF * before.variance || (now.short >= LIKELY && before.short < LIKELY)
    }

    /// Where the stop is.
    pub(super) fn knee(&mut self, side: Side) -> Knee {
        let [at, u, slope, over, dof, spread] = self.memo(|run| run.place(side));
        Knee {
            at,
            u,
            slope,
            over,
            dof,
            spread,
        }
    }

    fn place(&self, side: Side) -> [f64; 6] {
        let (sign, rows) = (side.sign(), self.rows_for(side, true));
        // The middle of what a stop may give.
        let points = self.points(side, &rows, GIVE / 2.0);
        let least = points.iter().fold(f64::INFINITY, |least, p| least.min(p.rss));
        let variance = self.model.variance(least, rows.len());
        let Some((mean, sd, slope)) = model::moments(&points, variance) else {
            return [self.outermost(side), 0.0, 0.0, 0.0, Model::dof(rows.len()), 0.0];
        };
        let at = self.plan.start + sign * mean;
        let beyond = rows
            .iter()
            .filter(|row| row.toward == side && !row.is_held() && sign * (row.x - at) > 0.5)
            .map(|row| sign * (row.x - at));
        let (n, sum) = beyond.fold((0.0, 0.0), |(n, sum), over| (n + 1.0, sum + over));
        let over = if n > 0.0 { sum / n } else { 0.0 };
        let give = GIVE * over * PER_WIDTH;
        let u = (sd * sd + give * give).sqrt();
        [at, u, sign * slope, over, Model::dof(rows.len()), sd]
    }

    /// Whether the stop felt by hand and what the drive meets are two things.
    pub(super) fn contradicted(&mut self, side: Side) -> bool {
        /// In variances: five standard deviations.
        const APART: f64 = 25.0;
        let (all, driven) = (self.standing(side, true), self.standing(side, false));
        let sd = self.plan.u_reading;
        all.rss - driven.rss > APART * driven.variance.max(sd * sd)
    }

    /// Whether a contact stands without any one of the outermost readings.
    pub(super) fn robust(&mut self, side: Side) -> bool {
        /// So near the outermost one, deg.
        const NEAR: f64 = 8.0;
        let [short, ..] = self.memo(|run| {
            let (sign, last) = (side.sign(), run.outermost(side));
            let rows = run.rows_for(side, false);
            let mut least = f64::INFINITY;
            for (index, row) in rows.iter().enumerate() {
                if row.toward == side && sign * (last - row.x) < NEAR {
                    let mut without = rows.clone();
                    without.remove(index);
                    let [_, short, ..] = run.stand(side, &without);
                    least = least.min(short);
                }
            }
            [least, 0.0, 0.0, 0.0, 0.0, 0.0]
        });
        short >= CALL - 1.5
    }

    /// Whether what is met gives way by more than a stop may.
    pub(super) fn is_soft(&mut self, side: Side) -> bool {
        /// In variances.
        const APART: f64 = 12.0;
        let [gain, ..] = self.memo(|run| {
            let rows = run.rows_for(side, false);
            let least = |gives: &[f64]| {
                gives
                    .iter()
                    .flat_map(|&give| run.points(side, &rows, give))
                    .fold(f64::INFINITY, |least, p| least.min(p.rss))
            };
            let gain = least(&[0.0, GIVE]) - least(&[0.3, 0.5, 0.7]);
            [gain, 0.0, 0.0, 0.0, 0.0, 0.0]
        });
        gain > APART * self.plan.u_reading * self.plan.u_reading
    }

    /// Where a reading best tells the outermost one from that of a joint that stopped where it is proven clear (c-optimal).
    pub(super) fn firmest(&mut self, side: Side, proven: f64) -> (f64, Side) {
        let (sign, start, run_in) = (side.sign(), self.plan.start, self.plan.run_in);
        let last = self.outermost(side);
        let far = match self.outer.of(side.opposite()) {
            Some(edge) => edge,
            None if self.suspect => start - sign * self.plan.clearance,
            None => self.outermost(side.opposite()),
        };
        let mut places = std::vec![(last, side), (proven, side), (far, side.opposite())];
        if sign * (proven - far) > run_in {
            places.push((far + sign * run_in, side));
            places.push((proven - sign * run_in, side.opposite()));
        }
        let candidates = places.clone();
        let [best, ..] = self.memo(|run| {
            let rows = run.rows_for(side, false);
            let variance = |&(x, toward): &(f64, Side)| {
                let mut a: Matrix<3> = [[0.0; 3]; 3];
                for (i, row) in a.iter_mut().enumerate() {
                    row.iter_mut().skip(i).take(1).for_each(|v| *v = 1e-6);
                }
                let mut n = 0.0;
                let extra = Row { x, toward, y: 0.0 };
                for row in rows.iter().chain([&extra]) {
                    if sign * (proven - row.x) > -0.1 {
                        add_outer(&mut a, &[1.0, row.x - start, row.toward.sign()], 1.0, 3);
                    }
                    n += f64::from(u8::from(row.toward == side && (row.x - last).abs() < 0.3));
                }
                let f = [1.0, last - start, sign];
                factor(&a, 3).map_or(f64::INFINITY, |l| {
                    f.iter().zip(solve(&l, &f, 3)).map(|(a, b)| a * b).sum::<f64>() + 1.0 / n
                })
            };
            let mut best = (0usize, f64::INFINITY);
            for (index, place) in candidates.iter().enumerate() {
                let v = variance(place);
                if v < best.1 {
                    best = (index, v);
                }
            }
            [best.0 as f64, 0.0, 0.0, 0.0, 0.0, 0.0]
        });
        places.get(best as usize).copied().unwrap_or((last, side))
    }

    /// Information of the readings about line, lost motion, bend and levels; readings near a knee are left out.
    pub(super) fn design(&self, knees: &[Knee; 2]) -> (Matrix<PARAMETERS>, [f64; PARAMETERS]) {
        let sd = self.plan.u_reading;
        let mut a: Matrix<PARAMETERS> = [[0.0; PARAMETERS]; PARAMETERS];
        let slope = knees.iter().map(|k| k.slope.abs()).fold(0.0, f64::max);
        let bend = (slope * self.model.bend).max(1e-9);
        for (i, row) in a.iter_mut().enumerate() {
            // Next to nothing, so that what no reading tells of is no singularity; the bend as it is expected.
            let known = if i == 3 { 1.0 / (bend * bend) } else { 1e-6 };
            row.iter_mut().skip(i).take(1).for_each(|v| *v = known);
        }
        let mut b = [0.0; PARAMETERS];
        for row in &self.rows {
            if let Some(f) = self.design_row(row.x, row.toward, knees) {
                add_outer(&mut a, &f, 1.0 / (sd * sd), PARAMETERS);
                for (sum, f) in b.iter_mut().zip(f) {
                    *sum += f * row.y / (sd * sd);
                }
            }
        }
        (a, b)
    }

    /// What a reading there depends on; nothing where it may lie on either side of a knee.
    pub(super) fn design_row(&self, x: f64, toward: Side, [lower, upper]: &[Knee; 2]) -> Option<[f64; PARAMETERS]> {
        let knee = if toward == Side::Upper { upper } else { lower };
        let past = if self.contact.of(toward) {
            toward.sign() * (x - knee.at) * knee.slope.abs() / self.plan.u_reading
        } else {
            f64::NEG_INFINITY
        };
        if x.is_infinite() || past > 1.0 {
            return Some(match toward {
                Side::Upper => [0.0, 0.0, 0.0, 0.0, 1.0, 0.0],
                Side::Lower => [0.0, 0.0, 0.0, 0.0, 0.0, 1.0],
            });
        }
        let z = x - self.plan.start;
        (past < -1.0).then_some([1.0, z, toward.sign(), z * z, 0.0, 0.0])
    }

    /// What is wanted, from an information matrix.
    pub(super) fn wanted(
        &self,
        a: &Matrix<PARAMETERS>,
        b: Option<&[f64; PARAMETERS]>,
        knees: &[Knee; 2],
    ) -> Option<Wanted> {
        let l = factor(a, PARAMETERS)?;
        let cov = inverse(&l, PARAMETERS);
        let start = self.plan.start;
        let slope = knees
            .iter()
            .map(|k| k.slope)
            .fold(0.0, |a: f64, s| if s.abs() > a.abs() { s } else { a });
        let d = b.map_or(0.0, |b| {
            let [_, _, d, ..] = solve(&l, b, PARAMETERS);
            d
        });
        let u = |c: [f64; PARAMETERS]| quadratic(&cov, &c).max(0.0).sqrt();
        let stop = |side: Side, met: f64| {
            let [lower, upper] = knees;
            let (knee, levels) = match side {
                Side::Upper => (upper, [1.0, 0.0]),
                Side::Lower => (lower, [0.0, 1.0]),
            };
            if !self.contact.of(side) {
                return 0.0;
            }
            let z = knee.at - start;
            let [up, low] = levels;
            u([-1.0, -z, -side.sign() * met, -z * z, up, low].map(|c| c / slope))
        };
        let line = |side: Side| {
            let z = self.outermost(side) - start;
            u([1.0, z, 0.0, z * z, 0.0, 0.0].map(|c| c / slope))
        };
        let both = |of: &dyn Fn(Side) -> f64| [of(Side::Lower), of(Side::Upper)];
        Some(Wanted {
            stops: both(&|side| stop(side, 0.0)),
            met: both(&|side| stop(side, 1.0)),
            lost: u([0.0, 2.0 * d / (slope * slope), -2.0 / slope, 0.0, 0.0, 0.0]),
            line: both(&line),
            lost_motion: -2.0 * d / slope,
        })
    }

    /// Both knees, lower then upper.
    pub(super) fn knees(&mut self) -> [Knee; 2] {
        [self.knee(Side::Lower), self.knee(Side::Upper)]
    }

    /// The lost motion by the readings so far; 0 where it cannot be determined yet.
    pub(super) fn lost_motion(&mut self) -> f64 {
        let knees = self.knees();
        let [lost, ..] = self.memo(|run| {
            let (a, b) = run.design(&knees);
            let lost = run.wanted(&a, Some(&b), &knees).map_or(0.0, |w| w.lost_motion);
            [lost, 0.0, 0.0, 0.0, 0.0, 0.0]
        });
        if lost.is_finite() { lost.max(0.0) } else { 0.0 }
    }
}
