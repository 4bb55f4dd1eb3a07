"""From the readings of a joint that its drive bends to a joint that follows it. Readings and robot are invented."""

import numpy as np

import elbowroom as elb


def sweep() -> tuple[np.ndarray, np.ndarray]:
    """Heron's neck, a screw across a hinge, read by an inclinometer; a stop is met at 92 deg."""
    drive = np.arange(10.0, 151.0, 5.0)
    angle = [
        0.1, 4.1, 7.9, 11.5, 14.9, 18.6, 21.9, 25.3, 28.6, 32.0, 35.3, 38.6, 41.8, 45.1, 48.4, 51.9, 55.4, 58.9, 62.7, 66.4,
        70.3, 74.2, 78.4, 82.8, 87.4, 91.9, 92.1, 92.0, 92.0,
    ]  # fmt: skip
    return drive, np.array(angle)


def main() -> None:
    drive, measured = sweep()
    # The stops first: what stands on them says nothing of the transmission.
    limits = elb.fit_limits(drive, measured, resolution=0.1, guard=2.0)
    between = limits.between_stops()

    # What a ruler says of the screw. How far it is opened at 0 deg is hard to measure: the readings may improve that.
    ruler = {"kind": "triangle", "base": 40.0, "arm": 92.0, "angle_at_zero": 28.0}
    choice = elb.choose_transmission(**between, guesses=[(ruler, ["angle_at_zero"])])
    for reason in choice.reasons:
        print(reason)
    assert isinstance(choice.chosen.fit, elb.LinkageFit)
    for one in choice.chosen.fit.dimensions:
        print(one.name, round(one.value, 2), "as given" if one.u is None else f"u {one.u:.2f}")

    # A joint of its own; commands are joint angles, as far as the readings went.
    servo, timer = elb.Servo(angle=(0, 180), pulse_us=(500, 2500)), elb.Timer(frame_hz=50, counts_per_frame=4096)
    neck = elb.Joint("neck", rest=30, max_rate_per_s=40, servo=servo, timer=timer, **choice.joint_fields())
    neck = limits.apply_to(neck)
    angles = np.array([0.0, 30.0, 60.0, 85.0])
    print("drive", neck.drive(angles).round(1), "counts", neck.counts(angles))

    # Or taken over by a joint that is there, here with a curve instead of the mechanism.
    straight = elb.Joint("neck", command=(0, 90), drive=(10, 136), rest=30, max_rate_per_s=40, servo=servo, timer=timer)
    bent = elb.fit_curve(**between).apply_to(straight)
    print("straight, curve, screw at 80 deg:", [round(joint.drive(80.0), 1) for joint in (straight, bent, neck)])
    print(elb.Robot("heron").put(bent)["neck"] == bent)


if __name__ == "__main__":
    main()
