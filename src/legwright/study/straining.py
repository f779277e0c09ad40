"""Strains of a walk without its evidence: the quick way through one coarse cycle.

For robots whose legs all have the closed form; others, and walks in which a leg changes branch,
go the long way. Both ways give the same numbers.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from legwright.locomotion.gait import Gait
from legwright.locomotion.plan import DEFAULT_CYCLE, JUMP, SINGULAR, Held, held_at, lift_of
from legwright.locomotion.stance import Footing, footing
from legwright.locomotion.walk import Pose, Walk
from legwright.mechanics._recursion import Packed
from legwright.mechanics._servo import plain
from legwright.mechanics.drive import drives_of
from legwright.mechanics.dynamics import packed, with_payload
from legwright.mechanics.forces import BALANCED
from legwright.mechanics.kinematics import TOLERANCE, ClosedForm
from legwright.mechanics.loading import PointMass
from legwright.mechanics.pose import gravity_on
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats
from legwright.study._cycle import Course, Least, Limbs, Samples, Terms, Used, used
from legwright.study.asked import Asked

REACHED = Least(gap=-1e9)
"""Bounds with which all is weighed that is in reach."""
WHOLE = Least()
"""Bounds with which everything is weighed."""


@dataclass(frozen=True, slots=True, eq=False)
class Scale:
    """A robot with its payload, and the terms it is weighed at, ready for many walks."""

    robot: Robot
    limbs: Limbs
    body: Packed
    drives: Floats
    """Rows of `Drives`."""
    terms: Terms

    def used(
        self, walk: Walk, samples: int, *, least: Least = REACHED, missed: bool = True,
        cycle: float | None = None,
    ) -> Used | None:  # fmt: skip
        """How hard a walk uses each limit.

        Args:
            walk: Gait, twist, cycle, ground and footing.
            samples: Samples of the cycle.
            least: With less it is not weighed on; `WHOLE` weighs all, also what is out of reach.
            missed: Whether to tell how far a walk out of reach misses its path.
            cycle: In place of the walk's cycle time [s].

        Returns:
            Used; None where a leg changes branch on the way.
        """
        course = _course(self.robot, walk, samples, cycle)
        found = used(self.limbs, self.body, self.drives, course, self.terms, least, missed=missed)
        return found if found.plain else None


@lru_cache(maxsize=4)
def scale_of(robot: Robot, asked: Asked, payload: PointMass | None) -> Scale | None:
    """The scale for a robot; None where one of its legs has no closed form. Remembered.

    Args:
        robot: The robot.
        asked: What is asked; gives friction, voltage and ambient temperature.
        payload: Payload to carry.
    """
    limbs = _limbs(robot)
    if limbs is None:
        return None
    drives = plain(drives_of(robot))
    volts = drives.voltage if asked.voltage is None else np.full(len(limbs.lower), asked.voltage)
    terms = Terms(
        friction=np.full(len(limbs.packs), float(asked.friction)),
        volts=volts,
        ambient=float(asked.ambient),
        tolerance=TOLERANCE,
        jump=JUMP,
        singular=SINGULAR,
        balanced=BALANCED,
    )
    return Scale(robot, limbs, with_payload(packed(robot), payload), np.array(drives), terms)


@lru_cache(maxsize=4)
def _limbs(robot: Robot) -> Limbs | None:
    legs = list(robot.legs.values())
    ways = [leg.kinematics for leg in legs if isinstance(leg.kinematics, ClosedForm)]
    if len(ways) < len(legs):
        return None
    return Limbs(
        packs=np.array([way.pack for way in ways]),
        hips=np.array(robot.hips),
        lower=np.array(robot.lower),
        upper=np.array(robot.upper),
    )


@lru_cache(maxsize=256)
def _samples(legs: tuple[str, ...], gait: Gait, samples: int) -> Samples:
    share = np.arange(samples) / samples
    local = gait.local(legs, share)
    return Samples(share, local, local < gait.duty)


@lru_cache(maxsize=64)
def _held(pose: Pose, height: float) -> Held:
    return held_at(pose, height)


@lru_cache(maxsize=256)
def _gravity(slope: float, uphill: float) -> tuple[float, float, float]:
    x, y, z = gravity_on(slope, uphill).tolist()
    return x, y, z


@lru_cache(maxsize=4)
def _standing(stand: Footing) -> tuple[Floats, Floats]:
    """Feet at mid-stance in the heading frame, (L, 3) [m]; joint positions, (1, L, 3) [rad]."""
    return stand.feet + np.array([0.0, 0.0, stand.height]), np.array(stand.q).reshape(1, -1, 3)


def _course(robot: Robot, walk: Walk, samples: int, cycle: float | None) -> Course:
    stand = walk.footing or footing(robot)
    middle, start = _standing(stand)
    held = _held(walk.pose, stand.height)
    return Course(
        samples=_samples(tuple(robot.legs), walk.gait, samples),
        timing=(
            walk.gait.duty,
            float(cycle or walk.cycle or robot.sheet.stance.cycle or DEFAULT_CYCLE),
            float(lift_of(robot, walk, stand)),
        ),
        twist=(*walk.velocity, float(walk.turn)),
        middle=middle,
        R=held.R,
        at=held.at,
        start=start,
        gravity=_gravity(walk.slope, walk.uphill),
    )
