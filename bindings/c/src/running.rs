//! The bring-up behind a handle, whichever of the two it is.

use crate::handle::Handle;
use crate::refusal::Refusal;
use model::bring_up::{Action, Bench, BringUpError, Caution, Outcome, Report, Session};
use std::fmt::Write;

/// A bring-up. It changes with each report: one thread at a time.
#[derive(Debug)]
pub struct elb_session {
    pub(crate) session: Running,
    /// Where the next report is tried, so that nothing is left half done whatever happens, in memory that is there already.
    pub(crate) trial: Running,
}

impl From<Running> for elb_session {
    fn from(session: Running) -> Self {
        let mut trial = session.clone();
        trial.copy_from(&session);
        Self { session, trial }
    }
}

impl Handle for elb_session {
    const WHAT: &'static str = "session";
}

/// The bring-up behind a handle: of a program that reads, or of a person who types.
#[derive(Debug, Clone)]
#[expect(clippy::large_enum_variant, reason = "one of these exists for each handle")]
pub(crate) enum Running {
    Session(Session),
    Bench(Bench),
}

impl Running {
    pub(crate) fn next(&self) -> Action {
        match self {
            Self::Session(session) => session.next(),
            Self::Bench(bench) => bench.next(),
        }
    }

    pub(crate) fn report(&mut self, report: Report) -> Result<(), BringUpError> {
        match self {
            Self::Session(session) => session.report(report),
            Self::Bench(bench) => bench.report(report),
        }
    }

    /// Becomes equal to another; a session does so in the memory that it has.
    pub(crate) fn copy_from(&mut self, other: &Self) {
        match (self, other) {
            (Self::Session(session), Self::Session(other)) => session.copy_from(other),
            (session, other) => *session = other.clone(),
        }
    }

    pub(crate) fn stop(&mut self) {
        match self {
            Self::Session(session) => session.stop(),
            Self::Bench(bench) => bench.stop(),
        }
    }

    pub(crate) fn outcome(&self) -> Option<&Outcome> {
        match self {
            Self::Session(session) => session.outcome(),
            Self::Bench(bench) => bench.outcome(),
        }
    }

    /// What must be said before the next action.
    pub(crate) fn cautions(&self) -> &'static [Caution] {
        match self {
            Self::Session(session) => session.next().cautions(),
            Self::Bench(bench) => bench.cautions(),
        }
    }

    /// Whether a read may be answered by "again".
    pub(crate) fn reads_again(&self) -> bool {
        matches!(self, Self::Bench(_))
    }

    /// What the person is to read now, line by line.
    pub(crate) fn words(&self) -> String {
        let bench = match self {
            Self::Session(session) => return words(session),
            Self::Bench(bench) => bench,
        };
        let prompt = bench.prompt();
        let mut text = String::new();
        // Never an error: a `String` takes whatever fits in memory.
        for caution in &prompt.cautions {
            let _ = writeln!(text, "{}", caution.sentence);
        }
        if let Some(notice) = &prompt.notice {
            let _ = writeln!(text, "{notice}");
        }
        text.push_str(&prompt.sentence);
        text
    }

    pub(crate) fn json(&self) -> Result<String, Refusal> {
        match self {
            Self::Session(session) => serde_json::to_string(session),
            Self::Bench(bench) => serde_json::to_string(bench),
        }
        .map_err(|error| Refusal::Fault(error.to_string()))
    }

    /// Reads what `json` wrote, and lets the drive come back to where it was.
    pub(crate) fn parse(text: &str) -> Result<Self, Refusal> {
        let refused = |error: serde_json::Error| Refusal::Saved(error.to_string());
        // The one field that tells them apart.
        let read: serde_json::Value = serde_json::from_str(text).map_err(refused)?;
        if read.get("procedure").is_some() {
            let mut bench: Bench = serde_json::from_str(text).map_err(refused)?;
            bench.resume();
            return Ok(Self::Bench(bench));
        }
        let mut session: Session = serde_json::from_str(text).map_err(refused)?;
        session.resume();
        Ok(Self::Session(session))
    }
}

/// What the person at the joint is to read now, line by line: cautions, what contradicts the last answer, the question;
/// at the end the verdict.
pub(crate) fn words(session: &Session) -> String {
    let mut text = String::new();
    let action = session.next();
    // Never an error: a `String` takes whatever fits in memory.
    for caution in action.cautions() {
        let _ = writeln!(text, "{caution}");
    }
    if let Action::Ask { doubt, .. } = action {
        if let Some(doubt) = doubt {
            let _ = writeln!(text, "{doubt}");
        }
        text.push_str(&session.prompt().sentence);
    }
    if let Some(outcome) = session.outcome() {
        let _ = write!(text, "{}", outcome.verdict);
    }
    text
}
