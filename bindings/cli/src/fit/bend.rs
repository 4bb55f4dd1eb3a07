//! Which transmission the readings ask for, and which is taken.

use crate::args::{FitArgs, Kind};
use crate::linkage_guess::LinkageGuess;
use crate::paint::number;
use crate::problem::Problem;
use crate::table::Columns;
use elbowroom::fit::{
    Approach, Candidate as Tested, Choice, CurveFit, EndKind, Estimate, Guess, LimitFit, LinkageFit, LostMotion,
    Readings, Tried, choose_transmission,
};
use elbowroom::linkage::DimensionUnit;
use elbowroom::look::{self, Rounded, Statistic};
use elbowroom::robot::{EntryRecord, JointEntry, RefitMap};
use elbowroom::{Code, curve::Curve};
use elbowroom::{Transmission, TransmissionRecord};
use serde::Serialize;
use std::fmt::Display;

/// The transmissions tried on the readings between the stops.
pub(super) struct Bend {
    choice: Choice,
    /// What is drawn instead of a line; and written, unless the joint keeps what it has.
    drawn: Option<Drawn>,
    /// The kind that the joint has, or will have.
    taken: &'static str,
    insisted: bool,
    /// The joint is there, and nobody asked to change its transmission.
    keeps: bool,
    /// Drive angles of the stops that the linkage drawn explains by itself.
    unneeded: Vec<f64>,
}

pub(super) enum Drawn {
    Curve { fit: CurveFit, curve: Curve<f64> },
    Linkage(LinkageFit),
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
    /// The linkage taken.
    linkage: Option<Links>,
    /// Lost motion found with the curve or linkage taken, in measured units; null if there is none of these or it cannot be said.
    lost_motion: Option<Estimate>,
}

#[derive(Serialize)]
struct Candidate {
    kind: &'static str,
    /// Null if it could not be fitted.
    residual_sd: Option<f64>,
    parameters: usize,
    /// What candidates are compared by, the least is best; null if it could not be fitted.
    criterion: Option<f64>,
}

/// A linkage in numbers: drive angle is offset plus gain times its movement.
#[derive(Serialize)]
struct Links {
    dimensions: Vec<Dimension>,
    offset: Estimate,
    gain: Estimate,
    /// What is to be known of the other branch, null if the readings rule it out.
    other_branch: Option<String>,
}

#[derive(Serialize)]
struct Dimension {
    name: &'static str,
    value: f64,
    /// Null where the dimension was kept as given.
    u: Option<f64>,
}

fn dimensions(fit: &LinkageFit) -> Vec<Dimension> {
    let all = fit.dimensions();
    all.map(|(name, value, u)| Dimension { name, value, u }).collect()
}

impl Drawn {
    /// The value measured; on a stop that of the contact.
    pub(super) fn at(&self, limits: &LimitFit, drive: f64) -> f64 {
        let mut x = drive;
        if limits.lower.kind == EndKind::Contact {
            x = x.max(limits.lower.at);
        }
        if limits.upper.kind == EndKind::Contact {
            x = x.min(limits.upper.at);
        }
        self.straight_on(x)
    }

    /// The value that the transmission alone would give, were there no stops.
    pub(super) fn straight_on(&self, drive: f64) -> f64 {
        match self {
            Self::Curve { curve, .. } => curve.at(drive),
            Self::Linkage(fit) => fit.measured_at(drive),
        }
    }

    /// The value between the stops at a drive angle reached from one side.
    pub(super) fn reached_from(&self, drive: f64, approach: Approach) -> f64 {
        match self {
            Self::Curve { fit, .. } => fit.expected(drive, approach),
            Self::Linkage(fit) => fit.expected(drive, approach),
        }
    }

    fn lost_motion(&self) -> &LostMotion {
        match self {
            Self::Curve { fit, .. } => &fit.lost_motion,
            Self::Linkage(fit) => &fit.lost_motion,
        }
    }

    /// What it is, for the picture.
    pub(super) fn words(&self) -> String {
        match self {
            Self::Curve { fit, .. } => format!("a curve through {} knots", fit.knots.len()),
            Self::Linkage(fit) => format!("a {}", fit.mechanism.kind()),
        }
    }
}

impl Bend {
    /// Tries line, curve and linkages: those asked for, and the joint's own. None where the readings are too few to say, unless
    /// something was asked for.
    pub(super) fn of(
        args: &FitArgs,
        limits: &LimitFit,
        columns: &Columns,
        entry: Option<&JointEntry>,
    ) -> Result<Option<Self>, Problem> {
        let readings = of_columns(columns);
        let between = limits.between_stops(&readings);
        let mut guesses: Vec<Guess<'_>> = args.linkage.iter().map(LinkageGuess::guess).collect();
        if let Some(Transmission::Linkage(linkage)) = entry.map(|entry| entry.joint().transmission()) {
            let start = *linkage.mechanism();
            guesses.push(Guess { start, free: &[] });
        }
        in_their_unit(args, &guesses)?;
        let asked_for_bend = matches!(args.transmission, Some(Kind::Curve | Kind::Linkage));
        let choice = match choose_transmission(&between.readings(), &guesses, usize::from(args.knots)) {
            Ok(choice) => choice,
            Err(error) if asked_for_bend || !args.linkage.is_empty() => return Err(error.into()),
            Err(_) => return Ok(None),
        };
        let own = entry.map(|entry| entry.joint().transmission().kind());
        // A joint's own is drawn anew to be looked at, but not written.
        let (wanted, taken) = match (args.transmission, own) {
            (Some(Kind::Linear), _) => (choice.candidates.first(), "linear"),
            (Some(Kind::Curve), _) => (best_of(&choice, |candidate| candidate.kind() == "curve"), "curve"),
            (Some(Kind::Linkage), _) => {
                let best = best_linkage(&choice, guesses.is_empty())?;
                (Some(best), best.kind())
            }
            (None, Some(own)) if !args.adopt => (best_of(&choice, |candidate| candidate.kind() == own), own),
            (None, _) => (choice.chosen(), asked_for(&choice)),
        };
        let drawn = match wanted.map(|candidate| &candidate.tried) {
            Some(Tried::Curve(fit)) => {
                let curve = fit
                    .curve()
                    .map_err(|error| Problem::new(Code::Other, error.to_string()))?;
                Some(Drawn::Curve {
                    fit: fit.clone(),
                    curve,
                })
            }
            Some(Tried::Linkage(fit)) => Some(Drawn::Linkage(fit.clone())),
            _ => None,
        };
        let unneeded = match &drawn {
            Some(Drawn::Linkage(fit)) => fit
                .explains_stops(limits, &readings)
                .into_iter()
                .zip([limits.lower.at, limits.upper.at])
                .filter_map(|(explained, at)| explained.then_some(at))
                .collect(),
            _ => Vec::new(),
        };
        Ok(Some(Self {
            choice,
            drawn,
            unneeded,
            taken,
            insisted: args.transmission.is_some(),
            keeps: args.transmission.is_none() && entry.is_some() && !args.adopt,
        }))
    }

    pub(super) fn drawn(&self) -> Option<&Drawn> {
        self.drawn.as_ref()
    }

    pub(super) fn drawn_knots(&self) -> &[[f64; 2]] {
        match &self.drawn {
            Some(Drawn::Curve { fit, .. }) => &fit.knots,
            _ => &[],
        }
    }

    /// What the readings follow best.
    pub(super) fn best_map(&self) -> RefitMap<'_> {
        match self.choice.chosen().map(|chosen| &chosen.tried) {
            Some(Tried::Curve(fit)) => RefitMap::Curve(fit),
            Some(Tried::Linkage(fit)) => RefitMap::Linkage(fit),
            _ => RefitMap::Line,
        }
    }

    /// What is drawn.
    pub(super) fn taken_map(&self) -> RefitMap<'_> {
        match &self.drawn {
            Some(Drawn::Curve { fit, .. }) => RefitMap::Curve(fit),
            Some(Drawn::Linkage(fit)) => RefitMap::Linkage(fit),
            None => RefitMap::Line,
        }
    }

    /// Writes what was taken into a new joint whose commands are the measured values at the ends of what was fitted.
    pub(super) fn apply(&self, record: &mut EntryRecord) -> Result<(), Problem> {
        match &self.drawn {
            Some(Drawn::Curve { fit, .. }) => record.apply_curve(fit, None)?,
            Some(Drawn::Linkage(fit)) => record.apply_linkage(fit, None)?,
            None => {}
        }
        Ok(())
    }

    /// Whether the joint is given something bent.
    pub(super) fn is_bent(&self) -> bool {
        self.drawn.is_some() && !self.keeps
    }

    /// Says why the curve written has more knots than the one told of: it runs from commands to drive angles, the other way round.
    pub(super) fn more_knots(&self, record: &EntryRecord) -> Option<String> {
        let TransmissionRecord::Curve { knots, .. } = &record.joint.transmission else {
            return None;
        };
        let (fitted, written) = (self.drawn_knots().len(), knots.len());
        (self.is_bent() && written > fitted)
            .then(|| format!("the inverse, command to drive, needs {written} knots; {fitted} were fitted"))
    }

    pub(super) fn report(&self) -> Report {
        let (u, linkage) = match &self.drawn {
            Some(Drawn::Curve { fit, .. }) => (fit.u.clone(), None),
            Some(Drawn::Linkage(fit)) => {
                let links = Links {
                    dimensions: dimensions(fit),
                    offset: fit.offset,
                    gain: fit.gain,
                    other_branch: fit.other_branch.map(|branch| branch.to_string()),
                };
                (Vec::new(), Some(links))
            }
            None => (Vec::new(), None),
        };
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
                    criterion: candidate.criterion.is_finite().then_some(candidate.criterion),
                })
                .collect(),
            knots: self.drawn_knots().to_vec(),
            u,
            linkage,
            lost_motion: self.drawn.as_ref().and_then(|drawn| drawn.lost_motion().estimate()),
        }
    }

    /// Whether a line is asked for and taken, and nothing else was in question.
    fn is_plain(&self) -> bool {
        let tried_linkage = self.choice.candidates.len() > 2;
        asked_for(&self.choice) == "linear" && self.taken == "linear" && !tried_linkage
    }

    /// What was tried, each with the criterion that chose, for the picture; nothing where a line is asked for and taken.
    pub(super) fn tried(&self) -> Vec<String> {
        if self.is_plain() {
            return Vec::new();
        }
        let candidates = self.choice.candidates.iter().enumerate();
        let fitted = candidates.filter(|(_, candidate)| candidate.criterion.is_finite());
        let line = |(index, candidate): (usize, &Tested)| {
            let (sd, criterion) = (Statistic(candidate.residual_sd), number(candidate.criterion, 1));
            let values: [&dyn Display; 4] = [&candidate.kind(), &candidate.parameters, &sd, &criterion];
            let words = look::CANDIDATE.with(&values).to_string();
            if index == self.choice.best {
                look::CHOSEN.with(&[&words]).to_string()
            } else {
                words
            }
        };
        fitted.map(line).collect()
    }

    /// What to tell of it, line by line; nothing where a line is asked for and taken.
    pub(super) fn lines(&self, measured_unit: &str) -> Vec<String> {
        let asked = asked_for(&self.choice);
        if self.is_plain() {
            return Vec::new();
        }
        let mut lines = Vec::new();
        match &self.drawn {
            Some(Drawn::Curve { fit, .. }) => lines.push(format!(
                "curve through {} knots, residual SD {} {measured_unit}",
                fit.knots.len(),
                Statistic(fit.residual_sd)
            )),
            Some(Drawn::Linkage(fit)) => {
                let sd = Statistic(fit.residual_sd);
                lines.push(format!("{}, residual SD {sd} {measured_unit}", fit.mechanism.kind()));
                lines.extend(dimensions(fit).iter().map(|dimension| match dimension.u {
                    Some(u) => {
                        let known = Rounded {
                            value: dimension.value,
                            u: Some(u),
                        };
                        format!("{} {}", dimension.name, known.with_u(""))
                    }
                    None => format!("{} {} as given", dimension.name, number(dimension.value, 4)),
                }));
            }
            None => lines.push(self.taken.to_owned()),
        }
        if let Some(lost) = self.drawn.as_ref().and_then(|drawn| drawn.lost_motion().estimate()) {
            lines.push(format!(
                "lost motion {}, not part of the residual SD",
                Rounded {
                    value: lost.value,
                    u: Some(lost.u)
                }
                .with_u(measured_unit)
            ));
        }
        if self.keeps {
            lines.push(if asked == self.taken {
                "as in the file; the readings agree with it".to_owned()
            } else {
                format!("as in the file; {asked} fits the readings better, see --transmission")
            });
        } else if self.insisted {
            lines.push(if asked == self.taken {
                "as given; the readings agree with it".to_owned()
            } else {
                format!("as given; {asked} fits the readings better")
            });
        }
        lines.extend(self.choice.reasons.iter().map(ToString::to_string));
        if let Some(Drawn::Linkage(fit)) = &self.drawn {
            let kind = fit.mechanism.kind();
            // A choice of its own says so among its reasons.
            let said = matches!(self.choice.chosen().map(|chosen| &chosen.tried), Some(Tried::Linkage(chosen)) if chosen == fit);
            lines.extend(
                fit.other_branch
                    .filter(|_| !said)
                    .map(|branch| format!("{kind}: {branch}")),
            );
            lines.extend(self.unneeded.iter().map(|at| {
                format!(
                    "warning: beyond the stop at {} deg the readings follow this {kind} as well, so that may be its dead centre and no stop; inspect the joint",
                    number(*at, 2)
                )
            }));
        }
        lines
    }
}

/// The readings, with the side from which each was reached.
fn of_columns(columns: &Columns) -> Readings<'_> {
    let mut readings = Readings::new(&columns.drive, &columns.measured);
    readings.approach = columns.approach.as_deref();
    readings
}

/// The best of the candidates that are meant.
fn best_of(choice: &Choice, is_meant: impl Fn(&Tested) -> bool) -> Option<&Tested> {
    let meant = choice.candidates.iter().filter(|candidate| is_meant(candidate));
    meant.min_by(|a, b| a.criterion.total_cmp(&b.criterion))
}

fn best_linkage(choice: &Choice, none_given: bool) -> Result<&Tested, Problem> {
    if none_given {
        let message = "--transmission linkage: the joint has none in the file; say which with --linkage";
        return Err(Problem::new(Code::OptionOutside, message));
    }
    let refused = choice.candidates.iter().find_map(|candidate| match candidate.tried {
        Tried::Refused { kind, error } => Some((kind, error)),
        _ => None,
    });
    match (
        best_of(choice, |candidate| matches!(candidate.tried, Tried::Linkage(_))),
        refused,
    ) {
        (Some(best), _) => Ok(best),
        (None, Some((kind, error))) => Err(Problem::new(error.code(), format!("{kind}: {error}"))),
        (None, None) => Err(Problem::new(Code::OptionOutside, "no linkage was tried")),
    }
}

/// A hinge is measured in deg; a slide in the unit of the lengths.
fn in_their_unit(args: &FitArgs, guesses: &[Guess<'_>]) -> Result<(), Problem> {
    let unit = &args.table.measured_unit;
    if args.linkage.is_empty() {
        return Ok(());
    }
    let mut kinds = guesses.iter().map(|guess| guess.start.form());
    let Some(kind) = kinds.find(|kind| !kind.takes(unit)) else {
        return Ok(());
    };
    let word = kind.word;
    let told = match kind.command {
        DimensionUnit::Length => format!(
            "--linkage {word} is fitted to places of a slide, not to {unit}; name the unit of its lengths, as in --measured-unit mm"
        ),
        _ => format!("--linkage {word} is fitted to angles in deg, not {unit}; turn the measured column into deg"),
    };
    Err(Problem::new(Code::OptionOutside, told))
}

fn asked_for(choice: &Choice) -> &'static str {
    choice.chosen().map_or("linear", |candidate| candidate.kind())
}
