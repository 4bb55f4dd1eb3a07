//! The unit of a joint's commands.

use crate::handle::read;
use crate::robot_joints::elb_robot;
use crate::status::elb_status;
use model::{SiUnit, Unit};

/// The unit of a joint's commands and its factor to SI. Frozen at 16 bytes.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_unit {
    /// What one of it is in radians, metres or plain numbers, as `si` says; NaN where `code` is ELB_UNIT_NONE or ELB_UNIT_OTHER.
    pub to_si: f64,
    /// ELB_UNIT_...
    pub code: u32,
    /// ELB_SI_...
    pub si: u32,
}

const _: () = assert!(size_of::<elb_unit>() == 16);

/// Unit: the file names none.
pub const ELB_UNIT_NONE: u32 = 0;
/// Unit: degrees, "deg".
pub const ELB_UNIT_DEG: u32 = 1;
/// Unit: radians, "rad".
pub const ELB_UNIT_RAD: u32 = 2;
/// Unit: full turns, "turn".
pub const ELB_UNIT_TURN: u32 = 3;
/// Unit: millimetres, "mm".
pub const ELB_UNIT_MM: u32 = 4;
/// Unit: centimetres, "cm".
pub const ELB_UNIT_CM: u32 = 5;
/// Unit: metres, "m".
pub const ELB_UNIT_M: u32 = 6;
/// Unit: inches, "in".
pub const ELB_UNIT_INCH: u32 = 7;
/// Unit: parts of a whole, "fraction".
pub const ELB_UNIT_FRACTION: u32 = 8;
/// Unit: hundredths of a whole, "percent".
pub const ELB_UNIT_PERCENT: u32 = 9;
/// Unit: another word, which elb_robot_entry_at gives.
pub const ELB_UNIT_OTHER: u32 = 0xFFFF_FFFF;

/// A unit's factor leads to nothing: there is none.
pub const ELB_SI_NONE: u32 = 0;
/// A unit's factor leads to radians: the joint turns.
pub const ELB_SI_RADIAN: u32 = 1;
/// A unit's factor leads to metres: the joint slides.
pub const ELB_SI_METRE: u32 = 2;
/// A unit's factor leads to a plain number.
pub const ELB_SI_ONE: u32 = 3;

/// The numbers above are the core's.
const _: () = {
    assert!(ELB_UNIT_DEG == Unit::Deg.number() && ELB_UNIT_RAD == Unit::Rad.number());
    assert!(ELB_UNIT_TURN == Unit::Turn.number() && ELB_UNIT_MM == Unit::Mm.number());
    assert!(ELB_UNIT_CM == Unit::Cm.number() && ELB_UNIT_M == Unit::M.number());
    assert!(ELB_UNIT_INCH == Unit::Inch.number() && ELB_UNIT_FRACTION == Unit::Fraction.number());
    assert!(ELB_UNIT_PERCENT == Unit::Percent.number() && Unit::ALL.len() == 9);
    assert!(ELB_SI_RADIAN == SiUnit::Radian.number() && ELB_SI_METRE == SiUnit::Metre.number());
    assert!(ELB_SI_ONE == SiUnit::One.number());
};

/// The unit of a joint's commands as a number, with its factor to SI: commands times `to_si` are radians, metres or plain
/// numbers, and what a program in radians sends is divided by it.
///
/// - i: the joint's place in the file, counted from 0.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT if there are not so many joints.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_robot_unit_at(robot: *const elb_robot, i: usize, out: *mut elb_unit) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(robot, out, |robot| {
            let entry = robot.entry(i)?.1;
            let nothing = |code| elb_unit {
                to_si: f64::NAN,
                code,
                si: ELB_SI_NONE,
            };
            Ok(match (entry.known_unit(), entry.unit()) {
                (Some(unit), _) => elb_unit {
                    to_si: unit.to_si(),
                    code: unit.number(),
                    si: unit.si().number(),
                },
                (None, Some(_)) => nothing(ELB_UNIT_OTHER),
                (None, None) => nothing(ELB_UNIT_NONE),
            })
        })
    }
}
