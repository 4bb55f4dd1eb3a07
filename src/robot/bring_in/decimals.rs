//! What the numbers of a column show about the character before their decimals.

use super::cell::{digits_before, is_in_thousands, number, split_unit};

/// How sure a mark separates decimals.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
enum Seen {
    /// No number has it.
    #[default]
    Never,
    /// It may group thousands as well.
    Perhaps,
    Surely,
}

/// The marks before decimals in a column.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Decimals {
    point: Seen,
    comma: Seen,
    /// Words stand in the column.
    is_of_words: bool,
    /// Numbers without any mark do.
    has_plain: bool,
    /// The most digits before a mark that may group thousands.
    widest: usize,
}

impl Decimals {
    /// Looks at one more cell, as little as will do.
    pub(super) fn note(&mut self, cell: &str) {
        self.is_of_words = self.is_of_words || cell.starts_with(char::is_alphabetic);
        if self.is_of_words {
            return;
        }
        if !cell.contains(['.', ',']) {
            self.has_plain = true;
            return;
        }
        for (mark, seen) in [('.', &mut self.point), (',', &mut self.comma)] {
            if *seen == Seen::Surely || !cell.contains(mark) {
                continue;
            }
            let (digits, _) = split_unit(cell);
            if is_in_thousands(digits, mark) {
                *seen = Seen::Perhaps;
                self.widest = self.widest.max(digits_before(digits, mark));
            } else if number(digits, None).is_ok() {
                *seen = Seen::Surely;
            }
        }
    }

    /// Whether this mark stands before decimals beyond doubt.
    pub(super) fn are_surely(&self, mark: char) -> bool {
        self.seen(mark) == Seen::Surely
    }

    /// Whether this mark may stand before decimals.
    pub(super) fn may_be(&self, mark: char) -> bool {
        self.seen(mark) > Seen::Never
    }

    /// Whether the column is written as averages of a converter's readings are: all to three decimals, and so that in thousands some
    /// would be more than 99,999, which no converter of 16 bits gives.
    pub(super) fn are_averages(&self) -> bool {
        !self.has_plain && self.widest == 3
    }

    fn seen(&self, mark: char) -> Seen {
        match mark {
            _ if self.is_of_words => Seen::Never,
            '.' => self.point,
            _ => self.comma,
        }
    }
}
