"""A shell as a drawing: plan, side, front and isometric, with its outer measures."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from legwright.fabrication.mesh import Mesh
from legwright.fabrication.rays import BoxTree
from legwright.robot.tree import Floats
from legwright.study.shells import StudiedShell
from legwright.views import tokens
from legwright.views.ink import Drawing, Ink
from legwright.views.lettering import Face
from legwright.views.mesh_lines import Line, mesh_lines
from legwright.views.numbers import plain, significant, with_unit
from legwright.views.projection import ISOMETRIC, PLAN, SIDE, View
from legwright.views.symbols import dimension, title

FRONT = View(
    right=np.array([0.0, 1.0, 0.0]),
    down=np.array([0.0, 0.0, -1.0]),
    near=np.array([1.0, 0.0, 0.0]),
)
"""From ahead."""

SCALES = (0.5, 1.0, 2.0, 2.5, 4.0, 5.0, 10.0, 20.0, 50.0, 100.0)
"""Reductions tried, largest picture first."""
GAP = 12.0
"""Between views, for dimensions [mm]."""
TOP = 10.0
FACTS = 52.0
"""Width kept for the table of facts [mm]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Placed:
    """A view of a mesh on paper."""

    view: View
    middle: Floats
    """What lies in the middle of the view, right and down [m]."""
    x: float
    y: float
    """Where that is on paper [mm]."""
    scale: float
    """Paper over model, mm by m."""

    def at(self, flat: tuple[float, float]) -> tuple[float, float]:
        """A place of the view on paper [mm]."""
        return (
            self.x + (flat[0] - float(self.middle[0])) * self.scale,
            self.y + (flat[1] - float(self.middle[1])) * self.scale,
        )

    def line(self, line: Line) -> Line:
        """A line of the view on paper [mm]."""
        return self.at(line[0]), self.at(line[1])


def extent_in(mesh: Mesh, view: View) -> tuple[Floats, Floats]:
    """Size and middle of a mesh in a view, right and down, (2,) each [m]."""
    flat = view.flat(mesh.points)
    low, high = flat.min(axis=0), flat.max(axis=0)
    return high - low, 0.5 * (low + high)


def draw_mesh(ink: Ink, mesh: Mesh, tree: BoxTree, placed: Placed, *, bold: bool = True) -> None:
    """A mesh in a view: outline thick, creases fine.

    Args:
        ink: Where to draw.
        mesh: The surface.
        tree: Over it.
        placed: The view and its place.
        bold: Whether the outline is thick.
    """
    lines = mesh_lines(mesh, tree, placed.view)
    ink.segments([placed.line(a) for a in lines.creases], stroke="ink", weight=tokens.FINE)
    weight = tokens.THICK if bold else tokens.THIN
    ink.segments([placed.line(a) for a in lines.outline], stroke="ink", weight=weight)


def shell_drawing(one: StudiedShell, *, width: float, height: float) -> Drawing:
    """Four views of a shell and what is known of it.

    Args:
        one: The shell.
        width: [mm]
        height: [mm]

    Returns:
        The drawing.
    """
    mesh, tree = one.part.mesh, one.part.tree
    ink = Ink(width, height, about=f"Shell {one.shell.name} in four views")
    plan, side, front = (extent_in(mesh, view)[0] for view in (PLAN, SIDE, FRONT))
    scale = SCALES[-1]
    for scale in SCALES:
        k = 1000.0 / scale
        across = (plan[0] + max(side[0], front[0])) * k + 4.0 * GAP
        down = max(plan[1], side[1] + front[1] + 0.2 * plan[1]) * k + TOP + 3.0 * GAP
        if across <= width and down <= height:
            break
    k = 1000.0 / scale
    ratio = f"{1.0 / scale:g} : 1" if scale < 1.0 else f"1 : {scale:g}"
    title(ink, one.shell.name.capitalize(), f"on {one.shell.link}, {ratio}")
    top, left_x = TOP + 4.0, 1.5 * GAP + plan[0] * k / 2.0
    start = 3.0 * GAP + plan[0] * k
    right_x = start + max(side[0], front[0]) * k / 2.0
    views = (
        (PLAN, left_x, top + plan[1] * k / 2.0),
        (SIDE, right_x, top + side[1] * k / 2.0),
        (FRONT, right_x, top + side[1] * k + GAP + front[1] * k / 2.0),
    )
    for view, x, y in views:
        middle = extent_in(mesh, view)[1]
        draw_mesh(ink, mesh, tree, Placed(view=view, middle=middle, x=x, y=y, scale=k))
    below = top + side[1] * k + GAP + front[1] * k + GAP + 4.0
    _isometric(ink, one, (start - 0.5 * GAP, below, width - FACTS - 6.0, height - 5.0))
    words = [plain(float(edge) * 1e3, 0) for edge in mesh.extent]
    x0 = left_x - plan[0] * k / 2.0
    dimension(ink, (x0 - 4.0, top), (x0 - 4.0, top + plan[1] * k), words[0])
    y0 = top + side[1] * k + GAP + front[1] * k + 5.0
    dimension(ink, (right_x - front[0] * k / 2.0, y0), (right_x + front[0] * k / 2.0, y0), words[1])
    x1 = right_x - side[0] * k / 2.0 - 4.0
    dimension(ink, (x1, top), (x1, top + side[1] * k), words[2])
    _facts(ink, one, width - FACTS, below + 8.0)
    return ink.finish()


def _isometric(ink: Ink, one: StudiedShell, box: tuple[float, float, float, float]) -> None:
    """An isometric picture that fills a box (left, top, right, bottom) [mm]."""
    size, middle = extent_in(one.part.mesh, ISOMETRIC)
    scale = min((box[2] - box[0]) / size[0], (box[3] - box[1]) / size[1])
    x, y = 0.5 * (box[0] + box[2]), 0.5 * (box[1] + box[3])
    placed = Placed(view=ISOMETRIC, middle=middle, x=x, y=y, scale=float(scale))
    draw_mesh(ink, one.part.mesh, one.part.tree, placed)


def _facts(ink: Ink, one: StudiedShell, x: float, y: float) -> None:
    part, size = one.part, tokens.TINY
    rows = [
        ("triangles", plain(part.soundness.triangles, 0)),
        ("surface", with_unit(plain(part.walls.area * 1e4, 0), "cm²")),
        ("openings through", str(part.soundness.through_holes or 0)),
    ]
    if part.mass is not None:
        rows += [
            ("material", with_unit(plain(part.mass.volume * 1e6, 0), "cm³")),
            ("mass", with_unit(plain(part.mass.solid.mass * 1e3, 0), "g")),
            ("solid skin", with_unit(plain(100.0 * part.mass.skin_share, 0), "%")),
        ]
    if part.time is not None:
        rows.append(("printing, estimate", with_unit(significant(part.time / 3600.0, 2), "h")))
    for number, (name, value) in enumerate(rows):
        level = y + number * 1.6 * size
        ink.text(x, level, name, size=size, face=Face.LETTER, colour="ink2")
        ink.text(x + 42.0, level, value, size=size, anchor="end")
