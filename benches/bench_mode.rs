//! Figures of bring-ups with typed readings, beside equal steps.
//!
//!     cargo bench --bench bench_mode --features rehearsal             1,000 joints a row
//!     cargo bench --bench bench_mode --features rehearsal -- 200      fewer
//!     cargo bench --bench bench_mode --features rehearsal -- bent     rows whose name holds that word
//!
//! With SHOW_STAGES set each row has moves, turns of the hand, slips and the readings of each part besides.

#[path = "../tests/bench_figures/mod.rs"]
mod bench_figures;

use bench_figures::{Figures, Row};
use elbowroom::bring_up::Watch;
use elbowroom::rehearsal::BenchKind;

fn main() {
    let number = std::env::args().skip(1).find_map(|arg| arg.parse().ok());
    let only = std::env::args()
        .skip(1)
        .find(|arg| !arg.starts_with('-') && arg.parse::<u64>().is_err());
    let joints: u64 = number.unwrap_or(1000);
    let steep = Row::of("slope 0.8 to 2.5", BenchKind::Steep, false);
    let felt = Row::of("the same, stops by hand", BenchKind::Steep, true);
    let rows = [
        steep,
        felt,
        Row {
            name: "sense tested",
            watch: Watch::SensorAndDrive,
            ..steep
        },
        Row {
            name: "sense tested, stops by hand",
            watch: Watch::SensorAndDrive,
            ..felt
        },
        Row {
            name: "no slips, no wrong answers",
            slip_rate: 0.0,
            wrong_answer_rate: 0.0,
            ..steep
        },
        Row {
            name: "the same, stops by hand, no slips",
            slip_rate: 0.0,
            wrong_answer_rate: 0.0,
            ..felt
        },
        Row {
            name: "overtravel 8",
            overtravel: 8.0,
            ..steep
        },
        Row {
            name: "overtravel 5, stops by hand",
            overtravel: 5.0,
            ..felt
        },
        Row {
            name: "late obstacle, stops by hand, no slips",
            slip_rate: 0.0,
            wrong_answer_rate: 0.0,
            ..Row::of("", BenchKind::Late, true)
        },
        Row::of("slope 0.4 to 2.5", BenchKind::Plain, false),
        Row::of("slope 0.4 to 2.5, stops by hand", BenchKind::Plain, true),
        Row::of("4 to 6 counts a degree", BenchKind::Counts, false),
        Row::of("4 to 6 counts a degree, stops by hand", BenchKind::Counts, true),
        Row::of("bent by 10 %", BenchKind::Bent, false),
        Row::of("bent by 10 %, stops by hand", BenchKind::Bent, true),
        Row::of("obstacle", BenchKind::Hard, false),
        Row::of("late obstacle, stops by hand", BenchKind::Late, true),
        Row::of("stops give 30 to 70 %", BenchKind::Soft, false),
    ];
    Figures::heading();
    for row in rows {
        if only.as_ref().is_some_and(|word| !row.name.contains(word.as_str())) {
            continue;
        }
        let mut figures = Figures::default();
        for seed in 0..joints {
            figures.run(row, seed);
        }
        figures.print(row.name, row.overtravel);
    }
    if only.is_none() {
        let mut figures = Figures::default();
        for seed in 0..joints {
            figures.run_equal(steep, seed);
        }
        figures.print("equal steps of 2.5, sweep of 5", 5.0);
    }
}
