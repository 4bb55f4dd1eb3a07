//! What the tool says to somebody who does not program: each message names the remedy that helps. All data are invented.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may fail loudly")]

mod common;

use common::{READINGS, ROBOT, folder, json, run, sweep, tells, tells_all, tool, words};
use std::fs;
use std::path::Path;
use std::process::{Command, Output};

fn in_columns(dir: &Path, columns: &str, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_elbowroom"))
        .args(args)
        .env("COLUMNS", columns)
        .current_dir(dir)
        .output()
        .unwrap()
}

/// A joint that inherits a part of its servo keeps its pulses; where a pulse changes, that is said and nothing else.
#[test]
fn a_servo_line_keeps_the_pulses_of_joints_that_inherit_a_part_of_it() {
    let folder = folder();
    let dir = folder.path();
    let pulses = || {
        run(
            dir,
            &words("convert heron.toml wing_left --to pulse-us -- -40 10 60"),
            0,
        )
        .0
    };
    run(dir, &["edit", "heron.toml", "set", "wing_left.servo.assumed=false"], 0);
    let before = pulses();
    let (out, _) = run(dir, &["edit", "heron.toml", "set", "servo.pulse_us=450,2450"], 0);
    tells(&out, "every command keeps its pulse");
    for (new, old) in pulses().lines().zip(before.lines()) {
        let (new, old): (f64, f64) = (new.trim().parse().unwrap(), old.trim().parse().unwrap());
        assert!((new - old).abs() < 0.05, "{new} {old}");
    }
    let text = fs::read_to_string(dir.join("heron.toml")).unwrap();
    tells(&text, "servo = { assumed = false }");
    // Together with another drive range the pulses are others, and it says which.
    let (out, _) = run(
        dir,
        &words("edit heron.toml set wing_left.drive=20,90 servo.pulse_us=500,2500"),
        0,
    );
    assert!(
        !out.contains("every command keeps its pulse") && out.contains("command -40 now gives a pulse of"),
        "{out}"
    );
}

#[test]
fn another_command_range_says_what_it_does() {
    let folder = folder();
    let dir = folder.path();
    let (out, _) = run(dir, &["edit", "heron.toml", "set", "wing_left.command=-40,45"], 0);
    tells(
        &out,
        "joint wing_left: this changes what every command means; its command 45 goes to drive angle 122 deg, before 109.25 deg (+12.75 deg)",
    );
    tells(&out, "set wing_left.drive=37,109.25 as well");
    fs::write(dir.join("heron.toml"), ROBOT).unwrap();
    let both = words("edit heron.toml set wing_left.command=-40,45 wing_left.drive=37,109.25");
    let (out, _) = run(dir, &both, 0);
    assert!(!out.contains("what every command means"), "{out}");
}

#[test]
fn findings_that_only_say_it_otherwise_are_not_counted_as_gone() {
    let folder = folder();
    let dir = folder.path();
    let two = ROBOT
        .replace("servo = { angle", "servo = { assumed = true, angle")
        .replace("timer = {", "timer = { assumed = true,");
    fs::write(dir.join("heron.toml"), two).unwrap();
    let (out, _) = run(dir, &["edit", "heron.toml", "set", "servo.assumed=false"], 0);
    assert!(!out.contains("fewer"), "{out}");
    tells(&out, "the check still finds, in other words:");
    // Several have one heading.
    let wing = |name: &str| {
        format!(
            "\n[joint.{name}]\ncommand = [-40, 60]\ndrive = [37, 122]\ntravel = [40, 120]\nrest = 10\n[joint.{name}.evidence]\n\
             lower = {{ kind = \"contact\", at = 39.8, u = 0.2, guard = 0.2 }}\n"
        )
    };
    let (top, _) = ROBOT.split_once("[joint").unwrap();
    fs::write(
        dir.join("heron.toml"),
        format!("{top}{}{}", wing("wing_left"), wing("wing_right")),
    )
    .unwrap();
    let (out, _) = run(dir, &["edit", "heron.toml", "set", "servo.pulse_us=600,2400"], 0);
    assert_eq!(out.matches("in other words:").count(), 1, "{out}");
    assert_eq!(out.matches("guard-within-uncertainty").count(), 2, "{out}");
}

#[test]
fn several_tables_show_what_was_left_out() {
    let folder = folder();
    let dir = folder.path();
    let mut wrong: Vec<String> = sweep(0.0).lines().map(str::to_owned).collect();
    // Two digits exchanged in one reading.
    let at = wrong.iter().position(|row| row.starts_with("80,")).unwrap();
    wrong[at] = "80,97.5,below".to_owned();
    fs::write(dir.join("a.csv"), wrong.join("\n")).unwrap();
    fs::write(dir.join("b.csv"), sweep(5.0)).unwrap();
    let (out, _) = run(dir, &["fit", "a.csv", "b.csv"], 0);
    tells(&out, &format!("  left out: line {}: 97.5", at + 1));
}

#[test]
fn one_event_has_one_sign_and_one_remedy() {
    let folder = folder();
    let dir = folder.path();
    fs::write(dir.join("before.csv"), sweep(0.0)).unwrap();
    fs::write(dir.join("after.csv"), sweep(-15.0)).unwrap();
    let (compared, _) = run(dir, &["compare", "before.csv", "after.csv"], 1);
    let joint = ["--into", "crane.toml", "--joint", "wing_left"];
    run(dir, &[&["fit", "before.csv", "--new"], &joint[..]].concat(), 0);
    let (fitted, _) = run(dir, &[&["fit", "after.csv"], &joint[..]].concat(), 1);
    for out in [&compared, &fitted] {
        tells_all(
            out,
            &[
                "deg more drive than",
                "the horn sits 1 tooth of 24 (15 deg) towards larger drive angles",
                "deg unexplained",
                "set it back 1 tooth, or ",
            ],
        );
    }
    let row = compared
        .lines()
        .find(|row| row.starts_with("offset, drive deg"))
        .unwrap();
    // The number of the row is that of the object.
    let object = json(dir, &["compare", "before.csv", "after.csv"], 1);
    let value = object["comparison"]["changes"][0]["difference"]["value"]
        .as_f64()
        .unwrap();
    let shown: f64 = row.split_whitespace().nth(3).unwrap().parse().unwrap();
    assert!((shown - value).abs() < 1e-4 && (value + 15.0).abs() < 0.5, "{compared}");
}

#[test]
fn remedies_do_what_they_promise() {
    let folder = folder();
    let dir = folder.path();
    let right = ROBOT.to_owned()
        + "[joint.wing_right]\nboard = \"breast\"\nchannel = 4\ncommand = [-40, 85]\ndrive = [37, 122]\nrest = 20\ninverted = true\nmax_rate_per_s = 60\nmirror_of = \"wing_left\"\n";
    fs::write(dir.join("heron.toml"), &right).unwrap();
    let (out, _) = run(dir, &["check", "heron.toml"], 1);
    assert!(!out.contains("make them agree"), "{out}");
    let hint = out
        .split("elbowroom edit heron.toml set wing_right.command")
        .nth(1)
        .unwrap();
    let values = hint.lines().next().unwrap().trim_start_matches('=');
    let (command, together) = values.split_once(' ').unwrap();
    let pulse = || {
        run(
            dir,
            &["convert", "heron.toml", "wing_right", "--to", "pulse-us", "10", "60"],
            0,
        )
        .0
    };
    let before = pulse();
    let command = format!("wing_right.command={command}");
    let args = [&["edit", "heron.toml", "set", &command], &words(together)[..]].concat();
    let output = tool(dir, &args, "");
    assert!(
        output.status.success(),
        "{args:?} {}",
        String::from_utf8_lossy(&output.stderr)
    );
    assert_eq!(pulse(), before);

    fs::write(dir.join("heron.toml"), &right).unwrap();
    run(dir, &["edit", "heron.toml", "remove", "wing_left"], 1);
    let (out, _) = run(dir, &["check", "heron.toml"], 1);
    assert!(
        out.contains("take it out: elbowroom edit heron.toml unset wing_right.mirror_of")
            && !out.contains("name is wing_right"),
        "{out}"
    );
    run(dir, &["edit", "heron.toml", "unset", "wing_right.mirror_of"], 0);

    let (_, err) = run(dir, &["firmware", "heron.toml", "--board", "brest"], 2);
    tells(&err, "no joint is on board brest; the boards with joints are: breast");
    fs::write(dir.join("heron.toml"), &right).unwrap();
    let (_, err) = run(dir, &["edit", "heron.toml", "rename", "wing_left", "wing_right"], 2);
    tells(&err, "another joint is called \"wing_right\"; choose another name");
    let (_, err) = run(dir, &["edit", "heron.toml", "rename", "wing_left", "wing_left"], 2);
    tells(&err, "\"wing_left\" is its name already; give another one");
}

#[test]
fn drive_columns_say_their_unit_by_their_names() {
    let folder = folder();
    let dir = folder.path();
    let counts: String = sweep(0.0)
        .lines()
        .skip(1)
        .map(|row| {
            let (drive, rest) = row.split_once(',').unwrap();
            let pulse = 500.0 + drive.parse::<f64>().unwrap() * 2000.0 / 180.0;
            format!("{:.0},{pulse:.0},{rest}\n", pulse * 4096.0 / 20000.0)
        })
        .collect();
    for (head, args) in [
        ("counts,other,measured,approach", &[][..]),
        ("other,pulse_us,measured,approach", &[][..]),
        ("other,pulse,measured,approach", &[][..]),
        ("other,us,measured,approach", &[][..]),
        ("time_ms,Pulse (us),measured,approach", &[][..]),
        ("Counts,drive,measured,approach", &["--drive", "Counts"][..]),
        ("other,pulse_us,measured,approach", &["--drive", "pulse_us"][..]),
    ] {
        fs::write(dir.join("c.csv"), format!("{head}\n{counts}")).unwrap();
        let (out, _) = run(dir, &[&["fit", "c.csv"], args].concat(), 0);
        assert!(
            out.contains("contact at 39.") || out.contains("contact at 40"),
            "{head}\n{out}"
        );
        assert!(!out.contains("does not look like degrees"), "{head}\n{out}");
    }
    // Nothing tells: it is asked.
    fs::write(dir.join("c.csv"), format!("drive,other,measured,approach\n{counts}")).unwrap();
    let into = ["fit", "c.csv", "--into", "crane.toml", "--joint", "wing_left", "--new"];
    let (_, err) = run(dir, &into, 2);
    tells_all(
        &err,
        &[
            "does not look like degrees",
            "--drive-unit counts",
            "--drive-unit us",
            "exchanged?",
        ],
    );
}

#[test]
fn tables_are_read_as_people_write_them() {
    let folder = folder();
    let dir = folder.path();
    let words = sweep(0.0).replace("below", "up").replace("above", "down");
    fs::write(dir.join("words.csv"), words).unwrap();
    run(dir, &["fit", "words.csv"], 0);
    fs::write(dir.join("unit.csv"), "drive,measured\n80 mm,1\n90,2\n").unwrap();
    let (_, err) = run(dir, &["fit", "unit.csv"], 2);
    tells(&err, "\"80 mm\" is in mm, the column in deg");
}

#[test]
fn a_file_of_another_kind_is_told_with_what_reads_it() {
    let folder = folder();
    let dir = folder.path();
    let said = |args: &[&str]| run(dir, args, 2).1;
    assert!(
        said(&["check", "readings.csv"])
            .contains("a table of readings, not a robot file (.toml); elbowroom fit readings.csv reads it")
    );
    assert!(
        said(&["fit", "heron.toml"])
            .contains("this is a robot file, not a table of readings; elbowroom show heron.toml")
    );
    fs::write(dir.join("b.xlsx"), b"PK\x03\x04\x14\x00\x06\x00").unwrap();
    assert!(said(&["fit", "b.xlsx"]).contains("save the sheet as CSV"));
    assert!(
        said(&["check", "herom.toml"])
            .contains("the file does not exist; the nearest name in that folder is heron.toml")
    );
    assert!(said(&["fit", "reading.csv"]).contains("the nearest name in that folder is readings.csv"));
    assert!(said(&["check", "gone/heron.toml"]).contains("the folder gone does not exist"));
    let into = words("fit readings.csv --into gone/x.toml --joint wing --new");
    assert!(said(&into).contains("the folder gone does not exist"));
}

/// Every line of text fits; only a word that is longer by itself may stand out.
#[test]
fn lines_fit_the_columns_asked_for() {
    let folder = folder();
    let dir = folder.path();
    fs::write(dir.join("a.csv"), sweep(0.0)).unwrap();
    fs::write(dir.join("b.csv"), sweep(15.0)).unwrap();
    for args in [
        &["show", "heron.toml", "wing_left"][..],
        &["check", "heron.toml"],
        &["fit", "a.csv"],
        &["compare", "a.csv", "b.csv"],
        &["check", "--rules"],
        &["help", "measure"],
        &["help", "file"],
        &["help", "bring-up"],
        &["bring-up", "--help"],
    ] {
        for columns in [80, 40] {
            let output = in_columns(dir, &columns.to_string(), args);
            let text = String::from_utf8(output.stdout).unwrap();
            assert!(!text.is_empty());
            let wide = text
                .lines()
                .find(|line| line.chars().count() > columns && line.trim().contains(' '));
            assert_eq!(wide, None, "{args:?} {columns}\n{text}");
        }
    }
    // What programs read stays as it is.
    let output = in_columns(dir, "40", &["schema"]);
    serde_json::from_slice::<serde_json::Value>(&output.stdout).unwrap();
    let fit = run(dir, &["fit", "a.csv"], 0).0;
    assert!(
        fit.lines().any(|line| line.chars().count() > 80),
        "not folded where nobody asked\n{fit}"
    );
}

/// Whoever gives an argument that a command does not take is told which, and the command line that is likely meant.
#[test]
fn an_unexpected_argument_is_named_with_the_right_command_line() {
    let folder = folder();
    for (args, right) in [
        (
            &["bring-up", "heron.toml", "wing_left"][..],
            "unexpected argument \"wing_left\"; bring-up takes the joint by --joint: elbowroom bring-up heron.toml --joint wing_left",
        ),
        (
            &["rehearse", "heron.toml", "left wing", "--seed", "3"],
            "elbowroom rehearse heron.toml --joint 'left wing' --seed 3",
        ),
        (
            &["convert", "heron.toml", "--joint", "wing_left", "10"],
            "unexpected option --joint; convert takes the joint without it: elbowroom convert heron.toml wing_left 10",
        ),
        (
            &["show", "--joint=wing_left", "heron.toml"],
            "elbowroom show heron.toml wing_left",
        ),
        (
            &["show", "--file", "heron.toml", "wing_left"],
            "elbowroom show heron.toml wing_left",
        ),
        (
            &["check", "heron.toml", "--into", "heron.urdf"],
            "unexpected option --into; check has no such option, fit and limits have: leave it out here, or see elbowroom check --help",
        ),
        (
            &["check", "heron.toml", "--joint", "wing_left"],
            "and edit waive have: leave it out here",
        ),
        (
            &["edit", "heron.toml", "rename", "neck", "throat", "--channel", "3"],
            "rename has no such option",
        ),
        // Where neither helps, the words of the parser name what was unexpected, and the usage.
        (
            &["check", "heron.toml", "wing_left"],
            "unexpected argument 'wing_left' found",
        ),
        (&["fit", "a.csv", "--jont", "x"], "a similar argument exists: '--joint'"),
    ] {
        let (_, told) = run(folder.path(), args, 2);
        assert!(told.contains(right), "{args:?}: {told}");
    }
    let object = json(folder.path(), &["bring-up", "heron.toml", "wing_left"], 2);
    let message = object["error"]["message"].as_str().unwrap();
    tells(message, "heron.toml --joint wing_left");
}

#[test]
fn decimals_with_a_comma_are_told_as_such() {
    let folder = common::folder();
    let dir = folder.path();
    let said = |args: &[&str]| run(dir, args, 2).1;
    tells(
        &said(&["fit", "readings.csv", "--guard", "2,5"]),
        "--guard is \"2,5\"; write decimals with a point, 2.5",
    );
    for place in ["wing_left.max_rate_per_s", "check.guard"] {
        let set = format!("{place}=20,5");
        tells(
            &said(&["edit", "heron.toml", "set", &set]),
            &format!("{place} is \"20,5\"; write decimals with a point, 20.5"),
        );
    }
    tells(
        &said(&words("edit heron.toml set wing_left.max_rate_per_s=fast")),
        "write e.g. max_rate_per_s = 60",
    );
    // Two numbers stay a pair.
    run(dir, &words("edit heron.toml set wing_left.travel=40,119"), 0);
}

#[test]
fn a_name_that_is_nearly_right_is_corrected_first() {
    let folder = common::folder();
    let dir = folder.path();
    let fit = |name: &str| {
        run(
            dir,
            &["fit", "readings.csv", "--into", "heron.toml", "--joint", name],
            2,
        )
        .1
    };
    for name in ["wing_lfet", "Wing_Left", "WING_LEFT"] {
        tells(
            &fit(name),
            &format!(
                "no joint is named \"{name}\"; the nearest name is \"wing_left\"; correct the name, or give --new for another joint"
            ),
        );
    }
    tells(
        &fit("tail"),
        "no joint is named \"tail\"; the only joint is \"wing_left\"; --new adds it",
    );
    // The same in a table of many.
    let table = READINGS.replace("drive,", "joint,drive,").replace('\n', "\nwing_lfet,");
    let table = table.trim_end_matches("wing_lfet,");
    fs::write(dir.join("many.csv"), table).unwrap();
    let (_, err) = run(dir, &words("fit many.csv --each joint --into heron.toml"), 2);
    tells(&err, "correct the name, or give --new for another joint");
}

#[test]
fn the_gravest_findings_come_first() {
    let folder = common::folder();
    let dir = folder.path();
    let heron = include_str!("../../../tests/data/heron.toml");
    let worse = heron.replacen("max_rate_per_s = 30\n", "", 1);
    fs::write(dir.join("heron.toml"), worse).unwrap();
    run(dir, &words("edit heron.toml sense tail aiding"), 1);
    let (out, _) = run(dir, &["check", "heron.toml"], 1);
    let severities: Vec<usize> = out
        .lines()
        .filter_map(|line| {
            ["error ", "warning ", "note "]
                .iter()
                .position(|word| line.contains(&format!(": {word}")))
        })
        .collect();
    assert!(
        severities.contains(&0) && severities.contains(&1) && severities.is_sorted(),
        "{out}"
    );
    let found = json(dir, &["check", "heron.toml"], 1);
    assert_eq!(found["findings"][0]["severity"], "warning", "in the order of the file");
}
