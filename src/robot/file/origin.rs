//! What a robot was read from, so that a save sees what others have written since.

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
        let read = save::resolve(path).ok().map(|path| Read {
            path,
            text: text.into(),
        });
        Self(Mutex::new(read))
    }

    /// Of a file whose links have been followed, and its text as it was read.
    pub(in crate::robot) fn known(path: PathBuf, text: &str) -> Self {
        let text = text.into();
        Self(Mutex::new(Some(Read { path, text })))
    }

    /// The file, its links followed, and its text as it was read or saved.
    pub(in crate::robot) fn parts(&self) -> Option<(PathBuf, Arc<str>)> {
        let read = self.read().clone()?;
        Some((read.path, read.text))
    }

    fn read(&self) -> MutexGuard<'_, Option<Read>> {
        // What is kept is replaced in one piece, so that it is whole even then.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Writes the text where nothing stands yet.
    pub(in crate::robot) fn create(&self, text: &str, path: &Path) -> Result<(), FileError> {
        save::create(path, text.as_bytes()).map_err(|error| FileError::access("written", &error, path))?;
        *self.read() = save::resolve(path).ok().map(|path| Read {
            path,
            text: text.into(),
        });
        Ok(())
    }

    /// Writes the text, together with what others have written since it was read.
    pub(in crate::robot) fn save(&self, text: &str, path: &Path) -> Result<Saved, FileError> {
        let access = |error: io::Error| FileError::access("written", &error, path);
        let real = save::resolve(path).map_err(access)?;
        let base = self
            .read()
            .as_ref()
            .filter(|read| read.path == real)
            .map(|read| Arc::clone(&read.text));
        let lock = Lock::of(&real).map_err(|error| error.in_file(path))?;
        let saved = match base {
            None => save::replace(&real, text.as_bytes(), None)
                .map(|_| Saved::default())
                .map_err(access)?,
            Some(base) => compared(&base, text, &real, path)?,
        };
        drop(lock);
        *self.read() = Some(Read {
            path: real,
            text: text.into(),
        });
        Ok(saved)
    }
}

/// Writes the text over a file that agreed with `base` when it was read.
fn compared(base: &str, text: &str, real: &Path, path: &Path) -> Result<Saved, FileError> {
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
                (line_ends::as_in(there, &new), Saved { merged })
            }
            _ => (text.into(), Saved::default()),
        };
        match save::replace(real, new.as_bytes(), Some(there.as_deref())) {
            Ok(Replaced::Done) => return Ok(saved),
            Ok(Replaced::NotThere) => {}
            Err(error) => return Err(FileError::access("written", &error, path)),
        }
    }
    let what = "another program keeps writing it".into();
    Err(FileError::new(FileFault::Changed { what }).in_file(path))
}
