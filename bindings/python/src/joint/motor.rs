//! From command to timer count, and back.

use pyo3::prelude::*;
use pyo3::types::{PyFloat, PyInt};

use super::{Joint, many};
use crate::chain::{self, conversions, counted};
use crate::numbers::{quick, quick_int};

conversions! {
    Joint as |this| Some(&this.name);

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
    /// >>> joint = elb.Joint("wing_left", command=(-40, 60), drive=(37, 122), rest=10,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
    /// >>> joint.drive([[-40, 10], [60, 100]])
    /// array([[ 37. ,  79.5],
    ///        [122. , 122. ]])
    /// >>> joint.drive([0.0, float("nan")])
    /// Traceback (most recent call last):
    ///     ...
    /// elbowroom.ConvertError: joint wing_left: the command at index 1 is not a number and was not converted; give a finite number
    fn drive(command) by Drive;

    /// The pulse width of a command.
    ///
    /// Parameters, returned types and errors as for `drive`; microseconds.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> joint = elb.Joint("wing_left", command=(-40, 60), drive=(37, 122), rest=10,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
    /// >>> joint.pulse_us(10)
    /// 1383.3333333333333
    fn pulse_us(command) by PulseUs;
}

#[pymethods]
impl Joint {
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
    ///     Signed, so that differences of counts may be negative.
    ///
    /// Raises
    /// ------
    /// ConvertError
    ///     NaN or an infinity, as for `drive`; counts too large for a uint16 `out`.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> joint = elb.Joint("wing_left", command=(-40, 60), drive=(37, 122), rest=10, inverted=True,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
    /// >>> joint.counts(-40), joint.counts(10)
    /// (380, 283)
    #[pyo3(signature = (command, *, out=None))]
    fn counts<'py>(
        &self,
        py: Python<'py>,
        command: &Bound<'py, PyAny>,
        out: Option<&Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        if out.is_none()
            && let Some(x) = quick(command)
            && let Ok(count) = self.both.wide.counts_value(x)
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
    /// >>> joint = elb.Joint("wing_left", command=(-40, 60), drive=(37, 122), rest=10,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
    /// >>> joint.convert(100).clamped_to_command
    /// True
    fn convert<'py>(&self, py: Python<'py>, command: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        many::conversion(self, py, command)
    }

    /// The timer count for a drive angle, and the drive angle that this count really commands: what a bring-up moves by.
    ///
    /// A bring-up has to go beyond the travel, so the travel is not applied; outside the servo's own angle range the drive angle is
    /// clamped. Give the second number to `Moved(drive=...)`.
    ///
    /// Parameters
    /// ----------
    /// drive : float
    ///     Deg.
    ///
    /// Returns
    /// -------
    /// (int, float)
    ///     The count, and its drive angle in deg.
    ///
    /// Raises
    /// ------
    /// ConvertError
    ///     NaN or an infinity.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> joint = elb.Joint("wing_left", command=(-40, 60), drive=(37, 122), rest=10,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
    /// >>> joint.counts_from_drive(30)
    /// (171, 30.146484375)
    fn counts_from_drive(&self, py: Python<'_>, drive: &Bound<'_, PyAny>) -> PyResult<(u32, f64)> {
        let drive = crate::numbers::number(drive, "drive")?;
        let (count, drive) = self
            .both
            .wide
            .counts_from_drive(drive)
            .map_err(|error| crate::refuse::convert(py, Some(&self.name), &error, None))?;
        Ok((count.value, drive))
    }
}

conversions! {
    Joint as |this| Some(&this.name);

    /// The command of a drive angle.
    ///
    /// Parameters
    /// ----------
    /// drive : float or array_like
    ///     Deg; any shape. Nothing is clamped: a measured angle outside the travel is information. NaN gives NaN.
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
    /// >>> joint = elb.Joint("wing_left", command=(-40, 60), drive=(37, 122), rest=10,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
    /// >>> joint.command_from_drive([79.5, float("nan")])
    /// array([10., nan])
    fn command_from_drive(drive) by CommandFromDrive;

    /// The command of a pulse width.
    ///
    /// Parameters and returned types as for `command_from_drive`; microseconds.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> joint = elb.Joint("wing_left", command=(0, 180), drive=(0, 180), rest=90,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
    /// >>> joint.command_from_pulse_us(1500)
    /// 90.0
    fn command_from_pulse_us(pulse_us) by CommandFromPulseUs;
}

#[pymethods]
impl Joint {
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
    ///     A number that is not a count: negative, with a fraction, or infinite.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> joint = elb.Joint("wing_left", command=(-40, 60), drive=(37, 122), rest=10,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
    /// >>> joint.command_from_counts(283)
    /// 9.841452205882355
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
}

conversions! {
    Joint as |this| Some(&this.name);

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
    /// >>> joint = elb.Joint("wing_left", command=(-40, 130), drive=(37, 122), rest=10,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
    /// >>> joint.drive_per_command(10)
    /// 0.5
    fn drive_per_command(command) by DrivePerCommand;
}
