//! What options and plans begin with: every language must begin with the same numbers.

use elbowroom::bring_up::{AlignmentPlan, BenchPlan, SessionPlan};
use elbowroom::fit::{CompareOptions, FitOptions};
use std::fmt::Write;

fn all() -> Vec<(&'static str, f64)> {
    let fit = FitOptions::default();
    let compare = CompareOptions::default();
    let session = SessionPlan::new(90.0, [0.0, 180.0]);
    let bench = BenchPlan::new(90.0, [0.0, 180.0]);
    let flag = |value: bool| f64::from(u8::from(value));
    vec![
        ("fit.guard", fit.guard),
        ("fit.confidence", fit.confidence),
        ("compare.smallest_drive", compare.smallest_drive),
        ("compare.smallest_share", compare.smallest_share),
        ("session.clearance", session.clearance),
        ("session.step", session.step),
        ("session.tolerance", session.tolerance),
        ("session.run_in", session.run_in),
        ("session.sweep_step", session.sweep_step),
        ("session.guard", session.guard),
        ("session.confidence", session.confidence),
        ("session.resolution", session.resolution),
        ("session.rated_speed", session.rated_speed),
        ("session.rising", flag(session.rising)),
        ("session.sense.reading_range.0", session.sense.reading_range[0]),
        ("session.sense.reading_range.1", session.sense.reading_range[1]),
        ("alignment.margin", AlignmentPlan::MARGIN),
        ("bench.clearance", bench.clearance),
        ("bench.overtravel", bench.overtravel),
        ("bench.run_in", bench.run_in),
        ("bench.guard", bench.guard),
        ("bench.confidence", bench.confidence),
        ("bench.turn", bench.turn),
        ("bench.resolution", bench.resolution),
        ("bench.u_reading", bench.u_reading),
        ("bench.tolerance", bench.tolerance),
        ("bench.bend", bench.bend),
        ("bench.rate_per_s", bench.rate_per_s),
        ("bench.settle_s", bench.settle_s),
        ("bench.most_readings", f64::from(bench.most_readings)),
        ("bench.feel_stops", flag(bench.feel_stops)),
    ]
}

#[test]
fn defaults_are_the_recorded_ones() {
    let mut now = String::from(
        "# Made by `WRITE_VECTORS=1 cargo test --test vectors`: what options and plans begin with. Flags are 0 or 1.\n",
    );
    for (name, value) in all() {
        let _ = writeln!(now, "{name} {value}");
    }
    assert_eq!(now, crate::recorded("defaults.txt", || now.clone()));
}
