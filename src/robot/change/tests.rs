//! Values set, joints renamed and rules waived in a text, of which all else stays.

use super::*;

const HERON: &str = r#"format = 1   # kept
servo = { angle = [0, 180], pulse_us = [500, 2500], assumed = true }
timer = { frame_hz = 50, counts_per_frame = 4096 }

# first
[joint.wing_left]   # squeaks
command = [-40, 60]   # as flown
drive = [37, 122]
travel = [40, 119]
rest = 10

[joint.wing_left.evidence]
lower = { kind = "contact", at = 37.5, u = 0.2, guard = 2 }

# second
[joint.wing_right]
command = [-40, 60]
drive = [58, 143]
inverted = true
rest = 10
mirror_of = "wing_left"

[check]
waive = [{ rule = "rate-missing", joint = "wing_left", reason = "by hand" }]
"#;

#[test]
fn a_value_is_set_and_nothing_else() {
    let mut robot = Robot::parse(HERON).unwrap();
    robot.set_value("wing_left.rest", "12.5").unwrap();
    assert_eq!(robot.to_toml(), HERON.replacen("rest = 10", "rest = 12.5", 1));
    robot.set_value("wing_left.rest", "10").unwrap();
    robot.set_value("wing_left.command", "-40,50").unwrap();
    assert!(robot.to_toml().contains("command = [-40, 50]   # as flown"));
    robot.set_value("wing_left.board", "breast").unwrap();
    robot.set_value("wing_left.evidence.sense", "opposing").unwrap();
    robot.set_value("check.guard", "1.5").unwrap();
    assert_eq!(robot.settings().guard, 1.5);
    let before = robot.clone();
    for (place, value) in [
        ("wing_left.rest", "500"),
        ("wing_left.evidence.sense", "unknown"),
        ("wing_left.colour", "red"),
        ("wing_leftt.rest", "5"),
        ("wing_left", "5"),
        ("wing_left.rest.deep", "5"),
        ("..", "5"),
    ] {
        assert!(robot.set_value(place, value).is_err(), "{place}");
        assert_eq!(robot, before);
    }
    assert!(robot.unset_value("wing_left.max_rate_per_s").is_err());
}

#[test]
fn another_servo_line_keeps_every_pulse() {
    let mut robot = Robot::parse(HERON).unwrap();
    let pulses = |robot: &Robot| {
        let at = |name: &str, command| robot.joint(name).unwrap().joint().pulse_us(command).unwrap().value;
        [at("wing_left", -30.0), at("wing_left", 50.0), at("wing_right", 20.0)]
    };
    let before = pulses(&robot);
    assert!(robot.joint("wing_left").unwrap().assumed().servo);
    robot.set_value("servo.pulse_us", "600, 2400").unwrap();
    robot.set_value("servo.angle", "[0, 120]").unwrap();
    for (new, old) in pulses(&robot).into_iter().zip(before) {
        assert!((new - old).abs() < 0.01, "{new} {old}");
    }
    let wing = robot.joint("wing_left").unwrap();
    assert!(!wing.assumed().servo);
    assert!(
        robot
            .to_toml()
            .contains("servo = { angle = [0, 120], pulse_us = [600, 2400] }\n")
    );
    assert_eq!(robot.to_toml().matches("servo").count(), 1);
    let contact = wing.evidence().lower.unwrap().at;
    assert!((wing.joint().servo().pulse_us(contact) - (500.0 + 37.5 * 2000.0 / 180.0)).abs() < 0.01);
    robot.set_value("wing_left.servo.angle", "0,100").unwrap();
    let after = pulses(&robot);
    assert!(after.into_iter().zip(before).all(|(new, old)| (new - old).abs() < 0.01));
    // Confirmed, nothing moves.
    let mut robot = Robot::parse(HERON).unwrap();
    robot.set_value("servo.assumed", "false").unwrap();
    assert!(!robot.joint("wing_left").unwrap().assumed().servo);
    assert_eq!(pulses(&robot), before);
}

#[test]
fn joints_that_inherit_a_part_of_the_servo_keep_their_pulses_too() {
    let pulses = |robot: &Robot| {
        let at = |name: &str, command| robot.joint(name).unwrap().joint().pulse_us(command).unwrap().value;
        [at("wing_left", -30.0), at("wing_left", 50.0), at("wing_right", 20.0)]
    };
    for own in [
        "servo = { assumed = false }",
        "servo = { angle = [0, 180] }",
        "servo = { pulse_us = [500, 2500] }",
        "servo = { angle = [0, 180], pulse_us = [500, 2500] }",
    ] {
        let text = HERON.replacen("rest = 10", &std::format!("rest = 10\n{own}   # own"), 1);
        let mut robot = Robot::parse(&text).unwrap();
        let before = pulses(&robot);
        for (place, value) in [
            ("servo.pulse_us", "900,2100"),
            ("servo.angle", "0,120"),
            ("servo", "{ angle = [0, 90], pulse_us = [600, 2200] }"),
        ] {
            robot.set_value(place, value).unwrap();
            for (new, old) in pulses(&robot).into_iter().zip(before) {
                assert!((new - old).abs() < 0.01, "{own}, {place}: {new} {old}");
            }
            assert!(
                robot.to_toml().contains(&std::format!("{own}   # own")),
                "{}",
                robot.to_toml()
            );
        }
        if own.contains("pulse_us") {
            robot.unset_value("wing_left.servo.pulse_us").unwrap();
            for (new, old) in pulses(&robot).into_iter().zip(before) {
                assert!((new - old).abs() < 0.01, "{own}, unset: {new} {old}");
            }
        }
    }
}

#[test]
fn a_joint_is_renamed_wherever_it_is_named() {
    let mut robot = Robot::parse(HERON).unwrap();
    robot.rename("wing_left", "wing_port").unwrap();
    assert_eq!(robot.to_toml(), HERON.replace("wing_left", "wing_port"));
    assert!(robot.rename("wing_port", "wing_right").is_err());
    assert!(robot.rename("wing_left", "x").is_err());
}

#[test]
fn a_waiver_joins_those_there_are() {
    let mut robot = Robot::parse(HERON).unwrap();
    robot.waive(Rule::SenseUnproven, Some("wing_right"), "no loop").unwrap();
    robot.waive(Rule::RateMissing, None, "slow").unwrap();
    assert_eq!(robot.settings().waivers.len(), 3);
    assert!(robot.waive(Rule::RateMissing, Some("wing"), "x").is_err());
    assert!(robot.waive(Rule::RateMissing, None, " ").is_err());
    // Waived again, the reason is the new one, in an array and in tables.
    let tables = "[[check.waive]]\nrule = \"rate-missing\"\njoint = \"wing_left\"\nreason = \"by hand\"\n";
    let (head, _) = HERON.split_once("[check]").unwrap();
    for mut robot in [robot, Robot::parse(&std::format!("{head}{tables}")).unwrap()] {
        let waived = robot.settings().waivers.len();
        robot
            .waive(Rule::RateMissing, Some("wing_left"), "slow by itself")
            .unwrap();
        assert_eq!(robot.settings().waivers.len(), waived);
        assert_eq!(robot.settings().waivers[0].reason, "slow by itself");
        assert!(!robot.to_toml().contains("by hand"));
    }
    let mut bare = Robot::new("x").unwrap();
    bare.waive(Rule::RobotEmpty, None, "begun today").unwrap();
    assert!(
        bare.to_toml()
            .contains("[check]\nwaive = [{ rule = \"robot-empty\", reason = \"begun today\" }]")
    );
}
