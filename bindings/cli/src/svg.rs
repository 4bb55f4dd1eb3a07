//! A small SVG writer: numbers short, texts escaped, and the look that all pictures share.

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

/// The look: ink on paper, a slate for what may be used, ochre hatching for what is kept clear, brick for stops, and brick
/// hatching the other way for where something holds a joint, its place unknown. Every meaning has a shape or a word besides its colour.
pub(crate) const STYLE: &str = "\
text{font-family:Georgia,'Times New Roman',serif;font-size:13px;fill:#22282b}\
.small{font-size:11px}.title{font-size:15px;font-weight:bold}\
.axis{stroke:#22282b;stroke-width:1}.grid{stroke:#d9d4c7;stroke-width:1}\
.travel{fill:#cfe0e0;stroke:#2f5d62;stroke-width:1.5}.range{fill:none;stroke:#5a6468;stroke-width:1;stroke-dasharray:4 3}\
.guard{fill:url(#guard);stroke:#8a5a00;stroke-width:.8}.held{fill:url(#held);stroke:#8c2f1b;stroke-width:.8}.stop{stroke:#8c2f1b;stroke-width:3}\
.known{fill:#8c2f1b;fill-opacity:.22;stroke:none}.rest{fill:#22282b}\
.model{fill:none;stroke:#2f5d62;stroke-width:2}.reading{fill:#fbf9f3;stroke:#22282b;stroke-width:1.2}\
.stem{stroke:#2f5d62;stroke-width:1}.left{fill:#2f5d62}.knot{fill:none;stroke:#2f5d62;stroke-width:1.6}\
.rejected{stroke:#8c2f1b;stroke-width:2;fill:none}";

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

    /// The picture, with a name and a description for those who cannot see it. `id` makes its inner names unique.
    pub(crate) fn finish(self, id: &str, title: &str, description: &str) -> String {
        let Self { body, width, height } = self;
        let (id, title, description) = (escape(id), escape(title), escape(description));
        // Ids are unique in a page that holds many pictures; the last rule of the same name holds for all, and all are alike.
        let style = ["guard", "held"].iter().fold(STYLE.to_owned(), |style, name| {
            style.replace(&format!("#{name}"), &format!("#{id}-{name}"))
        });
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" width=\"{width}\" height=\"{height}\" \
             role=\"img\" aria-labelledby=\"{id}-t {id}-d\">\n\
             <title id=\"{id}-t\">{title}</title>\n<desc id=\"{id}-d\">{description}</desc>\n\
             <defs><style>{style}</style>\
             <pattern id=\"{id}-guard\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\">\
             <rect width=\"6\" height=\"6\" fill=\"#fbf3df\"/><rect width=\"2\" height=\"6\" fill=\"#b98a2e\"/></pattern>\
             <pattern id=\"{id}-held\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(-45)\">\
             <rect width=\"6\" height=\"6\" fill=\"#fbf9f3\"/><rect width=\"1.5\" height=\"6\" fill=\"#8c2f1b\"/></pattern></defs>\n\
             {body}</svg>\n"
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
        let decimals = if step < 1.0 { (-step.log10()).ceil() as usize } else { 0 };
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
