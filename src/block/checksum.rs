//! The checksum of a block.

/// CRC-32, fed byte by byte.
///
/// Polynomial 0x04C11DB7, bits reflected (0xEDB88320), start and final inversion with 0xFFFFFFFF: that of IEEE 802.3,
/// 3.2.9, and ITU-T V.42, 8.1.1.6.2. It catches every change within 32 neighbouring bits, hence every change of one byte.
/// Bit by bit, without a table: on an 8-bit board a table would take its room from 2 kB of RAM.
#[derive(Clone, Copy)]
pub(super) struct Checksum(u32);

impl Checksum {
    pub(super) const fn new() -> Self {
        Self(u32::MAX)
    }

    pub(super) const fn with(self, byte: u8) -> Self {
        let mut rest = self.0 ^ byte as u32;
        let mut bit = 0;
        while bit < 8 {
            rest = if rest & 1 == 1 {
                rest >> 1 ^ 0xEDB8_8320
            } else {
                rest >> 1
            };
            bit += 1;
        }
        Self(rest)
    }

    pub(super) const fn value(self) -> u32 {
        !self.0
    }
}

#[cfg(test)]
mod tests {
    use super::Checksum;

    /// The published check value of this checksum: ITU-T V.42's CRC over the nine digits (catalogued as CRC-32/ISO-HDLC).
    #[test]
    fn published_check_value() {
        let of = |bytes: &[u8]| bytes.iter().fold(Checksum::new(), |sum, &byte| sum.with(byte)).value();
        assert_eq!(of(b"123456789"), 0xCBF4_3926);
        assert_eq!(of(b""), 0);
    }
}
