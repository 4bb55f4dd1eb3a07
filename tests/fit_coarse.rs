//! Sweeps in steps so coarse that most readings lie on the stops, where they repeat each other exactly, and few between them; invented
//! joints with known stops.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::fit::{Approach, EndKind, FitError, FitOptions, LimitFit, LostMotion, Readings, Warning, fit_limits};
use rand::{RngExt as _, SeedableRng as _};
use rand_distr::{Distribution as _, Normal};
use rand_xorshift::XorShiftRng;

/// Drive angles read from below, then the same from above.
fn there_and_back(drive: &[f64], below: &[f64], above: &[f64]) -> Result<LimitFit, FitError> {
    let drives: Vec<f64> = drive.iter().chain(drive.iter().rev()).copied().collect();
    let measured: Vec<f64> = below.iter().chain(above.iter().rev()).copied().collect();
    let sides = [vec![Approach::Below; drive.len()], vec![Approach::Above; drive.len()]].concat();
    fit_limits(
        &Readings::new(&drives, &measured).with_approach(&sides),
        &FitOptions::default(),
    )
}

fn is_at(fit: &LimitFit, stops: [f64; 2], within: f64) {
    for (end, stop) in [(fit.lower, stops[0]), (fit.upper, stops[1])] {
        let [low, high] = end.interval.unwrap();
        assert!(low <= stop && stop <= high, "{end:?}, {stop}");
        assert!((end.at - stop).abs() < within, "{end:?}, {stop}");
    }
}

/// Eight of fourteen readings lie on the stops and scatter by nothing: measured by them, every reading between the stops lies
/// far off, and a line through any two of them is exact. Stops at 59.24 and 126.15.
#[test]
fn readings_on_the_stops_tell_nothing_of_the_scatter_between_them() {
    let fit = there_and_back(
        &[20.0, 42.0, 64.0, 86.0, 108.0, 130.0, 152.0],
        &[-121.0, -121.0, -126.0, -155.0, -183.0, -208.0, -208.0],
        &[-121.0, -121.0, -128.0, -157.0, -185.5, -208.0, -208.0],
    )
    .unwrap();
    is_at(&fit, [59.24, 126.15], 0.5);
    assert!(fit.rejected.is_empty(), "{:?}", fit.rejected);
}

/// Two drive angles between the stops. Stops at 56.64 and 112.84.
#[test]
fn two_drive_angles_between_the_stops_make_a_line() {
    let fit = there_and_back(
        &[20.0, 45.0, 70.0, 95.0, 120.0, 145.0],
        &[80.5, 80.5, 96.0, 127.0, 150.5, 150.5],
        &[80.5, 81.0, 98.5, 130.0, 150.5, 150.0],
    )
    .unwrap();
    is_at(&fit, [56.64, 112.84], 0.5);
}

#[test]
fn coarse_sweeps_keep_the_travel_inside_the_stops() {
    let (mut ends, mut past, mut placed, mut held) = (0, 0, 0, 0);
    for seed in 0..400 {
        let mut rng = XorShiftRng::seed_from_u64(seed);
        let step = rng.random_range(14.0..26.0);
        let count = rng.random_range(6..10);
        let drive: Vec<f64> = (0..count).map(|i| (20.0 + step * f64::from(i)).round()).collect();
        let n = drive.len();
        let stops = [
            rng.random_range(drive[1] + 1.0..drive[2] + 0.5 * step),
            rng.random_range(drive[n - 3] - 0.5 * step..drive[n - 2] - 1.0),
        ];
        let between = drive.iter().filter(|d| stops[0] + 2.0 < **d && **d < stops[1] - 2.0);
        if between.count() < 2 {
            continue;
        }
        let slope = rng.random_range(0.7..1.5) * if rng.random() { 1.0 } else { -1.0 };
        let lost: f64 = rng.random_range(0.5..3.0);
        let noise = Normal::new(0.0, 0.2).unwrap();
        let mut read = |side: f64| -> Vec<f64> {
            let one = |d: &f64| {
                let at = (d - 0.5 * side * lost).clamp(stops[0], stops[1]);
                (2.0 * (slope * at + noise.sample(&mut rng))).round() / 2.0
            };
            drive.iter().map(one).collect()
        };
        let (below, above) = (read(1.0), read(-1.0));
        let fit = there_and_back(&drive, &below, &above).unwrap();
        for (end, stop, way) in [(fit.lower, stops[0], -1.0), (fit.upper, stops[1], 1.0)] {
            ends += 1;
            past += u32::from(way * (end.travel - stop) > 1.0 + 4.0 * 0.2 / slope.abs());
            if let Some([low, high]) = end.interval {
                placed += 1;
                held += u32::from(low <= stop && stop <= high);
            }
        }
    }
    assert!(500 * past <= ends, "{past} of {ends}");
    assert!(100 * placed >= 95 * ends, "{placed} of {ends}");
    assert!(f64::from(held) >= 0.93 * f64::from(placed), "{held} of {placed}");
}

/// At the lowest drive angle one reading follows the line and another falls short of it by four times the lost motion. Joints with a
/// stop there and without one may both have been read so.
#[test]
fn last_readings_that_contradict_each_other_are_named() {
    let drive: Vec<f64> = (0..11).map(|i| 44.0 + 10.0 * f64::from(i)).collect();
    let fit = there_and_back(
        &drive,
        &[
            -5.5, -6.0, -13.5, -22.0, -30.0, -38.0, -46.0, -54.5, -62.0, -70.5, -78.5,
        ],
        &[1.0, -7.5, -16.0, -24.0, -32.0, -40.0, -48.0, -56.0, -64.5, -72.5, -80.0],
    )
    .unwrap();
    assert!(matches!(fit.lost_motion, LostMotion::Measured { drive, .. } if drive < 3.0));
    assert_eq!((fit.lower.kind, fit.lower.at), (EndKind::Clear, 44.0));
    assert!(
        fit.warnings.contains(&Warning::LastDisagree { at: 44.0, readings: 1 }),
        "{:?}",
        fit.warnings
    );
    assert_eq!(fit.rejected.len(), 1);
    assert_ne!(fit.rejected[0].reason, elbowroom::fit::RejectReason::NotTakenUp);
}
