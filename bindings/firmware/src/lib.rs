//! The C library for microcontrollers: the `elb_block_*` calls and nothing else.
//!
//! Built for boards by `bindings/firmware/build`. On a computer the same crate is an ordinary static library, with which
//! the tests attack the calls.
#![cfg_attr(target_os = "none", no_std)]
#![cfg_attr(target_arch = "avr", feature(asm_experimental_arch))]
#![allow(non_camel_case_types)] // The type names are the C names.
#![allow(clippy::missing_safety_doc)] // Every exported function has one contract, the header's.

pub mod calls;
#[cfg(target_arch = "avr")]
pub mod flash;
#[cfg(any(target_arch = "avr", test))]
mod float;
pub mod status;

/// Proves that nothing panics: this symbol exists nowhere, so that a program in which anything can panic does not link,
/// and an archive that does not refer to it holds no panic. Checked by `bindings/firmware/build`.
#[cfg(target_os = "none")]
#[panic_handler]
fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
    unsafe extern "C" {
        fn elb_block_can_panic() -> !;
    }
    // SAFETY: never linked, hence never called.
    unsafe { elb_block_can_panic() }
}
