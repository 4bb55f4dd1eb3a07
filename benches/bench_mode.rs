//! Figures of bring-ups with typed readings, beside equal steps.
//!
//!     cargo bench --bench bench_mode --features rehearsal             1,000 joints a row
//!     cargo bench --bench bench_mode --features rehearsal -- 200      fewer

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
    let steep = Row::of("bench, steep", BenchKind::Steep, false);
    let felt = Row::of("bench, steep, by hand", BenchKind::Steep, true);
    let rows = [
        steep,
        felt,
        Row {
            name: "bench, steep, sense",
            watch: Watch::SensorAndDrive,
            ..steep
        },
        Row {
            name: "bench, steep, by hand, sense",
            watch: Watch::SensorAndDrive,
            ..felt
        },
        Row {
            name: "bench, steep, no slips",
            slip_rate: 0.0,
            wrong_answer_rate: 0.0,
            ..steep
        },
        Row {
            name: "bench, by hand, no slips",
            slip_rate: 0.0,
            wrong_answer_rate: 0.0,
            ..felt
        },
        Row {
            name: "bench, steep, B 8",
            overtravel: 8.0,
            ..steep
        },
        Row {
            name: "bench, steep, by hand, B 5",
            overtravel: 5.0,
            ..felt
        },
        Row {
            name: "late, no slips, by hand",
            slip_rate: 0.0,
            wrong_answer_rate: 0.0,
            ..Row::of("", BenchKind::Late, true)
        },
        Row::of("bench, plain", BenchKind::Plain, false),
        Row::of("bench, plain, by hand", BenchKind::Plain, true),
        Row::of("bench, counts", BenchKind::Counts, false),
        Row::of("bench, counts, by hand", BenchKind::Counts, true),
        Row::of("bench, bent", BenchKind::Bent, false),
        Row::of("bench, bent, by hand", BenchKind::Bent, true),
        Row::of("bench, obstacle", BenchKind::Hard, false),
        Row::of("bench, late obstacle, by hand", BenchKind::Late, true),
        Row::of("bench, soft stops", BenchKind::Soft, false),
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
        figures.print("equal steps 2.5, steep", 5.0);
    }
}
