//! What the shell tool's tests share: a folder, a run, and invented files.
#![allow(dead_code, unreachable_pub, reason = "each test program uses some of it")]

pub(crate) mod bench;

use std::fs;
use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use serde_json::Value;

pub(crate) fn tool(folder: &Path, args: &[&str], input: &str) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_elbowroom"))
        .args(args)
        .current_dir(folder)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(input.as_bytes()).unwrap();
    child.wait_with_output().unwrap()
}

/// A command line by its words.
pub(crate) fn words(line: &str) -> Vec<&str> {
    line.split(' ').collect()
}

/// Runs, expects an exit status, and gives standard output and standard error.
#[track_caller]
pub(crate) fn run(folder: &Path, args: &[&str], status: i32) -> (String, String) {
    let output = tool(folder, args, "");
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    let (out, err) = (text(output.stdout), text(output.stderr));
    assert_eq!(output.status.code(), Some(status), "{args:?}\n{out}\n{err}");
    (out, err)
}

/// A text holds these words.
#[track_caller]
pub(crate) fn tells(text: &str, words: &str) {
    assert!(text.contains(words), "does not say \"{words}\":\n{text}");
}

#[track_caller]
pub(crate) fn tells_all(text: &str, all: &[&str]) {
    all.iter().for_each(|words| tells(text, words));
}

#[track_caller]
pub(crate) fn json(folder: &Path, args: &[&str], status: i32) -> Value {
    let mut args = args.to_vec();
    args.push("--json");
    let (out, _) = run(folder, &args, status);
    serde_json::from_str(&out).unwrap()
}

/// Invented data: the wing of our running example.
pub(crate) const ROBOT: &str = r#"format = 1
name = "heron"
timer = { frame_hz = 50, counts_per_frame = 4096 }
servo = { angle = [0, 180], pulse_us = [500, 2500] }

[joint.wing_left]   # squeaks
board = "breast"
channel = 3
command = [-40, 60]
drive = [37, 122]
rest = 10
max_rate_per_s = 60
"#;

/// A fit into the joint of that robot, whatever its map says.
pub(crate) const KEEP: [&str; 9] = [
    "fit",
    "readings.csv",
    "--into",
    "heron.toml",
    "--joint",
    "wing_left",
    "--date",
    "2026-11-20",
    "--keep",
];

/// Invented data: a clean line, 2 deg of joint angle per deg of drive.
pub(crate) const READINGS: &str = "drive,measured\n10,20.1\n20,39.9\n30,60.1\n40,80.0\n50,99.9\n60,120.1\n70,139.9\n";

pub(crate) fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("heron.toml"), ROBOT).unwrap();
    fs::write(folder.path().join("readings.csv"), READINGS).unwrap();
    folder
}

/// Invented data: a joint that meets both stops, swept up and down, its horn moved by one tooth of 24 in the second table.
pub(crate) fn sweep(shift: f64) -> String {
    let mut table = String::from("drive,measured,approach\n");
    for (side, sign) in [("below", -0.5), ("above", 0.5)] {
        for step in 0..40 {
            let drive = 20.0 + 3.0 * f64::from(step);
            let wobble = f64::from(step * 7 % 5 - 2) * 0.04;
            let measured = (drive + shift + sign).clamp(40.0, 120.0);
            table.push_str(&format!("{drive},{},{side}\n", measured + wobble));
        }
    }
    table
}

/// What a robot file says of the table that a fit was made from.
pub(crate) fn source_line(file: &str, table: &str) -> String {
    let sha256 = elbowroom::robot::sha256(table.as_bytes());
    format!("source = {{ file = \"{file}\", sha256 = \"{sha256}\" }}\n")
}
