//! Joints with a curve or a linkage, and with a feedback map: `transmission_f64.txt` and `transmission_f32.txt`.

use crate::bits::{Bits, Draw};
use crate::conversion::{
    back_line, command_line, commands, derivative_line, derivative_lines, joint_line, parse_record,
};
use elbowroom::curve::SlopeRule;
use elbowroom::linkage::Branch;
use elbowroom::{FeedbackRecord, Joint, JointRecord, ServoRecord, TimerRecord, TransmissionRecord};
use std::fmt::Write as _;

const RULES: [(&str, SlopeRule); 3] = [
    ("parabola", SlopeRule::Parabola),
    ("mean-chord", SlopeRule::MeanChord),
    ("harmonic-chord", SlopeRule::HarmonicChord),
];

fn branch_word(branch: Branch) -> &'static str {
    if branch == Branch::Left { "left" } else { "right" }
}

fn branch_of(word: &str) -> Branch {
    if word == "left" { Branch::Left } else { Branch::Right }
}

fn transmission_line<T: Bits>(joint: &Joint<T>) -> String {
    let record = joint.record().transmission;
    let mut line = format!("T {}", record.kind());
    let (word, numbers) = match &record {
        TransmissionRecord::Linear {} => ("", vec![]),
        TransmissionRecord::Curve { knots, rule } => {
            let (word, _) = RULES.iter().find(|(_, r)| r == rule).unwrap();
            (*word, knots.iter().flatten().copied().collect())
        }
        TransmissionRecord::Triangle {
            base,
            arm,
            angle_at_zero,
        } => ("", vec![*base, *arm, *angle_at_zero]),
        TransmissionRecord::SliderCrank {
            crank,
            rod,
            offset,
            slide_at_zero,
            branch,
        } => (branch_word(*branch), vec![*crank, *rod, *offset, *slide_at_zero]),
        TransmissionRecord::FourBar {
            crank,
            coupler,
            rocker,
            ground,
            rocker_at_zero,
            branch,
        } => (
            branch_word(*branch),
            vec![*crank, *coupler, *rocker, *ground, *rocker_at_zero],
        ),
        TransmissionRecord::Spool { drum, per_turn, pulley } => ("", vec![*drum, *per_turn, *pulley]),
        other => panic!("no line for {other:?}"),
    };
    write!(line, " {}", if word.is_empty() { "-" } else { word }).unwrap();
    for x in numbers {
        write!(line, " {}", x.show()).unwrap();
    }
    line
}

fn parse_transmission<T: Bits>(words: &[&str]) -> TransmissionRecord<T> {
    let x: Vec<T> = words[2..].iter().map(|word| T::read(word)).collect();
    match words[0] {
        "linear" => TransmissionRecord::Linear {},
        "curve" => TransmissionRecord::Curve {
            knots: x.chunks(2).map(|pair| [pair[0], pair[1]]).collect(),
            rule: RULES.iter().find(|(word, _)| *word == words[1]).unwrap().1,
        },
        "triangle" => TransmissionRecord::Triangle {
            base: x[0],
            arm: x[1],
            angle_at_zero: x[2],
        },
        "slider-crank" => TransmissionRecord::SliderCrank {
            crank: x[0],
            rod: x[1],
            offset: x[2],
            slide_at_zero: x[3],
            branch: branch_of(words[1]),
        },
        "four-bar" => TransmissionRecord::FourBar {
            crank: x[0],
            coupler: x[1],
            rocker: x[2],
            ground: x[3],
            rocker_at_zero: x[4],
            branch: branch_of(words[1]),
        },
        "spool" => TransmissionRecord::Spool {
            drum: x[0],
            per_turn: x[1],
            pulley: x[2],
        },
        other => panic!("unknown transmission {other}"),
    }
}

fn feedback_line<T: Bits>(joint: &Joint<T>) -> String {
    let feedback = joint.record().feedback.unwrap();
    let mut line = format!("F {} {}", u8::from(feedback.inverted), feedback.adc_bits.unwrap_or(0));
    let zero = T::zero();
    let loaded = [feedback.pot_ohm.unwrap_or(zero), feedback.load_ohm.unwrap_or(zero)];
    let numbers = [feedback.reading, feedback.angle, loaded].concat();
    for x in numbers.iter().chain(feedback.knots.iter().flatten().flatten()) {
        write!(line, " {}", x.show()).unwrap();
    }
    line
}

fn parse_feedback<T: Bits>(words: &[&str]) -> FeedbackRecord<T> {
    let x: Vec<T> = words[2..].iter().map(|word| T::read(word)).collect();
    let mut record = FeedbackRecord::new([x[0], x[1]], [x[2], x[3]]);
    record.inverted = words[0] == "1";
    record.adc_bits = Some(words[1].parse().unwrap()).filter(|&bits| bits > 0);
    if x[4] > T::zero() {
        (record.pot_ohm, record.load_ohm) = (Some(x[4]), Some(x[5]));
    }
    if x.len() > 6 {
        record.knots = Some(x[6..].chunks(2).map(|pair| [pair[0], pair[1]]).collect());
    }
    record
}

fn reading_line<T: Bits>(joint: &Joint<T>, reading: T) -> String {
    let angle = joint.angle_from_reading(reading).unwrap();
    let command = joint.command_from_reading(reading).unwrap();
    let back = joint.reading_from_command(command).unwrap();
    format!(
        "R {} {} {} {}",
        reading.show(),
        angle.show(),
        command.show(),
        back.show()
    )
}

/// Knots from one place to another, uneven, one coordinate rising and the other rising or falling, with the ends exact.
fn knots<T: Bits>(draw: &mut Draw, count: usize, x: [T; 2], y: [T; 2]) -> Vec<[T; 2]> {
    let mut parts = |count: usize| {
        let steps: Vec<f64> = (1..count).map(|_| draw.between(0.3, 1.7)).collect();
        let sum: f64 = steps.iter().sum();
        let mut at = 0.0;
        let mut parts = vec![0.0];
        parts.extend(steps.iter().map(|step| {
            at += step / sum;
            at
        }));
        parts
    };
    let (px, py) = (parts(count), parts(count));
    let between = |[a, b]: [T; 2], part: f64| T::from_wide(a.to_wide() + (b.to_wide() - a.to_wide()) * part);
    let mut knots: Vec<[T; 2]> = px
        .iter()
        .zip(&py)
        .map(|(&p, &q)| [between(x, p), between(y, q)])
        .collect();
    knots[0] = [x[0], y[0]];
    knots[count - 1] = [x[1], y[1]];
    knots
}

fn draw_joint<T: Bits>(draw: &mut Draw, kind: usize) -> Option<Joint<T>> {
    let w = T::from_wide;
    let servo = ServoRecord {
        angle: [w(0.0), w(180.0)],
        pulse_us: [w(500.0), w(2500.0)],
    };
    let timer = [(50.0, 4096), (50.0, 40_000), (333.0, 16_384)][kind % 3];
    let timer = TimerRecord {
        frame_hz: w(timer.0),
        counts_per_frame: timer.1,
    };
    let drive = [w(draw.between(2.0, 40.0)), w(draw.between(90.0, 178.0))];
    let inverted = draw.bits() & 1 == 1;
    let branch = if draw.bits() & 1 == 1 {
        Branch::Left
    } else {
        Branch::Right
    };
    let ends = if inverted { [drive[1], drive[0]] } else { drive };
    let mut around = |x: f64| w(x * draw.between(0.9, 1.1));
    let (command, transmission) = match kind % 6 {
        0 | 1 => {
            let command = [around(-30.0), around(60.0)];
            let count = [2, 3, 5, 7, 16, 33][kind / 6 % 6];
            (
                command,
                TransmissionRecord::Curve {
                    knots: knots(draw, count, command, ends),
                    rule: RULES[kind / 6 % 3].1,
                },
            )
        }
        2 => (
            [w(0.0), around(60.0)],
            TransmissionRecord::Triangle {
                base: around(40.0),
                arm: around(92.0),
                angle_at_zero: around(31.0),
            },
        ),
        3 => (
            [w(0.0), around(20.0)],
            TransmissionRecord::SliderCrank {
                crank: around(16.0),
                rod: around(50.0),
                offset: around(4.0),
                slide_at_zero: around(40.0),
                branch,
            },
        ),
        4 => (
            [around(36.0), around(75.0)],
            TransmissionRecord::FourBar {
                crank: around(15.0),
                coupler: around(60.0),
                rocker: around(22.0),
                ground: around(62.0),
                rocker_at_zero: around(65.0),
                branch,
            },
        ),
        _ => (
            [w(0.0), around(90.0)],
            TransmissionRecord::Spool {
                drum: around(6.0),
                per_turn: around(0.4),
                pulley: around(9.0),
            },
        ),
    };
    let part = w(draw.unit());
    let rest = command[0] * (T::one() - part) + command[1] * part;
    let mut record = JointRecord::new(command, drive, rest, servo, timer);
    record.inverted = inverted;
    record.transmission = transmission;
    let reading = [w(draw.between(100.0, 250.0)), w(draw.between(700.0, 950.0))];
    let mut feedback = FeedbackRecord::new(reading, command);
    feedback.inverted = draw.bits() & 1 == 1;
    match kind / 6 % 3 {
        0 => {}
        1 => {
            (feedback.pot_ohm, feedback.load_ohm) = (Some(w(10_000.0)), Some(w(draw.between(5e4, 5e5))));
            feedback.adc_bits = Some(10);
        }
        _ => {
            let angles = if feedback.inverted {
                [command[1], command[0]]
            } else {
                command
            };
            feedback.knots = Some(knots(draw, 4 + kind % 5, reading, angles));
        }
    }
    record.feedback = Some(feedback);
    Joint::new(record).ok()
}

fn lines<T: Bits>(joint: &Joint<T>) -> String {
    format!(
        "{}\n{}\n{}\n",
        transmission_line(joint),
        feedback_line(joint),
        joint_line(joint)
    )
}

fn generate<T: Bits>() -> String {
    let mut draw = Draw(0x0e1b_0e01);
    let mut text = String::from("# Joints with transmission and feedback; see README.md beside this file.\n");
    for kind in 0..108 {
        let Some(joint) = draw_joint::<T>(&mut draw, kind) else {
            continue;
        };
        text.push_str(&lines(&joint));
        let commands = commands(&joint, &mut draw);
        for &command in commands.iter().take(36) {
            writeln!(text, "{}", command_line(&joint, command)).unwrap();
        }
        let [low, high] = joint.drive_range().ends();
        let [r0, r1] = joint.record().feedback.unwrap().reading;
        for _ in 0..6 {
            let drive = low + (high - low) * T::from_wide(draw.between(-0.1, 1.1));
            writeln!(text, "{}", back_line(&joint, drive)).unwrap();
            let reading = r0 + (r1 - r0) * T::from_wide(draw.between(-0.1, 1.1));
            writeln!(text, "{}", reading_line(&joint, reading)).unwrap();
        }
        for odd in [T::nan(), low, high] {
            writeln!(text, "{}", back_line(&joint, odd)).unwrap();
        }
        for odd in [T::nan(), r0, r1] {
            writeln!(text, "{}", reading_line(&joint, odd)).unwrap();
        }
        let parts = [-0.1, 0.07, 0.25, 0.4, 0.5, 0.63, 0.81, 0.96, 1.1];
        text.push_str(&derivative_lines(&joint, &parts));
    }
    text
}

fn check<T: Bits>(name: &str) {
    let text = crate::recorded(name, generate::<T>);
    let mut joint: Option<Joint<T>> = None;
    let (mut transmission, mut feedback) = (None, None);
    let mut kinds = std::collections::BTreeMap::new();
    let mut head = Vec::new();
    for line in text.lines().filter(|line| !line.starts_with('#')) {
        let words: Vec<&str> = line.split(' ').collect();
        let got = match words[0] {
            "T" => {
                *kinds.entry(words[1].to_owned()).or_insert(0) += 1;
                transmission = Some(parse_transmission(&words[1..]));
                head = vec![line];
                continue;
            }
            "F" => {
                feedback = Some(parse_feedback(&words[1..]));
                head.push(line);
                continue;
            }
            "J" => {
                let mut record = parse_record::<T>(&words[1..]);
                record.transmission = transmission.take().unwrap();
                record.feedback = feedback.take();
                head.push(line);
                let made = lines(joint.insert(Joint::new(record).unwrap()));
                assert_eq!(made.trim_end(), head.join("\n"));
                continue;
            }
            "C" => command_line(joint.as_ref().unwrap(), T::read(words[1])),
            "B" => back_line(joint.as_ref().unwrap(), T::read(words[1])),
            "R" => reading_line(joint.as_ref().unwrap(), T::read(words[1])),
            "D" => derivative_line(joint.as_ref().unwrap(), T::read(words[1])),
            other => panic!("unknown line {other}"),
        };
        assert_eq!(got, line, "for {joint:?}");
    }
    for kind in ["curve", "triangle", "slider-crank", "four-bar", "spool"] {
        assert!(kinds.get(kind) >= Some(&8), "{kinds:?}");
    }
}

#[test]
fn f64_bits_are_the_recorded_ones() {
    check::<f64>("transmission_f64.txt");
}

#[test]
fn f32_bits_are_the_recorded_ones() {
    check::<f32>("transmission_f32.txt");
}
