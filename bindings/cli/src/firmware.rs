//! `firmware`: the joints of one board as a block for its microcontroller.

use crate::args::FirmwareArgs;
use crate::check::{Found, assumed_note, checked};
use crate::outcome::Outcome;
use crate::output;
use crate::problem::Problem;
use elbowroom::block::Block;
use elbowroom::robot::{Finding, Robot, RobotBlockError, Severity, Sources, Waived};
use elbowroom::{Code, Joint};
use serde::Serialize;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// By these an earlier block is known and may be replaced.
const IMAGE_MARK: &[u8] = b"ELBW";
const HEADER_MARK: &[u8] = b". Made by elbowroom ";

#[derive(Serialize)]
struct Report<'a> {
    image: PathBuf,
    header: PathBuf,
    array: String,
    bytes: usize,
    joints: Vec<Stored>,
    /// Which library reads the block: `plain` or `curves`.
    library: &'static str,
    /// Joints that are on other boards.
    left_out: Vec<String>,
    /// Why it was written although the check finds errors.
    #[serde(skip_serializing_if = "Option::is_none")]
    despite: Option<String>,
    /// Errors that the check finds.
    errors: usize,
    /// Errors that the check finds and the robot file waives.
    waived: Vec<Found<'a>>,
    /// What a caller of the block has to know.
    notes: Vec<String>,
}

#[derive(Serialize)]
struct Stored {
    channel: u16,
    name: Option<String>,
    /// Lowest and highest timer count that this joint ever gets.
    counts: [u32; 2],
    /// A curve that stands for what a board does not compute.
    sampled: Vec<Curve>,
}

#[derive(Serialize)]
struct Curve {
    /// The kind of the transmission, or `loaded feedback`.
    what: &'static str,
    knots: usize,
    /// How far it is from what it stands for at most, deg.
    within_deg: f64,
}

fn sampled(joint: &Joint<f64>, channel: u16) -> Result<Vec<Curve>, Problem> {
    let sampled = joint.for_block(channel).map_err(RobotBlockError::Block)?;
    let curves = [
        (joint.transmission().kind(), sampled.transmission),
        ("loaded feedback", sampled.feedback),
    ];
    let curve = |(what, curve): (&'static str, Option<(usize, f64)>)| {
        curve.map(|(knots, within_deg)| Curve {
            what,
            knots,
            within_deg,
        })
    };
    Ok(curves.into_iter().filter_map(curve).collect())
}

pub(crate) fn run(args: &FirmwareArgs) -> Result<Outcome, Problem> {
    let robot = Robot::load(&args.file)?;
    let board = args.board.as_deref();
    let base = match &args.output {
        Some(base) => base.clone(),
        None => usual_name(&robot, board, &args.file).into(),
    };
    let (found, _) = checked(&robot, &Sources::default(), None, None);
    let errors: Vec<&Finding> = found
        .findings
        .iter()
        .filter(|finding| finding.severity == Severity::Error && concerns(&robot, board, finding))
        .collect();
    let waived: Vec<&Waived> = found
        .waived
        .iter()
        .filter(|waived| waived.finding.severity == Severity::Error && concerns(&robot, board, &waived.finding))
        .collect();
    if let (false, None) = (errors.is_empty(), &args.despite) {
        return refused(args, &errors);
    }
    let array = stem(&base);
    let image = robot.to_block(board)?;
    let mut source = robot.to_block_source(board, &array)?;
    if let Some(reason) = &args.despite {
        let reason = reason.replace("*/", "* /");
        let (count, s) = (errors.len(), if errors.len() == 1 { "" } else { "s" });
        let _ = writeln!(
            source,
            "\n/* Written despite {count} error{s} of the check: {reason} */"
        );
    }
    for waived in &waived {
        let line = waived_error(waived).replace("*/", "* /");
        let _ = writeln!(source, "\n/* Written with a waived error of the check: {line} */");
    }
    let block = Block::new(&image[..]).map_err(RobotBlockError::Block)?;
    let mut joints = Vec::new();
    for channel in (0..block.joints()).filter_map(|index| block.channel(index)) {
        let entry = robot
            .joints()
            .iter()
            .find(|entry| entry.channel() == Some(channel) && (board.is_none() || entry.board() == board));
        joints.push(Stored {
            channel,
            name: entry.map(|entry| entry.name().to_owned()),
            sampled: match entry {
                Some(entry) => sampled(entry.joint(), channel)?,
                None => Vec::new(),
            },
            counts: block.joint(channel).map_err(RobotBlockError::Block)?.count_range(),
        });
    }
    let (binary, header) = (with_ending(&base, "bin"), with_ending(&base, "h"));
    // Files of the user's are not written over; earlier blocks are.
    output::write_both((&binary, &image, IMAGE_MARK), (&header, source.as_bytes(), HEADER_MARK))?;

    let bytes = image.len();
    let mut text = format!(
        "wrote {} and {}: {bytes} bytes, array {array}\n\n",
        binary.display(),
        header.display()
    );
    if let Some(reason) = args.despite.as_ref().filter(|_| !errors.is_empty()) {
        // A block carries no findings: whoever flashes it shall have heard of them.
        let s = if errors.len() == 1 { "" } else { "s" };
        let _ = writeln!(text, "  despite {} error{s} of the check: {reason}", errors.len());
        for error in &errors {
            let joint = error
                .joint
                .as_ref()
                .map_or(String::new(), |joint| format!("joint {joint}: "));
            let _ = writeln!(text, "    {}: {joint}{}", error.rule.name(), error.message);
        }
        text.push('\n');
    }
    if !waived.is_empty() {
        let s = if waived.len() == 1 { "" } else { "s" };
        let _ = writeln!(text, "  with {} waived error{s} of the check:", waived.len());
        for waived in &waived {
            let _ = writeln!(text, "    {}", waived_error(waived));
        }
        text.push('\n');
    }
    for joint in &joints {
        let name = joint.name.as_deref().unwrap_or("");
        let [lowest, highest] = joint.counts;
        let _ = writeln!(
            text,
            "  channel {:>3}  {name:<20} counts {lowest} to {highest}",
            joint.channel
        );
        for Curve {
            what,
            knots,
            within_deg,
        } in &joint.sampled
        {
            let _ = writeln!(
                text,
                "               {what} as a curve of {knots} knots, within {within_deg:.4} deg"
            );
        }
    }
    let has_curves = joints.iter().any(|joint| !joint.sampled.is_empty()) || has_curve(&robot, &joints);
    let library = if has_curves { "curves" } else { "plain" };
    let _ = writeln!(
        text,
        "\nlibrary: {}",
        if has_curves {
            "the one with curves, as joints of this block are curved (bindings/firmware/build BOARD curves)"
        } else {
            "the plain one (bindings/firmware/build BOARD)"
        }
    );
    let left_out: Vec<String> = robot
        .joints()
        .iter()
        .filter(|entry| !joints.iter().any(|joint| joint.name.as_deref() == Some(entry.name())))
        .map(|entry| entry.name().to_owned())
        .collect();
    if !left_out.is_empty() {
        let _ = writeln!(text, "left out, as on other boards: {}", left_out.join(", "));
    }
    let notes: Vec<String> = joints.iter().filter_map(wide_counts).collect();
    for note in &notes {
        let _ = writeln!(text, "note: {note}");
    }
    text.push_str(&assumed_note(&robot));
    let report = Report {
        library,
        left_out,
        despite: args.despite.clone(),
        errors: errors.len(),
        waived: waived
            .iter()
            .map(|waived| Found::new(&waived.finding, Some(&waived.reason)))
            .collect(),
        notes,
        image: binary,
        header,
        array,
        bytes,
        joints,
    };
    Outcome::new(text, &report, false)
}

/// A waived error in a line, with the reason that the file gives.
fn waived_error(waived: &Waived) -> String {
    let finding = &waived.finding;
    let joint = finding
        .joint
        .as_ref()
        .map_or(String::new(), |joint| format!("joint {joint}: "));
    format!(
        "{}: {joint}{}; reason: {}",
        finding.rule.name(),
        finding.message,
        waived.reason
    )
}

/// Counts that do not fit into the 16 bits of one of the calls.
fn wide_counts(joint: &Stored) -> Option<String> {
    let [_, highest] = joint.counts;
    if highest <= u32::from(u16::MAX) {
        return None;
    }
    let name = joint.name.as_deref().unwrap_or_default();
    Some(format!(
        "joint {name} (channel {}) has counts up to {highest}, and elb_block_counts refuses counts above {}, the most of 16 bits, with \
         ELB_STATUS_COUNT_TOO_WIDE; call elb_block_convert, whose counts have 32 bits",
        joint.channel,
        u16::MAX
    ))
}

/// Whether a joint of the block has a curve of its own.
fn has_curve(robot: &Robot, joints: &[Stored]) -> bool {
    joints.iter().any(|stored| {
        let entry = stored.name.as_ref().and_then(|name| robot.joint(name));
        entry.is_some_and(|entry| !entry.joint().record().transmission.is_linear())
    })
}

/// Whether a finding is about the robot as a whole or a joint of the board.
fn concerns(robot: &Robot, board: Option<&str>, finding: &Finding) -> bool {
    let entry = finding.joint.as_ref().and_then(|name| robot.joint(name));
    entry.is_none_or(|entry| board.is_none() || entry.board() == board)
}

/// Nothing is written while the check finds errors.
fn refused(args: &FirmwareArgs, errors: &[&Finding]) -> Result<Outcome, Problem> {
    let first = errors.first().map_or(String::new(), |error| error.to_string());
    let more = match errors.len() {
        0 | 1 => String::new(),
        count => format!(" (and {} more)", count - 1),
    };
    let message = format!(
        "the check finds errors, so no block is written: {first}{more}; correct them (elbowroom check {}), or give --despite REASON",
        args.file.display()
    );
    Err(Problem::at(Code::OptionOutside, &args.file, None, message))
}

/// By robot and board; characters that a file name or an array's name may not have become underlines.
fn usual_name(robot: &Robot, board: Option<&str>, file: &Path) -> String {
    let robot_name = robot.name().map_or_else(|| stem(file), str::to_owned);
    let board = board.or_else(|| robot.joints().iter().find_map(|entry| entry.board()));
    let name = format!("{robot_name}_{}", board.unwrap_or("block"));
    name.chars()
        .map(|c| if c.is_ascii_alphanumeric() || c == '-' { c } else { '_' })
        .collect()
}

/// The file's name without folder and ending.
fn stem(path: &Path) -> String {
    path.file_stem().unwrap_or_default().to_string_lossy().into_owned()
}

/// Added, not put in place of another ending: a base may hold a dot.
fn with_ending(base: &Path, ending: &str) -> PathBuf {
    let mut path = base.as_os_str().to_owned();
    path.push(".");
    path.push(ending);
    path.into()
}
