//! Shared vectors of curved joints in blocks: whole images and what they answer, in `f32`.
//!
//! `tests/data/vectors/block_f32.txt`; the format stands in `tests/data/vectors/README.md`. A board answers from the image alone; here
//! the joint in memory has to give the same bits. `WRITE_VECTORS=1 cargo test --test block_vectors` writes them anew; a
//! changed line is a changed promise.
#![allow(clippy::unwrap_used, clippy::panic, clippy::indexing_slicing)]

use elbowroom::block::{Block, BlockJoint};
use elbowroom::curve::SlopeRule;
use elbowroom::linkage::Branch;
use elbowroom::{FeedbackRecord, Joint, JointRecord, ServoRecord, TimerRecord, TransmissionRecord};
use std::fmt::Write as _;

const CHANNEL: u16 = 8;

/// Numbers as their bits in hex; every NaN is `nan`, since the payload of a NaN is nobody's promise.
fn show(x: f32) -> String {
    if x.is_nan() {
        "nan".into()
    } else {
        format!("{:08x}", x.to_bits())
    }
}

fn read(word: &str) -> f32 {
    match word {
        "nan" => f32::NAN,
        word => f32::from_bits(u32::from_str_radix(word, 16).unwrap()),
    }
}

/// Splitmix64 (Steele, Lea & Flood 2014): a fixed source of inputs, for choosing cases only.
struct Draw(u64);

impl Draw {
    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn between(&mut self, lower: f64, upper: f64) -> f64 {
        lower + (self.bits() >> 11) as f64 / (1u64 << 53) as f64 * (upper - lower)
    }
}

/// Rising places from one end to the other, as even as chance will have it; some steps are a few units wide.
fn rising(draw: &mut Draw, [from, to]: [f64; 2], inner: usize) -> Vec<f64> {
    let mut places: Vec<f64> = (0..inner).map(|_| draw.between(from, to)).collect();
    if inner > 2 {
        places[1] = places[0] + (to - from) * 1e-5;
    }
    places.extend([from, to]);
    places.sort_by(f64::total_cmp);
    places.dedup();
    places
}

fn points(draw: &mut Draw, x: [f64; 2], y: [f64; 2], falls: bool) -> Vec<[f64; 2]> {
    let inner = draw.bits() as usize % 7;
    let places = rising(draw, x, inner);
    let mut values = rising(draw, y, inner);
    if falls {
        values.reverse();
    }
    places.into_iter().zip(values).map(|(x, y)| [x, y]).collect()
}

fn linkages() -> [TransmissionRecord<f64>; 4] {
    [
        TransmissionRecord::Triangle {
            base: 40.0,
            arm: 92.0,
            angle_at_zero: 31.0,
        },
        TransmissionRecord::SliderCrank {
            crank: 60.0,
            rod: 150.0,
            offset: 5.0,
            slide_at_zero: 100.0,
            branch: Branch::Right,
        },
        TransmissionRecord::FourBar {
            crank: 20.0,
            coupler: 60.0,
            rocker: 18.0,
            ground: 62.0,
            rocker_at_zero: 50.0,
            branch: Branch::Left,
        },
        TransmissionRecord::Spool {
            drum: 8.0,
            per_turn: 1.5,
            pulley: 20.0,
        },
    ]
}

/// Curved, sampled and straight joints, each with straight, curved, loaded or no feedback.
fn joint(draw: &mut Draw, kind: usize) -> Option<Joint<f64>> {
    let servo = ServoRecord {
        angle: [[0.0, 180.0], [-90.0, 90.0]][kind % 2],
        pulse_us: [[500.0, 2500.0], [1000.0, 2000.0], [544.0, 2400.0]][kind % 3],
    };
    let (frame_hz, counts_per_frame) = [(50.0, 4096), (50.0, 40_000), (333.0, 16_384), (47.3, 65_535)][kind % 4];
    let timer = TimerRecord {
        frame_hz,
        counts_per_frame,
    };
    let at = |part: f64| servo.angle[0] + part * 180.0;
    let linkage = kind % 4 == 3;
    let command = match kind % 3 {
        _ if linkage => [0.0, 90.0],
        0 => [0.0, 180.0],
        1 => [-1.0, 1.0],
        _ => [draw.between(-300.0, 0.0), draw.between(1.0, 300.0)],
    };
    let drive = [at(draw.between(0.0, 0.3)), at(draw.between(0.6, 1.0))];
    let rest = draw.between(command[0], command[1]);
    let mut record = JointRecord::new(command, drive, rest, servo, timer);
    record.inverted = draw.bits() & 1 == 1;
    if kind % 5 < 3 {
        record.travel = Some([at(draw.between(0.1, 0.4)), at(draw.between(0.5, 0.9))]);
    }
    record.max_rate_per_s = (!kind.is_multiple_of(7)).then_some(60.0);
    record.transmission = match kind % 4 {
        3 => linkages()[kind / 4 % 4].clone(),
        _ if kind % 9 == 8 => TransmissionRecord::Linear {},
        slopes => TransmissionRecord::Curve {
            knots: points(draw, command, drive, record.inverted),
            rule: [SlopeRule::Parabola, SlopeRule::MeanChord, SlopeRule::HarmonicChord][slopes],
        },
    };
    let (reading, angle) = ([112.0, 971.0], [-12.5, 95.0]);
    let mut feedback = FeedbackRecord::new(reading, angle);
    feedback.inverted = draw.bits() & 1 == 1;
    match kind % 5 {
        0 | 1 => feedback.knots = Some(points(draw, reading, angle, feedback.inverted)),
        2 => (feedback.adc_bits, feedback.pot_ohm, feedback.load_ohm) = (Some(10), Some(10e3), Some(22e3)),
        _ => {}
    }
    record.feedback = (kind % 5 < 4).then_some(feedback);
    Joint::new(record).ok()
}

/// The same to the joint in memory and to the one in its image.
trait Both {
    fn command(&self, command: f32) -> String;
    fn back(&self, value: f32) -> String;
    fn reading(&self, reading: f32) -> String;
}

macro_rules! both {
    ($type:ty) => {
        impl Both for $type {
            fn command(&self, command: f32) -> String {
                let drive = match self.drive(command) {
                    Ok(drive) => drive,
                    Err(error) => return format!("C {} {} - - - - -", show(command), error.code().number()),
                };
                let flags = u8::from(drive.clamped.command) + 2 * u8::from(drive.clamped.travel);
                let (pulse_us, count) = (
                    self.pulse_us(command).unwrap().value,
                    self.counts(command).unwrap().value,
                );
                let back = show(self.command_from_counts(count));
                let (command, drive, pulse_us) = (show(command), show(drive.value), show(pulse_us));
                format!("C {command} 0 {flags} {drive} {pulse_us} {count} {back}")
            }

            fn back(&self, value: f32) -> String {
                let from_drive = show(self.command_from_drive(value));
                format!(
                    "B {} {from_drive} {}",
                    show(value),
                    show(self.command_from_pulse_us(value))
                )
            }

            fn reading(&self, reading: f32) -> String {
                match self.command_from_reading(reading) {
                    Ok(command) => format!("M {} 0 {}", show(reading), show(command)),
                    Err(error) => format!("M {} {} -", show(reading), error.code().number()),
                }
            }
        }
    };
}
both!(Joint<f32>);
both!(BlockJoint<&[u8]>);

fn around(x: f32) -> [f32; 3] {
    [x.next_down(), x, x.next_up()]
}

fn generate() -> String {
    let mut draw = Draw(0x0e1b_0b10);
    let mut text = String::from("# Shared vectors of curved joints in blocks; see README.md beside this file.\n");
    let joints: Vec<_> = (0..48).filter_map(|kind| joint(&mut draw, kind)).collect();
    for joint in joints {
        let Ok(image) = joint.to_block(CHANNEL) else { continue };
        let hex: String = image.iter().map(|byte| format!("{byte:02x}")).collect();
        writeln!(text, "I {hex}").unwrap();
        let joint = Joint::from_block(&image, CHANNEL).unwrap();
        let record = joint.record();
        let [lower, upper] = record.command;
        let mut commands = vec![f32::NAN, f32::NEG_INFINITY, joint.rest(), 0.0, 1e-40, f32::MAX];
        let mut values = vec![f32::NAN, f32::INFINITY, 0.0, 1500.0, -1e-42];
        let mut readings = vec![f32::NAN, 0.0, 1023.0, -1e30];
        if let TransmissionRecord::Curve { knots, .. } = &record.transmission {
            for [command, drive] in knots.iter().take(6).chain(knots.last()) {
                commands.extend(around(*command));
                values.extend(around(*drive));
            }
        }
        if let Some(knots) = record.feedback.as_ref().and_then(|feedback| feedback.knots.as_ref()) {
            readings.extend(
                knots
                    .iter()
                    .take(6)
                    .chain(knots.last())
                    .flat_map(|[reading, _]| around(*reading)),
            );
        }
        for _ in 0..24 {
            let part = draw.between(-0.1, 1.1) as f32;
            commands.push(lower * (1.0 - part) + upper * part);
            values.push(draw.between(-100.0, 190.0) as f32);
            values.push(draw.between(400.0, 2600.0) as f32);
            readings.push(draw.between(0.0, 1023.0) as f32);
        }
        for line in commands.into_iter().map(|x| joint.command(x)) {
            writeln!(text, "{line}").unwrap();
        }
        for line in values.into_iter().map(|x| joint.back(x)) {
            writeln!(text, "{line}").unwrap();
        }
        for line in readings.into_iter().map(|x| joint.reading(x)) {
            writeln!(text, "{line}").unwrap();
        }
    }
    text
}

fn check(joint: &impl Both, words: &[&str], line: &str) {
    let x = read(words[1]);
    let found = match words[0] {
        "C" => joint.command(x),
        "B" => joint.back(x),
        "M" => joint.reading(x),
        other => panic!("unknown line {other}"),
    };
    assert_eq!(found, line);
}

#[test]
fn blocks_give_the_recorded_bits() {
    let path = format!("{}/tests/data/vectors/block_f32.txt", env!("CARGO_MANIFEST_DIR"));
    if std::env::var_os("WRITE_VECTORS").is_some() {
        std::fs::write(&path, generate()).unwrap();
    }
    let text = std::fs::read_to_string(&path).unwrap();
    assert_eq!(
        generate(),
        text,
        "what Joint::to_block makes of the same joints has changed"
    );
    let (mut image, mut lines) = (Vec::new(), 0);
    for line in text.lines().filter(|line| !line.starts_with('#')) {
        let words: Vec<&str> = line.split(' ').collect();
        if words[0] == "I" {
            let byte = |two: &[u8]| u8::from_str_radix(std::str::from_utf8(two).unwrap(), 16).unwrap();
            image = words[1].as_bytes().chunks(2).map(byte).collect();
            continue;
        }
        let block = Block::new(&image[..]).unwrap();
        check(&block.joint(CHANNEL).unwrap(), &words, line);
        check(&Joint::from_block(&image, CHANNEL).unwrap(), &words, line);
        lines += 1;
    }
    assert!(lines > 5_000, "{lines}");
}
