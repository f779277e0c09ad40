"""The ground that the physics world is built on, as one frozen value."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from legwright.errors import RequestError
from legwright.robot.tree import Floats, read_only

LARGEST = 2_000_000
"""Most samples of one height field."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """A rectangle of ground with a grip of its own."""

    x: tuple[float, float]
    """From, to [m]."""
    y: tuple[float, float]
    """From, to [m]."""
    friction: float
    """Coefficient there."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Ground:
    """A height field over x (rows) and y (columns), level beyond its edges as at them."""

    name: str
    heights: Floats
    """(R, C): height at x = start[0] + spacing * row, y = start[1] + spacing * column [m]."""
    spacing: float
    """Between samples [m]."""
    start: tuple[float, float]
    """x, y of heights[0, 0] [m]."""
    friction: float | None = None
    """Coefficient of the ground; the feet's own where None."""
    patches: tuple[Patch, ...] = ()
    stiffness: float | None = None
    """Of the soil under one foot [N/m]; rigid when None."""
    about: str = ""
    """One sentence for people: family, measure, source."""

    def __post_init__(self) -> None:
        """Refuse what is no ground."""
        heights = read_only(self.heights)
        if heights.ndim != 2 or min(heights.shape) < 2:
            raise RequestError("ground heights", heights.shape, "a table of 2 by 2 samples or more")
        if heights.size > LARGEST:
            raise RequestError("ground samples", heights.size, f"at most {LARGEST}")
        if not np.isfinite(heights).all():
            raise RequestError("ground heights", "nan or inf", "finite everywhere")
        if not (np.isfinite(self.spacing) and self.spacing > 0.0):
            raise RequestError("ground spacing", self.spacing, "finite and more than 0 m")
        if not np.isfinite(self.start).all():
            raise RequestError("ground start", self.start, "finite")
        for patch in self.patches:
            if not (np.isfinite(patch.friction) and patch.friction >= 0.0):
                raise RequestError("friction of a patch", patch.friction, "finite and at least 0")
        if self.friction is not None and not (np.isfinite(self.friction) and self.friction >= 0.0):
            raise RequestError("ground friction", self.friction, "finite and at least 0")
        if self.stiffness is not None and not self.stiffness > 0.0:
            raise RequestError("ground stiffness", self.stiffness, "more than 0 N/m")
        object.__setattr__(self, "heights", heights)

    def height(self, x: ArrayLike, y: ArrayLike) -> Floats:
        """Height under points, broadcast [m]; bilinear between samples, level outside."""
        row = (np.asarray(x, dtype=np.float64) - self.start[0]) / self.spacing
        column = (np.asarray(y, dtype=np.float64) - self.start[1]) / self.spacing
        rows, columns = self.heights.shape
        row, column = np.clip(row, 0, rows - 1), np.clip(column, 0, columns - 1)
        i = np.minimum(row.astype(np.int64), rows - 2)
        j = np.minimum(column.astype(np.int64), columns - 2)
        a, b, h = row - i, column - j, self.heights
        low = h[i, j] * (1 - b) + h[i, j + 1] * b
        high = h[i + 1, j] * (1 - b) + h[i + 1, j + 1] * b
        return np.asarray(low * (1 - a) + high * a)

    def friction_at(self, x: ArrayLike, y: ArrayLike, feet: float) -> Floats:
        """Coefficient of friction under points; the later patch wins.

        Args:
            x: [m]
            y: [m]
            feet: Coefficient of the feet's own material, an upper bound everywhere.
        """
        px, py = np.broadcast_arrays(np.asarray(x, np.float64), np.asarray(y, np.float64))
        found = np.full(px.shape, feet if self.friction is None else min(self.friction, feet))
        for patch in self.patches:
            inside: NDArray[np.bool_] = (px >= patch.x[0]) & (px <= patch.x[1])
            inside &= (py >= patch.y[0]) & (py <= patch.y[1])
            found[inside] = min(patch.friction, feet)
        return found
