//! What is wrong with a robot although every number of its file is readable.
//!
//! Nothing here reads a clock or a disk, and nothing prints: what [`check`] says depends on the robot alone. Give
//! [`Check`] today's date and old evidence is found too; give it a URDF file and it
//! gets a second opinion; give it the readings that the evidence names and it finds those that are missing or changed.

mod joint;
mod narrower;
mod robot;
mod rule;
mod source;
mod urdf;

pub use rule::{Rule, Severity};

use std::borrow::ToOwned;
use std::string::String;
use std::vec::Vec;

use super::Robot;
use super::change::toml_key;
use super::date::Date;
use super::entry::JointEntry;
use super::settings::CheckSettings;
use super::source::Sources;
pub(in crate::robot) use joint::travel_in_commands;

use super::urdf::Urdf;

/// Something wrong with a robot.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Finding {
    /// How much it matters.
    pub severity: Severity,
    /// The rule that found it.
    pub rule: Rule,
    /// The joint concerned; absent for the robot as a whole.
    pub joint: Option<String>,
    /// The line of the robot file where that joint begins, counted from 1.
    pub line: Option<usize>,
    /// What is wrong, with its values.
    pub message: String,
    /// What to do about it.
    pub hint: String,
}

impl core::fmt::Display for Finding {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "{} {}: ", self.severity.as_str(), self.rule.name())?;
        if let Some(joint) = &self.joint {
            write!(f, "joint {joint}: ")?;
        }
        write!(f, "{}; {}", self.message, self.hint)
    }
}

/// A finding that the robot file waives, with the reason it gives.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Waived {
    /// The finding.
    pub finding: Finding,
    /// Why it is accepted.
    pub reason: String,
}

/// Everything that a check found.
#[derive(Debug, Clone, PartialEq, Default)]
#[non_exhaustive]
pub struct CheckReport {
    /// What is open: the robot as a whole first, then joint by joint in file order.
    pub findings: Vec<Finding>,
    /// What the file waives.
    pub waived: Vec<Waived>,
}

impl CheckReport {
    /// Refuses open warnings and errors: one line in a test of your own, without hardware.
    ///
    /// ```no_run
    /// use elbowroom::robot::{Check, Date, Robot};
    /// #[test]
    /// fn the_heron_may_move() -> Result<(), Box<dyn std::error::Error>> {
    ///     let robot = Robot::load("heron.toml")?;
    ///     Check::new().on(Date::today().ok_or("no clock")?).run(&robot).require_clean()?;
    ///     Ok(())
    /// }
    /// ```
    ///
    /// # Errors
    /// [`OpenFindings`], which lists them.
    pub fn require_clean(self) -> Result<(), OpenFindings> {
        let open: Vec<Finding> = self
            .findings
            .into_iter()
            .filter(|f| f.severity > Severity::Note)
            .collect();
        if open.is_empty() {
            Ok(())
        } else {
            Err(OpenFindings { findings: open })
        }
    }
}

/// Warnings and errors that are open; `Display` and `Debug` write one a line.
#[derive(Clone, PartialEq)]
pub struct OpenFindings {
    findings: Vec<Finding>,
}

impl OpenFindings {
    /// The findings.
    pub fn findings(&self) -> &[Finding] {
        &self.findings
    }
}

impl core::fmt::Display for OpenFindings {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "{} open findings", self.findings.len())?;
        self.findings.iter().try_for_each(|finding| write!(f, "\n{finding}"))
    }
}

/// The same as `Display`: a test that returns it as its error shows what to do.
impl core::fmt::Debug for OpenFindings {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        core::fmt::Display::fmt(self, f)
    }
}

impl std::error::Error for OpenFindings {}

/// Checks a robot by every rule that needs nothing but its file; waived findings are left out.
///
/// ```
/// use elbowroom::robot::{check, Robot, Rule};
/// let robot = Robot::parse(
///     "format = 1
///      [joint.neck]
///      command = [-40, 60]
///      drive = [37, 122]
///      travel = [50, 110]
///      rest = -40
///      servo = { angle = [0, 180], pulse_us = [500, 2500] }
///      timer = { frame_hz = 50, counts_per_frame = 4096 }",
/// )?;
/// let findings = check(&robot);
/// assert!(findings.iter().any(|finding| finding.rule == Rule::RestOutsideTravel));
/// # Ok::<(), elbowroom::robot::FileError>(())
/// ```
pub fn check(robot: &Robot) -> Vec<Finding> {
    Check::new().run(robot).findings
}

/// A check with more than the file to go by.
#[derive(Debug, Clone, Copy, Default)]
pub struct Check<'a> {
    today: Option<Date>,
    urdf: Option<&'a Urdf>,
    sources: Option<&'a Sources>,
}

impl<'a> Check<'a> {
    /// A check by the file alone.
    pub fn new() -> Self {
        Self::default()
    }

    /// Judges the age of evidence as of this day.
    #[must_use]
    pub fn on(mut self, today: Date) -> Self {
        self.today = Some(today);
        self
    }

    /// Compares the robot with a URDF file as well.
    #[must_use]
    pub fn against(mut self, urdf: &'a Urdf) -> Self {
        self.urdf = Some(urdf);
        self
    }

    /// Compares the evidence with its tables of readings as well, read by [`Robot::sources`].
    #[must_use]
    pub fn with_sources(mut self, sources: &'a Sources) -> Self {
        self.sources = Some(sources);
        self
    }

    /// Checks a robot by every rule.
    pub fn run(&self, robot: &Robot) -> CheckReport {
        let mut sink = Sink {
            settings: robot.settings(),
            report: CheckReport::default(),
            waiver_used: std::vec![false; robot.settings().waivers.len()],
        };
        robot::rules(robot, &mut sink);
        if let Some(urdf) = self.urdf {
            urdf::rules(robot, urdf, &mut sink);
        }
        let wiring = robot::Wiring::of(robot);
        for entry in robot.joints() {
            joint::rules(entry, self.today, &mut sink);
            if let Some(sources) = self.sources {
                source::rules(entry, sources, &mut sink);
            }
            robot::joint_rules(robot, &wiring, entry, &mut sink);
            if let Some(urdf) = self.urdf {
                urdf::joint_rules(entry, urdf, &mut sink);
            }
        }
        robot::waiver_rules(
            self.urdf.is_some(),
            self.today.is_some(),
            self.sources.is_some(),
            &mut sink,
        );
        sink.report
    }
}

/// Where rules put what they find; it knows the waivers and the severities of the file.
struct Sink<'a> {
    settings: &'a CheckSettings,
    report: CheckReport,
    waiver_used: Vec<bool>,
}

impl Sink<'_> {
    fn joint(&mut self, rule: Rule, entry: &JointEntry, message: String, hint: impl Into<String>) {
        self.put(rule, Some(entry), message, hint.into());
    }

    fn robot(&mut self, rule: Rule, message: String, hint: impl Into<String>) {
        self.put(rule, None, message, hint.into());
    }

    fn put(&mut self, rule: Rule, entry: Option<&JointEntry>, message: String, hint: String) {
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
fn argument(entry: &JointEntry, rest: &str) -> String {
    let key = toml_key(entry.name());
    if key == entry.name() {
        std::format!("{key}.{rest}")
    } else {
        std::format!("'{key}.{rest}'")
    }
}
