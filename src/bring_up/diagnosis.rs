//! What can be wrong with a joint, and how it is told from what was measured.

use crate::fit::{EndKind, LimitFit};

/// A fault that a bring-up tells by name. `Display` writes what it is and what to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
#[non_exhaustive]
pub enum Fault {
    /// The potentiometer's outer wires are swapped.
    WiresSwapped,
    /// The wiper has no contact.
    WiperOpen,
    /// The wiper loses contact at some places, or the readings scatter too far.
    WiperNoisy,
    /// The horn sits on another tooth.
    HornSlipped,
    /// A stop is not where it was.
    StopMoved,
    /// Something is in the way.
    RangeBlocked,
    /// The drive turns and the joint does not.
    GearStripped,
    /// The drive is too slow: its supply sags.
    SupplySag,
    /// The command goes to another joint.
    ChannelSwapped,
    /// The sensor ends before the joint does.
    SensorRunsOut,
    /// Nothing moves at all.
    DriveSilent,
    /// The sensor has turned on its shaft.
    SensorShifted,
    /// The sensor was set, and with it the start came too near a stop.
    StartNotClear,
    /// The readings contradict each other or the answers, so that no travel follows.
    Unclear,
    /// What is met gives way while it is pressed.
    GivesWay,
    /// The joint follows the drive only behind more lost motion than the first moves and the run-in take up.
    LostMotion,
    /// The readings are too coarse for the overtravel that is allowed.
    TooCoarse,
    /// The plan: its reading range does not hold a reading that was taken.
    PlanReadingRange,
    /// The plan: it expects counts of a converter, and the readings are volts.
    PlanInVolts,
}

impl Fault {
    /// The ten faults that a rehearsal can break a joint with.
    pub const REHEARSED: [Self; 10] = [
        Self::WiresSwapped,
        Self::WiperOpen,
        Self::WiperNoisy,
        Self::HornSlipped,
        Self::StopMoved,
        Self::RangeBlocked,
        Self::GearStripped,
        Self::SupplySag,
        Self::ChannelSwapped,
        Self::SensorRunsOut,
    ];

    /// Its name in files and on the shell.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::WiresSwapped => "wires-swapped",
            Self::WiperOpen => "wiper-open",
            Self::WiperNoisy => "wiper-noisy",
            Self::HornSlipped => "horn-slipped",
            Self::StopMoved => "stop-moved",
            Self::RangeBlocked => "range-blocked",
            Self::GearStripped => "gear-stripped",
            Self::SupplySag => "supply-sag",
            Self::ChannelSwapped => "channel-swapped",
            Self::SensorRunsOut => "sensor-runs-out",
            Self::DriveSilent => "drive-silent",
            Self::SensorShifted => "sensor-shifted",
            Self::StartNotClear => "start-not-clear",
            Self::Unclear => "unclear",
            Self::GivesWay => "gives-way",
            Self::LostMotion => "lost-motion",
            Self::TooCoarse => "too-coarse",
            Self::PlanReadingRange => "plan-reading-range",
            Self::PlanInVolts => "plan-in-volts",
        }
    }
}

impl core::fmt::Display for Fault {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            Self::WiresSwapped => {
                "the feedback runs the wrong way: swap the potentiometer's two outer wires and start again"
            }
            Self::WiperOpen => {
                "the reading does not follow the sensor: look for an open wiper wire; where it stays at an end of its range, or jumps from one end to the other, turn the sensor on the joint until its range holds the whole travel"
            }
            Self::WiperNoisy => "the reading jumps at some place: clean or change the potentiometer",
            Self::HornSlipped => "the horn sits on another tooth than before: set it back, or measure the joint again",
            Self::StopMoved => "a stop is not where it was: look for a bent or loose stop",
            Self::RangeBlocked => "something is in the way before the stop: clear it and start again",
            Self::GearStripped => "the drive turns and the joint does not move: look for stripped gears or a loose horn screw",
            Self::SupplySag => "the drive is much slower than rated: measure the supply voltage under load",
            Self::ChannelSwapped => "another joint moved: look for swapped channels",
            Self::SensorRunsOut => "the sensor's range ends before the joint's: align the sensor again",
            Self::DriveSilent => {
                "the drive did not move: test its supply and its signal wire; if it did not move in the sense test and the servo has a sensor of its own, set watch to sensor-only"
            }
            Self::SensorShifted => {
                "the sensor reads differently at the same drive angles: it has turned on its shaft, or the horn on its spline; fasten what is loose, test the alignment, and begin again"
            }
            Self::StartNotClear => {
                "the start is too near a stop, perhaps since the sensor was set: begin again from a start nearer the middle"
            }
            Self::GivesWay => {
                "the joint is held by something that gives way under load, such as a cable, rubber or friction: clear it and begin this joint again"
            }
            Self::LostMotion => {
                "the sensor followed the hand, but hardly follows the drive: the lost motion is larger than the run-in; tighten horn, coupling and sensor shaft, or set clearance and run_in above the lost motion, and begin again"
            }
            Self::TooCoarse => {
                "the readings are too coarse to keep the overtravel: read a finer scale or a longer pointer and give its graduation as resolution, or what one reading scatters as u_reading; with typed readings also feel the stops by hand first, or allow more overtravel if the joint bears it"
            }
            Self::PlanReadingRange => {
                "a reading lies outside the plan's reading range: set sense.reading_range to what the sensor can read, and begin again"
            }
            Self::PlanInVolts => {
                "the readings look like volts where the plan expects counts: set sense.reading_range to the sensor's supply and resolution to its last digit, and begin again"
            }
            Self::Unclear => {
                "the readings contradict each other or the answers, so no travel was found: read each place at rest, make the run-in longer than the lost motion, test the sensor and the answers, then begin again"
            }
        })
    }
}

/// What an earlier bring-up found, to determine what has changed since. Drive angles in deg.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Baseline {
    /// Where the joint met its stops, lower then upper.
    pub contacts: [Option<f64>; 2],
    /// Some drive angle between them.
    pub at: f64,
    /// The reading there.
    pub reading: f64,
    /// Readings per degree of drive angle there, with sign.
    pub per_deg: f64,
}

/// A bent transmission is not a line: between the stops, not at them, a shift is measured.
impl Baseline {
    /// What a fit provides for the next bring-up.
    pub fn from_fit(fit: &LimitFit) -> Self {
        let contact = |end: &crate::fit::End| (end.kind == EndKind::Contact).then_some(end.at);
        let at = (fit.lower.at + fit.upper.at) / 2.0;
        Self {
            contacts: [contact(&fit.lower), contact(&fit.upper)],
            at,
            reading: fit.expected(at),
            per_deg: fit.slope,
        }
    }

    /// By how many degrees of drive angle a reading lies from what was known; positive where the joint is ahead.
    pub(crate) fn ahead(&self, drive: f64, reading: f64) -> f64 {
        (reading - self.reading) / self.per_deg - (drive - self.at)
    }
}

/// From here on, deg, the line between drive and reading counts as shifted: less than half the tooth of any usual horn
/// (360/25/2 = 7.2 deg), more than play and an earlier measurement explain.
pub(crate) const SHIFTED: f64 = 5.0;
/// From here on, deg, a stop counts as moved: more than both uncertainties and the play explain.
const MOVED: f64 = 1.5;
/// From here on, deg, a contact before the known stop is something in the way and not a moved stop.
pub(crate) const BLOCKED: f64 = 10.0;
/// So near, deg, what a search met is the known stop: a search comes from inside, and half the play lies between.
pub(crate) const SAME: f64 = 3.0;

/// What has changed at the stops since an earlier bring-up, and by how much. Without `ahead`, as where the sensor was set
/// anew, a horn is told by both stops having gone the same way.
pub(crate) fn changed(known: &Baseline, contacts: [Option<f64>; 2], ahead: Option<f64>) -> Option<(Fault, f64)> {
    let moved = |index: usize| match (contacts.get(index), known.contacts.get(index)) {
        (Some(Some(now)), Some(Some(then))) => Some(now - then),
        _ => None,
    };
    let (lower, upper) = (moved(0), moved(1));
    let ahead = match (ahead, lower, upper) {
        (Some(ahead), ..) => ahead,
        (None, Some(a), Some(b)) if (a - b).abs() < MOVED => -(a + b) / 2.0,
        _ => 0.0,
    };
    if ahead.abs() >= SHIFTED {
        // A horn that slipped carries joint and sensor along: the stops are met so much earlier or later.
        let with_joint = [lower, upper].iter().flatten().all(|m| (m + ahead).abs() < SHIFTED);
        let fault = if with_joint {
            Fault::HornSlipped
        } else {
            Fault::SensorShifted
        };
        return Some((fault, ahead));
    }
    [lower, upper]
        .into_iter()
        .flatten()
        .find(|m| m.abs() >= MOVED)
        .map(|m| (Fault::StopMoved, m))
}

/// The teeth of a horn by which a shift is explained best, and the teeth all round: 21, 23, 24 or 25 (an
/// assumption of this library). Several horns may explain one shift; the nearest is named.
pub fn teeth(shift: f64) -> Option<(i32, u32)> {
    let mut best: Option<(f64, i32, u32)> = None;
    for round in [21_u32, 23, 24, 25] {
        let pitch = 360.0 / f64::from(round);
        let slipped = shift / pitch;
        let whole = if slipped < 0.0 { slipped - 0.5 } else { slipped + 0.5 } as i32;
        let off = (shift - f64::from(whole) * pitch).abs();
        if whole != 0 && off < 2.0 && best.is_none_or(|(least, ..)| off < least) {
            best = Some((off, whole, round));
        }
    }
    best.map(|(_, whole, round)| (whole, round))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_the_tooth() {
        assert_eq!(teeth(14.4), Some((1, 25)));
        assert_eq!(teeth(-17.1), Some((-1, 21)));
        assert_eq!(teeth(2.0 * 15.0), Some((2, 24)));
        assert_eq!(teeth(5.0), None);
        assert_eq!(teeth(f64::NAN), None);
    }

    #[test]
    fn tells_what_changed() {
        let known = Baseline {
            contacts: [Some(5.0), Some(80.0)],
            at: 40.0,
            reading: 500.0,
            per_deg: -4.0,
        };
        assert_eq!(known.ahead(50.0, 460.0), 0.0);
        assert_eq!(known.ahead(50.0, 420.0), 10.0);
        let of = |contacts, ahead| changed(&known, contacts, Some(ahead)).map(|(f, _)| f);
        assert_eq!(of([Some(5.3), Some(79.5)], 0.4), None);
        assert_eq!(of([Some(5.3), Some(76.0)], 0.4), Some(Fault::StopMoved));
        assert_eq!(of([Some(-9.4), Some(65.6)], 14.4), Some(Fault::HornSlipped));
        assert_eq!(of([None, Some(65.6)], 14.4), Some(Fault::HornSlipped));
        assert_eq!(of([Some(5.0), Some(80.0)], 14.4), Some(Fault::SensorShifted));
        assert_eq!(of([None, None], 0.0), None);
        let unread = |contacts| changed(&known, contacts, None).map(|(f, _)| f);
        assert_eq!(unread([Some(-9.4), Some(65.6)]), Some(Fault::HornSlipped));
        assert_eq!(unread([Some(5.3), Some(65.6)]), Some(Fault::StopMoved));
        assert_eq!(unread([Some(5.3), Some(80.4)]), None);
    }
}
