//! Saving is all or nothing: a process killed at any moment leaves the old file or the new one, whole.
//!
//! The test binary starts itself as the process that saves; `kill -9` is what `Child::kill` sends on Unix.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

use elbowroom::robot::{EntryRecord, Robot, write_pair, write_whole};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

const SAVER: &str = "ELBOWROOM_TEST_SAVES_INTO";
/// So many processes are killed; each saves without end, so every kill meets a save.
const KILLS: u32 = 500;

/// Two versions that differ in size and all over, so that a mixture of them would be seen. Invented data.
fn version(number: u32) -> Robot {
    let mut text = String::from("format = 1\nservo = { angle = [0, 180], pulse_us = [500, 2500] }\n");
    text.push_str("timer = { frame_hz = 50, counts_per_frame = 4096 }\n");
    for joint in 0..(40 + 20 * number) {
        text.push_str(&format!(
            "\n[joint.j{joint}]  # version {number}\ncommand = [-40, {0}]\ndrive = [37, 122]\nrest = {number}\n",
            60 + number
        ));
    }
    Robot::parse(&text).unwrap()
}

/// The same text, read from nowhere: its save replaces what is there.
fn anew(robot: &Robot) -> Robot {
    Robot::parse(robot.to_toml()).unwrap()
}

/// Not a test of its own: what the killed processes run.
#[test]
fn saver() {
    let Ok(path) = std::env::var(SAVER) else {
        return;
    };
    let versions = [version(0), version(1)];
    for robot in versions.iter().cycle() {
        anew(robot).save(&path).unwrap();
    }
}

fn start_saver(path: &Path) -> Child {
    Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "saver"])
        .env(SAVER, path)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

fn file_in(folder: &tempfile::TempDir) -> PathBuf {
    folder.path().join("heron.toml")
}

#[test]
fn a_killed_save_leaves_the_old_file_or_the_new_one() {
    let folder = tempfile::tempdir().unwrap();
    let path = file_in(&folder);
    let texts = [version(0), version(1)].map(|robot| robot.to_toml().to_owned());
    version(0).save(&path).unwrap();
    let mut seen = [0u32; 2];
    // A small generator of our own: the moments need only be many and different.
    let mut state = 12_345u64;
    for _ in 0..KILLS {
        let mut child = start_saver(&path);
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        std::thread::sleep(Duration::from_micros(2_000 + (state >> 33) % 20_000));
        child.kill().unwrap();
        child.wait().unwrap();
        let text = std::fs::read_to_string(&path).unwrap();
        let which = texts.iter().position(|known| *known == text);
        assert!(which.is_some(), "neither old nor new, {} bytes", text.len());
        if let Some(count) = which.and_then(|which| seen.get_mut(which)) {
            *count += 1;
        }
    }
    assert!(
        seen.iter().all(|&count| count > KILLS / 20),
        "both versions were met: {seen:?}"
    );
    // A save that comes after all those killed ones is not disturbed by what they left.
    version(1).save(&path).unwrap();
    assert_eq!(std::fs::read_to_string(&path).unwrap(), *texts.last().unwrap());
    let left: Vec<_> = std::fs::read_dir(folder.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name())
        .collect();
    assert_eq!(left, ["heron.toml"], "and clears it away");
}

#[test]
fn a_save_clears_what_nobody_owns_and_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let path = file_in(&folder);
    let names = [
        ".heron.toml.1-0.part",
        ".heron.toml.4000000000-7.part",
        // Of somebody who is still at it: locked below.
        ".heron.toml.1-1.part",
        // Of other files, and files of the user's that look a little like ours.
        ".heron.1-0.part",
        ".heron.toml.toml.1-0.part",
        ".heron.toml.old.part",
        ".heron.toml.1-0.part.bak",
        ".heron.toml.-0.part",
        "heron.toml.1-0.part",
    ];
    names
        .iter()
        .for_each(|name| std::fs::write(folder.path().join(name), "mine").unwrap());
    let owned = std::fs::OpenOptions::new()
        .write(true)
        .open(folder.path().join(".heron.toml.1-1.part"))
        .unwrap();
    owned.lock().unwrap();
    let left = || -> Vec<&str> {
        names
            .iter()
            .copied()
            .filter(|name| folder.path().join(name).exists())
            .collect()
    };
    version(0).save(&path).unwrap();
    assert_eq!(left(), names.split_at(2).1);
    // Not only closed: a child that another test is just starting holds it too, until it runs its own program.
    owned.unlock().unwrap();
    version(1).save(&path).unwrap();
    assert_eq!(left(), names.split_at(3).1, "once its owner is gone");
}

#[test]
fn racing_saves_never_break_the_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = file_in(&folder);
    let versions = [version(0), version(1)];
    versions.first().unwrap().save(&path).unwrap();
    std::thread::scope(|scope| {
        for robot in &versions {
            let path = &path;
            scope.spawn(move || (0..100).for_each(|_| drop(anew(robot).save(path).unwrap())));
        }
        // And another process, whose neighbours look just like those of one that was killed.
        let mut other = start_saver(&path);
        for _ in 0..300 {
            let text = std::fs::read_to_string(&path).unwrap();
            assert!(
                versions.iter().any(|robot| robot.to_toml() == text),
                "{} bytes",
                text.len()
            );
        }
        other.kill().unwrap();
        other.wait().unwrap();
    });
    versions.first().unwrap().save(&path).unwrap();
    let left = std::fs::read_dir(folder.path()).unwrap().count();
    assert_eq!(left, 1, "nothing is left beside the file");
}

#[test]
fn a_save_keeps_permissions_and_follows_links_and_a_new_file_never_replaces() {
    let folder = tempfile::tempdir().unwrap();
    let path = file_in(&folder);
    version(0).save_new(&path).unwrap();
    assert!(version(1).save_new(&path).is_err());
    assert_eq!(std::fs::read_to_string(&path).unwrap(), version(0).to_toml());
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o640)).unwrap();
        let link = folder.path().join("link.toml");
        std::os::unix::fs::symlink(&path, &link).unwrap();
        version(1).save(&link).unwrap();
        assert!(std::fs::symlink_metadata(&link).unwrap().is_symlink());
        assert_eq!(std::fs::read_to_string(&path).unwrap(), version(1).to_toml());
        assert_eq!(std::fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o640);
    }
    let error = version(0).save(folder.path().join("no/such/folder.toml")).unwrap_err();
    assert!(error.to_string().contains("cannot be written"), "{error}");
}

const WRITER: &str = "ELBOWROOM_TEST_WRITES_INTO";
/// So many joints are added by each writer, each with a load, a put and a save of its own.
const ADDED: u32 = 25;

fn joint(name: &str, rest: f64) -> EntryRecord {
    let mut record = version(0).joint("j0").unwrap().record();
    record.name = name.to_owned();
    record.joint.rest = rest;
    record
}

/// So long each writer goes on at least; a minute by hand.
fn seconds() -> u64 {
    std::env::var("WRITERS_SECONDS")
        .ok()
        .and_then(|text| text.parse().ok())
        .unwrap_or(0)
}

/// Not a test of its own: what each of many writing processes runs.
#[test]
fn writer() {
    let Ok(path) = std::env::var(WRITER) else {
        return;
    };
    let (start, seconds) = (std::time::Instant::now(), seconds());
    for number in 0u32.. {
        if number >= ADDED && start.elapsed().as_secs() >= seconds {
            println!("updates: {number}.");
            return;
        }
        let mut robot = Robot::load(&path).unwrap();
        // A file does not grow without end: after the first round each joint is changed, and its last update must be there.
        let name = format!("w{}_{}", std::process::id(), number % ADDED);
        let there = robot.joint(&name).map(|entry| entry.joint().rest());
        assert_eq!(there, number.checked_sub(ADDED).map(rest_of));
        robot.put(&joint(&name, rest_of(number))).unwrap();
        robot.save(&path).unwrap();
    }
}

/// An update's number, as a rest within the joint's commands.
fn rest_of(number: u32) -> f64 {
    f64::from(number) / 1024.0
}

#[test]
fn no_update_of_two_or_eight_writers_is_lost() {
    for writers in [2, 8] {
        let folder = tempfile::tempdir().unwrap();
        let path = file_in(&folder);
        version(0).save(&path).unwrap();
        let start = || {
            Command::new(std::env::current_exe().unwrap())
                .args(["--exact", "writer", "--nocapture"])
                .env(WRITER, &path)
                .stdout(Stdio::piped())
                .spawn()
                .unwrap()
        };
        let children: Vec<Child> = (0..writers).map(|_| start()).collect();
        let (mut updates, mut ended) = (0, Vec::new());
        for child in children {
            let name = child.id();
            let output = child.wait_with_output().unwrap();
            assert!(output.status.success());
            let told = String::from_utf8(output.stdout).unwrap();
            let (_, rest) = told.split_once("updates: ").unwrap();
            let number: u32 = rest.split('.').next().unwrap().parse().unwrap();
            updates += number;
            ended.push((name, number));
        }
        let robot = Robot::load(&path).unwrap();
        for (name, number) in ended {
            for last in number - ADDED..number {
                let entry = robot.expect_joint(&format!("w{name}_{}", last % ADDED)).unwrap();
                assert_eq!(entry.joint().rest(), rest_of(last));
            }
        }
        let joints = version(0).joints().len() + (writers * ADDED) as usize;
        assert_eq!(robot.joints().len(), joints);
        let left = std::fs::read_dir(folder.path()).unwrap().count();
        assert_eq!(left, 1, "nothing is left beside the file");
        println!("{writers} writers, {updates} updates, all there");
    }
}

const TWO: &str = "# A heron.
format = 1
servo = { angle = [0, 180], pulse_us = [500, 2500] }
timer = { frame_hz = 50, counts_per_frame = 4096 }

[joint.wing]  # squeaks
command = [-40, 60]
drive = [37, 122]
rest = 10

# Replaced in spring.
[joint.neck]
command = [-40, 60]
drive = [37, 122]
rest = 0
[joint.neck.evidence]
readings = 42
";

/// The robot of `TWO` in a file that somebody has edited since it was read.
fn edited(folder: &tempfile::TempDir, from: &str, to: &str) -> (PathBuf, Robot) {
    let path = file_in(folder);
    std::fs::write(&path, TWO).unwrap();
    let robot = Robot::load(&path).unwrap();
    assert!(TWO.contains(from));
    std::fs::write(&path, TWO.replace(from, to)).unwrap();
    (path, robot)
}

#[test]
fn what_an_editor_changed_meanwhile_stays_beside_what_is_saved() {
    let wing = "[joint.wing]  # squeaks\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = ";
    let crest = "\n[joint.crest]\ncommand = [0, 1]\ndrive = [0, 90]\nrest = 0.5\n";
    // What was changed in the editor, and what the save found changed.
    for (from, to, merged) in [
        ("rest = 0\n", "rest = 5 # by hand\n", &["neck"][..]),
        ("# Replaced in spring.", "# Replaced in autumn.", &["neck"]),
        ("# A heron.", "# Another heron.", &[]),
        (
            "readings = 42\n",
            &format!("readings = 42\n{crest}# the end\n"),
            &["crest"],
        ),
        ("timer", "board.b = { channels = 16 }\ntimer", &[]),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let (path, mut robot) = edited(&folder, from, to);
        let mut record = robot.joint("wing").unwrap().record();
        record.joint.rest = 12.0;
        robot.put(&record).unwrap();
        robot.put(&joint("tail", 3.0)).unwrap();
        assert_eq!(robot.save(&path).unwrap().merged, merged, "{to}");
        let text = std::fs::read_to_string(&path).unwrap();
        assert!(text.contains(&format!("{wing}12\n")), "{text}");
        assert!(to.lines().all(|line| text.contains(line)), "{text}");
        let there = Robot::load(&path).unwrap();
        assert_eq!(there.joint("tail").unwrap().joint().rest(), 3.0);
        assert_eq!(there.joint("neck").unwrap().evidence().readings, Some(42));
        // Saved again, by the same robot: its own first save is nobody else's change.
        record.joint.rest = 13.0;
        robot.put(&record).unwrap();
        robot.remove("tail").unwrap();
        robot.save(&path).unwrap();
        let there = Robot::load(&path).unwrap();
        assert_eq!(
            (there.joint("wing").unwrap().joint().rest(), there.joint("tail")),
            (13.0, None)
        );
        assert!(to.lines().all(|line| there.to_toml().contains(line)));
    }
}

#[test]
fn a_change_of_the_same_thing_is_refused_with_what_changed() {
    for (from, to, what) in [
        (
            "rest = 10",
            "rest = 11",
            "joint wing was changed both in the file and by this save",
        ),
        (
            "# squeaks",
            "# still squeaks",
            "joint wing was changed both in the file and by this save",
        ),
        ("[0, 180]", "[0, 170]", "joint wing would change its meaning"),
        ("format = 1", "format = 1 =", "it is refused now (line 2"),
        ("rest = 0\n", "rest = 99\n", "it is refused now (line 15"),
        (
            &TWO[TWO.find("[joint.wing]").unwrap()..TWO.find("# Replaced").unwrap()],
            "",
            "joint wing was removed from the file",
        ),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let (path, mut robot) = edited(&folder, from, to);
        let there = std::fs::read(&path).unwrap();
        let mut record = robot.joint("wing").unwrap().record();
        record.joint.rest = 12.0;
        robot.put(&record).unwrap();
        let error = robot.save(&path).unwrap_err();
        assert_eq!(error.code(), elbowroom::Code::FileChanged);
        assert!(error.to_string().contains(what), "{error}");
        assert!(
            error
                .to_string()
                .contains("heron.toml: the file was changed since it was read"),
            "{error}"
        );
        assert_eq!(std::fs::read(&path).unwrap(), there, "nothing is written");
    }
    // A file that is gone holds nothing to lose, and another file is another file.
    let folder = tempfile::tempdir().unwrap();
    let (path, robot) = edited(&folder, "rest = 10", "rest = 11");
    robot.save(folder.path().join("other.toml")).unwrap();
    std::fs::remove_file(&path).unwrap();
    robot.save(&path).unwrap();
    assert_eq!(std::fs::read_to_string(&path).unwrap(), TWO);
}

#[test]
fn a_save_that_meets_a_lock_waits_and_then_names_it() {
    let folder = tempfile::tempdir().unwrap();
    let path = file_in(&folder);
    version(0).save(&path).unwrap();
    let lock = folder.path().join(".heron.toml.lock");
    let held = std::fs::File::create(&lock).unwrap();
    held.lock().unwrap();
    let error = version(1).save(&path).unwrap_err();
    let text = error.to_string();
    assert!(
        text.contains(".heron.toml.lock for 10 s; wait for its end or stop it"),
        "{text}"
    );
    assert_eq!(std::fs::read_to_string(&path).unwrap(), version(0).to_toml());
    held.unlock().unwrap();
    version(1).save(&path).unwrap();
    assert!(!cfg!(unix) || !lock.exists());
}

#[test]
fn a_save_keeps_line_ends() {
    let folder = tempfile::tempdir().unwrap();
    let path = file_in(&folder);
    let text = TWO.replace('\n', "\r\n");
    std::fs::write(&path, &text).unwrap();
    let mut robot = Robot::load(&path).unwrap();
    let mut record = robot.joint("wing").unwrap().record();
    record.joint.rest = 12.0;
    record.joint.travel = Some([40.0, 100.0]);
    robot.put(&record).unwrap();
    // And with another's change in it.
    std::fs::write(&path, text.replace("rest = 0\r", "rest = 1\r")).unwrap();
    robot.save(&path).unwrap();
    let expected = text
        .replace("rest = 0\r", "rest = 1\r")
        .replace("rest = 10\r\n", "rest = 12\r\ntravel = [40, 100]\r\n");
    assert_eq!(std::fs::read_to_string(&path).unwrap(), expected);
}

#[cfg(unix)]
#[test]
fn what_a_save_cannot_keep_it_refuses() {
    use std::os::unix::fs::{MetadataExt as _, PermissionsExt as _, chown, symlink};
    let folder = tempfile::tempdir().unwrap();
    let path = file_in(&folder);
    version(0).save(&path).unwrap();
    let refused = |why: &str| {
        for error in [
            version(1).save(&path).unwrap_err().to_string(),
            write_whole(&path, b"new").unwrap_err().to_string(),
        ] {
            assert!(error.contains(why), "{error}");
        }
        assert_eq!(std::fs::read_to_string(&path).unwrap(), version(0).to_toml());
        assert!(
            std::fs::read_dir(folder.path()).unwrap().all(|entry| !entry
                .unwrap()
                .file_name()
                .to_string_lossy()
                .starts_with('.'))
        );
    };
    let mode = |mode| std::fs::set_permissions(&path, std::fs::Permissions::from_mode(mode)).unwrap();
    mode(0o444);
    refused("it is read-only");
    mode(0o644);
    let second = folder.path().join("second.toml");
    std::fs::hard_link(&path, &second).unwrap();
    refused("it has 2 hard links");
    std::fs::remove_file(&second).unwrap();
    // A link to what does not exist yet makes that, also through a second link and a folder.
    std::fs::create_dir(folder.path().join("sub")).unwrap();
    symlink("sub/target.toml", folder.path().join("first")).unwrap();
    symlink("first", folder.path().join("link")).unwrap();
    version(1).save(folder.path().join("link")).unwrap();
    assert!(folder.path().join("link").is_symlink() && folder.path().join("first").is_symlink());
    assert_eq!(
        std::fs::read_to_string(folder.path().join("sub/target.toml")).unwrap(),
        version(1).to_toml()
    );
    symlink("circle", folder.path().join("circle")).unwrap();
    assert!(version(1).save(folder.path().join("circle")).is_err());
    // Only who may give files away keeps another's.
    if chown(&path, Some(1234), Some(2345)).is_ok() {
        version(1).save(&path).unwrap();
        let there = std::fs::metadata(&path).unwrap();
        assert_eq!((there.uid(), there.gid(), there.mode() & 0o777), (1234, 2345, 0o644));
        let pair = ["block.bin", "block.h"].map(|name| folder.path().join(name));
        for path in &pair {
            std::fs::write(path, "old").unwrap();
            chown(path, Some(1234), Some(2345)).unwrap();
        }
        write_pair((&pair[0], b"new"), (&pair[1], b"new")).unwrap();
        for path in &pair {
            let there = std::fs::metadata(path).unwrap();
            assert_eq!((there.uid(), there.gid()), (1234, 2345), "{}", path.display());
        }
    }
}

#[test]
fn a_pair_is_of_one_generation_or_incomplete() {
    let folder = tempfile::tempdir().unwrap();
    let [one, two] = ["block.bin", "block.h"].map(|name| folder.path().join(name));
    for generation in [&b"old"[..], b"new"] {
        write_pair((&one, generation), (&two, generation)).unwrap();
        assert_eq!(
            [std::fs::read(&one).unwrap(), std::fs::read(&two).unwrap()],
            [generation, generation]
        );
    }
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 2);
    let same = folder
        .path()
        .join("../")
        .join(folder.path().file_name().unwrap())
        .join("block.bin");
    assert!(
        write_pair((&one, b"x"), (&same, b"y"))
            .unwrap_err()
            .to_string()
            .contains("one name")
    );
    // Refused before anything is changed.
    std::fs::remove_file(&two).unwrap();
    std::fs::create_dir(&two).unwrap();
    assert!(write_pair((&one, b"x"), (&two, b"x")).is_err());
    assert_eq!(std::fs::read(&one).unwrap(), b"new");
}

#[test]
fn what_stands_beside_a_robot_file_is_written_whole_too() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("heron.html");
    // Bytes, not only text.
    for bytes in [&b"old"[..], b"\xff\x00new", b""] {
        write_whole(&path, bytes).unwrap();
        assert_eq!(std::fs::read(&path).unwrap(), bytes);
    }
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    assert!(write_whole(folder.path().join("no/such.html"), b"").is_err());
    assert!(write_whole(folder.path(), b"").is_err(), "a folder is no file");
    #[cfg(unix)]
    {
        use std::os::unix::fs::FileTypeExt as _;
        let pipe = folder.path().join("pipe");
        assert!(
            std::process::Command::new("mkfifo")
                .arg(&pipe)
                .status()
                .unwrap()
                .success()
        );
        let reader = std::thread::spawn({
            let pipe = pipe.clone();
            move || std::fs::read(pipe).unwrap()
        });
        write_whole(&pipe, b"through").unwrap();
        assert_eq!(reader.join().unwrap(), b"through");
        assert!(
            std::fs::metadata(&pipe).unwrap().file_type().is_fifo(),
            "a pipe stays one"
        );
    }
}
