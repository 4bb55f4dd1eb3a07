//! Typed reading of TOML tables, where every refusal knows its place.

use core::ops::Range;
use std::borrow::ToOwned;
use std::format;
use std::string::String;
use std::vec::Vec;

use toml_edit::{Item, Key, TableLike, Value};

use super::LARGEST_NUMBER;
use super::date::Date;
use super::entry::JointEntry;
use super::error::{FileError, FileFault};
use super::near::{UnknownJoint, nearest};
use crate::error::Shown;

/// One table of the file: the joint it belongs to, and what is known about its place.
#[derive(Clone)]
pub(super) struct Section<'a> {
    table: &'a dyn TableLike,
    joint: Option<&'a str>,
    span: Option<Range<usize>>,
}

type Read<T> = Result<T, FileError>;

/// Keys whose words say what was found at the joint.
const FOUND_BY_TEST: [&str; 2] = ["sense", "kind"];

/// The fault of a name that no joint has.
pub(super) fn unknown_joint(name: &str, joints: &[JointEntry]) -> FileFault {
    let missed = UnknownJoint::among(name, joints);
    FileFault::UnknownJoint {
        name: name.to_owned(),
        nearest: missed.nearest.map(ToOwned::to_owned),
        known: missed.known().map(ToOwned::to_owned).collect(),
        of: missed.of(),
    }
}

impl<'a> Section<'a> {
    pub(super) fn top(table: &'a dyn TableLike) -> Self {
        Self {
            table,
            joint: None,
            // A missing key of the whole file is missed at its start.
            span: Some(0..0),
        }
    }

    fn fault(&self, fault: FileFault, span: Option<Range<usize>>) -> FileError {
        fault.at(span.or_else(|| self.span.clone()), self.joint)
    }

    /// A fault of this table as a whole, or of one of its keys if the table has it.
    pub(super) fn fault_at(&self, key: &str, fault: FileFault) -> FileError {
        self.fault_of([self], key, fault)
    }

    /// A fault told of this table, at the place of a key that stands in one of several tables: in the first that has it.
    pub(super) fn fault_of<'s>(
        &self,
        tables: impl IntoIterator<Item = &'s Self>,
        key: &str,
        fault: FileFault,
    ) -> FileError
    where
        'a: 's,
    {
        let found = tables.into_iter().find_map(|table| table.get(key));
        self.fault(fault, found.and_then(|(key, item)| item.span().or_else(|| key.span())))
    }

    /// A fault of this table as a whole.
    pub(super) fn fault_here(&self, fault: FileFault) -> FileError {
        self.fault(fault, None)
    }

    /// Its keys, in file order.
    pub(super) fn names(&self) -> Vec<&'a str> {
        self.table.iter().map(|(name, _)| name).collect()
    }

    /// Refuses keys that are not known here.
    pub(super) fn only(&self, known: &'static [&'static str]) -> Read<()> {
        for (name, _) in self.table.iter() {
            if known.contains(&name) {
                continue;
            }
            let (nearest, near) = nearest(name, known.iter().copied()).unwrap_or(("", false));
            let fault = FileFault::UnknownKey {
                key: name.to_owned(),
                nearest,
                near,
                known,
            };
            return Err(self.fault(fault, self.table.key(name).and_then(Key::span)));
        }
        Ok(())
    }

    fn get(&self, key: &str) -> Option<(&'a Key, &'a Item)> {
        match self.table.get_key_value(key) {
            Some((_, Item::None)) | None => None,
            found => found,
        }
    }

    fn wrong(&self, key: &Key, item: &Item, example: &'static str) -> FileError {
        let fault = FileFault::WrongType {
            key: key.get().to_owned(),
            found: describe(item),
            example,
        };
        self.fault(fault, item.span().or_else(|| key.span()))
    }

    pub(super) fn value<T>(
        &self,
        key: &str,
        example: &'static str,
        read: impl Fn(&Value) -> Option<T>,
    ) -> Read<Option<T>> {
        let Some((key, item)) = self.get(key) else {
            return Ok(None);
        };
        match item.as_value().and_then(read) {
            Some(_) if item.as_value().is_some_and(|value| largest(value) > LARGEST_NUMBER) => {
                let value = item.as_value().map_or(0.0, largest);
                Err(self.outside(key.get(), value, "at most 1e12, either way"))
            }
            Some(value) => Ok(Some(value)),
            None => Err(self.wrong(key, item, example)),
        }
    }

    pub(super) fn need<T>(&self, key: &'static str, example: &'static str, found: Option<T>) -> Read<T> {
        found.ok_or_else(|| self.fault(FileFault::MissingKey { key, example }, None))
    }

    pub(super) fn text(&self, key: &str, example: &'static str) -> Read<Option<&'a str>> {
        let Some((key, item)) = self.get(key) else {
            return Ok(None);
        };
        match item.as_str() {
            Some(text) if !text.trim().is_empty() => Ok(Some(text)),
            _ => Err(self.wrong(key, item, example)),
        }
    }

    /// A text that stands on one line wherever it is shown.
    pub(super) fn line(&self, key: &str, example: &'static str) -> Read<Option<&'a str>> {
        let text = self.text(key, example)?;
        match self.get(key) {
            Some((key, item)) if text.is_some_and(|text| text.chars().any(char::is_control)) => {
                let fault = FileFault::WrongType {
                    key: key.get().to_owned(),
                    found: "a text with line ends or other control characters".to_owned(),
                    example,
                };
                Err(self.fault(fault, item.span().or_else(|| key.span())))
            }
            _ => Ok(text),
        }
    }

    pub(super) fn flag(&self, key: &str) -> Read<Option<bool>> {
        let Some((key, item)) = self.get(key) else {
            return Ok(None);
        };
        item.as_bool().map(Some).ok_or_else(|| {
            let fault = FileFault::NotAFlag {
                key: key.get().to_owned(),
                found: describe(item),
            };
            self.fault(fault, item.span().or_else(|| key.span()))
        })
    }

    pub(super) fn number(&self, key: &str, example: &'static str) -> Read<Option<f64>> {
        self.value(key, example, number)
    }

    /// A finite number of at least zero.
    pub(super) fn size(&self, key: &str, example: &'static str) -> Read<Option<f64>> {
        match self.number(key, example)? {
            Some(value) if !(value.is_finite() && value >= 0.0) => {
                let must = "a finite number, zero or more";
                Err(self.outside(key, value, must))
            }
            value => Ok(value),
        }
    }

    /// A finite number.
    pub(super) fn finite(&self, key: &str, example: &'static str) -> Read<Option<f64>> {
        match self.number(key, example)? {
            Some(value) if !value.is_finite() => Err(self.outside(key, value, "a finite number")),
            value => Ok(value),
        }
    }

    fn outside(&self, key: &str, value: f64, must: &'static str) -> FileError {
        let key_name = key.to_owned();
        self.fault_at(
            key,
            FileFault::ValueOutside {
                key: key_name,
                value,
                must,
            },
        )
    }

    /// A whole number that fits `T`.
    pub(super) fn whole<T: TryFrom<i64>>(
        &self,
        key: &str,
        example: &'static str,
        must: &'static str,
    ) -> Read<Option<T>> {
        match self.value(key, example, Value::as_integer)? {
            None => Ok(None),
            Some(value) => match T::try_from(value) {
                Ok(fitting) => Ok(Some(fitting)),
                Err(_) => Err(self.outside(key, value as f64, must)),
            },
        }
    }

    pub(super) fn pair(&self, key: &str, example: &'static str) -> Read<Option<[f64; 2]>> {
        self.value(key, example, numbers)
    }

    pub(super) fn date(&self, key: &str, example: &'static str) -> Read<Option<Date>> {
        self.value(key, example, |value| {
            let written = value.as_datetime()?;
            match (written.date, written.time) {
                (Some(date), None) => Date::new(date.year, date.month, date.day),
                _ => None,
            }
        })
    }

    /// One of a few words.
    pub(super) fn word<T: Copy>(
        &self,
        key: &str,
        example: &'static str,
        all: &[T],
        name: fn(T) -> &'static str,
    ) -> Read<Option<T>> {
        let Some(word) = self.text(key, example)? else {
            return Ok(None);
        };
        if let Some(&found) = all.iter().find(|&&one| name(one) == word) {
            return Ok(Some(found));
        }
        let known: Vec<&'static str> = all.iter().map(|&one| name(one)).collect();
        Err(self.unknown_word(key, word, known))
    }

    pub(super) fn unknown_word(&self, key: &str, word: &str, known: Vec<&'static str>) -> FileError {
        // What a test has shown or how an end was proven is no matter of spelling: a wrong guess there would be believed.
        let may_guess = !FOUND_BY_TEST.contains(&key);
        let near = nearest(word, known.iter().copied()).filter(|(_, near)| *near && may_guess);
        let nearest = near.map_or("", |(word, _)| word);
        let fault = FileFault::UnknownWord {
            key: key.to_owned(),
            word: word.to_owned(),
            nearest,
            known,
        };
        self.fault_at(key, fault)
    }

    /// A table within, refusing what is no table.
    pub(super) fn section(&self, name: &str, example: &'static str) -> Read<Option<Section<'a>>> {
        let Some((key, item)) = self.get(name) else {
            return Ok(None);
        };
        match item.as_table_like() {
            Some(table) => Ok(Some(Section {
                table,
                joint: self.joint,
                span: key.span().or_else(|| item.span()),
            })),
            None => Err(self.wrong(key, item, example)),
        }
    }

    /// The tables within, in file order, by name.
    pub(super) fn sections(&self, example: &'static str) -> Read<Vec<(&'a str, Section<'a>)>> {
        let mut sections = Vec::with_capacity(self.table.len());
        for (name, _) in self.table.iter() {
            if let Some(section) = self.section(name, example)? {
                sections.push((name, section));
            }
        }
        Ok(sections)
    }

    /// The tables of an array of tables, however it is written.
    pub(super) fn list(&self, name: &str, example: &'static str) -> Read<Vec<Section<'a>>> {
        let Some((key, item)) = self.get(name) else {
            return Ok(Vec::new());
        };
        let made = |table: &'a dyn TableLike, span: Option<Range<usize>>| Section {
            table,
            joint: self.joint,
            span: span.or_else(|| key.span()),
        };
        if let Some(tables) = item.as_array_of_tables() {
            return Ok(tables.iter().map(|table| made(table, table.span())).collect());
        }
        let inline: Option<Vec<_>> = item.as_array().and_then(|array| {
            let one = |value: &'a Value| Some(made(value.as_inline_table()?, value.span()));
            array.iter().map(one).collect()
        });
        inline.ok_or_else(|| self.wrong(key, item, example))
    }

    /// The same section, its faults told of this joint.
    pub(super) fn of_joint(mut self, name: &'a str) -> Self {
        self.joint = Some(name);
        self
    }

    /// The byte at which the section stands.
    pub(super) fn start(&self) -> usize {
        self.span.as_ref().map_or(0, |span| span.start)
    }
}

/// The largest size of the numbers in a value; what is infinite or no number is refused elsewhere, by what it is for.
fn largest(value: &Value) -> f64 {
    let size = |number: f64| if number.is_finite() { number.abs() } else { 0.0 };
    match value {
        Value::Float(number) => size(*number.value()),
        Value::Integer(number) => size(*number.value() as f64),
        Value::Array(array) => array.iter().map(largest).fold(0.0, f64::max),
        _ => 0.0,
    }
}

/// A TOML number as it is meant; whole numbers are numbers too.
pub(super) fn number(value: &Value) -> Option<f64> {
    match value {
        Value::Float(number) => Some(*number.value()),
        Value::Integer(number) => Some(*number.value() as f64),
        _ => None,
    }
}

/// An array of exactly so many numbers.
pub(super) fn numbers<const N: usize>(value: &Value) -> Option<[f64; N]> {
    let numbers: Vec<f64> = value.as_array()?.iter().map(number).collect::<Option<_>>()?;
    numbers.try_into().ok()
}

/// An array of pairs of numbers.
pub(super) fn knots(value: &Value) -> Option<Vec<[f64; 2]>> {
    value.as_array()?.iter().map(numbers::<2>).collect()
}

fn describe(item: &Item) -> String {
    match item {
        Item::Value(Value::String(text)) if text.value().trim().is_empty() => "an empty text".to_owned(),
        Item::Value(Value::String(text)) => format!("the text \"{}\"", text.value()),
        Item::Value(Value::Integer(number)) => format!("the number {}", number.value()),
        Item::Value(Value::Float(number)) if number.value().is_nan() => "not a number".to_owned(),
        Item::Value(Value::Float(number)) => format!("the number {}", Shown(*number.value())),
        Item::Value(Value::Boolean(flag)) => format!("{}", flag.value()),
        Item::Value(Value::Datetime(date)) => format!("the time {}", date.value()),
        Item::Value(Value::Array(array)) => {
            // A number may have hundreds of digits, an array a million values.
            let short = |value: &Value| match value {
                Value::Float(number) => format!("{}", Shown(*number.value())),
                Value::Integer(number) => format!("{}", number.value()),
                Value::Array(_) => "[...]".to_owned(),
                Value::InlineTable(_) => "{...}".to_owned(),
                other => format!("{other}").trim().to_owned(),
            };
            let values: Vec<String> = array.iter().take(4).map(short).collect();
            let more = if array.len() > 4 { ", ..." } else { "" };
            format!("the array [{}{more}]", values.join(", "))
        }
        Item::Value(Value::InlineTable(_)) | Item::Table(_) => "a table".to_owned(),
        Item::ArrayOfTables(_) => "an array of tables".to_owned(),
        Item::None => "nothing".to_owned(),
    }
}
