//! The sense test: does the feedback make the loop oppose an error, or run away?
//!
//! The servo is held at one command, its drive unloaded and detached from the joint. The sensor is turned by hand, some
//! steps up, twice as many down, and back. Where the loop opposes, the drive turns *against* the hand: beyond the null the
//! hand goes up and the drive goes down. Where it aids, the drive turns *with* the hand, and fixed to the joint it would
//! run into a stop (an assumption of this library).
//!
//! # How it is judged
//! Take every pair of a place where the drive turned to the upper end and one where it turned to the lower. The share of
//! pairs in which the first lies below the second is Mann and Whitney's U over its maximum (H. B. Mann, D. R. Whitney,
//! Annals of Mathematical Statistics 18 (1947) 50-60): 1 for a loop that opposes, 0 for one that aids. From 0.75 on, and
//! from 0.25 down, the sense is called; between, or with fewer than two places of either kind, it stays undetermined.

mod judge;
#[cfg(test)]
mod tests;

use super::action::{Action, Doubt, Question, Report};
use super::answer::Answer;
use super::error::BringUpError;
use super::reads::Reads;
use super::visit::Pace;
use super::with::with;
use crate::span::Side;
use core::ops::RangeInclusive;
use judge::{judge, slope, steady};

/// What is watched while the sensor is turned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
pub enum Watch {
    /// The sensor is the servo's own potentiometer moved out onto the joint: sensor and drive.
    SensorAndDrive,
    /// The servo keeps its own potentiometer and a second sensor sits on the joint: only the sensor.
    SensorOnly,
}

/// How the test is made.
///
/// ```
/// use elbowroom::bring_up::{SensePlan, Watch};
/// let plan = SensePlan::default().with_watch(Watch::SensorOnly).with_reading_range([0.0, 4095.0]);
/// assert_eq!(plan.turns, 3);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct SensePlan {
    /// What is watched.
    pub watch: Watch,
    /// How far each turn of the hand goes, deg.
    pub turn: f64,
    /// Turns to each side of the start, 2 to 5.
    pub turns: u8,
    /// Readings at each place, 1 to 9.
    pub reads: u8,
    /// The lowest and the highest reading there is, e.g. 0 and 1023.
    pub reading_range: [f64; 2],
}

impl Default for SensePlan {
    /// Three turns of 15 deg to each side, five readings of a 10-bit converter.
    fn default() -> Self {
        Self {
            watch: Watch::SensorAndDrive,
            turn: 15.0,
            turns: 3,
            reads: 5,
            reading_range: [0.0, 1023.0],
        }
    }
}

impl SensePlan {
    /// How many turns there may be.
    pub const TURNS: RangeInclusive<u8> = 2..=5;
    /// How many readings may be taken at a place.
    pub const READS: RangeInclusive<u8> = Pace::READS;
}

with! {
    SensePlan {
        with_watch watch: Watch,
        with_turn turn: f64,
        with_turns turns: u8,
        with_reads reads: u8,
        with_reading_range reading_range: [f64; 2],
    }
}

/// The sense of the feedback.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
pub enum LoopSense {
    /// The loop corrects an error.
    Opposing,
    /// The loop runs away.
    Aiding,
    /// It cannot be determined.
    Undetermined,
}

impl LoopSense {
    /// The word of robot files.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Opposing => "opposing",
            Self::Aiding => "aiding",
            Self::Undetermined => "undetermined",
        }
    }
}

/// Why the sense is undetermined, or was not asked. `Display` writes the sentence.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
#[non_exhaustive]
pub enum SenseReason {
    /// The reading does not change.
    SensorStill,
    /// The reading does not follow the hand.
    SensorErratic,
    /// The drive never turned.
    DriveStill,
    /// The drive turned only one way.
    DriveOneWay,
    /// The drive turned in both directions at the same place.
    DriveMixed,
    /// Only the sensor was watched.
    DriveNotWatched,
    /// The joint met its stop before the turns were over.
    HandAtStop,
}

impl core::fmt::Display for SenseReason {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            Self::SensorStill => {
                "the reading does not change while the sensor is turned: look for an open wiper wire or a sensor that slips on its shaft"
            }
            Self::SensorErratic => {
                "the reading does not follow the hand: look for an open wiper wire or a worn potentiometer; where it jumps from one end of its range to the other, turn the sensor on the joint until its range holds the whole travel"
            }
            Self::DriveStill => {
                "the drive never turned: test its supply and its signal wire; a servo with a sensor of its own does not follow this one: set watch to sensor-only"
            }
            Self::DriveOneWay => {
                "the drive turned only one way: the reading at which it stands still lies outside the turns; turn the sensor nearer to it, or look for a broken outer wire"
            }
            Self::DriveMixed => "the drive turned in both directions at the same place; repeat with larger turns",
            Self::DriveNotWatched => "only the sensor was watched, because the servo closes its loop over a sensor of its own",
            Self::HandAtStop => "the joint met its stop before the turns were complete: repeat with smaller turns",
        })
    }
}

/// What to do about a result. `Display` writes the sentence.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
#[non_exhaustive]
pub enum SenseAdvice {
    /// Swap the potentiometer's outer wires.
    SwapOuterWires,
    /// Swap the wires, or invert the reading.
    SwapOrInvert,
    /// Repeat the test.
    Repeat,
}

impl core::fmt::Display for SenseAdvice {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            Self::SwapOuterWires => {
                "swap the potentiometer's two outer wires and repeat the test; inverted = true does not help, because it reverses the commands and not the loop"
            }
            Self::SwapOrInvert => {
                "swap the potentiometer's two outer wires, or invert: write the joint's feedback with its readings reversed"
            }
            Self::Repeat => "correct what the reason names and repeat the test; do not attach the drive to the joint before that",
        })
    }
}

/// One place of the hand, what was read and how the drive answered: +1 to the upper end, −1 to the lower, 0 still.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct SenseSample {
    /// Where the hand holds the sensor, deg from the start, upward positive.
    pub hand: f64,
    /// The reading there.
    pub reading: f64,
    /// The drive's answer.
    pub response: i8,
}

/// What the test found.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct SenseResult {
    /// The sense.
    pub sense: LoopSense,
    /// Why it is undetermined.
    pub reason: Option<SenseReason>,
    /// Readings per degree of the hand, about; negative where the reading falls as the joint rises.
    pub slope: f64,
    /// The reading at which the drive stands still: the middle between the nearest answers to both sides.
    pub null: Option<f64>,
    /// The least and the most that the dead band can be, in readings: the span of places where the drive was still, and
    /// the gap between the nearest answers to both sides.
    pub dead_band: Option<[f64; 2]>,
    /// The widest range of repeated readings at one place.
    pub widest_range: f64,
}

impl SenseResult {
    /// What to do, if anything; `rising` says whether the joint's feedback is declared to rise with the joint.
    pub fn advice(&self, rising: bool) -> Option<SenseAdvice> {
        match (self.sense, self.reason) {
            (LoopSense::Aiding, _) => Some(SenseAdvice::SwapOuterWires),
            (LoopSense::Undetermined, Some(SenseReason::DriveNotWatched)) | (LoopSense::Opposing, _) => {
                ((self.slope > 0.0) != rising).then_some(SenseAdvice::SwapOrInvert)
            }
            (LoopSense::Undetermined, _) => Some(SenseAdvice::Repeat),
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
enum Stage {
    Turn,
    Read,
    Respond,
    Done,
}

/// The test as a procedure: see [`Action`] and [`Report`]. Every question carries its cautions.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(remote = "Self", deny_unknown_fields)
)]
pub struct SenseTest {
    plan: SensePlan,
    stage: Stage,
    reads: Reads,
    samples: [SenseSample; Self::MOST_SAMPLES],
    count: usize,
    /// Number of the turn that is asked; turn 0 is the start.
    turn: u8,
    #[cfg_attr(feature = "serde", serde(deserialize_with = "super::saved::given"))]
    doubt: Option<Doubt>,
    doubted: bool,
    /// The joint met its stop in the turn that was asked last; that ends the test.
    at_stop: bool,
    widest_range: f64,
}

impl SenseTest {
    /// Four times the most turns, and the start.
    const MOST_SAMPLES: usize = 21;

    /// Checks a plan.
    ///
    /// # Errors
    /// Numbers outside their ranges.
    pub fn new(plan: SensePlan) -> Result<Self, BringUpError> {
        BringUpError::positive("turn", plan.turn)?;
        BringUpError::whole("turns", plan.turns, &SensePlan::TURNS)?;
        BringUpError::whole("reads", plan.reads, &SensePlan::READS)?;
        BringUpError::rising("reading_range", plan.reading_range)?;
        Ok(Self {
            plan,
            stage: Stage::Read,
            reads: Reads::default(),
            samples: [SenseSample::default(); Self::MOST_SAMPLES],
            count: 0,
            turn: 0,
            doubt: None,
            doubted: false,
            at_stop: false,
            widest_range: 0.0,
        })
    }

    /// What holds after every report.
    #[cfg(feature = "serde")]
    pub(super) fn check(&self) -> Result<(), BringUpError> {
        Self::new(self.plan)?;
        self.reads.check()?;
        let last = 4 * self.plan.turns;
        BringUpError::within("turn of sense test", self.turn.into(), 0.0, f64::from(last) + 1.0)?;
        BringUpError::there(
            "end of sense test",
            self.stage == Stage::Done,
            self.turn > last || self.at_stop,
        )?;
        BringUpError::same("count of samples", self.count as f64, self.turn.into())?;
        BringUpError::within("widest_range", self.widest_range, 0.0, crate::bring_up::MOST)?;
        let furthest = self.plan.turn * f64::from(self.plan.turns) * (1.0 + 1e-9);
        for sample in self.samples {
            BringUpError::within("hand of sample", sample.hand, -furthest, furthest)?;
            BringUpError::finite("reading of sample", sample.reading)?;
            BringUpError::within("response of sample", sample.response.into(), -1.0, 1.0)?;
        }
        let (count, reads) = (self.reads.count(), self.plan.reads);
        match self.stage {
            Stage::Read => BringUpError::within("count of reads", count.into(), 0.0, f64::from(reads) - 1.0)?,
            Stage::Respond => BringUpError::same("count of reads", count.into(), reads.into()).map(|()| 0.0)?,
            Stage::Turn => BringUpError::within("turn of sense test", self.turn.into(), 1.0, last.into())?,
            Stage::Done => 0.0,
        };
        self.doubt.map_or(Ok(()), |doubt| doubt.check())
    }

    /// The plan.
    pub fn plan(&self) -> &SensePlan {
        &self.plan
    }

    /// The samples so far, in their order.
    pub fn samples(&self) -> impl Iterator<Item = &SenseSample> + Clone {
        self.samples.iter().take(self.count)
    }

    /// The first and the last reading.
    #[cfg(feature = "std")]
    pub(super) fn ends(&self) -> [f64; 2] {
        let reading = |sample: Option<&SenseSample>| sample.map_or(0.0, |s| s.reading);
        [reading(self.samples().next()), reading(self.samples().last())]
    }

    /// Which turn of the hand it is, and how many there are.
    #[cfg(feature = "std")]
    pub(super) fn progress(&self) -> (u8, u8) {
        (self.turn, 4 * self.plan.turns)
    }

    /// What to do next; [`Action::Done`] at the end.
    pub fn next(&self) -> Action {
        match self.stage {
            Stage::Turn => Action::Ask {
                question: Question::TurnSensor {
                    toward: self.toward(),
                    degrees: self.plan.turn,
                },
                doubt: self.doubt,
            },
            Stage::Read => Action::Read,
            Stage::Respond => Action::Ask {
                question: Question::DriveResponse,
                doubt: self.doubt,
            },
            Stage::Done => Action::Done,
        }
    }

    /// The result, when the test is done.
    pub fn result(&self) -> Option<SenseResult> {
        let judged = || judge(self.samples(), &self.plan, self.widest_range);
        (self.stage == Stage::Done).then(|| {
            if self.at_stop {
                SenseResult {
                    sense: LoopSense::Undetermined,
                    reason: Some(SenseReason::HandAtStop),
                    ..judged()
                }
            } else {
                judged()
            }
        })
    }

    /// Where a stop was met: the side, and about how far the hand has come from the start, deg.
    #[cfg(feature = "std")]
    pub(super) fn stop_met(&self) -> Option<(Side, f64)> {
        let reached = self.samples().last().map_or(0.0, |s| s.hand) * self.toward().sign();
        self.at_stop.then_some((self.toward(), reached.max(0.0)))
    }

    /// The supply of a converter whose readings look like volts, where they do: all within a hundredth of the reading range that the plan
    /// expects, with fractions, and moved by the hand.
    #[cfg(feature = "std")]
    pub(super) fn in_volts(&self) -> Option<f64> {
        const SUPPLIES: [f64; 4] = [3.3, 5.0, 10.0, 24.0];
        let [bottom, top] = self.plan.reading_range;
        let readings = || self.samples().map(|s| s.reading);
        let (low, high) = (
            readings().fold(f64::INFINITY, f64::min),
            readings().fold(f64::NEG_INFINITY, f64::max),
        );
        // The median of an even number of whole readings may lie halfway between two.
        let fractions = readings().any(|r| (2.0 * r).fract() != 0.0);
        let small = bottom >= 0.0 && low >= 0.0 && high <= 0.025 * (top - bottom);
        let follows = high - low > 0.01 * high && steady(self.samples(), [f64::MIN, f64::MAX], 0.5);
        (small && fractions && follows)
            .then(|| SUPPLIES.into_iter().find(|supply| high <= *supply))
            .flatten()
    }

    /// Takes the report of what [`SenseTest::next`] asked.
    ///
    /// # Errors
    /// A report that does not belong to the action, a reading that is not finite; nothing changes then.
    pub fn report(&mut self, report: Report) -> Result<(), BringUpError> {
        let asked = self.next();
        match self.stage {
            Stage::Turn => {
                let answer = report.answer(&asked)?;
                self.doubt = None;
                if answer == Answer::AtStop {
                    self.at_stop = true;
                    self.stage = Stage::Done;
                    return Ok(());
                }
                self.reads = Reads::default();
                self.stage = Stage::Read;
            }
            Stage::Read => {
                let (value, _) = report.reading(&asked)?;
                self.reads.push(value);
                if self.reads.count() >= self.plan.reads {
                    self.take_reading();
                }
            }
            Stage::Respond => {
                let response = match report.answer(&asked)? {
                    Answer::Upper => 1,
                    Answer::Lower => -1,
                    _ => 0,
                };
                self.take_response(response);
            }
            Stage::Done => return Err(BringUpError::Done),
        }
        Ok(())
    }

    /// Up, then down past the start, then back to it.
    fn toward(&self) -> Side {
        let n = self.plan.turns;
        if self.turn <= n || self.turn > 3 * n {
            Side::Upper
        } else {
            Side::Lower
        }
    }

    fn hand(&self) -> f64 {
        let before = self.samples().last().map_or(0.0, |s| s.hand);
        if self.turn == 0 {
            0.0
        } else {
            before + self.toward().sign() * self.plan.turn
        }
    }

    fn take_reading(&mut self) {
        let reading = self.reads.median();
        let by = self.samples().last().map_or(0.0, |s| reading - s.reading);
        let slope = slope(self.samples(), self.plan.reading_range);
        // Only after three turns that agree is there something to contradict.
        let other_way = by * self.toward().sign() * slope < 0.0 && by.abs() > 0.3 * (slope * self.plan.turn).abs();
        if self.turn > 3 && other_way && !self.doubted && steady(self.samples(), self.plan.reading_range, 1.0) {
            self.doubt = Some(Doubt::TurnedOtherWay { by });
            self.doubted = true;
            self.stage = Stage::Turn;
            return;
        }
        self.doubted = false;
        self.widest_range = self.widest_range.max(self.reads.range());
        if self.plan.watch == Watch::SensorOnly {
            self.keep(reading, 0);
        } else {
            self.stage = Stage::Respond;
        }
    }

    fn take_response(&mut self, response: i8) {
        let at = self.hand();
        let reading = self.reads.median();
        let contradicts = self
            .samples()
            .any(|s| (s.hand - at).abs() < 0.3 * self.plan.turn && s.response * response < 0);
        if contradicts && !self.doubted {
            self.doubted = true;
            self.doubt = Some(Doubt::RespondedOtherWay { at });
            return;
        }
        self.keep(reading, response);
    }

    fn keep(&mut self, reading: f64, response: i8) {
        let sample = SenseSample {
            hand: self.hand(),
            reading,
            response,
        };
        if let Some(place) = self.samples.get_mut(self.count) {
            *place = sample;
            self.count += 1;
        }
        self.doubt = None;
        self.doubted = false;
        self.turn += 1;
        self.stage = if self.turn > 4 * self.plan.turns {
            Stage::Done
        } else {
            Stage::Turn
        };
    }
}
