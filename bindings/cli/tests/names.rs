//! Names of joints: cells that lack one, names that are written in two ways, with blanks in them, or nearly like another. All data are
//! invented.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may fail loudly")]

mod common;

use common::{ROBOT, folder, run, tells, tells_all, words};
use std::fmt::Write as _;
use std::fs;

/// The rows of one joint that meets no stop, ten of them.
fn rows(table: &mut String, mut name: impl FnMut(usize) -> &'static str) {
    for step in 0..10 {
        let drive = 40 + 10 * step;
        let measured = 0.9 * drive as f64 - 80.0;
        let _ = writeln!(table, "{};{drive};{measured:.1};below;", name(step));
    }
}

const HEADER: &str = "Gelenk;drive;measured;approach;note\n";
const ALL: &str = "fit t.csv --each Gelenk --into x.toml --new";

#[test]
fn rows_without_a_name_are_refused_with_their_lines() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let mut table = HEADER.to_owned();
    rows(&mut table, |_| "jaw");
    table += ";;;;\n;;;;checked on day 3\n";
    let whole = table.clone();
    rows(&mut table, |step| if step < 6 { "tail" } else { "" });
    fs::write(dir.join("t.csv"), &table).unwrap();
    let says = "t.csv:20: column Gelenk holds nothing in lines 20 to 23, where readings stand; write the joint's name in each \
                row, since merged cells keep it in the first one only";
    let one = "fit t.csv --where Gelenk=tail --joint tail --into x.toml --new";
    for command in [ALL, one, "fit t.csv --where Gelenk=tail"] {
        tells(&run(dir, &words(command), 2).1, says);
        assert!(!dir.join("x.toml").exists());
    }
    // All cells of a joint merged, so that its first row alone has a name; and a single one.
    let mut table = HEADER.to_owned();
    rows(&mut table, |step| if step == 0 { "jaw" } else { "" });
    rows(&mut table, |step| if step == 0 { "tail" } else { "" });
    fs::write(dir.join("t.csv"), &table).unwrap();
    tells(
        &run(dir, &words(ALL), 2).1,
        "holds nothing in lines 3 to 11 and 13 to 21, where",
    );
    let mut table = whole.clone();
    rows(&mut table, |step| if step == 3 { "" } else { "tail" });
    fs::write(dir.join("t.csv"), &table).unwrap();
    tells(
        &run(dir, &words(ALL), 2).1,
        "t.csv:17: column Gelenk holds nothing in line 17, where a reading stands;",
    );
    // Rows without a reading need no name, and a column of remarks none in any row.
    let mut table = whole;
    rows(&mut table, |_| "tail");
    fs::write(dir.join("t.csv"), table.replacen("below;\n", "below;slow\n", 5)).unwrap();
    tells(&run(dir, &words(ALL), 0).0, "2 of 2 joints written into x.toml");
    run(dir, &words("fit t.csv --where note=slow --where Gelenk=jaw"), 0);
}

#[test]
fn a_name_written_in_two_ways_is_asked_back() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let mut table = HEADER.to_owned();
    rows(&mut table, |step| if step == 4 { "\"jaw left \"" } else { "Jaw left" });
    rows(&mut table, |_| "tail");
    fs::write(dir.join("t.csv"), &table).unwrap();
    let says = "t.csv:6: column Gelenk holds \"jaw left";
    let meant = "beside \"Jaw left\", which differs in capitals or blanks alone; did you mean Jaw left? write it alike in each row";
    tells_all(&run(dir, &words(ALL), 2).1, &[says, meant]);
    let one = ["fit", "t.csv", "--where", "Gelenk=Jaw left", "--joint", "Jaw left"];
    tells_all(&run(dir, &one, 2).1, &[says, meant]);
    // The rows of another joint are not touched by it.
    run(dir, &words("fit t.csv --where Gelenk=tail"), 0);
}

#[test]
fn a_new_joint_nearly_named_like_another_is_told() {
    let folder = folder();
    let dir = folder.path();
    let table = |name: &'static str| {
        let mut table = HEADER.to_owned();
        rows(&mut table, |_| name);
        table
    };
    let into = words("fit t.csv --each Gelenk --into heron.toml --new");
    fs::write(dir.join("t.csv"), table("wing_lefft")).unwrap();
    let says = "joint wing_lefft is new; its name is nearly that of wing_left: if that was meant, correct the name in the readings, and \
                remove the new joint with elbowroom edit heron.toml remove wing_lefft";
    tells(&run(dir, &into, 0).0, says);
    fs::write(dir.join("heron.toml"), ROBOT).unwrap();
    let one = words("fit t.csv --where Gelenk=wing_lefft --joint wing_lefft --into heron.toml --new");
    tells(
        &run(dir, &one, 0).0,
        "joint wing_lefft is new; its name is nearly that of wing_left:",
    );
    // Numbered joints and those of other sides are others, and so is what has a name of its own.
    for (first, next) in [
        ("leg_1", "leg_2"),
        ("leg_fl", "leg_fr"),
        ("tail", "crest"),
        ("wing_left", "wing_right"),
    ] {
        fs::write(dir.join("heron.toml"), ROBOT.replace("wing_left", first)).unwrap();
        fs::write(dir.join("t.csv"), table(next)).unwrap();
        let (out, _) = run(dir, &into, 0);
        assert!(!out.contains("nearly"), "{out}");
    }
}

#[test]
fn a_star_waives_only_where_the_finding_stands() {
    let folder = folder();
    let dir = folder.path();
    let rate = "max_rate_per_s = 60\n";
    let other = ROBOT
        .split_once("[joint")
        .unwrap()
        .1
        .replace("channel = 3", "channel = 4");
    let right = format!(
        "{ROBOT}\n[joint{}",
        other.replace("wing_left", "wing_right").replace(rate, "")
    );
    fs::write(dir.join("heron.toml"), right).unwrap();
    let waive = [
        "edit",
        "heron.toml",
        "waive",
        "rate-missing",
        "--reason",
        "by hand",
        "--joint",
    ];
    let (out, _) = run(dir, &[&waive[..], &["wing_*"]].concat(), 0);
    tells(
        &out,
        "rate-missing is waived in wing_right alone; the check does not find it in the other joints that wing_* stands for",
    );
    assert!(
        !fs::read_to_string(dir.join("heron.toml"))
            .unwrap()
            .contains("wing_left\", rule")
    );
    assert!(!run(dir, &["check", "heron.toml"], 1).0.contains("waiver-unused"));
    // None has it: nothing is waived.
    fs::write(dir.join("heron.toml"), ROBOT).unwrap();
    let (_, err) = run(dir, &[&waive[..], &["wing_*"]].concat(), 2);
    tells(
        &err,
        "the check finds no rate-missing in the joints that wing_* stands for (wing_left); nothing is waived",
    );
    assert_eq!(fs::read_to_string(dir.join("heron.toml")).unwrap(), ROBOT);
}

#[test]
fn a_name_with_a_blank_is_written_in_quotes() {
    let folder = folder();
    let dir = folder.path();
    fs::write(
        dir.join("heron.toml"),
        ROBOT.replace("joint.wing_left", "joint.\"wing left\""),
    )
    .unwrap();
    let set = |place: &str, status| run(dir, &["edit", "heron.toml", "set", place], status);
    let says = "the name \"wing left\" has a blank in it; put it in quotes, and the whole in others: '\"wing left\".max_rate_per_s=50'";
    for place in ["wing left.max_rate_per_s=50", "joint.wing left.max_rate_per_s=50"] {
        tells(&set(place, 2).1, says);
    }
    let (_, err) = run(dir, &["edit", "heron.toml", "unset", "wing left.max_rate_per_s"], 2);
    tells(&err, "in others: '\"wing left\".max_rate_per_s'");
    tells(&set("\"wing left\".max_rate_per_s=50", 0).0, "max_rate_per_s = 50");
    // What begins like no joint has the general example.
    tells(&set("wing up.rest=5", 2).1, "where no single value stands");
    tells(&run(dir, &["edit", "--help"], 0).0, "'\"Jaw left\".max_rate_per_s=60'");
}

#[test]
fn hints_and_examples_say_what_is_needed() {
    let folder = folder();
    let dir = folder.path();
    // A column that readings can do without is not asked for.
    fs::write(
        dir.join("nr.csv"),
        "Winkel;Anzeige;Richtung\n10;20,1;von unten\n20;30,2;\n30;40,1;\n40;50,2;\n",
    )
    .unwrap();
    let (_, err) = run(dir, &words("fit nr.csv"), 2);
    tells_all(
        &err,
        &[
            "no columns are named \"drive\" and \"measured\" (there are: Winkel, Anzeige, Richtung); name them with --drive COLUMN \
             --measured COLUMN",
            "the sides in column Richtung are read with --approach Richtung",
        ],
    );
    // Where a flag is expected, neither of both values is suggested.
    let (_, err) = run(dir, &words("edit heron.toml set servo.assumed=falsch"), 2);
    tells(&err, "assumed is the text \"falsch\"; write true or false");
    let (_, err) = run(dir, &words("edit heron.toml set wing_left.inverted=falsch"), 2);
    tells(&err, "inverted is the text \"falsch\"; write true or false");
    run(
        dir,
        &words("edit heron.toml mirror wing_left wing_right --channel 9"),
        0,
    );
    let (out, _) = run(dir, &["check", "heron.toml"], 1);
    tells(
        &out,
        "measure it: elbowroom bring-up heron.toml --joint wing_right; or take readings and fit them: elbowroom fit READINGS --into heron.toml --joint \
         wing_right",
    );
}
