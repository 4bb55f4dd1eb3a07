//! `bring-up`: from loose parts to a joint in the robot file. A person types readings, or a command answers.
//!
//! `rehearse` is the same front end before a virtual joint.

mod face;
mod plan;
mod procedure;
mod record;
mod saved;
mod told;
mod virtual_face;

pub(crate) use face::Face;
use face::{Person, Program, Reply, Step};
pub(crate) use procedure::{Procedure, Taken, Told};
pub(crate) use told::{Truth, conclude, picture};
pub(crate) use virtual_face::{Hand, Shown, Virtual};

use crate::args::BringUpArgs;
use crate::outcome::Outcome;
use crate::output;
use crate::paint::strong;
use crate::plot::{FitPicture, MARK};
use crate::problem::Problem;
use crate::voice::Voice;
use elbowroom::bring_up::{self, Report as Reported, Verdict};
use elbowroom::fit::{Approach, Readings};
use elbowroom::{Servo, ServoRecord, Timer, TimerRecord};
use record::Decision;
use saved::Saved;
use serde::Serialize;
use std::fmt::Write as _;
use std::io::Write as _;
use std::path::Path;

/// Where a joint is brought up: what turns drive angles into pulses.
pub(crate) struct Line {
    pub(crate) servo: Servo<f64>,
    pub(crate) timer: Timer<f64>,
}

impl Line {
    pub(crate) fn new(servo: ServoRecord<f64>, timer: TimerRecord<f64>) -> Result<Self, Problem> {
        Ok(Self {
            servo: Servo::new(servo.angle, servo.pulse_us)?,
            timer: Timer::new(timer.frame_hz, timer.counts_per_frame)?,
        })
    }
}

#[derive(Serialize)]
struct Report<'a> {
    file: String,
    joint: &'a str,
    finished: bool,
    /// Where an unfinished bring-up waits.
    #[serde(skip_serializing_if = "Option::is_none")]
    saved_in: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    reason: Option<String>,
    readings: Vec<Taken>,
    outcome: Option<&'a bring_up::Outcome>,
    travel: Option<[f64; 2]>,
    /// What was decided of the joint in the file, and why.
    decision: Option<&'static str>,
    sentences: Vec<String>,
    written_into: Option<String>,
    readings_in: Option<String>,
}

pub(crate) fn run(args: &BringUpArgs, is_json: bool) -> Result<Outcome, Problem> {
    let voice = Voice::new(is_json);
    let name = args.joint.as_str();
    let mut robot = plan::open(args)?;
    let (servo, timer) = plan::numbers(args, &robot)?;
    let line = Line::new(servo, timer)?;
    let (begun, assumed) = plan::procedure(args, &robot, &line)?;
    let state = args
        .state
        .clone()
        .unwrap_or_else(|| saved::usual_place(&args.file, name));
    let mut run = match Saved::read(&state)? {
        Some(saved) if !args.restart => {
            let run = saved.take_up(&state, name, &begun, args.has_plan())?;
            let count = run.readings().len();
            let words = format!(
                "continuing the bring-up saved in {}: {count} reading{} so far",
                state.display(),
                if count == 1 { "" } else { "s" }
            );
            voice.say(&words)?;
            voice.say("  --restart begins from the start\n")?;
            run
        }
        _ => begun,
    };
    run.resume();
    let mut face: Box<dyn Face> = match &args.through {
        Some(command) => Box::new(Program::start(command, assumed)?),
        None => Box::new(Person::new(assumed)),
    };
    tell_on_interrupt(&state, args);
    let keep = |run: &Procedure| Saved::write(&state, name, run);
    keep(&run)?;
    let ended = drive(&mut run, face.as_mut(), &line, &voice, keep, |_| {})?;
    drop(face);

    let Some(outcome) = run.outcome() else {
        let reason = ended.unwrap_or_default();
        let text = format!(
            "\n{}: {reason}\nthe bring-up of {name} is saved in {}; {} continues it\n",
            strong("not finished"),
            state.display(),
            record::same_command(args)
        );
        let report = Report {
            file: args.file.display().to_string(),
            joint: name,
            finished: false,
            saved_in: Some(state.display().to_string()),
            reason: Some(reason),
            readings: run.readings(),
            outcome: None,
            travel: None,
            decision: None,
            sentences: Vec::new(),
            written_into: None,
            readings_in: None,
        };
        return Outcome::new(text, &report, true);
    };

    let mut text = String::new();
    picture(&mut text, &run, outcome, &[]);
    if let (Some(path), Some(fit)) = (&args.plot, &outcome.fit) {
        let told: Vec<Taken> = run
            .readings()
            .into_iter()
            .filter(|r| r.drive.is_some() && r.is_used)
            .collect();
        let drive: Vec<f64> = told.iter().filter_map(|reading| reading.drive).collect();
        let measured: Vec<f64> = told.iter().map(|reading| reading.value).collect();
        let approach: Vec<Approach> = told.iter().map(Taken::approach).collect();
        let picture = FitPicture {
            name,
            drive: &drive,
            measured: &measured,
            approach: Some(&approach),
            measured_unit: args.measured_unit(),
            fit,
            residuals: fit.residuals(&Readings::new(&drive, &measured).with_approach(&approach)),
            model: Box::new(|drive| fit.expected(drive)),
            knots: &[],
            words: None,
            choice: Vec::new(),
            pulse_us: None,
        };
        output::write(path, picture.draw("fit").as_bytes(), MARK.as_bytes())?;
        let _ = writeln!(text, "picture: {}", path.display());
    }
    let decision = Decision::of(args, &robot, outcome, servo, timer)?;
    let whose = decision
        .is_refused()
        .then(|| format!("joint {name} in {}", args.file.display()));
    conclude(&mut text, outcome, None, whose.as_deref());
    let mut readings_in = None;
    let mut written_into = None;
    if let Some(mut record) = decision.record {
        let table = record::write_readings(args, &run)?;
        record.evidence.source = Some(table.source);
        let old = robot.joint(name).map(|entry| entry.record());
        robot.put(&record).map_err(|error| error.without_place())?;
        let saved = robot.save_keeping(&args.file)?;
        text.push_str(&output::kept(&saved));
        let what = if old.is_none() { "added to" } else { "updated in" };
        let _ = writeln!(
            text,
            "{} {what} {}",
            strong(&format!("joint {name}")),
            args.file.display()
        );
        for change in old.map_or(Vec::new(), |old| crate::fit::changes(&old, &record)) {
            let _ = writeln!(text, "  {change}");
        }
        let _ = writeln!(text, "  readings     {}", table.path.display());
        text.push_str(&crate::check::assumed_note(&robot));
        let _ = writeln!(text, "next: elbowroom check {}", args.file.display());
        readings_in = Some(table.path.display().to_string());
        written_into = Some(args.file.display().to_string());
        Saved::remove(&state)?;
    } else {
        for sentence in &decision.sentences {
            let _ = writeln!(text, "  {sentence}");
        }
        text.push_str(&decision.remedy);
        if outcome.verdict == Verdict::Stopped {
            let _ = writeln!(
                text,
                "nothing was written; what was typed stays saved in {}: {} continues it, and undo there takes the last answer back; \
                 --restart begins from the start",
                state.display(),
                record::same_command(args)
            );
        } else if outcome.verdict != Verdict::Ready && run.readings().is_empty() {
            let _ = writeln!(text, "nothing was written; no reading was taken");
            Saved::remove(&state)?;
        } else if outcome.verdict != Verdict::Ready {
            let kept = record::write_readings(args, &run)?;
            let _ = writeln!(
                text,
                "nothing was written into {}; the readings are in {}",
                args.file.display(),
                kept.path.display()
            );
            readings_in = Some(kept.path.display().to_string());
            Saved::remove(&state)?;
        }
    }
    let report = Report {
        file: args.file.display().to_string(),
        joint: name,
        finished: true,
        saved_in: state.exists().then(|| state.display().to_string()),
        reason: None,
        readings: run.readings(),
        outcome: Some(outcome),
        travel: outcome.travel(),
        decision: decision.word,
        sentences: decision.sentences,
        written_into: written_into.clone(),
        readings_in,
    };
    Outcome::new(text, &report, written_into.is_none())
}

/// Goes through the procedure with whoever answers. Gives the reason where it was left unfinished.
pub(crate) fn drive(
    run: &mut Procedure,
    face: &mut dyn Face,
    line: &Line,
    voice: &Voice,
    keep: impl Fn(&Procedure) -> Result<(), Problem>,
    mut note: impl FnMut(Told),
) -> Result<Option<String>, Problem> {
    let left = answered(run, face, line, voice, keep, &mut note)?;
    face.end(run, voice)?;
    Ok(left)
}

fn answered(
    run: &mut Procedure,
    face: &mut dyn Face,
    line: &Line,
    voice: &Voice,
    keep: impl Fn(&Procedure) -> Result<(), Problem>,
    note: &mut impl FnMut(Told),
) -> Result<Option<String>, Problem> {
    let mut number = 0;
    // Where the drive was sent last: after an answer was taken back the procedure does not know it.
    let mut stands = None;
    while run.outcome().is_none() {
        let mut prompt = run.prompt();
        prompt.from = stands.unwrap_or(prompt.from);
        if prompt.kind == "wait" && face.waits_by_itself() {
            run.report(Reported::Waited)?;
            continue;
        }
        number += 1;
        let action = run.next();
        let step = Step::of(number, prompt, action, line);
        let report = match face.ask(&step, &action, voice)? {
            Reply::Typed(typed) => match run.parse(&typed) {
                Ok(report) => step.told(report),
                Err(error) => {
                    if let Some(reason) = face.refuse(&error.to_string(), voice)? {
                        return Ok(Some(reason));
                    }
                    continue;
                }
            },
            Reply::Done(report) => step.told(report),
            Reply::Undo => {
                if run.undo() {
                    voice.say("  taken back: the last answer")?;
                } else {
                    voice.say("  there is no answer to take back")?;
                }
                keep(run)?;
                continue;
            }
            Reply::Stop => {
                // What is saved ends before this, so that it can be taken up again.
                keep(run)?;
                run.stop();
                continue;
            }
            Reply::Left(reason) => return Ok(Some(reason)),
        };
        if let (Reported::Moved | Reported::MovedTo { .. }, Some(drive)) = (report, step.prompt.drive) {
            stands = Some(drive);
        }
        face.took(&step, &report, voice)?;
        run.report(report)?;
        note(Told::new(step.prompt.stage, action, report));
        // Of a sweep each place is saved, not each of its readings.
        if run.is_worth_saving(&action) {
            keep(run)?;
        }
    }
    Ok(None)
}

/// Exit status of a command that was left by Ctrl-C, as shells have it.
const INTERRUPTED: i32 = 130;

/// Says on Ctrl-C that nothing is lost. Every answer is saved as soon as it was given.
fn tell_on_interrupt(state: &Path, args: &BringUpArgs) {
    let words = format!(
        "\nsaved in {}; {} continues it",
        state.display(),
        record::same_command(args)
    );
    // Where the system takes no handler, the bring-up is saved all the same.
    let _ = ctrlc::set_handler(move || {
        let _ = writeln!(std::io::stderr(), "{words}");
        std::process::exit(INTERRUPTED)
    });
}
