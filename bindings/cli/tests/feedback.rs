//! A feedback map out of the table that a joint was measured by.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may fail loudly")]

mod common;

use common::{json, run, tells, tells_all, words};
use elbowroom::{Feedback, FeedbackRecord};
use std::fmt::Write as _;
use std::fs;
use std::path::Path;

/// A potentiometer of 10 kilohm that is read through `load_ohm`, by 10 bits; the textbook's loaded divider.
fn sensor(load_ohm: f64) -> Feedback<f64> {
    let mut record = FeedbackRecord::new([60.0, 960.0], [-10.0, 110.0]);
    (record.adc_bits, record.pot_ohm, record.load_ohm) = (Some(10), Some(10e3), Some(load_ohm));
    Feedback::new(&record).unwrap()
}

/// Invented: a joint of 0.8 deg per deg of drive that meets its upper stop at 94 deg, and what its sensor read.
fn table(folder: &Path, sensor: &Feedback<f64>, sign: f64) {
    let mut table = String::from("drive,measured,adc\n");
    for step in 0..60 {
        let drive = 10.0 + 2.5 * f64::from(step);
        let angle = (0.8 * (drive - 20.0)).min(94.0);
        let wobble = f64::from(step * 7 % 5 - 2) * 0.05;
        let reading = sensor.reading(angle).round();
        let _ = writeln!(table, "{drive},{},{reading}", sign * (angle + wobble));
    }
    fs::write(folder.join("readings.csv"), table).unwrap();
}

#[test]
fn the_sensor_is_fitted_with_the_joint_and_reads_what_the_protractor_read() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    for (load_ohm, is_straight) in [(1e8, true), (15e3, false)] {
        let sensor = sensor(load_ohm);
        table(dir, &sensor, 1.0);
        let _ = fs::remove_file(dir.join("heron.toml"));
        let into = words("fit readings.csv --feedback adc --adc-bits 10 --into heron.toml");
        let new = [&into[..], &["--joint", "neck", "--new"]].concat();
        let (text, _) = run(dir, &new, 0);
        let line = text
            .lines()
            .find(|line| line.trim_start().starts_with("feedback"))
            .unwrap();
        assert!(line.contains("readings ") && line.contains(" deg"), "{text}");
        assert_eq!(text.contains("straight, residual SD 0."), is_straight, "{text}");
        assert_eq!(text.contains("; straight: "), !is_straight, "{text}");
        let written = fs::read_to_string(dir.join("heron.toml")).unwrap();
        assert!(
            written.contains("adc_bits = 10") && written.contains("knots") != is_straight,
            "{written}"
        );
        // Over the travel, with 10 bits and a protractor of a tenth.
        for angle in [-5.0, 10.0, 40.0, 70.0, 90.0] {
            let reading = sensor.reading(angle).to_string();
            let told = json(
                dir,
                &["convert", "heron.toml", "neck", "--from", "reading", &reading],
                0,
            );
            let told = told["values"][0]["angle"].as_f64().unwrap();
            assert!((told - angle).abs() < 0.25, "{told} for {angle}");
        }
        // A joint that is there keeps its commands: 0 and 100 are taken for the angles that they have.
        let key = written.lines().find(|line| line.starts_with("command = ")).unwrap();
        let other = written
            .replace(key, "command = [0, 1]\n")
            .replace("unit = \"deg\"", "unit = \"fraction\"");
        let other = other
            .lines()
            .filter(|line| !line.starts_with("feedback"))
            .collect::<Vec<_>>()
            .join("\n");
        fs::write(dir.join("heron.toml"), other).unwrap();
        // Nothing says what a fraction stands for, so that the map cannot be compared.
        run(dir, &[&into[..], &["--joint", "neck"]].concat(), 1);
        run(dir, &[&into[..], &["--joint", "neck", "--keep"]].concat(), 0);
        for part in ["0", "0.5", "1"] {
            let drive = json(dir, &["convert", "heron.toml", "neck", part], 0);
            let drive = drive["values"][0]["drive"].as_f64().unwrap();
            let reading = sensor.reading(0.8 * (drive - 20.0)).to_string();
            let told = json(
                dir,
                &["convert", "heron.toml", "neck", "--from", "reading", &reading],
                0,
            );
            let told = told["values"][0]["command"].as_f64().unwrap();
            assert!((told - part.parse::<f64>().unwrap()).abs() < 0.004, "{told} for {part}");
        }
    }
}

#[test]
fn what_cannot_be_fitted_is_said_and_nothing_written() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    table(dir, &sensor(1e8), 1.0);
    let fit = ["fit", "readings.csv", "--feedback"];
    let refused = |more: &[&str]| run(dir, &[&fit[..], more].concat(), 2).1;
    assert!(refused(&["sensor"]).contains("sensor"), "a column that is not there");
    let unit = refused(&["adc", "--measured-unit", "rad"]);
    tells(&unit, "joint angles in deg, not rad");
    assert!(
        run(dir, &["fit", "readings.csv", "--adc-bits", "10"], 2)
            .1
            .contains("--feedback")
    );
    // A converter that never gave these readings, and one whose rail they reach.
    let (text, _) = run(dir, &[&fit[..], &["adc", "--adc-bits", "9"]].concat(), 0);
    tells_all(&text, &["warning: feedback.reading", "the range of 9 bits"]);
    let into = words("adc --adc-bits 9 --into heron.toml --joint neck --new");
    assert!(refused(&into).contains("the range of 9 bits"));
    assert!(!dir.join("heron.toml").exists());
    let stuck = fs::read_to_string(dir.join("readings.csv")).unwrap();
    let stuck: String = stuck
        .lines()
        .map(|line| {
            if line.starts_with("drive") {
                format!("{line}\n")
            } else {
                format!("{},500\n", line.rsplit_once(',').unwrap().0)
            }
        })
        .collect();
    fs::write(dir.join("readings.csv"), stuck).unwrap();
    let stuck = refused(&["adc"]);
    tells(
        &stuck,
        "--feedback adc: the sensor reads 500 to 500 while the joint goes from ",
    );

    // Commands that fall as the measured angle rises.
    table(dir, &sensor(1e8), 1.0);
    run(dir, &words("fit readings.csv --into heron.toml --joint neck --new"), 0);
    let text = fs::read_to_string(dir.join("heron.toml")).unwrap();
    table(dir, &sensor(1e8), -1.0);
    let falls = refused(&["adc", "--into", "heron.toml", "--joint", "neck", "--keep"]);
    tells(&falls, "a feedback map needs angles that rise with commands");
    assert_eq!(fs::read_to_string(dir.join("heron.toml")).unwrap(), text);
}

/// The converter's bits stand in the file: its rails are known without the option. And a map that is there is kept where that is asked.
#[test]
fn the_file_knows_the_converter_and_keeps_its_map() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    table(dir, &sensor(1e8), 1.0);
    let fit = words("fit readings.csv --feedback adc --into heron.toml --joint neck");
    run(dir, &[&fit[..], &["--new", "--adc-bits", "10"]].concat(), 0);
    let file = || fs::read_to_string(dir.join("heron.toml")).unwrap();
    let was = file();
    let sound = fs::read_to_string(dir.join("readings.csv")).unwrap();
    let mut rows: Vec<String> = sound.lines().map(ToOwned::to_owned).collect();
    rows[20] = format!("{},1023", rows[20].rsplit_once(',').unwrap().0);
    fs::write(dir.join("readings.csv"), rows.join("\n")).unwrap();
    let (_, err) = run(dir, &fit, 2);
    tells(
        &err,
        "readings.csv:21: --feedback adc: reading 1023 is at an end of the converter's range, 0 to 1023, and its neighbours are not",
    );
    assert_eq!(file(), was);

    // The sensor slipped.
    let slipped: Vec<String> = sound
        .lines()
        .map(|row| {
            let (head, reading) = row.rsplit_once(',').unwrap();
            let reading = reading
                .parse::<f64>()
                .map_or(reading.to_owned(), |reading| (reading - 40.0).to_string());
            format!("{head},{reading}")
        })
        .collect();
    fs::write(dir.join("readings.csv"), slipped.join("\n")).unwrap();
    let feedback = |text: String| {
        text.lines()
            .find(|line| line.starts_with("feedback"))
            .unwrap()
            .to_owned()
    };
    let (out, _) = run(dir, &[&fit[..], &["--keep"]].concat(), 0);
    tells(&out, "--keep leaves the feedback map in the file as it is");
    assert_eq!(feedback(file()), feedback(was.clone()));
    run(dir, &[&fit[..], &["--adopt"]].concat(), 0);
    assert_ne!(feedback(file()), feedback(was));
}

/// A sensor whose readings end at 700 counts.
#[test]
fn what_a_sensors_column_says_as_a_whole_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    table(dir, &sensor(1e8), 1.0);
    let sound = fs::read_to_string(dir.join("readings.csv")).unwrap();
    let changed = |of: &dyn Fn(usize, f64) -> f64| {
        let rows = sound.lines().enumerate().map(|(row, line)| {
            let (head, reading) = line.rsplit_once(',').unwrap();
            let reading = reading
                .parse::<f64>()
                .map_or(reading.to_owned(), |reading| of(row, reading).to_string());
            format!("{head},{reading}\n")
        });
        fs::write(dir.join("readings.csv"), rows.collect::<String>()).unwrap();
        json(dir, &words("fit readings.csv --feedback adc"), 0)
    };
    let of_sensor = |told: &serde_json::Value| -> Vec<String> {
        let warnings = told["warnings"].as_array().unwrap().iter();
        let warnings = warnings.map(|warning| warning.as_str().unwrap().to_owned());
        warnings.filter(|warning| warning.starts_with("--feedback: ")).collect()
    };
    let clipped = changed(&|_, reading| reading.min(700.0));
    let told = of_sensor(&clipped);
    assert!(
        told.len() == 1 && told[0].contains("stay near 700, where a change of "),
        "{told:?}"
    );
    let left_out = clipped["feedback"]["left_out"].as_array().unwrap();
    assert!(
        left_out.len() > 10 && left_out.iter().all(|index| index.as_u64() > Some(40)),
        "{left_out:?}"
    );
    assert!(of_sensor(&changed(&|_, reading| reading)).is_empty());
}
