//! The drive's speed, timed over two moves of unlike length.
//!
//! A servo begins late, by its frame and its filter, takes time to come up to speed and slows down over its proportional band. A short
//! move and a long one, from the same place in the same direction, have all of that in common: between the times at which each
//! comes within [`SpeedTest::NEAR`] of where it ends lies nothing but the way that the long one is longer, at full speed. Where the joint has
//! no room for two such moves the speed stays undetermined; nothing is refused for it then.
//!
//! Times are those of the commands and waits that were asked for. What a front end takes longer makes the drive seem faster, never slower.

use super::{Session, Stage};
use crate::bring_up::action::{Action, Report};
use crate::bring_up::diagnosis::Fault;
use crate::bring_up::error::BringUpError;
use crate::bring_up::visit::{Pace, Seen, Visit};

/// What is timed. *Unit*: deg of drive angle.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub(super) struct SpeedPlan {
    /// Where each run begins, and from where that is approached.
    pub(super) from: f64,
    pub(super) approach: f64,
    /// How far the short and the long run go down from there.
    pub(super) ways: [f64; 2],
    /// By the data sheet, deg/s.
    pub(super) rated: f64,
    /// Readings per degree.
    pub(super) per_deg: f64,
    pub(super) pace: Pace,
}

#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
enum Step {
    /// Slowly to the approach, then to the begin.
    Approach {
        visit: Visit,
    },
    Begin {
        visit: Visit,
    },
    Run,
    Read,
    Wait,
    /// At rest at the end of a run.
    Rest {
        visit: Visit,
    },
}

/// Readings of one run, one each [`SpeedTest::EVERY_S`].
type Trace = [f64; SpeedTest::MOST_READS];

#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub(super) struct SpeedTest {
    plan: SpeedPlan,
    step: Step,
    /// The run that is made: 0 the short one, 1 the long one.
    run: u8,
    trace: Trace,
    count: u8,
    /// When the short run arrived, s after its command began.
    #[cfg_attr(feature = "serde", serde(deserialize_with = "crate::bring_up::saved::given"))]
    short_s: Option<f64>,
}

impl SpeedTest {
    /// The short run, deg: long enough to come up to speed and to slow down.
    const SHORT: f64 = 15.0;
    /// The least that the long run must be longer, and the most that it is long, deg.
    const LEAST_LONGER: f64 = 20.0;
    const MOST_LONG: f64 = 60.0;
    /// How near its end a run has arrived, deg: further out than play, overshoot and scatter, within most proportional bands.
    const NEAR: f64 = 3.0;
    /// Between two readings of a run, s: the frame of most servos.
    const EVERY_S: f64 = 0.02;
    /// Readings of a run at the most: 0.6 s after the command's end, in which a drive of a third of its rated speed arrives.
    const MOST_READS: usize = 30;
    /// What arrival times are uncertain by, two standard uncertainties of their difference, s: a frame and a reading each, of
    /// 20 ms, evenly distributed (JCGM 100, 4.3.7).
    const EARLIEST_S: f64 = 0.025;
    /// Part of the rated speed below which a drive is too slow for it.
    const SLOW_PART: f64 = 0.75;

    pub(super) fn new(plan: SpeedPlan) -> Self {
        Self {
            plan,
            step: Step::Approach {
                visit: Visit::passing(plan.approach, plan.pace),
            },
            run: 0,
            trace: [0.0; Self::MOST_READS],
            count: 0,
            short_s: None,
        }
    }

    #[cfg(feature = "serde")]
    pub(super) fn plan(&self) -> &SpeedPlan {
        &self.plan
    }

    fn way(&self) -> f64 {
        let [short, long] = self.plan.ways;
        if self.run == 0 { short } else { long }
    }

    fn end(&self) -> f64 {
        self.plan.from - self.way()
    }

    #[cfg(feature = "serde")]
    fn visit(&self) -> Option<Visit> {
        match self.step {
            Step::Approach { visit } | Step::Begin { visit } | Step::Rest { visit } => Some(visit),
            _ => None,
        }
    }

    pub(super) fn next(&self) -> Action {
        match self.step {
            Step::Approach { visit } | Step::Begin { visit } | Step::Rest { visit } => visit.next(),
            Step::Run => Action::MoveTo {
                drive: self.end(),
                rate_per_s: self.plan.rated,
            },
            Step::Read => Action::Read,
            Step::Wait => Action::Wait { seconds: Self::EVERY_S },
        }
    }

    /// Takes a report; at the end gives the least and the most likely speed, deg/s, if the runs could be timed.
    pub(super) fn report(&mut self, report: Report) -> Result<Option<Option<[f64; 2]>>, BringUpError> {
        let asked = self.next();
        match &mut self.step {
            Step::Approach { visit } => {
                if visit.report(report)?.is_some() {
                    let visit = Visit::passing(self.plan.from, self.plan.pace);
                    self.step = Step::Begin { visit };
                }
            }
            Step::Begin { visit } => {
                if visit.report(report)?.is_some() {
                    self.count = 0;
                    self.step = Step::Run;
                }
            }
            Step::Run => {
                report.confirms(&asked)?;
                self.step = Step::Read;
            }
            Step::Wait => {
                report.confirms(&asked)?;
                self.step = Step::Read;
            }
            Step::Read => {
                let (value, _) = report.reading(&asked)?;
                if let Some(place) = self.trace.get_mut(usize::from(self.count)) {
                    *place = value;
                    self.count += 1;
                }
                self.step = if usize::from(self.count) < Self::MOST_READS && !self.rests() {
                    Step::Wait
                } else {
                    Step::Rest {
                        visit: Visit::new(self.end(), self.plan.pace),
                    }
                };
            }
            Step::Rest { visit } => {
                if let Some(seen) = visit.report(report)? {
                    return Ok(self.arrived(seen));
                }
            }
        }
        Ok(None)
    }

    fn read(&self) -> &[f64] {
        self.trace.get(..usize::from(self.count)).unwrap_or_default()
    }

    /// Whether the last four readings hardly differ and lie near the end of the run, where the map has it.
    fn rests(&self) -> bool {
        let last = self.read().iter().rev().take(4);
        let low = last.clone().fold(f64::INFINITY, |low, &value| low.min(value));
        let high = last.fold(f64::NEG_INFINITY, |high, &value| high.max(value));
        let first = self.read().first().copied().unwrap_or(low);
        let moved = (first - low).abs().max((first - high).abs());
        self.count >= 4
            && high - low < Self::NEAR / 4.0 * self.plan.per_deg.abs()
            && (moved > Self::NEAR * self.plan.per_deg.abs() || self.count >= 10)
    }

    /// When the run came near its end for the last time, s after its command began; nothing where it did not.
    fn arrival(&self, at_rest: f64) -> Option<f64> {
        let near = Self::NEAR * self.plan.per_deg.abs();
        let command_s = self.way() / self.plan.rated;
        let off = |value: &f64| (value - at_rest).abs();
        let out = self.read().iter().rposition(|value| off(value) > near);
        let Some(out) = out else {
            return Some(command_s);
        };
        let (before, after) = (off(self.trace.get(out)?), off(self.read().get(out + 1)?));
        let part = (before - near) / (before - after);
        Some(command_s + Self::EVERY_S * (out as f64 + part))
    }

    fn arrived(&mut self, seen: Seen) -> Option<Option<[f64; 2]>> {
        let arrival = self.arrival(seen.reading);
        if self.run == 0 {
            let Some(short_s) = arrival else { return Some(None) };
            self.short_s = Some(short_s);
            self.run = 1;
            let visit = Visit::passing(self.plan.approach, self.plan.pace);
            self.step = Step::Approach { visit };
            return None;
        }
        let [short, long] = self.plan.ways;
        let (Some(short_s), Some(long_s)) = (self.short_s, arrival) else {
            return Some(None);
        };
        let speed = |seconds: f64| (long - short) / seconds.max(1e-3);
        let seconds = long_s - short_s;
        Some(Some([speed(seconds), speed(seconds - Self::EARLIEST_S)]))
    }

    /// Where the drive was brought, once it was.
    #[cfg(feature = "serde")]
    pub(super) fn last_move(&self) -> Option<f64> {
        match self.step {
            Step::Read | Step::Wait => Some(self.end()),
            _ => self.visit().and_then(|visit| visit.arrived()),
        }
    }

    /// What holds after every report.
    #[cfg(feature = "serde")]
    pub(super) fn check(&self) -> Result<(), BringUpError> {
        BringUpError::within("run of speed test", self.run.into(), 0.0, 1.0)?;
        BringUpError::within("reads of speed test", self.count.into(), 0.0, Self::MOST_READS as f64)?;
        for value in self.trace.iter().chain(&self.short_s) {
            BringUpError::finite("number of speed test", *value)?;
        }
        match self.step {
            Step::Approach { visit } => visit.check(&Visit::passing(self.plan.approach, self.plan.pace)),
            Step::Begin { visit } => visit.check(&Visit::passing(self.plan.from, self.plan.pace)),
            Step::Rest { visit } => visit.check(&Visit::new(self.end(), self.plan.pace)),
            Step::Run | Step::Read | Step::Wait => Ok(()),
        }
    }
}

impl Session {
    /// The two runs that the clear room allows, below where the upper search ended; none in a narrow joint.
    pub(super) fn speed_plan(&self) -> Option<SpeedPlan> {
        let [lower, upper] = self.cleared();
        let from = upper - self.plan.run_in;
        let long = (from - lower - self.plan.run_in).min(SpeedTest::MOST_LONG);
        let (_, per_deg) = self.map.expected(from, self.plan.start)?;
        (long >= SpeedTest::SHORT + SpeedTest::LEAST_LONGER).then_some(SpeedPlan {
            from,
            approach: upper,
            ways: [SpeedTest::SHORT, long],
            rated: self.plan.rated_speed,
            per_deg,
            pace: self.plan.pace,
        })
    }

    pub(super) fn time_speed(&mut self) -> Result<(), BringUpError> {
        match self.speed_plan() {
            Some(plan) => {
                self.stage = Stage::Speed(SpeedTest::new(plan));
                Ok(())
            }
            None => self.sweep_next(0),
        }
    }

    /// A drive whose speed is too low even at the end of its uncertainty is refused.
    pub(super) fn weigh_speed(&mut self, speed: Option<[f64; 2]>) -> Result<(), BringUpError> {
        let rated = self.plan.rated_speed;
        if let Some([likely, most]) = speed {
            self.speed = Some(likely);
            if most < SpeedTest::SLOW_PART * rated {
                self.refuse(Fault::SupplySag, None, Some(likely / rated));
                return Ok(());
            }
        }
        self.sweep_next(0)
    }
}
