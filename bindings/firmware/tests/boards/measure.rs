//! What the library costs on a board: flash, RAM, time.

use crate::board::{Board, run_well};
use crate::heron;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::process::Command;

/// The calls that are measured beside the same work written in C.
const CALLS: [&str; 6] = [
    "counts",
    "pulse_us",
    "convert",
    "step",
    "command_from_counts",
    "command_from_reading",
];
/// The time of each on an 8-bit board, at most, in times of that in C.
const MOST_TIMES: f64 = 1.4;
/// Static RAM of the library, at most, bytes.
const MOST_RAM: u32 = 64;

/// What a program of `measure.c` says.
type Said = BTreeMap<String, u32>;

pub(crate) fn run(board: &'static Board) -> Figures {
    let image = if board.curves {
        heron::curved_image()
    } else {
        heron::image()
    };
    // One program for each call: with curves there is no room in an AVR for all of them and the same in C.
    let said = CALLS.iter().map(|call| measure(board, &image, call)).collect();

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
        name: &board.name,
        avr: board.is_avr(),
        said,
        library,
        ram,
        flash,
        static_ram,
        block: image.len(),
    };
    assert!(figures.ram <= MOST_RAM, "{}: {} bytes of RAM", board.name, figures.ram);
    if board.is_avr() {
        assert!(figures.flash <= 32 * 1024 && figures.static_ram <= 1024);
    }
    figures
}

/// A call beside the same in C, which is compiled as is usual on such boards, and once more for speed: `reference_fast`.
fn measure(board: &Board, image: &[u8], call: &str) -> Said {
    let fast = measure_with(board, image, call, "-O2")["reference"];
    let mut said = measure_with(board, image, call, "-Os");
    said.insert("reference_fast".to_owned(), fast);
    said
}

fn measure_with(board: &Board, image: &[u8], call: &str, level: &str) -> Said {
    let mut given = vec![level.to_owned(), format!("-DCALL={call}"), format!("-DCALL_{call}")];
    given.extend(board.curves.then(|| "-DCURVED".to_owned()));
    given.extend((call == CALLS[0]).then(|| "-DWITH_CHECK".to_owned()));
    let given: Vec<&str> = given.iter().map(String::as_str).collect();
    let elf = board.compile(&format!("measure_{call}"), "measure.c", image, &given);
    let more: &[&str] = if board.is_avr() { &[] } else { &["-icount", "shift=0"] };
    let text = String::from_utf8(board.run(&elf, b"", more)).unwrap();
    let said: Said = text
        .lines()
        .map(|line| line.split_once(' ').unwrap())
        .map(|(name, number)| (name.to_owned(), number.parse().unwrap()))
        .collect();
    let refused = said.get("check").copied().unwrap_or(0);
    assert_eq!((said["different"], refused), (0, 0), "{}: {call}: {text}", board.name);
    said
}

/// The library's time in times of that in C.
fn times(said: &Said, reference: &str) -> f64 {
    f64::from(said["library"]) / f64::from(said[reference])
}

/// The figures of one board.
pub(crate) struct Figures {
    name: &'static str,
    avr: bool,
    /// What was measured of each call of [`CALLS`].
    said: Vec<Said>,
    library: u32,
    ram: u32,
    flash: u32,
    static_ram: u32,
    block: usize,
}

/// Whether the library is by the toolchain, with its own target; else by Debian's compiler, with other figures.
pub(crate) fn made_by_the_toolchain(board: &Board) -> bool {
    let mut rustc = Command::new("rustc");
    rustc
        .env_remove("RUSTUP_TOOLCHAIN")
        .args(["--print", "target-libdir", "--target", board.target()]);
    let folder = rustc.output().unwrap().stdout;
    Path::new(String::from_utf8_lossy(&folder).trim()).is_dir()
}

/// Holds the calls to what they may take on an 8-bit board.
pub(crate) fn limits(boards: &[Figures]) {
    for figures in boards.iter().filter(|figures| figures.avr) {
        for (call, said) in CALLS.iter().zip(&figures.said) {
            let times = ["reference", "reference_fast"].map(|reference| times(said, reference));
            assert!(
                times.iter().all(|times| *times <= MOST_TIMES),
                "{}: {call} takes {times:.2?} times the cycles of C with -Os and -O2, more than {MOST_TIMES}",
                figures.name
            );
        }
    }
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
        .filter(|name| board.is_avr() || !name.ends_with("_flash"))
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
    row("flash of the example, block included, bytes", &|f| f.flash.to_string());
    row("of that, the library (`check` and `counts`)", &|f| {
        f.library.to_string()
    });
    row("of that, the block of 16 joints", &|f| f.block.to_string());
    row("static RAM of the example, bytes", &|f| f.static_ram.to_string());
    row("of that, the library", &|f| f.ram.to_string());
    row("stack of `check`, bytes", &|f| f.said[0]["stack_check"].to_string());
    for (i, call) in CALLS.iter().enumerate() {
        let said = |name: &'static str| move |f: &Figures| f.said[i][name].to_string();
        row(&format!("**`{call}`**: instructions; cycles"), &said("library"));
        row("the same in C", &said("reference"));
        row("the same in C with `-O2`", &said("reference_fast"));
        row("in times of C, `-Os` and `-O2`", &|f| {
            let [small, fast] = ["reference", "reference_fast"].map(|reference| times(&f.said[i], reference));
            format!("{small:.2}, {fast:.2}")
        });
        row("stack, bytes", &said("stack_library"));
        row("the same in C", &said("stack_reference"));
    }
    text
}
