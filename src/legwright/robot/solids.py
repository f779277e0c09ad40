"""Rigid bodies moved and merged."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

import numpy as np

from legwright.robot.same_numbers import Alike
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
    return _merged(Alike(kept)) if kept else nothing()


@lru_cache(maxsize=256)
def _merged(by: Alike) -> Solid:
    """The same; remembered, since legs are of one make and an edit leaves most links alone."""
    kept: list[tuple[Floats, Solid]]
    (kept,) = by.args
    masses = np.array([part.mass for _, part in kept])
    coms = np.array([pose[:3, :3] @ part.com + pose[:3, 3] for pose, part in kept])
    total = float(masses.sum())
    com = masses @ coms / total
    inertia = np.zeros((3, 3))
    for (pose, part), mass, at in zip(kept, masses, coms, strict=True):
        arm = at - com
        turn = pose[:3, :3]
        inertia += turn @ part.inertia @ turn.T
        inertia += mass * (arm @ arm * np.eye(3) - np.outer(arm, arm))
    return Solid(mass=total, com=read_only(com), inertia=read_only((inertia + inertia.T) / 2.0))
