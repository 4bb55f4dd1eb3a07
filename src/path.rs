//! Whether a path, commands in equal intervals of time, can be sent as it is.

use crate::error::ConvertError;
use crate::joint::Joint;
use crate::real::Real;
use crate::span::Held;
use core::fmt;

/// How many rows of a path have a fault, and which of them is the first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[non_exhaustive]
pub struct PathRows {
    /// How many.
    pub count: usize,
    /// The index of the first, counted from 0; none if `count` is 0.
    pub first: Option<usize>,
}

impl PathRows {
    fn add(&mut self, index: usize) {
        self.count += 1;
        self.first = self.first.or(Some(index));
    }
}

/// What is wrong with the rows of a path of one joint, from [`Joint::check_path`].
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct PathCheck<T> {
    /// How many rows were checked.
    pub rows: usize,
    /// Rows that are NaN or infinite; a conversion refuses them.
    pub not_finite: PathRows,
    /// Rows outside the command range; a conversion clamps them.
    pub beyond_command: PathRows,
    /// Rows outside the commands that the travel allows; a conversion clamps their drive angles. A row may be beyond both.
    pub beyond_travel: PathRows,
    /// Rows that are reached from the row before faster than the joint's `max_rate_per_s`. None if the rate was not checked, because the
    /// call names no `rows_hz` or the joint no rate.
    pub too_fast: Option<PathRows>,
    /// The fastest change between two neighbouring finite rows, command units per second. None without `rows_hz`, and without such
    /// rows.
    pub largest_rate_per_s: Option<T>,
}

impl<T: Real> PathCheck<T> {
    /// Whether every row can be sent as it is. A rate that was not checked counts as kept.
    pub fn is_ok(&self) -> bool {
        let too_fast = self.too_fast.unwrap_or_default();
        [self.not_finite, self.beyond_command, self.beyond_travel, too_fast]
            .iter()
            .all(|rows| rows.count == 0)
    }

    /// The check of rows from anywhere, e.g. a column of a table.
    pub(crate) fn of(
        joint: &Joint<T>,
        commands: impl Iterator<Item = T>,
        rows_hz: Option<T>,
    ) -> Result<Self, ConvertError> {
        let rows_hz = rows_hz.map(checked_hz).transpose()?;
        let most = joint.max_rate_per_s().zip(rows_hz).map(|(rate, hz)| rate / hz);
        let mut found = Self {
            rows: 0,
            not_finite: PathRows::default(),
            beyond_command: PathRows::default(),
            beyond_travel: PathRows::default(),
            too_fast: most.map(|_| PathRows::default()),
            largest_rate_per_s: None,
        };
        let command_range = joint.command_range();
        // As for a ramp of the joint, so that a path from a ramp which waits at the end of the travel is not beyond it by a rounding.
        let [lowest, highest] = joint.reach();
        let mut before = None;
        for (index, command) in commands.enumerate() {
            found.rows += 1;
            if !command.is_finite() {
                found.not_finite.add(index);
                before = None;
                continue;
            }
            let (inside, past_command) = command_range.hold(command);
            if past_command != Held::Inside {
                found.beyond_command.add(index);
            }
            if inside < lowest || inside > highest {
                found.beyond_travel.add(index);
            }
            if let (Some(before), Some(hz)) = (before, rows_hz) {
                found.step(index, before, command, hz, most);
            }
            before = Some(command);
        }
        Ok(found)
    }

    /// Takes in the change from one finite row to the next.
    fn step(&mut self, index: usize, before: T, command: T, rows_hz: T, most: Option<T>) {
        let step = (command - before).abs();
        let rate = step * rows_hz;
        if self.largest_rate_per_s.is_none_or(|largest| rate > largest) {
            self.largest_rate_per_s = Some(rate);
        }
        let rounding = T::from_wide(ROUNDING) * (command.abs() + before.abs());
        if let (Some(most), Some(too_fast)) = (most, &mut self.too_fast)
            && step > most + rounding
        {
            too_fast.add(index);
        }
    }
}

/// What a step may exceed the joint's rate by, as a share of the two commands: paths are often kept in `f32`, which rounds each
/// command by up to 2⁻²⁴ of itself, and a ramp that is computed in it as often again.
const ROUNDING: f64 = f32::EPSILON as f64;

fn checked_hz<T: Real>(rows_hz: T) -> Result<T, ConvertError> {
    if rows_hz.is_finite() && rows_hz > T::zero() {
        Ok(rows_hz)
    } else {
        let value = rows_hz.to_wide();
        Err(ConvertError::RowsHz { value })
    }
}

impl<T: Real> fmt::Display for PathCheck<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} row{}", self.rows, if self.rows == 1 { "" } else { "s" })?;
        if self.is_ok() {
            return f.write_str(match self.too_fast {
                Some(_) => ": within the command range, the travel and max_rate_per_s",
                None => {
                    ": within the command range and the travel; the rate was not checked: give rows_hz, and the joint a max_rate_per_s"
                }
            });
        }
        for (rows, one, many) in [
            (self.not_finite, "is not finite", "are not finite"),
            (
                self.beyond_command,
                "is beyond the command range",
                "are beyond the command range",
            ),
            (self.beyond_travel, "is beyond the travel", "are beyond the travel"),
            (
                self.too_fast.unwrap_or_default(),
                "is reached faster than max_rate_per_s",
                "are reached faster than max_rate_per_s",
            ),
        ] {
            if let Some(first) = rows.first {
                let verb = if rows.count == 1 { one } else { many };
                write!(f, "; {} {verb}, the first at index {first}", rows.count)?;
            }
        }
        if let (Some(rate), Some(PathRows { first: Some(_), .. })) = (self.largest_rate_per_s, self.too_fast) {
            write!(f, "; the largest rate is {rate:.4} per second")?;
        }
        f.write_str("; correct the path before it is sent")
    }
}

impl<T: Real> Joint<T> {
    /// Whether commands can be sent one after the other as they are, and otherwise which rows are not finite, beyond the command range,
    /// beyond the travel, or reached too fast. *Shape*: any number of rows. *Unit*: that of the joint's commands.
    ///
    /// `rows_hz` is how many rows are sent in a second; without it the rate is not checked. A rate is that between two neighbouring
    /// finite rows; over a row that is not finite none is computed. A row that goes beyond `max_rate_per_s` by no more than single
    /// precision rounds (2⁻²³ of both commands) keeps it. Nothing is changed, and nothing allocated.
    ///
    /// # Errors
    /// [`ConvertError::RowsHz`] for rows per second that are not a finite number above 0. Rows never fail: what is wrong with them is
    /// the answer. No rows give an answer without faults.
    ///
    /// ```
    /// # use elbowroom::{Joint, JointRecord, ServoRecord, TimerRecord};
    /// # let servo = ServoRecord { angle: [0.0, 180.0], pulse_us: [500.0, 2500.0] };
    /// # let timer = TimerRecord { frame_hz: 50.0, counts_per_frame: 4096 };
    /// let mut record = JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer);
    /// record.max_rate_per_s = Some(60.0);
    /// let wing = Joint::new(record)?;
    /// assert!(wing.check_path(&[58.0, 59.2, 60.0], Some(50.0))?.is_ok());
    ///
    /// let check = wing.check_path(&[58.0, 59.2, 61.0, f64::NAN, 10.0], Some(50.0))?;
    /// assert_eq!((check.not_finite.count, check.not_finite.first), (1, Some(3)));
    /// assert_eq!(check.beyond_command.first, Some(2));
    /// assert_eq!(check.too_fast.unwrap().first, Some(2));
    /// assert_eq!(
    ///     check.to_string(),
    ///     "5 rows; 1 is not finite, the first at index 3; 1 is beyond the command range, the first at index 2; 1 is reached faster \
    ///      than max_rate_per_s, the first at index 2; the largest rate is 90.0000 per second; correct the path before it is sent"
    /// );
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn check_path(&self, commands: &[T], rows_hz: Option<T>) -> Result<PathCheck<T>, ConvertError> {
        PathCheck::of(self, commands.iter().copied(), rows_hz)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bring_up::JointRamp;
    use crate::{Code, JointRecord, ServoRecord, TimerRecord};
    use proptest::prelude::*;
    use std::string::ToString;
    use std::vec::Vec;

    fn wing<T: Real>(inverted: bool, max_rate_per_s: Option<f64>) -> Joint<T> {
        let servo = ServoRecord {
            angle: [0.0, 180.0],
            pulse_us: [500.0, 2500.0],
        };
        let timer = TimerRecord {
            frame_hz: 50.0,
            counts_per_frame: 4096,
        };
        let mut record = JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer);
        record.travel = Some([45.5, 120.0]);
        record.inverted = inverted;
        record.max_rate_per_s = max_rate_per_s;
        Joint::new(record.map(T::from_wide)).unwrap()
    }

    /// What the check says, row by row.
    fn slowly(joint: &Joint<f64>, commands: &[f64], rows_hz: f64) -> [Vec<usize>; 4] {
        let flags = |which: fn(crate::Clamped) -> bool| {
            let clamped = |i: &usize| joint.drive(commands[*i]).is_ok_and(|drive| which(drive.clamped));
            (0..commands.len()).filter(clamped).collect()
        };
        let fast = |i: &usize| {
            let [a, b] = [commands[*i - 1], commands[*i]];
            let rate = (b - a).abs() * rows_hz;
            rate.is_finite() && rate > joint.max_rate_per_s().unwrap() + 1e-4
        };
        [
            (0..commands.len()).filter(|i| !commands[*i].is_finite()).collect(),
            flags(|clamped| clamped.command),
            flags(|clamped| clamped.travel),
            (1..commands.len()).filter(fast).collect(),
        ]
    }

    fn rows(of: &[usize]) -> PathRows {
        PathRows {
            count: of.len(),
            first: of.first().copied(),
        }
    }

    proptest! {
        #[test]
        fn counts_what_a_look_at_each_row_finds(
            commands in prop::collection::vec(prop_oneof![8 => -60.0..80.0, 1 => Just(f64::NAN), 1 => Just(f64::INFINITY)], 0..40),
            inverted in any::<bool>(),
            rows_hz in 0.5..100.0,
        ) {
            let joint = wing::<f64>(inverted, Some(60.0));
            let found = joint.check_path(&commands, Some(rows_hz)).unwrap();
            let [not_finite, command, travel, fast] = slowly(&joint, &commands, rows_hz);
            prop_assert_eq!(found.rows, commands.len());
            prop_assert_eq!(found.not_finite, rows(&not_finite));
            prop_assert_eq!(found.beyond_command, rows(&command));
            prop_assert_eq!(found.beyond_travel, rows(&travel));
            prop_assert_eq!(found.too_fast, Some(rows(&fast)));
            let all = [not_finite, command, travel, fast];
            prop_assert_eq!(found.is_ok(), all.iter().all(Vec::is_empty));
        }
    }

    /// What a ramp of the joint gives is sent as it is, in both number types and through single precision.
    #[test]
    fn a_ramp_of_the_joint_keeps_all_limits() {
        for inverted in [false, true] {
            let (wide, narrow) = (wing::<f64>(inverted, Some(60.0)), wing::<f32>(inverted, Some(60.0)));
            let mut ramps = (
                JointRamp::new(&wide, 10.0, None, None, 30.0).unwrap(),
                JointRamp::new(&narrow, 10.0, None, None, 30.0).unwrap(),
            );
            let (mut commands, mut narrow_commands) = (Vec::new(), Vec::new());
            for target in [100.0, -100.0, 3.0, 59.0, -7.0] {
                for _ in 0..70 {
                    commands.push(ramps.0.follow(target).unwrap().value);
                    narrow_commands.push(ramps.1.follow(target as f32).unwrap().value);
                }
            }
            let check = narrow.check_path(&narrow_commands, Some(30.0)).unwrap();
            assert!(check.is_ok(), "{check}");
            let rounded: Vec<f64> = narrow_commands.iter().map(|x| f64::from(*x)).collect();
            assert_eq!(
                wide.check_path(&rounded, Some(30.0)).unwrap().too_fast.unwrap().count,
                0
            );
            let check = wide.check_path(&commands, Some(30.0)).unwrap();
            assert!(check.is_ok(), "{check}");
            let rate = check.largest_rate_per_s.unwrap();
            assert!((rate - 60.0).abs() < 1e-9, "{rate}");
            assert!(!wide.check_path(&commands, Some(30.01)).unwrap().is_ok());
        }
    }

    #[test]
    fn a_gap_begins_the_rate_anew_and_none_is_checked_without_one() {
        let joint = wing::<f64>(false, Some(60.0));
        let gap = [0.0, f64::NAN, 50.0, 50.5];
        let check = joint.check_path(&gap, Some(50.0)).unwrap();
        assert_eq!(
            (check.too_fast.unwrap().count, check.largest_rate_per_s),
            (0, Some(25.0))
        );
        assert_eq!((check.not_finite.first, check.is_ok()), (Some(1), false));
        let check = joint.check_path(&[0.0, 50.0], None).unwrap();
        assert_eq!(
            (check.too_fast, check.largest_rate_per_s, check.is_ok()),
            (None, None, true)
        );
        assert!(
            check
                .to_string()
                .contains("2 rows: within the command range and the travel; the rate was not checked")
        );
        let calm = wing::<f64>(false, None);
        let check = calm.check_path(&[0.0, 50.0], Some(50.0)).unwrap();
        assert_eq!((check.too_fast, check.largest_rate_per_s), (None, Some(2500.0)));
        let none = joint.check_path(&[], Some(50.0)).unwrap();
        assert!(none.is_ok() && none.rows == 0 && none.largest_rate_per_s.is_none());
        assert_eq!(
            joint.check_path(&[10.0], Some(50.0)).unwrap().to_string(),
            "1 row: within the command range, the travel and max_rate_per_s"
        );
        assert_eq!(
            joint.check_path(&[57.0, 59.0], Some(1.0)).unwrap().to_string(),
            "2 rows; 1 is beyond the travel, the first at index 1; correct the path before it is sent"
        );
    }

    #[test]
    fn rows_per_second_are_a_number_above_zero() {
        let joint = wing::<f64>(false, Some(60.0));
        for odd in [0.0, -50.0, f64::NAN, f64::INFINITY] {
            let refused = joint.check_path(&[10.0], Some(odd)).unwrap_err();
            assert_eq!(refused.code(), Code::OptionOutside);
        }
        assert_eq!(
            joint.check_path(&[10.0], Some(0.0)).unwrap_err().to_string(),
            "rows_hz is 0; give the rows of the path that are sent in a second, a finite number above 0"
        );
    }
}
