"""The assembly as pictures: what is there thin, what comes thick, and the way it comes."""

from __future__ import annotations

from collections.abc import Sequence
from math import cos, radians, sin

import numpy as np

from legwright.fabrication.block import Block
from legwright.fabrication.pieces import Piece
from legwright.fabrication.steps import Bench, Task
from legwright.robot.tree import Floats
from legwright.study.finding import Verdict
from legwright.views import tokens
from legwright.views.ink import Ink
from legwright.views.lettering import Face, wrap
from legwright.views.projection import View, convex_hull
from legwright.views.symbols import balloon, title
from legwright.views.wide_sheet import ROOM, WideSheet

ACROSS, DOWN = 3, 2
TOP = 13.0
"""Where the pictures begin [mm]."""
WORDS, SENTENCE = 15.5, 3.1
"""Room for the words of a step, and size of their letters [mm]."""
LIFTED = 0.35
"""How far what comes is drawn off its place, in widths of the whole picture."""
AZIMUTH, ELEVATION = radians(18.0), radians(32.0)
"""Where the viewer stands: such that no plate and no leg of the usual yaws is seen edge on."""


def _seen_from(azimuth: float, elevation: float) -> View:
    near = np.array([cos(elevation) * cos(azimuth), cos(elevation) * sin(azimuth), sin(elevation)])
    right = np.array([-sin(azimuth), cos(azimuth), 0.0])
    return View(right=right, down=np.cross(right, near), near=near)


ASKEW = _seen_from(AZIMUTH, ELEVATION)
FACES = ((0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5))
"""Corners of `Block.corners` round each face, seen from outside."""

CAUTIONS = (
    "Cells stay out until the end; the main fuse stays out until the cold tests are passed.",
    "Keep fingers out of the legs: a servo that is powered moves without warning.",
    "What blocks what is worked out from boxes; cables, tools and hands need room besides.",
)


def assembly_sheets(benches: Sequence[Bench]) -> tuple[WideSheet, ...]:
    """Pictures of all steps, six to a sheet.

    Args:
        benches: The assembly.

    Returns:
        Landscape sheets.
    """
    sheets: list[WideSheet] = []
    for bench in benches:
        groups = [
            bench.tasks[k : k + ACROSS * DOWN] for k in range(0, len(bench.tasks), ACROSS * DOWN)
        ]
        for number, group in enumerate(groups, start=1):
            more = f", {number} of {len(groups)}" if len(groups) > 1 else ""
            sheets.append(_sheet(bench, group, more, f"assembly-{len(sheets) + 1}"))
    return tuple(sheets)


def _sheet(bench: Bench, tasks: Sequence[Task], more: str, name: str) -> WideSheet:
    ink = Ink(*ROOM, about=f"Assembly of {bench.name}{more}")
    times = f"{len(bench.units)} times; {bench.units[0]} is shown" if len(bench.units) > 1 else ""
    title(ink, f"Assembly: {bench.name}", times)
    wide, tall = (ROOM[0] - 8.0) / ACROSS, (ROOM[1] - TOP) / DOWN
    for place, task in enumerate(tasks):
        x, y = 4.0 + (place % ACROSS) * wide, TOP + (place // ACROSS) * tall
        _words(ink, task, x, y, wide - 6.0)
        _picture(ink, task, (x, y + WORDS, wide - 6.0, tall - WORDS - 2.0))
    return WideSheet(
        name=name, subtitle=f"assembly, {bench.name}{more}", drawing=ink.finish(), notes=CAUTIONS
    )


def _words(ink: Ink, task: Task, x: float, y: float, wide: float) -> None:
    verdict = Verdict.FAIL if task.troubled else Verdict.PASS
    balloon(ink, x + 2.2, y + 3.0, task.number, verdict)
    for line_number, line in enumerate(wrap(task.words, SENTENCE, wide - 6.0, Face.TEXT)[:4]):
        ink.text(x + 6.0, y + 3.4 + 3.7 * line_number, line, size=SENTENCE, face=Face.TEXT)


def _picture(ink: Ink, task: Task, frame: tuple[float, float, float, float]) -> None:
    there = [(piece, block) for piece in task.there for block in piece.blocks]
    comes = [(piece, block) for piece in task.comes for block in piece.blocks]
    if not comes and not there:
        return
    points = np.concatenate([block.corners for _, block in [*there, *comes]])
    span = float(np.ptp(points, axis=0).max())
    lift = np.zeros(3) if task.way is None else -task.way * LIFTED * span
    moved = [(piece, _shifted(block, lift)) for piece, block in comes]
    flat = ASKEW.flat(np.concatenate([points, *(b.corners for _, b in moved)]))
    low, high = flat.min(axis=0), flat.max(axis=0)
    x, y, wide, tall = frame
    scale = min(wide / (high[0] - low[0] + 1e-9), tall / (high[1] - low[1] + 1e-9))
    corner = np.array([x + wide / 2, y + tall / 2]) - scale * (low + high) / 2

    def paper(points: Floats) -> Floats:
        return np.asarray(ASKEW.flat(points) * scale + corner)

    for new, block in _far_to_near(there, moved):
        _box(ink, paper(block.corners), new=new)
    if task.way is not None and comes:
        tip = np.concatenate([block.corners for _, block in comes]).mean(axis=0)
        (x0, y0), (x1, y1) = paper(tip + lift), paper(tip + lift * 0.25)
        ink.line(x0, y0, x1, y1, dash="centre", weight=tokens.FINE)
        ink.arrow_head(x1, y1, float(np.arctan2(y1 - y0, x1 - x0)))


def _far_to_near(
    there: Sequence[tuple[Piece, Block]], comes: Sequence[tuple[Piece, Block]]
) -> list[tuple[bool, Block]]:
    """All boxes in painter's order, and whether each is new."""
    boxes = [(False, block) for _, block in there] + [(True, block) for _, block in comes]
    return sorted(boxes, key=lambda item: float(item[1].centre @ ASKEW.near))


def _box(ink: Ink, corners: Floats, *, new: bool) -> None:
    stroke = "ink" if new else "line"
    hull = convex_hull(corners)
    ink.path(hull, fill="sheet", stroke="none", close=True)
    for face in FACES:
        ring = corners[list(face)]
        x, y = ring[:, 0], ring[:, 1]
        if float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) < 0.0:
            ink.path(ring, stroke=stroke, weight=tokens.FINE, close=True, round_ends=True)
    weight = tokens.PART_EDGE if new else tokens.THIN
    ink.path(hull, stroke=stroke, weight=weight, close=True, round_ends=True)


def _shifted(block: Block, by: Floats) -> Block:
    return Block(centre=block.centre + by, axes=block.axes, half=block.half)
