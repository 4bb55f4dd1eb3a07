//! The `transmission` of a joint, read and written.

use std::borrow::ToOwned;
use std::string::String;
use std::vec::Vec;

use toml_edit::TableLike;

use super::error::FileError;
use super::keys;
use super::parse::part;
use super::reader::{Section, knots};
use super::set::{remove_key, set_knots, set_number, set_text, within};
use crate::curve::SlopeRule;
use crate::linkage::{Branch, MechanismKind};
use crate::transmission::{TRANSMISSION_KINDS, TransmissionRecord};

/// Reads a transmission by itself, as a joint of a robot file has it: `transmission = { kind = "spool", … }`.
///
/// # Errors
/// [`FileError`] as for the file: a key that is missing or unknown, a value of the wrong type, with what to write instead.
///
/// ```
/// use elbowroom::robot::read_transmission;
/// let refused = read_transmission("transmission = { kind = \"spool\", drum = \"big\" }").unwrap_err();
/// assert!(refused.to_string().contains("drum is the text \"big\""));
/// ```
pub fn read_transmission(text: &str) -> Result<TransmissionRecord<f64>, FileError> {
    part(text, read)
}

const EXAMPLE: &str = "transmission = { kind = \"triangle\", base = 40.0, arm = 92.0, angle_at_zero = 31.0 }";
pub(super) fn read(joint: &Section<'_>) -> Result<TransmissionRecord<f64>, FileError> {
    let Some(section) = joint.section("transmission", EXAMPLE)? else {
        return Ok(TransmissionRecord::default());
    };
    let kind = section.word("kind", EXAMPLE, TRANSMISSION_KINDS, |kind| kind)?;
    let kind = section.need("kind", EXAMPLE, kind)?;
    if let Some(mechanism) = MechanismKind::of_word(kind) {
        return mechanism_of(&section, mechanism);
    }
    if kind == "linear" {
        section.only(keys::LINEAR.names)?;
        return Ok(TransmissionRecord::Linear {});
    }
    section.only(keys::CURVE.names)?;
    const KNOTS: &str = "knots = [[0, 5], [90, 50], [180, 80]], command and drive of each";
    Ok(TransmissionRecord::Curve {
        knots: section.need("knots", KNOTS, section.value("knots", KNOTS, knots)?)?,
        rule: section
            .word("rule", "rule = \"parabola\"", &SlopeRule::ALL, SlopeRule::as_str)?
            .unwrap_or_default(),
    })
}

/// A mechanism from its row of the table.
fn mechanism_of(section: &Section<'_>, kind: &MechanismKind) -> Result<TransmissionRecord<f64>, FileError> {
    const BRANCH: &str = "branch = \"left\"";
    section.only(kind.keys)?;
    let mut sizes = Vec::with_capacity(kind.names.len());
    for &name in kind.names {
        sizes.push(section.need(name, EXAMPLE, section.number(name, EXAMPLE)?)?);
    }
    let mut branch = Branch::Left;
    if kind.has_branch {
        let word = section.word("branch", BRANCH, &Branch::ALL, Branch::as_str)?;
        branch = section.need("branch", BRANCH, word)?;
    }
    Ok(TransmissionRecord::from(&kind.with(&sizes, branch)))
}

/// Writes the transmission of a joint; only what differs, where the kind stays.
pub(super) fn write(joint: &mut dyn TableLike, new: &TransmissionRecord<f64>, old: Option<&TransmissionRecord<f64>>) {
    if old == Some(new) {
        return;
    }
    if new.is_linear() {
        remove_key(joint, "transmission");
        return;
    }
    let other_kind = old.is_some_and(|old| old.kind() != new.kind());
    within(joint, "transmission", |table| {
        if other_kind {
            let names: Vec<String> = table.iter().map(|(name, _)| name.to_owned()).collect();
            names
                .iter()
                .filter(|name| *name != "kind")
                .for_each(|name| remove_key(table, name));
        }
        set_text(table, "kind", Some(new.kind()));
        if let TransmissionRecord::Curve { knots, rule } = new {
            set_knots(table, Some(knots));
            if *rule != SlopeRule::default() || table.contains_key("rule") {
                set_text(table, "rule", Some(rule.as_str()));
            }
        }
        let Some(mechanism) = new.mechanism() else { return };
        for (key, size) in mechanism.numbers() {
            set_number(table, key, Some(size));
        }
        if let Some(branch) = mechanism.branch() {
            set_text(table, "branch", Some(branch.as_str()));
        }
    });
}
