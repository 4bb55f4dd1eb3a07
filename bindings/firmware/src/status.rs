//! The status of every call: the numbers of the C header, without its texts.

use model::Code;

/// What a call came to. The numbers, their names and their meaning stand in `include/elbowroom.h`.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[repr(transparent)]
pub struct elb_status(i32);

// Named as the variants of the C library's enum of the same name, which takes this type's place there.
#[allow(non_upper_case_globals)]
impl elb_status {
    /// Success.
    pub(crate) const Ok: Self = Self(0);
    /// A pointer that must not be NULL is NULL.
    pub(crate) const NullPointer: Self = Self(2);
    /// A struct's size or a length cannot be used; give the struct's init call its sizeof, and each array its length.
    pub(crate) const BadSize: Self = Self(3);
    /// A pointer is not aligned as its type needs.
    pub(crate) const Misaligned: Self = Self(8);
}

impl From<Code> for elb_status {
    #[inline]
    fn from(code: Code) -> Self {
        Self(code as i32)
    }
}
