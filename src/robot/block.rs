//! The block of a robot's joints on one board.

use crate::block::{Block, BlockError, Title, titled_source, to_vec};
use crate::code::Code;
use crate::joint::Joint;
use crate::robot::near::distance;
use crate::robot::{EntryRecord, FileError, JointEntry, Robot};
use std::borrow::ToOwned;
use std::format;
use std::string::String;
use std::vec::Vec;
use thiserror::Error;

/// Why a robot's joints made no block.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum RobotBlockError {
    /// Joints on several boards, and none was chosen.
    #[error(
        "joint {joint} is on {}, {other} on {}; name the board of the block",
        named(.board.as_deref()), named(.other_board.as_deref())
    )]
    SeveralBoards {
        /// A joint.
        joint: String,
        /// Its board.
        board: Option<String>,
        /// A joint on another.
        other: String,
        /// That board.
        other_board: Option<String>,
    },
    /// No joint is on this board.
    #[error("no joint is on board {board}; {}", others(.board, .boards))]
    NoJoint {
        /// The board asked for, or the robot's name.
        board: String,
        /// The boards that joints are on, the nearest name first.
        boards: Vec<String>,
    },
    /// A joint whose channel is not known.
    #[error("joint {joint} has no channel; write channel = … in its table")]
    NoChannel {
        /// The joint.
        joint: String,
    },
    /// A joint that a block cannot hold.
    #[error("joint {joint}: {error}")]
    Joint {
        /// The joint.
        joint: String,
        /// What is wrong.
        error: BlockError,
    },
    /// Anything else.
    #[error(transparent)]
    Block(#[from] BlockError),
}

/// What to ask for instead.
fn others(board: &str, boards: &[String]) -> String {
    match boards {
        [] => format!("write board = \"{board}\" in the joints that are"),
        boards => format!("the boards with joints are: {}", boards.join(", ")),
    }
}

/// A board as an error speaks of it.
fn named(board: Option<&str>) -> String {
    board.map_or_else(|| "no board".to_owned(), |board| format!("board {board}"))
}

impl RobotBlockError {
    /// The frozen code of this error.
    pub fn code(&self) -> Code {
        match self {
            Self::SeveralBoards { .. } => Code::OptionOutside,
            Self::NoJoint { .. } => Code::UnknownJoint,
            Self::NoChannel { .. } => Code::MissingKey,
            Self::Joint { error, .. } | Self::Block(error) => error.code(),
        }
    }

    /// The joint that it is about.
    pub fn joint(&self) -> Option<&str> {
        match self {
            Self::NoChannel { joint } | Self::Joint { joint, .. } => Some(joint),
            _ => None,
        }
    }
}

impl Robot {
    /// The block of the joints on a board, in `f32`; of all joints if `board` is `None` and they share one.
    ///
    /// Curves stand for linkages and for loaded feedback, as in [`Joint::for_block`].
    ///
    /// # Errors
    /// A [`RobotBlockError`] that names the joint.
    pub fn to_block(&self, board: Option<&str>) -> Result<Vec<u8>, RobotBlockError> {
        let mut joints = Vec::new();
        for entry in self.on_board(board)? {
            let joint = || entry.name().to_owned();
            let channel = entry
                .channel()
                .ok_or_else(|| RobotBlockError::NoChannel { joint: joint() })?;
            let narrow = entry
                .joint()
                .for_block(channel)
                .map_err(|error| RobotBlockError::Joint { joint: joint(), error })?
                .joint;
            joints.push((channel, narrow));
        }
        let joints: Vec<(u16, &Joint<f32>)> = joints.iter().map(|(channel, joint)| (*channel, joint)).collect();
        Ok(to_vec(&joints)?)
    }

    /// The same block as a C header: see [`block::c_source`](crate::block::c_source).
    ///
    /// # Errors
    /// As [`Robot::to_block`].
    pub fn to_block_source(&self, board: Option<&str>, name: &str) -> Result<String, RobotBlockError> {
        let image = self.to_block(board)?;
        let notes: Vec<(u16, &str, String)> = self
            .on_board(board)?
            .iter()
            .filter_map(|entry| Some((entry.channel()?, entry.name(), note(entry)?)))
            .collect();
        let titles: Vec<Title<'_>> = notes
            .iter()
            .map(|(channel, name, note)| Title {
                channel: *channel,
                name,
                note,
            })
            .collect();
        Ok(titled_source(name, &image, &titles)?)
    }

    /// A robot with the joints of a block, named by their channels: `channel_3`. A block holds no names and no evidence.
    ///
    /// # Errors
    /// [`FileError`] for what a robot file refuses; an image that is not a valid block must be refused before, by
    /// [`Block::new`].
    pub fn from_block(name: &str, block: &Block<&[u8]>) -> Result<Self, FileError> {
        let mut robot = Self::new(name)?;
        for channel in (0..block.joints()).filter_map(|index| block.channel(index)) {
            if let Ok(record) = block.joint(channel).and_then(|joint| joint.record()) {
                let mut entry = EntryRecord::new(&format!("channel_{channel}"), record.map(f64::from));
                entry.channel = Some(channel);
                robot.put(&entry)?;
            }
        }
        Ok(robot)
    }

    fn on_board(&self, board: Option<&str>) -> Result<Vec<&JointEntry>, RobotBlockError> {
        let chosen: Vec<&JointEntry> = self
            .joints()
            .iter()
            .filter(|entry| board.is_none() || entry.board() == board)
            .collect();
        let Some(first) = chosen.first() else {
            let board = board.or(self.name()).unwrap_or_default().to_owned();
            let mut boards: Vec<String> = Vec::new();
            for other in self.joints().iter().filter_map(JointEntry::board) {
                if !boards.iter().any(|known| known == other) {
                    boards.push(other.to_owned());
                }
            }
            boards.sort_by_key(|other| distance(&board, other));
            return Err(RobotBlockError::NoJoint { board, boards });
        };
        if let Some(other) = chosen.iter().find(|entry| entry.board() != first.board()) {
            return Err(RobotBlockError::SeveralBoards {
                joint: first.name().to_owned(),
                board: first.board().map(str::to_owned),
                other: other.name().to_owned(),
                other_board: other.board().map(str::to_owned),
            });
        }
        Ok(chosen)
    }
}

/// How close curves come to what they stand for; empty where none does.
fn note(entry: &JointEntry) -> Option<String> {
    let sampled = entry.joint().for_block(entry.channel()?).ok()?;
    let mut note = String::new();
    let kind = entry.joint().transmission().kind();
    for (what, curve) in [(kind, sampled.transmission), ("loaded feedback", sampled.feedback)] {
        if let Some((knots, within_deg)) = curve {
            note += &format!(" ({what} as a curve of {knots} knots, within {within_deg:.4} deg)");
        }
    }
    Some(note)
}

#[cfg(test)]
mod tests {
    use super::*;

    const HERON: &str = r#"format = 1
name = "heron"
timer = { frame_hz = 50, counts_per_frame = 4096 }
servo = { angle = [0, 180], pulse_us = [500, 2500] }

[joint.wing_left]
board = "breast"
channel = 3
command = [-40, 60]
drive = [37.1, 122.3]
travel = [40.2, 119.1]
rest = 10
feedback = { reading = [212, 871], angle = [-40, 60] }

[joint.wing_right]
board = "breast"
channel = 4
command = [-40, 60]
drive = [37, 122]
inverted = true
rest = 10

[joint.neck]
board = "back"
command = [0, 1]
drive = [37, 122]
rest = 0.5
"#;

    #[test]
    fn a_board_becomes_a_block_and_comes_back() {
        let robot = Robot::parse(HERON).unwrap();
        let image = robot.to_block(Some("breast")).unwrap();
        let block = Block::new(&image[..]).unwrap();
        assert_eq!(block.joints(), 2);
        for entry in robot.joints().iter().take(2) {
            let read = block.joint(entry.channel().unwrap()).unwrap();
            for command in -40..=60_i16 {
                let wide = entry.joint().counts(f64::from(command)).unwrap().value;
                let narrow = read.counts(f32::from(command)).unwrap().value;
                assert!(wide.abs_diff(narrow) <= 1, "{command}: {wide} {narrow}");
                let [lowest, highest] = entry.joint().count_range();
                assert!((lowest..=highest).contains(&narrow));
            }
        }
        let back = Robot::from_block("heron", &block).unwrap();
        assert_eq!(back.to_block(None).unwrap(), image);
        let source = robot.to_block_source(Some("breast"), "heron_block").unwrap();
        assert!(source.contains("channel 4, wing_right") && source.contains("inverted"));
        assert!(source.contains("\n#define HERON_BLOCK_WING_LEFT 3\n#define HERON_BLOCK_WING_RIGHT 4\n\n#if defined"));
    }

    #[test]
    fn refusals_name_the_joint() {
        let robot = Robot::parse(HERON).unwrap();
        let refused = |board| std::string::ToString::to_string(&robot.to_block(board).unwrap_err());
        assert!(refused(None).contains("name the board"), "{}", refused(None));
        assert!(
            refused(None).starts_with("joint wing_left is on board breast, neck on board back; "),
            "{}",
            refused(None)
        );
        assert!(refused(Some("back")).starts_with("joint neck has no channel"));
        assert!(refused(Some("tail")).starts_with("no joint is on board tail"));
    }
}
