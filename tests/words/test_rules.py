"""Each rule finds the class of language that it is for, and leaves what is written instead."""

import re

import check

EXAMPLES = {
    "data-speak": ("the readings ask for a curve", "nonlinear (p = 6e-8): use a curve"),
    "leaves-a-number": ("linear leaves 2.965, 4.4 times as much", "linear: residual SD 2.97 deg"),
    "is-no": ("a three-bar is no mechanism", "a three-bar is not a mechanism; no longer needed"),
    "mind": ("mind: the last reading may fall short", "warning: the last reading may fall short"),
    "turned-over": ("turned over, the curve needs more", "the inverse, command to drive, needs 5 knots"),
    "truly": ("43.61 deg (truly 43.73)", "43.61 deg (true value 43.73)"),
    "bare-u": ("slope 1.17, u {}", "slope 1.17, standard uncertainty {}"),
    "bare-guard": ("63.8 to 126.8 deg, guard 2 deg", "63.8 to 126.8 deg, guard margin 2 deg"),
    "no-source": ("(common practice, no source)", "(default; verify against the data sheet)"),
    "nothing-known": ("clear to 126.8 deg, nothing known beyond", "clear to 126.8 deg, untested beyond"),
    "met-a-stop": ("no stop met", "no stop found"),
    "plural": ("1 joints", "1 joint, 11 joints"),
    "quaint": ("whoever plans by the URDF", "a plan made from the URDF"),
    "held-against": ("held against the URDF", "compared with the URDF"),
    "taken-over": ("nothing was taken over", "the robot is unchanged"),
    "ruler-speak": ("as a ruler says", "as measured with a ruler"),
    "cannot-be-said": ("lost motion cannot be said", "lost motion cannot be determined"),
    "cannot-be": ("NaN where the mechanism cannot be.", "NaN where the mechanism cannot reach."),
    "is-said-to": ("one in twenty is said to have changed", "one in twenty is reported as changed"),
    "goes-on": ("beyond the last knot it goes straight on", "beyond the last knot it continues as a straight line"),
    "digits": ("the plateau from drive {at:.2} on is not a stop", "the plateau from drive {} on is not a stop"),
}

assert set(EXAMPLES) == {name for name, _, _ in check.RULES}
for name, pattern, _ in check.RULES:
    bad, good = EXAMPLES[name]
    assert re.search(pattern, bad, re.IGNORECASE), (name, bad)
    assert not re.search(pattern, good, re.IGNORECASE), (name, good)
print(f"ok - {len(EXAMPLES)} rules find their examples")
