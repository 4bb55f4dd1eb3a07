//! From the readings to the outcome: the same numbers as those of a bring-up by a program.

use super::estimate::{Knee, PARAMETERS, Wanted};
use super::run::{Both, Run};
use crate::bring_up::{EndFound, Fault, Outcome, Side, Verdict};
use crate::fit::statistics::dense::{factor, inverse, quadratic, solve};
use crate::fit::{
    End, EndKind, Estimate, Goodness, LimitFit, LostMotion, RejectReason, Rejected, Sense, Trend, fit_line,
};
use std::vec::Vec;

/// A bend is told from so many standard uncertainties on.
const BENT: f64 = 2.0;

impl Run<'_> {
    /// What it ends with. A joint that seemed ready and whose readings make no travel is refused as unclear.
    pub(super) fn conclude(&mut self, verdict: Verdict) -> Outcome {
        self.mark();
        let mut outcome = Outcome {
            verdict,
            sense: self.sense,
            alignment: None,
            lower: None,
            upper: None,
            guard: self.plan.guard,
            speed: None,
            fit: None,
            readings: 0,
            by_sensor: false,
        };
        if verdict != Verdict::Ready {
            return outcome;
        }
        let knees = self.knees();
        outcome.readings = self.rows.len();
        let proven = Both {
            lower: self.standing(Side::Lower, false).proven,
            upper: self.standing(Side::Upper, false).proven,
        };
        if let Some(fit) = self.fit(&knees, proven) {
            let found = |end: &End| EndFound {
                kind: end.kind,
                at: end.at,
                short_at: None,
                u: end.u,
                interval: end.interval,
                travel: end.travel,
            };
            outcome.lower = Some(found(&fit.lower));
            outcome.upper = Some(found(&fit.upper));
            outcome.fit = Some(fit);
        }
        if outcome.travel().is_none() {
            outcome.verdict = Verdict::Faulty {
                fault: Fault::Unclear,
                at: None,
                by: None,
            };
        }
        outcome
    }

    /// The numbers of a fit. `proven` is how far the drive itself has shown each side clear.
    fn fit(&self, knees: &[Knee; 2], proven: Both<f64>) -> Option<LimitFit> {
        let (mut a, b) = self.design(knees);
        let solved = |a: &_| {
            let l = factor(a, PARAMETERS)?;
            Some((solve(&l, &b, PARAMETERS), inverse(&l, PARAMETERS)))
        };
        let (mut p, mut cov) = solved(&a)?;
        let [.., u_bend, _, _] = std::array::from_fn::<f64, PARAMETERS, _>(|i| {
            cov.get(i).and_then(|row| row.get(i)).copied().unwrap_or(0.0).sqrt()
        });
        let [_, _, _, bend, ..] = p;
        let is_bent = bend.abs() > BENT * u_bend;
        if !is_bent {
            // Certain to be none.
            let [_, _, _, [.., known, _, _], ..] = &mut a;
            *known += 1e18;
            (p, cov) = solved(&a)?;
        }
        let [c0, c1, d, c2, upper_level, lower_level] = p;
        let c2 = if is_bent { c2 } else { 0.0 };
        let start = self.plan.start;

        // Residuals of all readings that count and lie on one side of a knee for certain.
        let (mut squares, mut n) = (0.0, 0usize);
        let (mut x_line, mut y_line) = (Vec::new(), Vec::new());
        for row in &self.rows {
            if let Some(f) = self.design_row(row.x, row.toward, knees) {
                let e = row.y - f.iter().zip(&p).map(|(f, p)| f * p).sum::<f64>();
                squares += e * e;
                n += 1;
                let [on_line, ..] = f;
                if on_line > 0.0 {
                    x_line.push(row.x);
                    y_line.push(row.y);
                }
            }
        }
        let variance = self.model.variance(squares, n);
        let scale = variance / (self.plan.u_reading * self.plan.u_reading);
        let u = |c: [f64; PARAMETERS]| (scale * quadratic(&cov, &c).max(0.0)).sqrt();
        let wanted = self.wanted(&a, Some(&b), knees)?;
        let line = fit_line(&x_line, &y_line).ok()?;

        // The slope midway, and the line of that slope through the middle.
        let (from, to) = (self.outermost(Side::Lower) - start, self.outermost(Side::Upper) - start);
        let middle = (from + to) / 2.0;
        let slope = c1 + 2.0 * c2 * middle;
        let level = c0 + middle * (c1 + c2 * middle);
        let u_slope = u([0.0, 1.0, 0.0, 2.0 * middle, 0.0, 0.0]);
        let at_zero = [1.0, -start, 0.0, -middle * (2.0 * start + middle), 0.0, 0.0];
        let u_intercept = u(at_zero);
        let covariance = -(start + middle) * u_slope * u_slope;
        let dof = n.saturating_sub(PARAMETERS);

        let lost = 2.0 * d;
        let lost_motion = LostMotion::Measured {
            value: lost.abs(),
            u: u([0.0, 0.0, 2.0, 0.0, 0.0, 0.0]),
            reversal: lost,
            drive: (lost / slope).abs(),
            u_drive: wanted.lost * scale.sqrt(),
        };
        let level_of = |side: Side| match side {
            Side::Upper => Estimate {
                value: upper_level,
                u: u([0.0, 0.0, 0.0, 0.0, 1.0, 0.0]),
            },
            Side::Lower => Estimate {
                value: lower_level,
                u: u([0.0, 0.0, 0.0, 0.0, 0.0, 1.0]),
            },
        };
        let [lower_knee, upper_knee] = knees;
        let lower = self.end(
            Side::Lower,
            lower_knee,
            &wanted,
            -lost / slope,
            level_of(Side::Lower),
            proven.lower,
        );
        let upper = self.end(
            Side::Upper,
            upper_knee,
            &wanted,
            -lost / slope,
            level_of(Side::Upper),
            proven.upper,
        );
        let travel = (lower.travel < upper.travel).then_some([lower.travel, upper.travel]);
        let certain = |value: f64, u: f64| {
            crate::fit::statistics::quantile::t_two_sided(if u > 0.0 { value / u } else { 0.0 }, dof.max(1) as f64)
        };
        let expected = |x: f64| {
            let z = x - start;
            c0 + z * (c1 + c2 * z)
        };
        Some(LimitFit {
            slope,
            u_slope,
            intercept: level - slope * (start + middle),
            u_intercept,
            covariance,
            residual_sd: variance.sqrt(),
            dof,
            sense: Sense {
                trend: if slope > 0.0 { Trend::Rising } else { Trend::Falling },
                certainty: 1.0 - certain(slope, u_slope) / 2.0,
            },
            lower,
            upper,
            travel,
            lost_motion,
            repeatability: None,
            goodness: Goodness {
                r_squared: line.r_squared,
                sum_of_squares: squares,
                p_curvature: certain(bend, u_bend),
                p_lack_of_fit: 1.0,
            },
            line,
            rejected: self.rejected(expected),
            warnings: Vec::new(),
            advice: None,
            approach_inferred: false,
            one_way: None,
            readings: self.typed.len(),
            resolution: Some(self.plan.resolution),
            resolution_inferred: false,
            confidence: self.plan.confidence,
            curve: if is_bent {
                std::vec![c0, c1, c2]
            } else {
                std::vec![c0, c1]
            },
            curve_origin: start,
        })
    }

    /// One end. `lost` is the lost motion in drive angle, with the sign that chance may have given it.
    fn end(&self, side: Side, knee: &Knee, wanted: &Wanted, lost: f64, level: Estimate, proven: f64) -> End {
        let (sign, last) = (side.sign(), self.outermost(side));
        let held = self.felt(side);
        // Short of a stop that was only felt, the drive itself has to have shown the way clear.
        let furthest = if held { proven } else { last };
        let none = End {
            kind: EndKind::Clear,
            at: last,
            short_at: None,
            u: None,
            interval: None,
            guard: 0.0,
            travel: last,
            level: None,
            readings_beyond: 0,
            marked: false,
        };
        if !self.contact.of(side) {
            return none;
        }
        let at = knee.at - sign * lost / 2.0;
        let u = self.u_stop(side, knee, wanted);
        let spread = (u * u - knee.u * knee.u + knee.spread * knee.spread).max(0.0).sqrt();
        let half = self.half_width(spread, knee.over, knee.dof);
        let inside = at - sign * (half + self.plan.guard + lost.max(0.0) / 2.0);
        let beyond = |row: &&super::model::Row| row.toward == side && sign * (row.x - knee.at) > 0.0;
        End {
            kind: EndKind::Contact,
            at,
            u: Some(u),
            interval: Some([at - half, at + half]),
            guard: self.plan.guard,
            // Never beyond the outermost place read.
            travel: if sign * (inside - furthest) > 0.0 {
                furthest
            } else {
                inside
            },
            level: Some(level),
            readings_beyond: self.rows.iter().filter(beyond).count(),
            marked: held,
            ..none
        }
    }

    /// Readings that were not believed.
    fn rejected(&self, expected: impl Fn(f64) -> f64) -> Vec<Rejected> {
        let mut rejected = Vec::new();
        for (index, reading) in self.typed.iter().enumerate() {
            if let (Some(drive), false) = (reading.drive, reading.is_used) {
                rejected.push(Rejected {
                    index,
                    drive,
                    measured: reading.value,
                    residual: reading.value - expected(drive),
                    reason: RejectReason::OffTheLine,
                    cause: None,
                });
            }
        }
        rejected
    }
}
