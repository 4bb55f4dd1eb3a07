//! Tables of readings as people keep them: clocks, words, quotes and values that wrap round. All numbers are invented.
#![cfg(feature = "robot")]
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may panic")]

mod numbers;
mod units;

use elbowroom::fit::{Approach, ContactMark};
use elbowroom::robot::{DriveUnit, MeasuredAs, ReadingColumns, Remedy, Table, TableError, TableOptions, TableReadings};

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
    let refused = times("time", ["0.5", "1 s", "2"]).unwrap_err();
    assert!(
        refused.contains("is a number with a unit; write the number without it: 1"),
        "{refused}"
    );
    for bad in ["1:60:00", "1:02:61", "1:02:-1", "a:02:03", "10:00", "1:2:3:4"] {
        let refused = times("time", ["0:00:01", bad, "0:00:03"]).unwrap_err();
        let says = format!("\"{bad}\" is not a time; write seconds such as 12.5, or h:mm:ss");
        assert!(refused.contains(&says), "{bad}: {refused}");
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
    let found = readings("drive,measured,approach,contact\n1,2,Below,LOWER\n3,4,UP,Here\n").unwrap();
    assert_eq!(found.approach.unwrap(), [Approach::Below, Approach::Below]);
    assert_eq!(found.contact.unwrap(), [ContactMark::Lower, ContactMark::Here]);
    let found = readings("1,20,Up\n2,30,DOWN\n").unwrap();
    assert_eq!(found.approach.unwrap(), [Approach::Below, Approach::Above]);
    // Blank in all rows it is as good as not there.
    let found = readings("drive,measured,approach\n1,2,\n3,4,\n").unwrap();
    assert_eq!(found.approach, None);
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

/// Between blanks a comma is a decimal's only where the header has none: here blanks stand before units.
#[test]
fn a_comma_that_stands_in_the_header_too_separates_though_cells_hold_blanks() {
    let found = readings("drive,measured [deg]\n10,35 deg\n20,45 deg\n30,55 deg\n").unwrap();
    assert_eq!(found.drive, [10.0, 20.0, 30.0]);
    assert_eq!(found.measured, [35.0, 45.0, 55.0]);
    let found = readings("drive measured\n10,5 35,1\n20,5 45,2\n30,5 55,3\n").unwrap();
    assert_eq!(found.drive, [10.5, 20.5, 30.5]);
    assert_eq!(found.measured, [35.1, 45.2, 55.3]);
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

/// What a column that is not there should hold, for surfaces to say how it is named.
#[test]
fn a_column_that_is_sought_in_vain_has_its_part() {
    let part = |text: &str, columns: &ReadingColumns<'_>, only: &[(String, String)]| {
        let table = Table::parse(text.as_bytes().to_vec(), TableOptions::default()).unwrap();
        table.readings(columns, only).unwrap_err().remedy
    };
    let mut columns = ReadingColumns::default();
    assert_eq!(
        part("angle,measured\n1,2\n", &columns, &[]),
        Remedy::Column(Some("drive"))
    );
    assert_eq!(
        part("drive,angle\n1,2\n", &columns, &[]),
        Remedy::Column(Some("measured"))
    );
    // Two columns of pulses: which is meant?
    assert_eq!(
        part("pulse,counts,measured\n1,2,3\n", &columns, &[]),
        Remedy::Column(Some("drive"))
    );
    columns.contact = Some("stop");
    assert_eq!(
        part("drive,measured\n1,2\n", &columns, &[]),
        Remedy::Column(Some("contact"))
    );
    let only = [("joint".to_owned(), "neck".to_owned())];
    assert_eq!(
        part("drive,measured\n1,2\n", &ReadingColumns::default(), &only),
        Remedy::Column(None)
    );
}

/// The mark before UTF-8 is not a part of the first heading.
#[test]
fn a_byte_order_mark_belongs_to_no_heading() {
    let table = Table::parse("\u{feff}drive,measured\n1,2\n3,4\n".into(), TableOptions::default()).unwrap();
    assert_eq!(table.headings()[0].name, "drive");
}

/// Spreadsheets save "Unicode text" as UTF-16, with a byte order mark or without.
#[test]
fn sixteen_bits_a_character_are_read_too() {
    let text = "drive;measured [\u{b0}]\n10;1,5\n20;2,5\n";
    let pairs = |of: fn(u16) -> [u8; 2], mark: &str| -> Vec<u8> {
        format!("{mark}{text}").encode_utf16().flat_map(of).collect()
    };
    for mark in ["\u{feff}", ""] {
        for of in [u16::to_le_bytes as fn(u16) -> [u8; 2], u16::to_be_bytes] {
            let table = Table::parse(pairs(of, mark), TableOptions::default()).unwrap();
            let found = table.readings(&ReadingColumns::default(), &[]).unwrap();
            assert_eq!(
                (found.measured, found.measured_unit.as_deref()),
                (vec![1.5, 2.5], Some("deg"))
            );
            let mut cut = pairs(of, mark);
            cut.pop();
            let error = Table::parse(cut, TableOptions::default()).unwrap_err();
            assert!(
                error.sentence.starts_with("UTF-16 text with a character that is cut"),
                "{error}"
            );
        }
    }
}

#[test]
fn the_first_byte_that_is_not_utf8_is_named() {
    for (text, says) in [
        (
            &b"drive;measured (\xb0)\r\n10;1\r\n"[..],
            "line 1: character 17 of the line, behind \"e;measured (\": the byte 0xB0 is not UTF-8 text; save the table as CSV in UTF-8",
        ),
        (
            b"drive;measured\r\n10;1,5\xb0\r\n",
            "line 2: character 7 of the line, behind \"10;1,5\": the byte 0xB0 is not UTF-8 text; save the table as CSV in UTF-8",
        ),
    ] {
        let error = Table::parse(text.to_vec(), TableOptions::default()).unwrap_err();
        assert_eq!(error.to_string(), says);
    }
}

/// Rows that were pasted below others, a row of units, a row of sums, a column that numbers the rows: named as what they are.
#[test]
fn what_people_do_to_tables_is_named() {
    let says = |text: &str, line: u32, says: &str| {
        let error = refused(text, &ReadingColumns::default(), TableOptions::default()).unwrap();
        assert!(
            error.line == Some(line) && error.sentence.contains(says),
            "{error}\n{text}"
        );
        error
    };
    let semicolons = "drive;measured;approach\n35;-35,5;below\n38;-33;below\n";
    for (below, what) in [
        ("40\t-31\tbelow\n", "tabs"),
        (
            "40\t-31\tbelow\n42\t-29,5\tbelow\n44\t-28\tbelow\n46\t-26\tbelow\n",
            "tabs",
        ),
        ("40,-31,below\n42;-29;below\n", "commas"),
    ] {
        let error = says(
            &format!("{semicolons}{below}"),
            4,
            &format!("the cells of this row are separated by {what}, those of the header by semicolons"),
        );
        assert_eq!(error.remedy, Remedy::None);
    }
    says(
        "drive,measured\n1,2\n3;4\n5,6\n",
        3,
        "separated by semicolons, those of the header by commas",
    );
    says(
        "drive;measured\n1;2\n3\n5;6\n",
        3,
        "the row has 1 cell, the header 2; the file may be cut off",
    );
    says(
        "drive;measured\n1;2\n3,5\n5;6\n",
        3,
        "the row has 1 cell, the header 2; the file may be cut off",
    );

    for (units, example) in [
        ("[\u{b5}s];[\u{b0}];", "drive [us]"),
        ("us;deg;", "drive [us]"),
        (";(\u{b0});", "measured [deg]"),
        ("[\u{b5}s];[V];", "drive [us]"),
    ] {
        says(
            &semicolons.replace("approach\n", &format!("approach\n{units}\n")),
            2,
            &format!("is in a row of units; write each unit into its heading, as in {example}, and take this row out"),
        );
    }
    says("drive;measured\nx;y\n", 2, "is not a number");

    // A second table below the first, whatever its columns are called.
    for head in ["drive;measured", "raw;grad"] {
        let text = format!("{head}\n1;2\n3;4\n{head}\n5;6\n");
        let error = Table::parse(text.into_bytes(), TableOptions::default()).unwrap_err();
        assert_eq!(error.line, Some(4), "{error}");
        assert!(
            error
                .sentence
                .starts_with("a second table begins here: this row names columns, as the header in line 1"),
            "{error}"
        );
    }

    let readings = "10;-4\n20;6,5\n30;16\n40;25,5\n";
    says(
        &format!("drive;measured\n{readings}100;44\n"),
        6,
        "the last row holds the sum of each column above it; take the row of sums out",
    );
    // A row that begins with a word below the readings, whatever follows it; behind # it is a remark.
    let [semicolons, commas] = [readings.to_owned(), readings.replace(',', ".").replace(';', ",")];
    for (head, rows, last) in [
        ("drive;measured", &semicolons, "Mean;38,2;"),
        ("drive;measured", &semicolons, "Mittelwert;\nSumme;345,3"),
        ("drive,measured", &commas, "Total,345.3"),
        ("drive,measured", &commas, "min,10.5\nmax,40.5"),
        ("drive,measured", &commas, "n/a,1"),
    ] {
        let table = format!("{head}\n{rows}{last}\n");
        let first = last.split([';', ',']).next().unwrap();
        let what = format!(
            "\"{first}\" begins a row that looks like a summary of those above, such as their mean or total; take the row out, or begin it with #"
        );
        says(&table, 6, &what);
        let remarked = format!("{head}\n{rows}# {}\n", last.replace('\n', "\n# "));
        let error = refused(&remarked, &ReadingColumns::default(), TableOptions::default());
        assert_eq!(error, None);
    }
    // Among the readings it is a cell that is wrong.
    says(
        "drive;measured\n10;1\nten;2\n30;3\n",
        3,
        "\"ten\" is not a number; write what was read, such as 42.5, or leave the row out",
    );
    // A drive angle between others is a reading, though it happens to be their sum.
    let between = "drive;measured\n-40;-39\n20;21\n30;31\n5;4\n15;17\n";
    assert_eq!(
        refused(between, &ReadingColumns::default(), TableOptions::default()),
        None
    );
    for last in ["100;45", "50;44", "110;44"] {
        let text = format!("drive;measured\n{readings}{last}\n");
        assert_eq!(
            refused(&text, &ReadingColumns::default(), TableOptions::default()),
            None
        );
    }

    let numbered = "1;35;-35,5;below\n2;38;-33;below\n3;40;-31;below\n4;42;-29;below\n";
    let error = says(
        numbered,
        1,
        "has no header, and its first column seems to number the rows",
    );
    assert_eq!(error.remedy, Remedy::Column(Some("drive")));
    let table = Table::parse(numbered.as_bytes().to_vec(), TableOptions::default()).unwrap();
    let found = table.readings(&ReadingColumns::new(Some("2"), Some("3")), &[]).unwrap();
    assert_eq!(
        (found.drive[0], found.measured[0], found.approach.unwrap()[0]),
        (35.0, -35.5, Approach::Below)
    );
    let error = table.readings(&ReadingColumns::new(Some("2"), None), &[]).unwrap_err();
    assert_eq!(error.remedy, Remedy::Column(Some("measured")));
    for drives in [
        "1;35\n2;38\n3;40\n4;42\n",
        "1;35;below\n2;38;below\n3;40;below\n4;42;below\n",
        "1;35;3\n2;38;3\n3;40;4\n5;42;5\n",
    ] {
        assert_eq!(
            refused(drives, &ReadingColumns::default(), TableOptions::default()),
            None,
            "{drives}"
        );
    }
}

/// A spreadsheet counts days; a moment in a cell without its format is a number such as 46356.604.
#[test]
fn days_of_a_spreadsheet_are_no_seconds() {
    let times = |heading: &str, times: &[&str]| {
        let rows: String = times.iter().map(|time| format!("{time};1;2\n")).collect();
        refused(
            &format!("{heading};drive;measured\n{rows}"),
            &ReadingColumns::default(),
            TableOptions::default(),
        )
    };
    let serial = ["46356,604100", "46356,604158", "46356,604216", "46356,604274"];
    let error = times("time", &serial).unwrap();
    let says = "column 1 (time): \"46356,604100\" looks like the number that a spreadsheet has for 2026-11-30 14:29:54; give the column the \
                format hh:mm:ss there and save it again, or name the unit in its heading, as in time [s], if these are seconds";
    assert_eq!((error.line, error.sentence.as_str()), (Some(2), says));
    assert_eq!(times("time [s]", &serial), None);
    assert_eq!(times("time_ms", &serial), None);
    // All of them in one day: not those that reach to the same moment of the next.
    let moments: Vec<String> = (0..=250)
        .map(|i| format!("{:.3}", 46356.5 + 0.004 * f64::from(i)).replace('.', ","))
        .collect();
    let moments: Vec<&str> = moments.iter().map(String::as_str).collect();
    assert_eq!((moments[0], moments[250]), ("46356,500", "46357,500"));
    assert!(times("time", &moments[..250]).is_some());
    assert_eq!(times("time", &moments), None);
    for sound in [
        ["0,000100", "0,000158", "0,000216", "0,000274"],
        ["46356", "46357", "46358", "46359"],
        ["46356,61", "46356,62", "46356,63", "46356,64"],
        ["90001,604100", "90001,604158", "90001,604216", "90001,604274"],
    ] {
        assert_eq!(times("time", &sound), None, "{sound:?}");
    }
}

#[test]
fn a_cell_in_quotes_may_span_lines() {
    let text = "\"drive\n[us]\";measured;note\r\n1200;1,5;\"cold\r\nand \"\"wet\"\"\"\r\n1300;11,5;\r\n1400;21,5;\"a\n\nb\"\r\n1500;x;\r\n";
    let table = Table::parse(text.as_bytes().to_vec(), TableOptions::default()).unwrap();
    let lines: Vec<Option<u32>> = (0..table.rows()).map(|row| table.line(row)).collect();
    assert_eq!(lines, [Some(3), Some(5), Some(6), Some(9)]);
    assert_eq!(
        (table.headings()[0].base.as_str(), table.headings()[0].unit.as_deref()),
        ("drive", Some("us"))
    );
    assert_eq!([table.cell(0, 2), table.cell(2, 2)], ["cold and \"wet\"", "a  b"]);
    assert_eq!(table.cell(1, 1), "11,5");
    let refused = table.numbers(1).unwrap_err().to_string();
    assert!(refused.starts_with("line 9: column 2 (measured): \"x\""), "{refused}");
    // One that is never closed, closed in the middle of a cell of another row, or behind rows of readings, closes nothing.
    let head = "drive,measured,note\n10,1,\n";
    for rest in [
        "20,2,\"cold\n30,3,\n40,4,\n",
        "20,2,\"cold\n\nwarm,\"wet\"\n40,4,\n",
        "20,2,\"cold\n30,3,\n40,4,warm\"\n",
    ] {
        let refused = readings(&format!("{head}{rest}")).unwrap_err();
        assert_eq!(
            refused, "line 3: a quote is opened here and not closed at the end of a cell; close it, or take it out",
            "{rest}"
        );
    }
    // In a comment and inside a word a quote is a letter.
    let sound = readings("# \"cold\ndrive,measured,note\n10,1,5\" pipe\n20,2,\n30,3,\"a\nb\"").unwrap();
    assert_eq!((sound.drive.len(), sound.lines), (3, vec![3, 4, 5]));
}

#[test]
fn names_of_groups_of_columns_may_stand_above_the_headings() {
    let rows = "1100;-31;7\n1200;-20,5;8\n1300;-10;9\n1400;0,5;9\n";
    let drive = |head: &str| {
        let table = Table::parse(format!("{head}{rows}").into_bytes(), TableOptions::default())
            .map_err(|error| error.to_string())?;
        let at = table.column("Puls").map_err(|error| error.to_string())?;
        table
            .numbers(at)
            .map(|numbers| numbers.len())
            .map_err(|error| error.to_string())
    };
    for head in [
        "Fl\u{fc}gel links;;Sonde\n",
        "Messung vom Montag;;\nFl\u{fc}gel links;;Sonde\n",
        "",
    ] {
        assert_eq!(drive(&format!("{head}Puls [us];Winkel;Wert\n")), Ok(4), "{head}");
    }
    // A row of units below the headings is none, nor is the first row of readings.
    for units in ["[us];[deg];[V];", "us;deg;ms;"] {
        let text = format!("Puls;Winkel;;\n{units}\n{}", rows.replace('\n', ";\n"));
        let refused = readings(&text).unwrap_err();
        assert!(refused.contains("the row has 4 cells, the header 2"), "{refused}");
    }
    let twice = drive("Fl\u{fc}gel links;;\nPuls;Puls;Winkel\n").unwrap_err();
    assert_eq!(twice, "line 2: the header names column \"Puls\" twice; rename one");
}

#[test]
fn the_words_of_a_header_show_its_separator() {
    let rows = "10;1,5;below\n20;11,4;below\n30;21,3\n40;31,5;below;Text;more\n50;41,5;below\n";
    let refused = readings(&format!("drive;measured;approach\n{rows}")).unwrap_err();
    assert_eq!(
        refused,
        "line 4: the row has 2 cells, the header 3; the file may be cut off or have a stray separator"
    );
}
