//! The whole check of an image.

use crate::block::checksum::Checksum;
use crate::block::error::BlockError;
use crate::block::image::{Image, Part};
use crate::block::layout::{TAIL, flag, head, joint};
use crate::block::{Block, BlockJoint};
use crate::error::{Code, JointError, Refusal};
use crate::rules::Parts;
use crate::span::Span;

/// How the check says no: with all that there is to say, or, on a microcontroller, with the bare code.
pub(super) trait Answer: From<BlockError> {
    type Joint: Refusal;

    fn of_joint(index: u16, channel: u16, error: Self::Joint) -> Self;
}

impl Answer for BlockError {
    type Joint = JointError;

    fn of_joint(index: u16, channel: u16, error: JointError) -> Self {
        Self::Joint { index, channel, error }
    }
}

impl Answer for Code {
    type Joint = Self;

    #[inline(always)]
    fn of_joint(_: u16, _: u16, code: Self) -> Self {
        code
    }
}

/// Checksum first: what it does not cover is only what somebody wrote on purpose.
#[inline]
pub(super) fn verify<I: Image, A: Answer>(image: I) -> Result<Block<I>, A> {
    let block = Block::unchecked(image)?;
    checksum(image)?;
    let unfit = |at: usize| A::from(BlockError::Unfit { at: at as u32 });
    let Some(spare) = image.part::<{ head::LENGTH }>(0) else {
        return Err(unfit(0));
    };
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
        let joint = BlockJoint::new(block, index)?;
        let channel = joint.channel();
        // Rising channels are channels that differ.
        if before == Some(channel) {
            return Err(BlockError::ChannelTwice { channel }.into());
        }
        if before > Some(channel) {
            return Err(unfit(block.joint_at(index) + joint::CHANNEL));
        }
        before = Some(channel);
        one::<I, A>(&joint, block.joint_at(index), index)?;
    }
    Ok(block)
}

#[inline]
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
#[inline]
fn one<I: Image, A: Answer>(read: &BlockJoint<I>, at: usize, index: u16) -> Result<(), A> {
    let unfit = |offset: usize| {
        A::from(BlockError::Unfit {
            at: (at + offset) as u32,
        })
    };
    if read.flags() & !flag::KNOWN != 0 {
        return Err(unfit(joint::FLAGS));
    }
    let of_joint = |error| A::of_joint(index, read.channel(), error);
    if read.flags() & flag::FEEDBACK != 0 {
        Span::check::<A::Joint>("feedback.reading", read.ends(joint::READING)).map_err(of_joint)?;
        Span::check::<A::Joint>("feedback.angle", read.ends(joint::ANGLE)).map_err(of_joint)?;
    } else {
        if read.flags() & flag::FEEDBACK_INVERTED != 0 {
            return Err(unfit(joint::FLAGS));
        }
        for unused in [joint::READING, joint::READING + 4, joint::ANGLE, joint::ANGLE + 4] {
            if read.whole(unused) != 0 {
                return Err(unfit(unused));
            }
        }
    }
    if read.whole(joint::FIRST_KNOT) != 0 {
        return Err(unfit(joint::FIRST_KNOT));
    }
    if read.flags() & flag::RATE == 0 && read.whole(joint::RATE_PER_S) != 0 {
        return Err(unfit(joint::RATE_PER_S));
    }
    let parts = Parts::check::<A::Joint>(&read.record()).map_err(of_joint)?;
    // A writer may have kept to fewer counts, never to more.
    let [lowest, highest] = read.count_range();
    if lowest < parts.counts.lowest || highest > parts.counts.highest || lowest > highest {
        return Err(unfit(joint::LOWEST));
    }
    Ok(())
}
