//! Nothing public disappears unnoticed: the names in the documentation that rustdoc makes of the core, beside `tests/public_api.txt`.
//!
//! `WRITE_API=1 cargo test --test public_api` writes the list anew. A line that goes away breaks somebody's program: such a change is
//! named in DEVELOPERS.md. Of types the list holds variants, fields and methods of their own, and what traits ask for; not what is
//! implemented for them.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::process::Command;

/// Pages of items: rustdoc names them `struct.Joint.html`.
const KINDS: [&str; 8] = ["struct", "enum", "trait", "fn", "constant", "type", "macro", "union"];
/// What stands on such a page with an anchor of its own.
const MEMBERS: [&str; 6] = [
    "variant",
    "structfield",
    "method",
    "tymethod",
    "associatedconstant",
    "associatedtype",
];
/// Here begins what is implemented for a type, by us or by everybody.
const FOREIGN: [&str; 3] = [
    "id=\"trait-implementations\"",
    "id=\"blanket-implementations\"",
    "id=\"implementors\"",
];

/// The names of one page, each behind that of the item.
fn members(html: &str, item: &str, names: &mut BTreeSet<String>) {
    let end = FOREIGN
        .iter()
        .filter_map(|mark| html.find(mark))
        .min()
        .unwrap_or(html.len());
    for piece in html[..end].split("id=\"").skip(1) {
        let id = piece.split('"').next().unwrap_or("");
        if let Some((kind, name)) = id.split_once('.')
            && MEMBERS.contains(&kind)
        {
            names.insert(format!("{item} {kind} {name}"));
        }
    }
}

fn pages(folder: &Path, module: &str, names: &mut BTreeSet<String>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_str().unwrap().to_owned();
        if path.is_dir() {
            names.insert(format!("{module}::{name} mod"));
            pages(&path, &format!("{module}::{name}"), names);
            continue;
        }
        let words: Vec<&str> = name.split('.').collect();
        let [kind, own, "html"] = words[..] else { continue };
        if KINDS.contains(&kind) {
            let item = format!("{module}::{own}");
            names.insert(format!("{item} {kind}"));
            members(&fs::read_to_string(&path).unwrap(), &item, names);
        }
    }
}

#[test]
fn every_public_name_is_in_the_list_and_none_is_missing() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let target = root.join("target/public-api");
    // Pages of items that went away would stay.
    let _ = fs::remove_dir_all(target.join("doc"));
    let made = Command::new(env!("CARGO"))
        .args([
            "doc",
            "--quiet",
            "--no-deps",
            "--all-features",
            "--lib",
            "-p",
            "elbowroom",
            "--target-dir",
        ])
        .arg(&target)
        .current_dir(root)
        .output()
        .unwrap();
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    let mut names = BTreeSet::new();
    pages(&target.join("doc/elbowroom"), "elbowroom", &mut names);
    assert!(names.len() > 500, "{}", names.len());

    let path = root.join("tests/public_api.txt");
    let text: String = names.iter().map(|name| format!("{name}\n")).collect();
    if std::env::var_os("WRITE_API").is_some() {
        fs::write(&path, &text).unwrap();
    }
    let written = fs::read_to_string(&path).unwrap();
    let written: BTreeSet<String> = written.lines().map(str::to_owned).collect();
    let gone: Vec<_> = written.difference(&names).collect();
    let new: Vec<_> = names.difference(&written).collect();
    assert!(
        gone.is_empty() && new.is_empty(),
        "gone: {gone:#?}\nnew: {new:#?}\nrun with WRITE_API=1 if that is meant"
    );
}
