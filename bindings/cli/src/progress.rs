//! Signs of life during long work: on standard error, only where that is a terminal, and gone when the work is done.

use std::io::{IsTerminal as _, Write as _};

/// A line that stands while the work lasts.
pub(crate) struct Progress {
    shown: bool,
}

impl Progress {
    /// Announces work on so many things, if they are many and somebody looks.
    pub(crate) fn of(count: usize, many: usize, doing: &str, things: &str) -> Self {
        let shown = count >= many && std::io::stderr().is_terminal();
        let told = Self { shown };
        told.say(&format!("{doing} {count} {things}"));
        told
    }

    /// Says how far it is.
    pub(crate) fn say(&self, text: &str) {
        if self.shown {
            // Back to the line's start, and clear it.
            let _ = write!(std::io::stderr(), "\r\u{1b}[K{text} ...");
            let _ = std::io::stderr().flush();
        }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if self.shown {
            let _ = write!(std::io::stderr(), "\r\u{1b}[K");
        }
    }
}
