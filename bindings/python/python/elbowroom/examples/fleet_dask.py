"""A fleet of robots, fitted in the processes of a Dask cluster: the same results as in one process. Readings invented."""

import numpy as np
import pandas as pd
from dask.distributed import Client, LocalCluster

import elbowroom as elb


def readings(robots: int) -> pd.DataFrame:
    rng = np.random.default_rng(7)
    parts = []
    for robot in range(robots):
        for joint in ("wing_left", "wing_right", "neck"):
            drive = np.concatenate([np.arange(0, 91, 3.0), np.arange(90, -1, -3.0)])
            stops = rng.uniform(5, 15), rng.uniform(70, 85)
            measured = 5 + 1.1 * np.clip(drive, *stops) + rng.normal(0, 0.1, len(drive))
            parts.append(pd.DataFrame({"robot": f"heron-{robot}", "joint": joint, "drive": drive, "measured": measured}))
    return pd.concat(parts, ignore_index=True)


def main() -> None:
    frame = readings(robots=6)
    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster, Client(cluster) as client:
        parts = [part for _, part in frame.groupby("robot")]
        first, *rest = client.gather(client.map(elb.fit_many, parts))
    fits = first
    for part in rest:
        fits = fits | part
    here = elb.fit_many(frame, progress=lambda done, total, key: print(f"{done}/{total} {' '.join(key)}"))
    assert dict(fits) == dict(here)
    print(fits.table()[["robot", "joint", "lower_at", "upper_at", "travel_lower", "travel_upper"]].round(2).to_string())


if __name__ == "__main__":
    main()
