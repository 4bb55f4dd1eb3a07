//! An invented joint at the bench, with a person or a program before it.

use super::run;
use serde_json::Value;
use std::fs;
use std::io::{BufRead as _, BufReader, Write as _};
use std::path::Path;
use std::process::{Child, Command, Stdio};

/// An invented joint behind a servo: joint deg follow pulse widths with play, between two stops.
#[derive(Clone, Copy)]
pub(crate) struct Bench {
    /// Pulse width at joint angle 0, us.
    pub(crate) at_zero: f64,
    /// Pulse width per deg of the joint.
    pub(crate) us_per_deg: f64,
    /// Lost motion, joint deg.
    pub(crate) lost: f64,
    pub(crate) stops: [f64; 2],
    pub(crate) angle: f64,
}

pub(crate) const HEALTHY: Bench = Bench {
    at_zero: 1289.0,
    us_per_deg: 9.44,
    lost: 0.8,
    stops: [-46.0, 66.0],
    angle: 0.0,
};

/// Two commands within the travel and three between.
pub(crate) const COMMANDS: [&str; 5] = ["-30", "-10", "10", "30", "50"];

impl Bench {
    pub(crate) fn straight(&self, pulse: f64) -> f64 {
        (pulse - self.at_zero) / self.us_per_deg
    }

    pub(crate) fn send(&mut self, pulse: f64) {
        let (goal, half) = (self.straight(pulse), 0.5 * self.lost);
        self.angle = self
            .angle
            .clamp(goal - half, goal + half)
            .clamp(self.stops[0], self.stops[1]);
    }

    /// A protractor read to half a degree.
    pub(crate) fn read(&self) -> f64 {
        (self.angle * 2.0).round() / 2.0
    }
}

/// What somebody at the bench does with a step that is told as an object.
pub(crate) fn answered(bench: &mut Bench, step: &Value) -> Value {
    match step["kind"].as_str().unwrap() {
        "move-to" => {
            bench.send(step["pulse_us"].as_f64().unwrap());
            serde_json::json!({ "answer": "done" })
        }
        "read" => serde_json::json!({ "reading": bench.read() }),
        "ask" if step["question"] == "stays-behind" => serde_json::json!({ "answer": "stop" }),
        _ => serde_json::json!({ "answer": "done" }),
    }
}

/// Starts a bring-up whose command hands each step on through two pipes, so that the test answers.
pub(crate) fn started(dir: &Path, args: &[&str]) -> Child {
    let pipes = [
        "mkfifo steps answers 2>/dev/null; exec 3>steps 4<answers; ",
        "while read -r s; do echo \"$s\" >&3; ",
        "case $s in *'\"kind\":\"done\"'*) exit;; esac; read -r a <&4 || exit; echo \"$a\"; done",
    ]
    .concat();
    let mut all = vec!["bring-up", "heron.toml", "--through", &pipes];
    all.extend(args);
    Command::new(env!("CARGO_BIN_EXE_elbowroom"))
        .args(all)
        .current_dir(dir)
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap()
}

/// Brings a joint up through the line protocol; after so many answers the program is killed, if it is told to be.
pub(crate) fn through(
    dir: &Path,
    bench: &mut Bench,
    args: &[&str],
    kill_after: Option<usize>,
) -> (Option<i32>, String, Vec<Value>) {
    let _ = Command::new("mkfifo")
        .args(["steps", "answers"])
        .current_dir(dir)
        .status();
    let mut child = started(dir, args);
    let steps = BufReader::new(fs::File::open(dir.join("steps")).unwrap());
    let mut answers = fs::OpenOptions::new().write(true).open(dir.join("answers")).unwrap();
    let mut seen = Vec::new();
    for line in steps.lines() {
        let step: Value = serde_json::from_str(&line.unwrap()).unwrap();
        if step["kind"] == "done" {
            break;
        }
        if kill_after == Some(seen.len()) {
            child.kill().unwrap();
            break;
        }
        let answer = answered(bench, &step);
        seen.push(step);
        writeln!(answers, "{answer}").unwrap();
    }
    drop(answers);
    let output = child.wait_with_output().unwrap();
    let text = String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr);
    (output.status.code(), text, seen)
}

/// Five commands get the pulse that takes the joint there, within 0.5 deg, and no pulse of the travel forces a stop.
#[track_caller]
pub(crate) fn right(dir: &Path, joint: &str, truth: &Bench) {
    let args = [&["--json", "convert", "heron.toml", joint, "--"], &COMMANDS[..]].concat();
    let (out, _) = run(dir, &args, 0);
    let object: Value = serde_json::from_str(&out).unwrap();
    for (value, command) in object["values"].as_array().unwrap().iter().zip(COMMANDS) {
        let reached = truth.straight(value["pulse_us"].as_f64().unwrap());
        let command: f64 = command.parse().unwrap();
        assert!(
            (reached - command).abs() < 0.5,
            "command {command} goes to {reached}\n{object}"
        );
    }
    let (out, _) = run(
        dir,
        &["--json", "convert", "heron.toml", joint, "--", "-1000", "1000"],
        0,
    );
    let object: Value = serde_json::from_str(&out).unwrap();
    for value in object["values"].as_array().unwrap() {
        let reached = truth.straight(value["pulse_us"].as_f64().unwrap());
        assert!(
            reached > truth.stops[0] && reached < truth.stops[1],
            "{reached}\n{object}"
        );
    }
}

pub(crate) const NEW: [&str; 18] = [
    "--joint",
    "wing_left",
    "--new",
    "--command=-40,60",
    "--rest",
    "10",
    "--board",
    "breast",
    "--channel",
    "3",
    "--max-rate-per-s",
    "60",
    "--servo-angle",
    "0,180",
    "--servo-pulse-us",
    "500,2500",
    "--resolution",
    "0.5",
];

pub(crate) const TIMER: [&str; 4] = ["--frame-hz", "50", "--counts-per-frame", "4096"];

pub(crate) const AGAIN: [&str; 4] = ["--joint", "wing_left", "--resolution", "0.5"];

pub(crate) fn brought_up(dir: &Path) -> Bench {
    let mut bench = HEALTHY;
    let (status, text, steps) = through(dir, &mut bench, &[&NEW[..], &TIMER].concat(), None);
    assert_eq!(status, Some(0), "{text}");
    assert!(steps.len() > 20, "{text}");
    bench
}

/// A bring-up as a person does it: each line is typed when its prompt stands there.
pub(crate) struct Typist {
    child: Child,
    input: std::process::ChildStdin,
    output: std::process::ChildStdout,
    text: String,
}

impl Typist {
    pub(crate) fn start(dir: &Path, args: &[&str]) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_elbowroom"))
            .args(args)
            .current_dir(dir)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let (input, output) = (child.stdin.take().unwrap(), child.stdout.take().unwrap());
        Self {
            child,
            input,
            output,
            text: String::new(),
        }
    }

    /// What is told up to the next prompt; None at the end.
    pub(crate) fn told(&mut self) -> Option<String> {
        use std::io::Read as _;
        let mut bytes = Vec::new();
        let mut one = [0_u8];
        while self.output.read(&mut one).unwrap() == 1 {
            bytes.extend(one);
            if bytes.ends_with(b"> ") {
                let told = String::from_utf8(bytes).unwrap();
                self.text.push_str(&told);
                return Some(told);
            }
        }
        self.text.push_str(&String::from_utf8(bytes).unwrap());
        None
    }

    pub(crate) fn type_line(&mut self, line: &str) {
        writeln!(self.input, "{line}").unwrap();
        self.text.push_str(line);
        self.text.push('\n');
    }

    /// What the joint at hand makes somebody type, up to this many prompts or to the end.
    pub(crate) fn answer(&mut self, bench: &mut Bench, most: usize) -> bool {
        for _ in 0..most {
            let Some(told) = self.told() else { return false };
            if let Some((_, pulse)) = told.rsplit_once("pulse ").filter(|_| told.contains("  send ")) {
                bench.send(pulse.split(' ').next().unwrap().parse().unwrap());
            }
            let last = told.lines().last().unwrap();
            let line = match last {
                _ if last.contains("press Enter") => String::new(),
                _ if last.contains("reading, or again") => bench.read().to_string(),
                _ if last.contains("stop, obstacle") => "stop".to_owned(),
                _ if last.contains("done") => "done".to_owned(),
                _ => unreachable!("{last}"),
            };
            self.type_line(&line);
        }
        true
    }

    pub(crate) fn end(mut self) -> (Option<i32>, String) {
        while self.told().is_some() {}
        let status = self.child.wait().unwrap();
        (status.code(), self.text)
    }
}
