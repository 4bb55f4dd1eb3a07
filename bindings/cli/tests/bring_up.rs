//! The front end of a bring-up: a person who types, a command that answers, a virtual joint.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod common;

use common::bench::{HEALTHY, NEW, TIMER, Typist, right, through};
use common::{ROBOT, json, run, tells, tells_all, tool};
use std::fs;
use std::io::{BufRead as _, BufReader};
use std::path::Path;
use std::process::{Command, Stdio};

#[test]
fn a_person_types_takes_back_and_leaves() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    fs::write(dir.join("heron.toml"), ROBOT).unwrap();
    let bring_up = ["bring-up", "heron.toml", "--joint", "wing_left", "--clearance", "6"];
    let output = tool(dir, &bring_up, "maybe\n?\ndone\n\n\nten\n90\n\nundo\n\n\n91\nquit\n");
    let text = String::from_utf8(output.stdout).unwrap();
    assert_eq!(output.status.code(), Some(1), "{text}");
    tells_all(
        &text,
        &[
            "caution: keep everybody's hands out of the joint",
            "that is not one of the answers; type one of: done or no",
            "send drive ",
            "us, counts ",
            "no faster than 20 deg/s",
            "taken back: the last answer",
            "not finished: left by quit",
            "the same command continues it",
        ],
    );
    assert_eq!(fs::read_to_string(dir.join("heron.toml")).unwrap(), ROBOT);
    let output = tool(dir, &["bring-up", "heron.toml", "--joint", "wing_left"], "");
    let text = String::from_utf8(output.stdout).unwrap();
    assert!(
        text.contains("1 reading so far") || text.contains("2 readings so far"),
        "{text}"
    );
    tells(&text, "not finished: the input ended");
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
    tells_all(
        &text,
        &[
            "declined before anything moved",
            "nothing was written; no reading was taken",
        ],
    );
    assert!(!text.contains("readings/") && !dir.join("readings").exists(), "{text}");
    assert_eq!(fs::read_to_string(dir.join("heron.toml")).unwrap(), ROBOT);
}

#[test]
fn a_scale_in_deg_gives_commands_in_the_unit_asked_for() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let args = |unit| {
        let of_commands = ["--command=-40,60", "--rest", "10"];
        let new = NEW.iter().copied().filter(|word| !of_commands.contains(word));
        new.chain(TIMER).chain(["--unit", unit]).collect::<Vec<_>>()
    };
    let (status, text, _) = through(dir, &mut HEALTHY.clone(), &args("rad"), None);
    assert_eq!(status, Some(0), "{text}");
    let (out, _) = run(dir, &["--json", "show", "heron.toml"], 0);
    let shown: serde_json::Value = serde_json::from_str(&out).unwrap();
    let joint = &shown["joints"][0];
    let [lower, upper] = [0, 1].map(|end| joint["command"][end].as_f64().unwrap().to_degrees());
    assert!(
        joint["unit"] == "rad" && (-46.0..-40.0).contains(&lower) && (60.0..66.0).contains(&upper),
        "{joint}"
    );
    fs::remove_file(dir.join("heron.toml")).unwrap();
    let (status, text, _) = through(dir, &mut HEALTHY.clone(), &args("mm"), None);
    assert_eq!(status, Some(2), "{text}");
    tells(&text, "the measured values are in deg and --unit is mm");
    tells(&text, "the bring-up stays saved");
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
    assert!(typist.told().unwrap().contains("End the bring-up?"));
    typist.type_line("no");
    typist.told();
    typist.type_line("abort");
    typist.told();
    typist.type_line("yes");
    let (status, text) = typist.end();
    assert_eq!(status, Some(1), "{text}");
    for part in [
        "It is assumed that the servo stands at 90 deg (1500 us) and is free to move 6 deg to both sides; the first moves go from 79 to \
         101 deg. If not: answer no, then give --start and --clearance.",
        "stays saved in heron.wing_left.bring-up.json: the same command continues it",
    ] {
        tells(&text, part);
    }
    assert!(!dir.join("heron.toml").exists());

    let mut typist = Typist::start(dir, &args);
    assert!(!typist.answer(&mut bench, 500));
    let (status, text) = typist.end();
    assert_eq!(status, Some(0), "{text}");
    tells(&text, "continuing the bring-up saved");
    tells(&text, "stop, obstacle, drive-only, nothing, again> stop\n");
    tells_all(&text, &["lower: contact at", "upper: contact at"]);
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
    tells(
        &err,
        "saved in heron.wing_left.bring-up.json; the same command continues it",
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
            "that is not one of the answers",
        ),
        ("read l; echo '{\"error\":\"no port\"}'", "reports: no port"),
    ] {
        let (out, _) = run(
            dir,
            &["bring-up", "heron.toml", "--joint", "wing_left", "--through", command],
            1,
        );
        tells(&out, part);
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
    let robot = ROBOT;
    fs::write(dir.join("heron.toml"), robot).unwrap();
    let python = format!("python3 {}/port.py simulated", examples.display());
    let (out, _) = run(
        dir,
        &["bring-up", "heron.toml", "--joint", "wing_left", "--through", &python],
        0,
    );
    tells(&out, "updated in heron.toml");
    assert!(
        out.contains("lower: contact at 38") || out.contains("lower: contact at 37"),
        "{out}"
    );

    fs::write(dir.join("heron.toml"), robot).unwrap();
    let script = "#!/bin/sh\nawk -v p=\"$1\" 'BEGIN { a = (p - 500) * 0.09; if (a < 38) a = 38; if (a > 121) a = 121; printf \"%d\", (a - 79.5) / 0.85 + 110.5 }' > at\n";
    fs::write(dir.join("move"), script).unwrap();
    fs::write(dir.join("read"), "echo $(($(cat at) - 100))\n").unwrap();
    let sh = format!("ANSWER=1 sh {}/port.sh 'sh move' 'sh read'", examples.display());
    let (out, _) = run(
        dir,
        &["bring-up", "heron.toml", "--joint", "wing_left", "--through", &sh],
        0,
    );
    tells(&out, "updated in heron.toml");
}

/// What a line of a bring-up is: of whom it tells does not matter.
fn kinds(text: &str) -> Vec<&'static str> {
    let mut kinds: Vec<&'static str> = text
        .lines()
        .filter_map(|line| {
            [
                "  caution: ",
                "  drive ",
                "    reads ",
                "    answer ",
                "reading ",
                "drive angle, deg; + from below, - from above",
                "ready: the joint is ready for software within its travel",
                "lower: contact at ",
                "upper: contact at ",
            ]
            .into_iter()
            .find(|kind| line.starts_with(kind))
        })
        .collect();
    kinds.sort_unstable();
    kinds.dedup();
    kinds
}

#[test]
fn bring_up_and_rehearse_show_the_same_lines_in_both_modes() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let robot = ROBOT;
    let port = format!("python3 {}/examples/port.py", env!("CARGO_MANIFEST_DIR"));
    let mut seen = Vec::new();
    for mode in [&[][..], &["--sweep"]] {
        fs::write(dir.join("heron.toml"), robot).unwrap();
        let joint = ["heron.toml", "--joint", "wing_left"];
        let (out, _) = run(dir, &[&["rehearse"], &joint[..], mode].concat(), 0);
        seen.push(kinds(&out));
        let simulated = format!(
            "{port} {}",
            if mode.is_empty() {
                "simulated"
            } else {
                "simulated-sensor"
            }
        );
        let through = ["--through", &simulated];
        let (out, _) = run(dir, &[&["bring-up"], &joint[..], &through, mode].concat(), 0);
        seen.push(kinds(&out));
        // What is told is what is written.
        let found = json(dir, &["show", "heron.toml", "wing_left"], 0);
        let travel = found["joints"][0]["travel"].as_array().unwrap();
        let [lower, upper] = [0, 1].map(|end| (travel[end].as_f64().unwrap() * 100.0).round() / 100.0);
        assert!(
            out.contains(&format!("travel to {lower} deg")) && out.contains(&format!("travel to {upper} deg")),
            "{travel:?}\n{out}"
        );
    }
    assert_eq!(seen[0].len(), 9, "{seen:?}");
    assert!(seen.iter().all(|kinds| *kinds == seen[0]), "{seen:?}");
    // A sweep is not gone on with as typed readings, nor the other way.
    let left = ["bring-up", "heron.toml", "--joint", "wing_left", "--through", "true"];
    run(dir, &[&left[..], &["--sweep"]].concat(), 1);
    let (_, err) = run(dir, &left, 2);
    tells(&err, "a bring-up with --sweep, and this one is with typed readings");
    let (_, err) = run(dir, &["bring-up", "heron.toml", "--joint", "wing_left", "--sweep"], 2);
    tells(&err, "--through");
}

#[test]
fn a_sweep_is_taken_back_left_and_gone_on_with() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let robot = ROBOT;
    fs::write(dir.join("heron.toml"), robot).unwrap();
    let port = format!("{}/examples/port.py", env!("CARGO_MANIFEST_DIR"));
    let all = ["bring-up", "heron.toml", "--joint", "wing_left", "--sweep", "--through"];
    // It takes the first question back once, and the next is gone after four hundred steps.
    let undo = "n=0; while IFS= read -r step; do n=$((n+1)); case $n in 2) echo '{\"undo\":true}' ;; 5) exit ;; \
                *) echo '{\"answer\":\"done\"}' ;; esac; done";
    let (out, _) = run(dir, &[&all[..], &[undo]].concat(), 1);
    tells(&out, "taken back: the last answer");
    assert_eq!(out.matches("is the joint free to move").count(), 2, "{out}");
    fs::remove_file(dir.join("heron.wing_left.bring-up.json")).unwrap();

    let short = format!(
        "n=0; while [ $n -lt 400 ] && IFS= read -r step; do printf '%s\\n' \"$step\"; n=$((n+1)); done | \
         python3 {port} simulated-sensor"
    );
    let (out, _) = run(dir, &[&all[..], &[short.as_str()]].concat(), 1);
    tells_all(&out, &["not finished", "is saved in"]);
    assert_eq!(fs::read_to_string(dir.join("heron.toml")).unwrap(), robot);
    let whole = format!("python3 {port} simulated-sensor");
    let (out, _) = run(dir, &[&all[..], &[whole.as_str()]].concat(), 0);
    tells(&out, "continuing the bring-up saved");
    // The sense test was done.
    assert!(!out.contains("turn the sensor by hand"), "{out}");
    tells(&out, "updated in heron.toml");
}

#[test]
fn somebody_rehearses_by_hand_with_all_commands_of_a_bring_up() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let args = ["rehearse", "--by-hand", "--seed", "3"];
    let text = |input: &str, status: i32| {
        let output = tool(dir, &args, input);
        let text = String::from_utf8(output.stdout).unwrap();
        assert_eq!(output.status.code(), Some(status), "{text}");
        text
    };
    let out = text("?\ndone\n\nundo\nquit\n", 1);
    tells_all(
        &out,
        &[
            "takes the last answer back",
            "send drive ",
            "taken back: the last answer",
            "not finished: left by quit; a rehearsal is not saved",
        ],
    );
    assert!(text("done\n\nabort\nyes\n", 1).contains("stopped; the joint is not ready"));
    // Whoever types what is shown gets through.
    let mut typist = Typist::start(dir, &args);
    let mut shown = String::new();
    while let Some(told) = typist.told() {
        let seen = told
            .split("the scale shows ")
            .nth(1)
            .map(|rest| rest.split(')').next().unwrap());
        let line = match told.lines().last().unwrap() {
            last if last.contains("press Enter") => "",
            last if last.contains("reading, or again") => seen.unwrap(),
            last if last.contains("stop, obstacle") => "stop",
            _ => "done",
        };
        typist.type_line(line);
        shown.push_str(&told);
    }
    let (status, text) = typist.end();
    assert_eq!(status, Some(0), "{text}");
    tells(&shown, "(seen at the virtual joint: its mechanical stop)");
    tells(&text, "true value");
}

#[test]
fn a_rehearsal_marks_what_it_writes_and_writes_only_by_its_word() {
    for mode in [&[][..], &["--sweep"]] {
        let dir = tempfile::tempdir().unwrap();
        let dir = dir.path();
        fs::write(dir.join("heron.toml"), ROBOT).unwrap();
        let joint = [&["rehearse", "heron.toml", "--joint", "wing_left"], mode].concat();
        run(dir, &joint, 0);
        assert_eq!(fs::read_to_string(dir.join("heron.toml")).unwrap(), ROBOT);
        assert_eq!(fs::read_dir(dir).unwrap().count(), 1, "nothing else is written");
        run(dir, &[&joint[..], &["--write"]].concat(), 0);
        let file = fs::read_to_string(dir.join("heron.toml")).unwrap();
        tells(&file, "instrument = \"virtual joint\"");
        let (out, _) = run(dir, &["check", "heron.toml"], 1);
        tells(&out, "error evidence-rehearsed");
        run(dir, &["firmware", "heron.toml"], 2);
        let (out, _) = run(dir, &["firmware", "heron.toml", "--despite", "a trial on the desk"], 0);
        tells(&out, "despite 1 error of the check: a trial on the desk");
        assert!(
            fs::read_to_string(dir.join("heron_breast.h"))
                .unwrap()
                .contains("a trial on the desk")
        );
    }
}

#[test]
fn a_fault_that_typed_readings_do_not_show_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let slipped = ["rehearse", "--fault", "horn-slipped", "--seed", "7"];
    let (out, _) = run(folder.path(), &slipped, 0);
    tells_all(&out, &["horn-slipped was not found", "--sweep"]);
    let (out, _) = run(folder.path(), &[&slipped[..], &["--sweep"]].concat(), 1);
    tells_all(&out, &["\nhorn-slipped: ", " teeth"]);
}

#[test]
fn rehearse_tells_the_run_and_writes_only_when_asked() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("heron.toml");
    fs::write(&path, ROBOT).unwrap();
    let sweep = ["rehearse", "heron.toml", "--joint", "wing_left", "--sweep"];
    let (out, _) = run(folder.path(), &sweep, 0);
    tells_all(
        &out,
        &[
            "caution: keep a hand on the power switch",
            "first move",
            "search",
            "sweep",
            "ready for software",
        ],
    );
    assert_eq!(fs::read_to_string(&path).unwrap(), ROBOT);

    let again = run(folder.path(), &sweep, 0).0;
    assert_eq!(again, out, "the same seed tells the same");

    run(
        folder.path(),
        &["rehearse", "heron.toml", "--joint", "wing_left", "--write"],
        0,
    );
    let written = fs::read_to_string(&path).unwrap();
    tells_all(&written, &["kind = \"contact\"", "# squeaks"]);

    let found = json(
        folder.path(),
        &["rehearse", "--fault", "channel-swapped", "--seed", "3"],
        1,
    );
    assert_eq!(found["outcome"]["verdict"]["faulty"]["fault"], "channel-swapped");
    let (_, err) = run(folder.path(), &["rehearse", "--fault", "rust"], 2);
    tells(&err, "give one of wires-swapped");
}

#[test]
fn rehearse_makes_the_alignment_when_asked() {
    let folder = tempfile::tempdir().unwrap();
    let sensor = ["rehearse", "--sweep", "--fault", "sensor-runs-out", "--seed", "5"];
    let found = json(folder.path(), &sensor, 1);
    assert_eq!(found["outcome"]["verdict"]["faulty"]["fault"], "sensor-runs-out");
    assert!(found["outcome"]["alignment"].is_null());

    let set = [&sensor[..], &["--alignment"]].concat();
    let (out, _) = run(folder.path(), &set, 0);
    tells_all(
        &out,
        &[
            "answer 103.3 deg",
            "repeat this until the sensor reads 721",
            "alignment: set at joint angle 103.3 deg: reads 721, 76.7 and 76.8 deg spare beyond the stops",
            "ready for software",
        ],
    );
    let picture: Vec<&str> = out.lines().skip_while(|line| !line.starts_with("reading ")).collect();
    assert!(
        picture[17].trim_start().starts_with("31.3"),
        "readings of a held joint have no drive angle: {out}"
    );
    let found = json(folder.path(), &set, 0);
    assert_eq!(found["outcome"]["alignment"]["set"]["settings"], 1);

    // More margin than the sensor has.
    let short = json(
        folder.path(),
        &["rehearse", "--sweep", "--alignment", "--margin", "200"],
        1,
    );
    assert!(short["outcome"]["alignment"]["too-short"]["spare"].as_f64().unwrap() < 200.0);
    assert!(short["travel"].is_null());
    let (_, err) = run(folder.path(), &["rehearse", "--sweep", "--margin", "3"], 2);
    tells(&err, "--alignment");
    let (_, err) = run(
        folder.path(),
        &["rehearse", "--sweep", "--alignment", "--margin", "nan"],
        2,
    );
    tells(&err, "margin is not a number; give a finite number");
}
