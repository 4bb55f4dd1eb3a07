//! Joints with a curve in stretches, so that the curve is looked up once for many commands that lie close together.
//!
//! The steps and so the bits are those of one command.

use super::straight::all_finite;
use super::{finite, same_length};
use crate::curve::Curve;
use crate::error::ConvertError;
use crate::joint::Joint;
use crate::real::Real;
use crate::span::Span;
use crate::transmission::Transmission;

/// How many commands are taken at once: several blocks of the curve's own, and still in the cache.
const STRETCH: usize = 512;

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
    pub(super) fn convert<U, const INLINED: bool>(
        &self,
        commands: &[T],
        out: &mut [U],
        finish: impl Fn(T) -> U,
    ) -> Result<(), ConvertError> {
        same_length(commands, out)?;
        let (mut held, mut drives) = ([T::zero(); STRETCH], [T::zero(); STRETCH]);
        for (index, (commands, out)) in commands.chunks(STRETCH).zip(out.chunks_mut(STRETCH)).enumerate() {
            let drives = self.drives_of::<INLINED>(commands, &mut held, &mut drives);
            for (place, &drive) in out.iter_mut().zip(drives) {
                *place = finish(drive);
            }
            refuse_next(commands, drives.len(), index * STRETCH)?;
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
        let (mut held, mut drives) = ([T::zero(); STRETCH], [T::zero(); STRETCH]);
        for (index, values) in values.chunks_mut(STRETCH).enumerate() {
            let drives = self.drives_of::<INLINED>(values, &mut held, &mut drives);
            for (place, &drive) in values.iter_mut().zip(drives) {
                *place = finish(drive);
            }
            refuse_next(values, drives.len(), index * STRETCH)?;
        }
        Ok(())
    }

    /// In one copy for all kinds of results, or in one for a caller that is compiled for wider vectors.
    #[inline(always)]
    fn drives_of<'b, const INLINED: bool>(
        &self,
        commands: &[T],
        held: &mut [T; STRETCH],
        drives: &'b mut [T; STRETCH],
    ) -> &'b [T] {
        if INLINED {
            self.drives(commands, held, drives)
        } else {
            self.drives_apart(commands, held, drives)
        }
    }

    #[inline(never)]
    fn drives_apart<'b>(&self, commands: &[T], held: &mut [T; STRETCH], drives: &'b mut [T; STRETCH]) -> &'b [T] {
        self.drives(commands, held, drives)
    }

    /// The drive angles of a stretch, of the commands before the first that is not finite.
    #[inline(always)]
    fn drives<'b>(&self, commands: &[T], held: &mut [T; STRETCH], drives: &'b mut [T; STRETCH]) -> &'b [T] {
        let taken = if all_finite(commands) {
            commands.len()
        } else {
            commands.iter().take_while(|command| command.is_finite()).count()
        };
        let (Some(held), Some(drives)) = (held.get_mut(..taken), drives.get_mut(..taken)) else {
            return &[];
        };
        for (held, &command) in held.iter_mut().zip(commands) {
            *held = self.command.clamp(command);
        }
        self.curve.at_batch(held, drives);
        for drive in &mut *drives {
            *drive = self.travel.clamp(*drive);
        }
        drives
    }
}

/// Refuses the command after those that were taken, if there is one; `first` is the index of the first of all.
fn refuse_next<T: Real>(commands: &[T], taken: usize, first: usize) -> Result<(), ConvertError> {
    match commands.get(taken) {
        Some(&command) => finite(first + taken, command).map(drop),
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::record;
    use super::*;
    use crate::curve::SlopeRule;
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
                    let [first, last] = [5.0, 80.0];
                    let mut knots = std::vec![[0.0, first]];
                    let mut sum = 0.0;
                    for (i, rise) in rises.iter().enumerate() {
                        sum += rise;
                        let is_last = i + 1 == rises.len();
                        let x = if is_last { 180.0 } else { 180.0 * (i + 1) as $t / rises.len() as $t };
                        knots.push([x, if is_last { last } else { first + (last - first) * sum / total }]);
                    }
                    if inverted {
                        for knot in &mut knots {
                            knot[1] = first + last - knot[1];
                        }
                    }
                    record.drive = [first, last];
                    record.inverted = inverted;
                    record.travel = Some(travel.map(|part| first + part * (last - first)));
                    record.transmission = TransmissionRecord::Curve { knots, rule: SlopeRule::Parabola };
                    record.rest = 90.0;
                    let joint = Joint::new(record).unwrap();
                    prop_assert!(Curved::of(&joint).is_some());

                    let mut commands: Vec<$t> = (0..length)
                        .map(|i| 180.0 * parts[i / 150 % parts.len()] + (i % 150) as $t * 0.03)
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
            knots: std::vec![[0.0, 5.0], [90.0, 50.0], [180.0, 80.0]],
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
