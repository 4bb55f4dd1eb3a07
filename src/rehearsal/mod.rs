//! The whole bring-up against a virtual joint, healthy or broken, from a seed.
//!
//! ```
//! use elbowroom::bring_up::{Fault, Session, Verdict};
//! use elbowroom::rehearsal::{Person, Rehearsal};
//! let Rehearsal { mut joint, plan } = Rehearsal::faulty(Fault::RangeBlocked, 7)?;
//! let mut person = Person::new(0.0, 7);
//! let mut session = Session::new(plan)?;
//! while let Some(report) = person.carry_out(&session.next(), &mut joint) {
//!     session.report(report)?;
//! }
//! let outcome = session.outcome().unwrap();
//! assert!(matches!(outcome.verdict, Verdict::Faulty { fault: Fault::RangeBlocked, .. }));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod chance;
mod fault;
mod joint;
mod person;

pub use fault::Rehearsal;
pub use joint::{VirtualJoint, VirtualRecord};
pub use person::Person;
