//! A linkage as the command line gives it: `triangle:near=40,far~90,angle_at_zero~30`.

use elbowroom::fit::Guess;
use elbowroom::linkage::{CrankSlider, FourBar, Mechanism, Side, Spool, Triangle};

/// What a ruler says of a linkage, and which of it readings may change.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Ruler {
    mechanism: Mechanism,
    free: Vec<&'static str>,
}

impl Ruler {
    pub(crate) fn guess(&self) -> Guess<'_> {
        Guess {
            start: self.mechanism,
            free: &self.free,
        }
    }
}

/// The linkages by their words in a robot file, without dimensions.
fn bare(kind: &str, side: Side) -> Option<Mechanism> {
    const NONE: f64 = f64::NAN;
    Some(match kind {
        "triangle" => Mechanism::Triangle(Triangle {
            near: NONE,
            far: NONE,
            angle_at_zero: NONE,
        }),
        "crank-slider" => Mechanism::CrankSlider(CrankSlider {
            crank: NONE,
            rod: NONE,
            offset: NONE,
            slide_at_zero: NONE,
            side,
        }),
        "four-bar" => Mechanism::FourBar(FourBar {
            horn: NONE,
            rod: NONE,
            lever: NONE,
            ground: NONE,
            lever_at_zero: NONE,
            side,
        }),
        "spool" => Mechanism::Spool(Spool {
            drum: NONE,
            per_turn: NONE,
            pulley: NONE,
        }),
        _ => return None,
    })
}

impl std::str::FromStr for Ruler {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let (kind, rest) = text
            .split_once(':')
            .ok_or("write KIND:DIMENSIONS, e.g. triangle:near=40,far~90,angle_at_zero~30")?;
        let parts: Vec<&str> = rest.split(',').map(str::trim).filter(|part| !part.is_empty()).collect();
        let side = parts.iter().find_map(|part| part.strip_prefix("side="));
        let has_side = matches!(kind, "crank-slider" | "four-bar");
        let side = match (has_side, side) {
            (true, Some("left")) | (false, None) => Side::Left,
            (true, Some("right")) => Side::Right,
            (true, _) => return Err(format!("a {kind} needs side=left or side=right")),
            (false, Some(_)) => return Err(format!("a {kind} has no side")),
        };
        let mut mechanism = bare(kind, side)
            .ok_or_else(|| format!("no linkage is called {kind}; write triangle, crank-slider, four-bar or spool"))?;
        let known = mechanism.dimensions();
        let mut free = Vec::new();
        for part in parts.iter().filter(|part| !part.starts_with("side=")) {
            let (name, value) = part
                .split_once(['=', '~'])
                .ok_or_else(|| format!("{part} is no dimension; write {part}=40 to keep it, {part}~40 to find it"))?;
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

    fn of(text: &str) -> Result<Ruler, String> {
        text.parse()
    }

    #[test]
    fn a_linkage_is_read_with_what_may_change() {
        let triangle = of("triangle:near=40, far~90.5,angle_at_zero~-30").unwrap();
        assert_eq!(triangle.guess().free, ["far", "angle_at_zero"]);
        let dimension = |name| triangle.mechanism.dimension(name);
        assert_eq!(
            ["near", "far", "angle_at_zero"].map(dimension),
            [Some(40.0), Some(90.5), Some(-30.0)]
        );
        let four_bar = of("four-bar:horn~20,rod=60,lever=18,ground=62,lever_at_zero=50,side=right").unwrap();
        assert!(matches!(
            four_bar.mechanism,
            Mechanism::FourBar(FourBar { side: Side::Right, .. })
        ));
        assert_eq!(of("spool:drum=8,per_turn=0,pulley=20").unwrap().free, [""; 0]);
        of("crank-slider:crank=20,rod~45,offset=2,slide_at_zero~40,side=left").unwrap();
    }

    #[test]
    fn what_is_wrong_with_it_is_said() {
        let said = |text| of(text).unwrap_err();
        assert!(said("triangle").starts_with("write KIND:DIMENSIONS"));
        assert!(said("cam:lift=3").contains("no linkage is called cam; write triangle, "));
        assert!(said("triangle:near=40,far=90").contains("needs angle_at_zero too"));
        assert!(said("triangle:near=40,horn=9").contains("has no horn; it has near, far, angle_at_zero"));
        assert!(said("triangle:near=40,near=41").contains("near is given twice"));
        assert!(said("triangle:near=forty").contains("near is forty; write a number"));
        assert!(said("triangle:near=inf").contains("write a number"));
        assert!(said("triangle:near").contains("near is no dimension; write near=40 to keep it, near~40"));
        assert!(said("triangle:side=left,near=1").contains("has no side"));
        assert!(said("four-bar:horn=20").contains("needs side=left or side=right"));
    }
}
