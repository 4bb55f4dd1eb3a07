//! A table, read whole: its text, and where each row stands.

use std::borrow::Cow;
use std::format;
use std::string::String;
use std::vec;
use std::vec::Vec;

use super::super::near::nearest;
use super::cell::{OPEN_QUOTE, Separator, all, cell, cells, number, row_at, rows};
use super::decimals::Decimals;
use super::encoding;
use super::groups::listed;
use super::head::{head, may_be_header, second_header};
use super::heading::{CellUnits, Heading};
use super::table_error::{Remedy, TableError};
use crate::code::Code;

/// Rows looked at to find out how the table is written.
const SAMPLED: usize = 30;

/// How a table is written, as far as somebody says it; the rest is found out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[non_exhaustive]
pub struct TableOptions {
    /// Character between columns.
    pub separator: Option<char>,
    /// Character before the decimals: a point or a comma.
    pub decimal: Option<char>,
}

impl TableOptions {
    /// The same with a character between columns.
    pub const fn with_separator(mut self, separator: Option<char>) -> Self {
        self.separator = separator;
        self
    }

    /// The same with a character before the decimals.
    pub const fn with_decimal(mut self, decimal: Option<char>) -> Self {
        self.decimal = decimal;
        self
    }
}

#[derive(Debug, Clone, Copy)]
struct Row {
    /// Its first byte.
    start: u32,
    line: u32,
}

/// A table: headings, and rows of as many cells.
///
/// Kept are the text and eight bytes a row; a column is read when it is asked for, so that millions of rows fit in memory.
///
/// ```
/// use elbowroom::robot::{Table, TableOptions};
/// let text = "Wing, left side\r\n\r\ndrive [us];measured [deg]\r\n1200;\u{2212}12,5\r\n;\r\n1300;-3,5\r\n";
/// let table = Table::parse(text.as_bytes().to_vec(), TableOptions::default())?;
/// assert_eq!((table.rows(), table.line(1)), (2, Some(6)));
/// let measured = table.column("measured")?;
/// assert_eq!(table.headings()[measured].unit.as_deref(), Some("deg"));
/// assert_eq!(table.numbers(measured)?, [-12.5, -3.5]);
/// # Ok::<(), elbowroom::robot::TableError>(())
/// ```
#[derive(Debug, Clone)]
pub struct Table {
    text: String,
    pub(super) headings: Vec<Heading>,
    /// The line of the header; none where the table has none.
    header: Option<u32>,
    rows: Vec<Row>,
    pub(super) separator: Separator,
    pub(super) decimal: Option<char>,
    /// Of each column.
    pub(super) decimals: Vec<Decimals>,
}

fn is_content(line: &str) -> bool {
    let line = line.trim();
    !line.is_empty() && !line.starts_with('#') && !line.chars().all(|c| matches!(c, ';' | ',' | '\t' | ' ' | '"'))
}

/// Which character separates the columns of these lines.
fn guess(sample: &[&str]) -> Separator {
    let Some(last) = sample.last() else {
        return Separator::Char(',');
    };
    let starts_with_digit = |line: &str| {
        line.trim_start_matches(['"', ' ', '-', '\u{2212}'])
            .starts_with(|c: char| c.is_ascii_digit())
    };
    let first = sample.iter().position(|line| starts_with_digit(line));
    let header = first.and_then(|first| sample.get(first.checked_sub(1)?));
    let header = header.filter(|header| !header.contains(|c: char| c.is_ascii_digit()));
    let alike = |candidate: char| {
        let count = |line: &str| line.matches(candidate).count();
        let times = count(last);
        let lines = sample.iter().filter(|line| count(line) == times).count();
        // What separates the words of a header is hardly a decimal comma.
        let of_header = header
            .filter(|header| header.contains(candidate))
            .map_or(0, |_| sample.len() / 2);
        if times > 0 { lines + of_header } else { 0 }
    };
    let mut best = (0, ',');
    for candidate in ['\t', ';', ','] {
        let lines = alike(candidate);
        if lines > best.0 {
            best = (lines, candidate);
        }
    }
    let has_blanks = |line: &&&str| line.trim().contains([' ', '\t']);
    match best {
        (0, _) if sample.iter().filter(has_blanks).count() * 2 > sample.len() => Separator::Blanks,
        // Decimals with a comma between blanks: no comma stands in the header.
        (lines, ',')
            if lines < sample.len() && sample.iter().all(|line| has_blanks(&line)) && has_decimal_commas(sample) =>
        {
            Separator::Blanks
        }
        (_, separator) => Separator::Char(separator),
    }
}

/// Whether most lines with commas have each of them between two digits.
fn has_decimal_commas(sample: &[&str]) -> bool {
    let digit = |c: Option<char>| c.is_some_and(|c| c.is_ascii_digit());
    let is_decimal = |line: &str| {
        line.match_indices(',').all(|(at, _)| {
            let (before, after) = line.split_at(at);
            digit(before.chars().next_back()) && digit(after.chars().nth(1))
        })
    };
    let with_commas = || sample.iter().filter(|line| line.contains(','));
    2 * with_commas().filter(|line| is_decimal(line)).count() > with_commas().count()
}

impl Table {
    /// Reads a table.
    ///
    /// # Errors
    /// [`TableError`], with the line: bytes that are not UTF-8 (nor UTF-16), a quote that is not closed, a row with another number of
    /// cells than the header, a column named twice, no rows at all; options that contradict each other.
    pub fn parse(bytes: Vec<u8>, options: TableOptions) -> Result<Self, TableError> {
        if let Some(decimal) = options.decimal.filter(|decimal| !matches!(decimal, '.' | ',')) {
            let sentence = format!("the decimal is \"{decimal}\"; give a point or a comma");
            return Err(TableError::new(Code::OptionOutside, None, sentence));
        }
        let text = encoding::text(bytes)?;
        if u32::try_from(text.len()).is_err() {
            let sentence = "the table is larger than 4 GB; split it";
            return Err(TableError::new(Code::FileSyntax, None, sentence));
        }
        let content = |separator| rows(&text, separator).filter(|(.., row)| is_content(row));
        let separator = match options.separator {
            Some(' ') => Separator::Blanks,
            Some(separator) => Separator::Char(separator),
            None => {
                let lines: Vec<&str> = content(Separator::Blanks)
                    .take(SAMPLED)
                    .map(|(.., line)| line)
                    .collect();
                guess(&lines)
            }
        };
        let sample: Vec<(usize, u32, &str)> = content(separator).take(SAMPLED).collect();
        // A comma inside a cell of a table of commas stood in quotes: a decimal one.
        let decimal = options.decimal;
        if let Some(decimal) = decimal.filter(|decimal| separator == Separator::Char(*decimal)) {
            let sentence = format!("the decimal \"{decimal}\" separates columns too; give another separator");
            return Err(TableError::new(Code::OptionOutside, None, sentence));
        }
        let (skipped, header, mut headings) = head(&sample, separator, decimal)?;
        let mut rows = Vec::new();
        let mut decimals = vec![Decimals::default(); headings.len()];
        // Where the heading has none, the unit behind every number is the column's.
        let mut units: Vec<CellUnits> = headings.iter().map(CellUnits::under).collect();
        for (start, line, row) in content(separator).skip(skipped) {
            let mut filled = 0;
            let counted = cells(row, separator, |index, cell| {
                if !cell.is_empty() {
                    filled = index + 1;
                    if let Some(column) = decimals.get_mut(index) {
                        column.note(&cell);
                    }
                    if let Some(column) = units.get_mut(index) {
                        column.note(&cell);
                    }
                }
            });
            let Some(count) = counted else {
                return Err(TableError::new(Code::FileSyntax, Some(line), OPEN_QUOTE));
            };
            // Nothing but separators, in whatever order.
            if filled == 0 {
                continue;
            }
            if header.is_some()
                && may_be_header(row, separator, &headings)
                && let Some(error) = second_header(line, &all(row, separator).unwrap_or_default(), &headings, header)
            {
                return Err(error);
            }
            // Empty cells beyond the last heading are a spreadsheet's.
            if count < headings.len() || filled > headings.len() {
                return Err(odd_row(row, line, count, &headings, separator));
            }
            let start = u32::try_from(start).unwrap_or(u32::MAX);
            rows.push(Row { start, line });
        }
        for (heading, units) in headings.iter_mut().zip(units) {
            if let CellUnits::All(unit) = units {
                heading.unit = Some(unit);
            }
        }
        Ok(Self {
            text,
            headings,
            header,
            rows,
            separator,
            decimal,
            decimals,
        })
    }

    /// Its columns.
    pub fn headings(&self) -> &[Heading] {
        &self.headings
    }

    /// Whether the columns are named; else they are called 1, 2, 3 and so on.
    pub fn has_header(&self) -> bool {
        self.header.is_some()
    }

    /// How many rows of cells it has.
    pub fn rows(&self) -> usize {
        self.rows.len()
    }

    /// The line of a row, counted from 1.
    pub fn line(&self, row: usize) -> Option<u32> {
        self.rows.get(row).map(|row| row.line)
    }

    /// A cell; empty where there is none.
    pub fn cell(&self, row: usize, column: usize) -> Cow<'_, str> {
        let line = self
            .rows
            .get(row)
            .map_or("", |row| row_at(&self.text, row.start as usize, self.separator));
        cell(line, self.separator, column)
    }

    /// The column of this name: as it stands in the header, else without its unit, else whatever its case.
    ///
    /// # Errors
    /// [`TableError`], with the names there are.
    pub fn column(&self, name: &str) -> Result<usize, TableError> {
        let one = |is: &dyn Fn(&Heading) -> bool| {
            let mut found = self.headings.iter().enumerate().filter(|(_, heading)| is(heading));
            match (found.next(), found.next()) {
                (Some((at, _)), None) => Some(at),
                _ => None,
            }
        };
        let lower = name.to_lowercase();
        one(&|heading| heading.name == name)
            .or_else(|| one(&|heading| heading.base == name))
            .or_else(|| one(&|heading| heading.name.to_lowercase() == lower || heading.base.to_lowercase() == lower))
            .ok_or_else(|| {
                let known: Vec<&str> = self.headings.iter().map(|heading| heading.name.as_str()).collect();
                let other = self.other_separator();
                let like = |heading: &&Heading| other.is_none() && heading.name.to_lowercase().contains(&lower);
                let hint = self.headings.iter().find(like).map_or(String::new(), |like| {
                    format!("; if \"{}\" is meant, name that", like.name)
                });
                let sentence = format!("no column is named \"{name}\" (there are: {}){hint}", known.join(", "));
                let remedy = other.unwrap_or(Remedy::Column(None));
                self.header_error(sentence).or(remedy)
            })
    }

    /// The character that separates the columns where another one split the rows: one of the first rows holds all these names with it
    /// between them, or all rows hold it equally often, and none of the character that was taken.
    pub(super) fn separator_within(&self, names: &[&str]) -> Option<char> {
        let lines = || self.text.lines().filter(|line| !line.trim().is_empty());
        OTHER_SEPARATORS.into_iter().find(|&other| {
            if Separator::Char(other) == self.separator {
                return false;
            }
            let holds_names = |line: &str| {
                let cells: Vec<&str> = line.split(other).map(|cell| cell.trim().trim_matches('"')).collect();
                names.iter().all(|name| cells.contains(name))
            };
            let mut counts = lines().take(SAMPLED).map(|line| line.matches(other).count());
            let first = counts.next().unwrap_or(0);
            lines().take(SAMPLED).any(holds_names) || first > 0 && counts.all(|count| count == first)
        })
    }

    fn other_separator(&self) -> Option<Remedy> {
        match &self.headings[..] {
            [only] => other_separator(&only.name).map(Remedy::Separator),
            _ => None,
        }
    }

    /// The rows whose cells are these: pairs of column and value.
    ///
    /// # Errors
    /// [`TableError`] for a column that is not there, and for values that no row has.
    pub fn matching(&self, only: &[(String, String)]) -> Result<Vec<u32>, TableError> {
        let mut rows: Vec<u32> = (0..self.rows.len()).filter_map(|row| u32::try_from(row).ok()).collect();
        for (name, value) in only {
            let at = self.column(name)?;
            let before = rows.clone();
            rows.retain(|&row| self.cell(row as usize, at) == value.as_str());
            if rows.is_empty() {
                let mut values: Vec<Cow<'_, str>> = before.into_iter().map(|row| self.cell(row as usize, at)).collect();
                values.sort_unstable();
                values.dedup();
                // Of numbers, which differ by a digit or two, none is meant.
                let near = nearest(value, values.iter().map(AsRef::as_ref))
                    .filter(|(_, is_near)| *is_near && number(value, None).is_err());
                let instead = near.map_or_else(
                    || format!("there are {name} = {}", listed(&values)),
                    |(near, _)| format!("the nearest is {name}={near}"),
                );
                let sentence = format!("no row has {name}={value}; {instead}");
                return Err(TableError::new(Code::TooFewReadings, None, sentence));
            }
        }
        Ok(rows)
    }

    /// The different values of a column, in the order in which they come.
    pub fn values(&self, column: usize) -> Vec<String> {
        let mut values: Vec<String> = Vec::new();
        for row in 0..self.rows.len() {
            let cell = self.cell(row, column);
            if values.last().is_none_or(|last| *last != cell) && !values.iter().any(|known| *known == cell) {
                values.push(cell.into_owned());
            }
        }
        values
    }

    /// A fault of the header: a column that is not there.
    pub(super) fn header_error(&self, sentence: String) -> TableError {
        TableError::new(Code::MissingKey, self.header.or(self.line(0)).or(Some(1)), sentence)
    }

    /// A fault of a column's heading.
    pub(super) fn heading_error(&self, column: usize, code: Code, sentence: String) -> TableError {
        TableError {
            column: u32::try_from(column + 1).ok(),
            ..TableError::new(code, self.header, sentence)
        }
    }

    pub(super) fn cell_error(&self, row: usize, column: usize, what: &str) -> TableError {
        let name = self.headings.get(column).map_or("", |heading| heading.name.as_str());
        let cell = self.cell(row, column);
        let sentence = format!("column {} ({name}): \"{cell}\" {what}", column + 1);
        TableError {
            column: u32::try_from(column + 1).ok(),
            ..TableError::new(Code::WrongType, self.line(row), sentence)
        }
    }
}

fn odd_row(row: &str, line: u32, count: usize, headings: &[Heading], separator: Separator) -> TableError {
    let other = match headings {
        [only] => other_separator(&only.name),
        _ => None,
    };
    if let Some(error) = pasted_row(row, line, headings, other, separator) {
        return error;
    }
    let hint = if other.is_some() {
        "another character seems to separate the columns"
    } else if count > headings.len() && separator == Separator::Char(',') {
        "is a comma meant as a decimal point, or a separator stray?"
    } else if separator == Separator::Blanks {
        "give a separator if names or cells hold blanks"
    } else if row.is_empty() {
        "the row is empty"
    } else {
        "the file may be cut off or have a stray separator"
    };
    let s = if count == 1 { "" } else { "s" };
    let sentence = format!("the row has {count} cell{s}, the header {}; {hint}", headings.len());
    TableError::new(Code::LengthMismatch, Some(line), sentence).or(other.map_or(Remedy::None, Remedy::Separator))
}

/// A row that was pasted from elsewhere: with another character between as many cells as the header has.
fn pasted_row(
    row: &str,
    line: u32,
    headings: &[Heading],
    other: Option<char>,
    separator: Separator,
) -> Option<TableError> {
    let words = [('\t', "tabs"), (';', "semicolons"), (',', "commas")];
    let word = |sought: char| words.iter().find(|(c, _)| *c == sought).map(|(_, word)| *word);
    let (of_header, width) = match (other, headings, separator) {
        (Some(other), [only], _) => (other, only.name.matches(other).count() + 1),
        (_, _, Separator::Char(own)) => (own, headings.len()),
        _ => return None,
    };
    // A comma in a row of two cells is rather one of decimals.
    let may_be = |c: char| c != of_header && (c != ',' || width > 2) && row.matches(c).count() + 1 == width;
    let (_, of_row) = words
        .iter()
        .find(|(c, _)| may_be(*c) && width > 1 && !row.contains(of_header))?;
    let sentence = format!(
        "the cells of this row are separated by {of_row}, those of the header by {}; write all rows with the same character between their \
         cells",
        word(of_header)?
    );
    Some(TableError::new(Code::LengthMismatch, Some(line), sentence))
}

/// Characters that separate columns, the surest first.
const OTHER_SEPARATORS: [char; 3] = [';', '\t', ','];

/// The character that separates columns, where a header of one cell shows another.
fn other_separator(name: &str) -> Option<char> {
    OTHER_SEPARATORS.into_iter().find(|c| name.contains(*c))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::string::ToString as _;

    use std::vec;

    fn measured(text: &str) -> Result<Vec<f64>, String> {
        let table = Table::parse(text.as_bytes().to_vec(), TableOptions::default());
        let table = table.map_err(|error| error.to_string())?;
        let column = table.column("measured").map_err(|error| error.to_string())?;
        table.numbers(column).map_err(|error| error.to_string())
    }

    #[test]
    fn titles_and_commas_before_blanks_are_read() {
        let rows = "90, 10\n100, 19\n110, 28\n120, 37\n";
        for head in [
            "drive, measured\n",
            "Left wing\ndrive, measured\n",
            "Left wing parrot\ndrive, measured\n",
            "Left wing, Joe\ndrive, measured\n",
            "Left wing, by Joe, 2026\nDrive [deg], Measured\n",
        ] {
            assert_eq!(
                measured(&format!("{head}{rows}")),
                Ok(vec![10.0, 19.0, 28.0, 37.0]),
                "{head}"
            );
        }
        // Blanks separate, and decimals have a comma.
        for head in ["drive measured\n", "Left wing, Joe\ndrive measured\n"] {
            let rows = "90 10,5\n100,5 19,5\n110 28,5\n";
            assert_eq!(measured(&format!("{head}{rows}")), Ok(vec![10.5, 19.5, 28.5]), "{head}");
        }
    }

    #[test]
    fn a_header_below_the_head_of_a_form_is_found() {
        let head = "Messprotokoll,,\nDatum,2026-11-20,\nGeraet,Winkelmesser,\n,,\n";
        let table = |header: &str| {
            Table::parse(
                format!("{head}{header}\n1,2,up\n3,4,down\n").into_bytes(),
                TableOptions::default(),
            )
        };
        for header in ["drive,measured,approach", "Servo,Winkel,Seite", "Drive [deg],Winkel,x"] {
            let table = table(header).unwrap();
            assert_eq!(
                (table.headings()[0].name.as_str(), table.rows()),
                (header.split(',').next().unwrap(), 2)
            );
        }
        let long = "Heron\nwing, left\nby Joe, at noon, cold\n\ndrive,measured\n1,2\n3,4\n";
        assert_eq!(measured(long), Ok(vec![2.0, 4.0]));
        // Rows of text below a header are no titles.
        assert_eq!(measured("measured,note\n2,drive\n4,x\n"), Ok(vec![2.0, 4.0]));
    }

    #[test]
    fn a_second_table_is_told_with_its_line() {
        for second in [
            "drive,measured\n5,6\n",
            "Left wing,\ndrive,measured\n5,6\n",
            "time,drive,measured\n0,5,6\n",
        ] {
            let refused = measured(&format!("drive,measured\n1,2\n3,4\n\n{second}")).unwrap_err();
            let line = if second.starts_with("Left") { 6 } else { 5 };
            assert!(
                refused.starts_with(&format!(
                    "line {line}: a second table begins here: this row names columns, as the header in line 1 does"
                )),
                "{refused}"
            );
        }
    }

    #[test]
    fn moments_may_have_a_date() {
        let times = |rows: &str| {
            let table = Table::parse(
                format!("drive,measured,time\n{rows}").into_bytes(),
                TableOptions::default(),
            )
            .unwrap();
            table
                .readings(&crate::robot::ReadingColumns::default(), &[])
                .map(|readings| readings.time.unwrap())
                .map_err(|error| error.to_string())
        };
        assert_eq!(
            times("1,2,2026-11-20 23:59:59\n1,2,2026-11-21T00:00:00.5\n1,2,2026-11-21T00:00:02Z\n"),
            Ok(vec![86399.0, 86400.5, 86402.0])
        );
        let refused = times("1,2,20.11.2026 14:00:00\n").unwrap_err();
        assert!(
            refused.contains("with a day before it as in 2026-11-20 14:00:00"),
            "{refused}"
        );
    }

    #[test]
    fn rows_longer_than_the_header_are_refused_and_not_cut() {
        let says = |cells: u32| {
            format!(
                "line 2: the row has {cells} cells, the header 2; is a comma meant as a decimal point, or a separator stray?"
            )
        };
        for rows in 1..5 {
            assert_eq!(
                measured(&format!("drive,measured\n{}", "26,-60,5\n".repeat(rows))),
                Err(says(3)),
                "{rows}"
            );
            assert_eq!(
                measured(&format!("drive,measured\n{}", "26,5,-60,5\n".repeat(rows))),
                Err(says(4)),
                "{rows}"
            );
            // Empty cells at the end are a spreadsheet's.
            let wide = format!("drive,measured\n{}", "26,-60.5,,\n".repeat(rows));
            assert_eq!(measured(&wide), Ok(vec![-60.5; rows]));
        }
        // A title with commas above a header.
        let titled = "Wing, left side, taken at noon\ndrive,measured\n1,2\n3,4\n";
        assert_eq!(measured(titled), Ok(vec![2.0, 4.0]));
    }

    #[test]
    fn commas_in_quotes_are_decimal_ones() {
        let text = "drive,measured\n\"20,5\",\"-60,5\"\n\"21\",\"0,125\"\n\"22,0\",\"\u{2212}3,25\"\n";
        assert_eq!(measured(text), Ok(vec![-60.5, 0.125, -3.25]));
        for thousands in ["1,500", "-12,000", "1,500,000"] {
            let refused = measured(&format!("drive,measured\n1,\"{thousands}\"\n")).unwrap_err();
            assert!(refused.contains("decimal comma or one in thousands"), "{refused}");
        }
        let mixed = measured("drive,measured\n1,2.5\n2,\"3,5\"\n").unwrap_err();
        assert!(mixed.contains("write all alike"), "{mixed}");
    }

    #[test]
    fn a_header_without_rows_is_refused_where_readings_are_sought() {
        let table = Table::parse(b"drive,measured\n".to_vec(), TableOptions::default()).unwrap();
        let refused = table
            .readings(&crate::robot::ReadingColumns::default(), &[])
            .unwrap_err();
        assert!(refused.to_string().contains("a header and no rows"), "{refused}");
    }
}
