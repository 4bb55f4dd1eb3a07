//! A million curve evaluations beside scipy's `PchipInterpolator`, in one run: the ratio, not the time, is the result.
//!
//! `cargo bench --bench curve`; needs a Python with numpy and scipy, named by the variable `PYTHON` (default `python3`).
//! Both sides get the same knots, the same rule and the same places; their largest difference is printed as well, and the time
//! that a whole joint with that curve takes for drive angles, and a single value for its way back.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, missing_docs)]

use std::io::{BufRead, BufReader, Read, Write};
use std::process::{ChildStdin, ChildStdout, Command, Stdio};
use std::time::Instant;

use elbowroom::curve::{Curve, SlopeRule};
use elbowroom::{Joint, JointRecord, ServoRecord, TimerRecord, TransmissionRecord};

const EVALUATIONS: usize = 1_000_000;
const ROUNDS: usize = 60;

/// Says that it is there, reads knots and places, then evaluates for each line it gets: once untimed, as we do, since the
/// other side has meanwhile had the processor's memory to itself. Both sides are kept on one core where the system lets them
/// be: the others may be busy for somebody else, and then slower.
const SCIPY: &str = r#"
import os, sys, time
import numpy as np
if hasattr(os, "sched_setaffinity"):
    core = {min(os.sched_getaffinity(0))}
    for side in [0, os.getppid()]:
        os.sched_setaffinity(side, core)
from scipy.interpolate import PchipInterpolator
print(0.0, flush=True)
read = lambda n: np.frombuffer(sys.stdin.buffer.read(8 * n), dtype="<f8")
while True:
    line = sys.stdin.buffer.readline().split()
    if not line:
        break
    n, m, rounds = map(int, line)
    x, y, q = read(n), read(n), read(m)
    f = PchipInterpolator(x, y)
    for _ in range(rounds):
        sys.stdin.buffer.readline()
        f(q)
        start = time.perf_counter()
        out = f(q)
        print(time.perf_counter() - start, flush=True)
    sys.stdout.buffer.write(out.astype("<f8").tobytes())
    sys.stdout.buffer.flush()
"#;

fn send(to: &mut ChildStdin, values: &[f64]) {
    let bytes: Vec<u8> = values.iter().flat_map(|v| v.to_le_bytes()).collect();
    to.write_all(&bytes).unwrap();
}

/// None at the end.
fn number(from: &mut BufReader<ChildStdout>) -> Option<f64> {
    let mut line = String::new();
    from.read_line(&mut line).unwrap();
    line.trim().parse().ok()
}

/// The least: whatever else runs on the machine can only add to it.
fn least(values: &[f64]) -> f64 {
    values.iter().fold(f64::INFINITY, |least, &v| least.min(v))
}

/// A small generator (xorshift64*), so that places are the same in every run.
fn random(state: &mut u64) -> f64 {
    *state ^= *state >> 12;
    *state ^= *state << 25;
    *state ^= *state >> 27;
    (state.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / (1u64 << 53) as f64
}

/// A joint whose transmission is the curve through these points.
fn joint(points: &[[f64; 2]]) -> Joint<f64> {
    let servo = ServoRecord {
        angle: [0.0, 180.0],
        pulse_us: [500.0, 2500.0],
    };
    let timer = TimerRecord {
        frame_hz: 50.0,
        counts_per_frame: 4096,
    };
    let (first, last) = (points[0], points[points.len() - 1]);
    let mut record = JointRecord::new([first[0], last[0]], [first[1], last[1]], first[0], servo, timer);
    record.transmission = TransmissionRecord::Curve {
        knots: points.to_vec(),
        rule: SlopeRule::HarmonicChord,
    };
    Joint::new(record).unwrap()
}

fn main() {
    let python = std::env::var("PYTHON").unwrap_or_else(|_| "python3".into());
    let mut child = Command::new(&python)
        .args(["-c", SCIPY])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut to = child.stdin.take().unwrap();
    let mut from = BufReader::new(child.stdout.take().unwrap());
    if number(&mut from).is_none() {
        eprintln!("error: {python} has no numpy and scipy; the variable PYTHON may name one that has");
        std::process::exit(1);
    }

    println!("{EVALUATIONS} evaluations, least of {ROUNDS} rounds taken in turn");
    for knots in [16usize, 256] {
        for order in ["random", "sorted"] {
            let mut state = 0x9E37_79B9_7F4A_7C15;
            let (mut x, mut y) = (0.0, 5.0);
            let points: Vec<[f64; 2]> = (0..knots)
                .map(|_| {
                    let point = [x, y];
                    x += 0.2 + random(&mut state);
                    y += 0.05 + random(&mut state);
                    point
                })
                .collect();
            let last = points[knots - 1][0];
            let mut places: Vec<f64> = (0..EVALUATIONS).map(|_| random(&mut state) * last).collect();
            if order == "sorted" {
                places.sort_by(f64::total_cmp);
            }
            let curve = Curve::new(&points, SlopeRule::HarmonicChord).unwrap();
            let joint = joint(&points);
            let (mut out, mut drives) = (vec![0.0; EVALUATIONS], vec![0.0; EVALUATIONS]);

            writeln!(to, "{knots} {EVALUATIONS} {ROUNDS}").unwrap();
            send(&mut to, &points.iter().map(|p| p[0]).collect::<Vec<_>>());
            send(&mut to, &points.iter().map(|p| p[1]).collect::<Vec<_>>());
            send(&mut to, &places);
            let (mut ours, mut theirs, mut whole, mut back) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
            for _ in 0..ROUNDS {
                writeln!(to).unwrap();
                theirs.push(number(&mut from).unwrap());
                curve.at_batch(std::hint::black_box(&places), &mut out);
                let start = Instant::now();
                curve.at_batch(std::hint::black_box(&places), &mut out);
                ours.push(start.elapsed().as_secs_f64());
                joint.drive_batch(std::hint::black_box(&places), &mut drives).unwrap();
                let start = Instant::now();
                joint.drive_batch(std::hint::black_box(&places), &mut drives).unwrap();
                whole.push(start.elapsed().as_secs_f64());
                let start = Instant::now();
                std::hint::black_box(
                    out.iter()
                        .take(EVALUATIONS / 10)
                        .map(|&y| curve.inverse(y))
                        .sum::<f64>(),
                );
                back.push(start.elapsed().as_secs_f64() * 10.0);
            }
            assert_eq!(out, drives);
            let mut bytes = vec![0; 8 * EVALUATIONS];
            from.read_exact(&mut bytes).unwrap();
            let difference = bytes.chunks_exact(8).zip(&out).fold(0.0f64, |worst, (b, ours)| {
                worst.max((f64::from_le_bytes(b.try_into().unwrap()) - ours).abs())
            });
            let range = points[knots - 1][1] - points[0][1];
            let [ours, theirs, whole, back] = [ours, theirs, whole, back].map(|times| least(&times));
            println!(
                "{knots:3} knots, {order}: ours {:5.1} ns, scipy {:5.1} ns each: {:4.1} times as fast; largest difference {:.1e} of the range; joint {:4.1} ns, inverse {:5.1} ns",
                ours * 1e9 / EVALUATIONS as f64,
                theirs * 1e9 / EVALUATIONS as f64,
                theirs / ours,
                difference / range,
                whole * 1e9 / EVALUATIONS as f64,
                back * 1e9 / EVALUATIONS as f64,
            );
        }
    }
    drop(to);
    child.wait().unwrap();
}
