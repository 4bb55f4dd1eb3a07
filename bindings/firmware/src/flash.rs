//! The flash of an AVR, which pointers do not reach: it has addresses of its own, and the instruction LPM.

use crate::calls::{check, conversion, counts, elb_block_conversion, give, joint};
use crate::status::elb_status;
use core::arch::asm;
use model::block::{Image, Part, bytes_of_parts};

/// An image in the first 64 kB of flash.
#[derive(Clone, Copy)]
struct Flash {
    at: u16,
    length: usize,
}

/// Bytes of it that are known to be there.
#[derive(Clone, Copy)]
struct FlashPart<const N: usize> {
    at: u16,
}

impl Image for Flash {
    type Part<const N: usize> = FlashPart<N>;

    #[inline]
    fn length(self) -> usize {
        self.length
    }

    #[inline]
    fn part<const N: usize>(self, at: usize) -> Option<FlashPart<N>> {
        let room = self.length.checked_sub(at)?;
        (N <= room).then(|| FlashPart {
            at: self.at.wrapping_add(at as u16),
        })
    }

    #[inline]
    fn parts<const N: usize>(self, at: usize, count: u16) -> Option<impl Iterator<Item = FlashPart<N>>> {
        let bytes = bytes_of_parts::<N>(count, self.length.checked_sub(at)?)?;
        let at = self.at.wrapping_add(at as u16);
        let end = at.wrapping_add(bytes as u16);
        Some(FlashParts { at, end })
    }
}

/// Parts up to an end, which is a whole number of them away.
struct FlashParts<const N: usize> {
    at: u16,
    end: u16,
}

impl<const N: usize> Iterator for FlashParts<N> {
    type Item = FlashPart<N>;

    #[inline]
    fn next(&mut self) -> Option<FlashPart<N>> {
        let at = self.at;
        if at == self.end {
            return None;
        }
        self.at = at.wrapping_add(N as u16);
        Some(FlashPart { at })
    }
}

impl<const N: usize> Part for FlashPart<N> {
    #[inline]
    fn bytes<const M: usize>(self, at: usize) -> [u8; M] {
        let mut bytes = [0; M];
        if at + M <= N {
            let mut from = self.at.wrapping_add(at as u16);
            for byte in &mut bytes {
                // SAFETY: LPM reads flash and has no other effect; the address lies within the image.
                unsafe {
                    asm!("lpm {byte}, Z+", byte = out(reg) *byte, inout("Z") from, options(pure, readonly, nostack, preserves_flags));
                }
            }
        }
        bytes
    }

    // One after the other, into registers: several times as fast as a loop over bytes in memory.
    #[inline(always)]
    fn byte(self, at: usize) -> u8 {
        if at + 1 > N {
            return 0;
        }
        let byte;
        // SAFETY: as above.
        unsafe {
            asm!("lpm {}, Z", out(reg) byte, in("Z") self.at.wrapping_add(at as u16), options(pure, readonly, nostack, preserves_flags));
        }
        byte
    }

    #[inline(always)]
    fn u16_at(self, at: usize) -> u16 {
        if at + 2 > N {
            return 0;
        }
        let word;
        // SAFETY: as above.
        unsafe {
            asm!("lpm {0:l}, Z+", "lpm {0:h}, Z+", out(reg_pair) word, inout("Z") self.at.wrapping_add(at as u16) => _,
                options(pure, readonly, nostack, preserves_flags));
        }
        word
    }

    #[inline(always)]
    fn u32_at(self, at: usize) -> u32 {
        if at + 4 > N {
            return 0;
        }
        let (low, high): (u16, u16);
        // SAFETY: as above.
        unsafe {
            asm!("lpm {0:l}, Z+", "lpm {0:h}, Z+", "lpm {1:l}, Z+", "lpm {1:h}, Z+", out(reg_pair) low, out(reg_pair) high,
                inout("Z") self.at.wrapping_add(at as u16) => _, options(pure, readonly, nostack, preserves_flags));
        }
        u32::from(high) << 16 | u32::from(low)
    }
}

/// The calls of `calls` once more, with the block in flash: `elb_block_counts_flash` for `elb_block_counts`.
macro_rules! calls {
    ($($name:ident($($given:ident: $type:ty),*) -> $out:ty = |$joint:ident| $answer:expr;)*) => {$(
        #[unsafe(no_mangle)]
        unsafe extern "C" fn $name(block: *const u8, length: usize, channel: u16, $($given: $type,)* out: *mut $out) -> elb_status {
            let image = Flash { at: block as usize as u16, length };
            // SAFETY: the header's contract.
            unsafe {
                give(out, || {
                    let $joint = joint(image, channel)?;
                    $answer
                })
            }
        }
    )*};
}

calls! {
    elb_block_counts_flash(command: f32) -> u16 = |joint| counts(joint, command);
    elb_block_pulse_us_flash(command: f32) -> f32 = |joint| Ok(joint.pulse_us(command)?.value);
    elb_block_convert_flash(command: f32) -> elb_block_conversion = |joint| conversion(joint, command);
    elb_block_step_flash(from: f32, target: f32, seconds: f32) -> f32 = |joint| Ok(joint.step(from, target, seconds)?.value);
    elb_block_rest_flash() -> f32 = |joint| Ok(joint.rest());
    elb_block_command_from_reading_flash(reading: f32) -> f32 = |joint| Ok(joint.command_from_reading(reading)?);
    elb_block_command_from_counts_flash(counts: u32) -> f32 = |joint| Ok(joint.command_from_counts(counts));
    elb_block_command_from_pulse_us_flash(pulse_us: f32) -> f32 = |joint| Ok(joint.command_from_pulse_us(pulse_us));
    elb_block_command_from_drive_flash(drive: f32) -> f32 = |joint| Ok(joint.command_from_drive(drive));
}

#[unsafe(no_mangle)]
unsafe extern "C" fn elb_block_check_flash(block: *const u8, length: usize) -> elb_status {
    check(Flash {
        at: block as usize as u16,
        length,
    })
}
