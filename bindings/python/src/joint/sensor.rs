//! The joint's sensor.

use pyo3::prelude::*;

use super::{Joint, many};
use crate::chain::conversions;

#[pymethods]
impl Joint {
    /// The state of the sensor that a reading shows.
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
    /// >>> joint = elb.Joint("wing_left", command=(-40, 60), drive=(37, 122), rest=10,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096),
    /// ...                   feedback={"reading": [212, 871], "angle": [-40, 60], "adc_bits": 10})
    /// >>> joint.reading_state(541), joint.reading_state(1)
    /// ('inside', 'lower-rail')
    fn reading_state<'py>(&self, py: Python<'py>, reading: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        many::reading_state(self, py, reading)
    }
}

conversions! {
    Joint as |this| Some(&this.name);

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
    /// >>> joint = elb.Joint("wing_left", command=(-40, 60), drive=(37, 122), rest=10,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096),
    /// ...                   feedback={"reading": [212, 871], "angle": [-40, 60], "adc_bits": 10})
    /// >>> joint.angle_from_reading(541.5), joint.command_from_reading(541.5)
    /// (10.0, 10.0)
    fn angle_from_reading(reading) by AngleFromReading;

    /// The command at which a reading was taken, if there were no lost motion.
    ///
    /// Parameters, returned types and errors as for `angle_from_reading`; in the joint's own unit.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> joint = elb.Joint("wing_left", command=(-40, 60), drive=(37, 122), rest=10,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096),
    /// ...                   feedback={"reading": [212, 871], "angle": [-40, 60], "adc_bits": 10})
    /// >>> joint.command_from_reading(541.5)
    /// 10.0
    fn command_from_reading(reading) by CommandFromReading;

    /// The reading to be expected at a command, not rounded.
    ///
    /// Parameters, returned types and errors as for `angle_from_reading`; e.g. ADC counts.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> joint = elb.Joint("wing_left", command=(-40, 60), drive=(37, 122), rest=10,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096),
    /// ...                   feedback={"reading": [212, 871], "angle": [-40, 60], "adc_bits": 10})
    /// >>> joint.reading_from_command(10.0)
    /// 541.5
    fn reading_from_command(command) by ReadingFromCommand;

    /// What one count of the converter is worth at a reading: deg of joint angle per unit of reading.
    ///
    /// Parameters, returned types and errors as for `angle_from_reading`. Negative where the reading falls as the angle rises;
    /// beyond the ends of the feedback map, the slope with which it continues there.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> joint = elb.Joint("beak", command=(-40, 60), drive=(37, 122), rest=10,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096),
    /// ...                   feedback={"reading": [200, 800], "angle": [0, 90], "adc_bits": 10})
    /// >>> joint.angle_per_reading(500), joint.detects_wire_faults
    /// (0.15, (True, True))
    fn angle_per_reading(reading) by AnglePerReading;
}

#[pymethods]
impl Joint {
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
    /// >>> joint = elb.Joint("wing_left", command=(-40, 60), drive=(37, 122), rest=10,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096),
    /// ...                   feedback={"reading": [200, 800], "angle": [-40, 60], "supply_v": 5.0})
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
}
