//! Curves fitted to readings: published references, measured joints, properties.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::curve::Curve;
use elbowroom::fit::{
    Approach, CurveFit, EndKind, FitError, FitOptions, MOST_JOINT_KNOTS, MOST_KNOTS, Readings, choose_transmission,
    fit_curve, fit_limits, fit_monotone, fit_polynomial, t_quantile,
};
use elbowroom::{Code, Joint, JointRecord, ServoRecord, TimerRecord, TransmissionRecord};
use proptest::prelude::*;

fn numbers(value: &serde_json::Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
}

#[test]
fn isotonic_references_are_met() {
    // R help page of isoreg (from memory), and Ezekiel (1930), R data set cars: see the files.
    for (name, levels) in [("isotonic_9", 2), ("isotonic_cars", 8)] {
        let path = format!("{}/tests/data/robust/{name}.json", env!("CARGO_MANIFEST_DIR"));
        let json: serde_json::Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
        let (x, y) = (numbers(&json["data"]["x"]), numbers(&json["data"]["y"]));
        let steps = fit_monotone(&x, &y, true).unwrap();
        let backwards = |values: &[f64]| values.iter().rev().copied().collect::<Vec<f64>>();
        assert_eq!(
            fit_monotone(&backwards(&x), &backwards(&y), true).unwrap(),
            steps,
            "{name}: in any order"
        );
        let mut squares = 0.0;
        for ((x, y), want) in x.iter().zip(&y).zip(numbers(&json["expected"]["fitted"])) {
            let step = steps.iter().find(|step| step.x == *x).unwrap();
            assert!((step.y - want).abs() <= 1e-12 * want.abs(), "{name} at {x}");
            squares += (y - step.y).powi(2);
        }
        let want = json["expected"]["weighted_sse"].as_f64().unwrap();
        assert!((squares - want).abs() <= 1e-12 * want, "{name}: {squares}");
        let mut values: Vec<f64> = steps.iter().map(|step| step.y).collect();
        values.dedup();
        assert_eq!(values.len(), levels);
    }
}

/// Elevons of small aircraft, A. J. Barry (see tests/data/measured/README.md): drive in us, deflection in deg, in fit.
fn elevon(aircraft: &str, side: &str) -> (Vec<f64>, Vec<f64>, Vec<bool>) {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/measured/elevon_deflection.csv");
    let (mut x, mut y, mut kept) = (vec![], vec![], vec![]);
    for row in csv::Reader::from_path(path).unwrap().records() {
        let row = row.unwrap();
        if &row[0] == aircraft && &row[1] == side {
            x.push(row[3].parse().unwrap());
            y.push(row[4].parse().unwrap());
            kept.push(&row[5] == "1");
        }
    }
    (x, y, kept)
}

/// Readings between the contacts of a limit fit, without those that it rejected.
fn clear(x: &[f64], y: &[f64]) -> (Vec<f64>, Vec<f64>, [EndKind; 2]) {
    let fit = fit_limits(&Readings::new(x, y), &FitOptions::default()).unwrap();
    let beyond = |x: f64| {
        (fit.lower.kind != EndKind::Clear && x < fit.lower.at) || (fit.upper.kind != EndKind::Clear && x > fit.upper.at)
    };
    let kept = (0..x.len()).filter(|i| !beyond(x[*i]) && fit.rejected.iter().all(|r| r.index != *i));
    let (x, y): (Vec<f64>, Vec<f64>) = kept.map(|i| (x[i], y[i])).unzip();
    (x, y, [fit.lower.kind, fit.upper.kind])
}

#[test]
fn the_curved_elevons_come_down_to_the_quadratic() {
    for (aircraft, side, quadratic) in [
        ("1", "left", 0.821),
        ("1", "right", 1.405),
        ("2", "left", 1.456),
        ("2", "right", 1.216),
    ] {
        let (x, y, kept) = elevon(aircraft, side);
        let (x, y): (Vec<f64>, Vec<f64>) = (0..x.len()).filter(|i| kept[*i]).map(|i| (x[i], y[i])).unzip();
        let reference = fit_polynomial(&x, &y, 2).unwrap();
        assert!(
            (reference.residual_sd - quadratic).abs() < 6e-4,
            "{}",
            reference.residual_sd
        );
        let line = fit_polynomial(&x, &y, 1).unwrap();
        let fit = fit_curve(&Readings::new(&x, &y), MOST_KNOTS).unwrap();
        eprintln!(
            "{aircraft} {side}: line {:.3}, quadratic {:.3}, curve {:.3} with {} knots",
            line.residual_sd,
            reference.residual_sd,
            fit.residual_sd,
            fit.knots.len()
        );
        assert!(fit.knots.len() < 8);
        assert!(fit.residual_sd <= 1.02 * reference.residual_sd);
    }
}

#[test]
fn the_stop_of_a_bent_joint_is_found_and_the_curve_ends_there() {
    // Aircraft 1, left, all 17 readings: two of them on the stop, its knee between 1109 and 1209 us (see the README).
    let (x, y, _) = elevon("1", "left");
    let (clear_x, clear_y, ends) = clear(&x, &y);
    assert_eq!(ends, [EndKind::Stalled, EndKind::Clear]);
    assert!((15..=16).contains(&clear_x.len()) && clear_x.iter().all(|x| *x > 1109.0));
    let fit = fit_curve(&Readings::new(&clear_x, &clear_y), MOST_KNOTS).unwrap();
    let quadratic = fit_polynomial(&clear_x, &clear_y, 2).unwrap();
    assert!(fit.knots.len() < 8 && fit.residual_sd <= 1.02 * quadratic.residual_sd);

    // As a joint: commands in deg of deflection, the curve as its transmission.
    let command = [fit.knots[0][1], fit.knots[fit.knots.len() - 1][1]];
    let made = fit.joint(command).unwrap();
    assert!(!made.inverted && made.departure < fit.residual_sd);
    let servo = ServoRecord {
        angle: [1000.0, 2000.0],
        pulse_us: [1000.0, 2000.0],
    };
    let timer = TimerRecord {
        frame_hz: 50.0,
        counts_per_frame: 20_000,
    };
    let mut record = JointRecord::new(command, made.drive, 0.0, servo, timer);
    record.transmission = made.transmission;
    let joint = Joint::new(record).unwrap();
    let squares: f64 = clear_x
        .iter()
        .zip(&clear_y)
        .map(|(x, y)| (joint.command_from_drive(*x) - y).powi(2))
        .sum();
    assert!((squares / fit.dof as f64).sqrt() < 1.05 * quadratic.residual_sd);
}

#[test]
fn falling_joints_are_inverted() {
    let (x, y, kept) = elevon("1", "right");
    let (x, y): (Vec<f64>, Vec<f64>) = (0..x.len()).filter(|i| kept[*i]).map(|i| (x[i], y[i])).unzip();
    let fit = fit_curve(&Readings::new(&x, &y), 7).unwrap();
    let made = fit.joint([-30.0, 30.0]).unwrap();
    assert!(made.inverted);
    assert_eq!(made.drive, [fit.knots[0][0], fit.knots[fit.knots.len() - 1][0]]);
}

#[test]
fn a_joint_follows_the_fitted_curve_as_far_as_it_says() {
    let shapes: [(&str, &dyn Fn(f64) -> f64); 4] = [
        ("parabola", &|x| 0.5 * x + 0.006 * x * x),
        ("steep end", &|x| 0.05 * x + 0.01 * x * x),
        ("sine", &|x| 60.0 * (x / 60.0).sin()),
        ("tanh", &|x| 40.0 * ((x - 43.0) / 20.0).tanh()),
    ];
    for (name, shape) in shapes {
        for sign in [1.0, -1.0] {
            let x: Vec<f64> = (0..30).map(|i| 3.0 * f64::from(i)).collect();
            let y: Vec<f64> = x.iter().map(|x| sign * shape(*x)).collect();
            let fit = fit_curve(&Readings::new(&x, &y), MOST_KNOTS).unwrap();
            let (first, last) = (fit.knots[0], fit.knots[fit.knots.len() - 1]);
            let (low, high) = (first[1].min(last[1]), first[1].max(last[1]));
            let made = fit.joint([low, high]).unwrap();
            let TransmissionRecord::Curve { knots, rule } = &made.transmission else {
                panic!("{:?}", made.transmission)
            };
            // Sought on a finer grid than the joint's own, through the inverse instead of forward.
            let (curve, turned) = (fit.curve().unwrap(), Curve::new(knots, *rule).unwrap());
            let off = (0..=8700)
                .map(|i| f64::from(i) * 0.01)
                .map(|x| (turned.inverse(x) - curve.at(x)).abs())
                .fold(0.0, f64::max);
            eprintln!(
                "{name} {sign}: {} knots from {}, departs by {off:.4} of {:.1}, {:.4} said",
                knots.len(),
                fit.knots.len(),
                high - low,
                made.departure
            );
            let allowed = (0.5 * fit.residual_sd).max(2e-4 * (high - low));
            assert!(off <= 1.05 * made.departure + 1e-9, "{name}");
            // Only the tanh, whose fit has all its knots already, uses up the joint's as well.
            let full = name == "tanh" && knots.len() == MOST_JOINT_KNOTS && off < 6e-4 * (high - low);
            assert!(made.departure <= allowed || full, "{name}");
            assert!(knots.len() <= MOST_JOINT_KNOTS);
        }
    }
}

#[test]
fn refusals() {
    let x = [1.0, 2.0, 3.0, 4.0, 5.0];
    assert_eq!(
        fit_curve(&Readings::new(&x, &[1.0; 5]), 4).unwrap_err().code(),
        Code::NoMotion
    );
    assert_eq!(
        fit_curve(&Readings::new(&x, &x), 1).unwrap_err().code(),
        Code::OptionOutside
    );
    assert_eq!(
        fit_curve(&Readings::new(&x, &x), MOST_KNOTS + 1).unwrap_err().code(),
        Code::OptionOutside
    );
    assert_eq!(
        fit_curve(&Readings::new(&x[..4], &x[..4]), 3).unwrap_err().code(),
        Code::TooFewReadings
    );
    assert!(matches!(
        fit_curve(&Readings::new(&x, &[1.0, 2.0, f64::NAN, 4.0, 5.0]), 3),
        Err(FitError::NotFinite { index: 2, .. })
    ));
    assert_eq!(
        fit_curve(&Readings::new(&x, &x[..4]), 3).unwrap_err().code(),
        Code::LengthMismatch
    );
    let line: CurveFit = fit_curve(&Readings::new(&x, &x), 3).unwrap();
    assert!(line.joint([2.0, 1.0]).is_err());
}

/// A small generator (xorshift64*) and sums of twelve for a nearly normal scatter.
fn scatter(state: &mut u64) -> f64 {
    (0..12).fold(-6.0, |sum, _| {
        *state ^= *state >> 12;
        *state ^= *state << 25;
        *state ^= *state >> 27;
        sum + (state.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / (1u64 << 53) as f64
    })
}

#[test]
fn knots_are_as_few_as_the_noise_asks() {
    // A straight joint stays straight, a bent one gets what it needs, and less noise shows more shape.
    let mut state = 0x1234_5678_9ABC_DEF1;
    let mut mean_knots = |shape: &dyn Fn(f64) -> f64, noise: f64| {
        let runs = 100;
        let total: usize = (0..runs)
            .map(|_| {
                let x: Vec<f64> = (0..40).map(|i| f64::from(i) * 4.0).collect();
                let y: Vec<f64> = x.iter().map(|x| shape(*x) + noise * scatter(&mut state)).collect();
                fit_curve(&Readings::new(&x, &y), MOST_KNOTS).unwrap().knots.len()
            })
            .sum();
        total as f64 / f64::from(runs)
    };
    let line = mean_knots(&|x| 0.5 * x, 0.5);
    let bent = mean_knots(&|x| 0.2 * x + 0.002 * x * x, 0.5);
    let s_shape = |x: f64| 40.0 * ((x - 78.0) / 30.0).tanh();
    let (coarse, fine) = (mean_knots(&s_shape, 2.0), mean_knots(&s_shape, 0.02));
    assert!(line < 2.3, "{line}");
    assert!((2.9..3.6).contains(&bent), "{bent}");
    assert!(coarse < fine && fine > 7.0, "{coarse} {fine}");
}

#[test]
fn exactly_straight_readings_choose_the_line() {
    for a in [0.0, 0.1, -17.3, 90.0, 1234.5, -1e5, 1e-6] {
        for b in [0.3, -1.7, 0.0123, 1.0 / 3.0, 41.0] {
            for n in [6, 9, 20, 41, 100] {
                for (start, step) in [(0.0, 3.7), (-60.0, 1.3), (1000.1, 10.7)] {
                    let x: Vec<f64> = (0..n).map(|i| start + step * f64::from(i)).collect();
                    let y: Vec<f64> = x.iter().map(|x| a + b * x).collect();
                    let choice = choose_transmission(&Readings::new(&x, &y), &[], MOST_KNOTS).unwrap();
                    let chosen = choice.chosen().unwrap().kind();
                    assert_eq!(
                        chosen, "linear",
                        "{n} readings {a} + {b} x from {start}: {:?}",
                        choice.reasons
                    );
                }
            }
        }
    }
}

#[test]
fn intervals_of_knots_cover_as_often_as_they_say() {
    // A shape that a curve of as few knots as are chosen follows within the scatter: what is left to cover is the scatter alone.
    let shape = |x: f64| 0.35 * x + 0.0016 * x * x;
    let mut state = 0x0DDB_1A5E_5BAD_5EED;
    let (mut inside, mut all) = (0u32, 0u32);
    for _ in 0..600 {
        let x: Vec<f64> = (0..40).map(|i| f64::from(i) * 4.0).collect();
        let y: Vec<f64> = x.iter().map(|x| shape(*x) + 0.5 * scatter(&mut state)).collect();
        let fit = fit_curve(&Readings::new(&x, &y), MOST_KNOTS).unwrap();
        for (knot, u) in fit.knots.iter().zip(&fit.u) {
            inside += u32::from((knot[1] - shape(knot[0])).abs() <= t_quantile(0.975, fit.dof as f64) * u);
            all += 1;
        }
    }
    let share = f64::from(inside) / f64::from(all);
    eprintln!("{inside} of {all} knots within: {share:.3}");
    assert!((0.88..=0.98).contains(&share), "{share}");
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(300) })]

    #[test]
    fn every_fit_is_a_curve(points in prop::collection::vec((-180.0..180.0f64, -90.0..90.0f64), 0..60), most in 0..16usize) {
        let (x, y): (Vec<f64>, Vec<f64>) = points.into_iter().unzip();
        if let Ok(fit) = fit_curve(&Readings::new(&x, &y), most) {
            let curve = fit.curve().unwrap();
            prop_assert!(fit.knots.len() <= most && fit.knots.len() == fit.u.len());
            let squares: f64 = x.iter().zip(&y).map(|(x, y)| (curve.at(*x) - y).powi(2)).sum();
            prop_assert!((squares - fit.sum_of_squares).abs() <= 1e-9 * squares);
            prop_assert!(fit.joint([0.0, 90.0]).is_ok());
        }
    }

    #[test]
    fn exact_parabolas_come_back(a in 0.1..2.0f64, b in 0.0..0.005f64, falling: bool) {
        let sign = if falling { -1.0 } else { 1.0 };
        let x: Vec<f64> = (0..20).map(|i| f64::from(i * i) * 0.4).collect();
        let y: Vec<f64> = x.iter().map(|x| sign * (a * x + b * x * x)).collect();
        let fit = fit_curve(&Readings::new(&x, &y), MOST_KNOTS).unwrap();
        let curve = fit.curve().unwrap();
        for (x, y) in x.iter().zip(&y) {
            prop_assert!((curve.at(*x) - y).abs() < 1e-9 * y.abs().max(1.0));
        }
        prop_assert_eq!(curve.is_rising(), !falling);
    }
}

/// A straight joint whose readings are free of noise, but for pulses of whole microseconds: 0.09 deg of drive each.
#[test]
fn whole_microseconds_make_no_bend() {
    let readings = |bend: f64| -> (Vec<f64>, Vec<f64>, Vec<Approach>) {
        let sweep = (0..11).map(|i| 45.0 + 8.0 * f64::from(i));
        let below = sweep.clone().map(|drive| (drive, Approach::Below));
        let above = sweep.rev().map(|drive| (drive, Approach::Above));
        let mut rows = (Vec::new(), Vec::new(), Vec::new());
        for (drive, side) in below.chain(above) {
            let pulse = (500.0 + drive / 0.09).round();
            let half = if side == Approach::Below { -0.5 } else { 0.5 };
            rows.0.push((pulse - 500.0) * 0.09);
            rows.1.push(drive - 90.0 + half + bend * (drive - 85.0).powi(2));
            rows.2.push(side);
        }
        rows
    };
    for (bend, kind) in [(0.0, "linear"), (1e-3, "curve")] {
        let (drive, measured, sides) = readings(bend);
        let readings = Readings::new(&drive, &measured).with_approach(&sides);
        let choice = choose_transmission(&readings, &[], 5).unwrap();
        assert_eq!(choice.chosen().unwrap().kind(), kind, "{:?}", choice.reasons);
    }
}
