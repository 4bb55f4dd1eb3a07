//! One joint of a robot file, and the board it hangs on.

use std::borrow::ToOwned;
use std::string::String;
use std::vec::Vec;

use super::date::Date;
use super::evidence::Evidence;
use crate::joint::Joint;
use crate::record::{JointRecord, TimerRecord};
use crate::unit::Unit;

/// Numbers that were not given: defaults stand in their place, and the file marks them (`assumed = true`).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Assumed {
    /// Those of the servo.
    pub servo: bool,
    /// Those of the timer.
    pub timer: bool,
}

/// One joint of a robot: where it is wired, its checked numbers, and what proves them.
#[derive(Debug, Clone, PartialEq)]
pub struct JointEntry {
    pub(super) name: String,
    pub(super) board: Option<String>,
    pub(super) channel: Option<u16>,
    pub(super) unit: Option<String>,
    pub(super) mirror_of: Option<String>,
    pub(super) joint: Joint<f64>,
    pub(super) evidence: Evidence,
    pub(super) history: Vec<Evidence>,
    pub(super) assumed: Assumed,
    pub(super) line: usize,
}

impl JointEntry {
    /// Its name, unique in the robot.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The board that makes its pulses.
    pub fn board(&self) -> Option<&str> {
        self.board.as_deref()
    }

    /// The board's output it is wired to.
    pub fn channel(&self) -> Option<u16> {
        self.channel
    }

    /// The unit of its commands, e.g. `deg` or `rad`.
    pub fn unit(&self) -> Option<&str> {
        self.unit.as_deref()
    }

    /// The unit of its commands where it is one that has a factor to SI; None for other words, and where the file names none.
    pub fn known_unit(&self) -> Option<Unit> {
        self.unit().and_then(Unit::of)
    }

    /// The joint on the other side that it mirrors.
    pub fn mirror_of(&self) -> Option<&str> {
        self.mirror_of.as_deref()
    }

    /// The checked joint that converts.
    pub fn joint(&self) -> &Joint<f64> {
        &self.joint
    }

    /// What proves its values.
    pub fn evidence(&self) -> &Evidence {
        &self.evidence
    }

    /// Evidence of earlier calibrations, the earliest first.
    pub fn history(&self) -> &[Evidence] {
        &self.history
    }

    /// Which of its numbers nobody gave.
    pub fn assumed(&self) -> Assumed {
        self.assumed
    }

    /// The line of the file where it begins, counted from 1.
    pub fn line(&self) -> usize {
        self.line
    }

    /// All that is written down of it, to be changed and put back with [`Robot::put`](super::Robot::put).
    pub fn record(&self) -> EntryRecord {
        EntryRecord {
            name: self.name.clone(),
            board: self.board.clone(),
            channel: self.channel,
            unit: self.unit.clone(),
            mirror_of: self.mirror_of.clone(),
            joint: self.joint.record(),
            evidence: self.evidence.clone(),
            history: self.history.clone(),
            assumed: self.assumed,
        }
    }
}

/// What is written down of one joint of a robot, unchecked. [`Robot::put`](super::Robot::put) checks it.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct EntryRecord {
    /// Its name, unique in the robot.
    pub name: String,
    /// The board that makes its pulses.
    pub board: Option<String>,
    /// The board's output it is wired to.
    pub channel: Option<u16>,
    /// The unit of its commands.
    pub unit: Option<String>,
    /// The joint on the other side that it mirrors.
    pub mirror_of: Option<String>,
    /// Its numbers.
    pub joint: JointRecord<f64>,
    /// What proves them.
    pub evidence: Evidence,
    /// Evidence of earlier calibrations, the earliest first.
    pub history: Vec<Evidence>,
    /// Which of its numbers nobody gave.
    pub assumed: Assumed,
}

impl EntryRecord {
    /// A joint that is wired nowhere yet and of which nothing is proven.
    pub fn new(name: &str, joint: JointRecord<f64>) -> Self {
        Self {
            name: name.to_owned(),
            board: None,
            channel: None,
            unit: None,
            mirror_of: None,
            joint,
            evidence: Evidence::default(),
            history: Vec::new(),
            assumed: Assumed::default(),
        }
    }

    /// The day on which the readings behind some evidence were taken, where the joint was fitted from them before: fitted again they are
    /// no newer.
    ///
    /// ```
    /// use elbowroom::robot::{Date, Robot};
    /// # let robot = Robot::parse("format = 1\njoint.wing = { command = [-40, 60], drive = [37, 122], rest = 10, servo = { angle = \
    /// #     [0, 180], pulse_us = [500, 2500] }, timer = { frame_hz = 50, counts_per_frame = 4096 }, \
    /// #     evidence = { date = 2026-11-20, source = { file = \"wing.csv\", sha256 = \
    /// #     \"0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef\" } } }")?;
    /// let wing = robot.joint("wing").unwrap().record();
    /// let mut again = wing.evidence.clone();
    /// again.date = None;
    /// assert_eq!(wing.day_of_readings(&again), Date::new(2026, 11, 20));
    /// again.source = None;
    /// assert_eq!(wing.day_of_readings(&again), None);
    /// # Ok::<(), elbowroom::robot::FileError>(())
    /// ```
    pub fn day_of_readings(&self, evidence: &Evidence) -> Option<Date> {
        let latest_first = [&self.evidence].into_iter().chain(self.history.iter().rev());
        let mut same = latest_first.filter(|known| known.source.is_some() && known.is_fitted_again(evidence));
        same.next()?.date
    }

    /// The day of the present evidence, where the joint was measured and it is later than that of readings which are to take its place: they
    /// are older than what they would stand above.
    ///
    /// ```
    /// use elbowroom::robot::{Date, Robot};
    /// # let robot = Robot::parse("format = 1\njoint.wing = { command = [-40, 60], drive = [37, 122], rest = 10, servo = { angle = \
    /// #     [0, 180], pulse_us = [500, 2500] }, timer = { frame_hz = 50, counts_per_frame = 4096 }, \
    /// #     evidence = { date = 2026-11-28, lower = { kind = \"clear\", at = 40.0 } } }")?;
    /// let wing = robot.joint("wing").unwrap().record();
    /// let mut older = wing.evidence.clone();
    /// (older.date, older.readings) = (Date::new(2024, 11, 28), Some(12));
    /// assert_eq!(wing.later_than(&older), Date::new(2026, 11, 28));
    /// assert_eq!(wing.later_than(&wing.evidence), None);
    /// # Ok::<(), elbowroom::robot::FileError>(())
    /// ```
    pub fn later_than(&self, evidence: &Evidence) -> Option<Date> {
        let old = &self.evidence;
        let is_other = old.is_measured() && !old.is_fitted_again(evidence);
        old.date
            .filter(|day| is_other && evidence.date.is_some_and(|new| new < *day))
    }

    /// Writes down later evidence. What was there moves to the end of the history, unless nothing was measured then or the same
    /// readings were fitted again.
    pub fn renew(&mut self, evidence: Evidence) {
        let old = core::mem::replace(&mut self.evidence, evidence);
        if old.is_calibration() && !old.is_fitted_again(&self.evidence) {
            self.history.push(old);
        }
    }
}

/// A board of the robot, if its file describes it.
#[derive(Debug, Clone, PartialEq)]
pub struct Board {
    pub(super) name: String,
    pub(super) channels: Option<u16>,
    pub(super) timer: Option<TimerRecord<f64>>,
}

impl Board {
    /// Its name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// How many outputs it has, numbered from 0.
    pub fn channels(&self) -> Option<u16> {
        self.channels
    }

    /// The timer of its joints, its own or the robot's.
    pub fn timer(&self) -> Option<TimerRecord<f64>> {
        self.timer
    }
}

/// The commands of both ends of the travel, the smaller first.
pub(super) fn travel_in_commands(joint: &Joint<f64>) -> (f64, f64) {
    let travel = joint.travel();
    let (a, b) = (
        joint.command_from_drive(travel.lower()),
        joint.command_from_drive(travel.upper()),
    );
    if a <= b { (a, b) } else { (b, a) }
}
