//! What a bring-up at the bench starts from, and its check.

use crate::bring_up::error::{BringUpError, WIDEST};
use crate::bring_up::sense::Watch;
use crate::bring_up::with::with;

/// What a bring-up with typed readings starts from. *Unit*: deg of drive angle unless said otherwise.
///
/// ```
/// use elbowroom::bring_up::{Bench, BenchPlan};
/// let plan = BenchPlan::new(79.5, [20.0, 140.0]).with_resolution(0.1).with_guard(3.0).with_stops_felt();
/// let bench = Bench::new(plan)?;
/// # Ok::<(), elbowroom::bring_up::BringUpError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[non_exhaustive]
pub struct BenchPlan {
    /// The drive angle at which the joint stands, clear on both sides.
    pub start: f64,
    /// How far it is clear on both sides of it.
    pub clearance: f64,
    /// Angles that are never passed, lower then upper: the servo's own range or less.
    pub search_limits: [f64; 2],
    /// How far a command may lie beyond a stop as met in the direction driven.
    pub overtravel: f64,
    /// How far before a place it is approached from; more than the lost motion.
    pub run_in: f64,
    /// Margin between contact and travel.
    pub guard: f64,
    /// Coverage probability of the intervals.
    pub confidence: f64,
    /// Whether the servo's own potentiometer sits on the joint: then the sense of its feedback is tested.
    pub watch: Watch,
    /// How far a turn of the hand goes in the sense test.
    pub turn: f64,
    /// Whether both stops are felt by hand first, with the drive detached.
    pub feel_stops: bool,
    /// One graduation of the scale that is read, in readings.
    pub resolution: f64,
    /// Standard uncertainty of one typed reading, its graduation included, in readings.
    pub u_reading: f64,
    /// The standard uncertainty wanted of both stops and of the lost motion.
    pub tolerance: f64,
    /// How many readings are typed at the most while the result is refined; the search of the stops may need more.
    pub most_readings: u16,
    /// By how much the slope may change over 100 deg of drive angle, as a part of itself (one standard deviation).
    pub bend: f64,
    /// The fastest that the command may change, deg/s.
    pub rate_per_s: f64,
    /// How long to wait until the joint is at rest, seconds.
    pub settle_s: f64,
}

with! {
    BenchPlan {
        with_clearance clearance: f64,
        with_overtravel overtravel: f64,
        with_run_in run_in: f64,
        with_guard guard: f64,
        with_confidence confidence: f64,
        with_watch watch: Watch,
        with_turn turn: f64,
        with_u_reading u_reading: f64,
        with_tolerance tolerance: f64,
        with_most_readings most_readings: u16,
        with_bend bend: f64,
        with_rate_per_s rate_per_s: f64,
        with_settle_s settle_s: f64,
    }
}

impl BenchPlan {
    /// How many readings may be allowed.
    pub const MOST_READINGS: core::ops::RangeInclusive<u16> = 8..=500;

    /// What the reader of a scale adds to half a graduation's rounding, in graduations (default; verify against the data sheet).
    const READER: f64 = 0.4;

    /// The usual plan (default; verify against the data sheet): 6 deg clear on both sides, 5 deg of overtravel, guard margin 2 deg, a protractor of 1 deg
    /// read to 0.5 deg, stops wanted to 0.5 deg, a slope that may change by a tenth over 100 deg.
    pub fn new(start: f64, search_limits: [f64; 2]) -> Self {
        Self {
            start,
            clearance: 6.0,
            search_limits,
            overtravel: 5.0,
            run_in: 9.0,
            guard: 2.0,
            confidence: 0.95,
            watch: Watch::SensorOnly,
            turn: 20.0,
            feel_stops: false,
            resolution: 1.0,
            u_reading: Self::u_of(1.0),
            tolerance: 0.5,
            most_readings: 60,
            bend: 0.1,
            rate_per_s: 20.0,
            settle_s: 1.0,
        }
    }

    /// The same for another scale: one graduation of it, in readings. The standard uncertainty of a reading follows.
    pub fn with_resolution(mut self, resolution: f64) -> Self {
        self.resolution = resolution;
        self.u_reading = Self::u_of(resolution);
        self
    }

    /// The same with both stops felt by hand first. Nothing is pressed then, unless something came in the way since: so steps may be
    /// longer, and the overtravel is 8 deg.
    pub fn with_stops_felt(mut self) -> Self {
        self.feel_stops = true;
        self.overtravel = 8.0;
        self
    }

    /// The rounding to a graduation as a rectangular distribution (JCGM 100, 4.3.7), and the reader.
    fn u_of(resolution: f64) -> f64 {
        resolution * (1.0 / 12.0 + Self::READER * Self::READER).sqrt()
    }

    pub(super) fn check(&self) -> Result<(), BringUpError> {
        let [lower, upper] = BringUpError::rising("search_limits", self.search_limits)?;
        BringUpError::within("width of search_limits", upper - lower, 0.0, WIDEST)?;
        BringUpError::within("clearance", self.clearance, 0.5, 90.0)?;
        BringUpError::clear_start(self.start, self.clearance, self.search_limits)?;
        BringUpError::within("overtravel", self.overtravel, 0.5, 45.0)?;
        BringUpError::within("run_in", self.run_in, 1.0, 45.0)?;
        BringUpError::within("guard", self.guard, 0.0, 90.0)?;
        BringUpError::within("confidence", self.confidence, 0.5, 0.9999)?;
        BringUpError::within("turn", self.turn, 1.0, 90.0)?;
        BringUpError::positive("resolution", self.resolution)?;
        BringUpError::positive("u_reading", self.u_reading)?;
        // Rounding alone scatters by so much.
        BringUpError::within("u_reading", self.u_reading, 0.28 * self.resolution, f64::MAX)?;
        BringUpError::within("tolerance", self.tolerance, 0.01, 45.0)?;
        BringUpError::whole("most_readings", self.most_readings, &Self::MOST_READINGS)?;
        BringUpError::within("bend", self.bend, 0.0, 1.0)?;
        BringUpError::positive("rate_per_s", self.rate_per_s)?;
        BringUpError::within("settle_s", self.settle_s, 0.0, 3600.0)?;
        Ok(())
    }

    /// The drive angles between which the first moves go, before anything is known: the clearance and the overtravel to both sides of the
    /// start, within the search limits. So the first slope is measured over a stretch that is worth the readings, and no move goes further
    /// past what is clear than every later one may.
    ///
    /// ```
    /// use elbowroom::bring_up::BenchPlan;
    /// assert_eq!(BenchPlan::new(80.0, [0.0, 180.0]).first_moves(), [69.0, 91.0]);
    /// ```
    pub fn first_moves(&self) -> [f64; 2] {
        let out = self.clearance + self.overtravel;
        let [lower, upper] = self.search_limits;
        [(self.start - out).max(lower), (self.start + out).min(upper)]
    }
}
