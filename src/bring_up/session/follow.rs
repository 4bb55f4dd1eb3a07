//! Whether the joint still follows: what the sweeps read is compared with what the searches read, place by place.
//!
//! The searches leave the reading of each place that they found clear, all reached outward. Compared with them a sweep's reading
//! is, in its direction of motion, on a sound joint between nothing and the whole play behind; within a leg it never falls back.
//! So something has changed where a reading falls back by more than [`slack`](Session::slack) within a leg, by more than the play at its
//! begin, or comes out ahead: the sweep stops there, one place further at the most.

use super::Session;
use crate::bring_up::reads::sd_of_median;
use crate::bring_up::search::StopSearch;
use crate::span::Side;
use std::vec::Vec;

/// Places found clear, drive angle and reading, from the start outward.
#[derive(Debug, Clone, PartialEq, Default)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub(super) struct Map {
    pub(super) lower: Vec<[f64; 2]>,
    pub(super) upper: Vec<[f64; 2]>,
    /// Standard uncertainty of one median of readings, in readings: the larger of both searches.
    pub(super) u_reading: f64,
}

/// Makes a list equal to another and gives it as much room, no more: `reserve` would double what it has, and of two lists that
/// are exchanged and refilled in turn each would double beyond the other, without end.
pub(super) fn refill<T: Copy>(list: &mut Vec<T>, other: &Vec<T>) {
    list.clear();
    list.reserve_exact(other.capacity());
    list.extend_from_slice(other);
}

impl Map {
    /// Makes room for so many places a side.
    pub(super) fn make_room(&mut self, places: usize) {
        for side in [&mut self.lower, &mut self.upper] {
            side.reserve_exact(places.saturating_sub(side.len()));
        }
    }

    /// Becomes equal to another, with as much room, in the memory that it has.
    pub(super) fn copy_from(&mut self, other: &Self) {
        refill(&mut self.lower, &other.lower);
        refill(&mut self.upper, &other.upper);
        self.u_reading = other.u_reading;
    }

    pub(super) fn side_mut(&mut self, toward: Side) -> &mut Vec<[f64; 2]> {
        match toward {
            Side::Lower => &mut self.lower,
            Side::Upper => &mut self.upper,
        }
    }

    /// Takes what a search has found since it was last looked at.
    pub(super) fn take(&mut self, search: &StopSearch) {
        self.u_reading = self.u_reading.max(search.u_reading());
        let toward = search.toward();
        let Some(place @ [drive, _]) = search.last_clear() else {
            return;
        };
        let side = self.side_mut(toward);
        // Places whose commands are rounded to one count are one place.
        if side
            .last()
            .is_none_or(|&[last, _]| (drive - last) * toward.sign() > 0.0)
        {
            side.push(place);
        }
    }

    /// Reading expected at a drive angle and readings per degree there; beyond the outermost place, what was read there.
    pub(super) fn expected(&self, drive: f64, start: f64) -> Option<(f64, f64)> {
        let (side, sign) = if drive < start {
            (&self.lower, -1.0)
        } else {
            (&self.upper, 1.0)
        };
        let further = side.iter().position(|[at, _]| (at - drive) * sign >= 0.0);
        let next = further.unwrap_or(side.len()).max(1).min(side.len().checked_sub(1)?);
        let (&[a, ra], &[b, rb]) = (side.get(next.checked_sub(1)?)?, side.get(next)?);
        let slope = (rb - ra) / (b - a);
        let inside = if (drive - b) * sign > 0.0 { b } else { drive };
        Some((ra + slope * (inside - a), slope)).filter(|(_, slope)| *slope != 0.0 && slope.is_finite())
    }
}

/// How the readings of the leg that is swept lie beside the map.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub(super) struct Leg {
    /// Direction of motion, once there is one.
    #[cfg_attr(feature = "serde", serde(deserialize_with = "crate::bring_up::saved::given"))]
    toward: Option<Side>,
    /// The least that the joint was behind so far in this leg, deg, not above zero.
    pub(super) least_behind: f64,
    /// How far the joint is behind at the most for its play, deg, once a leg away from an end has shown it.
    #[cfg_attr(feature = "serde", serde(deserialize_with = "crate::bring_up::saved::given"))]
    pub(super) play: Option<f64>,
}

/// A reading that does not belong to its place.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub(super) struct Astray {
    /// The end on whose side something holds the joint back.
    pub(super) toward: Side,
    pub(super) drive: f64,
    /// By how much, deg.
    pub(super) by: f64,
    /// The joint is further than its drive may have brought it.
    pub(super) ahead: bool,
}

#[cfg(feature = "serde")]
impl Astray {
    pub(super) fn check(self) -> Result<(), crate::bring_up::error::BringUpError> {
        use crate::bring_up::error::BringUpError;
        BringUpError::finite("drive of a reading astray", self.drive)?;
        BringUpError::finite("by of a reading astray", self.by).map(drop)
    }
}

impl Session {
    /// How far, deg, a reading may lie from where it belongs by the servo's scatter and its own.
    pub(super) fn slack(&self, per_deg: f64) -> f64 {
        self.slack_of(per_deg, self.plan.pace.reads)
    }

    /// The same for a median of so many readings.
    fn slack_of(&self, per_deg: f64, reads: u8) -> f64 {
        let u = self.map.u_reading * sd_of_median(reads) / sd_of_median(self.plan.pace.reads);
        StopSearch::SHORT_PART * self.plan.step + StopSearch::SHORT_U * u / per_deg.abs()
    }

    /// A new leg begins: the direction of motion may turn, and the play lies before it.
    pub(super) fn leg_begins(&mut self, toward: Side) {
        if self.leg.toward != Some(toward) {
            self.leg.toward = Some(toward);
            self.leg.least_behind = -self.leg.play.unwrap_or(self.plan.run_in);
        }
    }

    /// Holds the median of so many readings against the map.
    pub(super) fn astray_at(&mut self, drive: f64, toward: Side, reading: f64, reads: u8) -> Option<Astray> {
        let (expected, per_deg) = self.map.expected(drive, self.plan.start)?;
        let slack = self.slack_of(per_deg, reads);
        self.leg_begins(toward);
        let ahead = toward.sign() * (reading - expected) / per_deg;
        // Until it has come away from a stop by its play, the joint rests there.
        let [lower, upper] = self.cleared();
        let from_end = match toward {
            Side::Lower => upper - drive,
            Side::Upper => drive - lower,
        };
        let behind = self.leg.least_behind - ahead;
        if behind > slack {
            return Some(Astray {
                toward,
                drive,
                by: behind,
                ahead: false,
            });
        }
        if ahead > slack {
            // Near the end that it comes from, or on the way from one that is to be searched again, something kept the joint from going all
            // the way there.
            let held = from_end < self.plan.step + self.plan.run_in || self.again == Some(toward.opposite());
            return Some(Astray {
                toward: if held { toward.opposite() } else { toward },
                drive,
                by: ahead,
                ahead: !held,
            });
        }
        if from_end < self.plan.run_in {
            return None;
        }
        self.leg.least_behind = self.leg.least_behind.max(ahead.min(0.0));
        // Inward the joint is behind the map by its play.
        let inward = (drive - self.plan.start) * toward.sign() < 0.0;
        if inward && self.leg.play.is_none() && ahead < 0.0 {
            self.leg.play = Some((slack - ahead).min(self.plan.run_in));
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lists_exchanged_and_refilled_in_turn_do_not_grow() {
        let (mut now, mut next) = (Vec::with_capacity(10), Vec::with_capacity(9));
        now.push(1.5);
        for _ in 0..100 {
            refill(&mut next, &now);
            assert_eq!(next, now);
            core::mem::swap(&mut now, &mut next);
            assert!(now.capacity() < 20, "{}", now.capacity());
        }
    }

    #[test]
    fn between_its_places_the_map_is_straight_and_beyond_them_level() {
        let map = Map {
            lower: std::vec![[49.0, 190.0], [40.0, 100.0], [38.0, 60.0]],
            upper: std::vec![[51.0, 210.0], [60.0, 300.0]],
            u_reading: 1.0,
        };
        assert_eq!(map.expected(55.5, 50.0), Some((255.0, 10.0)));
        assert_eq!(map.expected(70.0, 50.0), Some((300.0, 10.0)));
        assert_eq!(map.expected(39.0, 50.0), Some((80.0, 20.0)));
        assert_eq!(map.expected(30.0, 50.0), Some((60.0, 20.0)));
        assert_eq!(map.expected(50.0, 50.0), Some((200.0, 10.0)));
        assert_eq!(Map::default().expected(50.0, 50.0), None);
        // Where the sensor stays, no reading tells how far the joint has come.
        let level = Map {
            upper: std::vec![[51.0, 210.0], [60.0, 210.0]],
            ..map
        };
        assert_eq!(level.expected(55.5, 50.0), None);
    }
}
