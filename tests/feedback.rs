//! Feedback maps, alone and in a joint.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::{
    Code, ConvertError, Feedback, FeedbackError, FeedbackRecord, Joint, JointError, JointRecord, ReadingState, Real,
    ServoRecord, TimerRecord,
};
use proptest::num::f64::ANY;
use proptest::prelude::*;

fn record() -> FeedbackRecord<f64> {
    let mut record = FeedbackRecord::new([212.0, 871.0], [0.0, 95.0]);
    record.adc_bits = Some(10);
    record
}

fn refused(change: impl Fn(&mut FeedbackRecord<f64>)) -> JointError {
    let mut record = record();
    change(&mut record);
    Feedback::new(&record).unwrap_err()
}

#[test]
fn falling_readings_are_inverted() {
    let mut falling = record();
    falling.inverted = true;
    let feedback = Feedback::new(&falling).unwrap();
    assert_eq!((feedback.angle(212.0), feedback.angle(871.0)), (95.0, 0.0));
    assert_eq!((feedback.reading(95.0), feedback.reading(0.0)), (212.0, 871.0));
    assert!(feedback.angle_per_reading(300.0) < 0.0);
    assert!(feedback.direction().is_inverted());
    assert_eq!(feedback.record(), &falling);
    // Beyond the ends: news, not noise.
    assert!(feedback.angle(200.0) > 95.0 && feedback.angle(900.0) < 0.0);
    assert!(feedback.angle(f64::NAN).is_nan() && feedback.reading(f64::NAN).is_nan());
}

#[test]
fn the_load_of_the_input_is_taken_out() {
    // A divider solved by Ohm's law: upper part against lower part beside the input.
    let (pot, input, full) = (10e3, 47e3, 4096.0);
    let reading = |wiper: f64| {
        let (upper, lower) = ((1.0 - wiper) * pot, wiper * pot);
        let beside = lower * input / (lower + input);
        beside / (upper + beside) * full
    };
    let mut record = FeedbackRecord::new([reading(0.1), reading(0.9)], [-40.0, 40.0]);
    record.adc_bits = Some(12);
    record.pot_ohm = Some(pot);
    record.load_ohm = Some(input);
    let (loaded, plain) = (Feedback::new(&record).unwrap(), {
        record.pot_ohm = None;
        record.load_ohm = None;
        Feedback::new(&record).unwrap()
    });
    let mut worst = 0.0f64;
    for percent in 10..=90 {
        let wiper = f64::from(percent) / 100.0;
        let angle = (wiper - 0.5) * 100.0;
        assert!((loaded.angle(reading(wiper)) - angle).abs() < 1e-9, "{wiper}");
        assert!((loaded.reading(angle) - reading(wiper)).abs() < 1e-9 * full);
        worst = worst.max((plain.angle(reading(wiper)) - angle).abs());
    }
    // What ignoring it would cost: nearly 2 deg of 80.
    assert!(worst > 1.5 && worst < 2.5, "{worst}");
    // A light load is next to none.
    record.pot_ohm = Some(1.0);
    record.load_ohm = Some(1e9);
    let light = Feedback::new(&record).unwrap();
    assert!((light.angle(2000.0) - plain.angle(2000.0)).abs() < 1e-6);
    // Slope against differences.
    let difference = (loaded.angle(2001.0) - loaded.angle(1999.0)) / 2.0;
    assert!((loaded.angle_per_reading(2000.0) - difference).abs() < 1e-6 * difference);
}

#[test]
fn curves_serve_uneven_sensors() {
    let mut curved = record();
    curved.knots = Some(vec![[212.0, 0.0], [400.0, 20.0], [700.0, 77.0], [871.0, 95.0]]);
    let feedback = Feedback::new(&curved).unwrap();
    for knot in curved.knots.as_deref().unwrap() {
        assert_eq!(feedback.angle(knot[0]), knot[1]);
        assert_eq!(feedback.reading(knot[1]), knot[0]);
    }
    assert!(feedback.angle_per_reading(500.0) > 0.0);
    curved.knots = Some(vec![[212.0, 0.0], [871.0, 94.0]]);
    assert!(matches!(
        Feedback::new(&curved).unwrap_err(),
        JointError::Feedback(FeedbackError::CurveEnd { which: "last", .. })
    ));
    curved.knots = Some(vec![[212.0, 0.0], [300.0, -1.0], [871.0, 95.0]]);
    assert!(matches!(
        Feedback::new(&curved).unwrap_err(),
        JointError::Feedback(FeedbackError::Curve(_))
    ));
}

#[test]
fn broken_wires_show_at_the_rails() {
    let feedback = Feedback::new(&record()).unwrap();
    let cases = [
        (0.0, ReadingState::LowerRail),
        (3.0, ReadingState::LowerRail),
        (5.0, ReadingState::Outside),
        (211.9, ReadingState::Outside),
        (212.0, ReadingState::Inside),
        (871.0, ReadingState::Inside),
        (1000.0, ReadingState::Outside),
        (1020.0, ReadingState::UpperRail),
        (1023.0, ReadingState::UpperRail),
        (1024.0, ReadingState::Impossible),
        (-1.0, ReadingState::Impossible),
        (f64::NAN, ReadingState::Impossible),
        (f64::INFINITY, ReadingState::Impossible),
    ];
    for (reading, state) in cases {
        assert_eq!(feedback.state(reading), state, "{reading}");
    }
    assert_eq!(feedback.detects_wire_faults(), [true, true]);
    assert_eq!(feedback.adc_bits(), Some(10));
    assert_eq!(feedback.converter_range(), Some([0.0, 1023.0]));
    // The rails are where the state changes.
    let [low, high] = feedback.rails().unwrap();
    for (reading, state) in [
        (low, ReadingState::LowerRail),
        (low.next_up(), ReadingState::Outside),
        (high.next_down(), ReadingState::Outside),
        (high, ReadingState::UpperRail),
    ] {
        assert_eq!(feedback.state(reading), state, "{reading}");
    }
    // A map that reaches a rail cannot tell it from a position, and says so.
    let mut whole = record();
    whole.reading = [0.0, 871.0];
    let whole = Feedback::new(&whole).unwrap();
    assert_eq!(whole.detects_wire_faults(), [false, true]);
    assert_eq!(whole.state(0.0), ReadingState::Inside);
    // One count short of it is not enough: a rail is the outermost 1/256, 0 to 3 and 1020 to 1023 of 10 bits.
    for (reading, sees) in [
        ([1.0, 871.0], [false, true]),
        ([3.0, 1019.0], [false, true]),
        ([4.0, 1019.0], [true, true]),
        ([4.0, 1020.0], [true, false]),
        ([3.0, 1022.0], [false, false]),
    ] {
        let mut record = record();
        record.reading = reading;
        assert_eq!(
            Feedback::new(&record).unwrap().detects_wire_faults(),
            sees,
            "{reading:?}"
        );
    }
    // Without the converter's bits nothing is known of rails.
    let plain = Feedback::new(&FeedbackRecord::new([212.0, 871.0], [0.0, 95.0])).unwrap();
    assert_eq!(plain.detects_wire_faults(), [false, false]);
    assert_eq!((plain.converter_range(), plain.rails()), (None, None));
    assert_eq!(plain.state(0.0), ReadingState::Outside);
}

/// What `detects_wire_faults` promises is what `state` does, at every reading of either rail and at the rail's own end.
fn sees_what_state_tells<T: Real>(bits: u8) {
    let most = f64::from((1u32 << bits) - 1);
    let of = T::from_wide;
    let near = |end: f64| (-14..=14).map(move |n| end + f64::from(n) / 2.0);
    let (low, high) = (most / 256.0, most - most / 256.0);
    let ends = || {
        let all = near(0.0).chain(near(most)).chain([low, high]);
        all.filter(move |x| (0.0..=most).contains(x))
    };
    let whole = || (0..=1 << bits).map(f64::from);
    for (lower, upper) in ends().flat_map(|lower| ends().map(move |upper| (lower, upper))) {
        let mut record = FeedbackRecord::new([of(lower), of(upper)], [of(0.0), of(95.0)]);
        record.adc_bits = Some(bits);
        let Ok(feedback) = Feedback::new(&record) else {
            assert!(lower >= upper);
            continue;
        };
        let state = |x: f64| feedback.state(of(x));
        let mut lower_rail = whole().take_while(|x| *x <= low).chain([low]);
        let mut upper_rail = whole().filter(|x| (high..=most).contains(x)).chain([high]);
        let told = [
            lower_rail.all(|x| state(x) == ReadingState::LowerRail),
            upper_rail.all(|x| state(x) == ReadingState::UpperRail),
        ];
        assert_eq!(feedback.detects_wire_faults(), told, "{bits} bits: {lower} to {upper}");
    }
}

#[test]
fn what_a_map_sees_is_what_its_states_tell() {
    for bits in 1..=11 {
        sees_what_state_tells::<f64>(bits);
        sees_what_state_tells::<f32>(bits);
    }
}

#[test]
fn sensors_that_wrap_inside_the_travel_are_refused() {
    // A 12-bit magnetic sensor on the axis: 1024 counts are 90 deg.
    let turn = |reading: [f64; 2], angle: f64| {
        let mut record = FeedbackRecord::new(reading, [0.0, angle]);
        record.adc_bits = Some(12);
        record.wrap_deg = Some(360.0);
        Feedback::new(&record)
    };
    assert!(turn([1000.0, 2024.0], 90.0).is_ok());
    assert!(turn([1000.0, 2024.0], 93.0).is_ok());
    // From 300 down through 0 to 3372: 90 deg too, but the readings between are 270 deg.
    let error = turn([300.0, 3372.0], 90.0).unwrap_err();
    assert_eq!(error.code(), Code::FeedbackInvalid);
    assert!(
        error
            .to_string()
            .starts_with("the sensor wraps around inside the travel: readings 300 to 3372 are 270.0 deg")
    );
    // Near half a turn both ways fit, and nobody can tell for sure.
    assert!(turn([900.0, 2948.0], 180.0).is_ok());
    assert_eq!(
        turn([900.0, 2990.0], 176.0).unwrap_err().to_string(),
        "the sensor may wrap around inside the travel: readings 900 to 2990 are 183.7 deg of its turn one way and \
         176.3 the other, and the angles span 176 deg; measure the angles more exactly, or turn the sensor on its axis until both \
         ends lie on one side of the jump"
    );
    assert!(turn([900.0, 2990.0], 183.0).is_ok());
    assert!(matches!(
        turn([1000.0, 2024.0], 60.0).unwrap_err(),
        JointError::Feedback(FeedbackError::WrapInvalid { .. })
    ));
    assert!(matches!(
        turn([0.0, 4095.0], 400.0).unwrap_err(),
        JointError::Feedback(FeedbackError::WrapInside { .. })
    ));
}

#[test]
fn supplies_that_move_are_taken_out() {
    let mut record = record();
    let ratiometric = Feedback::new(&record).unwrap();
    assert_eq!(ratiometric.at_supply(500.0, 4.7), 500.0);
    record.supply_v = Some(5.0);
    let fixed = Feedback::new(&record).unwrap();
    assert_eq!(fixed.at_supply(500.0, 5.0), 500.0);
    assert_eq!(fixed.at_supply(400.0, 4.0), 500.0);
    assert!(fixed.at_supply(f64::NAN, 4.0).is_nan());
}

#[test]
fn what_does_not_go_together_is_refused() {
    type Error = FeedbackError;
    let of = |change: &dyn Fn(&mut FeedbackRecord<f64>)| match refused(change) {
        JointError::Feedback(error) => error,
        other => panic!("{other}"),
    };
    assert_eq!(of(&|r| r.adc_bits = Some(0)), Error::BitsOutside { bits: 0 });
    assert_eq!(of(&|r| r.adc_bits = Some(25)), Error::BitsOutside { bits: 25 });
    assert_eq!(
        of(&|r| r.adc_bits = Some(9)),
        Error::ReadingOutside {
            value: 871.0,
            most: 511.0,
            bits: 9
        }
    );
    assert_eq!(
        of(&|r| r.pot_ohm = Some(1e4)),
        Error::Missing {
            given: "pot_ohm",
            missing: "load_ohm"
        }
    );
    assert_eq!(
        of(&|r| r.load_ohm = Some(1e4)),
        Error::Missing {
            given: "load_ohm",
            missing: "pot_ohm"
        }
    );
    assert_eq!(
        of(&|r| (r.adc_bits, r.wrap_deg) = (None, Some(360.0))),
        Error::Missing {
            given: "wrap_deg",
            missing: "adc_bits"
        }
    );
    assert_eq!(
        of(&|r| (r.adc_bits, r.pot_ohm, r.load_ohm) = (None, Some(1e4), Some(1e5))),
        Error::Missing {
            given: "pot_ohm",
            missing: "adc_bits"
        }
    );
    assert_eq!(
        of(&|r| (r.pot_ohm, r.load_ohm) = (Some(1e6), Some(1e3))),
        Error::LoadTooHeavy {
            pot_ohm: 1e6,
            load_ohm: 1e3
        }
    );
    assert_eq!(
        of(&|r| (r.pot_ohm, r.load_ohm, r.knots) = (Some(1e4), Some(1e5), Some(vec![]))),
        Error::Both {
            one: "knots",
            other: "pot_ohm"
        }
    );
    assert_eq!(refused(|r| r.reading = [871.0, 212.0]).code(), Code::EndsSwapped);
    assert_eq!(refused(|r| r.supply_v = Some(0.0)).code(), Code::NotPositive);
    assert_eq!(refused(|r| r.wrap_deg = Some(f64::NAN)).code(), Code::NotFinite);
    assert!(
        refused(|r| r.angle = [1.0, 1.0])
            .to_string()
            .starts_with("feedback.angle")
    );
}

fn joint(feedback: Option<FeedbackRecord<f64>>) -> Joint<f64> {
    let servo = ServoRecord {
        angle: [0.0, 180.0],
        pulse_us: [500.0, 2500.0],
    };
    let timer = TimerRecord {
        frame_hz: 50.0,
        counts_per_frame: 4096,
    };
    let mut record = JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer);
    record.feedback = feedback;
    Joint::new(record).unwrap()
}

#[test]
fn a_joint_reads_its_command_back() {
    let with = joint(Some(record()));
    assert_eq!(with.angle_from_reading(541.5), Ok(47.5));
    assert_eq!(with.command_from_reading(212.0), Ok(-40.0));
    assert_eq!(with.command_from_reading(541.5), Ok(10.0));
    assert_eq!(with.reading_from_command(60.0), Ok(871.0));
    assert_eq!(with.reading_state(2.0), Ok(ReadingState::LowerRail));
    assert_eq!(with.angle_per_reading(500.0), Ok(95.0 / 659.0));
    assert!(with.angle_per_reading(f64::NAN).unwrap().is_nan());
    assert_eq!(with.detects_wire_faults(), Ok([true, true]));
    let mut low = record();
    (low.reading[0], low.inverted) = (3.0, true);
    assert_eq!(joint(Some(low.clone())).detects_wire_faults(), Ok([false, true]));
    assert_eq!(joint(Some(low)).angle_per_reading(500.0), Ok(-95.0 / 868.0));
    assert!(with.command_from_reading(900.0).unwrap() > 60.0);
    assert!(with.command_from_reading(f64::NAN).unwrap().is_nan());
    assert_eq!(with.feedback().unwrap().angle_range().ends(), [0.0, 95.0]);
    assert_eq!(with.feedback().unwrap().reading_range().ends(), [212.0, 871.0]);
    assert_eq!(Joint::new(with.record()).unwrap(), with);
    let without = joint(None);
    assert_eq!(without.angle_from_reading(1.0), Err(ConvertError::NoFeedback));
    assert_eq!(without.angle_per_reading(1.0), Err(ConvertError::NoFeedback));
    assert_eq!(without.detects_wire_faults(), Err(ConvertError::NoFeedback));
    assert_eq!(without.reading_state(1.0).unwrap_err().code(), Code::NoFeedback);
}

fn any_map() -> impl Strategy<Value = FeedbackRecord<f64>> {
    let span = (0.0..500.0f64, 600.0..1023.0f64, -100.0..0.0f64, 1.0..200.0f64);
    (
        span,
        any::<bool>(),
        0..3u8,
        0.01..50.0f64,
        prop::collection::vec((0.01..1.0f64, 0.01..1.0f64), 0..6),
    )
        .prop_map(|((r0, r1, a0, a1), inverted, kind, load, steps)| {
            let mut record = FeedbackRecord::new([r0, r1], [a0, a1]);
            record.inverted = inverted;
            record.adc_bits = Some(10);
            if kind == 1 {
                record.pot_ohm = Some(1e4 * load);
                record.load_ohm = Some(1e4);
            } else if kind == 2 {
                let (first, last) = if inverted { (a1, a0) } else { (a0, a1) };
                let total = steps.iter().fold((0.01, 0.01), |(x, y), s| (x + s.0, y + s.1));
                let mut knots = vec![[r0, first]];
                let (mut x, mut y) = (0.0, 0.0);
                for step in steps {
                    (x, y) = (x + step.0, y + step.1);
                    knots.push([r0 + (r1 - r0) * x / total.0, first + (last - first) * y / total.1]);
                }
                knots.push([r1, last]);
                record.knots = Some(knots);
            }
            record
        })
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(1000) })]

    #[test]
    fn every_map_is_exact_monotone_and_undone(record in any_map(), at in -0.2..1.2f64) {
        let feedback = Feedback::new(&record).unwrap();
        for nan in [feedback.angle(f64::NAN), feedback.reading(f64::NAN), feedback.angle_per_reading(f64::NAN)] {
            prop_assert!(nan.is_nan());
        }
        let ([r0, r1], [a0, a1]) = (record.reading, record.angle);
        let ends = if record.inverted { [a1, a0] } else { [a0, a1] };
        prop_assert_eq!([feedback.angle(r0), feedback.angle(r1)], ends);
        prop_assert_eq!([feedback.reading(ends[0]), feedback.reading(ends[1])], [r0, r1]);
        let sign = if record.inverted { -1.0 } else { 1.0 };
        let (mut reading, mut angle) = (r0 + at * (r1 - r0), a0 + at * (a1 - a0));
        for _ in 0..50 {
            prop_assert!(feedback.angle(reading) * sign <= feedback.angle(reading.next_up()) * sign);
            prop_assert!(feedback.reading(angle) * sign <= feedback.reading(angle.next_up()) * sign);
            (reading, angle) = (reading.next_up(), angle.next_up());
        }
        // Beyond its ends a map goes straight on, as steeply as it says.
        for (end, beyond) in [(r0, r0 - 0.3 * (r1 - r0)), (r1, r1 + 0.3 * (r1 - r0))] {
            let rise = feedback.angle(beyond) - feedback.angle(end);
            let told = feedback.angle_per_reading(beyond) * (beyond - end);
            prop_assert!(
                (rise - told).abs() <= 1e-12 * (a0.abs() + a1.abs() + rise.abs()),
                "{rise}, told {told}"
            );
        }
        let back = feedback.reading(feedback.angle(reading));
        let hidden = 1e-13 * (a1 - a0).max(a1.abs()).max(a0.abs()) / feedback.angle_per_reading(reading).abs();
        prop_assert!((back - reading).abs() <= 1e-11 * (r1 - r0) + hidden, "{back} for {reading}");
    }

    #[test]
    fn no_numbers_panic(n in prop::array::uniform8(ANY), knots in prop::collection::vec([ANY, ANY], 0..5), ends: bool, inverted: bool, bits in any::<Option<u8>>(), some in any::<[bool; 4]>(), x in ANY) {
        let mut record = FeedbackRecord::new([n[0], n[1]], [n[2], n[3]]);
        record.inverted = inverted;
        record.adc_bits = bits;
        record.wrap_deg = some[0].then_some(n[4]);
        record.pot_ohm = some[1].then_some(n[5]);
        record.load_ohm = some[1].then_some(n[6]);
        record.supply_v = some[2].then_some(n[7]);
        if some[3] {
            let mut knots = knots;
            // Ends that do fit, so that more than the check of them is reached.
            if ends {
                let (first, last) = if inverted { (n[3], n[2]) } else { (n[2], n[3]) };
                knots.insert(0, [n[0], first]);
                knots.push([n[1], last]);
                knots.sort_by(|a, b| a[0].total_cmp(&b[0]));
            }
            record.knots = Some(knots);
        }
        match Feedback::new(&record) {
            Ok(feedback) => {
                let _ = (feedback.angle(x), feedback.reading(x), feedback.state(x), feedback.at_supply(x, n[0]));
                let _ = (feedback.angle_per_reading(x), feedback.detects_wire_faults());
                prop_assert!(n[..4].iter().all(|n| n.is_finite()), "{record:?}");
                for nan in [feedback.angle(f64::NAN), feedback.reading(f64::NAN), feedback.angle_per_reading(f64::NAN)] {
                    prop_assert!(nan.is_nan());
                }
            }
            Err(error) => prop_assert!(!error.to_string().contains('\n')),
        }
    }
}
