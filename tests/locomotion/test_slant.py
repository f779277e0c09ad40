"""Feet come down on a slant on which friction is heard, too."""

from __future__ import annotations

import numpy as np
import pytest

import legwright as lw
from legwright.locomotion import _state as at
from legwright.locomotion.command import Kind
from legwright.locomotion.slant import SLANT, slants
from legwright.locomotion.stance import footing
from legwright.mechanics.loads import standing
from legwright.study.outing import set_out, steps
from legwright.study.touchdowns import score
from legwright.study.trip import Trip

GRIP = 0.8
"""The demo feet's friction."""


@pytest.mark.parametrize("name", ["wren", "rook", "heron"])
def test_friction_adds_to_what_the_femur_hears(name: str) -> None:
    """And takes all but a fifth of it away where a foot slides the other way.

    Referee: inverse dynamics of the whole robot, `mechanics.loads.standing`.
    """
    robot = lw.load(f"robots/{name}")
    stand = footing(robot)
    q, down = np.array(stand.q), np.zeros(len(robot.legs), dtype=bool)
    air = standing(robot, q, contact=down).torque[0]
    for leg, slant in zip(robot.legs, slants(robot, stand), strict=True):
        span = robot.columns[leg]
        femur = span.start + 1
        heard = []
        for friction in (0.0, -GRIP, GRIP):  # friction pulls against the way of the foot
            x, y = friction * slant / SLANT
            pushed = standing(robot, q, contact=down, push=(leg, (x, y, 1.0))).torque[0]
            heard.append(abs(pushed[femur] - air[femur]))
        assert np.hypot(*slant) == pytest.approx(SLANT)
        assert heard[1] > 2.0 * heard[0]
        assert heard[2] < 0.25 * heard[0]


def test_wren_feels_every_touch_down_on_level_ground() -> None:
    """On this walk feet that came straight down were missed, or stood for 0.1 s unfelt."""
    robot = lw.load("robots/wren")
    trip = Trip(gait=lw.gait("ripple", legs=6), ground="flat", speed=0.05, rate=200.0, distance=1.0)
    world, controller = set_out(robot, trip, seed=902, felt=True)
    force, stands, aside = [], [], []
    for step in steps(world, controller, trip, 902):
        if step.command.kind is not Kind.WALK:
            continue
        state = controller._state
        falls = state.mode == at.FALL
        drop = -state.foot_v[falls, 2]
        aside += list(np.hypot(*state.foot_v[falls, :2].T)[drop > 0.03] / drop[drop > 0.03])
        force.append(step.truth.force[:, 2].copy())
        stands.append(controller.contact.copy())
    found = score(np.array(force), np.array(stands), rate=200.0, weight=controller.able.weight)
    assert found.hits > 80
    assert found.misses == 0
    assert np.percentile(found.delays, 95) <= 0.065
    assert np.median(aside) > 0.6
