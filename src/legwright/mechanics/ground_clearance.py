"""Clearance over the ground: trunk, knees, and the height that a swinging leg clears."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from legwright.mechanics.ground import parts_of
from legwright.mechanics.motion import Motion
from legwright.mechanics.pose import upward
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
    return ground_clearances(robot, [motion])[0]


def ground_clearances(robot: Robot, motions: Sequence[Motion]) -> list[GroundClearance]:
    """As `ground_clearance`, of several cycles at once.

    Args:
        robot: The robot.
        motions: Cycles.

    Returns:
        One for each.

    Raises:
        RobotError: if a mesh cannot be read.
    """
    found: dict[int, GroundClearance] = {}
    lengths = [len(motion.t) for motion in motions]
    for length in dict.fromkeys(lengths):
        which = [at for at, other in enumerate(lengths) if other == length]
        found |= zip(which, _of_one_length(robot, [motions[at] for at in which]), strict=True)
    return [found[at] for at in range(len(motions))]


def _of_one_length(robot: Robot, motions: Sequence[Motion]) -> Iterator[GroundClearance]:
    """Of M cycles of T samples each; arrays have one row for each shape or leg, (.., M, T)."""
    q = np.concatenate([motion.q for motion in motions])
    body = np.concatenate([motion.body for motion in motions])
    contact = np.stack([motion.contact for motion in motions])
    up = upward(body[:, 3:])  # the ground's normal in body axes
    links, flat = _heights(robot, q, body[:, 2], up)
    heights = flat.reshape(len(flat), len(motions), -1)
    rows = _rows(robot, links)
    points = np.concatenate([motion.feet for motion in motions])
    feet = (body[:, 2, None] + np.einsum("ti,tli->tl", up, points)).reshape(contact.shape)
    low = _least(heights, rows.last)
    ground = _ground(robot, contact, feet, np.moveaxis(low, 0, -1))
    whole = np.minimum(low, _least(heights, rows.upper)) - ground[:, None]
    swings = _swings(feet, contact, np.moveaxis(whole, 0, -1))
    lowest_of, when = heights.min(axis=2).tolist(), heights.argmin(axis=2).tolist()
    for at, level in enumerate(ground.tolist()):

        def lows(of: list[int], at: int = at, level: float = level) -> Low:
            found = [(lowest_of[row][at] - level, links[row], when[row][at]) for row in of]
            return Low(*min(found)) if found else Low(np.inf, "", -1)

        yield GroundClearance(
            trunk=lows(rows.trunk),
            upper=MappingProxyType(dict(zip(robot.legs, map(lows, rows.upper), strict=True))),
            swing=MappingProxyType(dict(zip(robot.legs, swings[at], strict=True))),
        )


def _heights(robot: Robot, q: Floats, height: Floats, up: Floats) -> tuple[tuple[str, ...], Floats]:
    """The link of every shape, and its lowest point over z = 0 of the ground frame, (S, T) [m]."""
    hulls = hulls_of(robot)
    if hulls is not None:
        return hulls.links, np.ascontiguousarray(hulls.lowest(robot, q, up).T) + height
    poses = link_poses(robot, q)
    shapes = [(name, shape) for name, link in robot.tree.links.items() for shape in link.shapes]
    found = [lowest(shape, poses[name], up) + height for name, shape in shapes]
    return tuple(name for name, _ in shapes), np.array(found).reshape(len(found), len(up))


class Rows(NamedTuple):
    """Which rows of heights belong to what; leg by leg."""

    trunk: list[int]
    last: list[list[int]]
    upper: list[list[int]]


@lru_cache(maxsize=4)
def _rows(robot: Robot, links: tuple[str, ...]) -> Rows:
    parts = parts_of(robot)

    def rows(of: Sequence[str]) -> list[int]:
        return [row for row, link in enumerate(links) if link in of]

    return Rows(
        trunk=rows(parts.trunk),
        last=[rows(parts.last[name]) for name in robot.legs],
        upper=[rows(parts.upper[name]) for name in robot.legs],
    )


def _least(heights: Floats, rows: list[list[int]]) -> Floats:
    """Lowest of several rows for each leg, (L, M, T) [m]; inf where none has shapes."""
    least = np.full((len(rows), *heights.shape[1:]), np.inf)
    for found, own in zip(least, rows, strict=True):
        for row in own:
            np.minimum(found, heights[row], out=found)
    return least


def _ground(robot: Robot, contact: NDArray[np.bool_], feet: Floats, low: Floats) -> Floats:
    """Height of the ground in its own frame: where the standing feet end, (M,) [m].

    A foot ends at its foot point, or below it by its rounding if its shapes do reach there;
    what else of the shapes reaches lower is drawn too coarsely and does not count.
    """
    radius = np.array([leg.chain.foot_radius for leg in robot.legs.values()])
    drawn = np.where(np.isfinite(low), low, feet - radius)
    ends = np.clip(drawn, feet - radius, feet)
    stands = contact.any(axis=(1, 2))
    return np.where(stands, np.where(contact, ends, -np.inf).max(axis=(1, 2)), 0.0)


def _swings(feet: Floats, contact: NDArray[np.bool_], over: Floats) -> list[list[Swing]]:
    """What each leg clears in each cycle: heights of foot points and lowest points, (M, T, L)."""
    tops = np.where(contact, -np.inf, feet).argmax(axis=1)
    lifts = np.take_along_axis(feet, tops[:, None], axis=1)[:, 0]
    stances = np.where(contact, feet, -np.inf).max(axis=1)
    lifts = lifts - np.where(stances > -np.inf, stances, 0.0)
    heights = np.take_along_axis(over, tops[:, None], axis=1)[:, 0]
    heights = np.where(np.isfinite(heights), heights, lifts)
    still = np.all(contact, axis=1)
    tables = (still.tolist(), lifts.tolist(), heights.tolist(), tops.tolist())
    return [
        [
            Swing(lift=0.0, obstacle=0.0, sample=-1)
            if stays
            else Swing(lift=lift, obstacle=height, sample=top)
            for stays, lift, height, top in zip(*rows, strict=True)
        ]
        for rows in zip(*tables, strict=True)
    ]
