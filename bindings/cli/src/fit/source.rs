//! Where the readings of a fit stand, as the robot file is told.

use super::Fitted;
use crate::args::{FitArgs, TableArgs, TimeUnit};
use crate::table::STANDARD_INPUT;
use crate::usual::DEGREES;
use elbowroom::Servo;
use elbowroom::robot::{Date, Evidence, MeasuredAs, Source};
use std::path::{Component, Path, PathBuf};

/// What the robot file will say of how its values were found.
pub(super) fn evidence(fitted: &Fitted<'_>, robot_file: &Path, date: Option<Date>) -> Evidence {
    let taken = &fitted.args.taken;
    let mut evidence = Evidence::from_fit(&fitted.fit, date);
    evidence.by.clone_from(&taken.by);
    evidence.instrument.clone_from(&taken.instrument);
    (evidence.supply_v, evidence.temperature_c) = (taken.supply_v, taken.temperature_c);
    // What was piped in stands nowhere.
    evidence.source = (fitted.args.readings != Path::new(STANDARD_INPUT))
        .then(|| source(fitted.args, robot_file, &fitted.sha256, fitted.written));
    evidence
}

fn source(args: &FitArgs, robot_file: &Path, sha256: &str, written: Option<Servo<f64>>) -> Source {
    let (table, usual) = (&args.table, TableArgs::usual());
    let given = |name: &Option<String>| name.clone();
    let named = |name: &str, usual: &str| (name != usual).then(|| name.to_owned());
    let columns = [
        ("drive", named(&table.drive, &usual.drive)),
        ("measured", named(&table.measured, &usual.measured)),
        ("approach", given(&table.approach)),
        ("contact", given(&table.contact)),
        ("time", given(&table.time)),
        ("feedback", given(&args.feedback)),
    ];
    Source {
        file: from_folder_of(robot_file, &args.readings),
        sha256: sha256.to_owned(),
        rows: table
            .only
            .iter()
            .map(|only| (only.column.clone(), only.value.clone()))
            .collect(),
        columns: columns
            .into_iter()
            .filter_map(|(role, name)| Some((role.to_owned(), name?)))
            .collect(),
        drive_unit: table.drive_unit.core(),
        servo: written,
        measured_unit: named(&table.measured_unit, DEGREES),
        time_unit: table.time_unit.map(|unit| match unit {
            TimeUnit::S => "s".to_owned(),
            TimeUnit::Ms => "ms".to_owned(),
        }),
        separator: table.separator,
        decimal: table.decimal,
        measured_as: MeasuredAs::default()
            .with_wrap(table.wrap)
            .with_arc_radius(table.arc_radius)
            .with_flipped(table.flip_measured),
        resolution: table.resolution,
        confidence: (table.confidence != usual.confidence).then_some(table.confidence),
    }
}

/// The path of a file as seen from the folder of another; as it is where the two share nothing.
fn from_folder_of(robot_file: &Path, file: &Path) -> String {
    let absolute = |path: &Path| std::fs::canonicalize(path).or_else(|_| std::path::absolute(path));
    let folder = robot_file.parent().filter(|folder| !folder.as_os_str().is_empty());
    let (Ok(folder), Ok(target)) = (absolute(folder.unwrap_or(Path::new("."))), absolute(file)) else {
        return file.display().to_string();
    };
    let (from, to): (Vec<Component<'_>>, Vec<Component<'_>>) =
        (folder.components().collect(), target.components().collect());
    let shared = from.iter().zip(&to).take_while(|(a, b)| a == b).count();
    if shared == 0 {
        return target.display().to_string();
    }
    let up = from.iter().skip(shared).map(|_| Component::ParentDir);
    let path: PathBuf = up.chain(to.into_iter().skip(shared)).collect();
    let parts: Vec<_> = path.iter().map(|part| part.to_string_lossy()).collect();
    parts.join("/")
}

#[cfg(test)]
mod tests {
    use super::from_folder_of;
    use std::path::Path;

    #[test]
    fn a_path_is_seen_from_the_robot_file() {
        for (robot, file, seen) in [
            ("heron.toml", "readings/neck.csv", "readings/neck.csv"),
            ("robots/heron.toml", "readings/neck.csv", "../readings/neck.csv"),
            ("robots/heron.toml", "robots/neck.csv", "neck.csv"),
            ("/nowhere/a/b.toml", "/nowhere/c.csv", "../c.csv"),
        ] {
            assert_eq!(from_folder_of(Path::new(robot), Path::new(file)), seen);
        }
    }
}
