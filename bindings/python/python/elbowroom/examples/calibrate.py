"""From measured points to a robot file, a check and a picture. Readings and robot are invented."""

import datetime

import numpy as np

import elbowroom as elb


def main() -> None:
    # A sweep up and down: what the drive was told, what a protractor on the joint read.
    drive = np.concatenate([np.arange(0, 91, 3.0), np.arange(90, -1, -3.0)])
    rising = np.arange(len(drive)) < 31
    wobble = 0.05 * np.cos(7.0 * np.arange(len(drive)))
    measured = 5 + 1.1 * np.clip(drive, 12, 100) + np.where(rising, 0.5, -0.5) + wobble
    approach = ["below" if up else "above" for up in rising]

    fit = elb.fit_limits(drive, measured, approach=approach, resolution=0.5, guard=2.0)
    print(*fit.warnings, sep="\n")
    print("lower end:", fit.lower.kind, round(fit.lower.at, 2), " upper end:", fit.upper.kind, round(fit.upper.at, 2))

    assert fit.travel is not None
    lower, upper = fit.travel
    robot = elb.robot_from_dict({
        "name": "heron",
        "servo": elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
        "timer": elb.Timer(frame_hz=50, counts_per_frame=4096),
        # Commands are the angles that the protractor reads.
        "joint": {"wing_left": {
            "command": [fit.expected(lower), fit.expected(upper)], "drive": [lower, upper], "rest": 60, "max_rate_per_s": 60,
        }},
    })
    robot = robot.put_fit("wing_left", fit, date=datetime.date(2026, 11, 20))
    robot.save("heron.toml")
    for finding in robot.check():
        print(finding)
    print(robot["wing_left"].convert(np.array([20.0, 60.0, 100.0])))


if __name__ == "__main__":
    main()
