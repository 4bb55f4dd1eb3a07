//! What `elbowroom.hpp` says of itself, read from its text.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use std::collections::BTreeMap;

const WRAPPER: &str = include_str!("../../../include/elbowroom.hpp");

/// What the throwing forms are made of; no program calls them.
const INNER: [&str; 10] = [
    "all",
    "asked",
    "check",
    "fail",
    "fail_lengths",
    "fail_not_finite",
    "image",
    "made",
    "same_size",
    "sided",
];

/// A function of the wrapper: its class, empty outside of all; its name; whether it may throw; whether it gives a vector.
#[derive(Debug)]
struct Call {
    class: String,
    name: String,
    throws: bool,
    vector: bool,
}

/// All public functions. A declaration begins on a line of its scope's indentation that has a bracket.
fn calls(text: &str) -> Vec<Call> {
    let text: String = text
        .lines()
        .map(|line| line.split("//").next().unwrap_or_default().trim_end().to_owned() + "\n")
        .collect();
    let (mut found, mut class, mut public) = (Vec::new(), String::new(), true);
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        let rest = &text[at..];
        at += line.len();
        let words: Vec<&str> = line.split_whitespace().collect();
        if line.starts_with("class ") || line.starts_with("struct ") || line.contains("> class ") {
            let place = words.iter().position(|word| ["class", "struct"].contains(word));
            let is_of_template = line.starts_with("template");
            let place = if is_of_template {
                words.iter().rposition(|word| *word == "class")
            } else {
                place
            };
            class = place
                .and_then(|place| words.get(place + 1))
                .unwrap()
                .trim_matches(['{', ';'])
                .to_owned();
            public = !line.starts_with("class ");
        }
        if line.starts_with("};") {
            (class, public) = (String::new(), true);
        }
        match line.trim() {
            "public:" => public = true,
            "private:" => public = false,
            _ => {}
        }
        let indent = if class.is_empty() { "" } else { "    " };
        let begins = line
            .strip_prefix(indent)
            .is_some_and(|line| line.starts_with(|c: char| c.is_alphabetic() || c == '['));
        let skipped = [
            "class ",
            "struct ",
            "template",
            "namespace",
            "using",
            "friend",
            "return",
            "#",
        ];
        if !begins || !public || skipped.iter().any(|word| line.trim_start().starts_with(word)) {
            continue;
        }
        let declared = rest
            .trim_start()
            .trim_start_matches("[[nodiscard]]")
            .trim_start_matches("[[noreturn]]");
        let Some(open) = declared.find('(') else { continue };
        if !declared.starts_with(|c: char| c.is_alphabetic() || c == ' ') || declared[..open].contains([';', '{', '='])
        {
            continue;
        }
        let head = &declared[..open];
        let name = head.split([' ', '*', '&']).next_back().unwrap_or_default();
        let mut depth = 0;
        let close = declared.find(|c| {
            depth += i32::from(c == '(') - i32::from(c == ')');
            c == ')' && depth == 0
        });
        let after = &declared[close.unwrap()..];
        let after = &after[..after.find(['{', ';']).unwrap_or(after.len())];
        // An initialiser list is no part of the declaration.
        let after = after.split(" : ").next().unwrap_or_default();
        if name.is_empty() || head.contains("operator") || after.contains("= delete") || after.contains("= default") {
            continue;
        }
        found.push(Call {
            class: class.clone(),
            name: name.to_owned(),
            throws: !after.contains("noexcept"),
            vector: head.contains("std::vector"),
        });
    }
    found
}

/// What a call is named in its form for programs without exceptions.
fn quiet_name(call: &Call) -> String {
    if call.name == call.class {
        "try_make".to_owned()
    } else {
        format!("try_{}", call.name)
    }
}

/// The throwing calls that lack such a form, one for each of them; constructors share one.
fn lacking(text: &str) -> Vec<String> {
    let calls = calls(text);
    let (mut needed, mut there) = (BTreeMap::new(), BTreeMap::new());
    for call in calls.iter().filter(|call| call.class != "Error") {
        if call.name.starts_with("try_") {
            assert!(!call.throws, "{}::{} may throw", call.class, call.name);
            *there.entry((&call.class, call.name.clone())).or_insert(0) += 1;
        } else if call.throws && !INNER.contains(&call.name.as_str()) {
            let number = needed.entry((&call.class, quiet_name(call))).or_insert(0);
            // A vector is made from what another form writes.
            *number = if call.name == call.class || call.vector {
                1.max(*number)
            } else {
                *number + 1
            };
        }
    }
    assert!(needed.len() > 90, "only {} throwing calls were found", needed.len());
    needed
        .into_iter()
        .filter(|(call, number)| there.get(call).is_none_or(|found| found < number))
        .map(|((class, name), number)| format!("{class}::{name} ({number})"))
        .collect()
}

#[test]
fn every_call_that_may_throw_has_a_form_that_does_not() {
    assert_eq!(lacking(WRAPPER), Vec::<String>::new());
}

/// Each of those forms, taken away or made throwing, is missed.
#[test]
fn a_form_that_is_missing_is_found() {
    let mut seen = 0;
    for call in calls(WRAPPER)
        .iter()
        .filter(|call| call.name.starts_with("try_") && call.class == "Fit")
    {
        let gone = WRAPPER.replace(&format!("{}(", call.name), &format!("quiet_{}(", call.name));
        // A form of its own, such as the number of a list, is missed by nobody.
        seen += usize::from(lacking(&gone).iter().any(|name| name.contains(&call.name)));
    }
    assert!(seen >= 15, "{seen}");
}
