//! Files that the tool writes besides robot files: pictures, reports, blocks.

use crate::problem::Problem;
use elbowroom::Code;
use elbowroom::robot::{Saved, write_whole};
use std::path::Path;

/// The line that tells of joints that others wrote into a robot file while this command ran.
pub(crate) fn kept(saved: &Saved) -> String {
    match saved.merged.as_slice() {
        [] => String::new(),
        names => format!("also in the file, as others wrote it meanwhile: {}\n", names.join(", ")),
    }
}

/// Writes a file, whole or not at all; one that is there is replaced only if it carries the mark of an earlier output of the same kind.
pub(crate) fn write(path: &Path, bytes: &[u8], mark: &[u8]) -> Result<(), Problem> {
    // A pipe or a terminal has nothing to lose, and nothing to read.
    let is_plain = std::fs::metadata(path).map_or(true, |there| there.is_file());
    match is_plain.then(|| std::fs::read(path)) {
        Some(Ok(there)) if !there.windows(mark.len()).any(|part| part == mark) => {
            let message = "is there already and was not made by elbowroom; name another file";
            return Err(Problem::at(Code::FileAccess, path, None, message));
        }
        Some(Err(error)) if error.kind() != std::io::ErrorKind::NotFound => {
            return Err(Problem::access(path, "read", &error));
        }
        _ => {}
    }
    write_whole(path, bytes).map_err(|error| Problem::access(path, "written", &error))
}
