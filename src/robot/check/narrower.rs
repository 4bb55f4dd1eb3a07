//! What narrows the commands of a joint to what its travel needs.

use std::format;
use std::string::String;
use std::vec::Vec;

use super::sink::{Shell, argument, short};
use crate::robot::entry::JointEntry;
use crate::robot::from_fit::six_digits;

/// How the commands are narrowed to what the travel needs while each keeps its drive angle.
pub(super) fn narrower(entry: &JointEntry, shell: &Shell) -> String {
    let joint = entry.joint();
    let (command, drive, travel) = (joint.command_range(), joint.drive_range(), joint.travel());
    if joint.transmission().kind() == "curve" {
        return format!(
            "the commands of a curve end at its outer knots and cannot be narrowed alone: fit only the readings between drive {} and {} deg \
             again, with --transmission curve --adopt; or waive this rule, if such commands are meant to be clamped",
            short(travel.lower()),
            short(travel.upper())
        );
    }
    let scale = six_digits([command.lower(), command.upper()]);
    let at = |end: f64| (joint.command_from_drive(end) * scale).round() / scale + 0.0;
    let [first, last] = match joint.direction().is_inverted() {
        false => [command.lower(), command.upper()],
        true => [command.upper(), command.lower()],
    };
    // An end of the drive range that the travel leaves free stays with its command.
    let (at_lower, lower) = match travel.lower() > drive.lower() {
        true => (at(travel.lower()), travel.lower()),
        false => (first, drive.lower()),
    };
    let (at_upper, upper) = match travel.upper() < drive.upper() {
        true => (at(travel.upper()), travel.upper()),
        false => (last, drive.upper()),
    };
    let [from, to] = [at_lower.min(at_upper), at_lower.max(at_upper)];
    let mut set = Vec::new();
    let mut put = |value: String| set.push(argument(entry, &value));
    if joint.rest() < from || joint.rest() > to {
        let nearest = if joint.rest() < from { from } else { to };
        put(format!("rest={nearest}"));
    }
    put(format!("command={from},{to}"));
    put(format!("drive={lower},{upper}"));
    let mut then = "";
    let mut record = entry.record();
    if let Some(feedback) = &record.joint.feedback {
        let [a0, a1] = feedback.angle;
        let share = |command_at: f64| (command_at - command.lower()) / (command.upper() - command.lower());
        let angle = |command_at: f64| {
            let scale = six_digits([a0, a1]);
            ((a0 + (a1 - a0) * share(command_at)) * scale).round() / scale + 0.0
        };
        let is_straight = feedback.knots.is_none();
        let is_cut = record.cut_feedback([angle(from), angle(to)]).is_ok();
        match record.joint.feedback.filter(|_| is_straight && is_cut) {
            Some(map) => {
                let ([r0, r1], [a0, a1]) = (map.reading, map.angle);
                put(format!("feedback.reading={r0},{r1}"));
                put(format!("feedback.angle={a0},{a1}"));
            }
            None => {
                then = "; then fit the readings with the column of its sensor again (--feedback), since its knots end at the old commands"
            }
        }
    }
    format!(
        "narrow commands to what the travel needs, and with them what belongs to their ends, so that each command keeps its meaning: {}{then}",
        shell.edit(&format!("set {}", set.join(" ")))
    )
}
