//! A robot file's settings of its own checks: `[check]`.

use std::borrow::ToOwned;
use std::boxed::Box;
use std::string::String;
use std::vec::Vec;

use super::check::rule::{Rule, Severity};
use super::entry::JointEntry;
use super::error::{FileError, FileFault};
use super::keys;
use super::reader::{Section, unknown_joint};

/// A finding that the file's owner accepts, with the reason.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Waiver {
    /// The rule.
    pub rule: Rule,
    /// The joint it holds for; every joint if absent, those of later changes too.
    pub joint: Option<String>,
    /// Why the finding is accepted.
    pub reason: String,
}

/// Limits that the rules use, tuned in `[check]`, and the waivers.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct CheckSettings {
    /// `guard`: least margin between contact and travel where the evidence names none, drive deg.
    pub guard: f64,
    /// `coarse_step`: most that one timer count may move the drive, deg.
    pub coarse_step: f64,
    /// `stale_after_days`: age at which evidence is old.
    pub stale_after_days: u32,
    /// `fewest_readings`: readings that evidence should rest on.
    pub fewest_readings: u32,
    /// `lost_motion`: most lost motion without a finding, drive deg.
    pub lost_motion: f64,
    /// `pulse_us`: pulse widths that hobby servos take.
    pub pulse_us: [f64; 2],
    /// `drive_per_s`: how fast the servos turn, drive deg per second.
    pub drive_per_s: f64,
    /// `clamped_share`: most of the command range that the travel may cut off, 0 to 1.
    pub clamped_share: f64,
    /// `mirror_tolerance`: how far mirrored ends may differ, drive deg.
    pub mirror_tolerance: f64,
    /// `raise`: rules whose findings count more than they do by themselves.
    pub raised: Vec<(Rule, Severity)>,
    /// `waive`: findings that are accepted.
    pub waivers: Vec<Waiver>,
}

impl CheckSettings {
    /// How much findings of a rule matter in this file.
    pub fn severity_of(&self, rule: Rule) -> Severity {
        let raised = self.raised.iter().find(|(raised, _)| *raised == rule);
        raised.map_or(rule.severity(), |&(_, severity)| severity)
    }

    /// Whether a waiver of this rule has to name its joint: what forbids a joint to run is accepted of one at a time.
    pub(super) fn is_waived_singly(&self, rule: Rule) -> bool {
        self.severity_of(rule) == Severity::Error && rule != Rule::RobotEmpty
    }
}

impl Default for CheckSettings {
    /// Defaults, to be verified against your data sheets: a 2 deg guard, evidence good for a year, pulses of 500 to 2500 us, servos that turn
    /// 60 deg in 0.1 s.
    fn default() -> Self {
        Self {
            guard: 2.0,
            coarse_step: 1.0,
            stale_after_days: 365,
            fewest_readings: 5,
            lost_motion: 5.0,
            pulse_us: [500.0, 2500.0],
            drive_per_s: 600.0,
            clamped_share: 0.25,
            mirror_tolerance: 3.0,
            raised: Vec::new(),
            waivers: Vec::new(),
        }
    }
}

const WAIVER_EXAMPLE: &str =
    "waive = [{ rule = \"limit-unproven\", joint = \"crest\", reason = \"no stop within reach\" }]";

impl CheckSettings {
    pub(super) fn read(top: &Section<'_>, joints: &[JointEntry]) -> Result<Self, FileError> {
        let mut settings = Self::default();
        let Some(check) = top.section("check", "[check]")? else {
            return Ok(settings);
        };
        check.only(keys::CHECK.names)?;
        let sizes: [(&str, &'static str, &mut f64); 6] = [
            ("guard", "guard = 2.0", &mut settings.guard),
            ("coarse_step", "coarse_step = 1.0", &mut settings.coarse_step),
            ("lost_motion", "lost_motion = 5.0", &mut settings.lost_motion),
            ("drive_per_s", "drive_per_s = 600", &mut settings.drive_per_s),
            ("clamped_share", "clamped_share = 0.25", &mut settings.clamped_share),
            (
                "mirror_tolerance",
                "mirror_tolerance = 3.0",
                &mut settings.mirror_tolerance,
            ),
        ];
        for (key, example, place) in sizes {
            if let Some(value) = check.size(key, example)? {
                *place = value;
            }
        }
        let wholes: [(&str, &'static str, &mut u32); 2] = [
            (
                "stale_after_days",
                "stale_after_days = 365",
                &mut settings.stale_after_days,
            ),
            ("fewest_readings", "fewest_readings = 5", &mut settings.fewest_readings),
        ];
        for (key, example, place) in wholes {
            if let Some(value) = check.whole(key, example, "a whole number, zero or more")? {
                *place = value;
            }
        }
        if let Some(pulse_us) = check.pair("pulse_us", "pulse_us = [500, 2500]")? {
            settings.pulse_us = pulse_us;
        }
        settings.raised = read_raised(&check)?;
        settings.waivers = read_waivers(&check, joints)?;
        Ok(settings)
    }
}

fn known_rule(section: &Section<'_>, key: &str, word: &str) -> Result<Rule, FileError> {
    Rule::named(word).ok_or_else(|| section.unknown_word(key, word, Rule::ALL.iter().map(|rule| rule.name()).collect()))
}

fn read_raised(check: &Section<'_>) -> Result<Vec<(Rule, Severity)>, FileError> {
    const EXAMPLE: &str = "raise = { evidence-stale = \"error\" }";
    let Some(raise) = check.section("raise", EXAMPLE)? else {
        return Ok(Vec::new());
    };
    let mut raised = Vec::new();
    for name in raise.names() {
        let rule = known_rule(&raise, name, name)?;
        let severity = raise.word(name, EXAMPLE, &Severity::ALL, Severity::as_str)?;
        let severity = raise.need("severity", EXAMPLE, severity)?;
        if severity < rule.severity() {
            // Made lighter it would be switched off without a reason; that is what waivers are for.
            let allowed = Severity::ALL.iter().filter(|&&s| s >= rule.severity());
            return Err(raise.unknown_word(name, severity.as_str(), allowed.map(|s| s.as_str()).collect()));
        }
        raised.push((rule, severity));
    }
    Ok(raised)
}

fn read_waivers(check: &Section<'_>, joints: &[JointEntry]) -> Result<Vec<Waiver>, FileError> {
    let mut waivers = Vec::new();
    for waiver in check.list("waive", WAIVER_EXAMPLE)? {
        waiver.only(keys::WAIVER.names)?;
        let word = waiver.need("rule", WAIVER_EXAMPLE, waiver.text("rule", WAIVER_EXAMPLE)?)?;
        let joint = waiver.text("joint", WAIVER_EXAMPLE)?;
        if let Some(name) = joint
            && !joints.iter().any(|joint| joint.name() == name)
        {
            let fault = FileFault::WaiverWithoutJoint {
                rule: word.to_owned(),
                missing: Box::new(unknown_joint(name, joints)),
            };
            return Err(waiver.fault_at("joint", fault));
        }
        waivers.push(Waiver {
            rule: known_rule(&waiver, "rule", word)?,
            joint: joint.map(ToOwned::to_owned),
            reason: waiver
                .need("reason", WAIVER_EXAMPLE, waiver.text("reason", WAIVER_EXAMPLE)?)?
                .to_owned(),
        });
    }
    Ok(waivers)
}
