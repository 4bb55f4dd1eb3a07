//! What a bring-up found, written into a joint's record; and what a fit finds of a joint that is there.

mod bring_up;
mod commands;
mod judge;
mod refit;
mod repair;
mod servo;
mod units;

pub use bring_up::MapChoice;
pub use judge::{Apart, Judgement, StopMoved, ZeroMoved};
pub use refit::{Refit, RefitMap};
pub use repair::AdoptError;
pub use units::MistakenUnit;
