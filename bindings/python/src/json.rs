//! Records of the core as JSON, and as dicts with the keys of a robot file.

use elbowroom::Code;
use pyo3::prelude::*;
use pyo3::types::PyDict;
use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::numbers::kind_of;
use crate::refuse;

/// Turns a result of the core into JSON; Python's reader gives every float back bit for bit.
pub(crate) fn json(py: Python<'_>, result: &impl Serialize) -> PyResult<String> {
    serde_json::to_string(result).map_err(|error| refuse::argument(py, Code::Other, &error.to_string()))
}

/// A fit back from its JSON.
pub(crate) fn fit_from_json<F: DeserializeOwned>(py: Python<'_>, record: &str) -> PyResult<F> {
    serde_json::from_str(record)
        .map_err(|error| refuse::argument(py, Code::WrongType, &format!("this is not a record of a fit: {error}")))
}

/// A record of the core from a dict with the keys of a robot file.
pub(crate) fn written<R: DeserializeOwned>(given: &Bound<'_, PyAny>, what: &str, example: &str) -> PyResult<R> {
    let py = given.py();
    let wrong = |why: &dyn std::fmt::Display| {
        let sentence = format!("{what} is not understood: {why}; give e.g. {example}");
        refuse::argument_at(py, Code::WrongType, &sentence, given)
    };
    if !given.is_instance_of::<PyDict>() {
        return Err(wrong(&format!("it is {}", kind_of(given))));
    }
    let options = PyDict::new(py);
    options.set_item("allow_nan", false)?;
    let text = py
        .import("json")?
        .call_method("dumps", (given,), Some(&options))
        .map_err(|error| wrong(&error.value(py)))?;
    serde_json::from_str(&text.extract::<String>()?).map_err(|error| wrong(&error))
}

/// A record of the core as a dict with the keys of a robot file.
pub(crate) fn as_dict<'py>(py: Python<'py>, record: &impl Serialize) -> PyResult<Bound<'py, PyAny>> {
    py.import("json")?.call_method1("loads", (json(py, record)?,))
}
