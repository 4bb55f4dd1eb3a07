//! What a joint needs of a choice, whichever transmission was chosen.

use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use crate::line::LineFit;
use crate::transmission::Choice;

#[pymethods]
impl Choice {
    /// What a joint needs of the transmission chosen, as keywords of `Joint`: `command`, `drive`, `inverted` and, unless it is a line,
    /// `transmission`.
    ///
    /// Parameters
    /// ----------
    /// command : (float, float), optional
    ///     As for `LineFit.joint_fields`, `CurveFit.joint_fields` and `LinkageFit.joint_fields`. Left out, a command is a joint angle.
    ///
    /// Returns
    /// -------
    /// dict
    ///
    /// Raises
    /// ------
    /// FitError
    ///     `command` is not a range, or one that a mechanism cannot have.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> choice = elb.choose_transmission([40, 60, 80, 100, 120], [-36.1, -13.0, 10.2, 33.9, 57.0])
    /// >>> choice.chosen.kind, choice.joint_fields()["drive"]
    /// ('linear', (40.0, 120.0))
    /// >>> joint = elb.Joint("wing_left", rest=0, servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096), **choice.joint_fields())
    /// >>> round(joint.drive(10), 1)
    /// 79.7
    #[pyo3(signature = (*, command=None))]
    fn joint_fields<'py>(slf: &Bound<'py, Self>, command: Option<&Bound<'py, PyAny>>) -> PyResult<Bound<'py, PyDict>> {
        let py = slf.py();
        let fit = slf.getattr("chosen")?.getattr("fit")?;
        let options = PyDict::new(py);
        options.set_item("command", command)?;
        if fit.is_instance_of::<LineFit>() {
            let drive: Vec<f64> = slf.getattr("drive")?.extract()?;
            let lowest = drive.iter().copied().fold(f64::INFINITY, f64::min);
            let highest = drive.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            options.set_item("drive", PyTuple::new(py, [lowest, highest])?)?;
        }
        let fields = fit.call_method("joint_fields", (), Some(&options))?;
        Ok(fields.cast_into::<PyDict>()?)
    }
}
