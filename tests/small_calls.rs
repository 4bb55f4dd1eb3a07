//! The small public calls that no larger test needs by name.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::block::Block;
use elbowroom::curve::{Knot, Piece};
use elbowroom::fit::{LostMotion, NotDeterminable, spread};
use elbowroom::linkage::{Branch, Mechanism, MechanismKind, Triangle};
use elbowroom::{Joint, JointRecord, ServoRecord, TimerRecord, TransmissionRecord};

fn joint() -> Joint<f64> {
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
fn a_joint_of_a_block_is_the_joint_in_f32() {
    let narrow = joint().to_f32(3).unwrap();
    let image = narrow.to_block(3).unwrap();
    let from_block = Block::unchecked(&image[..]).unwrap().joint(3).unwrap();
    assert_eq!(from_block.to_joint().unwrap(), narrow);

    let drive = 79.5;
    let pulse_us = from_block.pulse_us_of_drive(drive);
    assert_eq!(pulse_us, narrow.servo().pulse_us(drive));
    assert_eq!(from_block.counts_of_pulse(pulse_us), 283);
    assert_eq!(from_block.counts_of_pulse(2500.0), narrow.count_range()[1]);
}

#[test]
fn mechanisms_and_transmissions_say_what_they_are() {
    assert!(TransmissionRecord::<f64>::default().is_linear());
    let mut mechanism = Mechanism::Triangle(Triangle {
        base: 40.0,
        arm: 92.0,
        angle_at_zero: 31.0,
    });
    assert!(mechanism.set_dimension("base", 41.0));
    assert_eq!(mechanism.dimension("base"), Some(41.0));
    assert!(!mechanism.set_dimension("crank", 1.0));
    assert!(
        !mechanism.set_branch(Branch::Right),
        "a triangle is put together in one way"
    );
    assert_eq!((mechanism.branch(), mechanism.form().word), (None, "triangle"));
    let mut slider = MechanismKind::of_word("slider-crank")
        .unwrap()
        .with(&[20.0, 70.0], Branch::Left);
    assert_eq!((slider.branch(), slider.form().has_branch), (Some(Branch::Left), true));
    assert!(slider.set_branch(Branch::Right));
    assert_eq!(slider.branch(), Some(Branch::Right));
    let piece = Piece::new(Knot::new(0.0, 0.0), Knot::new(2.0, 6.0), 0).unwrap();
    assert_eq!(piece.mean_slope(), 3.0);
}

#[test]
fn each_code_has_a_sentence_of_its_own() {
    use elbowroom::Code;
    let mut texts: Vec<&str> = Code::ALL.iter().map(|code| code.text()).collect();
    assert!(texts.iter().all(|text| !text.is_empty() && text.trim() == *text));
    texts.sort_unstable();
    texts.dedup();
    assert_eq!(texts.len(), Code::ALL.len());
}

#[test]
fn statistics_in_small() {
    let four = spread(&[1.0, 3.0, 1.0, 3.0]).unwrap();
    assert_eq!(four.u_mean(), four.sd / 2.0);
    let unknown = LostMotion::NotDeterminable {
        reason: NotDeterminable::ApproachUnknown,
    };
    assert_eq!(unknown.in_drive(), 0.0);
}

#[cfg(feature = "robot")]
#[test]
fn each_rule_says_how_grave_it_is_what_it_protects_and_what_breaks_it() {
    use elbowroom::robot::{Rule, Severity};
    assert_eq!(Rule::RestOutsideTravel.severity(), Severity::Error);
    assert_eq!(Rule::LimitOnlyDeclared.severity(), Severity::Warning);
    assert!(
        Rule::RestOutsideTravel
            .protects()
            .starts_with("the joint reaches its rest position")
    );
    assert!(Rule::StopNotPlaced.broken_by().contains("kind = \"stalled\""));
    for rule in Rule::ALL {
        assert!(
            rule.protects().ends_with('.') && !rule.broken_by().is_empty(),
            "{}",
            rule.name()
        );
        assert_eq!(Rule::named(rule.name()), Some(*rule));
    }
}

#[cfg(feature = "robot")]
#[test]
fn boards_stand_in_file_order() {
    let text = "format = 1\n[board.breast]\nchannels = 16\n[board.head]\nchannels = 8\n";
    let robot = elbowroom::robot::Robot::parse(text).unwrap();
    let names: Vec<_> = robot.boards().iter().map(|board| board.name()).collect();
    assert_eq!(names, ["breast", "head"]);
}

#[cfg(feature = "rehearsal")]
mod procedure {
    use elbowroom::Code;
    use elbowroom::bring_up::{
        Action, Answer, BenchPlan, BracketPlan, BringUpError, Legs, Question, Report, SensePlan, SenseTest, Session,
        Side, StopSearch, StopSearchPlan, Sweep, SweepPlan,
    };
    use elbowroom::rehearsal::{Rehearsal, VirtualJoint, VirtualRecord};

    #[test]
    fn ends_have_opposites() {
        assert_eq!(Side::Lower.opposite(), Side::Upper);
        assert_eq!(Side::Upper.opposite(), Side::Lower);
    }

    #[test]
    fn a_new_session_is_ready_and_takes_no_report_it_did_not_ask_for() {
        let Rehearsal { mut joint, plan } = Rehearsal::healthy(1).unwrap();
        assert_eq!(
            plan.closes_loop(),
            plan.sense.watch == elbowroom::bring_up::Watch::SensorAndDrive
        );
        let mut session = Session::new(plan).unwrap();
        assert_eq!(session.stage(), "ready");
        assert!(matches!(
            session.report(Report::Moved),
            Err(error) if error.code() == Code::WrongReport
        ));
        assert_eq!(session.stage(), "ready");
        assert_eq!(BringUpError::Done.code(), Code::ProcedureDone);

        joint.hold_sensor(2.0);
        assert_eq!(joint.hand(), 2.0);
        assert_eq!(joint.what_moves(), Answer::Joint);
        let [lower, _] = joint.contacts();
        assert_eq!(joint.what_is_met(Side::Lower, lower - 2.0), Answer::Stop);
    }

    #[test]
    fn a_session_becomes_equal_to_another_in_the_memory_that_it_has() {
        let Rehearsal { plan, .. } = Rehearsal::healthy(1).unwrap();
        let (mut one, mut other) = (Session::new(plan).unwrap(), Session::new(plan).unwrap());
        one.stop();
        assert_ne!(one, other);
        other.copy_from(&one);
        assert_eq!(one, other);
    }

    #[test]
    fn each_question_lists_the_answers_that_it_has() {
        let toward = Side::Upper;
        let met = [Answer::Stop, Answer::Obstacle, Answer::DriveOnly, Answer::Nothing];
        assert_eq!(Question::Ready.answers(), [Answer::Done, Answer::No]);
        assert_eq!(Question::AttachDrive.answers(), [Answer::Done]);
        assert_eq!(
            Question::TurnSensor { toward, degrees: 9.0 }.answers(),
            [Answer::Done, Answer::AtStop]
        );
        assert_eq!(Question::WhatIsMet { toward, drive: 90.0 }.answers(), met);
        let stays = Question::StaysBehind {
            toward,
            drive: 90.0,
            by: 3.0,
        };
        assert_eq!(stays.answers(), [&met[..], &[Answer::Again]].concat());
    }

    #[test]
    fn a_sweep_visits_its_places_in_order() {
        let plan = SweepPlan::new([10.0, 70.0], 4).with_runs(2).with_run_in([4.0, 4.0]);
        let at = |index| {
            plan.place(index)
                .map(|place| (place.drive, place.toward, place.target, place.run))
        };
        let (up, down) = (Side::Upper, Side::Lower);
        assert_eq!(at(0), Some((10.0, up, 0, 0)));
        assert_eq!(at(3), Some((70.0, up, 3, 0)));
        assert_eq!(at(4), Some((70.0, down, 3, 0)));
        assert_eq!(at(6), Some((30.0, down, 1, 0)));
        assert_eq!(at(9), Some((30.0, up, 1, 1)));
        assert_eq!((at(15), at(16)), (Some((10.0, down, 0, 1)), None));
        let mut sweep = Sweep::new(plan).unwrap();
        let mut read = 0;
        while read < 3 {
            assert_eq!(sweep.done(), read);
            let report = match sweep.next() {
                Action::MoveTo { .. } => Report::Moved,
                Action::Wait { .. } => Report::Waited,
                _ => Report::Reading {
                    value: 500.0,
                    load: None,
                },
            };
            read += u32::from(sweep.report(report).unwrap().is_some());
        }
        assert_eq!(sweep.done(), 3);
        let one_way = |legs| plan.with_legs(legs).place(5).unwrap();
        assert_eq!((one_way(Legs::Up).drive, one_way(Legs::Up).run), (30.0, 1));
        assert_eq!((one_way(Legs::Down).drive, one_way(Legs::Down).toward), (50.0, down));
    }

    #[test]
    fn a_search_says_which_stop_it_seeks() {
        for (toward, clear, search_limit, inner) in [(Side::Upper, 50.0, 90.0, 38.0), (Side::Lower, 50.0, 10.0, 62.0)] {
            let bracket = BracketPlan::new(toward, clear, search_limit).with_step(2.0);
            let plan = StopSearchPlan::new(bracket, inner).with_run_in(4.0);
            assert_eq!(StopSearch::new(plan).unwrap().toward(), toward);
        }
    }

    #[test]
    fn a_detached_sensor_reads_where_the_hand_holds_it() {
        let mut record = VirtualRecord::usual(super::joint(), [10.0, 75.0]);
        record.noise = 0.0;
        let mut joint = VirtualJoint::new(record, 40.0, 1);
        assert_eq!(joint.place(), 40.0);
        joint.hold_sensor(6.0);
        let attached = joint.read();
        joint.detach(true);
        // The hand is where the joint is until it turns the sensor.
        assert_eq!((joint.hand(), joint.read()), (0.0, attached));
        joint.hold_sensor(6.0);
        let turned = joint.read();
        assert!(
            (turned - attached - 30.0).abs() <= 1.0,
            "5 counts a degree: {attached} {turned}"
        );
        joint.detach(false);
        assert_eq!((joint.hand(), joint.read(), joint.place()), (0.0, attached, 40.0));
        joint.move_to(50.0, 20.0);
        joint.wait(5.0);
        assert!((joint.place() - 50.0).abs() < 3.0, "{}", joint.place());
    }

    #[test]
    fn with_stops_felt_there_is_more_overtravel() {
        let plan = BenchPlan::new(90.0, [20.0, 160.0]);
        let felt = plan.with_stops_felt();
        assert_eq!((plan.feel_stops, plan.overtravel), (false, 5.0));
        assert_eq!((felt.feel_stops, felt.overtravel), (true, 8.0));
        assert_eq!(felt.tolerance, plan.tolerance);
    }

    #[test]
    fn a_new_sense_test_has_no_samples() {
        assert_eq!(SenseTest::new(SensePlan::default()).unwrap().samples().count(), 0);
    }
}

mod tables {
    use elbowroom::fit::{Approach, ContactMark, FitOptions, Readings, fit_limits};
    use elbowroom::robot::{DriveUnit, Evidence, ReadingColumns, Refit, Table, TableOptions};

    #[test]
    fn cells_and_numbers_of_a_table() {
        let text = "drive;raw;joint\n10,5;300;wing\n20;310;neck\n";
        let options = TableOptions::default()
            .with_separator(Some(';'))
            .with_decimal(Some(','));
        let table = Table::parse(text.as_bytes().to_vec(), options).unwrap();
        assert!(table.has_header() && table.cell(1, 2) == "neck");
        assert_eq!(
            table.headings().iter().map(|h| h.is_of_counts()).collect::<Vec<_>>(),
            [false, true, false]
        );
        let wing = [("joint".to_owned(), "wing".to_owned())];
        assert_eq!(table.matching(&wing).unwrap(), [0]);
        assert_eq!(table.numbers_where("drive", &wing).unwrap(), [10.5]);
        let error = table.matching(&[("joint".to_owned(), "tail".to_owned())]).unwrap_err();
        assert!(
            error
                .in_file("beetle.csv")
                .starts_with("beetle.csv: no row has joint=tail"),
            "{error}"
        );
        // In the order of the alphabet, whatever that of the rows.
        assert!(error.to_string().ends_with("there are joint = neck, wing"), "{error}");
        // The nearest name, and of many names how many more there are.
        let rows: String = (0..24).map(|i| format!("{i},{i},joint_{i}x\n")).collect();
        let text = format!("drive,measured,joint\n{rows}24,24,jaw\n");
        let table = Table::parse(text.into_bytes(), TableOptions::default()).unwrap();
        let refused = |name: &str| {
            let only = [("joint".to_owned(), name.to_owned())];
            table.matching(&only).unwrap_err().to_string()
        };
        assert_eq!(refused("jw"), "no row has joint=jw; the nearest is joint=jaw");
        let said = refused("tail");
        assert!(
            said.starts_with("no row has joint=tail; there are joint = jaw, joint_0x, ")
                && said.ends_with(" and 17 more"),
            "{said}"
        );
    }

    #[test]
    fn sides_and_marks_are_read_as_they_are_written() {
        let sides = [Approach::Below, Approach::Above];
        let marks = [ContactMark::Lower, ContactMark::Upper];
        let mut text = "drive,measured,approach,contact\n".to_owned();
        for (side, mark) in sides.iter().zip(marks) {
            text.push_str(&format!("1,2,{},{}\n", side.as_str().unwrap(), mark.as_str().unwrap()));
        }
        text.push_str("1,2,,\n");
        let table = Table::parse(text.into_bytes(), TableOptions::default()).unwrap();
        let read = table.readings(&ReadingColumns::default(), &[]).unwrap();
        assert_eq!(read.approach.unwrap(), [sides[0], sides[1], Approach::Unknown]);
        assert_eq!(read.contact.unwrap(), [marks[0], marks[1], ContactMark::None]);
        assert_eq!((Approach::Unknown.as_str(), ContactMark::None.as_str()), (None, None));
    }

    #[test]
    fn drive_units_go_both_ways() {
        let joint = super::joint();
        let (servo, timer) = (joint.servo(), joint.timer());
        for (unit, at_90) in [
            (DriveUnit::Deg, 90.0),
            (DriveUnit::Us, 1500.0),
            (DriveUnit::Ms, 1.5),
            // 1500 of 20,000 us, 4096 counts.
            (DriveUnit::Counts, 307.2),
        ] {
            assert!((unit.from_deg(90.0, servo, timer) - at_90).abs() < 1e-9);
            assert!((unit.to_deg(at_90, servo, timer) - 90.0).abs() < 1e-9);
        }
    }

    #[test]
    fn evidence_of_a_rehearsal_is_marked_and_goes_with_a_refit() {
        let x: Vec<f64> = (0..10).map(f64::from).collect();
        let fit = fit_limits(&Readings::new(&x, &x), &FitOptions::default()).unwrap();
        let mut evidence = Evidence::from_fit(&fit, None);
        assert!(!evidence.is_rehearsed());
        evidence.instrument = Some(Evidence::VIRTUAL.to_owned());
        assert!(evidence.is_rehearsed());
        assert_eq!(Refit::new(&fit).with_evidence(&evidence).evidence, Some(&evidence));
    }
}

/// Batches by fused products, which wide processors take, have the bits of the single calls.
#[test]
fn fused_batches_have_the_bits_of_single_calls() {
    for inverted in [false, true] {
        let mut record = JointRecord::new(
            [-41.3, 62.7],
            [37.9, 122.1],
            10.0,
            ServoRecord {
                angle: [0.0, 180.0],
                pulse_us: [503.0, 2497.0],
            },
            TimerRecord {
                frame_hz: 50.0,
                counts_per_frame: 4096,
            },
        );
        record.inverted = inverted;
        let joint = Joint::new(record).unwrap();
        let commands: Vec<f64> = (0..4001).map(|i| -70.0 + 0.037 * f64::from(i)).collect();
        let bits = |values: &[f64]| values.iter().map(|v| v.to_bits()).collect::<Vec<u64>>();
        let drives: Vec<f64> = commands.iter().map(|c| joint.drive(*c).unwrap().value).collect();
        let pulses: Vec<f64> = commands.iter().map(|c| joint.pulse_us(*c).unwrap().value).collect();
        let mut out = vec![0.0; commands.len()];
        joint.drive_batch_fused(&commands, &mut out).unwrap();
        assert_eq!(bits(&out), bits(&drives));
        joint.pulse_us_batch_fused(&commands, &mut out).unwrap();
        assert_eq!(bits(&out), bits(&pulses));
        out.copy_from_slice(&commands);
        joint.drive_in_place_fused(&mut out).unwrap();
        assert_eq!(bits(&out), bits(&drives));
        out.copy_from_slice(&commands);
        joint.pulse_us_in_place_fused(&mut out).unwrap();
        assert_eq!(bits(&out), bits(&pulses));
        out[7] = f64::NAN;
        assert!(joint.drive_in_place_fused(&mut out).is_err());
    }
}

/// Rounding commanded the servo 0.2 deg beyond the end of its range, which a bring-up asked never to pass.
#[test]
fn a_count_for_a_drive_angle_stays_within_the_servo() {
    for (pulse_us, frame_hz, counts_per_frame) in [
        ([520.0, 2480.0], 50.0, 4096),
        ([500.0, 2500.0], 50.0, 4096),
        ([800.0, 2200.0], 333.0, 4096),
        ([500.0, 2500.0], 50.0, 65536),
    ] {
        let servo = ServoRecord {
            angle: [0.0, 180.0],
            pulse_us,
        };
        let timer = TimerRecord {
            frame_hz,
            counts_per_frame,
        };
        let joint = Joint::new(JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer)).unwrap();
        let step = 1e6 / (frame_hz * f64::from(counts_per_frame)) * 180.0 / (pulse_us[1] - pulse_us[0]);
        for drive in [-10.0, 0.0, 0.01, 90.0, 179.99, 180.0, 200.0] {
            let (count, commanded) = joint.counts_from_drive(drive).unwrap();
            assert!(
                (-1e-9..=180.0 + 1e-9).contains(&commanded),
                "{pulse_us:?}: {drive} {commanded}"
            );
            assert!(
                (commanded - drive.clamp(0.0, 180.0)).abs() < step,
                "{drive} {commanded}"
            );
            assert_eq!(count.clamped.travel, !(0.0..=180.0).contains(&drive));
        }
    }
    // A timer of a count a millisecond has none within.
    let servo = ServoRecord {
        angle: [0.0, 180.0],
        pulse_us: [1400.0, 1600.0],
    };
    let timer = TimerRecord {
        frame_hz: 50.0,
        counts_per_frame: 20,
    };
    if let Ok(joint) = Joint::new(JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer)) {
        assert_eq!(joint.counts_from_drive(0.0).unwrap().0.value, 1);
    }
}
