//! Array arguments: what is accepted, what is refused and by which name, and where results are put.

use std::sync::OnceLock;

use elbowroom::Code;
use numpy::{Element, PyArrayDescrMethods, PyArrayDyn, PyArrayMethods, PyUntypedArray, PyUntypedArrayMethods};
use pyo3::prelude::*;
use pyo3::sync::PyOnceLock;
use pyo3::types::{PyDict, PyList, PySlice, PyTuple};

use crate::numbers::{is_set, kind_of, no_number, plain, shown};
use crate::refuse;

/// numpy allows no more dimensions, so a deeper list (or one that holds itself) is not an array.
const DEEPEST_LIST: usize = 64;
/// Work allowed to `shares_memory` before two arrays count as overlapping; settles every ordinary slicing.
const OVERLAP_WORK: u32 = 10_000;

/// Names of numpy's that every array call needs, looked up once.
pub(crate) struct Numpy {
    asarray: Py<PyAny>,
    array: Py<PyAny>,
    empty: Py<PyAny>,
    copyto: Py<PyAny>,
    shares_memory: Py<PyAny>,
    generic: Py<PyAny>,
    masked: Py<PyAny>,
}

impl Numpy {
    pub(crate) fn get(py: Python<'_>) -> PyResult<&'static Self> {
        static NUMPY: PyOnceLock<Numpy> = PyOnceLock::new();
        NUMPY.get_or_try_init(py, || {
            let numpy = py.import("numpy")?;
            let of = |name: &str| numpy.getattr(name).map(Bound::unbind);
            Ok(Self {
                asarray: of("asarray")?,
                array: of("array")?,
                empty: of("empty")?,
                copyto: of("copyto")?,
                shares_memory: of("shares_memory")?,
                generic: of("generic")?,
                masked: numpy.getattr("ma")?.getattr("MaskedArray")?.unbind(),
            })
        })
    }
}

/// An accepted array argument, contiguous and in a number type of the core.
pub(crate) enum Input<'py> {
    F64(Array<'py, f64>),
    F32(Array<'py, f32>),
}

/// The array as given (for overlap) and as it is read.
pub(crate) struct Array<'py, T> {
    given: Bound<'py, PyAny>,
    pub(crate) read: Bound<'py, PyArrayDyn<T>>,
    /// A numpy scalar: its result is a numpy scalar too.
    scalar: bool,
    /// Whether it is read from an array that was made for it.
    is_copy: bool,
}

impl<'py> Input<'py> {
    /// Takes anything that numpy reads as an array of real numbers.
    pub(crate) fn new(given: &Bound<'py, PyAny>, what: &str) -> PyResult<Self> {
        let py = given.py();
        let numpy = Numpy::get(py)?;
        if let Ok(read) = given.cast::<PyArrayDyn<f64>>()
            && ready(read)
            && given.get_type().is(py.get_type::<PyUntypedArray>())
        {
            return Ok(Self::F64(Array {
                given: given.clone(),
                read: read.clone(),
                scalar: false,
                is_copy: false,
            }));
        }
        let wrong = |found: &str| {
            let sentence = format!("{what} {found}; give real numbers");
            refuse::argument_at(py, Code::WrongType, &sentence, given)
        };
        if no_number(given).is_some() || given.is_instance_of::<PyDict>() || is_set(given) {
            return Err(wrong(&format!("is {}", kind_of(given))));
        }
        if given.is_instance(numpy.masked.bind(py))? {
            return Err(wrong("is a masked array, whose gaps would be taken for numbers"));
        }
        let mut dtype = None;
        if is_list(given) {
            check_list(given, what, &mut Vec::new())?;
            // Without it a list of large ints becomes an array of objects.
            dtype = Some("f8");
        }
        let as_array = match dtype {
            Some(dtype) => numpy.asarray.bind(py).call1((given, dtype)),
            None => numpy.asarray.bind(py).call1((given,)),
        };
        let array = as_array.map_err(|cause| {
            let code = if is_list(given) {
                Code::LengthMismatch
            } else {
                Code::WrongType
            };
            let sentence = match code {
                Code::LengthMismatch => {
                    let place = ragged(given, "").map_or(String::new(), |place| format!(": {place}"));
                    format!("{what} holds rows of different lengths{place}; give rows of one length")
                }
                _ => format!(
                    "{what} is {}, which numpy cannot read as an array; give real numbers",
                    kind_of(given)
                ),
            };
            let refusal = refuse::argument_at(py, code, &sentence, given);
            refusal.set_cause(py, Some(cause));
            refusal
        })?;
        let scalar = given.is_instance(numpy.generic.bind(py))?;
        let untyped = array
            .cast::<PyUntypedArray>()
            .map_err(|_| wrong(&format!("is {}", kind_of(given))))?;
        // What numpy made of a list belongs to nobody else.
        let is_fresh = dtype.is_some();
        let kind = untyped.dtype().kind();
        match kind {
            b'f' | b'i' | b'u' => {}
            b'O' if untyped.ndim() == 0 => return Err(wrong(&format!("is an object {}", kind_of(given)))),
            _ => {
                let objects = match kind {
                    b'b' => "bools",
                    b'c' => "complex numbers",
                    b'U' | b'S' | b'T' => "strings",
                    b'M' | b'm' => "dates or times",
                    b'O' => "objects",
                    _ => "records",
                };
                let first = first_wrong(&array).map_or(String::new(), |first| format!(", {first}"));
                return Err(wrong(&format!("holds {objects}{first}")));
            }
        }
        if kind == b'f' && untyped.dtype().itemsize() == 4 {
            let (read, copied) = contiguous(numpy, &array, "f4")?;
            Ok(Self::F32(Array {
                given: given.clone(),
                read,
                scalar,
                is_copy: copied || is_fresh,
            }))
        } else {
            let (read, copied) = contiguous(numpy, &array, "f8")?;
            Ok(Self::F64(Array {
                given: given.clone(),
                read,
                scalar,
                is_copy: copied || is_fresh,
            }))
        }
    }

    /// The same, widened: for what the core reads in `f64` only.
    pub(crate) fn wide(given: &Bound<'py, PyAny>, what: &str) -> PyResult<Array<'py, f64>> {
        let py = given.py();
        match Self::new(given, what)? {
            Self::F64(array) => Ok(array),
            Self::F32(array) => {
                let (read, copied) = contiguous(Numpy::get(py)?, array.read.as_any(), "f8")?;
                Ok(Array {
                    given: array.given,
                    read,
                    scalar: array.scalar,
                    is_copy: array.is_copy || copied,
                })
            }
        }
    }
}

/// One column of numbers: what the fitting calls take.
pub(crate) fn column(given: &Bound<'_, PyAny>, what: &str) -> PyResult<Vec<f64>> {
    let py = given.py();
    let array = Input::wide(given, what)?;
    if array.read.ndim() != 1 {
        let sentence = format!(
            "{what} has {} dimensions; give one column of numbers",
            array.read.ndim()
        );
        return Err(refuse::argument(py, Code::LengthMismatch, &sentence));
    }
    Ok(array.read.to_vec()?)
}

/// The first element of an array that is not a real number, counted in the order of the rows: `at index 1 'a'`.
fn first_wrong(array: &Bound<'_, PyAny>) -> Option<String> {
    let mut items = array.getattr("flat").ok()?.try_iter().ok()?.enumerate();
    items.find_map(|(index, item)| {
        let item = item.ok()?;
        let is_number = no_number(&item).is_none() && plain(&item, "").is_some();
        (!is_number).then(|| format!("at index {index} {}", shown(&item)))
    })
}

/// Where the rows of a list begin to differ in length: `[1] has 2 elements, [0] has 1`.
fn ragged(list: &Bound<'_, PyAny>, at: &str) -> Option<String> {
    let length = |item: &Bound<'_, PyAny>| if is_list(item) { item.len().ok() } else { None };
    let told = |length: Option<usize>| match length {
        Some(1) => "has 1 element".to_owned(),
        Some(length) => format!("has {length} elements"),
        None => "is a single value".to_owned(),
    };
    let items: Vec<_> = list.try_iter().ok()?.flatten().collect();
    let first = length(items.first()?);
    let other = items.iter().enumerate().find(|(_, item)| length(item) != first);
    if let Some((index, item)) = other {
        let (here, there) = (told(length(item)), told(first));
        return Some(format!("{at}[{index}] {here}, {at}[0] {there}"));
    }
    first?;
    let mut items = items.iter().enumerate();
    items.find_map(|(index, item)| ragged(item, &format!("{at}[{index}]")))
}

fn is_list(given: &Bound<'_, PyAny>) -> bool {
    given.is_instance_of::<PyList>() || given.is_instance_of::<PyTuple>()
}

/// Numpy turns True into 1.0 within a list without a word; here each element is looked at.
fn check_list(list: &Bound<'_, PyAny>, what: &str, path: &mut Vec<usize>) -> PyResult<()> {
    let py = list.py();
    if path.len() >= DEEPEST_LIST {
        let sentence = format!("{what} is nested more than {DEEPEST_LIST} deep; give an array of numbers");
        return Err(refuse::argument(py, Code::LengthMismatch, &sentence));
    }
    for (index, item) in list.try_iter()?.enumerate() {
        let item = item?;
        let at = |path: &[usize]| {
            let steps: String = path.iter().chain([&index]).map(|step| format!("[{step}]")).collect();
            format!("{what}{steps}")
        };
        if item.is_exact_instance_of::<pyo3::types::PyFloat>() {
            continue;
        }
        if no_number(&item).is_some() {
            let sentence = format!("{} is {}; give real numbers", at(path), kind_of(&item));
            return Err(refuse::argument_at(py, Code::WrongType, &sentence, &item));
        }
        if is_list(&item) {
            path.push(index);
            check_list(&item, what, path)?;
            path.pop();
        } else if let Some(number) = plain(&item, &at(path)) {
            number?;
        } else {
            Input::new(&item, &at(path))?;
        }
    }
    Ok(())
}

/// Whether an array can be read or written as one slice in its own order.
fn ready<T: Element>(array: &Bound<'_, PyArrayDyn<T>>) -> bool {
    array.is_c_contiguous() && (array.data() as usize).is_multiple_of(align_of::<T>())
}

/// The array itself if it is ready, else a copy that is; and whether it is one.
fn contiguous<'py, T: Element>(
    numpy: &Numpy,
    array: &Bound<'py, PyAny>,
    dtype: &str,
) -> PyResult<(Bound<'py, PyArrayDyn<T>>, bool)> {
    if let Ok(read) = array.cast::<PyArrayDyn<T>>()
        && ready(read)
    {
        return Ok((read.clone(), false));
    }
    let options = PyDict::new(array.py());
    options.set_item("order", "C")?;
    let copy = numpy.array.bind(array.py()).call((array, dtype), Some(&options))?;
    Ok((copy.cast_into::<PyArrayDyn<T>>()?, true))
}

/// A new array of the same shape, its numbers yet to be written.
pub(crate) fn empty_like<'py, O: Element>(shape: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyArrayDyn<O>>> {
    let py = shape.py();
    let made = Numpy::get(py)?.empty.bind(py).call1((shape, O::get_dtype(py)))?;
    Ok(made.cast_into::<PyArrayDyn<O>>()?)
}

/// How far a refused call had come, and why it was refused.
pub(crate) struct Refused<E> {
    pub(crate) done: usize,
    pub(crate) error: E,
}

/// A conversion of numbers in their own places.
pub(crate) type InPlace<'a, O, E> = &'a (dyn Fn(&mut [O]) -> Result<(), Refused<E>> + Sync);

/// Why a call over an array did not end well.
pub(crate) enum Fault<E> {
    Python(PyErr),
    /// The element at `index` was refused; `written` elements of `out` are kept, None without `out`.
    Refused {
        error: E,
        index: usize,
        written: Option<usize>,
    },
}

impl<E> From<PyErr> for Fault<E> {
    fn from(error: PyErr) -> Self {
        Self::Python(error)
    }
}

impl<'py, T: Element + Copy> Array<'py, T> {
    /// Runs `call` from this array into `out`, or into a new array, and returns the one written.
    ///
    /// `in_place` is the form for an `out` that is the input itself.
    pub(crate) fn run<O, E>(
        &self,
        out: Option<&Bound<'py, PyAny>>,
        call: impl Fn(&[T], &mut [O]) -> Result<(), Refused<E>> + Sync,
        in_place: Option<InPlace<'_, O, E>>,
    ) -> Result<Bound<'py, PyAny>, Fault<E>>
    where
        O: Element + Copy,
        E: Send,
        T: Sync,
    {
        let py = self.given.py();
        let shape = self.read.getattr("shape")?;
        let Some(out) = out else {
            let (new, outcome) = match (self.copy::<O>(), in_place) {
                // Nobody else has the copy: it becomes the result, and no new memory is asked for.
                (Some(copy), Some(in_place)) => {
                    let outcome = rewrite(&copy, in_place)?;
                    (copy, outcome)
                }
                _ => {
                    let new = empty_like::<O>(&shape)?;
                    // Asked for here, where no other thread of Python's can set it.
                    let threads = if self.read.len() < SHARED_FROM { 1 } else { threads() };
                    let outcome = self.fill(&new, threads, &call)?;
                    (new, outcome)
                }
            };
            outcome.map_err(|refused| Fault::Refused {
                error: refused.error,
                index: refused.done,
                written: None,
            })?;
            let new = new.into_any();
            return Ok(if self.scalar {
                new.get_item(PyTuple::empty(py))?
            } else {
                new
            });
        };
        let place = self.place::<O>(out, &shape)?;
        let numpy = Numpy::get(py)?;
        let outcome = match (&place, in_place) {
            (Place::Direct(target), _) => self.fill(target, 1, &call)?,
            (Place::Itself(target), Some(in_place)) => rewrite(target, in_place)?,
            (Place::Itself(_), None) | (Place::Through, _) => {
                let between = empty_like::<O>(&shape)?;
                let outcome = self.fill(&between, 1, &call)?;
                match &outcome {
                    Ok(()) => drop(numpy.copyto.bind(py).call1((out, &between))?),
                    Err(refused) => {
                        // Only what came before the refused element, in the order of the rows.
                        let done = PySlice::new(py, 0, isize::try_from(refused.done).unwrap_or(isize::MAX), 1);
                        let written = between.getattr("flat")?.get_item(&done)?;
                        out.getattr("flat")?.set_item(&done, written)?;
                    }
                }
                outcome
            }
        };
        outcome.map_err(|refused| Fault::Refused {
            error: refused.error,
            index: refused.done,
            written: Some(refused.done),
        })?;
        Ok(out.clone())
    }

    /// What it is read from, if that was made for it alone and can hold the results.
    fn copy<O: Element>(&self) -> Option<Bound<'py, PyArrayDyn<O>>> {
        if !self.is_copy || self.scalar {
            return None;
        }
        self.read.as_any().cast::<PyArrayDyn<O>>().ok().cloned()
    }

    /// Converts what is read into another array, by so many threads.
    fn fill<O, E>(
        &self,
        target: &Bound<'py, PyArrayDyn<O>>,
        threads: usize,
        call: &(impl Fn(&[T], &mut [O]) -> Result<(), Refused<E>> + Sync),
    ) -> PyResult<Result<(), Refused<E>>>
    where
        O: Element + Copy,
        E: Send,
        T: Sync,
    {
        let py = self.given.py();
        let input = self.read.try_readonly().map_err(|_| busy(py))?;
        let mut output = target.try_readwrite().map_err(|_| busy(py))?;
        let (from, to) = (
            input.as_slice().map_err(|_| busy(py))?,
            output.as_slice_mut().map_err(|_| busy(py))?,
        );
        Ok(detached(py, from.len(), || shared(threads, from, to, call)))
    }

    /// Checks `out` and says how it can be written.
    fn place<O: Element>(&self, out: &Bound<'py, PyAny>, shape: &Bound<'py, PyAny>) -> PyResult<Place<'py, O>> {
        let py = out.py();
        let wanted = O::get_dtype(py);
        let untyped = out.cast::<PyUntypedArray>().map_err(|_| {
            let sentence = format!("out is {}; give a numpy array of {wanted}", kind_of(out));
            refuse::argument_at(py, Code::WrongType, &sentence, out)
        })?;
        let target = out.cast::<PyArrayDyn<O>>().map_err(|_| {
            let sentence = format!("out holds {}; give an array of {wanted}", untyped.dtype());
            refuse::argument(py, Code::WrongType, &sentence)
        })?;
        let out_shape = out.getattr("shape")?;
        if !out_shape.eq(shape)? {
            let sentence = format!("out has shape {out_shape}, the input {shape}; give an out of the input's shape");
            return Err(refuse::argument(py, Code::LengthMismatch, &sentence));
        }
        if !out.getattr("flags")?.getattr("writeable")?.extract::<bool>()? {
            return Err(refuse::argument(
                py,
                Code::OptionOutside,
                "out is read-only; give a writeable array",
            ));
        }
        let overlapping = || {
            let sentence = "out overlaps the input; give the input itself or an array apart from it";
            Err(refuse::argument(py, Code::Overlap, sentence))
        };
        if let Ok(given) = self.given.cast::<PyArrayDyn<O>>()
            && given.data() == target.data()
            && given.strides() == target.strides()
        {
            // The very same elements; several elements in one place (broadcast views) cannot all be kept.
            let apart = given
                .strides()
                .iter()
                .zip(given.shape())
                .all(|(stride, length)| *stride != 0 || *length < 2);
            let itself = self.read.data().cast::<u8>() == target.data().cast::<u8>();
            return match (ready(target), apart) {
                (_, false) => overlapping(),
                (true, _) if itself => Ok(Place::Itself(target.clone())),
                // The input is read from a copy: nothing is shared any more.
                (true, _) => Ok(Place::Direct(target.clone())),
                (false, true) => Ok(Place::Through),
            };
        }
        if self.given.cast::<PyUntypedArray>().is_ok() && !self.read.is_empty() {
            let options = PyDict::new(py);
            options.set_item("max_work", OVERLAP_WORK)?;
            let shared = Numpy::get(py)?
                .shares_memory
                .bind(py)
                .call((&self.given, out), Some(&options));
            // Too hard to tell counts as overlapping.
            if shared.and_then(|shared| shared.extract::<bool>()).unwrap_or(true) {
                return overlapping();
            }
        }
        Ok(if ready(target) {
            Place::Direct(target.clone())
        } else {
            Place::Through
        })
    }
}

/// How `out` is written.
enum Place<'py, O> {
    Direct(Bound<'py, PyArrayDyn<O>>),
    /// The input's own elements.
    Itself(Bound<'py, PyArrayDyn<O>>),
    /// Through an array between: strided or misaligned places.
    Through,
}

/// Arrays as long as this are worth the start of another thread, some 50 us.
const SHARED_FROM: usize = 1 << 18;
/// More threads than these wait for memory.
const MOST_THREADS: usize = 4;

/// How many threads convert a long array: as many as there are processors for this process, at most four; fewer where the environment
/// says so.
fn threads() -> usize {
    static PROCESSORS: OnceLock<usize> = OnceLock::new();
    let processors = *PROCESSORS.get_or_init(|| std::thread::available_parallelism().map_or(1, usize::from));
    let most = std::env::var("ELBOWROOM_THREADS")
        .ok()
        .and_then(|most| most.trim().parse().ok());
    most.unwrap_or(MOST_THREADS).clamp(1, processors.min(MOST_THREADS))
}

/// A conversion in equal parts side by side: the same results in the same places.
fn shared<T: Sync, O: Send, E: Send>(
    threads: usize,
    from: &[T],
    to: &mut [O],
    call: &(impl Fn(&[T], &mut [O]) -> Result<(), Refused<E>> + Sync),
) -> Result<(), Refused<E>> {
    if threads < 2 {
        return call(from, to);
    }
    // Whole blocks of the core's.
    let part = from.len().div_ceil(threads).next_multiple_of(64);
    let done = std::thread::scope(|scope| {
        let mut parts = from.chunks(part).zip(to.chunks_mut(part));
        let own = parts.next();
        let others: Vec<_> = parts
            .map(|(from, to)| std::thread::Builder::new().spawn_scoped(scope, move || call(from, to).is_ok()))
            .collect();
        let mut done = own.is_none_or(|(from, to)| call(from, to).is_ok());
        for other in others {
            done &= other.is_ok_and(|other| other.join().unwrap_or(false));
        }
        done
    });
    // Where a number was refused, or no thread could be had, once more by one, which tells the first.
    if done { Ok(()) } else { call(from, to) }
}

/// Converts an array in its own place.
fn rewrite<O: Element + Copy, R: Send>(
    target: &Bound<'_, PyArrayDyn<O>>,
    in_place: impl FnOnce(&mut [O]) -> R + Send,
) -> PyResult<R> {
    let py = target.py();
    let mut target = target.try_readwrite().map_err(|_| busy(py))?;
    let slice = target.as_slice_mut().map_err(|_| busy(py))?;
    Ok(detached(py, slice.len(), || in_place(slice)))
}

/// Lets other threads run while the core works through a long array.
fn detached<R: Send>(py: Python<'_>, length: usize, call: impl FnOnce() -> R + Send) -> R {
    /// Below it the conversion takes less time than handing the interpreter over, some 100 ns each way.
    const LONG: usize = 1024;
    if length < LONG { call() } else { py.detach(call) }
}

fn busy(py: Python<'_>) -> PyErr {
    refuse::argument(
        py,
        Code::Overlap,
        "an array is being written by another call; give each call its own out",
    )
}
