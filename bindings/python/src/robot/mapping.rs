//! A robot as a mapping from names to joints, in the order of its file; its copies and its description.

use std::ffi::OsString;

use elbowroom::robot::JointEntry;
use pyo3::prelude::*;
use pyo3::types::{PyList, PyString, PyType};

use super::Robot;
use crate::files::file_error;
use crate::joint::Joint;

#[pymethods]
impl Robot {
    /// list of str: the joints' names, in file order.
    fn keys<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyList>> {
        PyList::new(py, self.robot.joints().iter().map(JointEntry::name))
    }

    /// list of Joint: the joints, in file order.
    fn values(&self) -> Vec<Joint> {
        self.robot.joints().iter().map(Self::joint).collect()
    }

    /// list of (str, Joint): names and joints, in file order.
    fn items(&self) -> Vec<(String, Joint)> {
        self.robot
            .joints()
            .iter()
            .map(|entry| (entry.name().to_owned(), Self::joint(entry)))
            .collect()
    }

    /// The joint of this name, or `default`.
    #[pyo3(signature = (name, default=None, /))]
    fn get<'py>(
        &self,
        py: Python<'py>,
        name: &Bound<'py, PyAny>,
        default: Option<Bound<'py, PyAny>>,
    ) -> PyResult<Option<Bound<'py, PyAny>>> {
        if self.__contains__(name) {
            Ok(Some(Self::joint(self.found(py, name)?).into_pyobject(py)?.into_any()))
        } else {
            Ok(default)
        }
    }

    fn __getitem__(&self, py: Python<'_>, name: &Bound<'_, PyAny>) -> PyResult<Joint> {
        self.joint_named(py, name)
    }

    /// The names that a notebook offers within brackets.
    fn _ipython_key_completions_<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyList>> {
        self.keys(py)
    }

    fn __len__(&self) -> usize {
        self.robot.joints().len()
    }

    fn __contains__(&self, name: &Bound<'_, PyAny>) -> bool {
        name.extract::<String>()
            .is_ok_and(|name| self.robot.joint(&name).is_some())
    }

    fn __iter__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        Ok(self.keys(py)?.try_iter()?.into_any())
    }

    fn __eq__(&self, other: &Self) -> bool {
        self.robot == other.robot
    }

    fn __hash__(&self) -> u64 {
        crate::pulse::hash_of(&[], self.robot.to_toml())
    }

    fn __str__(&self) -> &str {
        self.robot.to_toml()
    }

    /// Short: the whole file is `str(robot)`.
    fn __repr__(&self, py: Python<'_>) -> PyResult<String> {
        /// So many names are listed.
        const LISTED: usize = 6;
        let joints = self.robot.joints();
        let mut names: Vec<String> = joints
            .iter()
            .take(LISTED)
            .map(|entry| entry.name().to_owned())
            .collect();
        if joints.len() > LISTED {
            names.push(format!("... {} more", joints.len() - LISTED));
        }
        let name = match self.robot.name() {
            Some(name) => format!(" {}", PyString::new(py, name).repr()?),
            None => String::new(),
        };
        let plural = if joints.len() == 1 { "" } else { "s" };
        let listed = if names.is_empty() {
            String::new()
        } else {
            format!(": {}", names.join(", "))
        };
        Ok(format!("<Robot{name}, {} joint{plural}{listed}>", joints.len()))
    }

    /// A copy goes on by itself: what it saves later is its own.
    fn __copy__(&self) -> Self {
        Self {
            robot: self.robot.clone(),
        }
    }

    fn __deepcopy__(&self, _memo: &Bound<'_, PyAny>) -> Self {
        self.__copy__()
    }

    /// With the file that it was read from and the text that stood there, so that a save elsewhere sees what others wrote meanwhile.
    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, Sent)> {
        let class: Bound<'py, PyType> = slf.get_type();
        let robot = &slf.get().robot;
        let base = robot.read_from();
        let base = base.map(|(path, text)| (path.into_os_string(), text.as_ref().to_owned()));
        Ok((class.getattr("_sent")?, (robot.to_toml().to_owned(), base)))
    }

    /// What `__reduce__` took apart.
    #[staticmethod]
    fn _sent(py: Python<'_>, text: &str, base: Option<(OsString, String)>) -> PyResult<Self> {
        let robot = elbowroom::robot::Robot::parse(text).map_err(|error| file_error(py, &error))?;
        let robot = match base {
            Some((path, text)) => robot.as_read_from(path.into(), &text),
            None => robot,
        };
        Ok(Self { robot })
    }
}

/// A robot's text, and the file that it was read from with the text that stood there.
type Sent = (String, Option<(OsString, String)>);
