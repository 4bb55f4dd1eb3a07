//! Blocks of joints that are kept in `f64`, and joints out of blocks.

use crate::block::error::BlockError;
use crate::block::image::Image;
use crate::block::{Block, BlockJoint, to_vec};
use crate::error::JointError;
use crate::feedback::FeedbackRecord;
use crate::joint::{Joint, JointRecord, ServoRecord, TimerRecord};
use crate::transmission::TransmissionRecord;
use std::vec::Vec;

impl Joint<f64> {
    /// The joint in `f32`, as firmware has it: every number rounded to the nearest, then checked anew.
    ///
    /// It keeps to the counts of the `f64` joint: rounding the travel never lets a count pass that the travel forbids.
    ///
    /// # Errors
    /// [`BlockError::Joint`] if the rounded numbers make no joint; [`BlockError::Transmission`] and
    /// [`BlockError::Feedback`] for what a block cannot hold. They name `channel`.
    pub fn to_f32(&self, channel: u16) -> Result<Joint<f32>, BlockError> {
        let wide = self.record();
        let n = |x: f64| x as f32;
        let ends = |ends: [f64; 2]| ends.map(n);
        let servo = ServoRecord {
            angle: ends(wide.servo.angle),
            pulse_us: ends(wide.servo.pulse_us),
        };
        let timer = TimerRecord {
            frame_hz: n(wide.timer.frame_hz),
            counts: wide.timer.counts,
        };
        let mut record = JointRecord::new(ends(wide.command), ends(wide.drive), n(wide.rest), servo, timer);
        record.inverted = wide.inverted;
        record.travel = wide.travel.map(ends);
        record.rate_per_s = wide.rate_per_s.map(n);
        if !matches!(wide.transmission, TransmissionRecord::Linear {}) {
            let kind = wide.transmission.kind();
            return Err(BlockError::Transmission { channel, kind });
        }
        if self.feedback().is_some_and(|feedback| !feedback.is_linear()) {
            return Err(BlockError::Feedback { channel });
        }
        record.feedback = wide.feedback.map(|wide| {
            let mut feedback = FeedbackRecord::new(ends(wide.reading), ends(wide.angle));
            feedback.inverted = wide.inverted;
            feedback.adc_bits = wide.adc_bits;
            feedback.turn_deg = wide.turn_deg.map(n);
            feedback.supply_v = wide.supply_v.map(n);
            feedback
        });
        let refused = |error| BlockError::Joint {
            index: 0,
            channel,
            error,
        };
        let travel = self.travel();
        Joint::new(record)
            .map_err(refused)?
            .held_to_counts(self.count_range())
            .ok_or(refused(JointError::NoCountInTravel {
                lower: travel.lower(),
                upper: travel.upper(),
                step: self.timer().pulse_us(1) / self.servo().us_per_deg(),
            }))
    }

    /// The block of this one joint.
    ///
    /// # Errors
    /// As [`Joint::to_f32`].
    pub fn to_block(&self, channel: u16) -> Result<Vec<u8>, BlockError> {
        self.to_f32(channel)?.to_block(channel)
    }
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
    /// # let timer = TimerRecord { frame_hz: 50.0, counts: 4096 };
    /// let joint = Joint::<f64>::new(JointRecord::new([0.0, 180.0], [5.0, 80.0], 90.0, servo, timer))?;
    /// let image = joint.to_block(8)?;
    /// let back = Joint::from_block(&image, 8)?;
    /// assert_eq!(back.counts(90.0)?.value, 199);
    /// assert_eq!(back.to_block(8)?, image);
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
    /// [`BlockError::Joint`], of a block that was not checked.
    pub fn to_joint(&self) -> Result<Joint<f32>, BlockError> {
        let channel = self.channel();
        let refused = |error| BlockError::Joint {
            index: 0,
            channel,
            error,
        };
        let joint = Joint::new(self.record()).map_err(refused)?;
        let travel = joint.travel();
        let none = JointError::NoCountInTravel {
            lower: travel.lower().into(),
            upper: travel.upper().into(),
            step: (joint.timer().pulse_us(1) / joint.servo().us_per_deg()).into(),
        };
        joint.held_to_counts(self.count_range()).ok_or(refused(none))
    }
}
