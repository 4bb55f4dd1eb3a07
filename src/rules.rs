//! The rules that make a record a joint.

use crate::error::{JointError, Refusal};
use crate::map::Direction;
use crate::pulse::{CountSpan, Servo, Timer};
use crate::real::Real;
use crate::record::JointRecord;
use crate::span::Span;

/// What a record comes to when it keeps every rule.
pub(crate) struct Parts<T> {
    pub(crate) command: Span<T>,
    pub(crate) drive: Span<T>,
    pub(crate) direction: Direction,
    pub(crate) travel: Span<T>,
    pub(crate) rest: T,
    pub(crate) max_rate_per_s: Option<T>,
    pub(crate) servo: Servo<T>,
    pub(crate) timer: Timer<T>,
    pub(crate) counts: CountSpan,
}

impl<T: Real> Parts<T> {
    /// Applies the rules one after the other; the first that is broken is reported.
    #[inline]
    pub(crate) fn check<E: Refusal>(record: &JointRecord<T>) -> Result<Self, E> {
        let command = Span::check::<E>("command", record.command)?;
        let drive = Span::check::<E>("drive", record.drive)?;
        let direction = Direction::from_inverted(record.inverted);
        let servo = Servo::check::<E>(record.servo.angle, record.servo.pulse_us)?;
        let timer = Timer::check::<E>(record.timer.frame_hz, record.timer.counts_per_frame)?;
        let travel = travel_of::<T, E>(record, drive, &servo)?;
        let rest = rest_of::<T, E>(record.rest, command)?;
        let max_rate_per_s = match record.max_rate_per_s {
            Some(rate) => Some(rate_of::<T, E>(rate)?),
            None => None,
        };
        let longest_us = servo.pulse_range_us().upper();
        if longest_us > timer.frame_us() {
            return Err(E::of(JointError::PulseBeyondFrame {
                pulse_us: longest_us.to_wide(),
                frame_us: timer.frame_us().to_wide(),
            }));
        }
        let Some(counts) = CountSpan::inside(travel, &servo, &timer) else {
            if servo.is_in_milliseconds() {
                let [shortest, longest] = servo.pulse_range_us().ends();
                return Err(E::of(JointError::PulseInMilliseconds {
                    pulse_us: [shortest.to_wide(), longest.to_wide()],
                }));
            }
            return Err(E::of(JointError::NoCountInTravel {
                lower: travel.lower().to_wide(),
                upper: travel.upper().to_wide(),
                step: (timer.pulse_us(1) / servo.us_per_deg()).to_wide(),
            }));
        };
        Ok(Self {
            command,
            drive,
            direction,
            travel,
            rest,
            max_rate_per_s,
            servo,
            timer,
            counts,
        })
    }
}

/// The travel of a record, or else its drive range, which then must lie inside the servo's in the travel's place.
#[inline]
fn travel_of<T: Real, E: Refusal>(record: &JointRecord<T>, drive: Span<T>, servo: &Servo<T>) -> Result<Span<T>, E> {
    // The ends are chosen before anything is computed from them. Where two computed spans met here, a compiler kept one
    // end of the chosen span and lost the other (DEVELOPERS.md).
    let (ends, what, each) = match record.travel {
        Some(ends) => (ends, "travel", ["travel lower", "travel upper"]),
        None => (record.drive, "drive", ["drive lower", "drive upper"]),
    };
    let travel = inside_servo::<T, E>(Span::check::<E>(what, ends)?, each, servo)?;
    match travel.intersection(&drive) {
        Some(_) => Ok(travel),
        None => Err(E::of(JointError::TravelDisjoint {
            travel_lower: travel.lower().to_wide(),
            travel_upper: travel.upper().to_wide(),
            drive_lower: drive.lower().to_wide(),
            drive_upper: drive.upper().to_wide(),
        })),
    }
}

#[inline]
fn inside_servo<T: Real, E: Refusal>(
    span: Span<T>,
    [lower, upper]: [&'static str; 2],
    servo: &Servo<T>,
) -> Result<Span<T>, E> {
    let range = servo.angle_range();
    let outside = |what, value: T| {
        E::of(JointError::OutsideServo {
            what,
            value: value.to_wide(),
            lower: range.lower().to_wide(),
            upper: range.upper().to_wide(),
        })
    };
    // One after the other, not in a loop over both: see `Refusal`.
    if !range.contains(span.lower()) {
        return Err(outside(lower, span.lower()));
    }
    if !range.contains(span.upper()) {
        return Err(outside(upper, span.upper()));
    }
    Ok(span)
}

#[inline]
fn rest_of<T: Real, E: Refusal>(rest: T, command: Span<T>) -> Result<T, E> {
    if !rest.is_finite() {
        return Err(E::of(JointError::NotFinite {
            what: "rest",
            value: rest.to_wide(),
        }));
    }
    if !command.contains(rest) {
        return Err(E::of(JointError::RestOutside {
            rest: rest.to_wide(),
            lower: command.lower().to_wide(),
            upper: command.upper().to_wide(),
        }));
    }
    Ok(rest + T::zero())
}

#[inline]
fn rate_of<T: Real, E: Refusal>(rate: T) -> Result<T, E> {
    let what = "max_rate_per_s";
    if !rate.is_finite() {
        let value = rate.to_wide();
        Err(E::of(JointError::NotFinite { what, value }))
    } else if rate <= T::zero() {
        let value = rate.to_wide();
        Err(E::of(JointError::NotPositive { what, value }))
    } else {
        Ok(rate)
    }
}
