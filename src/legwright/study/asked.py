"""What is asked of the robot: the sheet's requirements, and what stands in for missing ones."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from legwright.errors import RequestError
from legwright.locomotion.gait import Gait, gait
from legwright.locomotion.stance import Footing
from legwright.mechanics.loading import PointMass
from legwright.robot.robot import Robot

DEFAULT_FRICTION = 0.6
"""Rubber on firm ground; common practice, no published source."""

STRIDES_PER_REACH = 0.25
"""Assumed speed where the sheet asks for none: this share of the foot distance per second."""

Twist = tuple[float, float, float]
"""Forward [m/s], sideways to the left [m/s], turning to the left [rad/s]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Asked:
    """One reading of the requirements, with every gap filled and marked."""

    gaits: tuple[Gait, ...]
    forward: float
    """[m/s]"""
    sideways: float
    """[m/s]"""
    turn: float
    """[rad/s]"""
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

    def directions(self) -> Mapping[str, Twist]:
        """The six ways to go, each at the asked speed."""
        return {
            "forward": (self.forward, 0.0, 0.0),
            "backward": (-self.forward, 0.0, 0.0),
            "left": (0.0, self.sideways, 0.0),
            "right": (0.0, -self.sideways, 0.0),
            "turning left": (0.0, 0.0, self.turn),
            "turning right": (0.0, 0.0, -self.turn),
        }


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

    spread = float(np.median(np.hypot(*(footing.feet[:, :2] - robot.hips[:, :2]).T)))
    radius = float(np.median(np.hypot(*footing.feet[:, :2].T)))
    usual = STRIDES_PER_REACH * max(spread, 0.25 * radius)
    forward = given("speed_forward", usual)
    gaits, refused = [], {}
    for name in wants.gaits:
        try:
            gaits.append(gait(name, legs=len(robot.legs)))
        except RequestError as error:
            refused[name] = str(error)
    payload = given("payload", 0.0)
    voltage, why = _voltage(robot)
    return Asked(
        gaits=tuple(gaits),
        forward=forward,
        sideways=given("speed_sideways", min(usual, forward)),
        turn=given("turn_rate", min(usual, forward) / radius),
        payload=PointMass(mass=payload, at=np.array(wants.payload_at)) if payload else None,
        friction=given("friction", DEFAULT_FRICTION),
        voltage=voltage,
        voltage_why=why,
        ambient=wants.ambient,
        assumed=frozenset(assumed),
        refused=refused,
    )


def _voltage(robot: Robot) -> tuple[float | None, str]:
    battery = robot.sheet.battery
    if battery is None:
        return None, "at each servo's rated voltage (the sheet names no battery)"
    volts = battery.cutoff_voltage
    return volts, f"at {volts:.3g} V, the battery at its cut-off"
