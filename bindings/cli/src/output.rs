//! Files that the tool writes besides robot files: pictures, reports, blocks, robot descriptions.

use crate::problem::Problem;
use elbowroom::Code;
use elbowroom::robot::{Robot, Saved, write_pair, write_whole};
use std::path::{Path, PathBuf};

/// What became of something printed. A reader that stopped reading (`| head`) has what it wanted: that is no fault.
pub(crate) fn printed(result: std::io::Result<()>) -> Result<(), Problem> {
    result.or_else(|error| match error.kind() {
        std::io::ErrorKind::BrokenPipe => Ok(()),
        _ => {
            let reason = error.to_string().to_lowercase();
            let message = format!("standard output cannot be written: {reason}; free its disk or print elsewhere");
            Err(Problem::new(Code::FileAccess, message))
        }
    })
}

/// The lines that tell of joints that others wrote into a robot file while this command ran, and of an earlier text that is not kept.
pub(crate) fn kept(saved: &Saved) -> String {
    let mut text = match saved.merged.as_slice() {
        [] => String::new(),
        names => format!(
            "also in the file now, written by others meanwhile: {}\n",
            names.join(", ")
        ),
    };
    if let Some(reason) = &saved.not_kept {
        text = format!("{text}{reason}\n");
    }
    text
}

/// The path of a picture, by its ending: for every option that names one.
pub(crate) fn picture_path(path: PathBuf) -> Result<PathBuf, &'static str> {
    if path
        .extension()
        .is_some_and(|ending| ending.eq_ignore_ascii_case("svg"))
    {
        Ok(path)
    } else {
        Err("a picture is written as SVG; name it with the ending .svg, and convert it where another format is needed")
    }
}

/// Writes a file, whole or not at all; one that is there is replaced only if it carries the mark of an earlier output of the same kind.
pub(crate) fn write(path: &Path, bytes: &[u8], mark: &[u8]) -> Result<(), Problem> {
    ours(path, mark)?;
    whole(path, bytes)
}

/// Writes a robot description, whole or not at all; of files that are there only descriptions are replaced.
pub(crate) fn write_description(path: &Path, text: &str, robot: &Robot) -> Result<(), Problem> {
    replaces(path, "is not a robot description (URDF or MJCF)", |there| {
        std::str::from_utf8(there).is_ok_and(|there| robot.limits_into(there).is_ok())
    })?;
    whole(path, text.as_bytes())
}

fn whole(path: &Path, bytes: &[u8]) -> Result<(), Problem> {
    write_whole(path, bytes).map_err(|error| Problem::access(path, "written", &error))
}

/// Writes two files of one generation: both are new, both are old, or one is missing.
pub(crate) fn write_both(first: (&Path, &[u8], &[u8]), second: (&Path, &[u8], &[u8])) -> Result<(), Problem> {
    ours(first.0, first.2)?;
    ours(second.0, second.2)?;
    write_pair((first.0, first.1), (second.0, second.1)).map_err(|error| Problem::access(first.0, "written", &error))
}

/// Refuses outputs of one command that lead to one file, before anything is computed.
pub(crate) fn apart(outputs: &[(&str, Option<&Path>)]) -> Result<(), Problem> {
    let place = |path: &Path| {
        let folder = path
            .parent()
            .filter(|folder| !folder.as_os_str().is_empty())
            .unwrap_or(Path::new("."));
        let folder = std::fs::canonicalize(folder).unwrap_or_else(|_| folder.to_owned());
        let named = path.file_name().map_or(folder.clone(), |name| folder.join(name));
        std::fs::canonicalize(path).unwrap_or(named)
    };
    for (index, (option, path)) in outputs.iter().enumerate() {
        let Some(path) = path else { continue };
        for (other, earlier) in outputs.iter().take(index) {
            if earlier.is_some_and(|earlier| place(earlier) == place(path)) {
                let message = format!("{other} and {option} name one file; give each its own");
                return Err(Problem::at(Code::OptionOutside, path, None, message));
            }
        }
    }
    Ok(())
}

/// Refuses a file that is there and does not carry the mark.
fn ours(path: &Path, mark: &[u8]) -> Result<(), Problem> {
    replaces(path, "was not made by elbowroom", |there| {
        there.windows(mark.len()).any(|part| part == mark)
    })
}

/// Refuses a file that is there and may not be replaced, with what it is.
fn replaces(path: &Path, is_foreign: &str, may: impl Fn(&[u8]) -> bool) -> Result<(), Problem> {
    // A pipe or a terminal has nothing to lose, and nothing to read.
    let is_plain = std::fs::metadata(path).map_or(true, |there| there.is_file());
    match is_plain.then(|| std::fs::read(path)) {
        Some(Ok(there)) if !may(&there) => {
            let message = format!("is there already and {is_foreign}; name another file");
            Err(Problem::at(Code::FileAccess, path, None, message))
        }
        Some(Err(error)) if error.kind() != std::io::ErrorKind::NotFound => Err(Problem::access(path, "read", &error)),
        _ => Ok(()),
    }
}
