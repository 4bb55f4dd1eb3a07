//! The whole job at a real joint as a person does it: bring-up, edit, image, repairs. The joints are invented, their truth is known.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may panic"
)]

mod common;

use common::{ROBOT, json, run, tool};
use serde_json::Value;
use std::fs;
use std::io::{BufRead as _, BufReader, Write as _};
use std::path::Path;
use std::process::{Child, Command, Stdio};

/// An invented joint behind a servo: joint deg follow pulse widths with play, between two stops.
#[derive(Clone, Copy)]
struct Bench {
    /// Pulse width at joint angle 0, us.
    at_zero: f64,
    /// Pulse width per deg of the joint.
    us_per_deg: f64,
    /// Lost motion, joint deg.
    lost: f64,
    stops: [f64; 2],
    angle: f64,
}

const HEALTHY: Bench = Bench {
    at_zero: 1289.0,
    us_per_deg: 9.44,
    lost: 0.8,
    stops: [-46.0, 66.0],
    angle: 0.0,
};
/// Two commands within the travel and three between.
const COMMANDS: [&str; 5] = ["-30", "-10", "10", "30", "50"];

impl Bench {
    fn straight(&self, pulse: f64) -> f64 {
        (pulse - self.at_zero) / self.us_per_deg
    }

    fn send(&mut self, pulse: f64) {
        let (goal, half) = (self.straight(pulse), 0.5 * self.lost);
        self.angle = self
            .angle
            .clamp(goal - half, goal + half)
            .clamp(self.stops[0], self.stops[1]);
    }

    /// A protractor read to half a degree.
    fn read(&self) -> f64 {
        (self.angle * 2.0).round() / 2.0
    }
}

/// What somebody at the bench does with a step that is told as an object.
fn answered(bench: &mut Bench, step: &Value) -> Value {
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
fn started(dir: &Path, args: &[&str]) -> Child {
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
fn through(
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
fn right(dir: &Path, joint: &str, truth: &Bench) {
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

const NEW: [&str; 18] = [
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
const TIMER: [&str; 4] = ["--frame-hz", "50", "--counts-per-frame", "4096"];
const AGAIN: [&str; 4] = ["--joint", "wing_left", "--resolution", "0.5"];

fn brought_up(dir: &Path) -> Bench {
    let mut bench = HEALTHY;
    let (status, text, steps) = through(dir, &mut bench, &[&NEW[..], &TIMER].concat(), None);
    assert_eq!(status, Some(0), "{text}");
    assert!(steps.len() > 20, "{text}");
    bench
}

#[test]
fn from_loose_parts_to_file_report_and_image_and_through_three_repairs() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let mut bench = HEALTHY;
    let (status, text, steps) = through(dir, &mut bench, &[&NEW[..], &TIMER].concat(), None);
    assert_eq!(status, Some(0), "{text}");
    for part in [
        "caution: keep a hand on the power switch",
        "drive 101 deg, pulse 1621.1 us, counts 332",
        "ready: the joint is ready for software within its travel",
        "drive angle, deg; + from below",
        "added to heron.toml",
        "next: elbowroom check heron.toml",
    ] {
        assert!(text.contains(part), "{part}\n{text}");
    }
    let read = steps.iter().filter(|step| step["kind"] == "read").count();
    assert!((12..=60).contains(&read), "{read} readings\n{text}");
    right(dir, "wing_left", &HEALTHY);
    assert!(!dir.join("heron.wing_left.bring-up.json").exists());
    let file = fs::read_to_string(dir.join("heron.toml")).unwrap();
    assert!(
        file.contains("kind = \"contact\"") && file.contains("source = { file = \"readings/wing_left_"),
        "{file}"
    );

    // The other wing is declared first, then measured; the image is refused while an error stands.
    run(dir, &["edit", "heron.toml", "sense", "wing_left", "undetermined"], 0);
    run(
        dir,
        &[
            "edit",
            "heron.toml",
            "mirror",
            "wing_left",
            "wing_right",
            "--channel",
            "3",
        ],
        1,
    );
    let (_, err) = run(dir, &["firmware", "heron.toml"], 2);
    assert!(err.contains("channel-clash") && err.contains("--despite"), "{err}");
    run(dir, &["edit", "heron.toml", "set", "wing_right.channel=4"], 0);
    run(dir, &["check"], 1);
    let (out, _) = run(dir, &["report"], 1);
    assert!(out.contains("heron.html"), "{out}");
    let (out, _) = run(dir, &["firmware", "heron.toml"], 0);
    assert!(
        out.contains("heron_breast.bin") && out.contains("library: the plain one"),
        "{out}"
    );

    // 1: the horn one tooth of 25 off.
    let tooth = 14.4 * 2000.0 / 180.0;
    let mut horn = Bench {
        at_zero: HEALTHY.at_zero + tooth,
        ..HEALTHY
    };
    let (status, text, _) = through(dir, &mut horn, &AGAIN, None);
    assert_eq!(status, Some(1), "{text}");
    assert!(
        text.contains("the readings contradict heron.toml") && text.contains("25"),
        "{text}"
    );
    right(dir, "wing_left", &HEALTHY);
    // No reading is asked for again.
    let (status, text, steps) = through(dir, &mut horn, &["--joint", "wing_left", "--adopt"], None);
    assert_eq!((status, steps.len()), (Some(0), 0), "{text}");
    right(dir, "wing_left", &horn);

    // 2: a servo of another model, its own line unknown to the file, on the same joint.
    let mut model = Bench {
        at_zero: 1450.0,
        us_per_deg: 6.2,
        ..HEALTHY
    };
    let (status, text, _) = through(dir, &mut model, &AGAIN, None);
    assert_eq!(status, Some(1), "{text}");
    let (status, text, _) = through(dir, &mut model, &["--joint", "wing_left", "--adopt"], None);
    assert_eq!(status, Some(0), "{text}");
    right(dir, "wing_left", &model);

    // 3: worn gears.
    let mut worn = Bench { lost: 4.0, ..model };
    let (status, text, _) = through(dir, &mut worn, &[&AGAIN[..], &["--adopt"]].concat(), None);
    assert_eq!(status, Some(0), "{text}");
    right(dir, "wing_left", &worn);
    let shown = json(dir, &["show", "heron.toml", "wing_left"], 0);
    let lost = shown["joints"][0]["evidence"]["lost_motion"].as_f64().unwrap();
    let truly = 4.0 * model.us_per_deg * 180.0 / 2000.0;
    assert!((lost - truly).abs() < 1.0, "{lost} {truly}");
}

#[test]
fn a_kill_loses_nothing_and_the_same_command_goes_on() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let mut bench = HEALTHY;
    let all = [&NEW[..], &TIMER].concat();
    let (status, _, before) = through(dir, &mut bench, &all, Some(17));
    assert_eq!(status, None);
    assert!(!dir.join("heron.toml").exists());
    let (status, text, after) = through(dir, &mut bench, &all, None);
    assert_eq!(status, Some(0), "{text}");
    assert!(
        text.contains("going on with the bring-up saved in heron.wing_left.bring-up.json"),
        "{text}"
    );
    // It comes again to where it stood, first inward, and asks for no reading a second time.
    let typed = before.last().unwrap()["typed"].as_u64().unwrap();
    assert!(
        typed > 2 && after[0]["typed"].as_u64().unwrap() >= typed,
        "{before:?}\n{after:?}"
    );
    assert_eq!(after[0]["kind"], "move-to");
    right(dir, "wing_left", &HEALTHY);
    // Another joint's or another plan's is not taken for this one's.
    fs::write(dir.join("x.json"), "{}").unwrap();
    let (_, err) = run(
        dir,
        &["bring-up", "heron.toml", "--joint", "wing_left", "--state", "x.json"],
        2,
    );
    assert!(err.contains("is not a saved bring-up"), "{err}");
}

#[test]
fn a_person_types_takes_back_and_leaves() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    fs::write(dir.join("heron.toml"), ROBOT).unwrap();
    let bring_up = ["bring-up", "heron.toml", "--joint", "wing_left", "--clearance", "6"];
    let output = tool(dir, &bring_up, "maybe\n?\ndone\n\n\nten\n90\n\nundo\n\n\n91\nquit\n");
    let text = String::from_utf8(output.stdout).unwrap();
    assert_eq!(output.status.code(), Some(1), "{text}");
    for part in [
        "caution: keep everybody's hands out of the joint",
        "that is none of the answers; type one of: done or no",
        "send drive ",
        "us, counts ",
        "no faster than 20 deg/s",
        "taken back: the last answer",
        "not finished: left by quit",
        "the same command goes on with it",
    ] {
        assert!(text.contains(part), "{part}\n{text}");
    }
    assert_eq!(fs::read_to_string(dir.join("heron.toml")).unwrap(), ROBOT);
    let output = tool(dir, &["bring-up", "heron.toml", "--joint", "wing_left"], "");
    let text = String::from_utf8(output.stdout).unwrap();
    assert!(
        text.contains("1 reading typed") || text.contains("2 readings typed"),
        "{text}"
    );
    assert!(text.contains("not finished: the input ended"), "{text}");
    let output = tool(
        dir,
        &["bring-up", "heron.toml", "--joint", "wing_left", "--overtravel", "3"],
        "",
    );
    assert_eq!(output.status.code(), Some(2));
    let output = tool(
        dir,
        &["bring-up", "heron.toml", "--joint", "wing_left", "--restart"],
        "no\n",
    );
    let text = String::from_utf8(output.stdout).unwrap();
    assert!(text.contains("declined before anything moved"), "{text}");
    assert_eq!(fs::read_to_string(dir.join("heron.toml")).unwrap(), ROBOT);
}

/// A bring-up as a person does it: each line is typed when its prompt stands there.
struct Typist {
    child: Child,
    input: std::process::ChildStdin,
    output: std::process::ChildStdout,
    text: String,
}

impl Typist {
    fn start(dir: &Path, args: &[&str]) -> Self {
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
    fn told(&mut self) -> Option<String> {
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

    fn type_line(&mut self, line: &str) {
        writeln!(self.input, "{line}").unwrap();
        self.text.push_str(line);
        self.text.push('\n');
    }

    /// What the joint at hand makes somebody type, up to this many prompts or to the end.
    fn answer(&mut self, bench: &mut Bench, most: usize) -> bool {
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
                _ => panic!("{last}"),
            };
            self.type_line(&line);
        }
        true
    }

    fn end(mut self) -> (Option<i32>, String) {
        while self.told().is_some() {}
        let status = self.child.wait().unwrap();
        (status.code(), self.text)
    }
}

#[test]
fn a_person_brings_a_joint_up_with_its_stops_by_typing_alone() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let mut bench = HEALTHY;
    let args = [&["bring-up", "heron.toml"], &NEW[..], &TIMER].concat();
    let mut typist = Typist::start(dir, &args);
    typist.answer(&mut bench, 12);
    // The end is asked for and not meant, then meant; nothing of it is lost.
    typist.told();
    typist.type_line("abort");
    assert!(typist.told().unwrap().contains("really end?"));
    typist.type_line("no");
    typist.told();
    typist.type_line("abort");
    typist.told();
    typist.type_line("yes");
    let (status, text) = typist.end();
    assert_eq!(status, Some(1), "{text}");
    for part in [
        "It is assumed that the servo stands at 90 deg (1500 us) and is free to move 6 deg to both sides. If not: answer no, then give \
         --start and --clearance.",
        "stays saved in heron.wing_left.bring-up.json: the same command goes on with it",
    ] {
        assert!(text.contains(part), "{part}\n{text}");
    }
    assert!(!dir.join("heron.toml").exists());

    let mut typist = Typist::start(dir, &args);
    assert!(!typist.answer(&mut bench, 500));
    let (status, text) = typist.end();
    assert_eq!(status, Some(0), "{text}");
    assert!(text.contains("going on with the bring-up saved"), "{text}");
    assert!(
        text.contains("stop, obstacle, drive-only, nothing, again> stop\n"),
        "{text}"
    );
    assert!(
        text.contains("lower: contact at") && text.contains("upper: contact at"),
        "{text}"
    );
    right(dir, "wing_left", &HEALTHY);
}

#[test]
fn an_interrupted_bring_up_says_that_it_is_saved() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    fs::write(dir.join("heron.toml"), ROBOT).unwrap();
    let mut child = Command::new(env!("CARGO_BIN_EXE_elbowroom"))
        .args(["bring-up", "heron.toml", "--joint", "wing_left"])
        .current_dir(dir)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut told = BufReader::new(child.stdout.take().unwrap());
    let mut line = String::new();
    while !line.contains("nobody within its reach") {
        line.clear();
        assert!(told.read_line(&mut line).unwrap() > 0);
    }
    // Held open, so that the input does not end first.
    let input = child.stdin.take();
    let killed = Command::new("kill").args(["-INT", &child.id().to_string()]).status();
    assert!(killed.unwrap().success());
    let output = child.wait_with_output().unwrap();
    drop(input);
    let err = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(130), "{err}");
    assert!(
        err.contains("saved in heron.wing_left.bring-up.json; the same command goes on with it"),
        "{err}"
    );
}

#[test]
fn commands_that_answer_wrongly_are_told_and_left() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    fs::write(dir.join("heron.toml"), ROBOT).unwrap();
    for (command, part) in [
        ("true", "ended (exit status: 0) before the bring-up did"),
        ("while read l; do echo nonsense; done", "is not understood"),
        (
            "while read l; do echo '{\"answer\":\"perhaps\"}'; done",
            "that is none of the answers",
        ),
        ("read l; echo '{\"error\":\"no port\"}'", "reports: no port"),
    ] {
        let (out, _) = run(
            dir,
            &["bring-up", "heron.toml", "--joint", "wing_left", "--through", command],
            1,
        );
        assert!(out.contains(part), "{command}\n{out}");
    }
    let found = json(
        dir,
        &["bring-up", "heron.toml", "--joint", "wing_left", "--through", "true"],
        1,
    );
    assert_eq!(found["finished"], false);
}

#[test]
fn the_examples_in_python_and_sh_bring_a_simulated_port_up() {
    let examples = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    let robot = ROBOT
        .replace("command = [0, 180]", "command = [-40, 60]")
        .replace("drive = [5, 80]", "drive = [37, 122]")
        .replace("rest = 90", "rest = 10");
    fs::write(dir.join("heron.toml"), &robot).unwrap();
    let python = format!("python3 {}/port.py simulated", examples.display());
    let (out, _) = run(
        dir,
        &["bring-up", "heron.toml", "--joint", "wing_left", "--through", &python],
        0,
    );
    assert!(out.contains("updated in heron.toml"), "{out}");
    assert!(
        out.contains("lower: contact at 38") || out.contains("lower: contact at 37"),
        "{out}"
    );

    fs::write(dir.join("heron.toml"), &robot).unwrap();
    let script = "#!/bin/sh\nawk -v p=\"$1\" 'BEGIN { a = (p - 500) * 0.09; if (a < 38) a = 38; if (a > 121) a = 121; printf \"%d\", (a - 79.5) / 0.85 + 110.5 }' > at\n";
    fs::write(dir.join("move"), script).unwrap();
    fs::write(dir.join("read"), "echo $(($(cat at) - 100))\n").unwrap();
    let sh = format!("ANSWER=1 sh {}/port.sh 'sh move' 'sh read'", examples.display());
    let (out, _) = run(
        dir,
        &["bring-up", "heron.toml", "--joint", "wing_left", "--through", &sh],
        0,
    );
    assert!(out.contains("updated in heron.toml"), "{out}");
}

#[test]
fn a_rehearsal_is_the_same_front_end_and_marks_what_it_writes() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    fs::write(dir.join("heron.toml"), ROBOT).unwrap();
    let (out, _) = run(dir, &["rehearse", "--bench", "--seed", "3"], 0);
    assert!(
        out.contains("caution:") && out.contains("us, counts ") && out.contains("true value"),
        "{out}"
    );
    run(dir, &["rehearse", "heron.toml", "--joint", "wing_left", "--bench"], 0);
    assert_eq!(fs::read_to_string(dir.join("heron.toml")).unwrap(), ROBOT);
    let (_, err) = run(
        dir,
        &["rehearse", "heron.toml", "--joint", "wing_left", "--bench", "--write"],
        2,
    );
    assert!(err.contains("--write"), "{err}");
    run(dir, &["rehearse", "heron.toml", "--joint", "wing_left", "--write"], 0);
    let file = fs::read_to_string(dir.join("heron.toml")).unwrap();
    assert!(file.contains("instrument = \"virtual joint\""), "{file}");
    let (out, _) = run(dir, &["check", "heron.toml"], 1);
    assert!(out.contains("error evidence-rehearsed"), "{out}");
    run(dir, &["firmware", "heron.toml"], 2);
    let (out, _) = run(dir, &["firmware", "heron.toml", "--despite", "a trial on the desk"], 0);
    assert!(
        out.contains("despite 1 error of the check: a trial on the desk"),
        "{out}"
    );
    assert!(
        fs::read_to_string(dir.join("heron_breast.h"))
            .unwrap()
            .contains("a trial on the desk")
    );
}

#[test]
fn edits_are_shown_and_keep_the_rest() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    fs::write(dir.join("heron.toml"), ROBOT).unwrap();
    let file = || fs::read_to_string(dir.join("heron.toml")).unwrap();
    let (out, _) = run(dir, &["edit", "heron.toml", "set", "wing_left.rest=80", "--dry-run"], 0);
    assert!(
        out.contains("  - rest = 90")
            && out.contains("  + rest = 80")
            && out.contains("nothing was written: --dry-run"),
        "{out}"
    );
    assert_eq!(file(), ROBOT);
    run(dir, &["edit", "heron.toml", "set", "wing_*.rest=80"], 0);
    assert_eq!(file(), ROBOT.replace("rest = 90", "rest = 80"));
    // No nearest word for what a test has to show.
    for sense in ["unknown", "oposing"] {
        let (_, err) = run(dir, &["edit", "heron.toml", "sense", "wing_left", sense], 2);
        assert!(err.contains("write one of opposing, aiding, undetermined"), "{err}");
    }
    let (out, _) = run(dir, &["edit", "heron.toml", "sense", "wing_left", "aiding"], 1);
    assert!(out.contains("error sense-aiding"), "{out}");
    run(dir, &["edit", "heron.toml", "sense", "wing_left", "opposing"], 0);
    run(
        dir,
        &[
            "edit",
            "heron.toml",
            "mirror",
            "wing_left",
            "wing_right",
            "--channel",
            "9",
        ],
        0,
    );
    let right = json(dir, &["show", "heron.toml", "wing_right"], 0);
    assert_eq!(right["joints"][0]["evidence"]["lower"]["kind"], "declared");
    assert_eq!(right["joints"][0]["evidence"]["sense"], Value::Null);
    run(dir, &["edit", "heron.toml", "rename", "wing_left", "wing_port"], 0);
    assert!(file().contains("[joint.wing_port]   # squeaks") && file().contains("mirror_of = \"wing_port\""));
    run(
        dir,
        &[
            "edit",
            "heron.toml",
            "waive",
            "sense-unproven",
            "--joint",
            "wing_right",
            "--reason",
            "no loop",
        ],
        0,
    );
    let (_, err) = run(
        dir,
        &["edit", "heron.toml", "waive", "sense-unprovn", "--reason", "x"],
        2,
    );
    assert!(err.contains("check --rules"), "{err}");
    let (_, err) = run(dir, &["edit", "heron.toml", "remove", "wing_right"], 2);
    assert!(err.contains("wing_right"), "{err}");
    run(dir, &["edit", "heron.toml", "unset", "check.waive"], 0);
    run(dir, &["edit", "heron.toml", "remove", "wing_right"], 0);
    assert!(!file().contains("wing_right"));
    // A servo line is corrected: the pulses stay.
    let pulse = |dir: &Path| {
        run(
            dir,
            &[
                "convert",
                "heron.toml",
                "wing_port",
                "--to",
                "pulse-us",
                "--",
                "0",
                "90",
                "180",
            ],
            0,
        )
        .0
    };
    let before = pulse(dir);
    let (out, _) = run(
        dir,
        &[
            "edit",
            "heron.toml",
            "set",
            "servo={ angle = [0, 120], pulse_us = [400, 2600] }",
        ],
        0,
    );
    assert!(out.contains("every command keeps its pulse"), "{out}");
    for (new, old) in pulse(dir).lines().zip(before.lines()) {
        let (new, old): (f64, f64) = (new.trim().parse().unwrap(), old.trim().parse().unwrap());
        assert!((new - old).abs() < 0.01, "{new} {old}");
    }
}

#[test]
fn the_only_robot_file_is_found_and_help_knows_every_key() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let (_, err) = run(dir, &["check"], 2);
    assert!(err.contains("this folder has none"), "{err}");
    fs::write(dir.join("Cargo.toml"), "[package]\nname = \"x\"\n").unwrap();
    fs::write(dir.join("heron.toml"), ROBOT).unwrap();
    run(dir, &["check"], 1);
    run(dir, &["show"], 0);
    let (out, _) = run(dir, &["show", "wing_left"], 0);
    assert!(out.contains("wing_left"), "{out}");
    run(dir, &["report"], 1);
    assert!(dir.join("heron.html").exists());
    fs::write(dir.join("crane.toml"), ROBOT).unwrap();
    let (_, err) = run(dir, &["show"], 2);
    assert!(err.contains("crane.toml, heron.toml: name one of them"), "{err}");

    // Errors are objects too, those of the command line as well.
    let misused = json(dir, &["check", "--nonsense"], 2);
    assert!(misused["error"]["message"].as_str().unwrap().contains("--nonsense"));
    let missing = json(dir, &["show", "gone.toml"], 2);
    assert_eq!(missing["error"]["file"], "gone.toml");

    // What the reader of files knows, the reference explains.
    let (reference, _) = run(dir, &["help", "file"], 0);
    let head = "format = 1\nservo = { angle = [0, 180], pulse_us = [500, 2500] }\ntimer = { frame_hz = 50, counts_per_frame = 4096 }\n";
    let joint = "[joint.w]\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\n";
    for text in [
        format!("{head}zzzzzzzz = 1\n"),
        format!("{head}{joint}zzzzzzzz = 1\n"),
        format!("{head}{joint}feedback = {{ zzzzzzzz = 1 }}\n"),
        format!("{head}{joint}[joint.w.evidence]\nzzzzzzzz = 1\n"),
        format!("{head}{joint}[joint.w.evidence]\nlower = {{ kind = \"clear\", at = 1, zzzzzzzz = 1 }}\n"),
        format!("{head}{joint}[joint.w.evidence]\nsource = {{ zzzzzzzz = 1 }}\n"),
        format!("{head}[check]\nzzzzzzzz = 1\n"),
        format!("{head}[board.b]\nzzzzzzzz = 1\n"),
    ] {
        fs::write(dir.join("key.toml"), &text).unwrap();
        let (_, err) = run(dir, &["check", "key.toml"], 2);
        let known = err
            .split("; write one of ")
            .nth(1)
            .unwrap_or_else(|| panic!("{text}\n{err}"));
        for key in known.trim().split(", ") {
            assert!(reference.contains(key), "help file does not explain {key}");
        }
    }
    let (measure, _) = run(dir, &["help", "measure"], 0);
    assert!(measure.contains("Keep a hand on the power switch"));
    for text in [&reference, &measure] {
        assert!(text.lines().all(|line| line.len() <= 80), "80 columns");
    }
    let (out, _) = run(dir, &["help", "edit", "mirror"], 0);
    assert!(out.contains("other side"), "{out}");
    run(dir, &["help", "nonsense"], 2);
}

#[test]
fn numbers_taken_for_granted_stand_in_the_file_until_confirmed() {
    let folder = common::folder();
    let dir = folder.path();
    let fit = ["fit", "readings.csv", "--into", "new.toml", "--joint", "wing", "--new"];
    run(dir, &fit, 0);
    let text = fs::read_to_string(dir.join("new.toml")).unwrap();
    assert_eq!(text.matches("assumed = true").count(), 2, "{text}");
    let (out, _) = run(dir, &["check", "new.toml"], 1);
    assert!(
        out.contains("numbers-assumed") && out.contains("the servo of 1 joint and the timer of 1 joint are assumed"),
        "{out}"
    );
    run(
        dir,
        &["edit", "new.toml", "set", "servo.assumed=false", "timer.frame_hz=50"],
        0,
    );
    let (out, _) = run(dir, &["check", "new.toml"], 1);
    assert!(!out.contains("numbers-assumed"), "{out}");
}

/// The beetle's job, invented: from one table of 18 joints to a checked file and its report.
#[test]
fn eighteen_joints_take_three_commands() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let mut table = String::from("joint,board,channel,max_rate_per_s,drive,measured,approach\n");
    for leg in 0..18 {
        let (side, sign) = if leg < 9 { ("left", 1.0) } else { ("right", -1.0) };
        for (way, lost) in [("below", -0.4), ("above", 0.4)] {
            // No reading stands on the upper stop alone.
            for place in 0..13 {
                let drive = 30.0 + 9.0 * f64::from(place);
                let angle = (sign * (drive - 88.0 - f64::from(leg) * 0.7 + lost)).clamp(-48.0, 50.0);
                let angle = (angle * 2.0).round() / 2.0;
                table.push_str(&format!(
                    "leg_{side}_{},{side},{},90,{drive},{angle},{way}\n",
                    leg % 9,
                    leg % 9
                ));
            }
        }
    }
    fs::write(dir.join("beetle.csv"), table).unwrap();
    run(
        dir,
        &["fit", "beetle.csv", "--each", "joint", "--into", "beetle.toml", "--new"],
        0,
    );
    let (out, _) = run(dir, &["check"], 0);
    assert!(
        out.contains("the servo of 18 joints and the timer of 18 joints are assumed"),
        "{out}"
    );
    run(dir, &["report"], 0);
    let shown = json(dir, &["show"], 0);
    assert_eq!(shown["joints"].as_array().unwrap().len(), 18);
}

#[test]
fn a_brought_up_joint_is_kept_when_told() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    brought_up(dir);
    let before = fs::read_to_string(dir.join("heron.toml")).unwrap();
    let drive = before
        .lines()
        .find(|line| line.starts_with("drive"))
        .unwrap()
        .to_owned();
    let mut horn = Bench {
        at_zero: HEALTHY.at_zero + 160.0,
        ..HEALTHY
    };
    let (status, text, _) = through(dir, &mut horn, &[&AGAIN[..], &["--keep"]].concat(), None);
    assert_eq!(status, Some(0), "{text}");
    assert!(text.contains("contradict") || text.contains("updated in"), "{text}");
    assert!(fs::read_to_string(dir.join("heron.toml")).unwrap().contains(&drive));
}
