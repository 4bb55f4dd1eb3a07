//! Readings that no joint gave, or too few of them: refused with advice, or answered without NaN.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::Code;
use elbowroom::fit::{
    Approach, EndKind, FitError, FitOptions, LimitFit, LineFit, Readings, Run, Warning, fit_limits, fit_line,
    fit_line_both, fit_line_through_zero, fit_line_weighted, fit_many, fit_polynomial, positioning, spread,
};
use proptest::prelude::*;
use serde_json::Value;

fn fit(x: &[f64], y: &[f64]) -> Result<LimitFit, FitError> {
    fit_limits(&Readings::new(x, y), &FitOptions::default())
}

/// Deterministic noise between −1 and 1.
fn noise(i: usize) -> f64 {
    let mixed = (i as u64 + 1).wrapping_mul(0x9e37_79b9_7f4a_7c15);
    let mixed = (mixed ^ (mixed >> 29)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    ((mixed >> 11) as f64 / (1u64 << 52) as f64) - 1.0
}

fn sweep(n: usize, step: f64) -> Vec<f64> {
    (0..n).map(|i| step * i as f64).collect()
}

#[test]
fn many_joints_keep_their_order() {
    let x = sweep(21, 4.0);
    let ys: Vec<Vec<f64>> = (0..40)
        .map(|k| {
            x.iter()
                .enumerate()
                .map(|(i, x)| x * (1.0 + 0.01 * k as f64) + 0.1 * noise(i + 50 * k))
                .collect()
        })
        .collect();
    let still = vec![1.0; 21];
    let mut joints: Vec<Readings<'_>> = ys.iter().map(|y| Readings::new(&x, y)).collect();
    joints.insert(7, Readings::new(&x, &still));
    let all = fit_many(&joints, &FitOptions::default());
    assert_eq!(all.len(), 41);
    for (joint, got) in joints.iter().zip(&all) {
        assert_eq!(*got, fit_limits(joint, &FitOptions::default()));
    }
    assert!(all[7].is_err() && all.iter().filter(|r| r.is_err()).count() == 1);
}

/// A column of sides that is blank in all readings of a joint is for the others: its own are inferred, as without the column.
#[test]
fn a_joint_without_sides_among_others_is_fitted_as_alone() {
    let up = sweep(21, 4.0);
    let x: Vec<f64> = up.iter().chain(up.iter().rev()).copied().collect();
    let lag = |i: usize| if i < 21 { -0.4 } else { 0.4 };
    let y: Vec<f64> = x
        .iter()
        .enumerate()
        .map(|(i, x)| 0.9 * x + lag(i) + 0.05 * noise(i))
        .collect();
    let sides: Vec<Approach> = (0..42)
        .map(|i| if i < 21 { Approach::Below } else { Approach::Above })
        .collect();
    let blank = vec![Approach::Unknown; 42];
    let alone = Readings::new(&x, &y);
    let all = fit_many(
        &[alone.with_approach(&sides), alone.with_approach(&blank)],
        &FitOptions::default(),
    );
    let expected = fit_limits(&alone, &FitOptions::default());
    assert!(expected.as_ref().unwrap().approach_inferred);
    assert_eq!(all[1], expected);
    assert!(!all[0].as_ref().unwrap().approach_inferred);
}

/// The threads that share the joints change neither the order nor a bit, and none loses a result to a failing joint.
#[cfg(feature = "parallel")]
#[test]
fn many_joints_are_the_same_on_any_number_of_threads() {
    let x = sweep(42, 2.0);
    let still = vec![3.0; 42];
    let ys: Vec<Vec<f64>> = (0..120)
        .map(|k| {
            let met = |x: f64| 0.9 * x.clamp(10.0, 70.0 - 0.1 * k as f64);
            (0..42).map(|i| met(x[i]) + 0.3 * noise(i + 42 * k)).collect()
        })
        .collect();
    let joints: Vec<Readings<'_>> = ys
        .iter()
        .enumerate()
        .map(|(k, y)| Readings::new(&x, if k % 10 == 3 { &still } else { y }))
        .collect();
    let bits = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let all = pool.install(|| fit_many(&joints, &FitOptions::default()));
        // Written out, a float shows all its bits.
        all.iter().map(|fit| format!("{fit:?}")).collect::<Vec<String>>()
    };
    let one = bits(1);
    assert_eq!(one.iter().filter(|fit| fit.starts_with("Err(NoMotion")).count(), 12);
    for (joint, shown) in joints.iter().zip(&one) {
        assert_eq!(*shown, format!("{:?}", fit_limits(joint, &FitOptions::default())));
    }
    for threads in [2, 3, 8] {
        assert_eq!(one, bits(threads), "{threads} threads");
    }
}

/// Readings without scatter: what rounding leaves is no evidence of anything.
#[test]
fn exact_readings_give_the_exact_knees() {
    for n in [10, 19, 31, 42, 200] {
        let x = sweep(n, 90.0 / (n - 1) as f64);
        for (slope, offset) in [
            (1.0, 0.0),
            (0.9, 3.7),
            (-7.3, 812.0),
            (1e-3, 1e3),
            (1e-9, 0.0),
            (1e9, 0.0),
        ] {
            for (lower, upper) in [(-1.0, 91.0), (21.3, 91.0), (-1.0, 63.9), (21.3, 63.9)] {
                let y: Vec<f64> = x.iter().map(|x| offset + slope * x.clamp(lower, upper)).collect();
                let got = fit(&x, &y).unwrap();
                let named = format!("{n} readings, slope {slope}, stops {lower} and {upper}: {got:?}");
                // So many one way may be a recording, however exact they are.
                let unseen = |w: &Warning| n == 200 && matches!(w, Warning::MayTrailUnseen { .. });
                assert!(got.warnings.iter().all(unseen) && got.rejected.is_empty(), "{named}");
                for (end, knee, last) in [(&got.lower, lower, 0.0), (&got.upper, upper, 90.0)] {
                    if (0.0..=90.0).contains(&knee) {
                        assert_eq!(end.kind, EndKind::Contact, "{named}");
                        // The offset costs digits of the measured values themselves.
                        let digits = 1e-9 * (1.0 + (offset / slope).abs() * 1e-4);
                        assert!((end.at - knee).abs() < digits, "{named}");
                    } else {
                        assert_eq!(
                            (end.kind, end.at),
                            (EndKind::Clear, x[if last == 0.0 { 0 } else { n - 1 }]),
                            "{named}"
                        );
                    }
                }
            }
        }
    }
}

#[test]
fn small_numbers_and_single_things_are_said_shortly() {
    let text = |x: &[f64], y: &[f64]| fit(x, y).unwrap_err().to_string();
    let tiny: Vec<f64> = sweep(9, 1e-150);
    assert!(
        text(&sweep(9, 5.0), &tiny).contains("between 0 and 8e-150"),
        "{}",
        text(&sweep(9, 5.0), &tiny)
    );
    assert!(text(&[10.0], &[1.0]).starts_with("1 reading is too few;"));
    assert!(text(&[10.0; 4], &[1.0; 4]).contains("at only 1 different drive angle, 10 to 10"));
    let one = Warning::TooFewBeyond { at: 90.0, readings: 1 }.to_string();
    assert!(one.contains("only 1 reading lies beyond"), "{one}");
    let one = Warning::PlateauRefuted { at: 9.0, readings: 1 }.to_string();
    assert!(one.contains("1 reading passed it"), "{one}");
    let one = Warning::ManyRejected {
        rejected: 1,
        readings: 5,
    }
    .to_string();
    assert!(one.starts_with("1 of 5 readings was left out"), "{one}");
    let two = Warning::LeftOutBeyond { at: 84.0, readings: 2 }.to_string();
    assert!(
        two.starts_with("2 readings beyond drive 84 fell short of the line and were left out"),
        "{two}"
    );
    let bent = Warning::Curved {
        p: 1e-9,
        departure: 0.5,
    }
    .to_string();
    // Read in the shell too, where no function of the library has a name.
    assert!(
        bent.contains("use a curve or a linkage") && !bent.contains('_'),
        "{bent}"
    );
}

#[test]
fn too_little_is_refused_with_advice() {
    let refused = |x: &[f64], y: &[f64], code: Code, words: &str| {
        let error = fit(x, y).unwrap_err();
        assert_eq!(error.code(), code, "{error}");
        let text = error.to_string();
        assert!(text.contains(words), "{text}");
        assert!(!text.contains('\n'), "{text}");
    };
    refused(&[], &[], Code::TooFewReadings, "take at least 4 more");
    refused(
        &[10.0],
        &[1.0],
        Code::TooFewReadings,
        "take at least 3 more, on both sides of drive 10",
    );
    refused(
        &[10.0, 20.0, 30.0],
        &[1.0, 2.0, 3.0],
        Code::TooFewReadings,
        "take at least 1 more, spread over drive 10 to 30",
    );
    // As pulse widths come out that were turned into angles.
    refused(
        &[90.0, 99.000_000_000_000_01],
        &[1.0, 2.0],
        Code::TooFewReadings,
        "take at least 2 more, spread over drive 90 to 99 and beyond",
    );
    refused(
        &[0.000_2, 0.000_31],
        &[1.0, 2.0],
        Code::TooFewReadings,
        "spread over drive 0.0002 to 0.00031 and beyond",
    );
    refused(
        &[90.0, 99.000_000_000_000_01, 99.000_000_000_000_01, 90.0],
        &[1.0, 2.0, 2.0, 1.0],
        Code::DriveAnglesEqual,
        "different drive angles, 90 to 99; take",
    );
    refused(
        &[40.0; 8],
        &[1.0; 8],
        Code::DriveAnglesEqual,
        "take at least 2 more, on both sides of it",
    );
    refused(
        &[10.0, 10.0, 20.0, 20.0, 20.0],
        &[1.0, 1.1, 2.0, 2.1, 2.2],
        Code::DriveAnglesEqual,
        "only 2 different drive angles, 10 to 20",
    );
    refused(
        &sweep(9, 5.0),
        &[7.5; 9],
        Code::NoMotion,
        "measured stays between 7.5 and 7.5",
    );
    let still: Vec<f64> = (0..42).map(noise).collect();
    refused(&sweep(42, 2.0), &still, Code::NoMotion, "does not follow it");
    let nan = [1.0, f64::NAN, 3.0, 4.0];
    refused(&nan, &[1.0; 4], Code::NotFinite, "drive at index 1");
    refused(
        &sweep(4, 1.0),
        &[1.0, 2.0, f64::INFINITY, 4.0],
        Code::NotFinite,
        "measured at index 2 is infinite",
    );
    refused(&sweep(4, 1e200), &[1.0; 4], Code::NotFinite, "larger than 1e100");
    refused(
        &sweep(4, 1.0),
        &[1.0; 3],
        Code::LengthMismatch,
        "measured has 3 values for 4 readings",
    );
    let (x, y) = (sweep(6, 1.0), sweep(6, 2.0));
    let u = [0.1, 0.1, 0.0, 0.1, 0.1, 0.1];
    let error = fit_limits(&Readings::new(&x, &y).with_u(&u), &FitOptions::default()).unwrap_err();
    assert_eq!(error.code(), Code::NotPositive);
    for options in [
        FitOptions::default().with_guard(-1.0),
        FitOptions::default().with_guard(f64::NAN),
        FitOptions::default().with_confidence(1.0),
        FitOptions::default().with_confidence(f64::NAN),
        FitOptions::default().with_resolution(f64::INFINITY),
    ] {
        assert_eq!(
            fit_limits(&Readings::new(&x, &y), &options).unwrap_err().code(),
            Code::OptionOutside
        );
    }
    // Two joints' readings in one table share no line.
    let two: Vec<f64> = (0..40)
        .map(|i| if i % 2 == 0 { 2.0 } else { -2.0 } * f64::from(i))
        .collect();
    let error = fit(&sweep(40, 2.0), &two).unwrap_err();
    assert_eq!(error.code(), Code::NoAgreement, "{error}");
    assert!(error.to_string().contains("of 40 readings agree"), "{error}");
}

/// Where squares of the spread would vanish there is no spread.
#[test]
fn a_vanishing_spread_is_none() {
    let met = |x: &f64| 1.1 * x.clamp(12.0, 70.0);
    let x = sweep(31, 3.0);
    let y: Vec<f64> = x.iter().map(met).collect();
    let times = |v: &[f64], scale: f64| -> Vec<f64> { v.iter().map(|v| v * scale).collect() };
    for scale in [1e-150, 1e-300] {
        let (small_x, small_y) = (times(&x, scale), times(&y, scale));
        for (x, y, code) in [
            (&small_x, &small_y, Code::DriveAnglesEqual),
            (&small_x, &y, Code::DriveAnglesEqual),
            (&x, &small_y, Code::NoMotion),
        ] {
            let error = fit(x, y).unwrap_err();
            assert_eq!(error.code(), code, "{error}");
        }
    }
    for scale in [1e-98, 1e-20, 1e97] {
        let got = fit(&times(&x, scale), &times(&y, scale));
        // Guarded by 2 the small ones have no travel, but each has its numbers.
        let text = format!("{got:?}").replace("_inferred", "");
        assert!(got.is_ok() && !text.contains("NaN") && !text.contains("inf"), "{text}");
    }
}

#[test]
fn positioning_refuses_with_advice() {
    let run = |approach, positions| Run { approach, positions };
    let (a, b) = ([1.0, 2.0], [1.1, 2.1]);
    let refused = |runs: &[Run<'_>]| positioning(&[1.0, 2.0], runs).unwrap_err();
    let unknown = refused(&[run(Approach::Below, &a), run(Approach::Unknown, &b)]);
    assert_eq!(unknown.code(), Code::ApproachUnknown);
    assert!(unknown.to_string().starts_with("run 1 has no approach"));
    assert_eq!(refused(&[]).code(), Code::TooFewReadings);
    assert_eq!(refused(&[run(Approach::Below, &a)]).code(), Code::TooFewReadings);
    assert_eq!(refused(&[run(Approach::Below, &a[..1])]).code(), Code::LengthMismatch);
    let nan = [f64::NAN, 1.0];
    assert_eq!(refused(&[run(Approach::Above, &nan)]).code(), Code::NotFinite);
    assert_eq!(positioning(&[], &[]).unwrap_err().code(), Code::TooFewReadings);
}

#[test]
fn lines_refuse_with_advice() {
    let code = |got: Result<LineFit, FitError>| got.unwrap_err().code();
    assert_eq!(code(fit_line(&[1.0, 2.0], &[1.0, 2.0])), Code::TooFewReadings);
    assert_eq!(code(fit_line(&[1.0; 3], &[1.0; 3])), Code::DriveAnglesEqual);
    assert_eq!(code(fit_line(&[1.0; 3], &[1.0; 2])), Code::LengthMismatch);
    assert_eq!(code(fit_line(&[1.0, 2.0, f64::NAN], &[1.0; 3])), Code::NotFinite);
    assert_eq!(
        code(fit_line_weighted(&[1.0, 2.0], &[1.0, 2.0], &[0.1, -0.1])),
        Code::NotPositive
    );
    assert_eq!(
        code(fit_line_both(&[1.0, 2.0], &[1.0, 2.0], &[0.1], &[0.1, 0.1])),
        Code::LengthMismatch
    );
    assert_eq!(
        fit_polynomial(&[1.0, 2.0, 3.0, 4.0], &[0.0; 4], 6).unwrap_err().code(),
        Code::OptionOutside
    );
    let two = [1.0, 2.0, 1.0, 2.0, 1.0];
    assert_eq!(
        fit_polynomial(&two, &two, 2).unwrap_err().code(),
        Code::DriveAnglesEqual
    );
    assert_eq!(spread(&[]).unwrap_err().code(), Code::TooFewReadings);
    assert_eq!(spread(&[f64::INFINITY]).unwrap_err().code(), Code::NotFinite);
    // A level line cannot be read backwards, nor any line without an observation.
    let level = fit_line(&[1.0, 2.0, 3.0], &[5.0, 5.0, 5.0]).unwrap();
    assert_eq!(
        (level.slope, level.r_squared, level.inverse(&[5.0], None)),
        (0.0, 1.0, None)
    );
    let line = fit_line(&[1.0, 2.0, 3.0], &[1.0, 2.0, 3.5]).unwrap();
    assert!(line.inverse(&[], None).is_none() && line.inverse(&[f64::NAN], None).is_none());
    assert!(line.predict(f64::NAN).value.is_nan());
    assert!(line.predict(f64::NAN).u.is_nan());
}

/// All numbers of a result.
fn numbers_of(value: &Value, out: &mut Vec<f64>) {
    match value {
        Value::Array(list) => list.iter().for_each(|v| numbers_of(v, out)),
        Value::Object(map) => map.values().for_each(|v| numbers_of(v, out)),
        Value::Number(n) => out.push(n.as_f64().unwrap()),
        _ => {}
    }
}

fn check_sane(got: &LimitFit, x: &[f64]) {
    let text = serde_json::to_string(got).unwrap();
    let json: Value = serde_json::from_str(&text).unwrap();
    // JSON has no NaN or infinity: such a number would have become null where a number must stand.
    let back: LimitFit = serde_json::from_value(json.clone()).unwrap();
    assert_eq!(back, *got);
    let mut all = Vec::new();
    numbers_of(&json, &mut all);
    assert!(all.iter().all(|v| v.is_finite()));
    let (low, high) = x
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(*v), b.max(*v)));
    if let Some([a, b]) = got.travel {
        // Never extrapolated.
        assert!(low <= a && a < b && b <= high, "{low} {a} {b} {high}");
    }
    for end in [&got.lower, &got.upper] {
        assert_eq!(end.kind == EndKind::Contact, end.interval.is_some() && end.u.is_some());
    }
    assert!(got.u_slope >= 0.0 && got.residual_sd >= 0.0 && got.sense.certainty <= 1.0);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(500))]

    /// Whatever is given: an answer without NaN that never goes beyond the readings, or an error of one line.
    #[test]
    fn never_a_panic_never_nan(
        points in proptest::collection::vec((0..30i32, -40..40i32, 0..3usize), 0..40),
        scale in prop_oneof![Just(1.0), Just(1e-9), Just(1e9), Just(1e90)],
        line in proptest::bool::ANY,
        told in proptest::bool::ANY,
        guard in 0.0..5.0f64,
    ) {
        let x: Vec<f64> = points.iter().map(|p| f64::from(p.0) * scale).collect();
        let y: Vec<f64> = points
            .iter()
            .map(|p| if line { f64::from(p.0.clamp(5, 22)) + 0.02 * f64::from(p.1) } else { f64::from(p.1) })
            .collect();
        let approach: Vec<Approach> = points
            .iter()
            .map(|p| [Approach::Unknown, Approach::Below, Approach::Above][p.2])
            .collect();
        let mut readings = Readings::new(&x, &y);
        if told {
            readings = readings.with_approach(&approach);
        }
        match fit_limits(&readings, &FitOptions::default().with_guard(guard * scale)) {
            Ok(got) => check_sane(&got, &x),
            Err(error) => {
                let text = error.to_string();
                prop_assert!(!text.is_empty() && !text.contains('\n'));
            }
        }
    }
}

#[test]
fn a_line_through_zero_takes_pairs_only() {
    let x = [1.0, 2.0, 3.0];
    assert!(fit_line_through_zero(&x, &[2.0, 4.1, 5.9]).is_ok());
    for y in [&[2.0, 4.0][..], &[2.0, 4.0, f64::NAN], &[2.0, 4.0, 6.0, 8.0]] {
        assert!(fit_line_through_zero(&x, y).is_err(), "{y:?}");
    }
    assert!(fit_line_through_zero(&x[..1], &[2.0]).is_err());
}

/// Where readings are expected that prove a line or a degree, more are asked for than are there.
#[test]
fn more_drive_angles_are_asked_for_than_all_but_equal_ones() {
    // The next float above 1 is another angle and tells nothing of a parabola.
    let x = [0.0, 0.0, 1.0, 1.0, 1.0 + f64::EPSILON];
    let Err(FitError::DriveAnglesEqual { distinct, needed, .. }) = fit_polynomial(&x, &x, 2) else {
        panic!("{:?}", fit_polynomial(&x, &x, 2))
    };
    assert_eq!((distinct, needed), (3, 4));
}

#[test]
fn options_of_a_fit_are_checked() {
    let drive: Vec<f64> = (0..20).map(f64::from).collect();
    let fit = |options: FitOptions| fit_limits(&Readings::new(&drive, &drive), &options);
    assert!(fit(FitOptions::default().with_guard(0.0)).is_ok());
    for guard in [-0.1, f64::NAN, f64::INFINITY] {
        let refused = fit(FitOptions::default().with_guard(guard)).unwrap_err().to_string();
        assert!(refused.contains("guard"), "{refused}");
    }
}
