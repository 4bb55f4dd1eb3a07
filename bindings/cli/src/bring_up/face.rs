//! Who answers the steps of a bring-up: a person at the terminal, or a command.

use super::Line;
use super::procedure::Procedure;
use crate::paint::{number, strong};
use crate::problem::Problem;
use crate::voice::Voice;
use elbowroom::Code;
use elbowroom::bring_up::{Action, Answer, Prompt, Report};
use elbowroom::rehearsal::VirtualJoint;
use serde::{Deserialize, Serialize};
use std::io::{BufRead as _, BufReader, Write as _};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};

/// A step as it is told: the prompt of the core, with what the servo is sent.
#[derive(Serialize)]
pub(crate) struct Step {
    step: u32,
    #[serde(flatten)]
    pub(crate) prompt: Prompt,
    /// The same as data, with what a question asks for.
    action: Action,
    /// Timer counts nearest to the pulse of `drive`.
    pub(crate) counts: Option<u32>,
    /// Pulse width of these counts.
    pub(crate) pulse_us: Option<f64>,
    /// Drive angle that this pulse commands, deg: readings are taken as of this angle.
    commanded: Option<f64>,
    /// What was wrong with the last answer.
    #[serde(skip_serializing_if = "Option::is_none")]
    refused: Option<String>,
}

impl Step {
    pub(crate) fn of(number: u32, prompt: Prompt, action: Action, line: &Line) -> Self {
        let counts = prompt
            .drive
            .map(|drive| line.timer.nearest_count(line.servo.pulse_us(drive)));
        let pulse_us = counts.map(|counts| line.timer.pulse_us(counts));
        Self {
            step: number,
            counts,
            pulse_us,
            commanded: pulse_us.map(|pulse| line.servo.angle(pulse)),
            prompt,
            action,
            refused: None,
        }
    }

    /// What was typed of this step, a move with the angle that its counts command.
    pub(crate) fn told(&self, report: Report) -> Report {
        match (report, self.commanded) {
            (Report::Moved, Some(drive)) => Report::MovedTo { drive },
            _ => report,
        }
    }

    /// The action with the angle that its counts command.
    pub(super) fn as_sent(&self, action: Action) -> Action {
        match (action, self.commanded) {
            (Action::MoveTo { rate_per_s, .. }, Some(drive)) => Action::MoveTo { drive, rate_per_s },
            _ => action,
        }
    }

    /// The move in one line: drive angle, pulse and counts.
    fn sent(&self) -> Option<String> {
        let (drive, pulse, counts) = (self.prompt.drive?, self.pulse_us?, self.counts?);
        Some(format!(
            "drive {} deg, pulse {} us, counts {counts}",
            number(drive, 2),
            number(pulse, 1)
        ))
    }
}

/// What a person may type at every step beside its answers. No answer of the core has one of these words; an answer of the step
/// goes before all of them.
const UNDO: &str = "undo";
const ABORT: &str = "abort";
const QUIT: &str = "quit";
const HELP: [&str; 2] = ["?", "help"];

/// What came back.
pub(crate) enum Reply {
    /// What was typed, or the same from a command.
    Typed(String),
    /// The step was done.
    Done(Report),
    /// The last answer is to be taken back.
    Undo,
    /// The bring-up ends here.
    Stop,
    /// Nobody answers any more, for this reason; the bring-up waits.
    Left(String),
}

/// Somebody who answers.
pub(crate) trait Face {
    fn ask(&mut self, step: &Step, action: &Action, voice: &Voice) -> Result<Reply, Problem>;

    /// Tells what was answered, where the person at the terminal did not type it.
    fn took(&mut self, _: &Step, _: &Report, _: &Voice) -> Result<(), Problem> {
        Ok(())
    }

    /// Tells what was wrong with an answer; gives a reason where it is not asked again.
    fn refuse(&mut self, message: &str, voice: &Voice) -> Result<Option<String>, Problem>;

    /// Whether waits need no answer.
    fn waits_by_itself(&self) -> bool;

    /// Tells the end.
    fn end(&mut self, _: &Procedure, _: &Voice) -> Result<(), Problem> {
        Ok(())
    }

    /// The virtual joint behind it, if it is none of metal.
    fn virtual_joint(&self) -> Option<&VirtualJoint> {
        None
    }
}

/// Tells a stage, its cautions, what contradicts the last answer, and what was done.
///
/// Each caution is said once in a stage. Readings that follow each other stand in one line.
#[derive(Default)]
pub(super) struct Teller {
    stage: &'static str,
    said: Vec<&'static str>,
    reads: Vec<String>,
}

impl Teller {
    pub(super) fn tell(&mut self, step: &Step, voice: &Voice) -> Result<(), Problem> {
        let prompt = &step.prompt;
        if prompt.kind != "read" {
            self.end(voice)?;
        }
        if self.stage != prompt.stage {
            self.stage = prompt.stage;
            self.said.clear();
            voice.say(&format!("\n{}", strong(prompt.stage)))?;
        }
        for caution in &prompt.cautions {
            if !self.said.contains(&caution.code) {
                voice.say(&format!("  caution: {}", caution.sentence))?;
                self.said.push(caution.code);
            }
        }
        if let Some(notice) = &prompt.notice {
            voice.say(&format!("  {notice}"))?;
        }
        Ok(())
    }

    /// Tells a step that nobody at the terminal did.
    pub(super) fn done(&mut self, step: &Step, report: &Report, voice: &Voice) -> Result<(), Problem> {
        match report {
            Report::Moved | Report::MovedTo { .. } => voice.say(&format!("  {}", step.sent().unwrap_or_default())),
            Report::Reading { value, .. } => {
                self.reads.push(number(*value, 2));
                Ok(())
            }
            Report::Answered { answer } => {
                let said = match answer {
                    Answer::Angle { degrees } => format!("{} deg", number(*degrees, 1)),
                    word => word.as_str().to_owned(),
                };
                voice.say(&format!("  {}", step.prompt.sentence))?;
                voice.say(&format!("    answer {}", strong(&said)))
            }
            Report::Waited => Ok(()),
        }
    }

    /// Tells the readings that have not been told.
    pub(super) fn end(&mut self, voice: &Voice) -> Result<(), Problem> {
        if !self.reads.is_empty() {
            voice.say(&format!("    reads {}", self.reads.join(" ")))?;
            self.reads.clear();
        }
        Ok(())
    }
}

/// A person at the terminal.
pub(crate) struct Person {
    pub(super) teller: Teller,
    is_told: bool,
    /// What is taken for granted of where the servo stands, said before anything moves.
    assumed: Option<String>,
}

impl Person {
    pub(crate) fn new(assumed: Option<String>) -> Self {
        Self {
            teller: Teller::default(),
            is_told: false,
            assumed,
        }
    }

    /// A line of the person's, None at the end of the input.
    fn line() -> std::io::Result<Option<String>> {
        let mut line = String::new();
        let read = std::io::stdin().lock().read_line(&mut line)?;
        Ok((read > 0).then(|| line.trim().to_owned()))
    }

    /// Whether the bring-up is to end here.
    fn is_sure(voice: &Voice) -> Result<bool, Problem> {
        voice.ask("  End the bring-up? What was typed stays saved. Type yes or no> ")?;
        let line = Self::line().ok().flatten().unwrap_or_default();
        Ok(["yes", "y"].iter().any(|yes| line.eq_ignore_ascii_case(yes)))
    }

    /// Asks; `shown` is what there is to be seen, where the joint is virtual.
    pub(super) fn ask_of(&mut self, step: &Step, shown: Option<&str>, voice: &Voice) -> Result<Reply, Problem> {
        let prompt = &step.prompt;
        if !self.is_told {
            self.is_told = true;
            voice.say(&format!(
                "{UNDO} takes the last answer back, {ABORT} ends the bring-up, {QUIT} leaves it to continue later, ? explains the answers"
            ))?;
        }
        self.teller.tell(step, voice)?;
        let words: Vec<&str> = prompt.answers.iter().map(|answer| answer.word).collect();
        match prompt.kind {
            "move-to" => {
                let rate = prompt.rate_per_s.map_or(String::new(), |rate| {
                    format!("; no faster than {} deg/s", number(rate, 1))
                });
                voice.say(&format!("  send {}{rate}", step.sent().unwrap_or_default()))?;
            }
            _ => voice.say(&format!("  {}", prompt.sentence))?,
        }
        if let (Some("ready"), Some(assumed)) = (prompt.question, &self.assumed) {
            voice.say(&format!("  {assumed}"))?;
        }
        if let Some(shown) = shown {
            voice.say(&format!("  ({shown})"))?;
        }
        loop {
            let asked = match prompt.kind {
                "move-to" => "press Enter when it is there".to_owned(),
                "read" => [&["reading"], &words[..]].concat().join(", or "),
                _ if prompt.takes_number => "angle in deg".to_owned(),
                _ => words.join(", "),
            };
            voice.ask(&format!("  {asked}> "))?;
            let line = match Self::line() {
                Ok(Some(line)) => line,
                Ok(None) => return Ok(Reply::Left("the input ended".to_owned())),
                Err(error) => return Ok(Reply::Left(format!("the input cannot be read: {error}"))),
            };
            return Ok(match line.as_str() {
                // What is asked goes before all else.
                typed if words.iter().any(|word| word.eq_ignore_ascii_case(typed)) => Reply::Typed(line),
                UNDO => Reply::Undo,
                ABORT if Self::is_sure(voice)? => Reply::Stop,
                ABORT => continue,
                QUIT => Reply::Left(format!("left by {QUIT}")),
                typed if HELP.contains(&typed) => {
                    for answer in &prompt.answers {
                        voice.say(&format!("    {:<12} {}", answer.word, answer.meaning))?;
                    }
                    for (word, meaning) in [
                        (UNDO, "takes the last answer back"),
                        (
                            ABORT,
                            "ends the bring-up; the joint is then not ready, and the same command continues where it ended",
                        ),
                        (QUIT, "leaves it; the same command continues it later"),
                    ] {
                        voice.say(&format!("    {word:<12} {meaning}"))?;
                    }
                    continue;
                }
                _ => Reply::Typed(line),
            });
        }
    }
}

impl Face for Person {
    fn ask(&mut self, step: &Step, _: &Action, voice: &Voice) -> Result<Reply, Problem> {
        self.ask_of(step, None, voice)
    }

    fn refuse(&mut self, message: &str, voice: &Voice) -> Result<Option<String>, Problem> {
        voice.say(&format!("  {message}"))?;
        Ok(None)
    }

    fn waits_by_itself(&self) -> bool {
        true
    }
}

/// One line of a command's answers.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Answered {
    reading: Option<f64>,
    /// Beside a reading: the drive's current as a part of its stall current.
    load: Option<f64>,
    answer: Option<String>,
    #[serde(default)]
    undo: bool,
    #[serde(default)]
    stop: bool,
    #[serde(default)]
    person: bool,
    error: Option<String>,
}

/// A command that is told each step as a JSON object in a line and answers in the same way.
pub(crate) struct Program {
    child: Child,
    to: Option<ChildStdin>,
    from: BufReader<ChildStdout>,
    teller: Teller,
    person: Person,
    refused: Option<String>,
    refusals: u32,
    /// Whether the person at the terminal answered the step that stands.
    is_typed: bool,
}

/// Wrong answers in a row after which a command is left.
const MOST_REFUSALS: u32 = 3;
const ANSWER_EXAMPLE: &str = "{\"reading\": 101.5} or {\"answer\": \"done\"}";

impl Program {
    pub(crate) fn start(command: &str, assumed: Option<String>) -> Result<Self, Problem> {
        let (shell, flag) = if cfg!(windows) { ("cmd", "/C") } else { ("sh", "-c") };
        let spawned = Command::new(shell)
            .args([flag, command])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn();
        let failed =
            |reason: String| Problem::new(Code::Other, format!("--through: {command} cannot be started: {reason}"));
        let mut child = spawned.map_err(|error| failed(error.to_string()))?;
        let (to, from) = (child.stdin.take(), child.stdout.take());
        let from = from.ok_or_else(|| failed("it has no output".to_owned()))?;
        Ok(Self {
            child,
            to,
            from: BufReader::new(from),
            teller: Teller::default(),
            person: Person::new(assumed),
            refused: None,
            refusals: 0,
            is_typed: false,
        })
    }

    fn send(&mut self, object: &impl Serialize) -> std::io::Result<()> {
        let mut line = serde_json::to_string(object)?;
        line.push('\n');
        let to = self.to.as_mut().ok_or(std::io::ErrorKind::BrokenPipe)?;
        to.write_all(line.as_bytes())?;
        to.flush()
    }

    fn gone(&mut self) -> String {
        self.to = None;
        let status = self
            .child
            .wait()
            .map_or_else(|error| error.to_string(), |status| status.to_string());
        format!("the command of --through ended ({status}) before the bring-up did")
    }
}

impl Face for Program {
    fn ask(&mut self, step: &Step, action: &Action, voice: &Voice) -> Result<Reply, Problem> {
        self.teller.tell(step, voice)?;
        if self.refused.is_none() {
            self.refusals = 0;
        }
        self.is_typed = false;
        let told = Step {
            prompt: step.prompt.clone(),
            refused: self.refused.take(),
            ..*step
        };
        if self.send(&told).is_err() {
            return Ok(Reply::Left(self.gone()));
        }
        let mut line = String::new();
        match self.from.read_line(&mut line) {
            Ok(0) | Err(_) => return Ok(Reply::Left(self.gone())),
            Ok(_) => {}
        }
        let answered: Answered = match serde_json::from_str(&line) {
            Ok(answered) => answered,
            Err(error) => {
                let message = format!(
                    "the answer {} is not understood: {error}; write {ANSWER_EXAMPLE}",
                    line.trim()
                );
                return Ok(self
                    .refuse(&message, voice)?
                    .map_or(Reply::Typed("\u{0}".to_owned()), Reply::Left));
            }
        };
        let reply = match answered {
            Answered { error: Some(error), .. } => {
                return Ok(Reply::Left(format!("the command of --through reports: {error}")));
            }
            Answered { undo: true, .. } => return Ok(Reply::Undo),
            Answered { stop: true, .. } => return Ok(Reply::Stop),
            Answered { person: true, .. } => {
                self.is_typed = true;
                return self.person.ask_of(step, None, voice);
            }
            Answered {
                reading: Some(value),
                load: Some(load),
                ..
            } if *action == Action::Read && value.is_finite() && load.is_finite() => Reply::Done(Report::Reading {
                value,
                load: Some(load),
            }),
            Answered {
                reading: Some(value), ..
            } => Reply::Typed(format!("{value:?}")),
            Answered { answer: Some(word), .. } => Reply::Typed(word),
            _ => Reply::Typed(String::new()),
        };
        Ok(reply)
    }

    fn took(&mut self, step: &Step, report: &Report, voice: &Voice) -> Result<(), Problem> {
        if self.is_typed {
            return Ok(());
        }
        self.teller.done(step, report, voice)
    }

    fn refuse(&mut self, message: &str, voice: &Voice) -> Result<Option<String>, Problem> {
        voice.say(&format!("  {message}"))?;
        self.refusals += 1;
        self.refused = Some(message.to_owned());
        Ok((self.refusals >= MOST_REFUSALS)
            .then(|| format!("the command of --through gave {MOST_REFUSALS} wrong answers; the last: {message}")))
    }

    fn waits_by_itself(&self) -> bool {
        false
    }

    fn end(&mut self, run: &Procedure, voice: &Voice) -> Result<(), Problem> {
        self.teller.end(voice)?;
        if run.outcome().is_some() {
            // Nobody is harmed where it listens no longer.
            let _ = self.send(&run.prompt());
        }
        self.to = None;
        let _ = self.child.wait();
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use elbowroom::bring_up::Answer;

    #[test]
    fn no_answer_has_the_word_of_a_command() {
        for answer in Answer::ALL {
            for command in [UNDO, ABORT, QUIT].into_iter().chain(HELP) {
                assert_ne!(answer.as_str(), command);
            }
        }
    }
}
