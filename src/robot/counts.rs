//! All joints of a robot in one call: what a control loop sends in each cycle.

use super::Robot;
use crate::error::ConvertError;
use crate::joint::Conversion;

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

    /// The same for places of any form, which `put` fills in file order.
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
    use crate::joint::Clamped;

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
