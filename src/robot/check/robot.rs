//! The rules that look at several joints.

use std::borrow::ToOwned;
use std::collections::HashMap;
use std::format;
use std::string::String;
use std::vec::Vec;

use super::rule::Rule;
use super::sink::{Shell, Sink, argument, short};
use crate::robot::Robot;
use crate::robot::bring_in::unit_named;
use crate::robot::entry::{JointEntry, travel_in_commands};
use crate::robot::near::{MOST_NAMED, nearest};
use crate::robot::settings::Waiver;

pub(super) fn rules(robot: &Robot, sink: &mut Sink<'_>) {
    if robot.joints().is_empty() {
        sink.robot(
            Rule::RobotEmpty,
            "the robot has no joints".to_owned(),
            "write a table [joint.NAME]",
        );
    }
    assumed(robot, sink);
}

/// Numbers that nobody gave, told once for all joints.
fn assumed(robot: &Robot, sink: &mut Sink<'_>) {
    let count = |is_assumed: fn(&JointEntry) -> bool| robot.joints().iter().filter(|entry| is_assumed(entry)).count();
    let told = |what: &str, key: &'static str, count: usize| {
        let s = if count == 1 { "" } else { "s" };
        (count > 0).then(|| (format!("the {what} of {count} joint{s}"), key))
    };
    let parts = [
        told("servo", "servo.assumed", count(|entry| entry.assumed().servo)),
        told("timer", "timer.assumed", count(|entry| entry.assumed().timer)),
    ];
    let (said, keys): (std::vec::Vec<_>, std::vec::Vec<_>) = parts.into_iter().flatten().unzip();
    if !said.is_empty() {
        let verb = if said.len() == 1 { "is" } else { "are" };
        sink.robot(
            Rule::NumbersAssumed,
            format!("{} {verb} assumed, not verified", said.join(" and ")),
            format!(
                "compare with the data sheets, then correct the numbers or set {} to false",
                keys.join(" and ")
            ),
        );
    }
}

/// Who was first on each board and on each of its channels, so that a thousand joints are compared in one pass.
pub(super) struct Wiring<'a> {
    boards: HashMap<&'a str, &'a JointEntry>,
    channels: HashMap<(&'a str, u16), &'a JointEntry>,
}

impl<'a> Wiring<'a> {
    pub(super) fn of(robot: &'a Robot) -> Self {
        let mut wiring = Self {
            boards: HashMap::new(),
            channels: HashMap::new(),
        };
        for entry in robot.joints() {
            if let (Some(board), Some(channel)) = (entry.board(), entry.channel()) {
                wiring.boards.entry(board).or_insert(entry);
                wiring.channels.entry((board, channel)).or_insert(entry);
            }
        }
        wiring
    }
}

/// The name that must be meant.
fn likely<'n, I: Iterator<Item = &'n str>>(word: &str, names: impl Fn() -> I) -> Option<&'n str> {
    nearest(word, names()).and_then(|(name, near)| near.then_some(name))
}

/// Names in a sentence, the first of them where there are many.
fn listed<'n>(names: impl Iterator<Item = &'n str>) -> std::string::String {
    let mut quoted: std::vec::Vec<_> = names.take(MOST_NAMED + 1).map(|name| format!("\"{name}\"")).collect();
    if quoted.len() > MOST_NAMED {
        quoted.truncate(MOST_NAMED);
        quoted.push("...".to_owned());
    }
    quoted.join(", ")
}

pub(super) fn joint_rules(robot: &Robot, wiring: &Wiring<'_>, entry: &JointEntry, sink: &mut Sink<'_>) {
    wired(robot, wiring, entry, sink);
    if let Some(name) = entry.mirror_of() {
        mirror(robot, entry, name, sink);
    }
}

fn wired(robot: &Robot, wiring: &Wiring<'_>, entry: &JointEntry, sink: &mut Sink<'_>) {
    let (board, channel) = match (entry.board(), entry.channel()) {
        (Some(board), Some(channel)) => (board, channel),
        (board, channel) => {
            let missing = match (board, channel) {
                (None, None) => "board and channel",
                (None, _) => "board",
                _ => "channel",
            };
            let board = board.is_none().then(|| argument(entry, "board=NAME"));
            let channel = channel.is_none().then(|| argument(entry, "channel=N"));
            let places: Vec<String> = board.into_iter().chain(channel).collect();
            let hint = format!(
                "write where its wire goes: {}",
                sink.shell.edit(&format!("set {}", places.join(" ")))
            );
            sink.joint(Rule::ChannelMissing, entry, format!("the joint has no {missing}"), hint);
            return;
        }
    };
    if let Some(first) = wiring.channels.get(&(board, channel))
        && first.name() != entry.name()
    {
        sink.joint(
            Rule::ChannelClash,
            entry,
            format!(
                "channel {channel} of board {board} is taken by joint {} (line {})",
                first.name(),
                first.line()
            ),
            "give each joint its own channel",
        );
    }
    if let Some(first) = wiring.boards.get(board)
        && first.joint().timer() != entry.joint().timer()
    {
        let (mine, theirs) = (entry.joint().timer(), first.joint().timer());
        sink.joint(
            Rule::BoardTimersDiffer,
            entry,
            format!(
                "its timer of {} Hz and {} counts differs from the {} Hz and {} counts of joint {} on the same board {board}",
                mine.frame_hz(),
                mine.counts_per_frame(),
                theirs.frame_hz(),
                theirs.counts_per_frame(),
                first.name()
            ),
            format!("one board makes one frame: write the timer once, in [board.{board}]"),
        );
    }
    if robot.boards().is_empty() {
        return;
    }
    match robot.boards().iter().find(|known| known.name() == board) {
        None => {
            let names = || robot.boards().iter().map(|board| board.name());
            let remedy = likely(board, names).map_or_else(
                || format!("write one of {}", listed(names())),
                |near| format!("write \"{near}\""),
            );
            sink.joint(
                Rule::BoardUnknown,
                entry,
                format!("board \"{board}\" is not described in this file"),
                format!("{remedy}, or describe it in [board.{board}]"),
            );
        }
        Some(known) => {
            if let Some(channels) = known.channels()
                && channel >= channels
            {
                sink.joint(
                    Rule::ChannelBeyondBoard,
                    entry,
                    format!("channel {channel} is beyond board {board}, which has {channels}, numbered from 0"),
                    format!("use a channel from 0 to {}", channels.saturating_sub(1)),
                );
            }
        }
    }
}

fn mirror(robot: &Robot, entry: &JointEntry, name: &str, sink: &mut Sink<'_>) {
    if name == entry.name() {
        sink.joint(
            Rule::MirrorOfItself,
            entry,
            "mirror_of names the joint itself".to_owned(),
            "name the joint on the other side",
        );
        return;
    }
    let Some(other) = robot.joint(name) else {
        let others = robot.joints().iter().map(JointEntry::name);
        let near = nearest(name, others.filter(|other| *other != entry.name()));
        let out = sink.shell.edit(&format!("unset {}", argument(entry, "mirror_of")));
        let hint = match near {
            Some((near, true)) => format!("write mirror_of = \"{near}\", the nearest name, or take it out: {out}"),
            _ => format!("take it out: {out}"),
        };
        sink.joint(
            Rule::JointUnknownMirror,
            entry,
            format!("mirror_of names \"{name}\", which no joint is called"),
            hint,
        );
        return;
    };
    // A name that is wrong in itself is told of the other joint alone.
    let back = other
        .mirror_of()
        .filter(|back| *back != name && robot.joint(back).is_some());
    if let Some(back) = back {
        if back != entry.name() {
            sink.joint(
                Rule::MirrorContradicted,
                entry,
                format!("mirror_of names {name}, but {name} mirrors {back}"),
                format!(
                    "write mirror_of = \"{}\" in {name}, or leave it out there",
                    entry.name()
                ),
            );
            return;
        }
        // Both name each other: say a mismatch once, at the later of the two.
        if entry.line() < other.line() {
            return;
        }
    }
    compare_sides(entry, other, sink);
}

/// How the commands of one side become those of the other while each command keeps its drive angle, where the map is a line.
/// The travel stays where it is: where it follows the drive range, it is named as well.
fn same_commands(entry: &JointEntry, other: &JointEntry, shell: &Shell) -> std::string::String {
    let (mine, theirs) = (entry.joint(), other.joint());
    let range = theirs.command_range();
    let ends = [range.lower(), range.upper()].map(|command| mine.transmission().drive(command));
    let [lower, upper] = [ends[0].min(ends[1]), ends[0].max(ends[1])];
    let servo = mine.servo().angle_range();
    if mine.record().transmission.kind() == "linear" && servo.contains(lower) && servo.contains(upper) {
        let mut set = format!(
            "set {} {}",
            argument(entry, &format!("command={},{}", range.lower(), range.upper())),
            argument(entry, &format!("drive={},{}", short(lower), short(upper)))
        );
        let travel = mine.travel();
        if travel == mine.drive_range() {
            set.push(' ');
            set.push_str(&argument(
                entry,
                &format!("travel={},{}", travel.lower(), travel.upper()),
            ));
        }
        return format!(
            "mirrored joints take the same commands; change commands and drive together, so that each command keeps its meaning: {}",
            shell.edit(&set)
        );
    }
    "mirrored joints take the same commands; changed alone, command gives every command another drive angle: fit the readings of both \
     sides again with one --command"
        .into()
}

/// Both sides speak the same commands and move the same amount; where on its servo each does so is its own affair,
/// since a mirrored servo is mounted turned round and its horn sits on another spline tooth.
fn compare_sides(entry: &JointEntry, other: &JointEntry, sink: &mut Sink<'_>) {
    let tolerance = sink.settings.mirror_tolerance;
    let shell = sink.shell;
    let set = |of: &JointEntry, key: &str, value: &str| {
        let change = argument(of, &format!("{key}={value}"));
        shell.edit(&format!("set {change}"))
    };
    let alike = |of: &JointEntry, key: &str, value: &str| {
        format!("mirrored joints take the same commands: {}", set(of, key, value))
    };
    let (mine, theirs) = (entry.joint(), other.joint());
    let mut differ = |what: &str, a: std::string::String, b: std::string::String, hint: &str| {
        sink.joint(
            Rule::MirrorMismatch,
            entry,
            format!("{what} is {a}, but {b} in its mirror {}", other.name()),
            hint,
        );
    };
    let pair = |span: crate::Span<f64>| format!("[{}, {}]", span.lower(), span.upper());
    // Numbers in different units are not held against each other, and none is proposed in the other's unit.
    // A word that is written otherwise is the same unit, and a finding of its own.
    let units = entry.unit().zip(other.unit());
    let units = units.filter(|(mine, theirs)| mine != theirs && unit_named(mine) != unit_named(theirs));
    if let Some((unit, theirs_unit)) = units {
        let hint = if mine.command_range() == theirs.command_range() {
            format!(
                "mirrored joints take the same commands, and the numbers of both sides are alike: if only the word is wrong, correct it: \
                 {}; else convert command, rest and max_rate_per_s of one side as well",
                set(entry, "unit", theirs_unit)
            )
        } else {
            "mirrored joints take the same commands: write unit, command, rest and max_rate_per_s of one side in the unit of the other, \
             each number converted"
                .to_owned()
        };
        differ("unit", unit.to_owned(), theirs_unit.to_owned(), &hint);
    }
    let is_alike = units.is_none();
    if is_alike && mine.command_range() != theirs.command_range() {
        differ(
            "command",
            pair(mine.command_range()),
            pair(theirs.command_range()),
            &same_commands(entry, other, shell),
        );
    }
    if is_alike && mine.rest() != theirs.rest() {
        let rest = format!("{}", theirs.rest());
        let hint = alike(entry, "rest", &rest);
        differ("rest", format!("{}", mine.rest()), rest, &hint);
    }
    if is_alike && mine.max_rate_per_s() != theirs.max_rate_per_s() {
        let rate = |rate: Option<f64>| rate.map_or("not given".to_owned(), |rate| format!("{rate}"));
        let hint = match theirs.max_rate_per_s() {
            Some(theirs) => alike(entry, "max_rate_per_s", &format!("{theirs}")),
            None => alike(other, "max_rate_per_s", &rate(mine.max_rate_per_s())),
        };
        differ(
            "max_rate_per_s",
            rate(mine.max_rate_per_s()),
            rate(theirs.max_rate_per_s()),
            &hint,
        );
    }
    if mine.direction() == theirs.direction() {
        let word = |joint: &crate::Joint<f64>| format!("{}", joint.direction().is_inverted());
        differ(
            "inverted",
            word(mine),
            format!("also {}", word(theirs)),
            "a mirrored servo turns the other way: set inverted on one side",
        );
    }
    let width = |joint: &crate::Joint<f64>| joint.drive_range().upper() - joint.drive_range().lower();
    let again = "measure both sides again, or raise [check] mirror_tolerance";
    if (width(mine) - width(theirs)).abs() > tolerance {
        let deg = |joint| format!("{} deg", short(width(joint)));
        differ("the width of drive", deg(mine), deg(theirs), again);
    }
    // Where the travel ends is compared in commands, as each servo has its own zero, and judged in drive angle.
    // Commands beyond the command range cannot be given.
    let within = |joint: &crate::Joint<f64>| {
        let ((low, high), command) = (travel_in_commands(joint), joint.command_range());
        (command.clamp(low), command.clamp(high))
    };
    let (mine_ends, theirs_ends) = (within(mine), within(theirs));
    for (word, a, b) in [
        ("lower", mine_ends.0, theirs_ends.0),
        ("upper", mine_ends.1, theirs_ends.1),
    ] {
        let drive_per_command = mine.transmission().drive_per_command(mine.rest()).abs();
        if is_alike && ((a - b) * drive_per_command).abs() > tolerance {
            differ(
                &format!("the {word} command within the travel"),
                short(a),
                short(b),
                again,
            );
        }
    }
}

/// A waiver of a rule that was not asked this time says nothing yet.
pub(super) fn waiver_rules(with_urdf: bool, with_today: bool, with_sources: bool, sink: &mut Sink<'_>) {
    let settings = sink.settings;
    let is_wide = |waiver: &&Waiver| waiver.joint.is_none() && settings.is_waived_singly(waiver.rule);
    for waiver in settings.waivers.iter().filter(is_wide) {
        sink.robot(
            Rule::WaiverWithoutJoint,
            format!(
                "the waiver of {} names no joint, so it accepts errors of every joint and of every later change",
                waiver.rule.name()
            ),
            "write joint = \"NAME\" into it, one waiver for each joint that was looked at",
        );
    }
    let unused: std::vec::Vec<_> = settings
        .waivers
        .iter()
        .zip(&sink.waiver_used)
        .filter(|(waiver, used)| {
            let asked = match waiver.rule {
                rule if rule.name().starts_with("urdf-") => with_urdf,
                Rule::EvidenceStale | Rule::EvidenceAhead => with_today,
                Rule::SourceMissing | Rule::SourceChanged => with_sources,
                _ => true,
            };
            asked && !**used
        })
        .map(|(waiver, _)| waiver)
        .collect();
    for waiver in unused {
        let of = waiver
            .joint
            .as_deref()
            .map_or(std::string::String::new(), |joint| format!(" of joint {joint}"));
        sink.robot(
            Rule::WaiverUnused,
            format!("the waiver of {}{of} matches no finding", waiver.rule.name()),
            "remove it from [check] waive",
        );
    }
}
