//! Why a file cannot be read or written, and what to do.

use std::format;
use std::io::{Error, ErrorKind};
use std::path::Path;
use std::string::{String, ToString};
use std::vec::Vec;

use super::near::nearest;

/// What the system said of a file, as a sentence without the file's name: `the file does not exist; the nearest name in that folder is
/// heron.toml`.
///
/// *action*: what was tried, `read` or any other word.
///
/// ```
/// use elbowroom::robot::access_sentence;
/// let error = std::fs::read("nowhere/heron.toml").unwrap_err();
/// let sentence = access_sentence(std::path::Path::new("nowhere/heron.toml"), "read", &error);
/// assert_eq!(sentence, "the folder nowhere does not exist; make it, or name another one");
/// ```
pub fn access_sentence(path: &Path, action: &str, error: &Error) -> String {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let folder = folder.unwrap_or(Path::new("."));
    let is_read = action == "read";
    if error.raw_os_error().is_none() {
        // Not the system but a part of this library refused it, and said why.
        return error.to_string();
    }
    match error.kind() {
        ErrorKind::NotFound if !folder.exists() => {
            format!(
                "the folder {} does not exist; make it, or name another one",
                folder.display()
            )
        }
        ErrorKind::NotFound if is_read => like(path, folder).map_or_else(
            || "the file does not exist; look at its name and its folder".to_string(),
            |like| format!("the file does not exist; the nearest name in that folder is {like}"),
        ),
        ErrorKind::PermissionDenied if is_read => {
            "you are not allowed to read it; change its permissions, or ask its owner".to_string()
        }
        ErrorKind::PermissionDenied => format!(
            "you are not allowed to write in the folder {}; choose another folder, or change its permissions",
            folder.display()
        ),
        _ if path.is_dir() => "it is a folder; name a file".to_string(),
        ErrorKind::NotADirectory => format!("{} is not a folder; name another path", folder.display()),
        _ => {
            // Without the number of the system.
            let said = error.to_string().to_lowercase();
            said.split(" (os error").next().unwrap_or_default().to_string()
        }
    }
}

/// The file of the folder whose name is the nearest, if one is near at all or the only one with this ending.
fn like(path: &Path, folder: &Path) -> Option<String> {
    let wanted = path.file_name()?.to_string_lossy().into_owned();
    let there = std::fs::read_dir(folder).ok()?.flatten();
    let names: Vec<String> = there
        .filter(|entry| entry.path().is_file())
        .filter_map(|entry| entry.file_name().into_string().ok())
        .filter(|name| !name.starts_with('.') && Path::new(name).extension() == path.extension())
        .collect();
    let (name, is_near) = nearest(&wanted, names.iter().map(String::as_str))?;
    (is_near || names.len() == 1).then(|| name.to_string())
}
