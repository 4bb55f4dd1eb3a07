//! Columns of words that say to which joint a row belongs.
//!
//! One joint is fitted from the rows of one. A column that no part of the readings is read from may name another joint for some of them:
//! by its heading, by the names that it holds, or because the joint stood elsewhere at the same drive angle. Remarks do not: they are
//! mostly blank, or each is another one. Nor do numbers, such as those of runs.

use std::borrow::ToOwned;
use std::collections::BTreeMap;
use std::format;
use std::string::String;
use std::vec::Vec;

use super::columns::ReadingColumns;
use super::table::Table;
use super::table_error::{Remedy, TableError};
use crate::code::Code;
use crate::fit::Approach;
use crate::look::Rounded;

/// Headings of a column that names the joint, its servo, or where that is connected: in English, German, French, Spanish and Italian.
const OF_JOINTS: &[&str] = &[
    "joint",
    "joints",
    "joint name",
    "servo",
    "servos",
    "servo name",
    "motor",
    "actuator",
    "axis",
    "channel",
    "gelenk",
    "gelenke",
    "gelenkname",
    "kanal",
    "achse",
    "articulation",
    "articulations",
    "moteur",
    "axe",
    "canal",
    "voie",
    "articulaci\u{f3}n",
    "articulacion",
    "articulaciones",
    "eje",
    "servomotor",
    "servomoteur",
    "giunto",
    "asse",
    "canale",
    "motore",
];
/// Values of a column that are counted: more are no groups.
const MOST_GROUPS: usize = 256;
/// Groups that are named in a refusal.
const NAMED: usize = 8;
/// Rows with one word, from which on it is no remark.
const LEAST_ROWS: usize = 3;
/// Share of the range of the drive within which two readings were taken at one drive angle.
const SAME_DRIVE: f64 = 0.01;
/// Share of the range of measured values from which on two readings at one drive angle contradict each other: more than lost motion makes.
const APART: f64 = 0.1;
/// Drive angles with contradictions from which on they are no misreadings, and of how many of those compared: one in so many.
const LEAST_APART: usize = 3;
const ONE_IN: usize = 5;
/// Readings before one, in the order of their drive angles, that it is compared with.
const COMPARED: usize = 64;

/// A column of words that groups the rows, all of which were taken as readings of one joint.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct RowGroups {
    /// The column, by its heading.
    pub column: String,
    /// Its different values, in the order in which they come.
    pub values: Vec<String>,
}

impl core::fmt::Display for RowGroups {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let Self { column, values } = self;
        write!(
            f,
            "column {column} holds {} in turn, and all rows were taken as readings of one joint; check that they are",
            listed(values)
        )
    }
}

/// The first few values, and how many more there are.
pub(super) fn listed<V: AsRef<str>>(values: &[V]) -> String {
    let named: Vec<&str> = values.iter().take(NAMED).map(AsRef::as_ref).collect();
    let more = values.len().saturating_sub(NAMED);
    let rest = if more > 0 {
        format!(" and {more} more")
    } else {
        String::new()
    };
    format!("{}{rest}", named.join(", "))
}

/// A column of words, and which rows hold which.
struct Groups {
    at: usize,
    values: Vec<String>,
    /// How many rows hold each.
    counts: Vec<usize>,
    /// Of each row; none where the cell is blank.
    of_row: Vec<Option<u16>>,
}

impl Groups {
    /// The values of a column in some rows; `None` where there are too many of them.
    fn of(table: &Table, at: usize, rows: &[u32]) -> Option<Self> {
        let mut known: BTreeMap<String, u16> = BTreeMap::new();
        let mut found = Self {
            at,
            values: Vec::new(),
            counts: Vec::new(),
            of_row: Vec::with_capacity(rows.len()),
        };
        for &row in rows {
            let cell = table.cell(row as usize, at);
            if cell.is_empty() {
                found.of_row.push(None);
                continue;
            }
            let index = match known.get(cell.as_ref()) {
                Some(&index) => index,
                None if found.values.len() == MOST_GROUPS => return None,
                None => {
                    let index = u16::try_from(found.values.len()).ok()?;
                    known.insert(cell.as_ref().to_owned(), index);
                    found.values.push(cell.into_owned());
                    found.counts.push(0);
                    index
                }
            };
            if let Some(count) = found.counts.get_mut(usize::from(index)) {
                *count += 1;
            }
            found.of_row.push(Some(index));
        }
        (found.values.len() > 1).then_some(found)
    }

    /// Whether words stand in the column, and no numbers, moments or days.
    fn is_of_words(&self) -> bool {
        let is_word = |value: &String| value.starts_with(char::is_alphabetic);
        2 * self.values.iter().filter(|value| is_word(value)).count() > self.values.len()
    }

    /// Whether the words return, as those of groups do: nearly all rows hold one that other rows hold too, and few are blank.
    fn is_repeated(&self) -> bool {
        let filled: usize = self.counts.iter().sum();
        let returning = || self.counts.iter().filter(|count| **count >= LEAST_ROWS);
        2 * filled > self.of_row.len() && returning().count() > 1 && 4 * returning().sum::<usize>() >= 3 * filled
    }

    /// Whether all words are those of sides.
    fn are_sides(&self) -> bool {
        self.values.iter().all(|value| Approach::named(value).is_some())
    }

    fn holds(&self, name: &str) -> bool {
        self.values.iter().any(|value| value == name)
    }
}

/// What readings of different groups at the same drive angles show.
#[derive(Default)]
struct Compared {
    /// Drive angles that readings of two groups were taken at.
    at: usize,
    /// Those where they lie apart.
    apart: usize,
    /// The furthest, and its drive.
    furthest: f64,
    drive: f64,
}

impl Compared {
    fn of(groups: &Groups, drive: &[f64], measured: &[f64]) -> Self {
        let range = |values: &[f64]| {
            let least = values.iter().copied().fold(f64::INFINITY, f64::min);
            values.iter().copied().fold(f64::NEG_INFINITY, f64::max) - least
        };
        let (near, apart) = (SAME_DRIVE * range(drive), APART * range(measured));
        let mut all: Vec<(f64, f64, u16)> = drive
            .iter()
            .zip(measured)
            .zip(&groups.of_row)
            .filter_map(|((drive, measured), group)| Some((*drive, *measured, (*group)?)))
            .collect();
        all.sort_unstable_by(|one, other| one.0.total_cmp(&other.0));
        let mut found = Self::default();
        let (mut last, mut last_apart) = (f64::NEG_INFINITY, f64::NEG_INFINITY);
        for (index, &(x, y, group)) in all.iter().enumerate() {
            let before = all.iter().take(index).rev().take(COMPARED);
            let others = before
                .take_while(|(other, ..)| x - other <= near)
                .filter(|(.., other)| *other != group);
            let Some(difference) = others.map(|(_, other, _)| (y - other).abs()).reduce(f64::max) else {
                continue;
            };
            if x - last > near {
                (found.at, last) = (found.at + 1, x);
            }
            if difference > apart && x - last_apart > near {
                (found.apart, last_apart) = (found.apart + 1, x);
            }
            if difference > found.furthest {
                (found.furthest, found.drive) = (difference, x);
            }
        }
        found
    }

    fn is_contradiction(&self) -> bool {
        self.apart >= LEAST_APART && self.apart * ONE_IN >= self.at
    }

    /// Whether the groups were compared, and nothing lies apart.
    fn is_agreement(&self) -> bool {
        self.at >= LEAST_APART && self.apart == 0
    }
}

impl Table {
    /// Refuses rows that belong to several joints, by one of these columns; else the column that may say so.
    pub(super) fn groups(
        &self,
        free: &[usize],
        rows: &[u32],
        [drive, measured]: [&[f64]; 2],
        sought: &ReadingColumns<'_>,
    ) -> Result<Option<RowGroups>, TableError> {
        let mut unsure = None;
        for groups in free.iter().filter_map(|&at| Groups::of(self, at, rows)) {
            let names_joints = self.has_header()
                && self
                    .headings()
                    .get(groups.at)
                    .is_some_and(|heading| is_of_joints(&heading.base));
            let is_of_words = groups.is_of_words();
            let is_joint = |name: &&str| groups.holds(name);
            let joints = || sought.joints.iter().copied().chain(sought.joint);
            let has_joint = joints().any(|name| is_joint(&name)) && groups.is_repeated();
            if is_of_words && (names_joints || has_joint) {
                return Err(self.several(&groups, "so its rows belong to different joints", sought));
            }
            if !(is_of_words && groups.is_repeated() || names_joints) || groups.are_sides() {
                continue;
            }
            let compared = Compared::of(&groups, drive, measured);
            if compared.is_contradiction() {
                let why = format!(
                    "and readings under different ones differ by up to {} at drive {}: they belong to different joints",
                    short(compared.furthest),
                    short(compared.drive)
                );
                return Err(self.several(&groups, &why, sought));
            }
            if is_of_words && !compared.is_agreement() && unsure.is_none() {
                let column = self.name_of(groups.at);
                unsure = Some(RowGroups {
                    column,
                    values: groups.values,
                });
            }
        }
        Ok(unsure)
    }

    fn several(&self, groups: &Groups, why: &str, sought: &ReadingColumns<'_>) -> TableError {
        let column = self.name_of(groups.at);
        let joint = sought.joint.filter(|joint| groups.holds(joint));
        let remedy = Remedy::Where {
            column: column.clone(),
            value: joint.map_or_else(|| groups.values.first().cloned().unwrap_or_default(), ToOwned::to_owned),
            is_sought: joint.is_some(),
        };
        let sentence = format!(
            "column {} ({column}) holds {} different values, {}, {why}; take the rows of one",
            groups.at + 1,
            groups.values.len(),
            listed(&groups.values)
        );
        self.heading_error(groups.at, Code::FileSyntax, sentence).or(remedy)
    }

    pub(super) fn name_of(&self, column: usize) -> String {
        self.headings()
            .get(column)
            .map_or_else(String::new, |heading| heading.name.clone())
    }
}

fn short(value: f64) -> Rounded {
    Rounded { value, u: None }
}

pub(super) fn is_of_joints(heading: &str) -> bool {
    let plain = heading.replace(['_', '-'], " ").to_lowercase();
    OF_JOINTS.contains(&plain.trim())
}
