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

    /// One part after the other, `count` of them with `N` bytes each, or `None` if the image ends before.
    fn parts<const N: usize>(self, at: usize, count: u16) -> Option<impl Iterator<Item = Self::Part<N>>>;
}

/// The bytes of `count` parts of `N` bytes each, if no more than `room`.
///
/// Compared before it is multiplied: where an address has 16 bits, checked multiplication is a matter of 32.
#[inline(always)]
pub fn bytes_of_parts<const N: usize>(count: u16, room: usize) -> Option<usize> {
    let count = usize::from(count);
    if count > const { usize::MAX / N } {
        return None;
    }
    let bytes = count.wrapping_mul(N);
    (bytes <= room).then_some(bytes)
}

/// Bytes known to be there.
pub trait Part: Copy {
    /// The `M` bytes from byte `at` of the part on. Zeros where the part ends before.
    fn bytes<const M: usize>(self, at: usize) -> [u8; M];

    /// The byte at `at`.
    #[inline]
    fn byte(self, at: usize) -> u8 {
        let [byte] = self.bytes(at);
        byte
    }

    /// The u16 from byte `at` on, little-endian.
    #[inline]
    fn u16_at(self, at: usize) -> u16 {
        u16::from_le_bytes(self.bytes(at))
    }

    /// The u32 from byte `at` on, little-endian.
    #[inline]
    fn u32_at(self, at: usize) -> u32 {
        u32::from_le_bytes(self.bytes(at))
    }

    /// The f32 from byte `at` on, little-endian.
    #[inline]
    fn float(self, at: usize) -> f32 {
        f32::from_bits(self.u32_at(at))
    }
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

    #[inline]
    fn parts<const N: usize>(self, at: usize, count: u16) -> Option<impl Iterator<Item = &'a [u8; N]>> {
        let rest = self.get(at..)?;
        let bytes = bytes_of_parts::<N>(count, rest.len())?;
        Some(rest.get(..bytes)?.as_chunks().0.iter())
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
