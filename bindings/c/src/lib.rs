//! The C interface of elbowroom. Its manual is `include/elbowroom.h`, generated from the comments here.
//!
//! This crate translates pointers, structs and errors, and holds all hand-written `unsafe` of the C side; it does no
//! arithmetic and has no rule of its own. Every exported function runs inside [`guard`], so that nothing unwinds into C.
#![allow(non_camel_case_types)] // The type names are the C names.
#![allow(clippy::missing_safety_doc)] // Every exported function has one contract, the header's: see `pointer`.
#![cfg_attr(
    test,
    allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)
)]

// In the order of the sections of elbowroom.h.
pub mod version;

pub mod status;

pub mod refusal;

pub mod transmission;

pub mod joint_config;

pub mod joint;

pub mod joint_batch;

pub mod joint_feedback;

pub mod readings;

pub mod fit_values;

pub mod fit;

pub mod many;

pub mod robot_joints;

pub mod robot;

pub mod unit;

pub mod robot_loop;

pub mod findings;

pub mod description;

pub mod ramp;

pub mod follow;

pub mod running;

pub mod session_config;

pub mod session;

pub mod bench;

pub mod image;

#[path = "../../firmware/src/calls.rs"]
pub mod block;

// In the order of the sections of elbowroom_analysis.h.
pub mod line;

pub mod curve;

pub mod linkage;

pub mod choice;

pub mod feedback_fit;

pub mod comparison;

pub mod positioning;

mod guard;
mod handle;
mod injected;
mod pointer;
mod text;
mod word;
