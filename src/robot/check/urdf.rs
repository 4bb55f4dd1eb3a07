//! The second opinion: the same joints in a URDF file.

use std::format;

use super::rule::Rule;
use super::sink::{Sink, short};
use crate::robot::Robot;
use crate::robot::entry::JointEntry;
use crate::robot::limits_out::{si_of, usable_commands};
use crate::robot::urdf::{Urdf, UrdfJoint};

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
                "calibrate it, or give both the same name",
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
            "give both the same name, or add it there",
        );
        return;
    };
    // Commands per unit of the URDF.
    kinds(entry, theirs, sink);
    let its_own = si_of(theirs.slides);
    let factor = match entry.known_unit() {
        Some(unit) if unit.si() == its_own => 1.0 / unit.to_si(),
        _ => {
            let unit = entry.unit().unwrap_or("nothing");
            sink.joint(
                Rule::UrdfUnitUnlike,
                entry,
                format!("its commands are in {unit}, which cannot be compared with the URDF's"),
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
    soft_limits(entry, theirs, factor, sink);
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

/// What the URDF says of the joint beyond its limits.
fn kinds(entry: &JointEntry, theirs: &UrdfJoint, sink: &mut Sink<'_>) {
    if theirs.continuous {
        sink.joint(
            Rule::UrdfJointEndless,
            entry,
            "it turns without end in the URDF, but has a travel here".into(),
            "make it type=\"revolute\" there, with a limit element",
        );
    }
    if let Some(followed) = &theirs.mimics {
        sink.joint(
            Rule::UrdfJointMimics,
            entry,
            format!("it follows {followed} in the URDF, but has a servo of its own here"),
            "take mimic out there, or this joint out of the robot file",
        );
    }
}

/// The soft limits, with what counts as equal.
fn soft_limits(entry: &JointEntry, theirs: &UrdfJoint, factor: f64, sink: &mut Sink<'_>) {
    let Some([lower, upper]) = theirs.soft_limits.map(|soft| soft.map(|limit| limit * factor)) else {
        return;
    };
    let [low, high] = usable_commands(entry);
    let slack = (upper - lower).abs() * AGREES_WITHIN;
    for (word, ours, theirs, outward) in [("lower", low, lower, -1.0), ("upper", high, upper, 1.0)] {
        if (ours - theirs) * outward > slack {
            sink.joint(
                Rule::UrdfSafetyExceeded,
                entry,
                format!(
                    "the {word} command {} goes past the soft limit {} of the URDF's safety controller",
                    short(ours),
                    short(theirs)
                ),
                format!("write soft_{word}_limit {} there", short(ours / factor)),
            );
        }
    }
}

fn limits(entry: &JointEntry, theirs: &UrdfJoint, factor: f64, sink: &mut Sink<'_>) {
    let Some(limits) = theirs.limits else {
        return;
    };
    let [lower, upper] = limits.map(|limit| limit * factor);
    let [low, high] = usable_commands(entry);
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
                format!(
                    "write {} there, so that plans stay within the travel",
                    short(ours / factor)
                ),
            );
        }
    }
}
