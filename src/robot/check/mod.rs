//! What is wrong with a robot although every number of its file is readable.
//!
//! Nothing here reads a clock or a disk, and nothing prints: what [`check`] says depends on the robot alone, and on the name of the file
//! that it was read from, which remedies name. Give [`Check`] today's date and old evidence is found too; give it a URDF file and it gets
//! a second opinion; give it the readings that the evidence names and it finds those that are missing or changed.

mod finding;
mod joint;
mod narrower;
mod robot;
pub(super) mod rule;
mod sink;
mod source;
mod urdf;

pub use finding::{CheckReport, Finding, OpenFindings, Waived};
pub use rule::{Rule, Severity};

use std::vec::Vec;

use super::Robot;
use super::date::Date;
use super::source::Sources;
use super::urdf::Urdf;
use sink::{Shell, Sink};

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
        let shell = Shell::of(robot);
        let mut sink = Sink::new(robot.settings(), &shell);
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
