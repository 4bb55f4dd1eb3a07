//! How tables of readings may be written.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may fail loudly")]

mod common;

use common::{READINGS, folder, json, run};
use std::fs;

/// Tables as spreadsheets write them where decimals have a comma.
#[test]
fn decimals_may_have_a_comma() {
    let folder = folder();
    let dir = folder.path();
    let commas = ["--separator", ";", "--decimal", ","];
    let of = |table: &str, more: &[&str], status| {
        fs::write(dir.join("commas.csv"), table).unwrap();
        run(dir, &[&["fit", "commas.csv"], &commas[..], more].concat(), status)
    };
    let pointed = json(dir, &["fit", "readings.csv"], 0);
    let table = READINGS.replace(',', ";").replace('.', ",");
    of(&table, &[], 0);
    let found = json(dir, &[&["fit", "commas.csv"], &commas[..]].concat(), 0);
    assert_eq!(found["fit"], pointed["fit"], "the same numbers");
    for (cell, says) in [
        (
            "1.5",
            "commas.csv:2: column 1 (drive): \"1.5\" holds a point, and --decimal says that decimals have a comma",
        ),
        ("1.234,5", "holds a point"),
        ("1,2,3", "is no number"),
        ("", "holds nothing"),
    ] {
        let (_, err) = of(&format!("drive;measured\n{cell};2\n"), &[], 2);
        assert!(err.contains(says), "{err}");
    }
    let (_, err) = run(dir, &["fit", "readings.csv", "--decimal", ","], 2);
    assert!(
        err.contains("--decimal \",\" separates columns too; give another --separator"),
        "{err}"
    );
    let (_, err) = run(dir, &["fit", "readings.csv", "--decimal", "x"], 2);
    assert!(err.contains("give a point or a comma"), "{err}");
}
