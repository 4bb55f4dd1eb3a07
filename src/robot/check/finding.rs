//! What a check finds, and the refusal of what is open.

use std::string::String;
use std::vec::Vec;

use super::rule::{Rule, Severity};

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
