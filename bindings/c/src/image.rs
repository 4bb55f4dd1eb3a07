//! Blocks written: the images that firmware reads in place.

use crate::guard::guard;
use crate::joint::elb_joint;
use crate::pointer;
use crate::refusal::elb_error;
use crate::robot_joints::elb_robot;
use crate::status::elb_status;
use model::block::to_vec;
use std::ffi::c_char;

/// ---- Blocks written ----
///
/// Joints as one image for firmware, in single precision; the calls of the last section read it in place.
///
/// ----
///
/// Writes the block of the joints on one board.
///
/// - board: the board's name, UTF-8, ends with a NUL; NULL for all joints, if they share one.
/// - image: receives the block, `room` bytes.
/// - length: receives the length of the block, also when the room is too small.
/// - error: receives the details when the call fails.
///
/// Nullable: board; image if room is 0, to ask for the length alone; length; error. Errors: ELB_STATUS_NO_ROOM,
/// ELB_STATUS_BLOCK_FULL (too many joints), ELB_STATUS_OPTION_OUTSIDE (joints on several boards and
/// none named), ELB_STATUS_UNKNOWN_JOINT (none on this board), ELB_STATUS_MISSING_KEY (a joint without channel),
/// ELB_STATUS_CHANNEL_TWICE, ELB_STATUS_NOT_UTF8, and those of a joint's numbers where single precision cannot hold
/// them.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_robot_block(
    robot: *const elb_robot,
    board: *const c_char,
    image: *mut u8,
    room: usize,
    length: *mut usize,
    error: *mut elb_error,
) -> elb_status {
    guard(error, || {
        // SAFETY: the header's contract.
        let robot = unsafe { pointer::borrow("robot", robot)? };
        let board = if board.is_null() {
            None
        } else {
            // SAFETY: the header's contract.
            Some(unsafe { pointer::terminated("board", board)? })
        };
        let block = robot.robot.to_block(board)?;
        // SAFETY: the header's contract.
        unsafe { pointer::fill_image(&block, image, room, length) }
    })
}

/// Writes the block of one joint.
///
/// - channel: the board's output that it is wired to.
/// - image, length, error: as for elb_robot_block.
///
/// Nullable: image if room is 0, to ask for the length alone; length; error. Errors: ELB_STATUS_NO_ROOM, and those of a
/// joint's numbers where single precision cannot hold them.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_joint_block(
    joint: *const elb_joint,
    channel: u16,
    image: *mut u8,
    room: usize,
    length: *mut usize,
    error: *mut elb_error,
) -> elb_status {
    guard(error, || {
        // SAFETY: the header's contract.
        let joint = unsafe { pointer::borrow("joint", joint)? };
        let narrow = joint.joint.to_f32(channel)?;
        let block = to_vec(&[(channel, &narrow)])?;
        // SAFETY: the header's contract.
        unsafe { pointer::fill_image(&block, image, room, length) }
    })
}
