//! A converted value, and what held it back.

/// What held a value back on its way to the motor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Clamped {
    /// The command was outside the command range.
    pub command: bool,
    /// The drive angle was outside the travel.
    pub travel: bool,
}

impl Clamped {
    /// Whether anything held it back.
    pub fn any(self) -> bool {
        self.command || self.travel
    }

    /// Its word: `not-clamped`, `clamped-to-command`, `clamped-to-travel` or `clamped-to-both`.
    ///
    /// ```
    /// let held = elbowroom::Clamped { command: false, travel: true };
    /// assert_eq!(held.as_str(), "clamped-to-travel");
    /// ```
    pub const fn as_str(self) -> &'static str {
        match (self.command, self.travel) {
            (false, false) => "not-clamped",
            (true, false) => "clamped-to-command",
            (false, true) => "clamped-to-travel",
            (true, true) => "clamped-to-both",
        }
    }
}

/// A converted value, and what limited it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Conversion<T> {
    /// The result, in the unit that the call names.
    pub value: T,
    /// What held it back.
    pub clamped: Clamped,
}
