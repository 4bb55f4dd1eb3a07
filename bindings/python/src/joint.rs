//! `Joint`: the core's checked joint as a frozen Python class.

mod form;
mod many;
mod motor;
mod sensor;

use elbowroom::block::BlockError;
use elbowroom::{JointError, JointRecord};
use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict};

use crate::block::{channel_of, image_of};
use crate::chain::Both;
use crate::numbers::{Given, flag_or_false, maybe_number, maybe_text, number, pair, part, text};
use crate::pulse::{Servo, Timer};
use crate::records::{as_dict, written};
use crate::refuse;
use crate::table::CommandTable;

/// A checked joint: the whole chain from command to timer count and back.
///
/// Towards the motor a command is clamped to the command range, becomes a drive angle, is clamped to the travel, and
/// becomes a pulse width and a timer count; NaN and infinities are refused. Backwards nothing is clamped, and NaN passes
/// as NaN: a gap in a log. A joint in hand is valid, frozen, and may be shared between threads.
///
/// Parameters
/// ----------
/// name : str
///     The joint's name, as in its robot file.
/// command : (float, float)
///     Lower and upper command, in the joint's own unit.
/// drive : (float, float)
///     Lower and upper drive angle that the command range is mapped to, deg.
/// inverted : bool, default False
///     Whether the lower command belongs to the upper drive angle.
/// travel : (float, float), optional
///     Lower and upper drive angle that the joint may use, deg; `drive` if left out.
/// rest : float
///     The command of the rest position.
/// max_rate_per_s : float, optional
///     The fastest the command may change, command units per second.
/// servo : Servo
/// timer : Timer
/// transmission : dict, optional
///     How a command becomes a drive angle, as in a robot file; a straight line if left out. Lengths of one linkage have
///     one unit, e.g. mm; angles are in deg; `branch` is ``"left"`` or ``"right"``. Kinds and keys:
///
///     ``"curve"``: `knots`, pairs of command and drive angle (deg).
///     ``"triangle"``, a linear actuator or screw across a hinge: `base`, `arm` (length), `angle_at_zero` (deg).
///     ``"slider-crank"``, a crank that moves a slide: `crank`, `rod`, `offset`, `slide_at_zero` (length), `branch`.
///     ``"four-bar"``, a crank that moves a rocker: `crank`, `coupler`, `rocker`, `ground` (length), `rocker_at_zero`
///     (deg), `branch`.
///     ``"spool"``, a tendon on a drum: `drum`, `per_turn`, `pulley` (length).
/// feedback : dict, optional
///     How a reading of the joint's sensor becomes a joint angle, as in a robot file: `reading` (two readings, lower first)
///     and `angle` (deg, at these readings): the joint angles at the ends of `command`, so that a reading at them is the command of
///     that end; if needed `inverted`, `adc_bits`, `wrap_deg` (deg), `pot_ohm`, `load_ohm`
///     (ohm), `supply_v` (V), `knots` (pairs of reading and angle).
///
/// Raises
/// ------
/// JointError
///     A field that is wrong, with its value and what would be right.
///
/// Notes
/// -----
/// Arrays may have any shape, be strided or read-only, or come as lists or Series; lists of ints too. None, bools,
/// strings, complex numbers, objects and masked arrays are refused by name. float32 arrays are converted in single
/// precision, with the bits of a microcontroller that holds the same joint; all others in double precision.
///
/// New arrays of 262,144 numbers and more are filled by as many threads as the process has processors, at most four, with the same
/// bits; ``ELBOWROOM_THREADS=1`` in the environment keeps it to one. With `out` it is always one.
///
/// This computes; it cannot stop a motor.
///
/// Examples
/// --------
/// >>> import elbowroom as elb
/// >>> joint = elb.Joint("wing_left", command=(-40, 60), drive=(37, 122), rest=10,
/// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
/// ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
/// >>> joint.drive(10.0), joint.counts(10.0)
/// (79.5, 283)
/// >>> joint.counts([-40, 10, 60, 100])
/// array([187, 283, 380, 380], dtype=int32)
#[pyclass(frozen, module = "elbowroom")]
pub(crate) struct Joint {
    pub(crate) name: String,
    pub(crate) both: Both<elbowroom::Joint<f64>, elbowroom::Joint<f32>>,
    commands: CommandTable,
}

impl Joint {
    pub(crate) fn of(name: String, record: JointRecord<f64>) -> Result<Self, JointError> {
        Ok(Self::from_checked(name, elbowroom::Joint::new(record)?))
    }

    /// A joint of the core as it is.
    pub(crate) fn from_checked(name: String, wide: elbowroom::Joint<f64>) -> Self {
        // What a block cannot hold (a mechanism, a bent feedback) is rounded number by number.
        let narrow = match wide.to_f32(0) {
            Ok(narrow) => Ok(narrow),
            Err(BlockError::Joint { error, .. }) => Err(error),
            Err(_) => elbowroom::Joint::new(wide.record().map(|x| x as f32)),
        };
        Self {
            name,
            both: Both { wide, narrow },
            commands: CommandTable::default(),
        }
    }

    pub(crate) fn narrow(&self, py: Python<'_>) -> PyResult<&elbowroom::Joint<f32>> {
        self.both
            .narrow
            .as_ref()
            .map_err(|error| refuse::joint(py, Some(&self.name), error))
    }
}

#[pymethods]
impl Joint {
    #[new]
    #[pyo3(signature = (name, *, command, drive, inverted=Given(None), travel=None, rest, max_rate_per_s=None, servo, timer, transmission=None, feedback=None), text_signature = "(name, *, command, drive, inverted=False, travel=None, rest, max_rate_per_s=None, servo, timer, transmission=None, feedback=None)")]
    #[expect(clippy::too_many_arguments, reason = "the keywords of a joint, one each")]
    fn new(
        py: Python<'_>,
        name: &Bound<'_, PyAny>,
        command: &Bound<'_, PyAny>,
        drive: &Bound<'_, PyAny>,
        inverted: Given<'_>,
        travel: Option<&Bound<'_, PyAny>>,
        rest: &Bound<'_, PyAny>,
        max_rate_per_s: Option<&Bound<'_, PyAny>>,
        servo: &Bound<'_, PyAny>,
        timer: &Bound<'_, PyAny>,
        transmission: Option<&Bound<'_, PyAny>>,
        feedback: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<Self> {
        let given = name;
        let name = text(given, "name")?;
        // The sentence and the rule are those of the robot file.
        elbowroom::robot::check_joint_name(&name)
            .map_err(|error| refuse::argument_at(py, elbowroom::Code::OptionOutside, &error.to_string(), given))?;
        let servo = part::<Servo>(servo, "servo", "Servo(angle=..., pulse_us=...)")?
            .get()
            .record();
        let timer = part::<Timer>(timer, "timer", "Timer(frame_hz=..., counts_per_frame=...)")?
            .get()
            .record();
        let mut record = JointRecord::new(
            pair(command, "command")?,
            pair(drive, "drive")?,
            number(rest, "rest")?,
            servo,
            timer,
        );
        record.inverted = flag_or_false(inverted.0.as_ref(), "inverted")?;
        record.travel = travel.map(|travel| pair(travel, "travel")).transpose()?;
        record.max_rate_per_s = maybe_number(max_rate_per_s, "max_rate_per_s")?;
        if let Some(transmission) = transmission {
            let example = "{'kind': 'spool', 'drum': 9.0, 'per_turn': 0.0, 'pulley': 30.0}";
            record.transmission = written(transmission, "transmission", example)?;
        }
        let example = "{'reading': [212, 871], 'angle': [0, 95], 'adc_bits': 10}";
        record.feedback = feedback
            .map(|feedback| written(feedback, "feedback", example))
            .transpose()?;
        let place = name.clone();
        Self::of(name, record).map_err(|error| refuse::joint(py, Some(&place), &error))
    }

    /// str: the joint's name, as in its robot file.
    #[getter]
    fn name(&self) -> &str {
        &self.name
    }

    /// (float, float): lower and upper command, in the joint's own unit.
    #[getter]
    fn command_range(&self) -> (f64, f64) {
        self.both.wide.command_range().ends().into()
    }

    /// (float, float): the drive angles that the command range is mapped to, deg.
    #[getter]
    fn drive_range(&self) -> (f64, f64) {
        self.both.wide.drive_range().ends().into()
    }

    /// bool: whether the lower command belongs to the upper drive angle.
    #[getter]
    fn inverted(&self) -> bool {
        self.both.wide.direction().is_inverted()
    }

    /// (float, float): the drive angles that the joint may use, deg.
    #[getter]
    fn travel(&self) -> (f64, f64) {
        self.both.wide.travel().ends().into()
    }

    /// (float, float): the commands up to which the transmission can go; infinite where it has no dead centre and no end.
    ///
    /// The command range lies within; the rest is how much room is left.
    #[getter]
    fn valid_range(&self) -> (f64, f64) {
        self.both.wide.valid_range().into()
    }

    /// float: the command taken when no other is given.
    #[getter]
    fn rest(&self) -> f64 {
        self.both.wide.rest()
    }

    /// float or None: the fastest the command may change, command units per second.
    #[getter]
    fn max_rate_per_s(&self) -> Option<f64> {
        self.both.wide.max_rate_per_s()
    }

    /// Servo: the joint's servo.
    #[getter]
    pub(crate) fn servo(&self, py: Python<'_>) -> PyResult<Servo> {
        Servo::of(self.both.wide.record().servo).map_err(|error| refuse::joint(py, Some(&self.name), &error))
    }

    /// Timer: the timer that makes its pulses.
    #[getter]
    pub(crate) fn timer(&self, py: Python<'_>) -> PyResult<Timer> {
        Timer::of(self.both.wide.record().timer).map_err(|error| refuse::joint(py, Some(&self.name), &error))
    }

    /// dict: how a command becomes a drive angle, with the keys of a robot file.
    #[getter]
    fn transmission<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        as_dict(py, &self.both.wide.transmission().record())
    }

    /// dict or None: how a reading of the joint's sensor becomes a joint angle, with the keys of a robot file.
    #[getter]
    fn feedback<'py>(&self, py: Python<'py>) -> PyResult<Option<Bound<'py, PyAny>>> {
        self.both
            .wide
            .feedback()
            .map(|feedback| as_dict(py, feedback.record()))
            .transpose()
    }

    /// (bool, bool) or None: whether a broken or shorted wire can be seen at the lower and at the upper rail of the converter;
    /// None without feedback. It can where the feedback's readings keep clear of the whole rail, the outermost 1/256 of the
    /// converter's numbers, and `adc_bits` is known. A wiper's own broken wire is at a rail only if a resistor pulls the input
    /// there. (An assumption; verify it at your sensor.)
    #[getter]
    fn detects_wire_faults(&self) -> Option<(bool, bool)> {
        self.both.wide.detects_wire_faults().ok().map(Into::into)
    }

    /// (int, int): the lowest and the highest count that this joint ever gives.
    #[getter]
    fn count_range(&self) -> (u32, u32) {
        self.both.wide.count_range().into()
    }

    /// The joint as a block for firmware: a small binary image, checksummed, in single precision.
    ///
    /// Parameters
    /// ----------
    /// channel : int, default 0
    ///     The output that the firmware knows it by. `Robot.to_block` takes all joints of a board.
    ///
    /// Returns
    /// -------
    /// bytes
    ///
    /// Raises
    /// ------
    /// BlockError
    ///     A transmission that a block cannot hold.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> joint = elb.Joint("wing_left", command=(-40, 60), drive=(37, 122), rest=10,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
    /// >>> type(joint.to_block(channel=3))
    /// <class 'bytes'>
    #[pyo3(signature = (*, channel=None), text_signature = "($self, *, channel=0)")]
    fn to_block<'py>(&self, py: Python<'py>, channel: Option<&Bound<'py, PyAny>>) -> PyResult<Bound<'py, PyBytes>> {
        let channel = channel.map(channel_of).transpose()?.unwrap_or(0);
        match self.both.wide.to_block(channel) {
            Ok(image) => Ok(PyBytes::new(py, &image)),
            Err(error) => Err(refuse::block(py, Some(&self.name), error.code(), &error.to_string())),
        }
    }

    /// A joint of a block: what a microcontroller that holds the block makes of it.
    ///
    /// Parameters
    /// ----------
    /// image : bytes
    ///     As `to_block` makes it.
    /// channel : int, optional
    ///     The output that the firmware knows the joint by; may be left out if the block holds only one.
    /// name : str, optional
    ///     A block holds no names; ``channel_3`` if left out.
    ///
    /// Returns
    /// -------
    /// Joint
    ///     Its numbers are those of single precision; float32 arrays are converted with the bits of the firmware.
    ///
    /// Raises
    /// ------
    /// BlockError
    ///     The image is short, corrupt, or of an unknown version; no joint is on this channel.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> joint = elb.Joint("wing_left", command=(-40, 60), drive=(37, 122), rest=10,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
    /// >>> elb.Joint.from_block(joint.to_block(), name="wing_left") == joint
    /// True
    #[staticmethod]
    #[pyo3(signature = (image, *, channel=None, name=None))]
    fn from_block(
        py: Python<'_>,
        image: &Bound<'_, PyAny>,
        channel: Option<&Bound<'_, PyAny>>,
        name: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<Self> {
        let channel = channel.map(channel_of).transpose()?;
        let name = name.map(|name| text(name, "name")).transpose()?;
        Self::of_block(py, &image_of(image)?, channel, name)
    }

    /// A copy of the joint with the given arguments changed.
    ///
    /// Parameters
    /// ----------
    /// **changes
    ///     Any of the constructor's arguments, `name` too.
    ///
    /// Returns
    /// -------
    /// Joint
    ///     Checked like any other.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> joint = elb.Joint("wing_left", command=(-40, 60), drive=(37, 122), rest=10,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
    /// >>> joint.replace(name="wing_right", inverted=True).drive(-40)
    /// 122.0
    #[pyo3(signature = (**changes))]
    fn replace<'py>(&self, py: Python<'py>, changes: Option<&Bound<'py, PyDict>>) -> PyResult<Bound<'py, PyAny>> {
        let fields = self.keywords(py)?;
        fields.set_item("name", &self.name)?;
        if let Some(changes) = changes {
            fields.update(changes.as_mapping())?;
        }
        py.get_type::<Self>().call((), Some(&fields))
    }

    /// Draw what becomes of the joint's commands: drive angle and pulse width, how steeply, and what its sensor reads.
    ///
    /// Parameters
    /// ----------
    /// path : str or os.PathLike, optional
    ///     Where to save the picture; the ending says how (.svg, .png, .pdf).
    /// ax : matplotlib.axes.Axes, optional
    ///     Where to draw the drive angle alone; a new figure with all panels if left out.
    /// title : str, optional
    ///     The joint's name if left out.
    ///
    /// Returns
    /// -------
    /// matplotlib.axes.Axes
    ///     Those of the drive angle.
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
            .import("elbowroom._plot_joint")?
            .call_method1("joint", (slf, path, ax, maybe_text(title, "title")?))
    }

    fn _repr_html_<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        slf.py().import("elbowroom._robot")?.call_method1("joint_table", (slf,))
    }

    /// Up to and from where a reading is at a rail.
    #[getter]
    fn _rails(&self) -> Option<(f64, f64)> {
        Some(self.both.wide.feedback()?.rails()?.into())
    }

    /// What a call costs by itself: the other side of the scalar benchmark.
    #[pyo3(signature = (command, *, out=None))]
    fn _nothing<'py>(&self, command: &Bound<'py, PyAny>, out: Option<&Bound<'py, PyAny>>) {
        let _ = (command, out);
    }

    #[pyo3(signature = (**changes))]
    fn __replace__<'py>(&self, py: Python<'py>, changes: Option<&Bound<'py, PyDict>>) -> PyResult<Bound<'py, PyAny>> {
        self.replace(py, changes)
    }
}
