//! Linear joints: `conversion_f64.txt` and `conversion_f32.txt`.

use crate::bits::{Bits, Draw};
use elbowroom::{Joint, JointRecord, ServoRecord, TimerRecord};
use std::fmt::Write as _;

pub(crate) fn joint_line<T: Bits>(joint: &Joint<T>) -> String {
    let r = joint.record();
    let [lowest, highest] = joint.count_range();
    let numbers = [r.command, r.drive, r.travel.unwrap(), r.servo.angle, r.servo.pulse_us].concat();
    let mut line = String::from("J");
    for x in numbers.into_iter().chain([r.rest, r.timer.frame_hz]) {
        write!(line, " {}", x.show()).unwrap();
    }
    format!(
        "{line} {} {} {lowest} {highest}",
        u8::from(r.inverted),
        r.timer.counts_per_frame
    )
}

pub(crate) fn command_line<T: Bits>(joint: &Joint<T>, command: T) -> String {
    match joint.drive(command) {
        Err(error) => format!("C {} {} - - - - -", command.show(), error.code().number()),
        Ok(drive) => {
            let flags = u8::from(drive.clamped.command) + 2 * u8::from(drive.clamped.travel);
            let pulse_us = joint.pulse_us(command).unwrap().value;
            let count = joint.counts(command).unwrap().value;
            assert_eq!(joint.counts_value(command), Ok(count));
            let back = joint.command_from_counts(count);
            format!(
                "C {} 0 {flags} {} {} {count} {}",
                command.show(),
                drive.value.show(),
                pulse_us.show(),
                back.show()
            )
        }
    }
}

pub(crate) fn back_line<T: Bits>(joint: &Joint<T>, value: T) -> String {
    let from_drive = joint.command_from_drive(value).show();
    format!(
        "B {} {from_drive} {}",
        value.show(),
        joint.command_from_pulse_us(value).show()
    )
}

/// What a step of command is worth, at a command.
pub(crate) fn derivative_line<T: Bits>(joint: &Joint<T>, command: T) -> String {
    let slope = joint.transmission().drive_per_command(command);
    format!("D {} {}", command.show(), slope.show())
}

/// Those lines at the ends of the command range, within and beyond; `parts` of it say where.
pub(crate) fn derivative_lines<T: Bits>(joint: &Joint<T>, parts: &[f64]) -> String {
    let [lower, upper] = joint.command_range().ends();
    let inner = parts.iter().map(|&part| {
        let part = T::from_wide(part);
        lower * (T::one() - part) + upper * part
    });
    let commands = [lower, upper, T::nan()].into_iter().chain(inner);
    commands.map(|command| derivative_line(joint, command) + "\n").collect()
}

pub(crate) fn parse_record<T: Bits>(words: &[&str]) -> JointRecord<T> {
    let x: Vec<T> = words[..12].iter().map(|word| T::read(word)).collect();
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
    record
}

fn draw_joint<T: Bits>(draw: &mut Draw, kind: usize) -> Option<Joint<T>> {
    let w = T::from_wide;
    let (angle_low, angle_width) = [(0.0, 180.0), (-90.0, 180.0), (0.0, 270.0), (-60.0, 120.0)][kind % 4];
    let angle = [w(angle_low), w(angle_low + angle_width)];
    let pulse_us = [[500.0, 2500.0], [1000.0, 2000.0], [544.0, 2400.0]][kind % 3].map(w);
    let timer = [
        (50.0, 4096),
        (50.0, 40_000),
        (60.0, 4096),
        (333.0, 16_384),
        (47.3, 65_535),
        (50.0, 1_000_000),
    ][kind % 6];
    let timer = TimerRecord {
        frame_hz: w(timer.0),
        counts_per_frame: timer.1,
    };

    let at = |part: f64| w(angle_low + part * angle_width);
    let drive = [at(draw.between(0.0, 0.45)), at(draw.between(0.55, 1.0))];
    let command = match kind % 8 {
        0 => [w(0.0), w(180.0)],
        1 => [w(-1.0), w(1.0)],
        2 => [w(draw.between(-300.0, 0.0)), w(draw.between(1.0, 300.0))],
        3 => [w(draw.between(10.0, 11.0)), w(draw.between(11.5, 5000.0))],
        4 => [T::min_value(), T::max_value()],
        5 => [T::zero(), T::TINY],
        6 => [w(-1.0e-3), w(1.0e30)],
        _ => [w(draw.between(-9.0, -8.0)), w(draw.between(-7.0, -1.0))],
    };
    let part = w(draw.unit());
    let rest = command[0] * (T::one() - part) + command[1] * part;
    let mut record = JointRecord::new(command, drive, rest, ServoRecord { angle, pulse_us }, timer);
    record.inverted = draw.bits() & 1 == 1;
    if draw.bits() & 1 == 1 {
        record.travel = Some([at(draw.between(0.1, 0.5)), at(draw.between(0.52, 0.9))]);
    }
    Joint::new(record).ok()
}

fn worked_example<T: Bits>(inverted: bool) -> Joint<T> {
    let w = T::from_wide;
    let servo = ServoRecord {
        angle: [w(0.0), w(180.0)],
        pulse_us: [w(500.0), w(2500.0)],
    };
    let timer = TimerRecord {
        frame_hz: w(50.0),
        counts_per_frame: 4096,
    };
    let mut record = JointRecord::new([w(0.0), w(180.0)], [w(5.0), w(80.0)], w(90.0), servo, timer);
    record.inverted = inverted;
    Joint::new(record).unwrap()
}

pub(crate) fn commands<T: Bits>(joint: &Joint<T>, draw: &mut Draw) -> Vec<T> {
    let [lower, upper] = joint.command_range().ends();
    let mut commands = vec![lower, upper, joint.rest()];
    for x in [
        lower,
        upper,
        joint.rest(),
        joint.command_from_drive(joint.travel().lower()),
    ] {
        commands.extend(x.neighbours());
    }
    commands.extend(T::ODD);
    for _ in 0..28 {
        let part = T::from_wide(draw.between(-0.1, 1.1));
        commands.push(lower * (T::one() - part) + upper * part);
    }
    commands
}

fn generate<T: Bits>() -> String {
    let mut draw = Draw(0x0e1b_0e00);
    let mut text = String::from("# Shared conversion vectors; see README.md beside this file.\n");
    let examples = [worked_example(false), worked_example(true)];
    let drawn: Vec<_> = (0..264).filter_map(|kind| draw_joint::<T>(&mut draw, kind)).collect();
    for joint in examples.into_iter().chain(drawn) {
        writeln!(text, "{}", joint_line(&joint)).unwrap();
        for command in commands(&joint, &mut draw) {
            writeln!(text, "{}", command_line(&joint, command)).unwrap();
        }
        for value in [
            T::nan(),
            T::from_wide(draw.between(-200.0, 3000.0)),
            joint.travel().upper(),
        ] {
            writeln!(text, "{}", back_line(&joint, value)).unwrap();
        }
        text.push_str(&derivative_lines(&joint, &[0.5]));
    }
    text
}

fn check<T: Bits>(name: &str) {
    let text = crate::recorded(name, generate::<T>);
    let mut joint = None;
    let (mut conversions, mut refusals) = (0, 0);
    for line in text.lines().filter(|line| !line.starts_with('#')) {
        let words: Vec<&str> = line.split(' ').collect();
        let got = match words[0] {
            "J" => joint_line(joint.insert(Joint::new(parse_record::<T>(&words[1..])).unwrap())),
            "C" => command_line(joint.as_ref().unwrap(), T::read(words[1])),
            "B" => back_line(joint.as_ref().unwrap(), T::read(words[1])),
            "D" => derivative_line(joint.as_ref().unwrap(), T::read(words[1])),
            other => panic!("unknown line {other}"),
        };
        assert_eq!(got, line, "for {:?}", joint);
        conversions += usize::from(words[0] == "C");
        refusals += usize::from(words[0] == "C" && words[2] != "0");
    }
    assert!(conversions >= 10_000 && refusals >= 500, "{conversions} {refusals}");
}

#[test]
fn f64_bits_are_the_recorded_ones() {
    check::<f64>("conversion_f64.txt");
}

#[test]
fn f32_bits_are_the_recorded_ones() {
    check::<f32>("conversion_f32.txt");
}

#[test]
fn batches_give_the_recorded_bits_too() {
    let text = crate::recorded("conversion_f64.txt", generate::<f64>);
    let mut joint: Option<Joint<f64>> = None;
    for line in text.lines() {
        let words: Vec<&str> = line.split(' ').collect();
        match words[0] {
            "J" => joint = Some(Joint::new(parse_record(&words[1..])).unwrap()),
            "C" if words[2] == "0" => {
                let joint = joint.as_ref().unwrap();
                // Long enough for whatever takes several values at a time.
                let commands = [f64::read(words[1]); 37];
                let mut counts = [0; 37];
                joint.counts_batch(&commands, &mut counts).unwrap();
                assert_eq!(counts, [words[6].parse::<u32>().unwrap(); 37], "{line}");
            }
            _ => {}
        }
    }
}
