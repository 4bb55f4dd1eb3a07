//! Tables that hold the rows of several joints, and columns that only look like it. All numbers are invented.
#![cfg(feature = "robot")]
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may panic")]

use elbowroom::robot::{ReadingColumns, Remedy, Table, TableError, TableOptions, TableReadings};

fn readings(text: &str) -> Result<TableReadings, String> {
    let table = Table::parse(text.as_bytes().to_vec(), TableOptions::default()).map_err(|error| error.to_string())?;
    let columns = ReadingColumns::default();
    table.readings(&columns, &[]).map_err(|error| error.to_string())
}

/// The error of a table's readings, or of the table itself.
fn refused(text: &str, columns: &ReadingColumns<'_>, options: TableOptions) -> Option<TableError> {
    let table = match Table::parse(text.as_bytes().to_vec(), options) {
        Ok(table) => table,
        Err(error) => return Some(error),
    };
    table.readings(columns, &[]).err()
}

/// Two joints of the heron, each swept once: the left one from -40 to 40 deg, the right one turned round.
fn two_wings(heading: &str, names: [&str; 2], right_at: impl Fn(f64) -> f64) -> String {
    let mut text = format!("{heading};drive;measured;approach\n");
    let row = |name: &str, drive: f64, measured: f64| format!("{name};{drive};{measured:.1};below\n");
    for step in 0..17 {
        let drive = 50.0 + 5.0 * f64::from(step);
        text += &row(names[0], drive, 0.95 * (drive - 90.0));
    }
    for step in 0..17 {
        let drive = 50.0 + 5.0 * f64::from(step);
        text += &row(names[1], drive, right_at(drive));
    }
    text
}

#[test]
fn rows_of_two_joints_are_no_readings_of_one() {
    let names = ["wing_left", "wing_right"];
    let turned = |drive: f64| -0.95 * (drive - 90.0);
    let alike = |drive: f64| 0.95 * (drive - 90.0) + 0.3;
    let columns = ReadingColumns::default();
    let refused = |text: &str| refused(text, &columns, TableOptions::default());
    let of = |value: &str, column: &str, is_sought| Remedy::Where {
        column: column.into(),
        value: value.into(),
        is_sought,
    };
    // By the heading, in five languages, however much alike the joints move.
    for heading in [
        "joint",
        "Gelenk",
        "Joint_Name",
        "articulation",
        "articulaci\u{f3}n",
        "Channel",
        "Servo",
        "Achse",
    ] {
        let error = refused(&two_wings(heading, names, alike)).unwrap();
        let says = format!(
            "column 1 ({heading}) holds 2 different values, wing_left, wing_right, so its rows belong to different joints; take the rows of one"
        );
        assert_eq!(
            (error.line, error.column, error.sentence.as_str()),
            (Some(1), Some(1), says.as_str())
        );
        assert_eq!(error.remedy, of("wing_left", heading, false));
    }
    // By what was measured, whatever the heading.
    let error = refused(&two_wings("where", names, turned)).unwrap();
    let says = "column 1 (where) holds 2 different values, wing_left, wing_right, and readings under different ones differ by up to 76 at \
                drive 50: they belong to different joints; take the rows of one";
    assert_eq!(
        (error.sentence.as_str(), error.remedy),
        (says, of("wing_left", "where", false))
    );
    // By the joint that is sought, and by those of the robot.
    let table = Table::parse(two_wings("where", names, alike).into_bytes(), TableOptions::default()).unwrap();
    let mut sought = ReadingColumns::default();
    let found = table.readings(&sought, &[]).unwrap();
    assert_eq!((found.drive.len(), found.groups), (34, None), "they agree");
    sought.joint = Some("wing_right");
    assert_eq!(
        table.readings(&sought, &[]).unwrap_err().remedy,
        of("wing_right", "where", true)
    );
    (sought.joint, sought.joints) = (Some("neck"), &["beak", "wing_right"]);
    assert_eq!(
        table.readings(&sought, &[]).unwrap_err().remedy,
        of("wing_left", "where", false)
    );
    // The rows of one are its readings.
    for name in names {
        let only = [("where".to_owned(), name.to_owned())];
        assert_eq!(table.readings(&sought, &only).unwrap().drive.len(), 17, "{name}");
    }
}

#[test]
fn other_columns_are_no_names_of_joints() {
    let alike = |drive: f64| 0.95 * (drive - 90.0) + 0.3;
    let turned = |drive: f64| -0.95 * (drive - 90.0);
    let found = |text: &str| readings(text).unwrap();
    // Numbers of runs, days, clocks, one value, words of sides.
    for names in [
        ["1", "2"],
        ["2026-11-20", "2026-11-21"],
        ["9:05", "9:30"],
        ["Ann", "Ann"],
        ["up", "down"],
        ["", ""],
    ] {
        assert_eq!(found(&two_wings("run", names, turned)).groups, None, "{names:?}");
    }
    // One servo, and numbers under its heading.
    for names in [["MG90", "MG90"], ["3", "4"]] {
        assert_eq!(found(&two_wings("servo", names, alike)).groups, None, "{names:?}");
    }
    let numbered = readings(&two_wings("channel", ["3", "4"], turned)).unwrap_err();
    assert!(
        numbered.contains("column 1 (channel) holds 2 different values, 3, 4, and readings"),
        "{numbered}"
    );
    // Who measured, at other drive angles: nothing shows whose joint they are.
    let shifted = two_wings("operator", ["Ann", "Joe"], alike);
    let (head, rows) = shifted.split_once('\n').unwrap();
    let rows: Vec<&str> = rows.lines().collect();
    let halves: Vec<&str> = rows[..8].iter().chain(&rows[26..]).copied().collect();
    let groups = found(&format!("{head}\n{}\n", halves.join("\n"))).groups.unwrap();
    assert_eq!(
        groups.to_string(),
        "column operator holds Ann, Joe in turn, and all rows were taken as readings of one joint; check that they are"
    );
    // Remarks: mostly blank, or all different.
    let noted = |note: fn(usize) -> &'static str| {
        let rows: Vec<String> = rows
            .iter()
            .enumerate()
            .map(|(at, row)| row.replace("Ann", note(at)).replace("Joe", note(at)))
            .collect();
        found(&format!("{head}\n{}\n", rows.join("\n"))).groups
    };
    assert_eq!(
        noted(|at| if at % 9 == 0 {
            "cold"
        } else if at % 9 == 1 {
            "warm"
        } else {
            ""
        }),
        None
    );
    assert_eq!(
        noted(|at| [
            "a", "b", "c", "d", "e", "f", "g", "h", "i", "j", "k", "l", "m", "n", "o", "p", "q"
        ][at / 2]),
        None
    );
}
