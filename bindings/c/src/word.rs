//! Words of the core as C reads them: static, with a NUL at the end.

/// A word and its NUL.
#[allow(clippy::indexing_slicing)] // Runs in the compiler: a word that does not fit does not compile.
pub(crate) const fn terminated<const N: usize>(word: &str) -> [u8; N] {
    let mut text = [0; N];
    let bytes = word.as_bytes();
    assert!(bytes.len() < N, "no room for the NUL");
    let mut i = 0;
    while i < bytes.len() {
        text[i] = bytes[i];
        i += 1;
    }
    text
}

/// A pointer to a word that the compiler knows.
macro_rules! c_word {
    ($word:expr) => {{
        const WORD: &str = $word;
        const TEXT: &[u8] = &$crate::word::terminated::<{ WORD.len() + 1 }>(WORD);
        TEXT.as_ptr().cast::<std::ffi::c_char>()
    }};
}
pub(crate) use c_word;

/// What a number of C is called that this library does not know.
pub(crate) const OTHER: *const std::ffi::c_char = c"other".as_ptr();

/// The text behind a pointer to a word.
#[cfg(test)]
pub(crate) fn read(word: *const std::ffi::c_char) -> &'static str {
    // SAFETY: every word here is static and ends with a NUL.
    unsafe { std::ffi::CStr::from_ptr(word) }.to_str().unwrap()
}
