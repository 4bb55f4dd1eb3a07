//! Lost motion read on the steps of an instrument, and what seems to be lost motion. The tables are invented.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::fit::{
    Approach, CompareOptions, Diagnosis, FitOptions, LimitFit, LostMotion, Quantity, Readings, Verdict, Warning,
    compare, fit_limits,
};
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, Normal};
use rand_xorshift::XorShiftRng;

/// There and back in steps of `pitch`, sides noted, read on steps of `grid`; `shown` is the sensor's slope.
struct Bench {
    grid: f64,
    pitch: f64,
    sd: f64,
    shown: f64,
}

impl Bench {
    fn fit(&self, lost: f64, rng: &mut XorShiftRng) -> LimitFit {
        let noise = Normal::new(0.0, self.sd).unwrap();
        let up: Vec<f64> = (0..)
            .map(|i| 10.0 + self.pitch * f64::from(i))
            .take_while(|x| *x <= 170.0)
            .collect();
        let drive: Vec<f64> = up.iter().chain(up.iter().rev()).copied().collect();
        let sides: Vec<Approach> = (0..drive.len())
            .map(|i| if i < up.len() { Approach::Below } else { Approach::Above })
            .collect();
        let level = rng.random_range(-1.0..1.0);
        let measured: Vec<f64> = drive
            .iter()
            .zip(&sides)
            .map(|(x, side)| {
                let value = self.shown * (x - 0.5 * lost * side.sign()) + level + noise.sample(rng);
                (value / self.grid).round() * self.grid
            })
            .collect();
        let readings = Readings::new(&drive, &measured).with_approach(&sides);
        fit_limits(&readings, &FitOptions::default().with_resolution(self.grid)).unwrap()
    }
}

/// A drive that goes by whole steps of the protractor: all readings of one side are rounded alike, and no average takes that away. Of 200
/// tables on such steps 64 to 80 % held the lost motion within 2.1 standard uncertainties, and 40 % on steps of 5 deg.
#[test]
fn the_uncertainty_holds_where_all_readings_of_a_side_are_rounded_alike() {
    let benches = [
        (1.0, 10.0, 0.1),
        (1.0, 5.0, 0.2),
        (2.0, 10.0, 0.3),
        (5.0, 10.0, 0.5),
        (2.0, 7.0, 0.3),
        (0.5, 10.0, 0.5),
    ];
    for (grid, pitch, sd) in benches {
        let bench = Bench {
            grid,
            pitch,
            sd,
            shown: 1.0,
        };
        let mut rng = XorShiftRng::seed_from_u64(0x6c6f_7374);
        let mut held = 0;
        for _ in 0..100 {
            let lost = rng.random_range(0.0..3.0);
            let LostMotion::Measured { reversal, u, .. } = bench.fit(lost, &mut rng).lost_motion else {
                panic!("no lost motion on steps of {grid}")
            };
            held += usize::from((reversal + lost).abs() <= 2.1 * u);
        }
        println!("steps of {grid}, every {pitch} deg: {held} of 100");
        assert!(held >= 90, "steps of {grid}, every {pitch} deg: {held} of 100");
    }
}

/// Of pairs of tables of one joint on a whole-degree protractor 22 of 63 were called changed in lost motion.
#[test]
fn rounding_is_no_change_of_lost_motion() {
    let bench = Bench {
        grid: 1.0,
        pitch: 10.0,
        sd: 0.1,
        shown: 1.0,
    };
    let mut rng = XorShiftRng::seed_from_u64(0x726f_756e);
    let called = (0..60).filter(|_| {
        let lost = rng.random_range(0.0..3.0);
        let [old, new] = [bench.fit(lost, &mut rng), bench.fit(lost, &mut rng)];
        let found = compare(&old, &new, &CompareOptions::default()).unwrap();
        found.change(Quantity::LostMotion).unwrap().verdict == Verdict::Changed
    });
    let called = called.count();
    assert!(called <= 3, "{called} of 60");
}

/// The same play behind a sensor of another gain: it was called increased in 78 of 80 pairs, and a smaller one was not told.
#[test]
fn another_sensor_shows_the_same_play() {
    let bench = |shown| Bench {
        grid: 0.1,
        pitch: 7.3,
        sd: 0.2,
        shown,
    };
    let mut rng = XorShiftRng::seed_from_u64(0x6761_696e);
    for gain in [1.3, 0.8, 2.0] {
        for lost in [3.0, 2.0] {
            let [old, new] = [bench(1.0).fit(3.0, &mut rng), bench(gain).fit(lost, &mut rng)];
            let found = compare(&old, &new, &CompareOptions::default()).unwrap();
            let told = found.diagnoses.iter().find_map(|one| match one {
                Diagnosis::LostMotionDecreased { from, to } => Some([*from, *to]),
                Diagnosis::LostMotionIncreased { .. } => panic!("{gain}, {lost}: {one}"),
                _ => None,
            });
            assert_eq!(told.is_some(), lost < 3.0, "{gain}, {lost}: {found:?}");
            // In units of the earlier table.
            if let Some([from, to]) = told {
                assert!((from - 3.0).abs() < 0.3 && (to - lost).abs() < 0.3, "{from} {to}");
            }
        }
    }
}

/// Up, a horn that slips as it meets the stop, and down again, the sides noted as they were: these are not exchanged. They were called so
/// in all such tables, and who exchanged them lost the last sign of the slip.
#[test]
fn a_slip_at_the_turn_is_not_called_exchanged_sides() {
    let (mut exchanged, mut moved) = (0, 0);
    for seed in 0..30 {
        let mut rng = XorShiftRng::seed_from_u64(0x7475_726e_0000 + seed);
        let noise = Normal::new(0.0, 0.2).unwrap();
        let step = [4.0, 5.0, 7.5, 10.0][rng.random_range(0..4)];
        let n = rng.random_range(10..18);
        let up: Vec<f64> = (0..n).map(|i| 20.0 + step * f64::from(i)).collect();
        let stops = [
            up[0] + rng.random_range(0.5..1.8) * step,
            up[up.len() - 1] - rng.random_range(0.5..1.8) * step,
        ];
        let slip: f64 = rng.random_range(4.0..10.0);
        let drive: Vec<f64> = up.iter().chain(up.iter().rev()).copied().collect();
        let ways = (0..drive.len()).map(|i| i < up.len());
        let measured: Vec<f64> = drive
            .iter()
            .zip(ways.clone())
            .map(|(x, up)| {
                let joint = if up { *x } else { x - slip };
                (2.0 * (joint.clamp(stops[0], stops[1]) + noise.sample(&mut rng))).round() / 2.0
            })
            .collect();
        let sides: Vec<Approach> = ways
            .map(|up| if up { Approach::Below } else { Approach::Above })
            .collect();
        let fit = |sides: &[Approach]| {
            let readings = Readings::new(&drive, &measured).with_approach(sides);
            fit_limits(&readings, &FitOptions::default()).unwrap().warnings
        };
        let warnings = fit(&sides);
        let any = |of: fn(&Warning) -> bool| usize::from(warnings.iter().any(of));
        exchanged += any(|one| matches!(one, Warning::SidesExchanged { .. }));
        moved += any(|one| matches!(one, Warning::Slipped { .. } | Warning::PassesDisagree { .. }));
    }
    println!("{exchanged} exchanged, {moved} moved");
    assert!(exchanged <= 2 && moved >= 25, "{exchanged} exchanged, {moved} moved");
}

/// A joint that moves between two stops that are near each other does not jump: a jump was named with a probability of 0.93, the ends were
/// called clear, and the travel ran 37 deg past both stops.
#[test]
fn a_short_way_between_two_stops_is_no_jump() {
    let drive: Vec<f64> = (0..9).map(|i| 30.0 + 10.0 * f64::from(i)).collect();
    let measured = [63.0, 63.0, 62.5, 63.0, 69.5, 80.5, 80.5, 80.5, 80.5];
    if let Ok(fit) = fit_limits(&Readings::new(&drive, &measured), &FitOptions::default()) {
        assert!(
            fit.travel.is_none_or(|[lower, upper]| lower > 60.0 && upper < 82.0),
            "{:?}",
            fit.travel
        );
    }
    let drive: Vec<f64> = (0..17).map(|i| 5.0 + 8.0 * f64::from(i)).collect();
    let measured = [
        106.5, 106.5, 106.5, 106.0, 106.5, 107.0, 106.5, 106.0, 106.0, 106.0, 106.5, 105.5, 106.5, 108.5, 117.0, 125.0,
        133.0,
    ];
    let fit = fit_limits(&Readings::new(&drive, &measured), &FitOptions::default()).unwrap();
    let jumps = |one: &Warning| matches!(one, Warning::Jump { .. });
    assert!(!fit.warnings.iter().any(jumps), "{:?}", fit.warnings);
}
