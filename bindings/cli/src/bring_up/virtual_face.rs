//! A virtual joint that answers: by a virtual person, or shown to the person at the terminal.

use super::face::{Face, Person, Reply, Step, Teller};
use crate::problem::Problem;
use crate::voice::Voice;
use elbowroom::bring_up::{Action, Answer, Report};
use elbowroom::rehearsal::{self, Typist, VirtualJoint};

/// Who handles the virtual joint.
pub(crate) enum Hand {
    /// One who types few readings.
    Typist(Typist),
    /// One beside a program that reads the sensor.
    Person(rehearsal::Person),
}

impl Hand {
    fn carry_out(&mut self, action: &Action, joint: &mut VirtualJoint) -> Option<Report> {
        match self {
            Self::Typist(typist) => typist.carry_out(action, joint),
            Self::Person(person) => person.carry_out(action, joint),
        }
    }
}

/// A virtual joint with a virtual person.
pub(crate) struct Virtual {
    pub(crate) joint: VirtualJoint,
    hand: Hand,
    teller: Teller,
}

impl Virtual {
    pub(crate) fn new(joint: VirtualJoint, hand: Hand) -> Self {
        Self {
            joint,
            hand,
            teller: Teller::default(),
        }
    }
}

impl Face for Virtual {
    fn ask(&mut self, step: &Step, action: &Action, voice: &Voice) -> Result<Reply, Problem> {
        self.teller.tell(step, voice)?;
        let Some(report) = self.hand.carry_out(&step.as_sent(*action), &mut self.joint) else {
            return Ok(Reply::Stop);
        };
        Ok(Reply::Done(report))
    }

    fn took(&mut self, step: &Step, report: &Report, voice: &Voice) -> Result<(), Problem> {
        self.teller.done(step, report, voice)
    }

    fn refuse(&mut self, message: &str, _: &Voice) -> Result<Option<String>, Problem> {
        Ok(Some(message.to_owned()))
    }

    fn waits_by_itself(&self) -> bool {
        false
    }

    fn end(&mut self, _: &super::Procedure, voice: &Voice) -> Result<(), Problem> {
        self.teller.end(voice)
    }

    fn virtual_joint(&self) -> Option<&VirtualJoint> {
        Some(&self.joint)
    }
}

/// A virtual joint before the person at the terminal, who is told what is to be seen and types.
pub(crate) struct Shown {
    joint: VirtualJoint,
    hand: Hand,
    person: Person,
    /// Whether the person answered the step that stands.
    is_typed: bool,
}

impl Shown {
    pub(crate) fn new(joint: VirtualJoint, hand: Hand) -> Self {
        Self {
            joint,
            hand,
            person: Person::new(None),
            is_typed: false,
        }
    }
}

impl Face for Shown {
    fn ask(&mut self, step: &Step, action: &Action, voice: &Voice) -> Result<Reply, Problem> {
        let Some(report) = self.hand.carry_out(&step.as_sent(*action), &mut self.joint) else {
            return Ok(Reply::Stop);
        };
        let is_by_program = matches!(self.hand, Hand::Person(_)) && !matches!(action, Action::Ask { .. });
        if is_by_program || matches!(action, Action::Wait { .. }) {
            self.person.teller.tell(step, voice)?;
            self.is_typed = false;
            return Ok(Reply::Done(report));
        }
        let shown = match report {
            Report::Reading { value, .. } => Some(format!("the scale shows {}", crate::paint::number(value, 2))),
            Report::Answered { answer } => match answer {
                Answer::Done | Answer::No => None,
                Answer::Angle { degrees } => {
                    Some(format!("the protractor shows {} deg", crate::paint::number(degrees, 1)))
                }
                seen => Some(format!("seen at the virtual joint: {seen}")),
            },
            _ => None,
        };
        self.is_typed = true;
        self.person.ask_of(step, shown.as_deref(), voice)
    }

    fn took(&mut self, step: &Step, report: &Report, voice: &Voice) -> Result<(), Problem> {
        if self.is_typed {
            return Ok(());
        }
        self.person.teller.done(step, report, voice)
    }

    fn refuse(&mut self, message: &str, voice: &Voice) -> Result<Option<String>, Problem> {
        self.person.refuse(message, voice)
    }

    fn waits_by_itself(&self) -> bool {
        false
    }

    fn end(&mut self, _: &super::Procedure, voice: &Voice) -> Result<(), Problem> {
        self.person.teller.end(voice)
    }

    fn virtual_joint(&self) -> Option<&VirtualJoint> {
        Some(&self.joint)
    }
}
