//! Blocks for firmware: their bytes, their channels, and why they are refused.

use elbowroom::Code;
use elbowroom::block::Block;
use pyo3::prelude::*;
use pyo3::types::{PyByteArray, PyBytes};

use crate::numbers::{kind_of, outside, whole};
use crate::refuse;

/// An output of a board.
pub(crate) fn channel_of(given: &Bound<'_, PyAny>) -> PyResult<u16> {
    let within = 0..=u16::MAX.into();
    let found = whole(given, "channel", within.clone())?;
    u16::try_from(found).map_err(|_| {
        let sentence = outside("channel", found, &within);
        refuse::argument_at(given.py(), Code::OptionOutside, &sentence, given)
    })
}

/// The bytes of a block.
pub(crate) fn image_of(given: &Bound<'_, PyAny>) -> PyResult<Vec<u8>> {
    if let Ok(bytes) = given.cast::<PyBytes>() {
        return Ok(bytes.as_bytes().to_vec());
    }
    if let Ok(bytes) = given.cast::<PyByteArray>() {
        return Ok(bytes.to_vec());
    }
    let sentence = format!("image is {}; give the bytes of a block", kind_of(given));
    Err(refuse::argument_at(given.py(), Code::WrongType, &sentence, given))
}

/// A block, checked whole.
pub(crate) fn block_of<'i>(py: Python<'_>, image: &'i [u8]) -> PyResult<Block<&'i [u8]>> {
    Block::new(image).map_err(|error| refuse::block(py, None, error.code(), &error.to_string()))
}
