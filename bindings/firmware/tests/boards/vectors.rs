//! The shared vectors, on a board.

use crate::board::{Board, root};
use model::block::{Block, BlockJoint, to_vec};
use model::{FeedbackRecord, Joint, JointRecord, ServoRecord, TimerRecord};

/// What the board is asked, and what it has to answer. NaNs answer as `None`: their payload is nobody's promise.
#[derive(Default)]
pub(crate) struct Script {
    input: Vec<u8>,
    expected: Vec<Word>,
}

struct Word {
    bits: Option<u32>,
    bytes: usize,
    /// The line of the vectors, or what else it is about.
    line: String,
}

impl Script {
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
        self.input.push(b'C');
        self.input.extend(command.to_bits().to_le_bytes());
        let status: u32 = answer[0].parse().unwrap();
        self.expect(line, status);
        if status != 0 {
            // Nothing is written: all stay what the board's program set before. It goes on to ask for count 0.
            for _ in 0..4 {
                self.expect(line, 0);
            }
            self.put(line, None, 4);
            self.expect(line, status);
            self.put(line, Some(0), 2);
            self.expect(line, 0);
            return;
        }
        let (flags, drive, pulse_us) = (answer[1], float(answer[2]), float(answer[3]));
        let (count, back): (u32, f32) = (answer[4].parse().unwrap(), float(answer[5]));
        self.expect_float(line, drive);
        self.expect_float(line, pulse_us);
        self.expect(line, count);
        self.expect(line, flags.parse().unwrap());
        self.expect_float(line, back);
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

    fn backwards(&mut self, line: &str, value: f32, from_drive: f32, from_pulse_us: f32) {
        self.input.push(b'W');
        self.input.extend(value.to_bits().to_le_bytes());
        self.expect_float(line, from_drive);
        self.expect_float(line, from_pulse_us);
    }

    fn step(&mut self, joint: &BlockJoint<&[u8]>, [from, target, seconds]: [f32; 3]) {
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
        self.input.push(b'R');
        self.expect("rest", 0);
        self.expect_float("rest", rest);
    }

    /// Runs it on a board, as a program of its own, and compares.
    fn ask(&mut self, board: &Board, program: &str, block: &[u8], more: &[&str]) {
        self.input.push(b'Q');
        let elf = board.compile(program, "vectors.c", block, more);
        let output = board.run(&elf, &self.input, &[]);
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
        counts: words[13].parse().unwrap(),
    };
    let mut record = JointRecord::new([x[0], x[1]], [x[2], x[3]], x[10], servo, timer);
    record.travel = Some([x[4], x[5]]);
    record.inverted = words[12] == "1";
    // The vectors know no sensors: here is one.
    let mut feedback = FeedbackRecord::new([212.0, 871.0], [-12.5, 95.0]);
    feedback.inverted = words[12] != "1";
    record.feedback = Some(feedback);
    // Nor rates; steps need one.
    record.rate_per_s = Some(if x[1] - x[0] < f32::MAX {
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
    let mut script = Script::default();
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
            other => panic!("unknown line {other}"),
        }
        lines += 1;
    }
    assert!(lines > 10_000, "{lines}");
    script.ask(board, "vectors", &[], &[]);

    let mut script = Script::default();
    flash(&mut script, &joints[..16]);
    script.ask(
        board,
        "vectors_in_flash",
        &flash_image(&joints[..16]),
        &["-DBLOCK_IN_FLASH"],
    );
}

fn readings(script: &mut Script, joint: &Joint<f32>) {
    for reading in [0.0, 211.5, 212.0, 500.0, 541.5, 871.0, 1023.0, f32::NAN, 1e-40] {
        let line = format!("reading {reading:e}");
        script.input.push(b'M');
        script.input.extend(reading.to_bits().to_le_bytes());
        script.expect(&line, 0);
        script.expect_float(&line, joint.command_from_reading(reading).unwrap());
    }
}

fn steps(script: &mut Script, image: &[u8]) {
    let joint = Block::new(image).unwrap().joint(CHANNEL).unwrap();
    let [lower, upper] = joint.record().command;
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
