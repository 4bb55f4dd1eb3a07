//! The sense of a feedback after a change of the maps under which it was tested.

use std::vec::Vec;

use super::Robot;
use super::entry::{EntryRecord, JointEntry};

impl JointEntry {
    /// Whether commands run with readings the other way than in an earlier state of the joint: the map of one of both is turned round,
    /// and that of the other is not.
    pub(super) fn is_turned_from(&self, before: &Self) -> bool {
        let commands = runs_down(self) != runs_down(before);
        let readings = match (before.joint.feedback(), self.joint.feedback()) {
            (Some(was), Some(is)) => was.direction() != is.direction(),
            // A map that is new, or gone, turns nothing round.
            _ => false,
        };
        commands != readings
    }

    /// Whether the recorded sense is the earlier one, of the same test.
    fn has_sense_of(&self, before: &Self) -> bool {
        let (is, was) = (&self.evidence, &before.evidence);
        was.sense.is_some() && is.sense == was.sense && is.sense_date.or(is.date) == was.sense_date.or(was.date)
    }
}

/// Whether the lower command has the upper drive angle.
fn runs_down(entry: &JointEntry) -> bool {
    let (transmission, command) = (entry.joint.transmission(), entry.joint.command_range());
    transmission.drive(command.lower()) > transmission.drive(command.upper())
}

/// The joints whose recorded sense is that of a test before they were turned round, without it.
pub(super) fn without_old_sense(before: &Robot, now: &Robot) -> Vec<EntryRecord> {
    let is_old = |entry: &&JointEntry| {
        let was = before.joint(entry.name());
        was.is_some_and(|was| entry.has_sense_of(was) && entry.is_turned_from(was))
    };
    let all = now.joints().iter().filter(is_old);
    all.map(|entry| {
        let mut record = entry.record();
        (record.evidence.sense, record.evidence.sense_date) = (None, None);
        record
    })
    .collect()
}
