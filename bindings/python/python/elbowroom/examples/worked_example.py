"""The worked example: a wing joint of 100 deg on 37 to 122 deg of its servo. Invented."""

import numpy as np

import elbowroom as elb


def main() -> None:
    joint = elb.Joint(
        "wing_left",
        command=(-40, 60),
        drive=(37, 122),
        rest=10,
        servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
        timer=elb.Timer(frame_hz=50, counts_per_frame=4096),
    )
    commands = np.linspace(-40, 60, 5)
    for command, drive, pulse_us, counts in zip(
        commands, joint.drive(commands), joint.pulse_us(commands), joint.counts(commands), strict=True
    ):
        print(f"command {command:5.1f}  drive {drive:6.2f} deg  pulse {pulse_us:7.2f} us  counts {counts}")


if __name__ == "__main__":
    main()
