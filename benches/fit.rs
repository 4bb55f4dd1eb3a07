//! How long limit fits take, beside scipy's robust `least_squares` on the same readings in the same run.
//!
//! `cargo bench --bench fit`. The second column needs a Python with numpy and scipy: `PYTHON=path` names it, and without
//! one the bench says so and shows the first column alone.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a bench stops at the first thing that is not as it must be"
)]

use elbowroom::fit::{Approach, EndKind, FitOptions, LimitFit, Readings, fit_limits, fit_many};
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, Normal};
use rand_xorshift::XorShiftRng;
use std::io::Write;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// A joint of slope 0.9 between stops, noise 0.3, one reading in twenty 5 to 30 off.
fn joint(n: usize, seed: u64) -> (Vec<f64>, Vec<f64>) {
    let mut rng = XorShiftRng::seed_from_u64(seed);
    let noise = Normal::new(0.0, 0.3).unwrap();
    let x: Vec<f64> = (0..n).map(|i| 80.0 * i as f64 / (n - 1) as f64).collect();
    let y = x
        .iter()
        .map(|x| {
            let off = if rng.random_range(0.0..1.0) < 0.05 {
                rng.random_range(5.0..30.0)
            } else {
                0.0
            };
            0.9 * x.clamp(11.0, 68.0) + off + noise.sample(&mut rng)
        })
        .collect();
    (x, y)
}

/// The fastest of repeated runs: what else the machine does can only add.
fn timed<T>(rounds: usize, mut run: impl FnMut() -> T) -> Duration {
    (0..rounds)
        .map(|_| {
            let start = Instant::now();
            std::hint::black_box(run());
            start.elapsed()
        })
        .min()
        .unwrap()
}

fn fit(x: &[f64], y: &[f64]) -> LimitFit {
    fit_limits(&Readings::new(x, y), &FitOptions::default()).unwrap()
}

/// Seconds and knees of scipy on the same readings; `None` without scipy.
fn scipy(x: &[f64], y: &[f64], rounds: usize) -> Option<[f64; 3]> {
    let python = std::env::var("PYTHON").unwrap_or_else(|_| String::from("python3"));
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/benches/least_squares.py");
    let mut child = Command::new(python)
        .args([script, &rounds.to_string()])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .ok()?;
    let mut text = String::new();
    for (x, y) in x.iter().zip(y) {
        text += &format!("{x:?} {y:?}\n");
    }
    child.stdin.take()?.write_all(text.as_bytes()).ok()?;
    let out = child.wait_with_output().ok()?;
    let numbers: Vec<f64> = String::from_utf8(out.stdout)
        .ok()?
        .split_whitespace()
        .filter_map(|v| v.parse().ok())
        .collect();
    numbers.try_into().ok()
}

fn main() {
    println!("| readings | elbowroom | knees | scipy least_squares, soft_l1 | knees | ratio |");
    println!("| --- | --- | --- | --- | --- | --- |");
    for (n, rounds) in [(42, 400), (200, 200), (2000, 50), (20_000, 20), (1_000_000, 3)] {
        let (x, y) = joint(n, 7);
        let ours = timed(rounds, || fit(&x, &y));
        let found = fit(&x, &y);
        assert!(
            found.lower.kind == EndKind::Contact && found.upper.kind == EndKind::Contact,
            "both stops are met"
        );
        print!(
            "| {n} | {:.3} ms | {:.2}, {:.2} |",
            1e3 * ours.as_secs_f64(),
            found.lower.at,
            found.upper.at
        );
        match scipy(&x, &y, rounds.min(if n > 100_000 { 1 } else { 20 })) {
            Some([seconds, lower, upper]) => println!(
                " {:.3} ms | {lower:.2}, {upper:.2} | {:.0} |",
                1e3 * seconds,
                seconds / ours.as_secs_f64()
            ),
            None => println!(" skipped: no Python with numpy and scipy (PYTHON names one) | - | - |"),
        }
    }
    // Without a stop each end is asked whether it is level; repeats make few places of many readings.
    for n in [200, 20_000] {
        let (x, y) = joint(n, 9);
        let free: Vec<f64> = x
            .iter()
            .zip(&y)
            .map(|(x, y)| y - 0.9 * x.clamp(11.0, 68.0) + 0.9 * x)
            .collect();
        let repeated: Vec<f64> = x.iter().map(|x| 4.0 * (x / 4.0).round()).collect();
        let on_places: Vec<f64> = repeated
            .iter()
            .zip(&x)
            .zip(&y)
            .map(|((at, x), y)| y - 0.9 * x.clamp(11.0, 68.0) + 0.9 * at.clamp(11.0, 68.0))
            .collect();
        println!(
            "{n} readings without a stop: {:.3} ms; on 21 commands: {:.3} ms",
            1e3 * timed(20, || fit(&x, &free)).as_secs_f64(),
            1e3 * timed(20, || fit(&repeated, &on_places)).as_secs_f64()
        );
    }
    // Few readings: all hypotheses are weighed, which is more work than a search.
    for n in [9, 12, 18] {
        let tables: Vec<(Vec<f64>, Vec<f64>)> = (0..20)
            .map(|seed| {
                let mut rng = XorShiftRng::seed_from_u64(seed);
                let noise = Normal::new(0.0, 0.3).unwrap();
                let last = (n - 1) as f64;
                let x: Vec<f64> = (0..n).map(|i| 80.0 * i as f64 / last).collect();
                let reach = 80.0 / last;
                let y = x
                    .iter()
                    .map(|x| (0.9 * x.clamp(0.5 * reach, 80.0 - 0.5 * reach) + noise.sample(&mut rng)).round())
                    .collect();
                (x, y)
            })
            .collect();
        let all = timed(5, || tables.iter().map(|(x, y)| fit(x, y).readings).sum::<usize>());
        println!(
            "{n} readings in whole degrees, one on each stop: {:.2} ms",
            1e3 * all.as_secs_f64() / tables.len() as f64
        );
    }
    // Up and down with lost motion: the directions double the work.
    let (x, y) = joint(200, 8);
    let approach: Vec<Approach> = (0..200)
        .map(|i| if i % 2 == 0 { Approach::Below } else { Approach::Above })
        .collect();
    let y: Vec<f64> = y.iter().zip(&approach).map(|(y, a)| y - 0.5 * a.sign()).collect();
    let told = timed(100, || {
        fit_limits(&Readings::new(&x, &y).with_approach(&approach), &FitOptions::default())
    });
    println!("\n200 readings with approach: {:.3} ms", 1e3 * told.as_secs_f64());
    let joints: Vec<(Vec<f64>, Vec<f64>)> = (0..1000).map(|seed| joint(42, seed)).collect();
    let readings: Vec<Readings<'_>> = joints.iter().map(|(x, y)| Readings::new(x, y)).collect();
    let many = || fit_many(&readings, &FitOptions::default());
    #[cfg(not(feature = "parallel"))]
    println!(
        "1000 joints of 42 readings, one thread: {:.1} ms (--features parallel adds all cores)",
        1e3 * timed(5, many).as_secs_f64()
    );
    #[cfg(feature = "parallel")]
    {
        let pool = |threads| rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let (one, all) = (pool(1), pool(0));
        let (mut alone, mut shared) = (Duration::MAX, Duration::MAX);
        // In turn, so that both see the same machine.
        for _ in 0..5 {
            alone = alone.min(timed(1, || one.install(many)));
            shared = shared.min(timed(1, || all.install(many)));
        }
        println!(
            "1000 joints of 42 readings: {:.1} ms on one thread, {:.1} ms on {}: {:.2} times as fast",
            1e3 * alone.as_secs_f64(),
            1e3 * shared.as_secs_f64(),
            all.current_num_threads(),
            alone.as_secs_f64() / shared.as_secs_f64()
        );
    }
}
