//! Ten million hostile images on this machine, under AddressSanitizer.

use crate::board::{root, run_well};
use std::process::Command;

pub(crate) fn run() {
    let target = root().join("target/firmware/asan");
    let mut build = Command::new("cargo");
    build.current_dir(root()).env("RUSTC_BOOTSTRAP", "1");
    // Rust's own code has to be instrumented: red zones around an image catch only reads that look at them.
    build.env("RUSTFLAGS", "-Zsanitizer=address");
    build.args([
        "build",
        "--quiet",
        "--locked",
        "-p",
        "elbowroom-firmware",
        "--lib",
        "--features",
        "curves",
        "--release",
    ]);
    build
        .args(["--target", "x86_64-unknown-linux-gnu", "--target-dir"])
        .arg(&target);
    run_well(&mut build);

    let attack = target.join("attack");
    let mut compile = Command::new("gcc");
    compile.args([
        "-O1",
        "-g",
        "-std=c11",
        "-Wall",
        "-Wextra",
        "-Werror",
        "-fsanitize=address",
        "-I",
    ]);
    compile
        .arg(root().join("include"))
        .arg(root().join("tests/firmware/attack.c"));
    compile.arg(target.join("x86_64-unknown-linux-gnu/release/libelbowroom_block.a"));
    run_well(compile.args(["-lm", "-lpthread", "-ldl", "-o"]).arg(&attack));

    // The tool sees a read outside where there is one.
    let seen = Command::new(&attack).arg("self-test").output().unwrap();
    let report = String::from_utf8_lossy(&seen.stderr);
    assert!(
        !seen.status.success() && report.contains("heap-buffer-overflow"),
        "{report}"
    );
    print!("{}", run_well(Command::new(&attack).arg("10000000")));
}
