//! Rows at drive angles far from all others: totals, and angles with a digit too many. The tables are invented.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::fit::{EndKind, FitOptions, LimitFit, Readings, RejectReason, fit_limits};
use rand::{RngExt, SeedableRng};
use rand_xorshift::XorShiftRng;

fn fit(drive: &[f64], measured: &[f64]) -> LimitFit {
    fit_limits(&Readings::new(drive, measured), &FitOptions::default()).unwrap()
}

/// Ten rows, the last two on a stop. With the row of totals the upper end was called clear, and the travel ran 13 deg past the stop.
const DRIVE: [f64; 10] = [40.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0, 110.0, 120.0, 125.0];
const MEASURED: [f64; 10] = [-31.0, -20.8, -11.1, -1.0, 9.1, 18.9, 29.0, 39.1, 41.2, 41.1];

fn with_row(at: usize, row: [f64; 2]) -> (Vec<f64>, Vec<f64>) {
    let (mut drive, mut measured) = (DRIVE.to_vec(), MEASURED.to_vec());
    drive.insert(at, row[0]);
    measured.insert(at, row[1]);
    (drive, measured)
}

#[test]
fn a_row_of_totals_changes_no_end_and_is_named() {
    let without = fit(&DRIVE, &MEASURED);
    assert_eq!(without.upper.kind, EndKind::Contact);
    for (at, row) in [
        (10, [1430.0, 115.3]),
        (10, [2000.0, 100.0]),
        (10, [1430.0, -115.0]),
        (0, [1430.0, 115.3]),
        (4, [-1430.0, 115.3]),
        // On the level of the stop.
        (10, [1250.0, 41.2]),
    ] {
        let (drive, measured) = with_row(at, row);
        let found = fit(&drive, &measured);
        assert_eq!(found.travel, without.travel, "{row:?}");
        let [rejected] = &found.rejected[..] else {
            panic!("{row:?}: {:?}", found.rejected)
        };
        assert_eq!(
            (rejected.index, rejected.reason),
            (at, RejectReason::DriveFarOff),
            "{row:?}"
        );
        assert_eq!((rejected.drive, rejected.measured), (row[0], row[1]));
        assert_eq!(found.readings, 11);
    }
}

/// Far out, but on the line: somebody took a coarse step.
#[test]
fn a_reading_far_out_on_the_line_is_kept() {
    let drive: Vec<f64> = (0..11).map(f64::from).chain([60.0]).collect();
    let wave = [0.1, -0.1, 0.0, 0.1, 0.0, -0.1];
    let measured: Vec<f64> = (drive.iter().enumerate())
        .map(|(i, x)| 0.5 * x + wave[i % wave.len()])
        .collect();
    let found = fit(&drive, &measured);
    assert!(found.rejected.is_empty(), "{:?}", found.rejected);
    assert_eq!(found.travel, Some([0.0, 60.0]));
}

/// Any one angle with a digit too many, in tables with one or several readings on each stop.
#[test]
fn an_angle_with_a_digit_too_many_hides_no_stop() {
    let (mut past, mut named, mut tables) = (0, 0, 0);
    for seed in 0..60 {
        let mut rng = XorShiftRng::seed_from_u64(0x6661_7200 + seed);
        let step = [5.0, 7.5, 10.0][rng.random_range(0..3)];
        let drive: Vec<f64> = (0..rng.random_range(9..16))
            .map(|i| 40.0 + step * f64::from(i))
            .collect();
        let last = drive[drive.len() - 1];
        let stops = [
            40.0 + rng.random_range(0.3..1.8) * step,
            last - rng.random_range(0.3..1.8) * step,
        ];
        let measured: Vec<f64> = drive
            .iter()
            .map(|x| (2.0 * (x.clamp(stops[0], stops[1]) - 80.0) + rng.random_range(-0.6..0.6)).round() / 2.0)
            .collect();
        let wrong = rng.random_range(0..drive.len());
        let mut typed = drive.clone();
        typed[wrong] *= 10.0;
        let found = fit(&typed, &measured);
        tables += 1;
        named += usize::from(found.rejected.iter().any(|one| one.index == wrong));
        past += usize::from(found.lower.travel < stops[0] - 1.5) + usize::from(found.upper.travel > stops[1] + 1.5);
    }
    println!("{named} of {tables} named, past at {past} ends");
    assert!(past <= 1, "past at {past} of {} ends", 2 * tables);
    assert!(named * 20 >= tables * 19, "{named} of {tables}");
}
