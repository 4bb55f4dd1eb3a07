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
//!
//! # Figures
//! Printed by `cargo bench --bench rehearsal --features rehearsal -- 12000`; a larger number runs more seeds.
//!
//! | 12,000 healthy joints, seeds 0 to 11,999 | |
//! | --- | --- |
//! | rejected | 4 (0.03 %) |
//! | furthest command beyond a true contact | 1.57 steps; stated: 2 |
//! | final travel outside the stops | 0 |
//! | ends found by contact | 23,992 of 23,992 |
//! | true contact within the 95 % interval | 99.4 % |
//! | found less true, root mean square | 0.045 deg |
//!
//! The intervals cover more than they promise, because what a hard stop gives is allowed for in full.
//!
//! | 200 seeds each | found | named | named, 5 % of the answers wrong |
//! | --- | --- | --- | --- |
//! | wires-swapped | 100 % | 100 % | 99 % |
//! | wiper-open | 100 % | 99.5 % | 99.5 % |
//! | wiper-noisy | 100 % | 100 % | 99 % |
//! | horn-slipped | 100 % | 100 % | 100 % |
//! | stop-moved | 100 % | 100 % | 99 % |
//! | range-blocked | 100 % | 100 % | 99 % |
//! | gear-stripped | 100 % | 100 % | 100 % |
//! | supply-sag | 100 % | 100 % | 99 % |
//! | channel-swapped | 100 % | 100 % | 99 % |
//! | sensor-runs-out | 100 % | 99 % | 98 % |
//!
//! Horn, moved stop and blocked range are told by what an earlier bring-up left ([`Known`](crate::bring_up::Known));
//! without that, a horn on another tooth is not to be told from one that was always there. A worn spot narrower than the
//! sweep's pitch may be missed.
//!
//! Probes of a stop search against equal steps of its finest width, stops 1 to 60 deg away, mean:
//!
//! | step | finest | probes | at most | equal steps |
//! | --- | --- | --- | --- | --- |
//! | 1 | 0.25 | 33.0 | 62 | 122.4 |
//! | 2.5 | 0.5 | 15.7 | 27 | 61.5 |
//! | 2.5 | 0.25 | 16.7 | 28 | 122.4 |
//! | 4 | 0.25 | 12.1 | 19 | 122.4 |
//! | 4 | 0.1 | 14.1 | 21 | 305.5 |

mod chance;
mod fault;
mod joint;
mod person;

pub use fault::Rehearsal;
pub use joint::{VirtualJoint, VirtualRecord};
pub use person::Person;
