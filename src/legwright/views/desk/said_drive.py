"""What the desk tells of the robot that can be driven."""

from __future__ import annotations

from typing import Literal

from msgspec import Struct

from legwright.views.desk.telling import Said


class Hand(Struct, frozen=True, kw_only=True):
    """What sticks and buttons of a game controller do, as the sheet says."""

    forward: str
    """Stick by side: ``left y``."""
    sideways: str
    turn: str
    forward_reversed: bool
    deadman: str
    """Button by place: ``right shoulder``."""
    stop: str
    power: str
    stand: str
    sit: str
    next_gait: str
    dead_zone: float
    """Deflection below which a stick counts as released."""
    expo: float
    """Share of the cube in a stick's response."""
    full: tuple[float, float, float]
    """At full deflection: forward, sideways [m/s], turn [rad/s]."""
    gaits: tuple[str, ...]
    """What is leafed through."""


class RobotState(Said, frozen=True, kw_only=True, tag="robot"):
    """Whether a robot can be driven at ``/robot``."""

    state: Literal["none", "starting", "simulated", "relayed"]
    address: str
    """Where it is; empty for the simulated one."""
    text: str
    """What is in the way."""
    hand: Hand
