//! Robot files and their joints.

use crate::fit::elb_fit;
use crate::guard::{guard, guard_telling};
use crate::handle::{self, read};
use crate::joint::elb_joint;
use crate::joint_config::elb_joint_config;
use crate::pointer;
use crate::refusal::{Refusal, elb_error};
use crate::robot_joints::{Missed, elb_robot, place};
use crate::running::elb_session;
use crate::status::elb_status;
use crate::text::day;
use model::Joint;
use model::bring_up::Outcome;
use model::robot::{AdoptError, EntryRecord, FileError, MapChoice, Refit, Robot};
use std::ffi::{CString, c_char};
use std::ptr::{null, null_mut};

/// What a robot file holds about a joint besides its numbers. Texts live as long as the robot. Frozen.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct elb_robot_entry {
    /// Its name.
    pub name: *const c_char,
    /// The board that makes its pulses; NULL if the file does not name it.
    pub board: *const c_char,
    /// The unit of its commands; NULL if the file does not name it.
    pub unit: *const c_char,
    /// The joint on the other side that it mirrors; NULL if none.
    pub mirror_of: *const c_char,
    /// The board's output that it is wired to, or ELB_NO_CHANNEL.
    pub channel: u32,
    /// The line of the file where it begins, counted from 1.
    pub line: u32,
}

const _: () = assert!(size_of::<elb_robot_entry>() == 4 * size_of::<usize>() + 8);

/// The channel of a joint whose robot file names none.
pub const ELB_NO_CHANNEL: u32 = 0xFFFF_FFFF;

fn pointer_of(text: Option<&CString>) -> *const c_char {
    text.map_or(null(), |text| text.as_ptr())
}

/// The body of the calls that make a robot in which what is written down of one joint has changed.
unsafe fn with_change(
    robot: *const elb_robot,
    name: *const c_char,
    out: *mut *mut elb_robot,
    error: *mut elb_error,
    change: impl FnOnce(&mut EntryRecord) -> Result<(), Refusal>,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        handle::make(out, error, || {
            let (robot, name) = (pointer::borrow("robot", robot)?, pointer::terminated("name", name)?);
            let mut record = robot.robot.expect_joint(name)?.record();
            change(&mut record)?;
            let mut changed = robot.robot.clone();
            changed.put(&record)?;
            Ok(elb_robot::from(changed))
        })
    }
}

/// ---- Robot files ----
///
/// Many joints in one text that people edit (TOML). Reading it refuses what is not TOML, a key or word that is not known, and
/// every joint that elb_joint_new would refuse. Two joints on one channel, a rest outside the travel, a travel beyond a stop
/// and all else that contradicts the rest of the file or its evidence is read, and found by elb_robot_check.
///
/// ----
///
/// Reads the text of a robot file.
///
/// - text: UTF-8, `length` bytes; need not end with a NUL.
/// - out: receives the robot; free it with elb_robot_free.
/// - error: receives the details when the call fails, with line and column.
///
/// Nullable: text if length is 0; error. Errors: ELB_STATUS_NOT_UTF8, the statuses of robot files (50 to 79), those of
/// a joint's numbers (10 to 29).
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_robot_parse(
    text: *const c_char,
    length: usize,
    out: *mut *mut elb_robot,
    error: *mut elb_error,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        handle::make(out, error, || {
            let bytes = pointer::array("text", text.cast::<u8>(), length)?;
            let text = std::str::from_utf8(bytes);
            let text = text.map_err(|error| {
                let at = error.valid_up_to();
                FileError::not_utf8(bytes).map_or(Refusal::Utf8 { what: "text", at }, Refusal::from)
            })?;
            Ok(Robot::parse(text)?.into())
        })
    }
}

/// Reads a robot file from disk.
///
/// - path: its name, UTF-8, ends with a NUL.
/// - out: receives the robot; free it with elb_robot_free.
/// - error: receives the details when the call fails, with file, line and column.
///
/// Nullable: error. Errors: as elb_robot_parse, and ELB_STATUS_FILE_ACCESS.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_robot_load(
    path: *const c_char,
    out: *mut *mut elb_robot,
    error: *mut elb_error,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        handle::make(out, error, || {
            Ok(Robot::load(pointer::terminated("path", path)?)?.into())
        })
    }
}

/// Writes a robot to disk, so that at every moment the file is the old one or the new one, whole, and so that nothing is lost
/// that others wrote since this robot was loaded from there: other joints of theirs are kept in the file; a change of the same joint
/// is refused. A robot that was not loaded from this path replaces what stands there. The file keeps its line ends, owner and
/// permissions. A lock, .NAME.lock beside the file, is held meanwhile.
///
/// - path: the file's name, UTF-8, ends with a NUL.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors, after which the file is untouched: ELB_STATUS_FILE_CHANGED, with what was changed;
/// ELB_STATUS_FILE_ACCESS, also if another process holds the lock for ten seconds; ELB_STATUS_NOT_UTF8.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_robot_save(
    robot: *const elb_robot,
    path: *const c_char,
    error: *mut elb_error,
) -> elb_status {
    guard(error, || {
        // SAFETY: the header's contract.
        let (robot, path) = unsafe { (pointer::borrow("robot", robot)?, pointer::terminated("path", path)?) };
        robot.robot.save(path)?;
        Ok(())
    })
}

/// Frees a robot and the joints and texts that belong to it. It must be freed once, and never while it is in use.
///
/// Nullable: robot (nothing happens).
#[unsafe(no_mangle)]
pub unsafe extern "C" fn elb_robot_free(robot: *mut elb_robot) {
    // SAFETY: the header's contract.
    unsafe { handle::free(robot) }
}

/// The robot's name.
///
/// - out: receives a text that lives as long as the robot.
///
/// Errors: ELB_STATUS_ABSENT if the file gives none.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_robot_name(robot: *const elb_robot, out: *mut *const c_char) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(robot, out, |robot| match &robot.name {
            Some(name) => Ok(name.as_ptr()),
            None => Err(Refusal::Absent("the robot has no name")),
        })
    }
}

/// The text of the robot file, with every comment where it was.
///
/// - out: receives a text that lives as long as the robot.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_robot_text(robot: *const elb_robot, out: *mut *const c_char) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(robot, out, |robot| Ok(robot.text.as_ptr())) }
}

/// How many joints a robot has.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_robot_joint_count(robot: *const elb_robot, out: *mut usize) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(robot, out, |robot| Ok(robot.robot.joints().len())) }
}

/// The joint of a name. elb_robot_find gives its place, and the nearest name where there is none such.
///
/// - name: UTF-8, ends with a NUL.
/// - out: receives the joint, which lives as long as the robot.
///
/// Errors: ELB_STATUS_UNKNOWN_JOINT, ELB_STATUS_NOT_UTF8.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_robot_joint(
    robot: *const elb_robot,
    name: *const c_char,
    out: *mut *const elb_joint,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        guard_telling(null_mut(), || {
            let robot = pointer::borrow("robot", robot)?;
            pointer::check("out", out)?;
            let (entry, _) = robot.entry(place(robot, name)?)?;
            pointer::put(out, &raw const entry.joint);
            Ok::<(), Missed<'_>>(())
        })
    }
}

/// One joint of a robot, in file order.
///
/// - i: 0 to elb_robot_joint_count - 1.
/// - out: receives the joint, which lives as long as the robot.
///
/// Errors: ELB_STATUS_ABSENT.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_robot_joint_at(
    robot: *const elb_robot,
    i: usize,
    out: *mut *const elb_joint,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe { read(robot, out, |robot| Ok(&raw const robot.entry(i)?.0.joint)) }
}

/// What the file holds about one joint besides its numbers: name, board, channel, unit.
///
/// - i: 0 to elb_robot_joint_count - 1.
/// - out: receives it.
///
/// Errors: ELB_STATUS_ABSENT.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_robot_entry_at(
    robot: *const elb_robot,
    i: usize,
    out: *mut elb_robot_entry,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        read(robot, out, |robot| {
            let (entry, joint) = robot.entry(i)?;
            Ok(elb_robot_entry {
                name: entry.name.as_ptr(),
                board: pointer_of(entry.board.as_ref()),
                unit: pointer_of(entry.unit.as_ref()),
                mirror_of: pointer_of(entry.mirror_of.as_ref()),
                channel: joint.channel().map_or(ELB_NO_CHANNEL, u32::from),
                line: u32::try_from(joint.line()).unwrap_or(u32::MAX),
            })
        })
    }
}

/// Makes a robot in which one joint has other numbers, or which has one joint more; comments and order stay.
///
/// - robot: the robot to begin with; it stays as it is.
/// - name: the joint's name, UTF-8, ends with a NUL. A name that is not there yet is added.
/// - config: the joint's numbers.
/// - out: receives the new robot; free it with elb_robot_free.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors: as elb_robot_parse and elb_joint_new.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_robot_with_joint(
    robot: *const elb_robot,
    name: *const c_char,
    config: *const elb_joint_config,
    out: *mut *mut elb_robot,
    error: *mut elb_error,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        handle::make(out, error, || {
            let (robot, name) = (pointer::borrow("robot", robot)?, pointer::terminated("name", name)?);
            let config = pointer::read_sized(config)?;
            let numbers = config.record()?;
            // Refused here by the names of its fields in C; a robot file has its own.
            Joint::new(numbers.clone())?;
            let record = match robot.robot.joint(name) {
                Some(entry) => {
                    let mut record = entry.record();
                    record.joint = numbers;
                    record
                }
                None => EntryRecord::new(name, numbers),
            };
            let mut changed = robot.robot.clone();
            changed.put(&record)?;
            Ok(elb_robot::from(changed))
        })
    }
}

/// What readings do to the map from command to drive angle: nothing; readings that contradict the map are refused.
pub const ELB_MAP_JUDGED: u32 = 0;
/// Nothing, though the readings contradict it.
pub const ELB_MAP_KEPT: u32 = 1;
/// The line of the readings replaces it, for a joint that was repaired: drive range, direction, travel and rest follow the readings.
pub const ELB_MAP_ADOPTED: u32 = 2;

/// Makes a robot in which one joint has travel and evidence of a fit; its other numbers, comments and order stay.
///
/// The readings of the fit are of this joint: drive angles in deg, measured values in the unit of its commands. Values that look like
/// another unit (deg for rad, pulse widths for drive angles) are refused. The result of a sense test stays with the day on which it was
/// made.
///
/// - robot: the robot to begin with; it stays as it is.
/// - name: the joint's name, UTF-8, ends with a NUL.
/// - fit: limits found of that joint, along the drive angle.
/// - today: the day on which the readings were taken, "2026-11-20", ends with a NUL. NULL: not given.
/// - map: ELB_MAP_...: what happens to the map from command to drive angle.
/// - out: receives the new robot; free it with elb_robot_free.
/// - error: receives the details when the call fails.
///
/// Nullable: today, error. Errors: ELB_STATUS_ABSENT if the fit left no travel, ELB_STATUS_MAP_CONTRADICTED,
/// ELB_STATUS_OPTION_OUTSIDE for another unit, ELB_STATUS_UNKNOWN_VALUE, ELB_STATUS_UNKNOWN_JOINT, ELB_STATUS_WRONG_TYPE for what is
/// not a day, ELB_STATUS_NOT_UTF8, and those of a joint's numbers.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_robot_with_fit(
    robot: *const elb_robot,
    name: *const c_char,
    fit: *const elb_fit,
    today: *const c_char,
    map: u32,
    out: *mut *mut elb_robot,
    error: *mut elb_error,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        with_change(robot, name, out, error, |record| {
            let (fit, today) = (pointer::borrow("fit", fit)?, day(today)?);
            let refit = Refit::new(&fit.fit);
            let taken = match chosen(map)? {
                MapChoice::Kept => record.keep_map(&refit, today),
                MapChoice::Adopted => record.adopt_fit(&refit, today),
                _ => record.put_fit(&refit, today),
            };
            taken.map_err(|error| match error {
                AdoptError::NoTravel => {
                    Refusal::Absent("guard margin and uncertainty leave no travel; the robot is unchanged: reduce the guard margin or take more readings near the stops")
                }
                error => Refusal::Adopt(error),
            })
        })
    }
}

/// What is asked for by ELB_MAP_....
fn chosen(map: u32) -> Result<MapChoice, Refusal> {
    match map {
        ELB_MAP_JUDGED => Ok(MapChoice::Judged),
        ELB_MAP_KEPT => Ok(MapChoice::Kept),
        ELB_MAP_ADOPTED => Ok(MapChoice::Adopted),
        other => Err(Refusal::Value {
            what: "map",
            given: other.into(),
            right: "ELB_MAP_JUDGED, ELB_MAP_KEPT or ELB_MAP_ADOPTED",
        }),
    }
}

/// Makes a robot in which one joint has travel and evidence of a bring-up; its other numbers, comments and order stay.
///
/// Readings of the joint's own sensor are compared with the joint by the feedback in the file, and not where it has none; typed ones are
/// in the unit of its commands. Where they contradict the joint, nothing is written until `map` says what becomes of its map.
///
/// - robot: the robot to begin with; it stays as it is.
/// - name: the joint's name, UTF-8, ends with a NUL.
/// - session: a bring-up of that joint that found it ready.
/// - today: the day of the bring-up, "2026-11-20", ends with a NUL. NULL: not given.
/// - map: ELB_MAP_...: what happens to the map from command to drive angle.
/// - out: receives the new robot; free it with elb_robot_free.
/// - error: receives the details when the call fails.
///
/// Nullable: today, error. Errors: ELB_STATUS_ABSENT if the bring-up is not done or did not find the joint ready,
/// ELB_STATUS_MAP_CONTRADICTED, ELB_STATUS_OPTION_OUTSIDE for another unit, ELB_STATUS_UNKNOWN_VALUE, ELB_STATUS_UNKNOWN_JOINT,
/// ELB_STATUS_WRONG_TYPE for what is not a day, ELB_STATUS_NOT_UTF8, and those of a joint's numbers.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_robot_with_session(
    robot: *const elb_robot,
    name: *const c_char,
    session: *const elb_session,
    today: *const c_char,
    map: u32,
    out: *mut *mut elb_robot,
    error: *mut elb_error,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        with_change(robot, name, out, error, |record| {
            let (session, today) = (pointer::borrow("session", session)?, day(today)?);
            let map = chosen(map)?;
            let outcome = session.session.outcome();
            let (Some(outcome), Some(limits)) = (outcome, outcome.and_then(Outcome::limits)) else {
                return Err(Refusal::Absent(
                    "the bring-up has not found the joint ready; the robot is unchanged: remove what elb_session_prompt names and bring the joint up again",
                ));
            };
            let put = record.put_bring_up(outcome, &Refit::new(&limits), map, today);
            put.map(drop).map_err(Refusal::Adopt)
        })
    }
}

/// Makes a robot without one of its joints.
///
/// - robot: the robot to begin with; it stays as it is.
/// - name: the joint's name, UTF-8, ends with a NUL.
/// - out: receives the new robot; free it with elb_robot_free.
/// - error: receives the details when the call fails.
///
/// Nullable: error. Errors: ELB_STATUS_UNKNOWN_JOINT, ELB_STATUS_NOT_UTF8.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_robot_without_joint(
    robot: *const elb_robot,
    name: *const c_char,
    out: *mut *mut elb_robot,
    error: *mut elb_error,
) -> elb_status {
    // SAFETY: the header's contract.
    unsafe {
        handle::make(out, error, || {
            let (robot, name) = (pointer::borrow("robot", robot)?, pointer::terminated("name", name)?);
            let mut changed = robot.robot.clone();
            changed.remove(name)?;
            Ok(elb_robot::from(changed))
        })
    }
}
