//! A bring-up that waits: written after every answer, so that nothing is lost however the program ends.

use super::procedure::Procedure;
use crate::problem::Problem;
use elbowroom::Code;
use elbowroom::robot::write_whole;
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// What is written.
#[derive(Serialize, Deserialize)]
pub(super) struct Saved {
    joint: String,
    #[serde(flatten)]
    run: Procedure,
}

/// Beside the robot file, by its name and the joint's.
pub(super) fn usual_place(file: &Path, joint: &str) -> PathBuf {
    let stem = file.file_stem().unwrap_or_default().to_string_lossy();
    let plain: String = joint
        .chars()
        .map(|c| if c.is_alphanumeric() || c == '-' { c } else { '_' })
        .collect();
    file.with_file_name(format!("{stem}.{plain}.bring-up.json"))
}

impl Saved {
    pub(super) fn read(path: &Path) -> Result<Option<Self>, Problem> {
        let text = match std::fs::read_to_string(path) {
            Ok(text) => text,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(None),
            Err(error) => return Err(Problem::access(path, "read", &error)),
        };
        let saved = serde_json::from_str(&text);
        saved.map(Some).map_err(|error| {
            let message = format!(
                "is not a bring-up as it was saved: name another file with --state, or move this one away and begin again (found: {error})"
            );
            Problem::at(Code::Other, path, None, message)
        })
    }

    /// The bring-up, if it is one of this joint and of the plan that was asked for.
    pub(super) fn take_up(
        self,
        path: &Path,
        joint: &str,
        begun: &Procedure,
        is_plan_given: bool,
    ) -> Result<Procedure, Problem> {
        if self.joint != joint {
            let message = format!(
                "holds the bring-up of joint {}, not of {joint}; name another file with --state",
                self.joint
            );
            return Err(Problem::at(Code::OptionOutside, path, None, message));
        }
        if !self.run.is_same_kind(begun) {
            let message = format!(
                "holds a bring-up with {}, and this one is with {}; go on with it as it was begun, or give --restart",
                self.run.words(),
                begun.words()
            );
            return Err(Problem::at(Code::OptionOutside, path, None, message));
        }
        if is_plan_given && !self.run.is_same_plan(begun) {
            let message = "holds a bring-up that was begun with other options; leave them out to go on with it, or give --restart";
            return Err(Problem::at(Code::OptionOutside, path, None, message));
        }
        Ok(self.run)
    }

    pub(super) fn write(path: &Path, joint: &str, run: &Procedure) -> Result<(), Problem> {
        #[derive(Serialize)]
        struct Borrowed<'a> {
            joint: &'a str,
            #[serde(flatten)]
            run: &'a Procedure,
        }
        let text = serde_json::to_vec(&Borrowed { joint, run });
        let text = text.map_err(|error| Problem::new(Code::Other, error.to_string()))?;
        write_whole(path, &text).map_err(|error| Problem::access(path, "written", &error))
    }

    /// It has done its work.
    pub(super) fn remove(path: &Path) -> Result<(), Problem> {
        std::fs::remove_file(path).map_err(|error| Problem::access(path, "removed", &error))
    }
}
