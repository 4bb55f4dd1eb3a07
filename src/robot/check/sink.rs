//! Where rules put what they find, and how they write names and numbers.

use std::borrow::ToOwned;
use std::string::String;
use std::vec::Vec;

use super::finding::{CheckReport, Finding, Waived};
use super::rule::Rule;
use crate::look::Trimmed;
use crate::robot::Robot;
use crate::robot::entry::JointEntry;
use crate::robot::set::{shell_word, toml_key};
use crate::robot::settings::CheckSettings;

/// The commands of remedies that a shell can carry out.
pub(super) struct Shell {
    /// The robot file as an argument; of a robot that no file is known of, the word that stands for it.
    file: String,
}

impl Shell {
    pub(super) fn of(robot: &Robot) -> Self {
        let file = robot.file_given();
        Self {
            file: file.map_or("FILE".to_owned(), |file| shell_word(&file.to_string_lossy())),
        }
    }

    /// Changes the robot file.
    pub(super) fn edit(&self, change: &str) -> String {
        std::format!("elbowroom edit {} {change}", self.file)
    }

    /// Measures a joint and writes the evidence.
    pub(super) fn measure(&self, entry: &JointEntry) -> String {
        let (file, joint) = (&self.file, shell_word(entry.name()));
        std::format!(
            "measure it: elbowroom bring-up {file} --joint {joint}; or take readings and fit them: elbowroom fit READINGS --into {file} --joint {joint}"
        )
    }
}

/// Where rules put what they find; it knows the waivers and the severities of the file.
pub(super) struct Sink<'a> {
    pub(super) settings: &'a CheckSettings,
    pub(super) shell: &'a Shell,
    pub(super) report: CheckReport,
    pub(super) waiver_used: Vec<bool>,
}

impl<'a> Sink<'a> {
    pub(super) fn new(settings: &'a CheckSettings, shell: &'a Shell) -> Self {
        Self {
            settings,
            shell,
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

/// A value of a joint, or a key of it, as an argument of `elbowroom edit`.
pub(super) fn argument(entry: &JointEntry, rest: &str) -> String {
    shell_word(&std::format!("{}.{rest}", toml_key(entry.name())))
}

/// A computed value for people: three decimals at most.
pub(super) fn short(value: f64) -> String {
    std::format!("{}", Trimmed(value, 3))
}
