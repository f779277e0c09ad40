"""Contact felt through servo current and position: no foot switches.

The torque that each joint of a leg should need follows from its own dynamics (links, rotor)
and identified friction; what the measured current makes beyond that is the ground's. The
joint with the longest vertical lever, the femur of an ordinary leg, turns it into newtons. But
gear friction hides a part: a foot that is stopped frees its gear from friction first, and the
backlash must close before the current tells. Meanwhile the joint already lags behind where it
was sent. So both, force and following error, are taken against what they were shortly
before, each over its scatter in the air, and their sum enters a sequential test. Other joints of
the leg are left out: they rattle in their backlash by more than a touch moves them.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from legwright.locomotion._boxed import boxed
from legwright.locomotion._contact import RING, Feeling, feel
from legwright.locomotion.abilities import Abilities
from legwright.locomotion.air import AirCalibration, assumed
from legwright.locomotion.signals import Sensed
from legwright.mechanics.drive import drives_of
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

SCORE, HASTY = 4.5, 7.0
"""Cumulative sum at which a descending foot has touched; and where but two readings have made
it, see `_contact.HASTE`."""
JOLTED = 2.0
"""How much less a reading counts, for each time over `UNMOVED` that the standing feet are moved."""
CALM_FORCE, CALM_ERROR = 0.009, 5.2e-5
"""A body that walks is never calmer than this: standard deviations of felt force, in body weights,
and of the foot's following error [m]. Light friction and fine sensors promise less."""
IN_FLIGHT = 0.20
"""Share of body weight that a foot in its swing takes for an obstacle."""
ON_THE_WAY_DOWN = 0.12
"""The same in the last part of the swing, where ground is expected; on top of what the model may
be wrong by."""
IN_DOUBT = 0.08
"""The same of a standing foot that is doubted and goes down: it bore all along."""
UPRIGHT = np.array([0.0, 0.0, 1.0])


class Contact:
    """The observer of one robot: call `update` once per control step.

    The controller runs it with all others in one kernel, `_step.step`.
    """

    def __init__(
        self, robot: Robot, able: Abilities, *, calibration: AirCalibration | None = None
    ) -> None:
        """Forget everything.

        Args:
            robot: The robot.
            able: Its abilities.
            calibration: Of this machine; assumed from the sheet when None.
        """
        joints, legs = len(robot.joint_names), len(robot.legs)
        drive = drives_of(robot)
        self.known = bool(np.isfinite(drive.torque_constant).all())
        gain = np.where(np.isfinite(drive.torque_constant), drive.torque_constant, 1.0)
        self._up, self._weight = UPRIGHT.copy(), able.weight
        limits = np.empty((5, legs))
        limits[0], limits[3] = SCORE, HASTY
        limits[1], limits[2] = IN_FLIGHT * able.weight, ON_THE_WAY_DOWN * able.weight
        limits[4] = IN_DOUBT * able.weight
        self.feeling = Feeling(
            gain=np.asarray(gain, dtype=np.float64).copy(),
            friction=np.zeros(joints),
            noise=np.ones((3, legs)),
            qd=np.zeros((4, joints)),
            asked=np.tile(able.fixed.rest, (2, 1)),
            residual=np.zeros(joints),
            steady=np.zeros(joints),
            raw=np.zeros((2, legs)),
            zero=np.zeros((2, legs)),
            usual=np.full((2, legs), np.nan),
            ring=np.zeros((2, legs, RING)),
            spread=np.zeros((2, legs)),
            trend=np.zeros((2, legs)),
            seen=np.zeros(legs),
            push=np.zeros(legs),
            score=np.zeros(legs),
            over=np.zeros(legs),
            joint=np.full(legs, -1.0),
            run=np.zeros(legs),
            was=np.tile(able.fixed.rest, (2, 1)),
            gap=np.zeros(legs),
            rate=np.zeros(legs),
            jolt=np.array([0.0, JOLTED, 1.0]),
            limit=limits,
        )
        self.box, self._rest = boxed(self.feeling), able.fixed.rest
        """Of `feeling`, for the kernels."""
        self.touch: NDArray[np.bool_] = np.zeros(legs, dtype=np.bool_)
        self.calibrate(calibration or assumed(robot, able))

    def calibrate(self, found: AirCalibration) -> None:
        """Use what was found in the air from now on."""
        self.calibration = found
        self.feeling.friction[:] = found.friction
        self.feeling.noise[:] = (
            np.maximum(found.force_noise, self._weight * CALM_FORCE),
            np.maximum(found.error_noise, CALM_ERROR),
            found.correlation,
        )
        self.feeling.usual[:] = np.nan

    def forget(self) -> None:
        """Drop all memory of what was felt; the calibration stays."""
        feeling = self.feeling
        for values in (
            feeling.qd, feeling.residual, feeling.steady, feeling.raw, feeling.zero, feeling.ring,
            feeling.spread, feeling.trend, feeling.seen, feeling.push, feeling.score, feeling.over,
            feeling.run, feeling.gap, feeling.rate,
        ):  # fmt: skip
            values[:] = 0.0
        feeling.joint[:] = -1.0
        feeling.usual[:] = np.nan
        feeling.jolt[0] = 0.0
        feeling.asked[:] = feeling.was[:] = self._rest
        self.touch[:] = False

    def update(self, fixed: Any, state: Any, sensed: Sensed, dt: float) -> None:
        """Take in one step's readings.

        Args:
            fixed: The robot, boxed.
            state: Boxed; what the controller asked for in the last step.
            sensed: Readings; joints that do not answer must have been filled in.
            dt: Since the last step [s].
        """
        up = sensed.up if sensed.up is not None and np.isfinite(sensed.up[2]) else self._up
        spin = np.zeros(3) if sensed.spin is None else sensed.spin
        feel(fixed, state, self.box, sensed.q, sensed.current, up, spin, dt, self.touch)

    @property
    def force(self) -> Floats:
        """Upward force of the ground on each foot as felt, (L,) [N]."""
        return self.feeling.push.copy()
