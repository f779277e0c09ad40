"""Calibration in the air finds the friction that the physics world's servos really have."""

from __future__ import annotations

import numpy as np
import pytest

from legwright.errors import RequestError
from legwright.locomotion.air import AirCalibration, assumed
from legwright.locomotion.controller import Controller
from legwright.locomotion.in_air import InAir
from legwright.rig.ground_choice import ground_of
from legwright.rig.scatter import Scatter
from legwright.rig.world import World
from legwright.robot.robot import Robot

RATE = 200.0


def test_friction_and_scatter_are_found(rook: Robot) -> None:
    """Referee: a world whose gears have 1.25 times the sheet's friction."""
    world = World(rook, ground_of(rook, "flat", seed=0), seed=0, rate=RATE, scatter=Scatter())
    world.drift_friction(1.25)
    controller = Controller(rook, rate=RATE, feel=True)
    routine = InAir(rook, controller.able, rate=RATE)
    while routine._leg < 1 and world.time < 40.0:
        sensed = world.sense()
        targets, events = controller.step(sensed, routine.command, 1.0 / RATE)
        world.apply(routine.step(sensed, targets, events))
        world.advance()
    found, guess = routine.found(), assumed(rook, controller.able)
    assert routine._leg == 1
    first = rook.columns["left-front"]
    np.testing.assert_allclose(found.friction[first] / guess.friction[first], 1.25, atol=0.2)
    assert 0.3 < found.force_noise[0] / guess.force_noise[0] < 3.0
    assert 0.3 < found.error_noise[0] / guess.error_noise[0] < 3.0
    np.testing.assert_array_equal(found.friction[3:], guess.friction[3:])


def test_what_no_machine_shows_is_refused() -> None:
    row = np.ones(6)
    with pytest.raises(RequestError, match="force_noise"):
        AirCalibration(
            friction=np.ones(18), force_noise=0.0 * row, error_noise=row, correlation=0.0 * row
        )
    with pytest.raises(RequestError, match="correlation"):
        AirCalibration(
            friction=np.ones(18), force_noise=row, error_noise=row, correlation=2.0 * row
        )
