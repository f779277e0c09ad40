"""Standing feet that slide, and the way by measured joints: no sensor beyond those of the servos.

Servos measure behind their gears' backlash, so measured joints place a foot within a millimetre
of where it is, whatever was asked. Standing feet that hold keep their distances; one that does
not slides. That all slide together, down a slope or pushed from outside, is not seen.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from legwright.locomotion._boxed import boxed
from legwright.locomotion._grip import grip, heed_grip
from legwright.locomotion.signals import Sensed
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats


class Slips:
    """The observer of one robot: call `update` once per control step.

    The controller runs it with all others in one kernel, `_step.step`.
    """

    def __init__(self, robot: Robot) -> None:
        """Forget everything.

        Args:
            robot: The robot.
        """
        radius = np.array([leg.chain.foot_radius for leg in robot.legs.values()], np.float64)
        self._memory = grip(radius, len(robot.joint_names))
        self.box = boxed(self._memory)
        """For the kernels."""

    def forget(self) -> None:
        """Drop all memory."""
        for values in self._memory[1:]:
            values[:] = 0.0

    def update(
        self, fixed: Any, state: Any, goal: Any, sensed: Sensed, rate: float, dt: float
    ) -> NDArray[np.int64]:
        """Take in one step's readings.

        Args:
            fixed: The robot, boxed.
            state: Boxed; modes, felt load and tilt.
            goal: Boxed.
            sensed: Readings; joints that do not answer must have been filled in.
            rate: Turn rate about the vertical: measured, its constant error taken off, where
                there is a sensor; else the believed one [rad/s].
            dt: Since the last step [s].

        Returns:
            Legs whose foot begins to slide, by number.
        """
        heard = sensed.spin is not None and sensed.up is not None
        heed_grip(fixed, state, goal, self.box, sensed.q, rate, heard, dt)
        return self.news

    @property
    def news(self) -> NDArray[np.int64]:
        """Legs whose foot has begun to slide in the last step, by number."""
        found: NDArray[np.int64] = np.flatnonzero(self._memory.news)
        return found

    @property
    def slid(self) -> Floats:
        """How far each standing foot has slid since it stands, within 1 to 2 mm, (L,) [m]."""
        return self._memory.slid + self._memory.off

    @property
    def way(self) -> Floats:
        """Where the body has got to by measured joints: x, y [m], yaw [rad], (3,)."""
        return self._memory.pose.copy()
