//! The last readings go where they serve best.

use super::estimate::{CALL, Knee, PARAMETERS, Wanted};
use super::run::{Flow, Run};
use crate::bring_up::{Fault, Side};
use crate::fit::statistics::dense::{Matrix, add_outer, factor, solve};
use std::vec::Vec;

impl Run<'_> {
    /// Until all is known well enough, the place that lowers the sum of squares of what is above its target most.
    pub(super) fn refine(&mut self) -> Flow<()> {
        /// Places that are read again because they do not fit what was learnt since, at the most.
        const MOST_DOUBTED: u8 = 4;
        let (mut looked, mut doubted) = (0, 0);
        while self.typed.len() < usize::from(self.plan.most_readings) {
            if let Some(side) = self.lost_contact() {
                self.contact.set(side, false);
                self.outer.set(side, None);
                self.search(side)?;
                continue;
            }
            self.stage = "refine";
            let knees = self.knees();
            if doubted < MOST_DOUBTED
                && let Some((x, toward)) = self.doubtful(&knees)
            {
                doubted += 1;
                self.take(x, toward, true)?;
                continue;
            }
            let places = self.places(&knees);
            let chosen = places.clone();
            let [index, ..] = self.memo(|run| {
                let index = run.best_place(&knees, &chosen).map_or(-1.0, |index| index as f64);
                [index, 0.0, 0.0, 0.0, 0.0, 0.0]
            });
            if index < 0.0 {
                break;
            }
            let Some(&(x, toward)) = places.get(index as usize) else {
                break;
            };
            let sign = toward.sign();
            if self.felt(toward) && sign * (x - self.outermost(toward)) > 0.0 {
                self.step_to(toward, x, true, &mut looked)?;
            } else {
                self.take(x, toward, true)?;
            }
        }
        // More is known now of what is met than when it was called a stop.
        for side in Side::ALL {
            if self.contact.of(side) && !self.felt(side) && self.is_soft(side) {
                return self.refuse(Fault::GivesWay, Some(self.outermost(side)), None);
            }
        }
        Ok(())
    }

    /// A contact that later readings have made doubtful, or that is not the stop felt.
    fn lost_contact(&mut self) -> Option<Side> {
        [Side::Upper, Side::Lower].into_iter().find(|&side| {
            let met = self.contact.of(side);
            if self.felt(side) {
                return met && self.contradicted(side);
            }
            met && !self.said_stop.of(side) && self.standing(side, false).short < CALL - 1.0
        })
    }

    /// The reading that fits worst, if it does not fit at all: it is dropped, and its place is read again. A slip that hid a contact when it
    /// was typed shows only once the stop is known.
    fn doubtful(&mut self, knees: &[Knee; 2]) -> Option<(f64, Side)> {
        /// In standard uncertainties of a reading: what a stop gives is within.
        const FAR: f64 = 5.0;
        let [index, ..] = self.memo(|run| {
            let (a, b) = run.design(knees);
            let mut worst = (-1.0, FAR * run.plan.u_reading);
            let Some(l) = factor(&a, PARAMETERS) else {
                return [-1.0; 6];
            };
            let p = solve(&l, &b, PARAMETERS);
            for (index, row) in run.rows.iter().enumerate().filter(|(_, row)| !row.is_held()) {
                if let Some(f) = run.design_row(row.x, row.toward, knees) {
                    let off = (row.y - f.iter().zip(&p).map(|(f, p)| f * p).sum::<f64>()).abs();
                    if off > worst.1 {
                        worst = (index as f64, off);
                    }
                }
            }
            [worst.0, 0.0, 0.0, 0.0, 0.0, 0.0]
        });
        if index < 0.0 || index as usize >= self.rows.len() {
            return None;
        }
        let row = self.rows.remove(index as usize);
        Some((row.x, row.toward))
    }

    /// Where readings can serve: on a level, at the line's edge before it, and at the line's other end.
    fn places(&mut self, knees: &[Knee; 2]) -> Vec<(f64, Side)> {
        let [lower, upper] = knees;
        let mut places = Vec::new();
        for (side, knee, other) in [(Side::Upper, upper, lower), (Side::Lower, lower, upper)] {
            let (sign, last) = (side.sign(), self.outermost(side));
            let met = self.contact.of(side);
            let sd = self.plan.u_reading / knee.slope.abs().max(1e-6);
            let far = if self.contact.of(side.opposite()) && !self.felt(side.opposite()) {
                other.at
            } else {
                self.outermost(side.opposite())
            };
            let inner = far + sign * self.plan.run_in;
            // A stop felt by hand was not touched yet: only as far as is proven clear, and the overtravel.
            let outermost = if self.felt(side) { self.reach(side) } else { last };
            let edge = if met {
                sign * (sign * (knee.at - sign * (2.5 * sd).max(1.0))).min(sign * outermost)
            } else {
                last
            };
            places.push((edge, side));
            if sign * (edge - inner) > 1.0 {
                places.push((inner, side));
            }
            let touch = if self.felt(side) {
                let wanted = knee.at + sign * (2.5 * sd).max(1.5);
                if sign * (wanted - outermost) > 0.0 {
                    outermost
                } else {
                    wanted
                }
            } else {
                last
            };
            // Close to the knee a reading may lie on either side of it, and says little.
            let clear = if self.felt(side) { 2.4 } else { 1.2 };
            if met && sign * (touch - knee.at) > clear * sd {
                places.push((touch, side));
            }
        }
        places
    }

    /// The place that brings most; nothing where all is known well enough.
    fn best_place(&self, knees: &[Knee; 2], places: &[(f64, Side)]) -> Option<usize> {
        let (a, b) = self.design(knees);
        let now = self.wanted(&a, Some(&b), knees)?;
        let of_target = |w: &Wanted| -> [f64; 5] {
            let [low, up] = w.stops;
            let [line_low, line_up] = w.line;
            [low, up, w.lost, line_low, line_up].map(|u| u / self.plan.tolerance)
        };
        let linear = of_target(&now);
        let mut want = linear;
        // What the likelihood of each place says counts where it says more than the linear design.
        let [lower, upper] = knees;
        for ((want, side), knee) in want.iter_mut().zip(Side::ALL).zip([lower, upper]) {
            if self.contact.of(side) {
                *want = want.max(self.u_stop(side, knee, &now) / self.plan.tolerance);
            }
        }
        if want.iter().all(|w| *w <= 1.0) {
            return None;
        }
        let mut best: Option<(usize, f64)> = None;
        for (index, (x, toward)) in places.iter().enumerate() {
            let Some(f) = self.design_row(*x, *toward, knees) else {
                continue;
            };
            let mut more: Matrix<PARAMETERS> = a;
            let sd = self.plan.u_reading;
            add_outer(&mut more, &f, 1.0 / (sd * sd), PARAMETERS);
            let Some(then) = self.wanted(&more, Some(&b), knees) else {
                continue;
            };
            let mut left = 0.0;
            for ((then, linear), want) in of_target(&then).iter().zip(&linear).zip(&want) {
                let ratio = if *linear > 1e-9 { want / linear } else { 1.0 };
                let u = (then * ratio).max(1.0);
                left += u * u;
            }
            if best.is_none_or(|(_, least)| left < least) {
                best = Some((index, left));
            }
        }
        /// What lowers the sum of squares by a smaller part than this is not worth a reading.
        const WORTH: f64 = 0.002;
        let sum: f64 = want.iter().map(|w| w.max(1.0) * w.max(1.0)).sum();
        best.filter(|(_, left)| *left < sum * (1.0 - WORTH))
            .map(|(index, _)| index)
    }

    /// Standard uncertainty of a stop midway between both directions: that of the stop as met by the likelihood of each place, with what
    /// the lost motion adds or takes by the linear design.
    pub(super) fn u_stop(&self, side: Side, knee: &Knee, wanted: &Wanted) -> f64 {
        let ([low, up], [met_low, met_up]) = (wanted.stops, wanted.met);
        let (midway, met) = match side {
            Side::Lower => (low, met_low),
            Side::Upper => (up, met_up),
        };
        let sum = knee.u * knee.u + midway * midway - met * met;
        sum.max(midway * midway).sqrt()
    }
}
