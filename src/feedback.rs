//! From a reading of the joint's sensor to the joint's angle, and back.
//!
//! The map is a straight line between two readings and the two angles measured there, a curve through more of them, or a line
//! bent by the load that the converter's input puts on a potentiometer. It is exact at both ends, monotone between neighbouring
//! floats, and continues as a straight line beyond its ends: a reading outside the span is a measurement, not an error.

use crate::error::{FeedbackError, JointError};
use crate::map::{Direction, LinearMap};
use crate::math;
use crate::pinned::{Pinned, Shape};
use crate::real::Real;
use crate::span::Span;

#[cfg(feature = "std")]
use crate::curve::{Curve, SlopeRule};
#[cfg(feature = "std")]
use std::vec::Vec;

/// What is written down of a joint's sensor, unchecked: `feedback = { reading = …, angle = … }` of a robot file.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
#[non_exhaustive]
pub struct FeedbackRecord<T> {
    /// Lower and upper reading.
    pub reading: [T; 2],
    /// Lower and upper joint angle, deg: the ends of the joint's command range, as a protractor reads them.
    pub angle: [T; 2],
    /// Whether the reading falls as the angle rises: the lower reading belongs to the upper angle.
    #[cfg_attr(feature = "serde", serde(default))]
    pub inverted: bool,
    /// Bits of the converter: readings are 0 to 2^bits - 1.
    #[cfg_attr(feature = "serde", serde(default = "none", skip_serializing_if = "Option::is_none"))]
    pub adc_bits: Option<u8>,
    /// Joint angle, deg, that one whole turn of a sensor that wraps around stands for: 360 for a magnet on the joint's
    /// axis. Left out for a sensor that does not wrap.
    #[cfg_attr(feature = "serde", serde(default = "none", skip_serializing_if = "Option::is_none"))]
    pub wrap_deg: Option<T>,
    /// Resistance of the potentiometer from end to end, ohm; with `load_ohm`.
    #[cfg_attr(feature = "serde", serde(default = "none", skip_serializing_if = "Option::is_none"))]
    pub pot_ohm: Option<T>,
    /// Resistance from its wiper to ground through whatever reads it, ohm; with `pot_ohm`.
    #[cfg_attr(feature = "serde", serde(default = "none", skip_serializing_if = "Option::is_none"))]
    pub load_ohm: Option<T>,
    /// Supply of the sensor, V, when `reading` was taken. Left out where the converter's reference is the sensor's supply
    /// (ratiometric), so that a change of it changes no reading.
    #[cfg_attr(feature = "serde", serde(default = "none", skip_serializing_if = "Option::is_none"))]
    pub supply_v: Option<T>,
    /// Reading and angle of each knot of a curve, (n x 2), readings rising; the first and the last are the ends above.
    #[cfg(feature = "std")]
    #[cfg_attr(feature = "serde", serde(default = "none", skip_serializing_if = "Option::is_none"))]
    pub knots: Option<Vec<[T; 2]>>,
}

#[cfg(feature = "serde")]
fn none<V>() -> Option<V> {
    None
}

impl<T> FeedbackRecord<T> {
    /// How many bits a converter may have.
    pub const ADC_BITS: core::ops::RangeInclusive<u8> = 1..=24;

    /// A straight map from readings to angles.
    pub fn new(reading: [T; 2], angle: [T; 2]) -> Self {
        Self {
            reading,
            angle,
            inverted: false,
            adc_bits: None,
            wrap_deg: None,
            pot_ohm: None,
            load_ohm: None,
            supply_v: None,
            #[cfg(feature = "std")]
            knots: None,
        }
    }

    /// The same feedback with each of its numbers in another form; see [`JointRecord::map`](crate::JointRecord::map).
    pub fn map<U>(self, f: impl Fn(T) -> U) -> FeedbackRecord<U> {
        FeedbackRecord {
            reading: self.reading.map(&f),
            angle: self.angle.map(&f),
            inverted: self.inverted,
            adc_bits: self.adc_bits,
            wrap_deg: self.wrap_deg.map(&f),
            pot_ohm: self.pot_ohm.map(&f),
            load_ohm: self.load_ohm.map(&f),
            supply_v: self.supply_v.map(&f),
            #[cfg(feature = "std")]
            knots: (self.knots).map(|knots| knots.into_iter().map(|knot| knot.map(&f)).collect()),
        }
    }
}

/// The state of the sensor that a reading shows. What a broken wire reads is an assumption; verify it at your sensor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum ReadingState {
    /// Within the readings of the map.
    Inside,
    /// Outside them, but a reading that a sound sensor may give: the joint is beyond its measured ends.
    Outside,
    /// At the bottom of the converter's range: wiper shorted to ground, the sensor's supply wire broken, or the wiper's wire
    /// broken where a resistor pulls the input down.
    LowerRail,
    /// At the top of the converter's range: wiper shorted to the supply, the ground wire broken, or the wiper's wire
    /// broken where a resistor pulls the input up.
    UpperRail,
    /// No reading that this converter gives: NaN, below 0, above its largest number.
    Impossible,
}

impl ReadingState {
    /// Its word, as the shell prints it.
    ///
    /// ```
    /// assert_eq!(elbowroom::ReadingState::LowerRail.as_str(), "lower-rail");
    /// ```
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Inside => "inside",
            Self::Outside => "outside",
            Self::LowerRail => "lower-rail",
            Self::UpperRail => "upper-rail",
            Self::Impossible => "impossible",
        }
    }
}

/// How close to its ends a converter's reading counts as at a rail, in parts of its range (an assumption of this library):
/// 4 counts of 10 bits.
const RAIL: f64 = 1.0 / 256.0;
/// How far the width of the readings and that of the angles may contradict each other through the sensor's turn.
const TURN_TOLERANCE: f64 = 0.1;

/// A checked map from readings to joint angles.
///
/// ```
/// use elbowroom::{Feedback, FeedbackRecord, ReadingState};
/// let mut record = FeedbackRecord::new([212.0, 871.0], [0.0, 95.0]);
/// record.adc_bits = Some(10);
/// let feedback = Feedback::new(&record)?;
/// assert_eq!(feedback.angle(212.0), 0.0);
/// assert_eq!(feedback.angle(541.5), 47.5);
/// assert_eq!(feedback.reading(95.0), 871.0);
/// assert_eq!(feedback.state(900.0), ReadingState::Outside);
/// assert_eq!(feedback.state(1.0), ReadingState::LowerRail);
/// # Ok::<(), elbowroom::JointError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Feedback<T> {
    record: FeedbackRecord<T>,
    reading: Span<T>,
    angle: Span<T>,
    direction: Direction,
    map: Map<T>,
}

#[derive(Debug, Clone, PartialEq)]
#[allow(
    clippy::large_enum_variant,
    reason = "below `std` there is no heap to put it on, and a joint holds but one"
)]
enum Map<T> {
    Linear {
        there: LinearMap<T>,
        back: LinearMap<T>,
    },
    Loaded(Pinned<T, Loaded>),
    #[cfg(feature = "std")]
    Curve(Curve<T>),
}

impl<T: Real> Feedback<T> {
    /// Checks a record.
    ///
    /// # Errors
    /// A [`JointError`] for spans and numbers, [`JointError::Feedback`] for what does not go together.
    pub fn new(record: &FeedbackRecord<T>) -> Result<Self, JointError> {
        let reading = Span::new("feedback.reading", record.reading)?;
        let angle = Span::new("feedback.angle", record.angle)?;
        let direction = Direction::from_inverted(record.inverted);
        for (what, value) in [
            ("feedback.wrap_deg", record.wrap_deg),
            ("feedback.pot_ohm", record.pot_ohm),
            ("feedback.load_ohm", record.load_ohm),
            ("feedback.supply_v", record.supply_v),
        ] {
            positive(what, value)?;
        }
        let most = converter(record.adc_bits, reading)?;
        if let Some(turn) = record.wrap_deg {
            let (missing, given) = ("adc_bits", "wrap_deg");
            let most = most.ok_or(FeedbackError::Missing { given, missing })?;
            no_wrap(reading, angle, turn.to_wide(), most + 1.0)?;
        }
        let load = match (record.pot_ohm, record.load_ohm) {
            (None, None) => None,
            (Some(pot), Some(input)) => Some((pot.to_wide(), input.to_wide())),
            (Some(_), None) => return Err(missing("pot_ohm", "load_ohm")),
            (None, Some(_)) => return Err(missing("load_ohm", "pot_ohm")),
        };
        #[cfg(feature = "std")]
        let knots = record.knots.as_deref();
        #[cfg(not(feature = "std"))]
        let knots: Option<&[[T; 2]]> = None;
        let map = match (load, knots) {
            (Some(_), Some(_)) => {
                return Err(JointError::Feedback(FeedbackError::Both {
                    one: "knots",
                    other: "pot_ohm",
                }));
            }
            (Some((pot_ohm, load_ohm)), None) => {
                let most = most.ok_or(FeedbackError::Missing {
                    given: "pot_ohm",
                    missing: "adc_bits",
                })?;
                let heavy = FeedbackError::LoadTooHeavy { pot_ohm, load_ohm };
                if pot_ohm >= 100.0 * load_ohm {
                    return Err(heavy.into());
                }
                let loaded = Loaded {
                    load: pot_ohm / load_ohm,
                    full: most + 1.0,
                };
                Map::Loaded(Pinned::new(loaded, reading, angle, direction).ok_or(heavy)?)
            }
            #[cfg(feature = "std")]
            (None, Some(knots)) => Map::Curve(curved(knots, reading, angle, direction)?),
            _ => {
                let there = LinearMap::new(reading, angle, direction);
                Map::Linear {
                    there,
                    back: there.reversed(),
                }
            }
        };
        Ok(Self {
            record: record.clone(),
            reading,
            angle,
            direction,
            map,
        })
    }

    /// The joint angle, deg, of a reading. Nothing is clamped; NaN gives NaN.
    #[inline]
    pub fn angle(&self, reading: T) -> T {
        match &self.map {
            Map::Linear { there, .. } => there.apply(reading),
            Map::Loaded(pinned) => pinned.at(reading),
            #[cfg(feature = "std")]
            Map::Curve(curve) => curve.at(reading),
        }
    }

    /// Whether the map is bent by the load of the input.
    pub(crate) fn is_loaded(&self) -> bool {
        matches!(self.map, Map::Loaded(_))
    }

    /// The curve of the map, if it is one.
    #[cfg(feature = "std")]
    pub(crate) fn curve(&self) -> Option<&Curve<T>> {
        match &self.map {
            Map::Curve(curve) => Some(curve),
            _ => None,
        }
    }

    /// The reading of a joint angle in deg. Nothing is clamped or rounded; NaN gives NaN.
    #[inline]
    pub fn reading(&self, angle: T) -> T {
        match &self.map {
            Map::Linear { back, .. } => back.apply(angle),
            Map::Loaded(pinned) => pinned.back(angle),
            #[cfg(feature = "std")]
            Map::Curve(curve) => curve.inverse(angle),
        }
    }

    /// Degrees of joint angle per unit of reading: what one count of the converter is worth there, negative where the reading
    /// falls as the angle rises. Beyond the map's ends, the slope with which it continues there: as at the end, a curve as its outermost piece
    /// is on average. NaN gives NaN.
    pub fn angle_per_reading(&self, reading: T) -> T {
        match &self.map {
            // A straight line would have its slope even at NaN; a gap stays a gap.
            Map::Linear { .. } if reading.is_nan() => reading,
            Map::Linear { there, .. } => there.slope(),
            Map::Loaded(pinned) => pinned.slope(reading),
            #[cfg(feature = "std")]
            Map::Curve(curve) => curve.slope(reading),
        }
    }

    /// The state of the sensor that a reading shows: within the map, outside it, or at a rail, where a wire is broken or shorted.
    ///
    /// Rails need `adc_bits`, and are the outermost 1/256 of the converter's numbers (an assumption of this library). Where the
    /// map's own readings reach into a rail they come first: there a broken wire cannot be distinguished from a position, see
    /// [`Feedback::detects_wire_faults`].
    pub fn state(&self, reading: T) -> ReadingState {
        let most = self.record.adc_bits.map(most_of);
        let value = reading.to_wide();
        let possible = value.is_finite() && most.is_none_or(|most| (0.0..=most).contains(&value));
        match self.rails() {
            _ if !possible => ReadingState::Impossible,
            _ if self.reading.contains(reading) => ReadingState::Inside,
            Some([lower, _]) if reading <= lower => ReadingState::LowerRail,
            Some([_, upper]) if reading >= upper => ReadingState::UpperRail,
            _ => ReadingState::Outside,
        }
    }

    /// Whether a broken or shorted wire can be seen: at the lower and at the upper rail of the converter.
    ///
    /// An end is seen if [`Feedback::state`] tells the rail in all of it, so only if the map keeps clear of the whole outermost
    /// 1/256. One count short of the converter's end is not enough: a broken wire seldom reads exactly 0, and one count more
    /// would be a position. Without `adc_bits` nothing is known of rails, and neither is seen.
    ///
    /// At a rail stand the wiper shorted to that side and the other side's wire broken. The wiper's own broken wire comes
    /// there only if a resistor pulls the input to it (an assumption of this library).
    ///
    /// ```
    /// use elbowroom::{Feedback, FeedbackRecord, ReadingState};
    /// let mut record = FeedbackRecord::new([1.0, 1019.0], [0.0, 95.0]);
    /// record.adc_bits = Some(10);
    /// let feedback = Feedback::new(&record)?;
    /// assert_eq!(feedback.detects_wire_faults(), [false, true]);
    /// assert_eq!(feedback.state(2.0), ReadingState::Inside);
    /// assert_eq!(feedback.state(1020.0), ReadingState::UpperRail);
    /// # Ok::<(), elbowroom::JointError>(())
    /// ```
    pub fn detects_wire_faults(&self) -> [bool; 2] {
        let [lower, upper] = self.reading.ends();
        self.rails()
            .map_or([false, false], |rails| [lower > rails[0], upper < rails[1]])
    }

    /// The reading as it would be at the supply that the map was taken at, `supply_v` being the supply now.
    ///
    /// A ratiometric sensor, whose record names no supply, reads the same at every one: its reading is given back. NaN and a
    /// supply of 0 give NaN or an infinity.
    pub fn at_supply(&self, reading: T, supply_v: T) -> T {
        match self.record.supply_v {
            Some(then) => reading * (then / supply_v),
            None => reading,
        }
    }

    /// The readings of the map.
    pub fn reading_range(&self) -> Span<T> {
        self.reading
    }

    /// The joint angles of the map, deg.
    pub fn angle_range(&self) -> Span<T> {
        self.angle
    }

    /// Whether the lower reading belongs to the lower or to the upper angle.
    pub fn direction(&self) -> Direction {
        self.direction
    }

    /// Bits of the converter.
    pub fn adc_bits(&self) -> Option<u8> {
        self.record.adc_bits
    }

    /// The converter's lowest and highest number, if its bits are known.
    pub fn converter_range(&self) -> Option<[T; 2]> {
        self.record
            .adc_bits
            .map(|bits| [T::zero(), T::from_wide(most_of(bits))])
    }

    /// Up to and from where a reading outside the map counts as at a rail, if the converter's bits are known: the outermost
    /// 1/256 of its numbers (an assumption of this library).
    pub fn rails(&self) -> Option<[T; 2]> {
        let most = self.record.adc_bits.map(most_of)?;
        Some([most * RAIL, most * (1.0 - RAIL)].map(T::from_wide))
    }

    /// The record that makes an equal map.
    pub fn record(&self) -> &FeedbackRecord<T> {
        &self.record
    }
}

/// A potentiometer whose wiper is loaded by the input that reads it.
///
/// With the wiper at the part `x` of a resistance `R`, and `r` from the wiper to ground, the divider of the upper part
/// `(1-x)·R` and the lower part `x·R` beside `r` gives `v = x / (1 + (R/r)·x·(1-x))` of the supply. *Source*: the loaded
/// voltage divider, any textbook of electrical engineering. The reading is `v` times 2^bits.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Loaded {
    /// R/r.
    load: f64,
    /// Reading of the whole supply.
    full: f64,
}

impl Loaded {
    fn wiper(&self, reading: f64) -> f64 {
        // The root of load·v·x² + (1 - load·v)·x - v = 0 that is 0 at v = 0, in the form without cancellation for load·v < 1.
        let v = reading / self.full;
        let linear = 1.0 - self.load * v;
        let root = math::sqrt(linear * linear + 4.0 * self.load * v * v);
        if linear >= 0.0 {
            2.0 * v / (linear + root)
        } else {
            (root - linear) / (2.0 * self.load * v)
        }
    }

    fn droop(&self, wiper: f64) -> f64 {
        1.0 + self.load * wiper * (1.0 - wiper)
    }
}

impl Shape for Loaded {
    fn value(&self, reading: f64) -> f64 {
        self.wiper(reading)
    }

    fn place(&self, wiper: f64, _around: f64) -> f64 {
        wiper / self.droop(wiper) * self.full
    }

    fn slope(&self, reading: f64) -> f64 {
        let wiper = self.wiper(reading);
        let droop = self.droop(wiper);
        droop * droop / (1.0 + self.load * wiper * wiper) / self.full
    }

    fn unit(&self) -> f64 {
        self.full / (1.0 + self.load)
    }
}

/// The largest reading of a converter.
pub(crate) fn most_of(bits: u8) -> f64 {
    f64::from((1u32 << bits.min(24)) - 1)
}

fn missing(given: &'static str, missing: &'static str) -> JointError {
    FeedbackError::Missing { given, missing }.into()
}

fn positive<T: Real>(what: &'static str, value: Option<T>) -> Result<(), JointError> {
    match value.map(T::to_wide) {
        Some(value) if !value.is_finite() => Err(JointError::NotFinite { what, value }),
        Some(value) if value <= 0.0 => Err(JointError::NotPositive { what, value }),
        _ => Ok(()),
    }
}

/// Checks readings against the converter's bits, and gives its largest reading.
fn converter<T: Real>(bits: Option<u8>, reading: Span<T>) -> Result<Option<f64>, FeedbackError> {
    let Some(bits) = bits else { return Ok(None) };
    if !FeedbackRecord::<T>::ADC_BITS.contains(&bits) {
        return Err(FeedbackError::BitsOutside { bits });
    }
    let most = most_of(bits);
    for value in reading.ends().map(T::to_wide) {
        if !(0.0..=most).contains(&value) {
            return Err(FeedbackError::ReadingOutside { value, most, bits });
        }
    }
    Ok(Some(most))
}

/// Refuses a sensor that jumps from its last reading to its first within the travel.
///
/// Readings between its two ends are the angle span, unless the joint takes the other way round, through the jump: then
/// they are what is left of the turn.
fn no_wrap<T: Real>(reading: Span<T>, angle: Span<T>, wrap_deg: f64, counts: f64) -> Result<(), FeedbackError> {
    let [lower, upper] = reading.ends().map(T::to_wide);
    let turned = (upper - lower) / counts * wrap_deg;
    let angle = angle.upper().to_wide() - angle.lower().to_wide();
    let other = wrap_deg - turned;
    let off = |way: f64| (way - angle).abs();
    let fits = |way| off(way) <= TURN_TOLERANCE * angle;
    if angle >= wrap_deg || fits(other) && !fits(turned) {
        return Err(FeedbackError::WrapInside {
            lower,
            upper,
            turned,
            angle,
        });
    }
    if fits(other) && off(other) < off(turned) {
        return Err(FeedbackError::WrapPossible {
            lower,
            upper,
            turned,
            other,
            angle,
        });
    }
    if !fits(turned) {
        return Err(FeedbackError::WrapInvalid {
            lower,
            upper,
            turned,
            angle,
        });
    }
    Ok(())
}

#[cfg(feature = "std")]
fn curved<T: Real>(
    knots: &[[T; 2]],
    reading: Span<T>,
    angle: Span<T>,
    direction: Direction,
) -> Result<Curve<T>, FeedbackError> {
    let curve = Curve::new(knots, SlopeRule::default()).map_err(FeedbackError::Curve)?;
    let [a0, a1] = angle.ends();
    let (first, last) = if direction.is_inverted() { (a1, a0) } else { (a0, a1) };
    for (which, found, wanted) in [
        ("first", knots.first(), [reading.lower(), first]),
        ("last", knots.last(), [reading.upper(), last]),
    ] {
        let found = found.copied().unwrap_or([T::nan(); 2]);
        if found != wanted {
            return Err(FeedbackError::CurveEnd {
                which,
                found: found.map(T::to_wide),
                wanted: wanted.map(T::to_wide),
            });
        }
    }
    Ok(curve)
}
