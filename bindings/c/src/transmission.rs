//! The numbers of C that stand for transmissions.

use crate::refusal::Refusal;
use model::TransmissionRecord;
use model::curve::SlopeRule;
use model::linkage::{Branch, Mechanism, MechanismKind};

/// A straight line between the ends.
pub const ELB_TRANSMISSION_LINEAR: u32 = 0;
/// A monotone curve through knots.
pub const ELB_TRANSMISSION_CURVE: u32 = 1;
/// A linear actuator or lead screw across a hinge. Its numbers: base, arm (lengths from the hinge to the actuator's two
/// ends), angle_at_zero (between them at command 0, deg).
pub const ELB_TRANSMISSION_TRIANGLE: u32 = 2;
/// A crank that moves a slide. Its numbers: crank, rod, offset, slide_at_zero (lengths).
pub const ELB_TRANSMISSION_SLIDER_CRANK: u32 = 3;
/// A crank that moves a rocker through a coupler. Its numbers: crank, coupler, rocker, ground (lengths), rocker_at_zero (the rocker's
/// angle at command 0, deg).
pub const ELB_TRANSMISSION_FOUR_BAR: u32 = 4;
/// A tendon on a drum. Its numbers: drum (radius at command 0), per_turn (what the radius gains with each turn), pulley
/// (radius at the joint).
pub const ELB_TRANSMISSION_SPOOL: u32 = 5;

/// The pin lies counter-clockwise of the line from the shaft to the pin that it moves.
pub const ELB_BRANCH_LEFT: u32 = 0;
/// The pin lies clockwise of that line.
pub const ELB_BRANCH_RIGHT: u32 = 1;

/// Slopes of the parabola through three knots, held monotone: the most exact.
pub const ELB_SLOPES_PARABOLA: u32 = 0;
/// Slopes that are the mean of two chords, held monotone.
pub const ELB_SLOPES_MEAN_CHORD: u32 = 1;
/// Slopes that are the weighted harmonic mean of two chords.
pub const ELB_SLOPES_HARMONIC_CHORD: u32 = 2;

/// A linkage from its numbers.
pub(crate) fn linkage_of(kind: u32, branch: u32, numbers: [f64; 5]) -> Result<TransmissionRecord<f64>, Refusal> {
    let kind = MechanismKind::of_number(kind).ok_or(Refusal::Value {
        what: "kind",
        given: kind.into(),
        right: "one of ELB_TRANSMISSION_..., 0 to 5",
    })?;
    let branch = match kind.has_branch {
        true => branch_of(branch)?,
        false => Branch::Left,
    };
    Ok(TransmissionRecord::from(&kind.with(&numbers, branch)))
}

/// The number of a transmission.
pub(crate) fn kind_of(record: &TransmissionRecord<f64>) -> u32 {
    match record.mechanism() {
        Some(mechanism) => mechanism.form().number,
        None if record.is_linear() => ELB_TRANSMISSION_LINEAR,
        None => ELB_TRANSMISSION_CURVE,
    }
}

/// The dimensions of a mechanism, in the order that its constant states.
pub(crate) fn numbers_of(mechanism: &Mechanism) -> [f64; 5] {
    let mut numbers = [0.0; 5];
    for (place, (_, number)) in numbers.iter_mut().zip(mechanism.numbers()) {
        *place = number;
    }
    numbers
}

/// Where the pin of a mechanism lies, if it has one that may lie on two sides.
pub(crate) fn branch_of_mechanism(mechanism: &Mechanism) -> u32 {
    mechanism.branch().map_or(ELB_BRANCH_LEFT, number_of_branch)
}

pub(crate) fn number_of_branch(branch: Branch) -> u32 {
    match branch {
        Branch::Left => ELB_BRANCH_LEFT,
        Branch::Right => ELB_BRANCH_RIGHT,
    }
}

fn branch_of(branch: u32) -> Result<Branch, Refusal> {
    Branch::ALL
        .into_iter()
        .find(|one| number_of_branch(*one) == branch)
        .ok_or(Refusal::Value {
            what: "branch",
            given: branch.into(),
            right: "ELB_BRANCH_LEFT (0) or ELB_BRANCH_RIGHT (1)",
        })
}

pub(crate) fn rule_of(slopes: u32) -> Result<SlopeRule, Refusal> {
    match slopes {
        ELB_SLOPES_PARABOLA => Ok(SlopeRule::Parabola),
        ELB_SLOPES_MEAN_CHORD => Ok(SlopeRule::MeanChord),
        ELB_SLOPES_HARMONIC_CHORD => Ok(SlopeRule::HarmonicChord),
        other => Err(Refusal::Value {
            what: "slopes",
            given: other.into(),
            right: "one of ELB_SLOPES_..., 0 to 2",
        }),
    }
}

pub(crate) fn number_of_rule(rule: SlopeRule) -> u32 {
    match rule {
        SlopeRule::MeanChord => ELB_SLOPES_MEAN_CHORD,
        SlopeRule::HarmonicChord => ELB_SLOPES_HARMONIC_CHORD,
        _ => ELB_SLOPES_PARABOLA,
    }
}

/// The header's constants are the numbers of the core's table, and each of its kinds fits the struct's five numbers.
#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn constants_are_the_numbers_of_the_kinds() {
        let named = [
            (ELB_TRANSMISSION_TRIANGLE, "triangle"),
            (ELB_TRANSMISSION_SLIDER_CRANK, "slider-crank"),
            (ELB_TRANSMISSION_FOUR_BAR, "four-bar"),
            (ELB_TRANSMISSION_SPOOL, "spool"),
        ];
        let kinds: Vec<_> = MechanismKind::ALL.iter().map(|kind| (kind.number, kind.word)).collect();
        assert_eq!(named.as_slice(), kinds);
        for kind in MechanismKind::ALL {
            assert!(kind.names.len() <= 5, "{}", kind.word);
        }
    }
}
