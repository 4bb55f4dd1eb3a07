//! The `transmission` of a joint, read and written.

use std::borrow::ToOwned;
use std::vec::Vec;

use toml_edit::TableLike;

use super::edit::{set_knots, set_number, set_text, within};
use super::error::{FileError, FileFault};
use super::reader::{Section, knots};
use crate::curve::SlopeRule;
use crate::linkage::Side;
use crate::transmission::TransmissionRecord;

const EXAMPLE: &str = "transmission = { kind = \"triangle\", near = 40.0, far = 92.0, angle_at_zero = 31.0 }";
const KINDS: [&str; 6] = ["linear", "curve", "triangle", "crank-slider", "four-bar", "spool"];
const SIDES: [Side; 2] = [Side::Left, Side::Right];
const RULES: [SlopeRule; 3] = [SlopeRule::Parabola, SlopeRule::MeanChord, SlopeRule::HarmonicChord];

const fn side_word(side: Side) -> &'static str {
    match side {
        Side::Left => "left",
        Side::Right => "right",
    }
}

pub(super) const fn rule_word(rule: SlopeRule) -> &'static str {
    match rule {
        SlopeRule::Parabola => "parabola",
        SlopeRule::MeanChord => "mean-chord",
        SlopeRule::HarmonicChord => "harmonic-chord",
    }
}

pub(super) fn read(joint: &Section<'_>) -> Result<TransmissionRecord<f64>, FileError> {
    let Some(section) = joint.section("transmission", EXAMPLE)? else {
        return Ok(TransmissionRecord::default());
    };
    let kind = section.word("kind", EXAMPLE, &KINDS, |kind| kind)?;
    let size = |key: &'static str| section.need(key, EXAMPLE, section.number(key, EXAMPLE)?);
    let side = |example| section.need("side", example, section.word("side", example, &SIDES, side_word)?);
    Ok(match section.need("kind", EXAMPLE, kind)? {
        "curve" => {
            section.only(&["kind", "knots", "rule"])?;
            const KNOTS: &str = "knots = [[0, 5], [90, 50], [180, 80]], command and drive of each";
            TransmissionRecord::Curve {
                knots: section.need("knots", KNOTS, section.value("knots", KNOTS, knots)?)?,
                rule: section
                    .word("rule", "rule = \"parabola\"", &RULES, rule_word)?
                    .unwrap_or_default(),
            }
        }
        "triangle" => {
            section.only(&["kind", "near", "far", "angle_at_zero"])?;
            TransmissionRecord::Triangle {
                near: size("near")?,
                far: size("far")?,
                angle_at_zero: size("angle_at_zero")?,
            }
        }
        "crank-slider" => {
            section.only(&["kind", "crank", "rod", "offset", "slide_at_zero", "side"])?;
            TransmissionRecord::CrankSlider {
                crank: size("crank")?,
                rod: size("rod")?,
                offset: size("offset")?,
                slide_at_zero: size("slide_at_zero")?,
                side: side("side = \"left\"")?,
            }
        }
        "four-bar" => {
            section.only(&["kind", "horn", "rod", "lever", "ground", "lever_at_zero", "side"])?;
            TransmissionRecord::FourBar {
                horn: size("horn")?,
                rod: size("rod")?,
                lever: size("lever")?,
                ground: size("ground")?,
                lever_at_zero: size("lever_at_zero")?,
                side: side("side = \"left\"")?,
            }
        }
        "spool" => {
            section.only(&["kind", "drum", "per_turn", "pulley"])?;
            TransmissionRecord::Spool {
                drum: size("drum")?,
                per_turn: size("per_turn")?,
                pulley: size("pulley")?,
            }
        }
        "linear" => {
            section.only(&["kind"])?;
            TransmissionRecord::Linear {}
        }
        other => {
            return Err(section.fault_here(FileFault::UnknownWord {
                key: "kind".to_owned(),
                word: other.to_owned(),
                nearest: "linear",
                known: KINDS.to_vec(),
            }));
        }
    })
}

/// Writes the transmission of a joint; only what differs, where the kind stays.
pub(super) fn write(joint: &mut dyn TableLike, new: &TransmissionRecord<f64>, old: Option<&TransmissionRecord<f64>>) {
    if old == Some(new) {
        return;
    }
    if old.is_some_and(|old| old.kind() != new.kind()) || new.is_linear() {
        joint.remove("transmission");
    }
    if new.is_linear() {
        return;
    }
    within(joint, "transmission", |table| {
        set_text(table, "kind", Some(new.kind()));
        if let TransmissionRecord::Curve { knots, rule } = new {
            set_knots(table, Some(knots));
            if *rule != SlopeRule::default() || table.contains_key("rule") {
                set_text(table, "rule", Some(rule_word(*rule)));
            }
        }
        for (key, size) in dimensions(new) {
            set_number(table, key, Some(size));
        }
        if let Some(side) = side(new) {
            set_text(table, "side", Some(side));
        }
    });
}

/// The numbers of a linkage by their keys.
pub(super) fn dimensions(record: &TransmissionRecord<f64>) -> Vec<(&'static str, f64)> {
    match *record {
        TransmissionRecord::Linear {} | TransmissionRecord::Curve { .. } => Vec::new(),
        TransmissionRecord::Triangle {
            near,
            far,
            angle_at_zero,
        } => [("near", near), ("far", far), ("angle_at_zero", angle_at_zero)].into(),
        TransmissionRecord::CrankSlider {
            crank,
            rod,
            offset,
            slide_at_zero,
            ..
        } => [
            ("crank", crank),
            ("rod", rod),
            ("offset", offset),
            ("slide_at_zero", slide_at_zero),
        ]
        .into(),
        TransmissionRecord::FourBar {
            horn,
            rod,
            lever,
            ground,
            lever_at_zero,
            ..
        } => [
            ("horn", horn),
            ("rod", rod),
            ("lever", lever),
            ("ground", ground),
            ("lever_at_zero", lever_at_zero),
        ]
        .into(),
        TransmissionRecord::Spool { drum, per_turn, pulley } => {
            [("drum", drum), ("per_turn", per_turn), ("pulley", pulley)].into()
        }
    }
}

/// The assembly branch of a linkage that has one.
pub(super) fn side(record: &TransmissionRecord<f64>) -> Option<&'static str> {
    match record {
        TransmissionRecord::CrankSlider { side, .. } | TransmissionRecord::FourBar { side, .. } => {
            Some(side_word(*side))
        }
        _ => None,
    }
}
