//! Which version this is.

use std::ffi::c_char;

/// The version of this header: major.
pub const ELB_VERSION_MAJOR: u32 = 0;
/// The version of this header: minor.
pub const ELB_VERSION_MINOR: u32 = 1;
/// The version of this header: patch.
pub const ELB_VERSION_PATCH: u32 = 0;
/// The version of this header as one number that only grows: major, minor and patch, three digits each.
pub const ELB_VERSION_NUMBER: u32 = 1000;

/// The version of the library that runs, which may be newer than the header: "0.1.0".
///
/// Returns a static text, not to be freed.
#[unsafe(no_mangle)]
pub extern "C" fn elb_version() -> *const c_char {
    const TEXT: &str = concat!(env!("CARGO_PKG_VERSION"), "\0");
    TEXT.as_ptr().cast()
}

/// The version of the library that runs, to be compared with ELB_VERSION_NUMBER.
#[unsafe(no_mangle)]
pub extern "C" fn elb_version_number() -> u32 {
    ELB_VERSION_NUMBER
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn constants_agree_with_the_manifest() {
        let parts = [ELB_VERSION_MAJOR, ELB_VERSION_MINOR, ELB_VERSION_PATCH];
        assert_eq!(parts.map(|part| part.to_string()).join("."), env!("CARGO_PKG_VERSION"));
        assert_eq!(ELB_VERSION_NUMBER, (parts[0] * 1000 + parts[1]) * 1000 + parts[2]);
    }
}
