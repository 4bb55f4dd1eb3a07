//! What the bring-up makes of what it is told, and which step it takes next.

use super::{Session, Stage};
use crate::bring_up::action::Doubt;
use crate::bring_up::alignment::{Alignment, AlignmentEnd};
use crate::bring_up::answer::Answer;
use crate::bring_up::diagnosis::{BLOCKED, Fault, SAME, SHIFTED, changed};
use crate::bring_up::error::BringUpError;
use crate::bring_up::outcome::{EndFound, Outcome, Verdict};
use crate::bring_up::search::{SearchEnd, StopSearch};
use crate::bring_up::sense::{LoopSense, SenseAdvice, SenseReason, SenseResult, SenseTest};
use crate::bring_up::sweep::{Legs, Sweep, SweepPlan};
use crate::bring_up::visit::{Pace, Seen, Visit};
use crate::fit::EndKind;
use crate::span::Side;

/// Up to three answers to one question.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub(super) struct Votes {
    first: Option<Answer>,
    second: Option<Answer>,
}

impl Votes {
    /// Takes an answer; gives the one that was given twice, or the third.
    pub(super) fn take(&mut self, answer: Answer) -> Option<Answer> {
        match (self.first, self.second) {
            (None, _) => self.first = Some(answer),
            (Some(first), _) if first == answer => return Some(answer),
            (Some(_), None) => self.second = Some(answer),
            (Some(_), Some(_)) => return Some(answer),
        }
        None
    }
}

impl Session {
    /// Part of the way to a stop that the turns of the hand may take, and the least turn, deg.
    const OF_THE_WAY: f64 = 0.9;
    const LEAST_TURN: f64 = 2.0;

    /// A stop was met by hand: the sensor is turned back, and the test made again with turns that fit.
    fn turn_less(&mut self, toward: Side, reached: f64) {
        let turn = self.plan.sense.turn;
        let fits = Self::OF_THE_WAY * reached / f64::from(self.plan.sense.turns);
        self.plan.sense.turn = fits.min(turn / 2.0).max(turn / 4.0);
        if self.plan.sense.turn < Self::LEAST_TURN {
            self.refuse(Fault::StartNotClear, None, None);
            return;
        }
        self.stage = Stage::TurnBack {
            toward: toward.opposite(),
            // Somewhere within the turn that was asked last.
            degrees: reached + turn / 2.0,
        };
    }

    pub(super) fn weigh_sense(&mut self, test: &SenseTest, result: SenseResult) {
        self.sense = Some(result);
        let [first, last] = test.ends();
        if let Some((toward, reached)) = test.stop_met() {
            return self.turn_less(toward, reached);
        }
        if let Some(supply) = test.in_volts() {
            return self.refuse(Fault::PlanInVolts, None, Some(supply));
        }
        self.sense_tests += 1;
        // An undetermined sense may come of a slip of the hand.
        let most = match (result.sense, result.reason) {
            (LoopSense::Undetermined, Some(SenseReason::DriveNotWatched)) => 1,
            (LoopSense::Undetermined, Some(SenseReason::DriveOneWay | SenseReason::DriveMixed)) => {
                Self::MOST_SENSE_TESTS
            }
            (LoopSense::Undetermined, _) => 2,
            _ => 1,
        };
        if self.sense_tests < most
            && let Ok(test) = SenseTest::new(self.plan.sense)
        {
            self.stage = match self.way_back(result, first, last) {
                Some((toward, degrees)) => Stage::TurnBack { toward, degrees },
                None => Stage::Sense(test),
            };
            return;
        }
        let fault = match (result.sense, result.reason) {
            (LoopSense::Aiding, _) => Some(Fault::WiresSwapped),
            (LoopSense::Undetermined, Some(SenseReason::SensorStill | SenseReason::SensorErratic)) => {
                Some(Fault::WiperOpen)
            }
            (LoopSense::Undetermined, Some(SenseReason::DriveStill)) => Some(Fault::DriveSilent),
            (LoopSense::Undetermined, Some(SenseReason::DriveOneWay | SenseReason::DriveMixed)) => Some(Fault::Unclear),
            _ => match result.advice(self.plan.rising) {
                Some(SenseAdvice::SwapOrInvert) => Some(Fault::WiresSwapped),
                _ => None,
            },
        };
        match fault {
            Some(fault) => self.refuse(fault, None, Some(result.slope)),
            None => match self.plan.alignment.map(Alignment::new) {
                // A sensor that cannot reach both stops has its alignment done at once.
                Some(Ok(alignment)) => match alignment.end() {
                    Some(end) => self.weigh_index(end),
                    None => self.stage = Stage::Alignment(alignment),
                },
                _ => self.stage = Stage::Attach { doubt: None },
            },
        }
    }

    /// How the sensor is turned back to where the first test began, if it has come away from there: turns the wrong way
    /// leave it so far from the null that no further test would find it.
    fn way_back(&mut self, result: SenseResult, first: f64, last: f64) -> Option<(Side, f64)> {
        let began = *self.sense_began.get_or_insert(first);
        let back = (began - last) / result.slope;
        let toward = if back > 0.0 { Side::Upper } else { Side::Lower };
        let followed = !matches!(
            result.reason,
            Some(SenseReason::SensorStill | SenseReason::SensorErratic)
        );
        (followed && back.abs() > 0.5 * self.plan.sense.turn && back.is_finite()).then_some((toward, back.abs()))
    }

    pub(super) fn weigh_index(&mut self, end: AlignmentEnd) {
        self.alignment = Some(end);
        match end {
            AlignmentEnd::Set { .. } => {
                // Where the drive stands still is known about, to half a turn of the hand, before it is fixed there.
                let null = self.sense.and_then(|sense| sense.null);
                match null.and_then(|null| self.beyond_stops(null)) {
                    Some((by, needed)) if by > 0.0 && needed > 0.0 => {
                        self.refuse(Fault::StartNotClear, Some(self.plan.start), Some(by));
                    }
                    _ => self.stage = Stage::Attach { doubt: None },
                }
            }
            AlignmentEnd::TooShort { spare } => self.refuse(Fault::SensorRunsOut, None, Some(spare)),
            AlignmentEnd::NotSet { spare: [a, b] } => self.refuse(Fault::SensorRunsOut, None, Some(a.min(b))),
            AlignmentEnd::NotAtStop { by, .. } => self.refuse(Fault::Unclear, None, Some(by)),
        }
    }

    /// Whether the sensor was turned on its shaft, so that earlier readings belong to other angles.
    fn turned(&self) -> bool {
        matches!(self.alignment, Some(AlignmentEnd::Set { settings, .. }) if settings > 0)
    }

    /// How far a reading at the start lies outside of the stops, deg of the joint, and how far inside it must lie there.
    ///
    /// A loop closed over the joint's own sensor goes where the sensor says: turning it moves every drive angle, and what
    /// was known to be clear of the stops need not be so any more. Without earlier evidence a degree of the drive is one
    /// of its potentiometer, which has come out of the servo.
    fn beyond_stops(&self, reading: f64) -> Option<(f64, f64)> {
        let (
            plan,
            Some(AlignmentEnd::Set {
                joint_angle,
                reading: there,
                ..
            }),
        ) = (self.plan.alignment?, self.alignment)
        else {
            return None;
        };
        let per_deg = plan.figures().ok()?.per_deg;
        let angle = joint_angle + (reading - there) / per_deg;
        let [lower, upper] = plan.joint;
        let needed = if self.plan.closes_loop() && self.turned() {
            let per_drive_deg = self.plan.baseline.map_or(per_deg / plan.ratio, |known| known.per_deg);
            self.plan.clearance * (per_drive_deg / per_deg).abs()
        } else {
            0.0
        };
        Some(((lower - angle).max(angle - upper), needed))
    }

    fn first_start(&mut self, seen: Seen) {
        match self.beyond_stops(seen.reading) {
            Some((by, needed)) if by > -needed && needed > 0.0 => {
                self.refuse(Fault::StartNotClear, Some(seen.drive), Some(by + needed));
            }
            Some((by, _)) if by > 0.0 && !self.attached_again => {
                self.attached_again = true;
                self.stage = Stage::Attach {
                    doubt: Some(Doubt::BeyondStops { by }),
                };
            }
            Some((by, _)) if by > 0.0 => self.refuse(Fault::Unclear, Some(seen.drive), Some(by)),
            _ => self.move_first(1),
        }
    }

    pub(super) fn move_first(&mut self, leg: u8) {
        let visit = self.first_visit(leg);
        self.stage = Stage::First { leg, visit };
    }

    /// Slowly to the start, to the lower side of what is clear, to its upper side.
    pub(super) fn first_visit(&self, leg: u8) -> Visit {
        let pace = Pace {
            rate_per_s: Self::SLOW.min(self.plan.pace.rate_per_s),
            ..self.plan.pace
        };
        match leg {
            0 if self.alignment.is_none() => Visit::passing(self.plan.start, pace),
            0 => Visit::new(self.plan.start, pace),
            1 => Visit::new(self.plan.start - self.plan.clearance, pace),
            _ => Visit::new(self.plan.start + self.plan.clearance, pace),
        }
    }

    pub(super) fn first_seen(&mut self, leg: u8, seen: Seen) -> Result<(), BringUpError> {
        if self.plan.erratic(seen.range) {
            self.refuse(Fault::WiperNoisy, Some(seen.drive), Some(seen.range));
            return Ok(());
        }
        let [low, _] = self.first;
        match leg {
            0 => self.first_start(seen),
            1 => {
                self.first = [seen.reading, seen.reading];
                self.move_first(2);
            }
            _ => {
                self.first = [low, seen.reading];
                self.weigh_first(seen.reading - low, seen)?;
            }
        }
        Ok(())
    }

    /// Steps of the reading that a sound sensor's median is uncertain by at the most.
    const SOUND_STEPS: f64 = 3.0;
    /// The part of what the reading should change by, from which on it follows.
    const FOLLOWS: f64 = 0.5;

    fn weigh_first(&mut self, by: f64, seen: Seen) -> Result<(), BringUpError> {
        let slope = self.sense.map_or(0.0, |s| s.slope);
        let way = 2.0 * self.plan.clearance;
        // Without earlier evidence the hand's degrees are the only measure, and a gear may lie between them.
        let least = match self.plan.baseline {
            Some(known) => 0.25 * (known.per_deg * way).abs(),
            None => 0.1 * (slope * way).abs(),
        };
        if by.abs() < least {
            self.stage = Stage::WhatMoved { by, doubt: None };
        } else if by * slope < 0.0 {
            self.refuse(Fault::WiresSwapped, None, Some(by));
        } else {
            self.ahead = match self.plan.baseline {
                Some(known) if !self.turned() => Some(known.ahead(seen.drive, seen.reading)),
                _ => None,
            };
            self.votes = Votes::default();
            self.stage = Stage::Search(StopSearch::new(self.plan.search(Side::Lower))?);
        }
        Ok(())
    }

    /// Whether nothing but the first moves was made yet, and the readings of them are none that an open wire gives.
    fn is_first_move(&self) -> bool {
        let [low, high] = self.plan.search(Side::Lower).readable;
        let inside = self.first.iter().all(|reading| (low..=high).contains(reading));
        let found = self.ends.iter().flatten();
        let mut found = found.filter(|end| !matches!(end, SearchEnd::NotFollowed { .. }));
        inside && found.next().is_none() && self.readings.is_empty() && self.astrays == 0
    }

    /// Whether the readings followed the drive in the first move as they followed the hand, so that what a search makes of them is scatter.
    fn followed_first(&self, by: f64) -> bool {
        let [low, high] = self.first;
        let way = 2.0 * self.plan.clearance;
        let by_hand = self.sense.map_or(0.0, |sense| sense.slope) * way;
        let changed = (high - low).abs();
        let learned = changed * (1.0 - self.plan.run_in / way);
        changed >= Self::FOLLOWS * by_hand.abs() && by.abs() >= Self::FOLLOWS * learned
    }

    /// Readings that scatter too far for the step of the plan; `step` would be enough for them.
    fn too_noisy(&mut self, u: f64, step: f64) {
        // A sensor whose readings are sound, to a few of its steps, is not to blame where the step is too short for them.
        if self.map.u_reading <= Self::SOUND_STEPS * self.plan.resolution {
            self.refuse(Fault::TooCoarse, None, Some(step));
        } else {
            self.refuse(Fault::WiperNoisy, None, Some(u));
        }
    }

    pub(super) fn weigh_moved(&mut self, answer: Answer, by: f64) {
        let Some(decided) = self.votes.take(answer) else {
            let by = by.abs();
            self.stage = Stage::WhatMoved {
                by,
                doubt: Some(match answer {
                    Answer::Joint => Doubt::ReadingStayed { by },
                    _ => Doubt::Grave,
                }),
            };
            return;
        };
        let fault = match decided {
            Answer::Neighbour => Fault::ChannelSwapped,
            Answer::DriveOnly => Fault::GearStripped,
            Answer::Nothing => Fault::DriveSilent,
            // The reading followed the hand, and has not followed the drive yet.
            _ if self.is_first_move() => Fault::LostMotion,
            // It followed the drive before, or is at a rail: a wire has come off.
            _ => Fault::WiperOpen,
        };
        self.refuse(fault, None, Some(by));
    }

    pub(super) fn end_of(&self, toward: Side) -> Option<SearchEnd> {
        let [lower, upper] = self.ends;
        if toward == Side::Lower { lower } else { upper }
    }

    pub(super) fn end_mut(&mut self, toward: Side) -> &mut Option<SearchEnd> {
        let [lower, upper] = &mut self.ends;
        if toward == Side::Lower { lower } else { upper }
    }

    pub(super) fn contact(&self, toward: Side) -> Option<f64> {
        match self.end_of(toward) {
            Some(SearchEnd::Contact { clear, contact, .. }) => Some((clear + contact) / 2.0),
            _ => None,
        }
    }

    pub(super) fn weigh_search(&mut self, toward: Side, end: SearchEnd) -> Result<(), BringUpError> {
        *self.end_mut(toward) = Some(end);
        match end {
            SearchEnd::Contact { .. } => {
                self.votes = Votes::default();
                self.stage = Stage::WhatIsMet { toward, doubt: None };
            }
            SearchEnd::SearchLimit { .. } => self.search_next(toward)?,
            SearchEnd::SensorRunsOut { drive, reading } => {
                self.refuse(Fault::SensorRunsOut, Some(drive), Some(reading));
            }
            SearchEnd::Erratic { drive, range } => self.refuse(Fault::WiperNoisy, Some(drive), Some(range)),
            SearchEnd::TooNoisy { u, step } => self.too_noisy(u, step),
            SearchEnd::NotFollowed { by, .. } if self.followed_first(by) => {
                let per_deg = by.abs() / (2.0 * self.plan.clearance - self.plan.run_in);
                let u = self.map.u_reading / per_deg;
                self.too_noisy(u, StopSearch::SHORT_U * u / StopSearch::SHORT_PART);
            }
            SearchEnd::NotFollowed { by, .. } => {
                self.votes = Votes::default();
                self.stage = Stage::WhatMoved { by, doubt: None };
            }
            SearchEnd::Stopped { .. } => self.finish(Verdict::Stopped),
        }
        Ok(())
    }

    /// How far a contact lies inside of the known one; nothing if none is known or the line itself has shifted.
    fn short_of_known(&self, toward: Side) -> Option<f64> {
        let known = self.plan.baseline?;
        let [lower, upper] = known.contacts;
        let then = if toward == Side::Lower { lower? } else { upper? };
        (self.ahead?.abs() < SHIFTED).then_some((then - self.contact(toward)?) * toward.sign())
    }

    fn load(&self, toward: Side) -> Option<f64> {
        match self.end_of(toward) {
            Some(SearchEnd::Contact { load, .. }) => load,
            _ => None,
        }
    }

    /// What speaks against an answer.
    fn doubt(&self, toward: Side, answer: Answer) -> Option<Doubt> {
        let short = self.short_of_known(toward);
        let met = matches!(answer, Answer::Stop | Answer::Obstacle);
        match (self.load(toward), short) {
            (Some(load), _) if met && load < Self::PRESSES => Some(Doubt::NoLoad { load }),
            (Some(load), _) if !met && load >= Self::PRESSES => Some(Doubt::Loaded { load }),
            (_, Some(by)) if answer == Answer::Stop && by > BLOCKED => Some(Doubt::BeforeTheStop { by }),
            (_, Some(by)) if answer != Answer::Stop && by.abs() < SAME => Some(Doubt::AtTheStop { by }),
            _ => match answer {
                Answer::Stop => None,
                Answer::Nothing => Some(Doubt::StaysBehind {
                    by: self.plan.tolerance,
                }),
                _ => Some(Doubt::Grave),
            },
        }
    }

    pub(super) fn weigh_met(&mut self, toward: Side, answer: Answer) -> Result<(), BringUpError> {
        if let Some(by) = self.changed_by {
            self.weigh_changed(toward, answer, by);
            return Ok(());
        }
        let doubt = self.doubt(toward, answer);
        let decided = match (doubt, self.votes.take(answer)) {
            (None, _) => answer,
            (Some(_), Some(decided)) => decided,
            (Some(doubt), None) => {
                self.stage = Stage::WhatIsMet {
                    toward,
                    doubt: Some(doubt),
                };
                return Ok(());
            }
        };
        let (short, load) = (self.short_of_known(toward), self.load(toward));
        let presses = load.map(|l| l >= Self::PRESSES);
        let fault = match (presses, short, decided) {
            // A drive that is short of torque draws little on its stop too: the speed test comes yet.
            (Some(false), _, Answer::Obstacle | Answer::DriveOnly | Answer::Nothing) => Some(Fault::GearStripped),
            (_, Some(by), _) if by.abs() < SAME => None,
            (None, _, Answer::DriveOnly) => Some(Fault::GearStripped),
            (_, Some(by), _) if by > BLOCKED => Some(Fault::RangeBlocked),
            (_, _, Answer::Obstacle) => Some(Fault::RangeBlocked),
            _ => None,
        };
        match fault {
            Some(fault) => self.refuse(fault, self.contact(toward), short),
            None => self.search_next(toward)?,
        }
        Ok(())
    }

    fn search_next(&mut self, after: Side) -> Result<(), BringUpError> {
        match after {
            Side::Lower => self.stage = Stage::Search(StopSearch::new(self.plan.search(Side::Upper))?),
            Side::Upper => self.time_speed()?,
        }
        Ok(())
    }

    /// The outermost angles found clear.
    pub(super) fn cleared(&self) -> [f64; 2] {
        let of = |end: Option<SearchEnd>, else_clear: f64| end.and_then(SearchEnd::clear).unwrap_or(else_clear);
        let [lower, upper] = self.ends;
        [
            of(lower, self.plan.start - self.plan.clearance),
            of(upper, self.plan.start + self.plan.clearance),
        ]
    }

    /// The sweeps: out over the upper end, down to the lower, out over that, and up again.
    pub(super) fn sweep_next(&mut self, number: u8) -> Result<(), BringUpError> {
        match self.sweep_plan(number) {
            Some(plan) => {
                let sweep = Sweep::new(plan)?;
                self.stage = Stage::Sweep { number, sweep };
            }
            None if number == 0 => self.refuse(Fault::Unclear, None, None),
            None => self.weigh_sweeps()?,
        }
        Ok(())
    }

    /// The sweep of this number; none after the last, or where a run-in from either side leaves no room between the stops.
    pub(super) fn sweep_plan(&self, number: u8) -> Option<SweepPlan> {
        let plan = &self.plan;
        let [lower, upper] = self.cleared();
        let over = |toward| {
            if matches!(self.end_of(toward), Some(SearchEnd::Contact { .. })) {
                plan.step
            } else {
                0.0
            }
        };
        let [limit_lower, limit_upper] = plan.search_limits;
        let reach = 3.0 * plan.step;
        let inside = [lower + plan.run_in, upper - plan.run_in];
        let [innermost_lower, innermost_upper] = inside;
        if innermost_lower >= innermost_upper {
            return None;
        }
        // No run-in leaves what is clear, however near the stops are to each other.
        let between = |legs| (inside, [plan.run_in, plan.run_in], legs);
        let (ends, run_in, legs) = match number {
            // Outward over the end and back: where the joint leaves a stop tells its play from the sensor's.
            0 => {
                let outer = (upper + over(Side::Upper)).min(limit_upper);
                let ends = [(upper - reach).max(innermost_lower), outer];
                (ends, [plan.run_in, 0.0], Legs::UpAndDown)
            }
            1 => between(Legs::Down),
            2 => {
                let outer = (lower - over(Side::Lower)).max(limit_lower);
                let ends = [outer, (lower + reach).min(innermost_upper)];
                (ends, [0.0, plan.run_in], Legs::UpAndDown)
            }
            3 => between(Legs::Up),
            _ => return None,
        };
        let [from, to] = ends;
        let targets = if legs == Legs::UpAndDown {
            Self::MOST_AT_END as u16
        } else {
            ((to - from) / plan.sweep_step).max(1.0) as u16 + 1
        };
        Some(SweepPlan {
            ends,
            targets,
            runs: 1,
            legs,
            run_in,
            pace: plan.pace,
        })
    }

    /// What has changed since an earlier bring-up is a fault of a joint that would be ready.
    pub(super) fn compare_with_baseline(&self, outcome: &mut Outcome) {
        // Where the loop is closed over a sensor that was turned, the earlier contacts belong to other drive angles.
        let turned = self.turned() && self.plan.closes_loop();
        let Some(known) = self.plan.baseline.filter(|_| !turned) else {
            return;
        };
        let contact = |end: Option<EndFound>| end.filter(|e| e.kind == EndKind::Contact).map(|e| e.at);
        let contacts = [contact(outcome.lower), contact(outcome.upper)];
        if let (Verdict::Ready, Some((fault, by))) = (outcome.verdict, changed(&known, contacts, self.ahead)) {
            outcome.verdict = Verdict::Faulty {
                fault,
                at: None,
                by: Some(by),
            };
        }
    }
}
