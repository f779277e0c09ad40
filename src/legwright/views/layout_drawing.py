"""A layout as a drawing: plan and one leg from its side, with dimensions, and a table beside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, cos, degrees, pi, sin

import numpy as np

from legwright.fabrication.capsules import axis_points
from legwright.fabrication.layout import ANGLE, COXA, FEMUR, HEIGHT, TIBIA, X, Y
from legwright.mechanics.kinematics import ClosedForm
from legwright.robot.leg import Leg
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats
from legwright.views import tokens
from legwright.views.dimensioning import aligned
from legwright.views.figures import (
    draw_leg,
    draw_robot,
    extent_points,
    fitted,
    scale_words,
)
from legwright.views.ink import Ink, Point
from legwright.views.lettering import Face, width
from legwright.views.numbers import plain
from legwright.views.projection import PLAN, View
from legwright.views.rounding_table import dimension_name, value_words
from legwright.views.symbols import dimension, title
from legwright.views.wide_sheet import ROOM

PLAN_WIDTH = 150.0
"""Of the drawing's left part, the plan [mm]."""
SIDE_HEIGHT = 92.0
STEP = 6.0
"""Between parallel dimension lines [mm]."""
COLUMNS = (60.0, 78.0, 94.0, 110.0)
"""Right edges of the table's columns [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One dimension in the table."""

    key: str
    """Its name in the layout."""
    values: tuple[float | None, float | None]
    """[m or rad]; None leaves the cell blank."""
    words: tuple[str, str]
    """What stands in the last two columns."""
    strong: bool
    """Whether the second value is set off."""


def layout_ink(
    robot: Robot, q: Floats, legs: Floats, height: float, heads: Sequence[str], rows: Sequence[Row]
) -> Ink:
    """Plan, one leg and table on one landscape sheet.

    Args:
        robot: The robot with that layout.
        q: A standing pose, (J,) [rad].
        legs: The layout, (L, 7), columns as `fabrication.layout.KINDS`.
        height: Of the body frame over the ground [m].
        heads: Over the four columns.
        rows: One for each dimension.

    Returns:
        The pen, as large as a sheet's room.
    """
    ink = Ink(*ROOM, about=f"{robot.name}: layout with dimensions")
    _plan(ink, robot, q, legs)
    _side(ink, robot, q, legs, height)
    _table(ink, heads, rows)
    return ink


def _plan(ink: Ink, robot: Robot, q: Floats, legs: Floats) -> None:
    """From above, nose up: hips from the centre lines, and the ways the legs point."""
    rows = _rows(legs)
    low = ROOM[1] - 6.0 - STEP * len(rows)
    across = _levels(legs)
    box = (8.0, 12.0, PLAN_WIDTH - 6.0 - STEP * (1.0 + len(across)), low - 3.0)
    paper = fitted(extent_points(robot, q), PLAN, box)
    title(ink, "Plan", f"{scale_words(paper)}, nose up")
    draw_robot(ink, paper, robot, q)
    left, right = box[0] - 3.0, box[2] + 3.0
    ink.line(paper.x, box[1] - 3.0, paper.x, low, dash="centre", weight=tokens.FINE)
    far = right + STEP * (1.0 + len(across))
    ink.line(left, paper.y, far, paper.y, dash="centre", weight=tokens.FINE)
    level, last = low - 2.0, -1.0
    for index in rows:
        x, y, way = legs[index, X], legs[index, Y], legs[index, ANGLE]
        hip = paper.at(np.array([x, -y, 0.0]))
        if abs(y - last) > 1e-6:  # hips in line share one dimension
            level, last = level + STEP, float(y)
            ink.line(hip[0], hip[1] + 1.5, hip[0], level + 1.0, weight=tokens.FINE)
            dimension(ink, (paper.x, level), (hip[0], level), plain(1e3 * y, _places(1e3 * y)))
        if abs(x) > 1e-6:
            at = right + STEP * (1.0 + across.index(_rounded(x)))
            ink.line(hip[0] + 1.5, hip[1], at + 1.0, hip[1], weight=tokens.FINE)
            dimension(ink, (at, paper.y), (at, hip[1]), plain(1e3 * abs(x), _places(1e3 * x)))
        _cross(ink, hip)
        own = paper.at(np.array([x, y, 0.0]))
        _cross(ink, own)
        _angle(ink, own, float(way))
    for row in legs:
        if abs(row[Y]) <= 1e-6 < abs(row[X]):  # on the centre line
            hip = paper.at(np.array([row[X], 0.0, 0.0]))
            ink.line(hip[0] + 2.5, hip[1], far + 1.0, hip[1], weight=tokens.FINE)
            words = plain(1e3 * abs(float(row[X])), _places(1e3 * float(row[X])))
            dimension(ink, (far, paper.y), (far, hip[1]), words)
            _cross(ink, hip)


def _rows(legs: Floats) -> list[int]:
    """Legs of the left side, the innermost first, so that extension lines do not cross."""
    left = [index for index, row in enumerate(legs) if row[Y] > 1e-6]
    return sorted(left, key=lambda index: (round(float(legs[index, Y]), 6), legs[index, X]))


def _levels(legs: Floats) -> list[float]:
    """Distances of the left hips ahead or behind, the nearest first: each has its own line."""
    found = {_rounded(legs[index, X]) for index in _rows(legs)}
    return sorted(found - {0.0}) or [0.0]


def _rounded(value: float) -> float:
    """A distance, hundredths of a millimetre, so that alike ones share a line [m]."""
    return round(abs(float(value)), 5)


def _places(value: float) -> int:
    return next((n for n in (0, 1, 2) if abs(value - round(value, n)) < 2e-3), 2)


def _cross(ink: Ink, at: Point) -> None:
    """Where an axis meets the paper."""
    ink.line(at[0] - 2.0, at[1], at[0] + 2.0, at[1], weight=tokens.FINE)
    ink.line(at[0], at[1] - 2.0, at[0], at[1] + 2.0, weight=tokens.FINE)
    ink.circle(at[0], at[1], 0.9, fill="sheet", weight=tokens.THIN)


def _angle(ink: Ink, at: Point, yaw: float) -> None:
    """The way a leg points, from straight ahead; on paper ahead is up and left is left."""
    radius, steps = 9.0, 24
    arc = [
        (at[0] - radius * sin(yaw * k / steps), at[1] - radius * cos(yaw * k / steps))
        for k in range(steps + 1)
    ]
    ink.line(at[0], at[1] - 2.5, at[0], at[1] - radius - 2.0, weight=tokens.FINE)
    far = radius + 2.0
    ink.line(
        at[0] - 2.5 * sin(yaw), at[1] - 2.5 * cos(yaw), at[0] - far * sin(yaw),
        at[1] - far * cos(yaw), weight=tokens.FINE,
    )  # fmt: skip
    ink.path(arc, weight=tokens.THIN)
    ink.arrow_head(*arc[-1], atan2(arc[-1][1] - arc[-3][1], arc[-1][0] - arc[-3][0]), length=1.6)
    middle = 0.5 * yaw
    words = plain(degrees(yaw), _places(degrees(yaw))) + "°"
    spots = [
        (at[0] - r * sin(middle), at[1] - r * cos(middle) + 1.0, "middle")
        for r in (radius + 5.0, radius + 7.0, radius - 4.5)
    ]
    ink.text_where_free(spots, words, knock=True)


def _side(ink: Ink, robot: Robot, q: Floats, legs: Floats, height: float) -> None:
    """One leg in its own upright plane, outward to the right: coxa, femur, tibia, heights."""
    index = _rows(legs)[0] if _rows(legs) else 0
    leg = list(robot.legs.values())[index]
    own = q[robot.columns[leg.name]]
    points = standing_points(leg, own)
    view = _own_plane(points)
    left = PLAN_WIDTH + 2.0
    box = (left + 24.0, 19.0, ROOM[0] - 16.0, SIDE_HEIGHT - 12.0)
    ground = points[3].copy()
    base = np.array([points[0][0], points[0][1], 0.0])
    paper = fitted(np.array([*points, base, ground]), view, box)
    ink.text(left, 5.2, leg.name, size=tokens.SMALL, face=Face.LETTER_STRONG)
    more = f"{scale_words(paper)}, in its own plane, as it stands"
    beside = left + width(leg.name, tokens.SMALL, Face.LETTER_STRONG) + 1.8
    ink.text(beside, 5.2, more, size=tokens.SMALL, face=Face.LETTER, colour="ink2")
    draw_leg(ink, paper, robot, q, leg.name)
    hip, femur, knee, foot = (paper.at(point) for point in points)
    zero = paper.at(base)
    values = legs[index]
    ink.line(left + 2.0, foot[1], ROOM[0] - 4.0, foot[1])
    ink.text_where_free([(ROOM[0] - 4.0, foot[1] + 3.2, "end")], "ground", face=Face.LETTER)
    ink.line(left + 6.0, zero[1], hip[0] + 4.0, zero[1], dash="centre", weight=tokens.FINE)
    up = min(hip[1], femur[1], knee[1]) - 8.0
    ink.line(hip[0], max(hip[1], zero[1]) + 3.0, hip[0], up - 2.0, dash="centre",
             weight=tokens.FINE)  # fmt: skip
    ink.line(femur[0], femur[1], femur[0], up - 1.0, weight=tokens.FINE)
    _row_dimension(ink, (hip[0], up), (femur[0], up), _mm(values[COXA]), outside=hip[0] - 1.0)
    aligned(ink, femur, knee, -7.0, _mm(values[FEMUR]))
    aligned(ink, knee, foot, -7.0, _mm(values[TIBIA]))
    at = left + 10.0
    dimension(ink, (at, zero[1]), (at, foot[1]), _mm(height))
    if abs(values[HEIGHT]) > 1e-6:
        ink.line(at + 4.0, femur[1], femur[0] - 2.0, femur[1], weight=tokens.FINE)
        ink.text_where_free(
            [(at + 5.0, femur[1] - 0.9, "start"), (at + 5.0, femur[1] + 2.9, "start")],
            f"femur axis {'+' if values[HEIGHT] > 0 else ''}{_mm(values[HEIGHT])}",
            face=Face.LETTER, colour="ink2", knock=True,
        )  # fmt: skip
    for spot in (hip, femur, knee, foot):
        _cross(ink, spot)


def _mm(value: float) -> str:
    return plain(1e3 * float(value), _places(1e3 * float(value)))


def standing_points(leg: Leg, q: Floats) -> Floats:
    """First axis, femur axis, knee and foot of a leg at a pose, (4, 3) body frame [m].

    Args:
        leg: The leg, in closed form.
        q: (3,) [rad].
    """
    solver = leg.kinematics
    if not isinstance(solver, ClosedForm):
        return np.tile(leg.hip, (4, 1))
    flat, m = axis_points(leg), solver.pack
    frame = m[:9].reshape(3, 3)
    out, up = frame[1], m[12] * frame[2] - m[13] * frame[0]
    slopes = (q[1] + m[19], q[1] + m[19] + m[17] * q[2] + m[21])
    knee = flat[1] + m[18] * (np.cos(slopes[0]) * out + np.sin(slopes[0]) * up)
    foot = knee + m[20] * (np.cos(slopes[1]) * out + np.sin(slopes[1]) * up)
    bent = np.array([flat[0], flat[1], knee, foot]) - m[9:12]
    c, s = np.cos(q[0]), np.sin(q[0])
    turn = frame.T @ np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]) @ frame
    return np.asarray(bent @ turn.T + m[9:12])


def _own_plane(points: Floats) -> View:
    out = np.array([*(points[3] - points[0])[:2], 0.0])
    out = out / max(float(np.linalg.norm(out)), 1e-9)
    down = np.array([0.0, 0.0, -1.0])
    return View(right=out, down=down, near=np.cross(down, out))


def _row_dimension(ink: Ink, a: Point, b: Point, words: str, *, outside: float) -> None:
    """A level dimension; where it is short, its number stands beside it."""
    if abs(b[0] - a[0]) > 14.0:
        dimension(ink, a, b, words)
        return
    ink.line(a[0] - 5.0, a[1], b[0] + 5.0, b[1])
    ink.arrow_head(a[0], a[1], 0.0)
    ink.arrow_head(b[0], b[1], pi)
    ink.text(outside - 5.5, a[1] + 0.9, words, anchor="end", knock=True)


def _table(ink: Ink, heads: Sequence[str], rows: Sequence[Row]) -> None:
    """Every dimension, two values and two words each."""
    left, top, line = PLAN_WIDTH + 2.0, SIDE_HEIGHT + 4.0, 4.1
    edges = [left + edge for edge in COLUMNS]
    ink.text(left, top, "Dimensions", size=tokens.SMALL, face=Face.LETTER_STRONG)
    y = top + 5.0
    for words, x in zip(heads, edges, strict=True):
        ink.text(x, y, words, face=Face.LETTER, colour="ink2", anchor="end")
    ink.line(left, y + 1.3, edges[-1], y + 1.3)
    line = min(line, (ROOM[1] - 3.0 - (y + 1.3)) / max(len(rows), 1))
    for number, row in enumerate(rows, start=1):
        at = y + 1.0 + line * number
        ink.text(left, at, dimension_name(row.key), face=Face.LETTER)
        strong = (False, row.strong)
        for x, value, set_off in zip(edges, row.values, strong, strict=False):
            words = "" if value is None else value_words(row.key, value)
            ink.text(x, at, words, anchor="end", colour="ink" if set_off else "ink2",
                     face=Face.LETTER_MEDIUM if set_off else Face.LETTER)  # fmt: skip
        for x, words in zip(edges[2:], row.words, strict=True):
            ink.text(x, at, words, anchor="end", face=Face.LETTER, colour="ink2")
