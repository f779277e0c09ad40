"""Labels beside cables: clear of parts, cables and each other. Pure geometry."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise
from math import cos, hypot, pi, sin

import numpy as np

from legwright.views.harness_layout import Part
from legwright.views.ink import Label, Point
from legwright.views.plane import Ring, bounds_of, crosses, length_of, planes_of


def label_spots(
    sizes: Mapping[str, tuple[float, float]],
    ways: Mapping[str, Sequence[Point]],
    parts: Sequence[Part],
    taken: Sequence[Label],
    bounds: tuple[float, float, float, float],
) -> dict[str, tuple[Label, Point]]:
    """A place for each cable's label, clear of parts, cables and other labels.

    Args:
        sizes: Cable -> width and height of its label [mm].
        ways: Cable -> its way.
        parts: All parts.
        taken: Boxes that are there already.
        bounds: left, top, right, bottom [mm].

    Returns:
        Cable -> box of its label, and the point of the cable that it belongs to; left out
        where no place is free.
    """
    boxes = [*taken, *(Label("", *bounds_of(part.outline)) for part in parts)]
    segments = [pair for way in ways.values() for pair in pairwise(way)]
    found: dict[str, tuple[Label, Point]] = {}
    for name in sorted(ways, key=lambda key: length_of(ways[key])):
        if name not in sizes:
            continue
        for label, point in _label_places(name, ways[name], sizes[name]):
            if label.left < bounds[0] or label.right > bounds[2]:
                continue
            if label.top < bounds[1] or label.bottom > bounds[3]:
                continue
            if any(label.meets(other, gap=0.3) for other in boxes):
                continue
            if any(box_meets(label, a, b) for a, b in segments):
                continue
            found[name] = (label, point)
            boxes.append(label)
            break
    return found


def _label_places(
    name: str, way: Sequence[Point], size: tuple[float, float]
) -> Iterable[tuple[Label, Point]]:
    """Candidates, nearest first: along the way, then farther and farther off it."""
    marks = [_along(way, share) for share in (0.5, 0.35, 0.65, 0.2, 0.8)]
    w, h = size[0] / 2.0, size[1] / 2.0
    for far in (0.9, 2.5, 5.0, 8.0, 12.0, 17.0):
        for x, y in marks:
            for k in range(16):
                angle = 2.0 * pi * k / 16.0
                reach = far + min(w / max(abs(cos(angle)), 1e-9), h / max(abs(sin(angle)), 1e-9))
                cx, cy = x + reach * cos(angle), y + reach * sin(angle)
                yield Label(name, cx - w, cy - h, cx + w, cy + h), (x, y)


def _along(way: Sequence[Point], share: float) -> Point:
    left = share * length_of(way)
    for a, b in pairwise(way):
        side = hypot(b[0] - a[0], b[1] - a[1])
        if left <= side and side > 0.0:
            return (a[0] + left / side * (b[0] - a[0]), a[1] + left / side * (b[1] - a[1]))
        left -= side
    return way[-1]


def box_meets(label: Label, a: Point, b: Point, *, gap: float = 0.3) -> bool:
    """Whether a segment comes into a box, or closer than a gap."""
    corners = [
        (label.left - gap, label.top - gap),
        (label.right + gap, label.top - gap),
        (label.right + gap, label.bottom + gap),
        (label.left - gap, label.bottom + gap),
    ]
    planes = planes_of(Ring(corners).corners)
    return bool(crosses(np.array([a]), np.array([b]), planes)[0])
