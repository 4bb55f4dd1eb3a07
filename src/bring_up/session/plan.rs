//! What a bring-up starts from, and its check.

use crate::bring_up::action::Toward;
use crate::bring_up::bracket::BracketPlan;
use crate::bring_up::diagnosis::Known;
use crate::bring_up::error::BringUpError;
use crate::bring_up::index::IndexPlan;
use crate::bring_up::search::{self, StopSearch, StopSearchPlan};
use crate::bring_up::sense::{SensePlan, SenseTest, Watch};
use crate::bring_up::visit::Pace;

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
    /// The index, for a sensor of known travel on a joint whose angles at its stops are known: it is made while the drive
    /// is still off.
    pub index: Option<IndexPlan>,
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
            index: None,
            rising: true,
            resolution: 1.0,
            rated_speed: 300.0,
            pace: Pace::default(),
            known: None,
        }
    }

    pub(super) fn check(&self) -> Result<(), BringUpError> {
        BringUpError::rising("bound", self.bound)?;
        BringUpError::positive("clear", self.clear)?;
        let [lower, upper] = self.bound;
        BringUpError::within("start", self.start, lower + self.clear, upper - self.clear)?;
        BringUpError::positive("pitch", self.pitch)?;
        // As many places as a sweep can have.
        BringUpError::within("pitch", self.pitch, (upper - lower) / 9_999.0, f64::MAX)?;
        BringUpError::within("guard", self.guard, 0.0, f64::MAX)?;
        BringUpError::within("confidence", self.confidence, 0.5, 0.9999)?;
        BringUpError::positive("rated_speed", self.rated_speed)?;
        if let Some(known) = self.known {
            let contacts = known.contacts.into_iter().flatten();
            for number in contacts.chain([known.at, known.reading, known.per_deg]) {
                BringUpError::finite("known", number)?;
            }
            BringUpError::positive("size of known.per_deg", known.per_deg.abs())?;
        }
        SenseTest::new(self.sense)?;
        if let Some(index) = self.index {
            index.figures()?;
        }
        for toward in [Toward::Lower, Toward::Upper] {
            StopSearch::new(self.search(toward))?;
        }
        Ok(())
    }

    pub(super) fn search(&self, toward: Toward) -> StopSearchPlan {
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

    pub(in crate::bring_up) fn erratic(&self, range: f64) -> bool {
        let [low, high] = self.sense.scale;
        range > search::ERRATIC_PART * (high - low)
    }

    /// Whether the servo's loop runs over the sensor that the session reads.
    pub fn closes_loop(&self) -> bool {
        self.sense.watch == Watch::SensorAndDrive
    }
}
