//! Joints driven behind play, with a sensor that scatters: stops that give way, more lost motion than the run-in, readings that scatter too
//! far for the step. Counted over draws, beside sound straight and bent joints that become ready.

use elbowroom::bring_up::{
    Action, Answer, Fault, Outcome, Question, Report, SensePlan, Session, SessionPlan, Verdict, Watch,
};
use rand::{RngExt as _, SeedableRng as _};
use rand_distr::{Distribution as _, Normal};
use rand_xorshift::XorShiftRng;
use std::collections::BTreeMap;

/// A joint between two stops; all angles in deg of drive.
struct Driven {
    rng: XorShiftRng,
    stops: [f64; 2],
    start: f64,
    drive: f64,
    joint: f64,
    /// How far the joint is behind its drive, either way.
    behind: f64,
    /// The part of the way that the joint follows beyond its stops.
    give: f64,
    noise: f64,
    /// What the sensor reads at the joint's place.
    reads: fn(f64, [f64; 2]) -> f64,
    /// How far the drive went beyond a stop.
    over: f64,
}

fn straight(at: f64, _: [f64; 2]) -> f64 {
    100.0 + 5.0 * at
}

/// A crank whose middle is that of the joint.
fn crank(at: f64, [lower, upper]: [f64; 2]) -> f64 {
    512.0 + 258.0 * (at - (lower + upper) / 2.0).to_radians().sin()
}

/// A sensor 1.5 deg off its axis, twelve times a turn.
fn off_axis(at: f64, stops: [f64; 2]) -> f64 {
    straight(at + 0.7 * (at * 6.0).to_radians().sin(), stops)
}

impl Driven {
    fn drawn(seed: u64) -> Self {
        let mut rng = XorShiftRng::seed_from_u64(seed);
        let lower = rng.random_range(20.0..60.0);
        let upper = lower + rng.random_range(50.0..100.0);
        let start = rng.random_range(lower + 16.0..upper - 16.0);
        Self {
            rng,
            stops: [lower, upper],
            start,
            drive: start,
            joint: start,
            behind: 0.4,
            give: 0.0,
            noise: 1.0,
            reads: straight,
            over: 0.0,
        }
    }

    fn go(&mut self, drive: f64) {
        let [lower, upper] = self.stops;
        let least = lower - self.give * (lower - drive).max(0.0);
        let most = upper + self.give * (drive - upper).max(0.0);
        let pulled = self.joint.clamp(drive - self.behind, drive + self.behind);
        self.joint = pulled.clamp(least, most);
        self.drive = drive;
        self.over = self.over.max(drive - upper).max(lower - drive);
    }

    fn answer(&mut self, question: Question) -> Answer {
        let [lower, upper] = self.stops;
        match question {
            Question::TurnSensor { toward, degrees } => {
                let wanted = self.joint + toward.sign() * degrees;
                self.joint = wanted.clamp(lower, upper);
                if self.joint == wanted {
                    Answer::Done
                } else {
                    Answer::AtStop
                }
            }
            Question::AttachDrive => {
                (self.drive, self.joint) = (self.start, self.start);
                Answer::Done
            }
            Question::WhatIsMet { .. } if self.joint > lower + 0.01 && self.joint < upper - 0.01 => Answer::Nothing,
            Question::WhatIsMet { .. } => Answer::Stop,
            Question::WhatMoved { .. } => Answer::Joint,
            _ => Answer::Done,
        }
    }

    fn outcome(&mut self) -> Outcome {
        let sense = SensePlan::default().with_watch(Watch::SensorOnly);
        let mut session = Session::new(SessionPlan::new(self.start, [2.0, 178.0]).with_sense(sense)).unwrap();
        for _ in 0..20_000 {
            let report = match session.next() {
                Action::MoveTo { drive, .. } => {
                    self.go(drive);
                    Report::Moved
                }
                Action::Wait { .. } => Report::Waited,
                Action::Read => {
                    let noise = Normal::new(0.0, self.noise).unwrap().sample(&mut self.rng);
                    let value = ((self.reads)(self.joint, self.stops) + noise)
                        .round()
                        .clamp(0.0, 1023.0);
                    Report::Reading { value, load: None }
                }
                Action::Ask { question, .. } => Report::Answered {
                    answer: self.answer(question),
                },
                _ => return session.outcome().unwrap().clone(),
            };
            session.report(report).unwrap();
        }
        panic!("it does not end");
    }
}

/// How often each verdict came, by name.
type Verdicts = BTreeMap<&'static str, u32>;

/// The verdicts, and how far the travels of joints that were ready went beyond a stop, deg, of those that did.
fn counted(name: &str, draws: u64, of: impl Fn(&mut Driven)) -> (Verdicts, Vec<f64>) {
    let (mut verdicts, mut beyond) = (Verdicts::new(), Vec::new());
    for seed in 0..draws {
        let mut joint = Driven::drawn(seed);
        of(&mut joint);
        let outcome = joint.outcome();
        let told = match outcome.verdict {
            Verdict::Ready => "ready",
            Verdict::Faulty { fault, .. } => fault.as_str(),
            _ => "other",
        };
        *verdicts.entry(told).or_insert(0) += 1;
        let [lower, upper] = joint.stops;
        let past = outcome.travel().map(|[a, b]| (lower - a).max(b - upper));
        beyond.extend(past.filter(|past| *past > 0.0));
    }
    eprintln!("{name}: {verdicts:?} of {draws}, ready with a travel beyond a stop: {beyond:.2?} deg");
    (verdicts, beyond)
}

fn of(verdicts: &Verdicts, name: &str) -> u32 {
    verdicts.get(name).copied().unwrap_or(0)
}

#[test]
fn a_joint_that_gives_way_behind_its_stops_does_not_become_ready_beyond_them() {
    let beyond = [0.5, 0.6, 0.7].map(|give| {
        let (_, beyond) = counted(&format!("gives way by {give}"), 120, |joint| joint.give = give);
        beyond
    });
    // Where a stop that gives by half is found, it is placed where the search felt it, a step further out at the most.
    for beyond in beyond {
        assert!(beyond.len() <= 5 && beyond.iter().all(|past| *past < 2.5), "{beyond:?}");
    }
}

#[test]
fn sound_joints_become_ready_bent_or_straight() {
    for (name, reads) in [
        ("straight", straight as fn(f64, [f64; 2]) -> f64),
        ("crank", crank),
        ("sensor off its axis", off_axis),
    ] {
        for behind in [0.4, 1.5] {
            let (verdicts, beyond) = counted(&format!("{name}, behind {behind}"), 60, |joint| {
                (joint.reads, joint.behind) = (reads, behind);
            });
            assert!(
                of(&verdicts, "ready") >= 57 && beyond.is_empty(),
                "{name}: {verdicts:?}"
            );
        }
    }
}

#[test]
fn an_open_wiper_is_none_where_the_sensor_followed_the_hand() {
    let (verdicts, _) = counted("lost motion of 10.8 deg", 60, |joint| joint.behind = 5.4);
    assert!(of(&verdicts, Fault::LostMotion.as_str()) >= 57, "{verdicts:?}");
    assert_eq!(of(&verdicts, Fault::WiperOpen.as_str()), 0, "{verdicts:?}");
    let (verdicts, _) = counted("lost motion of 8 deg", 60, |joint| joint.behind = 4.0);
    assert_eq!(of(&verdicts, Fault::WiperOpen.as_str()), 0, "{verdicts:?}");
    let (verdicts, _) = counted("noise of 5 counts", 60, |joint| joint.noise = 5.0);
    let noisy = of(&verdicts, Fault::WiperNoisy.as_str()) + of(&verdicts, Fault::TooCoarse.as_str());
    assert_eq!(noisy, 60, "{verdicts:?}");
    // A reading that hardly moves for all lost motion names it and the remedy.
    let mut joint = Driven::drawn(1);
    joint.behind = 5.4;
    let told = joint.outcome().verdict.to_string();
    assert!(
        told.contains("the lost motion is larger than the run-in; tighten"),
        "{told}"
    );
}
