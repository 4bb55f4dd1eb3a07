//! The boundary that no panic crosses.

use crate::injected::inject;
use crate::refusal::{Refusal, Telling, elb_error};
use crate::status::elb_status;
use std::any::Any;
use std::panic::{AssertUnwindSafe, catch_unwind, set_hook};
use std::sync::Once;

/// Runs a call that may allocate or format, and says what came of it; details go to `error` unless that is null.
///
/// Unwind safety: handles are immutable and results are written last, so a panic leaves nothing half done.
pub(crate) fn guard(error: *mut elb_error, call: impl FnOnce() -> Result<(), Refusal>) -> elb_status {
    guard_telling(error, call)
}

/// [`guard`] for calls with refusals of their own.
pub(crate) fn guard_telling<R: Telling>(error: *mut elb_error, call: impl FnOnce() -> Result<(), R>) -> elb_status {
    stay_silent();
    match catch_unwind(AssertUnwindSafe(|| {
        inject();
        call()
    })) {
        Ok(Ok(())) => elb_status::Ok,
        Ok(Err(refusal)) => told(error, &refusal),
        Err(payload) => told(error, &Refusal::Fault(words_of(payload))),
    }
}

fn told(error: *mut elb_error, refusal: &impl Telling) -> elb_status {
    if !error.is_null() && error.is_aligned() {
        // SAFETY: by the header's contract a non-null `error` points to a writable `elb_error`.
        unsafe { error.write(refusal.record()) };
    }
    refusal.status()
}

/// Runs a call of the control loop: no formatting, no allocation, nothing but its status.
#[inline(always)]
pub(crate) fn quick(call: impl FnOnce() -> Result<(), elb_status>) -> elb_status {
    match catch_unwind(AssertUnwindSafe(|| {
        inject();
        call()
    })) {
        Ok(Ok(())) => elb_status::Ok,
        Ok(Err(status)) => status,
        Err(payload) => {
            drop(words_of(payload));
            elb_status::InternalFault
        }
    }
}

/// What a panic said.
#[cold]
fn words_of(payload: Box<dyn Any + Send>) -> String {
    let words = payload
        .downcast_ref::<&str>()
        .map(|words| String::from(*words))
        .or_else(|| payload.downcast_ref::<String>().cloned())
        .unwrap_or_default();
    // A payload whose own drop panics must not get out either.
    std::mem::forget(payload);
    words
}

/// A library prints nothing: replaces the message that Rust writes to stderr on a panic.
///
/// The hook belongs to this library's own copy of the Rust runtime. Control loop calls need not ask: no handle exists
/// before a call that went through here.
fn stay_silent() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| set_hook(Box::new(|_| ())));
}
