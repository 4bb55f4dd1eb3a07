//! Soft start and rate limit: how far a command may go in one cycle.

use super::error::BringUpError;
use crate::error::ConvertError;
use crate::rate;
use crate::real::Real;

/// Holds a value that follows its target by bounded steps, one call for each control cycle.
///
/// No heap, no loop over time, a constant number of operations for each call; for `f32` and `f64`, also on a
/// microcontroller.
///
/// *Promises*, up to the roundings of the sums (one for each cycle of braking, below 0.001 deg in `f32`): no step is longer than `most_step`; where a `most_change` is given, no
/// step differs from the one before it by more; a target that holds still is reached exactly and without overshoot.
///
/// The value never leaves the span of the start and all targets given so far, not by a rounding either: at each moment it
/// could still brake before one of them, and it is held to that span. So a ramp whose targets lie inside the travel stays
/// inside it.
///
/// The first step of a *soft start* is the slow one: hand over the angle where the drive stands, not the one where it
/// should be. A servo without a reading jumps to its first pulse at full speed; no ramp can help that.
///
/// ```
/// use elbowroom::bring_up::Ramp;
/// let mut ramp = Ramp::per_cycle(40.0, 2.0, Some(0.5))?;
/// let steps = [ramp.follow(45.0)?, ramp.follow(45.0)?, ramp.follow(45.0)?];
/// assert_eq!(steps, [40.5, 41.5, 43.0]);
/// for _ in 0..10 { ramp.follow(45.0)?; }
/// assert_eq!(ramp.value(), 45.0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(remote = "Self", deny_unknown_fields)
)]
pub struct Ramp<T> {
    value: T,
    /// The last step, with its sign.
    pace: T,
    /// The least and the greatest of the start and all targets so far.
    span: [T; 2],
    most_step: T,
    #[cfg_attr(
        feature = "serde",
        serde(
            deserialize_with = "super::saved::given",
            bound(deserialize = "T: serde::Deserialize<'de>")
        )
    )]
    most_change: Option<T>,
}

impl<T: Real> Ramp<T> {
    /// The most cycles that a ramp may take to its full step; keeps the braking sum exact in `f32`.
    pub const MOST_CYCLES: u32 = 4096;

    /// Starts at `start`. *Unit*: that of the value, for each cycle; `most_change` for each cycle squared.
    ///
    /// # Errors
    /// Numbers that are not finite, limits that are not above zero, a `most_change` below `most_step` /
    /// [`Ramp::MOST_CYCLES`].
    pub fn per_cycle(start: T, most_step: T, most_change: Option<T>) -> Result<Self, BringUpError> {
        BringUpError::finite("start", start.to_wide())?;
        Limits::per_cycle(most_step, most_change).map(|limits| Self::limited(start, limits))
    }

    /// The same from a rate and an acceleration for each second and the cycles in a second.
    ///
    /// # Errors
    /// As for [`Ramp::per_cycle`], told of `max_rate_per_s`, `acceleration_per_s2` and `cycles_hz`.
    pub fn per_second(start: T, rate: T, acceleration: Option<T>, cycles_hz: T) -> Result<Self, BringUpError> {
        let limits = Limits::per_second(rate, acceleration, cycles_hz)?;
        BringUpError::finite("start", start.to_wide())?;
        Ok(Self::limited(start, limits))
    }

    fn limited(start: T, limits: Limits<T>) -> Self {
        Self {
            value: start,
            pace: T::zero(),
            span: [start; 2],
            most_step: limits.most_step,
            most_change: limits.most_change,
        }
    }

    /// Takes other limits from the next step on, as of [`Ramp::per_cycle`]; the value and its pace stay. A ramp that is faster than
    /// the new `most_step` slows down by `most_change` in each cycle, or at once where there is none.
    ///
    /// A `most_change` may be lowered so late that the way to brake leads past all targets. The value stops at the furthest of them
    /// then, all the same.
    ///
    /// # Errors
    /// As for [`Ramp::per_cycle`]; the limits stay as they were.
    ///
    /// ```
    /// use elbowroom::bring_up::Ramp;
    /// let mut ramp = Ramp::per_cycle(10.0, 1.0, Some(0.5))?;
    /// assert_eq!([ramp.follow(20.0)?, ramp.follow(20.0)?], [10.5, 11.5]);
    /// ramp.limit_per_cycle(0.25, Some(0.5))?;
    /// assert_eq!([ramp.follow(20.0)?, ramp.follow(20.0)?], [12.0, 12.25]);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn limit_per_cycle(&mut self, most_step: T, most_change: Option<T>) -> Result<(), BringUpError> {
        self.limit(Limits::per_cycle(most_step, most_change)?);
        Ok(())
    }

    /// The same from a rate and an acceleration for each second and the cycles in a second.
    ///
    /// # Errors
    /// As for [`Ramp::per_second`]; the limits stay as they were.
    pub fn limit_per_second(&mut self, rate: T, acceleration: Option<T>, cycles_hz: T) -> Result<(), BringUpError> {
        self.limit(Limits::per_second(rate, acceleration, cycles_hz)?);
        Ok(())
    }

    fn limit(&mut self, limits: Limits<T>) {
        (self.most_step, self.most_change) = (limits.most_step, limits.most_change);
    }

    /// Stands still at `start` again, with the same limits: after a stop, or when the drive was moved by something else.
    ///
    /// # Errors
    /// [`ConvertError::NotFinite`] for NaN and infinities; the value stays where it was.
    pub fn reset(&mut self, start: T) -> Result<(), ConvertError> {
        if !start.is_finite() {
            return Err(ConvertError::NotFinite { value: start.to_wide() });
        }
        (self.value, self.pace, self.span) = (start, T::zero(), [start; 2]);
        Ok(())
    }

    /// What holds after every step.
    #[cfg(feature = "serde")]
    pub(super) fn check(&self) -> Result<(), BringUpError> {
        Self::per_cycle(self.value, self.most_step, self.most_change)?;
        let [low, high] = self.span.map(Real::to_wide);
        BringUpError::finite("span of ramp", low)?;
        BringUpError::finite("span of ramp", high)?;
        BringUpError::within("value of ramp", self.value.to_wide(), low, high)?;
        // Above `most_step` where that was lowered since the last step, which stayed in the span.
        let most = self.most_step.to_wide().max(high - low) * (1.0 + 1e-6);
        BringUpError::within("pace of ramp", self.pace.to_wide(), -most, most).map(drop)
    }

    /// The value after the last step.
    pub fn value(&self) -> T {
        self.value
    }

    /// Whether the value stands still at `target`.
    pub fn rests_at(&self, target: T) -> bool {
        self.value == target && self.pace == T::zero()
    }

    /// Takes one step towards `target` and returns the new value.
    ///
    /// A target that comes nearer than the way to brake is passed and come back to.
    ///
    /// # Errors
    /// [`ConvertError::NotFinite`] for NaN and infinities; the value stays where it was.
    pub fn follow(&mut self, target: T) -> Result<T, ConvertError> {
        if !target.is_finite() {
            return Err(ConvertError::NotFinite {
                value: target.to_wide(),
            });
        }
        let [low, high] = self.span;
        self.span = [
            if target < low { target } else { low },
            if target > high { target } else { high },
        ];
        let Some(change) = self.most_change else {
            let next = rate::within(self.value, target, self.most_step);
            self.pace = next - self.value;
            self.value = next;
            return Ok(next);
        };
        let signed = target - self.value;
        let away = signed < T::zero();
        // Seen in the direction of the target: distance and pace.
        let (distance, pace) = if away {
            (-signed, -self.pace)
        } else {
            (signed, self.pace)
        };
        // What the sums may be off by: eight roundings of the numbers at hand.
        let slack = (self.value.abs() + target.abs() + self.most_step) * T::epsilon() * T::from_count(8);
        let step = self.braked(distance, pace, change);
        self.pace = if away { -step } else { step };
        let past = step - distance;
        self.value = if past <= slack && past >= -slack {
            target
        } else {
            // Braking ends at the end of the span where the target turned round late, up to the roundings of its sum.
            let next = self.value + self.pace;
            let [low, high] = self.span;
            let held = if next < low {
                low
            } else if next > high {
                high
            } else {
                next
            };
            if (next - held).abs() > slack {
                self.pace = held - self.value;
            }
            held
        };
        Ok(self.value)
    }

    /// The longest step within one `change` of `pace` after which braking still ends at the target.
    fn braked(&self, distance: T, pace: T, change: T) -> T {
        let slowest = pace - change;
        let fastest = if pace + change < self.most_step {
            pace + change
        } else if slowest > self.most_step {
            slowest
        } else {
            self.most_step
        };
        if way_to_stop(fastest, change) <= distance {
            return fastest;
        }
        if way_to_stop(slowest, change) > distance {
            return slowest;
        }
        // step + (step - change) + ... = distance, with n + 1 terms: one of three n fits, as the step is within one
        // change of the pace.
        let around = (pace / change).whole();
        for n in [around.saturating_add(1), around, around.saturating_sub(1)] {
            let terms = T::from_count(n);
            let step = distance / (terms + T::one()) + change * terms * T::HALF;
            if step >= change * terms && step <= fastest && step >= slowest {
                return step;
            }
        }
        if slowest > T::zero() { slowest } else { T::zero() }
    }
}

/// How far a value may go in one cycle, checked.
struct Limits<T> {
    most_step: T,
    most_change: Option<T>,
}

impl<T: Real> Limits<T> {
    fn per_cycle(most_step: T, most_change: Option<T>) -> Result<Self, BringUpError> {
        BringUpError::positive("most_step", most_step.to_wide())?;
        if let Some(change) = most_change {
            BringUpError::positive("most_change", change.to_wide())?;
            let least = most_step / T::from_count(Ramp::<T>::MOST_CYCLES);
            if change < least {
                return Err(BringUpError::Below {
                    what: "most_change",
                    value: change.to_wide(),
                    least: least.to_wide(),
                });
            }
        }
        Ok(Self { most_step, most_change })
    }

    fn per_second(rate: T, acceleration: Option<T>, cycles_hz: T) -> Result<Self, BringUpError> {
        BringUpError::positive("cycles_hz", cycles_hz.to_wide())?;
        BringUpError::positive("max_rate_per_s", rate.to_wide())?;
        let most_step = rate / cycles_hz;
        let most_change = acceleration.map(|a| a / cycles_hz / cycles_hz);
        if let (Some(acceleration), Some(change)) = (acceleration, most_change) {
            BringUpError::positive("acceleration_per_s2", acceleration.to_wide())?;
            if change < most_step / T::from_count(Ramp::<T>::MOST_CYCLES) {
                return Err(BringUpError::Below {
                    what: "acceleration_per_s2",
                    value: acceleration.to_wide(),
                    least: (rate * cycles_hz / T::from_count(Ramp::<T>::MOST_CYCLES)).to_wide(),
                });
            }
        }
        Self::per_cycle(most_step, most_change)
    }
}

/// The way covered by a step and the ever shorter ones after it, down to rest.
fn way_to_stop<T: Real>(step: T, change: T) -> T {
    if step <= T::zero() {
        return T::zero();
    }
    let n = T::from_count((step / change).whole());
    (n + T::one()) * (step - change * n * T::HALF)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    macro_rules! properties {
        ($module:ident, $t:ident) => {
            mod $module {
                use super::*;

                proptest! {
                    #![proptest_config(ProptestConfig::with_cases(500))]

                    #[test]
                    fn steps_and_their_changes_are_bounded_and_the_hull_of_targets_is_kept(
                        start in -180.0..180.0 as $t,
                        most_step in 0.01..20.0 as $t,
                        part in prop::option::of(0.01..2.0 as $t),
                        targets in prop::collection::vec((-180.0..180.0 as $t, 1usize..60), 1..12),
                    ) {
                        let most_change = part.map(|p| p * most_step);
                        let mut ramp = Ramp::per_cycle(start, most_step, most_change).unwrap();
                        // `follow` takes the target where it is within 8 epsilon of 180 + 180 + 20, which changes that step
                        // and the next one's difference from it; and a rounding or two.
                        let slack = (2.0 * 8.0 * 380.0 + 400.0) * $t::EPSILON;
                        let (mut low, mut high) = (start, start);
                        let (mut before, mut pace) = (start, 0.0 as $t);
                        for (target, cycles) in targets {
                            low = low.min(target);
                            high = high.max(target);
                            for _ in 0..cycles {
                                let now = ramp.follow(target).unwrap();
                                let step = now - before;
                                prop_assert!(step.abs() <= most_step + slack, "step {step}");
                                if let Some(change) = most_change {
                                    prop_assert!((step - pace).abs() <= change + slack, "change {}", step - pace);
                                }
                                prop_assert!(now >= low && now <= high, "{now} left {low} to {high}");
                                (before, pace) = (now, step);
                            }
                        }
                    }

                    #[test]
                    fn a_still_target_is_reached_exactly_and_passed_by_no_more_than_roundings(
                        start in -180.0..180.0 as $t,
                        target in -180.0..180.0 as $t,
                        most_step in 0.5..20.0 as $t,
                        part in prop::option::of(0.05..2.0 as $t),
                    ) {
                        let mut ramp = Ramp::per_cycle(start, most_step, part.map(|p| p * most_step)).unwrap();
                        // Half an epsilon of each number on the way for each of up to 1 / part cycles of braking.
                        let cycles = part.map_or(0.0, |p| 1.0 / p);
                        let slack = (8.0 + 0.5 * cycles) * 380.0 * $t::EPSILON;
                        for _ in 0..4000 {
                            let now = ramp.follow(target).unwrap();
                            prop_assert!((now - start) * (target - start) >= -slack * 360.0);
                            prop_assert!((now - start).abs() <= (target - start).abs() + slack);
                        }
                        prop_assert!(ramp.rests_at(target), "{:?}", ramp);
                    }
                }

                proptest! {
                    #![proptest_config(ProptestConfig::with_cases(300))]

                    /// Limits that change on the way, up and down: each step keeps to those of its cycle, or slows down by their
                    /// change. A change that is never lowered never leads to an abrupt stop.
                    #[test]
                    fn limits_may_change_on_the_way(
                        start in -180.0..180.0 as $t,
                        change in prop::option::of(0.05..2.0 as $t),
                        legs in prop::collection::vec((-180.0..180.0 as $t, 0.05..20.0 as $t, 1usize..60), 1..12),
                    ) {
                        let mut ramp = Ramp::per_cycle(start, 20.0, change).unwrap();
                        let slack = (2.0 * 8.0 * 380.0 + 400.0) * $t::EPSILON;
                        let (mut before, mut pace) = (start, 0.0 as $t);
                        let (mut low, mut high) = (start, start);
                        for (target, most_step, cycles) in legs {
                            ramp.limit_per_cycle(most_step, change).unwrap();
                            (low, high) = (low.min(target), high.max(target));
                            for _ in 0..cycles {
                                let now = ramp.follow(target).unwrap();
                                let step = now - before;
                                let slowed = change.map_or(0.0, |change| pace.abs() - change);
                                prop_assert!(step.abs() <= most_step.max(slowed) + slack, "step {step} after {pace}");
                                if let Some(change) = change {
                                    prop_assert!((step - pace).abs() <= change + slack, "change {}", step - pace);
                                }
                                prop_assert!(now >= low && now <= high, "{now} left {low} to {high}");
                                (before, pace) = (now, step);
                            }
                        }
                    }

                    /// A change lowered late: the value still stays in the span, and comes to rest.
                    #[test]
                    fn a_change_lowered_late_stops_at_the_furthest_target(
                        first in 0.2..2.0 as $t,
                        second in 0.005..0.05 as $t,
                        cycles in 1usize..80,
                    ) {
                        let mut ramp = Ramp::per_cycle(0.0, 4.0, Some(first)).unwrap();
                        for _ in 0..cycles {
                            ramp.follow(90.0).unwrap();
                        }
                        ramp.limit_per_cycle(4.0, Some(second)).unwrap();
                        for _ in 0..2000 {
                            let now = ramp.follow(90.0).unwrap();
                            prop_assert!((0.0..=90.0).contains(&now), "{now}");
                        }
                        prop_assert!(ramp.rests_at(90.0), "{ramp:?}");
                    }
                }

                #[test]
                fn limits_that_are_refused_leave_the_old_ones() {
                    let mut ramp = Ramp::<$t>::per_second(10.0, 60.0, Some(300.0), 50.0).unwrap();
                    ramp.follow(40.0).unwrap();
                    let before = ramp;
                    assert!(ramp.limit_per_cycle(0.0, None).is_err());
                    assert!(ramp.limit_per_cycle(1.0, Some($t::NAN)).is_err());
                    assert!(ramp.limit_per_second(40.96, Some(0.25), 50.0).is_err());
                    assert_eq!(ramp, before);
                    ramp.limit_per_second(30.0, None, 50.0).unwrap();
                    let held = ramp.value();
                    assert!((ramp.follow(40.0).unwrap() - held - 0.6).abs() < 1e-5);
                }

                /// Targets that turn round before they are reached: the way to brake ends at one of them, to the last bit.
                #[test]
                fn braking_after_a_turn_stays_in_the_span() {
                    let targets = [60.0, -40.0, 55.0, -12.5, 60.0, 17.3, -40.0, 33.0];
                    for acceleration in [137.3, 61.7, 250.1, 99.9] {
                        let mut ramp = Ramp::<$t>::per_second(0.0, 60.0, Some(acceleration), 50.0).unwrap();
                        for step in 0..60_000 {
                            let now = ramp.follow(targets[step / 37 % targets.len()]).unwrap();
                            assert!(
                                (-40.0..=60.0).contains(&now),
                                "{now} in step {step} at {acceleration}"
                            );
                        }
                    }
                }

                #[test]
                fn refuses_nan_and_stays() {
                    let mut ramp = Ramp::<$t>::per_cycle(1.0, 1.0, Some(0.5)).unwrap();
                    let before = ramp;
                    assert!(ramp.follow($t::NAN).is_err());
                    assert!(ramp.follow($t::INFINITY).is_err());
                    assert_eq!(ramp, before);
                    assert!(Ramp::<$t>::per_cycle($t::NAN, 1.0, None).is_err());
                    assert!(Ramp::<$t>::per_cycle(0.0, 0.0, None).is_err());
                    assert!(Ramp::<$t>::per_cycle(0.0, 1.0, Some(1e-6)).is_err());
                    // The least that is told is enough: 4096 deg/s at 64 cycles in a second within 4096 of them.
                    assert!(Ramp::<$t>::per_second(0.0, 4096.0, Some(64.0), 64.0).is_ok());
                    assert!(Ramp::<$t>::per_second(0.0, 4096.0, Some(63.9), 64.0).is_err());
                    let of_second = |rate, acceleration| {
                        let refused = Ramp::<$t>::per_second(0.0, rate, Some(acceleration), 50.0).unwrap_err();
                        std::string::ToString::to_string(&refused)
                    };
                    assert_eq!(
                        of_second(60.0, -1.0),
                        "acceleration_per_s2 is -1; it must be above zero"
                    );
                    assert_eq!(
                        of_second(-60.0, 1.0),
                        "max_rate_per_s is -60; it must be above zero"
                    );
                    assert_eq!(
                        of_second(40.96, 0.25),
                        "acceleration_per_s2 is 0.25; it must be at least 0.5"
                    );
                }
            }
        };
    }
    properties!(in_f32, f32);
    properties!(in_f64, f64);

    /// Without a bound on the change of its steps a ramp is the rate limit of a firmware block, bit for bit.
    #[test]
    fn without_braking_it_is_the_rate_limit() {
        for (start, target, rate) in [(10.0f32, 170.3, 60.0), (170.0, 3.1, 33.3), (5.0, 5.0, 1.0)] {
            let mut ramp = Ramp::per_cycle(start, rate * 0.02, None).unwrap();
            let mut command = start;
            for _ in 0..600 {
                command = rate::step(command, target, rate, 0.02);
                assert_eq!(ramp.follow(target).unwrap().to_bits(), command.to_bits());
            }
            assert!(ramp.rests_at(target));
        }
    }

    /// The fastest way there, by trying every braking length: the ramp may not dawdle.
    #[test]
    fn takes_no_more_cycles_than_the_trapezoid_needs() {
        for way in [0.3, 1.0, 4.7, 25.0, 90.0] {
            let (step, change) = (2.0, 0.25);
            let mut ramp = Ramp::per_cycle(0.0, step, Some(change)).unwrap();
            let mut cycles = 0;
            while !ramp.rests_at(way) && cycles < 1000 {
                ramp.follow(way).unwrap();
                cycles += 1;
            }
            // Up to the peak and down again covers the least way for a number of cycles.
            let covered = |n: i32| {
                (1..=n)
                    .map(|k| (f64::from(k.min(n + 1 - k)) * change).min(step))
                    .sum::<f64>()
            };
            let least = (1..1000).find(|&n| covered(n) >= way).unwrap();
            assert!(cycles <= least + 2, "{way}: {cycles} cycles, {least} would do");
        }
    }
}
