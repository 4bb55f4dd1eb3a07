//! The virtual person at the joint, who answers correctly, or sometimes not.

use super::chance::Chance;
use super::joint::VirtualJoint;
use crate::bring_up::{Action, Answer, BringUpError, Question, Report, Side};

/// Somebody who does what is asked and says what happens.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Person {
    chance: Chance,
    wrong_answer_rate: f64,
    /// Where the hand held the sensor before the last turn.
    before: f64,
}

impl Person {
    /// A person who gets this part of the answers wrong, 0 to 1, by chance from a seed.
    pub fn new(wrong_answer_rate: f64, seed: u64) -> Self {
        Self {
            chance: Chance::new(seed ^ 0x9e37_79b9_7f4a_7c15),
            wrong_answer_rate,
            before: 0.0,
        }
    }

    /// The same for a number that comes from outside.
    ///
    /// # Errors
    /// A part of wrong answers that is not within 0 to 1.
    pub fn checked(wrong_answer_rate: f64, seed: u64) -> Result<Self, BringUpError> {
        BringUpError::within("wrong_answer_rate", wrong_answer_rate, 0.0, 1.0)?;
        Ok(Self::new(wrong_answer_rate, seed))
    }

    /// Does an action on a virtual joint and reports it; nothing when there is nothing more to do.
    pub fn carry_out(&mut self, action: &Action, joint: &mut VirtualJoint) -> Option<Report> {
        Some(match *action {
            Action::MoveTo { drive, rate_per_s } => {
                joint.move_to(drive, rate_per_s);
                Report::Moved
            }
            Action::Wait { seconds } => {
                joint.wait(seconds);
                Report::Waited
            }
            Action::Read => Report::Reading {
                value: joint.read(),
                load: joint.load(),
            },
            Action::Ask { question, doubt } => Report::Answered {
                answer: self.answer(&question, doubt.is_some(), joint),
            },
            Action::Done => return None,
        })
    }

    fn answer(&mut self, question: &Question, again: bool, joint: &mut VirtualJoint) -> Answer {
        let slip = self.chance.happens(self.wrong_answer_rate);
        let truth = match *question {
            Question::TurnSensor { toward, degrees } => {
                if !again {
                    self.before = joint.hand();
                }
                // The mistake here is to turn the wrong way.
                let way = if slip { -toward.sign() } else { toward.sign() };
                joint.hold_sensor(self.before + way * degrees);
                return Answer::Done;
            }
            Question::DetachDrive => {
                joint.detach(true);
                return Answer::Done;
            }
            Question::AttachDrive => {
                joint.detach(false);
                return Answer::Done;
            }
            Question::DriveResponse => joint.response(),
            Question::WhatMoved { .. } => joint.what_moves(),
            Question::WhatIsMet { toward, drive } => joint.what_is_met(toward, drive),
            Question::JointAngle => {
                joint.hold_at_stop(Side::Lower);
                let angle = joint.angle();
                // The mistake here is to read the protractor's other scale.
                return Answer::Angle {
                    degrees: if slip { 180.0 - angle } else { angle },
                };
            }
            Question::SetSensor { reading, .. } => {
                // The mistake here is to let go too early.
                if !slip {
                    joint.set_sensor(reading);
                }
                return Answer::Done;
            }
            _ => return Answer::Done,
        };
        if slip {
            let answers = question.answers();
            answers.get(self.chance.one_of(answers.len())).copied().unwrap_or(truth)
        } else {
            truth
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::string::ToString as _;

    #[test]
    fn a_part_of_wrong_answers_is_a_part() {
        for part in [0.0, 0.05, 1.0] {
            assert!(Person::checked(part, 1).is_ok(), "{part}");
        }
        for part in [-0.01, 1.01, f64::NAN, f64::INFINITY] {
            let refused = Person::checked(part, 1).unwrap_err().to_string();
            assert!(refused.contains("wrong_answer_rate"), "{refused}");
        }
    }
}
