//! Timer counts of a joint without its chain: the line from command to count, and the integers that arrays of counts may have.

mod line;

pub(crate) use line::{BELOW, BLOCK, Chain, CountLine, FOREIGN, FRACTION, Grid};

/// The integers that an array of counts may have. Sealed.
pub trait CountNumber: Copy + sealed::Sealed {
    /// The largest count that fits.
    #[doc(hidden)]
    const MOST: u32;

    /// A count that fits.
    #[doc(hidden)]
    fn cut(count: u32) -> Self;

    /// A count of 16 bits. Apart from the other, since vector instructions widen 16 bits in one step.
    #[doc(hidden)]
    fn from_narrow(count: u16) -> Self;
}

mod sealed {
    pub trait Sealed {}
}

macro_rules! count_numbers {
    ($($number:ident up to $most:expr),*) => {$(
        impl sealed::Sealed for $number {}
        impl CountNumber for $number {
            const MOST: u32 = $most;

            #[inline]
            fn cut(count: u32) -> Self {
                count as Self
            }

            #[inline]
            fn from_narrow(count: u16) -> Self {
                count.into()
            }
        }
    )*};
}

count_numbers!(u16 up to 0xFFFF, i32 up to 0x7FFF_FFFF, u32 up to u32::MAX, i64 up to u32::MAX, u64 up to u32::MAX);
