//! How often two files of one robot, measured anew and unchanged, are said to differ. All numbers are invented.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::Code;
use elbowroom::fit::CompareOptions;
use elbowroom::robot::{Agreement, Robot, RobotComparison, compare};
use rand::SeedableRng;
use rand_distr::{Distribution, Normal};
use rand_xorshift::XorShiftRng;
use std::fmt::Write as _;

const JOINTS: usize = 16;
/// Standard uncertainty of each contact, deg.
const U: f64 = 0.2;

/// A robot whose contacts are measured anew, those of the first joint off by so much.
fn robot(rng: &mut XorShiftRng, off: f64) -> Robot {
    let normal = Normal::new(0.0, U).unwrap();
    let mut text =
        "format = 1\ntimer = { frame_hz = 50, counts_per_frame = 4096 }\nservo = { angle = [0, 180], pulse_us = [500, 2500] }\n"
            .to_owned();
    for joint in 0..JOINTS {
        let off = if joint == 0 { off } else { 0.0 };
        let (lower, upper) = (35.0 + off + normal.sample(rng), 125.0 + normal.sample(rng));
        write!(
            text,
            "[joint.j{joint}]\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\n[joint.j{joint}.evidence]\n\
             lower = {{ kind = \"contact\", at = {lower}, u = {U} }}\nupper = {{ kind = \"contact\", at = {upper}, u = {U} }}\n"
        )
        .unwrap();
    }
    Robot::parse(&text).unwrap()
}

fn pairs(off: f64) -> Vec<RobotComparison> {
    (0..400)
        .map(|seed| {
            let mut rng = XorShiftRng::seed_from_u64(seed);
            let (old, new) = (robot(&mut rng, 0.0), robot(&mut rng, off));
            compare(&old, &new, &CompareOptions::default().with_smallest_drive(0.0)).unwrap()
        })
        .collect()
}

/// 32 contacts, each judged by itself at 5 %, call four of five unchanged robots changed.
#[test]
fn at_most_one_in_twenty_unchanged_robots_is_called_changed() {
    let all = pairs(0.0);
    let each = |found: &RobotComparison| {
        let mut differences = found.joints.iter().flat_map(|joint| &joint.differences);
        differences.any(|difference| difference.e_n.is_some_and(|e_n| e_n.abs() > 1.0))
    };
    assert!(all.iter().filter(|found| each(found)).count() > 250);
    let count = all.iter().filter(|found| found.is_changed()).count();
    // 5 % of 400, exceeded once in a hundred times (binomial).
    assert!(count <= 31, "{count}");
    // The change stated is found nine times in ten.
    let detectable = all[0].joints[0].differences[0].detectable.unwrap();
    let found = pairs(detectable).iter().filter(|found| found.is_changed()).count();
    println!("{count} of 400 unchanged, {found} of 400 changed by {detectable:.3}");
    assert!((340..=390).contains(&found), "{found}");
}

/// What is surely another and too small to matter is said, and raises no alarm.
#[test]
fn a_change_smaller_than_matters_is_negligible() {
    let text = |at: f64| {
        format!(
            "format = 1\ntimer = {{ frame_hz = 50, counts_per_frame = 4096 }}\nservo = {{ angle = [0, 180], pulse_us = [500, 2500] }}\n\
             [joint.j]\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\n[joint.j.evidence]\nupper = {{ kind = \"contact\", at = {at}, u = 0.02 }}\n"
        )
    };
    let [old, new] = [124.4, 124.7].map(|at| Robot::parse(&text(at)).unwrap());
    let of = |smallest: f64| compare(&old, &new, &CompareOptions::default().with_smallest_drive(smallest)).unwrap();
    assert_eq!(of(0.5).joints[0].differences[0].agreement, Agreement::Negligible);
    assert!(!of(0.5).is_changed() && of(0.2).is_changed());
    let refused = compare(&old, &new, &CompareOptions::default().with_smallest_drive(-1.0)).unwrap_err();
    assert_eq!(refused.code(), Code::OptionOutside);
}

const FILE: &str = r#"format = 1
name = "Heron"
timer = { frame_hz = 50, counts_per_frame = 4096 }
servo = { angle = [0, 180], pulse_us = [500, 2500] }
[board.main]
channels = 16
[joint.wing]
board = "main"
channel = 3
unit = "deg"
command = [-40, 60]
drive = [37, 122]
rest = 10
max_rate_per_s = 90
[joint.wing.evidence]
date = 2026-05-04
readings = 31
"#;

/// Each key that is written otherwise is told by its name with both values; a later day says nothing of the joint.
#[test]
fn each_key_written_otherwise_is_told() {
    let old = Robot::parse(FILE).unwrap();
    let of = |new: &str| compare(&old, &Robot::parse(new).unwrap(), &CompareOptions::default()).unwrap();
    assert!(of(FILE).joints.iter().all(|joint| joint.differences.is_empty()));
    for (from, to, what, agreement) in [
        ("channel = 3", "channel = 4", "channel", Agreement::Changed),
        ("unit = \"deg\"", "unit = \"steps\"", "unit", Agreement::Changed),
        ("board = \"main\"\n", "", "board", Agreement::Changed),
        ("rest = 10", "rest = 11", "rest", Agreement::Changed),
        (
            "max_rate_per_s = 90",
            "max_rate_per_s = 80",
            "max_rate_per_s",
            Agreement::Changed,
        ),
        (
            "drive = [37, 122]",
            "drive = [37, 121]",
            "drive upper",
            Agreement::Changed,
        ),
        (
            "drive = [37, 122]",
            "drive = [37, 122]\ninverted = true",
            "inverted",
            Agreement::Changed,
        ),
        ("2026-05-04", "2026-06-04", "evidence date", Agreement::Noted),
        ("readings = 31", "readings = 40", "evidence readings", Agreement::Noted),
    ] {
        assert!(FILE.contains(from), "{from}");
        let found = of(&FILE.replace(from, to));
        let differences = &found.joints[0].differences;
        let Some(told) = differences.iter().find(|told| told.what == what) else {
            panic!("{to}: {differences:?}")
        };
        assert_eq!(told.agreement, agreement, "{to}: {told:?}");
        assert!(told.old.is_some() && told.old != told.new, "{told:?}");
        assert_eq!(found.is_changed(), agreement == Agreement::Changed, "{to}");
    }
}

/// What a sensor is made of, and how many channels a board has.
#[test]
fn each_key_of_a_sensor_and_a_board_is_told() {
    const SENSOR: &str = "feedback = { reading = [200, 900], angle = [-40, 60], adc_bits = 10, pot_ohm = 10000, load_ohm = 100000, supply_v = 5 }\n";
    let text = FILE.replace("max_rate_per_s = 90\n", SENSOR);
    let old = Robot::parse(&text).unwrap();
    for (from, to, what) in [
        ("reading = [200", "reading = [201", "feedback reading lower"),
        ("60], adc", "61], adc", "feedback angle upper"),
        ("adc_bits = 10", "adc_bits = 12", "feedback adc_bits"),
        ("pot_ohm = 10000", "pot_ohm = 20000", "feedback pot_ohm"),
        ("load_ohm = 100000", "load_ohm = 200000", "feedback load_ohm"),
        ("supply_v = 5", "supply_v = 3.3", "feedback supply_v"),
        ("channels = 16", "channels = 8", "board main channels"),
    ] {
        assert!(text.contains(from), "{from}");
        let new = Robot::parse(&text.replace(from, to)).unwrap();
        let found = compare(&old, &new, &CompareOptions::default()).unwrap();
        let all = found
            .joints
            .iter()
            .flat_map(|joint| &joint.differences)
            .chain(&found.robot);
        let told: Vec<&str> = all.map(|told| told.what.as_str()).collect();
        assert_eq!(told, [what], "{to}");
        assert!(found.is_changed());
    }
    // A sensor that may turn on and on.
    let wraps = "feedback = { reading = [200, 484.444444], angle = [-40, 60], adc_bits = 10, wrap_deg = 360 }\n";
    let [with, without] = [wraps, &wraps.replace(", wrap_deg = 360", "")]
        .map(|sensor| Robot::parse(&FILE.replace("max_rate_per_s = 90\n", sensor)).unwrap());
    let found = compare(&with, &without, &CompareOptions::default()).unwrap();
    assert_eq!(found.joints[0].differences[0].what, "feedback wrap_deg");
}

/// How a curve has its slopes, and how grave a finding is, are statements as well.
#[test]
fn rules_written_otherwise_are_told() {
    let text = |rule: &str, severity: &str| {
        let curve = format!(
            "transmission = {{ kind = \"curve\", knots = [[-40, 37], [0, 60], [60, 122]], rule = \"{rule}\" }}\n"
        );
        let file = FILE.replace("max_rate_per_s = 90\n", &curve);
        Robot::parse(&format!(
            "{file}[check]\nraise = {{ evidence-stale = \"{severity}\" }}\n"
        ))
        .unwrap()
    };
    let told = |new: &Robot| {
        let found = compare(&text("parabola", "error"), new, &CompareOptions::default()).unwrap();
        let of_joints = found.joints.into_iter().flat_map(|joint| joint.differences);
        let all: Vec<String> = of_joints.chain(found.robot).map(|told| told.what).collect();
        all
    };
    assert!(told(&text("parabola", "error")).is_empty());
    assert_eq!(told(&text("harmonic-chord", "error")), ["transmission rule"]);
    assert_eq!(told(&text("parabola", "warning")), ["check raise evidence-stale"]);
}
