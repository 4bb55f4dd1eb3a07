//! What is said while a command runs, in lines that fit the terminal.

use crate::output;
use crate::problem::Problem;
use std::io::Write as _;

/// The narrowest terminal that lines are made to fit.
const NARROWEST: usize = 20;

/// Where words go: standard output, or beside an object that is printed there.
pub(crate) struct Voice {
    is_beside: bool,
    width: Option<usize>,
}

impl Voice {
    pub(crate) fn new(is_json: bool) -> Self {
        Self {
            is_beside: is_json,
            width: if is_json { width_of(&std::io::stderr()) } else { width() },
        }
    }

    /// A line.
    pub(crate) fn say(&self, text: &str) -> Result<(), Problem> {
        self.put(&format!("{text}\n"))
    }

    /// The beginning of a line that somebody ends.
    pub(crate) fn ask(&self, text: &str) -> Result<(), Problem> {
        self.put(text)
    }

    fn put(&self, text: &str) -> Result<(), Problem> {
        let text = self.width.map_or_else(|| text.to_owned(), |width| wrapped(text, width));
        if self.is_beside {
            let mut out = anstream::stderr();
            return output::printed(out.write_all(text.as_bytes()).and_then(|()| out.flush()));
        }
        let mut out = anstream::stdout();
        output::printed(out.write_all(text.as_bytes()).and_then(|()| out.flush()))
    }
}

/// The width that lines of standard output are made to fit: that of `COLUMNS`, else of the terminal, if it is one.
pub(crate) fn width() -> Option<usize> {
    width_of(&std::io::stdout())
}

/// The same of standard error.
pub(crate) fn width_beside() -> Option<usize> {
    width_of(&std::io::stderr())
}

/// What `COLUMNS` says, where somebody set it.
fn width_given() -> Option<usize> {
    let columns = std::env::var("COLUMNS").ok()?;
    columns.trim().parse().ok().filter(|columns| *columns > 0)
}

#[cfg(not(windows))]
fn width_of(out: &(impl std::io::IsTerminal + std::os::fd::AsFd)) -> Option<usize> {
    if let Some(width) = width_given() {
        return Some(width.max(NARROWEST));
    }
    let (width, _) = out.is_terminal().then(|| terminal_size::terminal_size_of(out))??;
    Some(usize::from(width.0).max(NARROWEST))
}

#[cfg(windows)]
fn width_of(out: &impl std::io::IsTerminal) -> Option<usize> {
    if let Some(width) = width_given() {
        return Some(width.max(NARROWEST));
    }
    let (width, _) = out.is_terminal().then(terminal_size::terminal_size)??;
    Some(usize::from(width.0).max(NARROWEST))
}

/// Lines that are too long go on in further ones, a little further in.
pub(crate) fn wrapped(text: &str, width: usize) -> String {
    let mut all = String::with_capacity(text.len());
    for line in text.split_inclusive('\n') {
        let (body, end) = line.strip_suffix('\n').map_or((line, ""), |body| (body, "\n"));
        if seen(body) <= width {
            all.push_str(line);
            continue;
        }
        let further = hanging(body, width);
        let mut at = 0;
        let mut is_first = true;
        for word in body.split_inclusive(' ') {
            let length = seen(word.trim_end());
            if at > 0 && at + length > width && !(is_first && word.trim().is_empty()) {
                while all.ends_with(' ') {
                    all.pop();
                }
                all.push('\n');
                all.push_str(&" ".repeat(further));
                at = further;
                if word.trim().is_empty() {
                    continue;
                }
            }
            is_first &= word.trim().is_empty();
            all.push_str(word);
            at += seen(word);
        }
        all.push_str(end);
    }
    all
}

/// Where the further lines of a long one begin: under what stands behind its label, if two blanks part them, else a little further in.
fn hanging(body: &str, width: usize) -> usize {
    let own = body.chars().take_while(|c| *c == ' ').count();
    let rest = body.trim_start();
    let value = rest.find("  ").map(|gap| {
        let blanks = rest
            .get(gap..)
            .unwrap_or_default()
            .chars()
            .take_while(|c| *c == ' ')
            .count();
        own + seen(rest.get(..gap).unwrap_or_default()) + blanks
    });
    let most = width / 2;
    match value {
        Some(value) if value <= most => value,
        // What is far in stays there.
        _ if own > width / 3 => own.min(most),
        _ => (own + 4).min(width / 3),
    }
}

/// Characters that are seen: colours take no place.
fn seen(text: &str) -> usize {
    let mut count = 0;
    let mut chars = text.chars();
    while let Some(c) = chars.next() {
        if c == '\u{1b}' {
            // Up to the letter that ends it.
            let _ = chars.by_ref().find(char::is_ascii_alphabetic);
        } else {
            count += 1;
        }
    }
    count
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_lines_go_on_further_in() {
        assert_eq!(wrapped("short\n", 20), "short\n");
        assert_eq!(
            wrapped("  one two three four five six\nend", 16),
            "  one two three\n     four five\n     six\nend"
        );
        assert_eq!(
            wrapped("\u{1b}[1mone two three\u{1b}[0m", 13),
            "\u{1b}[1mone two three\u{1b}[0m"
        );
        assert_eq!(
            wrapped("averyveryverylongword and more", 10),
            "averyveryverylongword\n   and\n   more"
        );
        assert_eq!(
            wrapped("  travel    one two three four", 24),
            "  travel    one two\n            three four"
        );
        assert_eq!(
            wrapped("            one two three four", 24),
            "            one two\n            three four"
        );
        for width in [20, 40, 80] {
            let text = "  send drive 12.5 deg, pulse 1234.5 us, counts 308; no faster than 20 deg/s\n";
            assert!(wrapped(text, width).lines().all(|line| line.chars().count() <= width));
        }
    }
}
