//! Writing a file so that it is always whole.
//!
//! What is new goes into a hidden neighbour, `.NAME.PROCESS-NUMBER.part`, which its process keeps locked until it takes the
//! file's place. The system lets go of the lock when the process ends, however it ends: a neighbour that can be locked
//! belongs to nobody, and the next save clears it away.

use std::ffi::{OsStr, OsString};
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

/// Saves of others can take a neighbour away only between its making and its locking; so often in a row is no chance.
const TRIES: u32 = 100;

/// Writes what belongs beside a robot file (a report, a picture, a block) as [`Robot::save`](super::Robot::save) does: the
/// path holds the old bytes or the new ones, whole. What is no plain file, such as a pipe or a terminal, is written straight to.
///
/// # Errors
/// Those of the system; the old file is then untouched.
///
/// ```
/// let path = std::env::temp_dir().join(format!("heron-{}.html", std::process::id()));
/// elbowroom::robot::write_whole(&path, b"a report")?;
/// assert_eq!(std::fs::read(&path)?, b"a report");
/// std::fs::remove_file(path)?;
/// # Ok::<(), std::io::Error>(())
/// ```
pub fn write_whole(path: impl AsRef<Path>, bytes: &[u8]) -> io::Result<()> {
    let path = path.as_ref();
    match fs::metadata(path) {
        Ok(there) if !there.is_file() => fs::write(path, bytes),
        _ => replace(path, bytes),
    }
}

/// Replaces what a file holds, or makes the file.
pub(super) fn replace(path: &Path, bytes: &[u8]) -> io::Result<()> {
    // What a symbolic link points to is replaced, not the link; a path that does not exist yet is taken as it is.
    let path = fs::canonicalize(path).or_else(|error| match error.kind() {
        io::ErrorKind::NotFound => Ok(PathBuf::from(path)),
        _ => Err(error),
    })?;
    through_neighbour(&path, bytes, |neighbour| {
        if let Ok(old) = fs::metadata(&path) {
            fs::set_permissions(neighbour, old.permissions())?;
        }
        fs::rename(neighbour, &path)
    })
}

/// Makes a file that does not exist yet.
pub(super) fn create(path: &Path, bytes: &[u8]) -> io::Result<()> {
    // A hard link, unlike a rename, refuses a name that is taken.
    through_neighbour(path, bytes, |neighbour| fs::hard_link(neighbour, path))
}

/// Writes the bytes into a neighbour, synced, and has that take the file's place.
fn through_neighbour(path: &Path, bytes: &[u8], settle: impl Fn(&Path) -> io::Result<()>) -> io::Result<()> {
    clear_stale(path);
    for _ in 0..TRIES {
        let (neighbour, mut file) = open_neighbour(path)?;
        let settled = write_all(&mut file, bytes).and_then(|()| settle(&neighbour));
        match settled {
            // Taken away before it was locked: write another.
            Err(error) if error.kind() == io::ErrorKind::NotFound && !neighbour.exists() => {}
            settled => {
                // After a rename it is gone; the first error is the one to tell.
                let _ = fs::remove_file(&neighbour);
                settled?;
                return sync_folder(path);
            }
        }
    }
    Err(io::Error::other("another process takes each new neighbour file away"))
}

/// Removes neighbours of this file whose processes have ended. Whatever goes wrong is left to the save itself to meet.
fn clear_stale(path: &Path) {
    let Some(name) = path.file_name() else { return };
    let Ok(folder) = fs::read_dir(folder_of(path)) else {
        return;
    };
    for entry in folder.flatten().filter(|entry| is_neighbour(name, &entry.file_name())) {
        let neighbour = entry.path();
        // Opened for writing: some systems lock nothing else. A link is none of ours, and is not followed.
        if !entry.file_type().is_ok_and(|kind| kind.is_file()) {
            continue;
        }
        if let Ok(file) = OpenOptions::new().write(true).open(&neighbour)
            && file.try_lock().is_ok()
        {
            let _ = fs::remove_file(&neighbour);
        }
    }
}

/// Whether a name is that of some save's neighbour of this file, to the last character.
fn is_neighbour(name: &OsStr, other: &OsStr) -> bool {
    let (Some(name), Some(other)) = (name.to_str(), other.to_str()) else {
        return false;
    };
    let number = |digits: &str| !digits.is_empty() && digits.bytes().all(|byte| byte.is_ascii_digit());
    other
        .strip_prefix('.')
        .and_then(|rest| rest.strip_prefix(name)?.strip_prefix('.')?.strip_suffix(".part"))
        .and_then(|owner| owner.split_once('-'))
        .is_some_and(|(process, save)| number(process) && number(save))
}

fn write_all(file: &mut File, bytes: &[u8]) -> io::Result<()> {
    file.write_all(bytes)?;
    file.sync_all()
}

/// A new locked file beside the path, on the same disk so that it can be renamed, under a name no other save has.
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
            // Where the disk knows no locks nobody can take it for stale either.
            Ok(file) if !matches!(file.try_lock(), Err(TryLockError::WouldBlock)) => return Ok((neighbour, file)),
            // Another save, clearing, was quicker and takes it away.
            Ok(_) => {}
            // Left by a process that was killed and had this one's number.
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
            Err(error) => return Err(error),
        }
    }
}

/// Makes the rename itself last; only Unix opens folders for that.
fn sync_folder(path: &Path) -> io::Result<()> {
    if cfg!(unix) {
        File::open(folder_of(path))?.sync_all()?;
    }
    Ok(())
}

fn folder_of(path: &Path) -> &Path {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    folder.unwrap_or(Path::new("."))
}
