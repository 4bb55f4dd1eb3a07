//! The whole bring-up in its order: sense test, alignment where it is planned, first slow move, both stops, speed, sweeps, fit, a last
//! walk over the travel, verdict.
//!
//! # What bounds it
//! All moves but the searches stay between the outermost angles found clear, and the sweep of each end goes one step
//! beyond: so no commanded angle lies further than [`StopSearch::MOST_OVERTRAVEL`] steps beyond a contact as it is met in the direction driven,
//! half the play outward of where the joint itself stands then, and none outside `search_limits`. Something that gets into the way meanwhile
//! is met in hops of one step, each of them read, on long ways too; only the two timed runs of the speed test go through.
//!
//! # What it hands over
//! The inner of what the searches and of what the sweeps found clear, less the guard. Where the two disagree by more than their
//! uncertainties, or a reading of a sweep is astray, the sweep stops, that end is searched again, and what has changed meanwhile
//! is a fault. The travel is walked once more at the very end.
//!
//! # Answers and data
//! An answer that the data contradict, or that would end the bring-up, is asked again with the [`Doubt`]; of three answers
//! two decide, and where load, readings or the earlier evidence contradict an answer, the data decide. A sense test that leaves the
//! sense undetermined is made again, up to three times, with the sensor first turned back to where it began.

mod changed;
mod follow;
mod hop;
pub(super) mod plan;
mod prompt;
#[cfg(feature = "serde")]
mod saved;
mod speed;
mod weigh;

pub use plan::SessionPlan;

use super::action::{Action, Doubt, Question, Report};
use super::alignment::{Alignment, AlignmentEnd};
use super::answer::Answer;
use super::diagnosis::Fault;
use super::error::BringUpError;
use super::outcome::{Disagreement, Evidence, Outcome, Verdict, conclude};
#[cfg(feature = "serde")]
use super::saved::Format;
use super::search::{SearchEnd, StopSearch};
use super::sense::{SenseResult, SenseTest};
use super::sweep::{Sweep, SweepReading};
use super::visit::Visit;
use crate::span::Side;
use follow::{Astray, Leg, Map, refill};
use hop::Hop;
use speed::SpeedTest;
use std::vec::Vec;
use weigh::Votes;

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
    /// Before the sense test is made again.
    TurnBack {
        toward: Side,
        degrees: f64,
    },
    Alignment(Alignment),
    Attach {
        doubt: Option<Doubt>,
    },
    /// Slowly to the start, to the lower side of what is clear, to its upper side.
    First {
        leg: u8,
        visit: Visit,
    },
    WhatMoved {
        by: f64,
        doubt: Option<Doubt>,
    },
    Search(StopSearch),
    WhatIsMet {
        toward: Side,
        doubt: Option<Doubt>,
    },
    Speed(SpeedTest),
    Sweep {
        number: u8,
        sweep: Sweep,
    },
    /// Off from where a reading was astray.
    Relief {
        astray: Astray,
        visit: Visit,
    },
    /// What holds the joint there.
    Held {
        astray: Astray,
        doubt: Option<Doubt>,
    },
    /// The places of the first move once more.
    Recheck {
        leg: u8,
        low: f64,
        visit: Visit,
    },
    /// Over the travel that is to be handed over.
    Walk {
        outcome: Outcome,
        sweep: Sweep,
    },
    Done(Outcome),
}

/// A bring-up.
///
/// ```
/// use elbowroom::bring_up::{Action, Session, SessionPlan};
/// let session = Session::new(SessionPlan::new(79.5, [0.0, 180.0]))?;
/// // First of all it asks, with its cautions, whether it may start.
/// assert!(matches!(session.next(), Action::Ask { .. }));
/// assert!(!session.next().cautions().is_empty());
/// # Ok::<(), elbowroom::bring_up::BringUpError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(remote = "Self", deny_unknown_fields)
)]
pub struct Session {
    /// First, so that another format is refused before anything in it is read.
    #[cfg(feature = "serde")]
    format: Format,
    plan: SessionPlan,
    stage: Stage,
    votes: Votes,
    #[cfg_attr(feature = "serde", serde(deserialize_with = "crate::bring_up::saved::given"))]
    sense: Option<SenseResult>,
    /// How many sense tests were made, and the reading at which the first began.
    sense_tests: u8,
    #[cfg_attr(feature = "serde", serde(deserialize_with = "crate::bring_up::saved::given"))]
    sense_began: Option<f64>,
    #[cfg_attr(feature = "serde", serde(deserialize_with = "crate::bring_up::saved::given"))]
    alignment: Option<AlignmentEnd>,
    /// Readings at the lower and at the upper side of what is clear.
    first: [f64; 2],
    /// By how much joint and sensor are ahead of what was known, deg; nothing where that cannot be determined.
    #[cfg_attr(feature = "serde", serde(deserialize_with = "crate::bring_up::saved::given"))]
    ahead: Option<f64>,
    ends: [Option<SearchEnd>; 2],
    /// What the searches read where it was clear.
    map: Map,
    leg: Leg,
    /// On a long way.
    #[cfg_attr(feature = "serde", serde(deserialize_with = "crate::bring_up::saved::given"))]
    hop: Option<Hop>,
    /// The drive's speed, deg/s, where it could be timed.
    #[cfg_attr(feature = "serde", serde(deserialize_with = "crate::bring_up::saved::given"))]
    speed: Option<f64>,
    /// The end that is searched again.
    #[cfg_attr(feature = "serde", serde(deserialize_with = "crate::bring_up::saved::given"))]
    again: Option<Side>,
    /// By how much an end lies elsewhere than it was found first, deg, outward positive.
    #[cfg_attr(feature = "serde", serde(deserialize_with = "crate::bring_up::saved::given"))]
    changed_by: Option<f64>,
    /// How often a reading was astray, and how often that led to nothing.
    astrays: u8,
    alarms: u8,
    readings: Vec<SweepReading>,
    /// Whether the drive was fixed to the joint a second time.
    attached_again: bool,
    #[cfg_attr(feature = "serde", serde(deserialize_with = "crate::bring_up::saved::given"))]
    last_drive: Option<f64>,
    returning: bool,
}

impl Session {
    /// The rate of the first move and of the return after an interruption, deg/s.
    const SLOW: f64 = 10.0;
    /// Sense tests that are made at the most where the drive's answers do not tell.
    const MOST_SENSE_TESTS: u8 = 3;
    /// Readings for which room is made at the start, so that no report waits for memory: more than any plan at its defaults takes.
    /// A plan of more still gets it as it goes.
    const MOST_ROOM: usize = 4096;
    /// Places of one search for which room is made.
    const MOST_PLACES: usize = 512;
    /// Places of a sweep of one end.
    const MOST_AT_END: usize = 17;
    /// Load from which a drive presses on something, part of its stall current.
    const PRESSES: f64 = 0.08;

    /// Checks a plan.
    ///
    /// # Errors
    /// Whatever the sense test, a stop search or a sweep would refuse.
    pub fn new(plan: SessionPlan) -> Result<Self, BringUpError> {
        plan.check()?;
        let mut session = Self {
            #[cfg(feature = "serde")]
            format: Format,
            plan,
            stage: Stage::Ready,
            votes: Votes::default(),
            sense: None,
            sense_tests: 0,
            sense_began: None,
            alignment: None,
            first: [0.0; 2],
            ahead: None,
            ends: [None; 2],
            map: Map::default(),
            leg: Leg::default(),
            hop: None,
            speed: None,
            again: None,
            changed_by: None,
            astrays: 0,
            alarms: 0,
            readings: Vec::new(),
            attached_again: false,
            last_drive: None,
            returning: false,
        };
        session.make_room();
        Ok(session)
    }

    /// Makes room for what this plan's searches and sweeps read, so that no report waits for memory; also of a saved bring-up.
    pub(in crate::bring_up) fn make_room(&mut self) {
        let [lower, upper] = self.plan.search_limits;
        // One sweep up and down over all there may be, and two of the ends.
        let room = 2 * (((upper - lower) / self.plan.sweep_step) as usize + 2 + 2 * Self::MOST_AT_END);
        let room = room.min(Self::MOST_ROOM);
        self.readings.reserve_exact(room.saturating_sub(self.readings.len()));
        self.map.make_room(room.min(Self::MOST_PLACES));
    }

    /// Becomes equal to another, in the memory that it has: to change a bring-up apart from the one that counts, and to exchange both on
    /// success.
    pub fn copy_from(&mut self, other: &Self) {
        let stage = match (core::mem::replace(&mut self.stage, Stage::Ready), &other.stage) {
            // Of the same outcome in the walk over its travel, as after each exchange: it stays where it is.
            (Stage::Walk { outcome, .. }, Stage::Walk { outcome: same, sweep }) if outcome == *same => {
                Stage::Walk { outcome, sweep: *sweep }
            }
            (_, stage) => stage.clone(),
        };
        let mut map = core::mem::take(&mut self.map);
        map.copy_from(&other.map);
        let mut readings = core::mem::take(&mut self.readings);
        refill(&mut readings, &other.readings);
        *self = Self {
            #[cfg(feature = "serde")]
            format: Format,
            plan: other.plan,
            stage,
            votes: other.votes,
            sense: other.sense,
            sense_tests: other.sense_tests,
            sense_began: other.sense_began,
            alignment: other.alignment,
            first: other.first,
            ahead: other.ahead,
            ends: other.ends,
            map,
            leg: other.leg,
            hop: other.hop,
            speed: other.speed,
            again: other.again,
            changed_by: other.changed_by,
            astrays: other.astrays,
            alarms: other.alarms,
            readings,
            attached_again: other.attached_again,
            last_drive: other.last_drive,
            returning: other.returning,
        };
    }

    /// The plan.
    pub fn plan(&self) -> &SessionPlan {
        &self.plan
    }

    /// Where it stands, as a word for people: `ready`, `sense test`, `alignment`, `first move`, `search`, `speed`,
    /// `sweep`, `check` where a reading was astray, `walk`, `done`.
    pub fn stage(&self) -> &'static str {
        match self.stage {
            Stage::Ready => "ready",
            Stage::Detach | Stage::Sense(_) | Stage::TurnBack { .. } => "sense test",
            Stage::Alignment(_) => "alignment",
            Stage::Attach { .. } | Stage::First { .. } | Stage::WhatMoved { .. } => "first move",
            Stage::Speed(_) => "speed",
            Stage::Search(_) | Stage::WhatIsMet { .. } => "search",
            Stage::Sweep { .. } => "sweep",
            Stage::Relief { .. } | Stage::Held { .. } | Stage::Recheck { .. } => "check",
            Stage::Walk { .. } => "walk",
            Stage::Done(_) => "done",
        }
    }

    /// Whether a person holds the joint by hand: in the sense test and in the alignment, when it has no drive angle.
    ///
    /// ```
    /// use elbowroom::bring_up::{Session, SessionPlan};
    /// let mut session = Session::new(SessionPlan::new(79.5, [0.0, 180.0]))?;
    /// assert!(!session.is_held());
    /// session.report(session.parse("done")?)?;
    /// assert!(session.is_held());
    /// # Ok::<(), elbowroom::bring_up::BringUpError>(())
    /// ```
    pub const fn is_held(&self) -> bool {
        matches!(
            self.stage,
            Stage::Detach | Stage::Sense(_) | Stage::TurnBack { .. } | Stage::Alignment(_)
        )
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

    /// The outermost drive angles proven clear so far, lower then upper: those of the plan at first.
    ///
    /// No action asks for an angle further outside of them than one step of the plan, nor outside of its search limits.
    pub fn clear(&self) -> [f64; 2] {
        let [lower, upper] = self.cleared();
        match &self.stage {
            // A stop that is searched again may have moved outward.
            Stage::Search(search) if search.toward() == Side::Lower => [lower.min(search.bracket().clear()), upper],
            Stage::Search(search) => [lower, upper.max(search.bracket().clear())],
            _ => [lower, upper],
        }
    }

    /// Ends it here; the joint is not ready for software.
    pub fn stop(&mut self) {
        if self.outcome().is_none() {
            self.returning = false;
            self.finish(Verdict::Stopped);
        }
    }

    /// To be called after a saved session was restored on a joint whose power may have been off: the next action
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
        let action = self.action();
        self.hop_before(&action).map_or(action, |hop| self.hop_action(&hop))
    }

    /// What the stage asks for, long ways in one.
    fn action(&self) -> Action {
        let ask = |question, doubt| Action::Ask { question, doubt };
        match &self.stage {
            Stage::Ready => ask(Question::Ready, None),
            Stage::Detach => ask(Question::DetachDrive, None),
            Stage::Sense(test) => test.next(),
            Stage::TurnBack { toward, degrees } => ask(
                Question::TurnSensor {
                    toward: *toward,
                    degrees: *degrees,
                },
                None,
            ),
            Stage::Alignment(alignment) => alignment.next(),
            Stage::Attach { doubt } => ask(Question::AttachDrive, *doubt),
            Stage::First { visit, .. } | Stage::Relief { visit, .. } | Stage::Recheck { visit, .. } => visit.next(),
            Stage::Speed(test) => test.next(),
            Stage::WhatMoved { doubt, .. } => ask(
                Question::WhatMoved {
                    from: self.plan.start - self.plan.clearance,
                    to: self.plan.start + self.plan.clearance,
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
            Stage::Sweep { sweep, .. } | Stage::Walk { sweep, .. } => sweep.next(),
            Stage::Held { astray, doubt } => ask(
                Question::WhatIsMet {
                    toward: astray.toward,
                    drive: astray.drive,
                },
                *doubt,
            ),
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
        if let (Action::Read, Report::Reading { value, .. }) = (asked, report)
            && let Some(end) = self.range_needed(value)
        {
            report.reading(&asked)?;
            self.refuse(Fault::PlanReadingRange, None, Some(end));
            return Ok(());
        }
        if let Some(hop) = self.hop_before(&self.action()) {
            return self.report_hop(hop, report);
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
                    let test = *test;
                    self.weigh_sense(&test, result);
                }
            }
            Stage::TurnBack { .. } => {
                report.answer(&asked)?;
                self.stage = Stage::Sense(SenseTest::new(self.plan.sense)?);
            }
            Stage::Alignment(alignment) => {
                alignment.report(report)?;
                if let Some(end) = alignment.end() {
                    self.weigh_index(end);
                }
            }
            Stage::Attach { .. } => {
                report.answer(&asked)?;
                self.move_first(0);
            }
            Stage::First { leg, visit } => {
                let leg = *leg;
                if let Some(seen) = visit.report(report)? {
                    self.first_seen(leg, seen)?;
                }
            }
            Stage::WhatMoved { by, .. } => {
                let by = *by;
                let answer = report.answer(&asked)?;
                self.weigh_moved(answer, by);
            }
            Stage::Speed(test) => {
                if let Some(speed) = test.report(report)? {
                    self.weigh_speed(speed)?;
                }
            }
            Stage::Search(search) => {
                search.report(report)?;
                if self.again.is_none() {
                    self.map.take(search);
                }
                if let Some(end) = search.end() {
                    let search = *search;
                    match self.again {
                        Some(toward) => self.weigh_again(toward, &search, end)?,
                        None => self.weigh_search(search.toward(), end)?,
                    }
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
                    } else if let Some(astray) = self.follows(&reading) {
                        self.astray(astray)?;
                    } else if over {
                        self.sweep_next(number + 1)?;
                    }
                }
            }
            Stage::Relief { astray, visit } => {
                let astray = *astray;
                if visit.report(report)?.is_some() {
                    self.relieved(astray);
                }
            }
            Stage::Held { astray, .. } => {
                let astray = *astray;
                let answer = report.answer(&asked)?;
                self.weigh_held(astray, answer)?;
            }
            Stage::Recheck { leg, low, visit } => {
                let (leg, low) = (*leg, *low);
                if let Some(seen) = visit.report(report)? {
                    self.rechecked(leg, low, seen)?;
                }
            }
            Stage::Walk { outcome, sweep } => {
                let reading = sweep.report(report)?;
                let done = (sweep.next() == Action::Done).then(|| outcome.clone());
                let astray = reading.and_then(|reading| self.follows(&reading));
                match (astray, done) {
                    (Some(astray), _) => self.astray(astray)?,
                    (None, Some(outcome)) => self.stage = Stage::Done(outcome),
                    (None, None) => {}
                }
            }
            Stage::Done(_) => return Err(BringUpError::Done),
        }
        if let Action::MoveTo { drive, .. } = asked {
            self.moved_to(drive);
        }
        Ok(())
    }

    /// The end of the reading range that the plan should state, where a reading lies outside of the one it does: a converter gives none.
    fn range_needed(&self, reading: f64) -> Option<f64> {
        const HIGHEST: [f64; 5] = [255.0, 1023.0, 4095.0, 16_383.0, 65_535.0];
        let [low, high] = self.plan.sense.reading_range;
        // A converted reading, in volts or degrees, may scatter beyond its range.
        let beyond = 0.02 * (high - low);
        if !reading.is_finite() || (reading >= low - beyond && reading <= high + beyond) {
            None
        } else if reading > high && low == 0.0 && reading.fract() == 0.0 {
            Some(HIGHEST.into_iter().find(|most| reading <= *most).unwrap_or(reading))
        } else {
            Some(reading)
        }
    }

    fn moved_to(&mut self, drive: f64) {
        let way = drive - self.last_drive.unwrap_or(drive);
        if way != 0.0 {
            self.leg_begins(if way > 0.0 { Side::Upper } else { Side::Lower });
        }
        self.last_drive = Some(drive);
    }

    fn follows(&mut self, read: &SweepReading) -> Option<Astray> {
        self.astray_at(read.place.drive, read.place.toward, read.reading, self.plan.pace.reads)
    }

    fn conclusion(&self, verdict: Verdict) -> (Outcome, Option<Disagreement>) {
        conclude(
            verdict,
            &Evidence {
                plan: &self.plan,
                sense: self.sense,
                alignment: self.alignment,
                speed: self.speed,
                ends: self.ends,
                readings: &self.readings,
                slack: self.slack_at(self.plan.start) + self.plan.tolerance,
                u_reading: self.map.u_reading,
            },
        )
    }

    fn finish(&mut self, verdict: Verdict) {
        let (outcome, _) = self.conclusion(verdict);
        self.stage = Stage::Done(outcome);
    }

    fn refuse(&mut self, fault: Fault, at: Option<f64>, by: Option<f64>) {
        self.finish(Verdict::Faulty { fault, at, by });
    }
}
