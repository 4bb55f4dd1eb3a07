//! What a calibration leaves behind: its readings kept, drawn and fitted again, and the calibrations before it.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may panic"
)]

mod common;

use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use common::{json, run, sweep};

const TAKEN: [&str; 8] = [
    "--by",
    "A. <Heron>",
    "--instrument",
    "inclinometer, 0.1 deg",
    "--supply-v",
    "6.0",
    "--temperature-c",
    "21.5",
];

/// Invented: one joint, calibrated twice, its drive 15 deg on in the second table.
fn calibrated(dir: &Path) {
    fs::create_dir(dir.join("readings")).unwrap();
    fs::write(dir.join("readings/first.csv"), sweep(0.0)).unwrap();
    fs::write(dir.join("readings/second.csv"), sweep(15.0)).unwrap();
    for (table, date, more) in [("first", "2025-11-20", "--new"), ("second", "2026-11-20", "--adopt")] {
        let table = format!("readings/{table}.csv");
        let mut words = vec![
            "fit",
            &table,
            "--into",
            "heron.toml",
            "--joint",
            "neck",
            "--date",
            date,
            more,
        ];
        words.extend(TAKEN);
        run(dir, &words, 0);
        if more == "--new" {
            fs::copy(dir.join("heron.toml"), dir.join("before.toml")).unwrap();
        }
    }
}

#[test]
fn readings_are_named_drawn_and_fitted_again() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    calibrated(dir);
    let text = fs::read_to_string(dir.join("heron.toml")).unwrap();
    let hash = elbowroom::robot::sha256(sweep(15.0).as_bytes());
    assert!(
        text.contains("file = \"readings/second.csv\"") && text.contains(&hash),
        "{text}"
    );
    assert!(
        text.contains("2025-11-20 = { ") && text.contains("readings/first.csv"),
        "{text}"
    );

    let shown = json(dir, &["show", "heron.toml", "neck"], 0);
    let joint = &shown["joints"][0];
    assert_eq!(joint["evidence"]["source"]["state"], "unchanged");
    assert_eq!(joint["history"].as_array().unwrap().len(), 1);
    assert_eq!(
        (&joint["evidence"]["by"], &joint["evidence"]["supply_v"]),
        (&"A. <Heron>".into(), &6.0.into())
    );
    run(
        dir,
        &[
            "show",
            "heron.toml",
            "neck",
            "--plot-readings",
            "r.svg",
            "--plot-history",
            "h.svg",
        ],
        0,
    );
    // Drawn again they are what the fit drew.
    run(
        dir,
        &["fit", "readings/second.csv", "--joint", "neck", "--plot", "fit.svg"],
        0,
    );
    let read = |file: &str| fs::read_to_string(dir.join(file)).unwrap();
    assert_eq!(read("r.svg"), read("fit.svg"));
    let history = read("h.svg");
    assert!(history.contains("2 calibrations from 2025-11-20 to 2026-11-20."));
    assert!(history.contains(">2025-11-20</text>") && history.contains(">2026-11-20</text>"));

    run(
        dir,
        &["report", "heron.toml", "-o", "heron.html", "--as-of", "2026-11-25"],
        1,
    );
    let page = read("heron.html");
    for part in [
        "A. &#60;Heron&#62;",
        "inclinometer, 0.1 deg",
        "6 V",
        "21.5 \u{b0}C",
        "degrees of freedom",
        "from below",
        "readings/second.csv, unchanged",
        ", assumed",
        "guard margin 2",
        "half the lost motion",
        "offset shifted by",
        "Readings and limits of neck",
        "Calibrations of neck",
        "Measured by",
    ] {
        assert!(page.contains(part), "{part}");
    }
    assert!(page.find("Cautions") < page.find("Summary"));

    // Two files, each with readings of its own.
    let (out, _) = run(dir, &["compare", "before.toml", "heron.toml"], 1);
    assert!(
        out.contains("readings of neck, fitted again") && out.contains("24-tooth horn"),
        "{out}"
    );
    let object = json(dir, &["compare", "before.toml", "heron.toml"], 1);
    assert_eq!(object["refitted"][0]["joint"], "neck");
    let object = json(dir, &["compare", "heron.toml", "heron.toml"], 0);
    assert_eq!(object["refitted"], serde_json::json!([]));
}

#[test]
fn readings_that_changed_after_the_fit_are_found() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    calibrated(dir);
    let of_source = |dir: &Path| {
        let (out, _) = run(dir, &["check", "heron.toml", "--as-of", "2026-11-25"], 1);
        let mut words: Vec<String> = Vec::new();
        for word in ["source-changed", "source-missing"] {
            if out.contains(word) {
                words.push(word.to_owned());
            }
        }
        words
    };
    assert!(of_source(dir).is_empty());
    // One digit.
    let table = sweep(15.0);
    fs::write(dir.join("readings/second.csv"), table.replacen('1', "2", 1)).unwrap();
    assert_eq!(of_source(dir), ["source-changed"]);
    let (_, err) = run(dir, &["show", "heron.toml", "neck", "--plot-readings", "r.svg"], 2);
    assert!(err.contains("has changed since it was fitted"), "{err}");
    run(
        dir,
        &["report", "heron.toml", "-o", "heron.html", "--as-of", "2026-11-25"],
        1,
    );
    let page = fs::read_to_string(dir.join("heron.html")).unwrap();
    assert!(page.contains("has changed since it was fitted") && !page.contains("Readings and limits of neck"));
    fs::remove_file(dir.join("readings/first.csv")).unwrap();
    assert_eq!(of_source(dir), ["source-changed", "source-missing"]);
}

#[test]
fn a_hundred_calibrations_stay_readable_and_the_report_small() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    calibrated(dir);
    let mut text = fs::read_to_string(dir.join("heron.toml")).unwrap();
    let line = text
        .lines()
        .find(|line| line.starts_with("2025-11-20 = "))
        .unwrap()
        .to_owned();
    let mut more = String::new();
    for i in 0..99u32 {
        let _ = writeln!(
            more,
            "{}",
            line.replacen("2025-11-20", &format!("{}-{:02}-07", 2010 + i / 12, i % 12 + 1), 1)
        );
    }
    text = text.replacen(&line, &format!("{more}{line}"), 1);
    fs::write(dir.join("heron.toml"), &text).unwrap();
    let shown = json(dir, &["show", "heron.toml", "neck"], 0);
    assert_eq!(shown["joints"][0]["history"].as_array().unwrap().len(), 100);
    assert!(text.lines().count() < 140);
    run(
        dir,
        &["report", "heron.toml", "-o", "heron.html", "--as-of", "2026-11-25"],
        1,
    );
    let page = fs::read_to_string(dir.join("heron.html")).unwrap();
    assert!(page.contains("101 calibrations from 2010-01-07 to 2026-11-20."));
    assert!(page.len() < 2_000_000, "{}", page.len());
}
