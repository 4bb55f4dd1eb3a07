//! The two ends of the drive angles with their evidence: contact, noted contact, or clear.

use super::assess::Assessment;
use super::clean::Clean;
use super::few::{FewEnd, MOST_LEFT_OUT};
use super::interval::{allowing_give, fieller, profile};
use super::kept::Point;
use super::level::{LevelEnd, level_end};
use super::model::{Model, Part, Reading, between};
use crate::fit::estimate::Estimate;
use crate::fit::outcome::{End, EndKind, LostMotion};
use crate::fit::statistics::quantile::t_quantile;
use crate::fit::warning::Warning;
use crate::math::{cos, hypot, sin};
use std::vec::Vec;

/// Half widths of the profile likelihood's interval, so that it covers what it promises: whether a reading next to a
/// knee lies on the stop is itself uncertain, which no quantile knows of. Found in simulation (`benches/simulation.rs`).
const WIDENING: f64 = 1.05;
/// Variance of the readings, in squares of the step, that may be rounding alone: twice what it is on average, since it varies
/// with the places that a sweep stops at.
const SURELY_ROUNDING: f64 = 1.0 / 6.0;
/// Harmonics of the rounding error beyond which the rest of its variance is below one part in a hundred.
const HARMONICS: u32 = 32;
/// Harmonics beyond which the rest is one part in fifteen; and readings by which they are judged.
const FEW_HARMONICS: u32 = 8;
const MOST_PLACES: usize = 128;
/// Variance, in squares of the step, that counts as none.
const NO_VARIANCE: f64 = 1e-9;
/// Readings left out beyond the furthest clear one, all short, that may be a stop rather than misreadings.
const RUN_SHORT: usize = 2;
/// Readings left out as short that outweigh those kept beyond the same place, if they are more: misreadings that happen to
/// lie near the line go on beyond a stop, but seldom so many.
const MANY_SHORT: usize = 3;
/// Share of its slope at which a joint may move on behind a stop that gives.
const MOST_GIVE: f64 = 0.2;
/// How many times as many readings on a level as agree on one further inwards outweigh them.
const OUTWEIGHED: usize = 2;
/// Standard deviations by which a reading on a stop may lie back of the last one that follows the line.
const NOT_BACK: f64 = 4.0;
/// Readings left out elsewhere, beside [`MOST_LEFT_OUT`] of all, up to which the outermost ones may be held by a stop: one at the other end.
const ELSEWHERE: f64 = 1.0;

impl Assessment<'_> {
    pub(super) fn end(&mut self, upper: bool, lost_motion: &LostMotion, clean: &Clean<'_>) -> End {
        let stop = if upper {
            self.found.chosen.upper.is_finite()
        } else {
            self.found.chosen.lower.is_finite()
        };
        let mark = if upper { self.marks.upper } else { self.marks.lower };
        let few = self.decided(upper);
        let end = if let Some(few) = &few {
            self.of_few(upper, few, lost_motion)
        } else {
            self.by_model(upper, stop, mark, lost_motion, clean)
        };
        if end.kind == EndKind::Clear {
            self.last_disagree(upper, end.at);
        }
        end
    }

    /// An end as the model of all readings has it.
    fn by_model(
        &mut self,
        upper: bool,
        stop: bool,
        mark: Option<f64>,
        lost_motion: &LostMotion,
        clean: &Clean<'_>,
    ) -> End {
        let contact = if stop {
            self.contact(upper, mark, lost_motion, clean)
        } else {
            None
        };
        if let Some(contact) = contact {
            let inner = if mark.is_none() {
                self.inner_level(upper, &contact, lost_motion)
            } else {
                None
            };
            if let Some(inner) = inner {
                return inner;
            }
            let by_itself = mark
                .is_none()
                .then(|| self.levels_by_itself(upper, &contact, lost_motion, &clean.points));
            by_itself.flatten().unwrap_or(contact)
        } else if let Some(mark) = mark {
            self.noted(upper, mark, lost_motion)
        } else {
            self.clear(upper, lost_motion)
        }
    }

    /// An end at which readings that were left out agree on a place further inwards than that of a contact, beyond all that follow the line:
    /// of two levels no joint moves past the inner one, whichever of them was misread. None where far more lie on the outer one.
    fn inner_level(&mut self, upper: bool, contact: &End, lost_motion: &LostMotion) -> Option<End> {
        let model = self.found.model;
        let way = self.way(upper);
        let (level, _) = if upper {
            model.upper_level()
        } else {
            model.lower_level()
        };
        let sd = self.found.variance.sqrt();
        let tolerance = |r: &Reading| (NOT_BACK * sd / r.w.sqrt()).max(self.prepared.step);
        let out = if upper { 1.0 } else { -1.0 };
        // A stop that gives is one level, however much its readings rise with the drive. One next to the knee may as well lie on it.
        let knee = if upper { model.knees.1 } else { model.knees.0 };
        let given_way = MOST_GIVE * model.slope_at(knee).abs() * (1.0 - out * knee);
        let is_short = |r: &Reading| way * (level - r.y) > tolerance(r).max(given_way);
        let follows = || self.kept().filter(|r| between(&model, r) && is_short(r));
        let last = follows().max_by(|a, b| (out * a.x).total_cmp(&(out * b.x)))?;
        let furthest = follows().map(|r| way * r.y).fold(f64::NEG_INFINITY, f64::max);
        let left_out = self.prepared.readings.iter().zip(&self.found.kept).enumerate();
        let short: Vec<(usize, &Reading)> = left_out
            .filter(|(_, (r, kept))| !**kept && out * r.x > out * last.x && is_short(r))
            .map(|(i, (r, _))| (i, r))
            .collect();
        let agreeing = |with: &Reading| {
            let near = |r: &&(usize, &Reading)| (r.1.y - with.y).abs() <= tolerance(r.1);
            short.iter().filter(near).map(|(i, _)| *i).collect::<Vec<usize>>()
        };
        let held = short.iter().filter(|(_, r)| furthest <= way * r.y + tolerance(r));
        let held = held.map(|(_, r)| agreeing(r)).max_by_key(Vec::len)?;
        if held.len() < RUN_SHORT || OUTWEIGHED * held.len() < contact.readings_beyond {
            return None;
        }
        let drives = held
            .iter()
            .filter_map(|i| self.prepared.readings.get(*i))
            .map(|r| self.drive_of(r));
        let short_at = drives.min_by(|a, b| (out * a).total_cmp(&(out * b)))?;
        let at = self.drive_of(last);
        let readings = held.len();
        self.warnings.push(Warning::FellShort { at, short_at, readings });
        self.stalled.extend(held);
        let margin = self.options.guard + 0.5 * lost_motion.in_drive();
        Some(End {
            kind: EndKind::Stalled,
            short_at: Some(short_at),
            guard: self.options.guard,
            travel: at - out * margin,
            readings_beyond: readings,
            ..End::clear(at)
        })
    }

    /// An end of a table of few readings, as all hypotheses together have it.
    fn of_few(&mut self, upper: bool, few: &FewEnd, lost_motion: &LostMotion) -> End {
        let beyond = |drive: f64| {
            let beyond = |d: &&f64| if upper { **d >= drive } else { **d <= drive };
            self.given.drive.iter().filter(beyond).count()
        };
        let end = End::clear(few.follows);
        // No reading knows of a place beyond the last.
        let (first, last) = (self.drive(-1.0), self.drive(1.0));
        let stop = few.stop.filter(|stop| few.contact && stop.u < last - first);
        if let Some(mut stop) = stop {
            let [low, high] = stop.interval;
            let off = self.uneven_at(self.found.model.slope()).map(|x| self.prepared.half * x);
            stop.u = hypot(stop.u, off.sd);
            stop.interval = [(low - off.most).max(first), (high + off.most).min(last)];
            stop.at = if stop.at < first {
                first
            } else if stop.at > last {
                last
            } else {
                stop.at
            };
            let motion = self.few.as_ref().map_or(0.0, |few| few.verdict.motion);
            let margin = self.options.guard + 0.5 * lost_motion.in_drive().max(motion);
            let model = self.found.model;
            let level = if upper { model.layout.upper } else { model.layout.lower };
            let level = level.then(|| {
                let (level, variance) = if upper {
                    model.upper_level()
                } else {
                    model.lower_level()
                };
                Estimate {
                    value: self.prepared.level + level,
                    u: (self.found.variance * variance + undithered(self.prepared.step, self.residual_sd())).sqrt(),
                }
            });
            return End {
                kind: EndKind::Contact,
                at: stop.at,
                u: Some(stop.u),
                interval: Some(stop.interval),
                guard: self.options.guard,
                travel: if upper {
                    stop.interval[0] - margin
                } else {
                    stop.interval[1] + margin
                },
                level,
                readings_beyond: stop.rows,
                ..end
            };
        }
        if let Some(short_at) = few.short_at {
            let readings = beyond(short_at);
            self.warnings.push(Warning::FellShort {
                at: few.follows,
                short_at,
                readings,
            });
            return End {
                kind: EndKind::Stalled,
                short_at: Some(short_at),
                readings_beyond: readings,
                ..end
            };
        }
        if few.doubtful() {
            self.warnings.push(Warning::MayFallShort {
                at: few.follows,
                p: few.chance,
            });
        }
        end
    }

    /// A contact that the readings show; `None` where the model's place for it is beyond them, or hardly a place at all.
    fn contact(&mut self, upper: bool, mark: Option<f64>, lost_motion: &LostMotion, clean: &Clean<'_>) -> Option<End> {
        let model = self.found.model;
        let dof = model.dof().max(1) as f64;
        let t = t_quantile(0.5 + 0.5 * self.options.confidence, dof);
        let reach = WIDENING * WIDENING * t * t * self.cautious_variance();
        let points = &clean.points;
        let gives = if upper {
            model.layout.give_upper
        } else {
            model.layout.give_lower
        };
        let [mut low, mut high] = match &clean.search {
            Some(search) if !gives => profile(points, search.as_ref(), &model, upper, reach),
            _ => fieller(points, &model, upper, reach),
        };
        let knee = if upper { model.knees.1 } else { model.knees.0 };
        let beyond = |p: &Point| if upper { p.x >= knee } else { p.x <= knee };
        let (mut weight, mut weighted) = (0.0, 0.0);
        for p in points.iter().filter(beyond) {
            weight += p.w;
            weighted += p.w * p.x;
        }
        // Written so that NaN is no contact.
        if !(weight > 0.0 && (-1.0..=1.0).contains(&knee)) {
            return None;
        }
        let mut variance = self.found.variance * model.knee_variance(upper, weight);
        // Readings that all fall on one step of the sensor share its error: it does not average out.
        let undithered = undithered(self.prepared.step, self.residual_sd());
        if undithered > 0.0 {
            let slope = model.slope_at(knee);
            let shared = undithered / (slope * slope);
            variance += shared;
            low = knee - ((knee - low).powi(2) + t * t * shared).sqrt();
            high = knee + ((high - knee).powi(2) + t * t * shared).sqrt();
        }
        if let (false, Some(give)) = (gives, self.softer.get(usize::from(upper)).copied().flatten()) {
            [low, high] = allowing_give([low, high], knee, weighted / weight, give, reach);
        }
        // Nobody knows on which side of the line the joint stands there.
        let off = self.uneven_at(model.slope_at(knee));
        variance += off.sd * off.sd;
        low -= off.most;
        high += off.most;
        // No reading knows of a place beyond the last.
        low = low.max(-1.0);
        high = high.min(1.0);
        if !(low <= knee && knee <= high && variance.sqrt() < 2.0) {
            return None;
        }
        let at = self.drive(knee);
        let u = self.prepared.half * variance.sqrt();
        for warning in &mut self.warnings {
            if let Warning::Soft {
                at: place, u: unknown, ..
            } = warning
                && *place == at
            {
                *unknown = Some(u);
            }
        }
        let interval = [self.drive(low), self.drive(high)];
        let margin = self.options.guard + 0.5 * lost_motion.in_drive();
        let mut travel = if upper {
            interval[0] - margin
        } else {
            interval[1] + margin
        };
        let (level, level_variance) = if upper {
            model.upper_level()
        } else {
            model.lower_level()
        };
        if let Some(mark) = mark
            && (mark < interval[0] || mark > interval[1])
        {
            // Beyond the contact is where a careful hand notes it, at the first reading that meets it; inside, or a whole
            // guard behind, is news.
            let behind = if upper { mark - at } else { at - mark };
            let clear = self.clear_before(upper, mark);
            let first = if upper { at >= clear } else { at <= clear };
            if behind < 0.0 || (behind > self.options.guard && !first) {
                self.warnings.push(Warning::MarkDisagrees { mark, at, u });
            }
            // Whatever was met there, the joint is not driven past it.
            if behind < 0.0 {
                let noted = self.noted(upper, mark, lost_motion).travel;
                travel = if upper { travel.min(noted) } else { travel.max(noted) };
            }
        }
        Some(End {
            kind: EndKind::Contact,
            at,
            short_at: None,
            u: Some(u),
            interval: Some(interval),
            guard: self.options.guard,
            travel,
            level: Some(Estimate {
                value: self.prepared.level + level,
                u: (self.found.variance * level_variance + undithered).sqrt(),
            }),
            readings_beyond: points.iter().filter(beyond).count(),
            marked: mark.is_some(),
        })
    }

    /// A contact that only a hand noted.
    fn noted(&self, upper: bool, mark: f64, lost_motion: &LostMotion) -> End {
        let clear = self.clear_before(upper, mark);
        End::noted(upper, clear, mark, self.options.guard, lost_motion.in_drive())
    }

    /// The last reading before a mark.
    fn clear_before(&self, upper: bool, mark: f64) -> f64 {
        last_before(self.kept().map(|r| self.drive(r.x)), upper, mark)
    }

    /// Readings left out beyond a drive angle that fell short of the model there, as they would on a stop.
    fn short_beyond(&self, upper: bool, at: f64) -> usize {
        self.left_out_short(upper, |drive| if upper { drive > at } else { drive < at })
    }

    /// Readings left out at some drive angles that fell short of the model there.
    fn left_out_short(&self, upper: bool, is_there: impl Fn(f64) -> bool) -> usize {
        let model = self.found.model;
        let way = self.way(upper);
        let readings = self.prepared.readings.iter().zip(&self.found.kept);
        readings
            .filter(|(r, kept)| !**kept && is_there(self.drive_of(r)) && way * (r.y - model.expected(r.x, r.s())) < 0.0)
            .count()
    }

    /// Says so where some of the readings at the last clear drive angle fell short and were left out.
    fn last_disagree(&mut self, upper: bool, at: f64) {
        let readings = self.left_out_short(upper, |drive| drive == at);
        if readings > 0 {
            self.warnings.push(Warning::LastDisagree { at, readings });
        }
    }

    /// The readings left out beyond the last one that follows the line, at no less than its value and short of the line, so that a stop
    /// holds them; with their places in `prepared` goes the first of their drive angles. None where another reading there speaks against
    /// a stop. A slip of the pen seldom lies just there; where many are left out elsewhere, some at the end tell nothing.
    fn stalled_beyond(&self, upper: bool, at: f64) -> Option<(Vec<usize>, f64)> {
        let model = self.found.model;
        let way = self.way(upper);
        let last = (at - self.prepared.centre) / self.prepared.half;
        let sd = self.found.variance.sqrt();
        let readings = self.prepared.readings.iter().zip(&self.found.kept).enumerate();
        let left_out: Vec<(usize, &Reading)> = readings
            .filter(|(_, (_, kept))| !**kept)
            .map(|(i, (r, _))| (i, r))
            .collect();
        let short_of = |r: &Reading, x: f64| way * (model.expected(x, r.s()) - r.y);
        let beyond = left_out.iter().filter(|(_, r)| {
            let drive = self.drive_of(r);
            let further = if upper { drive > at } else { drive < at };
            further && short_of(r, r.x) > 0.0
        });
        let (mut held, mut first) = (Vec::new(), None);
        for &(i, r) in beyond {
            let tolerance = (NOT_BACK * sd / r.w.sqrt()).max(self.prepared.step);
            if short_of(r, last) > tolerance {
                return None;
            }
            let drive = self.drive_of(r);
            first = match first {
                Some(inner) if (inner < drive) == upper => Some(inner),
                _ => Some(drive),
            };
            held.push(i);
        }
        let elsewhere = (left_out.len() - held.len()) as f64;
        let some = ELSEWHERE + MOST_LEFT_OUT * self.found.kept.len() as f64;
        (elsewhere <= some).then_some((held, first?))
    }

    /// The sign in which the values change towards an end.
    fn way(&self, upper: bool) -> f64 {
        if (self.found.model.slope() > 0.0) == upper {
            1.0
        } else {
            -1.0
        }
    }

    fn drive_of(&self, r: &Reading) -> f64 {
        self.given.drive.get(r.index()).copied().unwrap_or_default()
    }

    /// The furthest clear drive angle beyond which no stretch holds more readings short of the model than kept ones.
    fn before_shorter_stretch(&self, upper: bool, furthest: f64) -> f64 {
        let model = self.found.model;
        let way = self.way(upper);
        let (mut short, mut kept_beyond, mut at) = (0, 0, furthest);
        let mut step = |(r, kept): (&Reading, &bool)| {
            let drive = self.given.drive.get(r.index()).copied().unwrap_or_default();
            if !*kept {
                short += usize::from(way * (r.y - model.expected(r.x, r.s())) < 0.0);
            } else {
                if short >= MANY_SHORT && short > kept_beyond && (drive < at) == upper {
                    at = drive;
                }
                kept_beyond += 1;
            }
        };
        let readings = self.prepared.readings.iter().zip(&self.found.kept);
        if upper {
            readings.rev().for_each(&mut step);
        } else {
            readings.for_each(&mut step);
        }
        at
    }

    /// Whether the readings that are clear as far as `at` are level there.
    fn level_beyond(&self, upper: bool, at: f64) -> Option<LevelEnd> {
        let mut points: Vec<[f64; 2]> = self
            .kept()
            .map(|r| [self.given.drive.get(r.index()).copied().unwrap_or_default(), r.y])
            .filter(|[drive, _]| if upper { *drive <= at } else { *drive >= at })
            .collect();
        points.sort_by(|a, b| {
            if upper {
                b[0].total_cmp(&a[0])
            } else {
                a[0].total_cmp(&b[0])
            }
        });
        level_end(&points, self.prepared.step)
    }

    /// No contact, but before a stretch at which the joint hardly moves.
    pub(super) fn before_level(&mut self, upper: bool, lost_motion: &LostMotion, level: LevelEnd) -> End {
        let LevelEnd { at, readings, ratio } = level;
        self.warnings.push(Warning::LevelBeyond { at, readings, ratio });
        let margin = self.options.guard + 0.5 * lost_motion.in_drive();
        End {
            guard: self.options.guard,
            travel: if upper { at - margin } else { at + margin },
            ..End::clear(at)
        }
    }

    /// No contact: as far as the joint was clear, less the guard where readings left out beyond may lie on a stop.
    fn clear(&mut self, upper: bool, lost_motion: &LostMotion) -> End {
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
            .map(|r| self.given.drive.get(r.index()).copied().unwrap_or_default())
            .fold(None, |best: Option<f64>, d| {
                Some(match best {
                    Some(b) if upper => b.max(d),
                    Some(b) => b.min(d),
                    None => d,
                })
            });
        let at = furthest.map_or(self.prepared.centre, |furthest| {
            self.before_shorter_stretch(upper, furthest)
        });
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
        let level = self.level_beyond(upper, at);
        let at = level.map_or(at, |level| level.at);
        let short = self.short_beyond(upper, at);
        let stalled = if level.is_none() {
            self.stalled_beyond(upper, at)
        } else {
            None
        };
        if let Some(LevelEnd { at, readings, ratio }) = level {
            self.warnings.push(Warning::LevelBeyond { at, readings, ratio });
        } else if let Some((held, short_at)) = &stalled {
            self.warnings.push(Warning::FellShort {
                at,
                short_at: *short_at,
                readings: held.len(),
            });
        } else if short >= RUN_SHORT {
            self.warnings.push(Warning::LeftOutBeyond { at, readings: short });
        }
        let (guard, margin) = if level.is_some() || short >= RUN_SHORT {
            (self.options.guard, self.options.guard + 0.5 * lost_motion.in_drive())
        } else {
            (0.0, 0.0)
        };
        let clear = End {
            guard,
            travel: if upper { at - margin } else { at + margin },
            ..End::clear(at)
        };
        let Some((held, short_at)) = stalled else {
            return clear;
        };
        let readings_beyond = held.len();
        self.stalled.extend(held);
        End {
            kind: EndKind::Stalled,
            short_at: Some(short_at),
            readings_beyond,
            ..clear
        }
    }
}

/// Variance of the rounding that readings of one position have in common, however many are averaged.
///
/// The mean error of rounding to a step `r` is periodic in the position; averaged over all positions, and with normal
/// noise of standard deviation `σ` before the rounding, its variance is `Σ r²/(2π²k²) · exp(−4π²k²σ²/r²)`: `r²/12` without
/// noise (GUM F.2.2.1), almost nothing where the readings scatter over the steps. Source: the Fourier series of the
/// rounding error and the characteristic function of the normal distribution (Widrow, Kollár, Quantization Noise, 2008,
/// chapter 4). `scatter` is the residual standard deviation, rounding within.
fn undithered(step: f64, scatter: f64) -> f64 {
    undithered_of(step, scatter, HARMONICS, |_| 1.0)
}

/// The same of the mean over positions that share a part of each harmonic of the rounding error.
fn undithered_of(step: f64, scatter: f64, harmonics: u32, shared: impl Fn(f64) -> f64) -> f64 {
    if step <= 0.0 {
        return 0.0;
    }
    let pi = core::f64::consts::PI;
    let square = step * step;
    let noise = (scatter * scatter / square - SURELY_ROUNDING).max(0.0);
    let variance = |harmonic: u32| {
        let k = 2.0 * pi * pi * f64::from(harmonic * harmonic);
        square / k * crate::math::exp(-2.0 * k * noise)
    };
    let each = (1..=harmonics).map(|harmonic| (f64::from(harmonic), variance(harmonic)));
    each.take_while(|(_, variance)| *variance > NO_VARIANCE * square)
        .map(|(harmonic, variance)| variance * shared(harmonic))
        .sum()
}

impl Assessment<'_> {
    /// Variance of the rounding that the readings of one side between the stops have in common. Where the drive goes by whole steps of
    /// the instrument all are rounded alike; spread over the steps, they are not: then the sum of their phases is near zero.
    pub(super) fn rounded_alike(&self, model: &Model, side: f64) -> f64 {
        let step = self.prepared.step;
        let here = || self.kept().filter(|r| r.s() == side && between(model, r));
        // Of many readings some show how they lie on the steps.
        let one_of = here().count().div_ceil(MOST_PLACES).max(1);
        let phase = |r: &Reading| 2.0 * core::f64::consts::PI * model.value(r.x, r.s(), Part::Between) / step;
        let places: Vec<f64> = here().step_by(one_of).map(phase).collect();
        let n = places.len().max(1) as f64;
        undithered_of(step, self.residual_sd(), FEW_HARMONICS, |harmonic| {
            let [along, across] = places.iter().fold([0.0, 0.0], |[a, b], place| {
                [a + cos(harmonic * place), b + sin(harmonic * place)]
            });
            (along * along + across * across) / (n * n)
        })
    }
}

/// The last of some drive angles before a mark at an end; the mark where none is.
pub(super) fn last_before(drives: impl Iterator<Item = f64>, upper: bool, mark: f64) -> f64 {
    let before = drives.filter(|&drive| if upper { drive < mark } else { drive > mark });
    before.reduce(if upper { f64::max } else { f64::min }).unwrap_or(mark)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A value rounded to a step without scatter is off by any part of half a step: the variance step²/12 of a rectangular
    /// distribution (JCGM 100:2008, 4.3.7). As much scatter as a step hides it.
    #[test]
    fn what_rounding_leaves_in_a_mean() {
        for step in [0.01, 1.0, 5.0] {
            let whole = step * step / 12.0;
            // The harmonics that are not summed: the sum of 1/(2·π²·k²) from 33 on.
            let tail = step * step / (2.0 * core::f64::consts::PI.powi(2) * f64::from(HARMONICS));
            for scatter in [0.0, 0.2, 0.289, 0.4] {
                let left = undithered(step, scatter * step);
                assert!(left <= whole && whole - left <= tail, "{left} of {whole}");
            }
            assert!(undithered(step, 1.0 * step) < 1e-6 * whole);
            assert!(undithered(step, 0.6 * step) < 0.2 * whole);
        }
        assert_eq!(undithered(0.0, 1.0), 0.0);
    }
}
