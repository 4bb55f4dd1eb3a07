//! `rehearse`: the bring-up against a virtual joint, step by step.

use crate::args::RehearseArgs;
use crate::bring_up as front;
use crate::letters::Letters;
use crate::outcome::Outcome;
use crate::paint::{number, strong};
use crate::problem::Problem;
use crate::voice::Voice;
use elbowroom::bring_up::{
    self, Action, AlignmentEnd, Answer, Bench, BenchPlan, BringUpError, Caution, EndFound, Question, Report, Session,
    Side, Verdict, Watch, teeth,
};
use elbowroom::look;
use elbowroom::rehearsal::{BenchKind, BenchRehearsal, Person, Rehearsal, Typist, VirtualJoint};
use elbowroom::robot::{Date, Evidence, Robot};
use elbowroom::{Code, Servo, Timer};
use serde::Serialize;
use std::fmt::Write as _;

/// One thing that was asked, and what came of it.
#[derive(Serialize)]
struct Step {
    stage: &'static str,
    action: Action,
    report: Report,
}

#[derive(Serialize)]
struct Rehearsed<'a> {
    joint: Option<&'a str>,
    seed: u64,
    fault: Option<&'static str>,
    steps: Vec<Step>,
    travel: Option<[f64; 2]>,
    true_contacts: [f64; 2],
    /// The end whose contact is with an obstacle before the stop.
    obstacle: Option<&'static str>,
    outcome: &'a bring_up::Outcome,
}

pub(crate) fn run(args: &RehearseArgs, is_json: bool) -> Result<Outcome, Problem> {
    if args.bench {
        return at_the_bench(args, is_json);
    }
    let mut robot = args.robot.as_ref().map(Robot::load).transpose()?;
    let name = args.joint.as_deref();
    let fault = args.fault.map(|f| f.0);
    let rehearsal = match (&robot, name) {
        (Some(robot), Some(name)) => Rehearsal::of_joint(robot.expect_joint(name)?.joint(), fault, args.seed)?,
        _ => match fault {
            Some(fault) => Rehearsal::faulty(fault, args.seed)?,
            None => Rehearsal::healthy(args.seed)?,
        },
    };
    let Rehearsal { mut joint, mut plan } = if args.alignment {
        rehearsal.with_alignment()?
    } else {
        rehearsal
    };
    if let (Some(alignment), Some(margin)) = (&mut plan.alignment, args.margin) {
        alignment.margin = margin;
    }
    let mut person = Person::new(args.wrong_answer_rate, args.seed);
    let mut session = Session::new(plan)?;
    let (mut steps, mut text, mut picture) = (Vec::new(), String::new(), Picture::default());
    let mut told = Teller::default();
    loop {
        let (stage, action) = (session.stage(), session.next());
        let Some(report) = person.carry_out(&action, &mut joint) else {
            break;
        };
        told.tell(&mut text, stage, &action, &report);
        picture.take(stage, &action, &report, joint.place() + joint.hand());
        session.report(report)?;
        steps.push(Step { stage, action, report });
    }
    let outcome = session
        .outcome()
        .ok_or_else(|| Problem::new(Code::Other, "the rehearsal ended without an outcome"))?;
    let true_contacts = joint.contacts();
    picture.draw(&mut text, &truths(&joint), outcome);
    conclude(&mut text, outcome, true_contacts);
    if args.write
        && let (Some(robot), Some(name), Some(path)) = (&mut robot, name, &args.robot)
    {
        let mut record = robot.expect_joint(name)?.record();
        if record.adopt(outcome, Date::today()) {
            record.evidence.instrument = Some(Evidence::VIRTUAL.to_owned());
            robot.put(&record)?;
            let saved = robot.save(path)?;
            let _ = writeln!(
                text,
                "numbers of a rehearsal written into {} and marked as such; the check reports them until the joint itself is measured",
                path.display()
            );
            text.push_str(&crate::output::kept(&saved));
        }
    }
    let found = outcome.verdict != Verdict::Ready;
    let object = Rehearsed {
        joint: name,
        seed: args.seed,
        fault: fault.map(bring_up::Fault::as_str),
        steps,
        travel: outcome.travel(),
        true_contacts,
        obstacle: joint.obstacle().map(Side::as_str),
        outcome,
    };
    Outcome::new(text, &object, found)
}

#[derive(Serialize)]
struct AtTheBench<'a> {
    joint: Option<&'a str>,
    seed: u64,
    readings: &'a [bring_up::BenchReading],
    travel: Option<[f64; 2]>,
    true_contacts: [f64; 2],
    /// The end whose contact is with an obstacle before the stop.
    obstacle: Option<&'static str>,
    outcome: Option<&'a bring_up::Outcome>,
}

/// The same front end as a bring-up, on a virtual joint whose readings are typed.
fn at_the_bench(args: &RehearseArgs, is_json: bool) -> Result<Outcome, Problem> {
    let robot = args.robot.as_ref().map(Robot::load).transpose()?;
    let name = args.joint.as_deref();
    let (joint, plan) = match (&robot, name) {
        (Some(robot), Some(name)) => {
            let real = robot.expect_joint(name)?.joint();
            let Rehearsal { joint, plan } = Rehearsal::of_joint(real, args.fault.map(|fault| fault.0), args.seed)?;
            let mut bench = BenchPlan::new(plan.start, real.servo().angle_range().ends());
            bench.watch = joint.record().watch;
            (joint, bench)
        }
        _ => {
            let drawn = BenchRehearsal::drawn(BenchKind::Steep, Watch::SensorOnly, false, args.seed)?;
            (drawn.joint, drawn.plan)
        }
    };
    let record = joint.record().joint.record();
    let line = front::Line {
        servo: Servo::new(record.servo.angle, record.servo.pulse_us)?,
        timer: Timer::new(record.timer.frame_hz, record.timer.counts_per_frame)?,
    };
    let typist = Typist::new(0.0, args.wrong_answer_rate, None, args.seed);
    let voice = Voice::new(is_json);
    let mut bench = Bench::new(plan)?;
    let mut face = front::Virtual::new(joint, typist);
    front::drive(&mut bench, &mut face, &line, &voice, |_| Ok(()))?;
    // As they are at the end: something may have come in the way meanwhile.
    let true_contacts = face.joint.contacts();
    let mut text = String::new();
    if let Some(outcome) = bench.outcome() {
        front::picture(&mut text, &bench, outcome, &truths(&face.joint));
        front::conclude(&mut text, outcome, Some(true_contacts));
    }
    let object = AtTheBench {
        joint: name,
        seed: args.seed,
        readings: bench.readings(),
        travel: bench.outcome().and_then(bring_up::Outcome::travel),
        true_contacts,
        obstacle: face.joint.obstacle().map(Side::as_str),
        outcome: bench.outcome(),
    };
    let found = bench.outcome().is_none_or(|outcome| outcome.verdict != Verdict::Ready);
    Outcome::new(text, &object, found)
}

/// Tells the procedure: every question, and each run of moves and readings in one line.
#[derive(Default)]
struct Teller {
    stage: &'static str,
    said: Vec<String>,
    /// Whether the last line can take readings at its end.
    reads: bool,
}

impl Teller {
    fn tell(&mut self, text: &mut String, stage: &'static str, action: &Action, report: &Report) {
        if self.stage != stage {
            self.stage = stage;
            let _ = writeln!(text, "\n{}", strong(stage));
        }
        match (action, report) {
            (Action::Ask { question, doubt }, Report::Answered { answer }) => {
                for caution in question.cautions() {
                    let is_hands_in = *caution == Caution::PowerOffToTouch;
                    let caution = caution.to_string();
                    // Repeated at each step at which hands go in.
                    if is_hands_in || !self.said.contains(&caution) {
                        let _ = writeln!(text, "  caution: {caution}");
                        self.said.push(caution);
                    }
                }
                if let Some(doubt) = doubt {
                    let _ = writeln!(text, "  {doubt}");
                }
                let said = match answer {
                    Answer::Angle { degrees } => format!("{} deg", number(*degrees, 1)),
                    word => word.as_str().to_owned(),
                };
                let _ = writeln!(text, "  {question}\n    answer {}", strong(&said));
                self.reads = false;
            }
            (Action::MoveTo { drive, .. }, _) => {
                let _ = write!(text, "  move to {:>7} deg", number(*drive, 2));
                // A move that nothing is read after ends its line by the next one.
                text.push('\n');
                self.reads = true;
            }
            (Action::Read, Report::Reading { value, .. }) => {
                // The reading belongs to the line of its move.
                if self.reads && text.ends_with('\n') {
                    text.pop();
                } else {
                    text.push_str("    reads");
                }
                self.reads = true;
                let _ = writeln!(text, " {}", number(*value, 0));
            }
            _ => {}
        }
    }
}

/// Where the virtual joint has its contact at one end, and with what.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Truth {
    pub(crate) at: f64,
    /// It is no stop that is met there.
    is_obstacle: bool,
}

impl Truth {
    pub(crate) const fn letter(self) -> char {
        if self.is_obstacle { '!' } else { '|' }
    }

    const fn words(self) -> &'static str {
        if self.is_obstacle {
            look::OBSTACLE.text
        } else {
            look::CONTACT.text
        }
    }
}

/// The true contacts of a virtual joint.
pub(crate) fn truths(joint: &VirtualJoint) -> [Truth; 2] {
    let [lower, upper] = joint.contacts();
    let truth = |at, side| Truth {
        at,
        is_obstacle: joint.obstacle() == Some(side),
    };
    [truth(lower, Side::Lower), truth(upper, Side::Upper)]
}

/// What of it stands in a picture's legend.
pub(crate) fn truth_words(truths: &[Truth]) -> String {
    let mut words = String::new();
    for (index, truth) in truths.iter().enumerate() {
        if truths
            .iter()
            .take(index)
            .all(|earlier| earlier.letter() != truth.letter())
        {
            let _ = write!(words, ", {} {}", truth.letter(), truth.words());
        }
    }
    words
}

/// Readings over drive angles, as a picture of letters.
#[derive(Default)]
struct Picture {
    at: f64,
    letters: Letters,
    /// Those of the alignment, on top of the many of the sweep.
    alignment: Vec<(f64, f64)>,
}

impl Picture {
    /// Takes what was done; `held` is where a hand holds the joint, while its drive is off.
    fn take(&mut self, stage: &str, action: &Action, report: &Report, held: f64) {
        match (action, report) {
            // A sensor that is set reads otherwise: what it read before belongs to no picture.
            (
                Action::Ask {
                    question: Question::SetSensor { .. },
                    ..
                },
                _,
            ) => {
                self.letters.clear_points();
                self.alignment.clear();
            }
            (Action::Read, Report::Reading { value, .. }) if stage == "alignment" => {
                self.alignment.push((held, *value));
            }
            (Action::MoveTo { drive, .. }, _) => self.at = *drive,
            (Action::Read, Report::Reading { value, .. }) if stage != "sense test" => {
                let letter = match stage {
                    "search" => 'o',
                    "sweep" => '.',
                    _ => '+',
                };
                self.letters.point(self.at, *value, letter);
            }
            _ => {}
        }
    }

    fn draw(mut self, text: &mut String, truths: &[Truth], outcome: &bring_up::Outcome) {
        for (x, y) in self.alignment {
            self.letters.point(x, y, 'a');
        }
        for truth in truths {
            self.letters.upright(truth.at, truth.letter());
        }
        for travel in outcome.travel().into_iter().flatten() {
            self.letters.upright(travel, ':');
        }
        let legend = format!(
            "drive angle, deg; {}+ first move, o search, . sweep{}, : travel",
            if outcome.alignment.is_some() {
                "a alignment, "
            } else {
                ""
            },
            truth_words(truths)
        );
        self.letters.draw(text, &legend);
    }
}

/// How the alignment stands, in one line.
fn tell_index(text: &mut String, end: AlignmentEnd) {
    let spare = |[lower, upper]: [f64; 2]| format!("{} and {} deg spare", number(lower, 1), number(upper, 1));
    let told = match end {
        AlignmentEnd::Set {
            joint_angle,
            reading,
            spare: both,
            settings,
        } => format!(
            "{} at joint angle {} deg: reads {}, {} beyond the stops",
            if settings == 0 { "stood right" } else { "set" },
            number(joint_angle, 1),
            number(reading, 0),
            spare(both)
        ),
        AlignmentEnd::TooShort { spare } => {
            format!(
                "the sensor is too short: {} deg spare beyond each stop at the best",
                number(spare, 1)
            )
        }
        AlignmentEnd::NotSet { spare: both } => format!("asked for three times and not set: {}", spare(both)),
        AlignmentEnd::NotAtStop { joint_angle, by } => format!(
            "joint angle {} deg is {} deg from the nearer stop's",
            number(joint_angle, 1),
            number(by, 1)
        ),
        _ => return,
    };
    let _ = writeln!(text, "alignment: {told}");
}

fn conclude(text: &mut String, outcome: &bring_up::Outcome, contacts: [f64; 2]) {
    let _ = writeln!(text);
    if let Some(end) = outcome.alignment {
        tell_index(text, end);
    }
    match outcome.verdict {
        Verdict::Ready => {
            let _ = writeln!(text, "{}", strong("ready for software"));
        }
        Verdict::Faulty { fault, at, by } => {
            let _ = writeln!(text, "{} {}", strong(fault.as_str()), outcome.verdict);
            if let Some(at) = at {
                let _ = writeln!(text, "  near drive angle {} deg", number(at, 1));
            }
            if let (bring_up::Fault::HornSlipped, Some(by)) = (fault, by)
                && let Some((slipped, round)) = teeth(by)
            {
                let _ = writeln!(text, "  by {} deg: {slipped} of {round} teeth", number(by, 1));
            }
        }
        Verdict::Declined => {
            let _ = writeln!(text, "declined: nothing moved");
        }
        _ => {
            let _ = writeln!(text, "stopped: not ready for software");
        }
    }
    let mut end = |name: &str, found: Option<EndFound>, contact: f64| {
        if let Some(found) = found {
            let _ = writeln!(
                text,
                "{name}: {} at {} deg{} (standard uncertainty {}; true value {}), travel to {} deg",
                found.kind.as_str(),
                number(found.at, 2),
                found
                    .short_at
                    .map_or(String::new(), |short| format!(", short at {}", number(short, 2))),
                found.u.map_or("-".to_owned(), |u| number(u, 2)),
                number(contact, 2),
                number(found.travel, 2)
            );
        }
    };
    let [lower, upper] = contacts;
    end("lower", outcome.lower, lower);
    end("upper", outcome.upper, upper);
}

impl From<BringUpError> for Problem {
    fn from(error: BringUpError) -> Self {
        Self::new(error.code(), error.to_string())
    }
}
