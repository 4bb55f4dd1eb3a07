//! The joints of a URDF file, for comparison with a robot.
//!
//! *Source*: the URDF joint element: `limit` carries `lower` and `upper` in rad (revolute) or m (prismatic), 0 if left out,
//! and `velocity` in rad or m per second.

use std::borrow::ToOwned;
use std::path::Path;
use std::string::{String, ToString};
use std::vec::Vec;

use roxmltree::{Document, Node};

use super::error::{FileError, FileFault};

/// The movable joints of a URDF file.
///
/// ```
/// use elbowroom::robot::Urdf;
/// let urdf = Urdf::parse(
///     r#"<robot name="heron"><joint name="neck" type="revolute">
///          <limit lower="-0.5" upper="0.5" velocity="1.0" effort="2"/></joint></robot>"#,
/// )?;
/// assert_eq!(urdf.name(), Some("heron"));
/// assert_eq!(urdf.joints()[0].limits, Some([-0.5, 0.5]));
/// # Ok::<(), elbowroom::robot::FileError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Urdf {
    name: Option<String>,
    joints: Vec<UrdfJoint>,
}

/// One movable joint of a URDF file; rad for joints that turn, m for those that slide.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct UrdfJoint {
    /// Its name.
    pub name: String,
    /// Whether it slides; else it turns.
    pub slides: bool,
    /// Lower and upper limit; absent for joints that turn without end.
    pub limits: Option<[f64; 2]>,
    /// The fastest it may move, per second.
    pub velocity: Option<f64>,
    /// Whether it turns without end (`continuous`).
    pub continuous: bool,
    /// The joint that it follows (`mimic`).
    pub mimics: Option<String>,
    /// The soft limits of its `safety_controller`, where it has any.
    pub soft_limits: Option<[f64; 2]>,
}

impl Urdf {
    /// Reads the text of a URDF file.
    ///
    /// # Errors
    /// [`FileError`] with the place of what is not XML, not a robot, not a number, or of a pair of limits that are swapped: other readers
    /// take these for no limits.
    pub fn parse(xml: &str) -> Result<Self, FileError> {
        let document = document(xml)?;
        let root = document.root_element();
        if !root.has_tag_name("robot") {
            let fault = FileFault::NotXml {
                message: std::format!("the outermost element is {}, not robot", root.tag_name().name()),
            };
            return Err(fault.at(Some(root.range()), None).in_text(xml));
        }
        let movable = root.children().filter(|node| node.has_tag_name("joint"));
        let read = movable.filter_map(|node| read(node).transpose());
        let joints: Result<Vec<UrdfJoint>, FileError> = read.collect();
        Ok(Self {
            name: root.attribute("name").map(ToOwned::to_owned),
            joints: joints.map_err(|error| error.in_text(xml))?,
        })
    }

    /// Reads a URDF file.
    ///
    /// # Errors
    /// As [`Urdf::parse`], with the file named; [`FileFault::Access`] if it cannot be read or is not UTF-8.
    pub fn load(path: impl AsRef<Path>) -> Result<Self, FileError> {
        let path = path.as_ref();
        let bytes = std::fs::read(path).map_err(|error| FileError::access("read", &error, path))?;
        let xml = super::file::text_of(bytes, path)?;
        Self::parse(&xml).map_err(|error| error.in_file(path))
    }

    /// The robot's name.
    pub fn name(&self) -> Option<&str> {
        self.name.as_deref()
    }

    /// Its movable joints, in file order.
    pub fn joints(&self) -> &[UrdfJoint] {
        &self.joints
    }

    /// The joint of this name.
    pub fn joint(&self, name: &str) -> Option<&UrdfJoint> {
        self.joints.iter().find(|joint| joint.name == name)
    }
}

/// The XML, or where it is none.
pub(super) fn document(xml: &str) -> Result<Document<'_>, FileError> {
    Document::parse(xml).map_err(|error| {
        let place = error.pos();
        let message = error.to_string();
        FileError::new(FileFault::NotXml { message }).placed(place.row as usize, place.col as usize)
    })
}

/// A lower limit above its upper one.
pub(super) fn swapped(key: &str, lower: f64) -> FileFault {
    FileFault::ValueOutside {
        key: key.to_owned(),
        value: lower,
        must: "no more than the upper limit",
    }
}

fn read(node: Node<'_, '_>) -> Result<Option<UrdfJoint>, FileError> {
    let (Some(name), kind) = (node.attribute("name"), node.attribute("type").unwrap_or("")) else {
        return Ok(None);
    };
    let (slides, endless) = match kind {
        "revolute" => (false, false),
        "continuous" => (false, true),
        "prismatic" => (true, false),
        // Fixed, floating and planar joints have no servo.
        _ => return Ok(None),
    };
    let child = |tag: &'static str| node.children().find(move |child| child.has_tag_name(tag));
    let limit = child("limit");
    let number = |element, key: &str| number(element, key, name);
    let [lower, upper] = ["lower", "upper"].map(|key| number(limit, key));
    let limits = [lower?.unwrap_or(0.0), upper?.unwrap_or(0.0)];
    let limits = (!endless && limit.is_some()).then_some(limits);
    if let (Some([lower, upper]), Some(limit)) = (limits, limit)
        && lower > upper
    {
        return Err(swapped("lower", lower).at(Some(limit.range()), Some(name)));
    }
    let safety = child("safety_controller");
    let soft = [number(safety, "soft_lower_limit")?, number(safety, "soft_upper_limit")?];
    Ok(Some(UrdfJoint {
        name: name.to_owned(),
        slides,
        limits,
        velocity: number(limit, "velocity")?,
        continuous: endless,
        mimics: child("mimic").map(|mimic| mimic.attribute("joint").unwrap_or("").to_owned()),
        // Each is 0 if left out.
        soft_limits: soft
            .iter()
            .any(Option::is_some)
            .then_some(soft.map(Option::unwrap_or_default)),
    }))
}

fn number(limit: Option<Node<'_, '_>>, key: &str, joint: &str) -> Result<Option<f64>, FileError> {
    let Some((limit, text)) = limit.and_then(|limit| Some((limit, limit.attribute(key)?))) else {
        return Ok(None);
    };
    match text.trim().parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(Some(value)),
        _ => {
            let fault = FileFault::WrongType {
                key: key.to_owned(),
                found: std::format!("the text \"{text}\""),
                example: if text.contains("${") {
                    "lower=\"-0.5\", or expand the macros with xacro first"
                } else {
                    "lower=\"-0.5\""
                },
            };
            Err(fault.at(Some(limit.range()), Some(joint)))
        }
    }
}
