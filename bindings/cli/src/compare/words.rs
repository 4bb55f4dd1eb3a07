//! The core's words for quantities and verdicts.

use elbowroom::fit::{Quantity, Verdict};
use elbowroom::look;

/// The words of a quantity.
pub(super) const fn word(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::Offset => look::QUANTITY_OFFSET.text,
        Quantity::Scale => look::QUANTITY_SCALE.text,
        Quantity::Bend => look::QUANTITY_BEND.text,
        Quantity::Lower => look::QUANTITY_LOWER.text,
        Quantity::Upper => look::QUANTITY_UPPER.text,
        Quantity::LostMotion => look::QUANTITY_LOST_MOTION.text,
        _ => "other",
    }
}

/// The words of a verdict.
pub(super) const fn concluded(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::NotComparable => look::VERDICT_NOT_COMPARABLE.text,
        Verdict::Negligible => look::VERDICT_NEGLIGIBLE.text,
        Verdict::Untested => look::VERDICT_UNTESTED.text,
        Verdict::Changed => look::VERDICT_CHANGED.text,
        Verdict::Same => look::VERDICT_SAME.text,
    }
}
