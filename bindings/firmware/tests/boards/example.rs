//! The example, asked over its serial line.

use crate::board::Board;
use crate::heron;
use std::fmt::Write;

pub(crate) fn run(board: &Board) {
    let mut asked = String::new();
    let mut wanted = String::from("ready\n");
    for (channel, joint) in heron::joints() {
        for quarter in (-80..=680).step_by(7) {
            let command = quarter as f32 / 4.0;
            writeln!(asked, "{channel} {command}").unwrap();
            writeln!(wanted, "{}", joint.counts(command).unwrap().value).unwrap();
        }
    }
    asked.push_str("1 90\n.\n");
    writeln!(wanted, "refused {}", model::Code::UnknownChannel.number()).unwrap();
    let elf = board.compile("answer", "answer.c", &heron::image(), &[]);
    let answered = String::from_utf8(board.run(&elf, asked.as_bytes(), &[])).unwrap();
    for (line, (asked, (answered, wanted))) in asked
        .lines()
        .zip(answered.lines().skip(1).zip(wanted.lines().skip(1)))
        .enumerate()
    {
        assert_eq!(answered, wanted, "{}, line {line}: {asked}", board.name);
    }
    assert_eq!(answered, wanted);
    println!(
        "{}: the example answers {} commands",
        board.name,
        asked.lines().count() - 1
    );
}
