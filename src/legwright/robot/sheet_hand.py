"""The build sheet: how a game controller moves the robot."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from legwright.robot.quantities import Number, Part, Speed, Truth, TurnRate

Axis = Literal["left x", "left y", "right x", "right y"]
"""Sticks by side; x to the right, y towards the user, as the pads give them."""

Button = Literal[
    "south", "east", "west", "north", "left shoulder", "right shoulder", "left trigger",
    "right trigger", "back", "start", "left stick", "right stick", "up", "down", "left", "right",
]  # fmt: skip
"""Buttons by place, as the kernel's input layer and the W3C standard gamepad place them."""


class Pad(Part):
    """What the sticks and buttons of a game controller do."""

    forward: Axis = "left y"
    sideways: Axis = "left x"
    turn: Axis = "right x"
    forward_reversed: Truth = False
    """Whether pushing that stick away goes backward."""
    deadman: Button = "right shoulder"
    """The robot walks only while this is held."""
    stop: Button = "east"
    """A stop of category 1: it sits down and switches off."""
    power: Button = "start"
    stand: Button = "south"
    sit: Button = "west"
    next_gait: Button = "north"
    dead_zone: Number = Field(default=0.12, ge=0.0, lt=0.9)
    """Deflection below which a stick counts as released."""
    expo: Number = Field(default=0.5, ge=0.0, le=1.0)
    """Share of the cube in a stick's response: 0 straight, 1 gentle about the middle."""
    speed_forward: Speed | None = None
    """At full deflection; the requirement's speed when not given."""
    speed_sideways: Speed | None = None
    turn_rate: TurnRate | None = None
