//! Blocks of joints that are kept in `f64`, and joints out of blocks.

use crate::block::error::BlockError;
use crate::block::image::Image;
use crate::block::layout::joint;
use crate::block::sample::sample;
use crate::block::write::{feedback_knots_of, knots_of};
use crate::block::{Block, BlockJoint, to_vec};
use crate::curve::SlopeRule;
use crate::error::JointError;
use crate::joint::Joint;
use crate::transmission::TransmissionRecord;
use std::vec::Vec;

/// A joint as its board computes it, and how close that comes where a curve stands for something else.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Sampled {
    /// The joint: straight or curved, in `f32`.
    pub joint: Joint<f32>,
    /// Knots of the curve that stands for a linkage, and the most that its drive angle differs from the linkage's, deg.
    pub transmission: Option<(usize, f64)>,
    /// Knots of the curve that stands for a loaded potentiometer, and the most that its joint angle differs, deg.
    pub feedback: Option<(usize, f64)>,
}

impl Joint<f64> {
    /// The joint in `f32`, as firmware has it: every number rounded to the nearest, then checked again.
    ///
    /// It keeps to the counts of the `f64` joint: rounding the travel never lets a count pass that the travel forbids.
    ///
    /// # Errors
    /// [`BlockError::Joint`] if the rounded numbers make no joint; [`BlockError::Transmission`] and
    /// [`BlockError::Feedback`] for linkages and loaded feedback, which [`Joint::for_block`] puts curves in the place of. They
    /// name `channel`.
    pub fn to_f32(&self, channel: u16) -> Result<Joint<f32>, BlockError> {
        let wide = self.record();
        if !holds(&wide.transmission) {
            let kind = wide.transmission.kind();
            return Err(BlockError::Transmission { channel, kind });
        }
        if self.feedback().is_some_and(|feedback| feedback.is_loaded()) {
            return Err(BlockError::Feedback { channel });
        }
        Ok(self.for_block(channel)?.joint)
    }

    /// The joint as a block holds it: [`Joint::to_f32`], with curves in the place of linkages and of loaded feedback.
    ///
    /// Each curve has as many knots as it takes to stay within 0.01 deg: of drive angle over the command range, of joint
    /// angle over the feedback's readings. Beyond the ends a curve goes on with the mean slope of its last piece, a linkage with
    /// that of its end.
    ///
    /// ```
    /// # use elbowroom::{Joint, JointRecord, ServoRecord, TimerRecord, TransmissionRecord};
    /// # let servo = ServoRecord { angle: [0.0, 180.0], pulse_us: [500.0, 2500.0] };
    /// # let timer = TimerRecord { frame_hz: 50.0, counts_per_frame: 4096 };
    /// let mut record = JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer);
    /// record.transmission = TransmissionRecord::Triangle { base: 92.0, arm: 40.0, angle_at_zero: 71.0 };
    /// let sampled = Joint::new(record)?.for_block(3)?;
    /// let (knots, within_deg) = sampled.transmission.unwrap();
    /// assert!(knots < 20 && within_deg <= 0.01);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// [`BlockError::Joint`] if the rounded numbers make no joint; [`BlockError::TooBent`] if 64 knots do not suffice.
    pub fn for_block(&self, channel: u16) -> Result<Sampled, BlockError> {
        let wide = self.record();
        let bent = self.feedback().filter(|feedback| feedback.is_loaded());
        let mut record = wide.map(|x| x as f32);
        let mut transmission = None;
        if !holds(&record.transmission) {
            let at_ends = corners(record.command, record.drive, record.inverted);
            let drive = |command| self.transmission().drive(command);
            let (knots, within_deg) = sample(channel, record.transmission.kind(), at_ends, drive)?;
            transmission = Some((knots.len(), within_deg));
            let rule = SlopeRule::Parabola;
            record.transmission = TransmissionRecord::Curve { knots, rule };
        }
        let mut feedback_within = None;
        if let (Some(feedback), Some(record)) = (bent, &mut record.feedback) {
            let at_ends = corners(record.reading, record.angle, record.inverted);
            let (knots, within_deg) = sample(channel, "loaded feedback", at_ends, |reading| feedback.angle(reading))?;
            feedback_within = Some((knots.len(), within_deg));
            (record.pot_ohm, record.load_ohm, record.knots) = (None, None, Some(knots));
        }
        let refused = |error| BlockError::Joint {
            index: 0,
            channel,
            error,
        };
        let travel = self.travel();
        let joint = Joint::new(record)
            .map_err(refused)?
            .held_to_counts(self.count_range())
            .ok_or(refused(JointError::NoCountInTravel {
                lower: travel.lower(),
                upper: travel.upper(),
                step: self.timer().pulse_us(1) / self.servo().us_per_deg(),
            }))?;
        Ok(Sampled {
            joint,
            transmission,
            feedback: feedback_within,
        })
    }

    /// The block of this one joint.
    ///
    /// # Errors
    /// As [`Joint::for_block`].
    pub fn to_block(&self, channel: u16) -> Result<Vec<u8>, BlockError> {
        self.for_block(channel)?.joint.to_block(channel)
    }
}

/// Whether a block has a place for it.
fn holds<T>(transmission: &TransmissionRecord<T>) -> bool {
    matches!(
        transmission,
        TransmissionRecord::Linear {} | TransmissionRecord::Curve { .. }
    )
}

/// The first and the last point of a curve between two ranges.
fn corners([x0, x1]: [f32; 2], [y0, y1]: [f32; 2], inverted: bool) -> [[f32; 2]; 2] {
    let (first, last) = if inverted { (y1, y0) } else { (y0, y1) };
    [[x0, first], [x1, last]]
}

impl Joint<f32> {
    /// The block of this one joint.
    ///
    /// # Errors
    /// As [`block::write`](crate::block::write()).
    pub fn to_block(&self, channel: u16) -> Result<Vec<u8>, BlockError> {
        to_vec(&[(channel, self)])
    }

    /// The joint on a channel of a block, checked whole. It gives the bits that the block gives.
    ///
    /// ```
    /// # use elbowroom::{Joint, JointRecord, ServoRecord, TimerRecord};
    /// # let servo = ServoRecord { angle: [0.0, 180.0], pulse_us: [500.0, 2500.0] };
    /// # let timer = TimerRecord { frame_hz: 50.0, counts_per_frame: 4096 };
    /// let joint = Joint::<f64>::new(JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer))?;
    /// let image = joint.to_block(3)?;
    /// let back = Joint::from_block(&image, 3)?;
    /// assert_eq!(back.counts(10.0)?.value, 283);
    /// assert_eq!(back.to_block(3)?, image);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// As [`Block::new`] and [`Block::joint`].
    pub fn from_block(image: &[u8], channel: u16) -> Result<Self, BlockError> {
        Block::new(image)?.joint(channel)?.to_joint()
    }
}

impl<I: Image> BlockJoint<I> {
    /// The joint in memory of its own.
    ///
    /// # Errors
    /// [`BlockError::Joint`], of a block that was not checked; [`BlockError::Invalid`] of a curve whose slopes are not those of
    /// the rule that it names, and which a record therefore cannot hold.
    pub fn to_joint(&self) -> Result<Joint<f32>, BlockError> {
        let channel = self.channel();
        let refused = |error| BlockError::Joint {
            index: 0,
            channel,
            error,
        };
        let joint = Joint::new(self.record()?).map_err(refused)?;
        for (at, read, made) in [
            (joint::FIRST_KNOT, self.curve(), knots_of(&joint)),
            (joint::READING, self.feedback_curve(), feedback_knots_of(&joint)),
        ] {
            if read.is_some_and(|curve| !curve.is(made)) {
                return Err(BlockError::Invalid { at: at as u32 });
            }
        }
        let travel = joint.travel();
        let none = JointError::NoCountInTravel {
            lower: travel.lower().into(),
            upper: travel.upper().into(),
            step: (joint.timer().pulse_us(1) / joint.servo().us_per_deg()).into(),
        };
        joint.held_to_counts(self.count_range()).ok_or(refused(none))
    }
}
