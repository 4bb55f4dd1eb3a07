"""Holds what the shell tool prints with --json to the schema that `elbowroom schema` prints."""

import copy
import json
import subprocess
import sys
import tempfile
from pathlib import Path

import jsonschema

tool, heron = sys.argv[1], Path(sys.argv[2]).resolve()


def printed(folder: str, status: int, *args: str) -> dict:
    run = subprocess.run([tool, *args, "--json"], cwd=folder, capture_output=True, text=True, check=False)
    assert run.returncode == status, (args, run.returncode, run.stderr)
    return json.loads(run.stdout, parse_constant=lambda word: sys.exit(f"{args}: {word} is no JSON number"))


with tempfile.TemporaryDirectory() as folder:
    schema = printed(folder, 0, "schema")
    jsonschema.Draft202012Validator.check_schema(schema)
    valid = jsonschema.Draft202012Validator(schema)
    here = Path(folder)
    rows = [f"{x},{min(max(x, 40), 120) + x % 3 * 0.1},{'below' if x % 2 else 'above'}" for x in range(20, 140, 3)]
    (here / "a.csv").write_text("drive,measured,approach\n" + "\n".join(rows) + "\n")
    (here / "b.csv").write_text("drive,measured\n" + "\n".join(row.rsplit(",", 1)[0] for row in rows) + "\n")
    tooth = [f"{x},{min(max(x + 15, 40), 120) + x % 3 * 0.1}" for x in range(20, 140, 3)]
    (here / "tooth.csv").write_text("drive,measured\n" + "\n".join(tooth) + "\n")
    bent = [f"{x},{0.004 * x * x + x % 3 * 0.02}" for x in range(20, 140, 3)]
    (here / "bent.csv").write_text("drive,measured\n" + "\n".join(bent) + "\n")
    # What a drum of 8 that gains 1.5 with each turn takes up, over a pulley of 20; invented, as all here.
    turns = [(x, 8 * x + 1.5 / 720 * x * x) for x in range(10, 150, 4)]
    spool = [f"{x},{(taken + x % 3 * 0.5) / 20}" for x, taken in turns]
    (here / "spool.csv").write_text("drive,measured\n" + "\n".join(spool) + "\n")
    stalled = ["50,-31", "60,-30", "70,-20", "80,-10", "90,0", "100,9", "110,20", "120,30", "130,32"]
    (here / "stalled.csv").write_text("drive,measured\n" + "\n".join(stalled) + "\n")
    slip = [f"{x},{42 if x == 110 else 6 * (x - 90) // 5}" for x in range(50, 135, 5)]
    (here / "slip.csv").write_text("drive,measured\n" + "\n".join(slip) + "\n")
    jump = [f"{x},{x - 90 + (15 if x > 92 else 0) + x % 3 * 0.1}" for x in range(50, 135, 5)]
    (here / "jump.csv").write_text("drive,measured\n" + "\n".join(jump) + "\n")
    many = {"a": (30, 0), "b": (30, 15), "few": (2, 0)}
    for file, moved in (("beetle.csv", 0), ("later.csv", 1)):
        rows = [f"{name},{20 + 3 * i},{20 + 3 * i + moved * by}" for name, (n, by) in many.items() for i in range(n)]
        (here / file).write_text("joint,drive,measured\n" + "\n".join(rows) + "\n")
    (here / "heron.toml").write_text(heron.read_text())
    bad = heron.read_text().replace('sense = "opposing"', 'sense = "aiding"')
    (here / "bad.toml").write_text(bad)
    neck = '<joint name="wing_left" type="revolute"><limit effort="1" velocity="1"/></joint>'
    (here / "heron.urdf").write_text(f"<robot>{neck}</robot>")
    calls = {
        "fit": (0, "fit", "a.csv"),
        "fit with ends that stalled": (0, "fit", "stalled.csv", "--into", "stalled.toml", "--joint", "j", "--new"),
        "show ends that stalled": (0, "show", "stalled.toml"),
        "fit with a slip of the pen": (0, "fit", "slip.csv"),
        "fit with a jump": (0, "fit", "jump.csv", "--resolution", "0.01"),
        "fit into a file": (0, "fit", "b.csv", "--into", "new.toml", "--joint", "j", "--new"),
        "plain line": (0, "fit", "b.csv", "--reference-rows", "drive=20", "--reference-rows", "drive=20"),
        "check": (0, "check", "heron.toml", "--as-of", "2026-11-25"),
        "check with findings": (1, "check", "bad.toml", "--as-of", "2026-11-25"),
        "rules": (0, "check", "--rules"),
        "show": (0, "show", "heron.toml"),
        "show one": (0, "show", "heron.toml", "beak"),
        "convert": (0, "convert", "heron.toml", "beak", "0", "99"),
        "convert back": (0, "convert", "heron.toml", "beak", "--from", "counts", "199"),
        "convert reading": (0, "convert", "heron.toml", "wing_left", "--from", "reading", "541.5", "1"),
        "compare": (0, "compare", "b.csv", "b.csv"),
        "compare tables that differ": (1, "compare", "b.csv", "tooth.csv"),
        "compare tables, one without sides": (0, "compare", "a.csv", "b.csv"),
        "compare a bent table": (1, "compare", "b.csv", "bent.csv"),
        "compare many joints": (1, "compare", "beetle.csv", "later.csv", "--each", "joint"),
        "compare robots": (0, "compare", "heron.toml", "heron.toml"),
        "compare robots that differ": (1, "compare", "heron.toml", "bad.toml"),
        "report": (0, "report", "heron.toml", "-o", "heron.html", "--as-of", "2026-11-25"),
        "fit with a curve": (0, "fit", "bent.csv", "--into", "bent.toml", "--joint", "j", "--new"),
        "fit against the readings": (0, "fit", "bent.csv", "--into", "bent.toml", "--joint", "j", "--transmission", "linear", "--adopt"),
        "fit that is refused": (1, "fit", "bent.csv", "--into", "bent.toml", "--joint", "j"),
        "fit with a linkage": (0, "fit", "spool.csv", "--linkage", "spool:drum=8,per_turn~1,pulley=20"),
        "fit with a sensor": (0, "fit", "b.csv", "--feedback", "drive"),
        "rehearse": (0, "rehearse"),
        "rehearse a joint": (0, "rehearse", "heron.toml", "--joint", "wing_left"),
        "rehearse a fault": (1, "rehearse", "--fault", "channel-swapped", "--seed", "3"),
        "rehearse with the alignment": (0, "rehearse", "--sweep", "--alignment"),
        "rehearse a sensor too short": (1, "rehearse", "--sweep", "--alignment", "--margin", "200"),
        "rehearse a sensor that is set": (0, "rehearse", "--sweep", "--alignment", "--fault", "sensor-runs-out", "--seed", "5"),
        "limits": (1, "limits", "heron.toml", "--into", "heron.urdf"),
        "firmware": (0, "firmware", "heron.toml", "--board", "breast"),
        "rehearse a sweep": (0, "rehearse", "--sweep", "--seed", "3"),
        "rehearse a sweep of a joint": (0, "rehearse", "--sweep", "heron.toml", "--joint", "wing_left"),
        "bring-up that is not finished": (1, "bring-up", "heron.toml", "--joint", "wing_left", "--through", "true"),
        "edit": (0, "edit", "heron.toml", "set", "check.guard=1.9", "--dry-run"),
        "edit that makes an error": (1, "edit", "heron.toml", "set", "wing_left.rest=9", "--dry-run"),
        "help": (0, "help", "file"),
        "misuse": (2, "check", "--nonsense"),
        "completions": (0, "completions", "bash"),
        "demo": (0, "demo", "demo"),
        "error in a file": (2, "check", "a.csv"),
        "error in a table": (2, "fit", "heron.toml"),
        "error in a value": (2, "convert", "heron.toml", "beak", "nan"),
    }
    # A line through one drive angle is refused; the call stays to show that such an error obeys the schema.
    calls["plain line"] = (2, *calls["plain line"][1:])
    for name, (status, *args) in calls.items():
        found = printed(folder, status, *args)
        valid.validate(found)
        # The schema must be able to say no.
        broken = copy.deepcopy(found)
        broken["surplus"] = 1
        assert not valid.is_valid(broken), f"{name}: the schema lets anything pass"
        print(f"ok - {name}")
