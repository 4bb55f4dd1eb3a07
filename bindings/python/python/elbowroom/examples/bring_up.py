"""A whole bring-up against a virtual joint, and what it leaves in a robot file. The numbers are invented.

With a real joint the person below is you, and the virtual joint is the port of `serial_port.py`. Take the load off, keep
a hand on the power switch, make the first move slow, and never search a stop under a person's hand.
"""

import datetime
import sys
from pathlib import Path

import elbowroom as elb
from elbowroom.bring_up import Answered, Ask, Done, Moved, MoveTo, Read, Reading, Report, Session, SessionPlan, Wait, Waited
from elbowroom.rehearsal import Person, VirtualJoint

WING = elb.Joint(
    "wing_left",
    command=(-40, 60),
    drive=(37, 122),
    rest=10,
    servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    timer=elb.Timer(frame_hz=50, counts_per_frame=4096),
)


def bring_up(session: Session, joint: VirtualJoint, person: Person) -> None:
    """Do what is asked until it is done."""
    said: set[str] = set()
    while True:
        action = session.next()
        report: Report | None
        match action:
            case MoveTo(drive=drive, rate_per_s=rate_per_s):
                # A timer commands whole counts: the angle really commanded goes into the report.
                _, commanded = WING.counts_from_drive(drive)
                joint.move_to(commanded, rate_per_s=rate_per_s)
                report = Moved(drive=commanded)
            case Wait(seconds=seconds):
                joint.wait(seconds)
                report = Waited()
            case Read():
                report = Reading(joint.read(), load=joint.load())
            case Ask(sentence=sentence, cautions=cautions, caution_codes=codes, doubt=doubt):
                for code, caution in zip(codes, cautions, strict=True):
                    # Repeated at each step at which hands go in.
                    if code == "power-off-to-touch" or caution not in said:
                        print(f"caution: {caution}")
                        said.add(caution)
                if doubt is not None:
                    print(doubt)
                # At a real joint: input(f"{sentence} {action.answers} ").
                report = person.carry_out(action, joint)
                assert isinstance(report, Answered)
                print(f"{sentence} {report.answer}")
            case Done():
                return
        assert report is not None
        session.report(report)
        # Written down after each step, a bring-up outlives its program: Session.parse(text) takes it up again.
        text = session.json()
        assert text


def main(path: Path) -> None:
    robot = elb.Robot("heron").put(WING)
    session = Session(SessionPlan(start=79.5, search_limits=(0, 180), sense=elb.bring_up.SensePlan(watch="sensor-only")))
    # Its stops lie elsewhere than the drive range says: that is what is to be found out.
    joint = VirtualJoint(WING, start=79.5, stops=(40.2, 119.9), seed=3)
    bring_up(session, joint, Person(seed=3))

    outcome = session.outcome
    assert outcome is not None
    print(f"\n{outcome.sentence}")
    for name, end, true in (("lower", outcome.lower, joint.contacts[0]), ("upper", outcome.upper, joint.contacts[1])):
        if end is not None and end.u is not None:
            print(f"{name}: {end.kind} at {end.at:.2f} deg (standard uncertainty {end.u:.2f}; true value {true:.2f}), travel to {end.travel:.2f} deg")
    outcome.put_into(robot, "wing_left", date=datetime.date(2026, 11, 25)).save(path)
    print(path.read_text())


if __name__ == "__main__":
    main(Path(sys.argv[1] if len(sys.argv) > 1 else "heron.toml"))
