//! The TOML writer ends the lines that it writes with LF; a file made elsewhere keeps its own ends.

use std::borrow::ToOwned;
use std::string::String;
use std::vec::Vec;

const CRLF: &str = "\r\n";

/// The new text with the line ends of the old one: a line that stays keeps its own, a new one has the one most lines have.
pub(in crate::robot) fn as_in(old: &str, new: &str) -> String {
    // A last line without an end, if it still is the last.
    let new = match new.strip_suffix('\n') {
        Some(open) if !old.is_empty() && open.lines().last() == old.lines().last() && !old.ends_with('\n') => open,
        _ => new,
    };
    let crlf = old.matches(CRLF).count();
    if crlf == 0 && !new.contains(CRLF) {
        return new.to_owned();
    }
    let usual = if 2 * crlf > old.matches('\n').count() {
        CRLF
    } else {
        "\n"
    };
    let old: Vec<(&str, &str)> = old.split_inclusive('\n').map(split).collect();
    let mut rest = old.as_slice();
    let mut text = String::with_capacity(new.len() + crlf);
    for line in new.split_inclusive('\n') {
        let (body, end) = split(line);
        text.push_str(body);
        if end.is_empty() {
            continue;
        }
        // Lines that stay are met in the order in which they stood.
        let same = rest.iter().position(|&(known, _)| known == body);
        let own = same.and_then(|at| {
            let (_, end) = *rest.get(at)?;
            rest = rest.get(at + 1..)?;
            (!end.is_empty()).then_some(end)
        });
        text.push_str(own.unwrap_or(usual));
    }
    text
}

/// A line and its end.
fn split(line: &str) -> (&str, &str) {
    let body = line
        .strip_suffix('\n')
        .map_or(line, |line| line.strip_suffix('\r').unwrap_or(line));
    line.split_at(body.len())
}

#[cfg(test)]
mod tests {
    use super::as_in;

    #[test]
    fn lines_that_stay_keep_their_ends() {
        for (old, new, expected) in [
            ("a\r\nb\r\n", "a\nnew\nb\n", "a\r\nnew\r\nb\r\n"),
            ("a\nb\n", "a\nnew\nb\n", "a\nnew\nb\n"),
            ("a\r\nb\nc\n", "a\nnew\nb\nc\n", "a\r\nnew\nb\nc\n"),
            ("a\r\nb\r\nc\n", "a\nc\nnew\n", "a\r\nc\nnew\r\n"),
            ("a\r\nb", "a\nb\nnew\n", "a\r\nb\r\nnew\r\n"),
            ("", "a\n", "a\n"),
            ("a\nb", "a\nb\n", "a\nb"),
            ("a\r\nb", "c\nb\n", "c\r\nb"),
        ] {
            assert_eq!(as_in(old, new), expected, "{old:?} {new:?}");
        }
    }
}
