//! What is written of a fit that is taken: commands, curves, units, mirrored joints, history.

use super::*;

#[test]
fn without_travel_or_relation_nothing_is_written() {
    let mut fit = limits(TOOTH);
    let before = wing();
    let mut wing = before.clone();
    wing.unit = Some("fraction".to_owned());
    let (unrelated, measured_in_deg) = (wing.clone(), Refit::new(&fit).with_unit(Some("deg")));
    assert!(!measured_in_deg.relates(&wing));
    assert_eq!(wing.adopt_fit(&measured_in_deg, None), Err(AdoptError::Unrelated));
    assert_eq!(AdoptError::Unrelated.code(), Code::OptionOutside);
    // Nor is it said that they agree: only who keeps the map gets travel and evidence.
    assert_eq!(wing.put_fit(&measured_in_deg, None), Err(AdoptError::Unrelated));
    assert_eq!(wing, unrelated);
    wing.keep_map(&measured_in_deg, None).unwrap();
    assert_eq!(wing.joint.travel, fit.travel);
    let mut wing = unrelated.clone();
    // What the ends of the commands stand for says it.
    let ends = measured_in_deg.with_command_ends([-40.0, 60.0]);
    assert!(ends.relates(&wing));
    wing.adopt_fit(&ends, None).unwrap();
    assert!((wing.joint.drive[0] - 37.0 - TOOTH).abs() < 1e-3);
    // Units with factors say it too: a command of 1 rad is 57.3 deg.
    let mut in_rad = before.clone();
    (in_rad.unit, in_rad.joint.command, in_rad.joint.rest) = (Some("rad".to_owned()), [-0.5, 0.5], 0.0);
    assert!(measured_in_deg.relates(&in_rad) && Refit::new(&fit).relates(&in_rad));
    in_rad.adopt_fit(&measured_in_deg, None).unwrap();
    let at = |command: f64| 37.0 + TOOTH + SLOPE * (command.to_degrees() + 40.0);
    assert!((in_rad.joint.drive[0] - at(-0.5)).abs() < 1e-3 && (in_rad.joint.drive[1] - at(0.5)).abs() < 1e-3);

    fit.travel = None;
    let mut wing = before.clone();
    for result in [
        wing.adopt_fit(&Refit::new(&fit), None),
        wing.keep_map(&Refit::new(&fit).with_servo(SERVO), None),
    ] {
        assert_eq!(result, Err(AdoptError::NoTravel));
    }
    assert_eq!(wing, before);
}

/// Commands in another unit: each keeps its pulse, and the rate its speed.
#[test]
fn commands_are_converted_with_rest_and_rate() {
    let mut before = wing();
    before.unit = Some("deg".to_owned());
    before.joint.max_rate_per_s = Some(90.0);
    let mut in_rad = before.clone();
    in_rad.convert_commands("rad").unwrap();
    assert_eq!(in_rad.unit.as_deref(), Some("rad"));
    assert!((in_rad.joint.rest - 10.0_f64.to_radians()).abs() < 1e-5);
    assert!((in_rad.joint.max_rate_per_s.unwrap() - 90.0_f64.to_radians()).abs() < 1e-12);
    for (old, new) in pulses(&before).iter().zip(pulses(&in_rad)) {
        assert!((old - new).abs() < 0.02, "{old} {new}");
    }
    let unconverted = in_rad.clone();
    assert_eq!(in_rad.convert_commands("mm"), Err(AdoptError::Unconvertible));
    assert_eq!(in_rad, unconverted);
}

#[test]
fn a_curve_is_cut_to_the_commands_and_never_stretched() {
    let (fit, curve) = (limits(0.0), curve(0.0));
    let [least, most] = curve.command();
    // The readings cover part of the commands: these end with the readings.
    let mut adopted = wing();
    let refit = Refit::new(&fit).with_map(RefitMap::Curve(&curve));
    adopted.adopt_fit(&refit, None).unwrap();
    assert!((adopted.joint.command[0] - least).abs() < 1e-3 && (adopted.joint.command[1] - most).abs() < 1e-3);
    let joint = Joint::new(adopted.joint.clone()).unwrap();
    let Transmission::Curve(transmission) = joint.transmission() else {
        panic!("{:?}", adopted.joint.transmission)
    };
    assert_eq!(transmission.rule(), elbowroom::curve::SlopeRule::Parabola);

    let part = curve.joint_between([0.0, 1.0], [-10.0, 20.0]).unwrap();
    let at = |measured: f64| 37.0 + SLOPE * (measured + 40.0);
    assert!((part.drive[0] - at(-10.0)).abs() < 1e-6 && (part.drive[1] - at(20.0)).abs() < 1e-6);
    assert!(!part.inverted && part.departure < 1e-6);
    assert_eq!(
        curve.joint_between([0.0, 1.0], [-10.0, most + 1.0]).unwrap_err().code(),
        Code::OptionOutside
    );

    let mut cut = wing();
    cut.apply_curve_between(&curve, [0.0, 1.0], [-10.0, 20.0]).unwrap();
    assert_eq!(cut.joint.command, [0.0, 1.0]);
    assert!((cut.joint.drive[0] - at(-10.0)).abs() < 1e-3 && (cut.joint.drive[1] - at(20.0)).abs() < 1e-3);
    let before = cut.clone();
    assert!(cut.apply_curve_between(&curve, [0.0, 1.0], [20.0, 20.0]).is_err());
    assert_eq!(cut, before);
}

const TWO: &str = r#"format = 1
timer = { frame_hz = 50, counts_per_frame = 4096 }
servo = { angle = [0, 180], pulse_us = [500, 2500] }
[joint.wing_left]
unit = "deg"
command = [-40, 60]
drive = [37, 122]
rest = 10
[joint.wing_right]
unit = "steps"
command = [-40, 60]
drive = [37, 122]
inverted = true
rest = 10
"#;

#[test]
fn joints_are_found_by_name_and_converted_in_file_order() {
    let robot = Robot::parse(TWO).unwrap();
    assert_eq!((robot.place("wing_right"), robot.place("wing_rihgt")), (Some(1), None));
    assert_eq!(robot.expect_place("wing_left").unwrap(), 0);
    let unknown = robot.expect_place("wing_rihgt").unwrap_err();
    assert_eq!((unknown.name, unknown.nearest), ("wing_rihgt", Some("wing_right")));
    let units: Vec<Option<Unit>> = robot.joints().iter().map(|joint| joint.known_unit()).collect();
    assert_eq!(units, [Unit::of("deg"), None]);
    assert!(units[0].is_some());

    let mut counts: Vec<Conversion<u32>> = Vec::new();
    robot.each_count(&[10.0, 10.0], |count| counts.push(count)).unwrap();
    for (entry, count) in robot.joints().iter().zip(&counts) {
        assert_eq!(*count, entry.joint().counts(10.0).unwrap());
    }
    assert_eq!(counts.len(), 2);
    // What stands before the refused command is given, the rest is not.
    let refused = robot
        .each_count(&[10.0, f64::NAN], |count| counts.push(count))
        .unwrap_err();
    assert!(matches!(refused, ConvertError::NotFiniteAt { index: 1, .. }));
    assert_eq!(counts.len(), 3);
    let refused = robot.each_count(&[10.0], |count| counts.push(count)).unwrap_err();
    assert!(matches!(refused, ConvertError::LengthMismatch { given: 1, room: 2 }));
    assert_eq!(counts.len(), 3);
}

/// A protractor in deg at a joint whose commands are in rad, and the reverse; pulse widths where drive angles belong.
#[test]
fn values_in_another_unit_are_named_and_never_written() {
    let (mut in_rad, to_rad) = (wing(), Unit::Deg.to_si());
    in_rad.unit = Some("rad".into());
    in_rad.joint.command = in_rad.joint.command.map(|command| command * to_rad);
    in_rad.joint.rest *= to_rad;
    let (drive, degrees) = readings(0.0);
    let radians: Vec<f64> = degrees.iter().map(|deg| deg * to_rad).collect();
    let widths: Vec<f64> = drive.iter().map(|deg| 500.0 + 2000.0 / 180.0 * deg).collect();
    let mut in_deg = wing();
    in_deg.unit = Some("deg".into());
    for (record, drive, measured, said) in [
        (
            &in_rad,
            &drive,
            &degrees,
            "look like deg and the joint's commands are in rad",
        ),
        (
            &in_deg,
            &drive,
            &radians,
            "look like rad and the joint's commands are in deg",
        ),
        (
            &wing(),
            &drive,
            &radians,
            "look like rad and the joint's commands are in deg",
        ),
        (&in_deg, &widths, &degrees, "look like pulse widths in us"),
    ] {
        let fit = fit_limits(&Readings::new(drive, measured), &FitOptions::default()).unwrap();
        let refit = Refit::new(&fit);
        let sentences = record.judge(&refit, &CompareOptions::default()).unwrap().sentences();
        assert!(sentences.len() == 1 && sentences[0].contains(said), "{sentences:?}");
        let mut new = record.clone();
        for refused in [
            new.clone().adopt_fit(&refit, None),
            new.clone().keep_map(&refit, None),
            new.put_fit(&refit, None),
        ] {
            assert!(matches!(refused, Err(AdoptError::MistakenUnit(_))), "{refused:?}");
            assert_eq!(refused.unwrap_err().code(), Code::OptionOutside);
        }
        assert_eq!(&new, record);
    }
    // With their unit the degrees are right.
    let fit = fit_limits(&Readings::new(&drive, &degrees), &FitOptions::default()).unwrap();
    in_rad.put_fit(&Refit::new(&fit).with_unit(Some("deg")), None).unwrap();
}

/// Six digits of the commands would make one of two knots: then all keep their own.
#[test]
fn knots_that_would_run_together_keep_their_digits() {
    let (mut curve, fit) = (curve(0.0), limits(0.0));
    let at = |drive: f64| (drive - 37.0) / SLOPE - 40.0;
    curve.knots = vec![
        [50.0, at(50.0)],
        [80.0, at(80.0)],
        [80.01, at(80.0) + 1e-6],
        [114.0, at(114.0)],
    ];
    let mut adopted = wing();
    let refit = Refit::new(&fit).with_map(RefitMap::Curve(&curve));
    adopted.adopt_fit(&refit, None).unwrap();
    let elbowroom::TransmissionRecord::Curve { knots, .. } = &adopted.joint.transmission else {
        panic!("{:?}", adopted.joint.transmission)
    };
    assert!(
        knots.len() >= 4 && knots.windows(2).all(|pair| pair[0][0] < pair[1][0]),
        "{knots:?}"
    );
    Joint::new(adopted.joint.clone()).unwrap();
}

#[test]
fn evidence_that_is_the_same_again_is_no_history() {
    let mut wing = wing();
    let first = Evidence::from_fit(&limits(0.0), None);
    let mut second = first.clone();
    second.lost_motion = Some(LostMotionEvidence { value: 0.5, u: None });
    assert!(first.source.is_none() && first.is_calibration() && first != second);
    wing.renew(first.clone());
    wing.renew(first.clone());
    assert_eq!((wing.history.len(), &wing.evidence), (0, &first));
    wing.renew(second.clone());
    assert_eq!((wing.history, wing.evidence), (vec![first], second));
}

/// Mirrored, each command has the drive angle counted from the servo's other end, whatever lies between.
#[test]
fn a_joint_is_mirrored_command_by_command() {
    use elbowroom::{TransmissionRecord, curve::SlopeRule, linkage::Mechanism};
    let triangle = elbowroom::linkage::Triangle {
        base: 40.0,
        arm: 92.0,
        angle_at_zero: 80.0,
    };
    for transmission in [
        TransmissionRecord::Linear {},
        TransmissionRecord::Curve {
            knots: vec![[-40.0, 37.0], [0.0, 60.0], [60.0, 122.0]],
            rule: SlopeRule::Parabola,
        },
        (&Mechanism::Triangle(triangle)).into(),
    ] {
        let mut wing = wing();
        wing.joint.transmission = transmission;
        let mirrored = wing.mirrored_as("wing_right", None);
        let [own, other] = [&wing, &mirrored].map(|record| Joint::new(record.joint.clone()).unwrap());
        for command in (0..=20).map(|i| -40.0 + 5.0 * f64::from(i)) {
            let sum = own.transmission().drive(command) + other.transmission().drive(command);
            assert!((sum - 180.0).abs() < 1e-9, "{command}: {sum}");
        }
    }
}
