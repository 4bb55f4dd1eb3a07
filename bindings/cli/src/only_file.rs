//! The robot file that is meant where none is named: the only one in this folder.

use crate::problem::Problem;
use elbowroom::Code;
use elbowroom::robot::{FileFault, Robot};
use std::path::{Path, PathBuf};

/// The file named, or the only robot file of the folder.
pub(crate) fn or_only(file: Option<&Path>) -> Result<PathBuf, Problem> {
    file.map_or_else(only, |file| Ok(file.to_owned()))
}

fn only() -> Result<PathBuf, Problem> {
    let folder = std::fs::read_dir(".").map_err(|error| Problem::access(Path::new("."), "read", &error))?;
    let mut found: Vec<PathBuf> = folder
        .filter_map(|entry| Some(PathBuf::from(entry.ok()?.file_name())))
        .filter(|path| path.extension().is_some_and(|ending| ending == "toml") && is_robot(path))
        .collect();
    found.sort();
    match found.as_slice() {
        [one] => Ok(one.clone()),
        [] => {
            let message = "no robot file is named, and this folder has none; name one, e.g. heron.toml";
            Err(Problem::new(Code::FileAccess, message))
        }
        several => {
            let names: Vec<String> = several.iter().map(|path| path.display().to_string()).collect();
            let message = format!(
                "no robot file is named, and this folder has {}: name one of them",
                names.join(", ")
            );
            Err(Problem::new(Code::OptionOutside, message))
        }
    }
}

/// Whether a file is a robot's, sound or with a fault further in: other programs have TOML files too.
fn is_robot(path: &Path) -> bool {
    match Robot::load(path) {
        Ok(_) => true,
        Err(error) => !matches!(
            error.fault(),
            FileFault::Access { .. }
                | FileFault::Syntax { .. }
                | FileFault::MissingKey { key: "format", .. }
                | FileFault::TooLong
        ),
    }
}
