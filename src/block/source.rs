//! A block as C source.

use crate::block::error::BlockError;
use crate::block::{Block, BlockJoint};
use core::fmt::Write;
use std::format;
use std::string::String;
use std::vec::Vec;

/// A C header that holds an image as the constant array `name`, with a comment that says what is in it.
///
/// `titles` gives joints their names, by channel: in that comment, and as a constant for the channel of each, e.g.
/// `#define HERON_BLOCK_WING_LEFT 3`. It begins with the array's name, so that two boards in one program have different ones. On an
/// AVR the array stays in flash. Characters that C does not allow in names become underscores; names that are alike then have
/// their channel at the end: `HERON_BLOCK_WING_LEFT_CHANNEL_3`.
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
/// assert!(source.contains("#define HERON_BLOCK_WING_LEFT 3\n"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn c_source(name: &str, image: &[u8], titles: &[(u16, &str)]) -> Result<String, BlockError> {
    let titles: Vec<Title<'_>> = titles
        .iter()
        .map(|&(channel, name)| Title {
            channel,
            name,
            note: "",
        })
        .collect();
    titled_source(name, image, &titles)
}

/// A joint's name, and what else the comment says of it.
#[derive(Clone, Copy)]
pub(crate) struct Title<'a> {
    pub(crate) channel: u16,
    pub(crate) name: &'a str,
    pub(crate) note: &'a str,
}

/// The source with a note on some joints.
pub(crate) fn titled_source(name: &str, image: &[u8], titles: &[Title<'_>]) -> Result<String, BlockError> {
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
    let mut named = Vec::new();
    for index in 0..block.joints() {
        let joint = BlockJoint::new(block, index)?;
        let title = titles.iter().find(|title| title.channel == joint.channel());
        line(&mut text, &joint, title)?;
        named.extend(title.copied());
    }
    let _ = write!(
        text,
        " *\n * Check it once at start-up: elb_block_check({name}, sizeof {name}), on an AVR elb_block_check_flash. */\n\
         #ifndef {guard}_H\n#define {guard}_H\n\n#include <stdint.h>\n\n",
    );
    for (constant, channel) in channel_constants(&guard, &named) {
        let _ = writeln!(text, "#define {constant} {channel}");
    }
    let _ = write!(
        text,
        "{}#if defined(__AVR__)\n#include <avr/pgmspace.h>\nstatic const uint8_t {name}[{bytes}] PROGMEM = {{\n\
         #else\nstatic const uint8_t {name}[{bytes}] = {{\n#endif\n",
        if named.is_empty() { "" } else { "\n" },
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

fn line(text: &mut String, joint: &BlockJoint<&[u8]>, title: Option<&Title<'_>>) -> Result<(), BlockError> {
    let record = joint.record()?;
    let _ = write!(text, " * channel {}", joint.channel());
    if let Some(title) = title {
        text.push_str(", ");
        // Nothing may end the comment early.
        let title = title.name.chars().chain(title.note.chars());
        text.extend(title.map(|c| if c == '*' || c.is_control() { '_' } else { c }));
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

/// A constant for each channel. Those that would be alike, or the guard of the file, have their channel at the end, which no other has.
fn channel_constants(prefix: &str, titles: &[Title<'_>]) -> Vec<(String, u16)> {
    let plain = |title: &Title<'_>| format!("{prefix}_{}", safe(title.name).to_ascii_uppercase());
    let mut constants: Vec<(String, u16)> = titles.iter().map(|title| (plain(title), title.channel)).collect();
    let guard = format!("{prefix}_H");
    let mut by_channel = std::vec![false; constants.len()];
    // Another joint may be called what one becomes with its channel: each round takes in one more, until none is left.
    for _ in 0..constants.len() {
        let alike: Vec<usize> = (0..constants.len())
            .filter(|&i| {
                let of = |i: usize| constants.get(i).map(|(name, _)| name.as_str());
                !by_channel.get(i).copied().unwrap_or(true)
                    && (of(i) == Some(&*guard) || (0..constants.len()).any(|j| j != i && of(j) == of(i)))
            })
            .collect();
        for i in alike {
            if let (Some((name, channel)), Some(marked)) = (constants.get_mut(i), by_channel.get_mut(i)) {
                *name += &format!("_CHANNEL_{channel}");
                *marked = true;
            }
        }
    }
    constants
}

/// Without characters that C does not allow in names.
fn safe(name: &str) -> String {
    name.chars()
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '_' })
        .collect()
}

fn identifier(name: &str) -> String {
    let mut text = String::new();
    if !name.starts_with(|c: char| c.is_ascii_alphabetic() || c == '_') {
        text.push_str("block_");
    }
    text + &safe(name)
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
    fn channels_have_constants_and_no_two_are_alike() {
        let of = |titles: &[(u16, &'static str)]| -> Vec<String> {
            let titles: Vec<_> = titles
                .iter()
                .map(|&(channel, name)| Title {
                    channel,
                    name,
                    note: "",
                })
                .collect();
            channel_constants("HERON", &titles)
                .iter()
                .map(|(name, channel)| format!("{name} {channel}"))
                .collect()
        };
        assert_eq!(
            of(&[(3, "wing_left"), (10, "Flügel-2")]),
            ["HERON_WING_LEFT 3", "HERON_FL_GEL_2 10"]
        );
        assert_eq!(
            of(&[(3, "wing-left"), (4, "neck"), (5, "wing_left")]),
            [
                "HERON_WING_LEFT_CHANNEL_3 3",
                "HERON_NECK 4",
                "HERON_WING_LEFT_CHANNEL_5 5"
            ]
        );
        // The guard of the file, and a name that another gets with its channel.
        assert_eq!(of(&[(3, "h")]), ["HERON_H_CHANNEL_3 3"]);
        assert_eq!(
            of(&[
                (3, "a-b"),
                (4, "a_b"),
                (7, "a_b_channel_3"),
                (8, "a_b_channel_3_channel_7")
            ]),
            [
                "HERON_A_B_CHANNEL_3 3",
                "HERON_A_B_CHANNEL_4 4",
                "HERON_A_B_CHANNEL_3_CHANNEL_7 7",
                "HERON_A_B_CHANNEL_3_CHANNEL_7_CHANNEL_8 8"
            ]
        );
    }

    #[test]
    fn only_good_blocks_become_source() {
        assert!(c_source("x", &[0; 20], &[]).is_err());
    }
}
