//! Which columns of a table hold what.

use super::super::source::DriveUnit;

/// Which columns hold what; without a name the usual ones are taken where they are there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[non_exhaustive]
pub struct ReadingColumns<'a> {
    /// What was commanded; `drive`, else the only one that is called by what a servo is sent, as [`Table::drive_column`](super::Table::drive_column) says.
    pub drive: Option<&'a str>,
    /// The unit of what was commanded; by the column's heading if not said.
    pub drive_unit: Option<DriveUnit>,
    /// What was measured; `measured`.
    pub measured: Option<&'a str>,
    /// The unit of what was measured; by the column's heading if not said.
    pub measured_unit: Option<&'a str>,
    /// From which side a position was reached; `approach`.
    pub approach: Option<&'a str>,
    /// Where a stop was touched; `contact`.
    pub contact: Option<&'a str>,
    /// Standard uncertainty of each reading; `u`.
    pub u: Option<&'a str>,
    /// When each reading was taken; `time`.
    pub time: Option<&'a str>,
    /// The times are in ms; by the column's unit if not said.
    pub time_in_ms: Option<bool>,
    /// The joint whose readings are sought, if it is known.
    pub joint: Option<&'a str>,
    /// The joints of the robot, if they are known: where a column holds names of theirs, it says to which joint a row belongs.
    pub joints: &'a [&'a str],
}

impl<'a> ReadingColumns<'a> {
    /// The usual columns, but for these two.
    pub const fn new(drive: Option<&'a str>, measured: Option<&'a str>) -> Self {
        Self {
            drive,
            drive_unit: None,
            measured,
            measured_unit: None,
            approach: None,
            contact: None,
            u: None,
            time: None,
            time_in_ms: None,
            joint: None,
            joints: &[],
        }
    }
}
