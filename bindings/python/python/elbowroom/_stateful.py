"""What changes with each cycle of a control loop: equal where the states are, copied and pickled at any point."""

from __future__ import annotations

from typing import Any


class Stateful:
    """Holds an object of the core that gives its state and is restored from it."""

    __slots__ = ("_core",)
    __hash__ = None  # type: ignore[assignment]
    _core: Any

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Stateful) or type(other) is not type(self):
            return NotImplemented
        return bool(self._core.state_json() == other._core.state_json())

    def __reduce__(self) -> tuple[Any, ...]:
        return (_restored, (type(self), type(self._core), self._core.state_json()))


def _restored(kind: type[Stateful], core: Any, state: str) -> Stateful:
    made = kind.__new__(kind)
    made._core = core.restored(state)
    return made
