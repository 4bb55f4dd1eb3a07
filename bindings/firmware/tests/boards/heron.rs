//! An invented heron: the sixteen joints of one board.

use model::block::to_vec;
use model::{FeedbackRecord, Joint, JointRecord, ServoRecord, TimerRecord, TransmissionRecord};

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
                counts_per_frame: 4096,
            };
            let (command, drive) = ([-0.5 * k, 150.0 + k], [5.0 + k, 80.0 + 4.0 * k]);
            let mut record = JointRecord::new(command, drive, 60.0, servo, timer);
            record.inverted = i % 3 == 1;
            record.travel = Some([7.3 + k, 78.0 + 4.0 * k]);
            record.max_rate_per_s = Some(60.0 + k);
            let mut feedback = FeedbackRecord::new([200.0 + k, 900.0 - k], [0.0, 95.0 + k]);
            feedback.inverted = i % 4 == 2;
            record.feedback = Some(feedback);
            (3 * i, Joint::new(record).unwrap())
        })
        .collect()
}

pub(crate) fn image() -> Vec<u8> {
    block_of(joints())
}

/// The same joints, each with a curve of nine knots, and one of five for its feedback.
pub(crate) fn curved_image() -> Vec<u8> {
    let curved = |joint: Joint<f32>| {
        let mut record = joint.record();
        let [[c0, c1], [d0, d1]] = [record.command, record.drive];
        let knot = |k: u8| {
            let t = f32::from(k) / 8.0;
            let bent = 0.4 * t + 0.6 * t * t;
            let drive = if record.inverted {
                d1 + bent * (d0 - d1)
            } else {
                d0 + bent * (d1 - d0)
            };
            [c0 + t * (c1 - c0), drive]
        };
        let mut knots: Vec<[f32; 2]> = (0..=8).map(knot).collect();
        let ends = if record.inverted { [d1, d0] } else { [d0, d1] };
        (knots[0], knots[8]) = ([c0, ends[0]], [c1, ends[1]]);
        let rule = model::curve::SlopeRule::Parabola;
        record.transmission = TransmissionRecord::Curve { knots, rule };
        if let Some(feedback) = &mut record.feedback {
            let [[r0, r1], [a0, a1]] = [feedback.reading, feedback.angle];
            let angles = if feedback.inverted { [a1, a0] } else { [a0, a1] };
            let knot = |k: u8| {
                let t = f32::from(k) / 4.0;
                let bent = t + 0.3 * t * (1.0 - t);
                [r0 + t * (r1 - r0), angles[0] + bent * (angles[1] - angles[0])]
            };
            let mut knots: Vec<[f32; 2]> = (0..=4).map(knot).collect();
            (knots[0], knots[4]) = ([r0, angles[0]], [r1, angles[1]]);
            feedback.knots = Some(knots);
        }
        Joint::new(record).unwrap()
    };
    block_of(
        joints()
            .into_iter()
            .map(|(channel, joint)| (channel, curved(joint)))
            .collect(),
    )
}

fn block_of(joints: Vec<(u16, Joint<f32>)>) -> Vec<u8> {
    let joints: Vec<(u16, &Joint<f32>)> = joints.iter().map(|(channel, joint)| (*channel, joint)).collect();
    to_vec(&joints).unwrap()
}

/// The one joint of the examples: `wing_left` on channel 3.
pub(crate) fn wing_left() -> Joint<f32> {
    let servo = ServoRecord {
        angle: [0.0, 180.0],
        pulse_us: [500.0, 2500.0],
    };
    let timer = TimerRecord {
        frame_hz: 50.0,
        counts_per_frame: 4096,
    };
    let mut record = JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer);
    record.travel = Some([40.2, 119.0]);
    record.max_rate_per_s = Some(60.0);
    record.feedback = Some(FeedbackRecord::new([212.0, 871.0], [-40.0, 60.0]));
    Joint::new(record).unwrap()
}
