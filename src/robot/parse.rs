//! From text to tables: where a text cannot be parsed, the place, and what to write instead.

mod meant;

use std::format;
use std::string::String;
use std::vec::Vec;

use toml_edit::Document;

use super::error::{FileError, FileFault};
use super::reader::Section;

/// Letters of a line that are shown.
const SHOWN: usize = 40;

pub(super) fn parsed(text: &str) -> Result<Document<&str>, FileError> {
    Document::parse(text).map_err(|error| {
        // A fault at the very end has an empty span; without any, the end is where the parser stood.
        let span = error.span().unwrap_or(text.len()..text.len());
        let fault = error.message().split_whitespace().collect::<Vec<_>>().join(" ");
        let twice = fault.starts_with("duplicate key").then(|| repeated(text, &span));
        let message = twice.flatten().unwrap_or_else(|| {
            let message = format!("{fault} in {}", line_at(text, span.start));
            match meant::instead(text, span.start) {
                Some(instead) => format!("{message}; {instead}"),
                None => message,
            }
        });
        FileFault::Syntax { message }.at(Some(span), None)
    })
}

/// The line that holds a byte of a text, or its beginning.
fn line_at(text: &str, byte: usize) -> String {
    let start = text.get(..byte).and_then(|before| before.rfind('\n'));
    let line = text
        .get(start.map_or(0, |end| end + 1)..)
        .and_then(|rest| rest.lines().next());
    let line = line.unwrap_or_default().trim();
    if line.is_empty() {
        return "an empty line".into();
    }
    let shown: String = line.chars().filter(|c| !c.is_control()).take(SHOWN).collect();
    let rest = if line.chars().count() > SHOWN { " ..." } else { "" };
    format!("`{shown}{rest}`")
}

/// A part of a joint by itself, read by the rules of the file.
pub(super) fn part<T>(text: &str, read: impl Fn(&Section<'_>) -> Result<T, FileError>) -> Result<T, FileError> {
    let document = parsed(text).map_err(|error| error.in_text(text))?;
    read(&Section::top(document.as_table())).map_err(|error| error.in_text(text))
}

/// The sentence of a key or a table that stands twice, with the line of the first where it is found by its letters.
fn repeated(text: &str, span: &core::ops::Range<usize>) -> Option<String> {
    let key = text.get(span.clone())?.trim();
    let start = text.get(..span.start)?.rfind('\n').map_or(0, |end| end + 1);
    let (before, line) = (text.get(..start)?, text.get(start..)?.lines().next()?.trim());
    let of_key = |line: &str| {
        let rest = line.trim_start().strip_prefix(key);
        rest.is_some_and(|rest| rest.trim_start().starts_with(['=', '.']))
    };
    let mut numbered = before.lines().zip(1_usize..);
    let first = if line.starts_with('[') {
        let plain = |line: &str| {
            line.split('#')
                .next()
                .unwrap_or("")
                .split_whitespace()
                .collect::<String>()
        };
        numbered
            .find(|(other, _)| plain(other) == plain(line))
            .map(|(_, number)| number)
    } else if of_key(line) {
        let of_table: Vec<_> = numbered.collect();
        let mut up = of_table
            .iter()
            .rev()
            .take_while(|(other, _)| !other.trim_start().starts_with('['));
        up.find(|(other, _)| of_key(other)).map(|&(_, number)| number)
    } else {
        None
    };
    let place = first.map_or(String::new(), |line| format!(", first in line {line}"));
    Some(format!("\"{key}\" occurs twice{place}; rename or remove one"))
}
