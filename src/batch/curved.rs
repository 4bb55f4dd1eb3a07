//! Joints with a curve in blocks, so that the curve is looked up once for many commands that lie close together.
//!
//! The steps and so the bits are those of one command.

use super::{finite, same_length};
use crate::curve::Curve;
use crate::curve::many::{BLOCK, Held};
use crate::error::ConvertError;
use crate::joint::Joint;
use crate::real::Real;
use crate::span::Span;
use crate::transmission::Transmission;

/// What a curved joint does to a command.
#[derive(Clone, Copy)]
pub(super) struct Curved<'a, T> {
    command: Span<T>,
    travel: Span<T>,
    curve: &'a Curve<T>,
}

impl<'a, T: Real> Curved<'a, T> {
    /// None for all other joints.
    #[inline]
    pub(super) fn of(joint: &'a Joint<T>) -> Option<Self> {
        match joint.transmission() {
            Transmission::Curve(curved) => Some(Self {
                command: joint.command_range(),
                travel: joint.travel(),
                curve: curved.curve(),
            }),
            _ => None,
        }
    }

    /// What `finish` makes of the drive angles of commands, up to the first that is not finite.
    #[inline(always)]
    pub(super) fn convert<U: Copy, const INLINED: bool>(
        &self,
        commands: &[T],
        out: &mut [U],
        finish: impl Fn(T) -> U,
    ) -> Result<(), ConvertError> {
        same_length(commands, out)?;
        let ((blocks, rest), (places, last_places)) = (commands.as_chunks(), out.as_chunks_mut());
        for (index, (block, place)) in blocks.iter().zip(places).enumerate() {
            if !self.block::<U, INLINED>(block, place, &finish) {
                return self.up_to_refused(block, place, index * BLOCK, &finish);
            }
        }
        let Some((block, mut place)) = filled(rest).zip(last_places.first().map(|&place| [place; BLOCK])) else {
            return Ok(());
        };
        if !self.block::<U, INLINED>(&block, &mut place, &finish) {
            return self.up_to_refused(rest, last_places, blocks.len() * BLOCK, &finish);
        }
        for (to, from) in last_places.iter_mut().zip(place) {
            *to = from;
        }
        Ok(())
    }

    /// The same in place.
    #[inline(always)]
    pub(super) fn convert_in_place<const INLINED: bool>(
        &self,
        values: &mut [T],
        finish: impl Fn(T) -> T,
    ) -> Result<(), ConvertError> {
        for (index, values) in values.chunks_mut(BLOCK).enumerate() {
            let Some(block) = filled(values) else {
                break;
            };
            let mut drives = block;
            if !self.block::<T, INLINED>(&block, &mut drives, &finish) {
                let given = values.len();
                let commands = block.get(..given).unwrap_or_default();
                return self.up_to_refused(commands, values, index * BLOCK, &finish);
            }
            for (to, from) in values.iter_mut().zip(drives) {
                *to = from;
            }
        }
        Ok(())
    }

    /// A block, if all of its commands are finite; else it writes nothing. In one copy for all kinds of results, or in one for a caller
    /// that is compiled for wider vectors.
    #[inline(always)]
    fn block<U, const INLINED: bool>(
        &self,
        commands: &[T; BLOCK],
        out: &mut [U; BLOCK],
        finish: impl Fn(T) -> U,
    ) -> bool {
        if INLINED {
            return self.drives(commands, out, finish);
        }
        let mut drives = [T::zero(); BLOCK];
        let done = self.drives_apart(commands, &mut drives);
        if done {
            for (place, drive) in out.iter_mut().zip(drives) {
                *place = finish(drive);
            }
        }
        done
    }

    #[inline(never)]
    fn drives_apart(&self, commands: &[T; BLOCK], drives: &mut [T; BLOCK]) -> bool {
        self.drives(commands, drives, |drive| drive)
    }

    #[inline(always)]
    fn drives<U>(&self, commands: &[T; BLOCK], out: &mut [U; BLOCK], finish: impl Fn(T) -> U) -> bool {
        // The curve goes from one end of the command range to the other.
        let held = Held::new(commands, |command| self.command.clamp(command));
        if held.are_finite {
            let finish = |drive| finish(self.travel.clamp(drive));
            self.curve.at_block(&held.places, out, finish);
        }
        held.are_finite
    }

    /// One by one, up to the first that is not finite; `first` is the index of the first of these commands within the whole batch.
    #[inline(never)]
    fn up_to_refused<U>(
        &self,
        commands: &[T],
        out: &mut [U],
        first: usize,
        finish: impl Fn(T) -> U,
    ) -> Result<(), ConvertError> {
        for (index, (&command, place)) in commands.iter().zip(out).enumerate() {
            let held = self.command.clamp(finite(first + index, command)?);
            *place = finish(self.travel.clamp(self.curve.at(held)));
        }
        Ok(())
    }
}

/// A block that begins with these numbers and goes on with the first of them; None without any.
#[inline(always)]
fn filled<T: Copy>(numbers: &[T]) -> Option<[T; BLOCK]> {
    let mut block = [*numbers.first()?; BLOCK];
    for (place, &number) in block.iter_mut().zip(numbers) {
        *place = number;
    }
    Some(block)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::curve::SlopeRule;
    use crate::record::wing as record;
    use crate::transmission::TransmissionRecord;
    use proptest::prelude::*;
    use std::vec::Vec;

    macro_rules! same_bits {
        ($name:ident, $t:ty) => {
            proptest! {
                #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(300) })]

                /// Series that creep along the curve and jump, from before it to beyond it, through one or several
                /// stretches, with something that is not finite anywhere.
                #[test]
                fn $name(rises in prop::collection::vec(0.02..1.0 as $t, 2..12), inverted: bool,
                         travel in [0.0..0.3 as $t, 0.7..1.0 as $t], parts in prop::collection::vec(-0.1..1.1 as $t, 1..9),
                         length in 0usize..1300, bad in 0usize..2600, what in 0usize..3) {
                    let mut record = record::<$t>();
                    let total: $t = rises.iter().sum();
                    let [first, last] = [37.0, 122.0];
                    let mut knots = std::vec![[-40.0, first]];
                    let mut sum = 0.0;
                    for (i, rise) in rises.iter().enumerate() {
                        sum += rise;
                        let is_last = i + 1 == rises.len();
                        let x = if is_last { 60.0 } else { 100.0 * (i + 1) as $t / rises.len() as $t - 40.0 };
                        knots.push([x, if is_last { last } else { first + (last - first) * sum / total }]);
                    }
                    if inverted {
                        for knot in &mut knots {
                            knot[1] = first + last - knot[1];
                        }
                    }
                    record.inverted = inverted;
                    record.travel = Some(travel.map(|part| first + part * (last - first)));
                    record.transmission = TransmissionRecord::Curve { knots, rule: SlopeRule::Parabola };
                    let joint = Joint::new(record).unwrap();
                    prop_assert!(Curved::of(&joint).is_some());

                    let mut commands: Vec<$t> = (0..length)
                        .map(|i| 100.0 * parts[i / 150 % parts.len()] - 40.0 + (i % 150) as $t * 0.03)
                        .collect();
                    let taken = if bad < length {
                        commands[bad] = [<$t>::NAN, <$t>::INFINITY, <$t>::NEG_INFINITY][what];
                        bad
                    } else {
                        length
                    };
                    let index_of = |result: Result<(), ConvertError>| match result {
                        Ok(()) => length,
                        Err(ConvertError::NotFiniteAt { index, .. }) => index,
                        Err(error) => panic!("{error}"),
                    };
                    let (mut drives, mut pulses) = (std::vec![-7.0; length], std::vec![-7.0; length]);
                    let (mut counts, mut wide) = (std::vec![7u16; length], std::vec![7i64; length]);
                    prop_assert_eq!(index_of(joint.drive_batch(&commands, &mut drives)), taken);
                    prop_assert_eq!(index_of(joint.pulse_us_batch(&commands, &mut pulses)), taken);
                    prop_assert_eq!(index_of(joint.counts_batch_u16(&commands, &mut counts)), taken);
                    prop_assert_eq!(index_of(joint.counts_batch_as(&commands, &mut wide)), taken);
                    for (i, &command) in commands.iter().enumerate() {
                        if i < taken {
                            prop_assert_eq!(drives[i].to_bits(), joint.drive(command).unwrap().value.to_bits());
                            prop_assert_eq!(pulses[i].to_bits(), joint.pulse_us(command).unwrap().value.to_bits());
                            prop_assert_eq!(u32::from(counts[i]), joint.counts(command).unwrap().value);
                        } else {
                            prop_assert!(drives[i] == -7.0 && pulses[i] == -7.0 && counts[i] == 7 && wide[i] == 7);
                        }
                        prop_assert_eq!(wide[i], i64::from(counts[i]));
                    }
                    let mut fused = std::vec![-7.0; length];
                    prop_assert_eq!(index_of(joint.drive_batch_fused(&commands, &mut fused)), taken);
                    prop_assert_eq!(&fused, &drives);
                    prop_assert_eq!(index_of(joint.pulse_us_batch_fused(&commands, &mut fused)), taken);
                    prop_assert_eq!(&fused, &pulses);
                    let mut in_place = commands.clone();
                    prop_assert_eq!(index_of(joint.drive_in_place(&mut in_place)), taken);
                    prop_assert_eq!(&in_place[..taken], &drives[..taken]);
                    prop_assert!(in_place[taken..].iter().zip(&commands[taken..]).all(|(a, b)| a.to_bits() == b.to_bits()));
                    prop_assert_eq!(index_of(joint.pulse_us_in_place(&mut commands)), taken);
                    prop_assert_eq!(&commands[..taken], &pulses[..taken]);
                }
            }
        };
    }
    same_bits!(a_curved_f64_batch_gives_the_bits_of_single_commands, f64);
    same_bits!(a_curved_f32_batch_gives_the_bits_of_single_commands, f32);

    #[test]
    fn lengths_that_differ_are_refused() {
        let mut record = record::<f64>();
        record.transmission = TransmissionRecord::Curve {
            knots: std::vec![[-40.0, 37.0], [10.0, 80.0], [60.0, 122.0]],
            rule: SlopeRule::Parabola,
        };
        let joint = Joint::new(record).unwrap();
        let mut out = [7.0; 2];
        let refused = ConvertError::LengthMismatch { given: 3, room: 2 };
        assert_eq!(joint.drive_batch(&[0.0; 3], &mut out), Err(refused));
        assert_eq!(joint.counts_batch(&[0.0; 3], &mut [7; 2]), Err(refused));
        assert_eq!(out, [7.0; 2]);
    }
}
