//! Writing a block.

use crate::block::checksum::Checksum;
use crate::block::error::BlockError;
use crate::block::layout::{self, HEAD, LETTERS, VERSION, flag, kind};
use crate::curve::Knot;
use crate::joint::Joint;
use crate::transmission::Transmission;

#[cfg(feature = "std")]
use crate::curve::SlopeRule;
#[cfg(feature = "std")]
use std::vec::Vec;

/// Bytes of the block of these joints.
///
/// # Errors
/// [`BlockError::Empty`], [`BlockError::Full`], [`BlockError::Transmission`] or [`BlockError::Feedback`].
pub fn length(joints: &[(u16, &Joint<f32>)]) -> Result<usize, BlockError> {
    let most = usize::from(u16::MAX);
    if joints.is_empty() {
        return Err(BlockError::Empty);
    }
    let mut knots = 0usize;
    for (channel, joint) in joints {
        kind_of(*channel, joint)?;
        if joint.feedback().is_some_and(|feedback| feedback.is_loaded()) {
            return Err(BlockError::Feedback { channel: *channel });
        }
        knots = knots.saturating_add(knots_of(joint).len() + feedback_knots_of(joint).len());
    }
    let full = |what, count| BlockError::Full { what, count, most };
    let some = u16::try_from(knots).map_err(|_| full("knots", knots))?;
    let count = u16::try_from(joints.len()).map_err(|_| full("joints", joints.len()))?;
    // On an 8-bit board the image must also be short enough for its 16-bit sizes.
    usize::try_from(layout::length(count, some)).map_err(|_| full("joints", joints.len()))
}

/// Writes joints, each with its channel, as a block into `out`; says how many bytes it has.
///
/// The joints are stored in rising order of channel, in whatever order they are given.
///
/// # Errors
/// [`BlockError::Empty`], [`BlockError::Full`], [`BlockError::Transmission`], [`BlockError::Feedback`],
/// [`BlockError::ChannelTwice`]; [`BlockError::Room`] if `out` is shorter than the block. `out` is untouched then.
pub fn write(joints: &[(u16, &Joint<f32>)], out: &mut [u8]) -> Result<usize, BlockError> {
    let needed = length(joints)?;
    for (i, (channel, _)) in joints.iter().enumerate() {
        if joints.iter().skip(i + 1).any(|(other, _)| other == channel) {
            return Err(BlockError::ChannelTwice { channel: *channel });
        }
    }
    let room = out.len();
    let out = out.get_mut(..needed).ok_or(BlockError::Room { needed, room })?;
    let mut pen = Pen {
        rest: out,
        sum: Checksum::new(),
    };
    let knots = joints
        .iter()
        .map(|(_, joint)| all_knots_of(joint).count())
        .sum::<usize>();
    pen.head(joints.len() as u16, knots as u16, needed as u32);
    // Channel after channel, each the least above the one before; a board has few.
    let next = |below: Option<u16>| {
        let above = joints
            .iter()
            .filter(|(channel, _)| below.is_none_or(|below| *channel > below));
        above.min_by_key(|(channel, _)| *channel)
    };
    let (mut below, mut first_knot) = (None, 0);
    while let Some((channel, joint)) = next(below) {
        let kind = kind_of(*channel, joint)?;
        pen.joint(*channel, kind, joint, first_knot);
        first_knot += all_knots_of(joint).count() as u16;
        below = Some(*channel);
    }
    below = None;
    while let Some((channel, joint)) = next(below) {
        for knot in all_knots_of(joint) {
            pen.ends([knot.x, knot.y]);
            pen.put(knot.slope.to_le_bytes());
        }
        below = Some(*channel);
    }
    let sum = pen.sum.value();
    pen.put(sum.to_le_bytes());
    Ok(needed)
}

/// The number of a joint's transmission; an error if a block has no place for it.
fn kind_of(channel: u16, joint: &Joint<f32>) -> Result<u8, BlockError> {
    match joint.transmission() {
        Transmission::Linear(_) => Ok(kind::LINEAR),
        #[cfg(feature = "std")]
        Transmission::Curve(curved) => Ok(match curved.rule() {
            SlopeRule::Parabola => kind::CURVE_PARABOLA,
            SlopeRule::MeanChord => kind::CURVE_MEAN_CHORD,
            SlopeRule::HarmonicChord => kind::CURVE_HARMONIC_CHORD,
        }),
        Transmission::Linkage(linkage) => Err(BlockError::Transmission {
            channel,
            kind: linkage.mechanism().kind(),
        }),
    }
}

/// The knots of a joint's curves, in the order of the image.
fn all_knots_of(joint: &Joint<f32>) -> impl Iterator<Item = &Knot<f32>> {
    knots_of(joint).iter().chain(feedback_knots_of(joint))
}

/// The knots of a joint's curved feedback; none if it is straight or there is none.
pub(super) fn feedback_knots_of(joint: &Joint<f32>) -> &[Knot<f32>] {
    #[cfg(feature = "std")]
    if let Some(curve) = joint.feedback().and_then(|feedback| feedback.curve()) {
        return curve.knots();
    }
    let _ = joint;
    &[]
}

/// The knots of a joint's curved transmission; none if it has none.
pub(super) fn knots_of(joint: &Joint<f32>) -> &[Knot<f32>] {
    match joint.transmission() {
        #[cfg(feature = "std")]
        Transmission::Curve(curved) => curved.curve().knots(),
        _ => &[],
    }
}

/// The block of joints, each with its channel.
///
/// # Errors
/// As for [`write()`].
#[cfg(feature = "std")]
pub fn to_vec(joints: &[(u16, &Joint<f32>)]) -> Result<Vec<u8>, BlockError> {
    let mut image = std::vec![0; length(joints)?];
    write(joints, &mut image)?;
    Ok(image)
}

/// Writes number after number and sums as it goes.
struct Pen<'a> {
    rest: &'a mut [u8],
    sum: Checksum,
}

impl Pen<'_> {
    fn put<const N: usize>(&mut self, bytes: [u8; N]) {
        // The room was measured before.
        let rest = core::mem::take(&mut self.rest);
        if let Some((place, rest)) = rest.split_first_chunk_mut() {
            *place = bytes;
            self.rest = rest;
        }
        self.sum = bytes.iter().fold(self.sum, |sum, byte| sum.with(*byte));
    }

    fn ends(&mut self, ends: [f32; 2]) {
        for end in ends {
            self.put(end.to_le_bytes());
        }
    }

    fn head(&mut self, joints: u16, knots: u16, length: u32) {
        self.put(LETTERS);
        self.put([VERSION, 0]);
        self.put(joints.to_le_bytes());
        self.put(knots.to_le_bytes());
        self.put([0; 2]);
        self.put(length.to_le_bytes());
    }

    fn joint(&mut self, channel: u16, kind: u8, joint: &Joint<f32>, first_knot: u16) {
        let mut flags = 0;
        if joint.direction().is_inverted() {
            flags |= flag::INVERTED;
        }
        if joint.max_rate_per_s().is_some() {
            flags |= flag::RATE;
        }
        if let Some(feedback) = joint.feedback() {
            flags |= flag::FEEDBACK;
            if feedback.direction().is_inverted() {
                flags |= flag::FEEDBACK_INVERTED;
            }
            if !feedback_knots_of(joint).is_empty() {
                flags |= flag::FEEDBACK_CURVED;
            }
        }
        self.put(channel.to_le_bytes());
        self.put([kind, flags]);
        self.ends(joint.command_range().ends());
        self.ends(joint.drive_range().ends());
        self.ends(joint.travel().ends());
        self.ends(joint.servo().angle_range().ends());
        self.ends(joint.servo().pulse_range_us().ends());
        self.put(joint.timer().frame_hz().to_le_bytes());
        self.put(joint.timer().counts_per_frame().to_le_bytes());
        for count in joint.count_range() {
            self.put(count.to_le_bytes());
        }
        self.ends([joint.rest(), joint.max_rate_per_s().unwrap_or(0.0)]);
        let feedback = joint.feedback();
        let (knots, feedback_knots) = (knots_of(joint).len() as u16, feedback_knots_of(joint).len() as u16);
        if feedback_knots > 0 {
            self.put((first_knot + knots).to_le_bytes());
            self.put(feedback_knots.to_le_bytes());
            self.put([0; 4]);
        } else {
            self.ends(feedback.map_or([0.0; 2], |feedback| feedback.reading_range().ends()));
        }
        self.ends(feedback.map_or([0.0; 2], |feedback| feedback.angle_range().ends()));
        self.put(if knots == 0 { 0 } else { first_knot }.to_le_bytes());
        self.put(knots.to_le_bytes());
    }
}

// What `Pen::head` puts down is a head.
const _: () = assert!(HEAD == 4 + 2 + 2 + 2 + 2 + 4);
