//! Handles: made, read and freed, each in one way; the bodies that calls of one kind share.

use crate::guard::{guard, quick};
use crate::pointer::{self, Growing};
use crate::refusal::{Refusal, elb_error};
use crate::status::elb_status;

/// What C holds by a pointer and does not look into.
pub(crate) trait Handle {
    /// Its name in messages.
    const WHAT: &'static str;
}

/// Hands one out.
pub(crate) unsafe fn give<H: Handle>(out: *mut *mut H, handle: H) {
    // SAFETY: `out` is checked by the caller.
    unsafe { pointer::put(out, Box::into_raw(Box::new(handle))) }
}

/// The body that every constructor shares: check the place, make the handle, hand it out.
pub(crate) unsafe fn make<H: Handle>(
    out: *mut *mut H,
    error: *mut elb_error,
    made: impl FnOnce() -> Result<H, Refusal>,
) -> elb_status {
    guard(error, || {
        pointer::check("out", out)?;
        let handle = made()?;
        // SAFETY: checked above.
        unsafe { give(out, handle) };
        Ok(())
    })
}

/// The body of every call that sets a struct to its defaults.
pub(crate) unsafe fn init<T: Growing>(place: *mut T, size: usize) -> elb_status {
    guard(std::ptr::null_mut(), || {
        // SAFETY: the header's contract.
        unsafe { pointer::write_sized(place, size, T::defaults()) }
    })
}

/// Takes one back. NULL is fine.
pub(crate) unsafe fn free<H: Handle>(handle: *mut H) {
    if handle.is_null() {
        return;
    }
    let _ = guard(std::ptr::null_mut(), || {
        // SAFETY: made by `give` and not yet freed, by the header's contract.
        drop(unsafe { Box::from_raw(handle) });
        Ok(())
    });
}

/// The body that every reader of a handle shares: check both pointers, then write one value.
pub(crate) unsafe fn read<H: Handle, T>(
    handle: *const H,
    out: *mut T,
    value: impl FnOnce(&H) -> Result<T, Refusal>,
) -> elb_status {
    guard(std::ptr::null_mut(), || {
        // SAFETY: the header's contract.
        let handle = unsafe { pointer::borrow(H::WHAT, handle)? };
        pointer::check("out", out)?;
        let value = value(handle)?;
        // SAFETY: checked above.
        unsafe { pointer::put(out, value) };
        Ok(())
    })
}

/// [`read`] for two results, each with its name.
pub(crate) unsafe fn read_pair<H: Handle, A, B>(
    handle: *const H,
    (first_name, first): (&'static str, *mut A),
    (second_name, second): (&'static str, *mut B),
    values: impl FnOnce(&H) -> Result<(A, B), Refusal>,
) -> elb_status {
    guard(std::ptr::null_mut(), || {
        // SAFETY: the header's contract.
        let handle = unsafe { pointer::borrow(H::WHAT, handle)? };
        pointer::check(first_name, first)?;
        pointer::check(second_name, second)?;
        let (one, other) = values(handle)?;
        // SAFETY: checked above.
        unsafe {
            pointer::put(first, one);
            pointer::put(second, other);
        }
        Ok(())
    })
}

/// [`read`] in a control loop: no formatting, no allocation.
#[inline(always)]
pub(crate) unsafe fn read_quickly<H, T>(
    handle: *const H,
    out: *mut T,
    value: impl FnOnce(&H) -> Result<T, elb_status>,
) -> elb_status {
    quick(|| {
        // SAFETY: the header's contract.
        let handle = unsafe { pointer::loop_call(handle, out)? };
        let value = value(handle)?;
        // SAFETY: checked above.
        unsafe { pointer::put(out, value) };
        Ok(())
    })
}

/// One of the several things that a handle holds.
pub(crate) fn nth<'a, T>(what: &'static str, list: &'a [T], i: usize) -> Result<&'a T, Refusal> {
    list.get(i).ok_or(Refusal::Index {
        what,
        given: i,
        length: list.len(),
    })
}
