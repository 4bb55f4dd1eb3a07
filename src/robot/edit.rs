//! Changing values inside a robot file's text, and nothing else of it.

use std::string::{String, ToString};

use toml_edit::{DocumentMut, Item, Table, TableLike, Value};

use super::entry::EntryRecord;
use super::file::evidence;
use super::reader::number;
use super::set::{set, set_flag, set_number, set_pair, set_text, set_whole, text_of, within};
use super::{FORMAT, Robot, feedback, transmission};
use crate::record::{JointRecord, ServoRecord};

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

/// `assumed = true`, or nothing.
fn set_assumed(table: &mut dyn TableLike, assumed: bool) {
    if assumed || table.contains_key("assumed") {
        set(table, "assumed", assumed.then(|| Value::from(true)), |old| {
            old.as_bool() == Some(true)
        });
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
