//! Limits written into robot descriptions: what changes, what stays, what is refused. All data invented.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use elbowroom::Unit;
use elbowroom::robot::{LimitsOut, Robot, Urdf, WhyLeftOut};

/// A neck that turns, inverted and with a travel of its own; a lid that slides; a beak in parts of a whole.
const ROBOT: &str = r#"format = 1
name = "heron"
servo = { angle = [0, 180], pulse_us = [500, 2500] }
timer = { frame_hz = 50, counts_per_frame = 4096 }

[joint.neck]
unit = "deg"
command = [-40, 60]
drive = [20, 120]
travel = [25, 110]
inverted = true
rest = 10

[joint.lid]
unit = "mm"
command = [0, 40]
drive = [10, 60]
rest = 0

[joint.beak]
unit = "fraction"
command = [0, 1]
drive = [10, 60]
rest = 0
"#;

const URDF: &str = "<?xml version=\"1.0\"?>\r\n<robot name=\"heron\">\r\n  <!-- The neck -->\r\n\
    <joint type='revolute' name='neck'>\n    <limit velocity=\"2\"   upper='9'\n      effort=\"1\" lower = \"-9\" />\n  </joint>\n\
    <joint name=\"lid\" type=\"prismatic\"><limit effort=\"1\" velocity=\"0.1\"></limit></joint>\n\
    <joint name=\"beak\" type=\"revolute\"><limit effort=\"1\" velocity=\"1\" lower=\"0\" upper=\"1\"/></joint>\n</robot>\n";

fn robot() -> Robot {
    Robot::parse(ROBOT).unwrap()
}

fn into(xml: &str) -> LimitsOut {
    robot().limits_into(xml).unwrap()
}

fn left_out(out: &LimitsOut) -> Vec<(&str, WhyLeftOut)> {
    out.left_out
        .iter()
        .map(|left| (left.joint.as_str(), left.why))
        .collect()
}

#[test]
fn only_the_attributes_of_limits_change_in_a_urdf() {
    let out = into(URDF);
    // Drive 25 to 110, inverted: command 55 down to -30.
    let [lower, upper] = [-30.0_f64, 55.0].map(f64::to_radians);
    let wanted = URDF
        .replace("upper='9'", &format!("upper='{upper}'"))
        .replace("lower = \"-9\"", &format!("lower = \"{lower}\""))
        .replace("velocity=\"0.1\">", "velocity=\"0.1\" lower=\"0\" upper=\"0.04\">");
    assert_eq!(out.text, wanted);
    assert_eq!(left_out(&out), [("beak", WhyLeftOut::Unit)]);
    let written: Vec<_> = out
        .written
        .iter()
        .map(|joint| (joint.joint.as_str(), joint.limits, joint.unit))
        .collect();
    assert_eq!(
        written,
        [("neck", [lower, upper], Unit::Rad), ("lid", [0.0, 0.04], Unit::M)]
    );
    // It reads back as what was written, to the bit, and writing again changes nothing.
    let again = Urdf::parse(&out.text).unwrap();
    assert_eq!(again.joint("neck").unwrap().limits, Some([lower, upper]));
    assert_eq!(into(&out.text).text, out.text);
}

#[test]
fn what_a_urdf_cannot_hold_is_left_out_with_the_reason() {
    for (from, to, why) in [
        ("'revolute'", "'continuous'", WhyLeftOut::Continuous),
        ("'revolute'", "'fixed'", WhyLeftOut::Missing),
        ("name='neck'", "name='nek'", WhyLeftOut::Missing),
        ("effort=\"1\" lower", "lower", WhyLeftOut::NoLimit),
        ("<limit velocity=\"2\" ", "<limits velocity=\"2\" ", WhyLeftOut::NoLimit),
    ] {
        let out = into(&URDF.replacen(from, to, 1));
        assert_eq!(left_out(&out), [("neck", why), ("beak", WhyLeftOut::Unit)], "{to}");
        assert!(!out.text.contains("0.9599"), "{to}");
        assert!(why.to_string().len() > 20);
    }
}

#[test]
fn swapped_limits_and_other_xml_are_refused_with_their_place() {
    let mjcf = "<mujoco>\n<worldbody><body><joint name=\"neck\" range=\"2 1\"/></body></worldbody></mujoco>";
    for (xml, line, says) in [
        (
            URDF.replace("lower = \"-9\"", "lower = \"9.5\""),
            5,
            "lower is 9.5; it must be no more than the upper limit",
        ),
        (URDF.replace("</robot>", ""), 1, "no robot description"),
        (
            "<sdf/>".to_owned(),
            1,
            "the outermost element is sdf, neither robot (URDF) nor mujoco (MJCF)",
        ),
        (
            mjcf.to_owned(),
            2,
            "range is 2; it must be no more than the upper limit",
        ),
        (mjcf.replace("2 1", "2"), 2, "range is the text \"2\""),
        (mjcf.replace("2 1", "1 2 3"), 2, "range is the text \"1 2 3\""),
    ] {
        let error = robot().limits_into(&xml).unwrap_err();
        assert!(error.to_string().contains(says), "{error}");
        assert_eq!(error.line(), Some(line), "{error}");
    }
    // A joint that is held has two equal ends.
    assert!(robot().limits_into(&mjcf.replace("2 1", "1 1")).is_ok());
}

const MJCF: &str = r#"<mujoco model="heron"> <!-- degrees unless said otherwise -->
  <compiler autolimits="false"/>
  <default><joint damping="1"/><default class="sliding"><joint type="slide"/><default class="stiff"><joint damping="9"/></default></default></default>
  <worldbody>
    <body name="body"><joint name="neck" axis="0 0 1" range="-180 180" limited="false"/><geom size="1"/>
      <body name="lid" childclass="stiff"><joint name="lid"/><geom size="1"/></body>
      <body><joint name="beak" type="ball"/><geom size="1"/></body></body>
  </worldbody>
  <equality><joint name="neck" joint1="neck"/></equality>
</mujoco>
"#;

#[test]
fn mjcf_takes_degrees_radians_and_metres_as_its_compiler_and_classes_say() {
    let out = into(MJCF);
    let wanted = MJCF
        .replace(
            "range=\"-180 180\" limited=\"false\"",
            "range=\"-30 55\" limited=\"true\"",
        )
        .replace(
            "<joint name=\"lid\"/>",
            "<joint name=\"lid\" range=\"0 0.04\" limited=\"true\"/>",
        );
    assert_eq!(out.text, wanted);
    assert_eq!(left_out(&out), [("beak", WhyLeftOut::NoRange)]);
    assert_eq!(out.written[0].unit, Unit::Deg);

    let radians = MJCF.replace("<compiler ", "<compiler angle=\"radian\" ");
    let out = into(&radians);
    let [lower, upper] = [-30.0_f64, 55.0].map(f64::to_radians);
    assert!(
        out.text
            .contains(&format!("range=\"{lower} {upper}\" limited=\"true\"")),
        "{}",
        out.text
    );
    assert_eq!(out.written[0].unit, Unit::Rad);
    assert_eq!(into(&out.text).text, out.text);
    // The class decides that the lid slides: without it, it turns, and mm do not fit.
    let hinge = MJCF.replace("<joint type=\"slide\"/>", "");
    assert_eq!(
        left_out(&into(&hinge)),
        [("lid", WhyLeftOut::Unit), ("beak", WhyLeftOut::NoRange)]
    );
}
