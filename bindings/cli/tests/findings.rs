//! Slips that were met at a bench, each told with its remedy. All data are invented.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may fail loudly")]

mod common;

use common::{ROBOT, json, run, tells, tells_all, words};
use std::fmt::Write as _;
use std::fs;

/// A joint of 0.8 deg per deg of drive that lags 1 deg: drive, measured and side of each position, up and down again.
fn sweep() -> Vec<(f64, f64, &'static str)> {
    let at = |step: i32, side: &'static str| {
        let drive = 40.0 + 5.0 * f64::from(step);
        let lag = if side == "below" { -0.5 } else { 0.5 };
        let wobble = f64::from(step * 7 % 5 - 2) * 0.05;
        (drive, 0.8 * (drive - 90.0) + lag + wobble, side)
    };
    let up = (0..20).map(|step| at(step, "below"));
    up.chain((0..20).rev().map(|step| at(step, "above"))).collect()
}

#[test]
fn one_joint_that_cannot_be_fitted_does_not_stop_the_others() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let mut table = String::from("joint,drive,measured,approach\n");
    for joint in ["crest", "beak", "wing_left", "tail"] {
        for (drive, measured, side) in sweep() {
            let measured = if joint == "beak" || joint == "tail" {
                12.0
            } else {
                measured
            };
            let _ = writeln!(table, "{joint},{drive},{measured:.2},{side}");
        }
    }
    fs::write(dir.join("mix.csv"), &table).unwrap();
    let mix = words("fit mix.csv --each joint --into mix.toml --new");
    let (out, _) = run(dir, &mix, 1);
    tells_all(
        &out,
        &[
            "beak  not fitted: mix.csv: ",
            "tail  not fitted: mix.csv: ",
            "2 of 4 joints written into mix.toml",
            "2 of 4 joints could not be fitted: beak, tail; correct their readings and repeat the command",
        ],
    );
    assert!(!out.contains("contradict"), "{out}");
    let written = fs::read_to_string(dir.join("mix.toml")).unwrap();
    assert!(written.contains("[joint.crest]") && written.contains("[joint.wing_left]") && !written.contains("beak"));
    fs::remove_file(dir.join("mix.toml")).unwrap();
    let told = json(dir, &mix, 1);
    assert_eq!(told["joints"].as_array().unwrap().len(), 2);
    assert_eq!(told["failed"][0]["joint"], "beak");
    assert!(
        told["failed"][1]["error"]["message"]
            .as_str()
            .unwrap()
            .starts_with("mix.csv: ")
    );
    // None: nothing is written, and each is named.
    let still: String = table
        .lines()
        .filter(|line| !line.starts_with("crest") && !line.starts_with("wing"))
        .fold(String::new(), |text, line| text + line + "\n");
    let still = still.replace("tail,40,12.00", "tail,40,12.40");
    fs::write(dir.join("none.csv"), still).unwrap();
    let (_, err) = run(dir, &words("fit none.csv --each joint --into none.toml --new"), 2);
    tells_all(&err, &["joint beak: none.csv: ", "\njoint tail: none.csv: "]);
    assert!(!dir.join("none.toml").exists());
}

#[test]
fn merged_cells_of_the_approach_are_counted() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let mut table = String::from("drive,measured,approach\n");
    let mut last = "";
    for (drive, measured, side) in sweep() {
        let _ = writeln!(table, "{drive},{measured:.2},{}", if side == last { "" } else { side });
        last = side;
    }
    fs::write(dir.join("merged.csv"), table).unwrap();
    let (out, _) = run(dir, &words("fit merged.csv"), 0);
    let folded = out.split_whitespace().collect::<Vec<_>>().join(" ");
    tells(
        &folded,
        "38 of 40 cells of the approach are blank, and merged cells of a spreadsheet leave all but the first blank: write below or above into \
         every row",
    );
}

#[test]
fn stars_stand_for_letters_wherever_joints_are_named() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let heron = include_str!("../../../tests/data/heron.toml");
    let file = dir.join("heron.toml");
    fs::write(&file, heron).unwrap();
    run(dir, &words("edit heron.toml sense hip_* undetermined"), 0);
    assert_eq!(
        fs::read_to_string(&file).unwrap().matches("\"undetermined\"").count(),
        2
    );
    run(dir, &words("edit heron.toml unset knee_*.max_rate_per_s"), 0);
    run(
        dir,
        &words("edit heron.toml waive rate-missing --joint knee_* --reason slow"),
        0,
    );
    let text = fs::read_to_string(&file).unwrap();
    assert!(text.contains("joint = \"knee_left\"") && text.contains("joint = \"knee_right\""));
    fs::write(&file, heron).unwrap();
    run(dir, &words("edit heron.toml remove wing_* tail"), 0);
    let text = fs::read_to_string(&file).unwrap();
    assert!(!text.contains("[joint.wing") && !text.contains("[joint.tail]") && text.contains("[joint.hip_left]"));
    fs::write(&file, heron).unwrap();
    run(dir, &words("edit heron.toml unset *_right.mirror_of"), 0);
    run(dir, &words("edit heron.toml set *_right.mirror_of=*_left"), 0);
    let text = fs::read_to_string(&file).unwrap();
    assert!(
        text.contains("mirror_of = \"knee_left\"") && !text.contains('*'),
        "{text}"
    );
    let (_, err) = run(dir, &words("edit heron.toml remove fin_*"), 2);
    tells(&err, "no joint is named fin_*");
    for change in [
        "rename knee_* knees",
        "copy knee_* knee_third",
        "mirror knee_left knee_*",
    ] {
        let (_, err) = run(dir, &words(&format!("edit heron.toml {change}")), 2);
        tells(
            &err,
            "knee_* may stand for several joints, and one is needed here; write its whole name",
        );
    }
}

#[test]
fn counts_beyond_sixteen_bits_are_told_with_the_call_that_gives_them() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let narrow = ROBOT.replace("rest = 10\n", "rest = 10\ntravel = [40, 119]\n");
    fs::write(dir.join("heron.toml"), &narrow).unwrap();
    let (out, _) = run(dir, &words("firmware heron.toml --board breast"), 0);
    assert!(!out.contains("elb_block_convert"), "{out}");
    let wide = narrow.replace("counts_per_frame = 4096", "counts_per_frame = 1048576");
    fs::write(dir.join("heron.toml"), wide).unwrap();
    let (out, _) = run(dir, &words("firmware heron.toml --board breast"), 0);
    tells(
        &out,
        "note: joint wing_left (channel 3) has counts up to 95536, and elb_block_counts refuses counts above 65535, the most of 16 bits, with \
         ELB_STATUS_COUNT_TOO_WIDE; call elb_block_convert, whose counts have 32 bits",
    );
    let told = json(dir, &words("firmware heron.toml --board breast"), 0);
    assert_eq!(told["notes"].as_array().unwrap().len(), 1);
}

#[test]
fn a_renamed_joint_and_another_servo_line_are_no_other_numbers() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let heron = include_str!("../../../tests/data/heron.toml");
    for name in ["a.toml", "b.toml", "c.toml"] {
        fs::write(dir.join(name), heron).unwrap();
    }
    run(dir, &words("edit b.toml rename wing_left wing_port"), 0);
    let (out, _) = run(dir, &words("compare a.toml b.toml"), 1);
    tells(
        &out,
        "wing_left and wing_port agree in all values:\n  wing_left may have been renamed to wing_port;",
    );
    let told = json(dir, &words("compare a.toml b.toml"), 1);
    assert_eq!(
        told["renamed"],
        serde_json::json!([{ "old": "wing_left", "new": "wing_port" }])
    );
    let servo = [
        "edit",
        "c.toml",
        "set",
        "servo={ angle = [0, 90], pulse_us = [500, 2500] }",
    ];
    tells(&run(dir, &servo, 0).0, "every command keeps its pulse");
    let (out, _) = run(dir, &words("compare a.toml c.toml"), 1);
    tells(
        &out,
        "the servo lines differ: old drive angles are given in degrees of the new\n  line, at the same pulses",
    );
    assert!(
        out.contains("servo angle upper") && !out.contains("E_n") && !out.contains("drive lower"),
        "{out}"
    );
}

#[test]
fn a_reading_at_a_rail_far_from_its_neighbours_is_named_with_its_line() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    for (row, rail) in [(7, 0.0), (20, 1023.0), (39, 0.0)] {
        let mut table = String::from("drive,measured,approach,adc\n");
        for (index, (drive, measured, side)) in sweep().into_iter().enumerate() {
            let adc = if index == row {
                rail
            } else {
                (500.0 + 8.0 * measured).round()
            };
            let _ = writeln!(table, "{drive},{measured:.2},{side},{adc}");
        }
        fs::write(dir.join("readings.csv"), table).unwrap();
        let fit = words("fit readings.csv --feedback adc --adc-bits 10");
        let (_, err) = run(dir, &fit, 2);
        tells(
            &err,
            &format!(
                "readings.csv:{}: --feedback adc: reading {rail} is at an end of the converter's range, 0 to 1023, and its neighbours are not; a \
                 wire may be broken: take it again or delete the row",
                row + 2
            ),
        );
    }
}

#[test]
fn one_quantity_is_printed_as_an_object_too() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    fs::write(dir.join("heron.toml"), ROBOT).unwrap();
    let told = json(dir, &words("convert heron.toml wing_left 10 --to counts"), 0);
    assert_eq!(
        told["values"],
        serde_json::json!([{ "given": 10.0, "counts": 283, "clamped_to_command": false, "clamped_to_travel": false }])
    );
    let told = json(
        dir,
        &words("convert heron.toml wing_left 283 --from counts --to command"),
        0,
    );
    assert!(told["values"][0]["command"].is_number() && told["values"][0]["given"] == 283.0);
}

/// A wire and a sense that the file does not state: the commands that the check prints do state them, pasted.
#[test]
fn a_missing_channel_and_an_untested_sense_are_written_by_the_commands_told() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let text = ROBOT_OF_ONE
        .replace("channel = 0\n", "")
        .replace("board = \"head\"\n", "");
    fs::write(dir.join("one.toml"), text).unwrap();
    let pasted = |rule: &str| -> Vec<String> {
        let found = json(dir, &["check", "one.toml"], 1);
        let findings = found["findings"].as_array().unwrap();
        let hint = findings.iter().find(|finding| finding["rule"] == rule).unwrap()["hint"]
            .as_str()
            .unwrap();
        let (_, command) = hint.split_once(": elbowroom ").unwrap();
        let command = command.replace("=NAME", "=head").replace("=N", "=4");
        command.split(' ').map(ToOwned::to_owned).collect()
    };
    for rule in ["channel-missing", "sense-unproven"] {
        let command = pasted(rule);
        run(dir, &command.iter().map(String::as_str).collect::<Vec<_>>(), 0);
    }
    let left = json(dir, &["check", "one.toml"], 1);
    let rules: Vec<&str> = left["findings"]
        .as_array()
        .unwrap()
        .iter()
        .map(|finding| finding["rule"].as_str().unwrap())
        .collect();
    assert!(
        !rules.contains(&"channel-missing") && !rules.contains(&"sense-unproven"),
        "{rules:?}"
    );
    let shown = json(dir, &["show", "one.toml"], 0);
    assert_eq!(
        (&shown["joints"][0]["board"], &shown["joints"][0]["channel"]),
        (&"head".into(), &4.into())
    );
}

/// Invented.
const ROBOT_OF_ONE: &str = "format = 1
servo = { angle = [0, 180], pulse_us = [500, 2500] }
timer = { frame_hz = 50, counts_per_frame = 4096 }
[board.head]
channels = 16
[joint.neck_base]
board = \"head\"
channel = 0
unit = \"deg\"
command = [-45, 45]
drive = [45, 135]
rest = 0
max_rate_per_s = 30
feedback = { reading = [212, 871], angle = [-45, 45], adc_bits = 10 }
";
