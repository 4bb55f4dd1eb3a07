"""scipy's robust least squares on a line between two stops: readings "x y" on standard input, rounds as argument.

Prints the seconds of the fastest fit and both knees. Called by `benches/fit.rs`.
"""

import sys
import time

import numpy as np
from scipy.optimize import least_squares

x, y = np.loadtxt(sys.stdin).T


def fit():
    # The start a user would write: the line through all readings, the knees a tenth inside the sweep.
    slope, intercept = np.polyfit(x, y, 1)
    tenth = 0.1 * np.ptp(x)
    start = [intercept, slope, x.min() + tenth, x.max() - tenth]
    return least_squares(
        lambda p: p[0] + p[1] * np.clip(x, p[2], p[3]) - y, start, loss="soft_l1", f_scale=0.3
    )


times = []
for _ in range(int(sys.argv[1])):
    begin = time.perf_counter()
    found = fit()
    times.append(time.perf_counter() - begin)
print(min(times), float(found.x[2]), float(found.x[3]))
