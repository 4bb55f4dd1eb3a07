//! The figures that are promised, over many joints.

use crate::bench_figures::{Figures, Row, part, quantile};
use elbowroom::bring_up::Watch;
use elbowroom::rehearsal::BenchKind;

fn figures(row: Row, joints: u64) -> Figures {
    let mut figures = Figures::default();
    for seed in 0..joints {
        figures.run(row, seed);
    }
    figures
}

#[test]
fn few_readings_place_both_stops_within_the_bound() {
    let row = Row::of("steep", BenchKind::Steep, false);
    let found = figures(row, 200);
    assert!(quantile(&found.typed, 0.5) <= 40.0, "{}", quantile(&found.typed, 0.5));
    assert!(quantile(&found.typed, 0.95) <= 60.0, "{}", quantile(&found.typed, 0.95));
    assert!(quantile(&found.u, 0.95) <= 0.51, "{}", quantile(&found.u, 0.95));
    assert!(part(&found.covered) >= 0.93, "{}", part(&found.covered));
    assert!(
        found.beyond(5.0) <= 0.01 && found.largest() <= 10.0,
        "{}",
        found.largest()
    );
    assert_eq!(part(&found.past), 0.0);
    assert!(found.ended.values().sum::<u32>() <= 4, "{:?}", found.ended);
}

#[test]
fn without_a_slip_no_command_goes_beyond_the_overtravel() {
    for (feel_stops, kind) in [
        (false, BenchKind::Steep),
        (true, BenchKind::Steep),
        (true, BenchKind::Late),
        (false, BenchKind::Hard),
    ] {
        let row = Row {
            slip_rate: 0.0,
            ..Row::of("", kind, feel_stops)
        };
        let found = figures(row, 150);
        assert!(found.largest() <= row.overtravel + 1e-6, "{kind:?} {}", found.largest());
        assert_eq!(part(&found.past), 0.0, "{kind:?}");
    }
}

#[test]
fn stops_felt_by_hand_save_readings() {
    let row = Row::of("felt", BenchKind::Steep, true);
    let found = figures(row, 200);
    assert!(quantile(&found.typed, 0.5) <= 25.0, "{}", quantile(&found.typed, 0.5));
    assert!(part(&found.covered) >= 0.93, "{}", part(&found.covered));
    assert!(found.largest() <= 2.0 * row.overtravel, "{}", found.largest());
    assert!(found.beyond(row.overtravel) <= 0.01);
}

#[test]
fn what_came_into_the_way_is_told_from_the_stop_felt() {
    let row = Row {
        slip_rate: 0.0,
        wrong_answer_rate: 0.0,
        ..Row::of("late", BenchKind::Late, true)
    };
    let found = figures(row, 100);
    assert!(
        found.ended.get("range-blocked").copied().unwrap_or(0) >= 85,
        "{:?}",
        found.ended
    );
    // Else it lies outside of the travel handed over.
    assert_eq!(part(&found.past), 0.0);
}

#[test]
fn a_bent_transmission_keeps_its_coverage() {
    for feel_stops in [false, true] {
        let found = figures(Row::of("bent", BenchKind::Bent, feel_stops), 150);
        assert!(part(&found.covered) >= 0.92, "{}", part(&found.covered));
        assert_eq!(part(&found.past), 0.0);
    }
}

#[test]
fn what_gives_way_is_not_handed_over_as_a_stop() {
    let found = figures(Row::of("soft", BenchKind::Soft, false), 100);
    // Where it is not told, the end of the travel is seldom past it.
    assert!(
        found.ended.get("gives-way").copied().unwrap_or(0) >= 35,
        "{:?}",
        found.ended
    );
    assert!(part(&found.past) < 0.06, "{}", part(&found.past));
}

#[test]
fn the_sense_test_takes_at_most_four_turns() {
    let row = Row {
        watch: Watch::SensorAndDrive,
        ..Row::of("sense", BenchKind::Steep, false)
    };
    let found = figures(row, 100);
    let most = found.turns.iter().copied().fold(0.0, f64::max);
    assert!((2.0..=4.0).contains(&most), "{most}");
    assert!(quantile(&found.typed, 0.5) <= 40.0);
    assert!(found.ended.values().sum::<u32>() <= 5, "{:?}", found.ended);
}

#[test]
fn a_slip_is_asked_for_again_and_not_believed() {
    let found = figures(Row::of("slips", BenchKind::Counts, false), 150);
    assert!(found.slips > 100, "{}", found.slips);
    // Two that agree by chance are believed.
    assert!(
        found.believed * 50 <= found.slips,
        "{} of {}",
        found.believed,
        found.slips
    );
}
