//! Tables of readings as people keep them: clocks, words, quotes and values that wrap round. All numbers are invented.
#![cfg(feature = "robot")]
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may panic")]

use elbowroom::fit::{Approach, ContactMark};
use elbowroom::robot::{MeasuredAs, ReadingColumns, Table, TableOptions, TableReadings};

fn readings(text: &str) -> Result<TableReadings, String> {
    let table = Table::parse(text.as_bytes().to_vec(), TableOptions::default()).map_err(|error| error.to_string())?;
    let columns = ReadingColumns::default();
    table.readings(&columns, &[]).map_err(|error| error.to_string())
}

/// A clock's time is 3600 s for each hour, 60 s for each minute, and its seconds.
#[test]
fn times_are_seconds_or_a_clock() {
    let times = |head: &str, cells: [&str; 3]| {
        let rows: String = cells
            .iter()
            .enumerate()
            .map(|(i, cell)| format!("{i}\t{i}\t{cell}\n"))
            .collect();
        readings(&format!("drive\tmeasured\t{head}\n{rows}")).map(|readings| readings.time.unwrap())
    };
    assert_eq!(times("time", ["0.5", "1", "12.25"]), Ok(vec![0.5, 1.0, 12.25]));
    assert_eq!(times("time [ms]", ["500", "1000", "12250"]), Ok(vec![0.5, 1.0, 12.25]));
    assert_eq!(
        times("time", ["0:00:12.5", "1:02:03", "10:59:59"]),
        Ok(vec![12.5, 3723.0, 39_599.0])
    );
    for bad in ["1:60:00", "1:02:61", "1:02:-1", "a:02:03"] {
        let refused = times("time", ["0:00:01", bad, "0:00:03"]).unwrap_err();
        assert!(refused.contains("is not a time"), "{bad}: {refused}");
    }
}

#[test]
fn words_of_sides_and_contacts_are_known() {
    let found = readings("drive,measured,approach,contact\n1,2,below,lower\n3,4,above,here\n5,6,,\n").unwrap();
    assert_eq!(
        found.approach.unwrap(),
        [Approach::Below, Approach::Above, Approach::Unknown]
    );
    assert_eq!(
        found.contact.unwrap(),
        [ContactMark::Lower, ContactMark::Here, ContactMark::None]
    );
    let refused = readings("drive,measured,approach\n1,2,below\n3,4,sideways\n").unwrap_err();
    assert!(refused.contains("sideways") && refused.contains("line 3"), "{refused}");
}

#[test]
fn without_a_header_the_first_columns_are_meant() {
    let found = readings("1,20\n2,30\n3,40\n").unwrap();
    assert_eq!(
        (found.drive, found.measured),
        (vec![1.0, 2.0, 3.0], vec![20.0, 30.0, 40.0])
    );
    let found = readings("1,20,up\n2,30,up\n1.5,40,down\n").unwrap();
    assert_eq!(found.approach.unwrap()[2], Approach::Above);
    let refused = readings("angle,weight\n1,2\n3,4\n").unwrap_err();
    assert!(refused.contains("drive"), "{refused}");
}

#[test]
fn a_separator_within_quotes_separates_nothing() {
    let found = readings("drive;measured;note\n1;2;\"one; two\"\n3;4;\"he said \"\"stop\"\"; so\"\n").unwrap();
    assert_eq!((found.drive, found.measured), (vec![1.0, 3.0], vec![2.0, 4.0]));
    let text = "drive,\"measured\",note\n1,\"2,5\",\"a, b, c\"\n3,\"4,5\",\"d\"\n";
    assert_eq!(readings(text).unwrap().measured, [2.5, 4.5]);
}

/// Values on a turn are cut where most room is, wherever the joint stands on it, and differ by what they differed before.
#[test]
fn values_that_wrap_are_cut_in_their_widest_gap() {
    let joint: Vec<f64> = [0.0, 10.0, 60.0, 140.0, 170.0, 200.0].to_vec();
    for turn in [360.0, 4096.0] {
        for start in 0..36 {
            let from = turn * f64::from(start) / 36.0;
            let mut values: Vec<f64> = joint.iter().map(|value| (from + value).rem_euclid(turn)).collect();
            MeasuredAs::default().with_wrap(Some(turn)).apply(&mut values).unwrap();
            for (value, expected) in values.iter().zip(&joint) {
                assert!((value - values[0] - expected).abs() < 1e-9, "{from}: {values:?}");
            }
        }
    }
}

/// An arc of one radius is one radian.
#[test]
fn lengths_of_arc_are_angles_and_flipped_ones_negative() {
    let mut values = [0.0, 35.0, -70.0, 35.0 * std::f64::consts::PI];
    let as_arc = MeasuredAs::default().with_arc_radius(Some(35.0)).with_flipped(true);
    as_arc.apply(&mut values).unwrap();
    for (value, radians) in values.iter().zip([0.0, -1.0, 2.0, -std::f64::consts::PI]) {
        assert!((value - radians * 180.0 / std::f64::consts::PI).abs() < 1e-9, "{value}");
    }
    assert!(as_arc.with_arc_radius(Some(-1.0)).apply(&mut values).is_err());
}

/// A number with its unit is called that only where both are: the rest of a cell may be anything.
#[test]
fn a_cell_that_is_no_number_is_told_from_one_with_a_unit() {
    let refused = |cell: &str| readings(&format!("drive,measured\n0,0\n1,{cell}\n2,2\n")).unwrap_err();
    for cell in ["42 deg", "42.5 mm"] {
        let digits = cell.split(' ').next().unwrap();
        let unit = format!("is a number with a unit; write the number without it: {digits}");
        assert!(refused(cell).contains(&unit), "{cell}: {}", refused(cell));
    }
    for cell in ["4.2.1 deg", "42 herons", "deg", "x42"] {
        assert!(refused(cell).contains("is not a number"), "{cell}: {}", refused(cell));
    }
}
