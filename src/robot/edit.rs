//! Changing values inside a robot file's text, and nothing else of it.

use std::borrow::ToOwned;
use std::string::{String, ToString};
use std::vec::Vec;

use toml_edit::{Array, DocumentMut, InlineTable, Item, Key, RawString, Table, TableLike, Value};

use super::entry::EntryRecord;
use super::file::evidence;
use super::reader::{knots, number};
use super::{FORMAT, Robot, feedback, transmission};
use crate::joint::{JointRecord, ServoRecord};

/// The text of a robot without joints.
pub(super) fn empty(name: &str) -> String {
    let mut document = DocumentMut::new();
    document.insert("format", Item::Value(Value::from(FORMAT)));
    document.insert("name", Item::Value(Value::from(name)));
    document.to_string()
}

pub(super) fn put(robot: &Robot, record: &EntryRecord) -> String {
    let Ok(mut document) = robot.text.parse::<DocumentMut>() else {
        // Unreachable: a robot's text has been parsed. Given back unchanged it stays valid.
        return robot.text.clone();
    };
    let before = document.to_string();
    if document.get("joint").is_none() {
        let mut joints = Table::new();
        joints.set_implicit(true);
        document.insert("joint", Item::Table(joints));
    }
    let inherited = Inherited::of(&document, robot, record.board.as_deref());
    let old = robot.joint(&record.name).map(super::JointEntry::record);
    if let Some(joints) = document.get_mut("joint").and_then(Item::as_table_like_mut) {
        if !joints.contains_key(&record.name) {
            joints.insert(&record.name, Item::Table(Table::new()));
        }
        if let Some(table) = joints.get_mut(&record.name).and_then(Item::as_table_like_mut) {
            write_entry(table, record, old.as_ref(), &inherited);
        }
    }
    text_of(&document, &before, &robot.text)
}

/// The text of a document that was changed from `before`, or the text that it was read from where nothing changed: there, keys with
/// dots, as `joint.wing.rest`, may stand apart from each other, which a document writes together.
pub(super) fn text_of(document: &DocumentMut, before: &str, read_from: &str) -> String {
    let now = document.to_string();
    if now == before { read_from.to_owned() } else { now }
}

pub(super) fn remove(robot: &Robot, name: &str) -> String {
    let Ok(mut document) = robot.text.parse::<DocumentMut>() else {
        return robot.text.clone();
    };
    if let Some(joints) = document.get_mut("joint").and_then(Item::as_table_like_mut) {
        joints.remove(name);
    }
    document.to_string()
}

/// What a joint has without saying so.
struct Inherited {
    servo: Option<ServoRecord<f64>>,
    /// Each number of the timer by itself: a level may have one of them only.
    frame_hz: Option<f64>,
    counts_per_frame: Option<i64>,
}

impl Inherited {
    /// What a joint on this board has without saying so.
    fn of(document: &DocumentMut, robot: &Robot, board: Option<&str>) -> Self {
        let boards = document.get("board").and_then(Item::as_table_like);
        let board = board.and_then(|board| boards?.get(board)?.as_table_like());
        let levels = [board, Some(document.as_table() as &dyn TableLike)];
        let timer = |key| levels.iter().flatten().find_map(|level| timer_part(*level, key));
        Self {
            servo: robot.servo(),
            frame_hz: timer("frame_hz").and_then(number),
            counts_per_frame: timer("counts_per_frame").and_then(Value::as_integer),
        }
    }
}

/// A number of the timer that one level of the file has.
fn timer_part<'t>(level: &'t dyn TableLike, key: &str) -> Option<&'t Value> {
    level.get("timer")?.as_table_like()?.get(key)?.as_value()
}

fn write_entry(table: &mut dyn TableLike, new: &EntryRecord, old: Option<&EntryRecord>, inherited: &Inherited) {
    set_text(table, "board", new.board.as_deref());
    set_whole(table, "channel", new.channel.map(i64::from));
    set_text(table, "unit", new.unit.as_deref());
    write_joint(table, &new.joint, old.map(|old| &old.joint), inherited);
    set_text(table, "mirror_of", new.mirror_of.as_deref());
    evidence::write(table, &new.evidence);
    evidence::write_history(table, &new.history);
    // Numbers that replace assumed ones were given.
    let is_kept = |same: fn(&EntryRecord, &EntryRecord) -> bool| old.is_none_or(|old| same(old, new));
    let servo = new.assumed.servo && is_kept(|old, new| old.joint.servo == new.joint.servo);
    let timer = new.assumed.timer && is_kept(|old, new| old.joint.timer == new.joint.timer);
    for (key, assumed) in [("servo", servo), ("timer", timer)] {
        if let Some(own) = table.get_mut(key).and_then(Item::as_table_like_mut) {
            set_assumed(own, assumed);
        }
    }
}

fn write_joint(
    table: &mut dyn TableLike,
    new: &JointRecord<f64>,
    old: Option<&JointRecord<f64>>,
    inherited: &Inherited,
) {
    set_pair(table, "command", Some(new.command));
    set_pair(table, "drive", Some(new.drive));
    if new.inverted || table.contains_key("inverted") {
        set_flag(table, "inverted", new.inverted);
    }
    // A record read from a joint always has a travel; left out of the file it means the drive range and follows it.
    let follows = !table.contains_key("travel") && (new.travel.is_none() || new.travel == Some(new.drive));
    if !follows {
        set_pair(table, "travel", new.travel);
    }
    set_number(table, "rest", Some(new.rest));
    set_number(table, "max_rate_per_s", new.max_rate_per_s);

    let servo_same = old.is_some_and(|old| old.servo == new.servo);
    if !servo_same && (inherited.servo != Some(new.servo) || table.contains_key("servo")) {
        within(table, "servo", |servo| {
            set_pair(servo, "angle", Some(new.servo.angle));
            set_pair(servo, "pulse_us", Some(new.servo.pulse_us));
        });
    }
    feedback::write(table, new.feedback.as_ref(), old.and_then(|old| old.feedback.as_ref()));
    transmission::write(table, &new.transmission, old.map(|old| &old.transmission));
    // Compared with what the file says, not with the old joint: on another board the same lines are another timer.
    let frame_hz = timer_part(table, "frame_hz").and_then(number).or(inherited.frame_hz);
    let counts = timer_part(table, "counts_per_frame").and_then(Value::as_integer);
    let counts_per_frame = i64::from(new.timer.counts_per_frame);
    if frame_hz != Some(new.timer.frame_hz) || counts.or(inherited.counts_per_frame) != Some(counts_per_frame) {
        within(table, "timer", |timer| {
            set_number(timer, "frame_hz", Some(new.timer.frame_hz));
            set_whole(timer, "counts_per_frame", Some(counts_per_frame));
        });
    }
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

/// `assumed = true`, or nothing.
fn set_assumed(table: &mut dyn TableLike, assumed: bool) {
    if assumed || table.contains_key("assumed") {
        set(table, "assumed", assumed.then(|| Value::from(true)), |old| {
            old.as_bool() == Some(true)
        });
    }
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
