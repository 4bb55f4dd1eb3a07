//! Bring-up at the bench: a person types each reading, and few are needed.
//!
//! A reading on the way out does two things: it shows that its place is clear, and it is a point of the line. A reading beyond a stop
//! fixes the level there, and the stop is where level and line meet: nothing is bisected. So both stops, slope and lost motion are
//! known from some 25 to 50 readings.

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
pub(super) use prompt::{Step, parse, sentence};
pub use run::BenchReading;

use super::action::{Action, Caution, Doubt, Report};
use super::error::BringUpError;
use super::outcome::{Outcome, Verdict};
use crate::span::Side;
use log::Entry;
use run::{Flow, Halt, Memo, Pending, Run};
use std::vec::Vec;

/// A bring-up whose readings are typed, with as few of them as the bound on overtravel allows.
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
/// assert_eq!(bench.prompt().sentence, "move the drive to 90.5 deg");
/// // A wrong answer changes nothing, and lists that question's answers only.
/// assert!(bench.undo());
/// assert_eq!(bench.parse("stop").unwrap_err().to_string(), "that is not one of the answers; type one of: done or no");
/// # Ok::<(), elbowroom::bring_up::BringUpError>(())
/// ```
///
/// # The procedure
/// Ready; with the drive detached the sense test (two turns of the hand, four at the most) and, where planned, both stops felt by hand;
/// four first readings; the search of the upper and of the lower stop; readings where they lower the uncertainties most, until both
/// stops and the lost motion are known to the plan's tolerance.
///
/// Its state is the plan and the log of what was reported. [`Bench::undo`] drops what was told last; a saved one is replayed when it is
/// read. [`Bench::prompt`] has each step as plain data: kind, one sentence, answers, drive angle, cautions with their
/// codes.
///
/// # The bound on overtravel
/// Let `C` be the places of a stop that the readings taken with the drive do not exclude: `chi2(t) - min chi2 < K^2 s^2` with `K` = 3.3, and none
/// inside of what was declared clear. Stops are taken as met in the direction driven, half the lost motion outside of the middle.
///
/// **Rule.** No command lies further out than the innermost place of `C` plus the overtravel `B`, nor outside the search limits.
///
/// 1. While the true stop `t` lies in `C`, the innermost place of `C` is at most `t`, and so every command is at most `t + B`. Before any
///    reading that place is what was declared clear. By scatter alone `t` leaves `C` where one reading at the stop is off by 3.3
///    standard deviations to the one side, 0.05 %; the excess is then a part of a degree, and the next reading shows it.
/// 2. A stop that gives up to 10 % of the way that the drive goes on is in the model as one that gives 10 %; one that gives less fits
///    best further in, so `C` moves inward only. One that gives more is not covered.
/// 3. The offset of each direction is free, so lost motion cancels, as long as it is less than the run-in over which each place is
///    reached.
/// 4. Levels felt by hand do not enter `C`. What came into the way after the hand felt for the stop is met as any stop is, and no
///    command goes further than `B` into it. A reading that advanced less than half as expected towards a stop felt by hand
///    means: back by a run-in, and ask what was met.
/// 5. One slip of the pen that hides a contact leaves the last place at most at `t + B`, and `C` begins no further out than that place:
///    the next command is at most `t + 2 B`. It falls short by more than `B`, and is seen. Two such slips in a row are not covered.
///
/// A reading that does not fit those before is asked for again at once, and the variance *before* it decides, so that a slip makes itself no
/// likelier. Two that agree are believed; where one fits, the others are not. Once the stops are known, what does not fit then is read
/// again as well.
///
/// # Figures
/// Printed by `cargo bench --bench bench_mode --features rehearsal`: 1,000 invented joints a row, stops 45 to 140 deg apart, one in ten without an
/// upper stop, one in ten begun near its lower stop, 0 to 6 deg of lost motion, stops that give 0 to 10 %, a protractor of 1 deg; one
/// reading in 30 a slip of the pen (digits swapped or dropped, 5 or 10 off, up to 9 off), one answer in 20 wrong. *Error* and *u* are of both stops midway
/// between both directions, deg; *beyond*: the furthest command past a stop as met, and how many ends had one past the overtravel.
///
/// | joints | typed, median | 95 % | error rms | 95 % | u, median | 95 % | 95 % intervals hold | lost motion 95 % | furthest beyond | past the overtravel | travel past a stop | no result |
/// | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |
/// | slope 0.8 to 2.5 | 36 | 56 | 0.36 | 0.70 | 0.36 | 0.49 | 98.4 % | 0.50 | 8.6 of 5 | 0.40 % | 0.00 % | gives-way 3, too-coarse 2 |
/// | the same, stops by hand | 23 | 36 | 0.45 | 0.85 | 0.39 | 0.51 | 94.9 % | 0.56 | 11.8 of 8 | 0.10 % | 0.00 % | unclear 2 |
/// | sense tested | 39 | 60 | 0.37 | 0.74 | 0.36 | 0.50 | 98.3 % | 0.49 | 8.1 of 5 | 0.70 % | 0.00 % | gives-way 1, range-blocked 1, too-coarse 5, unclear 13, wires-swapped 4 |
/// | sense tested, stops by hand | 24 | 37 | 0.44 | 0.79 | 0.35 | 0.50 | 95.3 % | 0.56 | 7.7 of 8 | 0.00 % | 0.00 % | unclear 31 |
/// | no slips, no wrong answers | 34 | 54 | 0.35 | 0.70 | 0.36 | 0.49 | 98.4 % | 0.50 | 4.7 of 5 | 0.00 % | 0.00 % | gives-way 1 |
/// | the same, stops by hand, no slips | 22 | 33 | 0.45 | 0.84 | 0.39 | 0.51 | 95.1 % | 0.58 | 7.7 of 8 | 0.00 % | 0.00 % | gives-way 1, unclear 2 |
/// | overtravel 8 | 25 | 39 | 0.43 | 0.82 | 0.40 | 0.50 | 97.7 % | 0.56 | 12.7 of 8 | 1.00 % | 0.00 % | gives-way 3, range-blocked 1, too-coarse 4, unclear 1 |
/// | overtravel 5, stops by hand | 33 | 55 | 0.40 | 0.79 | 0.36 | 0.54 | 95.1 % | 0.47 | 8.4 of 5 | 0.05 % | 0.00 % | unclear 3 |
/// | late obstacle, stops by hand, no slips | 17 | 31 | 4.36 | 8.69 | 0.38 | 0.81 | 50.9 % | 1.28 | 7.7 of 8 | 0.00 % | 0.00 % | range-blocked 947 |
/// | slope 0.4 to 2.5 | 45 | 110 | 0.86 | 0.92 | 0.43 | 0.66 | 97.1 % | 0.63 | 6.8 of 5 | 0.25 % | 0.00 % | gear-stripped 1, gives-way 1, too-coarse 20, unclear 14 |
/// | slope 0.4 to 2.5, stops by hand | 28 | 60 | 0.64 | 1.30 | 0.47 | 1.06 | 94.3 % | 0.86 | 11.7 of 8 | 0.05 % | 0.00 % | unclear 6 |
/// | 4 to 6 counts a degree | 33 | 47 | 0.35 | 0.71 | 0.33 | 0.46 | 98.0 % | 0.43 | 7.5 of 5 | 1.10 % | 0.00 % | gives-way 1, too-coarse 2 |
/// | 4 to 6 counts a degree, stops by hand | 22 | 31 | 0.40 | 0.78 | 0.35 | 0.48 | 95.1 % | 0.57 | 7.7 of 8 | 0.00 % | 0.00 % | unclear 1 |
/// | bent by 10 % | 35 | 55 | 0.38 | 0.76 | 0.37 | 0.50 | 97.9 % | 0.60 | 8.0 of 5 | 0.80 % | 0.00 % | gives-way 1, range-blocked 3, too-coarse 1 |
/// | bent by 10 %, stops by hand | 22 | 35 | 0.41 | 0.85 | 0.41 | 0.51 | 95.5 % | 0.61 | 7.7 of 8 | 0.00 % | 0.00 % | unclear 2 |
/// | obstacle | 31 | 40 | 0.37 | 0.77 | 0.35 | 0.50 | 95.5 % | 0.53 | 8.2 of 5 | 0.40 % | 0.00 % | gear-stripped 2, range-blocked 985, too-coarse 2 |
/// | late obstacle, stops by hand | 19 | 35 | 3.93 | 7.84 | 0.38 | 0.80 | 59.4 % | 1.28 | 12.5 of 8 | 0.35 % | 0.78 % | gear-stripped 1, range-blocked 935 |
/// | stops give 30 to 70 % | 40 | 60 | 2.09 | 3.91 | 0.45 | 0.51 | 22.1 % | 0.50 | 69.8 of 5 | 37.05 % | 1.94 % | gives-way 454, range-blocked 1, too-coarse 3 |
/// | equal steps of 2.5, sweep of 5 | 73 | 109 | 1.28 | 2.29 | 0.23 | 0.39 | 74.3 % | 0.26 | 70.8 of 5 | 50.65 % | 0.70 % | none |
///
/// In 4,000 searches without a slip no command lay past the overtravel; with slips none lay past twice that. In the row *late obstacle* the errors are those of the
/// stop that was felt, where the obstacle lies outside of the travel handed over. With the stops felt nothing is pressed, so the
/// overtravel is only for what came in the way since, and is 8 deg unless the plan says otherwise.
///
/// Not covered: stops that give more than 10 % (nearly half are named *gives-way*, the rest are placed too far out and pressed further), and a still
/// pointer: readings must be independent, so look away and read again.
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
        prompt::parse(&self.next(), prompt::NO_READING, typed)
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

    /// To be called after a saved bring-up was restored on a joint whose power may have been off: the drive then first goes
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
