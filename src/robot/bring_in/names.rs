//! Columns that name whose reading a row is: each row with a reading has a name, and each name is written in one way.
//!
//! A spreadsheet that merges the cells of a joint keeps the name in the first row alone. Such rows, left out in silence, would take the
//! upper half of a sweep away, and with it a stop.

use std::borrow::ToOwned as _;
use std::collections::BTreeMap;
use std::format;
use std::string::{String, ToString as _};
use std::vec::Vec;

use super::columns::ReadingColumns;
use super::groups::is_of_joints;
use super::table::Table;
use super::table_error::TableError;
use crate::code::Code;

/// Runs of rows that are named in a refusal.
const MOST_RUNS: usize = 4;

/// What is wrong with the names of a column that says whose reading each row is.
///
/// ```
/// use elbowroom::robot::NamesFault;
/// let fault = NamesFault::of([(2, "beak"), (3, ""), (4, " ")]).unwrap();
/// assert_eq!(
///     fault.sentence("joint", "line"),
///     "column joint holds nothing in lines 3 and 4, where readings stand; write the joint's name in each row, since merged cells keep it in the first one only"
/// );
/// let fault = NamesFault::of([(2, "beak"), (3, "Beak"), (4, "Beak")]).unwrap();
/// assert_eq!(fault, NamesFault::Alike { row: 2, name: "beak".into(), meant: "Beak".into() });
/// assert_eq!(NamesFault::of([(2, "beak"), (3, "tail")]), None);
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum NamesFault {
    /// Rows with a reading have no name.
    Missing {
        /// These rows, by the numbers that they were given with.
        rows: Vec<u32>,
    },
    /// A name differs from another one in capitals and in blanks at its ends alone.
    Alike {
        /// The first row that has it.
        row: u32,
        /// The name.
        name: String,
        /// The other one, which stands in more rows, or in as many and first.
        meant: String,
    },
}

/// One way to write a name.
struct Written {
    name: String,
    first: u32,
    count: usize,
}

impl NamesFault {
    /// The fault of the names of rows that hold readings, each with a number that names its row; `None` where there is none.
    pub fn of<N: AsRef<str>>(rows: impl IntoIterator<Item = (u32, N)>) -> Option<Self> {
        let mut missing = Vec::new();
        // By the name without what makes no other one of it.
        let mut known: BTreeMap<String, Vec<Written>> = BTreeMap::new();
        let mut last = String::new();
        let mut same = 0;
        let mut note = |name: &str, first: u32, count: usize| {
            let ways = known.entry(plain(name)).or_default();
            match ways.iter_mut().find(|way| way.name == name) {
                Some(way) => way.count += count,
                None => ways.push(Written {
                    name: name.to_owned(),
                    first,
                    count,
                }),
            }
        };
        let mut first = 0;
        for (row, name) in rows {
            let name = name.as_ref();
            if name.trim().is_empty() {
                missing.push(row);
                continue;
            }
            if same > 0 && name == last {
                same += 1;
                continue;
            }
            if same > 0 {
                note(&last, first, same);
            }
            last.clear();
            last.push_str(name);
            (first, same) = (row, 1);
        }
        if same > 0 {
            note(&last, first, same);
        }
        if !missing.is_empty() {
            return Some(Self::Missing { rows: missing });
        }
        let odd = |ways: &Vec<Written>| {
            let most = ways.iter().map(|way| way.count).max()?;
            let meant = ways.iter().find(|way| way.count == most)?;
            let other = ways.iter().find(|way| way.name != meant.name)?;
            Some((other.first, other.name.clone(), meant.name.clone()))
        };
        let (row, name, meant) = known.values().filter_map(odd).min_by_key(|(row, ..)| *row)?;
        Some(Self::Alike { row, name, meant })
    }

    /// The first row that has it.
    pub fn row(&self) -> Option<u32> {
        match self {
            Self::Missing { rows } => rows.first().copied(),
            Self::Alike { row, .. } => Some(*row),
        }
    }

    /// What is wrong and what would be right, by the column's name and by what its rows are called, e.g. `line`.
    pub fn sentence(&self, column: &str, row: &str) -> String {
        match self {
            Self::Missing { rows } => {
                let (s, stands) = match rows.len() {
                    1 => ("", "a reading stands"),
                    _ => ("s", "readings stand"),
                };
                format!(
                    "column {column} holds nothing in {row}{s} {}, where {stands}; write the joint's name in each row, since merged cells \
                     keep it in the first one only",
                    runs(rows)
                )
            }
            Self::Alike { name, meant, .. } => format!(
                "column {column} holds \"{name}\" beside \"{meant}\", which differs in capitals or blanks alone; did you mean {meant}? write \
                 it alike in each row"
            ),
        }
    }
}

fn plain(name: &str) -> String {
    name.trim().to_lowercase()
}

/// Numbers of rows as people say them: `4 to 7, 9 and 12`.
fn runs(rows: &[u32]) -> String {
    let mut runs: Vec<(u32, u32)> = Vec::new();
    for &row in rows {
        match runs.last_mut() {
            Some((_, last)) if last.checked_add(1) == Some(row) => *last = row,
            _ => runs.push((row, row)),
        }
    }
    let mut named: Vec<String> = Vec::new();
    for &(first, last) in &runs {
        match last - first {
            0 => named.push(first.to_string()),
            1 => named.extend([first.to_string(), last.to_string()]),
            _ => named.push(format!("{first} to {last}")),
        }
    }
    if named.len() > MOST_RUNS {
        named.truncate(MOST_RUNS);
        return format!("{} and so on, {} in all", named.join(", "), rows.len());
    }
    match named.split_last() {
        Some((last, before)) if !before.is_empty() => format!("{} and {last}", before.join(", ")),
        _ => named.concat(),
    }
}

impl Table {
    /// The different names of a column that says whose reading each row is, in the order in which they come.
    ///
    /// # Errors
    /// [`TableError`] where a row with a reading has no name, and where a name is written in two ways.
    ///
    /// ```
    /// use elbowroom::robot::{ReadingColumns, Table, TableOptions};
    /// let table = Table::parse(b"joint,drive,measured\nbeak,10,1\n,20,2\n".to_vec(), TableOptions::default())?;
    /// let refused = table.names(0, &ReadingColumns::default()).unwrap_err();
    /// assert_eq!(refused.line, Some(3));
    /// # Ok::<(), elbowroom::robot::TableError>(())
    /// ```
    pub fn names(&self, column: usize, columns: &ReadingColumns<'_>) -> Result<Vec<String>, TableError> {
        let rows = (0..self.rows()).filter_map(|row| u32::try_from(row).ok());
        self.check_names(column, rows, columns, |_| true)?;
        let mut names = self.values(column);
        names.retain(|name| !name.is_empty());
        Ok(names)
    }

    /// Refuses rows without a name where those of one joint are asked for by it.
    pub(super) fn check_asked(
        &self,
        only: &[(String, String)],
        columns: &ReadingColumns<'_>,
    ) -> Result<(), TableError> {
        for (index, (name, value)) in only.iter().enumerate() {
            let at = self.column(name)?;
            let heading = self.headings().get(at).filter(|_| self.has_header());
            let is_joint = |joint: &str| joint == value.as_str();
            if !heading.is_some_and(|heading| is_of_joints(&heading.base))
                && !columns.joint.is_some_and(is_joint)
                && !columns.joints.iter().any(|joint| is_joint(joint))
            {
                continue;
            }
            // Rows of another robot, say, have names of their own.
            let mut others = only.to_vec();
            others.remove(index);
            let wanted = plain(value);
            let concerns = |cell: &str| cell.trim().is_empty() || plain(cell) == wanted;
            self.check_names(at, self.matching(&others)?.into_iter(), columns, concerns)?;
        }
        Ok(())
    }

    fn check_names(
        &self,
        column: usize,
        rows: impl Iterator<Item = u32>,
        columns: &ReadingColumns<'_>,
        concerns: impl Fn(&str) -> bool,
    ) -> Result<(), TableError> {
        let [drive, measured] = self.places(columns);
        // Where the readings stand elsewhere, any number may be one.
        let places: Vec<usize> = match (drive, measured) {
            (None, None) => (0..self.headings().len()).filter(|at| *at != column).collect(),
            (drive, measured) => drive.into_iter().chain(measured).collect(),
        };
        let is_number = |cell: &str| cell.contains(|c: char| c.is_ascii_digit());
        let has_reading = |row: u32| places.iter().any(|&at| is_number(&self.cell(row as usize, at)));
        let named = rows.filter_map(|row| {
            let cell = self.cell(row as usize, column);
            // Asked of few rows only: a name is mostly there.
            (concerns(&cell) && (!cell.is_empty() || has_reading(row))).then_some((row, cell))
        });
        let Some(fault) = NamesFault::of(named) else {
            return Ok(());
        };
        let line = |row: u32| self.line(row as usize).unwrap_or(row);
        let (code, fault) = match fault {
            NamesFault::Missing { rows } => {
                let rows = rows.into_iter().map(line).collect();
                (Code::MissingKey, NamesFault::Missing { rows })
            }
            NamesFault::Alike { row, name, meant } => {
                let row = line(row);
                (Code::UnknownWord, NamesFault::Alike { row, name, meant })
            }
        };
        let heading = self.headings().get(column).map_or("", |heading| heading.name.as_str());
        Err(TableError {
            column: u32::try_from(column + 1).ok(),
            ..TableError::new(code, fault.row(), fault.sentence(heading, "line"))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_said_as_people_say_them() {
        for (rows, said) in [
            (&[7][..], "7"),
            (&[7, 8], "7 and 8"),
            (&[4, 5, 6, 7], "4 to 7"),
            (&[4, 5, 6, 9, 12, 13], "4 to 6, 9, 12 and 13"),
            (&[1, 3, 5, 7, 9, 10, 11], "1, 3, 5, 7 and so on, 7 in all"),
        ] {
            assert_eq!(runs(rows), said);
        }
    }

    #[test]
    fn the_way_that_most_rows_have_is_meant() {
        let alike = |rows: &[(u32, &str)]| match NamesFault::of(rows.iter().copied()) {
            Some(NamesFault::Alike { row, name, meant }) => Some((row, name, meant)),
            _ => None,
        };
        let of = |row, name: &str, meant: &str| Some((row, name.to_owned(), meant.to_owned()));
        assert_eq!(alike(&[(1, "Beak"), (2, "beak "), (3, "Beak")]), of(2, "beak ", "Beak"));
        assert_eq!(alike(&[(1, "beak"), (2, "BEAK"), (3, "tail")]), of(2, "BEAK", "beak"));
        assert_eq!(
            alike(&[(1, "a"), (2, "b"), (3, "B"), (4, "A"), (5, "A")]),
            of(1, "a", "A")
        );
        let both = NamesFault::of([(1, "beak"), (4, "Beak"), (5, "beak")]).unwrap();
        assert_eq!(both.row(), Some(4));
        assert_eq!(alike(&[(1, "b a"), (2, "ba"), (3, "b  a")]), None);
        assert!(NamesFault::of([(1, "")]).is_some() && NamesFault::of::<&str>([]).is_none());
    }
}
