//! What the person at the bench is to read at each step, as plain data that serialises.

use super::run::Pending;
use crate::bring_up::{Action, Answer, BringUpError, Caution, Doubt, Outcome, Question, Report};
use crate::look::Trimmed;
use std::string::{String, ToString};
use std::vec::Vec;

/// An answer that a step takes.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct PromptAnswer {
    /// The word to type.
    pub word: &'static str,
    /// What it stands for.
    pub meaning: String,
}

/// What must be said before a step.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct PromptCaution {
    /// Its own word.
    pub code: &'static str,
    /// The sentence.
    pub sentence: String,
}

/// A step in words. Cautions come first, then what contradicts the last answer, then the sentence with its answers.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Prompt {
    /// The action's own word: `move-to`, `wait`, `read`, `ask` or `done`.
    pub kind: &'static str,
    /// The part of the procedure.
    pub stage: &'static str,
    /// The question's own word, where one is asked.
    pub question: Option<&'static str>,
    /// One plain sentence.
    pub sentence: String,
    /// What contradicts the answer or the reading before.
    pub notice: Option<String>,
    /// What must be said first.
    pub cautions: Vec<PromptCaution>,
    /// The answers of this step, and no others. Where a reading is typed, the number goes without saying.
    pub answers: Vec<PromptAnswer>,
    /// Whether a number is typed.
    pub takes_number: bool,
    /// Where the drive stands by what was reported, deg. After an undo, or after a saved bring-up was taken up again, it may stand
    /// elsewhere.
    pub from: f64,
    /// Where it is brought, or where it is read, deg.
    pub drive: Option<f64>,
    /// The fastest that the command may change, deg/s.
    pub rate_per_s: Option<f64>,
    /// How long to wait, s.
    pub seconds: Option<f64>,
    /// Readings typed so far.
    pub typed: usize,
}

/// Cautions of a step.
pub(super) fn cautions(pending: &Pending) -> &'static [Caution] {
    match pending.action {
        Action::MoveTo { .. } if pending.is_first => &[
            Caution::HandOnPowerSwitch,
            Caution::NobodyInReach,
            Caution::FirstMoveSlow,
        ],
        Action::MoveTo { .. } if pending.may_press => {
            &[Caution::HandOnPowerSwitch, Caution::NobodyInReach, Caution::MayPress]
        }
        Action::MoveTo { .. } => &[Caution::NobodyInReach],
        Action::Read if pending.may_press => &[Caution::MayPress],
        action => action.cautions(),
    }
}

/// What a reading may be answered with instead, at the bench.
pub(super) const NO_READING: &[Answer] = &[Answer::Again];

/// Answers of a step; a reading has those given.
fn answers(action: &Action, no_reading: &'static [Answer]) -> &'static [Answer] {
    match action {
        Action::Ask { question, .. } => question.answers(),
        Action::Read => no_reading,
        Action::MoveTo { .. } | Action::Wait { .. } => &[Answer::Done],
        Action::Done => &[],
    }
}

/// The sentence of a step. How a wait goes on, and how a reading is taken, differs from one procedure to the other.
pub(in crate::bring_up) fn sentence(
    action: &Action,
    outcome: Option<&Outcome>,
    until: &str,
    read: impl FnOnce() -> String,
) -> String {
    match action {
        Action::MoveTo { drive, .. } => std::format!("move the drive to {} deg", degrees(*drive)),
        Action::Wait { seconds } => std::format!("wait {seconds} s{until}"),
        Action::Read => read(),
        Action::Ask { question, .. } => question.to_string(),
        Action::Done => outcome.map_or(String::new(), |outcome| outcome.verdict.to_string()),
    }
}

/// A drive angle as precisely as it is sent: two decimals, without zeros at the end.
fn degrees(value: f64) -> Trimmed {
    Trimmed(value, 2)
}

/// Whether a number answers it.
const fn takes_number(action: &Action) -> bool {
    matches!(
        action,
        Action::Read
            | Action::Ask {
                question: Question::JointAngle,
                ..
            }
    )
}

/// A step of any bring-up, with what it is told by.
pub(in crate::bring_up) struct Step {
    pub(in crate::bring_up) action: Action,
    /// What a reading may be answered with instead.
    pub(in crate::bring_up) no_reading: &'static [Answer],
    /// The part of the procedure.
    pub(in crate::bring_up) stage: &'static str,
    pub(in crate::bring_up) sentence: String,
    /// Why it is asked again.
    pub(in crate::bring_up) notice: Option<Doubt>,
    pub(in crate::bring_up) cautions: &'static [Caution],
    /// Where the drive stands, deg.
    pub(in crate::bring_up) from: f64,
    /// Where a reading is taken, deg; nothing where the joint is held by hand.
    pub(in crate::bring_up) place: Option<f64>,
    /// Readings taken so far.
    pub(in crate::bring_up) typed: usize,
}

impl Prompt {
    pub(super) fn of(pending: &Pending, outcome: Option<&Outcome>, typed: usize) -> Self {
        let place = pending.place.map(|(x, _)| x);
        let read = || match place {
            Some(x) => std::format!("type the reading at {} deg, once the joint stands still", degrees(x)),
            None => "hold the joint where it is, keep the hand off the scale, and type the reading".to_string(),
        };
        Self::of_step(Step {
            action: pending.action,
            no_reading: NO_READING,
            stage: pending.stage,
            sentence: sentence(&pending.action, outcome, " until the joint stands still", read),
            notice: pending.notice,
            cautions: cautions(pending),
            from: pending.at,
            place,
            typed,
        })
    }

    pub(in crate::bring_up) fn of_step(step: Step) -> Self {
        let Step {
            action,
            no_reading,
            stage,
            sentence,
            notice,
            cautions,
            from,
            place,
            typed,
        } = step;
        let (mut drive, mut rate, mut wait, mut asked) = (None, None, None, None);
        match action {
            Action::MoveTo { drive: to, rate_per_s } => (drive, rate) = (Some(to), Some(rate_per_s)),
            Action::Wait { seconds } => wait = Some(seconds),
            Action::Read => drive = place,
            Action::Ask { question, .. } => asked = Some(question.as_str()),
            Action::Done => {}
        }
        Self {
            kind: action.as_str(),
            stage,
            question: asked,
            sentence,
            notice: notice.map(|doubt| doubt.to_string()),
            cautions: cautions
                .iter()
                .map(|caution| PromptCaution {
                    code: caution.as_str(),
                    sentence: caution.to_string(),
                })
                .collect(),
            answers: answers(&action, no_reading)
                .iter()
                .map(|answer| PromptAnswer {
                    word: answer.as_str(),
                    meaning: answer.to_string(),
                })
                .collect(),
            takes_number: takes_number(&action),
            from,
            drive,
            rate_per_s: rate,
            seconds: wait,
            typed,
        }
    }
}

/// What a person typed, as a report on an action. A decimal comma is taken for a point, and `yes` or `y` for `done` where `no` is the other
/// answer.
///
/// # Errors
/// What is no number where a reading is asked; a word that is none of the question's answers: its answers are listed, and no others.
pub(in crate::bring_up) fn parse(
    action: &Action,
    no_reading: &'static [Answer],
    typed: &str,
) -> Result<Report, BringUpError> {
    let typed = typed.trim();
    let word = |answers: &'static [Answer]| {
        let is_yes_or_no = answers == [Answer::Done, Answer::No];
        let typed = match typed.to_ascii_lowercase().as_str() {
            "yes" | "y" if is_yes_or_no => Answer::Done.as_str(),
            "n" if is_yes_or_no => Answer::No.as_str(),
            _ => typed,
        };
        answers
            .iter()
            .copied()
            .find(|answer| answer.as_str().eq_ignore_ascii_case(typed))
    };
    let number = || match typed.replacen(',', ".", 1).parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        _ => Err(BringUpError::NoSuchReading),
    };
    match action {
        Action::MoveTo { .. } | Action::Wait { .. } => {
            let done: &'static [Answer] = &[Answer::Done];
            if !typed.is_empty() && word(done).is_none() {
                return Err(BringUpError::NoSuchAnswer {
                    question: action.as_str(),
                    answers: done,
                });
            }
            Ok(if matches!(action, Action::Wait { .. }) {
                Report::Waited
            } else {
                Report::Moved
            })
        }
        Action::Read => {
            if let Some(answer) = word(no_reading) {
                return Ok(Report::Answered { answer });
            }
            Ok(Report::Reading {
                value: number()?,
                load: None,
            })
        }
        Action::Ask {
            question: Question::JointAngle,
            ..
        } => Ok(Report::Answered {
            answer: Answer::Angle { degrees: number()? },
        }),
        Action::Ask { question, .. } => match word(question.answers()) {
            Some(answer) => Ok(Report::Answered { answer }),
            None => Err(BringUpError::NoSuchAnswer {
                question: question.as_str(),
                answers: question.answers(),
            }),
        },
        Action::Done => Err(BringUpError::Done),
    }
}
