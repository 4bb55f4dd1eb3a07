//! What was reported, in its order: with the plan all that a bring-up at the bench consists of.

use crate::bring_up::{Action, Answer, BringUpError, Report};

/// One report.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case", deny_unknown_fields)
)]
pub(super) enum Entry {
    /// The drive was brought to an angle, deg.
    Moved {
        /// The angle that was asked for.
        drive: f64,
        /// The angle that was commanded, where the timer's steps made another of it.
        #[cfg_attr(feature = "serde", serde(default, skip_serializing_if = "Option::is_none"))]
        commanded: Option<f64>,
    },
    /// The joint was left to come to rest.
    Waited,
    /// A reading was typed.
    Read {
        /// What was typed.
        value: f64,
    },
    /// A question was answered.
    Answered {
        /// The answer.
        answer: Answer,
    },
    /// It was ended.
    Stopped,
}

impl Entry {
    /// What a report on an action becomes.
    pub(super) fn of(report: Report, asked: &Action) -> Result<Self, BringUpError> {
        match (asked, report) {
            (Action::MoveTo { drive, .. }, Report::Moved) => Ok(Self::Moved {
                drive: *drive,
                commanded: None,
            }),
            (Action::MoveTo { drive, .. }, Report::MovedTo { drive: commanded }) => {
                report.confirms(asked).map(|()| Self::Moved {
                    drive: *drive,
                    commanded: Some(commanded),
                })
            }
            (Action::Wait { .. }, Report::Waited) => Ok(Self::Waited),
            (Action::Read, Report::Reading { .. }) => report.reading(asked).map(|(value, _)| Self::Read { value }),
            (Action::Read, Report::Answered { answer: Answer::Again }) => Ok(Self::Answered { answer: Answer::Again }),
            (Action::Ask { .. }, Report::Answered { .. }) => {
                report.answer(asked).map(|answer| Self::Answered { answer })
            }
            (Action::Done, _) => Err(BringUpError::Done),
            _ => Err(report.misplaced(asked)),
        }
    }

    /// Whether this entry of a log read back is one that the action can have had.
    pub(super) fn check(self, asked: &Action) -> Result<(), BringUpError> {
        let as_report = match self {
            Self::Moved { drive: was, commanded } => {
                if let Some(drive) = commanded {
                    Report::MovedTo { drive }.confirms(asked)?;
                }
                return match asked {
                    // A rounding of another machine's libraries apart, it is the move that was asked.
                    Action::MoveTo { drive, .. } if (drive - was).abs() <= 1e-6 => Ok(()),
                    Action::MoveTo { drive, .. } => Err(BringUpError::Contradicts {
                        what: "drive of log",
                        value: was,
                        right: *drive,
                    }),
                    _ => Err(Report::Moved.misplaced(asked)),
                };
            }
            Self::Waited => Report::Waited,
            Self::Read { value } => Report::Reading { value, load: None },
            Self::Answered { answer } => Report::Answered { answer },
            Self::Stopped => return Ok(()),
        };
        Self::of(as_report, asked).map(drop)
    }

    /// Whether it holds something that a person typed or chose: an undo goes back by these.
    pub(super) fn is_told(self) -> bool {
        match self {
            Self::Read { .. } => true,
            Self::Answered { answer } => answer != Answer::Done,
            _ => false,
        }
    }
}
