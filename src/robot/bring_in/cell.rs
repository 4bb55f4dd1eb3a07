//! Cells of a line, and the number in one.

use std::borrow::Cow;
use std::string::String;
use std::vec::Vec;

/// What stands between columns.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Separator {
    Char(char),
    /// Runs of blanks.
    Blanks,
}

/// The cells of a row, without blanks around them; a line break within quotes becomes a blank. None where a quote is not closed.
pub(super) fn cells(line: &str, separator: Separator, mut take: impl FnMut(usize, Cow<'_, str>)) -> Option<usize> {
    let separator = match separator {
        Separator::Blanks => {
            let mut count = 0;
            for cell in line.split_whitespace() {
                take(count, Cow::Borrowed(cell));
                count += 1;
            }
            return Some(count);
        }
        Separator::Char(separator) => separator,
    };
    let mut count = 0;
    if !line.contains('"') {
        for cell in line.split(separator) {
            take(count, Cow::Borrowed(cell.trim()));
            count += 1;
        }
        return Some(count);
    }
    let mut cell = String::new();
    let (mut quoted, mut chars) = (false, line.chars().peekable());
    while let Some(c) = chars.next() {
        match c {
            '"' if quoted && chars.peek() == Some(&'"') => {
                cell.push('"');
                chars.next();
            }
            '"' if quoted => quoted = false,
            '"' if cell.trim().is_empty() => {
                cell.clear();
                quoted = true;
            }
            c if c == separator && !quoted => {
                take(count, Cow::Borrowed(cell.trim()));
                count += 1;
                cell.clear();
            }
            '\r' if chars.peek() == Some(&'\n') => {}
            '\r' | '\n' => cell.push(' '),
            c => cell.push(c),
        }
    }
    take(count, Cow::Borrowed(cell.trim()));
    (!quoted).then_some(count + 1)
}

/// One cell; empty where there is none.
pub(super) fn cell(line: &str, separator: Separator, at: usize) -> Cow<'_, str> {
    match separator {
        Separator::Blanks => Cow::Borrowed(line.split_whitespace().nth(at).unwrap_or("")),
        Separator::Char(c) if !line.contains('"') => Cow::Borrowed(line.split(c).nth(at).unwrap_or("").trim()),
        Separator::Char(_) => {
            let mut found = String::new();
            cells(line, separator, |index, cell| {
                if index == at {
                    found = cell.into_owned();
                }
            });
            Cow::Owned(found)
        }
    }
}

/// How a cell is no number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum NoNumber {
    Empty,
    NotFinite,
    /// A point where decimals have a comma.
    Point,
    /// A comma where decimals have a point.
    Comma,
    Other,
}

/// The number in a cell; `decimal` none where a comma and a point are both taken.
pub(super) fn number(cell: &str, decimal: Option<char>) -> Result<f64, NoNumber> {
    // A true minus sign, and the dash that an editor makes of one.
    let signed = match cell.strip_prefix(['\u{2212}', '\u{2013}']) {
        Some(rest) => Cow::Owned(std::format!("-{}", rest.trim_start())),
        None => Cow::Borrowed(cell),
    };
    let has_comma = signed.contains(',');
    if signed.contains('.') && decimal == Some(',') {
        return Err(NoNumber::Point);
    }
    let pointed = |text: &str| text.replacen(',', ".", 1);
    let parsed = if has_comma && decimal != Some('.') {
        pointed(&signed).parse::<f64>()
    } else {
        signed.parse::<f64>()
    };
    match parsed {
        Ok(value) if value.is_finite() => Ok(value),
        Ok(_) => Err(NoNumber::NotFinite),
        Err(_) if cell.is_empty() => Err(NoNumber::Empty),
        Err(_) if has_comma && decimal == Some('.') && pointed(&signed).parse::<f64>().is_ok() => Err(NoNumber::Comma),
        Err(_) => Err(NoNumber::Other),
    }
}

/// A cell as its number and what follows: `35 deg` is `35` and `deg`.
pub(super) fn split_unit(cell: &str) -> (&str, &str) {
    let number = cell.trim_end_matches(|c: char| c.is_alphabetic() || matches!(c, '\u{b0}' | '%'));
    let unit = cell.get(number.len()..).unwrap_or_default();
    (number.trim_end(), unit)
}

/// Whether this mark stands in a number only where it would group thousands: `1,500`, `12.000.000`.
pub(super) fn is_in_thousands(number: &str, mark: char) -> bool {
    let digits = number
        .trim_start_matches(['-', '+', '\u{2212}', '\u{2013}'])
        .trim_start();
    let mut groups = digits.split(mark);
    let first = groups.next().unwrap_or("");
    let is_of_digits = |group: &str| group.bytes().all(|byte| byte.is_ascii_digit());
    digits.contains(mark)
        && (1..=3).contains(&first.len())
        && is_of_digits(first)
        && !first.starts_with('0')
        && groups.all(|group| group.len() == 3 && is_of_digits(group))
}

/// How many digits stand before the first of these marks.
pub(super) fn digits_before(number: &str, mark: char) -> usize {
    let whole = number.split(mark).next().unwrap_or("");
    whole.bytes().filter(u8::is_ascii_digit).count()
}

/// Marks that group thousands: apostrophes, blanks (plain, unbroken, thin), and the two signs of decimals.
const GROUPING: [char; 8] = ['\'', '\u{2019}', ' ', '\u{a0}', '\u{2009}', '\u{202f}', '.', ','];

/// The number without its marks of thousands, where it cannot be read for them.
pub(super) fn ungrouped(cell: &str) -> Option<String> {
    GROUPING.iter().find_map(|&mark| {
        let decimals = cell.find(|c| c != mark && matches!(c, '.' | ','));
        let (whole, decimals) = cell.split_at_checked(decimals.unwrap_or(cell.len()))?;
        let plain = std::format!("{}{decimals}", whole.replace(mark, ""));
        (is_in_thousands(whole, mark) && number(&plain, None).is_ok()).then_some(plain)
    })
}

/// Rows with their starts and the numbers of their first lines, counted from 1: an editor's.
pub(super) fn rows(text: &str, separator: Separator) -> impl Iterator<Item = (usize, u32, &str)> {
    let (mut at, mut next) = (0, 1);
    core::iter::from_fn(move || {
        let rest = text.get(at..).filter(|rest| !rest.is_empty())?;
        let (start, line, row) = (at, next, row_at(text, at, separator));
        next += if row.contains('"') { lines_of(row) } else { 1 };
        let end = row.len();
        let two = rest.get(end..).is_some_and(|after| after.starts_with("\r\n"));
        at += (end + if two { 2 } else { 1 }).min(rest.len());
        Some((start, line, row))
    })
}

/// The row that begins at a byte: a line, and those after it where a line break stands within quotes. A quote that is not closed, or not
/// at the end of its cell, or behind rows of numbers, ends no row: then it is the line alone.
pub(super) fn row_at(text: &str, start: usize, separator: Separator) -> &str {
    let rest = text.get(start..).unwrap_or("");
    let end = rest.find(['\n', '\r']).unwrap_or(rest.len());
    let line = rest.get(..end).unwrap_or("");
    match separator {
        Separator::Char(separator) if line.contains('"') && !line.trim_start().starts_with('#') => {
            quoted(rest, separator).unwrap_or(line)
        }
        _ => line,
    }
}

/// The row at the beginning of a text, by its quotes.
fn quoted(text: &str, separator: char) -> Option<&str> {
    let (mut is_quoted, mut is_blank, mut has_break, mut is_past) = (false, true, false, false);
    let mut chars = text.char_indices().peekable();
    while let Some((at, c)) = chars.next() {
        match c {
            '"' if is_quoted && chars.peek().is_some_and(|(_, next)| *next == '"') => {
                chars.next();
            }
            '"' if is_quoted => (is_quoted, is_past) = (false, has_break),
            '"' if is_blank => (is_quoted, is_blank, has_break) = (true, false, false),
            '\n' | '\r' if !is_quoted => return text.get(..at),
            '\n' | '\r' => {
                has_break = true;
                let below = text.get(at + 1..).unwrap_or("");
                if is_of_numbers(below.lines().next().unwrap_or(""), separator) {
                    return None;
                }
            }
            c if c == separator && !is_quoted => (is_blank, is_past) = (true, false),
            c if is_past && !c.is_whitespace() => return None,
            c => is_blank = is_blank && c.is_whitespace(),
        }
    }
    (!is_quoted).then_some(text)
}

/// Whether a line holds two numbers side by side, as rows of readings do and texts do not.
fn is_of_numbers(line: &str, separator: char) -> bool {
    let is_number = |cell: &str| number(cell.trim(), None).is_ok();
    let mut cells = line.split(separator).map(is_number);
    let mut last = false;
    cells.any(|is| core::mem::replace(&mut last, is) && is)
}

/// How many lines a row takes.
pub(super) fn lines_of(row: &str) -> u32 {
    let breaks = row.bytes().filter(|byte| *byte == b'\n').count();
    let old = row
        .match_indices('\r')
        .filter(|(at, _)| row.as_bytes().get(at + 1) != Some(&b'\n'));
    u32::try_from(breaks + old.count() + 1).unwrap_or(u32::MAX)
}

/// Why a row cannot be split into cells.
pub(super) const OPEN_QUOTE: &str =
    "a quote is opened here and not closed at the end of a cell; close it, or take it out";

/// All cells of a row; None where a quote is not closed.
pub(super) fn all(line: &str, separator: Separator) -> Option<Vec<String>> {
    let mut found = Vec::new();
    cells(line, separator, |_, cell| found.push(cell.into_owned()))?;
    Some(found)
}
