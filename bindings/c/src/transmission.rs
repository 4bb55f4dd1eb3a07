//! The numbers of C that stand for transmissions.

use crate::refusal::Refusal;
use model::TransmissionRecord;
use model::curve::SlopeRule;
use model::linkage::{Branch, Mechanism};

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
    let [a, b, c, d, e] = numbers;
    Ok(match kind {
        ELB_TRANSMISSION_TRIANGLE => TransmissionRecord::Triangle {
            base: a,
            arm: b,
            angle_at_zero: c,
        },
        ELB_TRANSMISSION_SLIDER_CRANK => TransmissionRecord::SliderCrank {
            crank: a,
            rod: b,
            offset: c,
            slide_at_zero: d,
            branch: branch_of(branch)?,
        },
        ELB_TRANSMISSION_FOUR_BAR => TransmissionRecord::FourBar {
            crank: a,
            coupler: b,
            rocker: c,
            ground: d,
            rocker_at_zero: e,
            branch: branch_of(branch)?,
        },
        ELB_TRANSMISSION_SPOOL => TransmissionRecord::Spool {
            drum: a,
            per_turn: b,
            pulley: c,
        },
        other => {
            return Err(Refusal::Value {
                what: "transmission",
                given: other.into(),
                right: "one of ELB_TRANSMISSION_..., 0 to 5",
            });
        }
    })
}

/// The number of a transmission.
pub(crate) fn kind_of(record: &TransmissionRecord<f64>) -> u32 {
    match record {
        TransmissionRecord::Curve { .. } => ELB_TRANSMISSION_CURVE,
        TransmissionRecord::Triangle { .. } => ELB_TRANSMISSION_TRIANGLE,
        TransmissionRecord::SliderCrank { .. } => ELB_TRANSMISSION_SLIDER_CRANK,
        TransmissionRecord::FourBar { .. } => ELB_TRANSMISSION_FOUR_BAR,
        TransmissionRecord::Spool { .. } => ELB_TRANSMISSION_SPOOL,
        _ => ELB_TRANSMISSION_LINEAR,
    }
}

/// The dimensions of a mechanism, in the order that its constant states.
pub(crate) fn numbers_of(mechanism: &Mechanism) -> [f64; 5] {
    let mut numbers = [0.0; 5];
    for (number, name) in numbers.iter_mut().zip(mechanism.dimensions()) {
        *number = mechanism.dimension(name).unwrap_or(f64::NAN);
    }
    numbers
}

/// Where the pin of a mechanism lies, if it has one that may lie on two sides.
pub(crate) fn branch_of_mechanism(mechanism: &Mechanism) -> u32 {
    match mechanism {
        Mechanism::SliderCrank(m) => number_of_branch(m.branch),
        Mechanism::FourBar(m) => number_of_branch(m.branch),
        _ => ELB_BRANCH_LEFT,
    }
}

pub(crate) fn number_of_branch(branch: Branch) -> u32 {
    match branch {
        Branch::Left => ELB_BRANCH_LEFT,
        Branch::Right => ELB_BRANCH_RIGHT,
    }
}

fn branch_of(branch: u32) -> Result<Branch, Refusal> {
    match branch {
        ELB_BRANCH_LEFT => Ok(Branch::Left),
        ELB_BRANCH_RIGHT => Ok(Branch::Right),
        other => Err(Refusal::Value {
            what: "branch",
            given: other.into(),
            right: "ELB_BRANCH_LEFT (0) or ELB_BRANCH_RIGHT (1)",
        }),
    }
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
