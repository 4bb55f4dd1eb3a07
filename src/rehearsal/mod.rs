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
//! Printed by `cargo bench --bench rehearsal --features rehearsal`; a number after `--` runs so many seeds. They do not depend
//! on the number of cores.
//!
//! | healthy joints, seeds from 0 | 100,000 | 10,000, 5 % of the answers wrong |
//! | --- | --- | --- |
//! | rejected | 25 (0.03 %) | 17 (0.17 %) |
//! | furthest command beyond a true contact | 1.61 steps; stated: 2 | 1.61 steps |
//! | final travel outside the stops | 0 | 0 |
//! | ends found by contact | 199,950 of 199,950 | 19,966 of 19,966 |
//! | true contact within the 95 % interval | 100.0 % | 100.0 % |
//! | found less true, root mean square | 0.044 deg | 0.045 deg |
//! | stated standard uncertainty, mean | 0.058 deg | 0.058 deg |
//!
//! Those who err mostly turn the sensor the wrong way in the sense test; it is made again from where it began, up to three
//! times, and so they cost little.
//!
//! The intervals cover more than they promise, for two reasons that no reading can remove. A stop may give between nothing and
//! 5 % of the way it is pressed, the same at each reading; its half-width is added to that of the readings, so that the interval
//! holds for the hardest and for the softest stop and not only for the average stop. And one step of the converter enters as a
//! rectangular distribution common to all readings, which it is where there is no noise; noise helps readings out of their steps.
//! The standard uncertainty takes the give as a rectangular distribution; so at both ends of it the error is larger than the
//! standard uncertainty, and midway smaller (2,000 joints each):
//!
//! | give | noise, steps | within the 95 % interval | error in standard uncertainties |
//! | --- | --- | --- | --- |
//! | none | none | 98.2 % | 1.30 |
//! | none | 0.8 | 98.4 % | 1.40 |
//! | 2.5 % | none | 100 % | 0.67 |
//! | 2.5 % | 0.8 | 99.9 % | 0.70 |
//! | 5 % | none | 99.8 % | 1.06 |
//! | 5 % | 0.8 | 99.8 % | 1.32 |
//!
//! | 200 seeds each | found | named | found, 5 % of the answers wrong | named |
//! | --- | --- | --- | --- | --- |
//! | wires-swapped | 100 % | 100 % | 100 % | 100 % |
//! | wiper-open | 100 % | 99.5 % | 100 % | 99.5 % |
//! | wiper-noisy | 100 % | 100 % | 100 % | 100 % |
//! | horn-slipped | 100 % | 100 % | 100 % | 100 % |
//! | stop-moved | 100 % | 100 % | 100 % | 100 % |
//! | range-blocked | 100 % | 100 % | 100 % | 100 % |
//! | gear-stripped | 100 % | 100 % | 100 % | 100 % |
//! | supply-sag | 100 % | 100 % | 100 % | 100 % |
//! | channel-swapped | 100 % | 100 % | 100 % | 100 % |
//! | sensor-runs-out | 100 % | 100 % | 100 % | 100 % |
//!
//! Horn, moved stop and blocked range are recognised by what an earlier bring-up found ([`Baseline`](crate::bring_up::Baseline));
//! without that, a horn on another tooth cannot be distinguished from one that was always there. A worn spot narrower than the
//! sweep's step may be missed.
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
mod typist;

pub use fault::Rehearsal;
pub use joint::{VirtualJoint, VirtualRecord};
pub use person::Person;
pub use typist::{BenchKind, BenchRehearsal, Typist};
