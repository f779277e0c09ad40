"""Grounds by family: pure functions from measures and a seed to a height field."""

from __future__ import annotations

import numpy as np

from legwright.rig.ground import Ground

REACH = 2.0
"""Ground behind and beside the start [m]."""


def flat(*, length: float = 4.0) -> Ground:
    """Level ground.

    Args:
        length: Ahead of the start [m].
    """
    size = np.array([[0.0, 0.0], [0.0, 0.0]])
    return Ground(
        name="flat",
        heights=size,
        spacing=length + REACH,
        start=(-REACH, -0.5 * (length + REACH)),
        about="level ground",
    )
