"""Template of a rig plug-in: joints that follow their targets, in memory.

Replace what is marked with your bus. `docs/rig-plugin.md` says the rest.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from legwright.errors import RequestError, RigError
from legwright.locomotion.signals import Sensed, Targets
from legwright.rig.port import Drives
from legwright.robot.robot import Robot


class ParrotRig:
    """Repeats what it is told."""

    real = False  # True for a machine
    calibrated = True  # whether zeros and directions are known: rig.calibration
    notes = ("Joints in memory: nothing moves.",)

    def __init__(self, robot: Robot, port: str, rate: float = 100.0) -> None:
        """Open the bus, find every servo; leave them limp."""
        self.robot, self.rate = robot, rate
        self.buses = (0,) * len(robot.joint_names)
        self._port, self._open, self._on = port, True, False
        self._q = np.zeros(len(robot.joint_names))  # replace: read the servos
        self._goal = self._q.copy()

    def sense(self) -> Sensed:
        """Readings of this cycle; nan for a servo that does not answer."""
        self._check()
        still = np.zeros_like(self._q)
        return Sensed(q=self._q.copy(), qd=still, current=still.copy(), voltage=11.1)

    def drives(self) -> Drives:
        """What the servos say about themselves."""
        self._check()
        count = len(self._q)
        return Drives(
            powered=np.full(count, self._on),
            fault=np.zeros(count, dtype=np.int64),
            winding=np.full(count, np.nan),
        )

    def apply(self, targets: Targets) -> None:
        """Keep targets for the next exchange; nan keeps the last one."""
        self._check()
        if targets.q.shape != self._q.shape:
            raise RequestError("joint targets", targets.q.shape, f"of shape {self._q.shape}")
        if np.isinf(targets.q).any():
            raise RequestError("joint targets", float("inf"), "finite, or nan to keep one")
        if self._on:
            self._goal = np.where(np.isnan(targets.q), self._goal, targets.q)

    def power(self, on: bool) -> None:
        """Torque on where the joints stand, or off at once; off never fails."""
        if on:
            self._check()
            self._goal = self._q.copy()
        self._on = on  # replace: write to the servos; suppress every error when switching off

    def advance(self) -> None:
        """Exchange one cycle on the bus."""
        self._check()
        if self._on:
            self._q += 0.2 * (self._goal - self._q)  # replace: send goals, ask for readings

    def close(self) -> None:
        """Power off, leave the bus; a second call does nothing."""
        self.power(False)
        self._open = False

    def _check(self) -> None:
        if not self._open:
            raise RigError("The parrot is closed. Open it anew.")


def open_rig(robot: Robot, port: str, options: Mapping[str, str]) -> ParrotRig:
    """The entry point."""
    if not port:
        raise RigError("Name the port, like parrot:/dev/ttyUSB0.")
    return ParrotRig(robot, port, rate=float(options.get("rate", "100")))
