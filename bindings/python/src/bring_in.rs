//! Tables as they come, read by the core.

use elbowroom::Code;
use elbowroom::fit::{Approach, ContactMark};
use elbowroom::robot::{DriveUnit, ReadingColumns, Table, TableError, TableOptions};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyList};

use crate::numbers::part;
use crate::pulse::{Servo, Timer};
use crate::refuse;

/// A refusal with its file and line.
fn refused(py: Python<'_>, name: &str, error: &TableError) -> PyErr {
    let place = refuse::Place::default();
    let made = refuse::exception(py, "RobotError", error.code, &error.in_file(name), py.None(), place);
    let value = made.value(py);
    let fields = || -> PyResult<()> {
        value.setattr("file", name)?;
        value.setattr("line", error.line)?;
        value.setattr("column", error.column)
    };
    fields().err().unwrap_or(made)
}

fn table(py: Python<'_>, bytes: &[u8], name: &str) -> PyResult<Table> {
    let bytes = bytes.to_vec();
    py.detach(|| Table::parse(bytes, TableOptions::default()))
        .map_err(|error| refused(py, name, &error))
}

/// A row: its line, if it has one, and its cells.
type NumberedRow = (Option<u32>, Vec<String>);

/// The columns of a table, and its rows with their lines.
#[pyfunction]
pub(crate) fn table_rows(py: Python<'_>, bytes: &[u8], name: &str) -> PyResult<(Vec<String>, Vec<NumberedRow>)> {
    let table = table(py, bytes, name)?;
    let head: Vec<String> = table.headings().iter().map(|heading| heading.name.clone()).collect();
    let rows = (0..table.rows()).map(|row| {
        let cells = (0..head.len()).map(|column| table.cell(row, column).into_owned());
        (table.line(row), cells.collect())
    });
    let rows = rows.collect();
    Ok((head, rows))
}

/// From the unit in the heading of the drive column to drive deg.
fn conversion(
    py: Python<'_>,
    name: &str,
    unit: &str,
    servo: Option<&Bound<'_, PyAny>>,
    timer: Option<&Bound<'_, PyAny>>,
) -> PyResult<impl Fn(f64) -> f64> {
    let refuse = |remedy: &str| {
        let sentence = format!("{name}: the unit in the heading of the drive column is {unit}; {remedy}");
        refuse::argument(py, Code::OptionOutside, &sentence)
    };
    let Some(unit) = DriveUnit::named(unit) else {
        let known = DriveUnit::ALL.map(DriveUnit::as_str).join(", ");
        return Err(refuse(&format!(
            "write drive angles in deg, or one of {known}, and change the heading"
        )));
    };
    let servo = servo.ok_or_else(|| refuse("give servo=Servo(...), by which it becomes drive deg"))?;
    let servo = part::<Servo>(servo, "servo", "Servo(...)")?.get().both.wide;
    let timer = match timer {
        Some(timer) => part::<Timer>(timer, "timer", "Timer(...)")?.get().both.wide,
        None if unit == DriveUnit::Counts => return Err(refuse("give timer=Timer(...) beside the servo")),
        // No pulse width depends on it.
        None => elbowroom::Timer::new(50.0, 4096).map_err(|error| refuse::joint(py, None, &error))?,
    };
    Ok(move |value| unit.to_deg(value, &servo, &timer))
}

/// The readings of a table, as arguments of `fit_limits`.
#[pyfunction]
pub(crate) fn table_readings<'py>(
    py: Python<'py>,
    bytes: &[u8],
    name: &str,
    columns: &Bound<'py, PyDict>,
    servo: Option<Bound<'py, PyAny>>,
    timer: Option<Bound<'py, PyAny>>,
) -> PyResult<Bound<'py, PyDict>> {
    let table = table(py, bytes, name)?;
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
        .readings(&sought, &[])
        .map_err(|error| refused(py, name, &error))?;
    if let Some(unit) = found
        .drive_unit
        .as_deref()
        .filter(|unit| *unit != DriveUnit::Deg.as_str())
    {
        let to_deg = conversion(py, name, unit, servo.as_ref(), timer.as_ref())?;
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
