//! The servo's straight line from drive angle to pulse width, and the timer's grid of counts.

use crate::error::{JointError, Refusal};
use crate::map::{Direction, Line, LinearMap};
use crate::real::{Real, nearest_count};
use crate::span::Span;

/// A hobby servo: which pulse width asks for which drive angle.
///
/// Linear and exact at both ends. Units: deg of the servo's own travel, microseconds.
///
/// ```
/// use elbowroom::Servo;
/// let servo = Servo::new([0.0, 180.0], [500.0, 2500.0])?;
/// assert_eq!(servo.pulse_us(79.5), 1383.3333333333333);
/// assert_eq!(servo.angle(2500.0), 180.0);
/// # Ok::<(), elbowroom::JointError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Servo<T> {
    to_pulse: LinearMap<T>,
    to_angle: LinearMap<T>,
}

impl<T: Real> Servo<T> {
    /// `angle` in deg and `pulse_us` in microseconds, each lower then upper.
    ///
    /// # Errors
    /// Ends that are not a valid [`Span`]; a lower pulse of zero or less.
    pub fn new(angle: [T; 2], pulse_us: [T; 2]) -> Result<Self, JointError> {
        Self::check(angle, pulse_us)
    }

    #[inline]
    pub(crate) fn check<E: Refusal>(angle: [T; 2], pulse_us: [T; 2]) -> Result<Self, E> {
        let angle = Span::check::<E>("servo.angle", angle)?;
        let pulse_us = Span::check::<E>("servo.pulse_us", pulse_us)?;
        if pulse_us.lower() <= T::zero() {
            return Err(E::of(JointError::NotPositive {
                what: "servo.pulse_us lower",
                value: pulse_us.lower().to_wide(),
            }));
        }
        let to_pulse = LinearMap::new(angle, pulse_us, Direction::Direct);
        Ok(Self {
            to_pulse,
            to_angle: to_pulse.reversed(),
        })
    }

    /// The angle range, deg.
    pub fn angle_range(&self) -> Span<T> {
        self.to_pulse.from()
    }

    /// The pulse widths at the ends of the angle range, microseconds.
    pub fn pulse_range_us(&self) -> Span<T> {
        self.to_pulse.to()
    }

    /// From drive angle to pulse width.
    #[inline]
    pub(crate) fn line(&self) -> &Line<T> {
        self.to_pulse.line()
    }

    /// The pulse width, microseconds, that asks for a drive angle. Not clamped; NaN gives NaN.
    #[inline]
    pub fn pulse_us(&self, drive: T) -> T {
        self.to_pulse.apply(drive)
    }

    /// The same of a drive angle within the servo's range.
    #[inline]
    pub(crate) fn pulse_us_inside(&self, drive: T) -> T {
        self.to_pulse.line().apply_inside(drive)
    }

    /// The drive angle, deg, that a pulse width asks for. Not clamped; NaN gives NaN.
    #[inline]
    pub fn angle(&self, pulse_us: T) -> T {
        self.to_angle.apply(pulse_us)
    }

    /// Microseconds per degree.
    pub fn us_per_deg(&self) -> T {
        self.to_pulse.slope()
    }

    /// Whether the pulse widths must be milliseconds: no servo takes pulses as short as a thousandth of a frame of 20 ms.
    pub(crate) fn is_in_milliseconds(&self) -> bool {
        const LONGEST_US: u32 = 20;
        // In the servo's own numbers: an ATmega has no `f64`.
        self.pulse_range_us().upper() < T::from_count(LONGEST_US)
    }
}

/// A timer that makes the pulses: so many counts in each frame.
///
/// `counts = pulse_us * frame_hz * counts_per_frame / 10^6`, to the nearest integer, halves away from zero.
///
/// ```
/// use elbowroom::Timer;
/// let timer = Timer::new(50.0, 4096)?;
/// assert_eq!(timer.nearest_count(1500.0), 307);
/// assert_eq!(timer.pulse_us(307), 1499.0234375);
/// # Ok::<(), elbowroom::JointError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Timer<T> {
    frame_hz: T,
    counts_per_frame: u32,
    counts_per_s: T,
}

impl<T: Real> Timer<T> {
    /// The most counts of a frame: 2^24, up to which `f32` holds every integer exactly.
    pub const MOST_COUNTS: u32 = 1 << 24;

    /// `frame_hz`: frames per second; `counts_per_frame`: timer counts of one whole frame.
    ///
    /// # Errors
    /// A frame rate that is not finite and above zero, or so far off that counts per second are not; counts of 0 or
    /// above [`Timer::MOST_COUNTS`].
    pub fn new(frame_hz: T, counts_per_frame: u32) -> Result<Self, JointError> {
        Self::check(frame_hz, counts_per_frame)
    }

    #[inline]
    pub(crate) fn check<E: Refusal>(frame_hz: T, counts_per_frame: u32) -> Result<Self, E> {
        let value = frame_hz.to_wide();
        if !frame_hz.is_finite() {
            return Err(E::of(JointError::NotFinite {
                what: "timer.frame_hz",
                value,
            }));
        }
        if frame_hz <= T::zero() {
            return Err(E::of(JointError::NotPositive {
                what: "timer.frame_hz",
                value,
            }));
        }
        if counts_per_frame == 0 || counts_per_frame > Self::MOST_COUNTS {
            return Err(E::of(JointError::CountsOutside {
                counts_per_frame,
                most: Self::MOST_COUNTS,
            }));
        }
        let timer = Self::of_checked(frame_hz, counts_per_frame);
        for derived in [timer.counts_per_s, timer.frame_us(), timer.pulse_us(1)] {
            if !derived.is_normal() {
                return Err(E::of(JointError::FrameRateExtreme { frame_hz: value }));
            }
        }
        Ok(timer)
    }

    /// Numbers that were checked when they were written down. With others every call still gives some number.
    pub(crate) fn of_checked(frame_hz: T, counts_per_frame: u32) -> Self {
        Self {
            frame_hz,
            counts_per_frame,
            counts_per_s: frame_hz * T::from_count(counts_per_frame),
        }
    }

    /// Frames per second.
    pub fn frame_hz(&self) -> T {
        self.frame_hz
    }

    /// Counts of one whole frame.
    pub fn counts_per_frame(&self) -> u32 {
        self.counts_per_frame
    }

    /// Length of one frame, microseconds.
    pub fn frame_us(&self) -> T {
        T::MICROS_PER_S / self.frame_hz
    }

    /// The count nearest to a pulse width in microseconds, halves away from zero; 0 for NaN and for all below zero.
    #[inline]
    pub fn nearest_count(&self, pulse_us: T) -> u32 {
        nearest_count(self.unrounded(pulse_us))
    }

    /// As [`Timer::nearest_count`], for processors without floats.
    #[inline]
    pub(crate) fn nearest_count_by_bits(&self, pulse_us: T) -> u32 {
        self.unrounded(pulse_us).nearest_by_bits()
    }

    /// Counts of a pulse width before rounding.
    #[inline]
    pub(crate) fn unrounded(&self, pulse_us: T) -> T {
        pulse_us * self.counts_per_s / T::MICROS_PER_S
    }

    /// The pulse width of a count, microseconds.
    #[inline]
    pub fn pulse_us(&self, count: u32) -> T {
        T::from_count(count) * T::MICROS_PER_S / self.counts_per_s
    }
}

/// The counts whose drive angle lies inside a travel: lowest and highest.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct CountSpan {
    pub(crate) lowest: u32,
    pub(crate) highest: u32,
}

impl CountSpan {
    /// Searches the counts that command an angle inside `travel`; both edges by bisection, since angle rises with count.
    pub(crate) fn inside<T: Real>(travel: Span<T>, servo: &Servo<T>, timer: &Timer<T>) -> Option<Self> {
        let angle = |count| servo.angle(timer.pulse_us(count));
        let lowest = first_count(timer.counts_per_frame(), |count| angle(count) >= travel.lower());
        let beyond = first_count(timer.counts_per_frame(), |count| angle(count) > travel.upper());
        (lowest < beyond).then(|| Self {
            lowest,
            highest: beyond - 1,
        })
    }

    #[inline]
    pub(crate) fn hold(&self, count: u32) -> u32 {
        if count < self.lowest {
            self.lowest
        } else if count > self.highest {
            self.highest
        } else {
            count
        }
    }
}

/// The first count of 0 to `counts` for which a rising condition holds, or `counts + 1`.
fn first_count(counts: u32, holds: impl Fn(u32) -> bool) -> u32 {
    let (mut from, mut to) = (0, counts + 1);
    // Halves at most 2^24 + 2 candidates: 25 rounds always suffice.
    for _ in 0..25 {
        if from == to {
            break;
        }
        let middle = from + (to - from) / 2;
        if holds(middle) {
            to = middle;
        } else {
            from = middle + 1;
        }
    }
    to
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn halves_go_away_from_zero_and_just_below_does_not() {
        let timer = Timer::new(50.0, 4096).unwrap();
        let half = 307.5 * 1e6 / 204_800.0;
        assert_eq!(timer.nearest_count(half), 308);
        assert_eq!(nearest_count(0.49999999999999994_f64), 0);
        assert_eq!(nearest_count(0.5_f64), 1);
        assert_eq!(timer.nearest_count(f64::NAN), 0);
        assert_eq!(timer.nearest_count(-3.0), 0);
    }

    #[test]
    fn a_degree_is_worth_its_share_of_the_pulse_range() {
        assert_eq!(Servo::new([-90.0, 90.0], [600.0, 2400.0]).unwrap().us_per_deg(), 10.0);
    }

    #[test]
    fn refuses_unfit_timers() {
        assert!(Timer::new(f64::NAN, 4096).is_err());
        assert!(Timer::new(0.0, 4096).is_err());
        assert!(Timer::new(50.0, 0).is_err());
        assert!(Timer::new(50.0, (1 << 24) + 1).is_err());
        assert!(Timer::new(1e-310, 1).is_err());
        assert!(Timer::new(f32::MAX, 1 << 24).is_err());
    }

    #[test]
    fn bisection_agrees_with_a_walk() {
        for counts in [1, 2, 3, 4, 7, 8, 100] {
            for edge in 0..=counts + 1 {
                assert_eq!(first_count(counts, |c| c >= edge), edge);
            }
        }
        let most = Timer::<f64>::MOST_COUNTS;
        for edge in [0, 1, most / 3, most, most + 1] {
            assert_eq!(first_count(most, |c| c >= edge), edge);
        }
    }

    #[test]
    fn every_count_kept_is_inside_and_none_more() {
        let servo = Servo::new([0.0, 180.0], [500.0, 2500.0]).unwrap();
        let timer = Timer::new(50.0, 4096).unwrap();
        let travel = Span::new("travel", [7.3, 78.0]).unwrap();
        let kept = CountSpan::inside(travel, &servo, &timer).unwrap();
        for count in 0..=4096 {
            let inside = travel.contains(servo.angle(timer.pulse_us(count)));
            assert_eq!(inside, (kept.lowest..=kept.highest).contains(&count), "{count}");
        }
        let sliver = Span::new("travel", [42.5, 42.6]).unwrap();
        assert_eq!(CountSpan::inside(sliver, &servo, &timer), None);
    }
}
