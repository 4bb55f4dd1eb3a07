//! What the shell tool makes of a table of readings, and what it refuses.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod common;

use common::{KEEP, READINGS, ROBOT, folder, json, run, source_line, sweep, tells, tells_all, words};
use std::fs;

/// A row of totals hides no stop: its line is named, and the ends are those without it.
#[test]
fn a_row_far_off_in_drive_is_left_out_by_its_line() {
    let folder = folder();
    let dir = folder.path();
    let rows =
        "drive,measured\n40,-31\n50,-20.8\n60,-11.1\n70,-1\n80,9.1\n90,18.9\n100,29\n110,39.1\n120,41.2\n125,41.1\n";
    fs::write(dir.join("plain.csv"), rows).unwrap();
    fs::write(dir.join("totals.csv"), format!("{rows}1430,115.3\n")).unwrap();
    let [plain, totals] = ["plain.csv", "totals.csv"].map(|table| json(dir, &["fit", table], 0));
    assert_eq!(plain["fit"]["travel"], totals["fit"]["travel"]);
    assert_eq!(totals["left_out"][0]["reason"], "drive-far-off");
    let (out, _) = run(dir, &["fit", "totals.csv"], 0);
    tells(
        &out,
        "line 12: drive 1430 was left out: it lies far from all other drive angles",
    );
}

/// Each bad table: what it holds, options, and what the refusal must say.
#[test]
fn bad_readings_are_refused_by_place_and_remedy_and_the_robot_file_stays() {
    let folder = folder();
    let cases: &[(&str, &[&str], &[&str])] = &[
        ("", &[], &["readings.csv: the file is empty", "drive,measured"]),
        ("\n \n", &[], &["the file is empty"]),
        (
            "drive,measured\n",
            &[],
            &["readings.csv:1: the table has a header and no rows"],
        ),
        ("drive,measured\n1,2\n", &[], &["1 reading is too few", "3 more"]),
        (
            "drive,measured\n1,2\n2,abc\n",
            &[],
            &["readings.csv:3: column 2 (measured): \"abc\" is not a number"],
        ),
        (
            "drive,measured\n1,2\n2,\n",
            &[],
            &["readings.csv:3: column 2 (measured): \"\" holds nothing"],
        ),
        (
            "drive,measured\n1,nan\n",
            &[],
            &["readings.csv:2: column 2 (measured): \"nan\" is not a finite number"],
        ),
        (
            "drive,measured\n1,\"1,500\"\n",
            &[],
            &["readings.csv:2:", "write it with a decimal point or without commas"],
        ),
        (
            "drive,measured\n1,2\n2",
            &[],
            &["readings.csv:3: the row has 1 cell, the header 2; the file may be cut off"],
        ),
        (
            "angle,measured\n1,2\n",
            &[],
            &[
                "readings.csv:1: no column is named \"drive\" (there are: angle, measured)",
                "--drive",
            ],
        ),
        (
            READINGS,
            &["--measured", "pot"],
            &["no column is named \"pot\"", "--measured"],
        ),
        (
            "drive;measured\n1;2\n",
            &["--separator", ","],
            &["give --separator \";\""],
        ),
        (
            "drive;measured\n1;2,5\n",
            &["--separator", ","],
            &[
                "readings.csv:2: the row has 2 cells, the header 1; ",
                "give --separator \";\"",
            ],
        ),
        (
            "drive\tmeasured\n1\t2\n",
            &["--separator", ","],
            &["give --separator tab"],
        ),
        (
            "drive,measured\n1,5,2,5\n",
            &[],
            &["readings.csv:2: the row has 4 cells, the header 2; is a comma meant as a decimal point"],
        ),
        (
            "drive_told,measured\n1,2\n",
            &[],
            &[
                "no column is named \"drive\"",
                "if \"drive_told\" is meant, name that; name one with --drive",
            ],
        ),
        (
            READINGS,
            &["--where", "side=left"],
            &["no column is named \"side\"", "--where"],
        ),
        (
            READINGS,
            &["--where", "drive=11"],
            &["no row has drive=11; there are drive = 10, 20"],
        ),
        ("drive,drive\n1,2\n", &[], &["names column \"drive\" twice"]),
        (
            "drive,measured,approach\n1,2,left\n",
            &[],
            &["column 3 (approach): \"left\" is not known; write one of below, above"],
        ),
        (
            "drive,measured\n1,1\n1,2\n1,3\n1,4\n1,5\n",
            &[],
            &["only 1 different drive angle,"],
        ),
        (
            "drive,measured\n10,5\n20,5\n30,5\n40,5\n50,5\n60,5\n",
            &[],
            &["does not follow it"],
        ),
        (READINGS, &["--guard", "-1"], &["guard is -1"]),
        (READINGS, &["--confidence", "95"], &["confidence is 95"]),
    ];
    for &(table, options, says) in cases {
        fs::write(folder.path().join("readings.csv"), table).unwrap();
        let mut args = vec!["fit", "readings.csv", "--into", "heron.toml", "--joint", "wing_left"];
        args.extend(options);
        let (out, err) = run(folder.path(), &args, 2);
        assert_eq!(out, "", "{table}");
        for what in says {
            assert!(err.contains(what), "{table:?}: {err}");
        }
        assert_eq!(err.trim_end().lines().count(), 1, "{err}");
        let object = json(folder.path(), &args, 2);
        assert!(err.contains(object["error"]["message"].as_str().unwrap()));
        assert!(object["error"]["code"].as_u64().unwrap() > 0);
    }
    fs::write(folder.path().join("readings.csv"), [0xff, 0x00]).unwrap();
    let (_, err) = run(folder.path(), &["fit", "readings.csv"], 2);
    tells(&err, "UTF-8");
    let (_, err) = run(folder.path(), &["fit", "reading.csv"], 2);
    tells(&err, "reading.csv: cannot be read");
    assert_eq!(
        fs::read_to_string(folder.path().join("heron.toml")).unwrap(),
        ROBOT,
        "the file on disk is unchanged"
    );
    assert_eq!(
        fs::read_dir(folder.path()).unwrap().count(),
        2,
        "and nothing lies beside it"
    );
}

/// A table in the wrong unit fits as well as one in the right unit.
#[test]
fn drive_angles_that_the_servo_does_not_have_are_told_with_the_likely_unit() {
    let folder = tempfile::tempdir().unwrap();
    let table = |separator: &str, drive: fn(i32) -> i32| {
        let rows: String = (0..=18)
            .map(|i| format!("{}{separator}{}.{}\n", drive(i), 9 * i, i % 3))
            .collect();
        fs::write(
            folder.path().join("readings.csv"),
            format!("drive{separator}measured\n{rows}"),
        )
        .unwrap();
    };
    let fit = |options: &[&str]| run(folder.path(), &[&["fit", "readings.csv"], options].concat(), 0).0;

    table(",", |i| 600 + 100 * i);
    let out = fit(&[]);
    let says = "drive 2400 does not look like degrees of a servo of 0 to 180 deg: timer counts? give --drive-unit counts; microseconds? \
                give --drive-unit us; are the columns drive and measured exchanged?";
    tells(&out, says);
    let object = json(folder.path(), &["fit", "readings.csv"], 0);
    let warnings = object["warnings"].as_array().unwrap();
    assert!(
        warnings
            .iter()
            .any(|warning| warning.as_str().unwrap().starts_with(says)),
        "{object}"
    );
    // What is told with the option that helps is told once.
    assert!(!out.contains("guard margin of 2 of them"), "{out}");
    assert!(!fit(&["--drive-unit", "us"]).contains("does not look like"));
    assert!(!fit(&["--servo-angle", "0,2400"]).contains("does not look like"));

    table("\t", |i| 10 * i);
    assert!(!fit(&["--separator", "tab"]).contains("outside the servo"));
    let out = fit(&["--separator", "tab", "--drive-unit", "us"]);
    tells(&out, "if the column holds drive angles, give --drive-unit deg");
    let (_, err) = run(folder.path(), &["fit", "readings.csv", "--separator", "tabs"], 2);
    tells(&err, "give one character, or the word tab or space");
}

/// A share of the servo's range is no degrees, also where the guard margin is lowered until some travel is left.
#[test]
fn drive_values_on_a_small_scale_are_told_whatever_the_guard_margin() {
    let folder = tempfile::tempdir().unwrap();
    let row = |i: i32| {
        let drive = 0.2 + 0.03 * f64::from(i);
        let measured = 180.0 * drive.clamp(0.25, 0.6) + f64::from(i % 3) * 0.1;
        format!("{drive:.2},{measured:.1}\n")
    };
    let rows: String = (0..=18).map(row).collect();
    fs::write(folder.path().join("readings.csv"), format!("drive,measured\n{rows}")).unwrap();
    let says = "the drive values span 0.54 only, so they are hardly degrees (radians, milliseconds, a share of 0 to 1?): convert them to degrees";
    for (guard, status) in [("2", 1), ("0.02", 0)] {
        let args = ["fit", "readings.csv", "--guard", guard];
        let (out, _) = run(folder.path(), &args, status);
        let told = out.split_whitespace().collect::<Vec<_>>().join(" ");
        assert_eq!(told.matches("hardly degrees").count(), 1, "{out}");
        tells(&told, says);
    }
}

/// The same readings are taken at rest or in motion, as their times say, whatever unit these are written in.
#[test]
fn times_tell_rest_from_motion() {
    let folder = folder();
    let table = |head: &str, time: &dyn Fn(usize) -> String| {
        let rows = READINGS.lines().skip(1).enumerate();
        let text: String = rows.map(|(i, row)| format!("{row},{}\n", time(i))).collect();
        fs::write(folder.path().join("log.csv"), format!("drive,measured,{head}\n{text}")).unwrap();
    };
    let fit = ["fit", "log.csv"];
    table("time", &|i| format!("{}", 3 * i));
    run(folder.path(), &fit, 0);
    table("time", &|i| format!("{}", 0.02 * i as f64));
    let (_, err) = run(folder.path(), &fit, 2);
    tells_all(&err, &["the drive moved at", "measure at rest"]);
    table("time_ms", &|i| format!("{}", 20 * i));
    run(folder.path(), &fit, 2);
    run(folder.path(), &["fit", "log.csv", "--time-unit", "s"], 0);
    table("stamp", &|i| format!("{}", 20 * i));
    run(folder.path(), &fit, 0);
    run(
        folder.path(),
        &["fit", "log.csv", "--time", "stamp", "--time-unit", "ms"],
        2,
    );
    table("time", &|i| format!("9:59:{}", 58.0 + 0.2 * i as f64));
    run(folder.path(), &fit, 2);
    table("time", &|i| format!("9:58:{:02}", 7 * i));
    run(folder.path(), &fit, 0);
    table("time", &|i| format!("9:{}:00", 58 + i));
    let (_, err) = run(folder.path(), &fit, 2);
    tells(
        &err,
        "\"9:60:00\" is not a time; write seconds such as 12.5, or h:mm:ss",
    );
    let (_, err) = run(folder.path(), &["fit", "log.csv", "--time", "clock"], 2);
    tells_all(&err, &["no column is named \"clock\"", "--time"]);
}

#[test]
fn a_fit_updates_its_joint_in_place() {
    let folder = folder();
    let (out, _) = run(folder.path(), &KEEP, 0);
    tells(&out, "joint wing_left updated in heron.toml");
    let text = fs::read_to_string(folder.path().join("heron.toml")).unwrap();
    let added = "travel = [10, 70]\n\n[joint.wing_left.evidence]\ndate = 2026-11-20\n\
        lower = { kind = \"clear\", at = 10 }\nupper = { kind = \"clear\", at = 70 }\nreadings = 7\nmap_off = -70.6172\n";
    let source = source_line(
        "readings.csv",
        &fs::read_to_string(folder.path().join("readings.csv")).unwrap(),
    );
    assert_eq!(text, format!("{ROBOT}{added}{source}"));
    // Readings that run the other way than the joint are refused, and so are those in a unit of their own, which say nothing of it.
    assert!(!out.contains("are reversed"), "{out}");
    let falling = "drive,measured\n10,139.9\n20,120.1\n30,99.9\n40,80.0\n50,60.1\n60,39.9\n70,20.1\n";
    fs::write(folder.path().join("falling.csv"), falling).unwrap();
    let inverted = ROBOT.replace("rest = 10\n", "rest = 10\ninverted = true\n");
    for (robot, table, status, says) in [
        (
            ROBOT,
            "falling.csv",
            1,
            "commands fall with drive as measured, and rise in the file",
        ),
        (&inverted, "falling.csv", 1, "offset: a command needs"),
        (
            &inverted,
            "readings.csv",
            1,
            "commands rise with drive as measured, and fall in the file",
        ),
        (
            &ROBOT.replace("rest = 10\n", "rest = 10\nunit = \"mm\"\n"),
            "falling.csv",
            1,
            "its commands are in mm, the measured values in deg, and the relation between them is not known",
        ),
    ] {
        fs::write(folder.path().join("heron.toml"), robot).unwrap();
        let (out, _) = run(
            folder.path(),
            &["fit", table, "--into", "heron.toml", "--joint", "wing_left"],
            status,
        );
        assert_eq!(out.contains("are reversed"), says.starts_with("commands"), "{out}");
        tells(&out, says);
    }
    // What says how the values relate to the commands is named.
    let mm = ROBOT.replace("rest = 10\n", "rest = 10\nunit = \"mm\"\n");
    fs::write(folder.path().join("heron.toml"), mm).unwrap();
    let args = [
        "fit",
        "readings.csv",
        "--into",
        "heron.toml",
        "--joint",
        "wing_left",
        "--adopt",
    ];
    let (_, err) = run(folder.path(), &args, 2);
    tells(
        &err,
        "give the unit of the measured values, or those that its lower and upper command stand for; --measured-unit gives the unit, \
         --measured-at-commands LOWER,UPPER the values",
    );
    fs::write(folder.path().join("heron.toml"), ROBOT).unwrap();
    // No other joint, no other file, without being asked for.
    let (_, err) = run(
        folder.path(),
        &["fit", "readings.csv", "--into", "heron.toml", "--joint", "wing_lfet"],
        2,
    );
    tells(
        &err,
        "no joint is named \"wing_lfet\"; the nearest name is \"wing_left\"; correct the name, or give --new for another joint",
    );
    let (_, err) = run(
        folder.path(),
        &["fit", "readings.csv", "--into", "stork.toml", "--joint", "a"],
        2,
    );
    tells(&err, "--new makes it");
    assert!(!folder.path().join("stork.toml").exists());
}

#[test]
fn a_new_file_holds_a_joint_in_its_own_commands() {
    let folder = folder();
    let new = words(
        "fit readings.csv --into stork.toml --joint neck --new --command=-1,1 --unit fraction --max-rate-per-s 0.5 --board breast --channel 3 --counts-per-frame 65536",
    );
    run(folder.path(), &new, 0);
    let text = fs::read_to_string(folder.path().join("stork.toml")).unwrap();
    tells_all(
        &text,
        &[
            "counts_per_frame = 65536, assumed = true }",
            "command = [-1, 1]",
            "drive = [10, 70]",
            "rest = 0",
            "channel = 3",
            "max_rate_per_s = 0.5",
        ],
    );
    run(folder.path(), &["check", "stork.toml"], 0);
}

#[test]
fn a_fit_is_drawn_as_sound_xml_that_can_be_read_aloud() {
    let folder = folder();
    let dir = folder.path();
    // One misreading.
    let table = sweep(0.0).replacen("\n50,", "\n50,1", 1);
    fs::write(dir.join("readings.csv"), table).unwrap();
    run(
        dir,
        &["fit", "readings.csv", "--joint", "a<b&c", "--plot", "fit.svg"],
        0,
    );
    let svg = fs::read_to_string(dir.join("fit.svg")).unwrap();
    let document = roxmltree::Document::parse(&svg).unwrap();
    let root = document.root_element();
    assert_eq!(root.attribute("role"), Some("img"));
    let text_of = |name: &str| {
        document
            .descendants()
            .find(|node| node.has_tag_name(name))
            .and_then(|node| node.text())
    };
    assert!(document.descendants().any(|node| node.text() == Some("a<b&c")));
    assert!(svg.contains("Readings and limits of a&lt;b&amp;c"));
    assert!(svg.contains("stop was found") && text_of("style").is_some());
    let count = |class: &str| {
        document
            .descendants()
            .filter(|node| node.attribute("class") == Some(class))
            .count()
    };
    assert_eq!(count("stop"), 3, "two stops and the legend");
    assert_eq!(
        (count("rejected"), count("outside")),
        (0, 3),
        "the misreading and what is left of it lie outside the frame, and the legend lists only what is drawn"
    );
    assert!(!svg.contains("left out as misreading") && svg.contains("outside the frame"));
    assert!(count("below") > 30 && count("above") > 30 && count("reading") == 0);
    assert_eq!((count("guard"), count("travel")), (3, 2));
    // An earlier picture may be replaced, anything else not.
    run(dir, &["fit", "readings.csv", "--plot", "fit.svg"], 0);
    fs::write(dir.join("mine.svg"), "mine").unwrap();
    let (_, err) = run(dir, &["fit", "readings.csv", "--plot", "mine.svg"], 2);
    tells(&err, "was not made by elbowroom");
    assert_eq!(fs::read_to_string(dir.join("mine.svg")).unwrap(), "mine");
}

/// The curved elevon: measured by A. J. Barry, of whose left series a quadratic residual SD 0.821 deg where a line leaves 3.252
/// (`tests/data/measured/README.md`).
#[test]
fn a_bent_joint_gets_a_curve_with_few_knots_and_its_stop_stays_found() {
    let folder = folder();
    let dir = folder.path();
    let recordings = include_str!("../../../tests/data/measured/elevon_deflection.csv");
    fs::write(dir.join("elevons.csv"), recordings).unwrap();
    let fit = |more: &[&str]| {
        let words = "fit elevons.csv --where aircraft=1 --where side=left --drive command_us --drive-unit us --measured deflection_deg";
        words
            .split(' ')
            .chain(more.iter().copied())
            .map(str::to_owned)
            .collect::<Vec<String>>()
    };
    let said = |more: &[&str]| {
        let words = fit(more);
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        (run(dir, &words, 0).0, json(dir, &words, 0))
    };
    // Without a file nothing is written, and the picture shows what the readings ask for.
    let (text, object) = said(&["--plot", "elevon.svg"]);
    let bent = &object["transmission"];
    assert_eq!(
        (&bent["asked_for"], &bent["taken"], &bent["insisted"]),
        (&"curve".into(), &"curve".into(), &false.into())
    );
    let knots = bent["knots"].as_array().unwrap().len();
    assert!((3..8).contains(&knots), "{knots}");
    assert_eq!(bent["u"].as_array().unwrap().len(), knots);
    let left = bent["candidates"][1]["residual_sd"].as_f64().unwrap();
    assert!(left < 0.821 * 1.1, "{left}");
    assert!(
        text.contains("the joint is nonlinear") && text.contains(&format!("curve through {knots} knots")),
        "{text}"
    );
    let lower = &object["fit"]["lower"];
    let stop_us = 500.0 + lower["at"].as_f64().unwrap() * 2000.0 / 180.0;
    assert!(
        (1109.0 - 1e-6..=1209.0 + 1e-6).contains(&stop_us) && lower["kind"] != "clear",
        "{lower}"
    );
    let svg = fs::read_to_string(dir.join("elevon.svg")).unwrap();
    let document = roxmltree::Document::parse(&svg).unwrap();
    let drawn = |class: &str| {
        document
            .descendants()
            .filter(|node| node.attribute("class") == Some(class))
            .count()
    };
    assert_eq!(drawn("knot"), knots + 1, "and one in the legend");
    assert_eq!(
        (drawn("reading"), drawn("outside") > 1),
        (2 * 17 - (drawn("outside") - 1) + 1, true),
        "each reading, what is left of it, and the legend; two are too far off the curve to be drawn"
    );
    assert!(svg.contains(&format!("a curve through {knots} knots")));
    // The picture of a choice shows what chose.
    let criterion = |index: usize| bent["candidates"][index]["criterion"].as_f64().unwrap();
    assert!(criterion(1) < criterion(0) - 2.0, "{bent}");
    for (index, end) in [(0, ""), (1, " (chosen)")] {
        let kind = bent["candidates"][index]["kind"].as_str().unwrap();
        let words = format!("criterion {:.1}{end}</text>", criterion(index));
        assert!(
            svg.lines()
                .any(|line| line.contains(&format!(">{kind}: ")) && line.contains(&words)),
            "{words}"
        );
    }

    // A new joint follows the measured angles; every reading between the stops converts to what was measured.
    let (_, _) = said(&["--into", "elevons.toml", "--joint", "left", "--new"]);
    let written = fs::read_to_string(dir.join("elevons.toml")).unwrap();
    tells(&written, "kind = \"curve\"");
    for pulse in ["1259", "1309", "1609", "1809"] {
        let reading = recordings
            .lines()
            .find(|line| line.starts_with("1,left") && line.contains(&format!(",{pulse},")))
            .unwrap();
        let measured: f64 = reading.split(',').nth(4).unwrap().parse().unwrap();
        let back = json(
            dir,
            &["convert", "elevons.toml", "left", "--from", "pulse-us", pulse],
            0,
        );
        let command = back["values"][0]["command"].as_f64().unwrap();
        assert!((command - measured).abs() < 3.0 * left, "{pulse}: {command} {measured}");
    }
    run(dir, &["check", "elevons.toml", "--as-of", "2026-11-25"], 1);

    // A joint that is there keeps its own until told otherwise, and the text says what the readings ask for.
    let (text, object) = said(&["--into", "elevons.toml", "--joint", "left"]);
    tells(&text, "the readings agree with it");
    assert_eq!(object["transmission"]["taken"], "curve");
    let (text, object) = said(&["--into", "elevons.toml", "--joint", "left", "--transmission", "linear"]);
    tells(&text, "as given; curve fits the readings better");
    assert_eq!(object["transmission"]["insisted"], true);
    assert!(
        !fs::read_to_string(dir.join("elevons.toml"))
            .unwrap()
            .contains("transmission")
    );
    let (text, _) = run(
        dir,
        &fit(&["--into", "elevons.toml", "--joint", "left"])
            .iter()
            .map(String::as_str)
            .collect::<Vec<_>>(),
        1,
    );
    tells_all(
        &text,
        &[
            "as in the file; curve fits the readings better, see --transmission",
            "nothing was written",
        ],
    );
    let curve = words("--into elevons.toml --joint left --transmission curve --adopt");
    said(&curve);
    assert!(
        fs::read_to_string(dir.join("elevons.toml"))
            .unwrap()
            .contains("kind = \"curve\"")
    );

    // A straight joint gets a line, and no word about it.
    let (text, _) = run(
        dir,
        &["fit", "readings.csv", "--into", "new.toml", "--joint", "a", "--new"],
        0,
    );
    assert!(!text.contains("transmission"), "{text}");
    let (_, err) = run(dir, &["fit", "readings.csv", "--transmission", "bent"], 2);
    tells(&err, "possible values: linear, curve");
}
