//! What proves the values of a joint.

use std::string::String;

use super::date::Date;
use super::source::Source;
use crate::bring_up::LoopSense;
use crate::fit::EndKind;

/// What proves one end of the travel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum EvidenceKind {
    /// The stop was met, and placed.
    Contact,
    /// The last readings fell short of the line: something holds between two known drive angles.
    Stalled,
    /// No stop was found, clear to here.
    Clear,
    /// Stated by somebody, not measured.
    Declared,
}

impl From<EndKind> for EvidenceKind {
    fn from(kind: EndKind) -> Self {
        match kind {
            EndKind::Contact => Self::Contact,
            EndKind::Stalled => Self::Stalled,
            EndKind::Clear => Self::Clear,
        }
    }
}

impl EvidenceKind {
    /// Every kind.
    pub const ALL: [Self; 4] = [Self::Contact, Self::Stalled, Self::Clear, Self::Declared];

    /// The word of robot files.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Contact => "contact",
            Self::Stalled => "stalled",
            Self::Clear => "clear",
            Self::Declared => "declared",
        }
    }
}

/// The evidence for one end of the travel; drive angles in deg.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EndEvidence {
    /// What proves it.
    pub kind: EvidenceKind,
    /// The drive angle of contact, or the furthest that was clear, or that was declared; where the joint stalled, that of
    /// the last reading that follows the line.
    pub at: f64,
    /// The drive angle of the first reading that fell short of the line, further out than `at`: there for
    /// [`EvidenceKind::Stalled`], and for no other.
    pub short_at: Option<f64>,
    /// Standard uncertainty of `at`.
    pub u: Option<f64>,
    /// The margin that was to be kept between `at` and the travel.
    pub guard: Option<f64>,
}

/// Lost motion in drive angle, deg, with its standard uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LostMotionEvidence {
    /// Its size.
    pub value: f64,
    /// Standard uncertainty of `value`.
    pub u: Option<f64>,
}

/// What proves the values of one joint. Everything in it may be missing; `check` reports what is needed.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Evidence {
    /// The day it was taken.
    pub date: Option<Date>,
    /// Who took it.
    pub by: Option<String>,
    /// What the joint was measured with.
    pub instrument: Option<String>,
    /// Supply voltage of the servo during the readings, V.
    pub supply_v: Option<f64>,
    /// Temperature of the room during the readings, degrees Celsius.
    pub temperature_c: Option<f64>,
    /// Sense of the feedback.
    pub sense: Option<LoopSense>,
    /// The day of the sense test, where it differs from [`date`](Self::date).
    pub sense_date: Option<Date>,
    /// The lower end of the travel.
    pub lower: Option<EndEvidence>,
    /// The upper end of the travel.
    pub upper: Option<EndEvidence>,
    /// Lost motion.
    pub lost_motion: Option<LostMotionEvidence>,
    /// How many readings were taken.
    pub readings: Option<u32>,
    /// Drive deg by which these readings put a command elsewhere than the joint's map does, at the most, with sign: there where the map
    /// was kept against them.
    pub map_off: Option<f64>,
    /// Where the readings stand.
    pub source: Option<Source>,
}

impl Evidence {
    /// The instrument of a rehearsal: what it wrote was never measured at the joint.
    pub const VIRTUAL: &'static str = "virtual joint";

    /// Whether it comes from a rehearsal.
    pub fn is_rehearsed(&self) -> bool {
        self.instrument.as_deref() == Some(Self::VIRTUAL)
    }

    /// Whether the joint itself was measured: an end was found by readings, and not declared or rehearsed.
    ///
    /// ```
    /// use elbowroom::robot::Robot;
    /// # let robot = Robot::parse("format = 1\njoint.wing = { command = [-40, 60], drive = [37, 122], rest = 10, servo = { angle = \
    /// #     [0, 180], pulse_us = [500, 2500] }, timer = { frame_hz = 50, counts_per_frame = 4096 }, \
    /// #     evidence = { lower = { kind = \"clear\", at = 40.0 } } }")?;
    /// let wing = robot.joint("wing").unwrap().record();
    /// assert!(wing.evidence.is_measured());
    /// assert!(!wing.mirrored_as("wing_right", None).evidence.is_measured());
    /// # Ok::<(), elbowroom::robot::FileError>(())
    /// ```
    pub fn is_measured(&self) -> bool {
        let is_found = |end: &EndEvidence| end.kind != EvidenceKind::Declared;
        !self.is_rehearsed() && [&self.lower, &self.upper].into_iter().flatten().any(is_found)
    }

    /// Whether nothing is known.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }

    /// Whether something was measured that a later calibration can be compared with.
    pub fn is_calibration(&self) -> bool {
        self.lower.is_some() || self.upper.is_some() || self.lost_motion.is_some() || self.source.is_some()
    }

    /// Whether both rest on the same readings: one is then the other fitted again, and no later calibration.
    pub(super) fn is_fitted_again(&self, later: &Self) -> bool {
        match (&self.source, &later.source) {
            (Some(old), Some(new)) => old.is_same_readings(new),
            (None, None) => self == later,
            _ => false,
        }
    }
}
