//! The whole check of an image.

use crate::block::checksum::Checksum;
use crate::block::error::BlockError;
use crate::block::image::{Image, Part};
use crate::block::layout::{TAIL, flag, head, joint, kind};
use crate::block::{Block, BlockJoint};
use crate::code::Code;
use crate::error::{JointError, Refusal};
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
    let invalid = |at: usize| A::from(BlockError::Invalid { at: at as u32 });
    let Some(spare) = image.part::<{ head::LENGTH }>(0) else {
        return Err(invalid(0));
    };
    if spare.byte(head::FLAGS) != 0 {
        return Err(invalid(head::FLAGS));
    }
    if spare.u16_at(head::SPARE) != 0 {
        return Err(invalid(head::SPARE));
    }
    let mut before = None;
    let mut knots = 0u16;
    for index in 0..block.joints {
        let read = BlockJoint::new(block, index)?;
        let channel = read.channel();
        // Rising channels are channels that differ.
        if before == Some(channel) {
            return Err(BlockError::ChannelTwice { channel }.into());
        }
        if before > Some(channel) {
            return Err(invalid(block.joint_at(index) + joint::CHANNEL));
        }
        before = Some(channel);
        one::<I, A>(&read, block.joint_at(index), index)?;
        // Knot after knot in the order of the joints: none shared, none left over. A straight joint has none.
        let straight = read.kind() == kind::LINEAR;
        let curved_feedback = read.flags() & flag::FEEDBACK_CURVED != 0;
        for (at, has) in [(joint::FIRST_KNOT, !straight), (joint::READING, curved_feedback)] {
            let [first, count] = read.knots(at);
            if has && first == knots {
                knots = knots.saturating_add(count);
            } else if has || at == joint::FIRST_KNOT && [first, count] != [0; 2] {
                return Err(invalid(block.joint_at(index) + at));
            }
        }
    }
    if knots != block.knots {
        return Err(invalid(head::KNOTS));
    }
    Ok(block)
}

#[inline]
fn checksum<I: Image>(image: I) -> Result<(), BlockError> {
    let end = image.length().saturating_sub(TAIL);
    let mut sum = Checksum::new();
    for at in 0..end {
        if let Some(byte) = image.part::<1>(at) {
            sum = sum.with(byte.byte(0));
        }
    }
    let computed = sum.value();
    let stated = image.part::<TAIL>(end).map_or(0, |tail| tail.u32_at(0));
    if stated != computed {
        return Err(BlockError::Checksum { stated, computed });
    }
    Ok(())
}

/// One joint: the rules of `Joint::new`, and what only a block can get wrong.
#[inline]
fn one<I: Image, A: Answer>(read: &BlockJoint<I>, at: usize, index: u16) -> Result<(), A> {
    let invalid = |offset: usize| {
        A::from(BlockError::Invalid {
            at: (at + offset) as u32,
        })
    };
    if read.flags() & !flag::KNOWN != 0 {
        return Err(invalid(joint::FLAGS));
    }
    let of_joint = |error| A::of_joint(index, read.channel(), error);
    let curved = read.flags() & flag::FEEDBACK_CURVED != 0;
    if read.flags() & flag::FEEDBACK != 0 {
        let angle = Span::check::<A::Joint>("feedback.angle", read.ends(joint::ANGLE)).map_err(of_joint)?;
        if !curved {
            Span::check::<A::Joint>("feedback.reading", read.ends(joint::READING)).map_err(of_joint)?;
        } else if let Some(curve) = read.feedback_curve() {
            let falls = read.flags() & flag::FEEDBACK_INVERTED != 0;
            if read.u32_at(joint::READING + 4) != 0 || !curve.runs(values(angle, falls)) {
                return Err(invalid(joint::READING));
            }
        } else {
            let channel = read.channel();
            return Err(BlockError::CurveUnread { channel }.into());
        }
    } else {
        if read.flags() & (flag::FEEDBACK_INVERTED | flag::FEEDBACK_CURVED) != 0 {
            return Err(invalid(joint::FLAGS));
        }
        for unused in [joint::READING, joint::READING + 4, joint::ANGLE, joint::ANGLE + 4] {
            if read.u32_at(unused) != 0 {
                return Err(invalid(unused));
            }
        }
    }
    if read.flags() & flag::RATE == 0 && read.u32_at(joint::RATE_PER_S) != 0 {
        return Err(invalid(joint::RATE_PER_S));
    }
    let parts = Parts::check::<A::Joint>(&read.straight_record()).map_err(of_joint)?;
    if let Some(curve) = read.curve() {
        let falls = parts.direction.is_inverted();
        if curve.places() != Some(parts.command.ends()) || !curve.runs(values(parts.drive, falls)) {
            return Err(invalid(joint::FIRST_KNOT));
        }
    }
    // A writer may have kept to fewer counts, never to more.
    let [lowest, highest] = read.count_range();
    if lowest < parts.counts.lowest || highest > parts.counts.highest || lowest > highest {
        return Err(invalid(joint::LOWEST));
    }
    Ok(())
}

/// The first and the last value of a curve that spans a range.
#[inline]
fn values(range: Span<f32>, falls: bool) -> [f32; 2] {
    let [lower, upper] = range.ends();
    if falls { [upper, lower] } else { [lower, upper] }
}
