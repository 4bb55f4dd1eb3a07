//! Robot files changed by name, the only file of a folder, the reference of its keys.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod common;

use common::{ROBOT, json, run, tells, tells_all, words};
use serde_json::Value;
use std::fs;
use std::path::Path;

/// What a file cannot take, and advice that it could not take either.
#[test]
fn edits_tell_how_a_file_begins_and_advise_only_what_is_allowed() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let (_, err) = run(dir, &["edit", "crane.toml", "set", "name=crane"], 2);
    tells(&err, "use fit or bring-up with --new");
    fs::write(dir.join("crane.toml"), "format = 1\n").unwrap();
    let (_, err) = run(dir, &["edit", "crane.toml", "set", "beak.rest=3"], 2);
    tells_all(&err, &["the file has no joints yet", "use fit or bring-up with --new"]);
    fs::write(dir.join("heron.toml"), ROBOT).unwrap();
    let within = ["edit", "heron.toml", "set", "wing_left.command=-30,50", "--dry-run"];
    let (out, _) = run(dir, &within, 0);
    tells(&out, "To keep what commands mean, set wing_left.drive=");
    let beyond = ["edit", "heron.toml", "set", "wing_left.command=-900,900", "--dry-run"];
    let (out, _) = run(dir, &beyond, 0);
    assert!(
        out.contains("changes what every command means") && !out.contains("To keep"),
        "{out}"
    );
}

#[test]
fn edits_are_shown_and_keep_the_rest() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    fs::write(dir.join("heron.toml"), ROBOT).unwrap();
    let file = || fs::read_to_string(dir.join("heron.toml")).unwrap();
    let (out, _) = run(dir, &["edit", "heron.toml", "set", "wing_left.rest=20", "--dry-run"], 0);
    assert!(
        out.contains("  - rest = 10")
            && out.contains("  + rest = 20")
            && out.contains("nothing was written: --dry-run"),
        "{out}"
    );
    assert_eq!(file(), ROBOT);
    run(dir, &["edit", "heron.toml", "set", "wing_*.rest=20"], 0);
    assert_eq!(file(), ROBOT.replace("rest = 10", "rest = 20"));
    // No nearest word for what a test has to show.
    for sense in ["unknown", "oposing"] {
        let (_, err) = run(dir, &["edit", "heron.toml", "sense", "wing_left", sense], 2);
        tells(&err, "write one of opposing, aiding, undetermined");
    }
    let (out, _) = run(dir, &["edit", "heron.toml", "sense", "wing_left", "aiding"], 1);
    tells(&out, "error sense-aiding");
    run(dir, &["edit", "heron.toml", "sense", "wing_left", "opposing"], 0);
    run(
        dir,
        &words("edit heron.toml mirror wing_left wing_right --channel 4"),
        0,
    );
    let right = json(dir, &["show", "heron.toml", "wing_right"], 0);
    assert_eq!(right["joints"][0]["evidence"]["lower"]["kind"], "declared");
    assert_eq!(right["joints"][0]["evidence"]["sense"], Value::Null);
    run(dir, &["edit", "heron.toml", "rename", "wing_left", "wing_port"], 0);
    assert!(file().contains("[joint.wing_port]   # squeaks") && file().contains("mirror_of = \"wing_port\""));
    run(
        dir,
        &[
            "edit",
            "heron.toml",
            "waive",
            "sense-unproven",
            "--joint",
            "wing_right",
            "--reason",
            "no loop",
        ],
        0,
    );
    let (_, err) = run(
        dir,
        &["edit", "heron.toml", "waive", "sense-unprovn", "--reason", "x"],
        2,
    );
    tells(&err, "check --rules");
    let (_, err) = run(dir, &["edit", "heron.toml", "remove", "wing_right"], 2);
    tells(&err, "wing_right");
    run(dir, &["edit", "heron.toml", "unset", "check.waive"], 0);
    run(dir, &["edit", "heron.toml", "remove", "wing_right"], 0);
    assert!(!file().contains("wing_right"));
    // A servo line is corrected: the pulses stay.
    let pulse = |dir: &Path| {
        run(
            dir,
            &words("convert heron.toml wing_port --to pulse-us -- -40 10 60"),
            0,
        )
        .0
    };
    let before = pulse(dir);
    let (out, _) = run(
        dir,
        &[
            "edit",
            "heron.toml",
            "set",
            "servo={ angle = [0, 120], pulse_us = [400, 2600] }",
        ],
        0,
    );
    tells(&out, "every command keeps its pulse");
    for (new, old) in pulse(dir).lines().zip(before.lines()) {
        let (new, old): (f64, f64) = (new.trim().parse().unwrap(), old.trim().parse().unwrap());
        // A thousandth of a degree, to which drive angles are written, is 0.018 us of this servo.
        assert!((new - old).abs() < 0.02, "{new} {old}");
    }
}

#[test]
fn a_place_is_given_once() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    fs::write(dir.join("heron.toml"), ROBOT).unwrap();
    for twice in [
        ["wing_left.rest=1", "wing_left.rest=2"],
        ["wing_*.rest=1", "wing_left.rest=2"],
        ["wing_left.rest=1", "\"wing_left\" . rest = 1"],
    ] {
        let (_, err) = run(dir, &["edit", "heron.toml", "set", twice[0], twice[1]], 2);
        tells(&err, "wing_left.rest is given twice; give it one value");
        assert_eq!(fs::read_to_string(dir.join("heron.toml")).unwrap(), ROBOT);
    }
}

#[test]
fn the_only_robot_file_is_found_and_help_knows_every_key() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let (_, err) = run(dir, &["check"], 2);
    tells(&err, "this folder has none");
    fs::write(dir.join("Cargo.toml"), "[package]\nname = \"x\"\n").unwrap();
    fs::write(dir.join("heron.toml"), ROBOT).unwrap();
    run(dir, &["check"], 1);
    run(dir, &["show"], 0);
    let (out, _) = run(dir, &["show", "wing_left"], 0);
    tells(&out, "wing_left");
    run(dir, &["report"], 1);
    assert!(dir.join("heron.html").exists());
    fs::write(dir.join("crane.toml"), ROBOT).unwrap();
    let (_, err) = run(dir, &["show"], 2);
    tells(&err, "crane.toml, heron.toml: name one of them");

    // Errors are objects too, those of the command line as well.
    let misused = json(dir, &["check", "--nonsense"], 2);
    assert!(misused["error"]["message"].as_str().unwrap().contains("--nonsense"));
    let missing = json(dir, &["show", "gone.toml"], 2);
    assert_eq!(missing["error"]["file"], "gone.toml");

    // What the reader of files knows, the reference explains.
    let (reference, _) = run(dir, &["help", "file"], 0);
    let head = "format = 1\nservo = { angle = [0, 180], pulse_us = [500, 2500] }\ntimer = { frame_hz = 50, counts_per_frame = 4096 }\n";
    let joint = "[joint.w]\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\n";
    for text in [
        format!("{head}zzzzzzzz = 1\n"),
        format!("{head}{joint}zzzzzzzz = 1\n"),
        format!("{head}{joint}feedback = {{ zzzzzzzz = 1 }}\n"),
        format!("{head}{joint}[joint.w.evidence]\nzzzzzzzz = 1\n"),
        format!("{head}{joint}[joint.w.evidence]\nlower = {{ kind = \"clear\", at = 1, zzzzzzzz = 1 }}\n"),
        format!("{head}{joint}[joint.w.evidence]\nsource = {{ zzzzzzzz = 1 }}\n"),
        format!("{head}[check]\nzzzzzzzz = 1\n"),
        format!("{head}[board.b]\nzzzzzzzz = 1\n"),
    ] {
        fs::write(dir.join("key.toml"), &text).unwrap();
        let (_, err) = run(dir, &["check", "key.toml"], 2);
        let known = err
            .split("; write one of ")
            .nth(1)
            .unwrap_or_else(|| panic!("{text}\n{err}"));
        for key in known.trim().split(", ") {
            assert!(reference.contains(key), "help file does not explain {key}");
        }
    }
    let (measure, _) = run(dir, &["help", "measure"], 0);
    assert!(measure.contains("Keep a hand on the power switch"));
    for text in [&reference, &measure] {
        assert!(text.lines().all(|line| line.len() <= 80), "80 columns");
    }
    let (out, _) = run(dir, &["help", "edit", "mirror"], 0);
    tells(&out, "other side");
    run(dir, &["help", "nonsense"], 2);
}

#[test]
fn numbers_taken_for_granted_stand_in_the_file_until_confirmed() {
    let folder = common::folder();
    let dir = folder.path();
    let fit = ["fit", "readings.csv", "--into", "new.toml", "--joint", "wing", "--new"];
    run(dir, &fit, 0);
    let text = fs::read_to_string(dir.join("new.toml")).unwrap();
    assert_eq!(text.matches("assumed = true").count(), 2, "{text}");
    let (out, _) = run(dir, &["check", "new.toml"], 1);
    tells_all(
        &out,
        &[
            "numbers-assumed",
            "the servo of 1 joint and the timer of 1 joint are assumed",
        ],
    );
    // Each output says it, until it is confirmed.
    let outputs = [
        &["show", "new.toml"][..],
        &["convert", "new.toml", "wing", "40"],
        &["firmware", "new.toml"],
    ];
    let said = "note: the servo of 1 joint and the timer of 1 joint are assumed";
    run(dir, &["edit", "new.toml", "set", "wing.channel=1"], 0);
    for args in outputs {
        let (out, _) = run(dir, args, 0);
        assert!(out.contains(said), "{args:?}\n{out}");
    }
    run(
        dir,
        &["edit", "new.toml", "set", "servo.assumed=false", "timer.frame_hz=50"],
        0,
    );
    for args in outputs {
        let (out, _) = run(dir, args, 0);
        assert!(!out.contains("assumed"), "{args:?}\n{out}");
    }
    let (out, _) = run(dir, &["check", "new.toml"], 1);
    assert!(!out.contains("numbers-assumed"), "{out}");
}

#[test]
fn measured_numbers_are_replaced_only_when_told() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    fs::write(dir.join("heron.toml"), ROBOT).unwrap();
    run(
        dir,
        &words("edit heron.toml mirror wing_left wing_right --channel 4"),
        0,
    );
    let clear = words("wing_right.evidence.lower.kind=clear wing_right.evidence.date=2026-11-20");
    run(dir, &[&["edit", "heron.toml", "set"], &clear[..]].concat(), 0);
    let file = || fs::read_to_string(dir.join("heron.toml")).unwrap();
    let before = file();
    let mirror = ["edit", "heron.toml", "mirror", "wing_left", "wing_right"];
    let (_, err) = run(dir, &mirror, 2);
    tells_all(&err, &["joint wing_right was measured on 2026-11-20", "--replace"]);
    let (_, err) = run(dir, &["rehearse", "heron.toml", "--joint", "wing_right", "--write"], 2);
    tells_all(
        &err,
        &[
            "joint wing_right of heron.toml was measured on 2026-11-20",
            "without --write",
        ],
    );
    assert_eq!(file(), before);
    fs::copy(dir.join("heron.toml"), dir.join("copy.toml")).unwrap();
    run(dir, &["edit", "copy.toml", "unset", "wing_right.evidence"], 0);
    run(dir, &["rehearse", "copy.toml", "--joint", "wing_right", "--write"], 0);
    run(dir, &[&mirror[..], &["--replace"]].concat(), 0);
    assert!(file().contains("kind = \"declared\""), "{}", file());
}

/// Whatever changes the meaning of numbers that stay says so, in one way; a change that keeps it says nothing.
#[test]
fn every_change_of_meaning_is_told() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let heron = include_str!("../../../tests/data/heron.toml");
    let edit = |change: &str| {
        fs::write(dir.join("heron.toml"), heron).unwrap();
        let line = format!("edit heron.toml {change} --dry-run");
        std::process::Command::new(env!("CARGO_BIN_EXE_elbowroom"))
            .args(words(&line))
            .current_dir(dir)
            .output()
            .map(|done| String::from_utf8(done.stdout).unwrap())
            .unwrap()
    };
    for (change, told) in [
        (
            "set neck_base.unit=rad",
            "joint neck_base: this changes what every command means; commands were in deg and are now in rad, and the numbers are not \
             converted: 45 rad is 2578.31 deg. To keep what commands mean, set neck_base.command=-0.7854,0.7854 neck_base.rest=0 \
             neck_base.max_rate_per_s=0.523599 as well",
        ),
        (
            "set neck_base.unit=mm",
            "commands were in deg and are now in mm, and the numbers are not converted: 45 mm was 45 deg",
        ),
        (
            "set neck_base.inverted=true",
            "joint neck_base: this changes what every command means; its command -45 goes to drive angle 135 deg, before 45 deg (+90 deg)",
        ),
        (
            "set neck_base.drive=50,130",
            "joint neck_base: this changes what every command means; its command -45 goes to drive angle 50 deg, before 45 deg (+5 deg)",
        ),
        (
            "set neck_*.drive=40,120",
            "joint neck_middle: this changes what every command means; its command 60 goes to drive angle 120 deg, before 150 deg (-30 deg)",
        ),
        (
            "unset beak.transmission",
            "joint beak: this changes what every command means; its command 21.875 goes to drive angle 90 deg, before 91.19 deg (-1.19 deg)",
        ),
        (
            "set beak.transmission.base=18",
            "joint beak: this changes what every command means",
        ),
        (
            "set neck_base.command=-40,40",
            "its command -40 goes to drive angle 45 deg, before 50 deg (-5 deg)",
        ),
        (
            "set wing_left.feedback.angle=-20,30",
            "joint wing_left: this changes what every reading means; reading 212 is joint angle -20 deg, before -40 deg",
        ),
    ] {
        let out = edit(change);
        assert!(out.contains(told), "{change}: {out}");
    }
    for quiet in [
        "set neck_base.unit=rad neck_base.command=-0.785398,0.785398 neck_base.rest=0 neck_base.max_rate_per_s=0.523599",
        "set neck_base.command=-40,40 neck_base.drive=50,130",
        "set servo.pulse_us=600,2400",
        "set neck_base.rest=3 neck_base.travel=50,130",
        "set wing_left.feedback.adc_bits=12",
        "unset neck_base.unit",
    ] {
        let out = edit(quiet);
        assert!(!out.contains("this changes what every"), "{quiet}: {out}");
    }
}

/// The same findings under another name are no new ones.
#[test]
fn a_renamed_joint_has_the_findings_that_it_had() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let other = ROBOT.split_once("[joint.wing_left]").unwrap().1;
    let other = other
        .replace("channel = 3", "channel = 4\nmirror_of = \"wing_left\"")
        .replace("rest = 10", "rest = 12");
    fs::write(
        dir.join("heron.toml"),
        format!("{ROBOT}\n[joint.wing_right]{other}inverted = true\n"),
    )
    .unwrap();
    run(dir, &["check", "heron.toml"], 1);
    let (out, _) = run(
        dir,
        &["edit", "heron.toml", "rename", "wing_left", "wing_port", "--dry-run"],
        0,
    );
    assert!(!out.contains("the check"), "{out}");
    let found = json(dir, &["edit", "heron.toml", "rename", "wing_left", "wing_port"], 0);
    assert_eq!(
        (&found["new_findings"], &found["findings_gone"]),
        (&Value::Array(Vec::new()), &0.into())
    );
}

#[test]
fn a_joint_that_is_turned_round_loses_its_sense_and_it_is_said() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    fs::write(dir.join("heron.toml"), ROBOT).unwrap();
    run(dir, &words("edit heron.toml sense wing_left opposing"), 0);
    let (out, _) = run(dir, &words("edit heron.toml set wing_left.inverted=true"), 0);
    tells_all(
        &out,
        &[
            "- sense = \"opposing\"",
            "joint wing_left: commands now run with the feedback's readings the other way",
            "test the sense again",
        ],
    );
    let shown = json(dir, &["show", "heron.toml", "wing_left"], 0);
    assert_eq!(shown["joints"][0]["evidence"]["sense"], Value::Null);
}

/// What the check proposes against commands that the travel cuts off, done to the letter: no command has another meaning, and the check
/// is content.
#[test]
fn commands_are_narrowed_as_the_check_proposes_without_another_meaning() {
    const HEAD: &str = "format = 1\nservo = { angle = [0, 180], pulse_us = [500, 2500] }\ntimer = { frame_hz = 50, counts_per_frame = 4096 }\n\n\
        [joint.wing]\nboard = \"breast\"\nchannel = 3\nunit = \"deg\"\nmax_rate_per_s = 30\n";
    const EVIDENCE: &str = "\n[joint.wing.evidence]\ndate = 2026-11-20\nsense = \"opposing\"\nreadings = 42\n\
        lower = { kind = \"clear\", at = 61.3 }\nupper = { kind = \"clear\", at = 87.7 }\n";
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let linkage = "transmission = { kind = \"triangle\", base = 92.0, arm = 40.0, angle_at_zero = 70.0 }\n";
    for (joint, is_narrower) in [
        ("command = [-40, 60]\ndrive = [37, 122]\nrest = 10\n", true),
        (
            "command = [-40, 60]\ndrive = [37, 122]\nrest = 10\ninverted = true\n",
            true,
        ),
        // A rest beyond the travel goes with it, and so does the map of the sensor.
        (
            "command = [-40, 60]\ndrive = [37, 122]\nrest = 40\nfeedback = { reading = [212, 871], angle = [-40, 60], adc_bits = 10 }\n",
            true,
        ),
        (
            &format!("command = [-40, 60]\ndrive = [37, 122]\nrest = 10\n{linkage}"),
            true,
        ),
        (
            "command = [-40, 60]\ndrive = [37, 122]\nrest = 10\n\
             transmission = { kind = \"curve\", knots = [[-40, 37], [10, 70], [60, 122]] }\n",
            false,
        ),
    ] {
        let text = format!("{HEAD}{joint}travel = [61.3, 87.7]\n{EVIDENCE}");
        fs::write(dir.join("wing.toml"), &text).unwrap();
        let at = |inside: &str| {
            run(
                dir,
                &words(&format!("convert wing.toml wing --to drive -- {inside}")),
                0,
            )
            .0
        };
        let check = words("check wing.toml --as-of 2026-11-21");
        let report = json(dir, &check, 1);
        let findings = report["findings"].as_array().unwrap();
        let found = findings
            .iter()
            .find(|finding| finding["rule"] == "command-mostly-clamped");
        let hint = found.unwrap()["hint"].as_str().unwrap().to_owned();
        if !is_narrower {
            tells_all(
                &hint,
                &["between drive 61.3 and 87.7 deg again", "--transmission curve --adopt"],
            );
            continue;
        }
        let (_, set) = hint.split_once("elbowroom edit wing.toml ").unwrap();
        let inside = "-5 0 10 15 3.75";
        let before = at(inside);
        let (out, _) = run(dir, &[&["edit", "wing.toml"][..], &words(set)[..]].concat(), 0);
        assert!(!out.contains("changes what every"), "{joint}\n{hint}\n{out}");
        let after = json(dir, &check, 0);
        assert_eq!(after["findings"].as_array().unwrap().len(), 0, "{hint}\n{after}");
        for (new, old) in at(inside).lines().zip(before.lines()) {
            let (new, old): (f64, f64) = (new.trim().parse().unwrap(), old.trim().parse().unwrap());
            assert!((new - old).abs() < 0.001, "{joint}\n{hint}\n{new} {old}");
        }
    }
}

/// A linkage that is stretched moves least where its rest is: the command that moves furthest is shown, with the drive that keeps all.
#[test]
fn the_command_that_moves_furthest_is_shown() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let text = "format = 1\nservo = { angle = [0, 180], pulse_us = [500, 2500] }\ntimer = { frame_hz = 50, counts_per_frame = 4096 }\n\n\
        [joint.beak]\ncommand = [-40, 40]\ndrive = [40, 140]\nrest = 0\n\
        transmission = { kind = \"triangle\", base = 92.0, arm = 40.0, angle_at_zero = 90.0 }\n";
    fs::write(dir.join("beak.toml"), text).unwrap();
    let (out, _) = run(dir, &words("edit beak.toml set beak.command=-20,20 --dry-run"), 0);
    tells_all(
        &out,
        &[
            "its command -20 goes to drive angle 40 deg, before 68.48 deg",
            "To keep what commands mean, set beak.drive=",
        ],
    );
    assert!(!out.contains("its rest"), "{out}");
    let (_, keeps) = out.split_once("set beak.drive=").unwrap();
    let drive = keeps.split_whitespace().next().unwrap();
    let drive = format!("beak.drive={drive}");
    let (out, _) = run(dir, &["edit", "beak.toml", "set", "beak.command=-20,20", &drive], 0);
    assert!(!out.contains("changes what every"), "{out}");
}

#[test]
fn a_joint_with_a_dot_in_its_name_is_told_in_quotes() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    fs::write(
        dir.join("heron.toml"),
        ROBOT.replace("[joint.wing_left]", "[joint.\"wing.left\"]"),
    )
    .unwrap();
    let (_, err) = run(dir, &words("edit heron.toml set wing.left.rest=5"), 2);
    tells(
        &err,
        "the name \"wing.left\" has a dot in it; put it in quotes, and the whole in others: '\"wing.left\".rest=5'",
    );
    run(dir, &words("edit heron.toml set \"wing.left\".rest=5"), 0);
    // What the check proposes is to be pasted into a shell.
    run(dir, &words("edit heron.toml set \"wing.left\".travel=70,90"), 0);
    tells(
        &run(dir, &words("check heron.toml"), 1).0.replace("\n    ", " "),
        "'\"wing.left\".command=",
    );
    let (_, err) = run(dir, &words("edit heron.toml set wing.right.rest=5"), 2);
    tells(&err, "no joint is named \"wing\"");
}

#[test]
fn a_finding_is_waived_once_with_the_last_reason() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    fs::write(dir.join("heron.toml"), ROBOT).unwrap();
    let waive = |reason: &str| {
        let args = [
            "edit",
            "heron.toml",
            "waive",
            "limit-unproven",
            "--joint",
            "wing_left",
            "--reason",
            reason,
        ];
        run(dir, &args, 0).0
    };
    assert!(!waive("no stop").contains("waived already"));
    tells(&waive("no stop"), "already holds these values");
    tells(
        &waive("a soft end"),
        "limit-unproven of joint wing_left was waived already, for the reason \"no stop\"; the new reason takes its place",
    );
    let text = fs::read_to_string(dir.join("heron.toml")).unwrap();
    assert_eq!(
        (
            text.matches("limit-unproven").count(),
            text.matches("a soft end").count()
        ),
        (1, 1),
        "{text}"
    );
}

/// What a change would have written is nowhere to be looked at: no line of it is named.
#[test]
fn a_fit_that_cannot_be_written_names_no_line() {
    let folder = common::folder();
    let dir = folder.path();
    let fit = [
        "fit",
        "readings.csv",
        "--into",
        "new.toml",
        "--joint",
        "wing",
        "--new",
        "--rest",
        "8000",
    ];
    let (_, err) = run(dir, &fit, 2);
    assert!(
        err.contains("joint wing: ") && err.contains("rest") && err.contains("8000"),
        "{err}"
    );
    assert!(!err.contains("line "), "{err}");
}

/// A robot with a stop that was measured, and travel that keeps clear of it.
fn with_a_stop(dir: &Path) {
    let evidence = "travel = [42, 118]\n\n[joint.wing_left.evidence]\ndate = 2026-11-20\nsense = \"opposing\"\nreadings = 42\n\
                    lower = { kind = \"contact\", at = 39.9, u = 0.2, guard = 2.0 }\nupper = { kind = \"clear\", at = 119.0 }\n";
    fs::write(dir.join("heron.toml"), format!("{ROBOT}{evidence}")).unwrap();
}

#[test]
fn errors_are_waived_for_one_joint_and_told_wherever_they_appear() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    with_a_stop(dir);
    let waive = [
        "edit",
        "heron.toml",
        "waive",
        "travel-beyond-contact",
        "--reason",
        "a soft stop",
    ];
    let (_, err) = run(dir, &waive, 2);
    tells(
        &err,
        "findings of travel-beyond-contact are errors, and a waiver without a joint accepts those of every joint and of every later change; \
         name the joint that was looked at with --joint NAME",
    );
    // What is a warning may be waived of all, unless the file makes errors of it.
    run(
        dir,
        &["edit", "heron.toml", "waive", "rate-missing", "--reason", "slow"],
        0,
    );
    let raise = [
        "edit",
        "heron.toml",
        "set",
        "check.raise={ stop-not-placed = \"error\" }",
    ];
    run(dir, &raise, 0);
    let (_, err) = run(
        dir,
        &["edit", "heron.toml", "waive", "stop-not-placed", "--reason", "slow"],
        2,
    );
    tells(&err, "findings of stop-not-placed are errors");
    run(dir, &[&waive[..], &["--joint", "wing_left"]].concat(), 0);
    let set = ["edit", "heron.toml", "set", "wing_left.travel=38,118"];
    let told = json(dir, &[&set[..], &["--dry-run"]].concat(), 0);
    assert_eq!(told["new_waived"][0]["rule"], "travel-beyond-contact");
    let (out, _) = run(dir, &set, 0);
    tells_all(
        &out,
        &[
            "1 error appears and is waived:\n  travel-beyond-contact: joint wing_left: ",
            "reason: a soft stop; remove the waiver from [check] waive if it was not given for this",
        ],
    );
    // Further in the same direction is another error; another value is none.
    tells(
        &run(dir, &["edit", "heron.toml", "set", "wing_left.travel=37.5,118"], 0).0,
        "1 error appears and is waived",
    );
    assert!(
        !run(dir, &["edit", "heron.toml", "set", "wing_left.rest=12"], 0)
            .0
            .contains("waived")
    );
    // A file with a waiver of all loads, and the check says it.
    let file = fs::read_to_string(dir.join("heron.toml")).unwrap();
    assert!(file.contains(", joint = \"wing_left\""), "{file}");
    fs::write(dir.join("heron.toml"), file.replace(", joint = \"wing_left\"", "")).unwrap();
    let (out, _) = run(dir, &["check", "heron.toml"], 1);
    tells(
        &out,
        "warning waiver-without-joint: the waiver of travel-beyond-contact names no joint",
    );
    // A block carries them.
    let (out, _) = run(dir, &["firmware", "heron.toml"], 0);
    tells(
        &out,
        "with 1 waived error of the check:\n    travel-beyond-contact: joint wing_left: ",
    );
    let header = fs::read_to_string(dir.join("heron_breast.h")).unwrap();
    tells(
        &header,
        "/* Written with a waived error of the check: travel-beyond-contact: joint wing_left: ",
    );
    tells(&header, "; reason: a soft stop */");
    assert_eq!(
        json(dir, &["firmware", "heron.toml"], 0)["waived"][0]["reason"],
        "a soft stop"
    );
}

#[test]
fn a_joint_that_exists_is_copied_over_only_when_told() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    fs::write(dir.join("heron.toml"), ROBOT).unwrap();
    run(dir, &words("edit heron.toml copy wing_left wing_right --channel 4"), 0);
    run(dir, &words("edit heron.toml set wing_right.rest=20"), 0);
    let before = fs::read_to_string(dir.join("heron.toml")).unwrap();
    for change in ["copy", "mirror"] {
        let edit = ["edit", "heron.toml", change, "wing_left", "wing_right"];
        let (_, err) = run(dir, &edit, 2);
        tells(
            &err,
            "joint wing_right exists already; its map, travel and rest would be replaced by those of wing_left: name another joint, or \
             repeat the command with --replace",
        );
        assert_eq!(fs::read_to_string(dir.join("heron.toml")).unwrap(), before);
        run(dir, &[&edit[..], &["--replace", "--dry-run"]].concat(), 0);
    }
}

#[test]
fn the_last_change_is_taken_back_and_made_again() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    with_a_stop(dir);
    let file = |name: &str| fs::read_to_string(dir.join(name)).unwrap();
    let undo = ["edit", "heron.toml", "undo"];
    let (_, err) = run(dir, &undo, 2);
    tells(
        &err,
        "heron.toml~ does not exist, so no earlier text can be put back; only elbowroom's own commands keep one",
    );
    let first = file("heron.toml");
    // What writes nothing keeps nothing.
    run(dir, &words("edit heron.toml set wing_left.rest=10"), 0);
    run(dir, &words("edit heron.toml set wing_left.rest=20 --dry-run"), 0);
    assert!(!dir.join("heron.toml~").exists());
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        fs::set_permissions(dir.join("heron.toml"), fs::Permissions::from_mode(0o640)).unwrap();
    }
    let (out, _) = run(
        dir,
        &words("edit heron.toml set wing_left.inverted=true wing_left.travel=38,118"),
        1,
    );
    tells(&out, "written into heron.toml; the text before is in heron.toml~");
    let second = file("heron.toml");
    assert_eq!(file("heron.toml~"), first);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        let mode = fs::metadata(dir.join("heron.toml~")).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o640);
    }
    let (out, _) = run(dir, &[&undo[..], &["--dry-run"]].concat(), 0);
    tells_all(
        &out,
        &["- inverted = true", "+ travel = [42, 118]", "nothing was written"],
    );
    let (out, _) = run(dir, &undo, 0);
    tells_all(
        &out,
        &[
            "- inverted = true",
            "joint wing_left: this changes what every command means",
            "the check has 1 finding fewer",
            "written into heron.toml",
        ],
    );
    assert_eq!(
        [file("heron.toml"), file("heron.toml~")],
        [first.clone(), second.clone()]
    );
    // Once more takes that back, with what it brings.
    let (out, _) = run(dir, &undo, 1);
    tells(&out, "error travel-beyond-contact");
    assert_eq!(
        [file("heron.toml"), file("heron.toml~")],
        [second.clone(), first.clone()]
    );
    // An earlier text that is none, and a place where none can be.
    fs::write(dir.join("heron.toml~"), "format = 1\nwings = 2\n").unwrap();
    let (_, err) = run(dir, &undo, 2);
    tells(&err, "heron.toml~:2:1: ");
    fs::write(dir.join("heron.toml~"), &second).unwrap();
    let (_, err) = run(dir, &undo, 2);
    tells(&err, "heron.toml~ holds the same text, so nothing can be put back");
    fs::remove_file(dir.join("heron.toml~")).unwrap();
    fs::create_dir(dir.join("heron.toml~")).unwrap();
    let (out, _) = run(dir, &words("edit heron.toml set wing_left.travel=42,118"), 0);
    tells(
        &out,
        "the text before this change is not kept: heron.toml~ cannot be written: it is not a plain file; move away what stands there",
    );
    assert!(out.contains("written into heron.toml\n"), "{out}");
}

#[test]
fn a_fit_keeps_the_text_before() {
    let folder = common::folder();
    let dir = folder.path();
    let before = fs::read_to_string(dir.join("heron.toml")).unwrap();
    run(dir, &common::KEEP, 0);
    let after = fs::read_to_string(dir.join("heron.toml")).unwrap();
    assert_ne!(before, after);
    assert_eq!(fs::read_to_string(dir.join("heron.toml~")).unwrap(), before);
    run(dir, &["edit", "heron.toml", "undo"], 0);
    assert_eq!(fs::read_to_string(dir.join("heron.toml")).unwrap(), before);
}
