"""The physics world as a rig."""

from __future__ import annotations

import numpy as np

from legwright.errors import RigError
from legwright.locomotion.signals import Sensed, Targets
from legwright.rig.ground import Ground
from legwright.rig.ground_choice import ground_of
from legwright.rig.port import Drives
from legwright.rig.world import World
from legwright.robot.robot import Robot


class Simulated:
    """A robot in the physics world: limp until it is switched on, never dangerous."""

    real = False
    calibrated = True

    def __init__(
        self,
        robot: Robot,
        *,
        ground: Ground | str = "flat",
        seed: int = 0,
        rate: float | None = None,
        world: World | None = None,
    ) -> None:
        """Set the robot on the ground, power off.

        Args:
            robot: The robot.
            ground: A ground, or the name of a family.
            seed: Of ground, noise and scatter.
            rate: Bus cycles per second; the sheet's update rate, or 100, when None [Hz].
            world: A world that is already there, instead of all the others.
        """
        bus = robot.sheet.bus
        cycles = rate or (float(bus.update_rate) if bus is not None else 100.0)
        if isinstance(ground, str):
            ground = ground_of(robot, ground, seed=seed)
        self.world = world or World(robot, ground, seed=seed, rate=cycles)
        self._open = True
        self.world.power(False)

    @property
    def robot(self) -> Robot:
        """The robot that is moved."""
        return self.world.robot

    @property
    def rate(self) -> float:
        """Bus cycles per second [Hz]."""
        return self.world.rate

    @property
    def notes(self) -> tuple[str, ...]:
        """What is assumed or left out, one sentence each."""
        return self.world.notes

    @property
    def buses(self) -> tuple[int, ...]:
        """Number of each joint's bus: they all hang on one."""
        return (0,) * len(self.robot.joint_names)

    def sense(self) -> Sensed:
        """Readings of this cycle."""
        self._check()
        return self.world.sense()

    def drives(self) -> Drives:
        """State of the drives in this cycle."""
        self._check()
        powered = self.world.powered
        return Drives(
            powered=powered, fault=np.zeros(len(powered), np.int64), winding=self.world.winding,
            voltage=self.world.voltages,
        )  # fmt: skip

    def apply(self, targets: Targets) -> None:
        """Send targets; they act from the next cycle on."""
        self._check()
        if self.world.powered.any():
            self.world.apply(targets)

    def power(self, on: bool) -> None:
        """Switch the servos' torque."""
        if on:
            self._check()
        self.world.power(on)

    def advance(self) -> None:
        """Compute one bus cycle of physics."""
        self._check()
        self.world.advance()

    def close(self) -> None:
        """Power off."""
        self.world.power(False)
        self._open = False

    def _check(self) -> None:
        if not self._open:
            raise RigError("The simulated robot is closed. Open it anew.")
