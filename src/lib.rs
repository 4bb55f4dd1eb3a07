//! One checked calibration model for servo joints: from measured points to travel limits, and from commands to the
//! number that a motor gets.
//!
//! # The chain
//! ```text
//! command ─clamp─► transmission ─► drive angle ─clamp to travel─► pulse width ─► timer counts
//! reading ─────► feedback map ──► joint angle ─► command                       (and every arrow backwards)
//! ```
//! Each arrow is a monotone step with an exact inverse. A [`JointRecord`] is what is written down; [`Joint::new`] checks
//! it as a whole; a `Joint` in hand is valid, and after that only the number given to it can be wrong.
//!
//! ```
//! use elbowroom::{Joint, JointRecord, ServoRecord, TimerRecord};
//! // Defaults, to be verified against the data sheet: a 180 degree servo on 500 to 2500 us, 12-bit counts at 50 Hz.
//! let servo = ServoRecord { angle: [0.0, 180.0], pulse_us: [500.0, 2500.0] };
//! let timer = TimerRecord { frame_hz: 50.0, counts_per_frame: 4096 };
//! let mut record = JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer);
//! record.travel = Some([40.2, 119.0]);
//! let joint = Joint::new(record)?;
//!
//! assert_eq!(joint.drive(10.0)?.value, 79.5); // deg
//! assert_eq!(joint.counts(10.0)?.value, 283); // of 4096
//! assert!(joint.drive(-40.0)?.clamped.travel); // 37 deg is outside the travel: 40.2 deg, and said so
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! The [guide] goes through the job step by step, from the first reading to the control loop.
//!
//! # Promises
//! * Conversions allocate nothing, cannot panic, and take a bounded number of steps.
//! * Both ends are hit to the bit, neighbouring floats keep their order, nothing leaves its range: see [`LinearMap`].
//! * The same bits on every machine, for `f32` and `f64`: only + - × ÷, comparisons and rounding in a fixed order; the
//!   trigonometry of linkages comes from the `libm` crate.
//! * Towards the motor NaN and infinities are refused and clamping is reported; backwards nothing is clamped and NaN
//!   stays NaN.
//!
//! # Not a safety function
//! This crate computes; it cannot stop a motor, and is not a safety function in the sense of ISO 13849 or IEC 61508.
//! Unload the drive and take the load off before a polarity test, keep a hand on the power switch, make the first move
//! slow, and never search a stop under a person's hand. Local codes and licensed practice come first.
#![no_std]
#![forbid(unsafe_code)]
// On docs.rs each item says which feature brings it.
#![cfg_attr(docsrs, feature(doc_cfg))]
#![cfg_attr(
    test,
    allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)
)]

#[cfg(feature = "std")]
extern crate std;

mod batch;
pub mod block;
pub mod bring_up;
mod code;
mod conversion;
mod counts;
pub mod curve;
mod error;
mod feedback;
#[cfg(feature = "std")]
pub mod fit;
#[cfg(all(any(doc, doctest), feature = "robot", feature = "rehearsal"))]
pub mod guide;
mod joint;
pub mod linkage;
pub mod look;
mod map;
mod math;
mod path;
mod pinned;
mod pulse;
mod rate;
mod real;
mod record;
#[cfg(feature = "rehearsal")]
pub mod rehearsal;
#[cfg(feature = "robot")]
pub mod robot;
mod rules;
mod span;
mod transmission;
mod unit;

pub use batch::Tally;
pub use code::Code;
pub use conversion::{Clamped, Conversion};
/// For the bindings.
#[doc(hidden)]
pub use counts::CountNumber;
pub use error::{ConvertError, FeedbackError, JointError};
pub use feedback::{Feedback, FeedbackRecord, ReadingState};
pub use joint::Joint;
pub use map::{Direction, LinearMap};
pub use path::{PathCheck, PathRows};
pub use pulse::{Servo, Timer};
pub use real::Real;
pub use record::{JointRecord, ServoRecord, TimerRecord};
pub use span::{Side, Span};
#[cfg(feature = "std")]
pub use transmission::CurveTransmission;
pub use transmission::{Linear, Transmission, TransmissionRecord};
pub use unit::{SiUnit, Unit};

/// The examples of the README, run as tests.
#[cfg(doctest)]
#[doc = include_str!("../README.md")]
struct ReadmeDoctests;
