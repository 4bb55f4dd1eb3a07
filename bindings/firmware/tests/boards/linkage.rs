//! What a linkage costs where it is computed: on a computer, or in a Rust program on a board. A block holds none.

use model::linkage::Branch;
use model::{Joint, JointRecord, ServoRecord, TimerRecord, TransmissionRecord};
use std::hint::black_box;
use std::time::Instant;

/// Times of a straight joint that the README names, with room for other machines.
const LEAST_TIMES: f64 = 3.0;
const ROUNDS: u32 = 20;
const COMMANDS: u32 = 2_000;

/// The least of many rounds, ns for one command.
fn ns(joint: &Joint<f64>) -> f64 {
    let round = || {
        let start = Instant::now();
        for i in 0..COMMANDS {
            let command = -10.0 + f64::from(i) * (50.0 / f64::from(COMMANDS));
            black_box(joint.counts(black_box(command)).unwrap());
        }
        start.elapsed().as_secs_f64() * 1e9 / f64::from(COMMANDS)
    };
    (0..ROUNDS).map(|_| round()).fold(f64::INFINITY, f64::min)
}

fn joint(transmission: TransmissionRecord<f64>) -> Joint<f64> {
    let servo = ServoRecord {
        angle: [0.0, 180.0],
        pulse_us: [500.0, 2500.0],
    };
    let timer = TimerRecord {
        frame_hz: 50.0,
        counts_per_frame: 4096,
    };
    // Within reach of both linkages.
    let mut record = JointRecord::new([-10.0, 40.0], [37.0, 122.0], 10.0, servo, timer);
    record.transmission = transmission;
    Joint::new(record).unwrap()
}

pub(crate) fn run() {
    let straight = ns(&joint(TransmissionRecord::Linear {}));
    let triangle = TransmissionRecord::Triangle {
        base: 92.0,
        arm: 40.0,
        angle_at_zero: 71.0,
    };
    let four_bar = TransmissionRecord::FourBar {
        crank: 20.0,
        coupler: 60.0,
        rocker: 30.0,
        ground: 62.0,
        rocker_at_zero: 80.0,
        branch: Branch::Left,
    };
    for kind in [triangle, four_bar] {
        let name = kind.kind();
        let joint = joint(kind);
        let sampled = joint.for_block(3).unwrap();
        let curve = Joint::<f64>::new(sampled.joint.record().map(f64::from)).unwrap();
        let [linkage, curve] = [&joint, &curve].map(|joint| ns(joint) / straight);
        println!("{name}: {linkage:.0} times a straight joint, as a curve {curve:.1} times; straight {straight:.1} ns");
        assert!(
            linkage > LEAST_TIMES && curve < linkage,
            "{name}: {linkage:.1}, {curve:.1}"
        );
    }
}
