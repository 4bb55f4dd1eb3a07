//! Changes that people ask for by name: a value set, a joint renamed, a finding waived.

use std::borrow::ToOwned;
use std::string::{String, ToString};
use std::vec::Vec;

use toml_edit::{Array, DocumentMut, InlineTable, Item, Key, Table, TableLike, Value};

use super::Robot;
use super::check::Rule;
use super::error::{FileError, FileFault};
use super::keys;
use super::set::{is_number, remove_key, set, set_text, text_of, toml_key};
use crate::record::ServoRecord;

const PLACE_EXAMPLE: &str = "wing_left.rest, wing_left.servo.angle or check.guard";

impl Robot {
    /// Sets one value by its place, as `wing_left.rest`, `wing_left.evidence.sense`, `check.guard` or `servo.pulse_us`: the first part is a
    /// joint's name unless it is a key of the whole file; `joint.servo.rest` is the rest of a joint that is called `servo`. The value
    /// is written as in the file; a bare word is taken for text, and `37,122` for a pair.
    ///
    /// A servo line is the scale of all drive angles under it: with another one, drive range, travel and evidence of its joints are written in
    /// its degrees, so that every command keeps its pulse. Numbers that are given are no longer `assumed`.
    ///
    /// # Errors
    /// [`FileError`] for a place or a value that the file cannot have; the robot is then as it was.
    ///
    /// ```
    /// use elbowroom::robot::Robot;
    /// # let mut robot = Robot::parse("format = 1\njoint.wing = { command = [-40, 60], drive = [37, 122], rest = 10, servo = { angle = \
    /// #     [0, 180], pulse_us = [500, 2500] }, timer = { frame_hz = 50, counts_per_frame = 4096 } }")?;
    /// robot.set_value("wing.rest", "12")?;
    /// assert_eq!(robot.joint("wing").unwrap().joint().rest(), 12.0);
    /// assert!(robot.set_value("wing.rest", "500").is_err());
    /// # Ok::<(), elbowroom::robot::FileError>(())
    /// ```
    pub fn set_value(&mut self, place: &str, value: &str) -> Result<(), FileError> {
        self.set_written(place, value).map_err(|error| match error.fault() {
            // Two numbers where one belongs.
            FileFault::WrongType { .. } => pointed(value).map_or(error, |instead| {
                let (place, given) = (place.to_owned(), value.trim().to_owned());
                FileError::new(FileFault::DecimalComma { place, given, instead })
            }),
            _ => error,
        })
    }

    fn set_written(&mut self, place: &str, value: &str) -> Result<(), FileError> {
        let path = self.path_of(place)?;
        let value = value_of(value);
        let part = |index: usize| path.get(index).map(String::as_str);
        let is_line = |from: usize| part(from) == Some("servo") && part(from + 1) != Some("assumed");
        let at = if part(0) == Some("joint") { 2 } else { 0 };
        if !is_line(at) {
            return self.change(|document| put_at(document.as_table_mut(), &path, &value));
        }
        self.change_servos(|document| {
            put_at(document.as_table_mut(), &path, &value)?;
            // What was given whole says by itself whether it is assumed.
            let says_so = |table: &InlineTable| table.contains_key("assumed");
            if path.len() == at + 1 && !value.as_inline_table().is_some_and(says_so) {
                forget_assumed(document.as_table_mut(), &path);
            }
            Ok(())
        })
    }

    /// Sets several values, each as [`set_value`](Self::set_value) does, in their order. A sense comes last: it is that of the joint as the
    /// other values have it.
    ///
    /// # Errors
    /// As there, and [`FileFault::GivenTwice`] for a place that is given twice; the robot is then as it was.
    ///
    /// ```
    /// use elbowroom::robot::Robot;
    /// # let mut robot = Robot::parse("format = 1\njoint.wing = { command = [-40, 60], drive = [37, 122], rest = 10, servo = { angle = \
    /// #     [0, 180], pulse_us = [500, 2500] }, timer = { frame_hz = 50, counts_per_frame = 4096 } }")?;
    /// robot.set_values([("wing.rest", "12"), ("wing.channel", "3")])?;
    /// assert!(robot.set_values([("wing.rest", "1"), ("joint.wing.rest", "2")]).is_err());
    /// assert_eq!(robot.joint("wing").unwrap().joint().rest(), 12.0);
    /// # Ok::<(), elbowroom::robot::FileError>(())
    /// ```
    pub fn set_values<P: AsRef<str>, V: AsRef<str>>(
        &mut self,
        values: impl IntoIterator<Item = (P, V)>,
    ) -> Result<(), FileError> {
        let mut changed = self.clone();
        let (mut given, mut senses) = (Vec::new(), Vec::new());
        for (place, value) in values {
            let path = self.path_of(place.as_ref())?;
            if given.contains(&path) {
                return Err(FileError::new(FileFault::GivenTwice { place: written(&path) }));
            }
            if path.ends_with(&["evidence", "sense"].map(ToOwned::to_owned)) {
                senses.push((place, value));
            } else {
                changed.set_value(place.as_ref(), value.as_ref())?;
            }
            given.push(path);
        }
        for (place, value) in senses {
            changed.set_value(place.as_ref(), value.as_ref())?;
        }
        *self = changed;
        Ok(())
    }

    /// Takes one value out by its place, as [`set_value`](Self::set_value) names it.
    ///
    /// # Errors
    /// [`FileError`] where nothing stands there, or the file needs it.
    ///
    /// ```
    /// use elbowroom::robot::Robot;
    /// # let mut robot = Robot::parse("format = 1\njoint.wing = { command = [-40, 60], drive = [37, 122], rest = 10, servo = { angle = \
    /// #     [0, 180], pulse_us = [500, 2500] }, timer = { frame_hz = 50, counts_per_frame = 4096 }, max_rate_per_s = 60 }")?;
    /// robot.unset_value("wing.max_rate_per_s")?;
    /// assert_eq!(robot.joint("wing").unwrap().joint().max_rate_per_s(), None);
    /// assert!(robot.unset_value("wing.rest").is_err());
    /// # Ok::<(), elbowroom::robot::FileError>(())
    /// ```
    pub fn unset_value(&mut self, place: &str) -> Result<(), FileError> {
        let path = self.path_of(place)?;
        let take = |document: &mut DocumentMut| {
            let (last, above) = path.split_last().ok_or_else(|| no_place(place))?;
            let mut table: &mut dyn TableLike = document.as_table_mut();
            for key in above {
                let inner = table.get_mut(key).ok_or_else(|| not_written(&path))?;
                table = inner.as_table_like_mut().ok_or_else(|| no_place(place))?;
            }
            if !table.contains_key(last) {
                return Err(not_written(&path));
            }
            remove_key(table, last);
            Ok(())
        };
        let at = if path.first().is_some_and(|key| key == "joint") {
            2
        } else {
            0
        };
        if path.get(at).is_some_and(|key| key == "servo") {
            return self.change_servos(take);
        }
        self.change(take)
    }

    /// Gives a joint another name, also where others mirror it and where findings of it are waived.
    ///
    /// # Errors
    /// [`FileFault::UnknownJoint`]; a name that is taken, its own, or no name.
    ///
    /// ```
    /// use elbowroom::robot::Robot;
    /// # let mut robot = Robot::parse("format = 1\njoint.wing = { command = [-40, 60], drive = [37, 122], rest = 10, servo = { angle = \
    /// #     [0, 180], pulse_us = [500, 2500] }, timer = { frame_hz = 50, counts_per_frame = 4096 } }")?;
    /// robot.rename("wing", "wing_left")?;
    /// assert!(robot.joint("wing_left").is_some() && robot.joint("wing").is_none());
    /// # Ok::<(), elbowroom::robot::FileError>(())
    /// ```
    pub fn rename(&mut self, old: &str, new: &str) -> Result<(), FileError> {
        self.expect_joint(old)?;
        if old == new {
            return Err(FileError::new(FileFault::NameUnchanged { name: new.to_owned() }));
        }
        if self.joint(new).is_some() {
            return Err(FileError::new(FileFault::NameTaken { name: new.to_owned() }));
        }
        self.change(|document| {
            if let Some(joints) = document.get_mut("joint").and_then(Item::as_table_like_mut) {
                rename_key(joints, old, new);
                let names: Vec<String> = joints.iter().map(|(name, _)| name.to_owned()).collect();
                for name in names {
                    if let Some(joint) = joints.get_mut(&name).and_then(Item::as_table_like_mut)
                        && joint.get("mirror_of").and_then(Item::as_str) == Some(old)
                    {
                        set_text(joint, "mirror_of", Some(new));
                    }
                }
            }
            let check = document.get_mut("check").and_then(Item::as_table_like_mut);
            let Some(waivers) = check.and_then(|check| check.get_mut("waive")) else {
                return Ok(());
            };
            let inline = waivers.as_array_mut().into_iter().flat_map(Array::iter_mut);
            for waiver in inline.filter_map(Value::as_inline_table_mut) {
                if waiver.get("joint").and_then(Value::as_str) == Some(old) {
                    set_text(waiver, "joint", Some(new));
                }
            }
            let tables = waivers
                .as_array_of_tables_mut()
                .into_iter()
                .flat_map(|all| all.iter_mut());
            for waiver in tables {
                if waiver.get("joint").and_then(Item::as_str) == Some(old) {
                    set_text(waiver, "joint", Some(new));
                }
            }
            Ok(())
        })
    }

    /// Accepts the findings of a rule, of one joint or of all, for a reason. A waiver of the same rule and joint that is there gets the new
    /// reason, and the old one is given back; it stays one waiver.
    ///
    /// # Errors
    /// [`FileFault::UnknownJoint`]; [`FileFault::WaiverOfAll`] for a rule whose findings are errors of joints, without a joint; a reason that
    /// is blank.
    ///
    /// ```
    /// use elbowroom::robot::{Robot, Rule};
    /// # let mut robot = Robot::parse("format = 1\njoint.wing = { command = [-40, 60], drive = [37, 122], rest = 10, servo = { angle = \
    /// #     [0, 180], pulse_us = [500, 2500] }, timer = { frame_hz = 50, counts_per_frame = 4096 } }")?;
    /// assert_eq!(robot.waive(Rule::RateMissing, Some("wing"), "moved by hand only")?, None);
    /// let old = robot.waive(Rule::RateMissing, Some("wing"), "has no motor yet")?;
    /// assert_eq!(old.as_deref(), Some("moved by hand only"));
    /// assert_eq!(robot.settings().waivers.len(), 1);
    /// # Ok::<(), elbowroom::robot::FileError>(())
    /// ```
    pub fn waive(&mut self, rule: Rule, joint: Option<&str>, reason: &str) -> Result<Option<String>, FileError> {
        match joint {
            Some(name) => drop(self.expect_joint(name)?),
            None if self.settings.is_waived_singly(rule) => {
                let rule = rule.name().into();
                return Err(FileError::new(FileFault::WaiverOfAll { rule }));
            }
            None => {}
        }
        let mut replaced = None;
        self.change(|document| {
            if document.get("check").is_none() {
                document.insert("check", Item::Table(Table::new()));
            }
            let Some(check) = document.get_mut("check").and_then(Item::as_table_like_mut) else {
                return Err(no_place("check"));
            };
            if let Some(there) = waiver_in(check, rule, joint) {
                replaced = there.get("reason").and_then(Item::as_str).map(ToOwned::to_owned);
                set_text(there, "reason", Some(reason));
                return Ok(());
            }
            let words = [("rule", Some(rule.name())), ("joint", joint), ("reason", Some(reason))];
            let words = words.into_iter().filter_map(|(key, word)| Some((key, word?)));
            if let Some(tables) = check.get_mut("waive").and_then(Item::as_array_of_tables_mut) {
                let mut waiver = Table::new();
                words.for_each(|(key, word)| set_text(&mut waiver, key, Some(word)));
                tables.push(waiver);
                return Ok(());
            }
            let mut waiver = InlineTable::new();
            words.for_each(|(key, word)| set_text(&mut waiver, key, Some(word)));
            if check.get("waive").is_none() {
                check.insert("waive", Item::Value(Value::Array(Array::new())));
            }
            let all = check.get_mut("waive").and_then(Item::as_array_mut);
            let all = all.ok_or_else(|| no_place("check.waive"))?;
            let is_in_lines = all.iter().any(|old| {
                old.decor()
                    .prefix()
                    .and_then(|p| p.as_str())
                    .is_some_and(|p| p.contains('\n'))
            });
            let mut waiver = Value::InlineTable(waiver);
            if is_in_lines {
                waiver.decor_mut().set_prefix("\n    ");
                all.push_formatted(waiver);
            } else {
                all.push(waiver);
            }
            Ok(())
        })?;
        Ok(replaced)
    }

    /// Changes the text's document and takes it over if it is valid.
    fn change(&mut self, change: impl FnOnce(&mut DocumentMut) -> Result<(), FileError>) -> Result<(), FileError> {
        let Ok(mut document) = self.text.parse::<DocumentMut>() else {
            // Unreachable: a robot's text has been parsed.
            return Ok(());
        };
        let before = document.to_string();
        change(&mut document)?;
        self.become_text(&text_of(&document, &before, &self.text))
    }

    /// The keys that lead to a place.
    fn path_of(&self, place: &str) -> Result<Vec<String>, FileError> {
        let keys = Key::parse(place).map_err(|_| self.unquoted(place).unwrap_or_else(|| no_place(place)))?;
        let mut path: Vec<String> = keys.iter().map(|key| key.get().to_owned()).collect();
        let Some(first) = path.first() else {
            return Err(no_place(place));
        };
        if !keys::TOP.names.contains(&first.as_str()) {
            self.expect_joint(first)
                .map_err(|error| self.dotted(&path).unwrap_or(error))?;
            path.insert(0, "joint".to_owned());
        }
        if let [top, name, ..] = path.as_slice()
            && top == "joint"
        {
            self.expect_joint(name)?;
            if path.len() == 2 {
                return Err(no_place(place));
            }
        }
        Ok(path)
    }

    /// The fault of a place that begins with a joint's name, which needs quotes and has none.
    fn unquoted(&self, place: &str) -> Option<FileError> {
        let place = place.trim();
        let place = place.strip_prefix("joint.").unwrap_or(place);
        let rest_of = |name: &str| {
            Some(
                place
                    .strip_prefix(name)?
                    .trim_start()
                    .strip_prefix('.')?
                    .trim_start()
                    .to_owned(),
            )
        };
        // Of two names, one of which begins with the other, the longer one is meant.
        let names = self.joints.iter().map(super::JointEntry::name);
        let found = names.filter_map(|name| Some((name, rest_of(name)?)));
        let (name, rest) = found.max_by_key(|(name, _)| name.len())?;
        let (name, place) = (name.to_owned(), std::format!("{}.{rest}", toml_key(name)));
        Some(FileError::new(FileFault::QuotedName { name, place }))
    }

    /// The fault of keys that are a joint's name, taken apart at its dots, where there is such a joint.
    fn dotted(&self, path: &[String]) -> Option<FileError> {
        let (name, rest) = (2..=path.len()).find_map(|parts| {
            let (name, rest) = path.split_at_checked(parts)?;
            Some((name.join("."), rest)).filter(|(name, _)| self.joint(name).is_some())
        })?;
        let keys = [&[name.clone()][..], rest].concat();
        let place = written(&keys);
        Some(FileError::new(FileFault::QuotedName { name, place }))
    }

    /// Another text, in which servos may be others: what was measured under each is written in the degrees of its new one.
    fn change_servos(&mut self, edit: impl FnOnce(&mut DocumentMut) -> Result<(), FileError>) -> Result<(), FileError> {
        let Ok(mut edited) = self.text.parse::<DocumentMut>() else {
            // Unreachable: a robot's text has been parsed.
            return Ok(());
        };
        edit(&mut edited)?;
        let mut changed = self.clone();
        let mut moved = Vec::new();
        for entry in self.joints() {
            let mut record = entry.record();
            let servo = servo_in(&edited, entry.name(), record.joint.servo);
            if servo == record.joint.servo {
                continue;
            }
            record
                .change_servo(servo)
                .map_err(|error| FileError::new(FileFault::Joint(error)))?;
            changed.put(&record)?;
            moved.push(entry.name().to_owned());
        }
        // The servo lines themselves stand as in the text that was asked for.
        if moved.is_empty() {
            changed.become_text(&edited.to_string())?;
        } else {
            changed.change(|document| {
                put_servo(document.as_table_mut(), edited.as_table());
                for name in &moved {
                    let from = within(edited.as_table(), &["joint", name]);
                    let joints = document.get_mut("joint").and_then(Item::as_table_like_mut);
                    let to = joints.and_then(|joints| joints.get_mut(name)?.as_table_like_mut());
                    if let (Some(to), Some(from)) = (to, from) {
                        put_servo(to, from);
                    }
                }
                Ok(())
            })?;
        }
        *self = changed;
        Ok(())
    }
}

/// The servo of a joint in a text that need not be valid yet: each of its numbers is the joint's own, else that of the whole file.
fn servo_in(document: &DocumentMut, name: &str, else_this: ServoRecord<f64>) -> ServoRecord<f64> {
    let of = |levels: &[&str], key: &str| {
        let value = within(document.as_table(), levels)?.get(key)?.as_value()?;
        super::reader::numbers::<2>(value)
    };
    let pair = |key: &str| of(&["joint", name, "servo"], key).or_else(|| of(&["servo"], key));
    ServoRecord {
        angle: pair("angle").unwrap_or(else_this.angle),
        pulse_us: pair("pulse_us").unwrap_or(else_this.pulse_us),
    }
}

/// Makes the servo of a table that of another one.
fn put_servo(to: &mut dyn TableLike, from: &dyn TableLike) {
    match (to.get_mut("servo"), from.get("servo")) {
        (Some(old), Some(new)) => *old = new.clone(),
        (None, Some(new)) => {
            to.insert("servo", new.clone());
        }
        (Some(_), None) => remove_key(to, "servo"),
        (None, None) => {}
    }
}

/// The waiver of this rule and joint, where there is one.
fn waiver_in<'t>(check: &'t mut dyn TableLike, rule: Rule, joint: Option<&str>) -> Option<&'t mut dyn TableLike> {
    let is_same = |waiver: &dyn TableLike| {
        let word = |key: &str| waiver.get(key).and_then(Item::as_str);
        word("rule") == Some(rule.name()) && word("joint") == joint
    };
    match check.get_mut("waive")? {
        Item::ArrayOfTables(tables) => {
            let mut tables = tables.iter_mut().map(|table| table as &mut dyn TableLike);
            tables.find(|table| is_same(&**table))
        }
        waivers => {
            let inline = waivers
                .as_array_mut()?
                .iter_mut()
                .filter_map(Value::as_inline_table_mut);
            let mut inline = inline.map(|table| table as &mut dyn TableLike);
            inline.find(|table| is_same(&**table))
        }
    }
}

/// The table at the end of a path.
fn within<'t>(top: &'t dyn TableLike, path: &[&str]) -> Option<&'t dyn TableLike> {
    let mut table = top;
    for key in path {
        table = table.get(key)?.as_table_like()?;
    }
    Some(table)
}

/// Writes a value at a path, with tables made on the way.
fn put_at(top: &mut dyn TableLike, path: &[String], value: &Value) -> Result<(), FileError> {
    let Some((last, above)) = path.split_last() else {
        return Ok(());
    };
    let mut table: &mut dyn TableLike = &mut *top;
    for (depth, key) in above.iter().enumerate() {
        if !table.contains_key(key) {
            let is_header = depth == 0 || (depth == 2 && key == "evidence");
            let made = if is_header {
                Item::Table(Table::new())
            } else {
                Item::Value(Value::InlineTable(InlineTable::new()))
            };
            table.insert(key, made);
        }
        let inner = table.get_mut(key).and_then(Item::as_table_like_mut);
        table = inner.ok_or_else(|| no_place(&path.join(".")))?;
    }
    if table.get(last).is_some_and(Item::is_table) {
        return Err(no_place(&path.join(".")));
    }
    let text = |value: &Value| {
        let mut value = value.clone();
        value.decor_mut().clear();
        value.to_string()
    };
    set(table, last, Some(value.clone()), |old| text(old) == text(value));
    // Numbers that were given are assumed no longer.
    if above.last().is_some_and(|key| key == "servo" || key == "timer") && last != "assumed" {
        forget_assumed(top, above);
    }
    Ok(())
}

/// Takes `assumed` out of the table at the end of a path.
fn forget_assumed(top: &mut dyn TableLike, path: &[String]) {
    let Some((last, above)) = path.split_last() else { return };
    let mut table = top;
    for key in above {
        let Some(inner) = table.get_mut(key).and_then(Item::as_table_like_mut) else {
            return;
        };
        table = inner;
    }
    let Some(item) = table.get_mut(last) else { return };
    if let Some(numbers) = item
        .as_table_like_mut()
        .filter(|numbers| numbers.contains_key("assumed"))
    {
        remove_key(numbers, "assumed");
        // The blank before the closing brace went with it.
        if let Some(inline) = item.as_inline_table_mut() {
            inline.fmt();
        }
    }
}

/// A place as it is written: its keys, and `joint` before them left out.
fn written(path: &[String]) -> String {
    let of_joint = usize::from(path.first().is_some_and(|key| key == "joint"));
    let keys = path.iter().skip(of_joint).map(|key| toml_key(key));
    keys.collect::<Vec<_>>().join(".")
}

fn not_written(path: &[String]) -> FileError {
    FileError::new(FileFault::NotWritten { place: written(path) })
}

fn no_place(place: &str) -> FileError {
    FileError::new(FileFault::WrongType {
        key: "the place".to_owned(),
        found: std::format!("{place}, where no single value stands"),
        example: PLACE_EXAMPLE,
    })
}

/// What was typed, as a value of the file.
fn value_of(typed: &str) -> Value {
    let typed = typed.trim();
    if let Ok(value) = typed.parse::<Value>() {
        return value;
    }
    let parts: Option<Vec<Value>> = typed
        .split(',')
        .map(|part| part.trim().parse::<Value>().ok().filter(is_number))
        .collect();
    match parts {
        Some(numbers) if numbers.len() == 2 => Value::Array(numbers.into_iter().collect()),
        _ => Value::from(typed),
    }
}

/// A number with a decimal comma, written with a point.
fn pointed(typed: &str) -> Option<String> {
    let (whole, rest) = typed.trim().split_once(',')?;
    let is_number = !rest.is_empty() && rest.bytes().all(|digit| digit.is_ascii_digit());
    let pointed = std::format!("{whole}.{rest}");
    (is_number && pointed.parse::<f64>().is_ok()).then_some(pointed)
}

/// Another name for a key, everything else as it stands.
fn rename_key(table: &mut dyn TableLike, old: &str, new: &str) {
    let names: Vec<String> = table.iter().map(|(name, _)| name.to_owned()).collect();
    for name in names {
        let Some(key) = table.key(&name).cloned() else { continue };
        let Some(item) = table.remove(&name) else { continue };
        let key = if name == old {
            Key::new(new)
                .with_leaf_decor(key.leaf_decor().clone())
                .with_dotted_decor(key.dotted_decor().clone())
        } else {
            key
        };
        table.entry_format(&key).or_insert(item);
    }
}

#[cfg(test)]
mod tests;
