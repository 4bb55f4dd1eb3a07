//! The procedure as it runs over a log: what is asked where the log ends is the next action.
//!
//! The procedure is written as it is done, one step after the other. Each step takes its report from the log; where the log ends, the step
//! comes out as [`Halt::Ask`]. As nothing but plan and log enters, the same log leads to the same step, and undo and resume need no
//! more than a shorter or a saved log. What is worked out on the way is kept in a [`Memo`] in the order in which it was asked: a
//! longer log begins with the same questions, so nothing is worked out twice.

use super::log::Entry;
use super::model::{Model, Row};
use super::plan::BenchPlan;
use crate::bring_up::{Action, Answer, BringUpError, Doubt, Fault, Question, SenseResult, Side, Verdict};
use std::vec::Vec;

/// A value for each end.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Both<T> {
    pub(super) lower: T,
    pub(super) upper: T,
}

impl<T: Copy> Both<T> {
    pub(super) fn of(&self, side: Side) -> T {
        match side {
            Side::Lower => self.lower,
            Side::Upper => self.upper,
        }
    }

    pub(super) fn set(&mut self, side: Side, value: T) {
        match side {
            Side::Lower => self.lower = value,
            Side::Upper => self.upper = value,
        }
    }
}

/// The step at which the log ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pending {
    pub(super) action: Action,
    /// Why it is asked again.
    pub(super) notice: Option<Doubt>,
    /// Where the drive stands.
    pub(super) at: f64,
    /// The place of a reading and the end towards which it is reached; nothing where the joint is held by hand.
    pub(super) place: Option<(f64, Side)>,
    /// Whether the drive may press on a stop there.
    pub(super) may_press: bool,
    /// Whether the drive has not moved yet.
    pub(super) is_first: bool,
    /// The part of the procedure.
    pub(super) stage: &'static str,
}

/// Why the procedure does not run on.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Halt {
    /// The log ends here.
    Ask(Pending),
    /// It is over.
    End(Verdict),
    /// The log cannot have been written.
    Wrong(BringUpError),
}

pub(super) type Flow<T> = Result<T, Halt>;

/// What was worked out, in its order.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Memo {
    kept: Vec<[f64; 6]>,
}

/// A typed reading of a bring-up at the bench.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct BenchReading {
    /// The drive angle; absent where the joint was held or turned by hand.
    pub drive: Option<f64>,
    /// The end towards which it was reached, or at whose stop it was held.
    pub toward: Side,
    /// What was typed.
    pub value: f64,
    /// Whether it counts; false where another reading of the same place was kept.
    pub is_used: bool,
}

/// The procedure over one log.
pub(super) struct Run<'a> {
    pub(super) plan: &'a BenchPlan,
    log: core::slice::Iter<'a, Entry>,
    length: usize,
    /// Where in the log the drive was detached and fixed again.
    pub(super) hands: [Option<usize>; 2],
    memo: &'a mut Memo,
    asked: usize,
    pub(super) model: Model,
    pub(super) stage: &'static str,
    /// Readings that count.
    pub(super) rows: Vec<Row>,
    /// All readings typed.
    pub(super) typed: Vec<BenchReading>,
    pub(super) sense: Option<SenseResult>,
    /// Where the drive was sent, the end that it last moved to, and where it turned to it.
    pub(super) at: f64,
    way: Option<Side>,
    turn: f64,
    /// Where the timer's steps let the drive stand: readings belong to this angle.
    pub(super) stands: f64,
    moved: bool,
    /// Ends that were met or felt.
    pub(super) contact: Both<bool>,
    /// What lies outside of these says nothing about the other end.
    pub(super) outer: Both<Option<f64>>,
    /// One of the first outermost readings may lie on a stop.
    pub(super) suspect: bool,
    /// What is met is not the stop felt.
    pub(super) not_felt: Both<bool>,
    /// Somebody looked and said that it is the stop.
    pub(super) said_stop: Both<bool>,
}

impl<'a> Run<'a> {
    pub(super) fn new(plan: &'a BenchPlan, log: &'a [Entry], memo: &'a mut Memo) -> Self {
        /// The plan's bend is of the slope over 100 deg; k is half of that for each deg.
        const PER_BEND: f64 = 1.0 / 200.0;
        Self {
            plan,
            log: log.iter(),
            length: log.len(),
            hands: [None; 2],
            memo,
            asked: 0,
            model: Model {
                start: plan.start,
                sd: plan.u_reading,
                bend: plan.bend * PER_BEND,
            },
            stage: "ready",
            rows: Vec::new(),
            typed: Vec::new(),
            sense: None,
            at: plan.start,
            way: None,
            turn: plan.start,
            stands: plan.start,
            moved: false,
            contact: Both::default(),
            outer: Both::default(),
            suspect: false,
            not_felt: Both::default(),
            said_stop: Both::default(),
        }
    }

    /// What was worked out before for the same question, or else works it out.
    pub(super) fn memo(&mut self, work_out: impl FnOnce(&Self) -> [f64; 6]) -> [f64; 6] {
        let index = self.asked;
        self.asked += 1;
        if let Some(kept) = self.memo.kept.get(index) {
            return *kept;
        }
        let value = work_out(self);
        self.memo.kept.push(value);
        value
    }

    fn entry(&mut self, action: Action, notice: Option<Doubt>, place: Option<(f64, Side)>) -> Flow<Entry> {
        let Some(&entry) = self.log.next() else {
            let may_press = match (action, place) {
                (Action::MoveTo { drive, .. }, _) => self.may_press(drive),
                (Action::Read, Some((x, _))) => self.may_press(x),
                _ => false,
            };
            return Err(Halt::Ask(Pending {
                action,
                notice,
                at: self.at,
                place,
                may_press,
                is_first: !self.moved,
                stage: self.stage,
            }));
        };
        if entry == Entry::Stopped {
            return Err(Halt::End(Verdict::Stopped));
        }
        entry.check(&action).map_err(Halt::Wrong)?;
        Ok(entry)
    }

    /// Beyond the outermost readings so far a stop may be met.
    fn may_press(&self, x: f64) -> bool {
        let plan = self.plan;
        Side::ALL.iter().any(|&side| {
            let clear = plan.start + side.sign() * plan.clearance;
            let known = self.last(side).unwrap_or(clear);
            side.sign() * (x - clear) > 0.05 && (side.sign() * (x - known) > -0.05 || self.contact.of(side))
        })
    }

    /// Whether the whole log was gone through.
    pub(super) fn is_over(&self) -> bool {
        self.log.len() == 0
    }

    pub(super) fn ask(&mut self, question: Question, doubt: Option<Doubt>) -> Flow<Answer> {
        let index = self.length - self.log.len();
        let [detached, attached] = &mut self.hands;
        match question {
            Question::DetachDrive => *detached = Some(index),
            Question::AttachDrive if self.log.len() > 0 => *attached = Some(index),
            _ => {}
        }
        match self.entry(Action::Ask { question, doubt }, doubt, None)? {
            Entry::Answered { answer } => Ok(answer),
            _ => Err(Halt::Wrong(BringUpError::OutOfPlace { what: "log" })),
        }
    }

    pub(super) fn move_to(&mut self, x: f64) -> Flow<()> {
        if (x - self.at).abs() < 1e-9 {
            return Ok(());
        }
        let action = Action::MoveTo {
            drive: x,
            rate_per_s: self.plan.rate_per_s,
        };
        self.stands = match self.entry(action, None, None)? {
            Entry::Moved {
                commanded: Some(commanded),
                ..
            } => commanded,
            _ => x,
        };
        let way = if x > self.at { Side::Upper } else { Side::Lower };
        if self.way != Some(way) {
            (self.way, self.turn) = (Some(way), self.at);
        }
        (self.at, self.moved) = (x, true);
        Ok(())
    }

    /// Comes to a place towards an end, over at least a run-in.
    pub(super) fn come_to(&mut self, x: f64, toward: Side) -> Flow<()> {
        let (sign, run_in) = (toward.sign(), self.plan.run_in);
        let short = sign * (x - self.turn) < run_in - 1.0;
        if sign * (x - self.at) < 0.0 || self.way != Some(toward) || short {
            self.move_to(self.inside(x - sign * run_in))?;
        }
        self.move_to(x)
    }

    /// The nearest angle within the search limits.
    pub(super) fn inside(&self, x: f64) -> f64 {
        let [lower, upper] = self.plan.search_limits;
        x.max(lower).min(upper)
    }

    /// One typed reading where the drive stands, or with the joint held by hand. `again` comes to the place anew and reads there.
    pub(super) fn read(&mut self, place: Option<(f64, Side)>, notice: Option<Doubt>, rest: bool) -> Flow<f64> {
        let mut rest = rest;
        loop {
            if rest && place.is_some() && self.plan.settle_s > 0.0 {
                let seconds = self.plan.settle_s;
                self.entry(Action::Wait { seconds }, notice, place)?;
            }
            match self.entry(Action::Read, notice, place)? {
                Entry::Read { value } => return Ok(value),
                _ => {
                    if let Some((x, toward)) = place {
                        self.move_to(self.inside(x - toward.sign() * self.plan.run_in))?;
                        self.move_to(x)?;
                        rest = true;
                    }
                }
            }
        }
    }

    /// Writes a typed reading down.
    pub(super) fn write(&mut self, drive: Option<f64>, toward: Side, value: f64) {
        self.typed.push(BenchReading {
            drive,
            toward,
            value,
            is_used: false,
        });
    }

    /// Takes readings of one place into the rows that count.
    pub(super) fn keep(&mut self, x: f64, toward: Side, values: &[f64]) {
        for &y in values {
            self.rows.push(Row { x, toward, y });
        }
    }

    /// Marks the readings that count.
    pub(super) fn mark(&mut self) {
        let mut rows = self.rows.clone();
        for reading in &mut self.typed {
            let same = |row: &Row| {
                let place = match reading.drive {
                    Some(drive) => row.x == drive,
                    None => row.is_held(),
                };
                place && row.toward == reading.toward && row.y == reading.value
            };
            reading.is_used = match rows.iter().position(same) {
                Some(index) => {
                    rows.swap_remove(index);
                    true
                }
                None => false,
            };
        }
    }

    pub(super) fn refuse<T>(&self, fault: Fault, at: Option<f64>, by: Option<f64>) -> Flow<T> {
        Err(Halt::End(Verdict::Faulty { fault, at, by }))
    }

    /// A reading of one place from its side; returns where it was taken. Where it does not fit those before, it is read again at once
    /// until two agree or one fits.
    ///
    /// No command goes beyond what is proven clear and the overtravel, whatever is asked.
    pub(super) fn take(&mut self, x: f64, toward: Side, judge: bool) -> Flow<f64> {
        /// Readings of one place at the most.
        const MOST: usize = 6;
        let before = self.standing(toward, true);
        let sign = toward.sign();
        let reach = self.reach(toward);
        let x = self.inside(if sign * (x - reach) > 0.0 { reach } else { x });
        self.come_to(x, toward)?;
        let place = Some((x, toward));
        let first = self.read(place, None, true)?;
        let x = self.stands;
        self.write(Some(x), toward, first);
        self.keep(x, toward, &[first]);
        if !judge || !self.surprises(toward, &before) {
            return Ok(x);
        }
        let mut got = std::vec![first];
        while got.len() < MOST {
            self.rows.pop();
            let value = self.read(place, Some(Doubt::Unexpected), false)?;
            self.write(Some(x), toward, value);
            self.keep(x, toward, &[value]);
            let agreeing: Vec<f64> = got.iter().copied().filter(|y| self.agree(*y, value)).collect();
            got.push(value);
            if !agreeing.is_empty() || !self.surprises(toward, &before) {
                self.keep(x, toward, &agreeing);
                return Ok(x);
            }
        }
        self.refuse(Fault::Unclear, Some(x), None)
    }

    /// Whether two readings of one place agree: within three standard deviations of their difference.
    pub(super) fn agree(&self, a: f64, b: f64) -> bool {
        (a - b).abs() <= 3.0 * core::f64::consts::SQRT_2 * self.plan.u_reading
    }
}
