//! How a bring-up ended, in words and in letters: of a real joint and of a virtual one alike.

use super::procedure::Procedure;
use crate::letters::Letters;
use crate::paint::{number, strong};
use elbowroom::bring_up::{self, AlignmentEnd, EndFound, Fault, Side, Verdict, teeth};
use elbowroom::fit::Approach;
use elbowroom::look;
use elbowroom::rehearsal::VirtualJoint;
use std::fmt::Write as _;

/// Where a virtual joint has its contact at one end, and with what.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Truth {
    pub(crate) at: f64,
    /// It is no stop that is met there.
    is_obstacle: bool,
}

impl Truth {
    /// The true contacts of a virtual joint.
    pub(crate) fn of(joint: &VirtualJoint) -> [Self; 2] {
        let [lower, upper] = joint.contacts();
        let truth = |at, side| Self {
            at,
            is_obstacle: joint.obstacle() == Some(side),
        };
        [truth(lower, Side::Lower), truth(upper, Side::Upper)]
    }

    const fn letter(self) -> char {
        if self.is_obstacle { '!' } else { '|' }
    }

    const fn words(self) -> &'static str {
        if self.is_obstacle {
            look::OBSTACLE.text
        } else {
            look::CONTACT.text
        }
    }
}

/// What of the truth stands in a picture's legend.
fn truth_words(truths: &[Truth]) -> String {
    let mut words = String::new();
    for (index, truth) in truths.iter().enumerate() {
        let mut before = truths.iter().take(index);
        if before.all(|earlier| earlier.letter() != truth.letter()) {
            let _ = write!(words, ", {} {}", truth.letter(), truth.words());
        }
    }
    words
}

/// Readings over drive angles, as letters.
pub(crate) fn picture(text: &mut String, run: &Procedure, outcome: &bring_up::Outcome, truths: &[Truth]) {
    let mut letters = Letters::default();
    let mut left_out = "";
    for reading in run.seen() {
        if let Some(drive) = reading.drive {
            let mark = match (reading.is_used, reading.approach()) {
                (false, _) => {
                    left_out = ", x left out";
                    'x'
                }
                (_, Approach::Below) => '+',
                _ => '-',
            };
            letters.point(drive, reading.value, mark);
        }
    }
    for truth in truths {
        letters.upright(truth.at, truth.letter());
    }
    let mut travel_words = "";
    for travel in outcome.travel().into_iter().flatten() {
        travel_words = ", : travel";
        letters.upright(travel, ':');
    }
    let truth = truth_words(truths);
    let legend = format!("drive angle, deg; + from below, - from above{left_out}{truth}{travel_words}");
    letters.draw(text, &legend);
}

/// The alignment, the verdict, and both ends. A joint that was found ready is not, where `contradicts` says whose map its readings contradict.
pub(crate) fn conclude(
    text: &mut String,
    outcome: &bring_up::Outcome,
    truths: Option<[Truth; 2]>,
    contradicts: Option<&str>,
) {
    let _ = writeln!(text);
    if let Some(end) = outcome.alignment {
        alignment(text, end);
    }
    match (outcome.verdict, contradicts) {
        (Verdict::Ready, Some(whose)) => {
            let _ = writeln!(
                text,
                "{}: both ends of the travel were found, but the readings contradict {whose}",
                strong("not decided")
            );
        }
        (Verdict::Ready, None) => {
            let _ = writeln!(text, "{}: {}", strong("ready"), outcome.verdict);
        }
        (Verdict::Faulty { fault, at, by }, _) => {
            let near = at.map_or(String::new(), |at| format!(", near drive angle {} deg", number(at, 1)));
            let _ = writeln!(text, "{}: {}{near}", strong(fault.as_str()), outcome.verdict);
            if let (Fault::HornSlipped, Some(by)) = (fault, by)
                && let Some((slipped, round)) = teeth(by)
            {
                let _ = writeln!(text, "  by {} deg: {slipped} of {round} teeth", number(by, 1));
            }
        }
        _ => {
            let _ = writeln!(text, "{}", outcome.verdict);
        }
    }
    let mut end = |name: &str, found: Option<EndFound>, truth: Option<Truth>| {
        let Some(found) = found else { return };
        let short = found.short_at.map_or(String::new(), |short| {
            format!(", first short reading at {} deg", number(short, 2))
        });
        let u = found.u.map_or(String::new(), |u| format!(", u {} deg", number(u, 2)));
        let truth = truth.map_or(String::new(), |truth| format!(", true value {}", number(truth.at, 2)));
        let _ = writeln!(
            text,
            "{name}: {} at {} deg{short}{u}{truth}; travel to {} deg",
            found.kind.as_str(),
            number(found.at, 2),
            number(found.travel, 2)
        );
    };
    end("lower", outcome.lower, truths.map(|[lower, _]| lower));
    end("upper", outcome.upper, truths.map(|[_, upper]| upper));
}

/// How the alignment stands, in one line.
fn alignment(text: &mut String, end: AlignmentEnd) {
    let spare = |[lower, upper]: [f64; 2]| format!("{} and {} deg spare", number(lower, 1), number(upper, 1));
    let told = match end {
        AlignmentEnd::Set {
            joint_angle,
            reading,
            spare: both,
            settings,
        } => format!(
            "{} at joint angle {} deg: reads {}, {} beyond the stops",
            if settings == 0 { "was right" } else { "set" },
            number(joint_angle, 1),
            number(reading, 0),
            spare(both)
        ),
        AlignmentEnd::TooShort { spare } => {
            format!(
                "the sensor's range is too short: at best {} deg to spare beyond each stop",
                number(spare, 1)
            )
        }
        AlignmentEnd::NotSet { spare: both } => format!("not set after three requests: {}", spare(both)),
        AlignmentEnd::NotAtStop { joint_angle, by } => format!(
            "joint angle {} deg is {} deg from the nearer stop's",
            number(joint_angle, 1),
            number(by, 1)
        ),
        _ => return,
    };
    let _ = writeln!(text, "alignment: {told}");
}
