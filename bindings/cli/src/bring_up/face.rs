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
/// Each caution is said whole once in a stage, and its word at every later step that needs it.
#[derive(Default)]
struct Teller {
    stage: &'static str,
    said: Vec<&'static str>,
    last: Vec<&'static str>,
}

impl Teller {
    fn tell(&mut self, step: &Step, voice: &Voice, repeats: bool) -> Result<(), Problem> {
        let prompt = &step.prompt;
        if self.stage != prompt.stage {
            self.stage = prompt.stage;
            self.said.clear();
            voice.say(&format!("\n{}", strong(prompt.stage)))?;
        }
        let codes: Vec<&'static str> = prompt.cautions.iter().map(|caution| caution.code).collect();
        let mut again = Vec::new();
        for caution in &prompt.cautions {
            if self.said.contains(&caution.code) {
                again.push(caution.code.replace('-', " "));
            } else {
                voice.say(&format!("  caution: {}", caution.sentence))?;
                self.said.push(caution.code);
            }
        }
        if repeats && !again.is_empty() && codes != self.last {
            voice.say(&format!("  caution as before: {}", again.join("; ")))?;
        }
        self.last = codes;
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
}

impl Person {
    pub(crate) fn new(_: &Voice) -> Self {
        Self {
            teller: Teller::default(),
            is_told: false,
        }
    }

    fn read(&mut self, step: &Step, voice: &Voice) -> Result<Reply, Problem> {
        let prompt = &step.prompt;
        if !self.is_told {
            self.is_told = true;
            voice.say("undo takes the last answer back, stop ends the bring-up, quit leaves it to go on later, ? explains the answers")?;
        }
        self.teller.tell(step, voice, true)?;
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
        loop {
            let asked = match prompt.kind {
                "move-to" => "Enter when it is there".to_owned(),
                "read" => format!("reading, or {}", words.join(", ")),
                _ => words.join(", "),
            };
            voice.ask(&format!("  {asked}> "))?;
            let mut line = String::new();
            let read = std::io::stdin().lock().read_line(&mut line);
            match read {
                Ok(0) => return Ok(Reply::Left("the input ended".to_owned())),
                Ok(_) => {}
                Err(error) => return Ok(Reply::Left(format!("the input cannot be read: {error}"))),
            }
            return Ok(match line.trim() {
                "undo" => Reply::Undo,
                "stop" => Reply::Stop,
                "quit" => Reply::Left("left by quit".to_owned()),
                "?" | "help" => {
                    for answer in &prompt.answers {
                        voice.say(&format!("    {:<12} {}", answer.word, answer.meaning))?;
                    }
                    voice.say("    undo         takes the last answer back")?;
                    voice.say("    stop         ends the bring-up; the joint is not ready then")?;
                    voice.say("    quit         leaves it; the same command goes on later")?;
                    continue;
                }
                typed => Reply::Typed(typed.to_owned()),
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
    pub(crate) fn start(command: &str, voice: &Voice) -> Result<Self, Problem> {
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
            person: Person::new(voice),
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
        self.teller.tell(step, voice, false)?;
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
        self.teller.tell(step, voice, false)?;
        let Some(report) = self.typist.carry_out(action, &mut self.joint) else {
            return Ok(Reply::Stop);
        };
        match report {
            Report::Moved | Report::MovedTo { .. } => voice.say(&format!("  {}", step.sent().unwrap_or_default()))?,
            Report::Reading { value, .. } => voice.say(&format!("    reads {}", number(value, 1)))?,
            Report::Answered { answer } => {
                let said = strong(answer.as_str());
                voice.say(&format!("  {} {said}", step.prompt.sentence))?;
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
