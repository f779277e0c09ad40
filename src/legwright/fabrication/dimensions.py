"""Free dimensions: the numbers that may be rounded, and how the legs follow from them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import pi

import numpy as np
from numpy.typing import NDArray

from legwright.errors import RequestError, did_you_mean
from legwright.fabrication.grids import Grid
from legwright.fabrication.layout import (
    ALIKE,
    ANGLE,
    ANGLES,
    COXA,
    FEMUR,
    HEIGHT,
    KINDS,
    LIKE,
    TIBIA,
    Layout,
    X,
    Y,
    near_turn,
)
from legwright.robot.tree import Floats, read_only

SHARED = (HEIGHT, COXA, FEMUR, TIBIA)
"""Measures that all legs have alike where they can."""
MIDDLE = 1e-5
"""A coordinate nearer to 0 than this is held at 0 by the symmetry [m]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Dimension:
    """One number of the layout."""

    key: str
    """``hip_x.front``, ``femur``: kind, and the row of legs where rows differ."""
    today: float
    """[m or rad]"""
    values: tuple[float, ...]
    """Values tried; today's alone where it is pinned [m or rad]."""
    unit: float
    """What counts as one step away from today's [m or rad]."""
    pinned: bool = False

    @property
    def angle(self) -> bool:
        """Whether it is an angle."""
        return self.key.split(".")[0] in ANGLES


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Free:
    """The dimensions of a robot and what each means for the legs."""

    layout: Layout
    dimensions: tuple[Dimension, ...]
    dim: NDArray[np.int64]
    """(L, 7): ordinal of the dimension behind each measure, -1 for none."""
    scale: Floats
    """(L, 7)"""
    base: Floats
    """(L, 7): measure = base + scale * value."""

    def legs(self, values: Sequence[float] | Floats) -> Floats:
        """The layout that dimensions make, (L, 7)."""
        given = np.asarray(values, dtype=np.float64)
        own = np.where(self.dim >= 0, given[np.maximum(self.dim, 0)], 0.0)
        legs = self.base + self.scale * own
        legs[:, ANGLE] = near_turn(legs[:, ANGLE])
        return np.asarray(legs)

    def today(self) -> Floats:
        """Today's values, (D,)."""
        return np.array([dimension.today for dimension in self.dimensions])


def free_dimensions(layout: Layout) -> Free:
    """The dimensions that a layout has, symmetry taken out; nothing is rounded yet.

    Args:
        layout: The layout.

    Returns:
        Dimensions with today's value alone.
    """
    L = len(layout.legs)
    dim = np.full((L, len(KINDS)), -1, dtype=np.int64)
    scale, base = np.zeros((L, len(KINDS))), np.array(layout.values)
    made: list[Dimension] = []
    for kind in (X, Y, ANGLE, HEIGHT, COXA, FEMUR, TIBIA):
        for orbit in _orbits(layout, kind):
            lead = orbit[0][0]
            seen = [sign * (layout.values[leg, kind] - offset) for leg, sign, offset in orbit]
            if kind == ANGLE:
                seen = [seen[0] + _turned(each - seen[0]) for each in seen]
            value = float(np.mean(seen))
            for leg, sign, offset in orbit:
                base[leg, kind] = offset if kind == ANGLE else 0.0
                scale[leg, kind] = sign
                dim[leg, kind] = len(made)
            if _held(layout, kind, lead, value):
                for leg, sign, _ in orbit:
                    base[leg, kind] += sign * value
                    dim[leg, kind], scale[leg, kind] = -1, 0.0
                continue
            key = KINDS[kind] + _row(layout, kind, orbit)
            made.append(Dimension(key=key, today=value, values=(value,), unit=1.0, pinned=True))
    order = _listed(layout, made)
    renumber = np.array([order.index(k) for k in range(len(made))] + [-1], dtype=np.int64)
    return Free(
        layout=layout,
        dimensions=tuple(made[k] for k in order),
        dim=renumber[dim],
        scale=read_only(scale),
        base=read_only(base),
    )


def _turned(angle: float) -> float:
    return float((angle + pi) % (2.0 * pi) - pi)


def _listed(layout: Layout, made: Sequence[Dimension]) -> list[int]:
    """Rows of hips first, each with x, y and angle; then height and segments."""
    rows = list(dict.fromkeys(_plain(name) for name in layout.legs))
    kinds = ("hip_x", "hip_y", "hip_angle", "hip_height", "coxa", "femur", "tibia")

    def rank(index: int) -> tuple[int, int, int]:
        kind, _, row = made[index].key.partition(".")
        at = rows.index(row) if row in rows else len(rows) * (row in layout.legs)
        hips = kind in kinds[:3]
        return (0 if hips else 1, at if hips else kinds.index(kind), kinds.index(kind) + at)

    return sorted(range(len(made)), key=rank)


def _plain(name: str) -> str:
    """A leg's row: its name without the side."""
    for side in ("left-", "right-"):
        if name.startswith(side):
            return name[len(side) :]
    return {"left": "pair", "right": "pair"}.get(name, name)


Follower = tuple[int, float, float]
"""A leg, and its measure as sign * value + offset."""


def _orbits(layout: Layout, kind: int) -> list[list[Follower]]:
    """Legs that share one value of a measure; the first of the left side leads."""
    L = len(layout.legs)
    if kind in SHARED and np.ptp(layout.values[:, kind]) < LIKE:
        return [[(leg, 1.0, 0.0) for leg in range(L)]]
    left = sorted(range(L), key=lambda leg: (layout.values[leg, Y] < -MIDDLE, leg))
    done: set[int] = set()
    orbits: list[list[Follower]] = []
    for leg in left:
        if leg in done:
            continue
        orbit = _orbit(layout, kind, leg)
        done |= {each[0] for each in orbit}
        if kind == HEIGHT and np.ptp(layout.values[[each[0] for each in orbit], kind]) > LIKE:
            orbits += [[(each[0], 1.0, 0.0)] for each in orbit]  # heights as different as today
        else:
            orbits.append(orbit)
    return orbits


def _orbit(layout: Layout, kind: int, leg: int) -> list[Follower]:
    """A leg and its images on the other side and at the other end."""
    orbit: list[Follower] = [(leg, 1.0, 0.0)]
    image = layout.mirror[leg]
    if image != leg:
        orbit.append((image, -1.0 if kind in (Y, ANGLE) else 1.0, 0.0))
    if layout.swap is not None and layout.swap[leg] not in {leg, image}:
        for other, sign, offset in list(orbit):
            far = layout.swap[other]
            if kind == X:
                orbit.append((far, -sign, -offset))
            elif kind == ANGLE:
                orbit.append((far, -sign, pi - offset))
            else:
                orbit.append((far, sign, offset))
    return orbit


def _held(layout: Layout, kind: int, lead: int, value: float) -> bool:
    """Whether symmetry, or being nothing at all, holds a measure where it is."""
    alone = layout.swap is not None and layout.swap[lead] in {lead, layout.mirror[lead]}
    if kind == X and alone:
        return True
    if kind == ANGLE and alone and layout.mirror[lead] != lead:
        return abs(abs(value) - pi / 2.0) < ALIKE
    if layout.mirror[lead] == lead and kind in (Y, ANGLE):
        return True
    return kind in (X, Y, COXA) and abs(value) < MIDDLE


def _row(layout: Layout, kind: int, orbit: Sequence[Follower]) -> str:
    """What tells apart dimensions of one kind: the row of legs, or the leg."""
    lead = orbit[0][0]
    if kind in SHARED and len(orbit) == len(layout.legs):
        return ""
    if kind == HEIGHT and len(orbit) == 1 and layout.mirror[lead] != lead:
        return "." + layout.legs[lead]
    row = _plain(layout.legs[lead])
    if row in layout.legs and layout.mirror[lead] != lead:
        row = layout.legs[lead]  # a leg on the centre line bears the row's plain name
    return "." + row


def gridded(
    free: Free,
    grids: Mapping[str, Grid],
    *,
    spread: int,
    pins: Mapping[str, float | None],
) -> Free:
    """The dimensions with the values that a search may give them.

    Args:
        free: The dimensions.
        grids: Kind or key -> grid; the key goes before the kind.
        spread: Allowed values on either side of today's.
        pins: Kind or key -> value to hold [m or rad]; None for today's.

    Returns:
        The same with `Dimension.values` filled.

    Raises:
        RequestError: for an unknown key.
    """
    known = [dimension.key for dimension in free.dimensions]
    kinds = {key.split(".")[0] for key in known}
    for what, names in (("pin", pins), ("rounding.grids", grids)):
        for name in names:
            if (
                name not in known
                and name not in kinds
                and not (what == "rounding.grids" and name in KINDS)
            ):
                raise RequestError(what, name, f"a dimension of this robot: {', '.join(known)}. "
                                   + did_you_mean(name, [*known, *kinds]))  # fmt: skip
    return replace(
        free,
        dimensions=tuple(_gridded(each, grids, spread, pins) for each in free.dimensions),
    )


def _gridded(
    one: Dimension, grids: Mapping[str, Grid], spread: int, pins: Mapping[str, float | None]
) -> Dimension:
    kind = one.key.split(".")[0]
    grid = grids.get(one.key) or grids.get(kind)
    for name in (one.key, kind):
        if name in pins:
            held = pins[name]
            value = one.today if held is None else held
            unit = _step(grid, value) if grid else max(abs(one.today), 1e-3)
            return replace(one, values=(value,), unit=unit, pinned=True)
    if grid is None:
        raise RequestError("grid", one.key, "given for every dimension that is not pinned")
    values = grid.around(one.today, spread, positive=kind in ("femur", "tibia"))
    return replace(one, values=values, unit=_step(grid, one.today), pinned=False)


def _step(grid: Grid, value: float) -> float:
    """Distance of the grid's values about a value."""
    if grid.step is not None:
        return grid.step
    near = grid.around(value, 1, positive=False)
    return max((near[-1] - near[0]) / max(len(near) - 1, 1), 1e-6)
