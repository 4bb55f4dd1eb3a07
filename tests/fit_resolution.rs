//! A resolution that is given but that the values do not bear out.
#![allow(
    clippy::expect_used,
    reason = "a check stops at the first thing that is not as it must be"
)]

use elbowroom::fit::{EndKind, FitOptions, LimitFit, Readings, Warning, fit_limits};

/// Invented: whole degrees between stops at 11 and 87, two readings on each.
const DRIVE: [f64; 13] = [
    0.0, 8.0, 16.0, 24.0, 32.0, 40.0, 48.0, 56.0, 64.0, 72.0, 80.0, 90.0, 98.0,
];

fn measured() -> Vec<f64> {
    DRIVE
        .iter()
        .map(|x: &f64| (x.clamp(11.0, 87.0) - 50.0).round())
        .collect()
}

fn fit(measured: &[f64], resolution: f64) -> LimitFit {
    let options = FitOptions::default().with_resolution(resolution);
    fit_limits(&Readings::new(&DRIVE, measured), &options).expect("a joint")
}

fn told(fit: &LimitFit) -> Option<(f64, f64)> {
    fit.warnings.iter().find_map(|warning| match *warning {
        Warning::ResolutionAboveSteps { resolution, step } => Some((resolution, step)),
        _ => None,
    })
}

#[test]
fn a_resolution_far_above_the_steps_of_the_values_is_told() {
    let coarse = fit(&measured(), 10.0);
    assert_eq!(told(&coarse), Some((10.0, 1.0)));
    let text = coarse.warnings.iter().map(ToString::to_string).collect::<String>();
    assert!(
        text.contains("resolution given is 10") && text.contains("steps of 1"),
        "{text}"
    );
    let right = fit(&measured(), 1.0);
    assert_eq!(
        (right.lower.kind, right.upper.kind),
        (EndKind::Contact, EndKind::Contact)
    );
    assert_eq!(told(&right), None);
}

#[test]
fn halves_of_a_graduation_and_means_are_in_order() {
    assert_eq!(told(&fit(&measured(), 2.0)), None);
    // Means of three readings of whole degrees, written with one digit: steps of 0.1 tell nothing.
    let means: Vec<f64> = measured()
        .iter()
        .zip([0.0, 0.3, 0.7].iter().cycle())
        .map(|(y, more)| y + more)
        .collect();
    assert_eq!(told(&fit(&means, 1.0)), None);
}

/// Four steps are far finer: a quarter of a degree is not what a protractor of one degree shows. Three may be thirds of a graduation.
#[test]
fn four_steps_to_a_graduation_are_told_and_three_are_not() {
    assert_eq!(told(&fit(&measured(), 4.0)), Some((4.0, 1.0)));
    assert_eq!(told(&fit(&measured(), 3.0)), None);
}

/// Values on no step have none, and none is made up.
#[test]
fn without_steps_there_is_no_resolution() {
    let none: Vec<f64> = DRIVE
        .iter()
        .map(|x| x.clamp(11.0, 87.0) + 0.1 * (7.0 * x).sin())
        .collect();
    let given = |options: FitOptions, measured: &[f64]| {
        let fit = fit_limits(&Readings::new(&DRIVE, measured), &options).expect("a joint");
        (fit.resolution, fit.resolution_inferred)
    };
    assert_eq!(given(FitOptions::default(), &none), (None, false));
    assert_eq!(given(FitOptions::default(), &measured()), (Some(1.0), true));
    assert_eq!(
        given(FitOptions::default().with_resolution(0.5), &none),
        (Some(0.5), false)
    );
}
