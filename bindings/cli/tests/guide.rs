//! What the guide shows of the shell runs as written, and prints what they show.
//!
//! In the Markdown files `<!-- file: NAME -->` puts the block below it into the folder where the commands run, which begins with the
//! demo robot `heron.toml`; `<!-- exit: N -->` names the exit status of the last command below it; `<!-- output -->` says that the text
//! block below holds what the commands above print, `<!-- output: A|B -->` that it holds those lines in which A or B occurs; and
//! `<!-- picture: NAME.svg -->` that a picture beside the file is what they drew. `WRITE_GUIDE=1 cargo test -p elbowroom-cli --test guide`
//! writes outputs and pictures anew.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../..")
        .canonicalize()
        .unwrap()
}

/// Every chapter, in order of their names.
fn pages() -> Vec<PathBuf> {
    let mut pages = Vec::new();
    for folder in ["src/guide", "src/guide/gallery"] {
        let mut found: Vec<PathBuf> = fs::read_dir(root().join(folder))
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .filter(|path| path.extension().is_some_and(|ending| ending == "md"))
            .collect();
        found.sort();
        pages.extend(found);
    }
    pages
}

/// Commands of the shell tool; others are run by the tests of their own binding.
fn is_ours(block: &str) -> bool {
    block.lines().any(|line| line.starts_with("elbowroom "))
}

/// Runs the lines of a block one by one; what they print. All but the last must end with status 0.
fn run(folder: &Path, block: &str, last_status: i32) -> String {
    let tool = Path::new(env!("CARGO_BIN_EXE_elbowroom")).parent().unwrap();
    let path = format!("{}:{}", tool.display(), std::env::var("PATH").unwrap_or_default());
    let lines: Vec<&str> = block.lines().filter(|line| !line.trim().is_empty()).collect();
    let mut said = String::new();
    for (i, line) in lines.iter().enumerate() {
        assert!(
            line.starts_with("elbowroom "),
            "a block of the shell tool holds another command: {line}"
        );
        let output = Command::new("sh")
            .args(["-c", line])
            .env("PATH", &path)
            .current_dir(folder)
            .output()
            .unwrap();
        let text = String::from_utf8_lossy(&output.stdout) + String::from_utf8_lossy(&output.stderr);
        let status = if i + 1 == lines.len() { last_status } else { 0 };
        assert_eq!(output.status.code(), Some(status), "{line}\n{text}");
        said += &text;
    }
    said
}

/// The lines of an output in which one of the words occurs; all of them without words.
fn excerpt(said: &str, words: &[&str]) -> String {
    let mut shown = String::new();
    for line in said.lines().map(str::trim_end) {
        let is_shown = words.is_empty() || words.iter().any(|word| line.contains(word));
        if is_shown && (!shown.is_empty() || !line.is_empty()) {
            writeln!(shown, "{line}").unwrap();
        }
    }
    shown.truncate(shown.trim_end().len());
    shown.push('\n');
    shown
}

/// A picture as an image within a page: no style of it reaches the page.
fn image(svg: &str, alt: &str) -> String {
    let mut coded = String::new();
    for byte in svg.bytes() {
        if byte.is_ascii_alphanumeric() || b"-_.~ /:=,;()".contains(&byte) {
            coded.push(byte as char);
        } else {
            write!(coded, "%{byte:02X}").unwrap();
        }
    }
    format!("\n<img alt=\"{alt}\" src=\"data:image/svg+xml,{coded}\">\n\n")
}

fn marked<'l>(line: &'l str, mark: &str) -> Option<&'l str> {
    let inner = line.strip_prefix("<!-- ")?.strip_suffix(" -->")?;
    let rest = inner.strip_prefix(mark)?;
    if rest.is_empty() {
        return Some("");
    }
    rest.strip_prefix(": ")
}

/// Runs a page; the page with the outputs as they are now, and how many commands it has.
fn renewed(page: &Path) -> (String, usize) {
    let text = fs::read_to_string(page).unwrap();
    let folder = tempfile::tempdir().unwrap();
    fs::copy(root().join("tests/data/heron.toml"), folder.path().join("heron.toml")).unwrap();
    let (mut new, mut commands) = (String::new(), 0);
    let (mut file, mut status, mut output, mut said) = (None, 0, None, String::new());
    let mut lines = text.lines();
    while let Some(line) = lines.next() {
        writeln!(new, "{line}").unwrap();
        if let Some(name) = marked(line, "file") {
            file = Some(name);
        } else if let Some(number) = marked(line, "exit") {
            status = number.parse().unwrap();
        } else if let Some(words) = marked(line, "output") {
            output = Some(words);
        } else if let Some(name) = marked(line, "picture") {
            picture(page, &folder.path().join(name));
        }
        let Some(language) = line.strip_prefix("```") else {
            continue;
        };
        let block: String = lines
            .by_ref()
            .take_while(|line| *line != "```")
            .map(|line| format!("{line}\n"))
            .collect();
        let mut shown = block.clone();
        if let Some(name) = file.take() {
            fs::write(folder.path().join(name), &block).unwrap();
        } else if language == "sh" && is_ours(&block) {
            said = run(folder.path(), &block, std::mem::take(&mut status));
            commands += block.lines().count();
        } else if let Some(words) = output.take() {
            assert_eq!(language, "text", "{}: the output of commands", page.display());
            let words: Vec<&str> = words.split('|').filter(|word| !word.is_empty()).collect();
            shown = excerpt(&said, &words);
            assert!(
                shown.trim() != "",
                "{}: no line holds {words:?} in\n{said}",
                page.display()
            );
        }
        writeln!(new, "{shown}```").unwrap();
    }
    (new, commands)
}

/// Compares a committed picture with the one that was drawn, or writes it.
fn picture(page: &Path, drawn: &Path) {
    let svg = fs::read_to_string(drawn).unwrap();
    let committed = page.with_file_name(drawn.file_name().unwrap());
    let alt = page.file_stem().unwrap().to_str().unwrap();
    for (path, text) in [
        (committed.with_extension("html"), image(&svg, alt)),
        (committed.clone(), svg),
    ] {
        if std::env::var_os("WRITE_GUIDE").is_some() {
            fs::write(&path, &text).unwrap();
        }
        let old = fs::read_to_string(&path).unwrap_or_default();
        assert!(old == text, "{} is old; run with WRITE_GUIDE=1", path.display());
    }
}

#[test]
fn what_the_guide_shows_of_the_shell_runs_as_written() {
    let mut commands = 0;
    let mut old = Vec::new();
    for page in pages() {
        let (new, ran) = renewed(&page);
        commands += ran;
        if std::env::var_os("WRITE_GUIDE").is_some() {
            fs::write(&page, &new).unwrap();
        }
        let text = fs::read_to_string(&page).unwrap();
        for (now, shown) in new.lines().zip(text.lines()) {
            if now != shown {
                old.push(format!("{}:\n  shows  {shown}\n  prints {now}", page.display()));
                break;
            }
        }
    }
    assert!(old.is_empty(), "{}\nrun with WRITE_GUIDE=1", old.join("\n"));
    assert!(commands >= 25, "{commands} commands were found");
    println!("{commands} commands");
}
