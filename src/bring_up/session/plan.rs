//! What a bring-up starts from, and its check.

use crate::bring_up::alignment::AlignmentPlan;
use crate::bring_up::bracket::BracketPlan;
use crate::bring_up::diagnosis::Baseline;
use crate::bring_up::error::{BringUpError, WIDEST};
use crate::bring_up::search::{self, StopSearch, StopSearchPlan};
use crate::bring_up::sense::{SensePlan, SenseTest, Watch};
use crate::bring_up::visit::Pace;
use crate::bring_up::with::with;
use crate::span::Side;

/// What a bring-up starts from. *Unit*: deg of drive angle unless said otherwise.
///
/// ```
/// use elbowroom::bring_up::{SensePlan, Session, SessionPlan, Watch};
/// let sense = SensePlan::default().with_watch(Watch::SensorOnly);
/// let plan = SessionPlan::new(79.5, [20.0, 140.0]).with_guard(3.0).with_rising(false).with_sense(sense);
/// assert_eq!((plan.guard, plan.step), (3.0, 2.5));
/// let session = Session::new(plan)?;
/// # Ok::<(), elbowroom::bring_up::BringUpError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct SessionPlan {
    /// The drive angle at which the joint stands, clear on both sides.
    pub start: f64,
    /// How far it is clear on both sides of it.
    pub clearance: f64,
    /// Angles that are never passed, lower then upper: the servo's own range or less.
    pub search_limits: [f64; 2],
    /// The longest way a probe may go beyond what is clear.
    pub step: f64,
    /// How finely a stop is bracketed.
    pub tolerance: f64,
    /// How far before a place it is approached from; more than the lost motion.
    pub run_in: f64,
    /// Way between two places of the sweep.
    pub sweep_step: f64,
    /// Margin between contact and travel.
    pub guard: f64,
    /// Coverage probability of the intervals.
    pub confidence: f64,
    /// The sense test. Where the joint meets a stop by hand, its turns become smaller as the bring-up goes on.
    pub sense: SensePlan,
    /// The alignment, for a sensor of known travel on a joint whose angles at its stops are known: it is made while the drive
    /// is still off.
    pub alignment: Option<AlignmentPlan>,
    /// Whether the reading should rise with the drive angle.
    pub rising: bool,
    /// One step of the reading, in readings.
    pub resolution: f64,
    /// The servo's speed by its data sheet, deg/s.
    pub rated_speed: f64,
    /// How each place is visited.
    pub pace: Pace,
    /// What is known from before.
    pub baseline: Option<Baseline>,
}

with! {
    SessionPlan {
        with_clearance clearance: f64,
        with_step step: f64,
        with_tolerance tolerance: f64,
        with_run_in run_in: f64,
        with_sweep_step sweep_step: f64,
        with_guard guard: f64,
        with_confidence confidence: f64,
        with_sense sense: SensePlan,
        with_alignment alignment: Option<AlignmentPlan>,
        with_rising rising: bool,
        with_resolution resolution: f64,
        with_rated_speed rated_speed: f64,
        with_pace pace: Pace,
        with_baseline baseline: Option<Baseline>,
    }
}

impl SessionPlan {
    /// The drive angles between which the first moves go, before anything is known: the clearance to both sides of the start.
    pub fn first_moves(&self) -> [f64; 2] {
        [self.start - self.clearance, self.start + self.clearance]
    }

    /// The usual plan (default; verify against the data sheet): 6 deg clear on both sides, steps of 2.5 deg, stops bracketed to 0.5 deg, guard
    /// margin 2 deg, a 10-bit reading that rises, a servo of 300 deg/s.
    pub fn new(start: f64, search_limits: [f64; 2]) -> Self {
        Self {
            start,
            clearance: 6.0,
            search_limits,
            step: 2.5,
            tolerance: 0.5,
            run_in: 5.0,
            sweep_step: 1.5,
            guard: 2.0,
            confidence: 0.95,
            sense: SensePlan::default(),
            alignment: None,
            rising: true,
            resolution: 1.0,
            rated_speed: 300.0,
            pace: Pace::default(),
            baseline: None,
        }
    }

    pub(super) fn check(&self) -> Result<(), BringUpError> {
        BringUpError::rising("search_limits", self.search_limits)?;
        BringUpError::positive("clearance", self.clearance)?;
        let [lower, upper] = self.search_limits;
        BringUpError::within("width of search_limits", upper - lower, 0.0, WIDEST)?;
        BringUpError::clear_start(self.start, self.clearance, self.search_limits)?;
        BringUpError::positive("sweep_step", self.sweep_step)?;
        // As many places as a sweep can have.
        BringUpError::within(
            "sweep_step",
            self.sweep_step,
            (upper - lower) / 9_999.0,
            crate::bring_up::MOST,
        )?;
        BringUpError::within("guard", self.guard, 0.0, crate::bring_up::MOST)?;
        BringUpError::within("confidence", self.confidence, 0.5, 0.9999)?;
        BringUpError::positive("rated_speed", self.rated_speed)?;
        if let Some(known) = self.baseline {
            let contacts = known.contacts.into_iter().flatten();
            for number in contacts.chain([known.at, known.reading, known.per_deg]) {
                BringUpError::finite("baseline", number)?;
            }
            BringUpError::positive("size of baseline.per_deg", known.per_deg.abs())?;
        }
        SenseTest::new(self.sense)?;
        if let Some(alignment) = self.alignment {
            alignment.figures()?;
        }
        for toward in [Side::Lower, Side::Upper] {
            StopSearch::new(self.search(toward))?;
        }
        Ok(())
    }

    pub(super) fn search(&self, toward: Side) -> StopSearchPlan {
        let sign = toward.sign();
        let [lower, upper] = self.search_limits;
        let [low, high] = self.sense.reading_range;
        // A hundredth of the reading range at either end is no reading: converters and potentiometers end early.
        let margin = 0.01 * (high - low);
        StopSearchPlan {
            bracket: BracketPlan {
                toward,
                clear: self.start + sign * self.clearance,
                search_limit: if toward == Side::Upper { upper } else { lower },
                step: self.step,
                tolerance: self.tolerance,
            },
            inner: self.start - sign * self.clearance,
            run_in: self.run_in,
            readable: [low + margin, high - margin],
            resolution: self.resolution,
            pace: self.pace,
        }
    }

    pub(in crate::bring_up) fn erratic(&self, range: f64) -> bool {
        let [low, high] = self.sense.reading_range;
        range > search::ERRATIC_PART * (high - low)
    }

    /// Whether the servo's loop runs over the sensor that the session reads.
    pub fn closes_loop(&self) -> bool {
        self.sense.watch == Watch::SensorAndDrive
    }
}
