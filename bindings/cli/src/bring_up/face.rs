//! Who answers the steps of a bring-up: a person at the terminal, a command, or a virtual joint.

use super::Line;
use crate::paint::{number, strong};
use crate::problem::Problem;
use crate::voice::Voice;
use elbowroom::Code;
use elbowroom::bring_up::{Action, Bench, Prompt, Report};
use elbowroom::rehearsal::{Typist, VirtualJoint};
use serde::{Deserialize, Serialize};
use std::io::{BufRead as _, BufReader, Write as _};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};

/// A step as it is told: the prompt of the core, with what the servo is sent.
#[derive(Serialize)]
pub(crate) struct Step {
    step: u32,
    #[serde(flatten)]
    pub(crate) prompt: Prompt,
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
    pub(crate) fn of(number: u32, prompt: Prompt, line: &Line) -> Self {
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

    /// Tells what was wrong with an answer; gives a reason where it is not asked again.
    fn refuse(&mut self, message: &str, voice: &Voice) -> Result<Option<String>, Problem>;

    /// Whether waits need no answer.
    fn waits_by_itself(&self) -> bool;

    /// Tells the end.
    fn end(&mut self, _: &Bench) -> Result<(), Problem> {
        Ok(())
    }
}

/// Tells a stage, its cautions, and what contradicts the last answer.
///
/// Each caution is said once in a stage.
#[derive(Default)]
struct Teller {
    stage: &'static str,
    said: Vec<&'static str>,
}

impl Teller {
    fn tell(&mut self, step: &Step, voice: &Voice) -> Result<(), Problem> {
        let prompt = &step.prompt;
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
}

/// A person at the terminal.
pub(crate) struct Person {
    teller: Teller,
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
        voice.ask("  really end? what was typed stays saved; yes or no> ")?;
        let line = Self::line().ok().flatten().unwrap_or_default();
        Ok(["yes", "y"].iter().any(|yes| line.eq_ignore_ascii_case(yes)))
    }

    fn read(&mut self, step: &Step, voice: &Voice) -> Result<Reply, Problem> {
        let prompt = &step.prompt;
        if !self.is_told {
            self.is_told = true;
            voice.say(&format!(
                "{UNDO} takes the last answer back, {ABORT} ends the bring-up, {QUIT} leaves it to go on later, ? explains the answers"
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
        loop {
            let asked = match prompt.kind {
                "move-to" => "press Enter when it is there".to_owned(),
                "read" => format!("reading, or {}", words.join(", ")),
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
                            "ends the bring-up; the joint is not ready then, and the same command goes on where it ended",
                        ),
                        (QUIT, "leaves it; the same command goes on later"),
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
        self.read(step, voice)
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
    fn ask(&mut self, step: &Step, _: &Action, voice: &Voice) -> Result<Reply, Problem> {
        self.teller.tell(step, voice)?;
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
        let prompt = &step.prompt;
        let reply = match answered {
            Answered { error: Some(error), .. } => {
                return Ok(Reply::Left(format!("the command of --through reports: {error}")));
            }
            Answered { undo: true, .. } => return Ok(Reply::Undo),
            Answered { stop: true, .. } => return Ok(Reply::Stop),
            Answered { person: true, .. } => return self.person.read(step, voice),
            Answered {
                reading: Some(value), ..
            } => format!("{value:?}"),
            Answered { answer: Some(word), .. } => word,
            _ => String::new(),
        };
        match prompt.kind {
            "move-to" => voice.say(&format!("  {}", step.sent().unwrap_or_default()))?,
            "read" => voice.say(&format!("    reads {reply}"))?,
            "wait" => {}
            _ => voice.say(&format!("  {} {}", prompt.sentence, strong(&reply)))?,
        }
        Ok(Reply::Typed(reply))
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

    fn end(&mut self, bench: &Bench) -> Result<(), Problem> {
        if bench.outcome().is_some() {
            // Nobody is harmed where it listens no longer.
            let _ = self.send(&bench.prompt());
        }
        self.to = None;
        let _ = self.child.wait();
        Ok(())
    }
}

/// A virtual joint with a person who types.
pub(crate) struct Virtual {
    pub(crate) joint: VirtualJoint,
    pub(crate) typist: Typist,
    teller: Teller,
}

impl Virtual {
    pub(crate) fn new(joint: VirtualJoint, typist: Typist) -> Self {
        Self {
            joint,
            typist,
            teller: Teller::default(),
        }
    }
}

impl Face for Virtual {
    fn ask(&mut self, step: &Step, action: &Action, voice: &Voice) -> Result<Reply, Problem> {
        self.teller.tell(step, voice)?;
        let Some(report) = self.typist.carry_out(action, &mut self.joint) else {
            return Ok(Reply::Stop);
        };
        match report {
            Report::Moved | Report::MovedTo { .. } => voice.say(&format!("  {}", step.sent().unwrap_or_default()))?,
            Report::Reading { value, .. } => voice.say(&format!("    reads {}", number(value, 1)))?,
            Report::Answered { answer } => {
                let said = strong(answer.as_str());
                voice.say(&format!("  {}", step.prompt.sentence))?;
                voice.say(&format!("    answer {said}"))?;
            }
            Report::Waited => {}
        }
        Ok(Reply::Done(report))
    }

    fn refuse(&mut self, message: &str, _: &Voice) -> Result<Option<String>, Problem> {
        Ok(Some(message.to_owned()))
    }

    fn waits_by_itself(&self) -> bool {
        false
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
