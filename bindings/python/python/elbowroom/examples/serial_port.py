"""Where the serial port goes, without needing one: a stop search over a port with two calls.

A board that understands "M 42.50" and "R" is spoken to by `Board`; anything with `write` and `readline` may be its port,
`serial.Serial` of pyserial for one. Here a stand-in answers. Take the load off, keep a hand on the power switch, and never
search a stop under a person's hand.
"""

import time
from typing import Protocol

from elbowroom.bring_up import BracketPlan, Done, Moved, MoveTo, Pace, Read, Reading, SearchEnd, StopSearch, StopSearchPlan, Wait, Waited


class Port(Protocol):
    def write(self, data: bytes, /) -> object: ...
    def readline(self) -> bytes: ...


class Board:
    """The only part that knows the port."""

    def __init__(self, port: Port) -> None:
        self.port = port

    def move_to(self, drive: float) -> None:
        self.port.write(f"M {drive:.2f}\n".encode())
        self.port.readline()

    def read(self) -> float:
        self.port.write(b"R\n")
        return float(self.port.readline())


class StandIn:
    """Answers as a board would whose joint meets its stop at 80 deg; invented."""

    def __init__(self) -> None:
        self.drive, self.answer = 45.0, b""

    def write(self, data: bytes, /) -> None:
        match data.split():
            case [b"M", drive]:
                self.drive, self.answer = float(drive), b"ok\n"
            case _:
                self.answer = b"%d\n" % round(212 + 8 * min(self.drive, 80.0))

    def readline(self) -> bytes:
        return self.answer


def search(board: Board, plan: StopSearchPlan) -> SearchEnd:
    machine = StopSearch(plan)
    while machine.end is None:
        match machine.next():
            case MoveTo(drive=drive):
                board.move_to(drive)
                machine.report(Moved())
            case Wait(seconds=seconds):
                time.sleep(seconds)
                machine.report(Waited())
            case Read():
                machine.report(Reading(board.read()))
            case Done():
                break
    assert machine.end is not None
    return machine.end


def main() -> None:
    # At a joint: Board(serial.Serial("/dev/ttyUSB0", 115200, timeout=1)), and a settle_s of 0.4.
    bracket = BracketPlan(toward="upper", clear=70, search_limit=90, step=2)
    end = search(Board(StandIn()), StopSearchPlan(bracket=bracket, inner=58, pace=Pace(settle_s=0.0)))
    print(f"{end.kind}: clear to {end.clear} deg, contact at {end.contact} deg")


if __name__ == "__main__":
    main()
