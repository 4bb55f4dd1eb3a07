//! Curved transmissions and linkages as part of a joint.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::block::{self, BlockError};
use elbowroom::curve::SlopeRule;
use elbowroom::linkage::{Branch, LinkageError, MechanismKind};
use elbowroom::{
    Code, FeedbackRecord, Joint, JointError, JointRecord, Real, ServoRecord, Side, TimerRecord, TransmissionRecord,
};

fn record<T: Real>(transmission: TransmissionRecord<T>) -> JointRecord<T> {
    let n = T::from_wide;
    let servo = ServoRecord {
        angle: [n(0.0), n(180.0)],
        pulse_us: [n(500.0), n(2500.0)],
    };
    let timer = TimerRecord {
        frame_hz: n(50.0),
        counts_per_frame: 4096,
    };
    let mut record = JointRecord::new([n(0.0), n(90.0)], [n(37.0), n(122.0)], n(45.0), servo, timer);
    record.transmission = transmission;
    record
}

fn every_kind<T: Real>() -> [TransmissionRecord<T>; 6] {
    let n = T::from_wide;
    [
        TransmissionRecord::Linear {},
        TransmissionRecord::Curve {
            knots: vec![[n(0.0), n(37.0)], [n(30.0), n(45.0)], [n(90.0), n(122.0)]],
            rule: SlopeRule::Parabola,
        },
        TransmissionRecord::Triangle {
            base: n(40.0),
            arm: n(92.0),
            angle_at_zero: n(31.0),
        },
        TransmissionRecord::SliderCrank {
            crank: n(60.0),
            rod: n(150.0),
            offset: n(5.0),
            slide_at_zero: n(100.0),
            branch: Branch::Right,
        },
        TransmissionRecord::FourBar {
            crank: n(20.0),
            coupler: n(60.0),
            rocker: n(18.0),
            ground: n(62.0),
            rocker_at_zero: n(50.0),
            branch: Branch::Left,
        },
        TransmissionRecord::Spool {
            drum: n(8.0),
            per_turn: n(1.5),
            pulley: n(20.0),
        },
    ]
}

fn chain_holds<T: Real + serde::Serialize + serde::de::DeserializeOwned>() {
    for transmission in every_kind::<T>() {
        for inverted in [false, true] {
            let mut written = record(transmission.clone());
            written.inverted = inverted;
            if let (TransmissionRecord::Curve { knots, .. }, true) = (&mut written.transmission, inverted) {
                knots
                    .iter_mut()
                    .for_each(|knot| knot[1] = T::from_wide(159.0) - knot[1]);
            }
            let joint = Joint::new(written.clone()).unwrap();
            let kind = transmission.kind();
            assert_eq!(joint.transmission().kind(), kind);

            // Exact ends, whatever the mechanism.
            let drive = |command: f64| joint.drive(T::from_wide(command)).unwrap();
            let (first, last) = if inverted { (122.0, 37.0) } else { (37.0, 122.0) };
            assert_eq!(drive(0.0).value, T::from_wide(first), "{kind}");
            assert_eq!(drive(90.0).value, T::from_wide(last), "{kind}");
            assert_eq!(drive(200.0).value, T::from_wide(last), "{kind}");
            assert!(drive(200.0).clamped.command);
            // One at a time, many at once, and back.
            let commands: Vec<T> = (-10..=100).map(|c| T::from_wide(f64::from(c))).collect();
            let (mut many, mut counts) = (vec![T::zero(); commands.len()], vec![0u16; commands.len()]);
            joint.drive_batch(&commands, &mut many).unwrap();
            joint.counts_batch_u16(&commands, &mut counts).unwrap();
            for ((&command, &drive), &count) in commands.iter().zip(&many).zip(&counts) {
                assert_eq!(joint.drive(command).unwrap().value, drive, "{kind}");
                assert_eq!(joint.counts(command).unwrap().value, u32::from(count), "{kind}");
                let back = joint.command_from_drive(drive);
                let inside = joint.command_range().clamp(command);
                assert!(
                    (back - inside).abs().to_wide() < 1e3 * T::epsilon().to_wide() * 90.0,
                    "{kind}: {back} for {inside}"
                );
            }
            assert!(joint.command_from_drive(T::nan()).is_nan());

            // What is written comes back: as a record, and through text.
            assert_eq!(joint.record().transmission, written.transmission);
            let text = serde_json::to_string(&joint).unwrap();
            assert_eq!(serde_json::from_str::<Joint<T>>(&text).unwrap(), joint, "{text}");
            assert_eq!(text.contains("\"transmission\""), kind != "linear");
        }
    }
}

#[test]
fn every_kind_serves_a_joint() {
    chain_holds::<f64>();
    chain_holds::<f32>();
}

#[test]
fn linkages_in_single_are_those_in_double_rounded() {
    for (wide, single) in every_kind::<f64>().into_iter().zip(every_kind::<f32>()).skip(2) {
        let (wide, single) = (Joint::new(record(wide)).unwrap(), Joint::new(record(single)).unwrap());
        for tenth in 0..=900i16 {
            let command = f32::from(tenth) / 10.0;
            let want = wide.drive(f64::from(command)).unwrap().value as f32;
            assert_eq!(single.drive(command).unwrap().value, want);
        }
    }
}

/// No kind turns into another one, least of all into a straight line, on its way between the number types.
#[test]
fn every_kind_stays_itself_in_the_other_number_type() {
    for (wide, narrow) in every_kind::<f64>().into_iter().zip(every_kind::<f32>()) {
        assert_eq!(wide.clone().map(|x| x as f32), narrow);
        let record = record(wide);
        let joint = Joint::new(record.clone().map(|x| x as f32)).unwrap();
        assert_eq!(joint.transmission().kind(), record.transmission.kind());
        // All of these numbers are exact in either type.
        assert_eq!(record.clone().map(|x| x as f32).map(f64::from), record);
    }
    // A length that no mechanism has is refused.
    let drum = TransmissionRecord::Spool {
        drum: 1.1e9,
        per_turn: 0.0,
        pulley: 2e9,
    };
    let wide = record(drum);
    let refused = Joint::new(wide).unwrap_err();
    assert_eq!(refused.code(), Code::TransmissionInvalid);
    assert!(
        refused.to_string().contains("lengths from 1e-6 to 1e9 can be computed"),
        "{refused}"
    );
}

/// Every column of a feedback is carried over.
#[test]
fn feedback_keeps_all_its_numbers_in_the_other_number_type() {
    let mut feedback = FeedbackRecord::new([212.0, 871.0], [0.0, 95.0]);
    feedback.inverted = true;
    feedback.adc_bits = Some(10);
    feedback.wrap_deg = Some(360.0);
    feedback.pot_ohm = Some(5000.0);
    feedback.load_ohm = Some(1e5);
    feedback.supply_v = Some(3.25);
    feedback.knots = Some(vec![[212.0, 0.0], [540.0, 45.0], [871.0, 95.0]]);
    let narrow = feedback.clone().map(|x| x as f32);
    assert_eq!(narrow.knots.as_ref().unwrap()[1], [540.0_f32, 45.0]);
    assert_eq!(narrow.map(f64::from), feedback);
}

/// Words stand once: those that serde writes are those that files are read by.
#[test]
fn branches_and_rules_have_one_word_each() {
    for branch in Branch::ALL {
        assert_eq!(serde_json::to_value(branch).unwrap(), branch.as_str());
    }
    for rule in SlopeRule::ALL {
        assert_eq!(serde_json::to_value(rule).unwrap(), rule.as_str());
    }
    for side in Side::ALL {
        assert_eq!(serde_json::to_value(side).unwrap(), side.as_str());
        assert_eq!(side.opposite().sign(), -side.sign());
    }
}

/// The table, the mechanisms and the words that serde writes are of one mind.
#[test]
fn kinds_stand_in_one_table() {
    let mechanisms: Vec<_> = every_kind::<f64>().iter().filter_map(|kind| kind.mechanism()).collect();
    assert_eq!(mechanisms.len(), MechanismKind::ALL.len());
    for (number, (kind, mechanism)) in (2..).zip(MechanismKind::ALL.iter().zip(mechanisms)) {
        assert_eq!((kind.number, kind.word), (number, mechanism.kind()));
        assert_eq!(MechanismKind::of_number(kind.number).unwrap().word, kind.word);
        assert_eq!(mechanism.form().number, kind.number);
        assert_eq!(mechanism.branch().is_some(), kind.has_branch);
        // Put together the other way it is the same but for its branch.
        let mut turned = mechanism;
        let other = mechanism.branch().map(Branch::other);
        assert_eq!(turned.set_branch(other.unwrap_or(Branch::Right)), kind.has_branch);
        assert_eq!(turned.branch(), other);
        assert_eq!(turned == mechanism, !kind.has_branch);
        let written = serde_json::to_value(TransmissionRecord::<f64>::from(&mechanism)).unwrap();
        let mut keys: Vec<_> = written.as_object().unwrap().keys().map(String::as_str).collect();
        let mut known = kind.keys.to_vec();
        keys.sort_unstable();
        known.sort_unstable();
        assert_eq!(keys, known);
        assert_eq!(written["kind"], kind.word);
        // From its numbers in order comes the mechanism again; a number left out makes none.
        let numbers: Vec<f64> = mechanism.numbers().map(|(_, value)| value).collect();
        let branch = mechanism.branch().unwrap_or(Branch::Left);
        assert_eq!(kind.with(&numbers, branch), mechanism);
        let short = kind.with(&numbers[1..], branch);
        assert!(matches!(short.check([0.0, 90.0]), Err(LinkageError::NotFinite { .. })));
        // Each dimension that must be above zero is refused at 0, and only these for their sign.
        for dimension in kind.dimensions {
            let mut none = mechanism;
            assert!(none.set_dimension(dimension.name, 0.0));
            let refused = matches!(none.check([0.0, 90.0]), Err(LinkageError::NotPositive { what, .. }) if what == dimension.name);
            assert_eq!(refused, dimension.above_zero, "{} {}", kind.word, dimension.name);
        }
    }
}

#[test]
fn curves_end_where_the_joint_does() {
    let knots = |first: [f64; 2]| TransmissionRecord::Curve {
        knots: vec![first, [30.0, 45.0], [90.0, 122.0]],
        rule: SlopeRule::default(),
    };
    let refused = |t| Joint::new(record(t)).unwrap_err();
    let error = refused(knots([0.0, 38.0]));
    assert_eq!(error.code(), Code::TransmissionInvalid);
    assert_eq!(
        error.to_string(),
        "transmission's first knot is [0, 38], but the joint's command and drive end at [0, 37]; make them the same"
    );
    assert!(matches!(refused(knots([1.0, 37.0])), JointError::CurveEnd { .. }));
    assert_eq!(
        refused(knots([0.0, 46.0])).to_string(),
        "transmission: knot 2 has value 122 after 45; the values of a curve must all rise or all fall: measure it again or leave it out"
    );
    let mut inverted = record(knots([0.0, 37.0]));
    inverted.inverted = true;
    assert!(matches!(Joint::new(inverted).unwrap_err(), JointError::CurveEnd { .. }));
}

#[test]
fn unknown_words_and_dead_centres_are_refused() {
    let of = |transmission: &str| {
        let text = format!(
            r#"{{"command":[0.0,90.0],"drive":[37.0,122.0],"rest":45.0,"servo":{{"angle":[0.0,180.0],"pulse_us":[500.0,2500.0]}},
                "timer":{{"frame_hz":50.0,"counts_per_frame":4096}},"transmission":{transmission}}}"#
        );
        serde_json::from_str::<Joint<f64>>(&text)
    };
    assert!(of(r#"{"kind":"triangle","base":40.0,"arm":92.0,"angle_at_zero":31.0}"#).is_ok());
    assert!(of(r#"{"kind":"curve","knots":[[0.0,37.0],[90.0,122.0]]}"#).is_ok());
    assert!(of(r#"{"kind":"curve","knots":[[0.0,37.0],[90.0,122.0]],"rule":"harmonic-chord"}"#).is_ok());
    for wrong in [
        r#"{"kind":"triangle","base":40.0,"arm":92.0,"angle_at_zero":31.0,"angle":1.0}"#,
        r#"{"kind":"linear","near":40.0}"#,
        r#"{"kind":"triangel","base":40.0,"arm":92.0,"angle_at_zero":31.0}"#,
        r#"{"kind":"triangle","base":40.0,"arm":92.0}"#,
        r#"{"kind":"four-bar","crank":20,"coupler":60,"rocker":18,"ground":62,"rocker_at_zero":50,"branch":"up"}"#,
    ] {
        assert!(of(wrong).is_err(), "{wrong}");
    }
    let dead = TransmissionRecord::Triangle {
        base: 40.0,
        arm: 92.0,
        angle_at_zero: 100.0,
    };
    let error = Joint::new(record(dead)).unwrap_err();
    assert!(matches!(
        error,
        JointError::Linkage(LinkageError::DeadCentreInside { at, .. }) if at == 80.0
    ));
    assert_eq!(error.code(), Code::TransmissionInvalid);
}

#[test]
fn blocks_hold_curves_and_say_what_they_cannot_hold() {
    let joints: Vec<Joint<f32>> = [
        (SlopeRule::Parabola, false),
        (SlopeRule::MeanChord, true),
        (SlopeRule::HarmonicChord, false),
    ]
    .into_iter()
    .map(|(rule, inverted)| {
        let drives = [37.0, 45.5, 46.0, 99.25, 122.0];
        let knots = [0.0, 17.3, 30.0, 71.7, 90.0].into_iter().zip(drives);
        let mut written = record(TransmissionRecord::Curve {
            knots: knots
                .map(|(c, d)| if inverted { [c, 159.0 - d] } else { [c, d] })
                .collect(),
            rule,
        });
        written.inverted = inverted;
        Joint::new(written).unwrap()
    })
    .chain([Joint::new(record(TransmissionRecord::Linear {})).unwrap()])
    .collect();
    let channels = [9u16, 2, 4, 3];
    let numbered: Vec<(u16, &Joint<f32>)> = channels.into_iter().zip(&joints).collect();
    let image = block::to_vec(&numbered).unwrap();
    assert_eq!(image.len(), 16 + 4 * 88 + 15 * 12 + 4);
    let read = block::Block::new(&image[..]).unwrap();
    for (channel, joint) in numbered {
        let part = read.joint(channel).unwrap();
        assert_eq!(
            Joint::new(part.record().unwrap()).unwrap().transmission(),
            joint.transmission()
        );
        let mut command = -3.0f32;
        while command < 95.0 {
            let (mine, theirs) = (joint.counts(command).unwrap(), part.counts(command).unwrap());
            assert_eq!(mine, theirs, "{channel} at {command}");
            let (mine, theirs) = (joint.drive(command).unwrap().value, part.drive(command).unwrap().value);
            assert_eq!(mine.to_bits(), theirs.to_bits());
            let drive = command;
            let (mine, theirs) = (joint.command_from_drive(drive), part.command_from_drive(drive));
            assert_eq!(mine.to_bits(), theirs.to_bits(), "{channel} back from {drive}");
            command += 0.0371;
        }
        assert!(part.command_from_drive(f32::NAN).is_nan());
    }

    let joint = Joint::new(record(every_kind::<f32>()[2].clone())).unwrap();
    let refused = block::to_vec(&[(3, &joint)]).unwrap_err();
    assert_eq!(
        refused,
        BlockError::Transmission {
            channel: 3,
            kind: "triangle"
        }
    );
    assert_eq!(refused.code(), Code::TransmissionInvalid);
}

/// The board's curve beside the linkage, at places that the sampling did not look at.
#[test]
fn blocks_hold_curves_in_the_place_of_linkages_and_loaded_feedback() {
    for (index, transmission) in every_kind::<f64>().into_iter().enumerate() {
        let kind = transmission.kind();
        for inverted in [false, true] {
            let mut written = record(transmission.clone());
            if index == 1 && inverted {
                continue;
            }
            written.inverted = inverted;
            let mut feedback = FeedbackRecord::new([112.0, 971.0], [-10.0, 95.0]);
            feedback.inverted = !inverted;
            (feedback.adc_bits, feedback.pot_ohm, feedback.load_ohm) = (Some(10), Some(10e3), Some(22e3));
            written.feedback = Some(feedback);
            let joint = Joint::new(written).unwrap();
            assert!(joint.to_f32(3).is_err());
            let sampled = joint.for_block(3).unwrap();
            assert_eq!(sampled.transmission.is_some(), index > 1, "{kind}");
            let within_deg = sampled.transmission.map_or(4e-5, |(knots, within_deg)| {
                assert!(
                    knots <= 32 && within_deg <= 0.01,
                    "{kind}: {knots} knots, {within_deg} deg"
                );
                within_deg
            });
            let (knots, reading_within_deg) = sampled.feedback.unwrap();
            assert!(
                knots <= 32 && reading_within_deg <= 0.01,
                "{knots} knots, {reading_within_deg} deg"
            );

            let image = joint.to_block(3).unwrap();
            let block = block::Block::new(&image[..]).unwrap();
            let board = block.joint(3).unwrap();
            assert_eq!(Joint::from_block(&image, 3).unwrap().to_block(3).unwrap(), image);
            assert_eq!(sampled.joint.to_block(3).unwrap(), image);
            for i in 0..=20_011 {
                let command = 90.0 * (i as f32 / 20_011.0);
                let found = f64::from(board.drive(command).unwrap().value);
                let off = (found - joint.drive(command.into()).unwrap().value).abs();
                assert!(off <= within_deg, "{kind} at {command}: {off} deg");
                let reading = 112.0 + 859.0 * (i as f32 / 20_011.0);
                let found = f64::from(board.command_from_reading(reading).unwrap());
                let off = (found - joint.command_from_reading(reading.into()).unwrap()).abs();
                // The last step to the command rounds once more.
                assert!(off * 105.0 / 90.0 <= reading_within_deg + 2e-5, "{reading}: {off}");
            }
        }
    }
}

#[test]
fn what_no_curve_comes_near_is_refused() {
    // A winch of 2,777 turns: an f32 has no hundredth of a degree there.
    let mut written = record(every_kind::<f64>()[5].clone());
    (written.servo.angle, written.drive) = ([0.0, 1e6], [5.0, 999_999.0]);
    let error = Joint::new(written).unwrap().for_block(5).unwrap_err();
    assert!(matches!(error, BlockError::TooBent { channel: 5, .. }), "{error}");
    assert_eq!(error.code(), Code::TransmissionInvalid);
}
