//! Stops that the readings refute, and stops that give way.

use super::assess::Assessment;
use super::find::Found;
use super::interval::Give;
use super::kept::Kept;
use super::model::{Layout, Part};
use super::polish::polish;
use super::polynomial::polynomial;
use super::stops::Suspect;
use crate::fit::statistics::quantile::f_tail;
use crate::fit::warning::Warning;

/// Standard deviations past a plateau that no scatter reaches.
const FAR: f64 = 5.0;
/// Readings on a stop up to which the outermost one, if it went past them, refutes it.
const FEW_ON_STOP: u32 = 3;
/// Readings near where the joint would have gone that refute a stop.
const PASSED: u32 = 2;
/// The same as a share of those that the stop holds: among many readings so many misreadings lie there by chance.
const PASSED_SHARE: f64 = 0.05;
/// Probability below which a stop is said to give.
const P_GIVE: f64 = 0.001;

impl Assessment<'_> {
    /// Removes a stop that readings went past: enough of those left out there lie further, near where the joint would
    /// have gone without it.
    pub(super) fn refute_plateaus(&mut self) {
        for upper in [false, true] {
            let model = self.found.model;
            let knee = if upper { model.knees.1 } else { model.knees.0 };
            if !knee.is_finite() || self.decided(upper).is_some() {
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
            let (mut on, mut held, mut past, mut near) = (0, 0_u32, 0, 0);
            let mut outermost = (0.0, false);
            // The places of those that the stop holds.
            let mut places = [f64::INFINITY, f64::NEG_INFINITY];
            for (r, kept) in self.prepared.readings.iter().zip(&self.found.kept) {
                let there = model.part(r.x, r.s()) == if upper { Part::OnUpper } else { Part::OnLower };
                if !there {
                    continue;
                }
                on += 1;
                held += u32::from(*kept);
                if *kept {
                    places = [places[0].min(r.x), places[1].max(r.x)];
                }
                let sigma = sd / r.w.sqrt();
                let is_past = !kept && way * (r.y - level) > FAR * sigma;
                if r.x.abs() >= f64::abs(outermost.0) {
                    outermost = (r.x, is_past);
                }
                if is_past {
                    past += 1;
                    let free = polynomial(model.curve(), r.x);
                    if (r.y - free).abs() < FAR * sigma {
                        near += 1;
                    }
                }
            }
            let far_on = near >= PASSED && near as f64 >= PASSED_SHARE * f64::from(held);
            // The joint went further than a stop that readings of one place alone show.
            if outermost.1 && held <= FEW_ON_STOP && places[0] == places[1] && self.without_stop(upper) {
                continue;
            }
            if far_on || (near >= 1 && 3 * near >= held) || (past >= 3 && 3 * past >= on) {
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

    /// Lays the line through the readings without the stop of one end.
    fn without_stop(&mut self, upper: bool) -> bool {
        let model = self.found.model;
        let layout = Layout {
            lower: model.layout.lower && upper,
            upper: model.layout.upper && !upper,
            ..model.layout
        };
        let mut knees = model.knees;
        if upper {
            knees.1 = f64::INFINITY;
        } else {
            knees.0 = f64::NEG_INFINITY;
        }
        let kept = Kept::of(&self.prepared.readings, &self.found.kept);
        let Some(free) = polish(kept, layout, knees, model.shift()).filter(|free| free.dof() > 0) else {
            return false;
        };
        self.found.model = free;
        self.found.variance = self.prepared.variance(&free);
        self.found.chosen.sse = free.sse;
        (self.found.chosen.lower, self.found.chosen.upper) = free.knees;
        true
    }

    /// Lets stops give where the readings behind them surely do.
    pub(super) fn try_give(&mut self) {
        let Found { model, .. } = self.found;
        let mut layout = model.layout;
        if !layout.lower && !layout.upper {
            return;
        }
        let readings = Kept::of(&self.prepared.readings, &self.found.kept);
        let mut current = model;
        for upper in [false, true] {
            let stop = if upper { layout.upper } else { layout.lower };
            if !stop || self.decided(upper).is_some() {
                continue;
            }
            let trial = Layout {
                give_lower: layout.give_lower || !upper,
                give_upper: layout.give_upper || upper,
                ..layout
            };
            let Some(soft) = polish(readings, trial, current.knees, current.shift()) else {
                continue;
            };
            if soft.dof() < 2 {
                continue;
            }
            let variance = self.prepared.variance(&soft);
            let (ratio, u) = soft.give(upper);
            if let Some(place) = self.softer.get_mut(usize::from(upper)) {
                *place = u.is_finite().then_some(Give { ratio, u });
            }
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
                        u: None,
                        ratio: current.give(upper).0,
                    });
                }
            }
        }
    }
}
