//! Joints that were repaired and measured again: what the file says of them stays right, or nothing is written.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod common;

use common::{json, run, tells, tells_all, words};
use serde_json::Value;
use std::fs;
use std::path::Path;

/// An invented joint: measured deg at a pulse width, with stops at -46 and 66 deg, on a servo of so many us per deg.
#[derive(Clone, Copy)]
struct Truth {
    /// Drive deg at joint angle 0, by a servo of 0 to 180 deg on 500 to 2500 us.
    at_zero: f64,
    /// Drive deg per deg of the joint.
    per_deg: f64,
    /// Lost motion, joint deg.
    lost: f64,
}

const HEALTHY: Truth = Truth {
    at_zero: 71.0,
    per_deg: 0.85,
    lost: 0.4,
};

const US_PER_DEG: f64 = 2000.0 / 180.0;

impl Truth {
    /// The pulse width that takes the joint to an angle, midway between both approaches.
    fn pulse(self, angle: f64) -> f64 {
        500.0 + US_PER_DEG * (self.at_zero + self.per_deg * angle)
    }

    fn angle(self, pulse: f64) -> f64 {
        ((pulse - 500.0) / US_PER_DEG - self.at_zero) / self.per_deg
    }

    /// Pulse widths upward and downward through both stops, read off a protractor to half a degree.
    fn table(self) -> String {
        let mut table = String::from("drive,measured,approach\n");
        let (from, to) = (self.pulse(-56.0), self.pulse(76.0));
        let places = 45;
        let at = |place: i32| from + (to - from) * f64::from(place) / f64::from(places);
        let mut read = |place: i32, side: &str, sign: f64| {
            let pulse = at(place).round();
            let angle = (self.angle(pulse) - sign * 0.5 * self.lost).clamp(-46.0, 66.0);
            table.push_str(&format!("{pulse},{},{side}\n", (angle * 2.0).round() / 2.0));
        };
        (0..=places).for_each(|place| read(place, "below", 1.0));
        (0..=places).rev().for_each(|place| read(place, "above", -1.0));
        table
    }
}

const FILE: &str = "heron.toml";
const INTO: [&str; 6] = ["--into", FILE, "--joint", "wing_left", "--drive-unit", "us"];

/// The joint as it was before the repair, fitted from its readings into a file that people have written in.
fn before(dir: &Path) {
    fs::write(dir.join("before.csv"), HEALTHY.table()).unwrap();
    let new = words("--new --command=-40,60 --servo-angle 0,180 --servo-pulse-us 500,2500");
    let rest = words("--rest 10 --board breast --channel 3 --max-rate-per-s 60");
    run(dir, &[&["fit", "before.csv"], &INTO[..], &new, &rest].concat(), 0);
    let text = fs::read_to_string(dir.join(FILE)).unwrap();
    let text = text.replace("[joint.wing_left]", "[joint.wing_left]   # squeaks");
    fs::write(dir.join(FILE), text.replace("rest = 10", "rest = 10   # wings folded")).unwrap();
    right(dir, HEALTHY);
}

/// Five commands get the pulse that takes the joint there, within 0.5 deg of it.
#[track_caller]
fn right(dir: &Path, truth: Truth) {
    let commands = ["-30", "-10", "10", "30", "50"];
    let args = [&["convert", FILE, "wing_left", "--"], &commands[..]].concat();
    let mut args: Vec<&str> = args;
    args.insert(1, "--json");
    let (out, _) = run(dir, &args, 0);
    let object: Value = serde_json::from_str(&out).unwrap();
    for (value, command) in object["values"].as_array().unwrap().iter().zip(commands) {
        let command: f64 = command.parse().unwrap();
        let reached = truth.angle(value["pulse_us"].as_f64().unwrap());
        assert!(
            (reached - command).abs() < 0.5,
            "command {command} goes to {reached} deg\n{object}"
        );
        assert_eq!(value["clamped_to_travel"], false, "{object}");
    }
    // And no pulse of the travel forces a stop.
    let shown = json(dir, &["show", FILE], 0);
    let joint = &shown["joints"][0];
    let servo = |drive: f64| {
        let ([a0, a1], [p0, p1]) = (pair(&joint["servo"]["angle"]), pair(&joint["servo"]["pulse_us"]));
        p0 + (drive - a0) * (p1 - p0) / (a1 - a0)
    };
    let travel = pair(&joint["travel"]).map(|drive| truth.angle(servo(drive)));
    assert!(travel[0] > -46.0 && travel[1] < 66.0, "{travel:?}");
}

fn pair(value: &Value) -> [f64; 2] {
    [value[0].as_f64().unwrap(), value[1].as_f64().unwrap()]
}

fn kept_comments(dir: &Path) {
    let text = fs::read_to_string(dir.join(FILE)).unwrap();
    tells_all(&text, &["# squeaks", "# wings folded"]);
}

#[test]
fn a_horn_one_tooth_off_is_told_and_refused_until_adopted() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    before(dir);
    let was = fs::read_to_string(dir.join(FILE)).unwrap();
    // One tooth of a horn of 25.
    let slipped = Truth {
        at_zero: HEALTHY.at_zero + 14.4,
        ..HEALTHY
    };
    fs::write(dir.join("after.csv"), slipped.table()).unwrap();
    let fit = [&["fit", "after.csv"], &INTO[..]].concat();
    let (out, _) = run(dir, &fit, 1);
    tells_all(
        &out,
        &[
            "the readings contradict heron.toml",
            "a command needs 14.4",
            "deg more drive than in the file",
            "the horn sits 1 tooth of 25 (14.4 deg) towards larger drive angles",
            "lower stop: contact",
            "upper stop: contact",
            "nothing was written",
            "--adopt",
            "--keep",
        ],
    );
    assert_eq!(fs::read_to_string(dir.join(FILE)).unwrap(), was);
    let found = json(dir, &fit, 1);
    assert_eq!(found["repair"]["decision"], "refused");
    assert!((found["repair"]["offset_deg"].as_f64().unwrap() + 14.4).abs() < 0.3);
    assert!(found["written_into"].is_null());

    let (out, _) = run(dir, &[&fit[..], &["--adopt"]].concat(), 0);
    tells_all(&out, &["drive        51.", "(was 36.99"]);
    right(dir, slipped);
    kept_comments(dir);
    // And now they agree.
    let (out, _) = run(dir, &fit, 0);
    assert!(!out.contains("contradict"), "{out}");
    right(dir, slipped);
}

#[test]
fn kept_is_the_map_and_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    before(dir);
    let pulses = |dir: &Path| {
        let (out, _) = run(
            dir,
            &["convert", FILE, "wing_left", "--to", "pulse-us", "--", "0", "20"],
            0,
        );
        out
    };
    let was = pulses(dir);
    let slipped = Truth {
        at_zero: HEALTHY.at_zero + 5.0,
        ..HEALTHY
    };
    fs::write(dir.join("after.csv"), slipped.table()).unwrap();
    run(dir, &[&["fit", "after.csv"], &INTO[..], &["--keep"]].concat(), 0);
    assert_eq!(pulses(dir), was);
    run(
        dir,
        &[&["fit", "after.csv"], &INTO[..], &["--keep", "--adopt"]].concat(),
        2,
    );
    // The check does not forget it, until the same readings are adopted.
    let kept = |status: i32| run(dir, &["check", FILE], status).0;
    let out = kept(1);
    tells_all(
        &out,
        &[
            "warning map-contradicted: joint wing_left: its map was kept against the readings",
            "up to 5 deg of drive elsewhere",
        ],
    );
    let found = json(dir, &["show", FILE, "wing_left"], 0);
    let off = found["joints"][0]["evidence"]["map_off"].as_f64().unwrap();
    assert!((off - 5.0).abs() < 0.1, "{off}");
    run(dir, &[&["fit", "after.csv"], &INTO[..], &["--adopt"]].concat(), 0);
    let out = kept(0);
    assert!(!out.contains("map-contradicted"), "{out}");
}

#[test]
fn another_servo_model_is_adopted_with_its_line() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    before(dir);
    // The same joint on a servo that turns 0.8 times as far for a pulse, its horn set anew.
    let replaced = Truth {
        at_zero: 76.0,
        per_deg: 0.85 / 0.8,
        ..HEALTHY
    };
    fs::write(dir.join("after.csv"), replaced.table()).unwrap();
    let line = ["--servo-angle", "0,144", "--servo-pulse-us", "500,2500"];
    let fit = [&["fit", "after.csv"], &INTO[..], &line].concat();
    let (out, _) = run(dir, &fit, 1);
    tells(&out, "contradict");
    run(dir, &[&fit[..], &["--adopt"]].concat(), 0);
    right(dir, replaced);
    kept_comments(dir);
}

/// The servo's line was assumed, and is put right: the pulses that were measured stay.
#[test]
fn a_corrected_servo_line_keeps_the_pulses_that_were_measured() {
    for more in [&[][..], &["--keep"], &["--adopt"]] {
        let folder = tempfile::tempdir().unwrap();
        let dir = folder.path();
        before(dir);
        let line = ["--servo-angle", "0,270", "--servo-pulse-us", "500,2500"];
        run(dir, &[&["fit", "before.csv"], &INTO[..], &line, more].concat(), 0);
        let text = fs::read_to_string(dir.join(FILE)).unwrap();
        tells(&text, "270");
        right(dir, HEALTHY);
        let shown = json(dir, &["show", FILE], 0);
        let at = shown["joints"][0]["evidence"]["lower"]["at"].as_f64().unwrap();
        assert!((at - 1.5 * (71.0 - 46.0 * 0.85)).abs() < 1.0, "{at}");
    }
}

#[test]
fn worn_gears_shrink_the_travel_and_leave_the_map() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    before(dir);
    let worn = Truth { lost: 4.0, ..HEALTHY };
    fs::write(dir.join("after.csv"), worn.table()).unwrap();
    run(dir, &[&["fit", "after.csv"], &INTO[..]].concat(), 0);
    right(dir, worn);
    let shown = json(dir, &["show", FILE], 0);
    let lost = shown["joints"][0]["evidence"]["lost_motion"].as_f64().unwrap();
    assert!((lost - 4.0 * 0.85).abs() < 0.4, "{lost}");
}

/// A curve says nothing beyond its readings, and between them what was measured: commands are cut, never stretched.
#[test]
fn a_curve_is_cut_to_the_commands_and_never_stretched() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    // Invented: an arm that bends its line, from -38 to 57 deg.
    let bent = |x: f64| x + 0.004 * (x - 10.0) * (x - 10.0);
    let rows: String = (0..40)
        .map(|i| 40.0 + 2.0 * f64::from(i))
        .map(|drive| format!("{drive},{:.2}\n", bent((drive - 71.0) / 0.85)))
        .collect();
    fs::write(dir.join("bent.csv"), format!("drive,measured\n{rows}")).unwrap();
    let robot = common::ROBOT.replace("rest = 10", "unit = \"deg\"\nrest = 0");
    fs::write(dir.join(FILE), robot).unwrap();
    let fit = ["fit", "bent.csv", "--into", FILE, "--joint", "wing_left"];
    let (out, _) = run(dir, &[&fit[..], &["--transmission", "curve"]].concat(), 1);
    tells(&out, "furthest apart");
    run(dir, &[&fit[..], &["--transmission", "curve", "--adopt"]].concat(), 0);
    for drive in [45.0, 60.0, 75.0, 90.0, 110.0] {
        let word = format!("{drive}");
        let back = json(dir, &["convert", FILE, "wing_left", "--from", "drive", &word], 0);
        let command = back["values"][0]["command"].as_f64().unwrap();
        let truth = bent((drive - 71.0) / 0.85);
        assert!((command - truth).abs() < 0.2, "{drive}: {command} {truth}");
    }
    // Of a new joint the commands asked for bound the curve.
    let new = words("fit bent.csv --into new.toml --joint a --new --command=-20,30");
    run(dir, &new, 0);
    let text = fs::read_to_string(dir.join("new.toml")).unwrap();
    tells(&text, "command = [-20, 30]");
    let back = json(dir, &["convert", "new.toml", "a", "--from", "drive", "75"], 0);
    let command = back["values"][0]["command"].as_f64().unwrap();
    assert!((command - bent(4.0 / 0.85)).abs() < 0.2, "{command}");
}

#[test]
fn the_commands_of_a_new_joint_limit_and_do_not_stretch() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    fs::write(dir.join("before.csv"), HEALTHY.table()).unwrap();
    let new = [&["fit", "before.csv"], &INTO[..], &["--new", "--command=-30,30"]].concat();
    run(dir, &new, 0);
    let shown = json(dir, &["show", FILE], 0);
    let drive = pair(&shown["joints"][0]["drive"]);
    assert!(
        (drive[0] - (71.0 - 25.5)).abs() < 0.3 && (drive[1] - (71.0 + 25.5)).abs() < 0.3,
        "{drive:?}"
    );
    // Commands that lie nowhere near the travel are more likely in another unit.
    let beside = words("fit before.csv --into new.toml --joint a --new --drive-unit us --command=200,300");
    let (_, err) = run(dir, &beside, 2);
    tells_all(&err, &["beside the travel", "--unit"]);
    // In a unit of their own they are the ends of the travel.
    let parts = words("fit before.csv --into new.toml --joint a --new --drive-unit us --command=0,1 --unit fraction");
    run(dir, &parts, 0);
    let shown = json(dir, &["show", "new.toml"], 0);
    assert_eq!(shown["joints"][0]["drive"], shown["joints"][0]["travel"]);
    // Radians are no unit of their own.
    let rad = words("fit before.csv --into rad.toml --joint a --new --drive-unit us --command=-0.5,0.5 --unit rad");
    run(dir, &rad, 0);
    let shown = json(dir, &["show", "rad.toml"], 0);
    let drive = pair(&shown["joints"][0]["drive"]);
    assert!(
        (drive[1] - drive[0] - 0.85 * 1.0_f64.to_degrees()).abs() < 0.5,
        "{drive:?}"
    );
}

#[test]
fn a_new_joint_in_another_unit_than_its_readings_is_converted() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    let table = |heading: &str, factor: f64| {
        let rows = (0..12).map(|row| {
            let drive = 40.0 + 7.0 * f64::from(row);
            format!("{drive},{}\n", (drive - 78.0) * factor / 0.85)
        });
        fs::write(
            dir.join("neck.csv"),
            format!("drive,{heading}\n{}", rows.collect::<String>()),
        )
        .unwrap();
    };
    let fit = |more: &str| {
        let _ = fs::remove_file(dir.join("u.toml"));
        let line = format!("fit neck.csv --into u.toml --joint neck --new {more}");
        line.split_whitespace().map(str::to_owned).collect::<Vec<_>>()
    };
    let written = |more: &str| {
        let args = fit(more);
        run(dir, &args.iter().map(String::as_str).collect::<Vec<_>>(), 0);
        let joint = json(dir, &["show", "u.toml"], 0)["joints"][0].clone();
        (
            joint["unit"].as_str().unwrap().to_owned(),
            pair(&joint["command"]),
            pair(&joint["drive"]),
        )
    };
    let near = |[a, b]: [f64; 2], [c, d]: [f64; 2], factor: f64| {
        // Commands of a new joint have four decimals.
        let enough = 1e-4 * (d - c).abs() * factor;
        (a - c * factor).abs() < enough && (b - d * factor).abs() < enough
    };
    let in_rad = 1.0_f64.to_radians();
    table("measured [deg]", 1.0);
    let (unit, deg, drive) = written("");
    assert!(unit == "deg" && deg[0] < -40.0 && deg[1] > 40.0, "{deg:?}");
    for kind in ["", " --transmission curve"] {
        let (unit, rad, same) = written(&format!("--unit rad{kind}"));
        assert!(
            unit == "rad" && near(rad, deg, in_rad) && near(same, drive, 1.0),
            "{rad:?} of {deg:?}"
        );
    }
    let (_, turn, _) = written("--unit turn");
    assert!(near(turn, deg, 1.0 / 360.0), "{turn:?}");
    // The readings stay what they are.
    let shown = json(dir, &["show", "u.toml", "neck"], 0);
    assert!(shown.to_string().contains("neck.csv"), "{shown}");
    // The other way round.
    table("measured_rad", in_rad);
    let (unit, back, same) = written("--unit deg");
    assert!(
        unit == "deg" && near(back, deg, 1.0) && near(same, drive, 1.0),
        "{back:?}"
    );
    // Where no unit stands with the readings, that of the commands is theirs.
    table("measured", in_rad);
    let (unit, plain, _) = written("--unit rad");
    assert!(unit == "rad" && near(plain, deg, in_rad), "{plain:?}");
    // An angle is no length and no part of a whole, unless somebody says what the ends stand for.
    table("measured [deg]", 1.0);
    for unit in ["mm", "fraction", "wings"] {
        let args = fit(&format!("--unit {unit}"));
        let (_, err) = run(dir, &args.iter().map(String::as_str).collect::<Vec<_>>(), 2);
        tells(
            &err,
            &format!(
                "the measured values are in deg and --unit is {unit}: give --command LOWER,UPPER, the commands in {unit} at the ends of the travel, or leave --unit out"
            ),
        );
        assert!(!dir.join("u.toml").exists());
    }
    let (unit, command, _) = written("--unit fraction --command=0,1");
    assert_eq!((unit.as_str(), command), ("fraction", [0.0, 1.0]));
}

#[test]
fn readings_in_another_unit_are_told_with_the_option_that_gives_it() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    before(dir);
    let was = fs::read_to_string(dir.join(FILE)).unwrap();
    let table = HEALTHY.table();
    let in_rad = |line: &str| -> String {
        let cells: Vec<&str> = line.split(',').collect();
        match cells[1].parse::<f64>() {
            Ok(deg) => format!("{},{:.4},{}\n", cells[0], deg.to_radians(), cells[2]),
            Err(_) => format!("{line}\n"),
        }
    };
    fs::write(dir.join("rad.csv"), table.lines().map(in_rad).collect::<String>()).unwrap();
    let fit = [&["fit", "rad.csv"], &INTO[..]].concat();
    let (out, _) = run(dir, &fit, 1);
    assert!(
        out.contains("look like rad and the joint's commands are in deg")
            && out.contains("nothing was written; give --measured-unit rad")
            && !out.contains("tooth"),
        "{out}"
    );
    let (_, err) = run(dir, &[&fit[..], &["--adopt"]].concat(), 2);
    tells(&err, "give --measured-unit rad");
    assert_eq!(fs::read_to_string(dir.join(FILE)).unwrap(), was);
    let (out, _) = run(dir, &[&fit[..], &["--measured-unit", "rad"]].concat(), 0);
    assert!(!out.contains("contradict"), "{out}");
    right(dir, HEALTHY);
}

/// A protractor whose zero lies elsewhere, or that is read from the other side: what is printed mends the table, pasted as it stands.
#[test]
fn a_protractor_set_elsewhere_or_turned_round_is_told_with_its_remedy() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    before(dir);
    let was = fs::read_to_string(dir.join(FILE)).unwrap();
    let read = |seen: fn(f64) -> f64| {
        let line = |line: &str| match line.split(',').collect::<Vec<_>>()[..] {
            [pulse, angle, side] if pulse != "drive" => format!("{pulse},{},{side}\n", seen(angle.parse().unwrap())),
            _ => format!("{line}\n"),
        };
        let table: String = HEALTHY.table().lines().map(line).collect();
        fs::write(dir.join("again.csv"), table).unwrap();
    };
    let fit = [&["fit", "again.csv"], &INTO[..]].concat();
    for (seen, told, option) in [
        (
            (|angle| angle + 90.0) as fn(f64) -> f64,
            "the measured values are 90.0",
            "--measured-at-commands=",
        ),
        (
            |angle| -angle,
            "or the protractor was read in the other direction",
            "--flip-measured",
        ),
    ] {
        read(seen);
        let (out, _) = run(dir, &fit, 1);
        tells_all(&out, &[told, "nothing was written; give", "--adopt", "--keep"]);
        assert_eq!(fs::read_to_string(dir.join(FILE)).unwrap(), was);
        let printed = out.split_whitespace().find(|word| word.starts_with(option)).unwrap();
        let (out, _) = run(dir, &[&fit[..], &[printed]].concat(), 0);
        assert!(!out.contains("contradict"), "{out}");
        right(dir, HEALTHY);
        fs::write(dir.join(FILE), &was).unwrap();
    }
    read(|angle| angle + 90.0);
    let found = json(dir, &fit, 1);
    let higher = found["repair"]["measured_higher"].as_f64().unwrap();
    assert!((higher - 90.0).abs() < 0.2, "{found}");
}

/// Commands and measured values in units that have nothing to do with each other: nothing is written unless somebody says what is meant.
#[test]
fn a_map_that_cannot_be_compared_is_refused_until_kept() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    before(dir);
    let was = fs::read_to_string(dir.join(FILE)).unwrap();
    let table = HEALTHY.table();
    let headed = |heading: &str| {
        fs::write(dir.join("again.csv"), table.replace("measured", heading)).unwrap();
    };
    let fit = [&["fit", "again.csv"], &INTO[..]].concat();
    headed("measured (gon)");
    let (out, _) = run(dir, &fit, 1);
    tells_all(
        &out,
        &[
            "joint wing_left: its map in heron.toml was not compared: its commands are in deg, the measured values in gon",
            "nothing was written; give",
            "--measured-at-commands",
            "--keep",
        ],
    );
    assert_eq!(fs::read_to_string(dir.join(FILE)).unwrap(), was);
    let found = json(dir, &fit, 1);
    assert_eq!(
        (&found["repair"]["decision"], &found["repair"]["compared"]),
        (&"refused".into(), &false.into())
    );
    run(dir, &[&fit[..], &["--adopt"]].concat(), 2);
    run(dir, &[&fit[..], &["--measured-at-commands=-40,60"]].concat(), 0);
    run(dir, &[&fit[..], &["--keep"]].concat(), 0);
    // Words for degrees are compared.
    for heading in ["measured (Grad)", "measured (degr\u{e9}s)"] {
        headed(heading);
        assert_eq!(json(dir, &fit, 0)["repair"]["compared"], true, "{heading}");
    }
    headed("measured (grad)");
    let (_, err) = run(dir, &fit, 2);
    tells(
        &err,
        "again.csv:1: column 2 (measured (grad)): the unit grad may be degrees, 360 a turn, or gon",
    );
    run(dir, &[&fit[..], &["--measured-unit", "deg"]].concat(), 0);
    let (_, err) = run(dir, &[&fit[..], &["--measured-unit", "grad"]].concat(), 2);
    tells(&err, "grad may be degrees");
    // And so a new joint has them.
    headed("measured (Grad)");
    let new = words("fit again.csv --into new.toml --joint wing --new --drive-unit us");
    run(dir, &new, 0);
    tells(&fs::read_to_string(dir.join("new.toml")).unwrap(), "unit = \"deg\"");
}

/// Readings that are older than those in the file would stand above them.
#[test]
fn readings_older_than_the_evidence_are_told() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    before(dir);
    let text = fs::read_to_string(dir.join(FILE)).unwrap();
    let date = text
        .lines()
        .find(|line| line.starts_with("date = "))
        .unwrap()
        .to_owned();
    fs::write(dir.join(FILE), text.replace(&date, "date = 2026-11-28")).unwrap();
    let worn = Truth { lost: 1.4, ..HEALTHY };
    fs::write(dir.join("after.csv"), worn.table()).unwrap();
    let dated = |day: &str, more: &[&str]| {
        run(
            dir,
            &[&["fit", "after.csv", "--date", day], &INTO[..], more].concat(),
            0,
        )
        .0
    };
    let says =
        "the evidence that was there is of 2026-11-28, later than these readings; it moved to the history below them";
    fs::copy(dir.join(FILE), dir.join("kept.toml")).unwrap();
    for more in [&["--adopt"][..], &[]] {
        fs::copy(dir.join("kept.toml"), dir.join(FILE)).unwrap();
        tells(&dated("2024-11-28", more), says);
    }
    fs::copy(dir.join("kept.toml"), dir.join(FILE)).unwrap();
    assert!(!dated("2026-11-29", &[]).contains("later than these readings"));
}

/// The date of evidence is that of its readings: fitted again they are no newer, and none can be taken tomorrow.
#[test]
fn readings_fitted_again_keep_their_day() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    before(dir);
    let worn = Truth { lost: 1.4, ..HEALTHY };
    fs::write(dir.join("after.csv"), worn.table()).unwrap();
    let fit = |more: &[&str]| run(dir, &[&["fit", "after.csv"], &INTO[..], more].concat(), 0).0;
    let day = || {
        let robot = elbowroom::robot::Robot::load(dir.join(FILE)).unwrap();
        let dates = robot.joints().iter().find_map(|entry| entry.evidence().date);
        dates.unwrap().to_string()
    };
    let stays = "2026-11-20 stays: the evidence of this day rests on the same readings";
    fit(&["--date", "2026-11-20"]);
    for more in [&[][..], &["--adopt"], &["--guard", "3"]] {
        tells(&fit(more), stays);
        assert_eq!(day(), "2026-11-20");
    }
    let out = fit(&["--date", "2999-01-01"]);
    tells(&out, "--date 2999-01-01 is after today, ");
    assert!(!out.contains("stays:") && day() == "2999-01-01", "{out}");
}

/// A declaration is no measurement: readings of the day before are no older than it.
#[test]
fn readings_are_not_older_than_what_was_only_declared() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    before(dir);
    let [_, file, _, joint, ..] = INTO;
    run(dir, &["edit", file, "mirror", joint, "other"], 0);
    let there = fs::read_to_string(dir.join(FILE)).unwrap();
    assert!(there.contains("kind = \"declared\""), "{there}");
    fs::write(dir.join("after.csv"), HEALTHY.table()).unwrap();
    let fit = [
        "fit",
        "after.csv",
        "--date",
        "2024-11-28",
        "--into",
        file,
        "--joint",
        "other",
        "--drive-unit",
        "us",
        "--adopt",
    ];
    let (out, _) = run(dir, &fit, 0);
    assert!(!out.contains("later than these readings"), "{out}");
}
