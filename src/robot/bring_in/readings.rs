//! Readings out of a table.

use std::string::String;
use std::vec::Vec;

use super::table::{Table, TableError};
use crate::code::Code;
use crate::fit::{Approach, ContactMark};

/// Which columns hold what; without a name the usual ones are taken where they are there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[non_exhaustive]
pub struct ReadingColumns<'a> {
    /// What was commanded; `drive`.
    pub drive: Option<&'a str>,
    /// What was measured; `measured`.
    pub measured: Option<&'a str>,
    /// From which side a position was reached; `approach`.
    pub approach: Option<&'a str>,
    /// Where a stop was touched; `contact`.
    pub contact: Option<&'a str>,
    /// Standard uncertainty of each reading; `u`.
    pub u: Option<&'a str>,
    /// When each reading was taken; `time`.
    pub time: Option<&'a str>,
    /// The times are in ms; by the column's unit if not said.
    pub time_in_ms: Option<bool>,
}

impl<'a> ReadingColumns<'a> {
    /// The usual columns, but for these two.
    pub const fn new(drive: Option<&'a str>, measured: Option<&'a str>) -> Self {
        Self {
            drive,
            measured,
            approach: None,
            contact: None,
            u: None,
            time: None,
            time_in_ms: None,
        }
    }
}

/// The readings of some rows.
#[derive(Debug, Clone, PartialEq, Default)]
#[non_exhaustive]
pub struct TableReadings {
    /// What was commanded, as it stands.
    pub drive: Vec<f64>,
    /// What was measured, as it stands.
    pub measured: Vec<f64>,
    /// From which side each was reached.
    pub approach: Option<Vec<Approach>>,
    /// Where a stop was touched.
    pub contact: Option<Vec<ContactMark>>,
    /// Standard uncertainty of each.
    pub u: Option<Vec<f64>>,
    /// When each was taken, s.
    pub time: Option<Vec<f64>>,
    /// The line of each.
    pub lines: Vec<u32>,
    /// The unit of the drive in its heading.
    pub drive_unit: Option<String>,
    /// The unit of the measured values in their heading; `counts` too where the name speaks of a converter.
    pub measured_unit: Option<String>,
}

const APPROACHES: &[(&str, Approach)] = &[
    ("below", Approach::Below),
    ("above", Approach::Above),
    ("up", Approach::Below),
    ("down", Approach::Above),
    ("unknown", Approach::Unknown),
    ("", Approach::Unknown),
];
const CONTACTS: &[(&str, ContactMark)] = &[
    ("here", ContactMark::Here),
    ("lower", ContactMark::Lower),
    ("upper", ContactMark::Upper),
    ("none", ContactMark::None),
    ("", ContactMark::None),
];

impl Table {
    /// The readings of the rows that hold all these values.
    ///
    /// # Errors
    /// [`TableError`] for a column that is not there and for the first cell that cannot be read.
    pub fn readings(
        &self,
        columns: &ReadingColumns<'_>,
        only: &[(String, String)],
    ) -> Result<TableReadings, TableError> {
        let usual = |name: Option<&str>, usual: &str, place: usize| match name {
            Some(name) => self.column(name),
            None if !self.has_header() && place < self.headings().len() => Ok(place),
            None => self.column(usual),
        };
        let optional = |name: Option<&str>, usual: &str| match name {
            Some(name) => self.column(name).map(Some),
            None => Ok(self.column(usual).ok().filter(|_| self.has_header())),
        };
        let drive = usual(columns.drive, "drive", 0)?;
        let measured = usual(columns.measured, "measured", 1)?;
        let mut approach = optional(columns.approach, "approach")?;
        // Without a header a third column of sides is known by its words.
        if approach.is_none() && !self.has_header() && self.rows() > 0 {
            approach = Some(2).filter(|&at| ["below", "above", "up", "down"].contains(&&*self.cell(0, at)));
        }
        let contact = optional(columns.contact, "contact")?;
        let u = optional(columns.u, "u")?;
        let time = optional(columns.time, "time")?;
        let rows = self.matching(only)?;
        if rows.is_empty() {
            let sentence = "the table has a header and no rows; write one row for each reading";
            return Err(TableError::new(Code::TooFewReadings, Some(1), sentence));
        }
        let numbers = |at: usize| self.numbers_of(at, rows.iter().copied());
        let unit = |at: usize| self.headings().get(at).and_then(|heading| heading.unit.clone());
        let in_ms = columns
            .time_in_ms
            .unwrap_or_else(|| time.and_then(unit).is_some_and(|unit| unit == "ms"));
        let of_counts = self
            .headings()
            .get(measured)
            .is_some_and(|heading| heading.is_of_counts());
        Ok(TableReadings {
            drive: numbers(drive)?,
            measured: numbers(measured)?,
            approach: approach.map(|at| self.words(&rows, at, APPROACHES)).transpose()?,
            contact: contact.map(|at| self.words(&rows, at, CONTACTS)).transpose()?,
            u: u.map(numbers).transpose()?,
            time: time.map(|at| self.seconds(&rows, at, in_ms)).transpose()?,
            lines: rows.iter().filter_map(|&row| self.line(row as usize)).collect(),
            drive_unit: unit(drive),
            measured_unit: if of_counts {
                Some("counts".into())
            } else {
                unit(measured)
            },
        })
    }

    /// One column of numbers, of the rows that hold all these values.
    ///
    /// # Errors
    /// As [`Table::readings`].
    pub fn numbers_where(&self, name: &str, only: &[(String, String)]) -> Result<Vec<f64>, TableError> {
        self.numbers_of(self.column(name)?, self.matching(only)?.into_iter())
    }

    fn words<T: Copy>(&self, rows: &[u32], at: usize, words: &[(&str, T)]) -> Result<Vec<T>, TableError> {
        let of = |&row: &u32| {
            let cell = self.cell(row as usize, at);
            let found = words.iter().find(|(word, _)| *word == cell);
            found.map(|&(_, value)| value).ok_or_else(|| {
                let known: Vec<&str> = words
                    .iter()
                    .map(|(word, _)| *word)
                    .filter(|word| !word.is_empty())
                    .collect();
                let what = std::format!("is not known; write one of {}, or nothing", known.join(", "));
                self.cell_error(row as usize, at, &what)
            })
        };
        rows.iter().map(of).collect()
    }

    /// Moments in s: numbers, or a clock's hours, minutes and seconds.
    fn seconds(&self, rows: &[u32], at: usize, in_ms: bool) -> Result<Vec<f64>, TableError> {
        let of = |&row: &u32| {
            let row = row as usize;
            let cell = self.cell(row, at);
            if let [hours, minutes, seconds] = *cell.split(':').collect::<Vec<_>>() {
                let seconds = seconds.replacen(',', ".", 1).parse::<f64>();
                return match (hours.parse::<u8>(), minutes.parse::<u8>(), seconds) {
                    (Ok(hours), Ok(minutes), Ok(seconds)) if minutes < 60 && (0.0..61.0).contains(&seconds) => {
                        Ok(f64::from(hours) * 3600.0 + f64::from(minutes) * 60.0 + seconds)
                    }
                    _ => Err(self.cell_error(row, at, "is not a time; write seconds such as 12.5, or h:mm:ss")),
                };
            }
            let number = self.number(row, at)?;
            Ok(if in_ms { number / 1000.0 } else { number })
        };
        rows.iter().map(of).collect()
    }
}
