//! Every line fits the terminal: of 80 columns, and of 40.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod common;

use common::{ROBOT, folder, source_line, sweep, tells, tells_all};
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};

/// What a command prints in a terminal of so many columns, both streams.
fn told(folder: &Path, args: &[&str], columns: usize) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_elbowroom"))
        .args(args)
        .current_dir(folder)
        .env("COLUMNS", columns.to_string())
        .stdin(Stdio::null())
        .output()
        .unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    text(output.stdout) + &text(output.stderr)
}

const COMMANDS: &[&[&str]] = &[
    &["show", "heron.toml"],
    &["show", "heron.toml", "wing_left"],
    &["check", "heron.toml"],
    &["check", "--rules"],
    &["check", "a.csv"],
    &["report", "heron.toml"],
    &["fit", "a.csv"],
    &["fit", "a.csv", "--into", "heron.toml", "--joint", "wing_left"],
    &["fit", "nothing.csv"],
    &["compare", "a.csv", "b.csv"],
    &["compare", "heron.toml", "other.toml"],
    &["convert", "heron.toml", "wing_left", "--", "-40", "10", "200"],
    &["convert", "heron.toml", "wing_left", "--from", "counts", "199"],
    &["edit", "heron.toml", "set", "wing_left.rest=12", "--dry-run"],
    &["bring-up", "heron.toml", "--joint", "wing_left"],
    &["rehearse"],
    &["rehearse", "--sweep", "--fault", "horn-slipped", "--seed", "7"],
    &["firmware", "heron.toml"],
    &["--help"],
    &["help"],
    &["help", "file"],
    &["help", "measure"],
    &["help", "fit"],
    &["help", "check"],
    &["help", "show"],
    &["help", "compare"],
    &["help", "report"],
    &["help", "edit"],
    &["help", "bring-up"],
    &["help", "rehearse"],
    &["fit", "--help"],
];

fn prepared() -> tempfile::TempDir {
    let folder = folder();
    let dir = folder.path();
    let table = sweep(0.0);
    fs::write(dir.join("a.csv"), &table).unwrap();
    fs::write(dir.join("b.csv"), sweep(15.0)).unwrap();
    let evidence = "[joint.wing_left.evidence]\ndate = 2026-11-20\nsense = \"opposing\"\n\
                    lower = { kind = \"contact\", at = 35.2, u = 0.2, guard = 2.0 }\n\
                    upper = { kind = \"clear\", at = 122 }\nlost_motion = { value = 1.2, u = 0.1 }\nreadings = 80\n";
    let robot = format!("{ROBOT}\n{evidence}{}", source_line("a.csv", &table));
    fs::write(dir.join("heron.toml"), &robot).unwrap();
    fs::write(dir.join("other.toml"), robot.replace("rest = 10", "rest = 20")).unwrap();
    folder
}

#[test]
fn no_line_is_longer_than_the_terminal() {
    let folder = prepared();
    for columns in [40, 80] {
        for command in COMMANDS {
            for line in told(folder.path(), command, columns).lines() {
                // A word without a blank, such as a path, is not broken.
                let is_one_word = !line.trim().contains(' ');
                assert!(
                    line.chars().count() <= columns || is_one_word,
                    "{command:?} in {columns} columns:\n{line}"
                );
            }
        }
    }
}

#[test]
fn tables_become_blocks_where_their_rows_do_not_fit() {
    let folder = prepared();
    let dir = folder.path();
    let wide = told(dir, &["compare", "a.csv", "b.csv"], 80);
    tells(&wide, "quantity                   change        u     E_n");
    let narrow = told(dir, &["compare", "a.csv", "b.csv"], 40);
    tells_all(
        &narrow,
        &[
            "\noffset, drive deg\n  change   15\n",
            "\n  verdict  changed\n",
            "\n  E_n      ",
        ],
    );
    let narrow = told(dir, &["show", "heron.toml"], 40);
    tells(
        &narrow,
        "\nwing_left\n  output     breast:3\n  command    -40 .. 60\n  travel deg 37 .. 122\n",
    );
    let narrow = told(dir, &["convert", "heron.toml", "wing_left", "10"], 40);
    tells(&narrow, "command 10\n  drive deg 79.5\n");
    // What follows a label stays under it.
    let narrow = told(dir, &["fit", "a.csv"], 40);
    tells(
        &narrow,
        "  travel       42.56 deg to 117.42 deg,\n               guard margin 2 deg\n",
    );
}
