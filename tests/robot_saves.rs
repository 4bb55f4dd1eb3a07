//! Saving is all or nothing: a process killed at any moment leaves the old file or the new one, whole.
//!
//! The test binary starts itself as the process that saves; `kill -9` is what `Child::kill` sends on Unix.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

use elbowroom::robot::{Robot, write_whole};
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
            "\n[joint.j{joint}]  # version {number}\ncommand = [0, {0}]\ndrive = [5, 80]\nrest = {number}\n",
            180 + number
        ));
    }
    Robot::parse(&text).unwrap()
}

/// Not a test of its own: what the killed processes run.
#[test]
fn saver() {
    let Ok(path) = std::env::var(SAVER) else {
        return;
    };
    let versions = [version(0), version(1)];
    for robot in versions.iter().cycle() {
        robot.save(&path).unwrap();
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
            scope.spawn(move || (0..100).for_each(|_| robot.save(path).unwrap()));
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
