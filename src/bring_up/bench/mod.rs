//! Bring-up at the bench: a person types each reading, and few are needed.
mod conclude;
mod estimate;
mod log;
mod model;
mod plan;
mod prompt;
mod refine;
mod run;
#[cfg(feature = "serde")]
mod saved;
mod search;
mod steps;

pub use plan::BenchPlan;
pub use prompt::{Prompt, PromptAnswer, PromptCaution};
pub use run::BenchReading;

use super::action::{Action, Caution, Doubt, Report};
use super::error::BringUpError;
use super::outcome::{Outcome, Verdict};
use crate::span::Side;
use log::Entry;
use run::{Flow, Halt, Memo, Pending, Run};
use std::vec::Vec;

/// A bring-up whose readings are typed.
///
/// ```
/// use elbowroom::bring_up::{Bench, BenchPlan};
/// let mut bench = Bench::new(BenchPlan::new(79.5, [0.0, 180.0]))?;
/// // First of all it asks, with its cautions, whether it may start.
/// let prompt = bench.prompt();
/// assert_eq!((prompt.kind, prompt.question), ("ask", Some("ready")));
/// assert!(!prompt.cautions.is_empty());
/// let report = bench.parse("done")?;
/// bench.report(report)?;
/// assert_eq!(bench.prompt().sentence, "the drive goes from 79.5 to 90.5 deg");
/// // A wrong answer changes nothing, and lists that question's answers only.
/// assert!(bench.undo());
/// assert_eq!(bench.parse("stop").unwrap_err().to_string(), "that is no answer to ready; type done or no");
/// # Ok::<(), elbowroom::bring_up::BringUpError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Bench {
    plan: BenchPlan,
    log: Vec<Entry>,
    /// Moves still to make before the drive stands again where the log says.
    back: Option<Back>,
    now: Now,
}

/// The drive comes again to where the log says that it stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
enum Back {
    /// First inward.
    Inward,
    /// Then to the place.
    Out,
}

/// What plan and log come to.
#[derive(Debug, Clone, PartialEq, Default)]
struct Now {
    pending: Option<Pending>,
    outcome: Option<Outcome>,
    typed: Vec<BenchReading>,
    /// Where in the log the drive was detached and fixed again.
    hands: [Option<usize>; 2],
    not_felt: [bool; 2],
    /// The log holds nothing beyond its end.
    is_whole: bool,
    memo: Memo,
}

/// The whole procedure in its order.
fn procedure(run: &mut Run<'_>) -> Flow<()> {
    run.ready()?;
    run.detached()?;
    run.learn()?;
    run.search(Side::Upper)?;
    run.cross()?;
    run.search(Side::Lower)?;
    run.refine()
}

impl Bench {
    /// Checks a plan.
    ///
    /// # Errors
    /// Numbers outside their ranges; a start that is not clear of the search limits.
    pub fn new(plan: BenchPlan) -> Result<Self, BringUpError> {
        plan.check()?;
        let mut bench = Self {
            plan,
            log: Vec::new(),
            back: None,
            now: Now::default(),
        };
        bench.work_out()?;
        Ok(bench)
    }

    /// Runs the procedure over the log.
    fn work_out(&mut self) -> Result<(), BringUpError> {
        let mut memo = core::mem::take(&mut self.now.memo);
        let mut run = Run::new(&self.plan, &self.log, &mut memo);
        let halt = procedure(&mut run);
        let verdict = match halt {
            Err(Halt::Wrong(error)) => return Err(error),
            Err(Halt::Ask(pending)) => {
                self.now.pending = Some(pending);
                None
            }
            Err(Halt::End(verdict)) => Some(verdict),
            Ok(()) => Some(Verdict::Ready),
        };
        self.now.outcome = verdict.map(|verdict| run.conclude(verdict));
        if verdict.is_some() {
            self.now.pending = None;
        }
        self.now.not_felt = [run.not_felt.lower, run.not_felt.upper];
        self.now.hands = run.hands;
        self.now.is_whole = run.is_over();
        self.now.typed = core::mem::take(&mut run.typed);
        self.now.memo = memo;
        Ok(())
    }

    /// The plan.
    pub fn plan(&self) -> &BenchPlan {
        &self.plan
    }

    /// Where it stands, as a word for people: `ready`, `sense test`, `stops by hand`, `first move`, `search`, `refine`, `done`.
    pub fn stage(&self) -> &'static str {
        self.now.pending.map_or("done", |pending| pending.stage)
    }

    /// The outcome, when it is done.
    pub fn outcome(&self) -> Option<&Outcome> {
        self.now.outcome.as_ref()
    }

    /// All readings typed so far, in their order.
    pub fn readings(&self) -> &[BenchReading] {
        &self.now.typed
    }

    /// Whether what the drive met is not the stop that was felt by hand, lower then upper.
    pub fn is_not_the_stop_felt(&self) -> [bool; 2] {
        self.now.not_felt
    }

    /// The step that stands, with the way back before it.
    fn pending(&self) -> Option<Pending> {
        let pending = self.now.pending?;
        let Some(back) = self.back else {
            return Some(pending);
        };
        let drive = match (back, pending.place) {
            (Back::Inward, Some((x, toward))) => {
                let [lower, upper] = self.plan.search_limits;
                (x - toward.sign() * self.plan.run_in).max(lower).min(upper)
            }
            (Back::Out, Some((x, _))) => x,
            (_, None) => pending.at,
        };
        Some(Pending {
            action: Action::MoveTo {
                drive,
                rate_per_s: self.plan.rate_per_s,
            },
            notice: None,
            may_press: back == Back::Out && pending.may_press,
            is_first: false,
            ..pending
        })
    }

    /// What to do next; [`Action::Done`] at the end. Asking changes nothing.
    ///
    /// A read may be answered by a reading, or by [`Answer::Again`](super::Answer::Again): then the drive comes to the place once more.
    pub fn next(&self) -> Action {
        self.pending().map_or(Action::Done, |pending| pending.action)
    }

    /// What must be said before the next step.
    pub fn cautions(&self) -> &'static [Caution] {
        self.pending().map_or(&[], |pending| prompt::cautions(&pending))
    }

    /// What contradicts the last answer or reading.
    pub fn notice(&self) -> Option<Doubt> {
        self.pending().and_then(|pending| pending.notice)
    }

    /// The next step in words, with its cautions and answers.
    pub fn prompt(&self) -> Prompt {
        let pending = self.pending().unwrap_or(Pending {
            action: Action::Done,
            notice: None,
            at: self.plan.start,
            place: None,
            may_press: false,
            is_first: false,
            stage: "done",
        });
        Prompt::of(&pending, self.outcome(), self.now.typed.len())
    }

    /// What a person typed, as a report on the next step: a number where a reading is asked, else one of the answers.
    ///
    /// # Errors
    /// [`BringUpError::NoSuchReading`], [`BringUpError::NoSuchAnswer`], whose message lists the answers of this step only.
    pub fn parse(&self, typed: &str) -> Result<Report, BringUpError> {
        prompt::parse(&self.next(), typed)
    }

    /// Takes the report of what [`Bench::next`] asked.
    ///
    /// # Errors
    /// A report or an answer that does not belong to the action, a number that is not finite; nothing changes then.
    pub fn report(&mut self, report: Report) -> Result<(), BringUpError> {
        let asked = self.next();
        if let Some(back) = self.back {
            report.confirms(&asked)?;
            let is_place = self.now.pending.is_some_and(|pending| pending.place.is_some());
            self.back = (back == Back::Inward && is_place).then_some(Back::Out);
            return Ok(());
        }
        let entry = Entry::of(report, &asked)?;
        self.log.push(entry);
        self.work_out()
    }

    /// Takes the last reading or answer back, with the moves after it; says whether there was one.
    ///
    /// The drive stands where it stands: it first goes inward and comes again, and no move outward is made twice. What was done with
    /// the drive detached is taken back as a whole once it was fixed again.
    pub fn undo(&mut self) -> bool {
        let Some(last) = self.log.iter().rposition(|entry| entry.is_told()) else {
            // Nothing but "done" so far.
            let is_any = !self.log.is_empty();
            self.log.clear();
            self.afresh(false);
            return is_any;
        };
        let moved = |entry: &Entry| matches!(entry, Entry::Moved { .. });
        let has_moved = self.log.iter().any(moved);
        let length = match self.now.hands {
            [Some(detached), Some(attached)] if last <= attached => detached,
            _ => last,
        };
        self.log.truncate(length);
        self.afresh(has_moved);
        true
    }

    fn afresh(&mut self, has_moved: bool) {
        self.now = Now::default();
        // A shorter log of those that were written is one that was written.
        let _ = self.work_out();
        self.back = has_moved.then_some(Back::Inward);
    }

    /// To be called after a saved bring-up was taken up again on a joint whose power may have been off: the drive then first goes
    /// inward and comes again.
    pub fn resume(&mut self) {
        let has_moved = self.log.iter().any(|entry| matches!(entry, Entry::Moved { .. }));
        self.back = (has_moved && self.now.pending.is_some()).then_some(Back::Inward);
    }

    /// Ends it here; the joint is not ready for software. An undo takes that back.
    pub fn stop(&mut self) {
        if self.now.outcome.is_none() {
            self.back = None;
            self.log.push(Entry::Stopped);
            // It takes any log.
            let _ = self.work_out();
        }
    }
}
