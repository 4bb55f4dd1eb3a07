//! A block as C source.

use crate::block::error::BlockError;
use crate::block::{Block, BlockJoint};
use core::fmt::Write;
use std::string::String;

/// A C header that holds an image as the constant array `name`, with a comment that says what is in it.
///
/// `titles` gives joints their names in that comment, by channel. On an AVR the array stays in flash. Characters that C
/// does not allow in `name` become underscores.
///
/// # Errors
/// As [`Block::new`]: what is not a good block is not made into source.
///
/// ```
/// # use elbowroom::{Joint, JointRecord, ServoRecord, TimerRecord, block};
/// # let servo = ServoRecord { angle: [0.0, 180.0], pulse_us: [500.0, 2500.0] };
/// # let timer = TimerRecord { frame_hz: 50.0, counts_per_frame: 4096 };
/// # let joint = Joint::<f32>::new(JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer))?;
/// let image = block::to_vec(&[(3, &joint)])?;
/// let source = block::c_source("heron_block", &image, &[(3, "wing_left")])?;
/// assert!(source.contains("static const uint8_t heron_block[108]"));
/// assert!(source.contains("channel 3, wing_left: command -40 to 60"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn c_source(name: &str, image: &[u8], titles: &[(u16, &str)]) -> Result<String, BlockError> {
    let block = Block::new(image)?;
    let name = identifier(name);
    let guard = name.to_ascii_uppercase();
    let bytes = image.len();
    let mut text = String::new();
    // Writing to a string cannot go wrong.
    let _ = write!(
        text,
        "/* {} of elbowroom, {bytes} bytes. Made by elbowroom {}; do not edit.\n *\n",
        if block.joints() == 1 { "One joint" } else { "Joints" },
        env!("CARGO_PKG_VERSION"),
    );
    for index in 0..block.joints() {
        let joint = BlockJoint::new(block, index)?;
        let title = titles.iter().find(|(channel, _)| *channel == joint.channel());
        line(&mut text, &joint, title.map(|(_, title)| *title))?;
    }
    let _ = write!(
        text,
        " *\n * Check it once at start-up: elb_block_check({name}, sizeof {name}), on an AVR elb_block_check_flash. */\n\
         #ifndef {guard}_H\n#define {guard}_H\n\n#include <stdint.h>\n\n\
         #if defined(__AVR__)\n#include <avr/pgmspace.h>\nstatic const uint8_t {name}[{bytes}] PROGMEM = {{\n\
         #else\nstatic const uint8_t {name}[{bytes}] = {{\n#endif\n",
    );
    for row in image.chunks(16) {
        text.push_str("   ");
        for byte in row {
            let _ = write!(text, " 0x{byte:02x},");
        }
        text.push('\n');
    }
    let _ = write!(text, "}};\n\n#endif\n");
    Ok(text)
}

fn line(text: &mut String, joint: &BlockJoint<&[u8]>, title: Option<&str>) -> Result<(), BlockError> {
    let record = joint.record()?;
    let _ = write!(text, " * channel {}", joint.channel());
    if let Some(title) = title {
        text.push_str(", ");
        // Nothing may end the comment early.
        text.extend(title.chars().map(|c| if c == '*' || c.is_control() { '_' } else { c }));
    }
    let [command_lower, command_upper] = record.command;
    let [drive_lower, drive_upper] = record.drive;
    let [lowest, highest] = joint.count_range();
    let _ = write!(
        text,
        ": command {command_lower} to {command_upper}, drive {drive_lower} to {drive_upper} deg{}",
        if record.inverted { " inverted" } else { "" },
    );
    if let Some([lower, upper]) = record.travel {
        let _ = write!(text, ", travel {lower} to {upper} deg");
    }
    if let Some(curve) = joint.curve() {
        let _ = write!(text, ", curve of {} knots", curve.count());
    }
    if let Some(feedback) = &record.feedback {
        let [[from, to], [lower, upper]] = [feedback.reading, feedback.angle];
        let falls = if feedback.inverted { " falling" } else { "" };
        let _ = write!(
            text,
            ",\n *   readings {from} to {to} for{falls} joint angles {lower} to {upper} deg"
        );
        if let Some(knots) = &feedback.knots {
            let _ = write!(text, ", curve of {} knots", knots.len());
        }
    }
    let _ = writeln!(
        text,
        ",\n *   counts {lowest} to {highest} of {} at {} Hz, rest {}",
        record.timer.counts_per_frame, record.timer.frame_hz, record.rest
    );
    Ok(())
}

fn identifier(name: &str) -> String {
    let mut text = String::new();
    if !name.starts_with(|c: char| c.is_ascii_alphabetic() || c == '_') {
        text.push_str("block_");
    }
    text.extend(name.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '_' }));
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_become_identifiers() {
        assert_eq!(identifier("heron-2"), "heron_2");
        assert_eq!(identifier("2nd heron"), "block_2nd_heron");
        assert_eq!(identifier(""), "block_");
    }

    #[test]
    fn only_good_blocks_become_source() {
        assert!(c_source("x", &[0; 20], &[]).is_err());
    }
}
