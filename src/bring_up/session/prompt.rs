//! Each step of a session in words, as that of a bring-up with typed readings.

use super::{Session, Stage};
use crate::bring_up::action::{Action, Caution, Question, Report};
use crate::bring_up::bench::{Prompt, Step, sentence};
use crate::bring_up::error::BringUpError;

impl Session {
    /// Cautions of the next step: those of its question; of a move, that nobody may be in reach, and in a search that it may press.
    fn cautions(&self) -> &'static [Caution] {
        match self.next() {
            Action::MoveTo { .. } if matches!(self.stage, Stage::Search(_) | Stage::WhatIsMet { .. }) => {
                &[Caution::HandOnPowerSwitch, Caution::NobodyInReach, Caution::MayPress]
            }
            Action::MoveTo { .. } if self.last_drive.is_none() => &[
                Caution::HandOnPowerSwitch,
                Caution::NobodyInReach,
                Caution::FirstMoveSlow,
            ],
            Action::MoveTo { .. } => &[Caution::NobodyInReach],
            _ => self.next().cautions(),
        }
    }

    /// The next step in words, with its cautions and answers.
    ///
    /// ```
    /// use elbowroom::bring_up::{Session, SessionPlan};
    /// let mut session = Session::new(SessionPlan::new(79.5, [0.0, 180.0]))?;
    /// let prompt = session.prompt();
    /// assert_eq!((prompt.kind, prompt.question, prompt.answers[0].word), ("ask", Some("ready"), "done"));
    /// assert!(!prompt.cautions.is_empty());
    /// session.report(session.parse("done")?)?;
    /// assert_eq!(session.prompt().question, Some("detach-drive"));
    /// # Ok::<(), elbowroom::bring_up::BringUpError>(())
    /// ```
    pub fn prompt(&self) -> Prompt {
        let action = self.next();
        let mut sentence = sentence(&action, self.outcome(), "", || "read the sensor once".into());
        let mut notice = None;
        if let Action::Ask { question, doubt } = action {
            notice = doubt;
            if let (Stage::Sense(test), Question::TurnSensor { .. }) = (&self.stage, question) {
                let (turn, of) = test.progress();
                sentence.push_str(&std::format!(" (turn {turn} of {of})"));
            }
        }
        Prompt::of_step(Step {
            action,
            no_reading: &[],
            stage: self.stage(),
            sentence,
            notice,
            cautions: self.cautions(),
            from: self.last_drive.unwrap_or(self.plan.start),
            // Held by hand the joint has no drive angle.
            place: self.last_drive.filter(|_| !self.is_held()),
            typed: self.readings.len(),
        })
    }

    /// What a person typed, as a report on the next step: a number where a reading or an angle is asked, else one of the answers.
    ///
    /// # Errors
    /// [`BringUpError::NoSuchReading`], [`BringUpError::NoSuchAnswer`], whose message lists the answers of this step only.
    pub fn parse(&self, typed: &str) -> Result<Report, BringUpError> {
        crate::bring_up::bench::parse(&self.next(), &[], typed)
    }
}
