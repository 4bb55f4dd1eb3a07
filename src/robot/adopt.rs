//! What a bring-up found, written into a joint's record.

use super::date::Date;
use super::entry::EntryRecord;
use super::evidence::{EndEvidence, Evidence, EvidenceKind};
use super::from_fit::{inward, rounded, rounded_up};
use crate::bring_up::{EndFound, Outcome, SenseReason};
use crate::fit::EndKind;

impl EntryRecord {
    /// Takes over travel and evidence of a bring-up, and says whether there was something to take: unless the joint was
    /// found fit, nothing changes.
    ///
    /// What the bring-up does not speak of (wiring, command range, rest, rate) stays as it was.
    pub fn adopt(&mut self, outcome: &Outcome, date: Option<Date>) -> bool {
        let (Some(travel), Some(fit)) = (outcome.travel(), &outcome.fit) else {
            return false;
        };
        let end = |found: EndFound| EndEvidence {
            kind: match found.kind {
                EndKind::Contact => EvidenceKind::Contact,
                EndKind::Reached => EvidenceKind::Reached,
            },
            at: rounded(found.at),
            u: found.u.map(rounded_up),
            guard: (found.kind == EndKind::Contact).then_some(outcome.guard),
        };
        self.joint.travel = Some(inward(travel));
        self.evidence = Evidence {
            // A servo that closes its loop by itself was not asked for its sense.
            sense: outcome
                .sense
                .filter(|s| s.reason != Some(SenseReason::DriveNotWatched))
                .map(|s| s.sense),
            lower: outcome.lower.map(end),
            upper: outcome.upper.map(end),
            ..Evidence::from_fit(fit, date)
        };
        true
    }
}
