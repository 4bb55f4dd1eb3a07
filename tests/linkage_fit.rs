//! Dimensions of mechanisms found from readings.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::fit::{
    EndKind, FitError, FitOptions, Guess, LinkageFit, Readings, Reason, choose_transmission, fit_limits, fit_linkage,
    t_quantile,
};
use elbowroom::linkage::{Branch, FourBar, LinkageError, Mechanism, SliderCrank, Spool, Triangle};
use elbowroom::{Code, Joint, JointRecord, ServoRecord, TimerRecord, TransmissionRecord};

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
    let four_bar = |crank, rocker_at_zero| {
        Mechanism::FourBar(FourBar {
            crank,
            coupler: 60.0,
            rocker: 18.0,
            ground: 62.0,
            rocker_at_zero,
            branch: Branch::Left,
        })
    };
    let crank = |rod, slide_at_zero| {
        Mechanism::SliderCrank(SliderCrank {
            crank: 20.0,
            rod,
            offset: 2.0,
            slide_at_zero,
            branch: Branch::Right,
        })
    };
    let triangle = |arm, angle_at_zero| {
        Mechanism::Triangle(Triangle {
            base: 40.0,
            arm,
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
            free: &["arm", "angle_at_zero"],
            range: [0.0, 95.0],
            noise: 0.1,
        },
        Case {
            truth: four_bar(20.0, 50.0),
            start: four_bar(22.0, 56.0),
            free: &["crank", "rocker_at_zero"],
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

/// The true offset and gain: the drive goes from 10 to 150 deg as the joint goes through its range.
fn line_of(case: &Case) -> [f64; 2] {
    let [from, to] = case.range.map(|command| case.truth.moved(command));
    let gain = 140.0 / (to - from);
    [10.0 - gain * from, gain]
}

/// Drive angles over the range as a sweep gives them, and the joint's angle read with scatter.
fn readings(case: &Case, state: &mut u64) -> (Vec<f64>, Vec<f64>) {
    let [a, b] = case.range;
    let [offset, gain] = line_of(case);
    (0..30)
        .map(|i| {
            let command = a + (b - a) * f64::from(i) / 29.0;
            let drive = offset + gain * case.truth.moved(command);
            (drive, command + case.noise * scatter(state))
        })
        .unzip()
}

fn fit(case: &Case, state: &mut u64) -> LinkageFit {
    let (drive, measured) = readings(case, state);
    fit_linkage(&Readings::new(&drive, &measured), &case.start, case.free).unwrap()
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
            assert!(
                fit.dimensions()
                    .any(|all| all == (found.name, found.value, Some(found.u)))
            );
            assert!(fit.mechanism.dimensions().contains(&found.name));
        }
        let [offset, gain] = line_of(&case);
        assert!(
            (fit.offset.value - offset).abs() < 1e-3,
            "{:?} for {offset}",
            fit.offset
        );
        assert!((fit.gain.value / gain - 1.0).abs() < 1e-5, "{:?} for {gain}", fit.gain);
        assert!(fit.residual_sd < 1e-6);
    }
}

#[test]
fn uncertainties_cover_the_truth() {
    let mut state = 0x0BAD_5EED_0BAD_5EED;
    for case in cases() {
        let runs = 200;
        let line = line_of(&case);
        let mut inside = vec![0; case.free.len() + 2];
        for _ in 0..runs {
            let fit = fit(&case, &mut state);
            assert_eq!(fit.dof, 28 - case.free.len());
            let k = t_quantile(0.975, fit.dof as f64);
            let found = fit
                .found
                .iter()
                .map(|found| (found.value, found.u, case.truth.dimension(found.name).unwrap()));
            let ends = [fit.offset, fit.gain].into_iter().zip(line);
            let all = found.chain(ends.map(|(found, want)| (found.value, found.u, want)));
            for (count, (value, u, want)) in inside.iter_mut().zip(all) {
                *count += i32::from((value - want).abs() <= k * u);
            }
        }
        // 95 % of 200 is 190; three standard deviations of a binomial count are 9.2.
        for (count, name) in inside.iter().zip(case.free.iter().chain(&["offset", "gain"])) {
            println!("{} {name}: {count} of {runs}", case.truth.kind());
            assert!(
                (180..=199).contains(count),
                "{} {name}: {count} of {runs}",
                case.truth.kind()
            );
        }
    }
}

/// A joint of what was fitted, commanded over the angles that were read.
fn joint(fit: &LinkageFit, command: [f64; 2]) -> Joint<f64> {
    let found = fit.joint(command).unwrap();
    let servo = ServoRecord {
        angle: [-20.0, 180.0],
        pulse_us: [500.0, 2500.0],
    };
    let timer = TimerRecord {
        frame_hz: 50.0,
        counts_per_frame: 20_000,
    };
    let mut record = JointRecord::new(command, found.drive, command[0], servo, timer);
    record.inverted = found.inverted;
    record.transmission = found.transmission;
    Joint::new(record).unwrap()
}

/// Readings of a known mechanism, the fit, its joint, and the same angles again; with the servo turned round as well.
#[test]
fn a_fit_becomes_a_joint_that_goes_where_the_mechanism_goes() {
    for mut case in cases() {
        for (noise, within) in [(0.0, 1e-4), (case.noise, 4.0 * case.noise)] {
            case.noise = noise;
            for turned in [false, true] {
                let (mut drive, measured) = readings(&case, &mut 11);
                let [offset, gain] = line_of(&case);
                if turned {
                    drive.iter_mut().for_each(|drive| *drive = 160.0 - *drive);
                }
                let fit = fit_linkage(&Readings::new(&drive, &measured), &case.start, case.free).unwrap();
                assert_eq!(fit.gain.value < 0.0, turned != (gain < 0.0), "{}", case.truth.kind());
                assert_eq!(
                    (fit.measured[0], fit.measured[1]),
                    (
                        measured.iter().copied().fold(f64::INFINITY, f64::min),
                        measured.iter().copied().fold(f64::NEG_INFINITY, f64::max),
                    )
                );
                // The commands that the readings stand for, and a little more: a mechanism holds beyond them.
                let own = fit.command();
                assert!(
                    own.iter()
                        .zip(case.range)
                        .all(|(a, b)| (a - b).abs() < within.max(1e-6)),
                    "{own:?}"
                );
                let [a, b] = case.range;
                for command in [own, [a + 0.1 * (b - a), b], [a, b + 0.05 * (b - a)]] {
                    let joint = joint(&fit, command);
                    assert_eq!(joint.direction().is_inverted(), turned);
                    assert_eq!(joint.transmission().kind(), case.truth.kind());
                    let [lower, upper] = command;
                    for i in 0..=50 {
                        let angle = lower + (upper - lower) * f64::from(i) / 50.0;
                        let drive = offset + gain * case.truth.moved(angle);
                        let drive = if turned { 160.0 - drive } else { drive };
                        let back = joint.command_from_drive(drive);
                        assert!(
                            (back - angle).abs() < within,
                            "{} {turned} at {angle}: {back}",
                            case.truth.kind()
                        );
                        // The joint is the fit, with nothing lost on the way.
                        let own = joint.drive(angle).unwrap().value;
                        assert!((own - fit.drive_at(angle)).abs() < 1e-9, "{own}");
                        assert!((fit.measured_at(own) - angle).abs() < 1e-9);
                    }
                }
            }
        }
    }
}

#[test]
fn a_command_range_that_the_mechanism_cannot_serve_is_refused() {
    let fit = fit(&cases()[0], &mut 3);
    assert!(matches!(
        fit.joint([95.0, 0.0]),
        Err(FitError::OptionOutside {
            what: "command upper",
            ..
        })
    ));
    assert!(matches!(
        fit.joint([0.0, f64::NAN]),
        Err(FitError::OptionOutside { .. })
    ));
    let error = fit.joint([0.0, 170.0]).unwrap_err();
    assert!(
        matches!(error, FitError::Linkage(LinkageError::DeadCentreInside { .. })),
        "{error}"
    );
    assert_eq!(error.code(), Code::TransmissionInvalid);
    assert!(fit.drive_at(f64::NAN).is_nan() && fit.measured_at(f64::NAN).is_nan());
    assert!(fit.measured_at(1e6).is_nan(), "no angle makes the actuator that long");
    assert_eq!(
        TransmissionRecord::from(&fit.mechanism),
        fit.joint([0.0, 90.0]).unwrap().transmission
    );
    // Of the two angles of one length, the one on the side asked for.
    let length = fit.mechanism.moved(30.0);
    let folded = fit.mechanism.command_near(length, -100.0);
    assert!((fit.mechanism.command_near(length, 50.0) - 30.0).abs() < 1e-9);
    assert!((fit.mechanism.moved(folded) - length).abs() < 1e-9 && folded < 0.0);
}

#[test]
fn dimensions_are_the_keys_of_the_record() {
    for case in cases() {
        let mut mechanism = case.truth;
        for name in mechanism.dimensions() {
            let value = mechanism.dimension(name).unwrap();
            assert!(mechanism.set_dimension(name, value + 1.0) && mechanism.dimension(name) == Some(value + 1.0));
        }
        // All of them: nothing is left as it was.
        let words = format!("{:?}", case.truth);
        let changed = format!("{mechanism:?}");
        let same = words
            .split(", ")
            .zip(changed.split(", "))
            .filter(|(a, b)| a == b)
            .count();
        let side = usize::from(words.contains("branch"));
        assert_eq!(same, side, "{words} {changed}");
    }
}

#[test]
fn what_cannot_be_found_is_said() {
    let case = &cases()[0];
    let (drive, measured) = readings(case, &mut 7);
    let refused =
        |free: &'static [&'static str]| fit_linkage(&Readings::new(&drive, &measured), &case.start, free).unwrap_err();
    // Only the ratio of two lengths shapes a triangle.
    for (free, name) in [
        (&["base", "arm", "angle_at_zero"][..], "arm"),
        (&["angle_at_zero", "arm", "base"], "base"),
    ] {
        let both = refused(free);
        assert_eq!(both, FitError::NotDetermined { name });
        assert_eq!(both.code(), Code::NoAgreement);
    }
    assert!(matches!(
        refused(&["horn"]),
        FitError::UnknownDimension {
            name: "horn",
            kind: "triangle"
        }
    ));
    assert!(matches!(refused(&["arm", "arm"]), FitError::UnknownDimension { .. }));
    // Lengths below zero are told, and not searched from.
    let mut turned = case.start;
    assert!(turned.set_dimension("base", -40.0));
    let error = fit_linkage(&Readings::new(&drive, &measured), &turned, case.free).unwrap_err();
    assert_eq!(error.code(), Code::NotPositive);
    assert!(error.to_string().contains("base is -40"), "{error}");
    assert!(matches!(
        fit_linkage(&Readings::new(&drive[..4], &measured[..4]), &case.start, case.free).unwrap_err(),
        FitError::TooFewReadings { .. }
    ));
    let far = Mechanism::SliderCrank(SliderCrank {
        crank: 1.0,
        rod: 2.0,
        offset: 0.0,
        slide_at_zero: 0.0,
        branch: Branch::Left,
    });
    let error = fit_linkage(&Readings::new(&drive, &measured), &far, &["rod"]).unwrap_err();
    assert_eq!(error.code(), Code::TransmissionInvalid);
}

/// The same mechanism with its lengths in a unit that is larger by `factor`.
fn in_unit(mut mechanism: Mechanism, factor: f64) -> Mechanism {
    for name in mechanism.dimensions() {
        if !name.starts_with("rocker_at") && !name.starts_with("angle_at") {
            let value = mechanism.dimension(name).unwrap();
            assert!(mechanism.set_dimension(name, value / factor));
        }
    }
    mechanism
}

#[test]
fn metres_and_millimetres_give_one_verdict() {
    let mut state = 5;
    let (mut taken, mut open) = (0, 0);
    let mut all = cases();
    // Dimensions that start at 0 have no size of their own.
    for (i, name) in [(2, "offset"), (3, "per_turn")] {
        let mut case = cases().swap_remove(i);
        assert!(case.start.set_dimension(name, 0.0));
        case.free = if i == 2 { &["offset"] } else { &["per_turn"] };
        all.push(case);
    }
    for mut case in all {
        let (noise, [a, b]) = (case.noise, case.range);
        for (loud, share) in [
            (1.0, 1.0),
            (3.0, 0.3),
            (1.0, 0.1),
            (5.0, 0.1),
            (20.0, 0.1),
            (5.0, 0.03),
            (1.0, 0.01),
        ] {
            for _ in 0..5 {
                case.noise = noise * loud;
                case.range = [a, a + (b - a) * share];
                let (drive, measured) = readings(&case, &mut state);
                let slides = matches!(case.truth, Mechanism::SliderCrank(_));
                let long: Vec<f64> = measured.iter().map(|y| if slides { y / 1000.0 } else { *y }).collect();
                let verdicts = [
                    fit_linkage(&Readings::new(&drive, &measured), &case.start, case.free),
                    fit_linkage(&Readings::new(&drive, &long), &in_unit(case.start, 1000.0), case.free),
                ];
                match &verdicts {
                    [Ok(_), Ok(_)] => taken += 1,
                    [
                        Err(FitError::NotDetermined { name }),
                        Err(FitError::NotDetermined { name: same }),
                    ] if name == same => {
                        open += 1;
                    }
                    [Err(one), Err(other)] => assert_eq!(one.code(), other.code()),
                    _ => panic!("{:?} {:?}: {verdicts:#?}", case.start, case.range),
                }
            }
        }
    }
    eprintln!("{taken} taken, {open} open");
    assert!(taken > 50 && open > 50, "{taken} {open}");
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
        let choice = choose_transmission(&Readings::new(&drive, &measured), &[*guess], 7).unwrap();
        assert_eq!(choice.chosen().unwrap().kind(), case.truth.kind(), "{choice:?}");
        assert_eq!(choice.candidates.len(), 3);
        let said: Vec<String> = choice.reasons.iter().map(ToString::to_string).collect();
        assert!(
            said[0].starts_with("linear: residual SD") && said[1].contains("parameters instead of a curve's"),
            "{said:?}"
        );
    }
    // A straight joint needs nothing else, whatever is guessed.
    let drive: Vec<f64> = (0..30).map(|i| f64::from(i) * 3.0).collect();
    let measured: Vec<f64> = drive
        .iter()
        .map(|x| 0.5 * x + 5.0 + 0.2 * scatter(&mut state))
        .collect();
    let choice = choose_transmission(&Readings::new(&drive, &measured), &guesses[3..], 7).unwrap();
    assert_eq!(choice.chosen().unwrap().kind(), "linear");
    assert!(
        choice.reasons[0]
            .to_string()
            .contains("that chance and its additional parameters explain")
    );
    // A bend that the guessed mechanism does not have: a curve, and the guess is named.
    let bent: Vec<f64> = drive
        .iter()
        .map(|x| 40.0 * ((x - 45.0) / 20.0).tanh() + 45.0 + 0.05 * scatter(&mut state))
        .collect();
    let choice = choose_transmission(&Readings::new(&drive, &bent), &guesses[3..], 12).unwrap();
    assert_eq!(choice.chosen().unwrap().kind(), "curve");
    assert!(choice.reasons.iter().any(|r| matches!(
        r,
        Reason::Unexplained {
            transmission: "spool",
            ..
        }
    )));
    // A guess that leaves no more, but by more numbers than it needs, is not told to be measured again.
    let rough = Case {
        noise: 0.4,
        ..cases().swap_remove(1)
    };
    let mut simpler = 0;
    for _ in 0..20 {
        let (turned, read) = readings(&rough, &mut state);
        let choice = choose_transmission(&Readings::new(&turned, &read), &[guesses[1], guesses[3]], 7).unwrap();
        let (chosen, other) = (choice.chosen().unwrap(), &choice.candidates[2]);
        simpler += i32::from(chosen.kind() != "four-bar" && other.residual_sd <= chosen.residual_sd);
        for reason in &choice.reasons {
            if let Reason::Unexplained { residual_sd, .. } = reason {
                assert!(*residual_sd > chosen.residual_sd, "{reason}");
            }
        }
    }
    assert!(simpler > 3, "{simpler}");
    // Without scatter no ratio is drawn to what rounding leaves.
    let exact: Vec<f64> = drive.iter().map(|x| 0.5 * x + 0.006 * x * x).collect();
    let choice = choose_transmission(&Readings::new(&drive, &exact), &[], 7).unwrap();
    let said = choice.reasons[0].to_string();
    assert!(
        said.starts_with("linear: residual SD") && said.contains("more than a thousand times"),
        "{said}"
    );
    // One that cannot be fitted is a reason, not an error.
    let far = Mechanism::SliderCrank(SliderCrank {
        crank: 1.0,
        rod: 2.0,
        offset: 0.0,
        slide_at_zero: 0.0,
        branch: Branch::Left,
    });
    let choice = choose_transmission(
        &Readings::new(&drive, &bent),
        &[Guess {
            start: far,
            free: &["rod"],
        }],
        12,
    )
    .unwrap();
    assert!(choice.reasons.iter().any(|r| {
        r.to_string()
            .starts_with("slider-crank was not fitted: the mechanism cannot reach")
    }));
}

/// A slider-crank of the heron's neck, invented: the crank 20, the rod 45 long.
fn neck(offset: f64, side: Branch) -> Mechanism {
    Mechanism::SliderCrank(SliderCrank {
        crank: 20.0,
        rod: 45.0,
        offset,
        slide_at_zero: 40.0,
        branch: side,
    })
}

/// Whether the pin lies left or right of the line cannot be seen in every table: then both are named, and never only the wrong one.
#[test]
fn a_branch_that_fits_as_well_is_said() {
    let mut state = 0xB0A7;
    // Slightly out of line the two branches are all but mirror images; far out of line they are not; in line they are one.
    for (offset, noise, told_apart) in [(2.0, 0.1, false), (6.0, 0.02, true), (0.0, 0.1, true)] {
        let case = |side| Case {
            truth: neck(offset, Branch::Right),
            start: neck(offset, side),
            free: &["rod"],
            range: [-8.0, 20.0],
            noise,
        };
        let (mut said, mut better) = ([0; 2], [0; 2]);
        for _ in 0..30 {
            let (drive, measured) = readings(&case(Branch::Right), &mut state);
            for (i, side) in [Branch::Right, Branch::Left].into_iter().enumerate() {
                let guess = case(side);
                let fit = fit_linkage(&Readings::new(&drive, &measured), &guess.start, guess.free).unwrap();
                let Some(branch) = fit.other_branch else { continue };
                said[i] += 1;
                better[i] += i32::from(branch.is_better);
                assert_ne!(branch.branch, side);
                assert_eq!(branch.fitted_sd, fit.residual_sd);
                assert!(branch.apart > 0.0 && branch.apart < 1.0, "{branch:?}");
                let sentence = branch.to_string();
                let fits = if branch.is_better {
                    "fits better"
                } else {
                    "fits as well"
                };
                assert!(
                    sentence.contains(fits) && sentence.contains("look at the joint"),
                    "{sentence}"
                );
                let guess = Guess {
                    start: guess.start,
                    free: guess.free,
                };
                let choice = choose_transmission(&Readings::new(&drive, &measured), &[guess], 7).unwrap();
                let is_chosen = choice.chosen().unwrap().kind() == "slider-crank";
                let of_branch =
                    |reason: &Reason| matches!(reason, Reason::OtherBranch { branch: b, .. } if *b == branch);
                assert_eq!(choice.reasons.iter().any(of_branch), is_chosen);
            }
        }
        println!("offset {offset}: said {said:?}, better {better:?} of 30 each, right and wrong guess");
        if offset == 0.0 {
            assert_eq!(said, [0; 2], "mirror images are one joint");
        } else if told_apart {
            assert!(said[0] <= 3 && said[1] == 30 && better[1] >= 27, "{said:?} {better:?}");
        } else {
            assert!(said[0] >= 28 && said[1] >= 28 && better[0] <= 1, "{said:?} {better:?}");
        }
    }
    // A triangle and a spool have one branch only.
    for case in [&cases()[0], &cases()[3]] {
        assert_eq!(fit(case, &mut state).other_branch, None);
    }
}

#[cfg(feature = "serde")]
#[test]
fn a_fit_comes_back_from_its_record() {
    for case in cases() {
        let fit = fit(&case, &mut 9);
        let names = case.truth.dimensions();
        assert!(names.iter().all(|name| case.truth.dimension(name).is_some()) && names.len() >= 3);
        let text = serde_json::to_string(&fit).unwrap();
        assert_eq!(serde_json::from_str::<LinkageFit>(&text).unwrap(), fit);
        let wrong = text.replace(&format!("\"name\":\"{}\"", fit.found[0].name), "\"name\":\"breadth\"");
        let error = serde_json::from_str::<LinkageFit>(&wrong).unwrap_err();
        assert!(
            error
                .to_string()
                .starts_with(&format!("breadth is not a dimension of a {}", case.truth.kind()))
        );
        let straight = serde_json::json!({ "kind": "linear" });
        let mut record: serde_json::Value = serde_json::from_str(&text).unwrap();
        record["mechanism"] = straight;
        let error = serde_json::from_value::<LinkageFit>(record).unwrap_err();
        assert_eq!(error.to_string(), "linear is not a mechanism");
    }
}

/// A crank that comes near its dead centre levels the slide as a stop does: told apart by how evenly it does so, and by whether the
/// mechanism needs the stop.
#[test]
fn a_dead_centre_is_told_from_a_stop() {
    let truth = Mechanism::SliderCrank(SliderCrank {
        crank: 20.0,
        rod: 45.0,
        offset: 2.0,
        slide_at_zero: 0.0,
        branch: Branch::Right,
    });
    let mut start = truth;
    start.set_dimension("slide_at_zero", 0.5);
    let slide = |deg: f64| truth.command_near(deg, 40.0);
    for (stop, mut seed) in (1..=40).flat_map(|seed| [(None, seed), (Some(60.0), seed)]) {
        let drive: Vec<f64> = (0..40).map(|i| 10.0 + 4.0 * f64::from(i)).collect();
        // The crank stands 5 deg behind the drive: at 5 deg it is nearly in line with its rod.
        let measured: Vec<f64> = drive
            .iter()
            .map(|d| slide(d - 5.0).min(stop.unwrap_or(f64::MAX)) + 0.05 * scatter(&mut seed))
            .collect();
        let readings = Readings::new(&drive, &measured);
        let limits = fit_limits(&readings, &FitOptions::default()).unwrap();
        let want = if stop.is_none() {
            EndKind::Clear
        } else {
            EndKind::Contact
        };
        assert_eq!(limits.lower.kind, want, "{stop:?}");
        let between = limits.between_stops(&readings);
        let fit = fit_linkage(&between.readings(), &start, &["slide_at_zero"]).unwrap();
        assert!(fit.residual_sd < 0.1, "{fit:?}");
        // What a limit fit took for a stop the mechanism explains: as fits of straight pieces did.
        let mut taken = limits.clone();
        (taken.lower.kind, taken.lower.at) = (EndKind::Contact, limits.lower.at.max(22.0));
        let between = taken.between_stops(&readings);
        let fit = fit_linkage(&between.readings(), &start, &["slide_at_zero"]).unwrap();
        let explained = fit.explains_stops(&taken, &readings);
        // Scatter may put the outermost reading out of the mechanism's reach.
        let reaches = fit_linkage(&readings, &start, &["slide_at_zero"]).is_ok() || !limits.rejected.is_empty();
        assert!(
            !explained[1] && (explained[0] == stop.is_none() || (stop.is_none() && !reaches)),
            "{stop:?}"
        );
        // Nothing to explain where no stop was found, or no readings are.
        assert_eq!(fit.explains_stops(&limits, &Readings::new(&[], &[])), [false; 2]);
    }
}

/// A slider-crank in line is its own mirror image in any unit; one out of line is another, by as much in each.
#[test]
fn the_unit_of_lengths_makes_no_other_branch() {
    for factor in [1e-4, 1.0, 1e3] {
        let other = |offset: f64| {
            let case = Case {
                truth: neck(offset, Branch::Right),
                start: neck(offset, Branch::Right),
                free: &["rod"],
                range: [-8.0, 20.0],
                noise: 0.1,
            };
            let (drive, mut measured) = readings(&case, &mut 0xB0A7);
            measured.iter_mut().for_each(|value| *value /= factor);
            let start = in_unit(case.start, factor);
            let fit = fit_linkage(&Readings::new(&drive, &measured), &start, case.free).unwrap();
            fit.other_branch.map(|branch| branch.apart * factor)
        };
        assert_eq!(other(0.0), None, "{factor}");
        let apart = other(2.0).unwrap();
        assert!((0.01..1.0).contains(&apart), "{factor}: {apart}");
    }
}
