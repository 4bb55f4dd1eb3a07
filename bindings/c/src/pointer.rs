//! From C pointers to Rust references, each checked for all that can be checked.
//!
//! The contract of every function here and of every exported one is the header's: a pointer that is not NULL points
//! to as many readable (for outputs: writable) elements as the call says, and nobody else writes there meanwhile. NULL,
//! misalignment, impossible lengths and overlap are refused; what remains cannot be checked and is the caller's.

use crate::refusal::Refusal;
use crate::status::elb_status;
use std::slice;

/// A handle or another thing to read.
pub(crate) unsafe fn borrow<'a, T>(what: &'static str, pointer: *const T) -> Result<&'a T, Refusal> {
    check(what, pointer)?;
    // SAFETY: not null and aligned; valid by the header's contract.
    Ok(unsafe { &*pointer })
}

/// Checks a place to write one result.
pub(crate) fn check<T>(what: &'static str, pointer: *const T) -> Result<(), Refusal> {
    if pointer.is_null() {
        Err(Refusal::Null(what))
    } else if !pointer.is_aligned() {
        Err(Refusal::Misaligned(what))
    } else {
        Ok(())
    }
}

/// Writes one result to a place that [`check`] has passed.
pub(crate) unsafe fn put<T>(pointer: *mut T, value: T) {
    // SAFETY: checked by the caller; writable by the header's contract.
    unsafe { pointer.write(value) }
}

/// The two pointers of a control loop call.
#[inline(always)]
pub(crate) unsafe fn loop_call<'a, H, O>(handle: *const H, out: *mut O) -> Result<&'a H, elb_status> {
    if handle.is_null() || out.is_null() {
        return Err(elb_status::NullPointer);
    }
    if !handle.is_aligned() || !out.is_aligned() {
        return Err(elb_status::Misaligned);
    }
    // SAFETY: not null and aligned; valid by the header's contract.
    Ok(unsafe { &*handle })
}

/// Checks that an array can exist at all. NULL is fine for no elements.
pub(crate) fn check_array<T>(what: &'static str, pointer: *const T, n: usize) -> Result<(), Refusal> {
    if n == 0 {
        return Ok(());
    }
    check(what, pointer)?;
    match n.checked_mul(size_of::<T>()) {
        Some(bytes) if isize::try_from(bytes).is_ok() && (pointer as usize).checked_add(bytes).is_some() => Ok(()),
        _ => Err(Refusal::Length { what, given: n }),
    }
}

/// An array to read.
pub(crate) unsafe fn array<'a, T>(what: &'static str, pointer: *const T, n: usize) -> Result<&'a [T], Refusal> {
    check_array(what, pointer, n)?;
    if n == 0 {
        return Ok(&[]);
    }
    // SAFETY: not null, aligned, of possible length; readable by the header's contract.
    Ok(unsafe { slice::from_raw_parts(pointer, n) })
}

/// An array that may be left out.
pub(crate) unsafe fn optional_array<'a, T>(
    what: &'static str,
    pointer: *const T,
    n: usize,
) -> Result<Option<&'a [T]>, Refusal> {
    if pointer.is_null() {
        return Ok(None);
    }
    // SAFETY: as for `array`.
    unsafe { array(what, pointer, n) }.map(Some)
}

/// A text of so many bytes.
pub(crate) unsafe fn text<'a>(
    what: &'static str,
    pointer: *const std::ffi::c_char,
    length: usize,
) -> Result<&'a str, Refusal> {
    // SAFETY: as for `array`; a `char` of C has one byte.
    let bytes = unsafe { array(what, pointer.cast::<u8>(), length)? };
    std::str::from_utf8(bytes).map_err(|error| Refusal::Utf8 {
        what,
        at: error.valid_up_to(),
    })
}

/// A text that ends with a NUL.
pub(crate) unsafe fn terminated<'a>(what: &'static str, pointer: *const std::ffi::c_char) -> Result<&'a str, Refusal> {
    check(what, pointer)?;
    // SAFETY: not null; ends with a NUL by the header's contract.
    let bytes = unsafe { std::ffi::CStr::from_ptr(pointer) }.to_bytes();
    std::str::from_utf8(bytes).map_err(|error| Refusal::Utf8 {
        what,
        at: error.valid_up_to(),
    })
}

/// Fills a caller's text with a NUL at its end. `length` is told in any case, and alone if there is no room at all.
pub(crate) unsafe fn fill_text(
    text: &str,
    out: *mut std::ffi::c_char,
    room: usize,
    length: *mut usize,
) -> Result<(), Refusal> {
    let terminated: Vec<u8> = text.bytes().chain([0]).collect();
    // SAFETY: as for `fill`; a `char` of C has one byte.
    unsafe {
        fill(
            "text",
            &terminated,
            out.cast(),
            "bytes",
            room,
            text.len(),
            "length",
            length,
        )
    }
}

/// Fills a caller's image. `length` is told in any case, and alone if there is no room at all.
pub(crate) unsafe fn fill_image(image: &[u8], out: *mut u8, room: usize, length: *mut usize) -> Result<(), Refusal> {
    // SAFETY: as for `fill`.
    unsafe { fill("image", image, out, "bytes", room, image.len(), "length", length) }
}

/// Fills a caller's knots. `n` is told in any case, and alone if there is no room at all.
pub(crate) unsafe fn fill_knots(knots: &[[f64; 2]], out: *mut f64, room: usize, n: *mut usize) -> Result<(), Refusal> {
    // SAFETY: as for `fill`; two f64 side by side are one [f64; 2].
    unsafe { fill("knots", knots, out.cast(), "knots", room, knots.len(), "n", n) }
}

/// Copies all of it, or says how much room is needed and given.
#[allow(clippy::too_many_arguments)] // Two arrays with their names.
unsafe fn fill<T: Copy>(
    what: &'static str,
    elements: &[T],
    out: *mut T,
    of: &'static str,
    room: usize,
    told: usize,
    length_name: &'static str,
    length: *mut usize,
) -> Result<(), Refusal> {
    check_array(what, out, room)?;
    if !length.is_null() {
        check(length_name, length)?;
        // SAFETY: checked above.
        unsafe { put(length, told) };
    }
    if room == 0 {
        return Ok(());
    }
    if room < elements.len() {
        return Err(Refusal::Room {
            of,
            needed: elements.len(),
            given: room,
        });
    }
    // SAFETY: `room` elements are writable by the header's contract; ours are apart from them.
    unsafe { std::ptr::copy_nonoverlapping(elements.as_ptr(), out, elements.len()) };
    Ok(())
}

/// A struct of C that begins with its size and may be older or newer than this library.
///
/// # Safety
/// Types that implement it are `repr(C)`, begin with `size: usize`, and are valid for every pattern of bytes.
pub(crate) unsafe trait Growing: Copy {
    /// Its name in messages.
    const WHAT: &'static str;
    /// Its size when it was first published: none is shorter. A struct that has grown since then states it.
    const LEAST: usize = size_of::<Self>();
    /// What fields hold that the caller does not set.
    fn defaults() -> Self;
}

/// No struct of ours comes near; a larger number is memory that nobody has initialised.
const MOST: usize = 4096;

fn check_size<T: Growing>(given: usize) -> Result<(), Refusal> {
    if given < T::LEAST || given > MOST {
        return Err(Refusal::Size {
            what: T::WHAT,
            given,
            least: T::LEAST,
            most: size_of::<T>(),
        });
    }
    Ok(())
}

/// Reads such a struct: what an older caller does not have keeps its default, what a newer one has beyond ours must be
/// zero.
pub(crate) unsafe fn read_sized<T: Growing>(pointer: *const T) -> Result<T, Refusal> {
    check(T::WHAT, pointer)?;
    // SAFETY: not null and aligned; begins with its size by the header's contract.
    let given = unsafe { pointer.cast::<usize>().read() };
    check_size::<T>(given)?;
    let known = size_of::<T>();
    // SAFETY: `given` bytes are readable by the header's contract.
    let tail = unsafe { slice::from_raw_parts(pointer.cast::<u8>(), given) }
        .get(known..)
        .unwrap_or_default();
    if tail.iter().any(|&byte| byte != 0) {
        return Err(Refusal::UnknownField {
            what: T::WHAT,
            given,
            known,
        });
    }
    let mut value = T::defaults();
    // SAFETY: both have that many bytes, they are apart, and every pattern is valid (`Growing`).
    unsafe {
        std::ptr::copy_nonoverlapping(pointer.cast::<u8>(), (&raw mut value).cast::<u8>(), given.min(known));
    }
    Ok(value)
}

/// Fills such a struct of the caller's size; what is beyond ours becomes zero.
pub(crate) unsafe fn write_sized<T: Growing>(pointer: *mut T, size: usize, mut value: T) -> Result<(), Refusal> {
    check(T::WHAT, pointer)?;
    check_size::<T>(size)?;
    // SAFETY: `size` bytes are writable by the header's contract, and the value has at least what is copied.
    unsafe {
        (&raw mut value).cast::<usize>().write(size);
        std::ptr::write_bytes(pointer.cast::<u8>(), 0, size);
        std::ptr::copy_nonoverlapping(
            (&raw const value).cast::<u8>(),
            pointer.cast::<u8>(),
            size.min(size_of::<T>()),
        );
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may panic")]
    use super::*;
    use std::mem::offset_of;

    /// A struct that has grown by its last field.
    #[derive(Debug, Clone, Copy, PartialEq)]
    #[repr(C)]
    struct Grown {
        size: usize,
        old: f64,
        new: f64,
    }

    // SAFETY: `repr(C)`, begins with its size, and holds numbers only.
    unsafe impl Growing for Grown {
        const WHAT: &'static str = "grown";
        const LEAST: usize = offset_of!(Self, new);

        fn defaults() -> Self {
            Self {
                size: size_of::<Self>(),
                old: 1.0,
                new: 2.0,
            }
        }
    }

    /// A program built before the field was there: it keeps its default, and what lies behind the struct is not touched.
    #[test]
    fn an_older_struct_has_the_defaults_of_what_it_lacks() {
        let mut given = Grown {
            size: offset_of!(Grown, new),
            old: 5.0,
            new: 77.0,
        };
        // SAFETY: `given` is such a struct.
        let read = unsafe { read_sized(&raw const given) }.unwrap();
        assert_eq!((read.size, read.old, read.new), (given.size, 5.0, 2.0));
        // SAFETY: as above.
        unsafe { write_sized(&raw mut given, given.size, Grown::defaults()) }.unwrap();
        assert_eq!((given.size, given.old, given.new), (offset_of!(Grown, new), 1.0, 77.0));
        given.size = offset_of!(Grown, new) - 1;
        // SAFETY: as above.
        let refused = unsafe { read_sized(&raw const given) };
        assert_eq!(refused.unwrap_err().status(), crate::status::elb_status::BadSize);
    }
}
