//! Mistakes of the plan, hands at a stop, the angle really commanded, and what a bring-up leaves for the next one: by a joint in a few lines,
//! whose numbers are invented.

use elbowroom::bring_up::{
    Action, Answer, Baseline, Bracket, BracketPlan, Caution, Fault, Found, Outcome, Question, Report, SensePlan,
    Session, SessionPlan, Side, Verdict, Watch, teeth,
};
use elbowroom::fit::{EndKind, FitOptions, Readings, fit_limits};
use elbowroom::robot::{MapChoice, Refit, Robot};
use elbowroom::{Joint, JointRecord, ServoRecord, TimerRecord};

/// A joint between two stops with a sensor that reads by a line, without play and noise.
struct Bench {
    stops: [f64; 2],
    drive: f64,
    hand: f64,
    detached: bool,
    reading: fn(f64) -> f64,
    /// Whether the person says so where a stop keeps the hand from going further.
    tells_stop: bool,
    timer: Option<Joint<f64>>,
}

impl Bench {
    fn new(reading: fn(f64) -> f64) -> Self {
        Self {
            stops: [40.0, 120.0],
            drive: 79.5,
            hand: 79.5,
            detached: false,
            reading,
            tells_stop: true,
            timer: None,
        }
    }

    fn place(&self) -> f64 {
        let at = if self.detached { self.hand } else { self.drive };
        at.clamp(self.stops[0], self.stops[1])
    }

    fn answer(&mut self, question: Question) -> Answer {
        match question {
            Question::DetachDrive => (self.detached, self.hand) = (true, self.drive),
            Question::AttachDrive => self.detached = false,
            Question::TurnSensor { toward, degrees } => {
                let wanted = self.hand + toward.sign() * degrees;
                self.hand = wanted.clamp(self.stops[0], self.stops[1]);
                if self.hand != wanted && self.tells_stop {
                    return Answer::AtStop;
                }
            }
            Question::WhatIsMet { .. } => return Answer::Stop,
            Question::WhatMoved { .. } => return Answer::Joint,
            _ => {}
        }
        Answer::Done
    }

    fn bring_up(&mut self, plan: SessionPlan) -> Session {
        let mut session = Session::new(plan).unwrap();
        for _ in 0..20_000 {
            let report = match session.next() {
                Action::MoveTo { drive, .. } => match &self.timer {
                    Some(joint) => {
                        let (count, commanded) = joint.counts_from_drive(drive).unwrap();
                        assert!(!count.clamped.any());
                        self.drive = commanded;
                        Report::MovedTo { drive: commanded }
                    }
                    None => {
                        self.drive = drive;
                        Report::Moved
                    }
                },
                Action::Wait { .. } => Report::Waited,
                Action::Read => Report::Reading {
                    value: (self.reading)(self.place()),
                    load: None,
                },
                Action::Ask { question, .. } => Report::Answered {
                    answer: self.answer(question),
                },
                Action::Done => return session,
            };
            session.report(report).unwrap();
        }
        panic!("it does not end");
    }

    fn outcome(&mut self, plan: SessionPlan) -> Outcome {
        self.bring_up(plan).outcome().unwrap().clone()
    }
}

fn plan() -> SessionPlan {
    SessionPlan::new(79.5, [0.0, 180.0]).with_sense(SensePlan::default().with_watch(Watch::SensorOnly))
}

fn ten_bits(at: f64) -> f64 {
    (100.0 + 5.0 * at).round()
}

fn fault_of(outcome: &Outcome) -> (Fault, Option<f64>) {
    match outcome.verdict {
        Verdict::Faulty { fault, by, .. } => (fault, by),
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_reading_beyond_the_plans_range_names_the_entry_and_its_value() {
    let outcome = Bench::new(|at| (400.0 + 20.0 * at).round()).outcome(plan());
    assert_eq!(fault_of(&outcome), (Fault::PlanReadingRange, Some(4095.0)));
    assert!(
        outcome
            .verdict
            .to_string()
            .contains("sense.reading_range on that side to 4095")
    );
    // Below it: the reading itself.
    let outcome = Bench::new(|at| (-900.0 + 5.0 * at).round()).outcome(plan());
    assert!(matches!(fault_of(&outcome), (Fault::PlanReadingRange, Some(end)) if end < 0.0));
    // With the entry changed the joint is sound.
    let mut wide = plan();
    wide.sense.reading_range = [0.0, 4095.0];
    let outcome = Bench::new(|at| (400.0 + 20.0 * at).round()).outcome(wide);
    assert_eq!(outcome.verdict, Verdict::Ready);
}

#[test]
fn volts_where_counts_are_expected_are_told_as_such() {
    let volts = |at: f64| ((0.5 + 0.02 * at) * 1000.0).round() / 1000.0;
    let outcome = Bench::new(volts).outcome(plan());
    assert_eq!(fault_of(&outcome), (Fault::PlanInVolts, Some(3.3)));
    let said = outcome.verdict.to_string();
    assert!(said.contains("sense.reading_range to 0 and 3.3"), "{said}");
    let mut in_volts = plan();
    in_volts.sense.reading_range = [0.0, 3.3];
    in_volts.resolution = 0.001;
    assert_eq!(Bench::new(volts).outcome(in_volts).verdict, Verdict::Ready);
    // A wiper without contact is none of that: whole counts that do not follow the hand.
    let outcome = Bench::new(|_| 3.0).outcome(plan());
    assert_eq!(fault_of(&outcome).0, Fault::WiperOpen);
}

#[test]
fn a_step_too_short_for_sound_readings_is_named_and_not_the_sensor() {
    let mut fine = plan();
    (fine.step, fine.tolerance) = (0.1, 0.05);
    let outcome = Bench::new(ten_bits).outcome(fine);
    let (fault, Some(step)) = fault_of(&outcome) else {
        panic!("{outcome:?}")
    };
    assert_eq!(fault, Fault::TooCoarse);
    assert!(step > 0.1 && step < 2.5, "{step}");
    // The step named is enough, and a smaller one is not advised.
    let said = outcome.verdict.to_string();
    assert!(!said.contains("smaller"), "{said}");
    let (_, named) = said.split_once("make the step at least ").unwrap();
    fine.step = named.split(' ').next().unwrap().parse().unwrap();
    assert!(fine.step >= step);
    assert_eq!(Bench::new(ten_bits).outcome(fine).verdict, Verdict::Ready);
}

#[test]
fn a_narrow_joint_is_turned_by_less_where_the_hand_meets_its_stop() {
    for stops in [[60.0, 100.0], [65.0, 112.0], [40.0, 95.0]] {
        let mut bench = Bench::new(ten_bits);
        bench.stops = stops;
        let session = bench.bring_up(plan());
        let outcome = session.outcome().unwrap();
        assert_eq!(outcome.verdict, Verdict::Ready, "{stops:?}");
        assert!(session.plan().sense.turn < 15.0);
        let [lower, upper] = outcome.travel().unwrap();
        assert!(stops[0] < lower && upper < stops[1]);
    }
    // At a start right at its stop no turn is left.
    let mut bench = Bench::new(ten_bits);
    bench.stops = [79.0, 120.0];
    assert_eq!(fault_of(&bench.outcome(plan())).0, Fault::StartNotClear);
}

fn wing() -> Joint<f64> {
    let servo = ServoRecord {
        angle: [0.0, 180.0],
        pulse_us: [500.0, 2500.0],
    };
    let timer = TimerRecord {
        frame_hz: 50.0,
        counts_per_frame: 4096,
    };
    Joint::new(JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer)).unwrap()
}

#[test]
fn the_evidence_rests_on_the_angle_really_commanded() {
    let mut bench = Bench::new(|at| (100.0 + 5.0 * at).round());
    bench.timer = Some(wing());
    let session = bench.bring_up(plan());
    let outcome = session.outcome().unwrap();
    assert_eq!(outcome.verdict, Verdict::Ready);
    // Each reading lies at an angle that the timer can command.
    let joint = wing();
    for one in session.readings() {
        let (_, commanded) = joint.counts_from_drive(one.place.drive).unwrap();
        assert!((commanded - one.place.drive).abs() < 1e-9);
    }
    let fit = outcome.fit.as_ref().unwrap();
    assert!((fit.slope - 5.0).abs() < 0.02, "{}", fit.slope);
    for (end, stop) in [(outcome.lower.unwrap(), 40.0), (outcome.upper.unwrap(), 120.0)] {
        let [low, high] = end.interval.unwrap();
        assert!(low < stop && stop < high, "{end:?}");
    }
    // Taken up again anywhere, it says the same.
    let saved = serde_json::to_string(&session).unwrap();
    assert_eq!(serde_json::from_str::<Session>(&saved).unwrap(), session);
}

#[test]
fn an_angle_that_was_not_asked_is_refused() {
    let mut session = Session::new(plan()).unwrap();
    let mut bench = Bench::new(ten_bits);
    loop {
        let report = match session.next() {
            Action::MoveTo { drive, .. } => {
                let before = session.clone();
                for wrong in [drive + 1.5, drive - 1.5, f64::NAN] {
                    assert!(session.report(Report::MovedTo { drive: wrong }).is_err());
                }
                assert_eq!(session, before);
                return session.report(Report::MovedTo { drive: drive + 0.2 }).unwrap();
            }
            Action::Read => Report::Reading {
                value: ten_bits(bench.place()),
                load: None,
            },
            Action::Ask { question, .. } => Report::Answered {
                answer: bench.answer(question),
            },
            _ => Report::Waited,
        };
        session.report(report).unwrap();
    }
}

#[test]
fn what_a_bring_up_leaves_is_compared_with_the_next_one() {
    let outcome = Bench::new(ten_bits).outcome(plan());
    let known = Baseline::from_outcome(&outcome).unwrap();
    assert!((known.contacts[0].unwrap() - 40.0).abs() < 0.5 && (known.contacts[1].unwrap() - 120.0).abs() < 0.5);
    let mut again = plan();
    again.baseline = Some(known);
    assert_eq!(Bench::new(ten_bits).outcome(again).verdict, Verdict::Ready);
    let mut bent = Bench::new(ten_bits);
    bent.stops[1] = 115.0;
    assert_eq!(fault_of(&bent.outcome(again)).0, Fault::StopMoved);
    let declined = {
        let mut session = Session::new(plan()).unwrap();
        session.report(Report::Answered { answer: Answer::No }).unwrap();
        session.outcome().unwrap().clone()
    };
    assert_eq!(Baseline::from_outcome(&declined), None);
}

/// A stop gives a little while the drive presses on it, which the readings alone do not show.
#[test]
fn the_limits_written_down_are_those_of_the_outcome_and_stricter_than_the_readings_alone() {
    let outcome = Bench::new(ten_bits).outcome(plan());
    let (fit, limits) = (outcome.fit.clone().unwrap(), outcome.limits().unwrap());
    for (found, end, fitted) in [
        (outcome.lower.unwrap(), limits.lower, fit.lower),
        (outcome.upper.unwrap(), limits.upper, fit.upper),
    ] {
        assert_eq!((end.at, end.travel), (found.at, found.travel));
        assert_eq!((end.u, end.interval), (found.u, found.interval));
        assert!(end.u > fitted.u, "{end:?} {fitted:?}");
    }
    let [lower, upper] = limits.travel.unwrap();
    assert!(
        lower > fit.lower.travel && upper < fit.upper.travel,
        "{limits:?} {fit:?}"
    );
    assert_eq!([lower, upper], [limits.lower.travel, limits.upper.travel]);
}

#[test]
fn a_robot_file_tells_what_is_known_of_its_joint() {
    let text = r#"
format = 1
servo = { angle = [0, 180], pulse_us = [500, 2500] }
timer = { frame_hz = 50, counts_per_frame = 4096 }

[joint.wing]
command = [-40, 60]
drive = [37, 137]
rest = 10
feedback = { reading = [300, 800], angle = [-40, 60] }
evidence = { lower = { kind = "contact", at = 36.0, u = 0.1, guard = 1 }, upper = { kind = "clear", at = 138 } }

[joint.tail]
command = [-40, 60]
drive = [37, 122]
rest = 10
"#;
    let robot = Robot::parse(text).unwrap();
    let known = robot.joint("wing").unwrap().baseline().unwrap();
    assert_eq!(known.contacts, [Some(36.0), None]);
    // By hand: 500 readings over 100 deg of the joint and of the drive.
    assert!((known.per_deg - 5.0).abs() < 1e-9);
    assert!((known.reading - (300.0 + 5.0 * (known.at - 37.0))).abs() < 1e-9);
    assert_eq!(robot.joint("tail").unwrap().baseline(), None);
}

/// Where a caution says that the power goes off before hands go in, the step itself says so too.
#[test]
fn the_power_is_off_at_each_step_at_which_hands_go_in() {
    let toward = Side::Upper;
    for question in [
        Question::DetachDrive,
        Question::AttachDrive,
        Question::SetSensor {
            reading: 512.0,
            tolerance: 8.0,
        },
        Question::HoldAtStop { toward },
    ] {
        assert!(question.cautions().contains(&Caution::PowerOffToTouch), "{question}");
        assert!(question.to_string().contains("switch the power off"), "{question}");
    }
}

/// Volts that hardly move with the hand are a matter of the sensor, not of the plan.
#[test]
fn volts_that_stay_are_not_called_volts() {
    let outcome = Bench::new(|at| ((3.0 + 0.0005 * at) * 1000.0).round() / 1000.0).outcome(plan());
    assert_ne!(fault_of(&outcome).0, Fault::PlanInVolts);
}

#[test]
fn each_number_of_a_plan_is_refused_by_its_name() {
    let refused = |plan: SessionPlan| Session::new(plan).unwrap_err().to_string();
    for (plan, says) in [
        (
            plan().with_sweep_step(0.001),
            "sweep_step is 0.001; it must be at least",
        ),
        (plan().with_sweep_step(-1.0), "sweep_step is -1; it must be above zero"),
        (plan().with_step(-2.5), "step is -2.5; it must be above zero"),
        (plan().with_step(0.0), "step is 0; it must be above zero"),
        (plan().with_tolerance(3.0), "tolerance is 3; it must be at most"),
    ] {
        assert!(refused(plan).contains(says), "{}", refused(plan));
    }
    let bench = elbowroom::bring_up::BenchPlan::new(79.5, [0.0, 180.0]);
    for rate in [0.0, -20.0] {
        let refused = elbowroom::bring_up::Bench::new(bench.with_rate_per_s(rate)).unwrap_err();
        assert_eq!(
            refused.to_string(),
            format!("rate_per_s is {rate}; it must be above zero")
        );
    }
    let bracket = elbowroom::bring_up::BracketPlan::new(Side::Upper, 40.0, 80.0).with_step(-2.0);
    let refused = elbowroom::bring_up::Bracket::new(bracket).unwrap_err().to_string();
    assert_eq!(refused, "step is -2; it must be above zero");
}

/// What is handed over goes into the file: never further than what was found, by a thousandth at the most less.
#[test]
fn the_travel_found_is_written() {
    let outcome = Bench::new(ten_bits).outcome(plan());
    let limits = outcome.limits().unwrap();
    let mut record = elbowroom::robot::EntryRecord::new("wing", wing().record());
    // Without feedback in the file nothing says what its readings are at a command.
    let judged = record.put_bring_up(&outcome, &Refit::new(&limits), MapChoice::Judged, None);
    assert!(judged.unwrap().unrelated);
    let ([lower, upper], [found_lower, found_upper]) = (record.joint.travel.unwrap(), outcome.travel().unwrap());
    assert!((0.0..1.1e-3).contains(&(lower - found_lower)) && (0.0..1.1e-3).contains(&(found_upper - upper)));
    assert!(Bench::new(|_| 3.0).outcome(plan()).limits().is_none());
}

/// A joint that runs the other way round, or sits on another tooth, is written only when somebody chose what becomes of its map.
#[test]
fn a_bring_up_that_contradicts_the_joint_is_refused_unless_somebody_chooses() {
    let outcome = Bench::new(ten_bits).outcome(plan());
    let limits = outcome.limits().unwrap();
    let refit = Refit::new(&limits);
    let file = |reading: [f64; 2], inverted: bool| {
        let mut record = elbowroom::robot::EntryRecord::new("wing", wing().record());
        let mut feedback = elbowroom::FeedbackRecord::new(reading, record.joint.command);
        feedback.inverted = inverted;
        record.joint.feedback = Some(feedback);
        record
    };
    let ends = [37.0, 122.0].map(ten_bits);
    let mut right = file(ends, false);
    let judged = right.put_bring_up(&outcome, &refit, MapChoice::Judged, None).unwrap();
    assert!(!judged.unrelated && !judged.contradicts(), "{:?}", judged.sentences());
    assert!(right.evidence.map_off.is_none() && right.joint.travel.is_some());
    // Of a joint that is new to the file the sense alone is written beside its fit.
    let mut new = file(ends, false);
    new.put_sense(&outcome);
    assert_eq!(new.evidence.sense, right.evidence.sense);

    for (before, says) in [
        (
            file(ends, true),
            "commands fall with drive as measured, and rise in the file",
        ),
        (file(ends.map(|reading| reading + 72.0), false), "tooth of 25"),
    ] {
        let mut record = before.clone();
        let refused = record
            .put_bring_up(&outcome, &refit, MapChoice::Judged, None)
            .unwrap_err();
        assert_eq!(refused.code(), elbowroom::Code::MapContradicted);
        assert!(refused.to_string().contains(says), "{refused}");
        assert_eq!(record, before);

        let mut kept = before.clone();
        kept.put_bring_up(&outcome, &refit, MapChoice::Kept, None).unwrap();
        assert_eq!(
            (kept.joint.drive, kept.joint.inverted),
            (before.joint.drive, before.joint.inverted)
        );
        assert!(kept.evidence.map_off.is_some());
        let mut adopted = before.clone();
        adopted
            .put_bring_up(&outcome, &refit, MapChoice::Adopted, None)
            .unwrap();
        assert!(adopted.joint.inverted != before.joint.inverted || adopted.joint.drive != before.joint.drive);
        let again = adopted.judge_bring_up(&outcome, &refit).unwrap();
        assert!(!again.contradicts(), "{:?}", again.sentences());
    }
}

#[test]
fn a_baseline_stands_between_the_ends_of_its_fit() {
    let drive: Vec<f64> = (0..61).map(|step| 10.0 + 2.0 * f64::from(step)).collect();
    let wobble = |at: usize| [0.02, -0.03, 0.01, 0.0, -0.01][at % 5];
    let measured: Vec<f64> = drive
        .iter()
        .enumerate()
        .map(|(at, d)| 3.0 * d.clamp(30.0, 110.0) + wobble(at))
        .collect();
    let fit = fit_limits(&Readings::new(&drive, &measured), &FitOptions::default()).unwrap();
    assert_eq!((fit.lower.kind, fit.upper.kind), (EndKind::Contact, EndKind::Contact));
    let known = Baseline::from_fit(&fit);
    assert!((known.at - 70.0).abs() < 0.5, "{}", known.at);
    assert!((known.reading - 210.0).abs() < 1.5, "{}", known.reading);
    assert!((known.per_deg - 3.0).abs() < 0.01);
    assert!((known.contacts[0].unwrap() - 30.0).abs() < 0.5 && (known.contacts[1].unwrap() - 110.0).abs() < 0.5);
}

#[test]
fn teeth_are_counted_to_the_nearest_either_way() {
    for (shift, expected) in [
        (13.5, (1, 25)),
        (-13.5, (-1, 25)),
        (-30.0, (-2, 24)),
        (-45.0, (-3, 24)),
        (45.0, (3, 24)),
        (-14.5, (-1, 25)),
    ] {
        assert_eq!(teeth(shift), Some(expected), "{shift}");
    }
    for shift in [0.0, 1.9, -1.9, 7.0, -7.0, 7.9] {
        assert_eq!(teeth(shift), None, "{shift}");
    }
}

#[test]
fn probes_are_counted_one_by_one() {
    for toward in [Side::Upper, Side::Lower] {
        let sign = if toward == Side::Upper { 1.0 } else { -1.0 };
        let plan = BracketPlan::new(toward, 70.0, 70.0 + sign * 20.0).with_step(4.0);
        let mut search = Bracket::new(plan).unwrap();
        let mut count = 0;
        while let Some(angle) = search.probe() {
            assert_eq!(search.probes(), count);
            search
                .report(if sign * (angle - 70.0) > 10.3 {
                    Found::Contact
                } else {
                    Found::Clear
                })
                .unwrap();
            count += 1;
        }
        assert_eq!((search.probes(), count), (6, 6));
        assert!(search.most_probes() >= count);
    }
}

/// Asked whether the joint is free to move, people say yes.
#[test]
fn yes_and_no_are_answers_to_a_question_of_these() {
    let session = Session::new(SessionPlan::new(79.5, [0.0, 180.0])).unwrap();
    for (typed, answer) in [
        ("yes", Answer::Done),
        ("Y", Answer::Done),
        ("n", Answer::No),
        ("done", Answer::Done),
    ] {
        assert_eq!(session.parse(typed).unwrap(), Report::Answered { answer }, "{typed}");
    }
    assert!(session.parse("maybe").is_err());
}
