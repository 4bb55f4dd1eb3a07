//! The shell tool as a user meets it: what it prints, what it refuses, what it leaves alone, and its exit status.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod common;

use common::{ROBOT, folder, json, run, sweep, tells, tells_all, tool};
use serde_json::Value;
use std::fs;

/// Slope and R² over the rows that the source used, as A. J. Barry's simflight published them
/// (`tests/data/measured/README.md`).
#[test]
fn the_demo_agrees_with_what_its_source_published() {
    let folder = tempfile::tempdir().unwrap();
    let (out, _) = run(folder.path(), &["demo"], 0);
    let flat = out.split_whitespace().collect::<Vec<_>>().join(" ");
    for published in ["= 0.002114 rad per us R² 0.9883", "= -0.002300 rad per us R² 0.9930"] {
        assert!(flat.contains(published), "{published}\n{out}");
    }
    assert_eq!(out.matches("lost motion  not determinable").count(), 2, "{out}");
    assert_eq!(
        out.matches("no stop found, clear to 126.81 deg (1909 us)").count(),
        1,
        "left, upper end\n{out}"
    );
    assert_eq!(
        out.matches("no stop found, clear to 63.81 deg (1209 us)").count(),
        1,
        "right, lower end\n{out}"
    );

    assert_eq!(
        out.matches("5 knots; 4 were fitted").count(),
        1,
        "the left one's only\n{out}"
    );

    // What the README prints of the left one is what it says. Without a file there are no lines of a joint that is written.
    let readme = include_str!("../../../README.md");
    let (_, after) = readme
        .split_once("For the left elevon it prints:\n\n```text\n")
        .unwrap();
    let (printed, _) = after.split_once("```").unwrap();
    for line in printed.lines() {
        assert!(
            out.lines().any(|said| said == line),
            "the README's \"{line}\" is not in\n{out}"
        );
    }

    let object = json(folder.path(), &["demo"], 0);
    let end = |series: usize, end: &str| object["commands"][series]["result"]["fit"][end].clone();
    // The knee lies between these readings, says the README of the data; a stop that is not placed is held between two of them.
    for (found, low, high) in [(end(0, "lower"), 1109.0, 1209.0), (end(1, "upper"), 1759.0, 1859.0)] {
        assert_ne!(found["kind"], "clear", "{found}");
        for at in [&found["at"], &found["short_at"]].into_iter().filter_map(Value::as_f64) {
            let pulse_us = 500.0 + at * 2000.0 / 180.0;
            assert!((low - 1e-6..=high + 1e-6).contains(&pulse_us), "{found}");
        }
    }
    assert_eq!(end(0, "upper")["kind"], "clear");
    assert_eq!(end(1, "lower")["kind"], "clear");
}

#[test]
fn the_demo_writes_a_robot_that_converts_and_never_over_other_files() {
    let folder = tempfile::tempdir().unwrap();
    run(folder.path(), &["demo", "here"], 0);
    let first = fs::read_to_string(folder.path().join("here/elevons.toml")).unwrap();
    run(folder.path(), &["demo", "here"], 0);
    let second = fs::read_to_string(folder.path().join("here/elevons.toml")).unwrap();
    assert_eq!(first, second, "the same readings change nothing");
    for (file, holds) in [
        ("elevon_left.svg", "Readings and limits of elevon_left"),
        ("elevon_right.svg", "Readings and limits of elevon_right"),
        ("elevons.html", "elevon_right"),
        ("elevon_deflection.LICENSE.txt", "Redistribution and use"),
    ] {
        let text = fs::read_to_string(folder.path().join("here").join(file)).unwrap();
        assert!(text.contains(holds), "{file}");
    }
    run(
        folder.path(),
        &["convert", "here/elevons.toml", "elevon_left", "0", "-10"],
        0,
    );

    fs::write(folder.path().join("here/elevon_deflection.csv"), "mine").unwrap();
    let (_, err) = run(folder.path(), &["demo", "here"], 2);
    tells(&err, "name another folder");
    assert_eq!(
        fs::read_to_string(folder.path().join("here/elevon_deflection.csv")).unwrap(),
        "mine"
    );
}

#[test]
fn bad_robot_files_are_refused_and_stay() {
    let folder = folder();
    let fit = ["fit", "readings.csv", "--into", "heron.toml", "--joint", "wing_left"];
    for (from, to, says) in [
        (
            "drive = [37, 122]",
            "drive = [122, 37]",
            "heron.toml:10:9: joint wing_left: drive [122, 37] has its ends swapped",
        ),
        ("drive = [37, 122]", "drive = [37, 37]", "has no width"),
        ("rest = 10", "rest = nan", "rest is not a number"),
        (
            "rest = 10",
            "rest = 70",
            "heron.toml:11:8: joint wing_left: rest 70 is outside command -40 to 60",
        ),
        (
            "rest = 10",
            "rset = 10",
            "heron.toml:11:1: joint wing_left: unknown key \"rset\"; write rest",
        ),
        ("max_rate_per_s = 60\n", "max_rate_per_s = ", "not TOML"),
    ] {
        let broken = ROBOT.replace(from, to);
        fs::write(folder.path().join("heron.toml"), &broken).unwrap();
        for args in [
            &fit[..],
            &["check", "heron.toml"],
            &["show", "heron.toml"],
            &["convert", "heron.toml", "wing_left", "1"],
        ] {
            let (out, err) = run(folder.path(), args, 2);
            assert_eq!(out, "");
            tells(&err, says);
        }
        assert_eq!(fs::read_to_string(folder.path().join("heron.toml")).unwrap(), broken);
    }
}

#[test]
fn misuse_is_status_two_and_every_command_explains_itself() {
    let folder = folder();
    let dir = folder.path();
    run(dir, &["fly"], 2);
    run(dir, &["fit"], 2);
    run(dir, &["fit", "readings.csv", "--into", "heron.toml"], 2);
    let (help, _) = run(dir, &["--help"], 0);
    tells_all(&help, &["not a safety function", "Exit status"]);
    for command in ["fit", "check", "show", "convert"] {
        let (help, _) = run(dir, &[command, "--help"], 0);
        tells(&help, "Examples:");
    }
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let (script, _) = run(dir, &["completions", shell], 0);
        assert!(script.contains("elbowroom") && script.contains("convert"), "{shell}");
    }
}

/// The lines that the README gives for the shell, typed as they stand.
#[test]
fn what_the_readme_says_of_the_shell_runs_as_written() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    fs::write(dir.join("readings.csv"), sweep(0.0)).unwrap();
    let readme = include_str!("../../../README.md");
    let mut ran = Vec::new();
    for line in readme.lines().filter_map(|line| line.strip_prefix("elbowroom ")) {
        let words: Vec<&str> = line.split_whitespace().collect();
        let output = tool(dir, &words, "");
        let said = String::from_utf8_lossy(&output.stdout) + String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(0), "{line}\n{said}");
        ran.push(words[0]);
    }
    assert_eq!(ran, ["fit", "check", "report", "convert", "firmware"]);
}

#[test]
fn what_nobody_said_is_told_with_what_to_write_instead() {
    let folder = folder();
    let dir = folder.path();
    let fit = ["fit", "readings.csv", "--into", "new.toml", "--joint", "a", "--new"];
    let (text, _) = run(dir, &fit, 0);
    tells_all(
        &text,
        &[
            "assumed      a servo of 0 to 180 deg on 500 to 2500 us (default; verify against the data sheet)",
            "if it is not, give the numbers of your data sheet, for example --servo-angle 0,120 --servo-pulse-us 900,2100\n",
            "or elbowroom edit new.toml set 'servo={ angle = [0, 120], pulse_us = [900, 2100] }'\n",
            "assumed      a timer of 50 frames per second, 4096 counts each (default; verify against the data sheet)",
            "if it is not, give the numbers of your data sheet, for example --frame-hz 100 --counts-per-frame 65536\n",
            "or elbowroom edit new.toml set 'timer={ frame_hz = 100, counts_per_frame = 65536 }'\n",
        ],
    );
    assert!(
        fs::read_to_string(dir.join("new.toml"))
            .unwrap()
            .contains("# Defaults: verify servo and timer")
    );
    let assumed = |args: &[&str]| {
        let object = json(dir, args, 0);
        let all = object["assumed"].as_array().unwrap().clone();
        all.iter()
            .map(|one| one["what"].as_str().unwrap().to_owned())
            .collect::<Vec<_>>()
    };
    // The file knows them now.
    assert_eq!(assumed(&fit), [""; 0]);
    assert_eq!(assumed(&["fit", "readings.csv"]), [""; 0], "drive angles need no servo");
    assert_eq!(assumed(&["fit", "readings.csv", "--drive-unit", "us"]), ["servo"]);
    let other = [
        &["fit", "readings.csv", "--into", "other.toml", "--joint", "a", "--new"],
        &["--frame-hz", "50", "--counts-per-frame", "4096"][..],
    ]
    .concat();
    assert_eq!(assumed(&other), ["servo"]);
    let third = [
        &["fit", "readings.csv", "--into", "third.toml", "--joint", "a", "--new"],
        &["--servo-angle", "0,180", "--servo-pulse-us", "500,2500"][..],
    ]
    .concat();
    assert_eq!(assumed(&third), ["timer"]);
}

/// What newcomers typed, and the sentence that tells them what to type instead.
#[test]
fn slips_of_the_first_hour_are_told_with_the_remedy() {
    let folder = folder();
    let dir = folder.path();
    fs::copy("../../tests/data/heron.toml", dir.join("heron.toml")).unwrap();
    let refused = |args: &[&str]| run(dir, args, 2).1;
    for (args, sentence) in [
        (
            &["fit", "readings.csv", "--guard", "1deg"][..],
            "--guard is \"1deg\"; give a plain number in deg, without its unit; if 1 is meant, write --guard 1",
        ),
        (
            &["fit", "readings.csv", "--frame-hz", "50Hz"],
            "--frame-hz is \"50Hz\"; give a plain number in Hz, without its unit; if 50 is meant, write --frame-hz 50",
        ),
        (
            &["fit", "readings.csv", "--guard", "wide"],
            "--guard is \"wide\"; give a plain number in deg, without its unit",
        ),
        (
            &["rehearse", "--seed", "1x"],
            "--seed is \"1x\"; give a plain whole number, without its unit; if 1 is meant, write --seed 1",
        ),
        (
            &["fit", "readings.csv", "--channel", "3"],
            "--channel needs --into <FILE> and --new as well; add them, or remove --channel",
        ),
        (
            &["convert", "heron.toml", "wing_left", "--", "-10", "--to", "counts"],
            "value 2 (\"--to\") is an option, which stands behind --; write options before --, or leave -- out: negative numbers need none",
        ),
        (
            &["convert", "heron.toml", "wing_left", "10deg"],
            "value 1 (\"10deg\") is not a number; write a plain number without its unit, e.g. 42.5",
        ),
        (
            &["convert", "heron.toml", "wing_left", "10,5"],
            "value 1 (\"10,5\") is not a number; write decimals with a point, 10.5, and several values with blanks between",
        ),
        (
            &["edit", "heron.toml", "unset", "wing_left.history"],
            "wing_left.history is not written in the file: nothing is to be taken out; leave it as it is, or correct the place",
        ),
        (
            &["edit", "heron.toml", "set", "wing_left.rst=12"],
            "heron.toml: joint wing_left: unknown key \"rst\"; write rest",
        ),
        (
            &["edit", "heron.toml", "set", "wing_lef.rest=12"],
            "heron.toml: no joint is named \"wing_lef\"; the nearest name is \"wing_left\"",
        ),
        (
            &["edit", "heron.toml", "rename", "wing_left", ""],
            "heron.toml: the joint's name is \"\"; give 1 to 64 bytes without control characters, e.g. wing_left",
        ),
    ] {
        let said = refused(args);
        assert!(said.contains(sentence), "{args:?}\n{said}");
        assert!(!said.contains("literal") && !said.contains("invalid digit"), "{said}");
    }
    // What nothing is missing for goes on.
    run(dir, &["convert", "heron.toml", "wing_left", "-10", "--to", "counts"], 0);
}

#[test]
fn pulse_widths_in_milliseconds_are_found_where_the_timer_is_fine_enough() {
    let folder = tempfile::tempdir().unwrap();
    let text = "format = 1\nname = \"heron\"\nservo = { angle = [0, 180], pulse_us = [0.5, 2.5] }\n\
                timer = { frame_hz = 50, counts_per_frame = 16000000 }\n\n\
                [joint.neck]\ncommand = [0, 90]\ndrive = [0, 90]\nrest = 0\n";
    fs::write(folder.path().join("heron.toml"), text).unwrap();
    let (out, _) = run(folder.path(), &["check", "heron.toml"], 1);
    tells(
        &out,
        "the values look like milliseconds; write servo.pulse_us = [500, 2500]",
    );
}
