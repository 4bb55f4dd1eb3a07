//! A picture of letters: points over drive angles, for any terminal.

use crate::paint::number;
use crate::voice;
use std::fmt::Write as _;

/// The widest picture, and its height.
const COLUMNS: usize = 72;
const ROWS: usize = 16;

/// What is drawn.
#[derive(Default)]
pub(crate) struct Letters {
    points: Vec<(f64, f64, char)>,
    uprights: Vec<(f64, char)>,
}

impl Letters {
    /// A point; later ones lie above earlier ones.
    pub(crate) fn point(&mut self, x: f64, y: f64, letter: char) {
        self.points.push((x, y, letter));
    }

    /// An upright line behind all points.
    pub(crate) fn upright(&mut self, x: f64, letter: char) {
        self.uprights.push((x, letter));
    }

    pub(crate) fn draw(&self, text: &mut String, legend: &str) {
        if self.points.is_empty() {
            return;
        }
        let columns = voice::width().map_or(COLUMNS, |width| COLUMNS.min(width.saturating_sub(4)));
        let ends = |values: &mut dyn Iterator<Item = f64>| {
            values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
                (low.min(v), high.max(v))
            })
        };
        let places = self.points.iter().map(|p| p.0).chain(self.uprights.iter().map(|u| u.0));
        let (left, right) = ends(&mut { places });
        let (low, high) = ends(&mut self.points.iter().map(|p| p.1));
        let place = |value: f64, from: f64, to: f64, cells: usize| {
            let part = if to > from { (value - from) / (to - from) } else { 0.5 };
            ((part * (cells - 1) as f64 + 0.5) as usize).min(cells - 1)
        };
        let mut rows = vec![vec![' '; columns]; ROWS];
        let mut set = |x: f64, row: usize, letter: char| {
            if let Some(cell) = rows
                .get_mut(row)
                .and_then(|r| r.get_mut(place(x, left, right, columns)))
            {
                *cell = letter;
            }
        };
        for row in 0..ROWS {
            self.uprights.iter().for_each(|&(x, letter)| set(x, row, letter));
        }
        for &(x, y, letter) in &self.points {
            set(x, ROWS - 1 - place(y, low, high, ROWS), letter);
        }
        let _ = writeln!(text, "\nreading {} to {}", number(low, 0), number(high, 0));
        for row in rows {
            let _ = writeln!(text, "  {}", row.into_iter().collect::<String>().trim_end());
        }
        let half = columns / 2;
        let _ = writeln!(text, "  {:<half$}{:>half$}", number(left, 1), number(right, 1));
        let _ = writeln!(text, "{legend}");
    }
}
