//! What `elbowroom.h` offers where `double` has 32 bits.

use crate::board::root;
use std::process::{Command, Output};

/// Uses the calls on a block, in RAM and in flash.
const BLOCKS: &str = r#"#include "elbowroom.h"
elb_status both(const uint8_t *block, size_t length, uint16_t *out);
elb_status both(const uint8_t *block, size_t length, uint16_t *out) {
    elb_status status = elb_block_check(block, length);
    if (status == ELB_STATUS_OK) status = elb_block_counts(block, length, 3, 1.5f, out);
    return status == ELB_STATUS_OK ? elb_block_counts_flash(block, length, 3, 1.5f, out) : status;
}
"#;

/// Uses the joint in `double`.
const JOINT: &str = r#"#include "elbowroom.h"
void *joint(void);
void *joint(void) { return (void *)&elb_joint_new; }
"#;

fn compile(compiler: &[&str], name: &str, source: &str) -> Output {
    let work = root().join("target/firmware/header");
    std::fs::create_dir_all(&work).unwrap();
    let file = work.join(name);
    std::fs::write(&file, source).unwrap();
    let mut compile = Command::new(compiler[0]);
    compile
        .args(&compiler[1..])
        .args(["-std=c11", "-Wall", "-Wextra", "-Werror", "-fsyntax-only"]);
    compile
        .arg("-I")
        .arg(root().join("include"))
        .arg(&file)
        .output()
        .unwrap()
}

pub(crate) fn run() {
    let avr = ["avr-gcc", "-mmcu=atmega328p"];
    let said = |output: &Output| String::from_utf8_lossy(&output.stderr).replace(['‘', '’'], "'");
    let blocks = compile(&avr, "blocks.c", BLOCKS);
    assert!(blocks.status.success(), "{}", said(&blocks));
    let joint = compile(&avr, "joint.c", JOINT);
    assert!(!joint.status.success(), "an AVR is offered calls in double");
    assert!(said(&joint).contains("'elb_joint_new' undeclared"), "{}", said(&joint));
    // Nothing else is wrong with it: a computer takes it.
    let joint = compile(&["cc"], "joint.c", JOINT);
    assert!(joint.status.success(), "{}", said(&joint));
}
