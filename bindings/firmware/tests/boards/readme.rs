//! The compile and link lines of `bindings/firmware/README.md`, as they stand there.

use crate::board::{Board, root, rows, run_well};
use std::process::Command;

fn text() -> String {
    std::fs::read_to_string(root().join("bindings/firmware/README.md")).unwrap()
}

/// Each board has its row, with the Rust target and what the compiler is told.
pub(crate) fn table() {
    let text = text();
    for row in rows() {
        let start = format!("| `{}` | ", row.name);
        let line = text.lines().find(|line| line.starts_with(&start));
        let line = line.unwrap_or_else(|| panic!("the README has no row for {}", row.name));
        for word in [
            format!("`{}`", row.target),
            format!("`{}gcc {}`", row.tools, row.told.join(" ")),
        ] {
            assert!(line.contains(&word), "{}: {line}\nhas no {word}", row.name);
        }
    }
}

/// Every block of shell lines between the marks is run; what it makes answers on its board.
pub(crate) fn lines() {
    let text = text();
    let (_, rest) = text.split_once("<!-- lines -->\n").unwrap();
    let (lines, _) = rest.split_once("<!-- end of lines -->").unwrap();
    let blocks: Vec<&str> = lines.split("```").skip(1).step_by(2).collect();
    assert!(blocks.len() >= 4);
    for block in blocks {
        let script = block.strip_prefix("sh\n").unwrap();
        let mut shell = Command::new("bash");
        shell.args(["-euxc", script]).current_dir(root());
        run_well(shell.env_remove("RUSTUP_TOOLCHAIN").env_remove("CARGO"));
        let words: Vec<&str> = script.split_whitespace().collect();
        let board = rows().into_iter().find(|row| words.contains(&row.name)).unwrap();
        let program = if script.contains("cmake") {
            root().join("target/firmware/cmake/answer")
        } else {
            root().join("target/firmware/try").join(board.name).join("answer.elf")
        };
        let answered = Board::get(board.name).run(&program, b"3 10\n3 60.5\n.\n", &[]);
        let most = crate::heron::wing_left().counts(60.5).unwrap().value;
        let wanted = format!("ready\n283\n{most}\n");
        assert_eq!(String::from_utf8(answered).unwrap(), wanted, "{script}");
        println!("{}: the lines of the README answer", board.name);
    }
}
