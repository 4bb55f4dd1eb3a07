//! Fuzz targets as plain programs: each replays a kept corpus, then changes it by a seeded mutator that knows its structure, and
//! holds what comes out to an invariant. No nightly compiler is needed.
//!
//! `cargo test -p elbowroom --all-features --test fuzz -- --nocapture` takes a second for each target; by hand, for hours,
//! `FUZZ_SECONDS=3600 FUZZ_SEED=7 cargo test --release …` prints how many inputs were tried. A finding prints its input: put it into
//! `tests/fuzz/corpus`, where every later run begins.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "a test may panic"
)]

mod mutate;

use elbowroom::block::{self, Block};
use elbowroom::bring_up::{Action, Report, Session};
use elbowroom::curve::{Curve, SlopeRule};
use elbowroom::linkage::{Branch, Mechanism, MechanismKind};
use elbowroom::rehearsal::{Person, Rehearsal};
use elbowroom::robot::{EntryRecord, Robot, Urdf, check};
use elbowroom::{FeedbackRecord, Joint, JointRecord, ServoRecord, TimerRecord, TransmissionRecord};
use mutate::{Random, mutate, mutate_bytes};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::time::{Duration, Instant};

const CORPUS: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/fuzz/corpus");
/// Words of robot files and URDF.
const WORDS: &[&str] = &[
    "format",
    "name",
    "timer",
    "servo",
    "board",
    "joint",
    "check",
    "command",
    "drive",
    "travel",
    "rest",
    "inverted",
    "feedback",
    "transmission",
    "evidence",
    "reading",
    "angle",
    "knots",
    "kind",
    "linear",
    "curve",
    "triangle",
    "slider-crank",
    "four-bar",
    "spool",
    "contact",
    "stalled",
    "clear",
    "declared",
    "opposing",
    "aiding",
    "deg",
    "rad",
    "mm",
    "limit",
    "lower",
    "upper",
    "velocity",
    "effort",
    "revolute",
    "prismatic",
    "continuous",
    "fixed",
    "robot",
];

fn number_of(name: &str, usual: u64) -> u64 {
    std::env::var(name)
        .ok()
        .and_then(|text| text.parse().ok())
        .unwrap_or(usual)
}

/// Runs a target until its time is over; `one` gives what it tried, for the report of a finding.
fn fuzz<T: std::fmt::Debug>(name: &str, mut make: impl FnMut(&mut Random, u64) -> T, one: impl Fn(&T)) {
    let seed = number_of("FUZZ_SEED", 1);
    let time = Duration::from_millis(number_of("FUZZ_SECONDS", 1) * 1000);
    let mut random = Random::new(seed);
    let (start, mut tried) = (Instant::now(), 0u64);
    while !tried.is_multiple_of(64) || start.elapsed() < time {
        let input = make(&mut random, tried);
        if catch_unwind(AssertUnwindSafe(|| one(&input))).is_err() {
            panic!("{name}, input {tried} of seed {seed}:\n{input:?}");
        }
        tried += 1;
    }
    println!("{name}: {tried} inputs, no finding");
}

/// What every sentence to people keeps.
fn readable(sentence: &str) {
    // What stands in the file is quoted as it stands.
    let said = sentence.replace("\"nan\"", "").replace("'nan'", "");
    assert!(!said.is_empty() && !said.contains('\n'), "{sentence:?}");
    assert!(!said.contains("NaN"), "{sentence}");
    // A number of a hundred digits helps nobody.
    let digits = said.split(|c: char| !c.is_ascii_digit()).map(str::len).max();
    assert!(digits < Some(30), "{sentence}");
}

fn texts(endings: &[&str]) -> Vec<String> {
    let mut paths: Vec<_> = std::fs::read_dir(CORPUS)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    paths.sort();
    let wanted = |path: &std::path::PathBuf| {
        endings
            .iter()
            .any(|ending| path.extension().is_some_and(|found| found == *ending))
    };
    paths.retain(wanted);
    assert!(!paths.is_empty());
    paths
        .iter()
        .map(|path| std::fs::read_to_string(path).unwrap())
        .collect()
}

/// The corpus itself, then changes of it.
fn changed(corpus: &[String], random: &mut Random, tried: u64) -> String {
    if let Some(kept) = corpus.get(tried as usize) {
        return kept.clone();
    }
    let (text, other) = (&corpus[random.below(corpus.len())], &corpus[random.below(corpus.len())]);
    mutate(random, text, other, WORDS)
}

#[test]
fn robot_files() {
    let corpus = texts(&["toml"]);
    fuzz(
        "robot file",
        |random, tried| changed(&corpus, random, tried),
        |text| {
            let robot = match Robot::parse(text) {
                Ok(robot) => robot,
                Err(error) => {
                    readable(&error.to_string().replace(['\u{0}', '\u{2028}'], ""));
                    assert!(
                        error
                            .line()
                            .is_none_or(|line| line >= 1 && line <= text.lines().count() + 1),
                        "{error}"
                    );
                    return;
                }
            };
            assert_eq!(robot.to_toml(), text);
            for finding in check(&robot) {
                assert!(
                    !finding.message.is_empty() && !finding.message.contains("NaN"),
                    "{}",
                    finding.message
                );
            }
            for entry in robot.joints() {
                converts(entry.joint());
                // Nothing changed changes nothing.
                let mut same = robot.clone();
                same.put(&entry.record()).unwrap();
                assert_eq!(same.joint(entry.name()).unwrap().record(), entry.record());
                assert_eq!(same.to_toml(), text);
                // What is put is read back, also on another board.
                let mut record = entry.record();
                record.board = Some("breast".into());
                record.joint.max_rate_per_s = Some(7.5);
                let mut other = robot.clone();
                if other.put(&record).is_ok() {
                    assert_eq!(other.joint(entry.name()).unwrap().record(), record);
                }
            }
        },
    );
}

/// What a joint in hand keeps for every number.
fn converts(joint: &Joint<f64>) {
    let (command, travel, [lowest, highest]) = (joint.command_range(), joint.travel(), joint.count_range());
    let width = command.upper() - command.lower();
    let mut commands = vec![command.lower(), joint.rest(), command.upper(), f64::MAX, f64::MIN, 0.0];
    commands.extend([0.1, 0.5, 0.77].map(|share| command.lower() + share * width));
    for at in commands.into_iter().filter(|at| at.is_finite()) {
        let drive = joint.drive(at).unwrap();
        assert!(
            travel.lower() <= drive.value && drive.value <= travel.upper(),
            "{at} gives {}",
            drive.value
        );
        let counts = joint.counts(at).unwrap().value;
        assert!((lowest..=highest).contains(&counts), "{at} gives {counts}");
        assert!(joint.pulse_us(at).unwrap().value.is_finite());
    }
    for nothing in [f64::NAN, f64::INFINITY] {
        readable(&joint.counts(nothing).unwrap_err().to_string());
    }
    assert_eq!(Joint::new(joint.record()).as_ref(), Ok(joint));
}

#[test]
fn urdf_files() {
    let corpus = texts(&["urdf"]);
    fuzz(
        "URDF",
        |random, tried| changed(&corpus, random, tried),
        |text| match Urdf::parse(text) {
            Ok(urdf) => {
                for joint in urdf.joints() {
                    assert!(
                        joint
                            .limits
                            .iter()
                            .flatten()
                            .chain(&joint.velocity)
                            .all(|limit| limit.is_finite())
                    );
                }
            }
            Err(error) => assert!(!error.to_string().is_empty()),
        },
    );
}

#[test]
fn blocks() {
    let robot =
        Robot::parse(&texts(&["toml"])[1].replace("\"neck tilt\"]", "\"neck tilt\"]\nboard = \"breast\"\nchannel = 4"))
            .unwrap();
    let image = robot.to_block(Some("breast")).unwrap();
    let block = |bytes: &Vec<u8>| {
        let block = match Block::new(&bytes[..]) {
            Ok(block) => block,
            Err(error) => return readable(&error.to_string()),
        };
        for channel in (0..block.joints()).filter_map(|index| block.channel(index)) {
            let joint = block.joint(channel).unwrap();
            let [lowest, highest] = joint.count_range();
            for command in [0.0, -1e30, 1e30, 12.5] {
                let counts = joint.counts(command).unwrap().value;
                assert!((lowest..=highest).contains(&counts));
            }
        }
        if let Ok(robot) = Robot::from_block("fuzzed", &block) {
            assert!(robot.joints().len() <= usize::from(block.joints()));
        }
        readable(
            &block::c_source("fuzzed", bytes, &[(3, "*/ #error")])
                .map_or_else(|error| error.to_string(), |_| "ok".into()),
        );
    };
    let reseal = |random: &mut Random, tried: u64| {
        if tried == 0 {
            return image.clone();
        }
        let mut bytes = mutate_bytes(random, &image);
        // Mostly with the checksum that belongs to it: else nothing further in is met.
        if random.below(4) > 0 {
            elbowroom_reseal(&mut bytes);
        }
        bytes
    };
    fuzz("block", reseal, block);
}

/// Puts the right checksum (CRC-32, ISO 3309) at an image's end.
fn elbowroom_reseal(bytes: &mut [u8]) {
    let Some(end) = bytes.len().checked_sub(4) else { return };
    let mut crc = !0u32;
    for &byte in &bytes[..end] {
        crc ^= u32::from(byte);
        for _ in 0..8 {
            crc = (crc >> 1) ^ (0xEDB8_8320 & (crc & 1).wrapping_neg());
        }
    }
    bytes[end..].copy_from_slice(&(!crc).to_le_bytes());
}

#[test]
fn sessions() {
    // Some moments of a bring-up, as they are saved.
    let Rehearsal { mut joint, plan } = Rehearsal::healthy(4).unwrap().with_alignment().unwrap();
    let (mut person, mut session, mut corpus) = (Person::new(0.0, 4), Session::new(plan).unwrap(), Vec::new());
    for step in 0u32.. {
        if step.is_power_of_two() || step.is_multiple_of(97) {
            corpus.push(serde_json::to_string(&session).unwrap());
        }
        let Some(report) = person.carry_out(&session.next(), &mut joint) else {
            break;
        };
        session.report(report).unwrap();
    }
    // One value a line, so that lines are what is changed.
    let made = corpus.iter().map(|json| json.replace(',', ",\n"));
    let corpus: Vec<String> = texts(&["json"]).into_iter().chain(made).collect();
    fuzz(
        "session",
        |random, tried| changed(&corpus, random, tried),
        |text| {
            let mut session: Session = match serde_json::from_str(text) {
                Ok(session) => session,
                Err(error) => return readable(&error.to_string()),
            };
            let saved = serde_json::to_string(&session).unwrap();
            assert_eq!(
                saved,
                serde_json::to_string(&serde_json::from_str::<Session>(&saved).unwrap()).unwrap()
            );
            // It goes on, whatever is reported.
            for value in [500.0, 1e12, -1e300, f64::NAN, 300.0] {
                let report = match session.next() {
                    Action::Read => Report::Reading { value, load: None },
                    Action::Ask { .. } => Report::Answered {
                        answer: elbowroom::bring_up::Answer::Done,
                    },
                    Action::Wait { .. } => Report::Waited,
                    _ => Report::Moved,
                };
                if let Err(error) = session.report(report) {
                    readable(&error.to_string());
                }
            }
            let again = serde_json::to_string(&session).unwrap();
            assert!(
                serde_json::from_str::<Session>(&again).is_ok(),
                "one's own save is refused"
            );
        },
    );
}

#[test]
fn curves() {
    fuzz(
        "curve",
        |random, _| {
            let mut knots: Vec<[f64; 2]> = (0..2 + random.below(6))
                .map(|_| [random.number(), random.number()])
                .collect();
            if random.below(8) > 0 {
                let (mut x, mut y): (Vec<f64>, Vec<f64>) = knots.iter().map(|&[x, y]| (x, y)).unzip();
                x.sort_by(f64::total_cmp);
                y.sort_by(f64::total_cmp);
                knots = x.into_iter().zip(y).map(Into::into).collect();
            }
            (
                knots,
                SlopeRule::ALL[random.below(SlopeRule::ALL.len())],
                random.share(),
            )
        },
        |(knots, rule, share)| {
            let curve = match Curve::new(knots, *rule) {
                Ok(curve) => curve,
                Err(error) => return readable(&error.to_string()),
            };
            for &[x, y] in knots {
                assert_eq!(curve.at(x), y, "exact at the knots");
            }
            for pair in knots.windows(2) {
                let ([x0, y0], [x1, y1]) = (pair[0], pair[1]);
                let x = x0 * (1.0 - share) + x1 * share;
                let y = curve.at(x);
                assert!(y0.min(y1) <= y && y <= y0.max(y1), "{y} between {y0} and {y1}");
                let back = curve.inverse(y);
                assert!(x0 <= back && back <= x1, "{back} between {x0} and {x1}");
            }
        },
    );
}

#[test]
fn linkages() {
    let kinds: Vec<&MechanismKind> = ["triangle", "slider-crank", "four-bar", "spool"]
        .iter()
        .filter_map(|word| MechanismKind::of_word(word))
        .collect();
    assert_eq!(kinds.len(), 4);
    fuzz(
        "linkage",
        |random, _| {
            let kind = kinds[random.below(kinds.len())];
            let odd = random.below(4) == 0;
            let sizes: Vec<f64> = (0..kind.names.len())
                .map(|_| {
                    if odd {
                        random.number()
                    } else {
                        5.0 + 90.0 * random.share()
                    }
                })
                .collect();
            let range = if odd || random.below(4) == 0 {
                random.pair()
            } else {
                let lower = random.share() * 120.0 - 60.0;
                [lower, lower + 1.0 + random.share() * 500.0 * random.share()]
            };
            (kind.with(&sizes, Branch::ALL[random.below(2)]), range, random.share())
        },
        |(mechanism, range, share): &(Mechanism, [f64; 2], f64)| {
            let [lower, upper] = *range;
            if let Err(error) = mechanism.check(*range) {
                return readable(&error.to_string());
            }
            if upper <= lower {
                return;
            }
            let middle = lower + 0.5 * (upper - lower);
            for at in [lower, upper, lower + share * (upper - lower)] {
                let back = mechanism.command_near(mechanism.moved(at), middle);
                let most = 1e-6 * (upper - lower).max(at.abs()).max(1.0);
                let moved = mechanism.moved(at);
                // Where the links hardly move it, the movement comes back if not the command.
                let same = (mechanism.moved(back) - moved).abs() <= 1e-12 * (1.0 + moved.abs());
                assert!(same || (back - at).abs() <= most, "{at} comes back as {back}");
            }
        },
    );
}

fn joint_of(random: &mut Random) -> JointRecord<f64> {
    let plain = random.below(4) > 0;
    let servo = if plain {
        ServoRecord {
            angle: [0.0, 180.0],
            pulse_us: [500.0, 2500.0],
        }
    } else {
        ServoRecord {
            angle: random.pair(),
            pulse_us: random.pair(),
        }
    };
    let timer = TimerRecord {
        frame_hz: if plain { 50.0 } else { random.number() },
        counts_per_frame: if plain {
            4096
        } else {
            random.next() as u32 >> random.below(32)
        },
    };
    let drive = if plain {
        [random.share() * 60.0, 61.0 + random.share() * 119.0]
    } else {
        random.pair()
    };
    let command = random.pair();
    let rest = if random.below(8) > 0 {
        command[0] + random.share() * (command[1] - command[0])
    } else {
        random.number()
    };
    let mut record = JointRecord::new(command, drive, rest, servo, timer);
    record.inverted = random.below(2) == 0;
    if random.below(3) == 0 {
        record.travel = Some(random.pair());
    }
    if random.below(6) == 0 {
        record.feedback = Some(FeedbackRecord::new(random.pair(), random.pair()));
    }
    if random.below(4) == 0 {
        let ends = if record.inverted { [drive[1], drive[0]] } else { drive };
        let middle = [
            command[0] + 0.4 * (command[1] - command[0]),
            drive[0] + random.share() * (drive[1] - drive[0]),
        ];
        record.transmission = TransmissionRecord::Curve {
            knots: vec![[command[0], ends[0]], middle, [command[1], ends[1]]],
            rule: SlopeRule::default(),
        };
    }
    record
}

#[test]
fn conversions() {
    fuzz(
        "conversion",
        |random, _| joint_of(random),
        |record| {
            match Joint::new(record.clone()) {
                Ok(joint) => converts(&joint),
                Err(error) => readable(&error.to_string()),
            }
            let narrow = Joint::new(record.clone().map(|value| value as f32));
            if let Ok(joint) = narrow {
                let [lowest, highest] = joint.count_range();
                for command in [0.0f32, 1e30, -1e30] {
                    assert!((lowest..=highest).contains(&joint.counts(command).unwrap().value));
                }
            }
        },
    );
}

#[test]
fn puts() {
    // Any joint that is valid is put and read back with the same bits, on either board, and over another.
    let ground = texts(&["toml"]).remove(1);
    fuzz(
        "put",
        |random, _| (joint_of(random), joint_of(random), random.next()),
        |(first, second, choice)| {
            let mut robot = Robot::parse(&ground).unwrap();
            let place = |record: &JointRecord<f64>, choice: u64| {
                let mut entry = EntryRecord::new("crest", record.clone());
                entry.board = [None, Some("breast"), Some("head")][(choice % 3) as usize].map(str::to_owned);
                entry
            };
            for record in [
                place(first, *choice),
                place(second, choice >> 8),
                place(first, choice >> 16),
            ] {
                match robot.put(&record) {
                    Ok(()) => {
                        let mut expected = record;
                        expected.joint = Joint::new(expected.joint).unwrap().record();
                        assert_eq!(robot.joint("crest").unwrap().record(), expected);
                    }
                    Err(error) => readable(&error.to_string()),
                }
            }
        },
    );
}
