//! An invented heron: the sixteen joints of one board.

use model::block::to_vec;
use model::{Joint, JointRecord, ServoRecord, TimerRecord};

/// Joint `i` on channel `3 * i`.
pub(crate) fn joints() -> Vec<(u16, Joint<f32>)> {
    (0..16_u16)
        .map(|i| {
            let k = f32::from(i);
            let servo = ServoRecord {
                angle: [0.0, 180.0],
                pulse_us: [500.0, 2500.0],
            };
            let timer = TimerRecord {
                frame_hz: 50.0,
                counts: 4096,
            };
            let (command, drive) = ([-0.5 * k, 150.0 + k], [5.0 + k, 80.0 + 4.0 * k]);
            let mut record = JointRecord::new(command, drive, 60.0, servo, timer);
            record.inverted = i % 3 == 1;
            record.travel = Some([7.3 + k, 78.0 + 4.0 * k]);
            record.rate_per_s = Some(60.0 + k);
            (3 * i, Joint::new(record).unwrap())
        })
        .collect()
}

pub(crate) fn image() -> Vec<u8> {
    let joints = joints();
    let joints: Vec<(u16, &Joint<f32>)> = joints.iter().map(|(channel, joint)| (*channel, joint)).collect();
    to_vec(&joints).unwrap()
}
