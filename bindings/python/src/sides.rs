//! Columns of words: sides of approach, and contacts noted by hand.

use elbowroom::Code;
use elbowroom::fit::{Approach, ContactMark};
use pyo3::prelude::*;

use crate::numbers::{kind_of, shown};
use crate::refuse::{self, Place};

/// A column of words, each one of a few.
fn words<T>(
    given: &Bound<'_, PyAny>,
    what: &str,
    wanted: &str,
    of: impl Fn(&Bound<'_, PyAny>) -> Option<T>,
) -> PyResult<Vec<T>> {
    let py = given.py();
    if given.is_instance_of::<pyo3::types::PyString>() {
        let sentence = format!("{what} is one string; give a list with one of {wanted} for each reading");
        return Err(refuse::argument_at(py, Code::WrongType, &sentence, given));
    }
    let items = given.try_iter().map_err(|_| {
        let sentence = format!("{what} is {}; give a list of {wanted}", kind_of(given));
        refuse::argument_at(py, Code::WrongType, &sentence, given)
    })?;
    items
        .enumerate()
        .map(|(index, item)| {
            let item = item?;
            of(&item).ok_or_else(|| {
                let sentence = format!("{what}[{index}] is {}; give one of {wanted}", shown(&item));
                let place = Place {
                    index: Some(index),
                    ..Place::default()
                };
                refuse::exception(py, "ArgumentTypeError", Code::WrongType, &sentence, &item, place)
            })
        })
        .collect()
}

/// From which side a position was reached; a gap (None, NaN, an empty word) is unknown.
pub(crate) fn approach_of(item: &Bound<'_, PyAny>) -> Option<Approach> {
    if let Ok(word) = item.extract::<String>() {
        return Approach::named(&word);
    }
    is_gap(item).then_some(Approach::Unknown)
}

/// From which side each position was reached, if that is given.
pub(crate) fn approaches(given: Option<&Bound<'_, PyAny>>) -> PyResult<Option<Vec<Approach>>> {
    given
        .map(|given| words(given, "approach", "'below', 'above', 'up', 'down', None", approach_of))
        .transpose()
}

/// Contact noted by hand; a gap is not a contact.
fn contact_of(item: &Bound<'_, PyAny>) -> Option<ContactMark> {
    if let Ok(word) = item.extract::<String>() {
        return ContactMark::named(&word);
    }
    match item.extract::<bool>() {
        Ok(true) => Some(ContactMark::Here),
        Ok(false) => Some(ContactMark::None),
        Err(_) => is_gap(item).then_some(ContactMark::None),
    }
}

/// How tables write "nothing here": None, NaN, or pandas' NA.
fn is_gap(item: &Bound<'_, PyAny>) -> bool {
    item.is_none()
        || item.extract::<f64>().is_ok_and(f64::is_nan)
        || item.get_type().name().is_ok_and(|name| name == "NAType")
}

/// Contacts noted by hand, if they are given.
pub(crate) fn contacts(given: Option<&Bound<'_, PyAny>>) -> PyResult<Option<Vec<ContactMark>>> {
    let wanted = "'lower', 'upper', 'here', None, or True and False";
    given
        .map(|given| words(given, "contact", wanted, contact_of))
        .transpose()
}
