//! What is read, and what is refused and where.

use super::FILE;
use elbowroom::Code;
use elbowroom::bring_up::LoopSense;
use elbowroom::robot::{Date, EndEvidence, EvidenceKind, FileError, LONGEST_TEXT, LostMotionEvidence, Robot};

#[test]
fn reads_everything_with_defaults_and_overrides() {
    let robot = Robot::parse(FILE).unwrap();
    assert_eq!(robot.name(), Some("heron"));
    let names: Vec<&str> = robot.joints().iter().map(|joint| joint.name()).collect();
    assert_eq!(names, ["wing_left", "wing_right"]);

    let left = robot.joint("wing_left").unwrap();
    assert_eq!((left.board(), left.channel()), (Some("breast"), Some(3)));
    assert_eq!(left.mirror_of(), Some("wing_right"));
    assert_eq!(left.line(), 10);
    assert_eq!(left.joint().counts(10.0).unwrap().value, 283);
    let evidence = left.evidence();
    assert_eq!(evidence.date, Date::new(2026, 11, 20));
    assert_eq!(evidence.sense, Some(LoopSense::Opposing));
    let lower = evidence.lower.unwrap();
    assert_eq!(
        (lower.kind, lower.at, lower.u, lower.guard),
        (EvidenceKind::Contact, 37.2, Some(0.2), Some(2.0))
    );
    assert_eq!(evidence.upper.unwrap().kind, EvidenceKind::Clear);
    assert_eq!(
        evidence.lost_motion,
        Some(LostMotionEvidence {
            value: 1.8,
            u: Some(0.15)
        })
    );
    assert_eq!(evidence.readings, Some(42));

    let right = robot.joint("wing_right").unwrap();
    assert!(right.joint().direction().is_inverted());
    assert_eq!(right.joint().servo().pulse_range_us().ends(), [600.0, 2400.0]);
    assert_eq!(
        right.joint().servo().angle_range().ends(),
        [0.0, 180.0],
        "the angle is the robot's"
    );
    assert_eq!(right.joint().timer().counts_per_frame(), 8192);
    assert_eq!(right.joint().travel().ends(), [37.0, 122.0], "travel left out is drive");
}

#[test]
fn a_board_has_a_timer_of_its_own() {
    let text = FILE.replace("channels = 16", "channels = 16\ntimer = { counts_per_frame = 2048 }");
    let robot = Robot::parse(&text).unwrap();
    let left = *robot.joint("wing_left").unwrap().joint().timer();
    assert_eq!((left.frame_hz(), left.counts_per_frame()), (50.0, 2048));
}

#[test]
fn a_stalled_end_keeps_both_its_angles_through_reading_editing_and_comparing() {
    let stalled = "upper = { kind = \"stalled\", at = 98.5, short_at = 104.5, guard = 0.0 }   # by hand";
    let text = FILE.replace("upper = { kind = \"clear\", at = 98.5 }", stalled);
    let mut robot = Robot::parse(&text).unwrap();
    let mut record = robot.joint("wing_left").unwrap().record();
    let upper = record.evidence.upper.unwrap();
    assert_eq!((upper.kind, upper.at), (EvidenceKind::Stalled, 98.5));
    assert_eq!((upper.short_at, upper.guard), (Some(104.5), Some(0.0)));
    robot.put(&record).unwrap();
    assert_eq!(robot.to_toml(), text);

    record.evidence.upper = Some(EndEvidence {
        short_at: Some(103.0),
        ..upper
    });
    let mut later = robot.clone();
    later.put(&record).unwrap();
    assert_eq!(later.to_toml(), text.replace("short_at = 104.5", "short_at = 103"));
    let found = elbowroom::robot::compare(&robot, &later, &elbowroom::fit::CompareOptions::default()).unwrap();
    let what: Vec<&str> = found.joints[0].differences.iter().map(|d| d.what.as_str()).collect();
    assert_eq!(what, ["evidence upper short_at"]);

    // Once the stop is placed the second angle goes.
    record.evidence.upper = Some(EndEvidence {
        kind: EvidenceKind::Contact,
        at: 101.2,
        short_at: None,
        u: Some(0.3),
        guard: Some(2.0),
    });
    later.put(&record).unwrap();
    assert!(
        later
            .to_toml()
            .contains("upper = { kind = \"contact\", at = 101.2, guard = 2")
    );
    assert!(!later.to_toml().contains("short_at"));
}

/// A change to the file, and the code, place and message it must be refused with.
#[test]
fn every_fault_is_named_with_its_place_and_remedy() {
    let long_name = "x".repeat(65);
    #[rustfmt::skip]
    let cases: &[(&str, &str, Code, usize, usize, &str)] = &[
        ("travel = [39.3, 98.5]", "travl = [39.3, 98.5]", Code::UnknownKey, 15, 1, "unknown key \"travl\"; write travel"),
        ("name = \"heron\"", "colour = 1", Code::UnknownKey, 3, 1, "unknown key \"colour\"; write one of format, "),
        ("frame_hz = 50,", "frame_khz = 50,", Code::UnknownKey, 4, 11, "write frame_hz"),
        ("at = 37.2", "ad = 37.2", Code::UnknownKey, 23, 29, "write at"),
        ("readings = 42", "reading = 42", Code::UnknownKey, 26, 1, "write readings"),
        ("channels = 16", "chanels = 16", Code::UnknownKey, 8, 1, "write channels"),
        ("rest = 10\nmax_rate", "max_rate", Code::MissingKey, 10, 8, "rest is missing; write e.g. rest = 10"),
        ("drive = [ 37,  122 ]", "", Code::MissingKey, 10, 8, "drive is missing"),
        ("format = 1", "", Code::MissingKey, 1, 1, "format is missing; write e.g. format = 1"),
        ("format = 1", "format = 2", Code::FormatTooNew, 2, 10, "format 2 is newer than format 1"),
        ("format = 1", "format = 0", Code::ValueOutside, 2, 10, "format is 0; it must be 1"),
        ("rest = 10\nmax_rate", "rest = \"10\"\nmax_rate", Code::WrongType, 16, 8, "rest is the text \"10\"; write e.g. rest = 10"),
        ("command = [-40, 60]\ndrive = [ ", "command = [-40, 10, 60]\ndrive = [ ", Code::WrongType, 13, 11, "command is the array [-40, 10, 60]"),
        ("command = [-40, 60]\ndrive = [ ", "command = [0, 1, 2, 3]\ndrive = [ ", Code::WrongType, 13, 11, "command is the array [0, 1, 2, 3]"),
        ("command = [-40, 60]\ndrive = [ ", "command = [0, 1, 2, 3, 4]\ndrive = [ ", Code::WrongType, 13, 11, "command is the array [0, 1, 2, 3, ...]"),
        ("channel = 3", "channel = -1", Code::ValueOutside, 12, 11, "channel is -1; it must be 0 to 65535"),
        ("channel = 3", "channel = 3.0", Code::WrongType, 12, 11, "channel is the number 3"),
        ("board = \"breast\"\nchannel = 3", "board = \" \"\nchannel = 3", Code::WrongType, 11, 9, "an empty text"),
        ("inverted = true", "inverted = \"yes\"", Code::WrongType, 33, 12, "is the text \"yes\"; write true or false"),
        ("2026-11-20", "\"2026-11-20\"", Code::WrongType, 21, 8, "without quotes"),
        ("2026-11-20", "2026-11-20T10:00:00", Code::WrongType, 21, 8, "without quotes"),
        ("\"opposing\"", "\"oposing\"", Code::UnknownWord, 22, 9, "sense is \"oposing\"; write one of opposing, aiding, undetermined"),
        ("kind = \"contact\"", "kind = \"touch\"", Code::UnknownWord, 23, 18, "contact, stalled, clear, declared"),
        ("\"clear\", at = 98.5", "\"stalled\", at = 98.5", Code::MissingKey, 24, 1, "short_at is missing; write e.g. upper = { kind = \"stalled\", at = 110, short_at = 120 }"),
        ("\"clear\", at = 98.5", "\"stalled\", at = 98.5, short_at = 98", Code::ValueOutside, 24, 51, "short_at is 98; it must be further out than at"),
        ("\"contact\", at = 37.2", "\"stalled\", at = 37.2, short_at = 38", Code::ValueOutside, 23, 51, "short_at is 38; it must be further out than at: less at the lower end"),
        ("\"clear\", at = 98.5", "\"stalled\", at = 98.5, short_at = nan", Code::ValueOutside, 24, 51, "short_at is not a number; it must be a finite number"),
        ("at = 98.5", "at = 98.5, short_at = 99", Code::ValueOutside, 24, 49, "it must be left out, as only kind = \"stalled\" has it"),
        ("u = 0.2,", "u = -0.2,", Code::ValueOutside, 23, 44, "u is -0.2"),
        ("at = 98.5", "at = inf", Code::ValueOutside, 24, 32, "at is infinite; it must be a finite number"),
        ("drive = [ 37,  122 ]", "drive = [ 122, 37 ]", Code::EndsSwapped, 14, 9, "write [37, 122]"),
        ("drive = [ 37,  122 ]", "drive = [ 37, 37 ]", Code::ZeroWidth, 14, 9, "has no width"),
        ("travel = [39.3, 98.5]", "travel = [39.3, nan]", Code::NotFinite, 15, 10, "travel is not a number"),
        ("travel = [39.3, 98.5]", "travel = [39.3, 181]", Code::OutsideServo, 15, 10, "travel upper 181 deg is outside"),
        ("rest = 10\nmax_rate", "rest = 70\nmax_rate", Code::RestOutside, 16, 8, "rest 70 is outside command -40 to 60"),
        ("max_rate_per_s = 60", "max_rate_per_s = 0", Code::NotPositive, 17, 18, "max_rate_per_s is 0"),
        ("counts_per_frame = 8192", "counts_per_frame = 0", Code::TimerInvalid, 36, 9, "timer.counts_per_frame is 0"),
        // Above the joint: in the file's own timer and servo, and in that of the board.
        ("frame_hz = 50", "frame_hz = 0", Code::NotPositive, 4, 9, "joint wing_left: timer.frame_hz is 0"),
        ("pulse_us = [500, 2500]", "pulse_us = [2500, 500]", Code::EndsSwapped, 5, 9, "joint wing_left: servo.pulse_us"),
        ("channels = 16", "channels = 16\ntimer = { counts_per_frame = 0 }", Code::TimerInvalid, 9, 9, "joint wing_left: timer.counts_per_frame is 0"),
        ("counts_per_frame = 8192", "counts_per_frame = 5000000000", Code::ValueOutside, 36, 46, "counts_per_frame is 5000000000"),
        ("[joint.wing_right]", "[joint.\"\"]", Code::WrongType, 28, 8, "the joint's name is \"\""),
        ("[joint.wing_right]", &std::format!("[joint.{long_name}]"), Code::WrongType, 28, 8, "1 to 64 bytes"),
        ("[joint.wing_right]", "[joint.wing_left]", Code::FileSyntax, 28, 8, "\"wing_left\" occurs twice, first in line 10; rename or remove one"),
        ("rest = 10\nmax_rate", "rest = 10\n drive = [37, 122]\nmax_rate", Code::FileSyntax, 17, 2, "\"drive\" occurs twice, first in line 14; rename or remove one"),
        ("[joint.wing_right]", "[joint.wing_right", Code::FileSyntax, 28, 18, "not TOML"),
        ("lower = { kind", "lower = [1] # { kind", Code::WrongType, 23, 9, "lower is the array [1]"),
        ("lower = { kind", "lower = [1e300, [2]] # { kind", Code::WrongType, 23, 9, "lower is the array [1e300, [...]]"),
    ];
    for &(from, to, code, line, column, says) in cases {
        assert!(FILE.contains(from), "{from}");
        let error = Robot::parse(&FILE.replacen(from, to, 1)).unwrap_err();
        let text = error.to_string();
        assert_eq!(error.code(), code, "{to}: {text}");
        assert_eq!(
            (error.line(), error.column()),
            (Some(line), Some(column)),
            "{to}: {text}"
        );
        assert!(text.contains(says), "{to}: {text}");
        assert!(!text.contains('\n'), "{text}");
        if line > 10 && code != Code::FileSyntax && !to.contains("[joint.") {
            assert!(error.joint().is_some(), "{to}: {text}");
        }
    }
}

#[test]
fn every_truncation_is_read_or_refused_never_more() {
    for end in 0..FILE.len() {
        if FILE.is_char_boundary(end) {
            // The promise is that it returns.
            let _ = Robot::parse(&FILE[..end]);
        }
    }
    let cut = FILE.find("rest = 10\nmax_rate").unwrap();
    let error = Robot::parse(&FILE[..cut]).unwrap_err();
    assert_eq!((error.code(), error.joint()), (Code::MissingKey, Some("wing_left")));
}

#[test]
fn a_file_error_names_the_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("heron.toml");
    let error = Robot::load(&path).unwrap_err();
    assert_eq!(error.code(), Code::FileAccess);
    assert!(
        error.to_string().contains("heron.toml: the file cannot be read"),
        "{error}"
    );
    std::fs::write(&path, FILE.replace("travel =", "travl =")).unwrap();
    let error = Robot::load(&path).unwrap_err();
    assert!(
        error
            .to_string()
            .ends_with("heron.toml:15:1: joint wing_left: unknown key \"travl\"; write travel"),
        "{error}"
    );
    std::fs::write(&path, [0xff, 0xfe]).unwrap();
    assert_eq!(Robot::load(&path).unwrap_err().code(), Code::NotUtf8);
}

#[test]
fn a_text_longer_than_is_read_is_refused_before_it_is_parsed() {
    let long = "#".repeat(LONGEST_TEXT + 1);
    let error = Robot::parse(&long).unwrap_err();
    assert_eq!(error.code(), Code::FileTooLong);
    assert!(
        error
            .to_string()
            .contains("8388608 bytes that are read; divide the robot"),
        "{error}"
    );
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("long.toml");
    // Cut within a character.
    std::fs::write(&path, format!("{}é#", "#".repeat(LONGEST_TEXT))).unwrap();
    assert_eq!(Robot::load(&path).unwrap_err().code(), Code::FileTooLong);
    std::fs::write(&path, &long).unwrap();
    assert_eq!(Robot::load(&path).unwrap_err().code(), Code::FileTooLong);
    // A number that makes no sense.
    let wide = "format = 1\njoint.a.command = [0, 1.1e12]\njoint.a.drive = [10, 70]\njoint.a.rest = 0\n";
    assert!(
        Robot::parse(wide)
            .unwrap_err()
            .to_string()
            .contains("command is 1100000000000; it must be at most 1e12")
    );
}

#[test]
fn parts_are_read_one_by_one() {
    let robot = Robot::parse(FILE).unwrap();
    assert_eq!(robot.boards()[0].channels(), Some(16));
    assert!(robot.settings().waivers.is_empty());
    let date = Date::new(2026, 11, 20).unwrap();
    assert_eq!((date.year(), date.month(), date.day()), (2026, 11, 20));
    assert_eq!(robot.joints()[0].joint().timer().frame_us(), 20_000.0);
    let error = Robot::load("/nowhere/heron.toml").unwrap_err();
    assert_eq!(error.file(), Some(std::path::Path::new("/nowhere/heron.toml")));
}

#[test]
fn bytes_that_are_no_text_are_refused_with_their_place() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("latin.toml");
    // A comment in Latin-1.
    std::fs::write(&path, b"format = 1\n# \xc3\xa4 Fl\xfcgel\n").unwrap();
    let error = Robot::load(&path).unwrap_err();
    assert_eq!(
        (error.code(), error.line(), error.column()),
        (Code::NotUtf8, Some(2), Some(7))
    );
    let text = error.to_string();
    assert_eq!(FileError::not_utf8(b"\xc3\xa4\xff").unwrap().column(), Some(2));
    assert_eq!(FileError::not_utf8("Flügel".as_bytes()), None);
    assert!(
        text.ends_with("latin.toml:2:7: the byte 0xFC is not UTF-8 text; save the file as UTF-8"),
        "{text}"
    );
}

#[test]
fn a_name_that_no_joint_has_is_quoted_and_what_there_is_is_told() {
    let robot = Robot::parse(FILE).unwrap();
    let told = |name: &str| robot.expect_joint(name).unwrap_err().to_string();
    assert_eq!(
        told("wing_lfet"),
        "no joint is named \"wing_lfet\"; the nearest name is \"wing_left\""
    );
    for begun in ["wing_l", "WING_LEFT"] {
        assert!(
            told(begun).ends_with("the nearest name is \"wing_left\""),
            "{}",
            told(begun)
        );
    }
    // A reader of a text that was never seen is told no line of it.
    let unknown = Robot::parse("format = 1\nbird = 3\n").unwrap_err();
    assert!(unknown.to_string().starts_with("line 2, column 1: "), "{unknown}");
    let unseen = unknown.without_place().to_string();
    assert!(unseen.contains("bird") && !unseen.contains("line"), "{unseen}");
    let within = Robot::load("Cargo.toml/heron.toml").unwrap_err().to_string();
    assert!(
        within.ends_with("Cargo.toml is not a folder; name another path"),
        "{within}"
    );
    let unnamed = Robot::load("").unwrap_err().to_string();
    assert!(unnamed.starts_with("the path is empty: "), "{unnamed}");
    // Of several that begin alike none is the nearest; they come first.
    let wing = robot.joint("wing_left").unwrap().record();
    let mut neck = Robot::parse(FILE).unwrap();
    for name in ["neck_base", "neck_top"] {
        neck.put(&wing.copied_as(name, None)).unwrap();
    }
    let said = neck.expect_joint("neck").unwrap_err().to_string();
    assert_eq!(
        said,
        "no joint is named \"neck\"; the joints are \"neck_base\", \"neck_top\", \"wing_left\", \"wing_right\""
    );
    assert_eq!(
        told("tail"),
        "no joint is named \"tail\"; the joints are \"wing_left\", \"wing_right\""
    );
    assert_eq!(
        told(" "),
        "the name given is empty; the joints are \"wing_left\", \"wing_right\""
    );
    let mut many = String::from(
        "format = 1\ntimer = { frame_hz = 50, counts_per_frame = 4096 }\nservo = { angle = [0, 180], pulse_us = [500, 2500] }\n",
    );
    for place in 0..11 {
        many += &format!("[joint.leg{place:02}]\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\n");
    }
    let told = Robot::parse(&many)
        .unwrap()
        .expect_joint("tail")
        .unwrap_err()
        .to_string();
    assert!(told.ends_with("\"leg06\", \"leg07\" and 3 more"), "{told}");
    let same = Robot::parse(&many)
        .unwrap()
        .expect_place("tail")
        .unwrap_err()
        .to_string();
    assert_eq!(same, told);
}

/// A value that is not TOML, where it is plain what was meant.
#[test]
fn a_value_in_other_letters_is_told_as_it_is_to_be_written() {
    let refused = |line: &str| {
        let text = format!(
            "format = 1\nservo = {{ angle = [0, 180], pulse_us = [500, 2500] }}\n[joint.neck]\n{line}\nrest = 2\n"
        );
        Robot::parse(&text).unwrap_err().to_string()
    };
    for (line, instead) in [
        ("max_rate_per_s = 1,5", "; write decimals with a point: 1.5"),
        (
            "max_rate_per_s = -12,25   # slow",
            "; write decimals with a point: -12.25",
        ),
        (
            "evidence = { lower = { kind = \"clear\", at = 37,9, u = 0.2 } }",
            "; write decimals with a point: 37.9",
        ),
        ("inverted = yes", "; write true"),
        ("inverted = True", "; write true"),
        ("inverted = No", "; write false"),
        ("max_rate_per_s = 10 deg", "; write the number without its unit: 10"),
        ("max_rate_per_s = 10.5deg", "; write the number without its unit: 10.5"),
        ("evidence.date = 20.11.2026", "; write the day as 2026-11-20"),
        ("evidence.date = 2026/11/20", "; write the day as 2026-11-20"),
    ] {
        let said = refused(line);
        assert!(
            said.starts_with("line 4, ") && said.ends_with(instead),
            "{line}: {said}"
        );
    }
    // Where it is not plain, nothing is guessed.
    for line in [
        "max_rate_per_s = 10 channel = 3",
        "max_rate_per_s =",
        "unit = deg",
        "evidence.date = 11/12/2026",
        "inverted = maybe",
    ] {
        assert!(!refused(line).contains("; write"), "{line}: {}", refused(line));
    }
}

#[test]
fn a_waiver_for_a_joint_that_is_not_there_is_told_as_one() {
    let text =
        format!("{FILE}\n[check]\nwaive = [{{ rule = \"rate-missing\", joint = \"crest\", reason = \"slow\" }}]\n");
    let refused = Robot::parse(&text).unwrap_err();
    assert_eq!(refused.code(), elbowroom::Code::UnknownJoint);
    let said = refused.to_string();
    assert!(
        said.contains("a waiver of rate-missing is for no joint of this file: no joint is named \"crest\""),
        "{said}"
    );
    assert!(said.ends_with("; correct the name, or remove the waiver"), "{said}");
}
