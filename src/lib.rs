//! One checked calibration model for servo joints.
#![no_std]
#![forbid(unsafe_code)]
#![cfg_attr(
    test,
    allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)
)]

#[cfg(feature = "std")]
extern crate std;

mod error;
mod real;
mod span;

pub use error::{Code, ConvertError, JointError};
pub use real::Real;
pub use span::Span;
