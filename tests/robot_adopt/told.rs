//! What readings say against the record: a horn, a stop, a slope.

use super::*;

#[test]
fn a_horn_one_tooth_off_is_told_and_adopted_whole() {
    let (fit, mut wing) = (limits(TOOTH), wing());
    let refit = Refit::new(&fit);
    let judged = wing.judge(&refit, &CompareOptions::default()).unwrap();
    let said = judged.sentences();
    assert!(
        judged.contradicts() && judged.contradicts_map() && said.len() == 2,
        "{said:?}"
    );
    assert!(
        said[0].starts_with("offset: a command needs 14.4 deg more drive than in the file")
            && said[0].contains("the horn sits 1 tooth of 25 (14.4 deg) towards larger drive angles"),
        "{}",
        said[0]
    );
    // The slope agrees to the digits that it would be shown with.
    let [file, found] = judged.slope.unwrap();
    assert!((found / file - 1.0).abs() < 1e-3, "{file} {found}");
    assert!(said[1].starts_with("furthest apart: command"), "{}", said[1]);

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

/// The stops are where the file has them, and the protractor's zero lies elsewhere: the horn was blamed, and adopting left a tenth of the
/// commands within reach.
#[test]
fn a_protractor_set_elsewhere_is_told_by_the_stops() {
    // Invented: stops at 40 and 118, readings every 6 deg.
    let taken = |from: f64, shift: f64, drive_shift: f64| {
        let drive: Vec<f64> = (0..19).map(|i| from + 6.0 * f64::from(i)).collect();
        let stand = |d: &f64| (d - drive_shift).clamp(40.0 - drive_shift.min(0.0), 118.0);
        let measured: Vec<f64> = drive.iter().map(|d| (stand(d) - 37.0) / SLOPE - 40.0 + shift).collect();
        fit_limits(&Readings::new(&drive, &measured), &FitOptions::default()).unwrap()
    };
    let mut known = wing();
    let sound = taken(25.0, 0.0, 0.0);
    known.adopt_fit(&Refit::new(&sound), None).unwrap();
    let shifted = taken(26.0, 90.0, 0.0);
    let judged = known.judge(&Refit::new(&shifted), &CompareOptions::default()).unwrap();
    let moved = judged.zero_moved.expect("shifted");
    assert!((moved.by - 90.0).abs() < 0.1 && moved.u < 0.3, "{moved:?}");
    let said = judged.sentences();
    assert!(
        said.len() == 1
            && said[0].starts_with("the measured values are 90")
            && said[0].contains("protractor or sensor were set elsewhere"),
        "{said:?}"
    );
    // What stands for the commands now keeps them.
    let refit = Refit::new(&shifted).with_command_ends(moved.at_commands);
    assert!(!known.judge(&refit, &CompareOptions::default()).unwrap().contradicts());
    // A horn moves the stops along the drive as well.
    let tooth = taken(26.0, 0.0, -TOOTH);
    let judged = known.judge(&Refit::new(&tooth), &CompareOptions::default()).unwrap();
    assert!(judged.contradicts() && judged.zero_moved.is_none(), "{judged:?}");
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
