//! `firmware`: the joints of one board as a block for its microcontroller.

use crate::args::FirmwareArgs;
use crate::check::checked;
use crate::outcome::Outcome;
use crate::output;
use crate::problem::Problem;
use elbowroom::Joint;
use elbowroom::block::Block;
use elbowroom::robot::{Robot, RobotBlockError, Severity, Sources};
use serde::Serialize;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// By these an earlier block is known and may be replaced.
const IMAGE_MARK: &[u8] = b"ELBW";
const HEADER_MARK: &[u8] = b". Made by elbowroom ";

#[derive(Serialize)]
struct Report {
    image: PathBuf,
    header: PathBuf,
    array: String,
    bytes: usize,
    joints: Vec<Stored>,
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
        None => PathBuf::from(format!("{}_block", stem(&args.file))),
    };
    let array = stem(&base);
    let image = robot.to_block(board)?;
    let source = robot.to_block_source(board, &array)?;
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
    // A block carries no findings: whoever flashes it shall have heard of them.
    let errors = checked(&robot, &Sources::default(), None, None).0.findings;
    let errors = errors
        .iter()
        .filter(|finding| finding.severity == Severity::Error)
        .count();
    if errors > 0 {
        let file = args.file.display();
        let s = if errors == 1 { "" } else { "s" };
        let _ = writeln!(
            text,
            "  warning: {errors} error{s} in the robot file; drive nothing until elbowroom check {file} is clean\n"
        );
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
    let report = Report {
        image: binary,
        header,
        array,
        bytes,
        joints,
    };
    Outcome::new(text, &report, false)
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
