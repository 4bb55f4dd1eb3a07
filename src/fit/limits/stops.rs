//! Which stops were found, and whether the joint is a line between them: decided by the readings.

use super::kept::Points;
use super::sums::{Clipped, Search, rough_search, unclipped};
use crate::fit::statistics::quantile::f_tail;
use std::boxed::Box;

/// Two-sided probability below which a flattening at an end of a straight joint counts as a stop. Chosen in
/// simulation (`benches/simulation.rs`): the search over all knees makes chance flattenings far more frequent than one
/// fixed test would, and this keeps a stop found where none is in range below 1 % of fits.
const P_STOP: f64 = 0.007;
/// The same for a bent joint. Larger, since overlooking a stop forces a joint and seeing one too many only shortens
/// its travel; the bend itself is weighed by the corrected Akaike criterion as well.
const P_STOP_BENT: f64 = 0.025;
/// Probability below which a joint counts as bent between its stops, if the bend is large as well.
const P_BENT: f64 = 0.01;
/// Mean square of a large bend, in variances of a reading. A smaller one moves no knee by more than the readings'
/// scatter does, while a bend seen by chance costs the knees much of their certainty.
const LARGE_BEND: f64 = 0.5;
/// The same for a glance at the readings between the knees alone, before the knees are let free.
const P_GLANCE: f64 = 0.1;
/// Probability below which a bend counts whatever its size.
const P_SURELY_BENT: f64 = 1e-4;
/// Probability below which a flattening with too few readings is worth a warning.
const P_SUSPECT: f64 = 0.02;
/// Largest slope behind a stop, as a share of that before it, that is still a stop that gives and not a bend.
const MOST_GIVE: f64 = 0.3;
/// Different commands, or readings, beyond a knee that make it a stop.
const COMMANDS_BEYOND: usize = 2;
const READINGS_BEYOND: usize = 3;
/// Of those, readings that lie beyond beyond doubt: one alone may be a misreading.
const SURELY_BEYOND: usize = 2;
/// Share of a distance that rounding changes.
const ROUNDING: f64 = 1e-9;
/// Standard uncertainties within which a reading may yet lie beyond a knee.
const NEAR_KNEE: f64 = 2.5;

/// A flattening that too few readings support.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Suspect {
    pub(super) knee: f64,
    pub(super) readings: usize,
}

/// The chosen model, in scaled drive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Chosen {
    pub(super) degree: usize,
    /// Knees; infinite where no stop was met.
    pub(super) lower: f64,
    pub(super) upper: f64,
    pub(super) sse: f64,
    pub(super) p_curvature: f64,
    pub(super) suspect_lower: Option<Suspect>,
    pub(super) suspect_upper: Option<Suspect>,
}

impl Chosen {
    pub(super) fn stops(&self) -> usize {
        usize::from(self.lower.is_finite()) + usize::from(self.upper.is_finite())
    }

    /// Whether two choices are the same kind of model.
    pub(super) fn same_kind(&self, other: &Self) -> bool {
        self.degree == other.degree
            && self.lower.is_finite() == other.lower.is_finite()
            && self.upper.is_finite() == other.upper.is_finite()
    }
}

/// Readings up to which the search for both knees is begun from several places.
const MANY_STARTS: usize = 64;

/// What the user insists on, whatever the test says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Marked {
    pub(super) lower: bool,
    pub(super) upper: bool,
}

struct Chooser<'a> {
    points: &'a Points<'a>,
    n: f64,
    /// Mean weight of the points.
    weight: f64,
    /// Sum of squares that rounding alone can produce.
    floor: f64,
    marked: Marked,
    /// How far readings of one command from both sides lie apart.
    play: f64,
}

/// Chooses a model for readings sorted by drive. `start` holds the knees to begin with, infinite where none is seen; readings of one
/// command from both sides lie `play` apart.
pub(super) fn choose(points: &Points<'_>, start: (f64, f64), floor: f64, marked: Marked, play: f64) -> Option<Chosen> {
    let chooser = Chooser {
        points,
        n: points.len() as f64,
        weight: points.iter().map(|p| p.w).sum::<f64>() / points.len() as f64,
        floor,
        marked,
        play,
    };
    let straight = rough_search(points, 1);
    let (mut chosen, ends) = chooser.straight(straight.as_ref(), start)?;
    // A cheap look first: most joints are straight, and the full question costs more than all else.
    chosen.p_curvature = chooser.glance(&chosen);
    if chosen.p_curvature < P_GLANCE {
        let bent: [Box<dyn Search>; 2] = [rough_search(points, 2), rough_search(points, 3)];
        let (p, size) = chooser.curvature(&chosen, &bent);
        chosen.p_curvature = p;
        if (p < P_SURELY_BENT || (p < P_BENT && size > LARGE_BEND))
            && let Some(better) = chooser.bent(&chosen, straight.as_ref(), &bent, ends)
        {
            chosen = Chosen {
                p_curvature: chosen.p_curvature,
                ..better
            };
        }
    }
    Some(chosen)
}

impl Chooser<'_> {
    fn least(&self, sse: f64) -> f64 {
        sse.max(self.floor)
    }

    /// Readings and different commands beyond a knee.
    fn beyond(&self, knee: f64, upper: bool) -> (usize, usize) {
        let mut readings = 0;
        let mut commands = 0;
        let mut last = f64::NAN;
        let points = if upper {
            self.points.run(|x| x <= knee, |_| true)
        } else {
            self.points.run(|_| false, |x| x < knee)
        };
        for p in points {
            readings += 1;
            if p.x != last {
                commands += 1;
                last = p.x;
            }
        }
        (readings, commands)
    }

    /// Whether enough readings lie beyond a knee, readings counting that its uncertainty cannot tell from beyond.
    fn enough(&self, found: &Clipped, upper: bool) -> bool {
        let knee = if upper { found.upper } else { found.lower };
        let (surely, _) = self.beyond(knee, upper);
        let insisted = if upper { self.marked.upper } else { self.marked.lower };
        if surely < SURELY_BEYOND {
            return insisted && surely > 0;
        }
        let doubt = NEAR_KNEE * self.u_knee(found, surely);
        let (readings, commands) = self.beyond(if upper { knee - doubt } else { knee + doubt }, upper);
        commands >= COMMANDS_BEYOND || readings >= READINGS_BEYOND
    }

    /// Rough standard uncertainty of a knee with some readings beyond it: that of their mean and of the line's end.
    fn u_knee(&self, found: &Clipped, beyond: usize) -> f64 {
        let Some((slope, _)) = self.slope_of(|x| x < found.lower, |x| x <= found.upper) else {
            return 0.0;
        };
        let dof = (self.n - 4.0).max(1.0);
        let variance = self.least(found.sse) / dof / self.weight;
        // A line's variance at its end is about four times that at its middle.
        (variance * (1.0 / beyond as f64 + 4.0 / self.n)).sqrt() / slope.abs()
    }

    /// Probability of a gain at least as large by chance.
    fn p_of(&self, without: f64, with: f64, parameters: usize, more: usize) -> f64 {
        let dof = self.n - parameters as f64;
        if dof < 1.0 {
            return 1.0;
        }
        let with = self.least(with);
        let gain = (without - with).max(0.0);
        f_tail(gain / more as f64 / (with / dof), more as f64, dof)
    }

    fn significant(&self, without: f64, with: f64, parameters: usize, p: f64) -> bool {
        let dof = self.n - parameters as f64;
        if dof < 1.0 {
            return false;
        }
        let with = self.least(with);
        f_tail((without - with).max(0.0) / (with / dof), 1.0, dof) < p
    }

    /// Both knees, found in turn from `from` until neither moves.
    fn both(&self, search: &dyn Search, from: (f64, f64)) -> Option<Clipped> {
        let mut best: Option<Clipped> = None;
        let (mut lower, mut upper) = (f64::NAN, from.1);
        for _ in 0..8 {
            if let Some(found) = search.best_lower(upper) {
                if found.lower == lower {
                    break;
                }
                lower = found.lower;
            } else if lower.is_nan() {
                lower = from.0;
            }
            let found = search.best_upper(lower)?;
            let gained = best.is_none_or(|b| found.sse < b.sse * (1.0 - 1e-9));
            if best.is_none_or(|b| found.sse < b.sse) {
                best = Some(found);
            }
            if !gained || found.upper == upper {
                break;
            }
            upper = found.upper;
        }
        best
    }

    /// The straight joint with the stops that pass the strict test; also the knees of the fullest model.
    fn straight(&self, search: &dyn Search, start: (f64, f64)) -> Option<(Chosen, (f64, f64))> {
        const NONE: f64 = f64::INFINITY;
        let none = Clipped {
            lower: -NONE,
            upper: NONE,
            sse: search.sse(-NONE, NONE)?,
        };
        let low = search.best_lower(NONE);
        let high = search.best_upper(-NONE);
        let mut both: Option<Clipped> = None;
        // Among few readings a start may lie in the wrong gap, and another costs little.
        let more = self.points.len() <= MANY_STARTS;
        for from in [
            Some(start),
            high.map(|h| (-NONE, h.upper)).filter(|_| more),
            low.map(|l| (l.lower, NONE)).filter(|_| more),
        ]
        .into_iter()
        .flatten()
        {
            if let Some(found) = self.both(search, from)
                && found.lower < found.upper
                && both.is_none_or(|b| found.sse < b.sse)
            {
                both = Some(found);
            }
        }
        let ends = both.map_or((-NONE, NONE), |b| (b.lower, b.upper));
        let usable =
            |c: &Clipped| (c.lower == -NONE || self.enough(c, false)) && (c.upper == NONE || self.enough(c, true));
        // The strict test falls on each stop, the other being free to move.
        let without_lower = high.map_or(none.sse, |c| c.sse.min(none.sse));
        let without_upper = low.map_or(none.sse, |c| c.sse.min(none.sse));
        let passes = |without: f64, with: f64, parameters: usize, insisted: bool| {
            self.significant(without, with, parameters, if insisted { 0.3 } else { P_STOP })
        };
        let mut found = none;
        if let Some(b) = both
            && usable(&b)
            && passes(without_lower, b.sse, 4, self.marked.lower)
            && passes(without_upper, b.sse, 4, self.marked.upper)
            && self.gives_little(1, b)
        {
            found = b;
        } else {
            for (one, insisted) in [(low, self.marked.lower), (high, self.marked.upper)] {
                if let Some(c) = one
                    && usable(&c)
                    && passes(none.sse, c.sse, 3, insisted)
                    && c.sse < found.sse
                    && self.gives_little(1, c)
                {
                    found = c;
                }
            }
        }
        let [suspect_lower, suspect_upper] = self.suspects(search, 1, found);
        let chosen = Chosen {
            degree: 1,
            lower: found.lower,
            upper: found.upper,
            sse: found.sse,
            p_curvature: 1.0,
            suspect_lower,
            suspect_upper,
        };
        Some((chosen, ends))
    }

    /// Flattenings beside the stops of a model of this degree that too few readings support.
    fn suspects(&self, search: &dyn Search, degree: usize, found: Clipped) -> [Option<Suspect>; 2] {
        let suspect = |flattening: Option<Clipped>, upper: bool| {
            let other = if upper { found.lower } else { found.upper };
            let parameters = degree + 2 + usize::from(other.is_finite());
            let flattening = flattening?;
            let knee = if upper { flattening.upper } else { flattening.lower };
            let (readings, _) = self.beyond(knee, upper);
            (knee.is_finite() && readings > 0 && self.significant(found.sse, flattening.sse, parameters, P_SUSPECT))
                .then_some(Suspect { knee, readings })
        };
        [
            if found.lower.is_finite() {
                None
            } else {
                suspect(search.best_lower(found.upper), false)
            },
            if found.upper.is_finite() {
                None
            } else {
                suspect(search.best_upper(found.lower), true)
            },
        ]
    }

    /// The best fit of one kind, begun at `from`.
    fn of_kind(&self, search: &dyn Search, lower: bool, upper: bool, from: (f64, f64)) -> Option<Clipped> {
        match (lower, upper) {
            (false, false) => search.sse(-f64::INFINITY, f64::INFINITY).map(|sse| Clipped {
                lower: -f64::INFINITY,
                upper: f64::INFINITY,
                sse,
            }),
            (true, false) => search.best_lower(f64::INFINITY),
            (false, true) => search.best_upper(-f64::INFINITY),
            (true, true) => self.both(search, from).filter(|c| c.lower < c.upper),
        }
    }

    /// The best fit with these stops, or with fewer of them where that is as close: a curve that explains all by itself leaves no place for a
    /// knee.
    fn with_at_most(&self, search: &dyn Search, lower: bool, upper: bool, from: (f64, f64)) -> Option<Clipped> {
        let kinds = [(lower, upper), (lower, false), (false, upper), (false, false)];
        let found = kinds.into_iter().filter_map(|(l, u)| self.of_kind(search, l, u, from));
        found.min_by(|a, b| a.sse.total_cmp(&b.sse))
    }

    /// Probability of such a bend by chance, from the readings surely between the knees alone.
    fn glance(&self, chosen: &Chosen) -> f64 {
        if chosen.sse <= self.floor {
            return 1.0;
        }
        let inside = || self.points.run(|x| x < chosen.lower, |x| x <= chosen.upper);
        let n = inside().count() as f64;
        let [Some(line), bent @ ..] = unclipped(inside()) else {
            return 1.0;
        };
        let mut p: f64 = 1.0;
        for (more, sse) in (1..).zip(bent) {
            let dof = n - 2.0 - more as f64;
            if let Some(sse) = sse
                && dof >= 1.0
            {
                let gain = (line - sse).max(0.0) / more as f64;
                let variance = self.least(sse) / dof;
                p = p.min(2.0 * f_tail(gain / variance, more as f64, dof));
            }
        }
        p
    }

    /// Probability that a straight joint shows such a bend between the same stops, and the bend's mean square in
    /// variances of a reading.
    fn curvature(&self, chosen: &Chosen, bent: &[Box<dyn Search>; 2]) -> (f64, f64) {
        if chosen.sse <= self.floor {
            return (1.0, 0.0);
        }
        let parameters = 2 + chosen.stops();
        let mut strongest = (1.0, 0.0);
        for (more, search) in (1..).zip(bent) {
            let kind = self.with_at_most(
                search.as_ref(),
                chosen.lower.is_finite(),
                chosen.upper.is_finite(),
                (chosen.lower, chosen.upper),
            );
            if let Some(found) = kind {
                // Two looks at the same question: Bonferroni's factor keeps the probability honest.
                let p = 2.0 * self.p_of(chosen.sse, found.sse, parameters + more, more);
                if p < strongest.0 {
                    let dof = self.n - (parameters + more) as f64;
                    let variance = self.least(found.sse) / dof;
                    strongest = (p, (chosen.sse - found.sse) / (self.n * variance));
                }
            }
        }
        strongest
    }

    /// The best model for a bent joint by the corrected Akaike criterion (Hurvich and Tsai, Biometrika 76 (1989) 297).
    fn bent(
        &self,
        straight: &Chosen,
        line: &dyn Search,
        bent: &[Box<dyn Search>; 2],
        ends: (f64, f64),
    ) -> Option<Chosen> {
        let mut best: Option<(f64, Chosen)> = None;
        let searches = [line, bent[0].as_ref(), bent[1].as_ref()];
        for (degree, search) in (1..).zip(searches) {
            for (lower, upper) in [(false, false), (true, false), (false, true), (true, true)] {
                let Some(found) = self.of_kind(search, lower, upper, ends) else {
                    continue;
                };
                if (lower && !self.enough(&found, false))
                    || (upper && !self.enough(&found, true))
                    || !self.gives_little(degree, found)
                {
                    continue;
                }
                let mut stop_shown = true;
                for (seen, other) in [(lower, (false, upper)), (upper, (lower, false))] {
                    if seen
                        && let Some(without) = self.with_at_most(search, other.0, other.1, ends)
                        && !self.significant(
                            without.sse,
                            found.sse,
                            degree + 1 + usize::from(lower) + usize::from(upper),
                            P_STOP_BENT,
                        )
                    {
                        stop_shown = false;
                    }
                }
                if !stop_shown {
                    continue;
                }
                // Coefficients, stops and the scatter itself.
                let k = (degree + 2 + usize::from(lower) + usize::from(upper)) as f64;
                let room = self.n - k - 1.0;
                if room < 1.0 {
                    continue;
                }
                let criterion = self.n * crate::math::ln(self.least(found.sse) / self.n) + 2.0 * k * self.n / room;
                if best.as_ref().is_none_or(|(least, _)| criterion < *least) {
                    best = Some((
                        criterion,
                        Chosen {
                            degree,
                            lower: found.lower,
                            upper: found.upper,
                            sse: found.sse,
                            ..*straight
                        },
                    ));
                }
            }
        }
        let (_, chosen) = best?;
        let Chosen { lower, upper, sse, .. } = chosen;
        let [suspect_lower, suspect_upper] = self.suspects(
            *searches.get(chosen.degree - 1)?,
            chosen.degree,
            Clipped { lower, upper, sse },
        );
        Some(Chosen {
            suspect_lower,
            suspect_upper,
            ..chosen
        })
    }

    /// Whether what lies behind each knee is as level as a stop must be: its slope may not be surely above
    /// [`MOST_GIVE`] of the joint's.
    fn gives_little(&self, _degree: usize, found: Clipped) -> bool {
        let inside = self.slope_of(|x| x < found.lower, |x| x <= found.upper);
        let Some((slope, _)) = inside else { return false };
        let behind = [
            self.slope_of(|_| false, |x| x < found.lower),
            self.slope_of(|x| x <= found.upper, |_| true),
        ];
        behind.into_iter().flatten().all(|(give, u)| {
            let ratio = give / slope;
            let u = u / slope.abs();
            ratio - 2.0 * u <= MOST_GIVE
        })
    }

    /// Slope of a run of readings, and its standard uncertainty; none of readings at one command, where what a sensor reads from the two
    /// sides would pass for a slope.
    fn slope_of(&self, before: impl Fn(f64) -> bool, up_to: impl Fn(f64) -> bool) -> Option<(f64, f64)> {
        let run = || self.points.run(&before, &up_to);
        let (first, last) = (run().next()?.x, run().next_back()?.x);
        if last - first <= self.play * (1.0 + ROUNDING) {
            return None;
        }
        let (mut w, mut x, mut y, mut n) = (0.0, 0.0, 0.0, 0.0);
        run().for_each(|p| {
            w += p.w;
            x += p.w * p.x;
            y += p.w * p.y;
            n += 1.0;
        });
        let (x, y) = (x / w, y / w);
        let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
        run().for_each(|p| {
            xx += p.w * (p.x - x) * (p.x - x);
            xy += p.w * (p.x - x) * (p.y - y);
            yy += p.w * (p.y - y) * (p.y - y);
        });
        if n < 3.0 || xx <= 0.0 {
            return if n >= 2.0 && xx > 0.0 {
                Some((xy / xx, f64::INFINITY))
            } else {
                None
            };
        }
        let slope = xy / xx;
        let rest = (yy - slope * xy).max(0.0) / (n - 2.0);
        Some((slope, (rest / xx).sqrt()))
    }
}
