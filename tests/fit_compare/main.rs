//! What two fits of one joint say about what happened to it.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

mod sides;

use elbowroom::fit::{
    Approach, CompareOptions, Comparison, Diagnosis, FitOptions, LimitFit, Quantity, Readings, Verdict, Warning,
    fit_limits, t_quantile,
};
use elbowroom::{Code, Side};

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

/// Drive angles up and down again, and the side from which each is reached.
fn there_and_back() -> (Vec<f64>, Vec<Approach>) {
    let up = sweep(41, 2.0);
    let below = up.iter().map(|x| (*x, Approach::Below));
    below.chain(up.iter().rev().map(|x| (*x, Approach::Above))).unzip()
}

/// A table of a joint swept over `x`, with noise of its own.
fn swept(x: &[f64], joint: impl Fn(f64) -> f64, salt: usize) -> LimitFit {
    let y: Vec<f64> = x
        .iter()
        .enumerate()
        .map(|(i, x)| joint(*x) + 0.1 * noise(i + salt))
        .collect();
    fit(x, &y)
}

/// The same up and down again with lost motion before the joint; the sides noted, or not.
fn both_ways(lost_motion: f64, noted: bool, salt: usize) -> LimitFit {
    both_ways_of(lost_motion, noted, salt, |x| x)
}

/// The same with a sensor that shows `seen` of where the joint stands.
fn both_ways_of(lost_motion: f64, noted: bool, salt: usize, seen: impl Fn(f64) -> f64) -> LimitFit {
    let (both, approach) = there_and_back();
    let y: Vec<f64> = both
        .iter()
        .zip(&approach)
        .enumerate()
        .map(|(i, (x, a))| seen((x - 0.5 * lost_motion * a.sign()).clamp(12.0, 66.0)) + 0.1 * noise(i + salt))
        .collect();
    let readings = Readings::new(&both, &y);
    let readings = if noted {
        readings.with_approach(&approach)
    } else {
        readings
    };
    fit_limits(&readings, &FitOptions::default()).unwrap()
}

fn compare(old: &LimitFit, new: &LimitFit) -> Comparison {
    elbowroom::fit::compare(old, new, &CompareOptions::default()).unwrap()
}

#[track_caller]
fn only(found: &Comparison) -> &Diagnosis {
    assert_eq!(found.diagnoses.len(), 1, "{:#?}", found.diagnoses);
    &found.diagnoses[0]
}

fn verdict(found: &Comparison, quantity: Quantity) -> Verdict {
    found.change(quantity).unwrap().verdict
}

const STOPS: [f64; 2] = [12.0, 66.0];

fn joint(x: f64) -> f64 {
    x.clamp(STOPS[0], STOPS[1])
}

#[test]
fn comparisons_name_what_changed() {
    let x = sweep(41, 2.0);
    let old = swept(&x, joint, 9000);
    let same = compare(&old, &swept(&x, joint, 1000));
    assert_eq!(*only(&same), Diagnosis::Unchanged);
    assert_eq!(same.changes.iter().filter(|c| c.verdict == Verdict::Same).count(), 5);
    assert!(!same.is_changed() && same.tests == 5);
    // The horn one tooth of 21 further on the spline: 17.143 degrees; the joint's own stops stay where they are.
    let tooth = 360.0 / 21.0;
    let moved = compare(&old, &swept(&x, |x| joint(x + tooth), 2000));
    let Diagnosis::OffsetShifted {
        drive,
        ref teeth,
        sensor_possible,
        ..
    } = moved.diagnoses[0]
    else {
        panic!("{:?}", moved.diagnoses)
    };
    close(drive, tooth, 0.3);
    assert_eq!((teeth.len(), teeth[0].horn, teeth[0].teeth), (1, 21, 1));
    let sentence = moved.diagnoses[0].to_string();
    assert!(
        sentence.contains("less drive than before")
            && sentence.contains("the horn sits 1 tooth of 21 (17.1 deg) towards smaller"),
        "{sentence}"
    );
    assert!(!sensor_possible, "the upper stop moved with the joint");
    // The sensor slipped: all readings shift, the stops stay.
    let slipped = compare(&old, &swept(&x, |x| joint(x) + 5.0, 3000));
    assert!(matches!(*only(&slipped), Diagnosis::SensorShifted { measured, .. } if (measured - 5.0).abs() < 0.3));
    let scaled = compare(&old, &swept(&x, |x| 1.2 * (x - 39.0).clamp(-27.0, 27.0) + 39.0, 4000));
    assert!(matches!(*only(&scaled), Diagnosis::ScaleChanged { ratio } if (ratio - 1.2).abs() < 0.02));
    let shrunk = compare(&old, &swept(&x, |x| x.clamp(12.0, 60.0), 5000));
    assert!(matches!(
        *only(&shrunk),
        Diagnosis::RangeShrunk { side: Side::Upper, by, at_least: false, .. } if (by - 6.0).abs() < 0.5
    ));
    let swapped = compare(&old, &swept(&x, |x| 100.0 - joint(x), 6000));
    assert!(swapped.sense_changed && *only(&swapped) == Diagnosis::WiresSwapped && swapped.is_changed());
    let grown = compare(&both_ways(0.5, true, 7000), &both_ways(2.0, true, 8000));
    assert!(
        matches!(*only(&grown), Diagnosis::LostMotionIncreased { from, to } if (from - 0.5).abs() < 0.1 && (to - 2.0).abs() < 0.1),
        "{grown:#?}"
    );
    // E_n against its definition; p by Student's t with the degrees of freedom of both tables, 77 each.
    let change = grown.change(Quantity::LostMotion).unwrap();
    let difference = change.difference.unwrap();
    let expected = difference.value / (t_quantile(0.975, 77.0) * difference.u);
    close(change.e_n.unwrap(), expected, 1e-6 * expected);
    assert!((150.0..=154.01).contains(&change.dof.unwrap()), "{change:?}");
    assert!(change.p.unwrap() < 1e-9 && change.p_adjusted.unwrap() < 1e-8);
}

/// Both stops 20 degrees further out gave |E_n| of 60, no diagnosis and exit status 0; lost motion that shrank the same.
/// A sensor reads on the stops what it read before, wherever the horn brings the joint to them; shifted, it reads something else there.
#[test]
fn stops_tell_a_change_of_the_horn_from_one_of_the_sensor() {
    let x = sweep(51, 2.0);
    let at = |drive: f64| (drive - 10.0).clamp(12.0, 66.0);
    let old = swept(&x, at, 0);
    for ratio in [0.9, 1.1, 1.15] {
        // Another hole of the horn: "sensor shifted", "range widened" and "range shrunk" were told besides.
        let found = compare(&old, &swept(&x, |drive| at(10.0 + ratio * (drive - 10.0)), 900));
        let Diagnosis::ScaleChanged { ratio: told } = *only(&found) else {
            panic!("{:#?}", found.diagnoses)
        };
        close(told, ratio, 0.01);
        // A sensor of another gain meets the stops at the same drive angles; it was not shifted unless its zero was.
        let found = compare(&old, &swept(&x, |drive| ratio * at(drive), 900));
        assert!(matches!(only(&found), Diagnosis::ScaleChanged { .. }));
        let found = compare(
            &old,
            &swept(&x, |drive| ratio * at(drive) + 20.0 * (ratio - 1.0).signum(), 900),
        );
        assert!(matches!(
            found.diagnoses[..],
            [Diagnosis::ScaleChanged { .. }, Diagnosis::SensorShifted { .. }]
        ));
    }
    // One tooth of 24, and the sensor shifted as well: "no whole number of teeth", and both stops moved.
    let found = compare(&old, &swept(&x, |drive| at(drive + 15.0) + 8.0, 1300));
    let [
        Diagnosis::OffsetShifted { drive, ref teeth, .. },
        Diagnosis::SensorShifted { measured, .. },
    ] = found.diagnoses[..]
    else {
        panic!("{:#?}", found.diagnoses)
    };
    close(drive, 15.0, 0.3);
    close(measured, 8.0, 0.3);
    assert!(teeth.iter().any(|found| (found.horn, found.teeth) == (24, 1)));
    assert!(!found.diagnoses[1].to_string().contains("stops did not move"));
    // One tooth of 25, and another hole of the horn: the lines would cross 480 deg away, where no horn turns.
    let tooth = 14.4;
    for ratio in [0.97, 1.03] {
        let moved = |drive: f64| at(10.0 + ratio * (drive + tooth - 10.0));
        let found = compare(&old, &swept(&x, moved, 1700));
        let [
            Diagnosis::ScaleChanged { .. },
            Diagnosis::OffsetShifted { drive, ref teeth, .. },
        ] = found.diagnoses[..]
        else {
            panic!("{:#?}", found.diagnoses)
        };
        close(drive, tooth, 1.5);
        assert!(!teeth.is_empty(), "{drive}");
    }
    // The wires of the sensor exchanged as well: the places of the stops tell it.
    let found = compare(&old, &swept(&x, |drive| 100.0 - at(drive + tooth), 1700));
    let [
        Diagnosis::WiresSwapped,
        Diagnosis::OffsetShifted { drive, ref teeth, .. },
    ] = found.diagnoses[..]
    else {
        panic!("{:#?}", found.diagnoses)
    };
    close(drive, tooth, 0.4);
    assert!(teeth.iter().any(|found| (found.horn, found.teeth) == (25, 1)));
    // Without the sensor's shift it is the horn alone.
    let found = compare(&old, &swept(&x, |drive| at(drive + 15.0), 1300));
    assert!(matches!(only(&found), Diagnosis::OffsetShifted { .. }));
}

#[test]
fn what_became_wider_or_better_is_found() {
    let x = sweep(61, 2.0);
    let old = swept(&x, |x| x.clamp(32.0, 86.0), 9000);
    let wider = compare(&old, &swept(&x, |x| x.clamp(12.0, 106.0), 2500));
    let [lower, upper] = &wider.diagnoses[..] else {
        panic!("{wider:#?}")
    };
    for (found, end) in [(lower, Side::Lower), (upper, Side::Upper)] {
        assert!(
            matches!(*found, Diagnosis::RangeWidened { side, by, at_least: false, .. } if side == end && (by - 20.0).abs() < 0.5),
            "{found:?}"
        );
    }
    assert!(wider.is_changed());
    assert!(wider.change(Quantity::Upper).unwrap().e_n.unwrap() > 20.0);
    // No stop left within the sweep: wider by what was swept at least.
    let gone = compare(&old, &swept(&x, |x| x.max(32.0), 2500));
    assert!(
        matches!(*only(&gone), Diagnosis::RangeWidened { side: Side::Upper, by, at_least: true, .. } if (by - 34.0).abs() < 0.5),
        "{gone:#?}"
    );
    assert!(gone.change(Quantity::Upper).unwrap().at_least);
    assert!(
        gone.diagnoses[0].to_string().contains("by at least 3"),
        "{}",
        gone.diagnoses[0]
    );
    // And the other way: a stop where it was clear.
    let met = compare(&swept(&x, |x| x.max(32.0), 2500), &old);
    assert!(
        matches!(*only(&met), Diagnosis::RangeShrunk { side: Side::Upper, by, at_least: true, .. } if (by - 34.0).abs() < 0.5),
        "{met:#?}"
    );
    let less = compare(&both_ways(2.0, true, 7000), &both_ways(0.5, true, 8000));
    assert!(
        matches!(*only(&less), Diagnosis::LostMotionDecreased { .. }),
        "{less:#?}"
    );
    assert!(less.is_changed());
}

/// Tables in different units are no joint that changed: only that is said.
#[test]
fn tables_in_different_units_are_named() {
    let x = sweep(41, 2.0);
    let old = swept(&x, joint, 9000);
    let scaled = |by: f64| {
        let y: Vec<f64> = x
            .iter()
            .enumerate()
            .map(|(i, x)| by * (joint(*x) + 0.1 * noise(i)))
            .collect();
        fit(&x, &y)
    };
    for (by, says) in [
        (1.0_f64.to_radians(), "as between values in deg and in rad: bring"),
        (1.0_f64.to_degrees(), "as between values in deg and in rad: bring"),
        (11.1, "which no repair or wear makes of it: bring"),
    ] {
        let found = compare(&old, &scaled(by));
        let sentence = only(&found).to_string();
        assert!(
            sentence.starts_with("scale is ") && sentence.contains(says),
            "{sentence}"
        );
        assert!(found.is_changed());
    }
    // Pulse widths for drive angles.
    let pulses: Vec<f64> = x.iter().map(|x| 500.0 + x * 2000.0 / 180.0).collect();
    let y: Vec<f64> = x.iter().enumerate().map(|(i, x)| joint(*x) + 0.1 * noise(i)).collect();
    let sentence = only(&compare(&old, &fit(&pulses, &y))).to_string();
    assert!(sentence.contains("times what it was, which no repair"), "{sentence}");
}

/// Tables that end as soon as the joint stalls, which is how most people take them: the stop lies between two readings, and it has
/// moved where these are others.
#[test]
fn a_stop_that_stalls_the_joint_elsewhere_has_moved() {
    let stalled = |at: f64, salt| {
        let x = sweep((at / 5.0).ceil() as usize + 1, 5.0);
        let fit = swept(&x, |x| x.min(at), salt);
        let last = x.len() - 1;
        assert_eq!(
            (fit.upper.at, fit.upper.short_at),
            (x[last - 1], Some(x[last])),
            "{:?}",
            fit.upper
        );
        fit
    };
    let old = stalled(72.0, 100);
    // The same gap, and the one beside it, which the scatter of a reading can make of the same stop.
    for again in [stalled(73.0, 300), stalled(76.0, 500)] {
        let same = compare(&old, &again);
        assert_eq!(verdict(&same, Quantity::Upper), Verdict::Same, "{same:#?}");
        assert_eq!(*only(&same), Diagnosis::Unchanged);
    }
    let shrunk = compare(&old, &stalled(52.0, 700));
    assert!(
        matches!(*only(&shrunk), Diagnosis::RangeShrunk { side: Side::Upper, by, u, at_least: false } if by == 20.0 && u > 2.0),
        "{shrunk:#?}"
    );
    let widened = compare(&stalled(52.0, 700), &old);
    assert!(
        matches!(
            *only(&widened),
            Diagnosis::RangeWidened {
                side: Side::Upper,
                by: 20.0,
                at_least: false,
                ..
            }
        ),
        "{widened:#?}"
    );
    // Where the earlier table was clear, or had placed its stop.
    let met = compare(&swept(&sweep(17, 5.0), |x| x, 900), &stalled(52.0, 700));
    assert!(
        matches!(*only(&met), Diagnosis::RangeShrunk { side: Side::Upper, at_least: true, by, .. } if by == 27.5),
        "{met:#?}"
    );
    let gone = compare(&stalled(52.0, 700), &swept(&sweep(17, 5.0), |x| x, 900));
    assert!(
        matches!(*only(&gone), Diagnosis::RangeWidened { side: Side::Upper, at_least: true, by, .. } if by == 27.5),
        "{gone:#?}"
    );
    let placed = swept(&sweep(41, 2.0), |x| x.min(66.0), 1100);
    let earlier = compare(&placed, &stalled(52.0, 700));
    assert!(
        matches!(*only(&earlier), Diagnosis::RangeShrunk { side: Side::Upper, at_least: false, by, .. } if (by - 13.5).abs() < 0.3),
        "{earlier:#?}"
    );
    assert_eq!(
        verdict(&compare(&placed, &stalled(67.0, 700)), Quantity::Upper),
        Verdict::Same
    );
    // A sensor that shifted leaves both stops where they were.
    let both = |shift: f64, salt| swept(&sweep(17, 5.0), move |x| x.clamp(4.0, 76.0) + shift, salt);
    let shifted = compare(&both(0.0, 1300), &both(9.0, 1500));
    assert!(
        matches!(*only(&shifted), Diagnosis::SensorShifted { measured, .. } if (measured - 9.0).abs() < 0.3),
        "{shifted:#?}"
    );
    // By less than half a step the two gaps cannot tell.
    let little = compare(&both(0.0, 1300), &both(2.0, 1500));
    assert!(
        matches!(
            *only(&little),
            Diagnosis::OffsetShifted {
                sensor_possible: true,
                ..
            }
        ),
        "{little:#?}"
    );
}

/// A later table that ends before a stop says nothing of it: neither that it is where it was, nor that it moved.
#[test]
fn an_end_that_the_later_table_did_not_test_is_never_called_unchanged() {
    let (wide, short) = (sweep(41, 2.0), sweep(26, 2.0));
    let old = swept(&wide, joint, 9000);
    let found = compare(&old, &swept(&short, joint, 1000));
    assert_eq!(verdict(&found, Quantity::Upper), Verdict::Untested);
    assert!(
        matches!(*only(&found), Diagnosis::Untested { quantity: Quantity::Upper, earlier: Some(at), later: Some(to), .. }
            if (at - 66.0).abs() < 0.3 && to == 50.0),
        "{found:#?}"
    );
    assert!(!found.is_changed());
    let sentence = found.diagnoses[0].to_string();
    assert!(
        sentence.starts_with("upper end not tested") && sentence.contains("clear to 50 only"),
        "{sentence}"
    );
    // Clear as far as before is tested as far as before; less far is not.
    let free = |to: usize, salt| swept(&sweep(to, 2.0), |x| x, salt);
    assert_eq!(*only(&compare(&free(41, 1), &free(41, 2000))), Diagnosis::Unchanged);
    assert_eq!(*only(&compare(&free(36, 1), &free(41, 2000))), Diagnosis::Unchanged);
    let less = compare(&free(41, 1), &free(36, 2000));
    assert!(
        matches!(
            *only(&less),
            Diagnosis::Untested {
                quantity: Quantity::Upper,
                earlier: Some(80.0),
                later: Some(70.0),
                ..
            }
        ),
        "{less:#?}"
    );
    // A stop found where the earlier table had not been is no change.
    assert_eq!(*only(&compare(&swept(&short, joint, 1000), &old)), Diagnosis::Unchanged);
    // Lost motion that the later table, taken in one direction, cannot have.
    let found = compare(&both_ways(0.2, true, 7000), &swept(&sweep(41, 2.0), joint, 8000));
    assert!(
        matches!(
            *only(&found),
            Diagnosis::Untested {
                quantity: Quantity::LostMotion,
                ..
            }
        ),
        "{found:#?}"
    );
    // No stretch in common: nothing is known of the position.
    let found = compare(
        &swept(&sweep(21, 2.0), |x| x, 1),
        &swept(&[50.0, 52.0, 54.0, 56.0, 58.0, 60.0], |x| x, 2),
    );
    assert_eq!(verdict(&found, Quantity::Offset), Verdict::Untested);
    assert!(!found.diagnoses.contains(&Diagnosis::Unchanged));
}

/// 15 degrees are a tooth of 24, 14.4 one of 25: 14.7 agree with both within half a degree, 30 with no other than 24.
#[test]
fn all_tooth_counts_that_agree_are_listed() {
    let x = sweep(41, 2.0);
    let old = swept(&x, joint, 9000);
    let teeth = |by: f64| {
        let found = compare(&old, &swept(&x, |x| joint(x + by), 2000));
        let Diagnosis::OffsetShifted { teeth, .. } = &found.diagnoses[0] else {
            panic!("{found:#?}")
        };
        let listed: Vec<(u8, i32)> = teeth.iter().map(|one| (one.horn, one.teeth)).collect();
        (listed, found.diagnoses[0].to_string())
    };
    let (both, sentence) = teeth(14.65);
    assert_eq!(both, [(25, 1), (24, 1)]);
    assert!(
        sentence.contains("the horn sits 1 tooth of 25 (14.4 deg)") && sentence.contains(", or 1 tooth of 24 (15 deg)"),
        "{sentence}"
    );
    assert_eq!(teeth(30.0).0, [(24, 2)]);
    assert_eq!(teeth(-15.0).0, [(24, -1)]);
    let (none, sentence) = teeth(8.0);
    assert!(
        none.is_empty() && sentence.contains("not a whole number of horn teeth"),
        "{sentence}"
    );
}

/// Another scale about the zero of the drive or of the sensor moves every reading between the stops, and is no shift; with one of its
/// own beside it, it is.
#[test]
fn a_scale_about_zero_is_no_shift() {
    let x = sweep(66, 2.0);
    let stopped = |x: f64| x.clamp(20.0, 110.0);
    let mut told = [0; 4];
    for salt in 0..40 {
        let of = |salt: usize, joint: &dyn Fn(f64) -> f64| swept(&x, joint, 1000 * salt);
        let shifted = |old: &dyn Fn(f64) -> f64, new: &dyn Fn(f64) -> f64| {
            let found = compare(&of(2 * salt, old), &of(2 * salt + 1, new));
            let is_shift =
                |one: &Diagnosis| matches!(one, Diagnosis::SensorShifted { .. } | Diagnosis::OffsetShifted { .. });
            let scale = found
                .diagnoses
                .iter()
                .any(|one| matches!(one, Diagnosis::ScaleChanged { .. }));
            assert_eq!(scale, verdict(&found, Quantity::Scale) == Verdict::Changed);
            usize::from(found.diagnoses.iter().any(is_shift))
        };
        // About the drive's zero, with readings that do not begin there; about the sensor's own zero, at another drive angle.
        told[0] += shifted(&|x| 1e4 + stopped(x), &|x| 1e4 + 1.05 * stopped(x));
        told[1] += shifted(&|x| stopped(x) + 30.0, &|x| 1.05 * (stopped(x) + 30.0));
        told[2] += shifted(&|x| stopped(x), &|x| 1.05 * stopped(x) + 5.0);
        told[3] += shifted(&|x| stopped(x), &|x| stopped(x) + 5.0);
    }
    eprintln!("shifts told: {told:?} of 40");
    assert_eq!(told, [0, 0, 40, 40]);
}

/// Without a stop in both tables nothing tells a shifted horn from a shifted sensor.
#[test]
fn a_shift_without_stops_leaves_the_sensor_possible() {
    let x = sweep(41, 2.0);
    let found = compare(&swept(&x, |x| x, 1), &swept(&x, |x| x + 15.0, 2000));
    let sentence = found.diagnoses[0].to_string();
    assert!(
        matches!(
            found.diagnoses[0],
            Diagnosis::OffsetShifted {
                sensor_possible: true,
                ..
            }
        ),
        "{found:#?}"
    );
    assert!(sentence.contains("the sensor may have shifted"), "{sentence}");
}

/// A joint that is bent since shifts on the average of the sweep, but nothing slipped.
#[test]
fn a_joint_bent_since_is_not_called_a_shifted_sensor() {
    let x = sweep(41, 2.0);
    let old = swept(&x, joint, 9000);
    let bends: [fn(f64) -> f64; 3] = [
        |x| joint(x) + 0.004 * (joint(x) - 12.0).powi(2),
        |x| joint(x) - 0.004 * (joint(x) - 66.0).powi(2),
        |x| joint(x) + 6.0 * (0.05 * (joint(x) - 39.0)).sin().powi(2),
    ];
    for (salt, bent) in bends.into_iter().enumerate() {
        let new = swept(&x, bent, 1000 * salt);
        let found = compare(&old, &new);
        let kinds = |found: &Comparison| {
            let bent = found
                .diagnoses
                .iter()
                .any(|d| matches!(d, Diagnosis::BendChanged { .. }));
            let shifted =
                |d: &Diagnosis| matches!(d, Diagnosis::SensorShifted { .. } | Diagnosis::OffsetShifted { .. });
            (bent, found.diagnoses.iter().any(shifted))
        };
        assert_eq!(kinds(&found), (true, false), "{salt}: {found:#?}");
        // Bent straight again the same.
        assert_eq!(kinds(&compare(&new, &old)), (true, false), "{salt}");
        // And bent as before it is unchanged.
        assert_eq!(
            *only(&compare(&new, &swept(&x, bent, 4000))),
            Diagnosis::Unchanged,
            "{salt}"
        );
        // Shifted by far more than it is bent it is both.
        let slipped = compare(&old, &swept(&x, |x| bent(x) + 30.0, 5000));
        assert_eq!(kinds(&slipped), (true, true), "{salt}: {slipped:#?}");
    }
}

/// A change that is significant only because the readings are exact is said, and raises no alarm.
#[test]
fn a_change_smaller_than_matters_is_said_as_such() {
    let x = sweep(41, 2.0);
    let old = swept(&x, joint, 9000);
    let new = swept(&x, |x| joint(x) + 0.3, 1000);
    let found = compare(&old, &new);
    let &Diagnosis::SlightChange { quantity, by, smallest } = only(&found) else {
        panic!("{found:#?}")
    };
    assert_eq!((quantity, smallest), (Quantity::Offset, 0.5));
    close(by, 0.3, 0.05);
    assert_eq!(verdict(&found, Quantity::Offset), Verdict::Negligible);
    assert!(!found.is_changed() && found.diagnoses[0].to_string().contains("less than the 0.5"));
    // Whoever needs it finer says so.
    let options = CompareOptions::default().with_smallest_drive(0.1);
    let finer = elbowroom::fit::compare(&old, &new, &options).unwrap();
    assert!(finer.is_changed(), "{finer:#?}");
    // The scale has a measure of its own.
    let scaled = swept(&x, |x| 1.008 * (joint(x) - 39.0) + 39.0, 1000);
    assert_eq!(verdict(&compare(&old, &scaled), Quantity::Scale), Verdict::Negligible);
    let options = CompareOptions::default().with_smallest_share(0.001);
    let finer = elbowroom::fit::compare(&old, &scaled, &options).unwrap();
    assert_eq!(verdict(&finer, Quantity::Scale), Verdict::Changed);
    for options in [
        CompareOptions::default().with_smallest_drive(-1.0),
        CompareOptions::default().with_smallest_drive(f64::NAN),
        CompareOptions::default().with_smallest_share(f64::INFINITY),
    ] {
        let refused = elbowroom::fit::compare(&old, &new, &options).unwrap_err();
        assert_eq!(refused.code(), Code::OptionOutside);
    }
}

/// What either fit warned of weakens the comparison, and is shown with it.
#[test]
fn warnings_of_both_fits_come_along() {
    let x = sweep(41, 2.0);
    let straight = swept(&x, joint, 9000);
    let bent = swept(&x, |x| joint(x) + 0.01 * joint(x).powi(2), 1000);
    let curved = |warnings: &[Warning]| warnings.iter().any(|warning| matches!(warning, Warning::Curved { .. }));
    let found = compare(&straight, &bent);
    assert!(!curved(&found.old_warnings) && curved(&found.new_warnings));
    let found = compare(&bent, &straight);
    assert!(curved(&found.old_warnings) && !curved(&found.new_warnings));
}

/// Exact tables, as computed ones are: what is equal but for rounding is no difference, what is not is one.
#[test]
fn exact_tables_have_no_change_but_a_real_one() {
    let x = sweep(21, 4.0);
    let exact = |f: &dyn Fn(f64) -> f64| fit(&x, &x.iter().map(|x| f(*x)).collect::<Vec<_>>());
    let old = exact(&|x| 0.3 * x + 0.1);
    let found = compare(&old, &exact(&|x| 0.1 * (3.0 * x + 1.0)));
    assert_eq!(*only(&found), Diagnosis::Unchanged);
    assert!(compare(&old, &exact(&|x| 0.3 * x + 1.1)).is_changed());
}
