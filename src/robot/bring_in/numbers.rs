//! The numbers in the cells of a table, and why a cell holds none.

use std::format;
use std::string::String;
use std::vec::Vec;

use super::super::source::DriveUnit;
use super::cell::{NoNumber, Separator, digits_before, is_in_thousands, number, split_unit, ungrouped};
use super::decimals::Decimals;
use super::heading::{Heading, is_unit, word};
use super::table::Table;
use super::table_error::{Remedy, TableError};

/// What the numbers of a column are, where they are mostly whole.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Whole {
    /// Pulse widths in us.
    Pulses,
    /// Timer counts.
    Counts,
    /// Readings of a converter.
    Readings,
}

impl Whole {
    /// What was commanded, by its unit.
    pub(super) const fn of_drive(unit: DriveUnit) -> Option<Self> {
        match unit {
            DriveUnit::Us => Some(Self::Pulses),
            DriveUnit::Counts => Some(Self::Counts),
            DriveUnit::Deg | DriveUnit::Ms => None,
        }
    }

    /// What a heading says by itself.
    pub(super) fn of(heading: &Heading) -> Option<Self> {
        if heading.is_of_counts() {
            return Some(Self::Readings);
        }
        heading.drive_unit().ok().and_then(Self::of_drive)
    }

    /// What a sensor read: numbers of a converter, unless their heading has another unit.
    pub(super) fn of_feedback(heading: &Heading) -> Option<Self> {
        (heading.is_of_counts() || heading.unit.is_none()).then_some(Self::Readings)
    }

    /// Whether a number that may be in thousands may be meant so.
    fn may_be_in_thousands(self, digits: &str, mark: char, column: &Decimals) -> bool {
        match self {
            // No pulse of a servo has 100,000 us.
            Self::Pulses => digits_before(digits, mark) < 3,
            Self::Counts => true,
            Self::Readings => !column.are_averages(),
        }
    }

    const fn as_str(self) -> &'static str {
        match self {
            Self::Pulses => "pulse widths in us",
            Self::Counts => "timer counts",
            Self::Readings => "readings of a converter",
        }
    }
}

impl Table {
    /// A column of numbers.
    ///
    /// # Errors
    /// [`TableError`] for the first cell that is not a number, and where some decimals have a point and others a comma.
    pub fn numbers(&self, column: usize) -> Result<Vec<f64>, TableError> {
        let whole = self.whole(column);
        self.numbers_of(
            column,
            whole,
            (0..self.rows()).filter_map(|row| u32::try_from(row).ok()),
        )
    }

    /// What a column holds by its heading, where that is mostly whole numbers.
    pub(super) fn whole(&self, column: usize) -> Option<Whole> {
        self.headings.get(column).and_then(Whole::of)
    }

    pub(super) fn numbers_of(
        &self,
        column: usize,
        whole: Option<Whole>,
        rows: impl Iterator<Item = u32>,
    ) -> Result<Vec<f64>, TableError> {
        let mut values = Vec::with_capacity(rows.size_hint().0);
        let mut written = [false; 2];
        for row in rows {
            let row = row as usize;
            let cell = self.cell(row, column);
            let value = self.parsed(row, column, whole, &cell)?;
            written = [written[0] || cell.contains('.'), written[1] || cell.contains(',')];
            if written == [true; 2] {
                return Err(self.cell_error(
                    row,
                    column,
                    "is written otherwise than cells above, some decimals with a point, some with a comma; write all alike",
                ));
            }
            values.push(value);
        }
        Ok(values)
    }

    /// The number in a cell, which holds nothing else: no unit.
    ///
    /// # Errors
    /// [`TableError`] where it is none.
    pub fn number(&self, row: usize, column: usize) -> Result<f64, TableError> {
        self.plain(row, column, self.whole(column), &self.cell(row, column))
    }

    /// The number of a cell, with the column's unit behind it or not.
    fn parsed(&self, row: usize, column: usize, whole: Option<Whole>, cell: &str) -> Result<f64, TableError> {
        let (digits, unit) = split_unit(cell);
        if digits.is_empty() || unit.is_empty() || !is_unit(unit) {
            return self.plain(row, column, whole, cell);
        }
        let own = self.headings.get(column).map_or("", Heading::unit_of_numbers);
        let unit = word(unit);
        if unit != own && number(digits, self.decimal).is_ok() {
            let what =
                format!("is in {unit}, the column in {own}; write the column in one unit and name that in its heading");
            return Err(self.cell_error(row, column, &what));
        }
        self.plain(row, column, whole, digits)
    }

    pub(super) fn plain(&self, row: usize, column: usize, whole: Option<Whole>, cell: &str) -> Result<f64, TableError> {
        if let Some(error) = self.ambiguous(row, column, whole, cell) {
            return Err(error);
        }
        number(cell, self.decimal).map_err(|why| self.no_number(row, column, why))
    }

    /// Why "1.500" may be one and a half or one thousand five hundred.
    fn ambiguous(&self, row: usize, column: usize, whole: Option<Whole>, number: &str) -> Option<TableError> {
        if self.decimal.is_some() {
            return None;
        }
        let mark = ['.', ','].into_iter().find(|&mark| is_in_thousands(number, mark))?;
        if mark == ',' && self.separator == Separator::Char(mark) {
            let what = "may be a number with a decimal comma or one in thousands; write it with a decimal point or without commas";
            return Some(self.cell_error(row, column, what));
        }
        let own = self.decimals.get(column)?;
        if own.are_surely(mark) {
            return None;
        }
        let (other, [this, that]) = match mark {
            '.' => (',', ["point", "comma"]),
            _ => ('.', ["comma", "point"]),
        };
        let against = || {
            (1..)
                .zip(&self.headings)
                .zip(&self.decimals)
                .filter(|(_, decimals)| decimals.may_be(other))
        };
        let Some(((place, heading), _)) = against().next() else {
            let whole = whole.filter(|whole| whole.may_be_in_thousands(number, mark, own))?;
            let what = format!(
                "may be a decimal number or one in thousands, as {} are mostly whole numbers; write thousands without the {this}",
                whole.as_str()
            );
            return Some(self.cell_error(row, column, &what).or(Remedy::Decimal(mark)));
        };
        let what = format!(
            "may be a decimal number or one in thousands, as column {place} ({}) has numbers with a decimal {that}; \
             write thousands without the {this}, decimals with a {that}",
            heading.name
        );
        let error = self.cell_error(row, column, &what);
        if against().any(|(_, decimals)| decimals.are_surely(other)) {
            return Some(error);
        }
        Some(error.or(Remedy::Decimal(mark)))
    }

    /// The first heading with its unit, of a row that holds nothing but units, as forms have one below their headings.
    fn row_of_units(&self, row: usize) -> Option<String> {
        let mut first = None;
        for (column, heading) in self.headings.iter().enumerate() {
            let cell = self.cell(row, column);
            let bare = cell.trim_matches(['[', ']', '(', ')']);
            let is_bracketed = bare.len() < cell.len() && !bare.contains(|c: char| c.is_ascii_digit());
            if is_bracketed || is_unit(bare) {
                first.get_or_insert_with(|| format!("{} [{}]", heading.base, word(bare)));
            } else if !cell.is_empty() {
                return None;
            }
        }
        first
    }

    /// Whether a row begins with a word, as all below it do, and the one above it with a number.
    fn is_summary(&self, row: usize) -> bool {
        let is_number = |row| number(split_unit(&self.cell(row, 0)).0, None).is_ok();
        let is_word = |row| self.cell(row, 0).starts_with(char::is_alphabetic);
        row.checked_sub(1).is_some_and(is_number) && (row..self.rows()).all(is_word)
    }

    fn no_number(&self, row: usize, column: usize, why: NoNumber) -> TableError {
        if matches!(why, NoNumber::Empty | NoNumber::Other)
            && let Some(example) = self.row_of_units(row)
        {
            let what = format!(
                "is in a row of units; write each unit into its heading, as in {example}, and take this row out"
            );
            return self.cell_error(row, column, &what);
        }
        if matches!(why, NoNumber::Empty | NoNumber::Other) && self.is_summary(row) {
            let what = "begins a row that looks like a summary of those above, such as their mean or total; take the row out, or begin it with #";
            return self.cell_error(row, 0, what);
        }
        let what = match why {
            NoNumber::Empty => "holds nothing; write a number or leave the row out",
            NoNumber::NotFinite => "is not a finite number; leave the row out or take the reading again",
            NoNumber::Point => {
                "holds a point, where decimals have a comma; write thousands without the point, decimals with a comma"
            }
            NoNumber::Comma => {
                let what = "is written with a comma; use a decimal point";
                return self.cell_error(row, column, what).or(Remedy::Decimal(','));
            }
            NoNumber::Other => {
                let cell = self.cell(row, column);
                let (digits, unit) = split_unit(&cell);
                if let Some(plain) = ungrouped(&cell) {
                    let what = format!("has separators of thousands; write it without them: {plain}");
                    return self.cell_error(row, column, &what);
                }
                if is_unit(unit) && number(digits, self.decimal).is_ok() {
                    let what = format!("is a number with a unit; write the number without it: {digits}");
                    return self.cell_error(row, column, &what);
                }
                "is not a number; write what was read, such as 42.5, or leave the row out"
            }
        };
        self.cell_error(row, column, what)
    }
}
