//! Texts that C can read.

use std::ffi::CString;

/// A text that ends with a NUL; an inner NUL, which would end it early, becomes U+FFFD.
pub(crate) fn c_text(text: &impl ToString) -> CString {
    CString::new(text.to_string().replace('\0', "\u{fffd}")).unwrap_or_default()
}
