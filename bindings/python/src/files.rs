//! Files: their paths, what is wrong with them, and robot descriptions read from them.

use std::io;
use std::path::{Path, PathBuf};

use elbowroom::Code;
use elbowroom::robot::{FileError, FileFault, Urdf, access_sentence, write_whole};
use pyo3::prelude::*;
use pyo3::types::PyBytes;

use crate::numbers::kind_of;
use crate::refuse::{self, Place};

/// A refused robot file: its sentence carries file, line, column and joint.
pub(crate) fn file_error(py: Python<'_>, error: &FileError) -> PyErr {
    let place = Place {
        joint: error.joint(),
        ..Place::default()
    };
    let class = match error.fault() {
        FileFault::UnknownJoint { .. } => "UnknownJointError",
        FileFault::Access { .. } | FileFault::Locked { .. } => "FileAccessError",
        FileFault::Changed { .. } => "FileChangedError",
        _ => "RobotError",
    };
    let (code, sentence) = (error.code(), error.to_string());
    let refusal = match error.fault() {
        FileFault::UnknownKey { key, .. } | FileFault::WrongType { key, .. } => {
            refuse::exception(py, class, code, &sentence, key, place)
        }
        FileFault::ValueOutside { value, .. } => refuse::exception(py, class, code, &sentence, *value, place),
        FileFault::UnknownWord { word, .. } => refuse::exception(py, class, code, &sentence, word, place),
        FileFault::UnknownJoint { name, .. } => refuse::exception(py, class, code, &sentence, name, place),
        FileFault::UnusableName { name } => refuse::exception(py, class, code, &sentence, name, place),
        FileFault::FormatTooNew { found } => refuse::exception(py, class, code, &sentence, *found, place),
        _ => refuse::exception(py, class, code, &sentence, py.None(), place),
    };
    let made = refusal.value(py);
    let fields = || -> PyResult<()> {
        made.setattr("line", error.line())?;
        made.setattr("column", error.column())?;
        made.setattr("file", error.file().map(|file| file.display().to_string()))
    };
    fields().err().unwrap_or(refusal)
}

/// A path as Python gives it.
pub(crate) fn path_of(given: &Bound<'_, PyAny>) -> PyResult<PathBuf> {
    path_named(given, "path")
}

/// The same, given by an argument of this name.
fn path_named(given: &Bound<'_, PyAny>, what: &str) -> PyResult<PathBuf> {
    let path = given.extract::<PathBuf>().map_err(|_| {
        let sentence = format!("{what} is {}; give a string or a path", kind_of(given));
        refuse::argument_at(given.py(), Code::WrongType, &sentence, given)
    })?;
    if path.as_os_str().is_empty() {
        let sentence = format!("{what} is empty; give the name of a file");
        return Err(refuse::argument_at(given.py(), Code::OptionOutside, &sentence, given));
    }
    Ok(path)
}

/// A file that cannot be `read` or `written`.
fn access_error(py: Python<'_>, path: &Path, action: &str, error: &io::Error) -> PyErr {
    let (place, reason) = (path.display(), access_sentence(path, action, error));
    let sentence = format!("{place}: the file cannot be {action}: {reason}");
    let made = refuse::exception(
        py,
        "FileAccessError",
        Code::FileAccess,
        &sentence,
        py.None(),
        Place::default(),
    );
    let named = made.value(py).setattr("file", place.to_string());
    named.err().unwrap_or(made)
}

/// The bytes of a file.
#[pyfunction]
pub(crate) fn file_bytes<'py>(path: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyBytes>> {
    let (py, path) = (path.py(), path_of(path)?);
    let bytes = py.detach(|| std::fs::read(&path));
    let bytes = bytes.map_err(|error| access_error(py, &path, "read", &error))?;
    Ok(PyBytes::new(py, &bytes))
}

/// Writes a file whole: the old bytes stand there, or the new ones.
#[pyfunction]
pub(crate) fn file_write(path: &Bound<'_, PyAny>, bytes: &[u8]) -> PyResult<()> {
    let (py, path, bytes) = (path.py(), path_of(path)?, bytes.to_vec());
    py.detach(|| write_whole(&path, &bytes))
        .map_err(|error| access_error(py, &path, "written", &error))
}

/// The URDF file of a path.
pub(crate) fn description_at(path: &Bound<'_, PyAny>, what: &str) -> PyResult<Urdf> {
    Urdf::load(path_named(path, what)?).map_err(|error| file_error(path.py(), &error))
}

/// The movable joints of a URDF file that have limits: the robot's name; name, whether it slides, lower, upper, velocity.
#[pyfunction]
#[expect(
    clippy::type_complexity,
    reason = "a row a joint, taken apart at once on the other side"
)]
pub(crate) fn urdf(path: &Bound<'_, PyAny>) -> PyResult<(Option<String>, Vec<(String, bool, f64, f64, Option<f64>)>)> {
    let urdf = description_at(path, "source")?;
    let rows = urdf.joints().iter().filter_map(|joint| {
        let [lower, upper] = joint.limits?;
        Some((joint.name.clone(), joint.slides, lower, upper, joint.velocity))
    });
    Ok((urdf.name().map(ToOwned::to_owned), rows.collect()))
}
