"""Print the table of felt contact: `python benchmarks/felt_contact.py --seed 700 --seeds 2`.

Robots on flat ground and on steps of 25 % of leg length, ripple gait, servos scattered and their
friction drifting; a line for each, all seeds together.
"""

from __future__ import annotations

import argparse

import numpy as np

import legwright as lw
from legwright.study.outing import outing
from legwright.study.touchdowns import score
from legwright.study.trip import Trip

SPEED = {"rook": 0.08, "wren": 0.05, "heron": 0.08}
HEAD = """| robot | ground | rate | touch-downs | hits | false / 100 | delay | force |
| --- | --- | --- | --- | --- | --- | --- | --- |"""


def line(name: str, ground: str, asked: argparse.Namespace) -> str:
    """One row: delays in ms and forces in per cent of weight, median and 95th percentile."""
    robot = lw.load(f"robots/{name}")
    trip = Trip(
        gait=lw.gait("ripple", legs=6), ground=ground, speed=SPEED[name], rate=asked.rate,
        distance=asked.distance, current_noise=asked.noise, calibrated=asked.calibrated,
    )  # fmt: skip
    marks = []
    for seed in range(asked.seed, asked.seed + asked.seeds):
        walked = outing(robot, trip, seed=seed, felt=True)
        marks.append(
            score(walked.log.force, walked.log.stance, rate=asked.rate, weight=walked.weight)
        )
    hits, misses, false = (sum(getattr(m, k) for m in marks) for k in ("hits", "misses", "false"))
    delay = np.percentile(1e3 * np.concatenate([m.delays for m in marks]), (50, 95))
    force = np.percentile(1e2 * np.concatenate([m.forces for m in marks]), (50, 95))
    return (
        f"| {name} | {ground} | {asked.rate:g} Hz | {hits + misses} | "
        f"{100.0 * hits / (hits + misses):.1f} % | {100.0 * false / (hits + false):.1f} | "
        f"{delay[0]:.0f}, {delay[1]:.0f} ms | {force[0]:.1f}, {force[1]:.1f} % |"
    )


def main() -> None:
    """Run what is asked."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--seed", type=int, default=700)
    ask.add_argument("--seeds", type=int, default=2)
    ask.add_argument("--distance", type=float, default=0.8, help="m")
    ask.add_argument("--rate", type=float, default=200.0, help="Hz")
    ask.add_argument("--noise", type=float, default=None, help="of the current sensors [A]")
    ask.add_argument("--calibrated", action="store_true", help="calibrate in the air first")
    ask.add_argument("--robots", nargs="*", default=list(SPEED))
    asked = ask.parse_args()
    print(HEAD, flush=True)
    for name in asked.robots:
        for ground in ("flat", "steps"):
            print(line(name, ground, asked), flush=True)


if __name__ == "__main__":
    main()
