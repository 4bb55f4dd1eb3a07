//! Readings from a table, with every refusal at its line and with the option that helps.

use crate::args::{ColumnValue, DriveUnit, TableArgs, TimeUnit};
use crate::problem::Problem;
use crate::usual::DEGREES;
use elbowroom::fit::{Approach, ContactMark, Readings};
use elbowroom::robot::{MeasuredAs, ReadingColumns, Remedy, RowGroups, TableError, TableOptions, shell_word};
use std::path::{Path, PathBuf};

/// A table, read whole; a copy shares it.
#[derive(Clone)]
pub(crate) struct Table {
    path: PathBuf,
    sha256: String,
    inner: std::sync::Arc<elbowroom::robot::Table>,
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
    pub(crate) lines: Lines,
    /// A column that may group the rows by joint.
    pub(crate) groups: Option<RowGroups>,
}

/// The line of each reading: mostly one after the other, and then only the first is kept.
pub(crate) enum Lines {
    From(u32),
    Each(Vec<u32>),
}

impl Default for Lines {
    fn default() -> Self {
        Self::Each(Vec::new())
    }
}

impl Lines {
    fn of(lines: Vec<u32>) -> Self {
        let follows = |pair: &[u32]| matches!(pair, [one, next] if one.checked_add(1) == Some(*next));
        match lines.first() {
            Some(&first) if lines.windows(2).all(follows) => Self::From(first),
            _ => Self::Each(lines),
        }
    }

    pub(crate) fn get(&self, index: usize) -> Option<u32> {
        match self {
            Self::From(first) => first.checked_add(u32::try_from(index).ok()?),
            Self::Each(lines) => lines.get(index).copied(),
        }
    }
}

impl Columns {
    /// The side from which a reading was reached, as the table gives it.
    pub(crate) fn side(&self, index: usize) -> Approach {
        let side = self.approach.as_ref().and_then(|all| all.get(index)).copied();
        side.unwrap_or_default()
    }

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

/// The file name that stands for standard input.
pub(crate) const STANDARD_INPUT: &str = "-";

fn bytes(path: &Path) -> Result<Vec<u8>, Problem> {
    let read = if path == Path::new(STANDARD_INPUT) {
        let mut bytes = Vec::new();
        std::io::Read::read_to_end(&mut std::io::stdin().lock(), &mut bytes).map(|_| bytes)
    } else {
        std::fs::read(path)
    };
    read.map_err(|error| Problem::access(path, "read", &error))
}

impl Table {
    pub(crate) fn read(path: &Path, args: &TableArgs) -> Result<Self, Problem> {
        let options = TableOptions::default()
            .with_separator(args.separator)
            .with_decimal(args.decimal);
        let bytes = bytes(path)?;
        other_kind(path, &bytes)?;
        let sha256 = elbowroom::robot::sha256(&bytes);
        let inner = elbowroom::robot::Table::parse(bytes, options).map_err(|error| told(path, &error, None))?;
        Ok(Self {
            path: path.to_owned(),
            sha256,
            inner: inner.into(),
        })
    }

    /// SHA-256 of the file.
    pub(crate) fn sha256(&self) -> &str {
        &self.sha256
    }

    fn refused(&self, error: &TableError, option: Option<&str>) -> Problem {
        told(&self.path, error, option)
    }

    /// The options with what the table itself says: units in its header, and of measured values the usual one where it names none.
    pub(crate) fn resolve(&self, args: &TableArgs, usual_unit: &str) -> Result<TableArgs, Problem> {
        let mut args = args.clone();
        let is_usual = args.drive == TableArgs::usual().drive;
        // One that is not there is refused where it is read.
        let drive = match &*args.drive {
            _ if is_usual => self.inner.drive_column(),
            name => self.inner.column(name),
        };
        if args.drive_unit == DriveUnit::Auto {
            let unit = drive.as_ref().ok().map(|&at| self.inner.drive_unit(at)).transpose();
            let unit = unit.map_err(|error| self.refused(&error, None))?;
            args.drive_unit = DriveUnit::of(unit.unwrap_or_default());
        }
        // A drive column may be called by what it holds.
        if is_usual
            && self.inner.column(&args.drive).is_err()
            && let Some(heading) = drive.ok().and_then(|at| self.inner.headings().get(at))
            && self.inner.has_header()
        {
            args.drive.clone_from(&heading.name);
        }
        if args.measured_unit.is_empty() && args.arc_radius.is_some() {
            DEGREES.clone_into(&mut args.measured_unit);
        } else if args.measured_unit.is_empty() {
            let at = self.inner.column(&args.measured).ok();
            let at = at.or((!self.inner.has_header()).then_some(1));
            let unit = at.map(|at| self.inner.measured_unit(at)).transpose();
            let unit = unit.map_err(|error| self.refused(&error, None))?.flatten();
            args.measured_unit = unit.unwrap_or_else(|| usual_unit.to_owned());
        }
        Ok(args)
    }

    /// The names in a column that says to which joint a row belongs.
    pub(crate) fn names(&self, column: &str, args: &TableArgs, option: &str) -> Result<Vec<String>, Problem> {
        let at = self.inner.column(column);
        at.and_then(|at| self.inner.names(at, &self.reading_columns(args)))
            .map_err(|error| self.refused(&error, Some(option)))
    }

    /// Which columns hold drive and measured values.
    fn reading_columns<'a>(&self, args: &'a TableArgs) -> ReadingColumns<'a> {
        // Without a header the usual names stand for places.
        let named = |name, usual| (self.inner.has_header() || name != usual).then_some(name);
        let usual = TableArgs::usual().drive;
        let drive = named(&*args.drive, "drive").filter(|name| *name != usual || self.inner.column(name).is_ok());
        ReadingColumns::new(drive, named(&*args.measured, "measured"))
    }

    /// What a column says of some rows, if it is there: their one value.
    pub(crate) fn one(&self, name: &str, only: &[ColumnValue]) -> Option<String> {
        let at = self.inner.column(name).ok()?;
        let row = self.inner.matching(&pairs(only)).ok()?.first().copied()?;
        let cell = self.inner.cell(row as usize, at).into_owned();
        (!cell.is_empty()).then_some(cell)
    }

    /// Drive values as they stand, and measured ones as angles, of some rows.
    pub(crate) fn columns(&self, args: &TableArgs, only: &[ColumnValue], option: &str) -> Result<Columns, Problem> {
        // Without a header the usual names stand for places.
        let named = |name, usual| (self.inner.has_header() || name != usual).then_some(name);
        let mut columns = ReadingColumns::new(named(&*args.drive, "drive"), named(&*args.measured, "measured"));
        columns.drive_unit = Some(args.drive_unit.core());
        columns.measured_unit = Some(&args.measured_unit);
        columns.approach = args.approach.as_deref();
        columns.contact = args.contact.as_deref();
        columns.time = args.time.as_deref();
        columns.time_in_ms = args.time_unit.map(|unit| unit == TimeUnit::Ms);
        let sought = &args.sought;
        let joints: Vec<&str> = sought.joints.iter().map(String::as_str).collect();
        (columns.joint, columns.joints) = (sought.joint.as_deref(), &joints);
        let found = self.inner.readings(&columns, &pairs(only));
        let mut found = found.map_err(|error| match &error.remedy {
            Remedy::Where {
                column,
                value,
                is_sought,
            } => {
                let only = format!("--where {}", shell_word(&format!("{column}={value}")));
                let remedy = match (sought.each, is_sought) {
                    (Some(does), false) => format!("by {only}, or {does} all by --each {}", shell_word(column)),
                    _ => format!("by {only}"),
                };
                let mut with_remedy = error.clone();
                with_remedy.sentence = format!("{} {remedy}", error.sentence);
                self.refused(&with_remedy, None)
            }
            _ => self.refused(&error, Some(option)),
        })?;
        MeasuredAs::default()
            .with_wrap(args.wrap)
            .with_arc_radius(args.arc_radius)
            .with_flipped(args.flip_measured)
            .apply(&mut found.measured)?;
        Ok(Columns {
            drive: found.drive,
            measured: found.measured,
            approach: found.approach,
            contact: found.contact,
            time: found.time,
            lines: Lines::of(found.lines),
            groups: found.groups,
        })
    }

    /// What a sensor read, of the rows that [`Table::columns`] gives.
    pub(crate) fn feedback(&self, name: &str, only: &[ColumnValue]) -> Result<Vec<f64>, Problem> {
        let found = self.inner.feedback(name, &pairs(only));
        found.map_err(|error| self.refused(&error, Some("--feedback")))
    }
}

fn pairs(only: &[ColumnValue]) -> Vec<(String, String)> {
    only.iter()
        .map(|only| (only.column.clone(), only.value.clone()))
        .collect()
}

/// Refuses what is no table at all, with what it is and what reads it.
fn other_kind(path: &Path, bytes: &[u8]) -> Result<(), Problem> {
    let ending = path.extension().and_then(|ending| ending.to_str()).unwrap_or_default();
    // Files of spreadsheet programs are archives.
    let message = if bytes.starts_with(b"PK\x03\x04")
        || ["xlsx", "xls", "ods"].contains(&ending.to_lowercase().as_str())
    {
        "this is a file of a spreadsheet program, not a table as text; open it there, save the sheet as CSV, and give that file".to_owned()
    } else if ending.eq_ignore_ascii_case("toml") {
        let file = path.display();
        format!(
            "this is a robot file, not a table of readings; elbowroom show {file} lists its joints, elbowroom check {file} checks it"
        )
    } else {
        return Ok(());
    };
    Err(Problem::at(elbowroom::Code::OptionOutside, path, None, message))
}

/// A fault of a table, with the option that helps: the one given where a column is sought that is no part of the readings.
fn told(path: &Path, error: &TableError, option: Option<&str>) -> Problem {
    let remedy = match &error.remedy {
        Remedy::Separator('\t') => "; give --separator tab".to_owned(),
        Remedy::Separator(separator) => format!("; give --separator \"{separator}\""),
        Remedy::Decimal(decimal) => format!(", or give --decimal {decimal}"),
        Remedy::DriveUnit => ", or give --drive-unit".to_owned(),
        Remedy::Column(Some(part)) => format!("; name one with --{part}"),
        Remedy::Columns { parts, sides } => {
            let options: Vec<String> = parts.iter().map(|part| format!("--{part} COLUMN")).collect();
            let of_sides = |column: &String| {
                format!(
                    "; the sides in column {column} are read with --approach {}",
                    shell_word(column)
                )
            };
            let sides = sides.as_ref().map_or(String::new(), of_sides);
            format!("; name them with {}{sides}", options.join(" "))
        }
        Remedy::Column(None) => option.map_or(String::new(), |option| format!("; name one with {option}")),
        _ => String::new(),
    };
    let sentence = format!("{}{remedy}", error.sentence);
    if error.code == elbowroom::Code::OptionOutside {
        return Problem::new(error.code, sentence);
    }
    let mut problem = Problem::at(error.code, path, error.line.map(u64::from), sentence);
    problem.column = error.column;
    problem
}
