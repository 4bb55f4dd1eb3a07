//! Numbers as the vectors write them, and a fixed source of inputs.

use elbowroom::Real;

/// Numbers as their bits in hex; every NaN is `nan`, since the payload of a NaN is nobody's promise.
pub(crate) trait Bits: Real {
    const ODD: &'static [Self];
    /// The least normal number above zero.
    const TINY: Self;
    fn show(self) -> String;
    fn read(text: &str) -> Self;
    fn neighbours(self) -> [Self; 2];
}

macro_rules! bits {
    ($t:ident, $u:ident, $digits:literal) => {
        impl Bits for $t {
            const TINY: Self = Self::MIN_POSITIVE;
            const ODD: &'static [Self] = &[
                0.0,
                -0.0,
                $t::from_bits(1),
                -$t::from_bits(1),
                $t::MIN_POSITIVE,
                $t::MAX,
                $t::MIN,
                $t::INFINITY,
                $t::NEG_INFINITY,
                $t::NAN,
            ];
            fn show(self) -> String {
                if self.is_nan() {
                    "nan".into()
                } else {
                    format!(concat!("{:0", $digits, "x}"), self.to_bits())
                }
            }
            fn read(text: &str) -> Self {
                if text == "nan" {
                    $t::NAN
                } else {
                    $t::from_bits($u::from_str_radix(text, 16).unwrap())
                }
            }
            fn neighbours(self) -> [Self; 2] {
                [self.next_down(), self.next_up()]
            }
        }
    };
}
bits!(f32, u32, 8);
bits!(f64, u64, 16);

/// Splitmix64 (Steele, Lea & Flood 2014): a fixed source of inputs, for choosing cases only.
pub(crate) struct Draw(pub(crate) u64);

impl Draw {
    pub(crate) fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }
    pub(crate) fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }
    pub(crate) fn between(&mut self, lower: f64, upper: f64) -> f64 {
        lower + self.unit() * (upper - lower)
    }
}
