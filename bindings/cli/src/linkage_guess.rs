//! A linkage as the command line gives it: `triangle:base=40,arm~90,angle_at_zero~30`.

use elbowroom::fit::Guess;
use elbowroom::linkage::{Branch, Mechanism, MechanismKind};

/// What a ruler says of a linkage, and which of it readings may change.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct LinkageGuess {
    mechanism: Mechanism,
    free: Vec<&'static str>,
}

impl LinkageGuess {
    pub(crate) fn guess(&self) -> Guess<'_> {
        Guess {
            start: self.mechanism,
            free: &self.free,
        }
    }
}

impl std::str::FromStr for LinkageGuess {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let (kind, rest) = text
            .split_once(':')
            .ok_or("write KIND:DIMENSIONS, e.g. triangle:base=40,arm~90,angle_at_zero~30")?;
        let parts: Vec<&str> = rest.split(',').map(str::trim).filter(|part| !part.is_empty()).collect();
        let form = MechanismKind::of_word(kind).ok_or_else(|| {
            let words: Vec<_> = MechanismKind::ALL.iter().map(|kind| kind.word).collect();
            format!("no linkage is called {kind}; write one of {}", words.join(", "))
        })?;
        let word = parts.iter().find_map(|part| part.strip_prefix("branch="));
        let branch = Branch::ALL.into_iter().find(|branch| Some(branch.as_str()) == word);
        let branch = match (form.has_branch, branch) {
            (true, Some(branch)) => branch,
            (true, None) => return Err(format!("a {kind} needs branch=left or branch=right")),
            (false, _) if word.is_some() => return Err(format!("a {kind} has no branch")),
            (false, _) => Branch::Left,
        };
        let mut mechanism = form.with(&[], branch);
        let known = mechanism.dimensions();
        let mut free = Vec::new();
        for part in parts.iter().filter(|part| !part.starts_with("branch=")) {
            let (name, value) = part.split_once(['=', '~']).ok_or_else(|| {
                format!("{part} is not a dimension; write {part}=40 to keep it, {part}~40 to find it")
            })?;
            let name = known
                .iter()
                .find(|known| **known == name.trim())
                .ok_or_else(|| format!("a {kind} has no {name}; it has {}", known.join(", ")))?;
            let number = value.trim().parse::<f64>().ok().filter(|value| value.is_finite());
            let number = number.ok_or_else(|| format!("{name} is {value}; write a number"))?;
            if mechanism.dimension(name).is_some_and(|before| !before.is_nan()) {
                return Err(format!("{name} is given twice"));
            }
            mechanism.set_dimension(name, number);
            free.extend(part.contains('~').then_some(*name));
        }
        match known
            .iter()
            .find(|name| mechanism.dimension(name).is_none_or(f64::is_nan))
        {
            Some(missing) => Err(format!(
                "a {kind} needs {missing} too; give all of {}",
                known.join(", ")
            )),
            None => Ok(Self { mechanism, free }),
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test may panic")]
mod tests {
    use super::*;
    use elbowroom::linkage::FourBar;

    fn of(text: &str) -> Result<LinkageGuess, String> {
        text.parse()
    }

    #[test]
    fn a_linkage_is_read_with_what_may_change() {
        let triangle = of("triangle:base=40, arm~90.5,angle_at_zero~-30").unwrap();
        assert_eq!(triangle.guess().free, ["arm", "angle_at_zero"]);
        let dimension = |name| triangle.mechanism.dimension(name);
        assert_eq!(
            ["base", "arm", "angle_at_zero"].map(dimension),
            [Some(40.0), Some(90.5), Some(-30.0)]
        );
        let four_bar = of("four-bar:crank~20,coupler=60,rocker=18,ground=62,rocker_at_zero=50,branch=right").unwrap();
        assert!(matches!(
            four_bar.mechanism,
            Mechanism::FourBar(FourBar {
                branch: Branch::Right,
                ..
            })
        ));
        assert_eq!(of("spool:drum=8,per_turn=0,pulley=20").unwrap().free, [""; 0]);
        of("slider-crank:crank=20,rod~45,offset=2,slide_at_zero~40,branch=left").unwrap();
    }

    /// A kind that the core learns is one that the schema knows.
    #[test]
    fn the_schema_knows_the_kinds_of_the_core() {
        let schema: serde_json::Value = serde_json::from_str(include_str!("../schema.json")).unwrap();
        let kinds = MechanismKind::ALL.iter().map(|kind| kind.word);
        let words: Vec<&str> = ["linear", "curve"].into_iter().chain(kinds).collect();
        assert_eq!(schema.pointer("/$defs/kind/enum"), Some(&serde_json::json!(words)));
    }

    #[test]
    fn what_is_wrong_with_it_is_said() {
        let said = |text| of(text).unwrap_err();
        assert!(said("triangle").starts_with("write KIND:DIMENSIONS"));
        assert!(said("cam:lift=3").contains("no linkage is called cam; write one of triangle, "));
        assert!(said("triangle:base=40,arm=90").contains("needs angle_at_zero too"));
        assert!(said("triangle:base=40,ground=9").contains("has no ground; it has base, arm, angle_at_zero"));
        assert!(said("triangle:base=40,base=41").contains("base is given twice"));
        assert!(said("triangle:base=forty").contains("base is forty; write a number"));
        assert!(said("triangle:base=inf").contains("write a number"));
        assert!(said("triangle:base").contains("base is not a dimension; write base=40 to keep it, base~40"));
        assert!(said("triangle:branch=left,base=1").contains("has no branch"));
        assert!(said("four-bar:crank=20").contains("needs branch=left or branch=right"));
    }
}
