"""One moment of a run as a line drawing on pixels: needs no graphics stack and no engine."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from legwright.rig.scenery import Scenery
from legwright.robot.tree import Floats
from legwright.views.lettering import Face, font_file
from legwright.views.tokens import LIGHT

if TYPE_CHECKING:
    from PIL import ImageDraw, ImageFont

FINER = 2
"""Drawn so many times larger, then made smaller: smooth lines."""
FACE = 1e-10
"""Faces smaller than this are seen edge on [m²]."""
STEP_EDGE = 0.004
"""Height difference across one cell that is drawn as an edge [m]."""
ARROW = 90.0
"""Length of a force arrow as long as the robot is heavy [px]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Camera:
    """A parallel projection onto pixels."""

    right: Floats
    down: Floats
    near: Floats
    look_at: Floats
    """(3,): world point in the picture's middle [m]."""
    scale: float
    """Pixels per metre."""
    middle: tuple[float, float]
    """Where `look_at` lies [px]."""

    def flat(self, points: Floats) -> Floats:
        """(..., 3) world [m] -> (..., 2) [px]."""
        gone = points - self.look_at
        x = self.middle[0] + self.scale * (gone @ self.right)
        y = self.middle[1] + self.scale * (gone @ self.down)
        return np.stack([x, y], axis=-1)


def axes(azimuth: float, elevation: float) -> tuple[Floats, Floats, Floats]:
    """Right, down and towards the viewer.

    Args:
        azimuth: Where the viewer stands, from ahead to the left [rad].
        elevation: Over the horizon [rad].
    """
    ca, sa, ce, se = np.cos(azimuth), np.sin(azimuth), np.cos(elevation), np.sin(elevation)
    near = np.array([ca * ce, sa * ce, se])
    right = np.array([-sa, ca, 0.0])
    return right, np.cross(right, near), near


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Moment:
    """What is so at one moment."""

    time: float
    poses: Floats
    """(B, 7) of the links."""
    loads: Floats | None
    """(L,): force on each foot, true or else felt [N]."""
    stands: Sequence[bool]
    """Whether each foot stands: true or else felt."""


def placed(scenery: Scenery, poses: Floats) -> list[Floats]:
    """Corner points of every part in the world, each (N, 3) [m]."""
    turns = _matrices(poses[:, 3:])
    return [part.solid[0] @ turns[part.link].T + poses[part.link, :3] for part in scenery.parts]


def tips(scenery: Scenery, points: Sequence[Floats], legs: int) -> Floats:
    """The lowest corner of each leg, (L, 3): where its foot touches [m]."""
    found = np.full((legs, 3), np.nan)
    for part, corners in zip(scenery.parts, points, strict=True):
        if part.leg >= 0:
            low = corners[corners[:, 2].argmin()]
            if not found[part.leg, 2] <= low[2]:
                found[part.leg] = low
    return found


def draw_ground(pen: ImageDraw.ImageDraw, camera: Camera, scenery: Scenery, reach: float) -> None:
    """Cells from far to near in sheet colour, steps edged, a hair line every 0.1 m."""
    spacing, (x0, y0) = scenery.spacing, scenery.start
    rows, columns = scenery.heights.shape
    first = max(int((camera.look_at[0] - reach - x0) / spacing), 0)
    last = min(int((camera.look_at[0] + reach - x0) / spacing), rows - 1)
    left = max(int((camera.look_at[1] - reach - y0) / spacing), 0)
    right = min(int((camera.look_at[1] + reach - y0) / spacing), columns - 1)
    if last - first < 1 or right - left < 1:
        return
    i, j = np.arange(first, last + 1), np.arange(left, right + 1)
    corners = np.stack(
        [
            np.broadcast_to(x0 + spacing * i[:, None], (len(i), len(j))),
            np.broadcast_to(y0 + spacing * j[None, :], (len(i), len(j))),
            scenery.heights[first : last + 1, left : right + 1],
        ],
        axis=-1,
    )
    flat = camera.flat(corners)
    heights = corners[..., 2]
    cells = np.stack([flat[:-1, :-1], flat[1:, :-1], flat[1:, 1:], flat[:-1, 1:]], axis=2)
    high = np.stack(
        [heights[:-1, :-1], heights[1:, :-1], heights[1:, 1:], heights[:-1, 1:]], axis=2
    )
    steep = np.ptp(high, axis=2) > STEP_EDGE
    low = high.max(axis=2) <= heights.min() + 1e-6  # hides nothing: the paper shows through
    ahead = corners[:-1, :-1, :2] @ camera.near[:2]
    every = max(round(0.1 / spacing), 1)
    order = np.dstack(np.unravel_index(np.argsort(ahead, axis=None), ahead.shape))[0]
    polygons, far, wide = cells.reshape(*cells.shape[:2], 8).tolist(), i.tolist(), j.tolist()
    for a, b in order.tolist():
        shape = polygons[a][b]
        if not low[a, b]:
            pen.polygon(shape, fill=LIGHT.tint if steep[a, b] else LIGHT.sheet)
        if steep[a, b]:
            pen.line([*shape, *shape[:2]], fill=LIGHT.hair)
            continue
        if far[a] % every == 0:
            pen.line(shape[:2] + shape[6:], fill=LIGHT.hair)
        if wide[b] % every == 0:
            pen.line(shape[:4], fill=LIGHT.hair)


def draw_robot(
    pen: ImageDraw.ImageDraw, camera: Camera, scenery: Scenery, moment: Moment, *,
    names: Sequence[str] = (), weight: float = np.inf, ink: str = LIGHT.ink,
) -> None:  # fmt: skip
    """Silhouettes laid from far to near: standing legs thick, lifted ones thin and grey.

    Args:
        pen: Where to draw.
        camera: From where.
        scenery: The robot.
        moment: How it stands.
        names: Of the legs; where given, feet are marked, named and their force is drawn.
        weight: Of the robot [N].
        ink: Colour of standing legs and trunk.
    """
    points = placed(scenery, moment.poses)
    links: dict[int, list[int]] = {}
    for index, part in enumerate(scenery.parts):
        links.setdefault(part.link, []).append(index)
    depth = {
        link: max(float((points[k] @ camera.near).mean()) for k in own)
        for link, own in links.items()
    }
    found = tips(scenery, points, len(names)) if names else np.zeros((0, 3))
    feet = {leg: float(found[leg] @ camera.near) for leg in range(len(names))}
    covers: list[tuple[float, int, list[float]]] = []
    for link in sorted(links, key=lambda one: depth[one]):
        leg = scenery.parts[links[link][0]].leg
        lifted = leg >= 0 and not moment.stands[leg]
        colour, line = (LIGHT.line, 1) if lifted else (ink, 2)
        shapes = [camera.flat(points[k]) for k in links[link]]
        faces = [scenery.parts[k].solid[1] for k in links[link]]
        hulls = _draw_link(pen, shapes, faces, colour, line * FINER, camera.scale)
        covers += [(depth[link], leg, hull) for hull in hulls]
    for leg, name in enumerate(names):
        spot = camera.flat(found[leg])
        hidden = any(
            deep > feet[leg] and own != leg and _inside(spot, hull) for deep, own, hull in covers
        )
        if np.isfinite(spot).all() and not hidden:
            load = 0.0 if moment.loads is None else float(np.nan_to_num(moment.loads[leg]))
            _draw_foot(pen, spot, name, load, bool(moment.stands[leg]), weight)


def _draw_link(
    pen: ImageDraw.ImageDraw, shapes: Sequence[Floats],
    faces: Sequence[Sequence[Sequence[int]]], colour: str, line: int, scale: float,
) -> list[list[float]]:  # fmt: skip
    """One link: all silhouettes, faces in sheet colour over them, inner edges fine."""
    hulls = [_hull(shape) for shape in shapes]
    for hull in hulls:
        pen.line([*hull, *hull[:4]], fill=colour, width=2 * line, joint="curve")
    for hull, shape, flat in zip(hulls, shapes, faces, strict=True):
        pen.polygon(hull, fill=LIGHT.sheet)
        for face in flat:
            edge = shape[list(face)]
            x, y = edge[:, 0], edge[:, 1]
            area = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
            if area < -FACE * scale**2:
                ring = edge.ravel().tolist()
                pen.line([*ring, *ring[:2]], fill=colour, width=max(FINER // 2, 1))
    return hulls


def _draw_foot(
    pen: ImageDraw.ImageDraw, spot: Floats, name: str, load: float, stands: bool, weight: float
) -> None:
    """A filled dot where a foot stands, an open one where it flies; force as a thin arrow."""
    k, letters = FINER, font(12 * FINER)
    x, y = float(spot[0]), float(spot[1])
    size = (3.8 if stands else 3.2) * k
    if load > 0.02 * weight:
        foot, head = y + size, y + size + 7 * k
        pen.line([x, foot, x, head + ARROW * k * load / weight], fill=LIGHT.ink, width=k)
        pen.polygon([x, foot, x - 2.4 * k, head, x + 2.4 * k, head], fill=LIGHT.ink)
        pen.text((x + 5 * k, foot + 6 * k), f"{load:.0f} N", fill=LIGHT.ink, font=letters)
    box = [x - size, y - size, x + size, y + size]
    if stands:
        pen.ellipse(box, fill=LIGHT.ink)
    else:
        pen.ellipse(box, fill=LIGHT.sheet, outline=LIGHT.line, width=k)
    colour = LIGHT.ink if stands else LIGHT.ink2
    pen.text((x - 9 * k, y + 2 * k), name, fill=colour, font=letters, anchor="rm")


def _inside(spot: Floats, hull: Sequence[float]) -> bool:
    """Whether a point lies in a convex polygon x, y, x, y and so on."""
    ring = np.array(hull).reshape(-1, 2)
    along = np.roll(ring, -1, axis=0) - ring
    gone = spot - ring
    side = along[:, 0] * gone[:, 1] - along[:, 1] * gone[:, 0]
    return bool((side >= 0.0).all() or (side <= 0.0).all())


@lru_cache(maxsize=16)
def font(size: int, strong: bool = False) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    """The lettering face at a size in pixels; Pillow's own where it is not installed."""
    from PIL import ImageFont

    try:
        return ImageFont.truetype(
            str(font_file(Face.LETTER_STRONG if strong else Face.LETTER_MEDIUM)), size
        )
    except (ModuleNotFoundError, OSError, ImportError):
        return ImageFont.load_default(size)


def _hull(points: Floats) -> list[float]:
    """Convex hull of (N, 2) points as x, y, x, y and so on."""
    from scipy.spatial import ConvexHull, QhullError

    try:
        return list(points[ConvexHull(points).vertices].ravel().tolist())
    except (QhullError, ValueError):
        return list(points.ravel().tolist())


def _matrices(quaternions: Floats) -> Floats:
    """Rotations of unit quaternions, (B, 4) w, x, y, z -> (B, 3, 3)."""
    w, x, y, z = np.moveaxis(quaternions, -1, 0)
    rows: list[Any] = [
        [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
        [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
        [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
    ]
    return np.moveaxis(np.array(rows), -1, 0)
