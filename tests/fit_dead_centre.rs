//! A dead centre is no stop: invented slider-cranks whose crank comes into line with its rod, with and without a stop before it.

#![allow(clippy::unwrap_used)]

use elbowroom::fit::{ContactMark, EndKind, FitOptions, LimitFit, Readings, Warning, fit_limits};
use elbowroom::linkage::{Branch, Mechanism, SliderCrank};

/// A small generator (xorshift64*): 0 to 1.
fn share(state: &mut u64) -> f64 {
    *state ^= *state >> 12;
    *state ^= *state << 25;
    *state ^= *state >> 27;
    (state.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / (1u64 << 53) as f64
}

/// Nearly normal scatter: sums of twelve.
fn scatter(state: &mut u64) -> f64 {
    (0..12).fold(-6.0, |sum, _| sum + share(state))
}

/// Where the drive begins and what stops the slide, in degrees of the crank from its dead centre.
struct Kind {
    begins: f64,
    stop: Option<f64>,
}

/// What was read, and the drive angle of the dead centre or the stop.
struct Table {
    drive: Vec<f64>,
    measured: Vec<f64>,
    truth: f64,
}

impl Table {
    /// 30 to 60 readings over 90 to 140 deg; the drive follows the crank.
    fn read(kind: impl Fn(f64, &mut u64) -> Kind, noise: f64, state: &mut u64) -> Self {
        let links = Mechanism::SliderCrank(SliderCrank {
            crank: 20.0,
            rod: 40.0 + 30.0 * share(state),
            offset: 6.0 * share(state) - 3.0,
            slide_at_zero: 0.0,
            branch: Branch::Right,
        });
        let slide = |crank: f64| links.command_near(crank, 40.0);
        // The furthest place of the slide.
        let places = (-200..200).map(|i| 0.1 * f64::from(i));
        let dead = places.reduce(|a, b| if slide(b) > slide(a) { b } else { a }).unwrap();
        let n = 30 + (30.0 * share(state)) as u32;
        let step = (90.0 + 50.0 * share(state)) / f64::from(n - 1);
        let Kind { begins, stop } = kind(step, state);
        let drive: Vec<f64> = (0..n).map(|i| 10.0 + step * f64::from(i)).collect();
        let crank = |drive: f64| (begins + drive - 10.0).max(stop.unwrap_or(f64::MIN));
        let measured = drive
            .iter()
            .map(|d| slide(dead + crank(*d)) + noise * scatter(state))
            .collect();
        let truth = 10.0 - begins + stop.unwrap_or(0.0);
        Self { drive, measured, truth }
    }

    fn fit(&self) -> LimitFit {
        let options = FitOptions::default().with_guard(0.0);
        fit_limits(&Readings::new(&self.drive, &self.measured), &options).unwrap()
    }
}

/// Of 300 tables: stops named at the lower end, level ends warned of, and travel that ends more than 1 deg past the dead centre or stop.
fn count(kind: impl Fn(f64, &mut u64) -> Kind, noise: f64) -> [i32; 3] {
    let mut state = 0x0DEA_D5EED;
    let mut counts = [0; 3];
    for _ in 0..300 {
        let table = Table::read(&kind, noise, &mut state);
        let fit = table.fit();
        let is_level = fit.warnings.iter().any(|w| matches!(w, Warning::LevelBeyond { .. }));
        let is_past = fit.lower.travel < table.truth - 1.0;
        for (count, is) in counts
            .iter_mut()
            .zip([fit.lower.kind == EndKind::Contact, is_level, is_past])
        {
            *count += i32::from(is);
        }
    }
    println!("noise {noise}: {counts:?}");
    counts
}

/// 87, 69 and 66 of these were said to have met a stop.
#[test]
fn a_dead_centre_is_no_contact() {
    for (noise, most) in [(0.02, 3), (0.1, 9), (0.3, 15)] {
        let [contacts, level, past] = count(
            |_, state| Kind {
                begins: 0.5 + 5.0 * share(state),
                stop: None,
            },
            noise,
        );
        assert!(contacts <= most && level > 0 && past == 0, "{contacts} {level} {past}");
    }
}

/// A stop where the joint still moves stays a stop, and what is taken for a dead centre gains no travel by it.
#[test]
fn a_stop_of_a_bent_joint_stays_a_contact() {
    let [contacts, _, past] = count(
        |step, state| {
            let stop = 45.0 + 20.0 * share(state);
            Kind {
                begins: stop - 3.5 * step,
                stop: Some(stop),
            }
        },
        0.1,
    );
    assert!(contacts >= 270 && past <= 6, "{contacts} {past}");
    let [contacts, _, past] = count(
        |_, state| {
            let begins = 0.5 + 5.0 * share(state);
            Kind {
                begins,
                stop: Some(begins + 8.0 + 25.0 * share(state)),
            }
        },
        0.02,
    );
    assert!(contacts >= 280 && past <= 6, "{contacts} {past}");
}

/// What somebody felt is believed.
#[test]
fn a_marked_contact_stays_one() {
    let mut state = 7;
    for _ in 0..50 {
        let kind = |_: f64, state: &mut u64| Kind {
            begins: 0.5 + 5.0 * share(state),
            stop: None,
        };
        let table = Table::read(kind, 0.1, &mut state);
        let mut marks = vec![ContactMark::None; table.drive.len()];
        if let Some(first) = marks.first_mut() {
            *first = ContactMark::Lower;
        }
        let readings = Readings::new(&table.drive, &table.measured).with_contact(&marks);
        assert_eq!(
            fit_limits(&readings, &FitOptions::default()).unwrap().lower.kind,
            EndKind::Contact
        );
    }
}
