//! `include/elbowroom.h` is what the pinned generator writes from the sources.
//!
//! `WRITE_HEADER=1 cargo test -p elbowroom-c --test header` writes it anew.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use std::path::Path;

/// Where `double` has 32 bits there is only the library of blocks, and nothing else is offered.
const WHOLE_BEGINS: &str = "#if !defined(ELB_BLOCKS_ONLY)\n";
const WHOLE_ENDS: &str = "#endif  // ELB_BLOCKS_ONLY\n";

/// One run of the generator: the items of one source, save those excluded, without head and foot.
fn items(config: &cbindgen::Config, source: &Path, exclude: &[String]) -> String {
    let mut config = config.clone();
    config.export.exclude.extend_from_slice(exclude);
    let mut text = Vec::new();
    cbindgen::Builder::new()
        .with_src(source)
        .with_config(config)
        .generate()
        .unwrap()
        .write(&mut text);
    String::from_utf8(text).unwrap()
}

/// The names of a source that begin with `prefix`.
fn names(source: &Path, prefix: &str) -> Vec<String> {
    let text = std::fs::read_to_string(source).unwrap();
    let mut names: Vec<String> = text
        .split(|c: char| !(c.is_ascii_alphanumeric() || c == '_'))
        .filter(|word| word.starts_with(prefix))
        .map(String::from)
        .collect();
    names.sort();
    names.dedup();
    names
}

fn generated(root: &Path) -> String {
    let config = cbindgen::Config::from_file(root.join("cbindgen.toml")).unwrap();
    let source = |name: &str| root.join("src").join(name);
    let text = |name: &str| std::fs::read_to_string(source(name)).unwrap();
    let block = root.join("../firmware/src/calls.rs");

    // Statuses and version numbers stand before everything, for blocks too; their calls are in the whole library only.
    let status_calls = names(&source("status.rs"), "elb_status_");
    let version_calls = names(&source("version.rs"), "elb_version");
    let mut elsewhere = names(&block, "elb_block_");
    elsewhere.extend(names(&source("version.rs"), "ELB_VERSION_"));
    elsewhere.push("elb_status".into());
    let mut status = config.clone();
    status.export.include.push("elb_status".into());

    let parts = [
        text("manual.txt"),
        text("preamble.txt"),
        items(&config, &source("version.rs"), &version_calls),
        items(&status, &source("status.rs"), &status_calls),
        WHOLE_BEGINS.into(),
        items(&config, &source("lib.rs"), &elsewhere),
        WHOLE_ENDS.into(),
        text("blocks.txt"),
        items(&config, &block, &[]),
        text("flash.txt"),
        text("end.txt"),
    ];
    let mut header = parts.join("\n");
    while header.contains("\n\n\n") {
        header = header.replace("\n\n\n", "\n\n");
    }
    header
}

#[test]
fn the_committed_header_is_the_generated_one() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let path = root.join("../../include/elbowroom.h");
    let text = generated(root);
    if std::env::var_os("WRITE_HEADER").is_some() {
        std::fs::write(&path, &text).unwrap();
    }
    let committed = std::fs::read_to_string(&path).unwrap();
    for (number, (new, old)) in text.lines().zip(committed.lines()).enumerate() {
        assert_eq!(new, old, "line {} of the header; run with WRITE_HEADER=1", number + 1);
    }
    assert_eq!(text, committed, "run with WRITE_HEADER=1");
}
