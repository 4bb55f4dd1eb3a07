//! What changed between two tables, or two robot files.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod common;

use common::{ROBOT, folder, json, run, sweep, tells, tells_all, words};
use std::fs;

#[test]
fn compare_names_what_changed() {
    let folder = folder();
    let dir = folder.path();
    fs::write(dir.join("before.csv"), sweep(0.0)).unwrap();
    fs::write(dir.join("after.csv"), sweep(15.0)).unwrap();
    let (out, _) = run(dir, &["compare", "before.csv", "before.csv"], 0);
    tells(&out, "unchanged");
    let (out, _) = run(dir, &["compare", "before.csv", "after.csv"], 1);
    tells_all(&out, &["less drive than before", "1 tooth of 24"]);
    assert!(out.lines().take(8).all(|line| line.chars().count() <= 88), "{out}");
    // The numbers behind it.
    let object = json(dir, &["compare", "before.csv", "after.csv"], 1);
    let offset = &object["comparison"]["changes"][0];
    assert_eq!(
        (&offset["quantity"], &offset["verdict"]),
        (&"offset".into(), &"changed".into())
    );
    assert!(offset["p_adjusted"].as_f64().unwrap() < 1e-6 && offset["detectable"].as_f64().unwrap() > 0.5);
    assert_eq!(object["changed"], true);
    // Sure and small is said, and is no finding; finer it is.
    fs::write(dir.join("slightly.csv"), sweep(0.3)).unwrap();
    let (out, _) = run(dir, &["compare", "before.csv", "slightly.csv"], 0);
    tells_all(&out, &["less than the 0.5 that matters", "too small to matter"]);
    let (out, _) = run(
        dir,
        &["compare", "before.csv", "slightly.csv", "--smallest-drive", "0.1"],
        1,
    );
    tells(&out, "less drive than before");
    let (_, err) = run(
        dir,
        &["compare", "before.csv", "after.csv", "--smallest-drive", "-1"],
        2,
    );
    tells(&err, "smallest_drive");
    // An end that the later table did not reach is named, and a warning of either fit is shown.
    let shorter: Vec<String> = sweep(0.0).lines().take(12).map(str::to_owned).collect();
    fs::write(dir.join("shorter.csv"), shorter.join("\n")).unwrap();
    let (out, _) = run(dir, &["compare", "before.csv", "shorter.csv"], 0);
    assert!(out.contains("end not tested") && !out.contains("unchanged"), "{out}");
}

/// Tables there and back without a column `approach`: `unchanged`, exit status 0, was the answer to 3.5 deg of new lost motion.
#[test]
fn compare_finds_lost_motion_that_was_not_there_before() {
    let folder = folder();
    let dir = folder.path();
    let wobble = |i: i32| 0.05 * f64::from((i * 7) % 5 - 2);
    let up = (0..23).map(|i| (i, 15.0 + 5.0 * f64::from(i), 1.0));
    let both: Vec<_> = up
        .clone()
        .chain((0..23).map(|i| (i + 30, 125.0 - 5.0 * f64::from(i), -1.0)))
        .collect();
    let table = |rows: &[(i32, f64, f64)], lost_motion: f64| {
        let rows = rows.iter().map(|(i, drive, side)| {
            let at = (drive - 0.5 * lost_motion * side).clamp(28.0, 112.0);
            format!("{drive},{:.2}\n", at - 20.0 + wobble(*i))
        });
        format!("drive,measured\n{}", rows.collect::<String>())
    };
    fs::write(dir.join("sound.csv"), table(&both, 0.0)).unwrap();
    fs::write(dir.join("worn.csv"), table(&both, 3.5)).unwrap();
    let one_way: Vec<_> = up.collect();
    fs::write(dir.join("one_way.csv"), table(&one_way, 0.0)).unwrap();
    let (out, _) = run(dir, &["compare", "sound.csv", "worn.csv"], 1);
    tells(&out, "lost motion increased from 0");
    let (out, _) = run(dir, &["compare", "worn.csv", "sound.csv"], 1);
    tells(&out, "lost motion decreased from 3.5");
    // Of a table that goes one way nobody knows.
    let (out, _) = run(dir, &["compare", "one_way.csv", "worn.csv"], 0);
    tells_all(
        &out,
        &[
            "lost motion not comparable: it is 3.",
            "compare with a table that goes there and back",
        ],
    );
    assert!(!out.contains("unchanged"), "{out}");
    let (out, _) = run(dir, &["compare", "worn.csv", "one_way.csv"], 0);
    tells(
        &out,
        "lost motion not tested: the later table has no readings known to be from both sides",
    );
}

/// All joints of two tables: each is compared with itself, and those that cannot be are named.
#[test]
fn many_joints_are_compared_one_by_one() {
    let folder = folder();
    let dir = folder.path();
    let table = |joints: &[(&str, f64)]| {
        let mut table = String::from("leg,drive,measured,approach\n");
        for (name, shift) in joints {
            for row in sweep(*shift).lines().skip(1) {
                table += &format!("{name},{row}\n");
            }
        }
        table
    };
    let few = "short,20,20,below\nshort,30,30,below\n";
    fs::write(
        dir.join("before.csv"),
        table(&[("left", 0.0), ("right", 0.0), ("gone", 0.0)]) + few,
    )
    .unwrap();
    fs::write(
        dir.join("after.csv"),
        table(&[("right", 15.0), ("left", 0.0), ("fresh", 0.0)]) + few,
    )
    .unwrap();
    fs::write(dir.join("same.csv"), table(&[("left", 0.0)])).unwrap();
    let (out, _) = run(dir, &words("compare same.csv same.csv --each leg"), 0);
    tells_all(&out, &["\nleft\n", "unchanged", "0 of 1 joints changed\n"]);
    let args = words("compare before.csv after.csv --each leg");
    let (out, _) = run(dir, &args, 1);
    let left = out.find("\nleft\n").unwrap();
    let right = out.find("\nright\n").unwrap();
    assert!(
        out[left..right].contains("unchanged") && out[right..].contains("1 tooth of 24"),
        "{out}"
    );
    tells_all(
        &out,
        &[
            "short  not compared: before.csv: ",
            "only in before.csv: gone\n",
            "only in after.csv: fresh\n",
            "1 of 3 joints changed: right\n",
            "1 of 3 joints could not be compared: short; correct their readings",
        ],
    );
    let object = json(dir, &args, 1);
    assert_eq!(
        (&object["added"], &object["removed"], &object["changed"]),
        (
            &serde_json::json!(["fresh"]),
            &serde_json::json!(["gone"]),
            &true.into()
        )
    );
    assert_eq!(object["failed"][0]["joint"], "short");
    // The same as of the rows of one.
    let one = json(dir, &words("compare before.csv after.csv --where leg=right"), 1);
    for part in ["changed", "comparison", "diagnoses", "old_warnings", "new_warnings"] {
        assert_eq!(object["joints"][1][part], one[part], "{part}");
    }
    // A joint that came or went is a change by itself.
    fs::write(dir.join("more.csv"), table(&[("left", 0.0), ("fresh", 0.0)])).unwrap();
    let (out, _) = run(dir, &words("compare same.csv more.csv --each leg"), 1);
    tells(&out, "0 of 1 joints changed\n");
    for (args, told) in [
        ("compare before.csv after.csv --each arm", "name one with --each"),
        (
            "compare before.csv after.csv --each leg --plot x.svg",
            "give --where COLUMN=NAME in place of --each",
        ),
        (
            "compare a.toml b.toml --each leg",
            "two robot files are compared joint by joint",
        ),
        ("compare before.csv after.csv", "or compare all by --each leg"),
    ] {
        let (_, err) = run(dir, &words(args), 2);
        tells(&err, told);
    }
    fs::write(dir.join("others.csv"), table(&[("Left", 0.0)])).unwrap();
    let (_, err) = run(dir, &words("compare same.csv others.csv --each leg"), 2);
    tells(
        &err,
        "column leg names no joint in both tables: left in same.csv, Left in others.csv; write the names alike",
    );
    fs::write(dir.join("few.csv"), format!("leg,drive,measured,approach\n{few}")).unwrap();
    let (_, err) = run(dir, &words("compare few.csv few.csv --each leg"), 2);
    tells(&err, "few.csv: ");
}

/// A millimetre is no degree, however alike the numbers are.
#[test]
fn tables_in_unlike_units_are_not_compared() {
    let folder = folder();
    let dir = folder.path();
    fs::write(dir.join("before.csv"), sweep(0.0)).unwrap();
    fs::write(dir.join("after.csv"), sweep(0.0).replace("measured", "measured_mm")).unwrap();
    let args = ["compare", "before.csv", "after.csv", "--measured", "measured"];
    let (_, err) = run(dir, &args, 2);
    tells(
        &err,
        "before.csv is measured in deg, after.csv in mm; compare tables of one unit",
    );
    run(dir, &[&args[..], &["--measured-unit", "deg"]].concat(), 0);
}

#[test]
fn compare_shows_warnings_of_either_fit() {
    let folder = folder();
    let dir = folder.path();
    let table = |bend: f64| {
        let rows = (0..40).map(|i| {
            let x = 2.0 * f64::from(i);
            format!("{x},{}", x + bend * x * x + 0.05 * f64::from(i % 3))
        });
        format!("drive,measured\n{}\n", rows.collect::<Vec<_>>().join("\n"))
    };
    fs::write(dir.join("straight.csv"), table(0.0)).unwrap();
    fs::write(dir.join("bent.csv"), table(0.005)).unwrap();
    let (out, _) = run(dir, &["compare", "straight.csv", "bent.csv"], 1);
    tells(&out, "warning: bent.csv: nonlinear between the stops");
    assert!(
        out.contains("bend changed by") && !out.contains("protractor, shifted by"),
        "{out}"
    );
    let object = json(dir, &["compare", "bent.csv", "straight.csv"], 1);
    let said = object["old_warnings"].as_array().unwrap();
    let bent = |one: &serde_json::Value| one.as_str().unwrap().contains("nonlinear between the stops");
    assert!(said.iter().any(bent), "{object}");
    assert_eq!(object["new_warnings"].as_array().unwrap().len(), 0);
}

#[test]
fn compare_of_robot_files_tells_what_counts_from_what_is_noise() {
    let folder = folder();
    let dir = folder.path();
    let heron = include_str!("../../../tests/data/heron.toml");
    let save = |name: &str, text: &str| fs::write(dir.join(name), text).unwrap();
    save("old.toml", heron);
    let compare = |status| {
        let text = run(dir, &["compare", "old.toml", "new.toml"], status).0;
        assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
        (text, json(dir, &["compare", "old.toml", "new.toml"], status))
    };
    let changed = |from: &str, to: &str| {
        assert!(heron.contains(from), "{from}");
        save("new.toml", &heron.replacen(from, to, 1));
    };
    // Comments, order of keys and what stands for a default say nothing.
    changed("rest = 10", "rest = 10.0   # the same");
    let (text, object) = compare(0);
    tells(&text, "17 the same; no change that counts");
    assert_eq!(object["joints"].as_array().unwrap().len(), 0);
    // A contact found again within its uncertainty is shown and does not count: 0.3 / (2 · √2 · 0.2) = 0.53.
    changed("at = 37.9, u = 0.2", "at = 38.2, u = 0.2");
    let (text, object) = compare(0);
    tells(
        &text,
        "evidence lower at      37.9 -> 38.2 (+0.3),\n                         E_n 0.53, p 0.2888: within uncertainty",
    );
    let found = &object["joints"][0]["differences"][0];
    assert_eq!(
        (&found["what"], &found["agreement"]),
        (&"evidence lower at".into(), &"within-uncertainty".into())
    );
    assert!((found["e_n"].as_f64().unwrap() - 0.3 / (2.0 * 0.08f64.sqrt())).abs() < 1e-9);
    // Further off it does.
    changed("at = 37.9, u = 0.2", "at = 38.5, u = 0.2");
    let (text, _) = compare(1);
    tells(&text, "E_n 1.06, p 0.0339: changed");
    // A later day and more readings do not.
    changed("date = 2026-11-20", "date = 2026-11-21");
    assert_eq!(compare(0).1["joints"][0]["differences"][0]["agreement"], "noted");
    // Everything that a motor would get does, whichever key it hides behind.
    for (from, to, what) in [
        ("channel = 3", "channel = 7", "channel"),
        ("travel = [40.2, 119]", "travel = [40.2, 118]", "travel upper"),
        ("rest = 10", "rest = 11", "rest"),
        ("max_rate_per_s = 60", "max_rate_per_s = 61", "max_rate_per_s"),
        ("inverted = true", "inverted = false", "inverted"),
        (
            "pulse_us = [500, 2500]",
            "pulse_us = [500, 2400]",
            "servo pulse_us upper",
        ),
        (
            "counts_per_frame = 65536",
            "counts_per_frame = 32768",
            "timer counts_per_frame",
        ),
        ("adc_bits = 10", "adc_bits = 12", "feedback adc_bits"),
        ("sense = \"opposing\"", "sense = \"aiding\"", "evidence sense"),
        (
            "stale_after_days = 400",
            "stale_after_days = 401",
            "check stale_after_days",
        ),
        (
            "no stop to find",
            "none to find",
            "check waive limit-only-declared of crest",
        ),
    ] {
        changed(from, to);
        let (text, object) = compare(1);
        let all = object["joints"]
            .as_array()
            .unwrap()
            .iter()
            .map(|joint| &joint["differences"]);
        let all = all.chain([&object["robot"]]).flat_map(|all| all.as_array().unwrap());
        let counts: Vec<&str> = all
            .filter(|d| d["agreement"] == "changed")
            .map(|d| d["what"].as_str().unwrap())
            .collect();
        assert!(
            !counts.is_empty() && counts.iter().all(|found| *found == what),
            "{what}: {counts:?}\n{text}"
        );
        assert_eq!(object["changed"], true);
    }
}

#[test]
fn compare_names_joints_that_came_and_went_and_refuses_unlike_files() {
    let folder = folder();
    let dir = folder.path();
    let other = ROBOT.replace("[joint.wing_left]", "[joint.wing_right]");
    fs::write(dir.join("other.toml"), other).unwrap();
    let (text, _) = run(dir, &["compare", "heron.toml", "other.toml"], 1);
    tells(&text, "joint wing_right  added\n\njoint wing_left  removed");
    let (text, _) = run(
        dir,
        &["compare", "heron.toml", "other.toml", "--joint", "wing_right"],
        1,
    );
    tells(&text, "1 added, 0 removed");
    run(dir, &["compare", "heron.toml", "heron.toml", "--joint", "wing_left"], 0);
    for (args, says) in [
        (&["heron.toml", "readings.csv"][..], "compare two of a kind"),
        (
            &["heron.toml", "heron.toml", "--guard", "3"],
            "two robot files need none of them",
        ),
        (
            &["heron.toml", "heron.toml", "--joint", "wing"],
            "no joint is named \"wing\"; the only joint is \"wing_left\"",
        ),
        (
            &["readings.csv", "readings.csv", "--joint", "a"],
            "of tables that hold several, take the rows of one with --where, or all with --each",
        ),
        (&["heron.toml", "gone.toml"], "gone.toml: the file cannot be read"),
    ] {
        let args = [&["compare"], args].concat();
        let (out, err) = run(dir, &args, 2);
        assert!(out.is_empty() && err.contains(says), "{err}");
    }
}
