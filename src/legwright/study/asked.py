"""What is asked of the robot: the sheet's requirements, and what stands in for missing ones."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from legwright.errors import RequestError
from legwright.locomotion.gait import FEWEST_LEGS, Gait, gait
from legwright.locomotion.stance import Footing
from legwright.mechanics.loading import PointMass
from legwright.mechanics.loads import ASSUMED_FRICTION
from legwright.robot.robot import Robot

STRIDES_PER_REACH = 0.25
"""Assumed speed where the sheet asks for none: this share, per second, of the foot distance or
of the distance between neighbouring hips, whichever is less."""

Twist = tuple[float, float, float]
"""Forward [m/s], sideways to the left [m/s], turning to the left [rad/s]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Speeds:
    """What is asked of one gait; None: not asked."""

    forward: float
    """[m/s]; assumed where the sheet asks for none."""
    sideways: float | None
    """[m/s]"""
    turn: float | None
    """[rad/s]"""
    forward_asked: bool
    """Whether the sheet asks for the forward speed."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Asked:
    """One reading of the requirements, with every gap filled and marked."""

    gaits: tuple[Gait, ...]
    speeds: Mapping[str, Speeds]
    """Gait name -> what is asked of it."""
    payload: PointMass | None
    friction: float
    voltage: float | None
    """At which the torque-speed lines are taken [V]; None: each servo's rated voltage."""
    voltage_why: str
    ambient: float
    """[K]"""
    assumed: frozenset[str] = frozenset()
    """Keys of the sheet that are missing and were filled in."""
    refused: Mapping[str, str] = field(default_factory=dict)
    """Gait name -> why this robot cannot walk it."""

    def directions(self, gait: Gait) -> Mapping[str, tuple[Gait, Twist]]:
        """The ways to go that are asked of a gait, each at the asked speed.

        Going backward reverses the gait in time, so that its swings still run from the rear
        of the motion to its front.
        """
        speeds = self.speeds[gait.name]
        ways: dict[str, tuple[Gait, Twist]] = {
            "forward": (gait, (speeds.forward, 0.0, 0.0)),
            "backward": (gait.reversed(), (-speeds.forward, 0.0, 0.0)),
        }
        if speeds.sideways is not None:
            ways["left"] = gait, (0.0, speeds.sideways, 0.0)
            ways["right"] = gait, (0.0, -speeds.sideways, 0.0)
        if speeds.turn is not None:
            ways["turning left"] = gait, (0.0, 0.0, speeds.turn)
            ways["turning right"] = gait, (0.0, 0.0, -speeds.turn)
        return ways


@lru_cache(maxsize=4)
def asked_of(robot: Robot, footing: Footing) -> Asked:
    """Read the requirements of a robot's sheet and fill the gaps.

    Args:
        robot: The robot.
        footing: Where it stands; scales the speeds that stand in for missing ones.

    Returns:
        What is asked, with the missing keys named in `Asked.assumed`.
    """
    wants = robot.sheet.requirements
    assumed: set[str] = set()

    def given(key: str, instead: float) -> float:
        value = getattr(wants, key)
        if value is None:
            assumed.add(f"requirements.{key}")
            return instead
        return float(value)

    gaits, refused = _gaits(robot)
    spread = float(np.median(np.hypot(*(footing.feet[:, :2] - robot.hips[:, :2]).T)))
    radius = float(np.median(np.hypot(*footing.feet[:, :2].T)))
    gaps = np.linalg.norm(robot.hips[:, None, :2] - robot.hips[None, :, :2], axis=2)
    apart = float(np.min(gaps + np.diag(np.full(len(gaps), np.inf))))
    usual = STRIDES_PER_REACH * min(max(spread, 0.25 * radius), max(apart, 0.2 * radius))
    payload = given("payload", 0.0)
    voltage, why = _voltage(robot)
    return Asked(
        gaits=gaits,
        speeds={gait.name: _speeds(robot, gait, usual) for gait in gaits},
        payload=PointMass(mass=payload, at=np.array(wants.payload_at)) if payload else None,
        friction=given("friction", ASSUMED_FRICTION),
        voltage=voltage,
        voltage_why=why,
        ambient=wants.ambient,
        assumed=frozenset(assumed),
        refused=refused,
    )


def _gaits(robot: Robot) -> tuple[tuple[Gait, ...], dict[str, str]]:
    """The gaits to walk, and why others cannot be."""
    wants, legs = robot.sheet.requirements, len(robot.legs)
    names = wants.gaits
    if "gaits" not in wants.model_fields_set and legs <= FEWEST_LEGS:
        names = tuple(name for name in names if name != "tripod")  # its margin is 0 at best
    found, refused = [], {}
    for name in names:
        own = robot.sheet.gait.get(name)
        try:
            chosen = (
                gait(name, legs=legs)
                if own is None
                else Gait(
                    duty=own.duty,
                    phases={str(leg): phase for leg, phase in own.phases.items()},
                    name=name,
                )
            )
            chosen.phases_of(tuple(robot.legs))
            found.append(chosen)
        except RequestError as error:
            refused[name] = str(error)
    return tuple(found), refused


def _speeds(robot: Robot, gait: Gait, usual: float) -> Speeds:
    """What the sheet asks of a gait; slow gaits are assumed to walk slowly."""
    wants = robot.sheet.requirements
    own = wants.by_gait.get(gait.name)

    def asked(key: str) -> float | None:
        special = None if own is None else getattr(own, key)
        value = getattr(wants, key) if special is None else special
        return None if value is None else float(value)

    forward = asked("speed_forward")
    return Speeds(
        forward=usual * min(1.0, 2.0 * (1.0 - gait.duty)) if forward is None else forward,
        sideways=asked("speed_sideways"),
        turn=asked("turn_rate"),
        forward_asked=forward is not None,
    )


def _voltage(robot: Robot) -> tuple[float | None, str]:
    battery = robot.sheet.battery
    if battery is None:
        return None, "at each servo's rated voltage (the sheet names no battery)"
    volts = battery.cutoff_voltage
    return volts, f"at {volts:.3g} V, the battery at its cut-off"
