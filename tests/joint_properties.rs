//! What holds for every joint and every number given to it, over the whole of `f32` and `f64`.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use elbowroom::{Clamped, ConvertError, Joint, JointRecord, Real, ServoRecord, TimerRecord};
use proptest::prelude::*;

/// A joint from draws of 0 to 1; `None` where the draw is no joint.
fn joint<T: Real>(draw: [f64; 12], timer: u32, inverted: bool) -> Option<Joint<T>> {
    let w = T::from_wide;
    let [c0, cw, d0, d1, t0, t1, rest, a0, aw, p0, pw, hz] = draw;
    let scale = [1e-3, 1.0, 360.0, 1e6][(c0 * 97.0) as usize % 4];
    let command = [w((c0 - 0.5) * scale), w((c0 - 0.5) * scale + (cw + 0.01) * scale)];
    let (angle_low, angle_width) = ((a0 - 0.5) * 360.0, 60.0 + aw * 300.0);
    let angle = |part: f64| w(angle_low + angle_width * part);
    let servo = ServoRecord {
        angle: [w(angle_low), w(angle_low + angle_width)],
        pulse_us: [w(400.0 + 600.0 * p0), w(1200.0 + 1300.0 * pw)],
    };
    let timer = TimerRecord {
        frame_hz: w(40.0 + 300.0 * hz),
        counts_per_frame: timer,
    };
    let drive = [angle(0.6 * d0), angle(0.6 * d0 + 0.1 + 0.3 * d1)];
    let mut record = JointRecord::new(command, drive, command[0], servo, timer);
    record.travel = Some([angle(0.6 * t0), angle(0.6 * t0 + 0.1 + 0.3 * t1)]);
    record.rest = command[0] + (command[1] - command[0]) * w(rest);
    record.inverted = inverted;
    Joint::new(record).ok()
}

macro_rules! properties {
    ($module:ident, $t:ident) => {
        mod $module {
            use super::*;

            fn command(joint: &Joint<$t>, part: $t) -> $t {
                let range = joint.command_range();
                range.lower() + part * range.width()
            }

            proptest! {
                #![proptest_config(ProptestConfig::with_cases(10_000))]

                #[test]
                fn a_count_never_commands_an_angle_outside_the_travel(
                    draw: [u16; 12], timer in 50u32..100_000, inverted: bool, part in -0.2..1.2 as $t
                ) {
                    let draw = draw.map(|bits| f64::from(bits) / 65_536.0);
                    let Some(joint) = joint::<$t>(draw, timer, inverted) else { return Ok(()) };
                    let count = joint.counts(command(&joint, part)).unwrap().value;
                    let angle = joint.servo().angle(joint.timer().pulse_us(count));
                    prop_assert!(joint.travel().contains(angle), "{count}: {angle} of {joint:?}");
                    let [lowest, highest] = joint.count_range();
                    for outside in [lowest.checked_sub(1), Some(highest + 1)].into_iter().flatten() {
                        let angle = joint.servo().angle(joint.timer().pulse_us(outside));
                        prop_assert!(!joint.travel().contains(angle), "{outside} would do too: {joint:?}");
                    }
                }

                #[test]
                fn neighbours_keep_their_order_through_the_whole_chain(
                    draw: [u16; 12], timer in 50u32..100_000, inverted: bool, part in -0.2..1.2 as $t
                ) {
                    let draw = draw.map(|bits| f64::from(bits) / 65_536.0);
                    let Some(joint) = joint::<$t>(draw, timer, inverted) else { return Ok(()) };
                    let travel = joint.travel();
                    for x in [command(&joint, part), joint.command_range().lower(), joint.command_range().upper()] {
                        let (mut low, mut high) = (x, x.next_up());
                        if inverted {
                            core::mem::swap(&mut low, &mut high);
                        }
                        prop_assert!(joint.drive(low).unwrap().value <= joint.drive(high).unwrap().value);
                        prop_assert!(joint.pulse_us(low).unwrap().value <= joint.pulse_us(high).unwrap().value);
                        prop_assert!(joint.counts(low).unwrap().value <= joint.counts(high).unwrap().value);
                        prop_assert!(travel.contains(joint.drive(x).unwrap().value));
                    }
                }

                #[test]
                fn what_held_a_command_back_is_said_exactly(
                    draw: [u16; 12], inverted: bool, x in proptest::num::$t::ANY
                ) {
                    let draw = draw.map(|bits| f64::from(bits) / 65_536.0);
                    let Some(joint) = joint::<$t>(draw, 4096, inverted) else { return Ok(()) };
                    match joint.drive(x) {
                        Err(ConvertError::NotFinite { .. }) => prop_assert!(!x.is_finite()),
                        Err(other) => prop_assert!(false, "{other}"),
                        Ok(drive) => {
                            let inside = joint.command_range().clamp(x);
                            let free = joint.transmission().drive(inside);
                            let expected = Clamped { command: inside != x, travel: !joint.travel().contains(free) };
                            prop_assert_eq!(drive.clamped, expected);
                            if !expected.travel {
                                prop_assert_eq!(drive.value, free);
                            }
                        }
                    }
                }

                #[test]
                fn the_way_back_finds_the_command_again(
                    draw: [u16; 12], inverted: bool, part in 0.0..1.0 as $t
                ) {
                    let draw = draw.map(|bits| f64::from(bits) / 65_536.0);
                    let Some(joint) = joint::<$t>(draw, 4096, inverted) else { return Ok(()) };
                    let x = joint.command_range().clamp(command(&joint, part));
                    let drive = joint.drive(x).unwrap();
                    if !drive.clamped.any() {
                        // Roundings of angles up to 540 deg and pulses up to 2500 us, through the narrowest ranges drawn.
                        let range = joint.command_range();
                        let size = range.width() * 400.0 + range.lower().abs() + range.upper().abs();
                        let bound = 16.0 * $t::EPSILON * size;
                        prop_assert!((joint.command_from_drive(drive.value) - x).abs() <= bound);
                        let pulse = joint.pulse_us(x).unwrap().value;
                        prop_assert!((joint.command_from_pulse_us(pulse) - x).abs() <= bound);
                    }
                }
            }
        }
    };
}
properties!(in_f32, f32);
properties!(in_f64, f64);

#[cfg(feature = "serde")]
mod written_and_read {
    use super::*;

    proptest! {
        #[test]
        fn json_brings_back_every_bit(draw: [u16; 12], timer in 50u32..100_000, inverted: bool) {
            let draw = draw.map(|bits| f64::from(bits) / 65_536.0);
            let Some(joint) = joint::<f64>(draw, timer, inverted) else { return Ok(()) };
            let text = serde_json::to_string(&joint).unwrap();
            prop_assert_eq!(serde_json::from_str::<Joint<f64>>(&text).unwrap(), joint);
        }
    }

    /// A checked type is never read past its check.
    #[test]
    fn an_invalid_record_is_refused_while_reading() {
        let draw = [0.5; 12];
        let good = serde_json::to_value(joint::<f64>(draw, 4096, false).unwrap()).unwrap();
        assert!(serde_json::from_value::<Joint<f64>>(good.clone()).is_ok());
        for (key, value) in [
            ("command", serde_json::json!([1.0, 0.0])),
            ("rest", serde_json::json!(1e9)),
            ("sped", serde_json::json!(1)),
        ] {
            let mut bad = good.clone();
            bad[key] = value;
            assert!(serde_json::from_value::<Joint<f64>>(bad).is_err(), "{key}");
        }
    }
}

/// Properties over joints that nearly all are refused would show little.
#[test]
fn most_draws_are_joints() {
    let mut state = 7u64;
    let mut draw = || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 48) as f64 / 65_536.0
    };
    let made = (0..1000)
        .filter(|_| joint::<f64>(std::array::from_fn(|_| draw()), 4096, false).is_some())
        .count();
    assert!(made > 500, "{made} of 1000");
}
