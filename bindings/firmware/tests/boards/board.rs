//! Building for a board, and running there.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::OnceLock;

#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Kind {
    CortexM4f,
    Atmega328p,
}

/// A board with its library.
pub(crate) struct Board {
    pub(crate) kind: Kind,
    pub(crate) name: &'static str,
    /// Whether its library reads curves.
    pub(crate) curves: bool,
    /// Where its library and programs are put.
    pub(crate) dir: PathBuf,
}

/// The top of the project.
pub(crate) fn root() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../.."))
}

impl Board {
    /// The board with the library for straight joints; it is built the first time.
    pub(crate) fn get(kind: Kind) -> &'static Self {
        Self::built(kind, false)
    }

    /// The board with the library that reads curves as well; it is built the first time.
    pub(crate) fn with_curves(kind: Kind) -> &'static Self {
        Self::built(kind, true)
    }

    fn built(kind: Kind, curves: bool) -> &'static Self {
        static BOARDS: [OnceLock<Board>; 4] = [const { OnceLock::new() }; 4];
        BOARDS[kind as usize * 2 + usize::from(curves)].get_or_init(|| {
            let name = match (kind, curves) {
                (Kind::CortexM4f, false) => "cortex-m4f",
                (Kind::CortexM4f, true) => "cortex-m4f with curves",
                (Kind::Atmega328p, false) => "atmega328p",
                (Kind::Atmega328p, true) => "atmega328p with curves",
            };
            let mut build = Command::new(root().join("bindings/firmware/build"));
            // The test runner's own cargo must not speak for the one of the build.
            build.env_remove("RUSTUP_TOOLCHAIN").env_remove("CARGO");
            let words: Vec<&str> = name.split(" with ").collect();
            run_well(build.args(&words));
            let dir = root().join("target/firmware").join(words.join("/"));
            Self {
                kind,
                name,
                curves,
                dir,
            }
        })
    }

    /// One of the board's binutils.
    pub(crate) fn tool(&self, name: &str) -> String {
        match self.kind {
            Kind::CortexM4f => format!("arm-none-eabi-{name}"),
            Kind::Atmega328p => format!("avr-{name}"),
        }
    }

    /// Compiles `file`, of `tests/firmware` or the example's folder, with the board's own file and the library.
    ///
    /// `block`, unless empty, becomes its `heron_block.h`.
    pub(crate) fn compile(&self, program: &str, file: &str, block: &[u8], more: &[&str]) -> PathBuf {
        let work = self.dir.join(program);
        std::fs::create_dir_all(&work).unwrap();
        if !block.is_empty() {
            let source = model::block::c_source("heron_block", block, &[]).unwrap();
            std::fs::write(work.join("heron_block.h"), source).unwrap();
        }

        let example = root().join("bindings/firmware/example");
        let mut compile = match self.kind {
            Kind::CortexM4f => {
                let mut compile = Command::new("arm-none-eabi-gcc");
                compile.args(["-mcpu=cortex-m4", "-mthumb", "-mfloat-abi=hard", "-mfpu=fpv4-sp-d16"]);
                compile.args(["--specs=nano.specs", "-nostartfiles", "-T"]);
                compile
                    .arg(example.join("mps2_an386.ld"))
                    .arg(example.join("board_cortex_m4f.c"));
                compile
            }
            Kind::Atmega328p => {
                let mut compile = Command::new("avr-gcc");
                compile.arg("-mmcu=atmega328p").arg(example.join("board_atmega328p.c"));
                compile
            }
        };
        let own = root().join("tests/firmware").join(file);
        let own = if own.exists() { own } else { example.join(file) };
        let elf = work.join("program.elf");
        // Contraction of a * b + c to one rounding is what C allows and this project does not.
        compile.args(["-Os", "-std=c11", "-Wall", "-Wextra", "-Werror", "-ffp-contract=off"]);
        compile.args(["-ffunction-sections", "-fdata-sections", "-Wl,--gc-sections"]);
        compile
            .arg("-I")
            .arg(root().join("include"))
            .arg("-I")
            .arg(&example)
            .arg("-I")
            .arg(&work);
        compile.args(more).arg(own).arg(self.dir.join("libelbowroom_block.a"));
        run_well(compile.arg("-lm").arg("-o").arg(&elf));
        elf
    }

    /// Runs a program with `input` on its serial line, and returns what it sends. It has to stop by itself.
    pub(crate) fn run(&self, elf: &Path, input: &[u8], more: &[&str]) -> Vec<u8> {
        let mut simulator = Command::new("timeout");
        simulator.arg("300");
        match self.kind {
            Kind::CortexM4f => {
                simulator.args([
                    "qemu-system-arm",
                    "-M",
                    "mps2-an386",
                    "-display",
                    "none",
                    "-monitor",
                    "none",
                ]);
                simulator.args([
                    "-serial",
                    "stdio",
                    "-semihosting-config",
                    "enable=on,target=native",
                    "-kernel",
                ]);
            }
            Kind::Atmega328p => {
                simulator.arg(simavr_board());
            }
        }
        let mut child = simulator
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

/// The simulator of the ATmega328P, built the first time.
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
