"""Reach maps for the side view: what each kind of leg reaches in its own plane."""

from __future__ import annotations

from legwright.locomotion.stance import Footing
from legwright.mechanics.workspace import outline, share_inside
from legwright.robot.robot import Robot
from legwright.study.evidence import ReachMap


def reach_maps(robot: Robot, footing: Footing, *, every: bool = False) -> tuple[ReachMap, ...]:
    """The reachable region of one leg of each row, in the vertical plane through its foot.

    Args:
        robot: The robot.
        footing: Where it stands.
        every: Of every leg.

    Returns:
        Maps of the left legs; of all where no leg is on the left, or all are asked for.
    """
    pairs = list(zip(robot.legs.values(), footing.feet, strict=True))
    left = [(leg, foot) for leg, foot in pairs if every or leg.hip[1] > 0.0] or pairs
    return tuple(
        ReachMap(leg=leg.name, outline=outline(leg, foot=foot), inside=share_inside(leg))
        for leg, foot in left
    )
