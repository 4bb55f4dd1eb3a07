//! Another servo line under a joint that was measured: its pulses stay, its degrees are other ones.

use super::super::entry::EntryRecord;
use super::super::evidence::Evidence;
use super::super::from_fit::{inward, rounded, rounded_up};
use crate::error::JointError;
use crate::pulse::Servo;
use crate::record::ServoRecord;
use crate::transmission::TransmissionRecord;

impl EntryRecord {
    /// Gives the joint another servo line under the pulses that it has: all that was measured under the old line (drive range,
    /// travel, curve, contacts, lost motion, guards, the earlier calibrations as well) is written in degrees of the new one, so that each
    /// command keeps its pulse. A table of readings with a drive column in degrees stays as it is; its
    /// [`Source::servo`](crate::robot::Source::servo) names the line of these degrees.
    ///
    /// A servo of another model gives the same pulses other angles: then take readings and
    /// [`adopt_fit`](Self::adopt_fit).
    ///
    /// # Errors
    /// [`JointError`] for an invalid servo line. Whether the joint's pulses are within its range,
    /// [`Robot::put`](crate::robot::Robot::put) checks.
    pub fn change_servo(&mut self, servo: ServoRecord<f64>) -> Result<(), JointError> {
        if servo == self.joint.servo {
            return Ok(());
        }
        *self = in_degrees_of(self, servo)?;
        self.joint.servo = servo;
        Ok(())
    }
}

/// The same pulses in degrees of another servo line, over the range of the old one.
pub(super) fn in_degrees_of(record: &EntryRecord, servo: ServoRecord<f64>) -> Result<EntryRecord, JointError> {
    let old = Servo::new(record.joint.servo.angle, record.joint.servo.pulse_us)?;
    let new = Servo::new(servo.angle, servo.pulse_us)?;
    let angle = |drive: f64| new.angle(old.pulse_us(drive));
    let mut record = record.clone();
    evidence_in_degrees_of(&mut record, servo)?;
    let joint = &mut record.joint;
    joint.servo.angle = joint.servo.angle.map(angle);
    let before = joint.drive;
    joint.drive = before.map(|drive| rounded(angle(drive)));
    let ([low, high], [lowest, highest]) = (joint.drive, before);
    joint.travel = joint.travel.map(|[from, to]| {
        let [lower, upper] = inward([from, to].map(angle));
        // A travel as wide as the drive range stays so: a rest at its end would lie outside otherwise.
        [
            if from == lowest { low } else { lower },
            if to == highest { high } else { upper },
        ]
    });
    if let TransmissionRecord::Curve { knots, .. } = &mut joint.transmission {
        for [_, drive] in knots {
            *drive = rounded(angle(*drive));
        }
    }
    Ok(record)
}

/// The evidence of a record, the present one and the earlier ones, in degrees of another servo line.
pub(super) fn evidence_in_degrees_of(record: &mut EntryRecord, servo: ServoRecord<f64>) -> Result<(), JointError> {
    let old = Servo::new(record.joint.servo.angle, record.joint.servo.pulse_us)?;
    let new = Servo::new(servo.angle, servo.pulse_us)?;
    for evidence in record.history.iter_mut().chain([&mut record.evidence]) {
        tell_in(evidence, &old, &new);
    }
    Ok(())
}

/// What was measured under the old line in degrees of the new one. The readings themselves stay as they stand in their table.
fn tell_in(evidence: &mut Evidence, old: &Servo<f64>, new: &Servo<f64>) {
    let angle = |drive: f64| new.angle(old.pulse_us(drive));
    let per_deg = old.us_per_deg() / new.us_per_deg();
    for end in [&mut evidence.lower, &mut evidence.upper].into_iter().flatten() {
        end.at = rounded(angle(end.at));
        end.short_at = end.short_at.map(|at| rounded(angle(at)));
        end.u = end.u.map(|u| rounded_up(u * per_deg));
        end.guard = end.guard.map(|guard| rounded(guard * per_deg));
    }
    evidence.map_off = evidence.map_off.map(|off| rounded(off * per_deg));
    if let Some(lost) = &mut evidence.lost_motion {
        lost.value = rounded(lost.value * per_deg);
        lost.u = lost.u.map(|u| rounded_up(u * per_deg));
    }
    if let Some(source) = &mut evidence.source {
        source.keep_line(old, new);
    }
}
