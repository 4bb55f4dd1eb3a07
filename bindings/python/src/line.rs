//! Straight lines: columns in, the line out as JSON, from which the Python half makes its frozen dataclass.

use elbowroom::Code;
use elbowroom::fit::{Estimate, LineFit, fit_line, fit_line_both, fit_line_weighted};
use pyo3::prelude::*;
use pyo3::types::PyFloat;

use crate::arrays::{Input, column};
use crate::chain::{each, raise_fault};
use crate::fit::{fit_error, json};
use crate::numbers::{maybe_number, number, plain};
use crate::refuse;

/// The compiled half of `elbowroom.fit_line`: the line as JSON.
#[pyfunction]
#[pyo3(signature = (x, y, *, u_x=None, u_y=None))]
pub(crate) fn line_fit(
    py: Python<'_>,
    x: &Bound<'_, PyAny>,
    y: &Bound<'_, PyAny>,
    u_x: Option<&Bound<'_, PyAny>>,
    u_y: Option<&Bound<'_, PyAny>>,
) -> PyResult<String> {
    let (x, y) = (column(x, "x")?, column(y, "y")?);
    let u_x = u_x.map(|u| column(u, "u_x")).transpose()?;
    let u_y = u_y.map(|u| column(u, "u_y")).transpose()?;
    let found = match (&u_x, &u_y) {
        (None, None) => fit_line(&x, &y),
        (None, Some(u_y)) => fit_line_weighted(&x, &y, u_y),
        (Some(u_x), Some(u_y)) => fit_line_both(&x, &y, u_x, u_y),
        (Some(_), None) => {
            let sentence = "u_x is given without u_y; give the standard uncertainty of each y as well";
            return Err(refuse::argument(py, Code::OptionOutside, sentence));
        }
    };
    json(py, &found.map_err(|error| fit_error(py, &error))?)
}

/// The compiled half of `LineFit.predict`: value and standard uncertainty, two numbers or two arrays.
#[pyfunction]
pub(crate) fn line_predict<'py>(
    py: Python<'py>,
    record: &str,
    x: &Bound<'py, PyAny>,
    u_x: &Bound<'py, PyAny>,
) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyAny>)> {
    let u = number(u_x, "u_x")?;
    let line = line(py, record)?;
    if let Some(x) = plain(x, "x") {
        let found = line.predict_from(Estimate { value: x?, u });
        return Ok((
            PyFloat::new(py, found.value).into_any(),
            PyFloat::new(py, found.u).into_any(),
        ));
    }
    let run = |part: fn(Estimate) -> f64| {
        Input::wide(x, "x")?
            .run(
                None,
                |from, to| each(from, to, |value| Ok(part(line.predict_from(Estimate { value, u })))),
                None,
            )
            .map_err(|fault| raise_fault(py, None, "x", fault))
    };
    Ok((run(|found| found.value)?, run(|found| found.u)?))
}

/// The compiled half of `LineFit.inverse`: value and standard uncertainty, or nothing.
#[pyfunction]
#[pyo3(signature = (record, observed, u_y=None))]
pub(crate) fn line_inverse(
    py: Python<'_>,
    record: &str,
    observed: &Bound<'_, PyAny>,
    u_y: Option<&Bound<'_, PyAny>>,
) -> PyResult<Option<(f64, f64)>> {
    let observed = column(observed, "observed")?;
    let u_y = maybe_number(u_y, "u_y")?;
    let found = line(py, record)?.inverse(&observed, u_y);
    Ok(found.map(|x| (x.value, x.u)))
}

/// The compiled half of `LineFit.coverage_factor`.
#[pyfunction]
pub(crate) fn line_coverage_factor(py: Python<'_>, record: &str, confidence: &Bound<'_, PyAny>) -> PyResult<f64> {
    Ok(line(py, record)?.coverage_factor(number(confidence, "confidence")?))
}

/// A line back from the record that Python keeps.
fn line(py: Python<'_>, record: &str) -> PyResult<LineFit> {
    serde_json::from_str(record)
        .map_err(|error| refuse::argument(py, Code::WrongType, &format!("this is not a record of a line: {error}")))
}
