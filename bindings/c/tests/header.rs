//! `include/elbowroom.h` and `include/elbowroom_analysis.h` are what the pinned generator writes from the sources.
//!
//! `WRITE_HEADER=1 cargo test -p elbowroom-c --test header` writes it anew.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use std::path::Path;

/// Where `double` has 32 bits there is only the library of blocks, and nothing else is offered.
const WHOLE_BEGINS: &str = "#if !defined(ELB_BLOCKS_ONLY)\n";
const WHOLE_ENDS: &str = "#endif  // ELB_BLOCKS_ONLY\n";

/// The sources of the analysis header; all others are those of the stable one.
const ANALYSIS: [&str; 7] = [
    "line",
    "curve",
    "linkage",
    "choice",
    "feedback_fit",
    "comparison",
    "positioning",
];

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

/// The types, constants and calls that a source defines.
fn defined(source: &Path) -> Vec<String> {
    let text = std::fs::read_to_string(source).unwrap();
    let mut names = Vec::new();
    for line in text.lines() {
        for keyword in ["pub struct ", "pub enum ", "pub const ", "extern \"C\" fn "] {
            let Some((_, rest)) = line.split_once(keyword) else {
                continue;
            };
            let name: String = rest
                .chars()
                .take_while(|c| c.is_ascii_alphanumeric() || *c == '_')
                .collect();
            if name.starts_with("elb_") || name.starts_with("ELB_") {
                names.push(name);
            }
        }
    }
    names
}

/// What the sources of one header define; the other header leaves it out.
fn of_header(root: &Path, analysis: bool) -> Vec<String> {
    let mut names = Vec::new();
    for entry in std::fs::read_dir(root.join("src")).unwrap() {
        let path = entry.unwrap().path();
        let stem = path.file_stem().unwrap().to_str().unwrap().to_owned();
        let is_rust = path.extension().is_some_and(|extension| extension == "rs");
        if is_rust && ANALYSIS.contains(&stem.as_str()) == analysis {
            names.extend(defined(&path));
        }
    }
    names
}

/// Sections: in the sources `/// ---- NAME ----`, a text and `/// ----` before the comment of their first item; in the header a group of
/// its own, which Doxygen and editors show by its name.
fn sections(text: &str) -> String {
    let mut out = String::new();
    let mut lines = text.lines();
    let mut is_open = false;
    while let Some(line) = lines.next() {
        let Some(name) = line
            .strip_prefix("/// ---- ")
            .and_then(|rest| rest.strip_suffix(" ----"))
        else {
            if is_open && line == "#ifdef __cplusplus" {
                out.push_str("/// @}\n\n");
                is_open = false;
            }
            out.push_str(line);
            out.push('\n');
            continue;
        };
        if is_open {
            out.push_str("/// @}\n\n");
        }
        is_open = true;
        out.push_str(&format!("/// @name {name}\n"));
        for line in lines.by_ref().take_while(|line| *line != "/// ----") {
            out.push_str(line);
            out.push('\n');
        }
        let text = out.trim_end_matches("///\n").len();
        out.truncate(text);
        // The empty line between the section and its first item.
        let _empty = lines.next();
        out.push_str("/// @{\n\n");
    }
    assert!(!is_open, "a section stays open");
    out
}

/// The parts of a header, with no more than one blank line between them.
fn joined(parts: &[String]) -> String {
    let status = "typedef int32_t elb_status;";
    let mut header =
        sections(&parts.join("\n")).replace(status, &format!("/// A number of enum elb_status.\n{status}"));
    while header.contains("\n\n\n") {
        header = header.replace("\n\n\n", "\n\n");
    }
    header
}

fn stable(root: &Path) -> String {
    let config = cbindgen::Config::from_file(root.join("cbindgen.toml")).unwrap();
    let source = |name: &str| root.join("src").join(name);
    let text = |name: &str| std::fs::read_to_string(source(name)).unwrap();
    let block = root.join("../firmware/src/calls.rs");

    // Statuses and version numbers stand before everything, for blocks too; their calls are in the whole library only.
    let status_calls = names(&source("status.rs"), "elb_status_");
    let version_calls = names(&source("version.rs"), "elb_version");
    let mut elsewhere = names(&block, "elb_block_");
    // So do the flags of what held a command back.
    let block_names = names(&block, "elb_block_");
    let flags = names(&block, "ELB_CLAMPED_");
    elsewhere.extend(flags.clone());
    elsewhere.extend(names(&source("version.rs"), "ELB_VERSION_"));
    elsewhere.push("elb_status".into());
    elsewhere.extend(of_header(root, true));
    let mut status = config.clone();
    status.export.include.push("elb_status".into());

    joined(&[
        text("manual.txt"),
        text("preamble.txt"),
        items(&config, &source("version.rs"), &version_calls),
        items(&status, &source("status.rs"), &status_calls),
        items(&config, &block, &block_names),
        WHOLE_BEGINS.into(),
        items(&config, &source("lib.rs"), &elsewhere),
        WHOLE_ENDS.into(),
        text("blocks.txt"),
        items(&config, &block, &flags),
        text("flash.txt"),
        text("end.txt"),
    ])
}

fn analysis(root: &Path) -> String {
    let config = cbindgen::Config::from_file(root.join("cbindgen.toml")).unwrap();
    let source = |name: &str| root.join("src").join(name);
    let text = |name: &str| std::fs::read_to_string(source(name)).unwrap();
    let block = root.join("../firmware/src/calls.rs");
    let mut elsewhere = names(&block, "elb_block_");
    elsewhere.extend(names(&block, "ELB_CLAMPED_"));
    elsewhere.extend(of_header(root, false));

    joined(&[
        text("analysis.txt"),
        items(&config, &source("lib.rs"), &elsewhere),
        text("analysis_end.txt"),
    ])
}

/// Compares a committed header with the generated one, or writes it.
fn compare(name: &str, text: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../include").join(name);
    if std::env::var_os("WRITE_HEADER").is_some() {
        std::fs::write(&path, text).unwrap();
    }
    let committed = std::fs::read_to_string(&path).unwrap();
    for (number, (new, old)) in text.lines().zip(committed.lines()).enumerate() {
        assert_eq!(new, old, "line {} of {name}; run with WRITE_HEADER=1", number + 1);
    }
    assert_eq!(text, committed, "{name}: run with WRITE_HEADER=1");
}

#[test]
fn the_committed_header_is_the_generated_one() {
    compare("elbowroom.h", &stable(Path::new(env!("CARGO_MANIFEST_DIR"))));
}

#[test]
fn the_committed_analysis_header_is_the_generated_one() {
    compare("elbowroom_analysis.h", &analysis(Path::new(env!("CARGO_MANIFEST_DIR"))));
}

/// What to do about a status stands in the manual for each of them.
#[test]
fn the_manual_says_what_to_do_about_each_status() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let manual = std::fs::read_to_string(root.join("src/manual.txt")).unwrap();
    let (_, table) = manual.split_once("What to do about a status").unwrap();
    let header = stable(root);
    let (_, rest) = header.split_once("enum elb_status\n").unwrap();
    let (statuses, _) = rest.split_once("};").unwrap();
    let mut n = 0;
    for name in statuses.lines().filter_map(|line| line.trim().split(" = ").next()) {
        if name.starts_with("ELB_STATUS_") {
            n += 1;
            let is_named = table
                .split(|c: char| !(c.is_ascii_alphanumeric() || c == '_'))
                .any(|word| word == name);
            assert!(is_named, "{name} is missing in the table of bindings/c/src/manual.txt");
        }
    }
    assert!(n > 50, "{n} statuses");
}

/// The table "I want to ..." names calls that there are, and every call by which something begins.
#[test]
fn the_tables_of_tasks_are_right_and_complete() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let words = |text: &str| -> Vec<String> {
        text.split(|c: char| !(c.is_ascii_alphanumeric() || c == '_'))
            .filter(|word| word.starts_with("elb_"))
            .map(str::to_owned)
            .collect()
    };
    let headers = stable(root) + &analysis(root);
    let is_call = |name: &str| headers.contains(&format!("{name}("));
    let mut named = Vec::new();
    for file in ["manual.txt", "analysis.txt"] {
        let manual = std::fs::read_to_string(root.join("src").join(file)).unwrap();
        let (_, table) = manual.split_once("# I want to ...").unwrap();
        named.extend(words(
            table.split_once("///\n/// |").unwrap().1.split_once("///\n").unwrap().0,
        ));
    }
    for name in &named {
        assert!(is_call(name), "{name} of the table is not a call");
    }
    let begins = [
        "_new",
        "_new_bench",
        "_init",
        "_load",
        "_parse",
        "_save",
        "_check",
        "_many",
        "_limits_into",
        "_compare",
    ];
    for name in words(&headers) {
        if is_call(&name) && begins.iter().any(|end| name.ends_with(end)) {
            assert!(
                named.contains(&name),
                "{name} is missing in the table of bindings/c/src/manual.txt or analysis.txt"
            );
        }
    }
    assert!(named.len() > 100, "{} calls", named.len());
}

/// A call or type of one header only, and each name that the sources define in one of them.
#[test]
fn each_name_stands_in_one_header() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let headers = [stable(root), analysis(root)];
    let declares = |header: &str, name: &str| {
        let code: Vec<&str> = header.lines().filter_map(|line| line.split("//").next()).collect();
        let code = code.join("\n");
        [
            format!(" {name}("),
            format!("*{name}("),
            format!("#define {name} "),
            format!("}} {name};"),
            format!("typedef struct {name} {name};"),
            format!("typedef int32_t {name};"),
        ]
        .iter()
        .any(|form| code.contains(form.as_str()))
    };
    for (of_analysis, own, other) in [(false, &headers[0], &headers[1]), (true, &headers[1], &headers[0])] {
        for name in of_header(root, of_analysis) {
            if name.starts_with("elb_test_") {
                continue;
            }
            assert!(declares(own, &name), "{name} is missing");
            assert!(!declares(other, &name), "{name} stands in the wrong header");
        }
    }
}
