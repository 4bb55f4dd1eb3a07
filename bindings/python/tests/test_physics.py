"""Bring-ups against a general physics engine, MuJoCo (https://mujoco.org, Apache-2.0), which knows nothing of this package.

The joint, what may break on it and the person are those of `elbowroom.examples.physics`. A few seeds run by default;
``--physics-seeds 200 --physics-faults 20`` runs what the figures of the documentation rest on.
"""

from __future__ import annotations

import importlib
from typing import Any

import pytest

mujoco = pytest.importorskip("mujoco")
physics: Any = importlib.import_module("elbowroom.examples.physics")

# Steps of the plan that a command may lie beyond a contact as it is met when driven outward: StopSearch::MOST_OVERTRAVEL.
OVERTRAVEL = 2.0 * 2.5


@pytest.fixture(scope="module")
def healthy(request: pytest.FixtureRequest) -> dict[int, Any]:
    """Bring-ups of sound joints, by seed."""
    return {seed: physics.bring_up(seed) for seed in range(request.config.getoption("--physics-seeds"))}


def test_sound_joints_are_handed_over_within_their_stops(healthy: dict[int, Any]) -> None:
    ready = {seed: run for seed, run in healthy.items() if run.outcome.verdict == "ready"}
    refused = {seed: run.outcome.sentence for seed, run in healthy.items() if seed not in ready}
    assert len(refused) <= 0.01 * len(healthy), refused
    assert max(run.overtravel for run in healthy.values()) <= OVERTRAVEL
    held = []
    for seed, run in ready.items():
        for end, contact, sign in zip((run.outcome.lower, run.outcome.upper), run.joint.contacts, (-1.0, 1.0), strict=True):
            assert sign * (contact - end.travel) > 0.0, (seed, end, contact)
            held.append(end.interval[0] <= contact <= end.interval[1])
    # Of few intervals of 95 % one in ten may fail by chance; of all of them no more than 7 in 100.
    least = 0.93 if len(held) >= 400 else 0.8
    assert sum(held) >= least * len(held), (sum(held), len(held))
    print(f"{len(ready)} of {len(healthy)} ready, intervals {sum(held)} of {len(held)}")


def test_the_bound_on_overtravel_holds_with_much_play(healthy: dict[int, Any]) -> None:
    for seed in list(healthy)[: max(2, len(healthy) // 8)]:
        run = physics.bring_up(seed, play=2.0 + 2.5 * (seed % 6) / 5.0)
        assert run.overtravel <= OVERTRAVEL, seed
        if run.outcome.travel is not None:
            lower, upper = run.joint.contacts
            assert lower < run.outcome.travel[0] < run.outcome.travel[1] < upper, seed


def test_what_breaks_is_found_and_named(healthy: dict[int, Any], request: pytest.FixtureRequest) -> None:
    seeds = [seed for seed, run in healthy.items() if run.outcome.verdict == "ready"]
    seeds = seeds[: request.config.getoption("--physics-faults")]
    missed, misnamed, total = [], [], 0
    for name, breakage in physics.BREAKAGES.items():
        for seed in seeds:
            run = physics.bring_up(seed, name, healthy[seed])
            total += 1
            if run.outcome.verdict == "ready":
                missed.append((name, seed, run.outcome.travel, run.joint.contacts))
            elif run.outcome.fault != breakage.fault:
                misnamed.append((name, seed, run.outcome.fault))
            assert run.overtravel <= OVERTRAVEL, (name, seed)
    assert len(missed) <= 0.01 * total, missed
    assert len(misnamed) + len(missed) <= max(1.0, 0.05 * total), misnamed
    print(f"{total - len(missed)} of {total} found, {total - len(missed) - len(misnamed)} rightly named; {misnamed}")
