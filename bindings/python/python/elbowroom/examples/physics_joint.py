"""A servo joint in a general physics engine (MuJoCo), driven only by commands and seen only by a sensor. The numbers are invented.

The drive is a motor with a finite torque that falls with its speed, behind a proportional controller; the joint hangs on it with
play, has inertia, friction against its frame and stops that give; commands come in frames of 20 ms, one frame late, rounded to
the timer's counts; a potentiometer is read with 10 bits and noise. None of it is known to the bring-up.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from typing import Any

import mujoco

from elbowroom.bring_up import Action, Answered, Ask, Moved, MoveTo, Read, Reading, Report, Wait, Waited

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
