//! What a calibration leaves behind: its readings kept, drawn and fitted again, and the calibrations before it.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod common;

use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use common::{json, run, sweep, tells, tells_all, words};

const TAKEN: [&str; 8] = [
    "--by",
    "A. <Heron>",
    "--instrument",
    "inclinometer, 0.1 deg",
    "--supply-v",
    "6.0",
    "--temperature-c",
    "21.5",
];

/// Invented: one joint, calibrated twice, its drive 15 deg on in the second table.
fn calibrated(dir: &Path) {
    fs::create_dir(dir.join("readings")).unwrap();
    fs::write(dir.join("readings/first.csv"), sweep(0.0)).unwrap();
    fs::write(dir.join("readings/second.csv"), sweep(15.0)).unwrap();
    for (table, date, more) in [("first", "2025-11-20", "--new"), ("second", "2026-11-20", "--adopt")] {
        let table = format!("readings/{table}.csv");
        let mut words = vec![
            "fit",
            &table,
            "--into",
            "heron.toml",
            "--joint",
            "neck",
            "--date",
            date,
            more,
        ];
        words.extend(TAKEN);
        run(dir, &words, 0);
        if more == "--new" {
            fs::copy(dir.join("heron.toml"), dir.join("before.toml")).unwrap();
        }
    }
}

#[test]
fn readings_are_named_drawn_and_fitted_again() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    calibrated(dir);
    let text = fs::read_to_string(dir.join("heron.toml")).unwrap();
    let hash = elbowroom::robot::sha256(sweep(15.0).as_bytes());
    assert!(
        text.contains("file = \"readings/second.csv\"") && text.contains(&hash),
        "{text}"
    );
    tells_all(&text, &["2025-11-20 = { ", "readings/first.csv"]);

    let shown = json(dir, &["show", "heron.toml", "neck"], 0);
    let joint = &shown["joints"][0];
    assert_eq!(joint["evidence"]["source"]["state"], "unchanged");
    assert_eq!(joint["history"].as_array().unwrap().len(), 1);
    assert_eq!(
        (&joint["evidence"]["by"], &joint["evidence"]["supply_v"]),
        (&"A. <Heron>".into(), &6.0.into())
    );
    run(
        dir,
        &words("show heron.toml neck --plot-readings r.svg --plot-history h.svg"),
        0,
    );
    // Drawn again they are what the fit drew.
    run(
        dir,
        &["fit", "readings/second.csv", "--joint", "neck", "--plot", "fit.svg"],
        0,
    );
    let read = |file: &str| fs::read_to_string(dir.join(file)).unwrap();
    assert_eq!(read("r.svg"), read("fit.svg"));
    let history = read("h.svg");
    assert!(history.contains("2 calibrations from 2025-11-20 to 2026-11-20."));
    assert!(history.contains(">2025-11-20</text>") && history.contains(">2026-11-20</text>"));

    run(
        dir,
        &["report", "heron.toml", "-o", "heron.html", "--as-of", "2026-11-25"],
        1,
    );
    let page = read("heron.html");
    for part in [
        "A. &#60;Heron&#62;",
        "inclinometer, 0.1 deg",
        "6 V",
        "21.5 \u{b0}C",
        "degrees of freedom",
        "from below",
        "readings/second.csv, unchanged",
        ", assumed",
        "guard margin 2",
        "half the lost motion",
        "offset: a command needs",
        "Readings and limits of neck",
        "Calibrations of neck",
        "Measured by",
        // The title's room is left out: the page names its pictures.
        "viewBox=\"0 32 720 ",
    ] {
        assert!(page.contains(part), "{part}");
    }
    assert!(page.find("Cautions") < page.find("Summary"));

    // Two files, each with readings of its own.
    let (out, _) = run(dir, &["compare", "before.toml", "heron.toml"], 1);
    tells_all(&out, &["readings of neck, fitted again", "1 tooth of 24"]);
    let object = json(dir, &["compare", "before.toml", "heron.toml"], 1);
    assert_eq!(object["refitted"][0]["joint"], "neck");
    let object = json(dir, &["compare", "heron.toml", "heron.toml"], 0);
    assert_eq!(object["refitted"], serde_json::json!([]));
}

#[test]
fn readings_that_changed_after_the_fit_are_found() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    calibrated(dir);
    let of_source = |dir: &Path| {
        let (out, _) = run(dir, &["check", "heron.toml", "--as-of", "2026-11-25"], 1);
        let mut words: Vec<String> = Vec::new();
        for word in ["source-changed", "source-missing"] {
            if out.contains(word) {
                words.push(word.to_owned());
            }
        }
        words
    };
    assert!(of_source(dir).is_empty());
    // One digit.
    let table = sweep(15.0);
    fs::write(dir.join("readings/second.csv"), table.replacen('1', "2", 1)).unwrap();
    assert_eq!(of_source(dir), ["source-changed"]);
    let (_, err) = run(dir, &["show", "heron.toml", "neck", "--plot-readings", "r.svg"], 2);
    tells(&err, "has changed since it was fitted");
    run(
        dir,
        &["report", "heron.toml", "-o", "heron.html", "--as-of", "2026-11-25"],
        1,
    );
    let page = fs::read_to_string(dir.join("heron.html")).unwrap();
    assert!(page.contains("has changed since it was fitted") && !page.contains("Readings and limits of neck"));
    fs::remove_file(dir.join("readings/first.csv")).unwrap();
    assert_eq!(of_source(dir), ["source-changed", "source-missing"]);
}

#[test]
fn a_hundred_calibrations_stay_readable_and_the_report_small() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    calibrated(dir);
    let mut text = fs::read_to_string(dir.join("heron.toml")).unwrap();
    let line = text
        .lines()
        .find(|line| line.starts_with("2025-11-20 = "))
        .unwrap()
        .to_owned();
    let mut more = String::new();
    for i in 0..99u32 {
        let _ = writeln!(
            more,
            "{}",
            line.replacen("2025-11-20", &format!("{}-{:02}-07", 2010 + i / 12, i % 12 + 1), 1)
        );
    }
    text = text.replacen(&line, &format!("{more}{line}"), 1);
    fs::write(dir.join("heron.toml"), &text).unwrap();
    let shown = json(dir, &["show", "heron.toml", "neck"], 0);
    assert_eq!(shown["joints"][0]["history"].as_array().unwrap().len(), 100);
    assert!(text.lines().count() < 140);
    run(
        dir,
        &["report", "heron.toml", "-o", "heron.html", "--as-of", "2026-11-25"],
        1,
    );
    let page = fs::read_to_string(dir.join("heron.html")).unwrap();
    assert!(page.contains("101 calibrations from 2010-01-07 to 2026-11-20."));
    assert!(page.len() < 2_000_000, "{}", page.len());
}

/// The servo line changes after the joint was calibrated: tables of degrees stay as they are, and are read in degrees of their own line.
#[test]
fn readings_are_read_in_degrees_of_their_own_servo_line() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    calibrated(dir);
    let read = |file: &str| fs::read_to_string(dir.join(file)).unwrap();
    run(dir, &words("edit heron.toml set servo.angle=0,200"), 0);
    let line = "servo = { angle = [0, 180], pulse_us = [500, 2500] }";
    assert_eq!(read("heron.toml").matches(line).count(), 2, "{}", read("heron.toml"));
    let shown = json(dir, &["show", "heron.toml", "neck"], 0);
    let of_source = serde_json::json!({ "angle": [0.0, 180.0], "pulse_us": [500.0, 2500.0] });
    assert_eq!(shown["joints"][0]["evidence"]["source"]["servo"], of_source);
    let (out, _) = run(dir, &["show", "heron.toml", "neck"], 0);
    tells(
        &out,
        "drive column in degrees of a servo of 0 to 180 deg on 500 to 2500 us",
    );

    // Drawn as a table is that was taken under the new line.
    let converted: Vec<String> = sweep(15.0)
        .lines()
        .map(|row| {
            let (drive, rest) = row.split_once(',').unwrap();
            let drive = drive.parse::<f64>().map(|deg| (deg / 0.9).to_string());
            format!("{},{rest}", drive.unwrap_or("drive".to_owned()))
        })
        .collect();
    fs::write(dir.join("wide.csv"), converted.join("\n")).unwrap();
    run(dir, &words("show heron.toml neck --plot-readings r.svg"), 0);
    run(
        dir,
        &words("fit wide.csv --joint neck --servo-angle 0,200 --guard 2.2222 --plot fit.svg"),
        0,
    );
    assert_eq!(read("r.svg"), read("fit.svg"));

    // Compared with the record from before the change, and with the earlier calibration: 15 deg of the old line, no other scale.
    let object = json(dir, &["compare", "before.toml", "heron.toml"], 1);
    let told = object["refitted"][0]["diagnoses"].to_string();
    tells(&told, "offset: a command needs 16.667 deg");
    assert!(!told.contains("slope"), "{told}");
    run(
        dir,
        &["report", "heron.toml", "-o", "heron.html", "--as-of", "2026-11-25"],
        1,
    );
    tells_all(
        &read("heron.html"),
        &[
            "offset: a command needs 16.667 deg",
            "degrees of a servo of 0 to 180 deg on 500 to 2500 us",
        ],
    );

    // Fitted again into the joint it agrees, and the line stays with it; a line that is given is that of the table.
    let again = words("fit readings/second.csv --into heron.toml --joint neck --date 2026-11-20");
    let object = json(dir, &again, 0);
    assert_eq!(object["repair"]["decision"], "agrees", "{object}");
    assert_eq!(object["drive_column_servo"], of_source);
    assert_eq!(read("heron.toml").matches(line).count(), 2, "{}", read("heron.toml"));
    let (out, _) = run(dir, &again, 0);
    tells(&out, "degrees of a servo of 0 to 180 deg on 500 to 2500 us");
    let given = [&again[..], &["--servo-angle", "0,200"]].concat();
    tells(&run(dir, &given, 1).0, "--adopt");
    // Back again nothing needs to say it: the file's own line is left.
    run(dir, &words("edit heron.toml set servo.angle=0,180"), 0);
    assert_eq!(read("heron.toml").matches(line).count(), 1, "{}", read("heron.toml"));
}

/// Every date at which the joint was calibrated, by the file.
fn calibrated_on(file: &Path) -> Vec<String> {
    let robot = elbowroom::robot::Robot::load(file).unwrap();
    let entry = robot.joint("neck").unwrap();
    let all = entry.history().iter().chain([entry.evidence()]);
    all.map(|evidence| {
        let source = evidence.source.as_ref().unwrap();
        assert_eq!(source.sha256.len(), 64);
        evidence.date.unwrap().to_string()
    })
    .collect()
}

#[test]
fn a_kill_while_a_calibration_is_written_loses_none() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    calibrated(dir);
    let file = dir.join("heron.toml");
    let kills: u32 = std::env::var("KILLS")
        .ok()
        .and_then(|text| text.parse().ok())
        .unwrap_or(12);
    let table = |number: u32| format!("readings/{number}.csv");
    let start = |number: u32| {
        // Another table each time: the same readings fitted again are no later calibration.
        fs::write(dir.join(table(number)), sweep(15.0 + 0.001 * f64::from(number))).unwrap();
        let date = format!("{}-{:02}-01", 2030 + number / 12, number % 12 + 1);
        std::process::Command::new(env!("CARGO_BIN_EXE_elbowroom"))
            .args([
                "fit",
                &table(number),
                "--into",
                "heron.toml",
                "--joint",
                "neck",
                "--adopt",
                "--date",
                &date,
            ])
            .current_dir(dir)
            .stdout(std::process::Stdio::null())
            .stderr(std::process::Stdio::null())
            .spawn()
            .unwrap()
    };
    let begin = std::time::Instant::now();
    assert!(start(0).wait().unwrap().success());
    let most = u64::try_from(begin.elapsed().as_micros()).unwrap().max(1);
    let (mut known, mut state, mut met) = (calibrated_on(&file), 5u64, 0);
    for number in 1..=kills {
        let mut child = start(number);
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        std::thread::sleep(std::time::Duration::from_micros((state >> 33) % most));
        let _ = child.kill();
        met += u32::from(child.wait().unwrap().code().is_none());
        let now = calibrated_on(&file);
        assert!(
            now.len() - known.len() < 2 && now.starts_with(&known),
            "{known:?} became {now:?}"
        );
        known = now;
    }
    assert!(met > 0, "no run was killed");
    println!(
        "{met} of {kills} runs killed before their end, {} calibrations kept",
        known.len()
    );
}

/// Least height of a letter of a picture that is drawn at half its size, CSS pixels: 6 pt, about the smallest print (common practice,
/// no source).
const LEAST_AT_HALF_SIZE: f64 = 8.0;

/// A text of a picture with the room it takes, about: left, top, right, bottom.
fn texts(svg: &str) -> Vec<(String, [f64; 4])> {
    let document = roxmltree::Document::parse(svg).unwrap();
    let number = |node: &roxmltree::Node<'_, '_>, name: &str| node.attribute(name).unwrap().parse::<f64>().unwrap();
    let picture = document.root_element();
    let (width, height) = (number(&picture, "width"), number(&picture, "height"));
    // In a page a picture begins below the room of its title.
    let view = picture.attribute("viewBox").unwrap().split(' ').nth(1).unwrap();
    let start: f64 = view.parse().unwrap();
    let all = document.descendants().filter(|node| node.has_tag_name("text"));
    let placed = all.map(|node| {
        let text = node.text().unwrap_or_default().to_owned();
        let class = node.attribute("class").unwrap_or_default();
        let size = match class {
            "title" => size_of(svg, ".title{"),
            "small" | "small over" => size_of(svg, ".small{"),
            _ => size_of(svg, "text{"),
        };
        assert!(0.5 * size >= LEAST_AT_HALF_SIZE, "{text:?} is {size} high");
        // Mean width of a letter of DejaVu Serif, which is wider than Georgia.
        let wide = 0.58 * size * text.chars().count() as f64;
        let place = if let Some(turned) = node.attribute("transform") {
            let at: Vec<f64> = turned
                .trim_start_matches("translate(")
                .split([' ', ')'])
                .filter_map(|part| part.parse().ok())
                .collect();
            [
                at[0] - 0.75 * size,
                at[1] - 0.5 * wide,
                at[0] + 0.2 * size,
                at[1] + 0.5 * wide,
            ]
        } else {
            let (x, y) = (number(&node, "x"), number(&node, "y"));
            let left = match node.attribute("text-anchor").unwrap() {
                "start" => x,
                "middle" => x - 0.5 * wide,
                _ => x - wide,
            };
            [left, y - 0.75 * size, left + wide, y + 0.2 * size]
        };
        let [left, top, right, bottom] = place;
        assert!(
            left > -1.0 && top > start - 1.0 && right < width + 1.0 && bottom < start + height + 1.0,
            "{text:?} leaves the picture of {width} x {height}: {place:?}"
        );
        (text, place)
    });
    placed.collect()
}

/// The size of letters that a picture's style gives.
fn size_of(svg: &str, rule: &str) -> f64 {
    let style = svg.split_once(rule).unwrap().1.split_once('}').unwrap().0;
    let size = style.split_once("font-size:").unwrap().1;
    size.split_once("px").unwrap().0.parse().unwrap()
}

#[test]
fn texts_of_pictures_are_legible_at_half_size_and_keep_apart() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    calibrated(dir);
    fs::write(dir.join("hip.toml"), include_str!("common/hip.toml")).unwrap();
    let elevons = include_str!("../../../tests/data/measured/elevon_deflection.csv");
    fs::write(dir.join("elevons.csv"), elevons).unwrap();
    // Both ends stalled; invented.
    let stalled = "drive,measured\n50,-31\n60,-30\n70,-20\n80,-10\n90,0\n100,9\n110,20\n120,30\n130,32\n";
    fs::write(dir.join("stalled.csv"), stalled).unwrap();
    let elevon = "fit elevons.csv --where aircraft=1 --where side=left --drive command_us --drive-unit us --measured deflection_deg --plot elevon.svg";
    let elevon: Vec<&str> = elevon.split(' ').collect();
    for (words, status) in [
        (
            &["fit", "readings/second.csv", "--joint", "neck", "--plot", "fit.svg"][..],
            0,
        ),
        (&["fit", "stalled.csv", "--plot", "stalled.svg"], 0),
        (&elevon, 0),
        (
            &[
                "show",
                "heron.toml",
                "neck",
                "--plot",
                "chain.svg",
                "--plot-history",
                "history.svg",
            ],
            0,
        ),
        (&["show", "hip.toml", "hip", "--plot", "hip.svg"], 0),
        (&["show", "hip.toml", "jaw", "--plot", "jaw.svg"], 0),
        (
            &[
                "compare",
                "readings/first.csv",
                "readings/second.csv",
                "--plot",
                "compare.svg",
            ],
            1,
        ),
        (
            &["report", "heron.toml", "-o", "heron.html", "--as-of", "2026-11-25"],
            1,
        ),
    ] {
        run(dir, words, status);
    }
    let mut pictures: Vec<(String, String)> = ["fit", "stalled", "elevon", "chain", "history", "hip", "jaw", "compare"]
        .map(|name| {
            (
                name.to_owned(),
                fs::read_to_string(dir.join(format!("{name}.svg"))).unwrap(),
            )
        })
        .into();
    let page = fs::read_to_string(dir.join("heron.html")).unwrap();
    let style = page.split_once("<style>").unwrap().1.split_once("</style>").unwrap().0;
    for svg in page.split("<svg xmlns").skip(1) {
        let svg = svg.split_inclusive("</svg>").next().unwrap();
        let name = svg.split_once("<title id=\"").unwrap().1.split_once('"').unwrap().0;
        // Its style is that of the page.
        let svg = format!(
            "<svg xmlns{}",
            svg.replacen("<desc", &format!("<style>{style}</style><desc"), 1)
        );
        pictures.push((name.to_owned(), svg));
    }
    assert_eq!(
        pictures.len(),
        8 + 3,
        "in the report overview, readings and calibrations"
    );
    for (name, svg) in pictures {
        let texts = texts(&svg);
        for (index, (one, [left, top, right, bottom])) in texts.iter().enumerate() {
            for (other, place) in &texts[index + 1..] {
                let apart = *right <= place[0] || *left >= place[2] || *bottom <= place[1] || *top >= place[3];
                assert!(apart, "{name}: {one:?} and {other:?} lie on one another");
            }
        }
    }
}

#[test]
fn a_comparison_is_drawn() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    calibrated(dir);
    let tables = words("compare readings/first.csv readings/second.csv --plot changes.svg");
    let (out, _) = run(dir, &tables, 1);
    tells(&out, "picture: changes.svg");
    let drawn = fs::read_to_string(dir.join("changes.svg")).unwrap();
    let object = json(dir, &tables[..3], 1);
    let changes = object["comparison"]["changes"].as_array().unwrap();
    let count = |class: &str| drawn.matches(&format!("class=\"{class}\"")).count();
    let differing = changes.iter().filter(|change| !change["difference"].is_null()).count();
    let changed = changes.iter().filter(|change| change["verdict"] == "changed").count();
    // Each once, and once in the legend.
    assert!(changed > 0 && count("dot") == changed + 1, "{drawn}");
    assert_eq!(count("ring"), differing - changed + usize::from(differing > changed));
    assert!(
        drawn.contains("offset, drive deg") && drawn.contains(">changed</text>") && drawn.contains("1 tooth of 24")
    );
    // Of two robot files the readings behind one joint's evidence, fitted again: the same picture.
    let files = words("compare before.toml heron.toml --joint neck --plot files.svg");
    run(dir, &files, 1);
    let files = fs::read_to_string(dir.join("files.svg")).unwrap();
    assert_eq!(files.replace("neck", "first.csv to second.csv"), drawn);
    let same = ["compare", "heron.toml", "heron.toml", "--plot", "same.svg"];
    let (_, err) = run(dir, &same, 2);
    tells(&err, "there are 0 with readings in both files");
}

#[test]
fn the_points_of_a_feedback_map_stand_in_the_report() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    // Invented: 0.8 deg of joint per deg of drive, a stop at 94 deg, a sensor of 7.5 counts per deg, a wobble of 1 count.
    let mut table = String::from("drive,measured,adc\n");
    for step in 0..60u32 {
        let drive = 10.0 + 2.5 * f64::from(step);
        let angle = (0.8 * (drive - 20.0)).min(94.0);
        let wobble = f64::from(step * 7 % 5) - 2.0;
        let _ = writeln!(
            table,
            "{drive},{},{}",
            angle + 0.05 * wobble,
            (135.0 + 7.5 * angle + 0.5 * wobble).round()
        );
    }
    fs::write(dir.join("readings.csv"), table).unwrap();
    let fit = "fit readings.csv --feedback adc --adc-bits 10 --into heron.toml --joint neck --new --date 2026-11-20";
    run(dir, &fit.split(' ').collect::<Vec<_>>(), 0);
    run(
        dir,
        &["report", "heron.toml", "-o", "heron.html", "--as-of", "2026-11-25"],
        1,
    );
    let page = fs::read_to_string(dir.join("heron.html")).unwrap();
    let chain = page
        .split("<title id=\"chain-0-t\"")
        .nth(1)
        .unwrap()
        .split("</svg>")
        .next()
        .unwrap();
    let document = format!("<svg><title id=\"chain-0-t\"{chain}</svg>");
    let document = roxmltree::Document::parse(&document).unwrap();
    let points = document
        .descendants()
        .filter(|node| node.has_tag_name("circle") && node.attribute("class") == Some("sensed"));
    let points: Vec<(f64, f64)> = points
        .map(|node| {
            (
                node.attribute("cx").unwrap().parse().unwrap(),
                node.attribute("cy").unwrap().parse().unwrap(),
            )
        })
        .collect();
    // Those within the commands, each once more in the strip of residuals below; the last one stands in the legend.
    let drawn = points.len() / 2;
    assert!(points.len() == 2 * drawn + 1 && drawn > 40, "{}", points.len());
    assert!(chain.contains(">residual, deg</text>"));
    assert!(chain.contains(">reading of the sensor</text>"));
    // They lie about the map's line, which is drawn as the last of the lines.
    let mut line = document
        .descendants()
        .filter(|node| node.attribute("class") == Some("model") && node.has_tag_name("polyline"));
    let line: Vec<(f64, f64)> = line
        .next_back()
        .unwrap()
        .attribute("points")
        .unwrap()
        .split_whitespace()
        .map(|pair| pair.split_once(',').unwrap())
        .map(|(x, y)| (x.parse().unwrap(), y.parse().unwrap()))
        .collect();
    for (x, y) in &points[..drawn] {
        let nearest = line
            .iter()
            .min_by(|a, b| (a.0 - x).abs().total_cmp(&(b.0 - x).abs()))
            .unwrap();
        assert!((nearest.1 - y).abs() < 4.0, "{x} {y}: {nearest:?}");
    }
    // And what the map leaves of them, in words.
    let row = page
        .split("feedback map</th><td>")
        .nth(1)
        .unwrap()
        .split('<')
        .next()
        .unwrap();
    assert!(row.starts_with("60 points, 2 knots, residual SD 0."), "{row}");
}
