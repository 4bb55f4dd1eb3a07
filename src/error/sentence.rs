//! The sentences of a refused joint, with the names by which a surface calls its fields.

use super::{FeedbackError, JointError, Shown};
use core::fmt::{self, Display, Formatter};

/// How a surface names the fields of a joint in a sentence.
///
/// An error holds a field as a robot file spells it, as table and key: `servo.angle`. A surface whose fields have other names, as those
/// of a C struct, writes its own: see [`JointError::with_names`].
///
/// ```
/// use elbowroom::{FieldNames, JointError};
///
/// let names = FieldNames {
///     write: |f, table, key| if table.is_empty() { f.write_str(key) } else { write!(f, "{table}_{key}") },
///     yes: "1",
/// };
/// let error = JointError::NotPositive { what: "servo.pulse_us lower", value: 0.0 };
/// assert_eq!(error.to_string(), "servo.pulse_us lower is 0; it must be above zero");
/// assert_eq!(error.with_names(&names).to_string(), "servo_pulse_us lower is 0; it must be above zero");
/// ```
#[derive(Debug, Clone, Copy)]
pub struct FieldNames {
    /// Writes one, from the table that it stands in, empty for a field of the joint itself, and its key, behind which its end may stand
    /// (`pulse_us lower`).
    pub write: fn(&mut Formatter<'_>, &str, &str) -> fmt::Result,
    /// The value of a field that is set, e.g. of `inverted`.
    pub yes: &'static str,
}

impl FieldNames {
    /// Those of a robot file.
    pub const ROBOT_FILE: Self = Self {
        write: |f, table, key| {
            if !table.is_empty() {
                write!(f, "{table}.")?;
            }
            f.write_str(key)
        },
        yes: "true",
    };

    /// The name of a field that an error holds, as `what` of [`JointError`].
    pub fn name(&self, what: &'static str) -> impl Display + '_ {
        let (table, key) = what.split_once('.').unwrap_or(("", what));
        self.of(table, key)
    }

    fn of(&self, table: &'static str, key: &'static str) -> Field<'_> {
        Field {
            names: self,
            table,
            key,
        }
    }
}

/// A field's name in a sentence.
#[derive(Clone, Copy)]
struct Field<'a> {
    names: &'a FieldNames,
    table: &'static str,
    key: &'static str,
}

impl Display for Field<'_> {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        (self.names.write)(f, self.table, self.key)
    }
}

struct Named<'a>(&'a JointError, &'a FieldNames);

impl Display for Named<'_> {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        self.0.write(f, self.1)
    }
}

impl Display for JointError {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        self.write(f, &FieldNames::ROBOT_FILE)
    }
}

impl Display for FeedbackError {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        self.write(f, &FieldNames::ROBOT_FILE)
    }
}

impl JointError {
    /// The sentence of this error, with the fields by the names of a surface in place of those of a robot file.
    pub fn with_names<'a>(&'a self, names: &'a FieldNames) -> impl Display + 'a {
        Named(self, names)
    }

    fn write(&self, f: &mut Formatter<'_>, names: &FieldNames) -> fmt::Result {
        let counts_per_frame = names.of("timer", "counts_per_frame");
        let frame_hz = names.of("timer", "frame_hz");
        let pulse_us = names.of("servo", "pulse_us");
        match *self {
            Self::NotFinite { what, value } => {
                write!(f, "{} is {}; give a finite number", names.name(what), Shown(value))
            }
            Self::EndsSwapped { what, lower, upper } => write!(
                f,
                "{} [{l}, {u}] has its ends swapped; write [{u}, {l}] and, if the direction was meant, inverted = {}",
                names.name(what),
                names.yes,
                l = Shown(lower),
                u = Shown(upper)
            ),
            Self::ZeroWidth { what, at } => write!(
                f,
                "{} [{at}, {at}] has no width; its upper end must lie above its lower end",
                names.name(what),
                at = Shown(at)
            ),
            Self::OutsideServo {
                what,
                value,
                lower,
                upper,
            } => write!(
                f,
                "{} {} deg is outside the servo's {} to {} deg; move it inside or widen {}",
                names.name(what),
                Shown(value),
                Shown(lower),
                Shown(upper),
                names.of("servo", "angle")
            ),
            Self::RestOutside { rest, lower, upper } => write!(
                f,
                "rest {} is outside command {} to {}; choose a rest inside the command range",
                Shown(rest),
                Shown(lower),
                Shown(upper)
            ),
            Self::TravelDisjoint {
                travel_lower,
                travel_upper,
                drive_lower,
                drive_upper,
            } => write!(
                f,
                "travel {} to {} deg and drive {} to {} deg have no angle in common; no command could reach the travel",
                Shown(travel_lower),
                Shown(travel_upper),
                Shown(drive_lower),
                Shown(drive_upper)
            ),
            Self::NotPositive { what, value } => {
                write!(f, "{} is {}; it must be above zero", names.name(what), Shown(value))
            }
            Self::CountsOutside {
                counts_per_frame: given,
                most,
            } => write!(f, "{counts_per_frame} is {given}; it must be 1 to {most}"),
            Self::FrameRateExtreme { frame_hz: given } => write!(
                f,
                "{frame_hz} is {}; out of range for a frame and its counts; hobby servos take about 50",
                Shown(given)
            ),
            Self::PulseBeyondFrame {
                pulse_us: given,
                frame_us,
            } => write!(
                f,
                "{pulse_us} upper {} us is longer than one frame of {} us; lower {frame_hz}",
                Shown(given),
                Shown(frame_us)
            ),
            Self::NoCountInTravel { lower, upper, step } => {
                let (l, u) = (Shown(lower), Shown(upper));
                write!(
                    f,
                    "no timer count lies inside travel {l} to {u} deg; one count is {} deg: ",
                    Shown(step)
                )?;
                if is_wrong_unit(step, upper - lower) {
                    write!(
                        f,
                        "check frame_hz (in Hz, 50 for most servos), counts_per_frame and {pulse_us} (in microseconds)"
                    )
                } else {
                    f.write_str("widen the travel or use a finer timer")
                }
            }
            Self::PulseInMilliseconds {
                pulse_us: [shortest, longest],
            } => write!(
                f,
                "{pulse_us} is {} to {} us, too short for a servo: the values look like milliseconds; write {} to {} us",
                Shown(shortest),
                Shown(longest),
                Shown(1000.0 * shortest),
                Shown(1000.0 * longest)
            ),
            Self::Curve(error) => write!(f, "transmission: {error}"),
            Self::CurveEnd { which, found, wanted } => write!(
                f,
                "transmission's {which} knot is [{}, {}], but the joint's command and drive end at [{}, {}]; make them the same",
                Shown(found[0]),
                Shown(found[1]),
                Shown(wanted[0]),
                Shown(wanted[1])
            ),
            Self::Linkage(error) => error.fmt(f),
            Self::Feedback(error) => error.write(f, names),
        }
    }
}

/// Whether a count of `step` deg is so many times as coarse as a travel that it comes from a wrong unit.
fn is_wrong_unit(step: f64, travel: f64) -> bool {
    step > 10.0 * travel
}

impl FeedbackError {
    fn write(&self, f: &mut Formatter<'_>, names: &FieldNames) -> fmt::Result {
        let field = |key| names.of("feedback", key);
        match *self {
            Self::BitsOutside { bits } => write!(f, "{} is {bits}; it must be 1 to 24", field("adc_bits")),
            Self::Missing { given, missing } => write!(f, "{} needs {} beside it", field(given), field(missing)),
            Self::Both { one, other } => write!(
                f,
                "feedback has both {one} and {other}; keep one: a measured curve holds the load already"
            ),
            Self::ReadingOutside { value, most, bits } => write!(
                f,
                "{} {} is outside 0 to {}, the range of {bits} bits; check adc_bits",
                field("reading"),
                Shown(value),
                Shown(most)
            ),
            Self::WrapInside {
                lower,
                upper,
                turned,
                angle,
            } => write!(
                f,
                "the sensor wraps around inside the travel: readings {} to {} are {turned:.1} deg of its turn, the angles span {} deg; turn the sensor on its axis until both ends lie on one side of the jump",
                Shown(lower),
                Shown(upper),
                Shown(angle),
                turned = Shown(turned)
            ),
            Self::WrapPossible {
                lower,
                upper,
                turned,
                other,
                angle,
            } => write!(
                f,
                "the sensor may wrap around inside the travel: readings {} to {} are {turned:.1} deg of its turn one way and {other:.1} the other, and the angles span {} deg; measure the angles more exactly, or turn the sensor on its axis until both ends lie on one side of the jump",
                Shown(lower),
                Shown(upper),
                Shown(angle),
                turned = Shown(turned),
                other = Shown(other)
            ),
            Self::WrapInvalid {
                lower,
                upper,
                turned,
                angle,
            } => write!(
                f,
                "readings {} to {} are {turned:.1} deg of the sensor's turn, but the angles span {} deg; check wrap_deg, adc_bits and the readings",
                Shown(lower),
                Shown(upper),
                Shown(angle),
                turned = Shown(turned)
            ),
            Self::LoadTooHeavy { pot_ohm, load_ohm } => write!(
                f,
                "{} {} loads a potentiometer of {} ohm too heavily; it must be above a hundredth of that",
                field("load_ohm"),
                Shown(load_ohm),
                Shown(pot_ohm)
            ),
            #[cfg(feature = "std")]
            Self::Curve(error) => write!(f, "feedback: {error}"),
            Self::CurveEnd { which, found, wanted } => write!(
                f,
                "feedback's {which} knot is [{}, {}], but reading and angle end at [{}, {}]; make them the same",
                found[0], found[1], wanted[0], wanted[1]
            ),
        }
    }
}
