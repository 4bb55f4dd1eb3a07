//! The word that must be meant: how many typing errors lie between two words. Nothing is allocated, since a control program asks
//! for joints by name too.

use super::entry::JointEntry;
use core::fmt;
use std::string::String;
use std::vec::Vec;

/// Up to how many typing errors a word is taken for the one that was meant.
const NEAR: usize = 2;

/// Characters of a word that are compared; of longer ones the length alone counts beyond that.
const MOST: usize = 63;

/// The word nearest to the one given, and whether it must be meant.
pub(super) fn nearest<'k>(word: &str, known: impl IntoIterator<Item = &'k str>) -> Option<(&'k str, bool)> {
    let letters = |word: &'k str| word.chars().flat_map(char::to_lowercase);
    // Small and capital letters are no typing errors.
    let errors = |candidate: &'k str| match letters(candidate).eq(word.chars().flat_map(char::to_lowercase)) {
        true => 0,
        false => distance(word, candidate),
    };
    known
        .into_iter()
        .map(|candidate| (candidate, errors(candidate)))
        .min_by_key(|&(_, distance)| distance)
        .map(|(candidate, distance)| {
            // Of a short word most letters must be right.
            let length = word.chars().count().max(candidate.chars().count());
            (candidate, distance <= NEAR && 3 * distance <= length + 1)
        })
}

/// Whether a name begins with the one given, small and capital letters alike.
fn begins(known: &str, name: &str) -> bool {
    let beginning = known.get(..name.len()).filter(|part| !part.is_empty());
    beginning.is_some_and(|part| part.eq_ignore_ascii_case(name))
}

/// The one of several names that begins with the one given.
fn begun<'a>(name: &str, joints: &'a [JointEntry]) -> Option<&'a str> {
    let mut all = joints.iter().map(JointEntry::name).filter(|known| begins(known, name));
    all.next().filter(|_| all.next().is_none() && joints.len() > 1)
}

/// Characters that are missing, too many, wrong, or exchanged with their neighbour, so that one word becomes the other.
pub(super) fn distance(one: &str, other: &str) -> usize {
    let mut letters = ['\0'; MOST];
    for (place, letter) in letters.iter_mut().zip(other.chars()) {
        *place = letter;
    }
    // The last three rows of the classic table: before the last, the last, and the one that is made.
    let mut rows = [[0usize; MOST + 1]; 3];
    for (j, place) in rows[1].iter_mut().enumerate() {
        *place = j;
    }
    let mut above = '\0';
    for (i, letter) in one.chars().take(MOST).enumerate() {
        let [before, last, row] = &mut rows;
        let mut beside = i + 1;
        row[0] = beside;
        for (j, ((&across, over), cell)) in letters
            .iter()
            .zip(last.windows(2))
            .zip(row.iter_mut().skip(1))
            .enumerate()
        {
            let &[diagonal, up] = over else { continue };
            let mut least = (diagonal + usize::from(letter != across)).min(up + 1).min(beside + 1);
            let left = letters.get(j.wrapping_sub(1));
            if let (Some(&left), Some(&far)) = (left, before.get(j.wrapping_sub(1)))
                && i > 0
                && letter == left
                && above == across
            {
                least = least.min(far + 1);
            }
            *cell = least;
            beside = least;
        }
        above = letter;
        rows.rotate_left(1);
    }
    let (length, other_length) = (one.chars().count(), other.chars().count());
    let beyond = length.max(MOST).abs_diff(other_length.max(MOST));
    rows[1]
        .get(other_length.min(MOST))
        .map_or(usize::MAX, |cell| cell + beyond)
}

/// The joint whose name may be meant by this one. Names that differ in a number or in a short word alone are those of a series or of two
/// sides, and none is meant by another.
pub(super) fn resembling<'a>(name: &str, joints: &'a [JointEntry]) -> Option<&'a str> {
    let length = name.chars().count();
    let is_near = |known: &&str| known.chars().count().abs_diff(length) <= NEAR;
    let others = joints.iter().map(JointEntry::name).filter(is_near);
    let others = others.filter(|known| *known != name && !are_of_series(known, name));
    nearest(name, others).and_then(|(near, is_near)| is_near.then_some(near))
}

/// Letters up to which a word in a name is a mark such as `l` or `fr`, and no word that may be mistyped.
const MARK: usize = 2;

/// Whether two names are those of a series: the same words, but for their numbers and marks.
fn are_of_series(one: &str, other: &str) -> bool {
    let (one, other) = (one.to_lowercase(), other.to_lowercase());
    let letters = |name: &str| name.replace(|c: char| c.is_ascii_digit(), "");
    if one != other && letters(&one) == letters(&other) {
        return true;
    }
    let is_mark = |word: &str| word.chars().count() <= MARK;
    let words = |name: &'_ str| {
        name.split(|c: char| !c.is_alphanumeric())
            .map(String::from)
            .collect::<Vec<_>>()
    };
    let (one, other) = (words(&one), words(&other));
    let differing = || one.iter().zip(&other).filter(|(one, other)| one != other);
    one.len() == other.len()
        && differing().next().is_some()
        && differing().all(|(one, other)| is_mark(one) && is_mark(other))
}

/// A name that no joint has, and the nearest one that there is.
#[derive(Debug, Clone, Copy)]
pub struct UnknownJoint<'a> {
    /// The name asked for.
    pub name: &'a str,
    /// The name that must be meant, if one is near.
    pub nearest: Option<&'a str>,
    pub(super) known: Names<'a>,
}

/// The names that there are: those of a file's joints, or the first few of them as an error keeps them, with how many there are.
#[derive(Debug, Clone, Copy)]
pub(super) enum Names<'a> {
    Of(&'a [JointEntry]),
    Kept(&'a [String], usize),
}

/// How many names are listed where none is near.
pub(super) const MOST_NAMED: usize = 8;

impl<'a> UnknownJoint<'a> {
    pub(super) fn among(name: &'a str, joints: &'a [JointEntry]) -> Self {
        let near = nearest(name, joints.iter().map(JointEntry::name));
        Self {
            name,
            nearest: (near.and_then(|(name, near)| near.then_some(name))).or_else(|| begun(name, joints)),
            known: Names::Of(joints),
        }
    }

    /// The names that there are, the first few of them; before all those that begin with the one asked for.
    pub(super) fn known(&self) -> impl Iterator<Item = &'a str> + use<'a> {
        let (joints, kept): (&[JointEntry], &[String]) = match self.known {
            Names::Of(joints) => (joints, &[]),
            Names::Kept(names, _) => (&[], names),
        };
        let names = move || {
            joints
                .iter()
                .map(JointEntry::name)
                .chain(kept.iter().map(String::as_str))
        };
        let name = self.name;
        let alike = names().filter(move |known| begins(known, name));
        alike
            .chain(names().filter(move |known| !begins(known, name)))
            .take(MOST_NAMED)
    }

    /// How many names there are.
    pub(super) const fn of(&self) -> usize {
        match self.known {
            Names::Of(joints) => joints.len(),
            Names::Kept(_, of) => of,
        }
    }
}

impl fmt::Display for UnknownJoint<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { name, nearest, .. } = self;
        let of = self.of();
        if name.trim().is_empty() {
            f.write_str("the name given is empty")?;
        } else {
            write!(f, "no joint is named \"{name}\"")?;
        }
        match nearest {
            Some(nearest) => write!(f, "; the nearest name is \"{nearest}\""),
            None if of == 0 => f.write_str("; the file has no joints yet"),
            None => {
                let mut before = if of == 1 {
                    "; the only joint is "
                } else {
                    "; the joints are "
                };
                for name in self.known() {
                    write!(f, "{before}\"{name}\"")?;
                    before = ", ";
                }
                if of > MOST_NAMED {
                    write!(f, " and {} more", of - MOST_NAMED)?;
                }
                Ok(())
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn typing_errors_are_counted() {
        for (one, other, errors) in [
            ("", "", 0),
            ("", "wing", 4),
            ("wing", "", 4),
            ("wing", "wing", 0),
            ("wnig", "wing", 1),
            ("iwng", "wing", 1),
            ("wingg", "wing", 1),
            ("wig", "wing", 1),
            ("wong", "wing", 1),
            ("beak", "wing", 4),
            ("kitten", "sitting", 3),
            ("flügel", "flugel", 1),
        ] {
            assert_eq!(distance(one, other), errors, "{one} {other}");
            assert_eq!(distance(other, one), errors, "{other} {one}");
        }
    }

    #[test]
    fn joints_of_a_series_are_not_meant_by_each_other() {
        for (one, other, is_one) in [
            ("leg_1", "leg_2", true),
            ("leg1", "leg12", true),
            ("leg_fl", "leg_fr", true),
            ("wing l", "wing r", true),
            ("tail", "tail2", true),
            ("2", "3", true),
            ("wing_left", "wing_lefft", false),
            ("wing left", "wing_left", false),
            ("Tail", "tail", false),
        ] {
            assert_eq!(are_of_series(one, other), is_one, "{one} {other}");
        }
    }

    #[test]
    fn of_long_words_the_length_counts() {
        let long = "x".repeat(200);
        assert_eq!(distance(&long, &long), 0);
        assert_eq!(distance(&long, &long[..100]), 100);
        assert_eq!(distance(&long, ""), 200);
        assert_eq!(distance(&long, &String::from("y").repeat(63)), 63 + 137);
        assert_eq!(nearest("wign", ["beak", "wing"]), Some(("wing", true)));
        assert_eq!(nearest("neck_upper", ["beak", "neck"]), Some(("neck", false)));
        assert_eq!(nearest("wing", []), None);
    }

    #[test]
    fn what_is_far_off_is_not_suggested() {
        for (word, candidate, near) in [
            ("rst", "rest", true),
            ("at", "ta", true),
            ("kg", "cm", false),
            ("x", "y", false),
            ("", "u", false),
            ("abc", "xyc", false),
            ("zzzzzz", "wing_left", false),
            ("neck", "beak", false),
            ("nek", "neck", true),
        ] {
            assert_eq!(nearest(word, [candidate]), Some((candidate, near)), "{word}");
        }
    }
}
