//! Straight joints in loops without branches, which compilers turn into vector instructions.
//!
//! The steps and so the bits are those of one command: a block whose commands are all finite goes through them with what
//! depends on the joint alone decided beforehand, and any other block is taken one command at a time.

#[cfg(feature = "std")]
use super::quotient::Quotient;
use super::{finite, same_length};
use crate::error::ConvertError;
use crate::joint::Joint;
use crate::map::Line;
use crate::real::Real;
use crate::span::Span;
use crate::transmission::Transmission;

/// How many commands are looked at before they are converted: enough for any vector, and still in the cache.
const BLOCK: usize = 64;
/// How many of them side by side.
const LANES: usize = 8;

/// What a straight joint does to a command, in registers.
#[derive(Clone, Copy)]
pub(super) struct Straight<T> {
    command: Span<T>,
    travel: Span<T>,
    drive: Line<T>,
    pulse: Line<T>,
}

impl<T: Real> Straight<T> {
    /// None for bent joints, and for those so wide that a width overflows.
    #[inline]
    pub(super) fn of(joint: &Joint<T>) -> Option<Self> {
        let Transmission::Linear(linear) = joint.transmission() else {
            return None;
        };
        let (drive, pulse) = (*linear.line(), *joint.servo().line());
        // Pulse widths are above zero, so none lies between their ends.
        let plain = !drive.is_halved() && !pulse.is_halved() && !pulse.is_zero_between();
        plain.then(|| Self {
            command: joint.command_range(),
            travel: joint.travel(),
            drive,
            pulse,
        })
    }

    /// Drive angles of commands.
    #[inline(always)]
    pub(super) fn drives(&self, work: impl Work<T>) -> Result<(), ConvertError> {
        if self.drive.is_zero_between() {
            work.through(|command| self.drive::<true>(command))
        } else {
            work.through(|command| self.drive::<false>(command))
        }
    }

    /// Pulse widths of commands.
    #[inline(always)]
    pub(super) fn pulses(&self, work: impl Work<T>) -> Result<(), ConvertError> {
        if self.drive.is_zero_between() {
            work.through(|command| self.pulse.apply_within::<false>(self.drive::<true>(command)))
        } else {
            work.through(|command| self.pulse.apply_within::<false>(self.drive::<false>(command)))
        }
    }

    /// [`Straight::drives`] with as few divisions as may be, for a caller that is compiled for fused products.
    #[cfg(feature = "std")]
    #[inline(always)]
    pub(super) fn drives_fused(&self, work: impl Work<T>) -> Result<(), ConvertError> {
        let Some(drive) = Quotient::of(self.drive) else {
            return self.drives(work);
        };
        if self.drive.is_zero_between() {
            work.through_fused(
                |command| self.drive_by(command, |x| drive.apply_within::<true, false>(x)),
                |command| self.drive::<true>(command),
            )
        } else {
            work.through_fused(
                |command| self.drive_by(command, |x| drive.apply_within::<false, false>(x)),
                |command| self.drive::<false>(command),
            )
        }
    }

    /// [`Straight::pulses`] likewise.
    #[cfg(feature = "std")]
    #[inline(always)]
    pub(super) fn pulses_fused(&self, work: impl Work<T>) -> Result<(), ConvertError> {
        let (Some(drive), Some(pulse)) = (Quotient::of(self.drive), Quotient::of(self.pulse)) else {
            return self.pulses(work);
        };
        if self.pulse.meets_last() {
            self.pulses_by(work, drive, |drive| pulse.apply_within::<false, true>(drive))
        } else {
            self.pulses_by(work, drive, |drive| pulse.apply_within::<false, false>(drive))
        }
    }

    #[cfg(feature = "std")]
    #[inline(always)]
    fn pulses_by(&self, work: impl Work<T>, drive: Quotient<T>, pulse: impl Fn(T) -> T) -> Result<(), ConvertError> {
        if self.drive.is_zero_between() {
            work.through_fused(
                |command| pulse(self.drive_by(command, |x| drive.apply_within::<true, false>(x))),
                |command| self.pulse.apply_within::<false>(self.drive::<true>(command)),
            )
        } else {
            work.through_fused(
                |command| pulse(self.drive_by(command, |x| drive.apply_within::<false, false>(x))),
                |command| self.pulse.apply_within::<false>(self.drive::<false>(command)),
            )
        }
    }

    #[inline(always)]
    fn drive<const ZERO_BETWEEN: bool>(&self, command: T) -> T {
        self.drive_by(command, |x| self.drive.apply_within::<ZERO_BETWEEN>(x))
    }

    #[inline(always)]
    fn drive_by(&self, command: T, line: impl Fn(T) -> T) -> T {
        self.travel.clamp(line(self.command.clamp(command)))
    }
}

/// Numbers to be converted, and the places for the results.
pub(super) trait Work<T>: Sized {
    /// Converts all, up to the first that is not finite: `each` in blocks of which all are finite, `alone` one by one elsewhere, with the
    /// same bits.
    fn through_blocks<const FUSED: bool>(
        self,
        each: impl Fn(T) -> T,
        alone: impl Fn(T) -> T,
    ) -> Result<(), ConvertError>;

    /// Converts all, up to the first that is not finite.
    #[inline(always)]
    fn through(self, convert: impl Fn(T) -> T + Copy) -> Result<(), ConvertError> {
        self.through_blocks::<false>(convert, convert)
    }

    /// The same, compiled for fused products; `alone` does without, since it is compiled apart.
    #[cfg(feature = "std")]
    #[inline(always)]
    fn through_fused(self, each: impl Fn(T) -> T, alone: impl Fn(T) -> T) -> Result<(), ConvertError> {
        self.through_blocks::<true>(each, alone)
    }
}

/// From one slice into another.
pub(super) struct FromTo<'a, T>(pub(super) &'a [T], pub(super) &'a mut [T]);
/// Each number in its own place.
pub(super) struct InPlace<'a, T>(pub(super) &'a mut [T]);

impl<T: Real> Work<T> for FromTo<'_, T> {
    #[inline(always)]
    fn through_blocks<const FUSED: bool>(
        self,
        each: impl Fn(T) -> T,
        alone: impl Fn(T) -> T,
    ) -> Result<(), ConvertError> {
        let Self(commands, out) = self;
        same_length(commands, out)?;
        let (blocks, rest) = commands.as_chunks::<BLOCK>();
        let (places, last_places) = out.as_chunks_mut::<BLOCK>();
        for (index, (block, place)) in blocks.iter().zip(places).enumerate() {
            if block_finite::<T, FUSED>(block) {
                for (&command, place) in block.iter().zip(place) {
                    *place = each(command);
                }
            } else {
                one_by_one(block, place, index * BLOCK, &alone)?;
            }
        }
        if !block_finite::<T, FUSED>(rest) {
            return one_by_one(rest, last_places, blocks.len() * BLOCK, &alone);
        }
        for (&command, place) in rest.iter().zip(last_places) {
            *place = each(command);
        }
        Ok(())
    }
}

impl<T: Real> Work<T> for InPlace<'_, T> {
    #[inline(always)]
    fn through_blocks<const FUSED: bool>(
        self,
        each: impl Fn(T) -> T,
        alone: impl Fn(T) -> T,
    ) -> Result<(), ConvertError> {
        let (blocks, rest) = self.0.as_chunks_mut::<BLOCK>();
        let first_of_rest = blocks.len() * BLOCK;
        for (index, block) in blocks.iter_mut().enumerate() {
            if block_finite::<T, FUSED>(block) {
                for place in block {
                    *place = each(*place);
                }
            } else {
                in_place(block, index * BLOCK, &alone)?;
            }
        }
        if !block_finite::<T, FUSED>(rest) {
            return in_place(rest, first_of_rest, &alone);
        }
        for place in rest {
            *place = each(*place);
        }
        Ok(())
    }
}

/// Without stopping at the first that is not: that would be a branch for each. 0 times a number is 0 or, for NaN and
/// infinities, NaN, which stays in a sum; lane by lane, since a sum of floats may not be reordered. `FUSED` for a caller that is
/// compiled for fused products. No closure says how: one that is not inlined there would call a function for each number.
#[inline(always)]
fn block_finite<T: Real, const FUSED: bool>(commands: &[T]) -> bool {
    let mut sums = [T::zero(); LANES];
    let (lanes, rest) = commands.as_chunks::<LANES>();
    for lane in lanes {
        for (sum, &command) in sums.iter_mut().zip(lane) {
            *sum = with_zero_times::<T, FUSED>(*sum, command);
        }
    }
    sums.iter().all(|&sum| sum == T::zero()) && rest.iter().all(|command| command.is_finite())
}

#[inline(always)]
fn with_zero_times<T: Real, const FUSED: bool>(sum: T, command: T) -> T {
    #[cfg(feature = "std")]
    if FUSED {
        return command.fused(T::zero(), sum);
    }
    sum + command * T::zero()
}

#[inline(never)]
fn one_by_one<T: Real>(
    commands: &[T],
    out: &mut [T],
    first: usize,
    convert: &impl Fn(T) -> T,
) -> Result<(), ConvertError> {
    for (index, (&command, place)) in commands.iter().zip(out).enumerate() {
        *place = convert(finite(first + index, command)?);
    }
    Ok(())
}

#[inline(never)]
fn in_place<T: Real>(values: &mut [T], first: usize, convert: &impl Fn(T) -> T) -> Result<(), ConvertError> {
    for (index, place) in values.iter_mut().enumerate() {
        *place = convert(finite(first + index, *place)?);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ServoRecord;
    use crate::record::wing as record;
    use proptest::prelude::*;
    use std::vec::Vec;

    macro_rules! same_bits {
        ($name:ident, $t:ty) => {
            proptest! {
                #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(400) })]

                // Parts are drawn as f64: proptest's own draws of f32 fail an assertion once in some ten million.
                /// Drive ranges on either side of 0 and over it; commands at the ends, their neighbours, within, and far outside.
                #[test]
                fn $name(c0 in -1e3..1e3 as $t, cw in 1e-3..1e4 as $t, d0 in -90.0..80.0 as $t, dw in 1.0..100.0 as $t,
                         t0 in -90.0..60.0 as $t, tw in 20.0..180.0 as $t, inverted: bool, wide: bool,
                         parts in prop::collection::vec(-0.2..1.2f64, 0..150)) {
                    let mut record = record::<$t>();
                    record.command = if wide { [<$t>::MIN, <$t>::MAX] } else { [c0, c0 + cw] };
                    record.rest = record.command[0];
                    record.drive = [d0, d0 + dw];
                    record.travel = Some([t0, t0 + tw]);
                    record.inverted = inverted;
                    record.servo = ServoRecord { angle: [-90.0, 180.0], pulse_us: [500.0, 2500.0] };
                    let Ok(joint) = Joint::new(record) else { return Ok(()) };
                    prop_assert_eq!(Straight::of(&joint).is_none(), wide);

                    let mut commands: Vec<$t> = parts.into_iter().map(|part| c0 + part as $t * cw).collect();
                    for end in joint.command_range().ends() {
                        commands.extend([end.next_down(), end, end.next_up()].into_iter().filter(|c| c.is_finite()));
                    }
                    commands.extend([<$t>::MIN, -0.0, 0.0, <$t>::MIN_POSITIVE, <$t>::MAX]);
                    let (mut drives, mut pulses) = (commands.clone(), commands.clone());
                    joint.drive_batch(&commands, &mut drives).unwrap();
                    joint.pulse_us_batch(&commands, &mut pulses).unwrap();
                    for ((&command, drive), pulse_us) in commands.iter().zip(&drives).zip(&pulses) {
                        prop_assert_eq!(joint.drive(command).unwrap().value.to_bits(), drive.to_bits(), "{} {:?}", command, joint);
                        prop_assert_eq!(joint.pulse_us(command).unwrap().value.to_bits(), pulse_us.to_bits(), "{} {:?}", command, joint);
                    }
                    // With fused products: the same bits, whatever this was compiled for.
                    let mut fused = commands.clone();
                    joint.drive_batch_fused(&commands, &mut fused).unwrap();
                    prop_assert!(fused.iter().zip(&drives).all(|(a, b)| a.to_bits() == b.to_bits()));
                    joint.pulse_us_batch_fused(&commands, &mut fused).unwrap();
                    prop_assert!(fused.iter().zip(&pulses).all(|(a, b)| a.to_bits() == b.to_bits()));
                    fused.clone_from(&commands);
                    joint.drive_in_place_fused(&mut fused).unwrap();
                    prop_assert_eq!(&fused, &drives);
                    fused.clone_from(&commands);
                    joint.pulse_us_in_place_fused(&mut fused).unwrap();
                    prop_assert_eq!(&fused, &pulses);
                    let mut places = commands.clone();
                    joint.drive_in_place(&mut places).unwrap();
                    prop_assert_eq!(&places, &drives);
                    joint.pulse_us_in_place(&mut commands).unwrap();
                    prop_assert_eq!(&commands, &pulses);
                }
            }
        };
    }
    same_bits!(batches_have_the_bits_of_single_calls_in_f64, f64);
    same_bits!(batches_have_the_bits_of_single_calls_in_f32, f32);

    /// Where both ranges begin at 0, nothing hides the quotients of subnormal numbers, of which fused products would get some wrong.
    #[test]
    fn fused_products_have_the_bits_of_single_calls_for_the_least_numbers_too() {
        let mut from_zero = record::<f64>();
        (from_zero.command, from_zero.drive, from_zero.rest) = ([0.0, 100.0], [0.0, 180.0], 0.0);
        let joint = Joint::new(from_zero).unwrap();
        let commands: Vec<f64> = (0..2000).map(f64::from_bits).collect();
        let mut drives = std::vec![0.0; commands.len()];
        joint.drive_batch_fused(&commands, &mut drives).unwrap();
        for (command, drive) in commands.into_iter().zip(drives) {
            assert_eq!(
                joint.drive(command).unwrap().value.to_bits(),
                drive.to_bits(),
                "{command:e}"
            );
        }
    }

    #[test]
    fn what_is_not_finite_ends_a_batch_wherever_it_stands() {
        let joint = Joint::new(record::<f64>()).unwrap();
        for bad in [0, 1, 7, 8, 62, 63, 64, 65, 127, 128, 150, 199] {
            for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
                let mut commands = [10.0; 200];
                commands[bad] = value;
                let mut out = [7.0; 200];
                let is_bad = |error| matches!(error, ConvertError::NotFiniteAt { index, .. } if index == bad);
                assert!(is_bad(joint.drive_batch(&commands, &mut out).unwrap_err()));
                assert!(out[..bad].iter().all(|&drive| drive == 79.5) && out[bad..].iter().all(|&drive| drive == 7.0));
                assert!(is_bad(joint.pulse_us_batch(&commands, &mut out).unwrap_err()));
                assert!(out[..bad].iter().all(|&us| us > 900.0) && out[bad..].iter().all(|&us| us == 7.0));
                assert!(is_bad(joint.drive_batch_fused(&commands, &mut out).unwrap_err()));
                assert!(out[..bad].iter().all(|&drive| drive == 79.5) && out[bad..].iter().all(|&drive| drive == 7.0));
                let mut fused = commands;
                assert!(is_bad(joint.drive_in_place_fused(&mut fused).unwrap_err()));
                assert!(fused[..bad].iter().all(|&drive| drive == 79.5) && fused[bad].to_bits() == value.to_bits());
                assert!(is_bad(joint.drive_in_place(&mut commands).unwrap_err()));
                assert!(commands[..bad].iter().all(|&drive| drive == 79.5));
                assert!(commands[bad + 1..].iter().all(|&command| command == 10.0));
                assert_eq!(commands[bad].to_bits(), value.to_bits());
            }
        }
        // Two infinities of opposite sign do not make up for each other.
        let mut commands = [10.0; 64];
        (commands[3], commands[3 + LANES]) = (f64::INFINITY, f64::NEG_INFINITY);
        assert!(joint.drive_in_place(&mut commands).is_err());
    }
}
