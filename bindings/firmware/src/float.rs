//! Products and quotients below the smallest normal number, rounded right.
//!
//! On an AVR the float routines are those of avr-libc. Its sums, products and quotients are rounded to nearest, ties
//! to even, as IEEE 754 asks and as every other machine does, except that a product or quotient in the subnormal range
//! forgets some of the bits below its last place: 1 / 0x1.fa2fc6p126 comes out one unit low. (Found by running some
//! millions of cases of version 2.0.0 in a simulator against a desktop processor; no source.) Here such results, and
//! only they, are computed again in integers. `bindings/firmware/build` renames the library's undefined `__mulsf3` and
//! `__divsf3` to [`elb_block_multiply`] and [`elb_block_divide`]; the program that it is linked into keeps its own.

/// Bits of a float without its sign.
const MAGNITUDE: u32 = 0x7FFF_FFFF;
/// The exponent's bits; none of them is set in zeros and subnormal numbers.
const EXPONENT: u32 = 0x7F80_0000;
/// The bit that a normal number's significand has in front.
const FRONT: u32 = 1 << 23;

/// With halves of the exponent fields that add up to more than this, a product is a normal number: the fields to 130 or more, the
/// product to at least 2^(130 - 254). (An infinity or NaN among the operands is for avr-libc to see to in any case.)
#[cfg(target_arch = "avr")]
const LEAST_SUM: u8 = 64;
/// With a dividend's half that is less by no more than this, a quotient is a normal number: the field is less by no more than 124,
/// the quotient more than 2^(-124 - 1).
#[cfg(target_arch = "avr")]
const LEAST_GAP: u8 = 62;

/// Half of the exponent's field: the seven bits below the sign, all in one register.
#[cfg(target_arch = "avr")]
#[inline(always)]
fn half_exponent(x: f32) -> u8 {
    (x.to_bits() >> 24) as u8 & 0x7F
}

#[cfg(target_arch = "avr")]
mod routines {
    unsafe extern "C" {
        // Renamed to `__mulsf3` and `__divsf3` after compilation: under these names they are avr-libc's own.
        fn elb_block_native_multiply(a: f32, b: f32) -> f32;
        fn elb_block_native_divide(a: f32, b: f32) -> f32;
    }

    // The first look at the exponents costs a few cycles; without it both operands would have to be kept through the call.
    #[unsafe(no_mangle)]
    extern "C" fn elb_block_multiply(a: f32, b: f32) -> f32 {
        if super::half_exponent(a) + super::half_exponent(b) > super::LEAST_SUM {
            // SAFETY: a function of two numbers.
            return unsafe { elb_block_native_multiply(a, b) };
        }
        small_product(a, b)
    }

    #[unsafe(no_mangle)]
    extern "C" fn elb_block_divide(a: f32, b: f32) -> f32 {
        if super::half_exponent(a) + super::LEAST_GAP > super::half_exponent(b) {
            // SAFETY: a function of two numbers.
            return unsafe { elb_block_native_divide(a, b) };
        }
        small_quotient(a, b)
    }

    #[inline(never)]
    fn small_product(a: f32, b: f32) -> f32 {
        // SAFETY: a function of two numbers.
        let product = unsafe { elb_block_native_multiply(a, b) };
        super::refined(product, a, b, super::product)
    }

    #[inline(never)]
    fn small_quotient(a: f32, b: f32) -> f32 {
        // SAFETY: a function of two numbers.
        let quotient = unsafe { elb_block_native_divide(a, b) };
        super::refined(quotient, a, b, super::quotient)
    }
}

/// The result, or what `exact` makes of the operands where the result is below the normal numbers and they are not 0.
#[inline(always)]
fn refined(result: f32, a: f32, b: f32, exact: impl Fn(Parts, Parts) -> u32) -> f32 {
    if result.to_bits() & EXPONENT != 0 {
        return result;
    }
    let (x, y) = (a.to_bits() & MAGNITUDE, b.to_bits() & MAGNITUDE);
    // An infinite divisor gives an exact zero, as operands of 0 do.
    if x == 0 || y == 0 || y >= EXPONENT {
        return result;
    }
    let sign = (a.to_bits() ^ b.to_bits()) & !MAGNITUDE;
    f32::from_bits(sign | exact(Parts::of(x), Parts::of(y)))
}

/// A number above zero: `significand · 2^exponent`, the significand with 24 bits.
struct Parts {
    significand: u32,
    exponent: i16,
}

impl Parts {
    #[inline]
    fn of(magnitude: u32) -> Self {
        let field = (magnitude >> 23) as i16;
        if field != 0 {
            return Self {
                significand: magnitude & !EXPONENT | FRONT,
                exponent: field - 150,
            };
        }
        let (mut significand, mut exponent) = (magnitude, -149);
        // 23 rounds at most: the magnitude is not 0.
        while significand & FRONT == 0 {
            significand <<= 1;
            exponent -= 1;
        }
        Self { significand, exponent }
    }
}

/// The product in units of 2^-149, the last place of a subnormal number: its bits.
#[inline(never)]
fn product(a: Parts, b: Parts) -> u32 {
    let (mut sum, mut lost, mut rest) = (0, false, a.significand);
    for _ in 0..24 {
        lost |= sum & 1 != 0;
        sum >>= 1;
        if rest & 1 != 0 {
            sum += b.significand;
        }
        rest >>= 1;
    }
    // `sum` is the product of the significands less its last 23 bits.
    nearest(sum, lost, -(a.exponent + b.exponent + 149 + 23))
}

/// The quotient in units of 2^-149.
#[inline(never)]
fn quotient(a: Parts, b: Parts) -> u32 {
    let (mut quotient, mut rest) = (0, a.significand);
    for _ in 0..26 {
        quotient <<= 1;
        if rest >= b.significand {
            rest -= b.significand;
            quotient |= 1;
        }
        rest <<= 1;
    }
    // `quotient` is that of the significands times 2^25.
    nearest(quotient, rest != 0, -(a.exponent - b.exponent + 149 - 25))
}

/// `whole` (and a bit more if `lost`) divided by `2^shift`, to the nearest integer, ties to even.
#[inline(never)]
fn nearest(mut whole: u32, mut lost: bool, shift: i16) -> u32 {
    let mut half = false;
    // Beyond 27 bits nothing but a lost remainder is left.
    for _ in 0..if shift > 27 { 27 } else { shift } {
        lost |= half;
        half = whole & 1 != 0;
        whole >>= 1;
    }
    if half && (lost || whole & 1 != 0) {
        whole + 1
    } else {
        whole
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Splitmix64 (Steele, Lea & Flood 2014): a fixed source of operands.
    struct Draw(u64);

    impl Draw {
        fn bits(&mut self) -> u64 {
            self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
            let mut z = self.0;
            z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
            z ^ (z >> 31)
        }

        /// A float with long, short or extreme significand and an exponent field of `from` to `to`.
        fn float(&mut self, from: u64, to: u64) -> f32 {
            let bits = self.bits();
            let significand = match bits & 7 {
                0 => 0,
                1 => 0x7F_FFFF - (bits >> 40) % 4,
                2 => (bits >> 40) % 4,
                3 => (bits >> 40) & 0x70_0003,
                _ => (bits >> 40) & 0x7F_FFFF,
            };
            let exponent = from + (bits >> 8) % (to - from + 1);
            f32::from_bits(((bits as u32) & !MAGNITUDE) | (exponent << 23 | significand) as u32)
        }
    }

    /// This machine's own products and quotients are the reference: IEEE 754 leaves no choice.
    #[test]
    fn subnormal_products_and_quotients_are_rounded_right() {
        let mut draw = Draw(1);
        let (mut products, mut quotients) = (0, 0);
        for _ in 0..4_000_000 {
            let a = draw.float(0, 180);
            let field = u64::from((a.to_bits() & MAGNITUDE) >> 23);
            let b = draw.float(100u64.saturating_sub(field), 130u64.saturating_sub(field));
            if (a * b).to_bits() & EXPONENT == 0 {
                products += 1;
                assert_eq!(
                    refined(0.0 * a * b, a, b, product).to_bits(),
                    (a * b).to_bits(),
                    "{a:e} * {b:e}"
                );
            }
            let c = draw.float((field + 122).min(254), (field + 155).min(254));
            if (a / c).to_bits() & EXPONENT == 0 {
                quotients += 1;
                let zero = if (a / c).is_sign_negative() { -0.0 } else { 0.0 };
                assert_eq!(
                    refined(zero, a, c, quotient).to_bits(),
                    (a / c).to_bits(),
                    "{a:e} / {c:e}"
                );
            }
        }
        assert!(products > 1_000_000 && quotients > 1_000_000, "{products} {quotients}");
    }

    #[test]
    fn other_results_stay() {
        let never = |_: Parts, _: Parts| unreachable!();
        assert_eq!(refined(6.0, 2.0, 3.0, never), 6.0);
        assert_eq!(refined(0.0, 0.0, 3.0, never), 0.0);
        assert_eq!(refined(0.0, 3.0, f32::INFINITY, never), 0.0);
        assert!(refined(f32::NAN, 0.0, f32::INFINITY, never).is_nan());
    }
}
