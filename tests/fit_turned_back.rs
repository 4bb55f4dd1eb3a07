//! Tables there and back whose outermost row was read once, held by a stop: the commonest way to write them.
//!
//! The first joint is that of a person who tried the library with a table of their own; the others are invented.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test may stop where something cannot be"
)]

use elbowroom::fit::{
    Approach, EndKind, FitOptions, LimitFit, LostMotion, NotDeterminable, Readings, Warning, fit_limits,
};
use rand::SeedableRng;
use rand_distr::{Distribution, Normal};
use rand_xorshift::XorShiftRng;

const DRIVE: [f64; 14] = [
    26.0, 35.0, 45.0, 55.0, 65.0, 75.0, 85.0, 95.0, 105.0, 115.0, 125.0, 135.0, 145.0, 153.0,
];
/// Stops at drive 31.5 and 148; whole degrees.
const MEASURED: [f64; 14] = [
    -60.0, -56.0, -46.0, -35.0, -24.0, -13.0, -2.0, 8.0, 19.0, 30.0, 41.0, 52.0, 62.0, 66.0,
];
const STOPS: [f64; 2] = [31.5, 148.0];

fn there_and_back(there: &[f64]) -> Vec<f64> {
    let back = there.iter().rev().skip(1).take(there.len() - 2);
    there.iter().chain(back).copied().collect()
}

fn sides() -> Vec<Approach> {
    let count = DRIVE.len();
    let mut sides = vec![Approach::Below; count];
    sides.resize(2 * count - 2, Approach::Above);
    sides
}

/// Each end is said to be held: no stop is placed short of the true one, and none is missed without a word.
fn held(fit: &LimitFit, name: &str) {
    for (end, stop, out) in [(&fit.lower, STOPS[0], -1.0), (&fit.upper, STOPS[1], 1.0)] {
        match end.kind {
            EndKind::Stalled => {
                let short_at = end.short_at.unwrap();
                assert!(
                    out * (stop - end.at) > 0.0 && out * (short_at - stop) > 0.0,
                    "{name}: {end:?}"
                );
                let said = |w: &Warning| matches!(w, Warning::FellShort { at, .. } if *at == end.at);
                assert!(fit.warnings.iter().any(said), "{name}: {:?}", fit.warnings);
            }
            EndKind::Contact => {
                let [low, high] = end.interval.unwrap();
                assert!(low <= stop && stop <= high, "{name}: {end:?}");
            }
            _ => assert!(
                !fit.warnings.is_empty(),
                "{name}: the end is clear and nothing is said: {end:?}"
            ),
        }
    }
}

#[test]
fn a_turn_on_a_stop_is_a_stall_and_no_slip_of_the_pen() {
    let (drive, measured, sides) = (there_and_back(&DRIVE), there_and_back(&MEASURED), sides());
    for (name, readings) in [
        ("sides by the order", Readings::new(&drive, &measured)),
        ("sides told", Readings::new(&drive, &measured).with_approach(&sides)),
    ] {
        let fit = fit_limits(&readings, &FitOptions::default()).unwrap();
        held(&fit, name);
        assert!(
            fit.rejected.iter().all(|r| r.index != 0 && r.index != DRIVE.len() - 1),
            "{name}: {:?}",
            fit.rejected
        );
    }
    // Enough rows that all hypotheses are no longer enumerated.
    let mut long: Vec<f64> = (0..49).map(|i| 34.0 + f64::from(i) * 2.3).collect();
    long.insert(0, 26.0);
    long.push(153.0);
    let all = there_and_back(&long);
    let values: Vec<f64> = all
        .iter()
        .map(|x| f64::round(1.08 * (x.clamp(STOPS[0], STOPS[1]) - 90.0) + 3.0))
        .collect();
    assert!(all.len() > 60);
    let fit = fit_limits(&Readings::new(&all, &values), &FitOptions::default()).unwrap();
    held(&fit, "many rows");
    assert_eq!((fit.lower.kind, fit.upper.kind), (EndKind::Stalled, EndKind::Stalled));
}

#[test]
fn of_many_such_tables_hardly_one_loses_its_stalls() {
    let drive = there_and_back(&DRIVE);
    let sides = sides();
    for (sd, lost, told) in [
        (0.25, 1.2, false),
        (0.25, 1.2, true),
        (0.1, 0.0, true),
        (0.1, 0.0, false),
    ] {
        let (mut silent, mut missed, mut invented) = (0, 0, 0);
        let draws = 150;
        for seed in 0..draws {
            let mut rng = XorShiftRng::seed_from_u64(seed);
            let noise = Normal::new(0.0, sd).unwrap();
            let measured: Vec<f64> = drive
                .iter()
                .zip(&sides)
                .map(|(x, side)| {
                    let at = (x - 0.5 * lost * side.sign()).clamp(STOPS[0], STOPS[1]);
                    f64::round(1.08 * (at - 90.0) + 3.0 + noise.sample(&mut rng))
                })
                .collect();
            let readings = Readings::new(&drive, &measured);
            let readings = if told { readings.with_approach(&sides) } else { readings };
            let fit = fit_limits(&readings, &FitOptions::default()).unwrap();
            for (end, stop, out) in [(&fit.lower, STOPS[0], -1.0), (&fit.upper, STOPS[1], 1.0)] {
                missed += u32::from(end.kind == EndKind::Clear);
                silent += u32::from(end.kind == EndKind::Clear && fit.warnings.is_empty());
                let misses = |[low, high]: [f64; 2]| {
                    let half = 0.5 * lost + 0.3;
                    end.kind == EndKind::Contact && (stop + half < low || stop - half > high)
                };
                invented += u32::from(end.interval.is_some_and(misses));
                assert!(out * (end.travel - stop) < 1.0 + 4.0 * sd, "{end:?}");
            }
        }
        std::eprintln!(
            "sd {sd}, lost motion {lost}, told {told}: {missed} clear, {silent} silent, {invented} invented"
        );
        let ends = 2 * draws as u32;
        assert!(silent <= ends / 100, "{silent} of {ends} silent");
        assert!(missed <= ends / 20, "{missed} of {ends} clear");
        assert!(invented <= ends / 50, "{invented} of {ends} invented");
    }
}

/// A joint with play and without any stop, driven there and back: where the drive turned the joint stands still until the play is
/// crossed, which is no stop.
#[test]
fn play_that_is_crossed_at_a_turn_is_no_stop() {
    let draws = 150_usize;
    let mut all = 0;
    let mut table = String::new();
    for (name, step, play, by_order) in [
        ("sides given", 1.0, 2.2, false),
        ("sides given, steps as wide as the play", 5.0, 5.0, false),
        ("sides given, fine steps", 0.2, 1.4, false),
        ("sides given, half steps", 0.5, 2.2, false),
        ("sides by the order", 1.0, 2.2, true),
        ("sides given, steps of a tenth", 0.1, 1.4, false),
    ] {
        let mut named = 0;
        for seed in 0..draws {
            let mut rng = XorShiftRng::seed_from_u64(0x706c_6179 + seed as u64);
            let noise = Normal::new(0.0, 0.05).unwrap();
            let count = (55.0 / step) as usize;
            let up = (0..=count).map(|i| (60.0 + step * i as f64, Approach::Below));
            let down = (0..count).rev().map(|i| (60.0 + step * i as f64, Approach::Above));
            let rows: Vec<(f64, Approach)> = up.chain(down).collect();
            let mut joint = 50.0;
            let (mut drive, mut measured, mut sides) = (Vec::new(), Vec::new(), Vec::new());
            for (at, side) in rows {
                joint = f64::clamp(joint, at - 0.5 * play, at + 0.5 * play);
                drive.push(at);
                measured.push(1.15 * (joint - 90.0) + noise.sample(&mut rng));
                sides.push(side);
            }
            let readings = Readings::new(&drive, &measured);
            let readings = if by_order {
                readings
            } else {
                readings.with_approach(&sides)
            };
            let fit = fit_limits(&readings, &FitOptions::default()).unwrap();
            named += usize::from(fit.lower.kind == EndKind::Contact) + usize::from(fit.upper.kind == EndKind::Contact);
        }
        table += &format!("{name}: {named} of {}\n", 2 * draws);
        all += named;
    }
    println!("{table}");
    assert!(all <= 4, "{table}");
}

/// Rows of a joint without lost motion, up and down again; nobody notes the sides.
fn without_lost_motion(seed: u64) -> (Vec<f64>, Vec<f64>) {
    let drive = there_and_back(&(0..21).map(|i| 4.0 * f64::from(i)).collect::<Vec<_>>());
    let normal = Normal::new(0.0, 0.2).unwrap();
    let mut rng = XorShiftRng::seed_from_u64(seed);
    let measured = drive
        .iter()
        .map(|x| 1.5 * x.clamp(12.3, 66.1) - 20.0 + normal.sample(&mut rng))
        .collect();
    (drive, measured)
}

/// A table that goes there and back and shows no lost motion has one near 0, with its uncertainty; all else is as without sides.
#[test]
fn a_table_there_and_back_without_lost_motion_says_how_little_there_is() {
    let tables = 400;
    let (mut determined, mut squares) = (0, 0.0);
    for seed in 0..tables {
        let (drive, measured) = without_lost_motion(300 + seed);
        let of = |drive: &[f64], measured: &[f64]| {
            fit_limits(&Readings::new(drive, measured), &FitOptions::default()).unwrap()
        };
        let fit = of(&drive, &measured);
        // In rising order the rows tell no direction.
        let mut rows: Vec<(f64, f64)> = drive.into_iter().zip(measured).collect();
        rows.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
        let (drive, measured): (Vec<f64>, Vec<f64>) = rows.into_iter().unzip();
        let mut sorted = of(&drive, &measured);
        let reason = NotDeterminable::ApproachUnknown;
        assert_eq!(sorted.lost_motion, LostMotion::NotDeterminable { reason });
        if let LostMotion::Measured { reversal, u, .. } = fit.lost_motion {
            determined += 1;
            squares += (reversal / u) * (reversal / u);
            assert!(fit.approach_inferred);
            (sorted.lost_motion, sorted.approach_inferred) = (fit.lost_motion, true);
        }
        // Readings left out stand elsewhere in another order.
        for (there, here) in sorted.rejected.iter_mut().zip(&fit.rejected) {
            there.index = here.index;
        }
        assert_eq!(sorted, fit, "seed {seed}");
    }
    println!("{determined} of {tables}, {:.3}", squares / f64::from(determined));
    assert!(u64::from(determined as u32) > tables - tables / 100, "{determined}");
    assert!((0.8..1.25).contains(&(squares / f64::from(determined))), "{squares}");
}

/// The order is not that of the movement where the joint would surely lead its drive, and an order that goes one way tells nothing.
#[test]
fn an_order_of_rows_that_tells_no_sides_gives_no_lost_motion() {
    let (drive, measured) = without_lost_motion(1);
    let reason = NotDeterminable::ApproachUnknown;
    let none = LostMotion::NotDeterminable { reason };
    let of = |drive: &[f64], measured: &[f64]| {
        let fit = fit_limits(&Readings::new(drive, measured), &FitOptions::default()).unwrap();
        (fit.lost_motion, fit.approach_inferred)
    };
    assert_eq!(of(&drive[..21], &measured[..21]), (none, false));
    let leads: Vec<f64> = measured
        .iter()
        .enumerate()
        .map(|(i, y)| if i > 21 && (i < 34) { y - 0.9 } else { *y })
        .collect();
    assert_eq!(of(&drive, &leads), (none, false));
}

/// Of a joint with much lost motion the readings of one side lie on one line, and of one table in five those of the other side were left
/// out as misread, three or four in ten of all. The order of the rows explains them.
#[test]
fn the_readings_of_one_side_are_not_taken_for_misread() {
    let drive = there_and_back(&(0..16).map(|i| 6.0 * f64::from(i)).collect::<Vec<_>>());
    let normal = Normal::new(0.0, 0.1).unwrap();
    let mut without = 0;
    for seed in 0..200 {
        let mut rng = XorShiftRng::seed_from_u64(seed);
        let measured: Vec<f64> = drive
            .iter()
            .enumerate()
            .map(|(i, x)| (x - if i < 16 { 1.6 } else { -1.6 }).clamp(14.0, 77.0) + normal.sample(&mut rng))
            .collect();
        let fit = fit_limits(&Readings::new(&drive, &measured), &FitOptions::default()).unwrap();
        let known = matches!(fit.lost_motion, LostMotion::Measured { value, .. } if (value - 3.2).abs() < 1.0);
        without += u32::from(!known || fit.rejected.len() > 3);
    }
    println!("{without} of 200 without lost motion");
    assert_eq!(without, 0);
}
