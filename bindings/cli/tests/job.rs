//! The whole job at a real joint as a person does it: bring-up, edit, image, repairs. The joints are invented, their truth is known.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod common;

use common::bench::{AGAIN, Bench, HEALTHY, NEW, TIMER, brought_up, right, through};
use common::{json, run, tells, tells_all, words};
use std::fs;

#[test]
fn from_loose_parts_to_file_report_and_image_and_through_three_repairs() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let mut bench = HEALTHY;
    let (status, text, steps) = through(dir, &mut bench, &[&NEW[..], &TIMER].concat(), None);
    assert_eq!(status, Some(0), "{text}");
    tells_all(
        &text,
        &[
            "caution: keep a hand on the power switch",
            "drive 101 deg, pulse 1621.1 us, counts 332",
            "ready: the joint is ready for software within its travel",
            "drive angle, deg; + from below",
            "added to heron.toml",
            "next: elbowroom check heron.toml",
        ],
    );
    let read = steps.iter().filter(|step| step["kind"] == "read").count();
    assert!((12..=60).contains(&read), "{read} readings\n{text}");
    right(dir, "wing_left", &HEALTHY);
    assert!(!dir.join("heron.wing_left.bring-up.json").exists());
    let file = fs::read_to_string(dir.join("heron.toml")).unwrap();
    tells_all(
        &file,
        &["kind = \"contact\"", "source = { file = \"readings/wing_left_"],
    );

    // The other wing is declared first, then measured; the image is refused while an error stands.
    run(dir, &["edit", "heron.toml", "sense", "wing_left", "undetermined"], 0);
    run(
        dir,
        &words("edit heron.toml mirror wing_left wing_right --channel 3"),
        1,
    );
    let (_, err) = run(dir, &["firmware", "heron.toml"], 2);
    tells_all(&err, &["channel-clash", "--despite"]);
    run(dir, &["edit", "heron.toml", "set", "wing_right.channel=4"], 0);
    run(dir, &["check"], 1);
    let (out, _) = run(dir, &["report"], 1);
    tells(&out, "heron.html");
    let (out, _) = run(dir, &["firmware", "heron.toml"], 0);
    tells_all(&out, &["heron_breast.bin", "library: the plain one"]);

    // 1: the horn one tooth of 25 off.
    let tooth = 14.4 * 2000.0 / 180.0;
    let mut horn = Bench {
        at_zero: HEALTHY.at_zero + tooth,
        ..HEALTHY
    };
    // What begins from the start is not printed again.
    let (status, text, _) = through(dir, &mut horn, &[&AGAIN[..], &["--restart"]].concat(), None);
    assert_eq!(status, Some(1), "{text}");
    tells_all(
        &text,
        &[
            "not decided: both ends of the travel were found, but the readings contradict joint wing_left in heron.toml",
            "25",
            "nothing was written; decide, no reading is asked for again:",
            "--joint wing_left --resolution 0.5 --adopt\n",
        ],
    );
    assert!(
        !text.contains("ready for software") && !text.contains("--restart"),
        "{text}"
    );
    right(dir, "wing_left", &HEALTHY);
    // No reading is asked for again.
    let (status, text, steps) = through(dir, &mut horn, &["--joint", "wing_left", "--adopt"], None);
    assert_eq!((status, steps.len()), (Some(0), 0), "{text}");
    right(dir, "wing_left", &horn);

    // 2: a servo of another model, its own line unknown to the file, on the same joint.
    let mut model = Bench {
        at_zero: 1450.0,
        us_per_deg: 6.2,
        ..HEALTHY
    };
    let (status, text, _) = through(dir, &mut model, &AGAIN, None);
    assert_eq!(status, Some(1), "{text}");
    let (status, text, _) = through(dir, &mut model, &["--joint", "wing_left", "--adopt"], None);
    assert_eq!(status, Some(0), "{text}");
    right(dir, "wing_left", &model);

    // 3: worn gears.
    let mut worn = Bench { lost: 4.0, ..model };
    let (status, text, _) = through(dir, &mut worn, &[&AGAIN[..], &["--adopt"]].concat(), None);
    assert_eq!(status, Some(0), "{text}");
    right(dir, "wing_left", &worn);
    let shown = json(dir, &["show", "heron.toml", "wing_left"], 0);
    let lost = shown["joints"][0]["evidence"]["lost_motion"].as_f64().unwrap();
    let truly = 4.0 * model.us_per_deg * 180.0 / 2000.0;
    assert!((lost - truly).abs() < 1.0, "{lost} {truly}");
}

#[test]
fn a_kill_loses_nothing_and_the_same_command_goes_on() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let mut bench = HEALTHY;
    let all = [&NEW[..], &TIMER].concat();
    let (status, _, before) = through(dir, &mut bench, &all, Some(17));
    assert_eq!(status, None);
    assert!(!dir.join("heron.toml").exists());
    let (status, text, after) = through(dir, &mut bench, &all, None);
    assert_eq!(status, Some(0), "{text}");
    tells(&text, "continuing the bring-up saved in heron.wing_left.bring-up.json");
    // It comes again to where it stood, first inward, and asks for no reading a second time.
    let typed = before.last().unwrap()["typed"].as_u64().unwrap();
    assert!(
        typed > 2 && after[0]["typed"].as_u64().unwrap() >= typed,
        "{before:?}\n{after:?}"
    );
    assert_eq!(after[0]["kind"], "move-to");
    right(dir, "wing_left", &HEALTHY);
    // Another joint's or another plan's is not taken for this one's.
    fs::write(dir.join("x.json"), "{}").unwrap();
    let (_, err) = run(
        dir,
        &["bring-up", "heron.toml", "--joint", "wing_left", "--state", "x.json"],
        2,
    );
    tells(
        &err,
        "is not a bring-up as it was saved: name another file with --state",
    );
}

/// The beetle's job, invented: from one table of 18 joints to a checked file and its report.
#[test]
fn eighteen_joints_take_three_commands() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let mut table = String::from("joint,board,channel,max_rate_per_s,drive,measured,approach\n");
    for leg in 0..18 {
        let (side, sign) = if leg < 9 { ("left", 1.0) } else { ("right", -1.0) };
        for (way, lost) in [("below", -0.4), ("above", 0.4)] {
            // No reading stands on the upper stop alone.
            for place in 0..13 {
                let drive = 30.0 + 9.0 * f64::from(place);
                let angle = (sign * (drive - 88.0 - f64::from(leg) * 0.7 + lost)).clamp(-48.0, 50.0);
                let angle = (angle * 2.0).round() / 2.0;
                table.push_str(&format!(
                    "leg_{side}_{},{side},{},90,{drive},{angle},{way}\n",
                    leg % 9,
                    leg % 9
                ));
            }
        }
    }
    fs::write(dir.join("beetle.csv"), table).unwrap();
    let fit = ["fit", "beetle.csv", "--each", "joint", "--into", "beetle.toml", "--new"];
    let (_, err) = run(dir, &[&fit[..], &["--channel", "3"]].concat(), 2);
    tells_all(
        &err,
        &[
            "--channel 3 would put 18 joints on one channel",
            "a column channel of the table",
        ],
    );
    assert!(!dir.join("beetle.toml").exists());
    run(dir, &fit, 0);
    let (out, _) = run(dir, &["check"], 0);
    tells(&out, "the servo of 18 joints and the timer of 18 joints are assumed");
    run(dir, &["report"], 0);
    let shown = json(dir, &["show"], 0);
    assert_eq!(shown["joints"].as_array().unwrap().len(), 18);
}

#[test]
fn a_brought_up_joint_is_kept_when_told() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    brought_up(dir);
    let before = fs::read_to_string(dir.join("heron.toml")).unwrap();
    let drive = before
        .lines()
        .find(|line| line.starts_with("drive"))
        .unwrap()
        .to_owned();
    let mut horn = Bench {
        at_zero: HEALTHY.at_zero + 160.0,
        ..HEALTHY
    };
    let (status, text, _) = through(dir, &mut horn, &[&AGAIN[..], &["--keep"]].concat(), None);
    assert_eq!(status, Some(0), "{text}");
    assert!(text.contains("contradict") || text.contains("updated in"), "{text}");
    assert!(fs::read_to_string(dir.join("heron.toml")).unwrap().contains(&drive));
}
