//! Another servo line: each pulse stays, and readings know under which they were taken.

use super::*;

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
