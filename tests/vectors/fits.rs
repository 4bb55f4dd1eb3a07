//! Curves, linkages and choices fitted to readings: what the other languages must find as well.

use crate::bits::{Bits, Draw};
use elbowroom::TransmissionRecord;
use elbowroom::fit::{CurveFit, Guess, LinkageFit, Readings, Tried, choose_transmission, fit_curve, fit_linkage};
use elbowroom::linkage::{Branch, FourBar, Mechanism, SliderCrank, Spool, Triangle};
use std::fmt::Write;

/// What is known of a joint before its readings.
struct Ruled {
    start: Mechanism,
    free: &'static [&'static str],
}

/// Readings, and the linkages that a ruler suggests; the first of them is fitted alone as well.
struct Set {
    name: String,
    drive: Vec<f64>,
    measured: Vec<f64>,
    ruled: Vec<Ruled>,
}

fn numbers(values: &[f64]) -> String {
    let words: Vec<String> = values.iter().map(|value| value.show()).collect();
    words.join(" ")
}

/// Of an elevon (A. J. Barry, see tests/data/measured/README.md), as its source took them into its own fit: us and deg.
fn elevon(side: &str) -> Set {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/measured/elevon_deflection.csv");
    let (mut drive, mut measured) = (vec![], vec![]);
    for row in csv::Reader::from_path(path).unwrap().records().map(Result::unwrap) {
        if &row[0] == "1" && &row[1] == side && &row[5] == "1" {
            drive.push(row[3].parse().unwrap());
            measured.push(row[4].parse().unwrap());
        }
    }
    Set {
        name: format!("elevon-{side}"),
        drive,
        measured,
        ruled: vec![],
    }
}

/// Invented: a mechanism moved over a range, its joint angle read with scatter, and what a ruler says of it.
fn moved(name: &str, truth: Mechanism, start: Mechanism, free: &'static [&'static str], range: [f64; 2]) -> Set {
    let mut draw = Draw(0x5eed);
    let [a, b] = range;
    let ends = range.map(|command| truth.moved(command));
    let (drive, measured) = (0..30)
        .map(|i| {
            let command = a + (b - a) * f64::from(i) / 29.0;
            let drive = 10.0 + 140.0 * (truth.moved(command) - ends[0]) / (ends[1] - ends[0]);
            (drive, command + draw.between(-2e-3, 2e-3) * (b - a))
        })
        .unzip();
    let cannot = Mechanism::SliderCrank(SliderCrank {
        crank: 1.0,
        rod: 2.0,
        offset: 0.0,
        slide_at_zero: 0.0,
        branch: Branch::Left,
    });
    let ruled = vec![
        Ruled { start, free },
        Ruled {
            start: cannot,
            free: &["rod"],
        },
    ];
    Set {
        name: name.into(),
        drive,
        measured,
        ruled,
    }
}

fn sets() -> Vec<Set> {
    let triangle = |arm, angle_at_zero| {
        Mechanism::Triangle(Triangle {
            base: 40.0,
            arm,
            angle_at_zero,
        })
    };
    let four_bar = |crank, rocker_at_zero| {
        Mechanism::FourBar(FourBar {
            crank,
            coupler: 60.0,
            rocker: 18.0,
            ground: 62.0,
            rocker_at_zero,
            branch: Branch::Right,
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
    let spool = |per_turn| {
        Mechanism::Spool(Spool {
            drum: 8.0,
            per_turn,
            pulley: 20.0,
        })
    };
    let straight = |mut set: Set| {
        set.name = "straight".into();
        let noise = set.measured.clone();
        for ((drive, measured), noise) in set.drive.iter().zip(&mut set.measured).zip(noise) {
            *measured = 0.5 * drive + 5.0 + (noise - noise.round()) * 0.1;
        }
        set
    };
    vec![
        elevon("left"),
        elevon("right"),
        moved(
            "triangle",
            triangle(92.0, 31.0),
            triangle(80.0, 24.0),
            &["arm", "angle_at_zero"],
            [0.0, 95.0],
        ),
        moved(
            "four-bar",
            four_bar(20.0, 50.0),
            four_bar(22.0, 56.0),
            &["crank", "rocker_at_zero"],
            [0.0, 80.0],
        ),
        moved(
            "slider-crank",
            crank(45.0, 40.0),
            crank(48.0, 41.0),
            &["rod", "slide_at_zero"],
            [-8.0, 20.0],
        ),
        moved("spool", spool(1.5), spool(0.2), &["per_turn"], [0.0, 180.0]),
        straight(moved("", spool(1.5), spool(0.2), &["per_turn"], [0.0, 180.0])),
    ]
}

/// Kind, branch, bits of the free dimensions, dimensions.
fn mechanism_words(mechanism: &Mechanism, free: &[&str]) -> String {
    let branch = match mechanism {
        Mechanism::SliderCrank(SliderCrank { branch, .. }) | Mechanism::FourBar(FourBar { branch, .. }) => match branch
        {
            Branch::Left => "left",
            Branch::Right => "right",
        },
        _ => "-",
    };
    let dimensions = mechanism.dimensions();
    let bits = (0..dimensions.len()).filter(|i| free.contains(&dimensions[*i]));
    let bits = bits.fold(0u32, |all, i| all | 1 << i);
    let values: Vec<f64> = dimensions.iter().map(|d| mechanism.dimension(d).unwrap()).collect();
    format!("{} {branch} {bits} {}", mechanism.kind(), numbers(&values))
}

fn curve_lines(text: &mut String, fit: &CurveFit) {
    let CurveFit { residual_sd, .. } = *fit;
    writeln!(
        text,
        "C {} {} {} {}",
        numbers(&[residual_sd, fit.sum_of_squares]),
        fit.dof,
        fit.knots.len(),
        numbers(&fit.criterion)
    )
    .unwrap();
    for (knot, u) in fit.knots.iter().zip(&fit.u) {
        writeln!(text, "K {}", numbers(&[knot[0], knot[1], *u])).unwrap();
    }
    // In thousandths, as an aileron's command would be.
    let joint = fit.joint([-1000.0, 1000.0]).unwrap();
    let TransmissionRecord::Curve { knots, .. } = &joint.transmission else {
        panic!("no curve");
    };
    writeln!(
        text,
        "J {} {} {}",
        numbers(&[-1000.0, 1000.0, joint.drive[0], joint.drive[1], joint.departure]),
        u8::from(joint.inverted),
        numbers(knots.as_flattened())
    )
    .unwrap();
}

fn linkage_lines(text: &mut String, fit: &LinkageFit) {
    let free: Vec<&str> = fit.found.iter().map(|found| found.name).collect();
    writeln!(
        text,
        "L {} {} {} {} {} {}",
        numbers(&[fit.residual_sd, fit.sum_of_squares]),
        fit.dof,
        numbers(&[fit.offset.value, fit.offset.u, fit.gain.value, fit.gain.u]),
        numbers(&fit.drive),
        numbers(&fit.measured),
        mechanism_words(&fit.mechanism, &free)
    )
    .unwrap();
    for found in &fit.found {
        writeln!(text, "D {} {}", found.name, numbers(&[found.value, found.u])).unwrap();
    }
    let command = fit.command();
    let joint = fit.joint(command).unwrap();
    let middle = 0.5 * (fit.drive[0] + fit.drive[1]);
    writeln!(
        text,
        "M {} {} {}",
        numbers(&command),
        numbers(&[joint.drive[0], joint.drive[1]]),
        u8::from(joint.inverted),
    )
    .unwrap();
    let expected = fit.measured_at(middle);
    writeln!(text, "E {}", numbers(&[middle, expected, fit.drive_at(expected)])).unwrap();
}

fn generate() -> String {
    let mut text = String::from("# Fitted transmissions; see README.md\n");
    for set in sets() {
        writeln!(text, "S {}", set.name).unwrap();
        for (drive, measured) in set.drive.iter().zip(&set.measured) {
            writeln!(text, "R {}", numbers(&[*drive, *measured])).unwrap();
        }
        for ruled in &set.ruled {
            writeln!(text, "G {}", mechanism_words(&ruled.start, ruled.free)).unwrap();
        }
        curve_lines(
            &mut text,
            &fit_curve(&Readings::new(&set.drive, &set.measured), 6).unwrap(),
        );
        if let Some(ruled) = set.ruled.first().filter(|_| set.name != "straight") {
            linkage_lines(
                &mut text,
                &fit_linkage(&Readings::new(&set.drive, &set.measured), &ruled.start, ruled.free).unwrap(),
            );
        }
        let guesses: Vec<Guess<'_>> = set
            .ruled
            .iter()
            .map(|r| Guess {
                start: r.start,
                free: r.free,
            })
            .collect();
        let choice = choose_transmission(&Readings::new(&set.drive, &set.measured), &guesses, 6).unwrap();
        writeln!(text, "H {}", choice.best).unwrap();
        for candidate in &choice.candidates {
            writeln!(
                text,
                "W {} {} {} {}",
                candidate.kind(),
                u8::from(matches!(candidate.tried, Tried::Refused { .. })),
                candidate.parameters,
                numbers(&[candidate.residual_sd, candidate.criterion])
            )
            .unwrap();
        }
        for reason in &choice.reasons {
            writeln!(text, "T {reason}").unwrap();
        }
    }
    text
}

/// Logarithms, on which only the criteria rest, are the platform's: so many last digits are let pass.
const CRITERION: f64 = 1e-12;

#[test]
fn fits_are_the_recorded_ones() {
    let generated = generate();
    let recorded = crate::recorded("fits_f64.txt", || generated.clone());
    assert_eq!(generated.lines().count(), recorded.lines().count());
    for (new, old) in generated.lines().zip(recorded.lines()) {
        let loose = match old.split(' ').next() {
            Some("C") => 5,
            Some("W") => 5,
            _ => usize::MAX,
        };
        let (new_words, old_words): (Vec<&str>, Vec<&str>) = (new.split(' ').collect(), old.split(' ').collect());
        assert_eq!(new_words.len(), old_words.len(), "{new}");
        for (i, (a, b)) in new_words.into_iter().zip(old_words).enumerate() {
            let close = || {
                let (a, b) = (f64::read(a), f64::read(b));
                a == b || (a - b).abs() <= CRITERION * b.abs()
            };
            assert!(a == b || (i >= loose && close()), "{new}\n{old}");
        }
    }
}
