//! Numbers with marks that may be of decimals or of thousands.

use super::*;

/// One decimal sign for the whole file: beside decimals with a comma "1.192" is as likely 1192, and the other way round.
#[test]
fn a_number_that_may_be_in_thousands_is_refused_by_the_decimals_of_other_columns() {
    let sought = |text: &str, options: TableOptions| {
        let table = Table::parse(text.as_bytes().to_vec(), options).unwrap();
        table
            .numbers_where("tilt", &[])
            .map_err(|error| (error.line, error.column, error.sentence))
    };
    let usual = TableOptions::default();
    let german = "drive;measured;approach;tilt\n45;-40;below;987\n46,5;-39;below;1.192\n";
    let says = "column 4 (tilt): \"1.192\" may be a decimal number or one in thousands, as column 1 (drive) has numbers with a decimal \
                comma; write thousands without the point, decimals with a comma";
    assert_eq!(sought(german, usual), Err((Some(3), Some(4), says.into())));
    let english = "drive\tmeasured\ttilt\n45.5\t-40\t1,192\n";
    let says = "column 3 (tilt): \"1,192\" may be a decimal number or one in thousands, as column 1 (drive) has numbers with a decimal \
                point; write thousands without the comma, decimals with a point";
    assert_eq!(sought(english, usual), Err((Some(2), Some(3), says.into())));
    // Somebody says it, or the column itself shows what its sign means.
    let comma = sought(german, usual.with_decimal(Some(','))).unwrap_err().2;
    let says = "holds a point, where decimals have a comma; write thousands without the point, decimals with a comma";
    assert!(comma.contains(says), "{comma}");
    assert_eq!(sought(&german.replace("46,5", "46"), usual), Ok(vec![987.0, 1.192]));
    assert_eq!(sought(&german.replace("987", "98.7"), usual), Ok(vec![98.7, 1.192]));
    assert_eq!(sought(&english.replace("45.5", "45"), usual), Ok(vec![1.192]));
    // A column of words has no decimals.
    assert_eq!(
        sought("note;tilt\nsoft;987\n46,5;1.192\n", usual),
        Ok(vec![987.0, 1.192])
    );
    // Numbers that all may be in thousands contradict each other too; here an option helps.
    let table = Table::parse(b"drive;tilt\n45,125;1.192\n".to_vec(), usual).unwrap();
    assert_eq!(
        table.numbers_where("tilt", &[]).unwrap_err().remedy,
        Remedy::Decimal('.')
    );
    assert_eq!(
        table.numbers_where("drive", &[]).unwrap_err().remedy,
        Remedy::Decimal(',')
    );
}

#[test]
fn separators_of_thousands_are_called_that() {
    let refused = |cell: &str| readings(&format!("drive\tmeasured\n1\t{cell}\n")).unwrap_err();
    for (cell, plain) in [
        ("1'000", "1000"),
        ("-1\u{2019}000.5", "-1000.5"),
        ("12 000", "12000"),
        ("1\u{a0}000,5", "1000,5"),
        ("1\u{202f}000", "1000"),
        ("1.234,5", "1234,5"),
        ("1,234.5", "1234.5"),
        ("1.000.000", "1000000"),
        ("1,000,000", "1000000"),
    ] {
        let says = format!("\"{cell}\" has separators of thousands; write it without them: {plain}");
        assert!(refused(cell).contains(&says), "{}", refused(cell));
    }
    for cell in ["1 00", "1'0000", "1 000 herons", "1.2.3"] {
        assert!(refused(cell).contains("is not a number"), "{}", refused(cell));
    }
}

/// Counts and pulse widths are mostly whole: `1.056` in such a column is as likely 1056 as 1.056, unless the column shows it.
#[test]
fn three_digits_behind_a_mark_are_ambiguous_where_numbers_are_mostly_whole() {
    let usual = TableOptions::default();
    let columns = ReadingColumns::default();
    for (heading, cells, line, says) in [
        ("drive_us", ["1.056", "1.167", "1.278"], 2, "1.056"),
        ("drive_us", ["1,056", "1,167", "1,278"], 2, "1,056"),
        ("drive_us", ["889", "967", "1.000"], 4, "1.000"),
        ("pulse", ["1.056 \u{b5}s", "1.167", "1.278"], 2, "1.056 \u{b5}s"),
        ("drive_counts", ["2.900", "3.050", "3.140"], 2, "2.900"),
        ("counts", ["26.214", "104.858", "131.072"], 2, "26.214"),
    ] {
        let [a, b, c] = cells;
        let text = format!("{heading};measured\n{a};1\n{b};2\n{c};3\n");
        let error = refused(&text, &columns, usual).unwrap();
        let mark = says.chars().find(|c| matches!(c, '.' | ',')).unwrap();
        let name = if mark == '.' { "point" } else { "comma" };
        let start = format!("column 1 ({heading}): \"{says}\" may be a decimal number or one in thousands, as ");
        assert!(error.sentence.starts_with(&start), "{error}");
        let end = format!("are mostly whole numbers; write thousands without the {name}");
        assert!(error.sentence.ends_with(&end), "{error}");
        assert_eq!(
            (error.line, &error.remedy),
            (Some(line), &Remedy::Decimal(mark)),
            "{error}"
        );
        // Who says the mark means it.
        let said = refused(&text, &columns, usual.with_decimal(Some(mark)));
        assert_eq!(said, None, "{heading} {a}");
    }
    // What is a unit in an option is one in a heading.
    let text = "drive;measured\n1.056;1\n1.167;2\n";
    let mut in_us = columns;
    in_us.drive_unit = Some(DriveUnit::Us);
    assert!(refused(text, &in_us, usual).is_some());
    assert_eq!(refused(text, &columns, usual), None, "deg have decimals");
    // Pulse widths that show their decimals: four digits before them, or fewer than three behind; 900 and not 900250 us.
    for cells in [
        ["900.250", "1000.250"],
        ["900.250", "950.125"],
        ["1.056", "1.1"],
        ["0.900", "1.100"],
    ] {
        let [a, b] = cells;
        assert_eq!(
            refused(&format!("drive_us;measured\n{a};1\n{b};2\n"), &columns, usual),
            None,
            "{a}"
        );
    }
    assert_eq!(refused("drive_ms;measured\n1.056;1\n1.167;2\n", &columns, usual), None);
    assert_eq!(refused("drive;measured\n10;1.056\n20;2.167\n", &columns, usual), None);
}

/// What a converter gives is whole too, but averages of it are not: three digits before three decimals are no thousands of any converter.
#[test]
fn readings_of_a_converter_in_thousands_are_ambiguous() {
    let usual = TableOptions::default();
    let read = |heading: &str, cells: [&str; 3], options| {
        let [a, b, c] = cells;
        let text = format!("drive;measured;{heading}\n35;-35;{a}\n38;-35;{b}\n40;-34;{c}\n");
        let table = Table::parse(text.into_bytes(), options).unwrap();
        let name = heading.split(' ').next().unwrap();
        let (feedback, read) = (table.feedback(name, &[]), table.numbers_where(name, &[]));
        (feedback, read)
    };
    let says = |cell: &str, heading: &str| {
        format!(
            "column 3 ({heading}): \"{cell}\" may be a decimal number or one in thousands, as readings of a converter are mostly whole \
             numbers; write thousands without the point"
        )
    };
    for (heading, cells, cell) in [
        ("adc", ["1.875", "1.890", "1.900"], "1.875"),
        ("adc", ["875", "890", "1.000"], "1.000"),
        ("adc", ["512.375", "875", "1.000"], "512.375"),
        ("poti_raw", ["1.875", "1.890", "1.900"], "1.875"),
    ] {
        let (feedback, named) = read(heading, cells, usual);
        for error in [feedback.unwrap_err(), named.unwrap_err()] {
            assert_eq!(
                (error.sentence, error.remedy),
                (says(cell, heading), Remedy::Decimal('.'))
            );
        }
        let (feedback, named) = read(heading, cells, usual.with_decimal(Some('.')));
        assert!(feedback.is_ok() && named.is_ok(), "{heading}");
    }
    // A column of another name is a converter's where it is the feedback, unless it says that it is in volts.
    let (feedback, named) = read("poti", ["1.875", "1.890", "1.900"], usual);
    assert_eq!(feedback.unwrap_err().sentence, says("1.875", "poti"));
    assert_eq!(named, Ok(vec![1.875, 1.890, 1.900]));
    let (feedback, _) = read("poti [V]", ["1.875", "1.890", "1.900"], usual);
    assert_eq!(feedback, Ok(vec![1.875, 1.890, 1.900]));
    for cells in [
        ["512.375", "87.125", "1.500"],
        ["1.875", "1.89", "1.900"],
        ["875.5", "890.125", "1.000"],
        ["0.875", "0.900", "1.000"],
        ["875", "890", "900"],
    ] {
        let (feedback, named) = read("adc", cells, usual);
        assert!(feedback.is_ok() && named.is_ok(), "{cells:?}: {feedback:?}");
    }
}
