"""A calibration in the air, run in the physics world before a walk."""

from __future__ import annotations

from legwright.locomotion.air import AirCalibration
from legwright.locomotion.controller import Controller
from legwright.locomotion.in_air import InAir
from legwright.rig.ground_choice import ground_of
from legwright.rig.scatter import Scatter
from legwright.rig.world import World
from legwright.robot.robot import Robot

LONGEST = 120.0
"""A routine that takes longer is given up; legs without a turn keep what is assumed [s]."""


def air_run(
    robot: Robot, *, seed: int, rate: float, scatter: Scatter, current_noise: float | None = None
) -> AirCalibration:
    """Calibrate the machine of a seed, standing on flat ground.

    Args:
        robot: The robot.
        seed: Of the machine: its servos scatter as in a walk of the same seed.
        rate: Control steps per second [Hz].
        scatter: Of single servos.
        current_noise: Of the current sensors; the sheet's when None [A].

    Returns:
        What was found.
    """
    world = World(
        robot, ground_of(robot, "flat", seed=seed), seed=seed, rate=rate, scatter=scatter,
        current_noise=current_noise,
    )  # fmt: skip
    controller = Controller(robot, rate=rate, feel=True)
    routine = InAir(robot, controller.able, rate=rate)
    while not routine.done and world.time < LONGEST:
        sensed = world.sense()
        targets, events = controller.step(sensed, routine.command, 1.0 / rate)
        world.apply(routine.step(sensed, targets, events))
        world.advance()
    return routine.found()
