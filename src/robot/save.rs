//! Writing a file so that it is always whole.

use std::ffi::OsString;
use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

/// Replaces a file's text, or makes the file.
pub(super) fn replace(path: &Path, text: &str) -> io::Result<()> {
    // What a symbolic link points to is replaced, not the link; a path that does not exist yet is taken as it is.
    let path = fs::canonicalize(path).or_else(|error| match error.kind() {
        io::ErrorKind::NotFound => Ok(PathBuf::from(path)),
        _ => Err(error),
    })?;
    let (neighbour, mut file) = open_neighbour(&path)?;
    let written = write_all(&mut file, text)
        .and_then(|()| match fs::metadata(&path) {
            Ok(old) => fs::set_permissions(&neighbour, old.permissions()),
            Err(_) => Ok(()),
        })
        .and_then(|()| fs::rename(&neighbour, &path));
    if let Err(error) = written {
        // The first error is the one to tell.
        let _ = fs::remove_file(&neighbour);
        return Err(error);
    }
    sync_folder(&path)
}

/// Makes a file that does not exist yet.
pub(super) fn create(path: &Path, text: &str) -> io::Result<()> {
    let (neighbour, mut file) = open_neighbour(path)?;
    // A hard link, unlike a rename, refuses a name that is taken.
    let written = write_all(&mut file, text).and_then(|()| fs::hard_link(&neighbour, path));
    let _ = fs::remove_file(&neighbour);
    written?;
    sync_folder(path)
}

fn write_all(file: &mut File, text: &str) -> io::Result<()> {
    file.write_all(text.as_bytes())?;
    file.sync_all()
}

/// A new file beside the path, on the same disk so that it can be renamed, under a name no other save has.
fn open_neighbour(path: &Path) -> io::Result<(PathBuf, File)> {
    static SAVES: AtomicU32 = AtomicU32::new(0);
    let name = path
        .file_name()
        .ok_or_else(|| io::Error::new(io::ErrorKind::InvalidInput, "the path names no file"))?;
    loop {
        let mut part = OsString::from(".");
        part.push(name);
        let save = SAVES.fetch_add(1, Ordering::Relaxed);
        part.push(std::format!(".{}-{save}.part", std::process::id()));
        let neighbour = path.with_file_name(part);
        match OpenOptions::new().write(true).create_new(true).open(&neighbour) {
            Ok(file) => return Ok((neighbour, file)),
            // Left by a process that was killed and had this one's number.
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
            Err(error) => return Err(error),
        }
    }
}

/// Makes the rename itself last; only Unix opens folders for that.
fn sync_folder(path: &Path) -> io::Result<()> {
    if cfg!(unix) {
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
        File::open(folder.unwrap_or(Path::new(".")))?.sync_all()?;
    }
    Ok(())
}
