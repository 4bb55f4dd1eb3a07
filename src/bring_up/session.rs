//! The whole bring-up in its order: sense test, alignment where it is planned, first slow move, speed, both stops, sweeps, fit,
//! verdict.
//!
//! # What bounds it
//! All moves but the searches stay between the outermost angles found clear, and the last sweep of each end goes one step
//! beyond: so no commanded angle lies further than [`StopSearch::MOST_OVERTRAVEL`] steps beyond a true contact, and none
//! outside `search_limits`.
//!
//! # Answers and data
//! An answer that the data contradict, or that would end the bring-up, is asked again with the [`Doubt`]; of three answers
//! two decide, and where load, readings or the earlier evidence say otherwise the data decide. A sense test that leaves the
//! sense undetermined is made again, up to three times, with the sensor first turned back to where it began.

mod plan;
#[cfg(feature = "serde")]
mod saved;
mod weigh;

pub use plan::SessionPlan;

use super::action::{Action, Answer, Doubt, Question, Report};
use super::alignment::{Alignment, AlignmentEnd};
use super::diagnosis::Fault;
use super::error::BringUpError;
use super::outcome::{Outcome, Verdict, conclude};
#[cfg(feature = "serde")]
use super::saved::Format;
use super::search::{SearchEnd, StopSearch};
use super::sense::{SenseResult, SenseTest};
use super::sweep::{Sweep, SweepReading};
use super::visit::Visit;
use crate::span::Side;
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
    /// Back at full speed: a reading on arrival, then one at rest.
    Speed {
        arrived: Option<f64>,
        visit: Visit,
    },
    Search(StopSearch),
    WhatIsMet {
        toward: Side,
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
    /// By how much joint and sensor are ahead of what was known, deg; nothing where that cannot be told.
    #[cfg_attr(feature = "serde", serde(deserialize_with = "crate::bring_up::saved::given"))]
    ahead: Option<f64>,
    ends: [Option<SearchEnd>; 2],
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
    /// Places of a sweep of one end.
    const MOST_AT_END: usize = 17;
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
        let [lower, upper] = plan.search_limits;
        // One sweep up and down over all there may be, and two of the ends.
        let room = 2 * (((upper - lower) / plan.sweep_step) as usize + 2 + 2 * Self::MOST_AT_END);
        let room = room.min(Self::MOST_ROOM);
        Ok(Self {
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
            readings: Vec::with_capacity(room),
            attached_again: false,
            last_drive: None,
            returning: false,
        })
    }

    /// Becomes equal to another, in the memory that it has: for whoever changes a bring-up apart from the one that counts, and
    /// exchanges both when it went well.
    pub fn copy_from(&mut self, other: &Self) {
        let mut readings = core::mem::take(&mut self.readings);
        readings.clear();
        // As much room as the other's, once.
        readings.reserve(other.readings.capacity());
        readings.extend_from_slice(&other.readings);
        *self = Self {
            #[cfg(feature = "serde")]
            format: Format,
            plan: other.plan,
            stage: other.stage.clone(),
            votes: other.votes,
            sense: other.sense,
            sense_tests: other.sense_tests,
            sense_began: other.sense_began,
            alignment: other.alignment,
            first: other.first,
            ahead: other.ahead,
            ends: other.ends,
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

    /// Where it stands, as a word for people: `ready`, `sense test`, `alignment`, `first move`, `speed`, `search`,
    /// `sweep`, `done`.
    pub fn stage(&self) -> &'static str {
        match self.stage {
            Stage::Ready => "ready",
            Stage::Detach | Stage::Sense(_) | Stage::TurnBack { .. } => "sense test",
            Stage::Alignment(_) => "alignment",
            Stage::Attach { .. } | Stage::First { .. } | Stage::WhatMoved { .. } => "first move",
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

    /// The outermost drive angles proven clear so far, lower then upper: those of the plan at first.
    ///
    /// No action asks for an angle further outside of them than one step of the plan, nor outside of its search limits.
    pub fn clear(&self) -> [f64; 2] {
        let [lower, upper] = self.cleared();
        match &self.stage {
            Stage::Search(search) if search.toward() == Side::Lower => [search.bracket().clear(), upper],
            Stage::Search(search) => [lower, search.bracket().clear()],
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
            Stage::TurnBack { toward, degrees } => ask(
                Question::TurnSensor {
                    toward: *toward,
                    degrees: *degrees,
                },
                None,
            ),
            Stage::Alignment(alignment) => alignment.next(),
            Stage::Attach { doubt } => ask(Question::AttachDrive, *doubt),
            Stage::First { visit, .. } | Stage::Speed { visit, .. } => visit.next(),
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
                    let ends = test.ends();
                    self.weigh_sense(result, ends);
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
        let outcome = conclude(
            verdict,
            &self.plan,
            self.sense,
            self.alignment,
            self.ends,
            &self.readings,
        );
        self.stage = Stage::Done(outcome);
    }

    fn refuse(&mut self, fault: Fault, at: Option<f64>, by: Option<f64>) {
        self.finish(Verdict::Faulty { fault, at, by });
    }
}
