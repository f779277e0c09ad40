"""Contact felt through servo current: no foot switches.

The torque that each joint of a leg should need follows from its own dynamics (links, rotor)
and identified friction; what the measured current makes beyond that is the ground's. The
joint with the longest vertical lever, the femur of an ordinary leg, turns it into newtons.
Gear friction drifts with temperature, so every descent takes its own zero before it judges.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from legwright.locomotion._contact import Feeling, feel
from legwright.locomotion._state import State
from legwright.locomotion.abilities import Abilities
from legwright.locomotion.signals import Sensed
from legwright.mechanics.drive import drives_of
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

THRESHOLD = 0.45
"""Push at which a descending foot has touched, over what gear friction is at the foot; tuned in
the physics world on seeds that no score uses."""
LEAST_THRESHOLD = 0.6
"""[N]"""
IN_FLIGHT = 0.20
"""Share of body weight that a foot in its swing takes for an obstacle."""
LOADED = 0.04
"""Share of body weight that makes a standing foot a loaded one."""
UPRIGHT = np.array([0.0, 0.0, 1.0])


class Contact:
    """The observer of one robot: call `update` once per control step."""

    def __init__(self, robot: Robot, able: Abilities, *, threshold: float | None = None) -> None:
        """Forget everything.

        Args:
            robot: The robot.
            able: Its abilities.
            threshold: Push at which a descending foot has touched [N]; from the gears'
                friction when None.
        """
        joints, legs = len(robot.joint_names), len(robot.legs)
        drive = drives_of(robot)
        self.known = bool(np.isfinite(drive.torque_constant).all())
        gain = np.where(np.isfinite(drive.torque_constant), drive.torque_constant, 1.0)
        friction = np.nan_to_num(np.asarray(drive.friction_current * gain, dtype=np.float64))
        if threshold is None:
            threshold = max(LEAST_THRESHOLD, THRESHOLD * _friction_at_foot(robot, able, friction))
        self._threshold = float(threshold)
        limits = np.empty((3, legs))
        limits[0], limits[1] = threshold, max(IN_FLIGHT * able.weight, 2.0 * threshold)
        limits[2] = LOADED * able.weight
        self._able, self._up = able, UPRIGHT.copy()
        self.feeling = Feeling(
            np.asarray(gain, dtype=np.float64).copy(), friction, np.zeros((4, joints)),
            np.zeros(joints), np.zeros(legs), np.zeros(legs), np.zeros(legs), np.zeros(legs),
            np.full(legs, np.nan), np.zeros(legs), np.zeros(legs), limits,
        )  # fmt: skip
        self.touch: NDArray[np.bool_] = np.zeros(legs, dtype=np.bool_)

    def update(self, state: State, sensed: Sensed, dt: float) -> None:
        """Take in one step's readings.

        Args:
            state: What the controller asked for in the last step.
            sensed: Readings; joints that do not answer must have been filled in.
            dt: Since the last step [s].
        """
        up = sensed.up if sensed.up is not None and np.isfinite(sensed.up[2]) else self._up
        feel(self._able.fixed, state, self.feeling, sensed.q, sensed.current, up, dt, self.touch)

    def expect(self, leg: int, force: float) -> None:
        """Let one probing leg touch only from a force [N] on; -1 for none."""
        self.feeling.limit[0] = self._threshold
        if leg >= 0:
            self.feeling.limit[0, leg] = max(force, self._threshold)

    @property
    def force(self) -> Floats:
        """Upward force of the ground on each foot as felt, (L,) [N]."""
        return self.feeling.push.copy()


def _friction_at_foot(robot: Robot, able: Abilities, friction: Floats) -> float:
    """Vertical push on a foot that gear friction hides, the median over legs [N]."""
    found = []
    for name, leg in robot.legs.items():
        span = robot.columns[name]
        arms = np.abs(leg.jacobian(able.fixed.rest[span])[2])
        best = int(arms.argmax())
        found.append(friction[span][best] / max(float(arms[best]), 1e-3))
    return float(np.median(found))
