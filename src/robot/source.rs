//! Where the readings of some evidence stand, and whether they are still the same.

use std::borrow::ToOwned;
use std::collections::HashMap;
use std::path::Path;
use std::string::String;
use std::vec::Vec;

use sha2::{Digest, Sha256};

use super::{JointEntry, MeasuredAs, Robot};
use crate::pulse::{Servo, Timer};

/// What the drive column of a table holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum DriveUnit {
    /// Drive angles, deg.
    #[default]
    Deg,
    /// Pulse widths, us.
    Us,
    /// Pulse widths, ms.
    Ms,
    /// Timer counts of one pulse.
    Counts,
}

impl DriveUnit {
    /// Every unit.
    pub const ALL: [Self; 4] = [Self::Deg, Self::Us, Self::Ms, Self::Counts];

    /// The word of robot files.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Deg => "deg",
            Self::Us => "us",
            Self::Ms => "ms",
            Self::Counts => "counts",
        }
    }
}

/// The table of readings that evidence was fitted from, and how it was read: enough to draw it and to fit it again.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Source {
    /// The file, as a path from the robot file's folder, with `/` between its parts.
    pub file: String,
    /// SHA-256 of its bytes, 64 hexadecimal digits in lower case, as [`sha256`] gives them.
    pub sha256: String,
    /// Only rows that hold these values count: column and value. Empty: every row.
    pub rows: Vec<(String, String)>,
    /// What a column holds (`drive`, `measured`, `approach`, `contact`, `time`, `feedback`) and its name in the header, where the
    /// names differ.
    pub columns: Vec<(String, String)>,
    /// What the drive column holds.
    pub drive_unit: DriveUnit,
    /// The servo line in whose degrees the drive column was written, where the joint has another one now.
    pub servo: Option<Servo<f64>>,
    /// The unit of the measured values; `deg` if absent.
    pub measured_unit: Option<String>,
    /// How the measured values are turned into those that are fitted.
    pub measured_as: MeasuredAs,
    /// The unit of the times, `s` or `ms`, where the column's name does not tell.
    pub time_unit: Option<String>,
    /// The character between columns, where it is not a comma.
    pub separator: Option<char>,
    /// The character before decimals, where it is not a point.
    pub decimal: Option<char>,
    /// The resolution that was given to the fit, in the measured unit.
    pub resolution: Option<f64>,
    /// The coverage of the intervals, where it is not 0.95.
    pub confidence: Option<f64>,
}

impl Source {
    /// What a column may hold, in the order of robot files.
    pub const ROLES: &'static [&'static str] = &["drive", "measured", "approach", "contact", "time", "feedback"];

    /// The name in the header of the column that holds this: one of [`Source::ROLES`].
    pub fn column(&self, role: &str) -> Option<&str> {
        let found = self.columns.iter().find(|(known, _)| known == role);
        found.map(|(_, name)| name.as_str())
    }

    /// A value of the drive column in drive deg of a servo line, that of the joint as it is now. Degrees of another line, the one that
    /// [`servo`](Self::servo) names, become those of the same pulse; the timer counts for a column of counts only.
    ///
    /// *NaN* gives NaN.
    ///
    /// ```
    /// use elbowroom::robot::{DriveUnit, Source};
    /// use elbowroom::{Servo, Timer};
    /// let (then, now) = (Servo::new([0.0, 180.0], [500.0, 2500.0])?, Servo::new([0.0, 200.0], [500.0, 2500.0])?);
    /// let timer = Timer::new(50.0, 4096)?;
    /// let mut source = Source::default();
    /// assert_eq!(source.drive_deg(90.0, &now, &timer), 90.0); // degrees of the joint's own line
    /// source.servo = Some(then);
    /// assert_eq!(source.drive_deg(90.0, &now, &timer), 100.0); // both ask for 1500 us
    /// source.drive_unit = DriveUnit::Us;
    /// assert_eq!(source.drive_deg(1500.0, &now, &timer), 100.0); // a pulse is a pulse
    /// # Ok::<(), elbowroom::JointError>(())
    /// ```
    pub fn drive_deg(&self, value: f64, servo: &Servo<f64>, timer: &Timer<f64>) -> f64 {
        match (self.drive_unit, &self.servo) {
            (DriveUnit::Deg, Some(then)) if then != servo => servo.angle(then.pulse_us(value)),
            (unit, _) => unit.to_deg(value, servo, timer),
        }
    }

    /// The joint's servo line becomes another one: degrees of the drive column stay those of the line under which they were written.
    pub(super) fn keep_line(&mut self, old: &Servo<f64>, new: &Servo<f64>) {
        if self.drive_unit == DriveUnit::Deg {
            let written = self.servo.unwrap_or(*old);
            self.servo = (written != *new).then_some(written);
        }
    }

    /// Whether both name the same readings, however they were fitted.
    pub fn is_same_readings(&self, other: &Self) -> bool {
        self.sha256 == other.sha256 && self.rows == other.rows && self.column("drive") == other.column("drive")
    }
}

impl JointEntry {
    /// The servo line in whose degrees the drive column of a table was written, by the SHA-256 of the table: where the joint's evidence, or
    /// an earlier calibration, was fitted from this table in degrees of another line than the joint has now. Else None.
    pub fn servo_of_table(&self, sha256: &str) -> Option<Servo<f64>> {
        let latest_first = [self.evidence()].into_iter().chain(self.history().iter().rev());
        let mut named = latest_first.filter_map(|evidence| evidence.source.as_ref());
        let found = named.find(|source| source.sha256 == sha256 && source.drive_unit == DriveUnit::Deg)?;
        found.servo.filter(|servo| servo != self.joint().servo())
    }
}

/// SHA-256 of some bytes, as robot files write it.
///
/// ```
/// let hash = elbowroom::robot::sha256(b"");
/// assert_eq!(hash, "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
/// ```
pub fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes)
        .iter()
        .map(|byte| std::format!("{byte:02x}"))
        .collect()
}

/// What has become of a table of readings since its evidence was written down.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum SourceState {
    /// Its bytes are those that were fitted.
    Unchanged,
    /// Its bytes are others, with this SHA-256.
    Changed {
        /// SHA-256 of what the file holds now.
        sha256: String,
    },
    /// It cannot be read.
    Missing {
        /// The system's reason.
        reason: String,
    },
}

/// The tables that a robot file names, as they stand on disk now: made by [`Robot::sources`], for [`Check::with_sources`].
///
/// [`Check::with_sources`]: super::Check::with_sources
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sources {
    states: HashMap<(String, String), SourceState>,
}

impl Sources {
    /// What has become of one table; `None` if the robot that was looked at named none such.
    pub fn state(&self, source: &Source) -> Option<&SourceState> {
        self.states.get(&(source.file.clone(), source.sha256.clone()))
    }
}

impl Robot {
    /// Reads every table that the evidence and the histories name, and compares its SHA-256. `folder` is that of the robot file.
    /// Nothing is refused: a table that cannot be read is one of the states.
    pub fn sources(&self, folder: impl AsRef<Path>) -> Sources {
        let folder = folder.as_ref();
        let mut hashes: HashMap<&str, Result<String, String>> = HashMap::new();
        let mut states = HashMap::new();
        let evidence = self
            .joints()
            .iter()
            .flat_map(|entry| entry.history().iter().chain([entry.evidence()]));
        for source in evidence.filter_map(|evidence| evidence.source.as_ref()) {
            let found = hashes.entry(&source.file).or_insert_with(|| {
                std::fs::read(folder.join(&source.file))
                    .map(|bytes| sha256(&bytes))
                    .map_err(|error| std::format!("{error}"))
            });
            let state = match found {
                Ok(hash) if *hash == source.sha256 => SourceState::Unchanged,
                Ok(hash) => SourceState::Changed {
                    sha256: hash.to_owned(),
                },
                Err(reason) => SourceState::Missing {
                    reason: reason.to_owned(),
                },
            };
            states.insert((source.file.clone(), source.sha256.clone()), state);
        }
        Sources { states }
    }
}
