//! The block on boards: built, linked into C programs, and run in simulators.
//!
//! `tests/firmware/run` starts this, and says what it needs. Cortex-M4F runs in QEMU, ATmega328P in simavr.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod board;
mod vectors;

use board::{Board, Kind};

#[test]
fn shared_vectors_on_cortex_m4f() {
    vectors::run(Board::get(Kind::CortexM4f));
}

#[test]
fn shared_vectors_on_atmega328p() {
    vectors::run(Board::get(Kind::Atmega328p));
}
