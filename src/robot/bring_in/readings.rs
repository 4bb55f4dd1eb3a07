//! Readings out of a table.

use std::format;
use std::string::String;
use std::vec::Vec;

use super::super::date::Date;
use super::super::source::DriveUnit;
use super::columns::ReadingColumns;
use super::groups::RowGroups;
use super::heading::{Heading, unit_named};
use super::numbers::Whole;
use super::table::Table;
use super::table_error::{Remedy, TableError};
use crate::code::Code;
use crate::fit::{Approach, ContactMark};

/// The readings of some rows.
#[derive(Debug, Clone, PartialEq, Default)]
#[non_exhaustive]
pub struct TableReadings {
    /// What was commanded, as it stands.
    pub drive: Vec<f64>,
    /// What was measured, as it stands.
    pub measured: Vec<f64>,
    /// From which side each was reached; None where the column is not there, or blank in all these rows.
    pub approach: Option<Vec<Approach>>,
    /// Where a stop was touched.
    pub contact: Option<Vec<ContactMark>>,
    /// Standard uncertainty of each.
    pub u: Option<Vec<f64>>,
    /// When each was taken, s.
    pub time: Option<Vec<f64>>,
    /// The line of each.
    pub lines: Vec<u32>,
    /// The unit of what was commanded.
    pub drive_unit: DriveUnit,
    /// The unit of the measured values in their heading; `counts` too where the name speaks of a converter.
    pub measured_unit: Option<String>,
    /// A column of words by which the rows may belong to different joints, where nothing shows whether they do.
    pub groups: Option<RowGroups>,
}

/// Rows from which on a column that counts them is no drive.
const LEAST_NUMBERED: usize = 4;
/// Rows above a last one from which on that is no reading, where it holds the sum of each column.
const LEAST_SUMMED: usize = 4;

/// The usual names of the two columns that readings must have.
const DRIVE: &str = "drive";
const MEASURED: &str = "measured";
/// The usual name of the column of sides.
const APPROACH: &str = "approach";

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
        let optional = |name: Option<&str>, part: &'static str| match name {
            Some(name) => self.part(name, part).map(Some),
            None => Ok(self.column(part).ok().filter(|_| self.has_header())),
        };
        let drive = self
            .drive_of(columns)
            .map_err(|error| self.all_missing(columns).unwrap_or(error))?;
        let drive_unit = columns.drive_unit.map_or_else(|| self.drive_unit(drive), Ok)?;
        let measured = self.measured_of(columns, drive)?;
        let mut approach = optional(columns.approach, APPROACH)?;
        // Without a header a column of sides behind the measured one is known by its words.
        if approach.is_none() && !self.has_header() && self.rows() > 0 {
            approach = Some(measured + 1).filter(|&at| {
                !self.cell(0, at).is_empty() && self.word(0, at, Approach::named, Approach::WORDS).is_ok()
            });
        }
        let contact = optional(columns.contact, "contact")?;
        let u = optional(columns.u, "u")?;
        let time = optional(columns.time, "time")?;
        let rows = self.matching(only)?;
        self.check_asked(only, columns)?;
        if rows.is_empty() {
            let sentence = "the table has a header and no rows; write one row for each reading";
            return Err(TableError::new(Code::TooFewReadings, Some(1), sentence));
        }
        let numbers_as = |at: usize, whole| self.numbers_of(at, whole, rows.iter().copied());
        let numbers = |at: usize| numbers_as(at, self.whole(at));
        let unit = |at: usize| self.headings().get(at).and_then(|heading| heading.unit.clone());
        let unit_of_time = time.and_then(unit);
        let in_ms = columns
            .time_in_ms
            .unwrap_or_else(|| unit_of_time.as_deref() == Some("ms"));
        let is_said = columns.time_in_ms.is_some() || unit_of_time.is_some();
        let measured_unit = match columns.measured_unit {
            Some(unit) => Some(unit.into()),
            None => self.measured_unit(measured)?,
        };
        let in_use = [Some(drive), Some(measured), approach, contact, u, time];
        let is_free = |at: &usize| !in_use.contains(&Some(*at));
        let [drive, measured] = [numbers_as(drive, Whole::of_drive(drive_unit))?, numbers(measured)?];
        if let Some(&last) = rows.last()
            && is_sum(&drive)
            && is_sum(&measured)
            && is_outermost(&drive)
        {
            let sentence = "the last row holds the sum of each column above it; take the row of sums out";
            return Err(TableError::new(Code::FileSyntax, self.line(last as usize), sentence));
        }
        let free: Vec<usize> = (0..self.headings().len()).filter(is_free).collect();
        let groups = self.groups(&free, &rows, [&drive, &measured], columns)?;
        let sides = approach.map(|at| self.words(&rows, at, Approach::named, Approach::WORDS));
        Ok(TableReadings {
            groups,
            drive,
            measured,
            // The rows of one joint may be blank in a column that others need.
            approach: sides.transpose()?.filter(|sides| Approach::is_any_known(sides)),
            contact: contact
                .map(|at| self.words(&rows, at, ContactMark::named, ContactMark::WORDS))
                .transpose()?,
            u: u.map(numbers).transpose()?,
            time: time.map(|at| self.seconds(&rows, at, in_ms, is_said)).transpose()?,
            lines: rows.iter().filter_map(|&row| self.line(row as usize)).collect(),
            drive_unit,
            measured_unit,
        })
    }

    fn drive_of(&self, columns: &ReadingColumns<'_>) -> Result<usize, TableError> {
        match columns.drive {
            Some(name) => self.part(name, DRIVE),
            None => self.drive_column(),
        }
    }

    fn measured_of(&self, columns: &ReadingColumns<'_>, drive: usize) -> Result<usize, TableError> {
        match columns.measured {
            // Beside a drive that was named elsewhere nothing says where it is.
            None if !self.has_header() && self.headings().len() > 1 && drive == 0 => Ok(1),
            name => self.part(name.unwrap_or(MEASURED), MEASURED),
        }
    }

    /// Where drive and measured values stand, as far as that is known.
    pub(super) fn places(&self, columns: &ReadingColumns<'_>) -> [Option<usize>; 2] {
        let drive = self.drive_of(columns).ok();
        // No header's second column is meant where the drive is not known.
        [drive, self.measured_of(columns, drive.unwrap_or(usize::MAX)).ok()]
    }

    /// One column of numbers, of the rows that hold all these values.
    ///
    /// # Errors
    /// As [`Table::readings`].
    pub fn numbers_where(&self, name: &str, only: &[(String, String)]) -> Result<Vec<f64>, TableError> {
        let at = self.column(name)?;
        self.numbers_of(at, self.whole(at), self.matching(only)?.into_iter())
    }

    /// The column of what a sensor read, of the rows that hold all these values: a converter's numbers, unless its heading has another
    /// unit.
    ///
    /// # Errors
    /// As [`Table::readings`].
    pub fn feedback(&self, name: &str, only: &[(String, String)]) -> Result<Vec<f64>, TableError> {
        let at = self.column(name)?;
        let whole = self.headings().get(at).and_then(Whole::of_feedback);
        self.numbers_of(at, whole, self.matching(only)?.into_iter())
    }

    /// The column of what was commanded: `drive`, else the only one whose name alone says that it holds what a servo was sent (`counts`,
    /// `pulse`, `pulse_us`), else the first where there is no header, unless that only numbers the rows.
    ///
    /// # Errors
    /// [`TableError`], with the names there are.
    pub fn drive_column(&self) -> Result<usize, TableError> {
        if !self.has_header() && !self.headings().is_empty() {
            return match self.running_number() {
                Some(error) => Err(error),
                None => Ok(0),
            };
        }
        self.part(DRIVE, DRIVE).or_else(|error| {
            let mut found = (0..).zip(self.headings()).filter(|(_, heading)| heading.is_of_pulses());
            match (found.next(), found.next()) {
                (Some((only, _)), None) => Ok(only),
                _ => Err(error),
            }
        })
    }

    /// Why the first column of a table without a header is no drive: it counts the rows of a table that has two more of numbers.
    fn running_number(&self) -> Option<TableError> {
        if self.rows() < LEAST_NUMBERED {
            return None;
        }
        let is_number = |row: usize, column: usize| self.number(row, column).is_ok();
        let first = self.number(0, 0).ok().filter(|first| [0.0, 1.0].contains(first))?;
        let is_numbered = |row: usize| self.number(row, 0) == Ok(first + row as f64);
        let is_one = (0..self.rows()).all(|row| is_numbered(row) && is_number(row, 1) && is_number(row, 2));
        is_one.then(|| {
            let sentence = "the table has no header, and its first column seems to number the rows; write a header such as \
                            number,drive,measured, or call columns 1, 2, 3 and so on";
            TableError::new(Code::FileSyntax, self.line(0), sentence).or(Remedy::Column(Some(DRIVE)))
        })
    }

    /// The unit of drive values in a column, by its heading; deg where that says nothing.
    ///
    /// # Errors
    /// [`TableError`] for another unit than those of [`DriveUnit`].
    ///
    /// ```
    /// use elbowroom::robot::{DriveUnit, Table, TableOptions};
    /// let table = Table::parse(b"counts,pulse_us,drive,drive [rad]\n205,1000,45,0.79\n".to_vec(), TableOptions::default())?;
    /// let units: Vec<_> = (0..4).map(|column| table.drive_unit(column).ok()).collect();
    /// assert_eq!(units, [Some(DriveUnit::Counts), Some(DriveUnit::Us), Some(DriveUnit::Deg), None]);
    /// # Ok::<(), elbowroom::robot::TableError>(())
    /// ```
    pub fn drive_unit(&self, column: usize) -> Result<DriveUnit, TableError> {
        let unit = self
            .headings()
            .get(column)
            .map_or(Ok(DriveUnit::default()), Heading::drive_unit);
        unit.map_err(|unit| {
            let known = DriveUnit::ALL.map(DriveUnit::as_str).join(", ");
            let sentence = format!(
                "the unit in the heading of the drive column is {unit}; write drive angles in deg, or one of {known}, and change the \
                 heading"
            );
            self.heading_error(column, Code::UnknownWord, sentence).or(Remedy::DriveUnit)
        })
    }

    /// The unit of measured values in a column, by its heading: the word of robot files where there is one, and `counts` where the name
    /// speaks of a converter.
    ///
    /// # Errors
    /// [`TableError`] for a word that may be one of two units.
    pub fn measured_unit(&self, column: usize) -> Result<Option<String>, TableError> {
        let Some(heading) = self.headings().get(column) else {
            return Ok(None);
        };
        if heading.is_of_counts() {
            return Ok(Some(DriveUnit::Counts.as_str().into()));
        }
        let unit = heading.unit.as_deref().map(unit_named).transpose();
        unit.map_err(|ambiguous| {
            let name = &heading.name;
            let sentence = format!("column {} ({name}): the unit {ambiguous}", column + 1);
            self.heading_error(column, Code::UnknownWord, sentence)
        })
    }

    /// The column of this name, which holds this part of the readings.
    fn part(&self, name: &str, part: &'static str) -> Result<usize, TableError> {
        self.column(name).map_err(|error| match error.remedy {
            Remedy::Column(_) => error.or(Remedy::Column(Some(part))),
            _ => error,
        })
    }

    /// The refusal where neither the drive nor what was measured is found: both, with the column of sides if there is one.
    fn all_missing(&self, columns: &ReadingColumns<'_>) -> Option<TableError> {
        let (drive, measured) = (columns.drive.unwrap_or(DRIVE), columns.measured.unwrap_or(MEASURED));
        if !self.has_header() || self.headings().len() < 2 || self.column(measured).is_ok() {
            return None;
        }
        // Readings can do without their sides; where those stand is told, and not asked.
        let holds_sides = |at: &usize| {
            let values = self.values(*at);
            let mut words = values.iter().filter(|value| !value.is_empty()).peekable();
            words.peek().is_some() && words.all(|word| Approach::named(word).is_some())
        };
        let is_untold = columns.approach.is_none() && self.column(APPROACH).is_err();
        let sides = (0..self.headings().len()).find(|at| is_untold && holds_sides(at));
        let known: Vec<&str> = self.headings().iter().map(|heading| heading.name.as_str()).collect();
        let sentence = format!(
            "no columns are named \"{drive}\" and \"{measured}\" (there are: {})",
            known.join(", ")
        );
        let remedy = self.separator_within(&[drive, measured]).map_or_else(
            || Remedy::Columns {
                parts: [DRIVE, MEASURED].into(),
                sides: sides.map(|at| self.name_of(at)),
            },
            Remedy::Separator,
        );
        Some(self.header_error(sentence).or(remedy))
    }

    fn words<T: Copy>(
        &self,
        rows: &[u32],
        at: usize,
        named: fn(&str) -> Option<T>,
        words: &[(&str, T)],
    ) -> Result<Vec<T>, TableError> {
        let word = |&row: &u32| self.word(row as usize, at, named, words);
        rows.iter().map(word).collect()
    }

    fn word<T: Copy>(
        &self,
        row: usize,
        at: usize,
        named: fn(&str) -> Option<T>,
        words: &[(&str, T)],
    ) -> Result<T, TableError> {
        named(&self.cell(row, at)).ok_or_else(|| {
            let known: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
            let what = format!("is not known; write one of {}, or nothing", known.join(", "));
            self.cell_error(row, at, &what)
        })
    }

    /// Moments in s: numbers, a clock's hours, minutes and seconds, or the same behind a date, counted from the first row's day.
    /// Numbers that are rather days of a spreadsheet are refused, unless the unit is said.
    fn seconds(&self, rows: &[u32], at: usize, in_ms: bool, is_said: bool) -> Result<Vec<f64>, TableError> {
        let mut first: Option<Date> = None;
        let mut of = |&row: &u32| {
            let row = row as usize;
            let cell = self.cell(row, at);
            if cell.contains(':') {
                let wrong = || {
                    let what = "is not a time; write seconds such as 12.5, or h:mm:ss, with a day before it as in 2026-11-20 14:00:00 if needed";
                    self.cell_error(row, at, what)
                };
                let (date, clock) = dated(&cell).ok_or_else(wrong)?;
                let seconds = of_clock(clock).ok_or_else(wrong)?;
                let days = date.map_or(0, |date| date.days_since(*first.get_or_insert(date)));
                return Ok(days as f64 * SECONDS_A_DAY + seconds);
            }
            let number = self.plain(row, at, None, &cell)?;
            Ok(if in_ms { number / 1000.0 } else { number })
        };
        let times: Vec<f64> = rows.iter().map(&mut of).collect::<Result<_, _>>()?;
        if !is_said
            && let Some((day, clock)) = serial(&times)
            && let Some(&first) = rows.first()
        {
            let (hours, minutes, seconds) = (clock / 3600, clock / 60 % 60, clock % 60);
            let what = format!(
                "looks like the number that a spreadsheet has for {day} {hours:02}:{minutes:02}:{seconds:02}; give the column the format \
                 hh:mm:ss there and save it again, or name the unit in its heading, as in time [s], if these are seconds"
            );
            return Err(self.cell_error(first as usize, at, &what));
        }
        Ok(times)
    }
}

const SECONDS_A_DAY: f64 = 86_400.0;
/// Days by the number that a spreadsheet has for them, which is 1 for 1899-12-31: those of 2000 to 2099.
const SERIAL_DAYS: core::ops::Range<f64> = 36_526.0..73_051.0;
/// Mean time between readings below which it is none in s: a joint read 200 times a second. In days it is 7 minutes.
const LEAST_STEP_S: f64 = 0.005;

/// Whether the last value is the sum of those before it.
fn is_sum(values: &[f64]) -> bool {
    let Some((&last, above)) = values.split_last().filter(|(_, above)| above.len() >= LEAST_SUMMED) else {
        return false;
    };
    let sum: f64 = above.iter().sum();
    let size: f64 = above.iter().map(|value| value.abs()).sum();
    (last - sum).abs() <= 1e-9 * size
}

/// Whether the last value lies beyond all before it.
fn is_outermost(values: &[f64]) -> bool {
    values
        .split_last()
        .is_some_and(|(last, above)| above.iter().all(|value| value.abs() < last.abs()))
}

/// The first moment of times that are days of a spreadsheet, and no seconds: all of them in one day of these decades, closer together
/// than a joint is read by the second.
fn serial(times: &[f64]) -> Option<(Date, u32)> {
    let (&first, &least, &most) = (
        times.first()?,
        times.iter().min_by(|a, b| a.total_cmp(b))?,
        times.iter().max_by(|a, b| a.total_cmp(b))?,
    );
    let steps = times.len().checked_sub(1).filter(|steps| *steps > 0)?;
    let is_one = SERIAL_DAYS.contains(&least) && SERIAL_DAYS.contains(&most) && most - least < 1.0;
    let is_close = (most - least) / (steps as f64) < LEAST_STEP_S;
    let has_clock = times.iter().any(|time| time.fract() != 0.0);
    if !(is_one && is_close && has_clock) {
        return None;
    }
    let epoch = Date::new(1899, 12, 30)?;
    let day = epoch.after(first.floor() as i64)?;
    Some((day, (first.fract() * SECONDS_A_DAY).round() as u32))
}

/// The date before a clock, if there is one, and the clock: `2026-11-20 14:00:00`, with `T` for the blank and a `Z` behind it or without.
fn dated(cell: &str) -> Option<(Option<Date>, &str)> {
    let Some((date, clock)) = cell.split_once(['T', 't', ' ']) else {
        return Some((None, cell));
    };
    let clock = clock.trim();
    let clock = clock.strip_suffix(['Z', 'z']).unwrap_or(clock);
    date.parse().ok().map(|date| (Some(date), clock))
}

/// The seconds of a clock's hours, minutes and seconds.
fn of_clock(cell: &str) -> Option<f64> {
    let [hours, minutes, seconds] = *cell.split(':').collect::<Vec<_>>() else {
        return None;
    };
    let (hours, minutes) = (hours.parse::<u8>().ok()?, minutes.parse::<u8>().ok()?);
    let seconds = seconds.replacen(',', ".", 1).parse::<f64>().ok()?;
    let is_time = minutes < 60 && (0.0..61.0).contains(&seconds);
    is_time.then_some(f64::from(hours) * 3600.0 + f64::from(minutes) * 60.0 + seconds)
}
