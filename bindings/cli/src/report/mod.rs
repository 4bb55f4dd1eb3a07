//! `report`: a robot as one page that needs nothing else: overview, one card for each joint, findings, cautions.

mod card;
mod page;
mod picture;

use crate::args::ReportArgs;
use crate::check::{checked, open};
use crate::outcome::Outcome;
use crate::output;
use crate::problem::Problem;
use crate::readings::folder_of;
use elbowroom::robot::Robot;
use serde::Serialize;

#[derive(Serialize)]
struct Report {
    file: String,
    written: String,
    joints: usize,
    findings: usize,
    waived: usize,
}

pub(crate) fn run(args: &ReportArgs) -> Result<Outcome, Problem> {
    let robot = Robot::load(&args.file)?;
    let sources = robot.sources(folder_of(&args.file));
    let (found, day) = checked(&robot, &sources, args.as_of, None);
    let text = page::page(&args.file, &robot, &sources, &found, day)?;
    output::write(&args.output, text.as_bytes(), page::MARK.as_bytes())?;
    let report = Report {
        file: args.file.display().to_string(),
        written: args.output.display().to_string(),
        joints: robot.joints().len(),
        findings: found.findings.len(),
        waived: found.waived.len(),
    };
    let said = format!(
        "{}: {}, {}, {} waived\n",
        args.output.display(),
        crate::paint::counted(report.joints, "joint"),
        crate::paint::counted(report.findings, "finding"),
        report.waived
    );
    Outcome::new(said, &report, open(&found))
}
