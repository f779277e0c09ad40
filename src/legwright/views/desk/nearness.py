"""Where links come nearest to each other over the shown walk, as a block."""

from __future__ import annotations

import numpy as np

from legwright.mechanics.clearance import clearance
from legwright.mechanics.shapes import link_poses
from legwright.views.desk.blocks import Near, Nearness, packed
from legwright.views.desk.shown import Shown

THINNED = 2
"""Every so many samples of the cycle are measured, as the study does."""
AROUND = 0.010
"""Pairs that come within this of the nearest pair, or of what is asked, are told too [m]."""
MOST = 3
"""Pairs that are told."""


def nearness_block(shown: Shown, *, rev: int, case: str) -> bytes:
    """The nearest pairs of links as one binary frame.

    Args:
        shown: The walk.
        rev: Revision of the robot.
        case: Name of the case; empty for a walk of the user's own.

    Returns:
        The frame; no pair where fewer than two links that are no neighbours have a shape.

    Raises:
        RobotError: if a mesh cannot be read.
    """
    robot, poses = shown.robot, shown.case.motion.q[::THINNED]
    wanted = robot.sheet.requirements.link_clearance
    first = clearance(robot, poses, within=(wanted or 0.0) + AROUND)
    if first.nearest is None:
        return packed(_header(rev, case, (), wanted), {"points": np.zeros((0, 2, 3))})
    reach = max(first.nearest.distance, wanted or 0.0) + AROUND
    close = first.close if first.close else clearance(robot, poses, within=reach).close
    told = (close or (first.nearest,))[:MOST]
    points = np.empty((len(told), 2, 3))
    for row, near in enumerate(told):
        placed = link_poses(robot, np.atleast_2d(near.q))
        for end, link in enumerate(near.links):
            pose = placed[link].reshape(-1, 4, 4)[0]
            points[row, end] = pose[:3, :3].T @ (near.points[end] - pose[:3, 3])
    pairs = tuple(
        Near(links=near.links, distance=near.distance, phase=near.sample / len(poses))
        for near in told
    )
    return packed(_header(rev, case, pairs, wanted), {"points": points})


def _header(rev: int, case: str, pairs: tuple[Near, ...], wanted: float | None) -> Nearness:
    return Nearness(rev=rev, case=case, pairs=pairs, wanted=wanted)
