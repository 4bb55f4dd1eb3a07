//! The table of mechanisms: words, numbers, dimensions. All that lists kinds reads it here.

use crate::linkage::{Branch, FourBar, LinkageError, Links, Mechanism, SliderCrank, Spool, Triangle};
use crate::unit::{SiUnit, Unit};

/// The shortest length of a link, mm (a nanometre): shorter ones are another unit's, and their squares soon lose digits.
pub(super) const LEAST_LENGTH: f64 = 1e-6;
/// The longest length of a link, mm (a thousand kilometres), and the largest angle, deg.
pub(super) const MOST_LENGTH: f64 = 1e9;

/// Hands the table to a macro, which writes what follows from it.
///
/// A row is the mechanism's type, its number in the C interface, its word in a robot file and what its commands are measured in; then its dimensions in order, each a
/// `length` (above zero), a `place` (a length that may have either sign) or an `angle` (deg); then its branch, if it can be put together in
/// two ways. A new kind is one row here and the file with its formulas.
macro_rules! mechanisms {
    ($build:ident) => {
        $build! {
            /// A linear actuator or lead screw across a hinge.
            Triangle = 2 => "triangle" of Deg {
                /// From the hinge to the actuator's nearer end.
                base: length,
                /// From the hinge to its other end.
                arm: length,
                /// Angle between the two at command 0, deg.
                angle_at_zero: angle,
            }
            /// A crank that moves a slide.
            SliderCrank = 3 => "slider-crank" of Length {
                /// From the shaft to the crank's pin.
                crank: length,
                /// From the crank's pin to the slide's pin.
                rod: length,
                /// Distance of the slide's line from the shaft.
                offset: place,
                /// The slide's place at command 0.
                slide_at_zero: place,
            } [
                /// Where the crank's pin lies, seen from the shaft towards the slide's pin.
                branch
            ]
            /// A crank that moves a rocker through a coupler.
            FourBar = 4 => "four-bar" of Deg {
                /// From the servo's shaft to the crank's pin.
                crank: length,
                /// From the crank's pin to the rocker's pin.
                coupler: length,
                /// From the joint's pivot to the rocker's pin.
                rocker: length,
                /// From the servo's shaft to the joint's pivot.
                ground: length,
                /// The rocker's angle at command 0, deg.
                rocker_at_zero: angle,
            } [
                /// Where the crank's pin lies, seen from the shaft towards the rocker's pin.
                branch
            ]
            /// A tendon on a drum.
            Spool = 5 => "spool" of Deg {
                /// Radius of the tendon on the drum at command 0.
                drum: length,
                /// What that radius gains with each turn of the drum.
                per_turn: place,
                /// Radius of the tendon on the joint's pulley.
                pulley: length,
            }
        }
    };
}
pub(crate) use mechanisms;

/// What a dimension is measured in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum DimensionUnit {
    /// Any unit of length, the same for all of one mechanism.
    Length,
    /// Degrees.
    Deg,
}

/// A dimension of a kind of mechanism.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub struct Dimension {
    /// Its key in a robot file.
    pub name: &'static str,
    /// From where to where it is measured.
    pub meaning: &'static str,
    /// What it is measured in.
    pub unit: DimensionUnit,
    /// Whether it must be above zero.
    pub above_zero: bool,
}

impl Dimension {
    const fn length(name: &'static str, meaning: &'static str) -> Self {
        Self {
            name,
            meaning,
            unit: DimensionUnit::Length,
            above_zero: true,
        }
    }

    const fn place(name: &'static str, meaning: &'static str) -> Self {
        Self {
            name,
            meaning,
            unit: DimensionUnit::Length,
            above_zero: false,
        }
    }

    const fn angle(name: &'static str, meaning: &'static str) -> Self {
        Self {
            name,
            meaning,
            unit: DimensionUnit::Deg,
            above_zero: false,
        }
    }
}

/// A kind of mechanism: its row of the table.
///
/// ```
/// use elbowroom::linkage::{Branch, MechanismKind};
/// let kind = MechanismKind::of_word("triangle").unwrap();
/// assert_eq!((kind.number, kind.has_branch), (2, false));
/// let triangle = kind.with(&[40.0, 92.0, 31.0], Branch::Left);
/// assert_eq!(triangle.dimension("arm"), Some(92.0));
/// ```
#[derive(Debug, Clone, Copy)]
#[non_exhaustive]
pub struct MechanismKind {
    /// The word for it in a robot file.
    pub word: &'static str,
    /// The number for it in the C interface.
    pub number: u32,
    /// Its dimensions, in the order of the mechanism's fields.
    pub dimensions: &'static [Dimension],
    /// The keys of its dimensions, in the same order.
    pub names: &'static [&'static str],
    /// All its keys in a robot file: `kind`, the dimensions, and `branch` if it has one.
    pub keys: &'static [&'static str],
    /// Whether it can be put together in two ways.
    pub has_branch: bool,
    /// What its commands are measured in: the angle of a hinge, or the place of a slide.
    pub command: DimensionUnit,
    blank: Mechanism,
}

impl MechanismKind {
    /// The kind that a robot file calls so.
    pub fn of_word(word: &str) -> Option<&'static Self> {
        Self::ALL.iter().find(|kind| kind.word == word)
    }

    /// Whether commands in a unit are what its formulas compute with: deg for the angle of a hinge, any length for the place of a slide. A
    /// word without a factor to SI may be either.
    ///
    /// ```
    /// use elbowroom::linkage::MechanismKind;
    /// let [triangle, slide] = ["triangle", "slider-crank"].map(|word| MechanismKind::of_word(word).unwrap());
    /// assert_eq!(["deg", "rad", "mm", "grade"].map(|unit| triangle.takes(unit)), [true, false, false, true]);
    /// assert_eq!(["deg", "rad", "mm", "grade"].map(|unit| slide.takes(unit)), [false, false, true, true]);
    /// ```
    pub fn takes(&self, unit: &str) -> bool {
        Unit::of(unit).is_none_or(|unit| match self.command {
            DimensionUnit::Deg => unit == Unit::Deg,
            DimensionUnit::Length => unit.si() == SiUnit::Metre,
        })
    }

    /// The kind that has this number in the C interface.
    pub fn of_number(number: u32) -> Option<&'static Self> {
        Self::ALL.iter().find(|kind| kind.number == number)
    }

    /// The mechanism of this kind with dimensions in the order of [`MechanismKind::dimensions`], unchecked. What is left out is NaN,
    /// what is too much is ignored, and so is the branch where there is none.
    pub fn with(&self, dimensions: &[f64], branch: Branch) -> Mechanism {
        let mut mechanism = self.blank;
        for (name, value) in self.names.iter().zip(dimensions) {
            mechanism.set_dimension(name, *value);
        }
        mechanism.set_branch(branch);
        mechanism
    }
}

macro_rules! table {
    ($(
        $(#[doc = $text:literal])* $Kind:ident = $number:literal => $word:literal of $command:ident {
            $($(#[doc = $of:literal])* $name:ident: $unit:ident,)+
        } $([$(#[doc = $side:literal])* $branch:ident])?
    )+) => {
        impl MechanismKind {
            /// Every kind, in rising order of number.
            pub const ALL: &'static [Self] = &[$($Kind::KIND),+];
        }

        $(impl $Kind {
            const KIND: MechanismKind = MechanismKind {
                word: $word,
                number: $number,
                dimensions: &[$(Dimension::$unit(stringify!($name), concat!($($of),*))),+],
                names: &[$(stringify!($name)),+],
                keys: &["kind", $(stringify!($name),)+ $(stringify!($branch))?],
                has_branch: { const BRANCHES: &[&str] = &[$(stringify!($branch))?]; !BRANCHES.is_empty() },
                command: DimensionUnit::$command,
                blank: Mechanism::$Kind(Self { $($name: f64::NAN,)+ $($branch: Branch::Left)? }),
            };
        })+

        impl Mechanism {
            pub(super) fn parts(&self) -> &dyn Links {
                match self {
                    $(Self::$Kind(m) => m,)+
                }
            }

            /// Its kind: words, numbers and dimensions.
            pub fn form(&self) -> &'static MechanismKind {
                match self {
                    $(Self::$Kind(_) => const { &$Kind::KIND },)+
                }
            }

            /// On which side its pin lies; none for a kind that can be put together in one way only.
            pub fn branch(&self) -> Option<Branch> {
                match self {
                    $(Self::$Kind(_m) => { $(return Some(_m.$branch);)? #[allow(unreachable_code, reason = "some kinds have no branch")] None })+
                }
            }

            /// Puts it together the other way; whether it can be.
            pub fn set_branch(&mut self, _to: Branch) -> bool {
                match self {
                    $(Self::$Kind(_m) => { $(_m.$branch = _to; return true;)? #[allow(unreachable_code, reason = "some kinds have no branch")] false })+
                }
            }

            fn place_of(&mut self, name: &str) -> Option<&mut f64> {
                match self {
                    $(Self::$Kind(m) => match name {
                        $(stringify!($name) => Some(&mut m.$name),)+
                        _ => None,
                    },)+
                }
            }
        }
    };
}
mechanisms!(table);

impl Mechanism {
    /// The word for it in a robot file.
    pub fn kind(&self) -> &'static str {
        self.form().word
    }

    /// The keys of its dimensions in a robot file, in the order of the mechanism's fields.
    pub fn dimensions(&self) -> &'static [&'static str] {
        self.form().names
    }

    /// Its dimensions with their keys, in the order of the mechanism's fields.
    pub fn numbers(&self) -> impl Iterator<Item = (&'static str, f64)> + use<> {
        let mut copy = *self;
        (self.form().names.iter()).filter_map(move |name| Some((*name, *copy.place_of(name)?)))
    }

    /// A dimension by its key in a robot file.
    pub fn dimension(&self, name: &str) -> Option<f64> {
        let mut copy = *self;
        copy.place_of(name).map(|place| *place)
    }

    /// Changes a dimension by its key in a robot file; whether it has it.
    pub fn set_dimension(&mut self, name: &str, value: f64) -> bool {
        self.place_of(name).map(|place| *place = value).is_some()
    }

    /// Whether a dimension, by its key, must be above zero.
    #[cfg(feature = "std")]
    pub(crate) fn must_be_positive(&self, name: &str) -> bool {
        let mut all = self.form().dimensions.iter();
        all.any(|dimension| dimension.name == name && dimension.above_zero)
    }

    /// Whether a dimension, by its key, is measured in a unit of length.
    #[cfg(feature = "std")]
    pub(crate) fn is_length(&self, name: &str) -> bool {
        let mut all = self.form().dimensions.iter();
        all.any(|dimension| dimension.name == name && dimension.unit == DimensionUnit::Length)
    }

    /// Refuses numbers that are not finite, and lengths that are not above zero.
    pub(crate) fn check_dimensions(&self) -> Result<(), LinkageError> {
        let each = || self.form().dimensions.iter().zip(self.numbers());
        for above_zero in [true, false] {
            for (dimension, (what, value)) in each() {
                if dimension.above_zero == above_zero && !value.is_finite() {
                    return Err(LinkageError::NotFinite { what, value });
                }
            }
        }
        for (dimension, (what, value)) in each() {
            if dimension.above_zero && value <= 0.0 {
                return Err(LinkageError::NotPositive { what, value });
            }
        }
        for (dimension, (what, value)) in each() {
            let size = value.abs();
            if size > MOST_LENGTH || (dimension.above_zero && size < LEAST_LENGTH) {
                let (least, most) = (LEAST_LENGTH, MOST_LENGTH);
                return Err(LinkageError::LengthOutside {
                    what,
                    value,
                    least,
                    most,
                });
            }
        }
        Ok(())
    }
}
