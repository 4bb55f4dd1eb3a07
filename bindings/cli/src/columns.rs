//! Tables of text: a line for each row, or a short block for each where lines are too narrow for that.

use crate::paint::strong;
use crate::voice;
use std::fmt::Write as _;

/// Where the cells of a column stand, and how wide it is. The last column takes what it needs.
pub(crate) enum Column<'a> {
    Left(&'a str, usize),
    Right(&'a str, usize),
    Rest(&'a str),
}

impl Column<'_> {
    const fn head(&self) -> &str {
        match self {
            Self::Left(head, _) | Self::Right(head, _) | Self::Rest(head) => head,
        }
    }

    fn cell(&self, cell: &str) -> String {
        match *self {
            Self::Left(_, width) => format!("{cell:<width$}"),
            Self::Right(_, width) => format!("{cell:>width$}"),
            Self::Rest(_) => format!("  {cell}"),
        }
    }

    const fn width(&self) -> usize {
        match self {
            Self::Left(_, width) | Self::Right(_, width) => *width,
            // Room for a word.
            Self::Rest(head) => 2 + head.len(),
        }
    }
}

/// A table, its first column the name of the row.
pub(crate) struct Columns<'a> {
    all: &'a [Column<'a>],
    is_narrow: bool,
}

impl<'a> Columns<'a> {
    /// For the lines of standard output.
    pub(crate) fn new(all: &'a [Column<'a>]) -> Self {
        Self::within(all, voice::width())
    }

    fn within(all: &'a [Column<'a>], width: Option<usize>) -> Self {
        let whole: usize = all.iter().map(Column::width).sum();
        Self {
            all,
            is_narrow: width.is_some_and(|width| width < whole),
        }
    }

    /// What the columns hold; in blocks each line says it.
    pub(crate) fn head(&self, text: &mut String) {
        if !self.is_narrow {
            let head: String = self.all.iter().map(|column| column.cell(column.head())).collect();
            let _ = writeln!(text, "{}", strong(head.trim_end()));
        }
    }

    pub(crate) fn row(&self, text: &mut String, cells: &[&str]) {
        let pairs = || self.all.iter().zip(cells);
        if !self.is_narrow {
            let line: String = pairs().map(|(column, cell)| column.cell(cell)).collect();
            let _ = writeln!(text, "{}", line.trim_end());
            return;
        }
        let label = self.all.iter().map(|column| column.head().len()).max().unwrap_or(0);
        for (index, (column, cell)) in pairs().enumerate() {
            let (head, cell) = (column.head(), cell.trim());
            let _ = match column {
                Column::Left(..) if index == 0 => writeln!(text, "{}", strong(cell)),
                _ if index == 0 => writeln!(text, "{}", strong(&format!("{head} {cell}"))),
                _ if cell.is_empty() => Ok(()),
                _ if head.is_empty() => writeln!(text, "  {cell}"),
                _ => writeln!(text, "  {head:<label$} {cell}"),
            };
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_is_a_line_or_a_block() {
        let columns = [
            Column::Left("joint", 8),
            Column::Right("rest", 8),
            Column::Right("", 4),
            Column::Rest("ends"),
        ];
        let told = |width| {
            let mut text = String::new();
            let table = Columns::within(&columns, width);
            table.head(&mut text);
            table.row(&mut text, &["beak", "12", "", "xo"]);
            anstream::adapter::strip_str(&text).to_string()
        };
        let line = "joint       rest      ends\nbeak          12      xo\n";
        assert_eq!(told(None), line);
        assert_eq!(told(Some(26)), line);
        assert_eq!(told(Some(25)), "beak\n  rest  12\n  ends  xo\n");
    }
}
