//! The rules: their names, what each protects, and a line that breaks it.

/// How much a finding matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Severity {
    /// Worth knowing.
    Note,
    /// Should be corrected before the joint runs unattended.
    Warning,
    /// The joint must not run.
    Error,
}

impl Severity {
    /// Every severity, the lightest first.
    pub const ALL: [Self; 3] = [Self::Note, Self::Warning, Self::Error];

    /// Its word.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Note => "note",
            Self::Warning => "warning",
            Self::Error => "error",
        }
    }
}

/// Writes the rules and everything said about them from one table.
macro_rules! rules {
    ($($variant:ident $severity:ident $name:literal $protects:literal $breaks:literal)*) => {
        /// One rule of the check.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        #[non_exhaustive]
        pub enum Rule {
            $(
                #[doc = concat!("`", $name, "`: ", $protects, "\n\n[check]: crate::robot::CheckSettings\n\nBroken by e.g. `", $breaks, "`.")]
                $variant,
            )*
        }

        impl Rule {
            /// Every rule.
            pub const ALL: &'static [Self] = &[$(Self::$variant),*];

            /// Its name, which names the fault.
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => $name,)* }
            }

            /// How much its findings matter unless the file raises it.
            pub const fn severity(self) -> Severity {
                match self { $(Self::$variant => Severity::$severity,)* }
            }

            /// What it protects.
            pub const fn protects(self) -> &'static str {
                match self { $(Self::$variant => $protects,)* }
            }

            /// An example that breaks it.
            pub const fn broken_by(self) -> &'static str {
                match self { $(Self::$variant => $breaks,)* }
            }

            /// The rule of this name.
            pub fn named(name: &str) -> Option<Self> {
                Self::ALL.iter().copied().find(|rule| rule.name() == name)
            }
        }
    };
}

rules! {
    RestOutsideTravel Error "rest-outside-travel"
        "the joint reaches its rest position and is not clamped at an end of its travel."
        "travel = [50, 110] with rest = -40, which would be drive 37"
    TravelBeyondContact Error "travel-beyond-contact"
        "the joint is never driven into a stop that was found."
        "travel = [37, 119] with evidence lower = { kind = \"contact\", at = 37.9 }"
    TravelBeyondClear Error "travel-beyond-clear"
        "limits are never extrapolated beyond the furthest clear reading."
        "travel = [40.2, 121] with evidence upper = { kind = \"clear\", at = 119 }"
    GuardTooThin Warning "guard-too-thin"
        "the margin between a stop and the travel is at least that of the evidence, or [check] guard."
        "travel = [38.5, 119] with evidence lower = { kind = \"contact\", at = 37.9, guard = 2.0 }"
    GuardWithinUncertainty Error "guard-within-uncertainty"
        "the margin is wider than twice the standard uncertainty of the contact, so that it is a margin at all."
        "lower = { kind = \"contact\", at = 37.9, u = 1.5, guard = 2.0 } with travel = [39.9, 119]"
    LostMotionBeyondGuard Warning "lost-motion-beyond-guard"
        "half the lost motion fits into the margin; otherwise the joint meets the stop when it comes from the other side."
        "lost_motion = { value = 6, u = 0.2 } with a margin of 2 deg"
    LostMotionLarge Warning "lost-motion-large"
        "wear is noticed: lost motion stays below [check] lost_motion."
        "lost_motion = { value = 8.0, u = 0.2 }"
    ContactsCrossed Error "contacts-crossed"
        "the two ends are in order: the lower end lies below the upper."
        "lower = { kind = \"contact\", at = 121 } with upper = { kind = \"clear\", at = 119 }"
    StopNotPlaced Warning "stop-not-placed"
        "each stop that holds the joint is placed by readings on both sides of it."
        "upper = { kind = \"stalled\", at = 110, short_at = 120 }"
    LimitUnproven Warning "limit-unproven"
        "each end of the travel has evidence."
        "no lower in [joint.NAME.evidence]"
    LimitOnlyDeclared Warning "limit-only-declared"
        "each end of the travel is measured, not only declared."
        "upper = { kind = \"declared\", at = 119 }"
    ContactWithoutUncertainty Warning "contact-without-uncertainty"
        "the guard margin can be judged: a contact has its standard uncertainty."
        "lower = { kind = \"contact\", at = 37.9, guard = 2.0 }"
    SenseUnproven Warning "sense-unproven"
        "no loop is closed over a feedback with an untested sense."
        "evidence without sense, or sense = \"undetermined\""
    SenseAiding Error "sense-aiding"
        "no loop is closed that runs away."
        "sense = \"aiding\""
    FeedbackRunsOut Error "feedback-runs-out"
        "the sensor covers the whole travel of the joint."
        "feedback = { reading = [10, 1000], angle = [-40, 60], adc_bits = 10 } with a travel that goes past both ends of drive"
    FeedbackSpanMismatch Warning "feedback-span-mismatch"
        "readings give true commands: feedback.angle are the joint angles at the ends of command, so in deg, rad or turn both have one span, within 5 %."
        "feedback = { reading = [343.8, 673.3], angle = [-20, 30] } with command = [-40, 60] and unit = \"deg\""
    WrapInsideTravel Error "wrap-inside-travel"
        "a sensor that wraps around does not jump from its last reading to its first within the travel."
        "feedback = { reading = [100, 4090], angle = [0, 350], adc_bits = 12, wrap_deg = 360 } with a travel past drive"
    WireBreakUnseen Warning "wire-break-unseen"
        "a broken or shorted wire of the sensor does not read as a position: the readings keep clear of the converter's rails."
        "feedback = { reading = [0, 871], angle = [-40, 60], adc_bits = 10 }"
    EvidenceRehearsed Error "evidence-rehearsed"
        "evidence comes from the joint itself and not from a rehearsal."
        "instrument = \"virtual joint\""
    MapContradicted Warning "map-contradicted"
        "commands go to the drive angles that the readings give: the map was not kept against its own evidence."
        "map_off = 14.4 in [joint.NAME.evidence]"
    NumbersAssumed Note "numbers-assumed"
        "the numbers of servo and timer are verified and not assumed."
        "servo = { angle = [0, 180], pulse_us = [500, 2500], assumed = true }"
    UnitUnknown Note "unit-unknown"
        "commands have a unit that converts to SI: a word that is not known has no factor."
        "unit = \"degs\""
    UnitUnlikely Warning "unit-unlikely"
        "commands are in the unit that the file names: as angles they span no more than two turns."
        "command = [-45, 45] with unit = \"rad\""
    EvidenceUndated Note "evidence-undated"
        "the age of evidence can be judged."
        "evidence without date"
    EvidenceStale Warning "evidence-stale"
        "evidence is renewed: it is not older than [check] stale_after_days."
        "date = 2019-01-01"
    EvidenceAhead Error "evidence-ahead"
        "dates are right: evidence is not from the future."
        "date = 2999-01-01"
    ReadingsFew Warning "readings-few"
        "evidence rests on at least [check] fewest_readings readings."
        "readings = 3"
    SourceMissing Warning "source-missing"
        "the readings behind the evidence are there, to be drawn and fitted again."
        "source = { file = \"readings/gone.csv\", sha256 = \"...\" } with no such file beside the robot file"
    SourceChanged Warning "source-changed"
        "the readings behind the evidence are those that were fitted."
        "a file whose SHA-256 is not source.sha256"
    RateMissing Warning "rate-missing"
        "no joint jumps to its target at the servo's full speed."
        "no max_rate_per_s"
    RateBeyondServo Warning "rate-beyond-servo"
        "the servo can keep the rate: it stays below [check] drive_per_s."
        "max_rate_per_s = 9000"
    PulseOutsideServo Warning "pulse-outside-servo"
        "the mapping itself stays within the servo, not only the travel that cuts it off."
        "drive = [37, 190] with travel = [40.2, 119] and servo angle [0, 180]"
    PulseUnusual Warning "pulse-unusual"
        "pulse widths are those that hobby servos accept ([check] pulse_us), not counts or milliseconds."
        "servo = { angle = [0, 180], pulse_us = [100, 2500] }"
    CoarseStep Warning "coarse-step"
        "one timer count is a small step: at most [check] coarse_step of drive."
        "timer = { frame_hz = 50, counts_per_frame = 1024 }"
    CommandMostlyClamped Warning "command-mostly-clamped"
        "most commands do something: the travel cuts off no more than [check] clamped_share of the command range."
        "drive = [37, 122] with travel = [40.2, 60]"
    ChannelMissing Warning "channel-missing"
        "each joint has a board and a channel."
        "board = \"breast\" without channel"
    ChannelClash Error "channel-clash"
        "no two joints share an output."
        "two joints with board = \"breast\" and channel = 3"
    ChannelBeyondBoard Error "channel-beyond-board"
        "each channel exists on its board."
        "channel = 16 on [board.breast] with channels = 16"
    BoardUnknown Error "board-unknown"
        "board names agree: if one board is described, each board that a joint names is described."
        "board = \"braest\" beside [board.breast]"
    BoardTimersDiffer Error "board-timers-differ"
        "all outputs of a board share one timer, so their joints agree on it."
        "timer = { frame_hz = 60, counts_per_frame = 4096 } in one joint of a 50 Hz board"
    JointUnknownMirror Error "joint-unknown-mirror"
        "a mirrored joint exists."
        "mirror_of = \"wing_rihgt\""
    MirrorOfItself Error "mirror-of-itself"
        "a joint mirrors another one."
        "mirror_of = \"wing_left\" in [joint.wing_left]"
    MirrorMismatch Error "mirror-mismatch"
        "both sides move alike: unit, command, rest, rate and size of the travel agree, within [check] mirror_tolerance."
        "rest = 5 on one side and rest = 10 on the other"
    MirrorContradicted Error "mirror-contradicted"
        "mirror pairs are pairs: if both joints name a mirror, they name each other."
        "wing_left mirrors wing_right, wing_right mirrors leg_left"
    UrdfJointMissing Warning "urdf-joint-missing"
        "the URDF given beside the robot file has each joint."
        "[joint.neck_base] beside a URDF without a joint neck_base"
    UrdfJointUnknown Warning "urdf-joint-unknown"
        "each movable joint of the URDF is calibrated."
        "<joint name=\"neck_bse\" type=\"revolute\"> beside a robot file without it"
    UrdfLimitExceeded Error "urdf-limit-exceeded"
        "no command goes past the URDF's limits."
        "<limit lower=\"-0.1\" upper=\"0.1\"/> for a joint that turns 50 deg to each side"
    UrdfLimitUnreachable Warning "urdf-limit-unreachable"
        "a plan made from the URDF stays within the travel."
        "<limit lower=\"-2\" upper=\"2\"/> for a joint that turns 50 deg to each side"
    UrdfRateExceeded Warning "urdf-rate-exceeded"
        "the joint is not moved faster than the URDF allows."
        "max_rate_per_s = 90 with unit = \"deg\" beside velocity=\"1.0\""
    UrdfUnitUnlike Note "urdf-unit-unlike"
        "a joint can be compared with the URDF: its unit is deg or rad, or m or mm where it slides."
        "unit = \"fraction\" for a joint that the URDF has"
    UrdfJointEndless Warning "urdf-joint-endless"
        "the URDF gives limits for each joint that has a travel."
        "<joint name=\"neck_base\" type=\"continuous\"> for a joint that turns 50 deg to each side"
    UrdfJointMimics Warning "urdf-joint-mimics"
        "a joint with a servo of its own is commanded, and does not only follow another one."
        "<mimic joint=\"neck_base\"/> in a joint that the robot file calibrates"
    UrdfSafetyExceeded Warning "urdf-safety-exceeded"
        "no command goes past the soft limits of the URDF's safety controller."
        "<safety_controller soft_lower_limit=\"-0.1\" soft_upper_limit=\"0.1\" k_velocity=\"1\"/> for 50 deg to each side"
    WaiverWithoutJoint Warning "waiver-without-joint"
        "an error is accepted of one joint that somebody looked at, and not of all joints and later changes."
        "waive = [{ rule = \"travel-beyond-contact\", reason = \"...\" }] without joint"
    WaiverUnused Note "waiver-unused"
        "waivers are removed when their reason no longer applies."
        "waive = [{ rule = \"coarse-step\", reason = \"...\" }] where no step is coarse"
    RobotEmpty Error "robot-empty"
        "a robot file without joints is noticed."
        "a file that holds only format = 1"
}
