//! Mechanisms against tables computed to 50 digits, by property, and the ranges that they can serve.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

mod properties;
mod ranges;
mod tables;

use elbowroom::linkage::{Linkage, LinkageError, Mechanism};
use elbowroom::{Direction, Span};

fn new(mechanism: Mechanism, command: [f64; 2]) -> Result<Linkage<f64>, LinkageError> {
    let span = |ends| Span::new("x", ends).unwrap();
    Linkage::new(mechanism, span(command), span([37.0, 122.0]), Direction::Direct)
}

/// The difference of two directions, deg.
fn turned(a: f64, b: f64) -> f64 {
    (a - b + 180.0).rem_euclid(360.0) - 180.0
}
