//! The checks on the demo robot: nothing is found in it as it stands, and each seeded fault by the right rule.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may panic"
)]

mod remedies;

use elbowroom::robot::{Check, CheckReport, Date, Robot, Rule, Severity, Urdf, check};
use std::collections::BTreeSet;

const HERON: &str = include_str!("../data/heron.toml");

fn today() -> Date {
    Date::new(2026, 11, 25).unwrap()
}

fn report(text: &str) -> CheckReport {
    Check::new().on(today()).run(&Robot::parse(text).unwrap())
}

#[test]
fn the_demo_robot_is_clean() {
    let robot = Robot::parse(HERON).unwrap();
    assert!(robot.joints().len() >= 14);
    assert!(
        robot
            .joints()
            .iter()
            .any(|joint| joint.joint().transmission().kind() == "triangle")
    );
    assert!(
        robot
            .joints()
            .iter()
            .filter(|joint| joint.mirror_of().is_some())
            .count()
            >= 5
    );
    let report = report(HERON);
    assert_eq!(report.findings, []);
    assert_eq!(report.waived.len(), 2);
    assert!(
        report
            .waived
            .iter()
            .all(|waived| waived.reason.contains("no stop to find"))
    );
    assert_eq!(check(&robot), []);
}

/// Replaces the first occurrence after the header of a joint (or of the file, for "").
fn seeded(joint: &str, from: &str, to: &str) -> String {
    let start = if joint.is_empty() {
        0
    } else {
        HERON.find(&format!("[joint.{joint}]")).unwrap()
    };
    let (before, after) = HERON.split_at(start);
    let at = after.find(from).unwrap_or_else(|| panic!("{joint} has no {from}"));
    let own = format!("\n[joint.{joint}.");
    let next = after
        .match_indices("\n[joint.")
        .find(|(at, _)| !after[*at..].starts_with(&own));
    let end = next.map_or(after.len(), |(at, _)| at);
    assert!(joint.is_empty() || at < end, "{from} is not in {joint}");
    format!("{before}{}", after.replacen(from, to, 1))
}

#[test]
fn every_seeded_fault_is_found_by_the_right_rule_and_no_other() {
    use Rule::*;
    #[rustfmt::skip]
    let faults: &[(&str, &str, &str, &[Rule])] = &[
        // The rest.
        ("neck_base", "rest = 0", "rest = 45", &[RestOutsideTravel]),
        ("beak", "rest = 2", "rest = 35", &[RestOutsideTravel]),
        ("crest", "travel = [70, 120]", "travel = [75, 120]", &[RestOutsideTravel]),
        // Limits against their evidence.
        ("neck_base", "travel = [48, 132]", "travel = [45.1, 132]", &[TravelBeyondContact]),
        ("neck_base", "travel = [48, 132]", "travel = [48, 134.6]", &[TravelBeyondContact]),
        ("neck_middle", "at = 149.4", "at = 140", &[TravelBeyondContact]),
        ("head_turn", "travel = [22, 158]", "travel = [21, 158]", &[TravelBeyondClear]),
        ("head_turn", "at = 158.5", "at = 150", &[TravelBeyondClear]),
        ("neck_base", "travel = [48, 132]", "travel = [46.6, 132]", &[GuardTooThin]),
        ("neck_middle", "guard = 2.0", "guard = 2.5", &[GuardTooThin]),
        ("neck_base", "u = 0.2", "u = 1.3", &[GuardWithinUncertainty]),
        ("neck_base", "lost_motion = { value = 1.4", "lost_motion = { value = 4.9", &[LostMotionBeyondGuard]),
        ("head_turn", "lost_motion = { value = 0.7", "lost_motion = { value = 7", &[LostMotionLarge]),
        ("tail", "lower = { kind = \"clear\", at = 66.5 }", "lower = { kind = \"clear\", at = 113.6 }", &[ContactsCrossed, TravelBeyondClear]),
        ("head_turn", "lower = { kind = \"clear\", at = 21.5 }\n", "", &[LimitUnproven]),
        ("neck_base", "upper = { kind = \"contact\", at = 134.4, u = 0.2, guard = 2.0 }\n", "", &[LimitUnproven]),
        ("head_turn", "kind = \"clear\", at = 21.5", "kind = \"stalled\", at = 21.5, short_at = 15", &[StopNotPlaced]),
        ("head_turn", "kind = \"clear\", at = 158.5", "kind = \"stalled\", at = 158.5, short_at = 165, guard = 0.5", &[StopNotPlaced]),
        ("head_turn", "kind = \"clear\", at = 158.5", "kind = \"stalled\", at = 158.5, short_at = 165, guard = 1", &[StopNotPlaced, GuardTooThin]),
        ("head_turn", "kind = \"clear\", at = 158.5", "kind = \"stalled\", at = 150, short_at = 165", &[StopNotPlaced, TravelBeyondClear]),
        ("head_turn", "kind = \"clear\", at = 21.5", "kind = \"declared\", at = 21.5", &[LimitOnlyDeclared]),
        ("neck_base", ", u = 0.2", "", &[ContactWithoutUncertainty]),
        // The rest of the evidence.
        ("neck_base", "sense = \"opposing\"", "sense = \"undetermined\"", &[SenseUnproven]),
        ("neck_base", "sense = \"opposing\"", "sense = \"aiding\"", &[SenseAiding]),
        ("neck_base", "sense = \"opposing\"\n", "", &[SenseUnproven]),
        ("head_turn", "drive = [20, 160]\ntravel = [22, 158]\nrest = 0\nmax_rate_per_s = 1.5\nfeedback = { reading = [150, 870]", "drive = [30, 150]\ntravel = [22, 158]\nrest = 0\nmax_rate_per_s = 1.5\nfeedback = { reading = [10, 1020]", &[FeedbackRunsOut]),
        ("wing_left", "reading = [212, 871], angle = [-40, 60]", "reading = [343.8, 673.3], angle = [-20, 30]", &[FeedbackSpanMismatch]),
        ("neck_base", "unit = \"deg\"", "unit = \"rad\"", &[FeedbackSpanMismatch]),
        ("neck_middle", "unit = \"deg\"", "unit = \"rad\"", &[UnitUnlikely]),
        ("neck_base", "drive = [45, 135]\ntravel = [48, 132]\nrest = 0\nmax_rate_per_s = 30\nfeedback = { reading = [610, 1634]", "drive = [50, 130]\ntravel = [48, 132]\nrest = 0\nmax_rate_per_s = 30\nfeedback = { reading = [5, 1029]", &[WrapInsideTravel]),
        ("head_turn", "reading = [150, 870]", "reading = [3.9, 870]", &[WireBreakUnseen]),
        ("neck_base", "reading = [610, 1634]", "reading = [3056, 4080]", &[WireBreakUnseen]),
        ("head_turn", "drive = [20, 160]\ntravel = [22, 158]\nrest = 0\nmax_rate_per_s = 1.5\nfeedback = { reading = [150, 870]", "drive = [30, 150]\ntravel = [22, 158]\nrest = 0\nmax_rate_per_s = 1.5\nfeedback = { reading = [50, 770]", &[WireBreakUnseen]),
        ("knee_left", "date = 2026-11-20\n", "date = 2026-11-20\ninstrument = \"virtual joint\"\n", &[EvidenceRehearsed]),
        ("knee_left", "date = 2026-11-20\n", "date = 2026-11-20\nmap_off = -14.4\n", &[MapContradicted]),
        ("", "counts_per_frame = 4096", "counts_per_frame = 4096, assumed = true", &[NumbersAssumed]),
        ("knee_left", "date = 2026-11-20\n", "", &[EvidenceUndated]),
        ("wing_left", "unit = \"deg\"", "unit = \"degs\"", &[UnitUnknown]),
        ("knee_left", "date = 2026-11-20", "date = 2024-02-29", &[EvidenceStale]),
        ("knee_left", "date = 2026-11-20", "date = 2026-11-26", &[EvidenceAhead]),
        ("knee_left", "readings = 34", "readings = 3", &[ReadingsFew]),
        // Motion.
        ("neck_base", "max_rate_per_s = 30\n", "", &[RateMissing]),
        ("neck_base", "max_rate_per_s = 30", "max_rate_per_s = 700", &[RateBeyondServo]),
        ("beak", "max_rate_per_s = 70", "max_rate_per_s = 400", &[RateBeyondServo]),
        ("neck_middle", "travel = [33, 147]", "travel = [60, 120]", &[CommandMostlyClamped]),
        // Pulses and counts.
        ("neck_middle", "drive = [30, 150]", "drive = [30, 181]", &[PulseOutsideServo]),
        ("neck_middle", "travel = ", "servo = { pulse_us = [400, 2500] }\ntravel = ", &[PulseUnusual]),
        ("", "counts_per_frame = 4096", "counts_per_frame = 1024", &[CoarseStep]),
        // Wiring.
        ("neck_middle", "channel = 1\n", "", &[ChannelMissing]),
        ("neck_middle", "board = \"head\"\n", "", &[ChannelMissing]),
        ("neck_middle", "channel = 1", "channel = 2", &[ChannelClash]),
        ("tail", "channel = 0", "channel = 11", &[ChannelClash]),
        ("neck_middle", "channel = 1", "channel = 16", &[ChannelBeyondBoard]),
        ("neck_middle", "board = \"head\"", "board = \"haed\"", &[BoardUnknown]),
        ("neck_middle", "travel = ", "timer = { frame_hz = 60 }\ntravel = ", &[BoardTimersDiffer]),
        // Mirrors.
        ("wing_left", "mirror_of = \"wing_right\"", "mirror_of = \"wing_rihgt\"", &[JointUnknownMirror]),
        ("wing_left", "mirror_of = \"wing_right\"", "mirror_of = \"wing_left\"", &[MirrorOfItself]),
        ("wing_left", "mirror_of = \"wing_right\"", "mirror_of = \"wing_tip_right\"", &[MirrorContradicted]),
        ("hip_right", "inverted = true\n", "", &[MirrorMismatch]),
        ("hip_right", "rest = 0", "rest = 5", &[MirrorMismatch]),
        ("hip_right", "command = [-40, 40]", "command = [-40, 45]", &[MirrorMismatch]),
        ("hip_right", "max_rate_per_s = 40", "max_rate_per_s = 45", &[MirrorMismatch]),
        ("hip_right", "travel = [53, 127]", "travel = [60, 127]", &[MirrorMismatch]),
        ("ankle_right", "drive = [40, 120]", "drive = [40, 124]", &[MirrorMismatch]),
        // The file itself.
        ("", "reason = \"feathers", "reason = \"\\u2193 feathers", &[]),
        ("", "joint = \"crest\"", "joint = \"tail\"", &[LimitOnlyDeclared, WaiverUnused]),
        (
            "",
            "waive = [",
            "waive = [\n    { rule = \"channel-clash\", reason = \"one harness\" },",
            &[WaiverWithoutJoint, WaiverUnused],
        ),
    ];
    assert!(faults.iter().filter(|fault| !fault.3.is_empty()).count() >= 40);
    for &(joint, from, to, rules) in faults {
        let found = report(&seeded(joint, from, to)).findings;
        let fired: BTreeSet<Rule> = found.iter().map(|finding| finding.rule).collect();
        let expected: BTreeSet<Rule> = rules.iter().copied().collect();
        assert_eq!(fired, expected, "{joint}: {to:?}: {found:#?}");
        for finding in &found {
            assert!(!finding.hint.is_empty() && !finding.message.contains('\n'));
            assert_eq!(finding.joint.is_some(), finding.line.is_some());
        }
        // Told of the joint that was changed, or of its mirror, which sees the same difference.
        if !joint.is_empty() {
            let mirror = Robot::parse(HERON)
                .unwrap()
                .joint(joint)
                .unwrap()
                .mirror_of()
                .map(str::to_owned);
            let told = |name: &str| name == joint || Some(name) == mirror.as_deref();
            let about = found
                .iter()
                .any(|f| f.joint.as_deref().is_some_and(told) || f.message.contains(joint));
            assert!(about, "{found:#?}");
        }
    }
    // Every rule that needs no second file is broken above, or right here.
    let mut broken: BTreeSet<Rule> = faults.iter().flat_map(|fault| fault.3.iter().copied()).collect();
    broken.extend(report("format = 1").findings.iter().map(|finding| finding.rule));
    broken.extend(Rule::ALL.iter().filter(|rule| rule.name().starts_with("urdf-")));
    // These need the readings: tests/robot_record.rs.
    broken.extend([SourceMissing, SourceChanged]);
    let all: BTreeSet<Rule> = Rule::ALL.iter().copied().collect();
    assert_eq!(broken, all);
}

/// The neck's travel begins 2.4 deg from its contact, which as a difference of binary numbers is a rounding less.
#[test]
fn what_a_stop_keeps_to_the_last_digit_is_enough() {
    for (from, enough, rule) in [
        ("guard = 2.0", 2.4, Rule::GuardTooThin),
        ("u = 0.2", 1.2, Rule::GuardWithinUncertainty),
        ("value = 1.4", 4.8, Rule::LostMotionBeyondGuard),
    ] {
        let name = from.split_once(" = ").unwrap().0;
        let found = |value: f64| {
            let found = report(&seeded("neck_base", from, &format!("{name} = {value}"))).findings;
            found.into_iter().map(|finding| finding.rule).collect::<BTreeSet<_>>()
        };
        assert_eq!(found(enough), BTreeSet::new(), "{name} = {enough}");
        assert_eq!(
            found(enough + 0.001),
            BTreeSet::from([rule]),
            "{name} = {enough} and a little more"
        );
    }
}

#[test]
fn a_wire_break_that_no_reading_tells_is_told_by_its_end() {
    let told = |drive: &str, reading: &str| {
        let text = seeded(
            "head_turn",
            "drive = [20, 160]\ntravel = [22, 158]\nrest = 0\nmax_rate_per_s = 1.5\nfeedback = { reading = [150, 870]",
            &format!(
                "drive = {drive}\ntravel = [22, 158]\nrest = 0\nmax_rate_per_s = 1.5\nfeedback = {{ reading = {reading}"
            ),
        );
        let found = report(&text).findings.into_iter();
        found.map(|f| (f.rule, f.message, f.hint)).collect::<Vec<_>>()
    };
    let pull = |free: &str| {
        format!(
            "move the sensor on its axis until both rails stay free; or pull its input to the {free} rail by a resistor, so that at least the wiper's broken wire shows there, and waive this"
        )
    };
    let less = "let the joint turn the sensor less, and move it on its axis until both rails stay free";
    let lower = "is at the lower rail, 0 to 3.996 of 10 bits: a broken or shorted wire reads the same";
    let upper = "is at the upper rail, 1019.004 to 1023 of 10 bits: a broken or shorted wire reads the same";
    let unseen = |message: String, hint: &str| (Rule::WireBreakUnseen, message, hint.to_owned());

    // By an end of the map. The rail is the outermost 1/256, not only the last number.
    let map = "[20, 160]";
    let narrower = "narrow command to what the travel needs, and cut feedback to its ends: the travel itself stays clear of this rail";
    assert_eq!(told(map, "[4, 1019]"), []);
    assert_eq!(
        told(map, "[0, 870]"),
        [unseen(format!("feedback.reading lower 0 {lower}"), narrower)]
    );
    // The travel stops 2 deg of 140 before the map's end.
    assert_eq!(
        told("[22, 160]", "[0, 870]"),
        [unseen(format!("feedback.reading lower 0 {lower}"), &pull("upper"))]
    );
    assert_eq!(
        told("[20, 158]", "[150, 1020]"),
        [unseen(format!("feedback.reading upper 1020 {upper}"), &pull("lower"))]
    );
    assert_eq!(
        told("[22, 158]", "[1, 1022]"),
        [
            unseen(format!("feedback.reading lower 1 {lower}"), less),
            unseen(format!("feedback.reading upper 1022 {upper}"), less)
        ]
    );
    // By a travel past the ends of the map: 8 deg of drive, 6 readings each.
    assert_eq!(
        told("[30, 150]", "[50, 770]"),
        [unseen(
            format!("the reading 2 at travel lower 22 deg {lower}"),
            &pull("upper")
        )]
    );
    // An inverted sensor reads its upper readings at the lower end.
    assert_eq!(
        told("[30, 150]", "[50, 770], inverted = true"),
        [unseen(
            format!("the reading 2 at travel upper 158 deg {lower}"),
            &pull("upper")
        )]
    );
    // Where the sensor runs out, that is the fault; then the other rail alone is told, and cannot be freed by moving it.
    let rules = |found: &[(Rule, String, String)]| found.iter().map(|f| f.0).collect::<Vec<_>>();
    assert_eq!(rules(&told("[30, 150]", "[10, 900]")), [Rule::FeedbackRunsOut]);
    let found = told("[30, 150]", "[10, 958]");
    assert_eq!(rules(&found), [Rule::FeedbackRunsOut, Rule::WireBreakUnseen]);
    assert_eq!(
        found.last(),
        Some(&unseen(
            format!("the reading 1021.2 at travel upper 158 deg {upper}"),
            less
        ))
    );
    // Without the converter's bits nothing is known of rails.
    let text = seeded(
        "head_turn",
        "[150, 870], angle = [-68.8, 68.8], adc_bits = 10",
        "[0, 870], angle = [-68.8, 68.8]",
    );
    assert_eq!(report(&text).findings, []);
}

#[test]
fn rules_are_documented_and_found_by_name() {
    assert!(Rule::ALL.len() >= 20);
    for &rule in Rule::ALL {
        assert_eq!(Rule::named(rule.name()), Some(rule));
        assert!(rule.name().bytes().all(|b| b.is_ascii_lowercase() || b == b'-'));
        assert!(!rule.protects().is_empty() && !rule.broken_by().is_empty());
    }
}

#[test]
fn a_rule_is_tuned_or_raised_but_never_silenced_without_a_reason() {
    let tuned = |check: &str| HERON.replacen("stale_after_days = 400", check, 1);
    assert_eq!(report(&tuned("guard = 2.0")).findings, []);
    let stale = report(&tuned("stale_after_days = 2")).findings;
    assert!(
        stale.len() == 17
            && stale
                .iter()
                .all(|f| f.rule == Rule::EvidenceStale && f.severity == Severity::Warning)
    );
    let raised = report(&tuned("stale_after_days = 2\nraise = { evidence-stale = \"error\" }")).findings;
    assert!(raised.iter().all(|f| f.severity == Severity::Error));

    for (check, says) in [
        ("raise = { sense-aiding = \"note\" }", "write \"error\""),
        ("raise = { sense-aidin = \"error\" }", "write \"sense-aiding\""),
        ("guard = \"thick\"", "guard is the text"),
        ("gaurd = 2", "write guard"),
    ] {
        let error = Robot::parse(&tuned(check)).unwrap_err().to_string();
        assert!(error.contains(says), "{error}");
    }
    for (from, to, says) in [
        (
            ", reason = \"feathers on a spring: there is no stop to find\"",
            "",
            "reason is missing",
        ),
        (
            "reason = \"feathers on a spring: there is no stop to find\"",
            "reason = \"\"",
            "reason is an empty text",
        ),
        (
            "rule = \"limit-only-declared\"",
            "rule = \"limit-declared\"",
            "rule is \"limit-declared\"; write one of",
        ),
        (
            "joint = \"crest\"",
            "joint = \"crst\"",
            "no joint is named \"crst\"; the nearest name is \"crest\"",
        ),
    ] {
        let error = Robot::parse(&HERON.replacen(from, to, 1)).unwrap_err().to_string();
        assert!(error.contains(says), "{error}");
    }
}

#[test]
fn without_a_day_the_age_of_evidence_is_not_judged() {
    let old = HERON.replace("2026-11-20", "1999-12-31");
    assert_eq!(check(&Robot::parse(&old).unwrap()), []);
    assert_eq!(report(&old).findings.len(), 17);
}

/// The neck of the heron as a URDF; invented data.
const URDF: &str = r#"<?xml version="1.0"?>
<robot name="heron">
  <link name="body"/>
  <joint name="ground" type="fixed"/>
  <joint name="neck_base" type="revolute"><limit lower="-0.733" upper="0.733" velocity="0.6" effort="1"/></joint>
  <joint name="head_turn" type="revolute"><limit lower="-1.183" upper="1.183" velocity="1.5" effort="1"/></joint>
</robot>"#;

#[test]
fn a_urdf_gives_a_second_opinion() {
    let joints = Robot::parse(HERON).unwrap();
    let kept = ["neck_base", "head_turn"];
    let mut robot = joints.clone();
    for entry in joints
        .joints()
        .iter()
        .filter(|entry| !kept.contains(&entry.name()) && entry.name() != "crest")
    {
        robot.remove(entry.name()).unwrap();
    }
    let fired = |robot: &Robot, xml: &str| -> BTreeSet<(Rule, Option<String>)> {
        let urdf = Urdf::parse(xml).unwrap();
        let found = Check::new().against(&urdf).run(robot).findings;
        found.into_iter().map(|f| (f.rule, f.joint)).collect()
    };
    let crest = (Rule::UrdfJointMissing, Some("crest".to_owned()));
    assert_eq!(fired(&robot, URDF), BTreeSet::from([crest.clone()]));
    let neck = || Some("neck_base".to_owned());
    for (from, to, rule, joint) in [
        ("upper=\"0.733\"", "upper=\"0.1\"", Rule::UrdfLimitExceeded, neck()),
        ("lower=\"-0.733\"", "lower=\"-2\"", Rule::UrdfLimitUnreachable, neck()),
        ("velocity=\"0.6\"", "velocity=\"0.5\"", Rule::UrdfRateExceeded, neck()),
        (
            "</robot>",
            "<joint name=\"tongue\" type=\"continuous\"/></robot>",
            Rule::UrdfJointUnknown,
            None,
        ),
    ] {
        let changed = URDF.replacen(from, to, 1);
        assert_eq!(
            fired(&robot, &changed),
            BTreeSet::from([crest.clone(), (rule, joint)]),
            "{to}"
        );
    }
    let crested = URDF.replace("</robot>", "<joint name=\"crest\" type=\"continuous\"/></robot>");
    let own = || Some("crest".to_owned());
    assert_eq!(
        fired(&robot, &crested),
        BTreeSet::from([(Rule::UrdfUnitUnlike, own()), (Rule::UrdfJointEndless, own())])
    );
    for (element, rule) in [
        ("<mimic joint=\"head_turn\"/>", Rule::UrdfJointMimics),
        (
            "<safety_controller k_velocity=\"1\" soft_upper_limit=\"0.7\" soft_lower_limit=\"-0.8\"/>",
            Rule::UrdfSafetyExceeded,
        ),
    ] {
        let changed = URDF.replacen("</joint>", &format!("{element}</joint>"), 1);
        assert_eq!(
            fired(&robot, &changed),
            BTreeSet::from([crest.clone(), (rule, neck())]),
            "{element}"
        );
    }

    for (xml, line, says) in [
        (URDF.replace("</robot>", ""), 1, "no robot description"),
        ("<model/>".to_owned(), 1, "the outermost element is model, not robot"),
        (
            URDF.replace("-0.733", "0.8"),
            5,
            "lower is 0.8; it must be no more than the upper limit",
        ),
        (URDF.replace("-0.733", "left"), 5, "lower is the text \"left\""),
        (
            "<!DOCTYPE a [<!ENTITY b \"c\">]><robot/>".to_owned(),
            1,
            "no robot description",
        ),
    ] {
        let error = Urdf::parse(&xml).unwrap_err();
        assert!(error.to_string().contains(says), "{error}");
        assert_eq!(error.line(), Some(line), "{error}");
    }
}

#[test]
fn a_test_of_ones_own_is_one_line() {
    let clean = |text: &str| report(text).require_clean();
    assert_eq!(clean(HERON), Ok(()));
    let open = clean(&HERON.replace("sense = \"opposing\"", "sense = \"aiding\"")).unwrap_err();
    assert_eq!(open.findings().len(), 17);
    assert!(
        format!("{open:?}").contains("\nerror sense-aiding: joint wing_left: "),
        "{open}"
    );
}

#[test]
fn mirrors_are_compared_by_commands_that_can_be_given() {
    let robot = |travel: &str| {
        let text = format!(
            "format = 1\ntimer = {{ frame_hz = 50, counts_per_frame = 4096 }}\nservo = {{ angle = [0, 180], pulse_us = [500, 2500] }}\n\
             [joint.left]\ncommand = [-40, 60]\ndrive = [50, 110]\ntravel = [30, 130]\nrest = 10\nmirror_of = \"right\"\n\
             [joint.right]\ncommand = [-40, 60]\ndrive = [50, 110]\ntravel = {travel}\nrest = 10\ninverted = true\n"
        );
        let found = check(&Robot::parse(&text).unwrap());
        found
            .into_iter()
            .filter(|finding| finding.rule == Rule::MirrorMismatch)
            .count()
    };
    // Both travels go beyond all commands, by different amounts.
    assert_eq!(robot("[40, 115]"), 0);
    assert_eq!(robot("[60, 115]"), 1);
}

/// Mirrored joints speak one unit; numbers of another are neither compared nor proposed.
#[test]
fn mirrors_in_different_units_are_told_and_their_numbers_not_compared() {
    let found = |to: &str| {
        let text = seeded("hip_right", "unit = \"deg\"\ncommand = [-40, 40]", to);
        let found = check(&Robot::parse(&text).unwrap()).into_iter();
        let found: Vec<_> = found.filter(|finding| finding.rule == Rule::MirrorMismatch).collect();
        assert_eq!(found.len(), 1, "{found:#?}");
        assert!(found[0].message.contains("unit is "), "{found:#?}");
        (found[0].message.clone(), found[0].hint.clone())
    };
    let (message, hint) = found("unit = \"mm\"\ncommand = [-40, 40]");
    assert_eq!(message, "unit is mm, but deg in its mirror hip_left");
    assert!(
        hint.contains("edit FILE set hip_right.unit=deg; else convert command, rest"),
        "{hint}"
    );
    let (_, hint) = found("unit = \"rad\"\ncommand = [-0.69, 0.69]");
    assert!(hint.contains("each number converted") && !hint.contains("40"), "{hint}");
}

#[test]
fn a_unit_that_is_not_known_is_told_with_the_word_that_is_meant() {
    let hint = |word: &str| {
        let text = HERON.replacen("unit = \"deg\"", &format!("unit = \"{word}\""), 1);
        let found = check(&Robot::parse(&text).unwrap());
        let unit = found.into_iter().find(|finding| finding.rule == Rule::UnitUnknown);
        unit.map_or(String::new(), |finding| finding.hint)
    };
    for (word, meant) in [
        ("degs", "deg"),
        ("degrees", "deg"),
        ("Grad", "deg"),
        ("Rad", "rad"),
        ("turns", "turn"),
    ] {
        assert!(
            hint(word).starts_with(&format!("write unit = \"{meant}\" (known: deg, rad")),
            "{word}"
        );
    }
    // Not "rad", which is nearest in letters.
    assert!(hint("grad").starts_with("grad may be degrees, 360 a turn, or gon, 400 a turn; write deg"));
    assert!(hint("furlong").starts_with("write one of deg, rad"));
    assert_eq!(hint("mm"), "");
}

/// The sense test has a day of its own.
#[test]
fn an_old_sense_test_is_told_beside_fresh_readings() {
    let text = |day: &str| {
        seeded(
            "neck_base",
            "sense = \"opposing\"",
            &format!("sense = \"opposing\"\nsense_date = {day}"),
        )
    };
    assert_eq!(report(&text("2026-11-19")).findings, []);
    for (day, rule) in [("2024-02-29", Rule::EvidenceStale), ("2026-11-26", Rule::EvidenceAhead)] {
        let found = report(&text(day)).findings;
        assert!(found.len() == 1 && found[0].rule == rule, "{found:?}");
        assert!(found[0].message.starts_with("the sense test"), "{found:?}");
    }
}

/// What the file keeps in decimals is kept, though the difference of two floats may fall short of it.
#[test]
fn exactly_half_the_lost_motion_is_enough() {
    for step in 0..40 {
        let at = 45.0 + 0.1 * f64::from(step);
        let text = |kept: f64| {
            let text = seeded("neck_base", "at = 45.6", &format!("at = {at:.1}"));
            let text = text.replacen("travel = [48, 132]", &format!("travel = [{:.1}, 132]", at + kept), 1);
            text.replacen("lost_motion = { value = 1.4", "lost_motion = { value = 4.4", 1)
                .replacen("drive = [45, 135]", "drive = [44, 135]", 1)
        };
        let fired = |kept: f64| {
            let found = report(&text(kept)).findings;
            found.iter().any(|finding| finding.rule == Rule::LostMotionBeyondGuard)
        };
        assert!(!fired(2.2), "{at}");
        assert!(fired(2.1), "{at}");
    }
}

/// The ends of a sensor's angles are those of the commands, and what is meant is named.
#[test]
fn commands_that_contradict_the_sensors_angles_are_told_with_what_is_meant() {
    let found = |joint: &str, from: &str, to: &str| {
        let found = report(&seeded(joint, from, to)).findings;
        let [only] = &found[..] else { panic!("{found:?}") };
        only.to_string()
    };
    assert_eq!(
        found(
            "wing_left",
            "reading = [212, 871], angle = [-40, 60]",
            "reading = [343.8, 673.3], angle = [-20, 30]"
        ),
        "warning feedback-span-mismatch: joint wing_left: feedback.angle spans 50 deg and command 100 deg, more than 5 % apart: the ends of \
         feedback.angle are taken for the ends of command, so readings give wrong commands; write into feedback the joint angles at the ends \
         of command and the readings there; if commands are joint angles, angle = [-40, 60] and the readings at these angles"
    );
    let rad = found("neck_base", "unit = \"deg\"", "unit = \"rad\"");
    assert!(
        rad.contains("spans 90 deg and command 90 rad, which is 5156.62 deg")
            && rad.ends_with("; write unit = \"deg\""),
        "{rad}"
    );
    assert_eq!(
        report(&seeded("wing_left", "angle = [-40, 60]", "angle = [-44, 60]")).findings,
        []
    );
    let alone = found("neck_middle", "unit = \"deg\"", "unit = \"rad\"");
    assert!(
        alone.contains("command spans 120 rad, which is 6875.494 deg: more than two turns; write unit = \"deg\" if"),
        "{alone}"
    );
}

#[test]
fn a_severity_is_that_of_the_file() {
    let settings = |check: &str| {
        Robot::parse(&format!("format = 1\n{check}"))
            .unwrap()
            .settings()
            .clone()
    };
    let plain = settings("");
    assert_eq!(plain.severity_of(Rule::RateMissing), Severity::Warning);
    let raised = settings("check = { raise = { rate-missing = \"error\" } }");
    assert_eq!(raised.severity_of(Rule::RateMissing), Severity::Error);
    assert_eq!(
        raised.severity_of(Rule::SenseAiding),
        plain.severity_of(Rule::SenseAiding)
    );
}

#[test]
fn errors_are_waived_of_one_joint_at_a_time() {
    let mut robot = Robot::parse(HERON).unwrap();
    let refused = robot.waive(Rule::TravelBeyondContact, None, "soft").unwrap_err();
    assert_eq!(refused.code(), elbowroom::Code::MissingKey);
    assert_eq!(robot.to_toml(), HERON);
    robot.waive(Rule::TravelBeyondContact, Some("tail"), "soft").unwrap();
    robot.waive(Rule::CoarseStep, None, "slow").unwrap();
    robot.waive(Rule::RobotEmpty, None, "begun").unwrap();
}
