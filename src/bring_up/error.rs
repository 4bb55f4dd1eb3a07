//! What can be wrong with a plan or a report of the bring-up.

use super::answer::Answer;
use crate::code::Code;
use crate::error::Shown;
use thiserror::Error;

/// The largest angle, reading or time that makes sense in a bring-up, far above any joint's (a million turns are 3.6e8 deg). What is
/// saved beyond it would lose its smaller steps.
pub(crate) const MOST: f64 = 1e12;

/// The widest search limits, deg. Two whole turns and more are no joint, or no degrees; the search would only be endless.
#[cfg(feature = "std")]
pub(crate) const WIDEST: f64 = 720.0;

/// Why a plan or a report was refused. A refused report changes nothing: the same action is asked again.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[non_exhaustive]
pub enum BringUpError {
    /// A NaN or an infinity where a number is needed.
    #[error("{what} is {}; give a finite number", Shown(*value))]
    NotFinite {
        /// The field.
        what: &'static str,
        /// The value found.
        value: f64,
    },
    /// A number that must be above zero.
    #[error("{what} is {}; it must be above zero", Shown(*value))]
    NotPositive {
        /// The field.
        what: &'static str,
        /// The value found.
        value: f64,
    },
    /// A number below its least value.
    #[error("{what} is {}; it must be at least {}", Shown(*value), Shown(*least))]
    Below {
        /// The field.
        what: &'static str,
        /// The value found.
        value: f64,
        /// The least that is allowed.
        least: f64,
    },
    /// A number above its greatest value.
    #[error("{what} is {}; it must be at most {}", Shown(*value), Shown(*most))]
    Above {
        /// The field.
        what: &'static str,
        /// The value found.
        value: f64,
        /// The most that is allowed.
        most: f64,
    },
    /// A start that is not clear of the search limits on both sides.
    #[error("start is {}: it is not set, or lies less than the clearance of {} deg inside search_limits {} to {}; it must be {} to {}", Shown(*start), Shown(*clearance), Shown(*lower), Shown(*upper), Shown(*lower + *clearance), Shown(*upper - *clearance))]
    StartNotClear {
        /// The start found.
        start: f64,
        /// How far it must be clear on both sides.
        clearance: f64,
        /// Lower search limit.
        lower: f64,
        /// Upper search limit.
        upper: f64,
    },
    /// Search limits without room for the clearance on both sides of a start.
    #[error("search_limits {} to {} leave no room for a start that is {} deg clear on both sides; widen them or give a smaller clearance", Shown(*lower), Shown(*upper), Shown(*clearance))]
    NoRoomForStart {
        /// How far a start must be clear on both sides.
        clearance: f64,
        /// Lower search limit.
        lower: f64,
        /// Upper search limit.
        upper: f64,
    },
    /// Two ends in the wrong order, or the same.
    #[error("{what} [{}, {}] must rise; write its lower end first", Shown(*lower), Shown(*upper))]
    NotRising {
        /// The field.
        what: &'static str,
        /// The first value given.
        lower: f64,
        /// The second value given.
        upper: f64,
    },
    /// A report that does not belong to the action asked.
    #[error("{given} was reported where {asked} was asked; do the action of next() and report that")]
    WrongReport {
        /// The action that stands.
        asked: &'static str,
        /// The report given.
        given: &'static str,
    },
    /// An answer that the question does not have.
    #[error("{given} is not an answer to {question}; answer {}", Listed(answers))]
    WrongAnswer {
        /// The question that stands.
        question: &'static str,
        /// The answer given.
        given: &'static str,
        /// The answers it has.
        answers: &'static [Answer],
    },
    /// A typed word that is none of a question's answers.
    #[error("{}", NotAnAnswer(question, answers))]
    NoSuchAnswer {
        /// The question that stands.
        question: &'static str,
        /// The answers it has.
        answers: &'static [Answer],
    },
    /// What was typed is not a reading.
    #[error("that is not a reading; type the number that the scale shows, or again")]
    NoSuchReading,
    /// A saved state whose parts do not belong together.
    #[error("saved {what} is {} where the rest of the state makes it {}; give the state unchanged, as it was written", Shown(*value), Shown(*right))]
    Contradicts {
        /// The field.
        what: &'static str,
        /// The value found.
        value: f64,
        /// What the rest of the state says.
        right: f64,
    },
    /// A saved part that is there or not where the rest of the state says otherwise.
    #[error("saved {what} contradicts the rest of the state; give the state unchanged, as it was written")]
    OutOfPlace {
        /// The field.
        what: &'static str,
    },
    /// An outcome that calls the joint ready without all that belongs to it.
    #[error("the outcome is ready, but its {what} is missing; give the outcome as it was made")]
    OutcomeIncomplete {
        /// What is missing.
        what: &'static str,
    },
    /// A saved bring-up of another format.
    #[error("format is {found}; this version reads format {known}")]
    Format {
        /// The format found.
        found: u32,
        /// The format that is read.
        known: u32,
    },
    /// A ramp without a rate.
    #[error("max_rate_per_s is given neither by the joint nor by the call; give it in one of them")]
    NoRate,
    /// A ramp of a joint that is to be faster than the joint may be.
    #[error("max_rate_per_s is {}; it must be at most {}, the joint's own; lower it, or raise the joint's max_rate_per_s", Shown(*rate), Shown(*own))]
    RateAboveJoint {
        /// The rate given, command units per second.
        rate: f64,
        /// The joint's own.
        own: f64,
    },
    /// A report after the end.
    #[error("this procedure is done; start a new one")]
    Done,
}

/// What was wrong with a typed word, without the inner name of the step.
struct NotAnAnswer<'a>(&'a str, &'static [Answer]);

impl core::fmt::Display for NotAnAnswer<'_> {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("that is not one of the answers; ")?;
        match (self.0, self.1) {
            ("move-to", _) => f.write_str("press Enter or type done when it is there"),
            ("wait", _) => f.write_str("press Enter or type done when the joint stands still"),
            (_, [only]) => write!(f, "type {}", only.as_str()),
            (_, answers) => write!(f, "type one of: {}", Listed(answers)),
        }
    }
}

/// The words of a question's answers.
struct Listed(&'static [Answer]);

impl core::fmt::Display for Listed {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let last = self.0.len().saturating_sub(1);
        for (index, answer) in self.0.iter().enumerate() {
            let before = match index {
                0 => "",
                _ if index == last => " or ",
                _ => ", ",
            };
            write!(f, "{before}{}", answer.as_str())?;
        }
        Ok(())
    }
}

impl BringUpError {
    /// The frozen code of this error.
    pub const fn code(&self) -> Code {
        match self {
            Self::NotFinite { .. } => Code::NotFinite,
            Self::NotPositive { .. } => Code::NotPositive,
            Self::Below { .. }
            | Self::Above { .. }
            | Self::StartNotClear { .. }
            | Self::NoRoomForStart { .. }
            | Self::RateAboveJoint { .. } => Code::OptionOutside,
            Self::NotRising { lower, upper, .. } => {
                if *lower > *upper {
                    Code::EndsSwapped
                } else {
                    Code::ZeroWidth
                }
            }
            Self::Contradicts { .. } | Self::OutOfPlace { .. } => Code::ValueOutside,
            Self::Format { .. } => Code::FormatTooNew,
            Self::WrongReport { .. } | Self::WrongAnswer { .. } | Self::NoSuchAnswer { .. } | Self::NoSuchReading => {
                Code::WrongReport
            }
            Self::NoRate | Self::OutcomeIncomplete { .. } => Code::MissingKey,
            Self::Done => Code::ProcedureDone,
        }
    }

    pub(crate) fn finite(what: &'static str, value: f64) -> Result<f64, Self> {
        if !value.is_finite() {
            Err(Self::NotFinite { what, value })
        } else if value > MOST {
            Err(Self::Above {
                what,
                value,
                most: MOST,
            })
        } else if value < -MOST {
            let least = -MOST;
            Err(Self::Below { what, value, least })
        } else {
            Ok(value)
        }
    }

    pub(crate) fn positive(what: &'static str, value: f64) -> Result<f64, Self> {
        Self::finite(what, value)?;
        if value > 0.0 {
            Ok(value)
        } else {
            Err(Self::NotPositive { what, value })
        }
    }

    pub(crate) fn within(what: &'static str, value: f64, least: f64, most: f64) -> Result<f64, Self> {
        Self::finite(what, value)?;
        if value < least {
            Err(Self::Below { what, value, least })
        } else if value > most {
            Err(Self::Above { what, value, most })
        } else {
            Ok(value)
        }
    }

    /// A whole number of a plan, within what it may be.
    pub(crate) fn whole<T: Copy + Into<f64>>(
        what: &'static str,
        value: T,
        within: &core::ops::RangeInclusive<T>,
    ) -> Result<f64, Self> {
        Self::within(what, value.into(), (*within.start()).into(), (*within.end()).into())
    }

    /// A start that is clear on both sides of it.
    #[cfg(feature = "std")]
    pub(crate) fn clear_start(start: f64, clearance: f64, [lower, upper]: [f64; 2]) -> Result<(), Self> {
        Self::finite("start", start)?;
        if lower + clearance > upper - clearance {
            Err(Self::NoRoomForStart {
                clearance,
                lower,
                upper,
            })
        } else if start < lower + clearance || start > upper - clearance {
            Err(Self::StartNotClear {
                start,
                clearance,
                lower,
                upper,
            })
        } else {
            Ok(())
        }
    }

    /// A saved value that follows from others, to a few roundings.
    #[cfg(feature = "serde")]
    pub(crate) fn same(what: &'static str, value: f64, right: f64) -> Result<(), Self> {
        Self::finite(what, value)?;
        if (value - right).abs() <= 1e-9 * (1.0 + right.abs()) {
            Ok(())
        } else {
            Err(Self::Contradicts { what, value, right })
        }
    }

    /// A saved part of a state that is there or not, as the rest of it says.
    #[cfg(feature = "serde")]
    pub(crate) fn there(what: &'static str, is: bool, right: bool) -> Result<(), Self> {
        if is == right {
            Ok(())
        } else {
            Err(Self::OutOfPlace { what })
        }
    }

    pub(crate) fn rising(what: &'static str, [lower, upper]: [f64; 2]) -> Result<[f64; 2], Self> {
        Self::finite(what, lower)?;
        Self::finite(what, upper)?;
        if lower < upper {
            Ok([lower, upper])
        } else {
            Err(Self::NotRising { what, lower, upper })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[cfg(feature = "std")]
    #[test]
    fn a_start_without_room_says_why() {
        let told = |start, limits| {
            BringUpError::clear_start(start, 6.0, limits).map_err(|error| std::string::ToString::to_string(&error))
        };
        assert_eq!(
            told(0.0, [0.0, 180.0]).unwrap_err(),
            "start is 0: it is not set, or lies less than the clearance of 6 deg inside search_limits 0 to 180; it must be 6 to 174"
        );
        assert!(
            told(5.0, [0.0, 10.0])
                .unwrap_err()
                .starts_with("search_limits 0 to 10 leave no room")
        );
        assert_eq!(told(6.0, [0.0, 12.0]), Ok(()));
    }

    #[cfg(feature = "std")]
    #[test]
    fn microseconds_are_no_angles() {
        let plan = crate::bring_up::SessionPlan::new(1500.0, [500.0, 2500.0]);
        let refused = crate::bring_up::Session::new(plan).unwrap_err();
        assert_eq!(
            std::string::ToString::to_string(&refused),
            "width of search_limits is 2000; it must be at most 720"
        );
    }
}
