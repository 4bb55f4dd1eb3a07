//! Readings that are kept, and the same free of lost motion, without a copy of them: there may be millions.

use super::model::{Motion, Reading};
use std::vec::Vec;

/// Readings up to which a list of them free of lost motion is written down, as that is the quicker way; more are worked out each time.
const MOST_LISTED: usize = 65_536;

/// One reading as the fit sees it: scaled drive, centred measured value, weight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Point {
    pub(super) x: f64,
    pub(super) y: f64,
    pub(super) w: f64,
}

/// Those of some readings that are kept.
#[derive(Debug, Clone, Copy)]
pub(super) struct Kept<'a> {
    readings: &'a [Reading],
    /// None where all are.
    kept: Option<&'a [bool]>,
    count: usize,
}

impl<'a> Kept<'a> {
    pub(super) fn all(readings: &'a [Reading]) -> Self {
        Self {
            readings,
            kept: None,
            count: readings.len(),
        }
    }

    pub(super) fn of(readings: &'a [Reading], kept: &'a [bool]) -> Self {
        let count = kept.iter().filter(|kept| **kept).count();
        Self {
            readings,
            kept: (count < readings.len()).then_some(kept),
            count,
        }
    }

    pub(super) fn len(&self) -> usize {
        self.count
    }

    pub(super) fn iter(&self) -> KeptIter<'a> {
        KeptIter {
            readings: self.readings.iter(),
            kept: self.kept.map(<[bool]>::iter),
        }
    }

    /// Those behind the last x of which `before` holds, up to the last of which `up_to` holds; they are sorted by x.
    fn run(&self, before: impl Fn(f64) -> bool, up_to: impl Fn(f64) -> bool) -> Self {
        let from = self.readings.partition_point(|r| before(r.x));
        let to = self.readings.partition_point(|r| up_to(r.x)).max(from);
        let readings = self.readings.get(from..to).unwrap_or(&[]);
        match self.kept.and_then(|kept| kept.get(from..to)) {
            Some(kept) => Self::of(readings, kept),
            None => Self::all(readings),
        }
    }

    /// Whether a reading of side `s` is told differently by two questions, each of which holds up to some x and no further; the
    /// readings are sorted by x.
    pub(super) fn differ(&self, s: f64, one: impl Fn(f64) -> bool, other: impl Fn(f64) -> bool) -> bool {
        let up_to = |first: &dyn Fn(f64) -> bool| self.readings.partition_point(|r| first(r.x));
        let (a, b) = (up_to(&one), up_to(&other));
        let (from, to) = (a.min(b), a.max(b));
        let kept = |place: usize| self.kept.is_none_or(|kept| kept.get(place).copied().unwrap_or(true));
        let between = self.readings.iter().enumerate().take(to).skip(from);
        between.filter(|(place, _)| kept(*place)).any(|(_, r)| r.s() == s)
    }
}

#[derive(Debug, Clone)]
pub(super) struct KeptIter<'a> {
    readings: core::slice::Iter<'a, Reading>,
    kept: Option<core::slice::Iter<'a, bool>>,
}

impl<'a> Iterator for KeptIter<'a> {
    type Item = &'a Reading;

    fn next(&mut self) -> Option<&'a Reading> {
        let Some(kept) = &mut self.kept else {
            return self.readings.next();
        };
        loop {
            let (reading, kept) = (self.readings.next()?, kept.next()?);
            if *kept {
                return Some(reading);
            }
        }
    }
}

impl DoubleEndedIterator for KeptIter<'_> {
    fn next_back(&mut self) -> Option<Self::Item> {
        let Some(kept) = &mut self.kept else {
            return self.readings.next_back();
        };
        loop {
            let (reading, kept) = (self.readings.next_back()?, kept.next_back()?);
            if *kept {
                return Some(reading);
            }
        }
    }
}

/// Kept readings free of lost motion, sorted by x.
pub(super) enum Points<'a> {
    Listed(Vec<Point>),
    /// Worked out each time: readings, and how far those from below lie above the middle of both sides.
    Made(Kept<'a>, f64),
}

impl<'a> Points<'a> {
    /// Those of readings sorted by x.
    pub(super) fn of(readings: Kept<'a>, motion: Motion, reversal: f64, shift: f64) -> Self {
        let above = if motion == Motion::Everywhere { reversal } else { 0.0 };
        let moved = motion == Motion::Play && shift != 0.0;
        if readings.len() > MOST_LISTED && !moved {
            return Self::Made(readings, above);
        }
        let mut points = Vec::with_capacity(readings.len());
        points.extend(readings.iter().map(|r| match motion {
            Motion::None | Motion::Everywhere => point(r, above),
            Motion::Play => Point {
                x: r.x + r.s() * shift,
                ..point(r, 0.0)
            },
        }));
        if moved && points.len() > MOST_LISTED {
            // In place: a stable sort would ask for half as much memory again.
            points.sort_unstable_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)).then(a.w.total_cmp(&b.w)));
        } else if moved {
            points.sort_by(|a, b| a.x.total_cmp(&b.x));
        }
        Self::Listed(points)
    }

    pub(super) const fn none() -> Self {
        Self::Listed(Vec::new())
    }

    pub(super) fn len(&self) -> usize {
        match self {
            Self::Listed(points) => points.len(),
            Self::Made(readings, _) => readings.len(),
        }
    }

    pub(super) fn iter(&self) -> PointsIter<'_> {
        match self {
            Self::Listed(points) => PointsIter::Listed(points.iter()),
            Self::Made(readings, above) => PointsIter::Made(readings.iter(), *above),
        }
    }

    /// Those behind the last x of which `before` holds, up to the last of which `up_to` holds; each holds up to some x and no
    /// further. The others are not looked at.
    pub(super) fn run(&self, before: impl Fn(f64) -> bool, up_to: impl Fn(f64) -> bool) -> PointsIter<'_> {
        match self {
            Self::Listed(points) => {
                let from = points.partition_point(|p| before(p.x));
                let to = points.partition_point(|p| up_to(p.x)).max(from);
                PointsIter::Listed(points.get(from..to).unwrap_or(&[]).iter())
            }
            Self::Made(readings, above) => PointsIter::Made(readings.run(before, up_to).iter(), *above),
        }
    }
}

fn point(r: &Reading, above: f64) -> Point {
    Point {
        x: r.x,
        y: if above == 0.0 { r.y } else { r.y - 0.5 * r.s() * above },
        w: r.w,
    }
}

#[derive(Clone)]
pub(super) enum PointsIter<'a> {
    Listed(core::slice::Iter<'a, Point>),
    Made(KeptIter<'a>, f64),
}

impl Iterator for PointsIter<'_> {
    type Item = Point;

    fn next(&mut self) -> Option<Point> {
        match self {
            Self::Listed(points) => points.next().copied(),
            Self::Made(readings, above) => Some(point(readings.next()?, *above)),
        }
    }

    fn size_hint(&self) -> (usize, Option<usize>) {
        match self {
            Self::Listed(points) => points.size_hint(),
            Self::Made(..) => (0, None),
        }
    }

    /// Asks once, not at each point, which kind it is.
    fn fold<B, F: FnMut(B, Point) -> B>(self, init: B, add: F) -> B {
        match self {
            Self::Listed(points) => points.copied().fold(init, add),
            Self::Made(readings, above) => readings.map(|r| point(r, above)).fold(init, add),
        }
    }
}

impl DoubleEndedIterator for PointsIter<'_> {
    fn next_back(&mut self) -> Option<Point> {
        match self {
            Self::Listed(points) => points.next_back().copied(),
            Self::Made(readings, above) => Some(point(readings.next_back()?, *above)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn readings(count: usize) -> Vec<Reading> {
        let reading = |index: usize| Reading {
            x: index as f64,
            y: 10.0 * index as f64,
            w: 1.0,
            place: index as u32,
            side: [-1, 0, 1][index % 3],
            noted: false,
        };
        (0..count).map(reading).collect()
    }

    #[test]
    fn kept_readings_come_from_both_ends() {
        let readings = readings(5);
        let kept = [false, true, true, false, true];
        let some = Kept::of(&readings, &kept);
        assert_eq!(some.len(), 3);
        let places = |some: Kept<'_>| some.iter().map(Reading::index).collect::<Vec<_>>();
        assert_eq!(places(some), [1, 2, 4]);
        assert_eq!(some.iter().rev().map(Reading::index).collect::<Vec<_>>(), [4, 2, 1]);
        let mut both = some.iter();
        assert_eq!((both.next(), both.next_back()), (readings.get(1), readings.get(4)));
        assert_eq!(
            (both.next(), both.next(), both.next_back()),
            (readings.get(2), None, None)
        );
        assert_eq!(places(Kept::of(&readings, &[true; 5])), places(Kept::all(&readings)));
    }

    #[test]
    fn many_points_are_those_of_a_list() {
        let readings = readings(MOST_LISTED + 6);
        let kept: Vec<bool> = (0..readings.len()).map(|index| index % 7 != 0 || index == 0).collect();
        // Listed are as many as may be; the others are made.
        let few = Kept::of(&readings[..60], &kept[..60]);
        for (motion, reversal, shift) in [
            (Motion::None, 3.0, 1.25),
            (Motion::Everywhere, 3.0, 1.25),
            (Motion::Play, 3.0, 0.0),
            (Motion::Play, 3.0, 1.25),
        ] {
            let many = Kept::all(&readings);
            let made = Points::of(many, motion, reversal, shift);
            assert_eq!(matches!(made, Points::Made(..)), motion != Motion::Play || shift == 0.0);
            assert_eq!(made.len(), readings.len());
            let listed = Points::of(few, motion, reversal, shift);
            assert!(matches!(listed, Points::Listed(_)));
            assert!(listed.iter().map(|p| p.x).is_sorted() && made.iter().map(|p| p.x).is_sorted());
            let above = if motion == Motion::Everywhere { reversal } else { 0.0 };
            let by_hand = few.iter().map(|r| (r.y - 0.5 * r.s() * above, r.x));
            let mut by_hand: Vec<f64> = by_hand.map(|(y, _)| y).collect();
            let mut found: Vec<f64> = listed.iter().map(|p| p.y).collect();
            by_hand.sort_by(f64::total_cmp);
            found.sort_by(f64::total_cmp);
            assert_eq!(found, by_hand);
            if matches!(made, Points::Made(..)) {
                let again = Points::Made(few, above);
                assert!(again.iter().eq(listed.iter()));
                assert!(again.iter().rev().eq(listed.iter().rev()));
            }
        }
    }
}
