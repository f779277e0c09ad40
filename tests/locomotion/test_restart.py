"""A controller that starts again is as a new one."""

from __future__ import annotations

from pathlib import Path

import numpy as np

import legwright as lw
from legwright.locomotion.command import Command, Kind
from legwright.locomotion.controller import Controller
from legwright.locomotion.signals import Sensed

ROOK = Path(__file__).parents[2] / "robots" / "rook"
DT = 0.01


def walk(controller: Controller, seed: int, steps: int) -> np.ndarray:
    """Targets of a walk with noisy currents and tilt, from the neutral stance."""
    rng, q, rows = np.random.default_rng(seed), controller.able.fixed.rest.copy(), []
    command = Command(kind=Kind.WALK, velocity=(0.05, 0.01), turn=0.05)
    for _ in range(steps):
        up = np.array([0.02 * rng.normal(), 0.02 * rng.normal(), 1.0])
        sensed = Sensed(
            q=q, qd=np.zeros_like(q), current=0.2 * rng.normal(size=len(q)), voltage=11.0,
            up=up / np.linalg.norm(up), spin=0.05 * rng.normal(size=3),
        )  # fmt: skip
        targets, _ = controller.step(sensed, command, DT)
        q = targets.q
        rows.append(q)
    return np.array(rows)


def test_nothing_of_the_time_before_is_left():
    robot = lw.load(ROOK)
    fresh = walk(Controller(robot, rate=1 / DT, feel=True), 1, 300)
    used = Controller(robot, rate=1 / DT, feel=True)
    walk(used, 2, 437)
    used.restart()
    np.testing.assert_array_equal(walk(used, 1, 300), fresh)
