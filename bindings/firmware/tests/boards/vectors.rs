//! The shared vectors, on a board.

use crate::board::{Board, root};
use model::block::{Block, BlockJoint, to_vec};
use model::{FeedbackRecord, Joint, JointRecord, ServoRecord, TimerRecord};

/// What the board is asked, and what it has to answer. NaNs answer as `None`: their payload is nobody's promise.
pub(crate) struct Script {
    /// Which calls the program has: see `PART` in `tests/firmware/vectors.c`.
    part: u8,
    input: Vec<u8>,
    expected: Vec<Word>,
}

struct Word {
    bits: Option<u32>,
    bytes: usize,
    /// The line of the vectors, or what else it is about.
    line: String,
}

const COMMANDS: u8 = 1;
const BACKWARDS: u8 = 2;
const OTHERS: u8 = 4;
const ALL: u8 = COMMANDS | BACKWARDS | OTHERS;

impl Script {
    fn new(part: u8) -> Self {
        let (input, expected) = (Vec::new(), Vec::new());
        Self { part, input, expected }
    }

    fn expect(&mut self, line: &str, bits: u32) {
        self.put(line, Some(bits), 4);
    }

    fn expect_float(&mut self, line: &str, value: f32) {
        self.put(line, (!value.is_nan()).then_some(value.to_bits()), 4);
    }

    fn put(&mut self, line: &str, bits: Option<u32>, bytes: usize) {
        let line = line.to_owned();
        self.expected.push(Word { bits, bytes, line });
    }

    fn take_block(&mut self, image: &[u8]) {
        self.input.push(b'B');
        self.input.extend((image.len() as u16).to_le_bytes());
        self.input.extend(image);
        self.expect("the check of the block", 0);
        self.input.push(b'J');
        self.input.extend(CHANNEL.to_le_bytes());
    }

    /// `answer`: the words of a `C` line after the command.
    fn command(&mut self, line: &str, command: f32, answer: &[&str]) {
        let status: u32 = answer[0].parse().unwrap();
        if status == 0 {
            self.count_back(line, answer[4].parse().unwrap(), float(answer[5]));
        }
        if self.part & COMMANDS == 0 {
            return;
        }
        self.input.push(b'C');
        self.input.extend(command.to_bits().to_le_bytes());
        self.expect(line, status);
        if status != 0 {
            // Nothing is written: all stay what the board's program set before.
            for _ in 0..4 {
                self.expect(line, 0);
            }
            self.expect(line, status);
            self.put(line, Some(0), 2);
            self.expect(line, 0);
            return;
        }
        let (flags, drive, pulse_us) = (answer[1], float(answer[2]), float(answer[3]));
        let count: u32 = answer[4].parse().unwrap();
        self.expect_float(line, drive);
        self.expect_float(line, pulse_us);
        self.expect(line, count);
        self.expect(line, flags.parse().unwrap());
        match u16::try_from(count) {
            Ok(_) => {
                self.expect(line, 0);
                self.put(line, Some(count), 2);
            }
            Err(_) => {
                self.expect(line, u32::from(model::Code::CountTooWide.number()));
                self.put(line, Some(0), 2);
            }
        }
        self.expect_float(line, pulse_us);
    }

    fn count_back(&mut self, line: &str, count: u32, command: f32) {
        if self.part & BACKWARDS == 0 {
            return;
        }
        self.input.push(b'K');
        self.input.extend(count.to_le_bytes());
        self.expect_float(line, command);
    }

    fn reading(&mut self, line: &str, reading: f32, status: u32, command: f32) {
        if self.part & OTHERS == 0 {
            return;
        }
        self.input.push(b'M');
        self.input.extend(reading.to_bits().to_le_bytes());
        self.expect(line, status);
        self.expect_float(line, command);
    }

    fn backwards(&mut self, line: &str, value: f32, from_drive: f32, from_pulse_us: f32) {
        if self.part & BACKWARDS == 0 {
            return;
        }
        self.input.push(b'W');
        self.input.extend(value.to_bits().to_le_bytes());
        self.expect_float(line, from_drive);
        self.expect_float(line, from_pulse_us);
    }

    fn step(&mut self, joint: &BlockJoint<&[u8]>, [from, target, seconds]: [f32; 3]) {
        if self.part & OTHERS == 0 {
            return;
        }
        let line = format!("step from {from:e} to {target:e} in {seconds:e} s");
        self.input.push(b'S');
        for x in [from, target, seconds] {
            self.input.extend(x.to_bits().to_le_bytes());
        }
        match joint.step(from, target, seconds) {
            Ok(next) => {
                self.expect(&line, 0);
                self.expect_float(&line, next.value);
            }
            Err(error) => {
                self.expect(&line, u32::from(error.code().number()));
                self.expect(&line, 0);
            }
        }
    }

    fn rest(&mut self, rest: f32) {
        if self.part & OTHERS == 0 {
            return;
        }
        self.input.push(b'R');
        self.expect("rest", 0);
        self.expect_float("rest", rest);
    }

    /// Runs it on a board, as a program of its own, and compares.
    fn ask(&mut self, board: &Board, program: &str, block: &[u8], more: &[&str]) {
        self.input.push(b'Q');
        let part = format!("-DPART={}", self.part);
        let elf = board.compile_for_files(program, "vectors.c", block, &[more, &[&part]].concat());
        let output = board.run_on_files(&elf, &self.input);
        self.compare(board, &output);
        println!(
            "{}, {program}: {} answers, all bits equal",
            board.name,
            self.expected.len()
        );
    }

    /// Compares every word; the first differences are named.
    fn compare(&self, board: &Board, output: &[u8]) {
        let mut wrong = Vec::new();
        let mut at = 0;
        for word in &self.expected {
            let Some(bytes) = output.get(at..at + word.bytes) else {
                panic!("{}: only {} bytes of answers", board.name, output.len());
            };
            at += word.bytes;
            let found = bytes.iter().rev().fold(0, |sum, byte| sum << 8 | u32::from(*byte));
            let fits = match word.bits {
                Some(bits) => found == bits,
                None => f32::from_bits(found).is_nan() || word.line.contains(" - "),
            };
            if !fits {
                wrong.push(format!("{}: {found:08x} instead of {:08x?}", word.line, word.bits));
            }
        }
        assert_eq!(at, output.len(), "{}: more answers than asked for", board.name);
        let some = wrong.len().min(20);
        assert!(
            wrong.is_empty(),
            "{}: {} differ, such as\n{}",
            board.name,
            wrong.len(),
            wrong[..some].join("\n")
        );
    }
}

const CHANNEL: u16 = 8;

fn float(word: &str) -> f32 {
    match word {
        "nan" => f32::NAN,
        word => f32::from_bits(u32::from_str_radix(word, 16).unwrap()),
    }
}

/// The joint of a `J` line.
fn joint(words: &[&str]) -> Joint<f32> {
    let x: Vec<f32> = words[..12].iter().map(|word| float(word)).collect();
    let servo = ServoRecord {
        angle: [x[6], x[7]],
        pulse_us: [x[8], x[9]],
    };
    let timer = TimerRecord {
        frame_hz: x[11],
        counts_per_frame: words[13].parse().unwrap(),
    };
    let mut record = JointRecord::new([x[0], x[1]], [x[2], x[3]], x[10], servo, timer);
    record.travel = Some([x[4], x[5]]);
    record.inverted = words[12] == "1";
    // The vectors know no sensors: here is one.
    let mut feedback = FeedbackRecord::new([212.0, 871.0], [-12.5, 95.0]);
    feedback.inverted = words[12] != "1";
    record.feedback = Some(feedback);
    // Nor rates; steps need one.
    record.max_rate_per_s = Some(if x[1] - x[0] < f32::MAX {
        (x[1] - x[0]) * 0.7
    } else {
        1e38
    })
    .filter(|rate| *rate > 0.0);
    Joint::new(record).unwrap()
}

pub(crate) fn run(board: &Board) {
    let path = root().join("tests/data/vectors/conversion_f32.txt");
    let text = std::fs::read_to_string(path).unwrap();
    let mut script = Script::new(ALL);
    let (mut joints, mut lines) = (Vec::new(), 0_usize);
    for line in text.lines().filter(|line| !line.starts_with('#')) {
        let words: Vec<&str> = line.split(' ').collect();
        match words[0] {
            "J" => {
                let joint = joint(&words[1..]);
                let image = to_vec(&[(CHANNEL, &joint)]).unwrap();
                script.take_block(&image);
                script.rest(joint.rest());
                steps(&mut script, &image);
                readings(&mut script, &joint);
                joints.push(joint);
            }
            "C" => script.command(line, float(words[1]), &words[2..]),
            "B" => script.backwards(line, float(words[1]), float(words[2]), float(words[3])),
            // No call of a block gives the derivative.
            "D" => continue,
            other => panic!("unknown line {other}"),
        }
        lines += 1;
    }
    assert!(lines > 10_000, "{lines}");
    script.ask(board, "vectors", &[], &[]);

    let mut script = Script::new(ALL);
    flash(&mut script, &joints[..16]);
    script.ask(
        board,
        "vectors_in_flash",
        &flash_image(&joints[..16]),
        &["-DBLOCK_IN_FLASH"],
    );
}

/// The shared vectors of curved joints, in as many programs as it takes.
pub(crate) fn run_curves(board: &Board) {
    let path = root().join("tests/data/vectors/block_f32.txt");
    let text = std::fs::read_to_string(path).unwrap();
    let parts: &[u8] = if board.is_avr() {
        &[COMMANDS, BACKWARDS, OTHERS]
    } else {
        &[ALL]
    };
    for part in parts {
        let mut script = Script::new(*part);
        for line in text.lines().filter(|line| !line.starts_with('#')) {
            let words: Vec<&str> = line.split(' ').collect();
            match words[0] {
                "I" => {
                    let image = image(words[1]);
                    script.take_block(&image);
                    script.rest(Joint::from_block(&image, CHANNEL).unwrap().rest());
                    steps(&mut script, &image);
                }
                "C" => script.command(line, float(words[1]), &words[2..]),
                "B" => script.backwards(line, float(words[1]), float(words[2]), float(words[3])),
                "M" => {
                    let status = words[2].parse().unwrap();
                    let command = if status == 0 { float(words[3]) } else { 0.0 };
                    script.reading(line, float(words[1]), status, command);
                }
                other => panic!("unknown line {other}"),
            }
        }
        assert!(script.expected.len() > 1_000);
        script.ask(board, &format!("vectors_of_curves_{part}"), &[], &[]);
    }
}

/// A library without curves refuses their blocks, and still answers for straight joints.
pub(crate) fn refuse_curves(board: &Board) {
    assert!(!board.curves);
    let path = root().join("tests/data/vectors/block_f32.txt");
    let text = std::fs::read_to_string(path).unwrap();
    let mut script = Script::new(COMMANDS);
    let images = text.lines().filter_map(|line| line.strip_prefix("I ")).map(image);
    let mut curved = 0;
    for image in images.take(20) {
        let joint = Joint::from_block(&image, CHANNEL).unwrap();
        let straight = matches!(joint.transmission(), model::Transmission::Linear(_))
            && joint
                .feedback()
                .is_none_or(|feedback| feedback.record().knots.is_none());
        curved += usize::from(!straight);
        script.input.push(b'B');
        script.input.extend((image.len() as u16).to_le_bytes());
        script.input.extend(&image);
        let refused = u32::from(model::Code::TransmissionInvalid.number());
        script.expect("the check of a block with curves", if straight { 0 } else { refused });
    }
    assert!(curved > 10, "{curved}");
    script.ask(board, "without_curves", &[], &[]);
}

fn image(hex: &str) -> Vec<u8> {
    let byte = |two: &[u8]| u8::from_str_radix(std::str::from_utf8(two).unwrap(), 16).unwrap();
    hex.as_bytes().chunks(2).map(byte).collect()
}

fn readings(script: &mut Script, joint: &Joint<f32>) {
    for reading in [0.0, 211.5, 212.0, 500.0, 541.5, 871.0, 1023.0, f32::NAN, 1e-40] {
        let line = format!("reading {reading:e}");
        script.reading(&line, reading, 0, joint.command_from_reading(reading).unwrap());
    }
}

fn steps(script: &mut Script, image: &[u8]) {
    let joint = Block::new(image).unwrap().joint(CHANNEL).unwrap();
    let [lower, upper] = joint.record().unwrap().command;
    for seconds in [0.0, 0.02, 1.0, -0.0, -0.02, f32::NAN, f32::INFINITY, f32::from_bits(1)] {
        for [from, target] in [
            [lower, upper],
            [upper, lower],
            [joint.rest(), upper],
            [0.0, f32::INFINITY],
        ] {
            script.step(&joint, [from, target, seconds]);
        }
    }
}

fn flash_image(joints: &[Joint<f32>]) -> Vec<u8> {
    let joints: Vec<(u16, &Joint<f32>)> = joints
        .iter()
        .enumerate()
        .map(|(i, joint)| (3 * i as u16, joint))
        .collect();
    to_vec(&joints).unwrap()
}

/// The same joints, sixteen in one block in flash.
fn flash(script: &mut Script, joints: &[Joint<f32>]) {
    script.input.push(b'F');
    script.expect("the check of the block in flash", 0);
    for (i, joint) in joints.iter().enumerate() {
        script.input.push(b'J');
        script.input.extend((3 * i as u16).to_le_bytes());
        script.rest(joint.rest());
        let [lower, upper] = joint.command_range().ends();
        for k in -3..=40 {
            let part = k as f32 / 37.0;
            let command = lower * (1.0 - part) + upper * part;
            // Beyond the widest of all ranges.
            let Ok(drive) = joint.drive(command) else { continue };
            let count = joint.counts(command).unwrap().value;
            let flags = u8::from(drive.clamped.command) + 2 * u8::from(drive.clamped.travel);
            let words = [
                "0".to_owned(),
                flags.to_string(),
                format!("{:08x}", drive.value.to_bits()),
                format!("{:08x}", joint.pulse_us(command).unwrap().value.to_bits()),
                count.to_string(),
                format!("{:08x}", joint.command_from_counts(count).to_bits()),
            ];
            let words: Vec<&str> = words.iter().map(String::as_str).collect();
            script.command(&format!("in flash, joint {i}, command {command:e}"), command, &words);
            let value = drive.value * 1.3;
            let (from_drive, from_pulse_us) = (joint.command_from_drive(value), joint.command_from_pulse_us(value));
            script.backwards(
                &format!("in flash, joint {i}, back from {value:e}"),
                value,
                from_drive,
                from_pulse_us,
            );
        }
    }
}
