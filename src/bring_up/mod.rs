//! Bring-up: from loose parts to a joint ready for software.
//!
//! Each procedure here is a state machine without I/O. It gives the next action ([`Action`]: move to, wait, read, ask) and takes a
//! report of it ([`Report`]); your program (a shell, a window, a Python script or a board) does the rest.
//! Asking for the next action changes nothing; a report that does not fit is refused and changes nothing either. With the
//! feature `serde` every state can be saved and restored at any point, with the same result; one that could not have been
//! written is refused.
//!
//! * [`SenseTest`]: does the feedback oppose an error?
//! * [`Alignment`]: does the sensor reach both ends of the joint?
//! * [`StopSearch`] on top of the bare [`Bracket`]: where does the joint meet its stops?
//! * [`Sweep`]: up and down, for the fit and for positioning figures.
//! * [`Session`] (with `std`): all of it in order, the alignment where [`SessionPlan::alignment`] asks for it, with questions, to a verdict
//!   and the evidence.
//! * [`Bench`] (with `std`): the same for a person who types each reading, with as few of them as the bound on overtravel allows.
//! * [`Ramp`]: soft start and rate limit, also for firmware; [`JointRamp`] within what the joint can reach.
//! * [`FollowCheck`]: at each tick, does the joint follow?
//!
//! # Bounds
//! A machine never asks for a drive angle outside what is proven clear plus one step. [`Bracket`] and [`StopSearch`] state
//! and prove how far a search can pass a stop and how many probes it takes.
//!
//! # Cautions
//! This software computes; it cannot stop a motor. Every [`Question`] carries the [`Caution`]s to be said before it. Never
//! search a stop under a person's hand.

mod action;
mod alignment;
mod answer;
#[cfg(feature = "std")]
mod bench;
mod bracket;
#[cfg(feature = "std")]
mod diagnosis;
mod error;
mod follow;
mod joint_ramp;
#[cfg(feature = "std")]
mod knee;
#[cfg(feature = "std")]
mod outcome;
mod ramp;
mod reads;
#[cfg(feature = "serde")]
mod saved;
mod search;
mod sense;
#[cfg(feature = "std")]
mod session;
mod sweep;
mod visit;
mod with;

pub use crate::span::Side;
pub use action::{Action, Caution, Doubt, Question, Report};
pub use alignment::{Alignment, AlignmentEnd, AlignmentFigures, AlignmentPlan};
pub use answer::Answer;
#[cfg(feature = "std")]
pub use bench::{Bench, BenchPlan, BenchReading, Prompt, PromptAnswer, PromptCaution};
pub use bracket::{Bracket, BracketPlan, Found};
#[cfg(feature = "std")]
pub use diagnosis::{Baseline, Fault, teeth};
pub use error::BringUpError;
pub(crate) use error::MOST;
pub use follow::{Follow, FollowCheck, FollowLimits, Following};
pub use joint_ramp::JointRamp;
#[cfg(feature = "std")]
pub use outcome::{EndFound, Outcome, Verdict};
pub use ramp::Ramp;
pub use search::{SearchEnd, StopSearch, StopSearchPlan};
pub use sense::{LoopSense, SenseAdvice, SensePlan, SenseReason, SenseResult, SenseSample, SenseTest, Watch};
#[cfg(feature = "std")]
pub use session::{Session, SessionPlan};
pub use sweep::{Legs, Sweep, SweepPlace, SweepPlan, SweepReading};
pub use visit::Pace;
