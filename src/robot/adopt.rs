//! What a bring-up found, written into a joint's record; and what a fit finds of a joint that is there.

mod commands;
mod judge;
mod refit;
mod repair;
mod servo;
mod units;

pub use judge::{Apart, Judgement, StopMoved};
pub use refit::{Refit, RefitMap};
pub use repair::AdoptError;
pub use units::MistakenUnit;

use super::date::Date;
use super::entry::EntryRecord;
use super::evidence::{EndEvidence, Evidence};
use super::from_fit::{inward, rounded, rounded_up};
use crate::bring_up::{AlignmentEnd, EndFound, Outcome, SenseReason};
use crate::feedback::Feedback;
use crate::fit::EndKind;

impl EntryRecord {
    /// Takes over travel and evidence of a bring-up, and says whether there was something to take: unless the joint was
    /// found ready, nothing changes.
    ///
    /// What the bring-up does not speak of (wiring, command range, rest, rate) stays as it was. Where the sensor was turned
    /// on its shaft, the record's feedback moves along by as many readings.
    pub fn adopt(&mut self, outcome: &Outcome, date: Option<Date>) -> bool {
        let (Some(travel), Some(fit)) = (outcome.travel(), &outcome.fit) else {
            return false;
        };
        let end = |found: EndFound| EndEvidence {
            kind: found.kind.into(),
            at: rounded(found.at),
            short_at: found.short_at.map(rounded),
            u: found.u.map(rounded_up),
            guard: (found.kind == EndKind::Contact).then_some(outcome.guard),
        };
        self.joint.travel = Some(inward(travel));
        if let Some(AlignmentEnd::Set {
            joint_angle,
            reading,
            settings: 1..,
            ..
        }) = outcome.alignment
        {
            self.move_feedback(joint_angle, reading);
        }
        self.renew(Evidence {
            // A servo that closes its loop by itself was not asked for its sense.
            sense: outcome
                .sense
                .filter(|s| s.reason != Some(SenseReason::DriveNotWatched))
                .map(|s| s.sense),
            lower: outcome.lower.map(end),
            upper: outcome.upper.map(end),
            ..Evidence::from_fit(fit, date)
        });
        true
    }

    /// Moves the feedback to a reading at a joint angle, keeping its readings per degree. A potentiometer under load is bent
    /// otherwise at another place of its travel, so it is left as it is and has to be measured anew.
    fn move_feedback(&mut self, joint_angle: f64, reading: f64) {
        let Some(record) = &mut self.joint.feedback else {
            return;
        };
        let Ok(feedback) = Feedback::new(record) else {
            return;
        };
        if record.pot_ohm.is_some() {
            return;
        }
        let by = reading - feedback.reading(joint_angle);
        record.reading = record.reading.map(|r| rounded(r + by));
        for [knot, _] in record.knots.iter_mut().flatten() {
            *knot = rounded(*knot + by);
        }
    }
}
