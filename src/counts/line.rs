//! Counts without divisions.
//!
//! A straight joint is one line from command to *unrounded* count, held between the counts of its two command ends. The
//! integer nearest to the line is the joint's count unless the line passes so close to the middle between two integers
//! that roundings could decide. So each block of commands is first put through the line; if every one of its values is
//! farther from a middle than the bound below, those integers are the answer, and if not, the block's commands are
//! taken one at a time, and those that are still not certain go through the joint's own steps.
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
//!
//! # What the travel holds back
//! The transmission is monotone, so the commands that the travel does not hold back lie between two of them, ends included. They
//! are found once, by halving the command range down to neighbouring numbers with the transmission itself, so that two comparisons
//! say afterwards, to the bit, what the steps of the chain would.
//!
//! # The line on a grid
//! Where counts are small, the line of a batch is scaled by 2^-34 and lifted by a constant, so that all its values lie
//! just above 2, where `f64` has steps of 2^-51. The lower half of such a number then *is* the count in steps of 2^-17,
//! with 15 bits for its integer part, and the upper half is the same for all. Scaling by a power of two changes no
//! rounding of the product; the constant's last rounding and that of the sum are half a step each. So the joint's own
//! count lies within m steps of the line, where m is the bound above in steps, rounded up, and one more. (The constant
//! has three more roundings before its last, at most 3u·M (1 + X/w), for which the bound taken has room: the sum above
//! needs no more than 46u·M + 104u·M·X/w of its 128u·M (1 + X/w).)
//!
//! The constant also lifts by one half, which makes the integer part that of the nearest integer, halves away from
//! zero, and by m steps: then a count is certain if the word and the word less 2m steps have the same integer part.
//! NaN, infinities, and all that 15 bits do not hold show in the upper halves. Their bits are gathered by OR, which
//! does not see an upper half of 0; but that needs a sum of exactly 0, whose lower half is 0 as well and never certain.
//! For what the ends hold, only the line's monotony is needed, and its rounded steps are monotone too.

use super::CountNumber;
use crate::conversion::{Clamped, Conversion};
use crate::map::Direction;
use crate::pulse::{Servo, Timer};
use crate::real::Real;
use crate::span::{Held, Span};
use crate::transmission::Transmission;

/// How many values go through the line before it is asked whether all were certain.
pub(crate) const BLOCK: usize = 64;
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
    /// The lowest and the highest command that the travel does not hold back; infinite at an end where it holds none.
    free: [T; 2],
    /// The same line on a grid, if its counts are small enough.
    grid: Option<Grid>,
}

/// What the line of a straight joint follows from.
pub(crate) struct Chain<'a, T> {
    pub(crate) command: Span<T>,
    pub(crate) drive: Span<T>,
    pub(crate) direction: Direction,
    pub(crate) travel: Span<T>,
    pub(crate) transmission: &'a Transmission<T>,
    pub(crate) servo: &'a Servo<T>,
    pub(crate) timer: &'a Timer<T>,
}

impl<T: Real> CountLine<T> {
    /// The line of a straight joint, with the count that its chain makes of a command; none where numbers are so far apart that it would
    /// decide too rarely.
    pub(crate) fn of(chain: &Chain<'_, T>, count: impl Fn(T) -> u32) -> Option<Self> {
        let (command, drive, servo) = (chain.command, chain.drive, chain.servo);
        let unrounded = |angle| chain.timer.unrounded(servo.pulse_us(angle));

        let [at_lower, at_upper] = drive.ends().map(unrounded);
        let (first, last) = if chain.direction.is_inverted() {
            (at_upper, at_lower)
        } else {
            (at_lower, at_upper)
        };
        let gain = (last - first) / command.width();

        let reach = (drive.magnitude() + servo.angle_range().magnitude()) / servo.angle_range().width();
        let most = unrounded(servo.angle_range().upper()) * (T::one() + reach);
        let bound = T::from_count(64) * T::epsilon() * most * (T::one() + command.magnitude() / command.width());
        let [one, other] = command.ends().map(count);
        let (lowest, highest) = (one.min(other), one.max(other));
        let offset = first - command.lower() * gain;
        let line = Self {
            gain,
            offset,
            certain: T::HALF - bound,
            lowest,
            highest,
            free: [T::neg_infinity(), T::infinity()],
            grid: Grid::of([gain, offset, bound].map(T::to_wide), [lowest, highest]),
        };
        // NaN and infinities of an extreme joint end here: no comparison with them holds.
        let decides = line.certain > T::from_wide(0.4) && most < T::most_in_low_bits();
        (decides && gain.is_normal() && line.offset.is_finite()).then(|| Self {
            free: free(chain),
            ..line
        })
    }

    /// The count of one command with what held it back, if the line decides it.
    #[inline]
    pub(crate) fn conversion(&self, command: T, range: Span<T>) -> Option<Conversion<u32>> {
        let [first, last] = self.free;
        Some(Conversion {
            value: self.one(command)?,
            clamped: Clamped {
                command: !range.contains(command),
                travel: command < first || command > last,
            },
        })
    }

    /// The line on a grid, if it has one.
    pub(crate) fn grid(&self) -> Option<&Grid> {
        self.grid.as_ref()
    }

    /// Writes the counts of a block if all of them are certain.
    #[inline]
    pub(crate) fn block<U: CountNumber>(&self, commands: &[T; BLOCK], out: &mut [U; BLOCK]) -> bool {
        let mut integers = [0; BLOCK];
        let certain = self.integers(commands, &mut integers);
        if certain {
            for (place, &integer) in out.iter_mut().zip(&integers) {
                *place = U::cut(self.hold(integer));
            }
        }
        certain
    }

    /// Writes the counts nearest to the line, and of each whether it is certain; nothing unless all commands are finite and in reach.
    #[inline(always)]
    pub(crate) fn each<U: CountNumber>(
        &self,
        commands: &[T; BLOCK],
        out: &mut [U; BLOCK],
        certain: &mut [bool; BLOCK],
    ) -> bool {
        let in_reach = |command: T| (command * self.gain + self.offset).abs() < T::most_in_low_bits();
        if !commands.iter().fold(true, |all, &command| all & in_reach(command)) {
            return false;
        }
        for ((&command, place), certain) in commands.iter().zip(out).zip(certain) {
            let y = command * self.gain + self.offset;
            let shifted = y + T::ROUNDER;
            *certain = (y - (shifted - T::ROUNDER)).abs() <= self.certain;
            *place = U::cut(self.hold(shifted.low_bits()));
        }
        true
    }

    /// Integers nearest to the line, and whether all of them are certain.
    #[inline]
    fn integers(&self, commands: &[T; BLOCK], out: &mut [i32; BLOCK]) -> bool {
        // Kept lane by lane, since a sum or a maximum of floats may not be reordered.
        let mut sum = [T::zero(); LANES];
        let mut farthest = [T::zero(); LANES];
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
                *place = shifted.low_bits();
            }
        }
        // NaN and infinities, refused commands among them, stay in the sum, and so does what the low bits cannot hold.
        sum.iter().all(|&sum| sum < T::most_in_low_bits()) && farthest.iter().all(|&distance| distance <= self.certain)
    }

    /// Between the counts of the command ends, both below 2^30.
    #[inline]
    fn hold(&self, integer: i32) -> u32 {
        integer.max(self.lowest as i32).min(self.highest as i32) as u32
    }

    /// The count of one command, if the line decides it.
    #[inline]
    pub(crate) fn one(&self, command: T) -> Option<u32> {
        let y = command * self.gain + self.offset;
        let shifted = y + T::ROUNDER;
        let distance = (y - (shifted - T::ROUNDER)).abs();
        // NaN and infinities hold neither.
        (y.abs() < T::most_in_low_bits() && distance <= self.certain).then(|| self.hold(shifted.low_bits()))
    }
}

/// The commands of a straight joint that its travel does not hold back: the lowest and the highest.
fn free<T: Real>(chain: &Chain<'_, T>) -> [T; 2] {
    let [first, last] = chain.command.ends();
    let held = |command| chain.travel.hold(chain.transmission.drive(command)).1;
    // How the travel holds back what lies before its commands, and what lies behind.
    let (before, behind) = if chain.direction.is_inverted() {
        (Held::Above, Held::Below)
    } else {
        (Held::Below, Held::Above)
    };
    let lowest = if held(first) != before {
        T::neg_infinity()
    } else if held(last) == before {
        T::infinity()
    } else {
        border(first, last, |command| held(command) == before)[1]
    };
    let highest = if held(last) != behind {
        T::infinity()
    } else if held(first) == behind {
        T::neg_infinity()
    } else {
        border(first, last, |command| held(command) != behind)[0]
    };
    [lowest, highest]
}

/// Halvings after which no number lies between two others any more: the exponents and the digits of an `f64`.
const MOST_HALVINGS: u32 = 2048 + 53 + 53;

/// The two neighbouring numbers between which a condition ends that holds from `low` on and no more at `high`.
fn border<T: Real>(mut low: T, mut high: T, holds: impl Fn(T) -> bool) -> [T; 2] {
    for _ in 0..MOST_HALVINGS {
        // Halved first where the sum could be too large, last where a half could be too small.
        let middle = if low.abs() > T::one() || high.abs() > T::one() {
            low * T::HALF + high * T::HALF
        } else {
            (low + high) * T::HALF
        };
        if !(low < middle && middle < high) {
            break;
        }
        if holds(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    [low, high]
}

/// A line whose values are numbers just above 2: see the head of this file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Grid {
    pub(crate) gain: f64,
    pub(crate) offset: f64,
    /// Twice m, in steps.
    pub(crate) twice_m: u32,
    /// The counts of the command ends, and [`BELOW`] more.
    pub(crate) lowest: i16,
    pub(crate) highest: i16,
}

/// Bits of a word below the integer part: steps of 2^-17.
pub(crate) const FRACTION: u32 = 17;
/// One count on the grid: steps are 2^-51.
const COUNT: f64 = 1.0 / (1u64 << (51 - FRACTION)) as f64;
const STEPS: f64 = (1u64 << FRACTION) as f64;
/// The most steps of doubt for which the grid is worth while.
const MOST_DOUBT: u32 = 8;
/// So many counts below 0 have their place on the grid too: 8192 of its 32768.
pub(crate) const BELOW: u32 = 1 << 13;
/// The bits that are 0 in 2 and in all on the grid: those of the upper half but for the one that 2 has.
pub(crate) const FOREIGN: u64 = 0xBFFF_FFFF_0000_0000;

impl Grid {
    fn of([gain, offset, bound]: [f64; 3], ends: [u32; 2]) -> Option<Self> {
        let m = (bound * STEPS).whole().saturating_add(2);
        let lifted = |end: u32| i16::try_from(end.checked_add(BELOW)?).ok();
        let grid = Self {
            gain: gain * COUNT,
            // The first sum is exact.
            offset: 2.0 + f64::from_count(BELOW) * COUNT + (offset + 0.5 + f64::from_count(m) / STEPS) * COUNT,
            twice_m: 2 * m.min(MOST_DOUBT),
            lowest: lifted(ends[0])?,
            highest: lifted(ends[1])?,
        };
        // So small a bound also keeps the constant near 2. A gain that is still normal was scaled exactly.
        (m <= MOST_DOUBT && grid.gain.is_normal()).then_some(grid)
    }

    /// Writes the counts of a block if all of them are certain. In loops that compilers turn into vector instructions of few
    /// steps, with two tests at the end that one instruction makes of a whole vector.
    #[inline(always)]
    pub(crate) fn block<T: Real, U: CountNumber>(&self, commands: &[T; BLOCK], out: &mut [U; BLOCK]) -> bool {
        let mut words = [0; BLOCK];
        let mut all = 0;
        for (&command, word) in commands.iter().zip(&mut words) {
            let bits = (command.to_wide() * self.gain + self.offset).to_bits();
            all |= bits;
            *word = bits as u32;
        }
        // Narrowed here and held below, so that holding takes as many at once as have room in their 16 bits.
        let mut lifted = [0; BLOCK];
        let mut doubt = 0;
        for (&word, lifted) in words.iter().zip(&mut lifted) {
            doubt |= word ^ word.wrapping_sub(self.twice_m);
            *lifted = (word >> FRACTION) as i16;
        }
        // So few steps less change the integer part by one at the most, which its lowest bit shows.
        let certain = all & FOREIGN == 0 && doubt & 1 << FRACTION == 0;
        if certain {
            for (place, &lifted) in out.iter_mut().zip(&lifted) {
                *place = U::from_narrow(self.count(lifted));
            }
        }
        certain
    }

    /// The count of an integer part, held between those of the command ends.
    #[inline(always)]
    fn count(&self, lifted: i16) -> u16 {
        lifted.max(self.lowest).min(self.highest) as u16 - BELOW as u16
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::joint::Joint;
    use crate::record::wing as record;

    /// Around both ends of the travel, number by number.
    #[test]
    fn what_the_travel_holds_back_is_known_to_the_bit() {
        for (travel, inverted) in [
            ([39.3, 119.7], false),
            ([39.3, 119.7], true),
            ([37.0, 65.3], false),
            ([92.1, 122.0], true),
        ] {
            let mut cut = record::<f64>();
            cut.travel = Some(travel);
            cut.inverted = inverted;
            let joint = Joint::new(cut).unwrap();
            let [first, last] = joint.count_line().unwrap().free;
            assert_eq!(
                [first, last].iter().filter(|end| end.is_finite()).count(),
                2 - usize::from(travel[0] == 37.0 || travel[1] == 122.0)
            );
            for end in [first, last, -40.0, 60.0] {
                let (mut up, mut down) = (end, end);
                for _ in 0..100 {
                    for command in [up, down].into_iter().filter(|command| command.is_finite()) {
                        assert_eq!(joint.counts(command), joint.counts_in_steps(command), "{command}");
                    }
                    (up, down) = (up.next_up(), down.next_down());
                }
            }
        }
        let zero = border(-1.0, 1e-3, |x| x < 0.0);
        assert_eq!(zero, [-f64::from_bits(1), 0.0]);
        let large = border(1e308, 1.7e308, |x| x < 1.5e308);
        assert_eq!(large, [1.5e308f64.next_down(), 1.5e308]);
    }

    #[test]
    fn ordinary_joints_have_a_line_and_extreme_ones_do_not() {
        let joint = Joint::new(record::<f64>()).unwrap();
        let mut counts = [0u16; BLOCK];
        assert!(
            joint.count_line().unwrap().block(&[10.0; BLOCK], &mut counts),
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
        assert_eq!(out, [283; 40]);
    }
}
