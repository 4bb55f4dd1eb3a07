//! What a person may answer.

/// An answer to a question.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
#[non_exhaustive]
pub enum Answer {
    /// It is done.
    Done,
    /// No.
    No,
    /// Towards the lower end.
    Lower,
    /// Towards the upper end.
    Upper,
    /// It does not move.
    Still,
    /// This joint.
    Joint,
    /// Another joint.
    Neighbour,
    /// The drive turns, the joint does not.
    DriveOnly,
    /// Nothing at all.
    Nothing,
    /// The mechanical end stop.
    Stop,
    /// Something that should not be there.
    Obstacle,
    /// An angle.
    Angle {
        /// Degrees.
        degrees: f64,
    },
    /// The reading is in doubt: read it again.
    Again,
    /// The joint stands at its stop and goes no further.
    AtStop,
}

impl Answer {
    /// Every answer; an angle stands for any angle.
    pub const ALL: [Self; 14] = [
        Self::Done,
        Self::No,
        Self::Lower,
        Self::Upper,
        Self::Still,
        Self::Joint,
        Self::Neighbour,
        Self::DriveOnly,
        Self::Nothing,
        Self::Stop,
        Self::Obstacle,
        Self::Angle { degrees: 0.0 },
        Self::Again,
        Self::AtStop,
    ];

    /// The answer's own word.
    pub const fn as_str(&self) -> &'static str {
        match self {
            Self::Done => "done",
            Self::No => "no",
            Self::Lower => "lower",
            Self::Upper => "upper",
            Self::Still => "still",
            Self::Joint => "joint",
            Self::Neighbour => "neighbour",
            Self::DriveOnly => "drive-only",
            Self::Nothing => "nothing",
            Self::Stop => "stop",
            Self::Obstacle => "obstacle",
            Self::Angle { .. } => "angle",
            Self::Again => "again",
            Self::AtStop => "at-stop",
        }
    }
}

/// What the answer stands for, in a few words.
impl core::fmt::Display for Answer {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            Self::Done => "it is done",
            Self::No => "no, do not start",
            Self::Lower => "the way that moves the joint to its lower end",
            Self::Upper => "the way that moves the joint to its upper end",
            Self::Still => "it does not turn",
            Self::Joint => "this joint",
            Self::Neighbour => "another joint",
            Self::DriveOnly => "the drive turns, the joint does not",
            Self::Nothing => "nothing",
            Self::Stop => "its mechanical stop",
            Self::Obstacle => "something that should not be there",
            Self::Angle { .. } => "the angle in deg",
            Self::Again => "the reading is in doubt; read it again",
            Self::AtStop => "the joint stands at its stop and goes no further",
        })
    }
}
