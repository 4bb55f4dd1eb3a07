//! Where rules put what they find, and how they write names and numbers.

use std::borrow::ToOwned;
use std::string::String;
use std::vec::Vec;

use super::finding::{CheckReport, Finding, Waived};
use super::rule::Rule;
use crate::look::Trimmed;
use crate::robot::entry::JointEntry;
use crate::robot::set::toml_key;
use crate::robot::settings::CheckSettings;

/// Where rules put what they find; it knows the waivers and the severities of the file.
pub(super) struct Sink<'a> {
    pub(super) settings: &'a CheckSettings,
    pub(super) report: CheckReport,
    pub(super) waiver_used: Vec<bool>,
}

impl<'a> Sink<'a> {
    pub(super) fn new(settings: &'a CheckSettings) -> Self {
        Self {
            settings,
            report: CheckReport::default(),
            waiver_used: std::vec![false; settings.waivers.len()],
        }
    }

    pub(super) fn joint(&mut self, rule: Rule, entry: &JointEntry, message: String, hint: impl Into<String>) {
        self.put(rule, Some(entry), message, hint.into());
    }

    pub(super) fn robot(&mut self, rule: Rule, message: String, hint: impl Into<String>) {
        self.put(rule, None, message, hint.into());
    }

    pub(super) fn put(&mut self, rule: Rule, entry: Option<&JointEntry>, message: String, hint: String) {
        let joint = entry.map(JointEntry::name);
        let finding = Finding {
            severity: self.settings.severity_of(rule),
            rule,
            joint: joint.map(ToOwned::to_owned),
            line: entry.map(JointEntry::line),
            message,
            hint,
        };
        let waivers = self.settings.waivers.iter().zip(&mut self.waiver_used);
        for (waiver, used) in waivers {
            if waiver.rule == rule && (waiver.joint.is_none() || waiver.joint.as_deref() == joint) {
                *used = true;
                let reason = waiver.reason.clone();
                self.report.waived.push(Waived { finding, reason });
                return;
            }
        }
        self.report.findings.push(finding);
    }
}

/// A value of a joint, or a key of it, as an argument of `elbowroom edit`: a name in quotes is held together by others, which a shell takes off.
pub(super) fn argument(entry: &JointEntry, rest: &str) -> String {
    let key = toml_key(entry.name());
    if key == entry.name() {
        std::format!("{key}.{rest}")
    } else {
        std::format!("'{key}.{rest}'")
    }
}

/// The commands that measure a joint and write the evidence; a name that a shell would take apart is held together by quotes.
pub(super) fn measure(entry: &JointEntry) -> String {
    let name = entry.name();
    let joint = if toml_key(name) == name {
        name.to_owned()
    } else {
        std::format!("'{}'", name.replace('\'', "'\\''"))
    };
    std::format!(
        "measure it: elbowroom bring-up FILE --joint {joint}; or take readings and fit them: elbowroom fit READINGS --into FILE --joint {joint}"
    )
}

/// A computed value for people: three decimals at most.
pub(super) fn short(value: f64) -> String {
    std::format!("{}", Trimmed(value, 3))
}
