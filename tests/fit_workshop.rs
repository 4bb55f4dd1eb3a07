//! Tables as people write them at a bench, on fewer seeds than `benches/workshop.rs` counts and with room for chance.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

mod workshop;

use elbowroom::fit::EndKind;
use workshop::kinds::{Kind, REPORTED, TUNING, kinds};
use workshop::tables::table;
use workshop::{HEADING, Limits, Row, csv, fitted, judge, run};

/// Tables a kind: up to 120 ends.
const TABLES: usize = 60;
/// Standard deviations of a share that chance is given.
const CHANCE: f64 = 4.0;

fn room(limit: f64, of: usize) -> f64 {
    CHANCE * (limit * (1.0 - limit) / of as f64).sqrt()
}

#[test]
fn no_travel_ends_past_a_stop_unsaid() {
    let mut over = Vec::new();
    println!("{HEADING}");
    for kind in kinds() {
        let count = run(&kind, &REPORTED, TABLES, 2);
        let row = Row {
            name: kind.name,
            count,
            over: Limits::of(&kind).over(&count, room),
        };
        println!("{row}");
        if !row.over.is_empty() {
            over.push(row.to_string());
        }
    }
    assert!(over.is_empty(), "{}", over.join("\n"));
}

/// The judge itself: what it counts must be what the makers put there, or the shares above mean nothing.
#[test]
fn tables_are_what_their_kind_says() {
    let all = kinds();
    assert!(all.len() >= 16);
    for kind in &all {
        for seed in 0..40 {
            let made = table(kind, &REPORTED, seed);
            let n = made.drive.len();
            assert_eq!((made.measured.len(), made.good.len()), (n, n), "{}", kind.name);
            assert!((6..40).contains(&n), "{} {seed}: {n}", kind.name);
            assert_eq!(made.slip.is_some(), kind.slip, "{} {seed}", kind.name);
            assert!(made.sd > 0.0 && made.grain > 0.0 && made.measured.iter().all(|y| y.is_finite()));
            assert!(
                made.good.iter().filter(|good| **good).count() >= 3,
                "{} {seed}",
                kind.name
            );
            assert_eq!(csv(&made), csv(&table(kind, &REPORTED, seed)), "the same table twice");
            assert_ne!(
                csv(&made),
                csv(&table(kind, &TUNING, seed)),
                "tuned on what is reported"
            );
        }
    }
}

/// Counts do not depend on how the seeds are shared among threads.
#[test]
fn counts_are_the_same_on_any_number_of_threads() {
    let kind: Kind = kinds()[0];
    let [one, three] = [1, 3].map(|threads| format!("{:?}", run(&kind, &REPORTED, 20, threads)));
    assert_eq!(one, three);
}

/// A travel that runs over both stops is counted so, one that ends at the last clear reading is not.
#[test]
fn the_judge_sees_an_overrun() {
    let kind: Kind = kinds()[0];
    let (mut seen, mut clear) = (0, 0);
    for seed in 0..40 {
        let made = table(&kind, &REPORTED, seed);
        let Some(mut fit) = fitted(&made) else { continue };
        fit.warnings.clear();
        (fit.lower.kind, fit.upper.kind) = (EndKind::Clear, EndKind::Clear);
        let [low, high] = [f64::min, f64::max].map(|pick| made.drive.iter().copied().reduce(pick).unwrap());
        (fit.lower.travel, fit.upper.travel) = (low - 20.0, high + 20.0);
        let count = judge(&kind, &made, Some(&fit));
        assert_eq!((count.real, count.past, count.silent), (2, 2, 2), "seed {seed}");
        seen += 1;
        let good = made.drive.iter().zip(&made.good).filter(|(_, good)| **good);
        let inner: Vec<f64> = good.map(|(x, _)| *x).collect();
        fit.lower.travel = inner.iter().copied().fold(f64::INFINITY, f64::min);
        fit.upper.travel = inner.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        clear += judge(&kind, &made, Some(&fit)).past;
    }
    assert!(seen > 30);
    assert_eq!(clear, 0);
}
