//! What a calibration leaves behind: its readings named and hashed, and the calibrations before it.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may panic"
)]

use elbowroom::bring_up::LoopSense;
use elbowroom::fit::{FitOptions, LimitFit, Readings, fit_limits};
use elbowroom::robot::{
    Check, Date, DriveUnit, EntryRecord, Evidence, Meaning, MeasuredAs, Robot, Rule, Source, SourceState, sha256,
};
use elbowroom::{JointRecord, Servo, ServoRecord, TimerRecord};
use std::fmt::Write as _;

const SERVO: ServoRecord<f64> = ServoRecord {
    angle: [0.0, 180.0],
    pulse_us: [500.0, 2500.0],
};
const TIMER: TimerRecord<f64> = TimerRecord {
    frame_hz: 50.0,
    counts_per_frame: 4096,
};

/// Invented: both stops met, in drive 40 to 120.
fn fit(shift: f64) -> LimitFit {
    let drive: Vec<f64> = (0..40).map(|i| 30.0 + 2.5 * f64::from(i)).collect();
    let measured: Vec<f64> = drive
        .iter()
        .enumerate()
        .map(|(i, x)| x.clamp(40.0 + shift, 120.0) - 80.0 + 0.05 * (i as f64 * 7.1).sin())
        .collect();
    fit_limits(&Readings::new(&drive, &measured), &FitOptions::default()).unwrap()
}

fn source(bytes: &[u8]) -> Source {
    Source {
        file: "readings/neck.csv".to_owned(),
        sha256: sha256(bytes),
        rows: vec![
            ("side".to_owned(), "left".to_owned()),
            ("run".to_owned(), String::new()),
        ],
        columns: vec![("drive".to_owned(), "command_us".to_owned())],
        drive_unit: DriveUnit::Us,
        servo: Servo::new([-90.0, 90.0], [600.0, 2400.0]).ok(),
        measured_unit: Some("deg".to_owned()),
        measured_as: MeasuredAs::default()
            .with_wrap(Some(360.0))
            .with_arc_radius(Some(120.0))
            .with_flipped(true),
        time_unit: Some("ms".to_owned()),
        separator: Some(';'),
        decimal: Some(','),
        resolution: Some(0.1),
        confidence: Some(0.9),
    }
}

fn evidence(fit: &LimitFit, date: Option<Date>, bytes: &[u8]) -> Evidence {
    let mut evidence = Evidence::from_fit(fit, date);
    evidence.source = Some(source(bytes));
    evidence.by = Some("A. \"Heron\" <b>".to_owned());
    evidence.instrument = Some("inclinometer, 0.1 deg".to_owned());
    evidence.supply_v = Some(6.0);
    evidence.temperature_c = Some(-3.5);
    evidence.map_off = Some(-14.4);
    evidence
}

fn day(year: u16, month: u8, day: u8) -> Option<Date> {
    Date::new(year, month, day)
}

fn neck() -> EntryRecord {
    EntryRecord::from_fit("neck", &fit(0.0), day(2024, 11, 20), SERVO, TIMER).unwrap()
}

fn round_trip(record: &EntryRecord) -> Robot {
    let mut robot = Robot::new("heron").unwrap();
    robot.put(record).unwrap();
    assert_eq!(&robot.joint("neck").unwrap().record().history, &record.history);
    assert_eq!(&robot.joint("neck").unwrap().record().evidence, &record.evidence);
    Robot::parse(robot.to_toml()).unwrap()
}

#[test]
fn a_source_and_who_took_it_come_back_as_they_were() {
    let mut record = neck();
    assert!(record.apply_fit_with(&fit(0.0), evidence(&fit(0.0), day(2026, 11, 20), b"a")));
    let read = round_trip(&record);
    let found = read.joint("neck").unwrap().evidence();
    assert_eq!(found.source, Some(source(b"a")));
    assert_eq!((found.supply_v, found.temperature_c), (Some(6.0), Some(-3.5)));
    assert_eq!(found.map_off, Some(-14.4));
    // Written again, nothing moves.
    let mut again = read.clone();
    again.put(&read.joint("neck").unwrap().record()).unwrap();
    assert_eq!(again.to_toml(), read.to_toml());
}

#[test]
fn earlier_evidence_moves_to_the_history_and_a_second_fit_of_the_same_readings_does_not() {
    let mut record = neck();
    let first = record.evidence.clone();
    assert!(record.apply_fit_with(&fit(0.3), evidence(&fit(0.3), day(2025, 11, 20), b"a")));
    assert_eq!(record.history, std::slice::from_ref(&first));
    // The same readings, fitted again on another day.
    assert!(record.apply_fit_with(&fit(0.3), evidence(&fit(0.3), day(2025, 12, 1), b"a")));
    assert_eq!(record.history, std::slice::from_ref(&first));
    // Others on the same day, and once more, and then without a date.
    for bytes in [b"b", b"c", b"d"] {
        assert!(record.apply_fit_with(&fit(0.6), evidence(&fit(0.6), day(2025, 12, 1), bytes)));
    }
    let mut undated = evidence(&fit(0.6), None, b"e");
    undated.by = None;
    assert!(record.apply_fit_with(&fit(0.6), undated));
    assert!(record.apply_fit(&fit(0.7), day(2026, 1, 1)));
    let read = round_trip(&record);
    let history = read.joint("neck").unwrap().history();
    let dates: Vec<_> = history.iter().map(|evidence| evidence.date).collect();
    let december = day(2025, 12, 1);
    assert_eq!(dates, [day(2024, 11, 20), december, december, december, december, None]);
    for key in ["2025-12-01 = {", "2025-12-01-2 = {", "2025-12-01-4 = {", "undated = {"] {
        assert!(read.to_toml().contains(key), "{key}\n{}", read.to_toml());
    }
    // A joint of which nothing was measured has nothing to keep.
    let mut fresh = neck();
    fresh.evidence = Evidence::default();
    fresh.renew(first);
    assert!(fresh.history.is_empty());
}

#[test]
fn a_hundred_calibrations_are_a_hundred_lines() {
    let mut record = neck();
    for i in 0..100u16 {
        let bytes = i.to_le_bytes();
        let date = day(2027 + i / 12, u8::try_from(i % 12 + 1).unwrap(), 7);
        assert!(record.apply_fit_with(&fit(0.0), evidence(&fit(0.0), date, &bytes)));
    }
    let read = round_trip(&record);
    assert_eq!(read.joint("neck").unwrap().history().len(), 100);
    assert!(read.to_toml().lines().count() < 130, "{}", read.to_toml());
    let of_history = |line: &&str| line.starts_with("20");
    assert_eq!(read.to_toml().lines().filter(of_history).count(), 100);
}

#[test]
fn readings_that_are_missing_or_changed_are_found() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::create_dir(folder.path().join("readings")).unwrap();
    let table = folder.path().join("readings/neck.csv");
    std::fs::write(&table, b"a").unwrap();
    let mut record = neck();
    assert!(record.apply_fit_with(&fit(0.0), evidence(&fit(0.0), day(2026, 11, 20), b"a")));
    let robot = round_trip(&record);
    let rules = |robot: &Robot| {
        let sources = robot.sources(folder.path());
        let state = sources.state(&source(b"a")).cloned().unwrap();
        let found = Check::new().with_sources(&sources).run(robot).findings;
        let told: Vec<_> = found
            .into_iter()
            .filter(|finding| matches!(finding.rule, Rule::SourceMissing | Rule::SourceChanged))
            .collect();
        (state, told)
    };
    let (state, told) = rules(&robot);
    assert_eq!((state, told.len()), (SourceState::Unchanged, 0));

    std::fs::write(&table, b"A").unwrap();
    let (state, told) = rules(&robot);
    assert_eq!(state, SourceState::Changed { sha256: sha256(b"A") });
    assert_eq!(told.len(), 1);
    assert_eq!(
        (told[0].rule, told[0].joint.as_deref()),
        (Rule::SourceChanged, Some("neck"))
    );
    assert!(told[0].message.contains("readings/neck.csv") && told[0].message.contains("2026-11-20"));

    std::fs::remove_file(&table).unwrap();
    let (state, told) = rules(&robot);
    assert!(matches!(state, SourceState::Missing { .. }));
    assert_eq!(told[0].rule, Rule::SourceMissing);
    // Of the history too: the same table, other bytes since.
    assert!(record.apply_fit_with(&fit(0.5), evidence(&fit(0.5), day(2027, 11, 20), b"b")));
    std::fs::write(&table, b"b").unwrap();
    let robot = round_trip(&record);
    let (_, told) = rules(&robot);
    assert_eq!(told.len(), 1);
    assert!(told[0].message.contains("2026-11-20"), "{}", told[0].message);
    // Whoever looks at no disk is told of none.
    assert!(
        Check::new()
            .run(&robot)
            .findings
            .iter()
            .all(|finding| finding.rule != Rule::SourceChanged)
    );
}

#[test]
fn a_history_or_source_that_cannot_be_read_is_refused_at_its_place() {
    let mut text = "format = 1
servo = { angle = [0, 180], pulse_us = [500, 2500], assumed = true }
timer = { frame_hz = 50, counts_per_frame = 4096 }
[joint.neck]
command = [-40, 60]
drive = [37, 122]
rest = 10
"
    .to_owned();
    let assumed = Robot::parse(&text).unwrap().joint("neck").unwrap().assumed();
    assert!(assumed.servo && !assumed.timer);
    let hash = sha256(b"");
    for (more, line, says) in [
        ("[joint.neck.history]\n2025-13-40 = { readings = 3 }", 9, "2025-11-20"),
        ("[joint.neck.history]\n2025-11-20 = { date = 2025-11-20 }", 9, "date"),
        ("[joint.neck.history]\n2025-11-20 = { redings = 3 }", 9, "readings"),
        ("[joint.neck.evidence]\nsource = { file = \"a.csv\" }", 9, "sha256"),
        (
            "[joint.neck.evidence]\nsource = { file = \"a.csv\", sha256 = \"12\" }",
            9,
            "64",
        ),
        (
            "[joint.neck.evidence]\nsource = { file = \"a.csv\", sha256 = \"HASH\", columns = { angle = \"x\" } }",
            9,
            "angle",
        ),
        (
            "[joint.neck.evidence]\nsource = { file = \"a.csv\", sha256 = \"HASH\", separator = \"ab\" }",
            9,
            "separator",
        ),
        ("[joint.neck.evidence]\nsupply_v = -1", 9, "supply_v"),
        (
            "[joint.neck.evidence]\nsource = { file = \"a.csv\", sha256 = \"HASH\", servo = { angle = [0, 180] } }",
            9,
            "pulse_us",
        ),
        (
            "[joint.neck.evidence]\nsource = { file = \"a.csv\", sha256 = \"HASH\", servo = { angel = [0, 180] } }",
            9,
            "angle",
        ),
        (
            "[joint.neck.evidence]\nsource = { file = \"a.csv\", sha256 = \"HASH\", servo = { angle = [180, 0], pulse_us = [500, 2500] } }",
            9,
            "servo.angle",
        ),
        (
            "[joint.neck.evidence]\nsource = { file = \"a.csv\", sha256 = \"HASH\", servo = { angle = [0, 180], pulse_us = [0.5, 2.5] } }",
            9,
            "milliseconds",
        ),
        (
            "[joint.neck.evidence]\nsource = { file = \"a.csv\", sha256 = \"HASH\", servo = 180 }",
            9,
            "servo",
        ),
    ] {
        let faulty = format!("{text}{}\n", more.replace("HASH", &hash));
        let error = Robot::parse(&faulty).unwrap_err();
        assert_eq!(error.line(), Some(line), "{error}");
        assert!(error.to_string().contains(says), "{error}");
    }
    // Numbers in place of assumed ones were given.
    let mut robot = Robot::parse(&text).unwrap();
    let mut record = robot.joint("neck").unwrap().record();
    record.joint.servo.pulse_us = [600.0, 2400.0];
    robot.put(&record).unwrap();
    assert!(!robot.joint("neck").unwrap().assumed().servo);
    // A joint of its own that says so.
    let _ = writeln!(
        text,
        "timer = {{ frame_hz = 60, counts_per_frame = 4096, assumed = true }}"
    );
    assert!(Robot::parse(&text).unwrap().joint("neck").unwrap().assumed().timer);
}

/// A file may say `assumed = false`; a record that assumes the numbers says so there.
#[test]
fn numbers_assumed_again_are_written_so() {
    let text = r#"format = 1
[joint.neck]
command = [-40, 60]
drive = [37, 122]
rest = 10
servo = { angle = [0, 180], pulse_us = [500, 2500], assumed = false }
timer = { frame_hz = 50, counts_per_frame = 4096 }
"#;
    let mut robot = Robot::parse(text).unwrap();
    let mut record = robot.joint("neck").unwrap().record();
    assert!(!record.assumed.servo);
    record.assumed.servo = true;
    robot.put(&record).unwrap();
    assert!(robot.joint("neck").unwrap().assumed().servo, "{robot}");
    assert!(
        Robot::parse(&robot.to_string())
            .unwrap()
            .joint("neck")
            .unwrap()
            .assumed()
            .servo
    );
}

#[test]
fn a_first_joint_stands_under_its_own_name_only() {
    let mut robot = Robot::parse("format = 1\n").unwrap();
    let record = JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, SERVO, TIMER);
    robot.put(&EntryRecord::new("wing", record)).unwrap();
    let text = robot.to_string();
    assert!(text.contains("[joint.wing]") && !text.contains("[joint]"), "{text}");
}

/// A joint whose commands begin or end at 0 rests there, and one that does not reach 0 midway.
#[test]
fn a_joint_rests_at_zero_wherever_that_is_a_command() {
    let drive: Vec<f64> = (0..41).map(|step| 10.0 + 2.0 * f64::from(step)).collect();
    let record = |zero: f64| {
        let measured: Vec<f64> = drive.iter().map(|d| d - zero).collect();
        let fit = fit_limits(&Readings::new(&drive, &measured), &FitOptions::default()).unwrap();
        EntryRecord::from_fit("wing", &fit, None, SERVO, TIMER).unwrap()
    };
    let [lower, upper] = record(0.0).joint.command;
    for (zero, rest) in [
        (lower, 0.0),
        (upper, 0.0),
        (50.0, 0.0),
        (lower - 4.0, 0.5 * (upper - lower) + 4.0),
        (upper + 4.0, 0.5 * (lower - upper) - 4.0),
    ] {
        let joint = record(zero).joint;
        assert!((joint.command[0] - (lower - zero)).abs() < 1e-3, "{:?}", joint.command);
        assert!((joint.rest - rest).abs() < 2e-3, "{zero}: {}", joint.rest);
    }
}

/// Commands in another unit with the numbers of the first mean something else, and it is told which numbers would keep their meaning.
#[test]
fn another_unit_without_other_numbers_is_told_with_those_that_keep_the_meaning() {
    let text = |unit: &str, command: &str| {
        format!(
            "format = 1\ntimer = {{ frame_hz = 50, counts_per_frame = 4096 }}\nservo = {{ angle = [0, 180], pulse_us = [500, 2500] }}\n\
             [joint.neck]\nunit = \"{unit}\"\ncommand = {command}\ndrive = [45, 135]\nrest = 0\n"
        )
    };
    let robot = |unit: &str, command: &str| Robot::parse(&text(unit, command)).unwrap();
    let old = robot("deg", "[-45, 90]");
    let told = robot("rad", "[-45, 90]").changed_meanings(&old);
    let [changed] = &told[..] else { panic!("{told:?}") };
    let unit = ["deg", "rad"].map(str::to_owned);
    assert_eq!(changed.meaning, Meaning::Unit { unit, command: 90.0 });
    let (key, command) = &changed.keeps[0];
    assert_eq!(*key, "command");
    let quarter = core::f64::consts::FRAC_PI_2;
    assert!(
        (command[0] + quarter / 2.0).abs() < 1e-4 && (command[1] - quarter).abs() < 1e-4,
        "{command:?}"
    );
    let converted = format!("[{}, {}]", command[0], command[1]);
    assert_eq!(robot("rad", &converted).changed_meanings(&old), []);
}

/// A sense holds for the commands and readings that it was tested with: turned round against each other, they need another test.
#[test]
fn a_sense_is_not_kept_by_a_joint_that_is_turned_round() {
    const WING: &str = "format = 1\ntimer = { frame_hz = 50, counts_per_frame = 4096 }\nservo = { angle = [0, 180], pulse_us = [500, 2500] }\n\
        [joint.wing]\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\nfeedback = { reading = [212, 871], angle = [-40, 60] }\n\
        evidence = { date = 2026-11-20, sense = \"opposing\", sense_date = 2026-10-02, readings = 42 }\n";
    let old = Robot::parse(WING).unwrap();
    let sense = |robot: &Robot| {
        let evidence = robot.joint("wing").unwrap().evidence().clone();
        (evidence.sense, evidence.sense_date.is_some(), evidence.readings)
    };
    let kept = (Some(LoopSense::Opposing), true, Some(42));
    let set = |values: &[(&str, &str)]| {
        let mut robot = old.clone();
        robot.set_values(values.iter().copied()).unwrap();
        robot
    };
    // The commands alone, by name and by record; the readings alone.
    let mut put = old.clone();
    let mut record = old.joint("wing").unwrap().record();
    record.joint.inverted = true;
    put.put(&record).unwrap();
    let by_name = set(&[("wing.inverted", "true")]);
    assert_eq!(put.to_toml(), by_name.to_toml());
    for turned in [put, by_name, set(&[("wing.feedback.inverted", "true")])] {
        assert_eq!(sense(&turned), (None, false, Some(42)));
        let told = turned.changed_meanings(&old);
        let told = told
            .iter()
            .find(|one| matches!(one.meaning, Meaning::Sense { .. }))
            .unwrap();
        assert_eq!(
            told.to_string(),
            "joint wing: commands now run with the feedback's readings the other way, so that sense = \"opposing\" is taken out of its \
             evidence; take the load off and test the sense again"
        );
    }
    // Turned back, nothing has been tested.
    let mut back = set(&[("wing.inverted", "true")]);
    back.set_value("wing.inverted", "false").unwrap();
    assert_eq!(sense(&back), (None, false, Some(42)));
    // Neither, and a sense that is given for the joint as it is now, in either order.
    assert_eq!(sense(&set(&[("wing.rest", "12")])), kept);
    let given = ("wing.evidence.sense", "aiding");
    for values in [[given, ("wing.inverted", "true")], [("wing.inverted", "true"), given]] {
        assert_eq!(sense(&set(&values)).0, Some(LoopSense::Aiding));
    }
    // Both together keep the loop: the record has them in one change.
    let mut both = old.joint("wing").unwrap().record();
    both.joint.inverted = true;
    both.joint.feedback.as_mut().unwrap().inverted = true;
    let mut robot = old.clone();
    robot.put(&both).unwrap();
    assert_eq!(sense(&robot), kept);
}
