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

/// One public function: the type it belongs to, if any, its name, and whether it takes `self`.
type Function = (Option<String>, String, bool);

/// The public functions of shipped code.
fn public_functions(code: &str) -> BTreeSet<Function> {
    let (mut found, mut of, mut in_macro) = (BTreeSet::new(), None, false);
    let lines: Vec<&str> = code.lines().collect();
    for (number, line) in lines.iter().enumerate() {
        let written = line.trim_start().trim_start_matches("$(");
        if line.starts_with("impl") || (in_macro && written.starts_with("impl ")) {
            // `impl<T: Real> Joint<T> {`: what stands after the first angle brackets, up to the next.
            let head = written.trim_start_matches("impl");
            let head = match head.strip_prefix('<') {
                Some(rest) => {
                    let mut depth = 1;
                    let end = rest.find(|c| {
                        depth += i32::from(c == '<') - i32::from(c == '>');
                        depth == 0
                    });
                    &rest[end.map_or(0, |end| end + 1)..]
                }
                None => head,
            };
            of = words(head).next().map(str::to_owned);
        } else if line.starts_with('}') || line.starts_with("macro_rules!") {
            of = None;
            in_macro = line.starts_with("macro_rules!");
        }
        let text = line.trim_start();
        let Some(rest) = text.strip_prefix("pub const fn ").or(text.strip_prefix("pub fn ")) else {
            continue;
        };
        // What a macro names has its names where the macro is called.
        if rest.starts_with('$') {
            continue;
        }
        let Some(name) = words(rest).next() else { continue };
        // The arguments may stand on the lines below.
        let whole: String = lines[number..].iter().take(3).copied().collect();
        let arguments = whole
            .split_once('(')
            .map_or("", |(_, arguments)| arguments.trim_start());
        let first: String = arguments.chars().take_while(|c| *c != ',' && *c != ')').collect();
        let takes_self = words(&first).any(|word| word == "self");
        let of = if line.starts_with("pub") { None } else { of.clone() };
        found.insert((of, name.to_owned(), takes_self));
    }
    found
}

/// The code of tests without comments and texts, in which a name says nothing.
fn called_text(tests: &str) -> String {
    let mut text = String::new();
    for line in tests.lines().filter(|line| !line.trim_start().starts_with("//")) {
        // Every second part stands between quotes.
        for part in line.replace("\\\"", "").split('"').step_by(2) {
            text.push_str(part);
            text.push('_');
        }
        text.push('\n');
    }
    text
}

/// Whether the tests call a function in the way that belongs to it: `.name(` for a method, `Type::name` for what makes a value,
/// `name(` for a function by itself.
fn is_called(tests: &str, (of, name, takes_self): &Function) -> bool {
    let mut places = tests.match_indices(name.as_str());
    let ident = |c: char| c.is_alphanumeric() || c == '_';
    places.any(|(at, _)| {
        let (before, after) = (&tests[..at], &tests[at + name.len()..]);
        if before.ends_with(ident) || after.starts_with(ident) {
            return false;
        }
        let called = after.starts_with('(') || after.starts_with("::<");
        match (of, takes_self) {
            (Some(_), true) => (before.trim_end().ends_with('.') && called) || before.ends_with("::"),
            (Some(_), false) => before.ends_with("::"),
            (None, _) => {
                (called || !after.starts_with(':')) && !before.trim_end().ends_with('.') && !before.ends_with("fn ")
            }
        }
    })
}

#[test]
fn every_public_function_is_called_by_a_test() {
    let (code, tests) = code_and_tests();
    let (public, tests) = (public_functions(&code), called_text(&tests));
    assert!(public.len() > 300, "only {} public functions found", public.len());
    let mut untested: Vec<String> = Vec::new();
    for function in public.iter().filter(|function| !is_called(&tests, function)) {
        untested.push(match function {
            (Some(of), name, _) => format!("{of}::{name}"),
            (None, name, _) => name.clone(),
        });
    }
    untested.sort();
    assert!(untested.is_empty(), "no test calls {untested:?}");
}

#[test]
fn what_nobody_calls_is_seen() {
    let code = "impl<T: Real> Joint<T> {\n    pub fn new(record: R) -> Self {\n    pub fn travel(&self) -> T {\n    }\n}\npub fn check(robot: &Robot) {\n}\n";
    let public = public_functions(code);
    let names: Vec<&str> = public.iter().map(|(_, name, _)| name.as_str()).collect();
    assert_eq!(names, ["check", "new", "travel"]);
    let written = "macro_rules! rules {\n        impl Rule {\n            pub fn name(self) -> &str {\n        }\n}\npub fn check(robot: &Robot) {\n}\n";
    let of = |(of, name, takes_self): &Function| format!("{of:?} {name} {takes_self}");
    let written: Vec<String> = public_functions(written).iter().map(of).collect();
    assert_eq!(written, ["None check false", "Some(\"Rule\") name true"]);
    let missed = |tests: &str| -> Vec<&str> {
        let tests = called_text(tests);
        public
            .iter()
            .filter(|function| !is_called(&tests, function))
            .map(|(_, name, _)| name.as_str())
            .collect()
    };
    assert!(missed("let joint = Joint::new(record);\ncheck(&robot);\njoint\n    .travel();").is_empty());
    // A word in a text, in a comment, as a variable, a field or part of another word.
    assert_eq!(
        missed("// check(robot)\nlet travel = \"new(\"; renew(x); joint.travel; is_check(x);"),
        ["check", "new", "travel"]
    );
    assert_eq!(missed("fn check(x) { new(y) }"), ["check", "new", "travel"]);
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

/// A comment that lost its space or its mark: `//report` amid `//!` is left out of the documentation, and the sentence breaks off.
fn comments_without_space(text: &str) -> Vec<usize> {
    text.lines()
        .enumerate()
        .filter(|(_, line)| {
            let rest = line.trim_start().strip_prefix("//");
            let rest = rest.map(|rest| rest.strip_prefix(['/', '!']).unwrap_or(rest));
            rest.is_some_and(|rest| !rest.is_empty() && !rest.starts_with([' ', '/']))
        })
        .map(|(number, _)| number + 1)
        .collect()
}

#[test]
fn every_comment_begins_with_a_space() {
    let text = "//! Takes a\n//report.\n///of it\n    //!it\n// so\n//\n//!\n///\nlet x = a\n    / b;\n";
    assert_eq!(comments_without_space(text), [2, 3, 4]);
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = Vec::new();
    for folder in ["src", "tests", "benches", "bindings"] {
        rust_files(&root.join(folder), &mut files);
    }
    let mut found = Vec::new();
    for file in files {
        // Of packages only what is written by hand.
        if file.components().any(|part| part.as_os_str() == "target") {
            continue;
        }
        let text = fs::read_to_string(&file).unwrap();
        let name = file.strip_prefix(root).unwrap().display().to_string();
        found.extend(
            comments_without_space(&text)
                .iter()
                .map(|line| format!("{name}:{line}")),
        );
    }
    assert!(
        found.is_empty(),
        "comments without a space after their slashes: {found:#?}"
    );
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
