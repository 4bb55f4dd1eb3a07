//! A bring-up that waits: written after every answer, so that nothing is lost however the program ends.

use crate::problem::Problem;
use elbowroom::Code;
use elbowroom::bring_up::{Bench, BenchPlan};
use elbowroom::robot::write_whole;
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// What is written.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Saved {
    joint: String,
    bench: Bench,
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
            let message = format!("is not a saved bring-up: {error}; name another file with --state, or move it away");
            Problem::at(Code::Other, path, None, message)
        })
    }

    /// The bring-up, if it is one of this joint and of the plan that was asked for.
    pub(super) fn take_up(
        self,
        path: &Path,
        joint: &str,
        plan: &BenchPlan,
        is_plan_given: bool,
    ) -> Result<Bench, Problem> {
        if self.joint != joint {
            let message = format!(
                "holds the bring-up of joint {}, not of {joint}; name another file with --state",
                self.joint
            );
            return Err(Problem::at(Code::OptionOutside, path, None, message));
        }
        if is_plan_given && self.bench.plan() != plan {
            let message = "holds a bring-up that was begun with other options; leave them out to go on with it, or give --restart";
            return Err(Problem::at(Code::OptionOutside, path, None, message));
        }
        Ok(self.bench)
    }

    pub(super) fn write(path: &Path, joint: &str, bench: &Bench) -> Result<(), Problem> {
        #[derive(Serialize)]
        struct Borrowed<'a> {
            joint: &'a str,
            bench: &'a Bench,
        }
        let text = serde_json::to_vec(&Borrowed { joint, bench });
        let text = text.map_err(|error| Problem::new(Code::Other, error.to_string()))?;
        write_whole(path, &text).map_err(|error| Problem::access(path, "written", &error))
    }

    /// It has done its work.
    pub(super) fn remove(path: &Path) -> Result<(), Problem> {
        std::fs::remove_file(path).map_err(|error| Problem::access(path, "removed", &error))
    }
}
