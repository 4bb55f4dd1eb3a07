//! What `fit` says of tables as people make them at a bench: few readings, one on each stop, a slip of the pen. All tables are invented.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod common;

use common::{KEEP, ROBOT, folder, json, run, source_line, tells, tells_all, words};
use serde_json::{Value, json as object};
use std::fs;
use std::path::Path;

/// One reading on each stop, of a joint that meets them at 58 and 122 deg.
const STALLED: &str = "drive,measured\n50,-31\n60,-30\n70,-20\n80,-10\n90,0\n100,9\n110,20\n120,30\n130,32\n";

fn table(folder: &Path, rows: impl IntoIterator<Item = (f64, f64)>) {
    let rows: String = rows
        .into_iter()
        .map(|(drive, measured)| format!("{drive},{measured}\n"))
        .collect();
    fs::write(folder.join("readings.csv"), format!("drive,measured\n{rows}")).unwrap();
}

/// A scatter of a few tenths that is the same in every run.
fn wobble(index: i32) -> f64 {
    0.1 * f64::from(index * 7 % 5 - 2)
}

/// A travel of 50 to 130 deg, as the readings at first sight have it, would end past both stops.
#[test]
fn both_ends_that_fell_short_by_one_reading_are_said_to_have_stalled() {
    let folder = folder();
    let dir = folder.path();
    fs::write(dir.join("readings.csv"), STALLED).unwrap();
    let (out, _) = run(dir, &["fit", "readings.csv"], 0);
    let told = "\
fit  9 readings of readings.csv
  lower end    stalled between 50 deg and 60 deg: the last reading falls short of the line; travel ends at 60 deg; take readings between, from above, to place the stop
  upper end    stalled between 120 deg and 130 deg: the last reading falls short of the line; travel ends at 120 deg
  travel       60 deg to 120 deg, guard margin not applied: no contact is placed
  slope        0.9964 deg per drive deg, standard uncertainty 0.0077: measured rises with drive
  scatter      residual SD 0.405 deg about the model
  resolution   1 deg, inferred from the values; to correct it, give --resolution
  lost motion  not determinable: the approach of the readings is not given; note from which side each position was reached
";
    assert!(out.starts_with(told), "{out}");
    let next = out.strip_prefix(told).unwrap();
    assert!(
        next.starts_with("  next         readings at the upper end, in this order, each from below: 12"),
        "{out}"
    );
    assert!(
        next.contains("; standard uncertainty of the stop ") && next.contains(" deg now, about "),
        "{out}"
    );
    assert_eq!(next.lines().count(), 1, "what fell short is said once\n{out}");

    let fit = json(dir, &["fit", "readings.csv"], 0);
    let end = |word: &str| {
        let end = &fit["fit"][word];
        (
            end["kind"].clone(),
            end["at"].clone(),
            end["short_at"].clone(),
            end["travel"].clone(),
        )
    };
    assert_eq!(end("lower"), ("stalled".into(), 60.0.into(), 50.0.into(), 60.0.into()));
    assert_eq!(
        end("upper"),
        ("stalled".into(), 120.0.into(), 130.0.into(), 120.0.into())
    );
    assert_eq!(
        fit["travel_sums"],
        object!({ "lower": null, "upper": null }),
        "no margin is kept"
    );
    assert_eq!(
        (&fit["fit"]["resolution"], &fit["fit"]["resolution_inferred"]),
        (&1.0.into(), &true.into())
    );
    let warnings = fit["warnings"].as_array().unwrap();
    assert_eq!(warnings.len(), 2, "{fit}");
    assert!(
        warnings
            .iter()
            .all(|warning| warning.as_str().unwrap().contains("falls short of the line"))
    );
    // What is advised is at the end named, within the gap, and brings something.
    let advice = &fit["fit"]["advice"];
    let readings = advice["readings"].as_array().unwrap();
    assert_eq!(advice["side"], "upper");
    for (reading, pulse_us) in readings
        .iter()
        .zip(fit["next_readings"]["pulse_us"].as_array().unwrap())
    {
        let drive = reading["drive"].as_f64().unwrap();
        assert!(
            (120.0..=130.0).contains(&drive) && reading["approach"] == "below",
            "{reading}"
        );
        assert!((pulse_us.as_f64().unwrap() - (500.0 + drive * 2000.0 / 180.0)).abs() < 1e-6);
    }
    assert!(advice["u_after"].as_f64().unwrap() < advice["u_before"].as_f64().unwrap());

    // With a resolution that is given it is said to be, and pulse widths stand beside the drive angles where they were commanded.
    let pulses: String = STALLED
        .lines()
        .skip(1)
        .map(|row| {
            let (drive, measured) = row.split_once(',').unwrap();
            format!("{},{measured}\n", 500 + drive.parse::<i32>().unwrap() * 10)
        })
        .collect();
    fs::write(dir.join("pulses.csv"), format!("drive,measured\n{pulses}")).unwrap();
    let words = words("fit pulses.csv --drive-unit us --servo-angle 0,200 --resolution 1");
    let (out, _) = run(dir, &words, 0);
    tells_all(
        &out,
        &[
            "stalled between 120 deg (1700 us) and 130 deg (1800 us): the last reading falls short of the line; travel ends at 120 deg (1700 us)\n",
            "resolution   1 deg, as given\n",
            "each from below: 121 deg (1710 us), ",
        ],
    );
}

#[test]
fn a_stalled_end_goes_into_the_robot_file_its_findings_and_its_pictures() {
    let folder = folder();
    let dir = folder.path();
    fs::write(dir.join("readings.csv"), STALLED).unwrap();
    let into = words("--into stork.toml --joint neck --new --date 2026-11-20 --plot fit.svg");
    run(dir, &[&["fit", "readings.csv"], &into[..]].concat(), 0);
    let text = fs::read_to_string(dir.join("stork.toml")).unwrap();
    tells_all(
        &text,
        &[
            "drive = [60, 120]\n",
            "lower = { kind = \"stalled\", at = 60, short_at = 50, guard = 0 }\n",
            "upper = { kind = \"stalled\", at = 120, short_at = 130, guard = 0 }\n",
        ],
    );
    let (out, _) = run(dir, &["show", "stork.toml", "neck"], 0);
    tells(&out, "lower end    stalled between 50 and 60 deg, guard margin 0");
    let found = json(dir, &["check", "stork.toml", "--as-of", "2026-11-21"], 1);
    let findings = found["findings"].as_array().unwrap();
    let placed: Vec<&Value> = findings.iter().filter(|one| one["rule"] == "stop-not-placed").collect();
    assert_eq!(placed.len(), 2, "{found}");
    assert_eq!(
        placed[0]["message"],
        "the joint stalled between 50 and 60 deg at its lower end: something holds it there"
    );
    assert_eq!(
        placed[0]["hint"],
        "take readings between 50 and 60 deg from above to place the stop, and fit again"
    );
    // The gap is hatched, with its words; a joint whose stops were placed has none.
    let hatched = |svg: &str| {
        let document = roxmltree::Document::parse(svg).unwrap();
        let held = |node: &roxmltree::Node<'_, '_>| node.attribute("class") == Some("held");
        document.descendants().filter(held).count()
    };
    let svg = fs::read_to_string(dir.join("fit.svg")).unwrap();
    assert_eq!(
        hatched(&svg),
        5,
        "each end among the readings and at the travel, and the legend"
    );
    assert!(svg.contains("stalled 120 to 130") && svg.contains("url(#held)") && svg.contains("id=\"held\""));
    // No motion is drawn beyond: the model ends where the hatching begins.
    let document = roxmltree::Document::parse(&svg).unwrap();
    let of = |class: &'static str| {
        document
            .descendants()
            .filter(move |node| node.attribute("class") == Some(class))
    };
    let number = |text: &str| text.parse::<f64>().unwrap();
    let points = of("model").find_map(|node| node.attribute("points")).unwrap();
    let places: Vec<f64> = points
        .split_whitespace()
        .map(|point| number(point.split_once(',').unwrap().0))
        .collect();
    let gap = of("held").nth(1).unwrap();
    let begins = number(gap.attribute("x").unwrap());
    assert!((places.last().unwrap() - begins).abs() < 0.02, "{places:?} {begins}");
    assert!(svg.contains("At the upper end the joint stalled between 120 and 130 deg."));
    run(
        dir,
        &["report", "stork.toml", "-o", "stork.html", "--as-of", "2026-11-21"],
        1,
    );
    let page = fs::read_to_string(dir.join("stork.html")).unwrap();
    assert_eq!(
        page.matches("class=\"held\"").count(),
        2 + 1 + 5,
        "the overview with its legend, and the readings, fitted again"
    );
    assert!(page.contains("stalled between 50 and 60 deg"));
    table(
        dir,
        (0..20).map(|i| {
            (
                50.0 + 4.0 * f64::from(i),
                (50.0 + 4.0 * f64::from(i)).min(110.0) + wobble(i),
            )
        }),
    );
    run(dir, &["fit", "readings.csv", "--plot", "fit.svg"], 0);
    assert_eq!(hatched(&fs::read_to_string(dir.join("fit.svg")).unwrap()), 0);
}

#[test]
fn a_slip_of_the_pen_is_named_with_its_line_and_cause() {
    let folder = folder();
    let dir = folder.path();
    // An empty line, so that lines of the file and readings are not counted alike.
    let row = |i: i32| {
        let drive = 50 + 5 * i;
        let measured = if i == 12 { 42 } else { (6 * (drive - 90)) / 5 };
        format!("{}{drive},{measured}\n", if i == 3 { "\n" } else { "" })
    };
    let rows: String = (0..17).map(row).collect();
    fs::write(dir.join("readings.csv"), format!("drive,measured\n{rows}")).unwrap();
    let (out, _) = run(dir, &["fit", "readings.csv"], 0);
    let told = "left out     line 15: 42 deg was left out, 18 deg off the line, which expects 24 deg: two of its digits are exchanged\n";
    tells(&out, told);
    let fit = json(dir, &["fit", "readings.csv"], 0);
    let one = &fit["left_out"][0];
    let number = |key: &str| one[key].as_f64().unwrap();
    assert_eq!((&one["line"], &one["cause"]), (&15.into(), &"digits-swapped".into()));
    assert_eq!((number("drive"), number("measured")), (110.0, 42.0));
    assert!(
        (number("expected") - 24.0).abs() < 1e-6 && one["reason"] == "off-the-line",
        "{one}"
    );
    assert_eq!(fit["fit"]["rejected"][0]["index"], 12);

    // A value that no one slip explains is to be read again.
    let text = fs::read_to_string(dir.join("readings.csv")).unwrap();
    fs::write(dir.join("readings.csv"), text.replace("110,42", "110,77")).unwrap();
    let (out, _) = run(dir, &["fit", "readings.csv"], 0);
    tells(
        &out,
        "line 15: 77 deg was left out, 53 deg off the line, which expects 24 deg; repeat it\n",
    );
    assert_eq!(
        json(dir, &["fit", "readings.csv"], 0)["left_out"][0]["cause"],
        Value::Null
    );
}

#[test]
fn the_travel_before_a_stop_is_a_sum_that_can_be_added_up() {
    let folder = folder();
    let dir = folder.path();
    fs::write(dir.join("readings.csv"), common::sweep(0.0)).unwrap();
    let fit = json(dir, &["fit", "readings.csv", "--guard", "2.5"], 0);
    let (out, _) = run(dir, &["fit", "readings.csv", "--guard", "2.5"], 0);
    let half = 0.5 * fit["fit"]["lost_motion"]["drive"].as_f64().unwrap();
    assert!(half > 0.3, "{half}");
    for (word, sign, inner) in [("lower", 1.0, 1), ("upper", -1.0, 0)] {
        let (sum, end) = (&fit["travel_sums"][word], &fit["fit"][word]);
        let number = |key: &str| sum[key].as_f64().unwrap();
        assert_eq!(sum["from"], end["interval"][inner]);
        assert_eq!((number("guard"), &sum["travel"]), (2.5, &end["travel"]));
        assert!((number("half_lost_motion") - half).abs() < 1e-9, "{sum}");
        let added = number("from") + sign * (number("guard") + number("half_lost_motion"));
        assert!((added - number("travel")).abs() < 1e-9, "{sum}");
        let sign = if sign > 0.0 { '+' } else { '-' };
        assert!(
            out.contains(&format!(
                " {sign} guard margin 2.5 {sign} half the lost motion {} = ",
                (100.0 * half).round() / 100.0
            )),
            "{out}"
        );
    }
    assert_eq!(out.matches("travel: inner end of the interval ").count(), 2, "{out}");
}

/// An invented sensor that slips by 8 at the fourth row of the way back.
#[test]
fn what_the_travel_keeps_for_a_slip_stands_in_the_sum() {
    let folder = folder();
    let dir = folder.path();
    let there = (0..20).map(|i| 30.0 + 5.0 * f64::from(i));
    let drive: Vec<f64> = there.clone().chain(there.rev()).collect();
    let mut table = String::from("drive,measured\n");
    for (row, drive) in drive.iter().enumerate() {
        let noise = 0.1 * f64::from((row * 7 % 5) as u8) - 0.2;
        let measured = drive.clamp(41.0, 113.0) + noise + if row >= 27 { 8.0 } else { 0.0 };
        table += &format!("{drive},{measured:.1}\n");
    }
    fs::write(dir.join("readings.csv"), table).unwrap();
    let (out, _) = run(dir, &["fit", "readings.csv"], 0);
    assert!(
        out.contains("from reading 28 on, at drive 90, all values lie 8 higher"),
        "{out}"
    );
    assert!(out.contains(" - guard margin 2 - the slip 8 = "), "{out}");
    assert_eq!(out.matches("the slip").count(), 1, "{out}");
    let sum = &json(dir, &["fit", "readings.csv"], 0)["travel_sums"]["upper"];
    let number = |key: &str| sum[key].as_f64().unwrap();
    let added = number("from") - number("guard") - number("half_lost_motion") - number("slipped");
    assert!((added - number("travel")).abs() < 1e-9, "{sum}");
}

#[test]
fn sides_from_the_order_of_the_rows_are_said_to_be_inferred() {
    let folder = folder();
    let dir = folder.path();
    let up = (0..10)
        .map(|i| 50.0 + 8.0 * f64::from(i))
        .map(|drive| (drive, drive - 91.5));
    let down = (0..10)
        .map(|i| 122.0 - 8.0 * f64::from(i))
        .map(|drive| (drive, drive - 88.5));
    let rows = up
        .chain(down)
        .map(|(drive, measured)| (drive, measured.clamp(-30.0, 30.0).round()));
    table(dir, rows);
    let (out, _) = run(dir, &["fit", "readings.csv"], 0);
    let told =
        "sides        inferred from the order of the rows; if they differ, add a column approach with below or above\n";
    tells(&out, told);
    assert!(!out.contains("lost motion  not determinable"), "{out}");
    assert_eq!(json(dir, &["fit", "readings.csv"], 0)["fit"]["approach_inferred"], true);
    // Sides that are written down are not inferred.
    fs::write(dir.join("sides.csv"), common::sweep(0.0)).unwrap();
    let (out, _) = run(dir, &["fit", "sides.csv"], 0);
    assert!(!out.contains("inferred from the order"), "{out}");
}

#[test]
fn a_jump_and_a_loose_scatter_are_said_with_their_size() {
    let folder = folder();
    let dir = folder.path();
    let measured = |drive: f64, i: i32| drive - 90.0 + wobble(i) + if drive > 92.0 { 15.0 } else { 0.0 };
    table(
        dir,
        (0..17).map(|i| (50.0 + 5.0 * f64::from(i), measured(50.0 + 5.0 * f64::from(i), i))),
    );
    let (out, _) = run(dir, &["fit", "readings.csv"], 0);
    tells(&out, "warning      from reading 10 on, at drive 95, all values lie 1");
    tells(&out, "a tooth was skipped");
    let fit = json(dir, &["fit", "readings.csv"], 0);
    let jump = &fit["fit"]["warnings"][0];
    assert_eq!(
        (&jump["kind"], &jump["index"], &jump["drive"]),
        (&"slipped".into(), &9.into(), &95.0.into())
    );
    assert!((jump["by"].as_f64().unwrap() - 15.0).abs() < 1.0, "{jump}");

    let measured = |drive: f64, i: i32| drive - 90.0 + 30.0 * wobble(i);
    table(
        dir,
        (0..17).map(|i| {
            (
                50.0 + 5.0 * f64::from(i),
                measured(50.0 + 5.0 * f64::from(i), i).round(),
            )
        }),
    );
    let (out, _) = run(dir, &["fit", "readings.csv", "--resolution", "0.5"], 0);
    tells(&out, "times the resolution 0.5: check the sensor's seat");
}

/// A file that was there keeps its own words; only the end's evidence is new.
#[test]
fn a_joint_that_is_there_is_told_that_it_stalled() {
    let folder = folder();
    let dir = folder.path();
    fs::write(dir.join("readings.csv"), STALLED).unwrap();
    let wide = ROBOT.replace("drive = [37, 122]", "drive = [40, 140]");
    fs::write(dir.join("heron.toml"), &wide).unwrap();
    run(dir, &KEEP, 0);
    let text = fs::read_to_string(dir.join("heron.toml")).unwrap();
    let added = "travel = [60, 120]\n\n[joint.wing_left.evidence]\ndate = 2026-11-20\n\
        lower = { kind = \"stalled\", at = 60, short_at = 50, guard = 0 }\n\
        upper = { kind = \"stalled\", at = 120, short_at = 130, guard = 0 }\nreadings = 9\n\
        map_off = 10.1994\n";
    let source = source_line("readings.csv", STALLED);
    assert_eq!(text, format!("{wide}{added}{source}"));
}
