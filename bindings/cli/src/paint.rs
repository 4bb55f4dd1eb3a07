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

/// Decimals of a probability.
const P_DECIMALS: usize = 4;

/// A probability, which is never shown as zero.
pub(crate) fn probability(p: f64) -> String {
    match number(p, P_DECIMALS) {
        zero if zero == "0" => "< 0.0001".to_owned(),
        text => text,
    }
}

/// Most of a span that a number for people may lose by rounding: a line of a vernier on its whole length.
const LOST: f64 = 0.002;
/// A longer number is shown with a power of ten.
const LETTERS: usize = 9;
/// Digits of a number that is shown in full: more than anything is set to.
const DIGITS: usize = 12;

/// A number of a span of such a width: so many decimals, unless the span is so narrow that they lose too much of it.
pub(crate) fn of_span(value: f64, width: f64, decimals: usize) -> String {
    let short = number(value, decimals);
    let is_near = short
        .parse()
        .is_ok_and(|near: f64| (near - value).abs() <= LOST * width.abs());
    if is_near && short.len() <= LETTERS {
        short
    } else {
        full(value)
    }
}

/// Both ends of a span, with up to two decimals or as many as it takes to tell them apart: `-40 to 60`.
pub(crate) fn range([lower, upper]: [f64; 2]) -> String {
    let [lower, upper] = [lower, upper].map(|end| of_span(end, upper - lower, 2));
    format!("{lower} to {upper}")
}

/// A number with all its digits, with a power of ten where that is shorter.
fn full(value: f64) -> String {
    let digits = DIGITS - 1;
    let short: f64 = format!("{value:.digits$e}").parse().unwrap_or(value);
    let (plain, power) = (format!("{short}"), format!("{short:e}"));
    if plain.len() > power.len() + 2 { power } else { plain }
}

/// A number of things: `1 joint`, `2 joints`.
pub(crate) fn counted(count: usize, thing: &str) -> String {
    format!("{count} {thing}{}", if count == 1 { "" } else { "s" })
}

#[cfg(test)]
mod tests {
    use super::{number, of_span, probability, range};

    #[test]
    fn numbers_lose_idle_zeros_and_signs() {
        assert_eq!(number(42.5, 3), "42.5");
        assert_eq!(number(-0.0001, 3), "0");
        assert_eq!(number(100.0, 0), "100");
        assert_eq!(number(1.0 / 3.0, 3), "0.333");
    }

    #[test]
    fn no_probability_is_zero() {
        let shown = [0.0, 1e-9, 0.000_04, 0.000_06, 0.5].map(probability);
        assert_eq!(shown, ["< 0.0001", "< 0.0001", "< 0.0001", "0.0001", "0.5"]);
    }

    #[test]
    fn a_span_keeps_its_ends_apart_however_narrow_or_far() {
        assert_eq!(range([-40.0, 60.0]), "-40 to 60");
        assert_eq!(range([-43.459_91, 31.483_6]), "-43.46 to 31.48");
        assert_eq!(range([-4e-9, 6e-9]), "-4e-9 to 6e-9");
        assert_eq!(range([0.012, 0.055]), "0.012 to 0.055");
        assert_eq!(range([1e6, 1_000_000.001]), "1000000 to 1000000.001");
        assert_eq!(range([-4e11, 6e11]), "-4e11 to 6e11");
        assert_eq!(of_span(1e-9, 1e-8, 3), "1e-9");
        assert_eq!(of_span(1e-17, 1.0, 3), "0");
    }
}
