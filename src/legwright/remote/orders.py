"""From asked motions to commands for one robot: everything that could be wrong is refused here.

The control loop must never meet a command that its robot cannot make sense of.
"""

from __future__ import annotations

from math import hypot, isfinite

import numpy as np

from legwright.errors import RequestError, did_you_mean
from legwright.locomotion.abilities import abilities
from legwright.locomotion.command import Command, Kind
from legwright.locomotion.gait import NAMES, Gait
from legwright.locomotion.gait import gait as gait_named
from legwright.locomotion.path import lead_feet, lead_joints
from legwright.locomotion.stance import footing
from legwright.locomotion.walk import Pose
from legwright.remote.asked import (
    Hold,
    Lift,
    Motion,
    Place,
    Posed,
    Probe,
    Sit,
    Trajectory,
    Walk,
)
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

FASTEST, QUICKEST = 5.0, 10.0
"""Speeds that are surely a mistake [m/s, rad/s]; below, the robot walks as fast as it can."""
TALLEST, HARDEST = 3.0, 1000.0
"""So are heights [m] and forces [N] beyond these."""
LONGEST = 86_400.0
"""And walks [s]."""


class Orders:
    """Makes commands for one robot."""

    def __init__(self, robot: Robot, *, rate: float) -> None:
        """Look up what the robot has."""
        self.robot, self.rate = robot, rate
        self.legs = tuple(robot.legs)
        self.gaits = {name: self._gait(name) for name in (*NAMES, *robot.sheet.gait)}
        self._able = abilities(robot, footing(robot))
        self._height = self._able.footing.height

    def command(self, asked: Motion, q: Floats) -> Command:
        """The command for an asked motion.

        Args:
            asked: What is asked.
            q: Present joint positions, (J,) [rad].

        Raises:
            RequestError: naming the field, its value and what would do.
        """
        if isinstance(asked, Sit):
            return Command(kind=Kind.SIT)
        if isinstance(asked, Hold):
            return Command(kind=Kind.HOLD)
        if isinstance(asked, Walk):
            return self._walk(asked)
        if isinstance(asked, Trajectory):
            if not np.isfinite(q).all():
                raise RequestError("legs", "…", "those of a robot whose joints all answer")
            lead = lead_joints if asked.space == "joints" else lead_feet
            path = lead(self.robot, self._able, q, asked.legs, asked.times, rate=self.rate)
            return Command(kind=Kind.FOLLOW, path=path)
        if isinstance(asked, Lift):
            height = None if asked.height is None else _within("height", asked.height, TALLEST)
            return Command(kind=Kind.LIFT, leg=self._leg(asked.leg), height=height)
        if isinstance(asked, Place | Probe):
            return self._foot(asked)
        return Command(kind=Kind.STAND, height=_height(asked), pose=_pose(asked))

    def _walk(self, asked: Walk) -> Command:
        velocity = (
            _within("forward", asked.forward, FASTEST),
            _within("left", asked.left, FASTEST),
        )
        if asked.seconds is not None and _within("seconds", asked.seconds, LONGEST) <= 0.0:
            raise RequestError("seconds", asked.seconds, "more than 0")
        if asked.gait and asked.gait not in self.gaits:
            near = did_you_mean(asked.gait, self.gaits)
            raise RequestError("gait", asked.gait, f"a gait of this robot. {near}")
        return Command(
            kind=Kind.WALK,
            velocity=velocity,
            turn=_within("turn", asked.turn, QUICKEST),
            gait=self.gaits.get(asked.gait),
            height=_height(asked),
            pose=_pose(asked),
        )

    def _foot(self, asked: Place | Probe) -> Command:
        leg = self._leg(asked.leg)
        if asked.target is not None:
            self._reach(leg, asked.target)
        if isinstance(asked, Place):
            return Command(kind=Kind.PLACE, leg=leg, target=asked.target)
        push = _within("push", asked.push, HARDEST)
        if push <= 0.0:
            raise RequestError("push", push, "more than 0 [N]")
        return Command(kind=Kind.PROBE, leg=leg, target=asked.target, force=push)

    def _reach(self, leg: str, target: tuple[float, float]) -> None:
        """Refuse a place that the leg cannot reach while the robot stands."""
        x, y = (_within("target", value, TALLEST) for value in target)
        chain = self.robot.legs[leg]
        found = chain.reach(np.array([x, y, -self._height]))
        if not found.ok:
            near = chain.foot(found.q)[:2]
            gap = hypot(x - near[0], y - near[1])
            raise RequestError(
                "target", target,
                f"within reach of {leg}: the nearest place, {1e3 * gap:.0f} mm from there, is "
                f"({near[0]:.3f}, {near[1]:.3f}) [m]",
            )  # fmt: skip

    def _leg(self, name: str) -> str:
        if name not in self.legs:
            raise RequestError("leg", name, f"a leg of this robot. {did_you_mean(name, self.legs)}")
        return name

    def _gait(self, name: str) -> Gait:
        own = self.robot.sheet.gait.get(name)
        if own is None:
            return gait_named(name, len(self.legs))
        phases: dict[str | int, float] = {leg: phase for leg, phase in own.phases.items()}
        found = Gait(duty=own.duty, phases=phases, name=name)
        found.phases_of(self.legs)
        return found


def _within(what: str, value: float, most: float) -> float:
    if not isfinite(value) or abs(value) > most:
        raise RequestError(what, value, f"between {-most:g} and {most:g}")
    return float(value)


def _height(asked: Posed) -> float | None:
    if asked.height is None:
        return None
    height = _within("height", asked.height, TALLEST)
    if height <= 0.0:
        raise RequestError("height", height, "more than 0 [m]")
    return height


def _pose(asked: Posed) -> Pose:
    if asked.pose is None:
        return Pose()
    names = ("x", "y", "z", "roll", "pitch", "yaw")
    values = {n: _within(n, v, TALLEST) for n, v in zip(names, asked.pose, strict=True)}
    return Pose(**values)
