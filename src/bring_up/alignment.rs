//! The alignment: does the sensor reach both ends of the joint with margin, and where is it to be set?
//!
//! With a sensor of electrical travel `S` deg over the readings r0 to r1, and a gear that turns it `g` deg for each degree
//! of the joint, one degree of the joint is `(r1 - r0) g / S` readings. The joint's range `J` needs `g J` of the travel;
//! what is left, `S / g - J`, is spare, in degrees of the joint. (Elementary; no source.)

use super::action::{Action, Doubt, Question, Report};
use super::answer::Answer;
use super::error::BringUpError;
use super::reads::Reads;
use super::with::with;

/// Sensor, gear and joint.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct AlignmentPlan {
    /// Joint angle at the lower and at the upper stop, deg, as measured or drawn.
    pub joint: [f64; 2],
    /// Electrical travel of the sensor, deg of its own shaft.
    pub sensor_travel: f64,
    /// Degrees of the sensor's shaft for each degree of the joint; negative where a gear reverses it.
    pub ratio: f64,
    /// The readings at the two ends of the sensor's travel, lower then upper, e.g. 0 and 1023.
    pub reading_range: [f64; 2],
    /// Readings per step, e.g. 1 ADC count.
    pub resolution: f64,
    /// How much must be spare beyond each stop, deg of the joint.
    pub margin: f64,
}

with! {
    AlignmentPlan {
        with_reading_range reading_range: [f64; 2],
        with_resolution resolution: f64,
        with_margin margin: f64,
    }
}

/// What comes of it.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct AlignmentFigures {
    /// Whether the sensor can reach both stops with the margin.
    pub fits: bool,
    /// Spare beyond each stop when set to the middle, deg of the joint; negative where it is short.
    pub spare: f64,
    /// Degrees of the joint for each step of the reading.
    pub deg_per_step: f64,
    /// Readings per degree of the joint.
    pub per_deg: f64,
    /// Readings at the lower and at the upper stop when set to the middle.
    pub readings: [f64; 2],
}

impl AlignmentPlan {
    /// What is spare beyond each stop unless somebody says otherwise, deg of the joint: as much as the usual guard of a travel.
    pub const MARGIN: f64 = 2.0;

    /// The usual plan (default; verify against the data sheet): a 10-bit reading in steps of one count.
    ///
    /// ```
    /// use elbowroom::bring_up::AlignmentPlan;
    /// let plan = AlignmentPlan::new([0.0, 95.0], 270.0, 2.0).with_margin(5.0);
    /// assert_eq!(plan.figures()?.spare, 20.0);
    /// # Ok::<(), elbowroom::bring_up::BringUpError>(())
    /// ```
    pub const fn new(joint: [f64; 2], sensor_travel: f64, ratio: f64) -> Self {
        Self {
            joint,
            sensor_travel,
            ratio,
            reading_range: [0.0, 1023.0],
            resolution: 1.0,
            margin: Self::MARGIN,
        }
    }

    /// The figures of a plan.
    ///
    /// # Errors
    /// Numbers that are not finite, ends that do not rise, a travel, ratio or resolution that cannot be.
    pub fn figures(&self) -> Result<AlignmentFigures, BringUpError> {
        let [lower, upper] = BringUpError::rising("joint", self.joint)?;
        BringUpError::rising("reading_range", self.reading_range)?;
        BringUpError::positive("sensor_travel", self.sensor_travel)?;
        BringUpError::finite("ratio", self.ratio)?;
        BringUpError::positive("size of ratio", self.ratio.abs())?;
        BringUpError::positive("resolution", self.resolution)?;
        BringUpError::within("margin", self.margin, 0.0, crate::bring_up::MOST)?;
        let (per_deg, readings) = self.line();
        let spare = (self.sensor_travel / self.ratio.abs() - (upper - lower)) / 2.0;
        Ok(AlignmentFigures {
            fits: spare >= self.margin,
            spare,
            deg_per_step: self.resolution / per_deg.abs(),
            per_deg,
            readings,
        })
    }

    /// Readings per degree of the joint, and the readings at its stops with the same spare beyond both.
    fn line(&self) -> (f64, [f64; 2]) {
        let ([lower, upper], [low, high]) = (self.joint, self.reading_range);
        let per_deg = (high - low) / self.sensor_travel * self.ratio;
        let (middle, half) = (low + (high - low) / 2.0, (upper - lower) / 2.0);
        (per_deg, [middle - half * per_deg, middle + half * per_deg])
    }

    /// [`AlignmentPlan::reading_to_set`] of a plan and an angle that were checked.
    fn reading_at(&self, joint_angle: f64) -> f64 {
        let ([lower, _], (per_deg, [first, _])) = (self.joint, self.line());
        first + (joint_angle - lower) * per_deg
    }

    /// The reading to set the sensor to while the joint stands at a known angle, so that the spare is the same at both
    /// stops.
    ///
    /// # Errors
    /// As for [`AlignmentPlan::figures`].
    pub fn reading_to_set(&self, joint_angle: f64) -> Result<f64, BringUpError> {
        self.figures()?;
        BringUpError::finite("joint angle", joint_angle)?;
        Ok(self.reading_at(joint_angle))
    }

    /// What is spare beyond the lower and the upper stop, deg of the joint, given one reading at one known angle.
    ///
    /// # Errors
    /// As for [`AlignmentPlan::figures`].
    pub fn spare(&self, joint_angle: f64, reading: f64) -> Result<[f64; 2], BringUpError> {
        let per_deg = self.figures()?.per_deg;
        BringUpError::finite("joint angle", joint_angle)?;
        BringUpError::finite("reading", reading)?;
        let [low, high] = self.reading_range;
        let [lower, upper] = self.joint;
        // Joint angles at which the sensor ends, lower then upper.
        let at = |end: f64| joint_angle + (end - reading) / per_deg;
        let (first, last) = (at(low).min(at(high)), at(low).max(at(high)));
        Ok([lower - first, last - upper])
    }
}

/// How setting the alignment ended.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
#[non_exhaustive]
pub enum AlignmentEnd {
    /// The sensor reaches both stops with the margin.
    Set {
        /// The known joint angle, deg.
        joint_angle: f64,
        /// The reading there.
        reading: f64,
        /// Spare beyond each stop, deg of the joint.
        spare: [f64; 2],
        /// How often the sensor was turned on its shaft for it; 0 where it stood right.
        settings: u8,
    },
    /// No setting would reach both stops with the margin.
    TooShort {
        /// Spare beyond each stop at the best, deg of the joint.
        spare: f64,
    },
    /// It was asked for three times and is still not set.
    NotSet {
        /// Spare beyond each stop, deg of the joint.
        spare: [f64; 2],
    },
    /// The angle at a stop was twice said to be far from that of either stop.
    NotAtStop {
        /// The angle that was said, deg.
        joint_angle: f64,
        /// How far, deg.
        by: f64,
    },
}

impl AlignmentEnd {
    /// Whether its numbers are numbers.
    #[cfg(feature = "serde")]
    pub(super) fn check(self) -> Result<(), BringUpError> {
        let numbers = match self {
            Self::Set {
                joint_angle,
                reading,
                spare: [a, b],
                ..
            } => [joint_angle, reading, a, b],
            Self::TooShort { spare } => [spare; 4],
            Self::NotSet { spare: [a, b] } => [a, b, a, b],
            Self::NotAtStop { joint_angle, by } => [joint_angle, by, by, by],
        };
        for number in numbers {
            BringUpError::finite("number of alignment", number)?;
        }
        Ok(())
    }
}

#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
enum Stage {
    Angle { doubt: Option<Doubt> },
    Read,
    Set,
    Done(AlignmentEnd),
}

/// The procedure: hold the joint at a stop, say its angle, set the sensor if need be, up to three times.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(remote = "Self", deny_unknown_fields)
)]
pub struct Alignment {
    plan: AlignmentPlan,
    stage: Stage,
    joint_angle: f64,
    reads: Reads,
    settings: u8,
}

impl Alignment {
    const READS: u8 = 5;
    /// By how much a stop may lie elsewhere than drawn, and a protractor be held askew, deg (an assumption of this library).
    const DRAWN: f64 = 5.0;
    const MOST_SETTINGS: u8 = 3;

    /// Checks a plan.
    ///
    /// # Errors
    /// As for [`AlignmentPlan::figures`].
    pub fn new(plan: AlignmentPlan) -> Result<Self, BringUpError> {
        let figures = plan.figures()?;
        Ok(Self {
            plan,
            stage: if figures.fits {
                Stage::Angle { doubt: None }
            } else {
                Stage::Done(AlignmentEnd::TooShort { spare: figures.spare })
            },
            joint_angle: 0.0,
            reads: Reads::default(),
            settings: 0,
        })
    }

    /// What holds after every report.
    #[cfg(feature = "serde")]
    pub(super) fn check(&self) -> Result<(), BringUpError> {
        let fits = self.plan.figures()?.fits;
        let too_short = matches!(self.stage, Stage::Done(AlignmentEnd::TooShort { .. }));
        BringUpError::there("end for a sensor that is too short", too_short, !fits)?;
        BringUpError::finite("joint_angle", self.joint_angle)?;
        self.reads.check()?;
        BringUpError::within(
            "count of reads",
            self.reads.count().into(),
            0.0,
            f64::from(Self::READS) - 1.0,
        )?;
        BringUpError::within("settings", self.settings.into(), 0.0, Self::MOST_SETTINGS.into())?;
        match self.stage {
            Stage::Angle { doubt } => doubt.map_or(Ok(()), Doubt::check),
            Stage::Done(end) => end.check(),
            Stage::Read | Stage::Set => Ok(()),
        }
    }

    /// The plan.
    pub fn plan(&self) -> &AlignmentPlan {
        &self.plan
    }

    /// What to do next; [`Action::Done`] at the end.
    pub fn next(&self) -> Action {
        let question = match self.stage {
            Stage::Angle { doubt } => {
                return Action::Ask {
                    question: Question::JointAngle,
                    doubt,
                };
            }
            Stage::Read => return Action::Read,
            Stage::Set => Question::SetSensor {
                reading: self.plan.reading_at(self.joint_angle),
                tolerance: self.tolerance(),
            },
            Stage::Done(_) => return Action::Done,
        };
        Action::Ask { question, doubt: None }
    }

    /// How it ended, when it has.
    pub fn end(&self) -> Option<AlignmentEnd> {
        match self.stage {
            Stage::Done(end) => Some(end),
            _ => None,
        }
    }

    /// Half of what may be lost on either side, but no less than two steps.
    fn tolerance(&self) -> f64 {
        self.plan.figures().map_or(0.0, |f| {
            ((f.spare - self.plan.margin) / 2.0 * f.per_deg.abs()).max(2.0 * self.plan.resolution)
        })
    }

    /// Takes the report of what [`Alignment::next`] asked.
    ///
    /// # Errors
    /// A report that does not belong to the action, a number that is not finite; nothing changes then.
    pub fn report(&mut self, report: Report) -> Result<(), BringUpError> {
        let asked = self.next();
        match self.stage {
            Stage::Angle { doubt } => {
                if let Answer::Angle { degrees } = report.answer(&asked)? {
                    self.weigh_angle(degrees, doubt.is_some());
                }
            }
            Stage::Set => {
                report.answer(&asked)?;
                self.stage = Stage::Read;
            }
            Stage::Read => {
                let (value, _) = report.reading(&asked)?;
                self.reads.push(value);
                if self.reads.count() >= Self::READS {
                    self.weigh(self.reads.median())?;
                }
            }
            Stage::Done(_) => return Err(BringUpError::Done),
        }
        Ok(())
    }

    /// A joint at one of its stops shows the angle of one of them.
    fn weigh_angle(&mut self, degrees: f64, doubted: bool) {
        let [lower, upper] = self.plan.joint;
        let by = (degrees - lower).abs().min((degrees - upper).abs());
        self.stage = if by <= self.plan.margin.max(Self::DRAWN) {
            self.joint_angle = degrees;
            Stage::Read
        } else if doubted {
            Stage::Done(AlignmentEnd::NotAtStop {
                joint_angle: degrees,
                by,
            })
        } else {
            Stage::Angle {
                doubt: Some(Doubt::NotAtStop { by }),
            }
        };
    }

    fn weigh(&mut self, reading: f64) -> Result<(), BringUpError> {
        let spare = self.plan.spare(self.joint_angle, reading)?;
        self.reads = Reads::default();
        // At an end of its reading range a sensor may have ended long before.
        let [low, high] = self.plan.reading_range;
        let reads = reading > low && reading < high;
        let enough = reads && spare.iter().all(|&s| s >= self.plan.margin);
        self.stage = if enough {
            Stage::Done(AlignmentEnd::Set {
                joint_angle: self.joint_angle,
                reading,
                spare,
                settings: self.settings,
            })
        } else if self.settings < Self::MOST_SETTINGS {
            self.settings += 1;
            Stage::Set
        } else {
            Stage::Done(AlignmentEnd::NotSet { spare })
        };
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// A 270 degree potentiometer geared 2:1 onto a joint of 95 degrees, 10 bits.
    fn plan() -> AlignmentPlan {
        AlignmentPlan {
            joint: [0.0, 95.0],
            sensor_travel: 270.0,
            ratio: 2.0,
            reading_range: [0.0, 1023.0],
            resolution: 1.0,
            margin: 5.0,
        }
    }

    #[test]
    fn half_of_what_may_be_lost_is_tolerated_and_two_steps_at_least() {
        // 20 deg of spare beside a margin of 5: half of 15 deg at 1023/135 readings a degree.
        let tolerance = |plan| Alignment::new(plan).unwrap().tolerance();
        assert!((tolerance(plan()) - 7.5 * 1023.0 / 135.0).abs() < 1e-9);
        let turned = AlignmentPlan { ratio: -2.0, ..plan() };
        assert!((tolerance(turned) - 7.5 * 1023.0 / 135.0).abs() < 1e-9);
        // Nothing to lose: two steps.
        let tight = AlignmentPlan {
            margin: 20.0,
            resolution: 3.0,
            ..plan()
        };
        assert_eq!(tolerance(tight), 6.0);
    }

    #[test]
    fn worked_by_hand() {
        let figures = plan().figures().unwrap();
        assert!(figures.fits);
        assert_eq!(figures.spare, (135.0 - 95.0) / 2.0);
        assert!((figures.deg_per_step - 135.0 / 1023.0).abs() < 1e-12);
        assert!((plan().reading_to_set(0.0).unwrap() - 20.0 * 1023.0 / 135.0).abs() < 1e-9);
        assert!(!AlignmentPlan { ratio: 3.0, ..plan() }.figures().unwrap().fits);
        assert!(AlignmentPlan { ratio: 0.0, ..plan() }.figures().is_err());
        assert!(
            AlignmentPlan {
                margin: f64::NAN,
                ..plan()
            }
            .figures()
            .is_err()
        );
    }

    proptest! {
        #[test]
        fn set_as_told_the_spare_is_the_same_at_both_stops(angle in 0.0..95.0, ratio in 0.3..2.5f64, turned: bool) {
            let plan = AlignmentPlan { ratio: if turned { -ratio } else { ratio }, ..plan() };
            let reading = plan.reading_to_set(angle).unwrap();
            let [lower, upper] = plan.spare(angle, reading).unwrap();
            prop_assert!((lower - upper).abs() < 1e-9);
            prop_assert!((lower - plan.figures().unwrap().spare).abs() < 1e-9);
        }
    }

    fn run(plan: AlignmentPlan, mut reading: f64, obeys: bool) -> (AlignmentEnd, u32) {
        let mut alignment = Alignment::new(plan).unwrap();
        let mut settings = 0;
        loop {
            let report = match alignment.next() {
                Action::Ask {
                    question:
                        Question::SetSensor {
                            reading: wanted,
                            tolerance,
                        },
                    ..
                } => {
                    settings += 1;
                    if obeys {
                        reading = wanted + tolerance;
                    }
                    Report::Answered { answer: Answer::Done }
                }
                Action::Ask { .. } => Report::Answered {
                    answer: Answer::Angle { degrees: 0.0 },
                },
                Action::Read => Report::Reading {
                    value: reading,
                    load: None,
                },
                _ => return (alignment.end().unwrap(), settings),
            };
            alignment.report(report).unwrap();
        }
    }

    #[test]
    fn asks_to_set_the_sensor_only_when_that_is_needed() {
        assert!(matches!(run(plan(), 160.0, true), (AlignmentEnd::Set { .. }, 0)));
        assert!(matches!(run(plan(), 600.0, true), (AlignmentEnd::Set { .. }, 1)));
        assert!(matches!(run(plan(), 600.0, false), (AlignmentEnd::NotSet { .. }, 3)));
        assert!(matches!(
            run(AlignmentPlan { ratio: 3.0, ..plan() }, 1.0, true),
            (AlignmentEnd::TooShort { .. }, 0)
        ));
    }
}
