//! C++ and sketches: the header from C++, and the folder that sketch-based tools take as a library.

use crate::board::{Board, root, rows, run_well};
use crate::heron;
use model::block::{c_source, to_vec};
use std::path::{Path, PathBuf};
use std::process::Command;

/// The core of AVR boards that sketches are compiled with: Debian's arduino-core-avr.
const CORE: &str = "/usr/share/arduino/hardware/arduino/avr";

/// A C++ program over every call answers on a board as the core does here.
pub(crate) fn cpp(board: &Board) {
    let joint = heron::wing_left();
    let image = to_vec(&[(3, &joint)]).unwrap();
    let bits = |value: f32| value.to_bits().to_string();
    let code = model::Code::UnknownChannel.number();
    let wanted = [
        "0".to_owned(),
        "0".to_owned(),
        "283".to_owned(),
        "0".to_owned(),
        "1".to_owned(),
        bits(joint.pulse_us(10.0).unwrap().value),
        bits(joint.rest()),
        bits(40.0),
        bits(joint.command_from_reading(500.0).unwrap()),
        bits(joint.command_from_counts(283)),
        bits(joint.command_from_pulse_us(1400.0)),
        bits(joint.command_from_drive(80.0)),
        code.to_string(),
    ];
    let elf = board.compile("sketch", "sketch.cpp", &image, &["-fno-exceptions"]);
    let answered = String::from_utf8(board.run(&elf, b"", &[])).unwrap();
    let answered: Vec<&str> = answered.lines().collect();
    assert_eq!(answered, wanted, "{}", board.name);
    println!("{}: C++ gets {} answers right", board.name, wanted.len());
}

/// The block that the sketch brings is that of the examples' joint. `WRITE_BLOCK=1` writes it anew.
pub(crate) fn block_of_the_sketch() {
    let image = to_vec(&[(3, &heron::wing_left())]).unwrap();
    let source = c_source("heron_block", &image, &[(3, "wing_left")]).unwrap();
    let path = root().join("bindings/firmware/sketch/examples/answer/heron_block.h");
    if std::env::var_os("WRITE_BLOCK").is_some() {
        std::fs::write(&path, &source).unwrap();
    }
    assert!(
        std::fs::read_to_string(&path).unwrap() == source,
        "run with WRITE_BLOCK=1"
    );
}

/// Packs everything, and returns the folder of the sketch library.
pub(crate) fn package() -> PathBuf {
    let mut package = Command::new(root().join("bindings/firmware/package"));
    print!(
        "{}",
        run_well(package.env_remove("RUSTUP_TOOLCHAIN").env_remove("CARGO"))
    );
    let folder = root().join("target/firmware/package/elbowroom");
    for row in rows() {
        for name in row.folders {
            let archive = folder.join("src").join(name).join("libelbowroom_block.a");
            assert!(archive.is_file(), "{} has no {archive:?}", row.name);
        }
    }
    let properties = std::fs::read_to_string(folder.join("library.properties")).unwrap();
    for key in [
        "name",
        "version",
        "author",
        "maintainer",
        "sentence",
        "paragraph",
        "category",
        "url",
        "architectures",
    ] {
        let line = properties
            .lines()
            .find_map(|line| line.strip_prefix(&format!("{key}=")));
        assert!(
            line.is_some_and(|value| !value.is_empty() && !value.contains('@')),
            "{key}: {line:?}"
        );
    }
    let version = format!("version={}", env!("CARGO_PKG_VERSION"));
    assert!(properties.lines().any(|line| line == version), "{properties}");
    folder
}

/// The steps that sketch-based tools take for an AVR (platform.txt of the core): the core, the sketch, the library's archive. The
/// sketch then answers in the simulator.
pub(crate) fn sketch(library: &Path, board: &Board, variant: &str, define: &str) {
    let work = board.dir.join("as_sketch");
    std::fs::create_dir_all(&work).unwrap();
    let core = Path::new(CORE);
    let compile = |tool: &str, source: &Path, object: &Path| {
        let mut compile = Command::new(tool);
        compile.args([
            "-c",
            "-g",
            "-Os",
            "-w",
            "-ffunction-sections",
            "-fdata-sections",
            "-flto",
        ]);
        if tool == "avr-g++" {
            // Debian's avr-gcc 5.4 keeps this macro from C++; later ones do not.
            compile.arg("-DDECIMAL_DIG=__DECIMAL_DIG__");
            compile.args([
                "-std=gnu++11",
                "-fpermissive",
                "-fno-exceptions",
                "-fno-threadsafe-statics",
            ]);
        } else {
            compile.args(["-std=gnu11", "-fno-fat-lto-objects"]);
        }
        compile.arg(format!("-mmcu={}", board.board));
        compile.args(["-DF_CPU=16000000L", "-DARDUINO=10819", "-DARDUINO_ARCH_AVR", define]);
        compile.arg("-I").arg(core.join("cores/arduino"));
        compile.arg("-I").arg(core.join("variants").join(variant));
        compile.arg("-I").arg(library.join("src"));
        run_well(compile.arg(source).arg("-o").arg(object));
    };
    let mut objects = Vec::new();
    for entry in std::fs::read_dir(core.join("cores/arduino")).unwrap() {
        let source = entry.unwrap().path();
        let tool = match source.extension().and_then(|extension| extension.to_str()) {
            Some("c") => "avr-gcc",
            Some("cpp") => "avr-g++",
            _ => continue,
        };
        let object = work.join(source.file_name().unwrap()).with_extension("core.o");
        compile(tool, &source, &object);
        objects.push(object);
    }
    let archive = work.join("core.a");
    let _ = std::fs::remove_file(&archive);
    run_well(Command::new("avr-gcc-ar").arg("rcs").arg(&archive).args(&objects));

    // What the tools make of a sketch: the header of the core before it, and a C++ file in the end.
    let example = library.join("examples/answer");
    let text = std::fs::read_to_string(example.join("answer.ino")).unwrap();
    let source = work.join("answer.ino.cpp");
    std::fs::write(&source, format!("#include <Arduino.h>\n{text}")).unwrap();
    std::fs::copy(example.join("heron_block.h"), work.join("heron_block.h")).unwrap();
    let object = work.join("answer.o");
    compile("avr-g++", &source, &object);

    let elf = work.join("answer.elf");
    let mut link = Command::new("avr-gcc");
    link.args(["-w", "-Os", "-g", "-flto", "-fuse-linker-plugin", "-Wl,--gc-sections"]);
    link.arg(format!("-mmcu={}", board.board))
        .arg("-o")
        .arg(&elf)
        .arg(&object);
    link.arg("-L")
        .arg(library.join("src").join(board.board))
        .arg("-lelbowroom_block");
    run_well(link.arg(&archive).arg("-lm"));

    let answered = String::from_utf8(board.run(&elf, b"3 10\n3 60.5\n1 10\n", &[])).unwrap();
    let lines: Vec<&str> = answered.lines().collect();
    let refused = format!("refused {}", model::Code::UnknownChannel.number());
    let most = heron::wing_left().counts(60.0).unwrap().value;
    assert_eq!(
        lines,
        ["ready", "283", &format!("{most} clamped"), &refused],
        "{}",
        board.name
    );
    println!("{}: the sketch answers", board.name);
}
