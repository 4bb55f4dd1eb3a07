//! The shared conversion vectors: the same files are read here, in C, in Python and on microcontrollers.
//!
//! Files and format: `tests/data/vectors/README.md`. `WRITE_VECTORS=1 cargo test --test vectors` writes them anew; a changed
//! line is a changed promise.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod bits;
mod conversion;
mod defaults;
mod faults;
mod fits;
mod transmission;
