use super::*;
use crate::block::layout::flag;
use crate::record::wing;
use crate::{Code, FeedbackRecord, Joint, JointRecord};
use std::vec::Vec;

fn record() -> JointRecord<f32> {
    let mut record = wing();
    record.travel = Some([39.3, 119.7]);
    record.max_rate_per_s = Some(60.0);
    record.feedback = Some(FeedbackRecord::new([212.0, 871.0], [0.0, 95.0]));
    record
}

fn image(joints: u16) -> Vec<u8> {
    let joints: Vec<(u16, Joint<f32>)> = (0..joints)
        .map(|i| {
            let mut record = record();
            record.inverted = i % 2 == 1;
            // Falling channels: the writer puts them in order.
            (100 - 3 * i, Joint::new(record).unwrap())
        })
        .collect();
    let joints: Vec<(u16, &Joint<f32>)> = joints.iter().map(|(channel, joint)| (*channel, joint)).collect();
    to_vec(&joints).unwrap()
}

/// The image with its checksum set right again.
fn resummed(mut image: Vec<u8>) -> Vec<u8> {
    let end = image.len() - TAIL;
    let sum = image[..end]
        .iter()
        .fold(checksum::Checksum::new(), |sum, byte| sum.with(*byte));
    image[end..].copy_from_slice(&sum.value().to_le_bytes());
    image
}

/// What is wrong first; both forms of the check agree.
fn code(image: &[u8]) -> Option<Code> {
    let code = Block::new(image).err().map(|error| error.code());
    assert_eq!(Block::check(image).err(), code);
    code
}

#[test]
fn every_change_of_one_byte_is_caught() {
    let good = image(2);
    assert_eq!(code(&good), None);
    for at in 0..good.len() {
        for change in 1..=255u8 {
            let mut bad = good.clone();
            bad[at] ^= change;
            assert!(Block::new(&bad[..]).is_err(), "byte {at} changed by {change:#04x}");
        }
    }
}

#[test]
fn every_shortened_or_lengthened_image_is_refused() {
    let good = image(3);
    for length in 0..good.len() {
        assert_eq!(code(&good[..length]), Some(Code::BlockLength), "{length} bytes");
    }
    let mut long = good;
    long.push(0);
    assert_eq!(code(&long), Some(Code::BlockLength));
}

#[test]
fn foreign_and_newer_images_are_named() {
    let mut other = image(1);
    other[0] = b'X';
    assert_eq!(code(&resummed(other)), Some(Code::BlockBadMagic));
    assert_eq!(code(&[0xFF; 200]), Some(Code::BlockBadMagic));
    let mut newer = image(1);
    newer[head::VERSION] = 2;
    assert_eq!(code(&resummed(newer)), Some(Code::BlockVersion));
    let mut stale = image(1);
    stale[20] ^= 1;
    assert_eq!(code(&stale), Some(Code::BlockChecksum));
}

/// Images with a right checksum, as only somebody who means it makes them.
#[test]
fn hostile_images_are_refused() {
    let with = |at: usize, bytes: &[u8]| {
        let mut image = image(2);
        image[at..at + bytes.len()].copy_from_slice(bytes);
        code(&resummed(image))
    };
    let first = HEAD;
    let second = HEAD + JOINT;
    let invalid = Some(Code::BlockInvalid);
    assert_eq!(with(head::FLAGS, &[1]), invalid);
    assert_eq!(with(head::SPARE, &[1]), invalid);
    assert_eq!(with(head::JOINTS, &[1]), invalid);
    assert_eq!(with(head::JOINTS, &[0]), invalid);
    assert_eq!(with(head::KNOTS, &[1]), invalid);
    assert_eq!(with(first + joint::KIND, &[200]), invalid);
    assert_eq!(with(first + joint::FLAGS, &[0x80]), invalid);
    assert_eq!(with(first + joint::CHANNEL, &[101]), invalid);
    assert_eq!(with(first + joint::CHANNEL, &[100]), Some(Code::ChannelTwice));
    assert_eq!(with(first + joint::FIRST_KNOT, &[1]), invalid);
    let float = |at: usize, value: f32| with(second + at, &value.to_le_bytes());
    assert_eq!(float(joint::COMMAND, 61.0), Some(Code::EndsSwapped));
    assert_eq!(float(joint::DRIVE, 122.0), Some(Code::ZeroWidth));
    assert_eq!(float(joint::TRAVEL + 4, 200.0), Some(Code::OutsideServo));
    assert_eq!(float(joint::TRAVEL, f32::NAN), Some(Code::NotFinite));
    assert_eq!(float(joint::READING, 871.0), Some(Code::ZeroWidth));
    assert_eq!(float(joint::ANGLE, f32::NAN), Some(Code::NotFinite));
    assert_eq!(float(joint::REST, -41.0), Some(Code::RestOutside));
    assert_eq!(float(joint::RATE_PER_S, 0.0), Some(Code::NotPositive));
    assert_eq!(float(joint::FRAME_HZ, 0.0), Some(Code::NotPositive));
    // A rate that no flag tells of.
    let flags = image(2)[first + joint::FLAGS];
    assert_eq!(with(first + joint::FLAGS, &[flags & !flag::RATE]), invalid);
    // A travel narrowed without its counts: they would reach beyond it.
    assert_eq!(float(joint::TRAVEL + 4, 60.0), invalid);
    assert_eq!(with(second + joint::HIGHEST, &[0xFF, 0xFF]), invalid);
    assert_eq!(with(second + joint::LOWEST, &[0]), invalid);
    assert_eq!(with(second + joint::LOWEST, &[0, 16]), invalid);
}

#[test]
fn answers_with_the_bits_of_the_joint() {
    let image = image(4);
    let block = Block::new(&image[..]).unwrap();
    assert_eq!(block.joints(), 4);
    assert_eq!(
        (0..5).map(|i| block.channel(i)).collect::<Vec<_>>(),
        [Some(91), Some(94), Some(97), Some(100), None]
    );
    for (channel, inverted) in [(100, false), (97, true)] {
        let joint = Joint::new(JointRecord { inverted, ..record() }).unwrap();
        let read = block.joint(channel).unwrap();
        assert_eq!(Joint::new(read.record().unwrap()).unwrap(), joint);
        for i in -300i32..600 {
            let x = i as f32 * 0.37;
            assert_eq!(read.drive(x).unwrap(), joint.drive(x).unwrap());
            assert_eq!(read.pulse_us(x).unwrap(), joint.pulse_us(x).unwrap());
            assert_eq!(read.counts(x).unwrap(), joint.counts(x).unwrap());
            assert_eq!(read.command_from_drive(x), joint.command_from_drive(x));
            assert_eq!(
                read.command_from_reading(x).unwrap(),
                joint.command_from_reading(x).unwrap()
            );
            assert_eq!(read.command_from_pulse_us(x), joint.command_from_pulse_us(x));
            assert_eq!(
                read.command_from_counts(i.unsigned_abs()),
                joint.command_from_counts(i.unsigned_abs())
            );
        }
        assert_eq!(read.rest(), 10.0);
        assert_eq!(read.max_rate_per_s(), Some(60.0));
    }
    assert_eq!(block.joint(99).unwrap_err().code(), Code::UnknownChannel);
}

#[test]
fn nothing_but_numbers_goes_to_the_motor() {
    let image = image(1);
    let joint = Block::new(&image[..]).unwrap().joint(100).unwrap();
    for odd in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY] {
        assert_eq!(joint.counts(odd).unwrap_err().code(), Code::NotFinite);
        assert_eq!(joint.step(odd, 0.0, 0.0).unwrap_err().code(), Code::NotFinite);
        assert_eq!(joint.step(0.0, odd, 0.0).unwrap_err().code(), Code::NotFinite);
        assert_eq!(joint.step(0.0, 0.0, odd).unwrap_err().code(), Code::NotFinite);
    }
    assert!(joint.command_from_drive(f32::NAN).is_nan());
    assert_eq!(joint.step(0.0, 0.0, -1.0).unwrap_err().code(), Code::OptionOutside);
}

#[test]
fn steps_keep_the_rate_and_the_range() {
    let image = image(1);
    let joint = Block::new(&image[..]).unwrap().joint(100).unwrap();
    assert_eq!(joint.step(10.0, 50.0, 0.02).unwrap().value, 11.2);
    let held = joint.step(59.5, 500.0, 0.02).unwrap();
    // 119.7 deg are command 57.29: it comes in from 59.5 by one step.
    assert_eq!(
        (held.value, held.clamped.command, held.clamped.travel),
        (58.3, true, true)
    );
    let mut record = record();
    record.max_rate_per_s = None;
    record.feedback = None;
    let free = Joint::new(record).unwrap();
    let image = to_vec(&[(0, &free)]).unwrap();
    let joint = Block::new(&image[..]).unwrap().joint(0).unwrap();
    assert_eq!(joint.step(0.0, 50.0, 0.0).unwrap().value, 50.0);
    assert_eq!(joint.command_from_reading(500.0).unwrap_err().code(), Code::NoFeedback);
}

/// A target beyond the travel for two seconds, then one inside: the motor moves in the first cycle, and the ramp of the same joint in
/// memory gives the same bits.
#[test]
fn a_target_beyond_the_travel_does_not_wind_the_command_up() {
    for inverted in [false, true] {
        let straight = JointRecord {
            travel: Some([45.3, 109.7]),
            inverted,
            ..record()
        };
        let bent = JointRecord {
            travel: Some([45.3, 109.7]),
            ..bent(inverted).record()
        };
        let joints = [Joint::new(straight).unwrap(), Joint::new(bent).unwrap()];
        let image = to_vec(&[(0, &joints[0]), (1, &joints[1])]).unwrap();
        let block = Block::new(&image[..]).unwrap();
        for (channel, joint) in (0..).zip(&joints) {
            let read = block.joint(channel).unwrap();
            assert_eq!(
                read.reach(),
                crate::bring_up::JointRamp::new(joint, 0.0, Some(1.0), None, 1.0)
                    .unwrap()
                    .reach()
            );
            let mut ramp = crate::bring_up::JointRamp::new(joint, 10.0, Some(60.0), None, 50.0).unwrap();
            let mut of_block = crate::bring_up::JointRamp::of_block(&read, 10.0, Some(60.0), None, 50.0).unwrap();
            assert_eq!(of_block, ramp);
            let mut command = 10.0;
            for (far, inside) in [(-40.0, 10.0), (60.0, 10.0), (-500.0, 0.0), (500.0, 0.0)] {
                let mut counts = 0;
                for _ in 0..100 {
                    let step = read.step(command, far, 0.02).unwrap();
                    assert!(step.clamped.travel, "{far} {step:?}");
                    assert_eq!(step.clamped.command, far.abs() > 100.0);
                    assert!((step.value - command).abs() <= 1.2001);
                    command = step.value;
                    counts = read.counts(command).unwrap().value;
                    let follows = ramp.follow(far).unwrap();
                    assert!((follows.value - command).abs() < 1e-4, "{follows:?} {command}");
                    assert_eq!(of_block.follow(far), Ok(follows));
                }
                let end = read.drive(command).unwrap().value;
                assert!((end - 45.3).abs() < 1e-4 || (end - 109.7).abs() < 1e-4, "{end}");
                command = read.step(command, inside, 0.02).unwrap().value;
                assert!((read.drive(command).unwrap().value - end).abs() > 0.3, "{far} {end}");
                for _ in 0..2 {
                    command = read.step(command, inside, 0.02).unwrap().value;
                }
                assert_ne!(read.counts(command).unwrap().value, counts);
                let _ = (ramp.reset(command), of_block.reset(command));
            }
        }
        // Where it stands out of reach it comes in by bounded steps.
        let read = block.joint(0).unwrap();
        let from = if inverted { 59.0 } else { -39.0 };
        assert!((read.step(from, from, 0.02).unwrap().value - from).abs() <= 1.2001);
        assert_ne!(read.step(from, from, 0.02).unwrap().value, from);
    }
}

#[test]
fn the_writer_refuses_what_no_block_holds() {
    let joint = Joint::new(record()).unwrap();
    assert_eq!(to_vec(&[]).unwrap_err().code(), Code::BlockFull);
    assert_eq!(
        to_vec(&[(7, &joint), (7, &joint)]).unwrap_err().code(),
        Code::ChannelTwice
    );
    let mut small = [1; 107];
    assert_eq!(
        write(&[(7, &joint)], &mut small).unwrap_err(),
        BlockError::Room { needed: 108, room: 107 }
    );
    assert_eq!(small, [1; 107]);
    let mut loaded = record();
    let feedback = loaded.feedback.as_mut().unwrap();
    (feedback.adc_bits, feedback.pot_ohm, feedback.load_ohm) = (Some(10), Some(1e4), Some(1e5));
    let loaded = Joint::new(loaded).unwrap();
    assert_eq!(to_vec(&[(0, &loaded)]).unwrap_err().code(), Code::FeedbackInvalid);
    let many = std::vec![(0, &joint); 65_536];
    assert_eq!(length(&many).unwrap_err().code(), Code::BlockFull);
}

#[cfg(feature = "std")]
#[test]
fn hostile_curves_are_refused() {
    let mut written = record();
    written.transmission = crate::TransmissionRecord::Curve {
        knots: std::vec![[-40.0, 37.0], [0.0, 62.0], [60.0, 122.0]],
        rule: crate::curve::SlopeRule::default(),
    };
    let curved = Joint::new(written).unwrap();
    let straight = Joint::new(record()).unwrap();
    let good = to_vec(&[(1, &curved), (2, &straight), (3, &curved)]).unwrap();
    assert_eq!(code(&good), None);
    let with = |at: usize, bytes: &[u8]| {
        let mut image = good.clone();
        image[at..at + bytes.len()].copy_from_slice(bytes);
        code(&resummed(image))
    };
    let invalid = Some(Code::BlockInvalid);
    let (first, second, third) = (HEAD, HEAD + JOINT, HEAD + 2 * JOINT);
    // Knots shared, left out, left over, too few, or beyond the image.
    assert_eq!(with(third + joint::FIRST_KNOT, &[0]), invalid);
    assert_eq!(with(third + joint::KNOTS, &[2]), invalid);
    assert_eq!(with(first + joint::KNOTS, &[1]), invalid);
    assert_eq!(with(first + joint::KNOTS, &[0]), invalid);
    assert_eq!(with(third + joint::KNOTS, &[200]), invalid);
    assert_eq!(with(second + joint::KNOTS, &[2]), invalid);
    assert_eq!(with(first + joint::KIND, &[layout::kind::LINEAR]), invalid);
    // Knots that are no curve, or not this joint's.
    let knots = HEAD + 3 * JOINT;
    let float = |knot: usize, at: usize, value: f32| with(knots + layout::KNOT * knot + at, &value.to_le_bytes());
    assert_eq!(float(1, 0, -40.0), invalid);
    assert_eq!(float(1, 0, f32::NAN), invalid);
    assert_eq!(float(1, 4, 130.0), invalid);
    assert_eq!(float(1, 4, f32::INFINITY), invalid);
    assert_eq!(float(1, 8, -0.1), invalid);
    assert_eq!(float(1, 8, 50.0), invalid);
    assert_eq!(float(1, 8, f32::NAN), invalid);
    assert_eq!(float(0, 4, 38.0), invalid);
    assert_eq!(float(2, 0, 59.0), invalid);
    // Another slope within its limits is another curve: a board evaluates it, no record holds it.
    let at = knots + layout::KNOT + 8;
    assert_eq!(float(1, 8, 0.3), None);
    let mut other = good.clone();
    other[at..at + 4].copy_from_slice(&0.3f32.to_le_bytes());
    assert_eq!(
        Joint::from_block(&resummed(other), 1).unwrap_err().code(),
        Code::BlockInvalid
    );
    assert_eq!(Joint::from_block(&good, 1).unwrap(), curved);
    // More knots than there are, in an image that was never checked.
    let mut long = good.clone();
    long[first + joint::KNOTS] = 200;
    let read = Block::unchecked(&long[..]).unwrap().joint(1).unwrap();
    assert_eq!(read.record().unwrap_err().code(), Code::BlockInvalid);
}

/// A level stretch, though each of its pieces is a curve, gives one drive angle to many commands.
#[cfg(feature = "std")]
#[test]
fn a_curve_that_stays_level_between_two_knots_is_refused_rising_and_falling() {
    let knots = HEAD + JOINT;
    for inverted in [false, true] {
        let good = to_vec(&[(1, &bent(inverted))]).unwrap();
        assert_eq!(code(&good), None);
        let with = |places: &[(usize, f32)]| {
            let mut image = good.clone();
            for &(at, value) in places {
                image[knots + at..knots + at + 4].copy_from_slice(&value.to_le_bytes());
            }
            code(&resummed(image))
        };
        let (value, slope, second) = (4, 8, layout::KNOT);
        assert_eq!(with(&[(slope, 0.0), (second + slope, 0.0)]), None, "{inverted}");
        let first = if inverted { 122.0 } else { 37.0 };
        let level = [(slope, 0.0), (second + value, first), (second + slope, 0.0)];
        assert_eq!(with(&level), Some(Code::BlockInvalid), "{inverted}");
    }
}

/// A joint whose transmission and whose feedback are curves.
#[cfg(feature = "std")]
fn bent(inverted: bool) -> Joint<f32> {
    let mut written = record();
    written.inverted = inverted;
    let drives = if inverted {
        [122.0, 97.0, 37.0]
    } else {
        [37.0, 62.0, 122.0]
    };
    written.transmission = crate::TransmissionRecord::Curve {
        knots: [-40.0, 0.0, 60.0]
            .into_iter()
            .zip(drives)
            .map(|(c, d)| [c, d])
            .collect(),
        rule: crate::curve::SlopeRule::HarmonicChord,
    };
    let mut feedback = FeedbackRecord::new([212.0, 871.0], [0.0, 95.0]);
    feedback.inverted = inverted;
    let angles = if inverted {
        [95.0, 70.0, 11.5, 0.0]
    } else {
        [0.0, 11.5, 70.0, 95.0]
    };
    let knots = [212.0, 300.0, 700.5, 871.0].into_iter().zip(angles);
    feedback.knots = Some(knots.map(|(r, a)| [r, a]).collect());
    written.feedback = Some(feedback);
    Joint::new(written).unwrap()
}

#[cfg(feature = "std")]
fn bent_image() -> Vec<u8> {
    let straight = Joint::new(record()).unwrap();
    to_vec(&[(1, &bent(false)), (2, &straight), (3, &bent(true))]).unwrap()
}

#[cfg(feature = "std")]
#[test]
fn every_change_of_one_byte_of_curves_is_caught() {
    let good = bent_image();
    assert_eq!(good.len(), 16 + 3 * 88 + 14 * 12 + 4);
    assert_eq!(code(&good), None);
    for at in 0..good.len() {
        for change in 1..=255u8 {
            let mut bad = good.clone();
            bad[at] ^= change;
            assert!(Block::new(&bad[..]).is_err(), "byte {at} changed by {change:#04x}");
        }
    }
}

#[cfg(feature = "std")]
#[test]
fn curved_feedback_answers_with_the_bits_of_the_joint() {
    let image = bent_image();
    let block = Block::new(&image[..]).unwrap();
    for (channel, joint) in [(1, bent(false)), (3, bent(true))] {
        let read = block.joint(channel).unwrap();
        assert_eq!(read.to_joint().unwrap(), joint);
        for i in 0..4096 {
            let reading = i as f32 * 0.251;
            let (found, wanted) = (read.command_from_reading(reading), joint.command_from_reading(reading));
            assert_eq!(found.unwrap().to_bits(), wanted.unwrap().to_bits(), "{reading}");
        }
        assert!(read.command_from_reading(f32::NAN).unwrap().is_nan());
    }
    let source = c_source("bent", &image, &[]).unwrap();
    assert!(source.contains(
        "curve of 3 knots,\n *   readings 212 to 871 for falling joint angles 0 to 95 deg, curve of 4 knots"
    ));
}

#[cfg(feature = "std")]
#[test]
fn hostile_curved_feedback_is_refused() {
    let good = bent_image();
    let with = |at: usize, bytes: &[u8]| {
        let mut image = good.clone();
        image[at..at + bytes.len()].copy_from_slice(bytes);
        code(&resummed(image))
    };
    let invalid = Some(Code::BlockInvalid);
    let (first, second) = (HEAD, HEAD + JOINT);
    let flags = good[first + joint::FLAGS];
    assert_eq!(flags & flag::FEEDBACK_CURVED, flag::FEEDBACK_CURVED);
    // A curve without feedback, one on a joint whose readings stand there, and one turned over.
    assert_eq!(with(first + joint::FLAGS, &[flags & !flag::FEEDBACK]), invalid);
    assert_eq!(
        with(
            second + joint::FLAGS,
            &[good[second + joint::FLAGS] | flag::FEEDBACK_CURVED]
        ),
        invalid
    );
    assert_eq!(with(first + joint::FLAGS, &[flags | flag::FEEDBACK_INVERTED]), invalid);
    // Its knots: those of the transmission, too few, none, beyond the image; and what must be 0.
    assert_eq!(with(first + joint::READING, &[0]), invalid);
    for count in [0, 1, 3, 5, 200] {
        assert_eq!(with(first + joint::READING + 2, &[count]), invalid, "{count}");
    }
    assert_eq!(with(first + joint::READING + 4, &[1]), invalid);
    let knots = HEAD + 3 * JOINT + 3 * layout::KNOT;
    let float = |knot: usize, at: usize, value: f32| with(knots + layout::KNOT * knot + at, &value.to_le_bytes());
    assert_eq!(float(0, 4, 1.0), invalid);
    assert_eq!(float(3, 4, 94.0), invalid);
    assert_eq!(float(0, 0, f32::NAN), invalid);
    assert_eq!(float(0, 0, f32::NEG_INFINITY), invalid);
    assert_eq!(float(3, 0, f32::INFINITY), invalid);
    assert_eq!(float(1, 0, 212.0), invalid);
    assert_eq!(float(1, 4, 80.0), invalid);
    assert_eq!(float(2, 8, -1.0), invalid);
    let angle = |at: usize, value: f32| with(first + joint::ANGLE + at, &value.to_le_bytes());
    assert_eq!(angle(0, 96.0), Some(Code::EndsSwapped));
    assert_eq!(angle(4, 94.0), invalid);
}

#[test]
fn parts_end_where_the_image_does() {
    assert_eq!(bytes_of_parts::<4>(3, 12), Some(12));
    assert_eq!(bytes_of_parts::<4>(3, 11), None);
    assert_eq!(
        bytes_of_parts::<{ usize::MAX / 2 }>(3, usize::MAX),
        None,
        "longer than memory"
    );
    let bytes: Vec<u8> = (0..20).collect();
    let parts = |at, count| Some((&bytes[..]).parts::<4>(at, count)?.copied().collect::<Vec<_>>());
    assert_eq!(parts(12, 2), Some(Vec::from([[12, 13, 14, 15], [16, 17, 18, 19]])));
    assert_eq!(parts(20, 0), Some(Vec::new()));
    assert_eq!((parts(13, 2), parts(21, 0)), (None, None));
    let part = (&bytes[..]).part::<8>(4).unwrap();
    assert_eq!((part.byte(1), part.u16_at(1), part.u32_at(4)), (5, 0x0605, 0x0B0A_0908));
    assert_eq!(part.float(0), f32::from_bits(0x0706_0504));
    assert_eq!(
        (part.byte(8), part.u16_at(7), part.u32_at(5)),
        (0, 0, 0),
        "zeros where the part ends before"
    );
}

#[test]
fn a_length_is_that_of_its_joints_and_knots_alone() {
    for (joints, knots) in [(1, 0), (16, 0), (3, 700), (u16::MAX, u16::MAX)] {
        let length = layout::length(joints, knots) as usize;
        for bytes in [length - 12, length - 1, length, length + 1, length + 12, 0, 19] {
            assert_eq!(
                layout::is_length(bytes, joints, knots),
                bytes == length,
                "{bytes} {joints} {knots}"
            );
        }
    }
}

#[test]
fn no_name_leaves_the_comment_of_a_firmware_array() {
    let image = image(1);
    let plain = c_source("block", &image, &[(100, "wing")]).unwrap();
    let lines = plain.split_once("*/").unwrap().0.lines().count();
    for name in [
        "*/",
        "x*/ int y; /*",
        "*\n/",
        "*\u{85}/",
        "\\\n*/",
        "??/\n*/",
        "/**/",
        "*",
        "\r*/",
    ] {
        let source = c_source("block", &image, &[(100, name)]).unwrap();
        assert_eq!(source.matches("*/").count(), 1, "{source}");
        assert_eq!(source.matches("/*").count(), 1, "{source}");
        assert!(source.find("*/").unwrap() > source.find("Check it once at start-up").unwrap());
        // As many lines as under any name.
        let (comment, _) = source.split_once("*/").unwrap();
        assert_eq!(comment.lines().count(), lines, "{comment}");
        assert!(comment.lines().skip(1).all(|line| line.starts_with(" *")), "{comment}");
    }
}
