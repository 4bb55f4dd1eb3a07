//! Limits out: the travel that was measured, written into a robot description that planners and simulators read.
//!
//! Only the attributes of limits change; order, comments and everything else stay byte for byte.
//!
//! *Source*: the URDF joint element (`limit` needs `effort` and `velocity` as well; rad and m), and the reference of MJCF
//! (`joint` with `range` and `limited`; `compiler` with `angle`, degrees if left out; slides in m; classes of defaults).

use core::fmt;
use core::ops::Range;
use std::borrow::ToOwned;
use std::format;
use std::string::{String, ToString};
use std::vec::Vec;

use roxmltree::Node;

use super::entry::{JointEntry, travel_in_commands};
use super::error::{FileError, FileFault};
use super::{Robot, urdf};
use crate::unit::{SiUnit, Unit};

/// A robot description with the limits of a robot file in it.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct LimitsOut {
    /// The description's text.
    pub text: String,
    /// What was written, in the order of the robot file.
    pub written: Vec<LimitOut>,
    /// Joints of the robot file of which nothing was written, and why.
    pub left_out: Vec<LeftOut>,
}

/// The limits of one joint as they were written.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct LimitOut {
    /// The joint.
    pub joint: String,
    /// Lower and upper, in the description's own unit: rad, deg or m.
    pub limits: [f64; 2],
    /// The unit.
    pub unit: Unit,
}

/// A joint of which nothing was written.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct LeftOut {
    /// The joint.
    pub joint: String,
    /// Why.
    pub why: WhyLeftOut,
}

/// Why the limits of a joint were not written. `Display` writes the sentence.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum WhyLeftOut {
    /// The description has no movable joint of this name.
    Missing,
    /// Its commands have no unit that fits the description's joint.
    Unit,
    /// A URDF joint that turns without end cannot have limits.
    Continuous,
    /// A URDF joint without `limit`, whose `effort` and `velocity` nobody but its designer knows.
    NoLimit,
    /// A joint of MJCF that has no range of one number.
    NoRange,
}

impl fmt::Display for WhyLeftOut {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Missing => "the description has no movable joint of this name; give both the same name",
            Self::Unit => "its commands are not in the unit of the description's joint; give unit = \"deg\" or \"rad\", or \"m\" or \"mm\" where it slides",
            Self::Continuous => "it turns without end there; make it type=\"revolute\" with a limit element, and write the limits again",
            Self::NoLimit => "it has no limit element with effort and velocity there; add them, and write the limits again",
            Self::NoRange => "it is a ball or free joint there, which has no lower and upper limit; make it a hinge or a slide",
        })
    }
}

/// One change of the text: what stands in the range gives way to other text.
type Change = (Range<usize>, String);

impl Robot {
    /// Writes the limits of this robot's joints into the text of a robot description, URDF or MJCF by its outermost element.
    ///
    /// A joint's limits are its travel in commands, limited to its command range: in rad or m in URDF, and in MJCF in deg or rad as
    /// `<compiler angle>` says, or m, with `limited="true"`. The numbers are the shortest that read back as the same `f64`. Joints
    /// are found by name. Files that MJCF includes are not followed.
    ///
    /// ```
    /// # use elbowroom::robot::Robot;
    /// let robot = Robot::parse(
    ///     "format = 1\n[joint.neck]\nunit = \"deg\"\ncommand = [-90, 45]\ndrive = [0, 135]\nrest = 0\n\
    ///      servo = { angle = [0, 180], pulse_us = [500, 2500] }\ntimer = { frame_hz = 50, counts_per_frame = 4096 }\n",
    /// )?;
    /// let urdf = r#"<robot name="heron"><joint name="neck" type="revolute">
    ///   <limit effort="2" velocity="1" lower="-3" upper="3"/> <!-- guessed --></joint></robot>"#;
    /// let out = robot.limits_into(urdf)?;
    /// assert!(out.text.contains(r#"<limit effort="2" velocity="1" lower="-1.5707963267948966" upper="0.7853981633974483"/> <!-- guessed -->"#));
    /// assert!(out.left_out.is_empty());
    /// # Ok::<(), elbowroom::robot::FileError>(())
    /// ```
    ///
    /// # Errors
    /// [`FileError`] with the place of what is not XML, not a robot description or not a number, and of limits that are swapped there.
    pub fn limits_into(&self, xml: &str) -> Result<LimitsOut, FileError> {
        let document = urdf::document(xml)?;
        let root = document.root_element();
        let joints = match root.tag_name().name() {
            "robot" => {
                urdf::Urdf::parse(xml)?;
                urdf_joints(root)
            }
            "mujoco" => mjcf_joints(root).map_err(|error| error.in_text(xml))?,
            other => {
                let message = format!("the outermost element is {other}, neither robot (URDF) nor mujoco (MJCF)");
                return Err(FileFault::NotXml { message }.at(Some(root.range()), None).in_text(xml));
            }
        };
        let (mut written, mut left_out, mut changes) = (Vec::new(), Vec::new(), Vec::new());
        for entry in self.joints() {
            let joint = entry.name().to_owned();
            let theirs = joints.iter().find(|theirs| theirs.name == joint);
            match theirs
                .ok_or(WhyLeftOut::Missing)
                .and_then(|theirs| limits(entry, theirs, &mut changes))
            {
                Ok((limits, unit)) => written.push(LimitOut { joint, limits, unit }),
                Err(why) => left_out.push(LeftOut { joint, why }),
            }
        }
        Ok(LimitsOut {
            text: changed(xml, changes),
            written,
            left_out,
        })
    }
}

/// A joint of a description, and where its limits go.
struct Theirs<'a, 'input> {
    name: &'a str,
    /// Its limits' unit, or why it can have none.
    unit: Result<Unit, WhyLeftOut>,
    node: Node<'a, 'input>,
    form: Form,
}

#[derive(Clone, Copy)]
enum Form {
    /// `lower` and `upper` of a `limit` element.
    Urdf,
    /// `range` and `limited` of the joint itself.
    Mjcf,
}

/// Changes the limits of one joint, and returns them in its unit.
fn limits(
    entry: &JointEntry,
    theirs: &Theirs<'_, '_>,
    changes: &mut Vec<Change>,
) -> Result<([f64; 2], Unit), WhyLeftOut> {
    let unit = theirs.unit?;
    let own = entry
        .known_unit()
        .filter(|own| own.si() == unit.si())
        .ok_or(WhyLeftOut::Unit)?;
    let factor = own.to_si() / unit.to_si();
    // Adding 0 makes -0 into 0.
    let limits = usable_commands(entry).map(|command| command * factor + 0.0);
    let [lower, upper] = limits;
    match theirs.form {
        Form::Urdf => {
            let own = |child: &Node<'_, '_>| child.has_tag_name("limit");
            let limit = theirs.node.children().find(own).ok_or(WhyLeftOut::NoLimit)?;
            if ["effort", "velocity"].iter().any(|key| limit.attribute(*key).is_none()) {
                return Err(WhyLeftOut::NoLimit);
            }
            set(
                limit,
                &[("lower", lower.to_string()), ("upper", upper.to_string())],
                changes,
            );
        }
        Form::Mjcf => {
            let range = format!("{lower} {upper}");
            set(
                theirs.node,
                &[("range", range), ("limited", "true".to_owned())],
                changes,
            );
        }
    }
    Ok((limits, unit))
}

/// The commands that a joint really obeys: its command range within its travel.
pub(super) fn usable_commands(entry: &JointEntry) -> [f64; 2] {
    let range = entry.joint().command_range();
    let (low, high) = travel_in_commands(entry.joint());
    [low.max(range.lower()), high.min(range.upper())]
}

/// Sets attributes in place, or puts them behind the last one that is there.
fn set(node: Node<'_, '_>, values: &[(&str, String)], changes: &mut Vec<Change>) {
    let mut added = String::new();
    for (key, value) in values {
        match node.attribute_node(*key) {
            Some(attribute) => changes.push((attribute.range_value(), value.clone())),
            None => added += &format!(" {key}=\"{value}\""),
        }
    }
    if !added.is_empty() {
        let behind_name = node.range().start + 1 + node.tag_name().name().len();
        let at = node
            .attributes()
            .map(|attribute| attribute.range().end)
            .max()
            .unwrap_or(behind_name);
        changes.push((at..at, added));
    }
}

/// The text after all changes.
fn changed(text: &str, mut changes: Vec<Change>) -> String {
    changes.sort_by_key(|(range, _)| range.start);
    let (mut out, mut at) = (String::with_capacity(text.len()), 0);
    for (range, new) in changes {
        out += text.get(at..range.start).unwrap_or("");
        out += &new;
        at = range.end;
    }
    out + text.get(at..).unwrap_or("")
}

fn urdf_joints<'a, 'input>(root: Node<'a, 'input>) -> Vec<Theirs<'a, 'input>> {
    let joint = |node: Node<'a, 'input>| {
        let unit = match node.attribute("type")? {
            "revolute" => Ok(Unit::Rad),
            "prismatic" => Ok(Unit::M),
            "continuous" => Err(WhyLeftOut::Continuous),
            _ => return None,
        };
        Some(Theirs {
            name: node.attribute("name")?,
            unit,
            node,
            form: Form::Urdf,
        })
    };
    root.children()
        .filter(|node| node.has_tag_name("joint"))
        .filter_map(joint)
        .collect()
}

fn mjcf_joints<'a, 'input>(root: Node<'a, 'input>) -> Result<Vec<Theirs<'a, 'input>>, FileError> {
    let compilers = root.children().filter(|node| node.has_tag_name("compiler"));
    let turns = match compilers.filter_map(|node| node.attribute("angle")).next_back() {
        Some("radian") => Unit::Rad,
        _ => Unit::Deg,
    };
    let bodies = root.children().filter(|node| node.has_tag_name("worldbody"));
    let nodes = bodies
        .flat_map(|body| body.descendants())
        .filter(|node| node.has_tag_name("joint"));
    let mut joints = Vec::new();
    for node in nodes {
        let Some(name) = node.attribute("name") else { continue };
        refuse_swapped(node, name)?;
        let unit = match kind(root, node) {
            "slide" => Ok(Unit::M),
            "ball" | "free" => Err(WhyLeftOut::NoRange),
            _ => Ok(turns),
        };
        joints.push(Theirs {
            name,
            unit,
            node,
            form: Form::Mjcf,
        });
    }
    Ok(joints)
}

/// A range whose ends are swapped: whoever wrote it meant something that this cannot know.
fn refuse_swapped(node: Node<'_, '_>, joint: &str) -> Result<(), FileError> {
    let Some(range) = node.attribute("range") else {
        return Ok(());
    };
    let mut ends = range.split_ascii_whitespace().map(|word| word.parse::<f64>().ok());
    let fault = match (ends.next().flatten(), ends.next().flatten(), ends.next()) {
        (Some(lower), Some(upper), None) if lower <= upper => return Ok(()),
        (Some(lower), Some(_), None) => urdf::swapped("range", lower),
        _ => FileFault::WrongType {
            key: "range".to_owned(),
            found: format!("the text \"{range}\""),
            example: "range=\"-28.6 57.3\"",
        },
    };
    Err(fault.at(Some(node.range()), Some(joint)))
}

/// The type of an MJCF joint: its own, else that of its class of defaults, else a hinge.
fn kind<'a>(root: Node<'a, '_>, joint: Node<'a, '_>) -> &'a str {
    if let Some(kind) = joint.attribute("type") {
        return kind;
    }
    let of_body = || joint.ancestors().find_map(|node| node.attribute("childclass"));
    let class = joint.attribute("class").or_else(of_body);
    let mut defaults = root.descendants().filter(|node| node.has_tag_name("default"));
    let found = match class {
        Some(class) => defaults.find(|node| node.attribute("class") == Some(class)),
        None => defaults.next(),
    };
    // A class inherits from those around it.
    let around = found.into_iter().flat_map(|node| node.ancestors());
    let stated = |node: Node<'a, '_>| {
        node.children()
            .find(|child| child.has_tag_name("joint"))?
            .attribute("type")
    };
    around
        .filter(|node| node.has_tag_name("default"))
        .find_map(stated)
        .unwrap_or("hinge")
}

/// The SI unit of a joint's limits.
pub(super) fn si_of(slides: bool) -> SiUnit {
    if slides { SiUnit::Metre } else { SiUnit::Radian }
}
