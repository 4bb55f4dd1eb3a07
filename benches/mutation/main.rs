//! Would the tests notice a change? One operator, sign or statement of the core is changed at a time, and the tests that run through
//! it must fail.
//!
//! `cargo test -p elbowroom --bench mutation -- --sample 400 --seed 1` draws 400 places, builds one copy of the core under
//! `target/mutation` in which the environment chooses the change, and prints each change that no test noticed, with the score.
//! `--from N` begins at the N-th place of the sample, `--minutes M` stops then, `--only WORD` takes places of files whose name holds it.
//! `--these N,M` judges these places of the sample only, for a look at new tests. `target/mutation/judged` keeps one line a place: its
//! number, the program of tests that noticed it or `-`, the seconds it took, and the change.
//! `--tests lib,curve,NAME` takes the tests beside the code and these programs only, which are built in minutes; of programs that take
//! more than `--slow S` seconds, 60 where it is not given, only the tests that pass within this time are used. The score is then a
//! lower bound.
//!
//! Changed are comparisons, arithmetic, `&&` and `||`, `!` and minus signs, `min` and `max`, `true` and `false`, and calls and
//! assignments that stand alone are left out. What stands in macros, in constants and in `const fn` stays: it is not chosen at run time.
//! A run records first which test comes to which place, so that a change is tried on these tests alone, and ends at the first failure.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    missing_docs,
    reason = "a tool for those who work on the tests"
)]

mod places;

use places::{Place, places_of, with_choices};
use rand::SeedableRng as _;
use rand::seq::SliceRandom as _;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::{BufRead as _, BufReader, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Mutex;
use std::time::{Duration, Instant};

/// Put at the end of the copied `lib.rs`.
const CHOICE: &str = r#"
/// Whether this change is the chosen one; notes which test came here.
pub(crate) fn mutant_(number: usize) -> bool {
    use std::io::Write as _;
    use std::sync::OnceLock;
    static CHOSEN: OnceLock<Option<usize>> = OnceLock::new();
    let chosen = *CHOSEN.get_or_init(|| std::env::var("MUTANT").ok()?.parse().ok());
    if chosen == Some(usize::MAX) {
        // Each test has a thread of its own.
        std::thread_local! {
            static SEEN: [std::cell::Cell<bool>; SIZE] = const { [const { std::cell::Cell::new(false) }; SIZE] };
        }
        let first = SEEN.try_with(|seen| seen.get(number).is_some_and(|seen| !seen.replace(true))).unwrap_or(false);
        if first
            && let Ok(path) = std::env::var("MUTANT_SEEN")
            && let Ok(mut file) = std::fs::OpenOptions::new().create(true).append(true).open(path)
        {
            let thread = std::thread::current();
            let _ = file.write_all(std::format!("{number} {}\n", thread.name().unwrap_or("*")).as_bytes());
        }
    }
    chosen == Some(number)
}
"#;
/// `MUTANT` while places are recorded.
const RECORD: usize = usize::MAX;

fn files_under(folder: &Path, take: &impl Fn(&Path) -> bool, found: &mut Vec<PathBuf>) {
    let mut entries: Vec<PathBuf> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    entries.sort();
    for path in entries.into_iter().filter(|path| take(path)) {
        if path.is_dir() {
            files_under(&path, take, found);
        } else {
            found.push(path);
        }
    }
}

/// Writes only what differs, so that only that is built again.
fn put(path: &Path, bytes: &[u8]) {
    if fs::read(path).is_ok_and(|there| there == bytes) {
        return;
    }
    fs::create_dir_all(path.parent().unwrap()).unwrap();
    fs::write(path, bytes).unwrap();
}

fn cargo(tree: &Path, target: &Path, words: &[&str]) -> Command {
    let mut command = Command::new(std::env::var("CARGO").unwrap_or_else(|_| "cargo".into()));
    command
        .args(words)
        .args(["-p", "elbowroom", "--all-features"])
        // Half of the time that it takes to build them, and the tests are quick enough.
        .args(["--config", "profile.dev.package.elbowroom.opt-level=1"])
        .current_dir(tree);
    match word("--tests") {
        Some(names) => names.split(',').for_each(|name| {
            let _ = match name {
                "lib" => command.arg("--lib"),
                _ => command.args(["--test", name]),
            };
        }),
        None => {
            let _ = command.arg("--tests");
        }
    }
    command
        .env("CARGO_TARGET_DIR", target)
        .env("CARGO_PROFILE_DEV_DEBUG", "0")
        .stdin(Stdio::null());
    command
}

/// One program of tests, and how long its tests take without a change.
struct Program {
    name: String,
    path: PathBuf,
    seconds: f64,
    /// Where it takes too long as a whole, the tests that passed in time; others are not used.
    in_time: Option<BTreeSet<String>>,
    /// Tests by the number of the place they come to; `*` for a thread without a name.
    reached: BTreeMap<usize, BTreeSet<String>>,
}

#[derive(PartialEq)]
enum End {
    Passed,
    Failed,
    TooLong,
}

/// Runs tests of a program until the first fails; says which passed.
fn run(
    path: &Path,
    tree: &Path,
    mutant: usize,
    seen: Option<&Path>,
    tests: &[&str],
    most: Duration,
) -> (End, BTreeSet<String>) {
    let mut command = Command::new(path);
    command.args(tests).current_dir(tree).env("MUTANT", mutant.to_string());
    if !tests.is_empty() {
        command.arg("--exact");
    }
    // While recording each test has a thread of its own name, which it has not where there is one thread only.
    let threads = if seen.is_some() { "2" } else { "1" };
    command
        .env("RUST_TEST_THREADS", threads)
        .env("CARGO_MANIFEST_DIR", tree);
    if let Some(seen) = seen {
        command.env("MUTANT_SEEN", seen);
    }
    let mut child = command
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let lines = BufReader::new(child.stdout.take().unwrap());
    let (send, told) = std::sync::mpsc::channel();
    let reader = std::thread::spawn(move || {
        for line in lines.lines().map_while(Result::ok) {
            let told = line.strip_prefix("test ").and_then(|line| line.rsplit_once(" ... "));
            if let Some((name, end)) = told {
                let _ = send.send((name.to_owned(), end == "FAILED"));
            }
        }
    });
    let begin = Instant::now();
    let mut passed = BTreeSet::new();
    let end = loop {
        match told.recv_timeout(Duration::from_millis(5)) {
            Ok((_, true)) => break End::Failed,
            Ok((name, false)) => {
                passed.insert(name);
                continue;
            }
            Err(_) => {}
        }
        if let Some(status) = child.try_wait().unwrap() {
            break if status.success() { End::Passed } else { End::Failed };
        }
        if begin.elapsed() > most {
            break End::TooLong;
        }
        std::thread::sleep(Duration::from_millis(2));
    };
    let _ = child.kill();
    let _ = child.wait();
    // What a test has started may hold the pipe a little longer.
    drop(reader);
    (end, passed)
}

fn number(name: &str, usual: u64) -> u64 {
    word(name).map_or(usual, |text| text.parse().unwrap())
}

fn word(name: &str) -> Option<String> {
    let mut words = std::env::args();
    words.find(|word| word == name)?;
    words.next()
}

fn main() {
    let begin = Instant::now();
    let root = std::env::var("CARGO_MANIFEST_DIR").unwrap_or_else(|_| env!("CARGO_MANIFEST_DIR").into());
    let root = Path::new(&root);
    let target = root.join("target");
    let tree = target.join("mutation");
    let (size, seed) = (number("--sample", 400) as usize, number("--seed", 1));
    let (from, minutes) = (number("--from", 0) as usize, number("--minutes", 24 * 60));
    let slow = number("--slow", 60);

    // Every place of the shipped core.
    let mut sources = Vec::new();
    let shipped =
        |path: &Path| path.is_dir() || (path.extension().is_some_and(|e| e == "rs") && !path.ends_with("tests.rs"));
    files_under(&root.join("src"), &shipped, &mut sources);
    let (mut places, mut texts) = (Vec::new(), BTreeMap::new());
    for path in sources {
        let file = path.strip_prefix(root).unwrap().to_owned();
        let text = fs::read_to_string(&path).unwrap();
        places.append(&mut places_of(file.clone(), &text));
        texts.insert(file, text);
    }
    if let Some(only) = word("--only") {
        places.retain(|place| place.file.to_string_lossy().contains(&only));
    }
    let all = places.len();
    places.shuffle(&mut rand_xorshift::XorShiftRng::seed_from_u64(seed));
    let mut sample: Vec<Place> = Vec::new();
    let mut waiting = places.into_iter();
    sample.extend(waiting.by_ref().take(size));
    println!("{all} places, {} of them drawn by seed {seed}", sample.len());

    // A copy of the workspace; what does not compile with a choice in it is drawn anew.
    let mut copied = Vec::new();
    let kept = |path: &Path| {
        let name = path.file_name().unwrap().to_string_lossy();
        !(name == "target" || name == "node_modules" || name == "__pycache__" || name.starts_with(".git"))
    };
    files_under(root, &kept, &mut copied);
    for path in copied {
        let file = path.strip_prefix(root).unwrap();
        if file == Path::new("Cargo.toml") {
            // Under one version cargo would take the copy and what it is copied from for one package.
            let version = concat!("version = \"", env!("CARGO_PKG_VERSION"));
            let text = fs::read_to_string(&path).unwrap();
            put(
                &tree.join(file),
                text.replacen(version, &format!("{version}+mutation"), 1).as_bytes(),
            );
        } else if !texts.contains_key(file) {
            put(&tree.join(file), &fs::read(&path).unwrap());
        }
    }
    // What an earlier run found so is drawn anew at once, so that nothing need be built again.
    let refused = tree.join("refused");
    for line in fs::read_to_string(&refused).unwrap_or_default().lines() {
        if let Some((number, said)) = line.split_once(' ')
            && let Some(place) = number.parse().ok().and_then(|number: usize| sample.get_mut(number))
            && place.said(&texts[&place.file]) == said
        {
            *place = waiting.next().expect("more places");
        }
    }
    let mut refused = fs::OpenOptions::new().create(true).append(true).open(refused).unwrap();
    let mut programs = Vec::new();
    for _ in 0..12 {
        let mut written = BTreeMap::new();
        for (file, text) in &texts {
            let here: Vec<(usize, &Place)> = sample
                .iter()
                .enumerate()
                .filter(|(_, place)| place.file == *file)
                .collect();
            let mut changed = with_choices(text, 0..text.len(), &here);
            if file.ends_with("lib.rs") {
                changed += &CHOICE.replace("SIZE", &sample.len().to_string());
            }
            put(&tree.join(file), changed.as_bytes());
            written.insert(file.clone(), changed);
        }
        let output = cargo(&tree, &target, &["test", "--no-run", "--message-format=json"])
            .output()
            .unwrap();
        let messages = String::from_utf8(output.stdout).unwrap();
        let messages = messages
            .lines()
            .map(|line| serde_json::from_str::<serde_json::Value>(line).unwrap());
        if output.status.success() {
            programs.extend(messages.filter_map(|message| {
                let (path, name) = (message["executable"].as_str()?, message["target"]["name"].as_str()?);
                Some((name.to_owned(), PathBuf::from(path)))
            }));
            break;
        }
        let mut bad = BTreeSet::new();
        let mut told = String::from_utf8_lossy(&output.stderr).into_owned();
        for message in messages.map(|message| message["message"].clone()) {
            if message["level"] != "error" {
                continue;
            }
            told += message["rendered"].as_str().unwrap_or_default();
            let place = &message["spans"][0];
            let (Some(file), Some(at)) = (place["file_name"].as_str(), place["line_start"].as_u64()) else {
                continue;
            };
            let Some(text) = written.get(Path::new(file)) else {
                continue;
            };
            // The choice that begins on the line, or the last one above it.
            let lines: Vec<&str> = text.lines().take(at as usize).collect();
            let marked = lines.iter().rev().find(|line| line.contains("crate::mutant_("));
            for part in marked
                .into_iter()
                .flat_map(|line| line.split("crate::mutant_(").skip(1))
            {
                bad.insert(part.split(')').next().unwrap().parse::<usize>().unwrap());
            }
        }
        assert!(!bad.is_empty(), "does not compile:\n{told}");
        println!(
            "{} places do not compile with a choice in them, others are drawn",
            bad.len()
        );
        for number in bad {
            let place = &mut sample[number];
            writeln!(refused, "{number} {}", place.said(&texts[&place.file])).unwrap();
            *place = waiting.next().expect("more places");
        }
    }

    assert!(!programs.is_empty(), "builds no tests");

    // Which tests of the programs come where.
    let seen = tree.join("seen");
    fs::create_dir_all(&seen).unwrap();
    let mut known: Vec<Program> = Vec::new();
    for (name, path) in programs {
        // Inputs until a time is over would differ from run to run.
        if name == "fuzz" {
            continue;
        }
        // What an earlier run recorded of the same program is taken again.
        let notes = seen.join(path.file_name().unwrap());
        let kept = fs::read_to_string(&notes).ok().filter(|_| {
            let at = |path: &Path| fs::metadata(path).and_then(|told| told.modified()).unwrap();
            at(&notes) > at(&path)
        });
        let notes = kept.unwrap_or_else(|| {
            let fresh = seen.join("now");
            let _ = fs::remove_file(&fresh);
            let start = Instant::now();
            let (end, passed) = run(&path, &tree, RECORD, Some(&fresh), &[], Duration::from_secs(slow));
            let end = match end {
                End::Passed => "passed",
                End::Failed => "failed",
                End::TooLong => "slow",
            };
            let reached = fs::read_to_string(&fresh).unwrap_or_default();
            let passed: String = passed.iter().map(|name| format!("passed {name}\n")).collect();
            let text = format!("{end} {:.3}\n{passed}{reached}", start.elapsed().as_secs_f64());
            fs::write(&notes, &text).unwrap();
            text
        });
        let (first, rest) = notes.split_once('\n').unwrap();
        let (end, seconds) = first.split_once(' ').unwrap();
        match end {
            "failed" => println!("{name}: fails without a change in this copy, not used"),
            _ => {
                let mut reached: BTreeMap<usize, BTreeSet<String>> = BTreeMap::new();
                let mut passed = BTreeSet::new();
                for line in rest.lines() {
                    // A program that is killed may not have ended its last line.
                    let Some((first, test)) = line.split_once(' ') else {
                        continue;
                    };
                    if first == "passed" {
                        passed.insert(test.to_owned());
                    } else if let Ok(number) = first.parse() {
                        reached.entry(number).or_default().insert(test.to_owned());
                    }
                }
                if end == "slow" {
                    println!(
                        "{name}: takes more than {slow} s, {} of its tests are used",
                        passed.len()
                    );
                }
                known.push(Program {
                    name,
                    path,
                    seconds: seconds.parse().unwrap(),
                    in_time: (end == "slow").then_some(passed),
                    reached,
                });
            }
        }
    }
    known.sort_by(|a, b| a.seconds.total_cmp(&b.seconds));
    let whole: f64 = known.iter().map(|program| program.seconds).sum();
    println!(
        "{} programs of tests, {whole:.0} s without a change; ready after {:.0} s",
        known.len(),
        begin.elapsed().as_secs_f64()
    );

    // Change after change, the quickest programs first.
    let these: Option<Vec<usize>> =
        word("--these").map(|these| these.split(',').map(|number| number.parse().unwrap()).collect());
    let waiting = these.unwrap_or_else(|| (from..sample.len()).collect());
    let next = Mutex::new(waiting.into_iter());
    let judged = fs::OpenOptions::new()
        .create(true)
        .append(true)
        .open(tree.join("judged"))
        .unwrap();
    let (noticed, missed) = (Mutex::new(0usize), Mutex::new(BTreeMap::new()));
    let workers = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..workers {
            scope.spawn(|| {
                loop {
                    let is_over = begin.elapsed() > Duration::from_secs(60 * minutes);
                    let Some(number) = next.lock().unwrap().next().filter(|_| !is_over) else {
                        return;
                    };
                    let (mut reached, start) = (false, Instant::now());
                    let noticed_by = known.iter().find_map(|program| {
                        let tests = program.reached.get(&number)?;
                        reached = true;
                        // Threads without a name, and programs that start themselves: all tests.
                        let all = tests.contains("*") || tests.contains("main") || program.name == "robot_saves";
                        let tests: Vec<&str> = match (&program.in_time, all) {
                            (None, true) => Vec::new(),
                            (None, false) => tests.iter().map(String::as_str).collect(),
                            (Some(passed), _) => passed
                                .iter()
                                .filter(|name| all || tests.contains(*name))
                                .map(String::as_str)
                                .collect(),
                        };
                        if program.in_time.is_some() && tests.is_empty() {
                            return None;
                        }
                        let most = Duration::from_secs_f64(10.0 + 5.0 * program.seconds);
                        match run(&program.path, &tree, number, None, &tests, most).0 {
                            End::Passed => None,
                            End::Failed => Some(program.name.clone()),
                            End::TooLong => Some(format!("{}, which took too long,", program.name)),
                        }
                    });
                    let place = &sample[number];
                    let said = place.said(&texts[&place.file]);
                    let by = noticed_by.as_deref().unwrap_or("-");
                    let _ = writeln!(&judged, "{number} {by} {:.0} s {said}", start.elapsed().as_secs_f64());
                    if noticed_by.is_some() {
                        *noticed.lock().unwrap() += 1;
                    } else {
                        println!(
                            "not noticed, {number}{}: {said}",
                            if reached { "" } else { ", no test comes there" }
                        );
                        missed.lock().unwrap().insert(number, said);
                    }
                }
            });
        }
    });
    let (noticed, missed) = (noticed.into_inner().unwrap(), missed.into_inner().unwrap().len());
    println!(
        "{noticed} of {} changes noticed, {:.1} %; {missed} not; {:.0} s",
        noticed + missed,
        100.0 * noticed as f64 / (noticed + missed).max(1) as f64,
        begin.elapsed().as_secs_f64()
    );
}
