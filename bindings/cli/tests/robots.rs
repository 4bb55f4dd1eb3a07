//! What the shell tool does with whole robots: check, show, report, limits, firmware.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod common;

use common::{READINGS, ROBOT, folder, json, run, sweep, tells, tells_all, words};
use std::fs;
use std::path::Path;

#[test]
fn check_says_what_it_found_by_its_exit_status() {
    let folder = folder();
    let dir = folder.path();
    let (out, _) = run(dir, &["check", "heron.toml"], 1);
    tells(
        &out,
        "heron.toml:6: warning limit-unproven: joint wing_left: nothing proves travel lower",
    );
    let object = json(dir, &["check", "heron.toml"], 1);
    assert!(
        object["findings"]
            .as_array()
            .unwrap()
            .iter()
            .all(|f| f["rule"] == "limit-unproven")
    );
    let waived = format!("{ROBOT}\n[check]\nwaive = [{{ rule = \"limit-unproven\", reason = \"bench model\" }}]\n");
    fs::write(dir.join("heron.toml"), waived).unwrap();
    let (out, _) = run(dir, &["check", "heron.toml", "--waived"], 0);
    tells(&out, "reason: bench model");
    let (out, _) = run(dir, &["check", "--rules"], 0);
    tells(&out, "rest-outside-travel");
}

#[test]
fn show_fits_eighty_columns_without_colour() {
    let folder = folder();
    let dir = folder.path();
    let wide = ROBOT.replace(
        "[joint.wing_left]",
        "[joint.a_name_far_longer_than_any_table_column_has_room_for]",
    );
    fs::write(dir.join("heron.toml"), wide).unwrap();
    for args in [
        &["show", "heron.toml"][..],
        &[
            "show",
            "heron.toml",
            "a_name_far_longer_than_any_table_column_has_room_for",
        ],
    ] {
        let (out, _) = run(dir, args, 0);
        assert!(out.lines().all(|line| line.chars().count() <= 80), "{out}");
        assert!(!out.contains('\u{1b}'), "no colour without a terminal");
    }
}

#[test]
fn show_says_how_a_joint_is_driven_and_what_its_sensor_can_tell() {
    let folder = folder();
    let dir = folder.path();
    let heron = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/data/heron.toml");
    for (name, parts) in [
        (
            "beak",
            &[
                "triangle, base 14, arm 36, angle_at_zero 62",
                "no dead centre for commands above -62 and below 118",
                "feedback     none",
            ][..],
        ),
        (
            "wing_right",
            &[
                "readings 198 .. 855 on -40 .. 60 deg, inverted",
                "10 bits: a wire broken or shorted shows at both ends",
            ],
        ),
        ("neck_base", &["transmission linear", "wraps after 360 deg"]),
        ("tail", &["spool, drum 8, per_turn 0, pulley 10"]),
    ] {
        let (out, _) = run(dir, &["show", heron, name], 0);
        assert!(parts.iter().all(|part| out.contains(part)), "{out}");
        assert!(name == "beak" || !out.contains("dead centre"), "{out}");
    }
    let told = fs::read_to_string(heron).unwrap();
    for name in told
        .lines()
        .filter_map(|line| line.strip_prefix("[joint.")?.strip_suffix(']'))
    {
        if !name.contains('.') {
            let (out, _) = run(dir, &["show", heron, name], 0);
            tells_all(&out, &["\n  transmission ", "\n  feedback "]);
            assert!(out.lines().all(|line| line.chars().count() <= 80), "{out}");
        }
    }
}

#[test]
fn a_report_is_one_sound_page_that_needs_nothing_else() {
    let folder = folder();
    let dir = folder.path();
    fs::write(
        dir.join("heron.toml"),
        include_str!("../../../tests/data/heron.toml").replace("name = \"heron\"", "name = \"<heron>\""),
    )
    .unwrap();
    run(
        dir,
        &["report", "heron.toml", "-o", "heron.html", "--as-of", "2026-11-25"],
        0,
    );
    let page = fs::read_to_string(dir.join("heron.html")).unwrap();
    for outside in ["<script", "http-equiv", "src=", "url(http", "@import"] {
        assert!(!page.contains(outside), "{outside}");
    }
    assert!(page.contains("<h1><bdi>&#60;heron&#62;</bdi></h1>"));
    assert_eq!(page.matches("<article").count(), 17);
    assert_eq!(page.matches("no stop to find").count(), 2, "waivers show their reason");
    let mut ids: Vec<&str> = page
        .split(" id=\"")
        .skip(1)
        .filter_map(|rest| rest.split('"').next())
        .collect();
    let all = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), all, "ids are unique");
    let ids = page
        .split("aria-labelledby=\"")
        .skip(1)
        .chain(page.split("aria-describedby=\"").skip(1));
    for part in ids {
        for id in part.split('"').next().unwrap().split(' ') {
            assert!(page.contains(&format!(" id=\"{id}\"")), "{id}");
        }
    }
    for svg in page.split("<svg").skip(1) {
        let svg = format!("<svg{}", svg.split_inclusive("</svg>").next().unwrap());
        roxmltree::Document::parse(&svg).unwrap();
    }
    let (out, _) = run(
        dir,
        &["report", "heron.toml", "-o", "heron.html", "--as-of", "2031-01-01"],
        1,
    );
    tells(&out, "17 findings");
    let (_, err) = run(dir, &["report", "heron.toml", "-o", "heron.toml"], 2);
    tells(&err, "name it with the ending .html");
    fs::write(dir.join("mine.html"), "<p>a page of one's own</p>").unwrap();
    let (_, err) = run(dir, &["report", "heron.toml", "-o", "mine.html"], 2);
    tells(&err, "was not made by elbowroom");
}

#[test]
fn a_report_loses_no_number_however_small_and_no_name_however_long() {
    let folder = folder();
    let dir = folder.path();
    fs::write(dir.join("strange.toml"), include_str!("pages/strange.toml")).unwrap();
    run(
        dir,
        &["report", "strange.toml", "-o", "strange.html", "--as-of", "2026-11-25"],
        1,
    );
    let page = fs::read_to_string(dir.join("strange.html")).unwrap();
    for part in [
        "-4e-9 to 6e-9 m",
        "1e-12 m per second",
        "readings 1e-7 to 9e-7 on -40 to 60 deg",
        "1000000 to 1000000.001 deg",
        "-4e11 to 6e11 mm",
        "rest 1e-9",
        "very_long_name_that2</bdi></h3>",
        "name_that1</text>",
        "name_that2</text>",
        "\u{2068}\u{644}\u{648}\u{62d}\u{629}\u{2069} 1",
    ] {
        assert!(page.contains(part), "{part}");
    }
    assert!(!page.contains("0 to 0"), "the ends of a span stay apart");
    let (out, _) = run(dir, &["show", "strange.toml", "tiny"], 0);
    tells_all(&out, &["-4e-9 .. 6e-9 m", "1e-12 m per second"]);
}

#[test]
fn a_stalled_end_is_shown_between_both_its_angles() {
    let folder = folder();
    let dir = folder.path();
    let upper = "[joint.wing_left.evidence]\nupper = { kind = \"stalled\", at = 70, short_at = 76.5, guard = 0 }\n";
    fs::write(dir.join("heron.toml"), format!("{ROBOT}travel = [10, 70]\n\n{upper}")).unwrap();
    let (out, _) = run(dir, &["show", "heron.toml", "wing_left"], 0);
    tells(&out, "upper end    stalled between 70 and 76.5 deg, guard margin 0");
    let (out, _) = run(dir, &["show", "heron.toml"], 0);
    tells_all(&out, &["  ?s", "s stalled"]);
    let (out, _) = run(dir, &["check", "heron.toml"], 1);
    tells_all(
        &out,
        &["stop-not-placed", "readings between 70 and 76.5 deg from below"],
    );
    run(dir, &["report", "heron.toml", "-o", "heron.html"], 1);
    let page = fs::read_to_string(dir.join("heron.html")).unwrap();
    assert!(page.contains("stalled between 70 and 76.5 deg") && page.contains("class=\"held\""));
    let shown = json(dir, &["show", "heron.toml"], 0);
    assert_eq!(shown["joints"][0]["evidence"]["upper"]["short_at"], 76.5);
}

/// A hip with everything that a picture can show; invented.
const HIP: &str = include_str!("common/hip.toml");

#[test]
fn a_joint_is_drawn_with_what_it_computes() {
    let folder = folder();
    let dir = folder.path();
    fs::write(dir.join("heron.toml"), HIP).unwrap();
    let draw = |name: &str| {
        run(dir, &["show", "heron.toml", name, "--plot", "joint.svg"], 0);
        fs::read_to_string(dir.join("joint.svg")).unwrap()
    };
    let hip = draw("hip");
    let picture = roxmltree::Document::parse(&hip).unwrap();
    let of_class = |class: &str| {
        let has = move |node: &roxmltree::Node<'_, '_>| node.attribute("class") == Some(class);
        picture.descendants().filter(has).collect::<Vec<_>>()
    };
    assert_eq!(
        of_class("knot").len(),
        5 + 4 + 1,
        "of the transmission, of the sensor, of the legend"
    );
    assert_eq!((of_class("stop").len(), of_class("guard").len()), (2, 2));
    assert_eq!(of_class("known").len(), 2 + 1, "both rails");
    for words in [
        "stop 164.0",
        "rest 0",
        "drive angle, deg",
        "joint angle, deg",
        "slope: deg of drive per deg",
    ] {
        assert!(hip.contains(&format!(">{words}</text>")), "{words}");
    }
    assert!(hip.contains(
        "Commands -40 to 70 deg go to drive 20 to 160 deg, inverted (curve), 0.728 to 2.333 deg of drive per deg; travel 22 to \
         158 deg; rest 0. Its sensor reads 90 to 930 from -45 to 72 deg of the joint."
    ));

    // The lines are those of `convert`: both axes are read off at the knots, which are told exactly.
    let square = |node: &roxmltree::Node<'_, '_>| {
        let number = |name: &str| node.attribute(name).unwrap().parse::<f64>().unwrap();
        (number("x") + 5.0, number("y") + 5.0)
    };
    let knots: Vec<_> = of_class("knot").iter().map(square).collect();
    let lines = of_class("model");
    for (line, quantity, knots, ends) in [
        (0, "drive", &knots[..5], [160.0, 20.0]),
        (2, "reading", &knots[5..9], [90.0, 930.0]),
    ] {
        let (first, last) = (knots[0], knots[knots.len() - 1]);
        let points = lines[line].attribute("points").unwrap().split_whitespace();
        let points: Vec<(f64, f64)> = points
            .map(|pair| pair.split_once(',').unwrap())
            .map(|(x, y)| (x.parse().unwrap(), y.parse().unwrap()))
            .collect();
        assert_eq!(points.len(), 301);
        for &(x, y) in points.iter().step_by(20) {
            let command = -40.0 + 110.0 * (x - first.0) / (last.0 - first.0);
            let drawn = ends[0] + (ends[1] - ends[0]) * (y - first.1) / (last.1 - first.1);
            let words = ["convert", "heron.toml", "hip", "--to", quantity, &command.to_string()];
            let told: f64 = run(dir, &words, 0).0.trim().parse().unwrap();
            // What lies outside the travel is drawn where it would go, and converted to the travel's end.
            let drawn = if quantity == "drive" {
                drawn.clamp(22.0, 158.0)
            } else {
                drawn
            };
            assert!(
                (told - drawn).abs() <= 0.01 * (ends[1] - ends[0]).abs(),
                "{quantity} of {command}: {drawn} for {told}"
            );
        }
    }

    let jaw = draw("jaw");
    assert!(jaw.contains("dead centre 130"), "an earlier picture is replaced");
    assert!(!jaw.contains("joint angle, deg") && !jaw.contains("broken"));
    fs::write(dir.join("mine.svg"), "mine").unwrap();
    let (_, err) = run(dir, &["show", "heron.toml", "jaw", "--plot", "mine.svg"], 2);
    tells(&err, "was not made by elbowroom");
    assert_eq!(fs::read_to_string(dir.join("mine.svg")).unwrap(), "mine");
    let (_, err) = run(dir, &["show", "heron.toml", "--plot", "all.svg"], 2);
    tells(&err, "--plot draws one joint; name it");
    run(dir, &["report", "heron.toml", "-o", "heron.html"], 1);
    let page = fs::read_to_string(dir.join("heron.html")).unwrap();
    assert_eq!(page.matches("<title id=\"chain-").count(), 2);
}

#[test]
fn three_commands_lead_from_readings_to_a_checked_robot_and_a_report() {
    let folder = folder();
    let dir = folder.path();
    fs::write(dir.join("mine.csv"), sweep(0.0)).unwrap();
    let fit = words("fit mine.csv --into mine.toml --joint arm --new --board b --channel 0 --max-rate-per-s 30");
    run(dir, &fit, 0);
    run(dir, &["check", "mine.toml"], 0);
    run(dir, &["report", "mine.toml", "-o", "mine.html"], 0);
    assert!(
        fs::read_to_string(dir.join("mine.html"))
            .unwrap()
            .contains("id=\"joint-0\"><bdi>arm")
    );
}

#[test]
fn limits_are_written_into_a_description() {
    let folder = folder();
    let folder = folder.path();
    let robot = fs::read_to_string(folder.join("heron.toml")).unwrap();
    let robot = robot.replace("channel = 3\n", "channel = 3\nunit = \"deg\"\n");
    fs::write(folder.join("heron.toml"), robot).unwrap();
    let joint =
        |name: &str| format!("<joint name=\"{name}\" type=\"revolute\"><limit effort=\"1\" velocity=\"1\"/></joint>");
    let urdf = format!("<robot>{}<!-- kept --></robot>", joint("wing_left"));
    fs::write(folder.join("heron.urdf"), &urdf).unwrap();
    let more = ["limits", "heron.toml", "--into", "heron.urdf", "-o", "measured.urdf"];
    let report = json(folder, &more, 0);
    assert_eq!(fs::read_to_string(folder.join("heron.urdf")).unwrap(), urdf);
    let measured = fs::read_to_string(folder.join("measured.urdf")).unwrap();
    let written = &report["written"][0];
    let (lower, upper) = (written["lower"].as_f64().unwrap(), written["upper"].as_f64().unwrap());
    let limit = format!("velocity=\"1\" lower=\"{lower}\" upper=\"{upper}\"/></joint><!-- kept -->");
    assert!(measured.contains(&limit) && lower < upper, "{measured}");
    let (said, _) = run(folder, &more[..4], 0);
    tells(&said, "wrote the limits of 1 joint into heron.urdf");
    assert_eq!(fs::read_to_string(folder.join("heron.urdf")).unwrap(), measured);
    // A joint that is left out is a finding.
    fs::write(folder.join("heron.urdf"), urdf.replace("wing_left", "wing")).unwrap();
    let (said, _) = run(folder, &more[..4], 1);
    tells(&said, "left out: the description has no movable joint");
    let swapped = urdf.replace("effort", "lower=\"2\" upper=\"1\" effort");
    fs::write(folder.join("heron.urdf"), swapped).unwrap();
    let (_, said) = run(folder, &more[..4], 2);
    tells(&said, "heron.urdf: ");
    tells(&said, "it must be no more than the upper limit");
}

#[test]
fn limits_replace_nothing_but_a_description() {
    let folder = folder();
    let folder = folder.path();
    let robot = fs::read_to_string(folder.join("heron.toml")).unwrap();
    let robot = robot.replace("channel = 3\n", "channel = 3\nunit = \"deg\"\n");
    fs::write(folder.join("heron.toml"), robot).unwrap();
    let description = |name: &str| {
        format!("<robot><joint name=\"{name}\" type=\"revolute\"><limit effort=\"1\" velocity=\"1\"/></joint></robot>")
    };
    fs::write(folder.join("heron.urdf"), description("wing_left")).unwrap();
    fs::write(folder.join("notes.txt"), "mine").unwrap();
    let into = |out| ["limits", "heron.toml", "--into", "heron.urdf", "-o", out];
    for file in ["heron.toml", "readings.csv", "notes.txt"] {
        let before = fs::read_to_string(folder.join(file)).unwrap();
        let (_, said) = run(folder, &into(file), 2);
        tells(
            &said,
            &format!("{file}: is there already and is not a robot description (URDF or MJCF); name another file"),
        );
        assert_eq!(fs::read_to_string(folder.join(file)).unwrap(), before);
    }
    // Descriptions are written over, that of --into too.
    fs::write(folder.join("other.xml"), "<mujoco/>").unwrap();
    for file in ["heron.urdf", "other.xml", "new.urdf"] {
        run(folder, &into(file), 0);
        tells(&fs::read_to_string(folder.join(file)).unwrap(), "lower=");
    }
    // Where nothing is found nothing is written.
    fs::write(folder.join("heron.urdf"), description("wing")).unwrap();
    let report = json(folder, &into("none.urdf"), 1);
    assert!(report["written_to"].is_null() && !folder.join("none.urdf").exists());
    let (said, _) = run(folder, &into("none.urdf"), 1);
    tells(&said, "the limits of no joint fit heron.urdf; nothing was written");
}

#[test]
fn firmware_writes_a_block_and_its_header() {
    let folder = folder();
    let folder = folder.path();
    let report = json(folder, &["firmware", "heron.toml", "--board", "breast"], 0);
    let image = fs::read(folder.join("heron_breast.bin")).unwrap();
    let header = fs::read_to_string(folder.join("heron_breast.h")).unwrap();
    assert_eq!(report["bytes"], image.len());
    assert!(image.starts_with(b"ELBW"));
    assert!(header.contains("static const uint8_t heron_breast["));
    assert!(header.contains("channel 3, wing_left"));
    assert!(header.contains("\n#define HERON_BREAST_WING_LEFT 3\n"));
    // An earlier block may be replaced, anything else not.
    run(folder, &["firmware", "heron.toml", "--board", "breast"], 0);
    fs::write(folder.join("mine.h"), "mine").unwrap();
    let (_, said) = run(
        folder,
        &["firmware", "heron.toml", "--board", "breast", "-o", "mine"],
        2,
    );
    tells(&said, "was not made by elbowroom");
    assert_eq!(fs::read_to_string(folder.join("mine.h")).unwrap(), "mine");
    // No block of a robot that the check finds errors in, unless somebody says why.
    let (said, _) = run(folder, &["firmware", "heron.toml", "--board", "breast"], 0);
    assert!(!said.contains("despite"), "{said}");
    let sound = fs::read_to_string(folder.join("heron.toml")).unwrap();
    let faulty = format!("{sound}\n[joint.wing_left.evidence]\ndate = 2026-11-20\nsense = \"aiding\"\n");
    fs::write(folder.join("heron.toml"), faulty).unwrap();
    let (_, said) = run(folder, &["firmware", "heron.toml", "--board", "breast"], 2);
    tells_all(
        &said,
        &["the check finds errors, so no block is written", "sense-aiding"],
    );
    let despite = ["firmware", "heron.toml", "--board", "breast", "--despite", "on stands"];
    let (said, _) = run(folder, &despite, 0);
    tells(&said, "despite 1 error of the check: on stands");
    let header = fs::read_to_string(folder.join("heron_breast.h")).unwrap();
    tells(&header, "despite 1 error of the check: on stands");
    let (_, said) = run(folder, &["firmware", "heron.toml", "--board", "tail"], 2);
    tells(&said, "no joint is on board tail");
}

/// What a command shows on a terminal, both its outputs together.
fn shown_on_a_terminal(folder: &Path, words: &str) -> String {
    let tool = env!("CARGO_BIN_EXE_elbowroom");
    // `script` gives the command a terminal, and what it shows there back.
    let shown = std::process::Command::new("script")
        .args(["-qec", &format!("'{tool}' {words}"), "/dev/null"])
        .current_dir(folder)
        .stdin(std::process::Stdio::null())
        .output()
        .unwrap();
    String::from_utf8_lossy(&shown.stdout).into_owned()
}

/// Invented data.
#[test]
fn long_work_gives_signs_of_life_on_a_terminal_and_never_into_a_pipe() {
    let folder = folder();
    let dir = folder.path();
    let (head, joint) = ROBOT.split_once("[joint.wing_left]").unwrap();
    let mut many = head.to_owned();
    (0..300).for_each(|n| many += &format!("[joint.j{n}]{joint}\n"));
    fs::write(dir.join("many.toml"), many).unwrap();
    let mut readings = String::from("drive,measured\n");
    (0..50_000).for_each(|n| readings += &format!("{},{}\n", n % 120, n % 120 + n % 7));
    fs::write(dir.join("many.csv"), readings).unwrap();
    for (words, status, sign) in [
        (
            "report many.toml -o many.html",
            1,
            "drawing joint 201 of 300 ...\r\u{1b}[K",
        ),
        ("fit many.csv", 0, "fitting 50000 readings ...\r\u{1b}[K"),
    ] {
        let piped: Vec<&str> = words.split(' ').collect();
        let (out, err) = run(dir, &piped, status);
        assert!(err.is_empty() && !out.contains(" ..."), "{out}{err}");
        let shown = shown_on_a_terminal(dir, words);
        assert!(shown.contains(sign), "and then it is gone: {shown:?}");
    }
    // A short fit says nothing of itself.
    fs::write(dir.join("few.csv"), READINGS).unwrap();
    assert!(!shown_on_a_terminal(dir, "fit few.csv").contains("fitting"));
}
