//! The joints behind a robot's handle: by their place, and by their name.

use crate::handle::Handle;
use crate::joint::elb_joint;
use crate::pointer;
use crate::refusal::{Refusal, Telling, elb_error, record_of};
use crate::status::elb_status;
use crate::text::c_text;
use model::robot::{JointEntry, Robot, UnknownJoint};
use std::ffi::{CString, c_char};

/// The checked joints of one robot file, and its text. Immutable: any number of threads may use it at once.
#[derive(Debug)]
pub struct elb_robot {
    pub(crate) robot: Robot,
    pub(crate) name: Option<CString>,
    pub(crate) text: CString,
    entries: Vec<Entry>,
}

impl Handle for elb_robot {
    const WHAT: &'static str = "robot";
}

/// One joint with its texts as C wants them.
#[derive(Debug)]
pub(crate) struct Entry {
    pub(crate) joint: elb_joint,
    pub(crate) name: CString,
    pub(crate) board: Option<CString>,
    pub(crate) unit: Option<CString>,
    pub(crate) mirror_of: Option<CString>,
}

impl Entry {
    fn of(entry: &JointEntry) -> Self {
        Self {
            joint: elb_joint::from(entry.joint().clone()),
            name: c_text(&entry.name()),
            board: entry.board().as_ref().map(c_text),
            unit: entry.unit().as_ref().map(c_text),
            mirror_of: entry.mirror_of().as_ref().map(c_text),
        }
    }
}

impl From<Robot> for elb_robot {
    fn from(robot: Robot) -> Self {
        Self {
            name: robot.name().as_ref().map(c_text),
            text: c_text(&robot.to_toml()),
            entries: robot.joints().iter().map(Entry::of).collect(),
            robot,
        }
    }
}

impl elb_robot {
    pub(crate) fn entry(&self, i: usize) -> Result<(&Entry, &JointEntry), Refusal> {
        match (self.entries.get(i), self.robot.joints().get(i)) {
            (Some(entry), Some(joint)) => Ok((entry, joint)),
            _ => Err(Refusal::Index {
                what: "joint",
                given: i,
                length: self.entries.len(),
            }),
        }
    }
}

/// A name that no joint has, or another refusal. The names are borrowed, since a miss allocates nothing.
pub(crate) enum Missed<'a> {
    Joint(UnknownJoint<'a>),
    Other(Refusal),
}

impl From<Refusal> for Missed<'_> {
    fn from(refusal: Refusal) -> Self {
        Self::Other(refusal)
    }
}

impl Telling for Missed<'_> {
    fn status(&self) -> elb_status {
        match self {
            Self::Joint(_) => elb_status::UnknownJoint,
            Self::Other(refusal) => refusal.status(),
        }
    }

    fn record(&self) -> elb_error {
        match self {
            Self::Joint(missed) => record_of(elb_status::UnknownJoint, missed),
            Self::Other(refusal) => refusal.record(),
        }
    }
}

/// The place of a name, for the calls that look one up.
pub(crate) unsafe fn place<'a>(robot: &'a elb_robot, name: *const c_char) -> Result<usize, Missed<'a>> {
    // SAFETY: the header's contract; the text is only read during the call.
    let name: &'a str = unsafe { pointer::terminated("name", name)? };
    robot.robot.expect_place(name).map_err(Missed::Joint)
}
