//! What a robot was read from, so that a save sees what others have written since.

use std::borrow::ToOwned as _;
use std::format;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::string::String;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::vec::Vec;

use super::super::error::{FileError, FileFault};
use super::super::save::{self, Replaced};
use super::lock::Lock;
use super::{line_ends, merge};

/// An editor may write between two looks of a save; so often in a row is no chance.
const TRIES: u32 = 10;

/// What a save found.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
#[non_exhaustive]
pub struct Saved {
    /// The joints that others had changed, added or removed since the file was read. Their changes stand in the file beside
    /// those saved; the robot in hand does not have them.
    pub merged: Vec<String>,
    /// Why the text that was replaced is not kept, where [`Robot::save_keeping`](crate::robot::Robot::save_keeping) could not.
    pub not_kept: Option<String>,
}

/// The file a robot was read from or last saved to, and the text that it agreed with then.
///
/// Each robot has its own: a clone goes on by itself from where it was made.
#[derive(Debug, Default)]
pub(in crate::robot) struct Origin(Mutex<Option<Read>>);

#[derive(Debug, Clone)]
struct Read {
    /// Its links followed.
    path: PathBuf,
    /// As it was named.
    given: PathBuf,
    /// The text itself, not a checksum: a merge needs it.
    text: Arc<str>,
}

impl Clone for Origin {
    fn clone(&self) -> Self {
        Self(Mutex::new(self.read().clone()))
    }
}

impl Origin {
    /// Of a robot just read from a file; the path is the one that was given.
    pub(in crate::robot) fn of(path: &Path, text: &str) -> Self {
        let read = save::resolve(path).ok().map(|real| Read {
            path: real,
            given: path.to_owned(),
            text: text.into(),
        });
        Self(Mutex::new(read))
    }

    /// Of a file whose links have been followed, and its text as it was read.
    pub(in crate::robot) fn known(path: PathBuf, text: &str) -> Self {
        Self(Mutex::new(Some(Read {
            given: path.clone(),
            path,
            text: text.into(),
        })))
    }

    /// The file, its links followed, and its text as it was read or saved.
    pub(in crate::robot) fn parts(&self) -> Option<(PathBuf, Arc<str>)> {
        let read = self.read().clone()?;
        Some((read.path, read.text))
    }

    /// The file as it was named when it was read or saved.
    pub(in crate::robot) fn given(&self) -> Option<PathBuf> {
        Some(self.read().as_ref()?.given.clone())
    }

    fn read(&self) -> MutexGuard<'_, Option<Read>> {
        // What is kept is replaced in one piece, so that it is whole even then.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Writes the text where nothing stands yet.
    pub(in crate::robot) fn create(&self, text: &str, path: &Path) -> Result<(), FileError> {
        save::create(path, text.as_bytes()).map_err(|error| FileError::access("written", &error, path))?;
        *self.read() = save::resolve(path).ok().map(|real| Read {
            path: real,
            given: path.to_owned(),
            text: text.into(),
        });
        Ok(())
    }

    /// Writes the text, together with what others have written since it was read.
    pub(in crate::robot) fn save(&self, text: &str, path: &Path, keeps: Keeps) -> Result<Saved, FileError> {
        let access = |error: io::Error| FileError::access("written", &error, path);
        let real = save::resolve(path).map_err(access)?;
        let base = self
            .read()
            .as_ref()
            .filter(|read| read.path == real)
            .map(|read| Arc::clone(&read.text));
        let lock = Lock::of(&real).map_err(|error| error.in_file(path))?;
        if keeps == Keeps::Earlier {
            save::clear_stale(&earlier_path(&real));
        }
        let saved = match base {
            None => {
                let there = fs::read(&real).ok().filter(|there| there != text.as_bytes());
                let not_kept = keeps.keep(&real, path, there.as_deref());
                save::replace(&real, text.as_bytes(), None).map_err(access)?;
                Saved {
                    not_kept,
                    ..Saved::default()
                }
            }
            Some(base) => compared(&base, text, [&real, path], keeps)?,
        };
        drop(lock);
        *self.read() = Some(Read {
            path: real,
            given: path.to_owned(),
            text: text.into(),
        });
        Ok(saved)
    }
}

/// Whether the text that a save replaces is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::robot) enum Keeps {
    Nothing,
    /// In the file that [`earlier_path`] names.
    Earlier,
}

impl Keeps {
    /// Keeps what stands in the file, if there is anything; the reason where that cannot be done.
    fn keep(self, real: &Path, path: &Path, there: Option<&[u8]>) -> Option<String> {
        let there = there.filter(|_| self == Self::Earlier)?;
        let error = save::beside(real, &earlier_path(real), there).err()?;
        Some(format!(
            "the text before this change is not kept: {} cannot be written: {error}; move away what stands there",
            earlier_path(path).display()
        ))
    }
}

/// Where [`Robot::save_keeping`](crate::robot::Robot::save_keeping) keeps the text that it replaces: beside the file, its name with a `~`
/// behind it.
///
/// ```
/// use elbowroom::robot::earlier_path;
/// assert_eq!(earlier_path("robots/heron.toml"), std::path::Path::new("robots/heron.toml~"));
/// ```
pub fn earlier_path(path: impl AsRef<Path>) -> PathBuf {
    let mut name = path.as_ref().as_os_str().to_owned();
    name.push("~");
    name.into()
}

/// Writes the text over a file that agreed with `base` when it was read.
fn compared(base: &str, text: &str, [real, path]: [&Path; 2], keeps: Keeps) -> Result<Saved, FileError> {
    for _ in 0..TRIES {
        let there = match fs::read(real) {
            Ok(there) => Some(there),
            // Nothing can be lost where nothing is.
            Err(error) if error.kind() == io::ErrorKind::NotFound => None,
            Err(error) => return Err(FileError::access("read", &error, path)),
        };
        let (new, saved) = match &there {
            Some(there) if there != base.as_bytes() && there != text.as_bytes() => {
                let changed = |what| FileError::new(FileFault::Changed { what }).in_file(path);
                let there = core::str::from_utf8(there).map_err(|_| changed("it is not UTF-8 text now".into()))?;
                let (new, merged) = merge::merge(base, there, text).map_err(changed)?;
                let saved = Saved {
                    merged,
                    ..Saved::default()
                };
                (line_ends::as_in(there, &new), saved)
            }
            _ => (text.into(), Saved::default()),
        };
        let replaced = there.as_deref().filter(|there| *there != new.as_bytes());
        let not_kept = keeps.keep(real, path, replaced);
        match save::replace(real, new.as_bytes(), Some(there.as_deref())) {
            Ok(Replaced::Done) => return Ok(Saved { not_kept, ..saved }),
            Ok(Replaced::NotThere) => {}
            Err(error) => return Err(FileError::access("written", &error, path)),
        }
    }
    let what = "another program keeps writing it".into();
    Err(FileError::new(FileFault::Changed { what }).in_file(path))
}
