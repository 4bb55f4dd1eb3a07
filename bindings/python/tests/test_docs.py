"""Every example in a docstring is run, and every public thing has a docstring."""

from __future__ import annotations

import doctest
import inspect
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from conftest import HERE, data

import elbowroom as elb

README = HERE.parent / "README.md"

# Enumerations and records need no sentence for what every object has.
EVERYBODY = set(dir(object)) | set(dir(Exception)) | set(dir(tuple))


def documented() -> list[tuple[str, Any]]:
    things: list[tuple[str, Any]] = [("elbowroom", elb), ("bring_up", elb.bring_up), ("rehearsal", elb.rehearsal), ("examples", elb.examples)]
    public = [(name, getattr(elb, name)) for name in elb.__all__]
    public += [(f"{module}.{name}", getattr(getattr(elb, module), name)) for module in ("bring_up", "rehearsal", "examples") for name in getattr(elb, module).__all__]
    for name, thing in public:
        if not (inspect.isclass(thing) or inspect.isroutine(thing)):
            continue
        things.append((name, thing))
        if inspect.isclass(thing):
            # What it inherits from a class that is not public as well.
            for member in sorted({name for base in thing.__mro__ if base.__module__.startswith("elbowroom") for name in vars(base)}):
                if not member.startswith("_") and member not in EVERYBODY:
                    value = inspect.getattr_static(thing, member)
                    if callable(value) or isinstance(value, (property, classmethod, staticmethod)) or inspect.isgetsetdescriptor(value):
                        things.append((f"{name}.{member}", getattr(thing, member)))
    return things


@pytest.mark.parametrize(("name", "thing"), documented(), ids=[name for name, _ in documented()])
def test_docstring(name: str, thing: Any) -> None:
    text = inspect.getdoc(thing)
    assert text and text.strip(), f"{name} has no docstring"
    runner = doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE)
    test = doctest.DocTestParser().get_doctest(text, {}, name, None, None)
    report: list[str] = []
    runner.run(test, out=report.append)
    assert runner.failures == 0, "".join(report)


def test_the_examples_are_found() -> None:
    """A finder that finds nothing would pass."""
    texts = [inspect.getdoc(thing) or "" for _, thing in documented()]
    assert sum(text.count(">>> ") for text in texts) > 30


def test_arguments_are_described() -> None:
    """Each parameter of a routine stands in its docstring, or it says where."""
    for name, thing in documented():
        if inspect.isclass(thing) or not callable(thing):
            continue
        text = inspect.getdoc(thing) or ""
        if "as for `" in text:
            continue
        for parameter in inspect.signature(thing).parameters:
            if parameter != "self":
                assert parameter in text, (name, parameter)


def test_the_readme_says_what_is_so() -> None:
    """Each line of the first example with a comment gives what the comment says."""
    text = README.read_text()
    block = text.split("```python\n")[1].split("```")[0]
    names: dict[str, Any] = {}
    said = 0
    for line in block.replace(",\n", ", ").splitlines():
        code, _, wanted = line.partition("  # ")
        if wanted:
            assert repr(eval(code, names)) == wanted.strip()
            said += 1
        else:
            exec(code, names)
    assert said == 3


def test_the_quick_start_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The first section of the README: from a CSV to a robot file, as written."""
    section = README.read_text().split("## Quick start")[1].split("\n## ")[0]
    monkeypatch.chdir(tmp_path)
    for number, block in enumerate(section.split("```")[1::2]):
        language, _, code = block.partition("\n")
        if language == "csv":
            Path("readings.csv").write_text(code)
        elif language == "python":
            exec(compile(code, f"README, block {number}", "exec"), {})
    assert elb.Robot.load("heron.toml")["wing_left"].travel[1] == 118.0


def test_the_demo_robot_of_the_package_is_that_of_the_tests() -> None:
    assert elb.examples.path("heron.toml").read_bytes() == data("heron.toml").read_bytes()


def test_the_examples_are_listed() -> None:
    run = subprocess.run([sys.executable, "-m", "elbowroom.examples"], capture_output=True, text=True, check=True)
    for name in elb.examples.names():
        assert Path(name).stem in run.stdout
        assert elb.examples.path(name).is_file()
    with pytest.raises(KeyError, match="heron.toml"):
        elb.examples.path("robin.toml")


def test_the_docstring_names_each_key_of_a_transmission() -> None:
    """Kinds and keys as the guide's reference has them, which is written from the core's tables."""
    apart = HERE.parent / "guide"
    reference = ((apart if apart.is_dir() else HERE.parents[2] / "src" / "guide") / "robot_file.md").read_text()
    text = inspect.getdoc(elb.Joint) or ""
    kinds = 0
    for section in reference.split("\n## `transmission`, kind = ")[1:]:
        kind = section.split('"')[1]
        if kind == "linear":
            continue
        keys = [line.split("`")[1] for line in section.split("\n## ")[0].splitlines() if line.startswith("| **`")]
        _, _, said = text.partition(f'``"{kind}"``')
        said = said.split('``"')[0] if kind != "slider-crank" and kind != "four-bar" else said
        for key in keys:
            assert key == "kind" or f"`{key}`" in said, (kind, key)
        kinds += 1
    assert kinds == 5


# Parts of another record, shown where that one is; and pictures that are drawn like one with an example.
SHOWN_ELSEWHERE = {
    "Candidate", "FleetFit", "OtherBranch", "bring_up.AlignmentEnd", "bring_up.SearchEnd", "bring_up.SweepReading", "bring_up.TypedReading",
    "Choice.plot", "CurveFit.plot", "FeedbackFit.plot", "Joint.plot", "LinkageFit.plot", "Robot.plot",
}  # fmt: skip


def test_records_exceptions_and_pictures_have_an_example() -> None:
    wanted = {name: thing for name, thing in documented() if inspect.isclass(thing) or name.endswith(("plot", "plot_history"))}
    without = {name for name, thing in wanted.items() if ">>> " not in (inspect.getdoc(thing) or "")}
    assert without == SHOWN_ELSEWHERE
