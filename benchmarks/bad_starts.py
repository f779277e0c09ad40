"""Servos that die in mid-walk, and getting up from any pose, in the physics world.

    python benchmarks/bad_starts.py silence wren heron
    python benchmarks/bad_starts.py stand rook wren heron --count 20

``silence`` lets each joint die at two moments of a walk: falls, worst tilt, how it ends.
``stand`` gets up from joint positions drawn evenly between the stops.
"""

from __future__ import annotations

import argparse
from collections import Counter
from pathlib import Path

import numpy as np

import legwright as lw
from legwright.locomotion.command import Command, Kind
from legwright.locomotion.controller import Controller, Stage
from legwright.locomotion.gait import gait
from legwright.locomotion.signals import Event
from legwright.rig.ground_choice import ground_of
from legwright.rig.world import Scatter, World
from legwright.robot.robot import Robot

ROOT = Path(__file__).parents[1]
RATE, PATIENCE = 100.0, 25.0
MOMENTS = (("ripple", 2.5), ("tripod", 2.7))
FELL = 45.0
"""A body tilted farther has fallen [deg]."""


class Outing:
    """A controller on a robot in the world, and how far the body tilts."""

    def __init__(self, robot: Robot, seed: int) -> None:
        ground, odd = ground_of(robot, "flat", seed=seed), Scatter(friction=0.3)
        self.world = World(robot, ground, seed=seed, rate=RATE, scatter=odd)
        self.controller = Controller(robot, rate=RATE, feel=True)
        self.tilt = 0.0

    def run(self, command: Command, seconds: float, *, until: str = "") -> Event | None:
        """Go on; the event that it waited for."""
        for _ in range(round(seconds * RATE)):
            targets, events = self.controller.step(self.world.sense(), command, 1.0 / RATE)
            self.world.apply(targets)
            self.world.advance()
            x, y = self.world.truth().body[4:6]
            self.tilt = max(self.tilt, float(np.degrees(2.0 * np.arcsin(np.hypot(x, y)))))
            for event in events:
                if event.what == until:
                    return event
        return None


def silence(robot: Robot) -> str:
    """Every joint dies once at each moment."""
    tilts, ends, worst = [], Counter[str](), ("", 0.0)
    speed = 0.7 * (robot.sheet.requirements.speed_forward or 0.05)
    for name, moment in MOMENTS:
        walk = Command(kind=Kind.WALK, velocity=(speed, 0.0), gait=gait(name, len(robot.legs)))
        for joint in robot.joint_names:
            outing = Outing(robot, seed=1)
            outing.run(Command(), 0.5)
            outing.run(walk, moment - 0.5)
            outing.world.silence(joint)
            end = outing.run(walk, PATIENCE, until="down")
            ends["not down" if end is None else " ".join(end.text.split(": ")[1:]) or "low"] += 1
            tilts.append(outing.tilt)
            worst = max(worst, (f"{joint}, {name}", outing.tilt), key=lambda found: found[1])
    fell = sum(tilt > FELL for tilt in tilts)
    return (f"{robot.name}: {fell} of {len(tilts)} fell; tilt median {np.median(tilts):.1f}, "
            f"worst {worst[1]:.1f} deg ({worst[0]}); ends {dict(ends)}")  # fmt: skip


def stand(robot: Robot, count: int) -> str:
    """Get up from random poses."""
    up, tilts, times, bad = 0, [], [], []
    for seed in range(count):
        outing = Outing(robot, seed=seed)
        fixed = outing.controller.able.fixed
        q = np.random.default_rng(1000 + seed).uniform(fixed.lower, fixed.upper)
        outing.world.reset(q)
        time = 0.0
        while time < PATIENCE:
            outing.run(Command(), 0.25)
            time += 0.25
            if outing.controller.stage is Stage.UP and outing.controller.settled:
                break
        height = outing.controller.able.footing.height
        truth = outing.world.truth()
        rise = truth.body[2] - truth.feet[:, 2].mean()
        if truth.others < 1.0 and abs(rise - height) < 0.15 * height:
            up += 1
            times.append(time)
        else:
            bad.append((seed, round(float(rise / height), 2), outing.controller.stage.value))
        tilts.append(outing.tilt)
    return (f"{robot.name}: {up} of {count} stand; settled after {np.median(times):.1f} s "
            f"(longest {max(times):.1f}); worst tilt {max(tilts):.1f} deg; not: {bad}")  # fmt: skip


def main() -> None:
    """Do what is asked and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=("silence", "stand"))
    parser.add_argument("robots", nargs="+")
    parser.add_argument("--count", type=int, default=20)
    asked = parser.parse_args()
    for name in asked.robots:
        robot = lw.load(ROOT / "robots" / name)
        print(silence(robot) if asked.what == "silence" else stand(robot, asked.count), flush=True)


if __name__ == "__main__":
    main()
