"""Turn robot files into tests: one for each joint and rule, without hardware.

``pytest --joints heron.toml`` collects the file beside everything else; the ini setting ``joints`` does so always. A test
fails where a rule finds something, and shows what is wrong and what to do. What the file waives counts as *waived*, and a
finding lighter than ``joints_fail_from`` (``warning`` unless set) as *noted*: neither fails. The fixture `robot` gives
the loaded robot to tests of your own.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import pytest

from elbowroom import RULES, ElbowroomError, Finding, Robot

__all__: list[str] = []

SEVERITIES = ("note", "warning", "error")
# What is found of the robot as a whole; all other rules are about one joint.
ROBOT_RULES = ("robot-empty", "waiver-without-joint", "waiver-unused")
_FILES = pytest.StashKey[list[Path]]()


def pytest_addoption(parser: pytest.Parser) -> None:
    group = parser.getgroup("joints", "robot files (elbowroom)")
    group.addoption(
        "--joints",
        action="append",
        default=[],
        metavar="FILE",
        help="a robot file; makes one test for each of its joints and rules (may be given several times)",
    )
    group.addoption(
        "--joints-today",
        metavar="DATE",
        help="the day, as 2026-11-20, on which the age of evidence is judged (default: the clock's)",
    )
    parser.addini("joints", "robot files, as --joints, relative to the ini file", type="paths", default=[])
    parser.addini("joints_fail_from", "the lightest severity that fails: note, warning or error", default="warning")


def pytest_configure(config: pytest.Config) -> None:
    start = config.invocation_params.dir
    named = [Path(start, name) for name in config.getoption("joints")] + list(config.getini("joints"))
    for given, path in zip([*config.getoption("joints"), *config.getini("joints")], named, strict=True):
        # A folder would be collected as one of tests, and no joint of it tested.
        if not str(given).strip() or path.is_dir():
            what = "empty" if not str(given).strip() else f"the folder {str(given)!r}"
            raise pytest.UsageError(f"--joints is {what}; name a robot file, e.g. --joints heron.toml")
    files = list(dict.fromkeys(path.resolve() for path in named))
    config.stash[_FILES] = files
    if config.getini("joints_fail_from") not in SEVERITIES:
        found = config.getini("joints_fail_from")
        raise pytest.UsageError(f"joints_fail_from is {found!r}; write one of {', '.join(SEVERITIES)}")
    _today(config)
    # A worker of xdist is told the arguments of its controller, these among them.
    config.args.extend(str(path) for path in files if str(path) not in config.args)


def _today(config: pytest.Config) -> datetime.date:
    given = config.getoption("joints_today")
    if given is None:
        return datetime.date.today()
    try:
        return datetime.date.fromisoformat(given)
    except ValueError:
        raise pytest.UsageError(f"--joints-today is {given!r}; write a date like 2026-11-20") from None


def pytest_collect_file(file_path: Path, parent: pytest.Collector) -> pytest.Collector | None:
    if file_path.resolve() in parent.config.stash[_FILES]:
        return RobotFile.from_parent(parent, path=file_path)
    return None


class RobotFile(pytest.File):
    """A robot file: its joints, and the robot as a whole."""

    def collect(self) -> Iterator[pytest.Collector]:
        try:
            robot = Robot.load(self.path)
        except ElbowroomError as error:
            raise self.CollectError(str(error)) from None
        report = robot.check(today=_today(self.config))
        # One rule may find several things of one joint: one at each end of its travel.
        found: dict[tuple[str | None, str], list[tuple[Finding, str]]] = {}
        for finding, reason in [*((f, "") for f in report.findings), *((w.finding, w.reason) for w in report.waived)]:
            found.setdefault((finding.joint, finding.rule), []).append((finding, reason))
        joint_rules = [rule.name for rule in RULES if rule.name not in ROBOT_RULES]
        for joint in (None, *robot):
            rules = list(ROBOT_RULES if joint is None else joint_rules)
            # Whatever a rule of tomorrow finds must not be lost.
            rules += [rule for where, rule in found if where == joint and rule not in rules]
            line = None if joint is None else robot.entry(joint).line
            yield JointGroup.from_parent(
                self,
                name="robot" if joint is None else joint,
                line=line,
                found={rule: found.get((joint, rule), []) for rule in rules},
            )


class JointGroup(pytest.Collector):
    """All rules of one joint."""

    def __init__(self, *, line: int | None, found: dict[str, list[tuple[Finding, str]]], **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.line = line
        self.found = found

    def collect(self) -> Iterable[pytest.Item]:
        for rule, found in self.found.items():
            yield RuleTest.from_parent(self, name=rule, found=found, line=self.line)


class Broken(Exception):
    """Findings that count."""


class RuleTest(pytest.Item):
    """One rule, for one joint."""

    def __init__(self, *, found: list[tuple[Finding, str]], line: int | None, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.found = found
        self.line = line

    def runtest(self) -> None:
        lightest = SEVERITIES.index(self.config.getini("joints_fail_from"))
        still_open = [finding for finding, waived in self.found if not waived]
        broken = [finding for finding in still_open if SEVERITIES.index(finding.severity) >= lightest]
        if broken:
            raise Broken(broken)
        waived = dict.fromkeys(reason for _, reason in self.found if reason)
        if waived:
            self.user_properties.append(("elbowroom_waived", "; ".join(waived)))
        elif still_open:
            noted = " | ".join(f"{finding.message}; {finding.hint}" for finding in still_open)
            self.user_properties.append(("elbowroom_noted", noted))

    def repr_failure(self, excinfo: pytest.ExceptionInfo[BaseException], style: Any = None) -> Any:
        if not isinstance(excinfo.value, Broken):
            return super().repr_failure(excinfo, style)
        findings: list[Finding] = excinfo.value.args[0]
        return "\n".join(self._told(finding) for finding in findings)

    def _told(self, finding: Finding) -> str:
        place = self.path.name if finding.line is None else f"{self.path.name}:{finding.line}"
        whose = "the robot" if finding.joint is None else f"joint {finding.joint}"
        return f"{place}: {whose} breaks {finding.rule} ({finding.severity})\n  {finding.message}\n  {finding.hint}"

    def reportinfo(self) -> tuple[Path, int | None, str]:
        joint = self.parent.name if self.parent is not None else ""
        return self.path, None if self.line is None else self.line - 1, f"{joint}: {self.name}"


def pytest_report_teststatus(report: pytest.TestReport) -> tuple[str, str, str] | None:
    if report.when == "call" and report.passed:
        properties = dict(report.user_properties)
        for word in ("waived", "noted"):
            if f"elbowroom_{word}" in properties:
                return word, word[0], f"{word.upper()} ({properties[f'elbowroom_{word}']})"
    return None


def pytest_terminal_summary(terminalreporter: Any) -> None:
    for word in ("waived", "noted"):
        reports = terminalreporter.getreports(word)
        if reports:
            terminalreporter.section(f"robot files: {word}")
            for report in reports:
                why = dict(report.user_properties)[f"elbowroom_{word}"]
                terminalreporter.line(f"{report.nodeid}: {why}")


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    files = metafunc.config.stash[_FILES]
    # A test may have a fixture `robot` of its own; only ours takes files.
    ours = [f for f in metafunc._arg2fixturedefs.get("robot", ()) if f.func is _robot] if files else []
    if "robot" in metafunc.fixturenames and ours and len(files) > 1:
        metafunc.parametrize("robot", files, indirect=True, ids=[path.name for path in files], scope="session")


def _robot(request: pytest.FixtureRequest) -> Robot:
    """The robot of ``--joints`` or of the ini setting ``joints``; with several files the test runs once for each."""
    files = request.config.stash[_FILES]
    path = getattr(request, "param", files[0] if files else None)
    if path is None:
        pytest.fail("no robot file: run pytest with --joints FILE, or set joints in the ini file", pytrace=False)
    return Robot.load(path)


robot = pytest.fixture(scope="session", name="robot")(_robot)
