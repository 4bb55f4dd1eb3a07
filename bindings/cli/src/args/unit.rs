//! The units of numbers: what the manual calls the value of such an option, which is where a refused value finds its unit.

pub(crate) const DEG: &str = "DEG";
pub(crate) const DEG_C: &str = "DEG_C";
pub(crate) const DEG_PER_S: &str = "DEG_PER_S";
pub(crate) const HZ: &str = "HZ";
pub(crate) const RATE: &str = "RATE";
pub(crate) const STEP: &str = "STEP";
pub(crate) const V: &str = "V";

/// Each as a sentence says it.
const WORDS: [(&str, &str); 7] = [
    (DEG, "deg"),
    (DEG_C, "deg C"),
    (DEG_PER_S, "deg per s"),
    (HZ, "Hz"),
    (RATE, "command units per second"),
    (STEP, "the unit of the measured values"),
    (V, "V"),
];

/// The unit of an option's value in a sentence; none of a plain number.
pub(crate) fn word_of(value_name: &str) -> Option<&'static str> {
    WORDS
        .iter()
        .find(|(name, _)| *name == value_name)
        .map(|(_, word)| *word)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::args::Cli;
    use clap::CommandFactory as _;
    use std::any::TypeId;
    use std::collections::BTreeSet;

    fn collect(command: &clap::Command, found: &mut BTreeSet<String>) {
        for arg in command.get_arguments() {
            if arg.get_value_parser().type_id() == TypeId::of::<f64>() {
                found.extend(
                    arg.get_value_names()
                        .unwrap_or_default()
                        .iter()
                        .map(ToString::to_string),
                );
            }
        }
        for sub in command.get_subcommands() {
            collect(sub, found);
        }
    }

    #[test]
    fn every_number_has_a_unit_or_is_known_to_have_none() {
        let mut names = BTreeSet::new();
        collect(&Cli::command(), &mut names);
        let (with, without): (BTreeSet<_>, BTreeSet<_>) = names
            .iter()
            .map(String::as_str)
            .partition(|name| word_of(name).is_some());
        assert_eq!(with, WORDS.iter().map(|(name, _)| *name).collect());
        // Parts of a whole, and numbers in a unit that another option or the file names.
        assert_eq!(
            without,
            BTreeSet::from(["COMMAND", "LENGTH", "P", "PART", "SHARE", "TURN"])
        );
    }
}
