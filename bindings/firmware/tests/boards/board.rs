//! Building for a board, and running there.

use std::collections::BTreeMap;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::{Mutex, OnceLock};

/// A board with its library.
pub(crate) struct Board {
    /// As `bindings/firmware/boards.txt` calls it.
    pub(crate) board: &'static str,
    /// The same, and whether with curves.
    pub(crate) name: String,
    /// Whether its library reads curves.
    pub(crate) curves: bool,
    /// Where its library and programs are put.
    pub(crate) dir: PathBuf,
    row: Row,
}

/// A line of `bindings/firmware/boards.txt`.
#[derive(Clone)]
pub(crate) struct Row {
    pub(crate) name: &'static str,
    pub(crate) target: &'static str,
    /// Prefix of the C tools.
    pub(crate) tools: &'static str,
    /// What the C compiler is told.
    pub(crate) told: Vec<&'static str>,
    /// Folders of the sketch library.
    pub(crate) folders: Vec<&'static str>,
}

/// The boards, in the order of the table.
pub(crate) fn rows() -> Vec<Row> {
    let lines = include_str!("../../boards.txt")
        .lines()
        .filter(|line| !line.starts_with('#'));
    let row = |line: &'static str| {
        let words: Vec<&str> = line.split('|').map(str::trim).collect();
        let [name, target, _, tools, told, folders] = words[..] else {
            panic!("boards.txt: {line}")
        };
        Row {
            name,
            target,
            tools,
            told: told.split(' ').collect(),
            folders: folders.split(' ').collect(),
        }
    };
    lines.map(row).collect()
}

/// Where a program's bytes come from and go to.
#[derive(Clone, Copy)]
enum Line {
    Serial,
    Files,
}

/// The simulator of a board: what its programs are linked with, and how they are run.
struct Simulator {
    /// The serial line, of the example's folder.
    line: &'static str,
    /// From reset to main(), where the C library does not bring that.
    start: Option<&'static str>,
    /// What the linker is told.
    link: &'static [&'static str],
    /// The command before the program.
    run: &'static [&'static str],
}

const QUIET: [&str; 4] = ["-display", "none", "-monitor", "none"];
const CORTEX_M_LINK: [&str; 2] = ["--specs=nano.specs", "-nostartfiles"];

impl Row {
    pub(crate) fn is_avr(&self) -> bool {
        self.target == "avr-none"
    }

    fn simulator(&self) -> Simulator {
        const CORTEX_M: Option<&str> = Some("start_cortex_m.c");
        match self.name {
            "cortex-m0plus" => Simulator {
                line: "board_nrf51.c",
                start: CORTEX_M,
                link: &["-T", "nrf51.ld"],
                run: &["qemu-system-arm", "-M", "microbit"],
            },
            "cortex-m3" => Simulator {
                line: "board_mps2.c",
                start: CORTEX_M,
                link: &["-T", "mps2.ld"],
                run: &["qemu-system-arm", "-M", "mps2-an385"],
            },
            "cortex-m4" | "cortex-m4f" => Simulator {
                line: "board_mps2.c",
                start: CORTEX_M,
                link: &["-T", "mps2.ld"],
                run: &["qemu-system-arm", "-M", "mps2-an386"],
            },
            "cortex-m33" | "cortex-m33f" => Simulator {
                line: "board_mps2.c",
                start: CORTEX_M,
                link: &["-T", "mps2_an505.ld"],
                run: &["qemu-system-arm", "-M", "mps2-an505"],
            },
            "rv32imc" => Simulator {
                line: "board_16550.c",
                start: Some("start_rv32.c"),
                link: &["-T", "rv32.ld"],
                // Without floats and atomics: what is not rv32imc stops the program.
                run: &[
                    "qemu-system-riscv32",
                    "-M",
                    "virt",
                    "-cpu",
                    "rv32,f=off,d=off,a=off",
                    "-bios",
                    "none",
                ],
            },
            "atmega328p" => Simulator {
                line: "board_atmega.c",
                start: None,
                link: &[],
                run: &["0"],
            },
            "atmega32u4" => Simulator {
                line: "board_atmega.c",
                start: None,
                link: &[],
                run: &["1"],
            },
            other => panic!("no simulator for {other}"),
        }
    }
}

/// The top of the project.
pub(crate) fn root() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../.."))
}

impl Board {
    /// The board with the library for straight joints; it is built the first time.
    pub(crate) fn get(name: &str) -> &'static Self {
        Self::built(name, false)
    }

    /// The board with the library that reads curves as well; it is built the first time.
    pub(crate) fn with_curves(name: &str) -> &'static Self {
        Self::built(name, true)
    }

    fn built(name: &str, curves: bool) -> &'static Self {
        static BOARDS: Mutex<BTreeMap<(String, bool), &'static Board>> = Mutex::new(BTreeMap::new());
        let mut boards = BOARDS.lock().unwrap();
        boards.entry((name.to_owned(), curves)).or_insert_with(|| {
            let row = rows().into_iter().find(|row| row.name == name).unwrap();
            let mut build = Command::new(root().join("bindings/firmware/build"));
            // The test runner's own cargo must not speak for the one of the build.
            build.env_remove("RUSTUP_TOOLCHAIN").env_remove("CARGO");
            build.arg(name).args(curves.then_some("curves"));
            run_well(&mut build);
            let mut dir = root().join("target/firmware").join(name);
            dir.extend(curves.then_some("curves"));
            Box::leak(Box::new(Self {
                board: row.name,
                name: format!("{name}{}", if curves { " with curves" } else { "" }),
                curves,
                dir,
                row,
            }))
        })
    }

    pub(crate) fn is_avr(&self) -> bool {
        self.row.is_avr()
    }

    pub(crate) fn target(&self) -> &'static str {
        self.row.target
    }

    /// One of the board's tools: compiler or binutils.
    pub(crate) fn tool(&self, name: &str) -> String {
        format!("{}{name}", self.row.tools)
    }

    /// Compiles `file`, of `tests/firmware` or the example's folder, with the board's own file and the library.
    ///
    /// `block`, unless empty, becomes its `heron_block.h`. A file that ends in `.cpp` is C++.
    pub(crate) fn compile(&self, program: &str, file: &str, block: &[u8], more: &[&str]) -> PathBuf {
        self.compile_on(Line::Serial, program, file, block, more)
    }

    /// As [`Board::compile`], with files in the place of the serial line, unless on an AVR.
    pub(crate) fn compile_for_files(&self, program: &str, file: &str, block: &[u8], more: &[&str]) -> PathBuf {
        let line = if self.is_avr() { Line::Serial } else { Line::Files };
        self.compile_on(line, program, file, block, more)
    }

    fn compile_on(&self, line: Line, program: &str, file: &str, block: &[u8], more: &[&str]) -> PathBuf {
        let work = self.dir.join(program);
        std::fs::create_dir_all(&work).unwrap();
        if !block.is_empty() {
            let source = model::block::c_source("heron_block", block, &[]).unwrap();
            std::fs::write(work.join("heron_block.h"), source).unwrap();
        }

        let example = root().join("bindings/firmware/example");
        let own = root().join("tests/firmware").join(file);
        let own = if own.exists() { own } else { example.join(file) };
        let elf = work.join("program.elf");
        let simulator = self.row.simulator();
        let told = |language: &str| {
            let mut compile = Command::new(self.tool(if language == "c11" { "gcc" } else { "g++" }));
            compile.args(&self.row.told);
            // Contraction of a * b + c to one rounding is what C allows and this project does not.
            compile.args(["-Os", "-Wall", "-Wextra", "-Werror", "-ffp-contract=off"]);
            compile.arg(format!("-std={language}"));
            compile.args(["-ffunction-sections", "-fdata-sections"]);
            compile.args((self.row.tools == "riscv64-unknown-elf-").then_some("--specs=picolibc.specs"));
            for folder in [&root().join("include"), &example, &work] {
                compile.arg("-I").arg(folder);
            }
            compile.args(more);
            compile
        };
        let mut objects = Vec::new();
        let line = match line {
            Line::Serial => example.join(simulator.line),
            Line::Files => root().join("tests/firmware/board_files.c"),
        };
        let start = simulator.start.map(|file| example.join(file));
        for source in [line].into_iter().chain(start).chain([own]) {
            let language = if source.extension().unwrap() == "cpp" {
                "gnu++11"
            } else {
                "c11"
            };
            let object = work.join(source.file_name().unwrap()).with_extension("o");
            run_well(told(language).arg("-c").arg(&source).arg("-o").arg(&object));
            objects.push(object);
        }
        let mut link = told("c11");
        if self.row.tools == "arm-none-eabi-" {
            link.args(CORTEX_M_LINK);
        } else if !self.is_avr() {
            link.arg("-nostartfiles");
        }
        link.arg("-L")
            .arg(&example)
            .args(simulator.link)
            .arg("-Wl,--gc-sections");
        link.args(&objects).arg(self.dir.join("libelbowroom_block.a"));
        run_well(link.arg("-lm").arg("-o").arg(&elf));
        elf
    }

    /// Runs a program of [`Board::compile_for_files`] on `input`, and returns what it writes.
    pub(crate) fn run_on_files(&self, elf: &Path, input: &[u8]) -> Vec<u8> {
        if self.is_avr() {
            return self.run(elf, input, &[]);
        }
        let folder = elf.parent().unwrap();
        let output = folder.join("output.bin");
        let _ = std::fs::remove_file(&output);
        std::fs::write(folder.join("input.bin"), input).unwrap();
        self.run(elf, &[], &[]);
        std::fs::read(output).unwrap()
    }

    /// Runs a program with `input` on its serial line, and returns what it sends. It has to stop by itself.
    pub(crate) fn run(&self, elf: &Path, input: &[u8], more: &[&str]) -> Vec<u8> {
        let mut simulator = Command::new("timeout");
        simulator.arg("300");
        let run = self.row.simulator().run;
        if self.is_avr() {
            simulator.arg(simavr_board()).arg(self.board).args(run);
        } else {
            simulator.args(run).args(QUIET).args(["-serial", "stdio"]);
            simulator.args(["-semihosting-config", "enable=on,target=native", "-kernel"]);
        }
        let mut child = simulator
            .current_dir(elf.parent().unwrap())
            .arg(elf)
            .args(more)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut line = child.stdin.take().unwrap();
        let input = input.to_vec();
        let feed = std::thread::spawn(move || {
            // A program may stop before it has read everything.
            let _ = line.write_all(&input);
        });
        let output = child.wait_with_output().unwrap();
        feed.join().unwrap();
        assert!(
            output.status.success(),
            "{}: {elf:?} ended with {}",
            self.name,
            output.status
        );
        output.stdout
    }
}

/// The simulator of the ATmegas, built the first time.
fn simavr_board() -> &'static Path {
    static BUILT: OnceLock<PathBuf> = OnceLock::new();
    BUILT.get_or_init(|| {
        let out = root().join("target/firmware/simavr_board");
        std::fs::create_dir_all(out.parent().unwrap()).unwrap();
        let mut compile = Command::new("cc");
        compile.args(["-O2", "-std=gnu11", "-Wall", "-Wextra", "-Werror", "-o"]);
        compile.arg(&out).arg(root().join("tests/firmware/simavr_board.c"));
        run_well(compile.args(["-lsimavr", "-lelf"]));
        out
    })
}

/// Runs a command that has to end well.
pub(crate) fn run_well(command: &mut Command) -> String {
    let output = command.output().unwrap_or_else(|error| panic!("{command:?}: {error}"));
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    let complained = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{command:?}\n{said}{complained}");
    said
}
