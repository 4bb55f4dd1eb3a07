//! The search of a stop, as far as the bound allows at each step.

use super::estimate::{CALL, Knee, Standing};
use super::run::{Flow, Run};
use crate::bring_up::{Answer, Doubt, Fault, Question, Side};
use crate::fit::t_quantile;

/// A move that gains less is none, deg.
const GAIN: f64 = 0.5;
/// A second look is worth it from so many standard deviations on.
const LIKELY: f64 = 3.0;
/// Readings that may be typed at all.
const MOST_TYPED: usize = 150;
/// Readings at one place that bring the search no further.
const MOST_STUCK: u8 = 8;

impl Run<'_> {
    /// From the first places outward to a stop, or to the search limit.
    pub(super) fn search(&mut self, side: Side) -> Flow<()> {
        self.stage = "search";
        let sign = side.sign();
        let limit = self.inside(sign * f64::MAX);
        let (mut stuck, mut looked, mut probed) = (0u8, 0u8, false);
        loop {
            if self.typed.len() >= MOST_TYPED {
                return self.refuse(Fault::Unclear, None, None);
            }
            let felt = self.felt(side);
            let (all, driven) = (self.standing(side, true), self.standing(side, false));
            let last = self.outermost(side);
            if felt && self.contradicted(side) {
                self.not_the_stop_felt(side, &driven, &mut looked)?;
                continue;
            }
            if !felt && driven.short >= LIKELY && self.is_soft(side) {
                return self.refuse(Fault::GivesWay, Some(last), None);
            }
            let knee = self.knee(side);
            let deep = driven.short >= CALL && self.is_deep(side, &knee, &driven) && self.robust(side);
            if deep && !felt && !probed {
                // What gives way is told from a stop where a stop would just be met.
                probed = true;
                self.take(knee.at, side, true)?;
                continue;
            }
            if deep {
                if felt || self.said_stop.of(side) || self.is_stop(side, &knee, &mut looked)? {
                    self.contact.set(side, true);
                    break;
                }
                continue;
            }
            let target = if felt {
                match self.target(side, &knee, &all)? {
                    Some(target) => target,
                    None => {
                        self.contact.set(side, true);
                        break;
                    }
                }
            } else {
                limit
            };
            if sign * (limit - last) < 0.05 {
                break;
            }
            let reach = self.reach(side);
            let x = if sign * (target - reach) > 0.0 { reach } else { target };
            let gain = sign * (x - last);
            if gain >= GAIN || (gain > 0.0 && sign * (limit - x) <= 0.05) {
                stuck = 0;
                self.step_to(side, x, felt, &mut looked)?;
                continue;
            }
            stuck += 1;
            if stuck > MOST_STUCK {
                if felt || driven.short >= LIKELY + 0.5 {
                    self.contact.set(side, true);
                    break;
                }
                return self.refuse(Fault::TooCoarse, Some(last), None);
            }
            let (x, toward) = self.firmest(side, driven.proven);
            self.take(x, toward, true)?;
        }
        let edge = if self.contact.of(side) {
            self.knee(side).at
        } else {
            self.outermost(side)
        };
        // Half of it is what a knee may be off, half that readings close to it lie on either side.
        self.outer.set(side, Some(edge - sign * 1.5));
        Ok(())
    }

    /// A step outward. Towards a stop that was felt by hand, a reading that advanced less than half as expected means: go back and ask.
    pub(super) fn step_to(&mut self, side: Side, x: f64, felt: bool, looked: &mut u8) -> Flow<()> {
        let before = self.outermost(side);
        let knee = self.knee(side);
        let level = |run: &Self, at: f64| {
            let near = run
                .rows
                .iter()
                .filter(|row| row.toward == side && (row.x - at).abs() < 1e-9);
            let (n, sum) = near.fold((0.0, 0.0), |(n, sum), row| (n + 1.0, sum + row.y));
            (n > 0.0).then_some(sum / n)
        };
        let was = level(self, before);
        let x = self.take(x, side, true)?;
        let (Some(was), Some(is)) = (was, level(self, x)) else {
            return Ok(());
        };
        // No further than to the stop felt.
        let sign = side.sign();
        let to = if sign * (x - knee.at) > 0.0 { knee.at } else { x };
        let (expected, advanced) = (knee.slope * (to - before), is - was);
        // Short by less than noise makes it, half says nothing.
        let noise = LIKELY * core::f64::consts::SQRT_2 * self.plan.u_reading;
        let short = expected - advanced;
        if felt && advanced / expected < 0.5 && short.abs() > noise && !self.said_stop.of(side) {
            let driven = self.standing(side, false);
            return self.not_the_stop_felt(side, &driven, looked);
        }
        Ok(())
    }

    /// Whether the outermost place lies far enough beyond the knee for its level to count.
    fn is_deep(&mut self, side: Side, knee: &Knee, driven: &Standing) -> bool {
        let sign = side.sign();
        let (last, overtravel) = (self.outermost(side), self.plan.overtravel);
        let room = sign * (driven.proven - last) + overtravel;
        sign * (last - knee.at) > (0.3 * overtravel).min(room)
    }

    /// The half-width of an interval of so many standard uncertainties.
    pub(super) fn half_width(&self, u: f64, over: f64, dof: f64) -> f64 {
        use super::estimate::GIVE;
        let factor = t_quantile(0.5 + self.plan.confidence / 2.0, dof);
        factor * u + GIVE / 2.0 * over
    }

    /// How far the drive is to follow towards a stop felt by hand: to where the travel will end. Nothing where it has.
    fn target(&mut self, side: Side, knee: &Knee, all: &Standing) -> Flow<Option<f64>> {
        let sign = side.sign();
        let last = self.outermost(side);
        let lost = self.lost_motion();
        let half = self.half_width(knee.u.min(self.plan.tolerance), 0.0, knee.dof);
        let end = knee.at - sign * (half + lost + self.plan.guard);
        if sign * (last - end) > -0.05 {
            return Ok(None);
        }
        // What is felt proves clear as well; nothing is pressed.
        let proven = if sign * (all.proven - last) > GAIN {
            all.proven
        } else {
            end
        };
        let x = if sign * (end - proven) > 0.0 { proven } else { end };
        Ok(Some(if sign * (x - last) < GAIN {
            last + sign * GAIN
        } else {
            x
        }))
    }

    /// Goes back by a run-in, so that nothing is pressed while somebody looks.
    fn back_off(&mut self, side: Side) -> Flow<()> {
        let back = self.inside(self.at - side.sign() * self.plan.run_in);
        self.move_to(back)
    }

    /// What is met? Two equal answers decide where one would end the bring-up.
    fn what_is_met(&mut self, side: Side, drive: f64, by: f64, stands: bool) -> Flow<Answer> {
        let question = Question::StaysBehind {
            toward: side,
            drive,
            by,
        };
        let mut answer = self.ask(question, stands.then_some(Doubt::StaysBehind { by }))?;
        if matches!(answer, Answer::Obstacle | Answer::DriveOnly) {
            let again = self.ask(question, Some(Doubt::Grave))?;
            answer = if again == answer {
                again
            } else {
                self.ask(question, Some(Doubt::Grave))?
            };
            let fault = match answer {
                Answer::Obstacle => Fault::RangeBlocked,
                Answer::DriveOnly => Fault::GearStripped,
                _ => return Ok(answer),
            };
            return self.refuse(fault, Some(drive), Some(by));
        }
        Ok(answer)
    }

    /// Asks whether a contact that the readings make is the stop; where not, its place is read anew, and then the readings decide.
    fn is_stop(&mut self, side: Side, knee: &Knee, looked: &mut u8) -> Flow<bool> {
        let last = self.outermost(side);
        let by = side.sign() * (last - knee.at);
        self.back_off(side)?;
        if self.looks_like_a_stop(side, last, by, looked)? {
            self.said_stop.set(side, true);
            return Ok(true);
        }
        self.read_anew(side, last)?;
        Ok(false)
    }

    /// Whether somebody who looks says that it is the stop. Three times that nothing is met, while the readings say otherwise, is no
    /// result.
    fn looks_like_a_stop(&mut self, side: Side, last: f64, by: f64, looked: &mut u8) -> Flow<bool> {
        const MOST_LOOKS: u8 = 3;
        let answer = self.what_is_met(side, last, by, *looked > 0)?;
        *looked += 1;
        if answer != Answer::Stop && *looked >= MOST_LOOKS {
            return self.refuse(Fault::Unclear, Some(last), Some(by));
        }
        Ok(answer == Answer::Stop)
    }

    /// Readings of one place are dropped, and two new ones taken.
    fn read_anew(&mut self, side: Side, x: f64) -> Flow<()> {
        self.rows.retain(|row| row.toward != side || (row.x - x).abs() > 0.01);
        self.take(x, side, false)?;
        self.take(x, side, false)?;
        Ok(())
    }

    /// The drive meets something before the stop that was felt by hand: back, and ask.
    fn not_the_stop_felt(&mut self, side: Side, driven: &Standing, looked: &mut u8) -> Flow<()> {
        let sign = side.sign();
        let last = self.outermost(side);
        self.back_off(side)?;
        // No further than this, as far as the drive itself has shown.
        let by = (sign * (last - driven.proven)).max(0.0);
        if self.looks_like_a_stop(side, last, by, looked)? {
            self.said_stop.set(side, true);
            self.not_felt.set(side, true);
            self.rows.retain(|row| !(row.is_held() && row.toward == side));
            return Ok(());
        }
        self.read_anew(side, last)
    }

    /// One place from above on the way from the upper side to the lower.
    pub(super) fn cross(&mut self) -> Flow<()> {
        let outer = if self.contact.of(Side::Upper) && !self.felt(Side::Upper) {
            self.knee(Side::Upper).at
        } else {
            self.outermost(Side::Upper)
        };
        let x = outer - self.plan.run_in;
        if x > self.plan.start {
            self.take(x, Side::Lower, true)?;
        }
        Ok(())
    }
}
