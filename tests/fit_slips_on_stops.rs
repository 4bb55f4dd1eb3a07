//! A reading on a stop that was written down wrong: the outermost reading, or one of those beside it, in tables as people write them.
//!
//! All joints are invented. An outermost value that is ten times too large once let the travel end 30 deg past the stop.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::fit::{EndKind, FitOptions, LimitFit, Readings, fit_limits};
use rand::{RngExt, SeedableRng};
use rand_xorshift::XorShiftRng;

const TABLES: u64 = 40;

/// A kind of slip, and what becomes of a value.
type Slip = (&'static str, fn(f64) -> f64);

/// How a value is written down wrong.
fn slips() -> [Slip; 5] {
    [
        ("decimal place", |value| 10.0 * value),
        ("sign", |value| -value),
        ("ten too many", |value| value + 10.0),
        ("ten too few", |value| value - 10.0),
        ("digits swapped", |value| {
            let (whole, rest) = (value.abs().trunc(), value.abs().fract());
            let tens = (whole / 10.0).floor();
            value.signum() * (10.0 * (whole - 10.0 * tens) + tens + rest)
        }),
    ]
}

/// 9 to 13 readings from 20 to 140 deg, the first two to four of them on the lower stop; and where that is.
fn table(seed: u64) -> (Vec<f64>, Vec<f64>, f64) {
    let mut rng = XorShiftRng::seed_from_u64(seed);
    let count = 9 + seed % 5;
    let stop = rng.random_range(40.0..60.0);
    let slope = rng.random_range(0.8..1.4);
    let level = rng.random_range(-60.0..-40.0);
    let drive: Vec<f64> = (0..count)
        .map(|i| (20.0 + 120.0 * i as f64 / (count - 1) as f64).round())
        .collect();
    let measured = drive.iter().map(|drive| {
        let noise: f64 = (0..4).map(|_| rng.random_range(-0.175..0.175)).sum();
        (10.0 * (level + slope * f64::max(*drive, stop) + noise)).round() / 10.0
    });
    let measured = measured.collect();
    (drive, measured, stop)
}

fn fitted(drive: &[f64], measured: &[f64]) -> LimitFit {
    fit_limits(&Readings::new(drive, measured), &FitOptions::default()).unwrap()
}

#[test]
fn a_slip_on_a_stop_lets_no_travel_pass_it() {
    let (mut tables, mut past, mut silent, mut named) = (0, 0, 0, 0);
    for (slip, wrong) in slips() {
        for row in 0..3 {
            for seed in 0..TABLES {
                let (drive, mut measured, stop) = table(seed);
                let right = measured[row];
                measured[row] = wrong(right);
                // A slip below the noise is none, and the third reading may lie before the stop.
                if (measured[row] - right).abs() < 2.0 || drive[row] > stop {
                    continue;
                }
                let fit = fitted(&drive, &measured);
                tables += 1;
                named += usize::from(fit.rejected.iter().any(|rejected| rejected.index == row));
                if fit.travel.is_some_and(|[lower, _]| lower < stop - 1.0) {
                    past += 1;
                    silent += usize::from(fit.warnings.is_empty());
                    println!(
                        "{slip} in row {row} of table {seed}: travel {:?}, stop {stop:.1}, {measured:?}",
                        fit.travel
                    );
                }
            }
        }
    }
    println!("{past} of {tables} past the stop, {silent} of them without a warning, {named} named");
    assert!(100 * past <= 2 * tables, "{past} of {tables}");
    assert!(200 * silent <= tables, "{silent} of {tables}");
    assert!(4 * named >= 3 * tables, "{named} of {tables}");
}

/// The same tables without a slip, and one table whose outermost value is ten times too large.
#[test]
fn a_sound_table_keeps_its_stop() {
    for seed in 0..TABLES {
        let (drive, measured, stop) = table(seed);
        let fit = fitted(&drive, &measured);
        assert!(
            fit.travel.unwrap()[0] > stop - 1.0 && fit.rejected.is_empty(),
            "{seed}: {fit:?}"
        );
    }
    let drive = [20.0, 33.0, 47.0, 60.0, 73.0, 87.0, 100.0, 113.0, 127.0, 140.0];
    let measured = [-43.0, -4.2, -4.7, 6.3, 20.2, 35.7, 50.2, 64.2, 80.2, 93.5];
    let fit = fitted(&drive, &measured);
    // The first value should read -4.3; the stop stands at 50.4.
    assert_eq!(
        fit.rejected.iter().map(|rejected| rejected.index).collect::<Vec<_>>(),
        [0]
    );
    assert!(
        fit.lower.kind != EndKind::Clear && fit.travel.unwrap()[0] > 49.0,
        "{fit:?}"
    );
}
