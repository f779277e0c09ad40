"""How thick a shell is, and how it lies on the printer's bed."""

from __future__ import annotations

import numpy as np

from legwright.fabrication.bed import level_axes
from legwright.fabrication.mesh import normals_and_areas
from legwright.fabrication.overhang import LIMIT, hangs
from legwright.fabrication.rays import box_tree
from legwright.robot.tree import Floats
from legwright.study.shells import StudiedShell
from legwright.views import tokens
from legwright.views.axes import Scale, bottom_axis, left_axis, nice_span
from legwright.views.ink import Drawing, Ink
from legwright.views.lettering import Face, wrap
from legwright.views.numbers import plain, significant, with_unit
from legwright.views.projection import ISOMETRIC
from legwright.views.shell_drawing import Placed, draw_mesh
from legwright.views.symbols import title

BINS = 48


def wall_plot(one: StudiedShell, *, width: float, height: float) -> Drawing:
    """Share of the surface over wall thickness, the least wall hatched.

    Args:
        one: The shell.
        width: [mm]
        height: [mm]

    Returns:
        The drawing.
    """
    ink = Ink(width, height, about=f"Wall thickness of {one.shell.name}")
    title(ink, "Wall", "share of the surface over its thickness")
    walls, process = one.part.walls, one.shell.process
    known = walls.thickness[np.isfinite(walls.thickness)] * 1e3
    if not len(known):
        return ink.finish()
    least = None if process is None else process.least_wall * 1e3
    most = max(float(np.quantile(known, 0.95)) * 1.35, 1.5 * (least or 0.0), 1e-3)
    _, most, step = nice_span(0.0, most, 5)
    across = Scale(low=0.0, high=most, start=15.0, end=width - 6.0)
    edges = np.linspace(0.0, most, BINS + 1)
    share = np.histogram(known, edges)[0] / len(walls.thickness) * 100.0
    beyond = 100.0 * float(np.mean(walls.thickness * 1e3 > most))
    _, top, up_step = nice_span(0.0, max(float(share.max()), 1.0), 4)
    up = Scale(low=0.0, high=top, start=height - 12.0, end=13.0)
    if least is not None:
        x = across.at(min(least, most))
        ink.hatch([(across.start, up.end), (x, up.end), (x, up.start), (across.start, up.start)])
        ink.line(x, up.start, x, up.end, weight=tokens.THICK)
        words = f"least {significant(least)} mm"
        ink.text(x - 1.0, up.end + 2.2, words, anchor="end", knock=True)
    left_axis(ink, across.start, up, up_step, "%")
    bottom_axis(ink, up.start, across, step, "mm", quantity="thickness")
    for low, high, value in zip(edges[:-1], edges[1:], share, strict=True):
        if value > 0.0:
            thin = least is not None and 0.5 * (low + high) < least
            x0, x1, y = across.at(float(low)), across.at(float(high)), up.at(float(value))
            ink.rect(x0, y, x1 - x0, up.start - y, stroke="none", fill="red" if thin else "ink")
    if beyond >= 0.1:
        words = f"{plain(beyond, 1)} % beyond: edges, seen lengthwise"
        ink.text(across.end, up.end + 2.2, words, anchor="end", face=Face.LETTER, knock=True)
    return ink.finish()


def lying_picture(one: StudiedShell, *, width: float, height: float) -> Drawing:
    """The shell as it is best printed, inside the print volume; overhangs hatched.

    Args:
        one: The shell.
        width: [mm]
        height: [mm]

    Returns:
        The drawing.
    """
    part, process = one.part, one.shell.process
    ink = Ink(width, height, about=f"{one.shell.name} on the printer's bed")
    title(ink, "On the bed", "best way up")
    axes = level_axes(part.lying.up)
    turn = 0.0 if part.fit is None else part.fit.turn
    c, s = np.cos(turn), np.sin(turn)
    pose = np.eye(4)
    pose[:3, :3] = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]) @ axes
    laid = part.mesh.moved(pose)
    low, high = laid.points.min(axis=0), laid.points.max(axis=0)
    pose[:3, 3] = [-0.5 * (low[0] + high[0]), -0.5 * (low[1] + high[1]), -low[2]]
    laid = part.mesh.moved(pose)
    volume = None if process is None or process.volume is None else np.array(process.volume)
    corners = laid.points if volume is None else np.concatenate([laid.points, _box(volume)])
    flat = ISOMETRIC.flat(corners)
    size, middle = np.ptp(flat, axis=0), 0.5 * (flat.min(axis=0) + flat.max(axis=0))
    text = 19.0
    scale = min((width - 8.0) / size[0], (height - 10.0 - text) / size[1])
    placed = Placed(
        view=ISOMETRIC,
        middle=middle,
        x=width / 2.0,
        y=8.0 + (height - 8.0 - text) / 2.0,
        scale=scale,
    )
    if volume is not None:
        _draw_box(ink, placed, volume)
    draw_mesh(ink, laid, box_tree(laid), placed)
    _draw_hanging(ink, one, laid.points, placed)
    support = with_unit(plain(1e3 * (part.support_mass or 0.0), 0), "g")
    words = (
        f"{with_unit(plain(part.lying.height * 1e3, 0), 'mm')} high. Overhangs "
        f"{with_unit(plain(part.lying.overhang * 1e4, 1), 'cm²')}, dots; supports {support}."
    )
    if part.fit is not None and part.fit.room < 0.0:
        short = with_unit(plain(-part.fit.room * 1e3, 0), "mm")
        words += f" Too large by {short}: split in {len(part.cuts) + 1} or more."
    elif part.fit is not None:
        words += f" Room left: {with_unit(plain(part.fit.room * 1e3, 0), 'mm')}."
    for row, line in enumerate(wrap(words, tokens.FINDING_TEXT, width - 8.0, Face.TEXT)):
        y = height - text + 6.0 + row * tokens.FINDING_TEXT * tokens.LEADING
        ink.text(4.0, y, line, size=tokens.FINDING_TEXT, face=Face.TEXT)
    return ink.finish()


def _box(volume: Floats) -> Floats:
    signs = np.array([[x, y, z] for x in (-0.5, 0.5) for y in (-0.5, 0.5) for z in (0.0, 1.0)])
    return np.asarray(signs * volume)


def _draw_box(ink: Ink, placed: Placed, volume: Floats) -> None:
    """The print volume: its bed, and its upper edges in phantom lines."""
    flat = [placed.at((float(p[0]), float(p[1]))) for p in placed.view.flat(_box(volume))]
    bed = [flat[0], flat[4], flat[6], flat[2]]
    ink.path(bed, close=True, weight=tokens.THIN)
    roof = [flat[1], flat[5], flat[7], flat[3]]
    ink.path(roof, close=True, weight=tokens.FINE, dash="phantom", stroke="line")
    for low, high in zip(bed, roof, strict=True):
        ink.path([low, high], weight=tokens.FINE, dash="phantom", stroke="line")


def _draw_hanging(ink: Ink, one: StudiedShell, laid: Floats, placed: Placed) -> None:
    """Dots on triangles that want support."""
    part = one.part
    limit = LIMIT if one.shell.process is None else one.shell.process.overhang
    normal, area = normals_and_areas(part.mesh)
    which = hangs(part.mesh, normal, part.lying.up, limit)
    which = which[np.argsort(-area[which])][:400]
    spots = placed.view.flat(laid[part.mesh.faces[which]].mean(axis=1))
    ink.dots([placed.at((float(p[0]), float(p[1]))) for p in spots], 0.35)
