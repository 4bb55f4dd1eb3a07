//! What the shell tool makes of numbers: commands, drive angles, pulses, counts and readings.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod common;

use common::{folder, json, run, tells, tells_all, tool, words};

#[test]
fn converts_what_the_sensor_reads() {
    let folder = folder();
    let dir = folder.path();
    let heron = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/data/heron.toml");
    let (out, _) = run(
        dir,
        &[
            "convert",
            heron,
            "wing_left",
            "--from",
            "reading",
            "541.5",
            "1",
            "900",
            "1023",
            "1024",
        ],
        0,
    );
    let rows: Vec<Vec<&str>> = out
        .lines()
        .skip(1)
        .map(|line| line.split_whitespace().collect())
        .collect();
    assert_eq!(rows[0], ["541.5", "10", "10", "inside"], "{out}");
    let states: Vec<&str> = rows.iter().filter_map(|row| row.last().copied()).collect();
    assert_eq!(states, ["inside", "lower-rail", "outside", "upper-rail", "impossible"]);
    let (out, _) = run(dir, &["convert", heron, "wing_left", "10", "--to", "reading"], 0);
    assert_eq!(out, "541.5\n");
    let (out, _) = run(
        dir,
        &[
            "convert",
            heron,
            "wing_left",
            "--from",
            "reading",
            "541.5",
            "--to",
            "command",
        ],
        0,
    );
    assert_eq!(out, "10\n");
    let (_, told) = run(dir, &["convert", heron, "beak", "--from", "reading", "1"], 2);
    tells_all(&told, &["value 1 (\"1\")", "no feedback map"]);
}

#[test]
fn converts_both_ways_from_arguments_and_from_input() {
    let folder = folder();
    let dir = folder.path();
    let (out, _) = run(dir, &["convert", "heron.toml", "wing_left", "10", "200"], 0);
    tells(&out, "79.5    1383.333      283\n");
    tells(&out, "clamped to the command range");
    let output = tool(
        dir,
        &["convert", "heron.toml", "wing_left", "--to", "counts"],
        "-40 10\n60\n",
    );
    assert_eq!(String::from_utf8(output.stdout).unwrap(), "187\n283\n380\n");
    let (out, _) = run(
        dir,
        &words("convert heron.toml wing_left --from drive 79.5 --to command"),
        0,
    );
    assert_eq!(out, "10\n");
    let object = json(
        dir,
        &words("convert heron.toml wing_left --from pulse-us 1383.3333333333333"),
        0,
    );
    assert!((object["values"][0]["command"].as_f64().unwrap() - 10.0).abs() < 1e-9);
    for (args, says) in [
        (
            &["convert", "heron.toml", "wing_left", "1", "nan"][..],
            "value 2 (\"nan\"): the command is not a number",
        ),
        (
            &["convert", "heron.toml", "wing_left", "one"],
            "value 1 (\"one\") is not a number",
        ),
        (
            &["convert", "heron.toml", "wing_left", "--from", "counts", "1.5"],
            "is not a count",
        ),
        (
            &["convert", "heron.toml", "wing", "1"],
            "no joint is named \"wing\"; the only joint is \"wing_left\"",
        ),
        (&["convert", "heron.toml", "wing_left"], "no values given"),
        (
            &[
                "convert",
                "heron.toml",
                "wing_left",
                "--from",
                "drive",
                "1",
                "--to",
                "counts",
            ],
            "use --to command",
        ),
    ] {
        let (out, err) = run(dir, args, 2);
        assert!(err.contains(says) && out.is_empty(), "{err}");
    }
}

#[test]
fn a_gap_in_a_log_stays_a_gap_on_the_way_back() {
    let folder = folder();
    let dir = folder.path();
    let back = |from: &str, log: &str| {
        let args = ["convert", "heron.toml", "wing_left", "--from", from, "--to", "command"];
        let output = tool(dir, &args, log);
        assert_eq!(
            output.status.code(),
            Some(0),
            "{}",
            String::from_utf8_lossy(&output.stderr)
        );
        String::from_utf8(output.stdout).unwrap()
    };
    assert_eq!(back("drive", "79.5 nan\nNaN 122\n"), "10\nNaN\nNaN\n60\n");
    let heron = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/data/heron.toml");
    let object = json(
        dir,
        &["convert", heron, "wing_left", "--from", "reading", "nan", "541.5"],
        0,
    );
    let [gap, sound] = [&object["values"][0], &object["values"][1]];
    assert!(gap["given"].is_null() && gap["angle"].is_null() && gap["command"].is_null());
    assert_eq!(gap["state"], "impossible");
    assert_eq!(sound["command"], 10.0);
    for (from, word) in [("drive", "inf"), ("pulse-us", "-inf"), ("reading", "inf")] {
        let (_, told) = run(dir, &["convert", heron, "wing_left", "--from", from, "--", word], 2);
        tells(&told, "is not finite");
    }
}
