//! Readings that show two levels at one end: neighbouring rows misread alike, and a drive that falls back behind its stop.
//!
//! Invented joints on a sweep of 33 readings, 5 deg apart, with normal scatter of 0.3 deg. A level further out than another is no place
//! that the joint reached, whichever of the two was misread. Before the inner level counted, most tables with three misread rows beside
//! three or four sound ones on the lower stop gave a travel past it.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::fit::{EndKind, FitOptions, LimitFit, Readings, Warning, fit_limits};
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, Normal};
use rand_xorshift::XorShiftRng;

fn sweep() -> Vec<f64> {
    (0..33).map(|i| 10.0 + 5.0 * f64::from(i)).collect()
}

fn fit(drive: &[f64], measured: &[f64]) -> Option<LimitFit> {
    fit_limits(&Readings::new(drive, measured), &FitOptions::default()).ok()
}

#[test]
fn of_two_levels_the_inner_one_holds() {
    let drive = sweep();
    let mut measured: Vec<f64> = drive.iter().map(|x| x.clamp(40.0, 130.0)).collect();
    measured[1..4].fill(28.0);
    let got = fit(&drive, &measured).unwrap();
    assert_eq!(
        (got.lower.kind, got.lower.at, got.lower.short_at),
        (EndKind::Stalled, 40.0, Some(35.0))
    );
    assert_eq!((got.lower.travel, got.upper.kind), (42.0, EndKind::Contact));
    let said = Warning::FellShort {
        at: 40.0,
        short_at: 35.0,
        readings: 3,
    };
    assert_eq!(got.warnings, [said]);
    assert!(got.rejected.is_empty(), "what the inner level holds is not misread");
}

/// By sound rows on the lower stop: tables, and those whose travel goes past it.
#[test]
fn three_rows_misread_alike_seldom_hide_a_stop() {
    let scatter = Normal::new(0.0, 0.3).unwrap();
    let mut counted = [[0; 2]; 6];
    for seed in 0..600 {
        let mut rng = XorShiftRng::seed_from_u64(seed);
        let stops = [rng.random_range(30.0..50.0), rng.random_range(120.0..140.0)];
        let drive = sweep();
        let place = |x: &f64| x.clamp(stops[0], stops[1]);
        let mut measured: Vec<f64> = drive.iter().map(|x| place(x) + scatter.sample(&mut rng)).collect();
        let beyond = drive.iter().filter(|x| **x < stops[0]).count();
        let (first, off) = (rng.random_range(0..(beyond - 3).max(1)), rng.random_range(8.0..15.0));
        measured[first..first + 3].iter_mut().for_each(|value| *value -= off);
        let Some(fit) = fit(&drive, &measured) else { continue };
        let row = &mut counted[beyond - 3];
        row[0] += 1;
        row[1] += usize::from(fit.travel.is_some_and(|[lower, _]| lower < stops[0]));
    }
    for (sound, [tables, past]) in counted.into_iter().enumerate().skip(3) {
        // Three against three tell least.
        let most = if sound == 3 { tables / 10 } else { tables / 50 };
        println!("{sound} sound rows: past the stop in {past} of {tables}");
        assert!(tables > 100 && past <= most, "{sound}: {past} of {tables}");
    }
}

/// Behind its stop the drive gives up and falls back: no slip, though all values from there on are displaced together.
#[test]
fn a_drive_that_falls_back_hides_no_stop() {
    let drive = sweep();
    let sound: Vec<f64> = drive.iter().map(|x| x.clamp(40.0, 130.0)).collect();
    let mut measured = sound.clone();
    measured[28..].fill(90.0);
    let got = fit(&drive, &measured).unwrap();
    let [_, upper] = got.travel.unwrap();
    assert!((115.0..128.0).contains(&upper), "{upper}");

    let scatter = Normal::new(0.0, 0.3).unwrap();
    let (mut tables, mut past) = (0, Vec::new());
    for seed in 0..300 {
        let mut rng = XorShiftRng::seed_from_u64(seed);
        let stops = [rng.random_range(30.0..50.0), rng.random_range(120.0..140.0)];
        let (falls, back) = (rng.random_range(1..5), rng.random_range(25.0..60.0));
        let from = drive.iter().filter(|x| **x < stops[1]).count() + falls;
        let measured: Vec<f64> = drive
            .iter()
            .enumerate()
            .map(|(i, x)| x.clamp(stops[0], stops[1]) - if i >= from { back } else { 0.0 } + scatter.sample(&mut rng))
            .collect();
        let Some(travel) = fit(&drive, &measured).and_then(|fit| fit.travel) else {
            continue;
        };
        tables += 1;
        if travel[1] > stops[1] {
            past.push((seed, travel[1] - stops[1]));
        }
    }
    assert!(
        tables > 250 && past.len() * 50 <= tables,
        "past the stop in {} of {tables}: {past:?}",
        past.len()
    );
}
