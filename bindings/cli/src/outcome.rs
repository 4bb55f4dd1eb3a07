//! What a command says when it was not refused.

use crate::problem::Problem;
use elbowroom::Code;
use serde::Serialize;
use serde_json::Value;

/// Text for people, an object for programs, and the exit status.
pub(crate) struct Outcome {
    pub(crate) text: String,
    pub(crate) json: Value,
    /// Whether something was found: exit status 1.
    pub(crate) found: bool,
}

impl Outcome {
    pub(crate) fn new(text: String, object: &impl Serialize, found: bool) -> Result<Self, Problem> {
        let json = serde_json::to_value(object).map_err(|error| Problem::new(Code::Other, error.to_string()))?;
        Ok(Self { text, json, found })
    }
}
