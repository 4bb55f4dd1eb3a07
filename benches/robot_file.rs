//! A robot of a thousand joints: parse, check and convert, beside a bare TOML parse of the same text by the same library.
//!
//! `cargo bench -p elbowroom --features robot --bench robot_file` prints both times of this run and their ratio; the promise is at
//! most 3. Each is the best of many rounds, taken in turn, so that both meet the same machine.
#![allow(clippy::unwrap_used, reason = "a bench may panic")]

use elbowroom::robot::{Robot, check};
use std::fmt::Write as _;
use std::hint::black_box;
use std::time::{Duration, Instant};

const JOINTS: u32 = 1000;
const ROUNDS: u32 = 40;

/// Invented data, with everything that a joint of the demo robot has.
fn text() -> String {
    let mut text =
        String::from("format = 1\nname = \"thousand\"\ntimer = { frame_hz = 50, counts_per_frame = 4096 }\n");
    text.push_str("servo = { angle = [0, 180], pulse_us = [500, 2500] }\n");
    for joint in 0..JOINTS {
        let (board, channel) = (joint / 16, joint % 16);
        let _ = write!(
            text,
            "\n[joint.j{joint}]\nboard = \"board_{board}\"\nchannel = {channel}\nunit = \"deg\"\ncommand = [-40, 60]\n\
             drive = [37, 122]\ntravel = [40.2, 119]\nrest = 10\nmax_rate_per_s = 60\n\
             feedback = {{ reading = [212, 871], angle = [-40, 60], adc_bits = 10 }}\n\n\
             [joint.j{joint}.evidence]\ndate = 2026-11-20\nsense = \"opposing\"\n\
             lower = {{ kind = \"contact\", at = 37.9, u = 0.2, guard = 2.0 }}\nupper = {{ kind = \"clear\", at = 119.0 }}\n\
             lost_motion = {{ value = 1.8, u = 0.15 }}\nreadings = 42\n"
        );
    }
    text
}

fn timed(work: impl FnOnce()) -> Duration {
    let start = Instant::now();
    work();
    start.elapsed()
}

fn main() {
    let text = text();
    let mut best = [Duration::MAX; 4];
    for _ in 0..ROUNDS {
        let bare = timed(|| drop(black_box(toml_edit::Document::parse(black_box(text.as_str())).unwrap())));
        let mut robot = None;
        let parse = timed(|| robot = Some(Robot::parse(black_box(&text)).unwrap()));
        let robot = robot.unwrap();
        let checks = timed(|| drop(black_box(check(black_box(&robot)))));
        let convert = timed(|| {
            for entry in robot.joints() {
                let _ = black_box(entry.joint().counts(black_box(entry.joint().rest())));
            }
        });
        for (best, now) in best.iter_mut().zip([bare, parse, checks, convert]) {
            *best = now.min(*best);
        }
    }
    let ms = best.map(|time| time.as_secs_f64() * 1e3);
    let [bare, parse, checks, convert] = ms;
    let all = parse + checks + convert;
    println!(
        "{JOINTS} joints, {} bytes, best of {ROUNDS} rounds taken in turn",
        text.len()
    );
    println!("bare toml_edit parse          {bare:8.3} ms");
    println!("parse {parse:.3} + check {checks:.3} + convert {convert:.3} = {all:.3} ms");
    println!("ratio {:.2} (promise: at most 3)", all / bare);
}
