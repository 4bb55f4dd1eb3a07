//! The `feedback` of a joint, read and written.

use toml_edit::TableLike;

use super::error::FileError;
use super::keys;
use super::parse::part;
use super::reader::{Section, knots};
use super::set::{remove_key, set_flag, set_knots, set_number, set_pair, set_whole, within};
use crate::feedback::FeedbackRecord;

/// Reads a feedback by itself, as a joint of a robot file has it: `feedback = { reading = [212, 871], angle = [0, 95] }`.
///
/// # Errors
/// [`FileError`] as for the file: a key that is missing or unknown, a value of the wrong type, with what to write instead.
///
/// ```
/// use elbowroom::robot::read_feedback;
/// let refused = read_feedback("feedback = { reading = [212, 871] }").unwrap_err();
/// assert!(refused.to_string().contains("angle is missing"));
/// ```
pub fn read_feedback(text: &str) -> Result<FeedbackRecord<f64>, FileError> {
    part(text, |section| {
        let found = read(section)?;
        section.need("feedback", EXAMPLE, found)
    })
}

const EXAMPLE: &str = "feedback = { reading = [212, 871], angle = [0, 95], adc_bits = 10 }";

pub(super) fn read(joint: &Section<'_>) -> Result<Option<FeedbackRecord<f64>>, FileError> {
    let Some(section) = joint.section("feedback", EXAMPLE)? else {
        return Ok(None);
    };
    section.only(keys::FEEDBACK.names)?;
    let need_pair = |key: &'static str, example| section.need(key, example, section.pair(key, example)?);
    let mut record = FeedbackRecord::new(
        need_pair("reading", "reading = [212, 871]")?,
        need_pair("angle", "angle = [0, 95]")?,
    );
    record.inverted = section.flag("inverted")?.unwrap_or(false);
    record.adc_bits = section.whole("adc_bits", "adc_bits = 10", "1 to 24")?;
    record.wrap_deg = section.number("wrap_deg", "wrap_deg = 360")?;
    record.pot_ohm = section.number("pot_ohm", "pot_ohm = 5000")?;
    record.load_ohm = section.number("load_ohm", "load_ohm = 100000")?;
    record.supply_v = section.number("supply_v", "supply_v = 3.3")?;
    const KNOTS: &str = "knots = [[212, 0], [540, 45], [871, 95]], reading and angle of each";
    record.knots = section.value("knots", KNOTS, knots)?;
    Ok(Some(record))
}

/// Writes the feedback of a joint; only what differs.
pub(super) fn write(joint: &mut dyn TableLike, new: Option<&FeedbackRecord<f64>>, old: Option<&FeedbackRecord<f64>>) {
    let Some(new) = new else {
        remove_key(joint, "feedback");
        return;
    };
    if old == Some(new) {
        return;
    }
    within(joint, "feedback", |table| {
        set_pair(table, "reading", Some(new.reading));
        set_pair(table, "angle", Some(new.angle));
        if new.inverted || table.contains_key("inverted") {
            set_flag(table, "inverted", new.inverted);
        }
        set_whole(table, "adc_bits", new.adc_bits.map(i64::from));
        set_number(table, "wrap_deg", new.wrap_deg);
        set_number(table, "pot_ohm", new.pot_ohm);
        set_number(table, "load_ohm", new.load_ohm);
        set_number(table, "supply_v", new.supply_v);
        set_knots(table, new.knots.as_deref());
    });
}
