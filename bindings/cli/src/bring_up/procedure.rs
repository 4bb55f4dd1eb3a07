//! The two procedures of a bring-up, as the front end sees them: few typed readings, or a sweep of many.

use crate::problem::Problem;
use elbowroom::bring_up::{
    Action, Answer, Bench, BenchReading, BringUpError, Outcome, Prompt, Question, Report, Session, Side,
};
use elbowroom::fit::Approach;
use serde::{Deserialize, Serialize};

/// A reading as it is shown and written.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub(crate) struct Taken {
    /// Drive angle, deg; absent where the joint was held by hand.
    pub(crate) drive: Option<f64>,
    pub(crate) toward: Side,
    pub(crate) value: f64,
    pub(crate) is_used: bool,
}

impl Taken {
    /// The side from which its place was reached.
    pub(crate) const fn approach(&self) -> Approach {
        Approach::moving_to(self.toward)
    }
}

impl From<&BenchReading> for Taken {
    fn from(reading: &BenchReading) -> Self {
        Self {
            drive: reading.drive,
            toward: reading.toward,
            value: reading.value,
            is_used: reading.is_used,
        }
    }
}

/// A sweep: its session, and what can be shown and taken back of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Sweep {
    pub(super) session: Session,
    /// The last reading of each place, also of the searches.
    seen: Vec<Taken>,
    /// Where the drive was sent last, and which way that was.
    stands: Option<(f64, Side)>,
    /// As it stood before each of the last answers. Not saved: it is as long as the session itself.
    #[serde(skip)]
    earlier: Vec<Earlier>,
}

#[derive(Debug, Clone, PartialEq)]
struct Earlier {
    session: Session,
    seen: usize,
    stands: Option<(f64, Side)>,
}

impl Earlier {
    /// Whether it waits with the drive off the joint, at another step than the one that takes it off.
    fn is_detached(&self) -> bool {
        let detaches = matches!(
            self.session.next(),
            Action::Ask {
                question: Question::DetachDrive,
                ..
            }
        );
        self.session.is_held() && !detaches
    }
}

impl Sweep {
    /// Answers that can be taken back.
    const MOST_EARLIER: usize = 32;

    fn report(&mut self, report: Report) -> Result<(), BringUpError> {
        let before = Earlier {
            session: self.session.clone(),
            seen: self.seen.len(),
            stands: self.stands,
        };
        let action = self.session.next();
        self.session.report(report)?;
        match (action, report) {
            (Action::MoveTo { drive, .. }, _) => {
                let toward = match self.stands {
                    Some((from, _)) if drive < from => Side::Lower,
                    Some((from, toward)) if drive == from => toward,
                    _ => Side::Upper,
                };
                self.stands = Some((drive, toward));
            }
            (Action::Read, Report::Reading { value, .. }) if !before.session.is_held() => {
                if let Some((drive, toward)) = self.stands {
                    let taken = Taken {
                        drive: Some(drive),
                        toward,
                        value,
                        is_used: true,
                    };
                    match self.seen.last_mut() {
                        Some(last) if last.drive == Some(drive) && last.toward == toward => *last = taken,
                        _ => self.seen.push(taken),
                    }
                }
            }
            (Action::Ask { question, .. }, _) => {
                // A sensor that is set reads otherwise: what it read before belongs to no picture.
                if matches!(question, Question::SetSensor { .. }) {
                    self.seen.clear();
                }
                self.earlier.push(before);
                if question == Question::AttachDrive && matches!(report, Report::Answered { answer: Answer::Done }) {
                    // With the drive fixed, what was done without it is taken back as a whole.
                    self.earlier.retain(|earlier| !earlier.is_detached());
                }
                let over = self.earlier.len().saturating_sub(Self::MOST_EARLIER);
                self.earlier.drain(..over);
            }
            _ => {}
        }
        Ok(())
    }

    fn undo(&mut self) -> bool {
        let Some(earlier) = self.earlier.pop() else {
            return false;
        };
        self.session = earlier.session;
        self.seen.truncate(earlier.seen);
        self.stands = earlier.stands;
        self.session.resume();
        true
    }
}

/// A bring-up that goes on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Procedure {
    /// Few readings, each typed by a person.
    Bench(Box<Bench>),
    /// Many readings of the joint's own sensor, taken by a program.
    Sweep(Box<Sweep>),
}

impl Procedure {
    pub(crate) fn sweep(session: Session) -> Self {
        Self::Sweep(Box::new(Sweep {
            session,
            seen: Vec::new(),
            stands: None,
            earlier: Vec::new(),
        }))
    }

    pub(crate) fn outcome(&self) -> Option<&Outcome> {
        match self {
            Self::Bench(bench) => bench.outcome(),
            Self::Sweep(sweep) => sweep.session.outcome(),
        }
    }

    pub(crate) fn next(&self) -> Action {
        match self {
            Self::Bench(bench) => bench.next(),
            Self::Sweep(sweep) => sweep.session.next(),
        }
    }

    pub(crate) fn prompt(&self) -> Prompt {
        match self {
            Self::Bench(bench) => bench.prompt(),
            Self::Sweep(sweep) => sweep.session.prompt(),
        }
    }

    pub(crate) fn parse(&self, typed: &str) -> Result<Report, BringUpError> {
        match self {
            Self::Bench(bench) => bench.parse(typed),
            Self::Sweep(sweep) => sweep.session.parse(typed),
        }
    }

    pub(crate) fn report(&mut self, report: Report) -> Result<(), BringUpError> {
        match self {
            Self::Bench(bench) => bench.report(report),
            Self::Sweep(sweep) => sweep.report(report),
        }
    }

    /// Takes the last answer back, if there is one.
    pub(crate) fn undo(&mut self) -> bool {
        match self {
            Self::Bench(bench) => bench.undo(),
            Self::Sweep(sweep) => sweep.undo(),
        }
    }

    /// It was saved and is taken up again: the drive may stand elsewhere.
    pub(crate) fn resume(&mut self) {
        match self {
            Self::Bench(bench) => bench.resume(),
            Self::Sweep(sweep) => sweep.session.resume(),
        }
    }

    pub(crate) fn stop(&mut self) {
        match self {
            Self::Bench(bench) => bench.stop(),
            Self::Sweep(sweep) => sweep.session.stop(),
        }
    }

    /// What the result rests on.
    pub(crate) fn readings(&self) -> Vec<Taken> {
        match self {
            Self::Bench(bench) => bench.readings().iter().map(Taken::from).collect(),
            Self::Sweep(sweep) => {
                let of_place = |reading: &elbowroom::bring_up::SweepReading| Taken {
                    drive: Some(reading.place.drive),
                    toward: reading.place.toward,
                    value: reading.reading,
                    is_used: true,
                };
                sweep.session.readings().iter().map(of_place).collect()
            }
        }
    }

    /// What is drawn: of a sweep also what its searches read.
    pub(crate) fn seen(&self) -> Vec<Taken> {
        match self {
            Self::Bench(_) => self.readings(),
            Self::Sweep(sweep) => sweep.seen.clone(),
        }
    }

    /// Whether the state after this action holds what the state before it does not, or it is over.
    pub(crate) fn is_worth_saving(&self, action: &Action) -> bool {
        match self {
            Self::Bench(_) => !matches!(action, Action::Wait { .. }),
            Self::Sweep(_) => self.outcome().is_some() || matches!(action, Action::MoveTo { .. } | Action::Ask { .. }),
        }
    }

    /// One step of the readings.
    pub(crate) fn resolution(&self) -> f64 {
        match self {
            Self::Bench(bench) => bench.plan().resolution,
            Self::Sweep(sweep) => sweep.session.plan().resolution,
        }
    }

    /// What the procedure is called by its option.
    pub(crate) const fn words(&self) -> &'static str {
        match self {
            Self::Bench(_) => "typed readings",
            Self::Sweep(_) => "--sweep",
        }
    }

    /// Whether both were begun in the same way.
    pub(crate) fn is_same_plan(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Bench(a), Self::Bench(b)) => a.plan() == b.plan(),
            (Self::Sweep(a), Self::Sweep(b)) => a.session.plan() == b.session.plan(),
            _ => false,
        }
    }

    pub(crate) const fn is_same_kind(&self, other: &Self) -> bool {
        matches!(
            (self, other),
            (Self::Bench(_), Self::Bench(_)) | (Self::Sweep(_), Self::Sweep(_))
        )
    }
}

/// One thing that was asked, and what came of it.
#[derive(Serialize)]
pub(crate) struct Told {
    stage: &'static str,
    action: Action,
    report: Report,
}

impl Told {
    pub(crate) const fn new(stage: &'static str, action: Action, report: Report) -> Self {
        Self { stage, action, report }
    }
}

impl From<BringUpError> for Problem {
    fn from(error: BringUpError) -> Self {
        Self::new(error.code(), error.to_string())
    }
}
