"""A bring-up of a servo joint in a general physics engine (MuJoCo), with a picture. The numbers are invented.

The joint is driven only by commands and seen only by a sensor. Its drive is a motor with a finite torque that falls with its
speed, behind a proportional controller; the joint hangs on it with play, has inertia, friction against its frame and stops that
give; commands come in frames of 20 ms, one frame late; a potentiometer is read with 10 bits and noise. The bring-up is told none
of these numbers.

    pip install 'elbowroom[mujoco]'
    python -m elbowroom.examples.physics joint.png          # a healthy joint
    python -m elbowroom.examples.physics joint.png obstacle-appears
"""

from __future__ import annotations

import random
import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import mujoco

from elbowroom.bring_up import (
    Action,
    Answered,
    Ask,
    Baseline,
    Done,
    Moved,
    MoveTo,
    Outcome,
    Read,
    Reading,
    Report,
    SensePlan,
    Session,
    SessionPlan,
    Wait,
    Waited,
)

STEP_S = 0.001
FRAME_STEPS = 20
DEG = 3.141592653589793 / 180.0
HIGHEST_READING = 1023.0


@dataclass(frozen=True, kw_only=True)
class Numbers:
    """What the joint is made of; angles in deg of drive angle, torques in parts of the stall torque (1 N m)."""

    stops: tuple[float, float]
    start: float
    play: float
    speed: float  # without load, deg/s
    band: float  # the error at which the controller gives its whole torque
    inertia: float  # kg m^2
    friction: float
    give_s: float  # time constant of the stops
    per_deg: float  # readings for each degree
    middle: float  # the reading midway between the stops
    noise: float  # standard deviation of a reading
    senses_load: bool

    @staticmethod
    def drawn(seed: int, **given: Any) -> Numbers:
        """A healthy joint from a seed."""
        chance = random.Random(seed)
        width = chance.uniform(60.0, 110.0)
        lower = chance.uniform(22.0, 158.0 - width)
        most = 0.75 * HIGHEST_READING / width
        numbers = Numbers(
            stops=(lower, lower + width),
            start=lower + width / 2.0 + chance.uniform(-6.0, 6.0),
            play=chance.uniform(0.2, 2.0),
            speed=300.0 * chance.uniform(0.95, 1.15),
            band=chance.uniform(4.0, 10.0),
            inertia=chance.uniform(0.001, 0.004),
            friction=chance.uniform(0.01, 0.05),
            give_s=chance.uniform(0.004, 0.012),
            per_deg=chance.choice((-1.0, 1.0)) * min(chance.uniform(3.5, 7.0), most),
            middle=HIGHEST_READING / 2.0 + chance.uniform(-40.0, 40.0),
            noise=chance.uniform(0.2, 0.8),
            senses_load=chance.random() < 0.5,
        )
        return replace(numbers, **given)


MODEL = """
<mujoco>
  <compiler angle="radian"/>
  <option timestep="{step}" gravity="0 0 0" integrator="implicitfast"/>
  <worldbody>
    <body>
      <joint name="drive" type="hinge" axis="0 0 1" damping="{damping}" armature="{armature}"/>
      <geom type="sphere" size="0.01" mass="0.001"/>
      <body>
        <joint name="play" type="hinge" axis="0 0 1" limited="true" range="{slack_low} {slack_high}" solreflimit="0.004 1" armature="0.0001"/>
        <geom type="capsule" fromto="0 0 0 0.1 0 0" size="0.01" mass="{mass}"/>
      </body>
    </body>
  </worldbody>
  <tendon>
    <fixed name="joint" limited="true" range="{lower} {upper}" solreflimit="{give} 1" frictionloss="{friction}">
      <joint joint="drive" coef="1"/>
      <joint joint="play" coef="1"/>
    </fixed>
  </tendon>
  <actuator>
    <general name="servo" joint="drive" gainprm="{gain}" biastype="affine" biasprm="0 -{gain} 0" forcelimited="true" forcerange="-1 1"/>
  </actuator>
</mujoco>
"""


class PhysicsJoint:
    """The joint with its sensor, its person, and what may happen to it."""

    def __init__(self, numbers: Numbers, seed: int) -> None:
        self.numbers = numbers
        self.chance = random.Random(seed ^ 0x5EED)
        lower, upper = numbers.stops
        half = max(numbers.play, 1e-4) / 2.0
        # The capsule's inertia about its end: mass * length^2 / 3, about.
        self.model = mujoco.MjModel.from_xml_string(
            MODEL.format(
                step=STEP_S,
                damping=1.0 / (numbers.speed * DEG),
                armature=0.4 * numbers.inertia,
                slack_low=-half * DEG,
                slack_high=half * DEG,
                mass=0.6 * numbers.inertia * 3.0 / 0.01,
                lower=lower * DEG,
                upper=upper * DEG,
                give=numbers.give_s,
                friction=numbers.friction,
                gain=1.0 / (numbers.band * DEG),
            )
        )
        self.data = mujoco.MjData(self.model)
        self.data.qpos[0] = numbers.start * DEG
        self.command = numbers.start
        self.sent = numbers.start
        self.data.ctrl[0] = numbers.start * DEG
        self.elapsed = 0  # steps
        self.commanded = (numbers.start, numbers.start)
        self.detached = False
        self.hand = 0.0
        # What may be wrong.
        self.obstacle: tuple[str, float] | None = None
        self.stripped = False
        self.dead = False
        self.neighbour = False
        self.shift = 0.0
        self.swapped = False
        self.open_at: float | None = None
        self.noisy: tuple[float, float] | None = None
        # Time in s, command and place of the joint in deg of drive angle.
        self.trace: list[tuple[float, float, float]] = []
        self.keeps_trace = False

    # What the engine knows and nobody else.
    @property
    def place(self) -> float:
        return float(self.data.qpos[0] + self.data.qpos[1]) / DEG

    @property
    def contacts(self) -> tuple[float, float]:
        """Where something holds the joint now, play aside."""
        lower, upper = self.model.tendon_range[0] / DEG
        return float(lower), float(upper)

    @property
    def contacts_driven(self) -> tuple[float, float]:
        """The drive angles at which the joint is met by its stops when it is driven outward: half the play lies between."""
        lower, upper = self.contacts
        return lower - self.numbers.play / 2.0, upper + self.numbers.play / 2.0

    # What may happen.
    def move_stop(self, toward: str, by: float) -> None:
        self.model.tendon_range[0][0 if toward == "lower" else 1] += by * DEG

    def put_in_the_way(self, toward: str, at: float) -> None:
        lower, upper = self.contacts
        if (toward == "upper" and at < upper) or (toward == "lower" and at > lower):
            self.model.tendon_range[0][0 if toward == "lower" else 1] = at * DEG
            self.obstacle = (toward, at)

    def lose_drive(self) -> None:
        self.dead = True
        self.model.actuator_forcerange[0] = (0.0, 0.0)

    def strip(self) -> None:
        """The drive turns, the joint does not."""
        self.stripped = True
        self.model.jnt_range[1] = (-1e3, 1e3)

    def sag(self, part: float) -> None:
        """Less voltage: less torque, less speed."""
        self.model.actuator_forcerange[0] = (-part, part)
        self.model.dof_damping[0] = 1.0 / (self.numbers.speed * DEG)

    # Time.
    def pass_steps(self, steps: int) -> None:
        while steps > 0:
            until = FRAME_STEPS - self.elapsed % FRAME_STEPS
            now = min(steps, until)
            mujoco.mj_step(self.model, self.data, now)
            self.elapsed += now
            steps -= now
            if now == until:
                # The frame that was on its way takes effect, the next one is sent.
                if not (self.neighbour or self.detached):
                    self.data.ctrl[0] = self.sent * DEG
                self.sent = self.command
            if self.keeps_trace:
                self.trace.append((self.elapsed * STEP_S, self.command, self.place))

    def move_to(self, drive: float, rate_per_s: float) -> None:
        self.commanded = (min(self.commanded[0], drive), max(self.commanded[1], drive))
        a_frame = rate_per_s * FRAME_STEPS * STEP_S
        while self.command != drive:
            way = drive - self.command
            self.command = drive if abs(way) <= a_frame else self.command + (a_frame if way > 0 else -a_frame)
            self.pass_steps(FRAME_STEPS)

    def wait(self, seconds: float) -> None:
        self.pass_steps(round(seconds / STEP_S))

    def read(self) -> float:
        self.pass_steps(1)
        place = self.place
        numbers = self.numbers
        seen = numbers.start + self.hand if self.detached else place
        value = numbers.middle + numbers.per_deg * (seen + self.shift - sum(numbers.stops) / 2.0)
        if self.swapped:
            value = HIGHEST_READING - value
        if self.open_at is not None:
            value = self.open_at + self.chance.gauss(0.0, 3.0)
        if self.noisy is not None and self.noisy[0] <= seen <= self.noisy[1] and self.chance.random() < 0.7:
            value += self.chance.choice((-1, 1)) * self.chance.uniform(0.08, 0.4) * HIGHEST_READING
        value += self.chance.gauss(0.0, numbers.noise)
        return float(round(min(max(value, 0.0), HIGHEST_READING)))

    def load(self) -> float | None:
        if not self.numbers.senses_load:
            return None
        return abs(float(self.data.actuator_force[0])) * self.chance.uniform(0.9, 1.1)

    # The person.
    def answer(self, ask: Ask) -> Answered:
        match ask.question:
            case "detach-drive":
                self.detached, self.hand = True, 0.0
            case "attach-drive":
                self.detached = False
            case "turn-sensor":
                assert ask.degrees is not None
                if ask.doubt is None:
                    self.held = self.hand
                self.hand = self.held + (ask.degrees if ask.toward == "upper" else -ask.degrees)
            case "drive-response":
                return Answered("still")
            case "what-moved":
                return Answered("neighbour" if self.neighbour else "nothing" if self.dead else "drive-only" if self.stripped else "joint")
            case "what-is-met":
                assert ask.drive is not None
                return Answered(self.met(ask.toward, ask.drive))
        return Answered("done")

    def met(self, toward: str | None, drive: float) -> str:
        if self.dead or self.neighbour:
            return "nothing"
        if self.stripped:
            return "drive-only"
        lower, upper = self.contacts
        at = upper if toward == "upper" else lower
        # A person sees whether the joint touches something.
        if abs(self.place - at) > 1.5 and abs(drive - at) > 4.0:
            return "nothing"
        return "obstacle" if self.obstacle is not None and self.obstacle[0] == toward else "stop"

    def carry_out(self, action: Action) -> Report | None:
        match action:
            case MoveTo(drive=drive, rate_per_s=rate_per_s):
                self.move_to(drive, rate_per_s)
                return Moved()
            case Wait(seconds=seconds):
                self.wait(seconds)
                return Waited()
            case Read():
                return Reading(self.read(), load=self.load())
            case Ask():
                return self.answer(action)
        return None


Event = Callable[[PhysicsJoint, random.Random], None]


def _slipped(joint: PhysicsJoint, chance: random.Random) -> None:
    joint.shift += chance.choice((-1.0, 1.0)) * chance.uniform(6.0, 15.0)


def _stop_moves(joint: PhysicsJoint, chance: random.Random) -> None:
    toward = chance.choice(("lower", "upper"))
    joint.move_stop(toward, chance.uniform(3.0, 8.0) * (1.0 if toward == "lower" else -1.0))


def _obstacle(joint: PhysicsJoint, chance: random.Random) -> None:
    lower, upper = joint.contacts
    # On the side where there is room for it: it is put into the way, not through the joint.
    toward = "upper" if upper - joint.place > joint.place - lower else "lower"
    room = upper - joint.place if toward == "upper" else joint.place - lower
    by = chance.uniform(4.0, min(room - 3.0, 40.0))
    joint.put_in_the_way(toward, upper - by if toward == "upper" else lower + by)


def _wiper_noisy(joint: PhysicsJoint, chance: random.Random) -> None:
    lower, upper = joint.contacts
    at = chance.uniform(lower + 5.0, upper - 15.0)
    joint.noisy = (at, at + 10.0)


@dataclass(frozen=True)
class Breakage:
    """What goes wrong, by which fault it is told, and between which stages of a sound bring-up it happens, if not before it."""

    happens: Event
    fault: str
    between: tuple[str, str] | None = None
    known: bool = False


BREAKAGES = {
    "wires-swapped": Breakage(lambda joint, _: setattr(joint, "swapped", True), "wires-swapped"),
    "wiper-open": Breakage(lambda joint, chance: setattr(joint, "open_at", chance.uniform(200.0, 800.0)), "wiper-open"),
    "wiper-noisy": Breakage(_wiper_noisy, "wiper-noisy"),
    "horn-slipped": Breakage(lambda joint, _: None, "horn-slipped", known=True),
    "gear-stripped": Breakage(lambda joint, _: joint.strip(), "gear-stripped"),
    "supply-sag": Breakage(lambda joint, chance: joint.sag(chance.uniform(0.3, 0.5)), "supply-sag"),
    "channel-swapped": Breakage(lambda joint, _: setattr(joint, "neighbour", True), "channel-swapped"),
    "stop-moves": Breakage(_stop_moves, "stop-moved", ("sweep", "walk")),
    "obstacle-appears": Breakage(_obstacle, "range-blocked", ("sweep", "walk")),
    "drive-lost": Breakage(lambda joint, _: joint.lose_drive(), "drive-silent", ("search", "walk")),
    "sensor-slips": Breakage(_slipped, "sensor-shifted", ("search", "walk")),
}
"""What may go wrong, the last four in the middle of a run."""


@dataclass
class Run:
    """What came of a bring-up."""

    joint: PhysicsJoint
    outcome: Outcome
    readings: tuple[tuple[float, float], ...]
    # Number of the first action of each stage, and of all.
    stages: dict[str, int]
    actions: int
    reads: int
    # The most that a command lay beyond a contact as it is met when driven outward, deg; while nothing had changed yet.
    overtravel: float
    # The same after it had.
    overtravel_changed: float


def bring_up(seed: int, breakage: str | None = None, sound: Run | None = None, *, keeps_trace: bool = False, **given: Any) -> Run:
    """Brings up the joint of a seed; what breaks in the middle does so at a random action of the sound run."""
    numbers = Numbers.drawn(seed, **given)
    joint = PhysicsJoint(numbers, seed)
    joint.keeps_trace = keeps_trace
    chance = random.Random(f"{seed} {breakage}")
    broken = None if breakage is None else BREAKAGES[breakage]
    baseline = None
    if broken is not None and broken.known:
        # By one tooth of 25.
        tooth = chance.choice((-1.0, 1.0)) * 14.4
        lower, upper = numbers.stops
        middle = (lower + upper) / 2.0
        baseline = Baseline(
            lower=lower + tooth, upper=upper + tooth, at=middle + tooth, reading=numbers.middle, per_deg=numbers.per_deg
        )
    at_action = 0
    if broken is not None and broken.between is not None:
        assert sound is not None
        first, last = (sound.stages[stage] for stage in broken.between)
        at_action = chance.randrange(first, last)
    session = Session(
        SessionPlan(
            start=numbers.start,
            search_limits=(0.0, 180.0),
            sense=SensePlan(watch="sensor-only"),
            rising=numbers.per_deg > 0.0,
            baseline=baseline,
        )
    )
    stages: dict[str, int] = {}
    actions = reads = 0
    happened = broken is None
    beyond = [0.0, 0.0]
    while True:
        stages.setdefault(session.stage, actions)
        if broken is not None and not happened and actions >= at_action:
            broken.happens(joint, chance)
            happened = True
        action = session.next()
        if isinstance(action, Done):
            break
        if isinstance(action, MoveTo):
            lower, upper = joint.contacts_driven
            index = 1 if happened and at_action else 0
            beyond[index] = max(beyond[index], lower - action.drive, action.drive - upper)
        reads += isinstance(action, Read)
        report = joint.carry_out(action)
        assert report is not None
        session.report(report)
        actions += 1
    outcome = session.outcome
    assert outcome is not None
    readings = tuple((one.place.drive, one.reading) for one in session.readings)
    return Run(joint, outcome, readings, stages, actions, reads, *beyond)


def picture(run: Run, path: str) -> None:
    """Draws the commands, the joint's place and its stops over time, and the readings of the sweeps with their fit."""
    import matplotlib.pyplot as plt

    figure, (above, below) = plt.subplots(2, 1, figsize=(9.0, 8.0), layout="constrained")
    times, commands, places = zip(*run.joint.trace, strict=True)
    above.plot(times, commands, linewidth=0.8, label="command")
    above.plot(times, places, linewidth=0.8, label="joint")
    for index, stop in enumerate(run.joint.contacts):
        above.axhline(stop, color="black", linestyle="--", linewidth=0.8, label=None if index else "what holds the joint")
    for index, end in enumerate(run.outcome.travel or ()):
        above.axhline(end, color="green", linewidth=0.8, label=None if index else "travel")
    above.set(xlabel="time / s", ylabel="drive angle / deg", title=run.outcome.sentence)
    above.legend(loc="upper left", fontsize="small")
    if run.outcome.fit is not None:
        run.outcome.fit.plot(ax=below)
    elif run.readings:
        below.plot(*zip(*run.readings, strict=True), ".")
        below.set(xlabel="drive angle / deg", ylabel="reading")
    figure.savefig(path, dpi=120)
    plt.close(figure)


def main(path: str, breakage: str | None = None, seed: int = 1) -> None:
    sound = bring_up(seed, keeps_trace=breakage is None)
    run = sound if breakage is None else bring_up(seed, breakage, sound, keeps_trace=True)
    print(run.outcome.sentence)
    lower, upper = run.joint.contacts
    print(f"something holds the joint at {lower:.2f} and {upper:.2f} deg")
    if run.outcome.travel is not None:
        print("travel: {:.2f} to {:.2f} deg".format(*run.outcome.travel))
    print(f"{run.reads} readings; the command went {max(run.overtravel, 0.0):.2f} deg beyond a stop at the most")
    picture(run, path)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2] if len(sys.argv) > 2 else None)
