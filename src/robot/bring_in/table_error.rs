//! Why a table was not read, and what would help.

use crate::code::Code;
use std::borrow::ToOwned as _;
use std::format;
use std::string::String;
use std::vec::Vec;

/// What would help, for surfaces to say in their own words.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum Remedy {
    /// The sentence says all.
    None,
    /// Another character seems to separate the columns.
    Separator(char),
    /// Say the character before the decimals; it seems to be this.
    Decimal(char),
    /// Say the unit of the drive column.
    DriveUnit,
    /// Name a column: that of a part of the readings (`drive`, `measured`, `approach` and so on), if it was sought for one.
    Column(Option<&'static str>),
    /// Name several columns: those of these parts of the readings.
    Columns {
        /// The parts.
        parts: Vec<&'static str>,
        /// A column that holds words of sides, which may be named too.
        sides: Option<String>,
    },
    /// Take only the rows that hold this value.
    Where {
        /// The column, by its heading.
        column: String,
        /// The value: the joint that was sought, where the column holds its name.
        value: String,
        /// Whether it is that joint.
        is_sought: bool,
    },
}

/// Why a table was not read.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct TableError {
    /// The frozen code.
    pub code: Code,
    /// The line, counted from 1.
    pub line: Option<u32>,
    /// The column, counted from 1.
    pub column: Option<u32>,
    /// What is wrong and what would be right.
    pub sentence: String,
    /// What would help beside.
    pub remedy: Remedy,
}

impl TableError {
    pub(super) fn new(code: Code, line: Option<u32>, sentence: impl Into<String>) -> Self {
        Self {
            code,
            line,
            column: None,
            sentence: sentence.into(),
            remedy: Remedy::None,
        }
    }

    pub(super) fn or(mut self, remedy: Remedy) -> Self {
        self.remedy = remedy;
        self
    }
}

impl core::fmt::Display for TableError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        if let Some(line) = self.line {
            write!(f, "line {line}: ")?;
        }
        f.write_str(&self.sentence)
    }
}

impl std::error::Error for TableError {}

impl TableError {
    /// The same sentence under another name of the file.
    #[must_use]
    pub fn in_file(&self, name: &str) -> String {
        let place = self.line.map_or(String::new(), |line| format!(":{line}"));
        format!("{}{place}: {}", name.to_owned(), self.sentence)
    }
}
