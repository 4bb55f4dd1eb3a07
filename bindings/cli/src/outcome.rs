//! What a command says when it was not refused.

use crate::problem::Problem;
use elbowroom::Code;
use serde::Serialize;
use serde_json::Value;
use std::sync::atomic::{AtomicBool, Ordering};

/// Text for people, an object for programs, and the exit status.
pub(crate) struct Outcome {
    pub(crate) text: String,
    pub(crate) json: Value,
    /// Whether something was found: exit status 1.
    pub(crate) found: bool,
}

static IS_JSON_WANTED: AtomicBool = AtomicBool::new(false);

/// Says that the object is printed: without `--json` none is made.
pub(crate) fn want_json() {
    IS_JSON_WANTED.store(true, Ordering::Relaxed);
}

pub(crate) fn is_json_wanted() -> bool {
    IS_JSON_WANTED.load(Ordering::Relaxed)
}

impl Outcome {
    pub(crate) fn new(text: String, object: &impl Serialize, found: bool) -> Result<Self, Problem> {
        // Of millions of readings it would take more memory than the readings.
        let json = if is_json_wanted() {
            serde_json::to_value(object).map_err(|error| Problem::new(Code::Other, error.to_string()))?
        } else {
            Value::Null
        };
        Ok(Self { text, json, found })
    }
}
