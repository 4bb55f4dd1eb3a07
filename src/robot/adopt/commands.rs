//! Commands in another unit than the one that they are written in.

use super::super::entry::EntryRecord;
use super::super::from_fit::six_digits;
use super::refit::factor;
use super::repair::AdoptError;
use crate::transmission::TransmissionRecord;
use std::borrow::ToOwned;

impl EntryRecord {
    /// Writes the joint's commands in another unit: command range, rest, rate and the knots of a curve, with six digits of the range.
    /// What a command stands for stays. The joint's own unit is [`EntryRecord::unit`]; a joint that names none takes the new one as it is.
    ///
    /// # Errors
    /// [`AdoptError::Unconvertible`] where the units are not of one quantity, or one of them is none of [`Unit`](crate::Unit);
    /// [`AdoptError::JointAngles`] where a mechanism takes joint angles or lengths as commands. The record is then as it was.
    ///
    /// ```
    /// use elbowroom::robot::EntryRecord;
    /// use elbowroom::{JointRecord, ServoRecord, TimerRecord};
    /// let servo = ServoRecord { angle: [0.0, 180.0], pulse_us: [500.0, 2500.0] };
    /// let timer = TimerRecord { frame_hz: 50.0, counts_per_frame: 4096 };
    /// let mut neck = EntryRecord::new("neck", JointRecord::new([-43.0, 41.0], [37.0, 122.0], 0.0, servo, timer));
    /// neck.unit = Some("deg".into());
    /// neck.convert_commands("rad")?;
    /// assert_eq!((neck.unit.as_deref(), neck.joint.command), (Some("rad"), [-0.75049, 0.71558]));
    /// assert!(neck.convert_commands("mm").is_err());
    /// # Ok::<(), elbowroom::robot::AdoptError>(())
    /// ```
    pub fn convert_commands(&mut self, unit: &str) -> Result<(), AdoptError> {
        let own = self.unit.as_deref().unwrap_or(unit);
        let factor = factor(own, unit).ok_or(AdoptError::Unconvertible)?;
        if own != unit {
            let scale = six_digits(self.joint.command.map(|command| command * factor));
            let converted = |command: f64| (command * factor * scale).round() / scale + 0.0;
            let joint = &mut self.joint;
            match &mut joint.transmission {
                TransmissionRecord::Linear {} => {}
                TransmissionRecord::Curve { knots, .. } => {
                    for [command, _] in knots {
                        *command = converted(*command);
                    }
                }
                mechanism => return Err(AdoptError::JointAngles(mechanism.kind())),
            }
            joint.command = joint.command.map(converted);
            joint.rest = converted(joint.rest);
            joint.max_rate_per_s = joint.max_rate_per_s.map(|rate| rate * factor);
        }
        self.unit = Some(unit.to_owned());
        Ok(())
    }
}
