//! The block on boards: built, linked into C programs, and run in simulators.
//!
//! `tests/firmware/run` starts this, and says what it needs. Cortex-M4F runs in QEMU, ATmega328P in simavr.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod attack;
mod board;
mod example;
mod header;
mod heron;
mod measure;
mod vectors;

use board::{Board, Kind, root};

const BOARDS: [Kind; 2] = [Kind::CortexM4f, Kind::Atmega328p];

/// The libraries of a board.
fn both(kind: Kind) -> [&'static Board; 2] {
    [Board::get(kind), Board::with_curves(kind)]
}

#[test]
fn the_archive_holds_the_calls_of_the_header_and_nothing_else() {
    for kind in BOARDS {
        both(kind).into_iter().for_each(measure::calls);
    }
}

#[test]
fn the_header_offers_no_call_in_double_where_double_has_32_bits() {
    header::run();
}

#[test]
fn shared_vectors_on_cortex_m4f() {
    vectors::run(Board::get(Kind::CortexM4f));
    vectors::run_curves(Board::with_curves(Kind::CortexM4f));
}

#[test]
fn shared_vectors_on_atmega328p() {
    vectors::run(Board::get(Kind::Atmega328p));
    vectors::run_curves(Board::with_curves(Kind::Atmega328p));
}

/// The small library says no to a block that it would answer wrongly.
#[test]
fn without_curves_a_curved_block_is_refused() {
    for kind in BOARDS {
        vectors::refuse_curves(Board::get(kind));
    }
}

#[test]
fn the_example_answers() {
    for kind in BOARDS {
        both(kind).into_iter().for_each(example::run);
    }
}

#[test]
fn no_image_of_ten_million_is_read_outside() {
    attack::run();
}

/// `WRITE_TABLE=1` writes the table of the README anew; without, its figures may be off by a tenth, since compilers differ.
#[test]
fn the_table_of_costs_holds() {
    let figures: Vec<_> = BOARDS.into_iter().flat_map(both).map(measure::run).collect();
    let table = measure::table(&figures);
    println!("{table}");
    let path = root().join("bindings/firmware/README.md");
    let text = std::fs::read_to_string(&path).unwrap();
    let (before, rest) = text.split_once("<!-- costs -->\n").unwrap();
    let (written, after) = rest.split_once("<!-- end -->").unwrap();
    if std::env::var_os("WRITE_TABLE").is_some() {
        std::fs::write(&path, format!("{before}<!-- costs -->\n{table}<!-- end -->{after}")).unwrap();
        measure::limits(&figures);
        return;
    }
    measure::limits(&figures);
    // Two figures of a cell stand with a comma between them.
    let words = |text: &str| {
        text.replace(',', " ")
            .split_whitespace()
            .map(str::to_owned)
            .collect::<Vec<_>>()
    };
    let (written, found) = (words(written), words(&table));
    assert_eq!(
        written.len(),
        found.len(),
        "the table has other rows; run with WRITE_TABLE=1"
    );
    for (written, found) in written.iter().zip(&found) {
        let close = match (written.parse::<f64>(), found.parse::<f64>()) {
            (Ok(written), Ok(found)) => (written - found).abs() <= 0.1 * written.abs().max(20.0),
            _ => written == found,
        };
        assert!(close, "the table says {written}, it is {found}; run with WRITE_TABLE=1");
    }
}
