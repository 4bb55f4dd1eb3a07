//! Readings with a dead centre between them have no transmission that goes one way; sound ones that come near it do. Counted over draws.
#![allow(
    clippy::indexing_slicing,
    clippy::panic,
    clippy::unwrap_used,
    reason = "a test may fail loudly"
)]

use elbowroom::Code;
use elbowroom::fit::{FitError, Readings, choose_transmission, fit_curve};
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, Normal};
use rand_xorshift::XorShiftRng;

fn noise(sd: f64, rng: &mut XorShiftRng) -> f64 {
    Normal::new(0.0, sd).unwrap().sample(rng)
}

/// Equally spaced from 0 to 80.
fn spaced(n: usize) -> Vec<f64> {
    (0..n).map(|i| 80.0 * i as f64 / (n - 1) as f64).collect()
}

/// Whether both refuse a table alike, and where it turns.
fn refused(drive: &[f64], measured: &[f64]) -> Option<f64> {
    let readings = Readings::new(drive, measured);
    let curve = fit_curve(&readings, 12).err();
    assert_eq!(curve, choose_transmission(&readings, &[], 12).err());
    match curve {
        Some(error @ FitError::TurnsBack { at, .. }) => {
            assert_eq!(error.code(), Code::NoMotion);
            Some(at)
        }
        None => None,
        Some(error) => panic!("{error}"),
    }
}

/// Drive angles of a triangle (base 40, arm 92) whose dead centre lies at an angle.
fn triangle(angle: f64, dead_centre: f64) -> f64 {
    let turned = (angle - dead_centre).to_radians();
    (40.0_f64.powi(2) + 92.0_f64.powi(2) - 2.0 * 40.0 * 92.0 * turned.cos()).sqrt()
}

#[test]
fn a_dead_centre_within_the_readings_is_refused_and_placed() {
    for dead_centre in [20.0, 30.0, 40.0, 55.0] {
        for n in [14, 20, 40] {
            let mut found = [0; 2];
            for seed in 0..100 {
                let mut rng = XorShiftRng::seed_from_u64(seed);
                let angle = spaced(n);
                let drive: Vec<f64> = angle.iter().map(|a| triangle(*a, dead_centre)).collect();
                let measured: Vec<f64> = angle.iter().map(|a| a + noise(0.2, &mut rng)).collect();
                let near = |at: f64| (at - dead_centre).abs() <= 80.0 / (n.min(18) - 1) as f64;
                found[0] += i32::from(refused(&drive, &measured).is_some_and(near));
                let back: Vec<f64> = angle
                    .iter()
                    .map(|a| (a - dead_centre).abs() + noise(0.2, &mut rng))
                    .collect();
                found[1] += i32::from(refused(&angle, &back).is_some_and(near));
            }
            eprintln!(
                "dead centre at {dead_centre}, {n} readings: refused in {found:?} of 100 (drive folded, measured folded)"
            );
            assert!(found[0] >= 98 && found[1] >= 98, "{dead_centre} {n}: {found:?}");
        }
    }
}

#[test]
fn sound_tables_are_accepted() {
    let (mut bad, mut all) = (0, 0);
    for seed in 0..200 {
        for n in [7, 10, 14, 30, 100] {
            for sd in [0.05, 0.3, 1.0] {
                let mut rng = XorShiftRng::seed_from_u64(seed);
                let there = spaced(n);
                let both = [there.clone(), there.iter().rev().copied().collect()].concat();
                let with = |drive: &[f64], rng: &mut XorShiftRng, of: &dyn Fn(f64) -> f64| -> Vec<f64> {
                    drive.iter().map(|x| of(*x) + noise(sd, rng)).collect()
                };
                let sine = |reach: f64| move |x: f64| 60.0 * (x / 80.0 * reach).to_radians().sin();
                let mut tables = vec![
                    (there.clone(), with(&there, &mut rng, &|x| x)),
                    (there.clone(), with(&there, &mut rng, &sine(90.0))),
                    (there.clone(), with(&there, &mut rng, &sine(95.0))),
                    (there.clone(), with(&there, &mut rng, &|x| -sine(85.0)(x))),
                    (there.clone(), with(&there, &mut rng, &|x| x.clamp(20.0, 60.0))),
                ];
                for of in [&(|x| x) as &dyn Fn(f64) -> f64, &sine(85.0), &|x: f64| {
                    x.clamp(20.0, 60.0)
                }] {
                    let mut wrong = with(&there, &mut rng, of);
                    wrong[rng.random_range(0..n)] += rng.random_range(-80.0..80.0);
                    tables.push((there.clone(), wrong));
                }
                for play in [3.0, 8.0] {
                    let side = |i: usize| if i < n { -0.5 * play } else { 0.5 * play };
                    let measured = with(&both, &mut rng, &|x| x.clamp(10.0, 70.0));
                    tables.push((
                        both.clone(),
                        measured.iter().enumerate().map(|(i, y)| y + side(i)).collect(),
                    ));
                }
                let from = rng.random_range(0..n);
                let slipped = with(&there, &mut rng, &|x| if x < there[from] { x } else { x - 15.0 });
                tables.push((there.clone(), slipped));
                for (kind, (drive, measured)) in tables.iter().enumerate() {
                    all += 1;
                    if let Some(at) = refused(drive, measured) {
                        bad += 1;
                        eprintln!("kind {kind}, {n} readings, SD {sd}, seed {seed}: at {at}");
                    }
                }
            }
        }
    }
    eprintln!("sound tables refused: {bad} of {all}");
    assert!(f64::from(bad) <= 5e-4 * f64::from(all), "{bad} of {all}");
}

#[test]
fn the_sentence_says_where_it_turns() {
    let drive = spaced(17);
    let measured: Vec<f64> = drive.iter().map(|x| (x - 30.0).abs()).collect();
    let told = fit_curve(&Readings::new(&drive, &measured), 7).unwrap_err().to_string();
    assert!(
        told.starts_with("the measured values turn back at drive 30, by ")
            && told.contains("keep those on one side of it"),
        "{told}"
    );
}
