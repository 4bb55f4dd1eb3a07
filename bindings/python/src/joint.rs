//! `Joint`: the core's checked joint as a frozen Python class.

use elbowroom::JointRecord;
use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyFloat, PyInt, PyTuple};

use crate::chain::{self, Both, counted};
use crate::forms::{
    as_dict, channel_of, feedback_of, hash_of_joint, image_of, joint_of_block, keywords, narrowed, no_block,
    repr_of_joint, transmission_of,
};
use crate::many;
use crate::numbers::{flag, maybe_number, number, pair, part, quick, quick_int, text};
use crate::pulse::{Servo, Timer};
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
///     The command taken when nothing else is asked.
/// rate_per_s : float, optional
///     The fastest the command may change, command units per second.
/// servo : Servo
/// timer : Timer
/// transmission : dict, optional
///     How a command becomes a drive angle, as in a robot file: `kind` (``"curve"``, ``"triangle"``, ``"crank-slider"``,
///     ``"four-bar"``, ``"spool"``) and its numbers. A straight line if left out.
/// feedback : dict, optional
///     How a reading of the joint's sensor becomes a joint angle, as in a robot file: `reading`, `angle`, `adc_bits` ….
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
/// This computes; it cannot stop a motor.
///
/// Examples
/// --------
/// >>> import elbowroom as elb
/// >>> joint = elb.Joint("wing_left", command=(0, 180), drive=(5, 80), rest=90,
/// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
/// ...                   timer=elb.Timer(frame_hz=50, counts=4096))
/// >>> joint.drive(90.0), joint.counts(90.0)
/// (42.5, 199)
/// >>> joint.counts([0, 90, 180, 200])
/// array([114, 199, 284, 284], dtype=int32)
#[pyclass(frozen, module = "elbowroom")]
pub(crate) struct Joint {
    pub(crate) name: String,
    pub(crate) both: Both<elbowroom::Joint<f64>, elbowroom::Joint<f32>>,
    commands: CommandTable,
}

impl Joint {
    pub(crate) fn of(name: String, record: JointRecord<f64>) -> Result<Self, elbowroom::JointError> {
        Ok(Self::from_checked(name, elbowroom::Joint::new(record)?))
    }

    /// A joint of the core as it is.
    pub(crate) fn from_checked(name: String, wide: elbowroom::Joint<f64>) -> Self {
        let narrow = narrowed(&wide);
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
    #[pyo3(signature = (name, *, command, drive, inverted=None, travel=None, rest, rate_per_s=None, servo, timer, transmission=None, feedback=None), text_signature = "(name, *, command, drive, inverted=False, travel=None, rest, rate_per_s=None, servo, timer, transmission=None, feedback=None)")]
    #[expect(clippy::too_many_arguments, reason = "the keywords of a joint, one each")]
    fn new(
        py: Python<'_>,
        name: &Bound<'_, PyAny>,
        command: &Bound<'_, PyAny>,
        drive: &Bound<'_, PyAny>,
        inverted: Option<&Bound<'_, PyAny>>,
        travel: Option<&Bound<'_, PyAny>>,
        rest: &Bound<'_, PyAny>,
        rate_per_s: Option<&Bound<'_, PyAny>>,
        servo: &Bound<'_, PyAny>,
        timer: &Bound<'_, PyAny>,
        transmission: Option<&Bound<'_, PyAny>>,
        feedback: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<Self> {
        let name = text(name, "name")?;
        let servo = part::<Servo>(servo, "servo", "Servo(angle=..., pulse_us=...)")?
            .get()
            .record();
        let timer = part::<Timer>(timer, "timer", "Timer(frame_hz=..., counts=...)")?
            .get()
            .record();
        let mut record = JointRecord::new(
            pair(command, "command")?,
            pair(drive, "drive")?,
            number(rest, "rest")?,
            servo,
            timer,
        );
        record.inverted = inverted
            .map(|value| flag(value, "inverted"))
            .transpose()?
            .unwrap_or(false);
        record.travel = travel.map(|travel| pair(travel, "travel")).transpose()?;
        record.rate_per_s = maybe_number(rate_per_s, "rate_per_s")?;
        if let Some(transmission) = transmission {
            record.transmission = transmission_of(transmission)?;
        }
        record.feedback = feedback.map(feedback_of).transpose()?;
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
    /// The command range lies within; this tells how much room it leaves.
    #[getter]
    fn valid_range(&self) -> (f64, f64) {
        self.both.wide.valid_range().into()
    }

    /// float: the command taken when nothing else is asked.
    #[getter]
    fn rest(&self) -> f64 {
        self.both.wide.rest()
    }

    /// float or None: the fastest the command may change, command units per second.
    #[getter]
    fn rate_per_s(&self) -> Option<f64> {
        self.both.wide.rate_per_s()
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
    /// there. (Common practice, no source.)
    #[getter]
    fn sees_rails(&self) -> Option<(bool, bool)> {
        self.both.wide.sees_rails().ok().map(Into::into)
    }

    /// (int, int): the lowest and the highest count that this joint ever gives.
    #[getter]
    fn count_range(&self) -> (u32, u32) {
        self.both.wide.count_range().into()
    }

    /// The drive angle of a command.
    ///
    /// Parameters
    /// ----------
    /// command : float or array_like
    ///     In the joint's own unit; any shape. Outside the command range it is clamped; see `convert` for where.
    /// out : ndarray, optional
    ///     Where to write, of the input's shape; may be the input itself.
    ///
    /// Returns
    /// -------
    /// float or ndarray
    ///     Deg; float32 for float32 arrays, else float64.
    ///
    /// Raises
    /// ------
    /// ConvertError
    ///     NaN or an infinity, with its `index` (in the order of the rows). With `out`, the `written` elements before it
    ///     are kept, it and the rest are not touched.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> joint = elb.Joint("wing_left", command=(0, 180), drive=(5, 80), rest=90,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts=4096))
    /// >>> joint.drive([[0, 90], [180, 200]])
    /// array([[ 5. , 42.5],
    ///        [80. , 80. ]])
    /// >>> joint.drive([0.0, float("nan")])
    /// Traceback (most recent call last):
    ///     ...
    /// elbowroom.ConvertError: joint wing_left: command NaN at index 1 is not a finite number; the 1 before it are converted, it and the rest are not
    #[pyo3(signature = (command, *, out=None))]
    fn drive<'py>(
        &self,
        py: Python<'py>,
        command: &Bound<'py, PyAny>,
        out: Option<&Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        chain::convert::<chain::Drive>(py, Some(&self.name), &self.both, "command", command, out)
    }

    /// The pulse width of a command.
    ///
    /// Parameters, returned types and errors as for `drive`; microseconds.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> joint = elb.Joint("wing_left", command=(0, 180), drive=(5, 80), rest=90,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts=4096))
    /// >>> joint.pulse_us(90)
    /// 972.2222222222222
    #[pyo3(signature = (command, *, out=None))]
    fn pulse_us<'py>(
        &self,
        py: Python<'py>,
        command: &Bound<'py, PyAny>,
        out: Option<&Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        chain::convert::<chain::PulseUs>(py, Some(&self.name), &self.both, "command", command, out)
    }

    /// The timer count of a command; its own drive angle always lies inside the travel.
    ///
    /// Parameters
    /// ----------
    /// command : float or array_like
    ///     In the joint's own unit; any shape. Outside the command range it is clamped.
    /// out : ndarray of int32, uint32, uint16, int64 or uint64, optional
    ///     Where to write, of the input's shape.
    ///
    /// Returns
    /// -------
    /// int or ndarray of int32
    ///     Signed, so that differences of counts are what they seem.
    ///
    /// Raises
    /// ------
    /// ConvertError
    ///     NaN or an infinity, as for `drive`; counts too large for a uint16 `out`.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> joint = elb.Joint("wing_left", command=(0, 180), drive=(5, 80), rest=90, inverted=True,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts=4096))
    /// >>> joint.counts(0), joint.counts(90)
    /// (284, 199)
    #[pyo3(signature = (command, *, out=None))]
    fn counts<'py>(
        &self,
        py: Python<'py>,
        command: &Bound<'py, PyAny>,
        out: Option<&Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        if out.is_none()
            && let Some(x) = quick(command)
            && let Ok(count) = self.both.wide.count(x)
        {
            return Ok(PyInt::new(py, count).into_any());
        }
        many::counts(self, py, command, out)
    }

    /// A command's whole way: drive angle, pulse width, counts, and what held it back.
    ///
    /// Parameters
    /// ----------
    /// command : float or array_like
    ///     In the joint's own unit; any shape.
    ///
    /// Returns
    /// -------
    /// Conversion
    ///     Named fields `drive`, `pulse_us`, `counts`, `clamped_to_command`, `clamped_to_travel`: numbers and bools for
    ///     one command, arrays of the input's shape for many.
    ///
    /// Raises
    /// ------
    /// ConvertError
    ///     NaN or an infinity, as for `drive`.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> joint = elb.Joint("wing_left", command=(0, 180), drive=(5, 80), rest=90,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts=4096))
    /// >>> joint.convert(200).clamped_to_command
    /// True
    fn convert<'py>(&self, py: Python<'py>, command: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        many::conversion(self, py, command)
    }

    /// The command of a drive angle.
    ///
    /// Parameters
    /// ----------
    /// drive : float or array_like
    ///     Deg; any shape. Nothing is clamped: a measured angle outside the travel is news. NaN gives NaN.
    /// out : ndarray, optional
    ///     Where to write, of the input's shape; may be the input itself.
    ///
    /// Returns
    /// -------
    /// float or ndarray
    ///     In the joint's own unit; float32 for float32 arrays, else float64.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> joint = elb.Joint("wing_left", command=(0, 180), drive=(5, 80), rest=90,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts=4096))
    /// >>> joint.command_from_drive([42.5, float("nan")])
    /// array([90., nan])
    #[pyo3(signature = (drive, *, out=None))]
    fn command_from_drive<'py>(
        &self,
        py: Python<'py>,
        drive: &Bound<'py, PyAny>,
        out: Option<&Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        chain::convert::<chain::CommandFromDrive>(py, Some(&self.name), &self.both, "drive", drive, out)
    }

    /// The command of a pulse width.
    ///
    /// Parameters and returned types as for `command_from_drive`; microseconds.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> joint = elb.Joint("wing_left", command=(0, 180), drive=(0, 180), rest=90,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts=4096))
    /// >>> joint.command_from_pulse_us(1500)
    /// 90.0
    #[pyo3(signature = (pulse_us, *, out=None))]
    fn command_from_pulse_us<'py>(
        &self,
        py: Python<'py>,
        pulse_us: &Bound<'py, PyAny>,
        out: Option<&Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        chain::convert::<chain::CommandFromPulseUs>(py, Some(&self.name), &self.both, "pulse_us", pulse_us, out)
    }

    /// The command of a timer count.
    ///
    /// Parameters
    /// ----------
    /// count : int or array_like
    ///     Whole numbers from 0 up, of any number type and shape. NaN, a gap in a log, gives NaN.
    /// out : ndarray, optional
    ///     Where to write, of the input's shape.
    ///
    /// Returns
    /// -------
    /// float or ndarray
    ///     In the joint's own unit. Nothing is clamped.
    ///
    /// Raises
    /// ------
    /// ConvertError
    ///     A number that is no count: negative, with a fraction, or infinite.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> joint = elb.Joint("wing_left", command=(0, 180), drive=(5, 80), rest=90,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts=4096))
    /// >>> joint.command_from_counts(199)
    /// 89.8828125
    #[pyo3(signature = (count, *, out=None))]
    fn command_from_counts<'py>(
        &self,
        py: Python<'py>,
        count: &Bound<'py, PyAny>,
        out: Option<&Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        if out.is_none()
            && let Some(count) = quick_int(count).and_then(counted)
        {
            return Ok(PyFloat::new(py, self.commands.of(&self.both.wide, count)).into_any());
        }
        chain::convert::<chain::CommandFromCounts>(py, Some(&self.name), &self.both, "count", count, out)
    }

    /// How far the drive turns for a small change of the command: the speed ratio, and what one step is worth.
    ///
    /// Parameters
    /// ----------
    /// command : float or array_like
    ///     In the joint's own unit; any shape. At the ends and beyond, that of the nearer end.
    /// out : ndarray, optional
    ///     Where to write, of the input's shape; may be the input itself.
    ///
    /// Returns
    /// -------
    /// float or ndarray
    ///     Deg of drive angle per unit of command.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> joint = elb.Joint("wing_left", command=(0, 150), drive=(5, 80), rest=90,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts=4096))
    /// >>> joint.drive_per_command(90)
    /// 0.5
    #[pyo3(signature = (command, *, out=None))]
    fn drive_per_command<'py>(
        &self,
        py: Python<'py>,
        command: &Bound<'py, PyAny>,
        out: Option<&Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        chain::convert::<chain::DrivePerCommand>(py, Some(&self.name), &self.both, "command", command, out)
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
    /// >>> joint = elb.Joint("wing_left", command=(0, 180), drive=(5, 80), rest=90,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts=4096))
    /// >>> type(joint.to_block(channel=8))
    /// <class 'bytes'>
    #[pyo3(signature = (*, channel=None), text_signature = "($self, *, channel=0)")]
    fn to_block<'py>(&self, py: Python<'py>, channel: Option<&Bound<'py, PyAny>>) -> PyResult<Bound<'py, PyBytes>> {
        let channel = channel.map(channel_of).transpose()?.unwrap_or(0);
        match self.both.wide.to_block(channel) {
            Ok(image) => Ok(PyBytes::new(py, &image)),
            Err(error) => Err(no_block(py, Some(&self.name), error.code(), &error.to_string())),
        }
    }

    /// A joint of a block: what a microcontroller that holds the block makes of it.
    ///
    /// Parameters
    /// ----------
    /// image : bytes
    ///     As `to_block` makes it.
    /// channel : int, optional
    ///     The output that the firmware knows the joint by; may be left out if the block holds but one.
    /// name : str, optional
    ///     A block holds no names; ``channel_8`` if left out.
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
    /// >>> joint = elb.Joint("wing_left", command=(0, 180), drive=(5, 80), rest=90,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts=4096))
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
        joint_of_block(py, &image_of(image)?, channel, name)
    }

    /// What a reading says of the sensor itself.
    ///
    /// Parameters
    /// ----------
    /// reading : float or array_like
    ///     E.g. ADC counts; any shape.
    ///
    /// Returns
    /// -------
    /// str or ndarray of str
    ///     ``"inside"`` the measured readings; ``"outside"`` them, where a sound sensor may still be; ``"lower-rail"`` or
    ///     ``"upper-rail"`` of the converter: a broken or shorted wire; ``"impossible"``: no reading that it gives, NaN too.
    ///
    /// Raises
    /// ------
    /// ConvertError
    ///     The joint has no feedback.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> joint = elb.Joint("wing_left", command=(0, 180), drive=(5, 80), rest=90,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts=4096),
    /// ...                   feedback={"reading": [212, 871], "angle": [0, 95], "adc_bits": 10})
    /// >>> joint.reading_state(541), joint.reading_state(1)
    /// ('inside', 'lower-rail')
    fn reading_state<'py>(&self, py: Python<'py>, reading: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        many::reading_state(self, py, reading)
    }

    /// The joint angle of a reading of the joint's sensor.
    ///
    /// Parameters
    /// ----------
    /// reading : float or array_like
    ///     E.g. ADC counts; any shape. Nothing is clamped; NaN, a gap in a log, gives NaN.
    /// out : ndarray, optional
    ///     Where to write, of the input's shape; may be the input itself.
    ///
    /// Returns
    /// -------
    /// float or ndarray
    ///     Deg, as a protractor reads it.
    ///
    /// Raises
    /// ------
    /// ConvertError
    ///     The joint has no feedback.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> joint = elb.Joint("wing_left", command=(0, 180), drive=(5, 80), rest=90,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts=4096),
    /// ...                   feedback={"reading": [212, 871], "angle": [0, 95], "adc_bits": 10})
    /// >>> joint.angle_from_reading(541.5), joint.command_from_reading(541.5)
    /// (47.5, 90.0)
    #[pyo3(signature = (reading, *, out=None))]
    fn angle_from_reading<'py>(
        &self,
        py: Python<'py>,
        reading: &Bound<'py, PyAny>,
        out: Option<&Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        chain::convert::<chain::AngleFromReading>(py, Some(&self.name), &self.both, "reading", reading, out)
    }

    /// The command at which a reading was taken, were there no lost motion.
    ///
    /// Parameters, returned types and errors as for `angle_from_reading`; in the joint's own unit.
    #[pyo3(signature = (reading, *, out=None))]
    fn command_from_reading<'py>(
        &self,
        py: Python<'py>,
        reading: &Bound<'py, PyAny>,
        out: Option<&Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        chain::convert::<chain::CommandFromReading>(py, Some(&self.name), &self.both, "reading", reading, out)
    }

    /// The reading to be expected at a command, not rounded.
    ///
    /// Parameters, returned types and errors as for `angle_from_reading`; e.g. ADC counts.
    #[pyo3(signature = (command, *, out=None))]
    fn reading_from_command<'py>(
        &self,
        py: Python<'py>,
        command: &Bound<'py, PyAny>,
        out: Option<&Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        chain::convert::<chain::ReadingFromCommand>(py, Some(&self.name), &self.both, "command", command, out)
    }

    /// What one count of the converter is worth at a reading: deg of joint angle per unit of reading.
    ///
    /// Parameters, returned types and errors as for `angle_from_reading`. Negative where the reading falls as the angle rises;
    /// beyond the ends of the feedback map as steep as it goes on there.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> joint = elb.Joint("beak", command=(0, 180), drive=(5, 80), rest=90,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts=4096),
    /// ...                   feedback={"reading": [200, 800], "angle": [0, 90], "adc_bits": 10})
    /// >>> joint.angle_per_reading(500), joint.sees_rails
    /// (0.15, (True, True))
    #[pyo3(signature = (reading, *, out=None))]
    fn angle_per_reading<'py>(
        &self,
        py: Python<'py>,
        reading: &Bound<'py, PyAny>,
        out: Option<&Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        chain::convert::<chain::AnglePerReading>(py, Some(&self.name), &self.both, "reading", reading, out)
    }

    /// The reading as it would be at the supply that the feedback map was taken at.
    ///
    /// For a sensor that is not ratiometric, before any other call; one whose feedback names no supply reads the same at every
    /// one, and has its reading given back.
    ///
    /// Parameters
    /// ----------
    /// reading : float or array_like
    ///     E.g. ADC counts; any shape. NaN gives NaN.
    /// supply_v : float
    ///     The supply now, V. NaN and 0 give NaN or an infinity.
    ///
    /// Returns
    /// -------
    /// float or ndarray
    ///     The reading to be converted.
    ///
    /// Raises
    /// ------
    /// ConvertError
    ///     The joint has no feedback.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> joint = elb.Joint("wing_left", command=(0, 180), drive=(5, 80), rest=90,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts=4096),
    /// ...                   feedback={"reading": [200, 800], "angle": [0, 95], "supply_v": 5.0})
    /// >>> joint.reading_at_supply(400, 4)
    /// 500.0
    fn reading_at_supply<'py>(
        &self,
        py: Python<'py>,
        reading: &Bound<'py, PyAny>,
        supply_v: &Bound<'py, PyAny>,
    ) -> PyResult<Bound<'py, PyAny>> {
        many::reading_at_supply(self, py, reading, supply_v)
    }

    /// An equal joint but for what is given.
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
    /// >>> joint = elb.Joint("wing_left", command=(0, 180), drive=(5, 80), rest=90,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts=4096))
    /// >>> joint.replace(name="wing_right", inverted=True).drive(0)
    /// 80.0
    #[pyo3(signature = (**changes))]
    fn replace<'py>(&self, py: Python<'py>, changes: Option<&Bound<'py, PyDict>>) -> PyResult<Bound<'py, PyAny>> {
        let fields = keywords(py, self)?;
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
            .call_method1("joint", (slf, path, ax, title))
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

    fn __eq__(&self, other: &Bound<'_, PyAny>) -> Option<bool> {
        let other = other.cast::<Self>().ok()?.get();
        Some(self.name == other.name && self.both.wide == other.both.wide)
    }

    fn __hash__(&self) -> u64 {
        hash_of_joint(self)
    }

    fn __repr__(&self, py: Python<'_>) -> PyResult<String> {
        repr_of_joint(py, self)
    }

    fn __getnewargs_ex__<'py>(&self, py: Python<'py>) -> PyResult<(Bound<'py, PyTuple>, Bound<'py, PyDict>)> {
        Ok((PyTuple::new(py, [&self.name])?, keywords(py, self)?))
    }
}
