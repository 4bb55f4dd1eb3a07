//! What proves the values of a joint.

use super::date::Date;
use crate::bring_up::LoopSense;
use crate::fit::EndKind;

/// What proves one end of the travel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum EvidenceKind {
    /// The stop was met, and placed.
    Contact,
    /// The last readings fell short of the line: something holds between two known drive angles.
    Stalled,
    /// This far was clear; no stop was met.
    Clear,
    /// Somebody said so.
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

/// What proves the values of one joint. Everything in it may be missing; `check` says what should not be.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Evidence {
    /// The day it was taken.
    pub date: Option<Date>,
    /// Sense of the feedback.
    pub sense: Option<LoopSense>,
    /// The lower end of the travel.
    pub lower: Option<EndEvidence>,
    /// The upper end of the travel.
    pub upper: Option<EndEvidence>,
    /// Lost motion.
    pub lost_motion: Option<LostMotionEvidence>,
    /// How many readings were taken.
    pub readings: Option<u32>,
}

impl Evidence {
    /// Whether nothing is known.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}
