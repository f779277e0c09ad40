"""Clearance over the ground: trunk, knees, and the height that a swinging leg clears."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from legwright.mechanics.ground import parts_of
from legwright.mechanics.motion import Motion
from legwright.mechanics.pose import rotations
from legwright.mechanics.riding import hulls_of
from legwright.mechanics.shapes import link_poses, lowest
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats


@dataclass(frozen=True, slots=True)
class Low:
    """The lowest that something comes."""

    height: float
    """Over the ground [m]; negative below it; inf where there is nothing to measure."""
    link: str
    sample: int


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Swing:
    """What a swinging leg clears."""

    lift: float
    """Greatest height of the foot point over its own stance height [m]; 0 without swing."""
    obstacle: float
    """Height, at the top of the swing, of the lowest point of foot and lower leg [m]: an
    obstacle under the foot there may be that high."""
    sample: int
    """The top of the swing; -1 without swing."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class GroundClearance:
    """Heights over the ground plane through one cycle."""

    trunk: Low
    """Of everything that moves with the body: trunk and mast."""
    upper: Mapping[str, Low]
    """Leg -> lowest of its links above the last moving one: coxa, femur, knee."""
    swing: Mapping[str, Swing]
    """Leg -> what it clears."""

    @property
    def obstacle(self) -> float:
        """Height that every swinging leg clears [m]; inf if none swings."""
        heights = [leg.obstacle for leg in self.swing.values() if leg.sample >= 0]
        return min(heights, default=np.inf)


def ground_clearance(robot: Robot, motion: Motion) -> GroundClearance:
    """Heights of the robot's shapes over the ground through a cycle.

    The ground lies where the standing feet end: at the foot points, less the rounding of the
    foot where its sphere reaches below them.

    Args:
        robot: The robot.
        motion: The sampled cycle.

    Returns:
        GroundClearance.

    Raises:
        RobotError: if a mesh cannot be read.

    Source: lowest points of convex shapes along a direction (support functions), textbook.
    """
    up = rotations(motion.body[:, 3:])[:, 2, :]  # the ground's normal in body axes
    heights = _heights(robot, motion, up)
    parts = parts_of(robot)
    feet = motion.body[:, 2, None] + np.einsum("ti,tli->tl", up, motion.feet)
    legs = tuple(robot.legs)
    low = [_least(heights, parts.last[name], len(up)) for name in legs]
    ground = _ground(robot, motion.contact, feet, np.stack(low, axis=1))
    swing = {}
    for index, name in enumerate(legs):
        whole = np.minimum(low[index], _least(heights, parts.upper[name], len(up)))
        swing[name] = _swing(feet[:, index], motion.contact[:, index], whole - ground)
    return GroundClearance(
        trunk=_low(heights, parts.trunk, ground),
        upper=MappingProxyType({name: _low(heights, parts.upper[name], ground) for name in legs}),
        swing=MappingProxyType(swing),
    )


def _heights(robot: Robot, motion: Motion, up: Floats) -> dict[str, Floats]:
    """Lowest point of every link that has shapes, over z = 0 of the ground frame, (T,) [m]."""
    hulls, height = hulls_of(robot), motion.body[:, 2]
    result: dict[str, Floats] = {}
    if hulls is not None:
        for name, low in zip(
            hulls.links, hulls.lowest(robot, motion.q, up).T + height, strict=True
        ):
            result[name] = np.minimum(result[name], low) if name in result else low
        return result
    poses = link_poses(robot, motion.q)
    for name, link in robot.tree.links.items():
        shapes = [lowest(shape, poses[name], up) for shape in link.shapes]
        if shapes:
            result[name] = np.min(shapes, axis=0) + height
    return result


def _least(heights: dict[str, Floats], links: list[str], samples: int) -> Floats:
    """Lowest of several links, (T,) [m]; inf where none has shapes."""
    found = [heights[link] for link in links if link in heights]
    return np.min(found, axis=0) if found else np.full(samples, np.inf)


def _ground(robot: Robot, contact: NDArray[np.bool_], feet: Floats, low: Floats) -> float:
    """Height of the ground in its own frame: where the standing feet end [m].

    A foot ends at its foot point, or below it by its rounding if its shapes do reach there;
    what else of the shapes reaches lower is drawn too coarsely and does not count.
    """
    radius = np.array([leg.chain.foot_radius for leg in robot.legs.values()])
    drawn = np.where(np.isfinite(low), low, feet - radius)
    ends = np.clip(drawn, feet - radius, feet)
    return float(np.max(ends[contact])) if contact.any() else 0.0


def _low(heights: dict[str, Floats], links: list[str], ground: float) -> Low:
    """The lowest that any of several links comes."""
    found = [
        (float(heights[link].min()) - ground, link, int(heights[link].argmin()))
        for link in links
        if link in heights
    ]
    return Low(*min(found)) if found else Low(np.inf, "", -1)


def _swing(foot: Floats, contact: NDArray[np.bool_], over: Floats) -> Swing:
    """What one leg clears: heights of its foot point and of its lowest point, (T,) each."""
    if contact.all():
        return Swing(lift=0.0, obstacle=0.0, sample=-1)
    stance = float(foot[contact].max()) if contact.any() else 0.0
    top = int(np.where(contact, -np.inf, foot).argmax())
    obstacle = float(over[top]) if np.isfinite(over[top]) else float(foot[top]) - stance
    return Swing(lift=float(foot[top]) - stance, obstacle=obstacle, sample=top)
