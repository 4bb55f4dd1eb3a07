//! Bring-ups of joints made for the purpose: mistakes of the plan, changes half-way, and what was saved.
// A test says what went wrong by failing.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

mod midway;
mod saved;
mod setup;
mod yields;
