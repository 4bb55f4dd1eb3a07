//! Stops that a bend hides: no stop is named, but the travel must not go on to where the joint hardly moves.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::fit::{EndKind, FitOptions, LimitFit, Readings, Warning, fit_limits};

/// Nearly normal scatter: sums of twelve of a small generator (xorshift64*).
fn scatter(state: &mut u64) -> f64 {
    (0..12).fold(-6.0, |sum, _| {
        *state ^= *state >> 12;
        *state ^= *state << 25;
        *state ^= *state >> 27;
        sum + (state.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / (1u64 << 53) as f64
    })
}

/// Invented: a joint swept up and down in steps of 5 deg, read with a scatter of 0.2 deg, between two hard stops.
fn swept(shape: impl Fn(f64) -> f64, [lower, upper]: [f64; 2], seed: u64) -> LimitFit {
    let mut state = seed;
    let up: Vec<f64> = (0..=32).map(|i| 10.0 + 5.0 * f64::from(i)).collect();
    let drive: Vec<f64> = up.iter().chain(up.iter().rev()).copied().collect();
    let measured: Vec<f64> = drive
        .iter()
        .map(|&d| shape(d.clamp(lower, upper)) + 0.2 * scatter(&mut state))
        .collect();
    fit_limits(&Readings::new(&drive, &measured), &FitOptions::default()).unwrap()
}

fn levels(fit: &LimitFit) -> usize {
    let is_level = |warning: &&Warning| matches!(warning, Warning::LevelBeyond { .. });
    fit.warnings.iter().filter(is_level).count()
}

#[test]
fn a_stop_in_a_bend_ends_the_travel() {
    let mut hidden = 0;
    for (bend, seed) in (0..=12)
        .step_by(2)
        .flat_map(|bend| (1..=20).map(move |seed| (f64::from(bend), seed)))
    {
        // An S: steepest at 80 deg.
        let shape = |d: f64| 0.5 * d + bend * ((d - 80.0) / 20.0).tanh();
        for stop in [140.0, 145.0, 150.0] {
            let fit = swept(shape, [f64::MIN, stop], seed);
            let [_, upper] = fit.travel.unwrap();
            assert!(
                upper <= stop,
                "bend {bend}, stop {stop}, seed {seed}: travel to {upper}"
            );
            hidden += usize::from(fit.upper.kind == EndKind::Clear);
            // The same the other way round.
            let fit = swept(|d| -shape(180.0 - d), [180.0 - stop, f64::MAX], seed);
            let [lower, _] = fit.travel.unwrap();
            assert!(
                lower >= 180.0 - stop,
                "bend {bend}, stop {stop}, seed {seed}: travel from {lower}"
            );
        }
    }
    assert!(hidden > 50, "else this would test what names stops: {hidden}");
}

#[test]
fn a_joint_that_moves_to_its_end_is_not_called_level() {
    for seed in 1..=50 {
        let straight = swept(|d| 0.8 * d, [f64::MIN, f64::MAX], seed);
        // Down to half of its steepest slope, evenly.
        let bow = swept(
            |d| 1.0 * (d - 10.0) - 0.0015 * (d - 10.0).powi(2),
            [f64::MIN, f64::MAX],
            seed,
        );
        let slight = swept(
            |d| 0.5 * d + 3.0 * ((d - 80.0) / 20.0).tanh(),
            [f64::MIN, f64::MAX],
            seed,
        );
        for (name, fit) in [("straight", straight), ("bow", bow), ("slight", slight)] {
            assert_eq!(levels(&fit), 0, "{name}, seed {seed}: {:?}", fit.warnings);
        }
    }
}

#[test]
fn it_is_said_with_its_place() {
    let fit = swept(|d| 0.5 * d + 10.0 * ((d - 80.0) / 20.0).tanh(), [f64::MIN, 150.0], 3);
    let said: Vec<String> = fit.warnings.iter().map(ToString::to_string).collect();
    let level = said
        .iter()
        .find(|said| said.contains("the joint hardly moves"))
        .unwrap();
    assert!(
        level.starts_with("beyond drive 14") && level.contains("note contact if it is a stop"),
        "{level}"
    );
    assert_eq!(fit.upper.guard, 2.0, "the guard is kept");
}
