//! Long ways are not gone in one move: every step there is a reading, compared with what the searches read there.
//!
//! A move over a part of the joint that was clear an hour ago meets whatever has got there since. So moves longer than a run-in and
//! a step are made in hops of one step, with a short rest and one reading each; a reading that is astray is taken a few times more
//! before it is believed. The two timed runs of the speed test alone go through.

use super::follow::Astray;
use super::{Session, Stage};
use crate::bring_up::action::{Action, Report};
use crate::bring_up::diagnosis::Fault;
use crate::bring_up::error::BringUpError;
use crate::bring_up::reads::Reads;
use crate::span::Side;

#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
enum Step {
    Move,
    Settle,
    Read,
}

/// One hop.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub(super) struct Hop {
    to: f64,
    rate_per_s: f64,
    toward: Side,
    step: Step,
    reads: Reads,
}

impl Session {
    /// Part of the time for settling that a hop waits: it needs to be past the lag, not at rest to the last count.
    const HOP_SETTLE_PART: f64 = 0.25;
    /// Readings of a place that seems astray.
    const HOP_READS: u8 = 5;

    /// The hop that comes before an action, if it is a long way.
    pub(super) fn hop_before(&self, action: &Action) -> Option<Hop> {
        if self.hop.is_some() {
            return self.hop;
        }
        let (Action::MoveTo { drive, rate_per_s }, Some(last)) = (*action, self.last_drive) else {
            return None;
        };
        let way = drive - last;
        let toward = if way > 0.0 { Side::Upper } else { Side::Lower };
        let to = last + toward.sign() * self.plan.step;
        // Where the places of the first move are read again, nothing was seen to be in the way.
        let again = matches!(self.stage, Stage::Recheck { .. });
        let long = !again && way.abs() > self.plan.run_in + self.plan.step && rate_per_s <= self.plan.pace.rate_per_s;
        (long && self.map.expected(to, self.plan.start).is_some()).then_some(Hop {
            to,
            rate_per_s,
            toward,
            step: Step::Move,
            reads: Reads::default(),
        })
    }

    pub(super) fn hop_action(&self, hop: &Hop) -> Action {
        match hop.step {
            Step::Move => Action::MoveTo {
                drive: hop.to,
                rate_per_s: hop.rate_per_s,
            },
            Step::Settle => Action::Wait {
                seconds: Self::HOP_SETTLE_PART * self.plan.pace.settle_s,
            },
            Step::Read => Action::Read,
        }
    }

    pub(super) fn report_hop(&mut self, mut hop: Hop, report: Report) -> Result<(), BringUpError> {
        let asked = self.hop_action(&hop);
        match hop.step {
            Step::Move => {
                report.confirms(&asked)?;
                self.moved_to(hop.to);
                hop.step = Step::Settle;
            }
            Step::Settle => {
                report.confirms(&asked)?;
                hop.step = Step::Read;
            }
            Step::Read => {
                let (value, _) = report.reading(&asked)?;
                hop.reads.push(value);
                let count = hop.reads.count();
                match self.astray_at(hop.to, hop.toward, hop.reads.median(), count) {
                    Some(_) if count < Self::HOP_READS => {}
                    found => {
                        self.hop = None;
                        return self.hopped(&hop, found);
                    }
                }
            }
        }
        self.hop = Some(hop);
        Ok(())
    }

    fn hopped(&mut self, hop: &Hop, found: Option<Astray>) -> Result<(), BringUpError> {
        if self.plan.erratic(hop.reads.range()) {
            self.refuse(Fault::WiperNoisy, Some(hop.to), Some(hop.reads.range()));
            return Ok(());
        }
        found.map_or(Ok(()), |found| self.astray(found))
    }
}

#[cfg(feature = "serde")]
impl Hop {
    pub(super) fn check(&self, [lower, upper]: [f64; 2]) -> Result<(), BringUpError> {
        BringUpError::within("place of hop", self.to, lower, upper)?;
        BringUpError::positive("rate_per_s of hop", self.rate_per_s)?;
        self.reads.check()?;
        let most = if self.step == Step::Read {
            f64::from(Session::HOP_READS) - 1.0
        } else {
            0.0
        };
        BringUpError::within("count of reads of hop", self.reads.count().into(), 0.0, most).map(drop)
    }

    /// Where the drive was brought, once it was.
    pub(super) fn arrived(&self) -> Option<f64> {
        (self.step != Step::Move).then_some(self.to)
    }
}
