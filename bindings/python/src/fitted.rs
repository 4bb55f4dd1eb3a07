//! What the classes of fits have in common: the readings beside a fit of the core, its JSON, its copies, and the records that it
//! is told in.

use std::fmt::Display;
use std::sync::Arc;

use elbowroom::fit::{Approach, BySide, Estimate, FitError, LostMotion, Readings};
use pyo3::prelude::*;
use pyo3::sync::PyOnceLock;
use pyo3::types::{PyDict, PyTuple};
use serde::Serialize;

use crate::arrays::column;
use crate::evidence::{record, record_of};
use crate::refuse;
use crate::sides::approaches;

/// The readings that a fit was made from: two columns, and the side of approach where it was given.
pub(crate) struct Columns {
    pub(crate) x: Vec<f64>,
    pub(crate) y: Vec<f64>,
    pub(crate) sides: Option<Vec<Approach>>,
    /// As Python has them, once they were asked for.
    shown: [PyOnceLock<Py<PyTuple>>; 3],
}

impl Columns {
    pub(crate) fn new(x: Vec<f64>, y: Vec<f64>, sides: Option<Vec<Approach>>) -> Arc<Self> {
        Arc::new(Self {
            x,
            y,
            sides,
            shown: [const { PyOnceLock::new() }; 3],
        })
    }

    /// Of a fit whose readings are not known.
    pub(crate) fn none() -> Arc<Self> {
        Self::new(Vec::new(), Vec::new(), None)
    }

    /// Columns by their names, as far as they are given.
    pub(crate) fn given(
        [x, y]: [(&'static str, Option<&Bound<'_, PyAny>>); 2],
        sides: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<Arc<Self>> {
        let kept = |(what, given): (&str, Option<&Bound<'_, PyAny>>)| match given {
            Some(given) => column(given, what),
            None => Ok(Vec::new()),
        };
        let any = x.1.or(y.1).or(sides).map(Bound::py);
        let name = y.0;
        let (x, y, sides) = (kept(x)?, kept(y)?, approaches(sides)?);
        let expected = x.len();
        for (what, given) in [(name, Some(y.len())), ("approach", sides.as_ref().map(Vec::len))] {
            if let (Some(py), Some(given)) = (any, given.filter(|given| *given != expected)) {
                return Err(refuse::fit(py, &FitError::LengthMismatch { what, given, expected }));
            }
        }
        Ok(Self::new(x, y, sides))
    }

    /// As the core takes them.
    pub(crate) fn readings(&self) -> Readings<'_> {
        let mut readings = Readings::new(&self.x, &self.y);
        readings.approach = self.sides.as_deref();
        readings
    }

    fn tuple<'py>(
        &self,
        py: Python<'py>,
        index: usize,
        made: impl FnOnce() -> PyResult<Bound<'py, PyTuple>>,
    ) -> PyResult<Bound<'py, PyTuple>> {
        let Some(shown) = self.shown.get(index) else {
            return made();
        };
        let kept = shown.get_or_try_init(py, || made().map(Bound::unbind))?;
        Ok(kept.bind(py).clone())
    }

    pub(crate) fn shown_x<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        self.tuple(py, 0, || PyTuple::new(py, &self.x))
    }

    pub(crate) fn shown_y<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyTuple>> {
        self.tuple(py, 1, || PyTuple::new(py, &self.y))
    }

    pub(crate) fn shown_sides<'py>(&self, py: Python<'py>) -> PyResult<Option<Bound<'py, PyTuple>>> {
        let words =
            |sides: &Vec<Approach>| self.tuple(py, 2, || PyTuple::new(py, sides.iter().copied().map(Approach::as_str)));
        self.sides.as_ref().map(words).transpose()
    }
}

/// A frozen record of the Python half with the fields that the core writes of it.
pub(crate) fn made<'py>(py: Python<'py>, class: &str, of: &impl Serialize) -> PyResult<Bound<'py, PyAny>> {
    record(py, class, &fields(py, of)?)
}

/// What the core writes of a record, by name.
pub(crate) fn fields<'py>(py: Python<'py>, of: &impl Serialize) -> PyResult<Bound<'py, PyDict>> {
    Ok(crate::records::plain(py, of)?.cast_into::<PyDict>()?)
}

/// A record of kind, sentence and values by name, from what the core writes with its kind.
pub(crate) fn told<'py>(py: Python<'py>, class: &str, of: &(impl Serialize + Display)) -> PyResult<Bound<'py, PyAny>> {
    let values = fields(py, of)?;
    let whole = PyDict::new(py);
    whole.set_item("kind", values.get_item("kind")?)?;
    values.del_item("kind")?;
    whole.set_item("sentence", of.to_string())?;
    whole.set_item("values", values.items().to_tuple())?;
    record(py, class, &whole)
}

/// A tuple of records.
pub(crate) fn each_of<'py, T>(
    py: Python<'py>,
    all: &[T],
    one: impl FnMut(&T) -> PyResult<Bound<'py, PyAny>>,
) -> PyResult<Bound<'py, PyTuple>> {
    PyTuple::new(py, all.iter().map(one).collect::<PyResult<Vec<_>>>()?)
}

/// A value with its standard uncertainty.
pub(crate) fn estimate<'py>(py: Python<'py>, of: &Estimate) -> PyResult<Bound<'py, PyAny>> {
    record_of!(py, "Estimate", { value: of.value, u: of.u })
}

/// What the side of approach adds.
pub(crate) fn by_side<'py>(py: Python<'py>, of: &BySide) -> PyResult<Bound<'py, PyAny>> {
    made(py, "BySide", of)
}

/// Lost motion, or why it cannot be determined.
pub(crate) fn lost_motion<'py>(py: Python<'py>, of: &LostMotion) -> PyResult<Bound<'py, PyAny>> {
    let fields = fields(py, of)?;
    fields.del_item("status")?;
    if let LostMotion::NotDeterminable { reason } = of {
        fields.set_item("sentence", reason.to_string())?;
    }
    record(py, "LostMotion", &fields)
}

/// What is alike in the classes of all fits: the fields that cross as they are, the columns of readings by their names, JSON,
/// pickling, comparison.
macro_rules! fitted {
    ($class:ident $([$x:ident, $y:ident $(, $side:ident)?])? { $($(#[doc = $doc:literal])+ $name:ident: $kind:ty;)+ }) => {
        impl PartialEq for $class {
            fn eq(&self, other: &Self) -> bool {
                self.fit == other.fit
            }
        }

        #[pymethods]
        impl $class {
            $($(#[doc = $doc])+ #[getter] fn $name(&self) -> $kind { self.fit.$name })+

            $(
                #[doc = concat!("tuple of float: `", stringify!($x), "` of the readings that were fitted; empty for a fit from JSON without them.")]
                #[getter]
                fn $x<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, pyo3::types::PyTuple>> {
                    self.columns.shown_x(py)
                }

                #[doc = concat!("tuple of float: `", stringify!($y), "` of the readings that were fitted, one for each `", stringify!($x), "`.")]
                #[getter]
                fn $y<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, pyo3::types::PyTuple>> {
                    self.columns.shown_y(py)
                }

                $(
                    /// tuple of {"below", "above", None}, or None: from which side each position was reached, if that was given.
                    #[getter]
                    fn $side<'py>(&self, py: Python<'py>) -> PyResult<Option<Bound<'py, pyo3::types::PyTuple>>> {
                        self.columns.shown_sides(py)
                    }
                )?
            )?

            /// The results as JSON, without the readings: the record that the core writes.
            ///
            /// Returns
            /// -------
            /// str
            ///     `from_json` makes an equal fit of it, bit for bit.
            fn to_json(&self, py: Python<'_>) -> PyResult<String> {
                crate::records::json(py, &*self.fit)
            }

            /// A fit from what `to_json` wrote.
            ///
            /// Parameters
            /// ----------
            /// text : str
            $(
                #[doc = concat!(stringify!($x), ", ", stringify!($y), " : array_like, shape (n,), optional")]
                ///     The readings that it was made from.
                $(#[doc = concat!(stringify!($side), " : sequence of {\"below\", \"above\", None}, optional")]
                ///     From which side each position was reached.
                )?
            )?
            ///
            /// Returns
            /// -------
            #[doc = stringify!($class)]
            ///
            /// Raises
            /// ------
            /// ArgumentTypeError
            ///     The text is not a record of a fit.
            /// FitError
            ///     The columns of the readings differ in length.
            #[staticmethod]
            #[pyo3(signature = (text $(, *, $x=None, $y=None $(, $side=None)?)?))]
            fn from_json(
                text: &Bound<'_, PyAny>
                $(, $x: Option<&Bound<'_, PyAny>>, $y: Option<&Bound<'_, PyAny>> $(, $side: Option<&Bound<'_, PyAny>>)?)?
            ) -> PyResult<Self> {
                let fit = crate::records::fit_from_json(text.py(), &crate::numbers::text(text, "text")?)?;
                let made = Self::of(text.py(), fit)?;
                $(
                    let sides: Option<&Bound<'_, PyAny>> = None;
                    $(let sides = sides.or($side);)?
                    let given = [(stringify!($x), $x), (stringify!($y), $y)];
                    let made = Self { columns: crate::fitted::Columns::given(given, sides)?, ..made };
                )?
                Ok(made)
            }

            fn __reduce__<'py>(
                slf: &Bound<'py, Self>,
            ) -> PyResult<(Bound<'py, PyAny>, (Bound<'py, pyo3::types::PyType>, String, Bound<'py, pyo3::types::PyDict>))> {
                let (py, this) = (slf.py(), slf.get());
                let columns = pyo3::types::PyDict::new(py);
                $(
                    columns.set_item(stringify!($x), this.$x(py)?)?;
                    columns.set_item(stringify!($y), this.$y(py)?)?;
                    $(columns.set_item(stringify!($side), this.$side(py)?)?;)?
                )?
                let restored = py.import("elbowroom._fit")?.getattr("restored")?;
                Ok((restored, (slf.get_type(), this.to_json(py)?, columns)))
            }

            fn __hash__(&self) -> u64 {
                // A zero of either sign is equal, so it hashes alike.
                crate::pulse::hash_of(&self.key().map(|x| x + 0.0), stringify!($class))
            }
        }
    };
}
pub(crate) use fitted;

/// The method that draws: what, by which function of which module of the Python half, where, and what it gives back.
macro_rules! drawn {
    ($class:ident, $what:literal, $module:literal, $function:literal, $ax:literal, $returns:literal $(, $example:literal)?) => {
        #[pymethods]
        impl $class {
            #[doc = $what]
            ///
            /// Parameters
            /// ----------
            /// path : str or os.PathLike, optional
            ///     Where to save the picture; the ending says how (.svg, .png, .pdf).
            /// ax : matplotlib.axes.Axes, optional
            #[doc = concat!("    ", $ax, " if left out.")]
            /// title : str, optional
            ///
            /// Returns
            /// -------
            /// matplotlib.axes.Axes
            #[doc = concat!("    ", $returns)]
            ///
            /// Raises
            /// ------
            /// ImportError
            ///     matplotlib is not installed: ``pip install elbowroom[plot]``.
            $(
                ///
                /// Examples
                /// --------
                #[doc = $example]
            )?
            #[pyo3(signature = (path=None, *, ax=None, title=None))]
            fn plot<'py>(
                slf: &Bound<'py, Self>,
                path: Option<&Bound<'py, PyAny>>,
                ax: Option<&Bound<'py, PyAny>>,
                title: Option<&Bound<'py, PyAny>>,
            ) -> PyResult<Bound<'py, PyAny>> {
                let module = slf.py().import($module)?;
                module.call_method1($function, (slf, path, ax, crate::numbers::maybe_text(title, "title")?))
            }
        }
    };
}
pub(crate) use drawn;
