//! Dimensions of mechanisms found from readings.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::Code;
use elbowroom::fit::{FitError, Guess, LinkageFit, Reason, choose_transmission, fit_linkage, t_quantile};
use elbowroom::linkage::{CrankSlider, FourBar, Mechanism, Side, Spool, Triangle};

/// Nearly normal scatter: sums of twelve of a small generator (xorshift64*).
fn scatter(state: &mut u64) -> f64 {
    (0..12).fold(-6.0, |sum, _| {
        *state ^= *state >> 12;
        *state ^= *state << 25;
        *state ^= *state >> 27;
        sum + (state.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / (1u64 << 53) as f64
    })
}

struct Case {
    truth: Mechanism,
    start: Mechanism,
    free: &'static [&'static str],
    range: [f64; 2],
    noise: f64,
}

/// Invented mechanisms, and what a ruler might say of them.
fn cases() -> Vec<Case> {
    let four_bar = |horn, lever_at_zero| {
        Mechanism::FourBar(FourBar {
            horn,
            rod: 60.0,
            lever: 18.0,
            ground: 62.0,
            lever_at_zero,
            side: Side::Left,
        })
    };
    let crank = |rod, slide_at_zero| {
        Mechanism::CrankSlider(CrankSlider {
            crank: 20.0,
            rod,
            offset: 2.0,
            slide_at_zero,
            side: Side::Right,
        })
    };
    let triangle = |far, angle_at_zero| {
        Mechanism::Triangle(Triangle {
            near: 40.0,
            far,
            angle_at_zero,
        })
    };
    let spool = |per_turn| {
        Mechanism::Spool(Spool {
            drum: 8.0,
            per_turn,
            pulley: 20.0,
        })
    };
    vec![
        Case {
            truth: triangle(92.0, 31.0),
            start: triangle(80.0, 24.0),
            free: &["far", "angle_at_zero"],
            range: [0.0, 95.0],
            noise: 0.1,
        },
        Case {
            truth: four_bar(20.0, 50.0),
            start: four_bar(22.0, 56.0),
            free: &["horn", "lever_at_zero"],
            range: [0.0, 80.0],
            noise: 0.1,
        },
        Case {
            truth: crank(45.0, 40.0),
            start: crank(48.0, 41.0),
            free: &["rod", "slide_at_zero"],
            range: [-8.0, 20.0],
            noise: 0.02,
        },
        Case {
            truth: spool(1.5),
            start: spool(0.2),
            free: &["per_turn"],
            range: [0.0, 180.0],
            noise: 0.2,
        },
    ]
}

/// Drive angles over the range as a sweep gives them, and the joint's angle read with scatter.
fn readings(case: &Case, state: &mut u64) -> (Vec<f64>, Vec<f64>) {
    let [a, b] = case.range;
    let ends = [a, b].map(|c| case.truth.moved(c));
    (0..30)
        .map(|i| {
            let command = a + (b - a) * f64::from(i) / 29.0;
            let drive = 10.0 + 140.0 * (case.truth.moved(command) - ends[0]) / (ends[1] - ends[0]);
            (drive, command + case.noise * scatter(state))
        })
        .unzip()
}

fn fit(case: &Case, state: &mut u64) -> LinkageFit {
    let (drive, measured) = readings(case, state);
    fit_linkage(&drive, &measured, &case.start, case.free).unwrap()
}

#[test]
fn exact_readings_give_the_mechanism_back() {
    for mut case in cases() {
        case.noise = 0.0;
        let fit = fit(&case, &mut 1);
        for found in &fit.found {
            let want = case.truth.dimension(found.name).unwrap();
            assert!(
                (found.value - want).abs() < 1e-5 * want.abs(),
                "{} {} for {want}",
                found.name,
                found.value
            );
            assert_eq!(fit.mechanism.dimension(found.name), Some(found.value));
        }
        assert!(fit.residual_sd < 1e-6);
    }
}

#[test]
fn uncertainties_cover_the_truth() {
    let mut state = 0x0BAD_5EED_0BAD_5EED;
    for case in cases() {
        let runs = 200;
        let mut inside = vec![0; case.free.len()];
        for _ in 0..runs {
            let fit = fit(&case, &mut state);
            assert_eq!(fit.dof, 28 - case.free.len());
            let k = t_quantile(0.975, fit.dof as f64);
            for (count, found) in inside.iter_mut().zip(&fit.found) {
                let want = case.truth.dimension(found.name).unwrap();
                *count += i32::from((found.value - want).abs() <= k * found.u);
            }
        }
        // 95 % of 200 is 190; three standard deviations of a binomial count are 9.2.
        for (count, name) in inside.iter().zip(case.free) {
            println!("{} {name}: {count} of {runs}", case.truth.kind());
            assert!(
                (180..=199).contains(count),
                "{} {name}: {count} of {runs}",
                case.truth.kind()
            );
        }
    }
}

#[test]
fn what_cannot_be_found_is_said() {
    let case = &cases()[0];
    let (drive, measured) = readings(case, &mut 7);
    let refused = |free: &'static [&'static str]| fit_linkage(&drive, &measured, &case.start, free).unwrap_err();
    // Only the ratio of two lengths shapes a triangle.
    let both = refused(&["near", "far", "angle_at_zero"]);
    assert!(matches!(both, FitError::NotDetermined { .. }), "{both}");
    assert_eq!(both.code(), Code::NoAgreement);
    assert!(matches!(
        refused(&["horn"]),
        FitError::UnknownDimension {
            name: "horn",
            kind: "triangle"
        }
    ));
    assert!(matches!(refused(&["far", "far"]), FitError::UnknownDimension { .. }));
    assert!(matches!(
        fit_linkage(&drive[..4], &measured[..4], &case.start, case.free).unwrap_err(),
        FitError::TooFewReadings { .. }
    ));
    let far = Mechanism::CrankSlider(CrankSlider {
        crank: 1.0,
        rod: 2.0,
        offset: 0.0,
        slide_at_zero: 0.0,
        side: Side::Left,
    });
    let error = fit_linkage(&drive, &measured, &far, &["rod"]).unwrap_err();
    assert_eq!(error.code(), Code::TransmissionUnfit);
}

#[test]
fn the_best_transmission_is_chosen_and_said_why() {
    let mut state = 42;
    let all = cases();
    let guesses: Vec<Guess<'_>> = all
        .iter()
        .map(|case| Guess {
            start: case.start,
            free: case.free,
        })
        .collect();
    // Each mechanism's own readings, with its own guess and that of a spool: a mechanism beats a curve that takes more numbers.
    for (case, guess) in all.iter().zip(&guesses) {
        let (drive, measured) = readings(case, &mut state);
        let choice = choose_transmission(&drive, &measured, &[*guess], 7).unwrap();
        assert_eq!(choice.chosen().unwrap().kind(), case.truth.kind(), "{choice:?}");
        assert_eq!(choice.candidates.len(), 3);
        let said: Vec<String> = choice.reasons.iter().map(ToString::to_string).collect();
        assert!(
            said[0].starts_with("linear leaves") && said[1].contains("explains the bend"),
            "{said:?}"
        );
    }
    // A straight joint needs nothing else, whatever is guessed.
    let drive: Vec<f64> = (0..30).map(|i| f64::from(i) * 3.0).collect();
    let measured: Vec<f64> = drive
        .iter()
        .map(|x| 0.5 * x + 5.0 + 0.2 * scatter(&mut state))
        .collect();
    let choice = choose_transmission(&drive, &measured, &guesses[3..], 7).unwrap();
    assert_eq!(choice.chosen().unwrap().kind(), "linear");
    assert!(choice.reasons[0].to_string().contains("no less than chance"));
    // A bend that the guessed mechanism does not have: a curve, and the guess is named.
    let bent: Vec<f64> = drive
        .iter()
        .map(|x| 40.0 * ((x - 45.0) / 20.0).tanh() + 45.0 + 0.05 * scatter(&mut state))
        .collect();
    let choice = choose_transmission(&drive, &bent, &guesses[3..], 12).unwrap();
    assert_eq!(choice.chosen().unwrap().kind(), "curve");
    assert!(
        choice
            .reasons
            .iter()
            .any(|r| matches!(r, Reason::Unexplained { kind: "spool", .. }))
    );
    // Without scatter no ratio is drawn to what rounding leaves.
    let exact: Vec<f64> = drive.iter().map(|x| 0.5 * x + 0.006 * x * x).collect();
    let choice = choose_transmission(&drive, &exact, &[], 7).unwrap();
    let said = choice.reasons[0].to_string();
    assert!(
        said.starts_with("linear leaves") && said.contains("less than a thousandth") && !said.contains("times"),
        "{said}"
    );
    // One that cannot be fitted is a reason, not an error.
    let far = Mechanism::CrankSlider(CrankSlider {
        crank: 1.0,
        rod: 2.0,
        offset: 0.0,
        slide_at_zero: 0.0,
        side: Side::Left,
    });
    let choice = choose_transmission(
        &drive,
        &bent,
        &[Guess {
            start: far,
            free: &["rod"],
        }],
        12,
    )
    .unwrap();
    assert!(choice.reasons.iter().any(|r| {
        r.to_string()
            .starts_with("crank-slider was not fitted: the mechanism cannot reach")
    }));
}
