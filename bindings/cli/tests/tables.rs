//! How tables of readings may be written.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may fail loudly")]

mod common;

use common::{READINGS, folder, json, run, sweep, tells, tells_all, tool, words};
use std::fs;

/// Tables as spreadsheets write them where decimals have a comma.
#[test]
fn decimals_may_have_a_comma() {
    let folder = folder();
    let dir = folder.path();
    let commas = ["--separator", ";", "--decimal", ","];
    let of = |table: &str, more: &[&str], status| {
        fs::write(dir.join("commas.csv"), table).unwrap();
        run(dir, &[&["fit", "commas.csv"], &commas[..], more].concat(), status)
    };
    let pointed = json(dir, &["fit", "readings.csv"], 0);
    let table = READINGS.replace(',', ";").replace('.', ",");
    of(&table, &[], 0);
    let found = json(dir, &[&["fit", "commas.csv"], &commas[..]].concat(), 0);
    assert_eq!(found["fit"], pointed["fit"], "the same numbers");
    for (cell, says) in [
        (
            "1.5",
            "commas.csv:2: column 1 (drive): \"1.5\" holds a point, where decimals have a comma",
        ),
        ("1.234,5", "holds a point"),
        ("1,2,3", "is not a number"),
        ("", "holds nothing"),
    ] {
        let (_, err) = of(&format!("drive;measured\n{cell};2\n"), &[], 2);
        tells(&err, says);
    }
    let (_, err) = run(dir, &["fit", "readings.csv", "--separator", ",", "--decimal", ","], 2);
    tells(&err, "the decimal \",\" separates columns too; give another separator");
    let (_, err) = run(dir, &["fit", "readings.csv", "--decimal", "x"], 2);
    tells(&err, "give a point or a comma");
}

/// The same readings as people and loggers write them.
#[test]
fn a_table_is_read_as_it_comes() {
    let folder = folder();
    let dir = folder.path();
    let plain = json(dir, &["fit", "readings.csv"], 0);
    let rows = READINGS.split_once('\n').unwrap().1;
    let semicolons = READINGS.replace(',', ";").replace('.', ",");
    let forms = [
        format!("\u{feff}{READINGS}"),
        READINGS.replace('\n', "\r\n"),
        semicolons.clone(),
        semicolons.replace("\n", ";\n"),
        format!("Wing, left side, taken by hand\n\n{READINGS}"),
        format!("Wing left;;\n{}", semicolons.replace('\n', "\n;;;\n")),
        format!("# a logger\n{}# the end\n", READINGS.replace("50,", "# a note\n50,")),
        READINGS.replace("drive,measured", "drive [deg],measured [deg]"),
        READINGS.replace("drive,measured", "drive_deg,Measured (deg)"),
        rows.to_owned(),
        rows.replace(',', "   "),
        rows.replace(',', "\t"),
        READINGS.replace(',', "  "),
        READINGS.replace(',', "\t").replace('.', ","),
        READINGS.replace("\n10,20.1", "\n\"10\",\"20.1\""),
    ];
    for form in forms {
        fs::write(dir.join("form.csv"), &form).unwrap();
        let found = json(dir, &["fit", "form.csv"], 0);
        assert_eq!(found["fit"], plain["fit"], "{form}");
    }
    let output = tool(dir, &["fit", "-", "--json"], READINGS);
    let found: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(found["fit"], plain["fit"], "standard input");
    // A true minus sign; and the line is an editor's, whatever stands above it.
    fs::write(dir.join("minus.csv"), READINGS.replace("10,20.1", "10,\u{2212}20.1")).unwrap();
    fs::write(dir.join("hyphen.csv"), READINGS.replace("10,20.1", "10,-20.1")).unwrap();
    let [minus, hyphen] = ["minus.csv", "hyphen.csv"].map(|table| json(dir, &["fit", table], 0)["fit"].clone());
    assert_eq!(minus, hyphen);
    for ending in ["\n", "\r\n"] {
        let text = [
            "\u{feff}A title",
            "",
            "# note",
            "drive;measured",
            ";;",
            "10;1",
            "20;abc",
            "",
        ]
        .join(ending);
        fs::write(dir.join("lines.csv"), text).unwrap();
        let (_, err) = run(dir, &["fit", "lines.csv"], 2);
        tells(&err, "lines.csv:7: column 2 (measured): \"abc\"");
    }
}

#[test]
fn drives_may_be_counts_or_milliseconds_and_measured_values_otherwise() {
    let folder = folder();
    let dir = folder.path();
    let slope = |table: &str, more: &[&str]| {
        fs::write(dir.join("form.csv"), table).unwrap();
        let found = json(dir, &[&["fit", "form.csv"], more].concat(), 0);
        found["fit"]["slope"].as_f64().unwrap()
    };
    let table = |head: &str, row: &dyn Fn(f64) -> String| {
        let rows: String = (0..12).map(|i| row(20.0 + 10.0 * f64::from(i)) + "\n").collect();
        format!("{head}\n{rows}")
    };
    // Invented: one deg of the joint per deg of drive, of a servo of 0 to 180 deg on 500 to 2500 us.
    let us = |drive: f64| 500.0 + drive * 2000.0 / 180.0;
    let plain = slope(&table("drive,measured", &|d| format!("{d},{}", d - 90.0)), &[]);
    let near = |found: f64, expected: f64| assert!((found - expected).abs() < 0.005, "{found} {expected}");
    near(plain, 1.0);
    near(
        slope(&table("drive_us,measured", &|d| format!("{},{}", us(d), d - 90.0)), &[]),
        1.0,
    );
    near(
        slope(
            &table("drive [ms],measured", &|d| format!("{},{}", us(d) / 1000.0, d - 90.0)),
            &[],
        ),
        1.0,
    );
    let counts = table("drive,measured", &|d| {
        format!("{},{}", us(d) * 50.0 * 65536.0 / 1e6, d - 90.0)
    });
    let timer = words("--drive-unit counts --frame-hz 50 --counts-per-frame 65536");
    near(slope(&counts, &timer), 1.0);
    let flipped = table("drive,measured", &|d| format!("{d},{}", 90.0 - d));
    near(slope(&flipped, &["--flip-measured"]), 1.0);
    let arc = table("drive,measured_mm", &|d| {
        format!("{d},{}", 50.0 * (d - 90.0).to_radians())
    });
    near(slope(&arc, &["--arc-radius", "50"]), 1.0);
    let wrapped = table("drive,measured", &|d| {
        format!("{d},{}", (d - 90.0_f64).rem_euclid(360.0))
    });
    near(slope(&wrapped, &["--wrap"]), 1.0);
    near(slope(&wrapped, &["--wrap=360"]), 1.0);
    // A converter's numbers are no degrees, neither in words nor in the file.
    let adc = table("drive,adc", &|d| format!("{d},{}", 4.0 * d));
    fs::write(dir.join("form.csv"), adc).unwrap();
    let (out, _) = run(dir, &["fit", "form.csv", "--measured", "adc"], 0);
    tells(&out, "4.000 counts per drive deg");
}

/// A drive in a unit that is none of a servo's is not taken for deg, unless somebody says what it is.
#[test]
fn a_drive_in_an_unknown_unit_is_refused() {
    let folder = folder();
    let dir = folder.path();
    for (heading, unit) in [("drive [%]", "%"), ("drive (percent)", "percent"), ("drive_rad", "rad")] {
        fs::write(dir.join("form.csv"), READINGS.replace("drive", heading)).unwrap();
        let (_, err) = run(dir, &["fit", "form.csv"], 2);
        let says = format!(
            "form.csv:1: the unit in the heading of the drive column is {unit}; write drive angles in deg, or one of deg, us, ms, \
             counts, and change the heading, or give --drive-unit"
        );
        tells(&err, &says);
        let said = json(dir, &["fit", "form.csv", "--drive-unit", "deg"], 0);
        assert_eq!(said["fit"], json(dir, &["fit", "readings.csv"], 0)["fit"], "{heading}");
    }
}

/// A column of thousands beside decimal commas.
#[test]
fn a_point_beside_decimal_commas_is_ambiguous() {
    let folder = folder();
    let dir = folder.path();
    let rows: String = (0..12)
        .map(|i| format!("{0},5;-{0},5;1.{1}\n", 20 + 5 * i, 192 + 10 * i))
        .collect();
    fs::write(dir.join("form.csv"), format!("drive;measured;adc\n{rows}")).unwrap();
    let (_, err) = run(dir, &words("fit form.csv --feedback adc --adc-bits 12"), 2);
    tells(
        &err,
        "form.csv:2: column 3 (adc): \"1.192\" may be a decimal number or one in thousands",
    );
    run(dir, &["fit", "form.csv"], 0);
}

/// Numbers that are mostly whole, with a mark of thousands in all of them.
#[test]
fn a_mark_of_thousands_in_counts_is_ambiguous_until_the_decimal_is_given() {
    let folder = folder();
    let dir = folder.path();
    let mut table = String::from("drive;measured;adc\n");
    for step in 0..20 {
        let adc = 1800 + 5 * step;
        let (whole, rest) = (adc / 1000, adc % 1000);
        table.push_str(&format!("{};{};{whole}.{rest:03}\n", 40 + 4 * step, 4 * step - 30));
    }
    fs::write(dir.join("points.csv"), table).unwrap();
    let fit = words("fit points.csv --feedback adc --into heron.toml --joint wing_left --keep");
    let (_, err) = run(dir, &fit, 2);
    tells(
        &err,
        "points.csv:2: column 3 (adc): \"1.800\" may be a decimal number or one in thousands, as readings of a converter are mostly whole \
         numbers; write thousands without the point, or give --decimal .",
    );
    run(dir, &[&fit[..], &["--decimal", "."]].concat(), 0);
    fs::write(
        dir.join("us.csv"),
        "drive_us;measured\n1.056;-26\n1.167;-14\n1.278;-2\n1.389;10\n1.500;22\n",
    )
    .unwrap();
    let (_, err) = run(dir, &["fit", "us.csv"], 2);
    tells(&err, "as pulse widths in us are mostly whole numbers");
}

/// Degrees that are said to be radians are told, as values or as a column's heading.
#[test]
fn degrees_taken_for_radians_are_told() {
    let folder = folder();
    let dir = folder.path();
    let table = |heading: &str| {
        let rows = (0..20).map(|i| format!("{},{}\n", 30 + 6 * i, 6 * i - 60));
        format!("drive,{heading}\n{}", rows.collect::<String>())
    };
    fs::write(dir.join("plain.csv"), table("measured")).unwrap();
    fs::write(dir.join("rad.csv"), table("measured_rad")).unwrap();
    let told = "the measured values span 114 rad, which is 18.1 turns, more than a servo joint makes: they look like deg; give --measured-unit \
                deg, unless the joint makes so many turns";
    let (out, _) = run(
        dir,
        &words("fit plain.csv --into new.toml --joint neck --new --unit rad"),
        0,
    );
    tells(&out, told);
    let (out, _) = run(dir, &words("fit rad.csv --measured measured_rad"), 0);
    tells(&out, told);
    let (out, _) = run(dir, &words("fit plain.csv"), 0);
    assert!(!out.contains("turns"), "{out}");
}

/// A separator that does not separate: the other one is named, decimal commas or not.
#[test]
fn another_separator_is_named() {
    let folder = folder();
    let dir = folder.path();
    let rows = |last: &str| {
        (0..20)
            .map(|i| format!("{};{}{last}\n", 30 + 6 * i, 6 * i - 60))
            .collect::<String>()
    };
    fs::write(dir.join("decimal.csv"), format!("drive;measured\n{}", rows(",5"))).unwrap();
    fs::write(dir.join("note.csv"), format!("drive;measured;note\n{}", rows(";a,b"))).unwrap();
    fs::write(dir.join("bare.csv"), rows(",5")).unwrap();
    fs::write(dir.join("plain.csv"), format!("drive;measured\n{}", rows(""))).unwrap();
    for file in ["decimal.csv", "note.csv", "bare.csv", "plain.csv"] {
        for separator in [",", "tab", " ", "|"] {
            let (_, err) = run(dir, &["fit", file, "--separator", separator], 2);
            assert!(
                err.ends_with("; give --separator \";\"\n") && !err.contains("is meant"),
                "{file} {separator}: {err}"
            );
        }
        run(dir, &["fit", file, "--separator", ";"], 0);
    }
}

/// Many joints in one call: a column names them, or a file each does.
#[test]
fn many_joints_come_from_one_table_or_from_a_file_each() {
    let folder = folder();
    let dir = folder.path();
    let mut table = String::from("joint,channel,drive,measured\n");
    for joint in 0..3 {
        let mut own = String::from("drive,measured\n");
        for i in 0..10 {
            let drive = 30.0 + 10.0 * f64::from(i);
            let measured = drive - 90.0 + f64::from(joint);
            table.push_str(&format!("leg_{joint},{joint},{drive},{measured}\n"));
            own.push_str(&format!("{drive},{measured}\n"));
        }
        fs::write(dir.join(format!("leg_{joint}.csv")), own).unwrap();
    }
    fs::write(dir.join("beetle.csv"), table).unwrap();
    let each = words("fit beetle.csv --each joint --into beetle.toml --new --board main");
    let (out, _) = run(dir, &each, 0);
    tells(&out, "3 of 3 joints written into beetle.toml");
    let files = words("fit leg_0.csv leg_1.csv leg_2.csv --into files.toml --new");
    run(dir, &files, 0);
    let [one, other] = ["beetle.toml", "files.toml"].map(|file| json(dir, &["show", file], 0)["joints"].clone());
    for (index, (one, other)) in one
        .as_array()
        .unwrap()
        .iter()
        .zip(other.as_array().unwrap())
        .enumerate()
    {
        assert_eq!((&one["name"], &one["drive"]), (&other["name"], &other["drive"]));
        assert_eq!(one["channel"], index);
    }
    // One that contradicts the file is told of and left out; the others are written.
    let moved = fs::read_to_string(dir.join("leg_1.csv")).unwrap();
    let moved: String = moved
        .lines()
        .map(|line| match line.split_once(',').map(|(d, m)| (d, m.parse::<f64>())) {
            Some((drive, Ok(measured))) => format!("{drive},{}\n", measured + 15.0),
            _ => format!("{line}\n"),
        })
        .collect();
    fs::write(dir.join("leg_1.csv"), moved).unwrap();
    let again = ["fit", "leg_0.csv", "leg_1.csv", "leg_2.csv", "--into", "files.toml"];
    let (out, _) = run(dir, &again, 1);
    tells_all(&out, &["2 of 3 joints written", "1 tooth of 24"]);
    let object = json(dir, &again, 1);
    assert_eq!(object["joints"][1]["repair"]["decision"], "refused");
}

/// One table, in which a joint has no sides while another has them: it is fitted as from a table of its own.
#[test]
fn a_joint_without_sides_is_fitted_alike_alone_and_among_others() {
    let folder = folder();
    let dir = folder.path();
    let (mut both, mut alone) = (
        String::from("joint,drive,measured,approach\n"),
        String::from("drive,measured\n"),
    );
    for i in 0..24 {
        let step = f64::from(if i < 12 { i } else { 23 - i });
        let (drive, side) = (30.0 + 8.0 * step, if i < 12 { "below" } else { "above" });
        let lag = if i < 12 { -0.5 } else { 0.5 };
        let measured = drive - 90.0 + lag + 0.1 * f64::from(i * 7 % 5);
        both.push_str(&format!("leg,{drive},{measured},{side}\narm,{drive},{measured},\n"));
        alone.push_str(&format!("{drive},{measured}\n"));
    }
    fs::write(dir.join("both.csv"), both).unwrap();
    fs::write(dir.join("alone.csv"), alone).unwrap();
    let among = &json(dir, &words("fit both.csv --each joint"), 0)["joints"];
    let alone = &json(dir, &words("fit alone.csv"), 0)["fit"];
    let arm = among
        .as_array()
        .unwrap()
        .iter()
        .find(|joint| joint["joint"] == "arm")
        .unwrap();
    assert_eq!(&arm["fit"], alone);
    assert_eq!(alone["approach_inferred"], true);
}

/// Two joints of the heron in one table: neck and beak, each swept once, in turn.
fn two_joints(heading: &str) -> String {
    let mut table = format!("{heading};drive;measured;approach\n");
    for (joint, slope) in [("neck", 0.95), ("beak", -0.6)] {
        for step in 0..17 {
            let drive = 50.0 + 5.0 * f64::from(step);
            let measured = format!("{:.1}", slope * (drive - 90.0)).replace('.', ",");
            table += &format!("{joint};{drive};{measured};below\n");
        }
    }
    table
}

#[test]
fn a_table_of_two_joints_is_fitted_for_one_of_them() {
    let folder = folder();
    let dir = folder.path();
    for heading in ["joint", "Gelenk", "part of it"] {
        fs::write(dir.join("two.csv"), two_joints(heading)).unwrap();
        let quoted = if heading.contains(' ') {
            format!("'{heading}'")
        } else {
            heading.to_owned()
        };
        let only = |joint: &str| {
            if heading.contains(' ') {
                format!("--where '{heading}={joint}'")
            } else {
                format!("--where {heading}={joint}")
            }
        };
        let (_, err) = run(dir, &["fit", "two.csv"], 2);
        tells(
            &err,
            &format!("two.csv:1: column 1 ({heading}) holds 2 different values, neck, beak, "),
        );
        tells(
            &err,
            &format!(
                "take the rows of one by {}, or fit all by --each {quoted}",
                only("neck")
            ),
        );
        let into = ["fit", "two.csv", "--into", "new.toml", "--new", "--joint", "beak"];
        let (_, err) = run(dir, &into, 2);
        tells(&err, &format!("take the rows of one by {}", only("beak")));
        assert!(!err.contains("--each") && !dir.join("new.toml").exists(), "{err}");
        let (_, err) = run(dir, &["compare", "two.csv", "two.csv"], 2);
        tells(
            &err,
            &format!(
                "take the rows of one by {}, or compare all by --each {quoted}",
                only("neck")
            ),
        );
        run(dir, &["compare", "two.csv", "two.csv", "--each", heading], 0);
        // Either remedy, as it is told.
        run(dir, &[&into[..], &["--where", &format!("{heading}=beak")]].concat(), 0);
        fs::remove_file(dir.join("new.toml")).unwrap();
        run(
            dir,
            &["fit", "two.csv", "--each", heading, "--into", "new.toml", "--new"],
            0,
        );
        fs::remove_file(dir.join("new.toml")).unwrap();
    }
    // Words that may be anything are told where nothing shows whose the readings are.
    let table = two_joints("hand").replace("neck", "Ann").replace("beak", "Joe");
    let rows: Vec<&str> = table.lines().collect();
    let halves: Vec<String> = rows[..9]
        .iter()
        .chain(&rows[9..18])
        .enumerate()
        .map(|(at, row)| {
            if at > 9 {
                row.replace("Ann", "Joe")
            } else {
                (*row).to_owned()
            }
        })
        .collect();
    fs::write(dir.join("hands.csv"), halves.join("\n")).unwrap();
    let (out, _) = run(dir, &["fit", "hands.csv"], 0);
    let out = out.replace("\n              ", " ");
    tells(
        &out,
        "column hand holds Ann, Joe in turn, and all rows were taken as readings of one joint; check that they are; --where hand=Ann takes \
         the rows of one",
    );
}

#[test]
fn headings_of_other_languages_are_asked_for_together() {
    let folder = folder();
    let dir = folder.path();
    let table = sweep(0.0);
    fs::write(dir.join("plain.csv"), &table).unwrap();
    let rows = table.split_once('\n').unwrap().1;
    let sides = |below: &str, above: &str| rows.replace("below", below).replace("above", above);
    let plain = json(dir, &["fit", "plain.csv"], 0);
    for (head, [below, above], [drive, measured, side]) in [
        (
            "Antrieb [Grad],Gemessen [Grad],Richtung",
            ["von unten", "Von Oben"],
            ["Antrieb", "Gemessen", "Richtung"],
        ),
        (
            "Commande [deg],Mesure degr\u{e9}s,Sens",
            ["Mont\u{e9}e", "descente"],
            ["Commande", "Mesure degr\u{e9}s", "Sens"],
        ),
        (
            "Mando [grados],Medido (grados),Sentido",
            ["subiendo", "bajando"],
            ["Mando", "Medido", "Sentido"],
        ),
    ] {
        fs::write(dir.join("other.csv"), format!("{head}\n{}", sides(below, above))).unwrap();
        let (_, err) = run(dir, &["fit", "other.csv"], 2);
        let known = head.replace(',', ", ");
        tells(
            &err,
            &format!(
                "other.csv:1: no columns are named \"drive\" and \"measured\" (there are: {known}); name them with --drive COLUMN \
                 --measured COLUMN; the sides in column {side} are read with --approach {side}"
            ),
        );
        let named = [
            "fit",
            "other.csv",
            "--drive",
            drive,
            "--measured",
            measured,
            "--approach",
            side,
        ];
        assert_eq!(json(dir, &named, 0)["fit"], plain["fit"], "{head}");
    }
    fs::write(dir.join("other.csv"), "angle,mesure,remarque\n10,20,\n20,40,froid\n").unwrap();
    let (_, err) = run(dir, &["fit", "other.csv"], 2);
    tells(
        &err,
        "no columns are named \"drive\" and \"measured\" (there are: angle, mesure, remarque); name them with --drive COLUMN --measured COLUMN",
    );
    let (_, err) = run(dir, &["fit", "other.csv", "--drive", "angle"], 2);
    tells(
        &err,
        "no column is named \"measured\" (there are: angle, mesure, remarque); name one with --measured",
    );
}
