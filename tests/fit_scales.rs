//! Numbers that stand for something else than they are taken for: a scale that starts again, sides exchanged, a drive that is not in
//! degrees. All joints are invented.
#![allow(clippy::unwrap_used)]

use elbowroom::Servo;
use elbowroom::fit::{Approach, FitError, FitOptions, NotDegrees, Readings, Warning, fit_feedback, fit_limits};

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
            assert!((lead - 1.0).abs() < 4.0 * u && *u < 0.12, "{lead} {u}");
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

/// A margin of 2 is meant for degrees: of pulse widths it is next to none.
#[test]
fn a_guard_margin_of_degrees_on_pulse_widths_is_told() {
    let degrees: Vec<f64> = (0..18).map(|i| 35.0 + 5.0 * f64::from(i)).collect();
    let pulses: Vec<f64> = degrees.iter().map(|deg| 500.0 + deg * 2000.0 / 180.0).collect();
    let stops = |x: f64| (x.clamp(43.0, 118.0) - 79.5) * 1.176;
    let free = |x: f64| (x - 79.5) * 1.176;
    let says = |drive: &[f64], joint: &dyn Fn(f64) -> f64, guard: Option<f64>| -> Vec<String> {
        let measured: Vec<f64> = degrees.iter().map(|x| joint(*x)).collect();
        let options = guard.map_or(FitOptions::default(), |guard| FitOptions::default().with_guard(guard));
        let fit = fit_limits(&Readings::new(drive, &measured), &options).unwrap();
        let told = fit.warnings.iter();
        told.map(ToString::to_string)
            .filter(|one| one.contains("guard margin"))
            .collect()
    };
    let sentence = "the drive values are 888.9 to 1833.3, so they are hardly degrees (pulse widths in us, timer counts?), and a guard \
                    margin of 2 of them is next to none: convert them to degrees, or give a guard margin in their unit";
    assert_eq!(says(&pulses, &stops, None), [sentence]);
    // Whichever way the joint moves; of the values as they were given.
    assert_eq!(says(&pulses, &|x| -stops(x), None), [sentence]);
    // A margin in their unit, or none at all because none is wanted; no stop, so that no margin is kept; degrees.
    assert!(says(&pulses, &stops, Some(22.0)).is_empty());
    assert!(says(&pulses, &stops, Some(0.0)).is_empty());
    assert!(says(&pulses, &free, None).is_empty());
    assert!(says(&degrees, &stops, None).is_empty());
    // A winch of several turns begins at its first.
    let turns: Vec<f64> = degrees.iter().map(|deg| (deg - 35.0) * 12.0).collect();
    assert!(says(&turns, &stops, None).is_empty());
}

#[test]
fn drive_values_that_are_hardly_degrees_are_told_whatever_the_guard() {
    let servo = Servo::new([0.0, 180.0], [500.0, 2500.0]).unwrap();
    let of = |drive: &[f64]| NotDegrees::of(drive, &servo);
    assert_eq!(of(&[0.25, 0.7, 1.0]), Some(NotDegrees::Narrow { swept: 0.75 }));
    assert_eq!(
        of(&[0.25, 1.0]).unwrap().to_string(),
        "the drive values span 0.75 only, so they are hardly degrees (radians, milliseconds, a share of 0 to 1?): convert them to degrees"
    );
    assert!(matches!(of(&[-1.5, 1.5]), Some(NotDegrees::Narrow { .. })));
    // A short sweep near a stop, and a reading a little outside.
    assert_eq!(of(&[118.0, 122.0]), None);
    assert_eq!(of(&[-15.0, 195.0]), None);
    // Up to 20 deg are a little.
    assert_eq!(of(&[-20.0, 200.0]), None);
    for drive in [-20.5, 200.5] {
        let angle = [0.0, 180.0];
        assert_eq!(of(&[90.0, drive]), Some(NotDegrees::Outside { drive, angle }));
    }
    let outside = of(&[600.0, 2400.0]).unwrap();
    assert_eq!(
        outside,
        NotDegrees::Outside {
            drive: 2400.0,
            angle: [0.0, 180.0]
        }
    );
    assert_eq!(
        outside.to_string(),
        "drive 2400 does not look like degrees of a servo of 0 to 180 deg"
    );
    assert_eq!(of(&[f64::NAN]), None);
    assert_eq!(of(&[]), None);
}
