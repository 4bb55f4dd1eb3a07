"""Answers `elbowroom bring-up --through` at a joint that a serial port moves and reads.

    elbowroom bring-up heron.toml --joint wing_left --through 'python3 port.py /dev/ttyUSB0'
    elbowroom bring-up heron.toml --joint wing_left --through 'python3 port.py simulated'
    elbowroom bring-up heron.toml --joint wing_left --sweep --through 'python3 port.py simulated-sensor'

The port takes `P 1505.6` (pulse width, us) and `R` (it answers with one reading). `simulated` is such a port with an invented joint
and its protractor behind it, `simulated-sensor` one with the joint's own sensor. Questions go to the person at the terminal: a program cannot see whether hands are clear. A simulated port answers them.
"""

import json
import sys
import time


class Simulated:
    """A port with an invented joint: 0.85 deg of drive per deg, stops at drive 38 and 121 deg, 1.2 deg of lost motion."""

    def __init__(self, is_sensor: bool) -> None:
        self.at = 79.5
        self.is_sensor = is_sensor

    def turn(self, toward: str, degrees: float) -> None:
        """Turns the sensor by hand, the drive being off."""
        self.at += degrees if toward == "upper" else -degrees

    def write(self, line: str) -> None:
        word, *rest = line.split()
        if word == "P":
            drive = (float(rest[0]) - 500) * 180 / 2000
            # The joint follows its drive with play, and no further than its stops.
            self.at = min(max(self.at, drive - 0.6), drive + 0.6)
            self.at = min(max(self.at, 38.0), 121.0)

    def ask(self, _: str) -> float:
        if self.is_sensor:
            return round(512 + 6 * (self.at - 79.5))
        return round((self.at - 79.5) / 0.85 + 10.0)


class Serial:
    """A real port, opened as a file: set its speed first, e.g. by stty."""

    def __init__(self, path: str) -> None:
        self.file = open(path, "r+b", buffering=0)

    def write(self, line: str) -> None:
        self.file.write(line.encode() + b"\n")

    def ask(self, line: str) -> float:
        self.write(line)
        return float(self.file.readline())


def main() -> None:
    is_simulated = sys.argv[1].startswith("simulated")
    port = Simulated(sys.argv[1] == "simulated-sensor") if is_simulated else Serial(sys.argv[1])
    pulse_at = None
    for line in sys.stdin:
        step = json.loads(line)
        kind = step["kind"]
        if kind == "done":
            break
        answer: dict[str, object] = {"answer": "done"}
        if kind == "move-to":
            # In small steps, so that the drive goes no faster than it may.
            goal, start = step["pulse_us"], pulse_at
            steps = 1 if start is None else max(1, int(abs(step["drive"] - step["from"]) / step["rate_per_s"] * 50))
            for i in range(1, steps + 1):
                port.write(f"P {goal if start is None else start + (goal - start) * i / steps}")
                if not is_simulated:
                    time.sleep(0.02)
            pulse_at = goal
        elif kind == "wait" and not is_simulated:
            time.sleep(step["seconds"])
        elif kind == "read":
            answer = {"reading": port.ask("R")}
        elif kind == "ask" and not is_simulated:
            answer = {"person": True}
        elif kind == "ask":
            question = step["question"]
            if question == "turn-sensor":
                port.turn(**step["action"]["ask"]["question"]["turn-sensor"])
            elif question == "attach-drive":
                port.at = 79.5
            answers = {"stays-behind": "stop", "what-is-met": "stop", "what-moved": "joint", "drive-response": "still"}
            answer = {"answer": answers.get(question, "done")}
        print(json.dumps(answer), flush=True)


main()
