//! What limit fits promise, counted over thousands of invented joints whose truth is known.
//!
//! `cargo bench --bench simulation` prints the table of the documentation of `elbowroom::fit`; behind `--` a number sets
//! the joints per row (2,000 when left out) and `rows=WORDS` picks the rows whose name holds the words. Every joint has a seed of its own: the same table on every run, whatever
//! the number of threads.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "a check stops at the first thing that is not as it must be"
)]

#[path = "../tests/simulated/mod.rs"]
mod simulated;

use simulated::{Row, rows};

fn main() {
    let joints = std::env::args().filter_map(|a| a.parse().ok()).next().unwrap_or(2000);
    println!("{}", Row::heading());
    let only = std::env::args()
        .find_map(|a| a.strip_prefix("rows=").map(String::from))
        .unwrap_or_default();
    for row in rows(joints, 2, &only) {
        println!("{row}");
    }
}
