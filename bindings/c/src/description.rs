//! Robot descriptions beside a robot file: URDF as a second opinion, measured limits written into URDF and MJCF.

use crate::findings::elb_findings;
use crate::handle::{self, Handle, read};
use crate::pointer;
use crate::refusal::{Refusal, elb_error};
use crate::robot_joints::elb_robot;
use crate::status::elb_status;
use crate::text::c_text;
use crate::text::day;
use model::robot::{Check, LimitsOut, Urdf};
use std::ffi::{CString, c_char};
use std::ptr::null;

/// A robot description with the limits of a robot in it. Immutable: any number of threads may read it at once.
#[derive(Debug)]
pub struct elb_description {
    text: CString,
    joints: Vec<Texts>,
}

impl Handle for elb_description {
    const WHAT: &'static str = "description";
}

/// A joint with its texts as C wants them.
#[derive(Debug)]
struct Texts {
    joint: CString,
    why: Option<CString>,
    limits: [f64; 2],
    unit: u32,
}

impl From<LimitsOut> for elb_description {
    fn from(out: LimitsOut) -> Self {
        let written = out.written.iter().map(|joint| Texts {
            joint: c_text(&joint.joint),
            why: None,
            limits: joint.limits,
            unit: joint.unit.number(),
        });
        let left_out = out.left_out.iter().map(|left| Texts {
            joint: c_text(&left.joint),
            why: Some(c_text(&left.why)),
            limits: [f64::NAN; 2],
            unit: 0,
        });
        Self {
            text: c_text(&out.text),
            joints: written.chain(left_out).collect(),
        }
    }
}

/// What became of one joint's limits. Texts live as long as the description. Frozen.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_description_joint {
    /// The joint's name.
    pub joint: *const c_char,
    /// Why its limits were not written; NULL if they were.
    pub left_out: *const c_char,
    /// The lower limit as it was written, in `unit`; NaN if it was not.
    pub lower: f64,
    /// The upper limit.
    pub upper: f64,
    /// ELB_UNIT_RAD, ELB_UNIT_DEG or ELB_UNIT_M; 0 if nothing was written.
    pub unit: u32,
    /// Always 0.
    pub reserved: u32,
}

const _: () = assert!(size_of::<elb_description_joint>() == 2 * size_of::<usize>() + 24);

/// ---- Robot descriptions ----
///
/// Planners and simulators read how far a joint goes from URDF or MJCF. Here such a file is compared with a robot, and the measured limits are
/// written into it.
///
/// ----
///
/// Checks a robot by every rule, those about a URDF file included: elb_robot_check with a second opinion.
///
/// - today: as for elb_robot_check.
/// - urdf: the text of the URDF file, UTF-8, `length` bytes; need not end with a NUL.
/// - out: receives the findings; free them with elb_findings_free.
/// - error: receives the details when the call fails, with line and column of the URDF file.
///
/// Nullable: today, error. Errors: as elb_robot_check, ELB_STATUS_FILE_SYNTAX for what is not a URDF, ELB_STATUS_WRONG_TYPE and
/// ELB_STATUS_VALUE_OUTSIDE for its numbers.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_robot_check_urdf(
    robot: *const elb_robot,
    today: *const c_char,
    urdf: *const c_char,
    length: usize,
    out: *mut *mut elb_findings,
    error: *mut elb_error,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        handle::make(out, error, || {
            let (robot, urdf) = (pointer::borrow("robot", robot)?, pointer::text("urdf", urdf, length)?);
            let urdf = Urdf::parse(urdf)?;
            let mut check = Check::new().against(&urdf);
            if let Some(today) = day(today)? {
                check = check.on(today);
            }
            Ok(elb_findings::from(check.run(&robot.robot)))
        })
    }
}

/// Writes the limits of a robot's joints into the text of a URDF or MJCF file; which of them, its outermost element says.
///
/// A joint's limits are its travel in commands, limited to its command range: in rad or m in URDF, in MJCF in deg or rad as its compiler
/// element states, or m, with limited="true". Joints are found by name. Only these attributes change: order, comments and all
/// else stay. Files that MJCF includes are not followed.
///
/// - text: the file, UTF-8, `length` bytes; need not end with a NUL.
/// - out: receives the new text and what became of each joint; free it with elb_description_free.
/// - error: receives the details when the call fails, with line and column.
///
/// Nullable: error. Errors: ELB_STATUS_NOT_UTF8, ELB_STATUS_FILE_SYNTAX for what is neither, ELB_STATUS_WRONG_TYPE for what is not a
/// number, ELB_STATUS_VALUE_OUTSIDE for limits that are swapped there.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_robot_limits_into(
    robot: *const elb_robot,
    text: *const c_char,
    length: usize,
    out: *mut *mut elb_description,
    error: *mut elb_error,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        handle::make(out, error, || {
            let (robot, text) = (pointer::borrow("robot", robot)?, pointer::text("text", text, length)?);
            Ok(robot.robot.limits_into(text)?.into())
        })
    }
}

/// Frees a description. It must be freed once, and never while it is in use.
///
/// Nullable: description (nothing happens).
#[unsafe(no_mangle)]
pub unsafe extern "C" fn elb_description_free(description: *mut elb_description) {
    // SAFETY: the header's contract.
    unsafe { handle::free(description) }
}

/// The text with the limits in it.
///
/// - out: receives a text that lives as long as the description.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_description_text(
    description: *const elb_description,
    out: *mut *const c_char,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(description, out, |description| Ok(description.text.as_ptr())) }
}

/// How many joints the robot has: first those whose limits were written, then those that were left out.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_description_joint_count(
    description: *const elb_description,
    out: *mut usize,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(description, out, |description| Ok(description.joints.len())) }
}

/// What became of one joint.
///
/// - i: 0 to elb_description_joint_count - 1.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_description_joint_at(
    description: *const elb_description,
    i: usize,
    out: *mut elb_description_joint,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(description, out, |description| {
            let joint = description
                .joints
                .get(i)
                .ok_or(Refusal::Absent("there are fewer joints"))?;
            let [lower, upper] = joint.limits;
            Ok(elb_description_joint {
                joint: joint.joint.as_ptr(),
                left_out: joint.why.as_ref().map_or(null(), |why| why.as_ptr()),
                lower,
                upper,
                unit: joint.unit,
                reserved: 0,
            })
        })
    }
}
