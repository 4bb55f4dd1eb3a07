//! From the text of a robot file to checked joints, and back into the file.

mod line_ends;
pub(super) mod lock;
mod merge;
mod origin;

pub(super) use line_ends::as_in;
pub(super) use origin::{Keeps, Origin};
pub use origin::{Saved, earlier_path};

pub(super) mod evidence;

use std::borrow::ToOwned;
use std::collections::HashMap;
use std::fs::File;
use std::io::{self, Read as _};
use std::path::Path;
use std::string::String;
use std::vec::Vec;

use super::entry::{Assumed, Board, JointEntry};
use super::error::{FileError, FileFault};
use super::parse::parsed;
use super::reader::Section;
use super::settings::CheckSettings;
use super::{FORMAT, LONGEST_TEXT, Robot, feedback, keys, transmission};
use crate::error::JointError;
use crate::joint::Joint;
use crate::linkage::MechanismKind;
use crate::record::{JointRecord, ServoRecord, TimerRecord};

const SERVO_EXAMPLE: &str = "servo = { angle = [0, 180], pulse_us = [500, 2500] }";
const TIMER_EXAMPLE: &str = "timer = { frame_hz = 50, counts_per_frame = 4096 }";

/// The text of a file, never more of it than is read.
pub(super) fn read_text(path: &Path) -> Result<String, FileError> {
    let access = |error: io::Error| FileError::access("read", &error, path);
    let mut bytes = Vec::new();
    let file = File::open(path).map_err(access)?;
    let most = LONGEST_TEXT as u64 + 1;
    file.take(most).read_to_end(&mut bytes).map_err(access)?;
    // A longer one may be cut in the middle of a character.
    if bytes.len() > LONGEST_TEXT {
        return Err(FileError::new(FileFault::TooLong).in_file(path));
    }
    text_of(bytes, path)
}

/// The text that these bytes of a file are.
pub(super) fn text_of(bytes: Vec<u8>, path: &Path) -> Result<String, FileError> {
    String::from_utf8(bytes).map_err(|error| {
        let refused = FileError::not_utf8(error.as_bytes());
        refused
            .unwrap_or_else(|| FileError::new(FileFault::NotUtf8 { byte: 0 }))
            .in_file(path)
    })
}

pub(super) fn read(text: &str) -> Result<Robot, FileError> {
    if text.len() > LONGEST_TEXT {
        return Err(FileError::new(FileFault::TooLong));
    }
    let document = parsed(text)?;
    let top = Section::top(document.as_table());
    check_format(&top)?;
    top.only(keys::TOP.names)?;

    let defaults = Defaults {
        servo: ServoParts::read(&top)?,
        timer: TimerParts::read(&top)?,
    };
    let boards = read_boards(&top, &defaults)?;
    let lines = LineStarts::of(text);
    let mut joints = Vec::new();
    if let Some(table) = top.section("joint", "[joint.wing_left]")? {
        for (name, section) in table.sections("[joint.wing_left]")? {
            let section = section.of_joint(name);
            check_name(name, &section)?;
            joints.push(read_joint(name, [&section, &top], &defaults, &boards, &lines)?);
        }
    }
    let index: HashMap<String, usize> = joints
        .iter()
        .enumerate()
        .map(|(at, j)| (j.name().to_owned(), at))
        .collect();
    let settings = CheckSettings::read(&top, &joints)?;
    Ok(Robot {
        name: top.line("name", "name = \"heron\"")?.map(ToOwned::to_owned),
        joints,
        index,
        boards: boards.into_iter().map(|(board, _)| board).collect(),
        settings,
        servo: defaults.servo.record(),
        timer: defaults.timer.record(),
        text: text.to_owned(),
        origin: Origin::default(),
    })
}

fn check_format(top: &Section<'_>) -> Result<(), FileError> {
    const EXAMPLE: &str = "format = 1";
    let must = "1, the format this version writes";
    let format: i64 = top.need("format", EXAMPLE, top.whole("format", EXAMPLE, must)?)?;
    if format > FORMAT {
        return Err(top.fault_at("format", FileFault::FormatTooNew { found: format }));
    }
    if format < 1 {
        let fault = FileFault::ValueOutside {
            key: "format".to_owned(),
            value: format as f64,
            must,
        };
        return Err(top.fault_at("format", fault));
    }
    Ok(())
}

/// Names travel into C strings, firmware blocks and file names.
const LONGEST_NAME: usize = 64;

/// Refuses what cannot be the name of a joint: the one rule for names, in a robot file and outside of one.
///
/// # Errors
/// [`FileError`], without a place, for a name that is blank, longer than 64 bytes, or holds a control character.
///
/// ```
/// use elbowroom::robot::check_joint_name;
/// assert!(check_joint_name("wing_left").is_ok());
/// let sentence = check_joint_name("").unwrap_err().to_string();
/// assert_eq!(sentence, "the joint's name is \"\"; give 1 to 64 bytes without control characters, e.g. wing_left");
/// ```
pub fn check_joint_name(name: &str) -> Result<(), FileError> {
    name_fault(name).map_or(Ok(()), |fault| Err(FileError::new(fault)))
}

fn name_fault(name: &str) -> Option<FileFault> {
    let is_usable = !name.trim().is_empty() && name.len() <= LONGEST_NAME && !name.chars().any(char::is_control);
    (!is_usable).then(|| FileFault::UnusableName { name: name.to_owned() })
}

fn check_name(name: &str, section: &Section<'_>) -> Result<(), FileError> {
    name_fault(name).map_or(Ok(()), |fault| Err(section.fault_here(fault)))
}

struct Defaults {
    servo: ServoParts,
    timer: TimerParts,
}

/// What one level of the file says of a servo; the rest comes from the level above.
#[derive(Clone, Copy, Default)]
struct ServoParts {
    angle: Option<[f64; 2]>,
    pulse_us: Option<[f64; 2]>,
    /// Nobody gave what this level says.
    assumed: bool,
}

impl ServoParts {
    fn read(section: &Section<'_>) -> Result<Self, FileError> {
        let Some(servo) = section.section("servo", SERVO_EXAMPLE)? else {
            return Ok(Self::default());
        };
        servo.only(keys::SERVO.names)?;
        Ok(Self {
            angle: servo.pair("angle", "angle = [0, 180]")?,
            pulse_us: servo.pair("pulse_us", "pulse_us = [500, 2500]")?,
            assumed: servo.flag("assumed")?.unwrap_or(false),
        })
    }

    fn or(self, above: Self) -> Self {
        Self {
            angle: self.angle.or(above.angle),
            pulse_us: self.pulse_us.or(above.pulse_us),
            assumed: self.assumed || (self.record().is_none() && above.assumed),
        }
    }

    fn record(self) -> Option<ServoRecord<f64>> {
        let (angle, pulse_us) = (self.angle?, self.pulse_us?);
        Some(ServoRecord { angle, pulse_us })
    }
}

#[derive(Clone, Copy, Default)]
struct TimerParts {
    frame_hz: Option<f64>,
    counts_per_frame: Option<u32>,
    /// Nobody gave what this level says.
    assumed: bool,
}

impl TimerParts {
    fn read(section: &Section<'_>) -> Result<Self, FileError> {
        let Some(timer) = section.section("timer", TIMER_EXAMPLE)? else {
            return Ok(Self::default());
        };
        timer.only(keys::TIMER.names)?;
        Ok(Self {
            frame_hz: timer.number("frame_hz", "frame_hz = 50")?,
            counts_per_frame: timer.whole(
                "counts_per_frame",
                "counts_per_frame = 4096",
                "a whole number above zero",
            )?,
            assumed: timer.flag("assumed")?.unwrap_or(false),
        })
    }

    fn or(self, above: Self) -> Self {
        Self {
            frame_hz: self.frame_hz.or(above.frame_hz),
            counts_per_frame: self.counts_per_frame.or(above.counts_per_frame),
            assumed: self.assumed || (self.record().is_none() && above.assumed),
        }
    }

    fn record(self) -> Option<TimerRecord<f64>> {
        let (frame_hz, counts_per_frame) = (self.frame_hz?, self.counts_per_frame?);
        Some(TimerRecord {
            frame_hz,
            counts_per_frame,
        })
    }
}

fn read_boards(top: &Section<'_>, defaults: &Defaults) -> Result<Vec<(Board, TimerParts)>, FileError> {
    let Some(table) = top.section("board", "[board.breast]")? else {
        return Ok(Vec::new());
    };
    let mut boards = Vec::new();
    for (name, section) in table.sections("[board.breast]")? {
        section.only(keys::BOARD.names)?;
        let channels = section.whole("channels", "channels = 16", "0 to 65535")?;
        let timer = TimerParts::read(&section)?.or(defaults.timer);
        boards.push((
            Board {
                name: name.to_owned(),
                channels,
                timer: timer.record(),
            },
            timer,
        ));
    }
    Ok(boards)
}

fn read_joint(
    name: &str,
    [section, top]: [&Section<'_>; 2],
    defaults: &Defaults,
    boards: &[(Board, TimerParts)],
    lines: &LineStarts,
) -> Result<JointEntry, FileError> {
    section.only(keys::JOINT.names)?;
    let board = section.text("board", "board = \"breast\"")?;
    let above = boards
        .iter()
        .find(|(known, _)| Some(known.name()) == board)
        .map_or(defaults.timer, |(_, timer)| *timer);
    let servo = ServoParts::read(section)?.or(defaults.servo);
    let timer = TimerParts::read(section)?.or(above);

    let need_pair = |key: &'static str, example| section.need(key, example, section.pair(key, example)?);
    let record = JointRecord {
        inverted: section.flag("inverted")?.unwrap_or(false),
        travel: section.pair("travel", "travel = [40.2, 119]")?,
        max_rate_per_s: section.number("max_rate_per_s", "max_rate_per_s = 60")?,
        feedback: feedback::read(section)?,
        transmission: transmission::read(section)?,
        ..JointRecord::new(
            need_pair("command", "command = [-40, 60]")?,
            need_pair("drive", "drive = [37, 122]")?,
            section.need("rest", "rest = 10", section.number("rest", "rest = 10")?)?,
            ServoRecord {
                angle: section.need("servo.angle", SERVO_EXAMPLE, servo.angle)?,
                pulse_us: section.need("servo.pulse_us", SERVO_EXAMPLE, servo.pulse_us)?,
            },
            TimerRecord {
                frame_hz: section.need("timer.frame_hz", TIMER_EXAMPLE, timer.frame_hz)?,
                counts_per_frame: section.need("timer.counts_per_frame", TIMER_EXAMPLE, timer.counts_per_frame)?,
            },
        )
    };
    let joint = Joint::new(record).map_err(|error| {
        // Servo and timer may stand above the joint, the timer at its board.
        let own_board = board_table(top, board);
        let tables = [Some(section), own_board.as_ref(), Some(top)];
        section.fault_of(tables.into_iter().flatten(), key_of(&error), FileFault::Joint(error))
    })?;
    let unit = section.text("unit", "unit = \"deg\"")?;
    if let (Some(unit), Some(kind)) = (unit, MechanismKind::of_word(joint.transmission().kind()))
        && !kind.takes(unit)
    {
        let fault = FileFault::LinkageUnit {
            kind: kind.word,
            unit: unit.to_owned(),
            takes: kind.command,
        };
        return Err(section.fault_at("unit", fault));
    }
    Ok(JointEntry {
        name: name.to_owned(),
        board: board.map(ToOwned::to_owned),
        channel: section.whole("channel", "channel = 3", "0 to 65535")?,
        unit: unit.map(ToOwned::to_owned),
        mirror_of: section
            .text("mirror_of", "mirror_of = \"wing_right\"")?
            .map(ToOwned::to_owned),
        joint,
        evidence: evidence::read(section)?,
        history: evidence::read_history(section)?,
        assumed: Assumed {
            servo: servo.assumed,
            timer: timer.assumed,
        },
        line: lines.line_of(section.start()),
    })
}

/// The table of a board that was read before.
fn board_table<'a>(top: &Section<'a>, name: Option<&str>) -> Option<Section<'a>> {
    let boards = top.section("board", "[board.breast]").ok()??;
    boards.section(name?, "[board.breast]").ok()?
}

/// The key of a joint's table, or of one above it, that an error of its numbers is about.
fn key_of(error: &JointError) -> &'static str {
    match *error {
        JointError::NotFinite { what, .. }
        | JointError::EndsSwapped { what, .. }
        | JointError::ZeroWidth { what, .. }
        | JointError::OutsideServo { what, .. }
        | JointError::NotPositive { what, .. } => what.split(['.', ' ']).next().unwrap_or(what),
        JointError::RestOutside { .. } => "rest",
        JointError::TravelDisjoint { .. } | JointError::NoCountInTravel { .. } => "travel",
        JointError::CountsOutside { .. } | JointError::FrameRateExtreme { .. } => "timer",
        JointError::PulseBeyondFrame { .. } | JointError::PulseInMilliseconds { .. } => "servo",
        JointError::Curve(_) | JointError::CurveEnd { .. } | JointError::Linkage(_) => "transmission",
        JointError::Feedback(_) => "feedback",
    }
}

/// Where the lines of a text start, to find the line of many bytes.
struct LineStarts(Vec<usize>);

impl LineStarts {
    fn of(text: &str) -> Self {
        Self(text.match_indices('\n').map(|(at, _)| at + 1).collect())
    }

    fn line_of(&self, byte: usize) -> usize {
        self.0.partition_point(|&start| start <= byte) + 1
    }
}
