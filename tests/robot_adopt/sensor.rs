//! Maps of a joint's sensor: one that slipped, one within its uncertainty, one that was turned round.

use super::*;

#[test]
fn a_sensor_that_slipped_is_told() {
    let mut wing = wing();
    wing.joint.feedback = Some(FeedbackRecord::new([212.0, 712.0], [-40.0, 60.0]));
    let fit = limits(0.0);
    // The map of the file, and one 6 deg off.
    let angle: Vec<f64> = (0..11).map(|i| -40.0 + 10.0 * f64::from(i)).collect();
    for (off, differs) in [(0.0, false), (6.0, true)] {
        let reading: Vec<f64> = angle.iter().map(|a| 212.0 + 5.0 * (a + 40.0 + off)).collect();
        let sensed = fit_feedback(&reading, &angle, 4).unwrap();
        let judged = wing
            .judge(&Refit::new(&fit).with_feedback(&sensed), &CompareOptions::default())
            .unwrap();
        assert!((judged.sensor.unwrap() - off).abs() < 1e-6, "{judged:?}");
        assert_eq!((judged.sensor_differs, judged.contradicts()), (differs, differs));
        let said: Vec<String> = judged.sentences();
        assert_eq!(
            said.iter().any(|s| s.starts_with("sensor: up to 6 deg")),
            differs,
            "{said:?}"
        );
    }
}

#[test]
fn scatter_of_a_sensor_within_its_uncertainty_is_no_slip() {
    let (fit, mut wing) = (limits(0.0), wing());
    let angle: Vec<f64> = (0..41).map(|i| -40.0 + 2.5 * f64::from(i)).collect();
    let reading = |a: f64| 212.0 + 5.0 * (a + 40.0);
    wing.joint.feedback = Some(FeedbackRecord::new([212.0, 712.0], [-40.0, 60.0]));
    // Readings astray by up to 2 deg one after the other, so that each knot is some tenths off.
    let astray: Vec<f64> = (0..41)
        .map(|i| f64::from(i * 7 % 11 - 5) * 2.0 + reading(angle[i as usize]))
        .collect();
    let sensed = fit_feedback(&astray, &angle, 4).unwrap();
    let options = CompareOptions::default().with_smallest_drive(1e-3);
    let judged = wing.judge(&Refit::new(&fit).with_feedback(&sensed), &options).unwrap();
    let most_u = sensed.u.iter().copied().fold(0.0, f64::max);
    assert!(
        most_u > 0.1 && judged.sensor.unwrap() > 1e-2 && judged.sensor.unwrap() < 2.0 * most_u,
        "{judged:?}"
    );
    assert!(!judged.sensor_differs && !judged.contradicts(), "{judged:?}");
}

/// A sensor that was put back the other way round turns the loop round: its sense has to be tested again.
#[test]
fn a_sensor_that_was_turned_round_has_no_proven_sense() {
    let mut wing = wing();
    wing.joint.feedback = Some(FeedbackRecord::new([200.0, 800.0], [-40.0, 60.0]));
    wing.evidence.sense = Some(LoopSense::Opposing);
    wing.evidence.date = Date::new(2026, 11, 20);
    let limits = limits(0.0);
    let angles: Vec<f64> = (0..=20).map(|i| 5.0 * f64::from(i) - 40.0).collect();
    for is_turned in [false, true] {
        let read = |angle: &f64| {
            if is_turned {
                560.0 - 6.0 * angle
            } else {
                460.0 + 6.0 * angle
            }
        };
        let readings: Vec<f64> = angles.iter().map(read).collect();
        let fit = fit_feedback(&readings, &angles, 7).unwrap();
        let mut adopted = wing.clone();
        adopted
            .adopt_fit(&Refit::new(&limits).with_feedback(&fit), Date::new(2026, 11, 28))
            .unwrap();
        let feedback = adopted.joint.feedback.as_ref().unwrap();
        assert_eq!(feedback.inverted, is_turned);
        // From the lowest to the highest command, as these are the joint's angles.
        assert_eq!(feedback.angle, [-40.0, 60.0]);
        let ends = if is_turned { [200.0, 800.0] } else { [220.0, 820.0] };
        assert!(
            feedback
                .reading
                .iter()
                .zip(ends)
                .all(|(at, end)| (at - end).abs() < 0.01),
            "{feedback:?}"
        );
        let evidence = &adopted.evidence;
        let proven = (evidence.sense, evidence.sense_date);
        let kept = (Some(LoopSense::Opposing), Date::new(2026, 11, 20));
        assert_eq!(proven, if is_turned { (None, None) } else { kept });
    }
}
