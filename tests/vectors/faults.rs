//! Faults: every language must answer with the same code, name, place and sentence.

use elbowroom::Code;
use elbowroom::fit::{FitOptions, Readings, fit_limits};
use elbowroom::robot::{Refit, Robot};
use std::fmt::Write;

/// What a fault is about; the text itself is invented.
enum Given {
    /// A robot file.
    File(String),
    /// Drive angles and measured values.
    Readings(Vec<[f64; 2]>),
    /// Those of the wing, to be written into its file.
    Into(String, Vec<[f64; 2]>),
}

const HEAD: &str = "format = 1\nname = \"heron\"\ntimer = { frame_hz = 50, counts_per_frame = 4096 }\n\
    servo = { angle = [0, 180], pulse_us = [500, 2500] }\n";

/// The wing of Heron with one line put in or in the place of another of the same key.
fn wing(line: &str) -> Given {
    let lines = [
        "unit = \"deg\"",
        "command = [-40, 60]",
        "drive = [37, 122]",
        "rest = 10",
    ];
    let key = |line: &str| line.split(" =").next().map(str::to_owned);
    let mut text = format!("{HEAD}\n[joint.wing_left]\n");
    for kept in lines.iter().filter(|kept| key(kept) != key(line)) {
        let _ = writeln!(text, "{kept}");
    }
    let _ = writeln!(text, "{line}");
    Given::File(text)
}

/// The wing under a head of which a part is another.
fn headed(part: &str, other: &str) -> Given {
    match wing("rest = 10") {
        Given::File(text) => Given::File(text.replace(part, other)),
        other => other,
    }
}

fn file(text: &str) -> Given {
    Given::File(text.to_owned())
}

fn readings(drive: &[f64], measured: &[f64]) -> Given {
    Given::Readings(drive.iter().zip(measured).map(|(x, y)| [*x, *y]).collect())
}

/// Readings of the wing and the file into which they are to be written.
fn into(drive: &[f64], measured: &[f64]) -> Given {
    match (wing("rest = 10"), readings(drive, measured)) {
        (Given::File(text), Given::Readings(rows)) => Given::Into(text, rows),
        (other, _) => other,
    }
}

fn all() -> Vec<(&'static str, Given)> {
    let steps = [0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0];
    vec![
        ("no format", file("name = \"heron\"\n")),
        ("a later format", file("format = 9\nname = \"heron\"\n")),
        ("no TOML", file("format = 1\nname = \"heron\n")),
        ("a key twice", wing("drive = [37, 122]\ndrive = [37, 122]")),
        ("an unknown key", wing("travl = [40, 119]")),
        ("an unknown key of a servo", headed("angle =", "angles =")),
        (
            "a missing key",
            file(&format!(
                "{HEAD}[joint.wing_left]\ncommand = [-40, 60]\ndrive = [37, 122]\n"
            )),
        ),
        ("a text for a number", wing("rest = \"ten\"")),
        ("three numbers for two", wing("command = [-40, 10, 60]")),
        ("a number that is none", wing("rest = nan")),
        ("an infinite number", wing("drive = [37, inf]")),
        ("a command range without width", wing("command = [60, 60]")),
        ("a command range the wrong way round", wing("command = [60, -40]")),
        ("a drive range the wrong way round", wing("drive = [122, 37]")),
        ("a rest outside", wing("rest = 61")),
        ("travel outside", wing("travel = [300, 400]")),
        ("drive beyond the servo", wing("drive = [37, 300]")),
        ("pulses the wrong way round", headed("[500, 2500]", "[2500, 500]")),
        (
            "a frame too short for the pulse",
            headed("frame_hz = 50", "frame_hz = 500"),
        ),
        ("no counts", headed("4096", "0")),
        ("a kind nobody knows", wing("transmission = { kind = \"gear\" }")),
        (
            "a curve that turns back",
            wing("transmission = { kind = \"curve\", knots = [[-40, 37], [10, 90], [60, 80]] }"),
        ),
        (
            "a curve of one knot",
            wing("transmission = { kind = \"curve\", knots = [[-40, 37]] }"),
        ),
        (
            "a triangle that does not close",
            wing("transmission = { kind = \"triangle\", base = 1, arm = 0, angle_at_zero = 0 }"),
        ),
        ("a rate below zero", wing("max_rate_per_s = -5")),
        ("a channel below zero", wing("channel = -1")),
        ("too few readings", readings(&steps[..2], &[1.0, 2.0])),
        (
            "readings of one command",
            readings(&[5.0; 6], &[1.0, 1.1, 0.9, 1.0, 1.0, 1.1]),
        ),
        ("a joint that does not move", readings(&steps, &[4.0; 8])),
        (
            "a reading that is none",
            readings(&steps[..6], &[0.0, 10.0, f64::NAN, 30.0, 40.0, 50.0]),
        ),
        (
            "a command that is none",
            readings(&[0.0, 10.0, f64::INFINITY, 30.0, 40.0, 50.0], &steps[..6]),
        ),
        (
            "readings that fall where the file rises",
            into(
                &[40.0, 52.0, 64.0, 76.0, 88.0, 100.0, 112.0],
                &[56.1, 42.0, 28.1, 14.0, 0.1, -14.1, -28.0],
            ),
        ),
    ]
}

fn number(value: f64) -> String {
    if value.is_nan() {
        "nan".into()
    } else {
        value.to_string()
    }
}

/// Code, line and column (0 where there is none), sentence.
fn fault(given: &Given) -> (Code, usize, usize, String) {
    match given {
        Given::File(text) => {
            let error = Robot::parse(text).expect_err(text);
            (
                error.code(),
                error.line().unwrap_or(0),
                error.column().unwrap_or(0),
                error.to_string(),
            )
        }
        Given::Readings(rows) => {
            let (drive, measured): (Vec<f64>, Vec<f64>) = rows.iter().map(|[x, y]| (*x, *y)).unzip();
            let error = fit_limits(&Readings::new(&drive, &measured), &FitOptions::default()).expect_err("no joint");
            (error.code(), 0, 0, error.to_string())
        }
        Given::Into(text, rows) => {
            let (drive, measured): (Vec<f64>, Vec<f64>) = rows.iter().map(|[x, y]| (*x, *y)).unzip();
            let fit =
                fit_limits(&Readings::new(&drive, &measured), &FitOptions::default()).expect("readings of a joint");
            let robot = Robot::parse(text).expect(text);
            let mut wing = robot.expect_joint("wing_left").expect(text).record();
            let error = wing.put_fit(&Refit::new(&fit), None).expect_err("another joint");
            (error.code(), 0, 0, error.to_string())
        }
    }
}

fn generate() -> String {
    let mut out = String::from(
        "# Made by `WRITE_VECTORS=1 cargo test --test vectors`: faults, and how every language names them.\n",
    );
    for (title, given) in all() {
        let _ = writeln!(out, "F {title}");
        let (text, rows) = match &given {
            Given::File(text) => (text.as_str(), &[][..]),
            Given::Readings(rows) => ("", rows.as_slice()),
            Given::Into(text, rows) => (text.as_str(), rows.as_slice()),
        };
        for line in text.lines() {
            let _ = writeln!(out, "L {line}");
        }
        for [x, y] in rows {
            let _ = writeln!(out, "R {} {}", number(*x), number(*y));
        }
        let (code, line, column, sentence) = fault(&given);
        let _ = writeln!(out, "E {} {} {line} {column}\nM {sentence}", code.number(), code.name());
    }
    out
}

#[test]
fn faults_have_the_recorded_names_and_sentences() {
    let now = generate();
    let recorded = crate::recorded("faults.txt", || now.clone());
    for (now, recorded) in now.lines().zip(recorded.lines()) {
        assert_eq!(now, recorded);
    }
    assert_eq!(now.lines().count(), recorded.lines().count());
}
