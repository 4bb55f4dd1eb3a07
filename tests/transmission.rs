//! Curved transmissions and linkages as part of a joint.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::block::{self, BlockError};
use elbowroom::curve::SlopeRule;
use elbowroom::linkage::{LinkageError, Side};
use elbowroom::{Code, Joint, JointError, JointRecord, Real, ServoRecord, TimerRecord, TransmissionRecord};

fn record<T: Real>(transmission: TransmissionRecord<T>) -> JointRecord<T> {
    let n = T::from_wide;
    let servo = ServoRecord {
        angle: [n(0.0), n(180.0)],
        pulse_us: [n(500.0), n(2500.0)],
    };
    let timer = TimerRecord {
        frame_hz: n(50.0),
        counts: 4096,
    };
    let mut record = JointRecord::new([n(0.0), n(90.0)], [n(5.0), n(80.0)], n(45.0), servo, timer);
    record.transmission = transmission;
    record
}

fn every_kind<T: Real>() -> [TransmissionRecord<T>; 6] {
    let n = T::from_wide;
    [
        TransmissionRecord::Linear {},
        TransmissionRecord::Curve {
            knots: vec![[n(0.0), n(5.0)], [n(30.0), n(12.0)], [n(90.0), n(80.0)]],
            rule: SlopeRule::Parabola,
        },
        TransmissionRecord::Triangle {
            near: n(40.0),
            far: n(92.0),
            angle_at_zero: n(31.0),
        },
        TransmissionRecord::CrankSlider {
            crank: n(60.0),
            rod: n(150.0),
            offset: n(5.0),
            slide_at_zero: n(100.0),
            side: Side::Right,
        },
        TransmissionRecord::FourBar {
            horn: n(20.0),
            rod: n(60.0),
            lever: n(18.0),
            ground: n(62.0),
            lever_at_zero: n(50.0),
            side: Side::Left,
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
                knots.iter_mut().for_each(|knot| knot[1] = T::from_wide(85.0) - knot[1]);
            }
            let joint = Joint::new(written.clone()).unwrap();
            let kind = transmission.kind();
            assert_eq!(joint.transmission().kind(), kind);

            // Exact ends, whatever the mechanism.
            let drive = |command: f64| joint.drive(T::from_wide(command)).unwrap();
            let (first, last) = if inverted { (80.0, 5.0) } else { (5.0, 80.0) };
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

#[test]
fn curves_end_where_the_joint_does() {
    let knots = |first: [f64; 2]| TransmissionRecord::Curve {
        knots: vec![first, [30.0, 12.0], [90.0, 80.0]],
        rule: SlopeRule::default(),
    };
    let refused = |t| Joint::new(record(t)).unwrap_err();
    let error = refused(knots([0.0, 6.0]));
    assert_eq!(error.code(), Code::TransmissionUnfit);
    assert_eq!(
        error.to_string(),
        "transmission's first knot is [0, 6], but the joint's command and drive end at [0, 5]; make them the same"
    );
    assert!(matches!(refused(knots([1.0, 5.0])), JointError::CurveEnd { .. }));
    assert_eq!(
        refused(knots([0.0, 13.0])).to_string(),
        "transmission: knot 2 has value 80 after 12; the values of a curve must all rise or all fall: measure it again or leave it out"
    );
    let mut inverted = record(knots([0.0, 5.0]));
    inverted.inverted = true;
    assert!(matches!(Joint::new(inverted).unwrap_err(), JointError::CurveEnd { .. }));
}

#[test]
fn unknown_words_and_dead_centres_are_refused() {
    let of = |transmission: &str| {
        let text = format!(
            r#"{{"command":[0.0,90.0],"drive":[5.0,80.0],"rest":45.0,"servo":{{"angle":[0.0,180.0],"pulse_us":[500.0,2500.0]}},
                "timer":{{"frame_hz":50.0,"counts":4096}},"transmission":{transmission}}}"#
        );
        serde_json::from_str::<Joint<f64>>(&text)
    };
    assert!(of(r#"{"kind":"triangle","near":40.0,"far":92.0,"angle_at_zero":31.0}"#).is_ok());
    assert!(of(r#"{"kind":"curve","knots":[[0.0,5.0],[90.0,80.0]]}"#).is_ok());
    assert!(of(r#"{"kind":"curve","knots":[[0.0,5.0],[90.0,80.0]],"rule":"harmonic-chord"}"#).is_ok());
    for wrong in [
        r#"{"kind":"triangle","near":40.0,"far":92.0,"angle_at_zero":31.0,"angle":1.0}"#,
        r#"{"kind":"linear","near":40.0}"#,
        r#"{"kind":"triangel","near":40.0,"far":92.0,"angle_at_zero":31.0}"#,
        r#"{"kind":"triangle","near":40.0,"far":92.0}"#,
        r#"{"kind":"four-bar","horn":20,"rod":60,"lever":18,"ground":62,"lever_at_zero":50,"side":"up"}"#,
    ] {
        assert!(of(wrong).is_err(), "{wrong}");
    }
    let dead = TransmissionRecord::Triangle {
        near: 40.0,
        far: 92.0,
        angle_at_zero: 100.0,
    };
    let error = Joint::new(record(dead)).unwrap_err();
    assert!(matches!(
        error,
        JointError::Linkage(LinkageError::DeadCentreInside { at, .. }) if at == 80.0
    ));
    assert_eq!(error.code(), Code::TransmissionUnfit);
}

#[test]
fn blocks_say_what_they_cannot_hold() {
    let joint = Joint::new(record(every_kind::<f32>()[2].clone())).unwrap();
    let refused = block::to_vec(&[(3, &joint)]).unwrap_err();
    assert_eq!(
        refused,
        BlockError::Transmission {
            channel: 3,
            kind: "triangle"
        }
    );
    assert_eq!(refused.code(), Code::TransmissionUnfit);
}
