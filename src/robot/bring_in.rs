//! Tables of readings as people and loggers write them.
//!
//! Read are: columns separated by commas, semicolons, tabs or blanks; decimals with a point or a comma; UTF-8 and UTF-16, with a byte order mark or
//! without; lines that
//! end with a line feed, with a carriage return before it or not; blank rows and rows of nothing but separators; lines that begin with
//! `#`; cells in quotes, with line breaks in them; a title above the header, and names of groups of columns; units in the header (`drive_us`, `measured [deg]`); no header at all, where the first two columns
//! are drive and measured; a true minus sign; a column's unit behind a number. Lines are counted as an editor counts them.
//!
//! Refused are rows that name no joint where a column names the others', and names written in two ways; the rows of several joints where those of one are sought, which a column of names shows; and what may be meant otherwise: thousands with a mark between them, and a number that may be in thousands by the decimals of
//! the other columns, or by what its own column holds: timer counts, pulse widths in us and readings of a converter are mostly whole.

mod cell;
mod columns;
mod decimals;
mod encoding;
mod groups;
mod head;
mod heading;
mod names;
mod numbers;
mod readings;
mod table;
mod table_error;
mod units;

pub use columns::ReadingColumns;
pub use groups::RowGroups;
pub use heading::{AmbiguousUnit, Heading, unit_named};
pub use names::NamesFault;
pub use readings::TableReadings;
pub use table::{Table, TableOptions};
pub use table_error::{Remedy, TableError};
pub use units::MeasuredAs;
