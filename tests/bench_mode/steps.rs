//! One bring-up step by step: saved, taken back, asked again, refused.

use elbowroom::bring_up::{
    Action, Answer, Bench, BenchPlan, Caution, Doubt, Fault, Question, Report, SenseReason, Side, Verdict, Watch,
};
use elbowroom::fit::EndKind;
use elbowroom::rehearsal::{BenchKind, BenchRehearsal, Rehearsal, Typist, VirtualJoint};

/// A bring-up in progress with its joint and person.
struct Run {
    bench: Bench,
    joint: VirtualJoint,
    typist: Typist,
}

fn begin(feel_stops: bool, watch: Watch, seed: u64) -> Run {
    let BenchRehearsal { joint, plan, late, .. } =
        BenchRehearsal::drawn(BenchKind::Steep, watch, feel_stops, seed).unwrap();
    Run {
        bench: Bench::new(plan).unwrap(),
        joint,
        typist: Typist::new(0.0, 0.0, late, seed),
    }
}

impl Run {
    /// One step; whether there was one.
    fn step(&mut self) -> bool {
        let action = self.bench.next();
        match self.typist.carry_out(&action, &mut self.joint) {
            Some(report) => {
                self.bench.report(report).unwrap();
                true
            }
            None => false,
        }
    }
}

#[test]
fn saved_at_any_step_it_goes_on_as_if_it_had_not_been() {
    for (feel_stops, watch) in [(false, Watch::SensorOnly), (true, Watch::SensorAndDrive)] {
        let mut run = begin(feel_stops, watch, 4);
        loop {
            let text = serde_json::to_string(&run.bench).unwrap();
            let read: Bench = serde_json::from_str(&text).unwrap();
            assert_eq!(read, run.bench);
            assert_eq!(read.next(), run.bench.next());
            assert_eq!(
                serde_json::to_string(&read.prompt()).unwrap(),
                serde_json::to_string(&run.bench.prompt()).unwrap()
            );
            run.bench = read;
            if !run.step() {
                break;
            }
        }
        assert_eq!(run.bench.outcome().unwrap().verdict, Verdict::Ready);
        let fit = run.bench.outcome().unwrap().fit.as_ref().unwrap();
        assert_eq!(fit.travel, run.bench.outcome().unwrap().travel());
        assert_eq!([fit.lower.kind, fit.upper.kind], [EndKind::Contact; 2]);
    }
}

#[test]
fn a_state_that_could_not_have_been_written_is_refused() {
    let mut run = begin(false, Watch::SensorOnly, 5);
    for _ in 0..30 {
        run.step();
    }
    let text = serde_json::to_string(&run.bench).unwrap();
    let moved: serde_json::Value = serde_json::from_str(&text).unwrap();
    let change = |of: &dyn Fn(&mut serde_json::Value)| {
        let mut value = moved.clone();
        of(&mut value);
        serde_json::from_value::<Bench>(value).map_err(|e| e.to_string())
    };
    assert!(change(&|_| {}).is_ok());
    let index = moved["log"]
        .as_array()
        .unwrap()
        .iter()
        .position(|e| e.get("moved").is_some())
        .unwrap();
    assert!(
        change(&|v| v["log"][index]["moved"]["drive"] = 150.0.into())
            .unwrap_err()
            .contains("150")
    );
    assert!(change(&|v| v["format"] = 9.into()).unwrap_err().contains("format is 9"));
    assert!(change(&|v| v["plan"]["overtravel"] = 500.0.into()).is_err());
    assert!(change(&|v| v["plan"]["overtravel"] = 4.0.into()).is_err());
    assert!(change(&|v| v["extra"] = 1.into()).is_err());
    assert!(change(&|v| v["log"].as_array_mut().unwrap().insert(0, serde_json::json!("waited"))).is_err());
    assert!(change(&|v| v["procedure"] = "session".into()).is_err());
    assert!(
        change(&|v| {
            v["log"].as_array_mut().unwrap().push(serde_json::json!("stopped"));
        })
        .is_ok()
    );
    assert!(
        change(&|v| {
            let log = v["log"].as_array_mut().unwrap();
            log.push(serde_json::json!("stopped"));
            log.push(serde_json::json!("waited"));
        })
        .is_err()
    );
}

#[test]
fn an_undo_goes_inward_and_comes_again() {
    let mut run = begin(false, Watch::SensorOnly, 7);
    // Into the search, right before a reading.
    while run.bench.stage() != "search" || run.bench.readings().len() < 8 || run.bench.next() != Action::Read {
        assert!(run.step());
    }
    let (before, place) = (run.bench.readings().to_vec(), run.bench.prompt().drive.unwrap());
    let saved = run.bench.clone();
    assert!(run.step());
    // One further step outward, and back.
    while run.bench.next() != Action::Read {
        run.step();
    }
    let further = run.bench.prompt().drive.unwrap();
    assert!(run.bench.undo());
    assert_eq!(run.bench.readings(), before);
    let Action::MoveTo { drive: inward, .. } = run.bench.next() else {
        panic!("{:?}", run.bench.next())
    };
    assert!(
        (inward - place).abs() >= run.bench.plan().run_in - 1e-9,
        "{inward} {place} {further}"
    );
    assert!((inward - run.bench.plan().start) * (place - inward) >= 0.0 || inward > run.bench.plan().start - 90.0);
    // Only out there the drive may press on a stop.
    assert!(!run.bench.cautions().contains(&Caution::MayPress));
    // A saved undo comes back as one.
    let text = serde_json::to_string(&run.bench).unwrap();
    assert_eq!(serde_json::from_str::<Bench>(&text).unwrap(), run.bench);
    run.step();
    let Action::MoveTo { drive: out, .. } = run.bench.next() else {
        panic!("{:?}", run.bench.next())
    };
    assert_eq!(out, place);
    assert!(run.bench.cautions().contains(&Caution::MayPress));
    run.step();
    assert_eq!(run.bench.next(), Action::Read);
    assert_eq!(run.bench, saved);
    while run.step() {}
    assert_eq!(run.bench.outcome().unwrap().verdict, Verdict::Ready);
}

#[test]
fn an_undo_of_what_hands_did_detaches_the_drive_again() {
    let mut run = begin(true, Watch::SensorOnly, 9);
    while run.bench.readings().len() < 4 || run.bench.next() != Action::Read {
        run.step();
    }
    // Four by hand; the first with the drive on comes next. Back by one: all that hands did.
    assert!(run.bench.undo());
    let Action::MoveTo { drive, .. } = run.bench.next() else {
        panic!("{:?}", run.bench.next())
    };
    assert_eq!(drive, run.bench.plan().start);
    run.step();
    assert!(matches!(
        run.bench.next(),
        Action::Ask {
            question: Question::DetachDrive,
            ..
        }
    ));
    let prompt = run.bench.prompt();
    assert!(
        prompt.cautions.iter().any(|c| c.code == "power-off-to-touch"),
        "{prompt:?}"
    );
    while run.bench.undo() {}
    assert!(matches!(
        run.bench.next(),
        Action::Ask {
            question: Question::Ready,
            ..
        }
    ));
    while run.step() {}
    assert_eq!(run.bench.outcome().unwrap().verdict, Verdict::Ready);
}

#[test]
fn a_reading_in_doubt_is_taken_again() {
    let mut run = begin(false, Watch::SensorOnly, 11);
    while run.bench.readings().len() < 6 || run.bench.next() != Action::Read {
        run.step();
    }
    let place = run.bench.prompt().drive.unwrap();
    let again = run.bench.parse("again").unwrap();
    run.bench.report(again).unwrap();
    let Action::MoveTo { drive, .. } = run.bench.next() else {
        panic!("{:?}", run.bench.next())
    };
    assert!((drive - place).abs() > 1.0);
    run.step();
    run.step();
    while run.bench.next() != Action::Read {
        run.step();
    }
    assert_eq!(run.bench.prompt().drive, Some(place));
    // A slip of the pen is asked for again at once, and the one before is not looked at.
    let typed = run.joint.read() + 40.0;
    assert_eq!(run.bench.notice(), None);
    run.bench
        .report(Report::Reading {
            value: typed,
            load: None,
        })
        .unwrap();
    let prompt = run.bench.prompt();
    assert_eq!(prompt.kind, "read");
    assert!(prompt.notice.unwrap().contains("without looking"), "asked again");
    assert_eq!(run.bench.notice(), Some(Doubt::Unexpected));
    run.step();
    let first = run.bench.readings().iter().position(|r| r.value == typed).unwrap();
    while run.step() {}
    assert!(!run.bench.readings()[first].is_used);
    assert_eq!(run.bench.outcome().unwrap().verdict, Verdict::Ready);
}

#[test]
fn a_wrong_answer_lists_the_answers_of_its_question_only() {
    let mut bench = Bench::new(BenchPlan::new(79.5, [0.0, 180.0])).unwrap();
    let error = bench.parse("maybe").unwrap_err().to_string();
    assert_eq!(error, "that is not one of the answers; type one of: done or no");
    let error = bench
        .report(Report::Answered { answer: Answer::Stop })
        .unwrap_err()
        .to_string();
    assert_eq!(error, "stop is not an answer to ready; answer done or no");
    bench.report(bench.parse(" Done ").unwrap()).unwrap();
    assert!(
        bench
            .parse("12")
            .unwrap_err()
            .to_string()
            .ends_with("type done when it is there")
    );
    for _ in 0..3 {
        let report = bench.parse("").unwrap();
        bench.report(report).unwrap();
        if bench.next() == Action::Read {
            break;
        }
    }
    while bench.next() != Action::Read {
        bench.report(bench.parse("").unwrap()).unwrap();
    }
    assert_eq!(
        bench.parse("12,5").unwrap(),
        Report::Reading {
            value: 12.5,
            load: None
        }
    );
    assert!(bench.parse("twelve").unwrap_err().to_string().contains("again"));
    assert!(bench.parse("nan").is_err() && bench.parse("").is_err());
}

#[test]
fn cautions_stand_before_every_step_that_needs_one() {
    let mut run = begin(true, Watch::SensorAndDrive, 13);
    let mut seen = Vec::new();
    loop {
        let prompt = run.bench.prompt();
        let codes: Vec<&str> = prompt.cautions.iter().map(|c| c.code).collect();
        match prompt.question {
            Some("detach-drive" | "attach-drive" | "hold-at-stop") => {
                assert!(codes.contains(&"power-off-to-touch"), "{prompt:?}");
            }
            Some("turn-from-mark") => assert!(codes.contains(&"drive-may-run"), "{prompt:?}"),
            Some("ready") => assert!(codes.contains(&"not-a-safety-function"), "{prompt:?}"),
            _ => {}
        }
        if prompt.kind == "move-to" {
            assert!(codes.contains(&"nobody-in-reach"), "{prompt:?}");
            if !seen.contains(&"move-to") {
                assert!(codes.contains(&"first-move-slow"), "{prompt:?}");
            }
        }
        // One plain sentence: no full stop within.
        let inner = prompt.sentence.trim_end_matches('.');
        assert!(!inner.contains(". "), "{}", prompt.sentence);
        seen.push(prompt.kind);
        if !run.step() {
            break;
        }
    }
}

/// The two readings of a stop that agree count; the third, a slip, counts nowhere.
#[test]
fn a_slip_at_a_stop_felt_by_hand_is_left_out() {
    let mut run = begin(true, Watch::SensorOnly, 4);
    while run.bench.next() != Action::Read {
        run.step();
    }
    let held = run.bench.prompt().drive;
    let Some(Report::Reading { value, .. }) = run.typist.carry_out(&Action::Read, &mut run.joint) else {
        panic!("a reading")
    };
    let slip = value + 40.0;
    run.bench
        .report(Report::Reading {
            value: slip,
            load: None,
        })
        .unwrap();
    while run.step() {}
    assert_eq!(run.bench.outcome().unwrap().verdict, Verdict::Ready);
    let by_hand: Vec<_> = run.bench.readings().iter().filter(|r| r.drive.is_none()).collect();
    assert_eq!(
        (held, by_hand.len()),
        (None, 5),
        "each stop twice, and the first once more"
    );
    for reading in by_hand {
        assert_eq!(reading.is_used, reading.value != slip, "{reading:?}");
    }
}

#[test]
fn stopped_it_is_over_until_that_is_taken_back() {
    let mut run = begin(false, Watch::SensorOnly, 15);
    for _ in 0..20 {
        run.step();
    }
    let next = run.bench.next();
    run.bench.stop();
    assert_eq!(run.bench.outcome().unwrap().verdict, Verdict::Stopped);
    assert_eq!(run.bench.next(), Action::Done);
    assert!(run.bench.undo());
    assert_ne!(run.bench.next(), Action::Done);
    let _ = next;
    run.bench.resume();
    assert!(matches!(run.bench.next(), Action::MoveTo { .. }));
    while run.step() {}
    assert_eq!(run.bench.outcome().unwrap().verdict, Verdict::Ready);
}

#[test]
fn a_plan_says_what_cannot_be_meant() {
    let plan = BenchPlan::new(79.5, [0.0, 180.0]);
    assert_eq!((plan.overtravel, plan.with_stops_felt().overtravel), (5.0, 8.0));
    assert!(plan.with_stops_felt().feel_stops);
    let finer = plan.with_resolution(0.1);
    assert!((finer.u_reading * 10.0 - plan.u_reading).abs() < 1e-12);
    let refused = |change: &dyn Fn(&mut BenchPlan)| {
        let mut plan = plan;
        change(&mut plan);
        Bench::new(plan).unwrap_err().to_string()
    };
    assert!(refused(&|p| p.start = 3.0).contains("start is 3"));
    assert!(refused(&|p| p.overtravel = f64::NAN).contains("overtravel"));
    assert!(refused(&|p| p.u_reading = 0.1).contains("u_reading"));
    assert!(refused(&|p| p.search_limits = [180.0, 0.0]).contains("search_limits"));
    assert!(
        refused(&|p| p.search_limits = [0.0, 721.0]).contains("width of search_limits is 721"),
        "more than two turns"
    );
    Bench::new(BenchPlan::new(79.5, [0.0, 720.0])).unwrap();
    assert!(refused(&|p| p.most_readings = 3).contains("most_readings"));
    for rate in [0.0, -30.0, f64::NAN, f64::INFINITY] {
        assert!(refused(&|p| p.rate_per_s = rate).contains("rate_per_s"), "{rate}");
    }
    for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        let mut bench = Bench::new(plan).unwrap();
        bench.report(Report::Answered { answer: Answer::Done }).unwrap();
        while bench.next() != Action::Read {
            let report = bench.parse("").unwrap();
            bench.report(report).unwrap();
        }
        let before = bench.clone();
        assert!(bench.report(Report::Reading { value, load: None }).is_err());
        assert_eq!(bench, before);
    }
}

/// A joint whose reading never changes, whatever is done.
#[test]
fn a_reading_that_stays_is_asked_about_and_named() {
    for (answers, fault) in [
        (vec![Answer::Neighbour], "channel-swapped"),
        (vec![Answer::DriveOnly], "gear-stripped"),
        (vec![Answer::Nothing], "drive-silent"),
        (vec![Answer::Joint, Answer::Joint], "wiper-open"),
        (vec![Answer::Joint, Answer::Neighbour], "channel-swapped"),
    ] {
        let mut bench = Bench::new(BenchPlan::new(79.5, [0.0, 180.0])).unwrap();
        let mut given = answers.iter();
        loop {
            let report = match bench.next() {
                Action::MoveTo { .. } => Report::Moved,
                Action::Wait { .. } => Report::Waited,
                Action::Read => Report::Reading {
                    value: 451.0,
                    load: None,
                },
                Action::Ask {
                    question: Question::WhatMoved { .. },
                    ..
                } => Report::Answered {
                    answer: *given.next().unwrap(),
                },
                Action::Ask { .. } => Report::Answered { answer: Answer::Done },
                Action::Done => break,
            };
            bench.report(report).unwrap();
        }
        let Verdict::Faulty { fault: found, .. } = bench.outcome().unwrap().verdict else {
            panic!("a fault")
        };
        assert_eq!(found.as_str(), fault);
        assert_eq!(bench.prompt().sentence, found.to_string());
        // Never anywhere but in what was declared clear, and the overtravel.
        assert!(
            bench
                .readings()
                .iter()
                .all(|r| (r.drive.unwrap() - 79.5).abs() <= 11.0 + 1e-9)
        );
    }
}

/// A loop that aids is found within four turns, with the drive detached, and nothing is moved.
#[test]
fn a_loop_that_runs_away_is_never_attached() {
    let mut plan = BenchPlan::new(79.5, [0.0, 180.0]);
    plan.watch = Watch::SensorAndDrive;
    for (up, down, fault) in [
        (Answer::Upper, Answer::Lower, "wires-swapped"),
        (Answer::Still, Answer::Still, "drive-silent"),
        (Answer::Upper, Answer::Upper, "unclear"),
    ] {
        let mut bench = Bench::new(plan).unwrap();
        let (mut hand, mut turns) = (0.0, 0);
        loop {
            let report = match bench.next() {
                Action::Read => Report::Reading {
                    value: 450.0 + 1.2 * hand,
                    load: None,
                },
                Action::Ask { question, .. } => {
                    let answer = match question {
                        Question::TurnFromMark { toward, degrees } => {
                            (hand, turns) = (toward.sign() * degrees, turns + 1);
                            Answer::Done
                        }
                        Question::DriveResponse => {
                            if hand > 0.0 {
                                up
                            } else {
                                down
                            }
                        }
                        Question::AttachDrive => panic!("it must not be attached"),
                        _ => Answer::Done,
                    };
                    Report::Answered { answer }
                }
                Action::Done => break,
                moved => panic!("{moved:?}"),
            };
            bench.report(report).unwrap();
        }
        let Verdict::Faulty { fault: found, .. } = bench.outcome().unwrap().verdict else {
            panic!("a fault")
        };
        assert_eq!((found.as_str(), turns), (fault, 4));
    }
}

/// A joint that stands near a stop cannot be turned as far as is asked. The hand says so: the turn counts for the sense all the same, and
/// a drive that stays still is then not called silent.
#[test]
fn a_hand_that_meets_a_stop_says_so() {
    for (drive_turns, feel_stops) in [(true, false), (true, true), (false, false)] {
        let mut plan = BenchPlan::new(79.5, [0.0, 180.0]);
        plan.watch = Watch::SensorAndDrive;
        plan.feel_stops = feel_stops;
        let mut bench = Bench::new(plan).unwrap();
        let (mut hand, mut attached): (f64, bool) = (0.0, false);
        while !attached && bench.outcome().is_none() {
            let answer = |answer| Report::Answered { answer };
            let report = match bench.next() {
                Action::Read => Report::Reading {
                    value: 450.0 + 1.2 * hand,
                    load: None,
                },
                Action::Ask { question, .. } => match question {
                    // A stop 2 deg below where the joint stands.
                    Question::TurnFromMark { toward, degrees } => {
                        hand = (toward.sign() * degrees).max(-2.0);
                        answer(if hand == -2.0 { Answer::AtStop } else { Answer::Done })
                    }
                    Question::HoldAtStop { toward } => {
                        hand = if toward.sign() < 0.0 { -2.0 } else { 150.0 };
                        answer(Answer::Done)
                    }
                    Question::DriveResponse => answer(match hand {
                        _ if !drive_turns => Answer::Still,
                        ..0.0 => Answer::Upper,
                        _ => Answer::Lower,
                    }),
                    Question::AttachDrive => {
                        attached = true;
                        answer(Answer::Done)
                    }
                    _ => answer(Answer::Done),
                },
                moved => panic!("{moved:?}"),
            };
            bench.report(report).unwrap();
        }
        assert_eq!(attached, drive_turns);
        if let Some(outcome) = bench.outcome() {
            let Verdict::Faulty { fault, .. } = outcome.verdict else {
                panic!("a fault")
            };
            assert_eq!(fault.as_str(), "unclear");
            let sense = outcome.sense.unwrap();
            assert_eq!((sense.reason, sense.slope), (Some(SenseReason::HandAtStop), 0.0));
        }
    }
}

/// The timer's steps make another angle of each that is asked for. Told of it, the bench takes each reading as of the angle commanded.
#[test]
fn readings_belong_to_the_angle_that_was_commanded() {
    // Each command comes out so much too high, deg.
    const OFF: f64 = 0.4;
    let stops = [41.0, 122.0];
    for is_told in [true, false] {
        let mut bench = Bench::new(BenchPlan::new(79.5, [0.0, 180.0])).unwrap();
        let mut at = 79.5;
        loop {
            let report = match bench.next() {
                Action::MoveTo { drive, .. } => {
                    at = drive + OFF;
                    if is_told {
                        Report::MovedTo { drive: at }
                    } else {
                        Report::Moved
                    }
                }
                Action::Wait { .. } => Report::Waited,
                Action::Read => Report::Reading {
                    value: 1.2 * at.clamp(stops[0], stops[1]),
                    load: None,
                },
                Action::Ask { question, .. } => Report::Answered {
                    answer: match question {
                        Question::StaysBehind { .. } => Answer::Stop,
                        _ => Answer::Done,
                    },
                },
                Action::Done => break,
            };
            bench.report(report).unwrap();
            // A state that was written and read goes on alike.
            let saved = serde_json::to_string(&bench).unwrap();
            bench = serde_json::from_str(&saved).unwrap();
        }
        let outcome = bench.outcome().unwrap();
        assert_eq!(outcome.verdict, Verdict::Ready);
        for (end, stop) in [(outcome.lower.unwrap(), stops[0]), (outcome.upper.unwrap(), stops[1])] {
            let is_near = (end.at - stop).abs() < 0.2;
            assert_eq!(is_near, is_told, "{end:?}");
        }
    }
}

/// What stands in the way is told from the stop behind it, in the joint that is rehearsed.
#[test]
fn a_virtual_joint_says_at_which_end_an_obstacle_stands() {
    for seed in 0..20 {
        let Rehearsal { joint, .. } = Rehearsal::healthy(seed).unwrap();
        assert_eq!(joint.obstacle(), None, "{seed}");
        let Rehearsal { joint, .. } = Rehearsal::faulty(Fault::RangeBlocked, seed).unwrap();
        let [lower, upper] = joint.record().stops;
        let contacts = joint.contacts();
        let side = match joint.obstacle().unwrap() {
            Side::Lower => contacts[0] > lower && contacts[1] == upper,
            Side::Upper => contacts[1] < upper && contacts[0] == lower,
        };
        assert!(side, "{seed}: {contacts:?} in {lower} to {upper}");
    }
}

#[test]
fn the_limits_of_an_outcome_keep_the_guard_where_a_stop_was_met() {
    let mut kinds = Vec::new();
    for seed in 0..40 {
        let BenchRehearsal { mut joint, plan, .. } =
            BenchRehearsal::drawn(BenchKind::Steep, Watch::SensorOnly, false, seed).unwrap();
        let (mut bench, mut person) = (Bench::new(plan).unwrap(), Typist::new(0.0, 0.0, None, seed));
        while let Some(report) = person.carry_out(&bench.next(), &mut joint) {
            bench.report(report).unwrap();
        }
        let outcome = bench.outcome().unwrap();
        let Some(limits) = outcome.limits() else { continue };
        for (found, end) in [
            (outcome.lower.unwrap(), limits.lower),
            (outcome.upper.unwrap(), limits.upper),
        ] {
            let guard = if found.kind == EndKind::Contact {
                plan.guard
            } else {
                0.0
            };
            assert_eq!(
                (end.kind, end.at, end.travel, end.guard),
                (found.kind, found.at, found.travel, guard)
            );
            kinds.push(found.kind);
        }
    }
    assert!(
        kinds.contains(&EndKind::Contact) && kinds.contains(&EndKind::Clear),
        "{kinds:?}"
    );
}
