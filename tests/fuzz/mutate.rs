//! Seeded changes of texts and bytes that know their structure: numbers, words, lines.
#![allow(dead_code, reason = "each program that takes this file in uses some of it")]

/// A small generator of our own, so that a seed means the same everywhere (xorshift64*, Vigna 2016).
pub(crate) struct Random(u64);

impl Random {
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    pub(crate) fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D)
    }

    pub(crate) fn below(&mut self, most: usize) -> usize {
        ((self.next() >> 33) as usize) % most.max(1)
    }

    pub(crate) fn pick<'a, T: ?Sized>(&mut self, of: &[&'a T]) -> &'a T {
        of[self.below(of.len())]
    }

    /// From 0 to 1.
    pub(crate) fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// A number of a size that occurs, often one that is none.
    pub(crate) fn number(&mut self) -> f64 {
        match self.below(12) {
            0 => self
                .pick(&[&0.0, &-0.0, &1.0, &-1.0, &180.0, &360.0, &1e-300, &5e-324])
                .to_owned(),
            1 => self
                .pick(&[&f64::NAN, &f64::INFINITY, &f64::NEG_INFINITY, &f64::MAX, &f64::MIN])
                .to_owned(),
            2 => f64::from_bits(self.next()),
            3 => self
                .pick(&[&1e-90, &1e90, &1e308, &1e12, &1.0000001e12, &1e9, &1e-6])
                .to_owned(),
            4 => self.below(5_000) as f64,
            _ => (self.share() - 0.3) * 400.0,
        }
    }

    /// Two that rise, mostly.
    pub(crate) fn pair(&mut self) -> [f64; 2] {
        let (a, b) = (self.number(), self.number());
        if a > b && self.below(8) > 0 { [b, a] } else { [a, b] }
    }
}

/// What breaks readers of numbers.
const NUMBERS: &[&str] = &[
    "0",
    "-0.0",
    "1",
    "-1",
    "nan",
    "inf",
    "-inf",
    "1e308",
    "-1e308",
    "1e-320",
    "1e12",
    "1.1e12",
    "1e90",
    "1e-90",
    "1e9",
    "9223372036854775807",
    "-9223372036854775808",
    "65535",
    "65536",
    "4294967295",
    "0.1",
    "1_0",
    "1e",
    "\"\"",
    "[]",
    "{}",
    "true",
    "2026-02-30",
    "2026-11-20",
    "0x7f",
    "1,5",
];

/// One change after another; mostly few.
pub(crate) fn mutate(random: &mut Random, text: &str, other: &str, words: &[&str]) -> String {
    let mut text = text.to_owned();
    for _ in 0..=random.below(3) {
        text = once(random, &text, other, words);
    }
    text
}

fn once(random: &mut Random, text: &str, other: &str, words: &[&str]) -> String {
    let lines: Vec<&str> = text.split_inclusive('\n').collect();
    let mut changed: Vec<&str> = lines.clone();
    let at = random.below(lines.len());
    match random.below(10) {
        // A number becomes another.
        0..=3 => return replace_token(random, text, |c| c.is_ascii_digit() || "+-.eE_".contains(c), NUMBERS),
        // A word becomes another.
        4 | 5 => return replace_token(random, text, |c| c.is_alphanumeric() || c == '_' || c == '-', words),
        6 => drop(changed.drain(at..(at + 1).min(lines.len()))),
        7 => changed.insert(at, lines.get(random.below(lines.len())).copied().unwrap_or("\n")),
        8 => {
            let others: Vec<&str> = other.split_inclusive('\n').collect();
            changed.insert(at, others.get(random.below(others.len())).copied().unwrap_or("\n"));
        }
        _ => {
            // Cut off, or a character in a wrong place.
            let bytes: Vec<usize> = text.char_indices().map(|(at, _)| at).collect();
            let at = bytes.get(random.below(bytes.len())).copied().unwrap_or(0);
            if random.below(4) == 0 {
                return text[..at].to_owned();
            }
            let stray = random.pick(&[
                "\"", "#", "=", "[", "]", "{", "}", "\r\n", "\u{0}", "ä", ".", ",", "<", ">", "&", "\u{2028}",
            ]);
            return format!("{}{stray}{}", &text[..at], &text[at..]);
        }
    }
    changed.concat()
}

fn replace_token(random: &mut Random, text: &str, belongs: impl Fn(char) -> bool, with: &[&str]) -> String {
    let mut tokens: Vec<(usize, usize)> = Vec::new();
    for (at, c) in text.char_indices().filter(|&(_, c)| belongs(c)) {
        match tokens.last_mut() {
            Some((_, end)) if *end == at => *end = at + c.len_utf8(),
            _ => tokens.push((at, at + c.len_utf8())),
        }
    }
    let Some(&(start, end)) = tokens.get(random.below(tokens.len())) else {
        return text.to_owned();
    };
    format!("{}{}{}", &text[..start], random.pick(with), &text[end..])
}

/// Some bytes of an image, changed.
pub(crate) fn mutate_bytes(random: &mut Random, bytes: &[u8]) -> Vec<u8> {
    let mut bytes = bytes.to_vec();
    for _ in 0..=random.below(4) {
        let at = random.below(bytes.len());
        match random.below(8) {
            0 => bytes.truncate(at),
            1 => bytes.insert(at.min(bytes.len()), random.next() as u8),
            2 => {
                if let Some(byte) = bytes.get_mut(at) {
                    *byte = [0, 1, 0x7f, 0x80, 0xff][random.below(5)];
                }
            }
            _ => {
                if let Some(byte) = bytes.get_mut(at) {
                    *byte ^= 1 << random.below(8);
                }
            }
        }
    }
    bytes
}
