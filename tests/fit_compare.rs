//! What two fits of one joint say about what happened to it.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::fit::{
    Approach, Comparison, Diagnosis, FitOptions, LimitFit, Readings, Verdict, compare, fit_limits, t_quantile,
};

fn fit(x: &[f64], y: &[f64]) -> LimitFit {
    fit_limits(&Readings::new(x, y), &FitOptions::default()).unwrap()
}

#[track_caller]
fn close(got: f64, expected: f64, tolerance: f64) {
    assert!(
        (got - expected).abs() <= tolerance,
        "{got} is not {expected} within {tolerance}"
    );
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
fn comparisons_name_what_changed() {
    let x = sweep(41, 2.0);
    let joint = |f: &dyn Fn(f64) -> f64, salt: usize| {
        let y: Vec<f64> = x
            .iter()
            .enumerate()
            .map(|(i, x)| f(*x) + 0.1 * noise(i + salt))
            .collect();
        fit(&x, &y)
    };
    let old = joint(&|x| x.clamp(12.0, 66.0), 9000);
    let only = |found: &Comparison| {
        assert_eq!(found.diagnoses.len(), 1, "{:?}", found.diagnoses);
        found.diagnoses[0]
    };
    let same = compare(&old, &joint(&|x| x.clamp(12.0, 66.0), 1000));
    assert_eq!(only(&same), Diagnosis::Unchanged);
    assert_eq!(same.changes.iter().filter(|c| c.verdict == Verdict::Same).count(), 4);
    // The horn one tooth of 21 further on the spline: 17.143 degrees; the joint's own stops stay where they are.
    let tooth = 360.0 / 21.0;
    let moved = compare(&old, &joint(&|x| (x + tooth).clamp(12.0, 66.0), 2000));
    let Diagnosis::OffsetShifted {
        drive, spline: Some(s), ..
    } = moved.diagnoses[0]
    else {
        panic!("{:?}", moved.diagnoses)
    };
    close(drive, tooth, 0.3);
    assert_eq!((s.horn, s.teeth), (21, 1));
    assert!(moved.diagnoses[0].to_string().contains("1 tooth of a 21-tooth horn"));
    // The sensor slipped: all readings shift, the stops stay.
    let slipped = compare(&old, &joint(&|x| x.clamp(12.0, 66.0) + 5.0, 3000));
    let shifted = |d: &Diagnosis| matches!(d, Diagnosis::SensorShifted { measured } if (measured - 5.0).abs() < 0.3);
    assert!(slipped.diagnoses.iter().any(shifted), "{:?}", slipped.diagnoses);
    let scaled = compare(&old, &joint(&|x| 1.2 * (x - 39.0).clamp(-27.0, 27.0) + 39.0, 4000));
    assert!(matches!(only(&scaled), Diagnosis::ScaleChanged { ratio } if (ratio - 1.2).abs() < 0.02));
    let shrunk = compare(&old, &joint(&|x| x.clamp(12.0, 60.0), 5000));
    assert!(matches!(only(&shrunk), Diagnosis::RangeShrunk { upper: true, by } if (by - 6.0).abs() < 0.5));
    let swapped = compare(&old, &joint(&|x| 100.0 - x.clamp(12.0, 66.0), 6000));
    assert!(swapped.sense_changed && swapped.diagnoses[0] == Diagnosis::WiresSwapped);
    // Play.
    let both: Vec<f64> = x.iter().chain(x.iter().rev()).copied().collect();
    let approach: Vec<Approach> = (0..82)
        .map(|i| if i < 41 { Approach::Below } else { Approach::Above })
        .collect();
    let with_play = |play: f64, salt: usize| {
        let y: Vec<f64> = both
            .iter()
            .zip(&approach)
            .enumerate()
            .map(|(i, (x, a))| (x - 0.5 * play * a.sign()).clamp(12.0, 66.0) + 0.1 * noise(i + salt))
            .collect();
        fit_limits(
            &Readings::new(&both, &y).with_approach(&approach),
            &FitOptions::default(),
        )
        .unwrap()
    };
    let grown = compare(&with_play(0.5, 7000), &with_play(2.0, 8000));
    assert!(matches!(only(&grown), Diagnosis::PlayGrown { .. }), "{grown:?}");
    // E_n against its definition.
    let change = grown.changes[4];
    let k = t_quantile(0.975, 77.0);
    let expected = change.difference.unwrap().value / (k * change.difference.unwrap().u);
    close(change.e_n.unwrap(), expected, 1e-6 * expected);
}
