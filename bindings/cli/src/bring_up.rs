//! `bring-up`: from loose parts to a joint in the robot file, with typed readings. A person types them, or a command answers.

mod face;
mod record;
mod saved;

pub(crate) use face::{Face, Person, Reply, Step, Virtual};

use crate::args::BringUpArgs;
use crate::letters::Letters;
use crate::outcome::Outcome;
use crate::output;
use crate::paint::{number, strong};
use crate::plot::{FitPicture, MARK};
use crate::problem::Problem;
use crate::rehearse::{Truth, truth_words};
use crate::voice::Voice;
use elbowroom::bring_up::{self, Bench, BenchPlan, BenchReading, EndFound, Report as Told, Verdict, Watch};
use elbowroom::fit::{Approach, Readings};
use elbowroom::robot::Robot;
use elbowroom::{Code, Servo, ServoRecord, Timer, TimerRecord};
use face::Program;
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
    readings: &'a [BenchReading],
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
    let mut robot = open(args)?;
    let (servo, timer) = numbers(args, &robot)?;
    let line = Line {
        servo: Servo::new(servo.angle, servo.pulse_us)?,
        timer: Timer::new(timer.frame_hz, timer.counts_per_frame)?,
    };
    let plan = plan(args, &robot, &line)?;
    let assumed = assumed_place(args, &plan, &line);
    let state = args
        .state
        .clone()
        .unwrap_or_else(|| saved::usual_place(&args.file, name));
    let mut bench = match Saved::read(&state)? {
        Some(saved) if !args.restart => {
            let bench = saved.take_up(&state, name, &plan, args.has_plan())?;
            let typed = bench.readings().len();
            let words = format!(
                "going on with the bring-up saved in {}: {typed} reading{} typed",
                state.display(),
                if typed == 1 { "" } else { "s" }
            );
            voice.say(&words)?;
            voice.say("  --restart begins from the start\n")?;
            bench
        }
        _ => Bench::new(plan)?,
    };
    bench.resume();
    let mut face: Box<dyn Face> = match &args.through {
        Some(command) => Box::new(Program::start(command, assumed)?),
        None => Box::new(Person::new(assumed)),
    };
    tell_on_interrupt(&state);
    let keep = |bench: &Bench| Saved::write(&state, name, bench);
    keep(&bench)?;
    let ended = drive(&mut bench, face.as_mut(), &line, &voice, keep)?;
    face.end(&bench)?;
    drop(face);

    let Some(outcome) = bench.outcome() else {
        let reason = ended.unwrap_or_default();
        let text = format!(
            "\n{}: {reason}\nthe bring-up of {name} is saved in {}; the same command goes on with it\n",
            strong("not finished"),
            state.display()
        );
        let report = Report {
            file: args.file.display().to_string(),
            joint: name,
            finished: false,
            saved_in: Some(state.display().to_string()),
            reason: Some(reason),
            readings: bench.readings(),
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
    picture(&mut text, &bench, outcome, &[]);
    conclude(&mut text, outcome, None);
    if let (Some(path), Some(fit)) = (&args.plot, &outcome.fit) {
        let told: Vec<&BenchReading> = bench
            .readings()
            .iter()
            .filter(|r| r.drive.is_some() && r.is_used)
            .collect();
        let drive: Vec<f64> = told.iter().filter_map(|reading| reading.drive).collect();
        let measured: Vec<f64> = told.iter().map(|reading| reading.value).collect();
        let approach: Vec<Approach> = told.iter().map(|reading| record::approach(reading)).collect();
        let picture = FitPicture {
            name,
            drive: &drive,
            measured: &measured,
            approach: Some(&approach),
            measured_unit: &args.measured_unit,
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
    let mut readings_in = None;
    let mut written_into = None;
    if let Some(mut record) = decision.record {
        let table = record::write_readings(args, &bench)?;
        record.evidence.source = Some(table.source);
        let old = robot.joint(name).map(|entry| entry.record());
        robot.put(&record)?;
        let saved = robot.save(&args.file)?;
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
        if !decision.sentences.is_empty() {
            let file = args.file.display();
            let _ = writeln!(
                text,
                "{} the readings contradict {file}",
                strong(&format!("joint {name}:"))
            );
        }
        for sentence in &decision.sentences {
            let _ = writeln!(text, "  {sentence}");
        }
        text.push_str(decision.remedy);
        if outcome.verdict == Verdict::Stopped {
            let _ = writeln!(
                text,
                "nothing was written; what was typed stays saved in {}: the same command goes on with it, and undo there takes the last \
                 answer back; --restart begins from the start",
                state.display()
            );
        } else if outcome.verdict != Verdict::Ready {
            let kept = record::write_readings(args, &bench)?;
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
        readings: bench.readings(),
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
    bench: &mut Bench,
    face: &mut dyn Face,
    line: &Line,
    voice: &Voice,
    keep: impl Fn(&Bench) -> Result<(), Problem>,
) -> Result<Option<String>, Problem> {
    let mut number = 0;
    // Where the drive was sent last: after an answer was taken back the procedure does not know it.
    let mut stands = None;
    while bench.outcome().is_none() {
        let mut prompt = bench.prompt();
        prompt.from = stands.unwrap_or(prompt.from);
        if prompt.kind == "wait" && face.waits_by_itself() {
            bench.report(Told::Waited)?;
            keep(bench)?;
            continue;
        }
        number += 1;
        let step = Step::of(number, prompt, line);
        let report = match face.ask(&step, &bench.next(), voice)? {
            Reply::Typed(typed) => match bench.parse(&typed) {
                Ok(report) => step.told(report),
                Err(error) => {
                    if let Some(reason) = face.refuse(&error.to_string(), voice)? {
                        return Ok(Some(reason));
                    }
                    continue;
                }
            },
            Reply::Done(report) => report,
            Reply::Undo => {
                if bench.undo() {
                    voice.say("  taken back: the last answer")?;
                } else {
                    voice.say("  nothing to take back: no answer was given")?;
                }
                keep(bench)?;
                continue;
            }
            Reply::Stop => {
                // What is saved ends before this, so that it can be taken up again.
                keep(bench)?;
                bench.stop();
                continue;
            }
            Reply::Left(reason) => return Ok(Some(reason)),
        };
        if let (Told::Moved | Told::MovedTo { .. }, Some(drive)) = (report, step.prompt.drive) {
            stands = Some(drive);
        }
        bench.report(report)?;
        keep(bench)?;
    }
    Ok(None)
}

/// Exit status of a command that was left by Ctrl-C, as shells have it.
const INTERRUPTED: i32 = 130;

/// Says on Ctrl-C that nothing is lost. Every answer is saved as soon as it was given.
fn tell_on_interrupt(state: &Path) {
    let words = format!("\nsaved in {}; the same command goes on with it", state.display());
    // Where the system takes no handler, the bring-up is saved all the same.
    let _ = ctrlc::set_handler(move || {
        let _ = writeln!(std::io::stderr(), "{words}");
        std::process::exit(INTERRUPTED)
    });
}

/// What is taken for granted of where the servo stands, unless it was given.
fn assumed_place(args: &BringUpArgs, plan: &BenchPlan, line: &Line) -> Option<String> {
    if args.start.is_some() && args.clearance.is_some() {
        return None;
    }
    let pulse = line.servo.pulse_us(plan.start);
    Some(format!(
        "It is assumed that the servo stands at {} deg ({} us) and is free to move {} deg to both sides. If not: answer no, then give \
         --start and --clearance.",
        number(plan.start, 2),
        number(pulse, 0),
        number(plan.clearance, 2)
    ))
}

/// The robot that the joint goes into.
fn open(args: &BringUpArgs) -> Result<Robot, Problem> {
    let (path, name) = (&args.file, &args.joint);
    let robot = match Robot::load(path) {
        Ok(robot) => robot,
        Err(_) if args.new && !path.exists() => {
            let stem = path.file_stem().unwrap_or_default().to_string_lossy();
            Robot::new(&stem)?
        }
        Err(error) if !path.exists() => {
            return Err(Problem {
                message: format!("{error}; --new makes it"),
                ..error.into()
            });
        }
        Err(error) => return Err(error.into()),
    };
    if let (Err(error), false) = (robot.expect_joint(name), args.new) {
        let problem = Problem::from(error);
        return Err(Problem {
            message: format!("{}: {}; --new adds it", path.display(), problem.message),
            file: Some(path.display().to_string()),
            ..problem
        });
    }
    if robot.joint(name).is_some() && args.new {
        let message = format!("{}: joint {name} is there already; leave --new out", path.display());
        return Err(Problem::new(Code::OptionOutside, message));
    }
    Ok(robot)
}

/// Servo and timer of the joint: its own, else those given or of the file.
fn numbers(args: &BringUpArgs, robot: &Robot) -> Result<(ServoRecord<f64>, TimerRecord<f64>), Problem> {
    if let Some(entry) = robot.joint(&args.joint) {
        let record = entry.joint().record();
        return Ok((record.servo, record.timer));
    }
    let servo = match (args.servo_angle, args.servo_pulse_us, robot.servo()) {
        (Some(angle), Some(pulse_us), _) => ServoRecord {
            angle: angle.0,
            pulse_us: pulse_us.0,
        },
        (None, None, Some(servo)) => servo,
        _ => {
            // A motor is about to run by these numbers.
            let message = format!(
                "nothing says which pulse widths the servo of {} takes; give --servo-angle 0,180 --servo-pulse-us 500,2500 as its data \
                 sheet says",
                args.joint
            );
            return Err(Problem::new(Code::MissingKey, message));
        }
    };
    let timer = match (
        args.frame_hz,
        args.counts_per_frame,
        robot.timer(args.fresh.board.as_deref()),
    ) {
        (Some(frame_hz), Some(counts_per_frame), _) => TimerRecord {
            frame_hz,
            counts_per_frame,
        },
        (None, None, Some(timer)) => timer,
        _ => {
            let message = format!(
                "nothing says which timer makes the pulses of {}; give --frame-hz 50 --counts-per-frame 4096 as its board has them",
                args.joint
            );
            return Err(Problem::new(Code::MissingKey, message));
        }
    };
    Ok((servo, timer))
}

/// The plan that was asked for: from the middle of the travel, or of the servo.
fn plan(args: &BringUpArgs, robot: &Robot, line: &Line) -> Result<BenchPlan, Problem> {
    let range = line.servo.angle_range();
    let middle = match robot.joint(&args.joint) {
        Some(entry) => {
            let travel = entry.joint().travel();
            travel.lower() + travel.width() / 2.0
        }
        None => range.lower() + range.width() / 2.0,
    };
    let mut plan = BenchPlan::new(
        args.start.unwrap_or(middle),
        args.search_limits.map_or(range.ends(), |pair| pair.0),
    );
    if args.feel_stops {
        plan = plan.with_stops_felt();
    }
    plan = plan.with_resolution(args.resolution.unwrap_or(plan.resolution));
    if args.sense {
        plan.watch = Watch::SensorAndDrive;
    }
    plan.clearance = args.clearance.unwrap_or(plan.clearance);
    plan.overtravel = args.overtravel.unwrap_or(plan.overtravel);
    plan.guard = args.guard.unwrap_or(plan.guard);
    plan.tolerance = args.tolerance.unwrap_or(plan.tolerance);
    plan.rate_per_s = args.rate.unwrap_or(plan.rate_per_s);
    Ok(plan)
}

/// Readings over drive angles, as letters.
pub(crate) fn picture(text: &mut String, bench: &Bench, outcome: &bring_up::Outcome, truths: &[Truth]) {
    let mut letters = Letters::default();
    for reading in bench.readings() {
        if let Some(drive) = reading.drive {
            let mark = match (reading.is_used, record::approach(reading)) {
                (false, _) => 'x',
                (_, Approach::Below) => '+',
                _ => '-',
            };
            letters.point(drive, reading.value, mark);
        }
    }
    for truth in truths {
        letters.upright(truth.at, truth.letter());
    }
    for travel in outcome.travel().into_iter().flatten() {
        letters.upright(travel, ':');
    }
    let truth = truth_words(truths);
    let legend = format!("drive angle, deg; + from below, - from above, x not believed{truth}, : travel");
    letters.draw(text, &legend);
}

/// The verdict, and both ends.
pub(crate) fn conclude(text: &mut String, outcome: &bring_up::Outcome, contacts: Option<[f64; 2]>) {
    let _ = writeln!(text);
    match outcome.verdict {
        Verdict::Ready => {
            let _ = writeln!(text, "{}: {}", strong("ready"), outcome.verdict);
        }
        Verdict::Faulty { fault, at, .. } => {
            let near = at.map_or(String::new(), |at| format!(", near drive angle {} deg", number(at, 1)));
            let _ = writeln!(text, "{}: {}{near}", strong(fault.as_str()), outcome.verdict);
        }
        _ => {
            let _ = writeln!(text, "{}", outcome.verdict);
        }
    }
    let mut end = |name: &str, found: Option<EndFound>, contact: Option<f64>| {
        let Some(found) = found else { return };
        let u = found.u.map_or(String::new(), |u| format!(", u {} deg", number(u, 2)));
        let truth = contact.map_or(String::new(), |contact| format!(", true value {}", number(contact, 2)));
        let _ = writeln!(
            text,
            "{name}: {} at {} deg{u}{truth}; travel to {} deg",
            found.kind.as_str(),
            number(found.at, 2),
            number(found.travel, 2)
        );
    };
    end("lower", outcome.lower, contacts.map(|[lower, _]| lower));
    end("upper", outcome.upper, contacts.map(|[_, upper]| upper));
}
