//! Numbers that stand for something else than they are taken for: a scale that starts again, sides exchanged, a drive that is not in
//! degrees. All joints are invented.
#![allow(clippy::unwrap_used)]

use elbowroom::fit::{Approach, FitError, FitOptions, Readings, Warning, fit_feedback, fit_limits};

/// A protractor, or a magnet, whose scale starts again within the sweep: without a word of it two stops were found where it does.
#[test]
fn a_scale_that_starts_again_is_named() {
    let drive: Vec<f64> = (0..18).map(|i| 35.0 + 5.0 * f64::from(i)).collect();
    let joint = |x: &f64| (x.clamp(40.0, 118.0) - 79.5) * 1.176;
    for offset in [350.0, 5.0, 330.0, 30.0] {
        let measured: Vec<f64> = drive
            .iter()
            .map(|x| (joint(x) + offset).rem_euclid(360.0).round())
            .collect();
        let error = fit_limits(&Readings::new(&drive, &measured), &FitOptions::default()).unwrap_err();
        let sentence = error.to_string();
        assert!(
            matches!(error, FitError::StartsAgain { turn: 360.0, .. }),
            "{offset}: {error:?}"
        );
        assert!(
            sentence.starts_with("measured jumps from 3")
                && sentence.contains("as on a scale that starts again after 360; add 360"),
            "{sentence}"
        );
    }
    // A sensor on its turn is no sensor that stands still.
    let counts: Vec<f64> = drive
        .iter()
        .map(|x| (4000.0 + 11.4 * joint(x)).rem_euclid(4096.0).round())
        .collect();
    let angles: Vec<f64> = drive.iter().map(joint).collect();
    let error = fit_feedback(&counts, &angles, 7).unwrap_err();
    assert!(matches!(error, FitError::SensorStartsAgain { .. }), "{error:?}");
    assert!(error.to_string().contains("turn its magnet or its shaft"), "{error}");
}

/// Sides noted the wrong way round: the joint seems to lead its drive.
#[test]
fn exchanged_sides_are_named() {
    let both: Vec<f64> = (0..18)
        .chain((0..18).rev())
        .map(|i| 35.0 + 5.0 * f64::from(i))
        .collect();
    let side = |i: usize, exchanged: bool| {
        if (i < 18) == exchanged {
            Approach::Above
        } else {
            Approach::Below
        }
    };
    for (slope, exchanged) in [(1.176, false), (1.176, true), (-0.8, false), (-0.8, true)] {
        let joint = |(i, x): (usize, &f64)| {
            let lag = if i < 18 { -0.5 } else { 0.5 };
            (10.0 * slope * ((x + lag).clamp(40.0, 112.0) - 79.5)).round() / 10.0
        };
        let measured: Vec<f64> = both.iter().enumerate().map(joint).collect();
        let sides: Vec<Approach> = (0..36).map(|i| side(i, exchanged)).collect();
        let fit = fit_limits(
            &Readings::new(&both, &measured).with_approach(&sides),
            &FitOptions::default(),
        )
        .unwrap();
        let found = fit
            .warnings
            .iter()
            .find(|w| matches!(w, Warning::SidesExchanged { .. }));
        assert_eq!(found.is_some(), exchanged, "{slope}: {:?}", fit.warnings);
        if let Some(Warning::SidesExchanged { lead, u }) = found {
            assert!((lead - 1.0).abs() < 4.0 * u && *u < 0.1, "{lead} {u}");
        }
    }
}

/// Drive values that are no degrees: less guard is no remedy.
#[test]
fn drive_values_on_a_small_scale_are_named() {
    let degrees: Vec<f64> = (0..18).map(|i| 35.0 + 5.0 * f64::from(i)).collect();
    let measured: Vec<f64> = degrees.iter().map(|x| (x.clamp(43.0, 118.0) - 79.5) * 1.176).collect();
    for scale in [1.0_f64.to_radians(), 1.0 / 180.0, 0.011] {
        let drive: Vec<f64> = degrees.iter().map(|x| x * scale).collect();
        let fit = fit_limits(&Readings::new(&drive, &measured), &FitOptions::default()).unwrap();
        let said: Vec<String> = fit.warnings.iter().map(ToString::to_string).collect();
        assert!(
            said.iter().any(|one| one.contains("so they are hardly degrees")),
            "{scale}: {said:?}"
        );
        assert!(!said.iter().any(|one| one.contains("reduce the guard")), "{said:?}");
    }
}
