//! Tables as they come, read by the core.

use elbowroom::fit::{Approach, ContactMark};
use elbowroom::robot::{ReadingColumns, Table, TableError, TableOptions};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyList};

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

/// The readings of a table, as arguments of `fit_limits`.
#[pyfunction]
pub(crate) fn table_readings<'py>(
    py: Python<'py>,
    bytes: &[u8],
    name: &str,
    columns: &Bound<'py, PyDict>,
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
    let found = table
        .readings(&sought, &[])
        .map_err(|error| refused(py, name, &error))?;
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
