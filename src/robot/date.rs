//! A calendar day, as written beside evidence.

use core::fmt;
use std::time::{SystemTime, UNIX_EPOCH};

/// A day of the proleptic Gregorian calendar, years 1 to 9999.
///
/// ```
/// use elbowroom::robot::Date;
/// let day = Date::new(2026, 11, 20).unwrap();
/// assert_eq!(day.to_string(), "2026-11-20");
/// assert_eq!(Date::new(2027, 1, 1).unwrap().days_since(day), 42);
/// assert!(Date::new(2026, 2, 29).is_none());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Date {
    year: u16,
    month: u8,
    day: u8,
}

impl Date {
    /// The day, if the calendar has it.
    pub const fn new(year: u16, month: u8, day: u8) -> Option<Self> {
        if year < 1 || year > 9999 || month < 1 || month > 12 || day < 1 || day > days_in_month(year, month) {
            None
        } else {
            Some(Self { year, month, day })
        }
    }

    /// Today in UTC, or `None` if the clock stands before 1970.
    pub fn today() -> Option<Self> {
        let seconds = SystemTime::now().duration_since(UNIX_EPOCH).ok()?.as_secs();
        Self::from_days(i64::try_from(seconds / 86_400).ok()?)
    }

    /// The year.
    pub const fn year(self) -> u16 {
        self.year
    }

    /// The month, 1 to 12.
    pub const fn month(self) -> u8 {
        self.month
    }

    /// The day of the month, from 1.
    pub const fn day(self) -> u8 {
        self.day
    }

    /// Days from `earlier` to this day; negative if `earlier` is later.
    pub const fn days_since(self, earlier: Self) -> i64 {
        self.days() - earlier.days()
    }

    /// The day so many days later; earlier for less than none. `None` outside years 1 to 9999.
    ///
    /// ```
    /// use elbowroom::robot::Date;
    /// assert_eq!(Date::new(2026, 12, 31).unwrap().after(1), Date::new(2027, 1, 1));
    /// ```
    pub fn after(self, days: i64) -> Option<Self> {
        Self::from_days(self.days().checked_add(days)?)
    }

    /// Days since 1970-01-01.
    ///
    /// *Source*: H. Hinnant, "chrono-Compatible Low-Level Date Algorithms" (2013): the year is begun in March, so that
    /// the leap day comes last and the months' lengths follow (153 m + 2) / 5.
    const fn days(self) -> i64 {
        let from_march = (self.month as i64 + 9) % 12;
        let year = self.year as i64 - if self.month <= 2 { 1 } else { 0 };
        let (era, of_era) = (year / 400, year % 400);
        let of_year = (153 * from_march + 2) / 5 + self.day as i64 - 1;
        era * 146_097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719_468
    }

    /// The way back, from the same source.
    fn from_days(days: i64) -> Option<Self> {
        let from_zero = days + 719_468;
        let (era, of_era) = (from_zero.div_euclid(146_097), from_zero.rem_euclid(146_097));
        let year_of_era = (of_era - of_era / 1460 + of_era / 36_524 - of_era / 146_096) / 365;
        let of_year = of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
        let from_march = (5 * of_year + 2) / 153;
        let day = of_year - (153 * from_march + 2) / 5 + 1;
        let month = if from_march < 10 {
            from_march + 3
        } else {
            from_march - 9
        };
        let year = era * 400 + year_of_era + i64::from(month <= 2);
        Self::new(
            u16::try_from(year).ok()?,
            u8::try_from(month).ok()?,
            u8::try_from(day).ok()?,
        )
    }
}

const fn days_in_month(year: u16, month: u8) -> u8 {
    match month {
        4 | 6 | 9 | 11 => 30,
        2 if year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400)) => 29,
        2 => 28,
        _ => 31,
    }
}

impl fmt::Display for Date {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

impl core::str::FromStr for Date {
    type Err = NotADate;

    /// Reads `YYYY-MM-DD`.
    fn from_str(text: &str) -> Result<Self, NotADate> {
        let mut parts = text.splitn(3, '-');
        let mut part = |digits: usize| -> Option<u16> {
            let part = parts.next()?;
            if part.len() == digits && part.bytes().all(|b| b.is_ascii_digit()) {
                part.parse().ok()
            } else {
                None
            }
        };
        let (year, month, day) = (part(4), part(2), part(2));
        (|| Self::new(year?, u8::try_from(month?).ok()?, u8::try_from(day?).ok()?))().ok_or(NotADate)
    }
}

/// A text that is not a day of the calendar.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("not a day of the calendar; write it as 2026-11-20")]
pub struct NotADate;

#[cfg(test)]
mod tests {
    use super::*;
    use std::string::ToString;

    #[test]
    fn counts_every_day_like_a_calendar_turned_by_hand() {
        let mut expected = Date::new(1, 1, 1).unwrap().days();
        for year in 1..=9999u16 {
            for month in 1..=12 {
                for day in 1..=days_in_month(year, month) {
                    let date = Date::new(year, month, day).unwrap();
                    assert_eq!(date.days(), expected);
                    assert_eq!(Date::from_days(expected), Some(date));
                    expected += 1;
                }
            }
        }
        assert_eq!(Date::new(1970, 1, 1).unwrap().days(), 0);
    }

    #[test]
    fn reads_what_it_writes_and_nothing_else() {
        for good in ["2026-11-20", "2024-02-29", "0001-01-01"] {
            assert_eq!(good.parse::<Date>().unwrap().to_string(), good);
        }
        for bad in [
            "2026-2-3",
            "2023-02-29",
            "2026-13-01",
            "2026-11-20x",
            "20261120",
            "",
            "+026-01-01",
        ] {
            assert!(bad.parse::<Date>().is_err(), "{bad}");
        }
    }
}
