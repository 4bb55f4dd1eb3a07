//! Two changes of one file, made apart: both are kept where they touch different joints.

use std::borrow::ToOwned;
use std::collections::BTreeMap;
use std::format;
use std::string::{String, ToString};
use std::vec::Vec;

use toml_edit::{DocumentMut, Item, Key, Table};

use super::super::Robot;

/// What is said where both changed something that is not a joint.
const OUTSIDE: &str = "what is written outside its joints was changed both in the file and by this save";

/// A text in its parts: each joint as it is written, and everything else.
struct Parts {
    document: DocumentMut,
    robot: Robot,
    joints: BTreeMap<String, String>,
    outside: String,
}

impl Parts {
    fn of(text: &str) -> Result<Self, String> {
        // Line ends are no change; those of the file are put back in the end.
        let text = text.replace("\r\n", "\n");
        let robot = Robot::parse(&text).map_err(|error| error.to_string())?;
        // What the parser refuses, the robot has refused above, in our words.
        let document: DocumentMut = text.parse().map_err(|_| OUTSIDE.to_owned())?;
        let mut outside = document.clone();
        let mut joints = BTreeMap::new();
        if let Some(table) = outside.get_mut("joint").and_then(Item::as_table_like_mut) {
            for (name, _) in table.iter() {
                if let Some((key, item)) = table.get_key_value(name) {
                    joints.insert(name.to_owned(), alone(key, item));
                }
            }
            table.clear();
        }
        Ok(Self {
            document,
            robot,
            joints,
            outside: outside.to_string(),
        })
    }

    /// The joints that are written otherwise here than there, or stand in one of both only.
    fn changed_from<'p>(&'p self, base: &'p Self) -> Vec<&'p str> {
        let both = self
            .joints
            .keys()
            .chain(base.joints.keys().filter(|name| !self.joints.contains_key(*name)));
        both.filter(|name| self.joints.get(*name) != base.joints.get(*name))
            .map(String::as_str)
            .collect()
    }
}

/// One joint as it is written, comments and all.
fn alone(key: &Key, item: &Item) -> String {
    let mut joints = Table::new();
    joints.set_implicit(true);
    joints.insert_formatted(key, item.clone());
    let mut document = DocumentMut::new();
    document.insert("joint", Item::Table(joints));
    document.to_string()
}

/// Both changes of `base` in one text, and the names of the joints that were changed there; or what was changed twice.
pub(super) fn merge(base: &str, there: &str, here: &str) -> Result<(String, Vec<String>), String> {
    let there = Parts::of(there).map_err(|error| format!("it is refused now ({error})"))?;
    let (base, here) = (Parts::of(base)?, Parts::of(here)?);
    let (theirs, ours) = (there.changed_from(&base), here.changed_from(&base));
    for &name in ours.iter().filter(|name| theirs.contains(name)) {
        if there.joints.get(name) != here.joints.get(name) {
            return Err(match there.joints.contains_key(name) {
                true => format!("joint {name} was changed both in the file and by this save"),
                false => format!("joint {name} was removed from the file"),
            });
        }
    }
    let ours_outside = here.outside != base.outside;
    if ours_outside && there.outside != base.outside && there.outside != here.outside {
        return Err(OUTSIDE.to_owned());
    }
    // Who changed something outside the joints gives the text; the other's joints are put into it.
    let (ground, other, moved) = match ours_outside {
        true => (&here, &there, &theirs),
        false => (&there, &here, &ours),
    };
    let mut document = ground.document.clone();
    for &name in moved {
        graft(&mut document, &other.document, name);
    }
    let text = document.to_string();
    // The same line may mean something else beside the other's servo and timer.
    let robot = Robot::parse(&text).map_err(|error| format!("with both changes it is refused ({error})"))?;
    for entry in robot.joints() {
        let name = entry.name();
        let meant = if moved.contains(&name) { other } else { ground };
        if meant.robot.joint(name).map(super::JointEntry::record) != Some(entry.record()) {
            return Err(format!(
                "joint {name} would change its meaning by what was changed outside the joints"
            ));
        }
    }
    Ok((text, theirs.into_iter().map(ToOwned::to_owned).collect()))
}

/// Puts one document's joint into another, or takes it out of there.
fn graft(into: &mut DocumentMut, from: &DocumentMut, name: &str) {
    let source = from.get("joint").and_then(Item::as_table_like);
    let Some((key, item)) = source.and_then(|joints| joints.get_key_value(name)) else {
        if let Some(joints) = into.get_mut("joint").and_then(Item::as_table_like_mut) {
            joints.remove(name);
        }
        return;
    };
    let mut item = item.clone();
    if into.get("joint").is_none() {
        let mut joints = Table::new();
        joints.set_implicit(true);
        into.insert("joint", Item::Table(joints));
    }
    let Some(joints) = into.get_mut("joint").and_then(Item::as_table_like_mut) else {
        return;
    };
    match joints.get_mut(name) {
        Some(old) => {
            place(&mut item, old.as_table().and_then(Table::position));
            *old = item;
        }
        None => {
            place(&mut item, None);
            joints.entry_format(key).or_insert(item);
        }
    }
}

/// Gives a table its place in the text; the tables within follow it.
fn place(item: &mut Item, position: Option<isize>) {
    let Some(table) = item.as_table_mut() else { return };
    table.set_position(position);
    for (_, inner) in table.iter_mut() {
        place(inner, None);
    }
}
