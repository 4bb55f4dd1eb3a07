//! The unit of the commands of a linkage: a hinge takes degrees, a slide takes the unit of its lengths, and nothing else is computed
//! with as if it were that.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::Code;
use elbowroom::linkage::LinkageError;
use elbowroom::robot::{FileFault, Robot};

const TRIANGLE: &str = "kind = \"triangle\", base = 40, arm = 92, angle_at_zero = 31";
const FOUR_BAR: &str =
    "kind = \"four-bar\", crank = 20, coupler = 60, rocker = 30, ground = 60, rocker_at_zero = 80, branch = \"left\"";
const SPOOL: &str = "kind = \"spool\", drum = 10, per_turn = 0, pulley = 15";
const SLIDE: &str = "kind = \"slider-crank\", crank = 20, rod = 60, offset = 0, slide_at_zero = 45, branch = \"left\"";

fn robot(transmission: &str, unit: &str, command: &str) -> Result<Robot, elbowroom::robot::FileError> {
    Robot::parse(&format!(
        "format = 1\n[joint.beak]\n{unit}\ncommand = {command}\ndrive = [37, 122]\nrest = 1\ntransmission = {{ {transmission} }}\n\
         servo = {{ angle = [0, 180], pulse_us = [500, 2500] }}\ntimer = {{ frame_hz = 50, counts_per_frame = 4096 }}\n"
    ))
}

#[test]
fn a_linkage_takes_its_own_unit_and_refuses_another() {
    for (transmission, takes, others) in [
        (TRIANGLE, "deg", &["rad", "turn", "mm", "fraction", "percent"][..]),
        (FOUR_BAR, "deg", &["rad", "turn", "in", "fraction"]),
        (SPOOL, "deg", &["rad", "turn", "m", "percent"]),
        (SLIDE, "mm", &["deg", "rad", "turn", "fraction", "percent"]),
    ] {
        let command = "[0, 20]";
        robot(transmission, &format!("unit = \"{takes}\""), command).unwrap();
        // A word without a factor, or none at all, says nothing else.
        robot(transmission, "unit = \"grades\"", command).unwrap();
        robot(transmission, "", command).unwrap();
        for other in others {
            let refused = robot(transmission, &format!("unit = \"{other}\""), command).unwrap_err();
            assert_eq!(
                (refused.code(), refused.line()),
                (Code::ValueOutside, Some(3)),
                "{refused}"
            );
            assert!(matches!(refused.fault(), FileFault::LinkageUnit { .. }), "{refused:?}");
            let told = refused.to_string();
            assert!(told.contains(&format!("unit is \"{other}\"")), "{told}");
            let remedy = if takes == "deg" {
                "unit = \"deg\""
            } else {
                "unit of its lengths"
            };
            assert!(told.contains(remedy), "{told}");
        }
    }
}

/// In degrees the dead centre is seen; in radians the same joint would have hidden it at 0.54 deg of another place.
#[test]
fn no_unit_hides_a_dead_centre() {
    let refused = robot(TRIANGLE, "unit = \"deg\"", "[-57.3, 91.7]").unwrap_err();
    assert!(
        matches!(
            refused.fault(),
            FileFault::Joint(elbowroom::JointError::Linkage(LinkageError::DeadCentreInside { .. }))
        ),
        "{refused}"
    );
    let refused = robot(TRIANGLE, "unit = \"rad\"", "[-1, 1.6]").unwrap_err();
    assert!(matches!(refused.fault(), FileFault::LinkageUnit { .. }), "{refused}");
}

/// A change of the unit alone is refused, and so is a joint that is put in.
#[test]
fn no_change_leads_there() {
    let mut good = robot(TRIANGLE, "unit = \"deg\"", "[0, 90]").unwrap();
    assert!(good.set_value("joint.beak.unit", "rad").is_err());
    assert_eq!(good.joint("beak").unwrap().unit(), Some("deg"));
    let mut record = good.joint("beak").unwrap().record();
    record.unit = Some("turn".to_owned());
    assert!(good.put(&record).is_err());
}
