//! Keys and values of a robot file's text, set in place: what is not named stays as it is, comments and order too.

use std::borrow::ToOwned;
use std::string::{String, ToString};
use std::vec::Vec;

use toml_edit::{Array, DocumentMut, InlineTable, Item, Key, RawString, TableLike, Value};

use super::reader::{knots, number};

/// A joint's name as a key of a robot file, as in the places that [`Robot::set_value`](crate::robot::Robot::set_value) takes: in quotes where it is more than letters, digits,
/// `_` and `-`.
///
/// ```
/// use elbowroom::robot::toml_key;
/// assert_eq!(toml_key("wing_left"), "wing_left");
/// assert_eq!(toml_key("wing.left"), "\"wing.left\"");
/// ```
pub fn toml_key(name: &str) -> String {
    Key::new(name).to_string()
}

/// A word as an argument in a shell: in quotes where it holds other characters than names and numbers do.
///
/// ```
/// use elbowroom::robot::shell_word;
/// assert_eq!(shell_word("robots/heron.toml"), "robots/heron.toml");
/// assert_eq!(shell_word("my robot's.toml"), r"'my robot'\''s.toml'");
/// ```
pub fn shell_word(word: &str) -> String {
    let is_plain = |c: char| c.is_alphanumeric() || matches!(c, '_' | '-' | '=' | '.' | ',' | ':' | '/' | '+' | '@');
    if word.chars().all(is_plain) {
        word.to_owned()
    } else {
        std::format!("'{}'", word.replace('\'', "'\\''"))
    }
}

/// The text of a document that was changed from `before`, or the text that it was read from where nothing changed: there, keys with
/// dots, as `joint.wing.rest`, may stand apart from each other, which a document writes together.
pub(super) fn text_of(document: &DocumentMut, before: &str, read_from: &str) -> String {
    let now = document.to_string();
    if now == before { read_from.to_owned() } else { now }
}

/// Writes into the table under a key, made inline if there is none.
pub(super) fn within(table: &mut dyn TableLike, key: &str, write: impl FnOnce(&mut dyn TableLike)) {
    if !table.get(key).is_some_and(Item::is_table_like) {
        table.insert(key, Item::Value(Value::InlineTable(InlineTable::new())));
    }
    if let Some(inner) = table.get_mut(key).and_then(Item::as_table_like_mut) {
        write(inner);
    }
}

/// Takes a key out of a table. The comments above it and behind it stay, behind the value that stands before it.
pub(super) fn remove_key(table: &mut dyn TableLike, key: &str) {
    let Some((found, item)) = table.get_key_value(key) else {
        return;
    };
    let mut comments = Vec::new();
    comments_of(found, item, &mut comments);
    let is_value = |name: &str, table: &dyn TableLike| table.get(name).is_some_and(Item::is_value);
    let names: Vec<String> = table.iter().map(|(name, _)| name.to_owned()).collect();
    let at = names.iter().position(|name| name == key).unwrap_or(0);
    let (before, after) = names.split_at(at);
    let before = before.iter().rev().find(|name| is_value(name, table));
    let after = after.iter().skip(1).find(|name| is_value(name, table));
    table.remove(key);
    if comments.is_empty() {
        return;
    }
    let lines = comments.join("\n");
    if let Some(value) = before.and_then(|name| table.get_mut(name)?.as_value_mut()) {
        let decor = value.decor_mut();
        let old = decor.suffix().and_then(RawString::as_str).unwrap_or("").trim_end();
        let suffix = std::format!("{old}\n{lines}");
        decor.set_suffix(suffix);
    } else if let Some(mut next) = after.and_then(|name| table.key_mut(name)) {
        let decor = next.leaf_decor_mut();
        let old = decor.prefix().and_then(RawString::as_str).unwrap_or("");
        let prefix = std::format!("{lines}\n{old}");
        decor.set_prefix(prefix);
    }
}

/// The comments of a key and its value, and of the tables within, in the order in which they stand.
fn comments_of(key: &Key, item: &Item, comments: &mut Vec<String>) {
    let mut take = |text: Option<&RawString>| {
        let lines = text.and_then(RawString::as_str).unwrap_or("").lines().map(str::trim);
        comments.extend(lines.filter(|line| line.starts_with('#')).map(ToOwned::to_owned));
    };
    take(key.leaf_decor().prefix());
    match item {
        Item::Value(value) => {
            take(value.decor().prefix());
            take(value.decor().suffix());
        }
        Item::Table(table) => {
            take(table.decor().prefix());
            take(table.decor().suffix());
            for (name, _) in table.iter() {
                if let Some((key, item)) = table.get_key_value(name) {
                    comments_of(key, item, comments);
                }
            }
        }
        Item::ArrayOfTables(_) | Item::None => {}
    }
}

/// Sets a value unless the one that stands there is the same; what is around it (blanks, a comment) stays.
pub(super) fn set(table: &mut dyn TableLike, key: &str, new: Option<Value>, same: impl FnOnce(&Value) -> bool) {
    let Some(mut new) = new else {
        remove_key(table, key);
        return;
    };
    if let Some(old) = table.get_mut(key).and_then(Item::as_value_mut) {
        if !same(old) {
            *new.decor_mut() = old.decor().clone();
            *old = new;
        }
    } else {
        table.insert(key, Item::Value(new));
    }
}

pub(super) fn set_text(table: &mut dyn TableLike, key: &str, new: Option<&str>) {
    set(table, key, new.map(Value::from), |old| old.as_str() == new);
}

pub(super) fn set_flag(table: &mut dyn TableLike, key: &str, new: bool) {
    set(table, key, Some(Value::from(new)), |old| old.as_bool() == Some(new));
}

pub(super) fn set_whole(table: &mut dyn TableLike, key: &str, new: Option<i64>) {
    set(table, key, new.map(Value::from), |old| old.as_integer() == new);
}

pub(super) fn set_number(table: &mut dyn TableLike, key: &str, new: Option<f64>) {
    set(table, key, new.map(written), |old| is(old, new));
}

pub(super) fn set_pair(table: &mut dyn TableLike, key: &str, new: Option<[f64; 2]>) {
    let Some([lower, upper]) = new else {
        remove_key(table, key);
        return;
    };
    match table.get_mut(key).and_then(Item::as_array_mut) {
        Some(old) if old.len() == 2 => {
            for (place, value) in old.iter_mut().zip([lower, upper]) {
                if !is(place, Some(value)) {
                    let mut new = written(value);
                    *new.decor_mut() = place.decor().clone();
                    *place = new;
                }
            }
        }
        _ => {
            let array: Array = [lower, upper].into_iter().map(written).collect();
            table.insert(key, Item::Value(Value::Array(array)));
        }
    }
}

pub(super) fn set_knots(table: &mut dyn TableLike, new: Option<&[[f64; 2]]>) {
    let same = |old: &Value| match (knots(old), new) {
        (Some(old), Some(new)) => {
            old.len() == new.len()
                && old
                    .iter()
                    .zip(new)
                    .all(|(a, b)| a.map(f64::to_bits) == b.map(f64::to_bits))
        }
        _ => false,
    };
    let array = |new: &[[f64; 2]]| -> Array {
        new.iter()
            .map(|knot| Value::Array(knot.iter().copied().map(written).collect()))
            .collect()
    };
    set(table, "knots", new.map(|new| Value::Array(array(new))), same);
}

/// Whether a value is this number, to the bit; a joint makes no difference between both zeros, so neither does its line.
fn is(value: &Value, expected: Option<f64>) -> bool {
    match (number(value), expected) {
        (Some(found), Some(expected)) => found.to_bits() == expected.to_bits() || (found == 0.0 && expected == 0.0),
        _ => false,
    }
}

/// Whether a value is a number.
pub(super) fn is_number(value: &Value) -> bool {
    number(value).is_some()
}

/// Whole numbers below this are exact in `f64` and in TOML alike, and read better without `.0`.
const EXACT_WHOLE: f64 = 9_007_199_254_740_992.0;

fn written(value: f64) -> Value {
    let whole = value as i64;
    // Bits, not values: -0.0 is no whole number of TOML.
    if value.abs() < EXACT_WHOLE && (whole as f64).to_bits() == value.to_bits() {
        Value::from(whole)
    } else {
        Value::from(value)
    }
}
