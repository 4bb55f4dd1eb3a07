//! Robot files changed by chance: what stands in them then, what is found in it, and every refusal.

use crate::Results;
use crate::fits::tables;
use crate::workshop::fitted;
use elbowroom::ServoRecord;
use elbowroom::TransmissionRecord;
use elbowroom::fit::{CompareOptions, LimitFit, Readings, fit_curve};
use elbowroom::robot::{
    Check, Date, EntryRecord, Evidence, MeasuredAs, ReadingColumns, Refit, RefitMap, Robot, Rule, Table, TableOptions,
    Urdf, compare,
};
use rand::{RngExt, SeedableRng};
use rand_xorshift::XorShiftRng;

const HERON: &str = include_str!("../data/heron.toml");
const APART: &str = include_str!("../fuzz/corpus/keys_apart.toml");
const URDF: &str = include_str!("../fuzz/corpus/heron.urdf");
/// Values of robot files, sound and not.
const VALUES: [&str; 22] = [
    "0",
    "10",
    "-12.5",
    "30",
    "65536",
    "1e9",
    "nan",
    "[0, 90]",
    "[37, 122]",
    "[200, 10]",
    "true",
    "false",
    "deg",
    "mm",
    "breast",
    "head",
    "wing_left",
    "2026-11-01",
    "{ angle = [0, 90], pulse_us = [1000, 2000] }",
    "{ frame_hz = 100, counts_per_frame = 8192 }",
    "{ reading = [100, 900], angle = [-40, 60], adc_bits = 10 }",
    "{ kind = \"contact\", at = 30.0, u = 0.3, guard = 2.0 }",
];
const PLACES: [&str; 30] = [
    "name",
    "timer",
    "servo",
    "servo.angle",
    "timer.frame_hz",
    "board.head.channels",
    "board.legs.timer",
    "check.stale_after_days",
    "check.lost_motion",
    "check.guard",
    "J.board",
    "J.channel",
    "J.unit",
    "J.command",
    "J.drive",
    "J.travel",
    "J.rest",
    "J.inverted",
    "J.max_rate_per_s",
    "J.mirror_of",
    "J.feedback",
    "J.transmission",
    "J.servo",
    "J.timer",
    "J.evidence.lower",
    "J.evidence.upper",
    "J.evidence.date",
    "J.evidence.sense",
    "J.evidence.readings",
    "J.evidence.lost_motion.value",
];
const SERVO: ServoRecord<f64> = ServoRecord {
    angle: [0.0, 120.0],
    pulse_us: [900.0, 2100.0],
};

fn one<T: Copy>(rng: &mut XorShiftRng, of: &[T]) -> T {
    of[rng.random_range(0..of.len())]
}

/// Limits, and the curve of the readings between the stops.
struct Fitted {
    limits: LimitFit,
    curve: Option<elbowroom::fit::CurveFit>,
}

fn refitted(rng: &mut XorShiftRng, record: &mut EntryRecord, fit: &Fitted, date: Option<Date>) -> String {
    let ends = [rng.random_range(-50.0..0.0), rng.random_range(20.0..80.0)];
    let mut refit = Refit::new(&fit.limits);
    if let (Some(curve), 0) = (&fit.curve, rng.random_range(0..3)) {
        refit = refit.with_map(RefitMap::Curve(curve));
    }
    match rng.random_range(0..4) {
        0 => refit = refit.with_unit(Some("deg")),
        1 => refit = refit.with_command_ends(ends),
        2 => refit = refit.with_servo(SERVO),
        _ => {}
    }
    let judged = record.judge(&refit, &CompareOptions::default());
    let said = judged
        .as_ref()
        .map(|judged| (judged.contradicts(), judged.contradicts_map(), judged.sentences()));
    let done = match rng.random_range(0..4) {
        0 => record.adopt_fit(&refit, date),
        1 => record.put_fit(&refit, date),
        2 => record.keep_map(&refit, date),
        _ => {
            return format!("{said:?} {:?}", record.apply_fit(&fit.limits, date));
        }
    };
    format!("{said:?} {judged:?} {:?}", done.map_err(|e| (e.code(), e.to_string())))
}

/// One change, and what was said of it.
fn change(rng: &mut XorShiftRng, robot: &mut Robot, fits: &[Fitted]) -> String {
    let names: Vec<String> = robot.joints().iter().map(|joint| joint.name().to_owned()).collect();
    if names.is_empty() {
        return String::from("empty");
    }
    let name = names[rng.random_range(0..names.len())].clone();
    let record = robot.joint(&name).unwrap().record();
    let date = Date::new(2026, 11, rng.random_range(1..29));
    let place = one(rng, &PLACES).replace("J.", &format!("joint.{name}."));
    let told = |result: Result<(), elbowroom::robot::FileError>| {
        format!("{:?}", result.map_err(|e| (e.code(), e.to_string())))
    };
    match rng.random_range(0..10) {
        0 | 1 => told(robot.set_value(&place, one(rng, &VALUES))),
        2 => told(robot.unset_value(&place)),
        3 => told(robot.rename(&name, one(rng, &["crown", "wing_left", "", "a b"]))),
        4 => told(robot.remove(&name)),
        5 => {
            let new = one(rng, &["crown", "tail.tip", "\u{b5}"]).to_string();
            let other = if rng.random_range(0..2) == 0 {
                record.copied_as(&new, date)
            } else {
                record.mirrored_as(&new, date)
            };
            told(robot.put(&other))
        }
        6 => {
            let rule = one(rng, Rule::ALL);
            let joint = (rng.random_range(0..3) > 0).then_some(name.as_str());
            told(robot.waive(rule, joint, "as the museum asked for").map(drop))
        }
        7 => {
            let mut other = record;
            match rng.random_range(0..6) {
                0 => other.joint.rest = rng.random_range(-60.0..80.0_f64).round(),
                1 => other.joint.travel = None,
                2 => {
                    other.joint.transmission = TransmissionRecord::Linear {};
                    other.joint.inverted = !other.joint.inverted;
                }
                3 => other.joint.feedback = None,
                4 => other.evidence = Evidence::default(),
                _ => other.channel = Some(rng.random_range(0..20)),
            }
            told(robot.put(&other))
        }
        8 => {
            let mut other = record;
            let servo = other.change_servo(SERVO).map_err(|e| e.to_string());
            format!("{servo:?} {}", told(robot.put(&other)))
        }
        _ => {
            let mut other = record;
            let fit = &fits[rng.random_range(0..fits.len())];
            let said = refitted(rng, &mut other, fit, date);
            let rest = other.rest_in_travel().map_err(|e| e.to_string());
            format!("{said} {rest:?} {}", told(robot.put(&other)))
        }
    }
}

#[test]
fn changes() {
    let fits: Vec<Fitted> = tables()
        .step_by(5)
        .filter_map(|(_, made)| {
            let limits = fitted(&made)?;
            let readings = Readings::new(&made.drive, &made.measured);
            let between = limits.between_stops(&readings);
            Some(Fitted {
                curve: fit_curve(&between.readings(), 5).ok(),
                limits,
            })
        })
        .collect();
    let urdf = Urdf::parse(URDF).unwrap();
    let mut results = Results::default();
    for seed in 0..500_u64 {
        let mut rng = XorShiftRng::seed_from_u64(0x726f_626f + seed);
        let text = match seed % 4 {
            0 | 1 => HERON.to_owned(),
            2 => HERON.replace('\n', "\r\n"),
            _ => APART.to_owned(),
        };
        let mut robot = Robot::parse(&text).unwrap();
        let before = robot.clone();
        let said: Vec<String> = (0..rng.random_range(1..9))
            .map(|_| change(&mut rng, &mut robot, &fits))
            .collect();
        let report = Check::new()
            .on(Date::new(2026, 11, 25).unwrap())
            .against(&urdf)
            .run(&robot);
        let found: Vec<String> = report.findings.iter().map(ToString::to_string).collect();
        let compared = compare(&before, &robot, &CompareOptions::default());
        let board = robot.boards().first().map(|board| board.name().to_owned());
        let blocks = (
            robot.to_block(None).map_err(|e| e.to_string()),
            robot.to_block(board.as_deref()).map_err(|e| e.to_string()),
            robot
                .to_block_source(board.as_deref(), "heron")
                // It names the version that wrote it.
                .map(|text| text.replace(env!("CARGO_PKG_VERSION"), ""))
                .map_err(|e| e.to_string()),
        );
        let commands: Vec<f64> = robot.joints().iter().map(|joint| joint.joint().rest()).collect();
        let mut counts = Vec::new();
        let counted = robot.each_count(&commands, |count| counts.push(count));
        let limits = robot.limits_into(URDF);
        results.add(
            &seed.to_string(),
            &(
                robot.to_toml(),
                said,
                found,
                report.waived,
                compared,
                blocks,
                counted,
                counts,
                limits,
            ),
        );
    }
    results.hold("changes");
}

/// Files with a piece cut out, doubled or replaced.
#[test]
fn refusals() {
    let mut results = Results::default();
    for seed in 0..1_500_u64 {
        let mut rng = XorShiftRng::seed_from_u64(0x7265_6675 + seed);
        let lines: Vec<&str> = HERON.lines().collect();
        let at = rng.random_range(3..lines.len());
        let line = lines[at];
        let key = line.split('=').next().unwrap_or(line);
        let changed = match rng.random_range(0..6) {
            0 => String::new(),
            1 => format!("{line}\n{line}"),
            2 => format!("{key}= {}", one(&mut rng, &VALUES)),
            3 => line.replacen(|c: char| c.is_ascii_digit(), "-9", 1),
            4 => line.replacen(['a', 'e'], "", 1),
            _ => line.replacen(['[', '{', '"', '='], "", 1),
        };
        let text = [&lines[..at], &[changed.as_str()], &lines[at + 1..]]
            .concat()
            .join("\n");
        let read = Robot::parse(&text).map(|robot| {
            (
                robot.joints().to_vec(),
                robot.boards().to_vec(),
                robot.settings().clone(),
            )
        });
        results.add(
            &seed.to_string(),
            &read.map_err(|e| (e.code(), e.line(), e.column(), e.to_string())),
        );
    }
    results.hold("refusals");
}

/// Tables as text: separators, decimal commas, units, sides, marks and moments, comments, cells that cannot be read.
#[test]
fn texts() {
    let mut results = Results::default();
    for (index, (name, made)) in tables().enumerate() {
        let mut rng = XorShiftRng::seed_from_u64(index as u64);
        let separator = one(&mut rng, &[",", ";", "\t", " ", " , "]);
        let comma = !separator.contains(',') && rng.random_range(0..2) == 0;
        let unit = one(&mut rng, &["", "", "deg", "\u{b0}"]);
        let more: Vec<&str> = ["approach", "contact", "time (ms)", "u"]
            .into_iter()
            .filter(|_| rng.random_range(0..3) == 0)
            .collect();
        let mut text = String::from(one(&mut rng, &["# invented\n\n", "", "", "\u{feff}"]));
        if !more.is_empty() || rng.random_range(0..4) > 0 {
            let names = [
                one(&mut rng, &["drive", "drive_us", "Drive (deg)"]),
                one(&mut rng, &["measured", "measured [mm]", "adc"]),
            ];
            text.push_str(
                &names
                    .into_iter()
                    .chain(more.iter().copied())
                    .collect::<Vec<_>>()
                    .join(separator),
            );
            text.push('\n');
        }
        for (row, (x, y)) in made.drive.iter().zip(&made.measured).enumerate() {
            let value = match rng.random_range(0..300) {
                0 => String::from("?"),
                1 => String::new(),
                _ => format!("{y:.3}{unit}"),
            };
            let mut cells = vec![format!("{x:.1}"), value];
            for column in &more {
                cells.push(match *column {
                    "approach" => one(&mut rng, &["below", "above", "up", "unknown"]).to_owned(),
                    "contact" => one(&mut rng, &["none", "none", "none", "here"]).to_owned(),
                    "u" => format!("{:.2}", rng.random_range(0.1..0.9)),
                    _ => format!("{}", 250 * row),
                });
            }
            let line = cells.join(separator);
            text.push_str(&if comma { line.replace('.', ",") } else { line });
            text.push_str(one(&mut rng, &["\n", "\n", "\n", "\r\n", " # noted\n"]));
        }
        let told = match rng.random_range(0..4) {
            0 => TableOptions::default().with_decimal(Some(if comma { ',' } else { '.' })),
            1 => TableOptions::default().with_separator(separator.trim().chars().next().or(Some(' '))),
            _ => TableOptions::default(),
        };
        let read = Table::parse(text.into_bytes(), told).map(|table| {
            let kept = [("measured".to_owned(), table.cell(1, 1).into_owned())];
            let columns = ReadingColumns::new(None, None);
            let as_told = ReadingColumns::new(Some("drive"), Some("measured"));
            let refused = |e: elbowroom::robot::TableError| e.in_file("neck.csv");
            (
                table.headings().to_vec(),
                table.readings(&columns, &[]).map_err(refused),
                table.readings(&as_told, &kept).map_err(refused),
                table.numbers_where("measured", &[]).map_err(refused),
            )
        });
        results.add(&name, &read.map_err(|e| e.in_file("neck.csv")));
        let mut turned: Vec<f64> = made.measured.iter().map(|y| y.rem_euclid(90.0)).collect();
        let how = MeasuredAs::default()
            .with_wrap(Some(90.0))
            .with_arc_radius((index % 3 == 0).then_some(40.0))
            .with_flipped(index % 2 == 0);
        let done = how.apply(&mut turned).map_err(|e| e.to_string());
        results.add(&format!("{name}:wrapped"), &(done, turned));
    }
    results.hold("texts");
}
