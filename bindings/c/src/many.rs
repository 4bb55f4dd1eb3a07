//! Many joints at once.

use crate::fit::elb_fit;
use crate::guard::guard;
use crate::handle;
use crate::pointer;
use crate::readings::{Given, asked, elb_fit_options, elb_readings};
use crate::refusal::{Refusal, elb_error};
use crate::status::elb_status;

/// ---- Many joints at once ----
///
/// ----
///
/// Fits many joints: results in the order given; one failure does not affect the others.
///
/// - readings: `n` pointers, one to the readings of each joint.
/// - options: the options of every fit; NULL means the defaults.
/// - fits: `n` places, each receives a fit to be freed with elb_fit_free, or NULL where that joint failed.
/// - statuses: `n` places, each receives what elb_fit_limits would return for that joint.
/// - errors: `n` places, each receives the details where that joint failed; the others stay untouched.
/// - error: receives the details when the call as a whole fails; then no place is touched.
///
/// Returns ELB_STATUS_OK also when joints failed: their statuses say so.
///
/// Nullable: options, errors, error; an array without elements.
#[unsafe(no_mangle)]
#[must_use]
pub unsafe extern "C" fn elb_fit_many(
    readings: *const *const elb_readings,
    n: usize,
    options: *const elb_fit_options,
    fits: *mut *mut elb_fit,
    statuses: *mut elb_status,
    errors: *mut elb_error,
    error: *mut elb_error,
) -> elb_status {
    guard(error, || {
        pointer::check_array("fits", fits, n)?;
        pointer::check_array("statuses", statuses, n)?;
        if !errors.is_null() {
            pointer::check_array("errors", errors, n)?;
        }
        // SAFETY: the header's contract.
        let (joints, options) = unsafe { (pointer::array("readings", readings, n)?, asked(options)?) };
        // SAFETY: the header's contract.
        let given: Vec<Result<Given<'_>, Refusal>> =
            joints.iter().map(|joint| unsafe { Given::read(*joint) }).collect();
        let ready: Vec<_> = given.iter().flatten().map(Given::readings).collect();
        let mut found = model::fit::fit_many(&ready, &options).into_iter();
        for (i, joint) in given.into_iter().enumerate() {
            let result = joint.and_then(|_| match found.next() {
                Some(fit) => Ok(fit?),
                None => Err(Refusal::Fault(String::from("a joint without a result"))),
            });
            // SAFETY: checked above; each has `n` places by the header's contract.
            unsafe {
                match result {
                    Ok(fit) => {
                        handle::give(fits.add(i), elb_fit::from(fit));
                        pointer::put(statuses.add(i), elb_status::Ok);
                    }
                    Err(refusal) => {
                        pointer::put(fits.add(i), std::ptr::null_mut());
                        pointer::put(statuses.add(i), refusal.status());
                        if !errors.is_null() {
                            pointer::put(errors.add(i), refusal.record());
                        }
                    }
                }
            }
        }
        Ok(())
    })
}
