//! Records of the core in Python's own numbers, words, lists and dicts; as JSON, to be saved; and with the keys of a robot file.

use elbowroom::robot::{FileError, FileFault, read_feedback, read_transmission};
use elbowroom::{Code, FeedbackRecord, TransmissionRecord};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyFloat, PyList, PyTuple};
use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::numbers::kind_of;
use crate::refuse::{self, Place};

/// A record of the core in Python's own numbers, words, tuples, lists and dicts, with the names that it is saved with.
pub(crate) fn plain<'py>(py: Python<'py>, record: &impl Serialize) -> PyResult<Bound<'py, PyAny>> {
    Ok(pythonize::pythonize(py, record)?)
}

/// A record of the core from what the Python half made of its own, whose numbers must be finite.
pub(crate) fn from_plain<R: DeserializeOwned>(given: &Bound<'_, PyAny>, what: &str) -> PyResult<R> {
    let refused = |why: &str| {
        let sentence = format!("this {what} cannot be used: {why}; give it as it was made");
        refuse::exception(
            given.py(),
            "BringUpError",
            Code::WrongType,
            &sentence,
            given,
            Place::default(),
        )
    };
    if let Some(field) = not_finite(given, "a number")? {
        return Err(refused(&format!("{field} is not finite")));
    }
    pythonize::depythonize(given).map_err(|error| {
        let said = error.to_string();
        // Without the class of Python's error; a word that is not one of its kind in words of our own.
        let own = said.split_once("Error: ").map_or(&*said, |(_, own)| own);
        match own.strip_prefix("unknown variant ") {
            Some(own) => refused(&own.replace(", expected one of ", " is none of ").replace('`', "")),
            None => refused(own),
        }
    })
}

/// The name of the first number that is not finite, among all that stand in a dict, a list or a tuple.
fn not_finite(given: &Bound<'_, PyAny>, name: &str) -> PyResult<Option<String>> {
    if let Ok(number) = given.cast::<PyFloat>() {
        return Ok((!number.value().is_finite()).then(|| name.to_owned()));
    }
    let items: Vec<(String, Bound<'_, PyAny>)> = if let Ok(fields) = given.cast::<PyDict>() {
        fields.iter().map(|(name, value)| (name.to_string(), value)).collect()
    } else if given.is_instance_of::<PyList>() || given.is_instance_of::<PyTuple>() {
        let items = given.try_iter()?.map(|item| Ok((name.to_owned(), item?)));
        items.collect::<PyResult<_>>()?
    } else {
        return Ok(None);
    };
    for (name, value) in items {
        if let Some(found) = not_finite(&value, &name)? {
            return Ok(Some(found));
        }
    }
    Ok(None)
}

/// Turns a result of the core into JSON; Python's reader gives every float back bit for bit.
pub(crate) fn json(py: Python<'_>, result: &impl Serialize) -> PyResult<String> {
    serde_json::to_string(result).map_err(|error| refuse::argument(py, Code::Other, &error.to_string()))
}

/// Why JSON was refused, without the words of its parser.
fn unread(error: &serde_json::Error) -> String {
    let (line, column) = (error.line(), error.column());
    let words = error.to_string();
    let own = words.split(" at line ").next().unwrap_or_default();
    let of_parser = ["unknown ", "invalid ", "duplicate field"];
    let missing = own.strip_prefix("missing field ").map(|field| field.trim_matches('`'));
    if let Some(missing) = missing {
        format!("its field {missing} is missing; give the text as it was written")
    } else if !error.is_data() {
        format!("its JSON breaks off or has an error at line {line}, column {column}; give the text as it was written")
    } else if of_parser.iter().any(|start| own.starts_with(start)) {
        format!("line {line}, column {column} is not what this version writes there; give the text as it was written")
    } else {
        own.to_owned()
    }
}

/// A record of the core from JSON that the Python half wrote.
pub(crate) fn read_json<R: DeserializeOwned>(py: Python<'_>, what: &str, text: &str) -> PyResult<R> {
    serde_json::from_str(text).map_err(|error| {
        let sentence = format!("this is not a {what}: {}", unread(&error));
        refuse::exception(
            py,
            "BringUpError",
            Code::WrongType,
            &sentence,
            py.None(),
            Place::default(),
        )
    })
}

/// A fit back from its JSON.
pub(crate) fn fit_from_json<F: DeserializeOwned>(py: Python<'_>, record: &str) -> PyResult<F> {
    serde_json::from_str(record)
        .map_err(|error| refuse::argument(py, Code::WrongType, &format!("this is not a record of a fit: {error}")))
}

/// A part of a joint that a dict with the keys of a robot file gives.
pub(crate) trait Part: Sized {
    /// Its key in a robot file.
    const KEY: &'static str;

    /// The core's own reader, and its sentences.
    fn read(text: &str) -> Result<Self, FileError>;
}

impl Part for TransmissionRecord<f64> {
    const KEY: &'static str = "transmission";

    fn read(text: &str) -> Result<Self, FileError> {
        read_transmission(text)
    }
}

impl Part for FeedbackRecord<f64> {
    const KEY: &'static str = "feedback";

    fn read(text: &str) -> Result<Self, FileError> {
        read_feedback(text)
    }
}

/// A record of the core from a dict with the keys of a robot file.
pub(crate) fn written<R: Part>(given: &Bound<'_, PyAny>, what: &str, example: &str) -> PyResult<R> {
    let py = given.py();
    if !given.is_instance_of::<PyDict>() {
        let sentence = format!("{what} is {}; give a dict, e.g. {example}", kind_of(given));
        return Err(refuse::argument_at(py, Code::WrongType, &sentence, given));
    }
    let text = py
        .import("elbowroom._bring_in")?
        .call_method1("exact", (given, what))?
        .extract::<String>()?;
    R::read(&format!("{} = {text}", R::KEY)).map_err(|error| {
        // The key, and what stands there; an example as a dict, since no file is read.
        let sentence = match error.fault() {
            FileFault::MissingKey { key, .. } => format!("{what}: {key} is missing; give e.g. {example}"),
            FileFault::WrongType { key, found, .. } => format!("{what}: {key} is {found}; give e.g. {example}"),
            fault => format!("{what}: {fault}"),
        };
        refuse::argument_at(py, error.code(), &sentence, given)
    })
}

/// A record of the core as a dict with the keys of a robot file.
pub(crate) fn as_dict<'py>(py: Python<'py>, record: &impl Serialize) -> PyResult<Bound<'py, PyAny>> {
    py.import("json")?.call_method1("loads", (json(py, record)?,))
}
