//! All joints of a robot in one call: what a control loop sends in each cycle.

use super::Robot;
use crate::conversion::Conversion;
use crate::error::ConvertError;
use crate::path::PathCheck;
use std::vec::Vec;

impl Robot {
    /// The timer counts of all joints. *Shape*: a command and a place for each joint, in file order. *Unit*: each command in its
    /// joint's own unit.
    ///
    /// The same as [`Joint::counts`](crate::Joint::counts) of each joint in turn. Allocates nothing.
    ///
    /// # Errors
    /// [`ConvertError::LengthMismatch`], with nothing written; [`ConvertError::NotFiniteAt`] with the index of the joint whose
    /// command is NaN or infinite: all before it are written, it and the rest are not touched.
    ///
    /// ```
    /// # use elbowroom::{Conversion, robot::Robot};
    /// # let robot = Robot::parse(r#"format = 1
    /// # timer = { frame_hz = 50, counts_per_frame = 4096 }
    /// # servo = { angle = [0, 180], pulse_us = [500, 2500] }
    /// # [joint.wing_left]
    /// # command = [-40, 60]
    /// # drive = [37, 122]
    /// # rest = 10
    /// # [joint.wing_right]
    /// # command = [-40, 60]
    /// # drive = [37, 122]
    /// # inverted = true
    /// # rest = 10
    /// # "#)?;
    /// let mut counts = [Conversion::default(); 2];
    /// robot.counts(&[10.0, 90.0], &mut counts)?;
    /// assert_eq!(counts.map(|count| count.value), [283, 187]);
    /// assert!(!counts[0].clamped.any() && counts[1].clamped.command);
    /// let refused = robot.counts(&[10.0, f64::NAN], &mut counts).unwrap_err();
    /// assert!(matches!(refused, elbowroom::ConvertError::NotFiniteAt { index: 1, .. }));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn counts(&self, commands: &[f64], out: &mut [Conversion<u32>]) -> Result<(), ConvertError> {
        if commands.len() != out.len() {
            return Err(ConvertError::LengthMismatch {
                given: commands.len(),
                room: out.len(),
            });
        }
        let mut places = out.iter_mut();
        self.each_count(commands, |count| {
            if let Some(place) = places.next() {
                *place = count;
            }
        })
    }

    /// What is wrong with the rows of a path of all joints: [`Joint::check_path`](crate::Joint::check_path) of each joint, in file
    /// order. *Shape*: `(n_rows x n_joints)`, row after row, a command for each joint in file order. *Unit*: each command in its
    /// joint's own unit.
    ///
    /// # Errors
    /// [`ConvertError::LengthMismatch`] if the last row is not whole; [`ConvertError::RowsHz`].
    ///
    /// ```
    /// # use elbowroom::robot::Robot;
    /// # let robot = Robot::parse(r#"format = 1
    /// # timer = { frame_hz = 50, counts_per_frame = 4096 }
    /// # servo = { angle = [0, 180], pulse_us = [500, 2500] }
    /// # [joint.wing_left]
    /// # command = [-40, 60]
    /// # drive = [37, 122]
    /// # rest = 10
    /// # [joint.wing_right]
    /// # command = [-40, 60]
    /// # drive = [37, 122]
    /// # inverted = true
    /// # rest = 10
    /// # "#)?;
    /// let checks = robot.check_path(&[10.0, 10.0, 11.0, 61.0, 12.0, 62.0], Some(50.0))?;
    /// assert!(checks[0].is_ok());
    /// assert_eq!((checks[1].beyond_command.count, checks[1].beyond_command.first), (2, Some(1)));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn check_path(&self, commands: &[f64], rows_hz: Option<f64>) -> Result<Vec<PathCheck<f64>>, ConvertError> {
        let joints = self.joints.len();
        let over = commands.len().checked_rem(joints).unwrap_or(commands.len());
        if over != 0 {
            return Err(ConvertError::LengthMismatch {
                given: over,
                room: joints,
            });
        }
        let of = |(column, entry): (usize, &super::JointEntry)| {
            let rows = commands.iter().skip(column).step_by(joints).copied();
            PathCheck::of(&entry.joint, rows, rows_hz)
        };
        self.joints.iter().enumerate().map(of).collect()
    }

    /// [`Robot::counts`] for places of any form, which `put` fills in file order.
    ///
    /// # Errors
    /// Those of [`Robot::counts`].
    #[inline]
    #[doc(hidden)]
    pub fn each_count(&self, commands: &[f64], mut put: impl FnMut(Conversion<u32>)) -> Result<(), ConvertError> {
        if commands.len() != self.joints.len() {
            return Err(ConvertError::LengthMismatch {
                given: commands.len(),
                room: self.joints.len(),
            });
        }
        for (index, (entry, &command)) in self.joints.iter().zip(commands).enumerate() {
            put(entry.joint.counts(command).map_err(|error| error.at(index))?);
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::conversion::Clamped;

    #[test]
    fn a_path_whose_last_row_is_not_whole_is_refused() {
        let robot = Robot::parse(TWO).unwrap();
        let refused = robot.check_path(&[10.0; 5], None).unwrap_err();
        assert_eq!(refused, ConvertError::LengthMismatch { given: 1, room: 2 });
        assert!(robot.check_path(&[], None).unwrap().iter().all(|check| check.rows == 0));
        let checks = robot
            .check_path(&[10.0, 10.0, f64::NAN, 99.0, 12.0, f64::NAN], None)
            .unwrap();
        let firsts: Vec<_> = checks
            .iter()
            .map(|c| (c.not_finite.first, c.beyond_command.first))
            .collect();
        assert_eq!(firsts, [(Some(1), None), (Some(2), Some(1))]);
        assert!(Robot::new("empty").unwrap().check_path(&[1.0], None).is_err());
    }

    const TWO: &str = "format = 1\ntimer = { frame_hz = 50, counts_per_frame = 4096 }\n\
        servo = { angle = [0, 180], pulse_us = [500, 2500] }\n\
        [joint.a]\ncommand = [-40, 60]\ndrive = [37, 122]\ntravel = [40.2, 119]\nrest = 10\n\
        [joint.b]\ncommand = [-40, 60]\ndrive = [37, 122]\nrest = 10\n\
        transmission = { kind = \"curve\", knots = [[-40, 37], [0, 80], [60, 122]] }\n";

    #[test]
    fn counts_are_those_of_each_joint() {
        let robot = Robot::parse(TWO).unwrap();
        let mut out = [Conversion::default(); 2];
        for command in [-1e9, -40.0, -36.3, 0.0, 10.0, 56.5, 60.0, 1e9] {
            robot.counts(&[command; 2], &mut out).unwrap();
            for (entry, found) in robot.joints().iter().zip(out) {
                let drive = entry.joint().drive(command).unwrap();
                assert_eq!(found, entry.joint().count_of(drive), "{} {command}", entry.name());
            }
        }
        assert_eq!(
            out[0].clamped,
            Clamped {
                command: true,
                travel: true
            }
        );
    }

    #[test]
    fn a_refused_command_names_its_joint() {
        let robot = Robot::parse(TWO).unwrap();
        let before = Conversion {
            value: 7,
            clamped: Clamped::default(),
        };
        let mut out = [before; 2];
        let refused = robot.counts(&[10.0, f64::INFINITY], &mut out).unwrap_err();
        assert!(matches!(refused, ConvertError::NotFiniteAt { index: 1, .. }));
        assert!(out[0].value == 283 && out[1] == before);
        out = [before; 2];
        assert!(robot.counts(&[10.0], &mut out[..1]).is_err());
        assert!(robot.counts(&[10.0; 2], &mut out[..1]).is_err());
        assert!(robot.counts(&[10.0; 3], &mut [before; 3]).is_err());
        assert_eq!(out, [before; 2]);
    }
}
