//! Bring-ups with the alignment of the sensor in their plan.

use super::{fault_of, run, run_with};
use elbowroom::bring_up::{
    Action, AlignmentEnd, AlignmentPlan, Answer, Caution, Doubt, Fault, Question, Report, Session, StopSearch, Verdict,
};
use elbowroom::rehearsal::{Person, Rehearsal, VirtualJoint};

#[test]
fn a_joint_with_its_index_in_the_plan_is_handed_over_as_before() {
    for seed in 0..40 {
        let (_, plain) = run(Rehearsal::healthy(seed).unwrap(), 0.0, seed);
        let rehearsal = Rehearsal::healthy(seed).unwrap().with_alignment().unwrap();
        let alignment = rehearsal.plan.alignment.unwrap();
        let mut stages = Vec::new();
        let (joint, outcome) = run_with(rehearsal, 0.0, seed, |_, session, action, report| {
            if stages.last() != Some(&session.stage()) {
                stages.push(session.stage());
            }
            if session.stage() == "alignment" {
                assert!(!matches!(action, Action::MoveTo { .. }), "the drive is off");
            }
            report
        });
        assert_eq!(stages[..4], ["ready", "sense test", "alignment", "first move"]);
        assert_eq!(outcome.verdict, plain.verdict, "seed {seed}");
        let (Some(AlignmentEnd::Set { spare, settings, .. }), Some(travel)) = (outcome.alignment, outcome.travel())
        else {
            panic!("seed {seed}: {:?}", outcome.alignment);
        };
        assert_eq!(settings, 0, "the sensor stood right");
        assert!(spare.iter().all(|&s| s >= alignment.margin), "seed {seed}: {spare:?}");
        let contacts = joint.contacts();
        assert!(travel[0] > contacts[0] && travel[1] < contacts[1], "seed {seed}");
        assert!(plain.alignment.is_none());
    }
}

/// Without the alignment in the plan, this joint is refused: its sensor ends before it does.
#[test]
fn a_sensor_that_runs_out_is_set_and_then_the_joint_is_fit() {
    let (mut anew, mut clear) = (0, 0);
    let seeds = 40;
    for seed in 0..seeds {
        let broken = || Rehearsal::faulty(Fault::SensorRunsOut, seed).unwrap();
        assert_ne!(run(broken(), 0.0, seed).1.verdict, Verdict::Ready);
        let rehearsal = broken().with_alignment().unwrap();
        let plan = rehearsal.plan;
        let (mut joint, mut outcome) = run(rehearsal, 0.0, seed);
        let set = outcome.alignment;
        assert!(
            matches!(set, Some(AlignmentEnd::Set { settings: 1, .. })),
            "seed {seed}: {set:?}"
        );
        if plan.closes_loop() {
            // Whether the start is still clear is told from the reading there: as the joint's true stops lie now.
            let [lower, upper] = joint.contacts();
            let room = (plan.start - lower).min(upper - plan.start);
            let refused = fault_of(&outcome) == Some(Fault::StartNotClear);
            assert!(refused || room > 0.5 * plan.clearance, "seed {seed}: {room}");
            assert!(!refused || room < 1.5 * plan.clearance, "seed {seed}: {room}");
            clear += i32::from(!refused);
        }
        // A loop closed over the sensor moves with it, mostly so far that the start is clear no more: from another start then.
        if plan.closes_loop() && outcome.travel().is_none() {
            assert_eq!(fault_of(&outcome), Some(Fault::StartNotClear), "seed {seed}");
            assert_eq!(joint.commanded(), [plan.start; 2], "nothing moved");
            let [lower, upper] = joint.contacts();
            let start = (lower + upper) / 2.0;
            let mut plan = plan;
            (plan.start, plan.search_limits) = (start, [lower - 20.0, upper + 20.0]);
            (plan.baseline, plan.alignment) = (None, None);
            let virtual_joint = VirtualJoint::new(joint.record().clone(), start, seed);
            (joint, outcome) = run(
                Rehearsal {
                    joint: virtual_joint,
                    plan,
                },
                0.0,
                seed,
            );
            anew += 1;
        }
        let (contacts, latest, commanded) = (joint.contacts(), joint.latest_contacts(), joint.commanded());
        let most = StopSearch::MOST_OVERTRAVEL * plan.step;
        assert!(commanded[0] >= latest[0] - most && commanded[1] <= latest[1] + most);
        let travel = outcome
            .travel()
            .unwrap_or_else(|| panic!("seed {seed}: {:?}", outcome.verdict));
        assert!(travel[0] > contacts[0] && travel[1] < contacts[1], "seed {seed}");
    }
    assert!(anew > 5 && anew < seeds * 3 / 4, "{anew}");
    assert!(clear > 0, "{clear}");
}

#[test]
fn an_index_that_cannot_be_is_refused_before_anything_moves() {
    let index_of = |meddle: fn(&mut AlignmentPlan)| {
        let mut rehearsal = Rehearsal::healthy(3).unwrap().with_alignment().unwrap();
        meddle(rehearsal.plan.alignment.as_mut().unwrap());
        rehearsal
    };
    let (joint, outcome) = run(index_of(|alignment| alignment.ratio *= 20.0), 0.0, 3);
    assert!(matches!(outcome.alignment, Some(AlignmentEnd::TooShort { spare }) if spare < 0.0));
    assert_eq!(fault_of(&outcome), Some(Fault::SensorRunsOut));
    assert_eq!(joint.commanded()[0], joint.commanded()[1], "nothing moved");

    // Said to be set, and not: asked for three times.
    let mut rehearsal = Rehearsal::faulty(Fault::SensorRunsOut, 5)
        .unwrap()
        .with_alignment()
        .unwrap();
    rehearsal.plan.alignment.as_mut().unwrap().margin = 0.0;
    let mut session = Session::new(rehearsal.plan).unwrap();
    let (mut person, mut joint, mut asked) = (Person::new(0.0, 5), rehearsal.joint, 0);
    loop {
        let action = session.next();
        let report = match action {
            Action::Ask {
                question: Question::SetSensor { .. },
                ..
            } => {
                asked += 1;
                assert!(action.cautions().contains(&Caution::PowerOffToTouch));
                Report::Answered { answer: Answer::Done }
            }
            _ => match person.carry_out(&action, &mut joint) {
                Some(report) => report,
                None => break,
            },
        };
        session.report(report).unwrap();
    }
    let outcome = session.outcome().unwrap();
    assert_eq!(asked, 3, "{:?}", outcome);
    assert!(matches!(outcome.alignment, Some(AlignmentEnd::NotSet { spare }) if spare.iter().any(|&s| s <= 0.0)));
    assert_eq!(fault_of(outcome), Some(Fault::SensorRunsOut));
    assert_eq!(joint.commanded()[0], joint.commanded()[1], "nothing moved");

    let mut plan = Rehearsal::healthy(3).unwrap().with_alignment().unwrap().plan;
    plan.alignment.as_mut().unwrap().margin = f64::NAN;
    assert!(Session::new(plan).is_err());
}

/// The protractor read at its other scale, once or always; and a drive fixed to the joint elsewhere.
#[test]
fn answers_of_the_index_that_contradict_the_data_are_questioned() {
    let misread = |most: u32| {
        let (mut asked, mut doubts) = (0, Vec::new());
        let rehearsal = Rehearsal::healthy(12).unwrap().with_alignment().unwrap();
        let (_, outcome) = run_with(rehearsal, 0.0, 12, |_, _, action, report| match (action, report) {
            (
                Action::Ask {
                    question: Question::JointAngle,
                    doubt,
                },
                Report::Answered {
                    answer: Answer::Angle { degrees },
                },
            ) => {
                doubts.extend(doubt);
                asked += 1;
                let degrees = if asked <= most { 180.0 - degrees } else { degrees };
                Report::Answered {
                    answer: Answer::Angle { degrees },
                }
            }
            _ => report,
        });
        assert!(doubts.iter().all(|d| matches!(d, Doubt::NotAtStop { by } if *by > 5.0)));
        assert!(doubts.iter().all(|d| d.to_string().contains("look again")));
        (outcome, doubts.len())
    };
    let (outcome, doubts) = misread(1);
    assert_eq!((outcome.verdict, doubts), (Verdict::Ready, 1));
    let (outcome, doubts) = misread(9);
    assert_eq!((fault_of(&outcome), doubts), (Some(Fault::Unclear), 1));
    assert!(matches!(outcome.alignment, Some(AlignmentEnd::NotAtStop { .. })));

    // The sensor says that the joint was fixed beyond a stop: said once, then asked again; said always, refused.
    let misplaced = |always: bool| {
        let mut doubts = Vec::new();
        let rehearsal = Rehearsal::healthy(12).unwrap().with_alignment().unwrap();
        let [low, high] = rehearsal.joint.record().rails;
        let (joint, outcome) = run_with(rehearsal, 0.0, 12, |_, session, action, report| {
            if let Action::Ask {
                question: Question::AttachDrive,
                doubt,
            } = action
            {
                doubts.extend(doubt);
            }
            match report {
                Report::Reading { load, .. } if session.stage() == "first move" && (always || doubts.is_empty()) => {
                    Report::Reading {
                        value: if session.plan().rising { high } else { low },
                        load,
                    }
                }
                _ => report,
            }
        });
        assert!(
            matches!(doubts[..], [Doubt::BeyondStops { by }] if by > 0.0),
            "{doubts:?}"
        );
        assert!(doubts.iter().all(|d| d.to_string().contains("look again")));
        (joint, outcome)
    };
    assert_eq!(misplaced(false).1.verdict, Verdict::Ready);
    let (joint, outcome) = misplaced(true);
    assert_eq!(fault_of(&outcome), Some(Fault::Unclear));
    assert_eq!(joint.commanded()[0], joint.commanded()[1], "nothing moved");
}
