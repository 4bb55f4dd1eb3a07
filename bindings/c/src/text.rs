//! Texts that C can read, and those that it gives.

use crate::pointer;
use crate::refusal::Refusal;
use model::robot::Date;
use std::ffi::{CString, c_char};

/// A text that ends with a NUL; an inner NUL, which would end it early, becomes U+FFFD.
pub(crate) fn c_text(text: &impl ToString) -> CString {
    CString::new(text.to_string().replace('\0', "\u{fffd}")).unwrap_or_default()
}

/// A day that may be left out.
pub(crate) unsafe fn day(today: *const c_char) -> Result<Option<Date>, Refusal> {
    if today.is_null() {
        return Ok(None);
    }
    // SAFETY: the header's contract.
    let day = unsafe { pointer::terminated("today", today)? };
    day.parse().map(Some).map_err(|_| Refusal::Day(day.to_owned()))
}
