//! The small public calls that no larger test needs by name.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use elbowroom::block::Block;
use elbowroom::curve::{Knot, Piece};
use elbowroom::fit::{LostMotion, NotDeterminable, spread};
use elbowroom::linkage::{Mechanism, Triangle};
use elbowroom::{Joint, JointRecord, ServoRecord, TimerRecord, TransmissionRecord};

fn joint() -> Joint<f64> {
    let servo = ServoRecord {
        angle: [0.0, 180.0],
        pulse_us: [500.0, 2500.0],
    };
    let timer = TimerRecord {
        frame_hz: 50.0,
        counts_per_frame: 4096,
    };
    Joint::new(JointRecord::new([0.0, 180.0], [5.0, 80.0], 90.0, servo, timer)).unwrap()
}

#[test]
fn a_joint_of_a_block_is_the_joint_in_f32() {
    let narrow = joint().to_f32(3).unwrap();
    let image = narrow.to_block(3).unwrap();
    let from_block = Block::unchecked(&image[..]).unwrap().joint(3).unwrap();
    assert_eq!(from_block.to_joint().unwrap(), narrow);

    let drive = 42.5;
    let pulse_us = from_block.pulse_us_of_drive(drive);
    assert_eq!(pulse_us, narrow.servo().pulse_us(drive));
    assert_eq!(from_block.counts_of_pulse(pulse_us), 199);
    assert_eq!(from_block.counts_of_pulse(2500.0), narrow.count_range()[1]);
}

#[test]
fn mechanisms_and_transmissions_say_what_they_are() {
    assert!(TransmissionRecord::<f64>::default().is_linear());
    let mut mechanism = Mechanism::Triangle(Triangle {
        base: 40.0,
        arm: 92.0,
        angle_at_zero: 31.0,
    });
    assert!(mechanism.set_dimension("base", 41.0));
    assert_eq!(mechanism.dimension("base"), Some(41.0));
    assert!(!mechanism.set_dimension("crank", 1.0));
    let piece = Piece::new(Knot::new(0.0, 0.0), Knot::new(2.0, 6.0), 0).unwrap();
    assert_eq!(piece.mean_slope(), 3.0);
}

#[test]
fn statistics_in_small() {
    let four = spread(&[1.0, 3.0, 1.0, 3.0]).unwrap();
    assert_eq!(four.u_mean(), four.sd / 2.0);
    let unknown = LostMotion::NotDeterminable {
        reason: NotDeterminable::ApproachUnknown,
    };
    assert_eq!(unknown.in_drive(), 0.0);
}

#[cfg(feature = "robot")]
#[test]
fn boards_stand_in_file_order() {
    let text = "format = 1\n[board.breast]\nchannels = 16\n[board.head]\nchannels = 8\n";
    let robot = elbowroom::robot::Robot::parse(text).unwrap();
    let names: Vec<_> = robot.boards().iter().map(|board| board.name()).collect();
    assert_eq!(names, ["breast", "head"]);
}

#[cfg(feature = "rehearsal")]
mod procedure {
    use elbowroom::Code;
    use elbowroom::bring_up::{Answer, BringUpError, Report, SensePlan, SenseTest, Session, Side};
    use elbowroom::rehearsal::Rehearsal;

    #[test]
    fn ends_have_opposites() {
        assert_eq!(Side::Lower.opposite(), Side::Upper);
        assert_eq!(Side::Upper.opposite(), Side::Lower);
    }

    #[test]
    fn a_new_session_is_ready_and_takes_no_report_it_did_not_ask_for() {
        let Rehearsal { mut joint, plan } = Rehearsal::healthy(1).unwrap();
        assert_eq!(
            plan.closes_loop(),
            plan.sense.watch == elbowroom::bring_up::Watch::SensorAndDrive
        );
        let mut session = Session::new(plan).unwrap();
        assert_eq!(session.stage(), "ready");
        assert!(matches!(
            session.report(Report::Moved),
            Err(error) if error.code() == Code::WrongReport
        ));
        assert_eq!(session.stage(), "ready");
        assert_eq!(BringUpError::Done.code(), Code::ProcedureDone);

        joint.hold_sensor(2.0);
        assert_eq!(joint.hand(), 2.0);
        assert_eq!(joint.what_moves(), Answer::Joint);
        let [lower, _] = joint.contacts();
        assert_eq!(joint.what_is_met(Side::Lower, lower - 2.0), Answer::Stop);
    }

    #[test]
    fn a_new_sense_test_has_no_samples() {
        assert_eq!(SenseTest::new(SensePlan::default()).unwrap().samples().count(), 0);
    }
}
