//! The whole bring-up against virtual joints. The full figures come from `cargo bench --bench rehearsal`; these are the
//! same checks on fewer seeds.
// A test says what went wrong by failing.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::bring_up::{
    Action, AlignmentEnd, Answer, Doubt, Fault, Outcome, Question, Report, Session, Side, StopSearch, Verdict, Watch,
};
use elbowroom::fit::EndKind;
use elbowroom::rehearsal::{BenchKind, BenchRehearsal, Person, Rehearsal, Typist, VirtualJoint, VirtualRecord};

mod alignment;
mod interrupted;

/// Runs a bring-up and lets `meddle` change reports or the session itself.
fn run_with(
    rehearsal: Rehearsal,
    wrong_answer_rate: f64,
    seed: u64,
    mut meddle: impl FnMut(u32, &mut Session, Action, Report) -> Report,
) -> (VirtualJoint, Outcome) {
    let Rehearsal { mut joint, plan } = rehearsal;
    let mut person = Person::new(wrong_answer_rate, seed);
    let mut session = Session::new(plan).unwrap();
    let mut count = 0;
    loop {
        let action = session.next();
        let Some(report) = person.carry_out(&action, &mut joint) else {
            break;
        };
        let report = meddle(count, &mut session, action, report);
        session.report(report).unwrap();
        count += 1;
        assert!(count < 20_000, "a bring-up must end");
    }
    (joint, session.outcome().unwrap().clone())
}

fn run(rehearsal: Rehearsal, wrong_answer_rate: f64, seed: u64) -> (VirtualJoint, Outcome) {
    run_with(rehearsal, wrong_answer_rate, seed, |_, _, _, report| report)
}

fn fault_of(outcome: &Outcome) -> Option<Fault> {
    match outcome.verdict {
        Verdict::Faulty { fault, .. } => Some(fault),
        _ => None,
    }
}

#[test]
fn healthy_joints_are_handed_over_inside_their_stops() {
    let (mut rejected, mut covered, mut ends) = (0, 0, 0);
    let seeds = 150;
    for seed in 0..seeds {
        let rehearsal = Rehearsal::healthy(seed).unwrap();
        let plan = rehearsal.plan;
        let (joint, outcome) = run(rehearsal, 0.0, seed);
        let (contacts, latest, commanded) = (joint.contacts(), joint.latest_contacts(), joint.commanded());
        let most = StopSearch::MOST_OVERTRAVEL * plan.step;
        assert!(
            commanded[0] >= latest[0] - most && commanded[1] <= latest[1] + most,
            "seed {seed}"
        );
        assert!(
            commanded[0] >= plan.search_limits[0] && commanded[1] <= plan.search_limits[1],
            "seed {seed}"
        );
        let Some(travel) = outcome.travel() else {
            rejected += 1;
            continue;
        };
        assert!(
            travel[0] > contacts[0] && travel[1] < contacts[1],
            "seed {seed}: {travel:?} in {contacts:?}"
        );
        // And no needless loss: guard, half the play, and a degree.
        let record = joint.record();
        let most_lost = plan.guard + (record.lost_motion + record.dead_band) / 2.0 + record.friction + 1.0;
        assert!(
            travel[0] - contacts[0] < most_lost && contacts[1] - travel[1] < most_lost,
            "seed {seed}"
        );
        for (end, contact) in [(outcome.lower, contacts[0]), (outcome.upper, contacts[1])] {
            let end = end.unwrap();
            assert_eq!(end.kind, EndKind::Contact, "seed {seed}");
            let [low, high] = end.interval.unwrap();
            ends += 1;
            covered += u32::from(low <= contact && contact <= high);
        }
    }
    assert!(rejected * 100 <= seeds, "{rejected} of {seeds} rejected");
    assert!(
        f64::from(covered) >= 0.95 * f64::from(ends),
        "{covered} of {ends} covered"
    );
}

/// Behind a gap in its teeth a gear takes hold again: such a joint comes to its stop, though late; one without teeth never does.
#[test]
fn a_gear_that_lacks_some_teeth_brings_the_joint_to_its_stop_late() {
    let mut late = 0;
    for seed in 0..30 {
        let Rehearsal { mut joint, .. } = Rehearsal::faulty(Fault::GearStripped, seed).unwrap();
        let (start, stop) = (joint.place(), joint.contacts()[1]);
        let mut send = |drive: f64| {
            joint.move_to(drive, 30.0);
            joint.wait(10.0);
            joint.place()
        };
        let (early, end) = (send(stop), send(stop + 40.0));
        if joint.what_moves() == Answer::Joint {
            // The gap is 8 deg wide or more, the play much less.
            assert!(early < stop - 4.0, "seed {seed}: {early}, stop at {stop}");
            assert!(end >= stop, "seed {seed}: {end}, stop at {stop}");
            late += 1;
        } else {
            assert_eq!((early, end), (start, start), "seed {seed}");
        }
    }
    assert!(late >= 5, "{late}");
}

#[test]
fn every_fault_is_found_and_named() {
    for fault in Fault::REHEARSED {
        let (mut missed, mut misnamed) = (0, 0);
        let seeds = 25;
        for seed in 0..seeds {
            let rehearsal = Rehearsal::faulty(fault, 2_000_000 + seed).unwrap();
            assert_eq!(rehearsal.joint.fault(), Some(fault));
            let (_, outcome) = run(rehearsal, 0.0, seed);
            missed += u32::from(outcome.verdict == Verdict::Ready);
            if fault_of(&outcome) != Some(fault) {
                println!(
                    "{} seed {seed}: {:?} speed {:?}",
                    fault.as_str(),
                    outcome.verdict,
                    outcome.speed
                );
            }
            misnamed += u32::from(fault_of(&outcome) != Some(fault));
            assert!(outcome.verdict == Verdict::Ready || outcome.travel().is_none());
        }
        assert_eq!(missed, 0, "{}", fault.as_str());
        // 95 of 100 is asked; one of 25 is allowed.
        assert!(misnamed <= 1, "{}: {misnamed} of {seeds}", fault.as_str());
    }
}

/// The hardest and the softest stops that are allowed for, read without noise and with as much as is drawn: the interval
/// holds its coverage at each, not only for the average stop.
#[test]
fn intervals_hold_at_the_ends_of_what_a_stop_may_give() {
    for (give, noise) in [(0.0, 0.0), (0.0, 0.8), (0.05, 0.0), (0.05, 0.8)] {
        let (mut covered, mut ends, mut u, mut wide) = (0, 0, 0.0, 0.0);
        for seed in 0..80 {
            let Rehearsal { joint, plan } = Rehearsal::healthy(seed).unwrap();
            let record = VirtualRecord {
                give,
                noise,
                ..joint.record().clone()
            };
            let joint = VirtualJoint::new(record, plan.start, seed);
            let (joint, outcome) = run(Rehearsal { joint, plan }, 0.0, seed);
            for (end, contact) in [outcome.lower, outcome.upper].into_iter().zip(joint.contacts()) {
                let (Some(end), Some([low, high])) = (end, end.and_then(|end| end.interval)) else {
                    continue;
                };
                ends += 1;
                covered += u32::from(low <= contact && contact <= high);
                u += end.u.unwrap();
                wide += high - low;
            }
        }
        let part = f64::from(covered) / f64::from(ends);
        assert!(part >= 0.95, "give {give}, noise {noise}: {covered} of {ends}");
        // And no wider than that takes, a stop that gives up to a tenth included: 7.5 standard uncertainties from end to end.
        assert!(wide < 7.5 * u, "give {give}, noise {noise}: {wide} for {u}");
    }
}

/// The same runs in Python: what they end with, to the bit. WRITE_VECTORS=1 writes the file anew.
#[cfg(feature = "serde")]
#[test]
fn the_figures_that_python_holds_to() {
    let faults = std::iter::once(None).chain(Fault::REHEARSED.map(Some));
    let lines: Vec<serde_json::Value> = faults
        .flat_map(|fault| [1, 2, 3].map(|seed| (fault, seed)))
        .map(|(fault, seed)| {
            let rehearsal = match fault {
                Some(fault) => Rehearsal::faulty(fault, seed),
                None => Rehearsal::healthy(seed),
            };
            let mut steps = 0;
            let (joint, outcome) = run_with(rehearsal.unwrap(), 0.0, seed, |count, _, _, report| {
                steps = count + 1;
                report
            });
            serde_json::json!({
                "seed": seed,
                "fault": fault.map(Fault::as_str),
                "verdict": if outcome.verdict == Verdict::Ready { "ready" } else { "faulty" },
                "found": fault_of(&outcome).map(Fault::as_str),
                "contacts": joint.contacts(),
                "travel": outcome.travel(),
                "steps": steps,
            })
        })
        .collect();
    let text: Vec<String> = lines.iter().map(ToString::to_string).collect();
    let text = format!("[\n{}\n]\n", text.join(",\n"));
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/rehearsal.json");
    if std::env::var_os("WRITE_VECTORS").is_some() {
        std::fs::write(path, &text).unwrap();
    }
    assert_eq!(std::fs::read_to_string(path).unwrap(), text);
}

/// A servo that holds by a sensor of its own cannot follow the one that is turned by hand: a plan that waits for it says what to change.
#[test]
fn a_drive_that_cannot_follow_the_sensor_is_told_from_the_plan() {
    use elbowroom::bring_up::SessionPlan;
    let Rehearsal { joint, .. } = Rehearsal::healthy(1).unwrap();
    let usual = VirtualRecord::usual(joint.record().joint.clone(), [20.0, 100.0]);
    assert_eq!(usual.watch, Watch::SensorOnly);
    let plan = SessionPlan::new(60.0, [0.0, 180.0]);
    assert_eq!(plan.sense.watch, Watch::SensorAndDrive);
    let joint = VirtualJoint::checked(usual, 60.0, 3).unwrap();
    let (_, outcome) = run(Rehearsal { joint, plan }, 0.0, 3);
    assert_eq!(fault_of(&outcome), Some(Fault::DriveSilent));
    let reason = outcome.sense.unwrap().reason.unwrap();
    for said in [outcome.verdict.to_string(), reason.to_string()] {
        assert!(
            said.contains("supply") && said.ends_with("set watch to sensor-only"),
            "{said}"
        );
    }
}

/// The speed found is that of the drive, where it is slower than rated.
#[test]
fn the_speed_of_a_slow_drive_is_measured() {
    use elbowroom::bring_up::SessionPlan;
    let Rehearsal { joint, .. } = Rehearsal::healthy(1).unwrap();
    let mut usual = VirtualRecord::usual(joint.record().joint.clone(), [20.0, 120.0]);
    usual.noise = 0.0;
    let mut plan = SessionPlan::new(70.0, [0.0, 180.0]).with_rated_speed(300.0);
    plan.sense.watch = Watch::SensorOnly;
    for speed in [120.0, 150.0, 180.0, 210.0, 240.0] {
        usual.speed = speed;
        let joint = VirtualJoint::checked(usual.clone(), 70.0, 3).unwrap();
        let (_, outcome) = run(Rehearsal { joint, plan }, 0.0, 3);
        let found = outcome.speed.unwrap();
        assert!((found / speed - 1.0).abs() < 0.01, "{found} for {speed}");
    }
}

#[test]
fn the_usual_virtual_joint_is_checked_and_brought_up() {
    use elbowroom::bring_up::SessionPlan;
    let stops = [20.0, 100.0];
    let Rehearsal { joint, .. } = Rehearsal::healthy(1).unwrap();
    let usual = VirtualRecord::usual(joint.record().joint.clone(), stops);
    let mut plan = SessionPlan::new(60.0, [0.0, 180.0]);
    plan.sense.watch = Watch::SensorOnly;
    for seed in 0..20 {
        let joint = VirtualJoint::checked(usual.clone(), 60.0, seed).unwrap();
        assert_eq!(joint.contacts(), stops);
        let (_, outcome) = run(Rehearsal { joint, plan }, 0.0, seed);
        let travel = outcome.travel().unwrap();
        assert!(travel[0] > stops[0] && travel[1] < stops[1]);
    }
    let mut joint = VirtualJoint::checked(usual.clone(), 60.0, 1).unwrap();
    let before = joint.clone();
    for (drive, rate) in [(f64::NAN, 30.0), (70.0, 0.0), (70.0, f64::INFINITY)] {
        assert!(joint.try_move_to(drive, rate).is_err());
    }
    assert!(joint.try_wait(-1.0).is_err() && joint == before);
    joint.try_move_to(70.0, 30.0).unwrap();
    joint.try_wait(1.0).unwrap();
    assert_eq!(joint.commanded(), [60.0, 70.0]);
    assert!(Person::checked(1.1, 0).is_err() && Person::checked(f64::NAN, 0).is_err());
    assert!(Person::checked(1.0, 0).is_ok());
    assert!(VirtualJoint::checked(usual.clone(), 101.0, 0).is_err());
    type Change = fn(&mut VirtualRecord);
    let changes: [Change; 6] = [
        |r| r.stops = [100.0, 20.0],
        |r| r.rails = [3.0, 3.0],
        |r| r.noise = -0.1,
        |r| r.give = f64::NAN,
        |r| r.speed = 0.0,
        |r| r.readings = [5.0, 5.0],
    ];
    for change in changes {
        let mut record = usual.clone();
        change(&mut record);
        assert!(record.check().is_err(), "{record:?}");
        assert!(VirtualJoint::checked(record, 60.0, 0).is_err());
    }
}

#[test]
fn a_person_who_errs_is_questioned_and_rarely_believed() {
    let (mut wrong, mut questioned) = (0, 0);
    let seeds = 200;
    for seed in 0..seeds {
        let rehearsal = Rehearsal::healthy(3_000_000 + seed).unwrap();
        let (_, outcome) = run_with(rehearsal, 0.05, seed, |_, _, action, report| {
            questioned += u32::from(matches!(action, Action::Ask { doubt: Some(_), .. }));
            report
        });
        wrong += u32::from(outcome.verdict != Verdict::Ready);
    }
    assert!(questioned > 70, "{questioned}");
    // Nearly as good as with somebody who never errs.
    assert!(wrong <= 2, "{wrong} of {seeds}");
}

/// Answers that contradict load and earlier evidence are asked again, and if they are repeated the data decide.
#[test]
fn the_data_decide_against_an_answer_that_is_repeated() {
    let mut rehearsal = Rehearsal::healthy(11).unwrap();
    rehearsal.plan.baseline = Rehearsal::healthy(11).unwrap().plan.baseline;
    let mut doubts = Vec::new();
    let (_, outcome) = run_with(rehearsal, 0.0, 11, |_, _, action, report| match action {
        Action::Ask {
            question: Question::WhatIsMet { .. },
            doubt,
        } => {
            doubts.extend(doubt);
            Report::Answered {
                answer: Answer::Obstacle,
            }
        }
        _ => report,
    });
    assert_eq!(outcome.verdict, Verdict::Ready);
    assert_eq!(doubts.len(), 2, "each end asked again once: {doubts:?}");
    assert!(doubts.iter().all(|d| matches!(d, Doubt::AtTheStop { .. })));
    assert!(doubts.iter().all(|d| d.to_string().ends_with("look again")));

    // The channel goes to another joint; the person insists that this one moved.
    let rehearsal = Rehearsal::faulty(Fault::ChannelSwapped, 5).unwrap();
    let mut asked = 0;
    let (_, outcome) = run_with(rehearsal, 0.0, 5, |_, _, action, report| match action {
        Action::Ask {
            question: Question::WhatMoved { .. },
            doubt,
        } => {
            assert_eq!(doubt.is_some(), asked > 0);
            asked += 1;
            Report::Answered { answer: Answer::Joint }
        }
        _ => report,
    });
    assert_eq!(asked, 2);
    assert_ne!(outcome.verdict, Verdict::Ready);
}

#[test]
fn nothing_moves_before_the_cautions_and_a_no_ends_it() {
    let Rehearsal { plan, .. } = Rehearsal::healthy(1).unwrap();
    let mut session = Session::new(plan).unwrap();
    assert!(session.next().cautions().len() >= 3);
    session.report(Report::Answered { answer: Answer::No }).unwrap();
    assert_eq!(session.outcome().unwrap().verdict, Verdict::Declined);
    assert_eq!(session.next(), Action::Done);

    let mut asked = Vec::new();
    run_with(Rehearsal::healthy(1).unwrap(), 0.0, 1, |_, _, action, report| {
        match action {
            Action::Ask { question, .. } => {
                assert!(!action.cautions().is_empty(), "{question}");
                asked.push(question.as_str());
            }
            Action::MoveTo { rate_per_s, .. } if asked.last() == Some(&"attach-drive") && asked.len() < 100 => {
                asked.push("moved");
                assert!(rate_per_s <= 10.0, "the first move is slow");
            }
            _ => {}
        }
        report
    });
    assert_eq!(asked[..2], ["ready", "detach-drive"]);
}

#[test]
fn it_can_be_stopped_at_any_time() {
    for after in [0, 1, 10, 100, 500, 900] {
        let (_, outcome) = run_with(Rehearsal::healthy(4).unwrap(), 0.0, 4, |count, session, _, report| {
            if count != after {
                return report;
            }
            let mut stopped = session.clone();
            stopped.stop();
            assert_eq!(stopped.next(), Action::Done);
            assert_eq!(stopped.outcome().unwrap().verdict, Verdict::Stopped);
            assert!(stopped.outcome().unwrap().travel().is_none());
            report
        });
        assert_eq!(
            outcome.verdict,
            Verdict::Ready,
            "the session that was not stopped goes on"
        );
    }
}

#[cfg(feature = "robot")]
#[test]
fn the_evidence_goes_into_the_robot_file() {
    use elbowroom::FeedbackRecord;
    use elbowroom::robot::{Date, EvidenceKind, Robot};
    // Invented: the demo robot.
    let mut robot = Robot::parse(include_str!("../data/heron.toml")).unwrap();
    let before = robot.expect_joint("wing_left").unwrap().record();
    let rehearsal = Rehearsal::of_joint(robot.joint("wing_left").unwrap().joint(), None, 1).unwrap();
    let (joint, outcome) = run(rehearsal, 0.0, 1);
    let mut record = before.clone();
    assert!(record.put_rehearsal(&outcome, Date::new(2026, 11, 25)));
    robot.put(&record).unwrap();
    let entry = Robot::parse(robot.to_toml())
        .unwrap()
        .joint("wing_left")
        .unwrap()
        .record();
    let (travel, contacts) = (entry.joint.travel.unwrap(), joint.contacts());
    assert!(travel[0] > contacts[0] && travel[1] < contacts[1]);
    assert_eq!(entry.evidence.date, Date::new(2026, 11, 25));
    for (end, contact) in [(entry.evidence.lower, contacts[0]), (entry.evidence.upper, contacts[1])] {
        let end = end.unwrap();
        assert_eq!(end.kind, EvidenceKind::Contact);
        assert!((end.at - contact).abs() < 4.0 * end.u.unwrap());
    }
    assert_eq!(entry.joint.rest, before.joint.rest);

    // A sensor that was turned on its shaft takes the record's feedback along.
    let mut moved = before.clone();
    let feedback = FeedbackRecord::new([200.0, 800.0], moved.joint.command);
    moved.joint.feedback = Some(feedback.clone());
    let mut told = outcome.clone();
    let set = |reading, settings| {
        Some(AlignmentEnd::Set {
            joint_angle: feedback.angle[0],
            reading,
            spare: [5.0, 5.0],
            settings,
        })
    };
    told.alignment = set(230.0, 1);
    assert!(moved.put_rehearsal(&told, None));
    assert_eq!(moved.joint.feedback.as_ref().unwrap().reading, [230.0, 830.0]);
    told.alignment = set(201.0, 0);
    assert!(moved.put_rehearsal(&told, None));
    assert_eq!(
        moved.joint.feedback.as_ref().unwrap().reading,
        [230.0, 830.0],
        "it stood right"
    );
    // A bent one moves with all its knots.
    let [first, last] = feedback.angle;
    let mut bent = feedback.clone();
    bent.knots = Some(vec![[200.0, first], [560.0, 0.5 * (first + last)], [800.0, last]]);
    moved.joint.feedback = Some(bent);
    told.alignment = set(230.0, 1);
    assert!(moved.put_rehearsal(&told, None));
    let bent = moved.joint.feedback.unwrap();
    let knots: Vec<f64> = bent.knots.iter().flatten().map(|knot| knot[0]).collect();
    assert_eq!((bent.reading, knots), ([230.0, 830.0], vec![230.0, 590.0, 830.0]));

    // A joint that is not fit leaves the record as it was.
    let broken = Rehearsal::of_joint(robot.joint("wing_left").unwrap().joint(), Some(Fault::WiperOpen), 1).unwrap();
    let (_, outcome) = run(broken, 0.0, 1);
    let mut record = before.clone();
    assert!(!record.put_rehearsal(&outcome, None));
    assert_eq!(record, before);
}

/// Numbers that come from outside pass the same time as those of the program.
#[test]
fn a_wait_from_outside_is_a_wait() {
    let Rehearsal { joint, .. } = Rehearsal::healthy(3).unwrap();
    let [mut one, mut other] = [joint.clone(), joint];
    let start = one.place();
    one.move_to(start + 20.0, 10.0);
    other.try_move_to(start + 20.0, 10.0).unwrap();
    one.wait(5.0);
    other.try_wait(5.0).unwrap();
    assert_eq!(one, other);
    assert!((one.place() - start).abs() > 1.0);
    for seconds in [-1.0, f64::NAN, f64::INFINITY] {
        assert!(other.try_wait(seconds).is_err());
    }
    assert_eq!(one, other);
}

/// The drive stays still over its dead band, as wide as the record says, and turns against the hand on either side of it.
#[test]
fn a_dead_band_is_as_wide_as_it_is_said() {
    let Rehearsal { mut joint, .. } = (0..20)
        .map(|seed| Rehearsal::healthy(seed).unwrap())
        .find(|rehearsal| rehearsal.joint.record().watch == Watch::SensorAndDrive)
        .unwrap();
    let band = joint.record().dead_band;
    assert!(band > 0.0);
    joint.detach(true);
    let step = band / 200.0;
    let mut still = 0;
    for place in -1000..=1000 {
        joint.hold_sensor(f64::from(place) * step);
        still += i32::from(joint.response() == Answer::Still);
    }
    assert!((still - 200).abs() <= 2, "{still} of 200");
}

/// The sensor of an alignment has as many readings for a degree of the joint as the joint that it is drawn for.
#[test]
fn an_alignment_fits_its_joint() {
    for seed in 0..20 {
        let rehearsal = Rehearsal::healthy(seed).unwrap().with_alignment().unwrap();
        let record = rehearsal.joint.record();
        let per_deg = (record.readings[1] - record.readings[0]) / record.joint.command_range().width();
        let found = rehearsal.plan.alignment.unwrap().figures().unwrap().per_deg;
        assert!((found / per_deg - 1.0).abs() < 1e-9, "{seed}: {found} for {per_deg}");
    }
}

/// What is typed wrongly is one of the slips that are said: up to ten off, the last two digits swapped, the last one dropped.
#[test]
fn slips_of_the_pen_are_those_that_are_said() {
    let BenchRehearsal { mut joint, .. } =
        BenchRehearsal::drawn(BenchKind::Counts, Watch::SensorOnly, false, 5).unwrap();
    let mut typist = Typist::new(1.0, 0.0, None, 11);
    let (mut swapped, mut dropped) = (0, 0);
    for _ in 0..500 {
        let truth = joint.clone().read();
        let Some(Report::Reading { value, .. }) = typist.carry_out(&Action::Read, &mut joint) else {
            panic!("no reading")
        };
        let whole = truth.trunc();
        if (value - whole).abs() <= 10.0 {
            continue;
        }
        let (tens, ones) = ((whole / 10.0).floor() % 10.0, whole % 10.0);
        if value == whole - 10.0 * tens - ones + 10.0 * ones + tens {
            swapped += 1;
        } else {
            assert_eq!(value, (whole / 10.0).floor(), "{truth}");
            dropped += 1;
        }
    }
    assert!(swapped > 20 && dropped > 30, "{swapped} {dropped}");
}

/// What comes into the way late stands a fifth to three fifths of the way from the stop, and never in what was declared clear.
#[test]
fn what_comes_late_stands_before_the_stop() {
    let mut within = 0;
    for seed in 0..60 {
        let rehearsal = BenchRehearsal::drawn(BenchKind::Late, Watch::SensorOnly, true, seed).unwrap();
        let (side, at) = rehearsal.late.unwrap();
        let (start, clear) = (rehearsal.plan.start, rehearsal.plan.start + rehearsal.plan.clearance);
        let upper = rehearsal.joint.record().stops[1];
        let part = (upper - at) / (upper - start);
        assert!(
            side == Side::Upper && at > clear && at < upper,
            "{seed}: {at} in {clear} to {upper}"
        );
        within += i32::from((0.2..=0.6).contains(&part));
    }
    assert!(within > 50, "{within}");
}
