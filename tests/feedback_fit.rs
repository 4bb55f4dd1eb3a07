//! Feedback maps from measured points: straight where that is enough, a curve where the sensor is bent, and the joint that has them.
#![allow(clippy::indexing_slicing, clippy::unwrap_used, reason = "a test may fail loudly")]

use approx::assert_relative_eq;
use elbowroom::fit::{FeedbackFit, FitError, MOST_JOINT_KNOTS, Readings, fit_curve, fit_feedback};
use elbowroom::robot::{EntryRecord, Robot};
use elbowroom::{Code, Feedback, FeedbackRecord, Joint, JointRecord, ServoRecord, TimerRecord};
use proptest::prelude::*;
use serde_json::Value;

const SERVO: ServoRecord<f64> = ServoRecord {
    angle: [0.0, 180.0],
    pulse_us: [500.0, 2500.0],
};
const TIMER: TimerRecord<f64> = TimerRecord {
    frame_hz: 50.0,
    counts_per_frame: 4096,
};

/// Scatter that is the same in every run: six numbers of a small generator, less their mean, nearly normal with deviation 1.
fn scatter(state: &mut u64) -> f64 {
    let mut sum = 0.0;
    for _ in 0..6 {
        *state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        sum += f64::from((*state >> 33) as u32) / f64::from(1u32 << 31);
    }
    (sum - 3.0) * 2f64.sqrt()
}

/// A potentiometer of 10 kilohm, read through 22 kilohm by 10 bits: the textbook's loaded divider.
fn loaded() -> Feedback<f64> {
    let mut record = FeedbackRecord::new([40.0, 980.0], [0.0, 250.0]);
    (record.adc_bits, record.pot_ohm, record.load_ohm) = (Some(10), Some(10e3), Some(22e3));
    Feedback::new(&record).unwrap()
}

/// NIST's Norris set: the calibration of an ozone monitor, instrument against customer, certified to 15 digits.
#[test]
fn a_published_calibration_is_straight_and_has_its_certified_line() {
    let set: Value = serde_json::from_str(include_str!("data/line/strd_norris.json")).unwrap();
    let column = |name: &str| -> Vec<f64> {
        let values = set["data"][name].as_array().unwrap();
        values.iter().map(|value| value.as_f64().unwrap()).collect()
    };
    let (x, y) = (column("x"), column("y"));
    let fit = fit_feedback(&x, &y, 7).unwrap();
    assert_eq!(fit.knots.len(), 2, "straight");
    // From the certified table: intercept, slope, residual standard deviation.
    let [intercept, slope, sd] = [-0.262323073774029, 1.00211681802045, 0.884796396144373];
    for [reading, angle] in &fit.knots {
        assert_relative_eq!(
            *angle,
            intercept + slope * reading,
            max_relative = 1e-11,
            epsilon = 1e-10
        );
    }
    assert_relative_eq!(fit.residual_sd, sd, max_relative = 1e-11);
    assert_eq!((fit.straight_sd, fit.dof), (fit.residual_sd, 34));
    let record = fit.record([100.0, 900.0]).unwrap();
    let feedback = Feedback::new(&record).unwrap();
    assert!(record.knots.is_none() && !record.inverted);
    for reading in [120.0, 512.5, 880.0] {
        assert_relative_eq!(
            feedback.angle(reading),
            intercept + slope * reading,
            max_relative = 1e-11
        );
    }
}

#[test]
fn a_loaded_potentiometer_is_found_bent_and_followed() {
    let truth = loaded();
    for mirrored in [false, true] {
        let mut state = 11;
        let mut readings = Vec::new();
        let mut angles = Vec::new();
        for i in 0..80 {
            let angle = 250.0 * f64::from(i) / 79.0;
            readings.push(truth.reading(angle).round());
            let angle = angle + 0.3 * scatter(&mut state);
            angles.push(if mirrored { 250.0 - angle } else { angle });
        }
        let fit = fit_feedback(&readings, &angles, 12).unwrap();
        assert!((3..8).contains(&fit.knots.len()), "{} knots", fit.knots.len());
        assert!(
            fit.residual_sd < 0.4 && fit.straight_sd > 5.0 * fit.residual_sd,
            "{fit:?}"
        );
        let feedback = Feedback::new(&fit.record([10.0, 240.0]).unwrap()).unwrap();
        assert_eq!(feedback.direction().is_inverted(), mirrored);
        for i in 0..=230 {
            let angle = 10.0 + f64::from(i);
            let reading = truth.reading(if mirrored { 250.0 - angle } else { angle });
            let off = feedback.angle(reading) - angle;
            assert!(off.abs() < 0.6, "{off} at {angle}");
        }
    }
}

#[test]
fn a_joint_takes_it_over_and_keeps_what_it_knew_of_the_sensor() {
    let mut record = EntryRecord::new("neck", JointRecord::new([0.0, 1.0], [10.0, 150.0], 0.5, SERVO, TIMER));
    let truth = loaded();
    let angles: Vec<f64> = (0..40).map(|i| 5.0 * f64::from(i)).collect();
    let readings: Vec<f64> = angles.iter().map(|&angle| truth.reading(angle)).collect();
    let fit = fit_feedback(&readings, &angles, 12).unwrap();

    let mut before = FeedbackRecord::new([0.0, 1000.0], [0.0, 90.0]);
    (before.adc_bits, before.pot_ohm, before.load_ohm, before.supply_v) = (Some(10), Some(1e4), Some(1e5), Some(5.0));
    record.joint.feedback = Some(before);
    record.apply_feedback(&fit, Some([20.0, 180.0])).unwrap();
    let mut robot = Robot::new("heron").unwrap();
    robot.put(&record).unwrap();
    let read = Robot::parse(robot.to_toml()).unwrap();
    let joint = read.joint("neck").unwrap().joint();
    let feedback = joint.feedback().unwrap();
    let kept = feedback.record();
    assert_eq!(
        (kept.adc_bits, kept.supply_v, kept.pot_ohm),
        (Some(10), Some(5.0), None)
    );
    // Written in six digits of both ranges, of some hundreds of counts and 160 deg.
    let knots = kept.knots.as_ref().unwrap();
    assert!(knots.len() > 2);
    for value in knots.iter().flatten() {
        assert_eq!((value * 1e3).round() / 1e3, *value, "{knots:?}");
    }
    for i in 0..=16 {
        let angle = 20.0 + 10.0 * f64::from(i);
        let reading = truth.reading(angle);
        assert!((joint.angle_from_reading(reading).unwrap() - angle).abs() < 0.05);
        // Command 0 means 20 deg, command 1 means 180.
        assert!((joint.command_from_reading(reading).unwrap() - (angle - 20.0) / 160.0).abs() < 0.05 / 160.0);
    }
    // Commands that are joint angles need no more said.
    record.joint.command = [30.0, 120.0];
    record.joint.rest = 60.0;
    record.apply_feedback(&fit, None).unwrap();
    let joint = Joint::new(record.joint.clone()).unwrap();
    assert!((joint.command_from_reading(truth.reading(75.0)).unwrap() - 75.0).abs() < 0.05);
    assert_eq!(
        record.apply_feedback(&fit, Some([5.0, 5.0])).unwrap_err().code(),
        Code::OptionOutside
    );
}

#[test]
fn what_is_wrong_is_called_by_its_name() {
    let (reading, angle) = ([1.0, 2.0, 3.0, 4.0, 5.0, 6.0], [0.0, 1.0, 2.0, 3.0, 4.0, 5.0]);
    let mut bad = reading;
    bad[2] = f64::NAN;
    let said = |error: FitError| error.to_string();
    assert!(said(fit_feedback(&bad, &angle, 7).unwrap_err()).starts_with("reading at index 2 is not a number"));
    assert!(said(fit_feedback(&reading, &bad, 7).unwrap_err()).starts_with("angle at index 2 is not a number"));
    assert!(said(fit_feedback(&reading, &angle[..4], 7).unwrap_err()).starts_with("angle has 4 values for 6"));
    assert_eq!(
        fit_feedback(&reading[..4], &angle[..4], 7).unwrap_err().code(),
        Code::TooFewReadings
    );
    for (reading, angle, low, upper) in [(reading, [1.0; 6], 1.0, 1.0), ([500.0; 6], angle, 500.0, 5.0)] {
        let still = fit_feedback(&reading, &angle, 7).unwrap_err();
        assert_eq!(still.code(), Code::NoMotion);
        assert!(
            matches!(still, FitError::SensorStill { low: l, upper: u, .. } if (l, u) == (low, upper)),
            "{still}"
        );
    }
    let fit = fit_feedback(&reading, &angle, 7).unwrap();
    assert_eq!(fit.angle(), [0.0, 5.0]);
    for angle in [[5.0, 5.0], [5.0, 1.0], [0.0, f64::NAN]] {
        assert_eq!(fit.record(angle).unwrap_err().code(), Code::OptionOutside, "{angle:?}");
    }
}

/// What a wire that hangs in the air reads, or a joint that hardly moves, is no map, however a line may run through it.
#[test]
fn scatter_is_no_map() {
    for seed in 1..200u64 {
        let mut state = seed;
        let angles: Vec<f64> = (0..30).map(|i| 3.0 * f64::from(i)).collect();
        let noisy: Vec<f64> = angles.iter().map(|_| (500.0 + scatter(&mut state)).round()).collect();
        let still = fit_feedback(&noisy, &angles, 12).unwrap_err();
        assert!(matches!(still, FitError::SensorStill { .. }), "{still}");
        let readings: Vec<f64> = (0..30).map(|i| 100.0 + 25.0 * f64::from(i)).collect();
        let held: Vec<f64> = readings.iter().map(|_| 40.0 + 0.1 * scatter(&mut state)).collect();
        let still = fit_feedback(&readings, &held, 12).unwrap_err();
        assert!(matches!(still, FitError::SensorStill { .. }), "{still}");
    }
}

/// Commands that mean other angles from now on leave the sensor's map what it is.
#[test]
fn a_new_transmission_keeps_what_the_sensor_says() {
    let drive: Vec<f64> = (0..30).map(|i| 20.0 + 3.0 * f64::from(i)).collect();
    let bent = |d: f64| 10.0 + 0.5 * (d - 20.0) + 0.004 * (d - 20.0).powi(2);
    let measured: Vec<f64> = drive.iter().map(|&d| bent(d)).collect();
    let curve = fit_curve(&Readings::new(&drive, &measured), 12).unwrap();
    let straight = FeedbackRecord::new([200.0, 800.0], [0.0, 95.0]);
    let mut falling = straight.clone();
    falling.inverted = true;
    let mut load = straight.clone();
    (load.adc_bits, load.pot_ohm, load.load_ohm) = (Some(10), Some(10e3), Some(22e3));
    let mut knotted = straight.clone();
    knotted.knots = Some(vec![[200.0, 0.0], [350.0, 30.0], [600.0, 70.0], [800.0, 95.0]]);
    for feedback in [straight, falling, load, knotted] {
        for command in [None, Some([0.0, 1.0])] {
            let mut record = EntryRecord::new("neck", JointRecord::new([0.0, 180.0], [10.0, 150.0], 0.0, SERVO, TIMER));
            record.joint.feedback = Some(feedback.clone());
            let before = Joint::new(record.joint.clone()).unwrap();
            record.apply_curve(&curve, command).unwrap();
            record.joint.rest = record.joint.command[0];
            let after = Joint::new(record.joint.clone()).unwrap();
            for reading in [270.0, 400.0, 500.0, 620.0] {
                let angle = before.angle_from_reading(reading).unwrap();
                assert!(
                    (after.angle_from_reading(reading).unwrap() - angle).abs() < 0.02,
                    "{feedback:?} at {reading}"
                );
                // The joint is then where the curve says that this angle is.
                let [lower, upper] = curve.command();
                let part = (angle - lower) / (upper - lower);
                let want = command.map_or(angle, |_| part);
                let told = after.command_from_reading(reading).unwrap();
                assert!(
                    (told - want).abs() < 0.02 * if command.is_some() { 0.02 } else { 1.0 },
                    "{told} for {want}"
                );
            }
        }
    }
    let mut record = EntryRecord::new("neck", JointRecord::new([0.0, 180.0], [10.0, 150.0], 0.0, SERVO, TIMER));
    record.joint.feedback = Some(FeedbackRecord::new([200.0, 800.0], [200.0, 295.0]));
    let before = record.clone();
    assert_eq!(
        record.apply_curve(&curve, None).unwrap_err().code(),
        Code::OptionOutside
    );
    assert_eq!(record, before, "angles of another protractor");
}

/// Readings in volts or in parts of the scale, angles of every width: what is written down follows what was found.
#[test]
fn a_map_of_any_unit_can_be_written_down() {
    for (scale, bend) in [1e-6, 1e-3, 0.01, 1.0, 5.0, 1023.0, 16e6]
        .into_iter()
        .flat_map(|s| [(s, 0.0), (s, 0.4)])
    {
        for wide in [0.5, 9.0, 90.0, 270.0] {
            let part: Vec<f64> = (0..40).map(|i| f64::from(i) / 39.0).collect();
            let readings: Vec<f64> = part.iter().map(|t| scale * (0.1 + 0.8 * t)).collect();
            let angles: Vec<f64> = part.iter().map(|t| wide * (t + bend * t * (1.0 - t))).collect();
            let fit = fit_feedback(&readings, &angles, 12).unwrap();
            let [least, most] = fit.angle();
            // Ends at, just beside, and beyond knots.
            for (a, b) in [(0.0, 1.0), (0.0002, 0.9997), (0.25, 0.75), (-0.05, 1.05)] {
                let ends = [least + a * (most - least), least + b * (most - least)];
                let mut record =
                    EntryRecord::new("neck", JointRecord::new([0.0, 1.0], [10.0, 150.0], 0.5, SERVO, TIMER));
                record.apply_feedback(&fit, Some(ends)).unwrap();
                let joint = Joint::new(record.joint.clone()).unwrap();
                let curve = fit.curve().unwrap();
                for i in 0..=100 {
                    let angle = ends[0] + (ends[1] - ends[0]) * f64::from(i) / 100.0;
                    let reading = curve.inverse(angle);
                    let off = (joint.angle_from_reading(reading).unwrap() - angle).abs();
                    assert!(
                        off <= 3e-4 * wide + 0.6 * fit.residual_sd,
                        "{off} at {angle} of {wide}, readings to {scale}"
                    );
                }
            }
        }
    }
    // Steps: level for a while, then up.
    let readings: Vec<f64> = (0..60).map(|i| 100.0 + 10.0 * f64::from(i)).collect();
    let steps: Vec<f64> = (0..60).map(|i| [20.0, 45.0, 90.0][i / 20]).collect();
    let fit = fit_feedback(&readings, &steps, 12).unwrap();
    let mut record = EntryRecord::new("neck", JointRecord::new(fit.angle(), [10.0, 150.0], 50.0, SERVO, TIMER));
    record.apply_feedback(&fit, None).unwrap();
    Joint::new(record.joint.clone()).unwrap();
    record.unit = Some("rad".to_owned());
    assert_eq!(record.apply_feedback(&fit, None).unwrap_err(), FitError::AnglesUnknown);
    record.unit = Some("deg".to_owned());
    record.apply_feedback(&fit, None).unwrap();
    for angle in [[200.0, 300.0], [-50.0, 0.0]] {
        assert_eq!(
            fit.record(angle).unwrap_err().code(),
            Code::OptionOutside,
            "nothing was read there"
        );
    }
}

/// Rows whose sensor column was written wrong; the readings are invented.
#[test]
fn a_few_wrong_rows_do_not_bend_the_map() {
    let angle: Vec<f64> = (0..24).map(|i| 5.0 * f64::from(i)).collect();
    let right: Vec<f64> = (angle.iter().enumerate())
        .map(|(i, angle)| (180.0 + 5.6 * angle + [0.4, -0.7, 0.1, 0.9, -0.5][i % 5]).round())
        .collect();
    let clean = fit_feedback(&right, &angle, 12).unwrap();
    assert!(clean.left_out.is_empty() && clean.knots.len() == 2);
    // One anywhere; then as many as one in eight.
    let wrong = (0..24).map(|i| vec![i]).chain([vec![2, 11], vec![3, 8, 20]]);
    for places in wrong {
        for off in [-95.0, 60.0, 400.0] {
            let mut reading = right.clone();
            for &at in &places {
                reading[at] += off;
            }
            let fit = fit_feedback(&reading, &angle, 12).unwrap();
            assert_eq!(fit.left_out, places, "{off} {:?}", fit.knots);
            let far = fit.far_off(&reading, &angle);
            assert_eq!(far.iter().map(|one| one.index).collect::<Vec<_>>(), places);
            assert!(
                far.iter()
                    .all(|one| one.is_left_out && (one.off + off / 5.6).abs() < 1.0)
            );
            assert!(
                far[0]
                    .to_string()
                    .ends_with("is left out; repeat it, and correct the row")
            );
            let curve = fit.curve().unwrap();
            for (reading, angle) in right.iter().zip(&angle) {
                assert!((curve.at(*reading) - angle).abs() < 0.5, "{places:?} {off}: {reading}");
            }
        }
    }
    // Of fewer than eight readings none can be judged, and where more than one in eight lie off no reading is left out beyond that.
    let fit = fit_feedback(
        &[180.0, 236.0, 292.0, 378.0, 404.0, 460.0, 516.0],
        &[0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0],
        2,
    )
    .unwrap();
    assert!(fit.left_out.is_empty());
    let mut reading = right.clone();
    for at in [2, 7, 12, 17, 20] {
        reading[at] += 100.0;
    }
    let fit = fit_feedback(&reading, &angle, 2).unwrap();
    assert!(fit.left_out.len() <= 3);
    for at in [2, 7, 12, 17, 20] {
        reading[at] += 200.0;
    }
    assert_eq!(fit_feedback(&reading, &angle, 2).unwrap_err().code(), Code::NoMotion);
}

/// A straight potentiometer from 206 to 819 over -45 to 60 deg, read to a degree by a protractor.
fn straight(n: usize, state: &mut u64) -> (Vec<f64>, Vec<f64>) {
    let angle = (0..n).map(|i| -45.0 + 105.0 * i as f64 / (n - 1) as f64);
    angle
        .map(|angle| {
            let reading = 206.0 + (angle + 45.0) * 613.0 / 105.0 + scatter(state);
            (reading.round(), (angle + 0.3 * scatter(state)).round())
        })
        .unzip()
}

/// How far a map departs from that potentiometer.
fn off_straight(fit: &FeedbackFit) -> f64 {
    let curve = fit.curve().unwrap();
    let places = (206..=819).map(f64::from);
    places.fold(0.0, |most: f64, r| {
        most.max((curve.at(r) - ((r - 206.0) * 105.0 / 613.0 - 45.0)).abs())
    })
}

/// A wrong row beside an end is left out, not the good end behind it, which a curve would not miss.
#[test]
fn a_good_end_is_not_left_out_for_the_wrong_row_beside_it() {
    let reading = [
        206, 230, 243, 269, 287, 311, 334, 352, 374, 398, 415, 437, 455, 480, 502, 522, 545, 569, 585, 609, 625, 648,
        672, 690, 712, 735, 754, 777, 796, 819,
    ]
    .map(f64::from);
    let angle = [
        -45, -41, -38, -34, -31, -27, -23, -20, -16, -12, -9, -5, -2, 2, 6, 9, 13, 17, 20, 24, 27, 31, 35, 38, 42, 46,
        49, 53, 61, 60,
    ]
    .map(f64::from);
    let fit = fit_feedback(&reading, &angle, 7).unwrap();
    assert_eq!(
        (fit.left_out.as_slice(), fit.knots.len()),
        (&[28][..], 2),
        "{:?}",
        fit.knots
    );
    let draws = 100u64;
    let mut bad = [0; 3];
    for seed in 1..=draws {
        let mut state = seed;
        let (reading, right) = straight(30, &mut state);
        let with = |wrong: &[(usize, f64)]| {
            let mut angle = right.clone();
            for &(row, by) in wrong {
                angle[row] += by;
            }
            let fit = fit_feedback(&reading, &angle, 7).unwrap();
            let missed = wrong.iter().any(|(row, _)| !fit.left_out.contains(row));
            i32::from(off_straight(&fit) > 1.5 || missed)
        };
        let (one, step) = (seed as usize % 30, 1 + seed as usize % 28);
        bad[0] += with(&[(28, 5.0)]);
        bad[1] += with(&[(one, 10.0)]);
        bad[2] += with(&[(one, 10.0), ((one + step) % 30, -10.0)]);
    }
    eprintln!("{bad:?} of {draws} maps with one or two wrong rows of 30 off by more than 1.5 deg, or with a wrong row");
    assert!(bad.into_iter().all(|bad| bad <= 1), "{bad:?}");
}

/// Two neighbours whose angles were exchanged are both named.
#[test]
fn two_exchanged_rows_are_named() {
    let mut named = [0; 3];
    for seed in 1..=60u64 {
        for (of, n) in [8, 12, 20].into_iter().enumerate() {
            let mut state = seed;
            let (reading, mut angle) = straight(n, &mut state);
            let first = seed as usize % (n - 1);
            angle.swap(first, first + 1);
            let fit = fit_feedback(&reading, &angle, 7).unwrap();
            let far: Vec<usize> = fit.far_off(&reading, &angle).iter().map(|one| one.index).collect();
            named[of] += i32::from(far == [first, first + 1] && off_straight(&fit) < 1.5);
        }
    }
    eprintln!("exchanged rows named in {named:?} of 60 tables of 8, 12 and 20 rows");
    assert!(named.into_iter().all(|named| named >= 57), "{named:?}");
}

/// Most rows of a coarse scale agree to the digit, and the others by one step: none of them is wrong.
#[test]
fn a_step_of_the_scale_is_no_wrong_row() {
    let reading: Vec<f64> = (0..40).map(|i| 200.0 + 10.0 * f64::from(i)).collect();
    for step in [0.5, 1.0, 5.0] {
        let mut angle: Vec<f64> = (0..40).map(|i| step * f64::from(i)).collect();
        for at in [5, 17, 31] {
            angle[at] += step;
        }
        let fit = fit_feedback(&reading, &angle, 12).unwrap();
        assert!(
            fit.left_out.is_empty() && fit.far_off(&reading, &angle).is_empty(),
            "{step}"
        );
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(300) })]

    /// Whatever the bend, the noise and the cut: the joint's map ends where it should and follows the fitted one.
    #[test]
    fn a_cut_map_follows_the_whole_one(
        bend in -0.9..0.9f64, wave in -0.3..0.3f64, noise in 0.0..2.0f64, n in 8usize..60, falling: bool, seed: u64,
        cut in [-0.2..0.4f64, 0.6..1.2],
    ) {
        let mut state = seed;
        let shape = |t: f64| t + bend * t * (1.0 - t) * 0.9 + wave * (core::f64::consts::TAU * t).sin() / core::f64::consts::TAU;
        let (mut readings, mut angles) = (Vec::new(), Vec::new());
        for i in 0..n {
            let t = i as f64 / (n - 1) as f64;
            readings.push(100.0 + 800.0 * t);
            let angle = 120.0 * shape(t) + noise * scatter(&mut state);
            angles.push(if falling { -angle } else { angle });
        }
        let fit = fit_feedback(&readings, &angles, 12).unwrap();
        let [least, most] = fit.angle();
        let ends = cut.map(|part| least + part * (most - least));
        let record = fit.record(ends).unwrap();
        let knots = record.knots.as_ref().map_or(2, Vec::len);
        prop_assert!(knots <= MOST_JOINT_KNOTS);
        let feedback = Feedback::new(&record).unwrap();
        let [first, last] = record.reading;
        let want = if record.inverted { [ends[1], ends[0]] } else { ends };
        prop_assert_eq!([feedback.angle(first), feedback.angle(last)], want);
        let curve = fit.curve().unwrap();
        let enough = (0.5 * fit.residual_sd).max(2e-4 * (ends[1] - ends[0]));
        for i in 0..=200 {
            let reading = first + (last - first) * f64::from(i) / 200.0;
            let off = (feedback.angle(reading) - curve.at(reading)).abs();
            prop_assert!(off <= 1.05 * enough || knots == MOST_JOINT_KNOTS, "{} at {}, {} let pass", off, reading, enough);
        }
    }
}
