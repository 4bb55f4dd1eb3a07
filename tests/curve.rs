//! Curves against published tables and by property.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::Code;
use elbowroom::curve::{Curve, CurveError, CurveView, Knot, Piece, SlopeRule, set_slopes};
use proptest::prelude::*;

/// Of the data's range, as the tables' `tolerance` says: "1e-12 of the data range".
const TABLE_TOLERANCE: f64 = 1e-12;
/// Of the range of values: how well forward undoes inverse.
const INVERSE_TOLERANCE: f64 = 1e-12;

const RULES: [SlopeRule; 3] = [SlopeRule::Parabola, SlopeRule::MeanChord, SlopeRule::HarmonicChord];

/// Tables with their sources in `tests/data/interp/*.json`.
struct Table {
    x: Vec<f64>,
    y: Vec<f64>,
    query: Vec<f64>,
    json: serde_json::Value,
}

fn numbers(value: &serde_json::Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
}

fn tables() -> Vec<(&'static str, Table)> {
    ["fc_rpn", "nag_e01bec", "akima3", "servo_table_7"]
        .into_iter()
        .map(|name| {
            let path = format!("{}/tests/data/interp/{name}.json", env!("CARGO_MANIFEST_DIR"));
            let json: serde_json::Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
            let data = &json["data"];
            let table = Table {
                x: numbers(&data["x"]),
                y: numbers(&data["y"]),
                query: numbers(&data["x_query"]),
                json: json.clone(),
            };
            (name, table)
        })
        .collect()
}

fn range(y: &[f64]) -> f64 {
    let (low, high) = y.iter().fold((f64::MAX, f64::MIN), |(l, h), &v| (l.min(v), h.max(v)));
    high - low
}

/// Evaluates also tables with flat stretches, which a [`Curve`] refuses.
fn by_pieces(knots: &[Knot<f64>], x: f64) -> f64 {
    let i = knots[1..knots.len() - 1].partition_point(|k| k.x <= x);
    Piece::new(knots[i], knots[i + 1], i).unwrap().at(x)
}

fn sloped(x: &[f64], y: &[f64], rule: SlopeRule) -> Vec<Knot<f64>> {
    let mut knots: Vec<_> = x.iter().zip(y).map(|(&x, &y)| Knot::new(x, y)).collect();
    set_slopes(&mut knots, rule);
    knots
}

#[test]
fn tables_of_the_named_rules_are_met() {
    let methods = [
        ("pchip", SlopeRule::HarmonicChord),
        ("fritsch_carlson_1980", SlopeRule::MeanChord),
    ];
    for (name, table) in tables() {
        let span = range(&table.y);
        for (method, rule) in methods {
            let knots = sloped(&table.x, &table.y, rule);
            let expected = numbers(&table.json["expected"][method]);
            assert_eq!(expected.len(), table.query.len());
            for (&x, want) in table.query.iter().zip(expected) {
                let got = by_pieces(&knots, x);
                assert!(
                    (got - want).abs() <= TABLE_TOLERANCE * span,
                    "{name} {method} at {x}: {got} for {want}"
                );
            }
            let steepest = table
                .x
                .windows(2)
                .zip(table.y.windows(2))
                .fold(0.0f64, |s, (x, y)| s.max(((y[1] - y[0]) / (x[1] - x[0])).abs()));
            let slopes = numbers(&table.json["expected"][format!("{method}_knot_derivatives")]);
            for (knot, want) in knots.iter().zip(slopes) {
                assert!(
                    (knot.slope - want).abs() <= TABLE_TOLERANCE * steepest,
                    "{name} {method} slope at {}",
                    knot.x
                );
            }
        }
    }
}

#[test]
fn printed_results_of_the_nag_library_are_met() {
    // NAG Library Manual, e01bec/e01bfc/e01bgc: four decimals, with the knot slopes of its data page (see the JSON).
    let (_, table) = tables().into_iter().find(|(name, _)| *name == "nag_e01bec").unwrap();
    let published = &table.json["published"];
    let knots = sloped(&table.x, &table.y, SlopeRule::HarmonicChord);
    for (x, want) in numbers(&published["x"])
        .into_iter()
        .zip(numbers(&published["value_4_decimals"]))
    {
        let got = by_pieces(&knots, x);
        assert!((got - want).abs() <= 1.1e-4, "{x}: {got} for {want}");
    }
}

#[test]
fn every_rule_keeps_the_knots_and_the_shape_of_every_table() {
    for (name, table) in tables() {
        for rule in RULES {
            let knots = sloped(&table.x, &table.y, rule);
            for knot in &knots {
                assert_eq!(by_pieces(&knots, knot.x), knot.y, "{name}");
            }
            for &x in &table.query {
                let i = knots[1..knots.len() - 1].partition_point(|k| k.x <= x);
                let (a, b) = (knots[i].y.min(knots[i + 1].y), knots[i].y.max(knots[i + 1].y));
                assert!((a..=b).contains(&by_pieces(&knots, x)), "{name} at {x}");
            }
        }
    }
}

#[test]
fn the_parabola_rule_reproduces_parabolas() {
    // Why it is the default: on uneven knots the other rules miss even this.
    let truth = |x: f64| x * x + x;
    let points = [0.0, 0.3, 0.5, 1.1, 1.3, 2.0, 2.2, 3.0].map(|x| [x, truth(x)]);
    let worst = |rule| {
        let curve = Curve::new(&points, rule).unwrap();
        (0..=3000)
            .map(|i| f64::from(i) / 1000.0)
            .fold(0.0f64, |w, x| w.max((curve.at(x) - truth(x)).abs()))
    };
    assert!(worst(SlopeRule::Parabola) < 1e-14 * truth(3.0));
    assert!(worst(SlopeRule::MeanChord) > 1e-2);
    assert!(worst(SlopeRule::HarmonicChord) > 1e-2);
}

#[test]
fn refusals_name_the_knot() {
    let refusal = |points: &[[f64; 2]]| Curve::new(points, SlopeRule::Parabola).unwrap_err();
    assert_eq!(refusal(&[]), CurveError::TooFewKnots { given: 0 });
    assert_eq!(refusal(&[[1.0, 2.0]]), CurveError::TooFewKnots { given: 1 });
    assert_eq!(
        refusal(&[[0.0, 0.0], [1.0, 1.0], [1.0, 2.0]]),
        CurveError::PlacesNotRising {
            index: 2,
            before: 1.0,
            x: 1.0
        }
    );
    assert_eq!(
        refusal(&[[0.0, 0.0], [1.0, 1.0], [2.0, 0.5]]),
        CurveError::ValuesTurn {
            index: 2,
            before: 1.0,
            y: 0.5
        }
    );
    assert_eq!(
        refusal(&[[0.0, 0.0], [1.0, 0.0]]),
        CurveError::ValuesTurn {
            index: 1,
            before: 0.0,
            y: 0.0
        }
    );
    let CurveError::NotFinite { index: 1, value } = refusal(&[[0.0, 0.0], [1.0, f64::NAN], [2.0, 1.0]]) else {
        panic!("the second knot is not a number");
    };
    assert!(value.is_nan());
    assert_eq!(
        refusal(&[[0.0, f64::MIN], [1.0, f64::MAX]]),
        CurveError::StepInvalid { before: 0, after: 1 }
    );
    let knot = |x, y, slope| Knot { x, y, slope };
    let steep = Curve::with_slopes(vec![knot(0.0, 0.0, 4.5), knot(1.0, 1.0, 1.0)]).unwrap_err();
    assert_eq!(
        steep,
        CurveError::SlopeInvalid {
            before: 0,
            after: 1,
            left: 4.5,
            right: 1.0,
            mean: 1.0
        }
    );
    assert_eq!(steep.code(), Code::TransmissionInvalid);
    assert!(!steep.to_string().contains('\n'));
    // Within the box of 3 by 3 but turning: 3.5 and 3 lie outside Fritsch and Carlson's ellipse.
    assert!(Curve::with_slopes(vec![knot(0.0, 0.0, 3.5), knot(1.0, 1.0, 3.0)]).is_err());
    assert!(Curve::with_slopes(vec![knot(0.0, 0.0, 3.0), knot(1.0, 1.0, 3.0)]).is_ok());
}

#[test]
fn nan_and_infinities_pass() {
    let curve = Curve::new(&[[0.0, 5.0], [1.0, 3.0], [2.0, 2.0]], SlopeRule::Parabola).unwrap();
    for f in [Curve::at, Curve::inverse, Curve::slope] {
        assert!(f(&curve, f64::NAN).is_nan());
    }
    assert_eq!(curve.at(f64::INFINITY), f64::NEG_INFINITY);
    assert_eq!(curve.inverse(f64::INFINITY), f64::NEG_INFINITY);
    // Straight on with the mean slope of the end piece, both ways.
    assert_eq!((curve.at(-1.0), curve.at(3.0)), (7.0, 1.0));
    assert_eq!((curve.inverse(7.0), curve.inverse(1.0)), (-1.0, 3.0));
}

/// All f32 between two knots, one after the other.
#[test]
fn no_f32_is_out_of_order() {
    let shapes: [&[[f32; 2]]; 3] = [
        &[[1.0, 3.0], [1.5, 3.1], [1.6, 80.0], [2.0, 80.5]],
        &[[1.0, 0.0], [1.25, -1e-3], [1.5, -7.0], [2.0, -7.01]],
        &[[1.0, 100.0], [1.0625, 164.0], [2.0, 179.9]],
    ];
    for points in shapes {
        for rule in RULES {
            let curve = Curve::new(points, rule).unwrap();
            let sign = if curve.is_rising() { 1.0 } else { -1.0 };
            let (mut x, mut before) = (1.0f32, curve.at(1.0) * sign);
            while x < 2.0 {
                x = x.next_up();
                let y = curve.at(x) * sign;
                assert!(y >= before, "{rule:?} {points:?} at {x}");
                before = y;
            }
        }
    }
}

macro_rules! properties {
    ($module:ident, $t:ident, $inverse:expr) => {
        mod $module {
            use super::*;

            /// Rises and widths over many powers of ten, some slopes at their limits, both directions.
            pub(crate) fn curve() -> impl Strategy<Value = Curve<$t>> {
                let step = || prop_oneof![(-4.0..3.0f64).prop_map(|e| 10f64.powf(e) as $t), 0.5..2.0 as $t];
                let knots = prop::collection::vec((step(), step()), 2..12);
                let start = prop_oneof![Just(0.0), -1e3..1e3 as $t];
                (start.clone(), start, knots, any::<bool>(), 0..4usize).prop_filter_map(
                    "a curve",
                    |(x0, y0, steps, falling, rule)| {
                        let (mut x, mut y) = (x0, y0);
                        let sign = if falling { -1.0 } else { 1.0 };
                        let mut points = Vec::new();
                        for (dx, dy) in steps {
                            points.push([x, y]);
                            x += dx;
                            y += dy * sign;
                        }
                        if let Some(&rule) = RULES.get(rule) {
                            return Curve::new(&points, rule).ok();
                        }
                        // Slopes at their limits: flat knots, and pieces with no slope in their middle.
                        let mut knots: Vec<_> = points.iter().map(|&[x, y]| Knot::new(x, y)).collect();
                        for i in (1..knots.len()).step_by(2) {
                            let slope = 3.0 * (knots[i].y - knots[i - 1].y) / (knots[i].x - knots[i - 1].x);
                            let next = knots.get(i + 1).map(|k| 3.0 * (k.y - knots[i].y) / (k.x - knots[i].x));
                            if next.is_none_or(|n| n * sign >= slope * sign) {
                                knots[i - 1].slope = slope * (1.0 - 4.0 * $t::EPSILON);
                                knots[i].slope = slope * (1.0 - 4.0 * $t::EPSILON);
                            }
                        }
                        Curve::with_slopes(knots).ok()
                    },
                )
            }

            fn ends(c: &Curve<$t>) -> ([$t; 2], [$t; 2], $t, $t) {
                let (a, b) = (c.knots()[0], *c.knots().last().unwrap());
                ([a.x, b.x], [a.y.min(b.y), a.y.max(b.y)], b.x - a.x, (b.y - a.y).abs())
            }

            /// One number, then the next, rising.
            fn ordered(falling: bool, a: $t, b: $t) -> bool {
                if falling { a >= b } else { a <= b }
            }

            proptest! {
                #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(600) })]

                #[test]
                fn monotone_between_neighbours(c in curve(), at in 0.0..1.0 as $t, other in -0.1..1.1 as $t) {
                    let ([x0, _], _, width, _) = ends(&c);
                    let mut x = x0 + at * width;
                    for _ in 0..200 {
                        let next = x.next_up();
                        prop_assert!(ordered(!c.is_rising(), c.at(x), c.at(next)), "at {x}");
                        x = next;
                    }
                    let far = x0 + other * width;
                    prop_assert!(ordered(!c.is_rising() ^ (far < x), c.at(x), c.at(far)));
                }

                #[test]
                fn monotone_around_knots(c in curve()) {
                    for knot in c.knots() {
                        let (mut x, mut low) = (knot.x, knot.x);
                        for _ in 0..50 {
                            prop_assert!(ordered(!c.is_rising(), c.at(x), c.at(x.next_up())));
                            prop_assert!(ordered(!c.is_rising(), c.at(low.next_down()), c.at(low)));
                            x = x.next_up();
                            low = low.next_down();
                        }
                    }
                }

                #[test]
                fn exact_at_knots_and_never_outside(c in curve(), at in 0.0..=1.0 as $t) {
                    for knot in c.knots() {
                        prop_assert_eq!(c.at(knot.x), knot.y);
                        prop_assert_eq!(c.inverse(knot.y), knot.x);
                    }
                    let ([x0, x1], [low, high], width, _) = ends(&c);
                    let y = c.at((x0 + at * width).min(x1));
                    prop_assert!(low <= y && y <= high);
                }

                #[test]
                fn view_and_curve_give_the_same_bits(c in curve(), at in -0.2..1.2 as $t) {
                    let ([x0, _], [low, _], width, rise) = ends(&c);
                    let view = CurveView::new(c.knots()).unwrap();
                    let (x, y) = (x0 + at * width, low + at * rise);
                    prop_assert_eq!(c.at(x).to_bits(), view.at(x).to_bits());
                    prop_assert_eq!(c.slope(x).to_bits(), view.slope(x).to_bits());
                    for knot in c.knots() {
                        prop_assert_eq!(c.slope(knot.x).to_bits(), view.slope(knot.x).to_bits());
                    }
                    prop_assert_eq!(c.inverse(y).to_bits(), view.inverse(y).to_bits());
                }

                #[test]
                fn inverse_is_monotone_and_undoes(c in curve(), at in -0.2..1.2 as $t) {
                    let (_, [low, _], width, rise) = ends(&c);
                    let mut y = low + at * rise;
                    for _ in 0..20 {
                        let (x, next) = (c.inverse(y), c.inverse(y.next_up()));
                        prop_assert!(ordered(!c.is_rising(), x, next), "at {y}");
                        y = y.next_up();
                    }
                    // Rounding of x itself may step over y.
                    let (x, grain) = (c.inverse(y), 2.0 * $t::EPSILON);
                    let (a, b) = (c.at(x - grain * x.abs().max(width)), c.at(x + grain * x.abs().max(width)));
                    let slack = $inverse * rise + 4.0 * y.abs() * $t::EPSILON;
                    prop_assert!(a.min(b) - slack <= y && y <= a.max(b) + slack, "{a}, {b} for {y}");
                }

                #[test]
                fn inverse_of_forward(c in curve(), at in 0.0..1.0 as $t) {
                    let ([x0, x1], [low, high], width, _) = ends(&c);
                    let x = (x0 + at * width).min(x1);
                    let back = c.inverse(c.at(x));
                    // The least place that gives this value: not above x but for x's own rounding; as far below as
                    // the value's rounding hides it.
                    let grain = (low.abs().max(high.abs())) * $t::EPSILON;
                    let hidden = 4.0 * grain / c.slope(x).abs().min(c.slope(back).abs());
                    prop_assert!((x - back).abs() <= $inverse * width + 2.0 * $t::EPSILON * x0.abs().max(x1.abs()) + hidden);
                }

                #[test]
                fn any_numbers_at_all(points in prop::collection::vec([proptest::num::$t::ANY, proptest::num::$t::ANY], 0..6), x in proptest::num::$t::ANY, r in 0..3usize) {
                    if let Ok(c) = Curve::new(&points, RULES[r]) {
                        prop_assert_eq!(c.at(x).is_nan(), x.is_nan());
                        prop_assert_eq!(c.inverse(x).is_nan(), x.is_nan());
                        prop_assert_eq!(c.slope(x).is_nan(), x.is_nan());
                    }
                }
            }
        }
    };
}

/// As [`Curve::slope`], from the knots' numbers in `f64`.
fn wide_slope(c: &Curve<f32>, x: f32) -> f64 {
    let wide = |k: &Knot<f32>| Knot {
        x: k.x.into(),
        y: k.y.into(),
        slope: k.slope.into(),
    };
    let i = c.knots()[1..c.knots().len() - 1].partition_point(|k| k.x <= x);
    Piece::new(wide(&c.knots()[i]), wide(&c.knots()[i + 1]), i).map_or(f64::NAN, |p| p.slope(x.into()))
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(600) })]

    #[test]
    fn slope_is_that_of_finite_differences(c in double::curve(), piece in 0..10usize, at in 0.01..0.99f64) {
        let i = piece % (c.knots().len() - 1);
        let (a, b) = (c.knots()[i], c.knots()[i + 1]);
        let (width, mean) = (b.x - a.x, (b.y - a.y) / (b.x - a.x));
        let h = width * f64::EPSILON.cbrt() / 8.0;
        let x = a.x + at * width;
        let (up, down) = (x + h, x - h);
        prop_assume!(a.x < down && up < b.x);
        let difference = (c.at(up) - c.at(down)) / (up - down);
        let rounding = f64::EPSILON * (a.y.abs() + b.y.abs() + mean.abs() * (a.x.abs() + b.x.abs())) / h;
        let slack = mean.abs() * 40.0 * (h / width) * (h / width) + 8.0 * rounding;
        prop_assert!((difference - c.slope(x)).abs() <= slack + mean.abs() * 8.0 * f64::EPSILON);
    }


    #[test]
    fn slope_in_single_is_that_in_double(c in single::curve(), piece in 0..10usize, at in 0.0..1.0f32) {
        let i = piece % (c.knots().len() - 1);
        let (a, b) = (c.knots()[i], c.knots()[i + 1]);
        let x = (a.x + at * (b.x - a.x)).min(b.x.next_down());
        let (wide, mean) = (wide_slope(&c, x), f64::from((b.y - a.y) / (b.x - a.x)).abs());
        // In a piece of a few units of precision the middle itself is rounded to one of them.
        prop_assume!(wide.is_finite() && b.x - a.x > 1e4 * f32::EPSILON * (a.x.abs() + b.x.abs()));
        prop_assert!((f64::from(c.slope(x)) - wide).abs() <= 60.0 * mean * f64::from(f32::EPSILON), "{} for {wide} at {x}, mean {mean}", c.slope(x));
    }
}

properties!(double, f64, INVERSE_TOLERANCE);
properties!(single, f32, 4.0 * f32::EPSILON);

#[test]
fn many_at_once_are_each_alone() {
    let curve = Curve::new(&[[0.0, 1.0], [0.1, 3.0], [5.0, 4.0], [6.0, 9.0]], SlopeRule::Parabola).unwrap();
    // Steps within one half, across halves, beyond both ends, and gaps.
    let mut places: Vec<f64> = (-500..1500).map(|i| f64::from(i) * 0.005).collect();
    places.extend([f64::NAN, f64::INFINITY, -0.0, 6.0, f64::NEG_INFINITY, 0.05]);
    places.extend([f64::NAN; 200]);
    places.extend((0..300).map(|i| f64::from(i * 7 % 13)));
    let mut values = vec![0.0; places.len()];
    curve.at_batch(&places, &mut values);
    for (x, y) in places.iter().zip(&values) {
        assert_eq!(y.to_bits(), curve.at(*x).to_bits(), "at {x}");
    }
}

/// Blocks of every kind beside each value alone: even knots, knots crowded into a thousandth of the range, places in and out of
/// order, gaps among them, and slices of different lengths.
#[test]
fn blocks_of_any_kind_are_each_alone() {
    fn check<T: elbowroom::Real + std::fmt::Debug>(to: fn(f64) -> T, bits: fn(T) -> u64) {
        let mut state = 7u64;
        let mut random = move || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (state >> 40) as f64 / (1u64 << 24) as f64
        };
        let crowded = |i: usize, n: usize| {
            if i + 1 < n {
                f64::from(u32::try_from(i).unwrap()) / 1024.0
            } else {
                100.0
            }
        };
        for knots in [2usize, 3, 16, 64, 256] {
            for even in [true, false] {
                let points: Vec<[T; 2]> = (0..knots)
                    .map(|i| {
                        let x = if even { i as f64 } else { crowded(i, knots) };
                        [to(x), to(-(i as f64) - 0.25)]
                    })
                    .collect();
                let curve = Curve::new(&points, SlopeRule::Parabola).unwrap();
                let last = if even {
                    knots as f64 - 1.0
                } else {
                    1.5 * knots as f64 / 1024.0
                };
                for gap in [false, true] {
                    let places: Vec<T> = (0..1000)
                        .map(|i| {
                            if gap && i % 37 == 5 {
                                to(f64::NAN)
                            } else {
                                to(random() * last)
                            }
                        })
                        .collect();
                    for length in [0, 1, 63, 64, 65, 130, 1000] {
                        for room in [length, length / 2, length + 3] {
                            let mut values = vec![to(7.0); room];
                            curve.at_batch(&places[..length], &mut values);
                            for (i, value) in values.iter().enumerate() {
                                let expected = if i < length { curve.at(places[i]) } else { to(7.0) };
                                assert_eq!(bits(*value), bits(expected), "{knots} knots, place {i} of {length}");
                                if i < length {
                                    let view = curve.view().at(places[i]);
                                    assert!(bits(view) == bits(*value) || (view.is_nan() && value.is_nan()));
                                }
                            }
                        }
                    }
                }
            }
        }
    }
    check::<f64>(|x| x, f64::to_bits);
    check::<f32>(|x| x as f32, |x| u64::from(x.to_bits()));
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(300) })]

    /// A batch keeps to the half of the block before: series that creep, turn back, leave a half for few places and come
    /// back to it, jump, have gaps and lie beyond the ends.
    #[test]
    fn a_walk_along_the_curve_is_each_place_alone(
        knots in prop::collection::vec((0.01..1.0f64, 0.01..1.0f64), 2..40),
        legs in prop::collection::vec((-0.05..1.05f64, -0.002..0.002f64, 1usize..200), 1..12),
        strays in prop::collection::vec((0usize..2000, -0.1..1.2f64), 0..6),
    ) {
        let mut at = [0.0, 0.0];
        let points: Vec<[f64; 2]> = knots.iter().map(|&(x, y)| { at = [at[0] + x, at[1] + y]; at }).collect();
        let curve = Curve::new(&points, SlopeRule::Parabola).unwrap();
        let (first, width) = (points[0][0], at[0] - points[0][0]);
        let mut places: Vec<f64> = legs
            .iter()
            .flat_map(|&(from, step, length)| (0..length).map(move |i| first + (from + step * i as f64) * width))
            .collect();
        for (index, part) in strays {
            let index = index % places.len();
            places[index] = if part > 1.1 { f64::NAN } else { first + part * width };
        }
        let mut values = vec![0.0; places.len()];
        curve.at_batch(&places, &mut values);
        for (x, y) in places.iter().zip(&values) {
            prop_assert_eq!(y.to_bits(), curve.at(*x).to_bits(), "at {}", x);
        }
    }
}

/// A level step is a piece as well, unless its width or one over it is beyond the numbers.
#[test]
fn a_step_wider_or_narrower_than_numbers_is_none() {
    for (left, right, fits) in [
        (-0.5e308, 0.5e308, true),
        (-1.5e308, 1.5e308, false),
        (0.0, 1e-300, true),
        (0.0, 1e-310, false),
    ] {
        for y in [0.0, 3.0] {
            let piece = Piece::new(Knot::new(left, y), Knot::new(right, y), 0);
            assert_eq!(piece.is_ok(), fits, "{left} to {right}: {piece:?}");
        }
    }
}
