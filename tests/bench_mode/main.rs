//! Bring-ups whose readings are typed: the figures that are promised, and that nothing typed is lost or believed wrongly.
// A test may stop where something cannot be.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

#[path = "../bench_figures/mod.rs"]
mod bench_figures;
mod figures;
mod steps;
