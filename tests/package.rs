//! What is published: the core with its examples, and no test data.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use std::process::Command;

/// More than this, and something slipped in, bytes.
const MOST_BYTES: u64 = 3_000_000;

#[test]
fn the_package_carries_the_core_and_no_test_data() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    // The package itself, unpacked, is tested like any other; there the list is made of what is there.
    let list = Command::new(env!("CARGO"))
        .args(["package", "--list", "--allow-dirty", "--offline", "-p", "elbowroom"])
        .current_dir(root)
        .output()
        .unwrap();
    assert!(list.status.success(), "{}", String::from_utf8_lossy(&list.stderr));
    let list = String::from_utf8(list.stdout).unwrap();
    let files: Vec<&str> = list.lines().collect();
    for needed in [
        "src/lib.rs",
        "LICENSE",
        "README.md",
        "Cargo.toml",
        "tests/examples/heron.rs",
        "tests/examples/duty_cycle.rs",
    ] {
        assert!(files.contains(&needed), "{needed} is missing");
    }
    let made = ["Cargo.lock", "Cargo.toml.orig", ".cargo_vcs_info.json"];
    let kept = ["src/", "tests/examples/", "LICENSE", "README.md", "Cargo.toml"];
    let foreign: Vec<&&str> = files
        .iter()
        .filter(|file| !made.contains(file) && !kept.iter().any(|start| file.starts_with(start)))
        .collect();
    assert!(foreign.is_empty(), "{foreign:?}");
    let bytes: u64 = files
        .iter()
        .filter_map(|file| std::fs::metadata(root.join(file)).ok())
        .map(|file| file.len())
        .sum();
    assert!(bytes < MOST_BYTES, "{bytes} bytes");
}
