//! A joint once more: under another name, or on the other side.

use super::date::Date;
use super::entry::EntryRecord;
use super::evidence::{EndEvidence, Evidence, EvidenceKind};
use super::from_fit::rounded;
use crate::transmission::TransmissionRecord;

impl EntryRecord {
    /// The same joint once more under another name: commands, drive angles, travel and servo. What was measured at the first is not known of
    /// the second: its ends are declared, and there is no feedback, no sense and no lost motion. Board and channel are left open.
    ///
    /// ```
    /// use elbowroom::robot::{EvidenceKind, Robot};
    /// # let robot = Robot::parse("format = 1\njoint.wing = { command = [-40, 60], drive = [37, 122], rest = 10, servo = { angle = \
    /// #     [0, 180], pulse_us = [500, 2500] }, timer = { frame_hz = 50, counts_per_frame = 4096 } }")?;
    /// let second = robot.joint("wing").unwrap().record().copied_as("wing_2", None);
    /// assert_eq!(second.joint.drive, [37.0, 122.0]);
    /// assert_eq!(second.evidence.lower.unwrap().kind, EvidenceKind::Declared);
    /// # Ok::<(), elbowroom::robot::FileError>(())
    /// ```
    #[must_use]
    pub fn copied_as(&self, name: &str, date: Option<Date>) -> Self {
        let mut joint = self.joint.clone();
        joint.feedback = None;
        let [lower, upper] = joint.travel.unwrap_or(joint.drive);
        let declared = |at| {
            Some(EndEvidence {
                kind: EvidenceKind::Declared,
                at,
                short_at: None,
                u: None,
                guard: None,
            })
        };
        Self {
            unit: self.unit.clone(),
            evidence: Evidence {
                date,
                lower: declared(lower),
                upper: declared(upper),
                ..Evidence::default()
            },
            assumed: self.assumed,
            ..Self::new(name, joint)
        }
    }

    /// The joint on the other side: the same commands, with the servo mounted turned round, so that its drive angles are counted from the
    /// servo's other end. Else as [`copied_as`](Self::copied_as); it names the first as the joint that it mirrors.
    ///
    /// ```
    /// use elbowroom::robot::Robot;
    /// # let robot = Robot::parse("format = 1\njoint.wing = { command = [-40, 60], drive = [37, 122], rest = 10, servo = { angle = \
    /// #     [0, 180], pulse_us = [500, 2500] }, timer = { frame_hz = 50, counts_per_frame = 4096 } }")?;
    /// let right = robot.joint("wing").unwrap().record().mirrored_as("wing_right", None);
    /// assert_eq!((right.joint.drive, right.joint.inverted), ([58.0, 143.0], true));
    /// # Ok::<(), elbowroom::robot::FileError>(())
    /// ```
    #[must_use]
    pub fn mirrored_as(&self, name: &str, date: Option<Date>) -> Self {
        let mut record = self.clone();
        let [a0, a1] = record.joint.servo.angle;
        let turned = |drive: f64| rounded(a0 + a1 - drive);
        let joint = &mut record.joint;
        joint.inverted = !joint.inverted;
        let both = |[lower, upper]: [f64; 2]| [turned(upper), turned(lower)];
        (joint.drive, joint.travel) = (both(joint.drive), joint.travel.map(both));
        if let TransmissionRecord::Curve { knots, .. } = &mut joint.transmission {
            for [_, drive] in knots {
                *drive = turned(*drive);
            }
        }
        Self {
            mirror_of: Some(self.name.clone()),
            ..record.copied_as(name, date)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::robot::Robot;

    const WING: &str = r#"format = 1
servo = { angle = [0, 180], pulse_us = [500, 2500] }
timer = { frame_hz = 50, counts_per_frame = 4096 }

[joint.wing_left]
command = [-40, 60]
drive = [37, 122]
travel = [40, 119]
rest = 10

[joint.wing_left.evidence]
lower = { kind = "contact", at = 37.5, u = 0.2, guard = 2 }
"#;

    #[test]
    fn a_mirrored_joint_moves_as_much_the_other_way() {
        let robot = Robot::parse(WING).unwrap();
        let right = robot.joint("wing_left").unwrap().record().mirrored_as("new", None);
        let mut copied = robot.clone();
        copied.put(&right).unwrap();
        let joint = copied.joint("new").unwrap();
        assert_eq!(joint.joint().travel().lower(), 61.0);
        assert_eq!(joint.joint().drive(60.0).unwrap().value, 61.0);
        assert_eq!(joint.mirror_of(), Some("wing_left"));
        let end = joint.evidence().lower.unwrap();
        assert_eq!((end.kind, end.at, end.u), (EvidenceKind::Declared, 61.0, None));
        assert_eq!(joint.evidence().sense, None);
        for command in [-40.0, -3.0, 10.0, 60.0] {
            let left = robot.joint("wing_left").unwrap().joint().drive(command).unwrap().value;
            assert!((joint.joint().drive(command).unwrap().value - (180.0 - left)).abs() < 1e-9);
        }
    }
}
