//! Why a robot file was refused, and where.

use core::fmt;
use core::ops::Range;
use std::borrow::ToOwned;
use std::boxed::Box;
use std::path::{Path, PathBuf};
use std::string::String;
use std::vec::Vec;

use super::near::{Names, UnknownJoint};
use crate::code::Code;
use crate::error::{JointError, Shown};
use crate::linkage::DimensionUnit;

/// What is wrong with a robot file. `Display` writes the sentence, without the place.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum FileFault {
    /// The text is not TOML.
    Syntax {
        /// What the parser expected.
        message: String,
    },
    /// The text is not UTF-8.
    NotUtf8 {
        /// The first byte that is not.
        byte: u8,
    },
    /// The text is not the XML of a robot.
    NotXml {
        /// What the parser met.
        message: String,
    },
    /// A key is not known here.
    UnknownKey {
        /// The key found.
        key: String,
        /// The nearest known one.
        nearest: &'static str,
        /// Whether `nearest` is so near that it must be meant.
        near: bool,
        /// Every key known here.
        known: &'static [&'static str],
    },
    /// A key is missing.
    MissingKey {
        /// The key.
        key: &'static str,
        /// A line that would do.
        example: &'static str,
    },
    /// A value has the wrong type or form.
    WrongType {
        /// The key.
        key: String,
        /// What stands there.
        found: String,
        /// A line that would do.
        example: &'static str,
    },
    /// A flag is neither true nor false.
    NotAFlag {
        /// The key.
        key: String,
        /// What stands there.
        found: String,
    },
    /// A number is written with a decimal comma.
    DecimalComma {
        /// Its place.
        place: String,
        /// As it was given.
        given: String,
        /// As it is to be written.
        instead: String,
    },
    /// A number is outside what it may be.
    ValueOutside {
        /// The key.
        key: String,
        /// The number found.
        value: f64,
        /// What it must be.
        must: &'static str,
    },
    /// The commands of a linkage are in a unit that it does not take.
    LinkageUnit {
        /// The kind of linkage.
        kind: &'static str,
        /// The unit of the joint's commands.
        unit: String,
        /// What the commands of the kind are measured in.
        takes: DimensionUnit,
    },
    /// The file's format is newer than this library reads.
    FormatTooNew {
        /// The format of the file.
        found: i64,
    },
    /// A word is not one of those that are allowed here.
    UnknownWord {
        /// The key.
        key: String,
        /// The word found.
        word: String,
        /// The nearest that may stand there; empty where none is near, and for what a test has to show (`sense`, `kind`).
        nearest: &'static str,
        /// All that may stand there.
        known: Vec<&'static str>,
    },
    /// No joint has this name.
    UnknownJoint {
        /// The name asked for.
        name: String,
        /// The name that must be meant, if one is near.
        nearest: Option<String>,
        /// The first names that there are, up to 8.
        known: Vec<String>,
        /// How many names there are.
        of: usize,
    },
    /// A waiver is for a joint that the file does not have.
    WaiverWithoutJoint {
        /// The rule that it waives.
        rule: String,
        /// The name that it gives, as [`FileFault::UnknownJoint`].
        missing: Box<Self>,
    },
    /// A waiver of errors names no joint.
    WaiverOfAll {
        /// The rule that it would waive.
        rule: String,
    },
    /// There is no earlier text of the file.
    NoEarlier {
        /// The file that would hold it.
        earlier: PathBuf,
    },
    /// The earlier text of the file is the one that it has.
    SameEarlier {
        /// The file that holds it.
        earlier: PathBuf,
    },
    /// A place begins with the name of a joint that needs quotes, as with a dot or a blank in it, without them.
    QuotedName {
        /// The name.
        name: String,
        /// The place as it is to be written.
        place: String,
    },
    /// Nothing is written at this place.
    NotWritten {
        /// The place.
        place: String,
    },
    /// Another joint has this name.
    NameTaken {
        /// The name asked for.
        name: String,
    },
    /// One change gives this place two values.
    GivenTwice {
        /// The place.
        place: String,
    },
    /// The joint has this name already.
    NameUnchanged {
        /// The name asked for.
        name: String,
    },
    /// This cannot be the name of a joint.
    UnusableName {
        /// The name given.
        name: String,
    },
    /// The joint's numbers describe no usable joint.
    Joint(JointError),
    /// The text is longer than [`LONGEST_TEXT`](super::LONGEST_TEXT).
    TooLong,
    /// The file could not be read or written.
    Access {
        /// `read` or `written`.
        action: &'static str,
        /// Why, and what to do, as a sentence without its end.
        reason: String,
    },
    /// Another process holds the lock of the file.
    Locked {
        /// The lock's own file.
        lock: PathBuf,
        /// So long was waited.
        seconds: u64,
    },
    /// The file was changed by others since it was read, where the save changes it too.
    Changed {
        /// What was changed there, as a sentence without its end.
        what: String,
    },
}

impl fmt::Display for FileFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Syntax { message } => write!(f, "not TOML: {message}"),
            Self::NotUtf8 { byte } => write!(f, "the byte 0x{byte:02X} is not UTF-8 text; save the file as UTF-8"),
            Self::NotXml { message } => write!(f, "no robot description: {message}"),
            Self::UnknownKey {
                key,
                nearest,
                near: true,
                ..
            } => write!(f, "unknown key \"{key}\"; write {nearest}"),
            Self::UnknownKey { key, known, .. } => {
                write!(f, "unknown key \"{key}\"; write one of ")?;
                list(f, known)
            }
            Self::MissingKey { key, example } => write!(f, "{key} is missing; write e.g. {example}"),
            Self::WrongType { key, found, example } => write!(f, "{key} is {found}; write e.g. {example}"),
            // An example would suggest one of both.
            Self::NotAFlag { key, found } => write!(f, "{key} is {found}; write true or false"),
            Self::DecimalComma { place, given, instead } => {
                write!(f, "{place} is \"{given}\"; write decimals with a point, {instead}")
            }
            Self::ValueOutside { key, value, must } => write!(f, "{key} is {}; it must be {must}", Shown(*value)),
            Self::LinkageUnit {
                kind,
                unit,
                takes: DimensionUnit::Length,
            } => write!(
                f,
                "unit is \"{unit}\", and the transmission is a {kind}, whose commands are the place of a slide; give command, rest and rate in \
                 the unit of its lengths, and that as unit, or describe the joint with a curve"
            ),
            Self::LinkageUnit { kind, unit, .. } => write!(
                f,
                "unit is \"{unit}\", and the transmission is a {kind}, whose commands are angles in deg; give command, rest and rate in deg \
                 and unit = \"deg\", or describe the joint with a curve"
            ),
            Self::FormatTooNew { found } => write!(
                f,
                "format {found} is newer than format {}, the newest that this version reads; use a newer elbowroom",
                super::FORMAT
            ),
            Self::UnknownWord {
                key,
                word,
                nearest: "",
                known,
            } if known.len() == 1 => write!(f, "{key} is \"{word}\"; write \"{}\"", known.concat()),
            Self::UnknownWord {
                key,
                word,
                nearest: "",
                known,
            } => {
                write!(f, "{key} is \"{word}\"; write one of ")?;
                list(f, known)
            }
            Self::UnknownWord {
                key,
                word,
                nearest,
                known,
            } => {
                write!(f, "{key} is \"{word}\"; write \"{nearest}\" (known: ")?;
                list(f, known)?;
                f.write_str(")")
            }
            Self::UnknownJoint {
                name,
                nearest,
                known,
                of,
            } => UnknownJoint {
                name,
                nearest: nearest.as_deref(),
                known: Names::Kept(known, *of),
            }
            .fmt(f),
            Self::WaiverWithoutJoint { rule, missing } => {
                write!(
                    f,
                    "a waiver of {rule} is for no joint of this file: {missing}; correct the name, or remove the waiver"
                )
            }
            Self::WaiverOfAll { rule } => write!(
                f,
                "findings of {rule} are errors, and a waiver without a joint accepts those of every joint and of every later change; \
                 name the joint that was looked at"
            ),
            Self::NoEarlier { earlier } => write!(
                f,
                "{} does not exist, so no earlier text can be put back; only elbowroom's own commands keep one, each the text before \
                 its last change",
                earlier.display()
            ),
            Self::SameEarlier { earlier } => write!(
                f,
                "{} holds the same text, so nothing can be put back; change the file by hand, or by other edits",
                earlier.display()
            ),
            Self::QuotedName { name, place } => write!(
                f,
                "the name \"{name}\" has {} in it; put it in quotes, and the whole in others: '{place}'",
                if name.contains('.') {
                    "a dot"
                } else if name.contains(' ') {
                    "a blank"
                } else {
                    "characters other than letters, digits, _ and -"
                }
            ),
            Self::NotWritten { place } => write!(
                f,
                "{place} is not written in the file: nothing is to be taken out; leave it as it is, or correct the place"
            ),
            Self::NameTaken { name } => write!(f, "another joint is called \"{name}\"; choose another name"),
            Self::NameUnchanged { name } => write!(f, "\"{name}\" is its name already; give another one"),
            Self::GivenTwice { place } => write!(f, "{place} is given twice; give it one value"),
            Self::UnusableName { name } => write!(
                f,
                "the joint's name is {name:?}; give 1 to 64 bytes without control characters, e.g. wing_left"
            ),
            Self::Joint(error) => error.fmt(f),
            Self::TooLong => write!(
                f,
                "the text is longer than the {} bytes that are read; divide the robot into several files",
                super::LONGEST_TEXT
            ),
            Self::Access { action, reason } => {
                write!(f, "the file cannot be {action}: {reason}")
            }
            Self::Locked { lock, seconds } => write!(
                f,
                "another process has held the lock {} for {seconds} s; wait for its end or stop it, and save again",
                lock.display()
            ),
            Self::Changed { what } => write!(
                f,
                "the file was changed since it was read: {what}; read it again and apply the change again"
            ),
        }
    }
}

fn list(f: &mut fmt::Formatter<'_>, words: &[&str]) -> fmt::Result {
    for (index, word) in words.iter().enumerate() {
        f.write_str(if index == 0 { "" } else { ", " })?;
        f.write_str(word)?;
    }
    Ok(())
}

impl FileFault {
    pub(super) fn at(self, span: Option<Range<usize>>, joint: Option<&str>) -> FileError {
        let mut error = FileError::new(self);
        error.parts.byte = span.map(|span| span.start);
        error.parts.joint = joint.map(ToOwned::to_owned);
        error
    }
}

/// Line and column of a byte, both counted from 1; the column counts characters.
pub(super) fn place(text: &str, byte: usize) -> (usize, usize) {
    let before = text.get(..byte.min(text.len())).unwrap_or(text);
    let line_start = before.rfind('\n').map_or(0, |at| at + 1);
    let line = before.bytes().filter(|&b| b == b'\n').count() + 1;
    let column = before.get(line_start..).map_or(0, |line| line.chars().count()) + 1;
    (line, column)
}

/// Why a robot file was refused: the fault with file, line, column and joint.
///
/// `Display` writes all of it in one line, e.g.
/// `heron.toml:12:1: joint wing_left: unknown key travl; write travel`.
#[derive(Debug, Clone, PartialEq)]
pub struct FileError {
    /// Boxed, so that a result costs no more than a pointer where nothing is wrong.
    parts: Box<Parts>,
}

#[derive(Debug, Clone, PartialEq)]
struct Parts {
    fault: FileFault,
    file: Option<PathBuf>,
    /// Where in the text, until the text is at hand to count lines.
    byte: Option<usize>,
    place: Option<(usize, usize)>,
    joint: Option<String>,
}

impl FileError {
    pub(super) fn new(fault: FileFault) -> Self {
        Self {
            parts: Box::new(Parts {
                fault,
                file: None,
                byte: None,
                place: None,
                joint: None,
            }),
        }
    }

    pub(super) fn in_text(mut self, text: &str) -> Self {
        self.parts.place = self.parts.byte.take().map(|byte| place(text, byte));
        self
    }

    /// The refusal of bytes that are not UTF-8 text, with line and column; None where they are.
    #[doc(hidden)]
    pub fn not_utf8(bytes: &[u8]) -> Option<Self> {
        let error = core::str::from_utf8(bytes).err()?;
        let (valid, rest) = bytes.split_at_checked(error.valid_up_to())?;
        let before = core::str::from_utf8(valid).ok()?;
        let (line, column) = place(before, before.len());
        let byte = rest.first().copied().unwrap_or_default();
        Some(Self::new(FileFault::NotUtf8 { byte }).placed(line, column))
    }

    pub(super) fn placed(mut self, line: usize, column: usize) -> Self {
        self.parts.place = Some((line, column));
        self
    }

    /// The same refusal with the file that it concerns.
    #[must_use]
    pub fn in_file(mut self, path: &Path) -> Self {
        self.parts.file = Some(path.to_owned());
        self
    }

    pub(super) fn access(action: &'static str, error: &std::io::Error, path: &Path) -> Self {
        let reason = super::refused::access_sentence(path, action, error);
        Self::new(FileFault::Access { action, reason }).in_file(path)
    }

    /// The same refusal without line and column, for a text that its reader never saw.
    ///
    /// ```
    /// let error = elbowroom::robot::Robot::parse("format = 1\nbird = 3").unwrap_err();
    /// assert!(error.to_string().starts_with("line 2"));
    /// assert!(!error.without_place().to_string().contains("line"));
    /// ```
    #[must_use]
    pub fn without_place(mut self) -> Self {
        (self.parts.byte, self.parts.place) = (None, None);
        self
    }

    /// What is wrong.
    pub fn fault(&self) -> &FileFault {
        &self.parts.fault
    }

    /// The file, if it was read from or written to one.
    pub fn file(&self) -> Option<&Path> {
        self.parts.file.as_deref()
    }

    /// The line, counted from 1, if the fault has a place.
    pub fn line(&self) -> Option<usize> {
        self.parts.place.map(|(line, _)| line)
    }

    /// The column, counted from 1 in characters, if the fault has a place.
    pub fn column(&self) -> Option<usize> {
        self.parts.place.map(|(_, column)| column)
    }

    /// The joint concerned.
    pub fn joint(&self) -> Option<&str> {
        self.parts.joint.as_deref()
    }

    /// The frozen code of this error.
    pub fn code(&self) -> Code {
        match &self.parts.fault {
            FileFault::NotUtf8 { .. } => Code::NotUtf8,
            FileFault::Syntax { .. } | FileFault::NotXml { .. } => Code::FileSyntax,
            FileFault::UnknownKey { .. } => Code::UnknownKey,
            FileFault::MissingKey { .. } | FileFault::NotWritten { .. } | FileFault::WaiverOfAll { .. } => {
                Code::MissingKey
            }
            FileFault::WrongType { .. }
            | FileFault::NotAFlag { .. }
            | FileFault::DecimalComma { .. }
            | FileFault::NameTaken { .. }
            | FileFault::NameUnchanged { .. }
            | FileFault::UnusableName { .. } => Code::WrongType,
            FileFault::GivenTwice { .. } => Code::OptionOutside,
            FileFault::ValueOutside { .. } | FileFault::LinkageUnit { .. } => Code::ValueOutside,
            FileFault::FormatTooNew { .. } => Code::FormatTooNew,
            FileFault::UnknownWord { .. } => Code::UnknownWord,
            FileFault::UnknownJoint { .. } | FileFault::WaiverWithoutJoint { .. } | FileFault::QuotedName { .. } => {
                Code::UnknownJoint
            }
            FileFault::Joint(error) => error.code(),
            FileFault::Access { .. }
            | FileFault::Locked { .. }
            | FileFault::NoEarlier { .. }
            | FileFault::SameEarlier { .. } => Code::FileAccess,
            FileFault::Changed { .. } => Code::FileChanged,
            FileFault::TooLong => Code::FileTooLong,
        }
    }
}

impl fmt::Display for FileError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (&self.parts.file, self.parts.place) {
            (Some(file), _) if file.as_os_str().is_empty() => f.write_str("the path is empty: ")?,
            (Some(file), Some((line, column))) => write!(f, "{}:{line}:{column}: ", file.display())?,
            (Some(file), None) => write!(f, "{}: ", file.display())?,
            (None, Some((line, column))) => write!(f, "line {line}, column {column}: ")?,
            (None, None) => {}
        }
        // An unusable name is told in the sentence itself.
        let is_told = matches!(self.parts.fault, FileFault::UnusableName { .. });
        if let Some(joint) = self.parts.joint.as_ref().filter(|_| !is_told) {
            write!(f, "joint {joint}: ")?;
        }
        self.parts.fault.fmt(f)
    }
}

impl std::error::Error for FileError {}
