//! What is wrong with a text that is not TOML, in our words: the parser's own name the fault, and not what to do.

use core::ops::Range;
use std::format;
use std::string::{String, ToString};

/// Letters of a text that are shown.
const SHOWN: usize = 40;

/// What was found and what is right: of the fault that the parser calls so.
pub(super) struct Said {
    pub(super) found: String,
    pub(super) remedy: &'static str,
}

/// A sentence for each fault, by words of the parser's message, the first that it holds. `{}`: what stands there, or the line.
const SENTENCES: &[(&[&str], Shows, &str, &str)] = &[
    (
        &["unclosed table", "unclosed array table"],
        Shows::Line,
        "the heading {} is not closed",
        "put ] at its end",
    ),
    (
        &["unclosed array"],
        Shows::Line,
        "the list in {} is not closed",
        "put ] at its end",
    ),
    (
        &["unclosed inline table"],
        Shows::Line,
        "the braces in {} are not closed",
        "put } at their end",
    ),
    (
        &["string values must be quoted"],
        Shows::Value,
        "{} is neither a number nor true or false",
        "put a text between quotes, and a comma between numbers",
    ),
    (
        &["missing opening quote", "string, expected"],
        Shows::Value,
        "the text {} is not closed",
        "put a quote at both its ends",
    ),
    (
        &["escape", "unicode value"],
        Shows::Line,
        "a backslash in {} begins no character",
        "put two in its place",
    ),
    (
        &[
            "invalid basic string",
            "invalid literal string",
            "invalid multi-line",
            "invalid string",
        ],
        Shows::Value,
        "the text {} is not closed, or holds a control character",
        "put a quote at both its ends",
    ),
    (
        &["multi-line"],
        Shows::Line,
        "a key in {} is in three quotes",
        "put it into one at each end",
    ),
    (
        &["missing comma"],
        Shows::Rest,
        "{} follows without a comma",
        "put one before it",
    ),
    (
        &["extra comma"],
        Shows::Line,
        "there is one comma too many in {}",
        "take it out",
    ),
    (&["missing value", "invalid value"], Shows::Line, NO_VALUE.0, NO_VALUE.1),
    (
        &["key with no value", "missing assignment", "invalid key-value pair"],
        Shows::Line,
        "{} has no =",
        "put it between key and value",
    ),
    (
        &["extra `=`", "extra assignment", "unexpected `=`"],
        Shows::Line,
        "there is one = too many in {}",
        "take it out",
    ),
    (
        &["duplicate key"],
        Shows::Rest,
        "{} occurs twice",
        "rename or remove one",
    ),
    (
        &[
            "unquoted key",
            "keys cannot be empty",
            "missing key",
            "invalid key",
            "invalid table",
            "inline table element",
            "missing table open",
            "missing array opening",
            "missing inline table opening",
        ],
        Shows::Rest,
        "{} stands where a key belongs",
        "put a name of letters, digits, _ and -, or one in quotes",
    ),
    (
        &["recurs"],
        Shows::Line,
        "{} is nested too deeply",
        "give it in fewer brackets",
    ),
    (
        &["carriage return"],
        Shows::Line,
        "behind {} a carriage return stands without a line feed",
        "save the file with the line ends of one system",
    ),
    (
        &["comment"],
        Shows::Line,
        "the comment in {} holds a control character",
        "take it out",
    ),
    (&["date"], Shows::Value, "{} is not a day", "give it as YYYY-MM-DD"),
    (
        &["unexpected key or value", "unexpected content"],
        Shows::Line,
        "more than one value stands in {}",
        "begin a new line for each",
    ),
    (
        &[
            "number",
            "float",
            "sign",
            "leading zero",
            "digits",
            "radix",
            "mantissa",
            "fraction",
            "exponent",
            "integer",
        ],
        Shows::Value,
        "{} is not a number",
        "give it in digits, with a point before decimals",
    ),
];

/// A key without a value.
const NO_VALUE: (&str, &str) = ("{} has no value", "put one behind =");

/// What of the text a sentence shows.
#[derive(Clone, Copy)]
enum Shows {
    /// The line.
    Line,
    /// The value behind its =, or else the line.
    Value,
    /// What follows from the fault on.
    Rest,
}

pub(super) fn said(message: &str, text: &str, span: &Range<usize>) -> Said {
    let fault = span.start;
    let has = |words: &[&str]| words.iter().any(|word| message.contains(word));
    let known = SENTENCES.iter().find(|(words, ..)| has(words));
    let (shows, found, remedy) = known.map_or(
        (
            Shows::Rest,
            "{} cannot be read",
            "give key = value, a heading in [ ], or a comment behind #",
        ),
        |&(_, shows, found, remedy)| (shows, found, remedy),
    );
    let start = text
        .get(..fault)
        .and_then(|before| before.rfind('\n'))
        .map_or(0, |end| end + 1);
    let line = text.get(start..).and_then(|rest| rest.lines().next()).unwrap_or("");
    let rest = text.get(fault..).and_then(|rest| rest.lines().next()).unwrap_or("");
    let own = text
        .get(span.clone())
        .filter(|own| own.trim().len() > 1 && !own.contains('\n'));
    let value = line.split_once('=').map_or(line, |(_, value)| value);
    let (found, remedy) = match shows {
        Shows::Value if value.trim().is_empty() => NO_VALUE,
        _ => (found, remedy),
    };
    let shown = match shows {
        Shows::Line => line,
        Shows::Value => own.unwrap_or(value),
        Shows::Rest => rest,
    };
    let shown = if shown.trim().is_empty() { line } else { shown };
    Said {
        found: found.replacen("{}", &short(shown), 1),
        remedy,
    }
}

/// A line, or its beginning, between quotes where it holds blanks or nothing.
fn short(text: &str) -> String {
    let text = text.trim();
    if text.is_empty() {
        return "the end of the file".to_string();
    }
    let is_long = text.chars().count() > SHOWN;
    let shown: String = text.chars().take(SHOWN).filter(|c| !c.is_control()).collect();
    format!("`{shown}{}`", if is_long { " ..." } else { "" })
}

#[cfg(test)]
mod tests {
    use super::super::parsed;
    use std::string::ToString;
    use std::{format, println};

    fn told(line: &str) -> std::string::String {
        let text = format!("format = 1\n{line}");
        parsed(&text).unwrap_err().to_string()
    }

    #[test]
    fn what_is_not_toml_is_told_in_our_words() {
        for (line, says) in [
            (
                "[joint.neck",
                "the heading `[joint.neck` is not closed; put ] at its end",
            ),
            (
                "angle = [0, 180",
                "the list in `angle = [0, 180` is not closed; put ] at its end",
            ),
            (
                "a = { b = 1",
                "the braces in `a = { b = 1` are not closed; put } at their end",
            ),
            (
                "unit = deg",
                "`deg` is neither a number nor true or false; put a text between quotes, and a comma between numbers",
            ),
            (
                "name = \"heron",
                "the text `\"heron` is not closed; put a quote at both its ends",
            ),
            ("rest =", "`rest =` has no value; put one behind ="),
            ("rest", "`rest` has no =; put it between key and value"),
            (
                "a = [0 180]",
                "`0 180` is neither a number nor true or false; put a text between quotes, and a comma between numbers",
            ),
            (
                "a = 10 b = 3",
                "more than one value stands in `a = 10 b = 3`; begin a new line for each",
            ),
            (
                "a = 007",
                "`007` is not a number; give it in digits, with a point before decimals",
            ),
            ("a = 2026-13-40", "`2026-13-40` is not a day; give it as YYYY-MM-DD"),
            ("a = == 1", "there is one = too many in `a = == 1`; take it out"),
        ] {
            let found = told(line);
            println!("{line}: {found}");
            assert!(found.ends_with(&format!("not TOML: {says}")), "{line}: {found}");
        }
    }

    /// No sentence of the parser is passed on.
    #[test]
    fn no_sentence_is_the_parsers() {
        let marks = [
            "=", "[", "]", "{", "}", "\"", "'", ",", ".", "1", "-", "+", "_", "a", "\\", "\u{1}", "#", "\r", "0x",
            "inf", "\"\"\"", " ",
        ];
        for first in marks {
            for second in marks {
                for third in marks {
                    for line in [
                        format!("{first}{second}{third}"),
                        format!("k = {first}{second}{third}\n"),
                    ] {
                        let text = format!("format = 1\n{line}");
                        let Err(error) = parsed(&text) else { continue };
                        let found = error.to_string();
                        let theirs = ["expected", "invalid", "unexpected", "duplicate", "missing", "unclosed"];
                        assert!(
                            found.contains("; ") && !theirs.iter().any(|word| found.contains(word)),
                            "{line}: {found}"
                        );
                    }
                }
            }
        }
    }
}
