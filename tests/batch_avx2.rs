//! The counts of a batch in AVX2 are those of the portable form, also where a command is refused.
#![cfg(target_arch = "x86_64")]
#![allow(clippy::unwrap_used)]

use elbowroom::{Joint, JointRecord, ServoRecord, TimerRecord};
use proptest::prelude::*;

fn record(counts_per_frame: u32) -> JointRecord<f64> {
    let servo = ServoRecord {
        angle: [0.0, 180.0],
        pulse_us: [500.0, 2500.0],
    };
    let timer = TimerRecord {
        frame_hz: 50.0,
        counts_per_frame,
    };
    JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer)
}

/// Mostly near the range; some exactly between two counts or a float beside it; a few that no block is certain of.
fn command() -> impl Strategy<Value = f64> {
    let between = |near: u32, ulps: i64| {
        let pulse_us = (f64::from(near) + 0.5) * 1e6 / (50.0 * 4096.0);
        let middle = Joint::new(record(4096)).unwrap().command_from_pulse_us(pulse_us);
        f64::from_bits(middle.to_bits().wrapping_add_signed(ulps))
    };
    prop_oneof![
        200 => -60.0..80.0,
        3 => (180_u32..390, -2_i64..3).prop_map(move |(near, ulps)| between(near, ulps)),
        1 => prop_oneof![Just(1e9), Just(-1e300), Just(-0.0), any::<f64>()],
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn the_portable_form_gives_the_same(
        commands in prop::collection::vec(command(), 0..300),
        inverted: bool,
        counts in prop::sample::select(vec![64_u32, 4096, 20_000, 65_536]),
    ) {
        if !(std::arch::is_x86_feature_detected!("avx2") && std::arch::is_x86_feature_detected!("fma")) {
            return Ok(());
        }
        let mut record = record(counts);
        record.inverted = inverted;
        let joint = Joint::new(record).unwrap();
        // What was there before stays behind a refused command.
        let [mut wide, mut portable] = [(); 2].map(|()| vec![9; commands.len()]);
        // SAFETY: asked above.
        let done = unsafe { joint.counts_batch_avx2(&commands, &mut wide) };
        let expected = joint.counts_batch_as(&commands, &mut portable);
        prop_assert_eq!(format!("{done:?}"), format!("{expected:?}"));
        prop_assert_eq!(wide, portable);
    }
}

#[test]
fn what_does_not_fit_is_refused() {
    let [joint, wide] = [4096, 1_000_000].map(|counts| Joint::new(record(counts)).unwrap());
    if std::arch::is_x86_feature_detected!("avx2") && std::arch::is_x86_feature_detected!("fma") {
        // SAFETY: asked above.
        let refused = unsafe {
            [
                wide.counts_batch_avx2(&[0.0], &mut [0]),
                joint.counts_batch_avx2(&[0.0], &mut [0; 2]),
            ]
        };
        let portable = [
            wide.counts_batch_as(&[0.0], &mut [0_u16]),
            joint.counts_batch_as(&[0.0], &mut [0_u16; 2]),
        ];
        assert_eq!(refused, portable);
        assert!(portable.iter().all(Result::is_err));
    }
}
