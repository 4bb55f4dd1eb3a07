//! `limits`: the measured limits of a robot's joints, written into a robot description.

use crate::args::LimitsArgs;
use crate::outcome::Outcome;
use crate::output;
use crate::paint::counted;
use crate::problem::Problem;
use elbowroom::robot::{FileError, Robot};
use serde::Serialize;
use std::fmt::Write as _;
use std::path::Path;

#[derive(Serialize)]
struct Report {
    /// None where there was nothing to write.
    written_to: Option<String>,
    written: Vec<Written>,
    left_out: Vec<LeftOut>,
}

#[derive(Serialize)]
struct Written {
    joint: String,
    lower: f64,
    upper: f64,
    unit: &'static str,
}

#[derive(Serialize)]
struct LeftOut {
    joint: String,
    why: String,
}

pub(crate) fn run(args: &LimitsArgs) -> Result<Outcome, Problem> {
    let robot = Robot::load(&args.file)?;
    let from = args.into.as_path();
    let xml = std::fs::read_to_string(from).map_err(|error| Problem::access(from, "read", &error))?;
    let out = robot.limits_into(&xml).map_err(|error| in_file(error, from))?;
    let to = args.output.as_deref().unwrap_or(from);
    let written_to = (!out.written.is_empty()).then(|| to.display().to_string());
    let mut text = match &written_to {
        Some(path) => {
            output::write_description(to, &out.text, &robot)?;
            let joints = counted(out.written.len(), "joint");
            format!("wrote the limits of {joints} into {path}\n\n")
        }
        None => format!("the limits of no joint fit {}; nothing was written\n\n", from.display()),
    };
    for joint in &out.written {
        let [lower, upper] = joint.limits;
        let _ = writeln!(
            text,
            "  {:<20} {lower:>10.4} to {upper:>10.4} {}",
            joint.joint,
            joint.unit.word()
        );
    }
    for left in &out.left_out {
        let _ = writeln!(text, "  {:<20} left out: {}", left.joint, left.why);
    }
    let found = !out.left_out.is_empty();
    let written = out.written.into_iter().map(|joint| {
        let [lower, upper] = joint.limits;
        Written {
            joint: joint.joint,
            lower,
            upper,
            unit: joint.unit.word(),
        }
    });
    let left_out = out.left_out.into_iter().map(|left| LeftOut {
        why: left.why.to_string(),
        joint: left.joint,
    });
    let report = Report {
        written_to,
        written: written.collect(),
        left_out: left_out.collect(),
    };
    Outcome::new(text, &report, found)
}

/// An error of a text, with its file.
pub(crate) fn in_file(error: FileError, path: &Path) -> Problem {
    let problem = Problem::from(error);
    Problem {
        message: format!("{}: {}", path.display(), problem.message),
        file: Some(path.display().to_string()),
        ..problem
    }
}
