//! Robot files: what is read, what is refused and where, and what a change leaves alone.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may panic"
)]

mod changes;
mod reading;

/// Invented data.
const FILE: &str = r#"# Heron, breast first
format = 1
name = "heron"
timer = { frame_hz = 50, counts_per_frame = 4096 }         # default for all joints
servo = { angle = [0, 180], pulse_us = [500, 2500] }

[board.breast]
channels = 16

[joint.wing_left]   # squeaks
board = "breast"
channel = 3
command = [-40, 60]
drive = [ 37,  122 ]  # degrees
travel = [39.3, 98.5]
rest = 10
max_rate_per_s = 60
mirror_of = "wing_right"

[joint.wing_left.evidence]
date = 2026-11-20
sense = "opposing"
lower = { kind = "contact", at = 37.2, u = 0.2, guard = 2.0 }   # felt it
upper = { kind = "clear", at = 98.5 }
lost_motion = { value = 1.8, u = 0.15 }
readings = 42

[joint.wing_right]
board = "breast"
channel = 4
command = [-40, 60]
drive = [37, 122]
inverted = true
rest = 10
servo = { pulse_us = [600, 2400] }
timer = { frame_hz = 100, counts_per_frame = 8192 }
"#;
