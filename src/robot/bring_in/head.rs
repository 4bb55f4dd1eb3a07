//! Where the header of a table stands, below what titles, and whether another one follows.

use std::format;
use std::string::{String, ToString as _};
use std::vec::Vec;

use super::cell::{OPEN_QUOTE, Separator, all, cell, number, split_unit};
use super::heading::{Heading, is_unit};
use super::table_error::TableError;
use crate::code::Code;
use crate::robot::source::Source;

/// How many of [`Source::ROLES`] there must be a column for: the drive and what was measured.
const NEEDED: usize = 2;

/// Rows before the data, the line of the header, and the headings.
pub(super) fn head(
    sample: &[(usize, u32, &str)],
    separator: Separator,
    decimal: Option<char>,
) -> Result<(usize, Option<u32>, Vec<Heading>), TableError> {
    let mut split = Vec::new();
    for &(_, line, text) in sample {
        let Some(cells) = all(text, separator) else {
            return Err(TableError::new(Code::FileSyntax, Some(line), OPEN_QUOTE));
        };
        split.push((line, cells));
    }
    let is_number = |cell: &String| {
        let (digits, unit) = split_unit(cell);
        (unit.is_empty() || is_unit(unit)) && number(digits, decimal).is_ok()
    };
    let filled = |cells: &[String]| cells.iter().filter(|cell| !cell.is_empty()).count();
    // A title: one cell alone above rows of more.
    let is_title = |at: usize| match (split.get(at), split.get(at + 1)) {
        (Some((_, cells)), Some((_, next))) => {
            let is_header = cells.iter().any(|cell| cell.contains([';', '\t']));
            filled(cells) == 1 && filled(next) > 1 && !is_header
        }
        _ => false,
    };
    let mut titles = 0;
    while is_title(titles) {
        titles += 1;
    }
    // Two titles, or one with commas in it, above a header of the width that all rows have.
    let width = split.last().map_or(0, |(_, cells)| cells.len());
    if let Some((_, first)) = split.get(titles)
        && split.len() > titles + 2
        && first.len() != width
        && let Some((_, next)) = split.get(titles + 1)
        && next.len() == width
        // Above numbers it is the header itself, and the rows are too long or too short for it.
        && !next.iter().take(2).all(is_number)
    {
        titles += 1;
    }
    // A title with as many commas as the rows, above the usual names.
    if let (Some((_, first)), Some((_, next))) = (split.get(titles), split.get(titles + 1))
        && !is_named(first)
        && is_named(next)
    {
        titles += 1;
    }
    titles = below_titles(&split, titles, is_number);
    let Some((line, first)) = split.get(titles) else {
        let sentence = "the file is empty; write a header such as drive,measured and one row for each reading";
        return Err(TableError::new(Code::TooFewReadings, None, sentence));
    };
    if first.len() > 1 && first.iter().take(2).all(is_number) {
        let names = (1..=first.len()).map(|place| Heading::of(&place.to_string()));
        return Ok((titles, None, names.collect()));
    }
    let named = first
        .iter()
        .rposition(|cell| !cell.is_empty())
        .map_or(0, |last| last + 1);
    let headings: Vec<Heading> = first.iter().take(named).map(|name| Heading::of(name)).collect();
    for (index, heading) in headings.iter().enumerate() {
        let twice = headings.iter().take(index).any(|earlier| earlier.name == heading.name);
        if twice && !heading.name.is_empty() {
            let sentence = format!("the header names column \"{}\" twice; rename one", heading.name);
            return Err(TableError::new(Code::FileSyntax, Some(*line), sentence));
        }
    }
    Ok((titles + 1, Some(*line), headings))
}

/// Whether the first cell of a row is the name of a column: only such a row is looked at more closely.
pub(super) fn may_be_header(row: &str, separator: Separator, headings: &[Heading]) -> bool {
    let first = cell(row, separator, 0);
    let starts_with_digit = |cell: &str| cell.starts_with(|c: char| c.is_ascii_digit() || c == '-');
    if first.is_empty() || starts_with_digit(&first) {
        return false;
    }
    let base = Heading::of(&first).base.to_lowercase();
    headings.first().is_some_and(|heading| heading.name == first.as_ref()) || Source::ROLES.contains(&base.as_str())
}

/// Whether a row holds one of the usual names of the columns that there must be.
fn is_named(cells: &[String]) -> bool {
    let usual = |cell: &String| {
        let base = Heading::of(cell).base.to_lowercase();
        Source::ROLES.iter().take(NEEDED).any(|role| base == *role)
    };
    cells.iter().any(usual)
}

/// The row of the header below more titles than those found so far, as the head of a form has them: the first with a usual name, else the
/// first without a gap and without a number, above one with numbers, where all rows above it have gaps.
fn below_titles(split: &[(u32, Vec<String>)], titles: usize, is_number: impl Fn(&String) -> bool) -> usize {
    let below = || split.iter().enumerate().skip(titles);
    let has_gap = |cells: &[String]| cells.iter().any(String::is_empty);
    let has_number = |cells: &[String]| cells.iter().any(&is_number);
    let starts_with_numbers = |cells: &[String]| cells.len() > 1 && cells.iter().take(2).all(&is_number);
    // What stands above a header is no data.
    let first_of_numbers = below()
        .find(|(_, (_, cells))| starts_with_numbers(cells))
        .map_or(split.len(), |(at, _)| at);
    let above = || below().take_while(|(at, _)| *at < first_of_numbers);
    if let Some((at, _)) = above().find(|(_, (_, cells))| is_named(cells) && !has_number(cells)) {
        return at;
    }
    let width = split.last().map_or(0, |(_, cells)| cells.len());
    let whole = above().find(|(_, (_, cells))| cells.len() == width && !has_gap(cells));
    match whole {
        Some((at, (_, cells)))
            if width > 1 && !has_number(cells) && split.get(at + 1).is_some_and(|(_, next)| has_number(next)) =>
        {
            at
        }
        _ if is_above_headings(split, titles, is_number) => titles + 1,
        _ => titles,
    }
}

/// Whether a row names groups of columns whose headings stand below it: words with gaps, above more words, above numbers.
fn is_above_headings(split: &[(u32, Vec<String>)], at: usize, is_number: impl Fn(&String) -> bool) -> bool {
    let row = |at: usize| split.get(at).map_or(&[][..], |(_, cells)| cells);
    let filled = |at: usize| row(at).iter().filter(|cell| !cell.is_empty()).count();
    let has_number = |at: usize| row(at).iter().any(&is_number);
    let is_of_units = |cell: &String| cell.is_empty() || cell.starts_with(['[', '(']) || is_unit(cell);
    let are_units = row(at + 1).iter().all(is_of_units);
    filled(at) < filled(at + 1) && !are_units && !has_number(at) && !has_number(at + 1) && has_number(at + 2)
}

/// A row that names columns below a header that did.
pub(super) fn second_header(
    line: u32,
    cells: &[String],
    headings: &[Heading],
    header: Option<u32>,
) -> Option<TableError> {
    let filled = || cells.iter().filter(|cell| !cell.is_empty());
    let is_repeated = cells.len() >= headings.len()
        && cells.iter().zip(headings).all(|(cell, heading)| *cell == heading.name)
        && cells.iter().skip(headings.len()).all(String::is_empty);
    let names: Vec<String> = headings.iter().map(|heading| heading.name.clone()).collect();
    let has_digits = filled().any(|cell| cell.starts_with(|c: char| c.is_ascii_digit()));
    let is_other = is_named(&names) && is_named(cells) && filled().count() > 1 && !has_digits;
    if !is_repeated && !is_other {
        return None;
    }
    let sentence = format!(
        "a second table begins here: this row names columns, as the header in line {} does; write each table into a file of its own, or \
         delete this row if the readings below belong to the same joint and columns",
        header.unwrap_or(1)
    );
    Some(TableError::new(Code::FileSyntax, Some(line), sentence))
}
