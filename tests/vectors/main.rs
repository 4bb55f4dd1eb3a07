//! The shared conversion vectors: the same files are read here, in C, in Python and on microcontrollers.
//!
//! Files and format: `tests/data/vectors/README.md`. `WRITE_VECTORS=1 cargo test --test vectors` writes them anew; a changed
//! line is a changed promise.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use std::path::Path;

/// The text recorded in a file of `tests/data/vectors`, which `WRITE_VECTORS` writes anew first.
fn recorded(name: &str, now: impl FnOnce() -> String) -> String {
    let path = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/vectors")).join(name);
    if std::env::var_os("WRITE_VECTORS").is_some() {
        std::fs::write(&path, now()).unwrap();
    }
    std::fs::read_to_string(path).unwrap()
}

mod bits;
mod conversion;
mod defaults;
#[cfg(feature = "robot")]
mod faults;
mod fits;
mod transmission;
