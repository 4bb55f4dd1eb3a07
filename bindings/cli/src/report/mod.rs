//! `report`: a robot as one page that needs nothing else: overview, one card for each joint, findings, cautions.

mod card;
mod page;
mod picture;

use crate::args::ReportArgs;
use crate::check::{checked, open};
use crate::only_file::or_only;
use crate::outcome::Outcome;
use crate::output;
use crate::problem::Problem;
use crate::readings::folder_of;
use elbowroom::Code;
use elbowroom::robot::Robot;
use serde::Serialize;
use std::path::PathBuf;

#[derive(Serialize)]
struct Report {
    file: String,
    written: String,
    joints: usize,
    findings: usize,
    waived: usize,
}

pub(crate) fn run(args: &ReportArgs) -> Result<Outcome, Problem> {
    let file = &or_only(args.file.as_deref())?;
    let output = match &args.output {
        Some(path) => path.clone(),
        None => PathBuf::from(file.file_name().unwrap_or_default()).with_extension("html"),
    };
    let is_page = output.extension().is_some_and(|ending| {
        let ending = ending.to_ascii_lowercase();
        ending == "html" || ending == "htm"
    });
    if !is_page {
        let message = format!(
            "{}: a report is a page of HTML; name it with the ending .html, and print it to paper or PDF from a browser",
            output.display()
        );
        return Err(Problem::new(Code::OptionOutside, message));
    }
    let robot = Robot::load(file)?;
    let sources = robot.sources(folder_of(file));
    let (found, day) = checked(&robot, &sources, args.as_of, None);
    let text = page::page(file, &robot, &sources, &found, day)?;
    output::write(&output, text.as_bytes(), page::MARK.as_bytes())?;
    let report = Report {
        file: file.display().to_string(),
        written: output.display().to_string(),
        joints: robot.joints().len(),
        findings: found.findings.len(),
        waived: found.waived.len(),
    };
    let said = format!(
        "{}: {}, {}, {} waived\n",
        output.display(),
        crate::paint::counted(report.joints, "joint"),
        crate::paint::counted(report.findings, "finding"),
        report.waived
    );
    Outcome::new(said, &report, open(&found))
}
