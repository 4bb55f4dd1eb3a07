//! Where the bytes of a block stand.

/// Memory that holds an image: a byte slice, or memory that no pointer reaches, such as the flash of an AVR.
///
/// Nothing outside the image may ever be read; that is for the implementation to see to.
pub trait Image: Copy {
    /// `N` bytes of the image that are known to be there.
    type Part<const N: usize>: Part;

    /// Bytes of the whole image.
    fn length(self) -> usize;

    /// The `N` bytes from byte `at` on, or `None` if the image ends before.
    fn part<const N: usize>(self, at: usize) -> Option<Self::Part<N>>;
}

/// Bytes known to be there.
pub trait Part: Copy {
    /// The `M` bytes from byte `at` of the part on. Zeros where the part ends before.
    fn bytes<const M: usize>(self, at: usize) -> [u8; M];
}

impl<'a> Image for &'a [u8] {
    type Part<const N: usize> = &'a [u8; N];

    #[inline]
    fn length(self) -> usize {
        self.len()
    }

    #[inline]
    fn part<const N: usize>(self, at: usize) -> Option<&'a [u8; N]> {
        self.get(at..)?.first_chunk()
    }
}

impl<const N: usize> Part for &[u8; N] {
    #[inline]
    fn bytes<const M: usize>(self, at: usize) -> [u8; M] {
        match self.get(at..).and_then(|rest| rest.first_chunk()) {
            Some(bytes) => *bytes,
            None => [0; M],
        }
    }
}
