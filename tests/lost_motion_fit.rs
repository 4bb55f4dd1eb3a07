//! Lost motion in the fits of transmissions. All joints here are invented, with known truth.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::fit::{
    Approach, FitOptions, Guess, LostMotion, MOST_KNOTS, NotDeterminable, Readings, choose_transmission, fit_curve,
    fit_limits, fit_linkage, t_quantile,
};
use elbowroom::linkage::{Branch, FourBar, Mechanism};

/// Nearly normal scatter: sums of twelve of a small generator (xorshift64*).
fn scatter(state: &mut u64) -> f64 {
    (0..12).fold(-6.0, |sum, _| {
        *state ^= *state >> 12;
        *state ^= *state << 25;
        *state ^= *state >> 27;
        sum + (state.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / (1u64 << 53) as f64
    })
}

/// A table: drive angles up and down again, what was measured, and from which side.
struct Table {
    drive: Vec<f64>,
    measured: Vec<f64>,
    approach: Vec<Approach>,
}

impl Table {
    /// `joint` gives the joint angle of a drive angle; `play` is the lost motion in drive angle before it, `behind` that in measured
    /// value behind it.
    fn read(joint: impl Fn(f64) -> f64, [play, behind]: [f64; 2], noise: f64, state: &mut u64) -> Self {
        let up = (0..20).map(|i| (20.0 + 5.0 * f64::from(i), Approach::Below));
        let down = (0..20).rev().map(|i| (20.0 + 5.0 * f64::from(i), Approach::Above));
        let (drive, approach): (Vec<f64>, Vec<Approach>) = up.chain(down).unzip();
        let pairs = drive.iter().zip(&approach);
        let measured = pairs
            .map(|(x, a)| joint(x - 0.5 * a.sign() * play) - 0.5 * a.sign() * behind + noise * scatter(state))
            .collect();
        Self {
            drive,
            measured,
            approach,
        }
    }

    fn readings(&self) -> Readings<'_> {
        Readings::new(&self.drive, &self.measured).with_approach(&self.approach)
    }

    fn without_approach(&self) -> Readings<'_> {
        Readings::new(&self.drive, &self.measured)
    }
}

/// A pushrod of the heron's wing: horn, rod, lever; the drive goes with the horn.
fn wing() -> FourBar {
    FourBar {
        crank: 20.0,
        coupler: 60.0,
        rocker: 18.0,
        ground: 62.0,
        rocker_at_zero: 50.0,
        branch: Branch::Left,
    }
}

/// The wing's joint angle at a drive angle: it goes from 5 to 75 deg as the drive goes from 20 to 115.
fn wing_at(links: FourBar, drive: f64) -> f64 {
    let links = Mechanism::FourBar(links);
    let [from, to] = [5.0, 75.0].map(|joint| links.moved(joint));
    links.command_near(from + (drive - 20.0) / 95.0 * (to - from), 40.0)
}

fn measured(lost: LostMotion) -> (f64, f64, f64) {
    let LostMotion::Measured { value, u, reversal, .. } = lost else {
        panic!("{lost:?}")
    };
    (value, u, reversal)
}

/// Readings 0.2 deg apart by their side, scattering by 0.028: the curve left 0.100 of them.
#[test]
fn a_curve_leaves_the_scatter_alone() {
    let bent = |x: f64| 0.3 * x + 0.002 * x * x;
    let mut state = 0x5EED_0001;
    let (mut inside, runs) = (0, 400);
    for _ in 0..runs {
        let table = Table::read(bent, [0.0, 0.2], 0.028, &mut state);
        let plain = fit_curve(&table.without_approach(), MOST_KNOTS).unwrap();
        assert!(plain.residual_sd > 0.085, "{}", plain.residual_sd);
        let fit = fit_curve(&table.readings(), MOST_KNOTS).unwrap();
        assert!((0.015..0.042).contains(&fit.residual_sd), "{}", fit.residual_sd);
        assert_eq!(fit.dof, 40 - fit.knots.len() - 1);
        let (value, u, reversal) = measured(fit.lost_motion);
        assert!(reversal < 0.0 && value == -reversal);
        inside += i32::from((value - 0.2).abs() <= t_quantile(0.975, fit.dof as f64) * u);
        // The sum of squares is that of the values expected of each side.
        let squares: f64 = (0..40)
            .map(|i| (table.measured[i] - fit.expected(table.drive[i], table.approach[i])).powi(2))
            .sum();
        assert!((squares / fit.sum_of_squares - 1.0).abs() < 1e-6);
    }
    println!("{inside} of {runs} hold");
    // 95 % of 400 is 380; three standard deviations of a binomial count are 13.
    assert!((362..=395).contains(&inside), "{inside} of {runs}");
}

/// Play before the bend is a change of the drive angle: where the joint is steep it is more of the measured value.
#[test]
fn play_before_the_bend_is_told_from_play_behind_it() {
    // The slope goes from 0.28 to 1.52.
    let bent = |x: f64| 0.0326 * x * x * 0.2 + 0.02 * x;
    for (sign, mut state) in [(1.0, 0x5EED_0002), (-1.0, 0x5EED_0003)] {
        for _ in 0..50 {
            let joint = |x: f64| sign * bent(x);
            let before = Table::read(joint, [2.0, 0.0], 0.05, &mut state);
            let fit = fit_curve(&before.readings(), MOST_KNOTS).unwrap();
            assert!(
                fit.by_side.measured == 0.0 && (fit.by_side.drive + 1.0).abs() < 0.1,
                "{:?}",
                fit.by_side
            );
            assert!(fit.residual_sd < 0.08, "{}", fit.residual_sd);
            let LostMotion::Measured {
                drive,
                u_drive,
                reversal,
                ..
            } = fit.lost_motion
            else {
                panic!("{:?}", fit.lost_motion)
            };
            assert!(
                (drive - 2.0).abs() < 5.0 * u_drive && u_drive < 0.1,
                "{drive} {u_drive}"
            );
            assert_eq!(reversal < 0.0, sign > 0.0);
            let behind = Table::read(joint, [0.0, 1.5], 0.05, &mut state);
            let fit = fit_curve(&behind.readings(), MOST_KNOTS).unwrap();
            assert!(
                fit.by_side.drive == 0.0 && (fit.by_side.measured + 0.75).abs() < 0.1,
                "{:?}",
                fit.by_side
            );
            assert!(fit.residual_sd < 0.08, "{}", fit.residual_sd);
        }
    }
}

#[test]
fn a_linkage_leaves_the_scatter_alone() {
    let links = wing();
    let start = Mechanism::FourBar(FourBar {
        crank: 22.0,
        rocker_at_zero: 56.0,
        ..links
    });
    let free = ["crank", "rocker_at_zero"];
    let runs = 50;
    for lost in [[0.0, 0.3], [1.0, 0.0]] {
        let mut state = 0x5EED_0004;
        let (mut inside, mut horn, mut place) = (0, 0, 0);
        for _ in 0..runs {
            let table = Table::read(|x| wing_at(links, x), lost, 0.03, &mut state);
            let plain = fit_linkage(&table.without_approach(), &start, &free).unwrap();
            let fit = fit_linkage(&table.readings(), &start, &free).unwrap();
            assert!(plain.residual_sd > 4.0 * fit.residual_sd);
            assert!((0.018..0.045).contains(&fit.residual_sd), "{}", fit.residual_sd);
            assert_eq!((plain.dof, fit.dof), (36, 35));
            let k = t_quantile(0.975, 35.0);
            let LostMotion::Measured {
                value,
                u,
                drive,
                u_drive,
                ..
            } = fit.lost_motion
            else {
                panic!("{:?}", fit.lost_motion)
            };
            let [play, behind] = lost;
            let off = if play > 0.0 {
                (drive - play).abs() / u_drive
            } else {
                (value - behind).abs() / u
            };
            inside += i32::from(off <= k);
            horn += i32::from((fit.found[0].value - 20.0).abs() <= k * fit.found[0].u);
            place += i32::from((fit.by_side.drive != 0.0) == (play > 0.0));
            let squares: f64 = (0..40)
                .map(|i| (table.measured[i] - fit.expected(table.drive[i], table.approach[i])).powi(2))
                .sum();
            assert!(
                (squares / fit.sum_of_squares - 1.0).abs() < 0.05,
                "{squares} {}",
                fit.sum_of_squares
            );
        }
        println!("{lost:?}: {inside} lost motions, {horn} horns of {runs} hold, {place} places right");
        assert!((44..=50).contains(&inside) && (44..=50).contains(&horn));
    }
}

/// Without the sides, half of the tables of a gently bent pushrod were taken for straight.
#[test]
fn a_bend_is_seen_through_lost_motion() {
    let links = FourBar { crank: 14.0, ..wing() };
    let start = Mechanism::FourBar(FourBar { crank: 15.0, ..links });
    let guess = Guess {
        start,
        free: &["crank"],
    };
    let mut state = 0x5EED_0005;
    let (mut known, mut unknown) = (0, 0);
    for _ in 0..60 {
        let gentle = |x: f64| 0.9 * x + 0.06 * (wing_at(links, x) - 0.9 * x);
        let table = Table::read(gentle, [0.0, 1.0], 0.03, &mut state);
        let linear = |readings: &Readings<'_>| {
            let choice = choose_transmission(readings, &[guess], MOST_KNOTS).unwrap();
            let chosen = choice.chosen().unwrap();
            let line = &choice.candidates[0];
            assert_eq!(line.lost_motion.estimate().is_some(), readings.approach.is_some());
            assert_eq!(line.parameters, 2 + usize::from(readings.approach.is_some()));
            chosen.kind() == "linear"
        };
        known += i32::from(linear(&table.readings()));
        unknown += i32::from(linear(&table.without_approach()));
    }
    println!("taken for straight: {known} of 60 with the sides, {unknown} without");
    assert!(known == 0 && unknown > 25, "{known} {unknown}");
}

/// A straight joint with lost motion is straight, and its line lies midway.
#[test]
fn a_straight_joint_with_lost_motion_is_straight() {
    let mut state = 0x5EED_0006;
    let (mut straight, mut inside) = (0, [0; 3]);
    for _ in 0..200 {
        // Read upward over all of the range, downward over its upper half only: the sides pull at the slope.
        let mut table = Table::read(|x| 5.0 + 0.5 * x, [0.0, 0.8], 0.1, &mut state);
        for column in [&mut table.drive, &mut table.measured] {
            column.truncate(30);
        }
        table.approach.truncate(30);
        let choice = choose_transmission(&table.readings(), &[], MOST_KNOTS).unwrap();
        straight += i32::from(choice.chosen().unwrap().kind() == "linear");
        let line = &choice.candidates[0];
        let elbowroom::fit::Tried::Linear(fit) = &line.tried else {
            panic!("{:?}", line.tried)
        };
        let (value, u, _) = measured(line.lost_motion);
        let k = t_quantile(0.975, 27.0);
        assert_eq!((fit.dof, line.parameters), (27, 3));
        for (count, (found, u, want)) in inside.iter_mut().zip([
            (value, u, 0.8),
            (fit.slope, fit.u_slope, 0.5),
            (fit.intercept, fit.u_intercept, 5.0),
        ]) {
            *count += i32::from((found - want).abs() <= k * u);
        }
        assert!((fit.residual_sd - line.residual_sd).abs() < 1e-15);
        let squares: f64 = (0..30)
            .map(|i| (table.measured[i] - line.expected(table.drive[i], table.approach[i])).powi(2))
            .sum();
        assert!((squares / fit.sum_of_squares - 1.0).abs() < 1e-9);
    }
    println!("{straight} of 200 straight; {inside:?} hold");
    assert!(
        straight >= 190 && inside.iter().all(|count| (180..=199).contains(count)),
        "{inside:?}"
    );
}

/// Without the sides, with one side only, or where no stretch was reached from both, every bit is as without the column.
#[test]
fn sides_that_show_nothing_change_nothing() {
    let bent = |x: f64| 0.3 * x + 0.002 * x * x;
    let mut state = 0x5EED_0007;
    let table = Table::read(bent, [0.0, 0.2], 0.05, &mut state);
    let links = wing();
    let start = Mechanism::FourBar(FourBar { crank: 22.0, ..links });
    let guess = Guess {
        start,
        free: &["crank"],
    };
    let outward = |x: f64| if x > 60.0 { Approach::Below } else { Approach::Above };
    let columns = [
        (vec![Approach::Unknown; 40], NotDeterminable::ApproachUnknown),
        (vec![Approach::Below; 40], NotDeterminable::OneSide),
        (vec![Approach::Above; 40], NotDeterminable::OneSide),
        (
            table.drive.iter().map(|x| outward(*x)).collect(),
            NotDeterminable::NoCommonStretch,
        ),
    ];
    let wing_table = Table::read(|x| wing_at(links, x), [0.0, 0.0], 0.05, &mut state);
    for (approach, want) in columns {
        for given in [&table, &wing_table] {
            let plain = given.without_approach();
            let with = plain.with_approach(&approach);
            let reason = LostMotion::NotDeterminable { reason: want };
            let (mut fit, without) = (fit_curve(&with, 7).unwrap(), fit_curve(&plain, 7).unwrap());
            assert_eq!(fit.lost_motion, reason);
            fit.lost_motion = without.lost_motion;
            assert_eq!(fit, without);
            let linkages = [&with, &plain].map(|readings| fit_linkage(readings, &start, guess.free));
            if let [Ok(mut fit), Ok(without)] = linkages.clone() {
                assert_eq!(fit.lost_motion, reason);
                fit.lost_motion = without.lost_motion;
                assert_eq!(fit, without);
            } else {
                assert_eq!(linkages[0].clone().err(), linkages[1].clone().err());
            }
            let [one, other] = [&with, &plain].map(|readings| choose_transmission(readings, &[guess], 7).unwrap());
            assert_eq!((one.best, &one.reasons), (other.best, &other.reasons));
            for (one, other) in one.candidates.iter().zip(&other.candidates) {
                assert_eq!(
                    (one.criterion.to_bits(), one.residual_sd.to_bits(), one.parameters),
                    (other.criterion.to_bits(), other.residual_sd.to_bits(), other.parameters)
                );
            }
        }
    }
}

/// The way that most go: limits first, then the transmission of what lies between the stops, with the sides.
#[test]
fn the_sides_go_on_from_limits_to_the_transmission() {
    let mut state = 0x5EED_0008;
    let bent = |x: f64| (0.3 * x + 0.002 * x * x).clamp(12.0, 44.0);
    let table = Table::read(bent, [0.0, 0.2], 0.03, &mut state);
    let limits = fit_limits(&table.readings(), &FitOptions::default()).unwrap();
    let between = limits.between_stops(&table.readings());
    let sides = between.approach.as_ref().unwrap();
    assert_eq!(
        (between.drive.len(), between.drive.len()),
        (between.measured.len(), sides.len())
    );
    assert!(between.drive.len() < 40 && between.drive.len() > 20);
    for (x, side) in between.drive.iter().zip(sides) {
        let at = table.drive.iter().zip(&table.approach);
        assert_eq!(at.filter(|(y, s)| *y == x && *s == side).count(), 1);
    }
    let choice = choose_transmission(&between.readings(), &[], MOST_KNOTS).unwrap();
    let chosen = choice.chosen().unwrap();
    assert_eq!(chosen.kind(), "curve");
    assert!(chosen.residual_sd < 0.05, "{}", chosen.residual_sd);
    assert!(limits.between_stops(&table.without_approach()).approach.is_none());
}

/// Five readings are the fewest for a curve; one number more must not leave nothing.
#[test]
fn few_readings_still_fit() {
    use Approach::{Above, Below};
    let drive = [0.0, 10.0, 20.0, 10.0, 0.0];
    let read = [0.1, 5.0, 10.1, 5.4, 0.3];
    let sides = [Below, Below, Below, Above, Above];
    let readings = Readings::new(&drive, &read).with_approach(&sides);
    let fit = fit_curve(&readings, 7).unwrap();
    assert_eq!((fit.knots.len(), fit.dof), (2, 2));
    let (value, u, reversal) = measured(fit.lost_motion);
    assert!(reversal < 0.0 && value > 0.1 && value < 0.5 && u > 0.0);
    assert!(
        choose_transmission(&readings, &[], 7)
            .unwrap()
            .candidates
            .iter()
            .all(|c| c.criterion.is_finite())
    );
    let start = Mechanism::FourBar(wing());
    let five = fit_linkage(&readings, &start, &["crank", "rocker_at_zero"]);
    if let Ok(fit) = five {
        let few = NotDeterminable::TooFewReadings;
        assert_eq!(fit.lost_motion, LostMotion::NotDeterminable { reason: few });
    }
    assert!(fit_curve(&readings.with_approach(&sides[..3]), 7).is_err());
}

/// Pressed to its dead centre from one side only, an actuator goes further by its play than the joint can follow: the mean slope is then that
/// of the readings themselves.
#[test]
fn play_beyond_a_dead_centre_is_as_wide_as_elsewhere() {
    use elbowroom::linkage::Triangle;
    let triangle = Triangle {
        base: 40.0,
        arm: 92.0,
        angle_at_zero: 31.0,
    };
    let links = Mechanism::Triangle(triangle);
    // The arms are in one line at a length of 132, which the drive reaches at 132 deg.
    for sign in [1.0, -1.0] {
        let joint = |x: f64| links.command_near(sign * x, 60.0);
        let up: Vec<f64> = (0..23).map(|i| 70.0 + 62.5 * f64::from(i) / 22.0).collect();
        let down: Vec<f64> = (0..22).map(|i| 130.5 - 60.0 * f64::from(i) / 21.0).collect();
        let mut state = 0x5EED_0009;
        let read = |(x, side): (f64, f64)| (sign * x, joint(sign * (x - side)), side);
        let all = up
            .iter()
            .map(|&x| (x, 1.0))
            .chain(down.iter().map(|&x| (x, -1.0)))
            .map(read);
        let (mut drive, mut measured, mut approach) = (Vec::new(), Vec::new(), Vec::new());
        for (x, y, side) in all {
            drive.push(x);
            measured.push(y + 0.02 * scatter(&mut state));
            approach.push(if side * sign > 0.0 {
                Approach::Below
            } else {
                Approach::Above
            });
        }
        let readings = Readings::new(&drive, &measured).with_approach(&approach);
        let fit = fit_linkage(&readings, &links, &["angle_at_zero"]).unwrap();
        let ends = |v: &[f64]| v.iter().fold([f64::MAX, f64::MIN], |[a, b], &v| [a.min(v), b.max(v)]);
        let ([from, to], [low, high]) = (ends(&drive), ends(&measured));
        assert!(fit.drive.iter().any(|&x| fit.measured_at(x).is_nan()), "{fit:?}");
        let LostMotion::Measured {
            value, reversal, drive, ..
        } = fit.lost_motion
        else {
            panic!("{:?}", fit.lost_motion)
        };
        assert!((drive - 2.0).abs() < 0.1, "{drive}");
        let slope = sign * (high - low) / (to - from);
        assert!(
            (value - drive * slope.abs()).abs() < 1e-9 * value,
            "{value} {drive} {slope}"
        );
        assert!(
            (reversal - 2.0 * fit.by_side.drive * slope).abs() < 1e-9 * value,
            "{reversal} {slope}"
        );
    }
}
