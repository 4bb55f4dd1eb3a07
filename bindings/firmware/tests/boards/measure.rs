//! What the library costs on a board: flash, RAM, time.

use crate::board::{Board, Kind, run_well};
use crate::heron;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::process::Command;

/// The library's time on an 8-bit board, at most, in times that of the same work written in C.
const MOST_TIMES: f64 = 1.5;
/// Static RAM of the library, at most, bytes.
const MOST_RAM: u32 = 64;

pub(crate) fn run(board: &Board) -> Figures {
    let (image, given): (_, &[&str]) = match board.curves {
        false => (heron::image(), &[]),
        true => (heron::curved_image(), &["-DCURVED"]),
    };
    let elf = board.compile("measure", "measure.c", &image, given);
    let more: &[&str] = match board.kind {
        Kind::CortexM4f => &["-icount", "shift=0"],
        Kind::Atmega328p => &[],
    };
    let text = String::from_utf8(board.run(&elf, b"", more)).unwrap();
    let said: BTreeMap<String, u32> = text
        .lines()
        .map(|line| line.split_once(' ').unwrap())
        .map(|(name, number)| (name.to_owned(), number.parse().unwrap()))
        .collect();
    assert_eq!((said["different"], said["check"]), (0, 0), "{}: {text}", board.name);

    let example = board.compile("answer", "answer.c", &image, &[]);
    let own = symbols(board, &board.dir.join("elbowroom_block.o"));
    let library = symbols(board, &example)
        .iter()
        .filter(|(name, (kind, _))| own.contains_key(*name) && kind.eq_ignore_ascii_case("t"))
        .map(|(_, (_, size))| size)
        .sum();
    let ram = own
        .values()
        .filter(|(kind, _)| "bBdD".contains(kind.as_str()))
        .map(|(_, size)| size)
        .sum();
    let (flash, static_ram) = sizes(board, &example);
    let figures = Figures {
        name: board.name,
        said,
        library,
        ram,
        flash,
        static_ram,
        block: image.len(),
    };
    assert!(figures.ram <= MOST_RAM, "{}: {} bytes of RAM", board.name, figures.ram);
    if board.kind == Kind::Atmega328p {
        let times = f64::from(figures.said["counts"]) / f64::from(figures.said["reference"]);
        assert!(times <= MOST_TIMES, "{}: {times:.2} times the cycles of C", board.name);
        assert!(figures.flash <= 32 * 1024 && figures.static_ram <= 1024);
    }
    figures
}

/// The figures of one board.
pub(crate) struct Figures {
    name: &'static str,
    said: BTreeMap<String, u32>,
    library: u32,
    ram: u32,
    flash: u32,
    static_ram: u32,
    block: usize,
}

/// Name, kind and size of the symbols of an object or program.
fn symbols(board: &Board, file: &Path) -> BTreeMap<String, (String, u32)> {
    let text = run_well(Command::new(board.tool("nm")).arg("-S").arg(file));
    text.lines()
        .filter_map(|line| match line.split_whitespace().collect::<Vec<_>>()[..] {
            [_, size, kind, name] => Some((name.to_owned(), (kind.to_owned(), u32::from_str_radix(size, 16).ok()?))),
            _ => None,
        })
        .collect()
}

/// Flash and static RAM of a program.
fn sizes(board: &Board, elf: &Path) -> (u32, u32) {
    let text = run_well(Command::new(board.tool("size")).arg(elf));
    let words: Vec<u32> = text
        .lines()
        .last()
        .unwrap()
        .split_whitespace()
        .take(3)
        .map(|word| word.parse().unwrap())
        .collect();
    (words[0] + words[1], words[1] + words[2])
}

/// The calls that a program may make, of the archive's own list and the header's.
pub(crate) fn calls(board: &Board) {
    let archive = std::fs::read_to_string(board.dir.join("calls.txt")).unwrap();
    let archive: BTreeSet<&str> = archive.lines().collect();
    let header = std::fs::read_to_string(crate::board::root().join("include/elbowroom.h")).unwrap();
    let header: BTreeSet<&str> = header
        .lines()
        .filter(|line| !line.starts_with("//"))
        .filter_map(|line| Some(line.split_once("elb_status ")?.1.split_once('(')?.0))
        .filter(|name| name.starts_with("elb_block_"))
        .filter(|name| board.kind == Kind::Atmega328p || !name.ends_with("_flash"))
        .collect();
    assert_eq!(archive, header, "{}", board.name);
}

/// The table of the README: a column for each library.
pub(crate) fn table(boards: &[Figures]) -> String {
    let mut text = String::from("|");
    for figures in boards {
        text += &format!(" | {}", figures.name);
    }
    text += &format!(" |\n| ---{} |\n", " | ---:".repeat(boards.len()));
    let mut row = |what: &str, of: &dyn Fn(&Figures) -> String| {
        text += &format!("| {what}");
        for figures in boards {
            text += &format!(" | {}", of(figures));
        }
        text += " |\n";
    };
    // Beside curves there is no room in an AVR for all calls at once.
    let said = |name: &'static str| {
        move |figures: &Figures| {
            figures
                .said
                .get(name)
                .map_or("–".to_owned(), |number| number.to_string())
        }
    };
    row("flash of the example, block included, bytes", &|f| f.flash.to_string());
    row("of that, the library (`check` and `counts`)", &|f| {
        f.library.to_string()
    });
    row("of that, the block of 16 joints", &|f| f.block.to_string());
    row("static RAM of the example, bytes", &|f| f.static_ram.to_string());
    row("of that, the library", &|f| f.ram.to_string());
    row("stack of `counts`, bytes", &said("stack_counts"));
    row("stack of the same in C", &said("stack_reference"));
    row("stack of `convert`", &said("stack_convert"));
    row("stack of `step`", &said("stack_step"));
    row("stack of `command_from_counts`", &said("stack_command_from_counts"));
    row("stack of `check`", &said("stack_check"));
    row("`counts`: instructions; cycles", &said("counts"));
    row("the same in C", &said("reference"));
    row("`counts` in times of C", &|f| {
        format!("{:.2}", f64::from(f.said["counts"]) / f64::from(f.said["reference"]))
    });
    row("`convert`", &said("convert"));
    row("`step`", &said("step"));
    row("`command_from_counts`", &said("command_from_counts"));
    text
}
