//! A small SVG writer: numbers short, texts escaped, and the look that all pictures share.

use elbowroom::look::{self, Area, Colour, Filling, Inside, Line, Mark, Shape};
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

/// Letters and paper; how marks, lines and areas are drawn is told by the core's [`look`].
const STYLE: &str = "\
text{font-family:Georgia,'Times New Roman',serif;font-size:17px;fill:var(--ink)}\
.small{font-size:16px}.over{paint-order:stroke;stroke:var(--card);stroke-width:4px;stroke-linejoin:round}.title{font-size:19px;font-weight:bold}.paper{fill:var(--paper)}";

/// Marks, lines and areas as classes of a style sheet, each by its name.
fn classes() -> String {
    let mut css = String::new();
    for Line {
        name,
        colour,
        width,
        dashes,
    } in look::LINES
    {
        let _ = write!(
            css,
            ".{name}{{fill:none;stroke:var(--{});stroke-width:{width}",
            colour.name
        );
        if let [dash, gap] = dashes {
            let _ = write!(css, ";stroke-dasharray:{dash} {gap}");
        }
        css.push('}');
    }
    for Area {
        name,
        colour,
        filling,
        edge,
    } in look::AREAS
    {
        let _ = match filling {
            Filling::Tint(opacity) => write!(css, ".{name}{{fill:var(--{});fill-opacity:{opacity}", colour.name),
            _ => write!(css, ".{name}{{fill:url(#{name})"),
        };
        let _ = match *edge {
            0.0 => write!(css, ";stroke:none}}"),
            edge => write!(css, ";stroke:var(--{});stroke-width:{edge}}}", colour.name),
        };
    }
    for Mark {
        name,
        colour,
        inside,
        width,
        ..
    } in look::MARKS
    {
        let fill = match inside {
            Inside::Nothing => "none".to_owned(),
            Inside::Paper => "var(--card)".to_owned(),
            _ => format!("var(--{})", colour.name),
        };
        let _ = match *width {
            0.0 => write!(css, ".{name}{{fill:{fill}}}"),
            width => write!(
                css,
                ".{name}{{fill:{fill};stroke:var(--{});stroke-width:{width}}}",
                colour.name
            ),
        };
    }
    css
}

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
        ":root{{color-scheme:light dark;{light}}}@media screen and (prefers-color-scheme:dark){{:root{{{dark}}}}}\n{STYLE}{}",
        classes()
    )
}

/// The hatchings, once for a page.
pub(crate) fn patterns() -> String {
    let hatched = look::AREAS.iter().filter_map(|area| match area.filling {
        Filling::Rising => Some((area, 45)),
        Filling::Falling => Some((area, -45)),
        _ => None,
    });
    hatched
        .map(|(Area { name, colour, .. }, turned)| {
            format!(
                "<pattern id=\"{name}\" width=\"7\" height=\"7\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate({turned})\">\
                 <rect width=\"7\" height=\"7\" style=\"fill:var(--card)\"/>\
                 <rect width=\"2.2\" height=\"7\" style=\"fill:var(--{})\"/></pattern>",
                colour.name
            )
        })
        .collect()
}

/// Where a picture stands; its id makes its inner names unique there.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Frame<'a> {
    /// In a file of its own, with its style.
    Alone(&'a str),
    /// In a page that has [`style_sheet`] and [`patterns`].
    Within(&'a str),
}

/// A picture being drawn.
pub(crate) struct Svg {
    body: String,
    width: f64,
    height: f64,
    /// Where the picture begins in a page, which names it itself.
    top: f64,
}

impl Svg {
    pub(crate) fn new(width: f64, height: f64) -> Self {
        Self {
            body: String::new(),
            width,
            height,
            top: 0.0,
        }
    }

    /// Leaves out in a page what stands above: the room of the title.
    pub(crate) const fn begin_below_title(&mut self, top: f64) {
        self.top = top;
    }

    /// Makes the picture at least so high.
    pub(crate) fn reach(&mut self, height: f64) {
        self.height = self.height.max(height);
    }

    /// The picture, with a name and a description for those who cannot see it.
    pub(crate) fn finish(self, frame: Frame<'_>, title: &str, description: &str) -> String {
        let Self {
            body,
            width,
            height,
            top,
        } = self;
        let (title, description) = (escape(title), escape(description));
        let (id, own, top) = match frame {
            Frame::Alone(id) => {
                let own = format!(
                    "<defs><style>{}</style>{}</defs>\n<rect class=\"paper\" width=\"{width}\" height=\"{height}\"/>\n",
                    style_sheet(),
                    patterns()
                );
                (escape(id), own, 0.0)
            }
            Frame::Within(id) => (escape(id), String::new(), top),
        };
        let height = height - top;
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 {top} {width} {height}\" width=\"{width}\" height=\"{height}\" \
             role=\"img\" aria-labelledby=\"{id}-t\" aria-describedby=\"{id}-d\">\n\
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
        for (tick, text) in y.marks(about) {
            self.line("grid", (left, y.at(tick)), (right, y.at(tick)));
            self.text("small", "end", (left - 6.0, y.at(tick) + 4.0), &text);
        }
    }

    /// A mark of the core's look, by its name; it reaches so far from its place.
    pub(crate) fn point(&mut self, name: &str, (x, y): (f64, f64), size: f64) {
        let shape = look::MARKS.iter().find(|mark| mark.name == name).map(|mark| mark.shape);
        match shape {
            Some(Shape::Square) => self.rect(name, (x - size, y - size), (x + size, y + size)),
            Some(Shape::Right) => self.polygon(name, &[(x - size, y - size), (x + size, y), (x - size, y + size)]),
            Some(Shape::Left) => self.polygon(name, &[(x + size, y - size), (x - size, y), (x + size, y + size)]),
            Some(Shape::Up) => self.polygon(name, &[(x, y - size), (x - size, y + size), (x + size, y + size)]),
            Some(Shape::Cross) => {
                self.line(name, (x - size, y - size), (x + size, y + size));
                self.line(name, (x - size, y + size), (x + size, y - size));
            }
            _ => self.circle(name, (x, y), size),
        }
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

/// Width of a text of the small size, about: that of a wide serif face, so that narrower ones find room too.
pub(crate) fn text_width(text: &str) -> f64 {
    let width = |letter: char| match letter {
        '\u{300}'..='\u{36f}' => 0.0,
        ' ' | '.' | ',' | ':' | ';' | '\'' | '|' | '!' | 'i' | 'j' | 'l' => 5.2,
        '-' | '(' | ')' | '/' | 'f' | 't' => 6.4,
        'r' | 's' => 8.0,
        'm' | 'w' | 'M' | 'W' | '%' | '@' => 16.5,
        'A'..='Z' => 12.2,
        'a' | 'c' | 'e' | 'o' | 'v' | 'x' | 'y' | 'z' | '_' => 9.5,
        letter if letter >= '\u{2e80}' => 16.0,
        _ => 10.3,
    };
    text.chars().map(width).sum()
}

/// A text that finds room: what is too much is left out of its middle, as names often differ at their ends.
pub(crate) fn shortened(text: &str, room: f64) -> String {
    if text_width(text) <= room {
        return text.to_owned();
    }
    let letters: Vec<char> = text.chars().collect();
    for kept in (2..letters.len()).rev() {
        let (head, tail) = (kept / 2, letters.len() - kept.div_ceil(2));
        let start = letters.iter().take(head);
        let end = letters.iter().skip(tail);
        let short: String = start.chain(&['\u{2026}']).chain(end).collect();
        if text_width(&short) <= room {
            return short;
        }
    }
    "\u{2026}".to_owned()
}

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
        let width = 36.0 + text_width(text);
        if self.at.0 > self.left && self.at.0 + width > self.right {
            self.at = (self.left, self.at.1 + LEGEND_ROW);
        }
        let (x, y) = self.at;
        draw(svg, (x + 12.0, y - 5.0));
        svg.text("small", "start", (x + 30.0, y), text);
        self.at.0 += width + 16.0;
        svg.reach(y + 14.0);
    }

    /// Words in a row of their own.
    pub(crate) fn row(&mut self, svg: &mut Svg, text: &str) {
        if self.at.0 > self.left {
            self.at = (self.left, self.at.1 + LEGEND_ROW);
        }
        svg.text("small", "start", self.at, text);
        svg.reach(self.at.1 + 14.0);
        self.at = (self.left, self.at.1 + LEGEND_ROW);
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

    /// Round values to mark, about so many, and the decimals they need; three or more, where their numbers have room.
    pub(crate) fn ticks(&self, about: f64) -> (Vec<f64>, usize) {
        /// Least way between two marks that a halving or more may leave.
        const ROOM: f64 = 24.0;
        let found = self.about(about);
        let finer = self.about(2.0 * about);
        let way = (self.to.1 - self.to.0).abs() / (finer.0.len().max(2) - 1) as f64;
        if found.0.len() < 3 && finer.0.len() > found.0.len() && way >= ROOM {
            finer
        } else {
            found
        }
    }

    /// Round values to mark, about so many, each as it is written.
    pub(crate) fn marks(&self, about: f64) -> Vec<(f64, String)> {
        /// Numbers wider than five digits have powers of ten, where that makes them narrower.
        const WIDE: f64 = 55.0;
        let (ticks, decimals) = self.ticks(about);
        let plain: Vec<String> = ticks.iter().map(|tick| format!("{tick:.decimals$}")).collect();
        let most = ticks.iter().fold(0.0f64, |most, tick| most.max(tick.abs()));
        let step = ticks.windows(2).fold(most, |step, pair| match pair {
            [a, b] => step.min(b - a),
            _ => step,
        });
        let digits = if step > 0.0 {
            (most / step).log10().floor().max(0.0) as usize + 1
        } else {
            0
        };
        let powers: Vec<String> = ticks.iter().map(|tick| power_of_ten(*tick, digits)).collect();
        let width = |texts: &[String]| texts.iter().map(|text| text_width(text)).fold(0.0, f64::max);
        let texts = if width(&plain) > WIDE && width(&powers) < width(&plain) {
            powers
        } else {
            plain
        };
        ticks.into_iter().zip(texts).collect()
    }

    /// The same along a level axis: only as many as have room beside one another.
    pub(crate) fn marks_along(&self, about: f64) -> Vec<(f64, String)> {
        /// Between two numbers.
        const GAP: f64 = 12.0;
        let mut about = about;
        loop {
            let marks = self.marks(about);
            let room = marks.windows(2).all(|pair| match pair {
                [(a, text), (b, next)] => {
                    0.5 * (text_width(text) + text_width(next)) + GAP <= (self.at(*b) - self.at(*a)).abs()
                }
                _ => true,
            });
            if room || about <= 1.0 {
                return marks;
            }
            about *= 0.7;
        }
    }

    fn about(&self, about: f64) -> (Vec<f64>, usize) {
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

/// A number with a power of ten, in so many digits after its first, without zeros at the end: `4e-9`.
fn power_of_ten(value: f64, digits: usize) -> String {
    let short: f64 = format!("{value:.digits$e}").parse().unwrap_or(value);
    if short == 0.0 {
        "0".to_owned()
    } else {
        format!("{short:e}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_inside() {
        // Two would do, but there is room for more.
        let (ticks, _) = Scale::new((-90.0, 80.0), (0.0, 118.0)).ticks(2.95);
        assert_eq!(ticks, vec![-50.0, 0.0, 50.0]);
        assert_eq!(Scale::new((0.0, 0.98), (0.0, 50.0)).ticks(3.0).0, vec![0.0, 0.5]);
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
    fn numbers_at_an_axis_find_room() {
        let texts = |ends, about| -> Vec<String> {
            let scale = Scale::new(ends, (76.0, 636.0));
            scale.marks_along(about).into_iter().map(|(_, text)| text).collect()
        };
        assert_eq!(
            texts((-4e-9, 6e-9), 5.0),
            ["-4e-9", "-2e-9", "0", "2e-9", "4e-9", "6e-9"]
        );
        assert_eq!(texts((0.0, 9e11), 4.0), ["0", "2e11", "4e11", "6e11", "8e11"]);
        assert_eq!(texts((-0.006, 0.001), 4.0), ["-0.006", "-0.004", "-0.002", "0.000"]);
        assert_eq!(texts((0.0, 20_000.0), 4.0), ["0", "5000", "10000", "15000", "20000"]);
        // No power of ten tells these apart in fewer letters; fewer of them have room.
        assert_eq!(
            texts((1e6, 1e6 + 0.001), 9.0),
            ["1000000.0000", "1000000.0005", "1000000.0010"]
        );
    }

    #[test]
    fn a_long_name_keeps_its_end() {
        assert_eq!(shortened("wing_left", 180.0), "wing_left");
        let short = shortened("left_hind_leg_of_the_second_dragon_2", 180.0);
        assert!(
            short.starts_with("left_hin") && short.ends_with("dragon_2") && text_width(&short) <= 180.0,
            "{short}"
        );
        assert!(text_width(&shortened(&"W".repeat(64), 180.0)) <= 180.0);
    }

    #[test]
    fn nothing_in_a_text_can_leave_it() {
        assert_eq!(escape("<a & \"b\">\u{0}"), "&lt;a &amp; &quot;b&quot;&gt;\u{fffd}");
    }
}
