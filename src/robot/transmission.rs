//! The `transmission` of a joint, read and written.

use std::borrow::ToOwned;
use std::vec::Vec;

use toml_edit::TableLike;

use super::edit::{set_knots, set_number, set_text, within};
use super::error::{FileError, FileFault};
use super::reader::{Section, knots};
use crate::curve::SlopeRule;
use crate::linkage::Branch;
use crate::transmission::TransmissionRecord;

const EXAMPLE: &str = "transmission = { kind = \"triangle\", base = 40.0, arm = 92.0, angle_at_zero = 31.0 }";
const KINDS: [&str; 6] = ["linear", "curve", "triangle", "slider-crank", "four-bar", "spool"];
const BRANCHES: [Branch; 2] = [Branch::Left, Branch::Right];
const RULES: [SlopeRule; 3] = [SlopeRule::Parabola, SlopeRule::MeanChord, SlopeRule::HarmonicChord];

const fn branch_word(branch: Branch) -> &'static str {
    match branch {
        Branch::Left => "left",
        Branch::Right => "right",
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
    let branch = |example| {
        section.need(
            "branch",
            example,
            section.word("branch", example, &BRANCHES, branch_word)?,
        )
    };
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
            section.only(&["kind", "base", "arm", "angle_at_zero"])?;
            TransmissionRecord::Triangle {
                base: size("base")?,
                arm: size("arm")?,
                angle_at_zero: size("angle_at_zero")?,
            }
        }
        "slider-crank" => {
            section.only(&["kind", "crank", "rod", "offset", "slide_at_zero", "branch"])?;
            TransmissionRecord::SliderCrank {
                crank: size("crank")?,
                rod: size("rod")?,
                offset: size("offset")?,
                slide_at_zero: size("slide_at_zero")?,
                branch: branch("branch = \"left\"")?,
            }
        }
        "four-bar" => {
            section.only(&[
                "kind",
                "crank",
                "coupler",
                "rocker",
                "ground",
                "rocker_at_zero",
                "branch",
            ])?;
            TransmissionRecord::FourBar {
                crank: size("crank")?,
                coupler: size("coupler")?,
                rocker: size("rocker")?,
                ground: size("ground")?,
                rocker_at_zero: size("rocker_at_zero")?,
                branch: branch("branch = \"left\"")?,
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
        if let Some(branch) = branch(new) {
            set_text(table, "branch", Some(branch));
        }
    });
}

/// The numbers of a linkage by their keys.
pub(super) fn dimensions(record: &TransmissionRecord<f64>) -> Vec<(&'static str, f64)> {
    match *record {
        TransmissionRecord::Linear {} | TransmissionRecord::Curve { .. } => Vec::new(),
        TransmissionRecord::Triangle {
            base,
            arm,
            angle_at_zero,
        } => [("base", base), ("arm", arm), ("angle_at_zero", angle_at_zero)].into(),
        TransmissionRecord::SliderCrank {
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
            crank,
            coupler,
            rocker,
            ground,
            rocker_at_zero,
            ..
        } => [
            ("crank", crank),
            ("coupler", coupler),
            ("rocker", rocker),
            ("ground", ground),
            ("rocker_at_zero", rocker_at_zero),
        ]
        .into(),
        TransmissionRecord::Spool { drum, per_turn, pulley } => {
            [("drum", drum), ("per_turn", per_turn), ("pulley", pulley)].into()
        }
    }
}

/// The assembly branch of a linkage that has one.
pub(super) fn branch(record: &TransmissionRecord<f64>) -> Option<&'static str> {
    match record {
        TransmissionRecord::SliderCrank { branch, .. } | TransmissionRecord::FourBar { branch, .. } => {
            Some(branch_word(*branch))
        }
        _ => None,
    }
}
