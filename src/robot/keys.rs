//! The keys of a robot file: one table, by which the reader refuses unknown keys and from which the reference in the guide is
//! written.

/// A key of a robot file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub struct FileKey {
    /// Its name.
    pub name: &'static str,
    /// Whether its table must have it.
    pub needed: bool,
    /// A line that sets it, as it may stand in a file.
    pub example: &'static str,
    /// What it means, its unit, and its default.
    pub meaning: &'static str,
}

/// A table of a robot file with its keys.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub struct FileTable {
    /// Where it stands: its heading, or the key that holds it.
    pub place: &'static str,
    /// What it is for.
    pub purpose: &'static str,
    /// Its keys, in the order in which they are usually written.
    pub keys: &'static [FileKey],
    /// The names of the keys, in the same order.
    pub names: &'static [&'static str],
}

macro_rules! tables {
    ($($NAME:ident $place:literal $purpose:literal { $($need:ident $name:literal $example:literal $meaning:literal)+ })+) => {
        $(pub(super) const $NAME: FileTable = FileTable {
            place: $place,
            purpose: $purpose,
            keys: &[$(FileKey { name: $name, needed: tables!($need), example: $example, meaning: $meaning }),+],
            names: &[$($name),+],
        };)+

        impl FileTable {
            /// Every table whose keys are the same in each file, in reading order. The dimensions of a linkage are those of
            /// its kind: [`MechanismKind::ALL`](crate::linkage::MechanismKind::ALL).
            pub const ALL: &'static [Self] = &[$($NAME),+];
        }
    };
    (must) => { true };
    (may) => { false };
}

tables! {
    TOP "the file" "What holds for the whole robot." {
        must "format" "format = 1" "Version of the format; this library reads 1."
        may "name" "name = \"heron\"" "Name of the robot, on one line."
        may "timer" "timer = { frame_hz = 50, counts_per_frame = 4096 }" "Default timer of all joints."
        may "servo" "servo = { angle = [0, 180], pulse_us = [500, 2500] }" "Default servo of all joints."
        may "board" "[board.breast]" "Boards by name, one table each."
        may "joint" "[joint.wing_left]" "Joints by name, one table each. A name has 1 to 64 bytes and no control characters."
        may "check" "[check]" "Limits of the check, and waivers."
    }
    SERVO "servo" "How drive angle becomes pulse width: a straight line through two points. In the file, or in a joint; a joint's own keys take precedence." {
        must "angle" "angle = [0, 180]" "Lower and upper drive angle, deg."
        must "pulse_us" "pulse_us = [500, 2500]" "Pulse width at these angles, microseconds. Lower, then upper; for a servo that turns the other way, set `inverted = true` in its joint."
        may "assumed" "assumed = true" "The values are defaults that nobody verified; `check` then reports them. Default: false."
    }
    TIMER "timer" "How pulse width becomes timer counts. In the file, a board or a joint; the nearest takes precedence." {
        must "frame_hz" "frame_hz = 50" "Frames (pulses) per second, Hz."
        must "counts_per_frame" "counts_per_frame = 4096" "Timer counts in one frame."
        may "assumed" "assumed = true" "The values are defaults that nobody verified; `check` then reports them. Default: false."
    }
    BOARD "[board.NAME]" "A board that sends pulses." {
        may "channels" "channels = 16" "Number of its channels; `check` then refuses a channel that it does not have."
        may "timer" "timer = { counts_per_frame = 65536 }" "Timer of its joints, where it differs from the file's."
    }
    JOINT "[joint.NAME]" "One joint." {
        may "board" "board = \"breast\"" "The board that drives it."
        may "channel" "channel = 3" "Channel on that board, 0 to 65535."
        may "unit" "unit = \"deg\"" "Unit of its commands. Known words convert to SI; any other word is kept. A linkage takes deg, a slider-crank the unit of its lengths."
        must "command" "command = [-40, 60]" "Lower and upper command, in the joint's unit."
        must "drive" "drive = [37, 122]" "Drive angles of these commands, lower first, deg."
        may "inverted" "inverted = true" "The lower command belongs to the upper drive angle. Default: false."
        may "travel" "travel = [40.2, 119]" "Drive angles that the joint may use, deg. Default: `drive`."
        must "rest" "rest = 10" "Command of the rest position."
        may "max_rate_per_s" "max_rate_per_s = 60" "Largest rate, command units per second."
        may "mirror_of" "mirror_of = \"wing_right\"" "The joint on the other side that has the same commands."
        may "servo" "servo = { angle = [0, 180], pulse_us = [544, 2400] }" "Its servo, where it differs from the file's."
        may "timer" "timer = { counts_per_frame = 8192 }" "Its timer, where it differs from the board's."
        may "feedback" "feedback = { reading = [212, 871], angle = [-40, 60], adc_bits = 10 }" "From the sensor's reading to the joint angle."
        may "transmission" "transmission = { kind = \"triangle\", base = 40.0, arm = 92.0, angle_at_zero = 90.0 }" "From command to drive angle. Default: linear."
        may "evidence" "[joint.wing_left.evidence]" "What proves the travel, and when it was measured."
        may "history" "history = { 2025-11-20 = { readings = 40 } }" "Earlier evidence, each under its date; `-2` and so on after a date that occurs again."
    }
    FEEDBACK "feedback" "From reading to joint angle: a straight line, or a curve through knots." {
        must "reading" "reading = [212, 871]" "Readings at the ends, lower first, e.g. ADC counts."
        must "angle" "angle = [-40, 60]" "Joint angles at the ends of the command range, where these readings were taken, lower first, deg; a reading at them is the command of that end."
        may "inverted" "inverted = true" "The lower reading belongs to the upper angle. Default: false."
        may "adc_bits" "adc_bits = 10" "Bits of the converter, 1 to 24, so that a broken or shorted wire is not mistaken for a position."
        may "wrap_deg" "wrap_deg = 360" "The angle after which the sensor wraps around, deg; with `adc_bits`."
        may "pot_ohm" "pot_ohm = 5000" "Resistance of the potentiometer, ohm; with `load_ohm` and `adc_bits`."
        may "load_ohm" "load_ohm = 100000" "Resistance that loads the wiper, ohm; with `pot_ohm` and `adc_bits`."
        may "supply_v" "supply_v = 3.3" "Supply of the potentiometer, V."
        may "knots" "knots = [[212, -40], [540, 12], [871, 60]]" "Reading and joint angle of each knot of a curve."
    }
    LINEAR "transmission, kind = \"linear\"" "A straight line; the same as no transmission." {
        must "kind" "kind = \"linear\"" "The kind."
    }
    CURVE "transmission, kind = \"curve\"" "A monotone cubic through measured knots." {
        must "kind" "kind = \"curve\"" "The kind."
        must "knots" "knots = [[-40, 37], [10, 84], [60, 122]]" "Command and drive angle of each knot; the first and last are those of `command` and `drive`."
        may "rule" "rule = \"parabola\"" "How the slope at a knot follows from its neighbours."
    }
    EVIDENCE "[joint.NAME.evidence]" "What proves the ends of the travel." {
        may "date" "date = 2026-11-20" "Day of the measurement, without quotes."
        may "by" "by = \"A. Heron\"" "Who measured."
        may "instrument" "instrument = \"inclinometer 0.1 deg\"" "What it was measured with."
        may "supply_v" "supply_v = 6.0" "Supply of the servo, V."
        may "temperature_c" "temperature_c = 21.5" "Temperature, degrees Celsius."
        may "sense" "sense = \"opposing\"" "Result of the sense test: opposing, aiding or undetermined."
        may "sense_date" "sense_date = 2026-10-02" "Day of the sense test, where it was another than `date`."
        may "lower" "lower = { kind = \"contact\", at = 37.9, u = 0.2, guard = 2.0 }" "What was found at the lower end."
        may "upper" "upper = { kind = \"clear\", at = 119.0 }" "What was found at the upper end."
        may "lost_motion" "lost_motion = { value = 1.8, u = 0.15 }" "Lost motion and its standard uncertainty, drive deg."
        may "readings" "readings = 42" "Number of readings."
        may "map_off" "map_off = 14.4" "The map was kept against these readings: drive deg by which they put a command elsewhere, at the most."
        may "source" "source = { file = \"readings/wing_left.csv\", sha256 = \"0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef\" }" "The table of readings, so that it can be drawn and fitted again."
    }
    END "lower and upper of evidence" "One end of the travel." {
        must "kind" "kind = \"contact\"" "contact, stalled, clear or declared: see the glossary."
        must "at" "at = 37.9" "Drive angle, deg: of the contact; of the last reading that follows (stalled); of the furthest clear reading."
        may "short_at" "short_at = 36.0" "Stalled only, and needed there: drive angle of the first reading that falls short, deg."
        may "u" "u = 0.2" "Standard uncertainty of `at`, deg."
        may "guard" "guard = 2.0" "Guard margin between contact and travel, deg."
    }
    LOST_MOTION "lost_motion of evidence" "The difference between positions reached from below and from above." {
        must "value" "value = 1.8" "Drive deg."
        may "u" "u = 0.15" "Its standard uncertainty, drive deg."
    }
    SOURCE "source of evidence" "The table that was fitted. What is left out has the default of `elbowroom fit`." {
        must "file" "file = \"readings/wing_left.csv\"" "Path, seen from the robot file."
        must "sha256" "sha256 = \"0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef\"" "SHA-256 of its bytes."
        may "rows" "rows = { side = \"left\" }" "Rows that were used: column and value."
        may "columns" "columns = { drive = \"command_us\" }" "Names of columns, where they are not the default ones."
        may "drive_unit" "drive_unit = \"us\"" "Unit of the drive column: deg, us, ms or counts."
        may "servo" "servo = { angle = [0, 180], pulse_us = [500, 2500] }" "The servo line in whose degrees the drive column was written, both pairs as in a joint's `servo`; kept where the joint's servo line changes afterwards. Default: the joint's own."
        may "measured_unit" "measured_unit = \"deg\"" "Unit of the measured column."
        may "flipped" "flipped = true" "The measured values were read with the opposite sign. Default: false."
        may "arc_radius" "arc_radius = 120" "The measured values are lengths along an arc of this radius, in the same unit."
        may "wrap" "wrap = 360" "The measured values wrap around after this much."
        may "time_unit" "time_unit = \"ms\"" "Unit of the time column: s or ms."
        may "separator" "separator = \";\"" "Character between columns."
        may "decimal" "decimal = \",\"" "Character before the decimals."
        may "resolution" "resolution = 0.1" "Resolution of the measured values."
        may "confidence" "confidence = 0.95" "Coverage probability of the intervals."
    }
    CHECK "[check]" "Limits that the rules use." {
        may "guard" "guard = 2.0" "Smallest guard margin where the evidence has none, drive deg."
        may "coarse_step" "coarse_step = 1.0" "Largest drive angle of one timer count, deg."
        may "stale_after_days" "stale_after_days = 365" "Age from which evidence is old, days."
        may "fewest_readings" "fewest_readings = 5" "Smallest number of readings behind evidence."
        may "lost_motion" "lost_motion = 5.0" "Largest lost motion without a finding, drive deg."
        may "pulse_us" "pulse_us = [500, 2500]" "Pulse widths that the servos accept, microseconds."
        may "drive_per_s" "drive_per_s = 600" "Speed of the servos, drive deg per second."
        may "clamped_share" "clamped_share = 0.25" "Largest share of the command range outside the travel, 0 to 1."
        may "mirror_tolerance" "mirror_tolerance = 3.0" "Largest difference between mirrored ends, drive deg."
        may "raise" "raise = { evidence-stale = \"error\" }" "Rules that count more than by default."
        may "waive" "waive = [{ rule = \"limit-unproven\", reason = \"no stop within reach\" }]" "Findings that are accepted, each with its reason."
    }
    WAIVER "waive of [check]" "A finding that is accepted." {
        must "rule" "rule = \"limit-unproven\"" "Name of the rule."
        may "joint" "joint = \"wing_left\"" "The joint; without it, all joints."
        must "reason" "reason = \"no stop within reach\"" "Why it is accepted."
    }
}
