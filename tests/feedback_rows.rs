//! Which rows of a sensor's table are taken for wrong, level or displaced, counted over many invented tables with fixed seeds.
#![allow(clippy::indexing_slicing, clippy::unwrap_used, reason = "a test may fail loudly")]

use elbowroom::fit::{FeedbackFit, FeedbackWarning, fit_feedback};
use rand::{RngExt, SeedableRng};
use rand_xorshift::XorShiftRng;

/// Nearly normal, with deviation 1.
fn normal(rng: &mut XorShiftRng) -> f64 {
    (0..12).map(|_| rng.random::<f64>()).sum::<f64>() - 6.0
}

/// What an invented potentiometer reads over -45 to 90 deg, 123 to 839 counts of 10 bits, with a smooth bow.
fn reads(angle: f64, bend: f64) -> f64 {
    let f = (angle + 45.0) / 135.0;
    (f + bend * f * (1.0 - f)) * 716.0 + 123.0
}

/// Equally spaced angles over its range.
fn angles(n: usize) -> Vec<f64> {
    (0..n).map(|i| -45.0 + 135.0 * i as f64 / (n - 1) as f64).collect()
}

/// Its readings and angles that a protractor shows with a scatter of 0.3 deg, to whole degrees or as they are.
fn table(n: usize, bend: f64, is_whole: bool, bits: u32, rng: &mut XorShiftRng) -> (Vec<f64>, Vec<f64>) {
    let scale = f64::from(1u32 << bits) / 1024.0;
    let row = |angle: f64| {
        let shown = angle + 0.3 * normal(rng);
        let shown = if is_whole { shown.round() } else { shown };
        ((reads(angle, bend) * scale).round(), shown)
    };
    angles(n).into_iter().map(row).unzip()
}

fn displaced(fit: &FeedbackFit) -> Option<(usize, f64, f64)> {
    fit.warnings.iter().find_map(|warning| match *warning {
        FeedbackWarning::Displaced { index, by, sd } => Some((index, by, sd)),
        _ => None,
    })
}

/// The most that a map departs from that potentiometer between two angles.
fn worst(fit: &FeedbackFit, bend: f64, [low, high]: [f64; 2]) -> f64 {
    let curve = fit.curve().unwrap();
    let places = (0..=60).map(|i| low + (high - low) * f64::from(i) / 60.0);
    places.fold(0.0, |most, angle| {
        f64::max(most, (curve.at(reads(angle, bend)) - angle).abs())
    })
}

#[test]
fn a_protractor_that_slipped_half_way_up_is_told() {
    let mut rng = XorShiftRng::seed_from_u64(1);
    let right: Vec<f64> = (0..12).map(|i| -40.0 + 120.0 * f64::from(i) / 11.0).collect();
    let reading: Vec<f64> = right.iter().map(|a| (200.0 + 5.0 * (a + 40.0)).round()).collect();
    let mut angle: Vec<f64> = right.iter().map(|a| a + 0.3 * normal(&mut rng)).collect();
    angle.iter_mut().skip(6).for_each(|a| *a += 8.0);
    let fit = fit_feedback(&reading, &angle, 7).unwrap();
    let (index, by, sd) = displaced(&fit).unwrap();
    assert_eq!((index, fit.knots.len(), fit.left_out.len()), (6, 2, 0));
    assert!((by + 8.0).abs() < 1.0 && sd < 0.5, "{by} {sd}");
    // Midway between both parts, as its uncertainty says.
    assert!(fit.residual_sd > 3.5 && fit.u.iter().all(|u| *u > 3.5), "{fit:?}");
    let curve = fit.curve().unwrap();
    for (reading, right) in reading.iter().zip(&right) {
        assert!((curve.at(*reading) - right - 4.0).abs() < 1.0, "{reading}");
    }
    let text = fit.warnings[0].to_string();
    assert!(text.starts_with("from reading 7 on the sensor shows angles "), "{text}");
    assert!(
        text.contains(" deg lower than before, where the SD within both parts is 0."),
        "{text}"
    );
}

#[test]
fn slips_in_tables_one_way_are_told_with_their_row_and_size() {
    // Of a straight sensor from 10 rows on, and of 8 for large ones; of a bent one knots follow a step in few rows.
    let straight = [10, 12, 20, 30, 40]
        .into_iter()
        .flat_map(|n| [4.0, -6.0, 10.0, 15.0].map(|by| (n, 0.0, by)));
    let few = [(8, 0.0, 10.0), (8, 0.0, -15.0)];
    let bent = [
        (12, 0.3, 10.0),
        (20, 0.3, -6.0),
        (30, 0.3, 4.0),
        (40, 0.3, 15.0),
        (20, 0.5, 6.0),
        (40, 0.5, 10.0),
    ];
    for (n, bend, by) in straight.chain(few).chain(bent) {
        for of_sensor in [false, true] {
            // A slip of a sensor so bent displaces no two angles by the same.
            if of_sensor && bend > 0.3 {
                continue;
            }
            let told = (0..30u64).filter(|seed| {
                let mut rng = XorShiftRng::seed_from_u64(*seed);
                let (mut reading, mut angle) = table(n, bend, false, 10, &mut rng);
                let at = rng.random_range(4..=n - 4);
                for row in at..n {
                    if of_sensor {
                        reading[row] = reads(angles(n)[row] + by, bend).round();
                    } else {
                        angle[row] += by;
                    }
                }
                let shown = if of_sensor { by } else { -by };
                let found = displaced(&fit_feedback(&reading, &angle, 7).unwrap());
                found.is_some_and(|(index, found, _)| index.abs_diff(at) <= 1 && (found - shown).abs() < 0.3 * by.abs())
            });
            let told = told.count();
            eprintln!("{n} rows, bend {bend}, {by} deg, sensor {of_sensor}: told in {told} of 30");
            assert!(told >= 27, "{n} {bend} {by} {of_sensor}: {told}");
        }
    }
}

#[test]
fn of_sound_tables_no_slip_is_told_and_good_rows_are_kept() {
    for (n, bend, is_whole, bits) in [
        (8, 0.0, false, 10),
        (16, 0.0, true, 8),
        (10, 0.2, true, 12),
        (12, 0.2, false, 12),
        (9, 0.35, false, 10),
        (12, 0.35, false, 10),
        (9, 0.5, false, 10),
        (10, 0.5, false, 8),
        (16, 0.5, true, 10),
        (16, 0.5, false, 12),
        (20, 0.5, true, 10),
        (40, 0.35, false, 12),
    ] {
        let (mut slips, mut left_out) = (0, 0);
        for seed in 1000..1200 {
            let mut rng = XorShiftRng::seed_from_u64(seed);
            let (reading, angle) = table(n, bend, is_whole, bits, &mut rng);
            let fit = fit_feedback(&reading, &angle, 7).unwrap();
            slips += i32::from(displaced(&fit).is_some());
            left_out += i32::from(!fit.left_out.is_empty());
        }
        let kind = format!("{n} rows, bend {bend}, whole {is_whole}, {bits} bits");
        eprintln!("{kind}: a slip told in {slips}, good rows left out in {left_out} of 200");
        assert!(slips <= 2, "{kind}: {slips}");
        assert!(left_out <= 6, "{kind}: {left_out}");
    }
}

#[test]
fn lost_motion_below_a_fiftieth_of_the_range_is_no_slip() {
    for (bend, lost) in [(0.0, 0.0), (0.0, 2.0), (0.3, 1.0)] {
        for half in [4, 6, 10] {
            let slips = (0..200u64).filter(|seed| {
                let mut rng = XorShiftRng::seed_from_u64(*seed);
                let (there, up) = table(half, bend, false, 10, &mut rng);
                let (back, down) = table(half, bend, false, 10, &mut rng);
                let reading: Vec<f64> = there.into_iter().chain(back.into_iter().rev()).collect();
                let up = up.iter().map(|a| a - 0.5 * lost);
                let angle: Vec<f64> = up.chain(down.iter().rev().map(|a| a + 0.5 * lost)).collect();
                fit_feedback(&reading, &angle, 7).is_ok_and(|fit| displaced(&fit).is_some())
            });
            let slips = slips.count();
            assert!(
                slips <= 2,
                "{half} rows there, lost motion {lost}, bend {bend}: {slips} of 200"
            );
        }
    }
}

/// A row of a bent potentiometer off by more than a glance shows, half of them at the ends.
#[test]
fn one_wrong_row_is_still_found() {
    for (bend, n) in [(0.0, 8), (0.0, 12), (0.3, 12), (0.5, 20)] {
        for off in [8.0, -15.0, 25.0, -40.0, f64::NAN] {
            let found = (0..60u64).filter(|seed| {
                let mut rng = XorShiftRng::seed_from_u64(*seed);
                let (reading, mut angle) = table(n, bend, true, 10, &mut rng);
                let at = [0, n - 1, rng.random_range(0..n), rng.random_range(0..n)][*seed as usize % 4];
                // NaN stands for a forgotten sign.
                let off = if off.is_nan() { -2.0 * angle[at] } else { off };
                angle[at] += off;
                off.abs() < 8.0 || fit_feedback(&reading, &angle, 7).unwrap().left_out.contains(&at)
            });
            let found = found.count();
            assert!(
                found >= 56,
                "{n} rows, bend {bend}, {off} deg off: found in {found} of 60"
            );
        }
    }
}

/// Readings level beyond 50 deg; the row before them is sound, and the map needs it.
#[test]
fn the_sound_row_beside_a_level_end_is_kept() {
    for (bend, most_off) in [(0.3, 3.0), (0.5, 5.0)] {
        let (mut kept, mut off) = (0, Vec::new());
        for seed in 0..100 {
            let mut rng = XorShiftRng::seed_from_u64(seed);
            let truth: Vec<f64> = (0..8).map(|i| -40.0 + 120.0 * f64::from(i) / 7.0).collect();
            let reading: Vec<f64> = truth.iter().map(|a| reads(a.min(50.0), bend).round()).collect();
            let angle: Vec<f64> = truth.iter().map(|a| a + 0.3 * normal(&mut rng)).collect();
            let fit = fit_feedback(&reading, &angle, 7).unwrap();
            kept += i32::from(fit.left_out == [6, 7]);
            off.push(worst(&fit, bend, [-40.0, 50.0]));
        }
        off.sort_by(f64::total_cmp);
        eprintln!(
            "bend {bend}: the two level rows alone left out in {kept} of 100, the map {:.2} deg off",
            off[50]
        );
        assert!(kept >= 97, "{bend}: {kept}");
        assert!(off[50] < most_off, "{bend}: {}", off[50]);
    }
}
