//! From command to duty cycle on a microcontroller, over `embedded-hal`: no `std`, no heap.
//!
//! A firmware takes this file as it is, gives it the PWM channel of its board, and calls [`JointPin::command`]. `tests/duty_cycle.rs`
//! runs it against a pin that records what it is told.
//!
//! **This computes; it cannot stop a motor.** Unload the drive before the first move, keep a hand on the power switch, and make that
//! move slow.
#![cfg_attr(not(test), no_std)]

use elbowroom::{Clamped, ConvertError, Joint};
use embedded_hal::pwm::SetDutyCycle;

/// A joint on a PWM channel whose period is the joint's frame.
#[derive(Debug)]
pub struct JointPin<P> {
    joint: Joint<f32>,
    pin: P,
}

/// The channel counts to another number than the joint's timer: every pulse would have another width.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TimerUnlike {
    /// Steps of the channel's duty cycle.
    pub max_duty_cycle: u16,
    /// Counts of the joint's frame.
    pub counts_per_frame: u32,
}

/// Why a command did not reach the motor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CommandError<E> {
    /// It is no number; the pin keeps its pulse.
    Command(ConvertError),
    /// The count has more than 16 bits.
    CountTooWide(u32),
    /// The pin refused.
    Pin(E),
}

impl<P: SetDutyCycle> JointPin<P> {
    /// Joins the two. Nothing is sent yet.
    ///
    /// # Errors
    /// [`TimerUnlike`] if the channel's steps are not the counts of the joint's frame.
    pub fn new(joint: Joint<f32>, pin: P) -> Result<Self, TimerUnlike> {
        let (max_duty_cycle, counts_per_frame) = (pin.max_duty_cycle(), joint.timer().counts_per_frame());
        if u32::from(max_duty_cycle) != counts_per_frame {
            return Err(TimerUnlike {
                max_duty_cycle,
                counts_per_frame,
            });
        }
        Ok(Self { joint, pin })
    }

    /// Sends the pulse of a command, held to command range and travel; says what held it.
    ///
    /// # Errors
    /// [`CommandError`]; the pulse stays what it was.
    pub fn command(&mut self, command: f32) -> Result<Clamped, CommandError<P::Error>> {
        let counts = self.joint.counts(command).map_err(CommandError::Command)?;
        let duty = u16::try_from(counts.value).map_err(|_| CommandError::CountTooWide(counts.value))?;
        self.pin.set_duty_cycle(duty).map_err(CommandError::Pin)?;
        Ok(counts.clamped)
    }

    /// Sends the rest command.
    ///
    /// # Errors
    /// As [`JointPin::command`].
    pub fn rest(&mut self) -> Result<Clamped, CommandError<P::Error>> {
        self.command(self.joint.rest())
    }

    /// Sends no pulse: most servos then hold nothing, and a loaded joint falls.
    ///
    /// # Errors
    /// What the pin says.
    pub fn release(&mut self) -> Result<(), P::Error> {
        self.pin.set_duty_cycle_fully_off()
    }
}
