//! Lost motion in tables that lack sides, or have one side alone: what it leaves open.

use super::*;

/// A table taken in one direction: the joint trails half the lost motion behind its drive.
fn one_way(lost_motion: f64, way: Approach, noted: bool, salt: usize) -> LimitFit {
    let mut x = sweep(41, 2.0);
    if way == Approach::Above {
        x.reverse();
    }
    let trailing = |x: f64| joint(x - 0.5 * lost_motion * way.sign());
    let y: Vec<f64> = x
        .iter()
        .enumerate()
        .map(|(i, x)| trailing(*x) + 0.1 * noise(i + salt))
        .collect();
    let sides = [way; 41];
    let readings = Readings::new(&x, &y);
    let readings = if noted {
        readings.with_approach(&sides)
    } else {
        readings
    };
    fit_limits(&readings, &FitOptions::default()).unwrap()
}

/// One day upwards, the next day downwards: a horn and stops that nobody touched "shifted" by the lost motion.
#[test]
fn lost_motion_between_tables_from_opposite_sides_is_no_shift() {
    let ways = [Approach::Below, Approach::Above];
    for (lost_motion, noted) in [(1.0, true), (1.0, false), (3.0, true), (6.0, false)] {
        for [old, new] in [ways, [ways[1], ways[0]]] {
            let found = compare(
                &one_way(lost_motion, old, noted, 100),
                &one_way(lost_motion, new, noted, 700),
            );
            let Diagnosis::NotComparable {
                quantity: Quantity::Offset,
                later,
                u,
            } = *only(&found)
            else {
                panic!("{found:#?}")
            };
            close(later, -new.sign() * lost_motion, 0.2);
            assert!(u < 0.1 && !found.is_changed(), "{found:#?}");
            for quantity in [Quantity::Offset, Quantity::Lower, Quantity::Upper] {
                assert_eq!(verdict(&found, quantity), Verdict::NotComparable, "{found:#?}");
            }
            let sentence = found.diagnoses[0].to_string();
            assert!(
                sentence.contains("may be lost motion; repeat some positions"),
                "{sentence}"
            );
        }
        // From the same side nothing is left open.
        let same = compare(
            &one_way(lost_motion, ways[1], noted, 100),
            &one_way(lost_motion, ways[1], noted, 700),
        );
        assert_eq!(*only(&same), Diagnosis::Unchanged);
    }
    // A shift against the lag, and one too large for it, are told.
    for shift in [-3.0, 14.4] {
        let x = sweep(41, 2.0);
        let moved: Vec<f64> = x.iter().rev().map(|x| joint(x + shift)).collect();
        let x: Vec<f64> = x.into_iter().rev().collect();
        let found = compare(&one_way(0.0, Approach::Below, false, 100), &fit(&x, &moved));
        assert!(
            matches!(found.diagnoses[0], Diagnosis::OffsetShifted { drive, .. } if (drive - shift).abs() < 0.2),
            "{found:#?}"
        );
    }
}

/// Lost motion of 1 deg before; 3 deg now, and a table from below alone.
#[test]
fn a_shift_that_may_be_lost_motion_says_so() {
    let old = both_ways(1.0, true, 7000);
    let told = |new: &LimitFit| {
        let found = compare(&old, new);
        let mut told = found.diagnoses.iter().filter(|d| {
            matches!(
                d,
                Diagnosis::Untested {
                    quantity: Quantity::LostMotion,
                    ..
                }
            )
        });
        told.next().unwrap().to_string()
    };
    let sentence = told(&one_way(6.0, Approach::Below, true, 500));
    assert!(
        sentence.contains("the shift of 3.0")
            && sentence.contains("deg in drive angle may be lost motion that increased"),
        "{sentence}"
    );
    // From above the joint would stand further: what stands back has another cause.
    let x: Vec<f64> = sweep(41, 2.0).into_iter().rev().collect();
    let back: Vec<f64> = x.iter().map(|x| joint(x - 3.0)).collect();
    let sentence = told(&fit(&x, &back));
    assert!(
        sentence.ends_with("both sides; repeat some positions from the other side"),
        "{sentence}"
    );
}

/// Where one table lacks sides, all its positions may be off by half the lost motion.
#[test]
fn half_the_lost_motion_counts_as_uncertainty_where_one_table_lacks_sides() {
    let x = sweep(41, 2.0);
    let noted = both_ways(3.0, true, 7000);
    // From below only, with the same lost motion: the whole line and both stops lie half of it further.
    let below: Vec<f64> = x
        .iter()
        .enumerate()
        .map(|(i, x)| joint(x - 1.5) + 0.1 * noise(i + 500))
        .collect();
    let sides = [Approach::Below; 41];
    for readings in [
        Readings::new(&x, &below),
        Readings::new(&x, &below).with_approach(&sides),
    ] {
        let one_sided = fit_limits(&readings, &FitOptions::default()).unwrap();
        let found = compare(&one_sided, &noted);
        // Nobody knows whether the lost motion was there before.
        assert!(
            matches!(*only(&found), Diagnosis::NotComparable { quantity: Quantity::LostMotion, later, u }
                if (later - 3.0).abs() < 0.1 && u < 0.05),
            "{found:#?}"
        );
        assert!(!found.is_changed());
        let sentence = found.diagnoses[0].to_string();
        assert!(
            sentence.starts_with("lost motion not comparable: it is 3.0")
                && sentence.contains("the earlier table has no readings known to be from both sides")
                && sentence.contains("; compare with a table that goes there and back"),
            "{sentence}"
        );
        let offset = found.change(Quantity::Offset).unwrap();
        close(offset.difference.unwrap().u, 1.5, 0.05);
        assert!(offset.e_n.unwrap().abs() < 1.0 && offset.dof.is_none_or(|dof| dof > 1e4));
        // Both directions of comparing.
        let back = compare(&noted, &one_sided);
        assert!(matches!(
            *only(&back),
            Diagnosis::Untested {
                quantity: Quantity::LostMotion,
                ..
            }
        ));
    }
    // Lost motion that is none, or too little to matter, leaves nothing open.
    for lost_motion in [0.0, 0.3] {
        let found = compare(&swept(&x, joint, 500), &both_ways(lost_motion, true, 7000));
        assert_eq!(*only(&found), Diagnosis::Unchanged);
    }
    // A shift far beyond it is found all the same.
    let far: Vec<f64> = below.iter().map(|y| y + 9.0).collect();
    let shifted = compare(&fit(&x, &far), &noted);
    assert!(
        matches!(shifted.diagnoses[0], Diagnosis::SensorShifted { measured, .. } if (measured + 7.5).abs() < 0.3),
        "{shifted:#?}"
    );
}

/// A joint worn since: the earlier table shows no lost motion, and nobody noted the sides in either. Half of what is there now made
/// everything uncertain, and `compare` said "unchanged".
#[test]
fn lost_motion_that_was_not_there_before_is_found_in_tables_there_and_back() {
    let sound = both_ways(0.0, false, 7000);
    for (noted_before, noted_now) in [(false, false), (true, false), (false, true)] {
        let (sound, worn) = (both_ways(0.0, noted_before, 7000), both_ways(3.5, noted_now, 8000));
        let found = compare(&sound, &worn);
        assert!(
            matches!(*only(&found), Diagnosis::LostMotionIncreased { from, to } if from < 0.1 && (to - 3.5).abs() < 0.1),
            "{found:#?}"
        );
        let back = compare(&worn, &sound);
        assert!(
            matches!(*only(&back), Diagnosis::LostMotionDecreased { .. }),
            "{back:#?}"
        );
    }
    // What changed besides is not hidden by it.
    let shifted = compare(&sound, &both_ways_of(3.5, false, 8000, |x| x + 4.0));
    assert!(
        matches!(shifted.diagnoses[..], [Diagnosis::SensorShifted { measured, .. }, Diagnosis::LostMotionIncreased { .. }]
            if (measured - 4.0).abs() < 0.1),
        "{shifted:#?}"
    );
    let scaled = compare(&sound, &both_ways_of(3.5, false, 8000, |x| 1.1 * (x - 39.0)));
    assert!(
        matches!(scaled.diagnoses[0], Diagnosis::ScaleChanged { ratio } if (ratio - 1.1).abs() < 0.01),
        "{scaled:#?}"
    );
    assert!(
        scaled
            .diagnoses
            .iter()
            .any(|one| matches!(one, Diagnosis::LostMotionIncreased { .. })),
        "{scaled:#?}"
    );
    assert_eq!(
        *only(&compare(&sound, &both_ways(0.0, false, 9000))),
        Diagnosis::Unchanged
    );
}
