//! A column's name and its unit.

use super::super::source::DriveUnit;
use super::cell::split_unit;
use std::borrow::ToOwned;
use std::string::String;

/// The heading of a column.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Heading {
    /// As it stands in the table.
    pub name: String,
    /// Without its unit.
    pub base: String,
    /// The unit in the heading, by the word of robot files where there is one: `deg`, `us`, `counts`.
    pub unit: Option<String>,
}

/// Units that end a name after an underscore.
const SUFFIXES: [&str; 13] = [
    "deg", "rad", "turn", "us", "\u{b5}s", "ms", "mm", "cm", "m", "s", "counts", "count", "adc",
];

/// Units that end a name after a blank, by the words of robot files.
const BEHIND_A_BLANK: [&str; 4] = ["us", "ms", "deg", "rad"];

/// Degrees where it is German, and 400 of them a turn where it is the unit of surveyors.
const GRAD: &str = "grad";
/// A noun of German, which writes it with a capital: degrees.
const GERMAN: &str = "Grad";

/// Other words for units.
const SAME: [(&str, &str); 26] = [
    ("\u{b0}", "deg"),
    ("degs", "deg"),
    ("degree", "deg"),
    ("degrees", "deg"),
    ("degr\u{e9}", "deg"),
    ("degr\u{e9}s", "deg"),
    ("degre", "deg"),
    ("degres", "deg"),
    ("grado", "deg"),
    ("grados", "deg"),
    ("gradi", "deg"),
    ("grau", "deg"),
    ("graus", "deg"),
    (GRAD, GRAD),
    ("radians", "rad"),
    ("turns", "turn"),
    ("\u{b5}s", "us"),
    ("\u{3bc}s", "us"),
    ("usec", "us"),
    ("msec", "ms"),
    ("sec", "s"),
    ("count", "counts"),
    ("ticks", "counts"),
    ("adc", "counts"),
    ("lsb", "counts"),
    ("digits", "counts"),
];

/// Names of a column of pulse widths.
const PULSES: [&str; 4] = ["pulse", "pulse width", "pulse_width", "pulsewidth"];
/// Names of a column of timer counts.
const COUNTS: [&str; 3] = ["counts", "count", "ticks"];

impl Heading {
    /// Splits `drive_us`, `drive [us]`, `drive (us)`, `drive in us`, `drive, us` and `drive us` into name and unit.
    pub(super) fn of(name: &str) -> Self {
        let name = name.trim();
        let plain = || Self {
            name: name.to_owned(),
            base: name.to_owned(),
            unit: None,
        };
        let with = |base: &str, unit: &str| Self {
            name: name.to_owned(),
            base: base.trim().to_owned(),
            unit: Some(word(unit.trim())),
        };
        for (open, close) in [('[', ']'), ('(', ')')] {
            if let Some((base, unit)) = name.strip_suffix(close).and_then(|head| head.split_once(open))
                && !base.trim().is_empty()
                && !unit.trim().is_empty()
            {
                return with(base, unit);
            }
        }
        for between in [" in ", "/"] {
            if let Some((base, unit)) = name.split_once(between)
                && !base.trim().is_empty()
                && is_unit(unit.trim())
            {
                return with(base, unit);
            }
        }
        if let Some((base, unit)) = name
            .rsplit_once(", ")
            .filter(|(base, unit)| !base.trim().is_empty() && is_unit(unit.trim()))
        {
            return with(base, unit);
        }
        // Other words than these may be parts of a name.
        let is_plain_unit = |unit: &str| BEHIND_A_BLANK.contains(&word(unit).as_str());
        if let Some((base, unit)) = name
            .rsplit_once(' ')
            .filter(|(base, unit)| !base.trim().is_empty() && is_plain_unit(unit))
        {
            return with(base, unit);
        }
        match name.rsplit_once('_') {
            Some((base, unit)) if !base.is_empty() && SUFFIXES.contains(&unit.to_lowercase().as_str()) => {
                with(base, unit)
            }
            _ => plain(),
        }
    }

    /// The unit of drive values under this heading: that in it, else the one that a name as `counts`, `pulse` or `us` says by itself,
    /// else deg. The heading's unit as the error where it is no unit of a drive.
    pub(super) fn drive_unit(&self) -> Result<DriveUnit, &str> {
        if let Some(unit) = &self.unit {
            return DriveUnit::named(unit).ok_or(unit);
        }
        let name = self.name.to_lowercase();
        if PULSES.contains(&name.as_str()) {
            return Ok(DriveUnit::Us);
        }
        Ok(DriveUnit::named(&word(&name)).unwrap_or_default())
    }

    /// The unit of the numbers under this heading, where cells may name it too.
    pub(super) fn unit_of_numbers(&self) -> &str {
        match &self.unit {
            Some(unit) => unit,
            None if self.is_of_counts() => DriveUnit::Counts.as_str(),
            None => self.drive_unit().unwrap_or_default().as_str(),
        }
    }

    /// Whether the name alone says that the column holds what a servo was sent: `counts`, `us`, `pulse_us`, `Pulse (us)`.
    pub(super) fn is_of_pulses(&self) -> bool {
        let (name, base) = (self.name.to_lowercase(), self.base.to_lowercase());
        PULSES.contains(&base.as_str()) || COUNTS.contains(&name.as_str()) || word(&name) == "us"
    }

    /// Whether the name speaks of what a converter or a counter gives, not of an angle.
    pub fn is_of_counts(&self) -> bool {
        let name = self.name.to_lowercase();
        let parts = name.split(|c: char| !c.is_alphanumeric());
        self.unit.as_deref() == Some("counts")
            || parts
                .into_iter()
                .any(|part| ["adc", "raw", "counts", "count", "ticks", "lsb"].contains(&part))
    }
}

/// The units that stand behind the numbers of a column without one in its heading.
pub(super) enum CellUnits {
    /// No number so far.
    Open,
    /// The same behind all of them, by the word of robot files.
    All(String),
    /// Numbers without a unit, with different ones, or under a heading with its own.
    NotOne,
}

impl CellUnits {
    pub(super) fn under(heading: &Heading) -> Self {
        match heading.unit {
            Some(_) => Self::NotOne,
            None => Self::Open,
        }
    }

    pub(super) fn note(&mut self, cell: &str) {
        if matches!(self, Self::NotOne) || !cell.contains(|c: char| c.is_ascii_digit()) {
            return;
        }
        let (_, unit) = split_unit(cell);
        let unit = is_unit(unit).then(|| word(unit));
        *self = match (&*self, unit) {
            (Self::Open, Some(unit)) => Self::All(unit),
            (Self::All(before), Some(unit)) if *before == unit => Self::All(unit),
            _ => Self::NotOne,
        };
    }
}

pub(super) fn is_unit(unit: &str) -> bool {
    let unit = unit.to_lowercase();
    SUFFIXES.contains(&unit.as_str()) || SAME.iter().any(|(other, _)| *other == unit)
}

/// A word that is one unit to some and another to others; `Display` says which.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct AmbiguousUnit;

impl core::fmt::Display for AmbiguousUnit {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(
            "grad may be degrees, 360 a turn, or gon, 400 a turn; write deg for degrees, and turn gon into deg (times 0.9)",
        )
    }
}

impl std::error::Error for AmbiguousUnit {}

/// The word of robot files for a unit as people write it (`\u{b0}`, `degrees`, `degr\u{e9}s`, `Grad` for `deg`); another as it stands.
///
/// # Errors
/// [`AmbiguousUnit`] for a word that may be one of two.
///
/// ```
/// use elbowroom::robot::{AmbiguousUnit, unit_named};
/// assert_eq!(["degrees", "Grad", "mm", "herons"].map(|word| unit_named(word).unwrap()), ["deg", "deg", "mm", "herons"]);
/// assert_eq!(unit_named("grad"), Err(AmbiguousUnit));
/// ```
pub fn unit_named(unit: &str) -> Result<String, AmbiguousUnit> {
    let word = word(unit.trim());
    if word == GRAD { Err(AmbiguousUnit) } else { Ok(word) }
}

/// The word of robot files for a unit that may be written otherwise; another as it stands.
pub(in crate::robot) fn word(unit: &str) -> String {
    if unit == GERMAN {
        return "deg".to_owned();
    }
    let lower = unit.to_lowercase();
    match SAME.iter().find(|(other, _)| *other == lower) {
        Some((_, word)) => (*word).to_owned(),
        None if is_unit(&lower) => lower,
        None => unit.to_owned(),
    }
}
