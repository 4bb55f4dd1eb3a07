//! The sweep plan: the same drive angles, up and down, as often as the figures ask.

use super::action::{Action, Report};
use super::error::BringUpError;
use super::visit::{Pace, Visit};
use super::with::with;
use crate::span::Side;

/// Which legs a sweep has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
pub enum Legs {
    /// Only rising.
    Up,
    /// Only falling.
    Down,
    /// Rising, then falling: what lost motion and the bidirectional figures of ISO 230-2 need.
    UpAndDown,
}

/// What a sweep visits. *Unit*: deg of drive angle.
///
/// Each leg starts a run-in before its first target, so that every target, also the first, is reached from one side:
/// the run-in must be longer than the lost motion. For positioning figures take at least 5 targets and 5 runs
/// (ISO 230-2:2014, 5.3.2 of the axes up to 2 m; section numbers from memory).
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct SweepPlan {
    /// Lowest and highest target.
    pub ends: [f64; 2],
    /// Number of targets, evenly spaced, ends included; 2 to 10,000.
    pub targets: u16,
    /// How often each leg is run; 1 to 1000.
    pub runs: u16,
    /// Which legs.
    pub legs: Legs,
    /// How far outside the lower end a rising leg starts, and outside the upper end a falling one; 0 where a stop forbids it.
    pub run_in: [f64; 2],
    /// How each target is visited.
    pub pace: Pace,
}

with! {
    SweepPlan {
        with_runs runs: u16,
        with_legs legs: Legs,
        with_run_in run_in: [f64; 2],
        with_pace pace: Pace,
    }
}

/// One place of a sweep: where, from which side, in which run.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct SweepPlace {
    /// The drive angle, deg; of a reading the one really commanded, where it was told.
    pub drive: f64,
    /// Where the drive was moving to: [`Side::Upper`] is reached from below.
    pub toward: Side,
    /// Which target, counted from 0 at the lower end.
    pub target: u16,
    /// Which run, counted from 0.
    pub run: u16,
}

impl SweepPlan {
    /// How many targets there may be.
    pub const TARGETS: core::ops::RangeInclusive<u16> = 2..=10_000;
    /// How many runs there may be.
    pub const RUNS: core::ops::RangeInclusive<u16> = 1..=1000;

    /// The usual plan: up and down once, without a run-in.
    pub fn new(ends: [f64; 2], targets: u16) -> Self {
        Self {
            ends,
            targets,
            runs: 1,
            legs: Legs::UpAndDown,
            run_in: [0.0; 2],
            pace: Pace::default(),
        }
    }

    fn check(&self) -> Result<(), BringUpError> {
        BringUpError::rising("ends", self.ends)?;
        BringUpError::whole("targets", self.targets, &Self::TARGETS)?;
        BringUpError::whole("runs", self.runs, &Self::RUNS)?;
        for run_in in self.run_in {
            BringUpError::within("run_in", run_in, 0.0, crate::bring_up::MOST)?;
        }
        self.pace.check()?;
        Ok(())
    }

    fn legs_per_run(&self) -> u32 {
        match self.legs {
            Legs::Up | Legs::Down => 1,
            Legs::UpAndDown => 2,
        }
    }

    /// How many places are visited and read.
    pub fn places(&self) -> u32 {
        u32::from(self.targets) * u32::from(self.runs) * self.legs_per_run()
    }

    /// The place number `index`, counted from 0 in the order of the visits.
    pub fn place(&self, index: u32) -> Option<SweepPlace> {
        if index >= self.places() {
            return None;
        }
        let targets = u32::from(self.targets).max(1);
        let (leg, along) = (index / targets, index % targets);
        let toward = match self.legs {
            Legs::Up => Side::Upper,
            Legs::Down => Side::Lower,
            Legs::UpAndDown if leg % 2 == 0 => Side::Upper,
            Legs::UpAndDown => Side::Lower,
        };
        let target = match toward {
            Side::Upper => along,
            Side::Lower => targets - 1 - along,
        };
        let [lower, upper] = self.ends;
        let drive = if target == targets - 1 {
            upper
        } else {
            lower + (upper - lower) * f64::from(target) / f64::from(targets - 1)
        };
        Some(SweepPlace {
            drive,
            toward,
            target: target as u16,
            run: (leg / self.legs_per_run()) as u16,
        })
    }

    /// Seconds that it takes at the least: the settling, without the moves.
    pub fn least_seconds(&self) -> f64 {
        f64::from(self.places()) * self.pace.settle_s
    }

    /// The lowest and the highest angle that is asked for, run-in included.
    pub fn reach(&self) -> [f64; 2] {
        let ([lower, upper], [below, above]) = (self.ends, self.run_in);
        match self.legs {
            Legs::Up => [lower - below, upper],
            Legs::Down => [lower, upper + above],
            Legs::UpAndDown => [lower - below, upper + above],
        }
    }
}

/// A place and what was read there.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct SweepReading {
    /// The place.
    pub place: SweepPlace,
    /// The median of its readings.
    pub reading: f64,
    /// Highest less lowest of its readings.
    pub range: f64,
}

/// The sweep as a procedure: see [`Action`] and [`Report`].
///
/// ```
/// use elbowroom::bring_up::{Action, Report, Sweep, SweepPlan};
/// let plan = SweepPlan::new([10.0, 70.0], 5).with_runs(5).with_run_in([4.0, 4.0]);
/// let mut sweep = Sweep::new(plan)?;
/// let (mut at, mut seen) = (0.0, 0);
/// loop {
///     let report = match sweep.next() {
///         Action::MoveTo { drive, .. } => { at = drive; Report::Moved }
///         Action::Wait { .. } => Report::Waited,
///         Action::Read => Report::Reading { value: 3.8 * at, load: None },
///         _ => break,
///     };
///     if let Some(reading) = sweep.report(report)? {
///         assert_eq!(reading.reading, 3.8 * reading.place.drive);
///         seen += 1;
///     }
/// }
/// assert_eq!(seen, 50);
/// # Ok::<(), elbowroom::bring_up::BringUpError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(remote = "Self", deny_unknown_fields)
)]
pub struct Sweep {
    plan: SweepPlan,
    index: u32,
    /// Present until the last place is read.
    #[cfg_attr(feature = "serde", serde(deserialize_with = "super::saved::given"))]
    visit: Option<Visit>,
    running_in: bool,
}

impl Sweep {
    /// Checks a plan.
    ///
    /// # Errors
    /// Ends that do not rise, counts or times outside their ranges.
    pub fn new(plan: SweepPlan) -> Result<Self, BringUpError> {
        plan.check()?;
        let mut sweep = Self {
            plan,
            index: 0,
            visit: None,
            running_in: false,
        };
        sweep.head_for_place();
        Ok(sweep)
    }

    /// The plan.
    pub fn plan(&self) -> &SweepPlan {
        &self.plan
    }

    /// Places read so far.
    pub fn done(&self) -> u32 {
        self.index
    }

    /// What to do next; [`Action::Done`] at the end.
    pub fn next(&self) -> Action {
        self.visit.as_ref().map_or(Action::Done, Visit::next)
    }

    /// Takes the report of what [`Sweep::next`] asked; gives a reading when a place is finished.
    ///
    /// # Errors
    /// A report that does not belong to the action, a reading that is not finite; nothing changes then.
    pub fn report(&mut self, report: Report) -> Result<Option<SweepReading>, BringUpError> {
        let (Some(visit), Some(place)) = (&mut self.visit, self.plan.place(self.index)) else {
            return Err(BringUpError::Done);
        };
        let Some(seen) = visit.report(report)? else {
            return Ok(None);
        };
        if self.running_in {
            self.running_in = false;
            self.visit = Some(Visit::new(place.drive, self.plan.pace));
            return Ok(None);
        }
        self.index += 1;
        self.head_for_place();
        Ok(Some(SweepReading {
            place: SweepPlace {
                drive: seen.drive,
                ..place
            },
            reading: seen.reading,
            range: seen.range,
        }))
    }

    fn head_for_place(&mut self) {
        self.running_in = self.begins_leg();
        self.visit = self.visit_now();
    }

    fn begins_leg(&self) -> bool {
        self.index.is_multiple_of(u32::from(self.plan.targets))
    }

    /// The visit that the next place asks for, or the run-in before it.
    fn visit_now(&self) -> Option<Visit> {
        let place = self.plan.place(self.index)?;
        Some(if self.running_in {
            let [below, above] = self.plan.run_in;
            let from = match place.toward {
                Side::Upper => place.drive - below,
                Side::Lower => place.drive + above,
            };
            Visit::passing(from, self.plan.pace)
        } else {
            Visit::new(place.drive, self.plan.pace)
        })
    }

    /// Where the drive was brought, once it was.
    #[cfg(all(feature = "serde", feature = "std"))]
    pub(super) fn arrived(&self) -> Option<f64> {
        self.visit.as_ref().and_then(Visit::arrived)
    }

    /// What holds after every report.
    #[cfg(feature = "serde")]
    pub(super) fn check(&self) -> Result<(), BringUpError> {
        self.plan.check()?;
        BringUpError::within("index of sweep", self.index.into(), 0.0, self.plan.places().into())?;
        match (&self.visit, self.visit_now()) {
            (Some(visit), Some(meant)) => {
                if self.running_in {
                    BringUpError::there("running_in of sweep", true, self.begins_leg())?;
                }
                visit.check(&meant)
            }
            (visit, meant) => BringUpError::there("visit of sweep", visit.is_some(), meant.is_some()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::vec::Vec;

    fn plan(legs: Legs) -> SweepPlan {
        SweepPlan {
            ends: [37.0, 112.0],
            targets: 4,
            runs: 2,
            legs,
            run_in: [3.0, 3.0],
            pace: Pace::default(),
        }
    }

    #[test]
    fn visits_every_target_from_the_side_it_says() {
        for legs in [Legs::Up, Legs::Down, Legs::UpAndDown] {
            let plan = plan(legs);
            let mut sweep = Sweep::new(plan).unwrap();
            let (mut at, mut before) = (f64::NAN, f64::NAN);
            let mut seen = Vec::new();
            loop {
                let report = match sweep.next() {
                    Action::MoveTo { drive, .. } => {
                        (before, at) = (at, drive);
                        let [low, high] = plan.reach();
                        assert!((low..=high).contains(&drive));
                        Report::Moved
                    }
                    Action::Wait { .. } => Report::Waited,
                    Action::Read => Report::Reading { value: at, load: None },
                    _ => break,
                };
                if let Some(reading) = sweep.report(report).unwrap() {
                    assert_eq!(reading.place.drive, at);
                    assert!(
                        (at - before) * reading.place.toward.sign() > 0.0,
                        "reached from the wrong side"
                    );
                    seen.push(reading.place);
                }
            }
            assert_eq!(seen.len() as u32, plan.places());
            assert_eq!(plan.least_seconds(), f64::from(plan.places()) * plan.pace.settle_s);
            assert_eq!(seen.iter().filter(|p| p.run == 1).count() * 2, seen.len());
            for target in 0..4 {
                let hits = seen.iter().filter(|p| p.target == target).count() as u32;
                assert_eq!(hits, plan.places() / 4);
            }
            assert!(sweep.report(Report::Moved).is_err());
        }
    }

    #[test]
    fn refuses_what_is_no_plan() {
        let good = plan(Legs::UpAndDown);
        for bad in [
            SweepPlan { targets: 1, ..good },
            SweepPlan { runs: 0, ..good },
            SweepPlan {
                ends: [112.0, 37.0],
                ..good
            },
            SweepPlan {
                run_in: [0.0, f64::NAN],
                ..good
            },
            SweepPlan {
                pace: Pace { reads: 0, ..good.pace },
                ..good
            },
            SweepPlan {
                pace: Pace { reads: 10, ..good.pace },
                ..good
            },
            SweepPlan {
                pace: Pace {
                    settle_s: -1.0,
                    ..good.pace
                },
                ..good
            },
        ] {
            assert!(Sweep::new(bad).is_err(), "{bad:?}");
        }
    }

    #[test]
    fn a_wrong_report_changes_nothing() {
        let mut sweep = Sweep::new(plan(Legs::Up)).unwrap();
        let before = sweep;
        assert!(sweep.report(Report::Waited).is_err());
        assert!(sweep.report(Report::Reading { value: 1.0, load: None }).is_err());
        assert_eq!(sweep, before);
    }
}
