//! What a finding tells to do: commands that can be given as they are, and that leave no other finding.

use super::{report, seeded, today};
use elbowroom::robot::{Check, Robot, Rule};

/// Of 100 deg of commands over drive 130 to 50, -40 lies at 130 and 40 at 66.
#[test]
fn commands_that_differ_from_the_mirrors_are_changed_together_with_their_drive_angles() {
    let found = report(&seeded("hip_right", "command = [-40, 40]", "command = [-40, 60]")).findings;
    let hints: Vec<&str> = (found.iter())
        .filter(|finding| finding.rule == Rule::MirrorMismatch)
        .map(|finding| finding.hint.as_str())
        .collect();
    assert!(
        hints
            .iter()
            .any(|hint| hint.ends_with("edit FILE set hip_right.command=-40,40 hip_right.drive=66,130")),
        "{hints:?}"
    );
}

/// What proves an end is named as the commands that measure it; a name in quotes stands in a shell's.
#[test]
fn an_unproven_end_names_the_commands_that_measure_it() {
    let hint = |text: &str, rule: Rule| {
        let found = report(text).findings;
        found.into_iter().find(|finding| finding.rule == rule).unwrap().hint
    };
    let unproven = seeded("head_turn", "lower = { kind = \"clear\", at = 21.5 }\n", "");
    let told = |joint: &str| {
        format!(
            "measure it: elbowroom bring-up FILE --joint {joint}; or take readings and fit them: elbowroom fit READINGS --into FILE --joint {joint}"
        )
    };
    assert_eq!(hint(&unproven, Rule::LimitUnproven), told("head_turn"));
    let spaced = unproven.replace("joint.head_turn", "joint.\"head's turn\"");
    assert_eq!(hint(&spaced, Rule::LimitUnproven), told("'head'\\''s turn'"));
    let declared = seeded(
        "head_turn",
        "lower = { kind = \"clear\", at = 21.5 }",
        "lower = { kind = \"declared\", at = 21.5 }",
    );
    assert_eq!(hint(&declared, Rule::LimitOnlyDeclared), told("head_turn"));
}

/// Each remedy that a shell can carry out names the file that the robot was read from.
#[test]
fn remedies_name_the_file() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("grey heron.toml");
    let mut commands = 0;
    for (joint, from, to) in [
        ("wing_left", "mirror_of = \"wing_right\"", "mirror_of = \"wing_rihgt\""),
        ("hip_right", "unit = \"deg\"", "unit = \"mm\""),
        ("hip_right", "command = [-40, 40]", "command = [-40, 60]"),
        ("hip_right", "max_rate_per_s = 40", "max_rate_per_s = 45"),
        ("hip_right", "rest = 0", "rest = 2"),
        ("tail", "travel = [", "travel = [80, 90] #"),
    ] {
        std::fs::write(&file, seeded(joint, from, to)).unwrap();
        let found = Check::new().on(today()).run(&Robot::load(&file).unwrap()).findings;
        for finding in &found {
            let hint = &finding.hint;
            assert!(!hint.contains("FILE"), "{hint}");
            let named = format!("elbowroom edit '{}' ", file.display());
            assert_eq!(hint.contains("elbowroom edit"), hint.contains(&named), "{hint}");
            commands += usize::from(hint.contains(&named));
        }
    }
    assert!(commands >= 5, "{commands}");
}

/// The right hip has no travel of its own and more commands below, fewer above than the left one: obeyed to the letter, the remedy leaves
/// its travel where the stops allow it.
#[test]
fn commands_taken_over_from_the_mirror_leave_the_travel() {
    let text = "format = 1\nservo = { angle = [0, 180], pulse_us = [500, 2500] }\ntimer = { frame_hz = 50, counts_per_frame = 4096 }\n\
                [joint.left_hip]\nunit = \"deg\"\ncommand = [-31.8241, 23.7563]\ndrive = [54.486, 117]\nrest = 0\nmax_rate_per_s = 60\n\
                [joint.left_hip.evidence]\ndate = 2026-11-24\nsense = \"opposing\"\n\
                lower = { kind = \"contact\", at = 50.9139, u = 0.3154, guard = 2 }\nupper = { kind = \"clear\", at = 117 }\n\
                [joint.right_hip]\nunit = \"deg\"\ncommand = [-35.8402, 20.5475]\ndrive = [67.008, 129.96]\ninverted = true\nrest = 0\n\
                max_rate_per_s = 60\nmirror_of = \"left_hip\"\n\
                [joint.right_hip.evidence]\ndate = 2026-11-24\nsense = \"opposing\"\n\
                lower = { kind = \"contact\", at = 63.7118, u = 0.2303, guard = 2 }\nupper = { kind = \"clear\", at = 129.96 }\n";
    let before = report(text).findings;
    let differs = |finding: &&elbowroom::robot::Finding| finding.message.starts_with("command is");
    let hint = &before.iter().find(differs).unwrap().hint;
    assert!(hint.ends_with("right_hip.travel=67.008,129.96"), "{hint}");
    let mut robot = Robot::parse(text).unwrap();
    let (_, set) = hint.split_once("edit FILE set ").unwrap();
    let places = set.split(' ').map(|one| one.split_once('=').unwrap());
    robot.set_values(places).unwrap();
    let hip = robot.joint("right_hip").unwrap().joint();
    assert_eq!(
        hip.travel(),
        Robot::parse(text).unwrap().joint("right_hip").unwrap().joint().travel()
    );
    let after = Check::new().on(today()).run(&robot).findings;
    assert!(after.iter().find(differs).is_none());
    for finding in &after {
        let same = |old: &elbowroom::robot::Finding| (old.rule, &old.joint) == (finding.rule, &finding.joint);
        assert!(before.iter().any(same), "{finding}");
    }
}
