//! The bare search for a stop: where to probe next, from what was clear and what met the stop.
//!
//! # The bound on overtravel
//! Let `t` be the true contact, outward positive, and let every probe be judged right: *clear* if it lies at or before
//! `t`, *contact* if beyond. Then `clear <= t` holds at the start and after every report, and a probe lies at most
//! `step` beyond `clear`. So no probe lies more than one `step` beyond the true contact, and none beyond `search_limit`.
//! If a probe up to `slack` beyond the contact may be judged clear, then `clear <= t + slack` instead, and no probe lies
//! more than `step + slack` beyond.
//!
//! # The bound on probes
//! Until the first contact each clear probe but the last brings `clear` one `step` outward: at most
//! ceil((search_limit - clear) / step) probes, the one that met contact among them. From then on each probe halves what lies
//! between clear and contact, at most `step`, until no more than `tolerance` is left: at most ceil(log2(step / tolerance))
//! probes. The sum is [`Bracket::most_probes`]. Both bounds are held by property tests below.

use super::error::BringUpError;
use super::with::with;
use crate::span::Side;

/// What a probe found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
pub enum Found {
    /// The joint followed.
    Clear,
    /// The joint stayed behind: it met something.
    Contact,
}

/// What is to be searched. *Unit*: deg of drive angle.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct BracketPlan {
    /// Which stop.
    pub toward: Side,
    /// The outermost angle known to be clear.
    pub clear: f64,
    /// The angle that is never passed, whatever is found.
    pub search_limit: f64,
    /// The longest way a probe may go beyond what is clear.
    pub step: f64,
    /// The search is over when no more than this lies between clear and contact.
    pub tolerance: f64,
}

with! {
    BracketPlan {
        with_step step: f64,
        with_tolerance tolerance: f64,
    }
}

impl BracketPlan {
    /// The usual plan (default; verify against the data sheet): steps of 2.5 deg, a stop bracketed to 0.5.
    pub const fn new(toward: Side, clear: f64, search_limit: f64) -> Self {
        Self {
            toward,
            clear,
            search_limit,
            step: 2.5,
            tolerance: 0.5,
        }
    }
}

/// The state of a search.
///
/// ```
/// use elbowroom::bring_up::{Bracket, BracketPlan, Found, Side};
/// let plan = BracketPlan::new(Side::Upper, 70.0, 90.0).with_step(4.0);
/// let mut search = Bracket::new(plan)?;
/// while let Some(angle) = search.probe() {
///     search.report(if angle > 80.3 { Found::Contact } else { Found::Clear })?;
/// }
/// assert_eq!((search.clear(), search.contact()), (80.0, Some(80.5)));
/// assert!(search.probes() <= search.most_probes());
/// # Ok::<(), elbowroom::bring_up::BringUpError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(remote = "Self", deny_unknown_fields)
)]
pub struct Bracket {
    plan: BracketPlan,
    clear: f64,
    #[cfg_attr(feature = "serde", serde(deserialize_with = "super::saved::given"))]
    contact: Option<f64>,
    probes: u32,
    stopped: bool,
}

impl Bracket {
    /// The most coarse steps that a plan may need; more is a mistake in a unit.
    const MOST_STEPS: f64 = 100_000.0;
    /// `tolerance` over `step` at the least: 2^-20, twenty halvings.
    const TOLERANCE_PART: f64 = 1.0 / 1_048_576.0;

    /// Checks a plan.
    ///
    /// # Errors
    /// Numbers that are not finite or not above zero, `tolerance` above `step`, a `search_limit` not outward of `clear`.
    pub fn new(plan: BracketPlan) -> Result<Self, BringUpError> {
        BringUpError::finite("clear", plan.clear)?;
        BringUpError::finite("search_limit", plan.search_limit)?;
        BringUpError::positive("step", plan.step)?;
        BringUpError::positive("tolerance", plan.tolerance)?;
        BringUpError::within("tolerance", plan.tolerance, plan.step * Self::TOLERANCE_PART, plan.step)?;
        match plan.toward {
            Side::Upper => BringUpError::within("search_limit", plan.search_limit, plan.clear, crate::bring_up::MOST)?,
            Side::Lower => BringUpError::within("search_limit", plan.search_limit, f64::MIN, plan.clear)?,
        };
        let way = (plan.search_limit - plan.clear).abs();
        BringUpError::within("step", plan.step, way / Self::MOST_STEPS, crate::bring_up::MOST)?;
        Ok(Self {
            plan,
            clear: plan.clear,
            contact: None,
            probes: 0,
            stopped: false,
        })
    }

    /// What holds after every report.
    #[cfg(feature = "serde")]
    pub(super) fn check(&self) -> Result<(), BringUpError> {
        let plan = Self::new(self.plan)?.plan;
        // Roundings of the sums of steps.
        const ROUNDED: f64 = 1.0 + 1e-9;
        BringUpError::within("probes", self.probes.into(), 0.0, self.most_probes().into())?;
        let sign = plan.toward.sign();
        let outward = |from: f64, to: f64| (to - from) * sign;
        let most = (plan.step * f64::from(self.probes) * ROUNDED).min(outward(plan.clear, plan.search_limit));
        BringUpError::finite("clear", self.clear)?;
        BringUpError::within(
            "way from the first clear to clear",
            outward(plan.clear, self.clear),
            0.0,
            most,
        )?;
        if let Some(contact) = self.contact {
            BringUpError::finite("contact", contact)?;
            BringUpError::positive("probes", self.probes.into())?;
            let way = outward(self.clear, contact);
            BringUpError::positive("way from clear to contact", way)?;
            let most = (plan.step * ROUNDED).min(outward(self.clear, plan.search_limit));
            BringUpError::within("way from clear to contact", way, 0.0, most)?;
        }
        Ok(())
    }

    /// The next angle to probe, or nothing when the search is over.
    pub fn probe(&self) -> Option<f64> {
        if self.stopped {
            return None;
        }
        let (from, sign) = (self.clear, self.plan.toward.sign());
        let to = match self.contact {
            Some(contact) if (contact - from).abs() <= self.plan.tolerance => return None,
            Some(contact) => from + (contact - from) / 2.0,
            None if (self.plan.search_limit - from) * sign <= 0.0 => return None,
            None if (self.plan.search_limit - from) * sign <= self.plan.step => self.plan.search_limit,
            None => from + sign * self.plan.step,
        };
        // Two neighbouring floats have no middle.
        (to != from && Some(to) != self.contact).then_some(to)
    }

    /// Takes what the probe found.
    ///
    /// # Errors
    /// [`BringUpError::Done`] when nothing was to be probed.
    pub fn report(&mut self, found: Found) -> Result<(), BringUpError> {
        let at = self.probe().ok_or(BringUpError::Done)?;
        self.probes += 1;
        match found {
            Found::Clear => self.clear = at,
            Found::Contact => self.contact = Some(at),
        }
        Ok(())
    }

    /// Ends the search here; what is known stays known.
    pub fn stop(&mut self) {
        self.stopped = true;
    }

    /// The outermost angle found clear, or given as clear.
    pub fn clear(&self) -> f64 {
        self.clear
    }

    /// The innermost angle at which contact was found.
    pub fn contact(&self) -> Option<f64> {
        self.contact
    }

    /// Probes so far.
    pub fn probes(&self) -> u32 {
        self.probes
    }

    /// The plan.
    pub fn plan(&self) -> &BracketPlan {
        &self.plan
    }

    /// The most probes that this search can take, whatever is found.
    pub fn most_probes(&self) -> u32 {
        let outward = ceil_count((self.plan.search_limit - self.plan.clear).abs() / self.plan.step);
        let (mut halvings, mut left) = (0, self.plan.step);
        // `tolerance` is at least step / 2^20.
        for _ in 0..20 {
            if left <= self.plan.tolerance {
                break;
            }
            left /= 2.0;
            halvings += 1;
        }
        // One more of each for what rounding may add to a sum of steps and to a difference.
        outward + halvings + 2
    }
}

fn ceil_count(x: f64) -> u32 {
    let whole = x as u32;
    if f64::from(whole) < x { whole + 1 } else { whole }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    prop_compose! {
        fn plan()(clear in -90.0..90.0, way in 0.5..120.0, step in 0.2..10.0, part in 0.01..1.0, upper: bool)
            -> BracketPlan {
            let toward = if upper { Side::Upper } else { Side::Lower };
            BracketPlan { toward, clear, search_limit: clear + toward.sign() * way, step, tolerance: step * part }
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(5000))]

        #[test]
        fn no_probe_passes_the_stop_by_more_than_a_step(plan in plan(), stop in 0.0..140.0, slack in 0.0..3.0,
                                                        wobble in prop::collection::vec(0.0..1.0, 64)) {
            let sign = plan.toward.sign();
            let contact = plan.clear + sign * stop;
            let mut search = Bracket::new(plan).unwrap();
            let most = search.most_probes();
            let mut wobble = wobble.into_iter().cycle();
            while let Some(probe) = search.probe() {
                let past = (probe - contact) * sign;
                let inside_bound = (plan.search_limit - probe) * sign >= 0.0;
                prop_assert!(inside_bound, "{probe} is beyond the search limit");
                prop_assert!(past <= plan.step + slack + 1e-9, "{past} past the stop with step {}", plan.step);
                prop_assert!((probe - search.clear()).abs() <= plan.step * (1.0 + 1e-9), "more than a step from clear");
                // A probe up to `slack` beyond the contact may be judged either way.
                let judged_past = past - slack * wobble.next().unwrap() > 0.0;
                search.report(if judged_past { Found::Contact } else { Found::Clear }).unwrap();
                prop_assert!(search.probes() <= most, "more than {most} probes");
            }
            prop_assert!(search.report(Found::Clear).is_err());
            match search.contact() {
                Some(met) => {
                    prop_assert!((met - search.clear()).abs() <= plan.tolerance * (1.0 + 1e-9));
                    prop_assert!((search.clear() - contact) * sign <= slack + 1e-9);
                    prop_assert!((met - contact) * sign >= -1e-9);
                }
                None => prop_assert_eq!(search.clear(), plan.search_limit),
            }
        }

        #[test]
        fn it_ends_whatever_is_reported(plan in plan(), found in prop::collection::vec(any::<bool>(), 64)) {
            let mut search = Bracket::new(plan).unwrap();
            let mut found = found.into_iter().cycle();
            while search.probe().is_some() {
                search.report(if found.next().unwrap() { Found::Contact } else { Found::Clear }).unwrap();
                prop_assert!(search.probes() <= search.most_probes());
            }
        }

        #[test]
        fn it_may_be_stopped_at_any_time(plan in plan(), after in 0u32..20) {
            let mut search = Bracket::new(plan).unwrap();
            for _ in 0..after {
                if search.probe().is_some() {
                    search.report(Found::Clear).unwrap();
                }
            }
            search.stop();
            prop_assert_eq!(search.probe(), None);
        }
    }

    #[test]
    fn refuses_plans_that_cannot_be_meant() {
        let plan = BracketPlan {
            toward: Side::Upper,
            clear: 70.0,
            search_limit: 90.0,
            step: 4.0,
            tolerance: 0.5,
        };
        assert!(Bracket::new(plan).is_ok());
        for bad in [
            BracketPlan {
                search_limit: 60.0,
                ..plan
            },
            BracketPlan { step: 0.0, ..plan },
            BracketPlan { tolerance: 5.0, ..plan },
            BracketPlan {
                tolerance: 1e-9,
                ..plan
            },
            BracketPlan {
                step: 1e-9,
                tolerance: 1e-10,
                ..plan
            },
            BracketPlan {
                clear: f64::NAN,
                ..plan
            },
            BracketPlan {
                search_limit: f64::INFINITY,
                ..plan
            },
        ] {
            assert!(Bracket::new(bad).is_err(), "{bad:?}");
        }
    }
}
