"""The closest pose of a shell and a moving link, as a section through the gap."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from legwright.fabrication.mesh import Mesh
from legwright.fabrication.shell_pairs import PairGap
from legwright.fabrication.shell_sweep import LinkGap
from legwright.mechanics.solids import solids_of
from legwright.robot.paths import poses_from
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats
from legwright.study.shells import StudiedShell
from legwright.views import tokens
from legwright.views.ink import Drawing, Ink, Point
from legwright.views.lettering import Face, wrap
from legwright.views.numbers import plain, with_unit
from legwright.views.projection import View, convex_hull
from legwright.views.symbols import empty_sentence, title

ACROSS = 0.13
"""Width of what is shown, at most [m]."""


def closest_pose(
    robot: Robot,
    one: StudiedShell,
    gap: LinkGap | PairGap | None,
    at: Mapping[str, float],
    *,
    beside: StudiedShell | None = None,
    heading: str,
    words: str,
    width: float,
    height: float,
) -> Drawing:
    """A section through shell and links in the plane of the gap, with its distance.

    Args:
        robot: The robot.
        one: The shell.
        gap: Where it is; None when nothing comes near.
        at: Joint positions [rad].
        beside: The shell that it comes near to, where it is a shell.
        heading: Title of the picture.
        words: Sentence under it.
        width: [mm]
        height: [mm]

    Returns:
        The drawing.
    """
    ink = Ink(width, height, about=f"{heading}: {one.shell.name}")
    title(ink, heading, "section through the gap")
    if gap is None or not np.isfinite(gap.points).all():
        empty_sentence(ink, "Nothing that moves comes within 60 mm.")
        return ink.finish()
    lines = wrap(words, tokens.FINDING_TEXT, width - 8.0, Face.TEXT)
    text = len(lines) * tokens.FINDING_TEXT * tokens.LEADING + 4.0
    box = (4.0, 8.0, width - 4.0, height - text - 2.0)
    view, middle = _view(gap.points), gap.points.mean(axis=0)
    scale = (box[2] - box[0]) / min(ACROSS, 1.2 * float(one.shell.mesh.extent.max()))
    centre = (0.5 * (box[0] + box[2]), 0.5 * (box[1] + box[3]))

    def paper(points: Floats) -> list[Point]:
        flat = view.flat(points - middle)
        return [(centre[0] + float(p[0]) * scale, centre[1] + float(p[1]) * scale) for p in flat]

    ink.rect(*box[:2], box[2] - box[0], box[3] - box[1], weight=tokens.FINE, stroke="line")
    positions = {**dict(robot.held), **at}
    poses = poses_from(robot.tree, one.shell.link, positions)
    moved = beside.shell.link if beside is not None else getattr(gap, "link", "")
    for link, pose in poses.items():
        weight = tokens.THICK if link == moved and beside is None else tokens.THIN
        for points, _ in solids_of(robot, link):
            placed = points @ pose[:3, :3].T + pose[:3, 3]
            ring = _solid_section(placed, view, middle)
            if len(ring):
                corners = paper(ring)
                pairs = list(zip(corners, [*corners[1:], corners[0]], strict=True))
                ink.segments(_clipped(pairs, box), stroke="ink", weight=weight)
                _name(ink, corners, link, box)
    cut = section(one.shell.mesh, view, middle)
    if beside is not None:
        cut = np.concatenate([cut, section(beside.shell.mesh.moved(poses[moved]), view, middle)])
    pairs = [(p[0], p[1]) for p in (paper(pair) for pair in cut)]
    ink.segments(_clipped(pairs, box), stroke="ink", weight=tokens.THICK)
    _gap_mark(ink, paper(gap.points), gap.distance)
    for row, line in enumerate(lines):
        y = height - text + 3.0 + row * tokens.FINDING_TEXT * tokens.LEADING
        ink.text(4.0, y, line, size=tokens.FINDING_TEXT, face=Face.TEXT)
    return ink.finish()


def section(mesh: Mesh, view: View, through: Floats) -> Floats:
    """Where the plane of a view through a point cuts a surface, (S, 2, 3) [m]."""
    height = (mesh.points - through) @ view.near
    height = np.where(height == 0.0, 1e-12, height)
    over = height[mesh.faces] > 0.0
    crossed = mesh.faces[over.any(axis=1) & ~over.all(axis=1)]
    found = []
    for face in crossed:
        ends = []
        for a, b in ((face[0], face[1]), (face[1], face[2]), (face[2], face[0])):
            if (height[a] > 0.0) != (height[b] > 0.0):
                share = height[a] / (height[a] - height[b])
                ends.append(mesh.points[a] + share * (mesh.points[b] - mesh.points[a]))
        found.append(ends)
    return np.array(found).reshape(-1, 2, 3)


def _view(points: Floats) -> View:
    """A view in whose plane the gap lies, with up or forward upwards."""
    way = points[1] - points[0]
    length = float(np.linalg.norm(way))
    way = way / length if length > 1e-9 else np.array([0.0, 0.0, 1.0])
    up = np.array([0.0, 0.0, 1.0])
    if abs(float(way @ up)) < 0.98:
        near = np.cross(up, way)
    else:
        radial = np.array([points[0, 0], points[0, 1], 0.0])
        near = np.cross(up, radial if np.linalg.norm(radial) > 1e-6 else [1.0, 0.0, 0.0])
    near = near / np.linalg.norm(near)
    down = -(up - (up @ near) * near)
    down /= np.linalg.norm(down)
    return View(right=np.cross(near, down), down=down, near=near)


def _solid_section(points: Floats, view: View, through: Floats) -> Floats:
    """Corners where a plane cuts a convex solid, in order, (N, 3); (0, 3) where it misses."""
    height = (points - through) @ view.near
    above, below = points[height > 0.0], points[height <= 0.0]
    if not len(above) or not len(below):
        return np.empty((0, 3))
    ha, hb = height[height > 0.0], height[height <= 0.0]
    share = ha[:, None] / (ha[:, None] - hb[None, :])
    spots = above[:, None] + share[..., None] * (below[None, :] - above[:, None])
    flat = spots.reshape(-1, 3) - through
    ring = convex_hull(view.flat(flat))
    return np.array([through + x * view.right + y * view.down for x, y in ring]).reshape(-1, 3)


def _gap_mark(ink: Ink, ends: Sequence[Point], distance: float) -> None:
    colour = "red" if distance < 0.0 else "ink"
    ink.path(ends, stroke=colour, weight=tokens.THIN)
    ink.dots(ends, 0.6, fill=colour)
    words = with_unit(plain(distance * 1e3, 1), "mm")
    level = abs(ends[0][0] - ends[1][0]) > abs(ends[0][1] - ends[1][1])
    x, y = 0.5 * (ends[0][0] + ends[1][0]), 0.5 * (ends[0][1] + ends[1][1])
    place, anchor = ((x, y - 3.0), "middle") if level else ((x + 3.0, y + 1.2), "start")
    ink.text(*place, words, size=tokens.SMALL, face=Face.LETTER_STRONG, anchor=anchor, knock=True)


def _name(
    ink: Ink, corners: Sequence[Point], link: str, box: tuple[float, float, float, float]
) -> None:
    """A link's name near its section, where there is room."""
    inside = [p for p in corners if box[0] < p[0] < box[2] and box[1] < p[1] < box[3]]
    if not inside:
        return
    x = min(max(sum(p[0] for p in inside) / len(inside), box[0] + 12.0), box[2] - 12.0)
    y = sum(p[1] for p in inside) / len(inside)
    words = link.removesuffix("_link").replace("_", " ")
    places = [(x, y + shift, "middle") for shift in (0.9, 5.0, -4.0, 9.0, -8.0)]
    held = [p for p in places if box[1] + 2.5 < p[1] < box[3] - 1.0]
    ink.text_where_free(held, words, face=Face.LETTER, colour="ink2", knock=True)


def _clipped(
    pairs: Sequence[tuple[Point, Point]], box: tuple[float, float, float, float]
) -> list[tuple[Point, Point]]:
    """Lines cut to a box.

    Source: Liang and Barsky, ACM Trans. Graph. 3(1):1-22, 1984.
    """
    kept = []
    for (x0, y0), (x1, y1) in pairs:
        dx, dy, first, last = x1 - x0, y1 - y0, 0.0, 1.0
        for p, q in ((-dx, x0 - box[0]), (dx, box[2] - x0), (-dy, y0 - box[1]), (dy, box[3] - y0)):
            if p == 0.0:
                first = first if q >= 0.0 else 2.0
            elif p < 0.0:
                first = max(first, q / p)
            else:
                last = min(last, q / p)
        if first < last:
            kept.append(((x0 + first * dx, y0 + first * dy), (x0 + last * dx, y0 + last * dy)))
    return kept
