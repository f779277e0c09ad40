"""Rigid bodies moved and merged."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from legwright.robot.tree import Floats, Solid, read_only


def nothing() -> Solid:
    """A solid without mass."""
    return Solid(mass=0.0, com=read_only(np.zeros(3)), inertia=read_only(np.zeros((3, 3))))


def merged(parts: Iterable[tuple[Floats, Solid]]) -> Solid:
    """One solid from several that hold together.

    Args:
        parts: Pairs of a part's pose in the common frame, (4, 4), and the part.

    Returns:
        Mass, centre of mass and inertia about it, axes of the common frame.

    Source: parallel-axis theorem; Featherstone, Rigid Body Dynamics Algorithms (2008), sec. 2.13.
    """
    kept = [(pose, part) for pose, part in parts if part.mass > 0.0]
    if not kept:
        return nothing()
    poses = np.array([pose for pose, _ in kept])
    turns, places = poses[:, :3, :3], poses[:, :3, 3]
    masses = np.array([part.mass for _, part in kept])
    coms = (turns @ np.array([part.com for _, part in kept])[:, :, None])[:, :, 0] + places
    total = float(masses.sum())
    com = masses @ coms / total
    arms = coms - com
    inertia = (turns @ np.array([part.inertia for _, part in kept]) @ turns.mT).sum(axis=0)
    spread = (masses[:, None] * arms).T @ arms
    inertia += np.trace(spread) * np.eye(3) - spread
    return Solid(mass=total, com=read_only(com), inertia=read_only((inertia + inertia.T) / 2.0))
