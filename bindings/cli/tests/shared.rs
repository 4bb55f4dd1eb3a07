//! The shared faults of `tests/data/vectors/faults.txt`: the shell gives the same code, name, place and sentence as Rust, C
//! and Python, behind the name of the file.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may fail loudly")]

mod common;

use common::{folder, json, run};
use std::fs;

const FAULTS: &str = include_str!("../../../tests/data/vectors/faults.txt");

#[test]
fn a_fault_is_named_as_everywhere() {
    let folder = folder();
    let dir = folder.path();
    let (mut title, mut text, mut rows, mut place) = ("", String::new(), String::new(), vec![]);
    let mut faults = 0;
    for line in FAULTS.lines() {
        let rest = line.get(2..).unwrap_or_default();
        match line.get(..1).unwrap() {
            "F" => (title, text, rows) = (rest, String::new(), String::new()),
            "L" => text += &format!("{rest}\n"),
            "R" => rows += &format!("{}\n", rest.replace(' ', ",")),
            "E" => place = rest.split(' ').collect(),
            "M" => {
                faults += 1;
                // In a table nothing but numbers can be written: what is none is refused by the reader of tables, with its line.
                if rows.contains("nan") || rows.contains("inf") {
                    continue;
                }
                if !rows.is_empty() && !text.is_empty() {
                    // The shell finds it, tells what differs, and writes nothing.
                    fs::write(dir.join("faulty.toml"), &text).unwrap();
                    fs::write(dir.join("faulty.csv"), format!("drive,measured\n{rows}")).unwrap();
                    let into = ["fit", "faulty.csv", "--into", "faulty.toml", "--joint", "wing_left"];
                    let (out, _) = run(dir, &into, 1);
                    assert!(
                        out.contains("commands fall with drive as measured, and rise in the file"),
                        "{title}: {out}"
                    );
                    assert_eq!(fs::read_to_string(dir.join("faulty.toml")).unwrap(), text);
                    continue;
                }
                let (name, found) = if rows.is_empty() {
                    fs::write(dir.join("faulty.toml"), &text).unwrap();
                    ("faulty.toml", json(dir, &["check", "faulty.toml"], 2))
                } else {
                    fs::write(dir.join("faulty.csv"), format!("drive,measured\n{rows}")).unwrap();
                    ("faulty.csv", json(dir, &["fit", "faulty.csv"], 2))
                };
                let error = &found["error"];
                let own = |key: &str| error[key].as_u64().unwrap_or(0).to_string();
                assert_eq!(
                    [
                        own("code"),
                        error["name"].as_str().unwrap().into(),
                        own("line"),
                        own("column")
                    ],
                    place[..],
                    "{title}: {found}"
                );
                let message = error["message"].as_str().unwrap();
                // Where the file is known it stands before line and column.
                let placed = format!("line {}, column {}: ", place[2], place[3]);
                let expected = match rest.strip_prefix(&placed) {
                    Some(sentence) => format!("{name}:{}:{}: {sentence}", place[2], place[3]),
                    None => format!("{name}: {rest}"),
                };
                assert_eq!(message, expected, "{title}");
            }
            other => assert_eq!(other, "#", "{line}"),
        }
    }
    assert!(faults >= 30);
}

/// The help names the defaults of a fit, and they are those that every language begins with.
#[test]
fn a_fit_begins_with_the_numbers_that_it_has_everywhere() {
    let folder = folder();
    let (help, _) = run(folder.path(), &["fit", "--help"], 0);
    let defaults = include_str!("../../../tests/data/vectors/defaults.txt");
    for key in ["guard", "confidence"] {
        let (_, after) = help.split_once(&format!("--{key} ")).unwrap();
        let (_, shown) = after.split_once("[default: ").unwrap();
        let (_, recorded) = defaults.split_once(&format!("fit.{key} ")).unwrap();
        assert_eq!(shown.split(']').next(), recorded.lines().next(), "{key}");
    }
}
