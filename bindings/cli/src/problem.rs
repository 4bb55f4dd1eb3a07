//! Why a command was refused.

use crate::paint::strong;
use elbowroom::fit::FitError;
use elbowroom::robot::{FileError, RobotBlockError, access_sentence};
use elbowroom::{Code, ConvertError, JointError};
use serde::Serialize;
use std::fmt::{self, Write as _};
use std::path::Path;

/// A refusal: nothing was written, and the exit status is 2.
#[derive(Debug, Serialize)]
pub(crate) struct Problem {
    /// Frozen number of the error.
    pub(crate) code: u16,
    /// Its name.
    pub(crate) name: &'static str,
    /// The sentence, with its place.
    pub(crate) message: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) file: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) line: Option<u32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) column: Option<u32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) joint: Option<String>,
}

impl Problem {
    pub(crate) fn new(code: Code, message: impl Into<String>) -> Self {
        Self {
            code: code.number(),
            name: code.name(),
            message: message.into(),
            file: None,
            line: None,
            column: None,
            joint: None,
        }
    }

    /// A fault of a file of ours or the user's, its place put before the sentence.
    pub(crate) fn at(code: Code, path: &Path, line: Option<u64>, message: impl fmt::Display) -> Self {
        let line = line.and_then(|line| u32::try_from(line).ok());
        let place = line.map_or(String::new(), |line| format!(":{line}"));
        Self {
            file: Some(path.display().to_string()),
            line,
            ..Self::new(code, format!("{}{place}: {message}", path.display()))
        }
    }

    /// What the system said about a file.
    pub(crate) fn access(path: &Path, action: &str, error: &std::io::Error) -> Self {
        let reason = access_sentence(path, action, error);
        Self::at(Code::FileAccess, path, None, format!("cannot be {action}: {reason}"))
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl From<FileError> for Problem {
    fn from(error: FileError) -> Self {
        // A file of a spreadsheet program is no text at all, so it cannot even be read.
        let is_content = matches!(error.code(), Code::FileSyntax | Code::FileAccess);
        let there = error.file().filter(|path| is_content && path.is_file());
        let no_robot = there.and_then(other_kind);
        Self {
            file: error.file().map(|path| path.display().to_string()),
            line: error.line().and_then(|line| u32::try_from(line).ok()),
            column: error.column().and_then(|column| u32::try_from(column).ok()),
            joint: error.joint().map(str::to_owned),
            ..Self::new(
                error.code(),
                match (no_robot, error.file()) {
                    (Some(what), Some(path)) => format!("{}: {what}", path.display()),
                    _ => error.to_string(),
                },
            )
        }
    }
}

/// What a file is that was given as a robot file, and what it is for.
fn other_kind(path: &Path) -> Option<String> {
    let ending = path.extension()?.to_str()?.to_lowercase();
    match ending.as_str() {
        "csv" | "tsv" | "txt" => Some(format!(
            "this is a table of readings, not a robot file (.toml); elbowroom fit {} reads it",
            path.display()
        )),
        "xlsx" | "xls" | "ods" => Some(
            "this is a file of a spreadsheet program, not a robot file (.toml); save the sheet with the readings as CSV there, then \
             elbowroom fit reads it"
                .to_owned(),
        ),
        _ => None,
    }
}

impl From<FitError> for Problem {
    fn from(error: FitError) -> Self {
        Self::new(error.code(), error.to_string())
    }
}

impl From<JointError> for Problem {
    fn from(error: JointError) -> Self {
        Self::new(error.code(), error.to_string())
    }
}

impl From<ConvertError> for Problem {
    fn from(error: ConvertError) -> Self {
        Self::new(error.code(), error.to_string())
    }
}

impl From<RobotBlockError> for Problem {
    fn from(error: RobotBlockError) -> Self {
        Self {
            joint: error.joint().map(str::to_owned),
            ..Self::new(error.code(), error.to_string())
        }
    }
}

/// One of many joints that was refused, while others may not be.
pub(crate) struct Failed {
    pub(crate) name: String,
    pub(crate) stage: Stage,
    pub(crate) problem: Problem,
}

/// Where a joint failed.
#[derive(Clone, Copy, PartialEq)]
pub(crate) enum Stage {
    /// Its options.
    Options,
    /// Its readings.
    Readings,
}

impl Failed {
    pub(crate) fn of_readings(name: String, problem: Problem) -> Self {
        Self {
            name,
            stage: Stage::Readings,
            problem,
        }
    }

    /// As programs read it.
    pub(crate) fn json(&self) -> serde_json::Value {
        serde_json::json!({ "joint": self.name, "error": self.problem })
    }
}

/// A line for each joint that was refused, with its reason; `done` is what was not done with it.
pub(crate) fn reasons(failed: &[Failed], done: &str) -> String {
    let line = |Failed { name, problem, .. }: &Failed| format!("{}  not {done}: {problem}\n", strong(name));
    failed.iter().map(line).collect()
}

/// What is said at the end of those that were refused, of so many joints; nothing where none was.
pub(crate) fn remedy(failed: &[Failed], count: usize, done: &str) -> String {
    if failed.is_empty() {
        return String::new();
    }
    let names: Vec<&str> = failed.iter().map(|failed| failed.name.as_str()).collect();
    format!(
        "{} of {count} joints could not be {done}: {}; correct their readings and repeat the command\n",
        failed.len(),
        names.join(", ")
    )
}

/// The refusal where all joints were refused: one for all where they have one reason.
pub(crate) fn none_done(failed: Vec<Failed>) -> Problem {
    let is_one = {
        let mut messages = failed.iter().map(|failed| failed.problem.message.as_str());
        let first = messages.next();
        messages.all(|message| Some(message) == first)
    };
    let in_joint = |Failed { name, stage, problem }| match stage {
        Stage::Options => problem,
        Stage::Readings => Problem {
            message: format!("joint {name}: {}", problem.message),
            joint: Some(name),
            ..problem
        },
    };
    let mut all = failed.into_iter().map(in_joint);
    let Some(first) = all.next() else {
        return Problem::new(Code::TooFewReadings, "no joint has readings");
    };
    if is_one {
        return first;
    }
    let mut message = first.message;
    for next in all {
        let _ = write!(message, "\n{}", next.message);
    }
    Problem { message, ..first }
}
