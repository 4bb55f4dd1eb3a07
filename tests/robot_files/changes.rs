//! What a change writes, and what it leaves alone.

use super::FILE;
use elbowroom::robot::{Date, EndEvidence, EntryRecord, Evidence, EvidenceKind, FileFault, LARGEST_NUMBER, Robot};
use elbowroom::{Code, JointRecord, ServoRecord, TimerRecord, TransmissionRecord};
use proptest::prelude::*;

/// A text whose wing is wrong in the line that was added, at a column.
#[track_caller]
fn is_refused(text: &str, column: usize, says: &str) {
    let error = Robot::parse(text).unwrap_err();
    assert_eq!(
        (error.line(), error.column(), error.joint()),
        (Some(18), Some(column), Some("wing_left")),
        "{error}"
    );
    assert!(error.to_string().contains(says), "{error}");
}

#[test]
fn a_change_touches_its_values_only() {
    let mut robot = Robot::parse(FILE).unwrap();
    let mut record = robot.joint("wing_left").unwrap().record();
    record.joint.travel = Some([39.25, 98.5]);
    record.joint.drive = [37.0, 123.5];
    record.evidence.lower.as_mut().unwrap().at = 37.1;
    record.evidence.date = Date::new(2026, 11, 25);
    robot.put(&record).unwrap();
    let expected = FILE
        .replace("[39.3, 98.5]", "[39.25, 98.5]")
        .replace("[ 37,  122 ]", "[ 37,  123.5 ]")
        .replace("at = 37.2", "at = 37.1")
        .replace("2026-11-20", "2026-11-25");
    assert_eq!(robot.to_toml(), expected);

    // Putting back what was read changes nothing, for any joint.
    for name in ["wing_left", "wing_right"] {
        let record = robot.joint(name).unwrap().record();
        robot.put(&record).unwrap();
        assert_eq!(robot.to_toml(), expected);
    }
}

#[test]
fn every_transmission_is_read_and_written() {
    let line = |transmission: &str| {
        FILE.replacen(
            "max_rate_per_s = 60\n",
            &format!("max_rate_per_s = 60\ntransmission = {{ {transmission} }}  # mm\n"),
            1,
        )
    };
    #[rustfmt::skip]
    let kinds = [
        ("linear", "kind = \"linear\""),
        ("curve", "kind = \"curve\", knots = [[-40, 37], [10, 80.5], [60, 122]]"),
        ("curve", "kind = \"curve\", knots = [[-40, 37], [10, 80.5], [60, 122]], rule = \"harmonic-chord\""),
        ("spool", "kind = \"spool\", drum = 8, per_turn = 0.5, pulley = 20"),
    ];
    for (kind, written) in kinds {
        let text = line(written);
        let mut robot = Robot::parse(&text).unwrap_or_else(|error| panic!("{error}"));
        let record = robot.joint("wing_left").unwrap().record();
        assert_eq!(record.joint.transmission.kind(), kind);
        robot.put(&record).unwrap();
        assert_eq!(robot.to_toml(), text, "put back unchanged");
        let mut other = Robot::parse(FILE).unwrap();
        other.put(&record).unwrap();
        assert_eq!(
            other.joint("wing_left").unwrap().joint(),
            robot.joint("wing_left").unwrap().joint()
        );
        // And back to a line.
        let mut record = record;
        record.joint.transmission = elbowroom::TransmissionRecord::default();
        other.put(&record).unwrap();
        assert_eq!(other.to_toml(), FILE);
    }
    for (broken, column, says) in [
        (
            "kind = \"triangel\", base = 1",
            25,
            "write one of linear, curve, triangle",
        ),
        ("base = 1", 1, "kind is missing"),
        ("kind = \"spool\", drum = 8, per_turn = 0.5", 1, "pulley is missing"),
        (
            "kind = \"spool\", drum = 8, per_turn = 0.5, puley = 2",
            60,
            "unknown key \"puley\"; write pulley",
        ),
        ("kind = \"curve\", knots = [[-40, 37], [10]]", 42, "knots is the array"),
        (
            "kind = \"curve\", knots = [[-40, 37], [60, 123]]",
            16,
            "make them the same",
        ),
        (
            "kind = \"triangle\", base = -1, arm = 2, angle_at_zero = 10",
            16,
            "base is -1",
        ),
        (
            "kind = \"four-bar\", crank = 1, coupler = 1, rocker = 1, ground = 1, rocker_at_zero = 1, branch = \"up\"",
            114,
            "left, right",
        ),
    ] {
        is_refused(&line(broken), column, says);
    }
}

#[test]
fn feedback_is_read_and_written() {
    let line = |feedback: &str| {
        FILE.replacen(
            "max_rate_per_s = 60\n",
            &format!("max_rate_per_s = 60\nfeedback = {{ {feedback} }}  # pot\n"),
            1,
        )
    };
    for written in [
        "reading = [212, 871], angle = [0, 95], adc_bits = 10",
        "reading = [212, 871], angle = [0, 95], inverted = true, supply_v = 3.3",
        "reading = [212, 871], angle = [0, 95], adc_bits = 10, pot_ohm = 5000, load_ohm = 100000",
        "reading = [212, 871], angle = [0, 95], knots = [[212, 0], [540, 45.5], [871, 95]]",
    ] {
        let text = line(written);
        let mut robot = Robot::parse(&text).unwrap_or_else(|error| panic!("{error}"));
        let mut record = robot.joint("wing_left").unwrap().record();
        robot.put(&record).unwrap();
        assert_eq!(robot.to_toml(), text, "put back unchanged");
        let mut other = Robot::parse(FILE).unwrap();
        other.put(&record).unwrap();
        assert_eq!(
            other.joint("wing_left").unwrap().joint(),
            robot.joint("wing_left").unwrap().joint()
        );
        record.joint.feedback = None;
        other.put(&record).unwrap();
        assert_eq!(other.to_toml(), FILE);
    }
    for (broken, column, says) in [
        ("reading = [212, 871]", 1, "angle is missing"),
        ("reading = [871, 212], angle = [0, 95]", 12, "ends swapped"),
        (
            "reading = [212, 871], angle = [0, 95], adc_bit = 10",
            53,
            "write adc_bits",
        ),
        (
            "reading = [212, 1871], angle = [0, 95], adc_bits = 10",
            12,
            "outside 0 to 1023",
        ),
        (
            "reading = [212, 871], angle = [0, 95], pot_ohm = 5000",
            12,
            "needs feedback.load_ohm",
        ),
    ] {
        is_refused(&line(broken), column, says);
    }
}

#[test]
fn a_refused_change_leaves_the_robot_as_it_was() {
    let mut robot = Robot::parse(FILE).unwrap();
    let mut record = robot.joint("wing_left").unwrap().record();
    record.joint.rest = 999.0;
    let error = robot.put(&record).unwrap_err();
    assert_eq!((error.code(), error.joint()), (Code::RestOutside, Some("wing_left")));
    assert_eq!(robot, Robot::parse(FILE).unwrap());
}

#[test]
fn a_new_joint_comes_last_and_inherits_what_is_equal() {
    let mut robot = Robot::parse(FILE).unwrap();
    let servo = ServoRecord {
        angle: [0.0, 180.0],
        pulse_us: [500.0, 2500.0],
    };
    let timer = TimerRecord {
        frame_hz: 50.0,
        counts_per_frame: 4096,
    };
    let mut record = EntryRecord::new(
        "neck tilt",
        JointRecord::new([-1.0, 1.0], [10.0, 70.0], 0.0, servo, timer),
    );
    record.evidence = Evidence {
        upper: Some(EndEvidence {
            kind: EvidenceKind::Clear,
            at: 70.0,
            short_at: None,
            u: None,
            guard: None,
        }),
        ..Evidence::default()
    };
    robot.put(&record).unwrap();
    let added = robot.to_toml().strip_prefix(FILE).unwrap();
    assert_eq!(
        added,
        "\n[joint.\"neck tilt\"]\ncommand = [-1, 1]\ndrive = [10, 70]\nrest = 0\n\n[joint.\"neck tilt\".evidence]\nupper = { kind = \"clear\", at = 70 }\n"
    );
    assert_eq!(robot.joints().len(), 3);

    record.joint.timer.counts_per_frame = 65_536;
    robot.put(&record).unwrap();
    assert!(
        robot
            .to_toml()
            .contains("timer = { frame_hz = 50, counts_per_frame = 65536 }")
    );
    robot.remove("neck tilt").unwrap();
    assert_eq!(robot.to_toml(), FILE);
    assert!(
        matches!(robot.remove("wing_lefd").unwrap_err().fault(), FileFault::UnknownJoint { nearest: Some(n), .. } if n == "wing_left")
    );
}

#[test]
fn a_robot_grows_from_nothing() {
    let mut robot = Robot::new("heron").unwrap();
    let servo = ServoRecord {
        angle: [0.0, 180.0],
        pulse_us: [500.0, 2500.0],
    };
    let timer = TimerRecord {
        frame_hz: 50.0,
        counts_per_frame: 4096,
    };
    robot
        .put(&EntryRecord::new(
            "crest",
            JointRecord::new([0.0, 1.0], [10.0, 70.0], 0.0, servo, timer),
        ))
        .unwrap();
    assert_eq!(Robot::parse(robot.to_toml()).unwrap(), robot);
    assert!(Robot::new(" ").is_err());
    // The text of a file is no name.
    let refused = Robot::new(FILE).unwrap_err();
    assert_eq!(refused.code(), Code::WrongType);
    assert!(
        refused
            .to_string()
            .contains("name is a text with line ends or other control characters; write e.g. name = \"heron\""),
        "{refused}"
    );
}

/// Of every size, mostly of one that a file may hold.
fn number() -> impl Strategy<Value = f64> {
    prop_oneof![any::<f64>(), -1e12..1e12, -100.0..100.0]
}

proptest! {
    /// Any joint that is valid comes back from its text with the same bits.
    #[test]
    fn floats_come_back_to_the_bit(
        command in prop::array::uniform2(number()),
        drive in prop::array::uniform2(0.0..180.0f64),
        rest in number(),
        at in number(),
        u in 0.0..2e12,
        rate in number(),
    ) {
        let servo = ServoRecord { angle: [0.0, 180.0], pulse_us: [500.0, 2500.0] };
        let timer = TimerRecord { frame_hz: 50.0, counts_per_frame: 1 << 24 };
        let mut record = EntryRecord::new("j", JointRecord::new(command, drive, rest, servo, timer));
        record.joint.max_rate_per_s = Some(rate);
        record.evidence.lower = Some(EndEvidence { kind: EvidenceKind::Contact, at, short_at: None, u: Some(u), guard: Some(u) });
        let mut robot = Robot::new("r").unwrap();
        let direct = elbowroom::Joint::new(record.joint.clone());
        if robot.put(&record).is_ok() {
            let again = Robot::parse(robot.to_toml()).unwrap();
            let entry = again.joint("j").unwrap();
            let (back, direct) = (entry.joint().record(), direct.unwrap().record());
            let bits = |r: &JointRecord<f64>| {
                let mut all = vec![r.rest, r.max_rate_per_s.unwrap()];
                all.extend(r.command.iter().chain(&r.drive).chain(r.travel.iter().flatten()));
                all.into_iter().map(f64::to_bits).collect::<Vec<_>>()
            };
            prop_assert_eq!(bits(&back), bits(&direct));
            prop_assert_eq!(entry.evidence().lower.unwrap().at.to_bits(), at.to_bits());
            prop_assert_eq!(entry.evidence().lower.unwrap().u.unwrap().to_bits(), u.to_bits());
        } else {
            let largest = command.into_iter().chain([rest, at, u, rate]).map(f64::abs).fold(0.0, f64::max);
            prop_assert!(direct.is_err() || !at.is_finite() || largest > LARGEST_NUMBER);
        }
    }
}

#[test]
fn what_is_taken_out_leaves_its_comments() {
    for (line, kept) in [
        (
            "transmission = { kind = \"spool\", drum = 20, per_turn = 0, pulley = 20 }  # bent in May",
            "rest = 10 # idle\n# bent in May\n",
        ),
        (
            "# Bent.\n# In May.\ntransmission = { kind = \"spool\", drum = 20, per_turn = 0, pulley = 20 }",
            "rest = 10 # idle\n# Bent.\n# In May.\n",
        ),
        (
            "[joint.wing.transmission] # bent\nkind = \"spool\"\ndrum = 20 # mm\nper_turn = 0\npulley = 20",
            "rest = 10 # idle\n# bent\n# mm\n",
        ),
        (
            "\n# Bent.\n[joint.wing.transmission]\nkind = \"spool\"\ndrum = 20\nper_turn = 0\n# mm\npulley = 20",
            "rest = 10 # idle\n# Bent.\n# mm\n",
        ),
    ] {
        let text = format!(
            "format = 1\nservo = {{ angle = [0, 180], pulse_us = [500, 2500] }}\ntimer = {{ frame_hz = 50, counts_per_frame = 4096 }}\n\n\
             [joint.wing]\ncommand = [-40, 60]\ndrive = [37, 137]\nrest = 10 # idle\n{line}\n"
        );
        let mut robot = Robot::parse(&text).unwrap();
        let mut record = robot.joint("wing").unwrap().record();
        record.joint.transmission = TransmissionRecord::default();
        robot.put(&record).unwrap();
        assert!(robot.to_toml().ends_with(kept), "{}", robot.to_toml());
        assert_eq!(robot.joint("wing").unwrap().record(), record);
    }
}

#[test]
fn a_joint_put_onto_another_board_keeps_its_timer() {
    let text = "format = 1\nservo = { angle = [0, 180], pulse_us = [500, 2500] }\ntimer = { frame_hz = 50, counts_per_frame = 4096 }\n\
                board.fine = { timer = { counts_per_frame = 65536 } }\n\n\
                [joint.wing]\nboard = \"fine\"\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\n";
    let mut robot = Robot::parse(text).unwrap();
    let mut record = robot.joint("wing").unwrap().record();
    assert_eq!(record.joint.timer.counts_per_frame, 65_536);
    for board in [None, Some("fine"), Some("other"), Some("fine")] {
        record.board = board.map(str::to_owned);
        robot.put(&record).unwrap();
        assert_eq!(robot.joint("wing").unwrap().record(), record, "{board:?}");
    }
}
