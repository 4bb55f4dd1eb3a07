//! Single numbers and pairs of them, taken strictly: a bool, None or a string is never a number.

use std::fmt::{self, Display, Formatter};
use std::ops::RangeInclusive;

use elbowroom::Code;
use numpy::{PyArrayDescrMethods, PyUntypedArray, PyUntypedArrayMethods};
use pyo3::PyTypeInfo;
use pyo3::exceptions::PyOverflowError;
use pyo3::prelude::*;
use pyo3::types::{PyBool, PyByteArray, PyBytes, PyComplex, PyDict, PyFloat, PyFrozenSet, PyInt, PySet, PyString};
use serde::de::DeserializeOwned;
use serde::de::value::StrDeserializer;

use crate::refuse;

/// The word for what is not a real number, or `None` for anything that may yet be one.
pub(crate) fn no_number(value: &Bound<'_, PyAny>) -> Option<&'static str> {
    if value.is_none() {
        Some("None")
    } else if value.is_instance_of::<PyBool>() {
        Some("a bool")
    } else if value.is_instance_of::<PyString>() {
        Some("a string")
    } else if value.is_instance_of::<PyBytes>() || value.is_instance_of::<PyByteArray>() {
        Some("bytes")
    } else if value.is_instance_of::<PyComplex>() {
        Some("a complex number")
    } else {
        None
    }
}

pub(crate) fn is_set(given: &Bound<'_, PyAny>) -> bool {
    given.is_instance_of::<PySet>() || given.is_instance_of::<PyFrozenSet>()
}

/// A float, or an int that `f64` holds exactly, and no subclass of them: nearly every single number that is ever given.
#[inline]
pub(crate) fn quick(value: &Bound<'_, PyAny>) -> Option<f64> {
    /// Up to it `f64` holds every integer.
    const EXACT: i64 = 1 << 53;
    // Asked first and then extracted: a refused cast counts references up and down.
    if value.is_exact_instance_of::<PyFloat>() {
        return value.extract().ok();
    }
    let int = quick_int(value)?;
    (-EXACT..=EXACT).contains(&int).then_some(int as f64)
}

/// An int of 64 bits, and no subclass of it.
#[inline]
pub(crate) fn quick_int(value: &Bound<'_, PyAny>) -> Option<i64> {
    if value.is_exact_instance_of::<PyInt>() {
        value.extract().ok()
    } else {
        None
    }
}

/// A Python float or int as `f64`; `None` if it is neither.
pub(crate) fn plain(value: &Bound<'_, PyAny>, what: &str) -> Option<PyResult<f64>> {
    if let Ok(float) = value.cast::<PyFloat>() {
        return Some(Ok(float.value()));
    }
    if value.is_instance_of::<PyInt>() && !value.is_instance_of::<PyBool>() {
        return Some(value.extract::<f64>().map_err(|error| {
            let py = value.py();
            if error.is_instance_of::<PyOverflowError>(py) {
                let sentence = format!("{what} is an int beyond the largest float; give a number within 1.8e308");
                refuse::argument_at(py, Code::OptionOutside, &sentence, value)
            } else {
                error
            }
        }));
    }
    None
}

/// A real number: Python's or numpy's.
pub(crate) fn number(value: &Bound<'_, PyAny>, what: &str) -> PyResult<f64> {
    let py = value.py();
    if let Some(found) = plain(value, what) {
        return found;
    }
    if no_number(value).is_none() {
        let array = py.import("numpy")?.call_method1("asarray", (value,));
        if let Some(kind) = array.ok().and_then(|array| {
            let array = array.cast_into::<PyUntypedArray>().ok()?;
            (array.ndim() == 0).then(|| array.dtype().kind())
        }) && matches!(kind, b'f' | b'i' | b'u')
        {
            return value.call_method0("__float__")?.extract();
        }
    }
    let sentence = format!("{what} is {}; give a real number", kind_of(value));
    Err(refuse::argument_at(py, Code::WrongType, &sentence, value))
}

/// An optional real number.
pub(crate) fn maybe_number(value: Option<&Bound<'_, PyAny>>, what: &str) -> PyResult<Option<f64>> {
    value
        .filter(|value| !value.is_none())
        .map(|value| number(value, what))
        .transpose()
}

/// Lower and upper.
pub(crate) fn pair(value: &Bound<'_, PyAny>, what: &str) -> PyResult<[f64; 2]> {
    let py = value.py();
    let wrong = |found: String| {
        let sentence = format!("{what} is {found}; give two numbers, (lower, upper)");
        refuse::argument_at(py, Code::WrongType, &sentence, value)
    };
    let unordered = value.is_instance_of::<PyDict>() || is_set(value);
    if unordered || no_number(value).is_some() || plain(value, what).is_some() {
        return Err(wrong(kind_of(value)));
    }
    let mut found = [0.0; 2];
    let mut length = 0_usize;
    let items = value.try_iter().map_err(|_| wrong(kind_of(value)))?;
    for item in items.take(3) {
        let item = item?;
        if let Some((place, end)) = found.get_mut(length).zip(["lower", "upper"].get(length)) {
            *place = number(&item, &format!("{what} {end}"))?;
        }
        length += 1;
    }
    match length {
        2 => Ok(found),
        0 => Err(wrong("empty".into())),
        1 => Err(wrong("one number only".into())),
        _ => Err(wrong("more than two numbers".into())),
    }
}

/// A whole number from 0 up, e.g. a timer's counts. `within` is what it must be: said where it does not even fit, else left to whom it is for.
pub(crate) fn whole(value: &Bound<'_, PyAny>, what: &str, within: RangeInclusive<u32>) -> PyResult<u32> {
    let py = value.py();
    if no_number(value).is_none()
        && !value.is_instance_of::<PyFloat>()
        && let Ok(index) = value.call_method0("__index__")
    {
        return index.extract::<u32>().map_err(|_| {
            let sentence = outside(what, &index, &within);
            refuse::argument_at(py, Code::OptionOutside, &sentence, value)
        });
    }
    let sentence = format!("{what} is {}; give a whole number as int", kind_of(value));
    Err(refuse::argument_at(py, Code::WrongType, &sentence, value))
}

/// `channel is 70000; it must be 0 to 65535`.
pub(crate) fn outside(what: &str, found: impl Display, within: &RangeInclusive<u32>) -> String {
    format!("{what} is {found}; it must be {} to {}", within.start(), within.end())
}

/// How an error names a value that is not what was asked for: a single one is shown.
pub(crate) fn kind_of(value: &Bound<'_, PyAny>) -> String {
    match no_number(value) {
        Some(word) if value.is_none() => word.into(),
        Some(word) => format!("{word}, {}", shown(value)),
        None => match value.get_type().name() {
            Ok(name) => format!("of type {name}"),
            Err(_) => "of an unknown type".into(),
        },
    }
}

/// A value as Python writes it, or its beginning.
pub(crate) fn shown(value: &Bound<'_, PyAny>) -> String {
    /// Letters that are shown.
    const MOST: usize = 40;
    let whole = value.repr().map(|shown| shown.to_string()).unwrap_or_default();
    match whole.char_indices().nth(MOST) {
        Some((end, _)) => format!("{} ...", whole.get(..end).unwrap_or_default()),
        None => whole,
    }
}

/// A string argument.
pub(crate) fn text(value: &Bound<'_, PyAny>, what: &str) -> PyResult<String> {
    value.extract::<String>().map_err(|_| {
        let sentence = format!("{what} is {}; give a string", kind_of(value));
        refuse::argument_at(value.py(), Code::WrongType, &sentence, value)
    })
}

/// An optional string argument.
pub(crate) fn maybe_text(value: Option<&Bound<'_, PyAny>>, what: &str) -> PyResult<Option<String>> {
    value
        .filter(|value| !value.is_none())
        .map(|value| text(value, what))
        .transpose()
}

/// True or False, numpy's too; nothing that is merely true.
pub(crate) fn flag(value: &Bound<'_, PyAny>, what: &str) -> PyResult<bool> {
    if let Ok(flag) = value.cast::<PyBool>() {
        return Ok(flag.is_true());
    }
    value.extract::<bool>().map_err(|_| {
        let sentence = format!("{what} is {}; give True or False", kind_of(value));
        refuse::argument_at(value.py(), Code::WrongType, &sentence, value)
    })
}

/// An option that is True or False, and False where it is left out; None is neither.
pub(crate) fn flag_or_false(value: Option<&Bound<'_, PyAny>>, what: &str) -> PyResult<bool> {
    value.map_or(Ok(false), |value| flag(value, what))
}

/// An argument that may be left out, and is kept as it is given, None too.
pub(crate) struct Given<'py>(pub(crate) Option<Bound<'py, PyAny>>);

impl<'a, 'py> FromPyObject<'a, 'py> for Given<'py> {
    type Error = PyErr;

    fn extract(value: pyo3::Borrowed<'a, 'py, PyAny>) -> PyResult<Self> {
        Ok(Self(Some(value.to_owned())))
    }
}

/// An argument that must be one of our own classes.
pub(crate) fn part<'a, 'py, C: PyTypeInfo>(
    value: &'a Bound<'py, PyAny>,
    what: &str,
    wanted: &str,
) -> PyResult<&'a Bound<'py, C>> {
    value.cast::<C>().map_err(|_| {
        let sentence = format!("{what} is {}; give {wanted}", kind_of(value));
        refuse::argument_at(value.py(), Code::WrongType, &sentence, value)
    })
}

/// The words of one of the core's enums, told where another was given.
#[derive(Debug)]
struct Known(&'static [&'static str]);

impl Display for Known {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0.join(", "))
    }
}

impl std::error::Error for Known {}

impl serde::de::Error for Known {
    fn custom<M: Display>(_: M) -> Self {
        Self(&[])
    }

    fn unknown_variant(_: &str, known: &'static [&'static str]) -> Self {
        Self(known)
    }
}

/// What a word of the core stands for; an empty one never stands for anything.
fn known<T: DeserializeOwned>(word: &str) -> Result<T, Known> {
    T::deserialize(StrDeserializer::new(word))
}

/// What a word of the core stands for, or the refusal that lists them all.
pub(crate) fn word_of<T: DeserializeOwned>(given: &Bound<'_, PyAny>, what: &str) -> PyResult<T> {
    let word = given.extract::<String>().unwrap_or_default();
    known(&word).map_err(|Known(all)| no_word(given, what, all))
}

/// The one of these that a word stands for, or the refusal that lists them all.
pub(crate) fn word_among<T: Copy, const N: usize>(
    given: &Bound<'_, PyAny>,
    what: &str,
    all: [T; N],
    as_str: fn(T) -> &'static str,
) -> PyResult<T> {
    let word = given.extract::<String>().unwrap_or_default();
    let found = all.into_iter().find(|one| as_str(*one) == word);
    found.ok_or_else(|| no_word(given, what, &all.map(as_str)))
}

/// The refusal of what is none of these words.
fn no_word(given: &Bound<'_, PyAny>, what: &str, all: &[&str]) -> PyErr {
    let (code, found) = match given.extract::<String>() {
        Ok(word) => (Code::UnknownWord, format!("\"{word}\"")),
        Err(_) => (Code::WrongType, kind_of(given)),
    };
    let sentence = format!("{what} is {found}; give one of {}", all.join(", "));
    refuse::argument_at(given.py(), code, &sentence, given)
}
