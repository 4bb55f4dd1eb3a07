//! The status of every call, its name and its sentence.

use model::Code;
use std::ffi::c_char;

/// What a call came to.
///
/// Numbers are frozen: never reused, never changed in meaning. Later versions add more; treat a number that you do not
/// know as ELB_STATUS_OTHER. The same numbers and names are used in Rust, Python and the shell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(i32)]
pub enum elb_status {
    /// Success.
    Ok = 0,
    /// Anything without a code of its own.
    Other = 1,
    /// A pointer that must not be NULL is NULL.
    NullPointer = 2,
    /// A struct's size or a length cannot be used; give the struct's init call its sizeof, and each array its length.
    BadSize = 3,
    /// A text is not UTF-8.
    NotUtf8 = 4,
    /// A fault inside the library; nothing was changed.
    InternalFault = 5,
    /// An output overlaps its input in part.
    Overlap = 6,
    /// A field or argument holds a number without a meaning.
    UnknownValue = 7,
    /// A pointer is not aligned as its type needs.
    Misaligned = 8,
    /// What was asked for does not exist: an index past the end, or a result that this fit does not have.
    Absent = 9,
    /// A value is NaN or infinite where a number is needed.
    NotFinite = 10,
    /// A pair of ends is given upper first.
    EndsSwapped = 11,
    /// A pair of ends encloses nothing.
    ZeroWidth = 12,
    /// An angle lies outside the servo's angle range.
    OutsideServo = 13,
    /// The rest lies outside the command range.
    RestOutside = 14,
    /// Travel and drive range have no angle in common.
    TravelDisjoint = 15,
    /// Frame rate, counts or pulse width cannot work together.
    TimerInvalid = 16,
    /// No timer count commands an angle inside the travel.
    NoCountInTravel = 17,
    /// A number that must be above zero is not.
    NotPositive = 18,
    /// Two arrays that belong together differ in length.
    LengthMismatch = 19,
    /// A count needs more bits than the array's numbers have.
    CountTooWide = 20,
    /// The joint has no feedback map.
    NoFeedback = 21,
    /// A transmission's parameters describe no usable mechanism.
    TransmissionInvalid = 22,
    /// A feedback map's numbers describe no usable sensor.
    FeedbackInvalid = 23,
    /// Too few readings for the question asked.
    TooFewReadings = 30,
    /// All commands are equal, or too few of them differ.
    DriveAnglesEqual = 31,
    /// The measured value did not follow the command.
    NoMotion = 32,
    /// An option is outside its range.
    OptionOutside = 33,
    /// The readings were taken while the joint moved.
    InMotion = 34,
    /// Too many readings disagree with each other.
    NoAgreement = 35,
    /// The side from which positions were reached is not given.
    ApproachUnknown = 36,
    /// Readings contradict the map from command to drive angle that stands in the file.
    MapContradicted = 37,
    /// The text is not TOML.
    FileSyntax = 50,
    /// A key is not known here.
    UnknownKey = 51,
    /// A key is missing.
    MissingKey = 52,
    /// A value has the wrong type or form.
    WrongType = 53,
    /// The file's format is newer than this library reads.
    FormatTooNew = 54,
    /// No joint has this name.
    UnknownJoint = 55,
    /// The file could not be read or written.
    FileAccess = 56,
    /// A number in a file is outside its range.
    ValueOutside = 57,
    /// A word is not one of those that are allowed here.
    UnknownWord = 58,
    /// A file was changed by others since it was read.
    FileChanged = 59,
    /// A file is longer than the limit.
    FileTooLong = 60,
    /// An image is shorter or longer than its header states, or there is too little room to write one.
    BlockLength = 80,
    /// The bytes do not begin with those of a block.
    BlockBadMagic = 81,
    /// The block's version is not known here.
    BlockVersion = 82,
    /// The bytes are not those that were written.
    BlockChecksum = 83,
    /// The checksum is right, but the contents of the block contradict each other.
    BlockInvalid = 84,
    /// The block holds no joint of this channel.
    UnknownChannel = 85,
    /// Two joints of a block share a channel.
    ChannelTwice = 86,
    /// A joint or robot that a block cannot hold.
    BlockFull = 87,
    /// A report or an answer does not belong to what was asked.
    WrongReport = 100,
    /// A report after a procedure's end.
    ProcedureDone = 101,
    /// There is too little room for the result.
    NoRoom = 110,
}

impl elb_status {
    /// The statuses that only the C interface has, with name and sentence. Those of the core are [`Code::ALL`].
    const OWN: [(Self, &'static str, &'static str); 8] = [
        (Self::Ok, "ok", "Success."),
        (
            Self::NullPointer,
            "null-pointer",
            "A pointer that must not be NULL is NULL.",
        ),
        (
            Self::BadSize,
            "bad-size",
            "A struct's size or a length cannot be used; give the struct's init call its sizeof, and each array its length.",
        ),
        (Self::NoRoom, "no-room", "There is too little room for the result."),
        (
            Self::InternalFault,
            "internal-fault",
            "A fault inside the library; nothing was changed.",
        ),
        (
            Self::UnknownValue,
            "unknown-value",
            "A field or argument holds a number without a meaning.",
        ),
        (
            Self::Misaligned,
            "misaligned",
            "A pointer is not aligned as its type needs.",
        ),
        (
            Self::Absent,
            "absent",
            "What was asked for does not exist: an index past the end, or a result that this fit does not have.",
        ),
    ];
}

impl From<Code> for elb_status {
    fn from(code: Code) -> Self {
        if crate::injected::forgotten() {
            return Self::Other;
        }
        match code {
            Code::NotUtf8 => Self::NotUtf8,
            Code::Overlap => Self::Overlap,
            Code::NotFinite => Self::NotFinite,
            Code::EndsSwapped => Self::EndsSwapped,
            Code::ZeroWidth => Self::ZeroWidth,
            Code::OutsideServo => Self::OutsideServo,
            Code::RestOutside => Self::RestOutside,
            Code::TravelDisjoint => Self::TravelDisjoint,
            Code::TimerInvalid => Self::TimerInvalid,
            Code::NoCountInTravel => Self::NoCountInTravel,
            Code::NotPositive => Self::NotPositive,
            Code::LengthMismatch => Self::LengthMismatch,
            Code::CountTooWide => Self::CountTooWide,
            Code::NoFeedback => Self::NoFeedback,
            Code::TransmissionInvalid => Self::TransmissionInvalid,
            Code::FeedbackInvalid => Self::FeedbackInvalid,
            Code::TooFewReadings => Self::TooFewReadings,
            Code::DriveAnglesEqual => Self::DriveAnglesEqual,
            Code::NoMotion => Self::NoMotion,
            Code::OptionOutside => Self::OptionOutside,
            Code::InMotion => Self::InMotion,
            Code::NoAgreement => Self::NoAgreement,
            Code::ApproachUnknown => Self::ApproachUnknown,
            Code::MapContradicted => Self::MapContradicted,
            Code::FileSyntax => Self::FileSyntax,
            Code::UnknownKey => Self::UnknownKey,
            Code::MissingKey => Self::MissingKey,
            Code::WrongType => Self::WrongType,
            Code::FormatTooNew => Self::FormatTooNew,
            Code::UnknownJoint => Self::UnknownJoint,
            Code::FileAccess => Self::FileAccess,
            Code::ValueOutside => Self::ValueOutside,
            Code::UnknownWord => Self::UnknownWord,
            Code::FileChanged => Self::FileChanged,
            Code::FileTooLong => Self::FileTooLong,
            Code::BlockLength => Self::BlockLength,
            Code::BlockBadMagic => Self::BlockBadMagic,
            Code::BlockVersion => Self::BlockVersion,
            Code::BlockChecksum => Self::BlockChecksum,
            Code::BlockInvalid => Self::BlockInvalid,
            Code::UnknownChannel => Self::UnknownChannel,
            Code::ChannelTwice => Self::ChannelTwice,
            Code::BlockFull => Self::BlockFull,
            Code::WrongReport => Self::WrongReport,
            Code::ProcedureDone => Self::ProcedureDone,
            // Completeness is tested below: the core's enum may grow, and then so must this one.
            _ => Self::Other,
        }
    }
}

/// Bytes kept for a name or sentence of the tables below, the final NUL included.
const TEXT_ROOM: usize = 128;
/// One more than the largest number in use.
const NUMBERS: usize = {
    let codes = Code::ALL;
    let mut most = 0;
    let mut i = 0;
    while i < codes.len() {
        #[allow(clippy::indexing_slicing)] // Runs in the compiler; `i` is below the length.
        let number = codes[i].number() as usize;
        if number > most {
            most = number;
        }
        i += 1;
    }
    let mut i = 0;
    while i < elb_status::OWN.len() {
        #[allow(clippy::indexing_slicing)] // As above.
        let number = elb_status::OWN[i].0 as usize;
        if number > most {
            most = number;
        }
        i += 1;
    }
    most + 1
};

type Table = [[u8; TEXT_ROOM]; NUMBERS];

/// Copies the core's texts, which end nowhere, into texts that end with a NUL, as C wants them.
#[allow(clippy::indexing_slicing)] // Runs in the compiler: a text that is too long does not compile.
const fn table(sentence: bool) -> Table {
    const fn put(mut table: Table, number: usize, text: &str) -> Table {
        let bytes = text.as_bytes();
        assert!(bytes.len() < TEXT_ROOM, "a text is longer than its room");
        let mut i = 0;
        while i < bytes.len() {
            table[number][i] = bytes[i];
            i += 1;
        }
        table
    }
    let mut table = [[0; TEXT_ROOM]; NUMBERS];
    let mut i = 0;
    while i < Code::ALL.len() {
        let code = Code::ALL[i];
        table = put(
            table,
            code.number() as usize,
            if sentence { code.text() } else { code.name() },
        );
        i += 1;
    }
    let mut i = 0;
    while i < elb_status::OWN.len() {
        let (status, name, text) = elb_status::OWN[i];
        table = put(table, status as usize, if sentence { text } else { name });
        i += 1;
    }
    table
}

static NAMES: Table = table(false);
static SENTENCES: Table = table(true);

fn look_up(table: &'static Table, status: i32) -> *const c_char {
    let row = usize::try_from(status).ok().and_then(|number| table.get(number));
    let known = row.filter(|row| row.first() != Some(&0));
    let other = table.get(elb_status::Other as usize);
    match known.or(other) {
        Some(row) => row.as_ptr().cast(),
        None => c"".as_ptr(),
    }
}

/// The name of a status, as Python and the shell show it: "not-finite".
///
/// Returns a static text, never NULL, not to be freed. A number that this library does not know gives the text of
/// ELB_STATUS_OTHER.
#[unsafe(no_mangle)]
pub extern "C" fn elb_status_name(status: i32) -> *const c_char {
    look_up(&NAMES, status)
}

/// The sentence of a status: "A value is NaN or infinite where a number is needed."
///
/// Returns a static text, never NULL, not to be freed. A number that this library does not know gives the text of
/// ELB_STATUS_OTHER. Calls with an `error` parameter write a better message there, with the values at fault.
#[unsafe(no_mangle)]
pub extern "C" fn elb_status_text(status: i32) -> *const c_char {
    look_up(&SENTENCES, status)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::ffi::CStr;

    fn text(table: &'static Table, status: i32) -> &'static str {
        // SAFETY: `look_up` points into a static table whose rows end with a NUL.
        unsafe { CStr::from_ptr(look_up(table, status)) }.to_str().unwrap()
    }

    #[test]
    fn every_code_of_the_core_has_its_status() {
        for &code in Code::ALL {
            let number = i32::from(code.number());
            assert_eq!(elb_status::from(code) as i32, number, "{code:?}");
            assert_eq!(text(&NAMES, number), code.name());
            assert_eq!(text(&SENTENCES, number), code.text());
        }
    }

    #[test]
    fn own_numbers_are_the_reserved_ones_and_no_other_number_has_a_text() {
        for (status, name, sentence) in elb_status::OWN {
            assert!(Code::ALL.iter().all(|code| i32::from(code.number()) != status as i32));
            assert_eq!(text(&NAMES, status as i32), name);
            assert_eq!(text(&SENTENCES, status as i32), sentence);
        }
        for unknown in [-1, 24, 29, 1000, i32::MIN, i32::MAX] {
            assert_eq!(text(&NAMES, unknown), "other");
        }
    }

    /// What stands in the header as a comment is what `elb_status_text` says.
    #[test]
    fn comments_and_sentences_agree() {
        let source = include_str!("status.rs");
        let sentences = Code::ALL.iter().map(|code| code.text());
        for sentence in sentences.chain(elb_status::OWN.map(|own| own.2)) {
            assert!(source.contains(&format!("    /// {sentence}\n")), "{sentence}");
        }
    }
}
