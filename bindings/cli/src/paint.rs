//! Emphasis for terminals. Every word stands without its colour; `anstream` takes colours out where no terminal is.

use anstyle::{AnsiColor, Style};
use elbowroom::robot::Severity;

fn styled(style: Style, text: &str) -> String {
    format!("{style}{text}{style:#}")
}

/// A heading or a name.
pub(crate) fn strong(text: &str) -> String {
    styled(Style::new().bold(), text)
}

/// The word of a severity.
pub(crate) fn severity(severity: Severity) -> String {
    let color = match severity {
        Severity::Note => AnsiColor::Cyan,
        Severity::Warning => AnsiColor::Yellow,
        Severity::Error => AnsiColor::Red,
    };
    styled(color.on_default().bold(), severity.as_str())
}

/// A number for people: so many decimals, without zeros at the end.
pub(crate) fn number(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let text = if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        &text
    };
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// A number of things: `1 joint`, `2 joints`.
pub(crate) fn counted(count: usize, thing: &str) -> String {
    format!("{count} {thing}{}", if count == 1 { "" } else { "s" })
}

#[cfg(test)]
mod tests {
    use super::number;

    #[test]
    fn numbers_lose_idle_zeros_and_signs() {
        assert_eq!(number(42.5, 3), "42.5");
        assert_eq!(number(-0.0001, 3), "0");
        assert_eq!(number(100.0, 0), "100");
        assert_eq!(number(1.0 / 3.0, 3), "0.333");
    }
}
