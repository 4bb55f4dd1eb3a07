//! What goes into a fit: readings and options.

use super::error::FitError;
use crate::Side;
use std::vec::Vec;

/// From which side a position was reached.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
pub enum Approach {
    /// It is not known.
    #[default]
    Unknown,
    /// The drive angle rose to this reading.
    Below,
    /// The drive angle fell to this reading.
    Above,
}

impl Approach {
    /// The `s` of the model: +1 from below, −1 from above, 0 unknown.
    pub const fn sign(self) -> f64 {
        match self {
            Self::Unknown => 0.0,
            Self::Below => 1.0,
            Self::Above => -1.0,
        }
    }

    /// Whether a column of sides tells any.
    pub(crate) fn is_any_known(sides: &[Self]) -> bool {
        sides.iter().any(|side| *side != Self::Unknown)
    }

    /// The side from which a place is reached while the drive moves towards this end.
    ///
    /// ```
    /// use elbowroom::Side;
    /// use elbowroom::fit::Approach;
    /// assert_eq!(Approach::moving_to(Side::Upper), Approach::Below);
    /// assert_eq!(Approach::moving_to(Side::Lower), Approach::Above);
    /// ```
    pub const fn moving_to(end: Side) -> Self {
        match end {
            Side::Upper => Self::Below,
            Side::Lower => Self::Above,
        }
    }

    /// The words that [`Approach::named`] takes, each with what it stands for, as tables and lists may hold them.
    pub const WORDS: &'static [(&'static str, Self)] = &[
        ("below", Self::Below),
        ("above", Self::Above),
        ("up", Self::Below),
        ("down", Self::Above),
        ("unknown", Self::Unknown),
    ];

    /// What a word of a table stands for, in any case; an empty one stands for a side that is not known. Taken are those of
    /// [`WORDS`](Self::WORDS) and their like in German, French, Spanish and Italian.
    ///
    /// ```
    /// use elbowroom::fit::Approach;
    /// assert_eq!(Approach::named("Up"), Some(Approach::Below));
    /// assert_eq!(Approach::named(""), Some(Approach::Unknown));
    /// assert_eq!(["von oben", "Mont\u{e9}e", "bajando"].map(Approach::named), [Approach::Above, Approach::Below, Approach::Above].map(Some));
    /// assert_eq!(Approach::named("left"), None);
    /// ```
    pub fn named(word: &str) -> Option<Self> {
        named(word, Self::WORDS).or_else(|| named(word, OTHER_SIDES))
    }

    /// Its word in tables, `below` or `above`; `None` where it is not known.
    pub const fn as_str(self) -> Option<&'static str> {
        match self {
            Self::Below => Some("below"),
            Self::Above => Some("above"),
            Self::Unknown => None,
        }
    }
}

/// Words of other languages for the sides from which a position was reached: German, French, Spanish and Italian.
const OTHER_SIDES: &[(&str, Approach)] = &[
    ("from below", Approach::Below),
    ("from above", Approach::Above),
    ("von unten", Approach::Below),
    ("von oben", Approach::Above),
    ("unten", Approach::Below),
    ("oben", Approach::Above),
    ("auf", Approach::Below),
    ("ab", Approach::Above),
    ("aufw\u{e4}rts", Approach::Below),
    ("abw\u{e4}rts", Approach::Above),
    ("mont\u{e9}e", Approach::Below),
    ("montee", Approach::Below),
    ("descente", Approach::Above),
    ("par le bas", Approach::Below),
    ("par le haut", Approach::Above),
    ("subiendo", Approach::Below),
    ("bajando", Approach::Above),
    ("subida", Approach::Below),
    ("bajada", Approach::Above),
    ("desde abajo", Approach::Below),
    ("desde arriba", Approach::Above),
    ("salita", Approach::Below),
    ("discesa", Approach::Above),
];

/// What a word stands for, whatever its case and the blanks around it; the default for an empty one.
fn named<T: Copy + Default>(word: &str, words: &[(&str, T)]) -> Option<T> {
    let word = word.trim();
    if word.is_empty() {
        return Some(T::default());
    }
    let is_same = |known: &str| {
        let letters = word.chars().flat_map(char::to_lowercase);
        letters.eq(known.chars())
    };
    let found = words.iter().find(|(known, _)| is_same(known));
    found.map(|&(_, value)| value)
}

/// What somebody at the joint saw, heard or felt at a reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
pub enum ContactMark {
    /// Nothing was noted.
    #[default]
    None,
    /// The joint touched a stop; the end is the nearer end of the drive angles.
    Here,
    /// The joint touched the stop at the lower end of the drive angles.
    Lower,
    /// The joint touched the stop at the upper end of the drive angles.
    Upper,
}

impl ContactMark {
    /// The words that [`ContactMark::named`] takes, each with what it stands for.
    pub const WORDS: &'static [(&'static str, Self)] = &[
        ("here", Self::Here),
        ("lower", Self::Lower),
        ("upper", Self::Upper),
        ("none", Self::None),
    ];

    /// What a word of a table stands for, in any case; an empty one stands for nothing noted.
    ///
    /// ```
    /// use elbowroom::fit::ContactMark;
    /// assert_eq!(ContactMark::named("LOWER"), Some(ContactMark::Lower));
    /// assert_eq!(ContactMark::named("there"), None);
    /// ```
    pub fn named(word: &str) -> Option<Self> {
        named(word, Self::WORDS)
    }

    /// Whether it was noted at the upper end, of a reading at a drive angle in a sweep about a centre; `None` where nothing was noted.
    pub(super) fn is_upper(self, drive: f64, centre: f64) -> Option<bool> {
        match self {
            Self::None => None,
            Self::Lower => Some(false),
            Self::Upper => Some(true),
            Self::Here => Some(drive > centre),
        }
    }

    /// Its word in tables, `here`, `lower` or `upper`; `None` where nothing was noted.
    pub const fn as_str(self) -> Option<&'static str> {
        match self {
            Self::None => None,
            Self::Here => Some("here"),
            Self::Lower => Some("lower"),
            Self::Upper => Some("upper"),
        }
    }
}

/// Readings of one joint: what the servo was told and what the joint did.
///
/// *Shape*: every array has the length of `drive`; one element is one reading, in any order, repeats welcome.
/// *Unit*: `drive` in drive angle (or pulse width: then every result along the drive is in that unit); `measured` in
/// any unit. *NaN*: refused by [`fit_limits`](super::fit_limits), never skipped.
#[derive(Debug, Clone, Copy)]
#[non_exhaustive]
pub struct Readings<'a> {
    /// The drive angle commanded.
    pub drive: &'a [f64],
    /// The value measured at rest.
    pub measured: &'a [f64],
    /// From which side each position was reached.
    pub approach: Option<&'a [Approach]>,
    /// Contact noted by hand.
    pub contact: Option<&'a [ContactMark]>,
    /// Standard uncertainty of each measured value, in its unit. Left out: all alike, found from the scatter.
    pub u: Option<&'a [f64]>,
    /// When each reading was taken, s, counted from any moment; rows may stand in any order, those of one moment in the order
    /// in which they were taken. It shows which readings were
    /// taken while the drive moved, and from which side each position was reached where `approach` is left out.
    pub time: Option<&'a [f64]>,
}

impl<'a> Readings<'a> {
    /// Drive angles and what was measured at them.
    pub const fn new(drive: &'a [f64], measured: &'a [f64]) -> Self {
        Self {
            drive,
            measured,
            approach: None,
            contact: None,
            u: None,
            time: None,
        }
    }

    /// Some rows of them, one after the other; none where there are not so many.
    pub(super) fn rows(&self, rows: core::ops::Range<usize>) -> Option<Self> {
        let of = |values: &'a [f64]| values.get(rows.clone());
        Some(Self {
            drive: of(self.drive)?,
            measured: of(self.measured)?,
            approach: self.approach.and_then(|values| values.get(rows.clone())),
            contact: self.contact.and_then(|values| values.get(rows.clone())),
            u: self.u.and_then(of),
            time: self.time.and_then(of),
        })
    }

    /// The side from which all positions were reached, given or shown by rows that go one way.
    pub(super) fn one_way(&self) -> Option<Approach> {
        if let Some(sides) = self.approach.filter(|sides| Approach::is_any_known(sides)) {
            let first = *sides.first()?;
            return sides.iter().all(|side| *side == first).then_some(first);
        }
        // In the order of their times, rows may stand in any.
        let by_rows = self.time.is_none_or(<[f64]>::is_sorted);
        // Where a drive angle comes twice, somebody may have sorted a table that went there and back.
        if !by_rows || self.drive.len() < 2 {
            None
        } else if self.drive.is_sorted_by(|a, b| a < b) {
            Some(Approach::Below)
        } else if self.drive.is_sorted_by(|a, b| a > b) {
            Some(Approach::Above)
        } else {
            None
        }
    }

    /// Adds the side from which each position was reached.
    pub const fn with_approach(mut self, approach: &'a [Approach]) -> Self {
        self.approach = Some(approach);
        self
    }

    /// Adds contact noted by hand.
    pub const fn with_contact(mut self, contact: &'a [ContactMark]) -> Self {
        self.contact = Some(contact);
        self
    }

    /// Adds the standard uncertainty of each measured value.
    pub const fn with_u(mut self, u: &'a [f64]) -> Self {
        self.u = Some(u);
        self
    }

    /// Adds when each reading was taken, s.
    pub const fn with_time(mut self, time: &'a [f64]) -> Self {
        self.time = Some(time);
        self
    }

    /// The readings whose index and drive angle pass, with their approach; no contact and no uncertainty.
    pub(super) fn chosen(&self, passes: impl Fn(usize, f64) -> bool) -> BetweenStops {
        let mut chosen = BetweenStops {
            drive: Vec::new(),
            measured: Vec::new(),
            approach: self.approach.map(|_| Vec::new()),
        };
        for (index, (&drive, &measured)) in self.drive.iter().zip(self.measured).enumerate() {
            if !passes(index, drive) {
                continue;
            }
            chosen.drive.push(drive);
            chosen.measured.push(measured);
            if let (Some(kept), Some(given)) = (&mut chosen.approach, self.approach) {
                kept.push(given.get(index).copied().unwrap_or_default());
            }
        }
        chosen
    }

    pub(super) fn check(&self) -> Result<(), FitError> {
        let expected = self.drive.len();
        let lengths = [
            ("measured", Some(self.measured.len())),
            ("approach", self.approach.map(<[_]>::len)),
            ("contact", self.contact.map(<[_]>::len)),
            ("u", self.u.map(<[_]>::len)),
            ("time", self.time.map(<[_]>::len)),
        ];
        for (what, length) in lengths {
            if let Some(given) = length
                && given != expected
            {
                return Err(FitError::LengthMismatch { what, given, expected });
            }
        }
        check_finite("drive", self.drive)?;
        check_finite("measured", self.measured)?;
        if let Some(u) = self.u {
            check_u("u", u)?;
        }
        if let Some(time) = self.time {
            check_finite("time", time)?;
        }
        Ok(())
    }
}

/// Readings that show the transmission alone: what [`LimitFit::between_stops`](super::LimitFit::between_stops) gives.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct BetweenStops {
    /// Their drive angles.
    pub drive: Vec<f64>,
    /// What was measured there.
    pub measured: Vec<f64>,
    /// From which side each was reached; absent if it was not given.
    pub approach: Option<Vec<Approach>>,
}

impl BetweenStops {
    /// As the fits of transmissions take them.
    pub fn readings(&self) -> Readings<'_> {
        Readings {
            approach: self.approach.as_deref(),
            ..Readings::new(&self.drive, &self.measured)
        }
    }
}

/// Larger than any angle, count or pulse width, small enough that squares and sums stay finite.
const MOST: f64 = 1e100;

pub(super) fn check_finite(what: &'static str, values: &[f64]) -> Result<(), FitError> {
    for (index, &value) in values.iter().enumerate() {
        if !value.is_finite() {
            return Err(FitError::NotFinite { what, index, value });
        }
        if value.abs() > MOST {
            return Err(FitError::TooLarge { what, index, value });
        }
    }
    Ok(())
}

pub(super) fn check_u(what: &'static str, values: &[f64]) -> Result<(), FitError> {
    check_finite(what, values)?;
    for (index, &value) in values.iter().enumerate() {
        if value < 1.0 / MOST {
            return Err(FitError::NotPositive { what, index, value });
        }
    }
    Ok(())
}

/// The options of a fit.
///
/// ```
/// use elbowroom::fit::FitOptions;
/// let options = FitOptions::default().with_guard(2.0).with_resolution(0.5);
/// assert_eq!((options.guard, options.confidence), (2.0, 0.95));
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct FitOptions {
    /// Margin kept between contact and travel, in the unit of the drive values; zero or more. Default 2, which is meant for
    /// degrees: give one of your own for pulse widths or radians; [`Warning::GuardOfDegrees`](super::Warning::GuardOfDegrees) tells of pulse
    /// widths that keep next to none.
    pub guard: f64,
    /// Coverage probability of every interval, 0.5 to 0.9999. Default 0.95.
    pub confidence: f64,
    /// Smallest step the measured value can show (ADC step, graduation), in its unit.
    pub resolution: Option<f64>,
}

impl Default for FitOptions {
    fn default() -> Self {
        Self {
            guard: 2.0,
            confidence: 0.95,
            resolution: None,
        }
    }
}

impl FitOptions {
    /// The same with another guard.
    pub const fn with_guard(mut self, guard: f64) -> Self {
        self.guard = guard;
        self
    }

    /// The same with another coverage probability.
    pub const fn with_confidence(mut self, confidence: f64) -> Self {
        self.confidence = confidence;
        self
    }

    /// The same with the measured value's smallest step.
    pub const fn with_resolution(mut self, resolution: f64) -> Self {
        self.resolution = Some(resolution);
        self
    }

    pub(super) fn check(&self) -> Result<(), FitError> {
        check_option("guard", self.guard, 0.0, MOST)?;
        check_confidence(self.confidence)?;
        if let Some(resolution) = self.resolution {
            check_option("resolution", resolution, 0.0, MOST)?;
        }
        Ok(())
    }
}

pub(super) fn check_confidence(confidence: f64) -> Result<(), FitError> {
    check_option("confidence", confidence, 0.5, 0.9999)
}

pub(super) fn check_option(what: &'static str, value: f64, lower: f64, upper: f64) -> Result<(), FitError> {
    // Written so that NaN is outside.
    if value >= lower && value <= upper {
        Ok(())
    } else {
        Err(FitError::OptionOutside {
            what,
            value,
            lower,
            upper,
        })
    }
}
