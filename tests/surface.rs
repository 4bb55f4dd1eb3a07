//! Nothing public without a test: every `pub fn` of the core and every error code is named by some test or doc example.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use elbowroom::Code;
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

fn rust_files(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            rust_files(&path, found);
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            found.push(path);
        }
    }
}

/// The words of a text, as far as names of code are concerned.
fn words(text: &str) -> impl Iterator<Item = &str> {
    text.split(|c: char| !(c.is_alphanumeric() || c == '_'))
        .filter(|word| !word.is_empty())
}

/// Shipped code, and what tests it: test modules at a file's end, `tests.rs` files, doc examples, and the tests folder.
fn code_and_tests() -> (String, String) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let (mut code, mut tests) = (String::new(), String::new());
    let mut files = Vec::new();
    rust_files(&root.join("src"), &mut files);
    for file in files {
        let text = fs::read_to_string(&file).unwrap();
        if file.file_name().is_some_and(|name| name == "tests.rs") {
            tests += &text;
            continue;
        }
        let (shipped, tested) = text.split_once("#[cfg(test)]\nmod tests {").unwrap_or((&text, ""));
        tests += tested;
        let mut in_example = false;
        for line in shipped.lines() {
            let trimmed = line.trim_start();
            let Some(doc) = trimmed.strip_prefix("///").or(trimmed.strip_prefix("//!")) else {
                in_example = false;
                if !trimmed.starts_with("//") {
                    code += line;
                    code.push('\n');
                }
                continue;
            };
            if doc.trim_start().starts_with("```") {
                in_example = !in_example;
            } else if in_example {
                tests += doc;
                tests.push('\n');
            }
        }
    }
    let mut files = Vec::new();
    rust_files(&root.join("tests"), &mut files);
    for file in files {
        if !file.ends_with("surface.rs") {
            tests += &fs::read_to_string(file).unwrap();
        }
    }
    (code, tests)
}

#[test]
fn every_public_function_is_named_by_a_test() {
    let (code, tests) = code_and_tests();
    let tested: BTreeSet<&str> = words(&tests).collect();
    let public: BTreeSet<&str> = code
        .lines()
        .filter_map(|line| {
            let line = line.trim_start();
            let line = line.strip_prefix("pub const fn ").or(line.strip_prefix("pub fn "))?;
            words(line).next()
        })
        .collect();
    assert!(public.len() > 40, "only {} public functions found", public.len());
    let untested: Vec<_> = public.difference(&tested).collect();
    assert!(untested.is_empty(), "no test names {untested:?}");
}

#[test]
fn every_error_code_is_named_by_a_test() {
    let (_, tests) = code_and_tests();
    let tested: BTreeSet<&str> = words(&tests).collect();
    // Up to 9 they are the bindings' own, provoked in the tests of C and Python.
    let untested: Vec<_> = Code::ALL
        .iter()
        .filter(|code| code.number() > 9 && !tested.contains(format!("{code:?}").as_str()))
        .collect();
    assert!(untested.is_empty(), "no test names {untested:?}");
}

#[test]
fn codes_rise_and_names_are_the_variants() {
    for pair in Code::ALL.windows(2) {
        assert!(pair[0].number() < pair[1].number());
    }
    for code in Code::ALL {
        let mut kebab = String::new();
        for c in format!("{code:?}").chars() {
            if c.is_uppercase() && !kebab.is_empty() {
                kebab.push('-');
            }
            kebab.extend(c.to_lowercase());
        }
        assert_eq!(code.name(), kebab);
    }
}

#[test]
fn no_elementary_function_of_the_platform_is_called() {
    // Their last bits differ between platforms; `math` has them from one library. Digits to print are no values.
    let allowed = [("src/robot/from_fit.rs", "log10")];
    let names = [
        "sin", "cos", "tan", "sin_cos", "asin", "acos", "atan", "atan2", "sinh", "cosh", "tanh", "ln", "ln_1p", "log",
        "log2", "log10", "exp", "exp2", "exp_m1", "powf", "cbrt", "hypot",
    ];
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = Vec::new();
    rust_files(&root.join("src"), &mut files);
    let (mut found, mut used) = (Vec::new(), BTreeSet::new());
    for file in files {
        let text = fs::read_to_string(&file).unwrap();
        let name = file.strip_prefix(root).unwrap().to_str().unwrap().replace('\\', "/");
        if name == "src/math.rs" || name.ends_with("/tests.rs") {
            continue;
        }
        let shipped = text.split("#[cfg(test)]\nmod tests {").next().unwrap();
        for (number, line) in shipped.lines().enumerate() {
            let line = line.split("//").next().unwrap();
            for function in names {
                // As a method, or by its path: `x.ln()`, `f64::ln(x)`, `.map(f64::ln)`.
                let called = [
                    format!(".{function}("),
                    format!("f64::{function}"),
                    format!("f32::{function}"),
                ];
                let is_called = called.iter().any(|call| {
                    line.match_indices(call.as_str()).any(|(at, _)| {
                        let next = line[at + call.len()..].chars().next();
                        call.ends_with('(') || !next.is_some_and(|c| c.is_alphanumeric() || c == '_')
                    })
                });
                if is_called && allowed.contains(&(name.as_str(), function)) {
                    used.insert(function);
                } else if is_called {
                    found.push(format!("{name}:{} calls {function}", number + 1));
                }
            }
        }
    }
    assert!(found.is_empty(), "use `crate::math` instead: {found:?}");
    assert_eq!(used.len(), allowed.len(), "an exception that nothing needs");
}
