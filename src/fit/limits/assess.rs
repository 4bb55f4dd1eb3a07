//! From a found model to limits, evidence, uncertainties and warnings in the user's units.

use super::advise::{Known, advise};
use super::clean::Clean;
use super::few::{Adopted, FewEnd};
use super::find::{Found, Prepared, find, first_look};
use super::interval::Give;
use super::kept::Kept;
use super::model::{Model, Reading, between};
use super::motion::Track;
use super::polynomial::polynomial;
use super::prepare::{Marks, Together, ends_of, in_motion, on_the_move, prepare};
use super::turns::{SURELY_LEADS, Settled, motion_by_order, settle, with_sides};
use crate::fit::error::FitError;
use crate::fit::line::{LineFit, fit_line};
use crate::fit::outcome::{
    Advice, End, EndKind, Goodness, LimitFit, LostMotion, NotDeterminable, Repeatability, Sense, Side, Trend,
};
use crate::fit::readings::{FitOptions, Readings};
use crate::fit::statistics::quantile::{f_tail, t_two_sided};
use crate::fit::statistics::resolution::{lie_on, step_along, telling};
use crate::fit::warning::Warning;
use std::vec::Vec;

/// Motion between the knees, in residual standard deviations, below which nothing is said to have moved.
const LEAST_MOTION: f64 = 3.0;
/// The same where a stop was chosen: mere scatter can look like a step between two plateaus, but not of this height.
const LEAST_MOTION_TO_STOP: f64 = 5.0;
/// Probability below which the slope has a sign.
const P_SENSE: f64 = 0.01;
/// Probability of a jump above which it is told.
const P_JUMP: f64 = 0.3;
/// Steps of the values in a resolution from which it is doubted: who reads halves of a graduation is in the right.
const COARSE: f64 = 4.0;
/// Residual standard deviation, in resolutions, that rounding and noise of a careful hand do not reach: they make 0.35 to
/// 0.67 of it.
const LOOSE: f64 = 1.5;
/// Residual standard deviation, as a share of the measured range, that a careful hand does not reach (an assumption of this library).
const WIDE: f64 = 1.0 / 40.0;
/// Standard deviations within which a reading left out may have been a good one.
const NARROWLY: f64 = 6.0;
/// Drive values that begin here are pulse widths in us or timer counts: a hobby servo turns by less, and a winch of several turns is swept
/// from its first.
const LEAST_PULSE: f64 = 400.0;
/// A guard margin below this is next to none in us: less than half a degree of a usual servo (2000 us on 180 deg).
const LEAST_PULSE_GUARD: f64 = 5.0;

pub(super) fn assess(given: &Readings<'_>, options: &FitOptions) -> Result<LimitFit, FitError> {
    let track = Track::of(given);
    let mut given = *given;
    given.approach = given.approach.or(track.as_ref().map(Track::sides));
    let given = &given;
    let prepared = prepare(given, options)?;
    let marks = Marks::of(given, prepared.centre);
    let found = find(&prepared, marks.insisted());
    // On the move, lag looks like lost motion, and the first readings after a turn are those of the start.
    let at_rest = given.time.is_none() && (given.approach.is_some() || !on_the_move(given, &prepared));
    let sided = at_rest
        .then(|| with_sides(given, &prepared, &marks, found.as_ref().ok()))
        .flatten();
    let sides_inferred = sided.is_some();
    // Whether readings were taken in motion shows in what is left without the sides, and would hide in lost motion.
    let (prepared, found, unsided) = match sided {
        Some((with, by_sides)) => (with, Ok(by_sides), Some((prepared, found))),
        None => (prepared, found, None),
    };
    let Settled {
        prepared,
        few,
        found,
        not_taken_up,
    } = settle(given, options, &marks, prepared, found, at_rest);
    let mut warnings = Vec::new();
    let mut together = None;
    if let Some((prepared, found)) = &unsided {
        together = seen_in_motion(given, prepared, found.as_ref().ok())?;
    }
    let found = match (found, &track) {
        (Ok(found), Some(track)) => {
            warnings.extend(track.judge(&prepared, &found)?);
            found
        }
        (Err(error), Some(track)) => return Err(track.instead(error)),
        (Ok(found), None) => {
            if unsided.is_none() {
                together = seen_in_motion(given, &prepared, Some(&found))?;
            }
            found
        }
        (Err(error), None) => {
            if unsided.is_none() {
                together = seen_in_motion(given, &prepared, None)?;
            }
            return Err(better_advice(together.as_ref(), error));
        }
    };
    warnings.extend(
        together
            .iter()
            .map(|&Together { ratio, .. }| Warning::MaybeInMotion { ratio }),
    );
    Assessment {
        given,
        options,
        prepared: &prepared,
        found,
        few,
        at_rest,
        sides_inferred,
        not_taken_up,
        marks,
        stalled: Vec::new(),
        softer: [None; 2],
        uneven: 0.0,
        warnings,
    }
    .conclude()
    .map_err(|error| better_advice(together.as_ref(), error))
    .and_then(|fit| match &together {
        // Nothing can be done with them, and motion explains it.
        Some(Together {
            ratio,
            small_steps: true,
        }) if fit.travel.is_none() => Err(FitError::InMotion { ratio: *ratio }),
        _ => Ok(fit),
    })
}

/// Whether readings may have been taken in motion, by what is found of them or by a first look; refuses them where they surely were.
fn seen_in_motion(
    given: &Readings<'_>,
    prepared: &Prepared,
    found: Option<&Found>,
) -> Result<Option<Together>, FitError> {
    if let Some(found) = found {
        return in_motion(given, prepared, found.chosen.stops() > 0, |r| {
            (found.model.expected(r.x, r.s()), between(&found.model, r))
        });
    }
    let first = first_look(prepared);
    in_motion(given, prepared, true, |r| {
        first.map_or((0.0, true), |start| {
            let (lower, upper) = start.knees();
            (start.expected(r.x), r.x >= lower && r.x <= upper)
        })
    })
}

/// Readings that cannot be used and may have been taken on the move: that is the better advice.
fn better_advice(together: Option<&Together>, error: FitError) -> FitError {
    match together {
        Some(&Together {
            ratio,
            small_steps: true,
        }) => FitError::InMotion { ratio },
        _ => error,
    }
}

pub(super) struct Assessment<'a> {
    pub(super) given: &'a Readings<'a>,
    pub(super) options: &'a FitOptions,
    pub(super) prepared: &'a Prepared,
    pub(super) found: Found,
    /// What the hypotheses about a table of few readings decide.
    pub(super) few: Option<Adopted>,
    /// Nothing says that readings were taken on the move.
    at_rest: bool,
    /// The sides were seen from the order of the rows.
    sides_inferred: bool,
    /// Readings, by their place in the table as given, taken before the lost motion was taken up.
    pub(super) not_taken_up: Vec<usize>,
    pub(super) marks: Marks,
    /// Readings, by their place in `prepared`, that a stop holds beyond the last that follows the line: one an end at the most.
    pub(super) stalled: Vec<usize>,
    /// What the readings allow each stop to give, lower and upper.
    pub(super) softer: [Option<Give>; 2],
    /// Standard deviation of what lies off the line with its neighbours, in measured units.
    pub(super) uneven: f64,
    pub(super) warnings: Vec<Warning>,
}

impl Assessment<'_> {
    pub(super) fn drive(&self, x: f64) -> f64 {
        self.prepared.centre + self.prepared.half * x
    }

    pub(super) fn kept(&self) -> impl Iterator<Item = &Reading> {
        self.prepared
            .readings
            .iter()
            .zip(&self.found.kept)
            .filter(|(_, kept)| **kept)
            .map(|(r, _)| r)
    }

    /// Whether the guard margin that an end keeps is one for degrees, and the drive values are none: of pulse widths even the lowest lies
    /// beyond every angle at which a sweep begins.
    fn look_at_guard(&mut self, guard: f64) {
        let (centre, half) = (self.prepared.centre, self.prepared.half);
        // Readings may be turned round.
        if guard > 0.0 && guard < LEAST_PULSE_GUARD && centre.abs() - half >= LEAST_PULSE {
            let (lower, upper) = (centre - half, centre + half);
            self.warnings.push(Warning::GuardOfDegrees { guard, lower, upper });
        }
    }

    fn conclude(mut self) -> Result<LimitFit, FitError> {
        self.refute_plateaus();
        self.try_give();
        let model = self.found.model;
        let dof = model.dof();
        let line = self.line_between()?;
        let sense = self.sense(&line)?;
        // The travel keeps half of the lost motion that the fit rests on, not of what may be there besides.
        let lost_motion = self.lost_motion();
        self.look_at_sides(&lost_motion);
        self.uneven = self.look_for_uneven();
        let kept = self.found.kept.clone();
        let clean = Clean::of(&self.found, Kept::of(&self.prepared.readings, &kept));
        let lower = self.end(false, &lost_motion, &clean);
        let upper = self.end(true, &lost_motion, &clean);
        drop(clean);
        let travel = if lower.travel < upper.travel {
            Some([lower.travel, upper.travel])
        } else {
            self.warnings.push(Warning::NoTravel {
                lower: lower.travel,
                upper: upper.travel,
                swept: 2.0 * self.prepared.half,
            });
            None
        };
        self.look_at_guard(lower.guard.max(upper.guard));
        let rejected = self.rejected();
        self.warn_of_misreadings(&rejected);
        let repeats = repeats(Kept::of(&self.prepared.readings, &self.found.kept));
        let goodness = self.goodness(repeats);
        let repeatability = repeats.map(|(sum, dof, _)| Repeatability {
            sd: (sum / dof as f64).sqrt(),
            dof,
        });
        let residual_sd = self.residual_sd();
        if self.given.u.is_some() && dof > 0 {
            let ratio = (model.sse / dof as f64).sqrt();
            if f_tail(ratio * ratio, dof as f64, 1e9) < 0.01 {
                self.warnings.push(Warning::ScatterAboveStated { ratio });
            }
        }
        if model.layout.degree > 1 {
            let departure = self
                .kept()
                .filter(|r| between(&model, r))
                .map(|r| {
                    let drive = self.drive(r.x);
                    (line.intercept + line.slope * drive - self.prepared.level - polynomial(model.curve(), r.x)).abs()
                })
                .fold(0.0, f64::max);
            self.warnings.push(Warning::Curved {
                p: self.found.chosen.p_curvature,
                departure,
            });
        }
        self.warn_of_misfit(residual_sd);
        self.warn_of_resolution();
        let advice = self.advice(&lower, &upper, &line, residual_sd);
        let straight = self.straight(&line);
        let half = self.prepared.half;
        let mut scale = 1.0;
        let mut curve: Vec<f64> = model
            .curve()
            .iter()
            .map(|c| {
                let out = c / scale;
                scale *= half;
                out
            })
            .collect();
        if let Some(first) = curve.first_mut() {
            *first += self.prepared.level;
        }
        let by_order = self.lost_motion_by_order();
        Ok(LimitFit {
            slope: straight.slope,
            u_slope: straight.u_slope,
            intercept: straight.intercept,
            u_intercept: straight.u_intercept,
            covariance: straight.covariance,
            residual_sd,
            dof,
            sense,
            lower,
            upper,
            travel,
            lost_motion: by_order.unwrap_or(lost_motion),
            repeatability,
            line,
            goodness,
            rejected,
            warnings: self.warnings,
            advice,
            approach_inferred: self.sides_inferred
                || by_order.is_some()
                || self.few.as_ref().is_some_and(|few| few.sides_inferred),
            // Of the whole table, where it is known.
            one_way: None,
            readings: self.given.drive.len(),
            resolution: (self.prepared.step > 0.0).then_some(self.prepared.step),
            resolution_inferred: self.options.resolution.is_none() && self.prepared.step > 0.0,
            confidence: self.options.confidence,
            curve,
            curve_origin: self.prepared.centre,
        })
    }

    /// Standard deviation of the retained readings, in measured units.
    pub(super) fn residual_sd(&self) -> f64 {
        let dof = self.found.model.dof().max(1) as f64;
        if self.given.u.is_none() {
            return (self.found.model.sse / dof).sqrt();
        }
        let sum: f64 = self
            .kept()
            .map(|r| {
                let rest = r.y - self.found.model.expected(r.x, r.s());
                rest * rest
            })
            .sum();
        (sum / dof).sqrt()
    }

    /// Variance of a reading of unit weight, counting readings left out so narrowly that they may have been good ones.
    pub(super) fn cautious_variance(&self) -> f64 {
        let model = self.found.model;
        let (mut sum, mut count) = (0.0, 0.0);
        for (r, _) in self
            .prepared
            .readings
            .iter()
            .zip(&self.found.kept)
            .filter(|(_, kept)| !**kept)
        {
            let rest = r.y - model.expected(r.x, r.s());
            let squared = rest * rest * r.w;
            if squared <= NARROWLY * NARROWLY * self.found.variance {
                sum += squared;
                count += 1.0;
            }
        }
        let dof = model.dof().max(1) as f64;
        (self.found.variance * dof + sum) / (dof + count)
    }

    /// The plain least-squares line through the retained readings between the stops.
    fn line_between(&self) -> Result<LineFit, FitError> {
        let model = self.found.model;
        let mut x = Vec::with_capacity(self.given.drive.len());
        let mut y = Vec::with_capacity(self.given.drive.len());
        for r in self.kept().filter(|r| between(&model, r)) {
            if let (Some(&drive), Some(&measured)) =
                (self.given.drive.get(r.index()), self.given.measured.get(r.index()))
            {
                x.push(drive);
                y.push(measured);
            }
        }
        fit_line(&x, &y)
    }

    /// Slope and intercept of the model in the user's units; for a bent joint those of the line through the readings.
    fn straight(&self, line: &LineFit) -> LineFit {
        let model = self.found.model;
        if model.layout.degree > 1 {
            return *line;
        }
        let [a, b, aa, bb, ab] = model.line();
        let (half, centre, v) = (self.prepared.half, self.prepared.centre, self.found.variance);
        let shift = centre / half;
        LineFit {
            slope: b / half,
            u_slope: (v * bb.max(0.0)).sqrt() / half,
            intercept: self.prepared.level + a - b * shift,
            u_intercept: (v * (aa - 2.0 * shift * ab + shift * shift * bb).max(0.0)).sqrt(),
            covariance: v * (ab - shift * bb) / half,
            ..*line
        }
    }

    fn sense(&self, line: &LineFit) -> Result<Sense, FitError> {
        let model = self.found.model;
        let sd = self.found.variance.sqrt();
        let weight = self.kept().map(|r| r.w).fold(0.0, f64::max);
        let ends = (model.knees.0.max(-1.0), model.knees.1.min(1.0));
        let moved = (model.slope() * (ends.1 - ends.0)).abs();
        let t = line.slope / line.u_slope.max(f64::MIN_POSITIVE);
        // The slope of a straight model is as sure as the scatter of all readings, those on the stops too.
        let dof = if model.layout.degree > 1 { line.dof } else { model.dof() };
        let p = if t.is_finite() { t_two_sided(t, dof as f64) } else { 0.0 };
        let least = if self.found.chosen.stops() > 0 {
            LEAST_MOTION_TO_STOP
        } else {
            LEAST_MOTION
        };
        let little = moved <= least * sd / weight.sqrt();
        // The line of a few readings has few degrees of freedom, the hypotheses know the scatter from elsewhere.
        let p = self.few.as_ref().map_or(p, |few| {
            let rises = few.verdict.rises;
            p.min(2.0 * if line.slope > 0.0 { 1.0 - rises } else { rises })
        });
        if little || p > P_SENSE || line.slope == 0.0 {
            let (lower, upper) = ends_of(self.given.drive);
            let (low, high) = ends_of(self.given.measured);
            return Err(FitError::NoMotion {
                lower,
                upper,
                low,
                high,
            });
        }
        Ok(Sense {
            trend: if line.slope > 0.0 {
                Trend::Rising
            } else {
                Trend::Falling
            },
            certainty: 1.0 - 0.5 * p,
        })
    }

    fn lost_motion(&self) -> LostMotion {
        let model = self.found.model;
        let no = |reason| LostMotion::NotDeterminable { reason };
        if self.prepared.readings.iter().all(|r| r.s() == 0.0) {
            return no(NotDeterminable::ApproachUnknown);
        }
        if !self.prepared.two_sided {
            return no(NotDeterminable::OneSide);
        }
        if !self.found.shows_lost_motion(&self.prepared.readings) {
            return no(NotDeterminable::NoCommonStretch);
        }
        self.measured(&model, self.found.variance)
    }

    /// Lost motion of a table that goes there and back and shows none beyond doubt: it changes nothing else in the fit.
    fn lost_motion_by_order(&self) -> Option<LostMotion> {
        let (model, variance) = self
            .at_rest
            .then(|| motion_by_order(self.given, self.prepared, &self.found))??;
        Some(self.measured(&model, variance))
    }

    fn measured(&self, model: &Model, variance: f64) -> LostMotion {
        let reversal = model.reversal();
        // Readings of one side that were all rounded alike share the error, and so does their mean.
        let rounded = self.rounded_alike(model, 1.0) + self.rounded_alike(model, -1.0);
        let u = (variance * model.reversal_variance() + rounded).sqrt();
        let slope = model.slope().abs() / self.prepared.half;
        LostMotion::Measured {
            value: reversal.abs(),
            u,
            reversal,
            drive: reversal.abs() / slope,
            u_drive: u / slope,
        }
    }

    /// A joint that surely leads its drive, by the sides noted.
    fn look_at_sides(&mut self, lost_motion: &LostMotion) {
        let &LostMotion::Measured {
            u,
            reversal,
            drive,
            u_drive,
            ..
        } = lost_motion
        else {
            self.look_for_blanks();
            return;
        };
        let lead = reversal * self.found.model.slope().signum();
        if self.given.approach.is_some() && lead > SURELY_LEADS * u {
            self.warnings.push(Warning::SidesExchanged {
                lead: drive,
                u: u_drive,
            });
        }
    }

    /// Sides that were left out where lost motion could not be determined.
    fn look_for_blanks(&mut self) {
        let sides = self.given.approach.unwrap_or_default();
        let blank = sides.iter().filter(|side| side.as_str().is_none()).count();
        // Merged cells leave most of them blank; a first reading may well have no side.
        if !self.sides_inferred && sides.len() <= 2 * blank && blank < sides.len() {
            let of = sides.len();
            self.warnings.push(Warning::SidesMissing { readings: blank, of });
        }
    }

    /// What the hypotheses about few readings say of an end, where they decide it.
    pub(super) fn decided(&self, upper: bool) -> Option<FewEnd> {
        self.few.as_ref().and_then(|few| few.end(upper)).cloned()
    }

    /// Jumps, and scatter that nothing explains.
    fn warn_of_misfit(&mut self, residual_sd: f64) {
        let jump = self.few.as_ref().and_then(|few| few.verdict.jump);
        let jump = jump.filter(|jump| jump.p > P_JUMP);
        if let Some(jump) = jump {
            let [from, to] = jump.between;
            self.warnings.push(Warning::Jump {
                from,
                to,
                size: jump.size,
                p: jump.p,
            });
        }
        let resolution = self.prepared.step;
        let telling = telling(resolution, self.prepared.y_range);
        if telling && self.given.u.is_none() && residual_sd > LOOSE * resolution {
            self.warnings.push(Warning::ScatterAboveResolution {
                residual_sd,
                resolution,
            });
            return;
        }
        let range = self.prepared.y_range;
        if jump.is_none() && residual_sd > (WIDE * range).max(LOOSE * resolution) {
            self.warnings.push(Warning::ScatterWide { residual_sd, range });
        }
    }

    /// A resolution that the values do not bear out: they lie on far finer steps, coarse enough to be no accident.
    fn warn_of_resolution(&mut self) {
        let span = self.prepared.y_range;
        if let Some(resolution) = self.options.resolution
            && let Some(step) = step_along(self.given.drive, self.given.measured, span)
            && telling(step, span)
            && resolution >= COARSE * step
            && !lie_on(self.given.measured, resolution)
        {
            self.warnings.push(Warning::ResolutionAboveSteps { resolution, step });
        }
    }

    /// Which readings to take next.
    fn advice(&self, lower: &End, upper: &End, line: &LineFit, residual_sd: f64) -> Option<Advice> {
        if line.slope == 0.0 {
            return None;
        }
        let (first, last) = ends_of(self.given.drive);
        let known = |side: Side, end: &End, outermost: f64| {
            let few = self.decided(side == Side::Upper);
            let stop = few.as_ref().and_then(|few| few.stop);
            let placed = || end.u.filter(|_| end.kind == EndKind::Contact).map(|u| (end.at, u));
            Known {
                side,
                end: *end,
                stop: stop.map(|stop| (stop.at, stop.u)).or_else(placed),
                doubtful: few.as_ref().is_some_and(FewEnd::doubtful),
                on: stop.map_or(end.readings_beyond, |stop| stop.rows),
                outermost,
            }
        };
        let between: Vec<f64> = self
            .kept()
            .filter(|r| between(&self.found.model, r))
            .map(|r| self.drive(r.x))
            .collect();
        let sorted = &self.prepared.readings;
        let steps = sorted.iter().zip(sorted.iter().skip(1)).filter(|(a, b)| a.x != b.x);
        let step = (last - first) / steps.count().max(1) as f64;
        let sd = residual_sd.max(self.prepared.least_sd) / line.slope.abs();
        let ends = [known(Side::Lower, lower, first), known(Side::Upper, upper, last)];
        advise(ends, between, sd, last - first, step)
    }

    fn goodness(&self, repeats: Option<(f64, usize, f64)>) -> Goodness {
        let model: Model = self.found.model;
        let (mut w, mut wy) = (0.0, 0.0);
        for r in self.kept() {
            w += r.w;
            wy += r.w * r.y;
        }
        let mean = wy / w;
        let total: f64 = self.kept().map(|r| r.w * (r.y - mean) * (r.y - mean)).sum();
        let p_lack_of_fit = match repeats {
            Some((_, pure_dof, pure)) if model.dof() > pure_dof && pure > 0.0 => {
                let lack_dof = (model.dof() - pure_dof) as f64;
                let lack = (model.sse - pure).max(0.0) / lack_dof;
                f_tail(lack / (pure / pure_dof as f64), lack_dof, pure_dof as f64)
            }
            _ => 1.0,
        };
        Goodness {
            r_squared: if total > 0.0 {
                (1.0 - model.sse / total).max(0.0)
            } else {
                1.0
            },
            sum_of_squares: model.sse,
            p_curvature: self.found.chosen.p_curvature.min(1.0),
            p_lack_of_fit,
        }
    }
}

/// Repeats at one drive and one approach: their plain and weighted squared deviations and degrees of freedom.
fn repeats(sorted: Kept<'_>) -> Option<(f64, usize, f64)> {
    let (mut plain, mut weighted, mut dof) = (0.0, 0.0, 0);
    let mut rest = sorted.iter();
    while let Some(x) = rest.clone().next().map(|r| r.x) {
        let at = rest.clone().take_while(move |r| r.x == x);
        let count = at.clone().count();
        // The next place begins behind these.
        let _ = rest.nth(count - 1);
        for side in [-1, 0, 1] {
            let group = || at.clone().filter(|r| r.side == side);
            let count = group().count();
            if count < 2 {
                continue;
            }
            let w: f64 = group().map(|r| r.w).sum();
            let mean = group().map(|r| r.y).sum::<f64>() / count as f64;
            let weighted_mean = group().map(|r| r.w * r.y).sum::<f64>() / w;
            for r in group() {
                plain += (r.y - mean) * (r.y - mean);
                weighted += r.w * (r.y - weighted_mean) * (r.y - weighted_mean);
            }
            dof += count - 1;
        }
    }
    (dof > 0).then_some((plain, dof, weighted))
}
