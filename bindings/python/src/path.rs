//! Paths of joints, checked row by row, as the records of `elbowroom._path`.

use elbowroom::{Code, ConvertError, PathCheck, PathRows, Real};
use numpy::PyUntypedArrayMethods;
use numpy::{Element, PyArrayMethods};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyMapping, PySlice, PyTuple};

use crate::arrays::{Array, Input};
use crate::joint::Joint;
use crate::numbers::maybe_number;
use crate::refuse::{self, Place};
use crate::robot::Robot;

#[pymethods]
impl Joint {
    /// Check whether commands can be sent one after the other as they are.
    ///
    /// Parameters
    /// ----------
    /// commands : array_like
    ///     One column of commands, in the joint's own unit, as they are sent in equal intervals of time.
    /// rows_hz : float, optional
    ///     How many rows are sent in a second; without it the rate is not checked.
    ///
    /// Returns
    /// -------
    /// PathCheck
    ///     True if every row can be sent as it is; otherwise how many rows are not finite, beyond the command range, beyond the travel, or
    ///     reached faster than `max_rate_per_s`, each with the first of them. Rows never raise.
    ///
    /// Raises
    /// ------
    /// ConvertError
    ///     `rows_hz` that is not a finite number above 0.
    /// ArgumentError
    ///     More than one column.
    ///
    /// Notes
    /// -----
    /// A rate is that between two neighbouring finite rows; over a row that is not finite none is computed. What single
    /// precision rounds counts as kept. float32 arrays are checked in single precision.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> from elbowroom import examples
    /// >>> wing = elb.Robot.load(examples.path("heron.toml"))["wing_left"]
    /// >>> print(wing.check_path([58.0, 59.2, 61.0, float("nan")], rows_hz=50))
    /// wing_left: 4 rows; 1 is not finite, the first at index 3; 1 is beyond the command range, the first at index 2; 3 are beyond the travel, the first at index 0; 1 is reached faster than max_rate_per_s, the first at index 2; the largest rate is 90.0000 per second; correct the path before it is sent
    #[pyo3(signature = (commands, *, rows_hz=None))]
    fn check_path<'py>(
        &self,
        commands: &Bound<'py, PyAny>,
        rows_hz: Option<&Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let rows_hz = maybe_number(rows_hz, "rows_hz")?;
        checked(self, commands, "commands", rows_hz)
    }
}

#[pymethods]
impl Robot {
    /// Check whether a path of several joints can be sent as it is: `Joint.check_path` of each.
    ///
    /// Parameters
    /// ----------
    /// commands : array_like, mapping or DataFrame
    ///     An array of a row for each instant and a column for each joint, in file order; or columns by the names of their joints, of
    ///     which some may be left out.
    /// rows_hz : float, optional
    ///     How many rows are sent in a second; without it the rate is not checked.
    ///
    /// Returns
    /// -------
    /// RobotPathCheck
    ///     True if every row can be sent as it is; the checks of the joints, by their names too.
    ///
    /// Raises
    /// ------
    /// ConvertError
    ///     `rows_hz` that is not a finite number above 0; as many columns as joints are needed, and as many rows in each column by name.
    ///     Columns of no joint are refused.
    /// UnknownJointError
    ///     A name that the robot does not have.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> from elbowroom import examples
    /// >>> robot = elb.Robot.load(examples.path("heron.toml"))
    /// >>> path = [[joint.rest for joint in robot.values()]] * 100
    /// >>> robot.check_path(path, rows_hz=50).ok
    /// True
    #[pyo3(signature = (commands, *, rows_hz=None))]
    fn check_path<'py>(
        &self,
        commands: &Bound<'py, PyAny>,
        rows_hz: Option<&Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let py = commands.py();
        let rows_hz = maybe_number(rows_hz, "rows_hz")?;
        let (mut checks, mut rows) = (Vec::new(), Vec::new());
        if commands.cast::<PyMapping>().is_ok() || commands.hasattr("items")? {
            for item in commands.call_method0("items")?.try_iter()? {
                let (name, column): (Bound<'py, PyAny>, Bound<'py, PyAny>) = item?.extract()?;
                let joint = self.joint_named(py, &name)?;
                let check = checked(&joint, &column, &format!("commands of {}", joint.name), rows_hz)?;
                rows.push((joint.name.clone(), check.getattr("rows")?.extract()?));
                checks.push(check);
            }
            whole(py, &rows)?;
        } else {
            let array = match Input::new(commands, "commands")? {
                Input::F64(array) => array.read.into_any(),
                Input::F32(array) => array.read.into_any(),
            };
            let shape: Vec<usize> = array.getattr("shape")?.extract()?;
            let joints = self.robot.joints().len();
            if shape.len() != 2 || shape.get(1) != Some(&joints) {
                let sentence = format!(
                    "commands has the shape {}; give a row for each instant and {joints} columns, one for each joint in file order",
                    array.getattr("shape")?
                );
                return Err(mismatch(py, &sentence));
            }
            for (index, entry) in self.robot.joints().iter().enumerate() {
                let joint = Self::joint(entry);
                let column = array.get_item((PySlice::full(py), index))?;
                checks.push(checked(&joint, &column, "commands", rows_hz)?);
            }
        }
        let class = py.import("elbowroom._path")?.getattr("RobotPathCheck")?;
        class.call1((PyTuple::new(py, checks)?,))
    }
}

fn mismatch(py: Python<'_>, sentence: &str) -> PyErr {
    let place = Place::default();
    refuse::exception(py, "ConvertError", Code::LengthMismatch, sentence, py.None(), place)
}

/// Refuses columns of a path that are not equally long, and a path of no joint.
fn whole(py: Python<'_>, rows: &[(String, usize)]) -> PyResult<()> {
    let Some((first, count)) = rows.first() else {
        let sentence = "commands name no joint; give a column of commands for each joint by its name";
        return Err(mismatch(py, sentence));
    };
    match rows.iter().find(|(_, other)| other != count) {
        Some((name, other)) => {
            let sentence = format!(
                "commands of {first} have {count} rows, those of {name} {other}; give a row of each for each instant"
            );
            Err(mismatch(py, &sentence))
        }
        None => Ok(()),
    }
}

/// The check of one column, as a `PathCheck`.
fn checked<'py>(
    joint: &Joint,
    commands: &Bound<'py, PyAny>,
    what: &str,
    rows_hz: Option<f64>,
) -> PyResult<Bound<'py, PyAny>> {
    let py = commands.py();
    match Input::new(commands, what)? {
        Input::F64(array) => {
            let check = joint.both.wide.check_path(&one_column(&array, what)?, rows_hz);
            record(py, &joint.name, check)
        }
        Input::F32(array) => {
            let hz = rows_hz.map(|hz| hz as f32);
            let check = joint.narrow(py)?.check_path(&one_column(&array, what)?, hz);
            record(py, &joint.name, check)
        }
    }
}

fn one_column<T: Element + Copy>(array: &Array<'_, T>, what: &str) -> PyResult<Vec<T>> {
    let dimensions = array.read.ndim();
    if dimensions != 1 {
        let sentence = format!("{what} has {dimensions} dimensions; give one column of numbers");
        return Err(refuse::argument(array.read.py(), Code::LengthMismatch, &sentence));
    }
    Ok(array.read.to_vec()?)
}

fn record<'py, T: Real>(
    py: Python<'py>,
    name: &str,
    check: Result<PathCheck<T>, ConvertError>,
) -> PyResult<Bound<'py, PyAny>> {
    let check = check.map_err(|error| refuse::convert(py, Some(name), &error, None))?;
    let module = py.import("elbowroom._path")?;
    let class = module.getattr("PathRows")?;
    let rows = |rows: PathRows| class.call1((rows.count, rows.first));
    let fields = PyDict::new(py);
    fields.set_item("joint", name)?;
    fields.set_item("rows", check.rows)?;
    fields.set_item("not_finite", rows(check.not_finite)?)?;
    fields.set_item("beyond_command", rows(check.beyond_command)?)?;
    fields.set_item("beyond_travel", rows(check.beyond_travel)?)?;
    fields.set_item("too_fast", check.too_fast.map(rows).transpose()?)?;
    fields.set_item("largest_rate_per_s", check.largest_rate_per_s.map(Real::to_wide))?;
    fields.set_item("ok", check.is_ok())?;
    fields.set_item("text", check.to_string())?;
    module.getattr("PathCheck")?.call((), Some(&fields))
}
