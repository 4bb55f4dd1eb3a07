//! The rules about the readings that evidence rests on.

use std::borrow::ToOwned as _;
use std::format;
use std::string::String;

use super::rule::Rule;
use super::sink::Sink;
use crate::robot::entry::JointEntry;
use crate::robot::source::{SourceState, Sources};

/// Digits of a SHA-256 that a message shows.
const SHOWN_DIGITS: usize = 12;

pub(super) fn rules(entry: &JointEntry, sources: &Sources, sink: &mut Sink<'_>) {
    for evidence in [entry.evidence()].into_iter().chain(entry.history()) {
        let Some(source) = &evidence.source else { continue };
        let date = evidence.date.map_or(String::new(), |date| format!(" of {date}"));
        let file = &source.file;
        match sources.state(source) {
            Some(SourceState::Changed { sha256 }) => sink.joint(
                Rule::SourceChanged,
                entry,
                format!(
                    "{file} is not the file that the evidence{date} was fitted from: its SHA-256 begins with {}, not {}",
                    begun(sha256),
                    begun(&source.sha256)
                ),
                "put the old file back, or fit the new readings into the robot file",
            ),
            Some(SourceState::Missing { reason }) => sink.joint(
                Rule::SourceMissing,
                entry,
                format!("{file}, the readings behind the evidence{date}, cannot be read: {reason}"),
                "put the file back where it was, or correct source.file",
            ),
            Some(SourceState::Unchanged) | None => {}
        }
    }
}

fn begun(hash: &str) -> String {
    hash.get(..SHOWN_DIGITS).unwrap_or(hash).to_owned()
}
