//! Where zero lies, which way round and in which unit readings are counted says nothing about the joint: a fit of moved, stretched or
//! mirrored readings is the moved, stretched or mirrored fit. No number here comes from the code.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may panic")]

use elbowroom::fit::{End, FitOptions, LimitFit, Readings, fit_limits};
use rand::{RngExt as _, SeedableRng as _};
use rand_xorshift::XorShiftRng;

/// What is done to a value: times the first, plus the second.
type Moved = [f64; 2];

fn moved(values: &[f64], [by, to]: Moved) -> Vec<f64> {
    values.iter().map(|value| by * value + to).collect()
}

/// An invented joint: a slope, stops or none, readings up and perhaps down again, some of them misread.
fn table(random: &mut XorShiftRng, case: usize) -> [Vec<f64>; 2] {
    let count = random.random_range(14..70);
    let step = random.random_range(1.5..4.0);
    let length = step * f64::from(count);
    let lower = if case & 1 > 0 { 0.22 * length } else { -1e9 };
    let upper = if case & 2 > 0 { 0.81 * length } else { 1e9 };
    let play = if case & 4 > 0 {
        random.random_range(1.0..3.0)
    } else {
        0.0
    };
    let scatter = random.random_range(0.05..0.3);
    let slope = random.random_range(0.6..2.0);
    let mut drive: Vec<f64> = (0..count).map(|at| step * f64::from(at)).collect();
    if play > 0.0 {
        drive.extend((0..count).rev().map(|at| step * (f64::from(at) + 0.37)));
    }
    let measured = drive.iter().enumerate().map(|(at, x)| {
        let side = if at < count as usize { -0.5 } else { 0.5 };
        let noise: f64 = (0..6).map(|_| random.random_range(-1.0..1.0f64)).sum::<f64>() / 1.414;
        let astray = if case & 8 > 0 && at % 11 == 5 {
            20.0 * scatter
        } else {
            0.0
        };
        slope * (x + side * play).clamp(lower, upper) + scatter * noise + astray
    });
    let measured = measured.collect();
    [drive, measured]
}

#[track_caller]
fn close(got: f64, want: f64, of: f64, what: &str) {
    assert!((got - want).abs() <= 1e-6 * of.abs(), "{what}: {got}, expected {want}");
}

/// Slope and intercept, their uncertainties and covariance, by the rules of propagation.
type Line = [f64; 5];

fn same_line(got: Line, old: Line, [by_x, to_x]: Moved, [by_y, to_y]: Moved, what: &str) {
    let [old_slope, old_intercept, u_slope, u_intercept, covariance] = old;
    let (slope, shift) = (by_y * old_slope / by_x, to_x / by_x);
    let size = (by_y * old_intercept).abs() + (slope * to_x).abs() + to_y.abs() + 1.0;
    let covariance_there = by_y * by_y / by_x * (covariance - shift * u_slope.powi(2));
    let square = u_intercept.powi(2) - 2.0 * shift * covariance + (shift * u_slope).powi(2);
    let expected = [
        (slope, slope),
        (by_y * (old_intercept - shift * old_slope) + to_y, size),
        ((by_y / by_x).abs() * u_slope, got[2]),
        (by_y.abs() * square.sqrt(), got[3]),
        (covariance_there, covariance_there.abs() + got[2] * got[3]),
    ];
    for (got, (expected, size)) in got.into_iter().zip(expected) {
        close(got, expected, size, what);
    }
}

fn same_end(got: &End, old: &End, [by, to]: Moved, span: f64, what: &str) {
    assert_eq!(
        (got.kind, got.readings_beyond),
        (old.kind, old.readings_beyond),
        "{what}"
    );
    close(got.at, by * old.at + to, span, what);
    close(got.travel, by * old.travel + to, span, what);
    close(got.u.unwrap_or(0.0), by.abs() * old.u.unwrap_or(0.0), span, what);
    close(got.guard, by.abs() * old.guard, span, what);
    let width = |end: &End| end.interval.map_or(0.0, |[a, b]| b - a);
    close(width(got), by.abs() * width(old), span, what);
}

#[test]
fn a_fit_follows_its_readings() {
    let mut random = XorShiftRng::seed_from_u64(9);
    let mut contacts = 0;
    for case in 0..16 {
        let [x, y] = table(&mut random, case);
        let options = |by: f64| FitOptions::default().with_guard(1.5 * by.abs());
        let fit =
            |x: &[f64], y: &[f64], by: f64| -> LimitFit { fit_limits(&Readings::new(x, y), &options(by)).unwrap() };
        let old = fit(&x, &y, 1.0);
        contacts += [old.lower, old.upper].iter().filter(|end| end.u.is_some()).count();
        for (to_x, to_y) in [
            ([1.0, -90.0], [1.0, 300.0]),
            ([-1.0, 200.0], [1.0, 0.0]),
            ([1.0, 0.0], [-1.0, 10.0]),
            ([8.0, 500.0], [40.0, 7.0]),
        ] {
            let what = format!("case {case}, drive {to_x:?}, measured {to_y:?}");
            let got = fit(&moved(&x, to_x), &moved(&y, to_y), to_x[0]);
            let span = to_x[0].abs() * x.iter().copied().fold(0.0, f64::max);
            let ends = if to_x[0] < 0.0 {
                [old.upper, old.lower]
            } else {
                [old.lower, old.upper]
            };
            same_end(&got.lower, &ends[0], to_x, span, &what);
            same_end(&got.upper, &ends[1], to_x, span, &what);
            let line = |fit: &LimitFit| {
                let line = fit.line;
                [
                    line.slope,
                    line.intercept,
                    line.u_slope,
                    line.u_intercept,
                    line.covariance,
                ]
            };
            let own = |fit: &LimitFit| [fit.slope, fit.intercept, fit.u_slope, fit.u_intercept, fit.covariance];
            same_line(line(&got), line(&old), to_x, to_y, &what);
            same_line(own(&got), own(&old), to_x, to_y, &what);
            close(got.residual_sd, to_y[0].abs() * old.residual_sd, got.residual_sd, &what);
            let play = |fit: &LimitFit| {
                fit.lost_motion
                    .estimate()
                    .map_or([0.0, 0.0], |lost| [lost.value, lost.u])
            };
            for (got, old) in play(&got).iter().zip(play(&old)) {
                close(got.abs(), (to_y[0] * old).abs(), to_y[0] * old.abs().max(0.1), &what);
            }
            let advised = |fit: &LimitFit| fit.advice.as_ref().map(|advice| [advice.u_before, advice.u_after]);
            assert_eq!(advised(&got).is_some(), advised(&old).is_some(), "{what}");
            for (got, old) in advised(&got)
                .into_iter()
                .flatten()
                .zip(advised(&old).into_iter().flatten())
            {
                let (got, old) = (got.unwrap_or(0.0), old.unwrap_or(0.0));
                close(got, to_x[0].abs() * old, span, &what);
            }
            let places = |fit: &LimitFit| -> Vec<f64> {
                let readings = fit.advice.iter().flat_map(|advice| &advice.readings);
                readings.map(|reading| reading.drive).collect()
            };
            assert_eq!(places(&got).len(), places(&old).len(), "{what}");
            for (got, old) in places(&got).into_iter().zip(places(&old)) {
                close(got, to_x[0] * old + to_x[1], span, &what);
            }
            let mut left_out: Vec<usize> = got.rejected.iter().map(|rejected| rejected.index).collect();
            let mut expected: Vec<usize> = old.rejected.iter().map(|rejected| rejected.index).collect();
            left_out.sort_unstable();
            expected.sort_unstable();
            assert_eq!(left_out, expected, "{what}");
        }
    }
    assert!(contacts > 10, "{contacts}");
}
