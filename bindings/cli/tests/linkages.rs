//! Linkages from readings into a robot file, through the shell tool.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may panic")]

mod common;

use common::{folder, json, run, tells, tells_all, words};
use elbowroom::linkage::{Branch, FourBar, Mechanism, SliderCrank, Spool, Triangle};
use std::fmt::Write as _;
use std::fs;
use std::path::Path;

/// Invented mechanisms, what a ruler says of them, and the joint's range.
fn cases() -> [(Mechanism, &'static str, [f64; 2]); 4] {
    [
        (
            Mechanism::Triangle(Triangle {
                base: 40.0,
                arm: 92.0,
                angle_at_zero: 31.0,
            }),
            "triangle:base=40,arm~85,angle_at_zero~27",
            [0.0, 95.0],
        ),
        (
            Mechanism::SliderCrank(SliderCrank {
                crank: 20.0,
                rod: 45.0,
                offset: 2.0,
                slide_at_zero: 40.0,
                branch: Branch::Right,
            }),
            "slider-crank:crank=20,rod~47,offset=2,slide_at_zero~41,branch=right",
            [0.0, 20.0],
        ),
        (
            Mechanism::FourBar(FourBar {
                crank: 20.0,
                coupler: 60.0,
                rocker: 18.0,
                ground: 62.0,
                rocker_at_zero: 50.0,
                branch: Branch::Left,
            }),
            "four-bar:crank~21,coupler=60,rocker=18,ground=62,rocker_at_zero~53,branch=left",
            [0.0, 80.0],
        ),
        (
            Mechanism::Spool(Spool {
                drum: 8.0,
                per_turn: 1.5,
                pulley: 20.0,
            }),
            "spool:drum=8,per_turn~1,pulley=20",
            [0.0, 180.0],
        ),
    ]
}

/// Readings of a mechanism whose servo goes from 10 to 150 deg, or back, with an invented scatter of 1/3000 of the range.
fn readings(folder: &Path, mechanism: &Mechanism, [a, b]: [f64; 2], turned: bool) -> impl Fn(f64) -> f64 {
    let [from, to] = [a, b].map(|angle| mechanism.moved(angle));
    let mechanism = *mechanism;
    let told = move |angle| {
        let drive = 10.0 + 140.0 * (mechanism.moved(angle) - from) / (to - from);
        if turned { 160.0 - drive } else { drive }
    };
    let mut table = String::from("drive,measured\n");
    for i in 0..40 {
        let angle = a + (b - a) * f64::from(i) / 39.0;
        let scatter = (b - a) / 3000.0 * f64::from(i * 7 % 5 - 2);
        let _ = writeln!(table, "{},{}", told(angle), angle + scatter);
    }
    fs::write(folder.join("links.csv"), table).unwrap();
    told
}

#[test]
fn a_new_joint_gets_the_linkage_that_explains_its_readings() {
    for (mechanism, ruler, range) in cases() {
        for turned in [false, true] {
            let folder = folder();
            let dir = folder.path();
            let told = readings(dir, &mechanism, range, turned);
            let kind = mechanism.kind();
            let unit = if kind == "slider-crank" { "mm" } else { "deg" };
            let fit = words("fit links.csv --plot links.svg --measured-unit");
            let fit = [&fit[..], &[unit, "--linkage", ruler]].concat();
            let new = [&fit[..], &["--into", "links.toml", "--joint", "neck", "--new"]].concat();
            let (text, _) = run(dir, &new, 0);
            for said in [
                &format!("transmission {kind}, residual SD ")[..],
                "as given",
                ", standard uncertainty ",
                "parameters instead of a curve",
            ] {
                tells(&text, said);
            }
            assert!(
                fs::read_to_string(dir.join("links.svg"))
                    .unwrap()
                    .contains(&format!("The model is a {kind}."))
            );
            let written = fs::read_to_string(dir.join("links.toml")).unwrap();
            tells(&written, &format!("kind = \"{kind}\""));
            assert_eq!(written.contains("inverted = true"), turned, "{written}");

            // The same angles again, from the file, over the whole range that was read: within what the scatter leaves.
            let [a, b] = range;
            for i in 1..20 {
                let angle = a + (b - a) * f64::from(i) / 20.0;
                let drive = format!("{}", told(angle));
                let back = json(dir, &["convert", "links.toml", "neck", "--from", "drive", &drive], 0);
                let command = back["values"][0]["command"].as_f64().unwrap();
                assert!(
                    (command - angle).abs() < (b - a) / 1500.0,
                    "{kind} at {angle}: {command}"
                );
            }

            // What is told in numbers: kept dimensions without an uncertainty, found ones near the truth.
            let object = json(dir, &fit, 0);
            let linkage = &object["transmission"]["linkage"];
            assert_eq!(object["transmission"]["taken"], kind);
            for dimension in linkage["dimensions"].as_array().unwrap() {
                let name = dimension["name"].as_str().unwrap();
                let (value, truth) = (dimension["value"].as_f64().unwrap(), mechanism.dimension(name).unwrap());
                assert_eq!(
                    dimension["u"].is_null(),
                    ruler.contains(&format!("{name}=")),
                    "{dimension}"
                );
                let u = dimension["u"].as_f64().unwrap_or(0.0);
                assert!((value - truth).abs() <= 3.0 * u, "{kind}: {dimension} for {truth}");
            }
            assert_eq!(linkage["gain"]["value"].as_f64().unwrap() < 0.0, turned);

            // The joint keeps it, and it is tried again as it is there, without being told of it.
            let again = [
                "fit",
                "links.csv",
                "--measured-unit",
                unit,
                "--into",
                "links.toml",
                "--joint",
                "neck",
            ];
            let (text, _) = run(dir, &again, 0);
            tells(&text, "as in the file; the readings agree with it");
            assert_eq!(fs::read_to_string(dir.join("links.toml")).unwrap(), written);
        }
    }
}

#[test]
fn a_joint_that_is_there_is_given_a_linkage_only_if_told() {
    let folder = folder();
    let dir = folder.path();
    let (mechanism, ruler, range) = cases()[0];
    let told = readings(dir, &mechanism, range, false);
    let into = ["fit", "links.csv", "--into", "links.toml", "--joint", "neck"];
    run(dir, &[&into[..], &["--new"]].concat(), 0);
    let as_curve = fs::read_to_string(dir.join("links.toml")).unwrap();
    tells(&as_curve, "kind = \"curve\"");

    let with = [&into[..], &["--linkage", ruler]].concat();
    let (text, _) = run(dir, &with, 0);
    tells(
        &text,
        "as in the file; triangle fits the readings better, see --transmission",
    );
    let insisted = [&with[..], &["--transmission", "linkage"]].concat();
    let (text, _) = run(dir, &insisted, 0);
    tells(&text, "as given; the readings agree with it");
    let written = fs::read_to_string(dir.join("links.toml")).unwrap();
    assert!(
        written.contains("kind = \"triangle\"") && !written.contains("knots"),
        "{written}"
    );
    let back = json(
        dir,
        &[
            "convert",
            "links.toml",
            "neck",
            "--from",
            "drive",
            &told(50.0).to_string(),
        ],
        0,
    );
    assert!((back["values"][0]["command"].as_f64().unwrap() - 50.0).abs() < 0.07);

    // Its own, as it is there, needs no ruler; and a curve may take its place again.
    run(dir, &[&into[..], &["--transmission", "linkage"]].concat(), 0);
    let (text, _) = run(dir, &[&into[..], &["--transmission", "curve"]].concat(), 0);
    tells(&text, "as given; triangle fits the readings better");
    assert!(
        fs::read_to_string(dir.join("links.toml"))
            .unwrap()
            .contains("kind = \"curve\"")
    );
}

#[test]
fn commands_that_a_linkage_cannot_serve_are_cut_to_those_that_it_can() {
    let folder = folder();
    let dir = folder.path();
    let (mechanism, ruler, range) = cases()[0];
    let _ = readings(dir, &mechanism, range, false);
    let into = ["fit", "links.csv", "--into", "links.toml", "--joint", "neck"];
    run(dir, &[&into[..], &["--new", "--transmission", "linear"]].concat(), 0);
    let linkage = ["--linkage", ruler, "--transmission", "linkage"];
    let with = [&into[..], &linkage].concat();
    let text = fs::read_to_string(dir.join("links.toml")).unwrap();
    let key = text.lines().find(|line| line.starts_with("command = ")).unwrap();
    let before = text.replace(key, "command = [0, 170]");
    fs::write(dir.join("links.toml"), &before).unwrap();
    let (out, _) = run(dir, &with, 1);
    tells(&out, "nothing was written");
    assert_eq!(fs::read_to_string(dir.join("links.toml")).unwrap(), before);
    let (out, _) = run(dir, &[&with[..], &["--adopt"]].concat(), 0);
    tells_all(&out, &["command      0 to 95.01", "(was 0 to 170)"]);
    // Commands that it can serve stay as they are.
    fs::write(dir.join("links.toml"), text.replace(key, "command = [0, 80]")).unwrap();
    run(dir, &[&with[..], &["--adopt"]].concat(), 0);
    let text = fs::read_to_string(dir.join("links.toml")).unwrap();
    tells_all(&text, &["command = [0, 80]", "triangle"]);
}

#[test]
fn a_linkage_that_cannot_be_is_refused_with_the_reason() {
    let folder = folder();
    let dir = folder.path();
    let (mechanism, ruler, range) = cases()[0];
    let _ = readings(dir, &mechanism, range, false);
    let refused = |more: &[&str]| run(dir, &[&["fit", "links.csv"], more].concat(), 2).1;
    let into = ["--into", "links.toml", "--joint", "neck", "--new"];
    let none = refused(&[&into[..], &["--transmission", "linkage"]].concat());
    tells(&none, "the joint has none in the file; say which with --linkage");
    let unit = refused(&["--linkage", ruler, "--measured-unit", "rad"]);
    tells(&unit, "triangle is fitted to angles in deg, not rad");
    let slide = "slider-crank:crank=20,rod~47,offset=2,slide_at_zero~41,branch=right";
    let unit = refused(&["--linkage", slide]);
    tells(
        &unit,
        "slider-crank is fitted to places of a slide, not to deg; name the unit of its lengths, as in --measured-unit mm",
    );
    let word = refused(&["--linkage", "triangle:base=40"]);
    tells(&word, "a triangle needs arm too; give all of base, arm, angle_at_zero");
    let open = words("--linkage triangle:base~40,arm~90,angle_at_zero~30 --transmission linkage");
    let open = refused(&[&into[..], &open].concat());
    tells(&open, "the readings do not determine");
    assert!(!dir.join("links.toml").exists(), "nothing was written");
    // Without insisting it is a reason beside others.
    let (text, _) = run(
        dir,
        &words("fit links.csv --linkage triangle:base~40,arm~90,angle_at_zero~30"),
        0,
    );
    tells(&text, "triangle was not fitted: the readings do not determine");
}

/// Invented: a crank near its dead centre levels the slide as a stop does.
#[test]
fn a_stop_that_may_be_a_dead_centre_is_told() {
    let folder = folder();
    let dir = folder.path();
    let truth = Mechanism::SliderCrank(SliderCrank {
        crank: 20.0,
        rod: 45.0,
        offset: 2.0,
        slide_at_zero: 0.0,
        branch: Branch::Right,
    });
    for (stop, says) in [(f64::MAX, true), (60.0, false)] {
        let mut table = String::from("drive,measured\n");
        for i in 0..80 {
            let slide = truth.command_near(5.0 + 2.0 * f64::from(i), 40.0).min(stop);
            let _ = writeln!(table, "{},{}", 10 + 2 * i, slide + 0.05 * f64::from(i * 7 % 5 - 2));
        }
        fs::write(dir.join("crank.csv"), table).unwrap();
        let ruler = "slider-crank:crank=20,rod=45,offset=2,slide_at_zero~0.5,branch=right";
        let (text, _) = run(
            dir,
            &["fit", "crank.csv", "--measured-unit", "mm", "--linkage", ruler],
            0,
        );
        assert_eq!(text.contains("lower end    stop found"), !says, "{text}");
        let level = "a stop hidden by a bend, or a dead centre";
        assert_eq!(text.contains(level), says, "{text}");
    }
}

/// Invented: a bent joint read upward and downward, half a degree apart. The approach column goes on to the transmission.
#[test]
fn lost_motion_does_not_count_as_scatter() {
    let folder = folder();
    let dir = folder.path();
    let mut table = String::from("drive,measured,approach\n");
    for i in 0..40 {
        let (drive, side, half) = if i < 20 {
            (20.0 + 5.0 * f64::from(i), "below", -0.25)
        } else {
            (20.0 + 5.0 * f64::from(39 - i), "above", 0.25)
        };
        let wobble = 0.03 * f64::from(i * 7 % 5 - 2);
        let bent = 0.3 * drive + 0.002 * drive * drive;
        let _ = writeln!(table, "{drive},{},{side}", bent + half + wobble);
    }
    fs::write(dir.join("both.csv"), table).unwrap();
    let (text, _) = run(dir, &["fit", "both.csv"], 0);
    assert!(
        text.contains("lost motion 0.4") || text.contains("lost motion 0.5"),
        "{text}"
    );
    tells(&text, "not part of the residual SD");
    let transmission = &json(dir, &["fit", "both.csv"], 0)["transmission"];
    assert_eq!(transmission["taken"], "curve");
    assert!(
        (transmission["lost_motion"]["value"].as_f64().unwrap() - 0.5).abs() < 0.05,
        "{transmission}"
    );
    let sd = transmission["candidates"][1]["residual_sd"].as_f64().unwrap();
    assert!(sd < 0.06, "{sd}");
}

/// Invented: a slider-crank slightly out of line, of which the readings do not show on which side its pin lies.
#[test]
fn a_branch_that_fits_as_well_is_told() {
    let folder = folder();
    let dir = folder.path();
    let truth = Mechanism::SliderCrank(SliderCrank {
        crank: 20.0,
        rod: 45.0,
        offset: 2.0,
        slide_at_zero: 0.0,
        branch: Branch::Right,
    });
    let mut table = String::from("drive,measured\n");
    for i in 0..40 {
        let crank = 20.0 + 2.2 * f64::from(i);
        let wobble = 0.1 * f64::from(i * 7 % 5 - 2);
        let _ = writeln!(table, "{crank},{}", truth.command_near(crank, 40.0) + wobble);
    }
    fs::write(dir.join("neck.csv"), table).unwrap();
    for side in ["left", "right"] {
        let ruler = format!("slider-crank:crank=20,rod~44,offset=2,slide_at_zero=0,branch={side}");
        let read = ["fit", "neck.csv", "--measured-unit", "mm", "--linkage", &ruler];
        let told = [
            &read[..],
            &["--transmission", "linkage", "--joint", "neck", "--new", "--into"],
        ]
        .concat();
        let files = [format!("{side}.toml"), format!("{side}_again.toml")];
        let (text, _) = run(dir, &[&told[..], &[&files[0][..]]].concat(), 0);
        assert_eq!(text.matches("this linkage fits as well").count(), 1, "{text}");
        let object = json(dir, &[&told[..], &[&files[1][..]]].concat(), 0);
        let said = object["transmission"]["linkage"]["other_branch"].as_str().unwrap();
        tells(said, "on which side the pin lies");
    }
}

/// A guard that ends the travel before command 0 takes the rest with it.
#[test]
fn a_new_joint_rests_within_its_travel() {
    let folder = folder();
    let dir = folder.path();
    // Bent, with a stop just below command 0: the curve begins at the stop, the travel a guard beyond.
    let mut table = String::from("drive,measured\n");
    for i in 0..140 {
        let drive = 10.0 + f64::from(i);
        let way = (drive - 20.0).max(0.0);
        let _ = writeln!(
            table,
            "{drive},{}",
            0.3 * way + 0.004 * way * way - 0.5 + 0.02 * f64::from(i * 7 % 5 - 2)
        );
    }
    fs::write(dir.join("near.csv"), table).unwrap();
    run(
        dir,
        &["fit", "near.csv", "--into", "near.toml", "--joint", "neck", "--new"],
        0,
    );
    let (found, _) = run(dir, &["check", "near.toml"], 1);
    assert!(!found.contains("rest-outside-travel"), "{found}");
}
