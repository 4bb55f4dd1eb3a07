//! Faults that the tests of this crate ask for; in a library that is handed out there are none.

/// Faults asked for by calls that only test builds have.
#[cfg(feature = "inject-panic")]
mod asked {
    use std::cell::Cell;

    std::thread_local! {
        static ARMED: Cell<bool> = const { Cell::new(false) };
        static FORGET: Cell<bool> = const { Cell::new(false) };
        static FORGOTTEN: Cell<bool> = const { Cell::new(false) };
    }

    /// Makes an error of the core in the next call of this thread one that has no status yet, as if the core were newer than the C
    /// interface around it. Only in test builds; not in the header.
    #[unsafe(no_mangle)]
    pub(super) extern "C" fn elb_test_forget_next() {
        FORGET.set(true);
    }

    pub(crate) fn forgotten() -> bool {
        FORGOTTEN.get()
    }

    /// Makes the next call of this thread panic. Only in test builds; not in the header.
    #[unsafe(no_mangle)]
    pub(super) extern "C" fn elb_test_panic_next() {
        ARMED.set(true);
    }

    #[allow(clippy::panic)] // This is what the tests ask for.
    pub(crate) fn inject() {
        FORGOTTEN.set(FORGET.replace(false));
        if ARMED.replace(false) {
            panic!("injected by a test");
        }
    }
}

#[cfg(feature = "inject-panic")]
pub(crate) use asked::{forgotten, inject};

#[cfg(not(feature = "inject-panic"))]
#[inline(always)]
pub(crate) fn inject() {}

/// Whether a test asks for an error that has no status yet.
#[cfg(not(feature = "inject-panic"))]
#[inline(always)]
pub(crate) const fn forgotten() -> bool {
    false
}
