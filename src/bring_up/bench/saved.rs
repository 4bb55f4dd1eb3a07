//! A saved bring-up is its plan and its log. Read back, the log is replayed: one that could not have been written is refused.

use super::log::Entry;
use super::{Back, Bench, BenchPlan, Now};
use crate::bring_up::error::BringUpError;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::vec::Vec;

/// The format that is written, and the only one that is read.
const FORMAT: u32 = 1;

/// Tells it from other saved procedures.
#[derive(Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Procedure {
    Bench,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Saved {
    format: u32,
    procedure: Procedure,
    plan: BenchPlan,
    log: Vec<Entry>,
    #[serde(deserialize_with = "crate::bring_up::saved::given")]
    back: Option<Back>,
}

impl Serialize for Bench {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        Saved {
            format: FORMAT,
            procedure: Procedure::Bench,
            plan: self.plan,
            log: self.log.clone(),
            back: self.back,
        }
        .serialize(to)
    }
}

impl<'de> Deserialize<'de> for Bench {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        use serde::de::Error;
        let Saved {
            format,
            plan,
            log,
            back,
            ..
        } = Saved::deserialize(from)?;
        if format != FORMAT {
            return Err(D::Error::custom(BringUpError::Format {
                found: format,
                known: FORMAT,
            }));
        }
        Self::of_log(plan, log, back).map_err(D::Error::custom)
    }
}

impl Bench {
    fn of_log(plan: BenchPlan, log: Vec<Entry>, back: Option<Back>) -> Result<Self, BringUpError> {
        plan.check()?;
        let has_moved = log.iter().any(|entry| matches!(entry, Entry::Moved { .. }));
        let mut bench = Self {
            plan,
            log,
            back,
            now: Now::default(),
        };
        bench.work_out()?;
        // Nothing comes after the end.
        BringUpError::there("end of log", bench.now.is_whole, true)?;
        let may_go_back = bench.now.pending.is_some() && (has_moved || bench.plan.start == bench.now.at());
        BringUpError::there("back", back.is_none() || may_go_back, true)?;
        Ok(bench)
    }
}

impl Now {
    fn at(&self) -> f64 {
        self.pending.map_or(f64::NAN, |pending| pending.at)
    }
}
