//! What is written and cannot be: full devices, read-only files, vanished folders, kills, and two outputs in one place.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod common;

use common::{ROBOT, folder, run, sweep, tells, tool};
use std::collections::BTreeSet;
use std::fs;
use std::io::{Read as _, Write as _};
use std::os::unix::fs::PermissionsExt as _;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// Every command once, as it writes to standard output.
const COMMANDS: &[&[&str]] = &[
    &["fit", "readings.csv"],
    &["check", "heron.toml"],
    &["show", "heron.toml"],
    &["convert", "heron.toml", "wing_left", "10"],
    &["rehearse", "--seed", "1"],
    &["compare", "readings.csv", "readings.csv"],
    &["report", "heron.toml", "-o", "heron.html"],
    &["schema"],
    &["firmware", "heron.toml", "--board", "breast"],
    &["demo", "elsewhere"],
    &["completions", "bash"],
];

/// Every command that writes files, with what it writes. Another one of each finds the first's output there.
const WRITERS: &[(&[&str], &[&str])] = &[
    (
        &[
            "fit",
            "sweep.csv",
            "--into",
            "heron.toml",
            "--joint",
            "wing_left",
            "--adopt",
            "--date",
            "DAY",
        ],
        &["heron.toml"],
    ),
    (
        &["fit", "sweep.csv", "--into", "heron.toml", "--joint", "NEW", "--new"],
        &["heron.toml"],
    ),
    (
        &[
            "fit",
            "sweep.csv",
            "other.csv",
            "--into",
            "many.toml",
            "--new",
            "--date",
            "DAY",
        ],
        &["many.toml"],
    ),
    (
        &["compare", "sweep.csv", "sweep.csv", "--plot", "changes.svg"],
        &["changes.svg"],
    ),
    (&["fit", "sweep.csv", "--plot", "fit.svg"], &["fit.svg"]),
    (&["limits", "heron.toml", "--into", "heron.urdf"], &["heron.urdf"]),
    (
        &["demo", "elsewhere"],
        &[
            "elsewhere/elevons.toml",
            "elsewhere/elevon_left.svg",
            "elsewhere/elevons.html",
        ],
    ),
    (
        &["show", "heron.toml", "wing_left", "--plot", "chain.svg"],
        &["chain.svg"],
    ),
    (&["report", "heron.toml", "-o", "heron.html"], &["heron.html"]),
    (
        &["firmware", "heron.toml", "--board", "breast", "-o", "block"],
        &["block.bin", "block.h"],
    ),
    (
        &[
            "rehearse",
            "heron.toml",
            "--joint",
            "wing_left",
            "--write",
            "--seed",
            "SEED",
        ],
        &["heron.toml"],
    ),
];

fn prepared() -> tempfile::TempDir {
    let folder = folder();
    inputs(folder.path());
    folder
}

/// What the commands that write read, beside the robot file.
fn inputs(folder: &Path) {
    fs::write(
        folder.join("heron.toml"),
        ROBOT.replace("rest = 10", "unit = \"deg\"\nrest = 10"),
    )
    .unwrap();
    fs::write(folder.join("sweep.csv"), sweep(0.0)).unwrap();
    fs::write(folder.join("other.csv"), sweep(0.5)).unwrap();
    fs::write(folder.join("heron.urdf"), URDF).unwrap();
}

/// Invented data.
const URDF: &str = "<robot name=\"heron\">
  <joint name=\"wing_left\" type=\"revolute\"><limit lower=\"-1\" upper=\"1\" effort=\"1\" velocity=\"1\"/></joint>
</robot>
";

/// The words of a command in its n-th run.
fn words(command: &[&str], number: u64) -> Vec<String> {
    let word = |word: &&str| match *word {
        "NEW" => format!("new_{number}"),
        "SEED" => number.to_string(),
        // Each another, so that every run changes the file.
        "DAY" => format!("2026-11-{:02}", 1 + number % 28),
        word => word.to_owned(),
    };
    command.iter().map(word).collect()
}

fn start(folder: &Path, args: &[String]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_elbowroom"));
    command
        .args(args)
        .current_dir(folder)
        .stdin(Stdio::null())
        .stderr(Stdio::piped())
        .stdout(Stdio::piped());
    command
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_standard_output_is_exit_2_with_a_message() {
    let folder = prepared();
    let full = || fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    let (help, _) = run(folder.path(), &["--help"], 0);
    let listed: BTreeSet<&str> = help
        .split("Commands:")
        .nth(1)
        .unwrap()
        .lines()
        .skip(1)
        .take_while(|line| line.starts_with("  "))
        .filter_map(|line| line.split_whitespace().next())
        .filter(|name| *name != "help")
        .collect();
    assert!(listed.len() >= COMMANDS.len(), "{help}");
    let named: BTreeSet<&str> = COMMANDS.iter().map(|command| command[0]).collect();
    let mut all: Vec<Vec<String>> = COMMANDS.iter().map(|command| words(command, 0)).collect();
    // What has no line above yet prints its help at least.
    all.extend(
        listed
            .difference(&named)
            .map(|name| vec![(*name).to_owned(), "--help".to_owned()]),
    );
    all.extend([vec!["--help".to_owned()], vec!["--version".to_owned()]]);
    for json in [false, true] {
        for args in &all {
            let mut command = start(folder.path(), args);
            if json {
                command.arg("--json");
            }
            let output = command.stdout(full()).output().unwrap();
            let told = String::from_utf8(output.stderr).unwrap();
            assert_eq!(output.status.code(), Some(2), "{args:?}: {told}");
            assert!(
                told.contains("standard output cannot be written: no space left"),
                "{args:?}: {told}"
            );
        }
    }
    // From a pipe too.
    let mut child = start(folder.path(), &words(&["convert", "heron.toml", "wing_left"], 0))
        .stdin(Stdio::piped())
        .stdout(full())
        .spawn()
        .unwrap();
    let _ = child.stdin.take().unwrap().write_all(b"1 2 3\n");
    assert_eq!(child.wait().unwrap().code(), Some(2));
    // Who stops reading has what it wanted.
    let mut child = start(folder.path(), &words(&["schema"], 0)).spawn().unwrap();
    drop(child.stdout.take());
    assert_eq!(child.wait().unwrap().code(), Some(0));
}

#[test]
fn what_cannot_be_written_is_said_and_nothing_is_changed() {
    for (command, files) in WRITERS {
        let folder = prepared();
        let args = words(command, 1);
        let first = start(folder.path(), &args).output().unwrap();
        assert!(
            first.status.code() < Some(2),
            "{args:?}: {}",
            String::from_utf8_lossy(&first.stderr)
        );
        let args = words(command, 2);
        for file in *files {
            let path = folder.path().join(file);
            let before = fs::read(&path).unwrap();
            fs::set_permissions(&path, fs::Permissions::from_mode(0o444)).unwrap();
            let output = start(folder.path(), &args).output().unwrap();
            let told = String::from_utf8(output.stderr).unwrap();
            assert_eq!(output.status.code(), Some(2), "{args:?}: {told}");
            assert!(told.contains("it is read-only"), "{args:?}: {told}");
            assert_eq!(fs::read(&path).unwrap(), before);
            fs::set_permissions(&path, fs::Permissions::from_mode(0o644)).unwrap();
        }
        // The same into a folder that is not there (any more).
        let args: Vec<String> = args
            .iter()
            .map(|word| {
                if files.contains(&word.as_str()) || word == "block" {
                    format!("gone/{word}")
                } else if word == "elsewhere" {
                    // It makes its folder, but not within a file.
                    "sweep.csv/gone/elsewhere".to_owned()
                } else {
                    word.clone()
                }
            })
            .collect();
        let output = start(folder.path(), &args).output().unwrap();
        let told = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(2), "{args:?}: {told}");
        assert!(told.contains("gone/"), "{args:?}: {told}");
    }
}

#[test]
fn a_full_disk_is_said_and_nothing_is_changed() {
    for (command, files) in WRITERS {
        let folder = prepared();
        // Without the right to mount there is no small disk to fill.
        let mounted = Command::new("mount")
            .args(["-t", "tmpfs", "-o", "size=1m", "tmpfs"])
            .arg(folder.path())
            .stderr(Stdio::null())
            .status();
        if !mounted.is_ok_and(|status| status.success()) {
            println!("not tried: no right to mount a small disk");
            return;
        }
        inputs(folder.path());
        let first = start(folder.path(), &words(command, 1)).output().unwrap();
        assert!(
            first.status.code() < Some(2),
            "{command:?}: {}",
            String::from_utf8_lossy(&first.stderr)
        );
        let before: Vec<Vec<u8>> = files
            .iter()
            .map(|file| fs::read(folder.path().join(file)).unwrap())
            .collect();
        let mut filler = fs::File::create(folder.path().join("filler")).unwrap();
        while filler.write_all(&[0; 256]).is_ok() {}
        drop(filler);
        let output = start(folder.path(), &words(command, 2)).output().unwrap();
        let after: Vec<Vec<u8>> = files
            .iter()
            .map(|file| fs::read(folder.path().join(file)).unwrap())
            .collect();
        let told = String::from_utf8(output.stderr).unwrap();
        let names: Vec<String> = fs::read_dir(folder.path())
            .unwrap()
            .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
            .collect();
        assert!(Command::new("umount").arg(folder.path()).status().unwrap().success());
        assert_eq!(output.status.code(), Some(2), "{command:?}: {told}");
        assert!(told.contains("no space left"), "{command:?}: {told}");
        assert_eq!(after, before, "{command:?}");
        assert!(names.iter().all(|name| !name.starts_with('.')), "{names:?}");
    }
}

#[test]
fn joints_that_several_tools_add_at_once_are_all_there() {
    for (tools, each) in [(2, 40), (8, 10)] {
        let folder = prepared();
        let add = |name: &str| {
            let args = ["fit", "sweep.csv", "--into", "heron.toml", "--joint", name, "--new"];
            run(folder.path(), &args, 0);
        };
        std::thread::scope(|scope| {
            for tool in 0..tools {
                scope.spawn(move || (0..each).for_each(|number| add(&format!("tool_{tool}_{number}"))));
            }
        });
        let robot = elbowroom::robot::Robot::load(folder.path().join("heron.toml")).unwrap();
        // And the one that was there.
        assert_eq!(robot.joints().len(), tools * each + 1);
        println!("{tools} tools added {} joints, all there", tools * each);
    }
}

#[test]
fn two_outputs_with_one_name_are_refused() {
    let folder = prepared();
    fs::create_dir(folder.path().join("sub")).unwrap();
    let fit = common::words("fit sweep.csv --into new.svg --joint wing --new --plot sub/../new.svg");
    let (_, told) = run(folder.path(), &fit, 2);
    tells(&told, "--into and --plot name one file; give each its own");
    assert!(!folder.path().join("new.svg").exists());
    let (_, told) = run(folder.path(), &["report", "heron.toml", "-o", "heron.pdf"], 2);
    tells(
        &told,
        "heron.pdf: a report is a page of HTML; name it with the ending .html",
    );
    assert!(!folder.path().join("heron.pdf").exists());
    // What an output would replace is an input.
    let before = fs::read_to_string(folder.path().join("heron.toml")).unwrap();
    for (args, says) in [
        (
            &["show", "heron.toml", "wing_left", "--plot", "./heron.toml"][..],
            "a picture is written as SVG; name it with the ending .svg",
        ),
        (
            &["report", "heron.toml", "-o", "heron.toml"],
            "a report is a page of HTML",
        ),
    ] {
        let (_, told) = run(folder.path(), args, 2);
        tells(&told, says);
        assert_eq!(fs::read_to_string(folder.path().join("heron.toml")).unwrap(), before);
    }
}

#[test]
fn a_picture_is_named_as_what_it_is() {
    let folder = prepared();
    let left = || fs::read_dir(folder.path()).unwrap().count();
    let before = left();
    for name in ["a.png", "a.pdf", "a", "a.svg.png", ".svg"] {
        for line in [
            "fit sweep.csv --plot",
            "compare sweep.csv sweep.csv --plot",
            "bring-up heron.toml --joint wing_left --plot",
            "show heron.toml wing_left --plot",
            "show heron.toml wing_left --plot-readings",
            "show heron.toml wing_left --plot-history",
        ] {
            let (_, told) = run(folder.path(), &common::words(&format!("{line} {name}")), 2);
            tells(&told, &format!("'{name}'"));
            tells(&told, "a picture is written as SVG; name it with the ending .svg");
        }
    }
    assert_eq!(left(), before);
    run(folder.path(), &common::words("fit sweep.csv --plot a.SVG"), 0);
}

/// So many runs are killed for each command that writes; `KILLS=1000` by hand.
fn kills() -> u64 {
    std::env::var("KILLS")
        .ok()
        .and_then(|text| text.parse().ok())
        .unwrap_or(12)
}

/// The counts that a block and its header were made for: both change with the drive range.
fn generations(folder: &Path) -> Option<[bool; 2]> {
    let image = fs::read(folder.join("block.bin")).ok()?;
    let header = fs::read_to_string(folder.join("block.h")).ok()?;
    let bytes: String = image.iter().take(64).map(|byte| format!("0x{byte:02x}, ")).collect();
    let listed = header
        .replace('\n', " ")
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    Some([true, listed.contains(bytes.trim_end())])
}

#[test]
fn a_kill_leaves_old_or_new_and_never_both() {
    let mut state = 99u64;
    for (command, files) in WRITERS {
        let folder = prepared();
        let dir = folder.path();
        let (mut met, begin) = (0, Instant::now());
        assert!(start(dir, &words(command, 0)).output().unwrap().status.code() < Some(2));
        // Somewhere within what one run takes.
        let most = u64::try_from(begin.elapsed().as_micros()).unwrap().max(1);
        for number in 1..=kills() {
            if files.contains(&"block.h") {
                // Another generation.
                fs::write(
                    dir.join("heron.toml"),
                    ROBOT.replace("[37, 122]", &format!("[37, {}]", 100 + number % 40)),
                )
                .unwrap();
            }
            let mut child = start(dir, &words(command, number))
                .stdout(Stdio::null())
                .stderr(Stdio::null())
                .spawn()
                .unwrap();
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            std::thread::sleep(Duration::from_micros((state >> 33) % most));
            let _ = child.kill();
            met += u64::from(child.wait().unwrap().code().is_none());
            for file in *files {
                let Ok(bytes) = fs::read(dir.join(file)) else { continue };
                let whole = match Path::new(file).extension().and_then(|ending| ending.to_str()) {
                    Some("toml") => elbowroom::robot::Robot::load(dir.join(file)).is_ok(),
                    Some("svg") => bytes.ends_with(b"</svg>\n") || bytes.ends_with(b"</svg>"),
                    Some("urdf") => bytes.ends_with(b"</robot>\n"),
                    Some("html") => bytes.trim_ascii_end().ends_with(b"</html>"),
                    _ => true,
                };
                assert!(whole, "{command:?}: {file} is broken");
            }
            assert!(
                generations(dir).is_none_or(|[image, header]| image == header),
                "two generations beside each other"
            );
        }
        assert!(met > 0, "no run was killed");
        // One that is left alone finds nothing in its way, and leaves nothing behind.
        let output = start(dir, &words(command, 0)).output().unwrap();
        assert!(
            output.status.code() < Some(2),
            "{command:?}: {}",
            String::from_utf8_lossy(&output.stderr)
        );
        let left: Vec<String> = fs::read_dir(dir)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
            .filter(|name| name.ends_with(".part"))
            .collect();
        assert!(left.is_empty(), "{command:?}: {left:?}");
        println!("{}: {met} of {} runs killed before their end", command[0], kills());
    }
}

#[cfg(target_os = "linux")]
#[test]
fn values_are_converted_one_by_one_in_constant_memory() {
    let folder = prepared();
    for json in [false, true] {
        let mut args = words(&["convert", "heron.toml", "wing_left", "--from", "drive"], 0);
        if json {
            args.push("--json".to_owned());
        }
        let mut child = start(folder.path(), &args).stdin(Stdio::piped()).spawn().unwrap();
        let (mut input, mut output) = (child.stdin.take().unwrap(), child.stdout.take().unwrap());
        // The first is answered before there is a second.
        input.write_all(b"79.5\n").unwrap();
        let mut first = [0; 4096];
        let mut told = String::new();
        while !told.contains("79.5") {
            let read = output.read(&mut first).unwrap();
            told.push_str(std::str::from_utf8(&first[..read]).unwrap());
        }
        let drain = std::thread::spawn(move || {
            let mut text = String::new();
            output.read_to_string(&mut text).unwrap();
            text
        });
        let many = "41.25 42 43\n".repeat(1_000);
        for _ in 0..300 {
            input.write_all(many.as_bytes()).unwrap();
        }
        let status = fs::read_to_string(format!("/proc/{}/status", child.id())).unwrap();
        let peak = status.lines().find_map(|line| line.strip_prefix("VmHWM:")).unwrap();
        let peak: u64 = peak.trim().trim_end_matches("kB").trim().parse().unwrap();
        assert!(peak < 32_000, "{peak} kB for 900,000 values");
        drop(input);
        assert_eq!(child.wait().unwrap().code(), Some(0));
        let text = told + &drain.join().unwrap();
        if json {
            let object: serde_json::Value = serde_json::from_str(&text).unwrap();
            assert_eq!(object["values"].as_array().unwrap().len(), 900_001);
        } else {
            assert_eq!(text.lines().count(), 900_002);
        }
    }
    // A refused value: those before it are there, and the message names its place.
    let output = tool(
        folder.path(),
        &["convert", "heron.toml", "wing_left", "--to", "counts"],
        "-40 10 x",
    );
    assert_eq!(output.status.code(), Some(2));
    assert_eq!(String::from_utf8(output.stdout).unwrap(), "187\n283\n");
    assert!(
        String::from_utf8(output.stderr)
            .unwrap()
            .contains("value 3 (\"x\") is not a number")
    );
    let output = tool(
        folder.path(),
        &["convert", "heron.toml", "wing_left", "--json"],
        "-40 10 x",
    );
    let object: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(
        (output.status.code(), object["values"].as_array().unwrap().len()),
        (Some(2), 2)
    );
    assert!(object["error"]["message"].as_str().unwrap().contains("value 3"));
    let output = tool(
        folder.path(),
        &["convert", "heron.toml", "wing_left"],
        &"9".repeat(5_000),
    );
    assert!(
        String::from_utf8(output.stderr)
            .unwrap()
            .contains("value 1 is longer than any number")
    );
}

#[cfg(target_os = "linux")]
#[test]
fn a_table_of_a_million_rows_takes_less_than_eighty_bytes_a_row() {
    let folder = prepared();
    // Invented data: a sweep over both stops, the scatter from a small generator.
    let (rows, mut state) = (1_000_000_u32, 7_u64);
    let mut table = String::from("drive,measured\n");
    for row in 0..rows {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        let drive = 10.0 + 150.0 * f64::from(row) / f64::from(rows);
        let scatter = f64::from((state >> 33) as u32) / f64::from(u32::MAX) - 0.25;
        table += &format!("{drive:.4},{:.3}\n", 3.0 * drive.clamp(30.0, 140.0) - 100.0 + scatter);
    }
    fs::write(folder.path().join("long.csv"), table).unwrap();
    let program = env!("CARGO_BIN_EXE_elbowroom");
    let held_to = |kilobytes: u32| {
        let script = format!("ulimit -v {kilobytes}; exec '{program}' fit long.csv");
        Command::new("sh")
            .args(["-c", &script])
            .current_dir(folder.path())
            .output()
            .unwrap()
    };
    // What the program itself takes is not of the table.
    let output = held_to(40_000 + 80 * rows / 1000);
    assert_eq!(
        output.status.code(),
        Some(0),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    // The limit is one: with half of it the same ends.
    assert_ne!(held_to(20_000 + 40 * rows / 1000).status.code(), Some(0));
}
