//! The block on boards: built, linked into C programs, and run in simulators.
//!
//! `tests/firmware/run` starts this, and says what it needs. Cortex-M4F runs in QEMU, ATmega328P in simavr.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod attack;
mod board;
mod example;
mod header;
mod heron;
mod linkage;
mod measure;
mod readme;
mod sketch;
mod vectors;

use board::{Board, root, rows};

/// Those of the table of costs.
const MEASURED: [&str; 2] = ["cortex-m4f", "atmega328p"];

/// The libraries of a board.
fn both(name: &str) -> [&'static Board; 2] {
    [Board::get(name), Board::with_curves(name)]
}

/// All shared vectors, straight and curved.
fn shared_vectors(name: &str) {
    vectors::run(Board::get(name));
    vectors::run_curves(Board::with_curves(name));
}

#[test]
fn the_archive_holds_the_calls_of_the_header_and_nothing_else() {
    for row in rows() {
        both(row.name).into_iter().for_each(measure::calls);
    }
}

#[test]
fn the_header_offers_no_call_in_double_where_double_has_32_bits() {
    header::run();
}

#[test]
fn shared_vectors_on_cortex_m0plus() {
    shared_vectors("cortex-m0plus");
}

#[test]
fn shared_vectors_on_cortex_m3() {
    shared_vectors("cortex-m3");
}

#[test]
fn shared_vectors_on_cortex_m4() {
    shared_vectors("cortex-m4");
}

#[test]
fn shared_vectors_on_cortex_m4f() {
    shared_vectors("cortex-m4f");
}

#[test]
fn shared_vectors_on_cortex_m33() {
    shared_vectors("cortex-m33");
}

#[test]
fn shared_vectors_on_cortex_m33f() {
    shared_vectors("cortex-m33f");
}

#[test]
fn shared_vectors_on_rv32imc() {
    shared_vectors("rv32imc");
}

#[test]
fn shared_vectors_on_atmega328p() {
    shared_vectors("atmega328p");
}

/// The small library says no to a block that it would answer wrongly.
#[test]
fn without_curves_a_curved_block_is_refused() {
    for row in rows() {
        vectors::refuse_curves(Board::get(row.name));
    }
}

#[test]
fn the_example_answers() {
    for row in rows() {
        both(row.name).into_iter().for_each(example::run);
    }
}

#[test]
fn the_header_serves_cpp() {
    for row in rows() {
        sketch::cpp(Board::get(row.name));
    }
}

/// As the specification of such libraries and the core's recipes say; the tools themselves were not run.
#[test]
fn the_sketch_library_answers() {
    sketch::block_of_the_sketch();
    let library = sketch::package();
    sketch::sketch(&library, Board::get("atmega328p"), "standard", "-DARDUINO_AVR_UNO");
}

#[test]
fn the_lines_of_the_readme_run() {
    sketch::block_of_the_sketch();
    readme::table();
    readme::lines();
}

/// A linkage is dear; the README says how dear, and what to do.
#[test]
fn a_linkage_costs_many_straight_joints() {
    linkage::run();
}

#[test]
fn no_image_of_ten_million_is_read_outside() {
    attack::run();
}

/// `WRITE_TABLE=1` writes the table of the README anew; without, its figures may be off by a tenth, since compilers differ.
#[test]
fn the_table_of_costs_holds() {
    let figures: Vec<_> = MEASURED.into_iter().flat_map(both).map(measure::run).collect();
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
    if !measure::made_by_the_toolchain(Board::get(MEASURED[0])) {
        println!("not compared: the table is that of the toolchain's own target, this library is by Debian's compiler");
        return;
    }
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
