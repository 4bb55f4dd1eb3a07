//! Which transmission the readings ask for, and which is taken.

use crate::args::{FitArgs, Kind};
use crate::paint::number;
use crate::problem::Problem;
use crate::table::Columns;
use elbowroom::fit::{Choice, CurveFit, EndKind, Guess, LimitFit, Tried, choose_transmission};
use elbowroom::robot::{EntryRecord, JointEntry};
use elbowroom::{Code, curve::Curve};
use elbowroom::{Transmission, TransmissionRecord};
use serde::Serialize;

/// The transmissions tried on the readings between the stops.
pub(super) struct Bend {
    choice: Choice,
    /// The curve, where it is what is drawn; and written, unless the joint keeps what it has.
    drawn: Option<Drawn>,
    /// The kind that the joint has, or will have.
    taken: &'static str,
    insisted: bool,
    /// The joint is there, and nobody asked to change its transmission.
    keeps: bool,
}

pub(super) struct Drawn {
    fit: CurveFit,
    curve: Curve<f64>,
}

#[derive(Serialize)]
pub(super) struct Report {
    asked_for: &'static str,
    taken: &'static str,
    insisted: bool,
    reasons: Vec<String>,
    candidates: Vec<Candidate>,
    /// Drive angle and measured value of each knot of the curve taken.
    knots: Vec<[f64; 2]>,
    /// Standard uncertainty of each knot's measured value.
    u: Vec<f64>,
}

#[derive(Serialize)]
struct Candidate {
    kind: &'static str,
    /// Null if it could not be fitted.
    residual_sd: Option<f64>,
    parameters: usize,
}

impl Drawn {
    /// The curve's value; on a stop that of the contact.
    pub(super) fn at(&self, limits: &LimitFit, drive: f64) -> f64 {
        let mut x = drive;
        if limits.lower.kind == EndKind::Contact {
            x = x.max(limits.lower.at);
        }
        if limits.upper.kind == EndKind::Contact {
            x = x.min(limits.upper.at);
        }
        self.curve.at(x)
    }
}

impl Bend {
    /// Tries line, curve and the joint's own linkage. None where the readings are too few to say, unless a curve was asked for.
    pub(super) fn of(
        args: &FitArgs,
        limits: &LimitFit,
        columns: &Columns,
        entry: Option<&JointEntry>,
    ) -> Result<Option<Self>, Problem> {
        let (drive, measured) = limits.between_stops(&columns.drive, &columns.measured);
        let own = entry.and_then(|entry| match entry.joint().transmission() {
            Transmission::Linkage(linkage) => Some(Guess {
                start: *linkage.mechanism(),
                free: &[],
            }),
            _ => None,
        });
        let choice = match choose_transmission(&drive, &measured, own.as_slice(), usize::from(args.knots)) {
            Ok(choice) => choice,
            Err(error) if args.transmission == Some(Kind::Curve) => return Err(error.into()),
            Err(_) => return Ok(None),
        };
        let asked = asked_for(&choice);
        let curve = choice.candidates.iter().find_map(|candidate| match &candidate.tried {
            Tried::Curve(fit) => Some(fit.clone()),
            _ => None,
        });
        let wanted = match (args.transmission, entry) {
            (Some(kind), _) => kind == Kind::Curve,
            // Drawn anew to be looked at, but not written.
            (None, Some(entry)) => entry.joint().transmission().kind() == "curve",
            (None, None) => asked == "curve",
        };
        let drawn = match curve.filter(|_| wanted) {
            Some(fit) => {
                let curve = fit
                    .curve()
                    .map_err(|error| Problem::new(Code::Other, error.to_string()))?;
                Some(Drawn { fit, curve })
            }
            None => None,
        };
        let taken = match (args.transmission, entry) {
            (Some(kind), _) => kind.as_str(),
            (None, Some(entry)) => entry.joint().transmission().kind(),
            (None, None) => asked,
        };
        Ok(Some(Self {
            choice,
            drawn,
            taken,
            insisted: args.transmission.is_some(),
            keeps: args.transmission.is_none() && entry.is_some(),
        }))
    }

    pub(super) fn drawn(&self) -> Option<&Drawn> {
        self.drawn.as_ref()
    }

    pub(super) fn drawn_knots(&self) -> &[[f64; 2]] {
        self.drawn.as_ref().map_or(&[], |drawn| &drawn.fit.knots)
    }

    /// Writes what was taken into the joint. `command` is what its ends are to be, else the measured values at the curve's.
    pub(super) fn apply(&self, record: &mut EntryRecord, command: Option<[f64; 2]>) -> Result<(), Problem> {
        if self.keeps {
            return Ok(());
        }
        if let Some(drawn) = &self.drawn {
            let ends = [drawn.fit.knots.first(), drawn.fit.knots.last()];
            let ends = ends.map(|knot| knot.map_or(f64::NAN, |knot| (knot[1] * 1e4).round() / 1e4));
            let [from, to] = ends;
            record.apply_curve(&drawn.fit, command.unwrap_or([from.min(to), from.max(to)]))?;
        } else if self.insisted {
            record.joint.transmission = TransmissionRecord::Linear {};
        }
        Ok(())
    }

    pub(super) fn has_curve(&self) -> bool {
        self.drawn.is_some() && !self.keeps
    }

    pub(super) fn report(&self) -> Report {
        Report {
            asked_for: asked_for(&self.choice),
            taken: self.taken,
            insisted: self.insisted,
            reasons: self.choice.reasons.iter().map(ToString::to_string).collect(),
            candidates: self
                .choice
                .candidates
                .iter()
                .map(|candidate| Candidate {
                    kind: candidate.kind(),
                    residual_sd: candidate.residual_sd.is_finite().then_some(candidate.residual_sd),
                    parameters: candidate.parameters,
                })
                .collect(),
            knots: self.drawn_knots().to_vec(),
            u: self.drawn.as_ref().map_or(Vec::new(), |drawn| drawn.fit.u.clone()),
        }
    }

    /// What to tell of it, line by line; nothing where a line is asked for and taken.
    pub(super) fn lines(&self, measured_unit: &str) -> Vec<String> {
        let asked = asked_for(&self.choice);
        if asked == "linear" && self.taken == "linear" {
            return Vec::new();
        }
        let mut lines = Vec::new();
        match &self.drawn {
            Some(drawn) => lines.push(format!(
                "curve through {} knots, leaves {} {measured_unit}",
                drawn.fit.knots.len(),
                number(drawn.fit.residual_sd, 3)
            )),
            None => lines.push(self.taken.to_owned()),
        }
        if self.keeps {
            lines.push(if asked == self.taken {
                "as the file has it, and the readings ask for no other".to_owned()
            } else {
                format!("as the file has it; the readings ask for {asked}, see --transmission")
            });
        } else if self.insisted {
            lines.push(if asked == self.taken {
                "as asked for, and as the readings ask".to_owned()
            } else {
                format!("as asked for; the readings ask for {asked}")
            });
        }
        lines.extend(self.choice.reasons.iter().map(ToString::to_string));
        lines
    }
}

fn asked_for(choice: &Choice) -> &'static str {
    choice.chosen().map_or("linear", |candidate| candidate.kind())
}
