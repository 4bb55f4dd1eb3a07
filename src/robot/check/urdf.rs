//! The second opinion: what a URDF file says of the same joints.

use std::format;

use super::joint::{short, travel_in_commands};
use super::{Rule, Sink};
use crate::robot::Robot;
use crate::robot::entry::JointEntry;
use crate::robot::urdf::{Urdf, UrdfJoint};
use crate::unit::SiUnit;

/// Share of a URDF range within which its ends agree with ours: such files are rounded by hand.
const AGREES_WITHIN: f64 = 0.01;

pub(super) fn rules(robot: &Robot, urdf: &Urdf, sink: &mut Sink<'_>) {
    for theirs in urdf.joints() {
        if robot.joint(&theirs.name).is_none() {
            sink.robot(
                Rule::UrdfJointUnknown,
                format!(
                    "the URDF moves a joint {}, which the robot file does not have",
                    theirs.name
                ),
                "calibrate it, or spell both alike",
            );
        }
    }
}

pub(super) fn joint_rules(entry: &JointEntry, urdf: &Urdf, sink: &mut Sink<'_>) {
    let Some(theirs) = urdf.joint(entry.name()) else {
        sink.joint(
            Rule::UrdfJointMissing,
            entry,
            "the URDF has no movable joint of this name".into(),
            "spell both alike, or add it there",
        );
        return;
    };
    // Commands per unit of the URDF.
    let its_own = if theirs.slides { SiUnit::Metre } else { SiUnit::Radian };
    let factor = match entry.known_unit() {
        Some(unit) if unit.si() == its_own => 1.0 / unit.to_si(),
        _ => {
            let unit = entry.unit().unwrap_or("nothing");
            sink.joint(
                Rule::UrdfUnitUnlike,
                entry,
                format!("its commands are in {unit}, which cannot be held against the URDF"),
                if theirs.slides {
                    "give unit = \"m\" or \"mm\""
                } else {
                    "give unit = \"deg\" or \"rad\""
                },
            );
            return;
        }
    };
    limits(entry, theirs, factor, sink);
    if let (Some(rate), Some(velocity)) = (entry.joint().max_rate_per_s(), theirs.velocity)
        && rate > velocity * factor * (1.0 + AGREES_WITHIN)
    {
        sink.joint(
            Rule::UrdfRateExceeded,
            entry,
            format!(
                "max_rate_per_s {rate} is more than the URDF's {}",
                short(velocity * factor)
            ),
            "lower max_rate_per_s, or raise velocity there",
        );
    }
}

fn limits(entry: &JointEntry, theirs: &UrdfJoint, factor: f64, sink: &mut Sink<'_>) {
    let Some(limits) = theirs.limits else {
        return;
    };
    let [lower, upper] = limits.map(|limit| limit * factor);
    let range = entry.joint().command_range();
    let (low, high) = travel_in_commands(entry.joint());
    let (low, high) = (low.max(range.lower()), high.min(range.upper()));
    let slack = (upper - lower).abs() * AGREES_WITHIN;
    for (word, ours, theirs, outward) in [("lower", low, lower, -1.0), ("upper", high, upper, 1.0)] {
        let past = (ours - theirs) * outward;
        if past > slack {
            sink.joint(
                Rule::UrdfLimitExceeded,
                entry,
                format!(
                    "the {word} command {} goes past the URDF's {}",
                    short(ours),
                    short(theirs)
                ),
                "the URDF or the travel is wrong; measure, then correct one",
            );
        } else if past < -slack {
            sink.joint(
                Rule::UrdfLimitUnreachable,
                entry,
                format!(
                    "the URDF allows {word} {}, but the travel ends at {}",
                    short(theirs),
                    short(ours)
                ),
                format!("write {} there, so that planning knows", short(ours / factor)),
            );
        }
    }
}
