//! Many commands at once: the same bits as one by one, faster.
//!
//! # Counts without divisions
//! A straight joint is one line from command to *unrounded* count, held between the counts of its two command ends. The
//! integer nearest to the line is the joint's count unless the line passes so close to the middle between two integers
//! that roundings could decide. So each block of commands is first put through the line; if every one of its values is
//! farther from a middle than the bound below, those integers are the answer, and if not, the block goes through the
//! joint's own steps one command at a time.
//!
//! # The bound
//! Let u be half the epsilon, C the count at the servo's longest pulse, and `reach` = (largest |drive| + largest
//! |servo angle|) / (width of the servo's angle), which bounds how far along the servo's own line a drive end lies; then
//! every count on the way is below M = C (1 + reach). Let w be the width of the command range and X its largest
//! magnitude. To first order in u:
//!
//! * the transmission's t is off by 3u, the drive angle by 11u·|drive|, the servo's t by 14u·reach, and with pulse and count
//!   (three roundings each) the joint's own unrounded count by less than 21u·M;
//! * the gain of the line is the quotient of the difference of two such counts by w, off by 50u·M/w with its own
//!   roundings; its offset is such a count less gain times command, off by 21u·M + 51u·M·X/w; product and sum add
//!   51u·M·X/w and 2u·M (1 + X/w) for any command inside the range;
//! * together the two differ by less than 45u·M + 104u·M·X/w, and finding the distance to the integer adds u·M.
//!
//! The bound taken is 128u·M (1 + X/w), i.e. 64 epsilon·M (1 + X/w). Outside the command range, or where the travel
//! holds the joint back, its count is that of a command end; the line is monotone too, so it lies beyond that end's
//! count or within the bound of it, and holding its integers between the counts of the ends gives the same.

use crate::error::ConvertError;
use crate::joint::{Conversion, Joint};
use crate::real::Real;

/// How many values go through the line before it is asked whether all were certain.
const BLOCK: usize = 64;
/// How many of them side by side.
const LANES: usize = 4;

/// The line from command to unrounded count, where a straight joint has one that decides nearly always.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct CountLine<T> {
    /// Counts per command, and the unrounded count of command 0.
    gain: T,
    offset: T,
    /// The largest distance from an integer at which that integer is certain.
    certain: T,
    /// The counts of the command ends, the lower first.
    lowest: u32,
    highest: u32,
}

impl<T: Real> CountLine<T> {
    /// The line of a straight joint; none where numbers are so far apart that it would decide too rarely.
    pub(crate) fn of(joint: &Joint<T>) -> Option<Self> {
        let (command, drive, servo) = (joint.command_range(), joint.drive_range(), joint.servo());
        let unrounded = |angle| joint.timer().unrounded(servo.pulse_us(angle));
        let count = |end| joint.count_of(joint.drive_of_finite(end)).value;

        let [at_lower, at_upper] = drive.ends().map(unrounded);
        let (first, last) = if joint.direction().is_inverted() {
            (at_upper, at_lower)
        } else {
            (at_lower, at_upper)
        };
        let gain = (last - first) / command.width();

        let reach = (drive.magnitude() + servo.angle_range().magnitude()) / servo.angle_range().width();
        let most = unrounded(servo.angle_range().upper()) * (T::one() + reach);
        let bound = T::from_count(64) * T::epsilon() * most * (T::one() + command.magnitude() / command.width());
        let [one, other] = command.ends().map(count);
        let line = Self {
            gain,
            offset: first - command.lower() * gain,
            certain: T::HALF - bound,
            lowest: one.min(other),
            highest: one.max(other),
        };
        // NaN and infinities of an extreme joint end here: no comparison with them holds.
        let decides = line.certain > T::from_wide(0.4) && most < T::most_in_low_bits();
        (decides && gain.is_normal() && line.offset.is_finite()).then_some(line)
    }

    /// Integers nearest to the line, and whether all of them are certain.
    #[inline]
    fn block<U: Count>(&self, commands: &[T; BLOCK], out: &mut [U; BLOCK]) -> bool {
        // Kept lane by lane, since a sum or a maximum of floats may not be reordered.
        let mut sum = [T::zero(); LANES];
        let mut farthest = [T::zero(); LANES];
        let (lowest, highest) = (U::cut(self.lowest), U::cut(self.highest));
        let (commands, _) = commands.as_chunks::<LANES>();
        let (out, _) = out.as_chunks_mut::<LANES>();
        for (commands, out) in commands.iter().zip(out) {
            let lanes = commands.iter().zip(out).zip(sum.iter_mut().zip(&mut farthest));
            for ((&command, place), (sum, farthest)) in lanes {
                let y = command * self.gain + self.offset;
                *sum = *sum + y.abs();
                // Leaves no bits below 1: the sum rounds to an integer and shows it in its low bits.
                let shifted = y + T::ROUNDER;
                let distance = (y - (shifted - T::ROUNDER)).abs();
                *farthest = if *farthest > distance { *farthest } else { distance };
                *place = U::held(shifted.low_bits(), lowest, highest);
            }
        }
        // NaN and infinities, refused commands among them, stay in the sum, and so does what the low bits cannot hold.
        sum.iter().all(|&sum| sum < T::most_in_low_bits()) && farthest.iter().all(|&distance| distance <= self.certain)
    }
}

impl<T: Real> CountLine<T> {
    /// The count of one command, if the line decides it.
    #[inline]
    fn one(&self, command: T) -> Option<u32> {
        let y = command * self.gain + self.offset;
        let shifted = y + T::ROUNDER;
        let distance = (y - (shifted - T::ROUNDER)).abs();
        // NaN and infinities hold neither.
        (y.abs() < T::most_in_low_bits() && distance <= self.certain)
            .then(|| u32::held(shifted.low_bits(), self.lowest, self.highest))
    }
}

/// How many values of a batch are held back.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Tally {
    /// Commands outside the command range.
    pub clamped_to_command: usize,
    /// Drive angles outside the travel.
    pub clamped_to_travel: usize,
}

impl<T: Real> Joint<T> {
    /// The timer count of one command, without what held it back: the bits of [`Joint::counts`], in less time.
    ///
    /// # Errors
    /// [`ConvertError::NotFinite`] for NaN and infinities.
    ///
    /// ```
    /// # use elbowroom::{Joint, JointRecord, ServoRecord, TimerRecord};
    /// # let servo = ServoRecord { angle: [0.0, 180.0], pulse_us: [500.0, 2500.0] };
    /// # let timer = TimerRecord { frame_hz: 50.0, counts: 4096 };
    /// let joint = Joint::new(JointRecord::new([0.0, 180.0], [5.0, 80.0], 90.0, servo, timer))?;
    /// assert_eq!(joint.count(90.0)?, 199);
    /// assert!(joint.count(f64::NAN).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[inline]
    pub fn count(&self, command: T) -> Result<u32, ConvertError> {
        match self.count_line().and_then(|line| line.one(command)) {
            Some(count) => Ok(count),
            None => Ok(self.counts(command)?.value),
        }
    }

    /// Drive angles, deg, of many commands. *Shape*: `out` as long as `commands`.
    ///
    /// # Errors
    /// [`ConvertError::LengthMismatch`], with nothing written; [`ConvertError::NotFiniteAt`], with all before the index
    /// written and nothing else touched.
    pub fn drive_batch(&self, commands: &[T], out: &mut [T]) -> Result<(), ConvertError> {
        each(commands, out, 0, |command| self.drive_of_finite(command))
    }

    /// Pulse widths, microseconds, of many commands. Shape and errors as for [`Joint::drive_batch`].
    ///
    /// # Errors
    /// As for [`Joint::drive_batch`].
    pub fn pulse_us_batch(&self, commands: &[T], out: &mut [T]) -> Result<(), ConvertError> {
        each(commands, out, 0, |command| self.pulse_of(self.drive_of_finite(command)))
    }

    /// Timer counts of many commands.
    ///
    /// # Errors
    /// As for [`Joint::drive_batch`].
    pub fn counts_batch(&self, commands: &[T], out: &mut [u32]) -> Result<(), ConvertError> {
        self.counts_into(commands, out)
    }

    /// Timer counts of many commands in 16 bits.
    ///
    /// # Errors
    /// As for [`Joint::drive_batch`]; [`ConvertError::CountTooWide`] if this joint's counts need more than 16 bits.
    pub fn counts_batch_u16(&self, commands: &[T], out: &mut [u16]) -> Result<(), ConvertError> {
        let ([_, count], most) = (self.count_range(), u32::from(u16::MAX));
        if count > most {
            return Err(ConvertError::CountTooWide { count, most });
        }
        self.counts_into(commands, out)
    }

    /// Drive angles, deg, in place of their commands.
    ///
    /// # Errors
    /// As for [`Joint::drive_batch`].
    pub fn drive_in_place(&self, values: &mut [T]) -> Result<(), ConvertError> {
        in_place(values, |command| self.drive_of_finite(command))
    }

    /// Pulse widths, microseconds, in place of their commands.
    ///
    /// # Errors
    /// As for [`Joint::drive_batch`].
    pub fn pulse_us_in_place(&self, values: &mut [T]) -> Result<(), ConvertError> {
        in_place(values, |command| self.pulse_of(self.drive_of_finite(command)))
    }

    /// How many of these commands are held back on their way to the motor, and by what.
    ///
    /// # Errors
    /// [`ConvertError::NotFiniteAt`].
    pub fn tally(&self, commands: &[T]) -> Result<Tally, ConvertError> {
        let mut tally = Tally::default();
        for (index, &command) in commands.iter().enumerate() {
            let clamped = self.drive_of_finite(finite(index, command)?).clamped;
            tally.clamped_to_command += usize::from(clamped.command);
            tally.clamped_to_travel += usize::from(clamped.travel);
        }
        Ok(tally)
    }

    fn counts_into<U: Count>(&self, commands: &[T], out: &mut [U]) -> Result<(), ConvertError> {
        same_length(commands, out)?;
        let one_by_one = |commands: &[T], out: &mut [U], first| {
            each(commands, out, first, |command| {
                let count = self.count_of(self.drive_of_finite(command));
                Conversion {
                    value: U::cut(count.value),
                    clamped: count.clamped,
                }
            })
        };
        let Some(line) = self.count_line().filter(|line| line.highest <= U::MOST_HELD) else {
            return one_by_one(commands, out, 0);
        };
        let (blocks, last_commands) = commands.as_chunks::<BLOCK>();
        let (places, last_places) = out.as_chunks_mut::<BLOCK>();
        let mut counts = [U::default(); BLOCK];
        for (index, (block, place)) in blocks.iter().zip(places).enumerate() {
            if line.block(block, &mut counts) {
                *place = counts;
            } else {
                one_by_one(block, place, index * BLOCK)?;
            }
        }
        let mut block = [self.rest(); BLOCK];
        for (place, &command) in block.iter_mut().zip(last_commands) {
            *place = command;
        }
        if line.block(&block, &mut counts) {
            for (place, count) in last_places.iter_mut().zip(counts) {
                *place = count;
            }
            return Ok(());
        }
        one_by_one(last_commands, last_places, blocks.len() * BLOCK)
    }
}

#[inline]
fn finite<T: Real>(index: usize, command: T) -> Result<T, ConvertError> {
    if command.is_finite() {
        Ok(command)
    } else {
        Err(ConvertError::NotFiniteAt {
            index,
            value: command.to_wide(),
        })
    }
}

fn same_length<T, U>(commands: &[T], out: &[U]) -> Result<(), ConvertError> {
    if commands.len() == out.len() {
        Ok(())
    } else {
        Err(ConvertError::LengthMismatch {
            given: commands.len(),
            room: out.len(),
        })
    }
}

/// Converts one by one; `first` is the index of the first command within the whole batch.
#[inline]
fn each<T: Real, U>(
    commands: &[T],
    out: &mut [U],
    first: usize,
    convert: impl Fn(T) -> Conversion<U>,
) -> Result<(), ConvertError> {
    same_length(commands, out)?;
    for (index, (&command, place)) in commands.iter().zip(out).enumerate() {
        *place = convert(finite(first + index, command)?).value;
    }
    Ok(())
}

#[inline]
fn in_place<T: Real>(values: &mut [T], convert: impl Fn(T) -> Conversion<T>) -> Result<(), ConvertError> {
    for (index, place) in values.iter_mut().enumerate() {
        *place = convert(finite(index, *place)?).value;
    }
    Ok(())
}

/// The unsigned integers that counts are written to.
pub(crate) trait Count: Copy + Default {
    /// The largest count that [`Count::held`] takes.
    const MOST_HELD: u32;

    /// The low bits. Callers have checked that every count of the joint fits.
    fn cut(count: u32) -> Self;

    /// An integer held between two counts.
    fn held(integer: i32, lowest: Self, highest: Self) -> Self;
}

impl Count for u16 {
    const MOST_HELD: u32 = i16::MAX as u32;

    #[inline]
    fn cut(count: u32) -> Self {
        count as Self
    }

    /// In 16 signed bits, of which a processor compares the most at a time.
    #[inline]
    fn held(integer: i32, lowest: Self, highest: Self) -> Self {
        let near = integer.max(i32::from(i16::MIN)).min(i32::from(i16::MAX)) as i16;
        near.max(lowest as i16).min(highest as i16) as Self
    }
}

impl Count for u32 {
    const MOST_HELD: u32 = i32::MAX as u32;

    #[inline]
    fn cut(count: u32) -> Self {
        count
    }

    #[inline]
    fn held(integer: i32, lowest: Self, highest: Self) -> Self {
        integer.max(lowest as i32).min(highest as i32) as Self
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Code, JointRecord, ServoRecord, TimerRecord};
    use proptest::prelude::*;
    use std::vec::Vec;

    fn record<T: Real>() -> JointRecord<T> {
        let w = T::from_wide;
        let servo = ServoRecord {
            angle: [w(0.0), w(180.0)],
            pulse_us: [w(500.0), w(2500.0)],
        };
        let timer = TimerRecord {
            frame_hz: w(50.0),
            counts: 4096,
        };
        JointRecord::new([w(0.0), w(180.0)], [w(5.0), w(80.0)], w(90.0), servo, timer)
    }

    #[test]
    fn a_refused_element_leaves_the_rest_untouched() {
        let joint = Joint::new(record()).unwrap();
        let mut out = [7u16; 4];
        let error = joint
            .counts_batch_u16(&[90.0, 0.0, f64::NAN, 180.0], &mut out)
            .unwrap_err();
        assert!(matches!(error, ConvertError::NotFiniteAt { index: 2, .. }));
        assert_eq!(out, [199, 114, 7, 7]);
        assert_eq!(
            joint.counts_batch(&[1.0], &mut []).unwrap_err().code(),
            Code::LengthMismatch
        );
        assert_eq!(
            joint.drive_batch(&[1.0], &mut []).unwrap_err().code(),
            Code::LengthMismatch
        );
        let mut same = [90.0, f64::INFINITY, 0.0];
        assert!(joint.drive_in_place(&mut same).is_err());
        assert_eq!(same, [42.5, f64::INFINITY, 0.0]);
    }

    #[test]
    fn batches_give_the_bits_of_single_calls_and_tally_the_clamped() {
        let mut with_travel = record();
        with_travel.travel = Some([7.3, 78.0]);
        let joint = Joint::new(with_travel).unwrap();
        let commands: Vec<f64> = (-20..200).map(f64::from).collect();
        let (mut drive, mut pulses) = (commands.clone(), commands.clone());
        joint.drive_in_place(&mut drive).unwrap();
        joint.pulse_us_batch(&commands, &mut pulses).unwrap();
        let mut in_place = commands.clone();
        joint.pulse_us_in_place(&mut in_place).unwrap();
        assert_eq!(in_place, pulses);
        let mut expected = Tally::default();
        for (i, &command) in commands.iter().enumerate() {
            let single = joint.drive(command).unwrap();
            expected.clamped_to_command += usize::from(single.clamped.command);
            expected.clamped_to_travel += usize::from(single.clamped.travel);
            assert_eq!(single.value.to_bits(), drive[i].to_bits());
            assert_eq!(joint.pulse_us(command).unwrap().value.to_bits(), pulses[i].to_bits());
        }
        assert_eq!(joint.tally(&commands).unwrap(), expected);
        assert!(expected.clamped_to_command == 39 && expected.clamped_to_travel > 39);
    }

    #[test]
    fn refusals_carry_the_index_within_the_whole_batch() {
        let joint = Joint::new(record()).unwrap();
        for bad in [0, 1, 15, 16, 17, 40, 47] {
            for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
                let mut commands = [90.0; 48];
                commands[bad] = value;
                let mut out = [7u32; 48];
                let error = joint.counts_batch(&commands, &mut out).unwrap_err();
                assert!(matches!(error, ConvertError::NotFiniteAt { index, .. } if index == bad));
                assert!(out[..bad].iter().all(|&count| count == 199) && out[bad..].iter().all(|&count| count == 7));
            }
        }
    }

    macro_rules! same_counts {
        ($name:ident, $t:ident) => {
            proptest! {
                #![proptest_config(ProptestConfig::with_cases(3_000))]

                /// Also where the line passes right through the middles between integers.
                #[test]
                fn $name(c0 in -1e3..1e3 as $t, cw in 1e-3..1e4 as $t, d0 in 0.0..89.0 as $t, dw in 1.0..91.0 as $t,
                         t0 in 0.0..80.0 as $t, tw in 10.0..100.0 as $t, frame_hz in 40.0..333.0 as $t,
                         counts in 256u32..60_000, inverted: bool, parts in prop::collection::vec(-0.1..1.1 as $t, 40)) {
                    let mut record = record::<$t>();
                    record.command = [c0, c0 + cw];
                    record.rest = c0;
                    record.drive = [d0, d0 + dw];
                    record.travel = Some([t0, t0 + tw]);
                    record.inverted = inverted;
                    record.timer = TimerRecord { frame_hz, counts };
                    let Ok(joint) = Joint::new(record) else { return Ok(()) };

                    let mut commands: Vec<$t> = parts.iter().map(|part| c0 + part * cw).collect();
                    for part in parts {
                        let near = joint.count_range()[0] as $t + (part * 100.0).round();
                        let middle_us = (near + 0.5) * 1e6 / (frame_hz * counts as $t);
                        let middle = joint.command_from_pulse_us(middle_us);
                        commands.extend([middle.next_down(), middle, middle.next_up()]);
                    }
                    let mut batch = std::vec![0; commands.len()];
                    joint.counts_batch(&commands, &mut batch).unwrap();
                    for (command, count) in commands.into_iter().zip(batch) {
                        prop_assert_eq!(joint.counts(command).unwrap().value, count, "{} {:?}", command, joint);
                    }
                }
            }
        };
    }
    same_counts!(the_line_gives_the_same_counts_in_f64, f64);
    same_counts!(the_line_gives_the_same_counts_in_f32, f32);

    #[test]
    fn ordinary_joints_have_a_line_and_extreme_ones_do_not() {
        let joint = Joint::new(record::<f64>()).unwrap();
        let mut counts = [0u16; BLOCK];
        assert!(
            joint.count_line().unwrap().block(&[90.0; BLOCK], &mut counts),
            "certain at rest"
        );
        assert!(!joint.count_line().unwrap().block(&[f64::NAN; BLOCK], &mut counts));
        assert!(!joint.count_line().unwrap().block(&[f64::INFINITY; BLOCK], &mut counts));
        assert!(Joint::new(record::<f32>()).unwrap().count_line().is_some());
        let mut extreme = record();
        extreme.command = [f64::MIN, f64::MAX];
        let joint = Joint::new(extreme).unwrap();
        assert!(joint.count_line().is_none());
        let mut out = [0; 40];
        joint.counts_batch(&[0.0; 40], &mut out).unwrap();
        assert_eq!(out, [199; 40]);
    }

    #[test]
    fn wide_counts_need_the_wide_form() {
        let timer = TimerRecord {
            frame_hz: 50.0,
            counts: 2_000_000,
        };
        let joint = Joint::new(JointRecord { timer, ..record() }).unwrap();
        let error = joint.counts_batch_u16(&[1.0], &mut [0]).unwrap_err();
        assert_eq!(error.code(), Code::CountTooWide);
        assert_eq!(joint.counts(90.0).unwrap().value, 97_222);
    }
}
