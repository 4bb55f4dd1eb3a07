//! `Robot`: a robot file as a frozen Python mapping from names to joints.

mod mapping;

use elbowroom::robot::{Check, EntryRecord, JointEntry};
use elbowroom::{Code, Conversion, ConvertError, Unit};
use numpy::{PyArray1, PyArrayDyn, PyArrayMethods, PyUntypedArrayMethods};
use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyTuple};

use crate::arrays::Input;
use crate::block::{block_of, channel_of, image_of};
use crate::evidence::{date_of, evidence, evidence_of, finding, record_of};
use crate::files::{description_at, file_error, path_of};
use crate::joint::Joint;
use crate::numbers::{maybe_text, part, text};
use crate::refuse::{self, Place};

/// A robot file: its checked joints by name, and its text with every comment where it was.
///
/// A robot in hand is valid, and frozen: `put` and `remove` give another robot. It is a mapping from names to joints, in
/// the order of the file.
///
/// Parameters
/// ----------
/// name : str
///     The name of a robot that has no joints yet. `Robot.load` reads a file, `Robot.parse` its text.
///
/// Examples
/// --------
/// >>> import elbowroom as elb
/// >>> robot = elb.Robot.parse('''
/// ... format = 1
/// ... name = "heron"
/// ... servo = { angle = [0, 180], pulse_us = [500, 2500] }
/// ... timer = { frame_hz = 50, counts_per_frame = 4096 }
/// ...
/// ... [joint.wing_left]   # the one that squeaks
/// ... command = [-40, 60]
/// ... drive = [37, 122]
/// ... rest = 10
/// ... ''')
/// >>> list(robot), robot["wing_left"].counts(10)
/// (['wing_left'], 283)
/// >>> later = robot.put(robot["wing_left"].replace(travel=(40.2, 119)))
/// >>> "# the one that squeaks" in later.text
/// True
#[pyclass(frozen, mapping, module = "elbowroom")]
pub(crate) struct Robot {
    pub(crate) robot: elbowroom::robot::Robot,
}

impl Robot {
    pub(crate) fn found(&self, py: Python<'_>, name: &Bound<'_, PyAny>) -> PyResult<&JointEntry> {
        self.robot
            .expect_joint(&text(name, "a joint's name")?)
            .map_err(|error| file_error(py, &error))
    }

    /// What is written down of a joint.
    pub(crate) fn record(&self, py: Python<'_>, name: &str) -> PyResult<EntryRecord> {
        let entry = self.robot.expect_joint(name).map_err(|error| file_error(py, &error))?;
        Ok(entry.record())
    }

    /// This robot with what the record says of its joint.
    pub(crate) fn with(&self, py: Python<'_>, record: &EntryRecord) -> PyResult<Self> {
        let mut robot = self.robot.clone();
        robot.put(record).map_err(|error| file_error(py, &error))?;
        Ok(Self { robot })
    }

    pub(crate) fn joint(entry: &JointEntry) -> Joint {
        Joint::from_checked(entry.name().to_owned(), entry.joint().clone())
    }

    pub(crate) fn joint_named(&self, py: Python<'_>, name: &Bound<'_, PyAny>) -> PyResult<Joint> {
        Ok(Self::joint(self.found(py, name)?))
    }
}

#[pymethods]
impl Robot {
    #[new]
    fn new(py: Python<'_>, name: &Bound<'_, PyAny>) -> PyResult<Self> {
        match elbowroom::robot::Robot::new(&text(name, "name")?) {
            Ok(robot) => Ok(Self { robot }),
            Err(error) => Err(file_error(py, &error)),
        }
    }

    /// Read and check the text of a robot file.
    ///
    /// Parameters
    /// ----------
    /// text : str
    ///
    /// Returns
    /// -------
    /// Robot
    ///
    /// Raises
    /// ------
    /// RobotError
    ///     The first fault, with `line`, `column`, `joint`, and what to write instead.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> from elbowroom import examples
    /// >>> robot = elb.Robot.load(examples.path("heron.toml"))
    /// >>> elb.Robot.parse(robot.text) == robot
    /// True
    #[staticmethod]
    fn parse(py: Python<'_>, text: &Bound<'_, PyAny>) -> PyResult<Self> {
        match elbowroom::robot::Robot::parse(&crate::numbers::text(text, "text")?) {
            Ok(robot) => Ok(Self { robot }),
            Err(error) => Err(file_error(py, &error)),
        }
    }

    /// Read and check a robot file.
    ///
    /// Parameters
    /// ----------
    /// path : str or os.PathLike
    ///
    /// Returns
    /// -------
    /// Robot
    ///
    /// Raises
    /// ------
    /// RobotError
    ///     The first fault, with `file`, `line`, `column`, `joint`, and what to write instead.
    /// FileAccessError
    ///     The file cannot be read; an OSError too.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> from elbowroom import examples
    /// >>> robot = elb.Robot.load(examples.path("heron.toml"))
    /// >>> robot["wing_left"].counts(10)
    /// 283
    #[staticmethod]
    fn load(py: Python<'_>, path: &Bound<'_, PyAny>) -> PyResult<Self> {
        let path = path_of(path)?;
        match py.detach(|| elbowroom::robot::Robot::load(path)) {
            Ok(robot) => Ok(Self { robot }),
            Err(error) => Err(file_error(py, &error)),
        }
    }

    /// Write the file, so that at every moment the path holds the old text or the new one, whole, and so that nothing is
    /// lost that others wrote since this robot was read from there.
    ///
    /// A robot that was not read from this path replaces what stands there. The file keeps its line ends, owner and
    /// permissions. A lock, ``.NAME.lock`` beside the file, is held meanwhile.
    ///
    /// Parameters
    /// ----------
    /// path : str or os.PathLike
    /// new : bool, default False
    ///     Refuse if the path exists.
    ///
    /// Returns
    /// -------
    /// list of str
    ///     The joints that others changed since this robot was read: they stand in the file as the others wrote them.
    ///
    /// Raises
    /// ------
    /// FileChangedError
    ///     Others changed the same joint, or what it depends on; the file is untouched.
    /// FileAccessError
    ///     It cannot be written, or another process holds the lock for ten seconds; the file is untouched.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> from elbowroom import examples
    /// >>> robot = elb.Robot.load(examples.path("heron.toml"))
    /// >>> import pathlib, tempfile
    /// >>> path = pathlib.Path(tempfile.mkdtemp(), "heron.toml")
    /// >>> robot.save(path)
    /// []
    /// >>> elb.Robot.load(path) == robot
    /// True
    #[pyo3(signature = (path, *, new=false))]
    fn save(&self, py: Python<'_>, path: &Bound<'_, PyAny>, new: bool) -> PyResult<Vec<String>> {
        let path = path_of(path)?;
        py.detach(|| {
            if new {
                self.robot.save_new(path).map(|()| Vec::new())
            } else {
                self.robot.save(path).map(|saved| saved.merged)
            }
        })
        .map_err(|error| file_error(py, &error))
    }

    /// str or None: the robot's name.
    #[getter]
    fn name(&self) -> Option<&str> {
        self.robot.name()
    }

    /// str: the file's text.
    #[getter]
    fn text(&self) -> &str {
        self.robot.to_toml()
    }

    /// dict: the boards that the file describes, each with its number of channels or None.
    #[getter]
    fn boards<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let boards = PyDict::new(py);
        for board in self.robot.boards() {
            boards.set_item(board.name(), board.channels())?;
        }
        Ok(boards)
    }

    /// All that the file holds about a joint.
    ///
    /// Parameters
    /// ----------
    /// name : str
    ///
    /// Returns
    /// -------
    /// Entry
    ///     The joint, where it is wired, and what proves its values.
    ///
    /// Raises
    /// ------
    /// UnknownJointError
    ///     With the nearest name; a KeyError too.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> from elbowroom import examples
    /// >>> robot = elb.Robot.load(examples.path("heron.toml"))
    /// >>> robot.entry("wing_left").board, robot.entry("wing_left").channel
    /// ('breast', 3)
    fn entry<'py>(&self, py: Python<'py>, name: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        let entry = self.found(py, name)?;
        let history: PyResult<Vec<_>> = entry.history().iter().map(|earlier| evidence(py, earlier)).collect();
        record_of!(py, "Entry", {
            joint: Self::joint(entry), board: entry.board(), channel: entry.channel(), unit: entry.unit(),
            mirror_of: entry.mirror_of(), evidence: evidence(py, entry.evidence())?,
            history: PyTuple::new(py, history?)?, line: entry.line(),
        })
    }

    /// A robot with this joint written down: in place of the one of its name, else at the end.
    ///
    /// Only values that differ are written; comments, order and formatting stay.
    ///
    /// Parameters
    /// ----------
    /// joint : Joint
    /// board, channel, unit, mirror_of, evidence : optional
    ///     As in `Entry`; what is left out (or None) stays as it is.
    ///
    /// Returns
    /// -------
    /// Robot
    ///
    /// Raises
    /// ------
    /// RobotError
    ///     The file would not be valid.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> from elbowroom import examples
    /// >>> robot = elb.Robot.load(examples.path("heron.toml"))
    /// >>> robot.put(robot["wing_left"].replace(rest=12))["wing_left"].rest
    /// 12.0
    #[pyo3(signature = (joint, *, board=None, channel=None, unit=None, mirror_of=None, evidence=None))]
    #[expect(clippy::too_many_arguments, reason = "the keys of a robot file, one each")]
    fn put(
        &self,
        py: Python<'_>,
        joint: &Bound<'_, PyAny>,
        board: Option<&Bound<'_, PyAny>>,
        channel: Option<&Bound<'_, PyAny>>,
        unit: Option<&Bound<'_, PyAny>>,
        mirror_of: Option<&Bound<'_, PyAny>>,
        evidence: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<Self> {
        let joint = part::<Joint>(joint, "joint", "Joint(...)")?.get();
        let mut record = match self.robot.joint(&joint.name) {
            Some(entry) => entry.record(),
            None => EntryRecord::new(&joint.name, joint.both.wide.record()),
        };
        record.joint = joint.both.wide.record();
        if let Some(board) = board {
            record.board = Some(text(board, "board")?);
        }
        if let Some(channel) = channel {
            record.channel = Some(channel_of(channel)?);
        }
        if let Some(unit) = unit {
            record.unit = Some(text(unit, "unit")?);
        }
        if let Some(mirror_of) = mirror_of {
            record.mirror_of = Some(text(mirror_of, "mirror_of")?);
        }
        if let Some(evidence) = evidence {
            record.evidence = evidence_of(evidence)?;
        }
        self.with(py, &record)
    }

    /// Draw each joint: servo angle, drive range, travel, rest, and the evidence for both ends.
    ///
    /// Parameters
    /// ----------
    /// path : str or os.PathLike, optional
    ///     Where to save the picture; the ending says how (.svg, .png, .pdf).
    /// ax : matplotlib.axes.Axes, optional
    ///     Where to draw; a new figure if left out.
    /// title : str, optional
    ///     The robot's name if left out.
    ///
    /// Returns
    /// -------
    /// matplotlib.axes.Axes
    ///
    /// Raises
    /// ------
    /// ImportError
    ///     matplotlib is not installed: ``pip install elbowroom[plot]``.
    #[pyo3(signature = (path=None, *, ax=None, title=None))]
    fn plot<'py>(
        slf: &Bound<'py, Self>,
        path: Option<&Bound<'py, PyAny>>,
        ax: Option<&Bound<'py, PyAny>>,
        title: Option<&Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        slf.py()
            .import("elbowroom._plot")?
            .call_method1("robot", (slf, path, ax, maybe_text(title, "title")?))
    }

    fn _repr_html_<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        slf.py().import("elbowroom._robot")?.call_method1("robot_table", (slf,))
    }

    /// The timer counts of all joints: each that of `Joint.counts`, in one call.
    ///
    /// Parameters
    /// ----------
    /// commands : array_like
    ///     One for each joint, in file order, each in its joint's own unit; or rows of them, one row for each instant. Outside the
    ///     command range it is clamped.
    ///
    /// Returns
    /// -------
    /// ndarray of int32
    ///     Of the shape of `commands`.
    ///
    /// Raises
    /// ------
    /// ConvertError
    ///     NaN or an infinity; `index` is that of the joint, in rows counted through row after row. As many commands in a row as joints
    ///     are needed.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> robot = elb.Robot.parse('''
    /// ... format = 1
    /// ... servo = { angle = [0, 180], pulse_us = [500, 2500] }
    /// ... timer = { frame_hz = 50, counts_per_frame = 4096 }
    /// ... joint.wing_left = { command = [-40, 60], drive = [37, 122], rest = 10 }
    /// ... joint.wing_right = { command = [-40, 60], drive = [37, 122], inverted = true, rest = 10 }
    /// ... ''')
    /// >>> robot.counts([10, -40])
    /// array([283, 380], dtype=int32)
    /// >>> robot.counts([[10, -40], [60, 10]])
    /// array([[283, 380],
    ///        [380, 283]], dtype=int32)
    fn counts<'py>(&self, commands: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyArrayDyn<i32>>> {
        let py = commands.py();
        let array = Input::wide(commands, "commands")?;
        let given: Vec<f64> = array.read.to_vec()?;
        let joints = self.robot.joints().len();
        let shape = array.read.shape().to_vec();
        let in_row = *shape.last().unwrap_or(&0);
        if shape.len() > 2 || shape.is_empty() {
            let sentence = format!(
                "commands has {} dimensions; give one command for each joint, or rows of them",
                shape.len()
            );
            return Err(refuse::argument(py, Code::LengthMismatch, &sentence));
        }
        if in_row != joints {
            let [are, s] = if in_row == 1 { ["was", ""] } else { ["were", "s"] };
            let sentence = format!("{joints} joints need {joints} commands, {in_row} command{s} {are} given");
            return Err(refuse::exception(
                py,
                "ConvertError",
                Code::LengthMismatch,
                &sentence,
                py.None(),
                Place::default(),
            ));
        }
        let mut counts = Vec::with_capacity(given.len());
        let mut row = vec![Conversion::default(); joints];
        for (number, commands) in given.chunks(joints.max(1)).enumerate() {
            self.robot.counts(commands, &mut row).map_err(|error| match error {
                ConvertError::NotFiniteAt { index, value } => {
                    let name = self.robot.joints().get(index).map(|entry| entry.name());
                    let index = number * joints + index;
                    refuse::convert(py, name, &ConvertError::NotFiniteAt { index, value }, None)
                }
                _ => refuse::convert(py, None, &error, None),
            })?;
            // No timer counts further than an i32.
            counts.extend(row.iter().map(|count| count.value as i32));
        }
        PyArray1::from_vec(py, counts).reshape(shape)
    }

    /// What the file holds about a joint for its next bring-up, to tell what has changed since.
    ///
    /// Parameters
    /// ----------
    /// name : str
    ///     The joint.
    ///
    /// Returns
    /// -------
    /// elbowroom.bring_up.Baseline or None
    ///     The contacts of its evidence and the line of its feedback; None for a joint without a feedback map, since the readings of its
    ///     sensor are then unknown.
    ///
    /// Raises
    /// ------
    /// RobotError
    ///     No such joint.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> from elbowroom import examples
    /// >>> robot = elb.Robot.load(examples.path("heron.toml"))
    /// >>> robot.baseline("wing_left").lower
    /// 37.9
    fn baseline<'py>(&self, py: Python<'py>, name: &Bound<'py, PyAny>) -> PyResult<Option<Bound<'py, PyAny>>> {
        let name = text(name, "name")?;
        let entry = self.robot.expect_joint(&name).map_err(|error| file_error(py, &error))?;
        let Some(known) = entry.baseline() else { return Ok(None) };
        let [lower, upper] = known.contacts;
        let fields = PyDict::new(py);
        fields.set_item("lower", lower)?;
        fields.set_item("upper", upper)?;
        fields.set_item("at", known.at)?;
        fields.set_item("reading", known.reading)?;
        fields.set_item("per_deg", known.per_deg)?;
        let class = py.import("elbowroom.bring_up")?.getattr("Baseline")?;
        class.call((), Some(&fields)).map(Some)
    }

    /// The joints of a board as a block for firmware: a small binary image, checksummed, in single precision.
    ///
    /// Parameters
    /// ----------
    /// board : str, optional
    ///     The joints on this board; all joints, which must share one, if left out.
    ///
    /// Returns
    /// -------
    /// bytes
    ///
    /// Raises
    /// ------
    /// BlockError
    ///     No joint, several boards, a joint without channel, two on one channel, or a transmission that a block cannot hold.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> from elbowroom import examples
    /// >>> robot = elb.Robot.load(examples.path("heron.toml"))
    /// >>> type(robot.to_block(board="breast"))
    /// <class 'bytes'>
    #[pyo3(signature = (*, board=None))]
    fn to_block<'py>(&self, py: Python<'py>, board: Option<&Bound<'py, PyAny>>) -> PyResult<Bound<'py, PyBytes>> {
        let board = board.map(|board| text(board, "board")).transpose()?;
        match self.robot.to_block(board.as_deref()) {
            Ok(image) => Ok(PyBytes::new(py, &image)),
            Err(error) => Err(refuse::block(py, error.joint(), error.code(), &error.to_string())),
        }
    }

    /// The joints of a block, named by their channels: ``channel_3``.
    ///
    /// A block holds no names and no evidence; its numbers are those of single precision.
    ///
    /// Parameters
    /// ----------
    /// image : bytes
    ///     As `to_block` makes it.
    /// name : str
    ///     The robot's name.
    ///
    /// Returns
    /// -------
    /// Robot
    ///
    /// Raises
    /// ------
    /// BlockError
    ///     The image is short, corrupt, or of an unknown version.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> from elbowroom import examples
    /// >>> robot = elb.Robot.load(examples.path("heron.toml"))
    /// >>> list(elb.Robot.from_block(robot.to_block(board="breast"), name="breast"))[:2]
    /// ['channel_0', 'channel_3']
    #[staticmethod]
    #[pyo3(signature = (image, *, name))]
    fn from_block(py: Python<'_>, image: &Bound<'_, PyAny>, name: &Bound<'_, PyAny>) -> PyResult<Self> {
        let (image, name) = (image_of(image)?, text(name, "name")?);
        let robot = elbowroom::robot::Robot::from_block(&name, &block_of(py, &image)?);
        robot
            .map(|robot| Self { robot })
            .map_err(|error| file_error(py, &error))
    }

    /// A robot without this joint.
    ///
    /// Parameters
    /// ----------
    /// name : str
    ///
    /// Returns
    /// -------
    /// Robot
    ///
    /// Raises
    /// ------
    /// UnknownJointError
    ///     With the nearest name; a KeyError too.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> from elbowroom import examples
    /// >>> robot = elb.Robot.load(examples.path("heron.toml"))
    /// >>> "tail" in robot, "tail" in robot.remove("tail")
    /// (True, False)
    fn remove(&self, py: Python<'_>, name: &Bound<'_, PyAny>) -> PyResult<Self> {
        let mut robot = self.robot.clone();
        robot
            .remove(&text(name, "a joint's name")?)
            .map_err(|error| file_error(py, &error))?;
        Ok(Self { robot })
    }

    /// The robot with another name for one joint, which its mirrored side and its waivers follow.
    ///
    /// Parameters
    /// ----------
    /// old, new : str
    ///
    /// Returns
    /// -------
    /// Robot
    ///
    /// Raises
    /// ------
    /// UnknownJointError
    ///     No joint has the old name.
    /// RobotError
    ///     A joint has the new name already, or the new name is not a joint name.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> from elbowroom import examples
    /// >>> robot = elb.Robot.load(examples.path("heron.toml")).rename("wing_left", "wing_port")
    /// >>> "wing_port" in robot, robot.entry("wing_right").mirror_of
    /// (True, 'wing_port')
    fn rename(&self, py: Python<'_>, old: &Bound<'_, PyAny>, new: &Bound<'_, PyAny>) -> PyResult<Self> {
        let mut robot = self.robot.clone();
        robot
            .rename(&text(old, "old, a joint's name,")?, &text(new, "new, a joint's name,")?)
            .map_err(|error| file_error(py, &error))?;
        Ok(Self { robot })
    }

    /// Check the robot by every rule.
    ///
    /// Parameters
    /// ----------
    /// today : datetime.date, optional
    ///     Judge the age of evidence as of this day; left out, age is not judged and the answer depends on the file alone.
    /// urdf : str or os.PathLike, optional
    ///     A URDF file as a second opinion: names, limits, speeds.
    ///
    /// Returns
    /// -------
    /// CheckReport
    ///     Iterates over its open findings; `waived` holds what the file accepts, with the reasons.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> from elbowroom import examples
    /// >>> robot = elb.Robot.load(examples.path("heron.toml"))
    /// >>> report = robot.put(robot["wing_left"], channel=4).check()
    /// >>> [(finding.joint, finding.rule) for finding in report if finding.severity == "error"]
    /// [('wing_right', 'channel-clash')]
    #[pyo3(signature = (*, today=None, urdf=None))]
    fn check<'py>(
        &self,
        py: Python<'py>,
        today: Option<&Bound<'py, PyAny>>,
        urdf: Option<&Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let urdf = match urdf {
            Some(path) => Some(description_at(path, "urdf")?),
            None => None,
        };
        let mut check = urdf.as_ref().map_or(Check::new(), |urdf| Check::new().against(urdf));
        if let Some(today) = today {
            check = check.on(date_of(today, "today")?);
        }
        let report = check.run(&self.robot);
        let findings: Vec<_> = report
            .findings
            .iter()
            .map(|one| finding(py, one))
            .collect::<PyResult<_>>()?;
        let mut waived = Vec::new();
        for one in &report.waived {
            waived.push(record_of!(py, "Waived", { finding: finding(py, &one.finding)?, reason: &one.reason })?);
        }
        record_of!(py, "CheckReport", { findings: PyTuple::new(py, findings)?, waived: PyTuple::new(py, waived)? })
    }

    /// Write the limits of this robot's joints into the text of a robot description, URDF or MJCF.
    ///
    /// A joint's limits are its travel in commands, limited to its command range: in rad or m in URDF, in MJCF in deg or rad as
    /// ``<compiler angle>`` says, or m, with ``limited="true"``. Only these attributes change: order, comments and all else stay.
    /// Joints are found by name. Files that MJCF includes are not followed.
    ///
    /// Parameters
    /// ----------
    /// description : str
    ///     The text, not its path.
    ///
    /// Returns
    /// -------
    /// LimitsOut
    ///     The new text, the limits that were written, and the joints that were left out.
    ///
    /// Raises
    /// ------
    /// RobotError
    ///     The text is neither, a number is invalid, or limits are swapped there; with `line` and `column`.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> robot = elb.robot_from_dict({"name": "heron", "servo": {"angle": [0, 180], "pulse_us": [500, 2500]},
    /// ...     "timer": {"frame_hz": 50, "counts_per_frame": 4096},
    /// ...     "joint": {"neck": {"command": [-90, 45], "drive": [0, 135], "rest": 0}}})
    /// >>> out = robot.limits_into('<mujoco><worldbody><body><joint name="neck"/></body></worldbody></mujoco>')
    /// >>> out.left_out
    /// {'neck': 'its commands are not in the unit of the description\'s joint; give unit = "deg" or "rad", or "m" or "mm" where it slides'}
    fn limits_into<'py>(&self, description: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        let py = description.py();
        let out = self
            .robot
            .limits_into(&text(description, "description")?)
            .map_err(|error| file_error(py, &error))?;
        let (written, left_out) = (PyDict::new(py), PyDict::new(py));
        for joint in &out.written {
            let [lower, upper] = joint.limits;
            written.set_item(&joint.joint, (lower, upper, joint.unit.word()))?;
        }
        for left in &out.left_out {
            left_out.set_item(&left.joint, left.why.to_string())?;
        }
        record_of!(py, "LimitsOut", { text: &out.text, written: written, left_out: left_out })
    }
}

/// A robot from a text that its reader never saw, so that no refusal names a line of it.
#[pyfunction]
pub(crate) fn robot_from_text(text: &Bound<'_, PyAny>) -> PyResult<Robot> {
    elbowroom::robot::Robot::parse(&crate::numbers::text(text, "text")?)
        .map(|robot| Robot { robot })
        .map_err(|error| file_error(text.py(), &error.without_place()))
}

/// What one of a unit is in radians, metres or plain numbers.
#[pyfunction]
pub(crate) fn unit_to_si(word: &str) -> Option<f64> {
    Unit::of(word).map(Unit::to_si)
}
