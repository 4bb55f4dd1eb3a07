//! Saved procedures are read back only if they could have been written.
//!
//! Each procedure's fields are written as serde derives them (`remote = "Self"` makes that an inherent function), and reading them runs
//! the procedure's own `check` before there is a value: a state in hand keeps the bounds that the procedure
//! states, whatever was done to the file.

use serde::{Deserialize, Deserializer};

/// Reads what may be null but must be there: left out, it would be taken for nothing.
pub(super) fn given<'de, T: Deserialize<'de>, D: Deserializer<'de>>(from: D) -> Result<Option<T>, D::Error> {
    Option::deserialize(from)
}

/// Reads and writes a procedure by its fields, and checks what was read.
macro_rules! checked_when_read {
    ($($machine:ty),*) => {$(
        impl serde::Serialize for $machine {
            fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
                Self::serialize(self, to)
            }
        }

        impl<'de> serde::Deserialize<'de> for $machine {
            fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                let read = Self::deserialize(from)?;
                read.check().map_err(serde::de::Error::custom)?;
                Ok(read)
            }
        }
    )*};
}

checked_when_read!(
    super::bracket::Bracket,
    super::alignment::Alignment,
    super::search::StopSearch,
    super::sense::SenseTest,
    super::sweep::Sweep
);

impl<T: crate::real::Real + serde::Serialize> serde::Serialize for super::ramp::Ramp<T> {
    fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        Self::serialize(self, to)
    }
}

impl<'de, T: crate::real::Real + Deserialize<'de>> Deserialize<'de> for super::ramp::Ramp<T> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let read = Self::deserialize(from)?;
        read.check().map_err(serde::de::Error::custom)?;
        Ok(read)
    }
}

impl<T: crate::real::Real + serde::Serialize> serde::Serialize for super::follow::FollowCheck<T> {
    fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        Self::serialize(self, to)
    }
}

impl<'de, T: crate::real::Real + Deserialize<'de>> Deserialize<'de> for super::follow::FollowCheck<T> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let read = Self::deserialize(from)?;
        read.check().map_err(serde::de::Error::custom)?;
        Ok(read)
    }
}

/// The format of a saved bring-up: a number that stands first in it.
#[cfg(feature = "std")]
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Format;

#[cfg(feature = "std")]
impl Format {
    /// The format that is written, and the only one that is read.
    const NUMBER: u32 = 2;
}

#[cfg(feature = "std")]
impl serde::Serialize for Format {
    fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_u32(Self::NUMBER)
    }
}

#[cfg(feature = "std")]
impl<'de> Deserialize<'de> for Format {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let found = u32::deserialize(from)?;
        if found == Self::NUMBER {
            Ok(Self)
        } else {
            let known = Self::NUMBER;
            Err(serde::de::Error::custom(super::error::BringUpError::Format {
                found,
                known,
            }))
        }
    }
}
