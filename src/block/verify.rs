//! The whole check of an image.

use crate::block::checksum::Checksum;
use crate::block::error::BlockError;
use crate::block::image::{Image, Part};
use crate::block::layout::{TAIL, flag, head, joint};
use crate::block::{Block, BlockJoint};
use crate::joint::Joint;

/// Checksum first: what it does not cover is only what somebody wrote on purpose.
pub(super) fn verify<I: Image>(block: &Block<I>) -> Result<(), BlockError> {
    checksum(block.image)?;
    let unfit = |at: usize| BlockError::Unfit { at: at as u32 };
    let spare = block.image.part::<{ head::LENGTH }>(0).ok_or(unfit(0))?;
    if spare.bytes(head::FLAGS) != [0] {
        return Err(unfit(head::FLAGS));
    }
    if spare.bytes(head::SPARE) != [0; 2] {
        return Err(unfit(head::SPARE));
    }
    if block.knots != 0 {
        return Err(unfit(head::KNOTS));
    }
    let mut before = None;
    for index in 0..block.joints {
        let joint = BlockJoint::new(*block, index)?;
        let channel = joint.channel();
        // Rising channels are channels that differ.
        if before == Some(channel) {
            return Err(BlockError::ChannelTwice { channel });
        }
        if before > Some(channel) {
            return Err(unfit(block.joint_at(index) + joint::CHANNEL));
        }
        before = Some(channel);
        one(&joint, block.joint_at(index), index)?;
    }
    Ok(())
}

fn checksum<I: Image>(image: I) -> Result<(), BlockError> {
    let end = image.length().saturating_sub(TAIL);
    let mut sum = Checksum::new();
    for at in 0..end {
        if let Some(byte) = image.part::<1>(at) {
            let [byte] = byte.bytes(0);
            sum = sum.with(byte);
        }
    }
    let computed = sum.value();
    let stated = image
        .part::<TAIL>(end)
        .map_or(0, |tail| u32::from_le_bytes(tail.bytes(0)));
    if stated != computed {
        return Err(BlockError::Checksum { stated, computed });
    }
    Ok(())
}

/// One joint: the rules of `Joint::new`, and what only a block can get wrong.
fn one<I: Image>(read: &BlockJoint<I>, at: usize, index: u16) -> Result<(), BlockError> {
    let unfit = |offset: usize| BlockError::Unfit {
        at: (at + offset) as u32,
    };
    if read.flags() & !(flag::INVERTED | flag::RATE) != 0 {
        return Err(unfit(joint::FLAGS));
    }
    for unused in [
        joint::READING,
        joint::READING + 4,
        joint::ANGLE,
        joint::ANGLE + 4,
        joint::FIRST_KNOT,
    ] {
        if read.whole(unused) != 0 {
            return Err(unfit(unused));
        }
    }
    if read.flags() & flag::RATE == 0 && read.whole(joint::RATE_PER_S) != 0 {
        return Err(unfit(joint::RATE_PER_S));
    }
    let channel = read.channel();
    let checked = Joint::checked(read.record()).map_err(|error| BlockError::Joint { index, channel, error })?;
    // A writer may have kept to fewer counts, never to more.
    let [lowest, highest] = read.count_range();
    let [from, to] = checked.count_range();
    if lowest < from || highest > to || lowest > highest {
        return Err(unfit(joint::LOWEST));
    }
    Ok(())
}
