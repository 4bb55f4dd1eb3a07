//! What the core makes of some thousand invented inputs, held to what it made of them before.
//!
//! These checks say nothing about whether a result is right: the other tests do. They show every result that a change of the code
//! changes, whether that was meant or not. One line of `tests/data/unchanged` stands for one input: its name, and a checksum of all
//! that came out, with five significant digits of each number. Where a line differs, `target/unchanged` holds what came out in full:
//! run the test on the commit before as well and compare the two files. `WRITE_UNCHANGED=1 cargo test --all-features --test unchanged`
//! records the results again; say in the commit why they changed.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use std::fmt::{Debug, Write as _};
use std::path::Path;

mod bring_ups;
mod fits;
mod robots;
#[path = "../workshop/mod.rs"]
#[allow(dead_code, reason = "the tables are used here, not the counts over them")]
mod workshop;

/// Digits that a number keeps. Machines differ in the last of sixteen.
const DIGITS: usize = 5;
/// Below this a number counts as zero: what is left of a difference of equal numbers.
const NOTHING: f64 = 1e-9;

/// A text with its numbers rounded.
fn rounded(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let bytes = text.as_bytes();
    let mut at = 0;
    while at < bytes.len() {
        let from = at;
        let in_word = from > 0 && (bytes[from - 1].is_ascii_alphanumeric() || bytes[from - 1] == b'_');
        if bytes[at].is_ascii_digit() && !in_word {
            while at < bytes.len() {
                let exponent = bytes[at] == b'e' && bytes.get(at + 1).is_some_and(|b| b.is_ascii_digit() || *b == b'-');
                if !(bytes[at].is_ascii_digit() || bytes[at] == b'.' || exponent) {
                    break;
                }
                at += 1 + usize::from(exponent);
            }
            match text[from..at].parse::<f64>() {
                Ok(number) if number < NOTHING => out.push('0'),
                Ok(number) => write!(out, "{number:.*e}", DIGITS - 1).unwrap(),
                Err(_) => out.push_str(&text[from..at]),
            }
        } else {
            at += 1;
            while !text.is_char_boundary(at) {
                at += 1;
            }
            out.push_str(&text[from..at]);
        }
    }
    // The sign of what counts as zero says nothing either.
    out.replace("-0,", "0,")
        .replace("-0)", "0)")
        .replace("-0]", "0]")
        .replace("-0 ", "0 ")
}

/// FNV-1a, 64 bits: any checksum would do.
fn checksum(text: &str) -> u64 {
    text.bytes().fold(0xcbf2_9ce4_8422_2325, |sum, byte| {
        (sum ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    })
}

/// What came out, input by input.
#[derive(Default)]
struct Results {
    lines: String,
    full: String,
}

impl Results {
    fn add(&mut self, input: &str, result: &impl Debug) {
        let text = rounded(&format!("{result:?}"));
        writeln!(self.lines, "{input} {:016x}", checksum(&text)).unwrap();
        writeln!(self.full, "{input} {text}").unwrap();
    }

    /// Compares with what is recorded under a name.
    #[track_caller]
    fn hold(&self, name: &str) {
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let recorded = root.join("tests/data/unchanged").join(format!("{name}.txt"));
        if std::env::var_os("WRITE_UNCHANGED").is_some() {
            std::fs::create_dir_all(recorded.parent().unwrap()).unwrap();
            std::fs::write(&recorded, &self.lines).unwrap();
        }
        let before = std::fs::read_to_string(&recorded).unwrap();
        if before == self.lines {
            return;
        }
        let full = root.join("target/unchanged").join(format!("{name}.txt"));
        std::fs::create_dir_all(full.parent().unwrap()).unwrap();
        std::fs::write(&full, &self.full).unwrap();
        let differ: Vec<&str> = self
            .lines
            .lines()
            .zip(before.lines())
            .filter(|(now, before)| now != before)
            .map(|(now, _)| now)
            .collect();
        panic!(
            "{} of {} results are not what was recorded ({} recorded), the first of them: {:?}. In full: {}",
            differ.len(),
            self.lines.lines().count(),
            before.lines().count(),
            &differ[..differ.len().min(5)],
            full.display()
        );
    }
}

#[test]
fn only_numbers_are_rounded() {
    assert_eq!(
        rounded("a1 { x: 12.3456789, y: -1e-17, s: \"u_2 0.5 µ\" }"),
        "a1 { x: 1.2346e1, y: 0, s: \"u_2 5.0000e-1 µ\" }"
    );
    assert_eq!(rounded("[1e100, 2.5e-3]"), "[1.0000e100, 2.5000e-3]");
    assert_ne!(checksum("1.00000"), checksum("1.00001"));
}
