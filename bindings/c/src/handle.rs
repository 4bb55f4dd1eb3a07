//! Handles: made, read and freed, each in one way.

use crate::guard::guard;
use crate::pointer;
use crate::refusal::Refusal;
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
