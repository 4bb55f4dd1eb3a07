//! Tables whose rows contradict each other are refused by what is wrong with them, not as if they were short.
#![allow(clippy::indexing_slicing, clippy::unwrap_used, reason = "a test may fail loudly")]

use elbowroom::fit::{Approach, FitError, FitOptions, Readings, fit_limits};
use rand::SeedableRng;
use rand_distr::{Distribution, Normal};
use rand_xorshift::XorShiftRng;

/// A sweep up and down over two stops whose second leg was typed in the reverse order.
#[test]
fn a_leg_typed_in_reverse_is_no_table_of_too_few_readings() {
    let up: Vec<f64> = (0..19).map(|i| 10.0 + 7.5 * f64::from(i)).collect();
    let drive: Vec<f64> = up.iter().chain(up.iter().rev()).copied().collect();
    let approach = [[Approach::Below; 19], [Approach::Above; 19]].concat();
    let noise = Normal::new(0.0, 0.3).unwrap();
    let (mut refused, mut told) = (0, 0);
    for seed in 0..400 {
        let mut rng = XorShiftRng::seed_from_u64(seed);
        let mut measured: Vec<f64> = (drive.iter())
            .map(|x| (10.0 * (x.clamp(22.3, 131.7) + noise.sample(&mut rng))).round() / 10.0)
            .collect();
        measured[19..].reverse();
        let readings = Readings::new(&drive, &measured).with_approach(&approach);
        let Err(error) = fit_limits(&readings, &FitOptions::default()) else {
            continue;
        };
        assert!(
            !matches!(
                error,
                FitError::TooFewReadings { .. } | FitError::DriveAnglesEqual { .. }
            ),
            "{seed}: {error}"
        );
        refused += 1;
        if let FitError::NoAgreement { agree, given: 38 } = error {
            assert!(
                agree < 38 && error.to_string().contains("beside its own drive angle"),
                "{error}"
            );
            told += 1;
        }
    }
    println!("of 400 tables {refused} refused, {told} since too few readings agree");
    assert_eq!(refused, 400);
}
