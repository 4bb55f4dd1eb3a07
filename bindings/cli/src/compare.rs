//! `compare`: what changed between two tables of readings, of one joint or of many, or between two robot files.

mod many;
mod picture;
mod robots;
mod tables;
mod words;

use crate::args::CompareArgs;
use crate::outcome::Outcome;
use crate::problem::Problem;
use elbowroom::Code;
use std::path::Path;

/// Robot files are known by their ending; everything else is a table.
fn is_robot(path: &Path) -> bool {
    path.extension()
        .is_some_and(|ending| ending.eq_ignore_ascii_case("toml"))
}

pub(crate) fn run(args: &CompareArgs) -> Result<Outcome, Problem> {
    let refused = |message: &str| Err(Problem::new(Code::OptionOutside, message));
    match [&args.old, &args.new].map(|path| is_robot(path)) {
        [false, false] if args.joint.is_some() => refused(
            "--joint picks a joint of robot files (.toml); of tables that hold several, take the rows of one with --where, or all with --each",
        ),
        [false, false] if args.each.is_some() => many::run(args),
        [false, false] => tables::run(args),
        [true, true] if args.each.is_some() => {
            refused("--each names a column of tables; leave it out, since two robot files are compared joint by joint")
        }
        [true, true] if !args.table.is_untouched() => {
            refused("options on columns, units and servo are for tables of readings; two robot files need none of them")
        }
        [true, true] => robots::run(args),
        [true, false] | [false, true] => {
            refused("one is a robot file (.toml), the other a table of readings; compare two of a kind")
        }
    }
}
