//! Units in headings and in cells.

use super::*;

/// Every number with its unit, and a heading without: the column is in it.
#[test]
fn a_unit_behind_every_number_is_the_columns() {
    let found =
        readings("drive;measured\n1463 \u{b5}s;0,5\u{b0}\n1500 us;12\u{b0}\n\n1537 \u{b5}s;24,5\u{b0}\n").unwrap();
    assert_eq!(
        (found.drive_unit, found.drive),
        (DriveUnit::Us, vec![1463.0, 1500.0, 1537.0])
    );
    assert_eq!(found.measured, [0.5, 12.0, 24.5]);
    // Not where one number has another, or none.
    let refused = readings("drive,measured\n1463 us,1\n1500 us,2\n37 deg,3\n").unwrap_err();
    assert!(refused.contains("is in us, the column in deg"), "{refused}");
    assert!(readings("drive,measured\n1463 us,1\n1500,2\n").is_err());
}

/// A unit in a cell is the heading's, or deg where the heading has none; the rest of a cell may be anything.
#[test]
fn a_unit_in_a_cell_is_that_of_its_heading() {
    let measured = |heading: &str, cell: &str| {
        let text = format!("drive,{heading}\n0,0\n1,{cell}\n2,2\n");
        let table = Table::parse(text.into_bytes(), TableOptions::default()).unwrap();
        table.numbers(1).map(|all| all[1]).map_err(|error| error.to_string())
    };
    for (heading, cell) in [
        ("measured", "42.5\u{b0}"),
        ("measured", "42.5 deg"),
        ("measured [deg]", "42.5 degrees"),
        ("measured_deg", "42.5 \u{b0}"),
        ("measured [mm]", "42.5 mm"),
        ("measured [mm]", "42.5mm"),
        ("pulse (us)", "42.5 \u{b5}s"),
    ] {
        assert_eq!(measured(heading, cell), Ok(42.5), "{heading} {cell}");
    }
    for (heading, cell, says) in [
        (
            "measured",
            "42.5 mm",
            "is in mm, the column in deg; write the column in one unit and name that in its heading",
        ),
        (
            "measured [rad]",
            "42.5\u{b0}",
            "is in deg, the column in rad; write the column in one unit and name that in its heading",
        ),
        (
            "measured_mm",
            "42.5 cm",
            "is in cm, the column in mm; write the column in one unit and name that in its heading",
        ),
        ("pulse", "90\u{b0}", "is in deg, the column in us"),
        ("adc_left", "90 deg", "is in deg, the column in counts"),
        ("measured", "4.2.1 deg", "is not a number"),
        ("measured", "42 herons", "is not a number"),
        ("measured", "deg", "is not a number"),
        ("measured", "x42", "is not a number"),
    ] {
        let refused = measured(heading, cell).unwrap_err();
        assert!(refused.contains(says), "{heading} {cell}: {refused}");
    }
    assert_eq!(
        readings("10 deg,1\u{b0}\n20 deg,2\u{b0}\n").unwrap().drive,
        [10.0, 20.0]
    );
}

/// The unit of the drive stands in its heading, or in its name; another is refused, not taken for deg.
#[test]
fn the_drive_has_a_unit_that_is_known() {
    let unit = |heading: &str, said: Option<DriveUnit>| {
        let text = format!("time,{heading},measured\n0,1000,3\n");
        let table = Table::parse(text.into_bytes(), TableOptions::default()).unwrap();
        let mut columns = ReadingColumns::new(None, None);
        columns.drive_unit = said;
        assert_eq!(table.drive_column(), Ok(1), "{heading}");
        table.readings(&columns, &[]).map(|found| found.drive_unit)
    };
    for (heading, expected) in [
        ("drive", DriveUnit::Deg),
        ("Drive (\u{b0})", DriveUnit::Deg),
        ("drive_us", DriveUnit::Us),
        ("pulse_us", DriveUnit::Us),
        ("Pulse", DriveUnit::Us),
        ("pulse [ms]", DriveUnit::Ms),
        ("counts", DriveUnit::Counts),
    ] {
        assert_eq!(unit(heading, None), Ok(expected), "{heading}");
    }
    for (heading, named) in [
        ("drive [%]", "%"),
        ("drive [rad]", "rad"),
        ("drive [turn]", "turn"),
        ("drive [V]", "V"),
        ("drive (percent)", "percent"),
        ("drive_rad", "rad"),
    ] {
        let refused = unit(heading, None).unwrap_err();
        let says = format!(
            "the unit in the heading of the drive column is {named}; write drive angles in deg, or one of deg, us, ms, counts, and \
             change the heading"
        );
        assert_eq!(
            (refused.line, refused.column, refused.sentence),
            (Some(1), Some(2), says)
        );
        assert_eq!(refused.remedy, Remedy::DriveUnit);
        assert_eq!(unit(heading, Some(DriveUnit::Us)), Ok(DriveUnit::Us), "{heading}");
    }
}

/// Degrees by the words that people have for them; a word that is degrees to some and something else to others is asked back.
#[test]
fn degrees_have_many_words() {
    let unit = |heading: &str, said: Option<&'static str>| {
        let text = format!("drive;{heading}\n10;1,5\n20;2,5\n");
        let table = Table::parse(text.into_bytes(), TableOptions::default()).unwrap();
        let mut columns = ReadingColumns::new(None, Some("measured"));
        columns.measured_unit = said;
        if said.is_none() {
            let unit = table.readings(&columns, &[]).map(|found| found.measured_unit);
            assert_eq!(unit, table.measured_unit(1), "{heading}");
        }
        table.readings(&columns, &[]).map(|found| found.measured_unit)
    };
    for word in [
        "Grad",
        "\u{b0}",
        "deg",
        "degree",
        "Degrees",
        "degs",
        "degr\u{e9}",
        "degr\u{e9}s",
    ] {
        let heading = format!("measured ({word})");
        assert_eq!(unit(&heading, None).unwrap().as_deref(), Some("deg"), "{word}");
    }
    assert_eq!(unit("measured [gon]", None).unwrap().as_deref(), Some("gon"));
    assert_eq!(
        readings("drive;measured\n10 Grad;1,5 Grad\n20;2,5 degr\u{e9}s\n")
            .unwrap()
            .measured,
        [1.5, 2.5]
    );
    for word in ["grad", "GRAD"] {
        let heading = format!("measured ({word})");
        let error = unit(&heading, None).unwrap_err();
        let says = format!(
            "column 2 ({heading}): the unit grad may be degrees, 360 a turn, or gon, 400 a turn; write deg for degrees, and turn gon into \
             deg (times 0.9)"
        );
        assert_eq!((error.line, error.column, error.sentence), (Some(1), Some(2), says));
        assert_eq!(unit(&heading, Some("deg")).unwrap().as_deref(), Some("deg"));
    }
}

#[test]
fn units_are_known_behind_a_comma_or_a_blank_and_in_other_languages() {
    let head = "Puls us;Puls, us;Puls (\u{b5}s);Puls \u{b5}s;\u{e1}ngulo grados;angolo [gradi];posi\u{e7}\u{e3}o (graus);turn s;raw m";
    let table = Table::parse(
        format!("{head}\n1;2;3;4;5;6;7;8;9\n").into_bytes(),
        TableOptions::default(),
    )
    .unwrap();
    let found: Vec<(&str, Option<&str>)> = table
        .headings()
        .iter()
        .map(|heading| (heading.base.as_str(), heading.unit.as_deref()))
        .collect();
    let expected = [
        ("Puls", Some("us")),
        ("Puls", Some("us")),
        ("Puls", Some("us")),
        ("Puls", Some("us")),
        ("\u{e1}ngulo", Some("deg")),
        ("angolo", Some("deg")),
        ("posi\u{e7}\u{e3}o", Some("deg")),
        ("turn s", None),
        ("raw m", None),
    ];
    assert_eq!(found, expected);
    assert_eq!(table.drive_unit(1), Ok(DriveUnit::Us));
}
