//! Writing a file so that it is always whole.
//!
//! What is new goes into a hidden neighbour, `.NAME.PROCESS-NUMBER.part`, which its process keeps locked until it takes the
//! file's place. The system lets go of the lock when the process ends, however it ends: a neighbour that can be locked
//! belongs to nobody, and the next save clears it away.

use std::borrow::ToOwned;
use std::ffi::{OsStr, OsString};
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

use super::file::lock::Lock;

/// Saves of others can take a neighbour away only between its making and its locking; so often in a row is no chance.
const TRIES: u32 = 100;

/// Writes what belongs beside a robot file (a report, a picture, a block) as [`Robot::save`](super::Robot::save) does: the
/// path holds the old bytes or the new ones, whole. What is not a plain file, such as a pipe or a terminal, is written straight to.
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
        _ => replace(&resolve(path)?, bytes, None).map(|_| ()),
    }
}

/// Writes two files of one generation, such as a block and its C header. A kill leaves both old, both new, or one without the other,
/// but never an old one beside a new one: the second is taken away before the first is replaced.
///
/// # Errors
/// Those of the system, and two paths that lead to one file.
pub fn write_pair(first: (&Path, &[u8]), second: (&Path, &[u8])) -> io::Result<()> {
    let paths = [resolve(first.0)?, resolve(second.0)?];
    let [one, two] = &paths;
    if one == two {
        return Err(io::Error::new(io::ErrorKind::InvalidInput, "two outputs have one name"));
    }
    let _lock = Lock::of(one).map_err(io::Error::other)?;
    let old = [writable(one)?, writable(two)?];
    let keep = |old: &Option<fs::Metadata>, neighbour: &Path, file: &File| match old {
        Some(old) => {
            keep_owner(file, old)?;
            fs::set_permissions(neighbour, old.permissions())
        }
        None => Ok(()),
    };
    let [old_one, old_two] = &old;
    through_neighbour(one, first.1, |new_one, file| {
        keep(old_one, new_one, file)?;
        through_neighbour(two, second.1, |new_two, file| {
            keep(old_two, new_two, file)?;
            if old_two.is_some() {
                fs::remove_file(two)?;
                sync_folder(two)?;
            }
            fs::rename(new_one, one)?;
            fs::rename(new_two, two)
        })
    })
}

/// What became of a replacement.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Replaced {
    Done,
    /// The file did not hold what it was expected to; nothing was written.
    NotThere,
}

/// Links are followed so far; more in a row lead in a circle.
const LINKS: u32 = 40;

/// The file that a path leads to, its links followed, also if there is no such file yet.
pub(super) fn resolve(path: &Path) -> io::Result<PathBuf> {
    let mut path = path.to_owned();
    for _ in 0..LINKS {
        match fs::canonicalize(&path) {
            // A link that leads to no file, or no link.
            Err(error) if error.kind() == io::ErrorKind::NotFound => {}
            found => return found,
        }
        match fs::read_link(&path) {
            Ok(target) => path = folder_of(&path).join(target),
            Err(_) => {
                // Two names of one folder are one.
                let folder = fs::canonicalize(folder_of(&path)).unwrap_or_else(|_| folder_of(&path).to_owned());
                return Ok(path.file_name().map(|name| folder.join(name)).unwrap_or(path));
            }
        }
    }
    Err(io::Error::other("its symbolic links form a loop"))
}

/// Replaces what a file holds, or makes the file; `expected` is what it must hold at the last moment, or `Some(None)` if there
/// must be no file. The links of the path have been followed.
pub(super) fn replace(path: &Path, bytes: &[u8], expected: Option<Option<&[u8]>>) -> io::Result<Replaced> {
    let old = writable(path)?;
    let settle = |neighbour: &Path, file: &File| {
        if let Some(old) = &old {
            keep_owner(file, old)?;
            fs::set_permissions(neighbour, old.permissions())?;
        }
        let there = match expected {
            None => return fs::rename(neighbour, path).map(|()| Replaced::Done),
            Some(_) => fs::read(path).map(Some).or_else(|error| match error.kind() {
                io::ErrorKind::NotFound => Ok(None),
                _ => Err(error),
            })?,
        };
        if expected != Some(there.as_deref()) {
            return Ok(Replaced::NotThere);
        }
        fs::rename(neighbour, path).map(|()| Replaced::Done)
    };
    through_neighbour(path, bytes, settle)
}

/// Writes bytes whole into a file beside another one, with the owner and the permissions of that.
pub(super) fn beside(path: &Path, other: &Path, bytes: &[u8]) -> io::Result<()> {
    if fs::symlink_metadata(other).is_ok_and(|there| !there.is_file()) {
        return Err(io::Error::new(io::ErrorKind::InvalidInput, "it is not a plain file"));
    }
    let model = fs::metadata(path)?;
    through_neighbour(other, bytes, |neighbour, file| {
        keep_owner(file, &model)?;
        fs::set_permissions(neighbour, model.permissions())?;
        fs::rename(neighbour, other)
    })
}

/// The file as it is, if there is one and a save may put another in its place.
fn writable(path: &Path) -> io::Result<Option<fs::Metadata>> {
    let there = match fs::metadata(path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        there => there?,
    };
    if !there.is_file() {
        return Err(io::Error::new(io::ErrorKind::InvalidInput, "it is not a plain file"));
    }
    // A rename asks the folder alone; and some users may write what is read-only.
    if there.permissions().readonly() {
        return Err(io::Error::new(io::ErrorKind::PermissionDenied, "it is read-only"));
    }
    OpenOptions::new().write(true).open(path)?;
    let names = hard_links(&there);
    if names > 1 {
        let reason = std::format!("it has {names} hard links, of which a save could keep only one; use symbolic links");
        return Err(io::Error::other(reason));
    }
    Ok(Some(there))
}

#[cfg(unix)]
fn hard_links(there: &fs::Metadata) -> u64 {
    std::os::unix::fs::MetadataExt::nlink(there)
}

#[cfg(not(unix))]
fn hard_links(_: &fs::Metadata) -> u64 {
    1
}

/// Gives the new file to the owner and group of the old one.
#[cfg(unix)]
fn keep_owner(file: &File, old: &fs::Metadata) -> io::Result<()> {
    use std::os::unix::fs::{MetadataExt as _, fchown};
    let own = file.metadata()?;
    if (own.uid(), own.gid()) == (old.uid(), old.gid()) {
        return Ok(());
    }
    let user = (own.uid() != old.uid()).then_some(old.uid());
    fchown(file, user, Some(old.gid())).map_err(|_| {
        let (user, group) = (old.uid(), old.gid());
        let reason = std::format!(
            "it belongs to user {user} and group {group}, which a save by another user cannot keep; save as that user"
        );
        io::Error::new(io::ErrorKind::PermissionDenied, reason)
    })
}

#[cfg(not(unix))]
fn keep_owner(_: &File, _: &fs::Metadata) -> io::Result<()> {
    Ok(())
}

/// Makes a file that does not exist yet.
pub(super) fn create(path: &Path, bytes: &[u8]) -> io::Result<()> {
    // A hard link, unlike a rename, refuses a name that is taken.
    through_neighbour(path, bytes, |neighbour, _| fs::hard_link(neighbour, path))
}

/// Writes the bytes into a neighbour, synced, and has that take the file's place.
fn through_neighbour<T>(path: &Path, bytes: &[u8], settle: impl Fn(&Path, &File) -> io::Result<T>) -> io::Result<T> {
    clear_stale(path);
    for _ in 0..TRIES {
        let (neighbour, mut file) = open_neighbour(path)?;
        let settled = write_all(&mut file, bytes).and_then(|()| settle(&neighbour, &file));
        match settled {
            // Taken away before it was locked: write another.
            Err(error) if error.kind() == io::ErrorKind::NotFound && !neighbour.exists() => {}
            settled => {
                // After a rename it is gone; the first error is the one to tell.
                let _ = fs::remove_file(&neighbour);
                let settled = settled?;
                sync_folder(path)?;
                return Ok(settled);
            }
        }
    }
    Err(io::Error::other(
        "another process removes each temporary file beside it",
    ))
}

/// Removes neighbours of this file whose processes have ended. Whatever goes wrong is left to the save itself to meet.
pub(super) fn clear_stale(path: &Path) {
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
