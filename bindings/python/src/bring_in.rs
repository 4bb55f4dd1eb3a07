//! Tables as they come, read by the core.

use elbowroom::Code;
use elbowroom::fit::{Approach, ContactMark};
use elbowroom::robot::{DriveUnit, NamesFault, ReadingColumns, Remedy, Source, Table, TableError, TableOptions};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyList};

use crate::numbers::{kind_of, part};
use crate::pulse::{Servo, Timer};
use crate::refuse;

/// A refusal with its file and line, and with the argument that helps.
fn refused(py: Python<'_>, name: &str, error: &TableError) -> PyErr {
    let remedy = match &error.remedy {
        Remedy::Separator(separator) => format!("; give separator={separator:?}"),
        Remedy::Decimal(decimal) => format!(", or give decimal={decimal:?}"),
        Remedy::Column(Some(part)) => format!("; name one with columns={{'{part}': ...}}"),
        Remedy::Where { column, value, .. } => format!(" by where={{{column:?}: {value:?}}}"),
        Remedy::Columns { parts, sides } => {
            let parts: Vec<String> = parts.iter().map(|part| format!("'{part}': ...")).collect();
            let of_sides =
                |column: &String| format!("; the sides in column {column} are read with 'approach': {column:?} there");
            let sides = sides.as_ref().map_or(String::new(), of_sides);
            format!("; name them with columns={{{}}}{sides}", parts.join(", "))
        }
        _ => String::new(),
    };
    let sentence = format!("{}{remedy}", error.in_file(name));
    if error.code == Code::OptionOutside {
        return refuse::argument(py, error.code, &sentence);
    }
    let place = refuse::Place::default();
    let made = refuse::exception(py, "RobotError", error.code, &sentence, py.None(), place);
    let value = made.value(py);
    let fields = || -> PyResult<()> {
        value.setattr("file", name)?;
        value.setattr("line", error.line)?;
        value.setattr("column", error.column)
    };
    fields().err().unwrap_or(made)
}

fn table(py: Python<'_>, bytes: &[u8], name: &str, options: TableOptions) -> PyResult<Table> {
    let bytes = bytes.to_vec();
    py.detach(|| Table::parse(bytes, options))
        .map_err(|error| refused(py, name, &error))
}

/// An argument that is one character.
fn character(given: Option<Bound<'_, PyAny>>, name: &str, example: &str) -> PyResult<Option<char>> {
    let one = given.map(|given| {
        given.extract::<char>().map_err(|_| {
            let sentence = format!("{name} is {}; give one character such as {example}", kind_of(&given));
            refuse::argument_at(given.py(), Code::WrongType, &sentence, &given)
        })
    });
    one.transpose()
}

/// A cell: text, or a number where one is asked for and something stands.
#[derive(IntoPyObject)]
pub(crate) enum Cell {
    Text(String),
    Number(Option<f64>),
}

/// A row: its line, if it has one, and its cells.
type NumberedRow = (Option<u32>, Vec<Cell>);

/// The columns of a table, and its rows with their lines; the columns in `numbers` hold numbers.
#[pyfunction]
#[expect(clippy::needless_pass_by_value, reason = "as Python gives them")]
pub(crate) fn table_rows(
    py: Python<'_>,
    bytes: &[u8],
    name: &str,
    numbers: Vec<String>,
) -> PyResult<(Vec<String>, Vec<NumberedRow>)> {
    let table = table(py, bytes, name, TableOptions::default())?;
    let head: Vec<String> = table.headings().iter().map(|heading| heading.name.clone()).collect();
    let cell = |row: usize, column: usize, named: &String| {
        let text = table.cell(row, column);
        if !numbers.contains(named) {
            return Ok(Cell::Text(text.into_owned()));
        }
        let number = (!text.is_empty()).then(|| table.number(row, column));
        number
            .transpose()
            .map(Cell::Number)
            .map_err(|error| refused(py, name, &error))
    };
    let rows = (0..table.rows()).map(|row| {
        let cells = head.iter().enumerate().map(|(column, named)| cell(row, column, named));
        Ok((table.line(row), cells.collect::<PyResult<_>>()?))
    });
    let rows = rows.collect::<PyResult<_>>()?;
    Ok((head, rows))
}

/// What is wrong with a column that names whose reading each row is, by the core's rule: the first row, a sentence, and whether it has no
/// name. None stands for a gap.
#[pyfunction]
#[expect(clippy::needless_pass_by_value, reason = "as Python gives them")]
pub(crate) fn names_fault(column: &str, names: Vec<Option<String>>) -> Option<(Option<u32>, String, bool)> {
    let named = (0..).zip(names.iter().map(|name| name.as_deref().unwrap_or_default()));
    let fault = NamesFault::of(named)?;
    let is_missing = matches!(fault, NamesFault::Missing { .. });
    Some((fault.row(), fault.sentence(column, "row"), is_missing))
}

/// From the drive column, by the unit in its heading and the servo line under which it was written, to drive deg.
fn conversion(
    py: Python<'_>,
    name: &str,
    column: Source,
    servo: Option<&Bound<'_, PyAny>>,
    timer: Option<&Bound<'_, PyAny>>,
) -> PyResult<impl Fn(f64) -> f64> {
    let unit = column.drive_unit;
    let refuse = |remedy: &str| {
        let sentence = match unit {
            DriveUnit::Deg => format!("{name}: written_under is given without servo; {remedy}"),
            _ => format!(
                "{name}: the unit in the heading of the drive column is {}; {remedy}",
                unit.as_str()
            ),
        };
        refuse::argument(py, Code::OptionOutside, &sentence)
    };
    let servo = servo.ok_or_else(|| refuse("give servo=Servo(...), by which it becomes drive deg"))?;
    let servo = part::<Servo>(servo, "servo", "Servo(...)")?.get().both.wide;
    let timer = match timer {
        Some(timer) => part::<Timer>(timer, "timer", "Timer(...)")?.get().both.wide,
        None if unit == DriveUnit::Counts => return Err(refuse("give timer=Timer(...) beside the servo")),
        // No pulse width depends on it.
        None => elbowroom::Timer::new(50.0, 4096).map_err(|error| refuse::joint(py, None, &error))?,
    };
    Ok(move |value| column.drive_deg(value, &servo, &timer))
}

/// The readings of a table, as arguments of `fit_limits`.
#[pyfunction]
#[expect(clippy::too_many_arguments, reason = "those of read_readings")]
pub(crate) fn table_readings<'py>(
    py: Python<'py>,
    bytes: &[u8],
    name: &str,
    columns: &Bound<'py, PyDict>,
    servo: Option<Bound<'py, PyAny>>,
    timer: Option<Bound<'py, PyAny>>,
    separator: Option<Bound<'py, PyAny>>,
    decimal: Option<Bound<'py, PyAny>>,
    written_under: Option<Bound<'py, PyAny>>,
    only: Vec<(String, String)>,
) -> PyResult<Bound<'py, PyDict>> {
    let options = TableOptions::default()
        .with_separator(character(separator, "separator", "';'")?)
        .with_decimal(character(decimal, "decimal", "','")?);
    let table = table(py, bytes, name, options)?;
    let named = |key: &str| -> PyResult<Option<String>> {
        columns
            .get_item(key)?
            .map(|value| value.extract::<String>())
            .transpose()
    };
    let [drive, measured, approach, contact, u, time] =
        ["drive", "measured", "approach", "contact", "u", "time"].map(named);
    let (drive, measured, approach, contact, u, time) = (drive?, measured?, approach?, contact?, u?, time?);
    let mut sought = ReadingColumns::new(drive.as_deref(), measured.as_deref());
    (sought.approach, sought.contact) = (approach.as_deref(), contact.as_deref());
    (sought.u, sought.time) = (u.as_deref(), time.as_deref());
    let mut found = table
        .readings(&sought, &only)
        .map_err(|error| refused(py, name, &error))?;
    let written = written_under
        .map(|line| Ok::<_, PyErr>(part::<Servo>(&line, "written_under", "Servo(...)")?.get().both.wide))
        .transpose()?;
    if found.drive_unit != DriveUnit::Deg || written.is_some() {
        let column = Source {
            drive_unit: found.drive_unit,
            servo: written,
            ..Source::default()
        };
        let to_deg = conversion(py, name, column, servo.as_ref(), timer.as_ref())?;
        found.drive.iter_mut().for_each(|drive| *drive = to_deg(*drive));
    }
    let readings = PyDict::new(py);
    readings.set_item("drive", PyList::new(py, found.drive)?)?;
    readings.set_item("measured", PyList::new(py, found.measured)?)?;
    if let Some(approach) = found.approach {
        readings.set_item("approach", PyList::new(py, approach.into_iter().map(Approach::as_str))?)?;
    }
    if let Some(contact) = found.contact {
        readings.set_item(
            "contact",
            PyList::new(py, contact.into_iter().map(ContactMark::as_str))?,
        )?;
    }
    if let Some(u) = found.u {
        readings.set_item("u", PyList::new(py, u)?)?;
    }
    if let Some(time) = found.time {
        readings.set_item("time", PyList::new(py, time)?)?;
    }
    Ok(readings)
}
