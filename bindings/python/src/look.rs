//! The look that all pictures share, on light paper, and digits, for the plots of the Python half.

use elbowroom::look::{self as core, Filling, Rounded, Statistic};
use pyo3::prelude::*;
use pyo3::types::PyDict;

/// A value with the digits that its standard uncertainty supports.
#[pyfunction]
#[pyo3(signature = (value, u=None))]
pub(crate) fn rounded(value: f64, u: Option<f64>) -> String {
    Rounded { value, u }.to_string()
}

/// A statistic with three significant digits.
#[pyfunction]
pub(crate) fn statistic(value: f64) -> String {
    Statistic(value).to_string()
}

/// Marks as (shape, colour, inside, width), lines as (colour, width, dashes), areas as (colour, opacity, strokes, edge), by name.
pub(crate) fn look(py: Python<'_>) -> PyResult<Bound<'_, PyDict>> {
    let (marks, lines, areas) = (PyDict::new(py), PyDict::new(py), PyDict::new(py));
    for mark in core::MARKS {
        let told = (mark.shape.as_str(), mark.colour.light, mark.inside.as_str(), mark.width);
        marks.set_item(mark.name, told)?;
    }
    for line in core::LINES {
        lines.set_item(line.name, (line.colour.light, line.width, line.dashes.to_vec()))?;
    }
    for area in core::AREAS {
        let (opacity, strokes) = match area.filling {
            Filling::Tint(opacity) => (opacity, ""),
            Filling::Rising => (0.0, "/"),
            _ => (0.0, "\\"),
        };
        areas.set_item(area.name, (area.colour.light, opacity, strokes, area.edge))?;
    }
    let all = PyDict::new(py);
    all.set_item("marks", marks)?;
    all.set_item("lines", lines)?;
    all.set_item("areas", areas)?;
    Ok(all)
}
