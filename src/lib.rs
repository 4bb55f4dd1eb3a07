//! One checked calibration model for servo joints.
#![no_std]
#![forbid(unsafe_code)]
#![cfg_attr(
    test,
    allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)
)]

#[cfg(feature = "std")]
extern crate std;

mod batch;
pub mod block;
pub mod curve;
mod error;
#[cfg(feature = "std")]
pub mod fit;
mod joint;
mod map;
mod math;
mod pulse;
mod rate;
mod real;
mod span;
mod transmission;

pub use batch::Tally;
pub use error::{Code, ConvertError, JointError};
pub use joint::{Clamped, Conversion, Joint, JointRecord, ServoRecord, TimerRecord};
pub use map::{Direction, LinearMap};
pub use pulse::{Servo, Timer};
pub use real::Real;
pub use span::Span;
pub use transmission::{Linear, Transmission};
