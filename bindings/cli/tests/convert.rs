//! What the shell tool makes of numbers: commands, drive angles, pulses, counts and readings.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod common;

use common::{folder, json, run, tool};

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
    assert!(
        told.contains("value 1 (\"1\")") && told.contains("no feedback map"),
        "{told}"
    );
}

#[test]
fn converts_both_ways_from_arguments_and_from_input() {
    let folder = folder();
    let dir = folder.path();
    let (out, _) = run(dir, &["convert", "heron.toml", "wing_left", "90", "200"], 0);
    assert!(out.contains("42.5     972.222      199\n"), "{out}");
    assert!(out.contains("clamped to the command range"), "{out}");
    let output = tool(
        dir,
        &["convert", "heron.toml", "wing_left", "--to", "counts"],
        "0 90\n180\n",
    );
    assert_eq!(String::from_utf8(output.stdout).unwrap(), "114\n199\n284\n");
    let (out, _) = run(
        dir,
        &[
            "convert",
            "heron.toml",
            "wing_left",
            "--from",
            "drive",
            "42.5",
            "--to",
            "command",
        ],
        0,
    );
    assert_eq!(out, "90\n");
    let object = json(
        dir,
        &[
            "convert",
            "heron.toml",
            "wing_left",
            "--from",
            "pulse-us",
            "972.2222222222222",
        ],
        0,
    );
    assert!((object["values"][0]["command"].as_f64().unwrap() - 90.0).abs() < 1e-9);
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
