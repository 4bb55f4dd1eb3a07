//! Joints that meet their stops, or do not: measured by others, invented with known truth, and hostile.
//!
//! Sources and tolerances stand in the files of `tests/data`.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::Code;
use elbowroom::fit::{
    Approach, ContactMark, End, EndKind, FitError, FitOptions, LimitFit, LostMotion, NotDeterminable, Readings, Trend,
    Warning, fit_limits, fit_line,
};
use serde_json::Value;

fn path(path: &str) -> String {
    format!("{}/tests/data/{path}", env!("CARGO_MANIFEST_DIR"))
}

fn data(name: &str) -> Value {
    serde_json::from_str(&std::fs::read_to_string(path(name)).unwrap()).unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
}

fn fit(x: &[f64], y: &[f64]) -> Result<LimitFit, FitError> {
    fit_limits(&Readings::new(x, y), &FitOptions::default())
}

#[track_caller]
fn close(got: f64, expected: f64, tolerance: f64) {
    assert!(
        (got - expected).abs() <= tolerance,
        "{got} is not {expected} within {tolerance}"
    );
}

/// The synthetic joints: the library minimises the plain sum of squares over what it retains, so it must reach the
/// reference minimum, and come within the stated number of standard errors of the truth.
#[test]
fn synthetic_joints() {
    let mut seen = 0;
    for entry in std::fs::read_dir(path("synthetic")).unwrap() {
        let file = entry.unwrap().path();
        if file.extension().is_none_or(|e| e != "json") {
            continue;
        }
        let d: Value = serde_json::from_str(&std::fs::read_to_string(&file).unwrap()).unwrap();
        let name = d["id"].as_str().unwrap();
        if d["kind"] == "coverage" {
            continue;
        }
        seen += 1;
        let (x, y) = (numbers(&d["data"]["x"]), numbers(&d["data"]["y"]));
        let approach: Option<Vec<Approach>> = d["data"]["direction"].as_array().map(|a| {
            a.iter()
                .map(|v| {
                    if v.as_f64().unwrap() > 0.0 {
                        Approach::Below
                    } else {
                        Approach::Above
                    }
                })
                .collect()
        });
        let mut readings = Readings::new(&x, &y);
        if let Some(approach) = &approach {
            readings = readings.with_approach(approach);
        }
        // Drive values in us.
        let got = fit_limits(&readings, &FitOptions::default().with_guard(22.0)).unwrap();
        let planted: Vec<usize> = numbers(&d["truth"]["outlier_indices"])
            .iter()
            .map(|v| *v as usize)
            .collect();
        let rejected: Vec<usize> = got.rejected.iter().map(|r| r.index).collect();
        assert_eq!(rejected, planted, "{name}");
        let left_out: Vec<usize> = (0..got.readings).filter(|index| got.is_left_out(*index)).collect();
        assert_eq!(left_out, planted, "{name}");
        let e = if planted.is_empty() {
            &d["expected"]["ls"]
        } else {
            &d["expected"]["ls_without_outliers"]
        };
        // Stops are met just where the reference model has them; a falling joint meets its high level first.
        let (at_lower, at_upper) = if d["truth"]["slope"].as_f64().unwrap() > 0.0 {
            ("x_at_lo", "x_at_hi")
        } else {
            ("x_at_hi", "x_at_lo")
        };
        let truth = &d["truth"];
        let z = d["tolerance"]["value"]["truth_in_se"].as_f64();
        for (end, key) in [(&got.lower, at_lower), (&got.upper, at_upper)] {
            let Some(expected) = e[key].as_f64() else {
                assert_eq!(end.kind, EndKind::Clear, "{name} {key}");
                continue;
            };
            assert_eq!(end.kind, EndKind::Contact, "{name} {key}");
            if name == "soft_stop" {
                // The hard model is wrong here; the library says so and lands on the truth.
                close(end.at, truth[key].as_f64().unwrap(), 4.0 * end.u.unwrap());
                continue;
            }
            let se = e["se"][key].as_f64().unwrap_or_else(|| end.u.unwrap());
            if name != "exact_both" {
                close(end.at, expected, 0.05 * se);
                // The values of a converter share the error of their steps, of which the reference knows nothing.
                let tolerance = if name == "adc_both" { 0.02 } else { 1e-6 };
                close(end.u.unwrap(), se, tolerance * se);
                close(end.at, truth[key].as_f64().unwrap(), z.unwrap() * se);
            } else {
                close(end.at, expected, 1e-9 * expected);
            }
        }
        if name == "soft_stop" {
            let soft = got
                .warnings
                .iter()
                .filter(|w| matches!(w, Warning::Soft { .. }))
                .count();
            assert_eq!(soft, 2);
            close(got.slope, truth["slope"].as_f64().unwrap(), 1e-2 * got.slope);
            continue;
        }
        let sse = e["sse"].as_f64().unwrap();
        assert!(got.goodness.sum_of_squares <= sse * (1.0 + 1e-6) + 1e-12, "{name}");
        close(got.slope, e["slope"].as_f64().unwrap(), 1e-9 * got.slope.abs());
        close(
            got.intercept,
            e["intercept"].as_f64().unwrap(),
            1e-9 * got.intercept.abs(),
        );
        if name != "exact_both" {
            let se = e["se"]["slope"].as_f64().unwrap();
            close(got.u_slope, se, 1e-6 * se);
            close(got.slope, truth["slope"].as_f64().unwrap(), z.unwrap() * se);
        }
        match e["backlash_output_deg"].as_f64() {
            Some(backlash) => {
                let LostMotion::Measured { value, u, drive, .. } = got.lost_motion else {
                    panic!("{name}: no lost motion")
                };
                close(value, backlash, 1e-9);
                close(u, e["se"]["backlash_output_deg"].as_f64().unwrap(), 1e-6 * u);
                close(drive, e["backlash_command_us"].as_f64().unwrap(), 1e-7);
            }
            None => assert!(matches!(
                got.lost_motion,
                LostMotion::NotDeterminable {
                    reason: NotDeterminable::ApproachUnknown
                }
            )),
        }
        // Only bent joints, refuted plateaus and the like warn; these are straight.
        // Of four readings none is beyond doubt.
        let few = name.starts_with("few");
        let odd = got.warnings.iter().find(|w| match w {
            Warning::ManyRejected { .. } => false,
            Warning::MayFallShort { .. } => !few,
            _ => true,
        });
        assert!(odd.is_none(), "{name}: {odd:?}");
    }
    assert_eq!(seen, 18);
}

/// SAS/STAT's data with a straight line into a plateau: the search over all cuts, done here by `fit_limits`.
#[test]
fn line_into_a_plateau() {
    let d = data("segmented/sas_linear_plateau.json");
    let (x, y) = (numbers(&d["data"]["x"]), numbers(&d["data"]["y"]));
    let got = fit(&x, &y).unwrap();
    let e = &d["expected"]["ls"];
    close(got.upper.at, e["x_at_hi"].as_f64().unwrap(), 1e-9);
    close(got.upper.u.unwrap(), e["se"]["x_at_hi"].as_f64().unwrap(), 1e-9);
    close(got.upper.level.unwrap().value, e["hi"].as_f64().unwrap(), 1e-12);
    close(got.upper.level.unwrap().u, e["se"]["hi"].as_f64().unwrap(), 1e-12);
    close(got.slope, e["slope"].as_f64().unwrap(), 1e-12);
    close(got.goodness.sum_of_squares, e["sse"].as_f64().unwrap(), 1e-12);
    assert_eq!(got.lower.kind, EndKind::Clear);
}

/// SAS/STAT's smooth knee, `y = plateau + g (x0 − x)²` before x0: a line in (x0 − x)² for each x0, profiled.
#[test]
fn smooth_knee() {
    let d = data("segmented/sas_quadratic_plateau.json");
    let (x, y) = (numbers(&d["data"]["x"]), numbers(&d["data"]["y"]));
    let of = |x0: f64| {
        let z: Vec<f64> = x.iter().map(|x| (x0 - x).max(0.0).powi(2)).collect();
        fit_line(&z, &y).unwrap()
    };
    let (mut low, mut high) = (11.0, 14.0);
    for _ in 0..100 {
        let third = (high - low) / 3.0;
        if of(low + third).sum_of_squares < of(high - third).sum_of_squares {
            high -= third;
        } else {
            low += third;
        }
    }
    let (x0, line, e) = (low, of(low), &d["expected"]);
    let relative = |got: f64, key: &str| close(got / e[key].as_f64().unwrap(), 1.0, 1e-5);
    relative(x0, "x0");
    relative(line.intercept, "plateau");
    relative(line.slope, "g");
    relative(line.sum_of_squares, "sse");
}

fn elevon(aircraft: &str, side: &str) -> (Vec<f64>, Vec<f64>, Vec<bool>) {
    let mut out = (Vec::new(), Vec::new(), Vec::new());
    for row in csv::Reader::from_path(path("measured/elevon_deflection.csv"))
        .unwrap()
        .records()
    {
        let row = row.unwrap();
        if &row[0] == aircraft && &row[1] == side {
            out.0.push(row[3].parse().unwrap());
            out.1.push(row[4].parse().unwrap());
            out.2.push(&row[5] == "1");
        }
    }
    out
}

/// Measured by A. Barry (MIT, simflight): slope, R² and RMSE as published there, in radians, over the rows used there.
#[test]
fn elevon_lines_as_published() {
    for (aircraft, side, slope, intercept, r_squared, rmse) in [
        ("1", "left", 0.002114, -3.011, 0.9883, 0.05676),
        ("1", "right", -0.0023, 3.688, 0.9930, 0.03918),
        ("2", "left", 0.002195, -3.017, 0.9953, 0.03073),
        ("2", "right", -0.0019, 2.811, 0.9951, 0.02518),
    ] {
        let (x, y, used) = elevon(aircraft, side);
        let of = |v: &[f64]| -> Vec<f64> { v.iter().zip(&used).filter(|(_, u)| **u).map(|(v, _)| *v).collect() };
        let (x, y) = (of(&x), of(&y));
        let radians: Vec<f64> = y.iter().map(|y| y.to_radians()).collect();
        let line = fit_line(&x, &radians).unwrap();
        close(line.slope, slope, 0.5e-6);
        close(line.intercept, intercept, 0.5e-3);
        close(line.r_squared, r_squared, 0.5e-4);
        close(line.residual_sd, rmse, 0.5e-5);
    }
}

/// The stops that the data's README finds, and none where it finds none.
#[test]
fn elevon_stops() {
    let inside = |end: &End, low: f64, high: f64| {
        assert_eq!(end.kind, EndKind::Contact);
        assert!(low <= end.at && end.at <= high, "{}", end.at);
    };
    let curved = |fit: &LimitFit| fit.warnings.iter().any(|w| matches!(w, Warning::Curved { .. }));
    let (x, y, _) = elevon("1", "left");
    let left = fit(&x, &y).unwrap();
    // Two readings on the stop of a joint so bent show it, and do not place it more closely.
    assert_eq!((left.lower.kind, left.lower.at), (EndKind::Stalled, 1209.0));
    assert_eq!(left.lower.short_at, Some(1159.0));
    assert_eq!((left.upper.kind, left.upper.travel), (EndKind::Clear, 1909.0));
    assert_eq!(left.sense.trend, Trend::Rising);
    assert!(curved(&left) && left.rejected.is_empty());

    let (x, y, _) = elevon("1", "right");
    let right = fit(&x, &y).unwrap();
    inside(&right.upper, 1809.0, 1859.0);
    assert_eq!((right.lower.kind, right.lower.travel), (EndKind::Clear, 1209.0));
    assert_eq!(right.sense.trend, Trend::Falling);
    // The readings between the stops are the 13 of the source: its slope, in degrees.
    assert_eq!(right.line.n, 13);
    close(right.slope, -0.13179, 0.5e-5);
    close(right.line.r_squared, 0.9930, 0.5e-4);
    close(right.upper.level.unwrap().value, -25.4, 0.5);

    // One reading hints at a stop and cannot prove it: the travel ends before it.
    let (x, y, _) = elevon("2", "left");
    let hint = fit(&x, &y).unwrap();
    assert_eq!((hint.lower.kind, hint.lower.travel), (EndKind::Stalled, 1176.0));
    assert_eq!((hint.upper.kind, hint.upper.travel), (EndKind::Clear, 1724.0));
    assert!(matches!(hint.warnings[..], [Warning::FellShort { readings: 1, .. }]));

    let (x, y, _) = elevon("2", "right");
    let free = fit(&x, &y).unwrap();
    assert_eq!(free.travel, Some([1169.0, 1718.0]));
    close(free.slope, -0.10888, 0.5e-5);

    // No point was reached from both sides. Told the directions, the library still must not make lost motion of them.
    for (aircraft, side) in [("1", "left"), ("1", "right"), ("2", "left"), ("2", "right")] {
        let (x, y, _) = elevon(aircraft, side);
        let approach: Vec<Approach> = x
            .iter()
            .map(|x| {
                if *x >= x_start(aircraft, side) {
                    Approach::Below
                } else {
                    Approach::Above
                }
            })
            .collect();
        let told = fit_limits(&Readings::new(&x, &y).with_approach(&approach), &FitOptions::default()).unwrap();
        let LostMotion::NotDeterminable { reason } = told.lost_motion else {
            panic!("lost motion from one-way data")
        };
        assert_eq!(reason, NotDeterminable::NoCommonStretch);
        assert!(reason.to_string().starts_with("lost motion not determinable"));
    }
}

fn x_start(aircraft: &str, side: &str) -> f64 {
    elevon(aircraft, side).0[0]
}

/// Recordings in motion (Duclusaud et al., ICRA 2025): no slope-1 joint, no stop at the stall, no play from the lag.
#[test]
fn recordings_in_motion_are_refused() {
    let mut all = (Vec::new(), Vec::new());
    for name in ["sin_sin", "up_and_down", "sin_time_square"] {
        let (mut x, mut y) = (Vec::new(), Vec::new());
        for row in csv::Reader::from_path(path(&format!("measured/servo_in_motion_{name}.csv")))
            .unwrap()
            .records()
        {
            let row = row.unwrap();
            x.push(row[1].parse::<f64>().unwrap());
            y.push(row[2].parse::<f64>().unwrap());
        }
        all.0.extend(&x);
        all.1.extend(&y);
        let error = fit(&x, &y).unwrap_err();
        assert_eq!(error.code(), Code::InMotion, "{name}");
        assert!(error.to_string().contains("measure at rest"));
        // Told which way the goal went, it is no better.
        let approach: Vec<Approach> = std::iter::once(Approach::Unknown)
            .chain(x.windows(2).map(|w| {
                if w[1] > w[0] {
                    Approach::Below
                } else if w[1] < w[0] {
                    Approach::Above
                } else {
                    Approach::Unknown
                }
            }))
            .collect();
        let told = fit_limits(&Readings::new(&x, &y).with_approach(&approach), &FitOptions::default());
        assert_eq!(told.unwrap_err().code(), Code::InMotion, "{name} with approach");
    }
    assert_eq!(fit(&all.0, &all.1).unwrap_err().code(), Code::InMotion);
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
fn a_plateau_that_readings_pass_is_no_stop() {
    // A first run stalls at 50 degrees; a second, with less load, goes on.
    let mut x = sweep(21, 4.0);
    let mut y: Vec<f64> = x
        .iter()
        .enumerate()
        .map(|(i, x)| x.min(50.0) + 0.2 * noise(i))
        .collect();
    for (i, drive) in [60.0, 68.0, 76.0].into_iter().enumerate() {
        x.push(drive);
        y.push(drive + 0.2 * noise(100 + i));
    }
    let got = fit(&x, &y).unwrap();
    assert_eq!(got.upper.kind, EndKind::Clear);
    assert!(got.upper.travel <= 52.0, "{}", got.upper.travel);
    assert!(
        got.warnings
            .iter()
            .any(|w| matches!(w, Warning::PlateauRefuted { readings: 3, .. }))
    );
}

#[test]
fn marks_by_hand() {
    let x = sweep(21, 4.0);
    let y: Vec<f64> = x.iter().enumerate().map(|(i, x)| x + 0.2 * noise(i)).collect();
    let mut marks = vec![ContactMark::None; x.len()];
    marks[20] = ContactMark::Here;
    let got = fit_limits(&Readings::new(&x, &y).with_contact(&marks), &FitOptions::default()).unwrap();
    assert_eq!(
        (got.upper.kind, got.upper.at, got.upper.marked),
        (EndKind::Contact, 80.0, true)
    );
    assert_eq!(got.upper.interval, Some([76.0, 80.0]));
    close(got.upper.u.unwrap(), 4.0 / 12f64.sqrt(), 1e-12);
    assert_eq!(got.upper.travel, 74.0);
    assert_eq!(got.lower.kind, EndKind::Clear);
    // One reading on the stop is too few by itself, but enough with a mark.
    let y: Vec<f64> = x
        .iter()
        .enumerate()
        .map(|(i, x)| x.min(77.0) + 0.2 * noise(i))
        .collect();
    assert_eq!(fit(&x, &y).unwrap().upper.kind, EndKind::Stalled);
    let got = fit_limits(&Readings::new(&x, &y).with_contact(&marks), &FitOptions::default()).unwrap();
    assert_eq!(got.upper.kind, EndKind::Contact);
    close(got.upper.at, 77.0, 0.5);
    // A mark where the joint still moved is doubted.
    let y: Vec<f64> = x
        .iter()
        .enumerate()
        .map(|(i, x)| x.min(70.0) + 0.2 * noise(i))
        .collect();
    let mut early = vec![ContactMark::None; x.len()];
    early[12] = ContactMark::Upper;
    let got = fit_limits(&Readings::new(&x, &y).with_contact(&early), &FitOptions::default()).unwrap();
    assert!(
        got.warnings
            .iter()
            .any(|w| matches!(w, Warning::MarkDisagrees { mark: 48.0, .. }))
    );
}

#[test]
fn resolution_and_stated_uncertainty() {
    let x = sweep(41, 2.0);
    // A protractor read to whole degrees, without other noise.
    let y: Vec<f64> = x.iter().map(|x| (0.9 * x.clamp(9.3, 70.7) + 3.2).round()).collect();
    let options = FitOptions::default().with_resolution(1.0);
    let coarse = fit_limits(&Readings::new(&x, &y), &options).unwrap();
    for (end, truth) in [(&coarse.lower, 9.3), (&coarse.upper, 70.7)] {
        let [low, high] = end.interval.unwrap();
        assert!(low < truth && truth < high, "{end:?}");
        // The level sits on one graduation: its error does not average out (GUM F.2.2.1).
        assert!(end.u.unwrap() > 1.0 / 12f64.sqrt() / 0.9);
    }
    // A dense sweep that rests on the sensor's steps is not taken for a recording in motion.
    let dense = sweep(1001, 0.08);
    let steps: Vec<f64> = dense.iter().map(|x| (2.0 * x.clamp(9.3, 70.7)).round()).collect();
    let at_rest = fit_limits(&Readings::new(&dense, &steps), &options).unwrap();
    close(at_rest.lower.at, 9.3, 0.3);
    close(at_rest.upper.at, 70.7, 0.3);
    // Stated uncertainties weigh the readings, and scatter beyond them is said.
    let y: Vec<f64> = x
        .iter()
        .enumerate()
        .map(|(i, x)| x + if i % 2 == 0 { 0.1 } else { 3.0 } * noise(i))
        .collect();
    let u: Vec<f64> = (0..x.len()).map(|i| if i % 2 == 0 { 0.06 } else { 1.7 }).collect();
    let weighted = fit_limits(&Readings::new(&x, &y).with_u(&u), &FitOptions::default()).unwrap();
    let plain = fit(&x, &y).unwrap();
    assert!(weighted.u_slope < 0.2 * plain.u_slope);
    close(weighted.slope, 1.0, 5.0 * weighted.u_slope);
    let small: Vec<f64> = u.iter().map(|u| u / 10.0).collect();
    let doubted = fit_limits(&Readings::new(&x, &y).with_u(&small), &FitOptions::default()).unwrap();
    assert!(
        doubted
            .warnings
            .iter()
            .any(|w| matches!(w, Warning::ScatterAboveStated { .. }))
    );
}

#[test]
fn guard_comes_off_and_may_leave_nothing() {
    let x = sweep(41, 2.0);
    let y: Vec<f64> = x
        .iter()
        .enumerate()
        .map(|(i, x)| x.clamp(10.0, 70.0) + 0.2 * noise(i))
        .collect();
    let of = |guard| fit_limits(&Readings::new(&x, &y), &FitOptions::default().with_guard(guard)).unwrap();
    let (none, five, all) = (of(0.0), of(5.0), of(40.0));
    let ([a, b], [c, d]) = (none.travel.unwrap(), five.travel.unwrap());
    close(c - a, 5.0, 1e-9);
    close(b - d, 5.0, 1e-9);
    assert_eq!(none.upper.interval, five.upper.interval);
    assert!(all.travel.is_none() && all.warnings.iter().any(|w| matches!(w, Warning::NoTravel { .. })));
    // More confidence, less travel.
    let sure = fit_limits(
        &Readings::new(&x, &y),
        &FitOptions::default().with_guard(0.0).with_confidence(0.999),
    )
    .unwrap();
    assert!(sure.travel.unwrap()[0] > a && sure.travel.unwrap()[1] < b);
}

#[test]
fn lost_motion_counts_half_at_each_end() {
    let mut x = sweep(21, 4.0);
    x.extend(sweep(21, 4.0).iter().rev());
    let approach: Vec<Approach> = (0..42)
        .map(|i| if i < 21 { Approach::Below } else { Approach::Above })
        .collect();
    let y: Vec<f64> = x
        .iter()
        .zip(&approach)
        .enumerate()
        .map(|(i, (x, a))| (0.8 * (x - 1.5 * a.sign())).clamp(8.0, 56.0) + 0.1 * noise(i))
        .collect();
    let readings = Readings::new(&x, &y).with_approach(&approach);
    let got = fit_limits(&readings, &FitOptions::default().with_guard(0.0)).unwrap();
    let LostMotion::Measured {
        value,
        u,
        reversal,
        drive,
        ..
    } = got.lost_motion
    else {
        panic!("{:?}", got.lost_motion)
    };
    close(value, 2.4, 5.0 * u);
    close(drive, 3.0, 0.2);
    assert!(reversal < 0.0);
    close(got.lower.travel, got.lower.interval.unwrap()[1] + 0.5 * drive, 1e-9);
    close(got.upper.travel, got.upper.interval.unwrap()[0] - 0.5 * drive, 1e-9);
    // From one side only, nothing is known.
    let one = fit_limits(
        &Readings::new(&x[..21], &y[..21]).with_approach(&approach[..21]),
        &FitOptions::default(),
    )
    .unwrap();
    let expected = LostMotion::NotDeterminable {
        reason: NotDeterminable::OneSide,
    };
    assert_eq!(one.lost_motion, expected);
    // Play at the sensor shows on the stops as well, and is found there too.
    let y: Vec<f64> = x
        .iter()
        .zip(&approach)
        .enumerate()
        .map(|(i, (x, a))| (0.8 * x).clamp(8.0, 56.0) - 1.2 * a.sign() + 0.1 * noise(i))
        .collect();
    let sensor = fit_limits(&Readings::new(&x, &y).with_approach(&approach), &FitOptions::default()).unwrap();
    close(sensor.lost_motion.estimate().unwrap().value, 2.4, 0.15);
    close(sensor.lower.at, 10.0, 0.5);
    close(sensor.upper.at, 70.0, 0.5);
}

/// Lost motion that shows on the stop as well as before it makes two levels of one plateau; none of its readings is a
/// misreading for that, and the one stop is found at either end, rising or falling.
#[test]
fn a_plateau_of_two_levels_is_one_stop() {
    let up = sweep(31, 3.0);
    let there_and_back: Vec<f64> = up.iter().chain(up.iter().rev()).copied().collect();
    let back_and_there: Vec<f64> = up.iter().rev().chain(&up).copied().collect();
    for case in 0..192 {
        let bit = |k: usize| (case >> k) & 1 == 1;
        let (slope, at_upper, bad) = (if bit(2) { -1.1_f64 } else { 1.1 }, bit(3), bit(4));
        // A joint lags behind its drive.
        let h = [0.5, 1.2][case & 1] * -slope.signum();
        let x = if bit(1) { &back_and_there } else { &there_and_back };
        let approach: Vec<Approach> = (0..62)
            .map(|i| {
                if (i < 31) != bit(1) {
                    Approach::Below
                } else {
                    Approach::Above
                }
            })
            .collect();
        let mut y: Vec<f64> = x
            .iter()
            .zip(&approach)
            .enumerate()
            .map(|(i, (&x, a))| {
                let met = if at_upper { x.min(78.0) } else { x.max(12.0) };
                5.0 + slope * met + h * a.sign() + 0.17 * noise(i + 62 * case)
            })
            .collect();
        let mut planted = Vec::new();
        if bad {
            planted = vec![7, 40];
            y[7] += 9.0;
            y[40] -= 7.0;
        }
        let got = fit_limits(&Readings::new(x, &y).with_approach(&approach), &FitOptions::default()).unwrap();
        let rejected: Vec<usize> = got.rejected.iter().map(|r| r.index).collect();
        assert_eq!(rejected, planted, "case {case}: {:?}", got.lower);
        let [lower, upper] = got.travel.unwrap();
        let (stop, free, at, inside) = if at_upper {
            (got.upper, got.lower, 78.0, 78.0 - upper)
        } else {
            (got.lower, got.upper, 12.0, lower - 12.0)
        };
        assert_eq!(
            (stop.kind, free.kind),
            (EndKind::Contact, EndKind::Clear),
            "case {case}"
        );
        close(stop.at, at, 0.3);
        // The guard of 2 and half the lost motion, give or take the contact's uncertainty.
        close(inside, 2.0 + h.abs() / 1.1, 0.6);
        assert_eq!(free.travel, free.at);
        close(got.lost_motion.estimate().unwrap().value, 2.0 * h.abs(), 0.15);
    }
}

/// Readings left out at the far end that fell short may lie on a stop: the travel keeps the guard and says so.
#[test]
fn an_end_before_readings_left_out_keeps_the_guard() {
    let x = sweep(31, 3.0);
    let line = |mirrored: bool, off: [f64; 2]| {
        let mut y: Vec<f64> = x.iter().enumerate().map(|(i, x)| x + 0.1 * noise(i)).collect();
        if mirrored {
            y[1] -= off[0];
            y[0] -= off[1];
        } else {
            y[29] += off[0];
            y[30] += off[1];
        }
        fit(&x, &y).unwrap()
    };
    let short = line(false, [-12.0, -27.0]);
    assert_eq!((short.upper.kind, short.upper.at), (EndKind::Clear, 84.0));
    assert_eq!((short.upper.guard, short.travel), (2.0, Some([0.0, 82.0])));
    let says = |got: &LimitFit, at: f64| got.warnings.contains(&Warning::LeftOutBeyond { at, readings: 2 });
    assert!(says(&short, 84.0), "{:?}", short.warnings);
    // Also where one of the two lies as a stop would hold it: the other speaks against a stop there.
    let short = line(false, [-2.0, -12.0]);
    assert_eq!((short.upper.kind, short.travel), (EndKind::Clear, Some([0.0, 82.0])));
    assert!(says(&short, 84.0), "{:?}", short.warnings);
    let short = line(true, [-12.0, -27.0]);
    assert_eq!((short.lower.kind, short.travel), (EndKind::Clear, Some([8.0, 90.0])));
    assert!(says(&short, 6.0), "{:?}", short.warnings);
    // Beyond the line no stop can have held the joint.
    let far = line(false, [12.0, 27.0]);
    assert_eq!((far.upper.kind, far.travel), (EndKind::Clear, Some([0.0, 84.0])));
    assert!(far.warnings.is_empty(), "{:?}", far.warnings);
}

/// The last drive angle at each end read from both sides, and held there by a stop: the place is unknown, but something holds, and
/// that is no slip of the pen.
#[test]
fn an_outermost_place_read_from_both_sides_that_falls_short_is_stalled() {
    // Invented: half degrees, stops at drive 31 and 128.
    let drive = [
        28.0, 33.7, 39.4, 45.2, 50.9, 56.6, 62.3, 68.1, 73.8, 79.5, 85.2, 90.9, 96.7, 102.4, 108.1, 113.8, 119.6,
        125.3, 131.0, 131.0, 125.3, 119.6, 113.8, 108.1, 96.7, 90.9, 85.2, 79.5, 73.8, 68.1, 62.3, 56.6, 50.9, 45.2,
        39.4, 33.7, 28.0,
    ];
    let measured = [
        -2.5, 0.5, 6.0, 12.0, 18.0, 23.0, 28.5, 35.0, 40.5, 46.5, 52.0, 57.5, 63.5, 69.0, 74.5, 80.5, 86.5, 92.0, 94.5,
        95.5, 92.5, 87.0, 81.0, 75.5, 64.0, 58.0, 52.5, 47.0, 41.0, 35.0, 29.5, 24.0, 18.5, 12.5, 6.5, 1.0, -1.5,
    ];
    let mut sides = [Approach::Below; 37];
    sides[19..].fill(Approach::Above);
    let readings = Readings::new(&drive, &measured).with_approach(&sides);
    let got = fit_limits(&readings, &FitOptions::default()).unwrap();
    assert_eq!((got.lower.kind, got.upper.kind), (EndKind::Stalled, EndKind::Stalled));
    assert_eq!((got.lower.at, got.lower.short_at), (33.7, Some(28.0)));
    assert_eq!((got.upper.at, got.upper.short_at), (125.3, Some(131.0)));
    let travel = got.travel.unwrap();
    assert!(travel[0] >= 35.7 && travel[1] <= 123.3, "{travel:?}");
    assert!(got.rejected.is_empty(), "{:?}", got.rejected);
    let short = |w: &&Warning| matches!(w, Warning::FellShort { readings: 2, .. });
    assert_eq!(got.warnings.iter().filter(short).count(), 2, "{:?}", got.warnings);
}

/// A servo arm that pulls through a half circle flattens at both ends without meeting anything.
#[test]
fn a_smooth_bend_is_no_stop() {
    let x = sweep(41, 3.5);
    for scale in [0.02, 0.3] {
        let y: Vec<f64> = x
            .iter()
            .enumerate()
            .map(|(i, x)| 40.0 * (x - 70.0).to_radians().sin() + scale * noise(i))
            .collect();
        let got = fit(&x, &y).unwrap();
        assert_eq!((got.lower.kind, got.upper.kind), (EndKind::Clear, EndKind::Clear));
        assert!(got.warnings.iter().any(|w| matches!(w, Warning::Curved { .. })));
    }
}

#[test]
fn order_and_units_make_no_difference() {
    let d = data("synthetic/out20_both.json");
    let (x, y) = (numbers(&d["data"]["x"]), numbers(&d["data"]["y"]));
    let got = fit(&x, &y).unwrap();
    // Shuffled: the same to the bit, but for the indices.
    let order: Vec<usize> = (0..x.len()).map(|i| (i * 37) % x.len()).collect();
    let pick = |v: &[f64]| -> Vec<f64> { order.iter().map(|&i| v[i]).collect() };
    let shuffled = fit(&pick(&x), &pick(&y)).unwrap();
    assert_eq!(
        (shuffled.slope, shuffled.lower, shuffled.upper),
        (got.slope, got.lower, got.upper)
    );
    // Other units, measured the other way round.
    let scaled_x: Vec<f64> = x.iter().map(|x| 0.18 * x - 90.0).collect();
    let scaled_y: Vec<f64> = y.iter().map(|y| -3.0 * y + 512.0).collect();
    let other = fit(&scaled_x, &scaled_y).unwrap();
    close(other.slope, -3.0 * got.slope / 0.18, 1e-9);
    for (a, b) in [(other.lower, got.lower), (other.upper, got.upper)] {
        close(a.at, 0.18 * b.at - 90.0, 1e-9);
        close(a.u.unwrap(), 0.18 * b.u.unwrap(), 1e-9);
    }
    assert_eq!(other.sense.trend, Trend::Falling);
    for at in [600.0, 950.0, 1500.0, 2400.0] {
        close(
            got.expected(at),
            (got.slope * at + got.intercept).clamp(got.lower.level.unwrap().value, got.upper.level.unwrap().value),
            1e-9,
        );
    }
    assert!(got.expected(f64::NAN).is_nan());
}

#[test]
fn a_level_line_is_not_inverted() {
    let line = |slope: f64| fit_line(&[0.0, 1.0, 2.0], &[5.0, 5.0 + slope, 5.0 + 2.0 * slope]).unwrap();
    for (slope, inverted) in [(0.0, false), (0.5, false), (-0.5, true)] {
        let joint = line(slope).joint([10.0, 20.0], Some([0.0, 1.0])).unwrap();
        assert_eq!(joint.inverted, inverted, "{slope}");
    }
    assert!(line(0.0).joint([10.0, 20.0], None).is_err());
}

/// A reading on the very place of a contact may have met it; one at the end of what follows the line does follow it.
#[test]
fn a_reading_on_a_contact_is_not_between_the_stops() {
    let drive: Vec<f64> = (0..31).map(|step| 3.0 * f64::from(step)).collect();
    let measured: Vec<f64> = drive.iter().map(|d| d.clamp(20.0, 70.0)).collect();
    let readings = Readings::new(&drive, &measured);
    let mut fit = fit_limits(&readings, &FitOptions::default()).unwrap();
    for (kind, itself) in [(EndKind::Contact, 0), (EndKind::Stalled, 1)] {
        (fit.lower.kind, fit.lower.at) = (kind, 21.0);
        (fit.upper.kind, fit.upper.at) = (kind, 69.0);
        let between = fit.between_stops(&readings);
        let kept = between.readings().drive;
        // 24 to 66 by 3, and the two places themselves.
        assert_eq!(kept.len(), 15 + 2 * itself, "{kept:?}");
        assert_eq!(kept.contains(&21.0) && kept.contains(&69.0), itself == 1);
    }
}
