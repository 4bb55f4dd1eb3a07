//! What a robot file holds about a joint for its next bring-up.

use super::entry::JointEntry;
use super::evidence::{EndEvidence, EvidenceKind};
use crate::bring_up::Baseline;

impl JointEntry {
    /// How far around the middle of its travel the feedback's line is taken, deg of drive angle.
    const AROUND: f64 = 1.0;

    /// What is known of this joint from before, to tell in a bring-up what has changed since: the contacts of its evidence, and the line of its
    /// feedback at the middle of the travel. Nothing without a feedback map: then the readings of the sensor are unknown.
    ///
    /// ```
    /// use elbowroom::robot::Robot;
    /// let robot: Robot = "format = 1\nname = \"heron\"\n[joint.wing]\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\n\
    ///     servo = { angle = [0, 180], pulse_us = [500, 2500] }\ntimer = { frame_hz = 50, counts_per_frame = 4096 }\n".parse()?;
    /// assert_eq!(robot.joint("wing").unwrap().baseline(), None);
    /// # Ok::<(), elbowroom::robot::FileError>(())
    /// ```
    pub fn baseline(&self) -> Option<Baseline> {
        let contact = |end: Option<EndEvidence>| end.filter(|end| end.kind == EvidenceKind::Contact).map(|end| end.at);
        let (joint, evidence) = (self.joint(), self.evidence());
        let [lower, upper] = joint.travel().ends();
        let at = (lower + upper) / 2.0;
        let reading = |drive: f64| joint.reading_from_command(joint.command_from_drive(drive)).ok();
        let (below, above) = (reading(at - Self::AROUND)?, reading(at + Self::AROUND)?);
        let known = Baseline {
            contacts: [contact(evidence.lower), contact(evidence.upper)],
            at,
            reading: reading(at)?,
            per_deg: (above - below) / (2.0 * Self::AROUND),
        };
        (known.per_deg != 0.0 && known.per_deg.is_finite() && known.reading.is_finite()).then_some(known)
    }
}
