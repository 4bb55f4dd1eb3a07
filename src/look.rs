//! One look for all pictures: colours and words, each told once for the shell's pictures, its report and Python's plots.
//!
//! Every meaning has a mark or a word besides its colour.

/// A colour on light paper and on a dark screen, as `#rrggbb`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Colour {
    /// What it means.
    pub name: &'static str,
    /// On light paper.
    pub light: &'static str,
    /// On a dark screen.
    pub dark: &'static str,
}

/// A word beside a mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Label {
    /// What it stands for.
    pub name: &'static str,
    /// How it reads.
    pub text: &'static str,
}

macro_rules! colours {
    ($($constant:ident $name:literal $light:literal $dark:literal $says:literal)*) => {
        $(
            #[doc = $says]
            pub const $constant: Colour = Colour { name: $name, light: $light, dark: $dark };
        )*
        /// Every colour.
        pub const COLOURS: &[Colour] = &[$($constant),*];
    };
}

macro_rules! labels {
    ($($constant:ident $name:literal $text:literal)*) => {
        $(
            #[doc = concat!("\"", $text, "\".")]
            pub const $constant: Label = Label { name: $name, text: $text };
        )*
        /// Every label.
        pub const LABELS: &[Label] = &[$($constant),*];
    };
}

colours! {
    PAPER "paper" "#fbf9f3" "#1b2023" "What is drawn on."
    CARD "card" "#ffffff" "#242a2e" "What stands out from the paper."
    GRID "grid" "#d9d4c7" "#414a4e" "Lines at round values."
    QUIET "quiet" "#5a6468" "#a9b2b5" "What only helps to read the rest."
    INK "ink" "#22282b" "#ece8dd" "Texts, axes, the model."
    TRAVEL "travel" "#039176" "#2e8d8d" "What the joint may use."
    GUARD "guard" "#b07800" "#aea40a" "What is kept clear."
    STOP "stop" "#7c1e00" "#c84f40" "What holds the joint, and its interval; readings left out."
    BELOW "below" "#1b31db" "#977bff" "Readings reached with the drive rising, and from no noted side."
    ABOVE "above" "#6d2292" "#fe9df3" "Readings reached with the drive falling."
}

/// Colours that carry a meaning beside one another, told apart by readers of every colour vision.
pub const MEANINGS: &[Colour] = &[INK, TRAVEL, GUARD, STOP, BELOW, ABOVE];

labels! {
    DRIVE_ANGLE "drive-angle" "drive angle, deg"
    PULSE "pulse" "pulse width, \u{b5}s"
    MEASURED "measured" "measured"
    RESIDUAL "residual" "residual"
    READING_BELOW "reading-below" "reading, drive rising"
    READING_ABOVE "reading-above" "reading, drive falling"
    READING "reading" "reading, side not noted"
    LEFT_OUT "left-out" "left out as misreading"
    OUTSIDE "outside" "outside the frame"
    MODEL "model" "model"
    MODEL_BY_SIDE "model-by-side" "model of each side"
    KNOT "knot" "knot of the curve"
    STOP_FOUND "stop-found" "stop, and its interval"
    KEPT_CLEAR "kept-clear" "guard"
    STALLED "stalled" "stalled: something holds the joint in between"
    NO_STOP "no-stop" "no stop found"
    DECLARED "declared" "declared"
    TRAVEL_BAR "travel-bar" "travel"
    DRIVE_RANGE "drive-range" "drive range of the commands"
    SERVO_ANGLE "servo-angle" "servo's angles"
    REST "rest" "rest"
    CLAMPED "clamped" "clamped to the travel"
    UNCLAMPED "unclamped" "before clamping"
    LOST_MOTION "lost-motion" "lost motion"
    OBSTACLE "obstacle" "true obstacle"
    CONTACT "contact" "true contact"
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What readers of one kind of colour vision see of linear red, green and blue. Source: G. Machado, M. Oliveira, L. Fernandes,
    /// "A Physiologically-based Model for Simulation of Color Vision Deficiency" (2009), severity 1.
    const VISIONS: [(&str, [[f64; 3]; 3]); 4] = [
        ("common", [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]),
        (
            "protanopia",
            [
                [0.152_286, 1.052_583, -0.204_868],
                [0.114_503, 0.786_281, 0.099_216],
                [-0.003_882, -0.048_116, 1.051_998],
            ],
        ),
        (
            "deuteranopia",
            [
                [0.367_322, 0.860_646, -0.227_968],
                [0.280_085, 0.672_501, 0.047_413],
                [-0.011_820, 0.042_940, 0.968_881],
            ],
        ),
        (
            "tritanopia",
            [
                [1.255_528, -0.076_749, -0.178_779],
                [-0.078_411, 0.930_809, 0.147_602],
                [0.004_733, 0.691_367, 0.303_900],
            ],
        ),
    ];
    /// Least distance in CIE L*a*b* of two colours with a meaning: ten times what is just noticed.
    const APART: f64 = 23.0;
    /// Least contrast of a mark against its paper (WCAG 2.2, 1.4.11), and of text (1.4.3).
    const MARK_CONTRAST: f64 = 3.0;
    const TEXT_CONTRAST: f64 = 4.5;

    fn linear(hex: &str) -> [f64; 3] {
        let part = |at: usize| {
            let value = f64::from(u8::from_str_radix(&hex[at..at + 2], 16).unwrap()) / 255.0;
            if value <= 0.040_45 {
                value / 12.92
            } else {
                ((value + 0.055) / 1.055).powf(2.4)
            }
        };
        assert!(hex.len() == 7 && hex.starts_with('#'), "{hex}");
        [part(1), part(3), part(5)]
    }

    fn luminance([r, g, b]: [f64; 3]) -> f64 {
        0.2126 * r + 0.7152 * g + 0.0722 * b
    }

    fn contrast(a: &str, b: &str) -> f64 {
        let (a, b) = (luminance(linear(a)), luminance(linear(b)));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    fn lab(rgb: [f64; 3]) -> [f64; 3] {
        let [r, g, b] = rgb;
        let x = (0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.950_47;
        let z = (0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.088_83;
        let f = |t: f64| {
            if t > 0.008_856 {
                t.cbrt()
            } else {
                7.787 * t + 16.0 / 116.0
            }
        };
        let (x, y, z) = (f(x), f(luminance(rgb)), f(z));
        [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
    }

    #[test]
    fn meanings_are_told_apart_by_every_colour_vision() {
        for (vision, matrix) in VISIONS {
            let seen = |hex: &str| {
                let rgb = linear(hex);
                lab(matrix.map(|row| {
                    let sum: f64 = row.iter().zip(rgb).map(|(a, b)| a * b).sum();
                    sum.clamp(0.0, 1.0)
                }))
            };
            for (index, a) in MEANINGS.iter().enumerate() {
                for b in &MEANINGS[index + 1..] {
                    for (x, y) in [(a.light, b.light), (a.dark, b.dark)] {
                        let (p, q) = (seen(x), seen(y));
                        let apart = p.iter().zip(q).map(|(p, q)| (p - q).powi(2)).sum::<f64>().sqrt();
                        assert!(apart > APART, "{vision}: {} {x} and {} {y}: {apart:.1}", a.name, b.name);
                    }
                }
            }
        }
    }

    #[test]
    fn marks_and_texts_stand_out_from_their_paper() {
        for paper in [PAPER, CARD] {
            for colour in MEANINGS {
                assert!(contrast(colour.light, paper.light) > MARK_CONTRAST, "{}", colour.name);
                assert!(contrast(colour.dark, paper.dark) > MARK_CONTRAST, "{}", colour.name);
            }
            for colour in [INK, QUIET] {
                assert!(contrast(colour.light, paper.light) > TEXT_CONTRAST, "{}", colour.name);
                assert!(contrast(colour.dark, paper.dark) > TEXT_CONTRAST, "{}", colour.name);
            }
        }
    }
}
