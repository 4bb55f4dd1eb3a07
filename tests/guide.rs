//! The guide's reference of the robot file is what the reader's own table says, and each example of that table is read.
//!
//! `WRITE_GUIDE=1 cargo test -p elbowroom --all-features --test guide` writes the reference anew.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use elbowroom::Unit;
use elbowroom::linkage::{DimensionUnit, MechanismKind};
use elbowroom::robot::{FileKey, FileTable, Robot, Rule};
use std::fmt::Write as _;
use std::fs;
use std::path::Path;

fn reference() -> String {
    let mut text = String::from(
        "# Reference of the robot file\n\n\
         <!-- Generated from src/robot/keys.rs, src/linkage/kinds.rs, src/unit.rs and src/robot/check/rule.rs. -->\n\n\
         A robot file is TOML. Keys that are not listed here are refused, with the key that is likely meant. Comments and order stay when \
         a value is updated. Each command of `elbowroom` that changes the file keeps the text before its change beside it, in `FILE~`; \
         `elbowroom edit FILE undo` puts that back. Angles are in degrees, pulse widths in microseconds; pairs are lower, then upper. A key in **bold** \
         is required.\n",
    );
    for table in FileTable::ALL {
        write!(text, "\n## {}\n\n{}\n\n", title(table.place), table.purpose).unwrap();
        text.push_str("| key | example | meaning |\n| --- | --- | --- |\n");
        for FileKey {
            name,
            needed,
            example,
            meaning,
            ..
        } in table.keys
        {
            let stars = if *needed { "**" } else { "" };
            writeln!(text, "| {stars}`{name}`{stars} | `{example}` | {meaning} |").unwrap();
        }
    }
    for kind in MechanismKind::ALL {
        write!(text, "\n## `transmission`, kind = `\"{}\"`\n\n", kind.word).unwrap();
        text.push_str("| key | unit | meaning |\n| --- | --- | --- |\n| **`kind`** | | The kind. |\n");
        for dimension in kind.dimensions {
            let unit = match dimension.unit {
                DimensionUnit::Length => "length",
                DimensionUnit::Deg => "deg",
                _ => unreachable!("units of dimensions"),
            };
            let above = if dimension.above_zero { ", above 0" } else { "" };
            writeln!(
                text,
                "| **`{}`** | {unit}{above} |{} |",
                dimension.name, dimension.meaning
            )
            .unwrap();
        }
        if kind.has_branch {
            text.push_str("| **`branch`** | | `\"left\"` or `\"right\"`: which of the two ways it is assembled. |\n");
        }
    }
    text.push_str("\nAll lengths of one linkage have the same unit, e.g. mm.\n\n## Units of commands\n\n| word | times | is |\n| --- | --- | --- |\n");
    for unit in Unit::ALL {
        writeln!(text, "| `{}` | {} | {:?} |", unit.word(), unit.to_si(), unit.si()).unwrap();
    }
    text.push_str("\n## Rules of the check\n\n| rule | severity | it ensures that | broken by, for example |\n| --- | --- | --- | --- |\n");
    for rule in Rule::ALL {
        let broken = rule.broken_by().replace('|', "\\|");
        writeln!(
            text,
            "| `{}` | {} | {} | `{broken}` |",
            rule.name(),
            rule.severity().as_str(),
            rule.protects().replace("[check]", "`[check]`")
        )
        .unwrap();
    }
    text
}

/// Brackets would be links in Markdown.
fn title(place: &str) -> String {
    place
        .split(' ')
        .map(|word| match word {
            "the" | "file" | "and" | "of" | "kind" | "=" => word.to_owned(),
            word => match word.strip_suffix(',') {
                Some(bare) => format!("`{bare}`,"),
                None => format!("`{word}`"),
            },
        })
        .collect::<Vec<_>>()
        .join(" ")
}

#[test]
fn the_reference_of_the_robot_file_is_the_readers_table() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/guide/robot_file.md");
    let text = reference();
    if std::env::var_os("WRITE_GUIDE").is_some() {
        fs::write(&path, &text).unwrap();
    }
    let committed = fs::read_to_string(&path).unwrap_or_default();
    assert!(
        text == committed,
        "src/guide/robot_file.md is old; run with WRITE_GUIDE=1"
    );
}

/// A robot file whose table of this place holds these lines and no others.
fn file_with(place: &str, lines: &str) -> String {
    const SERVO: &str = "servo = { angle = [0, 180], pulse_us = [500, 2500] }\n";
    const TIMER: &str = "timer = { frame_hz = 50, counts_per_frame = 4096 }\n";
    const LEAST: &str = "command = [-40, 60]\ndrive = [37, 122]\nrest = 10\n";
    let joint = |more: &str| format!("format = 1\n{SERVO}{TIMER}[joint.wing_left]\n{LEAST}{more}");
    match place {
        "the file" => format!("{lines}\n"),
        "servo" => format!("format = 1\n{TIMER}[joint.wing_left]\n{LEAST}[joint.wing_left.servo]\n{lines}\n"),
        "timer" => format!("format = 1\n{SERVO}[joint.wing_left]\n{LEAST}[joint.wing_left.timer]\n{lines}\n"),
        "[board.NAME]" => format!("format = 1\n{TIMER}[board.breast]\n{lines}\n"),
        "[joint.NAME]" => format!("format = 1\n{SERVO}{TIMER}[joint.wing_left]\n{lines}\n"),
        "feedback" => joint(&format!("[joint.wing_left.feedback]\n{lines}\n")),
        "[joint.NAME.evidence]" => joint(&format!("[joint.wing_left.evidence]\n{lines}\n")),
        "lower and upper of evidence" => joint(&format!("[joint.wing_left.evidence.lower]\n{lines}\n")),
        "lost_motion of evidence" => joint(&format!("[joint.wing_left.evidence.lost_motion]\n{lines}\n")),
        "source of evidence" => joint(&format!("[joint.wing_left.evidence.source]\n{lines}\n")),
        "[check]" => format!("{}[check]\n{lines}\n", joint("")),
        "waive of [check]" => format!("{}[[check.waive]]\n{lines}\n", joint("")),
        place if place.starts_with("transmission") => joint(&format!("[joint.wing_left.transmission]\n{lines}\n")),
        place => panic!("no file for {place}"),
    }
}

/// What a key's example needs beside it.
fn beside(place: &str, key: &str) -> &'static str {
    match (place, key) {
        ("lower and upper of evidence", "short_at") => "kind = \"stalled\"\nat = 37.9\n",
        ("feedback", "wrap_deg") => "adc_bits = 10\nreading = [100, 384]\n",
        ("feedback", "pot_ohm") => "adc_bits = 10\nload_ohm = 100000\n",
        ("feedback", "load_ohm") => "adc_bits = 10\npot_ohm = 5000\n",
        _ => "",
    }
}

#[test]
fn each_example_of_the_table_is_read_and_each_required_key_is_missed() {
    let mut read = 0;
    for table in FileTable::ALL {
        let needed: Vec<&FileKey> = table.keys.iter().filter(|key| key.needed).collect();
        for key in table.keys {
            let extra = beside(table.place, key.name);
            let is_heading = key.example.starts_with('[');
            let mut lines = String::new();
            for other in &needed {
                let given = extra.lines().any(|line| line.starts_with(&format!("{} =", other.name)));
                if other.name != key.name && !given {
                    lines += &format!("{}\n", other.example);
                }
            }
            lines += extra;
            let without = file_with(table.place, &lines);
            lines += key.example;
            if key.example == "[joint.wing_left]" {
                lines += "\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\n\
                          servo = { angle = [0, 180], pulse_us = [500, 2500] }\n\
                          timer = { frame_hz = 50, counts_per_frame = 4096 }";
            }
            let file = file_with(table.place, &lines);
            if let Err(error) = Robot::parse(&file) {
                panic!("{}, {}: {error}\n{file}", table.place, key.name);
            }
            read += 1;
            if key.needed && !is_heading {
                let error = Robot::parse(&without).expect_err(key.name).to_string();
                assert!(error.contains(key.name), "{}, {}: {error}", table.place, key.name);
            }
        }
        // A key that no table has.
        let all: String = needed.iter().map(|key| format!("{}\n", key.example)).collect();
        let error = Robot::parse(&file_with(table.place, &format!("{all}nonsense_key = 1"))).unwrap_err();
        assert!(error.to_string().contains("nonsense_key"), "{}: {error}", table.place);
    }
    assert!(read > 70, "{read} examples");
}
