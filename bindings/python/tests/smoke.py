"""Run by tests/run in a clean environment: the wheel, numpy, and nothing of the repository or a compiler."""

import sys
from importlib.metadata import files, metadata, requires

import numpy as np

import elbowroom as elb

assert "site-packages" in elb.__file__, elb.__file__
joint = elb.Joint(
    "wing_left",
    command=(-40, 60),
    drive=(37, 122),
    rest=10,
    servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    timer=elb.Timer(frame_hz=50, counts_per_frame=4096),
)
assert joint.drive(10) == 79.5
assert joint.counts(np.array([-40, 10, 60])).tolist() == [187, 283, 380]
about = metadata("elbowroom")
for field in ("Summary", "License-Expression", "Requires-Python", "Description", "Keywords"):
    assert about[field], field
assert about["Version"] == elb.__version__
assert [r for r in requires("elbowroom") or [] if "extra" not in r] == ["numpy>=1.26"]
assert {"py.typed", "_core.pyi", "LICENSE"} <= {file.name for file in files("elbowroom") or []}
assert elb.fit_curve([10, 30, 50, 70, 90], [0.0, 9.1, 20.8, 35.2, 52.0]).dof == 3
assert elb.robot_from_dict({"name": "heron"}).check() is not None
assert elb.Robot.load(elb.examples.path("heron.toml"))["wing_left"].counts(10) == 283
assert "calibrate.py" in elb.examples.names()
assert not {"matplotlib", "pandas", "polars", "pytest"} & set(sys.modules)
print("the worked example holds")
