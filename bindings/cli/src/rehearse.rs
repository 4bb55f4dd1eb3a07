//! `rehearse`: the front end of `bring-up` before a virtual joint.

use crate::args::RehearseArgs;
use crate::bring_up::{self as front, Hand, Procedure, Shown, Taken, Told, Truth, Virtual};
use crate::edit::measured_on;
use crate::outcome::{Outcome, is_json_wanted};
use crate::paint::strong;
use crate::problem::Problem;
use crate::voice::Voice;
use elbowroom::Code;
use elbowroom::bring_up::{self, Bench, BenchPlan, Fault, Session, Side, Verdict, Watch};
use elbowroom::rehearsal::{BenchKind, BenchRehearsal, Person, Rehearsal, Typist, VirtualJoint};
use elbowroom::robot::{Date, EntryRecord, Robot};
use serde::Serialize;
use std::fmt::Write as _;
use std::path::Path;

#[derive(Serialize)]
struct Rehearsed<'a> {
    joint: Option<&'a str>,
    seed: u64,
    fault: Option<&'static str>,
    /// Whether many readings were swept, and not a few typed.
    sweep: bool,
    finished: bool,
    steps: Vec<Told>,
    readings: Vec<Taken>,
    travel: Option<[f64; 2]>,
    true_contacts: [f64; 2],
    /// The end whose contact is with an obstacle before the stop.
    obstacle: Option<&'static str>,
    outcome: Option<&'a bring_up::Outcome>,
    written_into: Option<String>,
}

/// The numbers of a virtual joint never take the place of those of a real one.
fn refuse_measured(record: &EntryRecord, path: &Path) -> Result<(), Problem> {
    if !record.evidence.is_measured() {
        return Ok(());
    }
    let on = measured_on(record);
    let message = format!(
        "joint {} of {} was measured{on}; a rehearsal does not replace measured numbers: rehearse without --write, or in a copy of the file \
         whose joint has no evidence (elbowroom edit COPY unset {}.evidence)",
        record.name,
        path.display(),
        record.name
    );
    Err(Problem::new(Code::OptionOutside, message))
}

pub(crate) fn run(args: &RehearseArgs, is_json: bool) -> Result<Outcome, Problem> {
    let mut robot = args.robot.as_ref().map(Robot::load).transpose()?;
    let name = args.joint.as_deref();
    let fault = args.fault.map(|fault| fault.0);
    if let (true, Some(robot), Some(name), Some(path)) = (args.write, &robot, name, &args.robot) {
        refuse_measured(&robot.expect_joint(name)?.record(), path)?;
    }
    let (joint, mut run) = prepared(args, robot.as_ref(), fault)?;
    let record = joint.record().joint.record();
    let line = front::Line::new(record.servo, record.timer)?;
    let hand = if args.sweep {
        Hand::Person(Person::checked(args.wrong_answer_rate, args.seed)?)
    } else {
        // The same check of the part.
        Person::checked(args.wrong_answer_rate, args.seed)?;
        Hand::Typist(Typist::new(0.0, args.wrong_answer_rate, None, args.seed))
    };
    let voice = Voice::new(is_json);
    let mut face: Box<dyn front::Face> = if args.by_hand {
        Box::new(Shown::new(joint, hand))
    } else {
        Box::new(Virtual::new(joint, hand))
    };
    let mut steps = Vec::new();
    let left = front::drive(
        &mut run,
        face.as_mut(),
        &line,
        &voice,
        |_| Ok(()),
        |told| {
            if is_json_wanted() {
                steps.push(told);
            }
        },
    )?;
    let joint = face
        .virtual_joint()
        .ok_or_else(|| Problem::new(Code::Other, "the rehearsal has lost its joint"))?;
    // As they are at the end: something may have come in the way meanwhile.
    let truths = Truth::of(joint);
    let mut text = String::new();
    match (run.outcome(), left) {
        (Some(outcome), _) => {
            front::picture(&mut text, &run, outcome, &truths);
            front::conclude(&mut text, outcome, Some(truths), None);
            if let (Some(fault), Verdict::Ready, false) = (fault, outcome.verdict, args.sweep) {
                let _ = writeln!(
                    text,
                    "{} was not found: few typed readings do not show this fault of this joint; rehearse it with --sweep",
                    fault.as_str()
                );
            }
        }
        (None, reason) => {
            let reason = reason.unwrap_or_default();
            let _ = writeln!(text, "\n{}: {reason}; a rehearsal is not saved", strong("not finished"));
        }
    }
    let mut written_into = None;
    if args.write
        && let (Some(robot), Some(name), Some(path)) = (&mut robot, name, &args.robot)
        && let Some(outcome) = run.outcome()
    {
        let mut record = robot.expect_joint(name)?.record();
        if record.put_rehearsal(outcome, Date::today()) {
            robot.put(&record).map_err(|error| error.without_place())?;
            let saved = robot.save_keeping(path)?;
            let _ = writeln!(
                text,
                "numbers of a rehearsal written into {} and marked as such; the check reports them until the joint itself is measured",
                path.display()
            );
            text.push_str(&crate::output::kept(&saved));
            written_into = Some(path.display().to_string());
        }
    }
    let object = Rehearsed {
        joint: name,
        seed: args.seed,
        fault: fault.map(Fault::as_str),
        sweep: args.sweep,
        finished: run.outcome().is_some(),
        steps,
        readings: run.readings(),
        travel: run.outcome().and_then(bring_up::Outcome::travel),
        true_contacts: truths.map(|truth| truth.at),
        obstacle: joint.obstacle().map(Side::as_str),
        outcome: run.outcome(),
        written_into,
    };
    let found = run.outcome().is_none_or(|outcome| outcome.verdict != Verdict::Ready);
    Outcome::new(text, &object, found)
}

/// The virtual joint, and the procedure before its first step.
fn prepared(
    args: &RehearseArgs,
    robot: Option<&Robot>,
    fault: Option<Fault>,
) -> Result<(VirtualJoint, Procedure), Problem> {
    let rehearsal = match (robot, args.joint.as_deref(), fault) {
        (Some(robot), Some(name), _) => Rehearsal::of_joint(robot.expect_joint(name)?.joint(), fault, args.seed)?,
        (_, _, Some(fault)) => Rehearsal::faulty(fault, args.seed)?,
        _ if args.sweep => Rehearsal::healthy(args.seed)?,
        _ => {
            let drawn = BenchRehearsal::drawn(BenchKind::Steep, Watch::SensorOnly, false, args.seed)?;
            return Ok((drawn.joint, Procedure::Bench(Box::new(Bench::new(drawn.plan)?))));
        }
    };
    if !args.sweep {
        let Rehearsal { joint, plan } = rehearsal;
        let mut bench = BenchPlan::new(plan.start, plan.search_limits);
        bench.watch = joint.record().watch;
        return Ok((joint, Procedure::Bench(Box::new(Bench::new(bench)?))));
    }
    let Rehearsal { joint, mut plan } = if args.alignment {
        rehearsal.with_alignment()?
    } else {
        rehearsal
    };
    if let (Some(alignment), Some(margin)) = (&mut plan.alignment, args.margin) {
        alignment.margin = margin;
    }
    Ok((joint, Procedure::sweep(Session::new(plan)?)))
}
