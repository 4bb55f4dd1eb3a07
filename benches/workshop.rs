//! What limit fits make of tables as people write them down at a bench, over joints whose truth is known.
//!
//! `cargo bench --bench workshop` prints the table of the documentation of `elbowroom::fit`. Behind `--`: a number sets
//! the tables per kind (2,000 when left out), `rows=WORDS` picks the kinds whose name holds the words, `--tune` draws
//! other tables from other ranges than those reported, `--limits` ends with status 1 where a limit is passed, and
//! `show=SEED` prints the tables of that seed with what is true of them. `seeds=FAULT` lists the seeds of the tables with a fault: past,
//! silent, false_contact, rows, shortened, refused, mute or missed. `readings=LOW-HIGH` and `step=LOW-HIGH` draw the
//! commands of a walk and the degrees between them from other ranges. Every table has a seed of its own: the same
//! counts on every run, whatever the number of threads.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "a check stops at the first thing that is not as it must be"
)]

#[path = "../tests/workshop/mod.rs"]
mod workshop;

use std::process::ExitCode;
use workshop::kinds::{REPORTED, TUNING, kinds};
use workshop::tables::table;
use workshop::{Count, HEADING, Limits, Row, csv, fitted, judge, run};

fn main() -> ExitCode {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let has = |word: &str| args.iter().any(|a| a == word);
    let value = |key: &str| args.iter().find_map(|a| a.strip_prefix(key)).map(String::from);
    let seeds = args.iter().find_map(|a| a.parse().ok()).unwrap_or(2000);
    let mut ranges = if has("--tune") { TUNING } else { REPORTED };
    let pair = |key: &str| {
        let text = value(key)?;
        let (low, high) = text.split_once('-')?;
        Some((low.parse::<f64>().ok()?, high.parse::<f64>().ok()?))
    };
    if let Some((low, high)) = pair("readings=") {
        ranges.readings = (low as usize, high as usize);
    }
    if let Some(step) = pair("step=") {
        ranges.step = step;
    }
    let only = value("rows=").unwrap_or_default();
    let chosen = kinds().into_iter().filter(|kind| kind.name.contains(&only));
    if let Some(seed) = value("show=") {
        for kind in chosen {
            let table = table(&kind, &ranges, seed.parse().unwrap());
            println!(
                "# {}: {:?}",
                kind.name,
                (table.ends, table.play, table.sd, table.resolution, table.slip)
            );
            print!("{}", csv(&table));
            if let Some(fit) = fitted(&table) {
                println!("# lower {:?}\n# upper {:?}", fit.lower, fit.upper);
                println!("# left out {:?}\n# warnings {:?}", fit.rejected, fit.warnings);
            }
        }
        return ExitCode::SUCCESS;
    }
    if let Some(fault) = value("seeds=") {
        for kind in chosen {
            for seed in 0..seeds as u64 {
                let table = table(&kind, &ranges, seed);
                let counted = times(&judge(&kind, &table, fitted(&table).as_ref()), &fault);
                if counted > 0 {
                    println!("{}: seed {seed}: {counted}", kind.name);
                }
            }
        }
        return ExitCode::SUCCESS;
    }
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    println!("{HEADING}");
    let mut over = 0;
    for kind in chosen {
        let count = run(&kind, &ranges, seeds, threads);
        let row = Row {
            name: kind.name,
            count,
            over: Limits::of(&kind).over(&count, |_, _| 0.0),
        };
        over += usize::from(!row.over.is_empty());
        println!("{row}");
    }
    if over > 0 && has("--limits") {
        println!("\n{over} kinds are over a limit");
        return ExitCode::FAILURE;
    }
    ExitCode::SUCCESS
}

/// How often a fault was counted, by the name of its column; `missed` for intervals that do not hold the stop.
fn times(count: &Count, fault: &str) -> usize {
    match fault {
        "past" => count.past,
        "silent" => count.silent,
        "false_contact" => count.false_contact,
        "rows" => count.rows,
        "shortened" => count.shortened,
        "refused" => count.refused,
        "mute" => count.mute,
        "missed" => count.placed - count.held,
        other => panic!("no column is called {other}"),
    }
}
