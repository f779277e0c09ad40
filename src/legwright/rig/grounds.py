"""Grounds by family: pure functions from measures and a seed to a height field.

All lie ahead of a level pad on which the robot starts, x forward, y to the left. Vertical
faces are one sample wide: as steep as the spacing allows.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from legwright.errors import RequestError
from legwright.rig.ground import Ground, Patch
from legwright.rig.roughness import density, deviation, surface
from legwright.robot.tree import Floats

PAD = 0.5
"""Level ground ahead of the start [m]."""

BEHIND = 1.0
"""Ground behind the start [m]."""

WIDTH = 2.4
"""Of the ground [m]."""

SPACING = 0.01
"""Between samples [m]."""

CELL = 0.09
"""Edge of the cells of `steps` [m]."""

Relief = Callable[[Floats, Floats], Floats]


def flat(*, length: float = 4.0) -> Ground:
    """Level ground.

    Args:
        length: Ahead of the start [m].
    """
    _check("length", length)
    span = length + BEHIND
    return Ground(
        name="flat",
        heights=np.zeros((2, 2)),
        spacing=span,
        start=(-BEHIND, -0.5 * span),
        about="level ground",
    )


def slope(angle: float, *, length: float = 4.0) -> Ground:
    """Level ground, then an even slope.

    Args:
        angle: Of the slope, uphill positive [rad].
        length: Ahead of the start [m].
    """
    if not abs(angle) < 1.4:
        raise RequestError("slope", angle, "between -1.4 and 1.4 rad")
    rise = np.tan(angle)

    def relief(x: Floats, y: Floats) -> Floats:
        return np.asarray(rise * x + 0.0 * y)

    about = f"even slope of {np.degrees(angle):.3g}°"
    return _laid("slope", relief, length, about)


def steps(height: float, *, seed: int, cell: float = CELL, length: float = 4.0) -> Ground:
    """Square cells, each of a random height.

    Args:
        height: Of the highest; heights are spread evenly from 0 to it [m].
        seed: Of the heights.
        cell: Edge of a cell [m].
        length: Ahead of the start [m].
    """
    _check("step height", height)
    _check("cell", cell)
    rows, columns = _cells(length, cell)
    levels = height * np.random.default_rng(seed).uniform(0.0, 1.0, (rows, columns))
    about = f"{1e3 * cell:.3g} mm cells, heights even from 0 to {1e3 * height:.3g} mm"
    return _laid("steps", _celled(levels, cell), length, about)


def step_field(
    post: float = 0.1, *, unit: float | None = None, seed: int = 0, length: float = 4.0
) -> Ground:
    """Posts cut to whole units, symmetric about the middle, in rows of hills.

    Args:
        post: Width of the square posts [m].
        unit: Height of one unit; the post's width when None [m].
        seed: Of the single posts, which stand up to one unit over the hill.
        length: Ahead of the start [m].

    Source: after ASTM E2828 (symmetric step fields; measures from memory) and Jacoff et al.,
    PerMIS 2008: square posts cut to cubic units. The arrangement of the posts is our own.
    """
    _check("post", post)
    unit = post if unit is None else unit
    _check("unit", unit)
    rows, columns = _cells(length, post)
    hill = np.abs((np.arange(rows) + 2) % 4 - 2)[:, None]  # 0 1 2 1 0 ...
    half = (columns + 1) // 2
    extra = np.random.default_rng(seed).integers(0, 2, (rows, half))
    both = np.concatenate([extra, extra[:, : columns - half][:, ::-1]], axis=1)
    about = f"symmetric posts of {1e3 * post:.3g} mm, {1e3 * unit:.3g} mm per unit"
    return _laid("step field", _celled(unit * (hill + both), post), length, about)


def ramps(angle: float = np.radians(15.0), *, tile: float = 1.2, length: float = 4.0) -> Ground:
    """Ramps up and down across the whole width, edge to edge.

    Args:
        angle: Of every ramp [rad].
        tile: Run of one ramp [m].
        length: Ahead of the start [m].

    Source: after ASTM E2826, continuous pitch and roll ramps (15° from memory).
    """
    _check("tile", tile)
    rise = np.tan(_ramp_angle(angle))

    def relief(x: Floats, y: Floats) -> Floats:
        return np.asarray(rise * (tile - np.abs(x % (2.0 * tile) - tile)) + 0.0 * y)

    about = f"{np.degrees(angle):.3g}° ramps of {1e3 * tile:.4g} mm run, up and down"
    return _laid("ramps", relief, length, about)


def crossing_ramps(
    angle: float = np.radians(15.0), *, tile: float = 0.6, length: float = 4.0
) -> Ground:
    """Square ramps that rise forward, left, back and right by turns, with open edges.

    Args:
        angle: Of every ramp [rad].
        tile: Edge of one ramp [m].
        length: Ahead of the start [m].

    Source: after ASTM E2827, crossing pitch and roll ramps (15° from memory).
    """
    _check("tile", tile)
    rise = np.tan(_ramp_angle(angle))

    def relief(x: Floats, y: Floats) -> Floats:
        x, y = np.broadcast_arrays(x, y + 0.5 * tile)
        row, column = np.floor(x / tile).astype(int), np.floor(y / tile).astype(int)
        u, v = x - row * tile, y - column * tile
        faces = [u, v, tile - u, tile - v]
        return np.asarray(rise * np.choose((row + 2 * column) % 4, faces))

    about = f"{np.degrees(angle):.3g}° crossing ramps of {1e3 * tile:.4g} mm"
    return _laid("crossing ramps", relief, length, about)


def rough(roughness: str | float, *, seed: int, length: float = 4.0) -> Ground:
    """Ground of an ISO 8608 class, equally rough in all directions.

    Args:
        roughness: Class letter, or Gd(n0) [m³].
        seed: Of the waves.
        length: Ahead of the start [m].
    """
    _check("length", length)
    gd = density(roughness)
    shape = (len(_axis(-BEHIND, length)), len(_axis(-0.5 * WIDTH, 0.5 * WIDTH)))
    waves = surface(shape, SPACING, gd, seed=seed)
    x = _axis(-BEHIND, length)[:, None]
    fade = np.clip((x - PAD) / 0.4 + 1.0, 0.0, 1.0)  # the pad is level, its edge smooth
    named = f"ISO 8608 class {roughness}" if isinstance(roughness, str) else "ISO 8608 spectrum"
    return Ground(
        name="rough",
        heights=waves * fade**2 * (3.0 - 2.0 * fade),
        spacing=SPACING,
        start=(-BEHIND, -0.5 * WIDTH),
        about=f"{named}, Gd(n0) {1e6 * gd:.4g}e-6 m³, σ {1e3 * deviation(gd):.3g} mm",
    )


def with_patches(
    ground: Ground, low: float, high: float, *, seed: int, count: int = 12, size: float = 0.3
) -> Ground:
    """The same ground with rectangles of another grip strewn over it.

    Args:
        ground: The ground.
        low: Least coefficient of friction.
        high: Greatest.
        seed: Of places and coefficients.
        count: Number of patches.
        size: Edge [m].
    """
    random = np.random.default_rng(seed)
    ahead = ground.start[0] + ground.spacing * (ground.heights.shape[0] - 1)
    patches = []
    for _ in range(count):
        x, y = random.uniform(0.2, max(ahead - size, 0.3)), random.uniform(-0.5, 0.5 - size)
        friction = float(random.uniform(low, high))
        patches.append(Patch(x=(x, x + size), y=(y, y + size), friction=friction))
    about = f"{ground.about}; {count} patches of grip {low:g} to {high:g}"
    return replace(ground, patches=tuple(patches), about=about)


def _check(what: str, value: float) -> None:
    if not (np.isfinite(value) and value > 0.0):
        raise RequestError(what, value, "finite and more than 0 m")


def _ramp_angle(angle: float) -> float:
    if not 0.0 < angle < 1.2:
        raise RequestError("ramp angle", angle, "more than 0 and less than 1.2 rad")
    return float(angle)


def _cells(length: float, cell: float) -> tuple[int, int]:
    """Cells ahead of the pad and across; an odd number across, so that one lies in the middle."""
    _check("length", length)
    across = int(np.ceil(WIDTH / cell)) | 1
    return max(int(np.ceil((length - PAD) / cell)), 1), across


def _celled(levels: Floats, cell: float) -> Relief:
    rows, columns = levels.shape

    def relief(x: Floats, y: Floats) -> Floats:
        row = np.clip(np.floor(x / cell).astype(int), 0, rows - 1)
        column = np.clip(np.floor(y / cell + 0.5 * columns).astype(int), 0, columns - 1)
        return np.asarray(levels[row, column], dtype=np.float64)

    return relief


def _axis(start: float, end: float) -> Floats:
    count = int(np.floor((end - start) / SPACING + 1e-9)) + 1
    return np.asarray(start + SPACING * np.arange(count), dtype=np.float64)


def _laid(name: str, relief: Relief, length: float, about: str) -> Ground:
    """A relief sampled from the pad's edge on; level on the pad and behind."""
    _check("length", length)
    x = _axis(-BEHIND, length)[:, None]
    y = _axis(-0.5 * WIDTH, 0.5 * WIDTH)[None, :]
    heights = np.where(x > PAD, relief(np.maximum(x - PAD, 0.0), y), 0.0)
    return Ground(
        name=name,
        heights=np.asarray(heights, dtype=np.float64),
        spacing=SPACING,
        start=(-BEHIND, -0.5 * WIDTH),
        about=about,
    )
