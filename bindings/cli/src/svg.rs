//! A small SVG writer: numbers short, texts escaped, and the look that all pictures share.

use elbowroom::look::{self, Colour};
use std::fmt::Write as _;

/// Text made safe for XML and HTML, in elements and in attributes.
pub(crate) fn escape(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            // XML knows no other control characters, not even escaped ones.
            c if c.is_control() && !matches!(c, '\n' | '\t') => safe.push('\u{fffd}'),
            c => safe.push(c),
        }
    }
    safe
}

/// Marks and lines; colours are those of the core's [`look`], by name. Every meaning has a shape or a word besides its colour.
const STYLE: &str = "\
text{font-family:Georgia,'Times New Roman',serif;font-size:17px;fill:var(--ink)}\
.small{font-size:16px}.title{font-size:19px;font-weight:bold}.paper{fill:var(--paper)}\
.axis{stroke:var(--ink);stroke-width:1}.grid{stroke:var(--grid);stroke-width:1}\
.travel{fill:var(--travel);fill-opacity:.3;stroke:var(--travel);stroke-width:1.5}\
.servo{fill:var(--grid);fill-opacity:.5;stroke:none}\
.range{fill:none;stroke:var(--quiet);stroke-width:1.2;stroke-dasharray:5 4}\
.guard{fill:url(#guard);stroke:var(--guard);stroke-width:1}.held{fill:url(#held);stroke:var(--stop);stroke-width:1}\
.stop{stroke:var(--stop);stroke-width:3}.known{fill:var(--stop);fill-opacity:.25;stroke:none}.rest{fill:var(--ink)}\
.clear{stroke:var(--ink);stroke-width:1.5}.ring{fill:var(--card);stroke:var(--ink);stroke-width:1.5}\
.model{fill:none;stroke:var(--ink);stroke-width:2}.by-side{fill:none;stroke:var(--ink);stroke-width:1;stroke-dasharray:2 3}\
.band{fill:var(--ink);fill-opacity:.08;stroke:none}\
.below{fill:var(--card);stroke:var(--below);stroke-width:1.6}.above{fill:var(--above);stroke:var(--above);stroke-width:1.6}\
.reading{fill:var(--card);stroke:var(--below);stroke-width:1.6}\
.knot{fill:none;stroke:var(--ink);stroke-width:1.6}.trend{fill:none;stroke:var(--ink);stroke-width:1.2}\
.rejected{stroke:var(--stop);stroke-width:2.2;fill:none}.outside{fill:var(--stop)}";

/// The colours as variables of a style sheet.
fn variables(of: impl Fn(&Colour) -> &'static str) -> String {
    look::COLOURS
        .iter()
        .map(|colour| format!("--{}:{};", colour.name, of(colour)))
        .collect()
}

/// The look as a style sheet: light, dark where the reader's screen is, light on paper.
pub(crate) fn style_sheet() -> String {
    let (light, dark) = (variables(|colour| colour.light), variables(|colour| colour.dark));
    format!(
        ":root{{color-scheme:light dark;{light}}}@media screen and (prefers-color-scheme:dark){{:root{{{dark}}}}}\n{STYLE}"
    )
}

/// The hatchings, once for a page.
pub(crate) const PATTERNS: &str = "\
<pattern id=\"guard\" width=\"7\" height=\"7\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\">\
<rect width=\"7\" height=\"7\" style=\"fill:var(--card)\"/><rect width=\"2.5\" height=\"7\" style=\"fill:var(--guard)\"/></pattern>\
<pattern id=\"held\" width=\"7\" height=\"7\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(-45)\">\
<rect width=\"7\" height=\"7\" style=\"fill:var(--card)\"/><rect width=\"2\" height=\"7\" style=\"fill:var(--stop)\"/></pattern>";

/// Where a picture stands; its id makes its inner names unique there.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Frame<'a> {
    /// In a file of its own, with its style.
    Alone(&'a str),
    /// In a page that has [`style_sheet`] and [`PATTERNS`].
    Within(&'a str),
}

/// A picture being drawn.
pub(crate) struct Svg {
    body: String,
    width: f64,
    height: f64,
}

impl Svg {
    pub(crate) fn new(width: f64, height: f64) -> Self {
        Self {
            body: String::new(),
            width,
            height,
        }
    }

    /// Makes the picture at least so high.
    pub(crate) fn reach(&mut self, height: f64) {
        self.height = self.height.max(height);
    }

    /// The picture, with a name and a description for those who cannot see it.
    pub(crate) fn finish(self, frame: Frame<'_>, title: &str, description: &str) -> String {
        let Self { body, width, height } = self;
        let (title, description) = (escape(title), escape(description));
        let (id, own) = match frame {
            Frame::Alone(id) => {
                let own = format!(
                    "<defs><style>{}</style>{PATTERNS}</defs>\n<rect class=\"paper\" width=\"{width}\" height=\"{height}\"/>\n",
                    style_sheet()
                );
                (escape(id), own)
            }
            Frame::Within(id) => (escape(id), String::new()),
        };
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" width=\"{width}\" height=\"{height}\" \
             role=\"img\" aria-labelledby=\"{id}-t {id}-d\">\n\
             <title id=\"{id}-t\">{title}</title>\n<desc id=\"{id}-d\">{description}</desc>\n{own}{body}</svg>\n"
        )
    }

    pub(crate) fn line(&mut self, class: &str, from: (f64, f64), to: (f64, f64)) {
        let _ = writeln!(
            self.body,
            "<line class=\"{class}\" x1=\"{:.2}\" y1=\"{:.2}\" x2=\"{:.2}\" y2=\"{:.2}\"/>",
            from.0, from.1, to.0, to.1
        );
    }

    /// A rectangle between two corners, whichever way round.
    pub(crate) fn rect(&mut self, class: &str, a: (f64, f64), b: (f64, f64)) {
        let _ = writeln!(
            self.body,
            "<rect class=\"{class}\" x=\"{:.2}\" y=\"{:.2}\" width=\"{:.2}\" height=\"{:.2}\"/>",
            a.0.min(b.0),
            a.1.min(b.1),
            (b.0 - a.0).abs(),
            (b.1 - a.1).abs()
        );
    }

    pub(crate) fn polyline(&mut self, class: &str, points: impl IntoIterator<Item = (f64, f64)>) {
        let _ = write!(self.body, "<polyline class=\"{class}\" points=\"");
        for (x, y) in points {
            let _ = write!(self.body, "{x:.2},{y:.2} ");
        }
        self.body.push_str("\"/>\n");
    }

    pub(crate) fn polygon(&mut self, class: &str, points: &[(f64, f64)]) {
        let _ = write!(self.body, "<polygon class=\"{class}\" points=\"");
        for (x, y) in points {
            let _ = write!(self.body, "{x:.2},{y:.2} ");
        }
        self.body.push_str("\"/>\n");
    }

    pub(crate) fn circle(&mut self, class: &str, (x, y): (f64, f64), radius: f64) {
        let _ = writeln!(
            self.body,
            "<circle class=\"{class}\" cx=\"{x:.2}\" cy=\"{y:.2}\" r=\"{radius}\"/>"
        );
    }

    /// Level lines at round values, about so many, from `left` to `right`, with their numbers on the left.
    pub(crate) fn rungs(&mut self, y: &Scale, about: f64, (left, right): (f64, f64)) {
        let (ticks, decimals) = y.ticks(about);
        for tick in ticks {
            self.line("grid", (left, y.at(tick)), (right, y.at(tick)));
            let place = (left - 6.0, y.at(tick) + 4.0);
            self.text("small", "end", place, &format!("{tick:.decimals$}"));
        }
    }

    /// A knot of a curve: a square around its place.
    pub(crate) fn knot(&mut self, (x, y): (f64, f64)) {
        self.rect("knot", (x - 5.0, y - 5.0), (x + 5.0, y + 5.0));
    }

    /// Text; `anchor` is `start`, `middle` or `end`.
    pub(crate) fn text(&mut self, class: &str, anchor: &str, (x, y): (f64, f64), text: &str) {
        let _ = writeln!(
            self.body,
            "<text class=\"{class}\" text-anchor=\"{anchor}\" x=\"{x:.2}\" y=\"{y:.2}\">{}</text>",
            escape(text)
        );
    }

    /// Text that reads upward.
    pub(crate) fn text_up(&mut self, (x, y): (f64, f64), text: &str) {
        let _ = writeln!(
            self.body,
            "<text text-anchor=\"middle\" transform=\"translate({x:.2} {y:.2}) rotate(-90)\">{}</text>",
            escape(text)
        );
    }
}

/// Width of a letter of the small size, about.
const LETTER: f64 = 8.4;
/// Height of a row of a legend.
const LEGEND_ROW: f64 = 26.0;

/// The legend below a picture, filled row by row: only what is drawn is put into it.
pub(crate) struct Legend {
    left: f64,
    right: f64,
    at: (f64, f64),
}

impl Legend {
    /// A legend between two places, whose first row of text stands here.
    pub(crate) fn new(left: f64, right: f64, first: f64) -> Self {
        Self {
            left,
            right,
            at: (left, first),
        }
    }

    /// One entry: a mark drawn about the place given, and its words.
    pub(crate) fn item(&mut self, svg: &mut Svg, text: &str, draw: impl Fn(&mut Svg, (f64, f64))) {
        let width = 36.0 + LETTER * text.chars().count() as f64;
        if self.at.0 > self.left && self.at.0 + width > self.right {
            self.at = (self.left, self.at.1 + LEGEND_ROW);
        }
        let (x, y) = self.at;
        draw(svg, (x + 12.0, y - 5.0));
        svg.text("small", "start", (x + 30.0, y), text);
        self.at.0 += width + 16.0;
        svg.reach(y + 14.0);
    }

    /// An entry for an area.
    pub(crate) fn area(&mut self, svg: &mut Svg, text: &str, class: &str) {
        self.item(svg, text, |svg, (x, y)| {
            svg.rect(class, (x - 10.0, y - 7.0), (x + 10.0, y + 7.0))
        });
    }

    /// An entry for a line.
    pub(crate) fn line(&mut self, svg: &mut Svg, text: &str, class: &str) {
        self.item(svg, text, |svg, (x, y)| svg.line(class, (x - 11.0, y), (x + 11.0, y)));
    }
}

/// A straight scale from values to places on the paper.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Scale {
    from: (f64, f64),
    to: (f64, f64),
}

impl Scale {
    /// From an interval of values, which may have no width, to one of places.
    pub(crate) fn new(values: (f64, f64), places: (f64, f64)) -> Self {
        let (low, high) = values;
        let from = if high > low { values } else { (low - 1.0, low + 1.0) };
        Self { from, to: places }
    }

    /// One that holds all values, with a margin on either side in parts of their width.
    pub(crate) fn around(values: impl IntoIterator<Item = f64>, margin: f64, places: (f64, f64)) -> Self {
        let ends = (f64::INFINITY, f64::NEG_INFINITY);
        let (low, high) = values
            .into_iter()
            .fold(ends, |(low, high), value| (low.min(value), high.max(value)));
        let edge = (high - low) * margin;
        Self::new((low - edge, high + edge), places)
    }

    /// The values at both ends.
    pub(crate) const fn values(&self) -> (f64, f64) {
        self.from
    }

    pub(crate) fn at(&self, value: f64) -> f64 {
        let share = (value - self.from.0) / (self.from.1 - self.from.0);
        self.to.0 + share * (self.to.1 - self.to.0)
    }

    /// Round values to mark, about so many, and the decimals they need.
    pub(crate) fn ticks(&self, about: f64) -> (Vec<f64>, usize) {
        let rough = (self.from.1 - self.from.0) / about;
        let power = 10f64.powf(rough.log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0]
            .into_iter()
            .map(|m| m * power)
            .find(|step| *step >= rough)
            .unwrap_or(rough);
        // The logarithm of a step of 0.1 may come out a rounding below -1.
        let decimals = if step < 1.0 {
            (-step.log10() - 1e-9).ceil() as usize
        } else {
            0
        };
        let first = (self.from.0 / step).ceil() as i64;
        let last = (self.from.1 / step).floor() as i64;
        ((first..=last).map(|n| n as f64 * step).collect(), decimals)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_inside() {
        let (ticks, decimals) = Scale::new((0.0, 180.0), (0.0, 1.0)).ticks(6.0);
        assert_eq!((ticks, decimals), (vec![0.0, 50.0, 100.0, 150.0], 0));
        let (ticks, decimals) = Scale::new((-0.11, 0.32), (0.0, 1.0)).ticks(4.0);
        assert_eq!(decimals, 1);
        assert!(ticks.iter().all(|tick| (-0.11..=0.32).contains(tick)) && ticks.len() >= 2);
        assert!(
            Scale::new((5.0, 5.0), (0.0, 10.0)).at(5.0) == 5.0,
            "no width is given some"
        );
    }

    #[test]
    fn nothing_in_a_text_can_leave_it() {
        assert_eq!(escape("<a & \"b\">\u{0}"), "&lt;a &amp; &quot;b&quot;&gt;\u{fffd}");
    }
}
