//! Blocks in a library without `std`, as firmware has them. Built apart from all other tests:
//! `cargo test -p elbowroom --no-default-features --features block-curves --test block_without_std`.
#![cfg(not(feature = "std"))]
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::block::{Block, write};
use elbowroom::{Code, FeedbackRecord, Joint, JointRecord, ServoRecord, TimerRecord};

/// The images of the shared vectors: lines that begin with `I`.
fn images() -> Vec<Vec<u8>> {
    include_str!("data/vectors/block_f32.txt")
        .lines()
        .filter_map(|line| line.strip_prefix("I "))
        .map(|digits| {
            let digits: Vec<u32> = digits.chars().map(|c| c.to_digit(16).unwrap()).collect();
            digits.chunks(2).map(|pair| (pair[0] * 16 + pair[1]) as u8).collect()
        })
        .collect()
}

/// A record that left the curve out made a straight joint: other counts than the block, and no error.
#[test]
fn a_record_is_the_joint_of_the_block_or_is_refused() {
    let mut straight = [0; 108];
    write(&[(3, &straight_joint())], &mut straight).unwrap();
    let mut refused = 0;
    for image in images().into_iter().chain([straight.to_vec()]) {
        let block = Block::new(&image[..]).unwrap();
        for index in 0..block.joints() {
            let read = block.joint(block.channel(index).unwrap()).unwrap();
            match read.record() {
                Ok(record) => {
                    let joint = Joint::new(record).unwrap();
                    for i in -100..200 {
                        let command = i as f32;
                        assert_eq!(joint.counts(command).unwrap(), read.counts(command).unwrap());
                        let readings = (joint.command_from_reading(command), read.command_from_reading(command));
                        assert_eq!(readings.0.ok(), readings.1.ok());
                    }
                }
                Err(error) => {
                    refused += 1;
                    assert_eq!(error.code(), Code::TransmissionInvalid);
                    let channel = read.channel();
                    assert_eq!(
                        error.to_string(),
                        format!(
                            "the record of the joint on channel {channel} cannot hold its curve in a library without std; use the \
                             conversions of the block's joint, or build with the feature std"
                        )
                    );
                    // The joint itself answers.
                    read.counts(read.rest()).unwrap();
                }
            }
        }
    }
    assert!(refused > 3, "{refused} curved");
}

fn straight_joint() -> Joint<f32> {
    let servo = ServoRecord {
        angle: [0.0, 180.0],
        pulse_us: [500.0, 2500.0],
    };
    let timer = TimerRecord {
        frame_hz: 50.0,
        counts_per_frame: 4096,
    };
    let mut record = JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer);
    record.feedback = Some(FeedbackRecord::new([212.0, 871.0], [-40.0, 60.0]));
    Joint::new(record).unwrap()
}
