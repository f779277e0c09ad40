"""How well a probe's push is felt: told force against the engine's, in the physics world.

    python benchmarks/probe_accuracy.py rook:8 rook:3 heron:25 wren:2 [--seeds 5]

Friction is scattered by 30 % and motor constants by 10 %; every seed takes another leg. The
true force is the mean of the 0.2 s after the probe ended.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np

import legwright as lw
from legwright.locomotion.command import Command, Kind
from legwright.locomotion.controller import Controller
from legwright.locomotion.signals import Event
from legwright.rig.ground_choice import ground_of
from legwright.rig.world import Scatter, World
from legwright.robot.robot import Robot

ROOT = Path(__file__).parents[1]
RATE, LONGEST = 200.0, 30.0


def probe(robot: Robot, push: float, seed: int) -> tuple[Event | None, float]:
    """One probe: how it ended, and the true force on the foot [N]."""
    world = World(
        robot, ground_of(robot, "flat", seed=seed), seed=seed, rate=RATE,
        scatter=Scatter(friction=0.3, torque_constant=0.1),
    )  # fmt: skip
    controller = Controller(robot, rate=RATE, feel=True)
    legs = tuple(robot.legs)
    leg = legs[seed % len(legs)]

    def cycle(command: Command) -> tuple[Event, ...]:
        targets, events = controller.step(world.sense(), command, 1.0 / RATE)
        world.apply(targets)
        world.advance()
        return events

    for _ in range(round(1.5 * RATE)):
        cycle(Command())
    x, y, _ = 1.05 * controller.able.fixed.neutral[legs.index(leg)]
    order = Command(kind=Kind.PROBE, leg=leg, target=(float(x), float(y)), force=push)
    for _ in range(round(LONGEST * RATE)):
        ends = [e for e in cycle(order) if e.what in ("probed", "unstable")]
        if ends:
            after = []
            for _ in range(round(0.2 * RATE)):
                cycle(order)
                after.append(world.truth().force[legs.index(leg), 2])
            return ends[0], float(np.mean(after))
    return None, float("nan")


def main() -> None:
    """Probe as asked and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", nargs="+", help="ROBOT:NEWTON")
    parser.add_argument("--seeds", type=int, default=5)
    parser.add_argument("--first", type=int, default=11)
    asked = parser.parse_args()
    for what in asked.what:
        name, push = what.split(":")
        robot = lw.load(ROOT / "robots" / name)
        ends = [probe(robot, float(push), asked.first + k) for k in range(asked.seeds)]
        told = np.array([np.nan if e is None or e.force is None else e.force for e, _ in ends])
        true = np.array([force for _, force in ends])
        words = [("late" if e is None else f"{e.what} {e.limit}".strip()) for e, _ in ends]
        print(f"{name} {push} N: told {told.mean():.2f} ± {told.std(ddof=1):.2f}, true "
              f"{true.mean():.2f} ± {true.std(ddof=1):.2f} N; each {np.round(true, 2).tolist()}; "
              f"{words}", flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
