//! The whole bring-up in its order: sense test, first slow move, speed, both stops, sweeps, fit, verdict.
//!
//! # What bounds it
//! All moves but the searches stay between the outermost angles found clear, and the last sweep of each end goes one step
//! beyond: so no commanded angle lies further than [`StopSearch::MOST_OVERTRAVEL`] steps beyond a true contact, and none
//! outside `bound`.
//!
//! # Answers and data
//! An answer that the data contradict, or that would end the bring-up, is asked again with the [`Doubt`]; of three answers
//! two decide, and where load, readings or the earlier evidence say otherwise the data decide.

use super::action::{Action, Answer, Doubt, Question, Report, Toward};
use super::bracket::BracketPlan;
use super::diagnosis::{BLOCKED, Fault, Known, SAME, SHIFTED, changed};
use super::error::BringUpError;
use super::outcome::{EndFound, Outcome, Verdict, conclude};
use super::search::{SearchEnd, StopSearch, StopSearchPlan};
use super::sense::{LoopSense, SenseAdvice, SensePlan, SenseReason, SenseResult, SenseTest, Watch};
use super::sweep::{Legs, Sweep, SweepPlan, SweepReading};
use super::visit::{Pace, Seen, Visit};
use crate::fit::EndKind;
use std::vec::Vec;

/// What a bring-up starts from. *Unit*: deg of drive angle unless said otherwise.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct SessionPlan {
    /// The drive angle at which the joint stands, clear on both sides.
    pub start: f64,
    /// How far it is clear on both sides of it.
    pub clear: f64,
    /// Angles that are never passed, lower then upper: the servo's own range or less.
    pub bound: [f64; 2],
    /// The longest way a probe may go beyond what is clear.
    pub step: f64,
    /// How finely a stop is bracketed.
    pub finest: f64,
    /// How far before a place it is approached from; more than the lost motion.
    pub run_in: f64,
    /// Way between two places of the sweep.
    pub pitch: f64,
    /// Margin between contact and travel.
    pub guard: f64,
    /// Coverage probability of the intervals.
    pub confidence: f64,
    /// The sense test.
    pub sense: SensePlan,
    /// Whether the reading should rise with the drive angle.
    pub rising: bool,
    /// One step of the reading, in readings.
    pub resolution: f64,
    /// The servo's speed by its data sheet, deg/s.
    pub rated_speed: f64,
    /// How each place is visited.
    pub pace: Pace,
    /// What is known from before.
    pub known: Option<Known>,
}

impl SessionPlan {
    /// The usual plan (common practice, no source): 6 deg clear on both sides, steps of 2.5 deg, stops bracketed to 0.5,
    /// guard 2, a 10-bit reading that rises, a servo of 300 deg/s.
    pub fn new(start: f64, bound: [f64; 2]) -> Self {
        Self {
            start,
            clear: 6.0,
            bound,
            step: 2.5,
            finest: 0.5,
            run_in: 5.0,
            pitch: 1.5,
            guard: 2.0,
            confidence: 0.95,
            sense: SensePlan::default(),
            rising: true,
            resolution: 1.0,
            rated_speed: 300.0,
            pace: Pace::default(),
            known: None,
        }
    }

    fn check(&self) -> Result<(), BringUpError> {
        BringUpError::rising("bound", self.bound)?;
        BringUpError::positive("clear", self.clear)?;
        let [lower, upper] = self.bound;
        BringUpError::within("start", self.start, lower + self.clear, upper - self.clear)?;
        BringUpError::positive("pitch", self.pitch)?;
        BringUpError::within("guard", self.guard, 0.0, f64::MAX)?;
        BringUpError::within("confidence", self.confidence, 0.5, 0.9999)?;
        BringUpError::positive("rated_speed", self.rated_speed)?;
        if let Some(known) = self.known {
            for number in [known.at, known.reading, known.per_deg] {
                BringUpError::finite("known", number)?;
            }
            BringUpError::positive("size of known.per_deg", known.per_deg.abs())?;
        }
        SenseTest::new(self.sense)?;
        for toward in [Toward::Lower, Toward::Upper] {
            StopSearch::new(self.search(toward))?;
        }
        Ok(())
    }

    fn search(&self, toward: Toward) -> StopSearchPlan {
        let sign = toward.sign();
        let [lower, upper] = self.bound;
        let [low, high] = self.sense.scale;
        // A hundredth of the scale at either end is no reading: converters and potentiometers end early.
        let margin = 0.01 * (high - low);
        StopSearchPlan {
            bracket: BracketPlan {
                toward,
                clear: self.start + sign * self.clear,
                bound: if toward == Toward::Upper { upper } else { lower },
                step: self.step,
                finest: self.finest,
            },
            inner: self.start - sign * self.clear,
            run_in: self.run_in,
            readable: [low + margin, high - margin],
            resolution: self.resolution,
            pace: self.pace,
        }
    }

    pub(super) fn erratic(&self, range: f64) -> bool {
        let [low, high] = self.sense.scale;
        range > super::search::ERRATIC_PART * (high - low)
    }
}

/// Up to three answers to one question.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
struct Votes {
    first: Option<Answer>,
    second: Option<Answer>,
}

impl Votes {
    /// Takes an answer; gives the one that was given twice, or the third.
    fn take(&mut self, answer: Answer) -> Option<Answer> {
        match (self.first, self.second) {
            (None, _) => self.first = Some(answer),
            (Some(first), _) if first == answer => return Some(answer),
            (Some(_), None) => self.second = Some(answer),
            (Some(_), Some(_)) => return Some(answer),
        }
        None
    }
}

/// The steps of the procedure, in their order.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
// One of these exists for each session; boxing the larger ones would buy nothing.
#[allow(clippy::large_enum_variant)]
enum Stage {
    Ready,
    Detach,
    Sense(SenseTest),
    Attach,
    /// Slowly to the start, to the lower side of what is clear, to its upper side.
    First {
        leg: u8,
        visit: Visit,
    },
    WhatMoved {
        by: f64,
        doubt: Option<Doubt>,
    },
    /// Back at full speed: a reading on arrival, then one at rest.
    Speed {
        arrived: Option<f64>,
        visit: Visit,
    },
    Search(StopSearch),
    WhatIsMet {
        toward: Toward,
        doubt: Option<Doubt>,
    },
    Sweep {
        number: u8,
        sweep: Sweep,
    },
    Done(Outcome),
}

/// A bring-up.
///
/// ```
/// use elbowroom::bring_up::{Action, Session, SessionPlan};
/// let session = Session::new(SessionPlan::new(42.5, [0.0, 180.0]))?;
/// // First of all it asks, with its cautions, whether it may start.
/// assert!(matches!(session.next(), Action::Ask { .. }));
/// assert!(!session.next().cautions().is_empty());
/// # Ok::<(), elbowroom::bring_up::BringUpError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Session {
    plan: SessionPlan,
    stage: Stage,
    votes: Votes,
    sense: Option<SenseResult>,
    /// Readings at the lower and at the upper side of what is clear.
    first: [f64; 2],
    /// By how much joint and sensor are ahead of what was known, deg.
    ahead: f64,
    ends: [Option<SearchEnd>; 2],
    readings: Vec<SweepReading>,
    last_drive: Option<f64>,
    returning: bool,
}

impl Session {
    /// The rate of the first move and of the return after an interruption, deg/s.
    const SLOW: f64 = 10.0;
    /// Part of a move that must be done when its time by the data sheet is over.
    const ARRIVED_PART: f64 = 0.75;
    /// Load from which a drive presses on something, part of its stall current.
    const PRESSES: f64 = 0.08;

    /// Checks a plan.
    ///
    /// # Errors
    /// Whatever the sense test, a stop search or a sweep would refuse.
    pub fn new(plan: SessionPlan) -> Result<Self, BringUpError> {
        plan.check()?;
        Ok(Self {
            plan,
            stage: Stage::Ready,
            votes: Votes::default(),
            sense: None,
            first: [0.0; 2],
            ahead: 0.0,
            ends: [None; 2],
            readings: Vec::new(),
            last_drive: None,
            returning: false,
        })
    }

    /// The plan.
    pub fn plan(&self) -> &SessionPlan {
        &self.plan
    }

    /// Where it stands, as a word for people: `ready`, `sense test`, `first move`, `speed`, `search`, `sweep`, `done`.
    pub fn stage(&self) -> &'static str {
        match self.stage {
            Stage::Ready => "ready",
            Stage::Detach | Stage::Sense(_) | Stage::Attach => "sense test",
            Stage::First { .. } | Stage::WhatMoved { .. } => "first move",
            Stage::Speed { .. } => "speed",
            Stage::Search(_) | Stage::WhatIsMet { .. } => "search",
            Stage::Sweep { .. } => "sweep",
            Stage::Done(_) => "done",
        }
    }

    /// The outcome, when it is done.
    pub fn outcome(&self) -> Option<&Outcome> {
        match &self.stage {
            Stage::Done(outcome) => Some(outcome),
            _ => None,
        }
    }

    /// Readings of the sweeps so far.
    pub fn readings(&self) -> &[SweepReading] {
        &self.readings
    }

    /// Ends it here; the joint is not fit for software.
    pub fn stop(&mut self) {
        if self.outcome().is_none() {
            self.finish(Verdict::Stopped);
        }
    }

    /// To be called after a saved session was taken up again on a joint whose power may have been off: the next action
    /// then brings the drive slowly back to where it last was.
    pub fn resume(&mut self) {
        self.returning = self.last_drive.is_some() && self.outcome().is_none();
    }

    /// What to do next; [`Action::Done`] at the end. Asking changes nothing.
    pub fn next(&self) -> Action {
        if let (true, Some(drive)) = (self.returning, self.last_drive) {
            return Action::MoveTo {
                drive,
                rate_per_s: Self::SLOW,
            };
        }
        let ask = |question, doubt| Action::Ask { question, doubt };
        match &self.stage {
            Stage::Ready => ask(Question::Ready, None),
            Stage::Detach => ask(Question::DetachDrive, None),
            Stage::Sense(test) => test.next(),
            Stage::Attach => ask(Question::AttachDrive, None),
            Stage::First { visit, .. } | Stage::Speed { visit, .. } => visit.next(),
            Stage::WhatMoved { doubt, .. } => ask(
                Question::WhatMoved {
                    from: self.plan.start - self.plan.clear,
                    to: self.plan.start + self.plan.clear,
                },
                *doubt,
            ),
            Stage::Search(search) => search.next(),
            Stage::WhatIsMet { toward, doubt } => ask(
                Question::WhatIsMet {
                    toward: *toward,
                    drive: self.contact(*toward).unwrap_or(self.plan.start),
                },
                *doubt,
            ),
            Stage::Sweep { sweep, .. } => sweep.next(),
            Stage::Done(_) => Action::Done,
        }
    }

    /// Takes the report of what [`Session::next`] asked.
    ///
    /// # Errors
    /// A report or an answer that does not belong to the action, a number that is not finite; nothing changes then.
    pub fn report(&mut self, report: Report) -> Result<(), BringUpError> {
        let asked = self.next();
        if self.returning {
            report.confirms(&asked)?;
            self.returning = false;
            return Ok(());
        }
        match &mut self.stage {
            Stage::Ready => match report.answer(&asked)? {
                Answer::Done => self.stage = Stage::Detach,
                _ => self.finish(Verdict::Declined),
            },
            Stage::Detach => {
                report.answer(&asked)?;
                self.stage = Stage::Sense(SenseTest::new(self.plan.sense)?);
            }
            Stage::Sense(test) => {
                test.report(report)?;
                if let Some(result) = test.result() {
                    self.weigh_sense(result);
                }
            }
            Stage::Attach => {
                report.answer(&asked)?;
                self.move_first(0);
            }
            Stage::First { leg, visit } => {
                let leg = *leg;
                if let Some(seen) = visit.report(report)? {
                    self.first_seen(leg, seen);
                }
            }
            Stage::WhatMoved { by, .. } => {
                let by = *by;
                let answer = report.answer(&asked)?;
                self.weigh_moved(answer, by);
            }
            Stage::Speed { arrived, visit } => {
                let arrived = *arrived;
                if let Some(seen) = visit.report(report)? {
                    self.weigh_speed(arrived, seen)?;
                }
            }
            Stage::Search(search) => {
                search.report(report)?;
                if let Some(end) = search.end() {
                    let toward = search.toward();
                    self.weigh_search(toward, end)?;
                }
            }
            Stage::WhatIsMet { toward, .. } => {
                let toward = *toward;
                let answer = report.answer(&asked)?;
                self.weigh_met(toward, answer)?;
            }
            Stage::Sweep { number, sweep } => {
                let number = *number;
                let reading = sweep.report(report)?;
                let over = sweep.next() == Action::Done;
                if let Some(reading) = reading {
                    self.readings.push(reading);
                    if self.plan.erratic(reading.range) {
                        self.refuse(Fault::WiperNoisy, Some(reading.place.drive), Some(reading.range));
                        return Ok(());
                    }
                }
                if over {
                    self.sweep_next(number + 1)?;
                }
            }
            Stage::Done(_) => return Err(BringUpError::Done),
        }
        if let Action::MoveTo { drive, .. } = asked {
            self.last_drive = Some(drive);
        }
        Ok(())
    }

    fn finish(&mut self, verdict: Verdict) {
        let outcome = conclude(verdict, &self.plan, self.sense, self.ends, &self.readings);
        self.stage = Stage::Done(outcome);
    }

    fn refuse(&mut self, fault: Fault, at: Option<f64>, by: Option<f64>) {
        self.finish(Verdict::Faulty { fault, at, by });
    }

    fn weigh_sense(&mut self, result: SenseResult) {
        // An undetermined sense may come of a slip of the hand: once more, from where the sensor stands now.
        let first = self.sense.is_none();
        self.sense = Some(result);
        let told = result.sense != LoopSense::Undetermined || result.reason == Some(SenseReason::DriveNotWatched);
        if first
            && !told
            && let Ok(test) = SenseTest::new(self.plan.sense)
        {
            self.stage = Stage::Sense(test);
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
            None => self.stage = Stage::Attach,
        }
    }

    fn move_first(&mut self, leg: u8) {
        let pace = Pace {
            rate_per_s: Self::SLOW.min(self.plan.pace.rate_per_s),
            ..self.plan.pace
        };
        let visit = match leg {
            0 => Visit::passing(self.plan.start, pace),
            1 => Visit::new(self.plan.start - self.plan.clear, pace),
            _ => Visit::new(self.plan.start + self.plan.clear, pace),
        };
        self.stage = Stage::First { leg, visit };
    }

    fn first_seen(&mut self, leg: u8, seen: Seen) {
        if self.plan.erratic(seen.range) {
            return self.refuse(Fault::WiperNoisy, Some(seen.drive), Some(seen.range));
        }
        let [low, _] = self.first;
        match leg {
            0 => self.move_first(1),
            1 => {
                self.first = [seen.reading, seen.reading];
                self.move_first(2);
            }
            _ => {
                self.first = [low, seen.reading];
                self.weigh_first(seen.reading - low, seen);
            }
        }
    }

    fn weigh_first(&mut self, by: f64, seen: Seen) {
        let slope = self.sense.map_or(0.0, |s| s.slope);
        let way = 2.0 * self.plan.clear;
        // Without earlier evidence the hand's degrees are the only measure, and a gear may lie between them.
        let least = match self.plan.known {
            Some(known) => 0.25 * (known.per_deg * way).abs(),
            None => 0.1 * (slope * way).abs(),
        };
        if by.abs() < least {
            self.stage = Stage::WhatMoved { by, doubt: None };
        } else if by * slope < 0.0 {
            self.refuse(Fault::WiresSwapped, None, Some(by));
        } else {
            if let Some(known) = self.plan.known {
                self.ahead = known.ahead(seen.drive, seen.reading);
            }
            self.votes = Votes::default();
            self.stage = Stage::Speed {
                arrived: None,
                visit: Visit::new(
                    self.plan.start - self.plan.clear,
                    Pace {
                        rate_per_s: self.plan.rated_speed,
                        settle_s: 0.0,
                        reads: 3,
                    },
                ),
            };
        }
    }

    fn weigh_moved(&mut self, answer: Answer, by: f64) {
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
            // The reading followed the hand; if the joint moves now it does not follow the joint.
            _ => Fault::WiperOpen,
        };
        self.refuse(fault, None, Some(by));
    }

    fn weigh_speed(&mut self, arrived: Option<f64>, seen: Seen) -> Result<(), BringUpError> {
        if self.plan.erratic(seen.range) {
            self.refuse(Fault::WiperNoisy, Some(seen.drive), Some(seen.range));
            return Ok(());
        }
        let Some(arrived) = arrived else {
            self.stage = Stage::Speed {
                arrived: Some(seen.reading),
                visit: Visit::new(seen.drive, self.plan.pace),
            };
            return Ok(());
        };
        let [_, from] = self.first;
        let part = (arrived - from) / (seen.reading - from);
        if part < Self::ARRIVED_PART {
            self.refuse(Fault::SupplySag, None, Some(part));
        } else {
            self.stage = Stage::Search(StopSearch::new(self.plan.search(Toward::Lower))?);
        }
        Ok(())
    }

    fn end_of(&self, toward: Toward) -> Option<SearchEnd> {
        let [lower, upper] = self.ends;
        if toward == Toward::Lower { lower } else { upper }
    }

    fn contact(&self, toward: Toward) -> Option<f64> {
        match self.end_of(toward) {
            Some(SearchEnd::Contact { clear, contact, .. }) => Some((clear + contact) / 2.0),
            _ => None,
        }
    }

    fn weigh_search(&mut self, toward: Toward, end: SearchEnd) -> Result<(), BringUpError> {
        let [lower, upper] = &mut self.ends;
        *if toward == Toward::Lower { lower } else { upper } = Some(end);
        match end {
            SearchEnd::Contact { .. } => {
                self.votes = Votes::default();
                self.stage = Stage::WhatIsMet { toward, doubt: None };
            }
            SearchEnd::Bound { .. } => self.search_next(toward)?,
            SearchEnd::SensorRunsOut { drive, reading } => {
                self.refuse(Fault::SensorRunsOut, Some(drive), Some(reading));
            }
            SearchEnd::Erratic { drive, range } => self.refuse(Fault::WiperNoisy, Some(drive), Some(range)),
            SearchEnd::TooNoisy { u, .. } => self.refuse(Fault::WiperNoisy, None, Some(u)),
            SearchEnd::NotFollowed { drive, by } => self.refuse(Fault::GearStripped, Some(drive), Some(by)),
            SearchEnd::Stopped { .. } => self.finish(Verdict::Stopped),
        }
        Ok(())
    }

    /// How far a contact lies inside of the known one; nothing if none is known or the line itself has shifted.
    fn short_of_known(&self, toward: Toward) -> Option<f64> {
        let known = self.plan.known?;
        let [lower, upper] = known.contacts;
        let then = if toward == Toward::Lower { lower? } else { upper? };
        (self.ahead.abs() < SHIFTED).then_some((then - self.contact(toward)?) * toward.sign())
    }

    fn load(&self, toward: Toward) -> Option<f64> {
        match self.end_of(toward) {
            Some(SearchEnd::Contact { load, .. }) => load,
            _ => None,
        }
    }

    /// What speaks against an answer.
    fn doubt(&self, toward: Toward, answer: Answer) -> Option<Doubt> {
        let short = self.short_of_known(toward);
        let met = matches!(answer, Answer::Stop | Answer::Obstacle);
        match (self.load(toward), short) {
            (Some(load), _) if met && load < Self::PRESSES => Some(Doubt::NoLoad { load }),
            (Some(load), _) if !met && load >= Self::PRESSES => Some(Doubt::Loaded { load }),
            (_, Some(by)) if answer == Answer::Stop && by > BLOCKED => Some(Doubt::BeforeTheStop { by }),
            (_, Some(by)) if answer != Answer::Stop && by.abs() < SAME => Some(Doubt::AtTheStop { by }),
            _ => match answer {
                Answer::Stop => None,
                Answer::Nothing => Some(Doubt::StaysBehind { by: self.plan.finest }),
                _ => Some(Doubt::Grave),
            },
        }
    }

    fn weigh_met(&mut self, toward: Toward, answer: Answer) -> Result<(), BringUpError> {
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
            (Some(false), _, _) => Some(Fault::GearStripped),
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

    fn search_next(&mut self, after: Toward) -> Result<(), BringUpError> {
        match after {
            Toward::Lower => self.stage = Stage::Search(StopSearch::new(self.plan.search(Toward::Upper))?),
            Toward::Upper => self.sweep_next(0)?,
        }
        Ok(())
    }

    /// The outermost angles found clear.
    fn cleared(&self) -> [f64; 2] {
        let of = |end: Option<SearchEnd>, else_clear: f64| match end {
            Some(SearchEnd::Contact { clear, .. } | SearchEnd::Bound { clear } | SearchEnd::Stopped { clear }) => clear,
            _ => else_clear,
        };
        let [lower, upper] = self.ends;
        [
            of(lower, self.plan.start - self.plan.clear),
            of(upper, self.plan.start + self.plan.clear),
        ]
    }

    /// The sweeps: both ways between the stops, then outward over each end.
    fn sweep_next(&mut self, number: u8) -> Result<(), BringUpError> {
        let plan = &self.plan;
        let [lower, upper] = self.cleared();
        let over = |toward| {
            if matches!(self.end_of(toward), Some(SearchEnd::Contact { .. })) {
                plan.step
            } else {
                0.0
            }
        };
        let [bound_lower, bound_upper] = plan.bound;
        let reach = 3.0 * plan.step;
        let (ends, run_in) = match number {
            0 => ([lower + plan.run_in, upper - plan.run_in], [plan.run_in, plan.run_in]),
            // Outward over the end and back: where the joint leaves a stop tells its play from the sensor's.
            1 => {
                let outer = (upper + over(Toward::Upper)).min(bound_upper);
                ([upper - reach, outer], [plan.run_in, 0.0])
            }
            2 => {
                let outer = (lower - over(Toward::Lower)).max(bound_lower);
                ([outer, lower + reach], [0.0, plan.run_in])
            }
            _ => {
                self.diagnose();
                return Ok(());
            }
        };
        let [from, to] = ends;
        let targets = if number == 0 {
            ((to - from) / plan.pitch).max(1.0) as u16 + 1
        } else {
            17
        };
        self.stage = Stage::Sweep {
            number,
            sweep: Sweep::new(SweepPlan {
                ends,
                targets,
                runs: 1,
                legs: Legs::UpAndDown,
                run_in,
                pace: plan.pace,
            })?,
        };
        Ok(())
    }

    fn diagnose(&mut self) {
        self.finish(Verdict::Fit);
        let (Some(known), Stage::Done(outcome)) = (self.plan.known, &mut self.stage) else {
            return;
        };
        let contact = |end: Option<EndFound>| end.filter(|e| e.kind == EndKind::Contact).map(|e| e.at);
        let contacts = [contact(outcome.lower), contact(outcome.upper)];
        if let (Verdict::Fit, Some((fault, by))) = (outcome.verdict, changed(&known, contacts, self.ahead)) {
            outcome.verdict = Verdict::Faulty {
                fault,
                at: None,
                by: Some(by),
            };
        }
    }
}

/// Whether the loop is closed over the joint's own sensor.
impl SessionPlan {
    /// Whether the servo's loop runs over the sensor that the session reads.
    pub fn closes_loop(&self) -> bool {
        self.sense.watch == Watch::SensorAndDrive
    }
}
