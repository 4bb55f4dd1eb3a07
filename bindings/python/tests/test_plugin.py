"""The pytest plugin, run as its users run it: on a robot file, beside tests of one's own, with xdist, with faults."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest
from conftest import HERE, data

import elbowroom as elb

pytest_plugins = ["pytester"]

TODAY = "--joints-today=2026-11-25"
TEXT = """\
format = 1
name = "heron"
servo = { angle = [0, 180], pulse_us = [500, 2500] }
timer = { frame_hz = 50, counts_per_frame = 4096 }

[joint.neck]
board = "head"
channel = 3
command = [-30, 30]
drive = [40, 140]
rest = 0
max_rate_per_s = 20

[joint.neck.evidence]
date = 2026-11-20
sense = "opposing"
lower = { kind = "contact", at = 37, u = 0.2, guard = 2.0 }
upper = { kind = "contact", at = 143, u = 0.2, guard = 2.0 }
lost_motion = { value = 1.0, u = 0.1 }
readings = 42
"""
WAIVER = '\n[check]\nwaive = [{ rule = "rate-missing", joint = "neck", reason = "a slow servo" }]\n'


def outcomes(result: pytest.RunResult) -> dict[str, int]:
    counted = dict(result.parseoutcomes())
    return {word: n for word, n in counted.items() if word not in ("warnings", "warning")}


@pytest.fixture
def folder(pytester: pytest.Pytester) -> Path:
    path = pytester.path / "neck.toml"
    path.write_text(TEXT)
    return pytester.path


def test_a_sound_robot_passes(pytester: pytest.Pytester, folder: Path) -> None:
    result = pytester.runpytest("--joints", "neck.toml", TODAY, "-v")
    assert result.ret == 0
    assert outcomes(result) == {"passed": len(elb.RULES)}
    result.stdout.fnmatch_lines(["*neck.toml::robot::robot-empty PASSED*", "*neck.toml::neck::guard-too-thin PASSED*"])


def test_a_finding_fails_with_message_and_hint(pytester: pytest.Pytester, folder: Path) -> None:
    (folder / "neck.toml").write_text(TEXT.replace("rest = 0", "rest = 0\ntravel = [38, 140]"))
    result = pytester.runpytest("--joints", "neck.toml", TODAY)
    assert result.ret == 1
    assert outcomes(result)["failed"] >= 1
    text = result.stdout.str()
    assert re.search(r"neck.toml:6: joint neck breaks guard-too-thin \(warning\)\n  .*38.*\n  \S", text)
    assert "Traceback" not in text


def test_all_findings_of_a_rule_are_shown(pytester: pytest.Pytester, folder: Path) -> None:
    without = "\n".join(line for line in TEXT.splitlines() if not line.startswith(("lower", "upper", "lost_motion")))
    (folder / "neck.toml").write_text(without)
    result = pytester.runpytest("--joints", "neck.toml", TODAY)
    # The summary at the end says the same once more.
    text = result.stdout.str().partition("short test summary")[0]
    assert result.ret == 1 and text.count("joint neck breaks limit-unproven") == 2
    assert "travel lower 40 deg" in text and "travel upper 140 deg" in text


def test_a_waiver_shows_as_such(pytester: pytest.Pytester, folder: Path) -> None:
    (folder / "neck.toml").write_text(TEXT.replace("max_rate_per_s = 20\n", "") + WAIVER)
    result = pytester.runpytest("--joints", "neck.toml", TODAY, "-v")
    assert result.ret == 0
    assert outcomes(result) == {"passed": len(elb.RULES) - 1, "waived": 1}
    result.stdout.fnmatch_lines(["*neck::rate-missing WAIVED (a slow servo)*", "*robot files: waived*"])


def test_notes_do_not_fail_unless_asked(pytester: pytest.Pytester, folder: Path) -> None:
    (folder / "neck.toml").write_text(TEXT.replace("date = 2026-11-20\n", ""))
    result = pytester.runpytest("--joints", "neck.toml")
    assert result.ret == 0 and outcomes(result) == {"passed": len(elb.RULES) - 1, "noted": 1}
    result.stdout.fnmatch_lines(["*evidence-undated*"])
    pytester.makeini("[pytest]\njoints = neck.toml\njoints_fail_from = note")
    result = pytester.runpytest()
    assert result.ret == 1 and outcomes(result)["failed"] == 1
    pytester.makeini("[pytest]\njoints = neck.toml\njoints_fail_from = grave")
    result = pytester.runpytest()
    assert result.ret == 4 and "note, warning, error" in result.stderr.str()


def test_the_ini_setting_and_tests_of_ones_own(pytester: pytest.Pytester, folder: Path) -> None:
    pytester.makeini("[pytest]\njoints = neck.toml")
    pytester.makepyfile(test_own="def test_own(robot):\n    assert list(robot) == ['neck']\n")
    assert outcomes(pytester.runpytest(TODAY)) == {"passed": len(elb.RULES) + 1}
    # The same file named twice is tested once.
    assert outcomes(pytester.runpytest(TODAY, "--joints", str(folder / "neck.toml"))) == {"passed": len(elb.RULES) + 1}
    assert outcomes(pytester.runpytest("test_own.py", TODAY)) == {"passed": len(elb.RULES) + 1}


def test_with_xdist(pytester: pytest.Pytester, folder: Path) -> None:
    (folder / "neck.toml").write_text(TEXT.replace("max_rate_per_s = 20\n", "") + WAIVER)
    pytester.makepyfile(test_own="def test_own(robot):\n    assert list(robot) == ['neck']\n")
    result = pytester.runpytest("--joints", "neck.toml", TODAY, "-n", "2")
    assert result.ret == 0
    assert outcomes(result) == {"passed": len(elb.RULES), "waived": 1}
    result.stdout.fnmatch_lines(["*neck::rate-missing: a slow servo*"])


def test_several_files(pytester: pytest.Pytester, folder: Path) -> None:
    (folder / "crest.toml").write_text(TEXT.replace("neck", "crest"))
    pytester.makepyfile(test_own="def test_own(robot):\n    assert len(robot) == 1\n")
    result = pytester.runpytest("--joints", "neck.toml", "--joints", "crest.toml", TODAY, "-v")
    assert outcomes(result) == {"passed": 2 * len(elb.RULES) + 2}
    result.stdout.fnmatch_lines(["*test_own[[]neck.toml[]] PASSED*", "*test_own[[]crest.toml[]] PASSED*"])


def test_without_a_file(pytester: pytest.Pytester) -> None:
    pytester.makepyfile("def test_nothing():\n    pass\ndef test_own(robot):\n    pass\n")
    result = pytester.runpytest()
    assert outcomes(result) in ({"passed": 1, "errors": 1}, {"passed": 1, "failed": 1})
    result.stdout.fnmatch_lines(["*no robot file: run pytest with --joints FILE*"])


def test_a_robot_of_ones_own_is_left_alone(pytester: pytest.Pytester, folder: Path) -> None:
    pytester.makepyfile("import pytest\n@pytest.fixture\ndef robot():\n    return 3\ndef test_own(robot):\n    assert robot == 3\n")
    assert outcomes(pytester.runpytest("--joints", "neck.toml", TODAY)) == {"passed": len(elb.RULES) + 1}


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("rest = 0", "rst = 0", "neck.toml:11:1: joint neck: unknown key \"rst\""),
        ("rest = 0", "rest = 31", "rest 31 is outside command -30 to 30"),
        ("[joint.neck]", "[joint.neck", "not TOML"),
    ],
)
def test_a_file_that_is_not_valid(pytester: pytest.Pytester, folder: Path, old: str, new: str, says: str) -> None:
    (folder / "neck.toml").write_text(TEXT.replace(old, new, 1))
    result = pytester.runpytest("--joints", "neck.toml")
    assert result.ret == 2 and says in result.stdout.str() and "Traceback" not in result.stdout.str()


def test_wrong_use(pytester: pytest.Pytester, folder: Path) -> None:
    assert pytester.runpytest("--joints", "none.toml").ret == 4
    (folder / "robots").mkdir()
    for given, says in (("robots", "--joints is the folder 'robots'; name a robot file"), ("", "--joints is empty; name a robot file")):
        result = pytester.runpytest("--joints", given)
        assert result.ret == 4 and says in result.stderr.str()
    result = pytester.runpytest("--joints", "neck.toml", "--joints-today", "today")
    assert result.ret == 4 and "2026-11-20" in result.stderr.str()


# Heron, and ten faults put into it: what is replaced (once), and the test that must fail.
FAULTS = [
    ("travel = [40.2, 119]", "travel = [38.5, 119]", "wing_left::guard-too-thin"),
    ("travel = [40.2, 119]", "travel = [37, 119]", "wing_left::travel-beyond-contact"),
    ("travel = [40.2, 119]", "travel = [40.2, 120.5]", "wing_left::travel-beyond-clear"),
    ("travel = [40.2, 119]", "travel = [85, 119]", "wing_left::rest-outside-travel"),
    ("channel = 3", "channel = 4", "wing_right::channel-clash"),
    ('sense = "opposing"', 'sense = "aiding"', "wing_left::sense-aiding"),
    ("date = 2026-11-20", "date = 2019-11-20", "wing_left::evidence-stale"),
    ("max_rate_per_s = 60", "max_rate_per_s = 9000", "wing_left::rate-beyond-servo"),
    ('mirror_of = "wing_right"', 'mirror_of = "wing_rihgt"', "wing_left::joint-unknown-mirror"),
    ("lost_motion = { value = 1.8, u = 0.15 }", "lost_motion = { value = 8.0, u = 0.15 }", "wing_left::lost-motion-large"),
]


def test_heron_passes(pytester: pytest.Pytester) -> None:
    result = pytester.runpytest("--joints", str(data("heron.toml")), TODAY)
    assert result.ret == 0
    found = outcomes(result)
    assert found["passed"] > 100 and found.get("waived", 0) >= 1 and set(found) <= {"passed", "waived", "noted"}


@pytest.mark.parametrize(("old", "new", "test"), FAULTS, ids=[test for _, _, test in FAULTS])
def test_a_broken_heron_fails(pytester: pytest.Pytester, old: str, new: str, test: str) -> None:
    text = data("heron.toml").read_text()
    assert old in text
    path = pytester.path / "heron.toml"
    path.write_text(text.replace(old, new, 1))
    result = pytester.runpytest("--joints", "heron.toml", TODAY, "-rf")
    assert result.ret == 1
    result.stdout.fnmatch_lines([f"FAILED heron.toml::{test} - *"])


def test_the_output_in_the_readme_is_as_it_is_now(pytester: pytest.Pytester, monkeypatch: pytest.MonkeyPatch) -> None:
    """What the README shows is what a run prints from `collected` on, its seconds excepted. WRITE_README=1 puts in the new."""
    monkeypatch.setenv("COLUMNS", "80")
    # Where these are set, pytest does not cut its summary to the columns.
    for name in ("CI", "BUILD_NUMBER"):
        monkeypatch.delenv(name, raising=False)
    old, new, _ = next(fault for fault in FAULTS if fault[2] == "wing_right::channel-clash")
    (pytester.path / "heron.toml").write_text(data("heron.toml").read_text().replace(old, new, 1))
    printed = pytester.runpytest("--joints", "heron.toml", TODAY, "-rf").stdout.str()
    printed = "\n".join(line.rstrip() for line in printed[printed.index("collected ") :].strip().splitlines())
    readme = HERE.parent / "README.md"
    before, after = readme.read_text().split("$ pytest --joints heron.toml -rf\n")
    shown, after = after.split("\n```", 1)
    if os.environ.get("WRITE_README"):
        readme.write_text(f"{before}$ pytest --joints heron.toml -rf\n{printed}\n```{after}")
        return

    def timeless(text: str) -> list[str]:
        return [re.sub("^=+ (.*) =+$", r"\1", line) for line in re.sub(r" in [0-9.]+s\b.* ", " ", text).splitlines()]

    assert timeless(printed) == timeless(shown)
