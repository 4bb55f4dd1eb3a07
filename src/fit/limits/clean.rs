//! The readings from which the ends are told.

use super::find::Found;
use super::kept::{Kept, Points};
use super::sums::{Search, search};
use std::boxed::Box;

/// The retained readings free of lost motion, and their running sums where a hard stop asks for them.
pub(super) struct Clean<'a> {
    pub(super) points: Points<'a>,
    pub(super) search: Option<Box<dyn Search>>,
}

impl<'a> Clean<'a> {
    pub(super) fn of(found: &Found, kept: Kept<'a>) -> Self {
        let layout = found.model.layout;
        let hard = (found.chosen.lower.is_finite() && !layout.give_lower)
            || (found.chosen.upper.is_finite() && !layout.give_upper);
        let points = if found.chosen.stops() > 0 {
            found.points(kept)
        } else {
            Points::none()
        };
        let search = hard.then(|| search(&points, layout.degree));
        Self { points, search }
    }
}
