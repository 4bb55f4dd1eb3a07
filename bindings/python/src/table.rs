//! Commands of timer counts, remembered.

use std::sync::OnceLock;

use elbowroom::Joint;

/// More of them are not remembered: 32 kB.
const MOST: u32 = 4096;

/// The commands of the counts that a joint gives, the lowest first; made when the first is asked for.
#[derive(Default)]
pub(crate) struct CommandTable(OnceLock<Box<[f64]>>);

impl CommandTable {
    /// The core's command of a count, remembered for the counts that the joint itself gives.
    #[inline]
    pub(crate) fn of(&self, joint: &Joint<f64>, count: u32) -> f64 {
        let [lowest, highest] = joint.count_range();
        let commands = self.0.get_or_init(|| {
            let all = lowest..=highest.min(lowest.saturating_add(MOST - 1));
            all.map(|count| joint.command_from_counts(count)).collect()
        });
        let place = usize::try_from(count.wrapping_sub(lowest));
        match place.ok().and_then(|place| commands.get(place)) {
            Some(command) => *command,
            None => joint.command_from_counts(count),
        }
    }
}
