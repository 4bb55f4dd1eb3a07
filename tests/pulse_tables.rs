//! Pulse widths, counts and range maps against exact rational tables.
//!
//! Source: tests/data/pulse, exact arithmetic on customary figures of the trade ("common practice, no source"); see
//! tests/data/README.md.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use elbowroom::{Direction, Joint, JointRecord, LinearMap, ServoRecord, Span, Timer, TimerRecord};
use std::collections::HashMap;

type Row = HashMap<String, String>;

fn rows(name: &str) -> Vec<Row> {
    let path = format!("{}/tests/data/pulse/{name}", env!("CARGO_MANIFEST_DIR"));
    let rows: Vec<Row> = csv::Reader::from_path(path)
        .unwrap()
        .deserialize()
        .map(Result::unwrap)
        .collect();
    assert!(rows.len() >= 15);
    rows
}

fn num(row: &Row, key: &str) -> f64 {
    row[key].parse().unwrap()
}

fn ratio(row: &Row, key: &str) -> f64 {
    num(row, &format!("{key}_num")) / num(row, &format!("{key}_den"))
}

/// Four units in the last place, as the tables' README calls fair for doubles.
fn assert_close(got: f64, want: f64, row: &Row) {
    assert!(
        (got - want).abs() <= 4.0 * f64::EPSILON * want.abs(),
        "{got:e} for {want:e} in {row:?}"
    );
}

#[test]
fn microseconds_to_counts() {
    let mut ties = 0;
    for row in rows("us_to_ticks.csv") {
        let counts = 20_000.0 / ratio(&row, "tick_us");
        assert_eq!(counts.fract(), 0.0, "every timer of the table divides a 20 ms frame");
        let timer = Timer::new(50.0, counts as u32).unwrap();
        let want: u32 = row["ticks_half_away"].parse().unwrap();
        let got = timer.nearest_count(num(&row, "us"));
        // A tie that no double can show may fall to either side.
        let hidden_tie = row["is_tie"] == "1" && row["us_exact_in_double"] == "0";
        assert!(got == want || hidden_tie && got + 1 == want, "{got} for {row:?}");
        assert_close(timer.pulse_us(want), ratio(&row, "back_us"), &row);
        ties += usize::from(row["is_tie"] == "1" && !hidden_tie);
    }
    assert!(ties > 20);
}

#[test]
fn frames_in_counts() {
    for row in rows("frame_ticks.csv") {
        // Any frame does: only counts per second matter here, and these are exact.
        let counts_per_s = num(&row, "clock_hz") / num(&row, "prescale");
        let timer = Timer::new(counts_per_s / 65_536.0, 65_536).unwrap();
        let want: u32 = row["frame_ticks_half_away"].parse().unwrap();
        assert_eq!(timer.nearest_count(num(&row, "frame_us")), want, "{row:?}");
    }
}

#[test]
fn range_maps() {
    for row in rows("range_map.csv") {
        let [in_lo, in_hi, out_lo, out_hi, x] = ["in_lo", "in_hi", "out_lo", "out_hi", "x"].map(|key| num(&row, key));
        let sorted = |a: f64, b: f64| Span::new("table", [a.min(b), a.max(b)]).unwrap();
        let direction = Direction::from_inverted((in_lo > in_hi) != (out_lo > out_hi));
        let map = LinearMap::new(sorted(in_lo, in_hi), sorted(out_lo, out_hi), direction);

        let y = map.apply(x);
        let clamped = map.to().clamp(y);
        // Below the width of the range an absolute measure is the fair one: y may be a difference that nears zero.
        let (want, unit) = (ratio(&row, "y"), 4.0 * f64::EPSILON * out_lo.abs().max(out_hi.abs()));
        assert!(
            (y - want).abs() <= unit.max(4.0 * f64::EPSILON * want.abs()),
            "{y} for {row:?}"
        );
        assert!(
            (clamped - num(&row, "y_clamped")).abs() <= unit,
            "{clamped} for {row:?}"
        );
        let back_unit = 4.0 * f64::EPSILON * in_lo.abs().max(in_hi.abs());
        assert!(
            (map.reversed().apply(clamped) - ratio(&row, "back")).abs() <= back_unit,
            "{row:?}"
        );
        if row["x_exact_in_double"] == "1" {
            assert_eq!(clamped.round(), num(&row, "y_clamped_half_away"), "{row:?}");
        }
    }
}

/// Common practice, no source: the customary ranges, through a whole joint.
#[test]
fn customary_pulses() {
    for [low, middle, high] in [[1000.0, 1500.0, 2000.0], [500.0, 1500.0, 2500.0]] {
        let servo = ServoRecord {
            angle: [0.0, 180.0],
            pulse_us: [low, high],
        };
        let timer = TimerRecord {
            frame_hz: 50.0,
            counts_per_frame: 20_000,
        };
        let joint = Joint::new(JointRecord::new([-1.0, 1.0], [0.0, 180.0], 0.0, servo, timer)).unwrap();
        for (command, pulse) in [(-1.0, low), (0.0, middle), (1.0, high)] {
            assert_eq!(joint.pulse_us(command).unwrap().value, pulse);
            assert_eq!(f64::from(joint.counts(command).unwrap().value), pulse);
            assert_eq!(joint.command_from_pulse_us(pulse), command);
        }
    }
}
