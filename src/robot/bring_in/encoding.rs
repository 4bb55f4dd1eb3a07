//! The characters of a table, out of the bytes of its file.

use std::format;
use std::string::String;
use std::vec::Vec;

use super::table_error::TableError;
use crate::code::Code;
use crate::robot::error::place;

/// How many characters before a byte that cannot be read are shown, to find it by.
const SHOWN: usize = 12;

/// The text of a file: UTF-8, or UTF-16 as spreadsheets save "Unicode text", each with a byte order mark or without.
pub(super) fn text(bytes: Vec<u8>) -> Result<String, TableError> {
    if let Some((is_big, start)) = utf16(&bytes) {
        return from_utf16(bytes.get(start..).unwrap_or_default(), is_big);
    }
    let mut text = String::from_utf8(bytes).map_err(|error| not_utf8(error.as_bytes()))?;
    if text.starts_with('\u{feff}') {
        text.drain(..'\u{feff}'.len_utf8());
    }
    Ok(text)
}

/// Whether these are pairs of bytes, the higher one first or last, and where they start.
fn utf16(bytes: &[u8]) -> Option<(bool, usize)> {
    match bytes {
        [0xff, 0xfe, ..] => Some((false, 2)),
        [0xfe, 0xff, ..] => Some((true, 2)),
        // No text holds a character of number 0: the first two are of ASCII.
        [1..=255, 0, 1..=255, 0, ..] => Some((false, 0)),
        [0, 1..=255, 0, 1..=255, ..] => Some((true, 0)),
        _ => None,
    }
}

fn from_utf16(bytes: &[u8], is_big: bool) -> Result<String, TableError> {
    let (pairs, rest) = bytes.as_chunks::<2>();
    let of = if is_big { u16::from_be_bytes } else { u16::from_le_bytes };
    let text: Result<String, _> = char::decode_utf16(pairs.iter().map(|&pair| of(pair))).collect();
    match text {
        Ok(text) if rest.is_empty() => Ok(text),
        _ => {
            let sentence = "UTF-16 text with a character that is cut; save the table as CSV in UTF-8";
            Err(TableError::new(Code::FileSyntax, None, sentence))
        }
    }
}

fn not_utf8(bytes: &[u8]) -> TableError {
    let valid = bytes.utf8_chunks().next().map_or("", |chunk| chunk.valid());
    let byte = bytes.get(valid.len()).copied().unwrap_or_default();
    let (line, column) = place(valid, valid.len());
    let of_line = valid.rsplit(['\n', '\r']).next().unwrap_or("");
    let from = of_line.chars().count().saturating_sub(SHOWN);
    let behind: String = of_line.chars().skip(from).collect();
    let sentence = format!(
        "character {column} of the line, behind \"{behind}\": the byte 0x{byte:02X} is not UTF-8 text; save the table as CSV in UTF-8"
    );
    TableError::new(Code::FileSyntax, u32::try_from(line).ok(), sentence)
}
