//! The codes of everything that can go wrong: number, name and sentence, the same in Rust, C, Python and the shell.

/// Writes the codes, their names and the list of all of them from one table.
macro_rules! codes {
    ($(#[doc = $text:literal] $variant:ident = $number:literal => $name:literal,)*) => {
        /// The frozen codes of everything that can go wrong.
        ///
        /// A number is never reused and never changes its meaning; 0 is success and has no variant. Callers treat a
        /// number they do not know as [`Code::Other`].
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        #[repr(u16)]
        #[non_exhaustive]
        pub enum Code {
            $(#[doc = $text] $variant = $number,)*
        }

        impl Code {
            /// Every code, in rising order of number.
            pub const ALL: &'static [Self] = &[$(Self::$variant),*];

            /// The number that crosses the C interface.
            pub const fn number(self) -> u16 {
                self as u16
            }

            /// The name that Python and the shell show.
            pub const fn name(self) -> &'static str {
                match self {
                    $(Self::$variant => $name,)*
                }
            }

            /// The general sentence, for where no error with its values is at hand.
            pub const fn text(self) -> &'static str {
                match self {
                    // A doc comment starts with the space after its slashes.
                    $(Self::$variant => $text.trim_ascii_start(),)*
                }
            }
        }
    };
}

codes! {
    /// Anything without a code of its own.
    Other = 1 => "other",
    // 2, 3, 5 and 7 to 9 belong to the foreign interfaces: null pointers, sizes, internal faults.
    /// A text is not UTF-8.
    NotUtf8 = 4 => "not-utf8",
    /// An output overlaps its input in part.
    Overlap = 6 => "overlap",
    /// A value is NaN or infinite where a number is needed.
    NotFinite = 10 => "not-finite",
    /// A pair of ends is given upper first.
    EndsSwapped = 11 => "ends-swapped",
    /// A pair of ends encloses nothing.
    ZeroWidth = 12 => "zero-width",
    /// An angle lies outside the servo's angle range.
    OutsideServo = 13 => "outside-servo",
    /// The rest lies outside the command range.
    RestOutside = 14 => "rest-outside",
    /// Travel and drive range have no angle in common.
    TravelDisjoint = 15 => "travel-disjoint",
    /// Frame rate, counts or pulse width cannot work together.
    TimerInvalid = 16 => "timer-invalid",
    /// No timer count commands an angle inside the travel.
    NoCountInTravel = 17 => "no-count-in-travel",
    /// A number that must be above zero is not.
    NotPositive = 18 => "not-positive",
    /// Two arrays that belong together differ in length.
    LengthMismatch = 19 => "length-mismatch",
    /// A count needs more bits than the array's numbers have.
    CountTooWide = 20 => "count-too-wide",
    /// The joint has no feedback map.
    NoFeedback = 21 => "no-feedback",
    /// A transmission's parameters describe no usable mechanism.
    TransmissionInvalid = 22 => "transmission-invalid",
    /// A feedback map's numbers describe no usable sensor.
    FeedbackInvalid = 23 => "feedback-invalid",
    // 30 to 49: fitting.
    /// Too few readings for the question asked.
    TooFewReadings = 30 => "too-few-readings",
    /// All commands are equal, or too few of them differ.
    DriveAnglesEqual = 31 => "drive-angles-equal",
    /// The measured value did not follow the command.
    NoMotion = 32 => "no-motion",
    /// An option is outside its range.
    OptionOutside = 33 => "option-outside",
    /// The readings were taken while the joint moved.
    InMotion = 34 => "in-motion",
    /// Too many readings disagree with each other.
    NoAgreement = 35 => "no-agreement",
    /// The side from which positions were reached is not given.
    ApproachUnknown = 36 => "approach-unknown",
    /// Readings contradict the map from command to drive angle that stands in the file.
    MapContradicted = 37 => "map-contradicted",
    // 50 to 79: robot files.
    /// The text is not TOML.
    FileSyntax = 50 => "file-syntax",
    /// A key is not known here.
    UnknownKey = 51 => "unknown-key",
    /// A key is missing.
    MissingKey = 52 => "missing-key",
    /// A value has the wrong type or form.
    WrongType = 53 => "wrong-type",
    /// The file's format is newer than this library reads.
    FormatTooNew = 54 => "format-too-new",
    /// No joint has this name.
    UnknownJoint = 55 => "unknown-joint",
    /// The file could not be read or written.
    FileAccess = 56 => "file-access",
    /// A number in a file is outside its range.
    ValueOutside = 57 => "value-outside",
    /// A word is not one of those that are allowed here.
    UnknownWord = 58 => "unknown-word",
    /// A file was changed by others since it was read.
    FileChanged = 59 => "file-changed",
    /// A file is longer than the limit.
    FileTooLong = 60 => "file-too-long",
    // 80 to 99: firmware blocks.
    /// An image is shorter or longer than its header states, or there is too little room to write one.
    BlockLength = 80 => "block-length",
    /// The bytes do not begin with those of a block.
    BlockBadMagic = 81 => "block-bad-magic",
    /// The block's version is not known here.
    BlockVersion = 82 => "block-version",
    /// The bytes are not those that were written.
    BlockChecksum = 83 => "block-checksum",
    /// The checksum is right, but the contents of the block contradict each other.
    BlockInvalid = 84 => "block-invalid",
    /// The block holds no joint of this channel.
    UnknownChannel = 85 => "unknown-channel",
    /// Two joints of a block share a channel.
    ChannelTwice = 86 => "channel-twice",
    /// A joint or robot that a block cannot hold.
    BlockFull = 87 => "block-full",
    // 100 to 119: bring-up.
    /// A report or an answer does not belong to what was asked.
    WrongReport = 100 => "wrong-report",
    /// A report after a procedure's end.
    ProcedureDone = 101 => "procedure-done",
}
