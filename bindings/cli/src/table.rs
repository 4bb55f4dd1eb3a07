//! Readings from a CSV, with every refusal at its line.

use crate::args::{ColumnValue, TableArgs, TimeUnit};
use crate::problem::Problem;
use elbowroom::Code;
use elbowroom::fit::{Approach, ContactMark, Readings};
use std::path::{Path, PathBuf};

/// A CSV with a header, read whole.
pub(crate) struct Table {
    path: PathBuf,
    header: Vec<String>,
    rows: Vec<Row>,
    /// Character before the decimals.
    decimal: char,
    /// SHA-256 of the file.
    pub(crate) sha256: String,
}

struct Row {
    line: u64,
    cells: Vec<String>,
}

/// The readings of some rows.
#[derive(Default)]
pub(crate) struct Columns {
    pub(crate) drive: Vec<f64>,
    pub(crate) measured: Vec<f64>,
    pub(crate) approach: Option<Vec<Approach>>,
    pub(crate) contact: Option<Vec<ContactMark>>,
    /// In s.
    pub(crate) time: Option<Vec<f64>>,
    /// The line of each reading in the file.
    pub(crate) lines: Vec<u64>,
}

impl Columns {
    /// The readings, for a fit.
    pub(crate) fn readings(&self) -> Readings<'_> {
        let mut readings = Readings::new(&self.drive, &self.measured);
        if let Some(approach) = &self.approach {
            readings = readings.with_approach(approach);
        }
        if let Some(contact) = &self.contact {
            readings = readings.with_contact(contact);
        }
        if let Some(time) = &self.time {
            readings = readings.with_time(time);
        }
        readings
    }
}

impl Table {
    pub(crate) fn read(path: &Path, args: &TableArgs) -> Result<Self, Problem> {
        let (separator, decimal) = (args.separator, args.decimal);
        if separator == decimal {
            let message = format!(
                "--decimal \"{decimal}\" separates columns too; give another --separator, e.g. --separator \";\""
            );
            return Err(Problem::new(Code::OptionOutside, message));
        }
        let text = std::fs::read(path).map_err(|error| Problem::access(path, "read", &error))?;
        let sha256 = elbowroom::robot::sha256(&text);
        let Ok(text) = String::from_utf8(text) else {
            return Err(Problem::at(
                Code::FileSyntax,
                path,
                None,
                "not UTF-8 text; save the table as CSV in UTF-8",
            ));
        };
        let text = text.trim_start_matches('\u{feff}');
        if text.trim().is_empty() {
            let message = "the file is empty; write a header such as drive,measured and one row for each reading";
            return Err(Problem::at(Code::TooFewReadings, path, None, message));
        }
        let Ok(separator) = u8::try_from(separator) else {
            return Err(Problem::new(
                Code::OptionOutside,
                "--separator must be one ASCII character",
            ));
        };
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(separator)
            .trim(csv::Trim::All)
            .flexible(true)
            .from_reader(text.as_bytes());
        let faulty = |error: csv::Error| {
            let line = error.position().map(csv::Position::line);
            Problem::at(Code::FileSyntax, path, line, format!("not CSV: {error}"))
        };
        let header: Vec<String> = reader.headers().map_err(faulty)?.iter().map(str::to_owned).collect();
        for (index, name) in header.iter().enumerate() {
            if header.iter().take(index).any(|earlier| earlier == name) {
                let message = format!("the header names column \"{name}\" twice; rename one");
                return Err(Problem::at(Code::FileSyntax, path, Some(1), message));
            }
        }
        let mut rows = Vec::new();
        for record in reader.records() {
            let record = record.map_err(faulty)?;
            let line = record.position().map_or(0, csv::Position::line);
            if record.len() != header.len() {
                let hint = if let Some(other) = other_separator(&header) {
                    other
                } else if record.len() > header.len() && separator == b',' {
                    "is a comma meant as a decimal point, or a separator stray?"
                } else {
                    "the file may be cut off or have a stray separator"
                };
                let message = format!(
                    "the row has {} cells, the header {}; {hint}",
                    record.len(),
                    header.len()
                );
                return Err(Problem::at(Code::LengthMismatch, path, Some(line), message));
            }
            let cells = record.iter().map(str::to_owned).collect();
            rows.push(Row { line, cells });
        }
        Ok(Self {
            path: path.to_owned(),
            header,
            rows,
            decimal,
            sha256,
        })
    }

    fn column(&self, name: &str, option: &str) -> Result<usize, Problem> {
        self.header.iter().position(|known| known == name).ok_or_else(|| {
            let hint = if let Some(other) = other_separator(&self.header) {
                other.to_owned()
            } else if let Some(like) = self.header.iter().find(|known| is_like(known, name)) {
                format!("if \"{like}\" is meant, give {option} \"{like}\"")
            } else {
                format!("name one with {option}")
            };
            let known = self.header.join(", ");
            let message = format!("no column is named \"{name}\" (there are: {known}); {hint}");
            Problem::at(Code::MissingKey, &self.path, Some(1), message)
        })
    }

    /// The rows that hold all these values.
    fn matching(&self, only: &[ColumnValue], option: &str) -> Result<Vec<&Row>, Problem> {
        let mut rows: Vec<&Row> = self.rows.iter().collect();
        for ColumnValue { column, value } in only {
            let at = self.column(column, option)?;
            let mut values: Vec<&str> = rows
                .iter()
                .filter_map(|row| row.cells.get(at))
                .map(String::as_str)
                .collect();
            rows.retain(|row| row.cells.get(at).is_some_and(|cell| cell == value));
            if rows.is_empty() {
                values.sort_unstable();
                values.dedup();
                values.truncate(8);
                let message = format!(
                    "no row has {column}={value}; there are {column} = {}",
                    values.join(", ")
                );
                return Err(Problem::at(Code::TooFewReadings, &self.path, None, message));
            }
        }
        Ok(rows)
    }

    /// Drive and measured values of some rows, as they stand.
    pub(crate) fn columns(&self, args: &TableArgs, only: &[ColumnValue], option: &str) -> Result<Columns, Problem> {
        let drive = self.column(&args.drive, "--drive")?;
        let measured = self.column(&args.measured, "--measured")?;
        let given = |name: &Option<String>, usual: &str, option: &str| match name {
            Some(name) => self.column(name, option).map(Some),
            None => Ok(self.header.iter().position(|known| known == usual)),
        };
        let approach = given(&args.approach, "approach", "--approach")?;
        let contact = given(&args.contact, "contact", "--contact")?;
        let time = match &args.time {
            Some(name) => Some(self.column(name, "--time")?),
            None => self.header.iter().position(|known| TIMES.contains(&known.as_str())),
        };
        let time_unit = args.time_unit.unwrap_or_else(|| {
            let name = time.and_then(|at| self.header.get(at));
            if name.is_some_and(|name| name.ends_with("_ms")) {
                TimeUnit::Ms
            } else {
                TimeUnit::S
            }
        });

        let rows = self.matching(only, option)?;
        let mut columns = Columns {
            approach: approach.map(|_| Vec::new()),
            contact: contact.map(|_| Vec::new()),
            time: time.map(|_| Vec::new()),
            ..Columns::default()
        };
        for row in rows {
            columns.lines.push(row.line);
            columns.drive.push(self.number(row, drive)?);
            columns.measured.push(self.number(row, measured)?);
            if let (Some(values), Some(at)) = (&mut columns.approach, approach) {
                values.push(self.word(row, at, APPROACHES)?);
            }
            if let (Some(values), Some(at)) = (&mut columns.contact, contact) {
                values.push(self.word(row, at, CONTACTS)?);
            }
            if let (Some(values), Some(at)) = (&mut columns.time, time) {
                values.push(self.seconds(row, at, time_unit)?);
            }
        }
        Ok(columns)
    }

    /// One column of numbers, of the rows that [`Table::columns`] gives.
    pub(crate) fn numbers(
        &self,
        name: &str,
        option: &str,
        only: &[ColumnValue],
        only_option: &str,
    ) -> Result<Vec<f64>, Problem> {
        let at = self.column(name, option)?;
        let rows = self.matching(only, only_option)?;
        rows.into_iter().map(|row| self.number(row, at)).collect()
    }

    fn number(&self, row: &Row, at: usize) -> Result<f64, Problem> {
        let cell = row.cells.get(at).map_or("", String::as_str);
        let refused = |what: &str| self.cell_problem(row, at, what);
        let pointed = match self.decimal {
            ',' => cell.replacen(',', ".", 1),
            _ => cell.to_owned(),
        };
        // "1.500" in a table of commas is more likely one thousand five hundred than one and a half.
        if self.decimal == ',' && cell.contains('.') {
            return Err(refused("holds a point, and --decimal says that decimals have a comma"));
        }
        match pointed.parse::<f64>() {
            Ok(value) if value.is_finite() => Ok(value),
            Ok(_) => Err(refused(
                "is no finite number; leave the row out or take the reading again",
            )),
            Err(_) if cell.is_empty() => Err(refused("holds nothing; write a number or leave the row out")),
            Err(_) if cell.replacen(',', ".", 1).parse::<f64>().is_ok() => Err(refused(
                "is written with a comma; give --decimal , or use a decimal point",
            )),
            Err(_) => Err(refused("is no number; write one such as 42.5")),
        }
    }

    /// A moment in s: a number, or a clock's hours, minutes and seconds.
    fn seconds(&self, row: &Row, at: usize, unit: TimeUnit) -> Result<f64, Problem> {
        let cell = row.cells.get(at).map_or("", String::as_str);
        if let [hours, minutes, seconds] = *cell.split(':').collect::<Vec<_>>() {
            let seconds = seconds.replacen(self.decimal, ".", 1).parse::<f64>();
            return match (hours.parse::<u8>(), minutes.parse::<u8>(), seconds) {
                (Ok(hours), Ok(minutes), Ok(seconds)) if minutes < 60 && (0.0..61.0).contains(&seconds) => {
                    Ok(f64::from(hours) * 3600.0 + f64::from(minutes) * 60.0 + seconds)
                }
                _ => Err(self.cell_problem(row, at, "is no time; write seconds such as 12.5, or h:mm:ss")),
            };
        }
        let number = self.number(row, at)?;
        Ok(match unit {
            TimeUnit::S => number,
            TimeUnit::Ms => number / 1000.0,
        })
    }

    fn word<T: Copy>(&self, row: &Row, at: usize, words: &[(&str, T)]) -> Result<T, Problem> {
        let cell = row.cells.get(at).map_or("", String::as_str);
        words
            .iter()
            .find(|(word, _)| *word == cell)
            .map(|&(_, value)| value)
            .ok_or_else(|| {
                let known: Vec<&str> = words
                    .iter()
                    .map(|(word, _)| *word)
                    .filter(|word| !word.is_empty())
                    .collect();
                self.cell_problem(
                    row,
                    at,
                    &format!("is not known; write one of {}, or nothing", known.join(", ")),
                )
            })
    }

    fn cell_problem(&self, row: &Row, at: usize, what: &str) -> Problem {
        let cell = row.cells.get(at).map_or("", String::as_str);
        let name = self.header.get(at).map_or("", String::as_str);
        let mut problem = Problem::at(
            Code::WrongType,
            &self.path,
            Some(row.line),
            format!("column {} ({name}): \"{cell}\" {what}", at + 1),
        );
        problem.column = u32::try_from(at + 1).ok();
        problem
    }
}

/// What to give instead, where a header of one cell shows that another character stands between the columns.
fn other_separator(header: &[String]) -> Option<&'static str> {
    let [only] = header else { return None };
    if only.contains(';') {
        Some("the columns seem to be separated by semicolons; give --separator \";\"")
    } else if only.contains('\t') {
        Some("the columns seem to be separated by tabs; give --separator tab")
    } else {
        None
    }
}

/// Whether a column differs from the name asked for by case or by something added, such as a unit, only.
fn is_like(column: &str, name: &str) -> bool {
    column.to_lowercase().contains(&name.to_lowercase())
}

/// Names of a column of times that are known without being told.
const TIMES: [&str; 3] = ["time", "time_s", "time_ms"];
const APPROACHES: &[(&str, Approach)] = &[
    ("below", Approach::Below),
    ("above", Approach::Above),
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
