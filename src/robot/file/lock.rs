//! One writer at a time: a save holds the lock of `.NAME.lock` beside the file.
//!
//! The lock is one of the system's, so that it ends with its process however that ends. Its holder removes the name before it lets go;
//! a process that then gets the lock of a file without a name has nothing, and tries again with the name's new file.

use std::ffi::OsString;
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io;
use std::path::{Path, PathBuf};
use std::thread::sleep;
use std::time::{Duration, Instant};

use super::super::error::{FileError, FileFault};

/// A save takes milliseconds; who holds a lock so much longer is stopped or hangs.
const WAIT: Duration = Duration::from_secs(10);
/// Between two tries: less than a save takes.
const PAUSE: Duration = Duration::from_millis(2);

/// The lock of one file, held until dropped.
pub(in crate::robot) struct Lock {
    /// Open for as long as the lock is held.
    file: File,
    path: PathBuf,
}

impl Lock {
    /// Waits for the lock of a file whose links have been followed.
    pub(in crate::robot) fn of(path: &Path) -> Result<Self, FileError> {
        let mut name = OsString::from(".");
        name.push(path.file_name().unwrap_or_default());
        name.push(".lock");
        Self::take(path.with_file_name(name), WAIT).map_err(|error| match error {
            Refused::Held(lock) => FileError::new(FileFault::Locked {
                lock,
                seconds: WAIT.as_secs(),
            }),
            Refused::System(error) => FileError::access("written", &error, path),
        })
    }

    fn take(path: PathBuf, wait: Duration) -> Result<Self, Refused> {
        let start = Instant::now();
        loop {
            let file = open(&path)?;
            match file.try_lock() {
                Ok(()) if has_name(&file, &path) => return Ok(Self { file, path }),
                // Let through knowingly: this disk knows no locks, and the contents are compared all the same.
                Err(TryLockError::Error(_)) => return Ok(Self { file, path }),
                // Taken from its name while this one waited.
                Ok(()) => continue,
                Err(TryLockError::WouldBlock) => {}
            }
            if start.elapsed() >= wait {
                return Err(Refused::Held(path));
            }
            sleep(PAUSE);
        }
    }
}

impl Drop for Lock {
    fn drop(&mut self) {
        // Elsewhere nobody could tell a name taken away from one that stays, so it stays.
        if cfg!(unix) && has_name(&self.file, &self.path) {
            let _ = fs::remove_file(&self.path);
        }
    }
}

enum Refused {
    Held(PathBuf),
    System(io::Error),
}

impl From<io::Error> for Refused {
    fn from(error: io::Error) -> Self {
        Self::System(error)
    }
}

fn open(path: &Path) -> io::Result<File> {
    let made = OpenOptions::new().write(true).create(true).truncate(false).open(path);
    match made {
        // Another user's: a lock can be asked of what can only be read.
        Err(error) if error.kind() == io::ErrorKind::PermissionDenied => File::open(path).map_err(|_| error),
        made => made,
    }
}

/// Whether the file still stands under this name.
#[cfg(unix)]
fn has_name(file: &File, path: &Path) -> bool {
    use std::os::unix::fs::MetadataExt as _;
    let identity = |there: fs::Metadata| (there.dev(), there.ino());
    match (file.metadata(), fs::symlink_metadata(path)) {
        (Ok(file), Ok(named)) => identity(file) == identity(named),
        _ => false,
    }
}

#[cfg(not(unix))]
fn has_name(_: &File, _: &Path) -> bool {
    true
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may panic")]
    use super::*;
    use std::sync::atomic::{AtomicU32, Ordering};

    #[test]
    fn one_holds_it_and_the_name_goes_with_it() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(".heron.toml.lock");
        let take = || Lock::take(path.clone(), Duration::from_millis(20));
        let held = take().ok();
        assert!(held.is_some() && path.exists());
        assert!(matches!(take(), Err(Refused::Held(named)) if named == path));
        drop(held);
        assert!(!cfg!(unix) || !path.exists());
        assert!(take().is_ok());
        let nowhere = folder.path().join("no/.lock");
        assert!(matches!(Lock::take(nowhere, WAIT), Err(Refused::System(_))));
    }

    #[test]
    fn who_waits_on_a_name_that_vanishes_gets_the_next() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(".heron.toml.lock");
        let inside = AtomicU32::new(0);
        std::thread::scope(|scope| {
            for _ in 0..4 {
                scope.spawn(|| {
                    for _ in 0..50 {
                        let lock = Lock::take(path.clone(), WAIT).ok().unwrap();
                        assert_eq!(inside.fetch_add(1, Ordering::SeqCst), 0, "two hold it");
                        std::thread::yield_now();
                        inside.fetch_sub(1, Ordering::SeqCst);
                        drop(lock);
                    }
                });
            }
        });
    }
}
