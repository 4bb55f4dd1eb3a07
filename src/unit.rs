//! The units of commands: one table of words, codes and factors to SI, which every surface reads.

/// Writes the units, their words and their factors from one table.
macro_rules! units {
    ($($(#[doc = $text:literal])+ $variant:ident = $number:literal => $word:literal, $to_si:expr, $si:ident;)*) => {
        /// A unit of commands that is known by its word in a robot file. Numbers are frozen; 0 is none of them.
        ///
        /// A file may name any other word: such commands have no factor.
        ///
        /// ```
        /// use elbowroom::{SiUnit, Unit};
        /// let unit = Unit::of("deg").unwrap();
        /// assert_eq!((unit.word(), unit.si()), ("deg", SiUnit::Radian));
        /// assert_eq!(180.0 * unit.to_si(), std::f64::consts::PI);
        /// assert_eq!(Unit::of("furlong"), None);
        /// ```
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        #[repr(u32)]
        #[non_exhaustive]
        pub enum Unit {
            $($(#[doc = $text])+ $variant = $number,)*
        }

        impl Unit {
            /// All of them, in rising order of number.
            pub const ALL: &'static [Self] = &[$(Self::$variant),*];

            /// The word of a robot file.
            pub const fn word(self) -> &'static str {
                match self {
                    $(Self::$variant => $word,)*
                }
            }

            /// What one of it is in [`Unit::si`]: commands times this are in radians, metres or plain numbers.
            pub const fn to_si(self) -> f64 {
                match self {
                    $(Self::$variant => $to_si,)*
                }
            }

            /// The unit that [`Unit::to_si`] leads to.
            pub const fn si(self) -> SiUnit {
                match self {
                    $(Self::$variant => SiUnit::$si,)*
                }
            }
        }
    };
}

use core::f64::consts::PI;

units! {
    /// Degrees of angle.
    Deg = 1 => "deg", PI / 180.0, Radian;
    /// Radians.
    Rad = 2 => "rad", 1.0, Radian;
    /// Full turns.
    Turn = 3 => "turn", 2.0 * PI, Radian;
    /// Millimetres.
    Mm = 4 => "mm", 0.001, Metre;
    /// Centimetres.
    Cm = 5 => "cm", 0.01, Metre;
    /// Metres.
    M = 6 => "m", 1.0, Metre;
    /// Inches, of 25.4 mm exactly.
    Inch = 7 => "in", 0.0254, Metre;
    /// Parts of a whole, 0 to 1.
    Fraction = 8 => "fraction", 1.0, One;
    /// Hundredths of a whole.
    Percent = 9 => "percent", 0.01, One;
}

impl Unit {
    /// The unit of a word; None for a word that is none of the table.
    pub fn of(word: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|unit| unit.word() == word)
    }

    /// The number that crosses the C interface.
    pub const fn number(self) -> u32 {
        self as u32
    }

    /// Whether values in this unit that are taken for values in `other` explain scales in such a `ratio`: how far off it is, as a
    /// factor.
    #[cfg(feature = "std")]
    pub(crate) fn explains(self, other: Self, ratio: f64) -> Option<f64> {
        let of_units = self.to_si() / other.to_si();
        let off = (ratio / of_units).max(of_units / ratio);
        (self.si() == other.si() && is_no_repair(of_units) && off <= SPREAD).then_some(off)
    }
}

/// Scales that differ by less could be a repair: another lever, another spool.
#[cfg(feature = "std")]
const LEAST_RATIO: f64 = 5.0;
/// How far a ratio of scales may be from the ratio of two units: far more than wear makes of it.
#[cfg(feature = "std")]
const SPREAD: f64 = 1.25;

/// Whether one scale is so many times another that no repair or wear makes it so.
#[cfg(feature = "std")]
pub(crate) fn is_no_repair(ratio: f64) -> bool {
    ratio.max(ratio.recip()) >= LEAST_RATIO
}

/// What a unit's factor leads to. Numbers are frozen; 0 is none of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[repr(u32)]
pub enum SiUnit {
    /// Radians: the joint turns.
    Radian = 1,
    /// Metres: the joint slides.
    Metre = 2,
    /// A plain number.
    One = 3,
}

impl SiUnit {
    /// Its symbol: `rad`, `m` or `1`.
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::Radian => "rad",
            Self::Metre => "m",
            Self::One => "1",
        }
    }

    /// The number that crosses the C interface.
    pub const fn number(self) -> u32 {
        self as u32
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_found_again_and_numbers_rise() {
        let mut before = 0;
        for &unit in Unit::ALL {
            assert_eq!(Unit::of(unit.word()), Some(unit));
            assert!(unit.number() > before && unit.to_si() > 0.0);
            before = unit.number();
        }
        assert_eq!(Unit::of("Deg"), None);
        assert_eq!(Unit::of(""), None);
        assert_eq!(Unit::Turn.to_si(), 360.0 * Unit::Deg.to_si());
        assert_eq!(
            [SiUnit::Radian, SiUnit::Metre, SiUnit::One].map(SiUnit::symbol),
            ["rad", "m", "1"]
        );
    }
}
