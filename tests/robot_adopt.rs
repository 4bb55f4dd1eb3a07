//! Readings taken anew of a joint that stands in a robot file: what they say against it, and what is written of them. Invented data.
#![cfg(feature = "robot")]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::bring_up::LoopSense;
use elbowroom::fit::{CompareOptions, CurveFit, FitOptions, LimitFit, Readings, fit_curve, fit_feedback, fit_limits};
use elbowroom::robot::{
    AdoptError, Date, DriveUnit, EndEvidence, EntryRecord, Evidence, EvidenceKind, LostMotionEvidence, Refit, RefitMap,
    Robot, Source,
};
use elbowroom::{
    Code, Conversion, ConvertError, FeedbackRecord, Joint, JointRecord, Servo, ServoRecord, Timer, TimerRecord,
    Transmission, Unit,
};

/// Drive deg per command of the joint.
const SLOPE: f64 = 0.85;
/// One tooth of a 25-tooth horn, deg.
const TOOTH: f64 = 14.4;

const SERVO: ServoRecord<f64> = ServoRecord {
    angle: [0.0, 180.0],
    pulse_us: [500.0, 2500.0],
};

fn wing() -> EntryRecord {
    let timer = TimerRecord {
        frame_hz: 50.0,
        counts_per_frame: 4096,
    };
    EntryRecord::new(
        "wing_left",
        JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, SERVO, timer),
    )
}

/// Drive angles, and what the joint of [`wing`] would show there in deg, its horn further by `offset`.
fn readings(offset: f64) -> (Vec<f64>, Vec<f64>) {
    let drive: Vec<f64> = (0..9).map(|i| 50.0 + 8.0 * f64::from(i)).collect();
    let measured = drive.iter().map(|d| (d - offset - 37.0) / SLOPE - 40.0).collect();
    (drive, measured)
}

fn limits(offset: f64) -> LimitFit {
    let (drive, measured) = readings(offset);
    fit_limits(&Readings::new(&drive, &measured), &FitOptions::default()).unwrap()
}

fn curve(offset: f64) -> CurveFit {
    let (drive, measured) = readings(offset);
    fit_curve(&Readings::new(&drive, &measured), 4).unwrap()
}

/// The pulse widths of some commands.
fn pulses(record: &EntryRecord) -> Vec<f64> {
    let joint = Joint::new(record.joint.clone()).unwrap();
    let [lower, upper] = record.joint.command;
    let at = |i: u32| lower + (upper - lower) * f64::from(i) / 8.0;
    let drive = |command| joint.transmission().drive(command);
    (0..=8).map(|i| joint.servo().pulse_us(drive(at(i)))).collect()
}

#[test]
fn a_horn_one_tooth_off_is_told_and_adopted_whole() {
    let (fit, mut wing) = (limits(TOOTH), wing());
    let refit = Refit::new(&fit);
    let judged = wing.judge(&refit, &CompareOptions::default()).unwrap();
    let said = judged.sentences();
    assert!(
        judged.contradicts() && judged.contradicts_map() && said.len() == 3,
        "{said:?}"
    );
    assert!(
        said[0].starts_with("offset: a command needs 14.4 deg more drive than in the file")
            && said[0].contains("the horn sits 1 tooth of 25 (14.4 deg) towards larger drive angles"),
        "{}",
        said[0]
    );
    assert!(said[1].starts_with("slope: 0.85 deg of drive per command measured, 0.85 in the file"));
    assert!(said[2].starts_with("furthest apart: command"), "{}", said[2]);

    assert!(!wing.evidence.is_calibration());
    wing.adopt_fit(&refit, None).unwrap();
    for (found, end) in wing.joint.drive.iter().zip([37.0 + TOOTH, 122.0 + TOOTH]) {
        assert!((found - end).abs() < 1e-3, "{:?}", wing.joint.drive);
    }
    assert_eq!((wing.joint.command, wing.joint.rest), ([-40.0, 60.0], 10.0));
    assert_eq!(wing.joint.travel, fit.travel);
    assert!(wing.evidence.is_calibration());
    let again = wing.judge(&refit, &CompareOptions::default()).unwrap();
    assert!(!again.contradicts() && again.sentences().is_empty(), "{again:?}");
}

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

/// A joint that stalls before the place that the file has for its stop, or before where it was clear, is held there; one that stalls
/// around it is not.
#[test]
fn a_joint_that_stalls_elsewhere_is_told() {
    let stalled = |at: f64| {
        let drive: Vec<f64> = (0..30)
            .map(|i| 37.0 + 5.0 * f64::from(i))
            .take_while(|x| x - 5.0 < at)
            .collect();
        let measured: Vec<f64> = drive.iter().map(|x| -40.0 + (x.min(at) - 37.0) / SLOPE).collect();
        let fit = fit_limits(
            &Readings::new(&drive, &measured),
            &FitOptions::default().with_resolution(0.5),
        )
        .unwrap();
        assert!(
            fit.upper.short_at.is_some_and(|short| fit.upper.at < at && at < short),
            "{:?}",
            fit.upper
        );
        fit
    };
    let says = |fit: &LimitFit, upper: EndEvidence| {
        let mut known = wing();
        known.evidence.upper = Some(upper);
        known
            .judge(&Refit::new(fit), &CompareOptions::default())
            .unwrap()
            .sentences()
    };
    let end = |kind, at: f64, short_at| EndEvidence {
        kind,
        at,
        short_at,
        u: None,
        guard: None,
    };
    let sooner = stalled(94.0);
    for (was, words) in [
        (end(EvidenceKind::Contact, 121.0, None), "contact 121"),
        (end(EvidenceKind::Clear, 119.0, None), "clear to 119"),
        (end(EvidenceKind::Stalled, 117.0, Some(122.0)), "stalled beyond 117"),
    ] {
        let said = says(&sooner, was);
        let wanted = format!("upper stop: stalled beyond 92 deg measured, {words} deg in the file");
        assert!(said.contains(&wanted), "{said:?}");
    }
    let later = says(&stalled(119.0), end(EvidenceKind::Stalled, 92.0, Some(97.0)));
    assert!(
        later
            .iter()
            .any(|one| one.starts_with("upper stop: stalled beyond 117")),
        "{later:?}"
    );
    for was in [
        end(EvidenceKind::Contact, 95.0, None),
        end(EvidenceKind::Stalled, 89.0, Some(94.0)),
        end(EvidenceKind::Clear, 92.0, None),
        end(EvidenceKind::Declared, 121.0, None),
    ] {
        assert!(says(&sooner, was).is_empty(), "{was:?}: {:?}", says(&sooner, was));
    }
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
fn another_servo_line_keeps_each_pulse() {
    // The same servo, whose data sheet says 200 deg.
    let servo = ServoRecord {
        angle: [0.0, 200.0],
        ..SERVO
    };
    let before = wing();
    let mut changed = before.clone();
    changed.change_servo(servo).unwrap();
    assert_eq!(changed.joint.servo, servo);
    for (found, end) in changed.joint.drive.iter().zip([37.0 / 0.9, 122.0 / 0.9]) {
        assert!((found - end).abs() < 1e-3, "{:?}", changed.joint.drive);
    }
    for (old, new) in pulses(&before).iter().zip(pulses(&changed)) {
        assert!((old - new).abs() < 0.01, "{old} {new}");
    }
    // What was measured with it in degrees of the old line is told in those of the new one, uncertainties never smaller.
    let mut known = before.clone();
    known.evidence.lost_motion = Some(LostMotionEvidence {
        value: 1.8,
        u: Some(0.09),
    });
    known.change_servo(servo).unwrap();
    let lost = known.evidence.lost_motion.unwrap();
    assert!(
        (lost.value - 2.0).abs() < 1e-3 && (lost.u.unwrap() - 0.1).abs() <= 1e-3,
        "{lost:?}"
    );
    let mut same = before.clone();
    same.change_servo(SERVO).unwrap();
    assert_eq!(same, before);

    // A travel as wide as the drive range, and a rest at its end.
    let mut wide = before.clone();
    (wide.joint.drive, wide.joint.travel, wide.joint.rest) = ([70.0, 121.0], Some([70.0, 121.0]), -40.0);
    let thirds = ServoRecord {
        angle: [0.0, 120.0],
        ..SERVO
    };
    wide.change_servo(thirds).unwrap();
    assert_eq!(wide.joint.travel, Some(wide.joint.drive));
    Joint::new(wide.joint).unwrap();

    // Travel and evidence of new readings, each command with its pulse.
    let fit = limits(0.0);
    let refit = Refit::new(&fit).with_servo(servo);
    let mut kept = before.clone();
    kept.keep_map(&refit, None).unwrap();
    assert_eq!((kept.joint.servo, kept.joint.travel), (servo, fit.travel));
    // The evidence says by how much the map that was kept is off.
    let off = kept.evidence.map_off.unwrap();
    assert!(off < -8.0, "{off}");
    let mut found = Evidence::from_fit(&fit, None);
    found.map_off = Some(off);
    assert_eq!(kept.evidence, found);
    // Another servo line later: the same pulses in its degrees.
    kept.change_servo(SERVO).unwrap();
    let again = kept.evidence.map_off.unwrap();
    assert!(
        (again / off - 160.0 / 180.0).abs() > 1e-9 && (again - off).abs() > 0.5,
        "{off} {again}"
    );
    kept.change_servo(servo).unwrap();
    // Adopted, nothing is left of it; and what agrees never says so.
    let mut adopted = kept.clone();
    adopted.adopt_fit(&refit, None).unwrap();
    assert_eq!(adopted.evidence.map_off, None);
    adopted.keep_map(&refit, None).unwrap();
    assert_eq!(adopted.evidence.map_off, None);
    for (old, new) in pulses(&before).iter().zip(pulses(&kept)) {
        assert!((old - new).abs() < 0.01, "{old} {new}");
    }
    // Judged in degrees of the readings' servo: 10 deg of the file's are 11.1.
    let judged = before.judge(&refit, &CompareOptions::default()).unwrap();
    let offset = judged.offset.unwrap().value;
    assert!(judged.map_differs && offset > 8.0, "{offset}");
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

#[test]
fn a_slope_that_changed_is_no_tooth_of_the_horn() {
    // In the middle one tooth off, towards both ends more and less.
    let other = 0.7;
    let drive: Vec<f64> = (0..9).map(|i| 50.0 + 8.0 * f64::from(i)).collect();
    let in_file = |d: f64| (d - 37.0) / SLOPE - 40.0;
    let measured: Vec<f64> = drive
        .iter()
        .map(|d| in_file(82.0) + (d - 82.0 - TOOTH) / other)
        .collect();
    let fit = fit_limits(&Readings::new(&drive, &measured), &FitOptions::default()).unwrap();
    let judged = wing().judge(&Refit::new(&fit), &CompareOptions::default()).unwrap();
    assert!((judged.offset.unwrap().value + TOOTH).abs() < 0.5, "{judged:?}");
    assert!(judged.contradicts_map() && judged.teeth.is_empty(), "{judged:?}");
    assert!(!judged.sentences().iter().any(|said| said.contains("tooth")));
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

#[test]
fn readings_are_the_same_however_they_were_fitted() {
    let source = Source {
        sha256: "ab".to_owned(),
        rows: vec![("joint".to_owned(), "wing".to_owned())],
        columns: vec![("drive".to_owned(), "pulse".to_owned())],
        ..Source::default()
    };
    let mut other = source.clone();
    (other.file, other.resolution) = ("moved.csv".to_owned(), Some(0.5));
    assert!(source.is_same_readings(&other));
    for change in [
        |source: &mut Source| source.sha256 = "cd".to_owned(),
        |source: &mut Source| source.rows.clear(),
        |source: &mut Source| source.columns.clear(),
    ] {
        let mut other = source.clone();
        change(&mut other);
        assert!(!source.is_same_readings(&other), "{other:?}");
    }
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

/// A lever of another length about the middle of the readings: the slope is said, an offset of nothing is not.
#[test]
fn an_offset_of_nothing_is_not_listed() {
    let (drive, _) = readings(0.0);
    let middle = 82.0;
    let measured: Vec<f64> = drive
        .iter()
        .map(|d| (middle + (d - middle) * 1.3 - 37.0) / SLOPE - 40.0)
        .collect();
    let fit = fit_limits(&Readings::new(&drive, &measured), &FitOptions::default()).unwrap();
    let said = wing()
        .judge(&Refit::new(&fit), &CompareOptions::default())
        .unwrap()
        .sentences();
    assert!(said[0].starts_with("slope: ") && said.len() == 2, "{said:?}");
}

/// A servo gear of another ratio, or a horn of another length: told as a share of the slope in the file.
#[test]
fn a_slope_that_changed_is_told_in_percent() {
    let drive: Vec<f64> = (0..9).map(|i| 50.0 + 8.0 * f64::from(i)).collect();
    for (share, said) in [(1.1, "(+10 %)"), (0.8, "(-20 %)")] {
        let middle = (82.0 - 37.0) / SLOPE - 40.0;
        let measured: Vec<f64> = drive.iter().map(|d| middle + (d - 82.0) / (SLOPE * share)).collect();
        let fit = fit_limits(&Readings::new(&drive, &measured), &FitOptions::default()).unwrap();
        let judged = wing().judge(&Refit::new(&fit), &CompareOptions::default()).unwrap();
        let all = judged.sentences();
        assert!(
            all.iter().any(|s| s.starts_with("slope:") && s.contains(said)),
            "{all:?}"
        );
    }
}

/// Readings from one side only may all lie half the lost motion to one side: a tooth is seen through it.
#[test]
fn half_the_lost_motion_may_lie_beside_a_tooth() {
    let fit = limits(TOOTH + 2.8);
    let options = CompareOptions::default().with_smallest_drive(0.5);
    let mut wing = wing();
    let teeth = |wing: &EntryRecord| {
        let judged = wing.judge(&Refit::new(&fit), &options).unwrap();
        assert!(judged.map_differs, "{judged:?}");
        judged
            .teeth
            .iter()
            .any(|teeth| (teeth.horn, teeth.teeth.abs()) == (25, 1))
    };
    assert!(!teeth(&wing));
    wing.evidence.lost_motion = Some(LostMotionEvidence { value: 5.0, u: None });
    assert!(teeth(&wing));
}

/// On the average a value of a fit of k numbers to n readings has k/n of their variance: the trace of the projection is k.
#[test]
fn an_offset_is_as_uncertain_as_the_curve_it_is_read_from() {
    let drive: Vec<f64> = (0..33).map(|i| 50.0 + 2.0 * f64::from(i)).collect();
    let off = [0.3, -0.2, 0.1, -0.4, 0.25, 0.05, -0.1];
    let measured: Vec<f64> = drive
        .iter()
        .enumerate()
        .map(|(i, d)| (d - 37.0) / SLOPE - 40.0 + off[i % 7])
        .collect();
    let readings = Readings::new(&drive, &measured);
    let fit = fit_limits(&readings, &FitOptions::default()).unwrap();
    let curve = fit_curve(&readings, 4).unwrap();
    let refit = Refit::new(&fit).with_map(RefitMap::Curve(&curve));
    let offset = wing()
        .judge(&refit, &CompareOptions::default())
        .unwrap()
        .offset
        .unwrap();
    let expected = curve.residual_sd * (curve.knots.len() as f64 / 33.0).sqrt() * SLOPE;
    assert!((offset.u / expected - 1.0).abs() < 0.2, "{offset:?} for {expected}");
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

/// A table of readings stays as it was written: its source names the servo line of its degrees while the joint has another one.
#[test]
fn readings_know_the_servo_line_they_were_taken_under() {
    let wide = ServoRecord {
        angle: [0.0, 200.0],
        ..SERVO
    };
    let line = |record: ServoRecord<f64>| Servo::new(record.angle, record.pulse_us).unwrap();
    let source = |drive_unit| {
        Some(Source {
            file: "readings/wing.csv".to_owned(),
            sha256: "ab".to_owned(),
            drive_unit,
            ..Source::default()
        })
    };
    let end = EndEvidence {
        kind: EvidenceKind::Stalled,
        at: 90.0,
        short_at: Some(99.0),
        u: Some(0.9),
        guard: Some(1.8),
    };
    let calibration = |drive_unit| Evidence {
        upper: Some(end),
        lost_motion: Some(LostMotionEvidence {
            value: 1.8,
            u: Some(0.09),
        }),
        map_off: Some(-9.0),
        source: source(drive_unit),
        ..Evidence::default()
    };
    let mut record = wing();
    record.evidence = calibration(DriveUnit::Deg);
    record.history = vec![calibration(DriveUnit::Us), calibration(DriveUnit::Deg)];
    let before = record.clone();
    record.change_servo(wide).unwrap();
    // The earlier calibrations are told in the new degrees as the present one is.
    assert_eq!(record.history[1], record.evidence);
    for evidence in record.history.iter().chain([&record.evidence]) {
        let upper = evidence.upper.unwrap();
        assert_eq!((upper.at, upper.short_at, upper.guard), (100.0, Some(110.0), Some(2.0)));
        assert_eq!(evidence.map_off, Some(-10.0));
        let lost = evidence.lost_motion.unwrap();
        assert!(lost.value == 2.0 && (lost.u.unwrap() - 0.1).abs() < 2e-4, "{lost:?}");
    }
    let line_of = |evidence: &Evidence| evidence.source.as_ref().unwrap().servo;
    let lines = |record: &EntryRecord| -> Vec<_> {
        let all = record.history.iter().chain([&record.evidence]);
        all.map(line_of).collect()
    };
    assert_eq!(lines(&record), [None, Some(line(SERVO)), Some(line(SERVO))]);
    // Readings become degrees of the present line with the pulse that they had; pulses had none of a line.
    let timer = Timer::new(50.0, 4096).unwrap();
    let [of_pulses, of_degrees] = [0, 1].map(|index: usize| record.history[index].source.clone().unwrap());
    assert_eq!(of_degrees.drive_deg(90.0, &line(wide), &timer), 100.0);
    assert_eq!(of_degrees.drive_deg(90.0, &line(SERVO), &timer), 90.0);
    assert_eq!(of_pulses.drive_deg(1500.0, &line(wide), &timer), 100.0);
    assert!(of_degrees.drive_deg(f64::NAN, &line(wide), &timer).is_nan());
    // A table is known by its bytes, the latest calibration first.
    let known = |record: &EntryRecord, sha256: &str| {
        let mut robot = Robot::new("heron").unwrap();
        robot.put(record).unwrap();
        robot.joint("wing_left").unwrap().servo_of_table(sha256)
    };
    let mut listed = record.clone();
    for (evidence, sha256) in listed
        .history
        .iter_mut()
        .chain([&mut listed.evidence])
        .zip(["a", "b", "c"])
    {
        evidence.source.as_mut().unwrap().sha256 = sha256.repeat(64);
    }
    listed.evidence.source.as_mut().unwrap().servo = None;
    let found = ["a", "b", "c", "d"].map(|sha256| known(&listed, &sha256.repeat(64)));
    assert_eq!(found, [None, Some(line(SERVO)), None, None]);
    for (evidence, sha256) in listed.history.iter_mut().zip(["b", "c"]) {
        evidence.source.as_mut().unwrap().sha256 = sha256.repeat(64);
    }
    let found = ["b", "c"].map(|sha256| known(&listed, &sha256.repeat(64)));
    assert_eq!(found, [None, None]);
    // The line of the table is known from then on, whatever comes next; at the joint's own again nothing needs to name it.
    let mut again = record.clone();
    again
        .change_servo(ServoRecord {
            angle: [-90.0, 90.0],
            ..SERVO
        })
        .unwrap();
    assert_eq!(lines(&again), lines(&record));
    record.change_servo(SERVO).unwrap();
    assert_eq!(lines(&record), [None; 3]);
    assert_eq!(record.evidence.upper.unwrap().at, before.evidence.upper.unwrap().at);

    // Adopted with its servo line or with the map kept: what becomes history is told in degrees of that line too.
    let fit = limits(0.0);
    let refit = Refit::new(&fit).with_servo(wide);
    type Taken = fn(&mut EntryRecord, &Refit<'_>) -> Result<(), AdoptError>;
    let taken: [Taken; 2] = [
        |record, refit| record.adopt_fit(refit, None),
        |record, refit| record.keep_map(refit, None),
    ];
    for take in taken {
        let mut record = before.clone();
        take(&mut record, &refit).unwrap();
        assert_eq!((record.joint.servo, record.history.len()), (wide, 3));
        assert_eq!(record.evidence.source, None);
        for evidence in &record.history {
            assert_eq!(evidence.upper.unwrap().at, 100.0);
        }
        let kept: Vec<_> = record.history.iter().map(line_of).collect();
        assert_eq!(kept, [None, Some(line(SERVO)), Some(line(SERVO))]);
    }
}

/// Limits in degrees of another servo line are never written into a joint that keeps its own.
#[test]
fn a_fit_that_agrees_is_put_with_its_servo_line() {
    let wide = ServoRecord {
        angle: [0.0, 200.0],
        ..SERVO
    };
    let (drive, measured) = readings(0.0);
    let drive: Vec<f64> = drive.iter().map(|deg| deg / 0.9).collect();
    let fit = fit_limits(&Readings::new(&drive, &measured), &FitOptions::default()).unwrap();
    let mut put = wing();
    let before = pulses(&put);
    put.put_fit(&Refit::new(&fit).with_servo(wide), None).unwrap();
    assert_eq!(put.joint.servo, wide);
    for (found, end) in put.joint.travel.unwrap().iter().zip(fit.travel.unwrap()) {
        assert!((found - end).abs() < 2e-3, "{found} {end}");
    }
    for (old, new) in before.iter().zip(pulses(&put)) {
        assert!((old - new).abs() < 0.01, "{old} {new}");
    }
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
        let evidence = &adopted.evidence;
        let proven = (evidence.sense, evidence.sense_date);
        let kept = (Some(LoopSense::Opposing), Date::new(2026, 11, 20));
        assert_eq!(proven, if is_turned { (None, None) } else { kept });
    }
}
