//! Joints that a crank drives, all the way between its dead centres: a curve, and no stop where nobody put one.
//!
//! Invented cranks of 20 mm and four-bar-like curves, read along the slide or at the joint; the same readings on every run.
#![allow(clippy::unwrap_used, reason = "a test may stop where something cannot be")]

use elbowroom::fit::{EndKind, FitOptions, LimitFit, Readings, fit_limits};
use rand::SeedableRng;
use rand_distr::{Distribution, Normal};
use rand_xorshift::XorShiftRng;

const TABLES: u64 = 25;

/// How a curve reads at a drive angle about its middle, in degrees.
type Curve = fn(f64) -> f64;
const CURVES: [(&str, Curve); 4] = [
    ("sine", |drive| 20.0 * drive.to_radians().sin()),
    ("sine off its middle", |drive| 20.0 * (drive + 15.0).to_radians().sin()),
    ("tangent", |drive| 20.0 * drive.to_radians().tan()),
    ("rod", |drive| {
        let crank = drive.to_radians();
        20.0 * crank.sin() + (45.0_f64.powi(2) - (20.0 * crank.cos() - 12.0).powi(2)).sqrt()
    }),
];

/// Readings of a curve at even places from `-half` to `half`, that a joint between two stops passes.
fn fit(curve: Curve, (places, half): (u32, f64), ways: usize, sd: f64, stops: [f64; 2], seed: u64) -> LimitFit {
    let mut rng = XorShiftRng::seed_from_u64(0x6372_616e_6b00 + seed);
    let noise = Normal::new(0.0, sd).unwrap();
    let there = (0..places).map(|i| half * (2.0 * f64::from(i) / f64::from(places - 1) - 1.0));
    let drive: Vec<f64> = match ways {
        1 => there.collect(),
        _ => there.clone().chain(there.rev()).collect(),
    };
    let measured: Vec<f64> = drive
        .iter()
        .map(|x| ((curve(x.clamp(stops[0], stops[1])) + noise.sample(&mut rng)) * 100.0).round() / 100.0)
        .collect();
    fit_limits(&Readings::new(&drive, &measured), &FitOptions::default()).unwrap()
}

fn each(mut look: impl FnMut(&str, (u32, f64), usize, f64, u64)) {
    for (name, _) in CURVES {
        for places in [(21, 40.0), (41, 50.0), (81, 55.0)] {
            for ways in [1, 2] {
                for sd in [0.01, 0.05] {
                    for seed in 0..TABLES {
                        look(name, places, ways, sd, seed);
                    }
                }
            }
        }
    }
}

fn curve_of(name: &str) -> Curve {
    CURVES.iter().find(|(of, _)| *of == name).unwrap().1
}

/// A contact was named at 49 of these ends, and 6.7 % of the sweep was lost.
#[test]
fn no_stop_is_found_where_there_is_none() {
    let (mut ends, mut contacts, mut lost) = (0, 0, 0.0);
    each(|name, places, ways, sd, seed| {
        let fit = fit(
            curve_of(name),
            places,
            ways,
            sd,
            [f64::NEG_INFINITY, f64::INFINITY],
            seed,
        );
        ends += 2;
        contacts += [&fit.lower, &fit.upper]
            .iter()
            .filter(|end| end.kind == EndKind::Contact)
            .count();
        let [from, to] = fit.travel.unwrap();
        lost += (2.0 * places.1 - (to - from)) / (2.0 * places.1);
    });
    println!(
        "{contacts} contacts at {ends} ends; {:.4} of the sweep lost",
        2.0 * lost / f64::from(ends)
    );
    assert!(100 * contacts <= ends as usize, "{contacts} contacts at {ends} ends");
    assert!(2.0 * lost <= 0.01 * f64::from(ends), "{lost}");
}

/// A stop within the sweep is passed no more often than before.
#[test]
fn a_stop_of_a_crank_is_not_passed() {
    let (mut ends, mut past) = (0, 0);
    each(|name, places, ways, sd, seed| {
        let step = 2.0 * places.1 / f64::from(places.0 - 1);
        let stops = [-places.1 + 3.3 * step, places.1 - 3.6 * step];
        let fit = fit(curve_of(name), places, ways, sd, stops, seed);
        ends += 2;
        let [from, to] = fit.travel.unwrap();
        past += usize::from(stops[0] - from > 1.0) + usize::from(to - stops[1] > 1.0);
    });
    println!("past at {past} of {ends} ends");
    assert!(100 * past <= ends, "past at {past} of {ends} ends");
}
