//! One visit to a drive angle: move there, let it settle, read a few times.

use super::action::{Action, Report};
use super::error::BringUpError;
use super::reads::Reads;

/// How every visit of a procedure is made.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Pace {
    /// The fastest that the command may change, deg/s of drive angle.
    pub rate_per_s: f64,
    /// How long to wait until the joint is at rest, seconds. Readings in motion are worthless.
    pub settle_s: f64,
    /// How many readings are taken at rest, 1 to 9; their median counts.
    pub reads: u8,
}

impl Default for Pace {
    /// Slow enough to watch: 30 deg/s, 0.4 s of rest, 5 readings (default; verify against the data sheet).
    fn default() -> Self {
        Self {
            rate_per_s: 30.0,
            settle_s: 0.4,
            reads: 5,
        }
    }
}

impl Pace {
    /// How many readings may be taken at a place.
    pub const READS: core::ops::RangeInclusive<u8> = 1..=Reads::MOST;

    pub(crate) fn check(self) -> Result<Self, BringUpError> {
        BringUpError::positive("rate_per_s", self.rate_per_s)?;
        BringUpError::within("settle_s", self.settle_s, 0.0, 3600.0)?;
        BringUpError::whole("reads", self.reads, &Self::READS)?;
        Ok(self)
    }
}

/// What a visit saw.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Seen {
    /// The drive angle really commanded.
    pub(crate) drive: f64,
    pub(crate) reading: f64,
    pub(crate) range: f64,
    pub(crate) load: Option<f64>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
enum Stage {
    Move,
    Settle,
    Read,
}

#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub(crate) struct Visit {
    drive: f64,
    pace: Pace,
    stage: Stage,
    /// The drive angle really commanded; the one asked until it is told.
    at: f64,
    reads: Reads,
    #[cfg_attr(feature = "serde", serde(deserialize_with = "crate::bring_up::saved::given"))]
    load: Option<f64>,
}

impl Visit {
    pub(crate) fn new(drive: f64, pace: Pace) -> Self {
        Self {
            drive,
            pace,
            stage: Stage::Move,
            at: drive,
            reads: Reads::default(),
            load: None,
        }
    }

    /// A visit without readings: only to come from the right side.
    pub(crate) fn passing(drive: f64, pace: Pace) -> Self {
        Self::new(drive, Pace { reads: 0, ..pace })
    }

    /// Whether a visit read back is one to this drive angle, at this pace.
    #[cfg(feature = "serde")]
    pub(crate) fn check(&self, meant: &Self) -> Result<(), BringUpError> {
        BringUpError::same("drive of visit", self.drive, meant.drive)?;
        BringUpError::same("rate_per_s of visit", self.pace.rate_per_s, meant.pace.rate_per_s)?;
        BringUpError::same("settle_s of visit", self.pace.settle_s, meant.pace.settle_s)?;
        BringUpError::same("reads of visit", self.pace.reads.into(), meant.pace.reads.into())?;
        let off = if self.stage == Stage::Move {
            0.0
        } else {
            Report::MOST_ROUNDING
        };
        BringUpError::within("rounding of visit", (self.at - self.drive).abs(), 0.0, off)?;
        self.reads.check()?;
        // The last reading ends a visit.
        let most = if self.stage == Stage::Read {
            f64::from(self.pace.reads) - 1.0
        } else {
            0.0
        };
        BringUpError::within("count of reads", self.reads.count().into(), 0.0, most)?;
        self.load
            .map_or(Ok(()), |load| BringUpError::finite("load", load).map(drop))
    }

    /// Where the drive was brought, once it was.
    #[cfg(all(feature = "serde", feature = "std"))]
    pub(crate) fn arrived(&self) -> Option<f64> {
        (self.stage != Stage::Move).then_some(self.drive)
    }

    pub(crate) fn drive(&self) -> f64 {
        self.drive
    }

    pub(crate) fn next(&self) -> Action {
        match self.stage {
            Stage::Move => Action::MoveTo {
                drive: self.drive,
                rate_per_s: self.pace.rate_per_s,
            },
            Stage::Settle => Action::Wait {
                seconds: self.pace.settle_s,
            },
            Stage::Read => Action::Read,
        }
    }

    /// Takes a report; gives what was seen once the visit is over.
    pub(crate) fn report(&mut self, report: Report) -> Result<Option<Seen>, BringUpError> {
        let asked = self.next();
        match self.stage {
            Stage::Move => {
                report.confirms(&asked)?;
                if let Report::MovedTo { drive } = report {
                    self.at = drive;
                }
                self.stage = Stage::Settle;
                return Ok(None);
            }
            Stage::Settle => {
                report.confirms(&asked)?;
                self.stage = Stage::Read;
            }
            Stage::Read => {
                let (value, load) = report.reading(&asked)?;
                self.reads.push(value);
                self.load = match (self.load, load) {
                    (Some(a), Some(b)) => Some(a.max(b)),
                    (a, b) => a.or(b),
                };
            }
        }
        Ok((self.reads.count() >= self.pace.reads).then(|| Seen {
            drive: self.at,
            reading: self.reads.median(),
            range: self.reads.range(),
            load: self.load,
        }))
    }
}
