//! Robot files: many joints in one text that people edit, checked when read and kept as it is when written.
//!
//! ```
//! use elbowroom::robot::Robot;
//! let mut robot = Robot::parse(
//! r#"format = 1
//! name = "heron"
//! timer = { frame_hz = 50, counts_per_frame = 4096 }
//! servo = { angle = [0, 180], pulse_us = [500, 2500] }
//!
//! [joint.wing_left]   # the one that squeaks
//! command = [-40, 60]
//! drive = [37, 122]
//! rest = 10
//! "#)?;
//! let wing = robot.joint("wing_left").unwrap();
//! assert_eq!(wing.joint().counts(10.0).unwrap().value, 283);
//!
//! let mut record = wing.record();
//! record.joint.travel = Some([40.2, 119.0]);
//! robot.put(&record)?;
//! assert!(robot.to_toml().contains("travel = [40.2, 119]"));
//! assert!(robot.to_toml().contains("# the one that squeaks"));
//! # Ok::<(), elbowroom::robot::FileError>(())
//! ```

mod adopt;
mod baseline;
mod block;
mod bring_in;
mod change;
mod check;
mod compare;
mod copy;
mod counts;
mod date;
mod edit;
mod entry;
mod error;
mod evidence;
mod feedback;
mod file;
mod from_fit;
mod keys;
mod limits_out;
mod meaning;
mod near;
mod parse;
mod reader;
mod refused;
mod save;
mod set;
mod settings;
mod source;
mod transmission;
mod turned;
mod urdf;

pub use adopt::{AdoptError, Apart, Judgement, MapChoice, MistakenUnit, Refit, RefitMap, StopMoved, ZeroMoved};
pub use block::RobotBlockError;
pub use bring_in::{
    AmbiguousUnit, Heading, MeasuredAs, NamesFault, ReadingColumns, Remedy, RowGroups, Table, TableError, TableOptions,
    TableReadings, unit_named,
};
pub use check::{Check, CheckReport, Finding, OpenFindings, Rule, Severity, Waived, check};
pub use compare::{Agreement, Difference, JointDifferences, RobotComparison, Stated, compare};
pub use date::{Date, NotADate};
pub use entry::{Assumed, Board, EntryRecord, JointEntry};
pub use error::{FileError, FileFault};
pub use evidence::{EndEvidence, Evidence, EvidenceKind, LostMotionEvidence};
pub use feedback::read_feedback;
pub use file::{Saved, check_joint_name, earlier_path};
pub use keys::{FileKey, FileTable};
pub use limits_out::{LeftOut, LimitOut, LimitsOut, WhyLeftOut};
pub use meaning::{ChangedMeaning, Meaning};
pub use near::UnknownJoint;
pub use refused::access_sentence;
/// For the shell's other files.
#[doc(hidden)]
pub use save::{write_pair, write_whole};
pub use set::{shell_word, toml_key};
pub use settings::{CheckSettings, Waiver};
pub use source::{DriveUnit, Source, SourceState, Sources, sha256};
pub use transmission::read_transmission;
pub use urdf::{Urdf, UrdfJoint};

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::string::String;
use std::sync::Arc;
use std::vec::Vec;

use crate::record::{ServoRecord, TimerRecord};
use file::Origin;

/// The format that this version writes, and the newest that it reads.
pub const FORMAT: i64 = 1;

/// The longest text of a robot file, bytes: more joints than any block can hold. Reading takes up to 70 times the text's memory, so that no file
/// makes it take more than 600 MB.
pub const LONGEST_TEXT: usize = 8 << 20;

/// The largest number in a robot file, either way; what it counts in (deg, mm, us, ohm, readings) makes no larger one sensible.
pub const LARGEST_NUMBER: f64 = 1e12;

/// A robot: the checked joints of one robot file, and the file's text.
///
/// A `Robot` in hand is valid. Every change goes through the text and the same checks as reading it; a refused change
/// leaves the robot as it was.
#[derive(Debug, Clone)]
pub struct Robot {
    name: Option<String>,
    joints: Vec<JointEntry>,
    /// Place of each joint in `joints`.
    index: HashMap<String, usize>,
    boards: Vec<Board>,
    servo: Option<ServoRecord<f64>>,
    timer: Option<TimerRecord<f64>>,
    settings: CheckSettings,
    text: String,
    /// What it was read from; no part of what it is.
    origin: Origin,
}

/// Robots are equal if their texts are.
impl PartialEq for Robot {
    fn eq(&self, other: &Self) -> bool {
        self.text == other.text
    }
}

impl Robot {
    /// A robot without joints.
    ///
    /// # Errors
    /// [`FileError`] for a name that is blank or takes several lines, as the text of a file does: that is for [`Robot::parse`].
    pub fn new(name: &str) -> Result<Self, FileError> {
        Self::parse(&edit::empty(name))
    }

    /// Reads and checks the text of a robot file, of at most [`LONGEST_TEXT`] bytes.
    ///
    /// # Errors
    /// [`FileError`] for the first fault, with line, column, joint, and what to write instead.
    pub fn parse(text: &str) -> Result<Self, FileError> {
        file::read(text).map_err(|error| error.in_text(text))
    }

    /// Reads and checks a robot file.
    ///
    /// # Errors
    /// As [`Robot::parse`], with the file named; [`FileFault::Access`] if it cannot be read or is not UTF-8.
    pub fn load(path: impl AsRef<Path>) -> Result<Self, FileError> {
        let path = path.as_ref();
        let text = file::read_text(path)?;
        let mut robot = Self::parse(&text).map_err(|error| error.in_file(path))?;
        robot.origin = Origin::of(path, &text);
        Ok(robot)
    }

    /// The text, with every comment where it was.
    pub fn to_toml(&self) -> &str {
        &self.text
    }

    /// Writes the file so that at every moment the path holds either the old text or the new one, whole, and so that
    /// nothing is lost that others wrote since this robot was read from it.
    ///
    /// The save holds the lock `.NAME.lock` beside the file and compares the file with the text that was read. Where others
    /// changed other joints, both changes are kept, and [`Saved`] names theirs. Where they changed the same joint, or where a joint
    /// would mean something else beside their servo or timer, the save is refused. A robot that was not read from this path
    /// replaces what stands there.
    ///
    /// The new text goes to a neighbour file, which is synced and then renamed. It keeps the old file's owner and
    /// permissions; a symbolic link is followed, not replaced. A save that is killed leaves its
    /// neighbour, `.NAME.PROCESS-NUMBER.part`; the next save of the same file clears away those whose process has ended.
    ///
    /// # Errors
    /// The file is untouched after each.
    ///
    /// - [`FileFault::Changed`], with what was changed there and here;
    /// - [`FileFault::Locked`], if another process holds the lock for ten seconds;
    /// - [`FileFault::Access`], also for a read-only file, for one whose owner cannot be kept, and for one with several hard links.
    ///
    /// ```
    /// use elbowroom::robot::Robot;
    /// let path = std::env::temp_dir().join(format!("heron-saved-{}.toml", std::process::id()));
    /// std::fs::write(&path, r#"format = 1
    /// servo = { angle = [0, 180], pulse_us = [500, 2500] }
    /// timer = { frame_hz = 50, counts_per_frame = 4096 }
    /// joint.wing = { command = [-40, 60], drive = [37, 122], rest = 10 }
    /// joint.neck = { command = [-40, 60], drive = [37, 122], rest = 0 }
    /// "#)?;
    /// let (mut mine, mut theirs) = (Robot::load(&path)?, Robot::load(&path)?);
    /// let mut wing = mine.joint("wing").unwrap().record();
    /// wing.joint.rest = 12.0;
    /// mine.put(&wing)?;
    /// let mut neck = theirs.joint("neck").unwrap().record();
    /// neck.joint.rest = 5.0;
    /// theirs.put(&neck)?;
    /// theirs.save(&path)?;
    /// assert_eq!(mine.save(&path)?.merged, ["neck"]);
    /// assert_eq!(Robot::load(&path)?.joint("neck").unwrap().joint().rest(), 5.0);
    /// # std::fs::remove_file(path)?;
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn save(&self, path: impl AsRef<Path>) -> Result<Saved, FileError> {
        self.origin.save(&self.text, path.as_ref(), file::Keeps::Nothing)
    }

    /// Saves as [`save`](Self::save) does, and keeps the text that this replaces beside the file, in the one that [`earlier_path`] names, with
    /// the same owner and permissions; there it is whole before the file changes. Nothing is kept where nothing changes. Where it
    /// cannot be kept, [`Saved::not_kept`] says why, and the file is saved all the same.
    ///
    /// # Errors
    /// As [`save`](Self::save).
    pub fn save_keeping(&self, path: impl AsRef<Path>) -> Result<Saved, FileError> {
        self.origin.save(&self.text, path.as_ref(), file::Keeps::Earlier)
    }

    /// The robot of the text before the last change, as [`save_keeping`](Self::save_keeping) kept it, to be saved over the file that stands
    /// there now. Saved so by `save_keeping` it changes places with that, and the same once more takes it back.
    ///
    /// # Errors
    /// [`FileFault::NoEarlier`] where nothing was kept, [`FileFault::SameEarlier`] where both are alike; else as [`load`](Self::load).
    ///
    /// ```
    /// use elbowroom::robot::Robot;
    /// let folder = std::env::temp_dir().join(format!("heron-earlier-{}", std::process::id()));
    /// std::fs::create_dir(&folder)?;
    /// let path = folder.join("heron.toml");
    /// Robot::new("heron")?.save_new(&path)?;
    /// Robot::new("crane")?.save_keeping(&path)?;
    /// for name in ["heron", "crane"] {
    ///     Robot::load_earlier(&path)?.save_keeping(&path)?;
    ///     assert_eq!(Robot::load(&path)?.name(), Some(name));
    /// }
    /// # std::fs::remove_dir_all(folder)?;
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn load_earlier(path: impl AsRef<Path>) -> Result<Self, FileError> {
        let path = path.as_ref();
        let now = file::read_text(path)?;
        let real = save::resolve(path).map_err(|error| FileError::access("read", &error, path))?;
        let earlier = earlier_path(path);
        let kept = earlier_path(&real);
        if std::fs::symlink_metadata(&kept).is_err_and(|error| error.kind() == std::io::ErrorKind::NotFound) {
            return Err(FileError::new(FileFault::NoEarlier { earlier }));
        }
        let text = file::read_text(&kept)?;
        if text == now {
            return Err(FileError::new(FileFault::SameEarlier { earlier }));
        }
        let robot = Self::parse(&text).map_err(|error| error.in_file(&earlier))?;
        Ok(robot.as_read_from(real, &now))
    }

    /// Writes a new file, and refuses if the path exists.
    ///
    /// # Errors
    /// [`FileFault::Access`].
    pub fn save_new(&self, path: impl AsRef<Path>) -> Result<(), FileError> {
        self.origin.create(&self.text, path.as_ref())
    }

    /// The file that it was read from or last saved to, with its links followed, and the text that stood there then; None without one. A
    /// robot that is sent elsewhere as text takes it along, so that a [`save`](Self::save) there still sees what others wrote meanwhile.
    ///
    /// ```
    /// use elbowroom::robot::Robot;
    /// let path = std::env::temp_dir().join(format!("heron-sent-{}.toml", std::process::id()));
    /// Robot::new("heron")?.save_new(&path)?;
    /// let robot = Robot::load(&path)?;
    /// let (file, text) = robot.read_from().unwrap();
    /// let sent = Robot::parse(robot.to_toml())?.as_read_from(file, &text);
    /// Robot::new("crane")?.save(&path)?;
    /// assert_eq!(sent.save(&path)?.merged.len(), 0);
    /// assert_eq!(Robot::load(&path)?.name(), Some("crane"));
    /// # std::fs::remove_file(path)?;
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn read_from(&self) -> Option<(PathBuf, Arc<str>)> {
        self.origin.parts()
    }

    /// The file that it was read from or last saved to, as it was named.
    pub(in crate::robot) fn file_given(&self) -> Option<PathBuf> {
        self.origin.given()
    }

    /// This robot, as one that was read from this file when this text stood there: both as [`read_from`](Self::read_from) gives them.
    #[must_use]
    pub fn as_read_from(mut self, path: PathBuf, text: &str) -> Self {
        self.origin = Origin::known(path, text);
        self
    }

    /// Its name.
    pub fn name(&self) -> Option<&str> {
        self.name.as_deref()
    }

    /// Its joints, in file order.
    pub fn joints(&self) -> &[JointEntry] {
        &self.joints
    }

    /// The joint of this name.
    pub fn joint(&self, name: &str) -> Option<&JointEntry> {
        self.joints.get(self.place(name)?)
    }

    /// The place of the joint of this name in [`Robot::joints`], which is file order. Nothing is allocated.
    pub fn place(&self, name: &str) -> Option<usize> {
        self.index.get(name).copied()
    }

    /// The same, or what a person needs who misspelt it. Nothing is allocated, so that a control program may ask at any time.
    ///
    /// # Errors
    /// [`UnknownJoint`], which names the nearest one, or lists them where none is near.
    pub fn expect_place<'a>(&'a self, name: &'a str) -> Result<usize, UnknownJoint<'a>> {
        self.place(name).ok_or_else(|| UnknownJoint::among(name, &self.joints))
    }

    /// The joint of this name, or an error that names the nearest one.
    ///
    /// # Errors
    /// [`FileFault::UnknownJoint`].
    pub fn expect_joint(&self, name: &str) -> Result<&JointEntry, FileError> {
        self.joint(name)
            .ok_or_else(|| FileError::new(reader::unknown_joint(name, &self.joints)))
    }

    /// The other joint whose name may have been meant by this one, whether a joint has it or not: one or two typing errors away, and no
    /// further one of a series.
    ///
    /// ```
    /// # use elbowroom::robot::Robot;
    /// let robot = Robot::parse(r#"format = 1
    /// # timer = { frame_hz = 50, counts_per_frame = 4096 }
    /// # servo = { angle = [0, 180], pulse_us = [500, 2500] }
    /// [joint.leg_left_1]
    /// # command = [-40, 60]
    /// # drive = [37, 122]
    /// # rest = 10
    /// "#)?;
    /// assert_eq!(robot.resembling("leg_lfet_1"), Some("leg_left_1"));
    /// assert_eq!(robot.resembling("leg_left_2"), None);
    /// # Ok::<(), elbowroom::robot::FileError>(())
    /// ```
    pub fn resembling(&self, name: &str) -> Option<&str> {
        near::resembling(name, &self.joints)
    }

    /// The boards that the file describes.
    pub fn boards(&self) -> &[Board] {
        &self.boards
    }

    /// The servo of joints that name none of their own.
    pub fn servo(&self) -> Option<ServoRecord<f64>> {
        self.servo
    }

    /// The timer of joints that name none of their own, on this board or, without one, anywhere.
    pub fn timer(&self, board: Option<&str>) -> Option<TimerRecord<f64>> {
        let known = self.boards.iter().find(|known| Some(known.name()) == board);
        known.map_or(self.timer, Board::timer)
    }

    /// The limits that `check` uses, and the waivers.
    pub fn settings(&self) -> &CheckSettings {
        &self.settings
    }

    /// Writes a joint down: updates its table in place if the name exists, else adds one at the end.
    ///
    /// Only values that differ are written; comments, order and formatting stay, but for keys with dots (`joint.wing.rest = 10`) that stand
    /// between others: they come to stand together. A servo or timer that equals the robot's default is not written into the joint.
    ///
    /// Where commands then run with readings the other way than before, a sense of the feedback from a test before that is taken out of the
    /// evidence, here and in every other change of the robot: it has to be tested again. A new test has another day.
    ///
    /// # Errors
    /// [`FileError`] if the record describes no valid joint; line and column are those of the text it would have become.
    pub fn put(&mut self, record: &EntryRecord) -> Result<(), FileError> {
        self.become_text(&edit::put(self, record))
    }

    /// Takes a joint out.
    ///
    /// # Errors
    /// [`FileFault::UnknownJoint`]; or a waiver in the file still names the joint.
    pub fn remove(&mut self, name: &str) -> Result<(), FileError> {
        self.expect_joint(name)?;
        self.become_text(&edit::remove(self, name))
    }

    /// Takes a changed text over, if it is valid; what it was read from stays. A sense of joints that are turned round goes.
    fn become_text(&mut self, text: &str) -> Result<(), FileError> {
        let mut robot = Self::parse(&file::as_in(&self.text, text))?;
        for record in turned::without_old_sense(self, &robot) {
            robot = Self::parse(&edit::put(&robot, &record))?;
        }
        core::mem::swap(&mut robot.origin, &mut self.origin);
        *self = robot;
        Ok(())
    }
}

impl core::str::FromStr for Robot {
    type Err = FileError;

    fn from_str(text: &str) -> Result<Self, FileError> {
        Self::parse(text)
    }
}

impl core::fmt::Display for Robot {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(&self.text)
    }
}
