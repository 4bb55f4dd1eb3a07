//! From a found model to limits, evidence, uncertainties and warnings in the user's units.

use super::error::FitError;
use super::interval::{fieller, profile};
use super::limits::{Found, Prepared, between, common_stretch, find, first_look};
use super::line::{LineFit, fit_line};
use super::model::{Layout, Model, Motion, Part, Reading, polish};
use super::outcome::{
    End, EndKind, Estimate, Goodness, LimitFit, LostMotion, NotDeterminable, RejectReason, Rejected, Repeatability,
    Sense, Trend,
};
use super::quantile::{f_tail, t_quantile, t_two_sided};
use super::readings::{Approach, ContactMark, FitOptions, Readings};
use super::start::median;
use super::stops::{Marked, Suspect};
use super::sums::{Point, polynomial, search};
use super::warning::Warning;
use std::vec::Vec;

/// Readings without which neither a line nor its uncertainty can be said.
const FEWEST_READINGS: usize = 4;
/// Different drive angles without which a stop cannot be told from a slope.
const FEWEST_COMMANDS: usize = 3;
/// Motion between the knees, in residual standard deviations, below which nothing is said to have moved.
const LEAST_MOTION: f64 = 5.0;
/// Probability below which the slope has a sign.
const P_SENSE: f64 = 0.01;
/// Probability below which a stop is said to give.
const P_GIVE: f64 = 0.001;
/// Share of rejected readings that is worth a warning.
const MANY_REJECTED: f64 = 0.15;
/// Readings from which a recording in motion can be told from chance.
const FEWEST_IN_TIME: usize = 50;
/// Von Neumann ratio below which neighbours in time are off together; at rest it is 2 and, with 50 readings, below 1.3
/// once in a hundred times. A recording in motion lies far below.
const IN_MOTION: f64 = 0.3;
/// Median step of the drive, as a share of the sweep, above which nobody took the readings on the move.
const SMALL_STEP: f64 = 0.015;
/// Residuals, as a share of the measured range, below which a lag does no harm where no stop is claimed.
const HARMLESS: f64 = 0.01;
/// Residuals below this share of the measured range are rounding.
const ROUNDING: f64 = 1e-9;
/// Half widths of the profile likelihood's interval, so that it covers what it promises: whether a reading next to a
/// knee lies on the stop is itself uncertain, which no quantile knows of. Found in simulation (`benches/simulation.rs`).
const WIDENING: f64 = 1.05;
/// Standard deviations within which a reading left out may have been a good one.
const NARROWLY: f64 = 6.0;
/// Scatter in units of the resolution below which repeats do not average the resolution out.
const UNDITHERED: f64 = 0.5;

pub(super) fn assess(given: &Readings<'_>, options: &FitOptions) -> Result<LimitFit, FitError> {
    let prepared = prepare(given, options)?;
    let marks = Marks::of(given, &prepared);
    let found = match find(&prepared, marks.insisted()) {
        Ok(found) => {
            in_motion(given, &prepared, found.chosen.stops() > 0, |r| {
                found.model.expected(r.x, r.s)
            })?;
            found
        }
        Err(error) => {
            // What nothing agrees on may have been taken on the move: that is the better advice.
            let first = first_look(&prepared);
            in_motion(given, &prepared, true, |r| {
                first.map_or(0.0, |start| start.expected(r.x))
            })?;
            return Err(error);
        }
    };
    Assessment {
        given,
        options,
        prepared: &prepared,
        found,
        marks,
        warnings: Vec::new(),
    }
    .conclude()
}

fn ends_of(values: &[f64]) -> (f64, f64) {
    values
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), &v| {
            (low.min(v), high.max(v))
        })
}

fn prepare(given: &Readings<'_>, options: &FitOptions) -> Result<Prepared, FitError> {
    let (lower, upper) = ends_of(given.drive);
    let n = given.drive.len();
    if n < FEWEST_READINGS {
        return Err(FitError::TooFewReadings {
            given: n,
            needed: FEWEST_READINGS,
            lower,
            upper,
        });
    }
    let (centre, half) = (0.5 * (lower + upper), 0.5 * (upper - lower));
    let (low, high) = ends_of(given.measured);
    let level = 0.5 * (low + high);
    let step = options.resolution.unwrap_or(0.0);
    // Rectangular distribution of full width `step`: GUM F.2.2.1.
    let step_variance = step * step / 12.0;
    let mut readings: Vec<Reading> = given
        .drive
        .iter()
        .zip(given.measured)
        .enumerate()
        .map(|(index, (&drive, &measured))| Reading {
            x: if half > 0.0 { (drive - centre) / half } else { 0.0 },
            y: measured - level,
            w: given
                .u
                .and_then(|u| u.get(index))
                .map_or(1.0, |u| 1.0 / (u * u + step_variance)),
            s: given
                .approach
                .and_then(|a| a.get(index))
                .copied()
                .unwrap_or(Approach::Unknown)
                .sign(),
            index,
        })
        .collect();
    // Equal drives by what was measured: the order given makes no difference to any result.
    readings.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)).then(a.s.total_cmp(&b.s)));
    let mut commands = 0;
    let mut last = f64::NAN;
    for r in &readings {
        if r.x != last {
            commands += 1;
            last = r.x;
        }
    }
    if commands < FEWEST_COMMANDS {
        return Err(FitError::CommandsEqual {
            distinct: commands,
            needed: FEWEST_COMMANDS,
            lower,
            upper,
        });
    }
    if low == high {
        return Err(FitError::NoMotion {
            lower,
            upper,
            low,
            high,
        });
    }
    let two_sided = [1.0, -1.0].iter().all(|&s| readings.iter().any(|r| r.s == s));
    Ok(Prepared {
        readings,
        centre,
        half,
        level,
        y_range: high - low,
        least_sd: if given.u.is_some() { 1.0 } else { step_variance.sqrt() },
        two_sided,
    })
}

/// Drive angles at which somebody noted contact, the innermost of each end.
#[derive(Clone, Copy)]
struct Marks {
    lower: Option<f64>,
    upper: Option<f64>,
}

impl Marks {
    fn of(given: &Readings<'_>, prepared: &Prepared) -> Self {
        let mut marks = Self {
            lower: None,
            upper: None,
        };
        for (&drive, mark) in given.drive.iter().zip(given.contact.unwrap_or(&[])) {
            let upper = match mark {
                ContactMark::None => continue,
                ContactMark::Lower => false,
                ContactMark::Upper => true,
                ContactMark::Here => drive > prepared.centre,
            };
            if upper {
                marks.upper = Some(marks.upper.map_or(drive, |m: f64| m.min(drive)));
            } else {
                marks.lower = Some(marks.lower.map_or(drive, |m: f64| m.max(drive)));
            }
        }
        marks
    }

    fn insisted(&self) -> Marked {
        Marked {
            lower: self.lower.is_some(),
            upper: self.upper.is_some(),
        }
    }
}

/// Refuses readings whose neighbours in time are off the model together.
///
/// The von Neumann ratio (Annals of Mathematical Statistics 12 (1941) 367) of the residuals in the order given: mean
/// square successive difference over variance. Only for small steps of the drive: a sweep with dwells has large ones;
/// and not where the model follows closely and claims no stop: there a lag does no harm, and it may be a fine bend.
fn in_motion(
    given: &Readings<'_>,
    prepared: &Prepared,
    stops: bool,
    expected: impl Fn(&Reading) -> f64,
) -> Result<(), FitError> {
    let n = given.drive.len();
    if n < FEWEST_IN_TIME {
        return Ok(());
    }
    let mut steps: Vec<f64> = given
        .drive
        .iter()
        .zip(given.drive.iter().skip(1))
        .map(|(a, b)| (b - a).abs())
        .collect();
    let step = median(&mut steps).unwrap_or(0.0);
    if step > SMALL_STEP * 2.0 * prepared.half {
        return Ok(());
    }
    let mut rest = std::vec![0.0; n];
    for r in &prepared.readings {
        if let Some(cell) = rest.get_mut(r.index) {
            *cell = r.y - expected(r);
        }
    }
    let squares: f64 = rest.iter().map(|r| r * r).sum();
    let differences: f64 = rest
        .iter()
        .zip(rest.iter().skip(1))
        .map(|(a, b)| (b - a) * (b - a))
        .sum();
    let least = if stops { ROUNDING } else { HARMLESS } * prepared.y_range;
    if squares <= least * least * n as f64 {
        return Ok(());
    }
    let ratio = differences / squares;
    if ratio < IN_MOTION {
        return Err(FitError::InMotion { ratio });
    }
    Ok(())
}

struct Assessment<'a> {
    given: &'a Readings<'a>,
    options: &'a FitOptions,
    prepared: &'a Prepared,
    found: Found,
    marks: Marks,
    warnings: Vec<Warning>,
}

impl Assessment<'_> {
    fn drive(&self, x: f64) -> f64 {
        self.prepared.centre + self.prepared.half * x
    }

    fn kept(&self) -> impl Iterator<Item = &Reading> {
        self.prepared
            .readings
            .iter()
            .zip(&self.found.kept)
            .filter(|(_, kept)| **kept)
            .map(|(r, _)| r)
    }

    fn conclude(mut self) -> Result<LimitFit, FitError> {
        self.refute_plateaus();
        self.try_give();
        let model = self.found.model;
        let dof = model.dof();
        let line = self.line_between()?;
        let sense = self.sense(&line)?;
        let lost_motion = self.lost_motion();
        let lower = self.end(false, &lost_motion);
        let upper = self.end(true, &lost_motion);
        let travel = if lower.travel < upper.travel {
            Some([lower.travel, upper.travel])
        } else {
            self.warnings.push(Warning::NoTravel {
                lower: lower.travel,
                upper: upper.travel,
            });
            None
        };
        let rejected = self.rejected();
        if rejected.len() as f64 > MANY_REJECTED * self.given.drive.len() as f64 {
            self.warnings.push(Warning::ManyRejected {
                rejected: rejected.len(),
                readings: self.given.drive.len(),
            });
        }
        let goodness = self.goodness();
        let repeatability = repeats(self.kept().copied()).map(|(sum, dof, _)| Repeatability {
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
            lost_motion,
            repeatability,
            line,
            goodness,
            rejected,
            warnings: self.warnings,
            readings: self.given.drive.len(),
            confidence: self.options.confidence,
            curve,
            curve_origin: self.prepared.centre,
        })
    }

    /// Standard deviation of the retained readings, in measured units.
    fn residual_sd(&self) -> f64 {
        let dof = self.found.model.dof().max(1) as f64;
        if self.given.u.is_none() {
            return (self.found.model.sse / dof).sqrt();
        }
        let sum: f64 = self
            .kept()
            .map(|r| {
                let rest = r.y - self.found.model.expected(r.x, r.s);
                rest * rest
            })
            .sum();
        (sum / dof).sqrt()
    }

    /// Variance of a reading of unit weight, counting readings left out so narrowly that they may have been good ones.
    fn cautious_variance(&self) -> f64 {
        let model = self.found.model;
        let (mut sum, mut count) = (0.0, 0.0);
        for (r, _) in self
            .prepared
            .readings
            .iter()
            .zip(&self.found.kept)
            .filter(|(_, kept)| !**kept)
        {
            let rest = r.y - model.expected(r.x, r.s);
            let squared = rest * rest * r.w;
            if squared <= NARROWLY * NARROWLY * self.found.variance {
                sum += squared;
                count += 1.0;
            }
        }
        let dof = model.dof().max(1) as f64;
        (self.found.variance * dof + sum) / (dof + count)
    }

    /// Removes a stop that readings went past: enough of those left out there lie further, near where the joint would
    /// have gone without it.
    fn refute_plateaus(&mut self) {
        for upper in [false, true] {
            let model = self.found.model;
            let knee = if upper { model.knees.1 } else { model.knees.0 };
            if !knee.is_finite() {
                continue;
            }
            let sd = self.found.variance.sqrt();
            let (level, _) = if upper {
                model.upper_level()
            } else {
                model.lower_level()
            };
            // Beyond the stop: the way the measured value goes there.
            let way = if (model.slope() > 0.0) == upper { 1.0 } else { -1.0 };
            let (mut on, mut held, mut past, mut near) = (0, 0, 0, 0);
            for (r, kept) in self.prepared.readings.iter().zip(&self.found.kept) {
                let there = model.part(r.x, r.s) == if upper { Part::OnUpper } else { Part::OnLower };
                if !there {
                    continue;
                }
                on += 1;
                held += usize::from(*kept);
                let sigma = sd / r.w.sqrt();
                if !kept && way * (r.y - level) > LEAST_MOTION * sigma {
                    past += 1;
                    let free = polynomial(model.curve(), r.x);
                    if (r.y - free).abs() < LEAST_MOTION * sigma {
                        near += 1;
                    }
                }
            }
            if near >= 2 || (near >= 1 && 3 * near >= held) || (past >= 3 && 3 * past >= on) {
                self.warnings.push(Warning::PlateauRefuted {
                    at: self.drive(knee),
                    readings: past,
                });
                let suspect = Some(Suspect { knee, readings: on });
                if upper {
                    self.found.chosen.suspect_upper = suspect;
                    self.found.chosen.upper = f64::INFINITY;
                } else {
                    self.found.chosen.suspect_lower = suspect;
                    self.found.chosen.lower = f64::NEG_INFINITY;
                }
            }
        }
    }

    /// Lets stops give where the readings behind them surely do.
    fn try_give(&mut self) {
        let Found { model, .. } = self.found;
        let readings: Vec<Reading> = self.kept().copied().collect();
        let mut layout = model.layout;
        let mut current = model;
        for upper in [false, true] {
            let stop = if upper { layout.upper } else { layout.lower };
            if !stop {
                continue;
            }
            let trial = Layout {
                give_lower: layout.give_lower || !upper,
                give_upper: layout.give_upper || upper,
                ..layout
            };
            let Some(soft) = polish(&readings, trial, current.knees, current.shift()) else {
                continue;
            };
            if soft.dof() < 2 {
                continue;
            }
            let variance = self.prepared.variance(&soft);
            let (ratio, u) = soft.give(upper);
            let gain = (current.sse - soft.sse) / variance;
            let surely = f_tail(gain, 1.0, soft.dof() as f64) < P_GIVE;
            if surely && ratio > 0.0 && ratio < 0.5 && u.is_finite() {
                layout = trial;
                current = soft;
            }
        }
        if layout != model.layout {
            self.found.model = current;
            self.found.variance = self.prepared.variance(&current);
            for (upper, give, stop) in [
                (false, layout.give_lower, self.found.chosen.lower.is_finite()),
                (true, layout.give_upper, self.found.chosen.upper.is_finite()),
            ] {
                if give && stop {
                    let knee = if upper { current.knees.1 } else { current.knees.0 };
                    self.warnings.push(Warning::Soft {
                        at: self.drive(knee),
                        ratio: current.give(upper).0,
                    });
                }
            }
        }
    }

    /// The plain least-squares line through the retained readings between the stops.
    fn line_between(&self) -> Result<LineFit, FitError> {
        let model = self.found.model;
        let mut x = Vec::new();
        let mut y = Vec::new();
        for r in self.kept().filter(|r| between(&model, r)) {
            if let (Some(&drive), Some(&measured)) = (self.given.drive.get(r.index), self.given.measured.get(r.index)) {
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
        let p = if t.is_finite() {
            t_two_sided(t, line.dof as f64)
        } else {
            0.0
        };
        let few = moved <= LEAST_MOTION * sd / weight.sqrt();
        if few || p > P_SENSE || line.slope == 0.0 {
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
        if self.prepared.readings.iter().all(|r| r.s == 0.0) {
            return no(NotDeterminable::ApproachUnknown);
        }
        if !self.prepared.two_sided {
            return no(NotDeterminable::OneSide);
        }
        if model.layout.motion == Motion::None
            || !common_stretch(&self.prepared.readings, &self.found.kept, model.knees)
        {
            return no(NotDeterminable::NoCommonStretch);
        }
        let reversal = model.reversal();
        let u = (self.found.variance * model.reversal_variance()).sqrt();
        let slope = model.slope().abs() / self.prepared.half;
        LostMotion::Measured {
            value: reversal.abs(),
            u,
            reversal,
            drive: reversal.abs() / slope,
            u_drive: u / slope,
        }
    }

    fn end(&mut self, upper: bool, lost_motion: &LostMotion) -> End {
        let stop = if upper {
            self.found.chosen.upper.is_finite()
        } else {
            self.found.chosen.lower.is_finite()
        };
        let mark = if upper { self.marks.upper } else { self.marks.lower };
        if stop {
            self.contact(upper, mark, lost_motion)
        } else if let Some(mark) = mark {
            self.marked(upper, mark, lost_motion)
        } else {
            self.reached(upper)
        }
    }

    /// A contact that the readings show.
    fn contact(&mut self, upper: bool, mark: Option<f64>, lost_motion: &LostMotion) -> End {
        let model = self.found.model;
        let dof = model.dof().max(1) as f64;
        let t = t_quantile(0.5 + 0.5 * self.options.confidence, dof);
        let reach = WIDENING * WIDENING * t * t * self.cautious_variance();
        let points: Vec<Point> = self.found.points(self.prepared);
        let gives = if upper {
            model.layout.give_upper
        } else {
            model.layout.give_lower
        };
        let [mut low, mut high] = if gives {
            fieller(&points, &model, upper, reach)
        } else {
            let search = search(&points, model.layout.degree);
            profile(&points, search.as_ref(), &model, upper, reach)
        };
        let knee = if upper { model.knees.1 } else { model.knees.0 };
        let beyond = |p: &&Point| if upper { p.x >= knee } else { p.x <= knee };
        let weight: f64 = points.iter().filter(beyond).map(|p| p.w).sum();
        let mut variance = self.found.variance * model.knee_variance(upper, weight);
        // Readings that all fall on one step of the sensor share its error: it does not average out.
        let step = self.options.resolution.unwrap_or(0.0);
        if self.residual_sd() < UNDITHERED * step {
            let slope = model.slope_at(knee);
            let shared = step * step / 12.0 / (slope * slope);
            variance += shared;
            low = knee - ((knee - low).powi(2) + t * t * shared).sqrt();
            high = knee + ((high - knee).powi(2) + t * t * shared).sqrt();
        }
        let at = self.drive(knee);
        let interval = [self.drive(low), self.drive(high)];
        let margin = self.options.guard + 0.5 * lost_motion.in_drive();
        let (level, level_variance) = if upper {
            model.upper_level()
        } else {
            model.lower_level()
        };
        if let Some(mark) = mark
            && (mark < interval[0] || mark > interval[1])
        {
            // Beyond the contact is where a careful hand notes it; inside, or a whole guard behind, is news.
            let behind = if upper { mark - at } else { at - mark };
            if behind < 0.0 || behind > self.options.guard {
                self.warnings.push(Warning::MarkDisagrees { mark, at });
            }
        }
        let undithered = if self.residual_sd() < UNDITHERED * step {
            step * step / 12.0
        } else {
            0.0
        };
        End {
            kind: EndKind::Contact,
            at,
            u: Some(self.prepared.half * variance.sqrt()),
            interval: Some(interval),
            guard: self.options.guard,
            travel: if upper {
                interval[0] - margin
            } else {
                interval[1] + margin
            },
            level: Some(Estimate {
                value: self.prepared.level + level,
                u: (self.found.variance * level_variance + undithered).sqrt(),
            }),
            readings_beyond: points.iter().filter(beyond).count(),
            marked: mark.is_some(),
        }
    }

    /// A contact that only a hand noted: it lies between the last clear reading and the mark, anywhere alike.
    fn marked(&mut self, upper: bool, mark: f64, lost_motion: &LostMotion) -> End {
        let clear = self
            .kept()
            .map(|r| self.drive(r.x))
            .filter(|d| if upper { *d < mark } else { *d > mark })
            .fold(None, |best: Option<f64>, d| {
                Some(match best {
                    Some(b) if upper => b.max(d),
                    Some(b) => b.min(d),
                    None => d,
                })
            })
            .unwrap_or(mark);
        let interval = if upper { [clear, mark] } else { [mark, clear] };
        let margin = self.options.guard + 0.5 * lost_motion.in_drive();
        End {
            kind: EndKind::Contact,
            at: mark,
            // Rectangular distribution over the gap: GUM 4.3.7.
            u: Some((interval[1] - interval[0]) / 12f64.sqrt()),
            interval: Some(interval),
            guard: self.options.guard,
            travel: if upper { clear - margin } else { clear + margin },
            level: None,
            readings_beyond: 0,
            marked: true,
        }
    }

    /// No contact: as far as the joint was clear.
    fn reached(&mut self, upper: bool) -> End {
        let suspect = if upper {
            self.found.chosen.suspect_upper
        } else {
            self.found.chosen.suspect_lower
        };
        let clear = |x: f64| match suspect {
            Some(s) if upper => x <= s.knee,
            Some(s) => x >= s.knee,
            None => true,
        };
        let model = self.found.model;
        let furthest = self
            .kept()
            .filter(|r| clear(r.x) && between(&model, r))
            .map(|r| self.given.drive.get(r.index).copied().unwrap_or_default())
            .fold(None, |best: Option<f64>, d| {
                Some(match best {
                    Some(b) if upper => b.max(d),
                    Some(b) => b.min(d),
                    None => d,
                })
            });
        let at = furthest.unwrap_or(self.prepared.centre);
        if let Some(s) = suspect {
            let at = self.drive(s.knee);
            let refuted = self
                .warnings
                .iter()
                .any(|w| matches!(w, Warning::PlateauRefuted { at: place, .. } if *place == at));
            if !refuted {
                self.warnings.push(Warning::TooFewBeyond {
                    at,
                    readings: s.readings,
                });
            }
        }
        End {
            kind: EndKind::Reached,
            at,
            u: None,
            interval: None,
            guard: 0.0,
            travel: at,
            level: None,
            readings_beyond: 0,
            marked: false,
        }
    }

    fn rejected(&self) -> Vec<Rejected> {
        let model = self.found.model;
        let mut out: Vec<Rejected> = self
            .prepared
            .readings
            .iter()
            .zip(&self.found.kept)
            .filter(|(_, kept)| !**kept)
            .map(|(r, _)| Rejected {
                index: r.index,
                drive: self.given.drive.get(r.index).copied().unwrap_or_default(),
                measured: self.given.measured.get(r.index).copied().unwrap_or_default(),
                residual: r.y - model.expected(r.x, r.s),
                reason: if between(&model, r) {
                    RejectReason::OffTheLine
                } else {
                    RejectReason::OffTheStop
                },
            })
            .collect();
        out.sort_by_key(|r| r.index);
        out
    }

    fn goodness(&self) -> Goodness {
        let model: Model = self.found.model;
        let (mut w, mut wy) = (0.0, 0.0);
        for r in self.kept() {
            w += r.w;
            wy += r.w * r.y;
        }
        let mean = wy / w;
        let total: f64 = self.kept().map(|r| r.w * (r.y - mean) * (r.y - mean)).sum();
        let p_lack_of_fit = match repeats(self.kept().copied()) {
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
            p_curvature: self.found.chosen.p_curvature.clamp_to_one(),
            p_lack_of_fit,
        }
    }
}

trait ClampToOne {
    fn clamp_to_one(self) -> Self;
}

impl ClampToOne for f64 {
    fn clamp_to_one(self) -> Self {
        if self < 1.0 { self } else { 1.0 }
    }
}

/// Repeats at one drive and one approach: their plain and weighted squared deviations and degrees of freedom.
fn repeats(readings: impl Iterator<Item = Reading>) -> Option<(f64, usize, f64)> {
    let mut sorted: Vec<Reading> = readings.collect();
    sorted.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.s.total_cmp(&b.s)));
    let (mut plain, mut weighted, mut dof) = (0.0, 0.0, 0);
    for group in sorted.chunk_by(|a, b| a.x == b.x && a.s == b.s) {
        if group.len() < 2 {
            continue;
        }
        let w: f64 = group.iter().map(|r| r.w).sum();
        let mean = group.iter().map(|r| r.y).sum::<f64>() / group.len() as f64;
        let weighted_mean = group.iter().map(|r| r.w * r.y).sum::<f64>() / w;
        for r in group {
            plain += (r.y - mean) * (r.y - mean);
            weighted += r.w * (r.y - weighted_mean) * (r.y - weighted_mean);
        }
        dof += group.len() - 1;
    }
    (dof > 0).then_some((plain, dof, weighted))
}
