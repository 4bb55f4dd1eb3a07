//! Files that the tool writes besides robot files: pictures, reports, blocks.

use crate::problem::Problem;
use elbowroom::Code;
use std::path::Path;

/// Writes a file; one that is there is replaced only if it carries the mark of an earlier output of the same kind.
pub(crate) fn write(path: &Path, bytes: &[u8], mark: &[u8]) -> Result<(), Problem> {
    match std::fs::read(path) {
        Ok(there) if !there.windows(mark.len()).any(|part| part == mark) => {
            let message = "is there already and was not made by elbowroom; name another file";
            return Err(Problem::at(Code::FileAccess, path, None, message));
        }
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
            return Err(Problem::access(path, "read", &error));
        }
        _ => {}
    }
    std::fs::write(path, bytes).map_err(|error| Problem::access(path, "written", &error))
}
